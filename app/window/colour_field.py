"""A field for a colour: some by name, any other from the system's dialog."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QIcon, QKeyEvent, QPainter, QPen, QPixmap
from PySide6.QtWidgets import QColorDialog, QMenu, QSizePolicy, QToolButton, QWidget

from app.sketch.palette import Role
from app.sketch.quilted import COLOURS, colour_words
from app.sketch.translate import tr
from app.window.look import Look

_SWATCH: Final = QSize(20, 20)


class ColourField(QToolButton):
    """Shows a colour with its name; pressed, offers named ones and a dialog. Up and Down step the names."""

    told = Signal(str)
    """``#RRGGBB``."""
    settled = Signal()

    def __init__(self, name: str, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._name = name
        self._look = look
        self._shown = ""
        self.setProperty("part", "choice")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.setIconSize(_SWATCH)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        menu = QMenu(self)
        menu.setAccessibleName(name)
        menu.aboutToShow.connect(self._fill)
        self.setMenu(menu)
        look.changed.connect(self._draw)

    def show_colour(self, colour: str, usual: str) -> None:
        """Show ``colour``, or where none was chosen ``usual``, and say so."""
        self._shown = colour or usual
        words = colour_words(self._shown)
        self.setText(f"{words if colour else tr('{colour}, as usual', colour=words)}  ▾")
        self.setAccessibleName(tr("{name}: {colour}", name=self._name, colour=words))
        self._draw()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
        if step is None or event.modifiers() & Qt.KeyboardModifier.AltModifier:
            super().keyPressEvent(event)
            return
        names = list(COLOURS)
        at = names.index(self._shown) + step if self._shown in COLOURS else 0
        self._tell(names[at % len(names)])

    def _fill(self) -> None:
        menu = self.menu()
        menu.clear()
        for colour in COLOURS:
            action = menu.addAction(swatch(colour, self._look), colour_words(colour))
            action.setCheckable(True)
            action.setChecked(colour == self._shown)
            action.setWhatsThis(tr("{name}: {colour}", name=self._name, colour=colour_words(colour)))
            action.triggered.connect(lambda _=False, colour=colour: self._tell(colour))
        menu.addSeparator()
        other = menu.addAction(tr("Another &colour…"))
        other.setWhatsThis(tr("Any colour there is, by sight or by its figures."))
        other.triggered.connect(self._ask)

    def _ask(self) -> None:
        colour = QColorDialog.getColor(
            QColor(self._shown),
            self.window(),
            self._name,
            QColorDialog.ColorDialogOption.DontUseNativeDialog,
        )
        if colour.isValid():
            self._tell(colour.name().upper())

    def _tell(self, colour: str) -> None:
        self.told.emit(colour)
        self.settled.emit()

    def _draw(self) -> None:
        if self._shown:
            self.setIcon(swatch(self._shown, self._look))


def swatch(colour: str, look: Look) -> QIcon:
    """A square of ``colour`` with an edge, so that it is seen on any ground."""
    made = QIcon()
    for ratio in (1, 2):
        pixmap = QPixmap(_SWATCH * ratio)
        pixmap.setDevicePixelRatio(ratio)
        pixmap.fill(Qt.GlobalColor.transparent)
        with QPainter(pixmap) as painter:
            painter.setPen(QPen(look.colour(Role.MARGIN_EDGE), 1.0))
            painter.setBrush(QColor(colour))
            painter.drawRect(QRectF(1.5, 1.5, _SWATCH.width() - 3, _SWATCH.height() - 3))
        made.addPixmap(pixmap)
    return made
