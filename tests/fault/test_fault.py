"""Promises 1 and 22: the short form of ``python -m tests.fault``, and faults of the system itself."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication

from app.plan import atomic
from app.plan.atomic import atomic_write, previous_path
from app.plan.plan_file import read_plan
from tests.fault.faults import ALL, RECIPES, by_limit, by_strace, outcomes

pytestmark = pytest.mark.skipif(os.name != "posix", reason="file calls as POSIX has them")
strace = pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not here")


@pytest.mark.parametrize("writer", ["plan", "recovery"])
def test_whatever_call_fails_it_is_old_or_new_and_never_said_to_be_saved(writer: str, tmp_path: Path) -> None:
    counts, broken = outcomes(writer, tmp_path)
    assert not broken, "\n".join(broken)
    assert counts["old"] > 30
    assert counts["new"] > 5, "the sync of the folder counts too"


@pytest.mark.long
@pytest.mark.parametrize("writer", sorted(set(ALL) - {"plan", "recovery"}))
def test_of_every_export_too(writer: str, tmp_path: Path, qapp: QApplication) -> None:
    """In the suite: ``test_targets``, with a full disk alone."""
    counts, broken = outcomes(writer, tmp_path)
    assert not broken, "\n".join(broken)
    assert counts["old"] > 30


def _in_place(path: Path, data: bytes, **_: object) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_TRUNC | os.O_CREAT)
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(handle, rest) :]
    os.close(handle)


def _unsynced(path: Path, data: bytes, **others: bool) -> None:
    """As if a failing sync did not matter."""
    real = atomic.os.fsync

    def fsync(handle: int) -> None:
        with suppress(OSError):
            real(handle)

    before, atomic.os.fsync = atomic.os.fsync, fsync
    try:
        atomic_write(path, data, **others)
    finally:
        atomic.os.fsync = before


@pytest.mark.parametrize("write", [_in_place, _unsynced])
def test_a_writer_without_its_guard_is_found_out(
    write: Callable[..., None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.plan.plan_file.atomic_write", write)
    _, broken = outcomes("plan", tmp_path)
    assert any(("unreadable" if write is _in_place else "nothing was said") in each for each in broken)


def test_no_room_for_the_file(tmp_path: Path) -> None:
    assert sys.platform != "linux" or by_limit(tmp_path) == (
        "old",
        "“q.wedgeplan”: not saved: the disk is full; make room, or save in another place",
    )


@strace
@pytest.mark.parametrize(
    ("recipe", "state", "kept", "said"),
    [
        ("killed before the second rename", "old", "before", "ended by"),
        ("sync fails", "old", "older", "not saved: the disk reports an error"),
        ("sync of the folder fails", "new", "before", "not saved: the disk reports an error"),
    ],
)
def test_faults_of_the_system(recipe: str, state: str, kept: str, said: str, tmp_path: Path) -> None:
    found, words = by_strace(recipe, tmp_path)
    assert (found, said in words) == (state, True), words
    # The first rename keeps the version before: it shows that the fault met the save and no call before it.
    assert read_plan(previous_path(tmp_path / "q.wedgeplan")).title == kept


@strace
@pytest.mark.long
@pytest.mark.parametrize("recipe", RECIPES)
def test_all_faults_of_the_system(recipe: str, tmp_path: Path) -> None:
    state, words = by_strace(recipe, tmp_path)
    assert state in ("old", "new")
    assert words != "saved"
