"""Walk -> display lists: the patch with the path still to come, and what of it is stitched. No Qt."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np

from app.sketch.display_list import SWITCHES, DisplayList, Layer, LayerName, Line, Show, build
from app.sketch.palette import Role
from app.sketch.walk import Walk
from geometry import Fit
from geometry.stitch_path import Kind
from geometry.units import LengthStyle

_TRAVEL: Final = tuple(Kind).index(Kind.TRAVEL)

_JOINT: Final = 1.0
"""mm of what came before that are drawn once more, so that the corner between the two is round and whole."""

_NONE: Final = Show(**dict.fromkeys(SWITCHES, False))
_BELOW: Final = replace(_NONE, cloth=True, seam=True)
_ABOVE: Final = replace(_NONE, marks=True, mark_names=True, numbers=True, anchor=True)


def below(fit: Fit, style: LengthStyle) -> DisplayList:
    """The patch: what lies under the path."""
    return build(fit, style=style, show=_BELOW)


def to_come(walk: Walk) -> DisplayList:
    """The whole path, faint."""
    return DisplayList(
        (Layer(LayerName.PATH, tuple(_lines(walk, 0, len(walk.line), Role.FAINT))),), walk.bounds
    )


def above(fit: Fit, style: LengthStyle) -> DisplayList:
    """Marks, numbers of the wedges, and anchors."""
    return build(fit, style=style, show=_ABOVE)


def stitched(walk: Walk, first: int, last: int) -> DisplayList:
    """Segments ``first`` up to ``last``, which is none of them, as they look when they are stitched."""
    lines = tuple(_lines(walk, first, last, Role.STITCH))
    return DisplayList((Layer(LayerName.PATH, lines),) if lines else (), walk.bounds)


def under_way(walk: Walk, segment: int, place: float) -> DisplayList:
    """What of ``segment`` is stitched when the needle is at ``place``."""
    begin = walk.start_of(segment)
    role = Role.TRAVEL if walk.line.kinds[segment] == _TRAVEL else Role.STITCH
    line = Line(role, walk.between(_joined(walk, segment, begin), place))
    return DisplayList((Layer(LayerName.PATH, (line,)),) if place > begin else (), walk.bounds)


def _lines(walk: Walk, first: int, last: int, role: Role) -> Iterator[Line]:
    """A line for each wedge that the segments go through, and for each travel."""
    if first >= last:
        return
    line = walk.line
    travels = line.kinds[first:last] == _TRAVEL
    wedges = line.wedges[first:last]
    new = np.flatnonzero((np.diff(wedges) != 0) | (np.diff(travels) != 0)) + first + 1
    begins = [first, *new.tolist(), last]
    for one, other in pairwise(begins):
        begin, end = (int(row) for row in line.cuts[[one, other]])
        points = line.points[begin : end + 1]
        if one == first and first > 0:
            joint = walk.between(_joined(walk, first, walk.start_of(first)), walk.start_of(first))
            points = np.concatenate([joint[:-1], points])
        travel = bool(travels[one - first]) and role is Role.STITCH
        wedge = int(wedges[one - first]) or None
        yield Line(Role.TRAVEL if travel else role, points, False, wedge)


def _joined(walk: Walk, segment: int, begin: float) -> float:
    """Where the line of ``segment`` begins on the screen: with the corner, unless the two look different."""
    kinds = walk.line.kinds
    if segment == 0 or (kinds[segment - 1] == _TRAVEL) != (kinds[segment] == _TRAVEL):
        return begin
    return max(begin - _JOINT, 0.0)
