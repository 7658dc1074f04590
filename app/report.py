"""The report: fits as plain data, the JSON of ``wedgewright fit --json``.

Millimetres, rounded to 1e-6, angles in degrees. Lines that are stitched (wedges, echoes) are closed: their
first point comes again at the end. Areas (outline, holes, stitchable, region, areas out of sight) are rings
of corners, each corner once. Totals are those of one stitching; ``repeats`` says how often the patch occurs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import fields
from typing import Any, NamedTuple

import numpy as np
import shapely
from shapely import Polygon

from app.sketch.wording import finding_text
from geometry import Fit, Settings
from geometry.units import LengthStyle

VERSION = 1
_DECIMALS = 6


class FittedPatch(NamedTuple):
    """A fit with what the plan knows beside it."""

    name: str
    fit: Fit
    repeats: int = 1


def report(fitted: Iterable[FittedPatch], style: LengthStyle) -> dict[str, Any]:
    """All of ``fitted`` as one JSON-ready value; ``style`` is how lengths read in the findings' text."""
    return {
        "wedgewright-report": VERSION,
        "unit": "mm",
        "patches": [_patch(each, style) for each in fitted],
    }


def _patch(fitted: FittedPatch, style: LengthStyle) -> dict[str, Any]:
    fit = fitted.fit
    return {
        "name": fitted.name,
        "outline": rounded_points(fit.patch.outline),
        "holes": [rounded_points(hole) for hole in fit.patch.holes],
        "settings": _settings(fit.settings),
        "stitchable": [_polygon(part) for part in fit.stitchable],
        "fans": [
            {
                "anchor": rounded_points([fan.anchor])[0],
                "region": _polygon(fan.region),
                "marks": [
                    {"name": mark.name, "at": rounded_points([mark.at])[0], "kind": mark.kind.value}
                    for mark in fan.marks
                ],
                "wedges": [
                    {
                        "number": wedge.number,
                        "outline": rounded_points(wedge.outline),
                        "side": rounded_points(wedge.side),
                        "side_length": rounded(wedge.side_length),
                        "across": rounded(wedge.across),
                        "apex_angle_deg": rounded(math.degrees(wedge.apex_angle)),
                        "echoes": [rounded_points(echo) for echo in wedge.echoes],
                    }
                    for wedge in fan.wedges
                ],
            }
            for fan in fit.fans
        ],
        "out_of_sight": {
            "share": rounded(fit.out_of_sight.share),
            "areas": [_ring(piece) for area in fit.out_of_sight.areas for piece in _without_holes(area)],
        },
        "path": [
            {"kind": segment.kind.value, "wedge": segment.wedge, "points": rounded_points(segment.points)}
            for segment in fit.path.segments
        ],
        "findings": [
            {
                "code": finding.code.value,
                "level": finding.level.value,
                "wedge": finding.wedge,
                "at": rounded_points([finding.at])[0],
                "value": rounded(finding.value),
                "limit": rounded(finding.limit),
                "text": finding_text(finding, fit, style),
            }
            for finding in fit.findings
        ],
        "totals": {
            "stitched": rounded(fit.totals.stitched),
            "stitches": fit.totals.stitches,
            "top_thread": rounded(fit.totals.top_thread),
            "bobbin_thread": rounded(fit.totals.bobbin_thread),
            "minutes": rounded(fit.totals.minutes),
            "repeats": fitted.repeats,
        },
    }


def _settings(settings: Settings) -> dict[str, Any]:
    return {field.name: _plain(getattr(settings, field.name)) for field in fields(settings)}


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return rounded(value)
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value


def _polygon(polygon: Polygon) -> dict[str, Any]:
    return {
        "outline": _ring(polygon),
        "holes": [rounded_points(ring.coords[:-1]) for ring in polygon.interiors],
    }


def _ring(polygon: Polygon) -> list[list[float]]:
    return rounded_points(polygon.exterior.coords[:-1])


def _without_holes(area: Polygon) -> Iterator[Polygon]:
    """``area`` cut into pieces that a single ring can describe: upright cuts through its holes."""
    if not area.interiors:
        yield area
        return
    left, bottom, right, top = area.bounds
    cut = area.interiors[0].centroid.x
    for half in (shapely.box(left, bottom, cut, top), shapely.box(cut, bottom, right, top)):
        for piece in shapely.get_parts(shapely.get_parts(area.intersection(half))):
            if isinstance(piece, Polygon) and not piece.is_empty:
                yield from _without_holes(piece)


def rounded_points(points: Any) -> list[list[float]]:
    """(n, 2) mm as lists, rounded; adding 0 turns -0.0 into 0.0."""
    array = np.asarray(points, dtype=np.float64)
    answer: list[list[float]] = (np.round(array, _DECIMALS) + 0.0).tolist()
    return answer


def rounded(value: float) -> float:
    """As every report writes figures; never -0."""
    return round(float(value), _DECIMALS) + 0.0
