"""The plan's patches: small true pictures, verdict and repeats."""

from __future__ import annotations

from PySide6.QtCore import QItemSelectionModel, QModelIndex, QPoint, QRect, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QFormLayout, QLineEdit, QListView, QVBoxLayout, QWidget

from app.sketch import changes
from app.sketch.translate import tr
from app.window.count_field import CountField
from app.window.look import Look
from app.window.patches_model import PatchesModel
from app.window.picture_rows import ROW_HEIGHT, PictureRows
from app.window.session import Session
from geometry import WedgewrightError


class _Rows(QListView):
    """Where it gets lower, the chosen row stays in sight: findings grow below it by what mends them."""

    def resizeEvent(self, event: QResizeEvent) -> None:
        chosen = self.visualRect(self.currentIndex())
        super().resizeEvent(event)
        if chosen.intersects(QRect(QPoint(), event.oldSize())):
            self.scrollTo(self.currentIndex())


class PatchesPanel(QWidget):
    """A list to choose from, and name and repeats of the chosen patch below."""

    def __init__(self, session: Session, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.model = PatchesModel(session)
        self.list = _Rows(self)
        self.list.setAccessibleName(tr("Patches of the plan"))
        self.list.setWhatsThis(tr("Choose the patch to work on."))
        self.list.setModel(self.model)
        self.list.setItemDelegate(PictureRows(self.model, look, self.list))
        self.list.setUniformItemSizes(True)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setMinimumHeight(ROW_HEIGHT)
        self.name = QLineEdit(self)
        self.name.setAccessibleName(tr("Name of the patch"))
        self.name.setToolTip(tr("The name that stands on its template"))
        self.name.setWhatsThis(self.name.toolTip())
        self.name.editingFinished.connect(self._rename)
        self.repeats = CountField(tr("Repeats"), look, self)
        for widget in (self.repeats, self.repeats.box):
            widget.setToolTip(tr("How often the quilt has this patch; totals are times this"))
            widget.setWhatsThis(widget.toolTip())
        self.repeats.told.connect(self._repeat)
        form = QFormLayout()
        form.setContentsMargins(16, 0, 16, 8)
        form.setHorizontalSpacing(8)
        form.setVerticalSpacing(4)
        form.addRow(tr("&Name"), self.name)
        form.addRow(tr("&Repeats"), self.repeats)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 4, 0, 0)
        layout.setSpacing(8)
        layout.addWidget(self.list, 1)
        layout.addLayout(form)
        self.list.selectionModel().currentChanged.connect(self._choose)
        self.model.modelReset.connect(self.refresh)
        session.chosen_changed.connect(self.refresh)
        session.plan_changed.connect(self.refresh)
        look.changed.connect(self.list.viewport().update)
        self.refresh()

    def refresh(self) -> None:
        """Show which patch is chosen, with its name and repeats."""
        chosen, piece = self._session.chosen, self._session.piece
        index = QModelIndex() if chosen is None else self.model.index(chosen)
        selection = self.list.selectionModel()
        if selection.currentIndex() != index:
            selection.setCurrentIndex(index, QItemSelectionModel.SelectionFlag.ClearAndSelect)
        self.name.setEnabled(piece is not None)
        self.repeats.setEnabled(piece is not None)
        if piece is None:
            self.name.clear()
            return
        if not (self.name.hasFocus() and self.name.isModified()):
            self.name.setText(piece.name)
        self.repeats.show_count(piece.repeats)

    def edit_name(self) -> None:
        """Put the cursor into the name."""
        self.name.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.name.selectAll()

    def _choose(self, index: QModelIndex) -> None:
        if index.isValid():
            self._session.choose(index.row())

    def _rename(self) -> None:
        chosen = self._session.chosen
        if chosen is None or not self.name.isModified():
            return
        self.name.setModified(False)
        try:
            self._session.do(changes.rename_patch(self._session.plan, chosen, self.name.text()))
        except WedgewrightError as error:
            self._session.refused.emit(str(error))
        self.refresh()

    def _repeat(self, count: int) -> None:
        chosen = self._session.chosen
        if chosen is not None:
            self._session.do(changes.set_repeats(self._session.plan, chosen, count))
