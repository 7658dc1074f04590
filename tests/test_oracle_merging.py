"""The examiner's part on merged wedges: fits that merge pass, and each planted violation is caught."""

from __future__ import annotations

import copy
from functools import cache
from typing import Any

import numpy as np
import pytest
from shapely import box

from geometry import Patch, Settings, fit
from tests.oracle import examine, from_fit

STRIP = Patch(box(0, 0, 400, 70).exterior.coords[:-1])
SQUARE = Patch(box(0, 0, 203.2, 203.2).exterior.coords[:-1])


@cache
def _report(merge: bool, patch: Patch = STRIP, at: tuple[float, float] = (60.0, 30.0), spans: int = 9) -> Any:
    settings = Settings(spans_per_side=spans, merge_thin=merge, visible_width=8.0)
    return from_fit(fit(patch, at, settings))


def _merged() -> dict[str, Any]:
    report: dict[str, Any] = copy.deepcopy(_report(merge=True))
    return report


def words(report: dict[str, Any]) -> str:
    return "\n".join(map(str, examine(report)))


def _of_several(report: dict[str, Any]) -> dict[str, Any]:
    """The first wedge that covers a corner of the strip, and so more than one span."""
    return next(w for w in report["fans"][0]["wedges"] if len(w["side"]) > 2)


def test_a_strip_with_merged_wedges_passes() -> None:
    report = _merged()
    assert words(report) == ""
    merged, plain = (len(each["fans"][0]["wedges"]) for each in (report, _report(merge=False)))
    assert merged < plain
    assert words(_report(merge=False)) == ""


def test_thin_wedges_that_were_not_merged_are_caught() -> None:
    report = copy.deepcopy(_report(merge=False))
    report["settings"]["merge_thin"] = True
    assert "was not merged with its neighbour" in words(report)
    report["settings"]["merge_thin"] = False
    # ... and those of one span alone, where that span is to be merged
    thin = next(f["wedge"] for f in report["findings"] if f["code"] == "wedge-thin")
    span = next(w["span"] for w in report["fans"][0]["wedges"] if w["number"] == thin)
    report["settings"]["merged_spans"] = (span,)
    assert "was not merged with its neighbour" in words(report)
    other = next(w["span"] for w in report["fans"][0]["wedges"] if min(w["side_length"], w["across"]) > 12)
    report["settings"]["merged_spans"] = (other,)
    assert words(report) == ""


def test_a_merged_wedge_that_nobody_asked_for_is_caught() -> None:
    report = _merged()
    report["settings"]["merge_thin"] = False
    assert "covers no single visible piece" in words(report)
    report["settings"]["merged_spans"] = (("X", "Y"),)
    assert "none of its spans is to be merged" in words(report)


def test_wedges_merged_without_need_are_caught() -> None:
    """Four wedges of a square, each a whole side, where the marks make two spans of it that all have room."""
    report = copy.deepcopy(_report(merge=True, patch=SQUARE, at=(101.6, 101.6), spans=2))
    assert words(report) == ""
    report["fans"][0]["wedges"] = _report(merge=True, patch=SQUARE, at=(101.6, 101.6), spans=1)["fans"][0][
        "wedges"
    ]
    assert "nothing of it was thin or lost" in words(report)


def test_more_than_half_a_turn_is_caught() -> None:
    report = copy.deepcopy(_report(merge=True, patch=SQUARE, at=(101.6, 101.6), spans=1))
    wedges = report["fans"][0]["wedges"]
    wedges[0]["side"] = np.vstack([w["side"] for w in wedges[:3]])
    wedges[0]["span"] = (wedges[0]["span"][0], wedges[2]["span"][1])
    del wedges[1:3]
    assert "takes up more than half a turn" in words(report)


def test_a_wedge_of_another_name_is_caught() -> None:
    for merge in (False, True):
        report = copy.deepcopy(_report(merge=merge))
        wedge = report["fans"][0]["wedges"][2]
        wedge["span"] = (wedge["span"][1], wedge["span"][0])
        assert "[span]" in words(report) or "[sector]" in words(report)


@pytest.mark.parametrize("end", [0, -1])
def test_a_merged_wedge_too_near_to_its_neighbour_is_caught(end: int) -> None:
    report = _merged()
    wedge = _of_several(report)
    beyond = wedge["side"][end] - wedge["side"][1 if end == 0 else -2]
    wedge["side"][end] += 2 * beyond / np.hypot(*beyond)
    wedge["outline"][1 if end == 0 else -2] = wedge["side"][end]
    assert "[gap]" in words(report)


def test_a_merged_wedge_left_out_is_caught() -> None:
    report = _merged()
    wedges = report["fans"][0]["wedges"]
    wedges.remove(_of_several(report))
    assert "[lost] neither wedge nor finding" in words(report)
    assert "a lost sector was not merged" in words(report)
