"""The stitchable area: the patch less the edge margin."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from geometry.tolerances import LEAST_PART, OVERLAY
from geometry.types import Point

MITRE_LIMIT = 2.0
"""Where a sharp tip points into the patch, the mitre is cut square at this many margins."""


def stitchable_area(polygon: Polygon, margin: float) -> tuple[Polygon, ...]:
    """Parts of ``polygon`` eroded by ``margin`` (mm, 0 or more), mitred; largest first, oriented.

    Empty where there is no room. With margin 0 it is the polygon itself.
    """
    if margin == 0:
        return (shapely.orient_polygons(polygon),)
    eroded = polygon.buffer(-margin, join_style="mitre", mitre_limit=MITRE_LIMIT)
    parts = [part for part in shapely.get_parts(eroded) if part.area > LEAST_PART]
    parts.sort(key=lambda part: -part.area)
    return tuple(shapely.orient_polygons(part) for part in parts)


def widest_circle(polygon: Polygon) -> tuple[Point, float]:
    """Centre and radius (mm) of the largest circle in ``polygon``, within a thousandth of its size."""
    return _circle(polygon, _fine(polygon))


def widest_of(polygons: Iterable[Polygon], least: float) -> tuple[Point, float] | None:
    """Centre and radius (mm) of the largest circle in any of ``polygons``, each within a thousandth of that
    polygon's size; None where none has a larger radius than ``least`` (mm, more than 0).

    Which polygons cannot hold one shows from a rough circle: the largest is wider by no more than what that
    one was sought to.
    """
    widest = None
    for polygon in polygons:
        fine = _fine(polygon)
        rough = least / 4
        if rough > fine and _circle(polygon, rough)[1] + rough <= least:
            continue
        circle = _circle(polygon, fine)
        if circle[1] > least:
            widest, least = circle, circle[1]
    return widest


def _fine(polygon: Polygon) -> float:
    """mm, a thousandth of the size."""
    left, top, right, bottom = polygon.bounds
    return float(max(right - left, bottom - top)) / 1000


def _circle(polygon: Polygon, tolerance: float) -> tuple[Point, float]:
    """Centre and radius (mm) of a circle in ``polygon`` that is at most ``tolerance`` (mm) less than the
    largest."""
    line = shapely.maximum_inscribed_circle(polygon, tolerance)
    (x, y), _ = shapely.get_coordinates(line)
    return (float(x), float(y)), float(line.length)


def overlay_grid(*areas: Polygon | MultiPolygon) -> float:
    """``OVERLAY``, or sixteen times what float64 resolves as far out as the areas lie: no grid is finer."""
    far = np.nanmax(np.abs(shapely.bounds(areas)), initial=0.0)  # an empty one has no bounds
    return float(max(OVERLAY, 16 * np.spacing(far)))
