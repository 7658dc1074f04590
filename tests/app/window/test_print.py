"""Printing: to a printer through the system's dialog, to files whole or not at all, stopped at once."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pdfplumber
import pypdfium2
import pytest
from PySide6.QtCore import QMarginsF, QRectF, Qt, QTimer
from PySide6.QtGui import QColor, QPageLayout, QPageRanges, QPageSize, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QProgressDialog,
    QPushButton,
    QWidget,
)
from pytestqt.qtbot import QtBot

from app.exporting.options import TemplateOptions
from app.exporting.page import DOTS_PER_MM
from app.exporting.print_job import PrintJob
from app.exporting.sheets import PAPERS
from app.plan.model import Plan
from app.window import preferences, print_dialog, print_work
from app.window.dialogs import Dialogs
from app.window.look import Look
from app.window.main_window import Bench
from app.window.print_work import (
    PrinterError,
    SomePages,
    check_paper,
    print_pages,
    wanted_pages,
    with_progress,
)
from app.window.template_dialog import TemplateDialog
from geometry.errors import WedgewrightError
from tests.app.window.conftest import LEFT, Answers, block, letter, press


class Crosses:
    """Pages of Letter, upright and lying by turns, each with a bar of 100 mm that starts at (30, 40) mm."""

    def __init__(self, count: int) -> None:
        self.count = count
        self.drawn: list[int] = []

    def page_layout(self, number: int) -> QPageLayout:
        return letter(lying=bool(number % 2))

    def draw(self, painter: QPainter, number: int) -> None:
        self.drawn.append(number)
        device = painter.device()
        assert isinstance(device, QPrinter)
        assert device.fullPage(), "else a printer’s own margins shift the sheet"
        bar = QRectF(30 * DOTS_PER_MM, 40 * DOTS_PER_MM, 100 * DOTS_PER_MM, 2 * DOTS_PER_MM)
        painter.fillRect(bar, QColor("black"))


def no_progress(done: int, of: int) -> None:
    """Nobody looks."""


# --- what comes out of a printer --------------------------------------------------------------------


def test_each_page_is_true_to_size_on_its_own_paper(printer: QPrinter, tmp_path: Path) -> None:
    """Read back and measured: 100 mm are 100 mm, 30 and 40 mm from the paper's corner, turned or not."""
    print_pages(Crosses(3), printer, no_progress)
    with pdfplumber.open(tmp_path / "paper.pdf") as pdf:
        sizes = [(round(float(page.width)), round(float(page.height))) for page in pdf.pages]
        assert sizes == [(612, 792), (792, 612), (612, 792)], "Letter, ANSI Y14.1, in points"
        for page in pdf.pages:
            (bar,) = page.rects
            mm = 25.4 / 72
            assert float(bar["x1"] - bar["x0"]) * mm == pytest.approx(100, abs=0.03)
            assert float(bar["x0"]) * mm == pytest.approx(30, abs=0.03)
            assert float(bar["top"]) * mm == pytest.approx(40, abs=0.03)


@pytest.mark.parametrize("resolution", [300, 600])
def test_a_coarser_printer_prints_as_large(printer: QPrinter, tmp_path: Path, resolution: int) -> None:
    printer.setResolution(resolution)
    print_pages(Crosses(1), printer, no_progress)
    with pdfplumber.open(tmp_path / "paper.pdf") as pdf:
        (bar,) = pdf.pages[0].rects
        assert float(bar["x1"] - bar["x0"]) * 25.4 / 72 == pytest.approx(100, abs=0.1)


def test_a_page_drawn_leaves_the_painter_as_it_was(printer: QPrinter, tmp_path: Path) -> None:
    class Shifting(Crosses):
        def draw(self, painter: QPainter, number: int) -> None:
            super().draw(painter, number)
            painter.translate(500, 500)

    print_pages(Shifting(2), printer, no_progress)
    with pdfplumber.open(tmp_path / "paper.pdf") as pdf:
        assert [round(float(page.rects[0]["x0"]) * 25.4 / 72) for page in pdf.pages] == [30, 30]


def test_a_printer_that_refuses_is_said(
    printer: QPrinter, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    printer.setOutputFileName(str(tmp_path / "no such folder" / "paper.pdf"))
    with pytest.raises(PrinterError, match="does not take the sheets"):
        print_pages(Crosses(2), printer, no_progress)
    printer.setOutputFileName(str(tmp_path / "paper.pdf"))
    monkeypatch.setattr(QPrinter, "newPage", lambda self: False)
    with pytest.raises(PrinterError, match="switched on"):
        print_pages(Crosses(2), printer, no_progress)


def test_what_ends_the_work_ends_the_print(printer: QPrinter, monkeypatch: pytest.MonkeyPatch) -> None:
    aborted = []
    monkeypatch.setattr(QPrinter, "abort", lambda self: aborted.append(self))
    pages = Crosses(9)

    def stop(done: int, of: int) -> None:
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        print_pages(pages, printer, stop)
    assert aborted == [printer]
    assert pages.drawn == [0, 1]


@pytest.mark.parametrize(
    ("ranges", "copies", "collated", "numbers"),
    [
        ("", 1, True, [0, 1, 2, 3]),
        ("2-3", 1, True, [1, 2]),
        ("1,4", 2, True, [0, 3, 0, 3]),
        ("1,4", 2, False, [0, 0, 3, 3]),
    ],
)
def test_the_pages_that_were_asked_for(
    printer: QPrinter, ranges: str, copies: int, collated: bool, numbers: Sequence[int]
) -> None:
    if ranges:
        printer.setPrintRange(QPrinter.PrintRange.PageRange)
        printer.setPageRanges(QPageRanges.fromString(ranges))
    printer.setCopyCount(copies)
    printer.setCollateCopies(collated)
    wanted = wanted_pages(Crosses(4), printer)
    assert list(wanted.numbers) == numbers
    assert wanted.count == len(numbers)


def test_a_printer_that_makes_copies_itself_gets_each_page_once(
    printer: QPrinter, monkeypatch: pytest.MonkeyPatch
) -> None:
    printer.setCopyCount(3)
    monkeypatch.setattr(QPrinter, "supportsMultipleCopies", lambda self: True)
    assert list(wanted_pages(Crosses(2), printer).numbers) == [0, 1]


def test_some_pages_keep_their_paper() -> None:
    some = SomePages(Crosses(4), [1, 0])
    assert some.page_layout(0).orientation() is QPageLayout.Orientation.Landscape
    assert some.page_layout(1).orientation() is QPageLayout.Orientation.Portrait


def test_other_paper_in_the_printer_is_said(printer: QPrinter) -> None:
    check_paper(Crosses(1), printer, 12)
    printer.setPageSize(QPageSize(QPageSize.PageSizeId.A4))
    with pytest.raises(PrinterError, match=r"Letter.*A4"):
        check_paper(Crosses(1), printer, 12)
    printer.setPageLayout(Crosses(2).page_layout(1))
    check_paper(Crosses(1), printer, 12)  # the same paper, lying


def test_a_printer_that_prints_less_far_out_is_said(
    printer: QPrinter, monkeypatch: pytest.MonkeyPatch
) -> None:
    layout = Crosses(1).page_layout(0)
    layout.setUnits(QPageLayout.Unit.Millimeter)
    layout.setMinimumMargins(QMarginsF(4.2, 4.2, 4.2, 14.0))
    monkeypatch.setattr(QPrinter, "pageLayout", lambda self: QPageLayout(layout))
    check_paper(Crosses(1), printer, 14.0)
    with pytest.raises(PrinterError, match=r"14.0 mm .* 12.0 mm"):
        check_paper(Crosses(1), printer, 12.0)


# --- the system's dialog ----------------------------------------------------------------------------


@pytest.mark.parametrize("accepted", [True, False])
def test_the_door_to_the_printer(
    parent: QWidget, look: Look, monkeypatch: pytest.MonkeyPatch, accepted: bool
) -> None:
    """On the sheets' own paper, without margins of Qt's, the pages to choose from counted."""
    seen: list[QPrintDialog] = []

    def run(self: QPrintDialog) -> int:
        seen.append(self)
        assert self.printer().fullPage(), "else a printer’s own margins are added to the sheet"
        self.printer().setFullPage(False)  # as some drivers’ own windows do
        return int(QDialog.DialogCode.Accepted if accepted else QDialog.DialogCode.Rejected)

    monkeypatch.setattr(QPrintDialog, "exec", run)
    printer = Dialogs(parent, look).printer("Block", Crosses(2).page_layout(1), 7)
    (dialog,) = seen
    assert (dialog.minPage(), dialog.maxPage(), dialog.fromPage(), dialog.toPage()) == (1, 7, 1, 7)
    if not accepted:
        assert printer is None
        return
    assert printer is not None
    assert printer.fullPage()
    assert printer.docName() == "Block"
    layout = printer.pageLayout()
    assert layout.orientation() is QPageLayout.Orientation.Landscape
    assert layout.fullRectPoints().size().toTuple() == (792, 612)
    assert layout.paintRectPoints() == layout.fullRectPoints(), "nothing shifts or shrinks the sheet"


@pytest.fixture
def dialog(bench: Bench, look: Look, qtbot: QtBot) -> TemplateDialog:
    preferences.store_paper("letter")
    made = TemplateDialog(bench.session, bench.dialogs, look, bench)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    return made


def test_the_sheets_go_to_the_printer(
    dialog: TemplateDialog,
    answers: Answers,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    printer: QPrinter,
) -> None:
    """To a printer, not to a file: only its name of a file is hidden from the window."""
    answers.paper_out = printer
    monkeypatch.setattr(QPrinter, "outputFileName", lambda self: "")
    monkeypatch.setattr(QPrinter, "printerName", lambda self: "Attic")
    count = dialog.pages.count
    press(dialog, "Print…")
    assert answers.told == []
    assert dialog.isHidden()
    assert dialog.told == "The sheets are on their way to “Attic”"
    document = pypdfium2.PdfDocument(tmp_path / "paper.pdf")
    assert len(document) == count > 1
    assert "Block" in document[0].get_textpage().get_text_bounded()
    document.close()


def test_printing_to_a_file_is_saving_it_whole(
    dialog: TemplateDialog,
    answers: Answers,
    printer: QPrinter,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """An older file stays as it is where the new one cannot be written (promise 22)."""
    old = tmp_path / "paper.pdf"
    old.write_bytes(b"older")
    answers.paper_out = printer
    real_fsync = os.fsync

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    press(dialog, "Print…")
    assert "the disk is full" in answers.told[0]
    assert old.read_bytes() == b"older"
    assert [each.name for each in tmp_path.iterdir() if each.is_file()] == ["paper.pdf"]
    monkeypatch.setattr(os, "fsync", real_fsync)
    press(dialog, "Print…")
    assert old.read_bytes().startswith(b"%PDF")
    assert dialog.isHidden()


def test_no_printer_was_chosen(dialog: TemplateDialog, answers: Answers) -> None:
    press(dialog, "Print…")
    assert dialog.isVisible()
    assert answers.told == []


def test_other_paper_prints_nothing(dialog: TemplateDialog, answers: Answers, printer: QPrinter) -> None:
    printer.setPageSize(QPageSize(QPageSize.PageSizeId.A4))
    answers.paper_out = printer
    press(dialog, "Print…")
    assert dialog.isVisible()
    assert "set to A4" in answers.told[0]
    assert not Path(printer.outputFileName()).exists()


# --- progress, and stopping -------------------------------------------------------------------------


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(print_work, "_PATIENCE", -1.0)


def progress_box() -> QProgressDialog:
    (box,) = (w for w in QApplication.topLevelWidgets() if isinstance(w, QProgressDialog) and w.isVisible())
    return box


def test_short_work_shows_nothing(parent: QWidget, monkeypatch: pytest.MonkeyPatch) -> None:
    boxes: list[object] = []
    monkeypatch.setattr(print_work, "progress_box", lambda *given: boxes.append(given))
    assert with_progress(parent, "Writing", lambda progress: progress(1, 2))
    assert boxes == []


@pytest.mark.parametrize("how", ["click", "escape", "access key"])
def test_work_is_stopped_at_the_next_step(parent: QWidget, impatient: None, how: str) -> None:
    steps: list[int] = []

    def stop() -> None:
        box = progress_box()
        button = box.findChild(QPushButton)
        assert isinstance(button, QPushButton)
        assert button.accessibleName() == "Stop"
        assert button.height() >= 24
        if how == "click":
            QTest.mouseClick(button, LEFT)
        elif how == "escape":
            QTest.keyClick(box, Qt.Key.Key_Escape)
        else:
            box.canceled.emit()

    def work(progress: Callable[[int, int], None]) -> None:
        for step in range(50):
            steps.append(step)
            if step == 3:
                QTimer.singleShot(0, stop)
            progress(step, 50)

    assert not with_progress(parent, "Writing", work)
    assert steps == [0, 1, 2, 3]
    assert not [w for w in QApplication.topLevelWidgets() if isinstance(w, QProgressDialog) and w.isVisible()]


def test_how_far_the_work_is(parent: QWidget, impatient: None) -> None:
    seen = []

    def work(progress: Callable[[int, int], None]) -> None:
        for step in range(1, 4):
            progress(step, 3)
            box = progress_box()
            seen.append((box.value(), box.maximum(), box.labelText(), box.isModal()))

    assert with_progress(parent, "Writing", work)
    assert seen == [(step, 3, "Writing", True) for step in range(1, 4)]


def test_an_error_in_the_work_comes_through(parent: QWidget, impatient: None) -> None:
    def work(progress: Callable[[int, int], None]) -> None:
        progress(1, 2)
        raise PrinterError("no")

    with pytest.raises(WedgewrightError):
        with_progress(parent, "Writing", work)
    assert not [w for w in QApplication.topLevelWidgets() if isinstance(w, QProgressDialog) and w.isVisible()]


@pytest.mark.parametrize("name", ["Save as PDF…", "Save picture…", "Save drawing…", "Print…"])
def test_a_stopped_print_leaves_nothing_behind(
    dialog: TemplateDialog,
    answers: Answers,
    printer: QPrinter,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
) -> None:
    """The window stays with its choices, the older file stays as it was, and no half file lies beside it."""
    press(dialog, "Which patches: All patches")
    ending = {"Save picture…": "png", "Save drawing…": "svg"}.get(name, "pdf")
    target = tmp_path / f"older.{ending}"
    target.write_bytes(b"older")
    answers.template, answers.dots, answers.paper_out = target, 96, printer
    printer.setOutputFileName(str(target))

    def stopped(parent: QWidget, words: str, work: Callable[[Any], object]) -> bool:
        def progress(done: int, of: int) -> None:
            raise print_work._StoppedError

        with pytest.raises(print_work._StoppedError):
            work(progress)
        return False

    monkeypatch.setattr(print_dialog, "with_progress", stopped)
    press(dialog, name)
    assert dialog.isVisible()
    assert dialog.told == ""
    assert target.read_bytes() == b"older"
    assert [each.name for each in tmp_path.iterdir() if each.is_file()] == [target.name]


def test_stopping_the_laying_out_prints_nothing(
    dialog: TemplateDialog, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(print_dialog, "with_progress", lambda parent, words, work: False)
    press(dialog, "Paper: A3")
    assert dialog.pages is None
    assert "stopped" in dialog.stage.wrong.text()
    monkeypatch.undo()
    press(dialog, "Paper: A4")
    assert dialog.stage.heading.text().endswith("of A4")
    assert not dialog.stage.wrong.isVisible()


def test_the_window_is_looked_after_at_every_sheet(application: QApplication, bench: Bench) -> None:
    """Many patches: between two looks at the window lies no more than one sheet."""
    fit = bench.session.fit
    assert fit is not None
    job = PrintJob.of([("Block", fit)] * 6, TemplateOptions(together=False, paper=PAPERS["letter"]))
    looks: list[int] = []
    drawn: list[int] = []

    class Counted:
        count = job.count
        page_layout = staticmethod(job.page_layout)

        @staticmethod
        def draw(painter: QPainter, number: int) -> None:
            drawn.append(number)
            job.draw(painter, number)

    from app.exporting.paged import as_pdf

    as_pdf(Counted, "Many", lambda done, of: looks.append(len(drawn)))
    assert looks == list(range(1, job.count + 1))


def test_a_large_plan_is_laid_out_and_can_be_stopped(
    bench: Bench, look: Look, qtbot: QtBot, impatient: None
) -> None:
    """Real steps, real events: Stop is pressed while the sheets of many patches are laid out."""
    bench.session.open(Plan(patches=tuple(block(f"Block {n}", 4 + n / 10, (2, 2.5)) for n in range(20))))
    made = TemplateDialog(bench.session, bench.dialogs, look, bench)
    qtbot.addWidget(made)
    made.show()
    pressed: list[int] = []

    def stop() -> None:
        box = progress_box()
        pressed.append(box.value())
        press(box, "Stop")

    QTimer.singleShot(0, stop)
    made.patches.choice.choose("all")
    assert pressed
    assert pressed[0] < 20
    assert made.pages is None
    assert "stopped" in made.stage.wrong.text()
