"""Fingers on the canvas: one does what the mouse does, two move the view and zoom it."""

from __future__ import annotations

import math
from typing import Final, Protocol

from PySide6.QtCore import QElapsedTimer, QEvent, QPointF
from PySide6.QtGui import QEventPoint, QGuiApplication, QTouchEvent

_TAP_APART: Final = 24.0
"""px. Two taps this close, one soon after the other, are a double click."""


class Hand(Protocol):
    """What fingers do to a canvas. Places are logical pixels."""

    def hand_down(self, at: QPointF, *, free: bool = False) -> None:
        """As the mouse button goes down."""

    def hand_twice(self, at: QPointF, *, free: bool = False) -> None:
        """As it goes down for the second time of a double click."""

    def hand_moves(self, at: QPointF, *, free: bool = False) -> None:
        """As the mouse moves."""

    def hand_up(self, at: QPointF, *, free: bool = False) -> None:
        """As the button comes up."""

    def hand_lost(self) -> None:
        """What began with ``hand_down`` was not meant: as if it had not begun."""

    def pan_and_zoom(self, by: QPointF, factor: float, at: QPointF) -> None:
        """Move the view by ``by`` and zoom it about ``at``."""


class Touch:
    """Follows one touch from the first finger down to the last one up."""

    def __init__(self, hand: Hand) -> None:
        self._hand = hand
        self._first: int | None = None
        """The finger that does what the mouse does, while it is alone."""
        self._pair: tuple[QPointF, float] | None = None
        """The middle of two fingers, and how far apart they are."""
        self._tapped_at = QPointF()
        self._since_tap = QElapsedTimer()

    def take(self, event: QTouchEvent) -> None:
        """One event of Qt's."""
        points = list(event.points())
        down = [point for point in points if point.state() is not QEventPoint.State.Released]
        if event.type() == QEvent.Type.TouchCancel:
            self._lose()
            self._pair = None
        elif len(down) >= 2:
            self._lose()
            self._two(down[0].position(), down[1].position())
        elif event.type() == QEvent.Type.TouchBegin:
            self._begin(points[0])
        elif self._first is not None:
            self._one(next((point for point in points if point.id() == self._first), points[0]))
        elif not down:
            self._pair = None  # a finger that stays of two does nothing until it is lifted
        event.accept()

    def _begin(self, point: QEventPoint) -> None:
        at = point.position()
        self._first, self._pair = point.id(), None
        soon = QGuiApplication.styleHints().mouseDoubleClickInterval()
        apart = at - self._tapped_at
        again = self._since_tap.isValid() and self._since_tap.elapsed() < soon
        self._since_tap.invalidate()
        if again and math.hypot(apart.x(), apart.y()) <= _TAP_APART:
            self._hand.hand_twice(at)
        else:
            self._tapped_at = at
            self._since_tap.start()
            self._hand.hand_moves(at)  # so that what lies under the finger is known
            self._hand.hand_down(at)

    def _one(self, point: QEventPoint) -> None:
        if point.state() is QEventPoint.State.Released:
            self._first = None
            self._hand.hand_up(point.position())
        elif point.state() is QEventPoint.State.Updated:
            self._hand.hand_moves(point.position())

    def _two(self, one: QPointF, other: QPointF) -> None:
        middle = (one + other) / 2
        apart = math.hypot(one.x() - other.x(), one.y() - other.y())
        if self._pair is not None:
            before, was_apart = self._pair
            factor = apart / was_apart if was_apart > 1 and apart > 1 else 1.0
            self._hand.pan_and_zoom(middle - before, factor, middle)
        self._pair = (middle, apart)

    def _lose(self) -> None:
        if self._first is not None:
            self._first = None
            self._since_tap.invalidate()
            self._hand.hand_lost()
