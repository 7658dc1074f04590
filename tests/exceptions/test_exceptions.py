"""Promise 8: the short form of ``python -m tests.exceptions``."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(os.name != "posix", reason="ends of processes as POSIX has them")
COUNT = 12


def run(count: int, seed: int, before: str = "") -> tuple[int, str]:
    """In a process of its own, whose hooks and profile are nobody else's; ``before`` is done first."""
    lines = (
        "from tests.exceptions.slip_points import install; install()",
        before,
        f"import sys; sys.argv = ['exceptions', '--count', '{count}', '--seed', '{seed}']",
        "from tests.exceptions.__main__ import main; sys.exit(main())",
    )
    done = subprocess.run(
        [sys.executable, "-c", "\n".join(lines)],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        check=False,
        timeout=600,
    )
    return done.returncode, done.stdout + done.stderr[-2000:]


def test_wherever_qt_calls_us_an_error_costs_no_work_and_work_goes_on() -> None:
    status, said = run(COUNT, 8)
    assert status == 0, said
    assert said.startswith(f"{COUNT} injected in "), said
    assert "\n0 lost, 0 broken" in said


@pytest.mark.long
def test_two_hundred_errors() -> None:
    status, said = run(200, 9)
    assert status == 0, said
    assert "\n0 lost, 0 broken" in said


TOLD_FIRST = """
from app.window.main_window import Bench
Bench.rescue = lambda self: ""
"""


def test_an_error_that_is_told_before_the_plan_is_kept_is_seen() -> None:
    status, said = run(3, 8, TOLD_FIRST)
    assert status == 1, said
    assert "copies, none as the plan was" in said
