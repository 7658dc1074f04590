"""The examiner's second part: what lies inside the wedges, and the one line through them (3.6, 3.7, 3.9).

Judged from the report's figures; nothing of ``geometry`` is imported. Where the design page leaves a choice,
the comment says which one is taken for granted. mm, radians, y down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Any

import numpy as np
import shapely
from shapely import LineString, Point, Polygon

FLAT = 0.05
"""mm. How far the chords of a curve that is stitched may lie inside it."""
SURE = 1e-5
"""mm. Figures this near to their limit may fall on either side."""
SLOW = 24
"""Insets of bent wedges that are worked out by area in one fit; the others are judged by their lines."""


@dataclass(frozen=True)
class Line:
    """One wedge and what is asked of it. Points relative to the anchor, by growing direction."""

    number: int
    fan: int
    anchor: np.ndarray
    ring: np.ndarray
    """(n, 2), open: anchor and side."""
    radius: float
    """Where its legs stop."""
    apex: float
    echoes: list[np.ndarray]
    """Closed, as reported, relative to the anchor."""
    outline: np.ndarray

    @property
    def side(self) -> np.ndarray:
        return self.ring[1:]


def lines_of(report: dict[str, Any]) -> list[Line]:
    """All wedges of the report in the order of their numbers."""
    out = []
    for k, fan in enumerate(report["fans"]):
        a = np.asarray(fan["anchor"], float)
        for wedge in fan["wedges"]:
            side = np.asarray(wedge["side"], float) - a
            turn = np.unwrap(np.arctan2(side[:, 1], side[:, 0]))
            if turn[-1] < turn[0]:
                side, turn = side[::-1], turn[::-1]
            apex = float(turn[-1] - turn[0])
            echoes = [np.asarray(echo, float) - a for echo in wedge["echoes"]]
            outline = np.asarray(wedge["outline"], float) - a
            # (half a turn, but for rounding, may be taken for less or not)
            half = abs(apex - math.pi) < 1e-9
            reaches = bool(np.hypot(*outline[0]) <= SURE)
            less = not reaches if half else apex < math.pi
            radius = held(side, wedge["number"], report["settings"]) if less else 0.0
            ring = np.vstack([[0.0, 0.0], side])
            out.append(Line(wedge["number"], k, a, ring, radius, apex, echoes, outline))
    return out


def held(side: np.ndarray, number: int, settings: dict[str, Any]) -> float:
    """The radius at which the legs of the wedge of this number stop.

    The engine's choice, the design page is silent: between the radius and the side at least the visible
    width is left, and a stitch at least; a wedge of half a turn (not asked here) has none.
    """
    radius = settings["hold_back"] + (settings["stagger"] if number % 2 == 0 else 0.0)
    if not radius:
        return 0.0
    nearest = LineString(side).distance(Point(0, 0))
    return float(min(radius, max(0.0, nearest - least_left(settings))))


def least_left(settings: dict[str, Any]) -> float:
    return float(max(settings["visible_width"], settings["stitch_length"]))


def grid(*shapes: Any) -> float:
    """mm: on what grid areas are cut and joined, coarser where float64 resolves less.

    Without one GEOS errs now and then where edges all but coincide (found by trial).
    """
    bounds = np.abs(np.nan_to_num(shapely.bounds(shapes)))
    return float(max(1e-9, 16 * np.spacing(bounds.max(initial=0.0))))


# ------------------------------------------------------------------------------------- moving lines inward


def inset(ring: np.ndarray, d: float) -> np.ndarray | None:
    """The wedge ``ring`` moved inward by ``d``, mitred: the part at the apex, open, from the apex on.

    By its definition: what is taken away is, of each edge, the strip along it, drawn out at dents to where
    it meets its neighbour's. None where a leg is used up.
    """
    if len(ring) == 3:
        return _triangle(ring, d)
    step = np.roll(ring, -1, axis=0) - ring
    along = step / np.hypot(*step.T)[:, None]
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    before = np.roll(normal, 1, axis=0)
    dent = before[:, 0] * normal[:, 1] - before[:, 1] * normal[:, 0] < 0
    mitre = (before + normal) / np.maximum(1 + (before * normal).sum(1), 1e-9)[:, None]
    here = np.where(dent[:, None], mitre, normal)
    there = np.roll(np.where(dent[:, None], mitre, before), -1, axis=0)
    nxt = np.roll(ring, -1, axis=0)
    strips = shapely.polygons(np.stack([ring, nxt, nxt + d * there, ring + d * here], axis=1))
    left = shapely.difference(Polygon(ring), shapely.union_all(strips, grid_size=1e-9), grid_size=1e-9)
    one, two = along[0], -along[-1]
    flat = abs(one[0] * two[1] - one[1] * two[0]) < 1e-9 and one @ two < 0
    # (where the legs are in line the apex is no corner)
    apex = d * normal[0] if flat else _meet(d * normal[0], one, d * normal[-1], two)
    for leg, way, nxt in ((ring[1], one, along[1]), (ring[-1], two, -along[-2])):
        # a side that goes on in line with its leg: the leg ends where it ended
        if abs(way[0] * nxt[1] - way[1] * nxt[0]) < 1e-6 and abs(apex @ way) >= np.hypot(*leg):
            return None
    for part in shapely.get_parts(left):
        if part.geom_type != "Polygon" or part.area < 1e-9:
            continue
        corner = shapely.get_coordinates(shapely.orient_polygons(part).exterior)[:-1]
        corner = corner[np.hypot(*(corner - np.roll(corner, 1, axis=0)).T) > 1e-6]
        if len(corner) < 3:
            continue
        if flat and np.hypot(*(corner - apex).T).min() > 1e-5:
            corner = _with_point(corner, apex)
        away = np.hypot(*(corner - apex).T)
        if away.min() > 1e-5:
            continue
        corner = np.roll(corner, -int(np.argmin(away)), axis=0)
        first, last = corner[1] - corner[0], corner[-1] - corner[0]
        if all(_aligned(leg, way) for leg, way in ((first, one), (last, two))):
            return corner
    return None


def _with_point(ring: np.ndarray, at: np.ndarray) -> np.ndarray:
    """The ring with ``at`` put into the edge that it lies on, if it lies on one."""
    edge = np.roll(ring, -1, axis=0) - ring
    t = ((at - ring) * edge).sum(1) / (edge * edge).sum(1)
    off = np.where((t > 0) & (t < 1), np.hypot(*(ring + t[:, None] * edge - at).T), math.inf)
    k = int(np.argmin(off))
    return np.insert(ring, k + 1, at, axis=0) if off[k] < 1e-5 else ring


def _aligned(leg: np.ndarray, way: np.ndarray) -> bool:
    return bool(leg @ way > 1e-6 and abs(leg[0] * way[1] - leg[1] * way[0]) < 1e-5)


def _triangle(ring: np.ndarray, d: float) -> np.ndarray | None:
    step = np.roll(ring, -1, axis=0) - ring
    along = step / np.hypot(*step.T)[:, None]
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    start = ring + d * normal
    moved = np.array([_meet(start[k - 1], along[k - 1], start[k], along[k]) for k in range(3)])
    if ((np.roll(moved, -1, axis=0) - moved) * along).sum(1).min() <= 0:
        return None
    return moved


def _meet(p: np.ndarray, u: np.ndarray, q: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Where two straight lines meet."""
    cross = u[0] * v[1] - u[1] * v[0]
    t = ((q - p)[0] * v[1] - (q - p)[1] * v[0]) / cross if cross else math.inf
    return np.asarray(p + t * u)


def _figures(ring: np.ndarray, apex: float) -> tuple[float, float]:
    """Side and across of an open outline that begins at its apex."""
    near = min(np.hypot(*(ring[1] - ring[0])), np.hypot(*(ring[-1] - ring[0])))
    side = float(np.hypot(*np.diff(ring[1:], axis=0).T).sum())
    return side, float(near * (math.sin(apex) if apex < math.pi / 2 else 1.0))


def cut_at(ring: np.ndarray, radius: float) -> np.ndarray:
    """The open outline cut at the radius: its line from one inner end to the other, not closed.

    A ring whose apex lies outside comes back closed, from apex to apex.
    """
    if np.hypot(*ring[0]) >= radius:
        return np.vstack([ring, ring[:1]])
    ends = []
    for corner in (ring[1], ring[-1]):
        way = corner - ring[0]
        # |apex + t way| = radius, the outer solution
        a, b, c = way @ way, 2 * ring[0] @ way, ring[0] @ ring[0] - radius * radius
        ends.append(ring[0] + (-b + math.sqrt(max(b * b - 4 * a * c, 0.0))) / (2 * a) * way)
    return np.vstack([ends[0], ring[1:], ends[1]])


# ---------------------------------------------------------------------------------------------- echoes


def judge_insides(report: dict[str, Any], lines: list[Line], touch: float, broken: Any) -> None:
    """3.6: where legs stop, and echoes: at their spacing, parallel, nested, kept as long as they can be."""
    settings = report["settings"]
    asked, spacing = settings["echo_count"], settings["echo_spacing"]
    told = {f["wedge"]: f for f in report["findings"] if f["code"] == "echo-dropped"}
    if len(told) != sum(f["code"] == "echo-dropped" for f in report["findings"]):
        broken("echo-dropped", "said twice of one wedge")
    for number in set(told) - {line.number for line in lines}:
        broken("echo-dropped", f"names wedge {number}")
    slow = [k for k, line in enumerate(lines) if len(line.ring) > 3]
    by_area = set(slow[:: max(1, math.ceil(len(slow) * max(asked, 1) / SLOW))])
    for k, line in enumerate(lines):
        name = f"wedge {line.number}"
        expected = cut_at(line.ring, line.radius)
        ways = [expected] + ([cut_at(line.ring, 0.0)] if line.radius < SURE else [])
        if not any(_same_outline(line.outline, way, touch) for way in ways):
            broken("hold-back", f"{name}: its outline does not begin {line.radius:.6f} mm from the anchor")
        fitted = len(line.echoes)
        if fitted > asked:
            broken("echo", f"{name}: {fitted} echoes, {asked} asked for")
        if (fitted < asked) != (line.number in told):
            broken("echo-dropped", f"{name}: {fitted} of {asked} echoes, findings on {sorted(told)}")
        elif line.number in told:
            f = told[line.number]
            if (f["value"], f["limit"]) != (fitted, asked):
                broken("echo-dropped", f"{name}: {fitted} of {asked}, told {f['value']} of {f['limit']}")
        before: np.ndarray | None = line.ring
        for number, echo in enumerate(line.echoes, 1):
            word = f"{name}, echo {number}"
            exact = len(line.ring) == 3 or (k in by_area and not _hardly_bends(line.ring))
            before = _judge_echo(word, line, echo, number * spacing, before, exact, settings, touch, broken)
        if fitted < asked and (len(line.ring) == 3 or (k in by_area and not _hardly_bends(line.ring))):
            _judge_dropped(name, line, (fitted + 1) * spacing, settings, broken)


def _hardly_bends(ring: np.ndarray) -> bool:
    """Whether a side goes on in line with its leg, but for less than a millionth: an echo whose leg is used
    up goes on along a side that bends, and ends with one in line, so both are right here."""
    step = np.roll(ring, -1, axis=0) - ring
    along = step / np.hypot(*step.T)[:, None]
    bends = [along[k][0] * along[k + 1][1] - along[k][1] * along[k + 1][0] for k in (0, -2)]
    return any(1e-9 < abs(bend) < 1e-6 for bend in bends)


def _same_outline(one: np.ndarray, two: np.ndarray, touch: float) -> bool:
    if np.hypot(*(two[0] - two[-1])) > 0:
        two = np.vstack([two, two[:1]])
    if one.shape != two.shape:
        return False
    return bool(min(np.abs(one - two).max(), np.abs(one[::-1] - two).max()) <= 4 * touch)


def _judge_echo(
    word: str,
    line: Line,
    echo: np.ndarray,
    d: float,
    before: np.ndarray | None,
    exact: bool,
    settings: dict[str, Any],
    touch: float,
    broken: Any,
) -> np.ndarray | None:
    """Judge the echo ``d`` inside the wedge; its whole outline, if that was worked out."""
    if np.hypot(*(echo[0] - echo[-1])) > touch:
        broken("echo", f"{word} is not closed")
        return None
    ring = echo[:-1]
    is_cut = d / math.sin(line.apex / 2) < line.radius - touch
    parallel(word, line, ring, d, is_cut, touch, broken)
    if not Polygon(ring).is_valid:
        broken("echo", f"{word} crosses itself")
    elif before is not None and not Polygon(before).buffer(4 * touch, join_style="mitre").covers(
        Polygon(ring)
    ):
        broken("echo", f"{word} is not inside the line before it")
    whole = inset(line.ring, d) if exact else None
    if not exact:
        return ring
    if whole is None:
        broken("echo", f"{word}: nothing of the wedge is left {d:.4f} mm inside")
        return None
    expected = cut_at(whole, line.radius if is_cut else 0.0)
    slack = 1e-5 * (1 + LineString(expected).length)
    off = shapely.symmetric_difference(Polygon(expected), Polygon(ring), grid_size=1e-9).area
    if off > slack + 10 * touch * LineString(expected).length:
        broken("echo", f"{word} is not the wedge moved inward by {d:.4f} mm: {off:.6g} mm² differ")
        return None
    side, across = _figures(whole, line.apex)
    if min(side, across) < settings["visible_width"] - SURE:
        broken("echo", f"{word} is kept with side {side:.6f} and across {across:.6f} mm")
    return whole


def parallel(
    word: str, line: Line, ring: np.ndarray, d: float, is_cut: bool, touch: float, broken: Any
) -> None:
    """Every line of an echo runs along a line of the wedge, ``d`` inside it."""
    edge = np.roll(line.ring, -1, axis=0) - line.ring
    size = np.hypot(*edge.T)
    normal = np.column_stack([-edge[:, 1], edge[:, 0]]) / size[:, None]
    one, two = ring, np.roll(ring, -1, axis=0)
    if is_cut:  # closed from the second leg's inner end straight to the first's, which is not stitched
        one, two = one[:-1], two[:-1]
    off = [np.abs((p[:, None] * normal).sum(2) - (line.ring * normal).sum(1) - d) for p in (one, two)]
    away = np.maximum(*off).min(axis=1)
    if away.max() > 4 * touch:
        k = int(np.argmax(away))
        broken(
            "echo", f"{word}: the line from {one[k]} to {two[k]} is {away[k]:.6g} mm off {d:.4f} mm inside"
        )
    for k, leg in ((0, 0), (len(one) - 1, len(normal) - 1)):
        if off[0][k, leg] > 4 * touch or off[1][k, leg] > 4 * touch:
            broken("echo", f"{word}: its leg does not run along the wedge's leg")


def _judge_dropped(name: str, line: Line, d: float, settings: dict[str, Any], broken: Any) -> None:
    whole = inset(line.ring, d)
    if whole is None:
        return
    side, across = _figures(whole, line.apex)
    limit = settings["visible_width"]
    if min(side, across) < limit + SURE:
        return
    # (with a hold-back its side keeps as far outside the radius as the wedge's own: the engine's choice)
    if (
        line.radius
        and LineString(whole[1:]).distance(Point(0, 0)) < line.radius + least_left(settings) + SURE
    ):
        return
    broken(
        "echo",
        f"{name}: an echo {d:.4f} mm inside is left out, with side {side:.6f} and across {across:.6f} mm",
    )


# ------------------------------------------------------------------------------------------------ the path

Piece = tuple[str, Any, np.ndarray]


def judge_path(
    report: dict[str, Any], patch: Polygon, roomy: Polygon, lines: list[Line], touch: float, broken: Any
) -> None:
    """3.7: one line, unbroken and complete, that stays in the patch, in order, of the right kinds."""
    settings = report["settings"]
    pieces: list[Piece] = [(s["kind"], s["wedge"], np.asarray(s["points"], float)) for s in report["path"]]
    if not lines:
        if pieces:
            broken("path", "a path without wedges")
        return
    if not pieces:
        broken("path", "no path")
        return
    for (_, _, one), (_, _, two) in pairwise(pieces):
        if np.hypot(*(one[-1] - two[0])) > touch:
            broken("path", f"jumps from {one[-1]} to {two[0]}")
    for kind, number, points in pieces:
        if kind not in ("leg", "side", "echo", "hop", "travel"):
            broken("path", f"a piece of kind {kind!r}")
        if (number is None) != (kind == "travel"):
            broken("path", f"a {kind} of wedge {number}")
        if len(points) < 2:
            broken("path", f"a {kind} of {len(points)} points")
    way = np.vstack([points for _, _, points in pieces])
    if not shapely.covers(roomy, LineString(way)):
        broken("path", f"leaves the patch by {LineString(way).difference(roomy).length:.6g} mm")
    if {number for _, number, _ in pieces} - {None} != {line.number for line in lines}:
        broken("path", "it does not take in just the wedges there are")
        return
    _judge_order(report, pieces, lines, touch, broken)
    by_number: dict[Any, list[Piece]] = {}
    for piece in pieces:
        by_number.setdefault(piece[1], []).append(piece)
    for line in lines:
        own = [(k, n, points - line.anchor) for k, n, points in by_number.get(line.number, [])]
        _judge_wedge_path(line, own, settings, touch, broken)
    _judge_hops(pieces, lines, patch, settings, touch, broken)
    _judge_travels(report, pieces, lines, patch, touch, broken)


def _judge_order(
    report: dict[str, Any], pieces: list[Piece], lines: list[Line], touch: float, broken: Any
) -> None:
    settings = report["settings"]
    fan_of = {line.number: line.fan for line in lines}
    order = [number for number, _ in groupby(p[1] for p in pieces if p[1] is not None)]
    if sorted(order) != sorted(fan_of):
        broken("path", f"takes the wedges as {order}")
        return
    fans = [fan for fan, _ in groupby(fan_of[number] for number in order)]
    if len(fans) != len(set(fans)):
        broken("path", f"goes from fan to fan as {fans}")
    free = settings["least_turning"] and settings["cloth_turned"]
    for fan in fans:
        mine = [number for number in order if fan_of[number] == fan]
        held_back = any(line.radius > 0 for line in lines if line.fan == fan)
        first = settings["first_wedge"]
        if first in mine and mine[0] != first:
            broken("path", f"begins with wedge {mine[0]}, chosen was {first}")
        if free and not held_back:
            continue
        steps = {two - one for one, two in pairwise(mine)}
        if len(mine) > 2 and not steps <= (
            {1, 1 - len(mine)} if settings["clockwise"] else {-1, len(mine) - 1}
        ):
            broken("path", f"takes the wedges as {mine}, clockwise {settings['clockwise']}")
    first_line = next(line for line in lines if line.number == order[0])
    begin = pieces[0][2][0]
    start = settings.get("start")
    if start is None and not first_line.radius and np.hypot(*(begin - first_line.anchor)) > touch:
        broken("path", f"begins at {begin}, not at the anchor")


def _judge_wedge_path(
    line: Line, own: list[Piece], settings: dict[str, Any], touch: float, broken: Any
) -> None:
    name = f"wedge {line.number}"
    words = [kind for kind, _, _ in own if kind != "hop"]
    if words != ["leg", "side", "leg", *["echo"] * len(line.echoes)]:
        broken("path", f"{name}: stitched as {words} with {len(line.echoes)} echoes")
        return
    (_, _, out), (_, _, side), (_, _, back), *echoes = [piece for piece in own if piece[0] != "hop"]
    wanted = line.side if settings["clockwise"] else line.side[::-1]
    if side.shape != wanted.shape or np.abs(side - wanted).max() > touch:
        broken("path", f"{name}: its side is not stitched, from end to end")
        return
    first, last = (_inner(corner, line.radius) for corner in (wanted[0], wanted[-1]))
    if out.shape != (2, 2) or np.abs(out - [first, wanted[0]]).max() > 2 * touch:
        broken("path", f"{name}: its first leg does not run from {first} to {wanted[0]}")
    # in a spiral each return leg but the last stops level with the next apex, this much from its own one
    step = settings["echo_spacing"] / math.sin(line.apex / 2)
    stop = last
    if settings["spiral"] and echoes and step > line.radius + touch:
        level = _inner(wanted[-1], step)
        full = float(np.hypot(*wanted[-1]))
        if np.abs(back[-1] - level).max() <= 4 * touch:
            if step > full / 3 + 4 * touch:
                broken("path", f"{name}: gives up {step:.4f} mm of a leg of {full:.4f}")
            stop = level
        elif not line.radius and _must_step(line, step):
            broken("path", f"{name}: closed loops where the spiral fits")
    if back.shape != (2, 2) or np.abs(back - [wanted[-1], stop]).max() > 4 * touch:
        broken("path", f"{name}: its second leg does not run from {wanted[-1]} to {stop}")
    for number, (echo, (_, _, points)) in enumerate(zip(line.echoes, echoes, strict=True), 1):
        may_give = step if settings["spiral"] and number < len(echoes) else 0.0
        _judge_echo_path(
            f"{name}, echo {number}", line, echo, number, points, may_give, settings, touch, broken
        )


def _inner(corner: np.ndarray, radius: float) -> np.ndarray:
    return np.asarray(corner * (radius / np.hypot(*corner)))


def _must_step(line: Line, step: float) -> bool:
    """Whether every line that is left at the next apex has legs of more than three steps."""
    left = [line.ring, *(echo[:-1] for echo in line.echoes[:-1])]
    return min(float(np.hypot(*(r[k] - r[0]))) for r in left for k in (1, -1)) / 3 - SURE > step


def _judge_echo_path(
    word: str,
    line: Line,
    echo: np.ndarray,
    number: int,
    points: np.ndarray,
    may_give: float,
    settings: dict[str, Any],
    touch: float,
    broken: Any,
) -> None:
    """All of an echo is stitched; in a spiral without the last ``may_give`` mm to its apex."""
    ring = echo[:-1]
    reach = number * settings["echo_spacing"] / math.sin(line.apex / 2)
    is_cut = reach < line.radius - touch
    want = LineString(ring if is_cut else echo)
    got = LineString(points)
    off = shapely.distance(shapely.points(points), want)
    if off.max() > 4 * touch:
        broken("path", f"{word}: what is stitched is {off.max():.6g} mm off it")
        return
    missing = float(shapely.distance(shapely.points(ring), got).max())
    given_up = want.length - got.length
    slack = 4 * touch * (len(ring) + 1)
    if abs(given_up) <= slack:
        if missing > 4 * touch:
            broken("path", f"{word}: {missing:.6g} mm of it are not stitched")
        return
    half = math.atan2(line.side[0][1], line.side[0][0]) + line.apex / 2
    own = reach * np.array([math.cos(half), math.sin(half)])
    ends = (ring[0], ring[-1]) if is_cut else (own, own)
    gives = [may_give - float(np.hypot(*(end - own))) for end in ends]
    legs = [
        float(np.hypot(*(corner - own)))
        for corner in ((ring[1], ring[-2]) if is_cut else (ring[1], ring[-1]))
    ]
    if min(abs(given_up - give) for give in gives) > slack:
        broken("path", f"{word}: {given_up:.6g} mm of it are not stitched")
    elif may_give > max(legs) / 3 + slack:
        broken("path", f"{word}: gives up {may_give:.4f} mm of a leg of {max(legs):.4f}")
    elif missing > given_up + 4 * touch:
        broken("path", f"{word}: a corner of it is not stitched")


def _judge_hops(
    pieces: list[Piece],
    lines: list[Line],
    patch: Polygon,
    settings: dict[str, Any],
    touch: float,
    broken: Any,
) -> None:
    """Nothing is stitched inside the hold-back but hops along it; without one, hops stay in their wedge."""
    by_number = {line.number: line for line in lines}
    for kind, number, points in pieces:
        if kind in ("leg", "echo", "side"):
            line = by_number[number]
            if (
                line.radius
                and LineString(points - line.anchor).distance(Point(0, 0)) < line.radius - 2 * touch
            ):
                broken("hold-back", f"wedge {number}: a {kind} comes nearer than {line.radius:.6f} mm")
    last: Line | None = None
    kind_before = ""
    for k, (kind, number, points) in enumerate(pieces):
        line = by_number.get(number)
        if kind == "hop" and line is not None:
            at = points - line.anchor
            crossing = last is not None and last.number != line.number
            if not crossing:
                room = Polygon(line.ring).buffer(FLAT, join_style="mitre")
                if not room.covers(LineString(at)):
                    broken("path", f"wedge {number}: a hop inside it leaves it")
            elif last is not None and last.fan == line.fan:
                low, high = sorted((last.radius, line.radius))
                far = np.hypot(*at.T)
                if not _round_is_free(at[0], at[-1], high, settings["clockwise"], line.anchor, patch):
                    pass  # it goes another way round: any route in the patch
                elif low and LineString(at).distance(Point(0, 0)) < low - FLAT - touch:
                    broken("hold-back", f"the hop to wedge {number} comes nearer than {low:.6f} mm")
                elif kind_before == "leg" and pieces[k + 1][0] == "leg" and far.max() > high + 2 * touch:
                    broken("path", f"the hop to wedge {number} leaves the radius {high:.6f} mm")
        if line is not None:
            last = line
        if kind != "hop":
            kind_before = kind
            if kind == "travel":
                last = None


def _round_is_free(
    one: np.ndarray, two: np.ndarray, radius: float, clockwise: bool, anchor: np.ndarray, patch: Polygon
) -> bool:
    """Whether the way along the radius, round as the wedges are taken, lies in the patch."""
    begin, end = math.atan2(one[1], one[0]), math.atan2(two[1], two[0])
    turn = (end - begin) % (2 * math.pi) if clockwise else -((begin - end) % (2 * math.pi))
    if abs(turn) > math.pi:
        return False
    t = begin + np.linspace(0, turn, 33)
    room = np.vstack([[0, 0], np.column_stack([np.cos(t), np.sin(t)]) * (radius + 1e-3)]) + anchor
    return bool(patch.covers(Polygon(room))) if abs(turn) > 1e-9 else True


def _judge_travels(
    report: dict[str, Any], pieces: list[Piece], lines: list[Line], patch: Polygon, touch: float, broken: Any
) -> None:
    """Travel only from a start and between fans; straight where that is possible, or along the seam."""
    settings = report["settings"]
    fan_of = {line.number: line.fan for line in lines}
    start = settings.get("start")
    for k, (kind, _, points) in enumerate(pieces):
        if kind != "travel":
            continue
        before = next((fan_of[n] for _, n, _ in pieces[:k][::-1] if n is not None), None)
        after = next((fan_of[n] for _, n, _ in pieces[k + 1 :] if n is not None), None)
        if after is None or before == after or (before is None and start is None):
            broken("path", f"travels from fan {before} to fan {after}")
        straight = LineString([points[0], points[-1]])
        length = LineString(points).length
        if length < straight.length - touch:
            broken("path", "travels by less than a straight line")
        if settings["along_seam"]:
            off = shapely.distance(shapely.points(points[1:-1]), patch.boundary)
            if len(off) and off.max() > touch:
                broken("path", f"travels {off.max():.6g} mm off the seam")
            continue
        rooms = [Polygon(part["outline"], part["holes"]) for part in report["stitchable"]]
        held_in = [r for r in rooms if r.buffer(-10 * touch).covers(straight)]
        if held_in and length > straight.length + 10 * touch:
            broken("path", f"travels {length:.6f} mm where {straight.length:.6f} mm lead straight there")
    if isinstance(start, list | tuple):
        want = np.asarray(start, float)
        if not patch.covers(Point(want)):
            want = shapely.get_coordinates(shapely.shortest_line(patch, Point(want)))[0]
        if np.hypot(*(pieces[0][2][0] - want)) > 10 * touch:
            broken("path", f"begins at {pieces[0][2][0]}, chosen was {start}")


# -------------------------------------------------------------------------------------------------- totals


def judge_totals(report: dict[str, Any], touch: float, grain: float, broken: Any) -> None:
    """3.9: the totals are those of the path's own length."""
    totals = report.get("totals")
    if totals is None:
        return
    settings = report["settings"]
    runs = [np.asarray(piece["points"], float) for piece in report["path"]]
    length = sum(float(np.hypot(*np.diff(run, axis=0).T).sum()) for run in runs)
    slack = 1e-6 + 1e-11 * length + 3 * grain * sum(map(len, runs))
    if abs(totals["stitched"] - length) > slack:
        broken("totals", f"stitched {totals['stitched']}, the path is {length} mm long")
    s, t = settings["stitch_length"], settings["quilt_thickness"]
    if not length / s - 1e-6 - slack / s <= totals["stitches"] <= length / s + 1 + slack / s:
        broken("totals", f"{totals['stitches']} stitches of {s} mm on {length} mm")
    thread = length * (1 + t / s) + (2 * settings["thread_tail"] if runs else 0.0)
    for key in ("top_thread", "bobbin_thread"):
        if abs(totals[key] - thread) > slack * (1 + t / s) + 1e-6:
            broken("totals", f"{key} {totals[key]}, by the formula {thread}")
    if "bobbins" in totals:
        capacity = settings["bobbin_capacity"]
        expected = thread / capacity if capacity else 0.0
        if abs(totals["bobbins"] - expected) > 1e-6 * max(1.0, expected):
            broken("totals", f"{totals['bobbins']} bobbins, by the formula {expected}")
    least, most, turning = _turns(runs, math.radians(settings["corner_angle"]))
    pace = totals["stitches"] / settings["stitches_per_minute"]
    low, high = (pace + n * settings["seconds_per_turn"] / 60 for n in (least, most))
    if not low - 1e-5 <= totals["minutes"] <= high + 1e-5:
        broken("totals", f"{totals['minutes']} minutes, by the formula {low} to {high}")
    if "changes" in totals and not least <= totals["changes"] <= most:
        broken("totals", f"{totals['changes']} changes of direction, counted {least} to {most}")
    if "turning" in totals and abs(totals["turning"] - turning) > 1e-6 * max(1.0, turning) + 1e-5:
        broken("totals", f"turns by {totals['turning']} rad, summed {turning}")
    legs = [LineString(piece["points"]).length for piece in report["path"] if piece["kind"] == "leg"]
    if "longest_leg" in totals and abs(totals["longest_leg"] - max(legs, default=0.0)) > touch + 2 * grain:
        broken("totals", f"longest leg {totals['longest_leg']}, measured {max(legs, default=0.0)}")
    if "bearings" in totals:
        _judge_bearings(report, touch, broken)


def _turns(runs: list[np.ndarray], sharp: float) -> tuple[int, int, float]:
    """How often the line turns by more than ``sharp`` (at least and at most), and by how much in all."""
    if not runs:
        return 0, 0, 0.0
    line = np.vstack([runs[0], *(run[1:] for run in runs[1:])])
    step = np.diff(line, axis=0)
    size = np.hypot(*step.T)
    # what is shorter than two points can be told apart has no direction, a little more no certain one
    step, size = step[size > 1e-6], size[size > 1e-6]
    hazy = 1e-5 / np.minimum(size[:-1], size[1:])
    cross = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
    turn = np.abs(np.arctan2(cross, (step[:-1] * step[1:]).sum(1)))
    hazy = np.minimum(hazy, math.pi)
    return int((turn > sharp + hazy).sum()), int((turn > sharp - hazy).sum()), float(turn.sum())


def _judge_bearings(report: dict[str, Any], touch: float, broken: Any) -> None:
    anchor = {w["number"]: np.asarray(f["anchor"], float) for f in report["fans"] for w in f["wedges"]}
    legs = [piece for piece in report["path"] if piece["kind"] == "leg"]
    bearings = report["totals"]["bearings"]
    if len(bearings) != len(legs) or any(leg["wedge"] not in anchor for leg in legs):
        broken("totals", f"{len(bearings)} bearings for {len(legs)} legs")
        return
    for leg, bearing in zip(legs, bearings, strict=True):
        ends = np.asarray(leg["points"], float)[[0, -1]] - anchor[leg["wedge"]]
        inner, outer = ends[np.argsort(np.hypot(*ends.T))]
        way = outer - inner
        expected = math.degrees(math.atan2(way[0], -way[1])) % 360
        off = abs((bearing - expected + 180) % 360 - 180)
        if math.radians(off) * np.hypot(*way) > 4 * touch or not 0 <= bearing < 360:
            broken("totals", f"wedge {leg['wedge']}: bearing {bearing}°, measured {expected}°")
