"""Outlines as text, corner by corner or as Well-Known Text, to patches.

A line is a corner, x and y, with a semicolon, tab, comma or blanks between; an empty line ends an outline.
Or outlines are Well-Known Text (POLYGON, MULTIPOLYGON), where an outline can have holes. `unit: in` (cm, mm)
comes before the first outline, `name: ...` before each one that has a name. Both kinds have x to the right
and y down, as all of Wedgewright has.
"""

from __future__ import annotations

import codecs
import contextlib
import math
import os
import re
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

import numpy as np
import shapely

from app.importing import CrossedOutlineError, Imported, ImportingError, UnitMissingError, shown_name
from app.importing.fill_rule import TangledError, count_meetings, is_valid
from app.importing.source import Names, Source, quoted
from app.importing.well_known_text import read_shape
from app.sketch.translate import tr
from geometry import Patch, PatchError
from geometry.errors import LengthError
from geometry.findings import Code
from geometry.patch import SeveralPartsError, split_outline
from geometry.tolerances import MAX_SIZE
from geometry.types import Point, Points
from geometry.units import Unit, parse_coordinate, parse_unit, to_mm

MAX_BYTES: Final = 16 * 2**20
"""Largest file: a hundred times what the most detailed outlines take."""

_LONGEST_NAME = 80
_LONGEST_LINE = 200
"""Characters; no corner is written longer."""
_MOST_LENGTHS = 10_000
"""Numbers as people write them, `4 3/8` or `11 cm`; each takes thirty times as long as a decimal."""
_MOST_MEETINGS = 300
"""Pairs of sides, or of holes' boxes, that may meet in the outlines of a file that need repair."""
_MOST_CUTS = 2_000_000
"""Corners of an outline times its holes, where it needs repair: each hole is then cut out by itself."""


def read_text(path: str, unit: str | None = None, split: bool = False) -> Imported:
    """The patches of a text file; one bad outline refuses all.

    Arguments and errors as for ``import_file``, which puts the file's name before the place.
    """
    reader = _Reader(Source(text_of(path)), None if unit is None else unit_of(unit, ""))
    outlines = list(reader.outlines())
    if not outlines:
        raise ImportingError(
            tr("holds no outline"), do=tr("give the corners of one, x and y on each line, or a POLYGON")
        )
    notes = reader.notes()
    patches: list[tuple[str, Patch]] = []
    names = Names()
    maker = _Maker(split)
    for number, outline in enumerate(outlines, start=1):
        stem, _ = os.path.splitext(os.path.basename(path))
        unnamed = shown_name(stem) if len(outlines) == 1 else tr("patch {number}", number=number)
        name = outline.name or unnamed
        parts = maker.patches(outline, name)
        for count, patch in enumerate(parts, start=1):
            own = names.own(f"{name} ({count})" if len(parts) > 1 else name)
            patches.append((own, patch))
            if any(repair.code is Code.REPAIRED for repair in patch.repairs):
                notes.append(tr("“{name}”: repaired, compare with the file", name=own))
    return Imported(tuple(patches), tuple(notes), reader.unit)


# --- the file ---------------------------------------------------------------------------------------

_KINDS = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"%PDF", "a PDF document"),
    (b"{\\rtf", "a formatted (RTF) document"),
    (b"PK\x03\x04", "a ZIP archive or an office document"),
    (b"\xd0\xcf\x11\xe0", "an office document"),
    (b"\x1f\x8b", "a compressed file"),
)

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def text_of(path: str) -> str:
    """What stands in a text file. Raises ``ImportingError`` for one that is none, or too large."""
    return _decoded(_bytes_of(path))


def _bytes_of(path: str) -> bytes:
    try:
        with open(path, "rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise ImportingError(tr("cannot be read ({reason})", reason=error.strerror or error)) from None
    if len(data) > MAX_BYTES:
        raise ImportingError(
            tr("is larger than {limit} MB", limit=MAX_BYTES // 2**20),
            do=tr("split it into smaller files, or leave out corners"),
        )
    return data


def _decoded(data: bytes) -> str:
    for start, kind in _KINDS:
        if data.startswith(start):
            raise ImportingError(
                tr("is {kind} and not text", kind=tr(kind)), do=tr("save the outline as plain text")
            )
    mark, encoding = next(((mark, name) for mark, name in _MARKS if data.startswith(mark)), (b"", "utf-8"))
    try:
        text = data[len(mark) :].decode(encoding)
    except UnicodeDecodeError as error:
        raise ImportingError(
            tr("is not {encoding} text", encoding=encoding.upper()[: len("utf-16")]),
            where=tr("at byte {number}", number=error.start + len(mark)),
            do=tr("save it again as UTF-8"),
        ) from None
    odd = re.search(r"[\x00-\x08\x0e-\x1f\x7f]", text)
    if odd:
        raise ImportingError(
            tr("is not text, it holds control characters"),
            where=Source(text).place(odd.start()),
            do=tr("save the outline as plain text in UTF-8"),
        )
    start_of_text = text.lstrip()[:1000].lower()
    if start_of_text.startswith("<"):
        if "<svg" in start_of_text:
            raise ImportingError(tr("is an SVG drawing"), do=tr("give it the ending .svg"))
        raise ImportingError(
            tr("is a web page or XML and not an outline"), do=tr("save the outline as plain text")
        )
    return text


# --- what stands in it ------------------------------------------------------------------------------

_UNIT_LINE = re.compile(r"unit\s*:(?P<value>.*)", re.IGNORECASE)
_NAME_LINE = re.compile(r"name\s*:(?P<value>.*)", re.IGNORECASE)
_HEADING = re.compile(r"x\s*[,;\s]\s*y", re.IGNORECASE)
_PLAIN = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_DECIMAL = re.compile(_PLAIN)
_SIMPLE_CORNER = re.compile(rf"(?P<x>{_PLAIN})\s*[\s,;]\s*(?P<y>{_PLAIN})")
_DECIMAL_COMMA = re.compile(r"[+-]?(?:[0-9]+(?:,[0-9]*)?|,[0-9]+)")


class _Outline(NamedTuple):
    """One outline with its holes, mm."""

    name: str
    line: int
    corners: Sequence[Point]
    holes: Sequence[Sequence[Point]] = ()


class _Reader:
    """Goes through a text once, from its first line to its last."""

    def __init__(self, source: Source, unit: Unit | None) -> None:
        self._source = source
        self._asked = unit
        self._stated: Unit | None = None
        self._bare = False
        self._lengths = 0
        self._further = False
        self._name: tuple[str, int] | None = None
        """The name that waits for its outline, and where it stands."""
        self._corners: list[Point] = []
        """Of the outline that is being read, one corner to a line."""
        self._begun = 0
        self._any = False

    @property
    def unit(self) -> Unit | None:
        """What the text states, or what bare numbers were measured in; None where there were none."""
        return self._stated or (self._asked if self._bare else None)

    def notes(self) -> list[str]:
        """What is to be said once all is read."""
        notes = []
        if self._asked and self._stated and self._asked != self._stated:
            notes.append(
                tr(
                    "the file states its unit, {stated}; {asked} was not used",
                    stated=self._stated,
                    asked=self._asked,
                )
            )
        if self._further:
            notes.append(tr("its corners have heights or measures (Z, M), which were left out"))
        return notes

    def outlines(self) -> Iterator[_Outline]:
        """Every outline. Raises ``ImportingError`` at the first thing that cannot be read."""
        text = self._source.text
        position = 0
        while position < len(text):
            end = text.find("\n", position)
            line = text[position : end if end >= 0 else len(text)]
            plain = line.strip()
            start = position + len(line) - len(line.lstrip())
            position += len(line) + 1
            if plain and not plain[0].isalpha():
                self._source.count(1, start)
                if not self._corners:
                    self._source.count_outline(start)
                    self._begun = start
                self._corners.append(self._corner(plain, start))
                continue
            yield from self._finished()
            if stated := _UNIT_LINE.fullmatch(plain):
                self._state(stated["value"], start)
            elif called := _NAME_LINE.fullmatch(plain):
                self._refuse_unused_name()
                self._name = (" ".join(called["value"].split())[:_LONGEST_NAME], start)
            elif plain and not _HEADING.fullmatch(plain):  # a heading is the first line of a table
                shape, position = self._well_known(start)
                yield from shape
        yield from self._finished()
        self._refuse_unused_name()

    def _finished(self) -> Iterator[_Outline]:
        """The outline that was being read, if any."""
        if self._corners:
            yield _Outline(self._take_name(), self._source.line(self._begun), self._corners)
            self._corners = []

    def _take_name(self) -> str:
        name = self._name[0] if self._name else ""
        self._name = None
        self._any = True
        return name

    def _refuse_unused_name(self) -> None:
        if self._name:
            raise self._source.error(
                self._name[1], tr("no outline follows this name"), tr("add its corners, or take it out")
            )

    def _state(self, value: str, position: int) -> None:
        once = tr("state it once, before the first outline")
        if self._stated:
            raise self._source.error(position, tr("the unit is stated a second time"), once)
        if self._any:
            raise self._source.error(position, tr("the unit comes after an outline"), once)
        self._stated = unit_of(value[:_LONGEST_LINE], self._source.place(position))

    def _mm(self, number: float, position: int) -> float:
        """A bare number in mm."""
        unit = self._stated or self._asked
        if unit is None:
            raise UnitMissingError(
                tr("nothing says what its numbers are measured in"),
                where=self._source.place(position),
                do=tr("state the unit with --unit in, cm or mm, or a first line 'unit: in'"),
            )
        self._bare = True
        mm = to_mm(number, unit)
        if not math.isfinite(mm):
            raise self._source.error(position, tr("the number is too large"), tr("check it, and the unit"))
        return mm

    def _corner(self, line: str, start: int) -> Point:
        simple = _SIMPLE_CORNER.fullmatch(line) if len(line) <= _LONGEST_LINE else None
        if simple:  # most lines of most files
            at = start + simple.start("y")
            return (self._mm(float(simple["x"]), start), self._mm(float(simple["y"]), at))
        fields = _fields(line) if len(line) <= _LONGEST_LINE else []
        if len(fields) != 2:
            raise self._source.error(
                start,
                tr("{line} is not one corner", line=quoted(line)),
                tr("write x and y, like 3.5 4.25, or with a semicolon between, like 3 1/2; 4 1/4"),
            )
        (_, x), (y_at, y) = fields
        return (self._number(x, start), self._number(y, start + y_at))

    def _number(self, written: str, position: int) -> float:
        """mm. A decimal, or a length as people write it, which may have a unit of its own."""
        plain = written.replace(",", ".") if _DECIMAL_COMMA.fullmatch(written) else written
        if _DECIMAL.fullmatch(plain):
            return self._mm(float(plain), position)
        self._lengths += 1
        if self._lengths > _MOST_LENGTHS:
            raise self._source.error(
                position,
                tr("more than {limit} numbers have a fraction or a unit of their own", limit=_MOST_LENGTHS),
                tr("write them as decimals, and the unit once, in a first line such as 'unit: in'"),
            )
        with contextlib.suppress(LengthError):
            return parse_coordinate(written, None)
        try:
            return self._mm(parse_coordinate(written, "mm"), position)
        except LengthError as error:
            raise self._source.error(position, error.what, error.do) from None

    def _well_known(self, start: int) -> tuple[list[_Outline], int]:
        polygons, position = read_shape(self._source, start)
        name = self._take_name()
        outlines = []
        for number, polygon in enumerate(polygons, start=1):
            rings = [
                [(self._mm(x, polygon.start), self._mm(y, polygon.start)) for x, y in ring]
                for ring in polygon.rings
            ]
            own = f"{name} ({number})" if name and len(polygons) > 1 else name
            outlines.append(_Outline(own, self._source.line(polygon.start), rings[0], rings[1:]))
            self._further |= polygon.further
        return outlines, position


def _fields(line: str) -> list[tuple[int, str]]:
    """The numbers of a corner's line, each with its column from 0; none at all where one is missing.

    A semicolon parts them before all else, then a tab: numbers may then have a decimal comma, or blanks as
    in `4 3/8`. A comma parts them unless there are two words, and commas only within these (`1,5 2,5`).
    A separator may stand after the last one, too.
    """
    if ";" in line:
        separator = ";"
    elif "\t" in line:
        separator = "\t+"
    elif "," in line and not re.fullmatch(r"[^\s,]+(,[^\s,]+)?\s+[^\s,]+(,[^\s,]+)?", line):
        separator = ","
    else:
        separator = r"\s+"
    fields = []
    start = 0
    for between in re.finditer(rf"{separator}|\Z", line):
        field = line[start : between.start()]
        fields.append((start + len(field) - len(field.lstrip()), field.strip()))
        start = between.end()
    if not fields[-1][1]:
        fields.pop()
    return fields if all(field for _, field in fields) else []


def unit_of(text: str, where: str) -> Unit:
    """The unit that ``text`` names. Raises ``ImportingError``, which says ``where``."""
    try:
        return parse_unit(text)
    except LengthError as error:
        raise ImportingError(error.what, where=where, do=error.do) from None


# --- patches ----------------------------------------------------------------------------------------


class _Maker:
    """Makes patches of outlines, as long as a file asks for no endless work."""

    def __init__(self, split: bool) -> None:
        self._split = split
        self._meetings_left = _MOST_MEETINGS

    def patches(self, outline: _Outline, name: str) -> tuple[Patch, ...]:
        """One patch, or with ``split`` as many as the outline falls into."""
        place = tr("“{name}” from line {line}", name=name, line=outline.line)
        self._refuse_tangle(outline, place)
        try:
            if self._split:
                return split_outline(outline.corners, outline.holes)
            return (Patch(outline.corners, outline.holes),)
        except PatchError as error:
            kind = CrossedOutlineError if isinstance(error, SeveralPartsError) else ImportingError
            where = f"{place}, {error.where}" if error.where else place
            raise kind(error.what, where=where, do=error.do) from None

    def _refuse_tangle(self, outline: _Outline, place: str) -> None:
        """Refuse what would take too long to repair: the work grows with the places where lines meet."""
        rings = [np.array(ring) for ring in (outline.corners, *outline.holes) if len(ring) >= 3]
        with np.errstate(over="ignore"):
            size = max((np.ptp(ring, axis=0).max() for ring in rings), default=0.0)
        if len(outline.corners) < 3 or size > MAX_SIZE:
            return  # for ``Patch`` to refuse
        if is_valid(shapely.Polygon(rings[0], rings[1:])):
            return
        if len(rings[1:]) * len(outline.corners) > _MOST_CUTS:
            raise ImportingError(
                tr("has too many holes for an outline that needs repair"),
                where=place,
                do=tr("keep its holes inside and apart, or leave out corners that lie close together"),
            )
        with contextlib.suppress(TangledError):
            self._meetings_left -= count_meetings(rings) + _overlaps(rings[1:])
            if self._meetings_left >= 0:
                return
        raise ImportingError(
            tr("its lines cross or touch each other in too many places"),
            where=place,
            do=tr("draw the outline around the patch once, without loops, and its holes apart"),
        )


def _overlaps(holes: Sequence[Points]) -> int:
    """How many pairs of holes have boxes that meet."""
    if not holes:
        return 0
    boxes = shapely.box(*np.array([[*hole.min(axis=0), *hole.max(axis=0)] for hole in holes]).T)
    return int(shapely.STRtree(boxes).query(boxes).shape[1] - len(holes)) // 2
