"""Anchors: the map against fits, suggestions against what they promise."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely

from geometry import AnchorError, Fit, Patch, Settings, fit
from geometry.anchors import anchor_map, best_anchor, better_anchor, named_anchor, suggest
from geometry.findings import Code
from geometry.patch import middle_of
from tests.outside.shapes import counties, glyphs
from tests.zoo.cases import case
from tests.zoo.patches import ZOO, Animal, box, circle

INCH = 25.4
SQUARE = Patch(box(0, 0, 8 * INCH, 8 * INCH))
L_SHAPE = Patch([(0, 0), (240, 0), (240, 90), (90, 90), (90, 240), (0, 240)])
RING = Patch(circle(200, 200, 180, 60), [circle(200, 200, 90, 40)])
DUMBBELL = Patch([(0, 0), (90, 0), (90, 41), (150, 41), (150, 0), (240, 0), (240, 90), (150, 90), (150, 49),
                  (90, 49), (90, 90), (0, 90)])  # fmt: skip
STRIP = Patch(box(0, 0, 100, 10))


def counted(fitted: Fit) -> tuple[int, int, int]:
    codes = [finding.code for finding in fitted.findings]
    return codes.count(Code.SIDE_SHORT), codes.count(Code.WEDGE_THIN), codes.count(Code.WEDGE_LOST)


def narrowest(fitted: Fit) -> float:
    wedges = [wedge for fan in fitted.fans for wedge in fan.wedges]
    return min((min(wedge.side_length, wedge.across) for wedge in wedges), default=0.0)


def places_in(patch: Patch, count: int) -> np.ndarray:
    """Anywhere in the patch, in its margin too, and its seam."""
    chance = np.random.default_rng(11)
    x0, y0, x1, y1 = patch.polygon.bounds
    places = np.column_stack([chance.uniform(x0, x1, 400), chance.uniform(y0, y1, 400)])
    places = places[shapely.contains_xy(patch.polygon, places)][:count]
    return np.concatenate([places, patch.outline[:1]])


def assert_is_the_fits(patch: Patch, settings: Settings, places: np.ndarray) -> None:
    found = anchor_map(patch, settings, places)
    assert (found.anchors == places).all()
    for i, (x, y) in enumerate(places.tolist()):
        fitted = fit(patch, (x, y), settings)
        seen = 1 - fitted.out_of_sight.share if fitted.stitchable else 0
        assert found.share[i] == pytest.approx(seen, abs=1e-9)
        assert found.narrowest[i] == pytest.approx(narrowest(fitted), abs=1e-6)
        assert (found.short[i], found.thin[i], found.lost[i]) == counted(fitted)


@pytest.mark.parametrize("animal", ZOO, ids=lambda animal: animal.name)
def test_the_map_says_of_an_anchor_what_its_fit_says(animal: Animal) -> None:
    try:
        patch = Patch(animal.outline, animal.holes)
    except Exception:
        pytest.skip("refused as a patch")
    settings = Settings(**animal.settings)
    if not fit(patch, places_in(patch, 1)[0], settings).stitchable:
        pytest.skip("no room to stitch")
    assert_is_the_fits(patch, settings, places_in(patch, 12))


@pytest.mark.parametrize("gap", [0.0, 3.0, 25.0])
def test_so_it_does_of_shapes_nobody_here_drew(gap: float) -> None:
    for outline, holes in [*counties()[::50], *(rings for _, rings in glyphs(3))]:
        patch = Patch(outline, holes)
        settings = Settings(gap=gap, edge_margin=2.0, visible_width=5.0)
        assert_is_the_fits(patch, settings, places_in(patch, 12))


def numbered(number: int) -> tuple[Patch, Settings]:
    """The patch of a numbered case, with what it draws of the settings that sectors and wedges depend on."""
    drawn = case(number)
    return drawn.patch, replace(drawn.settings, echo_count=0, divide=False)


@pytest.mark.parametrize("number", range(0, 2000, 40))
def test_so_it_does_under_drawn_settings(number: int) -> None:
    patch, settings = numbered(number)
    assert_is_the_fits(patch, settings, places_in(patch, 4))


@pytest.mark.long
def test_so_it_does_under_thousands_of_drawn_settings() -> None:
    for number in range(2000):
        patch, settings = numbered(number)
        assert_is_the_fits(patch, settings, places_in(patch, 3))


def test_so_it_does_where_a_hole_touches_the_middle_of_a_side() -> None:
    """The triangles have a corner there, in the midst of a piece of the marked edge."""
    hole = [(0, 120), (80, 90), (110, 130), (70, 160)]
    patch = Patch(box(0, 0, 240, 240), [hole])
    settings = Settings(edge_margin=0.0, spans_per_side=1, longest_span=23.0)
    assert_is_the_fits(patch, settings, places_in(patch, 40))


def test_so_it_does_where_the_first_mark_of_a_ring_is_in_the_middle_of_a_straight_edge() -> None:
    """There the marked edge begins, so that the last of its pieces and the first are on one edge."""
    outline, holes = dict(glyphs(300))["uniFEC1"]
    patch = Patch(outline, holes)
    assert_is_the_fits(patch, Settings(gap=10.69, visible_width=0.0, spans_per_side=1), places_in(patch, 60))


def test_so_it_does_of_wedges_that_just_are_as_wide_as_can_be_seen() -> None:
    """A regular polygon's middle: all wedges are equal, and as wide across as is asked, or hardly less."""
    patch = polygon(8)
    plain = Settings(edge_margin=0.0, spans_per_side=1)
    across = fit(patch, (0.0, 0.0), plain).fans[0].wedges[0].across
    for visible, count in ((across - 1e-6, 0), (across + 1e-6, 8)):
        found = anchor_map(patch, replace(plain, visible_width=visible), np.zeros((1, 2)))
        assert found.thin.tolist() == [count]


def test_a_patch_in_two_parts_is_mapped_in_both() -> None:
    found = anchor_map(DUMBBELL, Settings(), step=7.0)
    assert found.share.max() == pytest.approx(0.5, abs=1e-9)
    assert {bool(x < 120) for x in found.anchors[:, 0]} == {True, False}
    assert_is_the_fits(DUMBBELL, Settings(), found.anchors[::9])


def test_the_grid_is_inside_the_stitchable_area_and_as_dense_as_asked() -> None:
    found = anchor_map(L_SHAPE, Settings(), step=10.0)
    area = L_SHAPE.polygon.buffer(-INCH / 4, join_style="mitre")
    assert shapely.contains_xy(area, found.anchors).all()
    assert len(found.anchors) == pytest.approx(area.area / 100, rel=0.1)
    assert len(np.unique(found.anchors, axis=0)) == len(found.anchors)
    assert len(anchor_map(L_SHAPE, Settings()).anchors) == pytest.approx(1000, rel=0.1)
    with pytest.raises(ValueError, match="read-only"):
        found.share[0] = 2


def test_where_there_is_no_room_the_map_is_empty_and_nothing_is_suggested() -> None:
    assert len(anchor_map(STRIP, Settings()).anchors) == 0
    assert suggest(STRIP, Settings()) == ()
    assert best_anchor(STRIP, Settings()) == middle_of(STRIP)
    assert better_anchor(STRIP, Settings(), 0.5) is None


def test_an_anchor_outside_is_refused() -> None:
    with pytest.raises(AnchorError):
        anchor_map(SQUARE, Settings(), np.array([(50.0, 50.0), (-50.0, 50.0)]))


def test_the_work_can_be_followed_and_stopped() -> None:
    told: list[tuple[int, int]] = []
    settings, step = Settings(), 3.0
    whole = anchor_map(
        SQUARE, settings, step=step, progress=lambda done, total: told.append((done, total)) is None
    )
    assert [done for done, _ in told] == sorted({done for done, _ in told})
    assert told[-1] == (len(whole.anchors), len(whole.anchors))
    assert len(told) > 1
    part = anchor_map(SQUARE, settings, step=step, progress=lambda done, total: False)
    assert len(part.anchors) == told[0][0] < len(whole.anchors)
    assert (part.share == whole.share[: len(part.share)]).all()
    assert (part.narrowest == whole.narrowest[: len(part.share)]).all()


def test_of_a_large_outline_there_are_fewer_anchors_between_two_looks() -> None:
    told = [0]
    found = anchor_map(
        polygon(5000), Settings(), step=25.0, progress=lambda done, _: told.append(done) is None
    )
    assert len(found.anchors) > 80
    assert max(np.diff(told)) <= 40


PATCHES = {"square": SQUARE, "L": L_SHAPE, "ring": RING, "dumbbell": DUMBBELL}


@pytest.mark.parametrize("name", PATCHES)
def test_suggestions_are_ranked_well_apart_and_what_they_say(name: str) -> None:
    patch, settings = PATCHES[name], Settings(echo_count=3)
    found = suggest(patch, settings)
    assert 1 < len(found) <= 5
    totals = [round(each.score.total, 6) for each in found]
    assert totals == sorted(totals, reverse=True)
    for one, two in combinations(found, 2):
        assert math.dist(one.anchor, two.anchor) >= patch.width / 4
    for each in found:
        fitted = fit(patch, each.anchor, settings)
        assert each.share == pytest.approx(1 - fitted.out_of_sight.share, abs=1e-9)
        assert each.narrowest == pytest.approx(narrowest(fitted), abs=1e-6)
        hidden = fitted.out_of_sight.share >= 0.01
        assert each.problems == sum(counted(fitted)) + hidden
        # The score as its words state it.
        assert each.score.sight == pytest.approx(60 * each.share)
        assert each.score.soundness == pytest.approx(25 / (1 + each.problems))
        assert each.score.width == pytest.approx(15 * min(1, each.narrowest / INCH))
        for code in each.names:
            if code != "most-open" and not code.startswith("off-centre"):
                assert named_anchor(patch, settings, code) == each.anchor
        assert set(each.names[1:]) <= {"most-open"}
        if each.names[0] == "most-open" or each.names[0].startswith("off-centre"):
            for off in (middle_of(patch), patch.centre):
                assert math.dist(each.anchor, off) >= patch.width / 10
    assert [each.anchor for each in suggest(patch, settings, 2)] == [each.anchor for each in found[:2]]
    assert named_anchor(patch, settings, "best") == best_anchor(patch, settings) == found[0].anchor


def polygon(corners: int, stretch: float = 1.0) -> Patch:
    turns = np.linspace(0, 2 * math.pi, corners, endpoint=False)
    return Patch(np.column_stack([150 * stretch * np.cos(turns), 150 * np.sin(turns)]))


WAYS = {
    "up": (0, -1), "up-right": (1, -1), "right": (1, 0), "down-right": (1, 1), "down": (0, 1),
    "down-left": (-1, 1), "left": (-1, 0), "up-left": (-1, -1),
}  # fmt: skip


@pytest.mark.parametrize(
    "patch", [L_SHAPE, RING, DUMBBELL, polygon(5), polygon(1000), polygon(1000, 2.0), polygon(7, 3.0)]
)
def test_no_two_suggestions_are_called_alike_and_what_they_are_towards_lies_that_way(patch: Patch) -> None:
    settings = Settings(edge_margin=1.0)
    found = suggest(patch, settings, 12)
    assert len({each.names for each in found}) == len(found) > 2
    mx, my = middle_of(patch)
    for each in found:
        kind, *toward = each.names[0].split(":")
        if kind != "off-centre":
            continue
        if toward[0] in WAYS:
            ahead = WAYS[toward[0]]
        else:
            x, y = named_anchor(patch, settings, ":".join(toward[:2]))
            ahead = (x - mx, y - my)
        way = (each.anchor[0] - mx, each.anchor[1] - my)
        cosine = (way[0] * ahead[0] + way[1] * ahead[1]) / math.hypot(*way) / math.hypot(*ahead)
        assert cosine > math.cos(math.radians(46)), each.names


def test_suggestions_can_be_followed_and_stopped_anywhere() -> None:
    turns, radii = np.linspace(0, 2 * math.pi, 40, endpoint=False), np.tile([150, 90], 20)
    star = Patch(np.column_stack([radii * np.cos(turns), radii * np.sin(turns)]))
    told: list[tuple[int, int]] = []
    whole = suggest(star, Settings(), progress=lambda done, total: told.append((done, total)) is None)
    assert whole == suggest(star, Settings())
    dones = [done for done, _ in told]
    assert dones == sorted(set(dones))
    assert len({total for _, total in told}) == 1
    assert told[-1][0] == told[-1][1]
    assert max(np.diff([0, *dones])) <= 100, "in small steps"
    for stop in (0, 2, len(told) - 2):
        calls = iter(range(len(told)))
        assert suggest(star, Settings(), progress=lambda done, total, c=calls, s=stop: next(c) < s) == ()  # type: ignore[misc]
        assert next(calls) == stop + 1, "it went on after the stop"


def test_a_square_has_its_middle_and_its_corners() -> None:
    assert [each.names for each in suggest(SQUARE, Settings())] == [
        ("middle", "most-open"), ("corner:DA",), ("corner:AB",), ("corner:BC",), ("corner:CD",),
    ]  # fmt: skip


def test_an_l_is_seen_whole_from_its_inner_corner() -> None:
    best = suggest(L_SHAPE, Settings())[0]
    assert best.share == 1
    assert best.problems == 0
    x, y = best.anchor
    assert x <= 90 + INCH / 4 + 1e-6
    assert y <= 90 + INCH / 4 + 1e-6


def test_nothing_on_a_grid_of_fits_scores_higher_than_the_best_by_much() -> None:
    """The best of 1,000 anchors is no more than 6 points in 100 better than the first suggestion."""
    for patch in (L_SHAPE, RING, Patch(counties()[5][0])):
        found = anchor_map(patch, Settings())
        scores = 60 * found.share + 25 / (1 + found.problems) + 15 * np.minimum(1, found.narrowest / INCH)
        assert suggest(patch, Settings())[0].score.total > scores.max() - 6


def test_mirrored_a_patch_has_mirrored_suggestions() -> None:
    mirrored = Patch([(-x, y) for x, y in reversed(L_SHAPE.outline.tolist())])
    one, two = suggest(L_SHAPE, Settings()), suggest(mirrored, Settings())
    assert one[0].score.total == pytest.approx(two[0].score.total, abs=1e-6)
    assert one[0].anchor == pytest.approx((-two[0].anchor[0], two[0].anchor[1]), abs=1e-6)


def test_the_better_anchor_leaves_clearly_less_out_of_sight() -> None:
    spiral = next(animal for animal in ZOO if "spiral" in animal.name)
    for patch in (L_SHAPE, RING, Patch(spiral.outline)):
        for place in places_in(patch, 8).tolist():
            share = fit(patch, (place[0], place[1])).out_of_sight.share
            better = better_anchor(patch, Settings(), share)
            if better is not None:
                left = fit(patch, better).out_of_sight.share
                assert left <= 0.75 * share
    # Where one anchor sees everything, it is one that does, and the finding goes away.
    corner = (235.0, 45.0)
    share = fit(L_SHAPE, corner).out_of_sight.share
    assert share > 0.01
    better = better_anchor(L_SHAPE, Settings(), share)
    assert better is not None
    assert Code.OUT_OF_SIGHT not in {finding.code for finding in fit(L_SHAPE, better).findings}
    assert better_anchor(RING, Settings(), 0.01) is None
    assert better_anchor(L_SHAPE, Settings(), 0.0) is None


@pytest.mark.parametrize("name", ["", "centre", "side:", "side:9", "corner:ZZ", "middle:1"])
def test_a_name_of_no_place_is_refused(name: str) -> None:
    with pytest.raises(AnchorError) as caught:
        named_anchor(SQUARE, Settings(), name)
    assert caught.value.do
