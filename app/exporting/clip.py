"""Lines cut off at a window, so that a sheet holds its own part of the template and nothing else. No Qt."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
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


def clip_lines(lines: Sequence[tuple[Points, bool]], window: Window) -> Iterator[tuple[int, Points, bool]]:
    """The parts of polylines in ``window``: number of the line, (n, 2) mm, and whether the part is closed.

    ``lines`` are (n, 2) mm each, n at least 1, and whether they are closed (the first point is then not
    repeated). A part is closed only where nothing was cut. All lines are cut in one go: one by one would take
    ten times as long.
    """
    if not lines:
        return
    points = np.concatenate([line for line, _ in lines])
    first = np.cumsum([0, *(len(line) for line, _ in lines[:-1])])
    low, high = np.minimum.reduceat(points, first), np.maximum.reduceat(points, first)
    whole = ((low >= window[:2]) & (high <= window[2:])).all(axis=1)
    crossing = ~whole & ((high >= window[:2]) & (low <= window[2:])).all(axis=1)
    for number in np.flatnonzero(whole).tolist():
        yield (number, *lines[number])
    cut = np.flatnonzero(crossing).tolist()
    if cut:
        yield from _parts([lines[number] for number in cut], cut, window)


def _parts(
    lines: Sequence[tuple[Points, bool]], numbers: Sequence[int], window: Window
) -> Iterator[tuple[int, Points, bool]]:
    rings = [np.concatenate([line, line[:1]]) if closed else line for line, closed in lines]
    start = np.concatenate([ring[:-1] for ring in rings])
    end = np.concatenate([ring[1:] for ring in rings])
    owner = np.repeat(np.arange(len(rings)), [len(ring) - 1 for ring in rings])
    ends, kept = clip_pieces(start, end, window)
    if not len(kept):
        return
    ends, owner = ends.reshape(-1, 2, 2), owner[kept]
    # Two pieces hang together where the one ends in the corner in which the next of its line begins.
    joined = (np.diff(kept) == 1) & (np.diff(owner) == 0) & (ends[:-1, 1] == ends[1:, 0]).all(axis=1)
    breaks = [0, *(np.flatnonzero(~joined) + 1).tolist(), len(ends)]
    open_parts: dict[int, list[Points]] = {}
    for one, other in pairwise(breaks):
        part = np.concatenate([ends[one : one + 1, 0], ends[one:other, 1]])
        open_parts.setdefault(int(owner[one]), []).append(part)
    for which, parts in open_parts.items():
        # What runs through a closed line's first point was begun with its end, and ended with its beginning.
        if lines[which][1] and len(parts) > 1 and (parts[-1][-1] == parts[0][0]).all():
            parts[0] = np.concatenate([parts.pop(), parts[0][1:]])
        for part in parts:
            yield (numbers[which], part, False)
