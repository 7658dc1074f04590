"""Tries: kept by one key, pictured, brought back by a click, renamed, compared, deleted, undone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pypdfium2
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDockWidget, QLabel, QLineEdit, QPushButton, QScrollArea, QWidget
from pytestqt.qtbot import QtBot

from app.sketch.try_words import try_figures
from app.window.compare_dialog import CompareDialog
from app.window.look import Look, TextScale
from app.window.main_window import Bench
from app.window.print_cards import CardDialog
from geometry import Settings, fit
from geometry.units import LengthStyle
from tests.app.window.conftest import Answers, ell


@pytest.fixture
def tried(bench: Bench, qtbot: QtBot) -> Bench:
    """A bench with two tries, the anchor further on than both, and the panel in front."""
    dock = bench.findChild(QDockWidget, "tries")
    assert isinstance(dock, QDockWidget)
    dock.show()
    dock.raise_()
    for _ in range(2):
        qtbot.keyClick(bench.canvas, Qt.Key.Key_F4)
        for _ in range(6):
            qtbot.keyClick(bench.canvas, Qt.Key.Key_Left)
    QApplication.processEvents()
    return bench


def names(bench: Bench) -> list[str]:
    piece = bench.session.piece
    assert piece is not None
    return [kept.name for kept in piece.tries]


def test_tries_are_seen_beside_all_that_mends_a_finding(tried: Bench, qtbot: QtBot) -> None:
    """On the smallest screen: with every remedy a button the window is no higher, and two tries are seen."""
    tried.session.choose(1)
    for _ in range(2):
        qtbot.keyClick(tried.canvas, Qt.Key.Key_F4)
        qtbot.keyClick(tried.canvas, Qt.Key.Key_Left)
    qtbot.waitUntil(lambda: tried.findings.model.rowCount() > 0, timeout=10000)
    for button in tried.findings.remedies:
        button.say("Move the anchor to x 2 in, y 2 1/2 in")
        button.show()
    view = tried.tries.list

    def seen() -> int:
        rows = (view.visualRect(tried.tries.model.index(row)) for row in range(len(names(tried))))
        return sum(view.viewport().rect().contains(row) for row in rows)

    qtbot.waitUntil(lambda: seen() == len(names(tried)) == 2, timeout=4000)
    assert tried.findings.remedies[-1].visibleRegion().boundingRect().height() > 24
    assert (tried.width(), tried.height()) == (1280, 720)


def click_row(bench: Bench, row: int) -> None:
    view = bench.tries.list
    box = view.visualRect(bench.tries.model.index(row))
    QTest.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, box.center())


def with_dialog(act: Callable[[], object], do: Callable[[CompareDialog], None]) -> None:
    """Do ``act``, which opens the dialog, and in it ``do``."""
    seen = []

    def visit() -> None:
        dialog = QApplication.activeModalWidget()
        assert isinstance(dialog, CompareDialog)
        seen.append(dialog)
        do(dialog)
        dialog.close()

    QTimer.singleShot(0, visit)
    act()
    assert seen


def test_one_key_keeps_a_try_and_says_so(tried: Bench) -> None:
    assert names(tried) == ["Try 1", "Try 2"]
    assert tried.session.history.undo_name == "Move anchor"
    assert tried.tries.model.present is None
    assert tried.tries.list.isVisible()
    assert not tried.tries.empty.isVisible()


def test_keeping_twice_is_refused_in_words(tried: Bench, qtbot: QtBot) -> None:
    qtbot.keyClick(tried.canvas, Qt.Key.Key_F4)
    said = []
    tried.session.refused.connect(said.append)
    qtbot.keyClick(tried.canvas, Qt.Key.Key_F4)
    assert names(tried) == ["Try 1", "Try 2", "Try 3"]
    assert len(said) == 1
    assert "kept already, as “Try 3”" in said[0]


def test_a_click_brings_a_try_back_and_undo_takes_that_back(tried: Bench) -> None:
    piece = tried.session.piece
    assert piece is not None
    before, kept = piece.anchors, piece.tries[0].anchors
    assert before != kept
    click_row(tried, 0)
    assert tried.session.piece is not None
    assert tried.session.piece.anchors == kept
    assert tried.session.history.undo_name == "Bring back Try 1"
    assert tried.tries.model.present == 0
    shown = tried.session.fit
    assert shown is not None
    assert shown.anchors == kept
    tried.actions_.undo.trigger()
    assert tried.session.piece.anchors == before


def test_enter_brings_back_too(tried: Bench, qtbot: QtBot) -> None:
    view = tried.tries.list
    view.setFocus()
    view.setCurrentIndex(tried.tries.model.index(1))
    qtbot.keyClick(view, Qt.Key.Key_Return)
    piece = tried.session.piece
    assert piece is not None
    assert piece.anchors == piece.tries[1].anchors


def test_rename_and_delete_by_keyboard(tried: Bench, qtbot: QtBot) -> None:
    view = tried.tries.list
    view.setFocus()
    view.setCurrentIndex(tried.tries.model.index(0))
    qtbot.keyClick(view, Qt.Key.Key_F2)
    editor = view.findChild(QLineEdit)
    assert isinstance(editor, QLineEdit)
    editor.setText("")
    qtbot.keyClicks(editor, "low and left")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    QApplication.processEvents()  # the list takes over what was typed after the key
    assert names(tried) == ["low and left", "Try 2"]
    qtbot.keyClick(view, Qt.Key.Key_Delete)
    assert names(tried) == ["Try 2"]
    tried.actions_.undo.trigger()
    tried.actions_.undo.trigger()
    assert names(tried) == ["Try 1", "Try 2"]


def test_a_name_that_is_taken_is_refused_in_words(tried: Bench) -> None:
    said = []
    tried.session.refused.connect(said.append)
    assert not tried.tries.model.setData(tried.tries.model.index(0), "Try 2")
    assert names(tried) == ["Try 1", "Try 2"]
    assert "Try 2" in said[0]


def test_rows_say_what_a_try_is_told_apart_by(tried: Bench) -> None:
    model = tried.tries.model
    fit = model.fit_at(0)
    assert fit is not None
    words = model.data(model.index(0), Qt.ItemDataRole.AccessibleTextRole)
    figures = dict(try_figures(fit, tried.session.style))
    assert f"narrowest side {figures['Narrowest side']}" in words
    click_row(tried, 0)
    assert "on the canvas" in model.data(model.index(0), Qt.ItemDataRole.AccessibleTextRole)


def test_compare_shows_every_try_and_what_is_on_the_canvas(tried: Bench) -> None:
    def look(dialog: CompareDialog) -> None:
        titles = [label.text() for label in dialog.findChildren(QLabel)]
        assert {"On the canvas", "Try 1", "Try 2"} <= set(titles)
        assert len(dialog.buttons) == 2
        fit = tried.tries.model.fit_at(1)
        assert fit is not None
        named = [each.accessibleName() for each in dialog.findChildren(QLabel)]
        for what, value in try_figures(fit, LengthStyle.EIGHTHS):
            assert f"Try 2, {what}: {value}" in named
        dialog.buttons[1].click()

    with_dialog(tried.actions_.compare_tries.trigger, look)
    piece = tried.session.piece
    assert piece is not None
    assert piece.anchors == piece.tries[1].anchors


@pytest.mark.parametrize("size", list(TextScale))
def test_four_tries_and_the_canvas_have_room_beside_each_other(
    qtbot: QtBot, look: Look, size: TextScale
) -> None:
    """On a screen of 1280 by 720, whatever the size of the words: nothing is scrolled to or cut short."""
    look.choose_text_size(size)
    parent = QWidget()
    qtbot.addWidget(parent)
    fits = [fit(ell().patch(), ((40.0 + 6 * number, 40.0),), Settings()) for number in range(5)]
    tries = [(f"Try {number}", each) for number, each in enumerate(fits[1:], 1)]
    dialog = CompareDialog(tries, fits[0], LengthStyle.EIGHTHS, look, parent)
    dialog.show()
    assert dialog.width() <= 1280
    assert dialog.height() <= 720
    (area,) = dialog.findChildren(QScrollArea)
    assert area.horizontalScrollBar().maximum() == area.verticalScrollBar().maximum() == 0
    for label in dialog.findChildren(QLabel):
        assert label.heightForWidth(label.width()) <= label.height(), label.text()
        if not label.wordWrap():
            assert label.sizeHint().width() <= label.width(), label.text()
    assert [button.isVisible() for button in dialog.buttons] == [True] * 4


@pytest.mark.parametrize("how", ["click", "space", "access key"])
def test_the_panel_prints_as_the_menu_does(
    tried: Bench, answers: Answers, tmp_path: Path, qtbot: QtBot, how: str
) -> None:
    button = tried.tries.print
    answers.template = tmp_path / "tries.pdf"
    QTimer.singleShot(0, save_as_pdf)
    if how == "click":
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    elif how == "space":
        tried.tries.delete.setFocus()
        while QApplication.focusWidget() is not button:
            QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
            assert tried.tries.isAncestorOf(QApplication.focusWidget()), "the keys go by it"
        QTest.keyClick(button, Qt.Key.Key_Space)
    else:
        QTest.keyClick(tried, Qt.Key.Key_I, Qt.KeyboardModifier.AltModifier)
        qtbot.waitUntil(answers.template.exists)  # Qt shows the button pressed for a moment
    assert len(pypdfium2.PdfDocument(answers.template)) == 1
    for _ in range(2):
        tried.tries.list.setCurrentIndex(tried.tries.model.index(0))
        tried.tries.delete.click()
    assert not button.isEnabled(), "there is nothing to print"


def test_no_access_key_of_the_panel_is_one_of_the_menu_bar(tried: Bench) -> None:
    bar = {menu.title().split("&")[1][0].lower() for menu in tried.actions_.menus}
    keys = [
        button.text().split("&")[1][0].lower()
        for button in tried.tries.findChildren(QPushButton)
        if button.isVisible()
    ]
    assert len(keys) == 5
    assert len(set(keys)) == 5
    assert not set(keys) & bar


def test_all_tries_print_on_one_sheet(tried: Bench, tmp_path: Path) -> None:
    target = tmp_path / "tries.pdf"
    assert isinstance(tried.dialogs, Answers)
    tried.dialogs.template = target
    QTimer.singleShot(0, save_as_pdf)
    tried.actions_.print_tries.trigger()
    document = pypdfium2.PdfDocument(target)
    assert len(document) == 1
    text = document[0].get_textpage().get_text_bounded()
    document.close()
    assert "Try 1" in text
    assert "Try 2" in text


def save_as_pdf() -> None:
    dialog = QApplication.activeModalWidget()
    if not isinstance(dialog, CardDialog):
        QTimer.singleShot(20, save_as_pdf)  # an access key takes a moment
        return
    (button,) = (b for b in dialog.findChildren(QPushButton) if b.accessibleName() == "Save as PDF…")
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)


def test_tries_belong_to_their_patch(tried: Bench) -> None:
    tried.session.choose(1)
    assert tried.tries.model.rowCount() == 0
    assert tried.tries.empty.isVisible()
    assert not tried.actions_.compare_tries.isEnabled()
    tried.session.choose(0)
    assert tried.tries.model.rowCount() == 2


def test_what_is_pressed_is_large_enough_and_named(tried: Bench) -> None:
    for button in tried.tries.findChildren(QPushButton):
        assert button.height() >= 24
        assert button.width() >= 24
        assert button.text()
        assert button.toolTip()
    assert tried.tries.list.visualRect(tried.tries.model.index(0)).height() >= 24
