"""The lines of a hatch and the dots of a stipple, as points. No Qt: screen, page and SVG draw the same ones.

Both lie on a grid that is fixed to the cloth, so that the sheets of one template continue each other's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from app.exporting.clip import Numbers, Window, clip_pieces
from app.sketch.palette import Hatch
from geometry.types import Points

_ANGLES: Final = {Hatch.ONE_WAY: (math.pi / 4,), Hatch.CROSS: (math.pi / 4, -math.pi / 4)}
"""rad: which way the lines of each hatch run."""


def hatch_lines(rings: Sequence[Points], hatch: Hatch, spacing: float, window: Window) -> Points:
    """(2n, 2) mm: ends of the hatch's lines, two and two, in an odd number of ``rings`` and in ``window``.

    ``spacing`` is mm from line to line, across.
    """
    return np.concatenate([_rows(rings, angle, spacing, window) for angle in _ANGLES[hatch]])


def stipple(rings: Sequence[Points], spacing: float, window: Window) -> Points:
    """(n, 2) mm: dots inside an odd number of ``rings`` and in ``window``.

    They lie on a grid of ``spacing`` mm, every other row shifted by half of it.
    """
    ends = _rows(rings, 0.0, spacing, window)
    row = np.round(ends[::2, 1] / spacing)
    shift = np.mod(row, 2) / 2
    first = np.ceil(ends[::2, 0] / spacing - shift).astype(np.intp)
    count = np.maximum(np.ceil(ends[1::2, 0] / spacing - shift).astype(np.intp) - first, 0)
    column = _counted(first, count) + np.repeat(shift, count)
    return np.column_stack([column, np.repeat(row, count)]) * spacing


def _rows(rings: Sequence[Points], angle: float, spacing: float, window: Window) -> Points:
    """(2n, 2) mm: the pieces, inside ``rings`` and ``window``, of the lines at ``angle`` that lie at whole
    multiples of ``spacing``.

    A corner on such a line counts with the edge that goes on from it to greater multiples, so that every line
    is crossed an even number of times.
    """
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    start = np.concatenate(rings) @ turn
    end = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings]) @ turn
    left, top, right, bottom = window
    across = (np.array([[left, top], [right, top], [right, bottom], [left, bottom]]) @ turn)[:, 1] / spacing
    bounds = (math.ceil(across.min()), math.floor(across.max()) + 1)
    low = np.minimum(start[:, 1], end[:, 1]) / spacing
    high = np.maximum(start[:, 1], end[:, 1]) / spacing
    first = np.clip(np.ceil(low), *bounds).astype(np.intp)
    count = np.clip(np.ceil(high), *bounds).astype(np.intp) - first

    row = _counted(first, count)
    edge = np.repeat(np.arange(len(first)), count)
    (u0, v0), (u1, v1) = start[edge].T, end[edge].T
    along = u0 + (row * spacing - v0) / (v1 - v0) * (u1 - u0)
    order = np.lexsort((along, row))
    ends = np.column_stack([along[order], row[order] * spacing]) @ turn.T
    return clip_pieces(ends[::2], ends[1::2], window)[0]


def _counted(first: Numbers, count: Numbers) -> Numbers:
    """For each entry ``first``, ``first`` + 1, …, ``count`` numbers, one entry's after the other's."""
    before = np.cumsum(count) - count
    numbers: Numbers = np.arange(int(count.sum())) + np.repeat(first - before, count)
    return numbers
