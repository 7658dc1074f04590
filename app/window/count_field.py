"""A field for a count, with a button on either side that a hand can hit."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtWidgets import QAbstractSpinBox, QFrame, QHBoxLayout, QSpinBox, QToolButton, QWidget

from app.sketch.translate import tr
from app.window.icon_button import IconButton
from app.window.look import LEAST_TARGET, Look


class CountField(QFrame):
    """A whole number from ``least`` on. Up, Down and the wheel step it too."""

    told = Signal(int)

    def __init__(
        self, name: str, look: Look, parent: QWidget | None = None, *, least: int = 1, most: int = 999
    ) -> None:
        super().__init__(parent)
        self.setProperty("part", "count")
        self.box = QSpinBox(self)
        self.box.installEventFilter(self)
        self.box.setMinimumHeight(LEAST_TARGET)
        self.box.setButtonSymbols(QAbstractSpinBox.ButtonSymbols.NoButtons)
        self.box.setFrame(False)
        self.box.setRange(least, most)
        self.box.setAccessibleName(name)
        self.box.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self.box.setKeyboardTracking(False)
        self.box.valueChanged.connect(self.told)
        fewer = self._button("less", tr("{name}: one less", name=name), -1, look)
        more = self._button("more", tr("{name}: one more", name=name), 1, look)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(2, 1, 2, 1)
        layout.setSpacing(2)
        layout.addWidget(fewer)
        layout.addWidget(self.box, 1)
        layout.addWidget(more)
        self.setFocusProxy(self.box)

    def show_count(self, count: int) -> None:
        """Show ``count`` without telling it."""
        if count != self.box.value():
            self.box.blockSignals(True)
            self.box.setValue(count)
            self.box.blockSignals(False)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """The frame is around the whole, and so is the ring that shows where the keys go."""
        if event.type() in (QEvent.Type.FocusIn, QEvent.Type.FocusOut):
            self.setProperty("focused", event.type() == QEvent.Type.FocusIn)
            self.style().unpolish(self)
            self.style().polish(self)
        return super().eventFilter(watched, event)

    def _button(self, sign: str, name: str, by: int, look: Look) -> QToolButton:
        button = IconButton(sign, name, look, self)
        button.setAutoRepeat(True)
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # Up and Down do the same from the number itself
        button.clicked.connect(lambda: self.box.stepBy(by))
        return button
