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

from geometry.tolerances import NO_ANGLE, ON_EDGE, SAME_DIRECTION, SAME_POINT
from geometry.types import Point, Points

_TURN = 2 * math.pi

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


class Edges:
    """Directed edges of closed rings, the interior on their numerical left. (n, 2) mm each.

    What does not depend on the anchor is worked out once. ``from_`` and ``to`` (n,) are ``start`` and
    ``end`` as complex numbers, x + iy.
    """

    __slots__ = ("along", "end", "from_", "length", "start", "to", "turned")

    def __init__(self, start: Points, end: Points) -> None:
        self.start = start
        self.end = end
        self.from_, self.to = complex_of(start), complex_of(end)
        self.along: Complex = self.to - self.from_
        self.length: Floats = np.abs(self.along)
        self.turned: Complex = 1j * self.along.conj()
        """(n,) conjugate of the outward normal, times the length."""


def complex_of(points: Points) -> Complex:
    """(n,) x + iy of (n, 2), without a copy where that can be."""
    answer: Complex = np.ascontiguousarray(points, dtype=np.float64).view(np.complex128)[:, 0]
    return answer


def points_of(numbers: Complex) -> Points:
    """(n, 2) of (n,) x + iy, without a copy where that can be."""
    return np.ascontiguousarray(numbers).view(np.float64).reshape(-1, 2)


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """The pieces of edges that one anchor sees, in order of direction. k pieces.

    Piece i is seen from ``from_angle[i]`` (included) to ``to_angle[i]`` (excluded); the angles grow
    from one piece to the next and span at most one turn. Points are x + iy, relative to the anchor, mm.
    """

    edge: Ints
    """(k,) index of the edge."""
    from_angle: Floats
    to_angle: Floats
    from_point: Complex
    to_point: Complex
    normal: Complex
    """(k,) conjugate of the edge's outward normal over its distance from the anchor: along the unit direction
    d it is met at 1 / t = Re(normal d)."""
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

    __slots__ = ("anchor", "angles", "edge_on", "edges", "ends", "index", "normal", "touching")

    def __init__(self, edges: Edges, anchor: complex) -> None:
        start = edges.from_ - anchor
        # Twice the area between the anchor and the edge: its length times its distance on the inner side.
        cross = (start.conj() * edges.along).imag
        self.edge_on = np.abs(cross) <= ON_EDGE * edges.length
        self.touching = _touching(edges, start, self.edge_on)
        index = (cross > 0).nonzero()[0]
        if len(self.touching):
            # Edges that hold the anchor stop no line by distance; the cone they leave open is applied.
            index = np.setdiff1d(index, self.touching, assume_unique=True)
        ends = _ends(edges, start, index, anchor)
        angles = np.arctan2(ends.imag, ends.real)
        # An edge seen nearly edge on may turn backwards by rounding; a true one spans less than a half turn.
        width = angles[1] - angles[0]
        width[width < 0] += _TURN
        sound = (width < math.pi) & (width > 0)
        if not sound.all():
            index, ends, angles = index[sound], ends[:, sound], angles[:, sound]
        self.edges = edges
        self.anchor = anchor
        self.index = index
        self.ends = ends
        """(2, f) where they begin and where they end."""
        self.angles = angles
        """(2, f) rad, the directions of these."""
        self.normal = edges.turned.take(index)
        """(f,) conjugates of the outward normals over the distance."""
        self.normal /= cross.take(index)

    def cones(self) -> list[tuple[float, float]]:
        """Directions into the interior at an anchor that lies on these edges: (from, width), rad.

        Empty when it lies on none. On the open part of an edge the cone is a half turn; at a vertex it
        runs from the edge that leaves it to the edge that arrives. Where rings touch there is one cone
        for each, and the interior is what they have in common.
        """
        leaving: list[float] = []
        arriving: list[float] = []
        begins = self.edges.from_[self.touching].tolist()
        finishes = self.edges.to[self.touching].tolist()
        # Within a hair of a sharp corner both its edges hold the anchor: then the corner is no way out.
        starts, ends = set(begins), set(finishes)
        for start, end in zip(begins, finishes, strict=True):
            out, back = end - self.anchor, start - self.anchor
            if abs(out) > ON_EDGE and end not in starts:
                leaving.append(math.atan2(out.imag, out.real))
            if abs(back) > ON_EDGE and start not in ends:
                arriving.append(math.atan2(back.imag, back.real))
        return _pair_cones(leaving, arriving)


def _ends(edges: Edges, start: Complex, index: Ints, anchor: complex) -> Complex:
    """(2, f) where the edges ``index`` begin and end, relative to the anchor; ``start`` of all edges is."""
    ends = np.empty((2, len(index)), dtype=np.complex128)
    start.take(index, out=ends[0], mode="clip")
    edges.to.take(index, out=ends[1], mode="clip")
    ends[1] -= anchor
    return ends


def _touching(edges: Edges, start: Complex, edge_on: Bools) -> Ints:
    """The edges that hold the anchor, their ends included, within ``ON_EDGE``: of those in line with it
    (``edge_on``) the ones it does not lie beyond. ``start`` is relative to it."""
    near = edge_on.nonzero()[0]
    if not len(near):
        return near
    length = edges.length[near]
    # How far along the edge the anchor is, times its length.
    ahead = -(start[near].conj() * edges.along[near]).real
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


def _nearest(normal: Complex, ranges: Ints, direction: Complex) -> Ints:
    """For each of m intervals of direction the nearest of f facing edges, or f for none.

    ``ranges`` (2, f): each edge's first interval and the one after its last; a range that goes past the
    last interval goes on at the first.
    """
    first, last = ranges
    none, count = len(normal), len(direction)
    if none * count <= _FEW:
        return _nearest_of_few(normal, first, last, direction)
    normal = np.append(normal, 0.0)
    wraps = (last <= first).nonzero()[0]
    item = np.concatenate([np.arange(none), wraps])
    low = np.concatenate([first, np.zeros(len(wraps), dtype=np.intp)])
    high = np.concatenate([last, last.take(wraps)])
    high[wraps] = count
    used = high > low
    if not used.all():
        item, low, high = item[used], low[used], high[used]
    if not len(item):
        return np.full(count, none, dtype=np.intp)
    level = np.frexp(high - low)[1] - 1
    top = int(level.max())
    other = high - (1 << level)
    two = (other != low).nonzero()[0]  # the others' ranges are one slot as they are
    slot_at = np.concatenate([low, other.take(two)])
    slot = np.concatenate([level, level.take(two)]) * count + slot_at
    item = np.concatenate([item, item.take(two)])
    value = (normal.take(item) * direction.take(slot_at)).real
    slots = np.full((top + 1) * count, none, dtype=np.intp)
    order = value.argsort(kind="stable")
    slots[slot.take(order)] = item.take(order)  # of several in one slot the last, which is the nearest, stays
    table = slots.reshape(top + 1, count)
    for k in range(top, 0, -1):
        upper, half = table[k], 1 << (k - 1)
        best = table[k - 1]
        best_value = (normal.take(best) * direction).real
        pushed = normal.take(upper)
        value = (pushed * direction).real
        better = value > best_value
        best = np.where(better, upper, best)
        best_value = np.where(better, value, best_value)
        value = (pushed[:-half] * direction[half:]).real
        better = value > best_value[half:]
        best[half:] = np.where(better, upper[:-half], best[half:])
        table[k - 1] = best
    nearest: Ints = table[0]
    return nearest


_FEW = 12_000
"""Edges times intervals up to which comparing each with each is quicker than the table (found by trial)."""


def _nearest_of_few(normal: Complex, first: Ints, last: Ints, direction: Complex) -> Ints:
    """``_nearest``, each edge compared in each interval."""
    none, count = len(normal), len(direction)
    closeness = np.zeros((none + 1, count))
    np.multiply(normal.real[:, None], direction.real, out=closeness[:none])
    closeness[:none] -= normal.imag[:, None] * direction.imag
    place = np.arange(count)
    begun, over = place >= first[:, None], place >= last[:, None]
    # In range is begun and not over; where the range wraps, begun or not over.
    closeness[:none][(begun == over) ^ (last <= first)[:, None]] = 0.0
    closeness[none] = np.finfo(np.float64).tiny
    nearest: Ints = closeness.argmax(axis=0)
    return nearest


def see(anchor: Point, edges: Edges, outside: bool = False, blockers: Edges | None = None) -> View:
    """The pieces of ``edges`` where a straight line from ``anchor`` first leaves their interior.

    ``outside`` False: the anchor lies in the interior or exactly on an edge or corner (within
    ``ON_EDGE``); lines that leave the interior at once see nothing. ``outside`` True: a line first has
    to enter the interior, and sees nothing where it meets a blocker (from its inner side) before.
    """
    origin = complex(*anchor)
    exits = _Facing(edges, origin)
    sets = [exits]
    cones: list[tuple[float, float]] = []
    if outside:
        sets.append(_Facing(reversed_edges(edges), origin))
        if blockers is not None:
            walls = _Facing(blockers, origin)
            sets.append(walls)
            cones = walls.cones()
    elif len(exits.touching):
        cones = exits.cones()
    if not len(exits.index):
        return _empty_view()

    rays = [facing.angles.ravel() for facing in sets]
    if cones:
        bounds = np.array(cones).reshape(-1, 2)
        rays += [bounds[:, 0], np.remainder(bounds.sum(axis=1) + math.pi, _TURN) - math.pi]
    angles, rank = _ranked(np.concatenate(rays) if len(rays) > 1 else rays[0])
    middle = angles.copy()
    middle[:-1] += angles[1:]
    middle[-1] += angles[0] + _TURN
    middle *= 0.5
    direction = np.empty(len(angles), dtype=np.complex128)
    np.cos(middle, out=direction.real)
    np.sin(middle, out=direction.imag)

    ranges = []
    for facing in sets:
        size = facing.angles.size
        ranges.append(rank[:size].reshape(2, -1))
        rank = rank[size:]
    found = _nearest(exits.normal, ranges[0], direction)
    seen = found < len(exits.index)
    if outside:
        closeness = _closeness(exits, found, direction)
        entered = _closeness(sets[1], _nearest(sets[1].normal, ranges[1], direction), direction)
        seen &= entered > closeness
        if blockers is not None:
            seen &= entered > _closeness(sets[2], _nearest(sets[2].normal, ranges[2], direction), direction)
    if cones:
        inside = np.zeros(len(angles), dtype=np.bool_)
        for start, width in cones:
            inside |= np.remainder(middle - start, _TURN) < width
        seen &= inside
    return _pieces(exits, found, seen, angles, ranges[0])


def _closeness(facing: _Facing, found: Ints, direction: Complex) -> Floats:
    """(m,) one over the distance of the edges ``found`` along ``direction``; 0 for none."""
    closeness: Floats = (np.append(facing.normal, 0.0).take(found) * direction).real
    return closeness


def _ranked(values: Floats) -> tuple[Floats, Ints]:
    """The distinct values, sorted, and the place of each of ``values`` among them.

    The directions along a smooth outline grow for a long way on end, and such runs a stable sort (timsort:
    Peters 2002, numpy's) only merges.
    """
    order = values.argsort(kind="stable")
    in_order = values.take(order)
    new = np.empty(len(values), dtype=np.bool_)
    new[:1] = True
    np.not_equal(in_order[1:], in_order[:-1], out=new[1:])
    rank = np.empty(len(values), dtype=np.intp)
    rank[order] = new.cumsum()
    rank -= 1
    return in_order[new], rank


def _pieces(exits: _Facing, found: Ints, seen: Bools, angles: Floats, ranges: Ints) -> View:
    """Join neighbouring intervals that show the same edge, and give each piece its exact ends."""
    found[~seen] = -1
    changes = np.empty(len(found), dtype=np.bool_)
    changes[0] = found[0] != found[-1]
    np.not_equal(found[1:], found[:-1], out=changes[1:])
    starts = changes.nonzero()[0]
    if not len(starts):  # one edge cannot be seen all round
        return _empty_view()
    item = found.take(starts)
    stops = np.empty_like(starts)  # exclusive, one turn on for the last
    stops[:-1] = starts[1:]
    stops[-1] = starts[0]
    from_angle, to_angle = angles.take(starts), angles.take(stops)
    to_angle[-1:] += np.where(to_angle[-1:] <= from_angle[-1:], _TURN, 0.0)
    wide = (item >= 0) & (to_angle - from_angle > SAME_DIRECTION)
    if not wide.all():
        starts, stops, item = starts[wide], stops[wide], item[wide]
        from_angle, to_angle = from_angle[wide], to_angle[wide]
        if not len(item):
            return _empty_view()
    edge = exits.index.take(item)
    normal = exits.normal.take(item)
    points = exits.ends.take(item, axis=1)
    cut = ranges.take(item, axis=1) != (starts, stops)
    row, at = cut.nonzero()
    angle = np.where(row == 0, from_angle.take(at), to_angle.take(at))
    rays = np.empty(len(angle), dtype=np.complex128)
    np.cos(angle, out=rays.real)
    np.sin(angle, out=rays.imag)
    rays /= (normal.take(at) * rays).real
    points[row, at] = rays
    adjoins = np.empty(len(item), dtype=np.bool_)
    # (the borders of a region that ends in a slit at its anchor are in line but for the grid they lie on)
    np.less_equal(np.abs(from_angle[1:] - to_angle[:-1]), NO_ANGLE, out=adjoins[:-1])
    adjoins[-1] = abs(from_angle[0] + _TURN - to_angle[-1]) <= NO_ANGLE
    keep = ~exits.edge_on.take(edge)
    if not keep.all():
        # An edge in line with the anchor stops sight but is not seen itself; its neighbours still adjoin.
        kept = keep.nonzero()[0]
        if not len(kept):
            return _empty_view()
        broken = np.concatenate([[0], np.cumsum(~adjoins), np.cumsum(~adjoins) + int((~adjoins).sum())])
        following = np.append(kept[1:], kept[0] + len(edge))
        adjoins = broken[following] == broken[kept]
        edge, from_angle, to_angle = edge[kept], from_angle[kept], to_angle[kept]
        points, normal = points[:, kept], normal[kept]
    return View(edge, from_angle, to_angle, points[0], points[1], normal, adjoins)


def _empty_view() -> View:
    none, nowhere = np.zeros(0), np.zeros(0, np.complex128)
    return View(np.zeros(0, np.intp), none, none, nowhere, nowhere, nowhere, np.zeros(0, np.bool_))


def seen_area(view: View) -> float:
    """Area in mm² between the anchor and what it sees (shoelace formula)."""
    return 0.5 * float((view.from_point.conj() * view.to_point).imag.sum())


def seen_polygon(anchor: Point, view: View) -> Polygon:
    """The star-shaped region between the anchor and what it sees; empty where it sees nothing."""
    if not len(view.edge):
        return Polygon()
    # Where sight is interrupted the outline comes back to the anchor, and so it does at edges in line with it
    # that take up an angle, since they begin within a hair of it.
    clear = np.append(view.from_angle[1:], view.from_angle[0] + _TURN) - view.to_angle
    corners = np.zeros((len(view.edge), 3), dtype=np.complex128)
    corners[:, 0], corners[:, 1] = view.from_point, view.to_point
    there = np.ones(corners.shape, dtype=np.bool_)
    np.logical_or(~view.adjoins, clear > NO_ANGLE, out=there[:, 2])
    points = corners[there]
    step = np.empty_like(points)
    step[0] = points[0] - points[-1]
    np.subtract(points[1:], points[:-1], out=step[1:])
    points = points[np.abs(step) > SAME_POINT] + complex(*anchor)
    if len(points) < 3:
        return Polygon()
    polygon = Polygon(points_of(points))
    return polygon if polygon.is_valid else shapely.make_valid(polygon, method="structure")


def visible_region(polygon: Polygon, anchor: Point) -> Polygon:
    """All of ``polygon`` that a straight line from ``anchor``, in it or on its boundary, reaches."""
    return seen_polygon(anchor, see(anchor, edges_of(shapely.orient_polygons(polygon))))


def visible_area(polygon: Polygon, anchor: Point) -> float:
    """Area in mm² of ``visible_region``, by the exact sum rather than through the polygon."""
    return seen_area(see(anchor, edges_of(shapely.orient_polygons(polygon))))
