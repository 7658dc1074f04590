"""Sides of a ring, from corner to corner, straight or curved: their length and bow, and what changes them.

A ring is (n, 2) float, mm, open, with its patch on the numerical left; so the normal that points away from
the patch is on the right. A bow is how far the middle of a side stands off its chord, away from the patch
where it is more than 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.sketch.modes.reshape import handles, moved
from geometry.arc import arc, outward
from geometry.types import Point, Points

Floats = NDArray[np.float64]

_ALONG = math.sin(math.radians(10.0))
"""Sine of the angle below which a side's neighbour runs nearly along it: a corner cannot slide on that."""

_SQUARE = math.sin(math.radians(0.5))
"""Cosine of the angle that counts as square."""


@dataclass(frozen=True, slots=True)
class Side:
    """From point ``start`` of a ring to its point ``end``, both corners."""

    ring: int
    start: int
    end: int


def sides_of(ring: Points, number: int = 0) -> tuple[Side, ...]:
    """All sides of a ring, in order; none where it has no two corners, such as a circle."""
    corners = handles(ring)
    if len(corners) < 2:
        return ()
    return tuple(Side(number, a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True))


def side_with(ring: Points, piece: int, number: int = 0) -> Side | None:
    """The side that holds the piece from point ``piece`` to the next."""
    count = len(ring)
    for side in sides_of(ring, number):
        if (piece - side.start) % count < ((side.end - side.start) % count or count):
            return side
    return None


def run_of(ring: Points, side: Side) -> Points:
    """(k, 2) its points from corner to corner."""
    if side.start < side.end:
        return ring[side.start : side.end + 1]
    return np.concatenate([ring[side.start :], ring[: side.end + 1]])


def length_of(run: Points) -> float:
    """mm, along it."""
    return float(np.hypot(*np.diff(run, axis=0).T).sum())


def middle_of_run(run: Points) -> Point:
    """Half way along it."""
    step = np.hypot(*np.diff(run, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(step)])
    half = at[-1] / 2
    return (float(np.interp(half, at, run[:, 0])), float(np.interp(half, at, run[:, 1])))


def middles_of(ring: Points) -> tuple[Points, Floats]:
    """(k, 2) the middles and (k,) the lengths of all ``sides_of`` a ring, at once."""
    corners = np.array(handles(ring))
    if len(corners) < 2:
        return np.zeros((0, 2)), np.zeros(0)
    closed = np.vstack([ring, ring[:1]])
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    start = at[corners]
    lengths = np.append(start[1:], start[0] + at[-1]) - start
    half = (start + lengths / 2) % at[-1]
    return np.column_stack([np.interp(half, at, closed[:, 0]), np.interp(half, at, closed[:, 1])]), lengths


def offset_from(point: Point, start: Point, end: Point) -> float:
    """mm by which ``point`` stands off the chord from ``start`` to ``end``, away from the patch."""
    nx, ny = outward(start, end)
    return (point[0] - start[0]) * nx + (point[1] - start[1]) * ny


def bow_of(run: Points) -> float:
    """mm; 0 where it is straight."""
    return 0.0 if len(run) < 3 else offset_from(middle_of_run(run), place(run[0]), place(run[-1]))


def with_bow(ring: Points, side: Side, bow: float) -> Points:
    """``ring`` with that side an arc, or straight."""
    start, end = ring[side.start], ring[side.end]
    between = arc(place(start), place(end), bow)
    if side.start < side.end:
        return np.concatenate([ring[: side.start + 1], between, ring[side.end :]])
    return np.concatenate([ring[side.end : side.start + 1], between])


def pulled(ring: Points, side: Side, by: float) -> Points:
    """``ring`` with that side moved away from the patch by ``by`` mm, parallel to itself.

    Its corners slide on along its neighbours, so that every angle stays; where a neighbour is curved, or runs
    nearly along the side, they go straight out.
    """
    count, held = len(ring), handles(ring)
    start, end = ring[side.start], ring[side.end]
    normal = np.array(outward(place(start), place(end)))

    def slid(corner: int, neighbour: int) -> Point:
        if neighbour in held:
            way = ring[corner] - ring[neighbour]
            length = math.hypot(*way)
            across = float(way @ normal) / length if length else 0.0
            if abs(across) >= _ALONG:
                return place(ring[corner] + way / length * (by / across))
        return place(ring[corner] + normal * by)

    to_start, to_end = slid(side.start, (side.start - 1) % count), slid(side.end, (side.end + 1) % count)
    return moved(moved(ring, side.start, to_start, held), side.end, to_end, held)


def with_length(ring: Points, side: Side, length: float) -> Points:
    """``ring`` with that side ``length`` mm long, along it; where it begins it stays, its end moves on.

    A next side that is square to it goes along as a whole, so that the angle stays square.
    """
    held = handles(ring)
    run = run_of(ring, side)
    start, end = run[0], run[-1]
    by = (end - start) * (length / length_of(run) - 1)
    longer = moved(ring, side.end, place(end + by), held)
    following = held[(held.index(side.end) + 1) % len(held)]
    way, chord = ring[following] - end, end - start
    square = abs(float(way @ chord)) <= _SQUARE * math.hypot(*way) * math.hypot(*chord)
    if square and following != side.start:
        longer = moved(longer, following, place(ring[following] + by), held)
    return longer


def place(row: Points) -> Point:
    """A row of points as a place."""
    return (float(row[0]), float(row[1]))
