"""The photo on the canvas: as it was taken, and squared up beneath the patches; warped once, then laid."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPainterPath, QPen, QPixmap, QTransform

from app.plan.photo import Photo
from app.sketch.palette import Palette, Role
from app.sketch.view import View
from geometry import WedgewrightError
from geometry.rectify import Matrix, Rectified
from geometry.types import Point

_MOST_PIXELS: Final = 9_000_000
"""Of a squared photo: 36 MB, and as fine as a photo in a plan."""
_AROUND: Final = 3.0
"""How far a squared photo reaches beyond the block or the sheet, in times of its longer side: near the
horizon it would have no end."""
_GLASS: Final = 88.0
"""px: radius of the magnifier."""
_LARGER: Final = 4.0
_LEAST_LARGE: Final = 3.0
"""Of the magnifier: times the scale of the canvas, and px for a pixel of the photo at least."""


@dataclass(frozen=True, slots=True, eq=False)
class Beneath:
    """A squared photo, ready to be laid beneath the patches."""

    pixmap: QPixmap
    box: QRectF
    """mm: where it lies on the cloth."""
    known: QRectF
    """mm: the block or the sheet in it."""
    strength: float
    """0 to 1."""

    def paint(self, painter: QPainter, view: View, *, fine: bool) -> None:
        """Lay it onto the cloth as ``view`` shows it."""
        left, top = view.point_to_screen((self.box.left(), self.box.top()))
        target = QRectF(left, top, self.box.width() * view.scale, self.box.height() * view.scale)
        painter.save()
        painter.setOpacity(self.strength)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, fine)
        painter.drawPixmap(target, self.pixmap, QRectF(self.pixmap.rect()))
        painter.restore()


class PhotoPicture:
    """Keeps what was made of one photo."""

    def __init__(self) -> None:
        self._data = b""
        self._taken = QPixmap()
        self._beneath: Beneath | None = None
        self._beneath_of: tuple[Matrix, float] | None = None
        self._laid: QPixmap | None = None
        self._laid_of: tuple[Beneath, View, float, str] | None = None

    def paint_taken(self, painter: QPainter, view: View, photo: Photo, *, fine: bool) -> None:
        """The photo as it was taken; of ``view`` a mm is a pixel of it."""
        left, top = view.point_to_screen((0.0, 0.0))
        target = QRectF(left, top, photo.width * view.scale, photo.height * view.scale)
        painter.save()
        # Where pixels are seen as such their edges help.
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, fine and view.scale < _LEAST_LARGE)
        painter.drawPixmap(target, self._pixmap(photo), QRectF(0, 0, photo.width, photo.height))
        painter.restore()

    def magnify(self, painter: QPainter, view: View, palette: Palette, photo: Photo, at: Point) -> None:
        """The photo around ``at`` in a round glass in the corner that is farthest from it."""
        x, y = view.point_to_screen(at)
        room = _GLASS + 16
        middle = QPointF(
            room if x > view.width / 2 else view.width - room,
            room if y > view.height / 2 else view.height - room,
        )
        scale = max(view.scale * _LARGER, _LEAST_LARGE)
        half = _GLASS / scale
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        glass = QPainterPath()
        glass.addEllipse(middle, _GLASS, _GLASS)
        painter.fillPath(glass, QColor(palette[Role.FRAME]))
        painter.setClipPath(glass)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, scale < 2 * _LEAST_LARGE)
        painter.drawPixmap(
            QRectF(middle.x() - _GLASS, middle.y() - _GLASS, 2 * _GLASS, 2 * _GLASS),
            self._pixmap(photo),
            QRectF(at[0] - half, at[1] - half, 2 * half, 2 * half),
        )
        for colour, width in ((palette[Role.FRAME], 4.0), (palette[Role.FOCUS], 1.5)):
            painter.setPen(QPen(QColor(colour), width))
            for way in (QPointF(1, 0), QPointF(-1, 0), QPointF(0, 1), QPointF(0, -1)):
                painter.drawLine(middle + way * 6, middle + way * (_GLASS * 0.45))
        painter.setClipping(False)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(palette[Role.FOCUS]), 2.5))
        painter.drawEllipse(middle, _GLASS, _GLASS)
        painter.restore()

    def beneath(self, photo: Photo | None, strength: float) -> Beneath | None:
        """The photo squared up; None where too little is known of it. The same object for the same photo."""
        try:
            squared = None if photo is None else photo.squared
        except WedgewrightError:
            return None  # Photo mode says why
        if photo is None or squared is None or photo.size is None:
            return None
        pixmap = self._pixmap(photo)
        made, of = self._beneath, self._beneath_of
        if made is None or of is None or not np.array_equal(of[0], squared.to_cloth):
            known = QRectF(0, 0, *photo.size)
            warped, box = _warped(pixmap.toImage(), squared, known)
            made = Beneath(QPixmap.fromImage(warped), box, known, strength)
        elif made.strength != strength:
            made = Beneath(made.pixmap, made.box, made.known, strength)
        self._beneath, self._beneath_of = made, (squared.to_cloth, strength)
        return made

    def lay(
        self, painter: QPainter, view: View, beneath: Beneath, ground: QColor, ratio: float, *, fine: bool
    ) -> None:
        """``beneath`` on ``ground``, over the whole of the painter's device; kept while nothing changes."""
        if not fine and self._laid_of is not None and self._laid_of[1] != view:
            painter.fillRect(QRectF(0, 0, view.width, view.height), ground)
            beneath.paint(painter, view, fine=False)
            return
        key = (beneath, view, ratio, ground.name())
        if self._laid is None or self._laid_of != key:
            laid = QPixmap(round(view.width * ratio), round(view.height * ratio))
            laid.setDevicePixelRatio(ratio)
            laid.fill(ground)
            with QPainter(laid) as onto:
                beneath.paint(onto, view, fine=True)
            self._laid, self._laid_of = laid, key
        painter.drawPixmap(0, 0, self._laid)

    def _pixmap(self, photo: Photo) -> QPixmap:
        if photo.data is not self._data:
            self._taken = QPixmap.fromImage(QImage.fromData(photo.data))
            self._data, self._beneath = photo.data, None
        return self._taken


def _warped(taken: QImage, squared: Rectified, known: QRectF) -> tuple[QImage, QRectF]:
    """``taken`` as seen straight from above, and its box on the cloth, mm."""
    reach = max(known.width(), known.height()) * _AROUND
    box = known.adjusted(-reach, -reach, reach, reach)
    edge = [(0, 0), (taken.width(), 0), (taken.width(), taken.height()), (0, taken.height())]
    seen = squared.on_cloth(np.array(edge, dtype=np.float64))
    if not np.isnan(seen).any():
        (left, top), (right, bottom) = seen.min(axis=0), seen.max(axis=0)
        box = box.intersected(QRectF(left, top, right - left, bottom - top))
    corners = squared.in_photo(
        np.array([(known.left(), known.top()), (known.right(), known.bottom())], dtype=np.float64)
    )
    fine = min(squared.mm_per_pixel((float(x), float(y))) for x, y in corners)
    scale = min(1 / fine, math.sqrt(_MOST_PIXELS / (box.width() * box.height())))
    width, height = (max(round(side * scale), 1) for side in (box.width(), box.height()))
    made = QImage(width, height, QImage.Format.Format_ARGB32_Premultiplied)
    made.fill(Qt.GlobalColor.transparent)
    # Qt's points are rows: its matrix is the transpose of ours.
    onto_cloth = QTransform(*(float(value) for value in squared.to_cloth.T.ravel()))
    onto_picture = QTransform.fromTranslate(-box.left(), -box.top()) * QTransform.fromScale(
        width / box.width(), height / box.height()
    )
    with QPainter(made) as painter:
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, True)
        painter.setTransform(onto_cloth * onto_picture)
        painter.drawImage(0, 0, taken)
    return made, box
