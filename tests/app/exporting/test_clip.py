from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LinearRing, LineString

from app.exporting.clip import clip_lines, clip_pieces

WINDOW = (0.0, 0.0, 10.0, 6.0)
BOX = shapely.box(*WINDOW)

# Halves, so that lines along the window's edge and through its corners come often.
PLACES = st.tuples(st.integers(-8, 28), st.integers(-8, 20)).map(lambda at: (at[0] / 2, at[1] / 2))


def lines_of(points: list[tuple[float, float]], closed: bool) -> list[tuple[np.ndarray, bool]]:
    found = clip_lines([(np.array(points, dtype=float), closed)], WINDOW)
    return [(part, whole) for _, part, whole in found]


@settings(deadline=None)
@given(st.lists(PLACES, min_size=2, max_size=8), st.booleans())
def test_the_parts_are_what_the_window_holds(points: list[tuple[float, float]], closed: bool) -> None:
    # Oracle: shapely's intersection, piece by piece, so that pieces drawn twice count twice.
    ring = [*points, points[0]] if closed else points
    pieces = [LineString([a, b]) for a, b in pairwise(ring) if a != b]
    expected = sum(piece.intersection(BOX).length for piece in pieces)
    parts = lines_of(points, closed)
    drawn = [np.concatenate([part, part[:1]]) if whole else part for part, whole in parts]
    length = sum(float(np.hypot(*np.diff(part, axis=0).T).sum()) for part in drawn)
    assert length == pytest.approx(expected, abs=1e-9)
    whole_line = shapely.union_all(pieces).buffer(1e-9)
    for part in drawn:
        assert (part >= np.array(WINDOW[:2]) - 1e-12).all()
        assert (part <= np.array(WINDOW[2:]) + 1e-12).all()
        assert len(part) < 2 or not pieces or whole_line.covers(LineString(part))


def test_what_lies_inside_is_handed_on_as_it_is() -> None:
    points = np.array([(1.0, 1.0), (9.0, 1.0), (4.0, 5.0)])
    for closed in (True, False):
        ((number, part, whole),) = clip_lines([(points, closed)], WINDOW)
        assert number == 0
        assert part is points
        assert whole is closed


def test_the_edge_belongs_to_the_window() -> None:
    ((part, whole),) = lines_of([(0, 0), (10, 0), (10, 6), (0, 6)], True)
    assert whole
    assert LinearRing(part).length == 32.0
    # Along the edge, and sticking out on both sides.
    ((part, _),) = lines_of([(-3, 6), (13, 6)], False)
    assert part.tolist() == [[0, 6], [10, 6]]


def test_what_only_touches_is_left_out() -> None:
    assert lines_of([(-5, 5), (0, 0), (-5, -5)], False) == []
    assert lines_of([(-4, 2), (2, -4)], False) == []
    assert lines_of([(11, 0), (11, 6)], False) == []


def test_a_closed_line_cut_once_is_one_part_that_runs_through_its_first_point() -> None:
    ((part, whole),) = lines_of([(2, 2), (14, 3), (2, 4)], True)
    assert not whole
    assert part.tolist() == [[10, pytest.approx(3 + 1 / 3)], [2, 4], [2, 2], [10, pytest.approx(2 + 2 / 3)]]


def test_corners_inside_come_back_to_the_last_bit() -> None:
    corner = (1 / 3, 0.1 + 0.2)
    ((part, _),) = lines_of([(-7.7, 1.3), corner, (5.5, -9.1)], False)
    assert tuple(part[1].tolist()) == corner


def test_pieces_name_the_line_they_are_cut_from() -> None:
    start = np.array([(-5.0, 1.0), (20.0, 20.0), (1.0, 1.0)])
    end = np.array([(5.0, 1.0), (30.0, 30.0), (2.0, 2.0)])
    ends, kept = clip_pieces(start, end, WINDOW)
    assert kept.tolist() == [0, 2]
    assert ends.tolist() == [[0, 1], [5, 1], [1, 1], [2, 2]]


@settings(deadline=None, max_examples=50)
@given(st.lists(st.tuples(st.lists(PLACES, min_size=1, max_size=6), st.booleans()), max_size=6))
def test_many_lines_at_once_are_cut_as_one_by_one(
    lines: list[tuple[list[tuple[float, float]], bool]],
) -> None:
    arrays = [(np.array(points, dtype=float), closed) for points, closed in lines]
    found = sorted((n, part.tolist(), whole) for n, part, whole in clip_lines(arrays, WINDOW))
    alone = sorted(
        (n, part.tolist(), whole) for n, line in enumerate(lines) for part, whole in lines_of(*line)
    )
    assert found == alone
