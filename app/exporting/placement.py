"""How a patch lies on paper: mirrored or not, turned or not, and moved. No Qt."""

from __future__ import annotations

import math
from dataclasses import dataclass

import msgspec
import numpy as np
from numpy.typing import NDArray

from app.exporting.clip import Window
from app.sketch.display_list import Area, DisplayList, Item, Label, Layer, Line, Symbol, SymbolKind
from geometry.types import Point, Points


@dataclass(frozen=True, slots=True)
class Placement:
    """From the patch's own mm to the template's: mirrored first, then turned, then moved. True to size."""

    mirrored: bool = False
    """Left and right change places."""
    turned: bool = False
    """By a quarter, clockwise as the page is seen."""
    shift: Point = (0.0, 0.0)
    """mm, added last."""

    @staticmethod
    def of(bounds: Window, mirrored: bool, turned: bool = False, corner: Point | None = None) -> Placement:
        """That which puts the upper left corner of ``bounds`` (mm) at ``corner``; None: where it is."""
        bare = Placement(mirrored, turned)
        left, top, right, bottom = bounds
        low = bare.points(np.array([(left, top), (right, bottom)])).min(axis=0).tolist()
        x, y = corner if corner is not None else (left, top)
        return Placement(mirrored, turned, (x - low[0], y - low[1]))

    @property
    def _matrix(self) -> NDArray[np.float64]:
        """(2, 2), for rows of points; of noughts and ones, so that nothing is rounded."""
        across = -1.0 if self.mirrored else 1.0
        return np.array([(0.0, across), (-1.0, 0.0)] if self.turned else [(across, 0.0), (0.0, 1.0)])

    def points(self, points: Points) -> Points:
        """(n, 2) mm of the patch -> (n, 2) mm of the template."""
        placed: Points = points @ self._matrix + self.shift
        return placed

    def back(self, points: Points) -> Points:
        """(n, 2) mm of the template -> (n, 2) mm of the patch."""
        own: Points = (points - self.shift) @ self._matrix.T
        return own

    def drawing(self, drawing: DisplayList) -> DisplayList:
        """``drawing`` where it lies on the template; symbols and letters stay upright."""
        if self == Placement():
            return drawing
        layers = tuple(Layer(each.name, tuple(map(self._item, each.items))) for each in drawing.layers)
        corners = self.points(np.reshape(drawing.bounds, (2, 2)))
        return DisplayList(layers, (*corners.min(axis=0).tolist(), *corners.max(axis=0).tolist()))

    def _item(self, item: Item) -> Item:
        match item:
            case Line():
                return msgspec.structs.replace(item, points=self.points(item.points))
            case Area():
                return msgspec.structs.replace(item, rings=tuple(map(self.points, item.rings)))
            case Symbol():
                way = self._way((math.cos(item.angle), math.sin(item.angle)))
                # An upright shape has no angle; only an arrow points.
                angle = math.atan2(way[1], way[0]) if item.kind is SymbolKind.ARROW else item.angle
                return msgspec.structs.replace(item, at=self._point(item.at), angle=angle)
            case Label():
                return msgspec.structs.replace(
                    item,
                    at=self._point(item.at),
                    align=self._way(item.align),
                    offset=self._way(item.offset),
                    toward=None if item.toward is None else self._point(item.toward),
                )

    def _point(self, point: Point) -> Point:
        x, y = self.points(np.array([point]))[0].tolist()
        return (x, y)

    def _way(self, way: Point) -> Point:
        x, y = (np.array(way) @ self._matrix).tolist()
        return (x, y)
