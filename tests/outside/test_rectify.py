"""Four known points to a rectangle: published figures, and the same by a library."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.transform import ProjectiveTransform

from geometry.rectify import rectify

# scikit-image's rectification tutorial (../shared/outside_checks.md, read; two libraries agree)
PIXELS = np.array([(129.0, 72.0), (302.0, 76.0), (90.0, 185.0), (326.0, 193.0)])
RECTANGLE = np.array([(0.0, 0.0), (400.0, 0.0), (0.0, 400.0), (400.0, 400.0)])
H = [
    (3.04026872, 1.04929628, -467.743998),
    (-0.144134582, 6.23382067, -430.241727),
    (2.63620673e-5, 4.17694527e-3, 1.0),
]


def test_the_published_matrix() -> None:
    found = rectify(PIXELS, RECTANGLE).to_cloth
    # The figures are printed to nine digits.
    assert found / found[2, 2] == pytest.approx(np.array(H), rel=2e-8)


def test_scikit_image_agrees() -> None:
    other = ProjectiveTransform.from_estimate(PIXELS, RECTANGLE)
    at = np.random.default_rng(1).uniform(80, 340, (50, 2))
    assert rectify(PIXELS, RECTANGLE).on_cloth(at) == pytest.approx(other(at), abs=1e-6)
