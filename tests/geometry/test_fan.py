"""Wedges: figures worked by hand, and what the words of the design page say."""

import math

import pytest

from geometry import Patch, Settings, fit
from geometry.findings import Code
from tests.geometry.wedges import INCH, square


def solve(function, low: float, high: float) -> float:
    """Bisection: as plain as can be, to be independent of the engine's own solver."""
    assert function(low) < 0 < function(high)
    for _ in range(200):
        middle = (low + high) / 2
        if function(middle) < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def test_square_block_of_8_in_has_eight_wedges_as_worked_by_hand():
    """8 in block, anchor in the middle, defaults. The stitchable area is a square of 7 1/2 in, so its
    sides are h = 3 3/4 in from the anchor; each has two spans, which makes eight wedges, all alike.

    At the middle of a side both neighbours are h / cos(d) away when each has given d, and 2 d apart:
    h / cos(d) * sin(2 d) = 2 h sin(d) = gap, so sin(d) = (1/4) / (2 * 3 3/4) = 1/30.
    At a corner, 45 degrees on, they are h / cos(45 - c) away: h sin(2 c) / cos(45 - c) = gap.
    """
    fitted = fit(square(8 * INCH), (4 * INCH, 4 * INCH))
    wedges = fitted.fans[0].wedges
    assert len(wedges) == 8
    assert fitted.findings == ()
    assert fitted.out_of_sight.share == 0

    h = 3.75 * INCH
    d = math.asin(1 / 30)
    quarter = math.pi / 4
    c = solve(lambda x: h * math.sin(2 * x) / math.cos(quarter - x) - INCH / 4, 0.0, 0.2)
    side = h * (math.tan(quarter - c) - math.tan(d))
    for wedge in wedges:
        assert wedge.side_length == pytest.approx(side, abs=1e-8)
        assert wedge.apex_angle == pytest.approx(quarter - c - d, abs=1e-10)
        assert wedge.across == pytest.approx(h / math.cos(d) * math.sin(quarter - c - d), abs=1e-8)
        assert tuple(wedge.outline[0]) == tuple(wedge.outline[-1]) == (4 * INCH, 4 * INCH)
    # In eighths of an inch, as a tape shows it: 3 4/8 in (87.58 mm).
    assert round(side / INCH * 8) == 28

    # The first wedge begins at the outline's first corner and they go on clockwise on screen.
    assert [w.span for w in wedges[:3]] == [("DA", "A1"), ("A1", "AB"), ("AB", "B1")]
    assert wedges[0].side[0][1] == pytest.approx(INCH / 4)
    assert wedges[0].side[0][0] < wedges[0].side[-1][0]


def test_sides_in_line_with_the_anchor_give_no_wedge_and_no_finding():
    fitted = fit(square(200), (0.0, 0.0), Settings(edge_margin=0))
    assert {w.span[0][0] + w.span[1][-1] for w in fitted.fans[0].wedges}
    assert len(fitted.fans[0].wedges) == 4
    assert fitted.findings == ()


def test_short_sides_and_thin_wedges_are_found_with_figure_and_limit():
    patch = Patch([(0, 0), (400, 0), (400, 40), (0, 40)])
    fitted = fit(patch, (200.0, 20.0), Settings(visible_width=30))
    short = [f for f in fitted.findings if f.code is Code.SIDE_SHORT]
    thin = [f for f in fitted.findings if f.code is Code.WEDGE_THIN]
    by_number = {w.number: w for w in fitted.fans[0].wedges}
    assert {f.wedge for f in short} == {n for n, w in by_number.items() if w.side_length < 30}
    assert {f.wedge for f in thin} == {n for n, w in by_number.items() if w.across < 30}
    assert thin
    for finding in thin:
        assert finding.value == by_number[finding.wedge].across
        assert finding.limit == 30


def test_no_room_says_how_wide_the_widest_circle_is():
    patch = Patch([(0, 0), (200, 0), (200, 14), (0, 14)])
    fitted = fit(patch, (100.0, 7.0), Settings(edge_margin=8, visible_width=2))
    (finding,) = fitted.findings
    assert finding.code is Code.NO_ROOM
    assert finding.value == pytest.approx(14, abs=0.2)
    assert finding.limit == 16


def test_pinched_names_the_other_part():
    waist = Patch([(0, 0), (80, 45), (160, 0), (160, 100), (80, 55), (0, 100)])
    fitted = fit(waist, (30.0, 50.0), Settings(edge_margin=6))
    (pinched,) = [f for f in fitted.findings if f.code is Code.PINCHED]
    assert pinched.value == pytest.approx(0.5, abs=1e-6)
    assert pinched.at[0] > 80
    assert fitted.out_of_sight.share == pytest.approx(0.5, abs=1e-6)
    assert all(w.side[:, 0].max() < 80 for w in fitted.fans[0].wedges)


def test_anchor_in_the_margin_legs_end_where_they_first_leave_the_stitchable_area():
    fitted = fit(square(200), (100.0, 3.0), Settings(edge_margin=10))
    for wedge in fitted.fans[0].wedges:
        assert tuple(wedge.outline[0]) == (100.0, 3.0)
        assert wedge.side.min() >= 10 - 1e-9
        assert wedge.side.max() <= 190 + 1e-9
        assert (wedge.side[:, 1] > 10 + 1e-9).any()
