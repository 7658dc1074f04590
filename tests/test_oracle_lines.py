"""The examiner's part on echoes, hold-back, path and totals: lines worked by hand pass, and each planted
violation is caught.
"""

from __future__ import annotations

import copy
import math
from typing import Any

import numpy as np
import pytest

from tests.oracle import examine
from tests.oracle_lines import inset
from tests.reports_by_hand import finding, rules, setting, square_report


def _inside(side: np.ndarray, d: float) -> np.ndarray:
    """The three-cornered wedge of ``side`` (relative to its apex) moved inward by d: it shrinks about the
    incentre, the corners' mean weighted with the lengths across from them."""
    ring = np.vstack([[0.0, 0.0], side])
    across = np.hypot(*(np.roll(ring, 1, axis=0) - np.roll(ring, -1, axis=0)).T)
    incentre = (ring * across[:, None]).sum(axis=0) / across.sum()
    area = abs(side[0, 0] * side[1, 1] - side[0, 1] * side[1, 0]) / 2
    return np.asarray(incentre + (1 - d * across.sum() / (2 * area)) * (ring - incentre))


def _arc(one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """Round the origin from ``one`` to ``two``, by growing direction."""
    begin = math.atan2(one[1], one[0])
    turn = (math.atan2(two[1], two[0]) - begin) % (2 * math.pi)
    r = np.linspace(np.hypot(*one), np.hypot(*two), 9)
    t = begin + turn * np.linspace(0, 1, 9)
    return np.column_stack([r * np.cos(t), r * np.sin(t)])


def lined_report(echoes: int, hold_back: float = 0.0, spiral: bool = False) -> dict[str, Any]:
    """The square with echoes a quarter inch apart and a hold-back, its path and its totals, all by hand."""
    report = square_report()
    settings = report["settings"]
    settings |= {"echo_count": echoes, "hold_back": hold_back, "spiral": spiral}
    fan = report["fans"][0]
    anchor = np.asarray(fan["anchor"])
    path: list[tuple[str, int, np.ndarray]] = []

    def to(kind: str, number: int, points: Any, *via: np.ndarray) -> None:
        points = np.asarray(points, float)
        if path and np.hypot(*(path[-1][2][-1] - points[0])) > 1e-9:
            path.append(("hop", number, np.vstack([path[-1][2][-1], *via, points[0]])))
        path.append((kind, number, points))

    def at_radius(point: np.ndarray) -> np.ndarray:
        return np.asarray(point * hold_back / np.hypot(*point))

    for w in fan["wedges"]:
        number, side = w["number"], w["side"] - anchor
        inner = [at_radius(end) for end in (side[0], side[-1])]
        lines = [_inside(side, 6.35 * k) for k in range(1, echoes + 1)]
        assert not lines or np.hypot(*lines[0][0]) > hold_back
        step = float(np.hypot(*lines[0][0])) if lines else 0.0
        w["echoes"] = [np.vstack([line, line[:1]]) + anchor for line in lines]
        if hold_back:
            w["outline"] = np.vstack([inner[0], side, inner[1], inner[0]]) + anchor
        last = side[-1] * step / np.hypot(*side[-1]) if spiral and lines else inner[1]
        come = at_radius(path[-1][2][-1]) if path else inner[0]  # back to the radius, and round
        to("leg", number, [inner[0], side[0]], *([_arc(come, inner[0])] if hold_back else [come]))
        to("side", number, side)
        to("leg", number, [side[-1], last])
        for k, line in enumerate(lines):
            stop = line[0]
            if spiral and k < len(lines) - 1:
                stop = line[0] + (line[2] - line[0]) * step / np.hypot(*(line[2] - line[0]))
            to("echo", number, [*line, stop], *([_arc(at_radius(line[0]), inner[1])[::-1]] if not k else []))
    report["path"] = [{"kind": k, "wedge": n, "points": points + anchor} for k, n, points in path]
    report["totals"] = _totals(report)
    return report


def _totals(report: dict[str, Any]) -> dict[str, Any]:
    settings = report["settings"]
    line = np.vstack([piece["points"] for piece in report["path"]])
    line = line[np.append(True, np.hypot(*np.diff(line, axis=0).T) > 1e-9)]
    step = np.diff(line, axis=0)
    length = float(np.hypot(*step.T).sum())
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs((np.diff(heading) + math.pi) % (2 * math.pi) - math.pi)
    stitches = math.ceil(length / settings["stitch_length"])
    thread = length * (1 + 2.5 / 2.54) + 2 * 101.6
    changes = int((np.degrees(turn) > settings["corner_angle"]).sum())
    legs = [piece["points"] for piece in report["path"] if piece["kind"] == "leg"]
    anchor = np.asarray(report["fans"][0]["anchor"])
    bearings = []
    for leg in legs:
        inner, outer = sorted(leg, key=lambda point: np.hypot(*(point - anchor)))
        bearings.append(math.degrees(math.atan2(outer[0] - inner[0], inner[1] - outer[1])) % 360)
    return {
        "stitched": length,
        "stitches": stitches,
        "top_thread": thread,
        "bobbin_thread": thread,
        "bobbins": 0.0,
        "minutes": stitches / 600 + changes / 60,
        "changes": changes,
        "turning": float(turn.sum()),
        "longest_leg": max(float(np.hypot(*(leg[1] - leg[0]))) for leg in legs),
        "bearings": bearings,
    }


LINED: dict[str, dict[str, Any]] = {
    "echoes": lined_report(2),
    "spiral": lined_report(2, spiral=True),
    "held": lined_report(0, 15.0),
    "held echoes": lined_report(2, 10.0),
}


@pytest.mark.parametrize("name", LINED)
def test_lines_worked_by_hand_pass(name: str) -> None:
    assert [str(v) for v in examine(LINED[name])] == []


def _first(report: dict[str, Any], kind: str, wedge_number: int = 1) -> dict[str, Any]:
    return next(p for p in report["path"] if (p["kind"], p["wedge"]) == (kind, wedge_number))


def _wedge(report: dict[str, Any]) -> dict[str, Any]:
    first: dict[str, Any] = report["fans"][0]["wedges"][0]
    return first


def _echo_moved(report: dict[str, Any]) -> None:
    _wedge(report)["echoes"][1] += [0.0, 1e-4]


def _echo_cut_short(report: dict[str, Any]) -> None:
    """Parallel all along, but a leg of it ends too early."""
    echo = _wedge(report)["echoes"][0]
    corner = echo[1] + (echo[2] - echo[1]) * 0.01
    _wedge(report)["echoes"][0] = np.vstack([echo[0], echo[0] + (echo[1] - echo[0]) * 0.99, corner, echo[2:]])


def _echo_open(report: dict[str, Any]) -> None:
    _wedge(report)["echoes"][0] = _wedge(report)["echoes"][0][:-1]


def _echoes_swapped(report: dict[str, Any]) -> None:
    _wedge(report)["echoes"].reverse()


def _echo_forgotten(report: dict[str, Any]) -> None:
    _wedge(report)["echoes"].pop()


def _echo_forgotten_and_told(report: dict[str, Any]) -> None:
    _wedge(report)["echoes"].pop()
    report["findings"].append(
        {"code": "echo-dropped", "level": "note", "wedge": 1, "at": (101.6, 101.6), "value": 1, "limit": 2}
    )


def _one_echo_less_asked(report: dict[str, Any]) -> None:
    report["settings"]["echo_count"] = 1


def _not_held(report: dict[str, Any]) -> None:
    w, anchor = _wedge(report), np.asarray(report["fans"][0]["anchor"])
    w["outline"] = np.vstack([anchor, w["side"], anchor])


def _leg_from_the_anchor(report: dict[str, Any]) -> None:
    _first(report, "leg", 3)["points"][0] = report["fans"][0]["anchor"]


def _hop_over_the_anchor(report: dict[str, Any]) -> None:
    hop = _first(report, "hop", 3)
    hop["points"] = np.vstack([hop["points"][0], report["fans"][0]["anchor"], hop["points"][-1]])


def _hop_far_out(report: dict[str, Any]) -> None:
    hop, anchor = _first(report, "hop", 3), np.asarray(report["fans"][0]["anchor"])
    hop["points"][4] = anchor + 1.5 * (hop["points"][4] - anchor)


def _hop_aside(report: dict[str, Any]) -> None:
    hop = [p for p in report["path"] if p["kind"] == "hop" and p["wedge"] == 1][-1]
    one, two = hop["points"][[0, -1]]
    hop["points"] = np.vstack([one, np.add(one, [-40.0, 40.0]), two])


def _jump(report: dict[str, Any]) -> None:
    _first(report, "side")["points"][0] += [0.0, 1e-4]


def _out_of_the_patch(report: dict[str, Any]) -> None:
    side = _first(report, "side")
    side["points"] = np.insert(side["points"], 1, [203.21, 60.0], axis=0)


def _leg_too_short(report: dict[str, Any]) -> None:
    leg = _first(report, "leg")["points"]
    leg[0] += (leg[1] - leg[0]) * 1e-4


def _echo_not_stitched_whole(report: dict[str, Any]) -> None:
    echo = _first(report, "echo")
    echo["points"] = np.vstack([echo["points"][:2], echo["points"][:1]])


def _kind(kind: str, wrong: str) -> Any:
    def plant(report: dict[str, Any]) -> None:
        _first(report, kind)["kind"] = wrong

    return plant


def _wedge_twice(report: dict[str, Any]) -> None:
    report["path"] += [dict(p) for p in report["path"] if p["wedge"] == 1]


def _turned_round(report: dict[str, Any]) -> None:
    report["path"] = [{**p, "points": p["points"][::-1]} for p in reversed(report["path"])]


def _from_elsewhere(report: dict[str, Any]) -> None:
    report["path"].insert(
        0, {"kind": "travel", "wedge": None, "points": np.array([[50.0, 50], [101.6, 101.6]])}
    )


def _total(key: str, by: Any) -> Any:
    def plant(report: dict[str, Any]) -> None:
        if isinstance(report["totals"][key], list):
            report["totals"][key][0] += by
        else:
            report["totals"][key] += by

    return plant


@pytest.mark.parametrize(
    ("base", "plant", "rule"),
    [
        ("echoes", _echo_moved, "echo"),
        ("echoes", _echo_cut_short, "echo"),
        ("echoes", _echo_open, "echo"),
        ("echoes", _echoes_swapped, "echo"),
        ("echoes", _one_echo_less_asked, "echo"),
        ("echoes", setting("echo_spacing", 6.3501), "echo"),
        ("echoes", setting("visible_width", 40.0), "echo"),
        ("echoes", _echo_forgotten, "echo-dropped"),
        ("echoes", _echo_forgotten_and_told, "echo"),
        ("echoes", finding("echo-dropped", 2), "echo-dropped"),
        ("echoes", finding("echo-dropped", 77), "echo-dropped"),
        ("held", _not_held, "hold-back"),
        ("held", setting("stagger", 2.0), "hold-back"),
        ("held", _leg_from_the_anchor, "hold-back"),
        ("held", _hop_over_the_anchor, "hold-back"),
        ("held", _hop_far_out, "path"),
        ("held echoes", setting("hold_back", 9.999), "hold-back"),
        ("echoes", _hop_aside, "path"),
        ("echoes", _jump, "path"),
        ("echoes", _out_of_the_patch, "path"),
        ("echoes", _leg_too_short, "path"),
        ("echoes", _echo_not_stitched_whole, "path"),
        ("echoes", _kind("hop", "travel"), "path"),
        ("echoes", _kind("echo", "leg"), "path"),
        ("echoes", _kind("echo", "darn"), "path"),
        ("echoes", _wedge_twice, "path"),
        ("echoes", _turned_round, "path"),
        ("echoes", _from_elsewhere, "path"),
        ("echoes", setting("clockwise", False), "path"),
        ("echoes", setting("first_wedge", 4), "path"),
        ("echoes", setting("spiral", True), "path"),
        ("echoes", setting("start", (50.0, 50.0)), "path"),
        ("spiral", setting("spiral", False), "path"),
        ("spiral", _leg_too_short, "path"),
        *[
            ("held echoes", _total(key, by), "totals")
            for key, by in (
                ("stitched", 0.01),
                ("stitches", 2),
                ("top_thread", 0.01),
                ("bobbin_thread", -0.01),
                ("bobbins", 0.5),
                ("minutes", 0.001),
                ("changes", 1),
                ("turning", 0.001),
                ("longest_leg", 0.001),
                ("bearings", 0.001),
            )
        ],
        ("echoes", setting("thread_tail", 50.0), "totals"),
        ("echoes", setting("quilt_thickness", 2.6), "totals"),
    ],
)
def test_planted_violation_in_the_lines_is_caught(base: str, plant: Any, rule: str) -> None:
    report = copy.deepcopy(LINED[base])
    plant(report)
    assert rule in rules(report)


def test_an_inset_by_its_definition() -> None:
    # legs 40 and 30, side 50: inradius 10, so 4 mm in it is 0.6 as large, about (10, 10)
    made = inset(np.array([(0.0, 0), (40, 0), (0, 30)]), 4.0)
    np.testing.assert_allclose(made, [(4, 4), (28, 4), (4, 22)], atol=1e-9)
    assert inset(np.array([(0.0, 0), (40, 0), (0, 30)]), 10.01) is None
    # a side with a dent: the mitre of its two edges, 45° each, stands sqrt(2) d before it
    made = inset(np.array([(0.0, 0), (100, 0), (50, 50), (100, 100), (0, 100)]), 5.0)
    assert made is not None
    assert np.hypot(*(made - [50 - 5 * math.sqrt(2), 50]).T).min() < 1e-6
