"""The PDF as two readers find it: true lengths, every line and mark in its place, on every sheet."""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import shapely
from pypdfium2 import PdfDocument
from shapely import LineString, MultiLineString

from app.exporting.options import TemplateKind, TemplateOptions
from app.exporting.pdf import template_pdf
from app.exporting.sheets import PAPERS, Paper, Sheet, Sheets, tile
from app.exporting.template import ExportError
from app.sketch.palette import STROKES, Role
from geometry import Fit, Patch, Settings, fit
from geometry.units import LengthStyle
from tests.app.exporting.pdf_reading import MM, Drawn, Page, as_lines, pages_of
from tests.app.exporting.pdfium_reading import pages_by_pdfium
from tests.app.exporting.samples import large, slanted, square, troubled

LETTER, A4 = PAPERS["letter"], PAPERS["a4"]
TRUE = 0.01
"""mm: how exactly a mark lies where the fit has it (issue 2)."""


def on(paper: Paper) -> TemplateOptions:
    """Each patch on sheets of its own."""
    return TemplateOptions(paper=paper, together=False)


FITS = {"square": square, "troubled": troubled, "large": large, "slanted": slanted}
CASES = [
    ("square", "letter"),
    ("troubled", "a4"),
    ("large", "letter"),
    ("slanted", "a4"),
    ("slanted", "letter"),
]


@cache
def data_of(name: str, paper: str, kind: TemplateKind = TemplateKind.BOTH) -> bytes:
    return template_pdf([("Kite by the pond", FITS[name]())], TemplateOptions(kind=kind, paper=PAPERS[paper]))


@cache
def read(name: str, paper: str) -> list[tuple[Page, Sheet]]:
    sheets = tile(FITS[name]().patch.polygon, PAPERS[paper])
    pages = pages_of(data_of(name, paper))
    assert len(pages) == len(sheets.sheets)
    return list(zip(pages, sheets.sheets, strict=True))


def to_template(sheet: Sheet) -> np.ndarray:
    """What is added to a place on the page: worked from the window and where its corner comes."""
    return np.array(sheet.window[:2]) - np.array(sheet.origin)


def lines_of_fit(drawn: Fit) -> dict[Role, MultiLineString]:
    def rings(polygons: list[shapely.Polygon]) -> MultiLineString:
        return MultiLineString([LineString(r.coords) for p in polygons for r in (p.exterior, *p.interiors)])

    return {
        Role.SEAM: rings([drawn.patch.polygon]),
        Role.MARGIN_EDGE: rings(list(drawn.stitchable)),
        Role.STITCH: MultiLineString([LineString(w.outline) for fan in drawn.fans for w in fan.wedges]),
    }


def drawn_as(page: Page, role: Role) -> list[Drawn]:
    """The template's own lines of a role: of its colour and weight (map and letters have others)."""
    weight = STROKES[role].width * MM
    return [each for each in page.of(role) if abs(each.width - weight) < 0.01 and not each.curved]


@pytest.mark.parametrize(("name", "paper"), CASES)
def test_every_line_is_where_the_fit_has_it_on_every_sheet(name: str, paper: str) -> None:
    for role, lines in lines_of_fit(FITS[name]()).items():
        near = lines.buffer(TRUE)
        shapely.prepare(near)
        steps = shapely.segmentize(lines, 7.0)
        places = np.unique(np.round(shapely.get_coordinates(steps), 9), axis=0)
        on_sheets = np.zeros(len(places), dtype=int)
        in_windows = np.zeros(len(places), dtype=int)
        sure = np.ones(len(places), dtype=bool)
        for page, sheet in read(name, paper):
            window = shapely.box(*sheet.window)
            own = [each for each in drawn_as(page, role) if not _is_map(each, sheet)]
            on_page = as_lines(own, to_template(sheet))
            # Nothing that the fit has not, and nothing beyond the window.
            assert on_page.is_empty or near.covers(on_page), (role, sheet.row, sheet.column)
            assert on_page.is_empty or window.buffer(TRUE).covers(on_page)
            # Nothing missing and nothing twice: the length is that of what the window holds.
            held = sum(line.intersection(window).length for line in _pieces(lines))
            assert on_page.length == pytest.approx(held, abs=0.02 + 1e-6 * held)
            shapely.prepare(on_page)
            points = shapely.points(places)
            on_sheets += shapely.dwithin(on_page, points, TRUE)
            in_windows += shapely.covers(window, points)
            sure &= shapely.distance(window.boundary, points) > 2 * TRUE
        # Every place of every line on just the sheets whose windows hold it, and on one at least.
        assert (on_sheets[sure] == in_windows[sure]).all()
        assert (on_sheets >= 1).all()


def _pieces(lines: MultiLineString) -> list[LineString]:
    pieces = []
    for line in lines.geoms:
        coordinates = shapely.get_coordinates(line)
        pieces += [LineString(piece) for piece in np.stack([coordinates[:-1], coordinates[1:]], axis=1)]
    return pieces


def _is_map(each: Drawn, sheet: Sheet) -> bool:
    """The frame of the sheet map has the seam's colour and weight; it is the one in the band."""
    left, top = sheet.origin
    width, height = sheet.window[2] - sheet.window[0], sheet.window[3] - sheet.window[1]
    middle = each.points.mean(axis=0)
    return not (left - 1 <= middle[0] <= left + width + 1 and top - 1 <= middle[1] <= top + height + 1)


@pytest.mark.parametrize(("name", "paper"), CASES)
def test_every_corner_of_every_wedge_is_a_corner_on_paper(name: str, paper: str) -> None:
    corners = np.concatenate([w.outline for fan in FITS[name]().fans for w in fan.wedges])
    met = np.zeros(len(corners), dtype=int)
    for page, sheet in read(name, paper):
        on_page = np.concatenate([each.points for each in drawn_as(page, Role.STITCH)] or [np.empty((0, 2))])
        on_page = on_page + to_template(sheet)
        left, top, right, bottom = sheet.window
        for number, (x, y) in enumerate(corners):
            if left <= x <= right and top <= y <= bottom:
                assert np.hypot(*(on_page - (x, y)).T).min() < TRUE
                met[number] += 1
    assert (met >= 1).all()


@pytest.mark.parametrize(("name", "paper"), CASES)
def test_every_mark_lies_where_the_fit_has_it_with_its_letters(name: str, paper: str) -> None:
    places = {mark.name: np.array(mark.at) for fan in FITS[name]().fans for mark in fan.marks}
    seen: set[str] = set()
    for page, sheet in read(name, paper):
        circles = [
            each
            for each in page.of(Role.MARK)
            if each.curved and abs(np.ptp(each.points[:, 0]) - 5 * MM) < 0.01
        ]
        middles = [
            (each.points.min(axis=0) + each.points.max(axis=0)) / 2 + to_template(sheet) for each in circles
        ]
        left, top, right, bottom = sheet.window
        held = {n: at for n, at in places.items() if left <= at[0] <= right and top <= at[1] <= bottom}
        assert len(middles) == len(held)
        for mark, at in held.items():
            assert min(np.hypot(*(middle - at)) for middle in middles) < TRUE, mark
            # Its letters stand beside it, pushed in at the sheet's edge.
            words = [np.array(place) + to_template(sheet) for word, *place in page.words if mark in word]
            assert min(np.hypot(*(word - at)) for word in words) < 25.0, mark
            seen.add(mark)
    assert seen == set(places)


@pytest.mark.parametrize(("name", "paper"), CASES)
def test_squares_on_every_sheet_are_an_inch_and_fifty_mm(name: str, paper: str) -> None:
    for page, _ in read(name, paper):
        sizes = sorted(
            tuple(np.ptp(each.points, axis=0) / MM)
            for each in page.of(Role.TEXT)
            if each.closed and not each.curved and len(each.points) in (4, 5)
        )
        for points in (72.0, 50 / 25.4 * 72):
            assert any(size == pytest.approx((points, points), abs=1e-4) for size in sizes), points
        assert "1 in" in page.text
        assert "50 mm" in page.text


def test_a_second_reader_finds_the_same_squares() -> None:
    document = PdfDocument(data_of("troubled", "a4"))
    for number in range(len(document)):
        page = document[number]
        sizes = {
            tuple(np.round(np.ptp(_corners(each), axis=0), 3))
            for each in page.get_objects([pdfium.FPDF_PAGEOBJ_PATH])
        }
        assert (72.0, 72.0) in sizes
        assert (141.732, 141.732) in sizes
    document.close()


def _corners(path: pypdfium2.PdfObject) -> np.ndarray:
    """Points of a path, as PDFium has them."""
    corners = []
    matrix = path.get_matrix()
    for number in range(pdfium.FPDFPath_CountSegments(path)):
        x, y = ctypes.c_float(), ctypes.c_float()
        pdfium.FPDFPathSegment_GetPoint(pdfium.FPDFPath_GetPathSegment(path, number), x, y)
        corners.append(matrix.on_point(x.value, y.value))
    return np.array(corners)


def test_a_second_reader_finds_the_same_wedges() -> None:
    # 8 in on Letter: the wedges that lie whole on the first sheet, corner for corner. PDFium has single
    # precision: 1e-4 mm here.
    (first, sheet), _ = read("square", "letter")
    document = PdfDocument(data_of("square", "letter"))
    page = document[0]
    found = [_corners(each) for each in page.get_objects([pdfium.FPDF_PAGEOBJ_PATH])]
    height = page.get_height()
    met = 0
    for wedge in square().fans[0].wedges:
        expected = wedge.outline[:3] - to_template(sheet)
        if (wedge.outline.max(axis=0) <= sheet.window[2:]).all():
            flipped = np.column_stack([expected[:, 0], height * MM - expected[:, 1]]) / MM
            assert any(len(each) >= 3 and np.abs(each[:3] - flipped).max() < TRUE / MM for each in found)
            met += 1
    assert met >= 4
    assert first.height == pytest.approx(height * MM)
    document.close()


@pytest.mark.parametrize(
    ("paper", "width", "height"),
    [("letter", 215.9, 279.4), ("a4", 210.0, 297.0), ("tabloid", 279.4, 431.8), ("a3", 297.0, 420.0)],
)
def test_pages_have_the_papers_size(paper: str, width: float, height: float) -> None:
    # QPdfWriter rounds the page's box to whole points: 0.18 mm (outside_checks).
    (page,) = pages_of(template_pdf([("Small", square(50.8))], on(PAPERS[paper])))
    assert (page.width, page.height) == pytest.approx((width, height), abs=0.18)


def test_patches_turn_their_pages_as_they_need() -> None:
    strip = fit(Patch([(0, 0), (250, 0), (250, 60), (0, 60)]), (100.0, 30.0))
    pages = pages_of(
        template_pdf([("One", square(76.2)), ("Two", strip), ("Three", square(76.2))], on(LETTER))
    )
    assert [page.width > page.height for page in pages] == [False, True, False]
    assert [name in page.text for page, name in zip(pages, ("One", "Two", "Three"), strict=True)] == [
        True
    ] * 3


@pytest.mark.parametrize(("name", "paper"), CASES)
def test_words_are_large_enough_and_stand_on_the_page(name: str, paper: str) -> None:
    for page, sheet in read(name, paper):
        for left, top, right, bottom, size in page.letters:
            assert size >= 8.999
            # What home printers leave unprinted is less than 1/4 in (common practice, no source).
            assert min(left, top, page.width - right, page.height - bottom) > 6.35
        assert f"row {sheet.row}, column {sheet.column} of" in page.text
        for words in ("Kite", "pond", "100 %", "squares", "ruler", "manual", "Edge margin", "gap", "1/4 in"):
            assert words in page.text, words


def test_what_is_read_first_is_of_arms_length_size() -> None:
    for page, _ in read("square", "letter"):
        sizes = [letter[4] for letter in page.letters]
        assert max(sizes) >= 14.0
        assert sum(size >= 11.99 for size in sizes) > 70  # name, place of the sheet, how to print, the marks


def test_every_wedge_has_its_number() -> None:
    for name in ("square", "large"):
        numbers = {word for page, _ in read(name, "letter") for word, *_ in page.words}
        assert {str(w.number) for fan in FITS[name]().fans for w in fan.wedges} <= numbers


def test_findings_are_hatched_and_labelled() -> None:
    pages = [page for page, _ in read("troubled", "a4")]
    problem = [each for page in pages for each in page.of(Role.PROBLEM) if not each.curved]
    assert len(problem) > 100
    text = " ".join(page.text for page in pages)
    assert "in < 1/4 in" in text
    assert "% out of sight" in text
    assert "problems" in text
    assert not [each for page, _ in read("square", "letter") for each in page.of(Role.PROBLEM)]


def test_register_marks_meet_when_the_sheets_are_laid_onto_each_other() -> None:
    crosses: dict[str, list[np.ndarray]] = {}
    for page, sheet in read("large", "letter"):
        rings = [
            (each.points.min(axis=0) + each.points.max(axis=0)) / 2
            for each in page.of(Role.TEXT)
            if each.curved and np.ptp(each.points[:, 0]) == pytest.approx(4.0, abs=1e-3)
        ]
        names = [
            (word, np.array(at)) for word, *at in page.words if word.startswith("R") and word[1:].isdigit()
        ]
        assert len(names) == len(rings) >= 2
        for ring in rings:
            word = min(names, key=lambda name: np.hypot(*(name[1] - ring)))
            assert np.hypot(*(word[1] - ring)) < 14.0
            crosses.setdefault(word[0], []).append(ring + to_template(sheet))
    assert len(crosses) == 2 * 6  # 7 sheets in a row that turns once
    for places in crosses.values():
        one, two = places
        assert np.hypot(*(one - two)) < TRUE


def test_kinds_show_lines_marks_or_both() -> None:
    def counts(kind: TemplateKind) -> tuple[int, int, bool]:
        pages = pages_of(data_of("square", "a4", kind))
        stitches = sum(len(drawn_as(page, Role.STITCH)) for page in pages)
        circles = sum(
            each.curved and np.ptp(each.points[:, 0]) < 3 for page in pages for each in page.of(Role.MARK)
        )
        names = any(word == "A1" for page in pages for word, *_ in page.words)
        assert all(drawn_as(page, Role.SEAM) for page in pages)
        assert any(page.of(Role.ANCHOR) for page in pages)
        return stitches, int(circles), names

    both, lines, marks = (
        counts(kind) for kind in (TemplateKind.BOTH, TemplateKind.LINES, TemplateKind.MARKS)
    )
    assert lines[0] == both[0] > 8
    assert marks[1:] == both[1:]
    assert marks[1] >= 8
    assert lines[1:] == (0, False)
    assert marks[0] == 0


def test_lengths_are_in_the_users_units() -> None:
    data = template_pdf([("Small", square(76.2))], on(A4), LengthStyle.CM)
    assert "Edge margin 0.6 cm, gap 0.6 cm" in " ".join(pages_of(data)[0].text.split())


def test_long_names_and_many_settings_stay_in_the_band() -> None:
    settings = Settings(longest_span=44.45, hold_back=3.175, stagger=3.175, echo_count=3)
    crowded = fit(Patch([(0, 0), (400, 0), (400, 300), (0, 300)]), (100.0, 100.0), settings)
    name = (
        "The very last of the setting triangles, with the <crooked> seam & the ü, beside the 日本 block " * 3
    )
    for paper in (LETTER, A4):
        sheets = tile(crowded.patch.polygon, paper)
        left, top, right, bottom = sheets.band
        data = template_pdf([(name, crowded)], on(paper))
        # What stands apart on the page, the other reader does not run together.
        for page, read in zip(pages_of(data), pages_by_pdfium(data), strict=True):
            own = [each for each in page.letters if _inside(each, sheets)]
            assert len(own) > 150
            for letter in own:
                assert letter[4] >= 8.999
                assert left - 0.01 <= letter[0] < letter[2] <= right + 0.01
                assert top - 1.0 <= letter[1] < letter[3] <= bottom + 0.6
            assert "manual" in read.text
            assert "…" in read.text


def _inside(letter: tuple[float, ...], sheets: Sheets) -> bool:
    """Whether a letter stands nearer to the band than to the drawing."""
    left, top, _, _ = sheets.band
    return left - 0.5 <= letter[0] and top - 0.5 <= letter[1]


def test_words_squares_and_map_lie_apart() -> None:
    for name in ("square", "large"):
        sheets = tile(FITS[name]().patch.polygon, LETTER)
        left, top, right, bottom = sheets.band
        band = shapely.box(left, top, right + 5, bottom + 5)
        square_lines = shapely.box(left, top, left + 50, top + 50).exterior
        for page, sheet in read(name, "letter"):
            map_lines = [each for each in page.of(Role.QUIET) if band.contains(LineString(each.points))]
            assert map_lines
            the_map = shapely.union_all([LineString(each.points).envelope for each in map_lines])
            window = shapely.box(*sheet.to_page(sheet.window[:2]), *sheet.to_page(sheet.window[2:]))
            for letter in page.letters:
                box = shapely.box(*letter[:4])
                assert not box.intersects(the_map)
                assert not box.intersects(square_lines)
                # Of the drawing or of the band, never of both, and not between them.
                if box.intersects(window):
                    beside = bottom - top > right - left
                    assert letter[2] < window.bounds[2] + 0.01 if beside else letter[3] < top
                else:
                    assert band.contains(box)


def test_it_says_what_it_is() -> None:
    document = PdfDocument(template_pdf([("Kite", square(76.2)), ("Ell\n2", square(76.2))], on(A4)))
    metadata = document.get_metadata_dict()
    assert metadata["Title"] == "Kite, Ell 2"
    assert metadata["Creator"] == "Wedgewright"
    document.close()


def test_progress_counts_the_sheets_and_can_stop_the_work(capfd: pytest.CaptureFixture[str]) -> None:
    seen: list[tuple[int, int]] = []
    template_pdf([("One", square()), ("Two", square())], on(LETTER), progress=lambda *at: seen.append(at))
    assert len(set(seen)) == 1 + 2 + 4  # the start, the patches, the sheets
    assert seen == sorted(seen)
    assert seen[-1][0] == seen[-1][1]

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        template_pdf([("One", square())], on(LETTER), progress=stop)
    assert capfd.readouterr().err == ""


def test_a_patch_without_room_has_its_template_too() -> None:
    narrow = fit(Patch([(0, 0), (100, 0), (100, 12), (0, 12)]), (20.0, 6.0))
    (page,) = pages_of(template_pdf([("Narrow", narrow)], on(A4)))
    assert "no room" in page.text
    assert drawn_as(page, Role.SEAM)


def test_without_a_font_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    from PySide6.QtGui import QFontDatabase

    monkeypatch.setattr(QFontDatabase, "families", lambda *_: [])
    with pytest.raises(ExportError, match="no font on this machine"):
        template_pdf([("One", square())], on(LETTER))


def test_without_paper_it_takes_the_countrys() -> None:
    papers: list[Paper] = [LETTER, A4]
    (page,) = pages_of(template_pdf([("One", square(76.2))]))
    assert any(page.width == pytest.approx(paper.width, abs=0.2) for paper in papers)


@pytest.mark.skipif(sys.platform in {"win32", "darwin"}, reason="there Qt needs no screen of its own choice")
def test_it_needs_no_screen_and_no_application(tmp_path: Path) -> None:
    out = tmp_path / "out.pdf"
    code = (
        "import sys; from pathlib import Path\n"
        "from geometry import Patch, fit\n"
        "from app.exporting import write_template\n"
        "f = fit(Patch([(0, 0), (90, 0), (90, 90), (0, 90)]), (45.0, 45.0))\n"
        "assert not any(name.startswith('PySide6') for name in sys.modules)\n"
        f"write_template(Path({str(out)!r}), [('One', f)])\n"
    )
    screenless = {k: v for k, v in os.environ.items() if k not in {"DISPLAY", "WAYLAND_DISPLAY"}}
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=Path(__file__).parents[3],
        env={**screenless, "QT_QPA_PLATFORM": "xcb"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert out.read_bytes().startswith(b"%PDF-")
