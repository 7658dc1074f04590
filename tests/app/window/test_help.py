"""Help: one page with one key, and a sentence for every control."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractSpinBox, QApplication, QLineEdit, QMenu, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from app.sketch.setting_words import QUESTIONS
from app.window.compare_dialog import CompareDialog
from app.window.help_page import HelpPage
from app.window.help_text import help_html, keys_of, plain
from app.window.look import Look, TextScale
from app.window.main_window import Bench
from app.window.preferences_dialog import PreferencesDialog
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
        "The first minute", "The five modes", "Curved sides, and holes", "From a photo",
        "Good anchors, and several fans", "Walk, and the cloth in your hands", "Fingers", "Findings",
        "Tries", "How it will look", "Printing", "Cautions", "All settings",
        "Everything in the menus, and its keys",
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


@pytest.mark.parametrize(
    ("words", "action"),
    [
        (["middle of a side", "curve"], None),
        (["hole", "free of stitches"], "cut_hole"),
        (["best anchors", "score"], "suggest"),
        (["order", "fans", "starts"], None),
        (["turned under the machine", "towards yourself"], "turned_cloth"),
        (["one finger", "two move the view", "zoom"], None),
        (["keeps", "come back to"], "keep_try"),
    ],
)
def test_what_is_not_seen_at_once_has_its_sentence(
    bench: Bench, page: HelpPage, words: list[str], action: str | None
) -> None:
    """In one paragraph each, with the action's name as the menus have it."""
    named = plain(getattr(bench.actions_, action)) if action else ""
    text = page.text.toPlainText().split("Everything in the menus")[0]
    assert any(all(word in part for word in [*words, named]) for part in text.split("\n")), words


def test_every_setting_stands_on_it_with_its_question(page: HelpPage) -> None:
    text = page.text.toPlainText()
    for question in QUESTIONS:
        assert f"\n{question.title}\n" in text
        for setting in question.settings:
            assert f"\n{setting.name.replace('&', '')}\n{setting.about}\n" in text, setting.key


def test_every_control_of_the_dialogs_has_a_sentence(bench: Bench, look: Look) -> None:
    fit = bench.session.fit
    assert fit is not None
    made = [
        PreferencesDialog(bench.session, look, bench),
        CompareDialog([("Try 1", fit), ("Try 2", fit)], fit, bench.session.style, look, bench),
    ]
    for dialog in made:
        dialog.show()
        QApplication.processEvents()
        controls = controls_of(dialog)
        assert len(controls) > 2
        assert not (found := silent(controls)), "\n".join(found)
        assert not [type(widget).__name__ for widget in controls if not widget.accessibleName()]
        dialog.close()
        dialog.deleteLater()


def test_a_control_without_a_sentence_is_found(bench: Bench) -> None:
    """The guard fires for one that is planted, in the window and in the menus."""
    planted = QPushButton("Planted", bench)
    planted.show()
    assert silent(controls_of(bench)) == ["QPushButton “” in Bench"]
    planted.setToolTip("Does nothing.")
    assert silent(controls_of(bench)) == []
    action = bench.actions_.view.addAction("Planted")
    assert [each for each in all_actions(bench) if not each.whatsThis()] == [action]


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
    controls = controls_of(bench)
    assert len(controls) > 60
    assert not (found := silent(controls)), "\n".join(found)


def controls_of(window: QWidget) -> list[QWidget]:
    """What the keys can reach in it."""
    return [
        widget for widget in window.findChildren(QWidget)
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and not widget.objectName().startswith("qt_")
        and not (isinstance(widget, QLineEdit) and isinstance(widget.parent(), QAbstractSpinBox))
    ]  # fmt: skip


def silent(controls: list[QWidget]) -> list[str]:
    """Those that do not say what they do."""
    return [
        f"{type(widget).__name__} “{widget.accessibleName()}” in {type(widget.parent()).__name__}"
        for widget in controls
        if not widget.toolTip() and not widget.whatsThis()
    ]
