"""Promise 7: the short form of ``python -m tests.race``."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="processes as Linux has them")


def run(count: int, before: str = "") -> tuple[int, str]:
    """In a process of its own, which forks; ``before`` is done first."""
    code = f"{before}\nimport sys; sys.argv = ['race', '--count', '{count}']\n"
    done = subprocess.run(
        [sys.executable, "-c", code + "from tests.race.__main__ import main; sys.exit(main())"],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        check=False,
        timeout=300,
    )
    return done.returncode, done.stdout + done.stderr


def test_two_processes_lose_no_save() -> None:
    status, said = run(20)
    assert (status, "0 lost" in said) == (0, True), said
    assert " saved" in said


NO_LOCKS = """
import app.window.files as files, app.window.locks as locks
locks.Lock.take = lambda self: True
locks.Lock.is_mine = property(lambda self: True)
files.fingerprint = lambda path: None
files.Files._changed_since = lambda self, path: False
"""


def test_without_locks_saves_are_lost_and_seen() -> None:
    status, said = run(40, NO_LOCKS)
    assert status == 1, said
