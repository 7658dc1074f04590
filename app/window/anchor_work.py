"""The anchor map and the suggestions of the chosen patch, worked out beside the window in a thread.

The thread touches nothing of Qt and nothing of the plan: it gets a patch of its own, and the window looks
now and then whether it is done. While a hand drags it waits, as both would share one interpreter.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Final, TypeAlias

from PySide6.QtCore import QObject, QTimer, Signal

from app.sketch.anchor_map_display import MapSigns, map_signs
from app.window.session import Session
from geometry import Patch, Settings
from geometry.anchors import Suggestion, anchor_map, suggest

REST_MS: Final = 250
"""Work begins when nothing changed for so long."""
_LOOK_MS: Final = 25
_SAID_AFTER: Final = 0.5
"""s. Work that is done sooner says nothing."""
_KEPT: Final = 32
"""Answers kept: maps and suggestions of the patches and settings that were worked on last."""

_Key: TypeAlias = tuple[str, Patch, Settings]
_Answer: TypeAlias = MapSigns | tuple[Suggestion, ...]


class AnchorWork(QObject):
    """Knows, or finds out, which anchors of the chosen patch are good."""

    changed = Signal()
    """There is another answer, another patch or other settings, or the work went on."""

    def __init__(
        self, session: Session, hand_moves: Callable[[], bool] = lambda: False, parent: QObject | None = None
    ) -> None:
        """``hand_moves``: whether the hand drags something now."""
        super().__init__(parent)
        self._session = session
        self._hand_moves = hand_moves
        self._wanted: frozenset[str] = frozenset()
        self._answers: dict[_Key, _Answer] = {}
        self._given_up: set[_Key] = set()
        self._job: _Job | None = None
        self._begun = 0.0
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.setInterval(REST_MS)
        self._soon.timeout.connect(self._begin)
        self._look = QTimer(self)
        self._look.setInterval(_LOOK_MS)
        self._look.timeout.connect(self._look_after)
        session.fit_changed.connect(self._consider)
        session.plan_changed.connect(self._consider)
        session.chosen_changed.connect(self._consider)

    def want(self, *, map_: bool, suggestions: bool) -> None:
        """Which of the two are needed; what is not is not worked on."""
        names = (("map", map_), ("suggestions", suggestions))
        wanted = frozenset(name for name, needed in names if needed)
        if wanted != self._wanted:
            self._wanted = wanted
            self._consider()

    @property
    def signs(self) -> MapSigns | None:
        """The anchor map of the chosen patch, as signs; None where it is not known (yet)."""
        key = self._key("map")
        found = None if key is None else self._answers.get(key)
        return found if isinstance(found, MapSigns) else None

    @property
    def suggestions(self) -> tuple[Suggestion, ...] | None:
        """Anchors of the chosen patch, best first; None where they are not known (yet)."""
        key = self._key("suggestions")
        found = None if key is None else self._answers.get(key)
        return found if isinstance(found, tuple) else None

    @property
    def best(self) -> Suggestion | None:
        """The best of them; None where that is not known (yet)."""
        return next(iter(self.suggestions or ()), None)

    def progress(self, kind: str) -> tuple[int, int] | None:
        """How much of the ``map`` or the ``suggestions`` is done, and of how much; None where nobody works on
        it, or not for long yet.
        """
        job = self._job
        if job is None or job.key[0] != kind or time.monotonic() - self._begun < _SAID_AFTER:
            return None
        return job.done, job.total

    @property
    def gave_up(self) -> bool:
        """Whether the suggestions of the chosen patch were not wanted any more while they were looked for."""
        return self._key("suggestions") in self._given_up

    def give_up(self) -> None:
        """Leave off what runs, and do not begin it again before ``take_up``."""
        if self._job is not None:
            self._given_up.add(self._job.key)
            self.stop()
            self._consider()

    def take_up(self) -> None:
        """What was given up is wanted after all."""
        if self._given_up:
            self._given_up.clear()
            self._consider()

    @property
    def is_working(self) -> bool:
        """True where something that is wanted is not known yet."""
        return self._next() is not None

    def stop(self) -> None:
        """Forget what runs; the thread ends at its next look."""
        self._soon.stop()
        self._look.stop()
        if self._job is not None:
            self._job.leave_off()
            self._job = None

    # ------------------------------------------------------------------------------------------------

    def _key(self, kind: str) -> _Key | None:
        piece = self._session.piece
        if piece is None:
            return None
        return kind, piece.patch(), _only_what_counts(piece.settings)

    def _next(self) -> _Key | None:
        """What is to be worked out next: suggestions first, they are sooner done."""
        for kind in ("suggestions", "map"):
            key = self._key(kind) if kind in self._wanted else None
            if key is not None and key not in self._answers and key not in self._given_up:
                return key
        return None

    def _consider(self) -> None:
        """Leave off what is not wanted any more, and see whether something else is."""
        job = self._job
        if job is not None:
            if job.key[0] not in self._wanted or job.key != self._key(job.key[0]):
                self.stop()
            else:
                job.wait_while(self._hand_moves())
        if self._hand_moves():
            self._soon.stop()
            return
        if self._job is None and self._next() is not None:
            self._soon.start()
        self.changed.emit()

    def _begin(self) -> None:
        key = self._next()
        if key is None or self._job is not None:
            return
        if self._hand_moves():  # it only pressed so far
            self._soon.start()
            return
        self._job = _Job(key)
        self._begun = time.monotonic()
        self._job.start()
        self._look.start()

    def _look_after(self) -> None:
        job = self._job
        if job is None:
            self._look.stop()
            return
        if job.is_alive():
            if self.progress(job.key[0]) is not None:
                self.changed.emit()
            return
        self._look.stop()
        self._job = None
        if job.error is not None:
            self._wanted = frozenset()  # once is enough
            raise job.error
        if job.answer is not None:
            self._answers[job.key] = job.answer
            while len(self._answers) > _KEPT:
                self._answers.pop(next(iter(self._answers)))
        self._consider()


class _Job(threading.Thread):
    """One map, or the suggestions, of one patch."""

    def __init__(self, key: _Key) -> None:
        super().__init__(name=f"anchor {key[0]}")
        self.key = key
        self.answer: _Answer | None = None
        self.error: Exception | None = None
        self.done = 0
        self.total = 0
        self._left = False
        self._may_go_on = threading.Event()
        self._may_go_on.set()

    def leave_off(self) -> None:
        self._left = True
        self._may_go_on.set()

    def wait_while(self, hand_moves: bool) -> None:
        if hand_moves and not self._left:
            self._may_go_on.clear()
        else:
            self._may_go_on.set()

    def run(self) -> None:
        kind, of, settings = self.key
        try:
            patch = Patch(of.outline, of.holes)  # the window works with the other at the same time
            if kind == "map":
                found = anchor_map(patch, settings, progress=self._went_on)
                self.answer = None if self._left else map_signs(found, settings.visible_width)
            else:
                found_best = suggest(patch, settings, progress=self._went_on)
                self.answer = None if self._left else found_best
        except Exception as error:  # said where the window's errors are said
            self.error = error

    def _went_on(self, done: int, total: int) -> bool:
        self.done, self.total = done, total
        if done < total:
            self._may_go_on.wait()
        return not self._left


_COUNTS_NOT: Final = (
    "hold_back", "stagger", "echo_count", "echo_spacing", "anchor_disc", "anchor_passes", "wobble",
    "stitch_length", "quilt_thickness", "thread_tail", "stitches_per_minute", "seconds_per_turn",
    "batting_width", "divide", "clockwise", "first_wedge", "start", "spiral", "cloth_turned", "least_turning",
    "along_seam", "bobbin_capacity",
)  # fmt: skip
"""Settings that change neither what an anchor sees nor its wedges."""


def _only_what_counts(settings: Settings) -> Settings:
    usual = Settings()
    return replace(settings, **{name: getattr(usual, name) for name in _COUNTS_NOT})
