"""Wedges: figures worked by hand, and what the words of the design page say."""

import math

import numpy as np
import pytest
from shapely import LineString, Point

from geometry import Patch, Settings, fit
from geometry.findings import Code
from tests.oracle import examine, from_fit
from tests.outside.shapes import glyphs

INCH = 25.4


def square(size: float) -> Patch:
    return Patch([(0, 0), (size, 0), (size, size), (0, size)])


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


def test_nearer_sector_gives_way_by_more_angle_and_the_same_length():
    """Anchor off centre in a slot: where two spans meet with a jump in distance, the angles they give are
    in the inverse ratio of their distances (design page, 3.5)."""
    # An L whose arm hides half of the far side; the reflex corner is nearer than the side behind it.
    patch = Patch([(0, 0), (300, 0), (300, 200), (180, 200), (180, 100), (0, 100)])
    anchor = (40.0, 50.0)
    settings = Settings(edge_margin=0)
    fitted = fit(patch, anchor, settings)
    reflex = np.array([180.0, 100.0]) - anchor
    direction = math.atan2(reflex[1], reflex[0])
    wedges = fitted.fans[0].wedges
    ends = [(w, *(math.atan2(*(p - anchor)[::-1]) for p in (w.side[0], w.side[-1]))) for w in wedges]
    behind = max((e for e in ends if e[2] <= direction + 1e-9), key=lambda e: e[2])
    ahead = min((e for e in ends if e[1] >= direction - 1e-9), key=lambda e: e[1])
    r_ahead = math.hypot(*reflex)
    # The side behind the corner is x = 300 or y = 200: where the direction meets it first.
    r_behind = min(260 / math.cos(direction), 150 / math.sin(direction))
    d_behind, d_ahead = direction - behind[2], ahead[1] - direction
    assert d_behind > 0
    assert d_ahead > 0
    assert d_behind / d_ahead == pytest.approx(r_ahead / r_behind, rel=1e-6)
    nearer = min(math.dist(anchor, behind[0].side[-1]), math.dist(anchor, ahead[0].side[0]))
    assert nearer * math.sin(d_behind + d_ahead) == pytest.approx(settings.gap, abs=1e-8)


def test_sides_in_line_with_the_anchor_give_no_wedge_and_no_finding():
    fitted = fit(square(200), (0.0, 0.0), Settings(edge_margin=0))
    assert {w.span[0][0] + w.span[1][-1] for w in fitted.fans[0].wedges}
    assert len(fitted.fans[0].wedges) == 4
    assert fitted.findings == ()


def test_beside_the_seam_that_holds_the_anchor_nothing_is_turned_back():
    fitted = fit(square(200), (100.0, 200.0), Settings(edge_margin=0))
    wedges = fitted.fans[0].wedges
    legs = [leg for w in wedges for leg in (w.side[0], w.side[-1])]
    assert any(math.dist(leg, (0, 200)) < 1e-9 for leg in legs)
    assert any(math.dist(leg, (200, 200)) < 1e-9 for leg in legs)


def test_a_span_without_room_is_lost_and_its_angle_is_clear_space():
    """Seventy spans on each side of a 4 in block: most are narrower than the gaps around them."""
    fitted = fit(square(4 * INCH), (2 * INCH, 2 * INCH), Settings(spans_per_side=70))
    wedges = fitted.fans[0].wedges
    lost = [f for f in fitted.findings if f.code is Code.WEDGE_LOST]
    assert lost
    assert wedges
    assert len(lost) + len(wedges) == 280
    for one, other in zip(wedges, wedges[1:] + wedges[:1], strict=True):
        away = min(
            Point(one.side[-1]).distance(LineString([other.outline[0], other.side[0]])),
            Point(other.side[0]).distance(LineString([one.outline[0], one.side[-1]])),
        )
        assert away >= INCH / 4 - 1e-6


def test_everything_nearer_than_the_gap_is_lost_at_once():
    fitted = fit(square(20), (10.0, 10.0), Settings(edge_margin=0, gap=30))
    assert fitted.fans[0].wedges == ()
    assert {f.code for f in fitted.findings} == {Code.WEDGE_LOST}
    assert len(fitted.findings) == 8


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


@pytest.mark.parametrize(
    ("number", "margin", "anchor"),
    [
        (106, 3.0, (175.4688965476906, 106.65850154523957)),
        (380, 0.0, (90.92601940816327, 52.88087345551881)),
    ],
)
def test_a_hair_beside_an_edge_the_gap_is_kept(number, margin, anchor):
    """1e-6 mm from an edge or a corner a leg's outer end runs along that edge within a millionth of a radian;
    the gap was missed there by up to 0.7 mm, as regula falsi did not come to its end."""
    _, rings = glyphs(2000)[number]
    fitted = fit(Patch(*rings), anchor, Settings(edge_margin=margin))
    assert examine(from_fit(fitted)) == []
