"""Promise 5: the short form of ``python -m tests.kill``."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.kill.judge import WITHIN, Line, Tally, _judge
from tests.kill.session import first_plan

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="processes as Linux has them")


def run(*arguments: str) -> str:
    """In a process of its own, which forks: here Qt may have threads already."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.kill", *arguments],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        check=False,
        timeout=600,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_killed_at_any_moment_nothing_is_unreadable_and_the_last_second_at_most_is_lost() -> None:
    said = run("--count", "5", "--seed", "5")
    assert said.startswith("5 kills")
    assert "0 broken" in said


@pytest.mark.long
def test_killed_a_hundred_times() -> None:
    assert "0 broken" in run("--count", "100", "--seed", "6")


# --- what the judge sees ----------------------------------------------------------------------------


def judged(folder: Path, data: bytes, lines: list[Line], known: int = 0) -> Tally:
    plan = folder / "quilt.wedgeplan"
    plan.write_bytes(data)
    tally = Tally()
    _judge(tally, folder, plan, lines, 10.0, known)
    return tally


def test_damage_loss_and_leftovers_are_seen(tmp_path: Path) -> None:
    sound = first_plan()  # holds change 0
    assert "unreadable" in judged(tmp_path, sound[:-40], []).broken[0]
    assert judged(tmp_path, sound, [Line("change", 1, 9.9), Line("change", 2, 9.95)]).losses == [
        pytest.approx(0.1)
    ]
    late = judged(tmp_path, sound, [Line("change", 1, 10 - WITHIN - 0.1)])
    assert late.losses[0] > WITHIN
    assert "saved was 3" in judged(tmp_path, sound, [Line("save", 3, 9.0), Line("saved", 3, 9.1)]).broken[0]
    assert "was there before" in judged(tmp_path, sound, [], known=4).broken[0]
    copy = tmp_path / "user" / "recovery" / "1-gone"
    copy.mkdir(parents=True)
    (copy / "plan.recovery").write_bytes(b"half a copy")
    assert "a copy is unreadable" in judged(tmp_path, sound, []).broken[0]
    (copy / "plan.recovery").unlink()
    (tmp_path / ".wedgewright-half-done.tmp").write_bytes(b"")
    assert "still there after the next start" in judged(tmp_path, sound, []).broken[0]
