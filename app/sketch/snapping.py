"""Snapping: places and lines that a moving point catches, and what it caught, so that it can be shown.

Everything here is mm on the cloth. The order in which things are caught: places before lines, two lines
that cross before one, one line before the grid. A point that catches nothing stays where it is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from app.sketch.hit import distance, nearest_on_side
from geometry.types import Point, Points

_PARALLEL = 1e-3
"""Sine of the angle below which two guide lines do not give a crossing worth catching."""

_INCH_STEPS = tuple(25.4 * step for step in (1 / 16, 1 / 8, 1 / 4, 1 / 2, 1, 2, 4, 8, 16, 32, 64))
_METRIC_STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0)
_GRID_PIXELS = 12.0
"""The grid's lines are at least this far apart on the screen; closer ones would catch everywhere."""


class Caught(StrEnum):
    """What a point was caught by."""

    BEST = "best"
    """The anchor that was found to be the best."""
    MIDDLE = "middle"
    CORNER = "corner"
    SIDE_MIDDLE = "side-middle"
    SIDE = "side"
    SQUARE = "square"
    IN_LINE = "in-line"
    GRID = "grid"


@dataclass(frozen=True, slots=True)
class Target:
    """A place that catches."""

    at: Point
    what: Caught
    name: str = ""
    """Letter of the side or name of the corner, where it has one."""


@dataclass(frozen=True, slots=True)
class GuideLine:
    """An endless line that catches, through ``origin`` along the unit vector ``direction``."""

    origin: Point
    direction: Point
    what: Caught


@dataclass(frozen=True, slots=True)
class Snap:
    """Where a point came to lie, and why."""

    at: Point
    what: Caught | None = None
    name: str = ""
    guides: tuple[tuple[Point, Point], ...] = ()
    """Lines to show, from what caught to the point."""


def grid_step(scale: float, *, metric: bool) -> float:
    """The finest usual step (mm) whose lines lie at least 12 px apart at ``scale`` px per mm."""
    steps = _METRIC_STEPS if metric else _INCH_STEPS
    return next((step for step in steps if step * scale >= _GRID_PIXELS), steps[-1])


def to_targets(point: Point, targets: Iterable[Target], reach: float) -> Snap:
    """``point``, or the nearest target within ``reach`` (ends included)."""
    near = min(targets, key=lambda target: distance(point, target.at), default=None)
    if near is None or distance(point, near.at) > reach:
        return Snap(point)
    return Snap(near.at, near.what, near.name)


def to_drawing(
    point: Point,
    targets: Sequence[Target],
    lines: Sequence[GuideLine],
    reach: float,
    *,
    grid: float = 0.0,
    sides: Sequence[Points] = (),
) -> Snap:
    """Where a corner that is being placed comes to lie.

    ``grid`` is the step of the grid in mm (0: none); ``sides`` are rings whose sides catch.
    """
    place = to_targets(point, targets, reach)
    if place.what is not None:
        return place
    near = [line for line in lines if abs(_across(point, line)) <= reach]
    near.sort(key=lambda line: (line.what is not Caught.SQUARE, abs(_across(point, line))))
    for number, first in enumerate(near):
        for second in near[number + 1 :]:
            crossing = _crossing(first, second)
            if crossing is not None and distance(crossing, point) <= reach * math.sqrt(2):
                guides = ((first.origin, crossing), (second.origin, crossing))
                return Snap(crossing, first.what, "", guides)
    if near:
        line = near[0]
        along = _along(point, line)
        if grid > 0:
            rounded = round(along / grid) * grid
            if abs(rounded - along) <= reach and rounded != 0:
                along = rounded
        at = (line.origin[0] + along * line.direction[0], line.origin[1] + along * line.direction[1])
        return Snap(at, line.what, "", ((line.origin, at),))
    side = nearest_on_side(point, sides, reach) if sides else None
    if side is not None:
        return Snap(side.at, Caught.SIDE)
    if grid > 0:
        at = (round(point[0] / grid) * grid, round(point[1] / grid) * grid)
        if distance(at, point) <= reach:
            return Snap(at, Caught.GRID)
    return Snap(point)


def lines_while_drawing(corners: Sequence[Point]) -> tuple[GuideLine, ...]:
    """The lines that catch the next corner of an outline that begins with ``corners``.

    Square to the last side and straight on from it; square to the first side at the first corner, so that
    the outline closes at a right angle; level and upright with every corner.
    """
    lines: list[GuideLine] = []
    if len(corners) >= 2:
        lines += _square(corners[-1], corners[-2])
        lines += _square(corners[0], corners[1])
    for corner in reversed(corners):
        lines += _level(corner)
    return tuple(lines)


def lines_while_shaping(ring: Points, index: int) -> tuple[GuideLine, ...]:
    """The lines that catch point ``index`` of the closed ``ring`` (n, 2) while it is dragged.

    Square to, and straight on from, the sides at its two neighbours; level and upright with every corner.
    """
    count = len(ring)
    places = [(float(x), float(y)) for x, y in ring]
    before, after = (index - 1) % count, (index + 1) % count
    lines = _square(places[before], places[(index - 2) % count]) if count > 3 else []
    lines += _square(places[after], places[(index + 2) % count]) if count > 3 else []
    lines += _level(places[before]) + _level(places[after])
    for number, place in enumerate(places):
        if number not in (before, index, after):
            lines += _level(place)
    return tuple(lines)


def _square(corner: Point, neighbour: Point) -> list[GuideLine]:
    length = distance(corner, neighbour)
    if length == 0:
        return []
    along = ((corner[0] - neighbour[0]) / length, (corner[1] - neighbour[1]) / length)
    return [
        GuideLine(corner, (-along[1], along[0]), Caught.SQUARE),
        GuideLine(corner, along, Caught.SQUARE),
    ]


def _level(corner: Point) -> list[GuideLine]:
    return [
        GuideLine(corner, (1.0, 0.0), Caught.IN_LINE),
        GuideLine(corner, (0.0, 1.0), Caught.IN_LINE),
    ]


def _across(point: Point, line: GuideLine) -> float:
    dx, dy = point[0] - line.origin[0], point[1] - line.origin[1]
    return line.direction[0] * dy - line.direction[1] * dx


def _along(point: Point, line: GuideLine) -> float:
    dx, dy = point[0] - line.origin[0], point[1] - line.origin[1]
    return line.direction[0] * dx + line.direction[1] * dy


def _crossing(first: GuideLine, second: GuideLine) -> Point | None:
    sine = first.direction[0] * second.direction[1] - first.direction[1] * second.direction[0]
    if abs(sine) < _PARALLEL:
        return None
    run = np.subtract(second.origin, first.origin)
    along = float(run[0] * second.direction[1] - run[1] * second.direction[0]) / sine
    return (
        first.origin[0] + along * first.direction[0],
        first.origin[1] + along * first.direction[1],
    )
