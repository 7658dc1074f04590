"""The picture of a walk: what is stitched solid, the rest faint, the needle on top.

What is still to come is painted once, in hairlines. On a copy of it grows what is stitched, segment by
segment, so that a frame of a walk that plays paints a segment at most. Smooth lines of their true weight take
long (a second for 60 wedges with 4 echoes at double scale); where the hand scrubs far, lines come without
smooth edges at once, and smoothly a few at a time as soon as it rests.
"""

from __future__ import annotations

import time
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
from app.sketch.walk_display import above, below, stitched, to_come, under_way
from app.window.overlay_painter import OverlayPainter
from app.window.picture import Scene
from geometry import Fit
from geometry.units import LengthStyle

_AT_ONCE: Final = 8
"""Segments that are painted smoothly while the hand moves; more of them wait for it to rest."""

_AT_REST: Final = 0.016
"""s: for so long segments are painted smoothly before the hand is looked at again."""

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

    def paint(self, painter: QPainter, scene: Scene, walked: Walked, *, resting: bool) -> bool:
        """Paint ``scene`` as far as it is ``walked`` over the whole of the painter's device.

        False where there is more to be painted smoothly, and another call is wanted as soon as may be.
        """
        segment, walk = walked.reading.segment, walked.walk
        done = self._pixmap_done(scene, walked)
        if resting or segment - self._done_to <= _AT_ONCE:
            self._go_on(done, scene, walked)
        painter.drawPixmap(0, 0, done)
        finished = self._done_to == segment
        if not finished:
            _paint(painter, stitched(walk, self._done_to, segment), scene, smooth=False)
        _paint(painter, under_way(walk, segment, walked.reading.place), scene)
        _needle(painter, scene, walked)
        return finished or not resting

    def _go_on(self, done: QPixmap, scene: Scene, walked: Walked) -> None:
        """Stitch on ``done`` what is still missing there, as much as there is time for."""
        until = time.perf_counter() + _AT_REST
        with QPainter(done) as over:
            while self._done_to < walked.reading.segment:
                to = min(self._done_to + _AT_ONCE, walked.reading.segment)
                _paint(over, stitched(walked.walk, self._done_to, to), scene)
                self._done_to = to
                if time.perf_counter() > until:
                    break

    def _pixmap_done(self, scene: Scene, walked: Walked) -> QPixmap:
        """What is stitched so far, and never more than that."""
        key = _Key(scene.fit, scene.view, id(scene.palette), scene.ratio, scene.style, scene.font.key())
        if self._to_come is None or key != self._key:
            size = QSize(round(scene.view.width * scene.ratio), round(scene.view.height * scene.ratio))
            pixmap = QPixmap(size)
            pixmap.setDevicePixelRatio(scene.ratio)
            pixmap.fill(QColor(scene.palette[Role.FRAME]))
            with QPainter(pixmap) as painter:
                _paint(painter, below(scene.fit, scene.style), scene)
                _paint(painter, to_come(walked.walk), scene, fine=False)
                _paint_above(painter, scene)
                painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
                OverlayPainter(painter, scene.view, scene.palette, scene.font).ruler(scene.style)
            self._to_come, self._key, self._done = pixmap, key, None
        if self._done is None or self._done_to > walked.reading.segment:
            self._done, self._done_to = self._to_come.copy(), 0
        return self._done


def _paint(
    painter: QPainter, display_list: DisplayList, scene: Scene, *, fine: bool = True, smooth: bool = True
) -> None:
    """One of the lists without words."""
    look = _look(scene, fine=fine, smooth=smooth)
    paint(display_list, painter, scene.view, look, window=scene.view.visible(), labels=())


def _paint_above(painter: QPainter, scene: Scene) -> None:
    display_list = above(scene.fit, scene.style)
    look, within = _look(scene), scene.view.visible()
    labels = place_labels(display_list, scene.view.scale, look, within=within)
    paint(display_list, painter, scene.view, look, window=within, labels=labels.labels)


def _look(scene: Scene, *, fine: bool = True, smooth: bool = True) -> PaintLook:
    return PaintLook(palette=scene.palette, point=scene.point, fine=fine, smooth=smooth, handle=SYMBOL_SIZE)


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
