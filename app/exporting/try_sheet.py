"""All tries of a patch on a sheet of paper, to compare at the table; pictures, not to size."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QRectF, QSizeF, Qt
from PySide6.QtGui import QColor, QPageLayout, QPageSize, QPainter, QPdfWriter, QPen

from app.exporting.page import DOTS_PER_MM, LOOK, RESOLUTION
from app.exporting.painter import font, metrics, paint, place_labels
from app.exporting.qt import home_paper, need_application
from app.exporting.sheets import Paper
from app.exporting.template import ExportError, NamedFit
from app.exporting.words import short_name
from app.sketch.display_list import Show, build
from app.sketch.palette import PAPER, STROKES, TEXT_POINTS, Role, TextSize
from app.sketch.translate import tr, tr_n
from app.sketch.try_words import try_figures
from app.sketch.view import View
from app.sketch.wording import verdict
from geometry.fit import Fit
from geometry.types import Point
from geometry.units import LengthStyle

_POINT: Final = RESOLUTION / 72
_MARGIN: Final = 12.7
"""mm: printers at home leave half an inch white."""
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


def try_sheet_pdf(
    patch: str,
    tries: Sequence[NamedFit],
    paper: Paper | None = None,
    style: LengthStyle = LengthStyle.EIGHTHS,
) -> bytes:
    """The bytes of a PDF with every one of ``tries``: a picture, its name, and the figures to compare.

    On one sheet, up to ``MOST_ON_A_SHEET``; the rest on further ones. Where many share a sheet, each has
    fewer figures. ``paper`` None is what the user's country prints on. Raises ``ExportError`` where there is
    no try.
    """
    if not tries:
        raise ExportError("there is no try to print", where=f"patch “{patch}”", do="keep one first")
    need_application()
    paper = paper or home_paper()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(RESOLUTION)
    writer.setCreator("Wedgewright")
    writer.setTitle(short_name(patch))
    writer.setPageLayout(
        QPageLayout(
            QPageSize(QSizeF(paper.width, paper.height), QPageSize.Unit.Millimeter, paper.name),
            QPageLayout.Orientation.Portrait,
            QMarginsF(0, 0, 0, 0),
        )
    )
    parts = [tries[at : at + MOST_ON_A_SHEET] for at in range(0, len(tries), MOST_ON_A_SHEET)]
    with QPainter(writer) as painter:
        for number, part in enumerate(parts, start=1):
            if number > 1:
                writer.newPage()
            _Sheet(painter, paper, style).draw(patch, part, len(tries), number, len(parts))
    return bytes(buffer.data().data())


@dataclass(frozen=True, slots=True)
class _InCell:
    """From cloth mm to the page's dots."""

    scale: float
    left: float
    top: float

    def point_to_screen(self, point: Point) -> Point:
        return (self.left + point[0] * self.scale, self.top + point[1] * self.scale)


class _Sheet:
    """Draws one sheet; all places in mm on the page."""

    def __init__(self, painter: QPainter, paper: Paper, style: LengthStyle) -> None:
        self.painter, self.paper, self.style = painter, paper, style

    def draw(self, patch: str, tries: Sequence[NamedFit], count: int, number: int, of: int) -> None:
        left, top = _MARGIN, _MARGIN
        right, bottom = self.paper.width - _MARGIN, self.paper.height - _MARGIN
        top += self.text(short_name(patch), left, top, right, TextSize.LARGE, bold=True)
        words = tr_n("{count} try", "{count} tries", count)
        if of > 1:
            words = tr("{tries}, sheet {number} of {of}", tries=words, number=number, of=of)
        top += self.text(words, left, top, right, TextSize.BASE) + 1
        below = tr("Pictures to compare, not to size. Print the template to mark from.")
        bottom -= _height(TextSize.SMALL)
        self.text(below, left, bottom, right, TextSize.SMALL)
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
        small = _height(TextSize.SMALL)
        lines = math.ceil(len(figures) / 2) if two else len(figures)
        words = _height(TextSize.BASE) + small * (1 + lines)
        self.picture(fit, x, y, wide, high - words - 2)
        y += high - words
        y += self.text(short_name(name), x, y, x + wide, TextSize.BASE, bold=True)
        y += self.text(verdict(fit), x, y, x + wide, TextSize.SMALL)
        middle = x + wide * _FIRST_COLUMN if two else x + wide
        for place, line in enumerate(figures):
            column, row = divmod(place, lines)
            left, right = (x, middle) if column == 0 else (middle, x + wide)
            self.text(line, left, y + row * small, right, TextSize.SMALL)

    def picture(self, fit: Fit, x: float, y: float, wide: float, high: float) -> None:
        drawing = build(fit, style=self.style, show=_SHOW)
        view = View(wide, high).fitted(drawing.bounds, 2.0)
        shown = _InCell(
            view.scale * DOTS_PER_MM,
            (x + view.point_to_screen((0.0, 0.0))[0]) * DOTS_PER_MM,
            (y + view.point_to_screen((0.0, 0.0))[1]) * DOTS_PER_MM,
        )
        within = view.visible()
        labels = place_labels(drawing, shown.scale, LOOK, within=within).labels
        if wide < _TWO_COLUMNS:  # the figures of findings would hide the wedges; their signs stay
            labels = tuple(placed for placed in labels if placed.label.role is Role.STITCH)
        paint(drawing, self.painter, shown, LOOK, window=within, labels=labels)
        pen = QPen(QColor(PAPER[Role.QUIET]), STROKES[Role.QUIET].width * _POINT)
        self.painter.setPen(pen)
        self.painter.setBrush(Qt.BrushStyle.NoBrush)
        self.painter.drawRect(_box(x, y, x + wide, y + high))

    def text(
        self, text: str, left: float, top: float, right: float, size: TextSize, *, bold: bool = False
    ) -> float:
        """One line, cut short where it is too long. mm that it takes."""
        pixels = round(TEXT_POINTS[size] * _POINT)
        self.painter.setFont(font(pixels, bold=bold))
        self.painter.setPen(QColor(PAPER[Role.TEXT]))
        width = round((right - left) * DOTS_PER_MM)
        shown = metrics(pixels, bold=bold).elidedText(text, Qt.TextElideMode.ElideRight, width)
        height = _height(size)
        box = _box(left, top, right, top + height)
        self.painter.drawText(box, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), shown)
        return height


def _height(size: TextSize) -> float:
    """mm: of a line."""
    return TEXT_POINTS[size] * 1.3 * 25.4 / 72


def _box(left: float, top: float, right: float, bottom: float) -> QRectF:
    dots = DOTS_PER_MM
    return QRectF(left * dots, top * dots, (right - left) * dots, (bottom - top) * dots)
