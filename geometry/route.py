"""The shortest way from one point to another inside an area, and the way along its seam."""

from __future__ import annotations

import heapq
import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from geometry.tolerances import FLATTEN, SAME_POINT
from geometry.types import Point, Points

_MANY = 600
"""Dents from which on an area is simplified first."""
_TOUCH = 2 * SAME_POINT
"""mm. A line this far outside is inside: its ends may lie outside by half of that."""


def shortest_route(area: Polygon, start: Point, end: Point) -> Points:
    """The shortest line inside ``area`` from ``start`` to ``end``, both included. (n, 2) mm, n of 2 or more.

    The shortest line turns only at corners that point into the area (Lozano-Pérez and Wesley, 1979), so it
    is the shortest path in the graph of those that see each other; the search asks only for what it needs.
    It may touch the edge. A point outside by more than ``SAME_POINT`` is first joined to the nearest point of
    the area; the line counts as inside up to twice that. An area with more than ``_MANY`` such corners is
    first simplified inward by ``FLATTEN`` at most; in any smaller the answer is exact.
    """
    way = np.array([start, end])
    inner = [_slid(area, point) for point in (start, end)]
    dents = _dents(area)
    route = None
    if len(dents) > _MANY:
        route = _in_simplified(area, inner[0], inner[1])
    if route is None:
        route = _taut(area, dents, inner[0], inner[1])
    return _joined([way[:1], route, way[1:]])


def route_along_seam(area: Polygon, start: Point, end: Point) -> Points:
    """To the outline of ``area`` the shortest way, along it whichever way is shorter, and to ``end``.

    Both points included. (n, 2) mm.
    """
    ring = LineString(area.exterior)
    at = [ring.project(shapely.Point(point)) for point in (start, end)]
    meets = [_point(ring.interpolate(distance)) for distance in at]
    low, high = min(at), max(at)
    points = shapely.get_coordinates(ring)
    step = np.diff(points, axis=0)
    place = np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])
    if high - low <= place[-1] / 2:
        between = points[(place > low) & (place < high)]
    else:
        round_by_first = points[:-1]
        between = np.concatenate([round_by_first[place[:-1] > high], round_by_first[place[:-1] < low]])[::-1]
    if at[0] > at[1]:
        between = between[::-1]
    return _joined(
        [
            shortest_route(area, start, meets[0]),
            between,
            shortest_route(area, meets[1], end),
        ]
    )


def _point(place: shapely.Point) -> Point:
    return float(place.x), float(place.y)


def _slid(area: Polygon, point: Point) -> Point:
    """``point``, or where it is outside the nearest point of ``area``."""
    place = shapely.Point(point)
    if shapely.distance(area, place) <= SAME_POINT:
        return point
    return _point(shapely.shortest_line(area, place).interpolate(0.0))


def _joined(pieces: list[Points]) -> Points:
    """One line of all the pieces, points on top of the one before left out; both ends stay exactly."""
    points = np.concatenate(pieces)
    step = np.diff(points, axis=0)
    keep = np.concatenate([[True], np.hypot(step[:, 0], step[:, 1]) > SAME_POINT])
    last = points[-1]
    points = points[keep]
    if len(points) == 1:
        return np.concatenate([points, [last]])
    points[-1] = last
    line: Points = points
    return line


class _Dents:
    """Corners that point into the area, and the unit vectors to the corners before and after. (n, 2) each."""

    def __init__(self, at: Points, before: Points, after: Points) -> None:
        self.at, self.before, self.after = at, before, after

    def __len__(self) -> int:
        return len(self.at)


def _dents(area: Polygon) -> _Dents:
    """Of the outline the corners over 180°, of holes those under."""
    oriented = shapely.orient_polygons(area)
    found: list[tuple[Points, Points, Points]] = []
    for ring in (oriented.exterior, *oriented.interiors):
        at = shapely.get_coordinates(ring)[:-1]
        step = np.roll(at, -1, axis=0) - at
        along = step / np.hypot(step[:, 0], step[:, 1])[:, None]
        back = np.roll(along, 1, axis=0)
        dent = _cross(back, along) < 0
        found.append((at[dent], -back[dent], along[dent]))
    at, before, after = (np.concatenate(part) for part in zip(*found, strict=True))
    return _Dents(at, before, after)


def _cross(one: Points, two: Points) -> NDArray[np.float64]:
    cross: NDArray[np.float64] = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    return cross


def _taut(area: Polygon, dents: _Dents, start: Point, end: Point) -> Points:
    """The shortest line between two points of ``area``: A* over the dents, sight worked out as needed."""
    room = shapely.buffer(area, _TOUCH, join_style="mitre")
    shapely.prepare(room)
    ends = np.array([start, end])
    if shapely.covers(room, shapely.linestrings(ends)):
        return ends
    # Nodes: the dents, and after them the start and the end.
    at = np.concatenate([dents.at, ends])
    count = len(dents)
    left = np.hypot(at[:, 0] - end[0], at[:, 1] - end[1])
    best = np.full(count + 2, math.inf)
    best[count] = 0.0
    came = np.full(count + 2, -1)
    done = np.zeros(count + 2, dtype=np.bool_)
    queue = [(float(left[count]), count)]
    while queue:
        _, here = heapq.heappop(queue)
        if done[here]:
            continue
        done[here] = True
        if here == count + 1:
            break
        step = at - at[here]
        length = best[here] + np.hypot(step[:, 0], step[:, 1])
        worth = np.flatnonzero(~done & (length < best))
        worth = worth[_grazes(dents, step, worth, here)]
        lines = shapely.linestrings(np.stack([np.broadcast_to(at[here], (len(worth), 2)), at[worth]], axis=1))
        for node in worth[shapely.covers(room, lines)].tolist():
            best[node], came[node] = length[node], here
            heapq.heappush(queue, (float(length[node] + left[node]), node))
    if came[count + 1] < 0:
        return ends  # only where the area hangs together by less than rounding
    way = [count + 1]
    while way[-1] != count:
        way.append(int(came[way[-1]]))
    return at[way[::-1]]


def _grazes(dents: _Dents, step: Points, nodes: NDArray[np.intp], here: int) -> NDArray[np.bool_]:
    """Whether a taut line can come from ``here`` by ``step`` to each of ``nodes``, and go on.

    At a dent it passes by: both neighbours of the corner lie on one side of it. The same holds where it
    starts, if that is a dent.
    """
    count = len(dents)
    passes = np.ones(len(nodes), dtype=np.bool_)
    dent = nodes < count
    own = nodes[dent]
    passes[dent] = _beside(step[own], dents.before[own], dents.after[own])
    if here < count:
        passes &= _beside(step[nodes], dents.before[here : here + 1], dents.after[here : here + 1])
    return passes


def _beside(step: Points, before: Points, after: Points) -> NDArray[np.bool_]:
    """Whether both edges of a dent lie on one side of the line along ``step``, or one of them on it.

    The line's ends may lie off by rounding; its direction is as certain as its length allows.
    """
    one, two = _cross(step, before), _cross(step, after)
    answer: NDArray[np.bool_] = (one * two >= 0) | (np.minimum(np.abs(one), np.abs(two)) <= 4 * _TOUCH)
    return answer


def _in_simplified(area: Polygon, start: Point, end: Point) -> Points | None:
    """The shortest line in a simpler area inside ``area``; None where that cannot join the two points."""
    inward = shapely.buffer(area, -FLATTEN, join_style="mitre")
    simple = shapely.simplify(inward, 0.9 * FLATTEN)
    for part in shapely.get_parts(simple):
        dents = _dents(part)
        if len(dents) > _MANY:
            continue
        ends = [_slid(part, point) for point in (start, end)]
        legs = [math.dist(one, two) for one, two in zip(ends, (start, end), strict=True)]
        if max(legs) > 20 * FLATTEN:
            continue
        route = _joined([np.array([start]), _taut(part, dents, ends[0], ends[1]), np.array([end])])
        if shapely.covers(shapely.buffer(area, _TOUCH, join_style="mitre"), shapely.linestrings(route)):
            return route
    return None
