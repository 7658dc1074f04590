"""Wedges, and the fan they make.

What the anchor sees of one span, without a jump in distance, is a sector. Neighbouring sectors give
way to each other until their outer ends are one gap apart; what is left of a sector is its wedge
(design page, 3.5).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Generic, Literal, NamedTuple, Self, TypeVar

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from geometry.marks import Mark, MarkedEdge
from geometry.settings import Settings
from geometry.tolerances import GAP_SOLVED, NO_ANGLE, SAME_POINT
from geometry.types import Point, Points
from geometry.visibility import View, points_of

_TURN = 2 * math.pi
Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Ints = NDArray[np.intp]


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


@dataclass(frozen=True, slots=True, eq=False)
class Sectors:
    """k sectors in order of direction, and the m pieces of edge they are made of.

    Points and vectors are complex numbers here, x + iy, relative to the anchor, mm.
    """

    piece_angle: Floats
    """(m,) where each piece begins, growing; the pieces of a sector follow one another."""
    normal: Complex
    """(m,) conjugate of each piece's outward normal over its distance: 1/t along the unit direction d is
    the real part of normal d."""
    piece_from: Complex
    piece_to: Complex
    """(m,)"""
    first: Ints
    last: Ints
    """(k,) each sector's first and last piece."""
    start: Floats
    stop: Floats
    """(k,) directions where each begins and ends."""
    span: Ints
    span_to: Ints
    """(k,) the spans in which each begins and ends: one and the same, unless sectors were joined."""
    borders: NDArray[np.bool_]
    """(k,) sector i meets sector i + 1 (after the last: the first): nothing out of sight between them."""

    def moved_on(self, sector: Ints) -> Floats | float:
        """What to add to directions of ``sector`` before they are looked up in ``piece_angle``."""
        return 0.0

    def piece_at(self, sector: Ints, angle: Floats) -> Ints:
        """(n,) the piece of each ``sector`` (n,) in direction ``angle`` (n,), its ends included; where two
        pieces meet, the second."""
        return self._piece(sector, angle, "right")

    def piece_before(self, sector: Ints, angle: Floats) -> Ints:
        """As ``piece_at``, but where two pieces meet, the first."""
        return self._piece(sector, angle, "left")

    def _piece(self, sector: Ints, angle: Floats, side: Literal["left", "right"]) -> Ints:
        piece, last = self.first.take(sector), self.last.take(sector)
        several = (piece != last).nonzero()[0]
        if len(several):
            of = sector.take(several)
            where = angle.take(several) + self.moved_on(of)
            found = np.searchsorted(self.piece_angle, where, side=side) - 1
            piece[several] = np.minimum(np.maximum(found, piece.take(several)), last.take(several))
        return piece

    def following(self, left: Ints) -> Ints:
        """(n,) where in ``left``, sectors in order, the one stands that comes after each of them."""
        return following(len(left))

    def joined(self, join: NDArray[np.bool_]) -> tuple[Self, Ints]:
        """The sectors with some (k,) joined to the one after them, and where each of the old ones is now.
        Of the sectors of one anchor one at least must not be joined."""
        count = len(join)
        here = np.arange(count)
        after = self.following(here)
        starts = np.sort(after[after <= here])  # the first sector of each anchor
        anchor = np.searchsorted(starts, here, side="right") - 1
        last_open = np.maximum.reduceat(np.where(join, -1, here), starts)
        # Those that are joined to the first one of their anchor come to stand before it.
        moved = here > last_open[anchor]
        back = np.where(moved, -_TURN, 0.0)
        order = np.argsort(2 * anchor + ~moved, kind="stable")
        size = self.last - self.first + 1
        of = here.repeat(size)  # the sector of each piece
        piece = np.argsort((2 * anchor + ~moved)[of], kind="stable")
        stop = size[order].cumsum()
        tail = (~join[order]).nonzero()[0]
        head = np.concatenate([[0], tail[:-1] + 1])
        now = np.empty(count, dtype=np.intp)
        now[order] = np.searchsorted(tail, here)
        begin, end = order[head], order[tail]
        sectors = replace(
            self, piece_angle=(self.piece_angle + back[of])[piece], normal=self.normal[piece],
            piece_from=self.piece_from[piece], piece_to=self.piece_to[piece],
            first=(stop - size[order])[head], last=stop[tail] - 1,
            start=(self.start + back)[begin], stop=(self.stop + back)[end],
            span=self.span[begin], span_to=self.span_to[end], borders=self.borders[end], **self._of(end),
        )  # fmt: skip
        return sectors, now

    def _of(self, which: Ints) -> dict[str, Ints]:
        """What else there is of the sectors ``which``."""
        return {}


def following(count: int) -> Ints:
    """1, 2, …, 0: the place of the next of ``count`` items in a ring."""
    after = np.arange(1, count + 1)
    after[-1:] = 0
    return after


def sectors_of(view: View, edge: MarkedEdge) -> Sectors | None:
    """Join the pieces in sight into sectors; None where nothing is in sight."""
    count = len(view.edge)
    if not count:
        return None
    span = edge.span.take(view.edge)
    begin_point, end_point, normal = view.from_point, view.to_point, view.normal
    after = following(count)
    breaks = np.abs(begin_point.take(after) - end_point) > SAME_POINT
    breaks |= span != span.take(after)
    breaks |= ~view.adjoins
    single = _spans(edge).single
    if single is not None:
        # Where a single-span ring comes round to its one mark again, the sector ends there too.
        here = view.edge
        there = here.take(after)
        breaks |= single.take(span) & (there < here) & (edge.span.take(there) == span)
    last = breaks.nonzero()[0]
    from_angle, to_angle, adjoins = view.from_angle, view.to_angle, view.adjoins
    begin = int(last[-1] + 1) % count if len(last) else 0
    if not len(last):
        last = np.array([count - 1])
    elif begin:
        # Begin with the first piece after a break, so that no sector runs over the end of the list.
        order = np.arange(begin, begin + count)
        order[count - begin :] -= count
        last = breaks.take(order).nonzero()[0]
        normal, span, adjoins = normal.take(order), span.take(order), adjoins.take(order)
        begin_point, end_point = begin_point.take(order), end_point.take(order)
        from_angle, to_angle = from_angle.take(order), to_angle.take(order)
        from_angle[count - begin :] += _TURN
        to_angle[count - begin :] += _TURN
    first = np.empty_like(last)
    first[0] = 0
    np.add(last[:-1], 1, out=first[1:])
    return Sectors(
        from_angle, normal, begin_point, end_point, first, last, from_angle.take(first), to_angle.take(last),
        span.take(last), span.take(last), adjoins.take(last),
    )  # fmt: skip


class _Spans(NamedTuple):
    """What is asked of a marked edge's spans for every anchor."""

    names: tuple[tuple[str, str], ...]
    """Names of the marks at the two ends of each."""
    single: NDArray[np.bool_] | None
    """(s,) which begin and end at one and the same mark; None where none does."""


@lru_cache(maxsize=16)
def _spans(edge: MarkedEdge) -> _Spans:
    """Kept while the anchor moves."""
    names = tuple(
        (edge.marks[a].name if a >= 0 else "", edge.marks[b].name if b >= 0 else "") for a, b in edge.spans
    )
    single = np.array([a == b and a >= 0 for a, b in edge.spans], dtype=np.bool_)
    return _Spans(names, single if single.any() else None)


class _GiveWay:
    """How far neighbouring sectors turn back from each other."""

    def __init__(self, sectors: Sectors, gap: float) -> None:
        self.sectors = sectors
        self.gap = gap
        self.width = sectors.stop - sectors.start
        self.pull = gap * sectors.normal
        self.reach_start = np.abs(sectors.piece_from.take(sectors.first))
        self.reach_stop = np.abs(sectors.piece_to.take(sectors.last))
        farthest = np.maximum(np.abs(sectors.piece_from), np.abs(sectors.piece_to))
        self.farthest: Floats = np.maximum.reduceat(farthest, sectors.first)

    def solve(self, left: Ints, right: Ints, clear: Floats) -> tuple[Floats, Floats]:
        """Angles (rad) by which ``left`` turns back at its end and ``right`` at its start.

        ``clear`` is the angle already clear between them. They turn back by equal lengths at their own
        edges, x in all, just so far that the nearer outer end stands one gap from the other leg:
        min(r_left, r_right) s(clear + x) = gap. Divided by the distances, which become linear in the
        directions, that is s(clear + x) - gap max(n_left · d_left, n_right · d_right) = 0. Where no
        such x exists before one of the two is used up, the angles use up that one.
        """
        meeting = _Meeting(self, left, right, clear)
        if len(left) > _MANY_PAIRS:
            hope = meeting.may_meet()
            if not hope.all():
                x = meeting.most.copy()
                if hope.any():
                    x[hope] = self._angles(meeting.some(hope.nonzero()[0]))
                return meeting.part_left * x, meeting.part_right * x
        x = self._angles(meeting)
        return meeting.part_left * x, meeting.part_right * x

    def _angles(self, meeting: _Meeting) -> Floats:
        """By how much the two of each pair turn back, together."""
        x = meeting.newton()
        doubtful = np.isnan(x).nonzero()[0]
        for some in np.array_split(doubtful, -(-len(doubtful) // _AT_ONCE)) if len(doubtful) else ():
            x[some] = meeting.some(some).search()
        low, high = meeting.bends_before(x)
        sooner = np.isfinite(high).nonzero()[0]
        if len(sooner):
            x[sooner] = meeting.some(sooner).between(
                low.take(sooner), high.take(sooner), np.isfinite(x[sooner])
            )
        return x


class _Meeting:
    """n pairs of neighbouring sectors, each ``left`` of which meets its ``right``.

    Three directions turn with x at rates of their own: the leg of ``left``, that of ``right``, and, from 0
    on, the angle between them. Multiplied with ``pull`` the unit vectors along them have real parts that
    are the gap over the distance of either outer end, and the sine of the angle between the legs.
    """

    def __init__(self, give: _GiveWay, left: Ints, right: Ints, clear: Floats) -> None:
        s = self.sectors = give.sectors
        self.give = give
        self.left, self.right = left, right
        count = len(left)
        r_left, r_right = give.reach_stop.take(left), give.reach_start.take(right)
        self.nearer = np.minimum(r_left, r_right)
        self.part_left = r_right / (r_left + r_right)
        self.part_right = 1.0 - self.part_left
        self.most = np.minimum(
            give.width.take(left) / self.part_left, give.width.take(right) / self.part_right
        )
        self.clear = clear
        self.base = np.concatenate([s.stop.take(left), s.start.take(right), clear]).reshape(3, count)
        self.rate = np.concatenate([-self.part_left, self.part_right, np.ones(count)]).reshape(3, count)
        last, first = s.last.take(left), s.first.take(right)
        self.pull = np.empty((3, count), dtype=np.complex128)
        give.pull.take(last, out=self.pull[0], mode="clip")
        give.pull.take(first, out=self.pull[1], mode="clip")
        self.pull[2] = -1j
        # Most sectors are one piece of edge; where there are several, which one depends on x.
        of = np.concatenate([left, right])
        from_, to = s.first.take(of), s.last.take(of)
        self.several = (from_ != to).nonzero()[0]
        if len(self.several):
            self.of_several = of.take(self.several)
            self.from_, self.to = from_.take(self.several), to.take(self.several)
        self.wide = bool((clear + self.most >= _SQUARE).any())

    def some(self, rows: Ints) -> _Meeting:
        """Some of the pairs."""
        return _Meeting(self.give, self.left.take(rows), self.right.take(rows), self.clear.take(rows))

    def may_meet(self) -> NDArray[np.bool_]:
        """(n,) False where the condition is not met at any angle: both legs as long as they get and as far
        apart as they get would not do."""
        widest = self.clear + self.most
        sine = np.where(widest < _SQUARE, np.sin(widest), 1.0)
        longest = np.minimum(self.give.farthest.take(self.left), self.give.farthest.take(self.right))
        may: NDArray[np.bool_] = longest * sine >= self.give.gap * (1 - 1e-9)
        return may

    def _state(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """At x (…, n) rad: the condition's left side (0 when met, negative when short), its slope, and
        the gap over the distance of the nearer outer end."""
        turned = self.base + self.rate * x[..., None, :]
        unit = np.empty(turned.shape, dtype=np.complex128)
        np.cos(turned, out=unit.real)
        np.sin(turned, out=unit.imag)
        unit *= self._pulls(turned)
        value, slope = unit.real, -self.rate * unit.imag
        out, back, sine = value[..., 0, :], value[..., 1, :], value[..., 2, :]
        close = np.maximum(out, back)
        along = np.where(out >= back, slope[..., 0, :], slope[..., 1, :])
        growth = slope[..., 2, :]
        if self.wide:
            # s is the sine of the angle between the legs while that is below 90 degrees, on either side.
            phi = turned[..., 2, :]
            side = np.where(phi < _SQUARE, 1.0, np.where(phi > 3 * _SQUARE, -1.0, 0.0))
            sine = np.where(side == 0, 1.0, side * sine)
            growth = side * growth
        return sine - close, growth - along, close

    def _pulls(self, turned: Floats) -> Complex:
        if not len(self.several):
            return self.pull
        flat = (*turned.shape[:-2], -1)
        where = turned.reshape(flat)[..., self.several] + self.sectors.moved_on(self.of_several)
        piece = np.searchsorted(self.sectors.piece_angle, where, side="right") - 1
        piece = np.minimum(np.maximum(piece, self.from_), self.to)
        pull = np.empty(turned.shape, dtype=np.complex128)
        pull[...] = self.pull
        pull.reshape(flat)[..., self.several] = self.give.pull[piece]
        return pull

    def _met(self, value: Floats, close: Floats) -> NDArray[np.bool_]:
        """Whether the gap is kept to within ``GAP_SOLVED``: value times distance, in mm."""
        met: NDArray[np.bool_] = np.abs(value) * self.give.gap <= GAP_SOLVED * close
        return met

    def newton(self) -> Floats:
        """The least x that meets the condition, (n,) rad, where Newton's method finds it beyond doubt;
        NaN where it does not."""
        gap = self.give.gap
        guess = np.arcsin(np.minimum(1.0, gap / np.maximum(self.nearer, gap))) - self.clear
        x = np.minimum(np.maximum(guess, 0.0), self.most)
        sine = np.sin(self.clear)
        if self.wide:
            sine = np.where(self.clear < _SQUARE, sine, np.where(self.clear > 3 * _SQUARE, -sine, 1.0))
        at_once = sine * self.nearer >= gap
        value, slope, close = self._state(x)
        with np.errstate(divide="ignore", invalid="ignore"):
            for _ in range(8):
                met = self._met(value, close)
                better = np.minimum(np.maximum(x - value / slope, 0.0), self.most)
                done = met | at_once | (better == x)
                if done.all():
                    break
                if len(x) > _MANY_PAIRS:
                    rows = (~done).nonzero()[0]
                    x[rows] = better[rows]
                    value[rows], slope[rows], close[rows] = self.some(rows)._state(x[rows])
                else:
                    x = better
                    value, slope, close = self._state(x)
            else:
                met = self._met(value, close)
                better = np.minimum(np.maximum(x - value / slope, 0.0), self.most)
        met &= (slope > 0) & (x < self.most)
        if len(self.several) or (self.wide and (self.clear + x >= _SQUARE).any()):
            # It is the least only if the condition is not met before. Between straight sides it is not: there
            # f = sin(clear + x) - gap cos(a + p x) / h, 0 < p < 1, obeys f'' + p² f < 0, so that f over
            # sin(p x + c) has but one hill (Sturm), and the greatest of two distances the hills' overlap.
            if len(x) > _MANY_PAIRS:
                doubtful = self.clear + x >= _SQUARE
                doubtful[self.several % len(x)] = True
                rows = (met & ~at_once & doubtful).nonzero()[0]
                met[rows] = (self.some(rows)._state(_PROBES * x[rows])[0] < 0).all(axis=0)
            else:
                met &= (self._state(_PROBES * x)[0] < 0).all(axis=0)
        answer: Floats = np.where(met, better, np.nan)
        answer[at_once] = 0.0
        return answer

    def search(self) -> Floats:
        """The least x that meets the condition, by trying a ladder of angles and then Newton's method kept
        between two of them; ``most`` where there is none."""
        rungs = _LADDER * self.most
        values = self._state(rungs)[0]
        above = values[1:] >= 0
        found: NDArray[np.bool_] = np.logical_or.reduce(above)
        x: Floats = self.most.copy()
        if not found.any():
            return x
        step = above.argmax(axis=0)
        column = np.arange(len(x))
        at = self.between(rungs[step, column], rungs[step + 1, column], found)
        answer: Floats = np.where(found, at, x)
        return answer

    def bends_before(self, x: Floats) -> tuple[Floats, Floats]:
        """The bends of the two edges at which the condition is met for angles less than ``x`` (n,): the first
        of them and the one before it (or 0), (n,) rad each; the first is infinite where there is none.

        Along a ragged edge the distances leap, and most at its bends.
        """
        count = len(x)
        low, high = np.zeros(count), np.full(count, np.inf)
        if not len(self.several):
            return low, high
        pair = self.several % count
        base, rate = (of[:2].reshape(-1).take(self.several) for of in (self.base, self.rate))
        moved = np.broadcast_to(self.sectors.moved_on(self.of_several), base.shape)
        stop = base + rate * x.take(pair)
        angle = self.sectors.piece_angle
        first = np.searchsorted(angle, np.minimum(base, stop) + moved, side="right")
        last = np.searchsorted(angle, np.maximum(base, stop) + moved, side="left")
        first, last = np.maximum(first, self.from_ + 1), np.minimum(last, self.to + 1)
        size = np.maximum(last - first, 0)
        owner = np.arange(len(size)).repeat(size)
        if not len(owner):
            return low, high
        piece = np.arange(len(owner)) + (first - size.cumsum() + size).take(owner)
        at = (angle.take(piece) - (moved + base).take(owner)) / rate.take(owner)
        of = pair.take(owner)
        there = _Meeting(self.give, self.left.take(of), self.right.take(of), self.clear.take(of))
        over = there._state(at)[0] >= 0
        np.minimum.at(high, of[over], at[over])
        before = at < high.take(of)
        np.maximum.at(low, of[before], at[before])
        return low, high

    def between(self, low: Floats, high: Floats, active: NDArray[np.bool_]) -> Floats:
        """The x between ``low``, where the condition is not met, and ``high``, where it is, (n,) rad, by
        Newton's method; only for the ``active``."""
        x = high
        value, slope, _ = self._state(high)
        with np.errstate(invalid="ignore", divide="ignore"):
            better = high - value / slope
            for _ in range(100):
                at = np.where((better > low) & (better < high), better, 0.5 * (low + high))
                value, slope, close = self._state(at)
                over = value >= 0
                low, high = np.where(over, low, at), np.where(over, at, high)
                better = at - value / slope
                x = np.where(active, np.where((better > low) & (better < high), better, at), x)
                active = active & ~self._met(value, close) & (high - low > _STILL)
                if not active.any():
                    break
        return x


_SQUARE = math.pi / 2
_MANY_PAIRS = 500
"""Pairs from which on it pays to leave out those that are solved (found by trial)."""
_STILL = 1e-14
"""rad. An angle that moves by less has come to rest in float64."""
_PROBES = np.array([[0.3], [0.6], [0.9]])
_LADDER = np.array(
    [0, 0.002, 0.005, 0.01, 0.02, 0.04, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0]
)[:, None]
"""Shares of all the angle there is at which the gap is tried before it is solved exactly."""
_AT_ONCE = 4096
"""Pairs that climb the ladder together: no more than fit into the processor's cache."""


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
    names = _spans(edge).names
    if not (settings.merge_thin or settings.merged_spans):
        return made.wedges(names), made.lost(names, {})
    merging = Merging(sectors, names, settings)
    while merging.on(made.sectors, made.left, np.minimum(made.sides.length, made.across), made.gone()):
        made = _Made(anchor, merging.sectors, settings)
    # What is lost elsewhere of a span that is part of a merged wedge is lost beside that wedge.
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
            Lost(whole.get(span) or (names[span][0], names[to][1]), half_way(outline[1:-1]), length, area)
            for outline, (span, to), length, area in zip(
                sides.outlines(), spans, sides.length.tolist(), sides.areas().tolist(), strict=True
            )
            if length > SAME_POINT
        )


AnySectors = TypeVar("AnySectors", bound=Sectors)


class Merging(Generic[AnySectors]):
    """Thin and lost sectors joined with a neighbour at the same mark, the thinnest first, until none is thin
    or none has such a neighbour.

    Of two neighbours the narrower one is taken, so that wedges stay even. A join of more than half a turn is
    no wedge any more. A sector that is to be merged is merged on where the join is still thin.
    """

    sectors: AnySectors
    now: Ints
    """(k,) where each of the sectors of the beginning is now."""

    def __init__(self, sectors: AnySectors, names: Sequence[tuple[str, str]], settings: Settings) -> None:
        self.sectors = sectors
        self.now = np.arange(len(sectors.span))
        self._visible = settings.visible_width
        chosen = [settings.merge_thin or name in settings.merged_spans for name in names]
        self._chosen = np.array(chosen, dtype=np.bool_)[sectors.span]

    def on(self, s: AnySectors, left: Ints, least: Floats, gone: NDArray[np.bool_]) -> bool:
        """One round; False where nothing was joined. ``least`` (n,) mm is the least of side and across of the
        sectors ``left`` (n,), ``gone`` (k,) are lost."""
        size = np.full(len(s.span), np.inf)
        size[left] = least
        size[gone] = -1.0
        join = _joins(s, size, self._chosen & (size < self._visible))
        if not join.any():
            return False
        self.sectors, now = s.joined(join)
        chosen = np.zeros(len(self.sectors.span), dtype=np.bool_)
        chosen[now[self._chosen]] = True
        self._chosen = chosen
        self.now = now[self.now]
        return True


def _joins(s: Sectors, size: Floats, thin: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(k,) which sectors are joined with the one after them: each of ``thin`` with one neighbour, as far as
    none is taken twice. The smallest ``size`` (k,) chooses first."""
    here = np.arange(len(s.span))
    after = s.following(here)
    before = np.empty_like(after)
    before[after] = here
    width = s.stop - s.start
    meets = s.borders & (np.abs(s.piece_from[s.first[after]] - s.piece_to[s.last]) <= SAME_POINT)
    meets &= (after != here) & (width + width[after] <= math.pi)
    join = np.zeros(len(here), dtype=np.bool_)
    taken: set[int] = set()
    which = (thin & (meets | meets[before])).nonzero()[0]
    for i in which[np.lexsort((width[which], size[which]))].tolist():
        if i in taken:
            continue
        ahead, behind = int(after[i]), int(before[i])
        _, at, j = min((width[j], at, j) for at, j in ((i, ahead), (behind, behind)) if meets[at])
        if j not in taken:
            join[at] = True
            taken |= {i, j}
    return join


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


def turned_back(sectors: Sectors, gap: float) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Angles given up at the start and at the end of each sector, and which sectors are left."""
    k = len(sectors.span)
    give = _GiveWay(sectors, gap)
    alive = give.farthest >= gap
    alive &= give.width > NO_ANGLE
    turn_start, turn_stop = np.zeros(k), np.zeros(k)
    interruptions = np.zeros(k + 1, dtype=np.intp)
    (~sectors.borders).cumsum(out=interruptions[1:])
    met = np.full(k, -1, dtype=np.intp)  # the sector that each was last turned back from

    def turned(left: Ints, right: Ints) -> tuple[Floats, Floats]:
        """By how much each ``left`` turns back at its stop and ``right``, which follows it, at its start."""
        wraps = right <= left
        # Sight is interrupted between the two when it is at any border from the left one on to the right one.
        breaks = interruptions.take(right) - interruptions.take(left)
        clear = sectors.start.take(right) - sectors.stop.take(left)
        breaks[wraps] += interruptions[k]
        clear[wraps] += _TURN
        np.maximum(clear, 0.0, out=clear)
        # A wedge alone meets only itself, and only where its two legs face each other.
        meets = (breaks == 0) & ((left != right) | (clear < _SQUARE))
        if meets.all():
            return give.solve(left, right, clear) if len(left) else (clear, clear)
        stop, start = np.zeros(len(left)), np.zeros(len(left))
        if meets.any():
            stop[meets], start[meets] = give.solve(left[meets], right[meets], clear[meets])
        return stop, start

    wait = pause = 0
    while True:
        index = alive.nonzero()[0]
        if not len(index):
            break
        after = sectors.following(index)
        following = index.take(after)
        changed = (met.take(index) != following).nonzero()[0]
        left, right = index.take(changed), following.take(changed)
        met[left] = right
        turn_stop[left], turn_start[right] = turned(left, right)
        spent = alive & (give.width - turn_start - turn_stop <= NO_ANGLE)
        if not spent.any():
            break
        rank = _ranks(spent, index, give.width)
        out = _narrowest(spent[index], rank, after)
        wait -= 1
        few = np.count_nonzero(out)
        if wait < 0 and few * _MANY < np.count_nonzero(spent):
            row = _Row(spent[index], rank, after, out)
            tried = row.every_other()
            stop, start = turned(index[row.before[tried]], following[after[row.before[tried]]])
            width = give.width[index]
            left_over = np.stack([width - turn_stop[index], width - turn_start[index]])
            left_over[0, after[tried]] -= start
            left_over[1, row.before[tried]] -= stop
            out = row.sure(tried, left_over > NO_ANGLE)
            if np.count_nonzero(out) < few * _MANY:
                wait = pause = 2 * pause + 1
        alive[index[out]] = False
    return turn_start, turn_stop, alive


def _ranks(spent: NDArray[np.bool_], index: Ints, width: Floats) -> Ints:
    """(n,) of the sectors ``index``, the place of each by width: the spent ones first, of equal ones the
    first."""
    size = np.where(spent[index], width[index], np.inf)
    order = np.round(size / NO_ANGLE).argsort(kind="stable")
    rank = np.empty(len(index), dtype=np.intp)
    rank[order] = np.arange(len(index))
    return rank


def _narrowest(spent: NDArray[np.bool_], rank: Ints, after: Ints) -> NDArray[np.bool_]:
    """(n,) those spent sectors that are narrower than any spent neighbour.

    Taking a sector out changes only its two neighbours, so that sectors which are not neighbours can
    go in one round as well as in many.
    """
    least = rank <= rank[after]
    least[after] &= rank[after] <= rank
    return spent & least


_MANY = 8
"""Where so many times as many sectors are spent as can go in a round, it may be worth looking further ahead;
where it turns out not to be, it is tried more and more rarely."""


class _Row:
    """n sectors in a ring, and rows of spent ones among them that grow wider from one to the next.

    The first of a row goes, which may save the second; then the third is narrower than any spent neighbour
    and goes, and so on through thousands of equal teeth. All arrays are (n,).
    """

    def __init__(
        self, spent: NDArray[np.bool_], rank: Ints, after: Ints, narrowest: NDArray[np.bool_]
    ) -> None:
        here = np.arange(len(after))
        before = np.empty_like(after)
        before[after] = here
        self.before, self._narrowest = before, narrowest
        self._wider = (  # than the spent neighbour before it, and after it
            spent & spent[before] & (rank[before] < rank),
            spent & spent[after] & (rank[after] < rank),
        )
        # Where each row began, forwards and backwards; a row ends where the ring is closed.
        forwards = self._wider[0] & (before == here - 1)
        backwards = self._wider[1] & (after == here + 1)
        last = len(here) - 1
        self._first = (
            np.maximum.accumulate(np.where(forwards, 0, here)),
            last - np.maximum.accumulate(np.where(backwards[::-1], 0, here))[::-1],
        )
        self._here = here

    def every_other(self) -> NDArray[np.bool_]:
        """Those that go if each that goes saves its neighbours."""
        return self._going((True, True))

    def _going(self, follows: tuple[NDArray[np.bool_] | bool, NDArray[np.bool_] | bool]) -> NDArray[np.bool_]:
        going = np.ones(len(self._here), dtype=np.bool_)
        for wider, first, holds in zip(self._wider, self._first, follows, strict=True):
            even = (np.abs(self._here - first) % 2 == 0) & (self._here != first)
            going &= ~wider | (even & self._narrowest[first] & holds)
        return going & (self._narrowest | self._wider[0] | self._wider[1])

    def sure(self, tried: NDArray[np.bool_], saved: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Those of ``tried`` before which in their row each that was to be saved is: ``saved`` (2, n), once
        the neighbour before it is gone, and once the one after it is."""
        broken = [(~tried & ~of).cumsum() for of in saved]
        forwards = broken[0][self._here - 1] == broken[0][self._first[0]]
        backwards = broken[1][self._here] == broken[1][self._first[1] - 1]
        return tried & self._going((forwards, backwards))


def along_rays(sectors: Sectors, piece: Ints, angle: Floats) -> Complex:
    """(n,) where the rays at ``angle`` (n,) meet the pieces, relative to the anchor."""
    unit = np.empty(len(angle), dtype=np.complex128)
    np.cos(angle, out=unit.real)
    np.sin(angle, out=unit.imag)
    unit /= (sectors.normal.take(piece) * unit).real
    return unit


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
