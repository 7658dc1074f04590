"""What the examiner lets pass is as little as it says: a fault just beyond each tolerance is caught."""

from __future__ import annotations

import copy
import math
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from geometry import Patch, Settings, fit
from tests import oracle_marks, oracle_sight
from tests.oracle import GAP_LEAST, GAP_MET, HAIR, TIGHT, from_fit
from tests.oracle_fans import SPECK
from tests.reports_by_hand import rules, square_report, wedge


def _moved(first: float, second: float) -> dict[str, Any]:
    """The square with the two ends that face each other across the middle of its right side moved apart, mm
    each."""
    report = square_report()
    fan = report["fans"][0]
    one, two = (np.array(w["side"]) for w in fan["wedges"][:2])
    one[1, 1] -= first
    two[0, 1] += second
    for k, side in enumerate((one, two)):
        fan["wedges"][k] = wedge(k + 1, np.array(fan["anchor"]), side)
        report["path"][3 * k]["points"] = np.array([fan["anchor"], side[0]])
        report["path"][3 * k + 1]["points"] = side
        report["path"][3 * k + 2]["points"] = np.array([side[1], fan["anchor"]])
    return report


def test_a_gap_hardly_too_narrow_or_too_wide() -> None:
    for by in (0.0, -0.4 * GAP_LEAST, 0.4 * GAP_MET):
        assert rules(_moved(by, by)) == set()
    # (along slanting legs the gap grows by a little less than the two lengths)
    assert "gap" in rules(_moved(-0.6 * GAP_LEAST, -0.6 * GAP_LEAST))
    assert "gap" in rules(_moved(0.6 * GAP_MET, 0.6 * GAP_MET))


def test_lengths_given_way_that_are_hardly_unequal() -> None:
    assert rules(_moved(-0.2 * TIGHT, 0.2 * TIGHT)) == set()
    assert "ratio" in rules(_moved(-0.6 * TIGHT, 0.6 * TIGHT))


def _l_shaped(off: float) -> dict[str, Any]:
    """From an anchor ``off`` mm from the line of an edge, which is then seen nearly edge on; without gaps."""
    patch = Patch([(0, 0), (250, 0), (250, 100), (100, 100), (100, 250), (0, 250)])
    report = from_fit(fit(patch, (20.0, 100 - off), Settings(edge_margin=0.0, gap=0.0, spans_per_side=1)))
    assert rules(report) == set()
    return report


def _edge_on(report: dict[str, Any]) -> dict[str, Any]:
    return next(w for w in report["fans"][0]["wedges"] if np.abs(w["side"][:, 1] - 100).max() < 1e-9)


@pytest.mark.parametrize(("off", "caught"), [(0.5 * HAIR, False), (2 * HAIR, True)])
def test_a_wedge_hardly_too_wide_for_a_hair(off: float, caught: bool) -> None:
    """Beyond ``HAIR`` its ends are judged, however narrow it is."""
    report = _l_shaped(off)
    hair = _edge_on(report)
    assert math.radians(hair["apex_angle_deg"]) < oracle_sight.SEEN_ANGLE
    hair["side"] = np.array(hair["side"])
    hair["side"][np.argmin(hair["side"][:, 0]), 0] -= 0.5
    assert ("sector" in rules(report)) == caught


@pytest.mark.parametrize("times", [0.5, 2.0])
def test_a_piece_hardly_too_narrow_to_need_a_wedge(times: float) -> None:
    """Of the edge 80 to 230 mm away; in line with the anchor it is none."""
    off = times * oracle_sight.SEEN_ANGLE / (1 / 80 - 1 / 230)
    report = _l_shaped(off)
    report["fans"][0]["wedges"].remove(_edge_on(report))
    assert ("lost" in rules(report)) == (times > 1)


@pytest.mark.parametrize(("area", "caught"), [(0.5 * SPECK, False), (8 * SPECK, True)])
def test_a_part_hardly_too_small_to_be_one(area: float, caught: bool) -> None:
    """A small square on a thread too narrow for the margin, of whose room ``area`` mm² are left out."""
    size = 2 + math.sqrt(area)
    patch = shapely.union_all(
        [box(0, 0, 60, 60), box(59, 25.9, 81, 25.91), box(80, 25, 80 + size, 25 + size)]
    )
    whole = Patch(np.asarray(patch.exterior.coords)[:-1])
    report = from_fit(fit(whole, (30.0, 30.0), Settings(edge_margin=1.0, gap=1.0)))
    assert rules(report) == set()
    report["stitchable"] = report["stitchable"][:1]
    report["out_of_sight"] = {"share": 0.0, "areas": []}
    report["findings"] = [f for f in report["findings"] if f["code"] != "pinched"]
    assert bool({"stitchable", "pinched"} & rules(report)) == caught


@pytest.mark.parametrize(("beside", "tip"), [(0.5, True), (2.0, False)])
def test_a_mark_hardly_too_far_from_a_tips_sides(beside: float, tip: bool) -> None:
    """On the middle line of a tip of 20°, with the tip's corner for its foot."""
    half, margin = math.radians(10), 5.0
    spread = 200 * math.tan(half)
    patch = Polygon([(0, 0), (200, -spread), (200, spread)])
    away = (margin + beside * oracle_marks.BESIDE) / math.sin(half)
    mark = {"at": (away, 0.0), "foot": (0.0, 0.0)}
    assert oracle_marks._mitre_of(patch, mark, margin) == tip


@pytest.mark.parametrize("anchors", [((30.0, 60.0),), ((30.0, 60.0), (170.0, 60.0))])
def test_a_cut_tip_without_its_mark(anchors: tuple[tuple[float, float], ...]) -> None:
    """A dart of 30° points into the patch: the mitre around it is cut square, and marked in its middle, be it
    the edge of the one region or of one of two."""
    patch = Patch([(0, 0), (90, 0), (100, 37.3), (110, 0), (200, 0), (200, 120), (0, 120)])
    report = from_fit(fit(patch, anchors if len(anchors) > 1 else anchors[0], Settings()))
    assert rules(report) == set()
    for fan in report["fans"]:
        near = [m for m in fan["marks"] if np.hypot(m["at"][0] - 100, m["at"][1] - 50) < 0.1]
        for mark in near:
            wrong = copy.deepcopy(report)
            marks = wrong["fans"][report["fans"].index(fan)]["marks"]
            marks[:] = [m for m in marks if m["name"] != mark["name"]]
            assert "corner" in rules(wrong)
            return
    assert len(anchors) > 1  # with two the tip may lie in the gap between them


@pytest.mark.parametrize(("share", "caught"), [(0.9, True), (1.05, False)])
def test_a_free_place_hardly_large_enough_for_another_fan(share: float, caught: bool) -> None:
    """In the lower arm of an L, out of sight of both anchors. That the examiner takes the gap around a region
    with mitred corners, where a place one gap away is free all the same, costs less than a tenth of it."""
    patch = Patch([(0, 0), (300, 0), (300, 110), (110, 110), (110, 180), (0, 180)])
    anchors = [(250.0, 50.0), (290.0, 60.0)]
    answer = fit(patch, anchors, Settings())
    report = from_fit(answer, given=anchors)
    assert rules(report) == set()
    gap = shapely.union_all([fan.region for fan in answer.fans]).buffer(answer.settings.gap)
    free = max(piece.area for piece in shapely.get_parts(answer.stitchable[0].difference(gap)))
    assert free > 400
    report["settings"] = report["settings"] | {"divide": True, "visible_width": math.sqrt(share * free)}
    assert ("divide" in rules(report)) == caught
