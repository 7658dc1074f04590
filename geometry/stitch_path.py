"""The stitch path: one unbroken line through the whole fit (design page, 3.7).

Each wedge in turn: leg out, side, leg back, then its echoes, then the next wedge. The wedges of a fan are
taken round the anchor, clockwise on screen or the other way, from a chosen first wedge.

Into the echoes there are two ways. Closed loops: along the wedge's middle line out to the first echo's
apex, round that echo, on to the next apex, and from the last apex back. A stepped spiral: a return leg stops
level with the next apex (as far from its own apex as that is) and hops to it; the last echo is closed, and
the line runs home along the middle. A return leg gives up a third at most: where the next apex lies further
out, the wedge takes closed loops.

With a hold-back the path never goes nearer to the anchor than the radius of the wedge that it leaves or
comes to. It hops along that radius from leg to leg, and where the two wedges' radii differ, from one to the
other on the way round. Echoes that are cut at the radius are stitched to and fro, each beginning where the
one before has its end; to a whole echo it goes along the radius to the middle line and out. The path begins
and ends with the first and the last leg's inner end, or at the last echo's apex. Where it cannot go round
inside the patch, because the seam or something out of sight lies between two wedges, it takes the shortest
route; it begins after such a place, unless another first wedge is chosen.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple, overload

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.echo import apex_steps, held_radii, is_cut
from geometry.fan import Fan, Wedge
from geometry.inset import ranges
from geometry.route import route_along_seam, shortest_route
from geometry.settings import Settings
from geometry.tolerances import FLATTEN, SAME_POINT
from geometry.types import Point, Points
from geometry.visibility import complex_of, points_of

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

_TURN = 2 * math.pi


class Kind(StrEnum):
    """What a segment of the path is."""

    LEG = "leg"
    SIDE = "side"
    ECHO = "echo"
    HOP = "hop"
    TRAVEL = "travel"


_KINDS = (Kind.LEG, Kind.SIDE, Kind.ECHO, Kind.HOP, Kind.TRAVEL)
_LEG, _SIDE, _ECHO, _HOP, _TRAVEL = range(5)


@dataclass(frozen=True, slots=True, eq=False)
class Segment:
    """One run of the path; it begins where the one before it ended."""

    kind: Kind
    wedge: int | None
    """Number of the wedge (of a hop: the one it leads to or is in), or None for travel."""
    points: Points
    """(n, 2), mm, in stitching order."""

    @property
    def length(self) -> float:
        """mm."""
        step = np.diff(self.points, axis=0)
        return float(np.hypot(step[:, 0], step[:, 1]).sum())


@dataclass(frozen=True, eq=False)
class Segments(Sequence[Segment]):
    """Segments as one polyline and where it is cut; the single ones are made when first asked for."""

    points: Points
    """(n, 2) mm, the whole line in stitching order."""
    cuts: Ints
    """(m + 1,) segment i is ``points[cuts[i] : cuts[i + 1] + 1]``."""
    kinds: Ints
    """(m,) index of each segment's kind in leg, side, echo, hop, travel."""
    wedges: Ints
    """(m,) number of each segment's wedge; 0 for travel."""

    @staticmethod
    def of(segments: Sequence[Segment]) -> Segments:
        """``segments`` that each begin where the one before ends."""
        if isinstance(segments, Segments):
            return segments
        if not segments:
            return _NO_SEGMENTS
        size = np.array([len(segment.points) - 1 for segment in segments])
        first, *others = (segment.points for segment in segments)
        return Segments(
            np.concatenate([first, *(points[1:] for points in others)]),
            np.concatenate([[0], np.cumsum(size)]),
            np.array([_KINDS.index(segment.kind) for segment in segments]),
            np.array([segment.wedge or 0 for segment in segments]),
        )

    @cached_property
    def _all(self) -> tuple[Segment, ...]:
        cuts = self.cuts.tolist()
        return tuple(
            Segment(_KINDS[kind], wedge or None, self.points[begin : end + 1])
            for kind, wedge, begin, end in zip(
                self.kinds.tolist(), self.wedges.tolist(), cuts, cuts[1:], strict=False
            )
        )

    def __len__(self) -> int:
        return len(self.kinds)

    @overload
    def __getitem__(self, which: int) -> Segment: ...

    @overload
    def __getitem__(self, which: slice) -> Sequence[Segment]: ...

    def __getitem__(self, which: int | slice) -> Segment | Sequence[Segment]:
        return self._all[which]

    def __iter__(self) -> Iterator[Segment]:
        return iter(self._all)


_NO_SEGMENTS = Segments(
    np.empty((0, 2)), np.zeros(1, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
)


@dataclass(frozen=True, eq=False)
class StitchPath:
    """The segments in stitching order, and their figures, which are worked out when first asked for."""

    segments: Sequence[Segment] = ()
    sharp: float = math.radians(25)
    """rad. A turn by more is a change of direction, a smaller one is a curve that a hand follows."""

    @cached_property
    def line(self) -> Segments:
        """The whole path as one polyline with its cuts."""
        return Segments.of(self.segments)

    @property
    def points(self) -> Points:
        """(n, 2) mm, the whole path as one polyline."""
        return self.line.points

    @cached_property
    def length(self) -> float:
        """mm, of every segment."""
        return float(np.abs(self._steps).sum())

    @property
    def _steps(self) -> NDArray[np.complex128]:
        """(n - 1,) x + iy, mm."""
        points = complex_of(self.points)
        return points[1:] - points[:-1]

    @cached_property
    def _turns(self) -> Floats:
        step = self._steps
        step = step[np.hypot(step.real, step.imag) > SAME_POINT]
        turns: Floats = np.abs(np.angle(step[:-1].conj() * step[1:]))
        return turns

    @cached_property
    def turning(self) -> float:
        """rad: how far the direction of stitching turns in all, either way counted, there and back too.

        On a sit-down machine the needle's direction stays and the cloth is turned by as much.
        """
        return float(self._turns.sum())

    @cached_property
    def changes(self) -> int:
        """How often the direction changes by more than the corner angle at one place."""
        return int(np.count_nonzero(self._turns > self.sharp))

    @cached_property
    def _leg_ends(self) -> tuple[Points, Points]:
        """The inner and the outer ends of the legs, in stitching order: out and back in turn."""
        line = self.line
        begin, end = line.cuts[:-1], line.cuts[1:]
        leg = line.kinds == _LEG
        one, two = line.points[begin[leg]], line.points[end[leg]]
        inner, outer = one.copy(), two.copy()
        inner[1::2], outer[1::2] = two[1::2], one[1::2]
        return inner, outer

    @cached_property
    def longest_leg(self) -> float:
        """mm; 0 without a leg."""
        inner, outer = self._leg_ends
        step = outer - inner
        return float(np.hypot(step[:, 0], step[:, 1]).max(initial=0.0))

    @cached_property
    def bearings(self) -> tuple[float, ...]:
        """For each leg, in stitching order, the direction in which a ruler lies from its inner to its outer
        end: degrees clockwise from straight up the patch, 0 included, 360 not.

        A wedge's two legs follow each other, the one stitched outward first.
        """
        inner, outer = self._leg_ends
        step = outer - inner
        degrees = np.degrees(np.arctan2(step[:, 0], -step[:, 1])) % 360.0
        return tuple(np.where(degrees >= 360.0, 0.0, degrees).tolist())


def stitch_path(
    fans: tuple[Fan, ...], settings: Settings, patch: Polygon, rooms: Sequence[Polygon] = ()
) -> StitchPath:
    """The path through ``fans``, one after the other.

    From fan to fan it travels inside the first of ``rooms`` that holds both places, else inside ``patch``;
    with ``along_seam`` along the outline of ``patch``. So it does from a chosen ``start``, which outside of
    the patch stands for the seam's nearest point.
    """
    rooms = (*rooms, patch)
    pieces = [
        piece for piece in (_FanPath(fan, settings, rooms).piece() for fan in fans if fan.wedges) if piece
    ]
    if not pieces:
        return StitchPath(_NO_SEGMENTS, _sharp(settings))
    if settings.start is not None:
        start = settings.start
        if shapely.distance(patch, shapely.Point(start)) > SAME_POINT:
            line = shapely.shortest_line(patch, shapely.Point(start))
            x, y = shapely.get_coordinates(line)[0].tolist()
            start = (x, y)
        pieces.insert(0, _Piece.at(start))
    joined = [pieces[0]]
    for piece in pieces[1:]:
        joined += [_travel(joined[-1].points[-1], piece.points[0], settings, rooms), piece]
    return _as_one(joined, settings)


def _sharp(settings: Settings) -> float:
    return math.radians(settings.corner_angle)


class _Piece(NamedTuple):
    """Part of the path. ``ends`` (m,): row of ``points`` where each segment ends."""

    points: Points
    ends: Ints
    kinds: Ints
    wedges: Ints

    @staticmethod
    def at(point: Point) -> _Piece:
        none = np.zeros(0, dtype=np.intp)
        return _Piece(np.array([point]), none, none, none)


def _as_one(pieces: list[_Piece], settings: Settings) -> StitchPath:
    """Pieces that each begin where the one before ends."""
    if len(pieces) == 1:
        only = pieces[0]
        points, ends, kinds, wedges = only.points, only.ends, only.kinds, only.wedges
    else:
        size = np.array([len(piece.points) - 1 for piece in pieces])
        offset = (np.cumsum(size) - size).tolist()
        points = np.concatenate([pieces[0].points, *(piece.points[1:] for piece in pieces[1:])])
        ends = np.concatenate([piece.ends + by for piece, by in zip(pieces, offset, strict=True)])
        kinds = np.concatenate([piece.kinds for piece in pieces])
        wedges = np.concatenate([piece.wedges for piece in pieces])
    points.flags.writeable = False
    return StitchPath(Segments(points, np.concatenate([[0], ends]), kinds, wedges), _sharp(settings))


def _travel(start: Points, end: Points, settings: Settings, rooms: Sequence[Polygon]) -> _Piece:
    one, two = _as_point(start), _as_point(end)
    if (start == end).all():
        return _Piece.at(one)
    if settings.along_seam:
        points = route_along_seam(rooms[-1], one, two)
    else:
        points = shortest_route(_room_of(one, two, rooms), one, two)
    return _Piece(points, np.array([len(points) - 1]), np.array([_TRAVEL]), np.zeros(1, dtype=np.intp))


def _as_point(row: Points) -> Point:
    x, y = row.tolist()
    return x, y


def _room_of(one: Point, two: Point, rooms: Sequence[Polygon]) -> Polygon:
    """The first of ``rooms`` that holds both points, or else the last."""
    ends = shapely.points([one, two])
    for room in rooms[:-1]:
        if (shapely.distance(room, ends) <= SAME_POINT).all():
            return room
    return rooms[-1]


# ---------------------------------------------------------------------------------- the path of one fan


class _FanPath:
    """Works out the path of one fan. A line is a wedge's outline or an echo; there are k of them, in the
    order of stitching, and the rows of all arrays below are lines.
    """

    def __init__(self, fan: Fan, settings: Settings, rooms: Sequence[Polygon]) -> None:
        self.settings, self.rooms = settings, rooms
        self.anchor = np.array(fan.anchor)
        self.forward = 1 if settings.clockwise else -1
        self.wedges = self._in_turn(fan)
        # Per wedge.
        self.radius = held_radii(fan.anchor, self.wedges, settings)
        self.step = apex_steps(self.wedges, settings)
        # Per line.
        lines = [line for wedge in self.wedges for line in (wedge.outline, *wedge.echoes)]
        count = np.array([1 + len(wedge.echoes) for wedge in self.wedges])
        self.owner = np.repeat(np.arange(len(count)), count)
        self.level = ranges(np.zeros_like(count), count)
        self.held = self.radius[self.owner]
        self.reach = self.level * self.step[self.owner]
        """How far from the anchor each line's apex lies, cut away or not."""
        self.cut: Bools = is_cut(self.reach, self.held)
        size = np.array([len(line) for line in lines])
        stop = np.cumsum(size)
        self.points = np.concatenate(lines)
        self.first_end, self.second_end = stop - size, np.where(self.cut, stop - 2, stop - size)
        """Rows of the inner ends of the first and the second leg; the same where the line is not cut."""
        self.first_out, self.second_out = stop - size + 1, np.where(self.cut, stop - 3, stop - 2)
        self.backwards: Bools = np.full(len(lines), self.forward < 0) ^ (self.cut & (self.level % 2 == 1))
        """Whether a line is stitched against the order of its points."""
        self.entry = np.where(self.backwards, self.second_end, self.first_end)
        self.exit = np.where(self.backwards, self.first_end, self.second_end)

    def _in_turn(self, fan: Fan) -> tuple[Wedge, ...]:
        """The wedges in the order of stitching."""
        wedges = fan.wedges[:: self.forward]
        numbers = [wedge.number for wedge in wedges]
        self.free = self.settings.first_wedge not in numbers
        """The first wedge is not chosen."""
        first = numbers.index(min(numbers) if self.free else self.settings.first_wedge)
        wedges = wedges[first:] + wedges[:first]
        if self.settings.least_turning and self.settings.cloth_turned and len(wedges) > 2:
            held = held_radii(fan.anchor, wedges, self.settings)
            if not held.any():
                return tuple(wedges[i] for i in least_turning(*self._headings(wedges)))
        return wedges

    def _headings(self, wedges: tuple[Wedge, ...]) -> tuple[Floats, Floats]:
        """Directions in which the path leaves the anchor for each wedge, and comes back from it."""
        one = np.array([wedge.side[0] for wedge in wedges]) - self.anchor
        two = np.array([wedge.side[-1] for wedge in wedges]) - self.anchor
        first, second = np.arctan2(one[:, 1], one[:, 0]), np.arctan2(two[:, 1], two[:, 0])
        apex = np.array([wedge.apex_angle for wedge in wedges])
        echoed = np.array([bool(wedge.echoes) for wedge in wedges])
        out, back = (first, second) if self.forward > 0 else (second, first)
        return out, np.where(echoed, first + apex / 2, back) + math.pi

    def piece(self) -> _Piece:
        """The whole path of the fan."""
        count = len(self.owner)
        leaves = self.points[self.exit].copy()
        """Where each line is left."""
        steps_across = self._spiral(leaves) if self.settings.spiral else np.zeros(count, dtype=np.bool_)
        before = np.arange(count) - 1  # of the first line: the last, for now
        hops, inside, start = self._hops(leaves, steps_across, before)
        order = np.roll(np.arange(count), -start)
        hops[start] = False
        goes_home = bool(self.level[order[-1]] > 0 and self.held[order[-1]] == 0)
        return self._assembled(order, hops, inside, leaves, goes_home)

    # ------------------------------------------------------------------------------------- the spiral

    def _spiral(self, leaves: Points) -> Bools:
        """(k,) whether a line is reached by a step across; ``leaves`` gets where the line before stops."""
        count = len(self.owner)
        outer = self.points[np.where(self.backwards, self.first_out, self.second_out)] - self.anchor
        middle = self._middle()
        apex = self.reach[:, None] * np.column_stack([np.cos(middle), np.sin(middle)])
        leg = outer - apex
        length = np.hypot(leg[:, 0], leg[:, 1])
        step = self.step[self.owner]
        # Level with the next apex; one leg of the wedge too short for that, and it takes closed loops.
        has_next = np.append(self.owner[1:] == self.owner[:-1], False)
        short = has_next & (step > length / 3)
        spirals = np.bincount(self.owner[short], minlength=len(self.wedges)) == 0
        stop = apex + (step / length)[:, None] * leg
        after = np.roll(apex, -1, axis=0)
        steps = has_next & spirals[self.owner] & ~np.roll(self.cut, -1)
        # Not where the step would come nearer to the anchor than the radius: then along the radius.
        steps &= _from_origin(stop, after) >= self.held - SAME_POINT
        leaves[steps] = stop[steps] + self.anchor
        reached = np.zeros(count, dtype=np.bool_)
        reached[1:] = steps[:-1]
        return reached

    def _middle(self) -> Floats:
        """(k,) direction of each line's middle line."""
        one = np.array([wedge.side[0] for wedge in self.wedges]) - self.anchor
        apex = np.array([wedge.apex_angle for wedge in self.wedges])
        middle: Floats = (np.arctan2(one[:, 1], one[:, 0]) + apex / 2)[self.owner]
        return middle

    # --------------------------------------------------------------------------------------- the hops

    def _hops(
        self, leaves: Points, steps_across: Bools, before: Ints
    ) -> tuple[Bools, tuple[Points, Ints], int]:
        """For each line whether a hop leads to it, the points of the hops between their ends (all of them,
        and how many each has), and with which line to begin.
        """
        count = len(self.owner)
        none: tuple[Points, Ints] = (np.empty((0, 2)), np.zeros(count, dtype=np.intp))
        if not self.radius.any():
            # A wedge follows the one before at the anchor, unless that had echoes.
            return (self.level > 0) | (self.level[before] > 0), none, 0
        enters = self.points[self.entry]
        middle = self._middle()
        inner = self.level > 0
        # Out to a whole echo the middle line is taken, and so it is back from one to the next wedge.
        from_apex = ~self.cut[before] & (self.level[before] > 0)
        to_apex = inner & ~self.cut
        straight = inner & (from_apex | steps_across | (self.held == 0))
        radius = np.column_stack([self.held[before], self.held])
        ends = np.stack([leaves[before], enters], axis=1) - self.anchor
        angle = np.arctan2(ends[..., 1], ends[..., 0])
        angle[from_apex, 0] = middle[before][from_apex]
        angle[to_apex, 1] = middle[to_apex]
        # At the anchor there is no direction: go straight.
        at_anchor = radius == 0
        angle[:, 0] = np.where(at_anchor[:, 0], angle[:, 1], angle[:, 0])
        angle[:, 1] = np.where(at_anchor[:, 1], angle[:, 0], angle[:, 1])
        turn = (angle[:, 1] - angle[:, 0]) % _TURN
        to_next = ~inner
        if self.forward < 0:
            turn = np.where(to_next, turn - _TURN, turn)
        turn = np.where(to_next, np.where(np.abs(turn) > _TURN - _NO_TURN, 0.0, turn), _shorter(turn))
        widest = np.maximum(radius.max(axis=1), SAME_POINT)
        # A chord as long as this strays from its arc by FLATTEN (sagitta r (1 - cos half the angle)).
        chord = 2 * np.arccos(1 - np.minimum(FLATTEN / widest, 1.0))
        steps = np.maximum(np.ceil(np.abs(turn) / chord - _NO_TURN), 1).astype(np.intp)
        steps[at_anchor.any(axis=1)] = 1
        hops = ~(at_anchor.all(axis=1) & ~from_apex & to_next)
        apart = ends[:, 1] - ends[:, 0]
        hops &= np.hypot(apart[:, 0], apart[:, 1]) > SAME_POINT
        # The hop's own ends are left and entered already, but for the ends on the middle line.
        low = np.where(from_apex & ~straight, 0, 1)
        high = np.where(to_apex & ~straight, steps, steps - 1)
        number = np.where(straight | ~hops, 0, high - low + 1)
        owner = np.repeat(np.arange(count), number)
        share = ranges(low, number) / steps[owner]
        r = radius[owner, 0] + share * (radius[owner, 1] - radius[owner, 0])
        at = angle[owner, 0] + share * turn[owner]
        points = self.anchor + r[:, None] * np.column_stack([np.cos(at), np.sin(at)])
        points, number, start = self._kept_inside(points, number, leaves[before], enters, to_next & hops)
        return hops, (points, number), start

    def _kept_inside(
        self, points: Points, number: Ints, leaves: Points, enters: Points, between: Bools
    ) -> tuple[Points, Ints, int]:
        """Replace hops ``between`` wedges that leave the patch; begin after one, if the user has no wish."""
        patch = self.rooms[-1]
        edge = shapely.boundary(patch)
        anchor = shapely.Point(self.anchor)
        if shapely.distance(edge, anchor) >= self.radius.max():
            return points, number, 0
        rows = np.flatnonzero(between)
        stop = np.cumsum(number)
        pieces = np.split(points, stop[:-1])
        lines = []
        for row in rows.tolist():
            line = np.concatenate([leaves[row : row + 1], pieces[row], enters[row : row + 1]])
            # What lies on the seam is inside; so the ends, which may, do not come into it.
            line[0] += _LITTLE * (line[1] - line[0])
            line[-1] += _LITTLE * (line[-2] - line[-1])
            lines.append(shapely.linestrings(line))
        blocked = rows[~shapely.covers(patch, np.array(lines))]
        start = 0
        if self.free and len(blocked):
            # After the widest of them; the wedge itself is the first after it.
            span = np.hypot(*(enters[blocked] - leaves[blocked]).T)
            start = int(blocked[span.argmax()])
        for row in blocked.tolist():
            if row == start:
                continue
            one, two = _as_point(leaves[row]), _as_point(enters[row])
            pieces[row] = shortest_route(_room_of(one, two, self.rooms), one, two)[1:-1]
        if len(blocked):
            number = np.array([len(piece) for piece in pieces])
            points = np.concatenate(pieces)
        return points, number, start

    # -------------------------------------------------------------------------------------- assembling

    def _assembled(
        self, order: Ints, hops: Bools, inside: tuple[Points, Ints], leaves: Points, goes_home: bool
    ) -> _Piece:
        """One line of all the lines in ``order``."""
        count = len(order)
        hop_points, hop_count = inside
        pool = np.concatenate([self.points, leaves, hop_points])
        # Each line gives four runs of rows of the pool: hop, inner end, legs' outer ends and side, inner end.
        begin = np.empty((count, 4), dtype=np.intp)
        size = np.empty((count, 4), dtype=np.intp)
        begin[:, 0] = len(self.points) + count + np.cumsum(hop_count) - hop_count
        size[:, 0] = np.where(hops, hop_count, 0)
        begin[:, 1] = self.entry
        size[:, 1] = hops
        size[order[0], 1] = 1
        begin[:, 2] = np.where(self.backwards, self.second_out, self.first_out)
        size[:, 2] = self.second_out - self.first_out + 1
        begin[:, 3] = len(self.points) + np.arange(count)
        size[:, 3] = 1
        begin, size = begin[order], size[order]
        backwards = np.zeros((count, 4), dtype=np.bool_)
        backwards[:, 2] = self.backwards[order]
        runs, run_size = begin.ravel(), size.ravel()
        place = ranges(np.zeros_like(run_size), run_size)
        rows = np.repeat(runs, run_size) + np.where(np.repeat(backwards.ravel(), run_size), -place, place)
        points = points_of(complex_of(pool).take(rows))
        # Where in the line each segment ends.
        inner = np.cumsum(size.sum(axis=1)) - size[:, 2] - 2
        out, side_end, end = inner + 1, inner + size[:, 2], inner + size[:, 2] + 1
        wedge_line = self.level[order] == 0
        ends = np.column_stack([inner, np.where(wedge_line, out, end), side_end, end])
        kinds = np.where(wedge_line[:, None], [_HOP, _LEG, _SIDE, _LEG], [_HOP, _ECHO, _SIDE, _LEG])
        used = np.column_stack([hops[order], np.ones(count, dtype=np.bool_), wedge_line, wedge_line])
        numbers = np.array([wedge.number for wedge in self.wedges])[self.owner[order]]
        wedges = np.broadcast_to(numbers[:, None], (count, 4))
        ends, kinds, wedges = ends[used], kinds[used], wedges[used]
        if goes_home:
            points = np.concatenate([points, self.anchor[None]])
            ends = np.append(ends, len(points) - 1)
            kinds, wedges = np.append(kinds, _HOP), np.append(wedges, wedges[-1])
        return _Piece(points, ends, kinds.astype(np.intp), wedges.astype(np.intp))


_NO_TURN = 1e-9
"""rad, or steps: less is rounding."""
_LITTLE = 1e-4
"""Share of a hop's first and last piece that is not looked at for leaving the patch."""


def _shorter(turn: Floats) -> Floats:
    """The same turns by half a turn at most."""
    shorter: Floats = turn - _TURN * np.round(turn / _TURN)
    return shorter


def _from_origin(one: Points, two: Points) -> Floats:
    """(n,) distance of the origin from segments."""
    along = two - one
    squared = np.maximum((along * along).sum(axis=1), SAME_POINT**2)
    share = np.clip(-(one * along).sum(axis=1) / squared, 0.0, 1.0)
    foot = one + share[:, None] * along
    distance: Floats = np.hypot(foot[:, 0], foot[:, 1])
    return distance


# ------------------------------------------------------------------------------------- the least turning


def least_turning(out: Floats, back: Floats) -> list[int]:
    """The order of n wedges with the least turning at the anchor, the first of them first.

    ``out`` (n,) rad: headings in which each is begun at the anchor; ``back`` (n,) rad: headings in which it
    comes home. Looked at are the orders that a hand can keep up without a list: always so many wedges on
    (every step from one to n - 1), and where that comes back to a wedge already stitched, one wedge further
    or one less; of these the best, and of equally good ones the first, round in turn before all others.
    """
    count = len(out)
    turn = np.abs(_shorter(out[None, :] - back[:, None]))
    place = np.arange(count)
    step = np.arange(1, count)
    lap = count // np.gcd(step, count)
    orders = np.concatenate(
        [
            (place % lap[:, None] * step[:, None] + aside * (place // lap[:, None])) % count
            for aside in (1, -1)
        ]
    )
    total = turn[orders[:, :-1], orders[:, 1:]].sum(axis=1)
    best = np.flatnonzero(total <= total.min() + _NO_TURN)[0]
    return [int(i) for i in orders[best]]
