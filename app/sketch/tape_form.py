"""The sheet on which tape measures are typed: what stands on it, what it says, and its picture. No Qt."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Final

import numpy as np
import shapely

from app.sketch.display_list import (
    Area,
    DisplayList,
    Item,
    Label,
    Layer,
    LayerName,
    Line,
    Symbol,
    SymbolKind,
)
from app.sketch.outline_pictures import measured
from app.sketch.palette import Hatch, Role, TextSize
from app.sketch.tape_words import READ_TO, STYLES, pair_words, sure_words, tape_notes
from app.sketch.translate import tr
from geometry import Patch
from geometry.errors import WedgewrightError
from geometry.tape import (
    Measure,
    Pair,
    Taped,
    TooFewError,
    corner_letter,
    curved_outline,
    patch_from_tape,
)
from geometry.types import Points
from geometry.units import LengthStyle, format_length, parse_coordinate, parse_length

LEAST_CORNERS: Final = 3
_PAIR = re.compile(r"\s*([A-Za-z])\s*(?:-|–|to\b|,)?\s*([A-Za-z])\s*")
_BESIDE: Final = 20.0
"""Device units from a corner to the middle of its letter."""
_SKETCH: Final = 100.0
"""mm: radius of the sketch that stands in for a shape that is not settled."""


@dataclass(slots=True)
class Row:
    """One line of the sheet, as typed."""

    pair: str
    length: str = ""
    bow: str = ""
    """Only of a side."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """What the lines say."""

    count: int
    measures: tuple[Measure, ...]
    rows: tuple[int, ...]
    """For each measure, the number of its line."""
    bows: Mapping[int, float]
    inward: frozenset[int] | None
    style: LengthStyle
    wrong: Mapping[tuple[int, str], str]
    """Line and field (pair, length or bow) that cannot be read, with the sentence that says why."""

    @property
    def written(self) -> LengthStyle:
        """How misfits are written."""
        return STYLES[self.style.unit]

    @property
    def rounding(self) -> float:
        """mm: how far off a measure is by the way the tape is read."""
        return READ_TO[self.style.unit] / 2


@dataclass(frozen=True, slots=True)
class Shape:
    """What comes of a sheet: a shape, or why there is none yet."""

    taped: Taped | None = None
    patch: Patch | None = None
    """The likeliest shape, where it can be a patch."""
    why: str = ""
    """Why there is none; empty where there is one."""
    wanted: tuple[Pair, ...] = ()
    """Where measures are missing: those that would settle it, the next one first."""


@dataclass(slots=True)
class TapeForm:
    """The sheet. The sides come first, in the order in which a hand measures them."""

    count: int = 4
    rows: list[Row] = field(default_factory=list)
    inward: set[int] | None = None
    """Corners that point into the patch; None while nothing was said of that."""
    kept: Points | None = None
    """(n, 2) mm: the shape that was chosen where several have the same measures."""
    before: TapeForm | None = None
    """The sheet that was emptied last."""

    def __post_init__(self) -> None:
        if not self.rows:
            self.set_count(self.count)

    @property
    def is_empty(self) -> bool:
        """Whether nothing is typed on it."""
        return not any(row.length.strip() or row.bow.strip() for row in self.rows)

    def set_count(self, count: int) -> None:
        """So many corners: a line for each side, and those others that still have their corners."""
        known = {pair: row for row in self.rows if (pair := self.pair_of(row)) is not None}
        sides = [(i, (i + 1) % count) for i in range(count)]
        taken = [known.pop((min(side), max(side)), None) for side in sides]
        old_sides = {(min(i, (i + 1) % self.count), max(i, (i + 1) % self.count)) for i in range(self.count)}
        others = [
            row
            for pair, row in known.items()
            if max(pair) < count and (pair not in old_sides or row.length.strip())
        ]
        self.rows = [
            Row(pair_text(side), old.length, old.bow) if old else Row(pair_text(side))
            for side, old in zip(sides, taken, strict=True)
        ] + [Row(row.pair, row.length) for row in others]
        self.count = count
        self.kept = None
        if self.inward is not None:
            self.inward = {corner for corner in self.inward if corner < count}

    def add(self, pair: Pair | None) -> int:
        """A line more, for ``pair`` or for two corners still to be typed. Its number."""
        self.rows.append(Row("" if pair is None else pair_text(pair)))
        return len(self.rows) - 1

    def remove(self, row: int) -> None:
        """Take a line out that is no side's."""
        if row >= self.count:
            del self.rows[row]

    def point_inward(self, corner: int, inward: bool) -> None:
        """Say of a corner whether it points into the patch; of all others that were not named, that not."""
        told = set(self.inward or ())
        self.inward = told | {corner} if inward else told - {corner}
        self.kept = None

    def emptied(self) -> TapeForm:
        """A new sheet, from which this one can be brought back."""
        return TapeForm(self.count, before=self)

    @staticmethod
    def pair_of(row: Row) -> Pair | None:
        """The corners of a line, the smaller first; None where they cannot be read."""
        match = _PAIR.fullmatch(row.pair)
        if match is None:
            return None
        first, second = sorted(ord(letter.upper()) - ord("A") for letter in match.groups())
        return None if first == second else (first, second)

    def offered(self, wanted: Sequence[Pair]) -> Pair | None:
        """The next measure that is worth a line: of those ``wanted``, else one that checks the rest."""
        there = {self.pair_of(row) for row in self.rows}
        short = sorted(combinations(range(self.count), 2), key=lambda pair: pair[1] - pair[0])
        return next((pair for pair in (*wanted, *short) if pair not in there), None)

    def read(self, style: LengthStyle) -> Sheet:
        """What the lines say; lines without a length are not measured yet."""
        measures: list[Measure] = []
        rows: list[int] = []
        bows: dict[int, float] = {}
        wrong: dict[tuple[int, str], str] = {}
        for number, row in enumerate(self.rows):
            pair = self.pair_of(row)
            if pair is None or pair[1] >= self.count:
                if row.pair.strip() or row.length.strip():
                    last = corner_letter(self.count - 1)
                    wrong[number, "pair"] = tr(
                        "“{pair}” names no two corners; write two letters from A to {last}",
                        pair=row.pair.strip(),
                        last=last,
                    )
                continue
            try:
                if row.length.strip():
                    measures.append(Measure(*pair, parse_length(row.length, style.unit)))
                    rows.append(number)
            except WedgewrightError as error:
                wrong[number, "length"] = f"{pair_text(pair)}: {error}"
            try:
                if row.bow.strip():
                    bows[number] = parse_coordinate(row.bow, style.unit)
            except WedgewrightError as error:
                wrong[number, "bow"] = f"{pair_text(pair)}: {error}"
        inward = None if self.inward is None else frozenset(self.inward)
        return Sheet(self.count, tuple(measures), tuple(rows), bows, inward, style, wrong)


def pair_text(pair: Pair) -> str:
    """``A – B``."""
    return " – ".join(map(corner_letter, pair))


def shape_of(sheet: Sheet) -> Shape:
    """The shape that the measures give. Takes up to seconds where a measure is wrong."""
    if not sheet.measures:
        first = ((i, i + 1) for i in range(sheet.count - 1))
        return Shape(why=tr("Type the sides as you measure them."), wanted=(*first, (0, sheet.count - 1)))
    try:
        taped = patch_from_tape(
            sheet.count, sheet.measures, bows=sheet.bows, inward=sheet.inward, rounding=sheet.rounding
        )
    except TooFewError as error:
        return Shape(why=_sentence(_still_wanted(error.wanted)), wanted=error.wanted)
    except WedgewrightError as error:
        return Shape(why=_sentence(str(error)))
    return _as_patch(taped, taped.outline)


def chosen_shape(shape: Shape, sheet: Sheet, kept: Points | None) -> Shape:
    """Of shapes with the same measures, the one that is most like ``kept``; the likeliest without."""
    taped = shape.taped
    if taped is None or kept is None or not taped.others or len(kept) != len(taped.corners):
        return shape
    every = (taped.corners, *taped.others)
    nearest = min(range(len(every)), key=lambda k: float(np.abs(every[k] - kept).max()))
    if nearest == 0:
        return shape
    corners = every[nearest]
    ends = np.array([each.pair for each in sheet.measures])
    lengths = np.hypot(*(corners[ends[:, 0]] - corners[ends[:, 1]]).T)
    misfits = np.array([each.length for each in sheet.measures]) - lengths
    outline = curved_outline(corners, sheet.bows)
    others = (*every[:nearest], *every[nearest + 1 :])
    return _as_patch(
        replace(taped, corners=corners, outline=outline, misfits=tuple(misfits.tolist()), others=others),
        outline,
    )


def _as_patch(taped: Taped, outline: Points) -> Shape:
    try:
        return Shape(taped, Patch(outline))
    except WedgewrightError as error:
        return Shape(taped, None, why=_sentence(str(error)))


# --- words ------------------------------------------------------------------------------------------


def off_by(shape: Shape, sheet: Sheet) -> dict[int, str]:
    """For the number of each line that is measured, how far it is off."""
    taped = shape.taped
    if taped is None or not taped.checked:
        return {}
    off = dict(enumerate(taped.misfits))
    for suspect in taped.suspects[:1]:  # by the rest alone, as the sentence about it has it
        off[suspect.measure] = sheet.measures[suspect.measure].length - suspect.expected
    return {sheet.rows[measure]: _off(misfit, sheet) for measure, misfit in off.items()}


def suspects(shape: Shape, sheet: Sheet) -> list[int]:
    """The lines that may be the wrong one, the likeliest first."""
    taped = shape.taped
    if taped is None or taped.agree:
        return []
    if taped.suspects:
        return [sheet.rows[each.measure] for each in taped.suspects]
    return [sheet.rows[max(range(len(taped.misfits)), key=lambda k: abs(taped.misfits[k]))]]


def said(shape: Shape, sheet: Sheet) -> list[str]:
    """Sentences about the shape, the gravest first."""
    if shape.taped is None:
        return [shape.why]
    notes = [_sentence(note) for note in tape_notes(sheet.measures, shape.taped, sheet.written)]
    if shape.why:
        notes.insert(0, shape.why)
    elif shape.taped.agree:
        notes.append(sure_words(shape.taped, sheet.written))
    return notes


def _off(misfit: float, sheet: Sheet) -> str:
    if abs(misfit) <= sheet.rounding:
        return tr("fits")
    length = format_length(abs(misfit), sheet.written)
    return tr("{length} too long", length=length) if misfit > 0 else tr("{length} too short", length=length)


def _still_wanted(wanted: Sequence[Pair]) -> str:
    names = [pair_words(Measure(*pair, 1.0)) for pair in wanted]
    if len(names) == 1:
        return tr("The shape can still move; {name} would settle it", name=names[0])
    return tr("The shape can still move; {count} more measures would settle it: {names}",
              count=len(names), names=", ".join(names))  # fmt: skip


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


# --- the picture ------------------------------------------------------------------------------------


def tape_picture(shape: Shape, sheet: Sheet) -> DisplayList:
    """The shape with its letters; a ring of corners with what is measured so far where there is none."""
    taped = shape.taped
    corners = _ring(sheet.count) if taped is None else taped.corners
    outline = corners if taped is None else taped.outline
    layers: list[tuple[LayerName, list[Item]]] = []
    if taped is not None:
        layers.append((LayerName.CLOTH, [Area(Role.FRAME, (outline,), Hatch.FILL)]))
    wrong = suspects(shape, sheet)
    sides = {(min(i, (i + 1) % sheet.count), max(i, (i + 1) % sheet.count)) for i in range(sheet.count)}
    diagonals: list[Item] = []
    for row, measure in zip(sheet.rows, sheet.measures, strict=True):
        role = Role.PROBLEM if wrong[:1] == [row] else Role.STITCH if taped is None else Role.MARGIN_EDGE
        if taped is None or measure.pair not in sides or wrong[:1] == [row]:
            ends = corners[list(measure.pair)]
            diagonals.append(Line(role, ends))
            if role is Role.PROBLEM:
                x, y = ends.mean(axis=0).tolist()
                diagonals.append(Symbol(SymbolKind.FILLED_TRIANGLE, role, (x, y)))
    layers.append((LayerName.STITCHABLE, diagonals))
    seam = Line(Role.SEAM if taped is not None else Role.FAINT, outline, closed=True)
    layers.insert(1, (LayerName.SEAM, [seam]))
    if taped is None and shape.wanted:
        layers.append((LayerName.ANCHOR, list(measured(corners[list(shape.wanted[0])]))))
    layers.append((LayerName.MARKS, list(_letters(corners))))
    bounds = shapely.linearrings(outline).bounds
    return DisplayList(tuple(Layer(name, tuple(items)) for name, items in layers if items), bounds)


def _letters(corners: Points) -> list[Label]:
    """Each beside its corner, where the outline is not."""
    made = []
    for number, (x, y) in enumerate(corners.tolist()):
        before, after = corners[number - 1] - (x, y), corners[(number + 1) % len(corners)] - (x, y)
        units = [each / (math.hypot(*each) or 1.0) for each in (before, after)]
        dx, dy = (-(units[0] + units[1])).tolist()
        length = math.hypot(dx, dy)
        turned = float(before[0] * after[1] - before[1] * after[0])
        if length < 1e-6:  # a corner on a straight line: out is square to it, the patch on the left
            dx, dy, length = float(units[1][1]), -float(units[1][0]), 1.0
        elif turned > 0:  # it points inward: the letter would lie in the patch
            dx, dy = -dx, -dy
        made.append(
            Label(Role.TEXT, (x, y), corner_letter(number), TextSize.LARGE,
                  offset=(dx / length * _BESIDE, dy / length * _BESIDE))
        )  # fmt: skip
    return made


def _ring(count: int) -> Points:
    """(n, 2) corners, clockwise on screen, the first side on top."""
    angles = -math.pi / 2 - math.pi / count + 2 * math.pi * np.arange(count) / count
    ring: Points = _SKETCH * np.column_stack([np.cos(angles), np.sin(angles)])
    return ring
