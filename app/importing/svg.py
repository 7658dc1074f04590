"""SVG drawings to patches."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely
from shapely import Polygon

from app.importing import Imported, ImportingError
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
from geometry.units import MM_PER_INCH, MM_PER_UNIT

_PX = MM_PER_INCH / 96
"""mm. CSS Values and Units 3, absolute lengths: 96 px to the inch."""

_SAME_DIGITS = 6
"""Digits after the point, mm, to which two outlines are compared: ``SAME_POINT``."""
_MOST_COMPARED = 1000
"""Of so many outlines, and so many pairs whose boxes lie in one another, it is said which lie in which."""

_REASONS = 2
"""So many remarks go into the sentence of a refusal."""


def read_svg(path: Path, unit: str | None = None) -> Imported:
    """The closed shapes that an SVG file draws, each as a patch, in the order of drawing.

    One path is one patch with its holes, by its fill rule; one that falls into several parts is several.
    Shapes that lie in one another stay patches of their own, and a note says so: which of two drawn
    shapes is a hole, a file does not say.

    ``unit``: what one px is (``in``, ``cm``, ``mm``), for files that give no true size. Without it, such a
    file is read at 96 px to the inch, as the standard has it, and a note says so.

    Raises ``ImportingError`` where the file is no sound SVG, holds no closed shape, or goes beyond the caps.
    """
    if unit is not None and unit not in MM_PER_UNIT:
        raise ImportingError(tr("“{unit}” is no unit", unit=unit), do=tr("give in, cm or mm"))
    px_mm = _PX if unit is None else MM_PER_UNIT[unit]
    root = read_tree(path)
    remarks = Remarks()
    for selector in resolve(root).not_used:
        remarks.add(Remark.RULE_IGNORED, quoted(selector))
    sheet = page(root, px_mm)
    if sheet is None:
        raise ImportingError(tr("shows nothing, its page has no size"), do=tr("give it a width and a height"))
    patches = _patches(shapes(root, sheet, px_mm, remarks), remarks)
    if not patches:
        raise _nothing(remarks.sentences())
    _compare(patches, remarks)
    return Imported(
        patches=tuple(patches),
        notes=(*_about_size(sheet.size_is_stated, unit), *remarks.sentences()),
        unit=None if sheet.size_is_stated else unit or "px",
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
    if stated and unit is None:
        return ()
    if stated:
        return (tr("the file gives its own size, so that the unit “{unit}” was not needed", unit=unit),)
    if unit is not None:
        return (tr("the file gives no size that a ruler has: 1 px was taken as 1 {unit}", unit=unit),)
    return (
        tr(
            "the file gives no size that a ruler has: 96 px were taken as 1 in, as the standard has it;"
            " check one side, or give the unit that 1 px is"
        ),
    )


def _nothing(said: tuple[str, ...]) -> ImportingError:
    what = tr("holds no closed shape that is drawn")
    if said:
        what = tr("{what} ({reasons})", what=what, reasons="; ".join(said[:_REASONS]))
    return ImportingError(what, do=tr("draw the outline of the patch as a closed shape"))
