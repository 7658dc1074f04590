"""How many fans see a whole patch: the art-gallery bounds as properties of the automatic division.

A polygon of n corners needs at most floor(n/3) guards (Chvátal 1975; Fisk 1978), and one with h holes, n
corners in all, floor((n + h)/3) (Hoffmann, Kaufmann and Kriegel 1991); Chvátal's comb needs floor(n/3). All
three from memory.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from shapely import Polygon

from geometry import Patch, Settings, fit
from geometry.fit import Fit
from tests.zoo.patches import ZOO

FINE = Settings(edge_margin=0.0, gap=2.0, visible_width=2.0, divide=True)
SHAPES = (
    "ell", "u", "spiral", "comb", "ring", "round ring", "plus", "star", "spiky strip", "self-touching",
    "ell, no margin", "ring, no margin", "two holes", "hole touching the seam", "cut tip",
    "hourglass in two", "hourglass in three",
)  # fmt: skip
ANIMALS = {animal.name: animal for animal in ZOO}


def guards(patch: Patch) -> int:
    """The most that are ever needed."""
    corners = len(patch.outline) + sum(len(hole) for hole in patch.holes)
    return max(1, (corners + len(patch.holes)) // 3)


def assert_guarded(patch: Patch, settings: Settings, most: int) -> Fit:
    """No more fans than ``most``, each sees all of its region, and the regions are 99 % of the area.

    Judged with shapely alone: straight lines from the anchors, and offsets of the regions.
    """
    answer = fit(patch, (), settings)
    assert len(answer.fans) <= most
    area = shapely.union_all(list(answer.stitchable))
    if len(answer.fans) == 1:
        assert answer.out_of_sight.share <= 0.01
        return answer
    rng = np.random.default_rng(1)
    near = []
    for fan in answer.fans:
        left, top, right, bottom = fan.region.bounds
        places = rng.uniform((left, top), (right, bottom), (60, 2))
        places = places[shapely.contains_xy(fan.region, places)]
        lines = shapely.linestrings([[fan.anchor, place] for place in places.tolist()])
        assert shapely.covers(fan.region.buffer(1e-6), lines).all()
        near.append(shapely.buffer(fan.region, settings.gap / 2 * 1.0001, join_style="mitre"))
    missed = shapely.difference(area, shapely.union_all(near)).area / area.area
    assert missed <= 0.01
    assert answer.out_of_sight.share <= 0.01
    return answer


@pytest.mark.parametrize("name", SHAPES)
def test_known_shapes(name: str) -> None:
    animal = ANIMALS[name]
    patch = Patch(animal.outline, animal.holes)
    assert_guarded(patch, Settings(**animal.settings, divide=True), guards(patch))


def comb(teeth: int, tooth: float, hall: float, lean: float) -> list[tuple[float, float]]:
    """Chvátal's comb: three corners a tooth."""
    points = [(0.0, 0.0)]
    for k in range(teeth):
        x = 100.0 * k
        points += [(x, hall)] if k else []
        points.append((x + tooth / 2 + lean, hall + 300))
        points += [(x + tooth, hall)] if k < teeth - 1 else []
    return [*points, (100.0 * (teeth - 1) + tooth, 0.0)]


@pytest.mark.parametrize("teeth", [2, 3, 4, 5, 7, 9])
@pytest.mark.parametrize(("tooth", "hall", "lean"), [(30, 40, 0), (8, 20, 0), (60, 30, 80)])
def test_chvatals_comb_takes_exactly_one_for_each_tooth(
    teeth: int, tooth: float, hall: float, lean: float
) -> None:
    patch = Patch(comb(teeth, tooth, hall, lean))
    assert guards(patch) == teeth
    assert len(assert_guarded(patch, FINE, teeth).fans) == teeth


def grown(rng: np.random.Generator, corners: int) -> np.ndarray:
    """A random polygon of so many corners or fewer: triangles put together side by side."""
    cloud = shapely.MultiPoint(rng.uniform(0, 1000, (60, 2)))
    triangles = [t for t in shapely.get_parts(shapely.delaunay_triangles(cloud)) if t.area > 300]
    polygon = triangles.pop(int(rng.integers(len(triangles))))
    while shapely.get_num_coordinates(polygon) - 1 < corners:
        for k in rng.permutation(len(triangles)).tolist():
            more: Any = shapely.union(polygon, triangles[k])
            fits = more.geom_type == "Polygon" and not more.interiors
            if fits and shapely.get_num_coordinates(more) == shapely.get_num_coordinates(polygon) + 1:
                polygon = more
                del triangles[k]
                break
        else:
            break
    return shapely.get_coordinates(polygon)[:-1]


@pytest.mark.parametrize("seed", range(12))
def test_random_polygons(seed: int) -> None:
    rng = np.random.default_rng(seed)
    for corners in (6, 9, 12, 18, 27):
        patch = Patch(grown(rng, corners))
        assert_guarded(patch, FINE, guards(patch))


def test_where_the_largest_first_is_one_too_many() -> None:
    """Found by trial: taking what sees most first, exactly, leaves one more pocket than the bound allows."""
    for ring in (
        [(816.5, 820.4), (850.5, 753.6), (820.3, 650.3), (782.2, 727.3), (710.0, 801.0), (586.3, 663.0),
         (672.2, 857.6), (759.5, 794.5)],
        [(582.9, 81.6), (706.0, 195.8), (720.6, 121.5), (859.4, 140.4), (842.0, 167.5), (943.8, 331.5),
         (843.7, 19.6), (731.3, 67.4), (716.5, 50.3)],
    ):  # fmt: skip
        patch = Patch(ring)
        assert_guarded(patch, FINE, guards(patch))


@pytest.mark.parametrize(
    ("name", "fans", "room"),
    [("ell", 1, 40), ("u", 2, 30), ("spiral", 4, 5), ("comb", 6, 8), ("ring", 2, 30)],
)
def test_bent_shapes_take_few_fans_and_their_anchors_stand_free(name: str, fans: int, room: float) -> None:
    """Fewest by hand: a leg, a tooth or a turn that no place sees together with another takes its own."""
    animal = ANIMALS[name]
    settings = Settings(**animal.settings, divide=True)
    answer = assert_guarded(Patch(animal.outline, animal.holes), settings, fans)
    assert len(answer.fans) == fans
    for fan in answer.fans:  # not pressed against an edge, where it takes wedges apart
        assert shapely.distance(fan.region.boundary, shapely.Point(fan.anchor)) > room


@pytest.mark.parametrize("seed", range(6))
def test_random_holes(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    outline = np.array([(0, 0), (600, 0), (600, 500), (0, 500)], dtype=float)
    holes: list[np.ndarray] = []
    while len(holes) < 1 + seed % 4:
        turn = np.sort(rng.uniform(0, 2 * np.pi, 5))
        hole = rng.uniform((90, 90), (510, 410)) + 60 * np.column_stack([np.cos(turn), np.sin(turn)])
        if all(Polygon(hole).distance(Polygon(other)) > 15 for other in holes):
            holes.append(hole)
    patch = Patch(outline, holes)
    assert_guarded(patch, FINE, guards(patch))
