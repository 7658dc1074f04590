"""The marking card on paper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from app.exporting.card_flow import BETWEEN, Cell, FlowingCard, Row, column_width, flow_under_picture
from app.exporting.card_page import (
    LETTERS,
    PAGE_MARGIN,
    natural_height,
    paged_words,
    text_width,
)
from app.exporting.sheets import Paper
from app.sketch.card_pictures import marking_picture
from app.sketch.marking_card import (
    MATTERS,
    MarkingCard,
    MarkRow,
    SideTable,
    TapeRow,
    error_words,
    marking_card,
)
from app.sketch.palette import TextSize
from app.sketch.translate import tr, tr_n
from geometry.fit import Fit
from geometry.units import LengthStyle

_PICTURES: Final = tuple(float(high) for high in range(150, 60, -10))
"""mm: heights of the picture, the best first; a lower one is taken where it saves a page."""
_CROWDED: Final = 48
"""Marks beyond which only some have their names in the picture."""
_NAMES_APART: Final = 10.0
"""mm on paper between those."""
_COLUMN: Final = 55.0
"""mm: least width of a column."""


@dataclass(frozen=True, slots=True, eq=False)
class MarkingPages(FlowingCard):
    """The marking card."""

    card: MarkingCard

    @staticmethod
    def of(name: str, fit: Fit, paper: Paper, style: LengthStyle) -> MarkingPages:
        """The card of ``fit``."""
        card = marking_card(fit, style)
        wide = paper.width - 2 * PAGE_MARGIN
        count = max(int((wide + 5) // (_COLUMN + 5)), 1)
        intro = tuple(_intro(card, style, wide))
        rows = list(_tables(card, column_width(wide, count)))
        bounds = fit.patch.polygon.bounds
        most = natural_height(bounds, wide)
        heights = [min(high, most) for high in _PICTURES]
        picture, pages = flow_under_picture(rows, intro, paper, count, heights)
        scale = min((wide - LETTERS) / (bounds[2] - bounds[0]), (picture - LETTERS) / (bounds[3] - bounds[1]))
        taped = tuple(row for row in card.anchors if isinstance(row, TapeRow))
        apart = _NAMES_APART / scale if card.count > _CROWDED else 0.0
        drawing = marking_picture(fit, taped, apart)
        return MarkingPages(name, paper, drawing, intro, pages, picture, card)

    def _subtitle(self, number: int) -> str:
        marks = tr_n("{count} mark", "{count} marks", self.card.count)
        words = tr("Marking card, {marks}, edge margin {margin}", marks=marks, margin=self.card.margin_text)
        return paged_words(words, number, self.count)


def _intro(card: MarkingCard, style: LengthStyle, wide: float) -> Iterator[Row]:
    """How to use the card, and how exact it is."""
    if not card.count:
        words = tr("There is nothing to mark: no wedge fits this patch.")
        yield Row((Cell(words, 0, wide, TextSize.BASE, wrapped=True),), space=1)
        return
    how = [
        tr(
            "Rule a line {margin} inside every seam. From the named corner measure along the seam, and set "
            "the mark square in from there, on that line. Corner marks: where two such lines meet.",
            margin=card.margin_text,
        )
        if card.margin
        else tr("The marks lie on the seam: measure along it from the named corner.")
    ]
    inward: dict[str, list[str]] = {}
    for corner in card.corners:
        if corner.inward is not None:
            inward.setdefault(corner.inward.text, []).append(corner.name)
    how += [
        tr("{names}: {length} straight in from the corner.", names=", ".join(names), length=length)
        for length, names in inward.items()
    ]
    how += [
        tr("{name}: begin at this place of the seam, as in the picture.", name=name) for name in card.begins
    ]
    how += [tr("{name}: the two tapes find its place on the seam.", name=name) for name in card.begun]
    how += [tr("{name}: by eye, as in the picture.", name=name) for name in card.lost]
    if any(isinstance(row, TapeRow) for row in (*card.taped, *card.anchors)):
        how.append(tr("Right and left: as you look from the first corner to the second."))
    yield Row((Cell(" ".join(how), 0, wide, TextSize.SMALL, wrapped=True),), space=1)
    bound = error_words(card.worst, style)
    if card.worst_names:
        words = tr(
            "Distances are rounded to {step}: laid out from them, a mark or an anchor comes off by up to "
            "{bound}. More than {limit}: {names}.",
            limit=error_words(MATTERS, style),
            step=card.step,
            bound=bound,
            names=", ".join(card.worst_names[:_NAMED]),
        )
    else:
        words = tr(
            "Distances are rounded to {step}: laid out from them, no mark or anchor comes off by more than "
            "{bound}.",
            step=card.step,
            bound=bound,
        )
    yield Row((Cell(words, 0, wide, TextSize.SMALL, bold=bool(card.worst_names), wrapped=True),), space=1)


_NAMED: Final = 6
"""Marks that are named one by one."""
_WHOLE: Final = 6
"""Marks of a side that are kept together in one column."""


def _tables(card: MarkingCard, wide: float) -> Iterator[Row]:
    for anchor in card.anchors:
        yield from _anchor(anchor, wide)
    for table in card.sides:
        yield from _side(table, card.unit, wide)
    if card.taped:
        head = Row((Cell(tr("By two tapes"), 0, wide, bold=True),), keep=True)
        yield head
        for row in card.taped:
            yield from _taped(row, wide)


def _anchor(row: MarkRow | TapeRow, wide: float) -> Iterator[Row]:
    yield Row((Cell(row.name, 0, wide, bold=True),), keep=True)
    if isinstance(row, TapeRow):
        yield from _tapes(row, 0, wide)
        return
    if row.from_before.shown == 0 and row.inward is None:
        yield Row((Cell(tr("on the corner {name}", name=row.before), 0, wide),), space=BETWEEN)
        return
    lines = [
        tr("on the seam") if row.inward is None else tr("along the seam"),
        tr("{length} from {name}", length=row.from_before.text, name=row.before),
        tr("{length} from {name}", length=row.from_after.text, name=row.after),
    ]
    if row.inward is not None:
        lines.append(tr("then {length} square in", length=row.inward.text))
    yield from _lines(lines, 0, wide)


def _lines(texts: list[str], left: float, wide: float) -> Iterator[Row]:
    """Rows that stay together."""
    for number, text in enumerate(texts, start=1):
        last = number == len(texts)
        cell = Cell(text, left, wide, wrapped=text_width(text, TextSize.BASE) > wide - left)
        yield Row((cell,), space=BETWEEN if last else 0.0, keep=not last)


def _tapes(row: TapeRow, left: float, wide: float) -> Iterator[Row]:
    first = tr("{length} from {name}", length=row.from_one.text, name=row.one)
    second = tr("{length} from {name}", length=row.from_two.text, name=row.two)
    side = tr("right") if row.right else tr("left")
    both = tr("{tape}, {side}", tape=second, side=side)
    fits = text_width(both, TextSize.BASE) <= wide - left
    yield from _lines([first, both] if fits else [first, second, side], left, wide)


def _taped(row: TapeRow, wide: float) -> Iterator[Row]:
    left = max(wide * _NAME_SHARE, text_width(row.name, TextSize.BASE, bold=True) + 2)
    first, *others = _tapes(row, left, wide)
    name = Cell(row.name, 0, left, bold=True)
    yield Row((name, *first.cells), keep=True)
    yield from others


_NAME_SHARE: Final = 0.2
"""Of a column, for the mark's name."""


def _side(table: SideTable, unit: str, wide: float) -> Iterator[Row]:
    name = wide * _NAME_SHARE
    half = (wide - name) / 2
    first, second = (name, name + half - 1), (name + half, wide)
    before, after = (tr("from {name}", name=corner) for corner in (table.before, table.after))
    heads = (
        Row(
            (
                Cell(
                    tr("Side {letter}, {length}", letter=table.side, length=table.length.text),
                    0,
                    wide,
                    bold=True,
                ),
            ),
            keep=True,
        ),
        Row(
            (
                Cell(unit, 0, name, TextSize.SMALL),
                Cell(before, *first, TextSize.SMALL, at_right=True),
                Cell(after, *second, TextSize.SMALL, at_right=True),
            ),
            space=0.6,
            ruled=True,
            keep=True,
        ),
    )
    yield from heads
    for number, row in enumerate(table.rows, start=1):
        yield Row(
            (
                Cell(row.name, 0, name, bold=True),
                Cell(row.from_before.number, *first, at_right=True),
                Cell(row.from_after.number, *second, at_right=True),
            ),
            heads=heads if number > 1 else (),
            keep=len(table.rows) <= _WHOLE and number < len(table.rows),
            space=BETWEEN if number == len(table.rows) else 0.0,
        )
