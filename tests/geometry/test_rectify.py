"""Photos squared up: cameras of our own, drawn and found again."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from geometry.rectify import RectifyError, rectify
from geometry.types import Points

BLOCK = np.array([(0.0, 0.0), (304.8, 0.0), (304.8, 304.8), (0.0, 304.8)])


def a_camera(chance: np.random.Generator) -> np.ndarray:
    """(3, 4) of a camera half a metre to a metre from the cloth, looking at it, up to 50° aslant."""
    tilt, turn, roll = chance.uniform(0, math.radians(50)), *chance.uniform(0, 2 * math.pi, 2)
    axis = np.array([math.cos(turn), math.sin(turn), 0.0])
    cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    lean = np.eye(3) + math.sin(tilt) * cross + (1 - math.cos(tilt)) * cross @ cross
    spin = np.array([[math.cos(roll), -math.sin(roll), 0], [math.sin(roll), math.cos(roll), 0], [0, 0, 1]])
    rotation = spin @ lean
    centre = np.array([150.0, 150.0, 0.0])
    place = np.array([0.0, 0.0, chance.uniform(600, 1200)]) - rotation @ centre
    lens = np.array([(3000.0, 0.0, 2000.0), (0.0, 3000.0, 1500.0), (0.0, 0.0, 1.0)])
    return lens @ np.column_stack([rotation, place])


def taken(camera: np.ndarray, places: Points) -> Points:
    at = np.column_stack([places, np.zeros(len(places)), np.ones(len(places))]) @ camera.T
    return at[:, :2] / at[:, 2:]


@pytest.mark.parametrize("seed", range(50))
def test_four_places_square_up_all_others(seed: int) -> None:
    chance = np.random.default_rng(seed)
    camera, others = a_camera(chance), chance.uniform(-100, 400, (30, 2))
    found = rectify(taken(camera, BLOCK), BLOCK)
    assert found.on_cloth(taken(camera, others)) == pytest.approx(others, abs=1e-6)
    assert found.in_photo(others) == pytest.approx(taken(camera, others), abs=1e-6)
    assert found.misfits == (0, 0, 0, 0)


@pytest.mark.parametrize("seed", range(20))
def test_more_places_are_balanced_in_the_photo(seed: int) -> None:
    """scipy's balance of the same sum of squares, begun at the true camera, leaves no less."""
    chance = np.random.default_rng(seed)
    camera, places = a_camera(chance), chance.uniform(0, 300, (9, 2))
    clicks = taken(camera, places) + chance.normal(0, 2.0, places.shape)
    found = rectify(clicks, places)

    def off(flat: Points) -> Points:
        h = np.append(flat, 1.0).reshape(3, 3)
        at = np.column_stack([places, np.ones(9)]) @ h.T
        return (at[:, :2] / at[:, 2:] - clicks).ravel()

    true = camera[:, [0, 1, 3]] / camera[2, 3]
    least = 2 * least_squares(off, true.ravel()[:8], x_scale="jac", xtol=1e-15, ftol=1e-15, gtol=1e-15).cost
    assert ((found.in_photo(places) - clicks) ** 2).sum() == pytest.approx(least, rel=1e-7)
    assert found.misfits == pytest.approx(np.hypot(*(found.on_cloth(clicks) - places).T), abs=1e-9)


def test_a_place_told_wrong_has_the_greatest_misfit() -> None:
    chance = np.random.default_rng(1)
    camera = a_camera(chance)
    places = np.array([(x, y) for x in (0.0, 150.0, 300.0) for y in (0.0, 150.0, 300.0)])
    told = places.copy()
    told[4] += (25.4, 0.0)
    assert int(np.argmax(rectify(taken(camera, places), told).misfits)) == 4


def test_a_pixel_covers_more_where_the_cloth_is_farther() -> None:
    pixels = np.array([(400.0, 200.0), (1200.0, 200.0), (1600.0, 1200.0), (0.0, 1200.0)])
    found = rectify(pixels, BLOCK)
    assert found.mm_per_pixel((800.0, 1100.0)) == pytest.approx(304.8 / 1520, rel=0.2)
    assert found.mm_per_pixel((800.0, 210.0)) > 1.5 * found.mm_per_pixel((800.0, 1100.0))
    beyond = found.on_cloth(np.array([(800.0, -3000.0)]))
    assert np.isnan(beyond).all(), "above the horizon there is no cloth"


@pytest.mark.parametrize(
    ("pixels", "places", "words"),
    [
        (BLOCK[:3], BLOCK[:3], "show four"),
        (BLOCK, BLOCK[:3], "both for every place"),
        (BLOCK * math.nan, BLOCK, "finite"),
        ([(0, 0), (5, 5), (10, 10), (0, 9)], BLOCK, "photo: places 1, 2, 3 lie in one line"),
        (BLOCK, [(0, 0), (5, 0), (10, 0), (0, 9)], "cloth: places 1, 2, 3 lie in one line"),
        (BLOCK[[0, 2, 1, 3]], BLOCK, "same order"),
        ([(k, 2 * k) for k in range(6)], [(k, k * k) for k in range(6)], "all places lie in one line"),
        ("here", BLOCK, "pairs"),
    ],
)
def test_places_that_fix_nothing(pixels: object, places: object, words: str) -> None:
    with pytest.raises(RectifyError) as caught:
        rectify(pixels, places)
    assert words in str(caught.value)


def test_mirrored_in_the_photo_is_fine() -> None:
    """A photo may be taken from the back or flipped by its program; the order then runs the other way."""
    found = rectify(BLOCK[::-1], BLOCK)
    assert found.on_cloth(BLOCK[::-1]) == pytest.approx(BLOCK, abs=1e-9)
