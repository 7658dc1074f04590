"""Findings with figures worked by hand: value, limit, level, place."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import Point as Place
from shapely import Polygon

from geometry import Fit, Patch, Settings, fit
from geometry.findings import Code, Finding, Level
from geometry.stitchable import widest_of

INCH = 25.4
QUARTER = INCH / 4


def box(width: float, height: float | None = None) -> Patch:
    return Patch([(0, 0), (width, 0), (width, height or width), (0, height or width)])


def of(fitted: Fit, code: Code) -> list[Finding]:
    return [finding for finding in fitted.findings if finding.code is code]


def bare(**others: object) -> Settings:
    """Without margin and gap: wedges are whole triangles."""
    return Settings(edge_margin=0, gap=0, **others)  # type: ignore[arg-type]


# ------------------------------------------------------------------------- common practice, no source


def test_a_square_block_has_eight_wedges_a_quarter_inch_from_seam_and_from_each_other() -> None:
    """common practice, no source: 1/4 in from the seam, 1/4 in between wedges, eight wedges in a square."""
    fitted = fit(box(8 * INCH), (4 * INCH, 4 * INCH))
    wedges = fitted.fans[0].wedges
    assert len(wedges) == 8
    assert fitted.findings == ()
    seam = fitted.patch.polygon.exterior
    assert {round(seam.distance(Place(at)), 6) for wedge in wedges for at in wedge.side} == {QUARTER}
    for one, other in zip(wedges, wedges[1:] + wedges[:1], strict=True):
        between = Polygon(one.outline).boundary, Polygon(other.outline).boundary
        ends = Place(one.side[-1]).distance(between[1]), Place(other.side[0]).distance(between[0])
        assert min(ends) == pytest.approx(QUARTER, abs=1e-6)


@pytest.mark.parametrize("degrees", [0, 45, 200])
def test_an_anchor_off_centre_by_less_than_a_tenth_looks_like_a_slip(degrees: float) -> None:
    """common practice, no source: a tenth of an 8 in block is 20.32 mm."""
    turn = math.radians(degrees)

    def found(off: float) -> list[Finding]:
        at = 101.6 + off * math.cos(turn), 101.6 + off * math.sin(turn)
        return of(fit(box(203.2), at), Code.NEAR_CENTRE)

    assert found(0) == []
    assert found(20.33) == []
    (finding,) = found(20.31)
    assert finding.level is Level.CAUTION
    assert finding.value == pytest.approx(20.31)
    assert finding.limit == pytest.approx(20.32)
    assert finding.at == pytest.approx((101.6 + 20.31 * math.cos(turn), 101.6 + 20.31 * math.sin(turn)))
    assert finding.wedge is None


def test_two_anchors_and_one_on_the_seam_are_no_slip() -> None:
    strip = box(300, 20)
    assert of(fit(strip, (150.0, 20.0)), Code.NEAR_CENTRE) == []
    assert len(of(fit(strip, (151.0, 10.0)), Code.NEAR_CENTRE)) == 1
    assert of(fit(strip, [(151.0, 10.0), (200.0, 10.0)]), Code.NEAR_CENTRE) == []


# ------------------------------------------------------------------------------------------- narrow wedges


def test_short_sides_and_thin_wedges() -> None:
    """A block of 100 mm from its middle, 16 spans a side: sides of 6.25 mm, and a wedge is as much across as
    twice its area, 6.25 x 50, over its longer leg."""
    fitted = fit(box(100), (50.0, 50.0), bare(spans_per_side=16))
    wedges = {wedge.number: wedge for wedge in fitted.fans[0].wedges}
    short, thin = of(fitted, Code.SIDE_SHORT), of(fitted, Code.WEDGE_THIN)
    assert {finding.wedge for finding in short} == {finding.wedge for finding in thin} == set(wedges)
    assert len(wedges) == 64
    for finding in short + thin:
        assert finding.level is Level.PROBLEM
        assert finding.limit == QUARTER
        side = wedges[finding.wedge or 0].side
        assert finding.at == pytest.approx((side[0] + side[-1]) / 2)
    assert [finding.value for finding in short] == pytest.approx([6.25] * 64)
    longer = {k: math.hypot(50, 6.25 * k) for k in range(1, 9)}
    assert sorted(finding.value for finding in thin) == pytest.approx(
        sorted(6.25 * 50 / longer[k] for k in range(1, 9) for _ in range(8))
    )
    assert of(fitted, Code.WOBBLE_RISK) == []  # they are too narrow as they are


def test_neither_is_found_from_the_limit_on() -> None:
    """15 spans: sides of 6.67 mm; the middle one of a side is 6.652 across, one at a corner 4.714."""
    fitted = fit(box(100), (50.0, 50.0), bare(spans_per_side=15))
    assert of(fitted, Code.SIDE_SHORT) == []
    thin = {finding.wedge for finding in of(fitted, Code.WEDGE_THIN)}
    sound = {wedge.number for wedge in fitted.fans[0].wedges} - thin
    # 100 / 15 x 50 / hypot(50, (k + 1/2) 100 / 15) >= 6.35 where (k + 1/2) 100 / 15 <= 15.99: k <= 1
    assert len(sound) == 4 * 3


def test_wobble_risk_is_what_a_hand_leaves_of_a_wedge() -> None:
    """7 spans of 14.286 mm: in the middle of a side 14.142 across, more than 1/4 in and twice 1/8 in, which
    is 12.7; beside a corner 14.286 x 50 / 70.711 = 10.102, of which 3.752 is left."""
    fitted = fit(box(100), (50.0, 50.0), bare(spans_per_side=7))
    risks = of(fitted, Code.WOBBLE_RISK)
    base = 100 / 7
    across = [base * 50 / math.hypot(50, (k + 0.5) * base) for k in (1, 2, 3)]
    expected = sorted(value - QUARTER for value in across if value < 2 * QUARTER for _ in range(8))
    assert sorted(finding.value for finding in risks) == pytest.approx(expected)
    assert min(finding.value for finding in risks) == pytest.approx(3.752, abs=1e-3)
    wedges = {wedge.number: wedge for wedge in fitted.fans[0].wedges}
    for finding in risks:
        side = wedges[finding.wedge or 0].side
        assert finding.at == pytest.approx((side[0] + side[-1]) / 2)
        assert (finding.level, finding.limit) == (Level.CAUTION, QUARTER)
    assert of(fitted, Code.WEDGE_THIN) == []
    assert of(fit(box(100), (50.0, 50.0), bare(spans_per_side=7, wobble=0)), Code.WOBBLE_RISK) == []


def test_a_lost_wedge_says_its_span_and_the_gap() -> None:
    """A block of 100 mm in spans of 10, with a gap of 50: for most of them there is no room."""
    fitted = fit(box(100), (50.0, 50.0), Settings(edge_margin=0, gap=50.0, spans_per_side=10))
    lost = of(fitted, Code.WEDGE_LOST)
    assert lost
    assert len(lost) + len(fitted.fans[0].wedges) == 40
    names = {mark.name: mark.at for mark in fitted.fans[0].marks}
    for finding in lost:
        one, _, other = finding.detail.partition("-")
        middle = [(a + b) / 2 for a, b in zip(names[one], names[other], strict=True)]
        assert finding.at == pytest.approx(middle)
        assert finding.value == pytest.approx(10)
        assert (finding.limit, finding.level, finding.wedge) == (50.0, Level.PROBLEM, None)


# --------------------------------------------------------------------------------- what the fan leaves out


def test_out_of_sight_is_a_share_of_the_stitchable_area() -> None:
    """An L with arms of 100, seen from the end of one: the line over its inner corner, from (300, 50) over
    (100, 100), meets x = 0 at y = 125; below it lie 100 x 200 - 100 x 25 / 2 = 18750 of 50000 mm²."""
    ell = Patch([(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)])
    fitted = fit(ell, (300.0, 50.0), bare())
    (finding,) = of(fitted, Code.OUT_OF_SIGHT)
    assert finding.value == pytest.approx(0.375)
    assert (finding.limit, finding.level, finding.wedge) == (0.01, Level.PROBLEM, None)
    assert Polygon([(0, 125), (100, 100), (100, 300), (0, 300)]).contains(Place(finding.at))


def test_a_part_out_of_sight_of_less_than_a_hundredth_is_a_caution() -> None:
    """A block of 200 mm with a stub of 20 x 20 on it, of which an anchor across sees next to nothing."""
    notched = Patch([(0, 0), (200, 0), (200, 200), (20, 200), (20, 220), (0, 220)])
    fitted = fit(notched, (200.0, 199.0), bare())
    (finding,) = of(fitted, Code.OUT_OF_SIGHT)
    # the line from (200, 199) over (20, 200) meets x = 0 at y = 200 + 20 / 180
    assert finding.value == pytest.approx((20 * 20 - 20 * (20 / 180) / 2) / (200 * 200 + 400))
    assert finding.level is Level.CAUTION


def test_pinched_is_the_share_of_each_part_that_stays_empty() -> None:
    """Blocks of 100 and 60 mm, joined by a strip 10 wide: less a margin of 6.35 they are 87.3 and 47.3."""
    patch = Patch(
        [(0, 0), (100, 0), (100, 45), (120, 45), (120, 20), (180, 20), (180, 80), (120, 80), (120, 55),
         (100, 55), (100, 100), (0, 100)]
    )  # fmt: skip
    large, small = 87.3**2, 47.3**2
    (finding,) = of(fit(patch, (50.0, 50.0)), Code.PINCHED)
    assert finding.value == pytest.approx(small / (large + small))
    assert (finding.limit, finding.level, finding.wedge) == (0, Level.PROBLEM, None)
    assert Polygon([(126, 26), (174, 26), (174, 74), (126, 74)]).contains(Place(finding.at))
    (finding,) = of(fit(patch, (150.0, 50.0)), Code.PINCHED)
    assert finding.value == pytest.approx(large / (large + small))
    assert finding.at[0] < 100
    assert of(fit(patch, (50.0, 50.0), Settings(edge_margin=4.9)), Code.PINCHED) == []


def test_no_room_is_where_the_widest_circle_is() -> None:
    (finding,) = fit(box(300, 12), (10.0, 6.0)).findings
    assert finding.code is Code.NO_ROOM
    assert finding.value == pytest.approx(12, abs=0.6)  # within a thousandth of 300, twice
    assert (finding.limit, finding.level) == (2 * QUARTER, Level.PROBLEM)
    assert finding.at[1] == pytest.approx(6, abs=0.3)


# ----------------------------------------------------------------------------------------- thread and batting


def test_every_leg_that_reaches_the_anchor_is_a_pass() -> None:
    """12 wedges are 24 legs, as many as may meet; 16 are 32."""
    patch, middle = box(203.2), (101.6, 101.6)
    assert of(fit(patch, middle, Settings(spans_per_side=3)), Code.CROWDED_ANCHOR) == []
    (finding,) = of(fit(patch, middle, Settings(spans_per_side=4)), Code.CROWDED_ANCHOR)
    assert (finding.value, finding.limit, finding.level) == (32, 24, Level.CAUTION)
    assert (finding.at, finding.wedge) == (middle, None)
    held = Settings(spans_per_side=4, hold_back=INCH / 8)
    assert of(fit(patch, middle, held), Code.CROWDED_ANCHOR) == []
    less = Settings(spans_per_side=4, hold_back=INCH / 8 - 0.01)
    assert of(fit(patch, middle, less), Code.CROWDED_ANCHOR)[0].value == 32


def test_an_echo_that_reaches_the_disc_is_a_pass() -> None:
    """Four wedges of 90 degrees: an echo's apex is 1.414 spacings out, 2.83 and 5.66 mm for 2 mm; the disc
    has 3.175."""
    settings = bare(spans_per_side=1, echo_count=2, echo_spacing=2.0, anchor_passes=11)
    (finding,) = of(fit(box(203.2), (101.6, 101.6), settings), Code.CROWDED_ANCHOR)
    assert (finding.value, finding.limit) == (4 * 2 + 4, 11)


RIGHT = (math.sqrt(2) - 1) * 203.2
"""mm, 84.168: the inradius of a wedge of a 16 in block in four: legs of 287.4, side of 406.4."""


def in_four(**others: object) -> Fit:
    return fit(box(406.4), (203.2, 203.2), bare(spans_per_side=1, **others))


def test_open_area_is_the_widest_circle_in_a_wedge() -> None:
    """In a quarter of a 16 in block fits a circle 168.3 mm wide; the batting allows 4 in."""
    (finding,) = of(in_four(), Code.OPEN_AREA)
    assert finding.value == pytest.approx(2 * RIGHT, abs=0.9)  # within a thousandth of 406, twice
    assert (finding.limit, finding.level, finding.wedge) == (4 * INCH, Level.CAUTION, None)
    x, y = finding.at
    assert min(x, y, 406.4 - x, 406.4 - y) == pytest.approx(RIGHT, abs=1)
    assert of(in_four(batting_width=2 * RIGHT + 0.01), Code.OPEN_AREA) == []
    assert len(of(in_four(batting_width=2 * RIGHT - 1), Code.OPEN_AREA)) == 1


def test_echoes_close_an_open_area() -> None:
    """Each echo takes 6.35 off the radius: (84.17 - 50.8) / 6.35 = 5.3, so five are too few, six are not."""
    (finding,) = of(in_four(echo_count=5), Code.OPEN_AREA)
    assert finding.value == pytest.approx(2 * (RIGHT - 5 * QUARTER), abs=0.9)
    assert of(in_four(echo_count=6), Code.OPEN_AREA) == []


def test_what_a_hold_back_leaves_bare_is_an_open_area() -> None:
    """Legs begin 20 mm from the anchor: a circle 40 mm wide is bare around it, whatever the echoes inside the
    wedges close (29.8 mm is the inradius of a wedge of half a side; three echoes leave 21.4 mm of width)."""
    settings = bare(hold_back=20.0, echo_count=3, batting_width=38.0)
    (finding,) = of(fit(box(203.2), (101.6, 101.6), settings), Code.OPEN_AREA)
    assert finding.value == pytest.approx(40.0, abs=0.4)
    assert math.dist(finding.at, (101.6, 101.6)) < 1
    assert of(fit(box(203.2), (101.6, 101.6), replace(settings, batting_width=42.0)), Code.OPEN_AREA) == []


def test_an_open_area_out_of_sight_beside_a_mouth_of_half_a_turn() -> None:
    """From the edge of an L half of its other arm is out of sight; two legs on the edge face each other."""
    room = Patch([(0, 0), (254, 0), (254, 101.6), (101.6, 101.6), (101.6, 254), (0, 254)])
    fitted = fit(room, (QUARTER, 127.0), Settings(gap=0, spans_per_side=1, echo_count=4, batting_width=30))
    (finding,) = of(fitted, Code.OPEN_AREA)
    clear = shapely.union_all([Polygon(wedge.outline) for wedge in fitted.fans[0].wedges])
    free = shapely.maximum_inscribed_circle(room.polygon.difference(clear), 0.05).length
    assert finding.value == pytest.approx(2 * free, abs=0.6)


def test_an_open_area_between_neighbours_that_turned_back_far() -> None:
    """Found by trial: legs end 20 mm from the anchor, and the sides beside them run off 400 mm; all is in
    sight, and echoes close the wedges."""
    shape = Patch([(17, 57), (-193, 351), (-266, 298), (-15, 13), (-1, -20), (106, -106)])
    settings = Settings(
        edge_margin=0, gap=6, spans_per_side=1, batting_width=13.2, echo_count=30, echo_spacing=2.2,
        visible_width=1,
    )  # fmt: skip
    fitted = fit(shape, (0.0, 0.0), settings)
    assert (fitted.out_of_sight.share, fitted.lost_area) == (0, 0)
    (finding,) = of(fitted, Code.OPEN_AREA)
    clear = shapely.union_all([Polygon(wedge.outline) for wedge in fitted.fans[0].wedges])
    free = shapely.maximum_inscribed_circle(shape.polygon.difference(clear), 0.05).length
    assert finding.value == pytest.approx(2 * free, abs=1)


def test_the_widest_circle_of_several_areas_is_not_missed_by_a_rough_look() -> None:
    chance = np.random.default_rng(5)
    areas = []
    for wide in chance.uniform(0.2, 1.5, 30).tolist():
        turn = np.linspace(0, wide, 30)
        far = chance.uniform(60, 140) * (1 + chance.uniform(0, 0.4) * np.sin(5 * turn))
        areas.append(Polygon([(0, 0), *np.column_stack([far * np.cos(turn), far * np.sin(turn)])]))
    radii = [shapely.maximum_inscribed_circle(area, 0.02).length for area in areas]
    for least in np.arange(1, max(radii) + 1, 0.4).tolist():
        widest = widest_of(areas, least)
        if widest is None:
            assert max(radii) <= least + 0.2  # a thousandth of 196 mm
            continue
        (x, y), radius = widest
        assert radius > least
        assert radius == pytest.approx(max(radii), abs=0.2)
        at = Place(x, y)
        assert max(area.exterior.distance(at) for area in areas if area.contains(at)) >= radius - 1e-9


def test_echoes_are_dropped_where_they_would_not_be_seen() -> None:
    """Echo k is smaller by k spacings over the inradius; across it is 287.4 at first, and 6.35 is the least:
    k <= (1 - 6.35 / 287.4) 84.17 / 6.35 = 12.96."""
    fitted = in_four(echo_count=20)
    dropped = of(fitted, Code.ECHO_DROPPED)
    assert [finding.wedge for finding in dropped] == [1, 2, 3, 4]
    for finding in dropped:
        assert (finding.value, finding.limit, finding.level) == (12, 20, Level.NOTE)
    middles = {(203.2, 0.0), (406.4, 203.2), (203.2, 406.4), (0.0, 203.2)}
    assert {(round(x, 6), round(y, 6)) for x, y in (finding.at for finding in dropped)} == middles
    assert of(in_four(echo_count=12), Code.ECHO_DROPPED) == []
    assert {finding.value for finding in of(in_four(echo_count=13), Code.ECHO_DROPPED)} == {12}


# ------------------------------------------------------------------------------------------------ outlines


def test_repairs_are_notes_that_do_not_keep_a_patch_from_fitting() -> None:
    patch = Patch([(0, 0), (0, 0), (200, 0), (260, 0), (200, 0), (200, 200), (0, 200)])
    fitted = fit(patch, (100.0, 100.0))
    assert {finding.code for finding in fitted.findings} == {Code.SIMPLIFIED, Code.REPAIRED}
    assert {finding.level for finding in fitted.findings} == {Level.NOTE}
    assert fitted.fits
