"""From tape measures to shapes, and to a table and JSON of them."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table

from app.cli.arguments import Call
from app.cli.table import bold, printable, printed
from app.importing import ImportingError, shown_name
from app.importing.tape import TapeSheet, tape_sheets
from app.report import rounded, rounded_points
from app.sketch.tape_words import STYLES, pair_words, sure_words, tape_notes
from app.sketch.translate import tr
from geometry.errors import WedgewrightError
from geometry.tape import Taped, corner_letter
from geometry.units import LengthStyle, format_length

VERSION = 1


class Shapes(NamedTuple):
    """What a call gets: per patch its measures and its shape."""

    patches: tuple[tuple[TapeSheet, Taped], ...]
    style: LengthStyle

    @property
    def agree(self) -> bool:
        """True where no measure is off by more than rounding explains."""
        return all(taped.agree for _, taped in self.patches)

    def report(self) -> dict[str, Any]:
        """JSON-ready; millimetres, rounded to 1e-6."""
        return {
            "wedgewright-tape": VERSION,
            "unit": "mm",
            "patches": [_plain(sheet, taped, self.style) for sheet, taped in self.patches],
        }


def shapes(call: Call) -> Shapes:
    """The shapes in the call's file. Raises ``WedgewrightError`` saying where it failed."""
    path = call.files[0]
    name = f"“{shown_name(path)}”"
    try:
        sheets, unit = tape_sheets(path, call.unit)
    except WedgewrightError as error:
        error.where = f"{name}, {error.where}" if error.where else name
        raise
    found = []
    for sheet in sheets:
        try:
            found.append((sheet, sheet.taped()))
        except WedgewrightError as error:
            where = ", ".join(part for part in (name, f"“{sheet.name}”", error.where) if part)
            raise ImportingError(error.what, where=where, do=error.do) from None
    return Shapes(tuple(found), STYLES[unit or "in"])


def tape_table(found: Shapes) -> str:
    """Per patch its measures with what each is off by, its corners, and what there is to say."""

    def show(console: Console) -> None:
        for sheet, taped in found.patches:
            console.print(bold(printable(sheet.name)))
            console.print(_measures(sheet, taped, found.style))
            console.print(_corners(taped, found.style))
            for note in tape_notes(sheet.measures, taped, found.style):
                console.print(note[0].upper() + note[1:] + ".")
            if taped.agree:
                console.print(sure_words(taped, found.style))
            console.print()

    return printed(show)


def _measures(sheet: TapeSheet, taped: Taped, style: LengthStyle) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    table.add_column(tr("Measure"))
    for heading in (tr("Measured"), tr("In the shape"), tr("Off by")):
        table.add_column(heading, justify="right")
    for measure, misfit in zip(sheet.measures, taped.misfits, strict=True):
        row = (measure.length, measure.length - misfit, misfit)
        table.add_row(pair_words(measure), *(format_length(value, style) for value in row))
    return table


def _corners(taped: Taped, style: LengthStyle) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    table.add_column(tr("Corner"))
    for heading in ("x", "y"):
        table.add_column(heading, justify="right")
    for number, corner in enumerate(taped.corners.tolist()):
        table.add_row(corner_letter(number), *(format_length(value, style) for value in corner))
    return table


def _plain(sheet: TapeSheet, taped: Taped, style: LengthStyle) -> dict[str, Any]:
    return {
        "name": sheet.name,
        "corners": rounded_points(taped.corners),
        "outline": rounded_points(taped.outline),
        "measures": [
            {
                "from": corner_letter(each.first),
                "to": corner_letter(each.second),
                "length": rounded(each.length),
                "misfit": rounded(misfit),
            }
            for each, misfit in zip(sheet.measures, taped.misfits, strict=True)
        ],
        "checked": taped.checked,
        "agree": taped.agree,
        "suspects": [
            {"measure": each.measure, "expected": rounded(each.expected)} for each in taped.suspects
        ],
        "error": rounded(taped.error) if math.isfinite(taped.error) else None,
        "others": [rounded_points(each) for each in taped.others],
        "notes": tape_notes(sheet.measures, taped, style),
    }
