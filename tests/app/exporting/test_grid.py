from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from app.exporting.options import TemplateKind, TemplateOptions
from app.exporting.print_job import PrintJob
from app.exporting.sheets import PAPERS, tile
from app.exporting.template import template_drawing
from app.window.sample import sample_plan
from geometry import Fit, fit
from geometry.units import LengthStyle
from tests.app.exporting import samples
from tests.app.exporting.oracle_sheets import drawn, fewest_sheets

STEP = 11.0
"""mm: of the oracle's places of the grid."""


@cache
def fits() -> dict[str, Fit]:
    plan = {each.name: fit(each.patch(), each.anchors, each.settings) for each in sample_plan().patches}
    return plan | {"large": samples.large(), "slanted": samples.slanted(), "troubled": samples.troubled()}


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("kind", [TemplateKind.BOTH, TemplateKind.MARKS])
def test_no_place_of_the_grid_takes_fewer_sheets(paper: str, kind: TemplateKind) -> None:
    options = TemplateOptions(kind=kind, paper=PAPERS[paper])
    size = (PAPERS[paper].width, PAPERS[paper].height)
    several = 0
    for name, each in fits().items():
        count = PrintJob.of([(name, each)], options).count
        if kind is TemplateKind.MARKS and name != "slanted":
            continue  # its lines are those of its seam, and as many sheets
        template = drawn(template_drawing(each, options, LengthStyle.EIGHTHS))
        width, height = np.ptp(np.reshape(template.bounds, (2, 2)), axis=0)
        if count == 1:
            continue
        if count == 2:
            fitting = [
                max(width - across, height - down) < 1e-9 or max(height - across, width - down) < 1e-9
                for across, down in _rooms(size)
            ]
            assert not any(fitting), name
            continue
        several += 1
        assert count <= fewest_sheets(template, size, STEP), name
    assert several >= 1


def _rooms(paper: tuple[float, float]) -> list[tuple[float, float]]:
    """By hand: margins of 12.7 mm, and 51.5 mm for squares and words below or beside."""
    (width, height) = paper
    return [(width - 25.4, height - 76.9), (width - 76.9, height - 25.4)]


def count_of(template: BaseGeometry) -> int:
    return len(tile(template, PAPERS["a4"]).sheets)


def test_what_lies_in_the_overlap_takes_no_sheet_of_its_own() -> None:
    # A4 upright leaves 186 × 221.5. Two dots 350 mm apart across: two sheets, and with the line between too.
    line = shapely.LineString([(0, 0), (350, 0)])
    assert count_of(line) == 2
    # A tip of 8 mm that reaches beyond the first row only where the sheets share 12 mm.
    tip = shapely.LineString([(175, 0), (175, 8)])
    assert count_of(shapely.union_all([line, tip])) == 2


def test_an_empty_middle_takes_no_sheet_but_what_holds_the_others_together() -> None:
    ring = shapely.box(0, 0, 1000, 1000).exterior
    around = tile(ring, PAPERS["a4"])
    box = tile(shapely.box(0, 0, 1000, 1000), PAPERS["a4"])
    assert len(around.sheets) == len(box.sheets) - (box.rows - 2) * (box.columns - 2)
    # A dot in the middle is on a sheet of its own, and the way to it hangs together.
    dotted = tile(shapely.union_all([ring, shapely.Point(500, 500)]), PAPERS["a4"])
    places = {(sheet.row, sheet.column) for sheet in dotted.sheets}
    assert len(around.sheets) < len(places) <= len(around.sheets) + 2
    assert hang_together(list(places))
    windows = [shapely.box(*sheet.window) for sheet in dotted.sheets]
    assert any(window.contains(shapely.Point(500, 500)) for window in windows)


def hang_together(places: list[tuple[int, int]]) -> bool:
    """Whether one comes from each to each other by its sides."""
    reached = [min(places)]
    for row, column in reached:
        beside = {(row + 1, column), (row - 1, column), (row, column + 1), (row, column - 1)}
        reached += sorted(beside & set(places) - set(reached))
    return set(reached) == set(places)


@pytest.mark.parametrize("angle", range(0, 90, 13))
def test_every_piece_of_a_line_lies_on_a_sheet_and_no_sheet_can_be_spared(angle: int) -> None:
    star = [
        shapely.LineString([(0, 0), (430 * np.cos(at), 430 * np.sin(at))])
        for at in np.radians(angle + np.arange(5) * 72.0)
    ]
    template = shapely.union_all(star)
    sheets = tile(template, PAPERS["letter"]).sheets
    windows = [shapely.box(*sheet.window) for sheet in sheets]
    assert template.difference(shapely.union_all(windows).buffer(1e-6)).is_empty
    for number in range(len(windows)):
        rest = shapely.union_all(windows[:number] + windows[number + 1 :])
        if template.difference(rest).length < 1e-3:
            # Then it holds others together, and they would fall apart without it.
            places = [(sheet.row, sheet.column) for sheet in sheets]
            assert not hang_together(places[:number] + places[number + 1 :])
