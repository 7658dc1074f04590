"""Shortest routes: by hand, against all corners with another library's search, and on large outlines."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.polygon import orient

from geometry.patch import Patch
from geometry.route import route_along_seam, shortest_route
from geometry.tolerances import FLATTEN, SAME_POINT
from tests.zoo.patches import ZOO

ELL = Polygon([(0, 0), (300, 0), (300, 110), (110, 110), (110, 300), (0, 300)])
RING = Polygon(shapely.box(0, 0, 280, 280).exterior, [shapely.box(90, 90, 190, 190).exterior])


def length(points: np.ndarray) -> float:
    return LineString(points).length


def by_all_pairs(area: Polygon, start: Any, end: Any) -> float:
    """Dijkstra (scipy) over every pair of corners that a straight line inside joins; no corner left out."""
    graph = pytest.importorskip("scipy.sparse.csgraph")
    nodes = np.vstack([[start, end], shapely.get_coordinates(area)])
    room = area.buffer(1e-6, join_style="mitre")
    i, j = np.triu_indices(len(nodes), 1)
    joined = shapely.covers(room, shapely.linestrings(np.stack([nodes[i], nodes[j]], axis=1)))
    table = np.full((len(nodes), len(nodes)), np.inf)
    table[i[joined], j[joined]] = np.maximum(np.hypot(*(nodes[i[joined]] - nodes[j[joined]]).T), 1e-12)
    return float(graph.dijkstra(table, directed=False, indices=0)[1])


def inside(area: Polygon, chance: np.random.Generator) -> tuple[float, float]:
    x0, y0, x1, y1 = area.bounds
    while True:
        x, y = chance.uniform(x0, x1), chance.uniform(y0, y1)
        if area.contains(Point(x, y)):
            return float(x), float(y)


def test_straight_where_nothing_is_in_the_way() -> None:
    assert shortest_route(ELL, (10, 10), (280, 40)).tolist() == [[10, 10], [280, 40]]
    assert shortest_route(ELL, (10, 10), (10, 10)).tolist() == [[10, 10], [10, 10]]


def test_taut_round_the_corner_that_points_in() -> None:
    route = shortest_route(ELL, (290, 50), (50, 290))
    assert route.tolist() == [[290, 50], [110, 110], [50, 290]]


def test_round_a_hole_on_the_shorter_side() -> None:
    route = shortest_route(RING, (140, 20), (150, 260))
    assert route.tolist() == [[140, 20], [190, 90], [190, 190], [150, 260]]
    back = shortest_route(RING, (150, 260), (140, 20))
    assert (back[::-1] == route).all()
    # along the edge of the hole itself
    assert shortest_route(RING, (90, 50), (90, 240)).tolist() == [[90, 50], [90, 240]]


def test_points_on_the_seam_and_on_corners() -> None:
    assert shortest_route(ELL, (300, 110), (110, 300)).tolist() == [[300, 110], [110, 110], [110, 300]]
    assert shortest_route(ELL, (110, 110), (0, 300)).tolist() == [[110, 110], [0, 300]]
    route = shortest_route(ELL, (300, 60), (60, 300))
    assert length(route) == pytest.approx(math.dist((300, 60), (110, 110)) * 2)


def test_points_outside_by_rounding_are_inside() -> None:
    hair = SAME_POINT * (1 - 1e-9)
    route = shortest_route(ELL, (300 + hair, 50), (50, 300 + hair))
    assert route[1:-1].tolist() == [[110, 110]]
    # beside a dent of next to no turn, where the way to it runs along its own edge
    bent = Polygon([(0, 0), (50, 0.02), (60, 0), (60, 80), (20, 80), (20, 40), (0, 40)])
    away = np.array([0.02, -50]) / math.hypot(0.02, 50) * hair
    start = (49.0 + away[0], 49 * 0.02 / 50 + away[1])
    assert length(shortest_route(bent, start, (58, 0.01))) == pytest.approx(9, abs=1e-4)


def test_a_point_outside_is_joined_to_the_nearest_of_the_area() -> None:
    assert shortest_route(ELL, (320, 50), (10, 50)).tolist() == [[320, 50], [300, 50], [10, 50]]


@pytest.mark.parametrize(
    "animal", [a for a in ZOO if len(a.outline) + 4 * len(a.holes) < 120], ids=lambda animal: animal.name
)
def test_the_zoo_against_all_pairs(animal: Any) -> None:
    area = Patch(animal.outline, animal.holes).polygon
    chance = np.random.default_rng(len(animal.name))
    corners = shapely.get_coordinates(area)
    room = area.buffer(3e-6, join_style="mitre")
    for k in range(4):
        start, end = inside(area, chance), inside(area, chance)
        if k == 2:
            start = tuple(corners[int(chance.integers(len(corners)))].tolist())
        if k == 3:
            start = tuple((corners[0] + 0.37 * (corners[1] - corners[0])).tolist())
        route = shortest_route(area, start, end)
        assert (tuple(route[0]), tuple(route[-1])) == (start, end)
        assert room.covers(LineString(route))
        assert length(route) == pytest.approx(by_all_pairs(area, start, end), abs=1e-5)


@pytest.mark.parametrize("count", [100, 500, 4000])
def test_round_a_bend_along_its_inner_side(count: int) -> None:
    """A bend of 200° between radii 80 and 150: from radius 120 a tangent of √(120² - 80²), the arc between
    the points where the tangents touch, and a tangent again. Large ones are simplified by FLATTEN at most."""
    t = np.linspace(0, math.radians(200), count)
    spoke = np.column_stack([np.cos(t), np.sin(t)])
    area = orient(Polygon(np.vstack([80 * spoke, 150 * spoke[::-1]])))
    begin, turned = math.radians(3), math.radians(190)
    start = (120 * math.cos(begin), 120 * math.sin(begin))
    end = (120 * math.cos(begin + turned), 120 * math.sin(begin + turned))
    route = shortest_route(area, start, end)
    assert (tuple(route[0].tolist()), tuple(route[-1].tolist())) == (start, end)
    assert area.buffer(1e-6).covers(LineString(route))
    exact = 2 * math.sqrt(120**2 - 80**2) + 80 * (turned - 2 * math.acos(80 / 120))
    assert length(route) == pytest.approx(exact, abs=2 * FLATTEN * turned)


def test_along_the_seam_the_shorter_way_round() -> None:
    route = route_along_seam(ELL, (290, 50), (50, 290))
    round_the_corner = [(290, 50), (300, 50), (300, 110), (110, 110), (110, 300), (50, 300), (50, 290)]
    np.testing.assert_allclose(route, round_the_corner, atol=1e-9)
    other = route_along_seam(ELL, (150, 5), (5, 150))
    np.testing.assert_allclose(other, [(150, 5), (150, 0), (0, 0), (0, 150), (5, 150)], atol=1e-9)
    np.testing.assert_allclose(route_along_seam(ELL, (5, 150), (150, 5)), other[::-1], atol=1e-9)
    np.testing.assert_allclose(route_along_seam(ELL, (50, 290), (290, 50)), route[::-1], atol=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_along_the_seam_of_any_outline(seed: int) -> None:
    chance = np.random.default_rng(seed)
    t = np.sort(chance.uniform(0, 2 * math.pi, 30))
    r = chance.uniform(60, 140, 30)
    area = Polygon(np.column_stack([r * np.cos(t), r * np.sin(t)]))
    ring = LineString(area.exterior)
    start, end = (area.exterior.interpolate(d).coords[0] for d in chance.uniform(0, ring.length, 2))
    route = route_along_seam(area, start, end)
    apart = abs(ring.project(Point(start)) - ring.project(Point(end)))
    assert length(route) == pytest.approx(min(apart, ring.length - apart))
    assert ring.buffer(1e-6).covers(LineString(route))
