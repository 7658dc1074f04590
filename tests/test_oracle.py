"""The examiner examined: a fan worked by hand passes, and each planted violation is caught."""

from __future__ import annotations

import copy
import math
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from geometry import Patch, Settings, fit
from tests.oracle import examine, from_fit
from tests.oracle_fans import widest_free
from tests.oracle_lines import inset
from tests.oracle_sight import Placed, give_way, look, place_marks

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


def _settings(**other: Any) -> dict[str, Any]:
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
    } | other


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


def _share(report: dict[str, Any]) -> None:
    report["out_of_sight"]["share"] = 1e-6


def _cut_path(report: dict[str, Any]) -> None:
    del report["path"][4]


def _shift_area(report: dict[str, Any]) -> None:
    ring = report["stitchable"][0]["outline"].copy()
    ring[:, 0] += 0.001
    report["stitchable"][0] = {"outline": ring, "holes": []}


def _finding(code: str, wedge_number: int | None) -> Any:
    def plant(report: dict[str, Any]) -> None:
        at = report["fans"][0]["anchor"]
        report["findings"].append(
            {"code": code, "level": "problem", "wedge": wedge_number, "at": at, "value": 1.0, "limit": 6.35}
        )

    return plant


def _hidden(report: dict[str, Any]) -> None:
    """Half of the square is out of sight behind a wall, and nobody says so."""
    wall = {"outline": report["stitchable"][0]["outline"], "holes": [box(120, 10, 121, 190).exterior.coords]}
    report["stitchable"] = [wall]
    report["fans"][0]["region"] = wall
    # from the middle, 18.4 mm from the wall, its ends cut the square's sides at 19.13 and 19.82 mm; the share
    # and its area are told as the report tells them, so that only the finding is missing
    report["out_of_sight"] = {"share": 0.4002659520554507, "areas": [[(121, 10), (190, 10), (190, 190)]]}


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
        (_shift_mark, "marks"),
        (_misplace_foot, "foot"),
        (_far_corner, "foot"),
        (_tape_round_the_seam, "tape"),
        (_forget_corner, "corner"),
        (_invent_corner, "corner"),
        (_share, "out-of-sight"),
        (_cut_path, "path"),
        (_shift_area, "stitchable"),
        (_finding("side-short", 1), "side-short"),
        (_finding("wedge-thin", 2), "wedge-thin"),
        (_finding("wedge-lost", None), "lost"),
        (_finding("no-room", None), "no-room"),
        (_finding("pinched", None), "pinched"),
        (_finding("out-of-sight", None), "out-of-sight"),
        (_hidden, "out-of-sight"),
        (_unsaid, "side-short"),
        (_unsaid, "wedge-thin"),
        (_blow, "finite"),
    ],
)
def test_planted_violation_is_caught(plant: Any, rule: str) -> None:
    report = copy.deepcopy(square_report())
    plant(report)
    assert rule in rules(report)


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


# ------------------------------------------------- lines inside, the path, totals: a square worked by hand


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


def _set(key: str, value: Any) -> Any:
    def plant(report: dict[str, Any]) -> None:
        report["settings"][key] = value

    return plant


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
        ("echoes", _set("echo_spacing", 6.3501), "echo"),
        ("echoes", _set("visible_width", 40.0), "echo"),
        ("echoes", _echo_forgotten, "echo-dropped"),
        ("echoes", _echo_forgotten_and_told, "echo"),
        ("echoes", _finding("echo-dropped", 2), "echo-dropped"),
        ("echoes", _finding("echo-dropped", 77), "echo-dropped"),
        ("held", _not_held, "hold-back"),
        ("held", _set("stagger", 2.0), "hold-back"),
        ("held", _leg_from_the_anchor, "hold-back"),
        ("held", _hop_over_the_anchor, "hold-back"),
        ("held", _hop_far_out, "path"),
        ("held echoes", _set("hold_back", 9.999), "hold-back"),
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
        ("echoes", _set("clockwise", False), "path"),
        ("echoes", _set("first_wedge", 4), "path"),
        ("echoes", _set("spiral", True), "path"),
        ("echoes", _set("start", (50.0, 50.0)), "path"),
        ("spiral", _set("spiral", False), "path"),
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
        ("echoes", _set("thread_tail", 50.0), "totals"),
        ("echoes", _set("quilt_thickness", 2.6), "totals"),
    ],
)
def test_planted_violation_in_the_lines_is_caught(base: str, plant: Any, rule: str) -> None:
    report = copy.deepcopy(LINED[base])
    plant(report)
    assert rule in rules(report)


# ------------------------------------------------------------------- several fans, and the other findings


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


def _clean(code: str) -> Any:
    def plant(report: dict[str, Any]) -> None:
        report["findings"] = [f for f in report["findings"] if f["code"] != code]

    return plant


def _level(report: dict[str, Any]) -> None:
    _finding("no-room", None)(report)
    report["findings"][-1]["level"] = "note"


def _far_away(report: dict[str, Any]) -> None:
    _finding("open-area", None)(report)
    report["findings"][-1]["at"] = (-50.0, -50.0)


@pytest.mark.parametrize(
    ("plant", "rule"),
    [
        (_region_moved, "region"),
        (_region_of_both, "region"),
        (_set("gap", 6.36), "region"),
        (_number_again, "numbers"),
        (_name_again, "marks"),
        (_one_more_anchor((30.0, 30.0)), "anchors"),
        (_an_anchor_beside, "anchors"),
        (_fans_swapped, "anchors"),
        (_share_two, "out-of-sight"),
        (_areas_less, "out-of-sight"),
        (_finding("pinched", None), "pinched"),
        (_finding("near-centre", None), "near-centre"),
        (_finding("darkness", None), "findings"),
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
    _clean("out-of-sight")(report)
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
    _clean(code)(untold)
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
    _finding(code, wedge_number)(report)
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


def test_an_inset_by_its_definition() -> None:
    # legs 40 and 30, side 50: inradius 10, so 4 mm in it is 0.6 as large, about (10, 10)
    made = inset(np.array([(0.0, 0), (40, 0), (0, 30)]), 4.0)
    np.testing.assert_allclose(made, [(4, 4), (28, 4), (4, 22)], atol=1e-9)
    assert inset(np.array([(0.0, 0), (40, 0), (0, 30)]), 10.01) is None
    # a side with a dent: the mitre of its two edges, 45° each, stands sqrt(2) d before it
    made = inset(np.array([(0.0, 0), (100, 0), (50, 50), (100, 100), (0, 100)]), 5.0)
    assert made is not None
    assert np.hypot(*(made - [50 - 5 * math.sqrt(2), 50]).T).min() < 1e-6
