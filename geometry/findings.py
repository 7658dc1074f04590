"""Findings: what the quilter should know about a fit. Data only; the app words them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from geometry.types import Point


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
