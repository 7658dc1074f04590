"""Thin and lost wedges joined with a neighbour."""

import math

import numpy as np
import pytest
from shapely import LineString, Point, Polygon

from geometry import Patch, Settings, fit
from geometry.fan_map import FanMap
from geometry.findings import Code
from geometry.ground import ground_of
from tests.geometry.wedges import INCH, square


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
