"""The picture of a walk: what is stitched solid, the rest faint, the needle on top.

What is still to come is painted once, in hairlines. On a copy of it grows what is stitched, segment by
segment, so that a frame of a walk that plays paints a segment at most. Smooth lines of their true weight take
long (a second for 60 wedges with 4 echoes at double scale); where the hand scrubs far, lines come without
smooth edges at once, and smoothly a few at a time as soon as it rests.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import shapely
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPainterPath, QPen, QPixmap, QPolygonF

from app.exporting.painter import Look as PaintLook
from app.exporting.painter import inks, paint, place_labels
from app.exporting.symbols import symbol_shape
from app.sketch.display_list import DisplayList, SymbolKind
from app.sketch.modes.overlay import HandleState, Walked
from app.sketch.palette import STROKES, SYMBOL_SIZE, Role
from app.sketch.translate import tr
from app.sketch.view import View
from app.sketch.walk_display import above, below, stitched, to_come, under_way
from app.window.overlay_painter import OverlayPainter
from app.window.picture import Scene
from geometry import Fit
from geometry.types import Point
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

_SHARE: Final = 0.4
"""Of the shorter side of the canvas: how wide the picture of the turned cloth is."""
_LEAST: Final = 130.0
_MOST: Final = 240.0
"""px: at least so wide it is, or left out; and at most."""
_SIZES: Final = 6
"""Between the two that are tried."""
_BETTER: Final = 0.02
"""Share of its area by which a smaller one must cover less."""
_NAMES: Final = 24.0
"""px around the patch in which the names of its marks stand."""
_INSIDE: Final = 12.0
_ASIDE: Final = 12.0
_BELOW: Final = 8.0
"""px: from its ring to the cloth inside, to the edges of the canvas, and below its words."""


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
        self._layers = _Layers(plain=False)
        self._turned = TurnedPicture()

    def paint(self, painter: QPainter, scene: Scene, walked: Walked, *, resting: bool) -> bool:
        """Paint ``scene`` as far as it is ``walked`` over the whole of the painter's device.

        False where there is more to be painted smoothly, and another call is wanted as soon as may be.
        """
        finished = self._layers.paint(painter, scene, walked, resting=resting)
        if walked.towards is not None:
            finished &= self._turned.paint(painter, scene, walked, walked.towards, resting=resting)
        return finished


class TurnedPicture:
    """Paints in a corner how the cloth lies under a machine that stitches towards the quilter."""

    def __init__(self) -> None:
        self._layers = _Layers(plain=True)
        self._place: tuple[Fit, View, QRectF | None] | None = None

    def paint(
        self, painter: QPainter, scene: Scene, walked: Walked, towards: float, *, resting: bool
    ) -> bool:
        """As ``WalkPicture.paint``; where there is no room it is left out."""
        ring = self._ring(scene)
        if ring is None:
            return True
        across = ring.width()
        middle, reach = _around(scene.fit)
        view = View(across, across, (across / 2 - _INSIDE) / reach, middle)
        painter.save()
        inside = QPainterPath()
        inside.addEllipse(ring)
        painter.setClipPath(inside)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, True)
        painter.translate(ring.center())
        painter.rotate(math.degrees(math.pi / 2 - towards))
        painter.translate(-across / 2, -across / 2)
        finished = self._layers.paint(painter, replace(scene, view=view), walked, resting=resting)
        painter.restore()
        self._frame(painter, scene, ring)
        return finished

    def _ring(self, scene: Scene) -> QRectF | None:
        """In the corner where it covers least of the patch, not that of the ruler at the lower left; as large
        as it can be there, and at least so large that it can be read.
        """
        if self._place is None or self._place[0] is not scene.fit or self._place[1] != scene.view:
            self._place = (scene.fit, scene.view, _place_of_ring(scene))
        return self._place[2]

    def _frame(self, painter: QPainter, scene: Scene, ring: QRectF) -> None:
        """The ring, and under it which side the quilter sits at."""
        metrics, words = QFontMetricsF(scene.font), tr("towards you")
        wide = metrics.horizontalAdvance(words) + 2 * _ARROW
        box = QRectF(ring.center().x() - wide / 2, ring.bottom() + 4, wide, metrics.height() + 4)
        colours = inks(scene.palette)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(QPen(colours[Role.QUIET], 1.5))
        painter.drawEllipse(ring)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colours[Role.FRAME])
        painter.drawRoundedRect(box, 4, 4)
        shape = symbol_shape(SymbolKind.ARROW, math.pi / 2) * (_ARROW / 2)
        middle = (box.left() + _ARROW * 0.7, box.center().y())
        painter.setBrush(colours[Role.TEXT])
        painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in (shape + middle).tolist()]))
        painter.setPen(colours[Role.TEXT])
        painter.setFont(scene.font)
        painter.drawText(box.adjusted(_ARROW * 1.3, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, words)
        painter.restore()


@lru_cache(maxsize=4)
def _around(fit: Fit) -> tuple[Point, float]:
    """The least circle around the patch: middle and radius, mm."""
    circle = shapely.minimum_bounding_circle(fit.patch.polygon)
    middle = circle.centroid
    return (middle.x, middle.y), shapely.minimum_bounding_radius(fit.patch.polygon)


def _place_of_ring(scene: Scene) -> QRectF | None:
    view = scene.view
    patch = scene.fit.patch.polygon.buffer(_NAMES / view.scale, join_style="mitre")
    below = QFontMetricsF(scene.font).height() + _BELOW
    most = min(_SHARE * min(view.width, view.height), _MOST)
    if most < _LEAST:
        return None

    def covered(ring: QRectF) -> float:
        """Share of the ring, with its words as wide as it is."""
        left, top = view.to_cloth((ring.left(), ring.top()))
        right, bottom = view.to_cloth((ring.right(), ring.bottom()))
        low = view.to_cloth((0.0, ring.bottom() + below))[1]
        disc = shapely.Point((left + right) / 2, (top + bottom) / 2).buffer((right - left) / 2)
        words = shapely.box(left, bottom, right, low)
        return float(
            (shapely.intersection(patch, disc).area + shapely.intersection(patch, words).area) / disc.area
        )

    best, least = None, math.inf
    for across in (most * step / _SIZES + _LEAST * (1 - step / _SIZES) for step in range(_SIZES, -1, -1)):
        right, low = view.width - across - _ASIDE, view.height - across - below - _ASIDE
        for x, y in ((right, _ASIDE), (_ASIDE, _ASIDE), (right, low)):
            ring = QRectF(x, y, across, across)
            share = covered(ring)
            if share < least - _BETTER:
                best, least = ring, share
    return best


class _Layers:
    """What is to come, and on a copy of it what is stitched so far."""

    def __init__(self, *, plain: bool) -> None:
        """``plain``: without words, which would be turned, and without the ruler."""
        self._plain = plain
        self._key: _Key | None = None
        self._to_come: QPixmap | None = None
        self._done: QPixmap | None = None
        self._done_to = 0
        """Segments that are on ``_done``."""

    def paint(self, painter: QPainter, scene: Scene, walked: Walked, *, resting: bool) -> bool:
        """As ``WalkPicture.paint``, with the needle on top."""
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
                if not self._plain:
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
