"""What a template shows, and writing it to a file of any kind that is known. No Qt at import."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final, TypeAlias

import msgspec

from app.exporting.options import STANDARD, TemplateKind, TemplateOptions
from app.plan.atomic import atomic_write
from app.sketch.display_list import (
    Area,
    DisplayList,
    Item,
    Layer,
    LayerName,
    Show,
    Symbol,
    SymbolKind,
    build,
)
from app.sketch.palette import Role
from geometry.errors import WedgewrightError
from geometry.fit import Fit
from geometry.units import LengthStyle


class ExportError(WedgewrightError):
    """A template that cannot be written so."""


NamedFit: TypeAlias = tuple[str, Fit]
"""The name of a patch, and its fit."""

Progress: TypeAlias = Callable[[int, int], None]
"""Called with how much is done, and of how much."""


CUTTER_ENDINGS: Final = (".dxf", ".svg")


def part_of(progress: Progress | None, first: float, last: float) -> Progress | None:
    """What a part of the work is given for its ``progress``: from ``first`` to ``last`` of all, 0 to 1."""
    if progress is None:
        return None

    def told(done: int, total: int) -> None:
        progress(round(_PARTS * (first + (last - first) * done / total)), _PARTS)

    return told


_PARTS: Final = 1000


def template_drawing(fit: Fit, options: TemplateOptions, style: LengthStyle) -> DisplayList:
    """What of ``fit`` is on a template, in the patch's own mm; the cloth is the paper itself."""
    lines = options.kind is not TemplateKind.MARKS
    marks = options.kind is not TemplateKind.LINES
    show = Show(
        cloth=False,
        stitches=lines,
        echoes=lines and options.echoes,
        travel=lines,
        arrows=lines and options.arrows,
        numbers=lines and options.numbers,
        marks=marks,
        mark_names=marks,
    )
    drawing = build(fit, style=style, show=show)
    if not show.echoes:
        # All notes that have a place in a drawing are of echoes that found no room.
        drawing = _changed(drawing, _without_notes)
    return drawing if lines else _changed(drawing, _to_prick)


def _changed(drawing: DisplayList, change: Callable[[LayerName, Item], list[Item]]) -> DisplayList:
    layers = (
        Layer(layer.name, tuple(new for item in layer.items for new in change(layer.name, item)))
        for layer in drawing.layers
    )
    return DisplayList(tuple(layer for layer in layers if layer.items), drawing.bounds)


def _without_notes(_: LayerName, item: Item) -> list[Item]:
    return [] if item.role is Role.NOTE else [item]


def _to_prick(layer: LayerName, item: Item) -> list[Item]:
    """Every mark and the anchor a solid dot, and no hatch whose dots could be taken for marks."""
    match item:
        case Area():
            return []
        case Symbol() if layer is LayerName.MARKS:
            return [msgspec.structs.replace(item, kind=SymbolKind.DOT)]
        case Symbol() if layer is LayerName.ANCHOR:
            return [item, Symbol(SymbolKind.DOT, item.role, item.at)]
    return [item]


def check_copies(options: TemplateOptions) -> None:
    """Raises ``ExportError`` where there is no copy to print."""
    if options.copies < 1:
        raise ExportError(f"{options.copies} copies are none", where="copies", do="give 1 or more")


def write_template(
    path: Path,
    fits: Sequence[NamedFit],
    options: TemplateOptions = STANDARD,
    *,
    style: LengthStyle = LengthStyle.EIGHTHS,
    progress: Progress | None = None,
    dots_per_inch: int | None = None,
) -> tuple[str, ...]:
    """Write the true-size template of ``fits`` as the ending of ``path`` says: .pdf, .svg, .dxf or .png.

    Paper and margin of ``options`` are for PDF only; the others hold all patches in one picture. DXF, and SVG
    where ``options.cutter`` says so, hold what a stencil cutter cuts.
    ``dots_per_inch`` is for PNG only; None is ``png.DOTS_PER_INCH`` or, if that is too large, fewer.
    ``progress`` is called at each step, and what it raises ends the work. The file is written whole or not at
    all. Returns what is to be said of what was written (``qt.letters_missing``). Raises ``ExportError`` for
    another ending, or where there is nothing to write, ``PaperError``, and ``WriteError``.
    """
    path = Path(path)
    if not fits:
        raise ExportError("there is no patch to print", where=f"“{path.name}”", do="choose at least one")
    check_copies(options)
    ending = path.suffix.lower()
    if options.cutter and ending not in CUTTER_ENDINGS:
        what = "a stencil cutter is given .dxf or .svg here"
        raise ExportError(what, where=f"“{path.name}”", do="end the name in one of them")
    try:
        data = _written(ending, fits, options, style, progress, dots_per_inch)
    except ExportError as error:
        error.where = error.where or f"“{path.name}”"
        raise
    atomic_write(path, data)
    if ending != ".pdf":
        return ()  # no names are written, or in fonts of whoever reads them
    from app.exporting.qt import letters_missing

    return letters_missing(name for name, _ in fits)


def _written(
    ending: str,
    fits: Sequence[NamedFit],
    options: TemplateOptions,
    style: LengthStyle,
    progress: Progress | None,
    dots_per_inch: int | None,
) -> bytes:
    """What the file of that ending is to hold."""
    match ending:
        case ".pdf":
            from app.exporting.pdf import template_pdf

            return template_pdf(fits, options, style, progress)
        case ".dxf":
            from app.exporting.dxf import template_dxf

            return template_dxf(fits, options, style, progress)
        case ".svg" if options.cutter:
            from app.exporting.cutter_svg import cutter_svg

            return cutter_svg(fits, options, style, progress).encode("utf-8")
        case ".svg":
            from app.exporting.svg import template_svg

            return template_svg(fits, options, style, progress).encode("utf-8")
        case ".png":
            from app.exporting.png import template_png

            return template_png(fits, options, style, progress, dots_per_inch)
        case _:
            what = f"{ending} files cannot be written" if ending else "the name has no ending"
            raise ExportError(what, do="end the name in .pdf, .svg, .dxf or .png")
