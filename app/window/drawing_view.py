"""Shows one display list, as large as there is room."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.exporting.painter import Look as PaintLook
from app.exporting.painter import paint, place_labels
from app.sketch.display_list import DisplayList
from app.sketch.palette import Role
from app.sketch.view import View
from app.window.look import Look

_BORDER: Final = 40.0
"""px around the drawing, for words beside it."""


class DrawingView(QWidget):
    """Only looks; what it shows has words for those who do not see it."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self.drawing: DisplayList | None = None
        """What is shown."""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(320, 240))
        look.changed.connect(self.update)

    def show_drawing(self, drawing: DisplayList | None, name: str, words: str) -> None:
        """``name``: what the picture is; ``words``: what is to be seen on it."""
        self.drawing = drawing
        self.setAccessibleName(name)
        self.setAccessibleDescription(words)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        with QPainter(self) as painter:
            painter.fillRect(self.rect(), self._look.colour(Role.CLOTH))
            if self.drawing is None:
                return
            view = View(float(self.width()), float(self.height())).fitted(self.drawing.bounds, _BORDER)
            look = PaintLook(palette=self._look.palette, point=self.logicalDpiY() / 72)
            labels = place_labels(self.drawing, view.scale, look, within=view.visible()).labels
            paint(self.drawing, painter, view, look, labels=labels)
