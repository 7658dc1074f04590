"""Cards in their window: from the menu, on paper, to the printer."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QPageLayout
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QLabel,
    QWidget,
)
from pytestqt.qtbot import QtBot

from app.exporting.cards import CardKind
from app.window.look import Look
from app.window.main_window import Bench
from app.window.print_cards import CardDialog
from tests.app.window.conftest import Answers, press


@pytest.mark.parametrize(
    ("kind", "action", "words"),
    [
        (CardKind.MARKING, "marking_card", "Marking card"),
        (CardKind.STITCHING, "stitching_card", "Stitching card"),
        (CardKind.PLAN, "plan_sheet", "Plan sheet"),
    ],
)
def test_cards_are_printed_from_the_menu(
    bench: Bench, answers: Answers, tmp_path: Path, kind: CardKind, action: str, words: str
) -> None:
    answers.template = tmp_path / "card.pdf"
    seen: list[str] = []

    def act() -> None:
        made = QApplication.activeModalWidget()
        assert isinstance(made, CardDialog)
        seen.append(made.windowTitle())
        seen.append(made.stage.heading.text())
        press(made, "Save as PDF…")

    QTimer.singleShot(0, act)
    getattr(bench.actions_, action).trigger()
    document = pypdfium2.PdfDocument(answers.template)
    count = len(document)
    text = document[0].get_textpage().get_text_bounded()
    document.close()
    assert seen[0] == words
    assert seen[1].split(" ")[0] == str(count)
    assert ("Ell" in text) == (kind is CardKind.PLAN), "a card is of the patch that is worked on"
    assert "card.pdf" in bench.message.text


def card(bench: Bench, look: Look, qtbot: QtBot, kind: CardKind) -> CardDialog:
    made = CardDialog(bench.session, bench.dialogs, look, kind, bench)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    return made


def test_cards_of_all_patches_on_another_paper(bench: Bench, look: Look, qtbot: QtBot) -> None:
    made = card(bench, look, qtbot, CardKind.MARKING)
    one = made.pages.count
    press(made, "Which patches: All patches")
    assert made.pages.count > one
    press(made, "Paper: A4")
    assert made.stage.heading.text().endswith("of A4")
    assert made.pages.page_layout(0).fullRect(QPageLayout.Unit.Millimeter).width() == pytest.approx(
        210, abs=0.2
    )
    assert made.stage.where.text() == f"sheet 1 of {made.pages.count}"
    press(made, "On")
    assert made.stage.where.text() == f"sheet 2 of {made.pages.count}"


def test_a_card_goes_to_the_printer(
    bench: Bench, look: Look, qtbot: QtBot, answers: Answers, printer: QPrinter, tmp_path: Path
) -> None:
    made = card(bench, look, qtbot, CardKind.STITCHING)
    press(made, "Paper: Letter")
    answers.paper_out = printer
    press(made, "Print…")
    assert answers.told == []
    assert (tmp_path / "paper.pdf").read_bytes().startswith(b"%PDF")
    assert answers.asked == [f"printer for {made.pages.count} of “Block stitching card”"]


def test_no_try_is_said(bench: Bench, look: Look, qtbot: QtBot) -> None:
    made = card(bench, look, qtbot, CardKind.TRIES)
    assert "no patch has a try" in made.stage.wrong.text()
    assert made.pages is None
    assert not made.print_button.isEnabled()


@pytest.mark.parametrize("kind", list(CardKind))
def test_access_keys_and_names(bench: Bench, look: Look, qtbot: QtBot, kind: CardKind) -> None:
    made = card(bench, look, qtbot, kind)
    texts = [each.text() for each in made.findChildren(QLabel) if each.buddy() and not each.isHidden()]
    texts += [each.text() for each in made.findChildren(QAbstractButton) if "&" in each.text()]
    keys = [text[text.index("&") + 1].lower() for text in texts]
    assert len(keys) == len(set(keys)) >= 3
    silent = [
        type(widget).__name__ for widget in made.findChildren(QWidget)
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and not widget.objectName().startswith("qt_")
        and not widget.accessibleName() and widget.focusProxy() is None
    ]  # fmt: skip
    assert silent == []
