from __future__ import annotations

import math
from itertools import permutations, product

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from app.exporting.packing import packed

ROOM = (190.0, 200.0)
SIDES = st.floats(5.0, 180.0)


def both(width: float, height: float) -> tuple[tuple[float, float], tuple[float, float]]:
    return ((width, height), (height, width))


@settings(deadline=None, max_examples=80)
@given(st.lists(st.tuples(SIDES, SIDES), max_size=14))
def test_all_boxes_lie_in_their_sheets_and_apart(sizes: list[tuple[float, float]]) -> None:
    sheets = packed([both(*size) for size in sizes], ROOM)
    assert sorted(box.number for sheet in sheets for box in sheet) == list(range(len(sizes)))
    for sheet in sheets:
        boxes = []
        for box in sheet:
            width, height = sizes[box.number][::-1] if box.turned else sizes[box.number]
            boxes.append(shapely.box(*box.corner, box.corner[0] + width, box.corner[1] + height))
        assert all(shapely.box(0, 0, *ROOM).buffer(1e-6).covers(each) for each in boxes)
        assert shapely.union_all(boxes).area == pytest.approx(sum(each.area for each in boxes), abs=1e-3)
    area = sum(width * height for width, height in sizes)
    assert len(sheets) >= math.ceil(area / (ROOM[0] * ROOM[1]) - 1e-9)


@pytest.mark.parametrize(
    ("sizes", "count"),
    # By hand, in a room of 190 × 200.
    [
        ([(95.0, 100.0)] * 4, 1),
        ([(95.0, 100.0)] * 5, 2),
        ([(190.0, 10.0)] * 20, 1),
        ([(10.0, 190.0)] * 20, 1),
        ([(190.0, 100.0), (95.0, 100.0), (100.0, 95.0)], 1),
        ([(10.0, 200.0), (180.0, 100.0), (90.0, 100.0), (90.0, 100.0)], 1),
        ([(180.0, 180.0)] * 3, 3),
        ([], 0),
    ],
)
def test_what_fits_together_is_put_together(sizes: list[tuple[float, float]], count: int) -> None:
    assert len(packed([both(*size) for size in sizes], ROOM)) == count


@settings(deadline=None, max_examples=40)
@given(
    st.lists(
        st.tuples(st.sampled_from([40.0, 60.0, 95.0, 130.0]), st.sampled_from([50.0, 100.0])), max_size=4
    )
)
def test_no_rows_by_brute_force_take_fewer_sheets(sizes: list[tuple[float, float]]) -> None:
    assert len(packed([both(*size) for size in sizes], ROOM)) <= fewest_in_rows(sizes)


def fewest_in_rows(sizes: list[tuple[float, float]]) -> int:
    """The fewest sheets, over every order and every turning, put row by row."""
    best = len(sizes)
    for order in permutations(range(len(sizes))):
        for turned in product((False, True), repeat=len(sizes)):
            sheets, x, y, row = 1 if sizes else 0, 0.0, 0.0, 0.0
            for number in order:
                width, height = sizes[number][::-1] if turned[number] else sizes[number]
                if x + width > ROOM[0]:
                    x, y, row = 0.0, y + row, 0.0
                if y + height > ROOM[1]:
                    sheets, x, y, row = sheets + 1, 0.0, 0.0, 0.0
                x, row = x + width, max(row, height)
            best = min(best, sheets)
    return best


def test_a_box_that_is_too_large_is_refused() -> None:
    with pytest.raises(ValueError, match="larger than the sheet"):
        packed([both(191.0, 201.0)], ROOM)
