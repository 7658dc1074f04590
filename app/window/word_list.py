"""A list whose rows are wrapped words, and what is needed to break words into lines."""

from __future__ import annotations

import re

from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetrics, QFontMetricsF, QResizeEvent
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


def unbroken(text: str) -> str:
    """``text`` in which no line ends within a length: ``1 1/4 in`` stays in one piece."""
    return re.sub(r"(?<=\d) (?=\d|in\b|cm\b|mm\b|%)|(?<=\b[xy]) (?=\d)", "\u00a0", text)


def two_lines(text: str, metrics: QFontMetricsF, width: float) -> list[str]:
    """``text`` in one line, or broken between two words, each cut short where it is still too long."""
    if metrics.horizontalAdvance(text) <= width:
        return [text]
    words = unbroken(text).split(" ")
    count = len(words)
    while count > 1 and metrics.horizontalAdvance(" ".join(words[:count])) > width:
        count -= 1
    lines = [" ".join(words[:count]), " ".join(words[count:])]
    return [metrics.elidedText(line, Qt.TextElideMode.ElideRight, width) for line in lines if line]
