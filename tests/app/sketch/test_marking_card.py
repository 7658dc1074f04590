"""The marking card's data over the zoo: no mark is left out or said twice, and none is far off."""

from __future__ import annotations

from collections import Counter

import pytest

from app.sketch.marking_card import error_words, exact_words, figure, marking_card
from geometry import Patch, Settings, fit
from geometry.patch import middle_of
from geometry.units import LengthStyle
from tests.zoo.patches import ZOO, Animal

INCH = 25.4


@pytest.mark.parametrize("animal", ZOO, ids=lambda animal: animal.name)
def test_every_mark_stands_on_the_card_once(animal: Animal) -> None:
    patch = Patch(animal.outline, animal.holes)
    made = fit(patch, middle_of(patch), Settings(**animal.settings))
    marks = Counter(mark.name for fan in made.fans for mark in fan.marks)
    for style, most in ((LengthStyle.EIGHTHS, INCH / 8), (LengthStyle.MM, 1.0)):
        card = marking_card(made, style)
        rows = [row for table in card.sides for row in table.rows]
        said = Counter(row.name for row in (*card.corners, *rows, *card.taped) if row.name not in card.begun)
        said.update(card.begun)
        assert said == marks
        assert card.count == sum(marks.values())
        assert len(card.anchors) == (1 if marks else 0)
        assert card.worst <= most
        assert all(row.error <= card.worst for row in (*card.corners, *rows, *card.taped, *card.anchors))


@pytest.mark.parametrize(
    ("mm", "style", "shown", "text"),
    [
        (4.4 * INCH, LengthStyle.EIGHTHS, 4.375 * INCH, "4 3/8 in"),
        (4.4 * INCH, LengthStyle.SIXTEENTHS, 4.375 * INCH, "4 3/8 in"),
        (4.45 * INCH, LengthStyle.DECIMAL, 4.4375 * INCH, "4 7/16 in"),
        (111.76, LengthStyle.CM, 112.0, "11.2 cm"),
        (111.76, LengthStyle.MM, 112.0, "112 mm"),
        (111.5, LengthStyle.MM, 112.0, "112 mm"),
        (0.2, LengthStyle.MM, 0.0, "0 mm"),
    ],
)
def test_a_figure_is_what_a_tape_shows(mm: float, style: LengthStyle, shown: float, text: str) -> None:
    found = figure(mm, style)
    assert found.shown == pytest.approx(shown)
    assert found.text == text
    assert found.text == f"{found.number} {style.unit}"


@pytest.mark.parametrize(
    ("mm", "style", "text"),
    [
        (1.5875, LengthStyle.EIGHTHS, "1/16 in"),
        (1.6, LengthStyle.EIGHTHS, "1/8 in"),
        (0.0, LengthStyle.SIXTEENTHS, "1/16 in"),
        (0.4, LengthStyle.CM, "1 mm"),
        (1.01, LengthStyle.MM, "2 mm"),
    ],
)
def test_an_error_is_rounded_up(mm: float, style: LengthStyle, text: str) -> None:
    assert error_words(mm, style) == text


def test_a_margin_is_not_rounded_to_the_tape() -> None:
    assert exact_words(INCH * 3 / 16, LengthStyle.EIGHTHS) == "3/16 in"
    assert exact_words(INCH / 4, LengthStyle.EIGHTHS) == "1/4 in"
    assert exact_words(0.3 * INCH, LengthStyle.EIGHTHS) == "0.3 in"
    assert exact_words(INCH / 4, LengthStyle.CM) == "6.4 mm"
