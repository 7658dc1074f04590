"""Keeps a copy of unsaved work, a moment after each change, and knows what earlier windows left behind.

A thread writes the copies, from the plan, which never changes; it touches nothing of Qt, and the window looks
now and then whether it is done. During a drag the plan is the one before it, which is kept already.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import Final

from PySide6.QtCore import QObject, QTimer, Signal

from app.plan.atomic import WriteError, clear_strays
from app.plan.model import Plan
from app.plan.plan_file import fingerprint, read_plan
from app.plan.recovery import (
    Left,
    Origin,
    Recovered,
    Recovery,
    clear_dead,
    left_behind,
    read_left,
    remove,
)
from app.sketch.translate import tr
from app.window.locks import Lock, clear_dead_locks, is_held
from app.window.session import Session
from geometry import WedgewrightError

SOON_MS: Final = 300
"""From the first change that is not kept to its writing."""
_AGAIN_MS: Final = 5000
"""After a copy that could not be written."""
_LOOK_MS: Final = 25
_LONGEST: Final = 10.0
"""s that a window waits for its last copy."""


class Keeper(QObject):
    """One window's copy."""

    failed = Signal(str)
    """No copy could be written; said once, until one could."""

    def __init__(
        self,
        session: Session,
        origin: Callable[[], Origin],
        root: Path,
        parent: QObject | None = None,
    ) -> None:
        """``origin``: which file the plan belongs to; ``root``: where all windows keep their copies."""
        super().__init__(parent)
        self._session = session
        self._origin = origin
        self._root = root
        self._own = Recovery(root)
        self._lock = Lock(self._own.lock)
        self._mine = False
        """Whether the lock is held; it is taken when there is something to keep."""
        self._writer = ThreadPoolExecutor(1, "keeper")
        self._kept: Plan | None = session.history.committed
        self._has_copy = False
        self._told = False
        self._job: Future[None] | None = None
        self._soon = QTimer(self, singleShot=True)
        self._soon.timeout.connect(self._begin)
        self._look = QTimer(self, interval=_LOOK_MS)
        self._look.timeout.connect(self._look_after)
        session.plan_changed.connect(self._consider)
        self._consider()

    # --- this window's work -------------------------------------------------------------------------

    def rescue(self) -> str:
        """Keep the plan as it is now, before anything else is done; from any thread.

        Returns nothing where it is kept, or needs not be, else the sentence that says why it is not.
        """
        try:
            if not self._session.history.is_clean:
                self._writer.submit(self._keep, self._session.history.committed).result(_LONGEST)
        except Exception as error:  # nothing may come between an error and its being told
            return str(error) or type(error).__name__
        return ""

    def close(self) -> None:
        """The window goes, and its work was saved or given up."""
        self._soon.stop()
        self._look.stop()
        with suppress(Exception):  # a copy that stays is offered at the next start; the window may go
            self._writer.submit(self._own.clear).result(_LONGEST)
        self._session.plan_changed.disconnect(self._consider)
        self._lock.release()
        self._own.end()
        self._writer.shutdown(wait=False)

    def _consider(self) -> None:
        if self._job is None and not self._soon.isActive() and self._is_news():
            self._soon.start(SOON_MS)

    def _is_news(self) -> bool:
        history = self._session.history
        if history.committed is not self._kept:
            return True
        # Not compared at every move of the hand: what is saved does not change then.
        return self._has_copy and not history.in_drag and history.is_clean

    def _begin(self) -> None:
        history = self._session.history
        self._kept = history.committed
        if not history.is_clean:
            self._job = self._writer.submit(self._keep, self._kept)
        elif self._has_copy:
            self._has_copy = False
            self._job = self._writer.submit(self._own.clear)
        else:
            return
        self._look.start()

    def _keep(self, plan: Plan) -> None:
        if not self._mine:
            with suppress(OSError):  # said by ``keep``
                self._own.make()
                self._mine = self._lock.take()
        self._own.keep(plan, self._origin())
        self._has_copy = True

    def _look_after(self) -> None:
        job = self._job
        if job is None or not job.done():
            return
        self._job = None
        self._look.stop()
        error = job.exception()
        if error is None:
            self._told = False
            self._consider()
            return
        self._kept = None
        self._soon.start(_AGAIN_MS)
        if not isinstance(error, (WriteError, OSError)):
            raise error
        if not self._told:
            self._told = True
            self.failed.emit(
                tr("For now no copy of your unsaved work can be kept ({why}): save the plan", why=str(error))
            )

    # --- what others left ---------------------------------------------------------------------------

    def left(self) -> list[Left]:
        """Copies of windows that ended before their work was saved, the latest first.

        One that its file holds already is let go: its window ended between saving and clearing up.
        """
        found = []
        for left in left_behind(self._root, is_held):
            if _is_saved(left):
                self.throw_away(left)
            else:
                found.append(left)
        return found

    def take_over(self, left: Left, use: Callable[[Recovered], bool]) -> None:
        """Read ``left``, give it to ``use``, and when it is kept as this window's own, let the other go.

        Where ``use`` answers False, and where it could not be kept anew, the other copy stays. Raises
        ``WedgewrightError``, with the same.
        """
        lock = Lock(left.lock)
        mine = lock.take()
        try:
            if use(read_left(left)) and not self.rescue():
                with suppress(OSError):
                    remove(left)
        finally:
            if mine:
                lock.release()

    def throw_away(self, left: Left) -> None:
        """For good."""
        with suppress(OSError):
            remove(left)

    def clear_up(self, folders: Iterable[Path]) -> None:
        """Remove what processes that are gone left half done, here and in ``folders``, beside the work."""
        places = {*folders, *(left.origin.file.parent for left in self.left() if left.origin.file)}
        # Not by the writer: a folder far away in the network may let it wait.
        threading.Thread(target=_clear_up, args=(self._root, places), name="clear up", daemon=True).start()


def _is_saved(left: Left) -> bool:
    """Whether the plan's file holds the same."""
    file = left.origin.file
    if file is None or fingerprint(file) == left.origin.fingerprint:
        return False
    try:
        return read_left(left).plan == read_plan(file)
    except WedgewrightError:
        return False


def _clear_up(root: Path, folders: Iterable[Path]) -> None:
    with suppress(OSError):
        clear_dead(root, is_held)
    for folder in folders:
        with suppress(OSError):
            clear_strays(folder, _runs)
            clear_dead_locks(folder)


def _runs(pid: int) -> bool:
    if os.name == "nt":  # there os.kill ends what it asks about
        return True
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True
