"""What an anchor sees: an exact angular sweep, vectorised.

The directions from the anchor to the ends of all edges that can matter are sorted; between two
consecutive ones the nearest edge is constant. Along the unit direction d an edge with outward unit
normal n at distance h is met at distance t with 1/t = (n/h)·d, so the nearest edge is the one with
the greatest (n/h)·d: the sweep is a range maximum over the sorted directions. A sparse table answers
it: every edge is entered in two overlapping power-of-two blocks that together are its range, and the
blocks are pushed down level by level. Edges do not cross, so two edges that both span a block are in
the same order all over it, and comparing them in one direction of the block is enough. n log n.

All edges are directed with the interior on their numerical left (shells have a positive shoelace
area, holes a negative one).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.tolerances import ON_EDGE, SAME_DIRECTION, SAME_POINT
from geometry.types import Point, Points

_TURN = 2 * math.pi

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


class Edges:
    """Directed edges of closed rings, the interior on their numerical left. (n, 2) mm each.

    What does not depend on the anchor is worked out once.
    """

    __slots__ = ("along", "end", "length", "start")

    def __init__(self, start: Points, end: Points) -> None:
        self.start = start
        self.end = end
        self.along = end - start
        self.length: Floats = np.hypot(self.along[:, 0], self.along[:, 1])


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """The pieces of edges that one anchor sees, in order of direction. k pieces.

    Piece i is seen from ``from_angle[i]`` (included) to ``to_angle[i]`` (excluded); the angles grow
    from one piece to the next and span at most one turn. Points are relative to the anchor.
    """

    edge: Ints
    """(k,) index of the edge."""
    from_angle: Floats
    to_angle: Floats
    from_point: Points
    to_point: Points
    adjoins: Bools
    """(k,) piece i ends in the direction in which piece i + 1 (after the last: the first) begins, or only
    edges in line with the anchor are between them."""


def edges_of(polygon: Polygon) -> Edges:
    """The edges of an oriented polygon (shell positive, holes negative)."""
    rings = [shapely.get_coordinates(ring) for ring in (polygon.exterior, *polygon.interiors)]
    return Edges(
        np.concatenate([ring[:-1] for ring in rings]),
        np.concatenate([ring[1:] for ring in rings]),
    )


def reversed_edges(edges: Edges) -> Edges:
    """The same edges with the interior on the other side."""
    return Edges(edges.end, edges.start)


def joined_edges(parts: list[Edges]) -> Edges:
    """All edges of ``parts``, in order."""
    return Edges(np.concatenate([p.start for p in parts]), np.concatenate([p.end for p in parts]))


class _Facing:
    """The edges of one set that face the anchor with their inner side, relative to the anchor."""

    __slots__ = (
        "anchor",
        "angle_from",
        "angle_to",
        "begin",
        "edge_on",
        "edges",
        "end",
        "index",
        "normal_x",
        "normal_y",
        "touching",
    )

    def __init__(self, edges: Edges, anchor: Points) -> None:
        start = edges.start - anchor
        along = edges.along
        # Twice the area between the anchor and the edge: its length times its distance on the inner side.
        cross = start[:, 0] * along[:, 1] - start[:, 1] * along[:, 0]
        self.edge_on = np.abs(cross) <= ON_EDGE * edges.length
        self.touching = _touching(edges, start, self.edge_on)
        index = np.flatnonzero(cross > 0)
        if len(self.touching):
            # Edges that hold the anchor stop no line by distance; the cone they leave open is applied.
            index = np.setdiff1d(index, self.touching, assume_unique=True)
        end = edges.end[index] - anchor
        begin = start[index]
        angle_from = np.arctan2(begin[:, 1], begin[:, 0])
        angle_to = np.arctan2(end[:, 1], end[:, 0])
        # An edge seen nearly edge on may turn backwards by rounding; a true one spans less than a half turn.
        width = angle_to - angle_from
        width[width < 0] += _TURN
        sound = (width < math.pi) & (width > 0)
        if not sound.all():
            index, begin, end = index[sound], begin[sound], end[sound]
            angle_from, angle_to = angle_from[sound], angle_to[sound]
        self.edges = edges
        self.anchor = anchor
        self.index = index
        self.begin = begin
        self.end = end
        self.angle_from = angle_from
        self.angle_to = angle_to
        over = 1.0 / cross[index]
        self.normal_x = along[index, 1] * over
        self.normal_y = -along[index, 0] * over

    def cones(self) -> list[tuple[float, float]]:
        """Directions into the interior at an anchor that lies on these edges: (from, width), rad.

        Empty when it lies on none. On the open part of an edge the cone is a half turn; at a vertex it
        runs from the edge that leaves it to the edge that arrives. Where rings touch there is one cone
        for each, and the interior is what they have in common.
        """
        leaving: list[float] = []
        arriving: list[float] = []
        start, end = self.edges.start[self.touching], self.edges.end[self.touching]
        # Within a hair of a sharp corner both its edges hold the anchor: then the corner is no way out.
        starts, ends = set(map(tuple, start.tolist())), set(map(tuple, end.tolist()))
        for (sx, sy), (ex, ey) in zip(start.tolist(), end.tolist(), strict=True):
            out_x, out_y = ex - self.anchor[0], ey - self.anchor[1]
            in_x, in_y = sx - self.anchor[0], sy - self.anchor[1]
            if math.hypot(out_x, out_y) > ON_EDGE and (ex, ey) not in starts:
                leaving.append(math.atan2(out_y, out_x))
            if math.hypot(in_x, in_y) > ON_EDGE and (sx, sy) not in ends:
                arriving.append(math.atan2(in_y, in_x))
        return _pair_cones(leaving, arriving)


def _touching(edges: Edges, start: Points, edge_on: Bools) -> Ints:
    """The edges that hold the anchor, their ends included, within ``ON_EDGE``: of those in line with it
    (``edge_on``) the ones it does not lie beyond. ``start`` is relative to it."""
    near = np.flatnonzero(edge_on)
    if not len(near):
        return near
    length = edges.length[near]
    ahead = -(start[near] * edges.along[near]).sum(
        axis=1
    )  # how far along the edge the anchor is, times its length
    held = (ahead >= -ON_EDGE * length) & (ahead <= (length + ON_EDGE) * length) & (length > 0)
    touching: Ints = near[held]
    return touching


def _pair_cones(leaving: list[float], arriving: list[float]) -> list[tuple[float, float]]:
    """Pair each leaving direction with the arriving one that closes the interior beside it.

    The interior lies counter-clockwise of a leaving edge up to the next edge met, which in a sound
    polygon is an arriving one: the cones are disjoint, and the interior is their union.
    """
    cones = []
    for start in leaving:
        widths = [(stop - start) % _TURN or _TURN for stop in arriving]
        if widths:
            width = min(widths)
            cones.append((start, width if width > SAME_DIRECTION else _TURN))
    return cones


def _nearest(facing: _Facing, first: Ints, last: Ints, dir_x: Floats, dir_y: Floats) -> Ints:
    """For each of m intervals of direction the nearest facing edge, or len(facing.index) for none.

    ``first`` (included) and ``last`` (excluded) are each edge's range of intervals; a range that goes
    past the last interval goes on at the first.
    """
    none = len(facing.index)
    count = len(dir_x)
    nx = np.append(facing.normal_x, 0.0)
    ny = np.append(facing.normal_y, 0.0)
    wraps = last <= first
    item = np.concatenate([np.arange(none), np.flatnonzero(wraps)])
    low = np.concatenate([first, np.zeros(int(wraps.sum()), dtype=np.intp)])
    high = np.concatenate([np.where(wraps, count, last), last[wraps]])
    used = high > low
    item, low, high = item[used], low[used], high[used]
    if not len(item):
        return np.full(count, none, dtype=np.intp)
    level = np.frexp(high - low)[1] - 1
    top = int(level.max())
    slot_at = np.concatenate([low, high - (1 << level)])
    slot = np.concatenate([level, level]) * count + slot_at
    item = np.concatenate([item, item])
    value = nx[item] * dir_x[slot_at] + ny[item] * dir_y[slot_at]
    slots = np.full((top + 1) * count, none, dtype=np.intp)
    order = np.argsort(value)
    slots[slot[order]] = item[order]  # of several in one slot the last, which is the nearest, stays
    table = slots.reshape(top + 1, count)
    for k in range(top, 0, -1):
        upper, half = table[k], 1 << (k - 1)
        best = table[k - 1]
        best_value = nx[best] * dir_x + ny[best] * dir_y
        value = nx[upper] * dir_x + ny[upper] * dir_y
        better = value > best_value
        best = np.where(better, upper, best)
        best_value = np.where(better, value, best_value)
        moved = upper[:-half]
        value = nx[moved] * dir_x[half:] + ny[moved] * dir_y[half:]
        better = value > best_value[half:]
        best[half:] = np.where(better, moved, best[half:])
        table[k - 1] = best
    nearest: Ints = table[0]
    return nearest


def see(anchor: Point, edges: Edges, outside: bool = False, blockers: Edges | None = None) -> View:
    """The pieces of ``edges`` where a straight line from ``anchor`` first leaves their interior.

    ``outside`` False: the anchor lies in the interior or exactly on an edge or corner (within
    ``ON_EDGE``); lines that leave the interior at once see nothing. ``outside`` True: a line first has
    to enter the interior, and sees nothing where it meets a blocker (from its inner side) before.
    """
    origin = np.array(anchor, dtype=np.float64)
    exits = _Facing(edges, origin)
    sets = [exits]
    cones: list[tuple[float, float]] = []
    if outside:
        entries = _Facing(reversed_edges(edges), origin)
        sets.append(entries)
        if blockers is not None:
            walls = _Facing(blockers, origin)
            sets.append(walls)
            cones = walls.cones()
    else:
        cones = exits.cones()

    rays = [facing.angle_from for facing in sets] + [facing.angle_to for facing in sets]
    if cones:
        bounds = np.array(cones).reshape(-1, 2)
        rays += [bounds[:, 0], np.remainder(bounds.sum(axis=1) + math.pi, _TURN) - math.pi]
    angles, rank = _ranked(np.concatenate(rays))
    count = len(angles)
    if not len(exits.index) or not count:
        return _empty_view()
    after = np.append(angles[1:], angles[0] + _TURN)
    middle = 0.5 * (angles + after)
    dir_x, dir_y = np.cos(middle), np.sin(middle)

    sizes = [len(facing.index) for facing in sets]
    offsets = np.cumsum([0, *sizes, *sizes])

    def nearest(which: int) -> tuple[Ints, Floats]:
        facing = sets[which]
        first = rank[offsets[which] : offsets[which + 1]]
        last = rank[offsets[which + len(sets)] : offsets[which + len(sets) + 1]]
        found = _nearest(facing, first, last, dir_x, dir_y)
        nx = np.append(facing.normal_x, 0.0)[found]
        ny = np.append(facing.normal_y, 0.0)[found]
        return found, nx * dir_x + ny * dir_y

    found, closeness = nearest(0)
    seen = found < len(exits.index)
    if outside:
        _, entry_closeness = nearest(1)
        seen &= entry_closeness > closeness
        if blockers is not None:
            _, wall_closeness = nearest(2)
            seen &= entry_closeness > wall_closeness
    if cones:
        inside = np.zeros(count, dtype=np.bool_)
        for start, width in cones:
            inside |= np.remainder(middle - start, _TURN) < width
        seen &= inside
    first, last = rank[: sizes[0]], rank[offsets[len(sets)] :][: sizes[0]]
    return _pieces(exits, found, seen, angles, first, last)


def _ranked(values: Floats) -> tuple[Floats, Ints]:
    """The distinct values, sorted, and the place of each of ``values`` among them."""
    order = np.argsort(values)
    in_order = values[order]
    new = np.empty(len(values), dtype=np.bool_)
    new[:1] = True
    np.not_equal(in_order[1:], in_order[:-1], out=new[1:])
    rank = np.empty(len(values), dtype=np.intp)
    rank[order] = np.cumsum(new) - 1
    return in_order[new], rank


def _pieces(exits: _Facing, found: Ints, seen: Bools, angles: Floats, first: Ints, last: Ints) -> View:
    """Join neighbouring intervals that show the same edge, and give each piece its exact ends."""
    found = np.where(seen, found, -1)
    changes = np.empty(len(found), dtype=np.bool_)
    changes[0] = found[0] != found[-1]
    np.not_equal(found[1:], found[:-1], out=changes[1:])
    starts = np.flatnonzero(changes)
    if not len(starts):  # one edge cannot be seen all round
        return _empty_view()
    item = found[starts]
    stops = np.roll(starts, -1)  # exclusive, one turn on for the last
    visible = item >= 0
    starts, stops, item = starts[visible], stops[visible], item[visible]
    from_angle = angles[starts]
    to_angle = angles[stops]
    to_angle = np.where(to_angle <= from_angle, to_angle + _TURN, to_angle)
    wide = to_angle - from_angle > SAME_DIRECTION
    starts, stops, item = starts[wide], stops[wide], item[wide]
    from_angle, to_angle = from_angle[wide], to_angle[wide]
    if not len(item):
        return _empty_view()
    edge = exits.index[item]
    from_point, to_point = exits.begin[item], exits.end[item]
    cut = np.flatnonzero(first[item] != starts)
    from_point[cut] = _on_edge(exits, item[cut], from_angle[cut])
    cut = np.flatnonzero(last[item] != stops)
    to_point[cut] = _on_edge(exits, item[cut], to_angle[cut])
    adjoins = np.abs(np.roll(from_angle, -1) - to_angle) <= SAME_DIRECTION
    adjoins[-1] = abs(from_angle[0] + _TURN - to_angle[-1]) <= SAME_DIRECTION
    keep = ~exits.edge_on[edge]
    if not keep.all():
        # An edge in line with the anchor stops sight but is not seen itself; its neighbours still adjoin.
        kept = np.flatnonzero(keep)
        if not len(kept):
            return _empty_view()
        broken = np.concatenate([[0], np.cumsum(~adjoins), np.cumsum(~adjoins) + int((~adjoins).sum())])
        following = np.append(kept[1:], kept[0] + len(edge))
        adjoins = broken[following] == broken[kept]
        edge, from_angle, to_angle = edge[kept], from_angle[kept], to_angle[kept]
        from_point, to_point = from_point[kept], to_point[kept]
    return View(edge, from_angle, to_angle, from_point, to_point, adjoins)


def _on_edge(exits: _Facing, item: Ints, angle: Floats) -> Points:
    """Where the rays at ``angle`` (k,) meet the edges ``item`` (k,), relative to the anchor."""
    dir_x, dir_y = np.cos(angle), np.sin(angle)
    closeness = exits.normal_x[item] * dir_x + exits.normal_y[item] * dir_y
    points: Points = np.column_stack([dir_x, dir_y]) / closeness[:, None]
    return points


def _empty_view() -> View:
    none = np.zeros(0)
    return View(np.zeros(0, np.intp), none, none, np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0, np.bool_))


def seen_area(view: View) -> float:
    """Area in mm² between the anchor and what it sees (shoelace formula)."""
    f, t = view.from_point, view.to_point
    return 0.5 * float((f[:, 0] * t[:, 1] - f[:, 1] * t[:, 0]).sum())


def seen_polygon(anchor: Point, view: View) -> Polygon:
    """The star-shaped region between the anchor and what it sees; empty where it sees nothing."""
    if not len(view.edge):
        return Polygon()
    points = np.stack([view.from_point, view.to_point], axis=1).reshape(-1, 2)
    if not view.adjoins.all():
        # Where sight is interrupted the outline comes back to the anchor.
        where = 2 * np.flatnonzero(~view.adjoins) + 2
        points = np.insert(points, where, 0.0, axis=0)
    step = points - np.roll(points, 1, axis=0)
    points = points[np.hypot(step[:, 0], step[:, 1]) > SAME_POINT] + np.array(anchor)
    if len(points) < 3:
        return Polygon()
    polygon = Polygon(points)
    return polygon if polygon.is_valid else shapely.make_valid(polygon, method="structure")


def visible_region(polygon: Polygon, anchor: Point) -> Polygon:
    """All of ``polygon`` that a straight line from ``anchor``, in it or on its boundary, reaches."""
    return seen_polygon(anchor, see(anchor, edges_of(shapely.orient_polygons(polygon))))


def visible_area(polygon: Polygon, anchor: Point) -> float:
    """Area in mm² of ``visible_region``, by the exact sum rather than through the polygon."""
    return seen_area(see(anchor, edges_of(shapely.orient_polygons(polygon))))
