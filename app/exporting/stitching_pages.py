"""The stitching card on paper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import Final

from app.exporting.card_flow import (
    BETWEEN,
    Cell,
    FlowingCard,
    Row,
    column_width,
    draw_columns,
    flow_under_picture,
)
from app.exporting.card_page import (
    PAGE_MARGIN,
    CardPage,
    natural_height,
    paged_words,
    text_width,
)
from app.exporting.sheets import Paper
from app.sketch.card_pictures import stitching_picture
from app.sketch.palette import TextSize
from app.sketch.stitching_card import StitchingCard, WedgeRow, repeats_words, stitching_card
from app.sketch.translate import tr
from geometry.fit import Fit
from geometry.units import LengthStyle

_PICTURES: Final = tuple(float(high) for high in range(130, 80, -10))
"""mm: heights of the picture, the best first; a lower one is taken where it saves a page."""
_FIGURES: Final = 74.0
"""mm: width of the block of figures beside the picture."""
_APART: Final = 2.5
"""mm before each column of the table."""
_SLACK: Final = 0.2
"""mm by which a text may be wider in its place than when it was measured."""


@dataclass(frozen=True, slots=True, eq=False)
class StitchingPages(FlowingCard):
    """The stitching card."""

    card: StitchingCard
    figures: tuple[Row, ...]
    """Beside the picture."""

    @staticmethod
    def of(name: str, fit: Fit, repeats: int, paper: Paper, style: LengthStyle) -> StitchingPages:
        """The card of ``fit``."""
        card = stitching_card(fit, repeats, style)
        wide = paper.width - 2 * PAGE_MARGIN
        texts = _texts(card)
        columns = _columns(texts, wide)
        intro = tuple(_intro(card, wide))
        rows = list(_table(texts, column_width(wide, columns)))
        figures = tuple(_figures(card))
        least = sum(row.height for row in figures)
        most = natural_height(fit.patch.polygon.bounds, wide - _FIGURES - BETWEEN)
        heights = [max(min(high, most), least) for high in _PICTURES]
        picture, pages = flow_under_picture(rows, intro, paper, columns, heights)
        return StitchingPages(name, paper, stitching_picture(fit), intro, pages, picture, card, figures)

    def _draw_picture(self, page: CardPage, y: float, wide: float) -> None:
        page.picture([self.picture], page.left, y, wide - _FIGURES - BETWEEN, self.picture_height)
        beside = CardPage(page.painter, self.paper)
        beside.left = page.right - _FIGURES
        draw_columns(beside, [self.figures], y, _FIGURES)

    def _subtitle(self, number: int) -> str:
        words = tr("Stitching card, {repeats}", repeats=repeats_words(self.card.repeats))
        return paged_words(words, number, self.count)


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
        yield Row(tuple(cells), space=0.5)


def _texts(card: StitchingCard) -> list[list[str]]:
    """The table: its titles, then its rows; a row of one text goes all across."""
    if not card.rows:
        return []
    turn = [tr("turn")] if card.cloth_turned else []
    echoes = any(isinstance(row, WedgeRow) and row.echoes for row in card.rows)
    titles = [tr("Wedge"), tr("Marks"), tr("Out"), *turn, tr("Side"), *turn, tr("Back"), *turn]
    titles += [tr("Echoes")] if echoes else []
    texts = [titles]
    for row in card.rows:
        if not isinstance(row, WedgeRow):
            texts.append([row.text])
            continue
        at_out, at_side, at_back = ([each] if card.cloth_turned else [] for each in row.turns)
        figures = [row.out, *at_out, row.side, *at_side, row.back, *at_back]
        texts.append([str(row.wedge), row.marks, *figures, *([str(row.echoes)] if echoes else [])])
    return texts


def _widths(texts: list[list[str]]) -> list[float]:
    """mm that each column of the table needs, with the space before it."""
    titles, *rows = texts
    widths = [text_width(title, TextSize.SMALL) for title in titles]
    for row in rows:
        if len(row) > 1:
            own = (text_width(text, TextSize.BASE, bold=place == 0) for place, text in enumerate(row))
            widths = [max(pair) for pair in zip(widths, own, strict=True)]
    return [width + _APART for width in widths]


def _columns(texts: list[list[str]], wide: float) -> int:
    """Two where the table is narrow enough."""
    return 2 if texts and sum(_widths(texts)) <= column_width(wide, 2) else 1


def _table(texts: list[list[str]], wide: float) -> Iterator[Row]:
    if not texts:
        return
    widths = _widths(texts)
    ends = [end * wide / sum(widths) for end in accumulate(widths)]
    titles, *rows = texts
    head = Row(tuple(_cells(titles, ends, TextSize.SMALL)), space=0.6, ruled=True, keep=True)
    yield head
    for number, row in enumerate(rows):
        heads = (head,) if number else ()
        if len(row) > 1:
            yield Row(tuple(_cells(row, ends, TextSize.BASE)), heads=heads)
        else:
            yield Row((Cell(row[0], 0, wide),), heads=heads)


def _cells(texts: list[str], ends: list[float], size: TextSize) -> Iterator[Cell]:
    for place, (text, (left, right)) in enumerate(zip(texts, pairwise([0.0, *ends]), strict=True)):
        words = place == 1
        left += _APART - _SLACK if words else 0.0
        bold = place == 0 and size is TextSize.BASE
        yield Cell(text, left, right, size, bold=bold, at_right=not words)
