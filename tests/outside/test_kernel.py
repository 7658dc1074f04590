"""Kernels against computed figures (outside_checks.md) and against scipy's half-plane intersection."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely import Polygon

from geometry.kernel import kernel
from tests.outside.shapes import counties, glyphs

optimize = pytest.importorskip("scipy.optimize")
spatial = pytest.importorskip("scipy.spatial")


def half_planes(polygon: Polygon) -> np.ndarray:
    """(n, 3) a, b, c with a x + b y + c <= 0 inside; (a, b) of length 1."""
    polygon = shapely.orient_polygons(polygon)
    rows = []
    for ring in (polygon.exterior, *polygon.interiors):
        at = np.asarray(ring.coords)
        for (x0, y0), (x1, y1) in pairwise(at):
            length = math.hypot(x1 - x0, y1 - y0)
            if length:
                a, b = (y1 - y0) / length, (x0 - x1) / length
                rows.append((a, b, -a * x0 - b * y0))
    return np.array(rows)


def by_scipy(polygon: Polygon) -> tuple[float, Polygon | None]:
    """Radius of the widest circle in the kernel (negative: there is none), and the kernel."""
    planes = half_planes(polygon)
    answer = optimize.linprog(
        [0, 0, -1],
        A_ub=np.column_stack([planes[:, :2], np.ones(len(planes))]),
        b_ub=-planes[:, 2],
        bounds=[(None, None)] * 3,
        method="highs",
    )
    assert answer.status == 0
    x, y, radius = answer.x
    if radius < 0.05:
        return radius, None
    corners = spatial.HalfspaceIntersection(planes, np.array([x, y])).intersections
    return radius, shapely.MultiPoint(corners).convex_hull


def test_an_l_has_its_square() -> None:
    found = kernel(Polygon([(0, 0), (9, 0), (9, 3), (3, 3), (3, 9), (0, 9)]))
    assert found is not None
    assert found.area == pytest.approx(9, rel=1e-12)
    assert found.equals(shapely.box(0, 0, 3, 3))


def test_a_pentagram_has_its_pentagon() -> None:
    """Circumradius 1 (here 100): the inner corners lie at .381966, and the pentagon of them has .346893."""
    inner = (3 - math.sqrt(5)) / 2
    turns = [math.pi / 2 + math.pi * k / 5 for k in range(10)]
    reach = [100 * (1 if k % 2 == 0 else inner) for k in range(10)]
    found = kernel(Polygon([(r * math.cos(t), r * math.sin(t)) for r, t in zip(reach, turns, strict=True)]))
    assert found is not None
    corners = shapely.get_coordinates(found)[:-1]
    assert len(corners) == 5
    assert np.hypot(*corners.T) == pytest.approx(38.1966, abs=1e-4)
    assert found.area == pytest.approx(3468.93, abs=5e-3)


def test_a_u_has_none() -> None:
    assert kernel(Polygon([(0, 0), (9, 0), (9, 9), (6, 9), (6, 3), (3, 3), (3, 9), (0, 9)])) is None


def test_scipy_finds_the_same_kernels() -> None:
    """Shapes nobody here drew, and what is left of random stars: some have a kernel, most have none."""
    chance = np.random.default_rng(3)
    shapes = [Polygon(*rings) for rings in counties()[::3]] + [Polygon(*rings) for _, rings in glyphs(30)]
    for points in range(5, 45):
        turn = np.sort(chance.uniform(0, 2 * math.pi, points))
        reach = chance.uniform(60, 150, points)
        star = Polygon(np.column_stack([300 + reach * np.cos(turn), 200 + reach * np.sin(turn)]))
        if star.is_valid:
            shapes.append(star)
    some = 0
    for shape in shapes:
        radius, expected = by_scipy(shape)
        found = kernel(shape)
        if expected is not None:
            some += 1
            assert found is not None
            assert shapely.symmetric_difference(found, expected).area < 1e-4
        elif radius < -1e-3:
            assert found is None
    assert some > 20
