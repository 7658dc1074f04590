"""Corners, sides, divisions, letters and tape distances."""

import math

import numpy as np
import pytest
from shapely import Point, Polygon

from geometry import Patch, Settings
from geometry.ground import ground_of
from geometry.marks import MarkKind, seam_corners
from tests.outside.shapes import glyphs

INCH = 25.4


def marks_of(patch: Patch, **settings):
    return [m for marked in ground_of(patch, Settings(**settings)).marked for m in marked.marks]


def names(patch: Patch, **settings):
    return [m.name for m in marks_of(patch, **settings)]


def corner_places(patch: Patch, **settings):
    return [m.at for m in marks_of(patch, **settings) if m.kind is MarkKind.CORNER]


SQUARE = Patch([(0, 0), (200, 0), (200, 200), (0, 200)])


def arc(centre, radius, start, stop, steps):
    angles = np.radians(np.linspace(start, stop, steps))
    return [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles]


def rounded_square(radius: float, steps: int = 12) -> Patch:
    r, s = radius, 200.0
    return Patch(
        arc((r, r), r, 180, 270, steps)
        + arc((s - r, r), r, 270, 360, steps)
        + arc((s - r, s - r), r, 0, 90, steps)
        + arc((r, s - r), r, 90, 180, steps)
    )


def test_square_letters_divisions_and_tape_distances():
    found = marks_of(SQUARE)
    assert [m.name for m in found] == ["DA", "A1", "AB", "B1", "BC", "C1", "CD", "D1"]
    corner, middle = found[0], found[1]
    assert corner.at == pytest.approx((6.35, 6.35))
    assert corner.foot == (0, 0)
    assert (corner.from_start, corner.to_end) == pytest.approx((0, 200))
    assert middle.at == pytest.approx((100, 6.35))
    assert middle.foot == pytest.approx((100, 0))
    assert (middle.from_start, middle.to_end) == pytest.approx((100, 100))


def test_counts_longest_span_and_a_count_for_one_side():
    assert len(names(SQUARE, spans_per_side=3)) == 12
    assert len(names(SQUARE, longest_span=50)) == 4 * math.ceil(187.3 / 50)
    assert names(SQUARE, side_spans=(("B", 5),)).count("B4") == 1
    assert len(names(SQUARE, side_spans=(("B", 5),))) == 3 * 2 + 5
    one = names(SQUARE, spans_per_side=1)
    assert one == ["DA", "AB", "BC", "CD"]


def test_divisions_are_equal_along_a_curved_side():
    half_disc = Patch([(0, 0), *arc((100, 0), 100, 180, 360, 90)[1:-1], (200, 0)])
    found = marks_of(half_disc, edge_margin=0, spans_per_side=4)
    curved = [m for m in found if m.at[1] < -1]
    flat = [m for m in found if abs(m.at[1]) <= 1 and m.kind is MarkKind.DIVISION]
    assert len(curved) == 3
    assert [round(m.at[0]) for m in flat] in ([150, 100, 50], [50, 100, 150])
    angles = sorted(math.degrees(math.atan2(-m.at[1], m.at[0] - 100)) for m in curved)
    assert angles == pytest.approx([45, 90, 135], abs=0.05)


def test_a_small_rounding_is_one_corner_marked_in_its_middle():
    places = corner_places(rounded_square(4), edge_margin=0)
    inset = 4 * (1 - math.sqrt(0.5))
    expected = [(inset, inset), (200 - inset, inset), (200 - inset, 200 - inset), (inset, 200 - inset)]
    assert len(places) == 4
    for place in expected:
        assert min(math.dist(place, p) for p in places) < 0.05


@pytest.mark.parametrize("around", np.linspace(300, 320, 9))
def test_small_roundings_are_corners_wherever_along_the_edge_they_lie(around):
    """Twelve corners of 30 degrees, each in eight steps within 1 mm, of an edge of any length."""
    turn = np.repeat(np.arange(12) * math.pi / 6, 8) + np.tile(np.arange(1, 9) * math.pi / 48, 12)
    step = np.where(np.arange(96) % 8 == 7, (around - 12) / 12, 1 / 7)
    points = np.cumsum(np.column_stack([step * np.cos(turn), step * np.sin(turn)]), axis=0)
    assert len(seam_corners(Polygon(points), Settings())) == 12


def test_a_wide_rounding_has_no_corner():
    """Radius 1 in: it turns by 7 degrees in an eighth of an inch, far below the corner angle."""
    assert corner_places(rounded_square(INCH, 40), edge_margin=0) == []
    assert len(names(rounded_square(INCH, 40), edge_margin=0)) == 8


@pytest.mark.parametrize(("turn", "corners"), [(24.0, 0), (26.0, 1)])
def test_the_corner_angle_decides(turn, corners):
    """A large drop-shaped outline of shallow bends, one of which turns by the angle in question."""
    t = math.radians(turn)
    tip = [(-1000 * math.cos(t), 1000 * math.sin(t)), (0, 0), (1000, 0)]
    start, stop = np.array(tip[2]), np.array(tip[0])
    middle = (start + stop) / 2
    far = arc(middle + np.array([0, 900]), 1200, 0, 180, 60)
    patch = Patch(tip + far)
    near = [p for p in corner_places(patch, edge_margin=0) if math.hypot(*p) < 1]
    assert len(near) == corners


def test_a_circle_has_eight_marks_and_a_ragged_edge_no_corner_of_its_own():
    circle = Patch(arc((0, 0), 100, 0, 360, 91)[:-1])
    found = marks_of(circle)
    assert [m.name for m in found] == [f"A{i}" for i in range(1, 9)]
    assert all(math.hypot(*m.at) == pytest.approx(93.65, abs=0.1) for m in found)
    teeth = [(x, 0.15 * (i % 2)) for i, x in enumerate(np.arange(0, 200, 0.5))]
    ragged = Patch([*teeth, (200, 0), (200, 200), (0, 200)])
    assert len(corner_places(ragged, edge_margin=0)) == 4


def test_a_cut_tip_is_one_corner_in_its_middle():
    """A sharp tip pointing into the patch: the mitre is cut square at twice the margin."""
    patch = Patch([(0, 0), (200, 0), (200, 200), (105, 200), (100, 60), (95, 200), (0, 200)])
    places = corner_places(patch, edge_margin=10)
    assert min(math.dist(p, (100, 40)) for p in places) < 1e-6
    assert len([p for p in places if p[1] < 100 and 60 < p[0] < 140]) == 1


def test_own_marks_are_added_and_marks_are_taken_away():
    own = marks_of(SQUARE, own_marks=((30.0, 0.0),))
    added = [m for m in own if m.kind is MarkKind.OWN]
    assert [m.at for m in added] == [pytest.approx((30, 6.35))]
    assert added[0].name == "A1"
    assert [m.name for m in own if m.side == "A"] == ["DA", "A1", "A2"]
    fewer = marks_of(SQUARE, removed_marks=((100.0, 6.35),))
    assert len(fewer) == 7
    corners = tuple(corner_places(SQUARE))
    assert marks_of(SQUARE, spans_per_side=1, removed_marks=corners) == []


def test_holes_go_on_with_the_letters():
    ring = Patch([(0, 0), (300, 0), (300, 300), (0, 300)], [[(120, 120), (180, 120), (180, 180), (120, 180)]])
    found = names(ring)
    assert found[:8] == ["DA", "A1", "AB", "B1", "BC", "C1", "CD", "D1"]
    assert sorted(n for n in found[8:] if len(n) == 2 and n[1] == "1") == ["E1", "F1", "G1", "H1"]


@pytest.mark.parametrize("shift", [1, 2, 5])
def test_places_do_not_depend_on_the_first_point(shift):
    outline = np.array([(0, 0), (220, 10), (200, 180), (120, 90), (90, 200), (10, 150)], dtype=float)
    here = sorted(m.at for m in marks_of(Patch(outline)))
    there = sorted(m.at for m in marks_of(Patch(np.roll(outline, shift, axis=0))))
    assert np.allclose(here, there, atol=1e-9)


def test_the_tape_is_laid_straight_across_a_neck_that_the_margin_closes():
    """Two blocks of 100 mm, joined by a neck 10 mm wide in the middle of their sides: along the seam from
    corner to corner of that side it would go round the other block."""
    one = [(100, 55), (100, 100), (0, 100), (0, 0), (100, 0), (100, 45)]
    other = [(130, 45), (130, 0), (230, 0), (230, 100), (130, 100), (130, 55)]
    patch = Patch([*one[2:], *other, *one[:2]])
    corner, middle = (
        min(marks_of(patch), key=lambda mark: math.dist(mark.at, at)) for at in ((93.65, 6.35), (93.65, 50))
    )
    assert corner.foot == (100, 0)
    assert (corner.from_start, corner.to_end) == pytest.approx((0, 100))
    assert middle.at == pytest.approx((93.65, 50))
    assert sorted((middle.from_start, middle.to_end)) == pytest.approx([45, 55])


def test_the_foot_of_a_corner_does_not_lie_beyond_a_neck():
    """An arch that leaves a stem where the margin closes it: the corner there is next to the inside of the
    arch, not at the stem's own corner round the other block (glyph uniA783)."""
    name, rings = glyphs(2000)[1575]
    assert name == "uniA783"
    patch = Patch(*rings)
    corner = min(marks_of(patch), key=lambda mark: math.dist(mark.at, (12.82, 30.17)))
    assert corner.kind is MarkKind.CORNER
    assert math.dist(corner.at, corner.foot) == pytest.approx(6.35, abs=1e-3)
    assert patch.polygon.boundary.distance(Point(corner.at)) == pytest.approx(6.35, abs=1e-3)


def test_a_ring_with_one_mark_begins_at_it():
    """Where sight comes round to the mark again a wedge ends; edges in order tell where."""
    drop = [(156.0, 0.0), *arc((0, 0), 120, 35, 325, 40)]
    for roll in (0, 7, 30):
        (marked,) = ground_of(
            Patch(np.roll(drop, roll, axis=0)), Settings(edge_margin=0, spans_per_side=1)
        ).marked
        assert len(marked.marks) == 1
        assert tuple(marked.start[0]) == pytest.approx(marked.marks[0].at, abs=1e-9)


def test_a_tape_goes_the_short_way_round_a_small_hole() -> None:
    """A right-angled triangle: along its longest side the edge of the stitchable area is so much longer that
    the way round the other two sides would come nearer to it."""
    hole = [(50.8, 127.0), (76.2, 127.0), (76.2, 152.4)]
    marks = marks_of(Patch([(0, 0), (150, 0), (150, 250), (0, 250)], [hole]), spans_per_side=4)
    on_longest = [m for m in marks if abs(m.foot[1] - m.foot[0] - 76.2) < 1e-6]
    longest = [m for m in on_longest if 51 < m.foot[0] < 76]
    assert len(longest) == 3
    for mark in longest:
        assert mark.from_start + mark.to_end == pytest.approx(math.hypot(25.4, 25.4), abs=1e-6)
