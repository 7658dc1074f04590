"""Arcs, judged by the circle's own equation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from geometry.arc import arc
from geometry.tolerances import FLATTEN


@pytest.mark.parametrize("bow", [0.06, 1.0, 17.0, 99.0, 100.0, 260.0, -40.0, -0.3])
def test_an_arc_lies_on_its_circle_and_its_chords_within_the_tolerance(bow: float) -> None:
    run = np.vstack([[0.0, 0.0], arc((0.0, 0.0), (200.0, 0.0), bow), [200.0, 0.0]])
    radius = (100.0**2 + bow**2) / (2 * abs(bow))
    # Away from the patch is up on screen, y less than 0, for a side that runs to the right.
    centre = np.array([100.0, -bow + math.copysign(radius, bow)])
    assert np.hypot(*(run - centre).T) == pytest.approx(radius, rel=1e-9)
    chords = (run[1:] + run[:-1]) / 2
    assert (radius - np.hypot(*(chords - centre).T)).max() <= FLATTEN + 1e-9
    assert run[len(run) // 2] == pytest.approx((100.0, -bow), abs=1e-6)


def test_less_than_the_tolerance_is_straight() -> None:
    assert len(arc((0.0, 0.0), (200.0, 0.0), 0.04)) == 0
