"""One pair of neighbouring sectors that turn back from each other, in plain numbers.

The same condition and the same steps as ``geometry.meeting`` takes for many pairs at once: for the few pairs
of one anchor, which is all there is while it is dragged, plain numbers are several times as quick as arrays.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from math import cos, sin
from typing import NamedTuple

from geometry.tolerances import GAP_SOLVED

_SQUARE = math.pi / 2
LADDER = (
    0.0, 0.002, 0.005, 0.01, 0.02, 0.04, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0,
)  # fmt: skip
"""Shares of all the angle there is at which the gap is tried before it is solved exactly."""
PROBES = (0.3, 0.6, 0.9)
"""Shares of an angle found at which the gap must not be kept yet."""
STILL = 1e-14
"""rad. An angle that moves by less has come to rest in float64."""
ROUNDS = 8
"""Steps of Newton's method after which the ladder is tried."""
HALVINGS = 100


class Leg(NamedTuple):
    """The leg of one of the two, at the end where they meet."""

    angle: float
    """rad, its direction before it turns."""
    width: float
    """rad, of its sector."""
    reach: float
    """mm, to its outer end."""
    farthest: float
    """mm, to the farthest end of the sector's pieces."""
    pull: complex
    """The gap times the normal of its piece of edge, as in ``geometry.sectors``."""
    first: int
    last: int
    """The sector's first and last piece."""
    moved: float
    """rad, to be added before its direction is looked up among those of the pieces."""


class Pair:
    """``left`` turns back at its end, and ``right``, which follows it, at its start."""

    __slots__ = (
        "angles",
        "clear",
        "gap",
        "left",
        "most",
        "part_left",
        "part_right",
        "pulls",
        "right",
        "straight",
    )

    def __init__(
        self, gap: float, left: Leg, right: Leg, clear: float, angles: list[float], pulls: list[complex]
    ) -> None:
        """``clear`` rad is the angle clear between them; ``angles`` and ``pulls`` are of all pieces."""
        self.gap, self.left, self.right, self.clear = gap, left, right, clear
        self.angles, self.pulls = angles, pulls
        self.straight = left.first == left.last and right.first == right.last
        self.part_left = right.reach / (left.reach + right.reach)
        self.part_right = 1.0 - self.part_left
        self.most = min(left.width / self.part_left, right.width / self.part_right)

    def solve(self) -> float:
        """rad by which the two turn back together; as much as uses one of them up where the gap is kept at
        no angle."""
        if not self._may_meet():
            return self.most
        x = self._newton()
        if x is None:
            x = self._search()
        if self.straight:
            return x
        between = self._bend_before(x)
        return x if between is None else self._between(*between)

    def _may_meet(self) -> bool:
        longest = min(self.left.farthest, self.right.farthest)
        widest = self.clear + self.most
        return longest * (sin(widest) if widest < _SQUARE else 1.0) >= self.gap * (1 - 1e-9)

    def _state(self, x: float) -> tuple[float, float, float]:
        """At x rad the condition's left side (0 when met, negative when short), its slope, and the gap over
        the distance of the nearer outer end."""
        left, right = self.left, self.right
        to_left, to_right = left.angle - self.part_left * x, right.angle + self.part_right * x
        pull, pull_right = left.pull, right.pull
        if not self.straight:
            pull, pull_right = self._pull(left, to_left), self._pull(right, to_right)
        across, up = cos(to_left), sin(to_left)
        close = pull.real * across - pull.imag * up
        along = -self.part_left * (pull.real * up + pull.imag * across)
        across, up = cos(to_right), sin(to_right)
        close_right = pull_right.real * across - pull_right.imag * up
        if close_right > close:
            close = close_right
            along = self.part_right * (pull_right.real * up + pull_right.imag * across)
        phi = self.clear + x
        if phi < _SQUARE:
            return sin(phi) - close, cos(phi) + along, close
        if phi > 3 * _SQUARE:
            return -sin(phi) - close, along - cos(phi), close
        return 1.0 - close, along, close

    def _pull(self, leg: Leg, angle: float) -> complex:
        if leg.first == leg.last:
            return leg.pull
        return self.pulls[bisect_right(self.angles, angle + leg.moved, leg.first + 1, leg.last + 1) - 1]

    def _met(self, value: float, close: float) -> bool:
        return abs(value) * self.gap <= GAP_SOLVED * close

    def _newton(self) -> float | None:
        """The least x that meets the condition, where Newton's method finds it beyond doubt."""
        gap, clear, most = self.gap, self.clear, self.most
        nearer = min(self.left.reach, self.right.reach)
        sine = sin(clear) if clear < _SQUARE else -sin(clear) if clear > 3 * _SQUARE else 1.0
        if sine * nearer >= gap:
            return 0.0
        better = min(max(math.asin(min(1.0, gap / max(nearer, gap))) - clear, 0.0), most)
        for _ in range(ROUNDS + 1):
            x = better
            value, slope, close = self._state(x)
            better = min(max(x - value / slope, 0.0), most) if slope else x
            met = self._met(value, close)
            if met or better == x:
                break
        if not met or slope <= 0 or x >= most:
            return None
        # Between straight sides less than a square apart it is the least (see ``geometry.meeting``).
        if not (self.straight and clear + x < _SQUARE) and any(self._state(p * x)[0] >= 0 for p in PROBES):
            return None
        return better

    def _search(self) -> float:
        low = LADDER[0] * self.most
        for share in LADDER[1:]:
            high = share * self.most
            if self._state(high)[0] >= 0:
                return self._between(low, high)
            low = high
        return self.most

    def _bend_before(self, x: float) -> tuple[float, float] | None:
        """The first bend of the two edges before ``x`` at which the condition is met, after the one before
        it (or 0): (that one, the first), rad."""
        bends = []
        for leg, rate in ((self.left, -self.part_left), (self.right, self.part_right)):
            base = leg.angle + leg.moved
            stop = base + rate * x
            first = bisect_right(self.angles, min(base, stop), leg.first + 1, leg.last + 1)
            last = bisect_left(self.angles, max(base, stop), leg.first + 1, leg.last + 1)
            bends += [(angle - base) / rate for angle in self.angles[first:last]]
        bends.sort()
        low = 0.0
        for at in bends:
            if self._state(at)[0] >= 0:
                return low, at
            low = at
        return None

    def _between(self, low: float, high: float) -> float:
        """The x between ``low``, where the condition is not met, and ``high``, where it is, by Newton's
        method kept between the two."""
        at = high
        value, slope, _ = self._state(at)
        for _ in range(HALVINGS):
            better = at - value / slope if slope else low
            at = better if low < better < high else 0.5 * (low + high)
            value, slope, close = self._state(at)
            if value >= 0:
                high = at
            else:
                low = at
            if self._met(value, close) or high - low <= STILL:
                break
        better = at - value / slope if slope else low
        return better if low < better < high else at
