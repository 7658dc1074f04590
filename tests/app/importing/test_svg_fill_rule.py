"""What rings enclose by a fill rule, against winding numbers added up apart."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from app.importing.fill_rule import FillRule, TangledError, polygons
from tests.app.importing.svg_drawings import drawing, load


def test_subpaths_make_holes_and_parts_by_the_fill_rule(tmp_path: Path) -> None:
    outer, inner, island = "M0 0H90V90H0Z", "M20 20H70V70H20Z", "M40 40H50V50H40Z"
    turned = "M20 20V70H70V20Z"

    def shape(data: str, rule: str) -> list[tuple[float, int]]:
        found = load(tmp_path, drawing(f'<path id="a" fill-rule="{rule}" d="{data}"/>'))
        return sorted((patch.polygon.area, len(patch.holes)) for _, patch in found.patches)

    assert shape(outer + inner, "evenodd") == [(8100 - 2500, 1)]
    assert shape(outer + inner, "nonzero") == [(8100, 0)]
    assert shape(outer + turned, "nonzero") == [(8100 - 2500, 1)]
    assert shape(outer + turned + island, "nonzero") == [(100, 0), (8100 - 2500, 1)]
    assert shape(outer + inner + island, "evenodd") == [(100, 0), (8100 - 2500, 1)]
    assert shape("M0 0H9V9H0ZM20 0H29V9H20Z", "nonzero") == [(81, 0), (81, 0)]
    assert shape(outer + outer, "nonzero") == [(8100, 0)]


def _winding_number(point: np.ndarray, ring: np.ndarray) -> int:
    """How often a ring goes around a point: the angles of its corners as seen from there, added up."""
    arms = ring - point
    after = np.roll(arms, -1, axis=0)
    cross = arms[:, 0] * after[:, 1] - arms[:, 1] * after[:, 0]
    return round(float(np.arctan2(cross, (arms * after).sum(axis=1)).sum() / math.tau))


@pytest.mark.parametrize("seed", range(12))
def test_the_inside_is_where_the_winding_number_says(seed: int) -> None:
    """Random tangles of up to three rings, on a coarse grid too, where corners and edges meet."""
    rng = np.random.default_rng(seed)
    grid = seed % 2 == 0
    rings = [rng.uniform(0, 12, (rng.integers(3, 9), 2)) for _ in range(rng.integers(1, 4))]
    if grid:
        rings = [np.round(ring) for ring in rings]
    # half a thousandth off the grid, so that no probe lies on a line of it
    probes = np.array(list(itertools.product(np.arange(0.2505, 12, 0.5), repeat=2)))
    turns = np.array([sum(_winding_number(probe, ring) for ring in rings) for probe in probes])
    lines = shapely.union_all([shapely.linearrings(ring) for ring in rings])
    clear = shapely.distance(lines, shapely.points(probes)) > 1e-9
    for rule, inside in ((FillRule.NONZERO, turns != 0), (FillRule.EVENODD, turns % 2 == 1)):
        parts = polygons(rings, rule)
        assert all(part.is_valid for part in parts)
        found = shapely.contains_xy(shapely.union_all(parts), probes)
        np.testing.assert_array_equal(found[clear], inside[clear])
        assert sum(part.area for part in parts) == pytest.approx(shapely.union_all(parts).area)


def test_a_comb_cut_across_its_teeth_is_a_tangle() -> None:
    """Thousands of parts, each with thousands of edges beside it; of 20 teeth 20 tops, 19 gaps, two ends."""
    x, y = np.repeat(np.arange(6000) * 0.001, 2), np.tile([0.0, 9.0, 9.0, 0.0], 3000)
    ring = np.column_stack([x, y])
    across = [[6.0, 4.5], [-1.0, 4.5]]
    assert len(polygons([np.vstack([ring[:80], across])], FillRule.NONZERO)) == 41
    with pytest.raises(TangledError):
        polygons([np.vstack([ring, across])], FillRule.NONZERO)
