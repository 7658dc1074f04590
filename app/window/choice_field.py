"""Fields for one of two ways, and for yes or no."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QButtonGroup, QCheckBox, QRadioButton, QVBoxLayout, QWidget

from app.sketch.translate import tr
from geometry.units import LengthStyle


def tab_to_the_checked(button: QRadioButton) -> None:
    """Of a group Tab comes to the button that is checked; Qt sees to that only once it was there."""

    def follow(checked: bool) -> None:
        button.setFocusPolicy(Qt.FocusPolicy.StrongFocus if checked else Qt.FocusPolicy.ClickFocus)

    button.toggled.connect(follow)
    follow(button.isChecked())


class WaysField(QWidget):
    """Two ways below one another, the usual one first; both can be read before one is chosen."""

    told = Signal(bool)
    settled = Signal()

    def __init__(self, name: str, yes: str, no: str, *, usual: bool) -> None:
        super().__init__()
        self._words = {True: yes, False: no}
        self._group = QButtonGroup(self)
        self._buttons: dict[bool, QRadioButton] = {}
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        for value in (usual, not usual):
            button = QRadioButton(self._words[value], self)
            button.setAccessibleName(tr("{name}: {way}", name=name, way=self._words[value]))
            self._group.addButton(button)
            tab_to_the_checked(button)
            self._buttons[value] = button
            layout.addWidget(button)
            button.clicked.connect(lambda _=False, value=value: self._tell(value))
        self._buttons[usual].setChecked(True)
        self.setFocusProxy(self._buttons[usual])
        self.setFocusPolicy(
            Qt.FocusPolicy.StrongFocus
        )  # else its place among what Tab comes to cannot be set

    def words(self, value: bool, style: LengthStyle) -> str:
        """What the way is called."""
        return self._words[value]

    def show_value(self, value: bool, style: LengthStyle) -> None:
        """Show which way is taken, without telling it."""
        self._buttons[value].setChecked(True)
        self.setFocusProxy(self._buttons[value])

    def setToolTip(self, text: str) -> None:
        """On both ways too."""
        super().setToolTip(text)
        for button in self._buttons.values():
            button.setToolTip(text)
            button.setWhatsThis(text)
            button.setAccessibleDescription(text)

    def _tell(self, value: bool) -> None:
        self.told.emit(value)
        self.settled.emit()


class YesField(QCheckBox):
    """Yes or no; its own words are the name."""

    told = Signal(bool)
    settled = Signal()

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(name, parent)
        self.clicked.connect(self._tell)

    def words(self, value: bool, style: LengthStyle) -> str:
        """Yes or no."""
        return tr("yes") if value else tr("no")

    def show_value(self, value: bool, style: LengthStyle) -> None:
        """Show whether it is done, without telling it."""
        self.setChecked(value)

    def _tell(self, value: bool) -> None:
        self.told.emit(value)
        self.settled.emit()
