"""Wedges, and the fan they make."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import Polygon

from geometry.marks import Mark
from geometry.types import Point, Points


@dataclass(frozen=True, slots=True, eq=False)
class Wedge:
    """One wedge: leg out from the anchor, side along the edge, leg back. mm."""

    number: int
    """1 is the first; they count clockwise on screen."""
    outline: Points
    """(n, 2), closed (the first point is repeated at the end). Begins at the apex, or with hold-back at
    the first leg's inner end."""
    side: Points
    """(m, 2): the outer side, from the first leg's outer end to the second's."""
    span: tuple[str, str]
    """Names of the marks at the two ends of its span."""
    side_length: float
    across: float
    """The shorter leg's length times the sine of the apex angle (that leg's length from 90° on)."""
    apex_angle: float
    """rad."""
    echoes: tuple[Points, ...] = ()
    """Closed outlines, outermost first."""


@dataclass(frozen=True, slots=True, eq=False)
class Fan:
    """All wedges of one anchor."""

    anchor: Point
    region: Polygon
    """The part of the stitchable area that this fan fills."""
    marks: tuple[Mark, ...]
    wedges: tuple[Wedge, ...]
