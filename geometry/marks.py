"""Marks: reference points on the edge of the stitchable area."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from geometry.types import Point


class MarkKind(StrEnum):
    """Where a mark comes from."""

    CORNER = "corner"
    DIVISION = "division"
    OWN = "own"


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark. ``at`` lies on the edge of the stitchable area, ``foot`` on the seam (mm)."""

    name: str
    """Side and number (``A1``), or for a corner the two letters that meet there (``AB``)."""
    at: Point
    kind: MarkKind
    side: str
    """Letter of the side it lies on; for a corner, of the side that begins there."""
    foot: Point
    """Nearest point of the seam."""
    from_start: float
    """mm along the seam from the side's first corner's foot to this foot."""
    to_end: float
    """mm along the seam from this foot to the side's last corner's foot."""
