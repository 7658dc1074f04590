"""Anchor mode, whole gestures without a window: plain events in, changes out."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from app.sketch.history import History
from app.sketch.modes.anchor import AnchorMode
from app.sketch.modes.events import Key
from app.sketch.modes.overlay import HandleState
from app.sketch.snapping import Caught
from geometry.units import LengthStyle
from tests.app.sketch.modes.bench import INCH, SCALE, Bench, at, drag, press


def test_a_drag_is_one_step_and_keeps_the_grip() -> None:
    bench = Bench()
    mode = AnchorMode(bench)
    drag(bench, mode, (72, 91), (80, 100), (120, 131))
    assert bench.piece.anchors == ((118.0, 130.0),)
    assert bench.history.undo_name == "Move anchor"
    bench.history.undo()
    assert bench.piece.anchors == ((70.0, 90.0),)
    assert bench.history.undo_name is None


def test_while_dragging_the_plan_is_untouched_and_the_candidate_moves() -> None:
    bench = Bench()
    before = bench.plan
    mode = AnchorMode(bench)
    mode.press(at(70, 90))
    assert mode.candidate is None
    mode.move(at(71, 90, free=True))
    assert mode.candidate is None, "a press that has hardly moved is still a click"
    mode.move(at(110, 95, free=True))
    assert mode.candidate is not None
    assert mode.candidate.anchors == ((110.0, 95.0),)
    assert mode.candidate.patch is bench.piece.patch()
    assert mode.overlay(SCALE).handles[0].state is HandleState.HELD
    assert bench.plan is before


def test_cancelling_an_anchor_drag_leaves_nothing() -> None:
    bench = Bench()
    before = bench.plan
    mode = AnchorMode(bench)
    mode.press(at(70, 90))
    mode.move(at(150, 150))
    assert mode.cancel().taken
    assert mode.candidate is None
    assert not mode.busy
    assert mode.release(at(150, 150)).change is None
    assert bench.plan is before
    assert mode.overlay(SCALE).handles[0].at == (70.0, 90.0)
    assert not mode.cancel().taken


def test_a_click_puts_the_anchor_there() -> None:
    bench = Bench()
    drag(bench, AnchorMode(bench), (150, 40))
    assert bench.piece.anchors == ((150.0, 40.0),)


def test_outside_the_patch_a_press_is_left_to_the_canvas() -> None:
    bench = Bench()
    assert not AnchorMode(bench).press(at(-60, 40)).taken


@pytest.mark.parametrize(
    ("near", "caught", "what", "name"),
    [
        ((98, 103), (100, 100), Caught.MIDDLE, ""),
        ((196, 196), (193.65, 193.65), Caught.CORNER, "BC"),
        ((104, 4), (100, 6.35), Caught.SIDE_MIDDLE, "A"),
    ],
)
def test_the_anchor_is_caught_unless_free(
    near: tuple[float, float], caught: tuple[float, float], what: Caught, name: str
) -> None:
    bench = Bench()
    mode = AnchorMode(bench)
    mode.press(at(70, 90))
    mode.move(at(*near))
    snap = mode.overlay(SCALE).snap
    assert snap is not None
    assert (snap.what, snap.name) == (what, name)
    bench.do(mode.release(at(*near)))
    assert bench.piece.anchors[0] == pytest.approx(caught)
    drag(bench, mode, caught, (70, 70), near, free=True)
    assert bench.piece.anchors[0] == pytest.approx(near)


def test_dragged_outside_it_slides_along_the_seam() -> None:
    bench = Bench()
    drag(bench, AnchorMode(bench), (70, 90), (330, 55))
    assert bench.piece.anchors[0] == pytest.approx((200.0, 55.0))


@pytest.mark.parametrize(
    ("style", "fine", "step"),
    [
        (LengthStyle.EIGHTHS, False, INCH / 8),
        (LengthStyle.DECIMAL, True, INCH / 16),
        (LengthStyle.CM, False, 2.0),
        (LengthStyle.MM, True, 1.0),
    ],
)
def test_arrows(style: LengthStyle, fine: bool, step: float) -> None:
    bench = Bench()
    bench.style = style
    mode = AnchorMode(bench)
    for key in (Key.RIGHT, Key.RIGHT, Key.UP, Key.DOWN, Key.DOWN, Key.LEFT):
        press(bench, mode, key, fine=fine)
    assert bench.piece.anchors[0] == pytest.approx((70 + step, 90 + step))
    bench.history.undo()
    assert bench.piece.anchors[0] == (70.0, 90.0), "a run of arrows is one step"


def test_of_several_anchors_the_one_taken_hold_of_moves() -> None:
    bench = Bench()
    piece = replace(bench.piece, anchors=((70.0, 90.0), (150.0, 150.0)))
    bench.history = History(replace(bench.plan, patches=(piece,)))
    mode = AnchorMode(bench)
    mode.press(at(151, 150))
    mode.move(at(171, 140, free=True))
    assert mode.candidate is not None
    assert mode.candidate.anchors == ((70.0, 90.0), (170.0, 140.0))
    states = [handle.state for handle in mode.overlay(SCALE).handles]
    assert states == [HandleState.IDLE, HandleState.HELD]
    bench.do(mode.release(at(171, 140, free=True)))
    press(bench, mode, Key.RIGHT)
    assert bench.piece.anchors == ((70.0, 90.0), (170.0 + INCH / 8, 140.0))
    press(bench, mode, Key.NEXT)
    press(bench, mode, Key.RIGHT)
    assert bench.piece.anchors[0] == (70.0 + INCH / 8, 90.0)
