"""What all cards are drawn with: lines of text, small pictures, rules. All places in mm on the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QMarginsF, QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import QColor, QPageLayout, QPageSize, QPainter, QPen

from app.exporting.label_places import PlacedLabel
from app.exporting.page import DOTS_PER_MM, LOOK, RESOLUTION
from app.exporting.painter import font, metrics, paint, place_labels
from app.exporting.sheets import Paper
from app.sketch.display_list import DisplayList
from app.sketch.palette import PAPER, STROKES, TEXT_POINTS, Role, TextSize
from app.sketch.translate import tr
from app.sketch.view import View
from geometry.types import Point

_POINT: Final = RESOLUTION / 72
PAGE_MARGIN: Final = 12.7
"""mm: printers at home leave half an inch white."""
_WRAPPED: Final = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
_LINE: Final = 1.3
"""Height of a line, in times of its letters' size."""
LETTERS: Final = 14.0
"""mm around a patch in a picture for letters, both sides together."""
_CLEAR: Final = 2.0
"""mm around what a picture shows."""


def upright(paper: Paper) -> QPageLayout:
    """``paper`` without margins of its own: Qt would shift everything by them."""
    return QPageLayout(
        QPageSize(QSizeF(paper.width, paper.height), QPageSize.Unit.Millimeter, paper.name),
        QPageLayout.Orientation.Portrait,
        QMarginsF(0, 0, 0, 0),
    )


def line_height(size: TextSize) -> float:
    """mm: of a line of text."""
    return TEXT_POINTS[size] * _LINE * 25.4 / 72


def heading_height() -> float:
    """mm that ``CardPage.heading`` takes."""
    return line_height(TextSize.LARGE) + line_height(TextSize.BASE)


def paged_words(words: str, number: int, count: int) -> str:
    """``words`` with the page, from 0, where there are several."""
    if count == 1:
        return words
    return tr("{words}, page {number} of {count}", words=words, number=number + 1, count=count)


def text_width(text: str, size: TextSize, *, bold: bool = False) -> float:
    """mm: of one line of text."""
    return metrics(_pixels(size), bold=bold).horizontalAdvance(text) / DOTS_PER_MM


def natural_height(bounds: tuple[float, float, float, float], wide: float) -> float:
    """mm of a picture ``wide`` mm wide that a patch with these (left, top, right, bottom) fills."""
    left, top, right, bottom = bounds
    return (bottom - top) / (right - left) * (wide - LETTERS) + LETTERS


def wrapped_height(text: str, wide: float, size: TextSize, *, bold: bool = False) -> float:
    """mm that ``text`` takes in lines of ``wide`` mm."""
    room = QRectF(0, 0, wide * DOTS_PER_MM, 1e6)
    return metrics(_pixels(size), bold=bold).boundingRect(room, _WRAPPED, text).height() / DOTS_PER_MM


@dataclass(frozen=True, slots=True)
class _InCell:
    """From cloth mm to the page's dots."""

    scale: float
    left: float
    top: float

    def point_to_screen(self, point: Point) -> Point:
        return (self.left + point[0] * self.scale, self.top + point[1] * self.scale)


class CardPage:
    """Draws on one page of ``paper``."""

    def __init__(self, painter: QPainter, paper: Paper) -> None:
        self.painter, self.paper = painter, paper
        self.left, self.top = PAGE_MARGIN, PAGE_MARGIN
        self.right, self.bottom = paper.width - PAGE_MARGIN, paper.height - PAGE_MARGIN

    def text(
        self,
        text: str,
        left: float,
        top: float,
        right: float,
        size: TextSize,
        *,
        bold: bool = False,
        at_right: bool = False,
    ) -> float:
        """One line, cut short where it is too long. mm that it takes."""
        pixels = _pixels(size)
        self.painter.setFont(font(pixels, bold=bold))
        self.painter.setPen(QColor(PAPER[Role.TEXT]))
        width = round((right - left) * DOTS_PER_MM)
        shown = metrics(pixels, bold=bold).elidedText(text, Qt.TextElideMode.ElideRight, width)
        height = line_height(size)
        side = Qt.AlignmentFlag.AlignRight if at_right else Qt.AlignmentFlag.AlignLeft
        box = _box(left, top, right, top + height)
        self.painter.drawText(box, int(side | Qt.AlignmentFlag.AlignVCenter), shown)
        return height

    def heading(self, title: str, subtitle: str) -> float:
        """Both lines at the head of a page. mm, how far down they reach; ``heading_height`` in all."""
        y = self.top + self.text(title, self.left, self.top, self.right, TextSize.LARGE, bold=True)
        return y + self.text(subtitle, self.left, y, self.right, TextSize.BASE)

    def wrapped(
        self, text: str, left: float, top: float, right: float, size: TextSize, *, bold: bool = False
    ) -> float:
        """As many lines as it takes. mm that they take."""
        height = wrapped_height(text, right - left, size, bold=bold)
        self.painter.setFont(font(_pixels(size), bold=bold))
        self.painter.setPen(QColor(PAPER[Role.TEXT]))
        self.painter.drawText(_box(left, top, right, top + height + 1), _WRAPPED, text)
        return height

    def rule(self, left: float, top: float, right: float) -> None:
        """A quiet level line."""
        self._quiet_pen()
        self.painter.drawLine(
            QPointF(left * DOTS_PER_MM, top * DOTS_PER_MM), QPointF(right * DOTS_PER_MM, top * DOTS_PER_MM)
        )

    def frame(self, left: float, top: float, right: float, bottom: float) -> None:
        """A quiet box."""
        self._quiet_pen()
        self.painter.setBrush(Qt.BrushStyle.NoBrush)
        self.painter.drawRect(_box(left, top, right, bottom))

    def picture(
        self,
        drawings: Sequence[DisplayList],
        left: float,
        top: float,
        wide: float,
        high: float,
        *,
        labels_of: Sequence[Role] | None = None,
    ) -> None:
        """``drawings`` over each other as large as they go in, not to size. ``labels_of``: only these."""
        view = View(wide, high).fitted(drawings[0].bounds, _CLEAR)
        x, y = view.point_to_screen((0.0, 0.0))
        shown = _InCell(view.scale * DOTS_PER_MM, (left + x) * DOTS_PER_MM, (top + y) * DOTS_PER_MM)
        within = view.visible()
        below = None
        placed: list[tuple[DisplayList, tuple[PlacedLabel, ...]]] = []
        for drawing in drawings:
            below = place_labels(drawing, shown.scale, LOOK, below, within=within)
            placed.append((drawing, below.labels))
        for drawing, labels in placed:
            kept = tuple(each for each in labels if labels_of is None or each.label.role in labels_of)
            paint(drawing, self.painter, shown, LOOK, window=within, labels=kept)

    def _quiet_pen(self) -> None:
        self.painter.setPen(QPen(QColor(PAPER[Role.QUIET]), STROKES[Role.QUIET].width * _POINT))


def _pixels(size: TextSize) -> int:
    return round(TEXT_POINTS[size] * _POINT)


def _box(left: float, top: float, right: float, bottom: float) -> QRectF:
    dots = DOTS_PER_MM
    return QRectF(left * dots, top * dots, (right - left) * dots, (bottom - top) * dots)
