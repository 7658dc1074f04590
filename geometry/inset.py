"""Outlines moved inward, mitred and exact, many at once, each by a distance of its own.

While an outline moves inward each of its edges stays on a line of its own; an edge whose two corners have
passed each other is gone, and its neighbours meet instead. So at any distance the outline is found by
leaving out the edges that run backwards, again and again, for all outlines together. What of the side lies
behind a leg, often many edges, goes all at once.

That is right wherever edges only shrink away (the edge events of the straight skeleton: Aichholzer and
others, 1995). Dents may also meet opposite edges, and an outline falls into parts. So an outline that may
cross itself, or where an edge left out might still take something away, is checked against the definition,
and where it fails it is computed afresh from its edges' own offsets and how often they go round what they
enclose, which is slow and certain.

Points and vectors are complex numbers here, x + iy: of two of them, conj(a) b holds the dot product as its
real and the cross product as its imaginary part.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

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


class Insets:
    """Outlines moved inward, each by its own distance.

    ``outlines`` (n, 2) mm: open rings one after the other, ``size`` (r,) points each, 3 or more, simple, the
    inside on the numerical left; each begins at its apex, and its first and its last edge are the legs.
    ``distance`` (r,) mm. Coordinates should be relative to something near.

    Where an outline falls into parts, its inset is the part at the apex. It has ended, and has no inset,
    where a leg is used up. The others are in ``which``, ``start``, ``stop`` and ``points``. Those in
    ``doubtful``, ended or not, are not known yet: ``settle`` tells.
    """

    which: Ints
    """(k,) numbers of the outlines, growing."""
    start: Ints
    stop: Ints
    """(k,) the inset of outline ``which[i]`` is ``points[start[i]:stop[i]]``."""
    points: Points
    """(m, 2) mm, open rings that begin at the apex."""
    doubtful: Bools
    """(r,) by number."""

    def __init__(self, outlines: Points, size: Ints, distance: Floats) -> None:
        points = complex_of(outlines)
        self._outlines, self._begin, self._count = points, np.cumsum(size) - size, size
        self._distance = distance
        self.which = np.arange(len(size))
        self._lay_out(size)
        step = points[self._next] - points
        length = np.abs(step)
        short = length <= SAME_POINT
        self._along: Complex = step / np.where(short, 1.0, length)
        self._along_all = self._along
        self._source: Ints = self._place.copy()
        """The edge of its own outline that an edge comes from."""
        self._at = points
        if short.any():
            legs = self._legs
            sides = np.add.reduceat(~short & ~legs, self.start, dtype=np.intp)
            dead = (sides == 0) | np.logical_or.reduceat(short & legs, self.start)
            self._keep((~short | legs) & ~dead[self._ring])
        far = distance[self.which][self._ring]
        self._at = self._at + far * _mitre(self._along[self._previous], self._along)
        self.doubtful = np.zeros(len(size), dtype=np.bool_)
        self._close_up()
        self._trim_at_legs()
        self._drop_ended()
        self.points = _pairs(self._at)
        # Where an outline had edges left out before it ended, a part of it may be left all the same.
        self.doubtful[self.which] = ~(self._goes_round() & self._met_well())

    def settle(self, number: int) -> Points | None:
        """The true inset of a doubtful outline; None where it has ended."""
        ring = int(np.searchsorted(self.which, number))
        if ring < len(self.which) and self.which[ring] == number and self._is_true(ring, number):
            return self.points[self.start[ring] : self.stop[ring]]
        inset = afresh(self._outline(number), float(self._distance[number]))
        return None if inset is None else _pairs(inset)

    # ------------------------------------------------------------------------------------ bookkeeping

    def _lay_out(self, size: Ints) -> None:
        self._size = size
        self.stop: Ints = np.cumsum(size)
        self.start: Ints = self.stop - size
        total = int(self.stop[-1]) if len(size) else 0
        rows = self._rows = np.arange(total)
        self._ring: Ints = np.repeat(np.arange(len(size)), size)
        self._place: Ints = rows - self.start[self._ring]
        self._next: Ints = rows + 1
        self._next[self.stop - 1] = self.start
        self._previous: Ints = rows - 1
        self._previous[self.start] = self.stop - 1
        from_end = self.stop[self._ring] - rows
        self._legs: Bools = (self._place == 0) | (from_end == 1)
        """Edges that are legs."""
        self._bend: Bools = (self._place >= 2) & (from_end >= 2)
        """Corners between two edges of the side."""

    def _keep(self, keep: Bools) -> None:
        """Leave out the corners that are not in ``keep``, and the rings without any."""
        size = np.add.reduceat(keep, self.start, dtype=np.intp) if len(keep) else self._size
        self.which = self.which[size > 0]
        self._at, self._along, self._source = self._at[keep], self._along[keep], self._source[keep]
        self._lay_out(size[size > 0])

    def _outline(self, number: int) -> Complex:
        begin = int(self._begin[number])
        return self._outlines[begin : begin + int(self._count[number])]

    # ------------------------------------------------------------------------------------ moving inward

    def _lengths(self) -> Floats:
        """Of each edge; negative where it runs backwards."""
        return _dot(self._along, self._at[self._next] - self._at)

    def _close_up(self) -> None:
        """Leave out edges between bends of the side that run backwards, until none does."""
        gone = (self._lengths() <= SAME_POINT) & self._bend & self._bend[self._next]
        out = np.flatnonzero(gone)
        if not len(out):
            return
        # Edges are taken out of a chain; only those beside what was taken out can run backwards then.
        left = np.ones(len(gone), dtype=np.bool_)
        following, before, place = self._next.copy(), self._previous.copy(), self._rows.copy()
        while len(out):
            left[out] = False
            self.doubtful[self.which[self._ring[out]]] = True
            # For each run of them, the edge before it and the one after it meet.
            begin = out[~gone[before[out]]]
            while gone[following[out]].any():
                beyond = following[out]
                following[out] = np.where(gone[beyond], following[beyond], beyond)
            one, two = before[begin], following[begin]
            along_one, along_two = self._along[one], self._along[two]
            apart = self._at[two] - self._at[begin]
            turn = _cross(along_one, along_two)
            meets = np.abs(turn) > _LEAST_TURN
            reach = _cross(apart, along_two) / np.where(meets, turn, 1.0)
            self._at[two] = self._at[begin] + np.where(meets, reach * along_one, apart / 2)
            following[one], before[two] = two, one
            gone[out] = False
            beside = np.concatenate([one, two])
            beyond = following[beside]
            length = _dot(self._along[beside], self._at[beyond] - self._at[beside])
            out = beside[(length <= SAME_POINT) & self._bend[beside] & self._bend[beyond]]
            gone[out] = True
            # What stands between two that were taken out is among them twice.
            place[out] = np.arange(len(out))
            out = out[place[out] == np.arange(len(out))]
        self._keep(left)

    def _trim_at_legs(self) -> None:
        """Take out what of each side lies behind a leg, and let the leg meet the rest.

        Behind: from the side's end up to its first bend in front of the leg. Bends that lie behind
        further along are a part that falls off, and the ring crosses itself there.
        """
        if not self._bend.any():
            return
        at = self._at
        ring, start, last = self._ring, self.start, self.stop - 1
        apex = at[start]
        from_apex = at - apex[ring]
        before = self._bend & (_cross(self._along[start][ring], from_apex) > SAME_POINT)
        behind = self._bend & (_cross(self._along[last][ring], from_apex) > SAME_POINT)
        first = np.minimum(np.minimum.reduceat(np.where(before, self._rows, len(at)), start), last) - 1
        second = np.maximum(np.maximum.reduceat(np.where(behind, self._rows, -1), start), start + 1)
        cut_first, cut_second = first > start + 1, second < last - 1
        if not (cut_first.any() or cut_second.any()):
            return
        ended = first > second
        for cut, leg, edge, corner in (
            (cut_first & ~ended, start, first, first),
            (cut_second & ~ended, last, second, last),
        ):
            along_leg, along_edge = self._along[leg[cut]], self._along[edge[cut]]
            turn = _cross(along_leg, along_edge)
            turn = np.where(np.abs(turn) > _LEAST_TURN, turn, _LEAST_TURN)
            reach = _cross(at[edge[cut]] - apex[cut], along_edge) / turn
            at[corner[cut]] = apex[cut] + reach * along_leg
        keep = self._legs | ((self._rows >= first[ring]) & (self._rows <= second[ring]))
        self._keep(keep & ~ended[ring])

    def _drop_ended(self) -> None:
        """Drop rings with a leg or a whole side used up."""
        length = self._lengths()
        used = np.minimum(length[self.start], length[self.stop - 1]) <= SAME_POINT
        used |= (self._size == 3) & (length[self.start + 1] <= SAME_POINT)
        if used.any():
            self._keep(~used[self._ring])

    # ---------------------------------------------------------------------------------------- checking

    def _goes_round(self) -> Bools:
        """(r,) whether the whole side, seen from the ring's own apex, goes round one way."""
        at = self._at
        if not len(at):
            return np.zeros(0, dtype=np.bool_)
        seen = at - at[self.start][self._ring]
        one_way = (_cross(seen, seen[self._next]) > 0) | self._legs
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
        corner = np.flatnonzero((self._source - self._source[self._previous] != 1) & (self._place > 0))
        if not len(corner):
            return answer
        number = self.which[self._ring[corner]]
        begin = self._begin[number]
        first, last = self._source[self._previous[corner]] + begin, self._source[corner] + begin
        # The edges left out of all these corners, one after the other, each with those beside it.
        count = last - first - 1
        edge = ranges(first + 1, count)
        far = np.repeat(self._distance[number], count)
        along, begins, ends = self._along_all[edge], self._outlines[edge], self._outlines[edge + 1]
        before, behind = self._along_all[edge - 1], self._along_all[edge + 1]
        low, high = begins + far * _reach(before, along, along), ends + far * _reach(along, behind, along)
        one, two = self._along_all[first], self._along_all[last]
        at, start, distance = self._at[corner], np.cumsum(count) - count, self._distance[number]
        here, ones, twos = np.repeat(at, count), np.repeat(one, count), np.repeat(two, count)
        hidden = _cross(along, here - begins) >= far - SAME_POINT
        hidden &= (_cross(ones, along) >= 0) & (_cross(along, twos) >= 0)
        for line in (ones, twos):
            depth = [_cross(line, point - here) for point in (begins, ends, low, high)]
            hidden |= np.maximum.reduce(depth) <= SAME_POINT
        stop = self._outlines[first + 1] + distance * _reach(one, self._along_all[first + 1], one)
        go = self._outlines[last] + distance * _reach(self._along_all[last - 1], two, two)
        well = np.logical_and.reduceat(hidden, start) & (_cross(one, two) > _LEAST_TURN)
        well &= (_dot(one, at - stop) <= SAME_POINT) & (_dot(two, at - go) >= -SAME_POINT)
        # A sharp dent's strips are drawn out so far that they may reach in somewhere else.
        sharp = np.maximum(np.abs(low - begins), np.abs(high - ends)) > far * _LONG_MITRE
        well &= ~np.logical_or.reduceat(sharp, start)
        answer[self._ring[corner[~well]]] = False
        return answer

    def _is_true(self, ring: int, number: int) -> bool:
        """Whether a ring is the outline's inset by definition.

        What an inset takes away is, of each edge, the strip as wide as ``distance`` along it, drawn out at
        dents to where it meets its neighbour's. A ring is right where it does not cross itself, each of
        its edges is a piece of the far edge of its own strip, and no strip reaches into it.
        """
        rows = slice(int(self.start[ring]), int(self.stop[ring]))
        place, distance = self._at[rows], float(self._distance[number])
        area = shapely.polygons(_pairs(place))
        if not shapely.is_valid(area):
            return False
        outline = self._outline(number)
        along, mitre, dent = _offsets(outline)
        length = _dot(along, np.roll(outline, -1) - outline)
        low = np.where(dent, _dot(along, mitre) * distance, 0.0)
        high = length + np.where(np.roll(dent, -1), _dot(along, np.roll(mitre, -1)) * distance, 0.0)
        source = self._source[rows]
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


def afresh(outline: Complex, distance: float) -> Complex | None:
    """The inset of one outline (n,), open, from the apex on; None where it has ended.

    The offset of every edge, joined by the mitre at a dent and by way of the corner itself elsewhere,
    goes round exactly what is left once (Chen and McMains, 2005).
    """
    outline = outline[np.abs(np.roll(outline, -1) - outline) > SAME_POINT]
    if len(outline) < 3:
        return None
    along, mitre, dent = _offsets(outline)
    corner = outline[:, None] + 1j * distance * np.stack(
        [np.roll(along, 1), np.zeros_like(along), along], axis=1
    )
    corner[dent, 0] = (outline + distance * mitre)[dent]
    used = np.ones((len(outline), 3), dtype=np.bool_)
    used[dent, 1:] = False
    line = corner[used]
    line = np.append(line, line[0])
    faces = shapely.get_parts(shapely.polygonize([shapely.node(shapely.linestrings(_pairs(line)))]))
    inside = complex_of(shapely.get_coordinates(shapely.point_on_surface(faces)))
    parts = shapely.get_parts(shapely.union_all(faces[_times_round(inside, line) > 0]))
    apex = outline[0] + distance * mitre[0]
    for part in shapely.orient_polygons(parts).tolist():
        ring = complex_of(shapely.get_coordinates(part.exterior)[:-1])
        away = np.abs(ring - apex)
        nearest = int(away.argmin())
        if away[nearest] > SAME_POINT:
            continue
        ring = np.roll(ring, -nearest)
        step = np.roll(ring, -1) - ring
        back = np.roll(step, 1)
        ring = ring[np.abs(_cross(back, step)) > _LEAST_TURN * np.abs(back * step)]
        legs = np.array([along[0], along[-1]])
        off = np.abs(_cross(legs, np.array([ring[1], ring[-1]]) - apex))
        if (off <= SAME_POINT).all():
            return ring
    return None


def _times_round(at: Complex, line: Complex) -> Ints:
    """(k,) how often the closed ``line`` (n + 1,) goes round each of ``at`` (k,).

    Counted where the line crosses the level of a point to its right (Sunday 2001, winding number; from
    memory). Each piece of the line meets only the points between the levels of its ends.
    """
    order = np.argsort(at.imag)
    levels = at.imag[order]
    rank = np.searchsorted(levels, line.imag)
    low, high = np.minimum(rank[:-1], rank[1:]), np.maximum(rank[:-1], rank[1:])
    piece = np.repeat(np.arange(len(low)), high - low)
    point = order[ranges(low, high - low)]
    begin, step = line[:-1][piece], (line[1:] - line[:-1])[piece]
    up = rank[1:] > rank[:-1]
    passed = _cross(step, at[point] - begin)  # on the left of a piece that goes up, it lies to the right
    way = np.where(up[piece], 1, -1)
    counts: Ints = np.zeros(len(at), dtype=np.intp)
    np.add.at(counts, point, np.where(way * passed > 0, way, 0))
    return counts
