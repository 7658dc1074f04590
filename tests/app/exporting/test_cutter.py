"""What is cut: arcs where they are arcs and nowhere else, every line once, and all lines of the fit."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from app.exporting.cutter import (
    ON_ARC,
    SAME_CUT,
    Cut,
    Ring,
    circle_of,
    once,
    pieces_of,
    stencil,
    stencils,
    with_arcs,
)
from app.exporting.options import MarkShape, TemplateKind, TemplateOptions
from app.importing import import_file
from app.sketch.display_list import LayerName
from geometry import Patch, Settings, SettingsError, fit
from geometry.arc import arc
from geometry.tolerances import FLATTEN
from tests.app.exporting.cut_reading import arc_points, cut_twice, furthest, shapes
from tests.app.exporting.samples import square


def points_of(cut: Cut) -> np.ndarray:
    """(n, 2): the cut as short straight pieces, by the test's own reckoning."""
    points = [complex(*cut.points[0])]
    for start, end, bulge in pieces_of(cut):
        a, b = complex(*start), complex(*end)
        points += arc_points(a, b, bulge)[0] if bulge else [b]
    return np.array([(point.real, point.imag) for point in points])


def pieces(line: np.ndarray) -> np.ndarray:
    return np.stack([line[:-1], line[1:]], axis=1)


def turned(points: np.ndarray, angle: float) -> np.ndarray:
    c, s = math.cos(angle), math.sin(angle)
    return points @ np.array([[c, s], [-s, c]]) + (31.7, -12.9)


# --- arcs ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("bow", [0.4, -3.0, 25.0, -50.0, 90.0, -140.0])
def test_an_arc_between_straight_lines_is_found_whole(bow: float) -> None:
    start, end = (-50.0, 0.0), (50.0, 0.0)
    line = np.array([(-80.0, 33.0), start, *arc(start, end, bow), end, (90.0, -41.0)])
    for angle in (0.0, 1.1, 4.0):
        for way in (1, -1):
            cut = with_arcs(turned(line, angle)[::way], False)
            assert len(cut.points) == 4
            assert [bulge != 0 for bulge in cut.bulges] == [False, True, False, False]
            # the bow over half the chord is the tangent of a quarter of the angle
            assert abs(cut.bulges[1]) == pytest.approx(abs(bow) / 50, abs=1e-9)
            assert points_of(cut)[[0, -1]] == pytest.approx(turned(line, angle)[::way][[0, -1]])
            middle = turned(np.array([(0.0, -bow)]), angle)  # away from the patch is up
            assert furthest(middle, pieces(points_of(cut))) < 1e-3


@pytest.mark.parametrize("radius", [1.5, 7.0, 60.0, 900.0])
@pytest.mark.parametrize("more", [0, 1])
def test_a_whole_circle_is_two_arcs(radius: float, more: int) -> None:
    count = 2 * math.ceil(math.pi / math.acos(1 - FLATTEN / radius) / 2) + more
    turn = np.linspace(0.3, 0.3 + 2 * math.pi, count, endpoint=False)
    ring = np.column_stack([np.cos(turn), np.sin(turn)]) * radius + (5, 6)
    for points in (ring, ring[::-1]):
        cut = with_arcs(points, True)
        assert len(cut.points) == 2
        assert cut.bulges.all()
        dense = points_of(cut)
        assert np.hypot(*(dense - (5, 6)).T) == pytest.approx(radius, abs=1e-6)
        for start, end, bulge in pieces_of(cut):
            centre, size = circle_of(start, end, bulge)
            assert (*centre, size) == pytest.approx((5, 6, radius))


def regular(corners: int, radius: float) -> np.ndarray:
    turn = np.linspace(0, 2 * math.pi, corners, endpoint=False)
    return np.column_stack([np.cos(turn), np.sin(turn)]) * radius


def straight_shapes() -> dict[str, tuple[np.ndarray, bool]]:
    random = np.random.default_rng(5)
    noise = np.column_stack([np.arange(40.0), random.normal(0, 0.004, 40)])
    walk = np.cumsum(random.normal(0, 5, (200, 2)), axis=0)
    return {
        "square": (regular(4, 50), True),
        "hexagon": (regular(6, 20), True),
        "24 corners": (regular(24, 50), True),
        "a long line that a hand drew": (noise, False),
        "at random": (walk, False),
        "zigzag": (np.array([(x, x % 2) for x in range(30)], dtype=float), False),
        "two sides": (np.array([(0, 0), (25, 0.0), (50, 0), (75, 2.2), (100, 4.4)]), False),
        "three pieces": (np.array([(0, 0), (5, 0.4), (10, 0.4), (15, 0.0)]), False),
    }


@pytest.mark.parametrize("name", straight_shapes())
def test_corners_are_not_taken_for_arcs(name: str) -> None:
    points, closed = straight_shapes()[name]
    cut = with_arcs(points, closed)
    assert not cut.bulges.any()
    assert (
        shapely.hausdorff_distance(
            shapely.LineString(points_of(cut)), shapely.LineString([*points, points[0]] if closed else points)
        )
        < 1e-5
    )


QUARTER = 4 * (math.sqrt(2) - 1) / 3
"""Of the radius: the handle of a Bézier curve that stands for a quarter circle (common practice; it strays
0.027 % of the radius from it, from memory)."""


@pytest.mark.parametrize(("wide", "high", "is_circle"), [(25, 25, True), (45, 30, False), (75, 60, False)])
def test_four_bezier_curves_are_a_circle_but_not_an_ellipse(
    wide: float, high: float, is_circle: bool, tmp_path: Path
) -> None:
    """As drawing programs write both; brought in as any drawing is."""
    a, b = QUARTER * wide, QUARTER * high
    data = (
        f"M{wide},0 C{wide},{b} {a},{high} 0,{high} S{-wide},{b} {-wide},0 "
        f"S{-a},{-high} 0,{-high} S{wide},{-b} {wide},0 Z"
    )
    path = tmp_path / "round.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="-100 -100 200 200">'
        f'<path d="{data}"/></svg>'
    )
    ((_, patch),) = import_file(str(path)).patches
    cut = with_arcs(patch.outline, True)
    if is_circle:
        assert len(cut.points) == 2
        assert cut.bulges.all()
        middle = np.array(patch.centre)
        assert np.hypot(*(points_of(cut) - middle).T) == pytest.approx(wide, abs=ON_ARC)
    else:
        assert not cut.bulges.any()


def test_whatever_the_curve_the_cut_stays_with_it() -> None:
    """Flattened ellipses, parabolas and random smooth curves: whichever of their pieces become arcs."""
    random = np.random.default_rng(11)
    t = np.linspace(0, 2 * math.pi, 400, endpoint=False)
    found = 0
    for _ in range(25):
        wave = sum(
            np.outer(np.cos(k * t + random.uniform(0, 6)), random.normal(0, 40 / k**2, 2)) for k in (1, 2, 3)
        )
        fine = shapely.LinearRing(wave).simplify(FLATTEN)
        points = shapely.get_coordinates(fine)[:-1]
        cut = with_arcs(points, True)
        dense = points_of(cut)
        found += int((cut.bulges != 0).sum())
        assert furthest(points, pieces(dense)) < ON_ARC + 1e-3
        assert furthest(dense, pieces(np.concatenate([points, points[:1]]))) < FLATTEN + ON_ARC + 1e-3
    assert found > 10, "nothing was put to the test"


# --- every line once ----------------------------------------------------------------------------------------


def kept(*lines: list[tuple[float, float]]) -> list[np.ndarray]:
    return [
        left
        for _, left, _ in once([(LayerName.WEDGES, np.array(line, dtype=float), False) for line in lines])
    ]


def test_what_lies_on_an_earlier_line_is_left_out() -> None:
    first = [(0, 0), (100, 0)]
    assert [line.tolist() for line in kept(first, first[::-1])] == [[[0, 0], [100, 0]]]
    parts = kept(first, [(50, 30), (50, 0), (150, 0), (150, 30)])
    assert [line.tolist() for line in parts[1:]] == [[[50, 30], [50, 0]], [[100, 0], [150, 0], [150, 30]]]
    parts = kept(first, [(-20, 0), (120, 0)])
    assert [line.tolist() for line in parts[1:]] == [[[-20, 0], [0, 0]], [[100, 0], [120, 0]]]
    # a leg out and a leg back
    assert [line.tolist() for line in kept([(0, 0), (60, 80), (0, 0)])] == [[[0, 0], [60, 80]]]


def test_near_lines_are_one_and_distant_or_crossing_ones_are_not() -> None:
    first = [(0, 0), (100, 0)]
    near, far = 0.9 * SAME_CUT, 1.1 * SAME_CUT
    assert len(kept(first, [(10, near), (90, -near)])) == 1
    assert len(kept(first, [(10, near), (90, far)])) == 2
    assert len(kept(first, [(0, 0), (100, 0.02)])) == 2, "two legs of a thin wedge"
    assert len(kept(first, [(50, -1), (50.001, 1)])) == 2
    assert len(kept(first, [(100, 0), (200, 0)])) == 2


def test_random_lines_on_a_grid_cover_the_same_and_nothing_twice() -> None:
    random = np.random.default_rng(3)
    for _ in range(30):
        lines = [random.integers(0, 5, (random.integers(2, 6), 2)).astype(float) for _ in range(12)]
        lines = [line for line in lines if len(np.unique(line, axis=0)) > 1]
        left = kept(*lines)  # type: ignore[arg-type]
        union = shapely.unary_union([shapely.LineString(line) for line in lines])
        now = [shapely.LineString(line) for line in left]
        assert sum(line.length for line in now) == pytest.approx(union.length, abs=1e-6)
        assert shapely.hausdorff_distance(shapely.unary_union(now), union) < 1e-6


def test_a_ring_that_loses_a_piece_is_one_line() -> None:
    ring = np.array([(0, 0), (10, 0), (10, 10), (0, 10)], dtype=float)
    lines = [(LayerName.SEAM, np.array([(10.0, 0), (10, 10)]), False), (LayerName.WEDGES, ring, True)]
    (_, (name, left, closed)) = once(lines)
    assert (name, closed) == (LayerName.WEDGES, False)
    assert left.tolist() == [[10, 10], [0, 10], [0, 0], [10, 0]]


# --- of a fit -----------------------------------------------------------------------------------------------


def test_kinds_choose_lines_or_marks() -> None:
    drawn = square(echo_count=2, hold_back=12.0, stagger=9.0)

    def names(**options: object) -> list[str]:
        return [layer.name for layer in stencil(drawn, TemplateOptions(**options)).layers]  # type: ignore[arg-type]

    assert names(kind=TemplateKind.LINES) == ["seam", "wedges", "echoes", "stitch-path"]
    assert names(kind=TemplateKind.MARKS) == ["seam", "marks", "anchor"]
    assert names() == ["seam", "wedges", "echoes", "stitch-path", "marks", "anchor"]
    assert "echoes" not in names(echoes=False)


def test_marks_are_cut_once_each_where_they_are() -> None:
    drawn = shapes()["curved in regions"]
    marks = {tuple(np.round(mark.at, 6)) for fan in drawn.fans for mark in fan.marks}
    for size in (2.0, 5.0):
        layers = {
            layer.name: layer.items
            for layer in stencil(drawn, TemplateOptions(TemplateKind.MARKS, mark_size=size)).layers
        }
        rings = layers[LayerName.MARKS]
        assert all(isinstance(ring, Ring) and ring.radius == size / 2 for ring in rings)
        at = np.array([ring.at for ring in rings if isinstance(ring, Ring)])
        assert len(at) <= len(marks)
        assert furthest(np.array(sorted(marks)), at[:, None].repeat(2, axis=1)) <= SAME_CUT
        assert [ring.at for ring in layers[LayerName.ANCHOR] if isinstance(ring, Ring)] == list(drawn.anchors)


def test_a_cross_on_a_line_is_not_cut_over_it() -> None:
    drawn = square(edge_margin=0)
    options = TemplateOptions(mark_shape=MarkShape.CROSS, mark_size=4.0)
    cuts = [item for layer in stencil(drawn, options).layers for item in layer.items]
    every = np.concatenate([pieces(points_of(cut)) for cut in cuts if isinstance(cut, Cut)])
    assert cut_twice(every) < 0.01
    marks = next(each.items for each in stencil(drawn, options).layers if each.name is LayerName.MARKS)
    # The level arm of a mark in the middle of the upper side lies on the seam: its upright arm is left.
    (x0, y0), (x1, _) = drawn.patch.outline[:2]
    there = [
        cut.points
        for cut in marks
        if isinstance(cut, Cut) and math.dist(cut.points.mean(axis=0), ((x0 + x1) / 2, y0)) < 1e-6
    ]
    assert [np.ptp(each, axis=0).tolist() for each in there] == [[0.0, 4.0]]


def test_a_size_that_cannot_be_cut_is_refused() -> None:
    for size in (0.0, -1.0, 30.0, math.nan):
        with pytest.raises(SettingsError, match=r"mm is too .*; give 0.5 mm to 25 mm"):
            stencils([square()], TemplateOptions(mark_size=size))


def test_copies_stand_side_by_side_and_progress_is_told() -> None:
    told: list[tuple[int, int]] = []
    drawn = [square(50.0), fit(Patch([(0, 0), (90, 0), (0, 60)]), (20.0, 20.0), Settings())]
    made = stencils(drawn, TemplateOptions(copies=2), lambda *step: told.append(step))
    assert told == [(2, 4), (4, 4)]
    seams = [each.layers[0].items[0] for each in made.each]
    lefts = [seam.points[:, 0].min() for seam in seams if isinstance(seam, Cut)]
    assert lefts == pytest.approx([12, 12 + 62, 12 + 2 * 62, 12 + 2 * 62 + 102])
    assert (made.width, made.height) == pytest.approx((12 + 2 * 62 + 2 * 102, 60 + 24))
