"""The fewest windows of a grid that hold a drawing, over all places of the grid. No Qt; mm.

The edges of the windows cut the plane into regions: a window's own, the strips that two share, and the
squares that four share. What lies in a shared region has to be on one of its windows, so the windows needed
are a least cover of the regions that hold something. For every place of the grid to about two mm the regions
are counted on a raster of the drawing, by a table of sums; the best places are then looked at exactly, and so
are those in which the grid is flush with the drawing's box, which no raster meets.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
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
_TIGHT: Final = 4.0
"""Pixels: with less to spare than this, the raster hardly meets the places at which a box fits."""
_APART: Final = 2
"""Pixels from one place of the grid to the next that is counted."""
_LATTICE: Final = 10.0
"""mm: how far apart the insides of areas are looked at; far less than any window."""
_LOOKS: Final = 12
"""How many places of one grid are looked at exactly."""
_BROAD: Final = 0.08
"""Of the grid's step: how far from a place all around it should be as good."""

_Counts: TypeAlias = NDArray[np.intp]
_Flags: TypeAlias = NDArray[np.bool_]


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


def fewest_windows(
    drawn: BaseGeometry, grids: Sequence[Grid], alive: Callable[[], None] | None = None
) -> tuple[int, dict[Cell, Window]]:
    """The number of the best of ``grids``, and its windows, by row and column from 1 on.

    Every part of ``drawn`` lies in one of the windows, and each holds some of it, but for those that have to
    be there so that all hang together. Of equally good ones the first grid wins, and in it the place of which
    small moves change least. ``alive`` is called again and again; what it raises ends the work.
    """
    drawing = _Drawing(drawn)
    best: tuple[int, int, dict[Cell, Window]] | None = None
    for number, grid in enumerate(grids):
        for place in drawing.flush(grid):
            best = _better(best, number, drawing.windows(grid, place))
    assert best is not None
    for number, grid in enumerate(grids):
        if alive:
            alive()
        # What hangs together and spans so many rows and columns has at least a sheet for each step.
        rows, columns = drawing.spans(grid)
        if best[0] < rows + columns or best[0] <= 2:
            continue
        for hoped, place in drawing.good_places(grid, below=best[0]):
            windows = drawing.windows(grid, place)
            best = _better(best, number, windows)
            if len(windows) <= hoped:
                break
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
        """Places of the first window: with the box in the middle; where it fits only just, some more."""
        left, top, right, bottom = self.bounds
        rows, columns = self.spans(grid)
        step_x, step_y = grid.step
        spare_x = grid.across + (columns - 1) * step_x - (right - left)
        spare_y = grid.down + (rows - 1) * step_y - (bottom - top)
        # Other places than the middle of what is tight are all but the same, and not on the raster.
        tight = _TIGHT * self.pixel
        shares_x = (0.5, 0.0, 1.0) if spare_y < tight and columns > 1 else (0.5,)
        shares_y = (0.5, 0.0, 1.0) if spare_x < tight and rows > 1 else (0.5,)
        for share_x, share_y in product(shares_x, shares_y):
            yield (left - spare_x * share_x, top - spare_y * share_y)

    def windows(self, grid: Grid, place: Point) -> dict[Cell, Window]:
        """Those that are needed, and what holds them together; ``place`` is that of the first."""
        columns, rows = (self._many(grid, place[axis], axis) for axis in (0, 1))
        x, y = _edges(place[0], grid, columns, 0), _edges(place[1], grid, rows, 1)
        # A line on the edge of a window's own region is in no strip.
        inset_x, inset_y = (np.where(np.arange(len(e) - 1) % 2, _SOMETHING, 0.0) for e in (x, y))
        low_x, low_y = np.meshgrid(x[:-1] + inset_x, y[:-1] + inset_y)
        high_x, high_y = np.meshgrid(x[1:] - inset_x, y[1:] - inset_y)
        boxes = shapely.box(low_x, low_y, high_x, high_y).ravel()
        held = np.zeros(len(boxes), dtype=bool)
        held[self._tree.query(boxes, predicate="intersects")[0]] = True
        needed = _cover(held.reshape(1, *low_x.shape), rows * columns)[0]
        kept = _hanging_together({(row, column) for row, column in np.argwhere(needed).tolist()})
        first_row, first_column = (min(cell[axis] for cell in kept) - 1 for axis in (0, 1))
        windows = {}
        for row, column in kept:
            left, top = place[0] + column * grid.step[0], place[1] + row * grid.step[1]
            window = (left, top, left + grid.across, top + grid.down)
            windows[row - first_row, column - first_column] = window
        return windows

    def _many(self, grid: Grid, first: float, axis: int) -> int:
        """How many windows in a row or column reach from ``first`` to the end."""
        size = (grid.across, grid.down)[axis]
        return _count(self.bounds[axis + 2] - first, size, grid.overlap)

    def good_places(self, grid: Grid, below: int) -> list[tuple[int, Point]]:
        """How many windows, fewer than ``below``, it seems to take, and where; the best first."""
        # The first window holds the first of the drawing, and not only in what it shares with the next.
        step_x, step_y = grid.step
        wide, high = (step / math.ceil(step / self.pixel) for step in grid.step)
        sums = self._sums(wide, high)
        away_x = np.arange(0, round(step_x / wide), _APART)
        away_y = np.arange(0, round(step_y / high), _APART)
        left, top = self.bounds[:2]
        columns = self._many(grid, left - away_x[-1] * wide, 0)
        rows = self._many(grid, top - away_y[-1] * high, 1)
        x = np.rint(_edges(0.0, grid, columns, 0) / wide)[None, :] - away_x[:, None]
        y = np.rint(_edges(0.0, grid, rows, 1) / high)[None, :] - away_y[:, None]
        x = np.clip(x, 0, sums.shape[1] - 1).astype(np.intp)
        y = np.clip(y, 0, sums.shape[0] - 1).astype(np.intp)
        above = np.diff(sums[y], axis=1)  # (places down, regions down, columns of the raster)
        held = np.diff(above[:, :, x], axis=3) > 0
        held = held.transpose(0, 2, 1, 3).reshape(-1, 2 * rows - 1, 2 * columns - 1)
        chosen = np.flatnonzero(held[:, ::2, ::2].sum(axis=(1, 2)) < below)
        needed = np.full(len(held), below)
        needed[chosen] = _cover(held[chosen], below).sum(axis=(1, 2))
        around = _blurred((needed == needed.min()).reshape(len(away_y), len(away_x))).ravel()
        hoped = int(needed.min())
        best = np.flatnonzero(needed == hoped) if hoped < below else np.empty(0, dtype=np.intp)
        best = best[np.argsort(-around[best], kind="stable")]
        # The broadest, and some from all over: exactly looked at, they may differ.
        some = np.unique(np.linspace(0, len(best) - 1, min(_LOOKS, len(best))).astype(np.intp))
        down, across = np.divmod(best[some], len(away_x))
        return [
            (hoped, (left - away_x[column] * wide, top - away_y[row] * high))
            for row, column in zip(down.tolist(), across.tolist(), strict=True)
        ]

    def _sums(self, wide: float, high: float) -> NDArray[np.int32]:
        """(rows + 1, columns + 1): how many pixels left of and above each corner hold something."""
        left, top = self.bounds[:2]
        columns = ((self.samples[:, 0] - left) / wide).astype(np.intp)
        rows = ((self.samples[:, 1] - top) / high).astype(np.intp)
        raster = np.zeros((int(rows.max()) + 2, int(columns.max()) + 2), dtype=np.int32)
        raster[rows + 1, columns + 1] = 1
        sums: NDArray[np.int32] = raster.cumsum(axis=0, dtype=np.int32).cumsum(axis=1, dtype=np.int32)
        return sums

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


def _edges(first: float, grid: Grid, many: int, axis: int) -> NDArray[np.float64]:
    """(2 · many,): edges of the regions of windows in a row: own, shared, own, … The outer two are far."""
    steps = first + grid.step[axis] * np.arange(1, many)
    inner = np.stack([steps, steps + grid.overlap], axis=1).ravel()
    return np.concatenate([[-_FAR], inner, [_FAR]])


_FAR: Final = 1e6
"""mm: beyond any drawing."""


def _cover(held: _Flags, most: int) -> _Flags:
    """Which windows to take so that every region that holds something is in one of them.

    ``held``: (n, 2 · rows - 1, 2 · columns - 1), of n places of the grid: own regions at even numbers, shared
    ones between them. Returns (n, rows, columns). Those are taken that have something of their own, and then
    always the one that holds most of what is left, until ``most`` are taken.
    """
    taken = held[:, ::2, ::2].copy()
    left = held & ~_spread(taken)
    open_ = np.flatnonzero(left.any(axis=(1, 2)) & (taken.sum(axis=(1, 2)) < most))
    while len(open_):
        gain = _gathered(left[open_]).reshape(len(open_), -1)
        row, column = np.divmod(gain.argmax(axis=1), taken.shape[2])
        now = np.zeros((len(open_), *taken.shape[1:]), dtype=bool)
        now[np.arange(len(open_)), row, column] = True
        taken[open_] |= now
        left[open_] &= ~_spread(now)
        open_ = open_[left[open_].any(axis=(1, 2)) & (taken[open_].sum(axis=(1, 2)) < most)]
    return taken


def _spread(windows: _Flags) -> _Flags:
    """(n, rows, columns) -> (n, 2 rows - 1, 2 columns - 1): the regions of these windows."""
    count, rows, columns = windows.shape
    down = np.zeros((count, 2 * rows - 1, columns), dtype=bool)
    down[:, ::2] = windows
    down[:, 1::2] = windows[:, :-1] | windows[:, 1:]
    spread = np.zeros((count, 2 * rows - 1, 2 * columns - 1), dtype=bool)
    spread[:, :, ::2] = down
    spread[:, :, 1::2] = down[:, :, :-1] | down[:, :, 1:]
    return spread


def _gathered(regions: _Flags) -> _Counts:
    """(n, 2 rows - 1, 2 columns - 1) -> (n, rows, columns): how many of the regions each window holds."""
    across = regions[:, :, ::2].astype(np.intp)
    across[:, :, :-1] += regions[:, :, 1::2]
    across[:, :, 1:] += regions[:, :, 1::2]
    gathered = across[:, ::2].copy()
    gathered[:, :-1] += across[:, 1::2]
    gathered[:, 1:] += across[:, 1::2]
    return gathered


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
