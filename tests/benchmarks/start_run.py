"""A process that ends with a painted window.

``empty``: a bare QMainWindow. ``frame``: the program as it is called without a file, ended at its first
paint. ``picture``: ended when the sample has been painted, finely, with all that is seen around it.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication, QWidget

    from app.window.main_window import Bench


def main(which: str) -> None:
    """Show the window; leave after that paint, without tidying up."""
    if which == "empty":
        _empty()
    else:
        _program(which)
    os._exit(0)


def _empty() -> None:
    from PySide6.QtWidgets import QApplication, QMainWindow

    application = QApplication(["start"])
    window = QMainWindow()
    _end_after_paint_of(window, lambda: True)
    window.show()
    application.exec()


def _program(which: str) -> None:
    """By the way that the command itself takes; nothing but the end is added."""
    from app.cli import main as command
    from app.window import start

    open_frame, furnish = start.open_frame, start.furnish

    def framed(application: QApplication) -> Bench:
        bench = open_frame(application)
        _end_after_paint_of(bench, lambda: True)
        return bench

    def furnished(bench: Bench) -> None:
        furnish(bench)
        _end_after_paint_of(bench.canvas, lambda: bench.canvas.rest.resting)

    if which == "frame":
        start.open_frame = framed
    else:
        start.furnish = furnished
    del sys.argv[1:]
    status = command()
    assert status == 0, "it did not come to that paint"
    assert ("numpy" in sys.modules) is (which == "picture")


def _end_after_paint_of(widget: QWidget, is_done: Callable[[], bool]) -> None:
    """Leave Qt's loop when all has been painted that is painted together with ``widget``."""
    from PySide6.QtCore import QCoreApplication, QEvent, QObject

    class End(QObject):
        def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - the name is Qt's
            if event.type() is QEvent.Type.Paint and is_done():
                QCoreApplication.exit()
            return False

    widget.installEventFilter(End(widget))


if __name__ == "__main__":
    main(sys.argv[1])
