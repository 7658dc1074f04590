"""Several fans in one patch: regions by nearness, by division, and what their fans promise together."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
import shapely.affinity
from shapely import Point, Polygon, box

from geometry import AnchorError, Patch, Settings, SettingsError, fit
from geometry.findings import Code
from geometry.fit import Fit
from tests.oracle import from_fit, same
from tests.zoo.anchors import awkward_anchors
from tests.zoo.patches import ZOO

ANIMALS = {animal.name: animal for animal in ZOO}
CLOSE = 1e-6  # mm


def patch_of(name: str) -> tuple[Patch, Settings]:
    animal = ANIMALS[name]
    return Patch(animal.outline, animal.holes), Settings(**animal.settings)


def broken(answer: Fit) -> list[str]:
    """Every promise that the fans of ``answer`` break together."""
    found = []
    fans, gap = answer.fans, answer.settings.gap
    wedges = [[Polygon(wedge.outline) for wedge in fan.wedges] for fan in fans]
    for (i, one), (j, two) in combinations(enumerate(wedges), 2):
        away = shapely.distance(fans[i].region, fans[j].region)
        if away < gap - CLOSE:
            found.append(f"regions {i} and {j} are {away} apart")
        if one and two and shapely.distance(shapely.union_all(one), shapely.union_all(two)) < gap - CLOSE:
            found.append(f"wedges of fans {i} and {j} come closer than the gap")
    numbers = [wedge.number for fan in fans for wedge in fan.wedges]
    if numbers != list(range(1, len(numbers) + 1)):
        found.append(f"numbers {numbers}")
    names = [mark.name for fan in fans for mark in fan.marks]
    if len(set(names)) != len(names):
        found.append("two marks of one name")
    area = shapely.union_all(list(answer.stitchable))
    roomy, patch = area.buffer(CLOSE), answer.patch.polygon.buffer(CLOSE)
    for k, (fan, mine) in enumerate(zip(fans, wedges, strict=True)):
        if len(fans) > 1 and not roomy.covers(fan.region):
            found.append(f"region {k} leaves the stitchable area")
        inside = fan.region.distance(Point(fan.anchor)) <= 1e-7
        frame = fan.region.buffer(CLOSE) if inside else patch
        if not shapely.covers(frame, mine).all():
            found.append(f"a wedge of fan {k} sticks out")
        edge = fan.region.boundary
        sides = [wedge.side for wedge in fan.wedges]
        if sides and shapely.distance(shapely.points(np.concatenate(sides)), edge).max() > CLOSE:
            found.append(f"a side of fan {k} leaves the edge of its region")
    if len(fans) > 1:
        # Out of sight is what is in no region and not within a gap of two of them. (An anchor in the margin
        # keeps its way clear as well, and the offset's mitres reach twice as far as a gap.)
        near = [fan.region.buffer(2.3 * gap + CLOSE, quad_segs=32) for fan in fans]
        strips = [shapely.intersection(one, two) for one, two in combinations(near, 2)]
        least = area.difference(shapely.union_all([*(fan.region for fan in fans), *strips])).area / area.area
        most = area.difference(shapely.union_all([fan.region for fan in fans])).area / area.area
        if any(shapely.distance(fan.region, Point(fan.anchor)) > 1e-7 for fan in fans):
            least = 0.0
        if not least - 1e-5 <= answer.out_of_sight.share <= most + 1e-6:
            found.append(f"{answer.out_of_sight.share} out of sight, measured {least} to {most}")
        total = sum(piece.area for piece in answer.out_of_sight.areas) / area.area
        if abs(total - answer.out_of_sight.share) > 1e-3:
            found.append(f"areas out of sight are {total}, the share {answer.out_of_sight.share}")
    return found


@pytest.mark.parametrize("name", [name for name in ANIMALS if name != "fifty holes"])
def test_the_zoo_from_two_to_four_anchors_and_divided(name: str) -> None:
    patch, settings = patch_of(name)
    places = list(awkward_anchors(patch.polygon, settings.edge_margin).values())
    rng = np.random.default_rng(len(name))
    for count in (2, 3, 4):
        anchors = [places[k] for k in rng.choice(len(places), count).tolist()]
        answer = fit(patch, anchors, settings)
        assert list(answer.anchors[:count]) == [tuple(map(float, at)) for at in anchors]
        assert broken(answer) == [], anchors
    divided = replace(settings, divide=True)
    for anchors in ([], [places[0]], places[1:3]):
        answer = fit(patch, anchors, divided)
        assert broken(answer) == [], anchors
        assert answer.out_of_sight.share <= 0.01
        assert Code.PINCHED not in {finding.code for finding in answer.findings}
        assert {fan.anchor for fan in answer.fans} <= set(answer.anchors)


@pytest.mark.parametrize("name", ["square", "ell", "ring", "hourglass in two", "blob"])
def test_one_anchor_in_a_sequence_is_one_anchor(name: str) -> None:
    patch, settings = patch_of(name)
    for at in list(awkward_anchors(patch.polygon, settings.edge_margin).values())[::9]:
        assert same(from_fit(fit(patch, at, settings)), from_fit(fit(patch, [at], settings)))


def test_division_leaves_alone_what_one_anchor_sees() -> None:
    patch, _ = patch_of("square")
    plain, divided = fit(patch, (40.0, 40.0)), fit(patch, (40.0, 40.0), Settings(divide=True))
    assert same(from_fit(plain)["fans"], from_fit(divided)["fans"])
    assert divided.anchors == ((40.0, 40.0),)


def test_two_anchors_share_a_square_by_nearness() -> None:
    patch = Patch([(0, 0), (200, 0), (200, 100), (0, 100)])
    answer = fit(patch, [(40, 50), (120, 50)], Settings(edge_margin=5.0, gap=6.0))
    assert answer.fans[0].region.symmetric_difference(box(5, 5, 77, 95)).area < CLOSE
    assert answer.fans[1].region.symmetric_difference(box(83, 5, 195, 95)).area < CLOSE
    assert answer.out_of_sight.share == 0


def test_four_anchors_share_a_square_in_quarters() -> None:
    patch = Patch([(0, 0), (200, 0), (200, 200), (0, 200)])
    anchors = [(50, 50), (150, 50), (150, 150), (50, 150)]
    answer = fit(patch, anchors, Settings(edge_margin=0.0, gap=8.0))
    corners = [(0, 0), (104, 0), (104, 104), (0, 104)]
    for fan, (x, y) in zip(answer.fans, corners, strict=True):
        assert fan.region.symmetric_difference(box(x, y, x + 96, y + 96)).area < CLOSE


def test_what_the_nearer_anchor_cannot_see_goes_to_the_one_that_can() -> None:
    # A hall with a niche above its right end: the niche is nearer to the second anchor, which stands
    # behind a wall and sees none of it; the first looks into it from afar.
    patch = Patch([(0, 0), (300, 0), (300, 60), (220, 60), (220, 20), (200, 20), (200, 100), (0, 100)])
    answer = fit(patch, [(100, 50), (260, 50)], Settings(edge_margin=0.0, gap=4.0))
    assert broken(answer) == []
    hidden = Point(197.0, 70.0)  # nearer to the second anchor, and behind the wall for it
    assert math.dist((197, 70), (260, 50)) < math.dist((197, 70), (100, 50))
    assert answer.fans[0].region.covers(hidden)
    assert not answer.fans[1].region.intersects(box(0, 21, 200, 100))


def test_the_edge_of_the_stitchable_area_does_not_move() -> None:
    patch, settings = patch_of("u")
    answer = fit(patch, (), Settings(divide=True))
    assert len(answer.fans) == 2
    kept = shapely.union_all([fan.region.boundary.buffer(CLOSE) for fan in answer.fans])
    lost = answer.stitchable[0].boundary.difference(kept)
    # only where the strip between the two meets the edge, once on either side
    assert 2 * settings.gap - 0.1 <= lost.length <= 3 * settings.gap


def test_pinched_parts_get_their_fans() -> None:
    patch, settings = patch_of("hourglass in three")
    parts = fit(patch, patch.slide_into(patch.centre), settings).stitchable
    middles = [(part.centroid.x, part.centroid.y) for part in parts]

    def pinched(answer: Fit) -> list[float]:
        return sorted(f.value for f in answer.findings if f.code is Code.PINCHED)

    area = sum(part.area for part in parts)
    assert len(pinched(fit(patch, middles[:1], settings))) == 2
    assert pinched(fit(patch, middles[:2], settings)) == pytest.approx([parts[2].area / area])
    assert pinched(fit(patch, middles, settings)) == []
    assert pinched(fit(patch, middles[:1], replace(settings, divide=True))) == []


def test_an_anchor_on_the_heels_of_another_has_no_fan() -> None:
    patch, settings = patch_of("square")
    answer = fit(patch, [(60, 50), (60, 50), (62, 50)], settings)
    assert len(answer.anchors) == 3
    assert [fan.anchor for fan in answer.fans] == [(60, 50)]
    assert same(from_fit(answer)["fans"], from_fit(fit(patch, (60, 50), settings))["fans"])


def test_refusals() -> None:
    patch, settings = patch_of("square")
    with pytest.raises(AnchorError, match="there is none"):
        fit(patch, [], settings)
    with pytest.raises(AnchorError, match="outside the patch"):
        fit(patch, [(60.0, 50.0), (-5.0, 50.0)], settings)
    with pytest.raises(SettingsError, match="neither yes nor no"):
        Settings(divide=1)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["u", "spiral", "ring", "hourglass in two"])
def test_turned_the_division_is_as_good(name: str) -> None:
    patch, settings = patch_of(name)
    divided = replace(settings, divide=True)
    turned = shapely.affinity.rotate(patch.polygon, 37, origin=(0, 0))
    other = Patch(shapely.get_coordinates(turned.exterior)[:-1], [r.coords[:-1] for r in turned.interiors])
    one, two = fit(patch, (), divided), fit(other, (), divided)
    assert broken(two) == []
    assert abs(len(one.fans) - len(two.fans)) <= 1
    assert two.out_of_sight.share <= 0.01
