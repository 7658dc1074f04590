"""A button with words on it, and a sentence that says what it does."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QPushButton, QWidget


class WordButton(QPushButton):
    """Named for a screen reader; ``about`` shows under the pointer and by "what's this"."""

    def __init__(self, words: str, about: str, do: Callable[[], object], parent: QWidget) -> None:
        super().__init__(words, parent)
        self.setToolTip(about)
        self.setWhatsThis(about)
        self.setAccessibleName(words.replace("&", ""))
        self.clicked.connect(lambda _=False: do())
