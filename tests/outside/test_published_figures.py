"""Polygons, insets, units: figures out of books and standards. The source stands beside each."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import Polygon

from geometry import Patch, Settings, fit
from geometry.units import MM_PER_INCH, parse_length

INCH = 25.4

# Machinery's Handbook, 31st edition, page 82 (read): side 1, inradius, circumradius, area
HANDBOOK = {
    3: (0.2887, 0.5774, 0.4330),
    4: (0.5, 0.7071, 1.0),
    5: (0.6882, 0.8507, 1.7205),
    6: (0.8660, 1.0, 2.5981),
    8: (1.2071, 1.3066, 4.8284),
    10: (1.5388, 1.6180, 7.6942),
    12: (1.8660, 1.9319, 11.196),
}
# outside_checks.md (computed): what is left of a regular polygon's side S, a quarter inch inside
INSETS = [(3, 10, 9.133975), (4, 12, 11.5), (6, 6, 5.711325), (8, 5, 4.792893)]


def regular(n: int, side: float) -> np.ndarray:
    """A regular polygon with its first side along the bottom, mm."""
    r = side / (2 * math.sin(math.pi / n))
    turn = 2 * math.pi * (np.arange(n) + 0.5) / n + math.pi / 2
    return np.column_stack([r * np.cos(turn), r * np.sin(turn)])


def _sides(polygon: Polygon) -> np.ndarray:
    at = np.asarray(polygon.exterior.coords)
    return np.asarray(np.hypot(*np.diff(at, axis=0).T))


@pytest.mark.parametrize("n", HANDBOOK)
def test_handbook_polygons(n: int) -> None:
    inradius, circumradius, area = HANDBOOK[n]
    side = 8 * INCH
    patch = Patch(regular(n, side))
    digits = {"abs": 5.1e-5}
    assert patch.polygon.area / side**2 == pytest.approx(area, abs=5.1e-5 if area < 10 else 5.1e-4)
    # without a margin, a gap, and with a division in the middle of every side, the legs of the wedges from
    # the middle are the circumradius and the inradius
    wedges = fit(patch, (0.0, 0.0), Settings(edge_margin=0.0, gap=0.0)).fans[0].wedges
    assert len(wedges) == 2 * n
    for wedge in wedges:
        legs = sorted(math.hypot(*wedge.side[end]) / side for end in (0, -1))
        assert legs[0] == pytest.approx(inradius, **digits)
        assert legs[1] == pytest.approx(circumradius, **digits)
        assert wedge.side_length == pytest.approx(side / 2, rel=1e-12)
        assert wedge.apex_angle == pytest.approx(math.pi / n, rel=1e-12)
    total = sum(Polygon(wedge.outline).area for wedge in wedges)
    assert total == pytest.approx(patch.polygon.area, rel=1e-12)


@pytest.mark.parametrize("n", HANDBOOK)
@pytest.mark.parametrize("side_inches", [5, 9.5, 24])
def test_inset_closed_form(n: int, side_inches: float) -> None:
    side, margin = side_inches * INCH, INCH / 4
    (area,) = fit(Patch(regular(n, side)), (0.0, 0.0), Settings(edge_margin=margin)).stitchable
    expected = side - 2 * margin * math.tan(math.pi / n)
    assert _sides(area) == pytest.approx(np.full(n, expected), rel=1e-9)


@pytest.mark.parametrize(("n", "side", "left"), INSETS)
def test_published_insets(n: int, side: float, left: float) -> None:
    (area,) = fit(Patch(regular(n, side * INCH)), (0.0, 0.0), Settings()).stitchable
    assert _sides(area) / INCH == pytest.approx(np.full(n, left), abs=5.1e-7)


@pytest.mark.parametrize("n", HANDBOOK)
def test_regular_polygons_from_the_middle_by_hand(n: int) -> None:
    """All wedges are alike; their figures follow from two right-angled triangles."""
    side = 8 * INCH
    settings = Settings()
    wedges = fit(Patch(regular(n, side)), (0.0, 0.0), settings).fans[0].wedges
    assert len(wedges) == 2 * n
    inner = side / (2 * math.tan(math.pi / n)) - settings.edge_margin
    middle = math.asin(settings.gap / (2 * inner))  # both legs inner / cos d long, 2 d apart
    low, high = 0.0, math.pi / n  # at a corner: inner / cos(pi / n - d) long, 2 d apart
    for _ in range(100):
        d = (low + high) / 2
        low, high = (
            (d, high) if inner / math.cos(math.pi / n - d) * math.sin(2 * d) < settings.gap else (low, d)
        )
    length = inner * (math.tan(math.pi / n - low) - math.tan(middle))
    for wedge in wedges:
        assert wedge.side_length == pytest.approx(length, abs=1e-6)
        assert wedge.apex_angle == pytest.approx(math.pi / n - low - middle, abs=1e-8)


def test_mitred_inset_against_another_library() -> None:
    """pyclipper (Angus Johnson's Clipper) insets the counties as the engine does, where no tip is cut."""
    clipper = pytest.importorskip("pyclipper", reason="a test extra")
    from tests.outside.shapes import counties

    compared = 0
    for number in range(0, 171, 7):
        outline, holes = counties()[number]
        patch = Patch(outline, holes)
        at = patch.polygon.representative_point()
        parts = fit(patch, (at.x, at.y), Settings()).stitchable
        scale = 2.0**20
        offset = clipper.PyclipperOffset(2.0)
        for ring in (patch.polygon.exterior, *patch.polygon.interiors):
            path = np.rint(np.asarray(ring.coords)[:-1] * scale).astype(np.int64)
            offset.AddPath(path.tolist(), clipper.JT_MITER, clipper.ET_CLOSEDPOLYGON)
        answer = offset.Execute(-Settings().edge_margin * scale)
        rings = [Polygon(np.array(ring) / scale) for ring in answer if len(ring) > 2]
        mine = shapely.union_all(parts)
        # Clipper bevels a mitre beyond its limit at the corner's own distance, not square at twice the
        # margin: where a tip is cut, it leaves more. Within the cut tips the two may differ.
        other = Polygon()
        for ring in rings:
            other = other.symmetric_difference(ring.buffer(0))
        off = mine.symmetric_difference(other)
        deep = shapely.distance(shapely.points(shapely.get_coordinates(off)), patch.polygon.boundary)
        assert deep.max(initial=0) <= 2.5 * Settings().edge_margin
        if _sharpest(patch.polygon) < 2 * math.pi / 3 - 1e-6:
            assert off.area <= 1e-4 * max(mine.area, 1), number
            compared += 1
    assert compared >= 5


def _sharpest(polygon: Polygon) -> float:
    """How far the edge turns at the sharpest corner that points into the area; over 120° the tip is cut."""
    sharpest = 0.0
    for ring in shapely.get_rings(shapely.orient_polygons(polygon)):
        edge = np.diff(np.asarray(ring.coords), axis=0)
        back = np.roll(edge, 1, axis=0)
        turn = np.arctan2(back[:, 0] * edge[:, 1] - back[:, 1] * edge[:, 0], (back * edge).sum(1))
        sharpest = max(sharpest, float(-turn.min()))
    return sharpest


# outside_checks.md: largest circle inside (first: PostGIS manual, ST_MaximumInscribedCircle, read; the others
# closed forms). The finding no-room names the widest circle that fits.
_POSTGIS = (
    [(40, 180), (110, 160), (180, 180), (180, 120), (140, 90), (160, 40), (80, 10), (70, 40), (20, 50)],
    [[(60, 140), (50, 90), (90, 140)]],
)
CIRCLES: list[tuple[Any, Any, float]] = [
    (*_POSTGIS, 45.199),
    ([(0, 0), (6, 0), (0, 8)], [], 2.0),
    ([(0, 0), (8, 0), (8, 3), (3, 3), (3, 8), (0, 8)], [], 3 * math.sqrt(2) / (1 + math.sqrt(2))),
]


@pytest.mark.parametrize(("outline", "holes", "radius"), CIRCLES)
def test_the_largest_circle_inside(outline: Any, holes: Any, radius: float) -> None:
    """A margin under the largest circle's radius leaves room, one just over it leaves none."""
    patch = Patch(np.array(outline, dtype=float), [np.array(hole, dtype=float) for hole in holes])
    at = patch.polygon.representative_point()
    over = fit(patch, (at.x, at.y), Settings(edge_margin=1.001 * radius))
    assert over.stitchable == ()
    (finding,) = (finding for finding in over.findings if finding.code == "no-room")
    # the design page says "the widest circle": its radius or its width
    assert min(abs(finding.value - radius), abs(finding.value - 2 * radius)) <= 0.002 * radius
    if len(outline) == 3:  # (a circle that a corner pointing inwards bounds is as wide as the mitre lets it)
        assert fit(patch, (at.x, at.y), Settings(edge_margin=0.97 * radius)).stitchable


def test_inch() -> None:
    # CSS Values and Units, absolute lengths (read): 1 in = 2.54 cm = 96 px = 72 pt = 6 pc
    assert MM_PER_INCH == 25.4
    assert parse_length("1 in", "mm") == 25.4
    assert parse_length("2.54", "cm") == 25.4
    assert parse_length("3/8", "in") == 9.525


def test_the_counties_name_their_licence() -> None:
    from tests.outside.shapes import HERE

    held = json.loads((HERE / "counties.json").read_text(encoding="utf-8"))
    assert "BSD" in held["licence"]
    assert "Redistribution" in (HERE / "counties-LICENSE.txt").read_text(encoding="utf-8")
