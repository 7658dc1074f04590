"""Tiling: a true-size template over the fewest sheets of paper. No Qt; mm everywhere.

Two frames: the template's own (the cloth's mm) and the page's (mm from the sheet's upper left corner). A
sheet's window is the part of the template that it holds; ``Sheet.origin`` is where the window's corner comes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from app.exporting.clip import Window
from geometry.errors import WedgewrightError
from geometry.types import Point
from geometry.units import MM_PER_INCH


class PaperError(WedgewrightError):
    """A paper that is not known, or too small."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper, upright."""

    name: str
    width: float
    height: float
    """mm."""


PAPERS: Final = {
    paper.name.lower(): paper
    for paper in (
        # ANSI/ASME Y14.1 sizes A and B, and legal; ISO 216 (the standards from memory).
        Paper("Letter", 8.5 * MM_PER_INCH, 11 * MM_PER_INCH),
        Paper("Legal", 8.5 * MM_PER_INCH, 14 * MM_PER_INCH),
        Paper("Tabloid", 11 * MM_PER_INCH, 17 * MM_PER_INCH),
        Paper("A4", 210.0, 297.0),
        Paper("A3", 297.0, 420.0),
    )
}

_LETTER_TERRITORIES: Final = frozenset(
    ["BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"]
)
"""Where home printers hold Letter (Unicode CLDR, paperSize; from memory)."""


def paper_named(name: str) -> Paper:
    """The paper of that name, capitals or not. Raises ``PaperError``."""
    try:
        return PAPERS[name.strip().lower()]
    except KeyError:
        known = ", ".join(PAPERS)
        what = f"“{name}” is no paper that is known"
        raise PaperError(what, where="paper", do=f"choose one of {known}") from None


def paper_of_territory(code: str) -> Paper:
    """What is printed on in a country, by its two letters (ISO 3166)."""
    return PAPERS["letter" if code.upper() in _LETTER_TERRITORIES else "a4"]


MARGIN: Final = 12.0
"""mm, default: kept clear on all four sides, more than home printers leave unprinted."""
OVERLAP: Final = 12.0
"""mm, default: what neighbouring sheets share."""
SMALL_SQUARE: Final = MM_PER_INCH
LARGE_SQUARE: Final = 50.0
"""mm: sides of the squares to check the scale by. The small one lies in the large one's upper left corner."""
BAND: Final = LARGE_SQUARE + 1.5
"""mm: the strip kept free of the template for squares and words; as thin as the large square allows."""

_REGISTER_ROOM: Final = 7.0
"""mm: how far from the nearest line a register mark can be read without looking twice."""
_REGISTER_PLACES: Final = 9
"""Places that are looked at in each half of the strip that two sheets share."""

_SOMETHING: Final = 1e-6
"""mm: a template that reaches into a window by less than this is not in it."""


@dataclass(frozen=True, slots=True)
class RegisterMark:
    """A cross that two neighbouring sheets have in common, so that they can be laid onto each other."""

    name: str
    at: Point
    """mm, template."""
    upright: bool
    """Whether it lies between two sheets side by side, in a strip that runs down the page."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet and the part of the template that it holds."""

    row: int
    column: int
    """1 is the first, from the upper left."""
    window: Window
    """mm, template."""
    origin: Point
    """mm, page: where the window's upper left corner comes."""
    marks: tuple[RegisterMark, ...]

    def to_page(self, point: Point) -> Point:
        """mm, template -> mm, page."""
        return (
            point[0] - self.window[0] + self.origin[0],
            point[1] - self.window[1] + self.origin[1],
        )


@dataclass(frozen=True, slots=True)
class Sheets:
    """A template's sheets, row by row; those that would hold nothing of it are left out."""

    paper: Paper
    width: float
    height: float
    """mm: the paper as it is turned."""
    overlap: float
    """mm, shared by neighbours."""
    band: Window
    """mm, page: where squares and words stand."""
    rows: int
    columns: int
    sheets: tuple[Sheet, ...]


def tile(
    template: Polygon,
    paper: Paper,
    *,
    margin: float = MARGIN,
    overlap: float = OVERLAP,
    busy: BaseGeometry | None = None,
) -> Sheets:
    """Lay ``template`` over the fewest sheets: upright or turned, with the band below or beside it.

    ``busy``: what register marks keep away from where they can. Raises ``PaperError`` where the paper has no
    room between its margins.
    """
    best: tuple[int, _Layout, list[_Cell]] | None = None
    for layout in _layouts(paper, margin, overlap, template):
        for cells in layout.placings(template):
            # The first wins: upright before turned.
            if best is None or len(cells) < best[0]:
                best = (len(cells), layout, cells)
    if best is None:
        what = f"{paper.name} has no room for a template between its margins"
        raise PaperError(what, where="paper", do="choose a larger one")
    _, layout, cells = best
    marks = _register_marks({(row, column): window for row, column, window in cells}, overlap, busy)
    return Sheets(
        paper,
        layout.width,
        layout.height,
        overlap,
        layout.band,
        layout.rows,
        layout.columns,
        tuple(
            Sheet(row, column, window, layout.region[:2], tuple(marks.get((row, column), ())))
            for row, column, window in cells
        ),
    )


_Cell = tuple[int, int, Window]
"""(row, column, window in template mm)."""


@dataclass(frozen=True, slots=True)
class _Layout:
    """One way to turn the paper and to put the band."""

    width: float
    height: float
    region: Window
    """mm, page: where the template is drawn."""
    band: Window
    overlap: float
    rows: int
    columns: int

    def placings(self, template: Polygon) -> Iterator[list[_Cell]]:
        """The sheets that hold something, for several ways to lay the grid over the template."""
        left, top, right, bottom = template.bounds
        shapely.prepare(template)
        across, down = self.region[2] - self.region[0], self.region[3] - self.region[1]
        spare_x = self.columns * across - (self.columns - 1) * self.overlap - (right - left)
        spare_y = self.rows * down - (self.rows - 1) * self.overlap - (bottom - top)
        # One sheet holds the template in its middle; of several the first are full.
        shares_x, shares_y = (((0.5,) if n == 1 else (0.0, 0.5, 1.0)) for n in (self.columns, self.rows))
        for share_x, share_y in product(shares_x, shares_y):
            x0, y0 = left - spare_x * share_x, top - spare_y * share_y
            cells: list[_Cell] = []
            for row, column in product(range(self.rows), range(self.columns)):
                x, y = x0 + column * (across - self.overlap), y0 + row * (down - self.overlap)
                window = (x, y, x + across, y + down)
                if template.intersects(shapely.box(*_shrunk(window))):
                    cells.append((row + 1, column + 1, window))
            yield cells


def _shrunk(window: Window) -> Window:
    left, top, right, bottom = window
    return (left + _SOMETHING, top + _SOMETHING, right - _SOMETHING, bottom - _SOMETHING)


def _layouts(paper: Paper, margin: float, overlap: float, template: Polygon) -> Iterator[_Layout]:
    left, top, right, bottom = template.bounds
    for width, height in ((paper.width, paper.height), (paper.height, paper.width)):
        x0, y0, x1, y1 = margin, margin, width - margin, height - margin
        below = ((x0, y0, x1, y1 - BAND), (x0, y1 - LARGE_SQUARE, x1, y1))
        beside = ((x0, y0, x1 - BAND, y1), (x1 - LARGE_SQUARE, y0, x1, y1))
        for region, band in (below, beside):
            across, down = region[2] - region[0], region[3] - region[1]
            if min(across, down) > 2 * overlap:
                rows = _count(bottom - top, down, overlap)
                columns = _count(right - left, across, overlap)
                yield _Layout(width, height, region, band, overlap, rows, columns)


def _count(length: float, sheet: float, overlap: float) -> int:
    """How many sheets in a row cover ``length``: n sheets cover n·sheet - (n - 1)·overlap."""
    return max(1, math.ceil((length - overlap) / (sheet - overlap) - 1e-9))


def _register_marks(
    windows: dict[tuple[int, int], Window], overlap: float, busy: BaseGeometry | None
) -> dict[tuple[int, int], list[RegisterMark]]:
    """Two for each pair of neighbours, by sheet."""
    marks: dict[tuple[int, int], list[RegisterMark]] = {}
    count = 0
    for (row, column), window in windows.items():
        for neighbour, upright in (((row, column + 1), True), ((row + 1, column), False)):
            if neighbour not in windows:
                continue
            for at in _register_places(window, upright, overlap, busy):
                count += 1
                mark = RegisterMark(f"R{count}", at, upright)
                marks.setdefault((row, column), []).append(mark)
                marks.setdefault(neighbour, []).append(mark)
    return marks


def _register_places(
    window: Window, upright: bool, overlap: float, busy: BaseGeometry | None
) -> Iterator[Point]:
    """One place in each half of the strip that ``window`` shares with its neighbour on the right or below."""
    left, top, right, bottom = window
    start, end = (top, bottom) if upright else (left, right)
    # The ends of the strip are shared with the sheets of the next row or column too.
    start, end = start + 1.5 * overlap, end - 1.5 * overlap
    middle = (right if upright else bottom) - overlap / 2
    for half in (np.linspace(0.0, 0.4, _REGISTER_PLACES), np.linspace(1.0, 0.6, _REGISTER_PLACES)):
        along = start + half * (end - start)
        across = np.full_like(along, middle)
        x, y = (across, along) if upright else (along, across)
        clear = np.full_like(along, np.inf)
        if busy is not None:
            clear = shapely.distance(busy, shapely.points(x, y))
        free = np.flatnonzero(clear >= _REGISTER_ROOM)
        best = int(free[0]) if len(free) else int(np.argmax(clear))
        yield (float(x[best]), float(y[best]))
