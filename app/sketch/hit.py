"""What lies under the pointer. All distances in mm; the caller turns its reach in pixels into mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometry.types import Point, Points


@dataclass(frozen=True, slots=True)
class CornerHit:
    """A corner of an outline."""

    ring: int
    """0 is the outline, 1 the first hole."""
    index: int
    at: Point


@dataclass(frozen=True, slots=True)
class SideHit:
    """A place on a straight piece of an outline."""

    ring: int
    index: int
    """The piece runs from this point of the ring to the next."""
    at: Point
    """The nearest place on it."""


def distance(a: Point, b: Point) -> float:
    """mm."""
    return math.hypot(a[0] - b[0], a[1] - b[1])


def nearest_corner(
    point: Point, rings: Sequence[Points], reach: float, among: Sequence[Sequence[int]] | None = None
) -> CornerHit | None:
    """The nearest point of ``rings`` within ``reach`` (ends included), or None.

    ``among`` gives, ring by ring, which points may be hit; without it all may.
    """
    best: CornerHit | None = None
    least = reach
    for number, ring in enumerate(rings):
        allowed = np.asarray(among[number], dtype=np.intp) if among is not None else np.arange(len(ring))
        if not len(allowed):
            continue
        apart = np.hypot(ring[allowed, 0] - point[0], ring[allowed, 1] - point[1])
        first = int(np.argmin(apart))
        if apart[first] <= least:
            least = float(apart[first])
            index = int(allowed[first])
            best = CornerHit(number, index, (float(ring[index, 0]), float(ring[index, 1])))
    return best


def nearest_on_side(point: Point, rings: Sequence[Points], reach: float) -> SideHit | None:
    """The nearest place on the sides of ``rings`` within ``reach`` (ends included), or None."""
    best: SideHit | None = None
    least = reach
    for number, ring in enumerate(rings):
        start = ring
        run = np.roll(ring, -1, axis=0) - start
        squared = np.einsum("ij,ij->i", run, run)
        along = np.einsum("ij,ij->i", np.asarray(point) - start, run)
        share = np.clip(np.divide(along, squared, out=np.zeros_like(along), where=squared > 0), 0.0, 1.0)
        places = start + share[:, None] * run
        apart = np.hypot(places[:, 0] - point[0], places[:, 1] - point[1])
        first = int(np.argmin(apart))
        if apart[first] <= least:
            least = float(apart[first])
            best = SideHit(number, first, (float(places[first, 0]), float(places[first, 1])))
    return best
