"""What was not saved when the program ended: a copy of each window's plan, to be opened again. No Qt.

Every window has a folder of its own under one root::

    root/<window>/owner.lock      held for as long as the window lives, by whoever calls
    root/<window>/plan.recovery   a checksum, a line about the copy, the plan; wholly or not at all
    root/<window>/part-<sha256>   what is large and seldom changes, such as a photo: stored once

A copy goes when its plan is saved or given up, and never because somebody does not want it now. Whether an
owner lives is asked of the caller.
"""

from __future__ import annotations

import getpass
import hashlib
import json
import os
import platform
import secrets
import shutil
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from app.plan.atomic import WriteError, atomic_write
from app.plan.model import Plan
from app.plan.plan_file import decode_parts, encode_parts
from geometry.errors import WedgewrightError

VERSION: Final = 1
LOCK: Final = "owner.lock"
_COPY: Final = "plan.recovery"
_PART: Final = "part-"

_TITLE: Final = 200
"""Characters of a plan's title that are enough to know it by."""


class RecoveryError(WedgewrightError):
    """A copy that cannot be read. It stays where it is."""


@dataclass(frozen=True, slots=True)
class Origin:
    """The file that a plan belongs to (None: never named), and what it held when it was read or written."""

    file: Path | None = None
    fingerprint: str | None = None


@dataclass(frozen=True, slots=True)
class Left:
    """A copy that a window left behind."""

    folder: Path
    origin: Origin = Origin()
    title: str = ""
    patches: int = 0
    when: float = 0.0
    """Seconds since 1970, by the clock of the machine that wrote it."""
    by: str = ""
    """User, machine and process that wrote it."""

    @property
    def lock(self) -> Path:
        """Held by the window that the copy is of."""
        return self.folder / LOCK


@dataclass(frozen=True, slots=True)
class Recovered:
    """A copy that was read."""

    plan: Plan
    origin: Origin


class Recovery:
    """The copy of one window's plan. One thread at a time."""

    def __init__(self, root: Path) -> None:
        """``root``: where all windows keep theirs. Nothing is written yet."""
        self.folder = root / f"{os.getpid()}-{secrets.token_hex(6)}"

    @property
    def lock(self) -> Path:
        """What the owner holds for as long as it lives; its folder must be there first (``make``)."""
        return self.folder / LOCK

    def make(self) -> None:
        """Make the folder, which only its user may look into. Raises ``OSError``."""
        self.folder.parent.mkdir(parents=True, exist_ok=True)
        self.folder.mkdir(mode=0o700, exist_ok=True)

    def keep(self, plan: Plan, origin: Origin) -> None:
        """Keep ``plan`` in place of what was kept before; a part that is there already is not written again.

        Raises ``WriteError``; the copy before is then untouched.
        """
        data, parts = encode_parts(plan)
        try:
            self.make()
        except OSError as error:
            raise WriteError(
                f"nothing can be kept there: {(error.strerror or str(error)).lower()}",
                where=f"“{self.folder.parent}”",
            ) from error
        for name, part in parts.items():
            if not self._part(name).exists():
                atomic_write(self._part(name), part)
        head = {
            "file": None if origin.file is None else str(origin.file.absolute()),
            "fingerprint": origin.fingerprint,
            "title": plan.title[:_TITLE],
            "patches": len(plan.patches),
            "when": time.time(),
            "by": _present(),
            "parts": sorted(parts),
        }
        # In ASCII, which also holds a file's name that is no UTF-8.
        rest = json.dumps(head, ensure_ascii=True).encode() + b"\n" + data
        atomic_write(self.folder / _COPY, _first_line(rest) + rest)
        for spare in self.folder.glob(f"{_PART}*"):
            if spare.name.removeprefix(_PART) not in parts:
                spare.unlink(missing_ok=True)

    def clear(self) -> None:
        """The plan was saved, or given up. Raises ``OSError``."""
        _clear(self.folder)

    def end(self) -> None:
        """The window closed; its lock was given back. A copy that was not cleared stays."""
        with suppress(OSError):
            self.folder.rmdir()

    def _part(self, name: str) -> Path:
        return self.folder / f"{_PART}{name}"


def left_behind(root: Path, alive: Callable[[Path], bool]) -> list[Left]:
    """The copies of windows that are gone, the latest first. ``alive``: whether somebody holds that lock."""
    found = [
        _described(folder)
        for folder in _folders(root)
        if (folder / _COPY).is_file() and not alive(folder / LOCK)
    ]
    return sorted(found, key=lambda left: -left.when)


def read_left(left: Left) -> Recovered:
    """What ``left`` holds. Raises ``RecoveryError``, and ``PlanFileError`` for a newer Wedgewright's."""
    where = f"“{left.origin.file.name if left.origin.file else left.title or left.folder.name}”"
    try:
        head, data = _head_and_plan((left.folder / _COPY).read_bytes())
        parts = {name: (left.folder / f"{_PART}{name}").read_bytes() for name in head["parts"]}
    except FileNotFoundError:
        raise RecoveryError(
            "this copy is not there any more", where=where, do="look whether another window has opened it"
        ) from None
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise _spoilt(where) from error
    if any(hashlib.sha256(part).hexdigest() != name for name, part in parts.items()):
        raise _spoilt(where)
    return Recovered(decode_parts(data, parts), _origin(head))


def remove(left: Left) -> None:
    """Throw a copy away, or what another window now keeps of its own. Raises ``OSError``."""
    _clear(left.folder)
    shutil.rmtree(left.folder)


def clear_dead(root: Path, alive: Callable[[Path], bool]) -> None:
    """Remove what windows that are gone left without a copy: locks, parts, half-written files."""
    for folder in _folders(root):
        # An owner makes its folder before it locks it; so young a folder is left alone.
        young = time.time() - folder.stat().st_mtime < _YOUNG
        if not young and not (folder / _COPY).exists() and not alive(folder / LOCK):
            shutil.rmtree(folder, ignore_errors=True)


_YOUNG: Final = 60.0
"""s"""


def _clear(folder: Path) -> None:
    (folder / _COPY).unlink(missing_ok=True)  # first: without it the others are nothing
    for part in folder.glob(f"{_PART}*"):
        part.unlink(missing_ok=True)


def _folders(root: Path) -> list[Path]:
    try:
        return sorted(path for path in root.iterdir() if path.is_dir() and not path.is_symlink())
    except OSError:
        return []


def _described(folder: Path) -> Left:
    """As far as it can be read; what cannot is listed all the same, as nothing is thrown away unasked."""
    path = folder / _COPY
    when = 0.0
    try:
        when = path.stat().st_mtime
        head, _ = _head_and_plan(path.read_bytes())
        return Left(
            folder,
            _origin(head),
            str(head["title"]),
            int(head["patches"]),
            float(head["when"]),
            str(head["by"]),
        )
    except (OSError, ValueError, TypeError, KeyError):
        return Left(folder, when=when)


def _first_line(rest: bytes) -> bytes:
    return b"wedgewright-recovery %d %b\n" % (VERSION, hashlib.sha256(rest).hexdigest().encode())


def _head_and_plan(copy: bytes) -> tuple[dict[str, Any], bytes]:
    """Raises ``ValueError`` where it is no copy of this version, or damaged."""
    line, _, rest = copy.partition(b"\n")
    if line + b"\n" != _first_line(rest):
        raise ValueError("not as it was written")
    head, _, data = rest.partition(b"\n")
    read: dict[str, Any] = json.loads(head)
    return read, data


def _origin(head: dict[str, Any]) -> Origin:
    file = head["file"]
    return Origin(None if file is None else Path(file), head["fingerprint"])


def _spoilt(where: str) -> RecoveryError:
    return RecoveryError(
        "this copy is damaged, or of another Wedgewright", where=where, do="it is kept; open the plan itself"
    )


def _present() -> str:
    try:
        user = getpass.getuser()
    except (OSError, KeyError, ImportError):  # a user without a name
        user = "?"
    return f"{user} @ {platform.node()}, {os.getpid()}"
