"""The picture of one fit as it will look on the quilt: cloth and thread, and nothing of the bench.

Every pass of the thread is painted by itself, so that where many of them meet, at the anchor, they gather on
the screen as they will on the cloth. Lines of their true width take long; while the hand moves they are
hairlines, and the picture at rest is kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from PySide6.QtCore import QPointF, QRect, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPixmap, QPolygonF

from app.sketch.palette import Palette, Role
from app.sketch.quilted import QuiltedLook, dashes
from app.sketch.view import View
from app.window.overlay_painter import OverlayPainter
from app.window.picture import Scene
from geometry import Fit
from geometry.types import Points
from geometry.units import LengthStyle


@dataclass(frozen=True, slots=True)
class _Key:
    fit: int
    look: QuiltedLook
    view: View
    palette: int
    ratio: float
    style: LengthStyle
    font: str


class QuiltedPicture:
    """Paints scenes so."""

    def __init__(self) -> None:
        self._kept: QPixmap | None = None
        self._key: _Key | None = None
        self._of: tuple[Fit, Palette] | None = None
        """Held, so that no other takes their place in memory."""

    def paint(self, painter: QPainter, scene: Scene, look: QuiltedLook, *, fine: bool) -> None:
        """Paint ``scene`` over the whole of the painter's device."""
        if not fine:
            _paint(painter, scene, look, fine=False)
            return
        view = scene.view
        key = _Key(
            id(scene.fit), look, view, id(scene.palette), scene.ratio, scene.style, scene.font.key()
        )  # fmt: skip
        if self._kept is None or key != self._key:
            pixmap = QPixmap(QSize(round(view.width * scene.ratio), round(view.height * scene.ratio)))
            pixmap.setDevicePixelRatio(scene.ratio)
            with QPainter(pixmap) as over:
                _paint(over, scene, look, fine=True)
            self._kept, self._key, self._of = pixmap, key, (scene.fit, scene.palette)
        painter.drawPixmap(0, 0, self._kept)


def _paint(painter: QPainter, scene: Scene, look: QuiltedLook, *, fine: bool) -> None:
    view, patch = scene.view, scene.fit.patch
    painter.save()
    painter.fillRect(QRect(0, 0, round(view.width), round(view.height)), QColor(scene.palette[Role.FRAME]))
    cloth = QPainterPath()
    cloth.setFillRule(Qt.FillRule.OddEvenFill)
    for ring in (patch.outline, *patch.holes):
        cloth.addPolygon(_on_screen(view, ring))
        cloth.closeSubpath()
    painter.fillPath(cloth, QColor(look.cloth))  # its edge lies under the seam, and need not be smooth
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.setPen(_thread(scene, look, fine=fine))
    line = scene.fit.path.line
    points = [QPointF(x, y) for x, y in view.to_screen(line.points).tolist()]
    for begin, end in pairwise(line.cuts.tolist()):
        painter.drawPolyline(points[begin : end + 1])
    painter.setPen(QPen(QColor(scene.palette[Role.QUIET]), 0.0))  # the seam: a shadow, not a line of thread
    painter.drawPath(cloth)
    OverlayPainter(painter, view, scene.palette, scene.font).ruler(scene.style, plate=True)
    painter.restore()


def _thread(scene: Scene, look: QuiltedLook, *, fine: bool) -> QPen:
    scale = scene.view.scale
    if not fine:
        return QPen(QColor(look.thread), 0.0)
    pen = QPen(QColor(look.thread), look.width * scale)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    parts = dashes(scene.fit.settings.stitch_length, look.width, scale)
    if parts is not None:
        # Qt counts dashes in widths of the pen; the round ends stand half a width out of either end.
        dash, gap = parts.stitch / look.width - 1.0, parts.gap / look.width + 1.0
        pen.setDashPattern([max(dash, 0.01), gap])
    return pen


def _on_screen(view: View, points: Points) -> QPolygonF:
    return QPolygonF([QPointF(x, y) for x, y in view.to_screen(points).tolist()])
