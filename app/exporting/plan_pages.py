"""The plan sheet on paper: all patches with their pictures, and what the whole plan takes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtGui import QPageLayout, QPainter

from app.exporting.card_page import (
    PAGE_MARGIN,
    CardPage,
    line_height,
    paged_words,
    upright,
)
from app.exporting.sheets import Paper
from app.exporting.words import short_name
from app.sketch.card_pictures import plain_picture
from app.sketch.palette import Role, TextSize
from app.sketch.quantity import THREAD
from app.sketch.stitching_card import minutes_words, repeats_words, total_figures
from app.sketch.translate import tr, tr_n
from app.sketch.wording import verdict
from geometry.estimate import summed
from geometry.fit import Fit
from geometry.types import Point
from geometry.units import LengthStyle

_LEAST_WIDE: Final = 80.0
"""mm of a cell."""
_GUTTER: Final = 6.0
"""mm between columns."""
_BETWEEN: Final = 3.0
"""mm between rows."""
_PICTURE: Final = 0.46
"""Of a cell's width."""
_TOTALS: Final = 3
"""Figures beside each other."""
_CELL: Final = 4 * line_height(TextSize.BASE) + 2 * line_height(TextSize.SMALL)
"""mm: name, verdict in up to two lines, repeats, thread and bobbin below each other."""


@dataclass(frozen=True, slots=True, eq=False)
class PlanPages:
    """The sheets of one plan, ready to be drawn one by one."""

    title: str
    patches: tuple[tuple[str, Fit, int], ...]
    """Name, fit and repeats."""
    paper: Paper
    style: LengthStyle

    @property
    def count(self) -> int:
        """Of sheets."""
        page = self._page_size()
        head = line_height(TextSize.LARGE) + line_height(TextSize.BASE)
        room = page[1] - head - self._totals_height() - 2 * _BETWEEN
        most = max(math.floor((room + _BETWEEN) / (_CELL + _BETWEEN)), 1)
        return math.ceil(len(self.patches) / (self._columns * most))

    @property
    def _columns(self) -> int:
        return max(math.floor((self._page_size()[0] + _GUTTER) / (_LEAST_WIDE + _GUTTER)), 1)

    @property
    def _rows(self) -> int:
        """Of a sheet: no more than make the last one as full as those before, about."""
        return math.ceil(len(self.patches) / (self.count * self._columns))

    def _page_size(self) -> Point:
        """mm, within the margins."""
        return (self.paper.width - 2 * PAGE_MARGIN, self.paper.height - 2 * PAGE_MARGIN)

    def page_layout(self, number: int) -> QPageLayout:
        """Of sheet ``number``, from 0."""
        return upright(self.paper)

    def draw(self, painter: QPainter, number: int) -> None:
        """Draw sheet ``number``, from 0."""
        page = CardPage(painter, self.paper)
        title = short_name(self.title) or tr("Plan")
        y = page.heading(title, self._subtitle(number))
        totals = page.bottom - self._totals_height()
        self._totals(page, totals)
        y += _BETWEEN
        columns, rows = self._columns, self._rows
        wide = (page.right - page.left - _GUTTER * (columns - 1)) / columns
        high = (totals - _BETWEEN - y - _BETWEEN * (rows - 1)) / rows
        high = min(high, max(wide * _PICTURE, _CELL))  # few patches have no towers for pictures
        each = columns * rows
        for place, (name, fit, repeats) in enumerate(self.patches[number * each : (number + 1) * each]):
            row, column = divmod(place, columns)
            self._cell(
                page,
                name,
                fit,
                repeats,
                page.left + column * (wide + _GUTTER),
                y + row * (high + _BETWEEN),
                wide,
                high,
            )

    def _subtitle(self, number: int) -> str:
        words = tr(
            "Plan sheet, {patches}, {all} to stitch",
            patches=tr_n("{count} patch", "{count} patches", len(self.patches)),
            all=sum(repeats for _, _, repeats in self.patches),
        )
        return paged_words(words, number, self.count)

    def _cell(
        self, page: CardPage, name: str, fit: Fit, repeats: int, x: float, y: float, wide: float, high: float
    ) -> None:
        picture = wide * _PICTURE
        page.picture([plain_picture(fit)], x, y, picture, high, labels_of=(Role.STITCH,))
        page.frame(x, y, x + picture, y + high)
        left, right = x + picture + 2, x + wide
        y += page.text(short_name(name), left, y, right, TextSize.BASE, bold=True)
        y += page.wrapped(verdict(fit), left, y, right, TextSize.SMALL)
        every = fit.totals.times(repeats)
        if fit.totals.stitches:
            minutes = tr("{count} min", count=minutes_words(every.minutes))
            page.text(minutes, left, y, right, TextSize.BASE, at_right=True)
        y += page.text(repeats_words(repeats), left, y, right, TextSize.BASE)
        if not fit.totals.stitches:
            return
        for what, value in (
            (tr("thread"), THREAD.words(every.top_thread, self.style)),
            (tr("bobbin"), THREAD.words(every.bobbin_thread, self.style)),
        ):
            page.text(what, left, y, right, TextSize.SMALL)
            y += page.text(value, left, y, right, TextSize.BASE, at_right=True)

    def _totals_height(self) -> float:
        lines = math.ceil(len(self._figures) / _TOTALS)
        return (
            line_height(TextSize.SMALL)
            + lines * (line_height(TextSize.SMALL) + line_height(TextSize.BASE))
            + 2
        )

    @property
    def _figures(self) -> Sequence[tuple[str, str]]:
        return total_figures(summed((fit.totals, repeats) for _, fit, repeats in self.patches), self.style)

    def _totals(self, page: CardPage, top: float) -> None:
        """On every sheet, so that one that is alone says it too."""
        page.rule(page.left, top, page.right)
        y = (
            top
            + 1
            + page.text(tr("All patches with their repeats"), page.left, top + 1, page.right, TextSize.SMALL)
        )
        wide = (page.right - page.left) / _TOTALS
        for place, (what, value) in enumerate(self._figures):
            row, column = divmod(place, _TOTALS)
            left = page.left + column * wide
            at = y + row * (line_height(TextSize.SMALL) + line_height(TextSize.BASE))
            at += page.text(what, left, at, left + wide, TextSize.SMALL)
            page.text(value, left, at, left + wide, TextSize.BASE, bold=True)
