"""Tells when the hand rests."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QObject, QTimer, Signal

REST_MS: Final = 120
"""A hand that has not moved for so long rests: below it the fine picture would come between two moves."""


class Rest(QObject):
    """Emits ``rested`` once, ``REST_MS`` after the last ``stir``."""

    rested = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(REST_MS)
        self._timer.timeout.connect(self.rested)

    @property
    def resting(self) -> bool:
        """True where nothing stirred of late."""
        return not self._timer.isActive()

    def stir(self) -> None:
        """The hand moved."""
        self._timer.start()

    def settle(self) -> None:
        """It rests now: where something stirred, ``rested`` comes at once."""
        if not self.resting:
            self._timer.stop()
            self.rested.emit()
