"""Giving way of the sectors of many anchors at once: the answers of ``geometry.giving_way``, by bounds.

How far two neighbours turn back lies between what would do if their edges were everywhere as far from the
anchor as they get, and what would do if they were as near as they come. That tells of nearly every sector
whether it is used up; it is solved where it does not, and where the exact angle is asked for.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from geometry.meeting import Meetings
from geometry.sectors import Floats, Ints, Sectors
from geometry.tolerances import NO_ANGLE

_TURN = 2 * math.pi
_SQUARE = math.pi / 2
_ROUNDING = 1e-12
"""As a part of an angle or a sine: more than rounding makes of either."""

_AT_ONCE = 4096
"""Pairs bounded together: no more than fit into the processor's cache."""


class GivingWay:
    """What becomes of k sectors of anchors that each see all round.

    Bounds are (2, k) rad: by how much each sector turns back at its start, and at its stop.
    """

    def __init__(self, sectors: Sectors, gap: float) -> None:
        self._sectors = sectors
        self._nearest = _nearest(sectors)
        give = self._give = Meetings(sectors, gap)
        size = len(give.width)
        self.width, self.farthest = give.width, give.farthest
        self.least, self.most = np.zeros((2, size)), np.zeros((2, size))
        self.alive: NDArray[np.bool_] = (give.farthest >= gap) & (give.width > NO_ANGLE)
        """(k,) Which sectors are left."""
        left = self.alive.nonzero()[0]
        right = left[sectors.following(left)]
        self._beside = np.full((2, size), -1)
        self._beside[1, left], self._beside[0, right] = right, left
        self._size = np.round(give.width / NO_ANGLE)
        self._spent, self._doubtful = np.zeros((2, size), dtype=np.bool_)
        while len(left):
            for i in range(0, len(left), _AT_ONCE):
                self._bound(left[i : i + _AT_ONCE], right[i : i + _AT_ONCE])
            out = self._narrowest()
            self.alive[out] = self._spent[out] = False
            left, right = self._beside.take(out, 1)
            self._beside[1, left], self._beside[0, right] = right, left
            others = self.alive.take(left)  # or it was the last of its anchor
            left, right = left[others], right[others]

    def solve(self, which: Ints) -> None:
        """Make the turns of the sectors ``which`` (n,) known."""
        left, right = self._unknown(which)
        if len(left):
            stop, start = self._give.solve(left, right, self._clear(left, right))
            self._turn(left, right, (stop, stop), (start, start))

    def across(self, which: Ints) -> tuple[Floats, Floats]:
        """(n,) mm each: bounds of how wide across the wedges of the sectors ``which`` (n,) are."""
        near, far, width = (of.take(which) for of in (self._nearest, self.farthest, self.width))
        narrow, wide = (width - turn.take(which, 1).sum(axis=0) for turn in (self.most, self.least))
        low: Floats = near * np.sin(np.clip(narrow, 0.0, _SQUARE)) * (1.0 - _ROUNDING)
        high: Floats = far * np.sin(np.minimum(wide, _SQUARE)) * (1.0 + _ROUNDING)
        return low, high

    def _unknown(self, which: Ints) -> tuple[Ints, Ints]:
        """The pairs at both ends of the sectors ``which`` (n,) whose turns are not known, each once."""
        left = np.concatenate([which, self._beside[0].take(which)])
        left = np.unique(left[self.least[1].take(left) < self.most[1].take(left)])
        return left, self._beside[1].take(left)

    def _clear(self, left: Ints, right: Ints) -> Floats:
        clear: Floats = self._sectors.start.take(right) - self._sectors.stop.take(left)
        clear[right <= left] += _TURN
        return np.maximum(clear, 0.0, out=clear)

    def _bound(self, left: Ints, right: Ints) -> None:
        """Between which angles lies what ``Meetings.solve`` answers."""
        give, clear = self._give, self._clear(left, right)
        reach_left, reach_right = give.reach_stop.take(left), give.reach_start.take(right)
        part_left = reach_right / (reach_left + reach_right)
        part_right = 1.0 - part_left
        used_up = np.minimum(give.width.take(left) / part_left, give.width.take(right) / part_right)
        longest = np.minimum(self.farthest.take(left), self.farthest.take(right))
        shortest = np.minimum(self._nearest.take(left), self._nearest.take(right))
        # At less than the first angle the nearer outer end is less than a gap from the other leg, however far
        # away it may be; at the second it is a gap from it, however near.
        sine = give.gap / longest
        sine *= 1.0 - _ROUNDING
        least = np.arcsin(np.minimum(sine, 1.0, out=sine)) - clear
        sine = give.gap / shortest
        sine *= 1.0 + _ROUNDING
        most = np.arcsin(np.minimum(sine, 1.0)) - clear
        most[(sine > 1.0) | (clear > 3 * _SQUARE)] = np.inf
        for angle in (least, most):
            np.minimum(np.maximum(angle, 0.0, out=angle), used_up, out=angle)
        alone = (left == right) & (clear >= _SQUARE)  # its two legs do not face each other
        if alone.any():
            least[alone] = most[alone] = 0.0
        stop, start = (part_left * least, part_left * most), (part_right * least, part_right * most)
        self._turn(left, right, stop, start)

    def _turn(
        self, left: Ints, right: Ints, stop: tuple[Floats, Floats], start: tuple[Floats, Floats]
    ) -> None:
        """Set the bounds of how far each ``left`` turns back at its stop, and each ``right`` at its start."""
        for bound, at_stop, at_start in zip((self.least, self.most), stop, start, strict=True):
            bound[1, left], bound[0, right] = at_stop, at_start
        for which in (left, right):
            width = self.width.take(which)
            over = width - self.most[0].take(which) - self.most[1].take(which) <= NO_ANGLE
            sure = width - self.least[0].take(which) - self.least[1].take(which) <= NO_ANGLE
            self._spent[which] = over
            self._doubtful[which] = over & ~sure

    def _narrowest(self) -> Ints:
        """The spent sectors that are narrower than any spent neighbour; what is in doubt is solved first."""
        out = self._spent.nonzero()[0]
        for beside in self._beside:
            other = beside.take(out)
            out = out[~self._wider(out, other) | self._doubtful.take(other) | ~self._spent.take(other)]
        others = [beside.take(out) for beside in self._beside]
        doubts = [other[self._doubtful.take(other) & self._wider(out, other)] for other in others]
        doubt = np.concatenate([out[self._doubtful.take(out)], *doubts])
        if len(doubt):
            self.solve(doubt)
            out = out[self._spent.take(out)]
            for beside in self._beside:
                other = beside.take(out)
                out = out[~(self._wider(out, other) & self._spent.take(other))]
        return out

    def _wider(self, one: Ints, other: Ints) -> NDArray[np.bool_]:
        """(n,) whether each of the sectors ``one`` (n,) is wider than its ``other`` (n,); of equal ones the
        second is."""
        size, other_size = self._size.take(one), self._size.take(other)
        wider: NDArray[np.bool_] = (size > other_size) | ((size == other_size) & (one > other))
        return wider


def _nearest(sectors: Sectors) -> Floats:
    """(k,) mm, how near the edge of each sector comes to its anchor."""
    # The imaginary parts are the tangents of the angles from a piece's normal to its ends.
    one, two = sectors.piece_from * sectors.normal, sectors.piece_to * sectors.normal
    aside = np.maximum(np.maximum(one.imag, -two.imag), 0.0)
    near = np.hypot(aside, 1.0) / np.abs(sectors.normal)
    near *= 1.0 - _ROUNDING
    least: Floats = np.minimum.reduceat(near, sectors.first)
    return least
