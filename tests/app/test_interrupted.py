"""Promise 23: Ctrl-C at any moment and a reader that goes away leave no half file and no traceback."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from app.cli import main
from app.cli.arguments import COMMANDS
from app.plan.plan_file import write_plan
from tests.app.exporting.test_targets import OLD
from tests.app.plan.samples import small_plan

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")
ROOT = Path(__file__).parents[2]


@pytest.fixture
def calls(tmp_path: Path, qapp: object) -> dict[str, list[str]]:
    """A call of each command; those that write have an older file to lose."""
    plan = tmp_path / "quilt.wedgeplan"
    write_plan(plan, small_plan())
    outputs = [str(tmp_path / name) for name in ("out.svg", "card.pdf", "spaces.wedgeplan")]
    for output in outputs:
        Path(output).write_bytes(OLD)
    shapes = ROOT / "sample_shapes"
    return {
        "fit": ["fit", str(plan), "--json"],
        "anchors": ["anchors", str(plan), "--patch", "Square"],
        "template": ["template", str(plan), "--patch", "Square", "-o", outputs[0]],
        "card": ["card", str(plan), "--patch", "Square", "--kind", "marking", "-o", outputs[1]],
        "tape": ["tape", str(shapes / "corner_space.tape")],
        "leftover": ["leftover", str(shapes / "blocks.txt"), "-o", outputs[2]],
    }


def test_every_command_is_here(calls: dict[str, list[str]]) -> None:
    assert set(calls) == set(COMMANDS)


def _left_over(folder: Path) -> set[str]:
    known = {"quilt.wedgeplan", "out.svg", "card.pdf", "spaces.wedgeplan", "spaces.wedgeplan~"}
    return set(os.listdir(folder)) - known


@pytest.mark.parametrize("command", COMMANDS)
def test_ctrl_c_at_any_moment(
    command: str, calls: dict[str, list[str]], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    seen = set()

    def interrupt(number: int, frame: object) -> None:
        raise KeyboardInterrupt

    main(calls[command])  # loads what it needs: to break off Python's own loading shows nothing of ours
    for name in ("out.svg", "card.pdf"):
        (tmp_path / name).write_bytes(OLD)
    before = signal.signal(signal.SIGALRM, interrupt)
    try:
        for after in (0.0002, 0.001, 0.004, 0.012, 0.03):
            signal.setitimer(signal.ITIMER_REAL, after)
            try:
                seen.add(main(calls[command]))
            except KeyboardInterrupt:
                seen.add(130)  # it came while ``main`` was returning: nothing of the work was left
            finally:
                signal.setitimer(signal.ITIMER_REAL, 0)
            said = capfd.readouterr().err
            assert "Traceback" not in said
            assert "please report" not in said
            assert not _left_over(tmp_path)
            for name, end in (("out.svg", b"</svg>"), ("card.pdf", b"%%EOF")):
                data = (tmp_path / name).read_bytes()
                assert data == OLD or data.rstrip().endswith(end)
    finally:
        signal.signal(signal.SIGALRM, before)
    assert 130 in seen


@pytest.mark.parametrize("command", COMMANDS)
def test_a_reader_that_goes_away(command: str, calls: dict[str, list[str]], tmp_path: Path) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run(
        [sys.executable, "-m", "app", *calls[command]],
        stdout=writer,
        stderr=subprocess.PIPE,
        cwd=ROOT,
        check=False,
        timeout=120,
    )
    os.close(writer)
    assert done.returncode == 141
    assert b"Traceback" not in done.stderr
    assert not _left_over(tmp_path)
