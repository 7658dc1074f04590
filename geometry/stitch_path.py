"""The stitch path: one unbroken line through the whole fit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from geometry.fan import Fan
from geometry.types import Points, frozen


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

    @property
    def length(self) -> float:
        """mm."""
        step = np.diff(self.points, axis=0)
        return float(np.hypot(step[:, 0], step[:, 1]).sum())


@dataclass(frozen=True, slots=True, eq=False)
class StitchPath:
    """The segments in stitching order."""

    segments: tuple[Segment, ...] = ()

    @property
    def length(self) -> float:
        """mm, of every segment."""
        return sum(segment.length for segment in self.segments)


def stitch_path(fans: tuple[Fan, ...]) -> StitchPath:
    """Leg out, side, leg back, wedge after wedge, clockwise on screen; begins and ends at the anchor."""
    segments = []
    for fan in fans:
        anchor = np.array(fan.anchor)
        for wedge in fan.wedges:
            out = frozen([anchor, wedge.side[0]])
            back = frozen([wedge.side[-1], anchor])
            segments += [
                Segment(Kind.LEG, wedge.number, out),
                Segment(Kind.SIDE, wedge.number, wedge.side),
                Segment(Kind.LEG, wedge.number, back),
            ]
    return StitchPath(tuple(segments))
