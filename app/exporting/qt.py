"""The Qt that exporters need where no window has made it."""

from __future__ import annotations

import os

from PySide6.QtCore import QLocale
from PySide6.QtGui import QGuiApplication

from app.exporting.sheets import Paper, paper_of_territory

_kept: list[QGuiApplication] = []


def need_application() -> None:
    """Make sure that Qt can draw text: with the window's application, or one that needs no screen."""
    if QGuiApplication.instance() is None:
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        _kept.append(QGuiApplication(["wedgewright"]))


def home_paper() -> Paper:
    """What the user's country prints on. QPrinter itself says A4 even in the United States."""
    return paper_of_territory(QLocale.territoryToCode(QLocale.system().territory()))
