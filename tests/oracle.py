"""The examiner: judges a fit from its figures alone, written apart from the engine.

It knows the design page (3.2 to 3.10 and the report of section 5) and nothing of how the engine works:
shapely and plain all-pairs numpy only, nothing of ``geometry`` or ``app`` is imported. ``oracle_sight`` finds
what an anchor sees, ``oracle_marks`` judges marks, ``oracle_merging`` thin wedges that were merged,
``oracle_lines`` echoes, hold-back, stitch path and totals, ``oracle_fans`` several fans together and the
other findings.

``examine(report_patch)`` takes one entry of the report's ``patches`` and returns the list of violations;
``from_fit`` writes the same entry from a ``Fit`` without rounding. mm, radians, y down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon

from tests.oracle_fans import SPECK, judge_findings, judge_regions
from tests.oracle_lines import grid, judge_insides, judge_path, judge_totals, lines_of
from tests.oracle_marks import judge_marks
from tests.oracle_merging import is_merging, judge_merging
from tests.oracle_sight import (
    HAIR,
    SEEN_ANGLE,
    TOUCH,
    Sector,
    Sight,
    cross,
    give_way,
    look,
    place_marks,
    rings_of,
    spread,
)

GAP_MET = 1e-3
"""mm. The gap between neighbours that met is exact to this (issue 2 asks for 0.05)."""
GAP_LEAST = 1e-4
"""mm. No neighbours stand closer than the gap by more than this."""
TIGHT = 1e-4
"""mm. Lengths given way by two neighbours agree to this."""


@dataclass(frozen=True)
class Violation:
    """One broken promise: which, and with what figures."""

    rule: str
    text: str

    def __str__(self) -> str:
        return f"[{self.rule}] {self.text}"


# ---------------------------------------------------------------------------------------------- the report


def from_fit(fit: Any, name: str = "", given: list[tuple[float, float]] | None = None) -> dict[str, Any]:
    """The report's entry for ``fit``, unrounded, with the marks' seam figures and the wedges' spans added.

    ``given``: the anchors that were asked for, where the engine may have added others.
    """

    def rings(polygon: Polygon) -> dict[str, Any]:
        return {
            "outline": np.asarray(polygon.exterior.coords),
            "holes": [np.asarray(ring.coords) for ring in polygon.interiors],
        }

    settings = {key: getattr(fit.settings, key) for key in type(fit.settings).__dataclass_fields__}
    return {
        "name": name,
        **rings(fit.patch.polygon),
        "settings": settings,
        "stitchable": [rings(part) for part in fit.stitchable],
        "fans": [
            {
                "anchor": fan.anchor,
                "region": rings(fan.region),
                "marks": [
                    {
                        "name": mark.name,
                        "at": mark.at,
                        "kind": str(mark.kind),
                        "side": mark.side,
                        "foot": mark.foot,
                        "from_start": mark.from_start,
                        "to_end": mark.to_end,
                    }
                    for mark in fan.marks
                ],
                "wedges": [
                    {
                        "number": wedge.number,
                        "outline": np.asarray(wedge.outline),
                        "side": np.asarray(wedge.side),
                        "side_length": wedge.side_length,
                        "across": wedge.across,
                        "apex_angle_deg": math.degrees(wedge.apex_angle),
                        "echoes": [np.asarray(echo) for echo in wedge.echoes],
                        "span": wedge.span,
                    }
                    for wedge in fan.wedges
                ],
            }
            for fan in fit.fans
        ],
        "anchors": list(fit.anchors),
        "given": list(fit.anchors) if given is None else given,
        "out_of_sight": {
            "share": fit.out_of_sight.share,
            "areas": [rings(area) for area in fit.out_of_sight.areas],
        },
        "path": [
            {"kind": str(s.kind), "wedge": s.wedge, "points": np.asarray(s.points)} for s in fit.path.segments
        ],
        "findings": [
            {
                "code": str(f.code),
                "level": str(f.level),
                "wedge": f.wedge,
                "at": f.at,
                "value": f.value,
                "limit": f.limit,
            }
            for f in fit.findings
        ],
        "totals": {
            **{key: getattr(fit.totals, key) for key in ("stitched", "stitches", "top_thread")},
            **{key: getattr(fit.totals, key) for key in ("bobbin_thread", "bobbins", "minutes", "changes")},
            "turning": fit.path.turning,
            "longest_leg": fit.path.longest_leg,
            "bearings": list(fit.path.bearings),
        },
    }


def same(one: Any, two: Any) -> bool:
    """Whether two reports are the same, bit for bit."""
    if isinstance(one, dict):
        return one.keys() == two.keys() and all(same(one[key], two[key]) for key in one)
    if isinstance(one, list | tuple):
        return len(one) == len(two) and all(map(same, one, two))
    if isinstance(one, np.ndarray):
        return one.shape == two.shape and bool((one == two).all())
    return bool(one == two)


def _polygon(rings: dict[str, Any] | list[Any]) -> Polygon:
    if isinstance(rings, dict):
        return Polygon(rings["outline"], rings["holes"])
    return Polygon(rings)


# ------------------------------------------------------------------------------------------------ judging


def examine(report: dict[str, Any], grain: float = 0.0, known: set[bytes] | None = None) -> list[Violation]:
    """Every promise that ``report`` breaks. ``grain`` is the rounding of its figures in mm.

    ``known`` remembers the stitchable areas and marks that were judged already, so that a patch tried from
    many anchors is judged once where the anchor makes no difference.
    """
    known = set() if known is None else known
    found: list[Violation] = []

    def broken(rule: str, text: str) -> None:
        found.append(Violation(rule, text))

    touch = TOUCH + 2 * grain
    patch = _polygon(report)
    settings = report["settings"]
    parts = [_polygon(part) for part in report["stitchable"]]
    codes = [finding["code"] for finding in report["findings"]]
    key = shapely.to_wkb(shapely.GeometryCollection([patch, *parts])) + repr(settings["edge_margin"]).encode()
    if key not in known:
        _judge_stitchable(patch, parts, settings["edge_margin"], touch, broken)
        known.add(key)
    _judge_parts(patch, settings["edge_margin"], codes, len(report["fans"]), broken)
    for value in _numbers(report):
        if not math.isfinite(value):
            broken("finite", f"{value} in the report")
            return found
    fans = report["fans"]
    if not parts:
        if any(fan["wedges"] for fan in fans):
            broken("no-room", "wedges without a stitchable area")
        if report["path"]:
            broken("path", "a path without a stitchable area")
        return found
    if not fans:
        broken("fan", "a stitchable area and no fan")
        return found
    whole = sum(part.area for part in parts)
    sights = []
    for fan in fans:
        others = [_polygon(each["region"]) for each in fans if each is not fan]
        sights.append(_judge_fan(patch, parts, others, fan, report, touch, grain, known, broken))
    numbers = [wedge["number"] for fan in fans for wedge in fan["wedges"]]
    if numbers != list(range(1, len(numbers) + 1)):
        broken("numbers", f"{numbers}")
    if len(fans) == 1:
        _judge_out_of_sight(report, whole, sights[0], touch, codes, broken)
    else:
        judge_regions(report, parts, [sight.area for sight in sights], touch, broken)
    every = [wedge for fan in fans for wedge in fan["wedges"]]
    _judge_small(every, report["findings"], settings["visible_width"], grain, broken)
    lines = lines_of(report)
    judge_insides(report, lines, touch, broken)
    judge_path(report, patch, _roomy(shapely.to_wkb(patch), 2 * touch), lines, touch, broken)
    judge_totals(report, touch, grain, broken)
    judge_findings(report, patch, parts, lines, touch, broken)
    return found


@lru_cache(maxsize=4)
def _roomy(wkb: bytes, by: float) -> Polygon:
    roomy = shapely.from_wkb(wkb).buffer(by, join_style="mitre")
    shapely.prepare(roomy)
    return roomy


def _numbers(value: Any) -> Any:
    if isinstance(value, dict):
        for item in value.values():
            yield from _numbers(item)
    elif isinstance(value, np.ndarray):
        yield float(value.sum()) if value.size else 0.0
    elif isinstance(value, list | tuple):
        if value and isinstance(value[0], float):  # a point, or bearings
            yield float(sum(value))
        else:
            for item in value:
                yield from _numbers(item)
    elif isinstance(value, float | int):
        yield float(value)


def erode(patch: Polygon, margin: float) -> list[Polygon]:
    """The parts of the stitchable area (3.2), largest first; specks that no needle finds are left out (the
    engine's choice: a thousandth of a square millimetre)."""
    area = patch.buffer(-margin, join_style="mitre", mitre_limit=2) if margin else patch
    parts = area.geoms if isinstance(area, MultiPolygon) else [area]
    return sorted((part for part in parts if part.area > SPECK), key=lambda part: -part.area)


def _judge_stitchable(patch: Polygon, parts: list[Polygon], margin: float, touch: float, broken: Any) -> None:
    expected = erode(patch, margin)
    slack = touch * (sum(part.length for part in expected) + patch.length)
    union = shapely.union_all(parts) if parts else Polygon()
    off = union.symmetric_difference(shapely.union_all(expected)).area if expected else union.area
    if off > slack:
        broken("stitchable", f"differs from the mitred erosion by {off:.6g} mm²")
    real = [part for part in parts if part.area > slack]
    if len(real) != len([part for part in expected if part.area > slack]):
        broken("stitchable", f"{len(parts)} parts instead of {len(expected)}")
    for part in parts:
        if not part.is_valid:
            broken("stitchable", "a part is not valid")
    if any(one.area < two.area - slack for one, two in pairwise(parts)):
        broken("stitchable", "parts are not largest first")
    # the same from the definition, without an offset: everything keeps the margin, and nothing that is more
    # than the mitre limit away from the seam is left out
    if margin and parts:
        corners = np.vstack([ring for part in parts for ring in rings_of(part)])
        away = shapely.distance(shapely.points(corners), patch.boundary)
        # (GEOS smooths the seam by a hair before it offsets it)
        if away.min() < margin - 100 * touch:
            broken("stitchable", f"comes to {away.min():.9g} mm from the seam, margin {margin}")
        # (the square end of a cut tip lies at twice the margin, its corners up to sqrt(5) times)
        if away.max() > math.sqrt(5) * margin + touch:
            broken("stitchable", f"its edge runs {away.max():.9g} mm from the seam, margin {margin}")


def _judge_parts(patch: Polygon, margin: float, codes: list[str], fans: int, broken: Any) -> None:
    expected = erode(patch, margin)
    empty = not expected
    if empty != ("no-room" in codes):
        broken("no-room", f"finding {'missing' if empty else 'without reason'}")
    sure = [part for part in expected if part.area > 1e-3]
    missing = fans < 2 and len(sure) > 1 and "pinched" not in codes  # several fans may fill several parts
    if missing or (len(expected) < 2 and "pinched" in codes):
        broken("pinched", f"{len(expected)} parts, findings {codes}")


def _of_fan(findings: list[dict[str, Any]], region: Polygon, others: list[Polygon]) -> list[dict[str, Any]]:
    """The findings whose place lies in or next to this region rather than another."""
    if not others or not findings:
        return findings
    at = shapely.points([f["at"] for f in findings])
    away = np.min([shapely.distance(other, at) for other in others], axis=0)
    return [f for f, mine in zip(findings, shapely.distance(region, at) <= away, strict=True) if mine]


_MARKING = (
    "edge_margin",
    "spans_per_side",
    "longest_span",
    "side_spans",
    "own_marks",
    "removed_marks",
    "corner_angle",
    "corner_run",
)


def _judge_fan(
    patch: Polygon,
    parts: list[Polygon],
    regions: list[Polygon],
    fan: dict[str, Any],
    report: dict[str, Any],
    touch: float,
    grain: float,
    known: set[bytes],
    broken: Any,
) -> Sight:
    settings = report["settings"]
    anchor = (float(fan["anchor"][0]), float(fan["anchor"][1]))
    a = np.asarray(anchor)
    region = _polygon(fan["region"])
    if regions:  # of the other fans
        others = regions
    else:
        at = Point(anchor)
        away = [part.distance(at) for part in parts]
        nearest = parts[int(np.argmin(away))]
        if region.distance(at) > min(away) + touch:
            broken("fan", "its region is not the part that holds or is nearest to the anchor")
        if min(region.symmetric_difference(part).area for part in parts) > touch * nearest.length:
            broken("fan", "its region is no part of the stitchable area")
        others = [part for part in parts if part.symmetric_difference(region).area > touch * part.length]

    marks = fan["marks"]
    placed = place_marks(region, marks)
    rules = [settings[key] for key in _MARKING]
    key = shapely.to_wkb(region) + repr([rules, [sorted(mark.items()) for mark in marks]]).encode()
    if key not in known:
        judge_marks(patch, region, shapely.union_all(parts), marks, placed, settings, touch, broken)
        known.add(key)

    sight = look(anchor, region, patch, others, placed)
    wedges = fan["wedges"]
    if is_merging(settings):
        sight = judge_merging(sight, wedges, a, settings, broken)
    owner: dict[int, int] = {}
    legs: list[tuple[float, float]] = []
    polygons = []
    frame = region if sight.inside else patch
    roomy = frame.buffer(2 * touch, join_style="mitre")
    shapely.prepare(roomy)
    edge = region.boundary
    if not sight.inside:
        # rays that run along the edge of the area or graze its corner count neither as outside nor as inside
        area = shapely.union_all(parts)
        beyond, within = (area.buffer(by * touch, join_style="mitre") for by in (2, -2))
    for number, wedge in enumerate(wedges):
        name = f"wedge {wedge['number']}"
        outline, side = np.asarray(wedge["outline"], float), np.asarray(wedge["side"], float)
        # (without a gap a wedge of a whole turn ends where it began: its leg lies inside it, on both sides)
        whole_turn = wedge["apex_angle_deg"] > 360 - 1e-6
        polygon = Polygon(side if whole_turn else outline)
        polygons.append(polygon)
        if not polygon.is_valid:
            broken("valid", f"{name}: {shapely.is_valid_reason(polygon)}")
        if not shapely.covers(roomy, polygon):
            broken("inside", f"{name} sticks out by {polygon.difference(frame).area:.6g} mm²")
        _judge_outline(name, wedge, outline, side, a, settings, touch, broken)
        between = (
            np.array([0.13, 0.5, 0.83])[:, None, None] * np.diff(side, axis=0)[None] + side[:-1]
        ).reshape(-1, 2)
        off = shapely.distance(shapely.points(np.vstack([side, between])), edge)
        if off.max() > touch:
            broken("side", f"{name}: its side leaves the edge of the stitchable area by {off.max():.6g} mm")
        if not sight.inside:
            _judge_margin_rays(name, side, between, anchor, beyond, within, touch, broken)
        turn = np.unwrap(np.arctan2(*(side - a).T[::-1]))
        if turn[-1] < turn[0]:
            turn, side = turn[::-1], side[::-1]
        step = np.diff(side, axis=0)
        hair = turn[-1] - turn[0] < SEEN_ANGLE
        hair &= bool((np.abs(cross(side[:-1] - a, step)) <= HAIR * np.hypot(*step.T)).all())
        home = _home(sight.sectors, turn, side - a, touch)
        if home is None:
            if not hair:
                broken("sector", f"{name} covers no single visible piece of one span")
            legs.append((turn[0], turn[-1]))
            continue
        k, shift = home
        legs.append((turn[0] + shift, turn[-1] + shift))
        if k in owner:
            broken("sector", f"{name} and wedge {wedges[owner[k]]['number']} share a span's visible piece")
        owner[k] = number
        _judge_span(name, wedge, sight, k, broken)
    if polygons:
        fine = grid(*polygons)
        whole = shapely.union_all([p if p.is_valid else p.buffer(0) for p in polygons], grid_size=fine)
        over = sum(polygon.area for polygon in polygons) - whole.area
        if over > 1e-6 + touch * grain + (grain + 2 * fine) * sum(polygon.length for polygon in polygons):
            broken("overlap", f"wedges overlap by {over:.6g} mm²")
    if len(legs) > 1:
        starts = np.array([leg[0] for leg in legs])
        if (np.mod(np.diff(np.append(starts, starts[0])), 2 * math.pi).sum() / (2 * math.pi)) > 1 + 1e-6:
            broken("numbers", "wedges do not count clockwise")
    _judge_lost(sight, owner, _of_fan(report["findings"], region, regions), settings["gap"], a, touch, broken)
    _judge_gaps(sight, owner, legs, wedges, settings["gap"], a, grain, broken)
    return sight


def _judge_span(name: str, wedge: dict[str, Any], sight: Sight, k: int, broken: Any) -> None:
    spans = sight.sectors[k].spans
    if "span" in wedge and spans[0] in sight.names:
        marks = sight.names[spans[0]][0], sight.names[spans[-1]][1]
        if not sight.named(spans, tuple(wedge["span"])):
            broken("span", f"{name} of {wedge['span']} lies from {marks[0]} to {marks[1]}")


def _judge_outline(
    name: str,
    wedge: dict[str, Any],
    outline: np.ndarray,
    side: np.ndarray,
    a: np.ndarray,
    settings: dict[str, Any],
    touch: float,
    broken: Any,
) -> None:
    held = settings["hold_back"] + settings["stagger"]
    if np.hypot(*(outline[0] - outline[-1])) > touch:
        broken("outline", f"{name} is not closed")
    if not held:
        expected = np.vstack([a, side, a])
        if outline.shape != expected.shape or np.abs(outline - expected).max() > touch:
            broken("outline", f"{name} is not anchor, leg, side, leg, anchor")
    one, two = side[0] - a, side[-1] - a
    length = float(np.hypot(*np.diff(side, axis=0).T).sum())
    if abs(length - wedge["side_length"]) > 1e-6 + 2 * touch * len(side):
        broken("figures", f"{name}: side_length {wedge['side_length']}, measured {length}")
    turn = np.unwrap(np.arctan2(*(side - a).T[::-1]))
    apex = abs(turn[-1] - turn[0])
    near = min(np.hypot(*one), np.hypot(*two))
    if abs(apex - math.radians(wedge["apex_angle_deg"])) * near > 4 * touch:
        broken("figures", f"{name}: apex {wedge['apex_angle_deg']}°, measured {math.degrees(apex)}°")
    across = near * (math.sin(apex) if apex < math.pi / 2 else 1.0)
    if abs(across - wedge["across"]) > 4 * touch:
        broken("figures", f"{name}: across {wedge['across']}, measured {across}")
    if length <= 0 or apex <= 0:
        broken("figures", f"{name} is empty")


def _judge_margin_rays(
    name: str,
    side: np.ndarray,
    between: np.ndarray,
    anchor: tuple[float, float],
    beyond: Any,
    within: Any,
    touch: float,
    broken: Any,
) -> None:
    """From an anchor in the margin a ray runs through the margin first, then stays in the area to its end."""
    ends = np.vstack([side, between])
    if len(ends) > 16:
        ends = ends[np.linspace(0, len(ends) - 1, 16).astype(int)]
    rays = [LineString([anchor, end]) for end in ends]
    for before, after in zip(
        shapely.difference(rays, beyond), shapely.intersection(rays, within), strict=True
    ):
        if before.is_empty:
            continue
        reach = np.hypot(*(shapely.get_coordinates(before) - anchor).T).max()
        begin = np.hypot(*(shapely.get_coordinates(after) - anchor).T).min() if not after.is_empty else reach
        if begin < reach - touch:
            broken("inside", f"{name}: a ray leaves the stitchable area before its end ({before.wkt})")
            return


def _home(
    sectors: list[Sector], turn: np.ndarray, side: np.ndarray, touch: float
) -> tuple[int, float] | None:
    """The sector that holds a wedge's whole side, and the turns to add to the wedge's directions."""
    middle = 0.5 * (turn[0] + turn[-1])
    for k, sector in enumerate(sectors):
        shift = 2 * math.pi * round((0.5 * (sector.start + sector.end) - middle) / (2 * math.pi))
        if not sector.start - 1e-9 <= middle + shift <= sector.end + 1e-9:
            continue
        ends = (turn[0] + shift - sector.start, sector.end - turn[-1] - shift)
        r0, r1 = np.hypot(*side[0]), np.hypot(*side[-1])
        if min(ends[0] * r0, ends[1] * r1) < -2 * touch:
            continue
        line = LineString(sector.at)
        if shapely.distance(shapely.points(side), line).max() <= 10 * touch:
            return k, shift
    return None


def _judge_lost(
    sight: Sight,
    owner: dict[int, int],
    findings: list[dict[str, Any]],
    gap: float,
    a: np.ndarray,
    touch: float,
    broken: Any,
) -> None:
    lost = [k for k in range(len(sight.sectors)) if k not in owner]
    sure = [k for k in lost if sight.sectors[k].significant]
    told = [Point(f["at"]) for f in findings if f["code"] == "wedge-lost"]
    near = 100 * touch
    places = {k: Polygon(np.vstack([[0, 0], sight.sectors[k].at]) + a) for k in (lost if told else ())}
    # every visible span yields a wedge or a finding ...
    kept = {span for k in owner for span in sight.sectors[k].spans}
    for span in sorted({span for k in sure for span in sight.sectors[k].spans} - kept):
        mine = [k for k in sure if span in sight.sectors[k].spans]
        here = [k for k in lost if span in sight.sectors[k].spans]
        if not any(places[k].distance(at) <= near for at in told for k in here):
            broken("lost", f"neither wedge nor finding: {_words(sight.sectors[mine[0]], a)}")
    # ... and a finding only where something was lost
    for at in told:
        if not any(place.distance(at) <= near for place in places.values()):
            broken("lost", f"a finding at ({at.x:.4f} {at.y:.4f}), where nothing was lost")
    if len(told) > len(lost):
        broken("lost", f"{len(told)} findings, {len(lost)} visible pieces without a wedge")
    # in each run of lost sectors at least one had no room beside what is left: the last one taken out
    n = len(sight.sectors)
    done: set[int] = set()
    for k in sure:
        if k in done:
            continue
        run = [k]
        for step in (-1, 1):
            j = k
            while sight.meets(j, step):
                j = (j + step) % n
                if j in owner or j in run:
                    break
                run.append(j)
        done.update(run)
        if all(_would_fit(sight, owner, j, gap) for j in run):
            broken("lost", f"lost without need: {', '.join(_words(sight.sectors[j], a) for j in run[:4])}")


def _neighbour(sight: Sight, owner: dict[int, int], k: int, step: int) -> tuple[int | None, float]:
    """The next sector with a wedge, and the clear angle up to it; None beside unlit space."""
    n, clear, j = len(sight.sectors), 0.0, k
    for _ in range(n):
        if not sight.meets(j, step):
            return None, clear
        j = (j + step) % n
        if j == k:
            return None, clear
        if j in owner:
            return j, clear
        clear += sight.sectors[j].width
    return None, clear


def _would_fit(sight: Sight, owner: dict[int, int], k: int, gap: float) -> bool:
    sector = sight.sectors[k]
    if np.hypot(*sector.at.T).max() < gap + 1e-6:
        return False
    left = sector.width
    j, clear = _neighbour(sight, owner, k, -1)
    if j is not None:
        left -= give_way(sight.sectors[j], sector, clear, gap)[1]
    j, clear = _neighbour(sight, owner, k, +1)
    if j is not None:
        left -= give_way(sector, sight.sectors[j], clear, gap)[0]
    elif not owner and all(other.meets_next for other in sight.sectors):
        # alone it meets itself where its legs face each other (the engine's choice)
        clear = 2 * math.pi - sector.width
        left -= sum(give_way(sector, sector, clear, gap)) if clear < math.pi / 2 else 0.0
    return left > 1e-6


def _words(sector: Sector, a: np.ndarray) -> str:
    p, q = sector.at[0] + a, sector.at[-1] + a
    return f"({p[0]:.4f} {p[1]:.4f})..({q[0]:.4f} {q[1]:.4f}) {sector.width:.3g} rad {sector.length:.3g} mm"


def _segment_distance(p: np.ndarray, leg: np.ndarray) -> float:
    """Distance of p from the leg, a segment from the origin."""
    t = min(1.0, max(0.0, float(p @ leg) / float(leg @ leg)))
    return float(np.hypot(*(p - t * leg)))


def _judge_gaps(
    sight: Sight,
    owner: dict[int, int],
    legs: list[tuple[float, float]],
    wedges: list[dict[str, Any]],
    gap: float,
    a: np.ndarray,
    grain: float,
    broken: Any,
) -> None:
    order = sorted(owner)
    for k in order:
        wedge = wedges[owner[k]]
        sector = sight.sectors[k]
        for step in (-1, 1):
            if not sight.meets(k, step):  # beside the seam that holds the anchor: not turned back
                turned = legs[owner[k]][0] - sector.start if step < 0 else sector.end - legs[owner[k]][1]
                r = sector.reach(sector.start if step < 0 else sector.end)
                if turned * max(r, 1.0) > TIGHT + 20 * grain:
                    broken(
                        "unturned", f"wedge {wedge['number']} turned back {turned:.6g} rad from no neighbour"
                    )
    for k in order:
        j, clear = _neighbour(sight, owner, k, +1)
        if j is None or j == k:
            continue
        one, two = sight.sectors[k], sight.sectors[j]
        first, second = owner[k], owner[j]
        name = f"wedges {wedges[first]['number']} and {wedges[second]['number']}"
        end = _outer(wedges[first], last=True, a=a)
        start = _outer(wedges[second], last=False, a=a)
        apart = min(_segment_distance(end, start), _segment_distance(start, end))
        direct = one.meets_next and (k + 1) % len(sight.sectors) == j
        slack = 4 * grain
        if apart < gap - GAP_LEAST - slack:
            swept = math.degrees(clear + one.end - legs[first][1] + legs[second][0] - two.start)
            broken("gap", f"{name} stand {apart:.6f} mm apart, gap {gap}, {swept:.3f}° from leg to leg")
            continue
        gave1, gave2 = one.end - legs[first][1], legs[second][0] - two.start
        r1, r2 = one.reach(one.end), two.reach(two.start)
        still = max(gave1 * np.hypot(*end), gave2 * np.hypot(*start)) < TIGHT + 20 * grain
        if apart > gap + GAP_MET + slack and not (still and not direct):
            broken(
                "gap",
                f"{name} stand {apart:.6f} mm apart, gap {gap}, {'met' if direct else 'after a lost one'}",
            )
            continue
        if still or gap == 0:
            continue
        # each gives way by the same length at its own edge
        if abs(gave1 * r1 - gave2 * r2) > (TIGHT + 20 * grain) * max(
            1.0, r1 / np.hypot(*end), r2 / np.hypot(*start)
        ):
            broken("ratio", f"{name} give way by {gave1 * r1:.6f} and {gave2 * r2:.6f} mm")
        # and no further than the first place where the gap is reached
        x = np.linspace(0, 1, 16)[1:-1]
        near = np.minimum(one.reach(one.end - x * gave1), two.reach(two.start + x * gave2))
        if (near * spread(clear + x * (gave1 + gave2)) > gap + GAP_MET + slack).any():
            broken("gap", f"{name} turned back further than they need")


def _outer(wedge: dict[str, Any], *, last: bool, a: np.ndarray) -> np.ndarray:
    side = np.asarray(wedge["side"], float) - a
    turn = np.unwrap(np.arctan2(*side.T[::-1]))
    if (turn[-1] < turn[0]) == last:
        return side[0]
    return side[-1]


def _judge_small(
    wedges: list[dict[str, Any]], findings: list[dict[str, Any]], limit: float, grain: float, broken: Any
) -> None:
    for code, key in (("side-short", "side_length"), ("wedge-thin", "across")):
        told = [f for f in findings if f["code"] == code]
        numbers = [f["wedge"] for f in told]
        if len(set(numbers)) != len(numbers):
            broken(code, "said twice of one wedge")
        for wedge in wedges:
            figure = wedge[key]
            if abs(figure - limit) > 1e-6 + grain and (figure < limit) != (wedge["number"] in numbers):
                broken(code, f"wedge {wedge['number']}: {figure} against {limit}, findings on {numbers}")
        by_number = {wedge["number"]: wedge for wedge in wedges}
        for f in told:
            if f["wedge"] not in by_number:
                broken(code, f"names wedge {f['wedge']}")
            elif (
                abs(f["value"] - by_number[f["wedge"]][key]) > 1e-6 + grain or abs(f["limit"] - limit) > 1e-6
            ):
                broken(code, f"value {f['value']}, limit {f['limit']}")


def _judge_out_of_sight(
    report: dict[str, Any], whole: float, sight: Sight, touch: float, codes: list[str], broken: Any
) -> None:
    seen, sectors = sight.area, sight.sectors
    region = _polygon(report["fans"][0]["region"])
    share = report["out_of_sight"]["share"]
    slack = max(1e-9, 2e-6 * whole if touch > TOUCH else touch * math.sqrt(whole) * 10) / whole
    expected = min(1.0, max(0.0, 1 - seen / whole))
    if abs(share - expected) > max(slack, 1e-9):
        broken("out-of-sight", f"share {share}, measured {expected}")
    areas = report["out_of_sight"]["areas"]
    if all(isinstance(area, dict) for area in areas):
        total = sum(_polygon(area).area for area in areas)
        if abs(total - expected * whole) > max(1e-3, 1e-5 * whole):
            broken("out-of-sight", f"areas sum up to {total}, measured {expected * whole}")
    if expected < 1e-9 and "out-of-sight" in codes:
        broken("out-of-sight", f"a finding, and nothing is out of sight; share {expected}")
    # what is hidden only because it lies in another part is the finding `pinched`; specks smaller than a
    # square of half the visible width may go unsaid (the engine's choice; the design page names no size)
    if 1 - seen / max(region.area, 1e-9) > 1e-3 and "out-of-sight" not in codes:
        a = np.asarray(report["fans"][0]["anchor"], float)
        lit = [Polygon(np.vstack([[0, 0], sector.at]) + a).buffer(0) for sector in sectors]
        dark = region.difference(shapely.union_all(lit).buffer(10 * touch))
        largest = max((part.area for part in shapely.get_parts(dark)), default=0.0)
        if largest > (report["settings"]["visible_width"] / 2) ** 2:
            broken("out-of-sight", f"{largest:.6g} mm² in one piece out of sight, and no finding")
