"""Marks mode, whole gestures without a window: plain events in, changes out."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from msgspec.structs import replace

from app.plan.model import Plan, PlanPatch
from app.sketch.changes import move_corner, set_setting
from app.sketch.history import History
from app.sketch.modes.edge import Edge
from app.sketch.modes.events import Key, KeyPress, Pointer
from app.sketch.modes.marks import MarksMode
from app.sketch.modes.mode import Outcome
from app.sketch.modes.overlay import HandleKind, HandleState
from app.sketch.snapping import Caught
from app.window.sample import sample_plan
from geometry import Fit, Patch, Settings, fit
from geometry.marks import Mark, MarkKind
from geometry.units import LengthStyle

INCH = 25.4
SIDE = 8 * INCH
SQUARE = ((0.0, 0.0), (SIDE, 0.0), (SIDE, SIDE), (0.0, SIDE))
MARGIN = INCH / 4
SCALE = 2.0
TOP = MARGIN
"""y of side A's edge; its marks' x is their distance along the seam from corner DA."""


class Desk:
    """The least that the mode needs of the bench, with a hand."""

    def __init__(
        self,
        outline: Sequence[tuple[float, float]] = SQUARE,
        anchors: Sequence[tuple[float, float]] = ((3 * INCH, 5 * INCH),),
        **settings: object,
    ) -> None:
        piece = PlanPatch.of("one", Patch(outline), anchors, settings=Settings(**settings))  # type: ignore[arg-type]
        self.history = History(Plan(patches=(piece,)))
        self.chosen: int | None = 0
        self.style = LengthStyle.EIGHTHS
        self.refused: list[str] = []
        self.mode = MarksMode(self)

    @property
    def plan(self) -> Plan:
        return self.history.plan

    @property
    def settings(self) -> Settings:
        return self.plan.patches[0].settings

    def fit_of(self, piece: PlanPatch) -> Fit:
        return fit(piece.patch(), piece.anchors, piece.settings)

    @property
    def marks(self) -> dict[str, Mark]:
        return {mark.name: mark for fan in self.fit_of(self.plan.patches[0]).fans for mark in fan.marks}

    def do(self, outcome: Outcome) -> Outcome:
        if outcome.refused:
            self.refused.append(outcome.refused)
        if outcome.change is not None:
            self.history.push(outcome.change)
        return outcome

    def move(self, x: float, y: float, *, free: bool = False) -> Outcome:
        return self.do(self.mode.move(Pointer((x, y), SCALE, free)))

    def press(self, x: float, y: float, *, free: bool = False) -> Outcome:
        return self.do(self.mode.press(Pointer((x, y), SCALE, free)))

    def release(self, x: float, y: float, *, free: bool = False) -> Outcome:
        return self.do(self.mode.release(Pointer((x, y), SCALE, free)))

    def drag(self, *places: tuple[float, float], free: bool = False) -> Outcome:
        self.move(*places[0])
        self.press(*places[0], free=free)
        for place in places[1:]:
            self.move(*place, free=free)
        return self.release(*places[-1], free=free)

    def click(self, x: float, y: float) -> Outcome:
        return self.drag((x, y))

    def key(self, key: Key, *, fine: bool = False) -> Outcome:
        return self.do(self.mode.key(KeyPress(Pointer((0, 0), SCALE), key, fine=fine)))

    def type(self, text: str, *, enter: bool = True) -> None:
        for character in text:
            assert self.do(self.mode.key(KeyPress(Pointer((0, 0), SCALE), text=character))).taken
        if enter:
            self.key(Key.ENTER)

    @property
    def label(self) -> str:
        return "\n".join(label.text for label in self.mode.overlay(SCALE).labels)

    @property
    def steps(self) -> list[str]:
        """The names of all steps, the last first."""
        names = []
        while self.history.undo_name is not None:
            names.append(self.history.undo_name)
            self.history.undo()
        return names


# --- what is under the hand -------------------------------------------------------------------------


def test_over_a_mark_its_name_and_its_distances_from_both_corners() -> None:
    desk = Desk()
    desk.move(SIDE / 2 + 3, TOP + 3)
    assert desk.label == "mark A1\n4 in from corner DA\n4 in to corner AB"
    hot = [handle for handle in desk.mode.overlay(SCALE).handles if handle.state is HandleState.HOT]
    assert [handle.at for handle in hot] == [desk.marks["A1"].at]
    desk.move(MARGIN + 2, TOP)
    assert desk.label == "corner DA\n8 in from corner CD\n8 in to corner AB"


def test_over_the_edge_the_span_and_where_a_click_would_put_a_mark() -> None:
    desk = Desk()
    desk.move(3.04 * INCH, TOP + 4)
    assert desk.label == "side A, DA to A1\n3 in from corner DA\n5 in to corner AB"
    (span,) = desk.mode.overlay(SCALE).spans
    assert span[[0, -1]] == pytest.approx(np.array([desk.marks["DA"].at, desk.marks["A1"].at]))
    desk.move(SIDE - MARGIN - 4, 3 * INCH, free=True)
    assert desk.label == "side B, AB to B1\n3 in from corner AB\n5 in to corner BC"
    desk.move(3 * INCH, 4 * INCH)
    assert desk.label == ""


def test_distances_read_in_the_units_in_force() -> None:
    desk = Desk()
    desk.style = LengthStyle.MM
    desk.move(SIDE / 2, TOP)
    assert desk.label == "mark A1\n101.6 mm from corner DA\n101.6 mm to corner AB"


@pytest.mark.parametrize("piece", sample_plan().patches, ids=lambda piece: piece.name)
def test_a_tape_measures_places_as_the_engine_measures_marks_there(piece: PlanPatch) -> None:
    patch = piece.patch()
    plain = fit(patch, piece.anchors, piece.settings)
    edge = Edge(plain) if plain.fans else None
    if edge is None:
        pytest.skip("no room, no marks")
    rng = np.random.default_rng(5)
    line = shapely.get_parts([fan.region.exterior for fan in plain.fans])
    places = [
        (spot.x, spot.y)
        for ring in line
        for spot in shapely.line_interpolate_point(ring, rng.random(12), normalized=True)
    ]
    settings = set_setting(Plan(patches=(piece,)), 0, own_marks=tuple(places)).after.patches[0].settings
    marks = [m for fan in fit(patch, piece.anchors, settings).fans for m in fan.marks]
    own = [mark for mark in marks if mark.kind is MarkKind.OWN]
    assert len(own) >= 10
    back = 0
    for mark in own:
        place = edge.nearest(mark.at)
        assert place is not None
        assert (place.side.letter, place.at) == (mark.side, pytest.approx(mark.at, abs=1e-6))
        assert (place.from_start, place.to_end) == pytest.approx((mark.from_start, mark.to_end), abs=1e-6)
        there = edge.at_distance(place.side, mark.from_start)
        if there is not None:
            assert there.from_start == pytest.approx(mark.from_start, abs=0.5)
            back += math.dist(there.at, mark.at) < 1e-3
    assert back >= len(own) - 2, "a tip's corner is the foot of many places"


# --- dragging ---------------------------------------------------------------------------------------


def test_a_dragged_division_becomes_the_users_own_in_one_step() -> None:
    desk = Desk()
    before = desk.settings
    desk.drag((SIDE / 2, TOP), (SIDE / 2 - 10, TOP + 8), (3.02 * INCH, TOP + 20))
    assert desk.settings.own_marks == (pytest.approx((3 * INCH, TOP)),)
    assert desk.settings.removed_marks == (pytest.approx((SIDE / 2, TOP)),)
    assert desk.marks["A1"].kind is MarkKind.OWN
    assert desk.marks["A1"].from_start == pytest.approx(3 * INCH, abs=1e-9)
    assert "A2" not in desk.marks
    assert desk.steps == ["Move mark"]
    assert desk.settings == before


def test_an_own_mark_keeps_being_the_same_one() -> None:
    desk = Desk(own_marks=((3 * INCH, TOP), (5 * INCH, TOP)))
    desk.drag((3 * INCH, TOP), (2 * INCH, TOP))
    assert sorted(desk.settings.own_marks) == [pytest.approx((2 * INCH, TOP)), (5 * INCH, TOP)]
    assert desk.settings.removed_marks == ()


def test_a_division_dragged_back_is_a_division_again() -> None:
    desk = Desk()
    before = desk.settings
    desk.drag((SIDE / 2, TOP), (3 * INCH, TOP))
    desk.drag((3 * INCH, TOP), (SIDE / 2 + 1, TOP))
    assert desk.settings == before


def test_the_fan_is_recomputed_at_every_move_and_the_plan_is_not() -> None:
    desk = Desk()
    plan = desk.plan
    desk.press(SIDE / 2, TOP)
    assert desk.mode.candidate is None
    desk.move(SIDE / 2 + 1, TOP)
    assert desk.mode.candidate is None, "a press that has hardly moved is still a click"
    sides = []
    for x in (3.5, 3.0, 2.5):
        desk.move(x * INCH, TOP)
        candidate = desk.mode.candidate
        assert candidate is not None
        made = fit(candidate.patch, candidate.anchors, candidate.settings)
        sides.append([wedge.side_length for fan in made.fans for wedge in fan.wedges])
        assert [h.state for h in desk.mode.overlay(SCALE).handles].count(HandleState.HELD) == 1
    assert sides[0] != sides[1] != sides[2]
    assert desk.plan is plan
    assert desk.label == "side A\n2 1/2 in from corner DA\n5 1/2 in to corner AB"


def test_esc_in_the_middle_of_a_drag_leaves_plan_and_steps() -> None:
    desk = Desk()
    plan = desk.plan
    desk.press(SIDE / 2, TOP)
    desk.move(3 * INCH, TOP)
    assert desk.mode.cancel().taken
    assert desk.mode.candidate is None
    assert not desk.mode.busy
    assert desk.release(3 * INCH, TOP).change is None
    assert desk.plan is plan
    assert desk.steps == []


def test_a_corner_stays_and_says_so() -> None:
    desk = Desk()
    plan = desk.plan
    desk.drag((MARGIN, TOP), (2 * INCH, TOP), (3 * INCH, TOP))
    assert desk.plan is plan
    assert desk.refused == ["A corner stays where the patch has it: Shape moves the patch's corner"]


def test_a_mark_dropped_on_another_goes_back() -> None:
    desk = Desk(own_marks=((3 * INCH, TOP),))
    plan = desk.plan
    desk.press(SIDE / 2, TOP)
    desk.move(3 * INCH, TOP)
    assert desk.label == "mark A1 is here already"
    assert desk.mode.overlay(SCALE).labels[0].problem
    desk.release(3 * INCH, TOP)
    assert desk.plan is plan
    assert desk.refused == ["There is a mark already, A1: choose another place"]


@pytest.mark.parametrize(
    ("hand", "along", "what"),
    [
        (3.04, 3.0, Caught.GRID),
        (3.08, 3.125, Caught.GRID),
        (3.97, 4.0, Caught.SIDE_MIDDLE),
        (4.03, 4.0, Caught.SIDE_MIDDLE),
    ],
)
def test_it_snaps_to_eighths_and_the_middle_unless_free(hand: float, along: float, what: Caught) -> None:
    desk = Desk(spans_per_side=1, own_marks=((2 * INCH, TOP),))
    for free in (False, True):
        desk.press(2 * INCH, TOP)
        desk.move(hand * INCH, TOP + 3, free=free)
        snap = desk.mode.overlay(SCALE).snap
        assert snap is not None
        assert snap.what == (None if free else what)
        assert snap.at == pytest.approx(((hand if free else along) * INCH, TOP))
        desk.mode.cancel()


def test_eighths_count_from_the_nearer_corner() -> None:
    width = 8.07 * INCH
    desk = Desk(((0, 0), (width, 0), (width, SIDE), (0, SIDE)))
    desk.move(width - 1.02 * INCH, TOP)
    assert desk.label == "side A, A1 to AB\n7 1/8 in from corner DA\n1 in to corner AB"
    desk.click(width - 1.02 * INCH, TOP)
    assert desk.marks["A2"].to_end == pytest.approx(INCH, abs=1e-9)


def test_in_metric_units_it_snaps_to_two_millimetres() -> None:
    desk = Desk()
    desk.style = LengthStyle.CM
    desk.click(40.8, TOP)
    assert desk.marks["A1"].from_start == pytest.approx(40, abs=1e-9)


# --- adding -----------------------------------------------------------------------------------------


def test_a_click_on_the_edge_adds_a_mark_in_one_step() -> None:
    desk = Desk()
    desk.click(3.04 * INCH, TOP + 4)
    assert desk.settings.own_marks == (pytest.approx((3 * INCH, TOP)),)
    assert desk.marks["A1"].kind is MarkKind.OWN
    assert desk.marks["A2"].kind is MarkKind.DIVISION
    assert desk.steps == ["Add mark"]


def test_pressed_and_dragged_on_the_edge_a_new_mark_comes_along() -> None:
    desk = Desk()
    desk.drag((3 * INCH, TOP), (2 * INCH, TOP))
    assert desk.settings.own_marks == (pytest.approx((2 * INCH, TOP)),)
    assert desk.steps == ["Add mark"]


def test_away_from_the_edge_a_press_is_left_to_the_canvas() -> None:
    desk = Desk()
    assert not desk.press(4 * INCH, 4 * INCH).taken
    assert not desk.press(-40, -40).taken


def test_insert_adds_where_the_hand_is_or_after_the_chosen_mark() -> None:
    desk = Desk()
    desk.key(Key.INSERT)
    assert desk.refused == ["Point at the edge or choose a mark first: the new one comes after it"]
    desk.move(SIDE - MARGIN, 2 * INCH)
    desk.key(Key.INSERT)
    assert desk.marks["B1"].from_start == pytest.approx(2 * INCH)
    desk.mode.leave()
    desk.key(Key.NEXT)  # corner DA
    desk.key(Key.INSERT)
    assert desk.marks["A1"].at == pytest.approx(((MARGIN + SIDE / 2) / 2, TOP))
    assert desk.steps == ["Add mark", "Add mark"]


def test_on_the_place_of_a_mark_taken_away_it_comes_back() -> None:
    desk = Desk()
    before = desk.settings
    for at in ((SIDE / 2, TOP), (MARGIN, TOP)):
        desk.click(*at)
        desk.key(Key.DELETE)
        assert desk.settings.removed_marks
        desk.click(at[0] + 1, at[1])
        assert desk.settings == before


# --- exact lengths ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("typed", "inches"), [("2 3/8", 2.375), ("5", 5.0), ("6cm", 6 / 2.54)])
def test_a_typed_length_says_how_far_from_the_corner_before(typed: str, inches: float) -> None:
    desk = Desk()
    desk.click(SIDE / 2, TOP)
    desk.type(typed, enter=False)
    unit = "" if typed.endswith("cm") else "in"
    assert desk.label == f"{typed}▏{unit}\nEnter: so far from corner DA"
    desk.key(Key.ENTER)
    assert desk.marks["A1"].from_start == pytest.approx(inches * INCH, abs=1e-9)
    assert desk.steps == ["Move mark"]


def test_a_length_typed_while_dragging_ends_the_drag_there() -> None:
    desk = Desk()
    desk.press(SIDE / 2, TOP)
    desk.move(3 * INCH, TOP)
    desk.type("2.2")
    assert not desk.mode.busy
    desk.release(3 * INCH, TOP)
    assert desk.marks["A1"].from_start == pytest.approx(2.2 * INCH, abs=1e-9)
    assert desk.steps == ["Move mark"]


def test_a_length_typed_over_a_side_adds_a_mark() -> None:
    desk = Desk()
    desk.move(SIDE - MARGIN, 3 * INCH)
    desk.type("2 1/8")
    assert desk.marks["B1"].from_start == pytest.approx(2.125 * INCH, abs=1e-9)
    assert desk.steps == ["Add mark"]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("9", "side A is 8 in long"),
        ("1/8", "the edge has no place there:\nso near to a corner it has turned"),
        ("3 4", "“3 4” is two numbers and not one length"),
        ("1/0", "“1/0” divides by zero"),
    ],
)
def test_a_length_that_cannot_be_is_explained_and_kept(typed: str, said: str) -> None:
    desk = Desk()
    plan = desk.plan
    desk.click(SIDE / 2, TOP)
    desk.type(typed)
    assert desk.plan is plan
    assert desk.label.startswith(f"{typed}▏\n{said}")
    assert desk.mode.overlay(SCALE).labels[0].problem
    desk.key(Key.BACKSPACE)
    assert said not in desk.label
    desk.mode.cancel()
    assert desk.label.startswith("mark A1"), "Esc takes what was typed, and leaves the choice"


def test_undo_takes_the_last_digit_back_first() -> None:
    desk = Desk()
    desk.click(SIDE / 2, TOP)
    assert not desk.mode.undo().taken
    desk.type("23", enter=False)
    assert desk.mode.undo().taken
    assert desk.label.startswith("2▏")


def test_nothing_is_typed_for_nothing() -> None:
    desk = Desk()
    desk.do(desk.mode.key(KeyPress(Pointer((0, 0), SCALE), text="4")))
    assert desk.refused == ["Point at a side or choose a mark first, then type"]
    assert not desk.mode.busy


# --- taking away ------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", [Key.DELETE, Key.BACKSPACE])
def test_delete_takes_the_chosen_mark_away(key: Key) -> None:
    desk = Desk(own_marks=((3 * INCH, TOP),))
    desk.click(3 * INCH, TOP)
    desk.key(key)
    assert desk.settings == Settings()
    desk.click(SIDE / 2, TOP)
    desk.key(key)
    assert desk.settings == Settings(removed_marks=((SIDE / 2, TOP),))
    desk.click(MARGIN, TOP)
    desk.key(key)
    assert "DA" not in desk.marks
    assert desk.steps == ["Remove mark"] * 3


def test_without_a_choice_delete_is_for_the_mark_under_the_hand() -> None:
    desk = Desk()
    desk.key(Key.DELETE)
    assert desk.refused == ["Choose a mark first, then remove it"]
    desk.move(SIDE / 2, TOP)
    desk.key(Key.DELETE)
    assert desk.settings.removed_marks == ((SIDE / 2, TOP),)


def remove_handle(desk: Desk) -> tuple[float, float]:
    (at,) = (h.at for h in desk.mode.overlay(SCALE).handles if h.kind is HandleKind.REMOVE)
    return at


def test_a_click_on_the_remove_handle_takes_the_chosen_mark_away() -> None:
    desk = Desk()
    assert all(handle.kind is HandleKind.MARK for handle in desk.mode.overlay(SCALE).handles)
    desk.click(SIDE / 2, TOP)
    x, y = remove_handle(desk)
    assert math.dist((x, y), (SIDE / 2, TOP)) * SCALE >= 28, "clear of the mark's own hold"
    plan = desk.plan
    desk.drag((x, y), (x, y - 30))
    assert desk.plan is plan, "let go elsewhere it does nothing"
    desk.move(x + 3, y)
    assert desk.label == "remove mark A1"
    desk.click(x + 3, y)
    assert desk.settings.removed_marks == ((SIDE / 2, TOP),)
    assert desk.steps == ["Remove mark"]


def test_the_remove_handle_has_a_place_without_a_margin_too() -> None:
    desk = Desk(edge_margin=0.0)
    desk.click(SIDE / 2, 0.0)
    x, y = remove_handle(desk)
    assert (x, y) == pytest.approx((SIDE / 2, 34 / SCALE)), "inside: outside stands the mark's name"
    desk.click(0.0, 0.0)
    assert remove_handle(desk) == pytest.approx((34 / SCALE / 2**0.5, 34 / SCALE / 2**0.5))


def test_with_every_mark_taken_away_the_edge_still_takes_one() -> None:
    desk = Desk()
    for _ in range(8):
        desk.key(Key.NEXT)
        desk.key(Key.DELETE)
    assert desk.marks == {}
    desk.key(Key.NEXT)
    desk.move(3 * INCH, TOP)
    assert desk.label.startswith("side A, without marks\n3 in from corner DA")
    desk.click(3 * INCH, TOP)
    assert [mark.kind for mark in desk.marks.values()] == [MarkKind.OWN]


# --- dividing ---------------------------------------------------------------------------------------


def test_a_number_and_enter_divide_the_side_under_the_hand() -> None:
    desk = Desk()
    desk.move(SIDE - MARGIN, 3 * INCH)
    desk.type("5", enter=False)
    assert desk.label == "5▏\nEnter: side B in 5 spans\nor go on to 5 in: the mark there"
    desk.key(Key.ENTER)
    assert desk.settings == Settings(side_spans=(("B", 5),))
    assert [name for name in desk.marks if name[0] == "B"] == ["B1", "B2", "B3", "B4", "BC"]
    desk.move(SIDE - MARGIN, 2.9 * INCH)
    desk.type("0", enter=False)
    assert "side B as the other sides" in desk.label
    desk.key(Key.ENTER)
    assert desk.settings == Settings()
    assert desk.steps == ["Side B as the others", "Divide side B"]


def test_over_a_mark_that_is_not_chosen_a_number_divides_and_a_length_moves() -> None:
    desk = Desk()
    desk.move(SIDE / 2, TOP)
    desk.type("3")
    assert desk.settings == Settings(side_spans=(("A", 3),))
    desk.history.undo()
    desk.move(SIDE / 2, TOP)
    desk.type("3in")
    assert desk.marks["A1"].from_start == pytest.approx(3 * INCH, abs=1e-9)


@pytest.mark.parametrize("typed", ["100", "250"])
def test_more_spans_than_99_are_explained(typed: str) -> None:
    desk = Desk()
    desk.move(SIDE - MARGIN, 3 * INCH)
    desk.type(typed)
    assert desk.settings == Settings()
    assert desk.label == f"{typed}▏\na side has 1 to 99 spans"


def test_plus_and_minus_divide_it_more_or_less_as_one_step() -> None:
    desk = Desk()
    desk.move(SIDE - MARGIN, 3 * INCH)
    desk.type("+", enter=False)
    desk.type("+", enter=False)
    assert desk.settings.side_spans == (("B", 4),)
    for _ in range(3):
        desk.type("-", enter=False)
    assert desk.settings.side_spans == (("B", 1),)
    assert desk.refused == []
    desk.type("-", enter=False)
    assert desk.refused == ["A side has 1 to 99 spans"]
    assert desk.settings.side_spans == (("B", 1),)
    assert desk.steps == ["Divide side B"]


def test_after_a_step_what_is_under_the_hand_is_what_is_there_now() -> None:
    desk = Desk()
    desk.move(SIDE - MARGIN, 2 * INCH)
    assert desk.label.startswith("side B, AB to B1")
    desk.type("4")
    assert desk.marks["B1"].from_start == pytest.approx(2.125 * INCH)
    assert desk.label.startswith("mark B1\n2 1/8 in from corner AB")
    desk.history.undo()
    assert desk.label.startswith("side B, AB to B1")
    desk.click(SIDE - MARGIN, 2 * INCH)
    assert desk.label.startswith("mark B1, your own")
    desk.key(Key.DELETE)
    assert desk.label == "", "the keys took it away: the hand points at nothing until it moves"


def test_by_keys_the_side_is_that_of_the_chosen_mark() -> None:
    desk = Desk()
    desk.key(Key.MORE_SPANS)
    assert desk.refused == ["Point at a side or choose a mark on it first, then divide it"]
    desk.key(Key.NEXT)
    desk.key(Key.NEXT)  # A1
    desk.key(Key.MORE_SPANS)
    desk.key(Key.MORE_SPANS)
    assert desk.settings.side_spans == (("A", 4),), "A1 is gone from its place, the side is still meant"
    desk.key(Key.FEWER_SPANS)
    assert desk.settings.side_spans == (("A", 3),)
    desk.key(Key.USUAL_SPANS)
    assert desk.settings == Settings()


def test_a_divided_side_has_all_its_divisions_and_keeps_the_users_own() -> None:
    desk = Desk(own_marks=((3 * INCH, TOP),))
    for at in ((SIDE / 2, TOP), (MARGIN, TOP), (SIDE - MARGIN, SIDE / 2)):
        desk.click(*at)
        desk.key(Key.DELETE)
    desk.move(2 * INCH, TOP)
    desk.type("4")
    divisions = [m for m in desk.marks.values() if m.side == "A" and m.kind is MarkKind.DIVISION]
    assert len(divisions) == 3
    assert desk.settings.own_marks == ((3 * INCH, TOP),)
    assert "DA" not in desk.marks, "a corner taken away is no division"
    assert (SIDE - MARGIN, SIDE / 2) in desk.settings.removed_marks, "nor is what another side lacks"


def test_all_marks_as_usual() -> None:
    desk = Desk(own_marks=((3 * INCH, TOP),), side_spans=(("B", 5),), removed_marks=((SIDE / 2, TOP),))
    desk.key(Key.USUAL_MARKS)
    assert desk.settings == Settings()
    assert desk.steps == ["Marks as usual"]


# --- by keys ----------------------------------------------------------------------------------------


def test_next_and_previous_go_from_mark_to_mark_along_the_edge() -> None:
    desk = Desk()
    names = []
    for _ in range(9):
        desk.key(Key.NEXT)
        names.append(desk.label.split("\n")[0].split()[-1])
    assert names == ["DA", "A1", "AB", "B1", "BC", "C1", "CD", "D1", "DA"]
    desk.key(Key.PREVIOUS)
    assert desk.label.startswith("mark D1")
    assert [h.at for h in desk.mode.overlay(SCALE).handles if h.state is HandleState.CHOSEN] == [
        desk.marks["D1"].at
    ]


@pytest.mark.parametrize(
    ("style", "fine", "step"),
    [
        (LengthStyle.EIGHTHS, False, INCH / 8),
        (LengthStyle.EIGHTHS, True, INCH / 16),
        (LengthStyle.CM, False, 2.0),
        (LengthStyle.CM, True, 1.0),
    ],
)
def test_arrows_move_the_chosen_mark_along_its_side(style: LengthStyle, fine: bool, step: float) -> None:
    desk = Desk()
    desk.style = style
    # On side C, which runs to the left, the key to the right still moves to the right.
    for mark, (back, on), sign in (("A1", (Key.LEFT, Key.RIGHT), 1), ("C1", (Key.LEFT, Key.RIGHT), -1)):
        desk.mode.leave()
        desk.click(*desk.marks[mark].at)
        for _ in range(3):
            desk.key(on, fine=fine)
        desk.key(back, fine=fine)
        assert desk.marks[mark].from_start == pytest.approx(SIDE / 2 + sign * 2 * step, abs=1e-9)
        desk.key(Key.UP)
        assert desk.marks[mark].from_start == pytest.approx(SIDE / 2 + sign * 2 * step, abs=1e-9)
    assert desk.steps == ["Move mark", "Move mark"]


def test_a_sixteenth_is_shown_as_one() -> None:
    desk = Desk()
    desk.click(SIDE / 2, TOP)
    desk.key(Key.RIGHT, fine=True)
    assert desk.label == "mark A1, your own\n4 1/16 in from corner DA\n3 15/16 in to corner AB"


def test_arrows_stop_at_the_sides_end_and_leave_corners() -> None:
    desk = Desk(own_marks=((MARGIN + 2, TOP),))
    desk.click(MARGIN + 10, TOP)
    desk.mode.leave()
    desk.key(Key.NEXT)
    desk.key(Key.RIGHT)
    assert desk.refused == ["A corner stays where the patch has it: Shape moves the patch's corner"]
    desk.key(Key.NEXT)
    place = desk.marks["A1"].at
    desk.key(Key.LEFT)
    assert desk.refused[-1] == "Side A ends here: the mark stays on it"
    assert desk.marks["A1"].at == place


def test_esc_lets_go_of_the_choice_and_then_leaves() -> None:
    desk = Desk()
    desk.key(Key.NEXT)
    assert not desk.mode.cancel().leave
    assert desk.label == ""
    assert desk.mode.cancel().leave


def test_after_undo_nothing_is_chosen_that_is_not_there() -> None:
    desk = Desk()
    desk.click(3 * INCH, TOP)
    assert desk.label.startswith("mark A1, your own")
    desk.history.undo()
    assert desk.label.startswith("side A, DA to A1"), "which is what is under the hand now"
    assert all(h.kind is HandleKind.MARK for h in desk.mode.overlay(SCALE).handles)
    desk.key(Key.DELETE)
    assert desk.settings == Settings()


# --- awkward patches --------------------------------------------------------------------------------


def test_marks_far_from_a_reshaped_edge_are_kept_until_they_are_touched() -> None:
    desk = Desk(own_marks=((3 * INCH, TOP), (6 * INCH, TOP)))
    desk.history.push(move_corner(desk.plan, 0, 1, (SIDE, 5 * INCH)))
    far = desk.settings.own_marks
    shown = [mark for mark in desk.marks.values() if mark.kind is MarkKind.OWN]
    assert len(shown) == 2
    assert min(math.dist(shown[1].at, at) for at in far) > INCH, "it shows where the edge is now"
    desk.click(MARGIN, 3 * INCH)
    assert desk.settings.own_marks[:2] == far, "another mark's edit leaves them alone"
    desk.click(*shown[1].at)
    desk.key(Key.DELETE)
    assert desk.settings.own_marks[0] == far[0]
    assert far[1] not in desk.settings.own_marks
    desk.drag(shown[0].at, (shown[0].at[0] + 20, shown[0].at[1] + 10))
    assert far[0] not in desk.settings.own_marks, "a mark that was moved stands where it was put"
    for own in desk.settings.own_marks:
        assert min(math.dist(own, mark.at) for mark in desk.marks.values()) < 1e-6


def test_an_own_mark_hidden_by_a_corner_goes_with_all_marks_as_usual() -> None:
    desk = Desk(own_marks=((-INCH, -INCH),))
    assert all(mark.kind is not MarkKind.OWN for mark in desk.marks.values())
    desk.click(3 * INCH, TOP)
    assert (-INCH, -INCH) in desk.settings.own_marks
    desk.key(Key.USUAL_MARKS)
    assert desk.settings == Settings()


def test_where_there_is_no_room_nothing_can_be_done() -> None:
    desk = Desk(edge_margin=6 * INCH)
    assert not desk.press(SIDE / 2, SIDE / 2).taken
    assert not desk.move(SIDE / 2, SIDE / 2).taken
    assert not desk.key(Key.NEXT).taken
    assert desk.mode.overlay(SCALE).handles == ()
    desk.chosen = None
    assert not desk.press(0, 0).taken
    assert desk.mode.overlay(SCALE).handles == ()


def test_an_edge_without_corners_is_measured_from_where_it_begins() -> None:
    turn = np.linspace(0, 2 * np.pi, 181)[:-1]
    ring = np.column_stack([100 * np.cos(turn), 100 * np.sin(turn)])
    desk = Desk([(float(x), float(y)) for x, y in ring], anchors=[(0.0, 0.0)])
    assert len(desk.marks) == 8
    desk.click(*desk.marks["A3"].at)
    desk.type("10")
    (own,) = (mark for mark in desk.marks.values() if mark.kind is MarkKind.OWN)
    assert own.from_start == pytest.approx(10 * INCH, abs=0.2)
    desk.move(-93.65, 1.5)
    assert "from where side A begins" in desk.label
    desk.key(Key.MORE_SPANS)
    assert desk.settings.side_spans == (("A", 9),)


def test_in_a_pinched_patch_the_part_with_the_anchor_has_the_marks() -> None:
    neck = 12.0
    outline = [
        (0.0, 0.0), (100.0, 0.0), (100.0, 44.0), (140.0, 44.0), (140.0, 0.0), (240.0, 0.0),
        (240.0, 100.0), (140.0, 100.0), (140.0, 44.0 + neck), (100.0, 44.0 + neck), (100.0, 100.0),
        (0.0, 100.0),
    ]  # fmt: skip
    desk = Desk(outline, anchors=[(190.0, 50.0)], own_marks=((30.0, 6.35), (160.0, 6.35)))
    assert not desk.press(70, 6.35).taken
    desk.click(160.0, 6.35)
    desk.key(Key.DELETE)
    assert desk.settings.own_marks == ((30.0, 6.35),), "that of the other part is kept"


def test_with_several_anchors_marks_stand_on_every_regions_edge() -> None:
    desk = Desk(anchors=[(2 * INCH, 4 * INCH), (6 * INCH, 4 * INCH)])
    plain = desk.marks
    desk.click(1.25 * INCH, TOP)
    added = [mark for mark in desk.marks.values() if mark.kind is MarkKind.OWN]
    assert [mark.at for mark in added] == [pytest.approx((1.25 * INCH, TOP), abs=1e-6)]
    desk.mode.leave()
    for name in plain:
        desk.click(*plain[name].at)
        assert desk.label
        desk.mode.leave()
    desk.key(Key.NEXT)
    desk.key(Key.MORE_SPANS)
    assert desk.settings.side_spans


def test_the_mode_reads_another_patch_when_it_is_chosen() -> None:
    desk = Desk()
    small = PlanPatch.of("two", Patch([(0, 0), (100, 0), (100, 100), (0, 100)]), [(50, 50)])
    desk.history = History(replace(desk.plan, patches=(desk.plan.patches[0], small)))
    desk.move(50, TOP)
    assert desk.label.startswith("side A, ")
    desk.mode.leave()
    desk.chosen = 1
    desk.move(50, TOP)
    assert desk.label.startswith("mark A1")
