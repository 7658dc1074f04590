"""The edge that carries the marks, as a hand and a tape go along it: sides, spans, and distances both ways.

A place on the edge of the stitchable area is told by the distance of its foot on the seam from the corners
of its side, as a tape on the cloth measures it; and the other way round, from such a distance the place is
found. Marks themselves have their distances from the engine; this answers for any place between them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LinearRing, Polygon

from geometry.fan import Fan
from geometry.fit import Fit
from geometry.ground import ground_of
from geometry.marks import Mark, MarkKind, mark_edges, tape_way
from geometry.tolerances import SAME_PLACE, SAME_POINT
from geometry.types import Point, Points


@dataclass(frozen=True, slots=True)
class EdgeSide:
    """A side, from its first corner on; a ring without corners is one side."""

    letter: str
    ring: int
    start: float
    """mm along its ring."""
    length: float
    """mm along its ring."""
    middle: Point
    begins: str
    """Name of its first corner; empty where the ring has none."""
    ends: str
    foot: Point
    """Of its first corner, on the seam."""
    last_foot: Point
    """Of its last corner."""
    total: float
    """mm along the seam, from foot to foot."""


@dataclass(frozen=True, slots=True)
class _Foot:
    """A place on the seam: on which of its rings, how far along it, and where. mm."""

    ring: int
    s: float
    at: Point


@dataclass(frozen=True, slots=True)
class EdgePlace:
    """A place on the edge."""

    at: Point
    side: EdgeSide
    along: float
    """mm along the side, from its first corner, on the edge itself."""
    from_start: float
    """mm along the seam from the foot of the side's first corner."""
    to_end: float
    """mm along the seam to the foot of its last corner."""


@dataclass(frozen=True, slots=True, eq=False)
class _Ring:
    line: LinearRing
    points: Points
    """(n, 2), open."""
    at: Points
    """(n + 1,) mm along the ring of each point, and its whole length."""
    part: int

    @property
    def length(self) -> float:
        return float(self.at[-1])

    def point(self, s: float) -> Point:
        s = s % self.length
        index = min(int(np.searchsorted(self.at, s, side="right")) - 1, len(self.points) - 1)
        one, two = self.points[index], self.points[(index + 1) % len(self.points)]
        share = (s - self.at[index]) / (self.at[index + 1] - self.at[index])
        x, y = (one + share * (two - one)).tolist()
        return x, y

    def piece(self, start: float, length: float) -> Points:
        """(k, 2) of it, from ``start`` on."""
        begin = start % self.length
        ends = begin + length
        around = np.concatenate([self.at[:-1], self.at[:-1] + self.length])
        inner = np.concatenate([self.points, self.points])[(around > begin) & (around < ends)]
        piece: Points = np.array([self.point(begin), *inner.tolist(), self.point(ends)])
        return piece


class Edge:
    """The edges that the fans of one fit reach, with their sides, and the marks that would be there as usual.

    Marks that the user took away or put are left out of ``usual``: they are the user's, and ``fans`` have
    them. Everything that moves no mark of the usual leaves an ``Edge`` as good as new.
    """

    def __init__(self, fit: Fit) -> None:
        plain = replace(fit.settings, own_marks=(), removed_marks=())
        polygons, live = _marked_polygons(fit)
        self._seam = [LinearRing(ring) for ring in (fit.patch.outline, *fit.patch.holes)]
        self._rings = _rings(polygons)
        self._live = {n for n, ring in enumerate(self._rings) if ring.part in live}
        corners = mark_edges(
            polygons, fit.patch.polygon, replace(plain, spans_per_side=1, longest_span=0.0, side_spans=())
        )
        self.corners = tuple(m for each in corners for m in each.marks if m.kind is MarkKind.CORNER)
        self._sides = self._sides_of([mark for each in corners for mark in each.marks])
        edges = mark_edges(polygons, fit.patch.polygon, plain)
        self.usual = tuple(mark for part in sorted(live) for mark in edges[part].marks)
        """The marks without the user's own, and with those that the user took away."""

    def side(self, letter: str) -> EdgeSide | None:
        """The side of that letter."""
        return next((side for side in self._sides if side.letter == letter), None)

    def side_before(self, side: EdgeSide) -> EdgeSide:
        """The side that ends where ``side`` begins; itself where it goes all round."""
        return next((s for s in self._sides if s.ring == side.ring and s.ends == side.begins), side)

    def spans_of(self, side: EdgeSide) -> int:
        """How many a side is divided into, but for what the user put or took away."""
        divisions = sum(mark.side == side.letter and mark.kind is MarkKind.DIVISION for mark in self.usual)
        return divisions + 1 if side.begins else divisions

    def direction(self, place: EdgePlace) -> Point:
        """The unit vector along the edge at a place, the way its side runs."""
        ring = self._rings[place.side.ring]
        here = place.side.start + min(place.along, place.side.length - SAME_PLACE)
        (x0, y0), (x1, y1) = ring.point(here), ring.point(here + SAME_PLACE)
        length = math.hypot(x1 - x0, y1 - y0) or 1.0
        return ((x1 - x0) / length, (y1 - y0) / length)

    def inward(self, place: EdgePlace) -> Point:
        """The unit vector from a place on the edge into the area; at a corner half way between its sides."""
        sides = [self.direction(place)]
        if place.along <= SAME_PLACE and place.side.begins:
            last = self.side_before(place.side)
            sides.append(self.direction(replace(place, side=last, along=last.length)))
        x, y = -sum(dy for _, dy in sides), sum(dx for dx, _ in sides)
        length = math.hypot(x, y) or 1.0
        return (x / length, y / length)

    def nearest(self, point: Point, reach: float = np.inf, *, every: bool = False) -> EdgePlace | None:
        """The place on the edge nearest to ``point``, within ``reach`` (mm, included); ``every``: also where
        no fan reaches, in the other parts of a pinched patch.
        """
        here = shapely.Point(point)
        among = range(len(self._rings)) if every else sorted(self._live)
        apart = {number: float(self._rings[number].line.distance(here)) for number in among}
        number = min(apart, key=lambda n: apart[n], default=None)
        if number is None or apart[number] > reach:
            return None
        return self._place(number, float(self._rings[number].line.project(here)))

    def at_distance(self, side: EdgeSide, distance: float) -> EdgePlace | None:
        """The place whose foot is ``distance`` mm along the seam from the side's first corner; None where
        there is none, as nearer to a corner than the edge margin.
        """
        if not 0 <= distance <= side.total:
            return None
        seam = min(self._seam, key=lambda ring: ring.distance(shapely.Point(side.foot)))
        foot = float(seam.project(shapely.Point(side.foot)))
        best: EdgePlace | None = None
        for way in (1.0, -1.0):  # the seam runs as the edge does, but round an edge of two seams it need not
            aim = distance
            for _ in range(3):
                wanted = seam.interpolate((foot + way * aim) % seam.length)
                place = self._on_side(side, (wanted.x, wanted.y))
                if best is None or abs(place.from_start - distance) < abs(best.from_start - distance):
                    best = place
                off = distance - place.from_start
                if abs(off) <= SAME_POINT:
                    return place
                aim += off
        return best if best is not None and abs(best.from_start - distance) <= SAME_PLACE else None

    def moved(self, place: EdgePlace, by: float) -> EdgePlace | None:
        """``by`` mm further along the seam, or back; None beyond the side's end."""
        side = place.side
        further = self.at_distance(side, place.from_start + by)
        if further is not None and (further.along - place.along) * by > 0:
            return further
        along = place.along + by  # where no foot lies at that distance: as far along the edge itself
        return self._place(side.ring, side.start + along) if 0 < along < side.length else None

    def place_of(self, mark: Mark) -> EdgePlace:
        """Where a mark lies; with the engine's distances."""
        place = self.nearest(mark.at, every=True)
        side = self.side(mark.side)
        assert place is not None
        if side is None:
            return place
        along = self._along(side, place)
        return replace(place, side=side, along=along, from_start=mark.from_start, to_end=mark.to_end)

    def span(self, place: EdgePlace, marks: Sequence[Mark]) -> tuple[Mark | None, Mark | None, Points]:
        """The marks before and after a place, and the piece of the edge between them (k, 2). None, and the
        whole edge, where it has no mark.
        """
        ring = self._rings[place.side.ring]
        here = place.side.start + place.along
        places = shapely.points(np.array([mark.at for mark in marks]).reshape(-1, 2))
        on_it = shapely.distance(ring.line, places) <= SAME_POINT
        near = [
            (s, mark)
            for s, mark, on in zip(
                shapely.line_locate_point(ring.line, places).tolist(), marks, on_it.tolist(), strict=True
            )
            if on
        ]
        if not near:
            return None, None, ring.piece(0.0, ring.length)
        start, before = min(near, key=lambda each: (here - each[0]) % ring.length)
        stop, after = min(near, key=lambda each: (each[0] - here) % ring.length or ring.length)
        return before, after, ring.piece(start, (stop - start) % ring.length or ring.length)

    # ------------------------------------------------------------------------------------------------

    def _sides_of(self, marks: Sequence[Mark]) -> tuple[EdgeSide, ...]:
        """``marks``: of every side its corner; of an edge without corners its usual ones, the first first."""
        first: dict[str, Mark] = {}
        for mark in marks:
            first.setdefault(mark.side, mark)
        begin: dict[int, list[tuple[float, Mark]]] = {}
        for mark in first.values():
            here = shapely.Point(mark.at)
            number = min(range(len(self._rings)), key=lambda n: self._rings[n].line.distance(here))
            begin.setdefault(number, []).append((float(self._rings[number].line.project(here)), mark))
        sides = []
        for number, group in begin.items():
            ring = self._rings[number]
            group.sort(key=lambda each: each[0])
            for place, (start, mark) in enumerate(group):
                stop, following = group[(place + 1) % len(group)]
                length = (stop - start) % ring.length if len(group) > 1 else ring.length
                cornered = mark.kind is MarkKind.CORNER
                sides.append(
                    EdgeSide(
                        mark.side, number, start, length, ring.point(start + length / 2),
                        mark.name if cornered else "", following.name if cornered else "",
                        mark.foot, following.foot, mark.from_start + mark.to_end,
                    )
                )  # fmt: skip
        return tuple(sides)

    def _along(self, side: EdgeSide, place: EdgePlace) -> float:
        return (place.side.start + place.along - side.start) % self._rings[side.ring].length

    def _on_side(self, side: EdgeSide, point: Point) -> EdgePlace:
        """The place of one side that is nearest to ``point``."""
        ring = self._rings[side.ring]
        line = shapely.linestrings(ring.piece(side.start, side.length))
        along = float(line.project(shapely.Point(point)))
        return self._place(side.ring, side.start + along, side)

    def _place(self, number: int, s: float, side: EdgeSide | None = None) -> EdgePlace:
        ring = self._rings[number]
        if side is None:
            sides = [side for side in self._sides if side.ring == number]
            side = min(sides, key=lambda each: (s - each.start) % ring.length)
        along = (s - side.start) % ring.length
        if along > side.length + SAME_POINT:
            along = 0.0  # a rounding before the first corner
        along = min(along, side.length)
        at = ring.point(side.start + along)
        return EdgePlace(at, side, along, *self._tape(side, at, along))

    def _tape(self, side: EdgeSide, at: Point, along: float) -> tuple[float, float]:
        """As the engine has it: the foot is the seam's nearest place, and the tape goes straight from foot to
        foot where the seam runs off between them, through a neck that the margin has closed or to another
        ring.
        """
        ring = self._rings[side.ring]
        here = self._foot(at, self._nearest_seam(at))
        first, last = (self._foot(foot, self._nearest_seam(foot)) for foot in (side.foot, side.last_foot))
        reach = math.dist(at, here.at)
        of_first = math.dist(ring.point(side.start), first.at)
        of_last = math.dist(ring.point(side.start + side.length), last.at)
        return (
            self._between(first, here, along, reach + of_first),
            self._between(here, last, side.length - along, reach + of_last),
        )

    def _nearest_seam(self, point: Point) -> int:
        here = shapely.Point(point)
        return min(range(len(self._seam)), key=lambda number: self._seam[number].distance(here))

    def _foot(self, point: Point, number: int) -> _Foot:
        seam = self._seam[number]
        s = float(seam.project(shapely.Point(point)))
        place = seam.interpolate(s)
        return _Foot(number, s, (float(place.x), float(place.y)))

    def _between(self, one: _Foot, two: _Foot, expected: float, reach: float) -> float:
        seam = self._seam[one.ring]
        along = float(tape_way(one.s, two.s, seam.length, expected))
        straight = math.dist(one.at, two.at)
        runs_off = along > 2 * (expected + reach) and straight > SAME_POINT
        return straight if one.ring != two.ring or runs_off else along


def _marked_polygons(fit: Fit) -> tuple[tuple[Polygon, ...], set[int]]:
    """What the engine put marks on the edges of, and which of them a fan fills: the parts of the stitchable
    area, or where it is shared among several anchors, their regions.
    """
    fans: tuple[Fan, ...] = fit.prompt_fans
    parts = ground_of(fit.patch, fit.settings).parts
    if len(fans) == 1:
        for number, part in enumerate(parts):
            if part == fans[0].region:
                return parts, {number}
    return tuple(fan.region for fan in fans), set(range(len(fans)))


def _rings(polygons: Sequence[Polygon]) -> list[_Ring]:
    rings = []
    for part, polygon in enumerate(polygons):
        for ring in (polygon.exterior, *polygon.interiors):
            points = shapely.get_coordinates(ring)
            keep = np.append(True, (np.diff(points, axis=0) != 0).any(axis=1))
            points = points[keep]
            at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
            rings.append(_Ring(LinearRing(points), points[:-1], at, part))
    return rings
