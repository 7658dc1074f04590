"""Fit -> display list: the only description of what is drawn. Canvas, PDF, PNG and SVG draw it alike. No Qt.

Places are in mm of the cloth; what must keep its size whatever the zoom (text, symbols, offsets of labels)
is in device units, see ``app.sketch.palette``.

A display list is made anew at every mouse move of a drag. Points are handed on and not copied, and the
primitives are msgspec structs: making one takes a fourteenth of a frozen dataclass's time (found by trial).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import islice
from typing import Final, TypeAlias

import msgspec
import numpy as np
import shapely
from shapely import Polygon

from app.sketch.figures import compared, more_than_nothing
from app.sketch.palette import Hatch, Role, TextSize
from app.sketch.translate import tr, tr_n
from geometry.fan import Fan, Wedge
from geometry.findings import Code, Finding, Level
from geometry.fit import Fit
from geometry.marks import Mark, MarkKind
from geometry.stitch_path import Kind
from geometry.tolerances import SAME_POINT
from geometry.types import Point, Points
from geometry.units import LengthStyle


class Line(msgspec.Struct, frozen=True, eq=False, gc=False):
    """A polyline."""

    role: Role
    points: Points
    """(n, 2) mm; where ``closed``, the first point is not repeated."""
    closed: bool = False
    wedge: int | None = None
    """Number of the wedge that it belongs to, or None."""
    name: str = ""
    """Tells lines of one role and wedge apart: the number of an echo."""


class Area(msgspec.Struct, frozen=True, eq=False, gc=False):
    """A filled area: inside an odd number of ``rings``."""

    role: Role
    rings: tuple[Points, ...]
    """(n, 2) mm each, open or closed."""
    hatch: Hatch
    wedge: int | None = None


class Label(msgspec.Struct, frozen=True, eq=False, gc=False):
    """A short text beside a place. The middle of its box: ``at`` + ``offset`` + ``align`` · half its size."""

    role: Role
    at: Point
    """mm."""
    text: str
    size: TextSize
    align: Point = (0.0, 0.0)
    """-1 to 1 each: (0, 0) puts the box's middle there, (1, 0) its left end, (0, 1) its top."""
    offset: Point = (0.0, 0.0)
    """Device units."""
    wedge: int | None = None
    must: bool = True
    """False: may be left out where there is no room for it."""
    toward: Point | None = None
    """mm: the way in which a label that stands on its place may move from it."""


class SymbolKind(StrEnum):
    """A shape of fixed size on the device."""

    FILLED_TRIANGLE = "filled-triangle"
    HOLLOW_TRIANGLE = "hollow-triangle"
    DOT = "dot"
    CORNER_MARK = "corner-mark"
    """A filled circle."""
    DIVISION_MARK = "division-mark"
    """A hollow circle."""
    OWN_MARK = "own-mark"
    """A hollow square on its tip."""
    ARROW = "arrow"
    """An arrowhead that points along ``angle``."""
    HANDLE = "handle"
    """The anchor: a ring with a cross whose middle is the place."""


class Symbol(msgspec.Struct, frozen=True, eq=False, gc=False):
    """A symbol at a place."""

    kind: SymbolKind
    role: Role
    at: Point
    """mm."""
    angle: float = 0.0
    """rad, from x towards y."""
    wedge: int | None = None
    name: str = ""
    """Of a mark: its name."""


Item: TypeAlias = Line | Area | Label | Symbol


class LayerName(StrEnum):
    """What lies on a layer, from the bottom up. The words are the project's own."""

    CLOTH = "patch"
    OUT_OF_SIGHT = "out-of-sight"
    SEAM = "seam"
    STITCHABLE = "stitchable-area"
    WEDGES = "wedges"
    ECHOES = "echoes"
    PATH = "stitch-path"
    MARKS = "marks"
    NUMBERS = "wedge-numbers"
    FINDINGS = "findings"
    ANCHOR = "anchor"


class Layer(msgspec.Struct, frozen=True, eq=False, gc=False):
    """Items that are drawn together."""

    name: LayerName
    items: tuple[Item, ...]


class DisplayList(msgspec.Struct, frozen=True, eq=False, gc=False):
    """All that is drawn of one fit, from the bottom up. Layers without items are left out."""

    layers: tuple[Layer, ...]
    bounds: tuple[float, float, float, float]
    """(left, top, right, bottom) of the patch, mm. No line goes beyond it."""

    def items(self) -> Iterator[Item]:
        """Every item, from the bottom up."""
        for layer in self.layers:
            yield from layer.items

    def layer(self, name: LayerName) -> tuple[Item, ...]:
        """The items of one layer; none where there is no such layer."""
        return next((layer.items for layer in self.layers if layer.name is name), ())


MARK_DISTANCE: Final = 5.0
"""Device units from the middle of a mark to its name."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Show:
    """What is shown. ``still`` and ``moving`` part it by what a drag of the anchor changes."""

    cloth: bool = True
    seam: bool = True
    margin_edge: bool = True
    out_of_sight: bool = True
    stitches: bool = True
    echoes: bool = True
    travel: bool = True
    """Hops and travel."""
    arrows: bool = False
    """Which way the path runs."""
    marks: bool = True
    mark_names: bool = True
    numbers: bool = True
    """Of the wedges."""
    findings: bool = True
    late_findings: bool = True
    """Among the findings; without, nobody waits for them (``Fit.prompt_findings``)."""
    words: int | None = None
    """Of so many findings at most, the worst; the others have their symbol alone. None: of all."""
    anchor: bool = True
    mark_distance: float = MARK_DISTANCE
    """Device units from the middle of a mark to its name: larger where a handle lies between."""

    def still(self) -> Show:
        """Only what stays as it is while an anchor is dragged, as long as ``still_key`` is the same."""
        return replace(self, **{name: name in _STILL and getattr(self, name) for name in SWITCHES})

    def moving(self) -> Show:
        """All but that."""
        return replace(self, **dict.fromkeys(_STILL, False))


SWITCHES: Final = [name for name in Show.__slots__ if name not in ("words", "mark_distance")]
"""The kinds of things that are shown or not."""
_STILL: Final = ("cloth", "seam", "margin_edge", "marks", "mark_names")


def still_key(fit: Fit) -> tuple[object, ...]:
    """Equal for two fits whose still part (``Show.still``) looks the same; quick to compare."""
    return (fit.patch, fit.settings, tuple(fan.marks for fan in fit.prompt_fans))


_FINDING_DISTANCE: Final = 8.0
"""Device units from the middle of a finding's symbol to its words."""

_MARK_SYMBOLS: Final = {
    MarkKind.CORNER: SymbolKind.CORNER_MARK,
    MarkKind.DIVISION: SymbolKind.DIVISION_MARK,
    MarkKind.OWN: SymbolKind.OWN_MARK,
}

_LEVELS: Final = {
    # level: (role, hatch of its wedge, symbol); a note hatches nothing
    Level.PROBLEM: (Role.PROBLEM, Hatch.CROSS, SymbolKind.FILLED_TRIANGLE),
    Level.CAUTION: (Role.CAUTION, Hatch.ONE_WAY, SymbolKind.HOLLOW_TRIANGLE),
    Level.NOTE: (Role.NOTE, None, SymbolKind.DOT),
}


def build(fit: Fit, *, style: LengthStyle = LengthStyle.EIGHTHS, show: Show | None = None) -> DisplayList:
    """What is drawn of ``fit``; ``style`` is how figures read."""
    show = show or Show()
    layers: list[Layer] = []

    def add(name: LayerName, items: Iterable[Item]) -> None:
        held = tuple(items)
        if held:
            layers.append(Layer(name, held))

    patch = fit.patch
    rings = (patch.outline, *patch.holes)
    if show.cloth:
        add(LayerName.CLOTH, [Area(Role.CLOTH, rings, Hatch.FILL)])
    if show.out_of_sight:
        areas = fit.out_of_sight.areas
        add(
            LayerName.OUT_OF_SIGHT, [Area(Role.OUT_OF_SIGHT, rings_of(area), Hatch.STIPPLE) for area in areas]
        )
    if show.seam:
        add(LayerName.SEAM, [Line(Role.SEAM, ring, True) for ring in rings])
    if show.margin_edge and fit.settings.edge_margin > 0:
        edges = (ring for part in fit.stitchable for ring in rings_of(part))
        add(LayerName.STITCHABLE, [Line(Role.MARGIN_EDGE, ring, True) for ring in edges])
    if show.stitches:
        add(LayerName.WEDGES, _stitches(fit.prompt_fans))
    if show.echoes:
        add(LayerName.ECHOES, _echoes(fit.fans))
    if show.travel or show.arrows:
        add(LayerName.PATH, _path(fit, show))
    if show.marks or show.mark_names:
        add(LayerName.MARKS, _marks(fit.prompt_fans, show))
    if show.numbers:
        add(LayerName.NUMBERS, [label for fan in fit.prompt_fans for label in _numbers(fan)])
    if show.findings:
        add(LayerName.FINDINGS, _findings(fit, style, show))
    if show.anchor:
        add(LayerName.ANCHOR, [Symbol(SymbolKind.HANDLE, Role.ANCHOR, anchor) for anchor in fit.anchors])

    return DisplayList(tuple(layers), patch.polygon.bounds)


def rings_of(polygon: Polygon) -> tuple[Points, ...]:
    """The rings of ``polygon``, the closing point left out."""
    holes = polygon.interiors
    return (
        shapely.get_coordinates(polygon.exterior)[:-1],
        *(shapely.get_coordinates(hole)[:-1] for hole in holes),
    )


def _stitches(fans: Iterable[Fan]) -> Iterator[Line]:
    for fan in fans:
        for wedge in fan.wedges:
            x, y = wedge.outline[0].tolist()
            # Where the legs stop short of the anchor, the outline's last piece runs from one to the other and
            # is none of them: the path hops there or not, and where it does the hop is drawn.
            closed = abs(x - fan.anchor[0]) <= SAME_POINT and abs(y - fan.anchor[1]) <= SAME_POINT
            yield Line(Role.STITCH, wedge.outline[:-1], closed, wedge.number)


def _echoes(fans: Iterable[Fan]) -> Iterator[Line]:
    for fan in fans:
        for wedge in fan.wedges:
            for number, echo in enumerate(wedge.echoes, start=1):
                yield Line(Role.ECHO, echo[:-1], True, wedge.number, str(number))


def _path(fit: Fit, show: Show) -> Iterator[Item]:
    if not (show.arrows or fit.has_hops):
        return
    for segment in fit.path.segments:
        if segment.kind is Kind.HOP or segment.kind is Kind.TRAVEL:
            if show.travel:
                role = Role.HOP if segment.kind is Kind.HOP else Role.TRAVEL
                yield Line(role, segment.points, False, segment.wedge)
        elif show.arrows and segment.kind is not Kind.ECHO and len(segment.points) > 1:
            (x0, y0), (x1, y1) = segment.points[:2].tolist()
            at = ((x0 + x1) / 2, (y0 + y1) / 2)
            yield Symbol(SymbolKind.ARROW, Role.STITCH, at, math.atan2(y1 - y0, x1 - x0), segment.wedge)


def _marks(fans: Iterable[Fan], show: Show) -> Iterator[Item]:
    for fan in fans:
        for mark in fan.marks:
            if show.marks:
                yield Symbol(_MARK_SYMBOLS[mark.kind], Role.MARK, mark.at, 0.0, None, mark.name)
            if show.mark_names:
                yield _mark_name(mark, fan.anchor, show.mark_distance)


def _mark_name(mark: Mark, anchor: Point, distance: float) -> Label:
    """Beside the mark, on the seam's side: the stitching is on the other."""
    x, y = mark.at
    dx, dy = mark.foot[0] - x, mark.foot[1] - y
    if dx == dy == 0:  # without an edge margin the mark lies on the seam itself
        dx, dy = x - anchor[0], y - anchor[1]
    # Along the longer of the two the box touches the mark's circle with its edge, else with its corner.
    longer = max(abs(dx), abs(dy)) or 1.0
    length = math.hypot(dx, dy) or 1.0
    offset = (dx / length * distance, dy / length * distance)
    return Label(Role.MARK, mark.at, mark.name, TextSize.BASE, (dx / longer, dy / longer), offset)


def _numbers(fan: Fan) -> list[Label]:
    wedges = fan.wedges
    if not wedges:
        return []
    return [
        Label(
            Role.STITCH,
            (x, y),
            str(wedge.number),
            TextSize.SMALL,
            wedge=wedge.number,
            must=False,
            toward=fan.anchor,
        )
        for wedge, (x, y) in zip(wedges, _wedge_middles(fan).tolist(), strict=True)
    ]


def _wedge_middles(fan: Fan) -> Points:
    """(wedges, 2) mm: a place with room around it in each wedge, and inside the innermost echo of it.

    The incentre of the triangle of the anchor and the ends of both legs; a wedge whose side is not one
    straight piece is first cut off at its side's least distance from the anchor, so it holds the triangle.
    """
    anchor = np.array(fan.anchor)
    ends = np.array([(wedge.side[0], wedge.side[-1]) for wedge in fan.wedges]) - anchor
    for number, wedge in enumerate(fan.wedges):
        if len(wedge.side) > 2:
            nearest = _least_distance(wedge.side - anchor)
            ends[number] *= (nearest / np.maximum(np.hypot(*ends[number].T), nearest))[:, None]
    first, second = ends[:, 0], ends[:, 1]
    opposite_second = np.hypot(first[:, 0], first[:, 1])[:, None]
    opposite_first = np.hypot(second[:, 0], second[:, 1])[:, None]
    side = np.hypot(*(second - first).T)[:, None]
    middles: Points = anchor + (opposite_first * first + opposite_second * second) / (
        opposite_first + opposite_second + side
    )
    return middles


def _least_distance(line: Points) -> float:
    """From (0, 0) to the polyline ``line``, mm."""
    start, run = line[:-1], np.diff(line, axis=0)
    squared = np.maximum(np.einsum("ij,ij->i", run, run), np.finfo(np.float64).tiny)
    share = np.clip(-np.einsum("ij,ij->i", start, run) / squared, 0.0, 1.0)
    foot = start + share[:, None] * run
    return float(np.sqrt(np.einsum("ij,ij->i", foot, foot).min()))


def _findings(fit: Fit, style: LengthStyle, show: Show) -> list[Item]:
    findings = fit.findings if show.late_findings else fit.prompt_findings
    drawn = [finding for finding in findings if finding.code not in _NOT_DRAWN]
    if not drawn:
        return []
    wedges = {wedge.number: wedge for fan in fit.prompt_fans for wedge in fan.wedges}
    order = list(_LEVELS)
    drawn.sort(key=lambda finding: order.index(finding.level))  # stable: the worst of a wedge comes first
    return [*_hatched(drawn, wedges), *_places(drawn, style, show.words)]


def _hatched(findings: Sequence[Finding], wedges: dict[int, Wedge]) -> Iterator[Area]:
    """The wedges with findings, each hatched by its worst one."""
    done: set[int] = set()
    for finding in findings:
        role, hatch, _ = _LEVELS[finding.level]
        if finding.wedge in wedges and hatch and finding.wedge not in done:
            done.add(finding.wedge)
            yield Area(role, (wedges[finding.wedge].outline,), hatch, finding.wedge)


def _places(findings: Sequence[Finding], style: LengthStyle, words: int | None) -> Iterator[Item]:
    """A symbol and a label for each; for each wedge one of a level, that which misses its limit most.

    The first ``words`` alone have a label.
    """
    chosen: dict[tuple[object, ...], Finding] = {}
    for number, finding in enumerate(findings):
        key = (finding.level, finding.wedge) if finding.wedge is not None else (number,)
        known = chosen.get(key)
        if known is None or finding.value * known.limit < known.value * finding.limit:
            chosen[key] = finding
    for finding in chosen.values():
        role, _, symbol = _LEVELS[finding.level]
        yield Symbol(symbol, role, finding.at, 0.0, finding.wedge)
    # Where they crowd, the worst keeps its words; the others have their symbol, and the list has the words.
    for number, finding in enumerate(islice(chosen.values(), words)):
        role, _, _ = _LEVELS[finding.level]
        offset = (_FINDING_DISTANCE, 0.0)
        text = finding_label(finding, style)
        must = number == 0
        yield Label(role, finding.at, text, TextSize.BASE, (1.0, 0.0), offset, finding.wedge, must)


_NOT_DRAWN: Final = (Code.REPAIRED, Code.SIMPLIFIED)
"""They say what was done to the outline as it came; nothing on the cloth needs a sign of it."""


def finding_label(finding: Finding, style: LengthStyle) -> str:
    """The few words that stand at a finding's place: figure and limit, such as ``3/16 in < 1/4 in``."""
    value, limit = finding.value, finding.limit
    match finding.code:
        case Code.SIDE_SHORT | Code.WEDGE_THIN | Code.WOBBLE_RISK:
            return compared(value, "<", limit, style)
        case Code.OPEN_AREA:
            return compared(value, ">", limit, style)
        case Code.OUT_OF_SIGHT:
            return tr("{share} % out of sight", share=_per_cent(value))
        case Code.PINCHED:
            return tr("pinched: {share} %", share=_per_cent(value))
        case Code.NO_ROOM:
            return tr("no room")
        case Code.WEDGE_LOST:
            return tr("wedge lost")
        case Code.CROWDED_ANCHOR:
            count = round(value)
            return tr_n("{count} pass > {limit}", "{count} passes > {limit}", count, limit=round(limit))
        case Code.NEAR_CENTRE:
            return tr("{length} off centre", length=more_than_nothing(value, style))
        case Code.ECHO_DROPPED:
            return tr("{value} of {limit} echoes", value=round(value), limit=round(limit))
    return tr(finding.code.value.replace("-", " "))


def _per_cent(share: float) -> str:
    """Never 0 of something that is there, nor 100 of what is not all."""
    if share < 0.01:
        return "< 1"
    return "> 99" if 0.99 < share < 1 else f"{100 * share:.0f}"
