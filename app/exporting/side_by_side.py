"""Several true-size templates in one picture. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from app.exporting.clip import Window
from app.exporting.options import TemplateOptions
from app.exporting.placement import Placement
from app.exporting.template import template_drawing
from app.sketch.display_list import DisplayList, Label, Layer, LayerName
from app.sketch.palette import Role, TextSize
from app.sketch.translate import tr
from geometry.fit import Fit
from geometry.types import Point
from geometry.units import LengthStyle

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


def picture_drawing(fit: Fit, options: TemplateOptions, style: LengthStyle) -> DisplayList:
    """What is drawn of ``fit`` in such a picture, within its own bounds; a mirrored one says so above it."""
    own = template_drawing(fit, options, style)
    drawing = Placement.of(own.bounds, options.mirrored).drawing(own)
    if not options.mirrored:
        return drawing
    left, top, right, _ = drawing.bounds
    at = ((left + right) / 2, top)
    says = Label(Role.TEXT, at, tr("Mirrored"), TextSize.BASE, (0.0, -1.0), (0.0, -_ABOVE))
    # The first, so that it finds its room before all others.
    return DisplayList((Layer(LayerName.CLOTH, (says,)), *drawing.layers), drawing.bounds)


_ABOVE: Final = 18.0
"""Device units: above the letters of the marks, and still in the border."""
