"""What many anchors see at once, against the sweep of one at a time."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon

from geometry.triangulation import see_from_all, seen_areas, triangulate
from geometry.visibility import visible_area
from tests.outside.shapes import counties, glyphs
from tests.zoo.patches import ZOO

SQUARE = Polygon([(0, 0), (80, 0), (80, 80), (0, 80)])


def areas(polygon: Polygon, anchors: np.ndarray) -> np.ndarray:
    return seen_areas(see_from_all(triangulate(polygon), anchors), len(anchors))


def places_in(polygon: Polygon, count: int, seed: int = 0) -> np.ndarray:
    """Anywhere inside, and on a regular grid, whose points like to lie in line with corners."""
    x0, y0, x1, y1 = polygon.bounds
    chance = np.random.default_rng(seed)
    anywhere = np.column_stack([chance.uniform(x0, x1, count), chance.uniform(y0, y1, count)])
    x, y = np.meshgrid(np.linspace(x0, x1, 9), np.linspace(y0, y1, 9))
    places = np.concatenate([anywhere, np.column_stack([x.ravel(), y.ravel()])])
    inside = shapely.contains_xy(polygon, places)
    inside[inside] = shapely.distance(polygon.boundary, shapely.points(places[inside])) > 1e-7
    return places[inside]


def shapes() -> list[tuple[str, Polygon]]:
    out = [(animal.name, Polygon(animal.outline, animal.holes)) for animal in ZOO]
    out += [(f"county {i}", Polygon(*rings)) for i, rings in enumerate(counties()[::12])]
    out += [(name, Polygon(*rings)) for name, rings in glyphs(12)]
    return [(name, polygon) for name, polygon in out if polygon.is_valid]


@pytest.mark.parametrize(("name", "polygon"), shapes(), ids=[name for name, _ in shapes()])
def test_all_at_once_see_what_each_sees_alone(name: str, polygon: Polygon) -> None:
    places = places_in(polygon, 40)
    alone = [visible_area(polygon, (x, y)) for x, y in places.tolist()]
    assert areas(polygon, places) == pytest.approx(np.array(alone), rel=1e-9)


def test_an_anchor_between_two_triangles_sees_both() -> None:
    on_a_diagonal = np.array([(20.0, 20.0), (20.0, 60.0), (40.0, 40.0), (60.0, 20.0)])
    assert areas(SQUARE, on_a_diagonal) == pytest.approx(np.full(4, 6400.0), rel=1e-12)


def test_anchors_outside_see_nothing_and_those_inside_what_they_see_alone() -> None:
    ring = Polygon(SQUARE.exterior, [[(30, 30), (50, 30), (50, 50), (30, 50)]])
    places = np.array([(-1.0, 5.0), (40.0, 40.0), (10.0, 40.0), (200.0, 200.0)])
    seen = areas(ring, places)
    assert seen[[0, 1, 3]].tolist() == [0, 0, 0]
    assert seen[2] == pytest.approx(visible_area(ring, (10.0, 40.0)), rel=1e-12)
    assert areas(ring, np.zeros((0, 2))).shape == (0,)


@pytest.mark.parametrize(("scale", "away"), [(1e-2, 0.0), (20.0, 0.0), (1.0, 1e4)])
def test_size_and_place_do_not_matter(scale: float, away: float) -> None:
    polygon = shapes()[3][1]
    places = places_in(polygon, 20)
    moved = shapely.transform(polygon, lambda at: at * scale + away)
    assert areas(moved, places * scale + away) == pytest.approx(areas(polygon, places) * scale**2, rel=1e-8)


def test_the_triangles_are_the_polygon() -> None:
    for _, polygon in shapes():
        found = triangulate(polygon)
        assert found.length[found.wall].sum() == pytest.approx(polygon.length, rel=1e-12)
        corner_x, corner_y = found.x.reshape(-1, 3), found.y.reshape(-1, 3)
        twice = sum(
            corner_x[:, i] * corner_y[:, i - 2] - corner_x[:, i - 2] * corner_y[:, i] for i in (0, 1, 2)
        )
        assert (twice > -1e-6).all()
        assert np.abs(twice).sum() / 2 == pytest.approx(polygon.area, rel=1e-9)
