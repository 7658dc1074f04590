"""Wedges, and the fan they make.

What the anchor sees of one span, without a jump in distance, is a sector. Neighbouring sectors give
way to each other until their outer ends are one gap apart; what is left of a sector is its wedge
(design page, 3.5).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from geometry.marks import Mark, MarkedEdge
from geometry.tolerances import GAP_SOLVED, NO_ANGLE, SAME_POINT
from geometry.types import Point, Points
from geometry.visibility import View

_TURN = 2 * math.pi
Floats = NDArray[np.float64]
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
    """Names of the marks at the two ends of its span."""
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
    """k sectors in order of direction, and the m pieces of edge they are made of."""

    piece_angle: Floats
    """(m,) where each piece begins, growing; the pieces of a sector follow one another."""
    normal: Points
    """(m, 2) each piece's outward normal over its distance: 1/t along direction d is normal·d."""
    piece_from: Points
    piece_to: Points
    """(m, 2) relative to the anchor."""
    first: Ints
    last: Ints
    """(k,) each sector's first and last piece."""
    start: Floats
    stop: Floats
    """(k,) directions where each begins and ends."""
    span: Ints
    """(k,)"""
    borders: NDArray[np.bool_]
    """(k,) sector i meets sector i + 1 (after the last: the first): nothing out of sight between them."""

    def piece_at(self, sector: Ints, angle: Floats) -> Ints:
        """The piece of each ``sector`` in direction ``angle`` (same shapes), its ends included."""
        first, last = self.first[sector], self.last[sector]
        if (first == last).all():
            return first
        piece: Ints = np.searchsorted(self.piece_angle, angle, side="right") - 1
        return np.minimum(np.maximum(piece, first), last)

    def following(self, left: Ints) -> Ints:
        """(n,) where in ``left``, sectors in order, the one stands that comes after each of them."""
        after = np.arange(1, len(left) + 1)
        after[-1] = 0
        return after


def sectors_of(anchor: Point, view: View, edge: MarkedEdge) -> Sectors | None:
    """Join the pieces in sight into sectors; None where nothing is in sight."""
    count = len(view.edge)
    if not count:
        return None
    span = edge.span[view.edge]
    step = np.roll(view.from_point, -1, axis=0) - view.to_point
    jump = np.hypot(step[:, 0], step[:, 1]) > SAME_POINT
    breaks = ~view.adjoins | jump | (span != np.roll(span, -1))
    breaks |= _passes_mark(view, edge)
    turn = np.zeros(count)
    if breaks.any():
        # Begin with the first piece after a break, so that no sector runs over the end of the list.
        begin = (int(np.flatnonzero(breaks)[-1]) + 1) % count
        order = np.roll(np.arange(count), -begin)
        turn = np.where(order < begin, _TURN, 0.0)
    else:
        order = np.arange(count)
        breaks[-1] = True
    breaks = breaks[order]
    last = np.flatnonzero(breaks)
    first = np.concatenate([[0], last[:-1] + 1])
    angle = view.from_angle[order] + turn
    to_angle = view.to_angle[order] + turn
    start_point, end_point = view.from_point[order], view.to_point[order]
    here = view.edge[order]
    along = edge.end[here] - edge.start[here]
    offset = edge.start[here] - np.array(anchor)
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    normal /= (offset * normal).sum(axis=1)[:, None]
    return Sectors(
        angle, normal, start_point, end_point, first, last, angle[first], to_angle[last],
        span[order][last], view.adjoins[order][last],
    )  # fmt: skip


def _passes_mark(view: View, edge: MarkedEdge) -> NDArray[np.bool_]:
    """Where a single-span ring comes round to its one mark again, the sector ends there too."""
    here = view.edge
    following = np.roll(here, -1)
    if len(edge.spans) == 0:
        return np.zeros(len(here), dtype=np.bool_)
    single = np.array([a == b and a >= 0 for a, b in edge.spans])[edge.span[here]]
    backwards = following < here
    round_again: NDArray[np.bool_] = single & backwards & (edge.span[following] == edge.span[here])
    return round_again


class _GiveWay:
    """How far neighbouring sectors turn back from each other."""

    def __init__(self, sectors: Sectors, gap: float) -> None:
        self.sectors = sectors
        self.gap = gap
        self.width = sectors.stop - sectors.start

    def solve(self, left: Ints, right: Ints, clear: Floats) -> tuple[Floats, Floats]:
        """Angles (rad) by which ``left`` turns back at its end and ``right`` at its start.

        ``clear`` is the angle already clear between them. They turn back by equal lengths at their own
        edges, x in all, just so far that the nearer outer end stands one gap from the other leg:
        min(r_left, r_right) s(clear + x) = gap. Divided by the distances, which become linear in the
        directions, that is s(clear + x) - gap max(n_left · d_left, n_right · d_right) = 0. Where no
        such x exists before one of the two is used up, the angles use up that one.
        """
        meeting = _Meeting(self, left, right, clear)
        x = meeting.newton()
        doubtful = np.flatnonzero(np.isnan(x))
        if len(doubtful):
            x[doubtful] = _Meeting(self, left[doubtful], right[doubtful], clear[doubtful]).search()
        return meeting.part_left * x, meeting.part_right * x


class _Meeting:
    """n pairs of neighbouring sectors, each ``left`` of which meets its ``right``."""

    def __init__(self, give: _GiveWay, left: Ints, right: Ints, clear: Floats) -> None:
        s = self.sectors = give.sectors
        self.gap = give.gap
        self.left, self.right, self.clear = left, right, clear
        self.end, self.begin = s.stop[left], s.start[right]
        out, back = s.piece_to[s.last[left]], s.piece_from[s.first[right]]
        r_left = np.hypot(out[:, 0], out[:, 1])
        r_right = np.hypot(back[:, 0], back[:, 1])
        self.nearer = np.minimum(r_left, r_right)
        self.part_left = r_right / (r_left + r_right)
        self.part_right = 1.0 - self.part_left
        self.most = np.minimum(give.width[left] / self.part_left, give.width[right] / self.part_right)

    def _state(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """At x (n,) rad: the condition's left side (0 when met, negative when short), its slope, and
        the distance of the nearer outer end, by which the left side becomes mm of the gap."""
        s = self.sectors
        out = self.end - self.part_left * x
        back = self.begin + self.part_right * x
        n_out = s.normal[s.piece_at(self.left, out)]
        n_back = s.normal[s.piece_at(self.right, back)]
        cos_out, sin_out, cos_back, sin_back = np.cos(out), np.sin(out), np.cos(back), np.sin(back)
        close_out = n_out[:, 0] * cos_out + n_out[:, 1] * sin_out
        close_back = n_back[:, 0] * cos_back + n_back[:, 1] * sin_back
        close = np.maximum(close_out, close_back)
        phi = self.clear + x
        # s is the sine of the angle between the legs while that is below 90 degrees, on either side.
        sine = np.sin(phi)
        side = np.where(phi < math.pi / 2, 1.0, np.where(phi > 1.5 * math.pi, -1.0, 0.0))
        value = np.where(side == 0, 1.0, side * sine) - self.gap * close
        along_out = self.part_left * (n_out[:, 0] * sin_out - n_out[:, 1] * cos_out)
        along_back = self.part_right * (n_back[:, 1] * cos_back - n_back[:, 0] * sin_back)
        along = np.where(close_out >= close_back, along_out, along_back)
        return value, side * np.cos(phi) - self.gap * along, 1.0 / np.maximum(close, _FAR)

    def newton(self) -> Floats:
        """The least x that meets the condition, (n,) rad, where Newton's method finds it beyond doubt;
        NaN where it does not."""
        guess = np.arcsin(np.minimum(1.0, self.gap / np.maximum(self.nearer, self.gap))) - self.clear
        x = np.minimum(np.maximum(guess, 0.0), self.most)
        for _ in range(8):
            value, slope, _ = self._state(x)
            with np.errstate(divide="ignore", invalid="ignore"):
                step = value / slope
            moved = np.minimum(np.maximum(x - step, 0.0), self.most)
            still = np.abs(moved - x)
            x = moved
            if not (still > _STILL).any():
                break
        value, slope, reach = self._state(x)
        met = (np.abs(value) * reach <= GAP_SOLVED) & (slope > 0) & (x < self.most)
        # It is the least only if the condition is not met before; with curved sides it might be.
        for part in (0.3, 0.6, 0.9):
            met &= self._state(part * x)[0] < 0
        at_once = self._state(np.zeros_like(x))[0] >= 0
        answer: Floats = np.where(at_once, 0.0, np.where(met, x, np.nan))
        return answer

    def search(self) -> Floats:
        """The least x that meets the condition, by trying a ladder of angles and then the Illinois form
        of regula falsi (Dowell and Jarratt, 1971); ``most`` where there is none."""
        low, high = np.zeros_like(self.most), self.most.copy()
        at_low, _, _ = self._state(low)
        at_high = np.full_like(at_low, -1.0)
        for part in _LADDER:
            rung = part * self.most
            value, _, _ = self._state(rung)
            below = (at_high < 0) & (value < 0)
            reached = (at_high < 0) & (value >= 0)
            low, at_low = np.where(below, rung, low), np.where(below, value, at_low)
            high, at_high = np.where(reached, rung, high), np.where(reached, value, at_high)
        found = at_high >= 0
        x: Floats = np.where(found, high, self.most)
        active = found & (at_high > 0)
        for _ in range(100):
            if not active.any():
                break
            with np.errstate(invalid="ignore", divide="ignore"):
                guess = high - at_high * (high - low) / (at_high - at_low)
            guess = np.where((guess > low) & (guess < high), guess, 0.5 * (low + high))
            value, _, reach = self._state(guess)
            x = np.where(active, guess, x)
            active &= (np.abs(value) * reach > GAP_SOLVED) & (high - low > _STILL)
            above = value >= 0
            at_low = np.where(above, at_low * 0.5, value)
            low = np.where(above, low, guess)
            at_high = np.where(above, value, at_high * 0.5)
            high = np.where(above, guess, high)
        return x


_FAR = 1e-12
"""1/mm. No edge in sight is a million metres away; guards the division where a ray runs along an edge."""
_STILL = 1e-14
"""rad. An angle that moves by less has come to rest in float64."""
_LADDER = (0.002, 0.005, 0.01, 0.02, 0.04, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0)
"""Shares of all the angle there is at which the gap is tried before it is solved exactly."""


def wedges_of(
    anchor: Point, sectors: Sectors | None, edge: MarkedEdge, gap: float
) -> tuple[tuple[Wedge, ...], tuple[Lost, ...]]:
    """The wedges that are left when the sectors have given way, and the sectors that are lost.

    ``gap`` in mm, 0 or more. Every sector in sight is in one of the two answers.
    """
    if sectors is None:
        return (), ()
    turn_start, turn_stop, alive = turned_back(sectors, gap)
    names = [
        (edge.marks[a].name if a >= 0 else "", edge.marks[b].name if b >= 0 else "") for a, b in edge.spans
    ]
    left = np.flatnonzero(alive)
    if len(left):
        # Numbers go on clockwise from the first span that has a wedge.
        left = np.roll(left, -int(np.argmin(sectors.span[left])))
    begin = (sectors.start + turn_start)[left]
    finish = (sectors.stop - turn_stop)[left]
    sides = _Sides(sectors, left, begin, finish, anchor)
    apex = finish - begin
    shorter = np.minimum(*sides.legs())
    across = (shorter * np.where(apex < math.pi / 2, np.sin(apex), 1.0)).tolist()
    wedges = tuple(
        Wedge(number, outline, outline[1:-1], names[span], length, width, angle)
        for number, outline, span, length, width, angle in zip(
            range(1, len(left) + 1), sides.outlines(), sectors.span[left].tolist(), sides.lengths(), across,
            apex.tolist(), strict=True,
        )
    )  # fmt: skip
    # What has no angle to begin with lies in line with the anchor: it gives nothing, and is no loss.
    gone = np.flatnonzero(~alive & (sectors.stop - sectors.start > NO_ANGLE))
    if not len(gone):
        return wedges, ()
    sides = _Sides(sectors, gone, sectors.start[gone], sectors.stop[gone], anchor)
    lost = tuple(
        Lost(names[span], half_way(outline[1:-1]), length, ring_area(outline))
        for outline, span, length in zip(
            sides.outlines(), sectors.span[gone].tolist(), sides.lengths(), strict=True
        )
        if length > SAME_POINT
    )
    return wedges, lost


class _Sides:
    """The edges of n sectors between two directions each, as wedge outlines in one array."""

    def __init__(self, sectors: Sectors, which: Ints, begin: Floats, finish: Floats, anchor: Point) -> None:
        last = sectors.last[which]
        a = sectors.piece_at(which, begin)
        b = np.minimum(np.searchsorted(sectors.piece_angle, finish, side="left") - 1, last)
        b = np.maximum(b, a)
        size = (
            b - a + 4
        )  # the anchor, the first leg's end, the bends between, the second leg's end, the anchor
        stop = np.cumsum(size)
        start = stop - size
        total = int(stop[-1]) if len(stop) else 0
        row = np.arange(total) - np.repeat(start, size)
        piece = np.repeat(a, size) + row - 1
        points = sectors.piece_from[np.minimum(np.maximum(piece, 0), len(sectors.piece_from) - 1)]
        points[start + 1] = along_rays(sectors, a, begin)
        whole = begin <= sectors.start[which]
        points[start[whole] + 1] = sectors.piece_from[a[whole]]
        points[stop - 2] = along_rays(sectors, b, finish)
        whole = finish >= sectors.stop[which]
        points[stop[whole] - 2] = sectors.piece_to[last[whole]]
        # A bend on top of a leg's end, or of another bend, is no bend.
        step = points[1:] - points[:-1]
        short = np.concatenate([[False], np.hypot(step[:, 0], step[:, 1]) <= SAME_POINT])
        if short.any():
            inner = np.ones(total, dtype=np.bool_)
            for ends in (start, start + 1, stop - 2, stop - 1):
                inner[ends] = False
            before_end = np.zeros(total, dtype=np.bool_)
            before_end[stop - 3] = short[stop - 2]
            keep = ~(inner & (short | before_end))
            points = points[keep]
            stop = np.cumsum(np.add.reduceat(keep, start, dtype=np.intp))
            start = np.concatenate([[0], stop[:-1]])
        points += np.array(anchor)
        points[start] = points[stop - 1] = anchor
        points.flags.writeable = False
        self._points, self._start, self._stop = points, start, stop

    def outlines(self) -> list[Points]:
        """n closed outlines that begin at the anchor."""
        return [self._points[a:b] for a, b in zip(self._start.tolist(), self._stop.tolist(), strict=True)]

    def _steps(self) -> Floats:
        step = self._points[1:] - self._points[:-1]
        length: Floats = np.hypot(step[:, 0], step[:, 1])
        return length

    def legs(self) -> tuple[Floats, Floats]:
        """(n,) mm: first legs, second legs."""
        step = self._steps()
        return step[self._start], step[self._stop - 2]

    def lengths(self) -> list[float]:
        """n side lengths, mm."""
        if not len(self._start):
            return []
        step = np.append(self._steps(), 0.0)
        step[self._start] = step[self._stop - 2] = step[self._stop - 1] = 0.0
        sums: list[float] = np.add.reduceat(step, self._start).tolist()
        return sums


def turned_back(sectors: Sectors, gap: float) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Angles given up at the start and at the end of each sector, and which sectors are left."""
    k = len(sectors.span)
    give = _GiveWay(sectors, gap)
    farthest = np.maximum(
        np.hypot(sectors.piece_from[:, 0], sectors.piece_from[:, 1]),
        np.hypot(sectors.piece_to[:, 0], sectors.piece_to[:, 1]),
    )
    alive = np.maximum.reduceat(farthest, sectors.first) >= gap
    alive &= give.width > NO_ANGLE
    turn_start, turn_stop = np.zeros(k), np.zeros(k)
    interruptions = np.concatenate([[0], np.cumsum(~sectors.borders)])
    met = np.full(k, -1, dtype=np.intp)  # the sector that each was last turned back from
    while alive.any():
        index = np.flatnonzero(alive)
        after = sectors.following(index)
        following = index[after]
        changed = met[index] != following
        left, right = index[changed], following[changed]
        met[left] = right
        wraps = right <= left
        # Sight is interrupted between the two when it is at any border from the left one on to the right one.
        between = interruptions[right] - interruptions[left] + np.where(wraps, interruptions[k], 0)
        clear = np.maximum(sectors.start[right] + np.where(wraps, _TURN, 0.0) - sectors.stop[left], 0.0)
        # A wedge alone meets only itself, and only where its two legs face each other.
        meets = (between == 0) & ((left != right) | (clear < math.pi / 2))
        turn_stop[left] = turn_start[right] = 0.0
        if meets.any():
            left, right = left[meets], right[meets]
            turn_stop[left], turn_start[right] = give.solve(left, right, clear[meets])
        spent = alive & (give.width - turn_start - turn_stop <= NO_ANGLE)
        if not spent.any():
            break
        alive[_narrowest(spent, index, after, give.width)] = False
    return turn_start, turn_stop, alive


def _narrowest(spent: NDArray[np.bool_], index: Ints, after: Ints, width: Floats) -> Ints:
    """Those spent sectors that are narrower than any spent neighbour; of equal ones the first.

    Taking a sector out changes only its two neighbours, so that sectors which are not neighbours can
    go in one round as well as in many.
    """
    size = np.where(spent[index], width[index], np.inf)
    rank = np.lexsort((np.arange(len(index)), np.round(size / NO_ANGLE)))
    place = np.empty(len(index), dtype=np.intp)
    place[rank] = np.arange(len(index))
    least = place <= place[after]
    least[after] &= place[after] <= place
    return index[spent[index] & least]


def along_rays(sectors: Sectors, piece: Ints, angle: Floats) -> Points:
    """Where the rays at ``angle`` (n,) meet the pieces, relative to the anchor."""
    direction = np.column_stack([np.cos(angle), np.sin(angle)])
    points: Points = direction / (sectors.normal[piece] * direction).sum(axis=1)[:, None]
    return points


def half_way(line: Points) -> Point:
    """The point half way along a line (m, 2)."""
    if len(line) == 2:
        (x0, y0), (x1, y1) = line.tolist()
        return (x0 + x1) / 2, (y0 + y1) / 2
    step = np.diff(line, axis=0)
    at = np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])
    half = at[-1] / 2
    return float(np.interp(half, at, line[:, 0])), float(np.interp(half, at, line[:, 1]))


def ring_area(ring: Points) -> float:
    """mm² inside a closed ring (m, 2), by the shoelace formula."""
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return abs(0.5 * float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum()))
