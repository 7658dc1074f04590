"""SVG drawings to patches."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np
import shapely
from shapely import Polygon

from app.importing import Imported, ImportingError, Progress, Rough, UnitMissingError, longest_side
from app.importing.source import Names, quoted
from app.importing.svg_remarks import Remark, Remarks
from app.importing.svg_style import resolve
from app.importing.svg_viewport import page
from app.importing.svg_walk import Shape, shapes
from app.importing.svg_xml import read_tree
from app.sketch.translate import tr
from geometry import Patch, PatchError
from geometry.findings import Code
from geometry.patch import split_outline
from geometry.units import MM_PER_INCH, MM_PER_UNIT, parse_unit

PX_MM: Final = MM_PER_INCH / 96
"""mm. CSS Values and Units 3, absolute lengths: 96 px to the inch."""

_ROUGH = 1000.0
"""mm: no page is larger while it is not known how large it is."""

_SAME_DIGITS = 6
"""Digits after the point, mm, to which two outlines are compared: ``SAME_POINT``."""
_MOST_COMPARED = 1000
"""Of so many outlines, and so many pairs whose boxes lie in one another, it is said which lie in which."""

_REASONS = 2
"""So many remarks go into the sentence of a refusal."""


def read_svg(
    path: Path, unit: str | None = None, *, size: float | None = None, progress: Progress | None = None
) -> Imported:
    """The closed shapes that an SVG file draws, each as a patch, in the order of drawing.

    One path is one patch with its holes, by its fill rule; one that falls into several parts is several.
    Shapes that lie in one another stay patches of their own, and a note says so: which of two drawn
    shapes is a hole, a file does not say.

    ``unit``: what one px is (``in``, ``cm``, ``mm``), for files that give no true size, or ``px`` for 96 to
    the inch, as the standard has it. ``size``, mm: how wide or high all outlines together are to be,
    whichever is more, whatever the file says.

    Raises ``ImportingError`` where the file is no sound SVG, holds no closed shape, or goes beyond the caps,
    and ``UnitMissingError`` where nothing says how large it is.
    """
    if unit not in (None, "px", *MM_PER_UNIT):
        raise ImportingError(tr("“{unit}” is no unit", unit=unit), do=tr("give in, cm, mm or px"))
    px_mm = PX_MM if unit is None or unit == "px" else MM_PER_UNIT[parse_unit(unit)]
    tree = read_tree(path)
    ignored = resolve(tree.elements).not_used
    sheet = page(tree.root, px_mm)
    if sheet is None:
        raise ImportingError(tr("shows nothing, its page has no size"), do=tr("give it a width and a height"))

    def drawn(scale: float) -> tuple[list[tuple[str, Patch]], Remarks]:
        remarks = Remarks()
        for selector in ignored:
            remarks.add(Remark.RULE_IGNORED, quoted(selector))
        patches = _patches(shapes(tree, sheet, px_mm, remarks, scale, progress), remarks)
        if not patches:
            raise _nothing(remarks.sentences())
        return patches, remarks

    known = sheet.size_is_stated or unit is not None
    if known and size is None:
        patches, remarks = drawn(1.0)
    else:
        sides = [px_mm * side for side in (sheet.page_width, sheet.page_height) if side > 0]
        rough = _ROUGH / max(_ROUGH, *sides, 0.0)
        patches, remarks = drawn(rough)
        if size is None:
            raise UnitMissingError(
                tr("its size is given in pixels, which no ruler has"),
                do=tr("say how long its longest side is with --size, or give --unit px for 96 to the inch"),
                rough=Rough(tuple(patches), px_mm * rough, True),
            )
        patches, remarks = drawn(rough * size / longest_side(patches))
    _compare(patches, remarks)
    about = () if size is not None else _about_size(sheet.size_is_stated, unit)
    return Imported(
        patches=tuple(patches),
        notes=(*about, *remarks.sentences()),
        unit=None if sheet.size_is_stated or size is not None else unit,
    )


def _patches(found: Sequence[Shape], remarks: Remarks) -> list[tuple[str, Patch]]:
    """The shapes as patches under names of their own; what cannot be one is remarked upon."""
    patches: list[tuple[str, Patch]] = []
    names = Names()
    for number, shape in enumerate(found, start=1):
        name = shape.name or tr("patch {number}", number=number)
        made: list[Patch] = []
        for part in shape.parts:
            rings = [shapely.get_coordinates(ring)[:-1] for ring in (part.exterior, *part.interiors)]
            try:
                made += split_outline(rings[0], rings[1:])
            except PatchError as error:
                remarks.add(Remark.REFUSED, f"{quoted(name)}: {error}")
        if len(made) > 1:
            remarks.add(Remark.SEVERAL, quoted(name))
        if any(repair.code is Code.REPAIRED for patch in made for repair in patch.repairs):
            remarks.add(Remark.REPAIRED, quoted(name))
        patches += [(names.own(name), patch) for patch in made]
    return patches


def _compare(patches: Sequence[tuple[str, Patch]], remarks: Remarks) -> None:
    """Say which patches are drawn twice, and which lie in others."""
    first: dict[bytes, str] = {}
    different: list[tuple[str, Polygon]] = []
    for name, patch in patches:
        corners = np.concatenate([patch.outline, *patch.holes]).round(_SAME_DIGITS) + 0.0
        key = corners[np.lexsort(corners.T)].tobytes()
        if key in first:
            pair = {"second": quoted(name), "first": quoted(first[key])}
            remarks.add(Remark.SAME, tr("{second} and {first}", **pair))
        else:
            first[key] = name
            different.append((name, patch.polygon))
    outlines = np.array([outline for _, outline in different])
    x0, y0, x1, y1 = shapely.bounds(outlines).T
    inner, outer = shapely.STRtree(outlines).query(outlines[:_MOST_COMPARED])
    boxed = (x0[inner] >= x0[outer]) & (y0[inner] >= y0[outer]) & (x1[inner] <= x1[outer])
    boxed &= (y1[inner] <= y1[outer]) & (inner != outer)
    inner, outer = inner[boxed][:_MOST_COMPARED], outer[boxed][:_MOST_COMPARED]
    within = shapely.covers(outlines[outer], outlines[inner])
    for one, other in zip(inner[within], outer[within], strict=True):
        pair = {"inner": quoted(different[one][0]), "outer": quoted(different[other][0])}
        remarks.add(Remark.INSIDE, tr("{inner} in {outer}", **pair))


def _about_size(stated: bool, unit: str | None) -> tuple[str, ...]:
    if unit is None:
        return ()
    if stated:
        return (tr("the file gives its own size, so that the unit “{unit}” was not needed", unit=unit),)
    if unit == "px":
        return (tr("96 px were taken as 1 in, as the standard has it: check one side"),)
    return (tr("the file gives no size that a ruler has: 1 px was taken as 1 {unit}", unit=unit),)


def _nothing(said: tuple[str, ...]) -> ImportingError:
    what = tr("holds no closed shape that is drawn")
    if said:
        what = tr("{what} ({reasons})", what=what, reasons="; ".join(said[:_REASONS]))
    return ImportingError(what, do=tr("draw the outline of the patch as a closed shape"))
