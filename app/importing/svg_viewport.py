"""Viewports of an SVG file: the page, view boxes, and how they are laid over each other."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from app.importing.curves import IDENTITY, Matrix, mapped
from app.importing.svg_style import NUMBER, parse_length
from app.importing.svg_xml import Element

Box = tuple[float, float, float, float]
"""x, y, width, height."""


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """The outermost viewport."""

    page_width: float
    page_height: float
    """px; nan where the file does not say."""
    view_box: Matrix
    """From user units to px."""
    width: float
    height: float
    """In user units, what 100 % is; nan where the file does not say."""
    size_is_stated: bool
    """Whether the file says how long its user unit is, in a unit that a ruler has."""


def page(root: Element, px_mm: float) -> Page | None:
    """The page of the outermost `svg`; None where its size is 0, which SVG says shows nothing.

    Without width and height the view box is taken as the page, one user unit to the px.
    """
    sides: list[float | None] = []
    true_size = False
    for name in ("width", "height"):
        length = parse_length(root.style.get(name, ""))
        side = None if length is None else length.user_units(math.nan, px_mm)
        if length is None or side is None or not side >= 0:  # a share of a window that is not there, too
            sides.append(None)
        else:
            sides.append(side)
            true_size = true_size or length.is_true_size
    width, height = sides
    if width == 0 or height == 0:
        return None
    box = view_box(root)
    if box is None:
        width, height = (math.nan if side is None else side for side in sides)
        return Page(width, height, IDENTITY, width, height, False)
    if not (box[2] > 0 and box[3] > 0):
        return None
    if width is None:
        width = box[2] if height is None else height * box[2] / box[3]
    if height is None:
        height = width * box[3] / box[2]
    return Page(width, height, view_box_matrix(root, box, width, height), box[2], box[3], true_size)


def view_box(element: Element) -> Box | None:
    """The `viewBox`, if there is a sound one; its width or height may be 0."""
    text = element.attributes.get("viewBox", "").strip()
    if not re.fullmatch(rf"{NUMBER}(?>[\s]*,?[\s]*{NUMBER}){{3}}", text, re.ASCII):
        return None
    x, y, width, height = (float(number) for number in re.findall(NUMBER, text))
    return (x, y, width, height) if width >= 0 and height >= 0 else None


def view_box_matrix(element: Element, box: Box, width: float, height: float) -> Matrix:
    """SVG 2, computing the equivalent transform of an SVG viewport."""
    x, y, box_width, box_height = box
    scale_x, scale_y = width / box_width, height / box_height
    words = element.attributes.get("preserveAspectRatio", "").split(maxsplit=3)
    words = words[1:] if words[:1] == ["defer"] else words
    align = re.fullmatch(r"x(Min|Mid|Max)Y(Min|Mid|Max)", words[0] if words else "")
    if words[:1] != ["none"]:
        scale_x = scale_y = (max if align and words[1:] == ["slice"] else min)(scale_x, scale_y)
    share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    share_x, share_y = (share[align[1]], share[align[2]]) if align else (0.5, 0.5)
    left = (width - box_width * scale_x) * share_x - x * scale_x
    top = (height - box_height * scale_y) * share_y - y * scale_y
    return (scale_x, 0.0, 0.0, scale_y, left, top)


_OVERFLOWS = 1e100
"""mm: where areas meet, products of coordinates are worked out."""


def frame(matrix: Matrix, width: float, height: float) -> Polygon | None:
    """A viewport as a polygon in mm; empty where it is flat, None where its numbers overflow."""
    corners = mapped(np.array([(0, 0), (width, 0), (width, height), (0, height)]), matrix)
    if not np.abs(corners).max() < _OVERFLOWS:  # NaN too
        return None
    polygon = Polygon(corners)
    if not polygon.is_valid:
        return Polygon()
    shapely.prepare(polygon)
    return polygon
