"""Display list -> QPainter. Canvas, page and picture are painted by this one function.

Found by trial (design page, 6): antialiased lines are fast up to one device pixel wide and twenty times
slower above; fills are fast without antialiasing; one path for each line is faster than one for all. So the
fine look is for a hand at rest and for paper; without it every line is a hairline.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Protocol, TypeAlias

import numpy as np
import shiboken6
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QFontMetricsF,
    QPainter,
    QPainterPath,
    QPen,
    QPixmap,
    QPolygonF,
    QTransform,
)

from app.exporting.clip import Window, clip_lines
from app.exporting.hatch import hatch_lines, stipple
from app.exporting.label_places import CLEAR, PLATE, Box, Disc, LabelPlacer, Placed, PlacedLabel, leader_end
from app.exporting.symbols import ROUND, SOLID, symbol_shape, symbol_size
from app.sketch.display_list import Area, DisplayList, Label, Line, Symbol, SymbolKind
from app.sketch.palette import (
    DOT_WIDTH,
    HANDLE_SIZE,
    HATCH_SPACING,
    HATCH_WIDTH,
    STROKES,
    TEXT_POINTS,
    Hatch,
    Palette,
    Role,
)
from geometry.types import Point, Points


class Mapping(Protocol):
    """From cloth mm to the painter's units: a scale, then a shift."""

    @property
    def scale(self) -> float:
        """Painter's units per mm."""

    def point_to_screen(self, point: Point) -> Point:
        """(x, y) mm -> painter's units."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Look:
    """How the roles look on one device."""

    palette: Palette
    unit: float = 1.0
    """Painter's units per device unit (logical pixel, or point on paper)."""
    point: float = 96 / 72
    """Painter's units per typographic point."""
    fine: bool = True
    """True: true line weights. False: hairlines, for a hand that moves."""
    smooth: bool = True
    """Antialiased lines. Without, wide lines are some twenty times faster."""
    handle: float = HANDLE_SIZE
    """Device units: width of the anchor's ring."""
    cut: bool = False
    """True: lines are cut off at the window, as a page must hold nothing beyond it."""
    family: str = ""
    """Of the font; empty is the application's."""


def paint(
    display_list: DisplayList,
    painter: QPainter,
    mapping: Mapping,
    look: Look,
    *,
    window: Window | None = None,
    labels: Sequence[PlacedLabel] | None = None,
    labels_within: Window | None = None,
    highlight: int | None = None,
) -> None:
    """Paint ``display_list`` through ``mapping``; the painter's own transform comes on top of it.

    ``window``: what of the cloth is seen, mm; hatches and dots are only made there. ``labels``: where
    ``place_labels`` put them, found anew without. ``labels_within``: where a look that cuts lines
    off moves them into, the window itself without. ``highlight``: number of a wedge to stress.
    The painter comes back as it was.
    """
    painter.save()
    window = window or display_list.bounds
    painting = _Painting(painter, mapping, look, window, labels_within or window)
    painting.paint(display_list, labels, highlight)
    painter.restore()


def place_labels(
    display_list: DisplayList,
    scale: float,
    look: Look,
    below: Placed | None = None,
    within: Window | None = None,
    clear: Iterable[Disc] = (),
) -> Placed:
    """Where the labels of ``display_list`` go, at ``scale`` painter's units per mm.

    ``below``: where those of another display list are that is painted first. ``within``: mm, what they should
    not leave. ``clear``: what is drawn on top, such as handles.
    """

    def size(text: str, points: float) -> Point:
        return text_size(text, round(points * look.point), look.family)

    return LabelPlacer(scale, look.unit, look.handle, size).place(display_list, below, within, clear)


@lru_cache(maxsize=64)
def font(pixels: int, family: str = "", bold: bool = False) -> QFont:
    """The font of ``pixels`` painter's units; do not change it, it is shared."""
    made = QFont(family) if family else QFont()
    made.setPixelSize(pixels)
    made.setBold(bold)
    return made


@lru_cache(maxsize=64)
def metrics(pixels: int, family: str = "", bold: bool = False) -> QFontMetricsF:
    """Measures of ``font``."""
    return QFontMetricsF(font(pixels, family, bold))


@lru_cache(maxsize=2048)
def text_size(text: str, pixels: int, family: str = "") -> Point:
    """Width and height of the box around one line of text: its capitals, and some clear space about them.

    Painter's units. The middle of the capitals is the middle of the box.
    """
    measures = metrics(pixels, family)
    capital = measures.capHeight()
    return (measures.horizontalAdvance(text) + CLEAR * capital, (1 + CLEAR) * capital)


_Buffer: TypeAlias = tuple[QPolygonF, Points]


class _Polygons:
    """Points -> QPolygonF, by writing into the memory of a few that are kept.

    It takes a tenth of the time of making a QPointF for each. What ``of`` returns holds until the next call.
    """

    _MOST = 64

    def __init__(self) -> None:
        self._kept: dict[int, _Buffer] = {}

    def of(self, points: Points, *, again: bool = False) -> QPolygonF:
        """``again``: the first point comes once more at the end."""
        count = len(points) + again
        held = self._kept.get(count)
        if held is None:
            if len(self._kept) >= self._MOST:
                self._kept.clear()
            held = self._kept[count] = self._made(count)
        held[1][: len(points)] = points
        if again:
            held[1][-1] = points[0]
        return held[0]

    @staticmethod
    def _made(count: int) -> _Buffer:
        polygon = QPolygonF()
        polygon.resize(count)
        if not count:
            return polygon, np.empty((0, 2))
        # A QPolygonF is a row of QPointF, and a QPointF two doubles.
        memory: Any = shiboken6.VoidPtr  # its stub knows only half of the ways to call it
        buffer = np.frombuffer(memory(polygon.data(), count * 16, True), dtype=np.float64)
        return polygon, buffer.reshape(count, 2)


_polygons = _Polygons()


_MOST_STAMPS = 512
_stamps: dict[tuple[object, ...], QPixmap] = {}
"""Symbols and labels of moving pictures, by everything that they depend on."""


_TILE = 64
"""px, at least: filling with a tile of one period takes four times as long."""


@lru_cache(maxsize=32)
def _tile(colour: str, hatch: Hatch, unit: float, ratio: float) -> QBrush:
    """Some periods of ``hatch`` as a brush; ``ratio`` device pixels to one of the painter's units."""
    across = HATCH_SPACING * unit * ratio
    size = max(round(across * (1 if hatch is Hatch.STIPPLE else math.sqrt(2))), 2)
    tile = QPixmap(size, size * 2 if hatch is Hatch.STIPPLE else size)
    tile.fill(Qt.GlobalColor.transparent)
    with QPainter(tile) as painter:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        if hatch is Hatch.STIPPLE:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(colour))
            radius = DOT_WIDTH * unit * ratio / 2
            for share in (0.25, 0.75):  # every other row is shifted
                painter.drawEllipse(QPointF(size * share, size * 2 * share), radius, radius)
        else:
            painter.setPen(QPen(QColor(colour), HATCH_WIDTH * unit * ratio))
            for shift in (-size, 0, size):  # what a tile's neighbours draw into its corners
                painter.drawLine(QLineF(shift - 1, size + 1, shift + size + 1, -1))
                if hatch is Hatch.CROSS:
                    painter.drawLine(QLineF(shift - 1, -1, shift + size + 1, size + 1))
    many = math.ceil(_TILE / size)
    large = QPixmap(tile.size() * many)
    large.fill(Qt.GlobalColor.transparent)
    with QPainter(large) as painter:
        painter.drawTiledPixmap(large.rect(), tile)
    brush = QBrush(large)
    brush.setTransform(QTransform.fromScale(1 / ratio, 1 / ratio))
    return brush


def inks(palette: Palette) -> dict[Role, QColor]:
    """The colours of ``palette``; do not change them, they are shared."""
    return dict(zip(palette, _inks(tuple(palette.values())), strict=True))


@lru_cache(maxsize=8)
def _inks(values: tuple[str, ...]) -> tuple[QColor, ...]:
    return tuple(QColor(value) for value in values)


class _Painting:
    """One call of ``paint``."""

    def __init__(
        self, painter: QPainter, mapping: Mapping, look: Look, window: Window, labels_within: Window
    ) -> None:
        self.painter = painter
        self.look = look
        self.mapping = mapping
        self.window = window
        self.labels_within = labels_within
        self.mm = look.unit / mapping.scale
        """mm per device unit."""
        self.on_device = painter.worldTransform()
        dx, dy = mapping.point_to_screen((0.0, 0.0))
        self.on_cloth = QTransform(mapping.scale, 0, 0, mapping.scale, dx, dy) * self.on_device
        self.colours = inks(look.palette)
        self.ratio = painter.device().devicePixelRatioF()
        colours = tuple(look.palette.values())
        self.look_key = (look.unit, look.point, look.family, look.smooth, self.ratio, colours)
        self.plate = QColor(self.colours[Role.CLOTH])
        self.plate.setAlphaF(PLATE)
        self.pens: dict[Role, QPen] = {}

    def paint(
        self, display_list: DisplayList, labels: Sequence[PlacedLabel] | None, highlight: int | None
    ) -> None:
        painter = self.painter
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for layer in display_list.layers:
            painter.setWorldTransform(self.on_cloth)
            self._areas(item for item in layer.items if isinstance(item, Area))
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, self.look.smooth)
            self._lines(item for item in layer.items if isinstance(item, Line))
            painter.setWorldTransform(self.on_device)
            for item in layer.items:
                if isinstance(item, Symbol):
                    self._symbol(item)
        if highlight is not None:
            painter.setWorldTransform(self.on_cloth)
            self._highlight(display_list, highlight)
            painter.setWorldTransform(self.on_device)
        if labels is None:
            labels = place_labels(display_list, self.mapping.scale, self.look).labels
        for label in labels:
            self._label(label)

    # --- areas and lines: the painter's unit is mm ---------------------------------------------------

    def _areas(self, areas: Iterable[Area]) -> None:
        by_fill: defaultdict[tuple[Role, Hatch], list[Points]] = defaultdict(list)
        for area in areas:
            if area.hatch is Hatch.FILL:
                self._fill(area)
            else:
                # Areas of one layer do not overlap, so all of a kind are hatched at once.
                by_fill[area.role, area.hatch].extend(area.rings)
        for (role, hatch), rings in by_fill.items():
            self._hatch(role, hatch, rings)

    def _fill(self, area: Area) -> None:
        path = QPainterPath()
        path.setFillRule(Qt.FillRule.OddEvenFill)
        for ring in area.rings:
            path.addPolygon(_polygons.of(ring))
            path.closeSubpath()
        self.painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        self.painter.save()
        if self.look.cut:
            left, top, right, bottom = self.window
            self.painter.setClipRect(QRectF(left, top, right - left, bottom - top))
        self.painter.fillPath(path, QBrush(self.colours[area.role]))
        self.painter.restore()

    def _hatch(self, role: Role, hatch: Hatch, rings: Sequence[Points]) -> None:
        if not self.look.fine:
            self._tiled(role, hatch, rings)
            return
        painter = self.painter
        spacing = HATCH_SPACING * self.mm
        dots = hatch is Hatch.STIPPLE
        width = DOT_WIDTH if dots else HATCH_WIDTH
        pen = QPen(self.colours[role], width * self.mm)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap if dots else Qt.PenCapStyle.FlatCap)
        painter.setPen(pen)
        if dots:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, self.look.smooth)
            painter.drawPoints(_polygons.of(stipple(rings, spacing, self.window)))
        else:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, self.look.smooth)
            ends = hatch_lines(rings, hatch, spacing, self.window)
            painter.drawLines([QLineF(*piece) for piece in ends.reshape(-1, 4).tolist()])

    def _tiled(self, role: Role, hatch: Hatch, rings: Sequence[Points]) -> None:
        """The same to the eye for a hand that moves: one tile of it again and again, a tenth of the work."""
        painter = self.painter
        path = QPainterPath()
        path.setFillRule(Qt.FillRule.OddEvenFill)
        scale = self.mapping.scale
        shift = np.array(self.mapping.point_to_screen((0.0, 0.0)))
        for ring in rings:
            path.addPolygon(_polygons.of(ring * scale + shift))
            path.closeSubpath()
        painter.setWorldTransform(self.on_device)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.fillPath(path, _tile(self.look.palette[role], hatch, self.look.unit, self.ratio))
        painter.setWorldTransform(self.on_cloth)

    def _lines(self, lines: Iterable[Line]) -> None:
        by_role: defaultdict[Role, list[tuple[Points, bool]]] = defaultdict(list)
        for line in lines:
            by_role[line.role].append((line.points, line.closed))
        for role, drawn in by_role.items():
            self.painter.setPen(self._pen(role))
            if self.look.cut:
                for _, points, closed in clip_lines(drawn, self.window):
                    self._draw(points, closed)
            else:
                for points, closed in drawn:
                    self._draw(points, closed)

    def _draw(self, points: Points, closed: bool) -> None:
        if closed and self.look.fine:
            self.painter.drawPolygon(_polygons.of(points))
        else:
            # A hairline has no joint to be seen where it closes, and as a polyline takes half of the time.
            self.painter.drawPolyline(_polygons.of(points, again=closed))

    def _pen(self, role: Role) -> QPen:
        pen = self.pens.get(role)
        if pen is None:
            stroke = STROKES[role]
            fine = self.look.fine
            pen = self.pens[role] = QPen(self.colours[role], stroke.width * self.mm if fine else 0.0)
            pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap if 0.0 in stroke.dashes else Qt.PenCapStyle.FlatCap)
            if stroke.dashes:
                # Qt counts dashes in widths of the pen, and takes no dash of 0; a hairline counts as 1 wide.
                width = stroke.width if fine else 1.0
                pen.setDashPattern([max(dash / width, 0.01 if fine else 1.0) for dash in stroke.dashes])
        return pen

    def _highlight(self, display_list: DisplayList, number: int) -> None:
        for item in display_list.items():
            if isinstance(item, Line) and item.role is Role.STITCH and item.wedge == number:
                self._lines([Line(Role.FOCUS, item.points, item.closed)])

    # --- symbols and labels: the painter's unit is its own -------------------------------------------

    def _symbol(self, symbol: Symbol) -> None:
        if self.look.cut and not self._in_window(symbol.at):
            return
        x, y = self.mapping.point_to_screen(symbol.at)
        if self.look.fine or symbol.angle:
            self._draw_symbol(self.painter, symbol, x, y)
            return
        key = ("symbol", symbol.kind, symbol.role, self.look.handle)
        half = symbol_size(symbol.kind, self.look.handle) * self.look.unit / 2 + 2
        self._stamp(
            key, x - half, y - half, 2 * half, 2 * half,
            lambda painter: self._draw_symbol(painter, symbol, half, half),
        )  # fmt: skip

    def _stamp(
        self,
        key: tuple[object, ...],
        x: float,
        y: float,
        width: float,
        height: float,
        draw: Callable[[QPainter], None],
    ) -> None:
        """Paint a small picture that looks the same at every move: a fifth of the time of drawing it."""
        ratio = self.ratio
        key = (*key, self.look_key)
        stamp = _stamps.get(key)
        if stamp is None:
            if len(_stamps) >= _MOST_STAMPS:
                _stamps.clear()
            stamp = QPixmap(math.ceil(width * ratio), math.ceil(height * ratio))
            stamp.setDevicePixelRatio(ratio)
            stamp.fill(Qt.GlobalColor.transparent)
            with QPainter(stamp) as painter:
                painter.setRenderHint(QPainter.RenderHint.Antialiasing, self.look.smooth)
                draw(painter)
            _stamps[key] = stamp
        # On a whole pixel, or it would be blurred.
        self.painter.drawPixmap(QPointF(round(x * ratio) / ratio, round(y * ratio) / ratio), stamp)

    def _draw_symbol(self, painter: QPainter, symbol: Symbol, x: float, y: float) -> None:
        size = symbol_size(symbol.kind, self.look.handle) * self.look.unit
        colour = self.colours[symbol.role]
        pen = QPen(colour, STROKES[symbol.role].width * self.look.unit)
        pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        painter.setPen(pen)
        painter.setBrush(colour if symbol.kind in SOLID else self.colours[Role.CLOTH])
        middle = QPointF(x, y)
        match symbol.kind:
            case SymbolKind.HANDLE:
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawEllipse(middle, size / 2, size / 2)
                painter.drawLine(QPointF(x - size / 2, y), QPointF(x + size / 2, y))
                painter.drawLine(QPointF(x, y - size / 2), QPointF(x, y + size / 2))
            case kind if kind in ROUND:
                painter.drawEllipse(middle, size / 2, size / 2)
            case kind:
                painter.drawPolygon(_polygons.of(symbol_shape(kind, symbol.angle) * size + (x, y)))
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _in_window(self, at: Point) -> bool:
        left, top, right, bottom = self.window
        return left <= at[0] <= right and top <= at[1] <= bottom

    def _label(self, placed: PlacedLabel) -> None:
        label = placed.label
        if self.look.cut and not self._in_window(label.at):
            return
        box = placed.box(self.mapping.point_to_screen(label.at))
        if self.look.cut:
            box = self._moved_in(box)
        self._leader(label, box)
        left, top, right, bottom = box
        if self.look.fine:
            self._write(self.painter, label, left, top, right - left, bottom - top)
            return
        width, height = right - left, bottom - top
        self._stamp(
            ("label", label.text, label.role, label.size), left, top, width, height,
            lambda painter: self._write(painter, label, 0.0, 0.0, width, height),
        )  # fmt: skip

    def _write(
        self, painter: QPainter, label: Label, left: float, top: float, width: float, height: float
    ) -> None:
        painter.fillRect(QRectF(left, top, width, height), self.plate)
        pixels = round(TEXT_POINTS[label.size] * self.look.point)
        painter.setFont(font(pixels, self.look.family))
        painter.setPen(self.colours[label.role])
        capital = metrics(pixels, self.look.family).capHeight()
        start = QPointF(left + CLEAR / 2 * capital, top + (1 + CLEAR / 2) * capital)
        painter.drawText(start, label.text)

    def _moved_in(self, box: Box) -> Box:
        """A label at the window's edge, moved so that it is read whole on this sheet."""
        x0, y0 = self.mapping.point_to_screen(self.labels_within[:2])
        x1, y1 = self.mapping.point_to_screen(self.labels_within[2:])
        width, height = box[2] - box[0], box[3] - box[1]
        left, top = min(max(box[0], x0), x1 - width), min(max(box[1], y0), y1 - height)
        return (left, top, left + width, top + height)

    def _leader(self, label: Label, box: Box) -> None:
        at = self.mapping.point_to_screen(label.at)
        end = leader_end(label, at, box, self.look.unit)
        if end is not None:
            width = STROKES[Role.QUIET].width * self.look.unit
            self.painter.setPen(QPen(self.colours[label.role], width))
            self.painter.drawLine(QPointF(*at), QPointF(*end))
