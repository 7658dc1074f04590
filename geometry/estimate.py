"""Stitches, thread and time of a stitch path."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from geometry.settings import Settings
from geometry.stitch_path import StitchPath


@dataclass(frozen=True, slots=True)
class Totals:
    """Of one stitching of the patch, or of several together. Lengths in mm."""

    stitched: float
    """Length of every segment of the stitch path."""
    stitches: int
    top_thread: float
    bobbin_thread: float
    minutes: float
    bobbins: float = 0.0
    """The bobbin thread as a share of what a bobbin holds; 0 where that is not known."""
    changes: int = 0
    """Changes of direction."""

    @property
    def bobbins_to_wind(self) -> int:
        """Full bobbins that the thread takes; 0 where their capacity is not known."""
        return math.ceil(self.bobbins - _ROUNDING)

    def times(self, repeats: int) -> Totals:
        """All of it ``repeats`` times."""
        return Totals(
            self.stitched * repeats,
            self.stitches * repeats,
            self.top_thread * repeats,
            self.bobbin_thread * repeats,
            self.minutes * repeats,
            self.bobbins * repeats,
            self.changes * repeats,
        )


_ROUNDING = 1e-9
"""Share of a bobbin, or of a stitch, that is rounding."""


def estimate(path: StitchPath, settings: Settings) -> Totals:
    """Thread of a lockstitch (ISO 4915 stitch type 301): with stitch length s and thickness t each of
    the two threads uses s + t for every stitch, so each is as long as the line times 1 + t/s, and a
    tail at either end. Time is the stitches at the stitch rate, and a moment for every change of
    direction, which is wherever the line turns by more than the corner angle.
    """
    length = path.length
    if not length:
        return Totals(0.0, 0, 0.0, 0.0, 0.0)
    thread = length * (1 + settings.quilt_thickness / settings.stitch_length) + 2 * settings.thread_tail
    stitches = math.ceil(length / settings.stitch_length - _ROUNDING)
    minutes = stitches / settings.stitches_per_minute + path.changes * settings.seconds_per_turn / 60
    bobbins = thread / settings.bobbin_capacity if settings.bobbin_capacity else 0.0
    return Totals(length, stitches, thread, thread, minutes, bobbins, path.changes)


def summed(parts: Iterable[tuple[Totals, int]]) -> Totals:
    """Of a whole plan: each patch's totals, and how often the quilt top has it.

    What is left on a bobbin goes on into the next patch. Where the capacity is known for some of them
    only, ``bobbins`` is 0: not known.
    """
    totals = [one.times(repeats) for one, repeats in parts]
    known = all(one.bobbins or not one.bobbin_thread for one in totals)
    return Totals(
        math.fsum(one.stitched for one in totals),
        sum(one.stitches for one in totals),
        math.fsum(one.top_thread for one in totals),
        math.fsum(one.bobbin_thread for one in totals),
        math.fsum(one.minutes for one in totals),
        math.fsum(one.bobbins for one in totals) if known else 0.0,
        sum(one.changes for one in totals),
    )
