"""What lies on a print's sheets, as it is shown over the patch. No Qt; all places in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.exporting.clip import Window
from app.exporting.placement import Placement
from app.exporting.print_job import PrintedSheet
from app.sketch.translate import tr, tr_n
from geometry.types import Points


@dataclass(frozen=True, slots=True)
class SheetOutline:
    """The room that one sheet has for lines, where it lies among the others."""

    page: int
    """Its number in the print, from 0."""
    window: Window
    words: tuple[str, str, str]
    """Row and column, or its number where several patches share it: on one line, on two, and shortest."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Sheets that are looked at together: all of one patch, or one that several patches share."""

    patches: tuple[tuple[int, Placement], ...]
    """Number of each patch, and how it lies under the sheets."""
    sheets: tuple[SheetOutline, ...]
    words: str


def spreads_of(pages: Sequence[PrintedSheet], names: Sequence[str]) -> list[Spread]:
    """The spreads of a print, in its order; further copies of a patch are no spreads of their own.

    ``names``: of the patches.
    """
    alone: dict[int, list[int]] = {}
    made: list[Spread | int] = []
    for number, page in enumerate(pages):
        if len(page.patches) > 1:
            made.append(_shared(number, page, names))
        elif page.copy == 1:
            patch = page.patches[0].patch
            if patch not in alone:
                made.append(patch)
            alone.setdefault(patch, []).append(number)
    return [_of_one(each, alone[each], pages, names) if isinstance(each, int) else each for each in made]


def _of_one(
    patch: int, numbers: Sequence[int], pages: Sequence[PrintedSheet], names: Sequence[str]
) -> Spread:
    placement = placement_under(pages[numbers[0]].patches[0].corners)
    sheets = tuple(
        SheetOutline(
            number,
            _window(placement.points(pages[number].patches[0].corners)),
            _position(pages[number].row, pages[number].column),
        )
        for number in numbers
    )
    words = tr_n("“{name}”: {count} sheet", "“{name}”: {count} sheets", len(sheets), name=names[patch])
    return Spread(((patch, placement),), sheets, words)


def _shared(number: int, page: PrintedSheet, names: Sequence[str]) -> Spread:
    patches = tuple((each.patch, placement_under(each.corners)) for each in page.patches)
    window = _window(patches[0][1].points(page.patches[0].corners))
    told = ", ".join(f"“{names[patch]}”" for patch, _ in patches)
    words = (tr("sheet {number}", number=number + 1),) * 2 + (str(number + 1),)
    told = tr("{patches} on one sheet", patches=told)
    return Spread(patches, (SheetOutline(number, window, words),), told)


def _position(row: int, column: int) -> tuple[str, str, str]:
    long = tr("row {row}, column {column}", row=row, column=column)
    lines = tr("row {row},\ncolumn {column}", row=row, column=column)
    return (long, lines, tr("{row}, {column}", row=row, column=column))


def placement_under(corners: Points) -> Placement:
    """How a patch lies under a sheet that covers ``corners`` of it, (4, 2), clockwise on the sheet, whose
    first corner comes to (0, 0).
    """
    across, down = corners[1] - corners[0], corners[3] - corners[0]
    mirrored = bool(across[0] * down[1] - across[1] * down[0] < 0)
    turned = bool(abs(across[1]) > abs(across[0]))
    x, y = Placement(mirrored, turned).points(corners[:1])[0].tolist()
    return Placement(mirrored, turned, (-x, -y))


def _window(points: Points) -> Window:
    (left, top), (right, bottom) = np.min(points, axis=0).tolist(), np.max(points, axis=0).tolist()
    return (left, top, right, bottom)
