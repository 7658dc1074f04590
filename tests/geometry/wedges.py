"""Wedges made from nothing but a side, for the tests of what goes inside them; and a square patch."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np

from geometry import Patch
from geometry.fan import Wedge

INCH = 25.4


def square(size: float) -> Patch:
    """From the origin, ``size`` mm wide."""
    return Patch([(0, 0), (size, 0), (size, size), (0, size)])


def wedge_of(side: Any, anchor: tuple[float, float] = (0.0, 0.0), number: int = 1) -> Wedge:
    """The wedge from ``anchor`` to ``side`` (n, 2), clockwise on screen; its figures worked out here."""
    points = np.asarray(side, dtype=float)
    legs = points - anchor
    turn = np.unwrap(np.arctan2(legs[:, 1], legs[:, 0]))
    apex = float(turn[-1] - turn[0])
    assert apex > 0, "the side has to run clockwise"
    length = float(sum(math.dist(p, q) for p, q in pairwise(points.tolist())))
    near = min(math.dist(points[0], anchor), math.dist(points[-1], anchor))
    across = near * (math.sin(apex) if apex < math.pi / 2 else 1.0)
    outline = np.vstack([anchor, points, anchor])
    return Wedge(number, outline, points, ("A1", "A2"), length, across, apex)


def bent_sides(count: int, seed: int) -> list[np.ndarray]:
    """Sides of all kinds seen from the origin: round, dented, wavy, ragged, grazing."""
    chance = np.random.default_rng(seed)
    sides = []
    for k in range(count):
        apex, size = chance.uniform(0.15, 2.9), int(chance.integers(3, 40))
        t = np.linspace(0, apex, size)
        kind = k % 5
        if kind == 0:
            r = np.full(size, 100.0)
        elif kind == 1:
            r = 100 - 40 * np.sin(math.pi * t / apex)
        elif kind == 2:
            waves, phase = chance.uniform(2, 30), chance.uniform(0, 6)
            r = 100 * (1 + chance.uniform(0.02, 0.3) * np.sin(waves * t + phase))
        elif kind == 3:
            t = np.sort(np.concatenate([[0, apex], chance.uniform(0, apex, size - 2)]))
            r = 100 * (1 + chance.uniform(0.001, 0.4) * chance.standard_normal(size).clip(-2, 2) / 2)
        else:
            r = 20 * np.exp(t * chance.uniform(0.5, 3) / apex)
        t = t + chance.uniform(0, 6.28)
        sides.append(np.column_stack([r * np.cos(t), r * np.sin(t)]))
    return sides
