"""A group of controls under a heading that opens and closes it."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Final

from PySide6.QtCore import QPointF, QRect, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetrics,
    QKeyEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QShowEvent,
)
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QVBoxLayout, QWidget

from app.sketch.palette import Role
from app.sketch.translate import tr
from app.window.look import LEAST_TARGET, Look

_SIGN: Final = 24
"""px left of the words, for the triangle."""
_WORDS: Final = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


class FoldingGroup(QWidget):
    """The controls are made when the group is opened first: most groups stay closed most of the time.

    With ``late``, those of a group that is open from the start are made when it is shown first. A panel moves
    from parent to parent while a window is built, and all of it is styled anew each time.
    """

    folded = Signal(bool)
    """True where the user opened it."""

    def __init__(
        self,
        title: str,
        look: Look,
        fill: Callable[[QVBoxLayout], None],
        *,
        is_open: bool,
        late: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._fill = fill
        self._filled = False
        self.heading = Heading(title, look, self)
        self.body = QWidget(self)
        self._inside = QVBoxLayout(self.body)
        self._inside.setContentsMargins(16, 8, 16, 16)
        self._inside.setSpacing(12)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.heading)
        layout.addWidget(self.body)
        self.heading.setChecked(is_open)
        self._late = late and is_open
        if self._late:
            self.body.hide()  # so that all on it is shown with it, at once
        else:
            self._open(is_open)
        self.heading.toggled.connect(self._open)
        self.heading.clicked.connect(self.folded)

    @property
    def is_open(self) -> bool:
        """Whether its controls are there to be used."""
        return self.heading.isChecked()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._late:
            self._open(self.is_open)

    def _open(self, is_open: bool) -> None:
        self._late = False
        if is_open and not self._filled:
            self._filled = True
            self._fill(self._inside)
            keep_tab_order(self.heading, *focusable(self.body))
        self.body.setVisible(is_open)


def focusable(parent: QWidget) -> list[QWidget]:
    """What Tab comes to in ``parent``, in the order in which it was made.

    A field that hands the keys on to a part of its own stands for its parts: Tab comes to the whole, and Qt
    moves the parts with it.
    """
    found: list[QWidget] = []
    for widget in parent.findChildren(QWidget):
        if found and found[-1].isAncestorOf(widget):
            continue
        proxy = widget.focusProxy()
        whole = proxy is not None and widget.isAncestorOf(proxy)
        # One of two ways has no turn now, and may get it later.
        if whole or (proxy is None and widget.focusPolicy() is not Qt.FocusPolicy.NoFocus):
            found.append(widget)
    return found


def keep_tab_order(*widgets: QWidget) -> None:
    """Let Tab go from each to the next: what is made late would come after everything else."""
    for before, after in pairwise(widgets):
        QWidget.setTabOrder(before, after)


class Heading(QAbstractButton):
    """As wide as there is room, in as many lines as it takes. Space, Enter, Left and Right fold."""

    def __init__(self, title: str, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self._look = look
        self.setText(title)
        self.setAccessibleName(title)
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_Hover)
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.toggled.connect(self._say)
        look.changed.connect(self.update)
        self._say(self.isChecked())

    def sizeHint(self) -> QSize:
        return QSize(200, self.heightForWidth(200))

    def minimumSizeHint(self) -> QSize:
        return QSize(120, LEAST_TARGET)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        room = QRect(0, 0, max(width - _SIGN - 32, 40), 1000)
        return max(
            QFontMetrics(self._bold()).boundingRect(room, _WORDS, self.text()).height() + 20, LEAST_TARGET
        )

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = Qt.Key(event.key())
        wanted = {Qt.Key.Key_Right: True, Qt.Key.Key_Left: False}.get(key, not self.isChecked())
        if key not in (Qt.Key.Key_Right, Qt.Key.Key_Left, Qt.Key.Key_Return, Qt.Key.Key_Enter):
            super().keyPressEvent(event)
        elif wanted != self.isChecked():
            self.click()

    def paintEvent(self, event: QPaintEvent) -> None:
        with QPainter(self) as painter:
            palette = self._look.palette
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            ground = Role.CLOTH if self.underMouse() or self.isDown() else Role.FRAME
            painter.fillRect(self.rect(), QColor(palette[ground]))
            painter.fillRect(QRect(16, 0, self.width() - 32, 2), QColor(palette[Role.CLOTH]))
            text = QColor(palette[Role.TEXT])
            middle = QPointF(22, self.height() / 2)
            ends = ((-5, -3), (5, -3), (0, 4)) if self.isChecked() else ((-3, -5), (4, 0), (-3, 5))
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(text)
            painter.drawPolygon(QPolygonF([middle + QPointF(x, y) for x, y in ends]))
            painter.setPen(text)
            painter.setFont(self._bold())
            painter.drawText(self.rect().adjusted(16 + _SIGN - 4, 0, -16, 0), _WORDS, self.text())
            if self.hasFocus():
                painter.setPen(QPen(QColor(palette[Role.FOCUS]), 2))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRoundedRect(self.rect().adjusted(9, 1, -9, -1), 4, 4)

    def _say(self, is_open: bool) -> None:
        self.setAccessibleDescription(tr("open") if is_open else tr("closed"))
        self.setToolTip(tr("Close this group") if is_open else tr("Open this group"))
        self.setWhatsThis(self.toolTip())
        self.update()

    def _bold(self) -> QFont:
        font = QFont(self.font())
        font.setBold(True)
        return font
