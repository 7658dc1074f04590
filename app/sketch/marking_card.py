"""What a marking card says: every mark and anchor by distances that a tape shows. No Qt."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from app.sketch.translate import tr
from geometry.fit import Fit
from geometry.marks import Mark, MarkKind
from geometry.tape_marks import AlongSeam, Crossing, Tape, TapedAnchor, TapedMark, is_flat, meeting
from geometry.tolerances import SAME_POINT
from geometry.types import Point
from geometry.units import MM_PER_INCH, LengthStyle, format_length

MATTERS: Final = MM_PER_INCH / 16
"""mm: what a pen line or a fold hides. Laying out is off by more only where the card says so."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A distance, and what a tape shows of it."""

    mm: float
    shown: float
    """mm."""
    text: str
    number: str
    """The text without its unit."""


@dataclass(frozen=True, slots=True)
class MarkRow:
    """A mark on the margin line, or an anchor on the seam or beside it, by distances along the seam."""

    name: str
    side: str
    """Letter; empty for an anchor."""
    before: str
    after: str
    """Names of the corners on both sides."""
    from_before: Figure
    from_after: Figure
    error: float
    """mm: how far it may come off when it is laid out from what is shown, from either corner."""
    inward: Figure | None = None
    """Square in from the seam; None for the margin, and for an anchor on the seam."""


@dataclass(frozen=True, slots=True)
class CornerRow:
    """The mark of a corner."""

    name: str
    inward: Figure | None
    """Straight in from the corner, halving it; None where the margin lines of both sides meet there."""
    error: float
    """mm."""


@dataclass(frozen=True, slots=True)
class TapeRow:
    """A mark or an anchor by two straight tapes."""

    name: str
    one: str
    two: str
    """Names of the corners, or of marks whose feet on the seam are measured from."""
    from_one: Figure
    from_two: Figure
    right: bool
    """On the right of someone who looks from ``one`` to ``two``, else on the left."""
    flat: bool
    """The tapes cross at a flat angle."""
    error: float
    """mm."""


@dataclass(frozen=True, slots=True)
class SideTable:
    """The marks of one side between two places to measure from."""

    side: str
    before: str
    after: str
    length: Figure
    """Along the seam."""
    rows: tuple[MarkRow, ...]


@dataclass(frozen=True, slots=True)
class MarkingCard:
    """All of one patch."""

    margin: float
    """mm."""
    margin_text: str
    """Never rounded: it is what is set on a ruler."""
    unit: str
    """Of the figures' numbers."""
    corners: tuple[CornerRow, ...]
    sides: tuple[SideTable, ...]
    begins: tuple[str, ...]
    """Marks to begin with where an edge has no corners and nothing else says where they are."""
    taped: tuple[TapeRow, ...]
    """Marks away from the margin line, and marks from which an edge without corners is measured."""
    anchors: tuple[MarkRow | TapeRow, ...]
    lost: tuple[str, ...]
    """Marks and anchors for which there is nothing to measure from."""
    step: str
    """What is rounded to, in words."""
    worst: float
    """mm: the greatest error."""
    worst_names: tuple[str, ...]
    """What may come off by more than ``MATTERS``, the worst first."""

    @property
    def count(self) -> int:
        """Of marks."""
        rows = sum(len(table.rows) for table in self.sides)
        return len(self.corners) + rows + len(self.taped) - len(self.begun)

    @property
    def begun(self) -> tuple[str, ...]:
        """Marks whose place on the seam two tapes find, for the others of their edge to be measured from."""
        return tuple(row.name for row in self.taped if row.name in self._in_rows)

    @property
    def _in_rows(self) -> set[str]:
        return {row.name for table in self.sides for row in table.rows}


def tape_style(style: LengthStyle) -> LengthStyle:
    """The style in which a tape is read: decimals of an inch are on none, so they become sixteenths."""
    return LengthStyle.SIXTEENTHS if style is LengthStyle.DECIMAL else style


def tape_step(style: LengthStyle) -> float:
    """mm: the finest line of a tape."""
    return 1.0 if style in (LengthStyle.MM, LengthStyle.CM) else tape_style(style).step


def figure(mm: float, style: LengthStyle) -> Figure:
    """``mm`` as a tape shows it: to the eighth or sixteenth of an inch, or to the millimetre."""
    step = tape_step(style)
    shown = math.floor(mm / step + 0.5) * step
    style = tape_style(style)
    return Figure(mm, shown, format_length(shown, style), format_length(shown, style, sign=False))


def error_words(mm: float, style: LengthStyle) -> str:
    """``mm`` rounded up, so that it holds: to the sixteenth of an inch or the millimetre."""
    metric = style in (LengthStyle.MM, LengthStyle.CM)
    step = 1.0 if metric else MM_PER_INCH / 16
    up = max(math.ceil(mm / step - SAME_POINT), 1) * step
    return format_length(up, LengthStyle.MM if metric else LengthStyle.SIXTEENTHS)


def exact_words(mm: float, style: LengthStyle) -> str:
    """A length that is set on a ruler: as coarse as it may be written without changing it; in mm to 0.1."""
    if style in (LengthStyle.MM, LengthStyle.CM):
        return format_length(mm, LengthStyle.MM)
    finer = (style, LengthStyle.EIGHTHS, LengthStyle.SIXTEENTHS, LengthStyle.DECIMAL)
    near = (each for each in finer if abs(figure(mm, each).shown - mm) <= SAME_POINT)
    return format_length(mm, next(near, LengthStyle.DECIMAL))


def anchor_names(fit: Fit) -> list[str]:
    """What each anchor is called on cards; with a number where there are several."""
    if len(fit.anchors) == 1:
        return [tr("Anchor")]
    return [tr("Anchor {number}", number=number) for number in range(1, len(fit.anchors) + 1)]


def marking_card(fit: Fit, style: LengthStyle) -> MarkingCard:
    """The card of ``fit``, in distances that a tape in ``style`` shows."""
    return _Maker(fit, style).card()


class _Maker:
    def __init__(self, fit: Fit, style: LengthStyle) -> None:
        self.fit, self.style = fit, style
        self.marks = [mark for fan in fit.fans for mark in fan.marks]
        self.tape = Tape(fit.patch, self.marks, fit.settings)
        self.found: dict[str, Point] = {each.name: each.at for each in self.tape.landmarks}
        """Where the places to measure from come when they are laid out from what is shown."""
        self.off: dict[str, float] = {}
        """mm: by how much those are off that are laid out themselves."""

    def card(self) -> MarkingCard:
        taped_marks = self.tape.marks
        begun = {each.mark.name: each for each in taped_marks if self._begins(each)}
        begins = [name for name, each in begun.items() if each.crossing is None]
        taped = []
        for name, each in begun.items():
            if each.crossing is not None:
                row = self._taped(name, each.crossing, each.mark.foot)
                taped.append(row)
                self.off[name] = row.error
        rows = [self._row(each.mark, each.along) for each in taped_marks if each.along and self._is_row(each)]
        corners = [self._corner(each) for each in taped_marks if self._is_corner(each)]
        inner = [each for each in taped_marks if each.along is None]
        taped += [self._taped(each.mark.name, each.crossing, each.mark.at) for each in inner if each.crossing]
        lost = [each.mark.name for each in inner if each.crossing is None]
        anchors: list[MarkRow | TapeRow] = []
        for name, at in zip(anchor_names(self.fit), self.fit.anchors, strict=True):
            way = self.tape.anchor(at)
            if way.along is not None:
                anchors.append(self._beside_seam(name, way, way.along))
            elif way.crossing is not None:
                anchors.append(self._taped(name, way.crossing, at))
            else:
                lost.append(name)
        every = [*corners, *rows, *taped, *anchors]
        every.sort(key=lambda row: -row.error)
        margin = self.fit.settings.edge_margin
        return MarkingCard(
            margin=margin,
            margin_text=exact_words(margin, self.style),
            unit=tape_style(self.style).unit,
            corners=tuple(corners),
            sides=tuple(self._tables(rows)),
            begins=tuple(begins),
            taped=tuple(taped),
            anchors=tuple(anchors),
            lost=tuple(lost),
            step=format_length(tape_step(self.style), tape_style(self.style)),
            worst=every[0].error if every else 0.0,
            worst_names=tuple(row.name for row in every if row.error > MATTERS + SAME_POINT),
        )

    def _begins(self, taped: TapedMark) -> bool:
        return taped.along is not None and not self._is_corner(taped) and taped.mark.name in self.found

    def _is_corner(self, taped: TapedMark) -> bool:
        return (
            taped.mark.kind is MarkKind.CORNER and taped.along is not None and taped.along.back <= SAME_POINT
        )

    def _is_row(self, taped: TapedMark) -> bool:
        return not self._is_corner(taped)

    def _row(self, mark: Mark, along: AlongSeam) -> MarkRow:
        back, on = figure(along.back, self.style), figure(along.on, self.style)
        if mark.name == along.before:
            error = self.off.get(mark.name, 0.0)
            return MarkRow(mark.name, mark.side, along.before, along.after, back, on, error)
        places = [
            self.tape.set_in(self.tape.foot(along.before, back.shown), mark),
            self.tape.set_in(self.tape.foot(along.after, -on.shown), mark),
        ]
        error = max(math.dist(place, mark.at) for place in places) + self.off.get(along.before, 0.0)
        if along.before not in self.off:
            self.found[mark.name] = self.tape.foot(along.before, back.shown)
        return MarkRow(mark.name, mark.side, along.before, along.after, back, on, error)

    def _beside_seam(self, name: str, way: TapedAnchor, along: AlongSeam) -> MarkRow:
        back, on = figure(along.back, self.style), figure(along.on, self.style)
        inward = figure(way.inward, self.style) if way.inward > SAME_POINT else None
        feet = (self.tape.foot(along.before, back.shown), self.tape.foot(along.after, -on.shown))
        places = [
            self.tape.square_in(foot, inward.shown, way.foot, way.at) if inward else foot for foot in feet
        ]
        error = max(math.dist(place, way.at) for place in places) + self.off.get(along.before, 0.0)
        return MarkRow(name, "", along.before, along.after, back, on, error, inward)

    def _corner(self, taped: TapedMark) -> CornerRow:
        if taped.inward is None:
            return CornerRow(taped.mark.name, None, 0.0)
        inward = figure(taped.inward, self.style)
        return CornerRow(taped.mark.name, inward, abs(inward.shown - inward.mm))

    def _taped(self, name: str, crossing: Crossing, at: Point) -> TapeRow:
        one, two = figure(crossing.from_one, self.style), figure(crossing.from_two, self.style)
        place, other = (self.found.get(each.name, each.at) for each in (crossing.one, crossing.two))
        error = math.dist(meeting(place, other, one.shown, two.shown, crossing.right), at)
        error += max(self.off.get(each.name, 0.0) for each in (crossing.one, crossing.two))
        return TapeRow(
            name, crossing.one.name, crossing.two.name, one, two, crossing.right, is_flat(crossing), error
        )

    def _tables(self, rows: Iterable[MarkRow]) -> Iterator[SideTable]:
        """Rows of one side between the same two corners, in the order of the letters."""
        tables: dict[tuple[str, str, str], list[MarkRow]] = {}
        for row in rows:
            tables.setdefault((row.side, row.before, row.after), []).append(row)
        for (side, before, after), own in tables.items():
            length = figure(own[0].from_before.mm + own[0].from_after.mm, self.style)
            yield SideTable(side, before, after, length, tuple(own))
