"""The examiner's part on what an anchor sees: figures worked by hand, planted violations caught."""

from __future__ import annotations

import copy
import math
from typing import Any

import pytest
from shapely import Polygon, box

from tests.oracle_sight import Placed, give_way, look, place_marks
from tests.reports_by_hand import finding, rules, square_report


def _share(report: dict[str, Any]) -> None:
    report["out_of_sight"]["share"] = 1e-6


def _hidden(report: dict[str, Any]) -> None:
    """Half of the square is out of sight behind a wall, and nobody says so."""
    wall = {"outline": report["stitchable"][0]["outline"], "holes": [box(120, 10, 121, 190).exterior.coords]}
    report["stitchable"] = [wall]
    report["fans"][0]["region"] = wall
    # from the middle, 18.4 mm from the wall, its ends cut the square's sides at 19.13 and 19.82 mm; the share
    # and its area are told as the report tells them, so that only the finding is missing
    report["out_of_sight"] = {"share": 0.4002659520554507, "areas": [[(121, 10), (190, 10), (190, 190)]]}


def _mark(region: Polygon, *at: tuple[float, float]) -> Placed:
    return place_marks(region, [{"name": f"A{k}", "at": p, "kind": "own"} for k, p in enumerate(at)])


def test_sight_of_a_square_through_its_margin() -> None:
    patch, region = box(0, 0, 100, 100), box(10, 10, 90, 90)
    marks = _mark(region, (10.0, 10.0))
    from_margin = look((50.0, 5.0), region, patch, [], marks)
    # the near side hides nothing but itself: all of the square is seen
    assert from_margin.area == pytest.approx(6400, rel=1e-12)
    assert look((50.0, 10.0), region, patch, [], marks).area == pytest.approx(6400, rel=1e-12)
    assert look((10.0, 10.0), region, patch, [], marks).area == pytest.approx(6400, rel=1e-12)
    assert not from_margin.inside


def test_sight_stops_at_the_seam_between_the_margin_and_the_area() -> None:
    # a notch in the seam stands between the anchor and part of the area
    patch = Polygon([(0, 0), (60, 0), (60, 30), (61, 30), (61, 0), (100, 0), (100, 100), (0, 100)])
    region = box(5, 40, 95, 95)
    seen = look((50.0, 2.0), region, patch, [], _mark(region, (5.0, 40.0)))
    # what lies beyond the line from the anchor past the notch's tip (60, 30) is hidden
    slope = 10 / 28
    hidden = Polygon([(50 + 38 * slope, 40), (95, 40), (95, 95), (50 + 93 * slope, 95)]).area
    beyond = (61 - 50) / 28  # the notch's other corner lets nothing more through
    assert beyond > slope
    assert seen.area == pytest.approx(region.area - hidden, rel=1e-9)


def test_sight_with_a_hole() -> None:
    # outside_checks.md: 10 x 10 square with the hole 4..6 squared, from (1, 5): 76
    patch = Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [[(4, 4), (6, 4), (6, 6), (4, 6)]])
    seen = look((1.0, 5.0), patch, patch, [], _mark(patch, (0.0, 0.0)))
    assert seen.area == pytest.approx(76, rel=1e-12)


def test_giving_way_is_exact_on_level_ground() -> None:
    patch = box(0, 0, 20, 10)
    marks = _mark(patch, (10.0, 0.0), (20.0, 0.0), (0.0, 0.0))
    sectors = look((10.0, 10.0), patch, patch, [], marks).sectors
    near = [s for s in sectors if min(abs(s.start + math.pi / 2), abs(s.end + math.pi / 2)) < 0.1]
    one, two = sorted(near, key=lambda s: s.start)
    gave = give_way(one, two, 0.0, 1.0)
    assert gave[0] == pytest.approx(math.asin(1 / 20), rel=1e-9)
    assert gave[1] == pytest.approx(math.asin(1 / 20), rel=1e-9)


@pytest.mark.parametrize(
    ("plant", "rule"),
    [
        (_share, "out-of-sight"),
        (_hidden, "out-of-sight"),
        (finding("out-of-sight", None), "out-of-sight"),
    ],
)
def test_planted_violation_of_what_is_out_of_sight_is_caught(plant: Any, rule: str) -> None:
    report = copy.deepcopy(square_report())
    plant(report)
    assert rule in rules(report)
