"""Shape mode, whole gestures without a window: plain events in, changes out."""

from __future__ import annotations

import pytest

from app.sketch.modes.events import Key
from app.sketch.modes.shape import ShapeMode
from tests.app.sketch.modes.bench import INCH, SCALE, SQUARE, Bench, at, drag, press


def test_dragging_a_corner_is_one_step() -> None:
    bench = Bench()
    mode = ShapeMode(bench)
    drag(bench, mode, (200, 200), (220, 210), (240.5, 230.5))
    assert bench.piece.outline == (*SQUARE[:2], (240.5, 230.5), SQUARE[3])
    assert bench.history.undo_name == "Move corner"
    bench.history.undo()
    assert bench.piece.outline == SQUARE


def test_the_anchor_slides_along_when_the_seam_passes_it() -> None:
    bench = Bench()
    drag(bench, ShapeMode(bench), (0, 0), (150, 150))
    patch = bench.piece.patch()
    assert patch.slide_into(bench.piece.anchors[0]) == bench.piece.anchors[0]


def test_a_crossing_corner_is_shown_and_goes_back() -> None:
    bench = Bench()
    before = bench.plan
    mode = ShapeMode(bench)
    mode.press(at(200, 200))
    mode.move(at(-50, 100, free=True))
    assert mode.candidate is None
    overlay = mode.overlay(SCALE)
    assert overlay.drafts[0].refused
    assert overlay.drafts[0].points[2] == pytest.approx((-50, 100))
    bench.do(mode.release(at(-50, 100, free=True)))
    assert bench.plan is before
    assert "cross" in bench.refused[-1]


def test_cancelling_a_corner_drag_leaves_nothing() -> None:
    bench = Bench()
    before = bench.plan
    mode = ShapeMode(bench)
    mode.press(at(200, 200))
    mode.move(at(230, 230))
    assert mode.candidate is not None
    assert mode.cancel().taken
    assert mode.candidate is None
    assert mode.release(at(230, 230)).change is None
    assert bench.plan is before


def test_lengths_of_both_sides_are_shown() -> None:
    bench = Bench()
    mode = ShapeMode(bench)
    mode.press(at(200, 200))
    mode.move(at(8 * INCH, 7 * INCH, free=True))
    texts = {label.text for label in mode.overlay(SCALE).labels}
    # (203.2, 177.8) from (0, 200) and (200, 0): 204.41 and 177.83 mm.
    assert texts == {"8 in", "7 in"}


def test_add_by_double_click_and_remove() -> None:
    bench = Bench()
    mode = ShapeMode(bench)
    bench.do(mode.double_click(at(120, 3)))
    assert bench.piece.outline == (SQUARE[0], (120, 0), *SQUARE[1:])
    drag(bench, mode, (120, 0), (120, 40))
    assert bench.piece.outline[1] == (120, 40)
    press(bench, mode, Key.DELETE)
    assert bench.piece.outline == SQUARE


def test_by_keys_alone() -> None:
    bench = Bench()
    mode = ShapeMode(bench)
    press(bench, mode, Key.DELETE)
    assert "Choose a corner" in bench.refused[-1]
    press(bench, mode, Key.NEXT)
    press(bench, mode, Key.NEXT)
    press(bench, mode, Key.RIGHT)
    press(bench, mode, Key.RIGHT, fine=True)
    assert bench.piece.outline[1] == pytest.approx((200 + INCH * 3 / 16, 0))
    press(bench, mode, Key.INSERT)
    assert len(bench.piece.outline) == 5
    press(bench, mode, Key.LEFT)
    press(bench, mode, Key.DELETE)
    assert len(bench.piece.outline) == 4


def test_the_last_three_corners_stay() -> None:
    bench = Bench(((0, 0), (100, 0), (50, 80)))
    mode = ShapeMode(bench)
    press(bench, mode, Key.NEXT)
    press(bench, mode, Key.DELETE)
    assert len(bench.piece.outline) == 3
    assert "three corners" in bench.refused[-1]


def test_a_hole_s_corner_can_be_dragged_but_not_out_of_the_outline() -> None:
    bench = Bench(holes=[((120, 120), (120, 160), (160, 140))])
    hole = bench.piece.holes[0]
    mode = ShapeMode(bench)
    drag(bench, mode, (160, 140), (180, 140))
    assert set(bench.piece.holes[0]) == {*hole, (180.0, 140.0)} - {(160.0, 140.0)}
    drag(bench, mode, (180, 140), (240, 140))
    assert "cross" in bench.refused[-1]
    assert (180.0, 140.0) in bench.piece.holes[0]
