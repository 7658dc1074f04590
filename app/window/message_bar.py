"""A quiet bar at the top of the canvas for one sentence at a time."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QWidget

from app.sketch.translate import tr
from app.window.announce import announce
from app.window.icon_button import IconButton
from app.window.look import Look


class MessageBar(QFrame):
    """Hidden until there is something to say; stays until it is closed or the next thing is done.

    It lies over the top of ``above`` and takes no room from it, so that the picture does not jump.
    """

    def __init__(self, look: Look, above: QWidget) -> None:
        super().__init__(above)
        self._above = above
        above.installEventFilter(self)
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
        layout.setSpacing(8)
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

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """As wide as what it lies on."""
        if event.type() is QEvent.Type.Resize:
            self._place()
        return super().eventFilter(watched, event)

    def _place(self) -> None:
        width = self._above.width()
        self.setGeometry(0, 0, width, self.heightForWidth(width))

    def _show(self, sentence: str, level: str) -> None:
        if (sentence, level) == (self.text, self.property("level")):
            return  # an error in painting must not be answered with painting
        self._label.setText(sentence)
        self._label.setAccessibleName(sentence)
        self.setProperty("level", level)
        self.style().unpolish(self)
        self.style().polish(self)
        self._place()
        self.show()
        self.raise_()
        announce(self, sentence)
