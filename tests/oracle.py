"""The examiner: judges a fit from its figures alone, written apart from the engine.

It knows the design page (3.2 to 3.10 and the report of section 5) and nothing of how the engine works:
shapely and plain all-pairs numpy only, nothing of ``geometry`` or ``app`` is imported. What an anchor sees is
found by shooting one ray into every interval between two neighbouring directions and cutting it with every
edge there is. ``oracle_lines`` judges echoes, hold-back, stitch path and totals, ``oracle_fans`` several fans
together and the other findings.

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
from tests.oracle_lines import FLAT, grid, judge_insides, judge_path, judge_totals, lines_of

ON = 1e-7
"""mm. An anchor this close to an edge lies on it (the engine's contract, tolerances.ON_EDGE)."""
TOUCH = 1e-6
"""mm. How far a point that lies on an edge may miss it."""
SPLIT = 1e-11
"""rad. Directions closer than this are one."""
MEETS = 1e-9
"""rad. Sight that is interrupted by less than this is not (the engine's choice: no thread is as thin)."""
SEEN_ANGLE = 1e-6
"""rad. A visible piece narrower than this need not yield a wedge."""
SEEN_LENGTH = 1e-6
"""mm. A visible piece shorter than this need not yield a wedge."""
HAIR = 1e-6
"""mm. Where an edge's line passes this near to the anchor, directions no longer tell places on it: a place
50 mm away moves by 0.025 mm with ``SPLIT``. A wedge of nothing else, narrower than ``SEEN_ANGLE``, is a hair,
and its ends are not judged."""
GAP_MET = 0.05
"""mm. The gap between neighbours that met is exact to this (issue 2)."""
GAP_LEAST = 1e-3
"""mm. No neighbours stand closer than the gap by more than this."""
TIGHT = 1e-3
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


# ------------------------------------------------------------------------------------- what the anchor sees


@dataclass(frozen=True)
class Ring:
    """One ring of the region with the marks put in as points. ``at`` is relative to the anchor."""

    at: np.ndarray
    """(n, 2), open."""
    span: np.ndarray
    """(n,) int: the span of the edge from point i to i + 1; unique over all rings."""
    alone: list[np.ndarray]
    """The mark of a ring that has but one: its span begins and ends there."""


@dataclass
class Sector:
    """Consecutive visible pieces of one span without a jump. Points relative to the anchor."""

    span: int
    start: float
    """rad; ``end`` is more than ``start``, and may pass pi."""
    end: float
    at: np.ndarray
    """(n, 2): the seen edge, by growing direction."""
    meets_next: bool = False
    """Whether the next sector begins where this one ends."""
    turns: np.ndarray | None = None

    @property
    def width(self) -> float:
        return self.end - self.start

    @property
    def length(self) -> float:
        return float(np.hypot(*np.diff(self.at, axis=0).T).sum())

    @property
    def significant(self) -> bool:
        # (an edge whose line passes through the anchor is collinear with it: no finding, 3.5)
        edge = np.diff(self.at, axis=0)
        off = np.abs(_cross(self.at[:-1], edge)) > ON * np.hypot(*edge.T)
        return self.width > SEEN_ANGLE and self.length > SEEN_LENGTH and bool(off.any())

    def reach(self, angle: Any) -> Any:
        """Distance from the anchor to the seen edge in directions inside the sector."""
        if self.turns is None:
            turn = np.unwrap(np.arctan2(self.at[:, 1], self.at[:, 0]))
            off = 0.5 * (self.start + self.end) - 0.5 * (turn[0] + turn[-1])
            self.turns = turn + 2 * math.pi * round(off / (2 * math.pi))
        angle = np.asarray(angle, dtype=float)
        k = np.minimum(np.maximum(np.searchsorted(self.turns, angle) - 1, 0), len(self.turns) - 2)
        p, q = self.at[k], self.at[k + 1]
        e = q - p
        far = np.maximum(np.hypot(p[..., 0], p[..., 1]), np.hypot(q[..., 0], q[..., 1]))
        with np.errstate(divide="ignore", invalid="ignore"):
            out = _cross(p, e) / (np.cos(angle) * e[..., 1] - np.sin(angle) * e[..., 0])
        return np.where(np.isfinite(out), np.minimum(np.maximum(out, 0), far), far)[()]


@dataclass(frozen=True)
class Sight:
    """What one anchor sees of one region."""

    sectors: list[Sector]
    area: float
    """mm² of the region in sight."""
    inside: bool
    """Whether the anchor belongs to the region (its edge included)."""


def _cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _open(ring: Any) -> np.ndarray:
    at = np.asarray(ring.coords, dtype=float)[:-1, :2]
    keep = np.any(at != np.roll(at, 1, axis=0), axis=1)
    return at[keep]


def _rings(polygon: Polygon) -> list[np.ndarray]:
    return [_open(ring) for ring in (polygon.exterior, *polygon.interiors)]


Placed = list[list[tuple[int, float, dict[str, Any]]]]


def place_marks(region: Polygon, marks: list[dict[str, Any]]) -> Placed:
    """For every ring of ``region``: its marks as (edge, distance along the edge, mark), in ring order.

    Where two rings touch, a mark belongs to the ring on which the other marks of its side lie.
    """
    rings = _rings(region)
    if not marks:
        return [[] for _ in rings]
    at = np.array([mark["at"] for mark in marks], dtype=float)
    away, edge, along = (np.zeros((len(rings), len(marks))) for _ in range(3))
    for i, ring in enumerate(rings):
        e = np.roll(ring, -1, axis=0) - ring
        square = (e * e).sum(1)
        off = at[:, None] - ring[None]
        t = np.clip((off * e).sum(2) / square, 0, 1)
        off -= t[..., None] * e
        d = np.hypot(off[..., 0], off[..., 1])
        k = np.argmin(d, axis=1)
        row = np.arange(len(marks))
        away[i], edge[i], along[i] = d[row, k], k, t[row, k] * np.sqrt(square[k])
    near = away <= away.min(axis=0) + 10 * TOUCH
    home: dict[str, int] = {}
    for j, mark in enumerate(marks):
        if near[:, j].sum() == 1:
            own = int(np.argmax(near[:, j]))
            home.setdefault(_side(mark), own)
            if mark["kind"] == "corner":  # there another side ends, which may have no mark but these two
                home.setdefault(mark["name"].split("-")[0] if "-" in mark["name"] else mark["name"][0], own)
    placed: Placed = [[] for _ in rings]
    for j, mark in enumerate(marks):
        i = home.get(_side(mark), -1)
        if i < 0 or not near[i, j]:
            i = int(np.argmin(away[:, j]))
        placed[i].append((int(edge[i, j]), float(along[i, j]), mark))
    for ring_marks in placed:
        ring_marks.sort(key=lambda item: item[:2])
    return placed


def _side(mark: dict[str, Any]) -> str:
    return str(mark.get("side") or mark["name"].rstrip("0123456789"))


def _marked_rings(region: Polygon, marks: Placed, anchor: np.ndarray) -> list[Ring]:
    rings, out, first = _rings(region), [], 0
    for ring, placed in zip(rings, marks, strict=True):
        n = len(ring)
        length = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
        points: list[np.ndarray] = []
        spans: list[int] = []
        begun = 0
        by_edge: dict[int, list[tuple[float, np.ndarray]]] = {}
        for k, s, mark in placed:
            if s > length[k] - TOUCH:  # at the edge's end: it is the next edge's first point
                k, s = (k + 1) % n, 0.0
            by_edge.setdefault(k, []).append((s, np.asarray(mark["at"], dtype=float)))
        for k in range(n):
            cuts = sorted(by_edge.get(k, []), key=lambda cut: cut[0])
            if cuts and cuts[0][0] < TOUCH:
                begun += 1
                cuts = [cut for cut in cuts if cut[0] >= TOUCH]
            points.append(ring[k])
            spans.append(begun)
            for _, at in cuts:
                begun += 1
                points.append(at)
                spans.append(begun)
        span = np.array(spans)
        if begun:
            span[span == 0] = begun  # the ring's first point lies inside a span
        alone = [np.asarray(placed[0][2]["at"], float) - anchor] if begun == 1 else []
        out.append(Ring(np.array(points) - anchor, span + first, alone))
        first += begun + 1
    return out


def look(
    anchor: tuple[float, float],
    region: Polygon,
    patch: Polygon,
    others: list[Polygon],
    marks: Placed,
) -> Sight:
    """What ``anchor`` sees of ``region`` (3.4), by rays against every edge."""
    a = np.asarray(anchor, dtype=float)
    rings = _marked_rings(region, marks, a)
    begin = np.vstack([ring.at for ring in rings])
    finish = np.vstack([np.roll(ring.at, -1, axis=0) for ring in rings])
    span = np.concatenate([ring.span for ring in rings])
    inside = region.distance(Point(a)) <= ON
    targets = [begin]
    if inside:
        block_a = block_b = np.zeros((0, 2))
    else:
        walls = [ring - a for polygon in (patch, *others) for ring in _rings(polygon)]
        block_a = np.vstack(walls)
        block_b = np.vstack([np.roll(wall, -1, axis=0) for wall in walls])
        targets.append(block_a)
        away = _edge_distance(block_a, block_b) > ON
        block_a, block_b = block_a[away], block_b[away]
    far = _edge_distance(begin, finish) > ON if inside else np.ones(len(begin), dtype=bool)
    number = np.flatnonzero(far)
    target = np.vstack(targets)
    target = target[np.hypot(*target.T) > ON]
    angle = np.sort(np.arctan2(target[:, 1], target[:, 0]))
    angle = angle[np.append(True, np.diff(angle) > SPLIT)]
    if len(angle) > 1 and angle[0] + 2 * math.pi - angle[-1] <= SPLIT:
        angle = angle[:-1]
    nxt = np.append(angle[1:], angle[0] + 2 * math.pi)
    middle = 0.5 * (angle + nxt)
    ray = np.stack([np.cos(middle), np.sin(middle)], axis=1)

    first, exit_, wall = (np.full(len(ray), math.inf) for _ in range(3))
    near, which = (np.full(len(ray), -1) for _ in range(2))
    for rows in np.array_split(
        np.arange(len(ray)), max(1, len(ray) * (len(begin) + len(block_a)) // 2_000_000)
    ):
        t = _crossings(ray[rows], begin[far], finish[far])
        k1 = np.argmin(t, axis=1)
        t1 = np.take_along_axis(t, k1[:, None], axis=1)[:, 0]
        first[rows] = t1
        if inside:
            exit_[rows], which[rows] = t1, number[k1]
        else:
            np.put_along_axis(t, k1[:, None], math.inf, axis=1)
            k2 = np.argmin(t, axis=1)
            near[rows] = number[k1]
            exit_[rows] = np.take_along_axis(t, k2[:, None], axis=1)[:, 0]
            which[rows] = number[k2]
            wall[rows] = _crossings(ray[rows], block_a, block_b).min(axis=1)
    with np.errstate(invalid="ignore"):
        if inside:
            mid = a + ray * (0.5 * np.where(np.isfinite(exit_), exit_, 0))[:, None]
            seen = np.isfinite(exit_) & shapely.contains_xy(region, mid)
        else:
            half = np.where(np.isfinite(first), 0.5 * first, 0)
            mid = a + ray * half[:, None]
            deep = a + ray * np.where(np.isfinite(exit_), 0.5 * (first + exit_), 0)[:, None]
            seen = (
                np.isfinite(exit_)
                & (first < wall)
                & shapely.contains_xy(patch, mid)
                & ~shapely.contains_xy(region, mid)
                & shapely.contains_xy(region, deep)
            )
    hit0 = _cut(angle, begin[which], finish[which])
    hit1 = _cut(nxt, begin[which], finish[which])
    area = 0.5 * float(_cross(hit0, hit1)[seen].sum())
    if not inside:
        near0, near1 = _cut(angle, begin[near], finish[near]), _cut(nxt, begin[near], finish[near])
        area -= 0.5 * float(_cross(near0, near1)[seen].sum())
    stops = [at for ring in rings for at in ring.alone]
    return Sight(_chain(angle, nxt, hit0, hit1, span[which], seen, stops), area, bool(inside))


def _edge_distance(p: np.ndarray, q: np.ndarray) -> np.ndarray:
    """Distance of every edge from the origin."""
    e = q - p
    t = np.clip(-(p * e).sum(1) / np.maximum((e * e).sum(1), 1e-300), 0, 1)
    return np.asarray(np.hypot(*(p + t[:, None] * e).T))


def _crossings(ray: np.ndarray, p: np.ndarray, q: np.ndarray) -> np.ndarray:
    """(rays, edges): distance along each ray to each edge, inf where they miss."""
    if not len(p):
        return np.full((len(ray), 1), math.inf)
    cp = np.outer(ray[:, 0], p[:, 1]) - np.outer(ray[:, 1], p[:, 0])
    cq = np.outer(ray[:, 0], q[:, 1]) - np.outer(ray[:, 1], q[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        t = _cross(p, q - p)[None, :] / (cq - cp)
    return np.where(((cp > 0) != (cq > 0)) & (t > 0), t, math.inf)


def _cut(angle: np.ndarray, p: np.ndarray, q: np.ndarray) -> np.ndarray:
    """Where the rays meet their edges; exactly an end of the edge where the ray runs through it."""
    ray = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    e = q - p
    with np.errstate(divide="ignore", invalid="ignore"):
        u = np.clip(-_cross(ray, p) / _cross(ray, e), 0, 1)
    hit = p + np.nan_to_num(u)[:, None] * e
    for end in (p, q):
        off = np.arctan2(end[:, 1], end[:, 0]) - angle
        off -= 2 * math.pi * np.round(off / (2 * math.pi))
        through = (np.abs(off) <= 2 * SPLIT) & (np.hypot(*end.T) > ON)
        hit = np.where(through[:, None], end, hit)
    return hit


def _chain(
    angle: np.ndarray,
    nxt: np.ndarray,
    hit0: np.ndarray,
    hit1: np.ndarray,
    span: np.ndarray,
    seen: np.ndarray,
    stops: list[np.ndarray],
) -> list[Sector]:
    """Sectors by growing direction; one that passes the first direction comes last.

    At ``stops`` a sector ends even where the same span goes on.
    """

    def goes_on(last: np.ndarray, here: np.ndarray) -> bool:
        near = np.hypot(*(last - here)) <= 10 * TOUCH
        return bool(near and not any(np.hypot(*(here - stop)) <= 10 * TOUCH for stop in stops))

    edge = hit1 - hit0
    # a piece in line with the anchor is none (3.5): those beside it meet, with a jump between them
    in_line = (np.abs(_cross(hit0, edge)) <= ON * np.hypot(*edge.T)) & (nxt - angle < SEEN_ANGLE)
    sectors: list[Sector] = []
    reached = -math.inf
    for i in np.flatnonzero(seen):
        last = sectors[-1] if sectors else None
        touching = last is not None and abs(reached - angle[i]) <= MEETS
        reached = nxt[i]
        if touching and in_line[i] and np.hypot(*edge[i]) > 10 * TOUCH:
            continue
        if touching and last.span == span[i] and goes_on(last.at[-1], hit0[i]):
            last.end = nxt[i]
            last.at = np.vstack([last.at, hit1[i]])
        else:
            if touching:
                last.meets_next = True
            sectors.append(Sector(int(span[i]), angle[i], nxt[i], np.array([hit0[i], hit1[i]])))
    if sectors and abs(sectors[-1].end - sectors[0].start - 2 * math.pi) <= MEETS:
        first, last = sectors[0], sectors[-1]
        joins = first.span == last.span and goes_on(last.at[-1], first.at[0])
        if len(sectors) > 1 and joins:
            last.end = first.end + 2 * math.pi
            last.at = np.vstack([last.at, first.at[1:]])
            last.meets_next = first.meets_next
            sectors = sectors[1:]
        else:
            last.meets_next = True
    return sectors


# --------------------------------------------------------------------------------------------- giving way


def give_way(one: Sector, two: Sector, clear: float, gap: float) -> tuple[float, float]:
    """How far the end of ``one`` and the start of ``two`` turn back (3.5), found by small steps and halving.

    A sector that runs out of angle first gets ``inf``.
    """
    r1, r2 = one.reach(one.end), two.reach(two.start)
    share1, share2 = r2 / (r1 + r2), r1 / (r1 + r2)

    def stands(x: Any) -> Any:
        near = np.minimum(one.reach(one.end - x * share1), two.reach(two.start + x * share2))
        return near * spread(clear + x) - gap

    with np.errstate(divide="ignore"):
        out1, out2 = one.width / share1, two.width / share2
    most = min(out1, out2)
    steps = np.linspace(0, most, 64)
    enough = np.flatnonzero(stands(steps) >= 0)
    if len(enough):
        low, high = steps[max(enough[0] - 1, 0)], steps[enough[0]]
        for _ in range(6):  # each narrows it to a thirtieth
            finer = np.linspace(low, high, 31)
            first = int(np.argmax(stands(finer) >= 0))
            low, high = finer[max(first - 1, 0)], finer[first]
        return high * share1, high * share2
    return (math.inf if out1 <= most else most * share1), (math.inf if out2 <= most else most * share2)


def spread(phi: Any) -> Any:
    """s of 3.5 for the angle swept from one leg to the other through the clear space."""
    between = np.minimum(phi, 2 * math.pi - phi)
    return np.where(between < math.pi / 2, np.sin(np.clip(between, 0, math.pi)), 1.0)


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
        corners = np.vstack([ring for part in parts for ring in _rings(part)])
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
        hair &= bool((np.abs(_cross(side[:-1] - a, step)) <= HAIR * np.hypot(*step.T)).all())
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
    kept = {sight.sectors[k].span for k in owner}
    for span in sorted({sight.sectors[k].span for k in sure} - kept):
        mine = [k for k in sure if sight.sectors[k].span == span]
        here = [k for k in lost if sight.sectors[k].span == span]
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
            while _joined(sight, j, step):
                j = (j + step) % n
                if j in owner or j in run:
                    break
                run.append(j)
        done.update(run)
        if all(_would_fit(sight, owner, j, gap) for j in run):
            broken("lost", f"lost without need: {', '.join(_words(sight.sectors[j], a) for j in run[:4])}")


def _joined(sight: Sight, k: int, step: int) -> bool:
    return sight.sectors[k].meets_next if step > 0 else sight.sectors[k - 1].meets_next


def _neighbour(sight: Sight, owner: dict[int, int], k: int, step: int) -> tuple[int | None, float]:
    """The next sector with a wedge, and the clear angle up to it; None beside unlit space."""
    n, clear, j = len(sight.sectors), 0.0, k
    for _ in range(n):
        if not _joined(sight, j, step):
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
            if not _joined(sight, k, step):  # beside the seam that holds the anchor: not turned back
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
        if apart > gap + GAP_MET and not (still and not direct):
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
        if (near * spread(clear + x * (gave1 + gave2)) > gap + GAP_MET).any():
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


# -------------------------------------------------------------------------------------------------- marks


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
    for ring, placed in zip(_rings(region), everywhere, strict=True):
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
    for ring in _rings(patch):
        edge = np.roll(ring, -1, axis=0) - ring
        length = np.hypot(*edge.T)
        t = np.clip(((at - ring) * edge).sum(1) / length**2, 0, 1)
        near = np.hypot(*(ring + t[:, None] * edge - at).T) <= margin + FLAT
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
    seams = [shapely.LinearRing(seam) for seam in _rings(patch)]
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
    turn = np.degrees(np.arctan2(_cross(back, edge), (back * edge).sum(1)))
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
