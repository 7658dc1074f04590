"""Patch: what is kept, what is repaired and said, what is refused and where."""

from __future__ import annotations

import json
import math
import weakref
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.errors import AnchorError, PatchError
from geometry.findings import Code
from geometry.patch import Patch, Place, RepairDetail, SeveralPartsError, _settled, split_outline
from geometry.tolerances import FLATTEN, MAX_SIZE, ON_EDGE, SAME_POINT

SQUARE = [(0, 0), (200, 0), (200, 200), (0, 200)]
BOW_TIE = [(0, 0), (40, 40), (40, 0), (0, 40)]
CORPUS = Path(__file__).parents[3] / "shared" / "corpora" / "polygons" / "outlines.json"


def shoelace(ring: np.ndarray) -> float:
    """Plain textbook sum, written apart from the engine."""
    return (
        sum(
            x1 * y2 - x2 * y1
            for (x1, y1), (x2, y2) in zip(ring.tolist(), [*ring[1:].tolist(), ring[0].tolist()], strict=True)
        )
        / 2
    )


def winding(ring: np.ndarray, x: float, y: float) -> int:
    """How often the ring goes around (x, y): the turns of the direction to it, summed."""
    angle = np.arctan2(ring[:, 1] - y, ring[:, 0] - x)
    turn = np.diff(np.append(angle, angle[0]))
    return round(float(((turn + math.pi) % (2 * math.pi) - math.pi).sum() / (2 * math.pi)))


def enclosed(ring: np.ndarray) -> list[shapely.Polygon]:
    """Every face of the ring's own lines that the ring goes around: an oracle without make_valid."""
    sides = shapely.linestrings(np.stack([ring, np.roll(ring, -1, axis=0)], axis=1))
    lines = shapely.node(shapely.multilinestrings(sides))
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines).tolist()))
    clear = shapely.buffer(lines, 1e-3)  # a line may end inside a face, where the point must not lie on it
    points = [shapely.point_on_surface(face.difference(clear)) for face in faces]
    found = zip(faces, points, strict=True)
    return [face for face, point in found if not point.is_empty and winding(ring, point.x, point.y)]


def check(patch: Patch) -> None:
    """What holds for every patch there is."""
    assert patch.polygon.is_valid
    assert patch.polygon.geom_type == "Polygon"
    assert np.array_equal(shapely.get_coordinates(patch.polygon.exterior)[:-1], patch.outline)
    assert len(patch.polygon.interiors) == len(patch.holes)
    for interior, hole in zip(patch.polygon.interiors, patch.holes, strict=True):
        assert np.array_equal(shapely.get_coordinates(interior)[:-1], hole)
        assert shoelace(hole) < 0
    assert shoelace(patch.outline) > 0
    for ring in (patch.outline, *patch.holes):
        assert ring.dtype == np.float64
        assert not ring.flags.writeable
        assert np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).min() > SAME_POINT


def details(patch: Patch) -> set[str]:
    return {repair.detail.value for repair in patch.repairs}


# --- what is kept -----------------------------------------------------------------------------------


def test_a_good_outline_is_kept_as_it_is() -> None:
    patch = Patch(SQUARE, [[(50, 50), (50, 100), (100, 100), (100, 50)]])
    check(patch)
    assert patch.outline.tolist() == [list(map(float, corner)) for corner in SQUARE]
    assert patch.holes[0].tolist() == [[50, 50], [50, 100], [100, 100], [100, 50]]
    assert patch.repairs == ()
    assert patch.polygon.area == 200 * 200 - 50 * 50


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("backwards", [False, True])
def test_closing_point_and_winding_are_ways_of_writing(closed: bool, backwards: bool) -> None:
    ring = [SQUARE[0], *reversed(SQUARE[1:])] if backwards else list(SQUARE)
    patch = Patch([*ring, ring[0]] if closed else ring)
    check(patch)
    assert patch.outline.tolist() == Patch(SQUARE).outline.tolist()
    assert patch.repairs == ()


def test_the_first_corner_stays_the_first() -> None:
    for start in range(4):
        ring = SQUARE[start:] + SQUARE[:start]
        for given_ring in (ring, ring[::-1]):
            assert tuple(Patch(given_ring).outline[0]) == given_ring[0]


def test_corners_on_a_straight_side_are_kept() -> None:
    ring = [(0, 0), (50, 0), (120, 0), (200, 0), (200, 200), (0, 200)]
    patch = Patch(ring)
    assert len(patch.outline) == 6
    assert patch.repairs == ()


def test_it_is_immutable_and_equal_only_to_itself() -> None:
    patch, twin = Patch(SQUARE), Patch(SQUARE)
    assert patch != twin
    assert len({patch, twin}) == 2
    assert weakref.ref(patch)() is patch
    for name in ("outline", "holes", "polygon", "repairs", "centre", "anything"):
        with pytest.raises(AttributeError):
            setattr(patch, name, None)
    with pytest.raises(ValueError, match="read-only"):
        patch.outline[0, 0] = 1


def test_the_callers_array_is_neither_kept_nor_changed() -> None:
    mine = np.array([*SQUARE, SQUARE[0]], dtype=np.float64)
    patch = Patch(mine)
    mine[:] = 7
    assert patch.outline.tolist() == Patch(SQUARE).outline.tolist()
    assert mine.flags.writeable


# --- what is repaired -------------------------------------------------------------------------------


def test_repeated_points() -> None:
    patch = Patch([(0, 0), (0, 0), (200, 0), (200, 1e-7), (200, 200), (0, 200), (0, 0), (0, 0)])
    check(patch)
    assert patch.outline.tolist() == Patch(SQUARE).outline.tolist()
    (repair,) = patch.repairs
    assert (repair.code, repair.detail, repair.count) == (Code.SIMPLIFIED, RepairDetail.REPEATED_POINTS, 3)
    assert repair.at == (0.0, 0.0)


def test_many_short_steps_are_not_one_point() -> None:
    """Steps below SAME_POINT each, that together go a long way, must not all be swallowed."""
    steps = [(x * 0.5e-6, 0) for x in range(9)]
    patch = Patch([*steps, (200, 0), (200, 200), (0, 200)])
    check(patch)
    assert patch.outline[1].tolist() == pytest.approx([1.5e-6, 0])


@pytest.mark.parametrize(
    "ring",
    [
        [(0, 0), (200, 0), (200, 200), (100, 200), (100, 300), (100, 200), (0, 200)],
        [(0, 0), (200, 0), (200, 200), (100, 200), (100, 100), (100, 200), (0, 200)],
        [(0, 0), (200, 0), (200, 200), (100, 200), (100, 300), (130, 300), (100, 300), (100, 200), (0, 200)],
        [(0, 0), (200, 0), (200, 200), (100, 200), (100, 300), (150, 350), (100, 300), (100, 200), (0, 200)],
        [(0, 0), (300, 0), (200, 0), (200, 200), (100, 200), (0, 200)],
        [(0, 0), (-50, 0), (200, 0), (200, 200), (100, 200), (0, 200)],
        [(0, 0), (200, 0), (200, 200), (100, 200), (0, 200), (0, 0), (-10, -10)],
        [(0, 0), (200, 0), (200, 200), (100, 200), (0, 200), (0, 0), (-10, 0), (-20, 5), (-10, 0), (0, 0)],
    ],
)
@pytest.mark.parametrize("mirrored", [False, True])
def test_spikes(ring: list[tuple[float, float]], mirrored: bool) -> None:
    for start in range(len(ring)):
        turned = ring[start:] + ring[:start]
        patch = Patch([(-x, y) for x, y in turned] if mirrored else turned)
        check(patch)
        assert details(patch) - {"repeated-points"} == {"spike"}
        assert [repair.code for repair in patch.repairs if repair.detail == "spike"] == [Code.REPAIRED]
        assert patch.polygon.area == 200 * 200
        assert {(abs(x), y) for x, y in patch.outline.tolist()} <= {(abs(x), y) for x, y in ring}


def test_a_sharp_tip_is_no_spike() -> None:
    patch = Patch([(0, 0), (1000, 0.01), (0, 0.02)])
    check(patch)
    assert patch.repairs == ()
    assert len(patch.outline) == 3


def test_an_outline_that_touches_itself_from_within_gets_a_hole() -> None:
    # Runs in from a corner to cut out a triangle, and back the same way: the shape of a hole on a stalk.
    for stalk in ([(200, 200)], []):
        patch = Patch([(0, 0), (200, 0), (200, 200), (100, 50), (100, 100), (200, 200), *stalk, (0, 200)])
        check(patch)
        assert details(patch) - {"repeated-points"} == {"self-touching"}
        assert len(patch.holes) == 1
        assert patch.polygon.area == pytest.approx(200 * 200 - 100 * 50 / 2)


def test_a_curl_much_smaller_than_a_pen_line_is_left_out() -> None:
    curl = [(0, 0), (200.02, 0), (200.02, -0.02), (200, -0.02), (200, 200), (0, 200)]
    patch = Patch(curl)
    check(patch)
    assert details(patch) == {"self-crossing", "sliver"}
    assert patch.polygon.area == pytest.approx(200 * 200)
    assert tuple(patch.outline[0]) == (0, 0)


def test_where_all_is_thin_thin_is_what_was_drawn() -> None:
    parts = split_outline([(0, 0), (100, 0.04), (100, 0), (0, 0.04)])
    assert len(parts) == 2
    for part in parts:
        check(part)
        assert details(part) == {"split"}


def test_close_corners_that_a_repair_leaves_stay_where_taking_them_out_would_break_it() -> None:
    """Without the corner at (50, 100) the side would run just above the hole's tip at (25, 100 - 1e-8)."""
    shell = [(0, 0), (100, 0), (100, 100), (50, 100 - 9e-7), (50 - 1e-9, 100), (0, 100)]
    hole = [(20, 50), (25, 100 - 1e-8), (30, 50)]
    piece = shapely.Polygon(shell, [hole])
    assert piece.is_valid
    assert len(_settled(piece).outline) == 6
    assert _settled(piece).polygon.is_valid
    assert len(_settled(shapely.Polygon(shell)).outline) == 5


HOLE = [(50, 50), (100, 50), (100, 100), (50, 100)]


@pytest.mark.parametrize(
    ("holes", "said", "area"),
    [
        ([HOLE, [(75, 75), (125, 75), (125, 125), (75, 125)]], {"holes-joined"}, 2500 + 2500 - 625),
        ([HOLE, [(100, 50), (120, 50), (120, 100), (100, 100)]], {"holes-joined"}, 2500 + 1000),
        ([HOLE, [(60, 60), (70, 60), (70, 70), (60, 70)]], {"holes-joined"}, 2500),
        ([HOLE, HOLE], {"holes-joined"}, 2500),
        ([HOLE, [(300, 50), (320, 50), (320, 100)]], {"hole-outside"}, 2500),
        ([[(150, 50), (250, 50), (250, 100), (150, 100)]], {"hole-clipped"}, 2500),
        ([[(150, 50), (200, 50), (200, 100), (150, 100)]], {"hole-clipped"}, 2500),
        ([HOLE, [(10, 10), (20, 20), (10, 10)]], {"hole-dropped"}, 2500),
        ([HOLE, [(10, 10), (10, 10)]], {"hole-dropped"}, 2500),
        ([[(50, 50), (100, 100), (100, 50), (50, 100)]], {"hole-crossing"}, 1250),
    ],
)
def test_holes(holes: list[list[tuple[float, float]]], said: set[str], area: float) -> None:
    patch = Patch(SQUARE, holes)
    check(patch)
    assert details(patch) - {"repeated-points"} == said
    assert patch.polygon.area == pytest.approx(40000 - area, rel=1e-12)
    assert tuple(patch.outline[0]) == (0, 0)


def test_the_first_corner_that_a_hole_leaves_is_the_first() -> None:
    patch = Patch(SQUARE, [[(-10, -10), (20, -10), (20, 20), (-10, 20)]])
    check(patch)
    assert details(patch) == {"hole-clipped"}
    assert tuple(patch.outline[0]) == (200, 0)


def test_holes_that_touch_in_one_point_are_no_repair() -> None:
    patch = Patch(SQUARE, [HOLE, [(100, 100), (150, 120), (120, 150)], [(0, 150), (30, 140), (30, 160)]])
    check(patch)
    assert patch.repairs == ()
    assert len(patch.holes) == 3


# --- what is refused --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("outline", "says"),
    [
        ([], "no corners"),
        ([(0, 0)], "fewer than three"),
        ([(0, 0), (1, 0)], "fewer than three"),
        ([(0, 0), (1, 0), (0, 0), (1, 0), (1, 0)], "fewer than three"),
        ([(0, 0), (1, 0), (2, 0)], "no area"),
        ([(0, 0), (100, 100), (30, 30), (7, 7)], "no area"),
        ([(0, 0), (1000, 0), (1000, 1e-7)], "no area"),
        ([(0, 0), (1, 0), (math.nan, 1)], "corner 3"),
        ([(0, 0), (1, math.inf), (1, 1)], "corner 2"),
        ([(0, 0), (20000, 0), (0, 100)], "20 m wide"),
        ([(0, 0), (0, -20000), (100, 0)], "20 m high"),
        ([(1e300, 0), (-1e308, 0), (1e308, 1)], "wide"),
        ([(1e12, 0), (1e12 + 100, 0), (1e12, 100)], "from the origin"),
        ([1, 2, 3, 4], "array of 4"),
        ([(1, 2, 3), (4, 5, 6), (7, 8, 9)], "array of 3 × 3"),
        ([(1, 2), (4, 5, 6), (7, 8)], "not a list of corners"),
        ("square", "not a list of corners"),
        (None, "array of no numbers"),
        (7, "array of no numbers"),
        ([(10**400, 0), (1, 0), (0, 1)], "not a list of corners"),
    ],
)
def test_refused(outline: object, says: str) -> None:
    with pytest.raises(PatchError) as caught:
        Patch(outline)
    assert says in str(caught.value)
    assert caught.value.where
    assert caught.value.do
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("holes", "says"),
    [
        ([HOLE, [(0, 0), (math.nan, 1), (5, 5)]], "hole 2, corner 2"),
        (HOLE, "hole 1"),
        ([HOLE, [(0, 0), (20000, 0), (5, 5)]], "hole 2"),
        (3, "the holes"),
        ([[(-1, -1), (201, -1), (201, 201), (-1, 201)]], "nothing is left"),
        ([SQUARE], "nothing is left"),
    ],
)
def test_refused_for_its_holes(holes: list[object], says: str) -> None:
    with pytest.raises(PatchError, match=says):
        Patch(SQUARE, holes)


def test_a_patch_of_the_limits_size_is_accepted() -> None:
    check(Patch([(0, 0), (MAX_SIZE, 0), (MAX_SIZE, MAX_SIZE), (0, MAX_SIZE)]))


def test_a_bow_tie_names_the_crossing_and_the_corners() -> None:
    with pytest.raises(SeveralPartsError) as caught:
        Patch(BOW_TIE)
    assert caught.value.parts == 2
    assert caught.value.where == "at 20 mm, 20 mm"
    assert "from corner 1 to 2 crosses the side from corner 3 to 4" in str(caught.value)
    assert "2 patches" in caught.value.do


@pytest.mark.parametrize(
    ("ring", "says"),
    [
        ([(0, 40), (20, 20), (40, 0), (40, 40), (0, 0)], "corner 2 lies on the side from corner 4 to 5"),
        ([(0, 0), (0, 0), (40, 40), (40, 0), (0, 40)], "corner 1 to 3 crosses the side from corner 4 to 5"),
        ([(0, 0), (50, 50), (100, 0), (100, 90), (50, 50), (0, 90)], "corner 2 and corner 5 lie on the same"),
    ],
)
def test_the_corners_are_those_the_user_counts(ring: list[tuple[float, float]], says: str) -> None:
    with pytest.raises(SeveralPartsError) as caught:
        Patch(ring)
    assert says in str(caught.value)


def test_holes_that_cut_the_patch_in_two_are_named_as_the_cause() -> None:
    holes = [[(0, 100), (100, 90), (100, 110)], [(100, 90), (200, 100), (100, 110)]]
    with pytest.raises(SeveralPartsError, match="holes that touch cut the patch into 2 parts"):
        Patch(SQUARE, holes)
    parts = split_outline(SQUARE, holes)
    assert [part.polygon.area for part in parts] == [200 * 200 / 2 - 1000] * 2
    assert tuple(parts[0].outline[0]) == (0, 0)
    assert tuple(parts[1].outline[0]) == (200, 200)


# --- splitting --------------------------------------------------------------------------------------


def test_the_parts_of_a_bow_tie() -> None:
    first, second = split_outline(BOW_TIE)
    for part in (first, second):
        check(part)
        (split,) = part.repairs
        assert split.detail is RepairDetail.SPLIT
        assert (split.at, split.count, split.code) == ((20.0, 20.0), 2, Code.REPAIRED)
        assert part.polygon.area == pytest.approx(400)
    assert tuple(first.outline[0]) == (0, 0)
    assert tuple(second.outline[0]) == (40, 40)


def test_splitting_a_patch_gives_the_patch() -> None:
    (part,) = split_outline(SQUARE, [HOLE])
    assert part.repairs == ()
    assert part.outline.tolist() == Patch(SQUARE).outline.tolist()
    with pytest.raises(PatchError):
        split_outline([(0, 0), (1, 0)])


def check_area(left: shapely.Geometry, expected: shapely.Geometry, parts: tuple[Patch, ...]) -> None:
    """Nothing was added; what was left out is thinner than a pen line each, and was said."""
    assert left.difference(expected).area < 1e-6
    lost = [face for face in shapely.get_parts(expected.difference(left)) if face.area > 1e-6]
    assert all(2 * face.area / face.length <= FLATTEN for face in lost)
    assert not lost or any("sliver" in details(part) for part in parts)


coordinate = st.integers(0, 12).map(lambda step: step * 100.0)
rings = st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=12)


@settings(max_examples=200, deadline=None)
@given(rings)
def test_the_parts_are_what_the_outline_goes_around(ring: list[tuple[float, float]]) -> None:
    """Any scribble on a small grid, where touching, crossing and overlapping are common."""
    expected = enclosed(np.array(ring))
    try:
        parts = split_outline(ring)
    except PatchError:
        assert not expected  # refused only where nothing is enclosed
        return
    for part in parts:
        check(part)
    union = shapely.union_all([part.polygon for part in parts])
    assert sum(part.polygon.area for part in parts) == pytest.approx(union.area, rel=1e-9)
    check_area(union, shapely.union_all(expected), parts)
    if len(parts) > 1:
        assert all("split" in details(part) for part in parts)
        with pytest.raises(SeveralPartsError) as caught:
            Patch(ring)
        assert caught.value.parts == len(parts)
        assert caught.value.where
    else:
        patch = Patch(ring)
        assert patch.outline.tolist() == parts[0].outline.tolist()
        plain = shapely.Polygon(ring)
        if plain.is_valid and len(set(ring)) == len(ring):
            assert patch.repairs == ()
        if not plain.is_valid:
            assert patch.repairs
        corners = [corner for corner in ring if corner in set(map(tuple, patch.outline.tolist()))]
        if corners and "spike" not in details(patch):  # a spike's tip is no corner that could stay
            assert tuple(patch.outline[0]) == corners[0]


@settings(max_examples=80, deadline=None)
@given(st.lists(rings, max_size=4))
def test_holes_are_cut_out_whatever_they_do(holes: list[list[tuple[float, float]]]) -> None:
    shell = [(100, 100), (1100, 100), (1100, 1100), (100, 1100)]
    gone = shapely.union_all([face for hole in holes for face in enclosed(np.array(hole))])
    expected = shapely.Polygon(shell).difference(gone)
    try:
        parts = split_outline(shell, holes)
    except PatchError:
        assert expected.area < 1e-6
        return
    left = shapely.union_all([part.polygon for part in parts])
    for part in parts:
        check(part)
    check_area(left, expected, parts)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(allow_nan=True, allow_infinity=True), st.floats(allow_nan=True, allow_infinity=True)
        ),
        max_size=8,
    )
)
def test_whatever_numbers_come_only_the_own_error_goes_out(ring: list[tuple[float, float]]) -> None:
    try:
        patch = Patch(ring)
    except PatchError:
        return
    check(patch)


# --- the published corpus ---------------------------------------------------------------------------


def corpus() -> list[dict[str, object]]:
    return json.loads(CORPUS.read_text(encoding="utf-8")) if CORPUS.exists() else []


@pytest.mark.skipif(not CORPUS.exists(), reason="the corpora are not beside the checkout")
@pytest.mark.parametrize("case", corpus(), ids=lambda case: case["name"])
def test_the_outlines_of_the_jts_suite(case: dict) -> None:
    """From JTS's own tests (TestValid, TestBuffer and others); each case names its file and commit."""
    if case["expect"] == "accept":
        patch = Patch(case["outline"], case["holes"])
        check(patch)
        assert details(patch) <= {"repeated-points"}
        assert patch.polygon.equals(shapely.Polygon(case["outline"], case["holes"]))
        assert patch.outline[0].tolist() == case["outline"][0]
    elif case["expect"] == "refuse":
        with pytest.raises(PatchError) as caught:
            Patch(case["outline"], case["holes"])
        assert caught.value.where
    else:
        parts = split_outline(case["outline"], case["holes"])
        for part in parts:
            check(part)
            assert part.repairs
        if len(parts) > 1:
            with pytest.raises(SeveralPartsError) as caught:
                Patch(case["outline"], case["holes"])
            assert "mm" in caught.value.where


# --- where a point lies -----------------------------------------------------------------------------

FRAME = Patch(SQUARE, [HOLE])


@pytest.mark.parametrize(
    ("point", "place"),
    [
        ((10, 10), Place.INSIDE),
        ((0, 0), Place.ON),
        ((200, 200), Place.ON),
        ((200, 60), Place.ON),
        ((100, 60), Place.ON),
        ((60, 60), Place.OUTSIDE),
        ((201, 60), Place.OUTSIDE),
        ((200 + ON_EDGE / 2, 60), Place.ON),
        ((200 - ON_EDGE / 2, 60), Place.ON),
        ((200 + ON_EDGE * 2, 60), Place.OUTSIDE),
        ((200 - ON_EDGE * 2, 60), Place.INSIDE),
        ((math.nan, 60), Place.OUTSIDE),
        ((60, -math.inf), Place.OUTSIDE),
        ((1e308, -1e308), Place.OUTSIDE),
    ],
)
def test_locate(point: tuple[float, float], place: Place) -> None:
    assert FRAME.locate(point) is place


@pytest.mark.parametrize(
    ("point", "slid"),
    [
        ((10, 10), (10, 10)),
        ((0, 150), (0, 150)),
        ((300, 70), (200, 70)),
        ((-5, -9), (0, 0)),
        ((5000, 5000), (200, 200)),
        ((60, 75), (50, 75)),
        ((1e300, -1e300), (200, 0)),
    ],
)
def test_slide_into(point: tuple[float, float], slid: tuple[float, float]) -> None:
    assert FRAME.slide_into(point) == slid


def test_a_point_that_is_none_does_not_slide() -> None:
    with pytest.raises(AnchorError):
        FRAME.slide_into((math.nan, 0))


@settings(max_examples=100, deadline=None)
@given(st.floats(-300, 500), st.floats(-300, 500), st.floats(0, 6.3))
def test_sliding_ends_on_the_seam_nearest(x: float, y: float, turn: float) -> None:
    c, s = math.cos(turn), math.sin(turn)
    rotate = np.array([[c, s], [-s, c]])
    patch = Patch(np.array(SQUARE) @ rotate, [np.array(HOLE) @ rotate])
    slid = patch.slide_into((x, y))
    if patch.locate((x, y)) is not Place.OUTSIDE:
        assert slid == (x, y)
        return
    assert patch.locate(slid) is Place.ON
    # Nearest of many points set along every edge, to the spacing of those points.
    rings = [patch.outline, *patch.holes]
    along = np.linspace(0, 1, 2001)[:, None, None]
    dense = np.concatenate(
        [(ring + along * (np.roll(ring, -1, axis=0) - ring)).reshape(-1, 2) for ring in rings]
    )
    least = np.hypot(*(dense - (x, y)).T).min()
    assert math.dist(slid, (x, y)) == pytest.approx(least, abs=0.06)
    assert math.dist(slid, (x, y)) <= least + 1e-9


# --- measures ---------------------------------------------------------------------------------------


def test_centre_of_an_l_shape() -> None:
    """Worked by hand: squares of 4, 4 and 4 at (1, 3), (3, 3) ... as two rectangles 2×2 and 6×2 (JTS's L)."""
    patch = Patch([(0, 2), (0, 4), (6, 4), (6, 0), (2, 0), (2, 2)])
    # Rectangles (0..2, 2..4): area 4, centre (1, 3); (2..6, 0..4): area 16, centre (4, 2).
    assert patch.centre == pytest.approx(((4 * 1 + 16 * 4) / 20, (4 * 3 + 16 * 2) / 20))


@pytest.mark.parametrize("turn", [0.0, 0.1, 0.7, 1.3, 2.9])
def test_width_is_the_mean_of_length_and_breadth_however_turned(turn: float) -> None:
    c, s = math.cos(turn), math.sin(turn)
    rectangle = np.array([(0, 0), (300, 0), (300, 100), (0, 100)]) @ np.array([[c, s], [-s, c]])
    assert Patch(rectangle).width == pytest.approx(200)


def test_repr_says_what_it_is() -> None:
    assert repr(FRAME) == "<Patch of 4 corners, 1 holes, 37500 mm²>"
