"""Rows of text that flow through columns and pages. Places in mm."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from app.exporting.card_page import CardPage, line_height, wrapped_height
from app.sketch.palette import TextSize

GUTTER: Final = 5.0
"""mm between columns."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A text from ``left`` to ``right`` mm of its column."""

    text: str
    left: float
    right: float
    size: TextSize = TextSize.BASE
    bold: bool = False
    at_right: bool = False
    wrapped: bool = False
    """In as many lines as it takes; else in one, cut short where it is too long."""

    @property
    def height(self) -> float:
        """mm."""
        if self.wrapped:
            return wrapped_height(self.text, self.right - self.left, self.size, bold=self.bold)
        return line_height(self.size)


@dataclass(frozen=True, slots=True)
class Row:
    """Cells beside each other."""

    cells: tuple[Cell, ...] = ()
    space: float = 0.0
    """mm below."""
    ruled: bool = False
    """With a quiet line below."""
    keep: bool = False
    """A heading: it stays with the row after it."""
    heads: tuple[Row, ...] = ()
    """What is said again above it where it comes first in a column, for being parted from its heading."""

    @property
    def height(self) -> float:
        """mm."""
        return max((cell.height for cell in self.cells), default=0.0) + self.space


@dataclass(frozen=True, slots=True)
class Room:
    """What a page has for columns."""

    top: float
    bottom: float


def flow(rows: Sequence[Row], first: Room, later: Room, columns: int) -> list[list[list[Row]]]:
    """Pages of columns of rows: as few pages as it takes, the columns of each about equally long."""
    left = list(rows)
    pages: list[list[list[Row]]] = []
    while left or not pages:
        room = later if pages else first
        high = room.bottom - room.top
        taken, rest = _filled(left, high, columns)
        if not rest:  # the last page: as short as it can be with everything on it
            low = max(sum(row.height for row in left) / columns, max((row.height for row in left), default=0))
            while low < high:
                shorter, over = _filled(left, low, columns)
                if not over:
                    taken = shorter
                    break
                low += 1.0
        if len(rest) == len(left):  # not even one row: the room on this page is too low for it
            taken = []
            if pages:
                taken, rest = [[left[0]]], left[1:]
        pages.append(taken)
        left = rest
    return pages


def flow_under_picture(
    rows: Sequence[Row], top: float, bottom: float, later: Room, columns: int, heights: Iterable[float]
) -> tuple[float, list[list[list[Row]]]]:
    """Pages of columns of rows, on the first below a picture, and the picture's height.

    The first page has from ``top`` to ``bottom`` for both. Of ``heights``, the best first, it is the first
    with which it takes the fewest pages.
    """
    best: tuple[float, list[list[list[Row]]]] | None = None
    for high in dict.fromkeys(heights):
        pages = flow(rows, Room(top + high, bottom), later, columns)
        if best is None or len(pages) < len(best[1]):
            best = (high, pages)
        if len(pages) == 1:
            break
    assert best is not None  # there is a height
    return best


def _filled(rows: Sequence[Row], high: float, columns: int) -> tuple[list[list[Row]], list[Row]]:
    filled: list[list[Row]] = []
    at = 0
    for _ in range(columns):
        column: list[Row] = []
        y = 0.0
        while at < len(rows):
            heads = rows[at].heads if not column else ()
            group = [*heads, rows[at]]
            end = at + 1
            while end < len(rows) and rows[end - 1].keep:
                group.append(rows[end])
                end += 1
            needed = sum(row.height for row in group) - group[-1].space
            if y + needed > high + 1e-6:
                break
            column += group
            y += sum(row.height for row in group)
            at = end
        filled.append(column)
    return filled, list(rows[at:])


def column_width(page_width: float, columns: int) -> float:
    """mm of each of so many columns."""
    return (page_width - GUTTER * (columns - 1)) / columns


def draw_columns(page: CardPage, columns: Sequence[Sequence[Row]], top: float, wide: float) -> None:
    """Draw columns of ``wide`` mm from ``top`` on."""
    for number, column in enumerate(columns):
        left, y = page.left + number * (wide + GUTTER), top
        for row in column:
            for cell in row.cells:
                if cell.wrapped:
                    page.wrapped(cell.text, left + cell.left, y, left + cell.right, cell.size, bold=cell.bold)
                else:
                    page.text(
                        cell.text, left + cell.left, y, left + cell.right, cell.size,
                        bold=cell.bold, at_right=cell.at_right,
                    )  # fmt: skip
            y += row.height
            if row.ruled:
                page.rule(left, y - row.space / 2, left + wide)
