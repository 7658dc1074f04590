"""Wedges, and the fan they make.

What the anchor sees of one span, without a jump in distance, is a sector. Neighbouring sectors give
way to each other until their outer ends are one gap apart; what is left of a sector is its wedge
(design page, 3.5).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from geometry.giving_way import turned_back
from geometry.marks import Mark, MarkedEdge
from geometry.merging import Merging
from geometry.sectors import Floats, Ints, Sectors, along_rays, spans_of
from geometry.settings import Settings
from geometry.tolerances import NO_ANGLE, SAME_POINT
from geometry.types import Point, Points
from geometry.visibility import points_of

_SQUARE = math.pi / 2


@dataclass(frozen=True, slots=True, eq=False)
class Wedge:
    """One wedge: leg out from the anchor, side along the edge, leg back. mm."""

    number: int
    """1 is the first; they count clockwise on screen."""
    outline: Points
    """(n, 2), closed (the first point is repeated at the end). Begins at the apex, or with hold-back at
    the first leg's inner end."""
    side: Points
    """(m, 2): the outer side, from the first leg's outer end to the second's."""
    span: tuple[str, str]
    """Names of the marks at the two ends of its span; of several spans where thin ones were merged."""
    side_length: float
    across: float
    """The shorter leg's length times the sine of the apex angle (that leg's length from 90° on)."""
    apex_angle: float
    """rad."""
    echoes: tuple[Points, ...] = ()
    """Closed outlines, outermost first."""


@dataclass(frozen=True, slots=True, eq=False)
class Fan:
    """All wedges of one anchor."""

    anchor: Point
    region: Polygon
    """The part of the stitchable area that this fan fills."""
    marks: tuple[Mark, ...]
    wedges: tuple[Wedge, ...]


@dataclass(frozen=True, slots=True)
class Lost:
    """Part of a span in sight that has no room left for a wedge once the gaps are taken."""

    span: tuple[str, str]
    at: Point
    """Middle of what is seen of it."""
    length: float
    """mm of it in sight."""
    area: float
    """mm² between the anchor and what is seen of it."""


def wedges_of(
    anchor: Point, sectors: Sectors | None, edge: MarkedEdge, settings: Settings
) -> tuple[tuple[Wedge, ...], tuple[Lost, ...]]:
    """The wedges that are left when the sectors have given way, and the sectors that are lost.

    Every sector in sight is in one of the two answers; with ``merge_thin`` or ``merged_spans`` some of them
    joined.
    """
    if sectors is None:
        return (), ()
    made = _Made(anchor, sectors, settings)
    names = spans_of(edge).names
    if not (settings.merge_thin or settings.merged_spans):
        return made.wedges(names), made.lost(names, {})
    merging = Merging(sectors, names, settings)
    while merging.on(made.sectors, made.left, np.minimum(made.sides.length, made.across), made.gone()):
        made = _Made(anchor, merging.sectors, settings)
    # What is lost elsewhere of spans that are part of one merged wedge is lost beside that wedge.
    s = made.sectors
    parts = zip(sectors.span.tolist(), merging.now.tolist(), strict=True)
    whole = {part: (names[s.span[i]][0], names[s.span_to[i]][1]) for part, i in parts if made.alive[i]}
    return made.wedges(names), made.lost(names, whole)


class _Made:
    """What becomes of sectors."""

    def __init__(self, anchor: Point, sectors: Sectors, settings: Settings) -> None:
        self.anchor, self.sectors, self.settings = anchor, sectors, settings
        turn_start, turn_stop, self.alive = turned_back(sectors, settings.gap)
        left = self.alive.nonzero()[0]
        if len(left):
            # Numbers go on clockwise from the first span that has a wedge.
            begin = int(np.minimum(sectors.span, sectors.span_to).take(left).argmin())
            if begin:
                left = np.concatenate([left[begin:], left[:begin]])
        self.left = left
        """(n,) the sectors that have wedges, in the order of their numbers."""
        begins = (sectors.start + turn_start).take(left)
        finishes = (sectors.stop - turn_stop).take(left)
        self.sides = _Sides(sectors, left, begins, finishes, anchor)
        self.apex: Floats = finishes - begins
        self.across: Floats = self.sides.shorter_leg * np.where(self.apex < _SQUARE, np.sin(self.apex), 1.0)

    def gone(self) -> NDArray[np.bool_]:
        """(k,) the lost ones. What has no angle to begin with lies in line with the anchor: it is no loss."""
        return ~self.alive & (self.sectors.stop - self.sectors.start > NO_ANGLE)

    def wedges(self, names: tuple[tuple[str, str], ...]) -> tuple[Wedge, ...]:
        sides, left = self.sides, self.left
        spans = zip(
            self.sectors.span.take(left).tolist(), self.sectors.span_to.take(left).tolist(), strict=True
        )
        return tuple(
            Wedge(
                number, outline, outline[1:-1],
                names[span] if span == to else (names[span][0], names[to][1]), length, width, angle,
            )
            for number, (outline, (span, to), length, width, angle) in enumerate(
                zip(
                    sides.outlines(), spans, sides.length.tolist(), self.across.tolist(), self.apex.tolist(),
                    strict=True,
                ), 1
            )
        )  # fmt: skip

    def lost(self, names: tuple[tuple[str, str], ...], whole: dict[int, tuple[str, str]]) -> tuple[Lost, ...]:
        """``whole``: for spans that have a wedge the marks at its ends, perhaps those of several spans."""
        if len(self.left) == len(self.alive):
            return ()
        gone = self.gone().nonzero()[0]
        if not len(gone):
            return ()
        s = self.sectors
        sides = _Sides(s, gone, s.start.take(gone), s.stop.take(gone), self.anchor)
        spans = zip(s.span.take(gone).tolist(), s.span_to.take(gone).tolist(), strict=True)
        return tuple(
            Lost(
                whole[span]
                if span in whole and whole[span] == whole.get(to)
                else (names[span][0], names[to][1]),
                half_way(outline[1:-1]), length, area,
            )
            for outline, (span, to), length, area in zip(
                sides.outlines(), spans, sides.length.tolist(), sides.areas().tolist(), strict=True
            )
            if length > SAME_POINT
        )  # fmt: skip


class _Sides:
    """The edges of n sectors between two directions each, as wedge outlines in one array."""

    length: Floats
    """(n,) mm, of the sides."""
    shorter_leg: Floats
    """(n,) mm."""

    def __init__(self, sectors: Sectors, which: Ints, begin: Floats, finish: Floats, anchor: Point) -> None:
        a = sectors.piece_at(which, begin)
        b = np.maximum(sectors.piece_before(which, finish), a)
        # An outline: the anchor, the first leg's end, the bends between, the second leg's end, the anchor.
        size = b - a + 4
        stop = size.cumsum()
        start = stop - size
        total = int(stop[-1]) if len(stop) else 0
        piece = np.arange(-1, total - 1)
        piece += (a - start).repeat(size)
        points = sectors.piece_from.take(piece, mode="clip")
        out, back = along_rays(sectors, a, begin), along_rays(sectors, b, finish)
        whole = begin <= sectors.start.take(which)
        if whole.any():
            out[whole] = sectors.piece_from[a[whole]]
        whole = finish >= sectors.stop.take(which)
        if whole.any():
            back[whole] = sectors.piece_to[sectors.last[which[whole]]]
        points[start + 1] = out
        points[stop - 2] = back
        # A bend on top of a leg's end, or of another bend, is no bend.
        step = np.empty(total)
        step[:1] = 0.0
        np.abs(points[1:] - points[:-1], out=step[1:])
        short = step <= SAME_POINT
        short[start] = short[start + 1] = short[stop - 1] = False
        if short.any():
            # The step into a leg's end is short: the bend before it goes.
            before_end = short[stop - 2] & (stop - 2 > start + 2)
            short[stop - 2] = False
            short[(stop - 3)[before_end]] = True
            keep = ~short
            points = points[keep]
            stop = np.add.reduceat(keep, start, dtype=np.intp).cumsum()
            start = np.concatenate([[0], stop[:-1]])
            step = np.empty(len(points))
            step[:1] = 0.0
            np.abs(points[1:] - points[:-1], out=step[1:])
        step[start] = step[start + 1] = step[stop - 1] = 0.0
        self.length = np.add.reduceat(step, start) if len(start) else np.empty(0)
        self.shorter_leg = np.minimum(np.abs(out), np.abs(back))
        self._relative = points
        points = points + complex(*anchor)
        points[start] = points[stop - 1] = complex(*anchor)
        self._points = points_of(points)
        self._points.flags.writeable = False
        self._start, self._stop = start, stop

    def outlines(self) -> list[Points]:
        """n closed outlines that begin at the anchor."""
        points = self._points
        return [points[a:b] for a, b in zip(self._start.tolist(), self._stop.tolist(), strict=True)]

    def areas(self) -> Floats:
        """(n,) mm², by the shoelace formula."""
        points, start = self._relative.copy(), self._start
        points[start] = points[self._stop - 1] = 0.0
        twice = np.zeros(len(points))
        twice[:-1] = (points[:-1].conj() * points[1:]).imag
        areas: Floats = np.abs(0.5 * np.add.reduceat(twice, start))
        return areas


def half_way(line: Points) -> Point:
    """The point half way along a line (m, 2)."""
    if len(line) > _SHORT_LINE:
        step = np.diff(line, axis=0)
        at = np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])
        half = at[-1] / 2
        return float(np.interp(half, at, line[:, 0])), float(np.interp(half, at, line[:, 1]))
    points = line.tolist()
    if len(points) == 2:
        (x0, y0), (x1, y1) = points
        return (x0 + x1) / 2, (y0 + y1) / 2
    lengths = [math.dist(one, two) for one, two in pairwise(points)]
    left = sum(lengths) / 2
    i = 0
    while i < len(lengths) - 1 and left > lengths[i]:
        left -= lengths[i]
        i += 1
    (x0, y0), (x1, y1) = points[i : i + 2]
    t = left / lengths[i] if lengths[i] else 0.0
    return x0 + t * (x1 - x0), y0 + t * (y1 - y0)


_SHORT_LINE = 12
"""Points up to which plain numbers are quicker than arrays (found by trial)."""


def ring_area(ring: Points) -> float:
    """mm² inside a closed ring (m, 2), by the shoelace formula."""
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return abs(0.5 * float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum()))
