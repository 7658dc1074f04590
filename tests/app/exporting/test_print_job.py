"""The sheets as two readers find them, put together by their register marks alone."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
import shapely
from PySide6.QtGui import QColor, QImage, QPainter
from shapely import MultiLineString
from shapely.geometry.base import BaseGeometry

from app.exporting import ExportError
from app.exporting.options import TemplateKind, TemplateOptions
from app.exporting.page import RESOLUTION
from app.exporting.pdf import template_pdf
from app.exporting.print_job import PrintJob
from app.exporting.sheets import PAPERS, PaperError
from app.exporting.template import NamedFit
from app.sketch.palette import STROKES, Role, contrast
from geometry import Fit, Patch, Settings, fit
from geometry.units import LengthStyle
from tests.app.exporting.pdf_reading import MM, Drawn, Page, as_lines, pages_of
from tests.app.exporting.pdfium_reading import pages_by_pdfium
from tests.app.exporting.samples import large, slanted, square, troubled
from tests.app.exporting.test_pdf import drawn_as, lines_of_fit

LETTER, A4 = PAPERS["letter"], PAPERS["a4"]
TRUE = 0.01
"""mm: how exactly a line lies where the fit has it."""
READERS = {"pdfplumber": pages_of, "pypdfium2": pages_by_pdfium}
FITS: dict[str, Callable[[], Fit]] = {"large": large, "slanted": slanted, "troubled": troubled}


@cache
def pages_read(name: str, options: TemplateOptions, reader: str) -> list[Page]:
    return READERS[reader](template_pdf([("Kite by the pond", FITS[name]())], options))


def crosses(page: Page) -> dict[str, np.ndarray]:
    """The middles of the register marks by their names: a ring with a name beside or below it."""
    rings = [
        (each.points.min(axis=0) + each.points.max(axis=0)) / 2
        for each in page.of(Role.TEXT)
        if each.curved and np.ptp(each.points[:, 0]) == pytest.approx(4.0, abs=0.001)
    ]
    names = [(word, np.array(at)) for word, *at in page.words if re.fullmatch(r"R\d+", word)]
    assert len(rings) == len(names)
    found = {}
    for ring in rings:
        word, at = min(names, key=lambda name: np.hypot(*(name[1] - ring)))
        assert np.hypot(*(at - ring)) < 14.0
        found[word] = ring
    assert len(found) == len(rings)
    return found


def put_together(pages: list[Page]) -> list[np.ndarray]:
    """How far each page is moved so that crosses of the same name lie on each other; the first stays."""
    marks = [crosses(page) for page in pages]
    moves: dict[int, np.ndarray] = {0: np.zeros(2)}
    for number in (queue := [0]):
        for other in range(len(pages)):
            shared = sorted(marks[number].keys() & marks[other].keys())
            if not shared or other == number:
                continue
            apart = np.array([marks[number][name] - marks[other][name] for name in shared])
            assert len(shared) >= 2
            assert np.ptp(apart, axis=0).max() < TRUE  # all of them agree
            move = moves[number] + apart.mean(axis=0)
            if other not in moves:
                moves[other] = move
                queue.append(other)
            assert np.abs(moves[other] - move).max() < TRUE * len(pages)
    assert len(moves) == len(pages)  # all hang together
    return [moves[number] for number in range(len(pages))]


def room(page: Page) -> BaseGeometry:
    """Where the template is drawn, as the page shows it: apart from the 50 mm square's strip."""
    squares = [
        each.points
        for each in page.of(Role.TEXT)
        if not each.curved and np.ptp(each.points, axis=0) == pytest.approx((50.0, 50.0), abs=1e-3)
    ]
    (large_square,) = squares
    left, top = large_square.min(axis=0)
    if left > page.width / 2:
        return shapely.box(0, 0, left, page.height)
    return shapely.box(0, 0, page.width, top)


def in_room(page: Page, role: Role) -> list[Drawn]:
    held = room(page)
    return [each for each in drawn_as(page, role) if held.contains(shapely.MultiPoint(each.points))]


def on_the_template(drawn: Fit, mirrored: bool) -> dict[Role, MultiLineString]:
    """The fit's lines, mirrored by hand."""
    lines = lines_of_fit(drawn)
    if not mirrored:
        return lines
    return {role: shapely.transform(each, lambda at: at * (-1, 1)) for role, each in lines.items()}


CASES = [
    ("large", TemplateOptions(paper=LETTER)),
    ("slanted", TemplateOptions(paper=A4, mirrored=True)),
    ("large", TemplateOptions(paper=A4, kind=TemplateKind.MARKS, mirrored=True)),
    ("slanted", TemplateOptions(paper=LETTER, margin=6.35)),
]


@pytest.mark.parametrize(
    ("name", "options", "reader"),
    [
        # Each case by one reader, and by -m long by both.
        pytest.param(
            *case, reader, marks=[] if number % 2 == at else [pytest.mark.long], id=f"{number}-{reader}"
        )
        for number, case in enumerate(CASES)
        for at, reader in enumerate(READERS)
    ],
)
def test_the_sheets_put_together_by_their_marks_are_the_template(
    name: str, options: TemplateOptions, reader: str
) -> None:
    pages = pages_read(name, options, reader)
    moves = put_together(pages)
    expected = on_the_template(FITS[name](), options.mirrored)
    if options.kind is TemplateKind.MARKS:
        del expected[Role.STITCH]
        assert not any(drawn_as(page, Role.STITCH) for page in pages)
    seam = shapely.union_all([
        as_lines(in_room(page, Role.SEAM), move) for page, move in zip(pages, moves, strict=True)
    ])  # fmt: skip
    # The template lies somewhere: its seam says where, to a shift.
    shift = np.array(seam.bounds[:2]) - expected[Role.SEAM].bounds[:2]
    for role, lines in expected.items():
        near = shapely.buffer(shapely.transform(lines, lambda at: at + shift), TRUE)
        places = shapely.get_coordinates(shapely.segmentize(lines, 5.0)) + shift
        count = np.zeros(len(places), dtype=int)
        deep = np.zeros(len(places), dtype=int)
        for page, move in zip(pages, moves, strict=True):
            on_page = as_lines(in_room(page, role), move)
            assert on_page.is_empty or near.covers(on_page)  # nothing that the fit has not
            shapely.prepare(on_page)
            points = shapely.points(places)
            count += shapely.dwithin(on_page, points, TRUE)
            # Farther in than the overlap from all edges of the room.
            x0, y0, x1, y1 = room(page).bounds
            margin = options.margin
            inner = (x0 + margin + 12.8, y0 + margin + 12.8, x1 - margin - 12.8, y1 - margin - 12.8)
            deep += shapely.covers(shapely.box(*inner), shapely.points(places - move))
        assert (count >= 1).all()  # nothing missing
        assert (count[deep >= 1] == 1).all()  # nothing twice but in the overlap


@pytest.mark.parametrize("reader", READERS)
def test_marks_alone_are_solid_dots_with_their_letters(reader: str) -> None:
    options = TemplateOptions(paper=A4, kind=TemplateKind.MARKS, mirrored=True)
    pages = pages_read("large", options, reader)
    moves = put_together(pages)
    drawn = large()
    seam = shapely.union_all([
        as_lines(in_room(page, Role.SEAM), move) for page, move in zip(pages, moves, strict=True)
    ])  # fmt: skip
    left, top = on_the_template(drawn, mirrored=True)[Role.SEAM].bounds[:2]
    shift = np.array(seam.bounds[:2]) - (left, top)
    dots: list[tuple[Role, np.ndarray]] = []
    for page, move in zip(pages, moves, strict=True):
        for role in (Role.MARK, Role.ANCHOR):
            # 5 pt wide: a hole to prick through hides in it, and a pencil's point covers it.
            for each in page.of(role):
                middle = (each.points.min(axis=0) + each.points.max(axis=0)) / 2
                if each.curved and np.ptp(each.points[:, 0]) == pytest.approx(5 * MM, abs=0.01):
                    dots += [(role, middle + move - shift)]
    places = [(Role.MARK, mark.at) for fan in drawn.fans for mark in fan.marks]
    places += [(Role.ANCHOR, anchor) for anchor in drawn.anchors]
    for role, (x, y) in places:
        assert min(np.hypot(*(at - (-x, y))) for found, at in dots if found is role) < TRUE
    for role, at in dots:
        assert min(np.hypot(*(at - (-x, y))) for wanted, (x, y) in places if wanted is role) < TRUE
    # Letters are read as they are, and beside their mark.
    for fan in drawn.fans:
        for mark in fan.marks:
            words = [
                np.array(at) + move - shift
                for page, move in zip(pages, moves, strict=True)
                for word, *at in page.words
                if word == mark.name
            ]
            assert min(np.hypot(*(word - (-mark.at[0], mark.at[1]))) for word in words) < 12.0


def test_dots_are_filled() -> None:
    job = PrintJob.of([("Kite", square(76.2))], TemplateOptions(paper=A4, kind=TemplateKind.MARKS))
    (page,) = pages_of(written_job(job))
    image = picture(job, 0, 300)
    circles = [each for each in page.of(Role.MARK) if each.curved]
    assert len(circles) == sum(len(fan.marks) for fan in square(76.2).fans)
    for each in circles:
        x, y = (each.points.min(axis=0) + each.points.max(axis=0)) / 2 / 25.4 * 300
        assert QColor(image.pixel(round(x), round(y))).lightnessF() < 0.3


def written_job(job: PrintJob) -> bytes:
    from app.exporting.paged import as_pdf

    return as_pdf(job, job.title)


def picture(job: PrintJob, number: int, dots_per_inch: int) -> QImage:
    """A page as a preview paints it: scaled to its resolution."""
    size = job.page_layout(number).fullRectPixels(dots_per_inch).size()
    image = QImage(size, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    with QPainter(image) as painter:
        painter.scale(dots_per_inch / RESOLUTION, dots_per_inch / RESOLUTION)
        job.draw(painter, number)
    return image


def test_copies_of_several_sheets_are_all_there_and_each_is_whole() -> None:
    options = TemplateOptions(paper=LETTER, copies=2)
    pages = pages_of(template_pdf([("Ell", troubled()), ("Other", square())], options))
    seen: set[str] = set()
    for name, drawn in (("Ell", troubled()), ("Other", square())):
        own = [page for page in pages if name in page.text]
        copies = [[page for page in own if f"copy {number} of 2" in page.text] for number in (1, 2)]
        assert len(copies[0]) == len(copies[1]) == len(own) / 2
        for copy in copies:
            moves = put_together(copy)
            seam = shapely.union_all([
                as_lines(in_room(page, Role.SEAM), move) for page, move in zip(copy, moves, strict=True)
            ])  # fmt: skip
            size = np.ptp(np.reshape(seam.bounds, (2, 2)), axis=0)
            assert size == pytest.approx(
                np.ptp(np.reshape(drawn.patch.polygon.bounds, (2, 2)), axis=0), abs=TRUE
            )
            around = drawn.patch.polygon.boundary.length
            assert seam.buffer(0.05).area / 0.1 == pytest.approx(around, rel=1e-3)
        # No cross of one patch has the name of one of another.
        names = set().union(*(crosses(page) for page in copies[0]))
        assert not names & seen
        seen |= names


def small_ones() -> list[NamedFit]:
    leaf = fit(Patch([(10, 10), (90, 20), (75, 60), (20, 48)]), (45.0, 35.0), Settings(edge_margin=3.0))
    strip = fit(Patch([(0, 0), (170, 0), (165, 22), (4, 18)]), (60.0, 9.0), Settings(edge_margin=3.0))
    return [("Leaf", leaf), ("Block", square(76.2)), ("Long strip", strip)]


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("mirrored", [False, True])
def test_patches_that_share_a_sheet_are_each_whole_and_true(reader: str, mirrored: bool) -> None:
    fits = small_ones()
    options = TemplateOptions(paper=LETTER, copies=2, mirrored=mirrored)
    job = PrintJob.of(fits, options)
    pages = READERS[reader](template_pdf(fits, options))
    assert len(pages) == job.count < 6
    left = sorted([*range(3)] * 2)
    for page, sheet in zip(pages, job.pages, strict=True):
        assert ("Mirrored" in page.text) is mirrored
        squares = [
            tuple(np.ptp(each.points, axis=0).round(2))
            for each in page.of(Role.TEXT)
            if not each.curved and len(each.points) >= 4
        ]
        assert squares.count((25.4, 25.4)) == squares.count((50.0, 50.0)) == 1
        paper = shapely.box(12.7, 12.7, page.width - 12.7, page.height - 12.7)
        lies_on = room(page).intersection(paper)
        seams = []
        for each in sheet.patches:
            name, drawn = fits[each.patch]
            left.remove(each.patch)
            # From the patch to the page: the corners of the room in both.
            x0, y0, x1, y1 = lies_on.bounds
            corners = np.array([(x0, y0), (x1, y0), (x1, y1 - 1.5), (x0, y1 - 1.5)])
            if room(page).bounds[2] < page.width - 1:
                corners = np.array([(x0, y0), (x1 - 1.5, y0), (x1 - 1.5, y1), (x0, y1)])
            ones = np.column_stack([each.corners, np.ones(4)])
            way, residue, _, _ = np.linalg.lstsq(ones, corners, rcond=None)
            assert np.abs(ones @ way - corners).max() < 0.2, residue  # QPdfWriter rounds the page to points
            assert np.linalg.det(way[:2]) == pytest.approx(-1.0 if mirrored else 1.0, abs=2e-3)
            exact = np.round(way[:2])
            for role, lines in lines_of_fit(drawn).items():
                placed = shapely.transform(lines, lambda at: at @ exact + way[2])  # noqa: B023
                on_page = as_lines(in_room(page, role), np.zeros(2))
                # To within the page's rounding all is there; the shift is the same for all, and exact.
                held = on_page.intersection(placed.buffer(0.3))
                shift = np.array(held.bounds[:2]) - placed.bounds[:2]
                assert np.abs(shift).max() < 0.2
                exactly = shapely.transform(placed, lambda at: at + shift)  # noqa: B023
                assert shapely.hausdorff_distance(held, exactly, 0.2) < TRUE
                assert held.length == pytest.approx(lines.length, abs=0.1)
                if role is Role.SEAM:
                    seams.append(placed.convex_hull)
            assert any(word.startswith(name.split()[0]) for word, *_ in page.words)
        for one in seams:
            assert all(one is other or one.distance(other) > 6.0 for other in seams)
        pieces = sum(each.boundary.length for each in seams)
        assert as_lines(in_room(page, Role.SEAM), np.zeros(2)).length == pytest.approx(pieces, rel=0.02)
    assert not left


def test_each_on_a_sheet_of_its_own_where_that_is_wanted() -> None:
    options = TemplateOptions(paper=LETTER, together=False, copies=2)
    job = PrintJob.of(small_ones(), options)
    assert [[each.patch for each in page.patches] for page in job.pages] == [[0], [0], [1], [1], [2], [2]]
    assert [page.copy for page in job.pages] == [1, 2] * 3
    together = PrintJob.of(small_ones(), TemplateOptions(paper=LETTER, copies=2))
    assert together.count < job.count


def test_one_alone_is_printed_as_ever() -> None:
    alone = template_pdf([("Block", square(76.2))], TemplateOptions(paper=A4))
    apart = template_pdf([("Block", square(76.2))], TemplateOptions(paper=A4, together=False))
    ((one,), (other,)) = pages_of(alone), pages_of(apart)
    assert one.text == other.text
    assert "the only sheet" in one.text


@pytest.mark.parametrize("mirrored", [False, True])
def test_the_job_says_what_of_the_patch_each_sheet_shows(mirrored: bool) -> None:
    options = TemplateOptions(paper=LETTER, mirrored=mirrored)
    job = PrintJob.of([("Ell", large())], options)
    covered = shapely.union_all([shapely.Polygon(page.patches[0].corners) for page in job.pages])
    assert large().patch.polygon.boundary.difference(covered).length < 1e-6
    assert job.count == len(job.pages) == len({(page.row, page.column) for page in job.pages})
    first = min(job.pages, key=lambda page: (page.column, page.row)).patches[0].corners
    # The first column is on the patch's right where it is mirrored.
    others = np.concatenate([page.patches[0].corners for page in job.pages])
    side = others[:, 0].max() if mirrored else others[:, 0].min()
    assert np.isclose(first[:, 0], side).any()
    for page in job.pages:
        assert shapely.is_ccw(shapely.linearrings(page.patches[0].corners)) is np.bool_(not mirrored)


def test_a_preview_shows_the_very_page() -> None:
    job = PrintJob.of([("Kite", square(76.2))], TemplateOptions(paper=LETTER))
    image = picture(job, 0, 100)
    assert (image.width(), image.height()) == (850, 1100)
    import pypdfium2

    document = pypdfium2.PdfDocument(io.BytesIO(written_job(job)))
    rendered = np.asarray(document[0].render(scale=100 / 72).to_pil().convert("L")).astype(float)
    document.close()
    own = image.convertToFormat(QImage.Format.Format_Grayscale8)
    pixels = np.frombuffer(own.constBits(), dtype=np.uint8).reshape(own.height(), own.bytesPerLine())
    dark = [shrunk(each[:1100, :850].astype(float)) for each in (pixels, rendered)]
    assert np.abs(dark[0] - dark[1]).mean() < 2.0
    assert np.corrcoef(dark[0].ravel(), dark[1].ravel())[0, 1] > 0.97


def shrunk(pixels: np.ndarray) -> np.ndarray:
    """Means of five by five: readers smooth edges in ways of their own."""
    means: np.ndarray = pixels.reshape(220, 5, 170, 5).mean(axis=(1, 3))
    return means


@pytest.mark.parametrize(
    ("changed", "gone"),
    [
        ({"echoes": False}, Role.ECHO),
        ({"kind": TemplateKind.MARKS}, Role.STITCH),
        ({"kind": TemplateKind.LINES}, Role.MARK),
    ],
)
def test_what_is_left_out_is_not_on_paper(changed: dict[str, object], gone: Role) -> None:
    echoed = fit(
        Patch([(0, 0), (150, 0), (150, 150), (0, 150)]),
        (75.0, 75.0),
        Settings(echo_count=2, echo_spacing=4.0),
    )
    (full,) = pages_of(template_pdf([("Block", echoed)], TemplateOptions(paper=A4)))
    (page,) = pages_of(template_pdf([("Block", echoed)], TemplateOptions(paper=A4, **changed)))  # type: ignore[arg-type]

    def found(read: Page) -> list[Drawn]:
        # Letters have the marks' colour, and register marks are wider.
        marks = gone is Role.MARK
        return [
            each for each in read.of(gone) if not marks or (each.curved and np.ptp(each.points[:, 0]) < 3)
        ]

    assert found(full)
    assert not found(page)
    assert page.of(Role.SEAM)


def test_numbers_and_arrows_as_asked_for() -> None:
    def read(**changed: bool) -> tuple[set[str], int]:
        options = TemplateOptions(paper=A4, **changed)  # type: ignore[arg-type]
        (page,) = pages_of(template_pdf([("Block", square(101.6))], options))
        inside = {word for word, _, y in page.words if y < 200}
        arrows = [each for each in page.of(Role.STITCH) if each.closed and len(each.points) in (3, 4)]
        small = [each for each in arrows if np.ptp(each.points, axis=0).max() < 4.0]
        return inside & set("12345678"), len(small)

    assert read() == (set("12345678"), 0)
    assert read(numbers=False) == (set(), 0)
    numbers, arrows = read(arrows=True)
    assert len(numbers) >= 6
    assert arrows >= 16  # each wedge has two legs and a side


def test_without_echoes_no_word_of_echoes() -> None:
    crowded = fit(Patch([(0, 0), (76, 0), (76, 76), (0, 76)]), (30.0, 30.0), Settings(echo_count=3))
    texts = [
        pages_of(template_pdf([("Block", crowded)], TemplateOptions(paper=A4, **changed)))[0].text  # type: ignore[arg-type]
        for changed in ({}, {"echoes": False}, {"kind": TemplateKind.MARKS})
    ]
    assert ["of 3 echoes" in text for text in texts] == [True, False, False]


@pytest.mark.parametrize("margin", [3.0, 6.35, 20.0])
def test_the_margins_are_kept(margin: float) -> None:
    options = TemplateOptions(paper=A4, margin=margin)
    for fits in ([("Block", square())], small_ones()):
        for page in pages_of(template_pdf(fits, options)):
            half = max(stroke.width for stroke in STROKES.values()) / 2 * MM
            for each in page.drawn:
                if each.stroked:
                    low, high = each.points.min(axis=0), each.points.max(axis=0)
                    assert min(*low, *((page.width, page.height) - high)) > margin - half - 0.2
            for left, top, right, bottom, _ in page.letters:
                # A letter's box is higher than its ink.
                assert min(left, page.width - right) > min(margin, 6.35) - 0.2
                assert min(top, page.height - bottom) > min(margin, 6.35) - 1.5


@pytest.mark.parametrize("kind", [TemplateKind.BOTH, TemplateKind.MARKS])
def test_lines_and_letters_print_on_a_plain_printer(kind: TemplateKind) -> None:
    options = TemplateOptions(paper=LETTER, kind=kind, arrows=True, mirrored=True)
    for page in pages_of(template_pdf([("Trouble", troubled()), *small_ones()], options)):
        assert min(each.width for each in page.drawn if each.stroked) > 0.499 * MM
        assert min(contrast(each.colour, "#FFFFFF") for each in page.drawn if each.stroked) >= 3.0
        assert min(letter[4] for letter in page.letters) >= 8.999


def test_an_own_paper_has_its_size() -> None:
    from app.exporting.sheets import paper_named

    paper = paper_named("13x19in")
    (page,) = pages_of(template_pdf([("Block", square())], TemplateOptions(paper=paper)))
    assert sorted((page.width, page.height)) == pytest.approx([330.2, 482.6], abs=0.2)


def test_nothing_and_no_copy_and_no_room_are_refused() -> None:
    with pytest.raises(ExportError, match="no patch to print"):
        PrintJob.of([], TemplateOptions())
    with pytest.raises(ExportError, match="copies: 0 copies are none; give 1 or more"):
        PrintJob.of(small_ones(), TemplateOptions(copies=0))
    with pytest.raises(PaperError, match="no room"):
        PrintJob.of(small_ones(), TemplateOptions(paper=A4, margin=95.0))


def test_progress_comes_for_each_patch_and_what_it_raises_ends_the_work() -> None:
    seen: list[tuple[int, int]] = []

    def stop(done: int, total: int) -> None:
        seen.append((done, total))
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        PrintJob.of(small_ones(), TemplateOptions(), LengthStyle.CM, stop)
    assert sorted(set(seen)) == seen[-3:] == [(0, 3), (1, 3), (2, 3)]
