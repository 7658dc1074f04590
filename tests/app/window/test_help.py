"""Help: one page with one key, and a sentence for every control."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractSpinBox, QApplication, QLineEdit, QMenu, QWidget
from pytestqt.qtbot import QtBot

from app.window.help_page import HelpPage
from app.window.help_text import help_html, keys_of, plain
from app.window.look import Look, TextScale
from app.window.main_window import Bench
from tests.app.window.conftest import Hand


@pytest.fixture
def page(bench: Bench, hand: Hand) -> HelpPage:
    hand.key(Qt.Key.Key_F1)
    found = bench.findChild(HelpPage)
    assert isinstance(found, HelpPage)
    return found


def all_actions(bench: Bench) -> list[QAction]:
    found: list[QAction] = []

    def walk(menu: QMenu) -> None:
        for action in menu.actions():
            inner = action.menu()
            if isinstance(inner, QMenu):
                walk(inner)
            elif not action.isSeparator():
                found.append(action)

    for menu in bench.actions_.menus:
        walk(menu)
    return found


def test_f1_shows_the_page_beside_the_bench_and_esc_closes_it(bench: Bench, page: HelpPage) -> None:
    assert page.isVisible()
    assert not page.isModal(), "one can work while it is open"
    QTest.keyClick(page.text, Qt.Key.Key_Escape)
    assert not page.isVisible()
    bench.actions_.help.trigger()
    assert page.isVisible()
    assert len(bench.findChildren(HelpPage)) == 1


def test_it_has_what_a_new_user_needs(page: HelpPage) -> None:
    text = page.text.toPlainText()
    for heading in (
        "The first minute", "The five modes", "Findings", "Tries", "How it will look", "Printing", "Cautions",
    ):  # fmt: skip
        assert f"\n{heading}\n" in text
    for word in ("ruler foot", "rotary blade", "needle", "manual of your machine"):
        assert word in text


def test_every_action_stands_on_it_with_its_keys_and_sentence(bench: Bench, page: HelpPage) -> None:
    text = page.text.toPlainText()
    actions = all_actions(bench)
    assert len(actions) > 60
    for action in actions:
        row = f"{plain(action)}\n{keys_of(action)}\n{action.whatsThis()}"
        assert row in text, row


def test_it_cannot_go_stale(bench: Bench, page: HelpPage) -> None:
    act = bench.actions_
    act.keep_try.setShortcut(QKeySequence("Ctrl+Alt+Y"))
    act.keep_try.setText("&Hold this try")
    html = help_html(act)
    assert html.count("Hold this try (Ctrl+Alt+Y)") == 1
    assert "F4" not in html.replace("Shift+F4", "")


@pytest.mark.parametrize("key", [Qt.Key.Key_PageDown, Qt.Key.Key_Down])
def test_the_keys_scroll_it(page: HelpPage, key: Qt.Key) -> None:
    assert page.text.hasFocus() or page.focusWidget() is page.text
    bar = page.text.verticalScrollBar()
    assert bar.maximum() > 0
    QTest.keyClick(page.text, key)
    assert bar.value() > 0


def test_its_text_follows_the_text_size(bench: Bench, page: HelpPage, look: Look) -> None:
    def width() -> float:
        page.text.document().adjustSize()
        return page.text.document().idealWidth()

    before = width()
    look.choose_text_size(TextScale.LARGER)
    assert width() > 1.1 * before


# --- a sentence for every control -------------------------------------------------------------------


def test_every_action_says_what_it_does(bench: Bench) -> None:
    silent = [a.text() for a in all_actions(bench) if not (a.statusTip().endswith(".") and a.whatsThis())]
    assert not silent, "\n".join(silent)


def test_the_sentence_stands_where_the_hint_is_and_the_verdict_stays(bench: Bench, qtbot: QtBot) -> None:
    hint = bench.status.hint.text()
    bench.actions_.template.showStatusText(bench)
    assert bench.status.hint.text() == bench.actions_.template.whatsThis()
    assert bench.status.verdict.isVisible()
    QApplication.sendEvent(bench, _no_tip())
    assert bench.status.hint.text() == hint


def _no_tip() -> object:
    from PySide6.QtGui import QStatusTipEvent

    return QStatusTipEvent("")


def test_every_control_has_a_sentence(bench: Bench) -> None:
    for group in bench.settings.form.groups.values():
        if not group.is_open:
            group.heading.click()
    QApplication.processEvents()
    controls = [
        widget for widget in bench.findChildren(QWidget)
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and not widget.objectName().startswith("qt_")
        and not (isinstance(widget, QLineEdit) and isinstance(widget.parent(), QAbstractSpinBox))
    ]  # fmt: skip
    assert len(controls) > 60
    silent = [
        f"{type(widget).__name__} “{widget.accessibleName()}” in {type(widget.parent()).__name__}"
        for widget in controls
        if not widget.toolTip() and not widget.whatsThis()
    ]
    assert not silent, "\n".join(silent)
