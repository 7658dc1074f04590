"""Which wedge is stitched first, and which way round: what is shown of it, and what lies under the hand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import shapely

from geometry import Fit
from geometry.stitch_path import Kind
from geometry.types import Point, Points

_SHARES: Final = (0.5, 0.7, 0.3, 0.9, 0.1)


@dataclass(frozen=True, slots=True)
class Start:
    """Where the stitch path begins its first wedge, and which way it goes. mm and rad."""

    wedge: int
    leg: tuple[Point, Point]
    """The first leg, in stitching order: from the anchor outwards."""
    side: tuple[tuple[Point, float], ...]
    """Places on the first wedge's side, half way along at first, then nearer to its ends; and which way the
    path runs there, from x towards y.
    """
    signs: tuple[Point, ...]
    """Where findings have theirs."""
    begins: Point
    """The first place of the whole path: the leg's beginning, or where it travels there from."""
    fans: tuple[Point, ...]
    """Their anchors, in the order in which the path goes through them."""


def start_of(fit: Fit) -> Start | None:
    """The beginning of the first wedge of ``fit``; None where nothing is stitched."""
    leg: tuple[Point, Point] | None = None
    for segment in fit.path.segments:
        places = segment.points
        if segment.wedge is None or len(places) < 2:
            continue
        if segment.kind is Kind.LEG and leg is None:
            leg = (_point(places[0]), _point(places[-1]))
        elif segment.kind is Kind.SIDE and leg is not None:
            line = shapely.LineString(places)
            side = tuple(_along(line, share) for share in _SHARES)
            signs = tuple(finding.at for finding in fit.prompt_findings)
            return Start(segment.wedge, leg, side, signs, _point(fit.path.line.points[0]), _in_order(fit))
    return None


def _along(line: shapely.LineString, share: float) -> tuple[Point, float]:
    """The place at ``share`` of ``line``, and which way it runs there."""
    at, before = (
        _point(shapely.get_coordinates(line.interpolate(each, normalized=True))[0])
        for each in (share, share - 0.01)
    )
    return at, math.atan2(at[1] - before[1], at[0] - before[0])


def _in_order(fit: Fit) -> tuple[Point, ...]:
    """The anchors of all fans that the path goes through, as it comes to them."""
    anchors = {wedge.number: fan.anchor for fan in fit.fans for wedge in fan.wedges}
    return tuple(dict.fromkeys(anchors[number] for number in fit.path.line.wedges.tolist() if number))


def wedge_at(fit: Fit, point: Point) -> int | None:
    """Number of the wedge that ``point`` (mm) lies in, its outline included."""
    place = shapely.Point(point)
    for fan in fit.prompt_fans:
        for wedge in fan.wedges:
            if shapely.Polygon(wedge.outline).intersects(place):
                return wedge.number
    return None


def _point(at: Points) -> Point:
    x, y = at.tolist()
    return x, y
