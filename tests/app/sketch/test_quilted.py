"""Whether thread shows on cloth, and when stitches are told apart."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from app.plan.model import THREAD_WIDTH
from app.sketch.palette import LIGHT, Role
from app.sketch.quilted import CLOTH, COLOURS, THREAD, QuiltedLook, Shows, colour_words, dashes, shows_words
from tests.app.plan.samples import square


@pytest.mark.parametrize(
    ("cloth", "thread", "shows", "figure"),
    [
        ("#FFFFFF", "#000000", Shows.CLEARLY, "21 to 1"),  # WCAG 2.2: the greatest there is
        ("#FFFFFF", "#767676", Shows.CLEARLY, "4.5 to 1"),  # WCAG 2.2: 4.54
        ("#FFFFFF", "#009E73", Shows.CLEARLY, "3.4 to 1"),  # outside_checks: 3.42
        ("#FFFFFF", "#56B4E9", Shows.SHOWS, "2.3 to 1"),  # outside_checks: 2.31
        ("#22304F", "#22304F", Shows.BLENDS, "1 to 1"),
        ("#F3EFE6", "#FFFFFF", Shows.BLENDS, "1.1 to 1"),
    ],
)
def test_the_words_follow_the_published_contrast(cloth: str, thread: str, shows: Shows, figure: str) -> None:
    for look in (QuiltedLook(cloth, thread), QuiltedLook(thread, cloth)):
        assert look.shows is shows
        said = shows_words(look)
        assert said.endswith(f"contrast {figure}")
        assert shows.value.split()[0] in said


def test_no_figure_claims_more_than_there_is() -> None:
    look = QuiltedLook("#FFFFFF", "#959595")
    assert 2.9 < look.contrast < 3.0
    assert look.shows is Shows.SHOWS
    assert shows_words(look).endswith("2.9 to 1")


def test_what_was_not_chosen_is_as_usual() -> None:
    assert QuiltedLook.of(square()) == QuiltedLook(CLOTH, THREAD, THREAD_WIDTH)
    chosen = replace(square(), cloth="#1A2B3C", thread="#F0F0F0", thread_width=0.5)
    assert QuiltedLook.of(chosen) == QuiltedLook("#1A2B3C", "#F0F0F0", 0.5)
    assert LIGHT[Role.CLOTH] == CLOTH
    assert LIGHT[Role.STITCH] == THREAD
    assert QuiltedLook().shows is Shows.CLEARLY


def test_colours_have_plain_names_and_all_of_them_can_be_kept() -> None:
    assert len(set(COLOURS.values())) == len(COLOURS)
    for colour in COLOURS:
        replace(square(), cloth=colour, thread=colour)
    assert colour_words("#FFFFFF") == "white"
    assert colour_words("#123456") == "#123456"


def test_stitches_are_told_apart_where_the_gap_is_a_pixel() -> None:
    assert dashes(2.54, 0.3, 3.3) is None
    near = dashes(2.54, 0.3, 3.4)
    assert near is not None
    assert near.gap == 0.3
    assert near.stitch + near.gap == pytest.approx(2.54), "a stitch and its gap are one stitch length"
    thick = dashes(2.0, 1.5, 10.0)
    assert thick is not None
    assert thick.gap == thick.stitch == 1.0
