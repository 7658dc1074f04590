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

from geometry.giving_way import turned_back
from geometry.marks import MarkedEdge
from geometry.merging import Merging
from geometry.sectors import Sectors, along_rays
from geometry.settings import Settings
from geometry.tolerances import GAP_SOLVED, NO_ANGLE, ON_EDGE, SAME_DIRECTION, SAME_POINT
from geometry.triangulation import Triangulation, Views, see_from_all, seen_areas, triangulate
from geometry.types import Points
from geometry.visibility import complex_of

_TURN = 2 * math.pi
_APART = 4 * _TURN
"""rad. Added to all directions of an anchor for each anchor before it, so that one search finds all:
directions of one anchor lie within three turns."""
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
            while merging.on(made.sectors, made.left, np.minimum(made.side, made.across), made.gone):
                made = _Made(merging.sectors, settings)
            now = merging.now
        left, side, across = made.left, made.side, made.across
        owner = made.sectors.group[left]
        if len(left):
            begins = np.flatnonzero(np.concatenate([[True], owner[1:] != owner[:-1]]))
            narrowest[owner[begins]] = np.minimum.reduceat(np.minimum(side, across), begins)
        short = np.bincount(owner[side < settings.visible_width], minlength=count)
        thin = np.bincount(owner[across < settings.visible_width], minlength=count)
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
        turn_start, turn_stop, self.alive = turned_back(sectors, settings.gap)
        self.gone = ~self.alive & (sectors.stop - sectors.start > NO_ANGLE)
        self.left = self.alive.nonzero()[0]
        self.side, self.across = _widths(
            sectors, self.left, (sectors.start + turn_start)[self.left], (sectors.stop - turn_stop)[self.left]
        )


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
        self.marked = marked
        along = marked.end - marked.start
        length = np.hypot(along[:, 0], along[:, 1])
        self.along = along
        # The pieces of the marked edge laid end to end: those of one boundary edge follow one another.
        self.at = np.concatenate([[0.0], np.cumsum(length)])
        walls = np.flatnonzero(area.wall)
        first = self._first_pieces(walls, along / length[:, None])
        self.first = np.zeros(len(area.wall), dtype=np.intp)
        self.last = np.zeros(len(area.wall), dtype=np.intp)
        self.first[walls] = first
        stop = self.at[first] + area.length[walls] - SAME_POINT
        self.last[walls] = np.maximum(np.searchsorted(self.at, stop, side="left") - 1, first)
        spans = np.array(marked.spans, dtype=np.intp).reshape(-1, 2)
        self.single = (spans[:, 0] == spans[:, 1]) & (spans[:, 0] >= 0)

    def _first_pieces(self, walls: Ints, direction: Points) -> Ints:
        """(w,) the piece of the marked edge that begins where each wall does."""
        area, marked = self.area, self.marked
        pieces = marked.start[:, 0] + 1j * marked.start[:, 1]
        wanted = area.x[walls] + 1j * area.y[walls]
        order = np.argsort(pieces)
        low = np.searchsorted(pieces[order], wanted, side="left")
        several = np.searchsorted(pieces[order], wanted, side="right") - low
        first = order[np.minimum(low, len(order) - 1)]
        for i in np.flatnonzero(several > 1):
            # Rings touch here: of the pieces that begin in the place the one in the wall's direction.
            choice = order[low[i] : low[i] + several[i]]
            wall = walls[i]
            along = np.array([area.along_x[wall], area.along_y[wall]])
            first[i] = choice[int((direction[choice] @ along).argmax())]
        return first

    def sectors(self, views: Views, anchors: Points) -> _Sectors | None:
        """The sectors of all anchors; None where none sees anything."""
        group, piece, from_point, to_point = self._pieces(views, anchors)
        from_angle = np.arctan2(from_point[:, 1], from_point[:, 0])
        width = np.arctan2(to_point[:, 1], to_point[:, 0]) - from_angle
        width[width < 0] += _TURN
        sound = np.flatnonzero((width > SAME_DIRECTION) & (width < math.pi))
        order = sound[np.argsort(from_angle[sound] + _APART * group[sound])]
        if not len(order):
            return None
        group, piece, width = group[order], piece[order], width[order]
        from_point, to_point, from_angle = from_point[order], to_point[order], from_angle[order]
        after = _following(group)
        step = from_point[after] - to_point
        span = self.marked.span[piece]
        breaks = (np.hypot(step[:, 0], step[:, 1]) > SAME_POINT) | (span != span[after])
        breaks |= self.single[span] & (piece[after] < piece)  # round to the one mark again
        # Each anchor's list begins with the piece after its last break, so that no sector runs over its end.
        begins = np.concatenate([[True], group[1:] != group[:-1]])
        start = np.flatnonzero(begins)
        size = np.diff(np.append(start, len(group)))
        list_of = np.cumsum(begins) - 1
        last_break = np.maximum.reduceat(np.where(breaks, np.arange(len(group)), -1), start)
        unbroken = last_break < 0
        last_break = np.where(unbroken, start + size - 1, last_break)
        breaks[last_break] = True
        tail = np.arange(len(group)) > last_break[list_of]
        moved = (last_break - start + 1)[list_of]
        place = np.where(tail, np.arange(len(group)) - moved, np.arange(len(group)) + size[list_of] - moved)
        angle = from_angle - np.where(tail, _TURN, 0.0)
        order = np.empty(len(group), dtype=np.intp)
        order[place] = np.arange(len(group))
        angle, breaks, span, piece = angle[order], breaks[order], span[order], piece[order]
        from_point, to_point, width = from_point[order], to_point[order], width[order]
        last = np.flatnonzero(breaks)
        first = np.concatenate([[0], last[:-1] + 1])
        begin, end = complex_of(from_point), complex_of(to_point)
        normal = 1j * complex_of(self.along[piece]).conj()
        normal /= (begin * normal).real
        return _Sectors(
            angle + _APART * group, normal, begin, end, first, last, angle[first], (angle + width)[last],
            span[last], span[last], np.ones(len(last), dtype=np.bool_), group[last],
        )  # fmt: skip

    def _pieces(self, views: Views, anchors: Points) -> tuple[Ints, Ints, Points, Points]:
        """The views cut at the marks: whose, piece of the marked edge, from and to (relative, mm)."""
        edge = views.edge
        origin = anchors[views.anchor]
        from_point = np.column_stack([views.from_x, views.from_y])
        to_point = np.column_stack([views.to_x, views.to_y])
        where = np.column_stack([self.area.x[edge], self.area.y[edge]]) - origin
        unit = np.column_stack([self.area.along_x[edge], self.area.along_y[edge]])
        unit /= self.area.length[edge][:, None]
        base = self.at[self.first[edge]]
        begin = base + ((from_point - where) * unit).sum(axis=1)
        end = base + ((to_point - where) * unit).sum(axis=1)
        low = np.searchsorted(self.at, begin + GAP_SOLVED, side="right") - 1
        high = np.searchsorted(self.at, end - GAP_SOLVED, side="left") - 1
        low = np.minimum(np.maximum(low, self.first[edge]), self.last[edge])
        high = np.minimum(np.maximum(high, low), self.last[edge])
        size = high - low + 1
        row = np.repeat(np.arange(len(edge)), size)
        stop = np.cumsum(size)
        begins = stop - size
        piece = np.arange(len(row)) - begins[row] + low[row]
        origin = origin[row]
        starts = self.marked.start[piece] - origin
        ends = self.marked.end[piece] - origin
        starts[begins] = from_point
        ends[stop - 1] = to_point
        return views.anchor[row], piece, starts, ends


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
