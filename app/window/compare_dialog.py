"""All tries of a patch side by side, each with its figures; the best of a row is set off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QFont, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.exporting.painter import Look as PaintLook
from app.exporting.painter import paint, place_labels
from app.sketch.display_list import Show, build
from app.sketch.palette import Role
from app.sketch.translate import tr
from app.sketch.try_words import try_figures
from app.sketch.view import View
from app.sketch.wording import verdict
from app.window.look import Look
from geometry import Fit
from geometry.units import LengthStyle

_PICTURE: Final = QSize(260, 260)
_WIDEST: Final = 1160
"""px: more tries than that holds are scrolled to."""
_SHOW: Final = Show(marks=False, mark_names=False)


class CompareDialog(QDialog):
    """Tells which try is wanted back; knows nothing of plans."""

    wanted = Signal(int)
    """Number of the try, from 0, that is to be brought back."""

    def __init__(
        self,
        tries: Sequence[tuple[str, Fit]],
        now: Fit | None,
        style: LengthStyle,
        look: Look,
        parent: QWidget,
    ) -> None:
        """``tries``: name and fit of each. ``now``: what is on the canvas, where that is none of them."""
        super().__init__(parent)
        shown = list(tries) if now is None else [(tr("On the canvas"), now), *tries]
        self.setWindowTitle(tr("Compare tries"))
        inside = QWidget(self)
        grid = QGridLayout(inside)
        grid.setHorizontalSpacing(24)
        grid.setVerticalSpacing(4)
        self.buttons: list[QPushButton] = []
        bold = QFont(self.font())
        bold.setBold(True)
        figures = [try_figures(fit, style) for _, fit in shown]
        for row, (what, _) in enumerate(figures[0], start=3):
            grid.addWidget(QLabel(what, inside), row, 0)
        for column, ((name, fit), values) in enumerate(zip(shown, figures, strict=True), start=1):
            title = QLabel(name, inside)
            title.setFont(bold)
            title.setTextFormat(Qt.TextFormat.PlainText)
            grid.addWidget(title, 0, column)
            picture = _Picture(fit, style, look, inside)
            picture.setAccessibleName(tr("{name}: {verdict}", name=name, verdict=verdict(fit)))
            grid.addWidget(picture, 1, column)
            grid.addWidget(QLabel(verdict(fit), inside), 2, column)
            for row, (what, value) in enumerate(values, start=3):
                said = QLabel(value, inside)
                said.setAccessibleName(tr("{name}, {what}: {value}", name=name, what=what, value=value))
                grid.addWidget(said, row, column)
            number = column - 1 - (len(shown) - len(tries))
            if number < 0:
                continue
            button = QPushButton(tr("Bring back"), inside)
            button.setAccessibleName(tr("Bring back {name}", name=name))
            button.setToolTip(button.accessibleName())
            button.clicked.connect(lambda _=False, number=number: self._want(number))
            grid.addWidget(button, 3 + len(values), column)
            self.buttons.append(button)
        grid.setRowStretch(4 + len(figures[0]), 1)
        grid.setColumnStretch(1 + len(shown), 1)
        area = QScrollArea(self)
        area.setWidget(inside)
        area.setWidgetResizable(True)
        area.setAccessibleName(tr("Tries side by side"))
        area.setWhatsThis(tr("The arrow keys move it where the tries have no room beside each other."))
        closing = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        closing.rejected.connect(self.reject)
        close = closing.button(QDialogButtonBox.StandardButton.Close)
        close.setText(tr("&Close"))
        close.setAccessibleName(tr("Close"))
        close.setToolTip(tr("Leaves the anchor where it is; so does Esc"))
        layout = QVBoxLayout(self)
        layout.addWidget(area, 1)
        layout.addWidget(closing)
        needed = inside.sizeHint()
        self.resize(min(needed.width() + 64, _WIDEST), needed.height() + 96)

    def _want(self, number: int) -> None:
        self.wanted.emit(number)
        self.accept()


class _Picture(QWidget):
    """One fit, with its findings, in the look of the canvas."""

    def __init__(self, fit: Fit, style: LengthStyle, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self._drawing = build(fit, style=style, show=_SHOW)
        self._look = look
        self.setFixedSize(_PICTURE)

    def paintEvent(self, event: QPaintEvent) -> None:
        view = View(float(self.width()), float(self.height())).fitted(self._drawing.bounds, 12)
        look = PaintLook(palette=self._look.palette, point=self.logicalDpiY() / 72, handle=12)
        with QPainter(self) as painter:
            painter.fillRect(self.rect(), self._look.colour(Role.FRAME))
            labels = place_labels(self._drawing, view.scale, look, within=view.visible()).labels
            paint(self._drawing, painter, view, look, labels=labels)
