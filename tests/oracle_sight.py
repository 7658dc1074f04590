"""The examiner's eye: what an anchor sees of a region (3.4), and how far two sectors give way (3.5).

By rays against every edge there is; nothing of ``geometry`` is imported. mm, radians, y down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import Point, Polygon

ON = 1e-7
"""mm. An anchor this close to an edge lies on it (the engine's contract, tolerances.ON_EDGE)."""
TOUCH = 1e-6
"""mm. How far a point that lies on an edge may miss it."""
SPLIT = 1e-11
"""rad. Directions closer than this are one."""
MEETS = 1e-9
"""rad. Sight that is interrupted by less than this is not (the engine's choice: no thread is as thin)."""
SEEN_ANGLE = 1e-7
"""rad. A visible piece narrower than this need not yield a wedge."""
SEEN_LENGTH = 1e-6
"""mm. A visible piece shorter than this need not yield a wedge."""
HAIR = 1e-6
"""mm. Where an edge's line passes this near to the anchor, directions no longer tell places on it: a place
50 mm away moves by 0.025 mm with ``SPLIT``. A wedge of nothing else, narrower than ``SEEN_ANGLE``, is a hair,
and its ends are not judged."""


@dataclass(frozen=True)
class Ring:
    """One ring of the region with the marks put in as points. ``at`` is relative to the anchor."""

    at: np.ndarray
    """(n, 2), open."""
    span: np.ndarray
    """(n,) int: the span of the edge from point i to i + 1; unique over all rings."""
    alone: list[np.ndarray]
    """The mark of a ring that has but one: its span begins and ends there."""
    names: dict[int, tuple[str, str]]
    """For each span the names of the marks at its two ends."""


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
    joined: tuple[int, ...] = ()
    """The spans of all sectors that were merged into this one, in order."""

    @property
    def spans(self) -> tuple[int, ...]:
        return self.joined or (self.span,)

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
        off = np.abs(cross(self.at[:-1], edge)) > ON * np.hypot(*edge.T)
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
            out = cross(p, e) / (np.cos(angle) * e[..., 1] - np.sin(angle) * e[..., 0])
        return np.where(np.isfinite(out), np.minimum(np.maximum(out, 0), far), far)[()]


@dataclass(frozen=True)
class Sight:
    """What one anchor sees of one region."""

    sectors: list[Sector]
    area: float
    """mm² of the region in sight."""
    inside: bool
    """Whether the anchor belongs to the region (its edge included)."""
    names: dict[int, tuple[str, str]]
    """For each span the names of the marks at its two ends."""

    def named(self, spans: tuple[int, ...], marks: tuple[str, str]) -> bool:
        """Whether ``spans`` run from the first to the second of ``marks``. Of several that were merged one
        more at either end may be too narrow to be seen."""
        first, last = self.names[spans[0]], self.names[spans[-1]]
        beyond = set(self.names.values()) if len(spans) > 1 else set()
        begins = first[0] == marks[0] or (marks[0], first[0]) in beyond
        return begins and (last[1] == marks[1] or (last[1], marks[1]) in beyond)

    def meets(self, k: int, step: int) -> bool:
        """Whether sector ``k`` meets the next one (``step`` 1) or the one before it (-1)."""
        return self.sectors[k].meets_next if step > 0 else self.sectors[k - 1].meets_next


def cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _open(ring: Any) -> np.ndarray:
    at = np.asarray(ring.coords, dtype=float)[:-1, :2]
    keep = np.any(at != np.roll(at, 1, axis=0), axis=1)
    return at[keep]


def rings_of(polygon: Polygon) -> list[np.ndarray]:
    return [_open(ring) for ring in (polygon.exterior, *polygon.interiors)]


Placed = list[list[tuple[int, float, dict[str, Any]]]]


def place_marks(region: Polygon, marks: list[dict[str, Any]]) -> Placed:
    """For every ring of ``region``: its marks as (edge, distance along the edge, mark), in ring order.

    Where two rings touch, a mark belongs to the ring on which the other marks of its side lie.
    """
    rings = rings_of(region)
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
    rings, out, first = rings_of(region), [], 0
    for ring, placed in zip(rings, marks, strict=True):
        n = len(ring)
        length = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
        points: list[np.ndarray] = []
        spans: list[int] = []
        begun = 0
        begins: list[str] = []
        by_edge: dict[int, list[tuple[float, np.ndarray, str]]] = {}
        for k, s, mark in placed:
            if s > length[k] - TOUCH:  # at the edge's end: it is the next edge's first point
                k, s = (k + 1) % n, 0.0
            by_edge.setdefault(k, []).append((s, np.asarray(mark["at"], dtype=float), mark.get("name", "")))
        for k in range(n):
            cuts = sorted(by_edge.get(k, []), key=lambda cut: cut[0])
            if cuts and cuts[0][0] < TOUCH:
                begun += 1
                begins.append(cuts[0][2])
                cuts = [cut for cut in cuts if cut[0] >= TOUCH]
            points.append(ring[k])
            spans.append(begun)
            for _, at, name in cuts:
                begun += 1
                begins.append(name)
                points.append(at)
                spans.append(begun)
        span = np.array(spans)
        if begun:
            span[span == 0] = begun  # the ring's first point lies inside a span
        alone = [np.asarray(placed[0][2]["at"], float) - anchor] if begun == 1 else []
        ends = [*begins[1:], *begins[:1]]
        names = {first + 1 + i: pair for i, pair in enumerate(zip(begins, ends, strict=True))}
        out.append(Ring(np.array(points) - anchor, span + first, alone, names))
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
        walls = [ring - a for polygon in (patch, *others) for ring in rings_of(polygon)]
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
    area = 0.5 * float(cross(hit0, hit1)[seen].sum())
    if not inside:
        near0, near1 = _cut(angle, begin[near], finish[near]), _cut(nxt, begin[near], finish[near])
        area -= 0.5 * float(cross(near0, near1)[seen].sum())
    stops = [at for ring in rings for at in ring.alone]
    names = {key: pair for ring in rings for key, pair in ring.names.items()}
    return Sight(_chain(angle, nxt, hit0, hit1, span[which], seen, stops), area, bool(inside), names)


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
        t = cross(p, q - p)[None, :] / (cq - cp)
    return np.where(((cp > 0) != (cq > 0)) & (t > 0), t, math.inf)


def _cut(angle: np.ndarray, p: np.ndarray, q: np.ndarray) -> np.ndarray:
    """Where the rays meet their edges; exactly an end of the edge where the ray runs through it."""
    ray = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    e = q - p
    with np.errstate(divide="ignore", invalid="ignore"):
        u = np.clip(-cross(ray, p) / cross(ray, e), 0, 1)
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
    in_line = (np.abs(cross(hit0, edge)) <= ON * np.hypot(*edge.T)) & (nxt - angle < SEEN_ANGLE)
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
