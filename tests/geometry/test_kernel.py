"""The kernel, against what it means: from it everything is seen, from outside it not."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import Polygon
from shapely.affinity import rotate

from geometry.kernel import kernel
from geometry.visibility import visible_area
from tests.zoo.patches import ZOO, circle

L_SHAPE = Polygon([(0, 0), (90, 0), (90, 30), (30, 30), (30, 90), (0, 90)])


def test_a_convex_outline_is_its_own_kernel() -> None:
    for points in ([(0, 0), (50, 5), (20, 60)], circle(400, 900, 70, 60)):
        outline = Polygon(points)
        found = kernel(outline)
        assert found is not None
        assert shapely.symmetric_difference(found, outline).area < 1e-6


def test_a_hole_leaves_none() -> None:
    assert kernel(Polygon(circle(0, 0, 100, 30), [circle(50, 0, 10, 12)])) is None


def test_a_kernel_without_area_is_none() -> None:
    # two notches whose sides lie in one line leave only that line
    line = Polygon([(0, 0), (40, 0), (40, 30), (60, 30), (60, 60), (20, 60), (20, 30), (0, 30)])
    assert kernel(line) is None
    assert kernel(Polygon()) is None


@pytest.mark.parametrize("angle", [0, 17, 90, 211])
def test_it_turns_with_the_outline_and_does_not_depend_on_its_winding(angle: float) -> None:
    turned = rotate(L_SHAPE, angle, origin=(3000, -2000))
    for outline in (turned, shapely.reverse(turned)):
        found = kernel(outline)
        assert found is not None
        expected = rotate(shapely.box(0, 0, 30, 30), angle, origin=(3000, -2000))
        assert shapely.symmetric_difference(found, expected).area < 1e-6


@pytest.mark.parametrize("animal", ZOO, ids=lambda animal: animal.name)
def test_everything_is_seen_from_it_and_from_nowhere_else(animal: object) -> None:
    polygon = shapely.make_valid(Polygon(animal.outline, animal.holes))  # type: ignore[attr-defined]
    if polygon.geom_type != "Polygon":
        pytest.skip("falls into parts")
    found = kernel(polygon)
    chance = np.random.default_rng(7)
    x0, y0, x1, y1 = polygon.bounds
    places = np.column_stack([chance.uniform(x0, x1, 60), chance.uniform(y0, y1, 60)])
    places = places[shapely.contains_xy(polygon, places)]
    if found is not None:
        assert polygon.buffer(1e-6).contains(found)
        places = np.concatenate([places, shapely.get_coordinates(found.centroid)])
    for place in places.tolist():
        hidden = polygon.area - visible_area(polygon, (place[0], place[1]))
        depth = -1.0 if found is None else shapely.Point(place).distance(found.boundary)
        if found is not None and found.contains(shapely.Point(place)):
            assert hidden <= 1e-6
        elif found is None or depth > 0.1:
            assert hidden > 0


def test_an_outline_of_12_000_points_has_one_too() -> None:
    turn = np.linspace(0, 2 * math.pi, 12_000, endpoint=False)
    radius = 150 * (1 + 0.2 * np.sin(3 * turn) + 0.1 * np.sin(7 * turn + 1))
    polygon = Polygon(np.column_stack([radius * np.cos(turn), radius * np.sin(turn)]))
    found = kernel(polygon)
    assert found is not None
    for place in shapely.get_coordinates(found.buffer(-1e-3)).tolist():
        assert polygon.area - visible_area(polygon, (place[0], place[1])) < 1e-6
