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
from geometry.types import Point, Points, frozen
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

    def distance(self, sector: Ints, angle: Floats) -> Floats:
        """Distance from the anchor to the edge of each ``sector`` in direction ``angle`` (same shapes)."""
        piece = np.searchsorted(self.piece_angle, angle, side="right") - 1
        piece = np.clip(piece, self.first[sector], self.last[sector])
        normal = self.normal[piece]
        closeness = normal[..., 0] * np.cos(angle) + normal[..., 1] * np.sin(angle)
        with np.errstate(divide="ignore"):
            return np.where(closeness > 0, 1.0 / closeness, np.inf)


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
    return single & backwards & (edge.span[following] == edge.span[here])


class _GiveWay:
    """How far neighbouring sectors turn back from each other."""

    def __init__(self, sectors: Sectors, gap: float) -> None:
        self.sectors = sectors
        self.gap = gap
        self.width = sectors.stop - sectors.start

    def solve(self, left: Ints, right: Ints, clear: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Angles (rad) by which ``left`` turns back at its end and ``right`` at its start.

        ``clear`` is the angle already clear between them. They turn back by ``x / r`` each in
        proportion (equal lengths at their own edges), just so far that the nearer outer end stands one
        gap from the other leg. The third answer says where no such angle exists before one of the two
        is used up; the two angles then use up that one.
        """
        s = self.sectors
        end, begin = s.stop[left], s.start[right]
        r_left = s.distance(left, end)
        r_right = s.distance(right, begin)
        part_left = r_right / (r_left + r_right)
        part_right = 1.0 - part_left
        most = np.minimum(self.width[left] / part_left, self.width[right] / part_right)

        def short_by(x: Floats) -> Floats:
            """mm by which the gap is exceeded (negative: short) when x rad are given in all."""
            near = np.minimum(
                s.distance(left[:, None], end[:, None] - part_left[:, None] * x),
                s.distance(right[:, None], begin[:, None] + part_right[:, None] * x),
            )
            phi = clear[:, None] + x
            return near * np.where(phi < math.pi / 2, np.sin(phi), 1.0) - self.gap

        guess = np.arcsin(np.minimum(1.0, self.gap / np.maximum(np.minimum(r_left, r_right), self.gap))) - clear
        guess = np.clip(guess, 0.0, most)
        ladder = np.concatenate(
            [np.zeros((len(left), 1)), guess[:, None] * _NEAR_GUESS, (most - guess)[:, None] * _BEYOND + guess[:, None]],
            axis=1,
        )  # fmt: skip
        ladder = np.minimum(ladder, most[:, None])
        values = short_by(ladder)
        enough = values >= 0
        solved = enough.any(axis=1)
        step = np.where(solved, enough.argmax(axis=1), ladder.shape[1] - 1)
        rows = np.arange(len(left))
        high = ladder[rows, step]
        low = np.where(step > 0, ladder[rows, step - 1], 0.0)
        x = self._refine(short_by, low, high, values[rows, np.maximum(step - 1, 0)], values[rows, step], solved, step)
        x = np.where(solved, x, most)
        return part_left * x, part_right * x, ~solved

    def _refine(self, function, low, high, at_low, at_high, solved, step):  # type: ignore[no-untyped-def]
        """The root between ``low`` (below the gap) and ``high`` (at or above it): the Illinois form of
        regula falsi (Dowell and Jarratt, 1971), all boundaries at once."""
        active = solved & (step > 0) & (at_high > GAP_SOLVED)
        x = high.copy()
        if not active.any():
            return x
        low, high, at_low, at_high = low.copy(), high.copy(), at_low.copy(), at_high.copy()
        for _ in range(80):
            with np.errstate(invalid="ignore", divide="ignore"):
                guess = high - at_high * (high - low) / (at_high - at_low)
            sound = np.isfinite(guess) & (guess > low) & (guess < high)
            guess = np.where(sound, guess, 0.5 * (low + high))
            value = function(guess[:, None])[:, 0]
            x = np.where(active, guess, x)
            done = (np.abs(value) <= GAP_SOLVED) | (high - low <= 1e-15)
            above = value >= 0
            at_low = np.where(above, at_low * 0.5, value)
            low = np.where(above, low, guess)
            at_high = np.where(above, value, at_high * 0.5)
            high = np.where(above, guess, high)
            active &= ~done
            if not active.any():
                break
        return x


_NEAR_GUESS = np.array([0.5, 0.9, 1.1, 1.5])
_BEYOND = np.array([0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
"""Where, between no angle and all there is, the gap is first tried before it is solved exactly."""


def wedges_of(
    anchor: Point, sectors: Sectors | None, edge: MarkedEdge, gap: float
) -> tuple[tuple[Wedge, ...], tuple[Lost, ...]]:
    """The wedges that are left when the sectors have given way, and the sectors that are lost.

    ``gap`` in mm, 0 or more. Every sector in sight is in one of the two answers.
    """
    if sectors is None:
        return (), ()
    turn_start, turn_stop, alive = _turned_back(sectors, gap)
    names = [edge.marks[a].name if a >= 0 else "" for a, _ in edge.spans], [
        edge.marks[b].name if b >= 0 else "" for _, b in edge.spans
    ]
    begin = sectors.start + turn_start
    finish = sectors.stop - turn_stop
    found: list[tuple[tuple[int, int], Points, int]] = []
    lost = []
    for i in range(len(sectors.span)):
        span = int(sectors.span[i])
        if alive[i]:
            side = _side(sectors, i, float(begin[i]), float(finish[i]))
            found.append(((span, i), side, i))
        else:
            side = _side(sectors, i, float(sectors.start[i]), float(sectors.stop[i]))
            length = _length(side)
            if length > SAME_POINT:
                middle = _half_way(side) + np.array(anchor)
                lost.append(Lost((names[0][span], names[1][span]), (float(middle[0]), float(middle[1])), length))
    # Numbers go on clockwise from the first span that has a wedge.
    if found:
        lead = min(range(len(found)), key=lambda j: found[j][0])
        found = found[lead:] + found[:lead]
    wedges = tuple(
        _wedge(number, anchor, side, float(finish[i] - begin[i]), (names[0][key[0]], names[1][key[0]]))
        for number, (key, side, i) in enumerate(found, start=1)
    )
    return wedges, tuple(lost)


def _turned_back(sectors: Sectors, gap: float) -> tuple[Floats, Floats, NDArray[np.bool_]]:
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
    # Sight is interrupted between sectors i and j when any of the borders from i on to j is.
    interrupted = np.concatenate([[0], np.cumsum(np.concatenate([~sectors.borders, ~sectors.borders]))])
    stale = alive.copy()
    while alive.any():
        index = np.flatnonzero(alive)
        following = np.roll(index, -1)
        dirty = stale[index] | stale[following]
        left, right = index[dirty], following[dirty]
        ahead = np.where(right <= left, right + k, right)
        meets = interrupted[ahead] == interrupted[left]
        clear = sectors.start[right] + np.where(right <= left, _TURN, 0.0) - sectors.stop[left]
        clear = np.maximum(clear, 0.0)
        # A wedge alone meets only itself, and only where its two legs face each other.
        meets &= (left != right) | (clear < math.pi / 2)
        turn_stop[left[~meets]] = 0.0
        turn_start[right[~meets]] = 0.0
        if meets.any():
            a, b, _ = give.solve(left[meets], right[meets], clear[meets])
            turn_stop[left[meets]] = a
            turn_start[right[meets]] = b
        rest = give.width - turn_start - turn_stop
        spent = alive & (rest <= NO_ANGLE)
        if not spent.any():
            break
        gone = _narrowest(spent, index, give.width)
        alive[gone] = False
        stale[:] = False
        stale |= _neighbours_of(gone, index, alive, k)
    return turn_start, turn_stop, alive


def _narrowest(spent: NDArray[np.bool_], index: Ints, width: Floats) -> Ints:
    """Those spent sectors that are narrower than any spent neighbour; of equal ones the first.

    Taking a sector out changes only its two neighbours, so that sectors which are not neighbours can
    go in one round as well as in many.
    """
    if len(index) == 1:
        return index
    here = spent[index]
    size = np.where(here, width[index], np.inf)
    rank = np.lexsort((np.arange(len(index)), np.round(size / NO_ANGLE) * NO_ANGLE))
    place = np.empty(len(index), dtype=np.intp)
    place[rank] = np.arange(len(index))
    least = (place < np.roll(place, 1)) & (place < np.roll(place, -1))
    return index[here & least]


def _neighbours_of(gone: Ints, index: Ints, alive: NDArray[np.bool_], k: int) -> NDArray[np.bool_]:
    """(k,) sectors, still there, next to one that has just gone."""
    stale = np.zeros(k, dtype=np.bool_)
    left_over = np.flatnonzero(alive)
    if not len(left_over):
        return stale
    after = np.searchsorted(left_over, gone) % len(left_over)
    stale[left_over[after]] = True
    stale[left_over[after - 1]] = True
    return stale


def _side(sectors: Sectors, sector: int, begin: float, finish: float) -> Points:
    """The sector's edge from direction ``begin`` to ``finish``, relative to the anchor."""
    first, last = int(sectors.first[sector]), int(sectors.last[sector])
    angles = sectors.piece_angle[first : last + 1]
    a = first + max(0, int(np.searchsorted(angles, begin, side="right")) - 1)
    b = first + max(0, int(np.searchsorted(angles, finish, side="left")) - 1)
    start = sectors.piece_from[a] if begin <= sectors.piece_angle[a] else _at(sectors, a, begin)
    ends_whole = finish >= sectors.stop[sector] and b == last
    stop = sectors.piece_to[b] if ends_whole else _at(sectors, b, finish)
    points = np.concatenate([[start], sectors.piece_from[a + 1 : b + 1], [stop]])
    inner = points[1:-1]
    to_last = np.hypot(*(inner - points[-1]).T)
    to_previous = np.hypot(*(inner - points[:-2]).T)
    keep = np.concatenate([[True], (to_last > SAME_POINT) & (to_previous > SAME_POINT), [True]])
    return points[keep]


def _at(sectors: Sectors, piece: int, angle: float) -> Points:
    direction = np.array([math.cos(angle), math.sin(angle)])
    return direction / float(sectors.normal[piece] @ direction)


def _length(line: Points) -> float:
    step = np.diff(line, axis=0)
    return float(np.hypot(step[:, 0], step[:, 1]).sum())


def _half_way(line: Points) -> Points:
    step = np.diff(line, axis=0)
    at = np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])
    half = at[-1] / 2
    return np.array([np.interp(half, at, line[:, 0]), np.interp(half, at, line[:, 1])])


def _wedge(number: int, anchor: Point, side: Points, apex: float, span: tuple[str, str]) -> Wedge:
    shorter = min(math.hypot(*side[0]), math.hypot(*side[-1]))
    across = shorter * (math.sin(apex) if apex < math.pi / 2 else 1.0)
    placed = side + np.array(anchor)
    origin = np.array([anchor])
    outline = frozen(np.concatenate([origin, placed, origin]))
    return Wedge(number, outline, frozen(placed), span, _length(side), across, apex)
