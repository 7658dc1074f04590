"""The window before its bench stands: it is painted while everything heavy is still to be loaded."""

from __future__ import annotations

import re
from typing import Final

from PySide6.QtCore import QByteArray, QRect, QSettings, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QRegion
from PySide6.QtWidgets import QDockWidget, QMainWindow, QTabBar, QWidget

from app.sketch.palette import Role
from app.window.look import GAP, Look

_GEOMETRY: Final = "bench/geometry"
_STATE: Final = "bench/state"
_GAPS: Final = "bench/gaps"
_USUAL_SIZE: Final = 1280, 800


class Frame(QMainWindow):
    """Where the user left it, in the colours of the look: the grounds of the panels, and nothing on them.

    Neither this module nor any that it imports needs numpy, so that there is a window to see at once.
    """

    first_painted = Signal()
    """Once, when the ground has been drawn and nothing lies on it yet."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.setObjectName("bench")
        self.setAcceptDrops(False)  # Qt lets every main window take them
        self._look = look
        self._painted = False
        self._furnished = False
        stored = QSettings().value(_GEOMETRY)
        if not (isinstance(stored, QByteArray) and self.restoreGeometry(stored)):
            self.resize(*_USUAL_SIZE)
        self._gaps = _rectangles(str(QSettings().value(_GAPS, "")))

    @property
    def is_furnished(self) -> bool:
        """Whether what belongs on the ground is there."""
        return self._furnished

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._furnished:
            super().paintEvent(event)
            return
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._look.colour(Role.FRAME))
        # In a window of another size the panels will lie elsewhere.
        if self._gaps and self._gaps[0] == self.rect():
            for gap in self._gaps[1:]:
                painter.fillRect(gap, self._look.colour(Role.CLOTH))
        painter.end()
        if not self._painted:
            self._painted = True
            self.first_painted.emit()

    def _remember(self) -> None:
        """Size, place and panels, for the next start."""
        stored = QSettings()
        stored.setValue(_GEOMETRY, self.saveGeometry())
        stored.setValue(_STATE, self.saveState())
        gaps = list(self._between_panels())  # type: ignore[call-overload]  # iterable, but the stub is silent
        rectangles = [self.rect(), *gaps]
        stored.setValue(_GAPS, " ".join(",".join(map(str, each.getRect())) for each in rectangles))

    def _restore_panels(self) -> frozenset[str]:
        """The names of the panels of which it is known how they were left: none at the first start, and not
        those that the version which left them did not have.
        """
        state = QSettings().value(_STATE)
        if not (isinstance(state, QByteArray) and self.restoreState(state)):
            return frozenset()
        names = [panel.objectName() for panel in self.findChildren(QDockWidget)]
        # Qt tells nobody which they are; it writes each name as QDataStream does, in UTF-16, high byte first.
        return frozenset(name for name in names if state.contains(name.encode("utf-16-be")))

    def _between_panels(self) -> QRegion:
        """What no panel covers, from the toolbar down to the line above the status line, and that line."""
        direct = Qt.FindChildOption.FindDirectChildrenOnly
        docked = [each for each in self.findChildren(QDockWidget) if not each.isFloating()]
        grounds: list[QWidget] = [*docked, *self.findChildren(QTabBar, options=direct)]
        centre = self.centralWidget()
        assert centre is not None
        grounds.append(centre)
        places = [each.geometry() for each in grounds if not each.isHidden()]
        top = min(place.top() for place in places if place.top() >= 0)
        bottom = self.statusBar().geometry().top() + GAP
        middle = QRegion(0, top, self.width(), bottom - top)
        for place in places:
            middle -= QRegion(place)
        return middle


def _rectangles(words: str) -> list[QRect]:
    """``x,y,width,height`` and so on, as ``_remember`` writes them; none where anything is spoilt."""
    if re.fullmatch(r"(-?\d{1,5}(,-?\d{1,5}){3}\s*)*", words) is None:
        return []
    return [QRect(*map(int, word.split(","))) for word in words.split()]
