"""One sheet of a template: its part of the drawing, and what a quilter needs to put the sheets together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.exporting.clip import Window
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
"""mm: how far letters may reach over the edge of the window, where the margin is wide."""
UNPRINTED: Final = 6.35
"""mm: a home printer leaves no more than this unprinted (common practice, no source)."""
CAPTION: Final = 6.0
"""mm: height of a patch's name above it, where several share a sheet."""
_REGISTER_ARM: Final = 4.0
"""mm: half the width of a register mark."""
_GUTTER: Final = 4.0
"""mm between squares, words and map."""
_MAP: Final = 36.0
"""mm: the most that the sheet map takes, across or down."""
_LEAST_WORDS: Final = 60.0
"""mm: what the map leaves for the words, where they stand beside it."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """What of one patch is drawn on a page."""

    drawing: DisplayList
    labels: Sequence[PlacedLabel]
    """The drawing's."""
    window: Window
    """mm, template: nothing is drawn beyond it."""
    origin: Point
    """mm, page: where the window's upper left corner comes."""
    caption: str = ""
    """Stands in the window's first ``CAPTION`` mm."""


@dataclass(frozen=True, slots=True)
class _OnPage:
    """The mapping from template mm to the page's dots."""

    part: Part
    scale: float = DOTS_PER_MM

    def point_to_screen(self, point: Point) -> Point:
        (left, top, _, _), (x, y) = self.part.window, self.part.origin
        return ((point[0] - left + x) * self.scale, (point[1] - top + y) * self.scale)


@dataclass(frozen=True, slots=True, eq=False)
class OneOfSeveral:
    """A sheet among those that hold one patch together."""

    sheets: Sheets
    sheet: Sheet
    rings: Sequence[Points]
    """The patch, mm of the template."""


def draw_page(
    painter: QPainter,
    band: Window,
    parts: Sequence[Part],
    words: Sequence[Paragraph],
    among: OneOfSeveral | None = None,
) -> None:
    """Draw a page: ``parts`` in their places, squares and ``words`` in the ``band`` (mm, page)."""
    left, top, right, bottom = band
    below = right - left > bottom - top
    page = _Page(painter)
    for part in parts:
        paint(
            part.drawing,
            painter,
            _OnPage(part),
            LOOK,
            window=part.window,
            labels=part.labels,
            labels_within=_readable(part, below),
        )
        if part.caption:
            page.caption(part)
    several = among is not None and len(among.sheets.sheets) > 1
    if among is not None:
        for mark in among.sheet.marks:
            page.register_mark(mark, among.sheet.to_page(mark.at))
    page.squares(left, top)
    if below:
        left += LARGE_SQUARE + _GUTTER
        if among is not None and several:
            across = min(_MAP, right - left - _LEAST_WORDS)
            right -= page.map(among, (right - across, top, right, bottom))[0] + _GUTTER
    else:
        top += LARGE_SQUARE + _GUTTER
        left += _GUTTER / 2  # the drawing reaches nearly to the band, and letters must not run into it
        if among is not None and several:
            bottom -= page.map(among, (left, bottom - _MAP, right, bottom))[1] + _GUTTER
    page.words(words, (left, top, right, bottom))


def _readable(part: Part, below: bool) -> Window:
    """mm, template: letters may reach into the margins where these are wide, but not towards the band."""
    left, top, right, bottom = part.window
    over = 0.0 if part.caption else min(max(part.origin[0] - UNPRINTED, 0.0), _OVER)
    return (left - over, top - over, right + (over if below else 0.0), bottom + (0.0 if below else over))


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

    def caption(self, part: Part) -> None:
        """The name of the patch above it, in the middle, as much of it as has room."""
        pixels = round(TEXT_POINTS[TextSize.BASE] * _POINT)
        left, _, right, _ = part.window
        x, y = part.origin
        room = QRectF(_at(x, y), _at(x + right - left, y + CAPTION))
        measures = metrics(pixels, bold=True)
        name = measures.elidedText(part.caption, Qt.TextElideMode.ElideRight, room.width())
        self.painter.setFont(font(pixels, bold=True))
        self.painter.setPen(QColor(PAPER[Role.TEXT]))
        self.painter.drawText(room, int(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop), name)

    def map(self, among: OneOfSeveral, room: tuple[float, float, float, float]) -> Point:
        """The patch under its sheets, this one stressed; in the lower right of ``room``. Width and height."""
        sheets, sheet = among.sheets, among.sheet
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
        for ring in among.rings:
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
