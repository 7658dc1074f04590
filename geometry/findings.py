"""Findings: what the quilter should know about a fit. Data only; the app words them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

import shapely
from shapely import Polygon

from geometry.fan import Lost, Wedge, half_way
from geometry.settings import Settings
from geometry.stitchable import widest_circle
from geometry.types import Point

if TYPE_CHECKING:
    from geometry.patch import Patch


class Level(StrEnum):
    """How much a finding matters."""

    PROBLEM = "problem"
    CAUTION = "caution"
    NOTE = "note"


class Code(StrEnum):
    """Stable names of the findings (design page, 3.8)."""

    SIDE_SHORT = "side-short"
    WEDGE_THIN = "wedge-thin"
    WEDGE_LOST = "wedge-lost"
    WOBBLE_RISK = "wobble-risk"
    OUT_OF_SIGHT = "out-of-sight"
    NO_ROOM = "no-room"
    PINCHED = "pinched"
    CROWDED_ANCHOR = "crowded-anchor"
    OPEN_AREA = "open-area"
    NEAR_CENTRE = "near-centre"
    ECHO_DROPPED = "echo-dropped"
    SIMPLIFIED = "simplified"
    REPAIRED = "repaired"


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change that makes the finding go away: settings to change, or anchors to use instead."""

    settings: Mapping[str, object] = field(default_factory=dict)
    anchors: tuple[Point, ...] | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to know. ``value`` and ``limit`` are mm unless the code says otherwise
    (out-of-sight and pinched: a share of the stitchable area, 0 to 1; echo-dropped, repaired,
    simplified: counts; crowded-anchor: passes of thread)."""

    code: Code
    level: Level
    at: Point
    value: float
    limit: float
    wedge: int | None = None
    """Number of the wedge (1 is the first), or None."""
    detail: str = ""
    """A stable sub-code for the wording, such as what was repaired."""
    remedy: Remedy | None = None


def wedge_findings(wedges: tuple[Wedge, ...], settings: Settings) -> list[Finding]:
    """``side-short`` and ``wedge-thin``, in the order of the wedges."""
    limit = settings.visible_width
    found = []
    for wedge in wedges:
        for code, value in ((Code.SIDE_SHORT, wedge.side_length), (Code.WEDGE_THIN, wedge.across)):
            if value < limit:
                found.append(Finding(code, Level.PROBLEM, half_way(wedge.side), value, limit, wedge.number))
    return found


def lost_wedges(lost: tuple[Lost, ...], settings: Settings) -> list[Finding]:
    """``wedge-lost``: the length in sight of a span without room for its wedge, and the gap."""
    return [
        Finding(
            Code.WEDGE_LOST, Level.PROBLEM, piece.at, piece.length, settings.gap, detail="-".join(piece.span)
        )
        for piece in lost
    ]


def out_of_sight_finding(
    share: float, areas: tuple[Polygon, ...], parts: tuple[Polygon, ...], part: int, settings: Settings
) -> list[Finding]:
    """``out-of-sight``: a problem from a hundredth of the stitchable area on, a caution below.

    What is smaller than a square of half the visible width is nothing anybody sees, and no finding.
    """
    own = [area for area in areas if not any(area is other for i, other in enumerate(parts) if i != part)]
    if not own or own[0].area < (settings.visible_width / 2) ** 2:
        return []
    at = _inside(own[0])
    level = Level.PROBLEM if share >= OUT_OF_SIGHT_LIMIT else Level.CAUTION
    return [Finding(Code.OUT_OF_SIGHT, level, at, share, OUT_OF_SIGHT_LIMIT)]


def pinched(parts: tuple[Polygon, ...], part: int, area: float) -> list[Finding]:
    """``pinched``: for each part of the stitchable area that the fan does not fill, its share."""
    return [
        Finding(Code.PINCHED, Level.PROBLEM, _inside(other), other.area / area, 0.0)
        for i, other in enumerate(parts)
        if i != part
    ]


def no_room(patch: Patch, settings: Settings) -> Finding:
    """``no-room``: the width of the widest circle in the patch against twice the edge margin.

    The remedy is the widest margin, in sixteenths of an inch, that leaves a strip as wide as the
    visible width at the circle's place.
    """
    at, radius = widest_circle(patch.polygon)
    sixteenth = 25.4 / 16
    margin = math.floor((radius - settings.visible_width / 2) / sixteenth) * sixteenth
    remedy = Remedy(settings={"edge_margin": margin}) if margin >= 0 else None
    return Finding(Code.NO_ROOM, Level.PROBLEM, at, 2 * radius, 2 * settings.edge_margin, remedy=remedy)


def repairs(patch: Patch) -> list[Finding]:
    """``repaired`` and ``simplified``, as notes."""
    return [
        Finding(repair.code, Level.NOTE, repair.at, repair.count, 0, detail=str(repair.detail))
        for repair in patch.repairs
    ]


OUT_OF_SIGHT_LIMIT = 0.01
"""Share of the stitchable area: with 99 % in sight the rest is smaller than a gap."""


def _inside(polygon: Polygon) -> Point:
    x, y = shapely.get_coordinates(polygon.representative_point())[0]
    return float(x), float(y)
