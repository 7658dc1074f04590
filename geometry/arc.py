"""Circular arcs as polylines."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from geometry.tolerances import FLATTEN, SAME_POINT
from geometry.types import Point, Points
from geometry.units import MM_PER_INCH

_PIECE: Final = MM_PER_INCH / 4
"""mm. Longest piece of an arc; longer ones would be handles soon when zoomed in."""

_LEAST_STEPS: Final = 4
"""So many pieces show that they are an arc."""


def outward(start: Point, end: Point) -> Point:
    """The unit vector away from the patch, square to the chord from ``start`` to ``end``.

    The patch is on the numerical left of its ring, so away from it is on the right.
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = math.hypot(dx, dy)
    return (dy / length, -dx / length) if length > 0 else (0.0, 0.0)


def arc(start: Point, end: Point, bow: float) -> Points:
    """(k, 2) the points between ``start`` and ``end`` of a circular arc with that bow, to ``FLATTEN``.

    The bow, mm, is how far the arc's middle stands off its chord, away from the patch where it is more than
    0. No points where it is less than ``FLATTEN``. Half the chord c and the bow h give the radius
    (c² + h²) / 2h and the angle 4·atan(h / c); a chord strays from a circle by 2R·sin²(angle / 4).
    """
    half = math.dist(start, end) / 2
    size = abs(bow)
    if size < FLATTEN or half <= SAME_POINT:
        return np.zeros((0, 2))
    radius = (half * half + size * size) / (2 * size)
    angle = 4 * math.atan2(size, half)
    fine = 4 * math.asin(math.sqrt(min(FLATTEN / (2 * radius), 0.5)))
    steps = max(_LEAST_STEPS, math.ceil(angle / fine), math.ceil(radius * angle / _PIECE))
    steps += steps % 2  # so that its middle is one of its points
    turn = np.linspace(-angle / 2, angle / 2, steps + 1)[1:-1]
    # Not from the centre, which may lie a kilometre away.
    off = math.copysign(1.0, bow) * (size - 2 * radius * np.sin(turn / 2) ** 2)
    along = radius * np.sin(turn)
    nx, ny = outward(start, end)
    middle = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    return np.column_stack([middle[0] - along * ny + off * nx, middle[1] + along * nx + off * ny])
