"""Promises 22 and 23: Ctrl-C at any moment, a reader that goes away and a target that cannot be written leave
no half file and no traceback.
"""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from app.cli import main
from app.cli.arguments import COMMANDS
from app.plan.plan_file import write_plan
from app.window.locks import plan_lock
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


def _called(arguments: list[str], *unread: str) -> tuple[int, bytes]:
    """Exit status and standard error, where nobody reads the streams that are ``unread``."""
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run(
        [sys.executable, "-m", "app", *arguments],
        stdout=writer if "stdout" in unread else subprocess.DEVNULL,
        stderr=writer if "stderr" in unread else subprocess.PIPE,
        cwd=ROOT,
        check=False,
        timeout=120,
    )
    os.close(writer)
    return done.returncode, done.stderr or b""


@pytest.mark.parametrize("command", COMMANDS)
def test_a_reader_that_goes_away(command: str, calls: dict[str, list[str]], tmp_path: Path) -> None:
    status, said = _called(calls[command], "stdout")
    assert status == 141
    assert b"Traceback" not in said
    assert not _left_over(tmp_path)


def test_where_nobody_reads_a_complaint_the_status_says_the_same(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert _called(["fit", str(tmp_path / "none.wedgeplan")], "stdout", "stderr")[0] == 2
    noted = ["fit", str(ROOT / "sample_shapes" / "shore.svg"), "--unit", "mm"]
    heard = main(noted)
    assert capfd.readouterr().err.startswith("wedgewright: note: ")
    assert _called(noted, "stderr")[0] == heard


# --- a target that cannot be written ----------------------------------------------------------------

WRITERS = {
    "PDF": ("template", "out.pdf"),
    "SVG": ("template", "out.svg"),
    "DXF": ("template", "out.dxf"),
    "PNG": ("template", "out.png"),
    "card": ("card", "card.pdf"),
    "plan": ("leftover", "spaces.wedgeplan"),
}


@pytest.fixture(params=WRITERS)
def writing(request: pytest.FixtureRequest, calls: dict[str, list[str]], tmp_path: Path) -> list[str]:
    """A call of each writer, whose target is an older file."""
    command, name = WRITERS[request.param]
    (tmp_path / name).write_bytes(OLD)
    return [*calls[command][:-1], str(tmp_path / name)]


def _refused(arguments: list[str], capfd: pytest.CaptureFixture[str], *words: str) -> None:
    """One sentence that says which file and what, and nothing has changed."""
    target = Path(arguments[-1])
    before = {path.name for path in target.parent.iterdir()}
    status = main(arguments)
    said = capfd.readouterr().err
    assert status == 2, said
    assert said.startswith(f"wedgewright: “{target.name}”: not saved: "), said
    assert said.count("\n") == 1
    for word in words:
        assert word in said
    assert target.read_bytes() == OLD
    assert {path.name for path in target.parent.iterdir()} == before


def test_a_full_disk(
    writing: list[str], capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.write

    def full(handle: int, data: bytes) -> int:
        if len(data) > 1000:
            raise OSError(errno.ENOSPC, "full")
        return real(handle, data)

    monkeypatch.setattr("app.plan.atomic.os.write", full)
    _refused(writing, capfd, "the disk is full", "make room")


def test_a_target_that_may_not_be_written(
    writing: list[str], capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.open

    def protected(path: object, flags: int, *others: int) -> int:
        if flags & os.O_CREAT and str(path).endswith(".tmp"):
            raise PermissionError(errno.EACCES, "protected")
        return real(path, flags, *others)  # type: ignore[call-overload, no-any-return]

    monkeypatch.setattr("app.plan.atomic.os.open", protected)
    _refused(writing, capfd, "write-protected", "another folder")


def test_a_plan_that_a_window_works_on(
    calls: dict[str, list[str]], capfd: pytest.CaptureFixture[str]
) -> None:
    lock = plan_lock(Path(calls["leftover"][-1]))
    assert lock.take()
    try:
        _refused(calls["leftover"], capfd, "open in another window", "close it there")
    finally:
        lock.release()
