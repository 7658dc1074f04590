"""Anchors worth trying: shown on the canvas under the hand or the keys, and taken by a click."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QModelIndex, QObject, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetrics,
    QHideEvent,
    QKeyEvent,
    QPainter,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLabel,
    QListView,
    QPushButton,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from app.sketch.anchor_words import looking_words
from app.sketch.palette import Role
from app.sketch.translate import tr
from app.window.anchor_work import AnchorWork
from app.window.list_rows import Index, paint_ground
from app.window.look import Look
from app.window.session import Session
from app.window.suggestions_model import SuggestionsModel
from app.window.word_list import WordList, unbroken, wrapped_height
from geometry.anchors import Suggestion

_SIDE = 16
_GAP = 2
_WRAP = Qt.TextFlag.TextWordWrap


class SuggestionsPanel(QWidget):
    """A list, the best first. Nothing in the plan changes before a click or Enter."""

    tried = Signal(object)
    """The suggestion to show on the canvas, or None to show the plan's anchor again."""
    taken = Signal(object)
    """The suggestion to move the anchor to."""
    seen = Signal()
    """The panel came into view, or left it."""

    def __init__(self, session: Session, work: AnchorWork, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._work = work
        self._awaited = False
        self.model = SuggestionsModel(session, work)
        self.list = WordList(self)
        self.list.setAccessibleName(tr("Suggested anchors"))
        self.list.setWhatsThis(
            tr(
                "Under the hand an anchor shows on the canvas; a click moves the anchor there; "
                "undo takes it back."
            )
        )
        self.list.setModel(self.model)
        self.list.setItemDelegate(_Delegate(self.model, look, self.list))
        self.list.setMouseTracking(True)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.installEventFilter(self)
        self.list.viewport().installEventFilter(self)
        self.state = QLabel(self)
        self.state.setWordWrap(True)
        self.state.setContentsMargins(_SIDE, 8, _SIDE, 8)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 4, 0, 8)
        layout.setSpacing(8)
        self.stop = QPushButton(tr("Stop loo&king"), self)
        self.stop.setAccessibleName(tr("Stop looking"))
        self.again = QPushButton(tr("Loo&k again"), self)
        self.again.setAccessibleName(tr("Look again"))
        layout.addWidget(self.state, 0, Qt.AlignmentFlag.AlignTop)
        for button, sentence in (
            (self.stop, tr("Stops looking for good anchors; so does Esc.")),
            (self.again, tr("Looks for good anchors once more.")),
        ):
            button.setToolTip(sentence)
            button.setWhatsThis(sentence)
            row = QHBoxLayout()
            row.setContentsMargins(_SIDE, 0, _SIDE, 0)
            row.setSpacing(0)
            row.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
            layout.addLayout(row)
        layout.addWidget(self.list, 1)
        layout.addStretch(0)
        self.stop.clicked.connect(work.give_up)
        self.again.clicked.connect(work.take_up)
        self.list.entered.connect(self._try)
        self.list.viewportEntered.connect(self.leave)
        self.list.clicked.connect(self._take)
        self.list.activated.connect(self._take)
        self.list.selectionModel().currentChanged.connect(self._moved)
        work.changed.connect(self.refresh)
        look.changed.connect(self.list.viewport().update)
        self.refresh()

    def refresh(self) -> None:
        """Show what is known."""
        self.model.sync()
        some = self.model.rowCount() > 0
        words, progress = "", self._work.progress("suggestions")
        if self._session.piece is None:
            words = tr("There is no patch to look at.")
        elif self._work.gave_up:
            words = tr("Stopped before the good anchors of this patch were found.")
        elif self._work.suggestions is None:
            words = looking_words(progress)
        elif not some:
            words = tr("There is no room to stitch, and so no anchor to suggest.")
        self.state.setText(words)
        self.state.setVisible(bool(words))
        for button, needed in ((self.stop, progress is not None), (self.again, self._work.gave_up)):
            if button.isHidden() is needed:
                button.setVisible(needed)
        self.list.setVisible(some)
        if some and self._awaited:
            self.take_focus()

    def leave(self) -> None:
        """Show nothing but the plan's anchor."""
        self.tried.emit(None)

    def take_focus(self) -> None:
        """For the keys: to the list, as soon as there is something in it."""
        self.list.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self._awaited = not self.model.rowCount()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.seen.emit()

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self.leave()
        self.seen.emit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """What is tried out goes when the hand or the keys go, and with Esc."""
        if watched is self.list.viewport() and event.type() is QEvent.Type.Leave:
            self.leave()
        elif watched is self.list:
            if event.type() is QEvent.Type.FocusOut:
                self.leave()
            elif isinstance(event, QKeyEvent) and event.type() is QEvent.Type.KeyPress:
                if event.key() == Qt.Key.Key_Escape:
                    self.leave()
                    return True
                if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
                    self._take(self.list.currentIndex())
                    return True
        return super().eventFilter(watched, event)

    def _suggestion(self, index: QModelIndex) -> Suggestion | None:
        return self.model.suggestion(index.row()) if index.isValid() else None

    def _try(self, index: QModelIndex) -> None:
        self.tried.emit(self._suggestion(index))

    def _moved(self, index: QModelIndex) -> None:
        if self.list.hasFocus():
            self._try(index)

    def _take(self, index: QModelIndex) -> None:
        suggestion = self._suggestion(index)
        if suggestion is not None:
            self.taken.emit(suggestion)


class _Delegate(QStyledItemDelegate):
    """Paints a suggestion: its name and score, its figures, and how the score is made up."""

    def __init__(self, model: SuggestionsModel, look: Look, view: QListView) -> None:
        super().__init__(view)
        self._model = model
        self._look = look
        self._view = view

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        room = self._view.viewport().width() - 2 * _SIDE
        used = sum(wrapped_height(text, font, width) for text, font, width in self._lines(index.row(), room))
        return QSize(room + 2 * _SIDE, used + 2 * _GAP + 20)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        palette = self._look.palette
        box = QRectF(option.rect)
        painter.save()
        paint_ground(painter, option, palette, hovered=True)
        left, top = box.left() + _SIDE, box.top() + 10
        room = int(box.width()) - 2 * _SIDE
        lines = self._lines(index.row(), room)
        for number, (text, font, width) in enumerate(lines):
            painter.setFont(font)
            painter.setPen(QColor(palette[Role.QUIET if number == len(lines) - 1 else Role.TEXT]))
            used = wrapped_height(text, font, width)
            painter.drawText(QRectF(left, top, width, used), _WRAP, text)
            if number == 0:
                total = self._model.words_at(index.row())[1]
                painter.setFont(self._view.font())
                painter.drawText(QRectF(left, top, room, used), Qt.AlignmentFlag.AlignRight, total)
            top += used + _GAP
        painter.restore()

    def _lines(self, row: int, room: int) -> list[tuple[str, QFont, int]]:
        """Text, font and width of each piece, from the top down; beside the name stands the score."""
        name, total, figures, made_up = map(unbroken, self._model.words_at(row))
        plain = self._view.font()
        bold, small = QFont(plain), QFont(plain)
        bold.setBold(True)
        small.setPointSizeF(plain.pointSizeF() * 10 / 12)
        beside = QFontMetrics(plain).horizontalAdvance(total) + 12
        return [(name, bold, room - beside), (figures, plain, room), (made_up, small, room)]
