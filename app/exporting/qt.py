"""The Qt that exporters need where no window has made it."""

from __future__ import annotations

import sys
import unicodedata
from collections.abc import Iterable

from PySide6.QtCore import QLocale
from PySide6.QtGui import QFont, QFontDatabase, QFontMetrics, QGuiApplication

from app.exporting.sheets import Paper, paper_of_territory
from app.exporting.template import ExportError
from app.exporting.words import short_name
from app.sketch.translate import tr, tr_n

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


def letters_missing(names: Iterable[str]) -> tuple[str, ...]:
    """A sentence about the first of ``names`` that has letters which no font of this machine has; else
    nothing. Marks that are set on a letter go with it, and are not asked for.
    """
    need_application()
    measures = QFontMetrics(QFont())
    for line in map(short_name, names):
        asked = {letter for letter in line if letter != " " and unicodedata.category(letter)[0] != "M"}
        count = sum(not measures.inFontUcs4(ord(letter)) for letter in asked)
        if count:
            what = tr_n(
                "“{name}”: {count} letter is in no font of this machine, and a box is printed for it",
                "“{name}”: {count} letters are in no font of this machine, and boxes are printed for them",
                count,
                name=line,
            )
            return (tr("{what}; install a font that has them, or choose another name", what=what),)
    return ()


def home_paper() -> Paper:
    """What the user's country prints on. QPrinter itself says A4 even in the United States."""
    return paper_of_territory(QLocale.territoryToCode(QLocale.system().territory()))
