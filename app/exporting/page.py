"""One sheet of a template: its part of the drawing, and what a quilter needs to put the sheets together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.exporting.label_places import PlacedLabel
from app.exporting.painter import Look, font, metrics, paint
from app.exporting.sheets import LARGE_SQUARE, SMALL_SQUARE, RegisterMark, Sheet, Sheets
from app.exporting.words import Paragraph
from app.sketch.display_list import DisplayList
from app.sketch.palette import LEAST_POINTS, PAPER, STROKES, SYMBOL_SIZE, TEXT_POINTS, Role, TextSize
from app.sketch.translate import tr
from geometry.types import Point, Points

RESOLUTION: Final = 1200
"""Dots per inch of the page's coordinates, which need not be whole; it sets how finely text is measured."""

DOTS_PER_MM: Final = RESOLUTION / 25.4
_POINT: Final = RESOLUTION / 72

LOOK: Final = Look(palette=PAPER, unit=_POINT, point=_POINT, handle=1.5 * SYMBOL_SIZE, cut=True)

_OVER: Final = 2.0
"""mm: how far letters may reach over the edge of the window."""
_REGISTER_ARM: Final = 4.0
"""mm: half the width of a register mark."""
_GUTTER: Final = 4.0
"""mm between squares, words and map."""
_MAP: Final = 36.0
"""mm: the most that the sheet map takes, across or down."""
_LEAST_WORDS: Final = 60.0
"""mm: what the map leaves for the words, where they stand beside it."""


@dataclass(frozen=True, slots=True)
class _OnPage:
    """The mapping from template mm to the page's dots."""

    sheet: Sheet
    scale: float = DOTS_PER_MM

    def point_to_screen(self, point: Point) -> Point:
        x, y = self.sheet.to_page(point)
        return (x * self.scale, y * self.scale)


def draw_page(
    painter: QPainter,
    drawing: DisplayList,
    labels: Sequence[PlacedLabel],
    sheets: Sheets,
    sheet: Sheet,
    rings: Sequence[Points],
    words: Sequence[Paragraph],
) -> None:
    """Draw ``sheet``. ``rings`` is the patch, for the sheet map; ``labels``: the drawing's, placed."""
    left, top, right, bottom = sheet.window
    below = sheets.band[2] - sheets.band[0] > sheets.band[3] - sheets.band[1]
    # Letters may reach into the margins, but not towards the band.
    readable = (
        left - _OVER,
        top - _OVER,
        right + (_OVER if below else 0.0),
        bottom + (0.0 if below else _OVER),
    )
    paint(
        drawing,
        painter,
        _OnPage(sheet),
        LOOK,
        window=sheet.window,
        labels=labels,
        labels_within=readable,
    )
    page = _Page(painter)
    for mark in sheet.marks:
        page.register_mark(mark, sheet.to_page(mark.at))
    left, top, right, bottom = sheets.band
    page.squares(left, top)
    several = len(sheets.sheets) > 1
    if below:
        left += LARGE_SQUARE + _GUTTER
        if several:
            across = min(_MAP, right - left - _LEAST_WORDS)
            right -= page.map(sheets, sheet, rings, (right - across, top, right, bottom))[0] + _GUTTER
    else:
        top += LARGE_SQUARE + _GUTTER
        left += _GUTTER / 2  # the drawing reaches nearly to the band, and letters must not run into it
        if several:
            bottom -= page.map(sheets, sheet, rings, (left, bottom - _MAP, right, bottom))[1] + _GUTTER
    page.words(words, (left, top, right, bottom))


class _Page:
    """All places in mm on the page."""

    def __init__(self, painter: QPainter) -> None:
        self.painter = painter

    def pen(self, role: Role) -> None:
        stroke = STROKES[role]
        pen = QPen(QColor(PAPER[role]), stroke.width * _POINT)
        pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        self.painter.setPen(pen)
        self.painter.setBrush(Qt.BrushStyle.NoBrush)

    def register_mark(self, mark: RegisterMark, at: Point) -> None:
        x, y = at
        self.pen(Role.TEXT)
        self.painter.drawLine(_at(x - _REGISTER_ARM, y), _at(x + _REGISTER_ARM, y))
        self.painter.drawLine(_at(x, y - _REGISTER_ARM), _at(x, y + _REGISTER_ARM))
        radius = _REGISTER_ARM / 2 * DOTS_PER_MM
        self.painter.drawEllipse(_at(x, y), radius, radius)
        # Beside the cross it would be cut by the next window's edge, so it goes along the strip.
        if mark.upright:
            self.text(mark.name, (x, y + _REGISTER_ARM + 0.5), (0.5, 0.0), TextSize.SMALL)
        else:
            self.text(mark.name, (x + _REGISTER_ARM + 1.0, y), (0.0, 0.5), TextSize.SMALL)

    def squares(self, left: float, top: float) -> None:
        self.pen(Role.TEXT)
        for side in (LARGE_SQUARE, SMALL_SQUARE):
            self.painter.drawRect(_box(left, top, left + side, top + side))
        self.text(tr("1 in"), (left + SMALL_SQUARE / 2, top + SMALL_SQUARE / 2), (0.5, 0.5), TextSize.BASE)
        middle = top + (SMALL_SQUARE + LARGE_SQUARE) / 2
        self.text(tr("50 mm"), (left + LARGE_SQUARE / 2, middle), (0.5, 0.5), TextSize.BASE)

    def text(self, text: str, at: Point, share: Point, size: TextSize) -> None:
        """One line; ``share`` of its box's width and height lies left of and above ``at``."""
        pixels = round(TEXT_POINTS[size] * _POINT)
        measures = metrics(pixels)
        width, height = measures.horizontalAdvance(text), measures.ascent() + measures.descent()
        corner = _at(*at) - QPointF(width * share[0], height * share[1])
        self.painter.fillRect(QRectF(corner.x(), corner.y(), width, height), QColor(PAPER[Role.CLOTH]))
        self.painter.setFont(font(pixels))
        self.painter.setPen(QColor(PAPER[Role.TEXT]))
        self.painter.drawText(corner + QPointF(0, measures.ascent()), text)

    def map(
        self, sheets: Sheets, sheet: Sheet, rings: Sequence[Points], room: tuple[float, float, float, float]
    ) -> Point:
        """The patch under its sheets, this one stressed; in the lower right of ``room``. Width and height."""
        windows = np.array([each.window for each in sheets.sheets])
        low, high = windows[:, :2].min(axis=0), windows[:, 2:].max(axis=0)
        scale = min((room[2:] - np.array(room[:2])) / (high - low))
        corner = np.array(room[2:]) - (high - low) * scale

        def on_page(points: Points) -> Points:
            placed: Points = (points - low) * scale + corner
            return placed

        # Each without its half of what it shares, so that they lie side by side.
        half = sheets.overlap / 2
        starts = np.where(windows[:, :2] > low, windows[:, :2] + half, windows[:, :2])
        ends = np.where(windows[:, 2:] < high, windows[:, 2:] - half, windows[:, 2:])
        cells = {
            each: _box(*on_page(start), *on_page(end))
            for each, start, end in zip(sheets.sheets, starts, ends, strict=True)
        }
        here = QColor(PAPER[Role.OUT_OF_SIGHT])
        here.setAlphaF(0.35)
        self.painter.fillRect(cells[sheet], here)
        self.pen(Role.QUIET)
        for cell in cells.values():
            self.painter.drawRect(cell)
        self.pen(Role.TEXT)
        for ring in rings:
            self.painter.drawPolygon(QPolygonF([_at(x, y) for x, y in on_page(ring).tolist()]))
        self.pen(Role.SEAM)
        self.painter.drawRect(cells[sheet])
        width, height = ((high - low) * scale).tolist()
        return (width, height)

    def words(self, words: Sequence[Paragraph], room: tuple[float, float, float, float]) -> None:
        left, top, right, bottom = room
        width = (right - left) * DOTS_PER_MM
        self.painter.setPen(QColor(PAPER[Role.TEXT]))
        y = top * DOTS_PER_MM
        for paragraph, pixels, height in _fitted(words, width, (bottom - top) * DOTS_PER_MM):
            self.painter.setFont(font(pixels, bold=paragraph.bold))
            self.painter.drawText(QRectF(left * DOTS_PER_MM, y, width, height), _WRAPPED, paragraph.text)
            y += height + _BETWEEN * DOTS_PER_MM


_WRAPPED: Final = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
_BETWEEN: Final = 1.0
"""mm between paragraphs."""


def _sizes() -> Iterator[Mapping[TextSize, float]]:
    """Points of each size of text, from the best on: the small is made smaller first, the base is kept."""
    small, base, large = TEXT_POINTS[TextSize.SMALL], TEXT_POINTS[TextSize.BASE], TEXT_POINTS[TextSize.LARGE]
    for shrink_small, shrink in ((1, 1), (0.95, 1), (0.8, 1), (0.8, 0.9), (0.8, 0.8), (0.8, 0.7)):
        shrunk = (small * shrink_small, base * shrink, large * shrink)
        yield dict(zip(TextSize, (max(points, LEAST_POINTS) for points in shrunk), strict=True))


def _fitted(words: Sequence[Paragraph], width: float, height: float) -> list[tuple[Paragraph, int, float]]:
    """(paragraph, size of its font, height) that fit, all in dots.

    Smaller where they must be, never below the least size, and without those of the least weight where that
    does not do.
    """
    kept = list(words)
    while True:
        for sizes in _sizes():
            fitted = [(each, *_measured(each, width, sizes[each.size])) for each in kept]
            needed = sum(each[2] for each in fitted) + (len(fitted) - 1) * _BETWEEN * DOTS_PER_MM
            if needed <= height or len(kept) == 1:
                return fitted
        kept.remove(min(kept, key=lambda each: each.weight))


@lru_cache(maxsize=256)  # most paragraphs are the same on every sheet
def _measured(paragraph: Paragraph, width: float, points: float) -> tuple[int, float]:
    pixels = round(points * _POINT)
    room = QRectF(0, 0, width, 1e6)
    return (
        pixels,
        metrics(pixels, bold=paragraph.bold).boundingRect(room, _WRAPPED, paragraph.text).height(),
    )


def _at(x: float, y: float) -> QPointF:
    return QPointF(x * DOTS_PER_MM, y * DOTS_PER_MM)


def _box(left: float, top: float, right: float, bottom: float) -> QRectF:
    return QRectF(_at(left, top), _at(right, bottom))
