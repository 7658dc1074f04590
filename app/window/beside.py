"""Long work beside the window, in a thread: it tells how far it is, and Stop is answered at once.

The thread touches nothing of Qt and nothing of the plan. What is stopped may run on to its next look; what
it then finds is thrown away.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Final, Generic, TypeVar

from PySide6.QtCore import QEventLoop, QObject, QTimer, Signal
from PySide6.QtWidgets import QWidget

from app.importing import Progress
from app.window.print_work import progress_box

_PATIENCE: Final = 0.2
"""s that work may take before a window says how far it is."""
_LOOK_MS: Final = 25

T = TypeVar("T")


class _LeftError(Exception):
    """Nobody waits for it any more."""


class _Job(threading.Thread, Generic[T]):
    """One piece of work."""

    def __init__(self, work: Callable[[Progress], T]) -> None:
        super().__init__(name="beside the window", daemon=True)
        self._work = work
        self._left = False
        self.answer: T | None = None
        self.error: BaseException | None = None
        self.done = (0, 0)

    def leave(self) -> None:
        """Its answer is not wanted any more."""
        self._left = True

    def run(self) -> None:
        try:
            self.answer = self._work(self._went_on)
        except BaseException as error:  # raised again where the answer is waited for
            self.error = error

    def _went_on(self, done: int, of: int) -> None:
        if self._left:
            raise _LeftError
        self.done = (done, of)


def beside(parent: QWidget, words: str, work: Callable[[Progress], T]) -> T | None:
    """What ``work`` gives, which calls what it is given now and then; None where the user stopped it.

    What it raises is raised here. After a moment a window over ``parent`` says ``words``, and how far it is.
    """
    job = _Job(work)
    job.start()
    job.join(_PATIENCE)
    if job.is_alive():
        _wait(parent, words, job)
    if job.is_alive():
        job.leave()
        return None
    if job.error is not None:
        raise job.error
    return job.answer


def _wait(parent: QWidget, words: str, job: _Job[T]) -> None:
    """Until ``job`` is done, or stopped."""
    box = progress_box(parent, words)
    loop, timer = QEventLoop(), QTimer()

    def look() -> None:
        done, of = job.done
        if box.maximum() != of:
            box.setMaximum(of)
        if done < of:  # at its end the box would take itself for done
            box.setValue(done)
        if not job.is_alive():
            loop.quit()

    timer.timeout.connect(look)
    box.canceled.connect(loop.quit)
    box.rejected.connect(loop.quit)
    timer.start(_LOOK_MS)
    loop.exec()
    timer.stop()
    box.canceled.disconnect(loop.quit)  # to close it is no Stop
    box.close()
    box.deleteLater()


class Latest(QObject, Generic[T]):
    """The answer to what was asked last; whatever is asked meanwhile, the window goes on."""

    answered = Signal(object)
    """What the work gave, or the exception that it ended with."""
    waiting = Signal(bool)
    """Whether an answer takes so long that one should say so."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._job: _Job[T] | None = None
        self._look = QTimer(self)
        self._look.setInterval(_LOOK_MS)
        self._look.timeout.connect(self._look_after)
        self._late = QTimer(self)
        self._late.setSingleShot(True)
        self._late.setInterval(round(1000 * _PATIENCE))
        self._late.timeout.connect(lambda: self.waiting.emit(True))

    @property
    def is_working(self) -> bool:
        """Whether an answer is still to come."""
        return self._job is not None

    def ask(self, work: Callable[[Progress], T], *, at_once: float = 0.03) -> None:
        """Begin with ``work``; what was asked before is thrown away. ``at_once``: s to wait for it here."""
        self.stop()
        self._job = _Job(work)
        self._job.start()
        self._job.join(at_once)
        if self._job.is_alive():
            self._look.start()
            self._late.start()
        else:
            self._look_after()

    def stop(self) -> None:
        """The answer is not wanted any more."""
        if self._job is not None:
            self._job.leave()
            self._end()

    def _end(self) -> None:
        self._job = None
        self._look.stop()
        self._late.stop()
        self.waiting.emit(False)

    def _look_after(self) -> None:
        job = self._job
        if job is None or job.is_alive():
            return
        self._end()
        answer = job.error if job.error is not None else job.answer
        if answer is not None:  # else the thread broke down, which is told by itself
            self.answered.emit(answer)
