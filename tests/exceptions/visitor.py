"""Somebody who does whatever can be done in the window, at random; every step goes through Qt's own loop.

What is called from Python would bring an error back to the caller, which is not how users call us.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Generator
from functools import partial
from pathlib import Path
from typing import Final, TypeAlias

from PySide6.QtCore import QEvent, QMimeData, QObject, QPoint, QPointF, Qt, QTimer, QUrl
from PySide6.QtGui import QAction, QDragEnterEvent, QDropEvent, QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QApplication,
    QDialog,
    QDockWidget,
    QLineEdit,
    QToolButton,
    QWidget,
)

from app.window.dialogs import Unsaved
from app.window.main_window import Bench
from tests.app.window.conftest import CTRL, LEFT, PLAIN, Answers

Step: TypeAlias = Generator[None, None, None]
"""Goes on in the next turn of Qt's loop."""

_KEYS: Final = (
    *(Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Tab, Qt.Key.Key_Backtab),
    *(Qt.Key.Key_Return, Qt.Key.Key_Escape, Qt.Key.Key_Space, Qt.Key.Key_Home, Qt.Key.Key_End),
    *(Qt.Key.Key_Delete, Qt.Key.Key_Insert, Qt.Key.Key_F2, Qt.Key.Key_PageDown, Qt.Key.Key_Plus),
)  # fmt: skip
_WORDS: Final = ("2", "3 1/2", "1.25 in", "40 mm", "-1", "x", "")
_LONGEST: Final = 6
"""Steps within a dialog, after which it is closed."""


def later(function: Callable[..., object], *arguments: object) -> None:
    """Called by Qt's loop."""
    QTimer.singleShot(0, partial(function, *arguments))


class Visitor:
    """One who visits ``bench``."""

    def __init__(self, bench: Bench, answers: Answers, chance: random.Random, outlines: Path) -> None:
        self._bench = bench
        self._answers = answers
        self._chance = chance
        self._outlines = outlines
        self._within = 0

    def step(self) -> Step:
        """Something or other."""
        popup, dialog = QApplication.activePopupWidget(), QApplication.activeModalWidget()
        if popup is not None:
            yield from self._key(
                popup, self._chance.choice((Qt.Key.Key_Escape, Qt.Key.Key_Down, Qt.Key.Key_Return))
            )
        elif dialog is not None:
            self._within += 1
            if self._within > _LONGEST:
                leave(dialog)
            else:
                yield from self._touch(self._some(dialog))
        else:
            self._within = 0
            step = self._chance.choices(
                (self._hand, self._canvas_key, self._action, self._widget, self._window), (3, 3, 5, 6, 1)
            )[0]
            yield from step()
        for _ in range(self._chance.choice((1, 2, 2, 4, 40))):
            yield

    def _some(self, window: QWidget) -> QWidget:
        """A widget of it that can be used; those that are used most are no likelier than others."""
        found = [each for each in window.findChildren(QWidget) if each.isVisible() and each.isEnabled()]
        kinds = sorted({type(each).__qualname__ for each in found})
        if not kinds:
            return window
        kind = self._chance.choice(kinds)
        return self._chance.choice([each for each in found if type(each).__qualname__ == kind])

    # --- on the canvas ------------------------------------------------------------------------------

    def _hand(self) -> Step:
        canvas = self._bench.canvas
        at = self._place(canvas)
        piece = self._bench.session.piece
        if piece is not None and self._chance.random() < 0.7:
            corner = self._chance.choice([*piece.anchors, *piece.outline])
            at = QPointF(*canvas.view.point_to_screen((corner[0], corner[1])))
        yield from self._press(canvas, at)
        for _ in range(self._chance.randint(0, 4)):
            at += QPointF(self._chance.randint(-30, 30), self._chance.randint(-30, 30))
            post(canvas, mouse(QEvent.Type.MouseMove, canvas, at))
            yield
        post(canvas, mouse(QEvent.Type.MouseButtonRelease, canvas, at))

    def _canvas_key(self) -> Step:
        later(self._bench.canvas.setFocus)
        yield from self._key(self._bench.canvas)

    # --- elsewhere ----------------------------------------------------------------------------------

    def _action(self) -> Step:
        actions = [each for each in self._bench.findChildren(QAction) if each.isEnabled() and not each.menu()]
        action = self._chance.choice(actions)
        self._answers.leaving = Unsaved.CANCEL
        if action is not self._bench.actions_.quit:
            self._answers.leaving = self._chance.choice((Unsaved.CANCEL, Unsaved.SAVE))
        later(action.trigger)
        yield

    def _widget(self) -> Step:
        yield from self._touch(self._some(self._bench))

    def _window(self) -> Step:
        bench = self._bench
        match self._chance.randrange(7):
            case 0:
                later(bench.resize, self._chance.randint(900, 1400), self._chance.randint(600, 900))
            case 1:
                self._answers.leaving = Unsaved.CANCEL
                later(bench.close)
            case 2:
                later(bench.hide)
                yield
                later(bench.show)
            case 3:
                dock = self._chance.choice(bench.findChildren(QDockWidget))
                later(dock.setFloating, not dock.isFloating())
            case 4:
                dock = self._chance.choice(bench.findChildren(QDockWidget))
                later(dock.setVisible, True)
                later(dock.raise_)
            case 5:
                held = QMimeData()
                held.setUrls([QUrl.fromLocalFile(str(self._outlines))])
                copy, at = Qt.DropAction.CopyAction, QPoint(300, 300)
                post(bench, QDragEnterEvent(at, copy, held, LEFT, PLAIN))
                yield
                post(bench, QDropEvent(QPointF(at), copy, held, LEFT, PLAIN))
                yield  # what is held lives until then
            case 6:
                yield from self._key(bench)
        yield

    def _touch(self, widget: QWidget) -> Step:
        if isinstance(widget, QToolButton) and widget.menu() is not None:
            later(widget.showMenu)
        elif isinstance(widget, QAbstractButton) and self._chance.random() < 0.8:
            later(widget.click)
        elif isinstance(widget, QLineEdit | QAbstractSpinBox):
            later(widget.setFocus)
            later(widget.selectAll)
            yield
            for character in self._chance.choice(_WORDS):
                for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
                    post(widget, QKeyEvent(kind, 0, PLAIN, character))
            yield
            yield from self._key(
                widget, self._chance.choice((Qt.Key.Key_Return, Qt.Key.Key_Up, Qt.Key.Key_Tab))
            )
            later(self._bench.canvas.setFocus)
        else:
            if isinstance(widget, QAbstractItemView):
                widget = self._chance.choice((widget, widget.viewport()))
            match self._chance.randrange(4):
                case 0:
                    yield from self._key(widget)
                case 1:
                    at = self._place(widget)
                    post(widget, mouse(QEvent.Type.MouseMove, widget, at))
                    yield from self._press(widget, at)
                    post(widget, mouse(QEvent.Type.MouseButtonRelease, widget, at))
                case 2:
                    at = self._place(widget)
                    globally = QPointF(widget.mapToGlobal(at))
                    keys = self._chance.choice((PLAIN, CTRL))
                    post(
                        widget,
                        QWheelEvent(
                            at, globally, QPoint(), QPoint(0, self._chance.choice((120, -120))),
                            Qt.MouseButton.NoButton, keys, Qt.ScrollPhase.NoScrollPhase, False,
                        ),
                    )  # fmt: skip
                case 3:
                    post(widget, QEvent(self._chance.choice((QEvent.Type.Leave, QEvent.Type.StyleChange))))
                    later(widget.update)
        yield

    def _place(self, widget: QWidget) -> QPointF:
        return QPointF(self._chance.uniform(0, widget.width()), self._chance.uniform(0, widget.height()))

    def _press(self, widget: QWidget, at: QPointF) -> Step:
        kinds = [QEvent.Type.MouseButtonPress]
        if self._chance.random() < 0.2:
            kinds += [QEvent.Type.MouseButtonRelease, QEvent.Type.MouseButtonDblClick]
        for kind in kinds:
            post(widget, mouse(kind, widget, at))
            yield

    def _key(self, widget: QWidget, key: Qt.Key | None = None) -> Step:
        shift = Qt.KeyboardModifier.ShiftModifier
        keys = PLAIN if key else self._chance.choice((PLAIN, PLAIN, PLAIN, shift))
        press(widget, key or self._chance.choice(_KEYS), keys)
        yield


def post(widget: QObject, event: QEvent) -> None:
    """From Qt's own loop: what is sent from Python comes back to the sender."""
    QApplication.postEvent(widget, event)


def press(widget: QWidget, key: Qt.Key, keys: Qt.KeyboardModifier = PLAIN) -> None:
    """A key, down and up."""
    for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
        post(widget, QKeyEvent(kind, key, keys))


def mouse(kind: QEvent.Type, widget: QWidget, at: QPointF) -> QMouseEvent:
    """The left button's, or a move with it."""
    up = kind is QEvent.Type.MouseButtonRelease
    button = Qt.MouseButton.NoButton if kind is QEvent.Type.MouseMove else LEFT
    return QMouseEvent(
        kind, at, QPointF(widget.mapToGlobal(at)), button, Qt.MouseButton.NoButton if up else LEFT, PLAIN
    )


def leave(window: QWidget) -> None:
    """Close it as Escape does."""
    later(window.reject if isinstance(window, QDialog) else window.close)
