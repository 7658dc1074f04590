"""Writing a file so that a failure at any moment leaves the old bytes or the new ones, never a mixture."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path

from geometry.errors import WedgewrightError

TEMP_PREFIX = ".wedgewright-"
"""Every temporary file begins so, then come machine and process of its owner. Not the target's name: with it
a name of 255 bytes would get too long."""

_LONGEST_NAME = 255  # bytes: the limit of the usual file systems

_NOT_SUPPORTED = {errno.EINVAL, errno.ENOTSUP}
"""What fsync of a folder answers on file systems that have no such thing; there is nothing to wait for."""


class WriteError(WedgewrightError):
    """A file that could not be written. What stood there before is untouched."""


def previous_path(path: Path) -> Path:
    """Where the version before the last save of ``path`` is kept: beside it, with a ``~`` at the end."""
    name = path.name
    while len(os.fsencode(name)) >= _LONGEST_NAME:
        name = name[:-1]
    return path.with_name(name + "~")


def atomic_write(path: Path, data: bytes, *, keep_previous: bool = False) -> None:
    """Write ``data`` to ``path``: to a temporary file beside it, synced, renamed, the folder synced.

    Writes to a link's target, keeps the permissions, and with ``keep_previous`` the bytes that are
    replaced (``previous_path``). Raises ``WriteError``; ``path`` then holds what it held before, or,
    where only the sync of the folder failed, the new bytes whole.
    """
    try:
        target = Path(os.path.realpath(path))
        old = _what_stands_there(target)
        temp = _temp_beside(target)
        try:
            _write_synced(temp, data, like=old)
            if keep_previous and old is not None and not _holds(target, old, data):
                _keep_previous(target)
            os.replace(temp, target)
        finally:
            # After the rename there is none; after an error or Ctrl-C there must be none.
            with suppress(OSError):
                os.unlink(temp)
        _sync_folder(target.parent)
    except OSError as error:
        raise _worded(error, path) from error
    except ValueError as error:  # a name with a NUL, or one that the file system cannot encode
        raise WriteError(
            "no file can have this name", where=repr(path.name), do="choose another name"
        ) from error


def _what_stands_there(target: Path) -> os.stat_result | None:
    try:
        old = os.stat(target)
    except FileNotFoundError:
        return None
    if target.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if not target.is_file():
        raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))
    # A rename would go past a write protection of the file itself: opening it asks the system.
    os.close(os.open(target, os.O_WRONLY))
    return old


def _temp_beside(target: Path) -> Path:
    import secrets  # brings cryptography along, which nobody who only reads needs

    return target.with_name(f"{_own_prefix()}{os.getpid()}-{secrets.token_hex(6)}.tmp")


@cache
def _own_prefix() -> str:
    """What the temporary files of this machine begin with; a folder may be seen from several."""
    import hashlib
    import platform

    return f"{TEMP_PREFIX}{hashlib.sha256(platform.node().encode()).hexdigest()[:8]}-"


def clear_strays(folder: Path, runs: Callable[[int], bool]) -> None:
    """Remove temporary files that processes of this machine left in ``folder`` when they were ended.

    ``runs``: whether the process of that number runs. Files of others, and what cannot be removed, stay.
    """
    prefix = _own_prefix()
    try:
        names = os.listdir(folder)
    except OSError:
        return
    for name in names:
        if name.startswith(prefix) and name.endswith(".tmp"):
            owner = name[len(prefix) :].split("-")[0]
            if owner.isdecimal() and not runs(int(owner)):
                with suppress(OSError):
                    os.unlink(folder / name)


def _write_synced(temp: Path, data: bytes, like: os.stat_result | None) -> None:
    # O_BINARY exists on Windows only, and there a line feed would become two bytes without it.
    handle = os.open(temp, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        if like is not None:
            if hasattr(os, "fchown"):
                with suppress(PermissionError):  # only an owner may give a file away; the mode counts more
                    os.fchown(handle, like.st_uid, like.st_gid)
            os.chmod(temp, like.st_mode & 0o7777)
        rest = memoryview(data)
        while rest:
            rest = rest[os.write(handle, rest) :]
        os.fsync(handle)
    finally:
        os.close(handle)


def _holds(target: Path, old: os.stat_result, data: bytes) -> bool:
    """Saved again unchanged: then the previous version is still the one before."""
    return old.st_size == len(data) and target.read_bytes() == data


def _keep_previous(target: Path) -> None:
    spare = _temp_beside(target)
    try:
        try:
            os.link(target, spare)
        except OSError:  # no hard links here (FAT, some network folders)
            shutil.copy2(target, spare)
            handle = os.open(spare, os.O_RDWR)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)
        os.replace(spare, previous_path(target))
    finally:
        with suppress(OSError):
            os.unlink(spare)


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":  # a folder cannot be opened there, and a rename is in the journal
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in _NOT_SUPPORTED:
            raise
    finally:
        os.close(handle)


def _worded(error: OSError, path: Path) -> WriteError:
    what, do = _WORDS.get(error.errno or 0, (_plain(error), "save in another folder"))
    return WriteError(f"not saved: {what}", where=f"“{path.name}”", do=do)


def _plain(error: OSError) -> str:
    return (error.strerror or str(error) or "it cannot be written").rstrip(".").lower()


_FULL = ("the disk is full", "make room, or save in another place")
_PROTECTED = ("the file or its folder is write-protected", "save in another folder or under another name")
_WORDS: dict[int, tuple[str, str]] = {
    errno.ENOSPC: _FULL,
    errno.EDQUOT: _FULL,
    errno.EFBIG: _FULL,
    errno.EACCES: _PROTECTED,
    errno.EPERM: _PROTECTED,
    errno.EROFS: _PROTECTED,
    errno.ENOENT: ("its folder is not there any more", "save in another folder"),
    errno.ENOTDIR: ("its folder is not there any more", "save in another folder"),
    errno.EISDIR: ("there is a folder of that name", "choose another name"),
    errno.ENODEV: ("that is no file but a device or a pipe", "choose another name"),
    errno.ENAMETOOLONG: ("the name is too long", "choose a shorter name"),
    errno.EIO: ("the disk reports an error", "save on another disk"),
}
