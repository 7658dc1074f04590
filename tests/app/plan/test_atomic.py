from __future__ import annotations

import errno
import os
import stat
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest

from app.plan import atomic
from app.plan.atomic import TEMP_PREFIX, WriteError, atomic_write, previous_path

posix = pytest.mark.skipif(
    os.name != "posix", reason="permissions, links and unprivileged users as POSIX has them"
)
OLD, NEW = b"old " * 5000, b"new bytes " * 3000


def strays(folder: Path) -> list[str]:
    return [name for name in os.listdir(folder) if name.startswith(TEMP_PREFIX)]


def test_writes_new_files_and_replaces_old_ones(tmp_path: Path) -> None:
    path = tmp_path / "plan"
    for data in (OLD, NEW, b"", b"\r\n\x00\n"):
        atomic_write(path, data)
        assert path.read_bytes() == data
    assert os.listdir(tmp_path) == ["plan"]


def test_keeps_one_version_before(tmp_path: Path) -> None:
    path = tmp_path / "plan"
    atomic_write(path, b"1", keep_previous=True)
    assert not previous_path(path).exists()
    atomic_write(path, b"2", keep_previous=True)
    atomic_write(path, b"3", keep_previous=True)
    assert (path.read_bytes(), previous_path(path).read_bytes()) == (b"3", b"2")
    atomic_write(path, b"3", keep_previous=True)
    assert previous_path(path).read_bytes() == b"2", "saving again without a change must not push it out"
    assert sorted(os.listdir(tmp_path)) == ["plan", "plan~"]


def test_keeps_the_version_before_without_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def link(*_: Any) -> None:
        raise OSError(errno.EPERM, "no links here")

    synced = []
    real = os.fsync
    monkeypatch.setattr(os, "link", link)
    monkeypatch.setattr(os, "fsync", lambda handle: (synced.append(handle), real(handle)))
    path = tmp_path / "plan"
    path.write_bytes(OLD)
    atomic_write(path, NEW, keep_previous=True)
    assert len(synced) == 3, "the new bytes, the copy, the folder"
    assert (path.read_bytes(), previous_path(path).read_bytes()) == (NEW, OLD)
    assert strays(tmp_path) == []


@posix
def test_keeps_permissions_and_writes_through_links(tmp_path: Path) -> None:
    target, link = tmp_path / "deep" / "target", tmp_path / "link"
    target.parent.mkdir()
    target.write_bytes(OLD)
    target.chmod(0o640)
    link.symlink_to(target)
    atomic_write(link, NEW, keep_previous=True)
    assert link.is_symlink()
    assert target.read_bytes() == NEW
    assert stat.S_IMODE(target.stat().st_mode) == 0o640
    assert previous_path(target).read_bytes() == OLD
    assert sorted(os.listdir(tmp_path)) == ["deep", "link"]


@posix
def test_whose_file_it_is_stays_where_the_system_lets_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "plan"
    path.write_bytes(OLD)
    path.chmod(0o640)
    owners = []

    def fchown(_: int, user: int, group: int) -> None:
        owners.append((user, group))
        raise PermissionError(errno.EPERM, "only root may give files away")

    was = path.stat()
    monkeypatch.setattr(atomic.os, "fchown", fchown)
    atomic_write(path, NEW)
    assert owners == [(was.st_uid, was.st_gid)]
    assert (path.read_bytes(), stat.S_IMODE(path.stat().st_mode)) == (NEW, 0o640)


@posix
def test_a_new_file_has_the_usual_permissions(tmp_path: Path) -> None:
    (tmp_path / "usual").write_bytes(b"")
    atomic_write(tmp_path / "ours", b"")
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "usual").stat().st_mode


@pytest.mark.skipif(sys.platform != "linux", reason="other systems limit names otherwise")
@pytest.mark.parametrize("name", ["x" * 255, "ü" * 127, "-rf", "日本 '\" quilt.wedgeplan", "👩‍🎨"])
def test_awkward_names(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    atomic_write(path, OLD, keep_previous=True)
    atomic_write(path, NEW, keep_previous=True)
    assert path.read_bytes() == NEW
    assert previous_path(path).read_bytes() == OLD
    assert len(os.fsencode(previous_path(path).name)) <= 255


@pytest.mark.skipif(sys.platform != "linux", reason="other systems do not allow such names")
def test_a_name_that_is_no_utf_8(tmp_path: Path) -> None:
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff\xfe"))
    atomic_write(path, NEW)
    assert path.read_bytes() == NEW


def test_what_cannot_be_written_says_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    for path, words in (
        (tmp_path / "folder", "“folder”: not saved: there is a folder of that name; choose"),
        (tmp_path / "none" / "plan", "“plan”: not saved: its folder is not there any more; save in"),
        (tmp_path / ("x" * 300), "not saved: the name is too long; choose"),
        (tmp_path / "nul\0", "no file can have this name; choose"),
    ):
        with pytest.raises(WriteError, match=words):
            atomic_write(path, NEW)
    assert os.listdir(tmp_path) == ["folder"]


@posix
def test_a_pipe_is_not_replaced_by_a_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(WriteError, match="a device or a pipe"):
        atomic_write(tmp_path / "pipe", NEW)
    assert stat.S_ISFIFO((tmp_path / "pipe").stat().st_mode)


@contextmanager
def unprivileged() -> Iterator[Path]:
    """A folder of, and the process run as, somebody whom permissions bind; root passes them all."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        if os.geteuid() != 0:
            yield folder
            folder.chmod(0o755)
            return
        nobody = 65534
        os.chown(folder, nobody, nobody)
        os.seteuid(nobody)
        try:
            yield folder
        finally:
            os.seteuid(0)
            folder.chmod(0o755)


@posix
def test_a_folder_or_file_that_is_write_protected() -> None:
    with unprivileged() as folder:
        path = folder / "plan"
        path.write_bytes(OLD)
        folder.chmod(0o555)
        with pytest.raises(WriteError, match="write-protected; save in another folder"):
            atomic_write(path, NEW, keep_previous=True)
        folder.chmod(0o755)
        path.chmod(0o444)
        with pytest.raises(WriteError, match="write-protected; save in another folder"):
            atomic_write(path, NEW, keep_previous=True)
        assert path.read_bytes() == OLD
        assert os.listdir(folder) == ["plan"]
        path.chmod(0o644)
        atomic_write(path, NEW)
        assert path.read_bytes() == NEW


# --- every call made to fail in turn ----------------------------------------------------------------

CALLS = ["open", "write", "fsync", "close", "chmod", "fchown", "link", "replace", "unlink", "stat"]


class Killed(BaseException):
    """As if the process were gone: nothing may be called any more."""


class Faults:
    """Counts the calls of ``os`` that a save makes, and lets call number ``at`` fail."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.seen: list[str] = []
        self.at: int | None = None
        self.error: BaseException = OSError(errno.EIO, "injected")
        self.lasting = False
        for name in CALLS:
            real = getattr(os, name, None)
            if real is not None:
                monkeypatch.setattr(atomic.os, name, self._wrapped(name, real))

    def _wrapped(self, name: str, real: Any) -> Any:
        def call(*args: Any, **kwargs: Any) -> Any:
            number = len(self.seen)
            self.seen.append(name)
            fails = self.at is not None and (number >= self.at if self.lasting else number == self.at)
            if fails:
                if name == "close" and not isinstance(self.error, Killed):
                    real(*args)  # a failing close has closed all the same
                raise self.error
            if name == "write" and len(args[1]) > 1000:
                return real(args[0], args[1][:1000])  # short writes are allowed
            return real(*args, **kwargs)

        return call


def _error(kind: str) -> BaseException:
    return {
        "EIO": OSError(errno.EIO, "injected"),
        "ENOSPC": OSError(errno.ENOSPC, "injected"),
        "killed": Killed(),
    }[kind]


@posix
@pytest.mark.parametrize("previous", [False, True])
@pytest.mark.parametrize("kind", ["EIO", "ENOSPC", "killed"])
@pytest.mark.parametrize("lasting", [False, True])
def test_whatever_call_fails_it_is_old_or_new(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, lasting: bool, previous: bool
) -> None:
    path = tmp_path / "plan"
    atomic_write(path, OLD)  # so that all is loaded: what loads it would be counted too
    with monkeypatch.context() as patching:
        faults = Faults(patching)
        atomic_write(path, NEW, keep_previous=previous)
        calls = list(faults.seen)
    assert {"open", "write", "fsync", "replace"} <= set(calls)
    last_write, last_rename = (len(calls) - calls[::-1].index(name) - 1 for name in ("write", "replace"))
    syncs = [at for at, name in enumerate(calls) if name == "fsync"]
    assert len(syncs) == 2, "the file, the folder"
    assert last_write < syncs[0] < calls.index("replace")
    assert last_rename < syncs[1]
    outcomes = set()
    for at in range(len(calls)):
        folder = tmp_path / f"{at}"
        folder.mkdir()
        path = folder / "plan"
        path.write_bytes(OLD)
        previous_path(path).write_bytes(b"older")
        with monkeypatch.context() as patching:
            faults = Faults(patching)
            faults.at, faults.error, faults.lasting = at, _error(kind), lasting or kind == "killed"
            try:
                atomic_write(path, NEW, keep_previous=previous)
                failed = False
            except (WriteError, Killed):
                failed = True
        now = path.read_bytes()
        assert now in (OLD, NEW), f"a mixture after {calls[at]} failed"
        if not failed:
            # A call whose failure does not matter: link (there is a copy), the clearing away of nothing.
            assert now == NEW
            assert calls[at] in {"link", "unlink"}, f"{calls[at]} failed and nothing was said"
        if failed and now == NEW:
            assert calls[at] in {"open", "fsync", "close", "unlink", "stat"}
            assert at > calls.index("replace")
        assert previous_path(path).read_bytes() in (b"older", OLD)
        if not (lasting or kind == "killed"):
            assert strays(folder) == [], f"a temporary file stayed after {calls[at]} failed"
        outcomes.add((failed, now == NEW))
    assert (True, False) in outcomes
    assert (True, True) in outcomes, "the sync of the folder counts too"


def test_ctrl_c_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "plan"
    path.write_bytes(OLD)

    def interrupted(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(atomic.os, "fsync", interrupted)
    with suppress(KeyboardInterrupt):
        atomic_write(path, NEW)
    assert path.read_bytes() == OLD
    assert os.listdir(tmp_path) == ["plan"]


def test_a_folder_that_knows_no_sync_is_no_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.fsync

    def fsync(handle: int) -> None:
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, "not here")
        real(handle)

    monkeypatch.setattr(atomic.os, "fsync", fsync)
    atomic_write(tmp_path / "plan", NEW)
    assert (tmp_path / "plan").read_bytes() == NEW
