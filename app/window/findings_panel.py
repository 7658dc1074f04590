"""The findings of the chosen patch; a click shows the place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from PySide6.QtCore import (
    QModelIndex,
    QRectF,
    QSize,
    Qt,
    QTimer,
    Signal,
)
from PySide6.QtGui import QColor, QFont, QFontMetrics, QFontMetricsF, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QLabel,
    QListView,
    QPushButton,
    QSizePolicy,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from app.sketch import changes
from app.sketch.palette import Role
from app.sketch.translate import tr
from app.sketch.wording import finding_text, finding_title, level_word, remedy_text
from app.window.glyphs import LEVEL_ROLES, paint_level
from app.window.list_rows import Index, ListModel, paint_ground
from app.window.look import Look
from app.window.rest import Rest
from app.window.session import Session
from app.window.word_list import WordList, two_lines, unbroken, wrapped_height
from geometry.findings import Finding, Level, Remedy
from geometry.remedies import MOST, WITHOUT, search

_ORDER: Final = list(Level)
_SIDE: Final = 40
"""px left of the words, for the sign of the level."""
_RIGHT: Final = 12
_OLD_SIGN: Final = 0.4
"""How much is seen of the sign of a finding that may be true no more."""


class FindingsPanel(QWidget):
    """A list, the worst first; below it the remedies of the one that is chosen, each a button.

    They are looked for while the hand rests, one try between two events, so that the window stays awake.
    """

    wanted = Signal(object)
    """The finding whose place is to be shown."""

    def __init__(self, session: Session, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.model = FindingsModel(session)
        self.list = WordList(self)
        self.list.setAccessibleName(tr("Findings"))
        self.list.setWhatsThis(tr("A click, or Enter, shows the place of a finding on the canvas."))
        self.list.setModel(self.model)
        self._is_old = False
        self._delegate = _Delegate(self.model, look, self.list)
        self.list.setItemDelegate(self._delegate)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.empty = QLabel(tr("Nothing to mend: every wedge can be stitched and seen."), self)
        self.empty.setWordWrap(True)
        self.empty.setContentsMargins(16, 8, 16, 8)
        self.state = QLabel(self)
        self.state.setWordWrap(True)
        self.state.setContentsMargins(16, 0, 16, 0)
        self.remedies = tuple(_Button(self) for _ in range(MOST))
        for number, button in enumerate(self.remedies):
            button.clicked.connect(lambda _=False, number=number: self._mend(number))
        self._offered: tuple[Remedy, ...] = ()
        self._search: Iterator[tuple[Remedy, ...]] | None = None
        self._step = QTimer(self)
        self._step.setInterval(0)
        self._step.timeout.connect(self._look_on)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 4, 0, 8)
        layout.setSpacing(8)
        layout.addWidget(self.empty, 0, Qt.AlignmentFlag.AlignTop)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.state)
        below = QVBoxLayout()
        below.setContentsMargins(16, 0, 16, 0)
        below.setSpacing(8)
        for button in self.remedies:
            below.addWidget(button)
        layout.addLayout(below)
        layout.addStretch(0)
        self.list.clicked.connect(self._show)
        self.list.activated.connect(self._show)
        self.list.selectionModel().currentChanged.connect(self._moved)
        self._rest = Rest(self)
        self._rest.rested.connect(self.refresh)
        session.fit_changed.connect(self._fit_changed)
        session.plan_changed.connect(self.refresh)
        look.changed.connect(self.list.viewport().update)
        self.refresh()

    def refresh(self) -> None:
        """Show the findings of the fit that is shown."""
        self._age(old=False)
        self.model.sync()
        some = self.model.rowCount() > 0
        self.list.setVisible(some)
        self.empty.setVisible(not some and self._session.fit is not None)
        self._look_for_remedies()

    def _fit_changed(self) -> None:
        # While the hand moves the canvas tells; a list that is rebuilt at every move only flickers.
        if self._session.in_gesture:
            if not self._is_old:
                self.empty.hide()  # it may be true no more
                self._leave_off()
                self._age(old=True)
                self._say(tr("The list follows when the hand rests."))
            self._rest.stir()
        else:
            self.refresh()

    def _age(self, *, old: bool) -> None:
        """Grey what was found before the hand moved, or not."""
        if old is not self._is_old:
            self._is_old = self._delegate.is_old = old
            self.list.viewport().update()

    def _show(self, index: QModelIndex) -> None:
        finding = self.model.finding(index.row())
        if finding is not None:
            self.list.scrollTo(index)
            self.wanted.emit(finding)

    def _moved(self, index: QModelIndex) -> None:
        self._look_for_remedies()
        if self.list.hasFocus() and index.isValid():
            self._show(index)

    def _current(self) -> Finding | None:
        index = self.list.currentIndex()
        return self.model.finding(index.row()) if index.isValid() else None

    def _look_for_remedies(self) -> None:
        """Begin to look for the remedies of the chosen finding."""
        self._leave_off()
        finding, fit, piece = self._current(), self._session.fit, self._session.piece
        if finding is None or fit is None or piece is None or self._session.in_gesture:
            return
        if finding.code in WITHOUT:
            return
        self._search = search(fit, finding, piece.anchors)
        self._say(tr("Looking for a remedy …"))
        self._step.start()

    def _look_on(self) -> None:
        offered = next(self._search, None) if self._search is not None else None
        if offered is not None:
            self._offered = offered
            return
        self._step.stop()
        self._search = None
        fit, piece = self._session.fit, self._session.piece
        if fit is None or piece is None:
            return
        self._say("" if self._offered else tr("No single change mends it; try another anchor"))
        for button, remedy in zip(self.remedies, self._offered, strict=False):
            button.say(remedy_text(remedy, fit, self._session.style, piece.anchors))
            button.show()

    def _leave_off(self) -> None:
        self._step.stop()
        self._search, self._offered = None, ()
        self._say("")
        for button in self.remedies:
            button.hide()

    def _say(self, words: str) -> None:
        self.state.setText(words)
        self.state.setVisible(bool(words))

    def _mend(self, number: int) -> None:
        chosen, piece = self._session.chosen, self._session.piece
        if chosen is None or piece is None or self._step.isActive():
            return
        remedy = self._offered[number]
        self.list.setFocus()  # the buttons go
        self._session.do(changes.apply_remedy(self._session.plan, chosen, remedy))


class _Button(QPushButton):
    """A button with its words in two lines where the panel is narrow, and shortened where that is not
    enough; the tip has them whole.
    """

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._words = ""
        self.setAccessibleName(tr("Remedy"))
        self.setWhatsThis(tr("Does what the finding needs to go away; undo takes it back."))
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.hide()

    def say(self, words: str) -> None:
        """Show what the remedy does."""
        self._words = words
        self.setAccessibleName(tr("Remedy: {what}", what=words))
        self.setToolTip(tr("{what}; undo takes it back", what=words))
        self._shorten()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._shorten()

    def _shorten(self) -> None:
        self.setText("\n".join(two_lines(self._words, QFontMetricsF(self.font()), self.width() - 24)))
        self.setMinimumHeight(self.sizeHint().height())


class FindingsModel(ListModel[Finding]):
    """One row a finding, the worst first."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._texts: tuple[str, ...] = ()

    def sync(self) -> None:
        """Take over what the session shows."""
        fit = self._session.fit
        findings: tuple[Finding, ...] = ()
        texts: tuple[str, ...] = ()
        if fit is not None:
            findings = tuple(sorted(fit.findings, key=lambda finding: _ORDER.index(finding.level)))
            texts = tuple(finding_text(finding, fit, self._session.style) for finding in findings)
        if (findings, texts) != (self._shown, self._texts):
            self.beginResetModel()
            self._shown, self._texts = findings, texts
            self.endResetModel()

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        finding = self.finding(index.row()) if index.isValid() else None
        if finding is None:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self._texts[index.row()]
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{level_word(finding.level)}: {self._texts[index.row()]}"
        return None

    def finding(self, row: int) -> Finding | None:
        """The finding of that row."""
        return self._shown[row] if 0 <= row < len(self._shown) else None


class _Delegate(QStyledItemDelegate):
    """Paints a finding: the sign and the word of its level, its kind, its sentence."""

    def __init__(self, model: FindingsModel, look: Look, view: QListView) -> None:
        super().__init__(view)
        self._model = model
        self._look = look
        self._view = view
        self.is_old = False
        """Whether what it paints is true no more."""

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        width = self._view.viewport().width()
        finding = self._model.finding(index.row())
        if finding is None:
            return QSize()
        title, words = self._fonts()
        room = width - _SIDE - _RIGHT
        height = wrapped_height(_heading(finding), title, room) + wrapped_height(
            unbroken(str(index.data())), words, room
        )
        return QSize(width, height + 20)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        finding = self._model.finding(index.row())
        if finding is None:
            return
        palette = self._look.palette
        box = QRectF(option.rect)
        title, words = self._fonts()
        painter.save()
        paint_ground(painter, option, palette)
        line = QFontMetrics(title).height()
        top = box.top() + 8
        painter.setOpacity(_OLD_SIGN if self.is_old else 1.0)
        paint_level(painter, QRectF(box.left() + 16, top + (line - 15) / 2, 15, 15), finding.level, palette)
        painter.setOpacity(1.0)
        left = box.left() + _SIDE
        width = box.width() - _SIDE - _RIGHT
        painter.setFont(title)
        painter.setPen(QColor(palette[Role.QUIET if self.is_old else LEVEL_ROLES[finding.level]]))
        heading = _heading(finding)
        used = wrapped_height(heading, title, int(width))
        painter.drawText(QRectF(left, top, width, used), Qt.TextFlag.TextWordWrap, heading)
        painter.setFont(words)
        painter.setPen(QColor(palette[Role.QUIET if self.is_old else Role.TEXT]))
        painter.drawText(
            QRectF(left, top + used + 2, width, box.bottom() - top - used),
            Qt.TextFlag.TextWordWrap,
            unbroken(str(index.data())),
        )
        painter.restore()

    def _fonts(self) -> tuple[QFont, QFont]:
        title = QFont(self._view.font())
        title.setBold(True)
        return title, QFont(self._view.font())


def _heading(finding: Finding) -> str:
    """Level and kind: ``Problem: wedge too thin``."""
    return tr(
        "{level}: {kind}",
        level=level_word(finding.level).capitalize(),
        kind=finding_title(finding.code).lower(),
    )
