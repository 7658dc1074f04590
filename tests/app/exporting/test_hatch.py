from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon

from app.exporting.hatch import hatch_lines, stipple
from app.sketch.palette import Hatch

OUTER = np.array([(0.0, 0.0), (40.0, 0.0), (40.0, 30.0), (20.0, 10.0), (0.0, 30.0)])
INNER = np.array([(5.0, 5.0), (5.0, 9.0), (9.0, 9.0), (9.0, 5.0)])
AREA = Polygon(OUTER, [INNER])
EVERYWHERE = (-100.0, -100.0, 100.0, 100.0)

# Whole numbers, so that corners and level edges lie on the lines of the hatch.
RINGS = st.lists(
    st.tuples(st.integers(-20, 20), st.integers(-20, 20)), min_size=3, max_size=7, unique=True
).filter(lambda points: Polygon(points).is_valid and Polygon(points).area > 1)


def one_way(area: Polygon, spacing: float) -> float:
    """Length of all lines at 45° to whole multiples of the spacing, inside ``area``: by shapely."""
    length = 0.0
    half = math.sqrt(0.5)
    for row in range(-200, 201):
        # The line of all (x, y) with y - x = row · spacing · √2.
        x, y = -half * row * spacing, half * row * spacing
        length += LineString([(x - 400, y - 400), (x + 400, y + 400)]).intersection(area).length
    return length


def length(ends: np.ndarray) -> float:
    return float(np.hypot(*(ends[1::2] - ends[::2]).T).sum())


@pytest.mark.parametrize("spacing", [0.7, 2.0, 3.3])
def test_lines_fill_the_area_and_nothing_else(spacing: float) -> None:
    ends = hatch_lines([OUTER, INNER], Hatch.ONE_WAY, spacing, EVERYWHERE)
    assert length(ends) == pytest.approx(one_way(AREA, spacing), rel=1e-9)
    assert shapely.covers(AREA.buffer(1e-9), shapely.linestrings(ends.reshape(-1, 2, 2))).all()


def test_cross_runs_both_ways_and_one_way_only_one() -> None:
    cross = hatch_lines([OUTER, INNER], Hatch.CROSS, 2.0, EVERYWHERE)
    run = cross[1::2] - cross[::2]
    run = run[np.hypot(*run.T) > 1e-9]  # a corner that touches a line is one too
    assert np.abs(run[:, 0]) == pytest.approx(np.abs(run[:, 1]))
    assert set(np.sign(run[:, 0] * run[:, 1]).tolist()) == {1.0, -1.0}
    one = hatch_lines([OUTER, INNER], Hatch.ONE_WAY, 2.0, EVERYWHERE)
    assert len(cross) > 1.5 * len(one)
    assert length(cross) == pytest.approx(2 * AREA.area / 2.0, rel=0.1)


@settings(deadline=None, max_examples=60)
@given(RINGS, st.sampled_from([1.0, 2.0, 2.5]))
def test_stipple_has_the_dots_of_its_grid_that_lie_inside(
    points: list[tuple[int, int]], spacing: float
) -> None:
    ring = np.array(points, dtype=float)
    area = Polygon(points)
    dots = stipple([ring], spacing, EVERYWHERE)
    assert len(np.unique(np.round(dots, 6), axis=0)) == len(dots)
    rows, columns = np.mgrid[-30:31, -30:31]
    grid = np.stack([(columns + (rows % 2) / 2) * spacing, rows * spacing], axis=-1).reshape(-1, 2)
    inside = shapely.contains_xy(area, *grid.T)
    # A dot on the very edge may be on either side of it.
    sure = shapely.distance(area.boundary, shapely.points(grid)) > 1e-6
    found = {tuple(dot) for dot in np.round(dots, 6).tolist()}
    must = {tuple(dot) for dot in np.round(grid[inside & sure], 6).tolist()}
    may = must | {tuple(dot) for dot in np.round(grid[~sure], 6).tolist()}
    assert must <= found <= may


@settings(deadline=None, max_examples=60)
@given(RINGS)
def test_sheets_continue_each_other(points: list[tuple[int, int]]) -> None:
    ring = np.array(points, dtype=float)
    whole = length(hatch_lines([ring], Hatch.CROSS, 1.3, EVERYWHERE))
    left, right = (-100.0, -100.0, 3.7, 100.0), (3.7, -100.0, 100.0, 100.0)
    parts = [hatch_lines([ring], Hatch.CROSS, 1.3, window) for window in (left, right)]
    assert sum(map(length, parts)) == pytest.approx(whole, abs=1e-6)
    assert (parts[0][:, 0] <= 3.7 + 1e-9).all()
    assert (parts[1][:, 0] >= 3.7 - 1e-9).all()


def test_what_is_out_of_the_window_is_not_made() -> None:
    # A patch of 10 m at the closest zoom: without the window these would be forty million dots.
    far = np.array([(0.0, 0.0), (1e4, 0.0), (1e4, 1e4), (0.0, 1e4)])
    assert 30 < len(stipple([far], 1.6, (50.0, 50.0, 60.0, 60.0))) < 60
    assert stipple([far], 1.6, (-50.0, -50.0, -40.0, -40.0)).shape == (0, 2)
    assert hatch_lines([far], Hatch.CROSS, 1.6, (-50.0, -50.0, -40.0, -40.0)).shape == (0, 2)
    lines = hatch_lines([far], Hatch.CROSS, 1.6, (50.0, 50.0, 60.0, 60.0))
    assert (lines >= 50 - 1e-9).all()
    assert (lines <= 60 + 1e-9).all()


def test_areas_that_lie_apart_are_hatched_at_once() -> None:
    one, two = (
        np.array([(0.0, 0.0), (9.0, 0.0), (4.0, 8.0)]),
        np.array([(20.0, 1.0), (31.0, 3.0), (22.0, 9.0)]),
    )
    both = hatch_lines([one, two], Hatch.ONE_WAY, 1.1, EVERYWHERE)
    apart = [hatch_lines([ring], Hatch.ONE_WAY, 1.1, EVERYWHERE) for ring in (one, two)]
    assert np.sort(both, axis=0) == pytest.approx(np.sort(np.concatenate(apart), axis=0))
