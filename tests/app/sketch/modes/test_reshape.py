"""Corners of curved patches: which can be taken hold of, and what goes along with them."""

from __future__ import annotations

import numpy as np
import pytest

from app.sketch.modes.reshape import handles, moved
from tests.app.sketch.modes.bench import SQUARE


def half_disc(steps: int = 40, radius: float = 80.0) -> np.ndarray:
    angle = np.linspace(0, np.pi, steps + 1)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def test_only_corners_of_a_curved_patch_are_handles() -> None:
    ring = half_disc()
    assert handles(ring) == (0, 40)
    assert len(handles(ring, scale=30.0)) == 41, "zoomed in, every point can be taken hold of"
    assert handles(np.array(SQUARE)) == (0, 1, 2, 3)


def test_a_curved_side_keeps_its_curve() -> None:
    ring = half_disc()
    far = moved(ring, 0, (130.0, 20.0), handles(ring))
    assert tuple(far[0]) == (130.0, 20.0)
    assert tuple(far[40]) == tuple(ring[40])
    # Still half a circle: every point sees the chord at a right angle (Thales).
    a, b = far[0] - far[1:40], far[40] - far[1:40]
    assert np.einsum("ij,ij->i", a, b) == pytest.approx(0, abs=1e-9)
