"""Small drawings: the signs of the levels, and the icons of the toolbar. All are our own."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPainterPath, QPen, QPixmap, QPolygonF

from app.exporting.symbols import symbol_shape
from app.sketch.display_list import SymbolKind
from app.sketch.palette import Palette, Role
from geometry.findings import Level

LEVEL_ROLES: Final = {
    Level.PROBLEM: Role.PROBLEM,
    Level.CAUTION: Role.CAUTION,
    Level.NOTE: Role.NOTE,
}

ICON_SIZE: Final = 20
ICON_WIDTH: Final = 26
"""With some air between the drawing and the words beside it."""


def paint_level(painter: QPainter, box: QRectF, level: Level, palette: Palette) -> None:
    """A filled triangle for a problem, a hollow one for a caution, a dot for a note."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    colour = QColor(palette[LEVEL_ROLES[level]])
    if level is Level.NOTE:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        painter.drawEllipse(box.center(), box.width() / 4, box.width() / 4)
    else:
        corners = symbol_shape(SymbolKind.FILLED_TRIANGLE) * (box.width() - 2)
        middle = box.center()
        painter.setPen(QPen(colour, 2.0, j=Qt.PenJoinStyle.MiterJoin))
        painter.setBrush(colour if level is Level.PROBLEM else Qt.BrushStyle.NoBrush)
        painter.drawPolygon(QPolygonF([QPointF(middle.x() + x, middle.y() + y) for x, y in corners.tolist()]))
    painter.restore()


def icon(name: str, palette: Palette, *, alone: bool = False) -> QIcon:
    """The icon of that name in the inks in force: plain, switched on (on ink), and not to be had.

    ``alone``: there are no words beside it.
    """
    made = QIcon()
    for ratio in (1, 2):
        for state, role in ((QIcon.State.Off, Role.TEXT), (QIcon.State.On, Role.FRAME)):
            made.addPixmap(_pixmap(name, QColor(palette[role]), ratio, alone), QIcon.Mode.Normal, state)
        made.addPixmap(_pixmap(name, QColor(palette[Role.MARGIN_EDGE]), ratio, alone), QIcon.Mode.Disabled)
    return made


def _pixmap(name: str, ink: QColor, ratio: int, alone: bool) -> QPixmap:
    pixmap = QPixmap((ICON_SIZE if alone else ICON_WIDTH) * ratio, ICON_SIZE * ratio)
    pixmap.setDevicePixelRatio(ratio)
    pixmap.fill(Qt.GlobalColor.transparent)
    pen = QPen(ink, 1.75)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    with QPainter(pixmap) as painter:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(pen)
        _ICONS[name](painter, ink)
    return pixmap


def _line(painter: QPainter, *points: tuple[float, float], closed: bool = False) -> None:
    shape = QPolygonF([QPointF(x, y) for x, y in points])
    if closed:
        painter.drawPolygon(shape)
    else:
        painter.drawPolyline(shape)


def _dot(painter: QPainter, ink: QColor, x: float, y: float, radius: float = 2.2) -> None:
    painter.save()
    painter.setBrush(ink)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.drawEllipse(QPointF(x, y), radius, radius)
    painter.restore()


def _square(painter: QPainter, x: float, y: float) -> None:
    painter.drawRect(QRectF(x - 2.4, y - 2.4, 4.8, 4.8))


def _draw(painter: QPainter, ink: QColor) -> None:
    """An outline that is not closed yet."""
    _line(painter, (3, 15), (6, 4), (16, 6), (15, 14))
    _dot(painter, ink, 3, 15)
    _dot(painter, ink, 15, 14)


def _shape(painter: QPainter, ink: QColor) -> None:
    """A corner being pulled out."""
    _line(painter, (3, 17), (3, 6), (12.5, 6.2))
    _line(painter, (15, 8.5), (16, 17), (3, 17))
    _square(painter, 15, 5)


def _anchor(painter: QPainter, ink: QColor) -> None:
    """Lines that gather."""
    for x, y in ((2.5, 5), (7, 2.5), (13, 2.5), (17.5, 5)):
        _line(painter, (10, 15), (x, y))
    _dot(painter, ink, 10, 15, 3.2)


def _marks(painter: QPainter, ink: QColor) -> None:
    """Marks along an edge, one of them the user's own."""
    _line(painter, (1.5, 10), (3.5, 10))
    painter.drawEllipse(QPointF(5.8, 10), 2.3, 2.3)
    _line(painter, (8.1, 10), (10, 10))
    _line(painter, (10, 10), (13.5, 6.5), (17, 10), (13.5, 13.5), closed=True)
    _line(painter, (17, 10), (19, 10))


def _undo(painter: QPainter, ink: QColor) -> None:
    path = QPainterPath(QPointF(4, 8))
    path.lineTo(12, 8)
    path.cubicTo(18.5, 8, 18.5, 16, 12, 16)
    path.lineTo(8, 16)
    painter.drawPath(path)
    _line(painter, (8, 3.5), (3.5, 8), (8, 12.5))


def _redo(painter: QPainter, ink: QColor) -> None:
    _mirrored(painter)
    _undo(painter, ink)


def _fit(painter: QPainter, ink: QColor) -> None:
    """Corners of a view around a patch."""
    for x, y, dx, dy in ((2.5, 2.5, 1, 1), (17.5, 2.5, -1, 1), (17.5, 17.5, -1, -1), (2.5, 17.5, 1, -1)):
        _line(painter, (x + 4 * dx, y), (x, y), (x, y + 4 * dy))
    _line(painter, (6.5, 13), (9, 6.5), (13.5, 9), (12, 13.5), closed=True)


def _template(painter: QPainter, ink: QColor) -> None:
    """A sheet of paper with a wedge on it."""
    _line(painter, (4, 2.5), (16, 2.5), (16, 17.5), (4, 17.5), closed=True)
    _line(painter, (10, 14), (6.8, 6), (13.2, 6), closed=True)


def _float(painter: QPainter, ink: QColor) -> None:
    """One sheet lifted off another."""
    _line(painter, (6, 6), (16, 6), (16, 16), (6, 16), closed=True)
    _line(painter, (3.5, 12.5), (3.5, 3.5), (12.5, 3.5))


def _close(painter: QPainter, ink: QColor) -> None:
    _line(painter, (5, 5), (15, 15))
    _line(painter, (15, 5), (5, 15))


def _less(painter: QPainter, ink: QColor) -> None:
    _line(painter, (4.5, 10), (15.5, 10))


def _more(painter: QPainter, ink: QColor) -> None:
    _less(painter, ink)
    _line(painter, (10, 4.5), (10, 15.5))


def _triangle(painter: QPainter, ink: QColor, left: float, right: float) -> None:
    """A solid one that points from ``left`` to ``right``."""
    painter.save()
    painter.setBrush(ink)
    _line(painter, (left, 5), (right, 10), (left, 15), closed=True)
    painter.restore()


def _play(painter: QPainter, ink: QColor) -> None:
    _triangle(painter, ink, 6.5, 15)


def _pause(painter: QPainter, ink: QColor) -> None:
    for x in (6, 11.5):
        painter.fillRect(QRectF(x, 4.5, 3, 11), ink)


def _step_on(painter: QPainter, ink: QColor) -> None:
    """One stitched line further, to the next dot."""
    _line(painter, (2.5, 10), (10, 10))
    _line(painter, (6.5, 5.5), (11, 10), (6.5, 14.5))
    _dot(painter, ink, 16, 10)


def _step_back(painter: QPainter, ink: QColor) -> None:
    _mirrored(painter)
    _step_on(painter, ink)


def _wedge_on(painter: QPainter, ink: QColor) -> None:
    """On to the next wedge."""
    _line(painter, (2, 10), (8, 10))
    _line(painter, (5, 6.5), (8.5, 10), (5, 13.5))
    _line(painter, (11.5, 10), (18, 4.5), (18, 15.5), closed=True)


def _wedge_back(painter: QPainter, ink: QColor) -> None:
    _mirrored(painter)
    _wedge_on(painter, ink)


def _mirrored(painter: QPainter) -> None:
    painter.translate(ICON_SIZE, 0)
    painter.scale(-1, 1)


def _walk(painter: QPainter, ink: QColor) -> None:
    """A needle under way along a wedge, the rest of it still dotted."""
    _line(painter, (3, 16), (6, 4), (12, 3.5))
    _dot(painter, ink, 13.5, 5, 2.6)
    for x, y in ((12, 9), (9.5, 11.5), (7, 14)):
        _dot(painter, ink, x + 2, y, 1.0)


_ICONS: Final[dict[str, Callable[[QPainter, QColor], None]]] = {
    "draw": _draw,
    "shape": _shape,
    "anchor": _anchor,
    "undo": _undo,
    "redo": _redo,
    "fit": _fit,
    "template": _template,
    "float": _float,
    "close": _close,
    "less": _less,
    "more": _more,
    "marks": _marks,
    "walk": _walk,
    "play": _play,
    "pause": _pause,
    "step-on": _step_on,
    "step-back": _step_back,
    "wedge-on": _wedge_on,
    "wedge-back": _wedge_back,
}
