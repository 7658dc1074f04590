"""All tries of a patch on a sheet of paper, to compare at the table; pictures, not to size."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtGui import QPageLayout, QPainter

from app.exporting.card_page import CardPage, line_height, upright
from app.exporting.sheets import Paper
from app.exporting.template import ExportError, NamedFit
from app.exporting.words import short_name
from app.sketch.display_list import Show, build
from app.sketch.palette import Role, TextSize
from app.sketch.translate import tr, tr_n
from app.sketch.try_words import try_figures
from app.sketch.wording import verdict
from geometry.fit import Fit
from geometry.units import LengthStyle

_GUTTER: Final = 6.0
"""mm between cells."""
MOST_ON_A_SHEET: Final = 12
_GRIDS: Final = ((1, 1), (1, 2), (2, 2), (2, 3), (3, 3), (3, 4))
"""Columns and rows, upright, from few tries to many."""
_ALL_FIGURES, _TWO_COLUMNS, _FIRST_COLUMN = 120.0, 80.0, 0.56
"""mm: least width of a cell for all figures, and for two columns of them; share of the first column."""
_FOUR, _TWO = (1, 2, 3, 7), (1, 3)
"""Which of ``try_figures`` stand in a narrower cell: sides and across, out of sight, time."""
_SHOW: Final = Show(cloth=False, marks=False, mark_names=False)


@dataclass(frozen=True, slots=True)
class TrySheets:
    """Every one of the tries, ready to be drawn sheet by sheet: a picture, its name, figures to compare.

    Where many share a sheet, up to ``MOST_ON_A_SHEET``, each has fewer figures.
    """

    patch: str
    tries: tuple[NamedFit, ...]
    paper: Paper
    style: LengthStyle

    @staticmethod
    def of(patch: str, tries: Sequence[NamedFit], paper: Paper, style: LengthStyle) -> TrySheets:
        """Raises ``ExportError`` where there is no try."""
        if not tries:
            raise ExportError("there is no try to print", where=f"patch “{patch}”", do="keep one first")
        return TrySheets(patch, tuple(tries), paper, style)

    @property
    def count(self) -> int:
        """Of sheets."""
        return math.ceil(len(self.tries) / MOST_ON_A_SHEET)

    def page_layout(self, number: int) -> QPageLayout:
        """Of sheet ``number``, from 0."""
        return upright(self.paper)

    def draw(self, painter: QPainter, number: int) -> None:
        """Draw sheet ``number``, from 0."""
        part = self.tries[number * MOST_ON_A_SHEET : (number + 1) * MOST_ON_A_SHEET]
        _Sheet(CardPage(painter, self.paper), self.style).draw(
            self.patch, part, len(self.tries), number + 1, self.count
        )


class _Sheet:
    """Draws one sheet; all places in mm on the page."""

    def __init__(self, page: CardPage, style: LengthStyle) -> None:
        self.page, self.style = page, style

    def draw(self, patch: str, tries: Sequence[NamedFit], count: int, number: int, of: int) -> None:
        page = self.page
        left, top, right, bottom = page.left, page.top, page.right, page.bottom
        top += self.page.text(short_name(patch), left, top, right, TextSize.LARGE, bold=True)
        words = tr_n("{count} try", "{count} tries", count)
        if of > 1:
            words = tr("{tries}, sheet {number} of {of}", tries=words, number=number, of=of)
        top += self.page.text(words, left, top, right, TextSize.BASE) + 1
        below = tr("Pictures to compare, not to size. Print the template to mark from.")
        bottom -= line_height(TextSize.SMALL)
        self.page.text(below, left, bottom, right, TextSize.SMALL)
        columns, rows = next((grid for grid in _GRIDS if grid[0] * grid[1] >= len(tries)), _GRIDS[-1])
        rows = min(rows, math.ceil(len(tries) / columns))
        wide = (right - left - _GUTTER * (columns - 1)) / columns
        high = (bottom - _GUTTER - top - _GUTTER * (rows - 1)) / rows
        for place, (name, fit) in enumerate(tries):
            row, column = divmod(place, columns)
            x, y = left + column * (wide + _GUTTER), top + row * (high + _GUTTER)
            self.cell(name, fit, x, y, wide, high)

    def cell(self, name: str, fit: Fit, x: float, y: float, wide: float, high: float) -> None:
        """The picture above, the words below."""
        figures = [f"{what}: {value}" for what, value in try_figures(fit, self.style)]
        two = wide > _TWO_COLUMNS
        if wide < _ALL_FIGURES:
            figures = [figures[at] for at in (_FOUR if two else _TWO)]
        small = line_height(TextSize.SMALL)
        lines = math.ceil(len(figures) / 2) if two else len(figures)
        words = line_height(TextSize.BASE) + small * (1 + lines)
        self.picture(fit, x, y, wide, high - words - 2)
        y += high - words
        y += self.page.text(short_name(name), x, y, x + wide, TextSize.BASE, bold=True)
        y += self.page.text(verdict(fit), x, y, x + wide, TextSize.SMALL)
        middle = x + wide * _FIRST_COLUMN if two else x + wide
        for place, line in enumerate(figures):
            column, row = divmod(place, lines)
            left, right = (x, middle) if column == 0 else (middle, x + wide)
            self.page.text(line, left, y + row * small, right, TextSize.SMALL)

    def picture(self, fit: Fit, x: float, y: float, wide: float, high: float) -> None:
        drawing = build(fit, style=self.style, show=_SHOW)
        # In a narrow cell the figures of findings would hide the wedges; their signs stay.
        labels = (Role.STITCH,) if wide < _TWO_COLUMNS else None
        self.page.picture([drawing], x, y, wide, high, labels_of=labels)
        self.page.frame(x, y, x + wide, y + high)
