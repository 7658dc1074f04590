"""Whole gestures of the modes, without a window: plain events in, changes out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from msgspec.structs import replace

from app.plan.model import Plan, PlanPatch
from app.sketch.history import History
from app.sketch.modes.anchor import AnchorMode
from app.sketch.modes.draw import DrawMode
from app.sketch.modes.events import Key, KeyPress, Pointer
from app.sketch.modes.mode import Mode, Outcome
from app.sketch.modes.overlay import HandleState
from app.sketch.modes.reshape import handles, moved
from app.sketch.modes.shape import ShapeMode
from app.sketch.snapping import Caught
from geometry import Patch
from geometry.units import LengthStyle

SQUARE = ((0.0, 0.0), (200.0, 0.0), (200.0, 200.0), (0.0, 200.0))
SCALE = 2.0
INCH = 25.4


class Bench:
    """The least that a mode needs of the bench: a history, a chosen patch, a style."""

    def __init__(self, outline: Sequence[tuple[float, float]] = SQUARE, holes: Sequence[object] = ()) -> None:
        patch = Patch(outline, holes)
        self.history = History(Plan(patches=(PlanPatch.of("one", patch, [(70.0, 90.0)]),)))
        self.chosen: int | None = 0
        self.style = LengthStyle.EIGHTHS
        self.refused: list[str] = []

    @property
    def plan(self) -> Plan:
        return self.history.plan

    @property
    def piece(self) -> PlanPatch:
        return self.plan.patches[-1]

    def do(self, outcome: Outcome) -> Outcome:
        if outcome.refused:
            self.refused.append(outcome.refused)
        if outcome.change is not None:
            self.history.push(outcome.change)
        return outcome


def at(x: float, y: float, *, free: bool = False) -> Pointer:
    return Pointer((x, y), SCALE, free)


def drag(bench: Bench, mode: Mode, *places: tuple[float, float], free: bool = True) -> Outcome:
    bench.do(mode.press(at(*places[0], free=free)))
    for place in places[1:]:
        bench.do(mode.move(at(*place, free=free)))
    return bench.do(mode.release(at(*places[-1], free=free)))


def press(bench: Bench, mode: Mode, key: Key, *, fine: bool = False) -> Outcome:
    return bench.do(mode.key(KeyPress(at(0, 0), key, fine=fine)))


def type_in(bench: Bench, mode: Mode, text: str) -> None:
    for character in text:
        assert bench.do(mode.key(KeyPress(at(0, 0), text=character))).taken


# --- anchor -----------------------------------------------------------------------------------------


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


# --- draw -------------------------------------------------------------------------------------------


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


# --- shape ------------------------------------------------------------------------------------------


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


# --- reshaping --------------------------------------------------------------------------------------


def half_disc(steps: int = 40, radius: float = 80.0) -> np.ndarray:
    angle = np.linspace(0, np.pi, steps + 1)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def test_only_corners_of_a_curved_patch_are_handles() -> None:
    ring = half_disc()
    assert handles(ring) == (0, 40)
    assert len(handles(ring, scale=30.0)) == 41, "zoomed in, every point can be taken hold of"
    assert handles(np.array(SQUARE)) == (0, 1, 2, 3)


def test_a_curved_side_keeps_its_curve() -> None:
    ring = half_disc()
    far = moved(ring, 0, (130.0, 20.0), handles(ring))
    assert tuple(far[0]) == (130.0, 20.0)
    assert tuple(far[40]) == tuple(ring[40])
    # Still half a circle: every point sees the chord at a right angle (Thales).
    a, b = far[0] - far[1:40], far[40] - far[1:40]
    assert np.einsum("ij,ij->i", a, b) == pytest.approx(0, abs=1e-9)
