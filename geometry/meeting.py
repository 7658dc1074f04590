"""By how much two neighbouring sectors turn back from each other until their outer ends are one gap apart."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from geometry.sectors import Complex, Floats, Ints, Sectors
from geometry.tolerances import GAP_SOLVED


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
        meeting = _Meeting(self, left, right, clear)
        if len(left) > _MANY_PAIRS:
            hope = meeting.may_meet()
            if not hope.all():
                x = meeting.most.copy()
                if hope.any():
                    x[hope] = self._angles(meeting.some(hope.nonzero()[0]))
                return meeting.part_left * x, meeting.part_right * x
        x = self._angles(meeting)
        return meeting.part_left * x, meeting.part_right * x

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

    def __init__(self, give: Meetings, left: Ints, right: Ints, clear: Floats) -> None:
        s = self.sectors = give.sectors
        self.give = give
        self.left, self.right = left, right
        count = len(left)
        r_left, r_right = give.reach_stop.take(left), give.reach_start.take(right)
        self.nearer = np.minimum(r_left, r_right)
        self.part_left = r_right / (r_left + r_right)
        self.part_right = 1.0 - self.part_left
        self.most = np.minimum(
            give.width.take(left) / self.part_left, give.width.take(right) / self.part_right
        )
        self.clear = clear
        self.base = np.concatenate([s.stop.take(left), s.start.take(right), clear]).reshape(3, count)
        self.rate = np.concatenate([-self.part_left, self.part_right, np.ones(count)]).reshape(3, count)
        last, first = s.last.take(left), s.first.take(right)
        self.pull = np.empty((3, count), dtype=np.complex128)
        give.pull.take(last, out=self.pull[0], mode="clip")
        give.pull.take(first, out=self.pull[1], mode="clip")
        self.pull[2] = -1j
        # Most sectors are one piece of edge; where there are several, which one depends on x.
        of = np.concatenate([left, right])
        from_, to = s.first.take(of), s.last.take(of)
        self.several = (from_ != to).nonzero()[0]
        if len(self.several):
            self.of_several = of.take(self.several)
            self.from_, self.to = from_.take(self.several), to.take(self.several)
        self.wide = bool((clear + self.most >= _SQUARE).any())

    def some(self, rows: Ints) -> _Meeting:
        """Some of the pairs."""
        return _Meeting(self.give, self.left.take(rows), self.right.take(rows), self.clear.take(rows))

    def may_meet(self) -> NDArray[np.bool_]:
        """(n,) False where the condition is not met at any angle: both legs as long as they get and as far
        apart as they get would not do."""
        widest = self.clear + self.most
        sine = np.where(widest < _SQUARE, np.sin(widest), 1.0)
        longest = np.minimum(self.give.farthest.take(self.left), self.give.farthest.take(self.right))
        may: NDArray[np.bool_] = longest * sine >= self.give.gap * (1 - 1e-9)
        return may

    def _state(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """At x (…, n) rad: the condition's left side (0 when met, negative when short), its slope, and
        the gap over the distance of the nearer outer end."""
        turned = self.base + self.rate * x[..., None, :]
        unit = np.empty(turned.shape, dtype=np.complex128)
        np.cos(turned, out=unit.real)
        np.sin(turned, out=unit.imag)
        unit *= self._pulls(turned)
        value, slope = unit.real, -self.rate * unit.imag
        out, back, sine = value[..., 0, :], value[..., 1, :], value[..., 2, :]
        close = np.maximum(out, back)
        along = np.where(out >= back, slope[..., 0, :], slope[..., 1, :])
        growth = slope[..., 2, :]
        if self.wide:
            # s is the sine of the angle between the legs while that is below 90 degrees, on either side.
            phi = turned[..., 2, :]
            side = np.where(phi < _SQUARE, 1.0, np.where(phi > 3 * _SQUARE, -1.0, 0.0))
            sine = np.where(side == 0, 1.0, side * sine)
            growth = side * growth
        return sine - close, growth - along, close

    def _pulls(self, turned: Floats) -> Complex:
        if not len(self.several):
            return self.pull
        flat = (*turned.shape[:-2], -1)
        where = turned.reshape(flat)[..., self.several] + self.sectors.moved_on(self.of_several)
        piece = np.searchsorted(self.sectors.piece_angle, where, side="right") - 1
        piece = np.minimum(np.maximum(piece, self.from_), self.to)
        pull = np.empty(turned.shape, dtype=np.complex128)
        pull[...] = self.pull
        pull.reshape(flat)[..., self.several] = self.give.pull[piece]
        return pull

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
            for _ in range(8):
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
                met[rows] = (self.some(rows)._state(_PROBES * x[rows])[0] < 0).all(axis=0)
            else:
                met &= (self._state(_PROBES * x)[0] < 0).all(axis=0)
        answer: Floats = np.where(met, better, np.nan)
        answer[at_once] = 0.0
        return answer

    def search(self) -> Floats:
        """The least x that meets the condition, by trying a ladder of angles and then Newton's method kept
        between two of them; ``most`` where there is none."""
        rungs = _LADDER * self.most
        values = self._state(rungs)[0]
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
        base, rate = (of[:2].reshape(-1).take(self.several) for of in (self.base, self.rate))
        moved = np.broadcast_to(self.sectors.moved_on(self.of_several), base.shape)
        stop = base + rate * x.take(pair)
        angle = self.sectors.piece_angle
        first = np.searchsorted(angle, np.minimum(base, stop) + moved, side="right")
        last = np.searchsorted(angle, np.maximum(base, stop) + moved, side="left")
        first, last = np.maximum(first, self.from_ + 1), np.minimum(last, self.to + 1)
        size = np.maximum(last - first, 0)
        owner = np.arange(len(size)).repeat(size)
        if not len(owner):
            return low, high
        piece = np.arange(len(owner)) + (first - size.cumsum() + size).take(owner)
        at = (angle.take(piece) - (moved + base).take(owner)) / rate.take(owner)
        of = pair.take(owner)
        there = _Meeting(self.give, self.left.take(of), self.right.take(of), self.clear.take(of))
        over = there._state(at)[0] >= 0
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
            for _ in range(100):
                at = np.where((better > low) & (better < high), better, 0.5 * (low + high))
                value, slope, close = self._state(at)
                over = value >= 0
                low, high = np.where(over, low, at), np.where(over, at, high)
                better = at - value / slope
                x = np.where(active, np.where((better > low) & (better < high), better, at), x)
                active = active & ~self._met(value, close) & (high - low > _STILL)
                if not active.any():
                    break
        return x


_SQUARE = math.pi / 2
_MANY_PAIRS = 500
"""Pairs from which on it pays to leave out those that are solved (found by trial)."""
_STILL = 1e-14
"""rad. An angle that moves by less has come to rest in float64."""
_PROBES = np.array([[0.3], [0.6], [0.9]])
_LADDER = np.array(
    [0, 0.002, 0.005, 0.01, 0.02, 0.04, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0]
)[:, None]
"""Shares of all the angle there is at which the gap is tried before it is solved exactly."""
_AT_ONCE = 4096
"""Pairs that climb the ladder together: no more than fit into the processor's cache."""
