"""Rows of text that flow through columns and pages. Places in mm."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtGui import QPageLayout, QPainter

from app.exporting.card_page import (
    PAGE_MARGIN,
    CardPage,
    heading_height,
    line_height,
    upright,
    wrapped_height,
)
from app.exporting.sheets import Paper
from app.exporting.words import short_name
from app.sketch.display_list import DisplayList
from app.sketch.palette import TextSize

GUTTER: Final = 5.0
"""mm between columns."""
BETWEEN: Final = 3.0
"""mm between blocks."""


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
    rows: Sequence[Row], intro: Sequence[Row], paper: Paper, columns: int, heights: Iterable[float]
) -> tuple[float, list[list[list[Row]]]]:
    """Pages of columns of rows, on the first below ``intro`` and a picture, and the picture's height.

    Of ``heights``, the best first, it is the first with which it takes the fewest pages.
    """
    head, bottom = PAGE_MARGIN + heading_height() + BETWEEN, paper.height - PAGE_MARGIN
    top, later = head + sum(row.height for row in intro), Room(head, bottom)
    best: tuple[float, list[list[list[Row]]]] | None = None
    for high in dict.fromkeys(heights):
        pages = flow(rows, Room(top + high, bottom - BETWEEN), later, columns)
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


@dataclass(frozen=True, slots=True, eq=False)
class FlowingCard(ABC):
    """A card of one patch, ready to be drawn page by page: a picture, and columns of rows below it and on."""

    name: str
    paper: Paper
    picture: DisplayList
    intro: tuple[Row, ...]
    """Over the picture."""
    pages: list[list[list[Row]]]
    picture_height: float

    @property
    def count(self) -> int:
        """Of pages."""
        return len(self.pages)

    def page_layout(self, number: int) -> QPageLayout:
        """Of page ``number``, from 0."""
        return upright(self.paper)

    def draw(self, painter: QPainter, number: int) -> None:
        """Draw page ``number``, from 0."""
        page = CardPage(painter, self.paper)
        y = page.heading(short_name(self.name), self._subtitle(number))
        wide = page.right - page.left
        if number == 0:
            draw_columns(page, [self.intro], y + 1, wide)
            y += sum(row.height for row in self.intro) + 1
            self._draw_picture(page, y, wide)
            y += self.picture_height
        columns = max(len(self.pages[number]), 1)
        draw_columns(page, self.pages[number], y + BETWEEN, column_width(wide, columns))

    def _draw_picture(self, page: CardPage, y: float, wide: float) -> None:
        page.picture([self.picture], page.left, y, wide, self.picture_height)

    @abstractmethod
    def _subtitle(self, number: int) -> str:
        """What page ``number``, from 0, says below the name."""
