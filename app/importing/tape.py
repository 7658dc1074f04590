"""What a tape measured, written down line by line, to patches.

`A B 12 3/8` is the straight distance between two corners, side or diagonal; corners have letters in the
order of the outline, clockwise. `bow A B 1/2` says how far the middle of a curved side stands off the
straight line, out of the patch, or with a minus into it. `inward C` names a corner that points into the
patch. `unit: in` (cm, mm) comes first, `name: …` before a patch, `read to: 1/16` tells how finely the tape
was read, an empty line ends a patch, and `#` begins a remark.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

from app.importing import Imported, ImportingError, UnitMissingError, shown_name
from app.importing.source import Names, Source, quoted
from app.importing.text import text_of, unit_of
from app.sketch.tape_words import READ_TO, STYLES, tape_notes
from app.sketch.translate import tr
from geometry import Patch
from geometry.errors import LengthError, WedgewrightError
from geometry.tape import MAX_CORNERS, Measure, Taped, corner_letter, patch_from_tape
from geometry.units import Unit, parse_coordinate, parse_length

MAX_MEASURES: Final = MAX_CORNERS * (MAX_CORNERS - 1)
"""Of one patch: every pair of corners, there and back."""
_EACH: Final = 4
"""Most measures between two corners, on average: there and back, twice. More would take many seconds."""
MAX_TAPED: Final = 20
"""Patches in one file; balancing each takes up to seconds where a measure is wrong."""

_PAIR = r"(?P<first>[A-Za-z])\s*(?:-|–|to\b)?\s*(?P<second>[A-Za-z])"
_MEASURE = re.compile(rf"{_PAIR}\s*[:=]?\s+(?P<length>\S.*)")
_BOW = re.compile(rf"bow\s*:?\s+{_PAIR}\s*[:=]?\s+(?P<length>\S.*)", re.IGNORECASE)
_INWARD = re.compile(r"inward\s*:?\s+(?P<corners>[A-Za-z](?:[\s,]+[A-Za-z])*)", re.IGNORECASE)
_LINE = re.compile(r"(?P<key>unit|name|read to)\s*:\s*(?P<value>.*)", re.IGNORECASE)


@dataclass(slots=True)
class TapeSheet:
    """The measures of one patch."""

    name: str = ""
    line: int = 1
    """Where it begins in its file."""
    measures: list[Measure] = field(default_factory=list)
    """mm, as they come in the file."""
    bows: dict[int, float] = field(default_factory=dict)
    """mm, by the number of the side's first corner; more than 0 is out of the patch."""
    inward: set[int] | None = None
    """Corners that point into the patch; None where nothing was said of that."""
    rounding: float = 0.0
    """mm: how far off a measure is by the way the tape was read."""

    @property
    def count(self) -> int:
        """Corners: up to the last letter that is named."""
        return 1 + max((max(each.pair) for each in self.measures), default=-1)

    def taped(self) -> Taped:
        """The shape. Raises ``TapeError``."""
        return patch_from_tape(
            self.count, self.measures, bows=self.bows, inward=self.inward, rounding=self.rounding
        )


def read_tape(path: str, unit: str | None = None) -> Imported:
    """The patches of a file of tape measures.

    Arguments and errors as for ``import_file``; measures that do not agree give a patch all the same, and a
    note for each that stands out.
    """
    sheets, stated = tape_sheets(path, unit)
    patches: list[tuple[str, Patch]] = []
    notes: list[str] = []
    for sheet in sheets:
        try:
            taped = sheet.taped()
            patch = Patch(taped.outline)
        except WedgewrightError as error:
            place = tr("“{name}” from line {line}", name=sheet.name, line=sheet.line)
            where = f"{place}, {error.where}" if error.where else place
            raise ImportingError(error.what, where=where, do=error.do) from None
        patches.append((sheet.name, patch))
        told = tape_notes(sheet.measures, taped, STYLES[stated or "in"])
        notes += [f"“{sheet.name}”: {note}" for note in told]
    return Imported(tuple(patches), tuple(notes), stated)


def tape_sheets(path: str, unit: str | None = None) -> tuple[list[TapeSheet], Unit | None]:
    """The measures of a file, patch by patch, and the unit that its bare numbers are in.

    Raises ``ImportingError`` at the first line that cannot be read, ``UnitMissingError`` where ``unit`` may
    help.
    """
    reader = _Reader(Source(text_of(path)), None if unit is None else unit_of(unit, ""))
    sheets = list(reader.sheets())
    if not sheets:
        raise ImportingError(
            tr("holds no measures"), do=tr("write each on a line of its own, like A B 12 3/8")
        )
    stem = shown_name(os.path.splitext(os.path.basename(path))[0])
    names = Names()
    for number, sheet in enumerate(sheets, start=1):
        unnamed = stem if len(sheets) == 1 else tr("patch {number}", number=number)
        sheet.name = names.own(sheet.name or unnamed)
    return sheets, reader.unit


class _Reader:
    """Goes through a text once, line by line."""

    def __init__(self, source: Source, unit: Unit | None) -> None:
        self._source = source
        self._asked = unit
        self._stated: Unit | None = None
        self._step = ""
        self._bows: list[tuple[int, int, float, int]] = []
        """Of the patch that is being read: two corners, the depth in mm, and where it stands."""

    @property
    def unit(self) -> Unit | None:
        """What bare numbers are measured in."""
        return self._stated or self._asked

    def sheets(self) -> Iterator[TapeSheet]:
        count = 0
        sheet = TapeSheet()
        position = 0
        for line in self._source.text.split("\n"):
            start = position + len(line) - len(line.lstrip())
            position += len(line) + 1
            plain = line.split("#", 1)[0].strip()
            if plain:
                self._take(plain, start, sheet)
                continue
            if sheet.measures and "#" not in line:
                count += 1
                yield self._finished(sheet)
                sheet = TapeSheet()
            if count > MAX_TAPED:
                raise self._source.error(
                    start, tr("the file holds more than {limit} patches", limit=MAX_TAPED), tr("split it")
                )
        if sheet.measures:
            yield self._finished(sheet)

    def _finished(self, sheet: TapeSheet) -> TapeSheet:
        most = _EACH * sheet.count * (sheet.count - 1) // 2
        if len(sheet.measures) > most:
            raise ImportingError(
                tr("more than {limit} measures of {count} corners", limit=most, count=sheet.count),
                where=tr("line {line}", line=sheet.line),
                do=tr("leave some out"),
            )
        unit = self.unit or "in"
        sheet.rounding = (parse_length(self._step, unit) if self._step else READ_TO[unit]) / 2
        for first, second, depth, start in self._bows:
            sheet.bows[self._side(first, second, max(sheet.count, 3), start)] = depth
        self._bows = []
        return sheet

    def _take(self, line: str, start: int, sheet: TapeSheet) -> None:
        if stated := _LINE.fullmatch(line):
            self._key(stated["key"].lower(), stated["value"], start, sheet)
        elif bow := _BOW.fullmatch(line):
            depth = self._length(bow["length"], start + bow.start("length"), signed=True)
            self._bows.append((self._corner(bow["first"]), self._corner(bow["second"]), depth, start))
        elif told := _INWARD.fullmatch(line):
            sheet.inward = (sheet.inward or set()) | {
                self._corner(each) for each in re.findall(r"\w", told["corners"])
            }
        elif measured := _MEASURE.fullmatch(line):
            if not sheet.measures:
                sheet.line = self._source.line(start)
            if len(sheet.measures) >= MAX_MEASURES:
                raise self._source.error(
                    start,
                    tr("more than {limit} measures of one patch", limit=MAX_MEASURES),
                    tr("leave some out"),
                )
            length = self._length(measured["length"], start + measured.start("length"))
            first, second = self._corner(measured["first"]), self._corner(measured["second"])
            sheet.measures.append(Measure(first, second, length))
        else:
            raise self._source.error(
                start,
                tr("{line} is no measure", line=quoted(line)),
                tr("write two corners and the distance, like A B 12 3/8"),
            )

    def _key(self, key: str, value: str, start: int, sheet: TapeSheet) -> None:
        if key == "unit":
            self._stated = unit_of(value, self._source.place(start))
        elif key == "name":
            sheet.name = " ".join(value.split())[:80]
        else:
            self._length(value, start)  # so that a wrong one is told here
            self._step = value

    def _side(self, first: int, second: int, count: int, start: int) -> int:
        """The side between two neighbouring corners, by its first; from the last corner it runs on to A."""
        for side, other in ((first, second), (second, first)):
            if (side + 1) % count == other:
                return side
        what = tr("{first} to {second} is no side", first=corner_letter(first), second=corner_letter(second))
        raise self._source.error(start, what, tr("give the bow of a side, between neighbouring corners"))

    def _corner(self, letter: str) -> int:
        return ord(letter.upper()) - ord("A")

    def _length(self, written: str, position: int, *, signed: bool = False) -> float:
        read = parse_coordinate if signed else parse_length
        try:
            return read(written, self.unit)
        except LengthError as error:
            if self.unit is None and _reads(written):
                raise UnitMissingError(
                    tr("nothing says what its numbers are measured in"),
                    where=self._source.place(position),
                    do=tr("state the unit with --unit in, cm or mm, or a first line 'unit: in'"),
                ) from None
            raise self._source.error(position, error.what, error.do) from None


def _reads(written: str) -> bool:
    """Whether it would be a length if there were a unit."""
    try:
        parse_coordinate(written, "mm")
    except LengthError:
        return False
    return True
