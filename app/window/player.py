"""Gives a walk its time: a timer while it plays, and everything that buttons, slider and menus do to it."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Final

from PySide6.QtCore import QObject, Qt, QTimer, Signal

from app.sketch.modes.mode import Outcome
from app.sketch.modes.walk import WalkMode

_FRAME_MS: Final = 16
"""Sixty pictures a second."""

_LONGEST: Final = 0.25
"""s: a machine that was busy for longer does not make the needle jump further than this."""


class Player(QObject):
    """Drives one ``WalkMode``."""

    moved = Signal()
    """The needle is elsewhere, or plays or pauses."""
    jumped = Signal()
    """The same, by hand and perhaps far."""
    refused = Signal(str)
    """Something was not done; the sentence that says why."""

    def __init__(
        self, mode: WalkMode, parent: QObject | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__(parent)
        self._mode = mode
        self.clock = clock
        self._last = 0.0
        self.timer = QTimer(self)
        self.timer.setTimerType(Qt.TimerType.PreciseTimer)
        self.timer.setInterval(_FRAME_MS)
        self.timer.timeout.connect(self._tick)

    def follow(self) -> None:
        """The mode may play now, or not any more."""
        playing = self._mode.playing
        if playing and not self.timer.isActive():
            self._last = self.clock()
            self.timer.start()
        elif not playing:
            self.timer.stop()
        self.moved.emit()

    def toggle(self) -> None:
        """Play or pause."""
        self._after(self._mode.toggle())

    def step(self, by: int, *, wedge: bool = False) -> None:
        """By a segment, or by a wedge."""
        self._after(self._mode.step(by, wedge=wedge))

    def to_start(self) -> None:
        """To the beginning of the path."""
        self._after(self._mode.go_to(0.0))

    def to_end(self) -> None:
        """To its end."""
        walk = self._mode.walk
        if walk is not None:
            self._after(self._mode.go_to(walk.length))

    def scrub(self, share: float) -> None:
        """To that share of its length."""
        self._after(self._mode.scrub(share))

    def hold(self) -> None:
        """The hand takes the slider."""
        self._mode.hold()
        self.follow()

    def let_go(self) -> None:
        """The hand lets go of it."""
        self._mode.let_go()
        self.follow()

    def set_speed(self, speed: float) -> None:
        """Times the pace at which the needle stitches."""
        self._mode.speed = speed
        self.moved.emit()

    def _after(self, outcome: Outcome) -> None:
        if outcome.refused:
            self.refused.emit(outcome.refused)
        self.jumped.emit()
        self.follow()

    def _tick(self) -> None:
        now = self.clock()
        self._mode.tick(min(now - self._last, _LONGEST))
        self._last = now
        self.follow()
