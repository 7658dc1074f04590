"""A process that ends with its first painted window: ``bench``, or ``empty`` for a bare QMainWindow."""

from __future__ import annotations

import os
import sys

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # as the program's own start does


def main(which: str) -> None:
    """Show the window; leave at its first paint, without tidying up."""
    from PySide6.QtCore import QEvent, QObject
    from PySide6.QtWidgets import QApplication, QMainWindow, QWidget

    class First(QObject):
        def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - the name is Qt's
            if event.type() is QEvent.Type.Paint:
                application.exit()
            return False

    application = QApplication(["start"])
    painted: QWidget
    if which == "bench":
        from app.window.start import open_bench

        window: QMainWindow = open_bench(application)
        painted = window.canvas  # type: ignore[attr-defined]
    else:
        window = QMainWindow()
        painted = window
    first = First()
    painted.installEventFilter(first)
    window.show()
    application.exec()
    os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1])
