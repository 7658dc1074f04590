"""The picture of a walk: what is stitched solid, the rest faint, the needle on top.

What is still to come is painted once. On a copy of it grows what is stitched, segment by segment, so that a
frame of a walk that plays paints a segment at most. A hand that scrubs far gets edges that are not smooth,
until it rests.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QPointF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPixmap, QPolygonF

from app.exporting.painter import Look as PaintLook
from app.exporting.painter import inks, paint, place_labels
from app.exporting.symbols import symbol_shape
from app.sketch.display_list import DisplayList, SymbolKind
from app.sketch.modes.overlay import HandleState, Walked
from app.sketch.palette import STROKES, SYMBOL_SIZE, Role
from app.sketch.view import View
from app.sketch.walk_display import stitched, to_come, under_way
from app.window.overlay_painter import OverlayPainter
from app.window.picture import Scene
from geometry import Fit
from geometry.units import LengthStyle

_AT_ONCE: Final = 12
"""Segments that are painted smoothly within one frame; more of them wait for the hand to rest."""

_NEEDLE: Final = 5.0
"""px: radius of the ring around the place where the needle is."""
_ARROW: Final = 20.0
_AHEAD: Final = 20.0
"""px: size of the arrowhead, and from the needle to its middle."""


@dataclass(frozen=True, slots=True)
class _Key:
    fit: Fit
    view: View
    palette: int
    ratio: float
    style: LengthStyle
    font: str


class WalkPicture:
    """Paints walks."""

    def __init__(self) -> None:
        self._key: _Key | None = None
        self._to_come: QPixmap | None = None
        self._done: QPixmap | None = None
        self._done_to = 0
        """Segments that are on ``_done``."""

    def paint(self, painter: QPainter, scene: Scene, walked: Walked, *, fine: bool) -> None:
        """Paint ``scene`` as far as it is ``walked`` over the whole of the painter's device."""
        segment, walk = walked.reading.segment, walked.walk
        to_come = self._pixmap_to_come(scene, walked)
        more = segment - self._done_to
        if self._done is not None and (0 <= more <= _AT_ONCE or fine):
            if more < 0:
                with QPainter(self._done) as over:
                    over.drawPixmap(0, 0, to_come)
                self._done_to = 0
            if self._done_to < segment:
                with QPainter(self._done) as over:
                    _paint(over, stitched(walk, self._done_to, segment), scene, smooth=True)
                self._done_to = segment
            painter.drawPixmap(0, 0, self._done)
        else:
            painter.drawPixmap(0, 0, to_come)
            _paint(painter, stitched(walk, 0, segment), scene, smooth=False)
        _paint(painter, under_way(walk, segment, walked.reading.place), scene, smooth=True)
        _needle(painter, scene, walked)

    def _pixmap_to_come(self, scene: Scene, walked: Walked) -> QPixmap:
        key = _Key(
            scene.fit, scene.view, id(scene.palette), scene.ratio, scene.style, scene.font.key()
        )  # fmt: skip
        if self._to_come is None or key != self._key:
            size = QSize(round(scene.view.width * scene.ratio), round(scene.view.height * scene.ratio))
            pixmap = QPixmap(size)
            pixmap.setDevicePixelRatio(scene.ratio)
            pixmap.fill(QColor(scene.palette[Role.FRAME]))
            with QPainter(pixmap) as painter:
                _paint_to_come(painter, scene, walked)
                painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
                OverlayPainter(painter, scene.view, scene.palette, scene.font).ruler(scene.style)
            self._to_come, self._key = pixmap, key
            self._done, self._done_to = pixmap.copy(), 0
        return self._to_come


def _paint(painter: QPainter, display_list: DisplayList, scene: Scene, *, smooth: bool) -> None:
    """One of the lists without words."""
    look = _look(scene, smooth=smooth)
    paint(display_list, painter, scene.view, look, window=scene.view.visible(), labels=())


def _paint_to_come(painter: QPainter, scene: Scene, walked: Walked) -> None:
    display_list = to_come(scene.fit, walked.walk, scene.style)
    look, within = _look(scene, smooth=True), scene.view.visible()
    labels = place_labels(display_list, scene.view.scale, look, within=within)
    paint(display_list, painter, scene.view, look, window=within, labels=labels.labels)


def _look(scene: Scene, *, smooth: bool) -> PaintLook:
    return PaintLook(palette=scene.palette, point=scene.point, smooth=smooth, handle=SYMBOL_SIZE)


def _needle(painter: QPainter, scene: Scene, walked: Walked) -> None:
    """A ring around the place, and ahead of it an arrowhead the way the line runs, on a ground of cloth."""
    x, y = scene.view.point_to_screen(walked.reading.at)
    heading = walked.reading.heading
    shape = symbol_shape(SymbolKind.ARROW, heading) * _ARROW
    ahead = symbol_shape(SymbolKind.ARROW, heading)[0] / 0.6 * _AHEAD
    arrow = QPolygonF([QPointF(px, py) for px, py in (shape + ahead + (x, y)).tolist()])
    colours = inks(scene.palette)
    ink, ground = colours[Role.FOCUS], colours[Role.CLOTH]
    ring = _NEEDLE + (1.0 if walked.state is not HandleState.IDLE else 0.0)
    weight = STROKES[Role.FOCUS].width
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    for colour, width in ((ground, weight + 3), (ink, weight)):
        pen = QPen(colour, width)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.setPen(pen)
        painter.setBrush(ink if walked.state is HandleState.HELD else ground)
        painter.drawEllipse(QPointF(x, y), ring, ring)
        painter.setPen(pen if colour is ground else Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        painter.drawPolygon(arrow)
    painter.setBrush(Qt.BrushStyle.NoBrush)
