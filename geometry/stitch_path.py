"""The stitch path: one unbroken line through the whole fit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from geometry.types import Points


class Kind(StrEnum):
    """What a segment of the path is."""

    LEG = "leg"
    SIDE = "side"
    ECHO = "echo"
    HOP = "hop"
    TRAVEL = "travel"


@dataclass(frozen=True, slots=True, eq=False)
class Segment:
    """One run of the path; it begins where the one before it ended."""

    kind: Kind
    wedge: int | None
    """Number of the wedge, or None for travel between fans."""
    points: Points
    """(n, 2), mm, in stitching order."""


@dataclass(frozen=True, slots=True, eq=False)
class StitchPath:
    """The segments in stitching order."""

    segments: tuple[Segment, ...] = ()
