"""The Qt that exporters need where no window has made it."""

from __future__ import annotations

import sys

from PySide6.QtCore import QLocale
from PySide6.QtGui import QFontDatabase, QGuiApplication

from app.exporting.sheets import Paper, paper_of_territory
from app.exporting.template import ExportError

_kept: list[QGuiApplication] = []


def need_application() -> None:
    """Make sure that Qt can draw words: with the window's application, or one that needs no screen.

    Raises ``ExportError`` where the machine has no font at all: a template without its letters is of no use.
    """
    if QGuiApplication.instance() is None:
        # Said in the call, as a platform named in the environment may need a screen that is not there.
        no_screen = [] if sys.platform in {"win32", "darwin"} else ["-platform", "offscreen"]
        _kept.append(QGuiApplication(["wedgewright", *no_screen]))
    if not QFontDatabase.families():
        what = "there is no font on this machine to write letters with"
        raise ExportError(what, do="install one, such as DejaVu Sans")


def home_paper() -> Paper:
    """What the user's country prints on. QPrinter itself says A4 even in the United States."""
    return paper_of_territory(QLocale.territoryToCode(QLocale.system().territory()))
