"""Giving way: neighbouring sectors turn back from each other, and those that are used up go, the narrowest
first, until all that are left are one gap apart (design page, 3.5)."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from geometry.meeting import Meetings
from geometry.sectors import Floats, Ints, Sectors
from geometry.tolerances import NO_ANGLE

_TURN = 2 * math.pi
_SQUARE = math.pi / 2


def turned_back(sectors: Sectors, gap: float) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Angles given up at the start and at the end of each sector, and which sectors are left."""
    k = len(sectors.span)
    give = Meetings(sectors, gap)
    alive = give.farthest >= gap
    alive &= give.width > NO_ANGLE
    turn_start, turn_stop = np.zeros(k), np.zeros(k)
    interruptions = np.zeros(k + 1, dtype=np.intp)
    (~sectors.borders).cumsum(out=interruptions[1:])
    met = np.full(k, -1, dtype=np.intp)  # the sector that each was last turned back from

    def turned(left: Ints, right: Ints) -> tuple[Floats, Floats]:
        """By how much each ``left`` turns back at its stop and ``right``, which follows it, at its start."""
        wraps = right <= left
        # Sight is interrupted between the two when it is at any border from the left one on to the right one.
        breaks = interruptions.take(right) - interruptions.take(left)
        clear = sectors.start.take(right) - sectors.stop.take(left)
        breaks[wraps] += interruptions[k]
        clear[wraps] += _TURN
        np.maximum(clear, 0.0, out=clear)
        # A wedge alone meets only itself, and only where its two legs face each other.
        meets = (breaks == 0) & ((left != right) | (clear < _SQUARE))
        if meets.all():
            return give.solve(left, right, clear) if len(left) else (clear, clear)
        stop, start = np.zeros(len(left)), np.zeros(len(left))
        if meets.any():
            stop[meets], start[meets] = give.solve(left[meets], right[meets], clear[meets])
        return stop, start

    wait = pause = 0
    while True:
        index = alive.nonzero()[0]
        if not len(index):
            break
        after = sectors.following(index)
        following = index.take(after)
        changed = (met.take(index) != following).nonzero()[0]
        left, right = index.take(changed), following.take(changed)
        met[left] = right
        turn_stop[left], turn_start[right] = turned(left, right)
        spent = alive & (give.width - turn_start - turn_stop <= NO_ANGLE)
        if not spent.any():
            break
        rank = _ranks(spent, index, give.width)
        out = _narrowest(spent[index], rank, after)
        wait -= 1
        few = np.count_nonzero(out)
        if wait < 0 and few * _MANY < np.count_nonzero(spent):
            row = _Row(spent[index], rank, after, out)
            tried = row.every_other()
            stop, start = turned(index[row.before[tried]], following[after[row.before[tried]]])
            width = give.width[index]
            left_over = np.stack([width - turn_stop[index], width - turn_start[index]])
            left_over[0, after[tried]] -= start
            left_over[1, row.before[tried]] -= stop
            out = row.sure(tried, left_over > NO_ANGLE)
            if np.count_nonzero(out) < few * _MANY:
                wait = pause = 2 * pause + 1
        alive[index[out]] = False
    return turn_start, turn_stop, alive


def _ranks(spent: NDArray[np.bool_], index: Ints, width: Floats) -> Ints:
    """(n,) of the sectors ``index``, the place of each by width: the spent ones first, of equal ones the
    first."""
    size = np.where(spent[index], width[index], np.inf)
    order = np.round(size / NO_ANGLE).argsort(kind="stable")
    rank = np.empty(len(index), dtype=np.intp)
    rank[order] = np.arange(len(index))
    return rank


def _narrowest(spent: NDArray[np.bool_], rank: Ints, after: Ints) -> NDArray[np.bool_]:
    """(n,) those spent sectors that are narrower than any spent neighbour.

    Taking a sector out changes only its two neighbours, so that sectors which are not neighbours can
    go in one round as well as in many.
    """
    least = rank <= rank[after]
    least[after] &= rank[after] <= rank
    return spent & least


_MANY = 8
"""Where so many times as many sectors are spent as can go in a round, it may be worth looking further ahead;
where it turns out not to be, it is tried more and more rarely."""


class _Row:
    """n sectors in a ring, and rows of spent ones among them that grow wider from one to the next.

    The first of a row goes, which may save the second; then the third is narrower than any spent neighbour
    and goes, and so on through thousands of equal teeth. All arrays are (n,).
    """

    def __init__(
        self, spent: NDArray[np.bool_], rank: Ints, after: Ints, narrowest: NDArray[np.bool_]
    ) -> None:
        here = np.arange(len(after))
        before = np.empty_like(after)
        before[after] = here
        self.before, self._narrowest = before, narrowest
        self._wider = (  # than the spent neighbour before it, and after it
            spent & spent[before] & (rank[before] < rank),
            spent & spent[after] & (rank[after] < rank),
        )
        # Where each row began, forwards and backwards; a row ends where the ring is closed.
        forwards = self._wider[0] & (before == here - 1)
        backwards = self._wider[1] & (after == here + 1)
        last = len(here) - 1
        self._first = (
            np.maximum.accumulate(np.where(forwards, 0, here)),
            last - np.maximum.accumulate(np.where(backwards[::-1], 0, here))[::-1],
        )
        self._here = here

    def every_other(self) -> NDArray[np.bool_]:
        """Those that go if each that goes saves its neighbours."""
        return self._going((True, True))

    def _going(self, follows: tuple[NDArray[np.bool_] | bool, NDArray[np.bool_] | bool]) -> NDArray[np.bool_]:
        going = np.ones(len(self._here), dtype=np.bool_)
        for wider, first, holds in zip(self._wider, self._first, follows, strict=True):
            even = (np.abs(self._here - first) % 2 == 0) & (self._here != first)
            going &= ~wider | (even & self._narrowest[first] & holds)
        return going & (self._narrowest | self._wider[0] | self._wider[1])

    def sure(self, tried: NDArray[np.bool_], saved: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Those of ``tried`` before which in their row each that was to be saved is: ``saved`` (2, n), once
        the neighbour before it is gone, and once the one after it is."""
        broken = [(~tried & ~of).cumsum() for of in saved]
        forwards = broken[0][self._here - 1] == broken[0][self._first[0]]
        backwards = broken[1][self._here] == broken[1][self._first[1] - 1]
        return tried & self._going((forwards, backwards))
