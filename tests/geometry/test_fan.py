"""Wedges: figures worked by hand, and what the words of the design page say."""

import math

import numpy as np
import pytest
from shapely import LineString, Point, Polygon

from geometry import Patch, Settings, fit, giving_way
from geometry.fan_map import FanMap
from geometry.findings import Code
from geometry.ground import ground_of
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


# ----------------------------------------------------------------------------------------- merged thin wedges


def star(points: int, inner: float) -> Patch:
    turn = np.linspace(0, 2 * np.pi, 2 * points, endpoint=False)
    far = np.where(np.arange(2 * points) % 2, inner, 100.0)
    return Patch(np.column_stack([far * np.cos(turn), far * np.sin(turn)]))


ELL = Patch([(0, 0), (300, 0), (300, 200), (180, 200), (180, 100), (0, 100)])
RING = Patch([(0, 0), (200, 0), (200, 200), (0, 200)], [[(80, 80), (80, 120), (120, 120), (120, 80)]])
THIN = {
    "seventy spans a side": (square(4 * INCH), (2 * INCH, 2 * INCH), {"spans_per_side": 70}),
    "off centre": (square(8 * INCH), (150.0, 60.0), {"spans_per_side": 9}),
    "strip": (Patch([(0, 0), (400, 0), (400, 40), (0, 40)]), (120.0, 20.0), {"spans_per_side": 12}),
    "star": (star(9, 55.0), (9.0, -6.0), {"spans_per_side": 4}),
    "in the margin": (square(200), (60.0, 4.0), {"spans_per_side": 8, "edge_margin": 10.0}),
    "on the seam": (square(200), (70.0, 0.0), {"spans_per_side": 8, "edge_margin": 0.0}),
    "behind a corner": (ELL, (40.0, 50.0), {"spans_per_side": 8, "edge_margin": 3.0}),
    "beside a hole": (RING, (40.0, 90.0), {"spans_per_side": 9, "edge_margin": 3.0}),
    "no gap": (square(100), (30.0, 45.0), {"spans_per_side": 40, "gap": 0.0}),
}


@pytest.mark.parametrize("name", THIN)
def test_thin_wedges_are_merged_where_a_neighbour_is_in_reach(name):
    patch, anchor, changes = THIN[name]
    plain = fit(patch, anchor, Settings(**changes))
    settings = Settings(**changes, merge_thin=True)
    merged = fit(patch, anchor, settings)
    before, after = _thin_or_lost(plain), _thin_or_lost(merged)
    assert before
    wedges = merged.fans[0].wedges
    edge = merged.stitchable[0].boundary
    area = (patch.polygon if name == "in the margin" else merged.stitchable[0]).buffer(1e-6)
    shapes = [Polygon(wedge.outline) for wedge in wedges]
    for number, (wedge, shape) in enumerate(zip(wedges, shapes, strict=True)):
        assert wedge.number == number + 1
        assert shape.is_valid
        assert area.covers(shape)
        assert max(edge.distance(Point(at)) for at in wedge.side) < 1e-6
        for other in shapes[number + 1 :]:
            assert shape.intersection(other).area < 1e-6
    for one, other in zip(wedges, wedges[1:] + wedges[:1], strict=True):
        near = min(math.dist(anchor, one.side[-1]), math.dist(anchor, other.side[0]))
        if merged.patch.polygon.covers(LineString([one.side[-1], other.side[0]])):
            assert near * _sine(one, other, anchor) >= settings.gap - 1e-6
    # Thin ones are left only where no neighbour at the same mark is in reach: the mark is out of sight.
    marks = {mark.name: mark.at for mark in merged.fans[0].marks}
    for span in after:
        for end, beside in ((span[0], 1), (span[1], 0)):
            if any(wedge.span[beside] == end for wedge in wedges):
                assert not area.covers(LineString([anchor, marks[end]]))
    known = {wedge.span for wedge in plain.fans[0].wedges}
    assert any(wedge.span not in known for wedge in wedges)
    assert len(after) < len(before)
    # No less is stitched than before: what is given up for gaps is less.
    assert (
        sum(shape.area for shape in shapes)
        > sum(Polygon(w.outline).area for w in plain.fans[0].wedges) - 1e-6
    )


def test_a_merged_wedge_as_worked_by_hand():
    """8 in block, anchor in the middle, one side in three spans, the others in one; the middle span of the
    three is the least, 2 1/2 in less what is given for two gaps, and too short for a width of 2 1/4 in.
    The three others are the wider neighbours of its neighbours, so that it joins one of its own side."""
    changes = {"spans_per_side": 1, "side_spans": (("A", 3),), "visible_width": 2.25 * INCH}
    plain = fit(square(8 * INCH), (4 * INCH, 4 * INCH), Settings(**changes)).fans[0].wedges
    assert [w.span for w in plain] == [
        ("DA", "A1"), ("A1", "A2"), ("A2", "AB"), ("AB", "BC"), ("BC", "CD"), ("CD", "DA"),
    ]  # fmt: skip
    thin = [w.span for w in plain if min(w.side_length, w.across) < 2.25 * INCH]
    assert ("A1", "A2") in thin
    chosen = fit(square(8 * INCH), (4 * INCH, 4 * INCH), Settings(**changes, merged_spans=(("A1", "A2"),)))
    wedges = chosen.fans[0].wedges
    assert len(wedges) == 5
    (joined,) = [w for w in wedges if w.span in {("DA", "A2"), ("A1", "AB")}]
    # The mark between is a point of the side now, and the side as long as both and the gap between them.
    between = next(m.at for m in chosen.fans[0].marks if m.name == ("A1" if joined.span[0] == "DA" else "A2"))
    assert min(math.dist(at, between) for at in joined.side) < 1e-9
    parts = [w for w in plain if w.span[0] == joined.span[0] or w.span[1] == joined.span[1]]
    assert joined.side_length == pytest.approx(math.dist(parts[0].side[0], parts[-1].side[-1]), abs=1e-8)
    # The others are as they were, thin or not.
    rest = {w.span: w for w in wedges if w is not joined}
    assert set(rest) == {w.span for w in plain} - {w.span for w in parts}
    for wedge in plain:
        if wedge.span in rest:
            np.testing.assert_allclose(rest[wedge.span].outline, wedge.outline, atol=1e-9)


def test_nothing_is_merged_where_nothing_is_thin():
    patch, anchor = square(8 * INCH), (4 * INCH, 4 * INCH)
    plain = fit(patch, anchor, Settings())
    for changes in ({"merge_thin": True}, {"merged_spans": (("DA", "A1"), ("A1", "AB"))}):
        same = fit(patch, anchor, Settings(**changes)).fans[0].wedges
        for one, other in zip(plain.fans[0].wedges, same, strict=True):
            assert one.span == other.span
            np.testing.assert_array_equal(one.outline, other.outline)


@pytest.mark.parametrize("name", sorted(THIN.keys() - {"in the margin", "on the seam"}))
def test_the_map_judges_merged_wedges_as_the_fit_has_them(name):
    patch, _, changes = THIN[name]
    settings = Settings(**changes, merge_thin=True)
    ground = ground_of(patch, settings)
    fans = FanMap(ground.parts[0], ground.marked[0])
    left, top, right, bottom = patch.polygon.bounds
    at = np.random.default_rng(8).uniform((left, top), (right, bottom), (24, 2))
    at = at[fans.inside(at)]
    figures = fans.figures(at, settings)
    for k, anchor in enumerate(at.tolist()):
        fitted = fit(patch, tuple(anchor), settings)
        codes = [finding.code for finding in fitted.findings]
        assert codes.count(Code.SIDE_SHORT) == figures.short[k]
        assert codes.count(Code.WEDGE_THIN) == figures.thin[k]
        assert codes.count(Code.WEDGE_LOST) == figures.lost[k]
        least = min((min(w.side_length, w.across) for w in fitted.fans[0].wedges), default=0.0)
        assert figures.narrowest[k] == pytest.approx(least, abs=1e-8)


def _thin_or_lost(fitted) -> list[tuple[str, str]]:
    """Spans of wedges that are too thin, and one entry for each span that is lost."""
    thin = {f.wedge for f in fitted.findings if f.code in (Code.SIDE_SHORT, Code.WEDGE_THIN)}
    spans = [wedge.span for wedge in fitted.fans[0].wedges if wedge.number in thin]
    return spans + [("", "") for f in fitted.findings if f.code is Code.WEDGE_LOST]


def _sine(one, other, anchor) -> float:
    (ax, ay), (bx, by) = one.side[-1] - anchor, other.side[0] - anchor
    phi = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    return math.sin(phi) if 0 <= phi < math.pi / 2 else 1.0


@pytest.mark.parametrize(("teeth", "off", "gap"), [(1500, 0.0, 6.35), (1500, 1.0, 6.35), (600, 0.0, 20.0)])
def test_thousands_of_lost_wedges_go_at_once_as_they_would_one_by_one(teeth, off, gap, monkeypatch):
    turn = np.linspace(0, 2 * math.pi, teeth, endpoint=False)
    far = np.where(np.arange(teeth) % 2, 1000.0, 997.5)
    patch = Patch(np.column_stack([far * np.cos(turn), far * np.sin(turn)]))
    rounds = []
    narrowest = giving_way._narrowest
    monkeypatch.setattr(giving_way, "_narrowest", lambda *given: rounds.append(1) or narrowest(*given))
    answers, counts = [], []
    for many in (giving_way._MANY, math.inf):
        monkeypatch.setattr(giving_way, "_MANY", many)
        rounds.clear()
        fitted = fit(patch, (off, 0.3 * off), Settings(gap=gap))
        answers.append([(wedge.span, wedge.outline) for wedge in fitted.fans[0].wedges])
        counts.append(len(rounds))
    assert [span for span, _ in answers[0]] == [span for span, _ in answers[1]]
    for (_, one), (_, other) in zip(*answers, strict=True):
        assert one == pytest.approx(other, abs=1e-9)
    if gap < 10 and off == 0:
        assert counts[0] * 10 < counts[1]  # or all this tests nothing
