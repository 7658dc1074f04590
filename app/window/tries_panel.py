"""The tries of the chosen patch: kept, brought back by a click, named, compared, deleted."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QItemSelectionModel, QModelIndex, QObject, Qt
from PySide6.QtGui import QAction, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QGridLayout,
    QLabel,
    QListView,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.sketch import changes
from app.sketch.translate import tr
from app.window.look import Look
from app.window.picture_rows import ROW_HEIGHT, PictureRows
from app.window.session import Session
from app.window.tries_model import TriesModel
from geometry import WedgewrightError


class TriesPanel(QWidget):
    """A button that keeps the present try, the list, and below it what can be done with one or all."""

    def __init__(
        self,
        session: Session,
        look: Look,
        keep: QAction,
        compare: QAction,
        printing: QAction,
    ) -> None:
        super().__init__()
        self._session = session
        self._of_all = (compare, printing)
        self.model = TriesModel(session)
        keys = keep.shortcut().toString()
        self.keep = QPushButton(tr("&Keep this try  ({keys})", keys=keys), self)
        self.keep.setWhatsThis(tr("Keeps the anchors and settings as they are now, to come back to."))
        self.keep.setToolTip(self.keep.whatsThis())
        self.keep.clicked.connect(keep.trigger)
        self.list = QListView(self)
        self.list.setAccessibleName(tr("Tries of the patch"))
        self.list.setWhatsThis(tr("A click brings a try back at once; undo takes that back."))
        self.list.setModel(self.model)
        self.list.setItemDelegate(PictureRows(self.model, look, self.list))
        self.list.setUniformItemSizes(True)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.list.setMinimumHeight(ROW_HEIGHT)
        self.list.installEventFilter(self)
        self.empty = QLabel(
            tr("No try kept yet. Keep one, move the anchor, keep another, and compare them."), self
        )
        self.empty.setWordWrap(True)
        self.rename = QPushButton(tr("Rena&me"), self)
        self.rename.setToolTip(tr("Gives the chosen try another name."))
        self.delete = QPushButton(tr("&Delete"), self)
        self.delete.setToolTip(tr("Forgets the chosen try; undo brings it back."))
        self.compare = QPushButton(tr("C&ompare…"), self)
        self.compare.setToolTip(tr("Shows all tries of the patch side by side, with their figures."))
        self.print = QPushButton(tr("Pr&int…"), self)
        self.print.setToolTip(tr("Prints all tries of the patch on one sheet, to compare on paper."))
        buttons = QGridLayout()
        buttons.setSpacing(8)
        for number, button in enumerate((self.rename, self.delete, self.compare, self.print)):
            button.setWhatsThis(button.toolTip())
            button.setAccessibleName(button.text().replace("&", ""))
            buttons.addWidget(button, number // 2, number % 2)
        self.keep.setAccessibleName(keep.text().replace("&", ""))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 8, 0, 8)
        layout.setSpacing(8)
        for part, stretch in ((self.keep, 0), (self.empty, 1), (buttons, 0)):
            row = QVBoxLayout()
            row.setContentsMargins(16, 0, 16, 0)
            if isinstance(part, QWidget):
                row.addWidget(part, 0, Qt.AlignmentFlag.AlignTop)
            else:
                row.addLayout(part)
            layout.addLayout(row, stretch if part is not self.empty else 0)
            if part is self.empty:
                layout.addWidget(self.list, 1)
        layout.addStretch(0)
        self.list.clicked.connect(self.bring_back)
        self.list.activated.connect(self.bring_back)
        self.list.selectionModel().currentChanged.connect(self._enable)
        self.rename.clicked.connect(self.edit_name)
        self.compare.clicked.connect(compare.trigger)
        self.print.clicked.connect(printing.trigger)
        self.delete.clicked.connect(self.delete_chosen)
        session.plan_changed.connect(self.refresh)
        session.chosen_changed.connect(self.refresh)
        look.changed.connect(self.list.viewport().update)
        self.refresh()

    def refresh(self) -> None:
        """Show which try is on the canvas, and what can be done."""
        some = bool(self.model.tries)
        self.list.setVisible(some)
        self.empty.setVisible(not some)
        present = self.model.present
        selection = self.list.selectionModel()
        if present is not None:
            at = self.model.index(present)
            selection.setCurrentIndex(at, QItemSelectionModel.SelectionFlag.ClearAndSelect)
        else:
            selection.clearSelection()
        self._enable()

    def keep_now(self) -> None:
        """Keep the anchors and settings as they are."""
        self._do(changes.keep_try)
        self.list.scrollToBottom()

    def bring_back(self, index: QModelIndex) -> None:
        """Put the try of that row on the canvas."""
        if index.isValid() and index.row() != self.model.present:
            self._do(changes.bring_back, index.row())

    def delete_chosen(self) -> None:
        """Forget the chosen try."""
        index = self.list.currentIndex()
        if index.isValid():
            self._do(changes.delete_try, index.row())

    def edit_name(self) -> None:
        """Let the name of the chosen try be typed."""
        index = self.list.currentIndex()
        if index.isValid():
            self.list.setFocus(Qt.FocusReason.ShortcutFocusReason)
            self.list.edit(index)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Delete and F2 in the list; F2 elsewhere is the patch's name."""
        if watched is self.list and isinstance(event, QKeyEvent):
            act = {Qt.Key.Key_Delete: self.delete_chosen, Qt.Key.Key_F2: self.edit_name}.get(
                Qt.Key(event.key())
            )
            if act is not None and event.type() == QEvent.Type.ShortcutOverride:
                event.accept()
                return True
            if act is not None and event.type() == QEvent.Type.KeyPress:
                act()
                return True
        return super().eventFilter(watched, event)

    def _enable(self) -> None:
        chosen = self.list.currentIndex().isValid()
        self.keep.setEnabled(self._session.piece is not None)
        self.rename.setEnabled(chosen)
        self.delete.setEnabled(chosen)
        for of_all in (self.compare, self.print, *self._of_all):
            of_all.setEnabled(bool(self.model.tries))

    def _do(self, change: Callable[..., changes.Change], *which: int) -> None:
        chosen = self._session.chosen
        if chosen is None:
            return
        try:
            self._session.do(change(self._session.plan, chosen, *which))
        except WedgewrightError as error:
            self._session.refused.emit(str(error))
