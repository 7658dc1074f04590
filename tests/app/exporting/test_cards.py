"""Everything that is printed beside the template: read back with two readers, whole, legible, and true to the
fit's own figures.
"""

from __future__ import annotations

import errno
import io
import math
import os
import re
import unicodedata
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pdfplumber
import pypdfium2
import pytest
from PySide6.QtGui import QColor, QImage, QPainter

from app.exporting.cards import CardJob, CardKind, CardPatch, write_card
from app.exporting.page import RESOLUTION
from app.exporting.paged import as_pdf
from app.exporting.sheets import PAPERS, PaperError
from app.exporting.template import ExportError
from app.plan import atomic
from app.plan.atomic import WriteError
from app.sketch.wording import verdict
from geometry import Fit, Patch, Settings, fit
from geometry.estimate import summed
from geometry.units import LengthStyle
from tests.app.exporting.samples import ELL, HOLE, INCH, square, troubled

KINDS = tuple(CardKind)
SMALL = square(3 * INCH)


@cache
def several() -> Fit:
    settings = Settings(echo_count=2, cloth_turned=False, bobbin_capacity=20_000.0)
    return fit(Patch(ELL, [HOLE]), [(50.0, 50.0), (200.0, 40.0)], settings)


@cache
def patches() -> tuple[CardPatch, ...]:
    tries = tuple((f"Try {n}", square(8 * INCH, gap=6.0 + n)) for n in range(3))
    return (
        CardPatch("Three inches", SMALL, 1, tries),
        CardPatch("Forty inches", square(40 * INCH, spans_per_side=16), 12),
        CardPatch("Several fans", several(), 3),
        CardPatch("Troubled", troubled(), 4, tries[:1]),
        CardPatch("Splinter", fit(Patch([(0, 0), (200, 0), (0, 9)]), (60.0, 3.0)), 2),
    )


@cache
def pdf_of(kind: CardKind, paper: str, style: LengthStyle = LengthStyle.EIGHTHS) -> bytes:
    return as_pdf(CardJob.of(patches(), kind, paper, style, "Lily plan"), "Lily plan")


def letters(text: str) -> str:
    """All characters, ligatures taken apart, in the order of the alphabet."""
    return "".join(sorted("".join(unicodedata.normalize("NFKC", text).split())))


@pytest.mark.parametrize(
    ("kind", "paper"),
    [
        # Each kind on one paper, and by -m long on both.
        pytest.param(kind, paper, marks=[] if number % 2 == at else [pytest.mark.long])
        for number, kind in enumerate(KINDS)
        for at, paper in enumerate(["letter", "a4"])
    ],
)
def test_every_page_is_whole_and_legible_to_two_readers(kind: CardKind, paper: str) -> None:
    data = pdf_of(kind, paper)
    other = pypdfium2.PdfDocument(data)
    size = PAPERS[paper]
    with pdfplumber.open(io.BytesIO(data)) as document:
        assert len(document.pages) == len(other) == CardJob.of(patches(), kind, paper).count
        for number, page in enumerate(document.pages):
            for got, wanted in zip(other[number].get_size(), (size.width, size.height), strict=True):
                assert got == pytest.approx(wanted / 25.4 * 72, abs=1)
            chars = [char for char in page.chars if char["text"].strip()]
            assert chars
            for char in chars:
                assert char["size"] >= 9
                assert char["x0"] >= 35
                assert char["x1"] <= page.width - 35
                assert char["top"] >= 35
                assert char["bottom"] <= page.height - 33
            figures = [char for char in chars if char["text"].isdigit()]
            read_at_arms_length = [char for char in figures if char["size"] >= 11.9]
            if kind is not CardKind.TRIES and len(figures) > 20:  # tries: compared in the hand
                assert len(read_at_arms_length) >= 0.5 * len(figures)
            theirs = other[number].get_textpage().get_text_bounded()
            ours = letters("".join(char["text"] for char in chars))
            assert letters(theirs) == ours
            assert "…" not in ours, "nothing is cut short"
    other.close()


@pytest.mark.parametrize("kind", [CardKind.MARKING, CardKind.STITCHING])
def test_figures_of_the_tables_have_the_base_size(kind: CardKind) -> None:
    with pdfplumber.open(io.BytesIO(pdf_of(kind, "letter"))) as document:
        page = document.pages[0]
        words = page.extract_words(extra_attrs=["size"])
    tables = [word for word in words if word["top"] > 0.66 * page.height and re.search(r"\d", word["text"])]
    assert len(tables) > 8
    assert all(word["size"] >= 11.9 for word in tables)


def text_of(kind: CardKind, style: LengthStyle = LengthStyle.EIGHTHS) -> list[str]:
    document = pypdfium2.PdfDocument(pdf_of(kind, "a4", style))
    texts = [page.get_textpage().get_text_bounded().replace("\r", "") for page in document]
    document.close()
    return texts


def yards(mm: float) -> float:
    """International yard: 0.9144 m exactly (yard agreement of 1959)."""
    return mm / 914.4


def test_totals_are_the_fits_own() -> None:
    (sheet,) = text_of(CardKind.PLAN)
    whole = summed((each.fit.totals, each.repeats) for each in patches())
    for figure in (
        f"{sum(each.fit.totals.stitches * each.repeats for each in patches())}",
        f"{yards(whole.top_thread):.1f} yd",
        f"{yards(whole.bobbin_thread):.1f} yd",
        f"{whole.minutes:.0f}",
    ):
        assert figure in sheet
    metres = text_of(CardKind.PLAN, LengthStyle.CM)[0]
    assert f"{whole.top_thread / 1000:.1f} m" in metres
    for each in patches():
        assert each.name in sheet
        assert verdict(each.fit) in " ".join(sheet.split())
    assert "12 times" in sheet
    assert "22 to stitch" in sheet
    cards = "\n".join(text_of(CardKind.STITCHING))
    for each in patches():
        totals = each.fit.totals
        if totals.stitches:
            assert f"{totals.stitches}" in cards
            assert f"{totals.stitches * each.repeats}" in cards
            assert f"{yards(totals.top_thread):.1f} yd" in cards
            assert f"{yards(totals.top_thread * each.repeats):.1f} yd" in cards
    bobbins = math.ceil(3 * several().totals.bobbin_thread / 20_000)
    (card,) = [text for text in text_of(CardKind.STITCHING) if "Several fans" in text]
    assert re.search(rf"Bobbins\s+{several().totals.bobbins_to_wind}\s+{bobbins}\b", card)


def test_the_stitching_card_has_every_wedge_in_its_order_with_its_bearings() -> None:
    """The angles by the arc tangent of the wedge's own corners, the order by the path's own segments."""
    (card,) = [text for text in text_of(CardKind.STITCHING) if "Several fans" in text]
    order: list[int] = []
    for segment in several().path.segments:
        if segment.wedge and segment.wedge not in order:
            order.append(segment.wedge)
    rows = {}
    for line in card.splitlines():
        for found in re.finditer(r"(\d+) ([A-Z0-9]+)–([A-Z0-9]+) (\d+)° (\d+)° (\d+)° (\d+)(?= |$)", line):
            wedge, first, last, out, side, back, echoes = found.groups()
            rows[int(wedge)] = ((first, last), int(out), int(side), int(back), int(echoes))
    assert set(rows) == set(order)
    assert re.findall(r"Travel .* to wedge (\d+)", card) == ["15"]
    by_number = {wedge.number: (fan, wedge) for fan in several().fans for wedge in fan.wedges}
    for number, (span, out, side, back, echoes) in rows.items():
        fan, wedge = by_number[number]
        assert span == wedge.span
        assert echoes == len(wedge.echoes)
        start, end = wedge.side[0], wedge.side[-1]
        for place, printed in ((start, out), (end, back)):
            dx, dy = place[0] - fan.anchor[0], place[1] - fan.anchor[1]
            assert (printed - math.degrees(math.atan2(dx, -dy))) % 360 == pytest.approx(0, abs=0.51) or (
                printed - math.degrees(math.atan2(dx, -dy))
            ) % 360 == pytest.approx(360, abs=0.51)
        dx, dy = end[0] - start[0], end[1] - start[1]
        assert math.cos(math.radians(side) - math.atan2(dx, -dy)) > math.cos(math.radians(0.51))


def test_turns_of_the_cloth_bring_it_round() -> None:
    """Where the cloth is turned, the turns at the two corners of a wedge and at its tip make up what the
    directions of its lines differ by; the cloth goes against the line."""
    (card,) = [text for text in text_of(CardKind.STITCHING) if "Three inches" in text]
    pattern = r"(\d+) \S+–\S+ (\d+)° (\d+)° (left|right) (\d+)° (\d+)° (left|right) (\d+)°"
    rows = re.findall(pattern, card)
    assert len(rows) == 8
    for _, out, turn, way, side, other, other_way, back in rows:
        for before, after, by, to in (
            (int(out), int(side), turn, way),
            (int(side), int(back) + 180, other, other_way),
        ):
            line = (after - before + 180) % 360 - 180  # more than 0 is to the right, clockwise
            cloth = -line
            printed = int(by) * (1 if to == "right" else -1)
            assert printed == pytest.approx(cloth, abs=1.01)


def test_a_cards_words() -> None:
    text = " ".join(" ".join(text_of(CardKind.STITCHING)).split())
    assert "Your machine's manual and your local safety rules come first" in text
    assert "Start at the anchor, with wedge 1. Stop at the anchor, after wedge 8." in text
    assert "Stitch a wedge's echoes before you go on to the next wedge." in text
    assert "The head moves" in text
    assert "The cloth is turned" in text
    assert "There is nothing to stitch" in text


def test_many_patches_go_over_as_many_pages_as_needed() -> None:
    many = [CardPatch(f"Patch {n}", SMALL) for n in range(23)]
    job = CardJob.of(many, CardKind.PLAN, "letter", title="Many")
    assert job.count == 2
    document = pypdfium2.PdfDocument(as_pdf(job, job.title))
    texts = [page.get_textpage().get_text_bounded() for page in document]
    document.close()
    for n in range(23):
        assert sum(bool(re.search(rf"\bPatch {n}\b", text)) for text in texts) == 1
    assert "page 2 of 2" in texts[1]


@pytest.mark.parametrize(
    ("paper", "patches", "on_each"),
    [("letter", 12, [12]), ("a4", 12, [12]), ("letter", 14, [8, 6]), ("a4", 1, [1]), ("a3", 27, [27])],
)
def test_a_plan_sheet_is_well_filled(paper: str, patches: int, on_each: list[int]) -> None:
    job = CardJob.of([CardPatch(f"Patch {n}", SMALL) for n in range(patches)], CardKind.PLAN, paper)
    document = pypdfium2.PdfDocument(as_pdf(job, ""))
    texts = [page.get_textpage().get_text_bounded() for page in document]
    document.close()
    assert [len(re.findall(r"\bPatch \d+\b", text)) for text in texts] == on_each


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_drawn_for_a_preview_is_the_page_of_the_file(kind: CardKind) -> None:
    job = CardJob.of(patches(), kind, "a4", title="Lily plan")
    number = job.count - 1
    layout = job.page_layout(number)
    assert layout.fullRectPixels(72).width() == pytest.approx(595, abs=1)
    image = QImage(595, 842, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    with QPainter(image) as painter:
        painter.scale(72 / RESOLUTION, 72 / RESOLUTION)
        job.draw(painter, number)
    document = pypdfium2.PdfDocument(pdf_of(kind, "a4"))
    page = document[number].render(scale=1).to_numpy()
    document.close()
    drawn = np.frombuffer(image.constBits(), dtype=np.uint8).reshape(842, 595, 4)[..., :3]
    ours, theirs = (
        np.add.reduceat(255.0 - each[:840, :595].mean(axis=2), range(0, 840, 40)) for each in (drawn, page)
    )
    assert ours.sum() > 30_000
    # Two engines smooth lines in two ways; in every stripe of the page there is about as much ink.
    assert ours.sum(axis=1) == pytest.approx(theirs.sum(axis=1), rel=0.35, abs=2_000)


def test_what_cannot_be_written_is_said(tmp_path: Path) -> None:
    with pytest.raises(
        ExportError, match=r"^“out.svg”: .svg files cannot be written; end the name in .pdf or"
    ):
        write_card(tmp_path / "out.svg", patches(), kind="plan")
    with pytest.raises(ExportError, match=r"the name has no ending"):
        write_card(tmp_path / "out", patches(), kind="plan")
    with pytest.raises(
        ExportError, match=r"a picture holds one page, and this takes \d+; end the name in .pdf"
    ):
        write_card(tmp_path / "out.png", patches(), kind="marking")
    with pytest.raises(ExportError, match="no patch to print"):
        write_card(tmp_path / "out.pdf", [], kind="plan")
    with pytest.raises(ExportError, match="no patch has a try; keep one first"):
        write_card(tmp_path / "out.pdf", patches()[1:2], kind="tries")
    with pytest.raises(PaperError, match="“napkin”"):
        write_card(tmp_path / "out.pdf", patches(), kind="plan", paper="napkin")
    assert list(tmp_path.iterdir()) == []


def test_one_page_is_a_picture_too(tmp_path: Path) -> None:
    path = tmp_path / "kite.png"
    write_card(path, patches()[:1], kind="marking", paper="letter")
    image = QImage(str(path))
    assert image.width() / image.dotsPerMeterX() * 1000 == pytest.approx(8.5 * INCH, abs=0.2)
    assert image.height() / image.dotsPerMeterY() * 1000 == pytest.approx(11 * INCH, abs=0.2)


# Promise 22: an unwritable, full or vanished target.


def _full(path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    def write(handle: int, data: bytes) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(atomic.os, "write", write)
    return path


def _vanished(path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    return path.parent / "gone" / path.name


def _unwritable(path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    def replace(one: object, other: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(atomic.os, "replace", replace)
    return path


@pytest.mark.parametrize(
    ("hindrance", "words"),
    [(_full, "the disk is full"), (_vanished, "folder is not there"), (_unwritable, "write-protected")],
)
@pytest.mark.parametrize("kind", KINDS)
def test_a_target_that_fails_leaves_the_older_card(
    kind: CardKind,
    hindrance: Callable[[Path, pytest.MonkeyPatch], Path],
    words: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = tmp_path / "card.pdf"
    path.write_bytes(b"older")
    target = hindrance(path, monkeypatch)
    with pytest.raises(WriteError, match=words):
        write_card(target, patches()[:1], kind=kind)
    monkeypatch.undo()
    assert path.read_bytes() == b"older"
    assert list(tmp_path.iterdir()) == [path]


def test_progress_counts_pages_and_may_end_the_work(tmp_path: Path) -> None:
    seen = []
    path = tmp_path / "card.pdf"
    write_card(path, patches(), kind="marking", progress=lambda done, of: seen.append((done, of)))
    count = CardJob.of(patches(), "marking").count
    ready, pages = [(0, len(patches()))] * len(patches()), [(n, count) for n in range(1, count + 1)]
    assert seen == ready + pages
    written = path.read_bytes()

    def stop(done: int, of: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_card(path, patches(), kind="stitching", progress=stop)
    assert path.read_bytes() == written
    assert list(tmp_path.iterdir()) == [path]
