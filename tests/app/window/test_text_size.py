"""Text size: by menu and key, remembered, and everything still fits."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QSettings, Qt
from PySide6.QtGui import QFontMetrics, QFontMetricsF
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QDockWidget,
    QLabel,
    QLineEdit,
    QScrollArea,
    QTabBar,
    QToolButton,
    QWidget,
)
from pytestqt.qtbot import QtBot

from app.sketch.palette import LEAST_POINTS, TEXT_POINTS, Role
from app.window.look import LEAST_TARGET, Look, TextScale
from app.window.main_window import Bench
from app.window.status import HINTS
from app.window.word_list import two_lines, unbroken
from tests.app.window.conftest import Hand

SHIFT = Qt.KeyboardModifier.ShiftModifier


def test_by_keys_and_remembered(bench: Bench, hand: Hand, look: Look, qapp: QApplication) -> None:
    hand.key(Qt.Key.Key_F8)
    assert look.text_size is TextScale.LARGER
    assert bench.font().pointSizeF() == qapp.font().pointSizeF() == 15.0
    assert bench.actions_.text_sizes[TextScale.LARGER].isChecked()
    assert Look(qapp).text_size is TextScale.LARGER, "the next start has it too"
    hand.key(Qt.Key.Key_F7)
    assert bench.font().pointSizeF() == pytest.approx(10.8)
    hand.key(Qt.Key.Key_F8, SHIFT)
    assert bench.font().pointSizeF() == 12.0
    assert QSettings().value("look/text-size") == "usual"


def test_the_smallest_words_are_not_too_small(look: Look) -> None:
    look.choose_text_size(TextScale.SMALLER)
    assert min(TEXT_POINTS.values()) * look.text_scale >= LEAST_POINTS


def test_words_on_the_canvas_follow(bench: Bench, look: Look, qtbot: QtBot) -> None:
    scene = bench.canvas._scene
    fit = bench.session.fit
    assert fit is not None
    overlay = bench.canvas.mode.overlay(1.0)
    before = scene(fit, overlay).point
    look.choose_text_size(TextScale.LARGER)
    assert scene(fit, overlay).point == pytest.approx(1.25 * before)


def cut_off(bench: Bench) -> list[str]:
    """Words that have less room than they need, and controls that stand out of what holds them."""
    found = []
    for widget in bench.findChildren(QWidget):
        if not widget.isVisible() or widget.visibleRegion().isEmpty():
            continue  # a panel behind another is “visible” to Qt
        metrics = QFontMetrics(widget.font())
        if isinstance(widget, QAbstractButton) and widget.text() and not isinstance(widget, QToolButton):
            words = widget.text().replace("&", "")
            if widget.sizeHint().width() > widget.width() + 1 and "…" not in words:
                found.append(f"button “{words}”")
        elif isinstance(widget, QToolButton) and widget.text():
            need = metrics.horizontalAdvance(widget.text().replace("&", ""))
            plain = widget.toolButtonStyle() is not Qt.ToolButtonStyle.ToolButtonIconOnly
            if plain and need > widget.width():
                found.append(f"tool button “{widget.text()}”")
        elif isinstance(widget, QLabel) and widget.text() and widget is not bench.status.hint:
            need = widget.heightForWidth(widget.width()) if widget.wordWrap() else widget.sizeHint().height()
            if need > widget.height() + 1:
                found.append(f"label “{widget.text()[:30]}”")
        elif isinstance(widget, QLineEdit) and metrics.horizontalAdvance(widget.text()) > widget.width() - 8:
            found.append(f"field “{widget.text()}”")
    return found


@pytest.mark.parametrize("size", list(TextScale))
def test_everything_fits_at_1280_by_720(bench: Bench, look: Look, qtbot: QtBot, size: TextScale) -> None:
    look.choose_text_size(size)
    for group in bench.settings.form.groups.values():
        if not group.is_open:
            group.heading.click()
    QTest.qWait(50)
    assert (bench.width(), bench.height()) == (1280, 720), "the window need not grow"
    panel = bench.settings
    for name in ("tries", "settings"):
        dock = bench.findChild(QDockWidget, name)
        assert isinstance(dock, QDockWidget)
        dock.raise_()
        for share in (0.0, 0.25, 0.5, 0.75, 1.0):
            bar = panel.verticalScrollBar()
            bar.setValue(round(bar.maximum() * share))
            QTest.qWait(20)
            assert not cut_off(bench), "\n".join(cut_off(bench))
    for name in ("template", "fit", "undo", "walk"):
        action = getattr(bench.actions_, name)
        button = bench.toolbar.widgetForAction(action)
        assert button.isVisible(), f"{name} fell off the toolbar"
        assert button.geometry().right() < bench.toolbar.width()
    assert isinstance(panel, QScrollArea)
    assert panel.verticalScrollBar().maximum() > 0
    inner = panel.widget()
    assert inner.width() <= panel.viewport().width(), "nothing to the right is cut off"
    assert bench.canvas.width() >= 480, "the canvas stays the largest part"


def test_rows_of_lists_grow_with_their_words(bench: Bench, look: Look, qtbot: QtBot) -> None:
    view = bench.patches.list
    index = bench.patches.model.index(0)
    before = view.visualRect(index).height()
    look.choose_text_size(TextScale.LARGER)
    QTest.qWait(50)
    assert view.visualRect(index).height() >= max(before, 4 * QFontMetrics(view.font()).height())


def test_the_tabs_of_panels_are_large_enough_and_look_like_the_rest(bench: Bench) -> None:
    bars = [bar for bar in bench.findChildren(QTabBar) if bar.isVisible() and bar.count() > 1]
    assert bars
    for bar in bars:
        assert bar.accessibleName()
        for number in range(bar.count()):
            assert bar.tabRect(number).height() >= LEAST_TARGET
    bar = bars[0]
    front = bar.tabRect(bar.currentIndex())
    picture = bar.grab().toImage()
    ratio = picture.devicePixelRatio()
    line = picture.pixelColor(round(front.center().x() * ratio), round((front.top() + 2) * ratio))
    assert line == bench._look.colour(Role.TEXT), "a line over the tab in front, not its shade alone"
    docks = [dock.windowTitle() for dock in bench.findChildren(QDockWidget)]
    assert {bar.tabText(number) for number in range(bar.count())} <= set(docks)


@pytest.mark.parametrize("size", list(TextScale))
def test_what_is_said_of_a_walk_is_not_cut_short(bench: Bench, look: Look, size: TextScale) -> None:
    look.choose_text_size(size)
    bench.actions_.walk.trigger()
    bar = bench.walk_bar
    for share in (0.0, 0.21, 0.47, 0.99):
        bench.player.scrub(share)
        QTest.qWait(20)
        for line in (bar.here, bar.then, bar.done, bar.turned):
            assert line.words
            assert line.fontMetrics().horizontalAdvance(line.words) <= line.width(), line.words
            assert bar.rect().contains(line.geometry())
    assert bar.slider.width() >= 80
    assert bar.turns.geometry().right() < bar.width()
    assert bench.canvas.height() >= 360


@pytest.mark.parametrize("size", list(TextScale))
def test_the_tabs_of_three_panels_have_room_for_their_words(
    bench: Bench, look: Look, size: TextScale
) -> None:
    look.choose_text_size(size)
    bench.actions_.suggest.trigger()
    QTest.qWait(50)
    (bar,) = (bar for bar in bench.findChildren(QTabBar) if bar.isVisible() and bar.count() == 3)
    for number in range(3):
        need = QFontMetrics(bar.font()).horizontalAdvance(bar.tabText(number))
        assert bar.tabRect(number).width() >= need + 8, bar.tabText(number)
    assert bar.tabRect(2).right() < bar.width()


def test_a_remedy_has_its_words_in_two_lines(bench: Bench) -> None:
    button = bench.findings.remedies[0]
    button.show()
    button.say("Move the anchor to x 2 in, y 2 1/2 in")
    QTest.qWait(20)
    assert button.text().replace("\n", " ").replace("\u00a0", " ") == "Move the anchor to x 2 in, y 2 1/2 in"
    assert button.text().count("\n") == 1
    assert button.height() >= 2 * QFontMetrics(button.font()).height()


@pytest.mark.parametrize("size", list(TextScale))
def test_words_of_remedies_are_seen_whole_however_many_there_are(
    bench: Bench, look: Look, size: TextScale, qtbot: QtBot
) -> None:
    """The buttons are what needs room; the list above them scrolls."""
    look.choose_text_size(size)
    bench.session.choose(1)
    bench.findings.list.setCurrentIndex(bench.findings.model.index(0))
    qtbot.waitUntil(lambda: bench.findings.remedies[1].isVisible(), timeout=10000)
    QTest.qWait(50)
    for button in bench.findings.remedies:
        if button.isVisible():
            lines = button.text().count("\n") + 1
            assert button.height() >= lines * QFontMetrics(button.font()).height() + 4, button.text()
            assert button.visibleRegion().boundingRect() == button.rect()


def test_the_hint_ends_in_dots_where_it_is_too_long(bench: Bench, look: Look) -> None:
    """At the right end of the line there are dots at its foot, and no half letter: few rows with ink."""
    hint = bench.status.hint
    hint.setText("m" * 400)
    picture = hint.grab().toImage()
    ink = look.colour(Role.TEXT)
    wide = QFontMetrics(hint.font()).horizontalAdvance("…")
    ratio = picture.devicePixelRatio()
    left = round((hint.width() - wide) * ratio)
    rows = [
        y for y in range(picture.height()) for x in range(left, picture.width())
        if abs(picture.pixelColor(x, y).lightness() - ink.lightness()) < 60
    ]  # fmt: skip
    assert rows
    assert max(rows) - min(rows) < QFontMetrics(hint.font()).xHeight() * ratio / 2


@pytest.mark.parametrize("size", list(TextScale))
def test_every_hint_is_read_whole_at_1280_by_720(bench: Bench, look: Look, size: TextScale) -> None:
    """In two lines where one is too short. From mode to mode the canvas keeps its height."""
    look.choose_text_size(size)
    QTest.qWait(50)
    hint = bench.status.hint
    metrics = QFontMetricsF(hint.font())
    heights = set()
    for words in HINTS.values():
        bench.status.show_tip(words)
        QApplication.processEvents()
        heights.add(bench.canvas.height())
        lines = two_lines(words, metrics, hint.width())
        assert " ".join(lines).replace("\u00a0", " ") == words
        assert hint.height() >= len(lines) * metrics.height() - 1
    assert len(heights) == 1


def test_lengths_stay_in_one_line() -> None:
    assert (
        unbroken("narrowest wedge 1 1/4 in, 2 problems") == "narrowest wedge 1\u00a01/4\u00a0in, 2 problems"
    )
    assert unbroken("to x 2 in, y 3 in") == "to x\u00a02\u00a0in, y\u00a03\u00a0in"
    assert unbroken("98 % in sight, 12 cm in all") == "98\u00a0% in sight, 12\u00a0cm in all"


def test_two_lines_break_between_words_and_lose_none_where_there_is_room(qapp: QApplication) -> None:
    metrics = QFontMetricsF(qapp.font())
    text = "narrowest side 1 1/4 in"
    whole = metrics.horizontalAdvance(text)
    assert two_lines(text, metrics, whole + 1) == [text]
    broken = two_lines(text, metrics, whole * 0.7)
    assert len(broken) == 2
    assert " ".join(broken).replace("\u00a0", " ") == text
    assert max(map(metrics.horizontalAdvance, broken)) <= whole * 0.7
    assert two_lines(text, metrics, whole * 0.3)[1].endswith("…")
