"""Reports worked out by hand, for the tests of the examiner, and faults that several of them plant."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from shapely import box

from tests.oracle import examine

GAP = 6.35
HALF = 95.25  # an 8 in square less a quarter inch all round, halved


def _turns() -> tuple[float, float]:
    """How far a wedge of the 8 in square turns back, at a corner and at a side's middle.

    Both by hand: at the middle of a side both legs are HALF / cos d long, so their distance is
    HALF / cos d * sin 2d = 2 HALF sin d. At a corner they are HALF / cos(45° - d) long.
    """
    middle = math.asin(GAP / (2 * HALF))
    low, high = 0.0, 0.2
    for _ in range(80):
        d = (low + high) / 2
        apart = HALF / math.cos(math.pi / 4 - d) * math.sin(2 * d)
        low, high = (d, high) if apart < GAP else (low, d)
    return low, middle


def _settings() -> dict[str, Any]:
    return {
        "edge_margin": 6.35,
        "gap": GAP,
        "visible_width": 6.35,
        "spans_per_side": 2,
        "longest_span": 0.0,
        "side_spans": (),
        "own_marks": (),
        "removed_marks": (),
        "merge_thin": False,
        "merged_spans": (),
        "hold_back": 0.0,
        "stagger": 0.0,
        "echo_count": 0,
        "echo_spacing": 6.35,
        "anchor_disc": 3.175,
        "anchor_passes": 24,
        "wobble": 3.175,
        "stitch_length": 2.54,
        "quilt_thickness": 2.5,
        "thread_tail": 101.6,
        "stitches_per_minute": 600.0,
        "seconds_per_turn": 1.0,
        "batting_width": 101.6,
        "bobbin_capacity": 0.0,
        "divide": False,
        "clockwise": True,
        "first_wedge": 0,
        "start": None,
        "spiral": False,
        "cloth_turned": True,
        "least_turning": False,
        "along_seam": False,
        "corner_angle": 25.0,
        "corner_run": 3.175,
    }


def wedge(number: int, anchor: np.ndarray, side: np.ndarray) -> dict[str, Any]:
    legs = side - anchor
    turn = np.unwrap(np.arctan2(legs[:, 1], legs[:, 0]))
    apex = turn[-1] - turn[0]
    return {
        "number": number,
        "outline": np.vstack([anchor, side, anchor]),
        "side": side,
        "side_length": float(np.hypot(*np.diff(side, axis=0).T).sum()),
        "across": float(min(np.hypot(*legs[0]), np.hypot(*legs[-1])) * math.sin(min(apex, math.pi / 2))),
        "apex_angle_deg": math.degrees(apex),
        "echoes": [],
    }


def square_report() -> dict[str, Any]:
    """The 8 in square from its middle, worked by hand: eight wedges."""
    anchor = np.array([101.6, 101.6])
    corner, middle = _turns()
    wedges, marks, path = [], [], []
    letters = "ABCD"
    for k in range(4):  # sides by growing direction: right, bottom, left, top
        turn = k * math.pi / 2
        spin = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
        begin = HALF * math.tan(math.pi / 4 - corner)
        halt = HALF * math.tan(middle)
        for low, high in ((-begin, -halt), (halt, begin)):
            side = np.array([[HALF, low], [HALF, high]]) @ spin.T + anchor
            wedges.append(wedge(len(wedges) + 1, anchor, side))
        at = np.array([HALF, 0]) @ spin.T + anchor
        foot = np.array([HALF + 6.35, 0]) @ spin.T + anchor
        measured = {"side": letters[k], "foot": tuple(foot), "from_start": 101.6, "to_end": 101.6}
        marks.append({"name": f"{letters[k]}1", "at": tuple(at), "kind": "division", **measured})
        at = np.array([HALF, HALF]) @ spin.T + anchor
        foot = np.array([HALF + 6.35, HALF + 6.35]) @ spin.T + anchor
        measured = {"side": letters[(k + 1) % 4], "foot": tuple(foot), "from_start": 0.0, "to_end": 203.2}
        marks.append(
            {"name": letters[k] + letters[(k + 1) % 4], "at": tuple(at), "kind": "corner", **measured}
        )
    for w in wedges:
        path += [
            {"kind": "leg", "wedge": w["number"], "points": np.array([anchor, w["side"][0]])},
            {"kind": "side", "wedge": w["number"], "points": w["side"]},
            {"kind": "leg", "wedge": w["number"], "points": np.array([w["side"][-1], anchor])},
        ]
    area = {"outline": np.array(box(6.35, 6.35, 196.85, 196.85).exterior.coords), "holes": []}
    return {
        "name": "square",
        "outline": np.array(box(0, 0, 203.2, 203.2).exterior.coords),
        "holes": [],
        "settings": _settings(),
        "stitchable": [area],
        "fans": [{"anchor": tuple(anchor), "region": area, "marks": marks, "wedges": wedges}],
        "out_of_sight": {"share": 0.0, "areas": []},
        "path": path,
        "findings": [],
    }


def rules(report: dict[str, Any]) -> set[str]:
    return {violation.rule for violation in examine(report)}


def finding(code: str, wedge_number: int | None) -> Any:
    def plant(report: dict[str, Any]) -> None:
        at = report["fans"][0]["anchor"]
        report["findings"].append(
            {"code": code, "level": "problem", "wedge": wedge_number, "at": at, "value": 1.0, "limit": 6.35}
        )

    return plant


def setting(key: str, value: Any) -> Any:
    def plant(report: dict[str, Any]) -> None:
        report["settings"][key] = value

    return plant


def without_finding(code: str) -> Any:
    def plant(report: dict[str, Any]) -> None:
        report["findings"] = [f for f in report["findings"] if f["code"] != code]

    return plant
