from __future__ import annotations

import math
from itertools import product

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from app.exporting.sheets import (
    BAND,
    LARGE_SQUARE,
    MARGIN,
    OVERLAP,
    PAPERS,
    SMALL_SQUARE,
    Paper,
    PaperError,
    Sheets,
    paper_named,
    paper_of_territory,
    tile,
)
from tests.app.exporting.samples import large, slanted, troubled

LETTER, A4 = PAPERS["letter"], PAPERS["a4"]
SHAPES = {
    "3 in": shapely.box(0, 0, 76.2, 76.2),
    "8 in": shapely.box(0, 0, 203.2, 203.2),
    "40 in": shapely.box(-500, 20, 516, 1036),
    "sliver": shapely.box(0, 0, 900, 9),
    "ell": large().patch.polygon,
    "slanted": slanted().patch.polygon,
    "holed": shapely.box(0, 0, 900, 900).difference(shapely.box(100, 100, 800, 800)),
    "triangle": Polygon([(0, 0), (1000, 0), (0, 1000)]),
}


def fewest(width: float, height: float, paper: Paper) -> int:
    """The fewest sheets that cover a box: every number of rows and columns, on every way to lay the page."""
    best = 10**6
    for across, down in ((paper.width, paper.height), (paper.height, paper.width)):
        for room_x, room_y in (
            (across - 2 * MARGIN, down - 2 * MARGIN - BAND),
            (across - 2 * MARGIN - BAND, down - 2 * MARGIN),
        ):
            for rows, columns in product(range(1, 41), repeat=2):
                covered_x = columns * room_x - (columns - 1) * OVERLAP
                covered_y = rows * room_y - (rows - 1) * OVERLAP
                if covered_x >= width - 1e-9 and covered_y >= height - 1e-9:
                    best = min(best, rows * columns)
    return best


@settings(deadline=None, max_examples=60)
@given(st.floats(5, 1100), st.floats(5, 1100), st.sampled_from(list(PAPERS.values())))
def test_a_box_takes_the_fewest_sheets(width: float, height: float, paper: Paper) -> None:
    sheets = tile(shapely.box(0, 0, width, height), paper)
    assert len(sheets.sheets) == sheets.rows * sheets.columns == fewest(width, height, paper)


@pytest.mark.parametrize("count", [1, 2, 3, 7])
def test_what_just_fits_takes_no_sheet_more(count: int) -> None:
    # Rounding must not cost a sheet: 0.1 is no binary fraction.
    across = count * (LETTER.width - 2 * MARGIN) - (count - 1) * OVERLAP
    down = LETTER.height - 2 * MARGIN - BAND
    for x, y in ((0.0, 0.0), (1e4 + 0.1, -0.3)):
        assert len(tile(shapely.box(x, y, x + across, y + down), LETTER).sheets) == count
        assert len(tile(shapely.box(x, y, x + across + 1e-3, y + down), LETTER).sheets) > count


@pytest.mark.parametrize(
    ("paper", "sheets"),
    # By hand: Letter upright leaves 191.9 × 203.9, which holds 8 in (203.2) one way only; two side by side
    # cover 371.8. A4 upright leaves 186 × 221.5.
    [(LETTER, 2), (A4, 2), (PAPERS["tabloid"], 1), (PAPERS["a3"], 1)],
)
def test_an_eight_inch_block(paper: Paper, sheets: int) -> None:
    assert len(tile(SHAPES["8 in"], paper).sheets) == sheets


@pytest.mark.parametrize("paper", [LETTER, A4], ids=["letter", "a4"])
@pytest.mark.parametrize("name", SHAPES)
def test_the_sheets_hold_the_whole_template_and_none_is_empty(name: str, paper: Paper) -> None:
    template = SHAPES[name]
    sheets = tile(template, paper)
    windows = [shapely.box(*sheet.window) for sheet in sheets.sheets]
    assert template.difference(shapely.union_all(windows)).area < 1e-3
    assert all(window.intersection(template).area > 0 for window in windows)
    left, top, right, bottom = template.bounds
    assert len(windows) <= fewest(right - left, bottom - top, paper)
    assert len({(sheet.row, sheet.column) for sheet in sheets.sheets}) == len(windows)
    assert max(sheet.row for sheet in sheets.sheets) <= sheets.rows
    assert max(sheet.column for sheet in sheets.sheets) <= sheets.columns


def test_sheets_without_anything_are_left_out() -> None:
    for name in ("ell", "holed", "triangle"):
        sheets = tile(SHAPES[name], LETTER)
        left, top, right, bottom = SHAPES[name].bounds
        assert len(sheets.sheets) < fewest(right - left, bottom - top, LETTER)


@pytest.mark.parametrize("name", SHAPES)
def test_neighbours_share_the_overlap(name: str) -> None:
    sheets = tile(SHAPES[name], A4, overlap=20.0)
    by_place = {(sheet.row, sheet.column): sheet.window for sheet in sheets.sheets}
    for (row, column), window in by_place.items():
        beside, below = by_place.get((row, column + 1)), by_place.get((row + 1, column))
        if beside:
            assert window[2] - beside[0] == pytest.approx(20.0)
            assert window[1::2] == beside[1::2]
        if below:
            assert window[3] - below[1] == pytest.approx(20.0)
            assert window[0::2] == below[0::2]
    assert sheets.overlap == 20.0


@pytest.mark.parametrize("name", SHAPES)
def test_window_band_and_margins_lie_apart_on_the_page(name: str) -> None:
    sheets = tile(SHAPES[name], LETTER)
    page = shapely.box(MARGIN, MARGIN, sheets.width - MARGIN, sheets.height - MARGIN).buffer(1e-9)
    band = shapely.box(*sheets.band)
    assert page.covers(band)
    left, top, right, bottom = sheets.band
    assert min(right - left, bottom - top) == pytest.approx(LARGE_SQUARE)
    assert sorted((sheets.width, sheets.height)) == sorted((LETTER.width, LETTER.height))
    for sheet in sheets.sheets:
        window = shapely.box(*sheet.to_page(sheet.window[:2]), *sheet.to_page(sheet.window[2:]))
        assert page.covers(window)
        assert window.distance(band) == pytest.approx(BAND - LARGE_SQUARE)
        # True size: a mm of the template is a mm of the page.
        assert window.area == pytest.approx(shapely.box(*sheet.window).area)


def test_one_sheet_holds_the_template_in_its_middle() -> None:
    (sheet,) = tile(SHAPES["3 in"], LETTER).sheets
    left, top, right, bottom = sheet.window
    assert ((left + right) / 2, (top + bottom) / 2) == pytest.approx((38.1, 38.1))
    assert sheet.marks == ()


def marks(sheets: Sheets) -> dict[str, list[tuple[tuple[int, int], tuple[float, float]]]]:
    found: dict[str, list[tuple[tuple[int, int], tuple[float, float]]]] = {}
    for sheet in sheets.sheets:
        for mark in sheet.marks:
            found.setdefault(mark.name, []).append(((sheet.row, sheet.column), mark.at))
    return found


@pytest.mark.parametrize("name", SHAPES)
def test_neighbours_share_two_register_marks_at_the_same_places(name: str) -> None:
    sheets = tile(SHAPES[name], LETTER)
    windows = {(sheet.row, sheet.column): shapely.box(*sheet.window) for sheet in sheets.sheets}
    pairs: dict[frozenset[tuple[int, int]], list[tuple[float, float]]] = {}
    for name_, places in marks(sheets).items():
        assert len(places) == 2, name_
        (one, at), (two, same) = places
        assert at == same
        assert abs(one[0] - two[0]) + abs(one[1] - two[1]) == 1
        # A cross of 8 mm about it lies in what both sheets hold.
        shared = windows[one].intersection(windows[two])
        assert shared.buffer(1e-9).covers(shapely.Point(at).buffer(4.0))
        pairs.setdefault(frozenset((one, two)), []).append(at)
    neighbours = {frozenset((one, two)) for one, two in product(windows, windows) if math.dist(one, two) == 1}
    assert set(pairs) == neighbours
    for places in pairs.values():
        assert len(places) == 2
        # Far enough apart to fix an angle.
        assert math.dist(*places) > 40.0


def test_register_marks_keep_away_from_what_is_drawn_where_they_can() -> None:
    box = shapely.box(0, 0, 300, 150)
    plain = tile(box, LETTER)
    taken = [shapely.Point(at) for places in marks(plain).values() for _, at in places]
    busy = shapely.union_all(taken).buffer(5)
    moved = tile(box, LETTER, busy=busy)
    for places in marks(moved).values():
        assert busy.distance(shapely.Point(places[0][1])) >= 7.0
    covered = tile(box, LETTER, busy=box.buffer(500))
    assert len(marks(covered)) == len(marks(plain))


def test_papers_are_true() -> None:
    # ISO 216; ANSI/ASME Y14.1 size A: 612 × 792 pt (outside_checks).
    assert (A4.width, A4.height) == (210.0, 297.0)
    assert (LETTER.width / 25.4 * 72, LETTER.height / 25.4 * 72) == pytest.approx((612.0, 792.0))
    assert PAPERS["a3"].width == A4.height
    assert PAPERS["a3"].height == 2 * A4.width
    assert (PAPERS["tabloid"].width, PAPERS["tabloid"].height) == (LETTER.height, 2 * LETTER.width)
    assert (PAPERS["legal"].width, PAPERS["legal"].height) == (LETTER.width, pytest.approx(14 * 25.4))
    assert (SMALL_SQUARE, LARGE_SQUARE) == (25.4, 50.0)


def test_papers_by_name_and_country() -> None:
    assert paper_named(" Letter ") is LETTER
    assert paper_named("A4") is A4
    assert paper_of_territory("us") is LETTER
    assert paper_of_territory("CA") is LETTER
    assert paper_of_territory("DE") is A4
    assert paper_of_territory("") is A4
    with pytest.raises(PaperError, match=r"^“foolscap” is no paper .*; choose one of letter, .*a4"):
        paper_named("foolscap")


@pytest.mark.parametrize(
    ("text", "width", "height"),
    [
        ("13x19in", 330.2, 482.6),
        ("330x480mm", 330.0, 480.0),
        (" 33 × 48 cm ", 330.0, 480.0),
        ("19 in x 13 in", 330.2, 482.6),
        ("13in x 48,26cm", 330.2, 482.6),
        ("8 1/2 x 11 in", LETTER.width, LETTER.height),
        ("13X19IN", 330.2, 482.6),
    ],
)
def test_a_paper_may_have_its_own_size(text: str, width: float, height: float) -> None:
    paper = paper_named(text)
    assert (paper.width, paper.height) == pytest.approx((width, height))
    assert paper.name == text.strip()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "13x19",
            "“13x19”: “19” has no unit; give width and height with a unit, like 13x19in or 330x480mm",
        ),
        ("13inx19", "“19” has no unit"),
        ("0x19in", "no size that a page can have; give sides from 60 mm to 5 m"),
        ("30x6000mm", "no size that a page can have"),
        ("13x19yd", "is not a length; give width and height"),
        ("1x2x3in", "no paper that is known; choose one of letter, .* or give its size, like 13x19in"),
    ],
)
def test_no_size_of_paper_is_guessed(text: str, words: str) -> None:
    with pytest.raises(PaperError, match=words):
        paper_named(text)


def test_paper_without_room_is_refused() -> None:
    with pytest.raises(PaperError, match="no room"):
        tile(SHAPES["3 in"], Paper("Card", 90.0, 95.0))
    with pytest.raises(PaperError, match="A4 has no room"):
        tile(SHAPES["3 in"], A4, margin=100.0)


def test_the_tested_fits_are_awkward_enough() -> None:
    assert len(tile(large().patch.polygon, LETTER).sheets) == 7
    assert len(tile(troubled().patch.polygon, LETTER).sheets) == 2
