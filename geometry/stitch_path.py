"""The stitch path: one unbroken line through the whole fit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from geometry.fan import Fan
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
        if not self.segments:
            return 0.0
        points = np.concatenate([segment.points for segment in self.segments])
        step = points[1:] - points[:-1]
        return float(np.hypot(step[:, 0], step[:, 1]).sum())  # each segment begins where the last one ended


def stitch_path(fans: tuple[Fan, ...]) -> StitchPath:
    """Leg out, side, leg back, wedge after wedge, clockwise on screen; begins and ends at the anchor."""
    segments = []
    for fan in fans:
        for wedge in fan.wedges:
            segments += [
                Segment(Kind.LEG, wedge.number, wedge.outline[:2]),
                Segment(Kind.SIDE, wedge.number, wedge.side),
                Segment(Kind.LEG, wedge.number, wedge.outline[-2:]),
            ]
    return StitchPath(tuple(segments))
