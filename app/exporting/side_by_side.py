"""Several true-size templates in one picture. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from app.exporting.clip import Window
from geometry.types import Point

BORDER: Final = 12.0
"""mm around and between the patches, for lines and labels that reach over the seam."""


def with_border(bounds: Window) -> Window:
    """What of its surroundings a patch with these bounds may use. mm."""
    left, top, right, bottom = bounds
    return (left - BORDER, top - BORDER, right + BORDER, bottom + BORDER)


def side_by_side(bounds: Sequence[Window]) -> tuple[float, float, list[Point]]:
    """Width and height of the picture, and for each patch what is added to its own places. mm.

    ``bounds`` are (left, top, right, bottom) of each. They stand in one row, their tops level.
    """
    places = []
    x = BORDER
    for left, top, right, _ in bounds:
        places.append((x - left, BORDER - top))
        x += right - left + BORDER
    height = max(bottom - top for _, top, _, bottom in bounds) + 2 * BORDER
    return (x, height, places)
