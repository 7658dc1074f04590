"""Lines cut off at a window, so that a sheet holds its own part of the template and nothing else. No Qt."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from geometry.types import Points

Window: TypeAlias = tuple[float, float, float, float]
"""(left, top, right, bottom), mm; its edge belongs to it."""

Numbers: TypeAlias = NDArray[np.intp]


def clip_pieces(start: Points, end: Points, window: Window) -> tuple[Points, Numbers]:
    """Straight pieces cut off at ``window``; what only touches it is left out.

    ``start`` and ``end`` are (n, 2) mm. Returns the ends of what is left, (2m, 2) two and two, and (m,) the
    numbers of the pieces they belong to. Ends inside the window come back to the last bit. (The parametric
    clipping of Liang and Barsky 1984, from memory.)
    """
    run = end - start
    enter = np.zeros(len(start))
    leave = np.ones(len(start))
    inside = np.ones(len(start), dtype=bool)
    for axis in (0, 1):
        low, high = window[axis], window[axis + 2]
        moves = run[:, axis] != 0
        step = np.where(moves, run[:, axis], 1.0)
        to_low = (low - start[:, axis]) / step
        to_high = (high - start[:, axis]) / step
        enter = np.where(moves, np.maximum(enter, np.minimum(to_low, to_high)), enter)
        leave = np.where(moves, np.minimum(leave, np.maximum(to_low, to_high)), leave)
        inside &= moves | ((start[:, axis] >= low) & (start[:, axis] <= high))
    kept = np.flatnonzero(inside & (enter < leave))
    first = start[kept] + enter[kept, None] * run[kept]
    last = np.where((leave[kept] == 1)[:, None], end[kept], start[kept] + leave[kept, None] * run[kept])
    return np.stack([first, last], axis=1).reshape(-1, 2), kept


def clip_line(points: Points, closed: bool, window: Window) -> list[tuple[Points, bool]]:
    """The parts of a polyline in ``window``, each with whether it is closed: only where nothing was cut.

    ``points`` is (n, 2) mm; where ``closed`` the first is not repeated.
    """
    left, top, right, bottom = window
    (low_x, low_y), (high_x, high_y) = points.min(axis=0), points.max(axis=0)
    if low_x >= left and low_y >= top and high_x <= right and high_y <= bottom:
        return [(points, closed)]
    if high_x < left or high_y < top or low_x > right or low_y > bottom:
        return []
    line = np.concatenate([points, points[:1]]) if closed else points
    ends, kept = clip_pieces(line[:-1], line[1:], window)
    if not len(kept):
        return []
    ends = ends.reshape(-1, 2, 2)
    # Two pieces hang together where the one ends in the corner in which the next begins.
    joined = (np.diff(kept) == 1) & (ends[:-1, 1] == ends[1:, 0]).all(axis=1)
    parts = [
        np.concatenate([part[:1, 0], part[:, 1]]) for part in np.split(ends, np.flatnonzero(~joined) + 1)
    ]
    if closed and len(parts) > 1 and (parts[-1][-1] == parts[0][0]).all():
        parts[0] = np.concatenate([parts.pop(), parts[0][1:]])
    return [(part, False) for part in parts]
