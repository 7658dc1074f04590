"""How fine a picture is to be: dots per inch, chosen or typed."""

from __future__ import annotations

from typing import Final

from PySide6.QtWidgets import QDialog, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from app.exporting.options import DOTS_PER_INCH, check_dots_per_inch
from app.sketch.quantity import counted
from app.sketch.translate import tr
from app.window.print_choices import Choice
from app.window.typed_field import TypedField
from geometry import SettingsError, WedgewrightError
from geometry.units import LengthStyle

_OTHER: Final = 0
_USES: Final = {
    96: "96, for the screen",
    150: "150, for a message",
    300: "300, for paper",
    600: "600, for fine paper",
    _OTHER: "Another number",
}
"""Still to be translated."""


class ResolutionDialog(QDialog):
    """``dots_per_inch`` is what was chosen when it is accepted."""

    def __init__(self, usual: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Save picture"))
        least, most = DOTS_PER_INCH
        usual = min(max(usual, least), most)
        self.dots_per_inch = usual
        self.choice = Choice(tr("&Dots per inch"), {dots: tr(words) for dots, words in _USES.items()})
        quantity = counted("", step=50, example="200")
        self.field = TypedField(quantity, self)
        self.field.setAccessibleName(tr("Dots per inch"))
        self.field.setToolTip(tr("A whole number from {least} to {most}.", least=least, most=most))
        self.field.setWhatsThis(self.field.toolTip())
        self.field.show_value(float(usual), LengthStyle.EIGHTHS)
        self._wrong = QLabel(self)
        self._wrong.setProperty("part", "problem")
        self._wrong.setWordWrap(True)
        self._wrong.hide()
        cancel = QPushButton(tr("Cancel"), self)
        cancel.clicked.connect(self.reject)
        cancel.setAutoDefault(False)
        self.save = QPushButton(tr("&Save…"), self)
        self.save.setDefault(True)
        self.save.clicked.connect(self.accept)
        for button in (cancel, self.save):
            button.setAccessibleName(button.text().replace("&", "").replace("…", ""))
            button.setToolTip(button.accessibleName())
        buttons = QHBoxLayout()
        buttons.addStretch(1)
        buttons.addWidget(cancel)
        buttons.addWidget(self.save)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 24, 24, 24)
        layout.setSpacing(8)
        layout.addWidget(self.choice)
        layout.addWidget(self.field)
        layout.addWidget(self._wrong)
        layout.addSpacing(8)
        layout.addLayout(buttons)
        self.setMinimumWidth(320)
        self.field.told.connect(self._take)
        self.field.wrong.connect(self._show_wrong)
        self.choice.chosen.connect(self._follow)
        self.choice.choose(usual if usual in _USES else _OTHER)
        self._follow(self.choice.value)
        self.save.setFocus()

    def accept(self) -> None:
        """What is still being typed counts; what cannot be is said."""
        self.field.editingFinished.emit()
        if self.choice.value != _OTHER or not self._wrong.text():
            super().accept()

    def _follow(self, dots: int) -> None:
        self.field.setVisible(dots == _OTHER)
        if dots == _OTHER:
            self.field.setFocus()
        else:
            self._show_wrong("")
            self.dots_per_inch = dots
            self.field.show_value(float(dots), LengthStyle.EIGHTHS)

    def _take(self, number: float) -> None:
        try:
            if number != round(number):
                what = tr("{number:g} dots per inch are no whole number", number=number)
                raise SettingsError(what, do=tr("give one, like 200"))
            check_dots_per_inch(round(number))
        except WedgewrightError as error:
            self.field.refuse(str(error))
            return
        self.dots_per_inch = round(number)

    def _show_wrong(self, sentence: str) -> None:
        self._wrong.setText(f"▲ {sentence}" if sentence else "")
        self._wrong.setVisible(bool(sentence))
