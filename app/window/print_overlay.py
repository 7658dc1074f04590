"""The sheets of a print laid over the patch, as large as there is room."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import Final

import numpy as np
import shapely
from PySide6.QtCore import QPointF, QRectF, QSize, QSizeF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget
from shapely.geometry.base import BaseGeometry

from app.exporting.clip import Window
from app.exporting.label_places import PlacedLabel
from app.exporting.painter import Look as PaintLook
from app.exporting.painter import paint, place_labels
from app.sketch.display_list import DisplayList, Line, Symbol
from app.sketch.palette import STROKES, Role
from app.sketch.translate import tr
from app.sketch.view import View
from app.window.look import Look
from app.window.print_spreads import SheetOutline, Spread

_BORDER: Final = 16.0
_INSET: Final = 8.0
"""px, left and right of the words in a sheet together."""
_EDGE: Final = 2.0
"""px, of the words from the part that is the sheet's own."""
_CLEAR: Final = 4.0
"""px, of the words from all that lies there, so that two names are not read as one."""
_SHARES: Final = tuple(np.linspace(0.0, 1.0, 9).tolist())
"""How far across and down words are tried."""
_NAME: Final = 1000
"""What a name or a sign under the words costs; a line costs 1, as it is still seen beside them."""
_HANDLE: Final = 12.0


class SheetsOverlay(QWidget):
    """Paints one spread; knows nothing of jobs."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._spread: Spread | None = None
        self._drawings: tuple[DisplayList, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(320, 240))
        look.changed.connect(self.update)

    def show_spread(self, spread: Spread | None, drawings: Sequence[DisplayList]) -> None:
        """``drawings``: of the spread's patches, each where it lies under the sheets."""
        self._spread, self._drawings = spread, tuple(drawings)
        sheets = "; ".join(sheet.words[0] for sheet in spread.sheets) if spread is not None else ""
        self.setAccessibleName(tr("The sheets, laid over the patch"))
        self.setAccessibleDescription("" if spread is None else f"{spread.words}: {sheets}")
        self.update()

    def view(self) -> View:
        """Where the spread's mm are in the widget."""
        view = View(float(self.width()), float(self.height()))
        return view if self._spread is None else view.fitted(_bounds(self._spread.sheets), _BORDER)

    def paintEvent(self, event: QPaintEvent) -> None:
        with QPainter(self) as painter:
            painter.fillRect(self.rect(), self._look.colour(Role.FRAME))
            if self._spread is None:
                return
            view = self.view()
            rooms = [self._room(view, sheet.window) for sheet in self._spread.sheets]
            for room in rooms:
                painter.fillRect(room, self._look.colour(Role.CLOTH))
            self._paint_overlaps(painter, rooms)
            look = PaintLook(palette=self._look.palette, point=self.logicalDpiY() / 72, handle=_HANDLE)
            taken: list[tuple[BaseGeometry, int]] = []
            for drawing in self._drawings:
                labels = place_labels(drawing, view.scale, look, within=view.visible()).labels
                paint(drawing, painter, view, look, labels=labels)
                taken += _taken(drawing, labels, view)
            painter.setPen(QPen(self._look.colour(Role.NOTE), STROKES[Role.NOTE].width))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            for room in rooms:
                painter.drawRect(room)
            self._write(painter, rooms, self._spread.sheets, Taken(taken))

    def _paint_overlaps(self, painter: QPainter, rooms: Sequence[QRectF]) -> None:
        """What two sheets share is a little darker."""
        shade = QColor(self._look.palette[Role.OUT_OF_SIGHT])
        shade.setAlphaF(0.25)
        for number, room in enumerate(rooms):
            for other in rooms[:number]:
                painter.fillRect(room.intersected(other), shade)

    def _write(
        self, painter: QPainter, rooms: Sequence[QRectF], sheets: Sequence[SheetOutline], taken: Taken
    ) -> None:
        """Row and column in each sheet's own part, where least lies.

        All of them as long as they have room for, unless shorter ones leave more of the drawing to be seen.
        """
        own = [_own_part(room, rooms) for room in rooms]
        room = min((each.size() for each in own), key=lambda size: size.width())
        measures = QFontMetricsF(self.font())

        def plates(told: Sequence[str]) -> list[tuple[QRectF, int]]:
            sizes = [measures.size(0, each) + QSizeF(_INSET, 2) for each in told]
            return [taken.free_place(each, size) for each, size in zip(own, sizes, strict=True)]

        def has_room(told: Sequence[str]) -> bool:
            sizes = [measures.size(0, each) for each in told]
            wide, high = max(size.width() for size in sizes), max(size.height() for size in sizes)
            return wide + 2 * _INSET <= room.width() and high + _INSET <= room.height()

        *longer, shortest = zip(*(sheet.words for sheet in sheets), strict=True)
        forms = [(told, plates(told)) for told in (*filter(has_room, longer), shortest)]
        costs = [shorter + sum(cost for _, cost in placed) for shorter, (_, placed) in enumerate(forms)]
        told, placed = forms[costs.index(min(costs))]
        ground = self._look.colour(Role.CLOTH)
        ground.setAlphaF(0.85)
        painter.setFont(self.font())
        painter.setPen(self._look.colour(Role.TEXT))
        for words, (plate, _) in zip(told, placed, strict=True):
            painter.fillRect(plate, ground)
            painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, words)

    @staticmethod
    def _room(view: View, window: Window) -> QRectF:
        left, top, right, bottom = window
        return QRectF(
            QPointF(*view.point_to_screen((left, top))), QPointF(*view.point_to_screen((right, bottom)))
        )


class Taken:
    """What words should not lie on, px, and what each of it costs."""

    def __init__(self, costs: Sequence[tuple[BaseGeometry, int]]) -> None:
        self._tree = shapely.STRtree([shape for shape, _ in costs])
        self._costs = np.array([cost for _, cost in costs], int)

    def free_place(self, own: QRectF, size: QSizeF) -> tuple[QRectF, int]:
        """Of some places in ``own``, the first that costs least, and how much; the upper left comes first."""
        across = max(own.width() - size.width() - 2 * _EDGE, 0.0)
        down = max(own.height() - size.height() - 2 * _EDGE, 0.0)
        places = [
            QRectF(own.topLeft() + QPointF(_EDGE + x * across, _EDGE + y * down), size)
            for y, x in product(_SHARES, _SHARES)
        ]
        boxes = [shapely.box(each.left(), each.top(), each.right(), each.bottom()) for each in places]
        place, shape = self._tree.query(boxes, predicate="dwithin", distance=_CLEAR)
        costs = np.bincount(place, self._costs[shape], len(places))
        best = int(np.argmin(costs))
        return places[best], int(costs[best])


def _taken(drawing: DisplayList, labels: Sequence[PlacedLabel], view: View) -> list[tuple[BaseGeometry, int]]:
    """Lines, signs and names, px."""
    lines = [
        (shapely.LinearRing if item.closed else shapely.LineString)(view.to_screen(item.points))
        for item in drawing.items()
        if isinstance(item, Line)
    ]
    signs = [
        shapely.Point(view.point_to_screen(item.at)).buffer(_HANDLE / 2)
        for item in drawing.items()
        if isinstance(item, Symbol)
    ]
    names = [shapely.box(*each.box(view.point_to_screen(each.label.at))) for each in labels]
    return [*((line, 1) for line in lines), *((each, _NAME) for each in (*signs, *names))]


def _bounds(sheets: Sequence[SheetOutline]) -> Window:
    lefts, tops, rights, bottoms = zip(*(sheet.window for sheet in sheets), strict=True)
    return (min(lefts), min(tops), max(rights), max(bottoms))


def _own_part(room: QRectF, rooms: Sequence[QRectF]) -> QRectF:
    """``room`` without the strips that it shares with a neighbour above, below or beside it."""
    own = QRectF(room)
    for other in rooms:
        shared = room.intersected(other)
        if other == room or shared.isEmpty():
            continue
        upright, level = shared.height() > room.height() / 2, shared.width() > room.width() / 2
        if upright and not level:
            if other.left() < room.left():
                own.setLeft(max(own.left(), shared.right()))
            else:
                own.setRight(min(own.right(), shared.left()))
        elif level and not upright:
            if other.top() < room.top():
                own.setTop(max(own.top(), shared.bottom()))
            else:
                own.setBottom(min(own.bottom(), shared.top()))
    return own
