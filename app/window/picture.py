"""The picture of one fit: cached where nothing moves, thin while the hand moves, fine when it rests."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from PySide6.QtCore import QRect, QRectF, QSize
from PySide6.QtGui import QColor, QFont, QPainter, QPixmap

from app.exporting.label_places import Disc, Placed
from app.exporting.painter import Look as PaintLook
from app.exporting.painter import paint, place_labels
from app.sketch.anchor_map_display import MapSigns
from app.sketch.display_list import MARK_DISTANCE, DisplayList, LayerName, Show, build, still_key
from app.sketch.palette import HANDLE_SIZE, Palette, Role
from app.sketch.view import View
from app.window.anchor_map_painter import paint_legend, paint_map
from app.window.overlay_painter import MARK_ROOM, OverlayPainter
from app.window.photo_picture import Beneath
from geometry import Fit
from geometry.units import LengthStyle

MOVING_WORDS: Final = 12
"""Findings that keep their words while the hand moves: more are not read, and are looked for in vain."""


MOVING_ECHOES: Final = 64
"""Echoes that are worked out and drawn while the hand moves: more would hold it up."""


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Everything that the picture depends on."""

    fit: Fit
    style: LengthStyle
    view: View
    palette: Palette
    ratio: float
    """Device pixels per logical pixel."""
    point: float
    """Logical pixels per typographic point."""
    font: QFont
    """Of the ruler in the corner."""
    highlight: int | None = None
    marks: bool = True
    mark_handles: bool = False
    """Whether each mark has one; its name makes way for it."""
    clear: tuple[Disc, ...] = ()
    """What lies on top, where no words of the picture should be."""
    signs: MapSigns | None = None
    """The anchor map, which lies under the fan."""
    beneath: Beneath | None = None
    """The photo, which lies on the cloth and under everything else."""

    @property
    def show(self) -> Show:
        """What of the fit is in the picture. The anchor's handle is its mode's, on top of everything."""
        distance = MARK_ROOM / 2 + 2 if self.mark_handles else MARK_DISTANCE
        return Show(anchor=False, marks=self.marks, mark_names=self.marks, mark_distance=distance)


@dataclass(frozen=True, slots=True)
class _StillKey:
    fit: tuple[object, ...]
    view: View
    palette: int
    ratio: float
    marks: bool
    mark_handles: bool
    style: LengthStyle
    font: str
    signs: MapSigns | None
    beneath: Beneath | None


@dataclass(frozen=True, slots=True, eq=False)
class _Prepared:
    scene: Scene
    drawing: DisplayList
    labels: Placed


class Picture:
    """Paints scenes, each as fast as it can be."""

    def __init__(self) -> None:
        self._still: QPixmap | None = None
        self._still_key: _StillKey | None = None
        self._still_labels: Placed | None = None
        self._fine: QPixmap | None = None
        self._fine_of: Scene | None = None
        self._prepared: _Prepared | None = None

    def prepare(self, scene: Scene) -> QRect | None:
        """Make ready what moves in ``scene``, and tell the box it lies in, logical pixels, a handle on every
        anchor included. None where what does not move has changed too.
        """
        if self._still is None or self._key(scene) != self._still_key:
            return None
        self._prepared = made = self._moving(scene, fine=False)
        view = scene.view
        x0, y0, x1, y1 = made.drawing.bounds
        (left, top), (right, bottom) = view.point_to_screen((x0, y0)), view.point_to_screen((x1, y1))
        box = QRectF(left, top, right - left, bottom - top).adjusted(
            -HANDLE_SIZE, -HANDLE_SIZE, HANDLE_SIZE, HANDLE_SIZE
        )
        for placed in made.labels.labels:
            x0, y0, x1, y1 = placed.box(view.point_to_screen(placed.label.at))
            box = box.united(QRectF(x0, y0, x1 - x0, y1 - y0).adjusted(-2, -2, 2, 2))
        return box.toAlignedRect()

    def paint(self, painter: QPainter, scene: Scene, *, fine: bool) -> None:
        """Paint ``scene`` over the whole of the painter's device."""
        if fine:
            painter.drawPixmap(0, 0, self._fine_pixmap(scene))
            return
        painter.drawPixmap(0, 0, self._still_pixmap(scene))
        self._paint_moving(painter, scene, fine=False)

    def _fine_pixmap(self, scene: Scene) -> QPixmap:
        if self._fine is None or self._fine_of is None or not _same(self._fine_of, scene):
            self._fine = self._still_pixmap(scene).copy()
            with QPainter(self._fine) as painter:
                self._paint_moving(painter, scene, fine=True)
            self._fine_of = scene
        return self._fine

    @staticmethod
    def _key(scene: Scene) -> _StillKey:
        return _StillKey(
            still_key(scene.fit), scene.view, id(scene.palette), scene.ratio, scene.marks,
            scene.mark_handles, scene.style, scene.font.key(), scene.signs, scene.beneath,
        )  # fmt: skip

    def _still_pixmap(self, scene: Scene) -> QPixmap:
        fit, key = scene.fit, self._key(scene)
        if self._still is None or key != self._still_key:
            size = QSize(round(scene.view.width * scene.ratio), round(scene.view.height * scene.ratio))
            pixmap = QPixmap(size)
            pixmap.setDevicePixelRatio(scene.ratio)
            pixmap.fill(QColor(scene.palette[Role.FRAME]))
            still = build(fit, style=scene.style, show=scene.show.still())
            self._still_labels = place_labels(
                still, scene.view.scale, _look(scene, fine=True), within=scene.view.visible()
            )
            with QPainter(pixmap) as painter:
                self._paint_still(painter, still, scene, self._still_labels)
                painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
                OverlayPainter(painter, scene.view, scene.palette, scene.font).ruler(
                    scene.style, plate=scene.beneath is not None
                )
            self._still, self._still_key = pixmap, key
        return self._still

    @staticmethod
    def _paint_still(painter: QPainter, still: DisplayList, scene: Scene, labels: Placed) -> None:
        """What does not move, and between the cloth and everything else the photo and the anchor map."""
        if scene.signs is None and scene.beneath is None:
            _paint(painter, still, scene, labels, fine=True)
            return
        ground = [layer for layer in still.layers if layer.name is LayerName.CLOTH]
        others = [layer for layer in still.layers if layer.name is not LayerName.CLOTH]
        look = _look(scene, fine=True)
        paint(DisplayList(tuple(ground), still.bounds), painter, scene.view, look, labels=())
        if scene.beneath is not None:
            scene.beneath.paint(painter, scene.view, fine=True)
        if scene.signs is not None:
            paint_map(painter, scene.view, scene.palette, scene.signs)
        _paint(painter, DisplayList(tuple(others), still.bounds), scene, labels, fine=True)
        if scene.signs is not None:
            paint_legend(painter, scene.view, scene.palette, scene.font)

    def _moving(self, scene: Scene, *, fine: bool) -> _Prepared:
        # The wedges' numbers wait for the hand to rest: they would dance, and take as long as the lines. What
        # is worked out late waits too; of a crowd of echoes all of them, and of findings most words.
        inside = fine or not _crowd_of_echoes(scene.fit)
        show = replace(
            scene.show.moving(),
            numbers=fine,
            late_findings=fine,
            echoes=inside,
            travel=inside,
            words=None if fine else MOVING_WORDS,
        )
        moving = build(scene.fit, style=scene.style, show=show)
        look = _look(scene, fine=fine)
        within = scene.view.visible()
        labels = place_labels(moving, scene.view.scale, look, self._still_labels, within, scene.clear)
        return _Prepared(scene, moving, labels)

    def _paint_moving(self, painter: QPainter, scene: Scene, *, fine: bool) -> None:
        made = self._prepared
        if fine or made is None or not _same(made.scene, scene):
            made = self._moving(scene, fine=fine)
        _paint(painter, made.drawing, scene, made.labels, fine=fine)


def _crowd_of_echoes(fit: Fit) -> bool:
    """Whether they wait for the hand to rest, and with them the travel from one to the next."""
    return sum(len(fan.wedges) for fan in fit.prompt_fans) * fit.settings.echo_count > MOVING_ECHOES


def _same(one: Scene, other: Scene) -> bool:
    return (
        one.fit is other.fit
        and one.palette is other.palette
        and one.signs is other.signs
        and one.beneath is other.beneath
        and _compared(one) == _compared(other)
    )


def _compared(scene: Scene) -> tuple[object, ...]:
    """What is compared by value."""
    return (
        scene.style, scene.view, scene.ratio, scene.point, scene.font, scene.highlight, scene.marks,
        scene.mark_handles, scene.clear,
    )  # fmt: skip


def _look(scene: Scene, *, fine: bool) -> PaintLook:
    return PaintLook(palette=scene.palette, point=scene.point, fine=fine)


def _paint(painter: QPainter, display_list: DisplayList, scene: Scene, labels: Placed, *, fine: bool) -> None:
    paint(
        display_list,
        painter,
        scene.view,
        _look(scene, fine=fine),
        window=scene.view.visible(),
        labels=labels.labels,
        highlight=scene.highlight,
    )
