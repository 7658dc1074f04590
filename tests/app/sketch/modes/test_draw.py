"""Draw mode, whole gestures without a window: plain events in, changes out."""

from __future__ import annotations

import numpy as np
import pytest

from app.sketch.modes.draw import DrawMode
from app.sketch.modes.events import Key
from tests.app.sketch.modes.bench import INCH, SCALE, Bench, at, drag, press, type_in


def test_click_by_click_and_close_on_the_first_corner() -> None:
    bench = Bench()
    mode = DrawMode(bench)
    for place in ((0, 0), (101, 1), (99, 52), (1, 49)):
        drag(bench, mode, place, free=False)
    drawn = np.array([(0, 0), (101.6, 0), (101.6, 50.8), (0, 50.8)])
    assert np.array(mode.corners) == pytest.approx(drawn)
    outcome = drag(bench, mode, (2, 2), free=False)
    assert outcome.leave
    assert np.array(bench.plan.patches[1].outline) == pytest.approx(drawn)
    assert bench.plan.patches[1].anchors[0] == pytest.approx((50.8, 25.4))
    assert bench.history.undo_name == "Draw patch"


@pytest.mark.parametrize("how", ["enter", "double"])
def test_enter_and_double_click_close(how: str) -> None:
    bench = Bench()
    mode = DrawMode(bench)
    for place in ((0, 0), (100, 10), (60, 90)):
        drag(bench, mode, place)
    outcome = press(bench, mode, Key.ENTER) if how == "enter" else bench.do(mode.double_click(at(60, 90)))
    assert outcome.leave
    assert bench.plan.patches[1].outline == ((0, 0), (100, 10), (60, 90))


def test_typed_lengths_are_exact_in_the_direction_of_the_hand() -> None:
    bench = Bench()
    mode = DrawMode(bench)
    drag(bench, mode, (0, 0))
    mode.move(at(31, 0.5))
    type_in(bench, mode, "4 3/8")
    assert "4 3/8" in mode.overlay(SCALE).labels[0].text
    press(bench, mode, Key.ENTER)
    assert mode.corners[1] == pytest.approx((4.375 * INCH, 0), abs=1e-9)
    mode.move(at(112, 80))
    type_in(bench, mode, "11cm")
    press(bench, mode, Key.ENTER)
    assert mode.corners[2] == pytest.approx((4.375 * INCH, 110.0), abs=1e-9)


@pytest.mark.parametrize("text", ["1/0", "4 3", "0", "4-"])
def test_a_length_that_is_none_is_refused_in_place(text: str) -> None:
    bench = Bench()
    mode = DrawMode(bench)
    drag(bench, mode, (0, 0))
    mode.move(at(50, 0))
    type_in(bench, mode, text)
    press(bench, mode, Key.ENTER)
    assert mode.corners == ((0.0, 0.0),)
    label = mode.overlay(SCALE).labels[0]
    assert label.problem
    assert text in label.text
    press(bench, mode, Key.BACKSPACE)
    assert mode.typed == text[:-1]


def test_backspace_and_undo_take_the_last_corner_back() -> None:
    bench = Bench()
    mode = DrawMode(bench)
    for place in ((0, 0), (100, 10), (60, 90)):
        drag(bench, mode, place)
    press(bench, mode, Key.BACKSPACE)
    assert mode.corners == ((0, 0), (100, 10))
    assert mode.undo().taken
    assert mode.corners == ((0, 0),)
    assert mode.undo().taken
    assert not mode.undo().taken


def test_esc_takes_the_length_then_the_draft_then_the_mode() -> None:
    bench = Bench()
    before = bench.plan
    mode = DrawMode(bench)
    drag(bench, mode, (0, 0))
    drag(bench, mode, (100, 0))
    type_in(bench, mode, "3")
    assert mode.cancel().taken
    assert mode.typed == ""
    assert len(mode.corners) == 2
    assert mode.cancel().taken
    assert mode.corners == ()
    assert mode.overlay(SCALE).drafts == ()
    assert mode.cancel().leave
    assert bench.plan is before


def test_a_crossing_side_is_shown_and_refused() -> None:
    bench = Bench()
    mode = DrawMode(bench)
    for place in ((0, 0), (100, 0), (100, 100), (60, 100)):
        drag(bench, mode, place)
    mode.move(at(60, -40, free=True))
    assert mode.overlay(SCALE).drafts[0].refused
    drag(bench, mode, (60, -40))
    assert len(mode.corners) == 4
    assert "cross" in bench.refused[-1]
    # A last corner from which only the closing side would cross:
    drag(bench, mode, (60, 20))
    drag(bench, mode, (80, 60))
    press(bench, mode, Key.ENTER)
    assert "closing side" in bench.refused[-1]
    assert len(bench.plan.patches) == 1


def test_the_label_gives_length_and_turn() -> None:
    bench = Bench()
    mode = DrawMode(bench)
    drag(bench, mode, (0, 0))
    drag(bench, mode, (4 * INCH, 0))
    mode.move(at(4 * INCH, 2.5 * INCH, free=True))
    assert mode.overlay(SCALE).labels[0].text == "2 1/2 in, turn 90°"


def test_drawn_by_keys_alone() -> None:
    bench = Bench()
    mode = DrawMode(bench)
    press(bench, mode, Key.INSERT)
    for key in (Key.RIGHT, Key.DOWN, Key.LEFT):
        for _ in range(8):
            press(bench, mode, key)
        press(bench, mode, Key.INSERT)
    press(bench, mode, Key.ENTER)
    drawn = np.array([(0, 0), (50.8, 0), (50.8, 50.8), (0, 50.8)])
    assert np.array(bench.plan.patches[1].outline) == pytest.approx(drawn)
