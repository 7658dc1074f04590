"""All words on the bench go through the translation: with one that marks what it is given, none is bare."""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterator

import pytest
import shiboken6
from PySide6.QtCore import QAbstractItemModel, Qt
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel, QLineEdit, QListView, QWidget
from pytestqt.qtbot import QtBot

from app.plan.model import Plan
from app.sketch import translate
from app.window.compare_dialog import CompareDialog
from app.window.dialogs import Unsaved
from app.window.help_page import HelpPage
from app.window.look import Look
from app.window.main_window import Bench
from app.window.preferences_dialog import PreferencesDialog
from tests.app.window.conftest import Answers, block, ell

MARK = "¤"
OWN = (
    "Block", "Ell", "Trial", "Wedgewright", "Letter", "Legal", "Tabloid", "Ctrl", "Shift", "PgUp", "PgDown",
    "Esc", "Space", "Right", "Left", "Home", "End",
)  # fmt: skip
"""Names: of the patches and the plan here, of the program, of papers and of keys."""


class Marking(gettext.NullTranslations):
    def gettext(self, message: str) -> str:
        return f"{MARK}{message}"

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return f"{MARK}{msgid1 if n == 1 else msgid2}"


@pytest.fixture
def marked(qtbot: QtBot, look: Look, answers: Answers) -> Iterator[Bench]:
    translate.install(Marking())
    made = Bench(look, Plan(title="Trial", patches=(ell(), block())), answers)  # type: ignore[arg-type]
    made.resize(1280, 720)
    made.show()
    qtbot.waitExposed(made)
    yield made
    translate.install(None)
    answers.leaving = Unsaved.DISCARD
    made.close()
    shiboken6.delete(made)


def bare(text: str) -> bool:
    """Whether there is a word in it that the translation never saw."""
    for name in OWN:
        text = text.replace(name, "")
    return MARK not in text and re.search(r"[^\W\d_]{3,}", text) is not None


def said(window: QWidget) -> Iterator[tuple[str, str]]:
    """All that is written in, or told of, a window: (where, text)."""
    for widget in [window, *window.findChildren(QWidget)]:
        if widget.objectName().startswith(("qt_", "ScrollLeft", "ScrollRight")):
            continue  # Qt's own, in Qt's translation
        where = type(widget).__name__
        for text in (widget.toolTip(), widget.whatsThis(), widget.accessibleName(), widget.windowTitle()):
            yield where, text
        if isinstance(widget, (QLabel, QAbstractButton)):
            yield where, widget.text()
        if isinstance(widget, QLineEdit):
            yield where, widget.placeholderText()
        if isinstance(widget, QListView):
            model = widget.model()
            assert isinstance(model, QAbstractItemModel)
            for row in range(model.rowCount()):
                told = model.data(model.index(row, 0), Qt.ItemDataRole.AccessibleTextRole)
                yield f"{where} row", str(told or "")
    for action in window.findChildren(QAction):
        for text in (action.text(), action.whatsThis(), action.statusTip()):
            yield "QAction", text


def untranslated(window: QWidget) -> list[str]:
    return sorted({f"{where}: {text}" for where, text in said(window) if bare(text)})


def test_no_word_of_the_bench_is_bare(marked: Bench, look: Look, qtbot: QtBot) -> None:
    for group in marked.settings.form.groups.values():
        if not group.is_open:
            group.heading.click()
    marked.findings.list.setCurrentIndex(marked.findings.model.index(0))
    qtbot.waitUntil(lambda: marked.findings.remedies[0].isVisible(), timeout=10000)
    marked.actions_.keep_try.trigger()
    marked.actions_.suggest.trigger()
    qtbot.waitUntil(lambda: marked.suggestions.model.rowCount() > 0, timeout=10000)
    for mode in marked.actions_.modes.values():
        mode.trigger()
        QTest.qWait(10)
        assert not (found := untranslated(marked)), "\n".join(found)
        labels = [label.text for label in marked.canvas.mode.overlay(2.0).labels]
        assert not [text for text in labels if bare(text)]


def test_no_word_of_the_windows_beside_it_is_bare(marked: Bench, look: Look) -> None:
    fit = marked.session.fit
    assert fit is not None
    marked.actions_.help.trigger()
    page = marked.findChild(HelpPage)
    assert isinstance(page, HelpPage)
    rows = [row for row in page.text.toPlainText().split("\n") if bare(row)]
    assert not rows, "\n".join(rows)
    for dialog in (
        PreferencesDialog(marked.session, look, marked),
        CompareDialog([("Trial", fit)], fit, marked.session.style, look, marked),
    ):
        dialog.show()
        QApplication.processEvents()
        assert not (found := untranslated(dialog)), "\n".join(found)
        dialog.close()


def test_a_bare_word_is_found(marked: Bench) -> None:
    planted = QLabel("Planted", marked)
    assert untranslated(marked) == ["QLabel: Planted"]
    planted.setText(f"{MARK}Planted")
    assert untranslated(marked) == []
