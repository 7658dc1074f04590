"""A field for a length, typed as quilters write it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from geometry import LengthError
from geometry.units import MM_PER_INCH, LengthStyle, Unit, format_length, parse_coordinate, parse_length


class LengthField(QLineEdit):
    """Shows a length in the plan's style and reads what is typed in its place.

    Enter, or leaving the field, tells the length; what cannot be read stays in the field and is told as
    ``wrong``. Esc brings the length back. Up and Down step it. A field that was not changed tells nothing,
    so that rounding for the eye never changes a plan.
    """

    told = Signal(float)
    """mm."""
    wrong = Signal(str)
    """The sentence that says what cannot be read; empty when all is well again."""

    def __init__(self, parent: QWidget | None = None, *, signed: bool = False, none: str = "") -> None:
        """``signed``: a coordinate, that may be negative. ``none``: words for 0, where 0 is no length."""
        super().__init__(parent)
        self._read: Callable[[str, Unit | None], float] = parse_coordinate if signed else parse_length
        self._signed = signed
        self._none = none
        self._mm = 0.0
        self._style = LengthStyle.EIGHTHS
        self._shown = ""
        self.setPlaceholderText(none)
        self.editingFinished.connect(self._finish)

    def show_length(self, mm: float, style: LengthStyle) -> None:
        """Show ``mm``; what is being typed is left alone until it is told or given up."""
        typing = self.isModified() and self.hasFocus()
        self._mm, self._style = mm, style
        self._shown = "" if self._none and mm == 0 else format_length(mm, style)
        if not typing:
            self._restore()

    def refuse(self, sentence: str) -> None:
        """What was told cannot be: keep it in the field and say why."""
        self._mark(wrong=bool(sentence))
        self.wrong.emit(sentence)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = Qt.Key(event.key())
        if key is Qt.Key.Key_Escape and (self.isModified() or self.property("wrong")):
            self._restore()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self._step(1 if key is Qt.Key.Key_Up else -1)
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason):
            self.selectAll()

    def _finish(self) -> None:
        if not self.isModified():
            return
        text = self.text().strip()
        if text == self._shown:
            self._restore()
            return
        if not text and self._none:
            self._tell(0.0)
            return
        try:
            mm = self._read(text, self._style.unit)
        except LengthError as error:
            self.refuse(str(error))
            return
        self._tell(mm)

    def _step(self, by: int) -> None:
        step = 1.0 if self._style in (LengthStyle.CM, LengthStyle.MM) else MM_PER_INCH / 8
        mm = self._mm + by * step
        self._tell(mm if self._signed else max(mm, 0.0))

    def _tell(self, mm: float) -> None:
        self.setModified(False)
        self._mark(wrong=False)
        self.wrong.emit("")
        self.told.emit(mm)
        if not self.property("wrong"):
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
