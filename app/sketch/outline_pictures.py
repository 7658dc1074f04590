"""Display lists of bare outlines, before they are patches of a plan: which layer, which side is meant."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import Polygon

from app.sketch.display_list import (
    Area,
    DisplayList,
    Item,
    Layer,
    LayerName,
    Line,
    Symbol,
    SymbolKind,
    rings_of,
)
from app.sketch.palette import Hatch, Role
from app.sketch.translate import tr
from geometry.types import Points

_MOST_SIDES: Final = 4
"""Sides that are offered; the longest are the easiest to measure."""
_LEAST_SHARE: Final = 0.1
"""Of the patch's width or height: a shorter edge is a piece of a curve, or measured badly."""


@dataclass(frozen=True, slots=True, eq=False)
class MeasurableSide:
    """Something of a drawing that a ruler can measure."""

    name: str
    ends: Points
    """(2, 2) mm, as the drawing is shown."""

    @property
    def length(self) -> float:
        """mm, as the drawing is shown."""
        return math.dist(self.ends[0], self.ends[1])


def measurable_sides(polygons: Sequence[Polygon]) -> tuple[MeasurableSide, ...]:
    """The longest straight sides of the largest outline, and how far all of them reach across and down."""
    largest = max(polygons, key=lambda polygon: polygon.area)
    left, top, right, bottom = largest.bounds
    least = _LEAST_SHARE * max(right - left, bottom - top)
    ring = shapely.get_coordinates(largest.exterior)
    edges = [ends for k in range(len(ring) - 1) if math.dist(*(ends := ring[k : k + 2])) > least]
    edges.sort(key=lambda ends: -math.dist(*ends))
    sides = [
        MeasurableSide(tr("Side {number}", number=number), ends)
        for number, ends in enumerate(edges[:_MOST_SIDES], start=1)
    ]
    left, top, right, bottom = shapely.total_bounds(polygons).tolist()
    middle = ((left + right) / 2, (top + bottom) / 2)
    across = np.array([(left, middle[1]), (right, middle[1])])
    down = np.array([(middle[0], top), (middle[0], bottom)])
    sides += [
        MeasurableSide(tr("All of it, across"), across),
        MeasurableSide(tr("All of it, from top to bottom"), down),
    ]
    return tuple(sides)


def outlines_picture(
    polygons: Sequence[Polygon], *, faint: Sequence[Polygon] = (), marked: Points | None = None
) -> DisplayList:
    """``polygons`` as they are drawn, others ``faint`` beside them; ``marked``: the ends of what is meant."""
    layers = [
        Layer(LayerName.CLOTH, tuple(_areas(polygons, Role.FRAME))),
        Layer(LayerName.STITCHABLE, tuple(_lines(faint, Role.FAINT))),
        Layer(LayerName.SEAM, tuple(_lines(polygons, Role.SEAM))),
    ]
    if marked is not None:
        layers.append(Layer(LayerName.ANCHOR, measured(marked)))
    bounds = shapely.total_bounds([*polygons, *faint]).tolist()
    return DisplayList(tuple(layer for layer in layers if layer.items), tuple(bounds))


def measured(ends: Points) -> tuple[Item, ...]:
    """As on a drawing with measures: a line with an arrowhead at either end."""
    (x, y), (u, v) = ends.tolist()
    angle = math.atan2(v - y, u - x)
    return (
        Line(Role.FOCUS, ends),
        Symbol(SymbolKind.ARROW, Role.FOCUS, (u, v), angle),
        Symbol(SymbolKind.ARROW, Role.FOCUS, (x, y), angle + math.pi),
    )


def _areas(polygons: Iterable[Polygon], role: Role) -> Iterable[Area]:
    for polygon in polygons:
        yield Area(role, rings_of(polygon), Hatch.FILL)


def _lines(polygons: Iterable[Polygon], role: Role) -> Iterable[Line]:
    for polygon in polygons:
        for ring in rings_of(polygon):
            yield Line(role, ring, closed=True)
