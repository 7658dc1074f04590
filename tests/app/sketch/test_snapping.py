"""What a moving point catches; figures worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.sketch.hit import nearest_corner, nearest_on_side
from app.sketch.snapping import (
    Caught,
    Snap,
    Target,
    grid_step,
    lines_while_drawing,
    lines_while_shaping,
    to_drawing,
    to_targets,
)

CORNERS = ((0.0, 0.0), (100.0, 0.0))
place = st.tuples(st.floats(-300, 300), st.floats(-300, 300))


def test_the_nearest_target_within_reach_catches_ends_included() -> None:
    targets = [Target((0, 0), Caught.CORNER), Target((10, 0), Caught.MIDDLE)]
    assert to_targets((7, 0), targets, 3.0) == Snap((10, 0), Caught.MIDDLE)
    assert to_targets((7, 0), targets, 2.99) == Snap((7, 0))
    assert to_targets((7, 0), [], 99.0) == Snap((7, 0))


def test_square_to_the_last_side() -> None:
    snap = to_drawing((101.0, 60.0), (), lines_while_drawing(CORNERS), 3.0)
    assert snap.at == (100.0, 60.0)
    assert snap.what is Caught.SQUARE
    assert snap.guides == (((100.0, 0.0), (100.0, 60.0)),)


def test_straight_on_from_a_slanting_side() -> None:
    lines = lines_while_drawing(((0.0, 0.0), (30.0, 40.0)))
    snap = to_drawing((61.0, 79.5), (), lines, 3.0)
    assert snap.what is Caught.SQUARE
    # On the line through (0, 0) with slope 4/3; (60, 80) less the part across it.
    assert snap.at[1] / snap.at[0] == pytest.approx(4 / 3)
    assert math.dist(snap.at, (61.0, 79.5)) == pytest.approx(abs(61 * 4 - 79.5 * 3) / 5)


def test_two_lines_that_cross_catch_their_crossing() -> None:
    corners = (*CORNERS, (100.0, 80.0))
    snap = to_drawing((1.5, 81.0), (), lines_while_drawing(corners), 3.0)
    assert snap.at == (0.0, 80.0)
    assert {guide[1] for guide in snap.guides} == {(0.0, 80.0)}
    assert len(snap.guides) == 2


def test_lengths_along_a_line_come_in_steps_of_the_grid() -> None:
    snap = to_drawing((100.4, 51.0), (), lines_while_drawing(CORNERS), 3.0, grid=25.4)
    assert snap.at == pytest.approx((100.0, 50.8))


def test_places_come_before_lines_and_lines_before_the_grid() -> None:
    lines = lines_while_drawing(CORNERS)
    target = Target((101.0, 51.0), Caught.CORNER)
    assert to_drawing((100.2, 50.9), [target], lines, 3.0, grid=1.0).what is Caught.CORNER
    assert to_drawing((100.2, 50.9), [], lines, 3.0, grid=1.0).what is Caught.SQUARE
    assert to_drawing((50.2, 50.9), [], lines, 0.5, grid=1.0) == Snap((50.0, 51.0), Caught.GRID)


def test_a_side_catches() -> None:
    square = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])
    assert to_drawing((4.0, 1.0), (), (), 2.0, sides=[square]) == Snap((4.0, 0.0), Caught.SIDE)


@given(place, st.lists(place, max_size=6), st.floats(0.01, 20))
def test_nothing_moves_further_than_the_reach_allows(
    point: tuple[float, float], corners: list[tuple[float, float]], reach: float
) -> None:
    snap = to_drawing(point, (), lines_while_drawing(corners), reach, grid=6.35)
    moved = math.dist(snap.at, point)
    # One line and the grid along it, or two lines at up to √2 reaches.
    assert moved <= reach * math.sqrt(2) + 1e-6
    assert snap.what is not None or moved == 0


@given(place, st.lists(place, min_size=3, max_size=6, unique=True))
def test_without_reach_only_the_point_itself(
    point: tuple[float, float], corners: list[tuple[float, float]]
) -> None:
    snap = to_drawing(point, (), lines_while_drawing(corners), 0.0)
    assert math.dist(snap.at, point) < 1e-9


def test_while_shaping_the_neighbours_give_square_angles() -> None:
    ring = np.array([[0.0, 0], [100, 0], [90, 70], [0, 80]])
    snap = to_drawing((101.0, 79.0), (), lines_while_shaping(ring, 2), 3.0)
    assert snap.at == pytest.approx((100.0, 80.0))


@pytest.mark.parametrize(
    ("scale", "metric", "step"),
    [(2.0, False, 6.35), (4.0, False, 3.175), (0.4, False, 50.8), (2.0, True, 10.0), (12.0, True, 1.0)],
)
def test_the_grid_keeps_its_lines_apart(scale: float, metric: bool, step: float) -> None:
    assert grid_step(scale, metric=metric) == pytest.approx(step)


def test_hits() -> None:
    square = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])
    hole = np.array([[4.0, 4], [6, 4], [6, 6]])
    hit = nearest_corner((6.4, 6.0), [square, hole], 0.5)
    assert hit is not None
    assert (hit.ring, hit.index, hit.at) == (1, 2, (6.0, 6.0))
    assert nearest_corner((6.6, 6.0), [square, hole], 0.5) is None
    assert nearest_corner((0.1, 0.0), [square], 1.0, [[1, 2]]) is None
    side = nearest_on_side((0.5, 4.0), [square, hole], 0.5)
    assert side is not None
    assert (side.ring, side.index, side.at) == (0, 3, (0.0, 4.0))
