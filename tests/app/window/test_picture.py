"""What a moving hand is shown, and what waits until it rests."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Any

import pytest
from msgspec import structs
from pytestqt.qtbot import QtBot

from app.exporting.label_places import Box
from app.exporting.painter import paint
from app.plan.model import Plan
from app.sketch.display_list import Area, DisplayList, Label, LayerName, Symbol
from app.sketch.modes.overlay import HandleKind
from app.window.main_window import Bench
from app.window.picture import MOVING_ECHOES, MOVING_WORDS
from app.window.rest import REST_MS
from app.window.sample import sample_plan
from geometry import Settings
from geometry.findings import Code
from tests.app.window.conftest import CTRL, Hand, block


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[tuple[bool, DisplayList]]:
    """Everything that is painted from now on, and whether for a hand at rest."""
    seen: list[tuple[bool, DisplayList]] = []

    def noted(display_list: DisplayList, painter: Any, mapping: Any, look: Any, **others: Any) -> None:
        seen.append((look.fine, display_list))
        paint(display_list, painter, mapping, look, **others)

    monkeypatch.setattr("app.window.picture.paint", noted)
    return seen


def open_block(bench: Bench, **settings: Any) -> None:
    piece = block()
    bench.session.open(Plan(patches=(structs.replace(piece, settings=Settings(**settings)),)))


def layer(drawn: list[tuple[bool, DisplayList]], name: LayerName, *, fine: bool) -> list[Any]:
    """The items of that layer in the last picture of that kind that has wedges."""
    lists = [each for is_fine, each in drawn if is_fine == fine and each.layer(LayerName.WEDGES)]
    return list(lists[-1].layer(name))


CROWD: dict[str, Any] = {"echo_count": 12, "echo_spacing": 2.0, "visible_width": 2.0, "spans_per_side": 3}
LATE = {"fans", "findings", "path", "totals"}
"""What a fit works out when it is asked for."""


def drag_and_rest(bench: Bench, hand: Hand, qtbot: QtBot) -> set[str]:
    """What had been worked out of the fit before the hand rested; the button stays down."""
    hand.press(3, 5)
    hand.move(3.6, 4.4, CTRL)
    hand.move(4.2, 3.4, CTRL)
    assert not bench.canvas.rest.resting
    bench.canvas.grab()
    moved = bench.session.fit
    assert moved is not None
    assert bench.session.in_gesture
    had = LATE & vars(moved).keys()
    qtbot.waitUntil(lambda: bench.canvas.rest.resting, timeout=20 * REST_MS)
    bench.canvas.grab()
    assert bench.session.fit is moved
    return had


def test_a_crowd_of_echoes_waits_until_the_hand_rests(
    bench: Bench, hand: Hand, qtbot: QtBot, drawn: list[tuple[bool, DisplayList]]
) -> None:
    """Nothing that waits is worked out either; once the hand rests, all is there with it still down."""
    open_block(bench, **CROWD)
    assert drag_and_rest(bench, hand, qtbot) == set()
    fit = bench.session.fit
    assert fit is not None
    assert sum(len(fan.wedges) for fan in fit.fans) * 12 > MOVING_ECHOES
    assert layer(drawn, LayerName.ECHOES, fine=False) == []
    assert layer(drawn, LayerName.PATH, fine=False) == []
    echoes = sum(len(wedge.echoes) for fan in fit.fans for wedge in fan.wedges)
    assert len(layer(drawn, LayerName.ECHOES, fine=True)) == echoes > 30
    assert layer(drawn, LayerName.PATH, fine=True)
    hand.release(4.2, 3.4, CTRL)


def test_a_few_echoes_are_drawn_while_the_hand_moves(
    bench: Bench, hand: Hand, qtbot: QtBot, drawn: list[tuple[bool, DisplayList]]
) -> None:
    open_block(bench, echo_count=2)
    drag_and_rest(bench, hand, qtbot)
    moving, resting = (layer(drawn, LayerName.ECHOES, fine=fine) for fine in (False, True))
    assert len(moving) == len(resting) == 16
    assert layer(drawn, LayerName.PATH, fine=False)
    hand.release(4.2, 3.4, CTRL)


def test_of_a_crowd_of_findings_the_worst_keep_their_words(
    bench: Bench, hand: Hand, qtbot: QtBot, drawn: list[tuple[bool, DisplayList]]
) -> None:
    """Their signs and hatches stay, and so do the figures of those that have words."""
    open_block(bench, spans_per_side=12)
    drag_and_rest(bench, hand, qtbot)
    moving, resting = (layer(drawn, LayerName.FINDINGS, fine=fine) for fine in (False, True))

    def of(items: list[Any], kind: type) -> list[Any]:
        return [item for item in items if isinstance(item, kind)]

    words = [item.text for item in of(moving, Label)]
    assert len(words) == MOVING_WORDS
    assert words == [item.text for item in of(resting, Label)][:MOVING_WORDS]
    assert len(of(resting, Label)) > MOVING_WORDS
    fit = bench.session.fit
    assert fit is not None
    late = [finding for finding in fit.findings if finding.code is Code.OPEN_AREA]
    assert len(of(moving, Symbol)) == len(of(resting, Symbol)) - len(late)
    assert len(of(moving, Area)) == len(of(resting, Area))
    hand.release(4.2, 3.4, CTRL)


@pytest.mark.parametrize("mode", ["shape", "marks"])
def test_no_other_drag_waits_for_a_crowd_of_echoes(bench: Bench, hand: Hand, mode: str) -> None:
    open_block(bench, **CROWD)
    bench.set_mode(mode)
    fit = bench.session.fit
    assert fit is not None
    mark = next(mark.at for mark in fit.prompt_fans[0].marks if mark.name == "A1")
    x, y = (0.0, 0.0) if mode == "shape" else (part / 25.4 for part in mark)
    hand.press(x, y)
    hand.move(x + 0.05, y + 0.1, CTRL)
    hand.move(x + 0.1, y + 0.3, CTRL)
    bench.canvas.grab()
    moved = bench.session.fit
    assert bench.session.in_gesture
    assert moved is not None
    assert moved is not fit
    assert not LATE & vars(moved).keys()
    bench.canvas.cancel()


_FILL = """
import os, threading
from app.window import start
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QGuiApplication, QImage, QPainter, QPainterPath
QGuiApplication(["fill"])
image = QImage(800, 800, QImage.Format.Format_RGB32)
image.fill(QColor("white"))
ring = QPainterPath()
ring.addEllipse(QRectF(0, 0, 800, 800))
ring.addEllipse(QRectF(300, 300, 100, 200))
before = len(os.listdir("/proc/self/task"))
with QPainter(image) as painter:
    painter.fillPath(ring, QColor(200, 0, 0, 50))
print(len(os.listdir("/proc/self/task")) - before)
"""


@pytest.mark.skipif(not os.path.isdir("/proc/self/task"), reason="threads are counted by Linux's own list")
def test_a_fill_is_left_to_the_thread_that_paints() -> None:
    """Qt's pool for fills starts with the first fill of many rows; it takes longer than the fill."""
    surroundings = {name: value for name, value in os.environ.items() if name != "QT_NO_GUI_THREADPOOL"}
    result = subprocess.run(
        [sys.executable, "-c", _FILL], env={**surroundings, "QT_QPA_PLATFORM": "offscreen"},
        capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert (result.returncode, result.stdout) == (0, "0\n"), result.stderr


HALF = {HandleKind.ANCHOR: 15.5, HandleKind.MARK: 7.5, HandleKind.CORNER: 6.5, HandleKind.MIDDLE: 5.5}
"""px from a handle's middle to its rim, measured in a picture of each."""


@pytest.mark.parametrize("mode", ["anchor", "shape", "marks", "place"])
def test_no_words_lie_under_a_handle(bench: Bench, monkeypatch: pytest.MonkeyPatch, mode: str) -> None:
    """Nor under the ring around the place of a finding. A patch with a hole, and with words all about it."""
    boxes: list[tuple[str, Box]] = []

    def noted(display_list: DisplayList, painter: Any, mapping: Any, look: Any, **others: Any) -> None:
        boxes.extend(
            (each.label.text, each.box(mapping.point_to_screen(each.label.at))) for each in others["labels"]
        )
        paint(display_list, painter, mapping, look, **others)

    monkeypatch.setattr("app.window.picture.paint", noted)
    plan = sample_plan()
    bench.session.open(Plan(patches=tuple(each for each in plan.patches if each.name == "Lily ground")))
    bench.set_mode("anchor" if mode == "place" else mode)
    fit = bench.session.fit
    assert fit is not None
    handles = bench.canvas.mode.overlay(bench.canvas.view.scale).handles
    taken = [(handle.at, HALF[handle.kind]) for handle in handles]
    if mode == "place":
        finding = fit.findings[0]
        bench.canvas.show_place(finding.at, finding.wedge)
        taken.append((finding.at, 24.0))
    boxes.clear()
    bench.canvas.rest.settle()
    bench.canvas.grab()
    assert len(boxes) > 10
    assert taken
    for text, (left, top, right, bottom) in boxes:
        for at, half in taken:
            x, y = bench.canvas.view.point_to_screen(at)
            apart = max(left - x, x - right, top - y, y - bottom)
            assert apart >= half, (text, at)
