"""Small windows that stay beside the work: by how much a patch is rotated, how long one of its sides is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.sketch.quantity import LENGTH, Quantity, counted
from app.sketch.transform import seam_sides
from app.sketch.translate import tr
from app.window.session import Session
from geometry import WedgewrightError
from geometry.marks import Side
from geometry.tolerances import SAME_POINT
from geometry.types import Point
from geometry.units import format_length

_DEGREES = counted("°", step=15.0, example="45 or 22.5")


class _FigureDialog(QDialog):
    """A field for one figure, and what is wrong with it. The bench stays in use beside it."""

    def __init__(self, session: Session, title: str, parent: QWidget) -> None:
        super().__init__(parent)
        self._session = session
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(title)
        self.rows = QVBoxLayout(self)
        self.rows.setContentsMargins(24, 24, 24, 24)
        self.rows.setSpacing(8)
        self.field = QLineEdit(self)
        self.wrong = QLabel(self)
        self.wrong.setWordWrap(True)
        self.wrong.setProperty("part", "problem")
        self.wrong.hide()
        session.chosen_changed.connect(self._followed)

    def ask(self, words: str) -> None:
        """The field, under ``words``."""
        label = QLabel(words, self)
        label.setBuddy(self.field)
        self.field.setAccessibleName(words.replace("&", ""))
        self.rows.addWidget(label)
        self.rows.addWidget(self.field)
        self.rows.addWidget(self.wrong)

    def offer(self, *buttons: tuple[str, Callable[[], object]]) -> None:
        """Buttons, the first of which Enter presses."""
        row = QHBoxLayout()
        row.addStretch(1)
        close = QPushButton(tr("Close"), self)
        close.setAutoDefault(False)
        close.clicked.connect(self.close)
        row.addWidget(close)
        for number, (words, do) in enumerate(buttons):
            button = QPushButton(words, self)
            button.setAutoDefault(number == 0)
            button.setDefault(number == 0)
            button.clicked.connect(lambda _=False, do=do: do())
            row.addWidget(button)
        self.rows.addSpacing(8)
        self.rows.addLayout(row)
        self.setMinimumWidth(360)

    def figure(self, quantity: Quantity) -> Any:
        """What is typed; None where it is no figure, which is said."""
        try:
            value = quantity.read(self.field.text(), self._session.style)
        except WedgewrightError as error:
            self.say(str(error))
            return None
        self.say("")
        return value

    def say(self, sentence: str) -> None:
        """What is wrong with the figure; empty when nothing is."""
        self.wrong.setText(f"▲ {sentence}")
        self.wrong.setVisible(bool(sentence))
        self.field.setAccessibleDescription(sentence)

    def _followed(self) -> None:
        """Another patch is worked on; without one there is nothing to ask."""
        if self._session.piece is None:
            self.close()


class RotateDialog(_FigureDialog):
    """By how many degrees the patch is rotated, and which way."""

    def __init__(self, session: Session, rotate: Callable[[float], bool], parent: QWidget) -> None:
        super().__init__(session, tr("Rotate the patch"), parent)
        self._rotate = rotate
        self.field.setText("45")
        self.ask(tr("&Degrees"))
        self.offer(
            (tr("To the &right"), lambda: self._turn(1.0)), (tr("To the &left"), lambda: self._turn(-1.0))
        )
        self.field.selectAll()
        self.field.setFocus()

    def _turn(self, way: float) -> None:
        degrees = self.figure(_DEGREES)
        if degrees is not None:
            self._rotate(way * degrees)


class ScaleDialog(_FigureDialog):
    """One side, and how long it really is."""

    def __init__(
        self,
        session: Session,
        scale: Callable[[float], bool],
        show_place: Callable[[Point, int | None], None],
        parent: QWidget,
    ) -> None:
        super().__init__(session, tr("Scale to a known length"), parent)
        self._scale = scale
        self._show_place = show_place
        self._sides: tuple[Side, ...] = ()
        self.side = QListWidget(self)
        self.side.setFixedHeight(4 * (self.side.fontMetrics().height() + 8) + 12)
        label = QLabel(tr("&This side"), self)
        label.setBuddy(self.side)
        self.side.setAccessibleName(tr("This side"))
        self.rows.addWidget(label)
        self.rows.addWidget(self.side)
        self.ask(tr("&is so long"))
        self.offer((tr("&Scale"), self._do))
        session.plan_changed.connect(self._fill)
        session.style_changed.connect(self._fill)
        self._fill()
        self.side.currentRowChanged.connect(self._point_out)
        self._point_out()
        self.field.setFocus()

    def _followed(self) -> None:
        super()._followed()
        self._fill()

    def _fill(self) -> None:
        piece = self._session.piece
        if piece is None:
            return
        style, chosen = self._session.style, max(self.side.currentRow(), 0)
        self._sides = seam_sides(piece.patch(), piece.settings)
        self.side.blockSignals(True)  # no side is meant while the list is filled
        self.side.clear()
        for side in self._sides:
            length = format_length(side.length, style)
            words = tr("Side {letter}, now {length}", letter=side.letter, length=length)
            item = QListWidgetItem(words, self.side)
            item.setSizeHint(QSize(0, max(self.side.fontMetrics().height() + 8, 24)))
        self.side.setCurrentRow(min(chosen, len(self._sides) - 1))
        self.side.blockSignals(False)

    def _point_out(self) -> None:
        self._show_place(self._sides[self.side.currentRow()].middle, None)

    def _do(self) -> None:
        length = self.figure(LENGTH)
        if length is None:
            return
        if length <= SAME_POINT:
            self.say(tr("A side needs a length more than 0"))
            return
        if self._scale(length / self._sides[self.side.currentRow()].length):
            self._point_out()
