"""What the lists of the bench have in common: their models' rows, and the ground of a chosen row."""

from __future__ import annotations

from typing import Generic, TypeAlias, TypeVar

from PySide6.QtCore import QAbstractListModel, QModelIndex, QPersistentModelIndex, QRectF
from PySide6.QtGui import QColor, QPainter
from PySide6.QtWidgets import QStyle, QStyleOptionViewItem

from app.sketch.palette import Palette, Role
from app.window.session import Session

Index: TypeAlias = QModelIndex | QPersistentModelIndex
Shown = TypeVar("Shown")


class ListModel(QAbstractListModel, Generic[Shown]):
    """A row for each of what is shown of the session."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._session = session
        self._shown: tuple[Shown, ...] = ()

    def rowCount(self, parent: Index | None = None) -> int:
        return 0 if parent is not None and parent.isValid() else len(self._shown)

    def _show(self, shown: tuple[Shown, ...]) -> None:
        """Other rows."""
        self.beginResetModel()
        self._shown = shown
        self.endResetModel()

    def _all_changed(self) -> None:
        """The rows are the same, what they say is not."""
        if self._shown:
            self.dataChanged.emit(self.index(0), self.index(len(self._shown) - 1))


def paint_ground(
    painter: QPainter, option: QStyleOptionViewItem, palette: Palette, *, hovered: bool = False
) -> None:
    """Cloth and a bar under a chosen row; with ``hovered`` cloth under the one that the pointer is on too."""
    box = QRectF(option.rect)
    chosen = option.state & QStyle.StateFlag.State_Selected
    if chosen or (hovered and option.state & QStyle.StateFlag.State_MouseOver):
        painter.fillRect(box, QColor(palette[Role.CLOTH]))
    if chosen:
        painter.fillRect(QRectF(box.left(), box.top(), 4, box.height()), QColor(palette[Role.TEXT]))
