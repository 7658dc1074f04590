"""A field for anything that is typed as quilters write it: a length, a place, stitches to the inch."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from app.sketch.quantity import LENGTH, Quantity
from geometry import WedgewrightError
from geometry.units import LengthStyle


class TypedField(QLineEdit):
    """Shows a value in the user's units and reads what is typed in its place.

    Enter, or leaving the field, tells the value; what cannot be read stays in the field and is told as
    ``wrong``. Esc brings the value back. Up and Down step it. A field that was not changed tells nothing,
    so that rounding for the eye never changes a plan.
    """

    told = Signal(object)
    """The value, as its quantity has it."""
    settled = Signal()
    """What was told last is done with: it was typed, or the field was left."""
    wrong = Signal(str)
    """The sentence that says what cannot be read; empty when all is well again."""

    def __init__(
        self,
        quantity: Quantity = LENGTH,
        parent: QWidget | None = None,
        *,
        none: str = "",
        nothing: Any = 0.0,
    ) -> None:
        """``none``: words for ``nothing``, where that is the lack of a value and an empty field."""
        super().__init__(parent)
        self._quantity = quantity
        self._none = none
        self._nothing = nothing
        self._value: Any = nothing
        self._style = LengthStyle.EIGHTHS
        self._shown = ""
        self.setPlaceholderText(none)
        self.editingFinished.connect(self._finish)

    def words(self, value: Any, style: LengthStyle) -> str:
        """How the field shows ``value``, for the eye and in a sentence."""
        return self._none if self._is_none(value) else self._quantity.words(value, style)

    def show_value(self, value: Any, style: LengthStyle) -> None:
        """Show ``value``; what is being typed is left alone until it is told or given up."""
        typing = self.isModified() and self.hasFocus()
        self._value, self._style = value, style
        self._shown = "" if self._is_none(value) else self._quantity.words(value, style)
        if not typing:
            self._restore()

    def refuse(self, sentence: str) -> None:
        """What was told cannot be: keep it in the field and say why."""
        self._mark(wrong=bool(sentence))
        self.wrong.emit(sentence)

    def give_up(self) -> None:
        """Forget what is being typed, as Esc does."""
        self._restore()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = Qt.Key(event.key())
        if key is Qt.Key.Key_Escape and (self.isModified() or self.property("wrong")):
            self._restore()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down) and self._quantity.step is not None:
            self._tell(self._quantity.step(self._value, 1 if key is Qt.Key.Key_Up else -1, self._style))
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason):
            self.selectAll()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.settled.emit()

    def _is_none(self, value: Any) -> bool:
        return bool(self._none) and value == self._nothing

    def _finish(self) -> None:
        if not self.isModified():
            return
        text = self.text().strip()
        if text == self._shown:
            self._restore()
            return
        if self._none and text in ("", self._none):
            value = self._nothing
        else:
            try:
                value = self._quantity.read(text, self._style)
            except WedgewrightError as error:
                self.refuse(str(error))
                return
        self.settled.emit()  # what is typed is a step of its own, also after steps by the arrows
        self._tell(value)
        self.settled.emit()

    def _tell(self, value: Any) -> None:
        self.setModified(False)
        self._mark(wrong=False)
        self.wrong.emit("")
        self.told.emit(value)
        if self.property("wrong"):
            self.setModified(True)  # so that Esc brings the value back, and Enter says again what is wrong
        else:
            self._restore()

    def _restore(self) -> None:
        self.setText(self._shown)
        self.setModified(False)
        if self.property("wrong"):
            self._mark(wrong=False)
            self.wrong.emit("")

    def _mark(self, *, wrong: bool) -> None:
        if bool(self.property("wrong")) != wrong:
            self.setProperty("wrong", wrong)
            self.style().unpolish(self)
            self.style().polish(self)
