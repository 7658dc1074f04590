"""Published figures for shapes measured by sides and diagonals."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from geometry.tape import Measure, patch_from_tape


def test_sides_and_one_diagonal() -> None:
    """Area 9.7997 (published worked example, ../shared/outside_checks.md)."""
    sides = [(0, 1, 3.0), (1, 2, 4.0), (2, 3, 4.0), (3, 0, 2.0), (0, 2, 5.0)]
    taped = patch_from_tape(4, [Measure(*each) for each in sides])
    assert shapely.Polygon(taped.outline).area == pytest.approx(9.7997, abs=5e-5)


@pytest.mark.parametrize(
    ("sides", "angles"), [((14.0, 19.0, 20.0), (72.8,)), ((5.0, 8.0, 12.0), (17.61, 28.96, 133.43))]
)
def test_three_sides_give_the_angles(sides: tuple[float, ...], angles: tuple[float, ...]) -> None:
    """Published worked examples (../shared/outside_checks.md)."""
    a, b, c = sides
    taped = patch_from_tape(3, [Measure(0, 1, a), Measure(1, 2, b), Measure(2, 0, c)])
    found = []
    for k in range(3):
        one, other = (taped.corners[k - 1] - taped.corners[k], taped.corners[(k + 1) % 3] - taped.corners[k])
        found.append(math.degrees(math.acos(one @ other / (np.hypot(*one) * np.hypot(*other)))))
    for angle in angles:
        digits = len(str(angle).split(".")[1])
        assert any(round(each, digits) == angle for each in found)


def test_thirteen_fourteen_fifteen() -> None:
    """Area 84 (Heron's own example; from memory)."""
    taped = patch_from_tape(3, [Measure(0, 1, 13.0), Measure(1, 2, 14.0), Measure(2, 0, 15.0)])
    assert shapely.Polygon(taped.corners).area == pytest.approx(84.0, rel=1e-12)
