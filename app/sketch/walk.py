"""A walk along the stitch path: where the needle is, what it stitches there, and what is done so far. No Qt.

A place on the path is its distance from the beginning along the line, mm. At a corner of the line the needle
already points the new way, and the turn is done.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from geometry import Settings
from geometry.stitch_path import Kind, Segments, StitchPath
from geometry.tolerances import SAME_POINT
from geometry.types import Point, Points

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

_KINDS: Final = tuple(Kind)
_LEG, _ECHO = _KINDS.index(Kind.LEG), _KINDS.index(Kind.ECHO)

_STRAIGHT: Final = math.radians(1.0)
"""A run that turns by less in all is straight: a ruler can be laid along it. Found by trial: less than a
stitch to the side on a run of 5 in."""

_ROUNDING: Final = 1e-9
"""Share of a stitch that is rounding, as in ``geometry.estimate``."""


@dataclass(frozen=True, slots=True)
class Turn:
    """A change of direction that is still to come."""

    by: float
    """rad, -pi to pi; more than 0 is to the right, clockwise as seen on screen."""
    after: float
    """mm from the needle to it."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What there is to know at one place of a walk."""

    place: float
    """mm from the beginning of the path."""
    at: Point
    """mm, on the cloth."""
    heading: float
    """rad, from x towards y: the way the line runs from here."""
    segment: int
    """Index of the path's segment."""
    kind: Kind
    wedge: int | None
    """Number of the wedge; None for travel."""
    back: bool
    """True on a leg that is stitched inward."""
    echo: int
    """Of an echo: 1 for the wedge's first; else 0."""
    bearing: float | None
    """degrees clockwise from straight up the patch, [0, 360): how a ruler lies. Of a leg from its inner to
    its outer end, as ``StitchPath.bearings``; else the way the line runs. None where the line is curved."""
    next_turn: Turn | None
    """None where no change of direction comes any more."""
    turned: float
    """rad: all turns so far, either way counted, those of curves too."""
    changes: int
    """Changes of direction so far."""
    share: float
    """0 to 1, of the length."""
    minutes: float
    """So far, at the settings' pace; at the end the fit's total."""


class Walk:
    """A stitch path as something to go along. Every answer that is a place lies in 0 to ``length``."""

    def __init__(self, path: StitchPath, settings: Settings) -> None:
        self.path = path
        self._settings = settings
        line = path.line
        step = np.diff(line.points, axis=0)
        size: Floats = np.hypot(step[:, 0], step[:, 1])
        self._along: Floats = np.concatenate([[0.0], np.cumsum(size)])
        """(n,) place of every point of the line."""
        self._rows: Ints = np.flatnonzero(size > SAME_POINT)
        """Pieces of the line with a length; all arrays of pieces below are of these."""
        self._begin = self._along[self._rows]
        self._heading: Floats = np.arctan2(step[self._rows, 1], step[self._rows, 0])
        one, two = step[self._rows[:-1]], step[self._rows[1:]]
        cross = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
        self._turn: Floats = np.arctan2(cross, (one * two).sum(axis=1))
        """(pieces - 1,) from each piece to the next, more than 0 to the right."""
        self._turned = np.concatenate([[0.0], np.cumsum(np.abs(self._turn))])
        """(pieces,) up to and with the turn into each."""
        change = np.abs(self._turn) > path.sharp
        self._changed = np.concatenate([[0], np.cumsum(change)])
        self._change_rows: Ints = np.flatnonzero(change)
        self._change_at: Floats = self._begin[1:][change]
        self._starts: Floats = self._along[line.cuts[:-1]]
        """(segments,) place where each begins."""

    @property
    def line(self) -> Segments:
        """The path's segments."""
        return self.path.line

    @property
    def empty(self) -> bool:
        """True where there is nothing to walk along."""
        return not len(self._rows)

    @property
    def length(self) -> float:
        """mm."""
        return float(self._along[-1]) if len(self._along) > 1 else 0.0

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """(left, top, right, bottom) mm. Not of an empty walk."""
        (left, top), (right, bottom) = self.line.points.min(axis=0), self.line.points.max(axis=0)
        return (float(left), float(top), float(right), float(bottom))

    @cached_property
    def minutes(self) -> float:
        """Of the whole walk, at the settings' pace."""
        return self._minutes(self.length, int(self._changed[-1]))

    @cached_property
    def wedges(self) -> int:
        """How many wedges it goes through."""
        return len(set(self.line.wedges.tolist()) - {0})

    # --- where the needle is ------------------------------------------------------------------------

    def clamped(self, place: float) -> float:
        """``place``, or the end that it lies beyond."""
        return min(max(place, 0.0), self.length)

    def at_share(self, share: float) -> float:
        """The place at that share (0 to 1) of the length."""
        return self.clamped(share * self.length)

    def segment_at(self, place: float) -> int:
        """Index of the segment that is stitched from ``place`` on; at the end the last. Not of an empty
        walk."""
        return max(int(np.searchsorted(self._starts, self.clamped(place), side="right")) - 1, 0)

    def point_at(self, place: float) -> Point:
        """(x, y) mm. Not of an empty walk."""
        place, points = self.clamped(place), self.line.points
        return (
            float(np.interp(place, self._along, points[:, 0])),
            float(np.interp(place, self._along, points[:, 1])),
        )

    def start_of(self, segment: int) -> float:
        """The place where ``segment`` begins; of the number after the last, the end."""
        return float(self._along[self.line.cuts[segment]])

    def between(self, first: float, last: float) -> Points:
        """(n, 2) mm: the line from place ``first`` to place ``last``, both with a point of their own. Not of
        an empty walk."""
        low = int(np.searchsorted(self._along, first, side="right"))
        high = int(np.searchsorted(self._along, last, side="left"))
        ends = np.array([self.point_at(first), self.point_at(last)])
        return np.concatenate([ends[:1], self.line.points[low:high], ends[1:]])

    def reading(self, place: float) -> Reading:
        """Everything about ``place``. Not of an empty walk."""
        place = self.clamped(place)
        segment = self.segment_at(place)
        # The piece that begins here, or that the needle is in; one of another segment only where this
        # segment has no length.
        piece = max(int(np.searchsorted(self._begin, place, side="right")) - 1, 0)
        kind = _KINDS[int(self.line.kinds[segment])]
        changes = int(self._changed[piece])
        return Reading(
            place=place,
            at=self.point_at(place),
            heading=float(self._heading[piece]),
            segment=segment,
            kind=kind,
            wedge=int(self.line.wedges[segment]) or None,
            back=kind is Kind.LEG and self._leg_number(segment) % 2 == 1,
            echo=self._echo_number(segment) if kind is Kind.ECHO else 0,
            bearing=self._bearing(segment, kind, piece),
            next_turn=self._next_turn(place, changes),
            turned=float(self._turned[piece]),
            changes=changes,
            share=place / self.length,
            minutes=self._minutes(place, changes),
        )

    def nearest(self, point: Point, around: float, slack: float = 0.0) -> tuple[float, float]:
        """The place on the path nearest to ``point``, and how far from it that is, both mm.

        Of places that are hardly further away (by ``slack`` mm), the one nearest to the place ``around``
        along the path: where lines lie on each other, the hand stays on the one that it follows. Not of an
        empty walk.
        """
        start = self.line.points[self._rows]
        run = self.line.points[self._rows + 1] - start
        squared = np.einsum("ij,ij->i", run, run)
        share = np.clip(np.einsum("ij,ij->i", np.asarray(point) - start, run) / squared, 0.0, 1.0)
        apart = np.hypot(*(start + share[:, None] * run - point).T)
        places = self._begin + share * np.sqrt(squared)
        close = np.flatnonzero(apart <= apart.min() + max(slack, SAME_POINT))
        best = close[np.abs(places[close] - around).argmin()]
        return self.clamped(float(places[best])), float(apart[best])

    # --- steps --------------------------------------------------------------------------------------

    def step(self, place: float, by: int) -> float:
        """The next (1) or the previous (-1) beginning of a segment; back from within one its own."""
        return self._stepped(self._starts, place, by)

    def step_wedge(self, place: float, by: int) -> float:
        """The same from wedge to wedge."""
        return self._stepped(self._wedge_starts, place, by)

    def _stepped(self, starts: Floats, place: float, by: int) -> float:
        if by > 0:
            after = starts[starts > place + SAME_POINT]
            return float(after[0]) if len(after) else self.length
        before = starts[starts < place - SAME_POINT]
        return float(before[-1]) if len(before) else 0.0

    @cached_property
    def _wedge_starts(self) -> Floats:
        wedges = self.line.wedges
        begins = (wedges != 0) & (wedges != np.concatenate([[0], wedges[:-1]]))
        starts: Floats = self._starts[begins]
        return starts

    # --- time ---------------------------------------------------------------------------------------

    @property
    def seconds(self) -> float:
        """Of the whole walk. The needle does not round up to whole stitches, as the minutes do."""
        return self.seconds_at(self.length)

    def seconds_at(self, place: float) -> float:
        """When the needle goes on from ``place``, which it reaches at the settings' pace."""
        place = self.clamped(place)
        changes = int(np.searchsorted(self._change_at, place, side="right"))
        return place / self._pace + changes * self._settings.seconds_per_turn

    def place_at(self, seconds: float) -> float:
        """Where the needle is then; at every change of direction it waits for the hands."""
        return float(np.interp(seconds, *self._clock))

    def way_at(self, seconds: float) -> float:
        """rad, from x towards y: the way the line runs then; while the needle waits for the hands to turn, it
        goes evenly from the one way to the other. Not of an empty walk.
        """
        turn = int(np.searchsorted(self._comes, seconds, side="right")) - 1
        if turn >= 0 and (waited := seconds - float(self._comes[turn])) < self._settings.seconds_per_turn:
            piece = self._change_rows[turn]
            share = waited / self._settings.seconds_per_turn
            return float(self._heading[piece] + share * self._turn[piece])
        place = self.place_at(seconds) + SAME_POINT  # at a corner the needle already points the new way
        piece = max(int(np.searchsorted(self._begin, place, side="right")) - 1, 0)
        return float(self._heading[piece])

    @property
    def _pace(self) -> float:
        """mm per second."""
        return self._settings.stitches_per_minute * self._settings.stitch_length / 60

    @cached_property
    def _comes(self) -> Floats:
        """Seconds at which the needle comes to each change of direction."""
        turns = np.arange(len(self._change_at))
        comes: Floats = self._change_at / self._pace + turns * self._settings.seconds_per_turn
        return comes

    @cached_property
    def _clock(self) -> tuple[Floats, Floats]:
        """Seconds and places between which the needle goes evenly, or stands."""
        goes = self._comes + self._settings.seconds_per_turn
        return (
            np.concatenate([[0.0], np.column_stack([self._comes, goes]).ravel(), [self.seconds]]),
            np.concatenate([[0.0], np.repeat(self._change_at, 2), [self.length]]),
        )

    def _minutes(self, place: float, changes: int) -> float:
        stitches = math.ceil(place / self._settings.stitch_length - _ROUNDING)
        return stitches / self._settings.stitches_per_minute + changes * self._settings.seconds_per_turn / 60

    # --- what a segment is --------------------------------------------------------------------------

    @cached_property
    def _legs(self) -> Ints:
        """(segments,) how many legs come before each. A wedge has two that follow each other."""
        leg = self.line.kinds == _LEG
        return np.asarray(np.cumsum(leg) - leg, dtype=np.intp)

    def _leg_number(self, segment: int) -> int:
        return int(self._legs[segment])

    def _echo_number(self, segment: int) -> int:
        """A wedge's echoes follow its legs, so they are counted from its last leg on."""
        kinds = self.line.kinds[: segment + 1]
        legs = np.flatnonzero(kinds == _LEG)
        since = int(legs[-1]) if len(legs) else 0
        return int(np.count_nonzero(kinds[since:] == _ECHO))

    @cached_property
    def _runs(self) -> tuple[Ints, Ints, Floats]:
        """Pieces between two changes of direction and within one segment: the run of each piece; the first
        piece of each run; by how much each run turns within itself, rad.
        """
        of_segment = np.searchsorted(self._starts, self._begin, side="right") - 1
        new = (np.abs(self._turn) > self.path.sharp) | (np.diff(of_segment) > 0)
        run = np.concatenate([[0], np.cumsum(new)])
        within = np.where(new, 0.0, np.abs(self._turn))
        turning: Floats = np.zeros(int(run[-1]) + 1)
        np.add.at(turning, run[1:], within)
        return run, np.concatenate([[0], np.flatnonzero(new) + 1]), turning

    def _bearing(self, segment: int, kind: Kind, piece: int) -> float | None:
        if kind is Kind.LEG:
            return self.path.bearings[self._leg_number(segment)]
        run_of, first, turning = self._runs
        run = int(run_of[piece])
        if turning[run] > _STRAIGHT:
            return None
        begin = self.line.points[self._rows[first[run]]]
        after = int(first[run + 1]) if run + 1 < len(first) else len(self._rows)
        dx, dy = (self.line.points[self._rows[after - 1] + 1] - begin).tolist()
        degrees = math.degrees(math.atan2(dx, -dy)) % 360.0
        return 0.0 if degrees >= 360.0 else degrees

    def _next_turn(self, place: float, changes: int) -> Turn | None:
        if changes >= len(self._change_at):
            return None
        by = float(self._turn[self._change_rows[changes]])
        return Turn(by, float(self._change_at[changes]) - place)
