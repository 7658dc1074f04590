"""Fit -> the small pictures on cards. No Qt."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import msgspec
import numpy as np

from app.sketch.display_list import (
    DisplayList,
    Item,
    Label,
    Layer,
    LayerName,
    Line,
    Show,
    Symbol,
    SymbolKind,
    build,
)
from app.sketch.marking_card import TapeRow, anchor_names
from app.sketch.palette import Role, TextSize
from app.sketch.translate import tr
from geometry import Fit
from geometry.marks import MarkKind
from geometry.types import Point, Points

_MARKS: Final = Show(
    cloth=False,
    margin_edge=False,
    out_of_sight=False,
    echoes=False,
    travel=False,
    numbers=False,
    findings=False,
)
_ORDER: Final = Show(
    cloth=False, margin_edge=False, out_of_sight=False, findings=False, mark_names=False, arrows=True
)
_PLAIN: Final = Show(cloth=False, marks=False, mark_names=False, numbers=False)

_TOGETHER: Final = 1.0
"""mm between start and stop that are one place."""

_MANY: Final = 40
"""Wedges from which on their numbers are no larger than other words."""

_FAR: Final = 14.0
"""Device units from the path's end to the word beside it."""


def marking_picture(fit: Fit, taped: tuple[TapeRow, ...], apart: float) -> DisplayList:
    """The seam, the fan faint, all marks, and the tapes of ``taped``.

    Marks nearer than ``apart`` mm to one that has its name go without: the card's tables have them all.
    """
    named = _named(fit, apart)
    drawing = build(fit, show=_MARKS)
    feet = {mark.name: mark.foot for fan in fit.fans for mark in fan.marks}
    places = dict(zip(anchor_names(fit), fit.anchors, strict=True))
    tapes = [
        Line(Role.MARGIN_EDGE, np.array([feet[corner], places[row.name]]))
        for row in taped
        for corner in (row.one, row.two)
        if row.name in places and corner in feet
    ]

    def kept(item: Item) -> bool:
        return not (isinstance(item, Label) and item.role is Role.MARK and item.text not in named)

    def changed(item: Item) -> Item:
        if isinstance(item, Line) and item.role is Role.STITCH:
            return msgspec.structs.replace(item, role=Role.FAINT)
        return item

    layers = [
        Layer(layer.name, tuple(changed(item) for item in layer.items if kept(item)))
        for layer in drawing.layers
    ]
    return DisplayList((Layer(LayerName.PATH, tuple(tapes)), *layers), drawing.bounds)


def _named(fit: Fit, apart: float) -> set[str]:
    """The marks whose names are in the picture, corners before all others."""
    marks = [mark for fan in fit.fans for mark in fan.marks]
    marks.sort(key=lambda mark: mark.kind is not MarkKind.CORNER)
    named: dict[str, Point] = {}
    for mark in marks:
        corner = mark.kind is MarkKind.CORNER
        if corner or all(math.dist(mark.at, other) >= apart for other in named.values()):
            named[mark.name] = mark.at
    return set(named)


def stitching_picture(fit: Fit) -> DisplayList:
    """The path with its arrows, the wedges' numbers large, and where it starts and stops."""
    drawing = build(fit, show=_ORDER)
    wedges = sum(len(fan.wedges) for fan in fit.fans)
    size = TextSize.BASE if wedges > _MANY else TextSize.LARGE

    def changed(item: Item) -> Item:
        if isinstance(item, Label):
            return msgspec.structs.replace(item, size=size, must=True)
        return item

    layers = [Layer(layer.name, tuple(changed(item) for item in layer.items)) for layer in drawing.layers]
    points = fit.path.points
    if len(points):
        layers.append(Layer(LayerName.NUMBERS, tuple(_ends(points))))
    return DisplayList(tuple(layers), drawing.bounds)


def _ends(points: Points) -> Iterator[Item]:
    first, last = points[0].tolist(), points[-1].tolist()
    begin, end = (first[0], first[1]), (last[0], last[1])
    if math.dist(begin, end) < _TOGETHER:
        yield Label(Role.ANCHOR, begin, tr("start, stop"), TextSize.BASE, (0.0, -1.0), (0.0, -_FAR))
        return
    for at, word in ((begin, tr("start")), (end, tr("stop"))):
        yield Symbol(SymbolKind.DOT, Role.ANCHOR, at)
        yield Label(Role.ANCHOR, at, word, TextSize.BASE, (0.0, -1.0), (0.0, -_FAR))


def plain_picture(fit: Fit) -> DisplayList:
    """The stitching and its findings, without letters."""
    return build(fit, show=_PLAIN)
