"""Overlay of a mode -> QPainter: handles, guides, drafts, words beside the pointer, the grid."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF

from app.exporting.label_places import Disc
from app.exporting.painter import inks
from app.sketch.first_wedge import Start
from app.sketch.modes.overlay import Draft, Handle, HandleKind, HandleState, Label, Overlay
from app.sketch.palette import HANDLE_SIZE, STROKES, Palette, Role
from app.sketch.snapping import Caught, Snap, grid_step
from app.sketch.translate import tr
from app.sketch.view import View
from geometry.tolerances import SAME_POINT
from geometry.types import Point, Points
from geometry.units import LengthStyle, format_length

_CORNER_SIZE: Final = 11.0
_MARK_SIZE: Final = 13.0
_MIDDLE_SIZE: Final = 9.0
_ARROW_SIZE: Final = 11.0
_SIGN_ROOM: Final = HANDLE_SIZE + _ARROW_SIZE
"""px, from an arrow's tip to the sign of a finding: clear of the ring that points it out."""
_GROWN: Final = 4.0
"""px that a handle is wider under the hand."""
_ANCHOR_RIM: Final = 7.0
_MARK_RIM: Final = 6.0
"""px, the width of the line in the cloth's colour around a handle."""

MARK_ROOM: Final = _MARK_SIZE + _GROWN + _MARK_RIM
_ROOM: Final = {
    HandleKind.ANCHOR: HANDLE_SIZE + _GROWN + _ANCHOR_RIM,
    HandleKind.MARK: MARK_ROOM,
    HandleKind.REMOVE: HANDLE_SIZE,
    HandleKind.MIDDLE: _MIDDLE_SIZE + _GROWN,
}
_CORNER_ROOM: Final = _CORNER_SIZE + _GROWN

_BESIDE: Final = 22.0
"""px from the pointer to the words beside it, so that the hand does not cover them."""

_GRID_MAJOR: Final = {False: 25.4, True: 10.0}
"""mm between the stronger lines of the grid; metric or not."""

_CAUGHT_WORDS: Final = {
    # what caught: (words with a name, words without)
    Caught.BEST: ("the best place: {name}", "the best place"),
    Caught.MIDDLE: ("", "the middle"),
    Caught.CORNER: ("corner {name}", "corner"),
    Caught.SIDE_MIDDLE: ("middle of side {name}", "middle of the side"),
    Caught.SIDE: ("side {name}", "side"),
    Caught.SQUARE: ("", "square angle"),
    Caught.IN_LINE: ("", "in line"),
    Caught.GRID: ("", ""),  # it catches nearly everywhere: a word each time would be noise
}


def room_of(overlay: Overlay, place: Point | None) -> tuple[Disc, ...]:
    """What the handles take, as large as each is under the hand; and the ring around ``place``."""
    handles = ((handle.at, _ROOM.get(handle.kind, _CORNER_ROOM)) for handle in overlay.handles)
    return (*handles,) if place is None else (*handles, (place, 2 * HANDLE_SIZE))


class OverlayPainter:
    """Paints overlays with one painter, view and palette."""

    def __init__(self, painter: QPainter, view: View, palette: Palette, font: QFont) -> None:
        self._painter = painter
        self._view = view
        self._colours = inks(palette)
        self._font = font
        self._metrics = QFontMetricsF(font)

    def paint(self, overlay: Overlay) -> None:
        """Everything but the grid, from the bottom up."""
        self._painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        for ring in overlay.seams:
            self._seam(ring)
        for draft in overlay.drafts:
            self._draft(draft)
        for span in overlay.spans:
            self._span(span)
        if overlay.start is not None:
            self._start(overlay.start)
        if overlay.snap is not None:
            self._guides(overlay.snap)
        for handle in overlay.handles:
            self._handle(handle)
        at_pointer = []
        for label in overlay.labels:
            if label.centred:
                self._label_on(label)
            elif label.apart:
                self._plate_beside(label.at, label.text, Role.QUIET, label.way)
            else:
                at_pointer.append(label)
        self._beside_pointer(at_pointer, overlay.snap)

    def grid(self, style: LengthStyle) -> None:
        """The lines of the grid."""
        metric = style in (LengthStyle.CM, LengthStyle.MM)
        step = grid_step(self._view.scale, metric=metric)
        major = max(_GRID_MAJOR[metric], step)
        painter = self._painter
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        for every, strength in ((step, 0.14), (major, 0.3)):
            painter.setPen(QPen(self._faint(Role.MARGIN_EDGE, strength), 0))
            painter.drawLines(self._grid_lines(every))

    def place(self, at: Point) -> None:
        """A ring around a place that was asked for."""
        self._painter.setPen(QPen(self._colours[Role.FOCUS], STROKES[Role.FOCUS].width))
        self._painter.setBrush(Qt.BrushStyle.NoBrush)
        self._painter.drawEllipse(self._at(at), HANDLE_SIZE, HANDLE_SIZE)

    def sentence(self, at: Point, text: str) -> None:
        """A sentence beside the anchor's handle, a line for each of its lines, where there is more room."""
        x, y = self._view.point_to_screen(at)
        lines = text.split("\n")
        step = self._metrics.height()
        width = max(self._metrics.horizontalAdvance(line) for line in lines) + 24
        height = step * len(lines) + 16
        right = x <= self._view.width / 2
        left = x + _BESIDE if right else x - _BESIDE - width
        left = min(max(left, 8.0), self._view.width - width - 8)
        top = min(max(y + _BESIDE, 8.0), self._view.height - height - 8)
        self._plate(QRectF(left, top, width, height), Role.ANCHOR)
        self._painter.setPen(self._colours[Role.TEXT])
        for number, line in enumerate(lines):
            base = top + 8 + number * step + self._metrics.ascent()
            self._painter.drawText(QPointF(left + 12, base), line)

    def notice(self, text: str) -> None:
        """Quiet words in the lower right corner: what is being worked on."""
        width, height = self._metrics.horizontalAdvance(text), self._metrics.height()
        self._painter.setFont(self._font)
        self._painter.setPen(self._colours[Role.QUIET])
        base = self._view.height - height + self._metrics.ascent() - 12
        self._painter.drawText(QPointF(self._view.width - width - 24, base), text)

    def ruler(self, style: LengthStyle, *, plate: bool = False) -> None:
        """A short ruler in the corner, with ``plate`` on a ground of its own: how large things are now."""
        metric = style in (LengthStyle.CM, LengthStyle.MM)
        steps = (
            (10, 20, 50, 100, 200, 500, 1000)
            if metric
            else tuple(25.4 * n for n in (0.5, 1, 2, 4, 8, 16, 32))
        )
        length = next((step for step in steps if step * self._view.scale >= 64), steps[-1])
        pixels = length * self._view.scale
        left, base = 16.0, self._view.height - 16.0
        words = format_length(length, style)
        if plate:
            width = pixels + 16 + self._metrics.horizontalAdvance(words)
            top = base - self._metrics.ascent()
            self._painter.fillRect(
                QRectF(left - 8, top, width + 8, self._view.height - top - 4), self._colours[Role.FRAME]
            )
        pen = QPen(self._colours[Role.QUIET], 1.5)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        self._painter.setPen(pen)
        self._painter.drawPolyline(
            QPolygonF([QPointF(x, y) for x, y in (
                (left, base - 6), (left, base), (left + pixels, base), (left + pixels, base - 6),
            )])
        )  # fmt: skip
        self._painter.setFont(self._font)
        self._painter.drawText(QPointF(left + pixels + 8, base + 4), words)

    # ------------------------------------------------------------------------------------------------

    def _grid_lines(self, every: float) -> list[QLineF]:
        left, top, right, bottom = self._view.visible()
        lines = []
        for number in range(math.ceil(left / every), math.floor(right / every) + 1):
            x = self._view.point_to_screen((number * every, 0.0))[0]
            lines.append(QLineF(x, 0, x, self._view.height))
        for number in range(math.ceil(top / every), math.floor(bottom / every) + 1):
            y = self._view.point_to_screen((0.0, number * every))[1]
            lines.append(QLineF(0, y, self._view.width, y))
        return lines

    def _draft(self, draft: Draft) -> None:
        points = QPolygonF([QPointF(x, y) for x, y in self._view.to_screen(draft.points).tolist()])
        role = Role.PROBLEM if draft.refused else Role.SEAM
        pen = QPen(self._colours[role], STROKES[Role.SEAM].width)
        if draft.refused:
            pen.setDashPattern([4.0, 3.0])
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        self._painter.setPen(pen)
        self._painter.setBrush(Qt.BrushStyle.NoBrush)
        if draft.closed:
            self._painter.drawPolygon(points)
        else:
            self._painter.drawPolyline(points)

    def _start(self, start: Start) -> None:
        """A bar across the first leg where the stitching begins, and an arrow along it and along the side,
        where no finding has its sign. Of several fans their order; and the path's beginning where that is
        elsewhere.
        """
        far = math.dist(start.begins, start.leg[0]) > SAME_POINT
        if far:
            self._painter.setPen(QPen(self._colours[Role.STITCH], 2.5))
            self._painter.setBrush(self._colours[Role.CLOTH])
            self._painter.drawEllipse(self._at(start.begins), _MARK_SIZE / 2, _MARK_SIZE / 2)
            self._plate_beside(start.begins, tr("start"))
        for number, anchor in enumerate(start.fans if len(start.fans) > 1 else (), 1):
            first = number == 1 and not far
            words = tr("fan {number}: start", number=number) if first else tr("fan {number}", number=number)
            self._plate_beside(anchor, words)
        (x0, y0), (x1, y1) = (self._view.point_to_screen(at) for at in start.leg)
        length = math.hypot(x1 - x0, y1 - y0)
        if length < 4 * _ARROW_SIZE:
            return
        way = math.atan2(y1 - y0, x1 - x0)
        away = min(max(length * 0.7, HANDLE_SIZE), length - 2 * _ARROW_SIZE)  # clear of words at the anchor
        at = QPointF(x0 + math.cos(way) * away, y0 + math.sin(way) * away)
        across = QPointF(-math.sin(way), math.cos(way)) * _ARROW_SIZE * 0.6
        self._painter.setPen(QPen(self._colours[Role.STITCH], 2.5))
        self._painter.drawLine(at - across, at + across)
        self._arrow(at + QPointF(math.cos(way), math.sin(way)) * _ARROW_SIZE * 1.4, way)
        signs = [self._at(sign) for sign in start.signs]
        for place, along in start.side:
            tip = self._at(place)
            if all(QLineF(tip, sign).length() >= _SIGN_ROOM for sign in signs):
                self._arrow(tip, along)
                break

    def _arrow(self, tip: QPointF, way: float) -> None:
        """A small filled arrowhead whose tip is there; its rim keeps it clear of the lines."""
        back = [QPointF(math.cos(way + turn), math.sin(way + turn)) * _ARROW_SIZE for turn in (2.7, -2.7)]
        self._painter.setPen(QPen(self._colours[Role.CLOTH], 1.0))
        self._painter.setBrush(self._colours[Role.STITCH])
        self._painter.drawPolygon(QPolygonF([tip, tip + back[0], tip + back[1]]))

    def _seam(self, ring: Points) -> None:
        """A thin line: it lies beneath, and is no part of what is drawn."""
        self._painter.setPen(QPen(self._colours[Role.QUIET], 1.0))
        self._painter.setBrush(Qt.BrushStyle.NoBrush)
        self._painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in self._view.to_screen(ring).tolist()]))

    def _guides(self, snap: Snap) -> None:
        pen = QPen(self._colours[Role.FOCUS], 1.0)
        pen.setDashPattern([6.0, 4.0])
        self._painter.setPen(pen)
        for start, end in snap.guides:
            self._painter.drawLine(self._at(start), self._at(end))
        if snap.what is not None:
            self._painter.setPen(QPen(self._colours[Role.FOCUS], 2.0))
            self._painter.setBrush(Qt.BrushStyle.NoBrush)
            self._painter.drawEllipse(self._at(snap.at), 6.0, 6.0)

    def _handle(self, handle: Handle) -> None:
        if handle.kind is HandleKind.ANCHOR:
            self._anchor(handle)
        elif handle.kind is HandleKind.MARK:
            self._mark(handle)
        elif handle.kind is HandleKind.REMOVE:
            self._remove(handle)
        elif handle.kind is HandleKind.MIDDLE:
            self._side_middle(handle)
        else:
            self._corner(handle)

    def _anchor(self, handle: Handle) -> None:
        """A ring to take hold of, see-through while it is held, so that the lines' meeting is seen."""
        middle = self._at(handle.at)
        radius = HANDLE_SIZE / 2 + (_GROWN / 2 if handle.state is not HandleState.IDLE else 0)
        held = handle.state is HandleState.HELD
        painter = self._painter
        painter.setBrush(Qt.BrushStyle.NoBrush if held else self._faint(Role.CLOTH, 0.82))
        painter.setPen(QPen(self._colours[Role.CLOTH], _ANCHOR_RIM))
        painter.drawEllipse(middle, radius, radius)
        painter.setPen(QPen(self._colours[Role.ANCHOR], 3.0))
        painter.drawEllipse(middle, radius, radius)
        painter.setBrush(self._colours[Role.ANCHOR])
        painter.setPen(Qt.PenStyle.NoPen)
        dot = 2.0 if held else 4.0
        painter.drawEllipse(middle, dot, dot)

    def _corner(self, handle: Handle) -> None:
        half = _CORNER_SIZE / 2 + (_GROWN / 2 if handle.state is not HandleState.IDLE else 0)
        x, y = self._view.point_to_screen(handle.at)
        active = handle.state is not HandleState.IDLE
        full = handle.state in (HandleState.HELD, HandleState.CHOSEN)
        role = Role.FOCUS if active else Role.SEAM
        self._painter.setPen(QPen(self._colours[role], 2.0))
        self._painter.setBrush(self._colours[Role.FOCUS if full else Role.FRAME])
        self._painter.drawRect(QRectF(x - half, y - half, 2 * half, 2 * half))

    def _side_middle(self, handle: Handle) -> None:
        """A small ring where a corner has a square."""
        idle = handle.state is HandleState.IDLE
        full = handle.state in (HandleState.HELD, HandleState.CHOSEN)
        radius = _MIDDLE_SIZE / 2 + (0 if idle else _GROWN / 2)
        self._painter.setPen(QPen(self._colours[Role.SEAM if idle else Role.FOCUS], 1.5 if idle else 2.0))
        self._painter.setBrush(self._colours[Role.FOCUS if full else Role.FRAME])
        self._painter.drawEllipse(self._at(handle.at), radius, radius)

    def _mark(self, handle: Handle) -> None:
        """A ring around the mark's own sign, which is seen in it; filled where it is chosen or held."""
        middle = self._at(handle.at)
        idle = handle.state is HandleState.IDLE
        full = handle.state in (HandleState.HELD, HandleState.CHOSEN)
        radius = _MARK_SIZE / 2 + (0 if idle else _GROWN / 2)
        painter = self._painter
        painter.setBrush(self._colours[Role.FOCUS] if full else Qt.BrushStyle.NoBrush)
        if full:
            painter.setPen(QPen(self._colours[Role.CLOTH], _MARK_RIM))
            painter.drawEllipse(middle, radius, radius)
        painter.setPen(QPen(self._colours[Role.MARK if idle else Role.FOCUS], 1.5 if idle else 2.5))
        painter.drawEllipse(middle, radius, radius)

    def _remove(self, handle: Handle) -> None:
        """A cross in a ring."""
        middle = self._at(handle.at)
        hot = handle.state is not HandleState.IDLE
        ink = self._colours[Role.PROBLEM if hot else Role.TEXT]
        self._painter.setPen(QPen(ink, 2.0))
        self._painter.setBrush(self._colours[Role.FRAME])
        self._painter.drawEllipse(middle, HANDLE_SIZE / 2, HANDLE_SIZE / 2)
        for turn in (1.0, -1.0):
            arm = QPointF(5.0, 5.0 * turn)
            self._painter.drawLine(middle - arm, middle + arm)

    def _span(self, points: Points) -> None:
        line = QPolygonF([QPointF(x, y) for x, y in self._view.to_screen(points).tolist()])
        pen = QPen(self._colours[Role.FOCUS], STROKES[Role.FOCUS].width)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        self._painter.setPen(pen)
        self._painter.setBrush(Qt.BrushStyle.NoBrush)
        self._painter.drawPolyline(line)

    def _label_on(self, label: Label) -> None:
        x, y = self._view.point_to_screen(label.at)
        width, height = self._plate_size(label.text)
        self._text_plate(QRectF(x - width / 2, y - height / 2, width, height), label.text, Role.QUIET)

    def _beside_pointer(self, labels: Sequence[Label], snap: Snap | None) -> None:
        """The words at the pointer, one plate under the other, and the word for what was caught."""
        plates = [(label.text, Role.PROBLEM if label.problem else Role.QUIET) for label in labels]
        word = _caught_word(snap)
        if word:
            plates.append((word, Role.FOCUS))
        if not plates:
            return
        sizes = [self._plate_size(text) for text, _ in plates]
        at = labels[0].at if labels else snap.at if snap is not None else (0.0, 0.0)
        height = sum(size[1] for size in sizes) + 4 * (len(sizes) - 1)
        way = labels[0].way if labels else (1.0, 1.0)
        left, top = self._beside(self._view.point_to_screen(at), max(size[0] for size in sizes), height, way)
        for (text, edge), size in zip(plates, sizes, strict=True):
            self._text_plate(QRectF(left, top, *size), text, edge)
            top += size[1] + 4

    def _plate_beside(self, at: Point, text: str, edge: Role = Role.STITCH, way: Point = (1.0, 1.0)) -> None:
        size = self._plate_size(text)
        self._text_plate(QRectF(*self._beside(self._view.point_to_screen(at), *size, way), *size), text, edge)

    def _plate_size(self, text: str) -> tuple[float, float]:
        lines = text.split("\n")
        width = max(self._metrics.horizontalAdvance(line) for line in lines) + 16
        return width, self._metrics.height() * len(lines) + 8

    def _beside(self, pixel: Point, width: float, height: float, way: Point) -> Point:
        """The upper left corner of a box beside the pointer that lies in the window."""
        x, y = pixel
        return (
            _clear_of(x, width, self._view.width, before=way[0] < 0),
            _clear_of(y, height, self._view.height, before=way[1] < 0),
        )

    def _text_plate(self, box: QRectF, text: str, edge: Role) -> None:
        self._plate(box, edge)
        self._painter.setPen(self._colours[Role.PROBLEM if edge is Role.PROBLEM else Role.TEXT])
        base = box.top() + 4 + self._metrics.ascent()
        for number, line in enumerate(text.split("\n")):
            self._painter.drawText(QPointF(box.left() + 8, base + number * self._metrics.height()), line)

    def _plate(self, box: QRectF, edge: Role) -> None:
        self._painter.setFont(self._font)
        self._painter.setPen(QPen(self._colours[edge], 1.5))
        self._painter.setBrush(self._colours[Role.FRAME])
        self._painter.drawRoundedRect(box, 4.0, 4.0)

    def _faint(self, role: Role, strength: float) -> QColor:
        colour = QColor(self._colours[role])
        colour.setAlphaF(strength)
        return colour

    def _at(self, point: Point) -> QPointF:
        return QPointF(*self._view.point_to_screen(point))


def _clear_of(place: float, size: float, room: float, *, before: bool) -> float:
    """Where something of that size begins, beside a place in a window with so much room."""
    ahead, behind = place - _BESIDE - size, place + _BESIDE
    fits = ahead >= 4 if before else behind + size <= room
    begin = ahead if before == fits else behind
    return min(max(begin, 4.0), max(room - size - 4, 4.0))


def _caught_word(snap: Snap | None) -> str:
    if snap is None or snap.what is None:
        return ""
    named, plain = _CAUGHT_WORDS[snap.what]
    return tr(named, name=snap.name) if snap.name else tr(plain) if plain else ""
