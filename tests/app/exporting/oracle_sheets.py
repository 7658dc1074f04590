"""The fewest sheets by brute force, written apart from the exporter: shapely boxes, every place looked at."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from app.sketch.display_list import Area, DisplayList, Label, Line, Symbol

MARGIN = OVERLAP = 12.7
BAND = 51.5
EDGE = 1e-5
"""mm: as the sheets have them by default."""


def drawn(drawing: DisplayList) -> BaseGeometry:
    """All that has a place on paper."""
    pieces: list[BaseGeometry] = []
    for layer in drawing.layers:
        for item in layer.items:
            if isinstance(item, Line):
                ends = [*item.points, item.points[0]] if item.closed else item.points
                pieces.append(shapely.LineString(ends))
            elif isinstance(item, Area):
                pieces.append(shapely.make_valid(shapely.Polygon(item.rings[0], item.rings[1:])))
            elif isinstance(item, Symbol) or (isinstance(item, Label) and item.must):
                pieces.append(shapely.Point(item.at))
    return shapely.GeometryCollection(pieces)


def fewest_sheets(template: BaseGeometry, paper: tuple[float, float], step: float) -> int:
    """At least so many are needed: over the paper both ways, the band below and beside, the template both
    ways (turned more coarsely), and the grid every ``step`` mm and flush with the template's box.

    Counted is a sheet that holds something which no other one holds. Where these do not hang together, one
    more for each heap beyond the first: joining them takes no less; and one where they do not hold all.
    """
    best = 10**6
    for angle in (0, 90):
        turned = affinity.rotate(template, angle, origin=(0, 0))
        parts = shapely.get_parts(shapely.get_parts(turned))
        tree, bounds = shapely.STRtree(parts), shapely.total_bounds(parts)
        for across, down in _rooms(paper):
            for kept, windows in _places(tree, bounds, across, down, 3 * step if angle else step):
                if len(kept) < best:
                    more = max(_heaps(kept) - 1, 0)
                    if not more and not _hold_all(windows, parts):
                        more = 1
                    best = min(best, len(kept) + more)
    return best


def _hold_all(windows: list[BaseGeometry], parts: np.ndarray) -> bool:
    """Whether whatever is drawn lies on one of them."""
    held = shapely.union_all(windows).buffer(EDGE)
    shapely.prepare(held)
    return bool(shapely.covers(held, parts).all())


def _rooms(paper: tuple[float, float]) -> Iterator[tuple[float, float]]:
    for width, height in (paper, paper[::-1]):
        yield (width - 2 * MARGIN, height - 2 * MARGIN - BAND)
        yield (width - 2 * MARGIN - BAND, height - 2 * MARGIN)


def _places(
    tree: shapely.STRtree, bounds: np.ndarray, across: float, down: float, step: float
) -> Iterator[tuple[set[tuple[int, int]], list[BaseGeometry]]]:
    """For each place of the grid, the sheets (row, column) that hold something of their own; these whole."""
    own: list[tuple[float, float, float, float]] = []
    whole: list[tuple[float, float, float, float]] = []
    names: list[tuple[int, int, int]] = []
    left, top, right, bottom = bounds
    firsts = product(_firsts(left, right, across, step), _firsts(top, bottom, down, step))
    count = 0
    for first_x, first_y in firsts:
        columns = max(1, math.ceil((right - first_x - OVERLAP) / (across - OVERLAP) - 1e-9))
        rows = max(1, math.ceil((bottom - first_y - OVERLAP) / (down - OVERLAP) - 1e-9))
        for row, column in product(range(rows), range(columns)):
            x, y = first_x + column * (across - OVERLAP), first_y + row * (down - OVERLAP)
            whole.append((x, y, x + across, y + down))
            # Without what neighbours share: that goes to whoever of them is there.
            own.append(
                (
                    x + OVERLAP * (column > 0) + EDGE,
                    y + OVERLAP * (row > 0) + EDGE,
                    x + across - OVERLAP * (column < columns - 1) - EDGE,
                    y + down - OVERLAP * (row < rows - 1) - EDGE,
                )
            )
            names.append((count, row, column))
        count += 1
    held = np.unique(tree.query(shapely.box(*np.array(own).T), predicate="intersects")[0])
    kept: list[tuple[set[tuple[int, int]], list[BaseGeometry]]] = [(set(), []) for _ in range(count)]
    for number in held.tolist():
        place, row, column = names[number]
        kept[place][0].add((row, column))
        kept[place][1].append(shapely.box(*whole[number]))
    yield from kept


def _firsts(low: float, high: float, size: float, step: float) -> list[float]:
    """Where the first window may begin: every ``step``, flush with the one end, and with the other."""
    pitch = size - OVERLAP
    count = max(1, int(np.ceil((high - low - OVERLAP) / pitch - 1e-9)))
    flush = high - size - (count - 1) * pitch
    return [low, *([flush] if flush < low else []), *np.arange(low - pitch + step, low, step).tolist()]


def _heaps(cells: set[tuple[int, int]]) -> int:
    squares = [shapely.box(c, r, c + 1, r + 1) for r, c in cells]
    # Squares that touch in a corner alone make polygons of their own.
    return len(shapely.get_parts(shapely.union_all(squares)))
