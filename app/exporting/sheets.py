"""Tiling: a true-size template over the fewest sheets of paper. No Qt; mm everywhere.

Two frames: the template's own (the cloth's mm) and the page's (mm from the sheet's upper left corner). A
sheet's window is the part of the template that it holds; ``Sheet.origin`` is where the window's corner comes.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from app.exporting.clip import Window
from app.exporting.grid import Grid, fewest_windows
from geometry.errors import LengthError, WedgewrightError
from geometry.types import Point
from geometry.units import MM_PER_INCH, parse_length


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
    """The paper of that name, capitals or not, or of that size: ``13x19in``, ``330 × 480 mm``.

    A size is width by height; the unit of the height is the width's too where that has none. Raises
    ``PaperError``, also where there is no unit.
    """
    known = PAPERS.get(name.strip().lower())
    if known is not None:
        return known
    sides = re.split(r"[x×*]", name.strip().lower())
    if len(sides) == 2 and all(any(map(str.isdigit, side)) for side in sides):
        return _own_paper(name.strip(), *sides)
    what = f"“{name}” is no paper that is known"
    choices = ", ".join(PAPERS)
    raise PaperError(what, do=f"choose one of {choices}, or give its size, like 13x19in")


def _own_paper(name: str, width: str, height: str) -> Paper:
    try:
        down = parse_length(height, None)
        unit = re.search(r"[^\d\s.,/⁄-]+\s*$", height)
        without = unit and re.fullmatch(r"[\d\s.,/⁄-]+", width)
        across = parse_length(width + unit[0] if unit and without else width, None)
    except LengthError as error:
        do = "give width and height with a unit, like 13x19in or 330x480mm"
        raise PaperError(error.what, where=f"“{name}”", do=do) from None
    if not LEAST_PAPER <= min(across, down) <= max(across, down) <= MOST_PAPER:
        what = f"“{name}” is no size that a page can have"
        raise PaperError(what, do="give sides from 60 mm to 5 m")
    return Paper(name, min(across, down), max(across, down))


def paper_of_territory(code: str) -> Paper:
    """What is printed on in a country, by its two letters (ISO 3166)."""
    return PAPERS["letter" if code.upper() in _LETTER_TERRITORIES else "a4"]


LEAST_PAPER: Final = 60.0
MOST_PAPER: Final = 5000.0
"""mm: of a side; a PDF page is at most 14,400 points wide (ISO 32000-1, Annex C, from memory)."""

MARGIN: Final = MM_PER_INCH / 2
"""mm, default: kept clear on all four sides, more than home printers leave unprinted."""
OVERLAP: Final = MM_PER_INCH / 2
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
LEAST_ROOM: Final = 2 * OVERLAP
"""mm: a narrower room holds next to nothing beside what it shares with its neighbours."""


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


@dataclass(frozen=True, slots=True)
class Room:
    """One way to turn the paper and to put the band."""

    width: float
    height: float
    """mm: the paper as it is turned."""
    region: Window
    """mm, page: where the template is drawn."""
    band: Window

    @property
    def across(self) -> float:
        """mm: width of the region."""
        return self.region[2] - self.region[0]

    @property
    def down(self) -> float:
        """mm: height of the region."""
        return self.region[3] - self.region[1]


def rooms(paper: Paper, margin: float = MARGIN) -> list[Room]:
    """The ways to lay out a page, upright before turned, with the band below before beside.

    Where one is there, the same room turned by a quarter is there too, so turning the template would not give
    it a room that it has not already. Raises ``PaperError`` where the margins leave none.
    """
    found = []
    for width, height in ((paper.width, paper.height), (paper.height, paper.width)):
        x0, y0, x1, y1 = margin, margin, width - margin, height - margin
        below = Room(width, height, (x0, y0, x1, y1 - BAND), (x0, y1 - LARGE_SQUARE, x1, y1))
        beside = Room(width, height, (x0, y0, x1 - BAND, y1), (x1 - LARGE_SQUARE, y0, x1, y1))
        found += [each for each in (below, beside) if min(each.across, each.down) > LEAST_ROOM]
    if not found:
        what = f"{paper.name} has no room for a template between its margins"
        raise PaperError(what, where="paper", do="choose a larger one, or smaller margins")
    return found


def tile(
    template: BaseGeometry,
    paper: Paper,
    *,
    margin: float = MARGIN,
    overlap: float = OVERLAP,
    busy: BaseGeometry | None = None,
    first_mark: int = 1,
    alive: Callable[[], None] | None = None,
) -> Sheets:
    """Lay ``template``, what is drawn, over the fewest sheets of a grid, the paper upright or turned.

    ``busy``: what register marks keep away from where they can. ``first_mark``: number of the first of them.
    ``alive`` is called again and again; what it raises ends the work.
    Raises ``PaperError`` where the paper has no room between its margins.
    """
    layouts = rooms(paper, margin)
    grids = [Grid(room.across, room.down, overlap) for room in layouts]
    number, windows = fewest_windows(template, grids, alive)
    room = layouts[number]
    marks = _register_marks(windows, overlap, busy, first_mark)
    return Sheets(
        paper,
        room.width,
        room.height,
        overlap,
        room.band,
        max(row for row, _ in windows),
        max(column for _, column in windows),
        tuple(
            Sheet(row, column, window, room.region[:2], tuple(marks.get((row, column), ())))
            for (row, column), window in sorted(windows.items())
        ),
    )


def _register_marks(
    windows: Mapping[tuple[int, int], Window], overlap: float, busy: BaseGeometry | None, first: int
) -> dict[tuple[int, int], list[RegisterMark]]:
    """Two for each pair of neighbours, by sheet."""
    marks: dict[tuple[int, int], list[RegisterMark]] = {}
    count = first - 1
    for (row, column), window in sorted(windows.items()):
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
