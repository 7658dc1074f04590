"""All tries of a patch side by side, each with its figures; the best of a row is set off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import Qt, Signal
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

_PICTURES: Final = (168, 260)
"""px, the least and the greatest width of a picture."""
_WITH_WORDS: Final = 220
"""px: in a smaller picture numbers of wedges and words of findings would hide it; signs say enough."""
_WIDEST: Final = 1216
"""px: more tries than that holds are scrolled to."""
_BETWEEN: Final = 24
_AROUND: Final = 64
"""px beside the columns, for margins and a scroll bar."""


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
        grid.setHorizontalSpacing(_BETWEEN)
        grid.setVerticalSpacing(4)
        self.buttons: list[QPushButton] = []
        bold = QFont(self.font())
        bold.setBold(True)
        figures = [try_figures(fit, style) for _, fit in shown]
        metrics = self.fontMetrics()
        room = _WIDEST - _AROUND - max(metrics.horizontalAdvance(what) for what, _ in figures[0])
        side = min(max(room // len(shown) - _BETWEEN, _PICTURES[0]), _PICTURES[1])
        for row, (what, _) in enumerate(figures[0], start=3):
            grid.addWidget(QLabel(what, inside), row, 0)
        for column, ((name, fit), values) in enumerate(zip(shown, figures, strict=True), start=1):
            title = QLabel(name, inside)
            title.setFont(bold)
            title.setTextFormat(Qt.TextFormat.PlainText)
            title.setWordWrap(True)
            grid.addWidget(title, 0, column)
            picture = _Picture(fit, style, look, side, inside)
            picture.setAccessibleName(tr("{name}: {verdict}", name=name, verdict=verdict(fit)))
            grid.addWidget(picture, 1, column)
            sentence = QLabel(verdict(fit), inside)
            sentence.setWordWrap(True)
            sentence.setAlignment(Qt.AlignmentFlag.AlignTop)
            grid.addWidget(sentence, 2, column)
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
        self.resize(min(needed.width() + _AROUND, _WIDEST), needed.height() + 96)

    def _want(self, number: int) -> None:
        self.wanted.emit(number)
        self.accept()


class _Picture(QWidget):
    """One fit, with its findings, in the look of the canvas."""

    def __init__(self, fit: Fit, style: LengthStyle, look: Look, side: int, parent: QWidget) -> None:
        super().__init__(parent)
        roomy = side >= _WITH_WORDS
        show = Show(marks=False, mark_names=False, numbers=roomy, words=None if roomy else 0)
        self._drawing = build(fit, style=style, show=show)
        self._look = look
        self.setFixedSize(side, side)

    def paintEvent(self, event: QPaintEvent) -> None:
        view = View(float(self.width()), float(self.height())).fitted(self._drawing.bounds, 12)
        look = PaintLook(palette=self._look.palette, point=self.logicalDpiY() / 72, handle=12)
        with QPainter(self) as painter:
            painter.fillRect(self.rect(), self._look.colour(Role.FRAME))
            labels = place_labels(self._drawing, view.scale, look, within=view.visible()).labels
            paint(self._drawing, painter, view, look, labels=labels)
