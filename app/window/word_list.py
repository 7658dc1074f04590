"""A list whose rows are wrapped words."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetrics, QResizeEvent
from PySide6.QtWidgets import QListView


class WordList(QListView):
    """Rows are as high as their words need at this width."""

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.oldSize().width() != event.size().width():
            self.scheduleDelayedItemsLayout()


def wrapped_height(text: str, font: QFont, width: int) -> int:
    """px that ``text`` takes when wrapped."""
    return QFontMetrics(font).boundingRect(0, 0, width, 10_000, Qt.TextFlag.TextWordWrap, text).height()
