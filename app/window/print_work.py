"""Long work for a printer or a file: with progress, stopped at once, and nothing half written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import monotonic
from typing import Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QPageLayout, QPainter
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtWidgets import QApplication, QProgressBar, QProgressDialog, QPushButton, QWidget

from app.exporting.page import RESOLUTION
from app.exporting.paged import Paged
from app.exporting.template import Progress
from app.sketch.translate import tr
from geometry import WedgewrightError

_PATIENCE: Final = 0.3
"""s that work may take before a window says how far it is."""
_SAME: Final = 1
"""Points: papers that differ by less are the same, as drivers round."""


class PrinterError(WedgewrightError):
    """A printer that does not take the sheets."""


class _StoppedError(Exception):
    """The user pressed Stop."""


def with_progress(parent: QWidget, words: str, work: Callable[[Progress], object]) -> bool:
    """Do ``work``, which calls what it is given at each step. False where the user stopped it there."""
    begun = monotonic()
    boxes: list[QProgressDialog] = []

    def progress(done: int, of: int) -> None:
        if not boxes and monotonic() - begun > _PATIENCE:
            boxes.append(progress_box(parent, words))
        for box in boxes:
            box.setMaximum(of)
            box.setValue(done)
            QApplication.processEvents()
            if box.wasCanceled():
                raise _StoppedError

    try:
        work(progress)
    except _StoppedError:
        return False
    finally:
        for box in boxes:
            box.close()
            box.deleteLater()
    return True


def progress_box(parent: QWidget, words: str) -> QProgressDialog:
    """Shown at once, so that nothing else can be pressed while events are looked after."""
    box = QProgressDialog(words, tr("&Stop"), 0, 0, parent)
    box.setWindowTitle(tr("Wedgewright"))
    box.setWindowModality(Qt.WindowModality.WindowModal)
    box.setAutoReset(False)
    box.setAutoClose(False)
    box.setMinimumWidth(400)
    box.setAccessibleName(words)
    for bar in box.findChildren(QProgressBar):
        bar.setAccessibleName(words)
        bar.setTextVisible(False)  # it would lie half on the bar's ink
    for button in box.findChildren(QPushButton):
        button.setAccessibleName(tr("Stop"))
    box.show()
    return box


@dataclass(frozen=True, slots=True)
class SomePages:
    """Some pages of others, each as often as it is named."""

    pages: Paged
    numbers: Sequence[int]

    @property
    def count(self) -> int:
        """Of pages."""
        return len(self.numbers)

    def page_layout(self, number: int) -> QPageLayout:
        """Paper and orientation of page ``number``, from 0."""
        return self.pages.page_layout(self.numbers[number])

    def draw(self, painter: QPainter, number: int) -> None:
        """Draw page ``number``, from 0."""
        self.pages.draw(painter, self.numbers[number])


def wanted_pages(pages: Paged, printer: QPrinter) -> SomePages:
    """Those that were asked for in the printer's dialog, in the order in which they come out."""
    numbers = list(range(pages.count))
    if printer.printRange() is QPrinter.PrintRange.PageRange:
        ranges = printer.pageRanges()
        if not ranges.isEmpty():
            numbers = [number for number in numbers if ranges.contains(number + 1)]
    copies = 1 if printer.supportsMultipleCopies() else printer.copyCount()
    if printer.collateCopies():
        return SomePages(pages, numbers * copies)
    return SomePages(pages, [number for number in numbers for _ in range(copies)])


def check_paper(pages: Paged, printer: QPrinter, margin: float) -> None:
    """Raises ``PrinterError`` where the printer has other paper, or leaves more than ``margin`` mm unprinted.

    Fitted to other paper the sheets would not be true to size, and cut at the edge they would lack lines.
    """
    asked, given = pages.page_layout(0).pageSize(), printer.pageLayout().pageSize()
    width, height = asked.sizePoints().toTuple()
    sides = given.sizePoints().toTuple()
    if max(abs(min(sides) - min(width, height)), abs(max(sides) - max(width, height))) > _SAME:
        what = tr("the sheets are made for {asked}, and the printer is set to {given}",
                  asked=asked.name(), given=given.name())  # fmt: skip
        raise PrinterError(what, do=tr("choose the same paper in both places"))
    layout = printer.pageLayout()
    layout.setUnits(QPageLayout.Unit.Millimeter)
    edge = layout.minimumMargins()
    needed = max(edge.left(), edge.top(), edge.right(), edge.bottom())
    if needed > margin + 0.05:
        what = tr("the printer leaves {needed} mm along the edge unprinted, and the margin is {margin} mm",
                  needed=f"{needed:.1f}", margin=f"{margin:.1f}")  # fmt: skip
        raise PrinterError(what, do=tr("give a wider margin"))


def to_the_edge(layout: QPageLayout) -> QPageLayout:
    """``layout`` whose origin is the paper's corner.

    Otherwise a printer would keep its own margins, and shift everything by them; and a layout that does not
    say so takes ``QPrinter.setFullPage`` back.
    """
    layout.setMode(QPageLayout.Mode.FullPageMode)
    return layout


def print_pages(pages: Paged, printer: QPrinter, progress: Progress) -> None:
    """Send ``pages`` to ``printer``, each on its own paper, true to size. What ``progress`` raises ends it.

    Raises ``PrinterError``.
    """
    scale = printer.resolution() / RESOLUTION
    painter = QPainter()
    try:
        for number in range(pages.count):
            printer.setPageLayout(to_the_edge(pages.page_layout(number)))
            if not (printer.newPage() if number else painter.begin(printer)):
                raise _refused(printer)
            painter.save()
            painter.scale(scale, scale)
            pages.draw(painter, number)
            painter.restore()
            progress(number + 1, pages.count)
    except BaseException:
        printer.abort()
        raise
    finally:
        painter.end()
    if printer.printerState() is QPrinter.PrinterState.Error:
        raise _refused(printer)


def _refused(printer: QPrinter) -> PrinterError:
    name = printer.printerName() or tr("the printer")
    return PrinterError(
        tr("“{name}” does not take the sheets", name=name),
        do=tr("see whether it is switched on and has paper, or save as PDF"),
    )
