"""Marks and anchors as a tape finds them on the cloth: along the seam, or straight from two of its corners.

What can be seen there before anything is marked is the seam and its corners. A mark on the margin line has
its foot square across on the seam, and the foot its distance along the seam from the corners on both sides.
What lies further inside (an anchor, a mark between two regions) is where two straight tapes cross.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.marks import Mark, MarkKind, seam_corners
from geometry.patch import Patch
from geometry.settings import Settings
from geometry.tolerances import SAME_PLACE, SAME_POINT
from geometry.types import Point, Points
from geometry.units import MM_PER_INCH

CROSSES_WELL: Final = 2.0
"""Sensitivity of tapes that cross at 60° or 120°; at 90° it is 1.41, at 30° and 150° 3.86."""

_NEAR: Final = MM_PER_INCH
"""mm. A corner this near is not measured from where others are further away: too little tape to hold."""

_MOST: Final = 64
"""Places to measure from that are tried against each other, the nearest ones."""


_SLACK: Final = 1.5
"""Times as far from a corner as straight sides would take its mark: curved ones take it further."""

_PIECES: Final = 65
"""Points of a side near its corner from which distances are taken."""


@dataclass(frozen=True, slots=True)
class Landmark:
    """A place of the seam to measure from."""

    name: str
    """Of the mark that stands before it: ``AB``."""
    at: Point
    """mm."""


@dataclass(frozen=True, slots=True)
class AlongSeam:
    """A place of the seam between two landmarks that follow each other on it."""

    before: str
    after: str
    """Names of the landmarks; one and the same where its ring has no other."""
    back: float
    """mm along the seam to the one before."""
    on: float
    """mm along the seam to the one after."""


@dataclass(frozen=True, slots=True)
class Crossing:
    """A place where two straight tapes cross."""

    one: Landmark
    two: Landmark
    from_one: float
    from_two: float
    """mm, straight."""
    right: bool
    """On the right of someone who looks from ``one`` to ``two``; else on the left or between them."""
    angle: float
    """rad, 0 to pi: between the tapes."""


@dataclass(frozen=True, slots=True)
class TapedMark:
    """How to find one mark."""

    mark: Mark
    along: AlongSeam | None
    """Where its foot is; None where it has none square across, and ``crossing`` finds the mark itself."""
    crossing: Crossing | None
    """Also of a foot on an edge without corners, from which the others are then measured."""
    inward: float | None
    """mm straight in from the seam's corner; None where the mark lies on the margin line, or for a corner
    where two margin lines meet."""


@dataclass(frozen=True, slots=True)
class TapedAnchor:
    """How to find one anchor: along the seam where it lies on it, else by two tapes, else, where no two cross
    well, square in from the seam. With none of them, there is nothing to measure from."""

    at: Point
    along: AlongSeam | None
    """Of the anchor, or of its foot."""
    inward: float
    """mm square in from its foot; 0 on the seam."""
    foot: Point
    """mm: the seam's point nearest to it."""
    crossing: Crossing | None


def meeting(one: Point, two: Point, from_one: float, from_two: float, right: bool) -> Point:
    """Where tapes of so many mm from ``one`` and ``two``, two different points, meet on that side of them.

    The intersection of two circles by their radical line, at a = (d1² - d2² + D²) / 2D along the line of
    their centres. Tapes that do not reach each other are laid on that line.
    """
    dx, dy = two[0] - one[0], two[1] - one[1]
    apart = math.hypot(dx, dy)
    dx, dy = dx / apart, dy / apart
    along = (from_one**2 - from_two**2 + apart**2) / (2 * apart)
    off = math.sqrt(max(from_one**2 - along**2, 0.0)) * (1 if right else -1)
    return (one[0] + along * dx - off * dy, one[1] + along * dy + off * dx)


def sensitivity(angle: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far, at most, tapes that cross at ``angle`` (rad) move their crossing when each is off by 1.

    With unit vectors u, v along the tapes the crossing moves by p with u·p = ±1, v·p = ±1, so that p lies
    along u + v or u - v, at 1 / cos or 1 / sin of half the angle. Infinite at 0 and pi.
    """
    half = np.minimum(np.sin(angle / 2), np.cos(angle / 2))
    with np.errstate(divide="ignore"):
        answer: NDArray[np.float64] = 1 / np.maximum(half, 0.0)
    return answer


class Tape:
    """Lays out the marks and anchors of one patch."""

    def __init__(self, patch: Patch, marks: Sequence[Mark], settings: Settings) -> None:
        self._patch, self._settings = patch, settings
        polygon = patch.polygon
        self._rings = [shapely.LinearRing(ring.coords) for ring in (polygon.exterior, *polygon.interiors)]
        self._on_ring: list[list[tuple[float, Landmark]]] = [[] for _ in self._rings]
        """For each ring its landmarks, with their places along it, in order."""
        for landmark in self._seen_corners([mark for mark in marks if mark.kind is MarkKind.CORNER]):
            self._add(landmark)
        self._corners = {each.name: each for row in self._on_ring for _, each in row}
        feet = [(mark, self._ring_of(mark.foot)) for mark in marks if self._is_square(mark)]
        self._begins: dict[str, Landmark] = {}
        """Of rings without corners: the foot to measure from."""
        for mark, ring in feet:
            if not self._on_ring[ring]:
                self._begins[mark.name] = Landmark(mark.name, mark.foot)
                self._add(self._begins[mark.name])
        self._starts = {
            each.name: (number, start) for number, row in enumerate(self._on_ring) for start, each in row
        }
        self._feet = [Landmark(mark.name, mark.foot) for mark, _ in feet]
        self.marks = tuple(self._mark(mark) for mark in marks)

    @property
    def landmarks(self) -> tuple[Landmark, ...]:
        """Every place that distances along the seam are measured from."""
        return tuple(each for row in self._on_ring for _, each in row)

    def anchor(self, at: Point) -> TapedAnchor:
        """How to find the anchor ``at``."""
        if self._patch.is_on_seam(at):
            along = self._along(at)
            if along is not None:
                return TapedAnchor(at, along, 0.0, at, None)
        crossing, foot = self._crossing(at), self._foot_of(at)
        if crossing is None or is_flat(crossing):
            along = self._along(foot)
            step = np.subtract(at, foot)
            if along is not None and abs(float(step @ self._tangent(foot))) <= SAME_PLACE:
                return TapedAnchor(at, along, math.hypot(*step), foot, None)
        return TapedAnchor(at, None, 0.0, foot, crossing)

    def foot(self, name: str, by: float) -> Point:
        """The seam's point ``by`` mm after the landmark of that name, laid along the seam; before it where
        ``by`` is less than 0."""
        number, start = self._starts[name]
        ring = self._rings[number]
        point = shapely.line_interpolate_point(ring, (start + by) % ring.length)
        return (float(point.x), float(point.y))

    def set_in(self, foot: Point, mark: Mark) -> Point:
        """Where ``mark`` comes when its foot is taken to be at ``foot``: the margin square in from there."""
        return self.square_in(foot, self._settings.edge_margin, mark.foot, mark.at)

    def square_in(self, foot: Point, by: float, like: Point, to: Point) -> Point:
        """The place ``by`` mm square in from the seam at ``foot``, on the side on which ``to`` lies of the
        seam at ``like``."""
        x, y = self._tangent(foot).tolist()
        side = math.copysign(by, y * (to[0] - like[0]) - x * (to[1] - like[1]))
        return (foot[0] + side * y, foot[1] - side * x)

    # ------------------------------------------------------------------------------------------------

    def _mark(self, mark: Mark) -> TapedMark:
        corner = self._corners.get(mark.name)
        if corner is not None:
            if self._lines_meet(mark.at, corner.at):
                return TapedMark(mark, self._along(corner.at), None, None)
            if self._is_straight_in(mark.at, corner.at):
                return TapedMark(mark, self._along(corner.at), None, math.dist(mark.at, corner.at))
        elif mark.name in self._begins:
            return TapedMark(mark, self._along(mark.foot), self._crossing(mark.foot, begun=False), None)
        elif self._is_square(mark):
            along = self._along(mark.foot)
            if along is not None:
                return TapedMark(mark, along, None, None)
        return TapedMark(mark, None, self._crossing(mark.at), None)

    def _add(self, landmark: Landmark) -> None:
        row = self._on_ring[ring := self._ring_of(landmark.at)]
        s = shapely.line_locate_point(self._rings[ring], shapely.Point(landmark.at))
        if all(math.dist(landmark.at, other.at) > SAME_POINT for _, other in row):
            row.append((float(s), landmark))
            row.sort(key=lambda each: each[0])

    def _ring_of(self, at: Point) -> int:
        return int(np.argmin(shapely.distance(self._rings, shapely.Point(at))))

    def _foot_of(self, at: Point) -> Point:
        ring = self._rings[self._ring_of(at)]
        foot = shapely.line_interpolate_point(ring, shapely.line_locate_point(ring, shapely.Point(at)))
        return (float(foot.x), float(foot.y))

    def _along(self, at: Point) -> AlongSeam | None:
        number = self._ring_of(at)
        row, ring = self._on_ring[number], self._rings[number]
        if not row:
            return None
        s = float(shapely.line_locate_point(ring, shapely.Point(at)))
        # The nearest one behind; a rounding error before a landmark is that landmark.
        back, place = min(
            (((s - start + SAME_POINT) % ring.length - SAME_POINT), place)
            for place, (start, _) in enumerate(row)
        )
        start, before = row[place]
        end, after = row[(place + 1) % len(row)]
        whole = (end - start) % ring.length or ring.length
        back = max(back, 0.0)
        return AlongSeam(before.name, after.name, back, whole - back)

    def _tangent(self, at: Point) -> Points:
        """Unit vector along the seam through ``at``, by the chord of 1 mm to either side."""
        ring = self._rings[self._ring_of(at)]
        s = shapely.line_locate_point(ring, shapely.Point(at))
        ends = shapely.line_interpolate_point(ring, np.array([s - 1.0, s + 1.0]) % ring.length)
        step = np.diff(shapely.get_coordinates(ends), axis=0)[0]
        unit: Points = step / max(math.hypot(*step), SAME_POINT)
        return unit

    def _off(self, mark: Mark) -> Points:
        return np.subtract(mark.at, mark.foot)

    def _is_square(self, mark: Mark) -> bool:
        """Whether the mark stands on the margin line square to the seam at its foot."""
        off = self._off(mark)
        aside = abs(float(off @ self._tangent(mark.foot)))
        return aside <= SAME_PLACE and abs(math.hypot(*off) - self._settings.edge_margin) <= SAME_PLACE

    def _is_straight_in(self, at: Point, corner: Point) -> bool:
        """Whether ``at`` lies where the angle of the corner is halved."""
        (one, two), off = self._arms(corner), np.subtract(at, corner)
        both = one + two
        size = math.hypot(*both)
        return size > SAME_POINT and abs(float(off[0] * both[1] - off[1] * both[0])) / size <= SAME_PLACE

    def _lines_meet(self, at: Point, corner: Point) -> bool:
        """Whether ``at`` is the margin away from both sides that meet in the corner, or from their lines."""
        off, margin = np.subtract(at, corner), self._settings.edge_margin
        ring = self._rings[self._ring_of(corner)]
        s = float(shapely.line_locate_point(ring, shapely.Point(corner)))
        reach = min(2 * math.hypot(*off) + self._settings.corner_run, ring.length / 2)
        for way, arm in zip((-1, 1), self._arms(corner), strict=True):
            from_line = abs(float(off[0] * arm[1] - off[1] * arm[0]))
            places = np.linspace(0.0, way * reach, _PIECES) + s
            points = shapely.line_interpolate_point(ring, places % ring.length)
            side = shapely.linestrings(shapely.get_coordinates(points))
            from_side = float(shapely.distance(side, shapely.Point(at)))
            if min(abs(from_line - margin), abs(from_side - margin)) > SAME_PLACE:
                return False
        return True

    def _seen_corners(self, marks: Sequence[Mark]) -> list[Landmark]:
        """The seam's own corners before the corners of the margin line, named by these.

        A mark belongs to the corner nearest to it where it also is the mark nearest to that corner, stands
        no further off than the margin takes it there, and has its foot beside it along the seam. A corner
        between regions has none.
        """
        corners = seam_corners(self._patch.polygon, self._settings)
        if not len(corners) or not marks:
            return []
        tree = shapely.STRtree(shapely.points(corners))
        of_mark = tree.nearest(shapely.points([mark.at for mark in marks]))
        away = np.hypot(*(np.array([mark.at for mark in marks]) - corners[of_mark]).T)
        far_first = np.argsort(-away, kind="stable")
        nearest = dict(zip(of_mark[far_first].tolist(), far_first.tolist(), strict=True))
        found = []
        for corner, number in nearest.items():
            x, y = corners[corner].tolist()
            mark = marks[number]
            ring = self._rings[self._ring_of((x, y))]
            both = shapely.line_locate_point(ring, shapely.points([(x, y), mark.foot]))
            along = abs(float(both[0] - both[1]))
            along = min(along, ring.length - along)
            one, two = self._arms((x, y))
            half = math.sqrt(max((1 - float(one @ two)) / 2, 0.0))  # the sine of half the angle
            most = self._settings.edge_margin / max(half, SAME_POINT) * _SLACK + SAME_PLACE
            on_ring = shapely.distance(ring, shapely.Point(mark.foot)) <= SAME_POINT
            if away[number] <= most and on_ring and along <= 2 * away[number] + SAME_POINT:
                found.append((number, Landmark(mark.name, (x, y))))
        return [landmark for _, landmark in sorted(found, key=lambda pair: pair[0])]

    def _arms(self, corner: Point) -> tuple[Points, Points]:
        """Unit vectors from a corner of the seam along both its sides, as they run over ``corner_run``."""
        ring = self._rings[self._ring_of(corner)]
        s = float(shapely.line_locate_point(ring, shapely.Point(corner)))
        run = min(self._settings.corner_run, ring.length / 4)
        ends = shapely.line_interpolate_point(ring, np.array([s - run, s + run]) % ring.length)
        one, two = shapely.get_coordinates(ends) - corner
        return one / max(math.hypot(*one), SAME_POINT), two / max(math.hypot(*two), SAME_POINT)

    def _crossing(self, at: Point, *, begun: bool = True) -> Crossing | None:
        """From two corners; where none cross well, from feet of marks too, if the seam is ``begun``."""
        best = _best(at, list(self._corners.values()))
        poor = best is None or float(sensitivity(np.array(best.angle))) > CROSSES_WELL
        if poor and begun:
            more = _best(at, [*self._corners.values(), *self._begins.values(), *self._feet])
            # A foot has to be found first, so it is worth it only where corners alone are of little use.
            if best is None or (more and is_flat(best) and not is_flat(more)):
                return more
        return best


def is_flat(crossing: Crossing) -> bool:
    """Whether the tapes cross so flat, below 30° or above 150°, that they say little of the place."""
    return not math.radians(30) <= crossing.angle <= math.radians(150)


def _best(at: Point, landmarks: Sequence[Landmark]) -> Crossing | None:
    """The two that are best measured from: of those that cross well the pair with the shortest tapes, else
    the pair that crosses best. None where there are no two."""
    unique = list({each.at: each for each in reversed(landmarks)}.values())[::-1]
    places = np.array([each.at for each in unique]).reshape(-1, 2)
    away = np.hypot(*(places - at).T)
    order = np.argsort(np.round(away, 6), kind="stable")
    far = order[away[order] >= _NEAR]
    order = (far if len(far) > 1 else order[away[order] > SAME_POINT])[:_MOST]
    if len(order) < 2:
        return None
    step = (places[order] - at) / away[order][:, None]
    one, two = np.triu_indices(len(order), 1)
    cross = step[one, 0] * step[two, 1] - step[one, 1] * step[two, 0]
    angle = np.arctan2(np.abs(cross), (step[one] * step[two]).sum(axis=1))
    moves = np.round(sensitivity(angle), 6)
    longer = np.round(np.maximum(away[order][one], away[order][two]), 6)
    well = moves <= CROSSES_WELL
    pair = int(np.lexsort((np.where(well, moves, longer), np.where(well, longer, moves), ~well))[0])
    first, second = sorted((int(order[one[pair]]), int(order[two[pair]])))
    (x0, y0), (x1, y1) = unique[first].at, unique[second].at
    side = (x1 - x0) * (at[1] - y0) - (y1 - y0) * (at[0] - x0)
    return Crossing(
        unique[first],
        unique[second],
        float(away[first]),
        float(away[second]),
        side > 0,
        float(angle[pair]),
    )
