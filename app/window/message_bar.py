"""A quiet bar above the canvas for one sentence at a time."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QWidget

from app.sketch.translate import tr
from app.window.icon_button import IconButton
from app.window.look import Look


class MessageBar(QFrame):
    """Hidden until there is something to say; stays until it is closed or the next thing is done."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("part", "message")
        self.setAccessibleName(tr("Message"))
        self._label = QLabel(self)
        self._label.setWordWrap(True)
        self._label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._label.setTextFormat(Qt.TextFormat.PlainText)
        close = IconButton("close", tr("Close the message"), look, self)
        close.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        close.clicked.connect(self.clear)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 4, 8, 4)
        layout.addWidget(self._label, 1)
        layout.addWidget(close)
        self.hide()

    @property
    def text(self) -> str:
        """The sentence that is shown, or nothing."""
        return self._label.text() if not self.isHidden() else ""

    def problem(self, sentence: str) -> None:
        """Something could not be done."""
        self._show(sentence, "problem")

    def note(self, sentence: str) -> None:
        """Something worth knowing."""
        self._show(sentence, "note")

    def clear(self) -> None:
        """Say nothing any more."""
        self.hide()
        self._label.clear()

    def _show(self, sentence: str, level: str) -> None:
        self._label.setText(sentence)
        self._label.setAccessibleName(sentence)
        self.setProperty("level", level)
        self.style().unpolish(self)
        self.style().polish(self)
        self.show()
