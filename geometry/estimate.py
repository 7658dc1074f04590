"""Stitches, thread and time of a stitch path."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Totals:
    """Of one stitching of the patch. Lengths in mm."""

    stitched: float
    """Length of every stitched line (legs, sides, echoes, hops, stitched travel)."""
    stitches: int
    top_thread: float
    bobbin_thread: float
    minutes: float
