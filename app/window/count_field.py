"""A field for a count, with a button on either side that a hand can hit."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QValidator, QWheelEvent
from PySide6.QtWidgets import QAbstractSpinBox, QFrame, QHBoxLayout, QSpinBox, QToolButton, QWidget

from app.sketch.translate import tr
from app.window.icon_button import IconButton
from app.window.look import LEAST_TARGET, Look
from geometry.units import LengthStyle


class CountField(QFrame):
    """A whole number from ``least`` on. Up, Down and, where the keys go there, the wheel step it too."""

    told = Signal(int)
    settled = Signal()
    """What was told last is done with: the field was left, or Enter pressed."""
    wrong = Signal(str)
    """The sentence that says what cannot be read, and the old count stands; empty when all is well again."""

    def __init__(
        self,
        name: str,
        look: Look,
        parent: QWidget | None = None,
        *,
        least: int = 1,
        most: int = 999,
        none: str = "",
    ) -> None:
        """``none``: words for the least count, where that is the lack of one."""
        super().__init__(parent)
        self.setProperty("part", "count")
        self._none = none
        self.box = _Box(self)
        self.box.installEventFilter(self)
        self.box.setMinimumHeight(LEAST_TARGET)
        self.box.setButtonSymbols(QAbstractSpinBox.ButtonSymbols.NoButtons)
        self.box.setFrame(False)
        self.box.setRange(least, most)
        self.box.setSpecialValueText(none)
        self.box.setAccessibleName(name)
        self.box.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self.box.setKeyboardTracking(False)
        self.box.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.box.valueChanged.connect(self._tell)
        self.box.wrong.connect(self.wrong)
        self.box.editingFinished.connect(self.settled)
        fewer = self._button("less", tr("{name}: one less", name=name), -1, look)
        more = self._button("more", tr("{name}: one more", name=name), 1, look)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(2, 1, 2, 1)
        layout.setSpacing(2)
        layout.addWidget(fewer)
        layout.addWidget(self.box, 1)
        layout.addWidget(more)
        self.setAccessibleName(name)
        self.setFocusProxy(self.box)
        self.setFocusPolicy(
            Qt.FocusPolicy.StrongFocus
        )  # else its place among what Tab comes to cannot be set

    def words(self, count: int, style: LengthStyle) -> str:
        """How the field shows ``count``."""
        return self._none if self._none and count == self.box.minimum() else str(count)

    def show_value(self, count: int, style: LengthStyle) -> None:
        """As ``show_count``: a count is the same in all units."""
        self.show_count(count)

    def show_count(self, count: int) -> None:
        """Show ``count`` without telling it."""
        if count != self.box.value():
            self.box.blockSignals(True)
            self.box.setMaximum(max(self.box.maximum(), count))
            self.box.setValue(count)
            self.box.blockSignals(False)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """The frame is around the whole, and so is the ring that shows where the keys go."""
        if event.type() in (QEvent.Type.FocusIn, QEvent.Type.FocusOut):
            self.setProperty("focused", event.type() == QEvent.Type.FocusIn)
            self.style().unpolish(self)
            self.style().polish(self)
        return super().eventFilter(watched, event)

    def _tell(self, count: int) -> None:
        self.wrong.emit("")
        self.told.emit(count)

    def _button(self, sign: str, name: str, by: int, look: Look) -> QToolButton:
        button = IconButton(sign, name, look, self)
        button.setAutoRepeat(True)
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # Up and Down do the same from the number itself
        button.clicked.connect(lambda: self.box.stepBy(by))
        return button


class _Box(QSpinBox):
    """Lets anything be typed, so that it can say what is wrong with it instead of swallowing keys."""

    wrong = Signal(str)

    def validate(self, text: str, place: int) -> tuple[QValidator.State, str, int]:
        """What is no count in range is unfinished, never refused at the key."""
        state = super().validate(text, place)[0]
        if state is QValidator.State.Invalid:
            state = QValidator.State.Intermediate
        return (state, text, place)

    def fixup(self, text: str) -> str:
        """Called when the field is left with what is no count; the old one comes back."""
        self.wrong.emit(
            tr(
                "“{typed}” is no count here: give a whole number from {least} to {most}",
                typed=text.strip(),
                least=self.minimum(),
                most=self.maximum(),
            )
        )
        return text

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Who scrolls past the field must not change it."""
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()
