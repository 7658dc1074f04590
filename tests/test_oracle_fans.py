"""The examiner's part on several fans and on findings: each planted violation is caught."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from geometry import Patch, Settings, fit
from tests.oracle import examine, from_fit
from tests.oracle_fans import widest_free
from tests.reports_by_hand import finding, rules, setting, square_report, without_finding


def two_fans() -> dict[str, Any]:
    """An L from two anchors, as the engine answers; the plants are what matters here."""
    patch = Patch([(0, 0), (300, 0), (300, 110), (110, 110), (110, 300), (0, 300)])
    anchors = [(250.0, 50.0), (50.0, 250.0)]
    return from_fit(fit(patch, anchors, Settings(echo_count=1)), given=anchors)


TWO = two_fans()


def test_two_fans_pass() -> None:
    assert [str(v) for v in examine(TWO)] == []


def _region_moved(report: dict[str, Any]) -> None:
    report["fans"][0]["region"]["outline"] = report["fans"][0]["region"]["outline"] - [0.01, 0.01]


def _region_of_both(report: dict[str, Any]) -> None:
    report["fans"][0]["region"] = copy.deepcopy(report["stitchable"][0])


def _number_again(report: dict[str, Any]) -> None:
    for number, w in enumerate(report["fans"][1]["wedges"], 1):
        w["number"] = number


def _name_again(report: dict[str, Any]) -> None:
    report["fans"][1]["marks"][0]["name"] = report["fans"][0]["marks"][0]["name"]


def _one_more_anchor(at: tuple[float, float]) -> Any:
    def plant(report: dict[str, Any]) -> None:
        report["given"] = [*report["given"], at]

    return plant


def _an_anchor_beside(report: dict[str, Any]) -> None:
    report["given"] = [report["given"][0], report["given"][1]]
    report["fans"][1]["anchor"] = (250.0, 51.0)
    report["given"][1] = (250.0, 51.0)


def _fans_swapped(report: dict[str, Any]) -> None:
    report["given"] = report["given"][::-1]


def _share_two(report: dict[str, Any]) -> None:
    report["out_of_sight"]["share"] += 1e-3


def _areas_less(report: dict[str, Any]) -> None:
    """Part of the second region is given up, and nobody says so."""
    region = Polygon(report["fans"][1]["region"]["outline"])
    left = region.intersection(box(0, 0, 60, 300))
    report["fans"][1]["region"]["outline"] = np.asarray(left.exterior.coords)


def _detour(report: dict[str, Any]) -> None:
    travel = next(p for p in report["path"] if p["kind"] == "travel")
    travel["points"] = np.vstack([travel["points"][:1], [[260.0, 60.0]], travel["points"]])


def _level(report: dict[str, Any]) -> None:
    finding("no-room", None)(report)
    report["findings"][-1]["level"] = "note"


def _far_away(report: dict[str, Any]) -> None:
    finding("open-area", None)(report)
    report["findings"][-1]["at"] = (-50.0, -50.0)


@pytest.mark.parametrize(
    ("plant", "rule"),
    [
        (_region_moved, "region"),
        (_region_of_both, "region"),
        (setting("gap", 6.36), "region"),
        (_number_again, "numbers"),
        (_name_again, "marks"),
        (_one_more_anchor((30.0, 30.0)), "anchors"),
        (_an_anchor_beside, "anchors"),
        (_fans_swapped, "anchors"),
        (_share_two, "out-of-sight"),
        (_areas_less, "out-of-sight"),
        (finding("pinched", None), "pinched"),
        (finding("near-centre", None), "near-centre"),
        (finding("darkness", None), "findings"),
        (_level, "findings"),
        (_far_away, "findings"),
    ],
)
def test_planted_violation_with_two_fans_is_caught(plant: Any, rule: str) -> None:
    report = copy.deepcopy(TWO)
    plant(report)
    assert rule in rules(report)


def test_a_detour_between_two_fans_is_caught() -> None:
    square = Patch(box(0, 0, 300, 120).exterior.coords[:-1])
    report = from_fit(fit(square, [(60.0, 60.0), (240.0, 60.0)], Settings()))
    assert examine(report) == []
    wrong = copy.deepcopy(report)
    travel = next(p for p in wrong["path"] if p["kind"] == "travel")
    travel["points"] = np.insert(travel["points"], 1, [150.0, 70.0], axis=0)
    assert "path" in rules(wrong)
    report["settings"]["along_seam"] = True
    travel = next(p for p in report["path"] if p["kind"] == "travel")
    travel["points"] = np.insert(travel["points"], 1, [150.0, 70.0], axis=0)
    assert "path" in rules(report)


def test_a_division_that_stops_too_early_is_caught() -> None:
    patch = Patch([(0, 0), (300, 0), (300, 110), (110, 110), (110, 300), (0, 300)])
    anchors = [(250.0, 50.0), (290.0, 60.0)]  # the lower arm of the L stays dark
    report = from_fit(fit(patch, anchors, Settings()), given=anchors)
    assert examine(report) == []
    report["settings"]["divide"] = True
    assert "divide" in rules(report)
    without_finding("out-of-sight")(report)
    assert "out-of-sight" in rules(report)


def _of_square(at: tuple[float, float], code: str, **settings: Any) -> dict[str, Any]:
    """A fit of the square that has the finding ``code`` and passes."""
    patch = Patch(box(0, 0, 203.2, 203.2).exterior.coords[:-1])
    report = from_fit(fit(patch, at, Settings(**settings)))
    assert [str(v) for v in examine(report)] == []
    assert code in [f["code"] for f in report["findings"]]
    return report


@pytest.mark.parametrize(
    ("code", "at", "settings"),
    [
        ("near-centre", (105.0, 103.0), {}),
        ("open-area", (20.0, 20.0), {"batting_width": 40.0}),
        ("crowded-anchor", (101.6, 101.6), {"anchor_passes": 15}),
        ("wobble-risk", (101.6, 101.6), {"wobble": 36.0}),
        ("echo-dropped", (101.6, 101.6), {"echo_count": 9}),
    ],
)
def test_findings_where_the_figures_say(code: str, at: tuple[float, float], settings: dict[str, Any]) -> None:
    told = _of_square(at, code, **settings)
    untold = copy.deepcopy(told)
    without_finding(code)(untold)
    assert code in rules(untold)
    for key in ("value", "limit"):
        wrong = copy.deepcopy(told)
        next(f for f in wrong["findings"] if f["code"] == code)[key] += 5
        assert code in rules(wrong), key
    twice = copy.deepcopy(told)
    twice["findings"] += [dict(f) for f in twice["findings"] if f["code"] == code][:1]
    assert code in rules(twice) or code in ("wobble-risk", "crowded-anchor")


@pytest.mark.parametrize(
    ("code", "wedge_number"),
    [("near-centre", None), ("open-area", None), ("crowded-anchor", None), ("wobble-risk", 1)],
)
def test_findings_without_reason_are_caught(code: str, wedge_number: int | None) -> None:
    report = copy.deepcopy(square_report())
    finding(code, wedge_number)(report)
    assert code in rules(report)


def test_an_open_area_at_a_stitched_place_is_caught() -> None:
    report = _of_square((20.0, 20.0), "open-area", batting_width=40.0)
    next(f for f in report["findings"] if f["code"] == "open-area")["at"] = (20.0, 20.0)
    assert "open-area" in rules(report)


def test_the_widest_free_place_of_a_square() -> None:
    patch = box(0, 0, 100, 100)
    line = shapely.multilinestrings([shapely.LineString(patch.exterior.coords)])
    assert widest_free(patch, line, 50.01) is None
    assert widest_free(patch, line, 49.5) == pytest.approx((50, 50), abs=0.6)
