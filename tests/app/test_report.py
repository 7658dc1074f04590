"""The report, key by key, and its figures against the fit that it tells."""

from __future__ import annotations

import json
import math
from dataclasses import fields
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import Polygon

from app.report import FittedPatch, report
from geometry import Fit, Patch, Settings, fit
from geometry.fit import OutOfSight
from geometry.units import LengthStyle

INCH = 25.4
BLOCK = [(0, 0), (8 * INCH, 0), (8 * INCH, 8 * INCH), (0, 8 * INCH)]
L_SHAPE = [(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)]


def told(
    patch: Patch, anchor: tuple[float, float], settings: Settings | None = None
) -> tuple[Fit, dict[str, Any]]:
    """A fit and its report as a reader of the JSON gets it."""
    one = fit(patch, anchor, settings)
    whole = report([FittedPatch("Name", one, 3)], LengthStyle.MM)
    return one, json.loads(json.dumps(whole, allow_nan=False))["patches"][0]


def test_the_keys_are_those_of_the_contract() -> None:
    whole = report([FittedPatch("L", fit(Patch(L_SHAPE), (280.0, 20.0)))], LengthStyle.MM)
    assert list(whole) == ["wedgewright-report", "unit", "patches"]
    assert whole["wedgewright-report"] == 1
    assert whole["unit"] == "mm"
    (patch,) = whole["patches"]
    assert list(patch) == [
        *(
            "name",
            "outline",
            "holes",
            "settings",
            "stitchable",
            "fans",
            "out_of_sight",
            "path",
            "findings",
            "totals",
        )
    ]
    assert list(patch["settings"]) == [field.name for field in fields(Settings)]
    assert [list(part) for part in patch["stitchable"]] == [["outline", "holes"]]
    (fan,) = patch["fans"]
    assert list(fan) == ["anchor", "region", "marks", "wedges"]
    assert list(fan["region"]) == ["outline", "holes"]
    assert {tuple(mark) for mark in fan["marks"]} == {("name", "at", "kind")}
    assert {mark["kind"] for mark in fan["marks"]} == {"corner", "division"}
    assert {tuple(wedge) for wedge in fan["wedges"]} == {
        ("number", "outline", "side", "side_length", "across", "apex_angle_deg", "echoes")
    }
    assert list(patch["out_of_sight"]) == ["share", "areas"]
    assert {tuple(segment) for segment in patch["path"]} == {("kind", "wedge", "points")}
    assert {segment["kind"] for segment in patch["path"]} <= {"leg", "side", "echo", "hop", "travel"}
    assert patch["findings"]
    assert {tuple(finding) for finding in patch["findings"]} == {
        ("code", "level", "wedge", "at", "value", "limit", "text")
    }
    assert {finding["level"] for finding in patch["findings"]} <= {"problem", "caution", "note"}
    assert list(patch["totals"]) == [
        *("stitched", "stitches", "top_thread", "bobbin_thread", "minutes", "repeats")
    ]


def test_an_eight_inch_block_worked_by_hand() -> None:
    _, patch = told(Patch(BLOCK), (4 * INCH, 4 * INCH))
    assert patch["outline"] == [[0, 0], [203.2, 0], [203.2, 203.2], [0, 203.2]]
    assert patch["holes"] == []
    # 1/4 in, 6.35 mm, inside the seam all around.
    assert patch["stitchable"] == [
        {"outline": [[6.35, 6.35], [196.85, 6.35], [196.85, 196.85], [6.35, 196.85]], "holes": []}
    ]
    assert patch["fans"][0]["anchor"] == [101.6, 101.6]
    wedges = patch["fans"][0]["wedges"]
    assert [wedge["number"] for wedge in wedges] == [1, 2, 3, 4, 5, 6, 7, 8]
    # Four corners and four middles of sides, each named after its side or its two sides.
    assert sorted(mark["name"] for mark in patch["fans"][0]["marks"]) == [
        *("A1", "AB", "B1", "BC", "C1", "CD", "D1", "DA")
    ]
    assert patch["findings"] == []
    assert patch["totals"]["repeats"] == 3
    assert patch["settings"]["edge_margin"] == 6.35
    assert patch["settings"]["spans_per_side"] == 2


def test_figures_agree_with_the_shapes_told_beside_them() -> None:
    _, patch = told(Patch(L_SHAPE, [[(30, 30), (60, 30), (60, 60), (30, 60)]]), (250.0, 50.0))
    seam = Polygon(patch["outline"], patch["holes"])
    area = shapely.union_all([Polygon(part["outline"], part["holes"]) for part in patch["stitchable"]])
    assert seam.area == pytest.approx(300 * 100 + 200 * 100 - 900)
    assert area.within(seam)
    stitched = 0.0
    for wedge in patch["fans"][0]["wedges"]:
        assert wedge["outline"][0] == wedge["outline"][-1] == patch["fans"][0]["anchor"]
        assert Polygon(wedge["outline"]).within(area.buffer(1e-5))
        assert shapely.LineString(wedge["side"]).length == pytest.approx(wedge["side_length"], abs=1e-5)
        legs = np.subtract([wedge["side"][0], wedge["side"][-1]], wedge["outline"][0])
        lengths = np.hypot(*legs.T)
        angle = math.acos(legs[0] @ legs[1] / lengths.prod())
        assert math.radians(wedge["apex_angle_deg"]) == pytest.approx(angle, abs=1e-5)
        assert wedge["across"] == pytest.approx(min(lengths) * math.sin(min(angle, math.pi / 2)), abs=1e-3)
        stitched += shapely.LineString(wedge["outline"]).length
    assert sum(shapely.LineString(segment["points"]).length for segment in patch["path"]) == pytest.approx(
        patch["totals"]["stitched"], abs=1e-4
    )
    assert stitched == pytest.approx(patch["totals"]["stitched"], abs=1e-4)
    hidden = sum(Polygon(ring).area for ring in patch["out_of_sight"]["areas"])
    assert hidden / area.area == pytest.approx(patch["out_of_sight"]["share"], abs=1e-6)
    assert hidden > 0


def test_no_number_is_longer_than_six_decimals_or_minus_nought() -> None:
    turned = Patch(
        [(math.cos(k) * 100 - 1e-9, math.sin(k) * 100) for k in np.linspace(0, 2 * math.pi, 7)[:-1]]
    )
    one, _ = told(turned, (-1e-12, -1e-12))
    text = json.dumps(report([FittedPatch("n", one)], LengthStyle.MM))
    numbers: list[str] = []
    json.loads(text, parse_float=lambda number: numbers.append(number) or 0.0)
    assert len(numbers) > 100
    assert [
        number
        for number in numbers
        if len(number.partition(".")[2]) > 6 or float(number) == 0 > math.copysign(1, float(number))
    ] == []
    assert "[0.0, 0.0]" in text


def test_an_area_with_holes_is_told_in_pieces_that_cover_the_same() -> None:
    one = fit(Patch(BLOCK), (4 * INCH, 4 * INCH))
    holed = shapely.box(0, 0, 100, 60).difference(
        shapely.union_all(
            [shapely.box(10, 10, 30, 30), shapely.box(15, 40, 25, 50), shapely.Point(70, 30).buffer(15)]
        )
    )
    assert len(holed.interiors) == 3
    hidden = Fit(
        **{**{f.name: getattr(one, f.name) for f in fields(Fit)}, "out_of_sight": OutOfSight(0.5, (holed,))}
    )
    rings = report([FittedPatch("n", hidden)], LengthStyle.MM)["patches"][0]["out_of_sight"]["areas"]
    pieces = [Polygon(ring) for ring in rings]
    assert all(piece.is_valid for piece in pieces)
    assert shapely.union_all(pieces).symmetric_difference(holed).area < 1e-3
    assert sum(piece.area for piece in pieces) == pytest.approx(holed.area, abs=1e-3)


def test_lengths_in_the_text_follow_the_style() -> None:
    one = fit(Patch([(0, 0), (200, 0), (200, 25), (0, 25)]), (100.0, 12.5))
    texts = {
        style: report([FittedPatch("n", one)], style)["patches"][0]["findings"][0]["text"]
        for style in (LengthStyle.EIGHTHS, LengthStyle.CM, LengthStyle.MM)
    }
    assert " in " in texts[LengthStyle.EIGHTHS]
    assert " cm " in texts[LengthStyle.CM]
    assert " mm " in texts[LengthStyle.MM]
