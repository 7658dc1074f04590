"""Anchors: by name, the map of a patch, and the ones worth suggesting."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.errors import AnchorError
from geometry.fan_map import FanMap
from geometry.findings import OUT_OF_SIGHT_LIMIT, Code
from geometry.fit import fit
from geometry.ground import Ground, ground_of
from geometry.kernel import kernel
from geometry.marks import MarkKind
from geometry.patch import Patch, middle_of
from geometry.settings import Settings
from geometry.tolerances import LEAST_PART, ON_EDGE
from geometry.triangulation import see_from_all, seen_areas, triangulate
from geometry.types import Point, Points, frozen
from geometry.visibility import see, seen_area

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Progress = Callable[[int, int], bool]
"""Called with (anchors done, anchors in all); False stops the work."""

_MAP = 1000
"""Anchors of a map, about, where no step is given."""
_BATCH = 1000
"""Anchors at a time at most, between two looks at whether to go on."""
_SMALL = 100
"""The same for suggestions, of which the first are fitted one by one."""
_FEW = 20
"""Anchors at a time at least."""
_LOAD = 200_000
"""Anchors times pieces of edge at a time: a tenth of a second, and little memory (found by trial)."""
_TRIED = 250
"""Anchors tried over the stitchable area for suggestions, about."""
_NAMED_TRIED = 10
"""Side middles and corners that are judged in full: of many those that see most."""
_WIDE = 4.0
"""Times the visible width: a narrowest wedge this wide is as good as a wider one."""
_APART = 0.25
"""Of the patch's width: how far suggestions are from each other at least."""
_SLIP = 0.1
"""Of the patch's width: an anchor less far off the middle looks like a slip (common practice, no source)."""
_ASIDE = math.radians(45)
"""A place off the middle is towards a side or corner that lies less far aside of the way to it."""
_LETTERS = 26
"""Of more sides or corners than this nobody knows which is which: their names have several letters."""
_WAYS = {
    "up": -90, "up-right": -45, "right": 0, "down-right": 45,
    "down": 90, "down-left": 135, "left": 180, "up-left": -135,
}  # fmt: skip
"""degrees, from x towards y. What a place is towards where no side or corner lies that way."""
_CLEARLY = 0.75
"""An anchor is clearly better where it leaves at most this part of what is out of sight now."""


@dataclass(frozen=True, slots=True, eq=False)
class AnchorMap:
    """n anchors of one patch and what judges each. (n,) each where nothing else is said."""

    anchors: Points
    """(n, 2) mm."""
    share: Floats
    """0 to 1: the part of the whole stitchable area in sight."""
    narrowest: Floats
    """mm: the least side length or across of its wedges; 0 where it has none."""
    short: Ints
    thin: Ints
    lost: Ints
    """Counts of the findings side-short, wedge-thin and wedge-lost."""

    @property
    def problems(self) -> Ints:
        """Counts of those findings, and one more where a hundredth or more is out of sight."""
        hidden: Ints = (1.0 - self.share >= OUT_OF_SIGHT_LIMIT).astype(np.intp)
        return self.short + self.thin + self.lost + hidden

    def score(self, visible_width: float) -> tuple[Floats, Floats, Floats]:
        """The three parts of each anchor's ``Score``: sight, soundness and width."""
        enough = _WIDE * visible_width
        wide = np.minimum(self.narrowest / enough, 1.0) if enough else np.ones(len(self.narrowest))
        return 60.0 * self.share, 25.0 / (1 + self.problems), 15.0 * wide


@dataclass(frozen=True, slots=True)
class Score:
    """How good an anchor is, 0 to 100, and how that is made up."""

    sight: float
    """0 to 60: 60 times the share in sight."""
    soundness: float
    """0 to 25: 25 divided by one more than the number of problems."""
    width: float
    """0 to 15: 15 for a narrowest wedge of four times the visible width or more, else in proportion."""

    @property
    def total(self) -> float:
        """The sum of the three."""
        return self.sight + self.soundness + self.width


@dataclass(frozen=True, slots=True)
class Suggestion:
    """An anchor worth trying."""

    names: tuple[str, ...]
    """Stable codes: ``middle``, ``side:B`` (its middle), ``corner:AB``, ``most-open``; ``off-centre:`` with
    what it is towards: ``off-centre:side:B``, ``off-centre:corner:AB``, ``off-centre:up-right``. Of several
    towards the same, those after the best end in ``:2``, ``:3`` ...; no two suggestions are called alike."""
    anchor: Point
    score: Score
    share: float
    """0 to 1: the part of the stitchable area in sight."""
    narrowest: float
    """mm: the least side length or across of its wedges."""
    problems: int
    """As ``AnchorMap.problems``."""


def named_anchor(patch: Patch, settings: Settings, name: str) -> Point:
    """``middle``, ``best``, ``side:N`` (its middle) or ``corner:N``; N counts from 1 or is the name.

    Sides and corners are those of the stitchable area, outline first. Raises ``AnchorError`` where
    there is no such place.
    """
    kind, _, which = name.partition(":")
    if kind == "middle" and not which:
        return middle_of(patch)
    if kind == "best" and not which:
        return best_anchor(patch, settings)
    ground = ground_of(patch, settings)
    if kind == "side":
        places = _side_middles(ground)
    elif kind == "corner":
        places = _corners(ground)
    else:
        raise AnchorError(
            f"'{name}' names no place",
            where="anchor",
            do="give X,Y with units, or middle, best, side:N or corner:N",
        )
    for number, (letter, at) in enumerate(places, start=1):
        if which == str(number) or which.upper() == letter:
            return patch.slide_into(at)
    known = ", ".join(letter for letter, _ in places[:30]) or "none"
    raise AnchorError(
        f"there is no {kind} {which or 'without a number'}",
        where="anchor",
        do=f"give {kind}:1 to {kind}:{len(places)} or one of {known}" if places else "use middle or best",
    )


def _side_middles(ground: Ground) -> list[tuple[str, Point]]:
    return [(side.letter, side.middle) for marked in ground.marked for side in marked.sides]


def _corners(ground: Ground) -> list[tuple[str, Point]]:
    marks = [mark for marked in ground.marked for mark in marked.marks]
    return [(mark.name, mark.at) for mark in marks if mark.kind is MarkKind.CORNER]


def anchor_map(
    patch: Patch,
    settings: Settings,
    anchors: Points | None = None,
    *,
    step: float | None = None,
    progress: Progress | None = None,
) -> AnchorMap:
    """Judge many anchors of ``patch`` at once; every figure is the one that ``fit`` gives.

    ``anchors`` is (n, 2) mm; without it they are a square grid over the inside of the stitchable area,
    ``step`` mm apart (by default so that there are about 1,000). Given anchors may lie anywhere in the
    patch, but those on the edge of the stitchable area and in the margin are fitted one by one.
    Where ``progress`` stops the work, the map holds the anchors that were done.

    Raises ``AnchorError`` where an anchor is outside the patch.
    """
    if anchors is None:
        ground = ground_of(patch, settings)
        anchors = _grid(ground, math.sqrt(ground.area / _MAP) if step is None else step)
    return _judged(patch, frozen(np.reshape(anchors, (-1, 2))), settings, _BATCH, progress)


def _judged(
    patch: Patch, anchors: Points, settings: Settings, batch: int, progress: Progress | None
) -> AnchorMap:
    """``anchor_map`` of given anchors, with a look at whether to go on after ``batch`` of them or less."""
    ground = ground_of(patch, settings)
    pieces = sum(len(marked.start) for marked in ground.marked)
    at_a_time = max(_FEW, min(batch, _LOAD // max(pieces, 1)))
    maps = [FanMap(part, marked) for part, marked in zip(ground.parts, ground.marked, strict=True)]
    total = len(anchors)
    seen, narrowest = np.zeros(total), np.zeros(total)
    short, thin, lost = (np.zeros(total, dtype=np.intp) for _ in range(3))
    whole = sum(part.area for part in ground.parts)
    alone = replace(settings, divide=False)
    done = 0
    while done < total:
        now = anchors[done : done + at_a_time]
        rest = np.ones(len(now), dtype=np.bool_)
        for each in maps:
            inside = each.inside(now) & rest
            rest &= ~inside
            which = done + np.flatnonzero(inside)
            found = each.figures(anchors[which], settings)
            hidden = whole - found.seen
            seen[which] = np.where(hidden > LEAST_PART, 1.0 - hidden / ground.area, 1.0)
            narrowest[which] = found.narrowest
            short[which], thin[which], lost[which] = found.short, found.thin, found.lost
        for i in done + np.flatnonzero(rest):
            at = _point(anchors[i])
            seen[i], narrowest[i], short[i], thin[i], lost[i] = _fitted(patch, at, alone)
        done = min(done + at_a_time, total)
        if progress is not None and not progress(done, total):
            break
    return AnchorMap(
        anchors[:done], *(_read_only(part[:done]) for part in (seen, narrowest)),
        *(_read_only(part[:done]) for part in (short, thin, lost)),
    )  # fmt: skip


def _fitted(patch: Patch, anchor: Point, settings: Settings) -> tuple[float, float, int, int, int]:
    """What the map says of one anchor, from its fit."""
    fitted = fit(patch, anchor, settings)
    wedges = [wedge for fan in fitted.fans for wedge in fan.wedges]
    narrowest = min((min(wedge.side_length, wedge.across) for wedge in wedges), default=0.0)
    codes = [finding.code for finding in fitted.findings]
    short, thin, lost = map(codes.count, (Code.SIDE_SHORT, Code.WEDGE_THIN, Code.WEDGE_LOST))
    share = 1.0 - fitted.out_of_sight.share if fitted.stitchable else 0.0
    return share, narrowest, short, thin, lost


def _grid(ground: Ground, step: float) -> Points:
    """(n, 2) points of a square grid, ``step`` mm wide, inside the stitchable area."""
    if not ground.parts:
        return np.zeros((0, 2))
    left, top, right, bottom = shapely.total_bounds(list(ground.parts))
    # In the middle of the bounds, so that a patch that is its own mirror image has a map that is.
    across, down = ((high - low) % step / 2 for low, high in ((left, right), (top, bottom)))
    x, y = np.meshgrid(np.arange(left + across, right, step), np.arange(top + down, bottom, step))
    points = np.column_stack([x.ravel(), y.ravel()])
    inside = np.zeros(len(points), dtype=np.bool_)
    places = shapely.points(points)
    for part in ground.parts:
        shapely.prepare(part)
        edge = part.boundary
        shapely.prepare(edge)
        held: NDArray[np.bool_] = shapely.contains_xy(part, points)
        held[held] = ~shapely.dwithin(edge, places[held], ON_EDGE)
        inside |= held
    grid: Points = points[inside]
    return grid


def suggest(
    patch: Patch, settings: Settings, count: int = 5, *, progress: Progress | None = None
) -> tuple[Suggestion, ...]:
    """Up to ``count`` anchors, best first, each a quarter of the patch's width or more from the others.

    The score, 0 to 100, is 60 times the share in sight, and 25 / (1 + problems), and 15 times the
    narrowest wedge in visible widths, which counts up to 4, over 4 (``Score`` has the three parts).
    Problems are wedges that are too short, too thin or lost, and one more where a hundredth or more is
    out of sight. Of equal scores the wider narrowest wedge comes first.

    Tried are the middle of the patch, a grid over the stitchable area, the middle of its kernel, and the
    middles of its sides and its corners (of many those that see most). What is neither the middle nor
    has a name of its own keeps a tenth of the patch's width from the middle, so as not to look like a
    slip. Empty where there is no room to stitch, and where ``progress`` stops the work.
    """
    ground = ground_of(patch, settings)
    if not ground.parts:
        return ()
    middle = middle_of(patch)
    cores = [core for core in map(kernel, ground.parts[:1]) if core is not None]
    free = np.concatenate(
        [
            np.reshape([_centre(core) for core in cores], (-1, 2)),
            _grid(ground, math.sqrt(ground.area / _TRIED)),
        ]
    )
    slip = _SLIP * patch.width
    for off in (middle, patch.centre):
        free = free[np.hypot(*(free - np.array(off)).T) >= slip]
    sites = {"side": _side_middles(ground), "corner": _corners(ground)}
    looked = sum(len(places) for places in sites.values() if len(places) > _NAMED_TRIED)
    total = looked + 1 + sum(min(len(places), _NAMED_TRIED) for places in sites.values()) + len(free)
    gone = 0

    def went_on() -> bool:
        nonlocal gone
        gone += 1
        return progress is None or gone % _FEW > 0 or progress(gone, total)

    named = [("middle", middle)]
    for kind, places in sites.items():
        tried = _most_seen(ground, [(f"{kind}:{name}", patch.slide_into(at)) for name, at in places], went_on)
        if tried is None:
            return ()
        named += tried
    names = [name for name, _ in named] + ["off-centre"] * len(free)
    # Echoes and hold-back change neither what is seen nor the wedges, and cost time.
    found = _judged(
        patch,
        frozen(np.concatenate([np.array([at for _, at in named]), free])),
        replace(settings, echo_count=0, hold_back=0.0, stagger=0.0),
        _SMALL,
        None if progress is None else lambda done, _: progress(looked + done, total),
    )
    if len(found.anchors) < len(names):
        return ()
    ranked = _ranked(found, names, settings, _APART * patch.width, count)
    landmarks = [
        (f"{kind}:{name}", at)
        for kind, places in sites.items()
        for name, at in places
        if len(places) <= _LETTERS
    ]
    return _told_apart(ranked, middle, landmarks)


def _told_apart(
    suggestions: tuple[Suggestion, ...], middle: Point, landmarks: list[tuple[str, Point]]
) -> tuple[Suggestion, ...]:
    """The same, each place that is off-centre with what it is towards, seen from ``middle``."""
    taken: list[str] = []
    told = []
    for each in suggestions:
        if each.names[0] != "off-centre":
            told.append(each)
            continue
        way = math.atan2(each.anchor[1] - middle[1], each.anchor[0] - middle[0])
        aside = {name: _between(way, math.atan2(y - middle[1], x - middle[0])) for name, (x, y) in landmarks}
        near = sorted((name for name in aside if aside[name] < _ASIDE), key=aside.__getitem__)
        if not near:
            near = [min(_WAYS, key=lambda name: _between(way, math.radians(_WAYS[name])))]
        toward = next((name for name in near if name not in taken), near[0])
        taken.append(toward)
        again = taken.count(toward)
        name = f"off-centre:{toward}" + (f":{again}" if again > 1 else "")
        told.append(replace(each, names=(name, *each.names[1:])))
    return tuple(told)


def _between(one: float, other: float) -> float:
    """The angle between two ways, rad, 0 to pi."""
    return abs(math.remainder(one - other, math.tau))


def _ranked(
    found: AnchorMap, names: list[str], settings: Settings, apart: float, count: int
) -> tuple[Suggestion, ...]:
    sight, soundness, width = found.score(settings.visible_width)
    total = np.round(sight + soundness + width, 6)
    order = np.lexsort((-np.round(found.narrowest, 6), -total))
    widest_view = np.round(found.share, 6)
    most_open = order[int(widest_view[order].argmax())]
    chosen: list[int] = []
    for i in order.tolist():
        away = np.hypot(*(found.anchors[chosen] - found.anchors[i]).T)
        if (away >= apart).all():
            chosen.append(i)
        if len(chosen) == count:
            break
    return tuple(
        Suggestion(
            ("most-open",) if i == most_open and names[i] == "off-centre"
            else (names[i], "most-open") if i == most_open else (names[i],),
            _point(found.anchors[i]),
            Score(float(sight[i]), float(soundness[i]), float(width[i])),
            float(found.share[i]),
            float(found.narrowest[i]),
            int(found.problems[i]),
        )
        for i in chosen
    )  # fmt: skip


def _most_seen(
    ground: Ground, places: list[tuple[str, Point]], went_on: Callable[[], bool]
) -> list[tuple[str, Point]] | None:
    """Of many places on the edge those that see most, in their order. None where the work was stopped."""
    if len(places) <= _NAMED_TRIED:
        return places
    seen = []
    for _, at in places:
        seen.append(round(_seen(ground, at), 3))
        if not went_on():
            return None
    best = sorted(range(len(places)), key=lambda i: -seen[i])[:_NAMED_TRIED]
    return [places[i] for i in sorted(best)]


def _seen(ground: Ground, anchor: Point) -> float:
    """Share of the stitchable area in sight of an anchor in it or on its edge; 0 of one in the margin."""
    part = ground.part_at(anchor)
    if shapely.distance(ground.parts[part], shapely.Point(anchor)) > ON_EDGE:
        return 0.0
    return seen_area(see(anchor, ground.edges[part])) / ground.area


def best_anchor(patch: Patch, settings: Settings) -> Point:
    """The first of ``suggest``; the middle where there is no room to stitch."""
    best = suggest(patch, settings, 1)
    return best[0].anchor if best else middle_of(patch)


def better_anchor(patch: Patch, settings: Settings, share: float) -> Point | None:
    """An anchor that leaves clearly less out of sight than ``share`` (0 to 1, of the stitchable area).

    Where one anchor sees everything, the middle of the kernel; else the one of a grid, and the middle,
    that sees most. None where none of them takes away a quarter of ``share`` or more.
    """
    ground = ground_of(patch, settings)
    if not ground.parts:
        return None
    if len(ground.parts) == 1:
        core = kernel(ground.parts[0])
        if core is not None and share > 0:
            return _centre(core)
    tried = np.concatenate([[middle_of(patch)], _grid(ground, math.sqrt(ground.area / _TRIED))])
    best, least = None, _CLEARLY * share
    for part in ground.parts:
        inside = tried[shapely.contains_xy(part, tried)]
        if len(inside):
            seen = seen_areas(see_from_all(triangulate(part), inside), len(inside))
            most = int(np.round(seen, 3).argmax())
            if 1.0 - seen[most] / ground.area <= least:
                best, least = _point(inside[most]), 1.0 - seen[most] / ground.area
    return best


def _centre(polygon: Polygon) -> Point:
    x, y = shapely.get_coordinates(polygon.centroid)[0]
    return float(x), float(y)


def _point(at: Points) -> Point:
    x, y = at.tolist()
    return x, y


def _read_only(array: NDArray[Any]) -> NDArray[Any]:
    array.flags.writeable = False
    return array
