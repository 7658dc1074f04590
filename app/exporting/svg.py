"""Template -> SVG, true size: a user unit is a mm. Written by hand; no Qt.

Places inside a patch's group are the plan's own, moved by the group's transform. One path for each line, in
groups named by the project's words, so that another program can take what it needs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from app.exporting.hatch import hatch_lines, stipple
from app.exporting.label_places import CLEAR, PLATE, LabelPlacer, PlacedLabel, leader_end
from app.exporting.options import STANDARD, TemplateOptions
from app.exporting.side_by_side import picture_drawing, side_by_side, with_border
from app.exporting.symbols import ROUND, SOLID, symbol_shape, symbol_size
from app.exporting.template import NamedFit, Progress
from app.exporting.words import short_name
from app.sketch.display_list import (
    Area,
    DisplayList,
    Item,
    Layer,
    LayerName,
    Line,
    Symbol,
    SymbolKind,
)
from app.sketch.palette import (
    DOT_WIDTH,
    HATCH_SPACING,
    HATCH_WIDTH,
    PAPER,
    STROKES,
    SYMBOL_SIZE,
    TEXT_POINTS,
    Hatch,
    Role,
)
from geometry.types import Point, Points
from geometry.units import MM_PER_INCH, LengthStyle

_UNIT: Final = MM_PER_INCH / 72
"""mm: a device unit, a point."""
_HANDLE: Final = 1.5 * SYMBOL_SIZE

_WIDE: Final = 0.65
_CAPITAL: Final = 0.73
"""Of a font's size: a character's width and the height of capitals. Nobody knows the font that will be used;
these are those of a wide one."""


def template_svg(
    fits: Sequence[NamedFit],
    options: TemplateOptions = STANDARD,
    style: LengthStyle = LengthStyle.EIGHTHS,
    progress: Progress | None = None,
) -> str:
    """The text of the file; several patches, and each one's copies, side by side.

    ``progress`` is called after each; what it raises ends the work.
    """
    drawn = [each for each in fits for _ in range(options.copies)]
    width, height, places = side_by_side([fit.patch.polygon.bounds for _, fit in drawn])
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}mm" height="{number(height)}mm" '
        f'viewBox="0 0 {number(width)} {number(height)}">',
        f"<title>{escape(', '.join(short_name(name) for name, _ in fits))}</title>",
    ]
    for count, ((name, fit), place) in enumerate(zip(drawn, places, strict=True), start=1):
        lines.append(f'<g id="patch-{count}" transform="translate({number(place[0])} {number(place[1])})">')
        lines.append(f"<title>{escape(short_name(name))}</title>")
        drawing = picture_drawing(fit, options, style)
        # Ids are those of the words alone where there is one patch.
        lines.extend(_Writer(f"patch-{count}-" if len(drawn) > 1 else "").drawing(drawing))
        lines.append("</g>")
        if progress:
            progress(count, len(drawn))
    lines.append("</svg>")
    return "\n".join(lines) + "\n"


class _Writer:
    """Writes one display list; every id begins with ``prefix``."""

    def __init__(self, prefix: str) -> None:
        self.prefix = prefix

    def drawing(self, drawing: DisplayList) -> Iterator[str]:
        for layer in drawing.layers:
            yield from self._layer(layer, drawing.bounds)
        placed = LabelPlacer(1.0, _UNIT, _HANDLE, _text_size).place(
            drawing, within=with_border(drawing.bounds)
        )
        if placed.labels:
            yield f'<g id="{self.prefix}words" font-family="sans-serif" text-anchor="middle">'
            for label in placed.labels:
                yield from _label(label)
            yield "</g>"

    def _layer(self, layer: Layer, window: tuple[float, float, float, float]) -> Iterator[str]:
        drawn = [element for item in layer.items for element in self._item(item, layer.name, window)]
        if drawn:
            yield f'<g id="{self.prefix}{layer.name}" fill="none">'
            yield from drawn
            yield "</g>"

    def _item(self, item: Item, layer: LayerName, window: tuple[float, float, float, float]) -> Iterable[str]:
        if isinstance(item, Line):
            return [f"<path{self._line_id(item)} {_stroke(item.role)} d={_path(item.points, item.closed)}/>"]
        if isinstance(item, Area):
            return _area(item, window)
        if isinstance(item, Symbol):
            return _symbol(item, self._id(f"mark-{item.name}" if layer is LayerName.MARKS else ""))
        return []

    def _line_id(self, line: Line) -> str:
        match line.role:
            case Role.STITCH:
                return self._id(f"wedge-{line.wedge}")
            case Role.ECHO:
                return self._id(f"wedge-{line.wedge}-echo-{line.name}")
        return ""

    def _id(self, word: str) -> str:
        return f" id={quoteattr(self.prefix + word)}" if word else ""


def _area(area: Area, window: tuple[float, float, float, float]) -> Iterator[str]:
    colour = PAPER[area.role]
    spacing = HATCH_SPACING * _UNIT
    if area.hatch is Hatch.FILL:
        outlines = " ".join(_path(ring, True).strip('"') for ring in area.rings)
        yield f'<path fill="{colour}" fill-rule="evenodd" d="{outlines}"/>'
    elif area.hatch is Hatch.STIPPLE:
        dots = "".join(
            f"M{number(x)},{number(y)}h0.001" for x, y in stipple(area.rings, spacing, window).tolist()
        )
        width = number(DOT_WIDTH * _UNIT)
        yield f'<path stroke="{colour}" stroke-width="{width}" stroke-linecap="round" d="{dots}"/>'
    else:
        ends = hatch_lines(area.rings, area.hatch, spacing, window).reshape(-1, 4).tolist()
        pieces = "".join(f"M{number(a)},{number(b)}L{number(c)},{number(d)}" for a, b, c, d in ends)
        yield f'<path stroke="{colour}" stroke-width="{number(HATCH_WIDTH * _UNIT)}" d="{pieces}"/>'


def _symbol(symbol: Symbol, name: str) -> Iterator[str]:
    x, y = symbol.at
    half = symbol_size(symbol.kind, _HANDLE) * _UNIT / 2
    fill = PAPER[symbol.role if symbol.kind in SOLID else Role.CLOTH]
    stroke = _stroke(symbol.role)
    circle = f'<circle{name} cx="{number(x)}" cy="{number(y)}" r="{number(half)}"'
    if symbol.kind is SymbolKind.HANDLE:
        yield f"{circle} {stroke}/>"
        cross = (
            f"M{number(x - half)},{number(y)}L{number(x + half)},{number(y)}"
            f"M{number(x)},{number(y - half)}L{number(x)},{number(y + half)}"
        )
        yield f'<path {stroke} d="{cross}"/>'
    elif symbol.kind in ROUND:
        yield f'{circle} {stroke} fill="{fill}"/>'
    else:
        shape = symbol_shape(symbol.kind, symbol.angle) * (2 * half) + (x, y)
        yield f'<path{name} {stroke} fill="{fill}" d={_path(shape, True)}/>'


def _label(placed: PlacedLabel) -> Iterator[str]:
    label = placed.label
    left, top, right, bottom = placed.box(label.at)
    size = TEXT_POINTS[label.size] * _UNIT
    end = leader_end(label, label.at, (left, top, right, bottom), _UNIT)
    if end is not None:
        width = number(STROKES[Role.QUIET].width * _UNIT)
        line = _path(np.array([label.at, end]), False)
        yield f'<path fill="none" stroke="{PAPER[label.role]}" stroke-width="{width}" d={line}/>'
    yield (
        f'<rect x="{number(left)}" y="{number(top)}" width="{number(right - left)}" '
        f'height="{number(bottom - top)}" fill="{PAPER[Role.CLOTH]}" fill-opacity="{PLATE}"/>'
    )
    base = (top + bottom) / 2 + _CAPITAL * size / 2
    yield (
        f'<text x="{number((left + right) / 2)}" y="{number(base)}" font-size="{number(size)}" '
        f'fill="{PAPER[label.role]}">{escape(label.text)}</text>'
    )


def _text_size(text: str, points: float) -> Point:
    size = points * _UNIT
    capital = _CAPITAL * size
    return (len(text) * _WIDE * size + CLEAR * capital, (1 + CLEAR) * capital)


def _stroke(role: Role) -> str:
    stroke = STROKES[role]
    words = [f'stroke="{PAPER[role]}"', f'stroke-width="{number(stroke.width * _UNIT)}"']
    if stroke.dashes:
        words.append(f'stroke-dasharray="{" ".join(number(dash * _UNIT) for dash in stroke.dashes)}"')
    if 0.0 in stroke.dashes:
        words.append('stroke-linecap="round"')
    return " ".join(words)


def _path(points: Points, closed: bool) -> str:
    places = "L".join(f"{number(x)},{number(y)}" for x, y in points.tolist())
    return f'"M{places}{"Z" if closed else ""}"'


def number(value: float) -> str:
    """To a millionth of a mm, without noughts at the end."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
