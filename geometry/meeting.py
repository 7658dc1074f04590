"""By how much two neighbouring sectors turn back from each other until their outer ends are one gap apart."""

from __future__ import annotations

import math
from functools import cached_property
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from geometry.pair import HALVINGS, LADDER, PROBES, ROUNDS, STILL, Leg, Pair
from geometry.sectors import Complex, Floats, Ints, Sectors
from geometry.tolerances import GAP_SOLVED


class _Plain(NamedTuple):
    """What ``Pair`` needs of the sectors and of their pieces, as plain numbers."""

    start: list[float]
    stop: list[float]
    width: list[float]
    reach_start: list[float]
    reach_stop: list[float]
    farthest: list[float]
    first: list[int]
    last: list[int]
    moved: list[float]
    piece_angle: list[float]
    pull: list[complex]


class Meetings:
    """How far neighbouring sectors turn back from each other."""

    def __init__(self, sectors: Sectors, gap: float) -> None:
        self.sectors = sectors
        self.gap = gap
        self.width = sectors.stop - sectors.start
        self.pull = gap * sectors.normal
        self.reach_start = np.abs(sectors.piece_from.take(sectors.first))
        self.reach_stop = np.abs(sectors.piece_to.take(sectors.last))
        farthest = np.maximum(np.abs(sectors.piece_from), np.abs(sectors.piece_to))
        self.farthest: Floats = np.maximum.reduceat(farthest, sectors.first)

    def solve(self, left: Ints, right: Ints, clear: Floats) -> tuple[Floats, Floats]:
        """Angles (rad) by which ``left`` turns back at its end and ``right`` at its start.

        ``clear`` is the angle already clear between them. They turn back by equal lengths at their own
        edges, x in all, just so far that the nearer outer end stands one gap from the other leg:
        min(r_left, r_right) s(clear + x) = gap. Divided by the distances, which become linear in the
        directions, that is s(clear + x) - gap max(n_left · d_left, n_right · d_right) = 0. Where no
        such x exists before one of the two is used up, the angles use up that one.
        """
        if len(left) <= _FEW and len(self.sectors.piece_angle) <= _FEW_PIECES:
            return self._few(left, right, clear)
        meeting = _Meeting.of(self, left, right, clear)
        hope = meeting.may_meet()
        if hope.all():
            x = self._angles(meeting)
        else:
            x = meeting.most.copy()
            if hope.any():
                x[hope] = self._angles(meeting.some(hope.nonzero()[0]))
        return meeting.part_left * x, meeting.part_right * x

    def _few(self, left: Ints, right: Ints, clear: Floats) -> tuple[Floats, Floats]:
        pairs = list(map(self._pair, left.tolist(), right.tolist(), clear.tolist()))
        turns = [pair.solve() for pair in pairs]
        return (
            np.array([pair.part_left * x for pair, x in zip(pairs, turns, strict=True)]),
            np.array([pair.part_right * x for pair, x in zip(pairs, turns, strict=True)]),
        )

    def _pair(self, left: int, right: int, clear: float) -> Pair:
        plain = self._plain
        begin, end = plain.first[right], plain.last[left]
        return Pair(
            self.gap,
            Leg(
                plain.stop[left], plain.width[left], plain.reach_stop[left], plain.farthest[left],
                plain.pull[end], plain.first[left], end, plain.moved[left],
            ),
            Leg(
                plain.start[right], plain.width[right], plain.reach_start[right], plain.farthest[right],
                plain.pull[begin], begin, plain.last[right], plain.moved[right],
            ),
            clear, plain.piece_angle, plain.pull,
        )  # fmt: skip

    @cached_property
    def _plain(self) -> _Plain:
        s = self.sectors
        moved = np.zeros(len(s.span)) + s.moved_on(np.arange(len(s.span)))
        return _Plain(
            s.start.tolist(), s.stop.tolist(), self.width.tolist(), self.reach_start.tolist(),
            self.reach_stop.tolist(), self.farthest.tolist(), s.first.tolist(), s.last.tolist(),
            moved.tolist(), s.piece_angle.tolist(), self.pull.tolist(),
        )  # fmt: skip

    def _angles(self, meeting: _Meeting) -> Floats:
        """By how much the two of each pair turn back, together."""
        x = meeting.newton()
        doubtful = np.isnan(x).nonzero()[0]
        for some in np.array_split(doubtful, -(-len(doubtful) // _AT_ONCE)) if len(doubtful) else ():
            x[some] = meeting.some(some).search()
        low, high = meeting.bends_before(x)
        sooner = np.isfinite(high).nonzero()[0]
        if len(sooner):
            x[sooner] = meeting.some(sooner).between(
                low.take(sooner), high.take(sooner), np.isfinite(x[sooner])
            )
        return x


class _Meeting:
    """n pairs of neighbouring sectors, each ``left`` of which meets its ``right``.

    Three directions turn with x at rates of their own: the leg of ``left``, that of ``right``, and, from 0
    on, the angle between them. Multiplied with ``pull`` the unit vectors along them have real parts that
    are the gap over the distance of either outer end, and the sine of the angle between the legs.
    """

    def __init__(self, give: Meetings, numbers: Floats, pull: Complex, places: Ints) -> None:
        self.give = give
        self._numbers, self.pull, self._places = numbers, pull, places
        self.base, self.rate = numbers[:3], numbers[3:6]
        self.nearer: Floats = numbers[6]
        self.most: Floats = numbers[7]
        """(n,) rad, at which one of the two is used up."""
        self.clear: Floats = numbers[2]
        self.part_left, self.part_right = -numbers[3], numbers[4]
        self.wide = bool((self.clear + self.most >= _SQUARE).any())
        # Most sectors are one piece of edge; where there are several, which one depends on x.
        of, from_, to = places.reshape(3, -1)
        self.several = (from_ != to).nonzero()[0]
        if len(self.several):
            self.from_, self.to = from_.take(self.several), to.take(self.several)
            self.moved = give.sectors.moved_on(of.take(self.several))

    @classmethod
    def of(cls, give: Meetings, left: Ints, right: Ints, clear: Floats) -> Self:
        """Of the sectors ``left`` and ``right`` (n,), with the angle between them."""
        s = give.sectors
        r_left, r_right = give.reach_stop.take(left), give.reach_start.take(right)
        part_left = r_right / (r_left + r_right)
        part_right = 1.0 - part_left
        numbers = np.empty((8, len(left)))
        s.stop.take(left, out=numbers[0], mode="clip")
        s.start.take(right, out=numbers[1], mode="clip")
        numbers[2] = clear
        np.negative(part_left, out=numbers[3])
        numbers[4] = part_right
        numbers[5] = 1.0
        np.minimum(r_left, r_right, out=numbers[6])
        np.minimum(give.width.take(left) / part_left, give.width.take(right) / part_right, out=numbers[7])
        last, first = s.last.take(left), s.first.take(right)
        places = np.concatenate([left, right, s.first.take(left), first, last, s.last.take(right)])
        pull = np.empty((3, len(left)), dtype=np.complex128)
        give.pull.take(last, out=pull[0], mode="clip")
        give.pull.take(first, out=pull[1], mode="clip")
        pull[2] = -1j
        return cls(give, numbers, pull, places.reshape(6, -1))

    def some(self, rows: Ints) -> Self:
        """Some of the pairs, (n,); of one pair as often as it is named."""
        return type(self)(
            self.give, self._numbers.take(rows, 1), self.pull.take(rows, 1), self._places.take(rows, 1)
        )

    def may_meet(self) -> NDArray[np.bool_]:
        """(n,) False where the condition is not met at any angle: both legs as long as they get and as far
        apart as they get would not do."""
        widest = self.clear + self.most
        sine = np.where(widest < _SQUARE, np.sin(widest), 1.0)
        longest = np.minimum(*self.give.farthest.take(self._places[:2]))
        may: NDArray[np.bool_] = longest * sine >= self.give.gap * (1 - 1e-9)
        return may

    def _turned(self, x: Floats) -> tuple[Floats, Complex]:
        """(…, 3, n) The three directions at x (…, n) rad, and what ``pull`` makes of the units along them."""
        turned = self.rate * x[..., None, :]
        turned += self.base
        unit = np.empty(turned.shape, dtype=np.complex128)
        np.cos(turned, out=unit.real)
        np.sin(turned, out=unit.imag)
        unit *= self._pulls(turned) if len(self.several) else self.pull
        return turned, unit

    def _pulls(self, turned: Floats) -> Complex:
        flat = (*turned.shape[:-2], -1)
        where = turned.reshape(flat).take(self.several, -1)
        where += self.moved
        piece = self.give.sectors.piece_angle.searchsorted(where, "right")
        piece -= 1
        np.maximum(piece, self.from_, out=piece)
        np.minimum(piece, self.to, out=piece)
        pull = np.empty(turned.shape, dtype=np.complex128)
        pull[...] = self.pull
        pull.reshape(flat)[..., self.several] = self.give.pull.take(piece)
        return pull

    def _value(self, x: Floats) -> Floats:
        """(…, n) at x (…, n) rad the condition's left side: 0 when met, negative when short."""
        turned, unit = self._turned(x)
        legs = unit.real
        sine = legs[..., 2, :]
        if self.wide:
            side = _side(turned[..., 2, :])
            sine = np.where(side == 0, 1.0, side * sine)
        value: Floats = sine - np.maximum(legs[..., 0, :], legs[..., 1, :])
        return value

    def _state(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """At x (n,) rad: the value, its slope, and the gap over the distance of the nearer outer end."""
        turned, unit = self._turned(x)
        out, back, sine = unit.real
        slope = self.rate * unit.imag
        close = np.maximum(out, back)
        along = np.where(out >= back, slope[0], slope[1])
        growth = slope[2]
        if self.wide:
            side = _side(turned[2])
            sine = np.where(side == 0, 1.0, side * sine)
            growth = side * growth
        return sine - close, along - growth, close

    def _met(self, value: Floats, close: Floats) -> NDArray[np.bool_]:
        """Whether the gap is kept to within ``GAP_SOLVED``: value times distance, in mm."""
        met: NDArray[np.bool_] = np.abs(value) * self.give.gap <= GAP_SOLVED * close
        return met

    def newton(self) -> Floats:
        """The least x that meets the condition, (n,) rad, where Newton's method finds it beyond doubt;
        NaN where it does not."""
        gap = self.give.gap
        guess = np.arcsin(np.minimum(1.0, gap / np.maximum(self.nearer, gap))) - self.clear
        x = np.minimum(np.maximum(guess, 0.0), self.most)
        sine = np.sin(self.clear)
        if self.wide:
            sine = np.where(self.clear < _SQUARE, sine, np.where(self.clear > 3 * _SQUARE, -sine, 1.0))
        at_once = sine * self.nearer >= gap
        value, slope, close = self._state(x)
        with np.errstate(divide="ignore", invalid="ignore"):
            for _ in range(ROUNDS):
                met = self._met(value, close)
                better = np.minimum(np.maximum(x - value / slope, 0.0), self.most)
                done = met | at_once | (better == x)
                if done.all():
                    break
                if len(x) > _MANY_PAIRS:
                    rows = (~done).nonzero()[0]
                    x[rows] = better[rows]
                    value[rows], slope[rows], close[rows] = self.some(rows)._state(x[rows])
                else:
                    x = better
                    value, slope, close = self._state(x)
            else:
                met = self._met(value, close)
                better = np.minimum(np.maximum(x - value / slope, 0.0), self.most)
        met &= (slope > 0) & (x < self.most)
        if len(self.several) or (self.wide and (self.clear + x >= _SQUARE).any()):
            # It is the least only if the condition is not met before. Between straight sides it is not: there
            # f = sin(clear + x) - gap cos(a + p x) / h, 0 < p < 1, obeys f'' + p² f < 0, so that f over
            # sin(p x + c) has but one hill (Sturm), and the greatest of two distances the hills' overlap.
            if len(x) > _MANY_PAIRS:
                doubtful = self.clear + x >= _SQUARE
                doubtful[self.several % len(x)] = True
                rows = (met & ~at_once & doubtful).nonzero()[0]
                met[rows] = (self.some(rows)._value(_PROBES * x[rows]) < 0).all(axis=0)
            else:
                met &= (self._value(_PROBES * x) < 0).all(axis=0)
        answer: Floats = np.where(met, better, np.nan)
        answer[at_once] = 0.0
        return answer

    def search(self) -> Floats:
        """The least x that meets the condition, by trying a ladder of angles and then Newton's method kept
        between two of them; ``most`` where there is none."""
        rungs = _LADDER * self.most
        values = self._value(rungs)
        above = values[1:] >= 0
        found: NDArray[np.bool_] = np.logical_or.reduce(above)
        x: Floats = self.most.copy()
        if not found.any():
            return x
        step = above.argmax(axis=0)
        column = np.arange(len(x))
        at = self.between(rungs[step, column], rungs[step + 1, column], found)
        answer: Floats = np.where(found, at, x)
        return answer

    def bends_before(self, x: Floats) -> tuple[Floats, Floats]:
        """The bends of the two edges at which the condition is met for angles less than ``x`` (n,): the first
        of them and the one before it (or 0), (n,) rad each; the first is infinite where there is none.

        Along a ragged edge the distances leap, and most at its bends.
        """
        count = len(x)
        low, high = np.zeros(count), np.full(count, np.inf)
        if not len(self.several):
            return low, high
        pair = self.several % count
        rate = self.rate[:2].reshape(-1).take(self.several)
        base = self.base[:2].reshape(-1).take(self.several) + self.moved
        stop = base + rate * x.take(pair)
        angle = self.give.sectors.piece_angle
        first = angle.searchsorted(np.minimum(base, stop), "right")
        last = angle.searchsorted(np.maximum(base, stop), "left")
        first, last = np.maximum(first, self.from_ + 1), np.minimum(last, self.to + 1)
        size = np.maximum(last - first, 0)
        owner = np.arange(len(size)).repeat(size)
        if not len(owner):
            return low, high
        piece = np.arange(len(owner)) + (first - size.cumsum() + size).take(owner)
        at = (angle.take(piece) - base.take(owner)) / rate.take(owner)
        of = pair.take(owner)
        over = self.some(of)._value(at) >= 0
        np.minimum.at(high, of[over], at[over])
        before = at < high.take(of)
        np.maximum.at(low, of[before], at[before])
        return low, high

    def between(self, low: Floats, high: Floats, active: NDArray[np.bool_]) -> Floats:
        """The x between ``low``, where the condition is not met, and ``high``, where it is, (n,) rad, by
        Newton's method; only for the ``active``."""
        x = high
        value, slope, _ = self._state(high)
        with np.errstate(invalid="ignore", divide="ignore"):
            better = high - value / slope
            for _ in range(HALVINGS):
                at = np.where((better > low) & (better < high), better, 0.5 * (low + high))
                value, slope, close = self._state(at)
                over = value >= 0
                low, high = np.where(over, low, at), np.where(over, at, high)
                better = at - value / slope
                x = np.where(active, np.where((better > low) & (better < high), better, at), x)
                active = active & ~self._met(value, close) & (high - low > STILL)
                if not active.any():
                    break
        return x


def _side(phi: Floats) -> Floats:
    """(…,) how s, the sine of the angle between the legs while that is below 90 degrees, on either side, is
    made of the sine of ``phi``: 1, -1, or 0 where it is 1 whatever the angle."""
    side: Floats = np.where(phi < _SQUARE, 1.0, np.where(phi > 3 * _SQUARE, -1.0, 0.0))
    return side


_SQUARE = math.pi / 2
_MANY_PAIRS = 500
"""Pairs from which on it pays to leave out those that are solved (found by trial)."""
_PROBES = np.array(PROBES)[:, None]
_LADDER = np.array(LADDER)[:, None]
_FEW = 16
_FEW_PIECES = 400
"""Pairs, and pieces of all sectors, up to which plain numbers are quicker than arrays (found by trial)."""
_AT_ONCE = 4096
"""Pairs that climb the ladder together: no more than fit into the processor's cache."""
