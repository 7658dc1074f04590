"""A small button with a drawn sign instead of words."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QToolButton, QWidget

from app.window.glyphs import ICON_SIZE, icon
from app.window.look import LEAST_TARGET, Look


class IconButton(QToolButton):
    """A button with a sign of our own, named for those who do not see it."""

    def __init__(self, name: str, words: str, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self._name = name
        self._look = look
        self.setIconSize(QSize(ICON_SIZE - 4, ICON_SIZE - 4))
        self.setAccessibleName(words)
        self.setToolTip(words)
        self.setWhatsThis(words)
        self.setProperty("part", "sign")
        self.setFixedSize(LEAST_TARGET, LEAST_TARGET)
        look.changed.connect(self._draw)
        self._draw()

    def _draw(self) -> None:
        self.setIcon(icon(self._name, self._look.palette, alone=True))
