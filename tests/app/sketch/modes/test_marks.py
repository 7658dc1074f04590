"""Marks mode by hand, whole gestures without a window: plain events in, changes out."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from msgspec.structs import replace

from app.plan.model import Plan, PlanPatch
from app.sketch.changes import reshape_patch, set_setting
from app.sketch.history import History
from app.sketch.modes.edge import Edge
from app.sketch.modes.events import Key
from app.sketch.modes.overlay import HandleKind, HandleState
from app.sketch.snapping import Caught
from app.window.sample import sample_plan
from geometry import Patch, Settings, fit
from geometry.marks import MarkKind
from geometry.units import LengthStyle
from tests.app.sketch.modes.bench import INCH, SCALE
from tests.app.sketch.modes.marks_desk import MARGIN, SIDE, SQUARE, TOP, Desk


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


# --- awkward patches --------------------------------------------------------------------------------


def test_marks_far_from_a_reshaped_edge_are_kept_until_they_are_touched() -> None:
    desk = Desk(own_marks=((3 * INCH, TOP), (6 * INCH, TOP)))
    narrow = Patch([SQUARE[0], (SIDE, 5 * INCH), *SQUARE[2:]])
    desk.history.push(reshape_patch(desk.plan, 0, narrow, "Move corner"))
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
