"""The examiner's fourth part: marks, their feet and what a tape measures (3.3).

Judged from the report's figures; nothing of ``geometry`` is imported. mm, y down.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from tests.oracle_sight import TOUCH, Placed, cross, rings_of

BESIDE = 0.05
"""mm. A corner's foot is a tip of the seam where both sides of the tip are nearer to the mark than the margin
and this: a side may be a flattened curve, and bend away from the mark by as much as that may stray."""


def judge_marks(
    patch: Polygon,
    region: Polygon,
    area: Any,
    marks: list[dict[str, Any]],
    everywhere: Placed,
    settings: dict[str, Any],
    touch: float,
    broken: Any,
) -> None:
    """3.3: marks lie on the edge, corners where it turns, divisions equal from corner to corner."""
    names = [mark["name"] for mark in marks]
    if len(set(names)) != len(names):
        broken("marks", f"names are not unique: {sorted(n for n in set(names) if names.count(n) > 1)[:5]}")
    if not marks:
        broken("marks", "none")
        return
    points = shapely.points([mark["at"] for mark in marks])
    off = shapely.distance(points, region.boundary)
    if off.max() > touch:
        broken("marks", f"{names[int(off.argmax())]} lies {off.max():.6g} mm off the edge")
    _judge_feet(patch, marks, settings["edge_margin"], touch, broken)
    touched = bool(settings["own_marks"] or settings["removed_marks"])
    for ring, placed in zip(rings_of(region), everywhere, strict=True):
        if not touched:
            _judge_divisions(ring, placed, settings, touch, broken)
        _judge_corners(patch, area, ring, placed, settings, touch, broken)
        _judge_tape(patch, ring, placed, broken)


def _judge_feet(
    patch: Polygon, marks: list[dict[str, Any]], margin: float, touch: float, broken: Any
) -> None:
    known = [mark for mark in marks if "foot" in mark]
    if not known:
        return
    at, foot = (shapely.points([mark[key] for mark in known]) for key in ("at", "foot"))
    on = shapely.distance(foot, patch.boundary)
    if on.max() > touch:
        broken("foot", f"{known[int(on.argmax())]['name']}: its foot lies {on.max():.6g} mm off the seam")
    longer = shapely.distance(at, foot) - shapely.distance(at, patch.boundary)
    # a corner's foot may be a corner of the seam, which one finds on cloth: one near by, or the tip between
    # whose sides the mark stands, however sharp it is
    on_corner = shapely.distance(foot, shapely.MultiPoint(shapely.get_coordinates(patch))) <= touch
    close = on_corner & (shapely.distance(at, foot) <= 2 * margin + touch)
    for k in np.flatnonzero(longer > touch):
        if known[k]["kind"] != "corner" or not (close[k] or _mitre_of(patch, known[k], margin)):
            broken(
                "foot", f"{known[k]['name']} at {known[k]['at']}: the seam is nearer than {known[k]['foot']}"
            )
    for mark in known:
        if min(mark["from_start"], mark["to_end"]) < -touch:
            broken("foot", f"{mark['name']}: {mark['from_start']} from start, {mark['to_end']} to end")


def _mitre_of(patch: Polygon, mark: dict[str, Any], margin: float) -> bool:
    """Whether the foot lies between the two places where the seam comes within one margin of the mark.

    Along one ring of the seam, the shorter way round: so lies a tip, straight or curved, whose two sides
    the mark stands between.
    """
    at, foot = np.asarray(mark["at"], float), np.asarray(mark["foot"], float)
    for ring in rings_of(patch):
        edge = np.roll(ring, -1, axis=0) - ring
        length = np.hypot(*edge.T)
        t = np.clip(((at - ring) * edge).sum(1) / length**2, 0, 1)
        near = np.hypot(*(ring + t[:, None] * edge - at).T) <= margin + BESIDE
        before = np.concatenate([[0.0], np.cumsum(length)])
        place = (before[:-1] + t * length)[near]
        for k in np.flatnonzero(np.hypot(*(ring - foot).T) <= 10 * TOUCH):
            off = np.mod(place - before[k] + before[-1] / 2, before[-1]) - before[-1] / 2
            if off.size and off.min() < -TOUCH and off.max() > TOUCH and np.ptp(off) < before[-1] / 2:
                return True
    return False


def _judge_tape(
    patch: Polygon, ring: np.ndarray, placed: list[tuple[int, float, dict[str, Any]]], broken: Any
) -> None:
    """What a tape measures lies along the seam, one way or the other, or straight where that is a detour."""
    if not placed or "foot" not in placed[0][2]:
        return
    before = np.concatenate([[0.0], np.cumsum(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T))])
    total, n = before[-1], len(placed)
    where = [before[k] + s for k, s, _ in placed]
    corner = [i for i, (_, _, mark) in enumerate(placed) if mark["kind"] == "corner"]
    seams = [shapely.LinearRing(seam) for seam in rings_of(patch)]
    feet = shapely.points([mark["foot"] for _, _, mark in placed])
    reach = shapely.distance(feet, shapely.points([mark["at"] for _, _, mark in placed]))
    off = np.array([shapely.distance(seam, feet) for seam in seams])
    for one, two in zip(corner, [*corner[1:], *(c + n for c in corner[:1])], strict=True):
        for i in range(one, two):
            mark = placed[i % n][2]
            here = where[i % n] + (total if i >= n else 0)
            gone, left = here - where[one], where[two % n] + (total if two >= n else 0) - here
            for word, said, edge, end in (
                ("from start", mark["from_start"], gone, one % n),
                ("to end", mark["to_end"], left, two % n),
            ):
                straight = shapely.distance(feet[i % n], feet[end])
                ways = [straight]
                for seam, away in zip(seams, off, strict=True):
                    if max(away[i % n], away[end]) <= 10 * TOUCH:
                        way = abs(seam.project(feet[i % n]) - seam.project(feet[end]))
                        ways += [way, seam.length - way]
                if min(abs(said - way) for way in ways) > 1e-4:
                    told = ", ".join(f"{way:.3f}" for way in ways)
                    broken("tape", f"{mark['name']}: {said:.3f} mm {word}, straight or along the seam {told}")
                elif said > 2 * (edge + reach[i % n] + reach[end]) + TOUCH and straight > TOUCH:
                    broken(
                        "tape",
                        f"{mark['name']}: {said:.3f} mm {word}, {edge:.3f} mm along the stitchable area",
                    )
            if one + n != two and len(corner) > 1 and mark["kind"] == "corner" and mark["from_start"] > TOUCH:
                broken("tape", f"{mark['name']} lies {mark['from_start']} mm from itself")


def _judge_divisions(
    ring: np.ndarray,
    placed: list[tuple[int, float, dict[str, Any]]],
    settings: dict[str, Any],
    touch: float,
    broken: Any,
) -> None:
    if not placed:
        broken("marks", "a ring of the stitchable area without marks")
        return
    lengths = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    before = np.concatenate([[0.0], np.cumsum(lengths)])
    total = before[-1]
    where = np.array([before[k] + s for k, s, _ in placed])
    corner = [i for i, (_, _, mark) in enumerate(placed) if mark["kind"] == "corner"]
    if not corner:
        step = np.diff(np.append(where, where[0] + total))
        # eight, or more where the longest span asks for it
        least = max(8, math.ceil(total / settings["longest_span"] - 1e-6)) if settings["longest_span"] else 8
        if not settings["side_spans"] and len(placed) != least:
            broken("marks", f"{len(placed)} marks on an edge without corners, {least} expected")
        if np.ptp(step) > touch * 4:
            broken(
                "marks", f"an edge without corners is divided into {step.min():.6f} to {step.max():.6f} mm"
            )
        return
    for one, two in zip(corner, [*corner[1:], corner[0] + len(placed)], strict=True):
        inner = [where[i % len(placed)] + (total if i >= len(placed) else 0) for i in range(one, two + 1)]
        step = np.diff(inner)
        if np.ptp(step) > touch * 4:
            broken("marks", f"a side is divided into {step.min():.6f} to {step.max():.6f} mm")
        if not settings["side_spans"]:
            count = settings["spans_per_side"]
            if settings["longest_span"]:
                count = max(count, math.ceil((inner[-1] - inner[0]) / settings["longest_span"] - 1e-6))
            # (spans shorter than a millimetre may be left undivided: the engine's choice)
            if len(step) != count and not (len(step) < count and inner[-1] - inner[0] < count):
                name = placed[one][2]["name"]
                broken("marks", f"{len(step)} spans from {name} on instead of {count}")


def _judge_corners(
    patch: Polygon,
    area: Any,
    ring: np.ndarray,
    placed: list[tuple[int, float, dict[str, Any]]],
    settings: dict[str, Any],
    touch: float,
    broken: Any,
) -> None:
    removed = settings["removed_marks"]
    edge = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(*edge.T)
    back = np.roll(edge, 1, axis=0)
    turn = np.degrees(np.arctan2(cross(back, edge), (back * edge).sum(1)))
    run, least = settings["corner_run"], settings["corner_angle"]
    corners = [mark for _, _, mark in placed if mark["kind"] == "corner"]
    at = np.array([mark["at"] for mark in corners], dtype=float).reshape(-1, 2)
    tips = _cut_tips(patch, area, ring)
    n = len(ring)
    if not removed:
        # a sharp turn with no other point within the run is a corner, exactly there
        for i in np.flatnonzero(
            (np.abs(turn) > least + 1e-6) & (length > run + touch) & (np.roll(length, 1) > run + touch)
        ):
            if i in tips or (i - 1) % n in tips:
                continue
            if not len(at) or np.hypot(*(at - ring[i]).T).min() > touch:
                broken("corner", f"no corner at {ring[i]}, where the edge turns {turn[i]:.3f}°")
        for i, away in tips.items():
            middle = ring[i] + edge[i] / 2
            if abs(away - 2 * settings["edge_margin"]) > 1e-3:
                continue
            if turn[i] * turn[(i + 1) % n] < 0 or min(abs(turn[i]), abs(turn[(i + 1) % n])) < 10:
                continue  # a region's border goes on from it
            if length[i] > run and (not len(at) or np.hypot(*(at - middle).T).min() > touch):
                broken("corner", f"no corner in the middle of the cut tip at {middle}")
    # and there is no corner without a turn within the run around it
    before = np.concatenate([[0.0], np.cumsum(length)])
    total = before[-1]
    for k, s, mark in placed:
        if mark["kind"] != "corner":
            continue
        if any(np.hypot(*(ring[i] + edge[i] / 2 - np.asarray(mark["at"]))) <= 10 * touch for i in tips):
            continue
        near = np.mod(before[:-1] - (before[k] + s) + total / 2, total) - total / 2
        inside = np.flatnonzero(np.abs(near) <= run + touch)
        inside = inside[np.argsort(near[inside])]
        best = 0.0
        for i in range(len(inside)):
            # (the engine averages over a run to either side)
            sums = np.cumsum(turn[inside[i:]])[near[inside[i:]] - near[inside[i]] <= 2 * (run + touch)]
            best = max(best, float(np.abs(sums).max()))
        if best <= least - 1e-6:
            broken(
                "corner",
                f"{mark['name']} at {mark['at']} is a corner, but the edge turns {best:.3f}° at most",
            )


def _cut_tips(patch: Polygon, area: Any, ring: np.ndarray) -> dict[int, float]:
    """Edges whose nearest seam point is one and the same seam corner all along; how far their middle is.

    Twice the margin where a mitre was cut square. What is left of a mitred edge beside a corner may have
    that corner nearest all along, too: it is nearer, and may be taken for a cut tip or not. So may the border
    of a region inside the stitchable area, and what such a border leaves of a cut tip (``inf``).
    """
    nxt = np.roll(ring, -1, axis=0)
    corners = shapely.get_coordinates(patch)
    tips: dict[int, float] = {}
    away = shapely.distance(shapely.points(0.5 * (ring + nxt)), patch.boundary)
    known = shapely.distance(shapely.points(ring), shapely.MultiPoint(shapely.get_coordinates(area)))
    whole = (known <= 10 * TOUCH) & (np.roll(known, -1) <= 10 * TOUCH)
    whole &= shapely.distance(shapely.points(0.5 * (ring + nxt)), area.boundary) <= 10 * TOUCH
    tree = shapely.STRtree(shapely.points(corners))
    nearest, reach = tree.query_nearest(
        shapely.points(0.5 * (ring + nxt)), return_distance=True, all_matches=False
    )
    for i, (which, far) in enumerate(zip(nearest[1], reach, strict=True)):
        if far > away[i] + 1e-7 or far < 1e-6:
            continue
        corner = corners[which]
        ends = np.array([ring[i], nxt[i]])
        own = np.hypot(*(ends - corner).T)
        if np.all(own <= shapely.distance(shapely.points(ends), patch.boundary) + 1e-7):
            tips[i] = float(far) if whole[i] else math.inf
    return tips
