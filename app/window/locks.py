"""Who works on a plan: one window at a time, whatever links it was opened by. Needs no more than QtCore."""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from PySide6.QtCore import QLockFile, QStandardPaths

from app.plan.atomic import TEMP_PREFIX
from app.sketch.translate import tr
from geometry import WedgewrightError

_PATIENCE: Final = 200
"""ms. Somebody who only looks whether the owner lives holds a lock for a moment."""
_HALF_MADE: Final = 1.0
"""s after which a lock that names no owner is of one that was ended while it made it."""
_ENDING: Final = ".lock"


class HeldError(WedgewrightError):
    """Another process works on the plan."""


class Lock:
    """Held by one process at a time. One that was left by a process that is gone is taken over."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file = QLockFile(str(path))
        self._file.setStaleLockTime(0)  # however long somebody works, it stays theirs

    def take(self) -> bool:
        """Whether it is ours now. Where not, ``is_held`` and ``holder`` say why."""
        if self._file.tryLock(_PATIENCE):
            return True
        if self.is_held and not self._file.getLockInfo()[0]:
            time.sleep(max(0.0, min(_HALF_MADE, _HALF_MADE - _age(self.path))))
            if not self._file.getLockInfo()[0] and self._file.removeStaleLockFile():
                return bool(self._file.tryLock(_PATIENCE))
        return False

    @property
    def is_mine(self) -> bool:
        """Whether it is ours."""
        return bool(self._file.isLocked())

    @property
    def is_held(self) -> bool:
        """After ``take`` failed: True where another has it, False where no lock can be made there."""
        return self._file.error() is QLockFile.LockError.LockFailedError

    @property
    def holder(self) -> str:
        """Who has it, as far as the system says."""
        pid, machine, _ = self._file.getLockInfo()
        try:
            user = self.path.owner()
        except (OSError, KeyError, NotImplementedError):
            user = ""
        if not pid:
            return user or tr("somebody")
        if user:
            return tr("{user} on {machine}, process {pid}", user=user, machine=machine, pid=pid)
        return tr("{machine}, process {pid}", machine=machine, pid=pid)

    def release(self) -> None:
        """Give it back, if it is ours."""
        self._file.unlock()


def plan_lock(path: Path) -> Lock:
    """The lock of the plan at ``path``: beside the file itself, whatever links lead there.

    Beside it, so that it also holds for others who see the folder. Qt cannot name a folder that is no UTF-8:
    for plans in one the lock lies in the user's own folder.
    """
    real = Path(os.path.realpath(path))
    whole = os.fsencode(os.path.normcase(real))
    try:
        os.fsencode(real.parent).decode()
    except UnicodeDecodeError:
        folder = data_folder() / "locks"
        folder.mkdir(parents=True, exist_ok=True)
        return Lock(folder / f"{hashlib.sha256(whole).hexdigest()[:32]}{_ENDING}")
    name = os.fsencode(os.path.normcase(real.name))
    return Lock(real.with_name(f"{TEMP_PREFIX}{hashlib.sha256(name).hexdigest()[:16]}{_ENDING}"))


def held(path: Path, lock: Lock) -> HeldError:
    """That the plan at ``path`` cannot be written, as somebody has ``lock``."""
    return HeldError(
        tr("not saved: it is open in another window ({holder})", holder=lock.holder),
        where=f"“{path.name}”",
        do=tr("close it there, or save as another plan"),
    )


@contextmanager
def working_on(path: Path) -> Iterator[None]:
    """Nobody else works on the plan at ``path`` meanwhile. Raises ``HeldError`` where somebody does."""
    lock = plan_lock(path)
    if not lock.take() and lock.is_held:
        raise held(path, lock)
    # Where no lock can be made nothing can be written either, and writing says why.
    try:
        yield
    finally:
        lock.release()


def is_held(path: Path) -> bool:
    """Whether somebody who lives holds the lock at ``path``. One of the dead is removed."""
    lock = Lock(path)
    if lock.take():
        lock.release()
        return False
    return lock.is_held


def clear_dead_locks(folder: Path) -> None:
    """Remove the locks of plans in ``folder`` whose owners are gone."""
    for path in folder.glob(f"{TEMP_PREFIX}*{_ENDING}"):
        is_held(path)


def data_folder() -> Path:
    """Where what is kept for the user lies, with a window and without."""
    place = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.GenericDataLocation)
    return Path(place) / "Wedgewright"


def _age(path: Path) -> float:
    """s; a clock that was set back does not count."""
    try:
        return abs(time.time() - path.stat().st_mtime)
    except OSError:
        return _HALF_MADE
