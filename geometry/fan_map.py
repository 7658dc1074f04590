"""The fans of many anchors of one area at once, as far as figures that judge an anchor need them.

The same sectors, the same giving way and the same wedges as ``geometry.fan``, in one array for all
anchors: sectors come anchor by anchor, and neighbours are looked for among those of one anchor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.map_giving_way import GivingWay
from geometry.marks import MarkedEdge
from geometry.merging import Merging
from geometry.sectors import Complex, Sectors, along_rays
from geometry.settings import Settings
from geometry.tolerances import GAP_SOLVED, NO_ANGLE, ON_EDGE, SAME_DIRECTION, SAME_POINT
from geometry.triangulation import Triangulation, Views, see_from_all, seen_areas, triangulate
from geometry.types import Points
from geometry.visibility import complex_of

_TURN = 2 * math.pi
_APART = 4 * _TURN
"""rad. Added to all directions of an anchor for each anchor before it, so that one search finds all:
directions of one anchor lie within three turns."""
_STRAIGHT = 1e-7
"""rad. Pieces that turn by less from each other lie in one straight line."""
Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class FanFigures:
    """What judges n anchors. (n,) each."""

    seen: Floats
    """mm² in sight."""
    narrowest: Floats
    """mm: the least side length or across of its wedges; 0 where it has none."""
    short: Ints
    thin: Ints
    lost: Ints
    """Counts of what ``findings`` calls side-short, wedge-thin and wedge-lost."""


class FanMap:
    """One part of the stitchable area, made ready for any number of anchors inside it."""

    def __init__(self, part: Polygon, marked: MarkedEdge) -> None:
        self.part = part
        self._edge = part.boundary
        shapely.prepare(part)
        shapely.prepare(self._edge)
        self._area = triangulate(part)
        self._cuts = _Cuts(self._area, marked)
        names = [
            (marked.marks[a].name if a >= 0 else "", marked.marks[b].name if b >= 0 else "")
            for a, b in marked.spans
        ]
        number: dict[tuple[str, str], int] = {}
        self._names = names
        self._span_name = np.array([number.setdefault(name, len(number)) for name in names], dtype=np.intp)

    def inside(self, anchors: Points) -> NDArray[np.bool_]:
        """(n,) which of ``anchors`` (n, 2) lie inside the part, and not on its edge."""
        inside: NDArray[np.bool_] = shapely.contains_xy(self.part, anchors)
        inside[inside] = ~shapely.dwithin(self._edge, shapely.points(anchors[inside]), ON_EDGE)
        return inside

    def figures(self, anchors: Points, settings: Settings) -> FanFigures:
        """For each of ``anchors`` (n, 2), all of which must be ``inside``."""
        count = len(anchors)
        views = see_from_all(self._area, anchors)
        seen = seen_areas(views, count)
        narrowest = np.zeros(count)
        none = np.zeros(count, dtype=np.intp)
        sectors = self._cuts.sectors(views, anchors)
        if sectors is None:
            return FanFigures(seen, narrowest, none, none, none)
        made = _Made(sectors, settings)
        now = np.arange(len(sectors.span))
        if settings.merge_thin or settings.merged_spans:
            merging = Merging(sectors, self._names, settings)
            while merging.on(made.sectors, made.left, np.minimum(*made.widths(made.left)), made.gone):
                made = _Made(merging.sectors, settings)
            now = merging.now
        narrowest, short, thin = made.figures(count)
        # A span has its wedge where its sector, or what it was merged into, is left.
        names = len(self._span_name)
        have = np.full(count * names, -1)
        alive = made.alive[now]
        have[self._keys(sectors, sectors.span)[alive]] = now[alive]
        return FanFigures(seen, narrowest, short, thin, self._lost(made, have, settings, count))

    def _keys(self, sectors: _Sectors, span: Ints) -> Ints:
        """(k,) a number for each of the ``span`` (k,) of the sectors, by its name, of each anchor."""
        keys: Ints = sectors.group * len(self._span_name) + self._span_name[span]
        return keys

    def _lost(self, made: _Made, have: Ints, settings: Settings, count: int) -> Ints:
        """How many spans are lost: once each, and not where only a bit is lost beside the spans' wedge.

        ``have`` says which sector, if any, each of the keys has its wedge from.
        """
        s = made.sectors
        length = np.add.reduceat(np.abs(s.piece_to - s.piece_from), s.first)
        gone = made.gone & (length > SAME_POINT)
        begin, end = self._keys(s, s.span)[gone], self._keys(s, s.span_to)[gone]
        wedge = have[begin]
        beside = (wedge >= 0) & (wedge == have[end])
        wedges = len(made.alive)
        label = np.where(
            beside, wedge, wedges + begin * len(self._span_name) + self._span_name[s.span_to[gone]]
        )
        which, first, at = np.unique(label, return_index=True, return_inverse=True)
        longest = np.zeros(len(which))
        np.maximum.at(longest, at, length[gone])
        told = (which >= wedges) | (longest >= settings.visible_width)
        return np.bincount(s.group[gone][first[told]], minlength=count)


class _Made:
    """What becomes of the sectors of many anchors."""

    def __init__(self, sectors: _Sectors, settings: Settings) -> None:
        self.sectors = sectors
        self._way = GivingWay(sectors, settings.gap)
        self._visible = settings.visible_width
        self.alive = self._way.alive
        self.gone = ~self.alive & (self._way.width > NO_ANGLE)
        self.left = self.alive.nonzero()[0]

    def widths(self, which: Ints) -> tuple[Floats, Floats]:
        """(n,) mm each: side lengths and widths across of the wedges of the sectors ``which`` (n,)."""
        self._way.solve(which)
        return self._between(which, self._way.most)

    def _between(self, which: Ints, turn: Floats) -> tuple[Floats, Floats]:
        at_start, at_stop = turn.take(which, 1)
        s = self.sectors
        return _widths(s, which, s.start.take(which) + at_start, s.stop.take(which) - at_stop)

    def figures(self, count: int) -> tuple[Floats, Ints, Ints]:
        """(count,) each: what ``FanFigures`` says of the wedges."""
        narrowest, none = np.zeros(count), np.zeros(count, dtype=np.intp)
        if not len(self.left):
            return narrowest, none, none
        owner = self.sectors.group.take(self.left)
        begins = np.flatnonzero(np.concatenate([[True], owner[1:] != owner[:-1]]))
        visible = self._visible
        low, high = self._way.across(self.left)
        # Solved are those that may be the narrowest, and those that may or may not be thin.
        ceiling = np.zeros(count)
        ceiling[owner[begins]] = np.minimum.reduceat(high, begins)
        may_be_narrowest = low <= ceiling.take(owner)
        asked = np.flatnonzero(may_be_narrowest | ((low < visible) & (high >= visible)))
        side, across = self.widths(self.left.take(asked))
        low[asked] = np.minimum(side, across)
        narrowest[owner[begins]] = np.minimum.reduceat(low, begins)
        low[asked] = across
        thin = np.flatnonzero(low < visible)
        # No side is shorter than its wedge is wide.
        which = self.left.take(thin)
        longest, _ = self._between(which, self._way.least)
        shortest, _ = self._between(which, self._way.most)
        unsure = np.flatnonzero((shortest < visible) & (longest >= visible))
        shortest[unsure], _ = self.widths(which.take(unsure))
        thin = owner.take(thin)
        short = thin[shortest < visible]
        return narrowest, np.bincount(short, minlength=count), np.bincount(thin, minlength=count)


@dataclass(frozen=True, slots=True, eq=False)
class _Sectors(Sectors):
    """Sectors of several anchors, in order of the anchors; each anchor sees all round."""

    group: Ints
    """(k,) the anchor of each sector."""

    def moved_on(self, sector: Ints) -> Floats:
        """As for one anchor; directions are moved on by ``_APART`` from anchor to anchor."""
        return np.multiply(_APART, self.group.take(sector), dtype=np.float64)

    def following(self, left: Ints) -> Ints:
        """As for one anchor: the last of an anchor is followed by its first."""
        return _following(self.group[left])

    def _of(self, which: Ints) -> dict[str, Ints]:
        return {"group": self.group[which]}


class _Cuts:
    """Where the marks cut the boundary edges of a triangulation."""

    def __init__(self, area: Triangulation, marked: MarkedEdge) -> None:
        self.area = area
        # The pieces of the marked edge laid end to end: those of one boundary edge follow one another.
        self.order = _from_corners(complex_of(marked.start), complex_of(marked.end))
        self.span = marked.span[self.order]
        self.starts, self.ends = complex_of(marked.start[self.order]), complex_of(marked.end[self.order])
        along = self.ends - self.starts
        self.outward = 1j * along.conj()
        self.at = np.concatenate([[0.0], np.cumsum(np.abs(along))])
        walls = np.flatnonzero(area.wall)
        corner: Complex = area.x + 1j * area.y
        # A point of a wall lies at the real part of its place times this, and this on, along the marked edge.
        self.toward = complex_of(np.column_stack([area.along_x, area.along_y])).conj() / area.length
        first = self._first_pieces(corner[walls], self.toward[walls].conj(), along / np.abs(along))
        self.first = np.zeros(len(area.wall), dtype=np.intp)
        self.first[walls] = first
        self.offset = self.at[self.first] - (self.starts[self.first] * self.toward).real
        stop = self.offset[walls] + (corner[walls] * self.toward[walls]).real + area.length[walls]
        self.last = np.zeros(len(area.wall), dtype=np.intp)
        self.last[walls] = np.maximum(np.searchsorted(self.at, stop - SAME_POINT) - 1, first)
        spans = np.array(marked.spans, dtype=np.intp).reshape(-1, 2)
        self.single = (spans[:, 0] == spans[:, 1]) & (spans[:, 0] >= 0)

    def _first_pieces(self, corners: Complex, directions: Complex, ways: Complex) -> Ints:
        """(w,) the piece of the marked edge, by their directions ``ways`` (p,), in which each wall begins."""
        order = np.argsort(self.starts)
        found = np.searchsorted(self.starts[order], corners)
        first = order[np.minimum(found, len(order) - 1)]
        astray = (self.starts[first] != corners) | _turns(ways[first], directions)
        for i in np.flatnonzero(astray):
            # Rings touch here: pieces of both begin, or one goes by. It is the one in the wall's direction.
            away = (corners[i] - self.starts) * ways.conj()
            holds = (np.abs(away.imag) < SAME_POINT) & (away.real > -SAME_POINT)
            holds &= away.real < np.diff(self.at) - SAME_POINT
            first[i] = np.where(holds, (directions[i] * ways.conj()).real, -np.inf).argmax()
        return first

    def sectors(self, views: Views, anchors: Points) -> _Sectors | None:
        """The sectors of all anchors; None where none sees anything."""
        group, piece, angle, begin, end = self._pieces(views, complex_of(anchors))
        # An edge in line with the anchor has no width.
        ahead = begin.conj() * end
        width = np.arctan2(ahead.imag, ahead.real)
        sound = np.flatnonzero((width > SAME_DIRECTION) & (width < math.pi))
        if not len(sound):
            return None
        group, piece, width, angle = group[sound], piece[sound], width[sound], angle[sound]
        begin, end = begin[sound], end[sound]
        after = _following(group)
        span = self.span.take(piece)
        breaks = np.abs(begin.take(after) - end) > SAME_POINT
        breaks |= span != span.take(after)
        if self.single.any():
            order = self.order.take(piece)
            breaks |= self.single[span] & (order[after] < order)  # round to the one mark again
        # Each anchor's list begins with the piece after its last break, so that no sector runs over its end.
        here = np.arange(len(group))
        start = np.flatnonzero(after <= here)  # so far the last of each anchor
        start = np.concatenate([[0], start[:-1] + 1])
        size = np.diff(np.append(start, len(group)))
        last_break = np.maximum.reduceat(np.where(breaks, here, -1), start)
        last_break = np.where(last_break < 0, start + size - 1, last_break)
        breaks[last_break] = True
        moved = (start + size - 1 - last_break).repeat(size)  # pieces that come to stand before the others
        tail = here > last_break.repeat(size)
        order = here - moved
        order += np.where(order < start.repeat(size), size.repeat(size), 0)
        angle -= np.where(tail, _TURN, 0.0)
        angle, width, breaks = angle.take(order), width.take(order), breaks.take(order)
        piece, begin, end = piece.take(order), begin.take(order), end.take(order)
        last = np.flatnonzero(breaks)
        first = np.concatenate([[0], last[:-1] + 1])
        normal = self.outward.take(piece)
        normal /= (begin * normal).real
        span = self.span.take(piece.take(last))
        group = group.take(last)
        return _Sectors(
            angle + _APART * group.repeat(last - first + 1), normal, begin, end, first, last,
            angle.take(first), (angle + width).take(last), span, span,
            np.ones(len(last), dtype=np.bool_), group,
        )  # fmt: skip

    def _pieces(self, views: Views, anchors: Complex) -> tuple[Ints, Ints, Floats, Complex, Complex]:
        """The views of each anchor counter-clockwise, cut at the marks: whose, piece of the marked edge,
        direction it begins in, and from and to (relative, mm)."""
        angle = np.arctan2(views.from_y, views.from_x)
        order = np.argsort(angle + _APART * views.anchor)
        angle, group, edge = angle.take(order), views.anchor.take(order), views.edge.take(order)
        begin = (views.from_x + 1j * views.from_y).take(order)
        end = (views.to_x + 1j * views.to_y).take(order)
        low = self.first.take(edge)
        high = low.copy()
        several = np.flatnonzero(low < self.last.take(edge))
        of = edge.take(several)
        toward, place = self.toward.take(of), anchors.take(group.take(several))
        offset, least, most = self.offset.take(of), self.first.take(of), self.last.take(of)
        at = offset + ((begin.take(several) + place) * toward).real + GAP_SOLVED
        low[several] = np.clip(np.searchsorted(self.at, at, side="right") - 1, least, most)
        at = offset + ((end.take(several) + place) * toward).real - GAP_SOLVED
        high[several] = np.clip(np.searchsorted(self.at, at) - 1, low.take(several), most)
        row = np.arange(len(edge)).repeat(high - low + 1)
        stop = np.cumsum(high - low + 1)
        piece = np.arange(len(row)) - (stop - high - 1).take(row)
        group, angle = group.take(row), angle.take(row)
        begin, end = begin.take(row), end.take(row)
        cut = np.flatnonzero(row[1:] == row[:-1])
        end[cut] = self.ends.take(piece.take(cut)) - anchors.take(group.take(cut))
        cut += 1
        begin[cut] = self.starts.take(piece.take(cut)) - anchors.take(group.take(cut))
        inner = np.angle(begin.take(cut))
        angle[cut] = np.where(inner < angle.take(cut), inner + _TURN, inner)
        return group, piece, angle, begin, end


def _from_corners(starts: Complex, ends: Complex) -> Ints:
    """(p,) the pieces of rings, which follow one another: each ring from where it turns, not from the midst
    of a straight line, which a triangulation takes for one edge."""
    order = np.arange(len(starts))
    way = (ends - starts) / np.abs(ends - starts)
    first = 0
    while first < len(starts):
        stop = first + int((ends[first:] == starts[first]).argmax()) + 1
        ring = slice(first, stop)
        order[ring] = np.roll(order[ring], -int(_turns(np.roll(way[ring], 1), way[ring]).argmax()))
        first = stop
    return order


def _turns(one: Complex, other: Complex) -> NDArray[np.bool_]:
    """(n,) whether each unit vector of ``other`` (n,) points elsewhere than that of ``one`` (n,)."""
    turns: NDArray[np.bool_] = np.abs(other - one) > _STRAIGHT
    return turns


def _following(group: Ints) -> Ints:
    """(n,) for items in order of their group, the place of the next of the group, of its last the first."""
    count = len(group)
    after = np.arange(1, count + 1)
    last = np.flatnonzero(np.append(group[1:] != group[:-1], [True] * (count > 0)))
    after[last] = np.concatenate([[0], last[:-1] + 1])[: len(last)]
    return after


def _widths(sectors: _Sectors, which: Ints, begin: Floats, finish: Floats) -> tuple[Floats, Floats]:
    """(n,) mm each: side lengths and widths across of the wedges between two directions each."""
    a = sectors.piece_at(which, begin)
    b = np.maximum(sectors.piece_before(which, finish), a)
    out, back = along_rays(sectors, a, begin), along_rays(sectors, b, finish)
    whole = begin <= sectors.start[which]
    out[whole] = sectors.piece_from[a[whole]]
    whole = finish >= sectors.stop[which]
    back[whole] = sectors.piece_to[sectors.last[which[whole]]]
    step = np.abs(sectors.piece_to - sectors.piece_from)
    total = np.concatenate([[0.0], np.cumsum(step)])
    side = np.where(
        a == b,
        np.abs(back - out),
        np.abs(sectors.piece_to[a] - out)
        + np.maximum(total[b] - total[np.minimum(a + 1, b)], 0.0)
        + np.abs(back - sectors.piece_from[b]),
    )
    shorter = np.minimum(np.abs(out), np.abs(back))
    apex = finish - begin
    return side, shorter * np.where(apex < math.pi / 2, np.sin(apex), 1.0)
