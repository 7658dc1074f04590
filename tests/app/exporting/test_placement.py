from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
import shapely

from app.exporting.options import TemplateOptions
from app.exporting.placement import Placement
from app.exporting.template import template_drawing
from app.sketch.display_list import Label, LayerName, Line, Symbol, SymbolKind
from geometry.units import LengthStyle
from tests.app.exporting.samples import troubled

WAYS = list(product((False, True), repeat=2))
DRAWING = template_drawing(troubled(), TemplateOptions(arrows=True), LengthStyle.EIGHTHS)


@pytest.mark.parametrize(("mirrored", "turned"), WAYS)
def test_it_is_true_to_size_comes_back_and_has_its_corner(mirrored: bool, turned: bool) -> None:
    placement = Placement.of(DRAWING.bounds, mirrored, turned, (7.0, -3.0))
    seam = troubled().patch.polygon
    placed = shapely.transform(seam, placement.points)
    assert placed.bounds[:2] == pytest.approx((7.0, -3.0))
    assert placed.area == pytest.approx(seam.area)
    # The sense of going round is the other one just where it is mirrored.
    assert (placed.exterior.is_ccw != seam.exterior.is_ccw) is mirrored
    points = np.random.default_rng(3).uniform(-500, 500, (40, 2))
    assert placement.back(placement.points(points)) == pytest.approx(points)
    # By hand: to the right becomes downwards where it is turned, to the left where it is mirrored.
    way = placement.points(np.array([(1.0, 0.0)])) - placement.points(np.array([(0.0, 0.0)]))
    across = -1.0 if mirrored else 1.0
    assert way[0] == pytest.approx((0.0, across) if turned else (across, 0.0))


@pytest.mark.parametrize(("mirrored", "turned"), WAYS)
def test_a_drawing_goes_with_it_and_letters_keep_their_mark(mirrored: bool, turned: bool) -> None:
    placement = Placement.of(DRAWING.bounds, mirrored, turned, (0.0, 0.0))
    placed = placement.drawing(DRAWING)
    assert placed.bounds[:2] == pytest.approx((0.0, 0.0))
    for before, after in zip(DRAWING.items(), placed.items(), strict=True):
        match before, after:
            case Line(), Line():
                assert after.points == pytest.approx(placement.points(before.points))
            case Symbol(), Symbol():
                assert after.at == pytest.approx(placement.points(np.array([before.at]))[0])
                if before.kind is SymbolKind.ARROW:
                    tips = np.array(
                        [(math.cos(each.angle), math.sin(each.angle)) for each in (before, after)]
                    )
                    moved = placement.points(np.array([before.at + tips[0]]))[0] - after.at
                    assert moved == pytest.approx(tips[1])
                else:
                    assert after.angle == before.angle  # a triangle stays upright
            case Label(), Label():
                assert after.text == before.text
                beside = placement.points(np.array([np.array(before.at) + before.offset]))[0]
                assert np.array(after.at) + after.offset == pytest.approx(beside)
    assert len(placed.layer(LayerName.MARKS)) == len(DRAWING.layer(LayerName.MARKS)) > 0


def test_without_anything_it_is_the_same_drawing() -> None:
    assert Placement.of(DRAWING.bounds, mirrored=False).drawing(DRAWING) is DRAWING
