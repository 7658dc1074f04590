"""The sheet of tape measures without its window: shapes are judged by their own distances."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from app.sketch.display_list import Label, Line, SymbolKind
from app.sketch.palette import Role
from app.sketch.tape_form import (
    Row,
    Shape,
    Sheet,
    TapeForm,
    chosen_shape,
    off_by,
    said,
    shape_of,
    suspects,
    tape_picture,
)
from geometry.types import Points
from geometry.units import MM_PER_INCH, LengthStyle

INCH = MM_PER_INCH
STYLE = LengthStyle.EIGHTHS
HOUSE = np.array([(0, 0), (12, 0), (14, 9), (6, 13), (-2, 8)], dtype=float)
ARROW = np.array([(0, 0), (10, 0), (10, 10), (5, 4), (0, 10)], dtype=float)
"""Its corner D points inward."""


def measured(corners: Points, *diagonals: str, **wrong: str) -> TapeForm:
    """A sheet with every side and these diagonals, in inches to 1e-6; ``wrong``: what is typed instead."""
    form = TapeForm(len(corners))
    for pair in diagonals:
        form.rows.append(Row(pair))
    for row in form.rows:
        pair = TapeForm.pair_of(row)
        assert pair is not None
        row.length = f"{math.dist(corners[pair[0]], corners[pair[1]]):.6f}"
        row.length = wrong.get(row.pair.replace(" – ", ""), row.length)
    return form


def found(form: TapeForm) -> tuple[Sheet, Shape]:
    sheet = form.read(STYLE)
    return sheet, shape_of(sheet)


def test_lengths_are_read_as_people_write_them() -> None:
    form = TapeForm(3)
    for row, text in zip(form.rows, ("12 3/8", "2' 6 1/2", "11 cm"), strict=True):
        row.length = text
    form.rows[1].bow = "-1/2"
    sheet = form.read(STYLE)
    assert [each.pair for each in sheet.measures] == [(0, 1), (1, 2), (0, 2)]
    assert [each.length for each in sheet.measures] == pytest.approx([12.375 * INCH, 30.5 * INCH, 110])
    assert sheet.bows == {1: pytest.approx(-0.5 * INCH)}
    assert not sheet.wrong


@pytest.mark.parametrize("typed", ["A C", "ac", "a-c", "C – A", "A to C", " a , c "])
def test_two_letters_are_a_pair(typed: str) -> None:
    assert TapeForm.pair_of(Row(typed)) == (0, 2)


@pytest.mark.parametrize("typed", ["", "A", "A A", "ABC", "A 3"])
def test_what_names_no_two_corners_is_none(typed: str) -> None:
    assert TapeForm.pair_of(Row(typed)) is None


def test_what_cannot_be_read_is_said_where_it_stands() -> None:
    form = TapeForm(4)
    form.rows[1].length = "4 3"
    form.rows[2].bow = "x"
    form.rows.append(Row("A Q", "3"))
    wrong = form.read(STYLE).wrong
    assert set(wrong) == {(1, "length"), (2, "bow"), (4, "pair")}
    assert wrong[1, "length"].startswith("B – C: ")
    assert "A to D" in wrong[4, "pair"]


def test_the_shape_has_the_distances_that_were_measured() -> None:
    sheet, shape = found(measured(HOUSE, "A C", "B D"))
    assert shape.patch is not None
    assert shape.taped is not None
    for each in sheet.measures:
        assert math.dist(*shape.taped.corners[list(each.pair)]) == pytest.approx(each.length, abs=1e-4)
    assert shape.patch.polygon.area == pytest.approx(shapely.Polygon(HOUSE * INCH).area, rel=1e-6)


def test_too_few_say_what_would_settle_it_and_offer_its_line() -> None:
    form = measured(HOUSE)
    _, shape = found(form)
    assert shape.patch is None
    assert len(shape.wanted) == 2
    assert "2 more measures would settle it" in shape.why
    for _ in range(2):
        row = form.rows[form.add(form.offered(found(form)[1].wanted))]
        pair = TapeForm.pair_of(row)
        assert pair is not None
        row.length = f"{math.dist(*HOUSE[list(pair)]):.6f}"
    assert found(form)[1].patch is not None
    check = form.offered(())
    assert check is not None, "one more checks the rest"
    assert check not in {TapeForm.pair_of(row) for row in form.rows}


def test_the_wrong_one_stands_out_by_what_the_rest_allow() -> None:
    """BD is half an inch too long, to the sixteenth in which misfits are written."""
    true = math.dist(HOUSE[1], HOUSE[3])
    form = measured(HOUSE, "A C", "B D", "C E", "A D", "B E", BD=f"{true + 0.5:.4f}")
    form.rows[6].length = f"{true + 0.5:.4f}"
    sheet, shape = found(form)
    assert suspects(shape, sheet)[0] == 6
    off = off_by(shape, sheet)
    assert off[6] == "1/2 in too long"
    assert len(off) == 10
    assert "B to D is 1/2 in longer than the rest allow" in said(shape, sheet)[0]
    problem = [
        item for item in tape_picture(shape, sheet).items() if getattr(item, "role", "") is Role.PROBLEM
    ]
    assert {getattr(item, "kind", "line") for item in problem} == {"line", SymbolKind.FILLED_TRIANGLE}
    assert shape.taped is not None
    (line,) = (item for item in problem if isinstance(item, Line))
    assert np.array_equal(line.points, shape.taped.corners[[1, 3]])


def test_where_all_fits_the_error_is_stated() -> None:
    sheet, shape = found(measured(HOUSE, "A C", "B D", "C E"))
    assert set(off_by(shape, sheet).values()) == {"fits"}
    assert any("No corner is off by more than" in each for each in said(shape, sheet))


def test_another_shape_with_the_same_measures_can_be_chosen_and_stays() -> None:
    """With sides and two diagonals from A the tip D may point out or in."""
    form = measured(ARROW, "A C", "C E")
    sheet, shape = found(form)
    assert shape.taped is not None
    assert shape.taped.others
    shapes = [shape]
    for other in shape.taped.others:
        form.kept = other
        shapes.append(chosen_shape(shape, sheet, form.kept))
    areas = [each.patch.polygon.area for each in shapes if each.patch is not None]
    assert any(area == pytest.approx(shapely.Polygon(ARROW * INCH).area, rel=1e-6) for area in areas)
    for each in shapes:
        assert each.taped is not None
        for measure in sheet.measures:
            length = math.dist(*each.taped.corners[list(measure.pair)])
            assert length == pytest.approx(measure.length, abs=1e-3)
    form.rows[0].length = "10.01"  # a measure is mended: the shape that was chosen is still meant
    sheet, shape = found(form)
    again = chosen_shape(shape, sheet, form.kept).patch
    assert again is not None
    assert again.polygon.area == pytest.approx(areas[-1], rel=0.01)


def test_corners_that_point_inward_decide() -> None:
    form = measured(ARROW, "A C", "C E")
    form.point_inward(3, True)
    patch = found(form)[1].patch
    assert patch is not None
    assert patch.polygon.area == pytest.approx(shapely.Polygon(ARROW * INCH).area, rel=1e-6)


def test_another_count_of_corners_keeps_what_is_still_a_measure() -> None:
    form = measured(HOUSE, "A C")
    first = form.rows[0].length
    form.set_count(4)
    assert [row.pair for row in form.rows[:4]] == ["A – B", "B – C", "C – D", "D – A"]
    assert form.rows[0].length == first
    assert "A – C" in {row.pair.replace("A C", "A – C") for row in form.rows[4:]}
    assert all("E" not in row.pair for row in form.rows)
    form.set_count(6)
    assert len([row for row in form.rows if row.pair in ("E – F", "F – A")]) == 2


def test_an_emptied_sheet_can_be_brought_back() -> None:
    form = measured(HOUSE, "A C")
    new = form.emptied()
    assert new.is_empty
    assert not form.is_empty
    assert new.before is form


@pytest.mark.parametrize("corners", [HOUSE, ARROW])
def test_letters_stand_outside_their_corners(corners: Points) -> None:
    """A little way along the letter's offset one is out of the patch, at every corner."""
    form = measured(corners, "A C", "A D", "B D", "B E", "C E")
    sheet, shape = found(form)
    assert shape.patch is not None
    assert shape.taped is not None
    labels = [item for item in tape_picture(shape, sheet).items() if isinstance(item, Label)]
    assert [label.text for label in labels] == list("ABCDE")
    for label, corner in zip(labels, shape.taped.corners.tolist(), strict=True):
        assert label.at == tuple(corner)
        x, y = (at + by / 100 for at, by in zip(label.at, label.offset, strict=True))
        assert not shape.patch.polygon.covers(shapely.Point(x, y)), label.text
