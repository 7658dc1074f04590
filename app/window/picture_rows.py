"""Rows of a list that show a fit each: a small true picture, name, verdict with its sign, a quiet line."""

from __future__ import annotations

from typing import Final, Protocol

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPixmap
from PySide6.QtWidgets import QStyledItemDelegate, QStyleOptionViewItem, QWidget

from app.exporting.painter import Look as PaintLook
from app.exporting.painter import paint
from app.sketch.display_list import Show, build
from app.sketch.palette import Palette, Role
from app.sketch.view import View
from app.window.glyphs import paint_level
from app.window.list_rows import Index, paint_ground
from app.window.look import Look
from app.window.word_list import two_lines
from geometry import Fit
from geometry.findings import Level

_PICTURE: Final = QSize(80, 64)
ROW_HEIGHT: Final = 88
_PICTURES_KEPT: Final = 256
_SHOW: Final = Show(
    margin_edge=False, marks=False, mark_names=False, numbers=False, travel=False, findings=False
)
"""At this size signs would hide the wedges; the verdict beside the picture has its own."""


class Rows(Protocol):
    """What each row says."""

    def fit_at(self, row: int) -> Fit | None:
        """The fit that is pictured, or None where there can be none."""

    def words_at(self, row: int) -> tuple[str, str, str]:
        """Name, verdict, and the quiet line below; each may be empty."""


class PictureRows(QStyledItemDelegate):
    """Paints them."""

    def __init__(self, rows: Rows, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self._rows = rows
        self._look = look
        self._pictures: dict[tuple[int, int, float], tuple[Fit, QPixmap]] = {}

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        lines = 4 if self._look.text_scale <= 1 else 5  # larger words need more of them
        return QSize(200, max(ROW_HEIGHT, lines * option.fontMetrics.height() + 12))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        palette = self._look.palette
        box = QRectF(option.rect)
        painter.save()
        paint_ground(painter, option, palette)
        fit = self._rows.fit_at(index.row())
        left = box.left() + 16
        if fit is not None:
            ratio = painter.device().devicePixelRatioF()
            picture = self._picture(fit, palette, ratio)
            painter.drawPixmap(round(left), round(box.center().y() - _PICTURE.height() / 2), picture)
        left += _PICTURE.width() + 12
        self._words(painter, QRectF(left, box.top(), box.right() - 8 - left, box.height()), index.row())
        painter.restore()

    def _words(self, painter: QPainter, box: QRectF, row: int) -> None:
        palette = self._look.palette
        name, verdict, below = self._rows.words_at(row)
        bold = QFont(painter.font())
        bold.setBold(True)
        metrics = QFontMetricsF(bold)
        names = two_lines(name, metrics, box.width())
        quiet = two_lines(below, QFontMetricsF(painter.font()), box.width()) if below else []
        quiet = quiet[: max(int((box.height() - 4) // metrics.height()) - 1 - len(names), 1)]
        line = metrics.height()
        top = box.center().y() - line * (len(names) + 1 + len(quiet)) / 2
        left_aligned = Qt.AlignmentFlag.AlignLeft
        plain = painter.font()
        painter.setFont(bold)
        painter.setPen(QColor(palette[Role.TEXT]))
        for words in names:
            painter.drawText(QRectF(box.left(), top, box.width(), line), left_aligned, words)
            top += line
        painter.setFont(plain)
        level = worst(self._rows.fit_at(row))
        left = box.left()
        if level is not None:
            paint_level(painter, QRectF(left, top + (line - 13) / 2, 13, 13), level, palette)
            left += 18
        painter.drawText(QRectF(left, top, box.right() - left, line), left_aligned, verdict)
        painter.setPen(QColor(palette[Role.QUIET]))
        for words in quiet:
            top += line
            painter.drawText(QRectF(box.left(), top, box.width(), line), left_aligned, words)

    def _picture(self, fit: Fit, palette: Palette, ratio: float) -> QPixmap:
        key = (id(fit), id(palette), ratio)
        held = self._pictures.get(key)
        if held is not None and held[0] is fit:
            return held[1]
        pixmap = QPixmap(_PICTURE * ratio)
        pixmap.setDevicePixelRatio(ratio)
        pixmap.fill(Qt.GlobalColor.transparent)
        view = View(_PICTURE.width(), _PICTURE.height()).fitted(fit.patch.polygon.bounds, 3)
        look = PaintLook(palette=palette, fine=False, handle=6)
        with QPainter(pixmap) as painter:
            paint(build(fit, show=_SHOW), painter, view, look, labels=())
        while len(self._pictures) >= _PICTURES_KEPT:
            self._pictures.pop(next(iter(self._pictures)))
        self._pictures[key] = (fit, pixmap)
        return pixmap


def worst(fit: Fit | None) -> Level | None:
    """The level to show a sign for; notes are no verdict."""
    levels = {finding.level for finding in fit.findings} if fit is not None else set()
    return next((level for level in (Level.PROBLEM, Level.CAUTION) if level in levels), None)
