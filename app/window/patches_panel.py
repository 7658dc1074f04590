"""The plan's patches: small true pictures, verdict and repeats."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QItemSelectionModel, QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPixmap
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFormLayout,
    QLineEdit,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from app.exporting.painter import Look as PaintLook
from app.exporting.painter import paint
from app.sketch import changes
from app.sketch.display_list import Show, build
from app.sketch.palette import Palette, Role
from app.sketch.translate import tr
from app.sketch.view import View
from app.window.count_field import CountField
from app.window.glyphs import paint_level
from app.window.look import Look
from app.window.patches_model import PatchesModel, repeats_words
from app.window.session import Session
from geometry import Fit, WedgewrightError
from geometry.findings import Level

_PICTURE: Final = QSize(80, 64)
_ROW_HEIGHT: Final = 88
_PICTURES_KEPT: Final = 256
_SHOW: Final = Show(margin_edge=False, marks=False, mark_names=False, numbers=False, travel=False)


class PatchesPanel(QWidget):
    """A list to choose from, and name and repeats of the chosen patch below."""

    def __init__(self, session: Session, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.model = PatchesModel(session)
        self.list = QListView(self)
        self.list.setAccessibleName(tr("Patches of the plan"))
        self.list.setModel(self.model)
        self.list.setItemDelegate(_Delegate(self.model, look, self.list))
        self.list.setUniformItemSizes(True)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setMinimumHeight(_ROW_HEIGHT)
        self.name = QLineEdit(self)
        self.name.setAccessibleName(tr("Name of the patch"))
        self.name.editingFinished.connect(self._rename)
        self.repeats = CountField(tr("Repeats"), look, self)
        self.repeats.told.connect(self._repeat)
        form = QFormLayout()
        form.setContentsMargins(16, 0, 16, 8)
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


class _Delegate(QStyledItemDelegate):
    """Paints a patch: picture, name, verdict with its sign, repeats."""

    def __init__(self, model: PatchesModel, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self._model = model
        self._look = look
        self._pictures: dict[tuple[int, int, float], tuple[Fit, QPixmap]] = {}

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        return QSize(200, _ROW_HEIGHT)

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        palette = self._look.palette
        box = QRectF(option.rect)
        state = option.state
        selected = bool(state & QStyle.StateFlag.State_Selected)
        painter.save()
        if selected:
            painter.fillRect(box, QColor(palette[Role.CLOTH]))
            painter.fillRect(QRectF(box.left(), box.top(), 4, box.height()), QColor(palette[Role.TEXT]))
        piece = self._model.piece(index.row())
        fit = self._model.fit(piece)
        left = box.left() + 16
        if fit is not None:
            ratio = painter.device().devicePixelRatioF()
            picture = self._picture(fit, palette, ratio)
            painter.drawPixmap(round(left), round(box.center().y() - _PICTURE.height() / 2), picture)
        left += _PICTURE.width() + 12
        self._words(painter, QRectF(left, box.top(), box.right() - 8 - left, box.height()), index.row())
        painter.restore()

    def _words(self, painter: QPainter, box: QRectF, row: int) -> None:
        palette = self._look.palette
        piece = self._model.piece(row)
        fit = self._model.fit(piece)
        bold = QFont(painter.font())
        bold.setBold(True)
        names = _two_lines(piece.name, QFontMetricsF(bold), box.width())
        line = QFontMetricsF(bold).height()
        wedges, _, rest = self._model.verdict(piece).partition(", ")
        below = ", ".join(part for part in (wedges if rest else "", repeats_words(piece)) if part)
        top = box.center().y() - line * (len(names) + 1 + bool(below)) / 2
        left_aligned = Qt.AlignmentFlag.AlignLeft
        plain = painter.font()
        painter.setFont(bold)
        painter.setPen(QColor(palette[Role.TEXT]))
        for name in names:
            painter.drawText(QRectF(box.left(), top, box.width(), line), left_aligned, name)
            top += line
        painter.setFont(plain)
        level = _worst(fit)
        left = box.left()
        if level is not None:
            paint_level(painter, QRectF(left, top + (line - 13) / 2, 13, 13), level, palette)
            left += 18
        painter.drawText(QRectF(left, top, box.right() - left, line), left_aligned, rest or wedges)
        painter.setPen(QColor(palette[Role.QUIET]))
        below = painter.fontMetrics().elidedText(below, Qt.TextElideMode.ElideRight, int(box.width()))
        painter.drawText(QRectF(box.left(), top + line, box.width(), line), left_aligned, below)

    def _picture(self, fit: Fit, palette: Palette, ratio: float) -> QPixmap:
        key = (id(fit), id(palette), ratio)
        held = self._pictures.get(key)
        if held is not None and held[0] is fit:
            return held[1]
        pixmap = QPixmap(_PICTURE * ratio)
        pixmap.setDevicePixelRatio(ratio)
        pixmap.fill(Qt.GlobalColor.transparent)
        view = View(_PICTURE.width(), _PICTURE.height()).fitted(fit.patch.polygon.bounds, 3)
        look = PaintLook(palette=palette, fine=False, handle=6)
        with QPainter(pixmap) as painter:
            paint(build(fit, show=_SHOW), painter, view, look, labels=())
        while len(self._pictures) >= _PICTURES_KEPT:
            self._pictures.pop(next(iter(self._pictures)))
        self._pictures[key] = (fit, pixmap)
        return pixmap


def _worst(fit: Fit | None) -> Level | None:
    """The level to show a sign for; notes are no verdict."""
    levels = {finding.level for finding in fit.findings} if fit is not None else set()
    return next((level for level in (Level.PROBLEM, Level.CAUTION) if level in levels), None)


def _two_lines(name: str, metrics: QFontMetricsF, width: float) -> list[str]:
    """``name`` in one line, or broken between two words, each cut short where it is still too long."""
    if metrics.horizontalAdvance(name) <= width:
        return [name]
    words = name.split(" ")
    count = len(words)
    while count > 1 and metrics.horizontalAdvance(" ".join(words[:count])) > width:
        count -= 1
    lines = [" ".join(words[:count]), " ".join(words[count:])]
    return [metrics.elidedText(line, Qt.TextElideMode.ElideRight, width) for line in lines if line]
