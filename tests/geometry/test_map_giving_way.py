"""Giving way by bounds, of many anchors, against ``giving_way``, which solves every pair."""

from __future__ import annotations

import math

import numpy as np
import pytest

from geometry import Patch, Settings
from geometry.fan_map import FanMap
from geometry.giving_way import turned_back
from geometry.ground import ground_of
from geometry.map_giving_way import GivingWay
from geometry.sectors import Sectors
from geometry.triangulation import see_from_all
from tests.outside.shapes import counties
from tests.zoo.patches import box, circle


def teeth(count: int, deep: float) -> Patch:
    turn = np.linspace(0, 2 * math.pi, count, endpoint=False)
    far = np.where(np.arange(count) % 2, 200.0, 200.0 - deep)
    return Patch(np.column_stack([far * np.cos(turn), far * np.sin(turn)]))


SHAPES = {
    "county 3": Patch(*counties()[3]),
    "county 40": Patch(*counties()[40]),
    "even teeth": teeth(240, 20.0),
    "a ring": Patch(circle(0, 0, 150, 90), [box(-60, -50, 20, 50)]),
}


def sectors_of(patch: Patch, places: int) -> Sectors:
    settings = Settings(edge_margin=0.0, spans_per_side=1)
    ground = ground_of(patch, settings)
    fans = FanMap(ground.parts[0], ground.marked[0])
    left, top, right, bottom = patch.polygon.bounds
    at = np.random.default_rng(5).uniform((left, top), (right, bottom), (places, 2))
    at = np.concatenate([at, [patch.centre]])
    at = at[fans.inside(at)]
    sectors = fans._cuts.sectors(see_from_all(fans._area, at), at)
    assert sectors is not None
    return sectors


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("gap", [0.0, 0.5, 6.35, 40.0])
def test_the_same_are_left_and_turn_back_as_far(name: str, gap: float) -> None:
    sectors = sectors_of(SHAPES[name], 40)
    turn_start, turn_stop, alive = turned_back(sectors, gap)
    way = GivingWay(sectors, gap)
    np.testing.assert_array_equal(way.alive, alive)
    left = alive.nonzero()[0]
    turns = np.stack([turn_start, turn_stop])[:, left]
    assert (way.least[:, left] <= turns + 1e-12).all()
    assert (turns <= way.most[:, left] + 1e-12).all()
    if 0 < gap < 10:
        assert (way.least[:, left] < way.most[:, left]).any()  # or the bounds are no bounds
    before, after = way.across(left)
    way.solve(left)
    np.testing.assert_allclose(way.least[:, left], turns, atol=1e-12)
    np.testing.assert_allclose(way.most[:, left], turns, atol=1e-12)
    low, high = way.across(left)
    assert (before <= low).all()
    assert (high <= after).all()
