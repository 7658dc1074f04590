"""Stencils -> SVG for a cutter: true size, hairlines without a fill, one path a line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final
from xml.sax.saxutils import escape

from app.exporting.cutter import Cut, CutItem, Ring, circle_of, pieces_of, stencils
from app.exporting.options import STANDARD, TemplateOptions
from app.exporting.svg import number
from app.exporting.template import NamedFit, Progress
from app.exporting.words import short_name
from app.sketch.display_list import LayerName
from geometry.types import Point
from geometry.units import MM_PER_UNIT, LengthStyle, Unit

COLOURS: Final = {
    LayerName.SEAM: "#000000",
    LayerName.WEDGES: "#0000ff",
    LayerName.ECHOES: "#00a000",
    LayerName.PATH: "#c000c0",
    LayerName.MARKS: "#ff0000",
    LayerName.ANCHOR: "#ff0000",
}
"""As in DXF; a cutter's program sorts by them."""

_HAIRLINE: Final = 0.1
"""mm: of a line, which is to be cut along its middle."""


def cutter_svg(
    fits: Sequence[NamedFit],
    options: TemplateOptions = STANDARD,
    style: LengthStyle = LengthStyle.EIGHTHS,
    progress: Progress | None = None,
) -> str:
    """The text of the file; several patches, and each one's copies, side by side.

    In inches where ``style`` is, else in mm. ``progress`` is called after each; what it raises ends the work.
    """
    drawn = stencils([fit for _, fit in fits], options, progress)
    unit: Unit = "in" if style.unit == "in" else "mm"
    page = _Page(1 / MM_PER_UNIT[unit])
    width, height = page.length(drawn.width), page.length(drawn.height)
    names = [name for name, _ in fits for _ in range(options.copies)]
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}{unit}" height="{height}{unit}" '
        f'viewBox="0 0 {width} {height}" fill="none" stroke-width="{page.length(_HAIRLINE)}">',
        f"<title>{escape(', '.join(short_name(name) for name, _ in fits))}</title>",
    ]
    for count, (name, stencil) in enumerate(zip(names, drawn.each, strict=True), start=1):
        lines += [f'<g id="patch-{count}">', f"<title>{escape(short_name(name))}</title>"]
        # Ids are those of the words alone where there is one patch.
        prefix = f"patch-{count}-" if len(names) > 1 else ""
        for layer in stencil.layers:
            lines.append(f'<g id="{prefix}{layer.name}" stroke="{COLOURS[layer.name]}">')
            lines += [page.element(item) for item in layer.items]
            lines.append("</g>")
        lines.append("</g>")
    lines.append("</svg>")
    return "\n".join(lines) + "\n"


class _Page:
    """From mm to the file's unit."""

    def __init__(self, scale: float) -> None:
        self.scale = scale

    def length(self, mm: float) -> str:
        return number(mm * self.scale)

    def place(self, at: Point) -> str:
        return f"{self.length(at[0])},{self.length(at[1])}"

    def element(self, item: CutItem) -> str:
        if isinstance(item, Ring):
            x, y = map(self.length, item.at)
            return f'<circle cx="{x}" cy="{y}" r="{self.length(item.radius)}"/>'
        return f'<path d="{"".join(self._data(item))}"/>'

    def _data(self, cut: Cut) -> Iterator[str]:
        pieces = list(pieces_of(cut))
        yield f"M{self.place(pieces[0][0])}"
        for start, end, bulge in pieces if not cut.closed or pieces[-1][2] else pieces[:-1]:
            if bulge:
                _, radius = circle_of(start, end, bulge)
                flags = f"{int(abs(bulge) > 1)} {int(bulge > 0)}"
                yield f"A{self.length(radius)} {self.length(radius)} 0 {flags} {self.place(end)}"
            else:
                yield f"L{self.place(end)}"
        if cut.closed:
            yield "Z"
