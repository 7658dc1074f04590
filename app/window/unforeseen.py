"""The one place where errors arrive that nobody foresaw: the work is kept first, then they are told."""

from __future__ import annotations

import logging
import sys
import threading
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from types import TracebackType
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog, QHBoxLayout, QLabel, QPlainTextEdit, QVBoxLayout, QWidget

from app.sketch.translate import tr

if TYPE_CHECKING:
    from app.window.main_window import Bench
from app.window.word_button import WordButton

log: Final = logging.getLogger("wedgewright")


_WIDTH: Final = 560
_MARGIN: Final = 24
_DEPTH: Final = 200
"""Calls that keeping and telling need (half of it, by trial)."""


class Unforeseen(QObject):
    """Catches what escapes from slots, events, timers, painting and threads."""

    _arrived = Signal(str, str, str)

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._bench = bench
        self._told: set[str] = set()
        self._catching: set[int] = set()
        """Threads in which an error is being kept and told: one in that would be told for ever."""
        self.dialog: UnforeseenDialog | None = None
        self._arrived.connect(self._tell)  # from another thread, it waits for the window's turn

    @contextmanager
    def watching(self) -> Iterator[None]:
        """Everything that escapes meanwhile comes here."""
        before, in_threads = sys.excepthook, threading.excepthook
        sys.excepthook = self.catch
        threading.excepthook = self._catch_in_thread
        try:
            yield
        finally:
            sys.excepthook, threading.excepthook = before, in_threads

    def catch(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        """Keep the plan, write the log, and say it; whatever thread this is."""
        if issubclass(kind, KeyboardInterrupt):
            self._bench.close()
            return
        if not self._bench.is_furnished:
            log.error("unforeseen", exc_info=(kind, error, trace))
            return
        thread = threading.get_ident()
        if thread in self._catching:
            return
        self._catching.add(thread)
        try:
            with _room():
                why_not = self._bench.rescue()  # before anything that may fail as well
                log.error("unforeseen", exc_info=(kind, error, trace))
                details = "".join(traceback.format_exception(kind, error, trace))
                self._arrived.emit(why_not, details, _place(kind, trace))
        finally:
            self._catching.remove(thread)

    def _catch_in_thread(self, args: threading.ExceptHookArgs) -> None:
        if args.exc_value is not None and not issubclass(args.exc_type, SystemExit):
            self.catch(args.exc_type, args.exc_value, args.exc_traceback)

    def _tell(self, why_not: str, details: str, place: str) -> None:
        if place not in self._told:  # once is enough: a fault in painting would come again and again
            self._told.add(place)
            # Not from within the event that failed.
            QTimer.singleShot(0, self, lambda: self._show(why_not, details))
        self._bench.message.problem(
            tr("Something went wrong and that step was not done; your work is kept, go on")
            if not why_not
            else tr("Something went wrong and that step was not done; save your plan, then go on")
        )

    def _show(self, why_not: str, details: str) -> None:
        if self.dialog is not None and self.dialog.isVisible():
            self.dialog.add(details)
            return
        self.dialog = UnforeseenDialog(why_not, details, self._bench)
        self.dialog.open()


class UnforeseenDialog(QDialog):
    """What happened in plain words, and the details for whoever can mend it."""

    def __init__(self, why_not: str, details: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Wedgewright"))
        words = QLabel(
            tr("Something went wrong that we did not expect. The last step may not have been done.")
        )
        kept = QLabel(
            tr("Your work is kept: a copy was made before this was shown. Close this and go on.")
            if not why_not
            else tr(
                "No copy of your work could be made ({why}). Close this, and save your plan now.", why=why_not
            )
        )
        hint = QLabel(tr("Whoever mends Wedgewright needs these details; they go nowhere by themselves:"))
        for label in (words, kept, hint):
            label.setWordWrap(True)
            label.ensurePolished()
            # On a small screen the details give way, not the words.
            label.setMinimumHeight(label.heightForWidth(_WIDTH - 2 * _MARGIN))
        self.details = QPlainTextEdit(details)
        self.details.setReadOnly(True)
        self.details.setTabChangesFocus(True)
        self.details.setAccessibleName(tr("Details"))
        self.details.setWhatsThis(tr("What failed, and where in the program."))
        copy = WordButton(tr("&Copy the details"), tr("Puts the details on the clipboard."), self._copy, self)
        close = WordButton(tr("&Go on"), tr("Closes this window; the bench is as it was."), self.accept, self)
        close.setDefault(True)
        buttons = QHBoxLayout()
        buttons.addWidget(copy)
        buttons.addStretch(1)
        buttons.addWidget(close)
        rows = QVBoxLayout(self)
        rows.setContentsMargins(_MARGIN, _MARGIN, _MARGIN, _MARGIN)
        rows.setSpacing(8)
        for widget in (words, kept, hint, self.details):
            rows.addWidget(widget)
        rows.addSpacing(8)
        rows.addLayout(buttons)
        self.setMinimumWidth(_WIDTH)
        close.setFocus()

    def add(self, details: str) -> None:
        """Another, while this one is still shown."""
        self.details.appendPlainText(f"\n{details}")

    def _copy(self) -> None:
        QGuiApplication.clipboard().setText(self.details.toPlainText())


@contextmanager
def _room() -> Iterator[None]:
    """Some more depth of calls: where signals call each other without end there is none left."""
    limit = sys.getrecursionlimit()
    sys.setrecursionlimit(limit + _DEPTH)
    try:
        yield
    finally:
        sys.setrecursionlimit(limit)


def _place(kind: type[BaseException], trace: TracebackType | None) -> str:
    """Which error it is: its kind and the line that raised it."""
    frames = traceback.extract_tb(trace)
    return f"{kind.__name__} {frames[-1].filename}:{frames[-1].lineno}" if frames else kind.__name__
