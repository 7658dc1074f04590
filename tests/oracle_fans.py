"""The examiner's third part: several fans together (3.10), and the findings the figures call for (3.8).

Judged from the report's figures; nothing of ``geometry`` is imported. mm, radians, y down.
"""

from __future__ import annotations

import math
from itertools import combinations
from typing import Any

import numpy as np
import shapely
from shapely import LineString, Point, Polygon

from tests.oracle_lines import SURE, Line, grid

SPECK = 1e-3
"""mm². What is smaller is rounding."""
ENOUGH = 0.99
"""What the division brings into sight."""


def polygon_of(rings: Any) -> Polygon:
    if isinstance(rings, dict):
        return Polygon(rings["outline"], rings["holes"])
    return Polygon(rings)


def _flat(shape: Any) -> Any:
    """Only what has area."""
    pieces = [piece for piece in shapely.get_parts(shapely.get_parts(shape)) if piece.geom_type == "Polygon"]
    return shapely.multipolygons(pieces) if pieces else Polygon()


def _less(one: Any, two: Any) -> Any:
    return _flat(shapely.difference(one, two, grid_size=grid(one, two)))


def _area(polygons: list[Polygon]) -> Any:
    return shapely.union_all(polygons, grid_size=grid(*polygons)) if polygons else Polygon()


# ------------------------------------------------------------------------------------------- several fans


def judge_regions(
    report: dict[str, Any], parts: list[Polygon], seen: list[float], touch: float, broken: Any
) -> None:
    """3.10: regions in the stitchable area, in sight of their anchors, one gap apart; the rest is out of
    sight, and said to be."""
    settings = report["settings"]
    gap = settings["gap"]
    fans = report["fans"]
    regions = [polygon_of(fan["region"]) for fan in fans]
    area = _area(parts)
    whole = area.area
    roomy = area.buffer(2 * touch, join_style="mitre")
    for k, region in enumerate(regions):
        if not region.is_valid:
            broken("region", f"region {k} is not valid: {shapely.is_valid_reason(region)}")
            return
        if not roomy.covers(region):
            broken("region", f"region {k} lies outside the stitchable area")
        if abs(seen[k] - region.area) > 1e-3 + 1e-6 * region.area + 10 * touch * region.length:
            broken("region", f"fan {k} sees {seen[k]:.6f} of the {region.area:.6f} mm² of its region")
    for (i, one), (j, two) in combinations(enumerate(regions), 2):
        away = one.distance(two)
        if away < gap - 2 * touch:
            broken("region", f"regions {i} and {j} are {away:.9f} mm apart, gap {gap}")
    wedges = [
        shapely.union_all([Polygon(w["outline"]).buffer(0) for w in fan["wedges"]])
        for fan in fans
        if fan["wedges"]
    ]
    for (i, a), (j, b) in combinations(enumerate(wedges), 2):
        # (from an anchor in the margin legs cross the margin, and there no region keeps them apart)
        if (
            a.distance(b) < gap - 4 * touch
            and a.intersection(area).distance(b.intersection(area)) < gap - 4 * touch
        ):
            broken("region", f"wedges of fans {i} and {j} come {a.distance(b):.9f} mm near, gap {gap}")
    names = [mark["name"] for fan in fans for mark in fan["marks"]]
    if len(set(names)) != len(names):
        broken("marks", f"names are not unique: {sorted(n for n in set(names) if names.count(n) > 1)[:5]}")
    _judge_rest(report, regions, _flat(area), whole, touch, broken)
    _judge_anchors(report, regions, parts, touch, broken)


def _judge_rest(
    report: dict[str, Any], regions: list[Polygon], area: Any, whole: float, touch: float, broken: Any
) -> None:
    """What is in no region: the strips between two, and what is out of sight."""
    settings = report["settings"]
    gap = settings["gap"]
    share = report["out_of_sight"]["share"]
    areas = report["out_of_sight"]["areas"]
    slack = SPECK * (2 + len(regions)) + 10 * touch * (area.length + sum(r.length for r in regions))
    dark = [polygon_of(piece) for piece in areas]
    total = sum(piece.area for piece in dark)
    if abs(share * whole - total) > slack + 1e-6 * whole:
        broken("out-of-sight", f"share {share} of {whole}, areas sum up to {total}")
    rest = _less(area, _area(regions))
    if abs(_area(dark).area - total) > slack:
        broken("out-of-sight", "its areas overlap")
    outside = _less(_area(dark), rest).area
    if outside > slack:
        broken("out-of-sight", f"{outside:.6g} mm² of its areas lie in a region or outside")
    untold = _less(rest, _area(dark))
    # not told: strips that the gap between two regions takes. (Which of the ends still belong to one the
    # design page does not say: here what is one gap from both, mitres included, and also from the way through
    # the margin that leads from an anchor to its region.)
    claims = [_claimed(fan, region) for fan, region in zip(report["fans"], regions, strict=True)]
    clear = [claim.buffer(gap + 4 * touch, join_style="mitre", mitre_limit=2) for claim in claims]
    strips = [one.intersection(two) for one, two in combinations(clear, 2)]
    left = _less(untold, _area([_flat(s) for s in strips if not s.is_empty]))
    if left.area > slack + 1e-4 * gap * sum(r.length for r in regions):
        broken(
            "out-of-sight",
            f"{left.area:.6g} mm² at {left.representative_point().wkt} are in no region or strip, and untold",
        )
    if settings["divide"]:
        # (what is nearer to a region than the gap, mitres included, has no room for another; nor has what is
        # too small to show)
        kept = [r.buffer(gap, join_style="mitre", mitre_limit=2) for r in regions]
        free = _less(rest, _area(kept))
        largest = max((piece.area for piece in shapely.get_parts(free)), default=0.0)
        if share > 1 - ENOUGH + 1e-9 and largest > max(1.0, settings["visible_width"] ** 2):
            broken("divide", f"{share:.4%} out of sight, {largest:.4f} mm² of it in one free piece")
        for part in (polygon_of(part) for part in report["stitchable"]):
            # (the gap round a fan may take a small part; what is too small to show need not be seen)
            small = max(settings["gap"], settings["visible_width"] / 2) ** 2
            if part.area > small and not any(r.intersects(part) for r in regions):
                broken("divide", f"a part of {part.area:.4f} mm² has no fan")


def _claimed(fan: dict[str, Any], region: Polygon) -> Any:
    """The region with all straight ways to it from an anchor outside it."""
    at = np.asarray(fan["anchor"], float)
    if region.distance(Point(at)) <= SURE:
        return region
    ways = []
    for ring in (region.exterior, *region.interiors):
        corners = np.asarray(ring.coords)
        ends = np.stack([np.broadcast_to(at, corners[1:].shape), corners[:-1], corners[1:]], axis=1)
        ways += list(shapely.polygons(ends))
    return _area([region, *(way for way in ways if way.area > 0)])


def _judge_anchors(
    report: dict[str, Any], regions: list[Polygon], parts: list[Polygon], touch: float, broken: Any
) -> None:
    """Every anchor that has room gets a fan; one that stands less than a gap from an earlier one has none."""
    given = report.get("given", report.get("anchors"))
    if given is None:
        return
    gap = report["settings"]["gap"]
    given = [np.asarray(at, float) for at in given]
    have = [np.asarray(fan["anchor"], float) for fan in report["fans"]]
    fanned = [any(np.hypot(*(at - other)) == 0 for other in have) for at in given]
    for k, at in enumerate(given):
        before = [np.hypot(*(at - other)) for i, other in enumerate(given[:k]) if fanned[i]]
        same = [i for i in range(k) if np.hypot(*(at - given[i])) == 0]
        if fanned[k] and not same and any(away < gap - touch for away in before):
            broken("anchors", f"anchor {k} stands {min(before):.6f} mm from an earlier one and has a fan")
        apart = [np.hypot(*(at - other)) for i, other in enumerate(given) if i != k]
        deep = any(part.contains(Point(at)) and part.boundary.distance(Point(at)) > 0.01 for part in parts)
        if not fanned[k] and deep and all(away > gap + 0.1 for away in apart):
            broken("anchors", f"anchor {k} at {tuple(at)} has room and no fan")
    order = [
        k for at in have for k in [next((i for i, g in enumerate(given) if np.hypot(*(g - at)) == 0), None)]
    ]
    told = [k for k in order if k is not None]
    if told != sorted(told) or None in order[: len(told)]:
        broken("anchors", f"fans in the order of anchors {order}")


# ------------------------------------------------------------------------------------------------ findings


def judge_findings(
    report: dict[str, Any], patch: Polygon, parts: list[Polygon], lines: list[Line], touch: float, broken: Any
) -> None:
    """Findings exactly where the figures say (those of sight and echoes are judged with their figures)."""
    findings = report["findings"]
    room = patch.buffer(10 * touch)
    for f in findings:
        if f["code"] not in _LEVELS:
            broken("findings", f"a finding {f['code']!r}")
        elif f["level"] not in _LEVELS[f["code"]]:
            broken("findings", f"{f['code']} is a {f['level']}")
        if f["code"] not in ("repaired", "simplified") and not room.covers(Point(f["at"])):
            broken("findings", f"{f['code']} at {f['at']}, outside the patch")
    _judge_wobble(report, lines, touch, broken)
    _judge_crowd(report, lines, touch, broken)
    _judge_centre(report, patch, touch, broken)
    _judge_open(report, patch, lines, touch, broken)
    if len(report["fans"]) > 1:
        _judge_bare(report, parts, broken)
    told = [f for f in findings if f["code"] == "out-of-sight"]
    share = report["out_of_sight"]["share"]
    if told and max(f["value"] for f in told) > share + 1e-6:
        broken("out-of-sight", f"told {[f['value'] for f in told]} of a share of {share}")


_LEVELS = {
    "side-short": {"problem", "caution"},
    "wedge-thin": {"problem", "caution"},
    "wedge-lost": {"problem", "caution"},
    "wobble-risk": {"caution", "note"},
    "out-of-sight": {"problem", "caution"},
    "no-room": {"problem"},
    "pinched": {"problem", "caution"},
    "crowded-anchor": {"problem", "caution"},
    "open-area": {"problem", "caution"},
    "near-centre": {"caution", "note"},
    "echo-dropped": {"caution", "note"},
    "simplified": {"note"},
    "repaired": {"note"},
}


def _judge_wobble(report: dict[str, Any], lines: list[Line], touch: float, broken: Any) -> None:
    settings = report["settings"]
    wobble, limit = settings["wobble"], settings["visible_width"]
    told: dict[int, list[dict[str, Any]]] = {}
    for f in report["findings"]:
        if f["code"] == "wobble-risk":
            told.setdefault(f["wedge"], []).append(f)
    small = {f["wedge"] for f in report["findings"] if f["code"] in ("side-short", "wedge-thin")}
    wedges = {w["number"]: w for fan in report["fans"] for w in fan["wedges"]}
    for number in set(told) - set(wedges):
        broken("wobble-risk", f"names wedge {number}")
    for line in lines:
        wedge = wedges[line.number]
        figures = [wedge["side_length"], wedge["across"]]
        risk = [v for v in figures if v - 2 * wobble < limit - SURE and v >= limit - SURE]
        none = all(v - 2 * wobble > limit + SURE for v in figures)
        mine = told.get(line.number, [])
        # (a wedge that is too small anyway is told to be, and this need not be said besides)
        if risk and not mine and line.number not in small:
            broken(
                "wobble-risk", f"wedge {line.number}: {figures} less twice {wobble} against {limit}, untold"
            )
        if mine and none:
            broken("wobble-risk", f"wedge {line.number}: {figures} less twice {wobble} against {limit}, told")
        for f in mine:
            if min(abs(f["value"] - v + 2 * wobble) for v in figures) > SURE:
                broken("wobble-risk", f"wedge {line.number}: told {f['value']}, figures {figures}")
            if abs(f["limit"] - limit) > SURE:
                broken("wobble-risk", f"wedge {line.number}: limit {f['limit']}")


def _judge_crowd(report: dict[str, Any], lines: list[Line], touch: float, broken: Any) -> None:
    """Lines of wedges and echoes that come nearer to the anchor than the disc: each leg and each echo one.

    (Passes of hops are not counted: the engine's choice, see the note on issue 3.)
    """
    settings = report["settings"]
    disc, allowed = settings["anchor_disc"], settings["anchor_passes"]
    told = [f for f in report["findings"] if f["code"] == "crowded-anchor"]
    crowded = 0
    for k, fan in enumerate(report["fans"]):
        least = most = 0
        for line in lines:
            if line.fan != k:
                continue
            runs = [
                np.vstack([corner * (line.radius / np.hypot(*corner)), corner])
                for corner in line.side[[0, -1]]
            ]
            for echo in line.echoes:
                inner = np.hypot(*echo[[0, -2]].T)
                is_cut = line.radius and np.abs(inner - line.radius).max() < 4 * touch
                runs.append(echo[:-1] if is_cut else echo)
            for run in runs:
                away = LineString(run).distance(Point(0, 0)) if run.shape[0] > 1 else math.inf
                least += away < disc - SURE
                most += away < disc + SURE
        at = np.asarray(fan["anchor"], float)
        mine = [f for f in told if np.hypot(*(np.asarray(f["at"], float) - at)) <= 10 * touch]
        crowded += len(mine)
        if least > allowed and not mine:
            broken("crowded-anchor", f"fan {k}: {least} lines within {disc} mm, {allowed} allowed, untold")
        for f in mine:
            if most <= allowed:
                broken("crowded-anchor", f"fan {k}: {most} lines within {disc} mm, {allowed} allowed, told")
            if not least <= f["value"] <= most or f["limit"] != allowed:
                broken("crowded-anchor", f"fan {k}: told {f['value']} of {f['limit']}, counted {least}")
    if crowded != len(told):
        broken("crowded-anchor", "told of no anchor, or twice")


def _judge_centre(report: dict[str, Any], patch: Polygon, touch: float, broken: Any) -> None:
    """The centre is the centroid; a patch's width may be read as the least one in any direction or as that
    of its upright box; nobody gets onto the seam by a slip, no centre lies outside (the engine's choices)."""
    told = [f for f in report["findings"] if f["code"] == "near-centre"]
    anchors = report.get("anchors", [fan["anchor"] for fan in report["fans"]])
    if len(anchors) != 1:
        if told:
            broken("near-centre", f"told of one of {len(anchors)} anchors")
        return
    at, centre = np.asarray(anchors[0], float), shapely.get_coordinates(patch.centroid)[0]
    off = float(np.hypot(*(at - centre)))
    x0, y0, x1, y1 = patch.bounds
    turn = np.linspace(0, math.pi, 721)
    wide = np.ptp(np.asarray(patch.convex_hull.exterior.coords) @ [np.cos(turn), np.sin(turn)], axis=0)
    low, high = 0.0999 * float(wide.min()), 0.1 * max(x1 - x0, y1 - y0)
    if len(told) > 1:
        broken("near-centre", "told twice")
    for f in told:
        if (
            abs(f["value"] - off) > SURE
            or not low - SURE <= f["limit"] <= high + SURE
            or f["value"] >= f["limit"]
        ):
            broken("near-centre", f"told {f['value']} of {f['limit']}, measured {off} of {low}..{high}")
        if off < 1e-7 or not patch.covers(Point(centre)):
            broken("near-centre", "told in the centre, or of a centre outside")
    sure = patch.contains(Point(centre)) and patch.boundary.distance(Point(at)) > 1e-3
    if not told and sure and 1e-3 < off < low - SURE:
        broken("near-centre", f"{off} mm off the centre of a patch {low * 10} mm wide, untold")


def _judge_open(report: dict[str, Any], patch: Polygon, lines: list[Line], touch: float, broken: Any) -> None:
    """The widest circle free of stitching, sought by moving seam and stitches inward together."""
    limit = report["settings"]["batting_width"]
    told = [f for f in report["findings"] if f["code"] == "open-area"]
    if len(told) > 1:
        broken("open-area", "told twice")
    runs = []
    for line in lines:
        ends = [corner * (line.radius / np.hypot(*corner)) for corner in line.side[[0, -1]]]
        runs.append(np.vstack([ends[0], line.side, ends[1]]) + line.anchor)
        for echo in line.echoes:
            inner = np.hypot(*echo[[0, -2]].T)
            is_cut = line.radius and np.abs(inner - line.radius).max() < 4 * touch
            runs.append((echo[:-1] if is_cut else echo) + line.anchor)
    lines_and_seam = shapely.multilinestrings([LineString(run) for run in runs] + _ring_lines(patch))
    for f in told:
        at, width = Point(f["at"]), f["value"]
        clear = 2 * at.distance(lines_and_seam)
        # (the place is found to within a hair's breadth of the widest)
        if not patch.covers(at) or clear < width - max(0.02, 0.01 * width):
            broken("open-area", f"told {width} at {f['at']}, where {clear:.4f} mm are free")
        if width <= limit or abs(f["limit"] - limit) > SURE:
            broken("open-area", f"told {width} against {f['limit']}, set to {limit}")
    widest = max([limit] + [f["value"] for f in told])
    # (told to 2 %: nobody measures a bare place more closely)
    place = widest_free(patch, lines_and_seam, 0.51 * widest + 0.01)
    if place is not None:
        broken("open-area", f"{1.02 * widest + 0.02:.3f} mm are free at {place}, told {widest}")


def _ring_lines(patch: Polygon) -> list[LineString]:
    return [LineString(ring.coords) for ring in (patch.exterior, *patch.interiors)]


def widest_free(patch: Polygon, lines: Any, reach: float) -> tuple[float, float] | None:
    """A place in ``patch`` further than ``reach`` from all ``lines`` (the seam among them), or None.

    By squares that are cut in four as long as such a place may lie in them.
    """
    x0, y0, x1, y1 = patch.bounds
    if min(x1 - x0, y1 - y0) < 2 * reach:
        return None
    shapely.prepare(lines)
    shapely.prepare(patch)
    size = reach
    nx, ny = (math.ceil((high - low) / size) for low, high in ((x0, x1), (y0, y1)))
    grid = np.meshgrid(x0 + size * (np.arange(nx) + 0.5), y0 + size * (np.arange(ny) + 0.5))
    centre = np.stack(grid, axis=-1).reshape(-1, 2)
    for _ in range(9):
        points = shapely.points(centre)
        inside = shapely.contains_xy(patch, centre)
        free = inside & ~shapely.dwithin(lines, points, reach)
        if free.any():
            at = centre[int(np.argmax(free))]
            return float(at[0]), float(at[1])
        half = size * math.sqrt(0.5)
        least = max(reach - half, 0.0)
        # (a square whose middle lies outside reaches inside only past the seam, which is then near)
        keep = np.where(inside, ~shapely.dwithin(lines, points, least), shapely.dwithin(lines, points, half))
        size /= 2
        step = size / 2 * np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)])
        centre = (centre[keep][:, None] + step[None]).reshape(-1, 2)
        if not len(centre) or len(centre) > 200_000:
            break
    return None


def _judge_bare(report: dict[str, Any], parts: list[Polygon], broken: Any) -> None:
    """With several fans: parts without any are pinched, and large pieces out of sight are told."""
    codes = [f["code"] for f in report["findings"]]
    regions = [polygon_of(fan["region"]) for fan in report["fans"]]
    bare = [part for part in parts if not any(region.intersects(part) for region in regions)]
    if codes.count("pinched") > len([p for p in bare if p.area > 0]) or (
        any(part.area > 1.0 for part in bare) and "pinched" not in codes
    ):
        broken("pinched", f"{len(bare)} parts without a fan, {codes.count('pinched')} findings")
    hidden = [polygon_of(piece) for piece in report["out_of_sight"]["areas"]]
    within = [
        piece for piece in hidden if not any(part.covers(piece.representative_point()) for part in bare)
    ]
    largest = max((piece.area for piece in within), default=0.0)
    limit = (report["settings"]["visible_width"] / 2) ** 2
    if largest > limit + SPECK and "out-of-sight" not in codes:
        broken("out-of-sight", f"{largest:.6g} mm² in one piece out of sight, and no finding")
    if not within and "out-of-sight" in codes:
        broken("out-of-sight", "a finding, and nothing is out of sight")
