"""The fewest windows of a grid that hold a drawing, over all places of the grid. No Qt; mm.

For every place of the grid to about a mm, the windows that hold something are counted at once, on a raster of
the drawing: a table of sums says what a window holds, and the places that differ by a whole step of the grid
are added up. The best places are then looked at exactly. So are those in which the grid is flush with the
drawing's box, which no raster meets.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from app.exporting.clip import Window
from geometry.types import Point, Points

Cell: TypeAlias = tuple[int, int]
"""(row, column)."""

_SOMETHING: Final = 1e-6
"""mm: a drawing that reaches into a window by less than this is not in it."""
_PIXEL: Final = 1.0
"""mm: of the raster, for a drawing of ``_FINE`` or less; of a larger one in proportion."""
_FINE: Final = 700.0
_LATTICE: Final = 10.0
"""mm: how far apart the insides of areas are looked at; far less than any window."""
_LOOKS: Final = 24
"""How many places of one grid are looked at exactly."""
_BROAD: Final = 0.08
"""Of the grid's step: how far from a place that all around it should be as good."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Windows side by side and below each other. mm."""

    across: float
    down: float
    """Size of a window."""
    overlap: float
    """What neighbours share."""

    @property
    def step(self) -> Point:
        """From a window to the next, across and down."""
        return (self.across - self.overlap, self.down - self.overlap)


def fewest_windows(drawn: BaseGeometry, grids: Sequence[Grid]) -> tuple[int, dict[Cell, Window]]:
    """The number of the best of ``grids``, and its windows, by row and column from 1 on.

    Every part of ``drawn`` lies in one of the windows, and each holds some of it, but for those that have to
    be there so that all hang together. Of equally good ones the first grid wins, and in it the place of which
    small moves change least.
    """
    drawing = _Drawing(drawn)
    best: tuple[int, int, dict[Cell, Window]] | None = None
    for number, grid in enumerate(grids):
        for place in drawing.flush(grid):
            best = _better(best, number, drawing.windows(grid, place))
    for number, grid in enumerate(grids):
        assert best is not None
        # What hangs together and spans so many rows and columns has at least a sheet for each step.
        rows, columns = drawing.spans(grid)
        if best[0] < rows + columns or best[0] <= 2:
            continue
        for place in drawing.good_places(grid, below=best[0]):
            best = _better(best, number, drawing.windows(grid, place))
    assert best is not None
    return best[1:]


def _better(
    best: tuple[int, int, dict[Cell, Window]] | None, number: int, windows: dict[Cell, Window]
) -> tuple[int, int, dict[Cell, Window]]:
    if best is None or len(windows) < best[0]:
        return (len(windows), number, windows)
    return best


class _Drawing:
    """What is drawn, ready to be asked about many windows."""

    def __init__(self, drawn: BaseGeometry) -> None:
        pieces = _pieces(drawn)
        self.bounds: Window = tuple(shapely.total_bounds(pieces).tolist())
        self._tree = shapely.STRtree(pieces)
        left, top, right, bottom = self.bounds
        self.pixel = _PIXEL * max(1.0, max(right - left, bottom - top) / _FINE)
        self._pieces = pieces
        self._samples: Points | None = None

    def spans(self, grid: Grid) -> tuple[int, int]:
        """The fewest rows and columns."""
        left, top, right, bottom = self.bounds
        return (
            _count(bottom - top, grid.down, grid.overlap),
            _count(right - left, grid.across, grid.overlap),
        )

    def flush(self, grid: Grid) -> Iterator[Point]:
        """Places of the first window: in the middle, and flush with either end of the box."""
        left, top, right, bottom = self.bounds
        rows, columns = self.spans(grid)
        step_x, step_y = grid.step
        spare_x = grid.across + (columns - 1) * step_x - (right - left)
        spare_y = grid.down + (rows - 1) * step_y - (bottom - top)
        shares_x, shares_y = (((0.5,) if n == 1 else (0.5, 0.0, 1.0)) for n in (columns, rows))
        for share_x, share_y in product(shares_x, shares_y):
            yield (left - spare_x * share_x, top - spare_y * share_y)

    def windows(self, grid: Grid, place: Point) -> dict[Cell, Window]:
        """Those that hold something, and what holds them together."""
        _, _, right, bottom = self.bounds
        (x0, y0), (step_x, step_y) = place, grid.step
        columns = 1 + max(0, math.ceil((right - x0 - grid.across) / step_x - 1e-9))
        rows = 1 + max(0, math.ceil((bottom - y0 - grid.down) / step_y - 1e-9))
        cells = list(product(range(1, rows + 1), range(1, columns + 1)))
        x = np.array([x0 + (column - 1) * step_x for _, column in cells])
        y = np.array([y0 + (row - 1) * step_y for row, _ in cells])
        small = _SOMETHING
        boxes = shapely.box(x + small, y + small, x + grid.across - small, y + grid.down - small)
        held = np.unique(self._tree.query(boxes, predicate="intersects")[0]).tolist()
        kept = _hanging_together({cells[number] for number in held})
        first_row, first_column = (min(cell[axis] for cell in kept) - 1 for axis in (0, 1))
        windows = {}
        for (row, column), left_x, top_y in zip(cells, x.tolist(), y.tolist(), strict=True):
            if (row, column) in kept:
                window = (left_x, top_y, left_x + grid.across, top_y + grid.down)
                windows[row - first_row, column - first_column] = window
        return windows

    def good_places(self, grid: Grid, below: int) -> list[Point]:
        """Places that may take fewer than ``below`` windows, the best first."""
        counts, corner, pixel = self._counts(grid)
        wanted = np.flatnonzero(counts.ravel() < below)
        if not len(wanted):
            return []
        least = counts.min()
        around = _blurred(counts <= least)
        order = np.lexsort((-around.ravel()[wanted], counts.ravel()[wanted]))
        chosen = wanted[order]
        # The broadest of the least, and of the rest some from everywhere.
        some = np.unique(np.linspace(0, len(chosen) - 1, _LOOKS).astype(int))
        rows, columns = np.divmod(chosen[some], counts.shape[1])
        return [
            (corner[0] + column * pixel[0], corner[1] + row * pixel[1])
            for row, column in zip(rows.tolist(), columns.tolist(), strict=True)
        ]

    def _counts(self, grid: Grid) -> tuple[NDArray[np.intp], Point, Point]:
        """How many windows hold something, for each place of the first one.

        (rows, columns); also the place of the first entry and the distance of the others. mm.
        """
        left, top = self.bounds[:2]
        step_x, step_y = grid.step
        # A whole number of pixels to a step.
        across, down = math.ceil(step_x / self.pixel), math.ceil(step_y / self.pixel)
        wide, high = step_x / across, step_y / down
        samples = self.samples
        columns = ((samples[:, 0] - left) / wide).astype(np.intp)
        rows = ((samples[:, 1] - top) / high).astype(np.intp)
        raster = np.zeros((int(rows.max()) + 1, int(columns.max()) + 1), dtype=np.int32)
        raster[rows, columns] = 1
        sums = np.zeros((raster.shape[0] + 1, raster.shape[1] + 1), dtype=np.int32)
        np.cumsum(raster, axis=0, out=sums[1:, 1:])
        np.cumsum(sums[1:, 1:], axis=1, out=sums[1:, 1:])
        size_y, size_x = math.ceil(grid.down / high - 1e-9), math.ceil(grid.across / wide - 1e-9)
        low_y, high_y = _ends(raster.shape[0], size_y)
        low_x, high_x = _ends(raster.shape[1], size_x)
        strip = sums[high_y] - sums[low_y]
        held = strip[:, high_x] > strip[:, low_x]
        folded = np.zeros((_up(len(held), down), _up(held.shape[1], across)), dtype=bool)
        folded[: len(held), : held.shape[1]] = held
        counts = folded.reshape(-1, down, folded.shape[1] // across, across).sum(axis=(0, 2))
        return counts, (left - (size_x - 1) * wide, top - (size_y - 1) * high), (wide, high)

    @property
    def samples(self) -> Points:
        """(n, 2): places of the drawing, no two neighbours on a line farther apart than half a pixel."""
        if self._samples is None:
            places = [shapely.get_coordinates(shapely.segmentize(self._pieces, self.pixel / 2))]
            for area in self._pieces[shapely.area(self._pieces) > _LATTICE**2]:
                left, top, right, bottom = area.bounds
                x, y = np.meshgrid(np.arange(left, right, _LATTICE), np.arange(top, bottom, _LATTICE))
                inside = shapely.contains_xy(area, x, y)
                places.append(np.stack([x[inside], y[inside]], axis=1))
            self._samples = np.concatenate(places)
        return self._samples


def _pieces(drawn: BaseGeometry) -> NDArray[np.object_]:
    """The single geometries of nested collections."""
    pieces = np.array([drawn], dtype=object)
    while (shapely.get_type_id(pieces) > 3).any():
        pieces = shapely.get_parts(pieces)
    return pieces


def _count(length: float, window: float, overlap: float) -> int:
    """How many windows in a row cover ``length``: n cover n·window - (n - 1)·overlap."""
    return max(1, math.ceil((length - overlap) / (window - overlap) - 1e-9))


def _ends(length: int, size: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Where intervals of ``size`` begin and end that meet 0 to ``length``, cut off there."""
    starts = np.arange(1 - size, length)
    return np.maximum(starts, 0), np.minimum(starts + size, length)


def _up(length: int, step: int) -> int:
    return -(-length // step) * step


def _blurred(good: NDArray[np.bool_]) -> NDArray[np.float64]:
    """How good it is around each place; rows and columns go round."""
    kernels = []
    for length in good.shape:
        away = np.fft.fftfreq(length)  # -0.5 to 0.5: of the grid's step
        kernels.append(np.exp(-((away / _BROAD) ** 2) / 2))
    kernel = np.outer(*kernels)
    blurred: NDArray[np.float64] = np.fft.irfft2(np.fft.rfft2(good) * np.fft.rfft2(kernel), s=good.shape)
    return blurred


def _hanging_together(cells: set[Cell]) -> set[Cell]:
    """``cells`` and the fewest between them over which one comes from each to each other.

    Exactly the fewest for two heaps; of more, each next one is joined by its shortest way.
    """
    joined = _heap(cells, min(cells))
    while joined != cells:
        way = _shortest(joined, cells - joined)
        cells = cells | set(way)
        joined = _heap(cells, min(joined))
    return cells


def _heap(cells: Iterable[Cell], first: Cell) -> set[Cell]:
    """Those of ``cells`` that hang together with ``first``."""
    left, heap, edge = set(cells) - {first}, {first}, [first]
    while edge:
        row, column = edge.pop()
        for near in ((row + 1, column), (row - 1, column), (row, column + 1), (row, column - 1)):
            if near in left:
                left.remove(near)
                heap.add(near)
                edge.append(near)
    return heap


def _shortest(ones: set[Cell], others: set[Cell]) -> list[Cell]:
    """The cells between the nearest pair, along a row and then a column."""
    _, one, other = min(
        (abs(one[0] - other[0]) + abs(one[1] - other[1]), one, other) for one in ones for other in others
    )
    down = 1 if other[0] >= one[0] else -1
    across = 1 if other[1] >= one[1] else -1
    return [
        *((row, one[1]) for row in range(one[0], other[0] + down, down)),
        *((other[0], column) for column in range(one[1], other[1] + across, across)),
    ]
