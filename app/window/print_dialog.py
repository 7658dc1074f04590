"""What the windows of a print have in common: choices left, the sheets right, print or save below."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractSpinBox,
    QApplication,
    QDialog,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.exporting.paged import Paged, as_pdf
from app.exporting.qt import letters_missing
from app.exporting.template import Progress
from app.plan.atomic import WriteError, atomic_write
from app.sketch.translate import tr
from app.window.look import Look
from app.window.print_stage import Stage
from app.window.print_work import check_paper, print_pages, wanted_pages, with_progress
from geometry import WedgewrightError

if TYPE_CHECKING:
    from app.window.dialogs import Dialogs
from app.window.word_button import WordButton

_CHOICES_WIDTH = 320
"""px, at the usual size of text."""


class PrintDialog(QDialog):
    """A print is made anew at each change of its choices; what cannot be printed says why."""

    def __init__(
        self, title: str, dialogs: Dialogs, look: Look, parent: QWidget | None = None, *, over_patch: bool
    ) -> None:
        super().__init__(parent)
        self._dialogs = dialogs
        self.setWindowTitle(title)
        self.pages: Paged | None = None
        """What would be printed now; None where it cannot be."""
        self.told = ""
        """What was done, for the message bar; empty where nothing was."""
        self.stage = Stage(look, self, over_patch=over_patch)
        column = QWidget(self)
        self.choices = QVBoxLayout(column)
        self.choices.setContentsMargins(0, 0, 12, 0)
        self.choices.setSpacing(4)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(column)
        self._area = area
        above = QHBoxLayout()
        above.setSpacing(24)
        above.addWidget(area)
        above.addWidget(self.stage, 1)
        self._row = QHBoxLayout()
        self._row.setSpacing(8)
        self._row.addStretch(1)
        self.cancel = self._button(tr("Cancel"), tr("Prints nothing."), self.reject)
        self._outputs: list[QPushButton] = []
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 24, 24, 16)
        layout.setSpacing(16)
        layout.addLayout(above, 1)
        layout.addLayout(self._row)
        self.resize(1200, 664)

    # --- for the windows of each print ---------------------------------------------------------------

    def settle(self) -> None:
        """All choices are there: their column gets its width, and the buttons of every print come last."""
        self.choices.addStretch(1)
        self.offer(
            tr("Save as P&DF…"), tr("The sheets in a file, to print later or elsewhere."), self._save_pdf
        )
        self.print_button = self.offer(
            tr("Pr&int…"), tr("Asks for the printer, and prints the sheets."), self._print
        )
        self.print_button.setDefault(True)
        self.print_button.setFocus()
        column = self._area.widget()
        assert column is not None
        self._area.setFixedWidth(max(_CHOICES_WIDTH, column.sizeHint().width()) + 16)

    def offer(self, words: str, about: str, do: Callable[[], object]) -> QPushButton:
        """A button that makes something of the print."""
        button = self._button(words, about, do)
        self._outputs.append(button)
        return button

    def make(self, words: str, work: Callable[[Progress], object]) -> None:
        """Lay the print out anew by ``work``; nothing can be printed where it was stopped or cannot be."""
        try:
            if with_progress(self, words, work):
                return
            why = tr("This was stopped: choose fewer patches, or choose again")
        except WedgewrightError as error:
            why = str(error)
        self.show_pages(None)
        self.stage.show_wrong(why)

    def show_pages(self, pages: Paged | None, names: Iterable[str] = ()) -> None:
        """``pages`` can be printed now; None: nothing can. ``names``: that are written on them."""
        self.pages = pages
        self.stage.show_note(" ".join(letters_missing(names)))
        for button in self._outputs:
            button.setEnabled(pages is not None)

    def margin(self) -> float:
        """mm: what the sheets leave white along the edge."""
        raise NotImplementedError

    def name(self) -> str:
        """What the print is called, for a file and for the printer's list of jobs."""
        raise NotImplementedError

    def done_words(self, name: str) -> str:
        """What is said when it lies in the file of that name."""
        raise NotImplementedError

    def remember(self) -> None:
        """Something was printed or saved: these choices are to come back."""

    def save(self, path: Path | None, write: Callable[[Path, Progress], object]) -> None:
        """``write`` to ``path``, or to another place that is offered where that one does not take it."""
        while path is not None:
            place = path
            try:
                if not with_progress(
                    self,
                    tr("Writing “{name}”", name=place.name),
                    lambda progress, place=place: write(place, progress),  # type: ignore[misc]
                ):
                    return
            except WriteError as error:
                path = self._dialogs.another_place(str(error), place)
                continue
            except WedgewrightError as error:
                self._dialogs.tell(str(error))
                return
            self._finish(self.done_words(place.name))
            return

    # ------------------------------------------------------------------------------------------------

    def _button(self, words: str, about: str, do: Callable[[], object]) -> QPushButton:
        button = WordButton(words, about, do, self)
        button.setAutoDefault(True)  # Enter presses the button that has the keys, else the usual one
        self._row.addWidget(button)
        return button

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter in a field tells what was typed there; it does not print as well."""
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if enter and isinstance(QApplication.focusWidget(), (QLineEdit, QAbstractSpinBox)):
            event.accept()
            return
        super().keyPressEvent(event)

    def _save_pdf(self) -> None:
        pages = self.pages
        assert pages is not None  # else the button is switched off
        self._save_as_pdf(self._dialogs.where_to_print(self.name()), pages)

    def _save_as_pdf(self, path: Path | None, pages: Paged) -> None:
        self.save(path, lambda place, progress: atomic_write(place, as_pdf(pages, self.name(), progress)))

    def _print(self) -> None:
        pages = self.pages
        assert pages is not None
        printer = self._dialogs.printer(self.name(), pages.page_layout(0), pages.count)
        if printer is None:
            return
        try:
            check_paper(pages, printer, self.margin())
            wanted = wanted_pages(pages, printer)
            if printer.outputFileName():  # to a file: whole or not at all, as every other file
                self._save_as_pdf(Path(printer.outputFileName()), wanted)
                return
            words = tr("Sending the sheets to “{printer}”", printer=printer.printerName())
            if not with_progress(self, words, lambda progress: print_pages(wanted, printer, progress)):
                return
        except WedgewrightError as error:
            self._dialogs.tell(str(error))
            return
        self._finish(tr("The sheets are on their way to “{printer}”", printer=printer.printerName()))

    def _finish(self, told: str) -> None:
        self.told = told
        self.remember()
        self.accept()
