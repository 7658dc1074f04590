"""Sides of a ring: arcs judged by the circle's own equation, the rest by figures worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from app.sketch.modes.reshape import handles
from app.sketch.modes.sides import (
    bow_of,
    length_of,
    middle_of_run,
    middles_of,
    pulled,
    run_of,
    side_with,
    sides_of,
    with_bow,
    with_length,
)

SQUARE = np.array([(0.0, 0.0), (200.0, 0.0), (200.0, 200.0), (0.0, 200.0)])


@pytest.mark.parametrize("bow", [-120.0, -3.0, 0.1, 5.0, 60.0, 100.0, 150.0])
@pytest.mark.parametrize("number", [0, 1, 2, 3])
def test_a_curved_side_stays_one_side_between_two_corners(bow: float, number: int) -> None:
    """Also where it goes on smoothly from its neighbour, as half a circle on a square does."""
    ring = with_bow(SQUARE, sides_of(SQUARE)[number], bow)
    assert len(sides_of(ring)) == 4
    assert sorted(map(tuple, ring[list(handles(ring))].tolist())) == sorted(map(tuple, SQUARE.tolist()))
    bows = [bow_of(run_of(ring, side)) for side in sides_of(ring)]
    assert sorted(bows, key=abs)[:3] == [0.0, 0.0, 0.0]
    assert max(bows, key=abs) == pytest.approx(bow, abs=1e-6)
    curved = next(side for side in sides_of(ring) if bow_of(run_of(ring, side)))
    straight = with_bow(ring, curved, 0.0)
    assert shapely.equals(shapely.Polygon(straight), shapely.Polygon(SQUARE))
    turn = np.array([[0.6, -0.8], [0.8, 0.6]]) * 1.7
    assert len(sides_of(ring @ turn.T + 4000.0)) == 4, "also turned, scaled and far away"


def test_half_a_circle_is_as_large_as_it_should_be() -> None:
    ring = with_bow(SQUARE, sides_of(SQUARE)[0], 100.0)
    circle = math.pi * 100.0**2 / 2
    assert shapely.Polygon(ring).area == pytest.approx(200.0**2 + circle, rel=1e-3)


def test_two_curved_sides_beside_each_other_keep_their_corner() -> None:
    ring = with_bow(SQUARE, sides_of(SQUARE)[0], 30.0)
    ring = with_bow(ring, sides_of(ring)[1], 30.0)
    assert [round(bow_of(run_of(ring, side)), 6) for side in sides_of(ring)] == [30.0, 30.0, 0.0, 0.0]


def test_pulling_a_side_keeps_every_angle() -> None:
    slanted = np.array([(0.0, 0.0), (200.0, 0.0), (160.0, 100.0), (40.0, 100.0)])
    top = pulled(slanted, sides_of(slanted)[0], 20.0)
    # The neighbours lean by 40 in 100: 20 out are 8 more at either end.
    assert top == pytest.approx(np.array([(-8.0, -20.0), (208.0, -20.0), (160.0, 100.0), (40.0, 100.0)]))
    inwards = pulled(slanted, sides_of(slanted)[2], -10.0)
    assert inwards == pytest.approx(np.array([(0.0, 0.0), (200.0, 0.0), (164.0, 90.0), (36.0, 90.0)]))


def test_pulling_a_curved_side_keeps_its_shape() -> None:
    ring = with_bow(SQUARE, sides_of(SQUARE)[1], 30.0)
    side = sides_of(ring)[1]
    assert pulled(ring, side, 12.0) - ring == pytest.approx(
        np.where((ring[:, :1] >= 200.0) & [True, False], 12.0, 0.0)
    )


def test_a_typed_length_is_met_and_a_square_angle_stays_square() -> None:
    longer = with_length(SQUARE, sides_of(SQUARE)[0], 111.125)
    assert longer.tolist() == [[0.0, 0.0], [111.125, 0.0], [111.125, 200.0], [0.0, 200.0]]
    kite = np.array([(0.0, 0.0), (100.0, -30.0), (150.0, 90.0)])
    side = sides_of(kite)[1]
    result = with_length(kite, side, 200.0)
    assert length_of(run_of(result, side)) == pytest.approx(200.0)
    assert result[:2].tolist() == kite[:2].tolist()


def test_the_length_of_a_curved_side_is_along_the_curve() -> None:
    ring = with_bow(SQUARE, sides_of(SQUARE)[0], 40.0)
    side = sides_of(ring)[0]
    result = with_length(ring, side, 300.0)
    assert length_of(run_of(result, side)) == pytest.approx(300.0)
    before = run_of(ring, side)
    grown = 300.0 / length_of(before)
    assert bow_of(run_of(result, side)) == pytest.approx(40.0 * grown)


def test_all_middles_at_once_are_those_of_each_side() -> None:
    ring = np.roll(with_bow(SQUARE, sides_of(SQUARE)[1], 70.0), 5, axis=0)
    middles, lengths = middles_of(ring)
    runs = [run_of(ring, side) for side in sides_of(ring)]
    assert middles == pytest.approx(np.array([middle_of_run(run) for run in runs]))
    assert lengths == pytest.approx([length_of(run) for run in runs])


def test_which_side_a_piece_belongs_to() -> None:
    ring = with_bow(SQUARE, sides_of(SQUARE)[3], 40.0)
    sides = sides_of(ring)
    assert side_with(ring, 0) == sides[0]
    assert {side_with(ring, piece) for piece in range(3, len(ring))} == {sides[3]}
    angle = np.arange(64) / 64 * 2 * np.pi
    circle = 50 * np.column_stack([np.cos(angle), np.sin(angle)])
    assert sides_of(circle) == ()
    assert side_with(circle, 5) is None
