"""Paints the anchor map and its legend; once for a view, into the picture of what does not move."""

from __future__ import annotations

from typing import Final

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen

from app.sketch.anchor_map_display import SIZES, MapSigns, map_legend
from app.sketch.palette import Palette, Role
from app.sketch.view import View

_FULL: Final = (4.0, 10.0)
"""px: the largest sign is within these, and as wide as ``_SHARE`` of the distance between two."""
_SHARE: Final = 0.6
_LEAST: Final = 0.3
"""Of the largest: the smallest."""
_ROLES: Final = {False: Role.QUIET, True: Role.MARGIN_EDGE}
"""Of signs without and with a cross. Both hold 3 : 1 against the cloth."""
_LEGEND_FULL: Final = 9.0


def paint_map(painter: QPainter, view: View, palette: Palette, signs: MapSigns) -> None:
    """The signs of all anchors that are in view."""
    places = view.to_screen(signs.places)
    seen = ((places > -_FULL[1]) & (places < np.array([view.width, view.height]) + _FULL[1])).all(axis=1)
    least, most = _FULL
    full = min(max(_SHARE * signs.step * view.scale, least), most)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    for crossed in (False, True):
        for size in range(SIZES):
            which = seen & (signs.size == size) & (signs.crossed == crossed)
            _sign(painter, palette, places[which].tolist(), _wide(size, full), crossed=crossed)
    painter.restore()


def paint_legend(painter: QPainter, view: View, palette: Palette, font: QFont) -> None:
    """What the signs mean, in the lower right corner."""
    metrics = QFontMetricsF(font)
    entries = map_legend()
    room, apart = 16.0, 12.0
    advances = [metrics.horizontalAdvance(words) + (6.0 if words else 0.0) for _, _, words in entries]
    width = sum(advances) + len(entries) * room + (len(entries) - 1) * apart
    height = metrics.height() + 8
    left, top = view.width - width - 24, view.height - height - 8
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.setFont(font)
    for (size, crossed, words), advance in zip(entries, advances, strict=True):
        middle = (left + room / 2, top + height / 2)
        _sign(painter, palette, [middle], _wide(size, _LEGEND_FULL), crossed=crossed)
        painter.setPen(QColor(palette[Role.QUIET]))
        box = QRectF(left + room + 6, top, advance + 1, height)
        painter.drawText(box, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, words)
        left += room + advance + apart
    painter.restore()


def _wide(size: int, full: float) -> float:
    return full * (_LEAST + (1.0 - _LEAST) * size / (SIZES - 1))


def _sign(
    painter: QPainter, palette: Palette, middles: list[tuple[float, float]], wide: float, *, crossed: bool
) -> None:
    """Dots, or crosses, ``wide`` px wide."""
    pen = QPen(QColor(palette[_ROLES[crossed]]), 1.0 if crossed else wide)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(pen)
    if not crossed:
        painter.drawPoints([QPointF(x, y) for x, y in middles])
        return
    arm = 0.45 * wide
    lines = [QLineF(x - arm, y - way * arm, x + arm, y + way * arm) for x, y in middles for way in (1, -1)]
    painter.drawLines(lines)
