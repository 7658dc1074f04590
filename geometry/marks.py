"""Marks: reference points on the edge of the stitchable area, and the spans between them.

Corners are found first, then the sides between them, then the divisions of each side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.settings import Settings
from geometry.stitchable import MITRE_LIMIT
from geometry.tolerances import FLATTEN, SAME_PLACE, SAME_POINT, SAME_TURN
from geometry.types import Point, Points

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
    """mm along the seam from the foot of the side's first corner to this foot."""
    to_end: float
    """mm along the seam from this foot to the foot of the side's last corner."""


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

    def point(self, s: float) -> Point:
        """The point at arc length ``s`` (taken round the ring)."""
        s = s % self.perimeter
        i = min(int(np.searchsorted(self.at, s, side="right")) - 1, len(self.points) - 1)
        t = (s - self.at[i]) / self.length[i]
        x, y = self.points[i] + t * self.step[i]
        return float(x), float(y)

    def turns(self) -> NDArray[np.float64]:
        """(n,) signed turn at each point, rad, in -pi to pi."""
        before = np.roll(self.step, 1, axis=0)
        cross = before[:, 0] * self.step[:, 1] - before[:, 1] * self.step[:, 0]
        dot = (before * self.step).sum(axis=1)
        turn: NDArray[np.float64] = np.arctan2(cross, dot)
        return turn


def _corners(ring: _Ring, angle: float, run: float) -> list[float]:
    """Arc lengths of the corners of a ring: where its direction, averaged over ``run`` (mm) after a
    point, differs from that averaged over ``run`` before it by more than ``angle`` (rad).

    The average counts turns with their sign, so the steps of a ragged edge cancel; a rounding shorter
    than the run comes out with its whole turn, greatest in its middle. The weight of a turn falls
    from 1 at the point itself to 0 a run away.
    """
    turn = ring.turns()
    n = len(turn)
    if n < 3:
        return []
    at = ring.at[:-1]
    run = min(run, ring.perimeter / 4)
    around = np.concatenate([at - ring.perimeter, at, at + ring.perimeter])
    turns3 = np.concatenate([turn, turn, turn])
    # sum over |s_j - s| < run of turn_j (1 - |s_j - s| / run), from two running sums.
    total = np.concatenate([[0.0], np.cumsum(turns3)])
    moment = np.concatenate([[0.0], np.cumsum(turns3 * around)])
    low = np.searchsorted(around, at - run, side="left")
    here = np.arange(n, 2 * n)
    high = np.searchsorted(around, at + run, side="right")
    before = total[here] - total[low]
    before_moment = moment[here] - moment[low]
    after = total[high] - total[here]
    after_moment = moment[high] - moment[here]
    change = before * (1 - at / run) + before_moment / run + after * (1 + at / run) - after_moment / run

    sharp = np.abs(change) > angle
    if not sharp.any():
        return []
    sign = np.where(sharp, np.sign(change), 0)
    follows = np.zeros(n, dtype=np.bool_)  # point i belongs to the same corner as the point before it
    gap = ring.length[np.arange(n) - 1]
    follows = sharp & (sign == np.roll(sign, 1)) & (gap <= run)
    firsts = np.flatnonzero(sharp & ~follows)
    if not len(firsts):
        return []  # the whole ring is one tight curve: it has no corner
    corners = []
    for first in firsts:
        members = [int(first)]
        while follows[(members[-1] + 1) % n] and (members[-1] + 1) % n != first:
            members.append((members[-1] + 1) % n)
        size = np.abs(change[members])
        top = np.flatnonzero(size >= size.max() - SAME_TURN)
        lo, hi = at[members[top[0]]], at[members[top[-1]]]
        if hi < lo:
            hi += ring.perimeter
        corners.append(float((lo + hi) / 2 % ring.perimeter))
    return sorted(corners)


class _Seam:
    """The seam's rings, for feet and tape distances."""

    def __init__(self, polygon: Polygon, settings: Settings) -> None:
        self.rings = [_Ring(shapely.get_coordinates(r)) for r in (polygon.exterior, *polygon.interiors)]
        segments = []
        owner = []
        for number, ring in enumerate(self.rings):
            segments.append(np.stack([ring.points, np.roll(ring.points, -1, axis=0)], axis=1))
            owner.append(np.column_stack([np.full(len(ring.points), number), np.arange(len(ring.points))]))
        self._segments = np.concatenate(segments)
        self._owner = np.concatenate(owner)
        self._tree = shapely.STRtree(shapely.linestrings(self._segments))
        angle = math.radians(settings.corner_angle)
        self._run = settings.corner_run
        self.corners = [np.array(_corners(ring, angle, settings.corner_run)) for ring in self.rings]
        self._corner_points = [
            np.array([ring.point(s) for s in corners]).reshape(-1, 2)
            for ring, corners in zip(self.rings, self.corners, strict=True)
        ]

    def foot(self, at: Point) -> tuple[int, float, Point]:
        """Ring, arc length and place of the seam point nearest to ``at``."""
        index = int(self._tree.nearest(shapely.Point(at)))
        number, i = (int(v) for v in self._owner[index])
        ring = self.rings[number]
        t = float(((np.array(at) - ring.points[i]) * ring.step[i]).sum() / ring.length[i] ** 2)
        t = min(1.0, max(0.0, t))
        s = float(ring.at[i] + t * ring.length[i])
        x, y = ring.points[i] + t * ring.step[i]
        if ring.perimeter - s < SAME_POINT:
            s = 0.0
        return number, s, (float(x), float(y))

    def corner_foot(self, at: Point, margin: float) -> tuple[int, float, Point]:
        """As ``foot``, but the seam's own corner where ``at`` is that corner moved in by the margin."""
        number, s, place = self.foot(at)
        points = self._corner_points[number]
        if margin == 0 or not len(points):
            return number, s, place
        away = np.hypot(points[:, 0] - at[0], points[:, 1] - at[1])
        i = int(away.argmin())
        corner_s = float(self.corners[number][i])
        x, y = points[i]
        if math.dist(at, self._moved_in(number, corner_s, margin)) <= FLATTEN:
            return number, corner_s, (float(x), float(y))
        return number, s, place

    def _moved_in(self, number: int, corner_s: float, margin: float) -> Point:
        """Where the margin's edge has its corner before the seam's corner: both seam sides, as they run to
        it over ``corner_run``, moved in by the margin and met; a sharp tip is cut at twice the margin."""
        ring = self.rings[number]
        here = np.array(ring.point(corner_s))
        before = here - ring.point(corner_s - self._run)
        after = np.array(ring.point(corner_s + self._run)) - here
        normal = [np.array([-step[1], step[0]]) / math.hypot(*step) for step in (before, after)]
        both = normal[0] + normal[1]
        size = math.hypot(*both)  # twice the cosine of half the turn
        if size < SAME_POINT:
            return float(here[0]), float(here[1])
        reach = 2 / size
        if before[0] * after[1] - before[1] * after[0] < 0:
            reach = min(reach, MITRE_LIMIT)
        x, y = here + both / size * margin * reach
        return float(x), float(y)

    def between(self, number: int, start: float, stop: float, expected: float) -> float:
        """mm along ring ``number`` between arc lengths ``start`` and ``stop``, forward or back, whichever is
        nearer to ``expected``: the distance along the stitchable area. Feet close together may come in the
        other order than their marks, and a tape is not laid round the whole patch for that.
        """
        perimeter = self.rings[number].perimeter
        way = (stop - start) % perimeter
        return min(way, perimeter - way, key=lambda mm: abs(mm - expected))


def _cut_tips(ring: _Ring, seam: _Seam, margin: float) -> NDArray[np.bool_]:
    """(n,) edges whose nearest seam point is one and the same seam corner all along."""
    cut = np.zeros(len(ring.points), dtype=np.bool_)
    if margin == 0:
        return cut
    turn = ring.turns()
    # A cut tip turns the same way at both its ends, and more than slightly.
    maybe = np.flatnonzero((turn * np.roll(turn, -1) > 0) & (np.abs(turn) > math.radians(5)))
    for i in maybe:
        ends = [ring.points[i], ring.points[(i + 1) % len(ring.points)]]
        feet = [seam.foot((float(p[0]), float(p[1])))[2] for p in ends]
        if math.dist(*feet) > SAME_PLACE * 1e-3:
            continue
        if min(math.dist(feet[0], p) for p in ends) > margin * (1 + 1e-9):
            cut[i] = True
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


class _RingMarks:
    """One ring of one part: its corners and sides, and then its marks."""

    def __init__(self, part: int, coordinates: Points, seam: _Seam, settings: Settings) -> None:
        self.part = part
        self.ring = ring = _Ring(coordinates)
        self.own: list[float] = []
        self.margin = settings.edge_margin
        cut = _cut_tips(ring, seam, settings.edge_margin)
        corners = _corners(ring, math.radians(settings.corner_angle), settings.corner_run)
        if cut.any():
            corners = self._join_cut_tips(corners, cut, settings.corner_run)
        self.corners = corners
        feet = [seam.corner_foot(ring.point(s), self.margin) for s in corners]
        if corners:
            first = min(range(len(corners)), key=lambda i: feet[i][:2])
            self.corners = corners[first:] + corners[:first]
            self.order: tuple[float, ...] = feet[first][:2]
            bounds = [*self.corners, self.corners[0] + ring.perimeter]
            alone = len(corners) == 1
            self.sides = [
                _Side(a, ring.perimeter if alone else (b - a) % ring.perimeter) for a, b in pairwise(bounds)
            ]
        else:
            start = self._round_start()
            self.order = seam.foot(ring.point(start))[:2]
            self.sides = [_Side(start, ring.perimeter)]

    def _join_cut_tips(self, corners: list[float], cut: NDArray[np.bool_], run: float) -> list[float]:
        """One corner in the middle of each cut tip, instead of those at its two ends."""
        ring = self.ring
        kept = corners
        for i in np.flatnonzero(cut):
            lo, hi = ring.at[i], ring.at[i + 1]
            kept = [s for s in kept if not _within(s, lo - run / 2, hi + run / 2, ring.perimeter)]
        return sorted([*kept, *(float((ring.at[i] + ring.at[i + 1]) / 2) for i in np.flatnonzero(cut))])

    def _round_start(self) -> float:
        """Where an edge without corners begins: at its point farthest from its centroid, and of several
        equally far ones at the topmost. It does not depend on where the outline's list of points begins.
        """
        ring = self.ring
        centre = shapely.get_coordinates(shapely.centroid(Polygon(ring.points)))[0]
        away = np.hypot(*(ring.points - centre).T)
        far = np.flatnonzero(away >= away.max() - SAME_POINT)
        x, y = np.round(ring.points[far], 6).T
        return float(ring.at[far[np.lexsort((x, y))[0]]])

    def finish(self, seam: _Seam, settings: Settings) -> MarkedEdge:
        """Divide the sides, name the marks, and cut the ring at them."""
        ring = self.ring
        counts = dict(settings.side_spans)
        removed = np.array(settings.removed_marks, dtype=np.float64).reshape(-1, 2)
        marks: list[Mark] = []
        places: list[float] = []
        ends_with_corner = bool(self.corners)
        for number, side in enumerate(self.sides):
            spots = [_Spot(side.start, MarkKind.CORNER)] if ends_with_corner else []
            count = counts.get(side.letter) or max(
                settings.spans_per_side if ends_with_corner else ROUND_SPANS,
                math.ceil(side.length / settings.longest_span - SAME_POINT) if settings.longest_span else 1,
            )
            first = 1 if ends_with_corner else 0
            spots += [
                _Spot(side.start + side.length * k / count, MarkKind.DIVISION) for k in range(first, count)
            ]
            spots += [
                _Spot(side.start + (s - side.start) % ring.perimeter, MarkKind.OWN)
                for s in self.own
                if (s - side.start) % ring.perimeter < side.length
            ]
            spots.sort(key=lambda spot: spot.s)
            spots = self._thinned(spots, removed)
            marks += self._named(number, spots, seam)
            places += [spot.s for spot in spots]
        return self._cut(marks, places)

    def _thinned(self, spots: list[_Spot], removed: Points) -> list[_Spot]:
        """Without those taken away, and without a second mark on the spot of another."""
        kept: list[_Spot] = []
        for spot in spots:
            place = self.ring.point(spot.s)
            gone = len(removed) and np.hypot(*(removed - place).T).min() <= SAME_PLACE
            if not gone and not (kept and spot.s - kept[-1].s <= SAME_POINT):
                kept.append(spot)
        return kept

    def _named(self, number: int, spots: list[_Spot], seam: _Seam) -> list[Mark]:
        side = self.sides[number]
        before = self.sides[number - 1].letter
        stop = side.start + side.length
        if self.corners:
            start_foot = seam.corner_foot(self.ring.point(side.start), self.margin)
            end_foot = seam.corner_foot(self.ring.point(stop), self.margin)
        else:
            start_foot = end_foot = seam.foot(self.ring.point(side.start))
        marks = []
        count = 0
        for spot in spots:
            at = self.ring.point(spot.s)
            if spot.kind is MarkKind.CORNER:
                name = _corner_name(before, side.letter)
                foot = start_foot
            else:
                count += 1
                name = f"{side.letter}{count}"
                foot = seam.foot(at)
            marks.append(
                Mark(
                    name,
                    at,
                    spot.kind,
                    side.letter,
                    foot[2],
                    seam.between(foot[0], start_foot[1], foot[1], spot.s - side.start),
                    seam.between(foot[0], foot[1], end_foot[1], stop - spot.s),
                )
            )
        return marks

    def _cut(self, marks: list[Mark], places: list[float]) -> MarkedEdge:
        """The ring's edges, cut at the marks."""
        ring = self.ring
        n = len(ring.points)
        sides = tuple(
            Side(side.letter, ring.point(side.start + side.length / 2), side.length) for side in self.sides
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
        all_arc, all_points = all_arc[sequence], all_points[sequence]
        # Edge i runs from all_points[i]; it belongs to the last mark at or before its start.
        last = np.searchsorted(where[order], all_arc, side="right") - 1
        span = order[np.where(last < 0, len(marks) - 1, last)]
        following = np.empty_like(order)
        following[order] = np.roll(order, -1)
        spans = tuple(enumerate(following.tolist()))  # span i begins at mark i
        ends = np.roll(all_points, -1, axis=0)
        return MarkedEdge(all_points, ends, span.astype(np.intp), spans, tuple(marks), sides)


def _within(s: float, lo: float, hi: float, perimeter: float) -> bool:
    return (s - lo) % perimeter <= hi - lo


def _place_own(work: list[_RingMarks], settings: Settings) -> None:
    """Give each mark of the user's own to the nearest ring, at the arc length nearest to it."""
    for x, y in settings.own_marks:
        here = shapely.Point(x, y)
        lines = [shapely.LinearRing(item.ring.points) for item in work]
        if lines:
            nearest = int(np.argmin(shapely.distance(lines, here)))
            work[nearest].own.append(float(shapely.line_locate_point(lines[nearest], here)))
