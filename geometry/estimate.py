"""Stitches, thread and time of a stitch path."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geometry.settings import Settings
from geometry.stitch_path import StitchPath


@dataclass(frozen=True, slots=True)
class Totals:
    """Of one stitching of the patch. Lengths in mm."""

    stitched: float
    """Length of every segment of the stitch path."""
    stitches: int
    top_thread: float
    bobbin_thread: float
    minutes: float


def estimate(path: StitchPath, settings: Settings) -> Totals:
    """Thread of a lockstitch (ISO 4915 stitch type 301): with stitch length s and thickness t each of
    the two threads uses s + t for every stitch, so each is as long as the line times 1 + t/s, and a
    tail at either end. Time is the stitches at the stitch rate, and a moment for every change of
    direction, which is wherever one leg, side, echo or hop ends and the next begins.
    """
    length = path.length
    if not path.segments:
        return Totals(0.0, 0, 0.0, 0.0, 0.0)
    thread = length * (1 + settings.quilt_thickness / settings.stitch_length) + 2 * settings.thread_tail
    stitches = math.ceil(length / settings.stitch_length)
    minutes = stitches / settings.stitches_per_minute + len(path.segments) * settings.seconds_per_turn / 60
    return Totals(length, stitches, thread, thread, minutes)
