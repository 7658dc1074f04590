"""The examiner examined: a fan worked by hand passes, and each planted violation is caught."""

from __future__ import annotations

import copy
import math
from typing import Any

import numpy as np
import pytest

from tests.oracle import examine
from tests.reports_by_hand import finding, rules, square_report, wedge


def test_the_square_worked_by_hand_passes() -> None:
    assert [str(v) for v in examine(square_report())] == []


def _replace(report: dict[str, Any], number: int, side: np.ndarray) -> None:
    fan = report["fans"][0]
    fan["wedges"][number - 1] = wedge(number, np.asarray(fan["anchor"]), side)


def _stick_out(report: dict[str, Any]) -> None:
    _replace(report, 1, report["fans"][0]["wedges"][0]["side"] + [0.01, 0])


def _overlap(report: dict[str, Any]) -> None:
    side = report["fans"][0]["wedges"][0]["side"].copy()
    side[1, 1] += 10
    _replace(report, 1, side)


def _close_up(report: dict[str, Any]) -> None:
    side = report["fans"][0]["wedges"][0]["side"].copy()
    side[1, 1] += 0.1
    _replace(report, 1, side)


def _open_up(report: dict[str, Any]) -> None:
    for number, k, by in ((1, 1, -0.1), (2, 0, 0.1)):
        side = report["fans"][0]["wedges"][number - 1]["side"].copy()
        side[k, 1] += by
        _replace(report, number, side)


def _uneven(report: dict[str, Any]) -> None:
    for number, k in ((1, 1), (2, 0)):
        side = report["fans"][0]["wedges"][number - 1]["side"].copy()
        side[k, 1] += 0.01
        _replace(report, number, side)


def _leave_out(report: dict[str, Any]) -> None:
    fan = report["fans"][0]
    del fan["wedges"][3]
    for number, w in enumerate(fan["wedges"], 1):
        w["number"] = number


def _leave_out_and_say_so(report: dict[str, Any]) -> None:
    at = report["fans"][0]["wedges"][3]["side"].mean(axis=0)
    _leave_out(report)
    report["findings"].append(
        {"code": "wedge-lost", "level": "problem", "wedge": None, "at": tuple(at), "value": 0.0, "limit": 0.0}
    )


def _bend_leg(report: dict[str, Any]) -> None:
    w = report["fans"][0]["wedges"][2]
    w["outline"] = np.insert(w["outline"], 1, (w["outline"][0] + w["outline"][1]) / 2 + [0.5, 0.5], axis=0)


def _span_two(report: dict[str, Any]) -> None:
    fan = report["fans"][0]
    side = np.vstack([fan["wedges"][0]["side"][:1], fan["wedges"][1]["side"][1:]])
    _leave_out(report)
    _replace(report, 1, side)


def _wrong(key: str, by: float) -> Any:
    def plant(report: dict[str, Any]) -> None:
        report["fans"][0]["wedges"][0][key] += by

    return plant


def _cut_path(report: dict[str, Any]) -> None:
    del report["path"][4]


def _shift_area(report: dict[str, Any]) -> None:
    ring = report["stitchable"][0]["outline"].copy()
    ring[:, 0] += 0.001
    report["stitchable"][0] = {"outline": ring, "holes": []}


def _unsaid(report: dict[str, Any]) -> None:
    report["settings"]["visible_width"] = 90.0


def _blow(report: dict[str, Any]) -> None:
    report["fans"][0]["wedges"][0]["across"] = math.nan


@pytest.mark.parametrize(
    ("plant", "rule"),
    [
        (_stick_out, "inside"),
        (_stick_out, "side"),
        (_overlap, "overlap"),
        (_close_up, "gap"),
        (_open_up, "gap"),
        (_uneven, "ratio"),
        (_leave_out, "lost"),
        (_leave_out_and_say_so, "lost"),
        (_bend_leg, "outline"),
        (_span_two, "sector"),
        (_wrong("side_length", 1e-4), "figures"),
        (_wrong("across", 1e-4), "figures"),
        (_wrong("apex_angle_deg", 1e-4), "figures"),
        (_cut_path, "path"),
        (_shift_area, "stitchable"),
        (finding("side-short", 1), "side-short"),
        (finding("wedge-thin", 2), "wedge-thin"),
        (finding("wedge-lost", None), "lost"),
        (finding("no-room", None), "no-room"),
        (finding("pinched", None), "pinched"),
        (_unsaid, "side-short"),
        (_unsaid, "wedge-thin"),
        (_blow, "finite"),
    ],
)
def test_planted_violation_is_caught(plant: Any, rule: str) -> None:
    report = copy.deepcopy(square_report())
    plant(report)
    assert rule in rules(report)
