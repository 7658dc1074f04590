"""Outlines moved inward, mitred and exact, many at once, each by a distance of its own.

While an outline moves inward each of its edges stays on a line of its own; an edge whose two corners have
passed each other is gone, and its neighbours meet instead. So at any distance the outline is found by
leaving out the edges that run backwards, again and again, for all outlines together. What of the side lies
behind a leg, often many edges, goes all at once.

That is right wherever edges only shrink away (the edge events of the straight skeleton: Aichholzer and
others, 1995). Dents may also meet opposite edges, and an outline falls into parts. So an outline that may
cross itself, or where an edge left out might still take something away, is checked against the definition,
and where it fails what that says is taken away is cut out of its area, which is slow and certain.

Points and vectors are complex numbers here, x + iy: of two of them, conj(a) b holds the dot product as its
real and the cross product as its imaginary part.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.stitchable import overlay_grid
from geometry.tolerances import SAME_POINT
from geometry.types import Points
from geometry.visibility import complex_of

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

_LEAST_TURN = 1e-9
"""Sine of the turn below which two lines count as parallel, and their meeting point as unknown."""
_LONG_MITRE = 1.001
"""Mitre, over the distance, from which a dent is sharp: a turn of 5 degrees."""
_LEAST_MITRE = 1e-12
"""Least divisor of a mitre: two edges that face each other meet a long way out, not at infinity."""


def ranges(start: Ints, size: Ints) -> Ints:
    """start[0], start[0] + 1, … (size[0] of them), start[1], …"""
    if not len(size):
        return np.empty(0, dtype=np.intp)
    stop = np.cumsum(size)
    return np.arange(int(stop[-1])) + np.repeat(start - stop + size, size)


class Outlines:
    """Outlines that are to be moved inward; what does not depend on how far is worked out once.

    ``outlines`` (n, 2) mm: open rings one after the other, ``size`` (r,) points each, 3 or more, simple, the
    inside on the numerical left; each begins at its apex, and its first and its last edge are the legs.
    Coordinates should be relative to something near.

    Each edge has the number of the point where it begins.
    """

    def __init__(self, outlines: Points, size: Ints) -> None:
        points = self.points = complex_of(outlines)
        self.begin: Ints = np.cumsum(size) - size
        self.size = size
        following = _following(size)
        step = points.take(following) - points
        length = np.abs(step)
        self.moving: Ints | None = None
        """(m,) the edges that move, ``moving_size`` (r,) of each ring; None where all do."""
        self.moving_size, self.moving_begin = size, self.begin
        short = length <= SAME_POINT
        if not short.any():
            self.along: Complex = step / length
            previous = np.empty_like(following)
            previous[following] = np.arange(len(following))
            self.velocity: Complex = _mitre(self.along.take(previous), self.along)
            """(n,) of the corner where an edge begins."""
            self.length: Floats = length
            self.shrinking: Floats = _dot(self.along, self.velocity - self.velocity.take(following))
            """(n,) by how much an edge gets shorter, over the distance."""
            return
        self.along = step / np.where(short, 1.0, length)
        legs = np.zeros(len(points), dtype=np.bool_)
        legs[self.begin] = legs[self.begin + size - 1] = True
        sides = np.add.reduceat(~short & ~legs, self.begin, dtype=np.intp)
        dead = (sides == 0) | np.logical_or.reduceat(short & legs, self.begin)
        keep = (~short | legs) & ~np.repeat(dead, size)
        self.moving = keep.nonzero()[0]
        self.moving_size = np.add.reduceat(keep, self.begin, dtype=np.intp)
        self.moving_begin = np.cumsum(self.moving_size) - self.moving_size
        following = self.moving.take(_following(self.moving_size[~dead]))
        along = self.along.take(self.moving)
        self.velocity, self.length, self.shrinking = np.zeros_like(step), length, np.zeros_like(length)
        self.velocity[following] = _mitre(along, self.along.take(following))
        self.length[self.moving] = _dot(along, points.take(following) - points.take(self.moving))
        apart = self.velocity.take(self.moving) - self.velocity.take(following)
        self.shrinking[self.moving] = _dot(along, apart)


def _following(size: Ints) -> Ints:
    """(n,) of points in rings, ``size`` (r,) each, the numbers of those that follow them."""
    stop = np.cumsum(size)
    following = np.arange(1, int(stop[-1]) + 1 if len(stop) else 1)
    following[stop - 1] = stop - size
    return following


class Insets:
    """Outlines moved inward: number i is ``outlines``' ring ``of[i]`` moved by ``distance[i]`` mm.

    Where an outline falls into parts, its inset is the part at the apex. It has ended, and has no inset,
    where a leg is used up. The others are in ``which``, ``start``, ``stop`` and ``points``. Those in
    ``doubtful``, ended or not, are not known yet: ``settle`` tells.
    """

    which: Ints
    """(k,) numbers of the insets, growing."""
    start: Ints
    stop: Ints
    """(k,) the inset ``which[i]`` is ``points[start[i]:stop[i]]``."""
    points: Points
    """(m, 2) mm, open rings that begin at the apex."""
    doubtful: Bools
    """(r,) by number."""

    def __init__(self, outlines: Outlines, of: Ints, distance: Floats) -> None:
        self._outlines, self._of, self._distance = outlines, of, distance
        size = outlines.moving_size.take(of)
        edge = ranges(outlines.moving_begin.take(of), size)
        self._edge: Ints = edge if outlines.moving is None else outlines.moving.take(edge)
        """(m,) the edge that goes from each point of the rings."""
        self._lay_out(np.arange(len(of)), size)
        far = np.repeat(distance.take(self.which), self._size)
        self._at: Complex = outlines.velocity.take(self._edge)
        self._at *= far
        self._at += outlines.points.take(self._edge)
        self.doubtful = np.zeros(len(of), dtype=np.bool_)
        far *= outlines.shrinking.take(self._edge)
        # The lengths are negative where an edge runs backwards.
        self._close_up(outlines.length.take(self._edge) - far)
        self._trim_at_legs()
        self._drop_ended()
        self.points = _pairs(self._at)
        # Where an outline had edges left out before it ended, a part of it may be left all the same.
        self.doubtful[self.which] = ~(self._goes_round() & self._met_well())

    def settle(self, number: int) -> Points | None:
        """The true inset of a doubtful outline; None where it has ended."""
        ring = int(np.searchsorted(self.which, number))
        edges = None
        if ring < len(self.which) and self.which[ring] == number:
            rows = slice(int(self.start[ring]), int(self.stop[ring]))
            edges = self._edge[rows] - self._outlines.begin[self._of[number]]
            if self._is_true(rows, edges, number):
                return self.points[rows]
        inset = cut_out(self._outline(number), float(self._distance[number]), edges)
        return None if inset is None else _pairs(inset)

    # ------------------------------------------------------------------------------------ bookkeeping

    def _lay_out(self, which: Ints, size: Ints) -> None:
        """``size`` points for each ring; those without any are no more."""
        left = size > 0
        self.which, self._size = which[left], size[left]
        self.stop: Ints = np.cumsum(self._size)
        self.start: Ints = self.stop - self._size

    def _keep(self, keep: Bools) -> None:
        """Leave out the points that are not in ``keep``."""
        kept = keep.nonzero()[0]
        self._at, self._edge = self._at.take(kept), self._edge.take(kept)
        self._lay_out(self.which, np.add.reduceat(keep, self.start, dtype=np.intp))

    def _outline(self, number: int) -> Complex:
        of = int(self._of[number])
        begin = int(self._outlines.begin[of])
        return self._outlines.points[begin : begin + int(self._outlines.size[of])]

    def _along(self, place: Ints) -> Complex:
        """(k,) directions of the edges that go from the points ``place``."""
        return self._outlines.along.take(self._edge.take(place))

    # ------------------------------------------------------------------------------------ moving inward

    def _close_up(self, length: Floats) -> None:
        """Leave out edges between bends of the side that run backwards, until none does."""
        gone = length <= SAME_POINT
        bend = np.ones(len(gone), dtype=np.bool_)
        bend[self.start] = bend[self.start + 1] = bend[self.stop - 1] = False
        gone[:-1] &= bend[:-1] & bend[1:]
        gone[-1:] = False
        out = gone.nonzero()[0]
        if not len(out):
            return
        self.doubtful[self.which.take(np.searchsorted(self.stop, out, side="right"))] = True
        # Edges are taken out of a chain; only those beside what was taken out can run backwards then.
        at, rows, left = self._at, np.arange(len(gone)), np.ones(len(gone), dtype=np.bool_)
        following, before, place = rows + 1, rows - 1, np.empty_like(rows)
        while len(out):
            left[out] = False
            # For each run of them, the edge before it and the one after it meet.
            begin = out[~gone.take(before.take(out))]
            beyond = following.take(out)
            again = gone.take(beyond)
            while again.any():
                following[out] = np.where(again, following.take(beyond), beyond)
                beyond = following.take(out)
                again = gone.take(beyond)
            one, two = before.take(begin), following.take(begin)
            along_one, along_two, here = self._along(one), self._along(two), at.take(begin)
            apart = at.take(two) - here
            turn = _cross(along_one, along_two)
            meets = np.abs(turn) > _LEAST_TURN
            reach = _cross(apart, along_two) / np.where(meets, turn, 1.0)
            at[two] = here + np.where(meets, reach * along_one, apart / 2)
            following[one], before[two] = two, one
            gone[out] = False
            beside, along = np.concatenate([one, two]), np.concatenate([along_one, along_two])
            beyond = following.take(beside)
            backwards = _dot(along, at.take(beyond) - at.take(beside)) <= SAME_POINT
            out = beside[backwards & bend.take(beside) & bend.take(beyond)]
            gone[out] = True
            # What stands between two that were taken out is among them twice.
            count = np.arange(len(out))
            place[out] = count
            out = out[place.take(out) == count]
        self._keep(left)

    def _trim_at_legs(self) -> None:
        """Take out what of each side lies behind a leg, and let the leg meet the rest.

        Behind: from the side's end up to its first bend in front of the leg. Bends that lie behind
        further along are a part that falls off, and the ring crosses itself there.
        """
        at, start, last = self._at, self.start, self.stop - 1
        apex, along = at.take(start), (self._along(start), self._along(last))
        in_front = [
            _cross(leg, at.take(bend) - apex) > SAME_POINT
            for leg, bend in zip(
                along, (np.minimum(start + 2, last), np.maximum(last - 1, start)), strict=True
            )
        ]
        rings = ((self._size > 3) & ~(in_front[0] & in_front[1])).nonzero()[0]
        if not len(rings):
            return
        size, start, last, apex = self._size[rings], start[rings], last[rings], apex[rings]
        rows, of, begin = ranges(start, size), np.repeat(np.arange(len(rings)), size), np.cumsum(size) - size
        first_row, last_row = start[of], last[of]
        from_apex = at[rows] - apex[of]
        bend = (rows >= first_row + 2) & (rows < last_row)
        before, behind = (bend & (_cross(leg[rings][of], from_apex) > SAME_POINT) for leg in along)
        first = np.minimum(np.minimum.reduceat(np.where(before, rows, len(at)), begin), last) - 1
        second = np.maximum(np.maximum.reduceat(np.where(behind, rows, -1), begin), start + 1)
        ended = first > second
        for cut, leg, edge, corner in (
            ((first > start + 1) & ~ended, start, first, first),
            ((second < last - 1) & ~ended, last, second, last),
        ):
            along_leg, along_edge = self._along(leg[cut]), self._along(edge[cut])
            turn = _cross(along_leg, along_edge)
            turn = np.where(np.abs(turn) > _LEAST_TURN, turn, _LEAST_TURN)
            reach = _cross(at[edge[cut]] - apex[cut], along_edge) / turn
            at[corner[cut]] = apex[cut] + reach * along_leg
        keep = np.ones(len(at), dtype=np.bool_)
        middle = (rows >= first[of]) & (rows <= second[of])
        keep[rows] = (middle | (rows == first_row) | (rows == last_row)) & ~ended[of]
        self._keep(keep)

    def _drop_ended(self) -> None:
        """Drop rings with a leg or a whole side used up."""
        at, start, last = self._at, self.start, self.stop - 1

        def length(edge: Ints, end: Ints) -> Floats:
            return _dot(self._along(edge), at.take(end) - at.take(edge))

        used = np.minimum(length(start, start + 1), length(last, start)) <= SAME_POINT
        used |= (self._size == 3) & (length(start + 1, start + 2) <= SAME_POINT)
        if used.any():
            self._keep(np.repeat(~used, self._size))

    # ---------------------------------------------------------------------------------------- checking

    def _goes_round(self) -> Bools:
        """(r,) whether the whole side, seen from the ring's own apex, goes round one way."""
        at = self._at
        if not len(at):
            return np.zeros(0, dtype=np.bool_)
        seen = at - np.repeat(at.take(self.start), self._size)
        one_way = np.empty(len(at), dtype=np.bool_)
        np.greater(_cross(seen[:-1], seen[1:]), 0, out=one_way[:-1])
        one_way[self.start] = one_way[self.stop - 1] = True
        answer: Bools = np.logical_and.reduceat(one_way, self.start)
        return answer

    def _met_well(self) -> Bools:
        """(r,) whether, at each corner of a ring where edges were left out, their strips (see ``_is_true``)
        do not reach in between the two edges that meet there, and each of these two is a piece of the far
        edge of its own strip.

        A strip stays out where it lies behind one of the two, or they both before its own far edge. An edge
        elsewhere that reaches in makes the ring cross itself, as where none is left out.
        """
        answer = np.ones(len(self.which), dtype=np.bool_)
        jump = np.zeros(len(self._edge), dtype=np.bool_)
        np.not_equal(self._edge[1:] - self._edge[:-1], 1, out=jump[1:])
        jump[self.start] = False
        corner = jump.nonzero()[0]
        if not len(corner):
            return answer
        points, alongs = self._outlines.points, self._outlines.along
        ring = np.searchsorted(self.stop, corner, side="right")
        distance = self._distance.take(self.which.take(ring))
        first, last = self._edge.take(corner - 1), self._edge.take(corner)
        # The edges left out of all these corners, one after the other, each with those beside it.
        count = last - first - 1
        edge = ranges(first + 1, count)
        far = np.repeat(distance, count)
        along, begins, ends = alongs.take(edge), points.take(edge), points.take(edge + 1)
        before, behind = alongs.take(edge - 1), alongs.take(edge + 1)
        low, high = begins + far * _reach(before, along, along), ends + far * _reach(along, behind, along)
        one, two = alongs.take(first), alongs.take(last)
        at, start = self._at.take(corner), np.cumsum(count) - count
        here, ones, twos = np.repeat(at, count), np.repeat(one, count), np.repeat(two, count)
        hidden = _cross(along, here - begins) >= far - SAME_POINT
        hidden &= (_cross(ones, along) >= 0) & (_cross(along, twos) >= 0)
        for line in (ones, twos):
            depth = [_cross(line, point - here) for point in (begins, ends, low, high)]
            hidden |= np.maximum.reduce(depth) <= SAME_POINT
        stop = points.take(first + 1) + distance * _reach(one, alongs.take(first + 1), one)
        go = points.take(last) + distance * _reach(alongs.take(last - 1), two, two)
        well = np.logical_and.reduceat(hidden, start) & (_cross(one, two) > _LEAST_TURN)
        well &= (_dot(one, at - stop) <= SAME_POINT) & (_dot(two, at - go) >= -SAME_POINT)
        # A sharp dent's strips are drawn out so far that they may reach in somewhere else.
        sharp = np.maximum(np.abs(low - begins), np.abs(high - ends)) > far * _LONG_MITRE
        well &= ~np.logical_or.reduceat(sharp, start)
        answer[ring[~well]] = False
        return answer

    def _is_true(self, rows: slice, source: Ints, number: int) -> bool:
        """Whether a ring, its edges on ``source``'s own lines, is the outline's inset by definition.

        What an inset takes away is, of each edge, the strip as wide as ``distance`` along it, drawn out at
        dents to where it meets its neighbour's. A ring is right where it does not cross itself, each of
        its edges is a piece of the far edge of its own strip, and no strip reaches into it.
        """
        place, distance = self._at[rows], float(self._distance[number])
        area = shapely.polygons(_pairs(place))
        if not shapely.is_valid(area):
            return False
        outline = self._outline(number)
        along, mitre, dent = _offsets(outline)
        length = _dot(along, np.roll(outline, -1) - outline)
        low = np.where(dent, _dot(along, mitre) * distance, 0.0)
        high = length + np.where(np.roll(dent, -1), _dot(along, np.roll(mitre, -1)) * distance, 0.0)
        off = _cross(along[source], place - outline[source])
        if (np.abs(off - distance) > SAME_POINT).any():
            return False
        first = _dot(along[source], place - outline[source])
        second = _dot(along[source], np.roll(place, -1) - outline[source])
        if (first < low[source] - SAME_POINT).any() or (second > high[source] + SAME_POINT).any():
            return False
        edge = shapely.linearrings(_pairs(place))
        shapely.prepare(edge)
        if shapely.dwithin(edge, shapely.linearrings(_pairs(outline)), distance - SAME_POINT):
            return False
        # Within the distance from an edge nothing of the ring lies; where strips are drawn out it might, but
        # not between a dent and its own place on the ring.
        drawn = dent | np.roll(dent, -1)
        whole = (first <= low[source] + SAME_POINT) & (second >= high[source] - SAME_POINT)
        drawn[source[whole]] = False
        dent[source[source == np.roll(source, 1) + 1]] = False
        if drawn.any() or dent.any():
            far = outline + 1j * distance * along
            strips = np.stack([far + low * along, far + high * along], axis=1)[drawn]
            tips = np.stack([outline, outline + distance * mitre], axis=1)[dent]
            inside = shapely.buffer(area, -SAME_POINT, join_style="mitre")
            shapely.prepare(inside)
            reaching = shapely.linestrings(_pairs(np.concatenate([strips, tips])))
            if shapely.intersects(inside, shapely.multilinestrings(reaching)):
                return False
        # Their edges keep out; then it lies wholly in a strip, or wholly outside.
        some = complex_of(shapely.get_coordinates(shapely.point_on_surface(area))) - outline
        across, share = _dot(along, some), _cross(along, some) / distance
        within = (share > 0) & (share < 1) & (across > share * low)
        return not (within & (across < length + share * (high - length))).any()


def _dot(one: Complex, two: Complex) -> Floats:
    return one.real * two.real + one.imag * two.imag


def _cross(one: Complex, two: Complex) -> Floats:
    return one.real * two.imag - one.imag * two.real


def _pairs(points: Complex) -> Points:
    """(…, 2) of (…,)."""
    return np.ascontiguousarray(points).view(np.float64).reshape(*points.shape, 2)


def _mitre(one: Complex, two: Complex) -> Complex:
    """Velocity of the corner where an edge along ``one`` meets the next along ``two``."""
    velocity: Complex = 1j * (one + two) / np.maximum(1.0 + _dot(one, two), _LEAST_MITRE)
    return velocity


def _reach(one: Complex, two: Complex, along: Complex) -> Complex:
    """Velocity of the far corner of an edge's strip, where edges ``one`` and ``two`` meet and ``along`` is
    the direction of the edge: the corner's own at a dent, straight across elsewhere."""
    velocity: Complex = np.where(_cross(one, two) < 0, _mitre(one, two), 1j * along)
    return velocity


def _offsets(outline: Complex) -> tuple[Complex, Complex, Bools]:
    """Of an open ring (n,): directions of the edges, mitres and which corners are dents. (n,) each."""
    step = np.roll(outline, -1) - outline
    along = step / np.maximum(np.abs(step), _LEAST_MITRE)
    before = np.roll(along, 1)
    return along, _mitre(before, along), _cross(before, along) < 0


def cut_out(outline: Complex, distance: float, edges: Ints | None = None) -> Complex | None:
    """The inset of one outline (n,), open, from the apex on, by definition: what its strips (``_is_true``)
    leave of the outline, as areas. None where it has ended.

    ``edges`` (k,), any of them, are cut away first: of the others then only those that reach in are.
    """
    sound = np.abs(np.roll(outline, -1) - outline) > SAME_POINT
    outline = outline[sound]
    if len(outline) < 3:
        return None
    along, mitre, dent = _offsets(outline)
    far = 1j * distance * along
    low = outline + np.where(dent, distance * mitre, far)
    following = np.roll(outline, -1)
    high = following + np.where(np.roll(dent, -1), distance * np.roll(mitre, -1), far)
    strips = shapely.polygons(_pairs(np.stack([outline, following, high, low], axis=1)))
    apex = outline[0] + distance * mitre[0]
    left = shapely.polygons(_pairs(outline))
    taken = np.ones(len(outline), dtype=np.bool_)
    if edges is not None:
        taken[:] = False
        taken[(np.cumsum(sound) - 1).take(edges)] = True
    # Where edges nearly coincide GEOS may answer with the whole; on a grid it does not.
    for grid in (None, None, overlay_grid(left)):
        parts = shapely.get_parts(shapely.difference(left, shapely.union_all(strips[taken]), grid_size=grid))
        near = shapely.dwithin(parts, shapely.points(apex.real, apex.imag), SAME_POINT)
        if not near.any():
            return None
        left = parts[near][0]
        inside = shapely.buffer(left, -SAME_POINT, join_style="mitre")
        shapely.prepare(inside)
        taken = shapely.intersects(inside, strips)
        if not taken.any():
            break
    ring = complex_of(shapely.get_coordinates(shapely.orient_polygons(left).exterior)[:-1])
    ring = np.roll(ring, -int(np.abs(ring - apex).argmin()))
    step = np.roll(ring, -1) - ring
    back = np.roll(step, 1)
    ring = ring[np.abs(_cross(back, step)) > _LEAST_TURN * np.abs(back * step)]
    off = np.abs(_cross(np.array([along[0], along[-1]]), np.array([ring[1], ring[-1]]) - apex))
    return ring if abs(ring[0] - apex) <= SAME_POINT and (off <= SAME_POINT).all() else None
