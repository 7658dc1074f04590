"""The stitching card on paper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from PySide6.QtGui import QPageLayout, QPainter

from app.exporting.card_flow import Cell, Room, Row, column_width, draw_columns, flow
from app.exporting.card_page import PAGE_MARGIN, CardPage, line_height, upright
from app.exporting.sheets import Paper
from app.exporting.words import short_name
from app.sketch.card_pictures import stitching_picture
from app.sketch.display_list import DisplayList
from app.sketch.palette import TextSize
from app.sketch.stitching_card import StitchingCard, WedgeRow, repeats_words, stitching_card
from app.sketch.translate import tr
from geometry.fit import Fit
from geometry.units import LengthStyle

_PICTURES: Final = tuple(float(high) for high in range(130, 80, -10))
"""mm: heights of the picture, the best first; a lower one is taken where it saves a page."""
_FIGURES: Final = 74.0
"""mm: width of the block of figures beside the picture."""
_BETWEEN: Final = 3.0
"""mm between blocks."""


@dataclass(frozen=True, slots=True, eq=False)
class StitchingPages:
    """The card of one patch, ready to be drawn page by page."""

    name: str
    paper: Paper
    card: StitchingCard
    picture: DisplayList
    intro: tuple[Row, ...]
    figures: tuple[Row, ...]
    pages: list[list[list[Row]]]
    picture_height: float

    @staticmethod
    def of(name: str, fit: Fit, repeats: int, paper: Paper, style: LengthStyle) -> StitchingPages:
        """The card of ``fit``."""
        card = stitching_card(fit, repeats, style)
        wide = paper.width - 2 * PAGE_MARGIN
        columns = 1 if card.cloth_turned else 2
        intro = tuple(_intro(card, wide))
        rows = list(_table(card, column_width(wide, columns)))
        bottom = paper.height - PAGE_MARGIN
        top = PAGE_MARGIN + _heading_height() + sum(row.height for row in intro) + _BETWEEN
        later = Room(PAGE_MARGIN + _heading_height() + _BETWEEN, bottom)
        figures = tuple(_figures(card))
        least = sum(row.height for row in figures)
        heights = dict.fromkeys(max(high, least) for high in _PICTURES)
        tried = [(high, flow(rows, Room(top + high + _BETWEEN, bottom), later, columns)) for high in heights]
        picture, pages = min(tried, key=lambda each: len(each[1]))
        return StitchingPages(name, paper, card, stitching_picture(fit), intro, figures, pages, picture)

    @property
    def count(self) -> int:
        """Of pages."""
        return len(self.pages)

    def page_layout(self, number: int) -> QPageLayout:
        """Of page ``number``, from 0."""
        return upright(self.paper)

    def draw(self, painter: QPainter, number: int) -> None:
        """Draw page ``number``, from 0."""
        page = CardPage(painter, self.paper)
        y = page.top + page.text(
            short_name(self.name), page.left, page.top, page.right, TextSize.LARGE, bold=True
        )
        y += page.text(self._subtitle(number), page.left, y, page.right, TextSize.BASE)
        wide = page.right - page.left
        if number == 0:
            draw_columns(page, [self.intro], y + 1, wide)
            y += sum(row.height for row in self.intro) + 1
            room = wide - _FIGURES - _BETWEEN
            page.picture([self.picture], page.left, y, room, self.picture_height)
            beside = CardPage(painter, self.paper)
            beside.left = page.right - _FIGURES
            draw_columns(beside, [self.figures], y, _FIGURES)
            y += self.picture_height
        columns = max(len(self.pages[number]), 1)
        draw_columns(page, self.pages[number], y + _BETWEEN, column_width(wide, columns))

    def _subtitle(self, number: int) -> str:
        words = tr("Stitching card, {repeats}", repeats=repeats_words(self.card.repeats))
        if self.count > 1:
            words = tr("{words}, page {number} of {count}", words=words, number=number + 1, count=self.count)
        return words


def _heading_height() -> float:
    return line_height(TextSize.LARGE) + line_height(TextSize.BASE)


def _intro(card: StitchingCard, wide: float) -> Iterator[Row]:
    ends = " ".join(words for words in (card.start, card.stop) if words)
    if ends:
        yield Row((Cell(ends, 0, wide, TextSize.BASE, bold=True, wrapped=True),), space=1)
    yield Row((Cell(" ".join(card.how), 0, wide, TextSize.SMALL, wrapped=True),), space=1)
    caution = tr(
        "Keep fingers and ruler clear of the needle, and stop the machine before you move either. "
        "Your machine's manual and your local safety rules come first."
    )
    yield Row((Cell(caution, 0, wide, TextSize.SMALL, wrapped=True),), space=1)


def _figures(card: StitchingCard) -> Iterator[Row]:
    if not card.figures:
        return
    several = card.repeats > 1
    middle = _FIGURES / 2
    if several:
        yield Row(
            (
                Cell(tr("once"), 0, middle, TextSize.SMALL, at_right=True),
                Cell(repeats_words(card.repeats), middle, _FIGURES, TextSize.SMALL, at_right=True),
            ),
            ruled=True,
            space=0.6,
        )
    for what, once, every in card.figures:
        # Two lines, so that neither the words nor the figures are cut.
        yield Row((Cell(what, 0, _FIGURES, TextSize.SMALL),))
        cells = [Cell(once, 0, middle if several else _FIGURES, at_right=True)]
        if several:
            cells.append(Cell(every, middle, _FIGURES, at_right=True))
        yield Row(tuple(cells), space=1.0)


_SHARES_TURNED: Final = (0.0, 0.07, 0.25, 0.345, 0.475, 0.57, 0.7, 0.795, 0.925, 1.0)
_SHARES: Final = (0.0, 0.13, 0.42, 0.57, 0.72, 0.87, 1.0)
"""Of the width of the table: where its columns begin, and where the last one ends."""


def _table(card: StitchingCard, wide: float) -> Iterator[Row]:
    if not card.rows:
        return
    shares = _SHARES_TURNED if card.cloth_turned else _SHARES
    turn = [tr("turn")] if card.cloth_turned else []
    titles = [
        *(tr("Wedge"), tr("Marks"), tr("Leg out")), *turn,
        *(tr("Side"), *turn),
        *(tr("Leg back"), *turn),
        tr("Echoes"),
    ]  # fmt: skip
    head = Row(tuple(_cells(titles, shares, wide, TextSize.SMALL)), space=0.6, ruled=True, keep=True)
    yield head
    for number, row in enumerate(card.rows):
        heads = (head,) if number else ()
        if isinstance(row, WedgeRow):
            turns = [[each] if card.cloth_turned else [] for each in row.turns]
            texts = [
                *(str(row.wedge), row.marks),
                *(row.out, *turns[0]), *(row.side, *turns[1]), *(row.back, *turns[2]),
                str(row.echoes),
            ]  # fmt: skip
            yield Row(tuple(_cells(texts, shares, wide, TextSize.BASE)), heads=heads)
        else:
            yield Row((Cell(row.text, 0, wide),), heads=heads)


def _cells(texts: list[str], shares: tuple[float, ...], wide: float, size: TextSize) -> Iterator[Cell]:
    for place, (text, (left, right)) in enumerate(zip(texts, pairwise(shares), strict=True)):
        words = place == 1
        yield Cell(
            text, left * wide + (3 if words else 0), right * wide, size,
            bold=place == 0 and size is TextSize.BASE, at_right=not words,
        )  # fmt: skip
