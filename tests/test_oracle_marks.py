"""The examiner's part on marks: each planted violation is caught."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from tests.reports_by_hand import rules, square_report


def _shift_mark(report: dict[str, Any]) -> None:
    mark = next(m for m in report["fans"][0]["marks"] if m["kind"] == "division")
    mark["at"] = (mark["at"][0], mark["at"][1] + 0.01)


def _misplace_foot(report: dict[str, Any]) -> None:
    mark = next(m for m in report["fans"][0]["marks"] if m["kind"] == "division")
    mark["foot"] = (mark["foot"][0], mark["foot"][1] + 5)


def _far_corner(report: dict[str, Any]) -> None:
    mark = next(m for m in report["fans"][0]["marks"] if m["kind"] == "corner")
    mark["foot"] = (0.0, 0.0)


def _tape_round_the_seam(report: dict[str, Any]) -> None:
    mark = next(m for m in report["fans"][0]["marks"] if m["kind"] == "division")
    mark["to_end"] = 4 * 203.2 - 101.6


def _forget_corner(report: dict[str, Any]) -> None:
    report["fans"][0]["marks"] = [m for m in report["fans"][0]["marks"] if m["name"] != "AB"]


def _invent_corner(report: dict[str, Any]) -> None:
    next(m for m in report["fans"][0]["marks"] if m["kind"] == "division")["kind"] = "corner"


@pytest.mark.parametrize(
    ("plant", "rule"),
    [
        (_shift_mark, "marks"),
        (_misplace_foot, "foot"),
        (_far_corner, "foot"),
        (_tape_round_the_seam, "tape"),
        (_forget_corner, "corner"),
        (_invent_corner, "corner"),
    ],
)
def test_planted_violation_in_the_marks_is_caught(plant: Any, rule: str) -> None:
    report = copy.deepcopy(square_report())
    plant(report)
    assert rule in rules(report)
