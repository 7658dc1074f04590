"""Anchors by name, and the best one."""

from __future__ import annotations

import math

import numpy as np
import shapely

from geometry.errors import AnchorError
from geometry.findings import Level
from geometry.fit import Fit, fit
from geometry.ground import Ground, ground_of
from geometry.marks import MarkKind
from geometry.patch import Patch, Place
from geometry.settings import Settings
from geometry.stitchable import widest_circle
from geometry.tolerances import ON_EDGE
from geometry.types import Point
from geometry.visibility import see, seen_area

_GRID = 150
"""Anchors tried over the stitchable area, about."""
_SHORTLIST = 30
"""Of those, how many of the most open are fitted in full."""


def middle_of(patch: Patch) -> Point:
    """The patch's centroid, or where that lies outside, the centre of the widest circle in it."""
    x, y = patch.centre
    if patch.locate((x, y)) is not Place.OUTSIDE:
        return x, y
    return widest_circle(patch.polygon)[0]


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
        places = [(side.letter, side.middle) for marked in ground.marked for side in marked.sides]
    elif kind == "corner":
        corners = [mark for marked in ground.marked for mark in marked.marks if mark.kind is MarkKind.CORNER]
        places = [(mark.name, mark.at) for mark in corners]
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


def best_anchor(patch: Patch, settings: Settings) -> Point:
    """The anchor with the fewest problems; of those the one that sees most, then whose narrowest wedge
    is widest. Tried are a grid over the stitchable area, its corners and side middles, and the middle.
    """
    ground = ground_of(patch, settings)
    middle = middle_of(patch)
    if not ground.parts:
        return middle
    tried = [middle, *_grid(ground)]
    tried += [side.middle for marked in ground.marked for side in marked.sides]
    tried += [mark.at for marked in ground.marked for mark in marked.marks if mark.kind is MarkKind.CORNER]
    tried = [patch.slide_into(at) for at in tried]
    tried.sort(key=lambda at: -_seen(ground, at))
    return max(tried[:_SHORTLIST], key=lambda at: _score(fit(patch, at, settings)))


def _grid(ground: Ground) -> list[Point]:
    """Points of a square grid in the stitchable area, about ``_GRID`` of them."""
    step = math.sqrt(ground.area / _GRID)
    left, top, right, bottom = shapely.total_bounds(list(ground.parts))
    x, y = np.meshgrid(np.arange(left + step / 2, right, step), np.arange(top + step / 2, bottom, step))
    inside = np.zeros(x.shape, dtype=np.bool_)
    for part in ground.parts:
        inside |= shapely.contains_xy(part, x, y)
    return list(zip(x[inside].tolist(), y[inside].tolist(), strict=True))


def _seen(ground: Ground, anchor: Point) -> float:
    """mm² in sight, to the nearest thousandth of the whole so that equals are equal."""
    part = ground.part_at(anchor)
    if shapely.distance(ground.parts[part], shapely.Point(anchor)) > ON_EDGE:
        return 0.0
    return round(seen_area(see(anchor, ground.edges[part])) / ground.area, 3)


def _score(fitted: Fit) -> tuple[float, ...]:
    problems = sum(finding.level is Level.PROBLEM for finding in fitted.findings)
    wedges = [wedge for fan in fitted.fans for wedge in fan.wedges]
    narrowest = min((min(wedge.side_length, wedge.across) for wedge in wedges), default=0.0)
    return -problems, -round(fitted.out_of_sight.share, 3), narrowest
