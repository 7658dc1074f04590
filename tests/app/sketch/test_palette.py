from __future__ import annotations

from itertools import combinations

import pytest

from app.sketch.palette import (
    DARK,
    LEAST_POINTS,
    LIGHT,
    PAPER,
    STROKES,
    TEXT_POINTS,
    Palette,
    Role,
    TextSize,
    contrast,
)

GROUNDS = (Role.FRAME, Role.CLOTH)
WORDS = (
    Role.TEXT, Role.QUIET, Role.SEAM, Role.MARK, Role.STITCH, Role.ANCHOR, Role.PROBLEM, Role.CAUTION,
    Role.NOTE, Role.FOCUS,
)  # fmt: skip
"""Roles that words are written in."""


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#767676", "#FFFFFF", 4.54),  # WCAG 2.2 (outside_checks: read)
        ("#000000", "#FFFFFF", 21.0),  # WCAG 2.2
        # Okabe and Ito's colours as lines on white (outside_checks: ratios computed there)
        ("#E69F00", "#FFFFFF", 2.25),
        ("#56B4E9", "#FFFFFF", 2.31),
        ("#009E73", "#FFFFFF", 3.42),
        ("#0072B2", "#FFFFFF", 5.19),
        ("#D55E00", "#FFFFFF", 3.87),
    ],
)
def test_contrast_is_that_of_the_standard(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=0.006)
    assert contrast(other, one) == contrast(one, other)


@pytest.mark.parametrize("palette", [LIGHT, DARK, PAPER], ids=["light", "dark", "paper"])
@pytest.mark.parametrize("ground", GROUNDS)
def test_words_and_lines_stand_out(palette: Palette, ground: Role) -> None:
    # WCAG 2.2: 4.5 : 1 for text, 3 : 1 for what a picture is made of.
    for role in Role:
        if role not in GROUNDS:
            least = 4.5 if role in WORDS else 3.0
            assert contrast(palette[role], palette[ground]) >= least, role


def test_every_role_has_its_colours() -> None:
    for palette in (LIGHT, DARK, PAPER):
        assert set(palette) == set(Role)


def test_lines_are_told_apart_without_colour() -> None:
    kinds = (Role.SEAM, Role.MARGIN_EDGE, Role.STITCH, Role.ECHO, Role.TRAVEL)
    for one, other in combinations(kinds, 2):
        a, b = STROKES[one], STROKES[other]
        # By dashes, or else by weight: half as heavy again is seen.
        assert bool(a.dashes) != bool(b.dashes) or (
            a.dashes != b.dashes if a.dashes else max(a.width, b.width) >= 1.5 * min(a.width, b.width)
        ), (one, other)
    assert STROKES[Role.SEAM].width == max(STROKES[kind].width for kind in kinds)
    assert 0.0 in STROKES[Role.TRAVEL].dashes
    assert set(STROKES) == set(Role) - {Role.FRAME, Role.CLOTH}


def test_text_is_large_enough() -> None:
    assert TEXT_POINTS[TextSize.BASE] == 12.0
    assert min(TEXT_POINTS.values()) >= LEAST_POINTS >= 9.0
