"""Marks: reference points on the edge of the stitchable area, and the spans between them.

Corners are found first, then the sides between them, then the divisions of each side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.settings import Settings
from geometry.stitchable import MITRE_LIMIT
from geometry.tolerances import FLATTEN, SAME_PLACE, SAME_POINT, SAME_TURN
from geometry.types import Point, Points

Floats = NDArray[np.float64]

ROUND_SPANS = 8
"""Spans of an edge without corners, such as a circle."""


class MarkKind(StrEnum):
    """Where a mark comes from."""

    CORNER = "corner"
    DIVISION = "division"
    OWN = "own"


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark. ``at`` lies on the edge of the stitchable area, ``foot`` on the seam (mm)."""

    name: str
    """Side and number (``A1``), or for a corner the two letters that meet there (``AB``)."""
    at: Point
    kind: MarkKind
    side: str
    """Letter of the side it lies on; for a corner, of the side that begins there."""
    foot: Point
    """Nearest point of the seam; for a corner, the seam's own corner where there is one."""
    from_start: float
    """mm along the seam from the foot of the side's first corner to this foot; straight from foot to foot
    where the seam between them runs off through a neck that the margin has closed."""
    to_end: float
    """mm from this foot to the foot of the side's last corner, measured likewise."""


@dataclass(frozen=True, slots=True)
class Side:
    """A side of the stitchable area, from corner to corner; a ring without corners is one side."""

    letter: str
    middle: Point
    """mm, half way along it."""
    length: float
    """mm, along the edge of the stitchable area."""


@dataclass(frozen=True, slots=True, eq=False)
class MarkedEdge:
    """The edge of one part of the stitchable area, cut at its marks.

    ``start`` and ``end`` (n, 2) are its pieces with the area on their numerical left; ``span`` (n,)
    says which span each belongs to, and ``spans`` names the marks at the two ends of each span, by
    their position in ``marks``. A ring without marks is one span, with the ends (-1, -1).
    """

    start: Points
    end: Points
    span: NDArray[np.intp]
    spans: tuple[tuple[int, int], ...]
    marks: tuple[Mark, ...]
    sides: tuple[Side, ...]


class _Ring:
    """A closed ring with its arc lengths. ``points`` (n, 2) open, n distinct consecutive points."""

    def __init__(self, coordinates: Points) -> None:
        points = np.asarray(coordinates, dtype=np.float64)
        if len(points) > 1 and (points[0] == points[-1]).all():
            points = points[:-1]
        step = np.roll(points, -1, axis=0) - points
        length = np.hypot(step[:, 0], step[:, 1])
        keep = length > 0
        if not keep.all():
            points, step, length = points[keep], step[keep], length[keep]
        self.points = points
        self.step = step
        self.length = length
        self.at = np.concatenate([[0.0], np.cumsum(length)])
        self.perimeter = float(self.at[-1])

    def points_at(self, s: Floats) -> Points:
        """(k, 2) points at arc lengths ``s`` (k,), taken round the ring."""
        s = s % self.perimeter
        i = np.minimum(np.searchsorted(self.at, s, side="right") - 1, len(self.points) - 1)
        t = (s - self.at[i]) / self.length[i]
        points: Points = self.points[i] + t[:, None] * self.step[i]
        return points

    def point(self, s: float) -> Point:
        """The point at arc length ``s`` (taken round the ring)."""
        ((x, y),) = self.points_at(np.array([s])).tolist()
        return x, y

    @cached_property
    def turns(self) -> Floats:
        """(n,) signed turn at each point, rad, in -pi to pi."""
        before = np.roll(self.step, 1, axis=0)
        cross = before[:, 0] * self.step[:, 1] - before[:, 1] * self.step[:, 0]
        dot = before[:, 0] * self.step[:, 0] + before[:, 1] * self.step[:, 1]
        turn: Floats = np.arctan2(cross, dot)
        return turn


def _corners(ring: _Ring, angle: float, run: float) -> Floats:
    """Arc lengths of the corners of a ring, growing: where its direction, averaged over ``run`` (mm) after
    a point, differs from that averaged over ``run`` before it by more than ``angle`` (rad).

    The average counts turns with their sign, so the steps of a ragged edge cancel; a rounding shorter
    than the run comes out with its whole turn, greatest in its middle. The weight of a turn falls
    from 1 at the point itself to 0 a run away.
    """
    turn = ring.turns
    n = len(turn)
    none = np.zeros(0)
    if n < 3:
        return none
    at = ring.at[:-1]
    run = min(run, ring.perimeter / 4)
    # The ring in stretches of a run or more: a corner's turns lie in its own and in those beside it.
    stretches = int(ring.perimeter / run)
    stretch = np.minimum(at * (stretches / ring.perimeter), stretches - 1).astype(np.intp)
    turning = np.bincount(stretch, np.abs(turn), stretches)
    turning += np.roll(turning, 1) + np.roll(turning, -1)
    may_be = (turning >= angle - SAME_TURN)[stretch].nonzero()[0]
    if not len(may_be):
        return none
    here = at[may_be]
    # What lies within a run before the first point, and after the last.
    tail = int(np.searchsorted(at, ring.perimeter - 2 * run))
    head = int(np.searchsorted(at, 2 * run, side="right"))
    around = np.concatenate([at[tail:] - ring.perimeter, at, at[:head] + ring.perimeter])
    turns = np.concatenate([turn[tail:], turn, turn[:head]])
    # sum over |s_j - s| < run of turn_j (1 - |s_j - s| / run), from two running sums.
    total = np.concatenate([[0.0], np.cumsum(turns)])
    moment = np.concatenate([[0.0], np.cumsum(turns * around)])
    low = np.searchsorted(around, here - run, side="left")
    own = may_be + (n - tail)
    high = np.searchsorted(around, here + run, side="right")
    before = total[own] - total[low]
    before_moment = moment[own] - moment[low]
    after = total[high] - total[own]
    after_moment = moment[high] - moment[own]
    change = np.zeros(n)
    change[may_be] = (
        before * (1 - here / run) + before_moment / run + after * (1 + here / run) - after_moment / run
    )
    sharp = np.abs(change) > angle
    if not sharp.any():
        return none
    sign = np.where(sharp, np.sign(change), 0)
    gap = np.roll(ring.length, 1)
    # Point i belongs to the same corner as the point before it.
    follows = sharp & (sign == np.roll(sign, 1)) & (gap <= run)
    firsts = np.flatnonzero(sharp & ~follows)
    if not len(firsts):
        return none  # the whole ring is one tight curve: it has no corner
    # The members of each corner one after the other, from the first corner's first on.
    members = np.flatnonzero(sharp)
    members = np.roll(members, -int(np.searchsorted(members, firsts[0])))
    start = np.flatnonzero(~follows[members])
    size = np.abs(change[members])
    corner = np.repeat(np.arange(len(start)), np.diff(start, append=len(members)))
    top = size >= np.maximum.reduceat(size, start)[corner] - SAME_TURN
    place = np.arange(len(members))
    lo = at[members[np.minimum.reduceat(np.where(top, place, len(members)), start)]]
    hi = at[members[np.maximum.reduceat(np.where(top, place, -1), start)]]
    hi = np.where(hi < lo, hi + ring.perimeter, hi)
    corners: Floats = np.sort((lo + hi) / 2 % ring.perimeter)
    return corners


class _Feet(NamedTuple):
    """Feet on the seam, k of them."""

    ring: NDArray[np.intp]
    """(k,) numbers of the seam's rings."""
    s: Floats
    """(k,) arc lengths on those rings."""
    place: Points
    """(k, 2)"""

    def take(self, which: NDArray[np.intp]) -> _Feet:
        """Those numbered ``which``."""
        return _Feet(self.ring[which], self.s[which], self.place[which])


_CHUNK = 16
"""Edges of the seam that stand in its tree together: a tree of single edges takes longer to grow than all
the questions asked of it."""


class _Seam:
    """The seam's rings, for feet and tape distances."""

    def __init__(self, polygon: Polygon, settings: Settings) -> None:
        self.rings = [_Ring(shapely.get_coordinates(r)) for r in (polygon.exterior, *polygon.interiors)]
        self._run = settings.corner_run
        self._margin = settings.edge_margin
        angle = math.radians(settings.corner_angle)
        self.corners = [_corners(ring, angle, settings.corner_run) for ring in self.rings]
        self.corner_points = [
            ring.points_at(corners) for ring, corners in zip(self.rings, self.corners, strict=True)
        ]

    @cached_property
    def _chunks(self) -> tuple[shapely.STRtree, NDArray[np.intp], NDArray[np.intp]]:
        """Tree of pieces of the rings, ``_CHUNK`` edges each, and for each its ring and its first edge."""
        lines, owner, first = [], [], []
        for number, ring in enumerate(self.rings):
            n = len(ring.points)
            starts = np.arange(0, n, _CHUNK)
            size = np.minimum(_CHUNK, n - starts) + 1
            which = np.repeat(np.arange(len(starts)), size)
            row = np.arange(len(which)) - np.repeat(np.cumsum(size) - size, size)
            lines.append(shapely.linestrings(ring.points[(starts[which] + row) % n], indices=which))
            owner.append(np.full(len(starts), number))
            first.append(starts)
        return shapely.STRtree(np.concatenate(lines)), np.concatenate(owner), np.concatenate(first)

    def feet(self, at: Points) -> _Feet:
        """The seam points nearest to ``at`` (k, 2)."""
        tree, owner, first = self._chunks
        chunk = tree.nearest(shapely.points(at))
        number = owner[chunk]
        s, place = np.empty(len(at)), np.empty((len(at), 2))
        for which in np.flatnonzero(np.bincount(number)).tolist():
            ring, rows = self.rings[which], np.flatnonzero(number == which)
            edge = np.minimum(first[chunk[rows]][:, None] + np.arange(_CHUNK), len(ring.points) - 1)
            step = ring.step[edge]
            away = at[rows][:, None] - ring.points[edge]
            t = np.clip((away * step).sum(axis=2) / ring.length[edge] ** 2, 0.0, 1.0)
            off = away - t[..., None] * step
            best = (off * off).sum(axis=2).argmin(axis=1)
            every = np.arange(len(rows))
            edge, t = edge[every, best], t[every, best]
            along = ring.at[edge] + t * ring.length[edge]
            s[rows] = np.where(ring.perimeter - along < SAME_POINT, 0.0, along)
            place[rows] = ring.points[edge] + t[:, None] * ring.step[edge]
        return _Feet(number, s, place)

    def corner_feet(self, at: Points) -> _Feet:
        """As ``feet``, but the seam's own corner where a point is that corner moved in by the margin."""
        feet = self.feet(at)
        if self._margin == 0:
            return feet
        for number in np.flatnonzero(np.bincount(feet.ring)).tolist():
            points = self.corner_points[number]
            if not len(points):
                continue
            rows = np.flatnonzero(feet.ring == number)
            corner = shapely.STRtree(shapely.points(points)).nearest(shapely.points(at[rows]))
            off = at[rows] - self._moved_in[number][corner]
            # The nearest place on the seam is then beside that corner, not beyond a neck.
            ring, apart = self.rings[number], np.hypot(*(at[rows] - points[corner]).T)
            along = np.abs(feet.s[rows] - self.corners[number][corner])
            along = np.minimum(along, ring.perimeter - along)
            is_it = (np.hypot(off[:, 0], off[:, 1]) <= FLATTEN) & (along <= 2 * apart)
            rows, corner = rows[is_it], corner[is_it]
            feet.s[rows] = self.corners[number][corner]
            feet.place[rows] = points[corner]
        return feet

    @cached_property
    def _moved_in(self) -> list[Points]:
        """For each ring, where the margin's edge has its corners before the seam's corners: both seam sides,
        as they run to a corner over ``corner_run``, moved in by the margin and met; a sharp tip is cut at
        twice the margin."""
        answer = []
        for ring, corners, here in zip(self.rings, self.corners, self.corner_points, strict=True):
            before = here - ring.points_at(corners - self._run)
            after = ring.points_at(corners + self._run) - here
            one, two = (
                np.column_stack([-step[:, 1], step[:, 0]]) / np.hypot(step[:, 0], step[:, 1])[:, None]
                for step in (before, after)
            )
            both = one + two
            size = np.hypot(both[:, 0], both[:, 1])  # twice the cosine of half the turn
            meets = size >= SAME_POINT
            size = np.where(meets, size, 1.0)
            reach = 2 / size
            tip = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0] < 0
            reach = np.where(tip, np.minimum(reach, MITRE_LIMIT), reach) * meets
            answer.append(here + both * (self._margin * reach / size)[:, None])
        return answer

    def between(self, one: _Feet, two: _Feet, expected: Floats, reach: Floats) -> list[float]:
        """(k,) mm along the seam from feet ``one`` to feet ``two``; ``expected`` as for ``tape_way``.

        ``reach`` (k,) mm from both marks to their feet. Where the seam runs off between them, through a neck
        that the margin has closed or to another ring, the tape is laid straight from foot to foot.
        """
        perimeter = np.array([ring.perimeter for ring in self.rings])[one.ring]
        along = tape_way(one.s, two.s, perimeter, expected)
        straight = np.hypot(*(two.place - one.place).T)
        off = (one.ring != two.ring) | ((along > 2 * (expected + reach)) & (straight > SAME_POINT))
        answer: list[float] = np.where(off, straight, along).tolist()
        return answer


def tape_way(one: Any, two: Any, perimeter: Any, expected: Any) -> Any:
    """mm along a closed seam from its places ``one`` to ``two``, floats or arrays of them: forward.

    Feet close together may come in the other order than their marks; a tape is not laid round the whole patch
    for that, but back. ``expected``, the way along the stitchable area, tells that from a turn round an edge
    without corners, which ends where it began.
    """
    way = (two - one) % perimeter
    turned = np.where(way <= SAME_POINT, expected > perimeter / 2, way - expected > perimeter / 2)
    return np.where(turned, perimeter - way, way)


def _cut_tips(ring: _Ring, seam: _Seam, margin: float) -> NDArray[np.bool_]:
    """(n,) edges whose nearest seam point is one and the same seam corner all along, cut square before it at
    the mitre limit. Inside the stitchable area a region's border may have one corner nearest, too."""
    cut = np.zeros(len(ring.points), dtype=np.bool_)
    if margin == 0:
        return cut
    turn = ring.turns
    # A cut tip turns the same way at both its ends, and more than slightly.
    maybe = np.flatnonzero((turn * np.roll(turn, -1) > 0) & (np.abs(turn) > math.radians(5)))
    if not len(maybe):
        return cut
    one, two = ring.points[maybe], ring.points[(maybe + 1) % len(ring.points)]
    foot, other = seam.feet(one).place, seam.feet(two).place
    apart, step, away = foot - other, ring.step[maybe], one - foot
    off = np.abs(away[:, 0] * step[:, 1] - away[:, 1] * step[:, 0]) / ring.length[maybe]
    cut[maybe] = (np.hypot(*apart.T) <= SAME_PLACE * 1e-3) & (np.abs(off - MITRE_LIMIT * margin) <= FLATTEN)
    return cut


def _letters(count: int) -> list[str]:
    """Names of ``count`` sides: A to Z, then AA, BB, … and so on."""
    return [chr(ord("A") + i % 26) * (i // 26 + 1) for i in range(count)]


def _corner_name(before: str, after: str) -> str:
    return before + after if len(before) == len(after) == 1 else f"{before}-{after}"


@dataclass(slots=True)
class _Spot:
    """A mark in the making: arc length on the ring, and what it is."""

    s: float
    kind: MarkKind


@dataclass(slots=True)
class _Side:
    """A side in the making: from arc length ``start``, ``length`` mm on."""

    start: float
    length: float
    letter: str = ""


def mark_edges(
    parts: tuple[Polygon, ...], seam_polygon: Polygon, settings: Settings
) -> tuple[MarkedEdge, ...]:
    """Corners, divisions and own marks of every part of the stitchable area.

    Letters run on from ring to ring: the seam's shell first, then its holes in order; on a ring the
    first side is the one whose first corner comes first along the seam from the outline's first point.
    """
    seam = _Seam(seam_polygon, settings)
    work = [_RingMarks(number, shapely.get_coordinates(ring), seam, settings)
            for number, part in enumerate(parts) for ring in (part.exterior, *part.interiors)]  # fmt: skip
    work.sort(key=lambda item: item.order)
    letters = iter(_letters(sum(len(item.sides) for item in work)))
    for item in work:
        for side in item.sides:
            side.letter = next(letters)
    _place_own(work, settings)
    result = []
    for number in range(len(parts)):
        marks: list[Mark] = []
        starts, ends, span_of = [], [], []
        spans: list[tuple[int, int]] = []
        sides: list[Side] = []
        for item in (item for item in work if item.part == number):
            first_mark, first_span = len(marks), len(spans)
            made = item.finish(seam, settings)
            marks += made.marks
            sides += made.sides
            starts.append(made.start)
            ends.append(made.end)
            span_of.append(made.span + first_span)
            spans += [(a + first_mark, b + first_mark) if a >= 0 else (a, b) for a, b in made.spans]
        edges = np.concatenate(starts), np.concatenate(ends), np.concatenate(span_of)
        result.append(MarkedEdge(*edges, tuple(spans), tuple(marks), tuple(sides)))
    return tuple(result)


def seam_corners(seam_polygon: Polygon, settings: Settings) -> Points:
    """(n, 2) mm: the corners of the seam itself, ring after ring, along each as its points go."""
    return np.concatenate(_Seam(seam_polygon, settings).corner_points)


class _RingMarks:
    """One ring of one part: its corners and sides, and then its marks."""

    def __init__(self, part: int, coordinates: Points, seam: _Seam, settings: Settings) -> None:
        self.part = part
        self.ring = ring = _Ring(coordinates)
        self.own: list[float] = []
        cut = _cut_tips(ring, seam, settings.edge_margin)
        corners = _corners(ring, math.radians(settings.corner_angle), settings.corner_run)
        if cut.any():
            corners = self._join_cut_tips(corners, cut, settings.corner_run)
        self.cornered = bool(len(corners))
        if not self.cornered:
            corners = np.array([self._round_start()])
            feet = seam.feet(ring.points_at(corners))
        else:
            feet = seam.corner_feet(ring.points_at(corners))
            first = int(np.lexsort((feet.s, feet.ring))[0])
            corners = np.roll(corners, -first)
            feet = feet.take(np.roll(np.arange(len(corners)), -first))
        self.feet = feet
        """Of the sides' first corners; of the only side's start where there is no corner."""
        self.order = (int(feet.ring[0]), float(feet.s[0]))
        length = np.append(corners[1:], corners[0] + ring.perimeter) - corners
        if len(corners) > 1:
            length %= ring.perimeter
        self.sides = [_Side(a, b) for a, b in zip(corners.tolist(), length.tolist(), strict=True)]

    def _join_cut_tips(self, corners: Floats, cut: NDArray[np.bool_], run: float) -> Floats:
        """One corner in the middle of each cut tip, instead of those at its two ends."""
        at, perimeter = self.ring.at, self.ring.perimeter
        tips = np.flatnonzero(cut)
        # Three times round, so that what lies about the first point is between two others.
        low = np.concatenate([at[tips] - run / 2 + turn * perimeter for turn in (-1, 0, 1)])
        high = np.concatenate([at[tips + 1] + run / 2 + turn * perimeter for turn in (-1, 0, 1)])
        reach = np.append(-np.inf, np.maximum.accumulate(high))
        kept = corners[reach[np.searchsorted(low, corners, side="right")] < corners]
        joined: Floats = np.sort(np.concatenate([kept, (at[tips] + at[tips + 1]) / 2]))
        return joined

    def _round_start(self) -> float:
        """Where an edge without corners begins: at its point farthest from its centroid, and of several
        equally far ones at the topmost. It does not depend on where the outline's list of points begins.
        """
        ring = self.ring
        centre = shapely.get_coordinates(shapely.centroid(shapely.polygons(ring.points)))[0]
        away = np.hypot(*(ring.points - centre).T)
        far = np.flatnonzero(away >= away.max() - SAME_POINT)
        x, y = np.round(ring.points[far], 6).T
        return float(ring.at[far[np.lexsort((x, y))[0]]])

    def finish(self, seam: _Seam, settings: Settings) -> MarkedEdge:
        """Divide the sides, name the marks, and cut the ring at them."""
        spots = self._spots(settings)
        marks = self._named(spots, seam)
        return self._cut(marks, [spot.s for own in spots for spot in own])

    def _spots(self, settings: Settings) -> list[list[_Spot]]:
        """For each side the places of its marks, from its first corner on."""
        ring = self.ring
        counts = dict(settings.side_spans)
        removed = np.array(settings.removed_marks, dtype=np.float64).reshape(-1, 2)
        first = 1 if self.cornered else 0
        answer = []
        for side in self.sides:
            spots = [_Spot(side.start, MarkKind.CORNER)] if self.cornered else []
            count = counts.get(side.letter) or max(
                settings.spans_per_side if self.cornered else ROUND_SPANS,
                math.ceil(side.length / settings.longest_span - SAME_POINT) if settings.longest_span else 1,
            )
            spots += [
                _Spot(side.start + side.length * k / count, MarkKind.DIVISION) for k in range(first, count)
            ]
            if self.own:
                spots += [
                    _Spot(side.start + (s - side.start) % ring.perimeter, MarkKind.OWN)
                    for s in self.own
                    if (s - side.start) % ring.perimeter < side.length
                ]
                spots.sort(key=lambda spot: spot.s)
            answer.append(self._thinned(spots, removed))
        return answer

    def _thinned(self, spots: list[_Spot], removed: Points) -> list[_Spot]:
        """Without those taken away, and without a second mark on the spot of another."""
        kept: list[_Spot] = []
        for spot in spots:
            gone = len(removed) and np.hypot(*(removed - self.ring.point(spot.s)).T).min() <= SAME_PLACE
            if not gone and not (kept and spot.s - kept[-1].s <= SAME_POINT):
                kept.append(spot)
        return kept

    def _named(self, spots: list[list[_Spot]], seam: _Seam) -> list[Mark]:
        """The marks of all sides, each with its name, its foot and what a tape measures from it."""
        every = [spot for own in spots for spot in own]
        if not every:
            return []
        side = np.repeat(np.arange(len(spots)), [len(own) for own in spots])
        at = np.array([spot.s for spot in every])
        start = np.array([side.start for side in self.sides])
        stop = start + np.array([side.length for side in self.sides])
        places = self.ring.points_at(at)
        feet, corner = seam.feet(places), self.feet
        is_corner = np.array([spot.kind is MarkKind.CORNER for spot in every])
        for theirs, given in ((feet.ring, corner.ring), (feet.s, corner.s), (feet.place, corner.place)):
            theirs[is_corner] = given[side[is_corner]]
        reach = np.hypot(*(places - feet.place).T)
        of_corner = np.hypot(*(self.ring.points_at(start) - corner.place).T)
        nxt = np.roll(np.arange(len(spots)), -1)
        from_start = seam.between(corner.take(side), feet, at - start[side], reach + of_corner[side])
        to_end = seam.between(feet, corner.take(nxt[side]), stop[side] - at, reach + of_corner[nxt[side]])
        rows = zip(places.tolist(), feet.place.tolist(), from_start, to_end, strict=True)
        marks = []
        for number, own in enumerate(spots):
            letter, before = self.sides[number].letter, self.sides[number - 1].letter
            count = 0
            for spot, ((x, y), (foot_x, foot_y), back, on) in zip(own, rows, strict=False):
                if spot.kind is MarkKind.CORNER:
                    name = _corner_name(before, letter)
                else:
                    count += 1
                    name = f"{letter}{count}"
                marks.append(Mark(name, (x, y), spot.kind, letter, (foot_x, foot_y), back, on))
        return marks

    def _cut(self, marks: list[Mark], places: list[float]) -> MarkedEdge:
        """The ring's edges, cut at the marks."""
        ring = self.ring
        n = len(ring.points)
        middles = ring.points_at(np.array([side.start + side.length / 2 for side in self.sides]))
        sides = tuple(
            Side(side.letter, (x, y), side.length)
            for side, (x, y) in zip(self.sides, middles.tolist(), strict=True)
        )
        if not marks:
            whole = np.zeros(n, dtype=np.intp)
            ends = np.roll(ring.points, -1, axis=0)
            return MarkedEdge(ring.points, ends, whole, ((-1, -1),), (), sides)
        where = np.array(places) % ring.perimeter
        index = np.clip(np.searchsorted(ring.at, where, side="right") - 1, 0, n - 1)
        on_start = where - ring.at[index] <= SAME_POINT
        on_end = ring.at[index + 1] - where <= SAME_POINT
        # A mark on a point of the ring, or a hair beside it, cuts there (the last one's end is the first).
        where = np.where(on_start, ring.at[index], np.where(on_end, ring.at[(index + 1) % n], where))
        order = np.argsort(where, kind="stable")
        new = ~(on_start | on_end)
        all_arc = np.concatenate([ring.at[:-1], where[new]])
        all_points = np.concatenate([ring.points, np.array([mark.at for mark in marks])[new]])
        sequence = np.argsort(all_arc, kind="stable")
        if len(marks) == 1:  # the only span ends where the edges begin again (fan.sectors_of)
            sequence = np.roll(sequence, -int(np.searchsorted(all_arc[sequence], where[0])))
        all_arc, all_points = all_arc[sequence], all_points[sequence]
        # Edge i runs from all_points[i]; it belongs to the last mark at or before its start.
        last = np.searchsorted(where[order], all_arc, side="right") - 1
        span = order[np.where(last < 0, len(marks) - 1, last)]
        following = np.empty_like(order)
        following[order] = np.roll(order, -1)
        spans = tuple(enumerate(following.tolist()))  # span i begins at mark i
        ends = np.roll(all_points, -1, axis=0)
        return MarkedEdge(all_points, ends, span.astype(np.intp), spans, tuple(marks), sides)


def _place_own(work: list[_RingMarks], settings: Settings) -> None:
    """Give each mark of the user's own to the nearest ring, at the arc length nearest to it."""
    for x, y in settings.own_marks:
        here = shapely.Point(x, y)
        lines = [shapely.LinearRing(item.ring.points) for item in work]
        if lines:
            nearest = int(np.argmin(shapely.distance(lines, here)))
            work[nearest].own.append(float(shapely.line_locate_point(lines[nearest], here)))
