"""Starting and ending: no display, interrupts, errors that nobody foresaw, the first picture."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.window import start
from app.window.main_window import Bench
from app.window.sample import FOLDER, sample_plan
from tests.app.window.conftest import Hand

ROOT = Path(__file__).parents[3]


@pytest.mark.parametrize(
    ("environment", "platform", "answer"),
    [
        ({}, "linux", False),
        ({"DISPLAY": ":0"}, "linux", True),
        ({"WAYLAND_DISPLAY": "wayland-0"}, "linux", True),
        ({"DISPLAY": ""}, "linux", False),
        ({"QT_QPA_PLATFORM": "xcb"}, "linux", False),
        ({"QT_QPA_PLATFORM": "wayland;xcb"}, "linux", False),
        ({"QT_QPA_PLATFORM": "offscreen"}, "linux", True),
        ({"QT_QPA_PLATFORM": "xcb;offscreen"}, "linux", True),
        ({"QT_QPA_PLATFORM": "vnc:size=800x600"}, "linux", True),
        ({}, "win32", True),
        ({}, "darwin", True),
    ],
)
def test_whether_there_is_a_display(environment: dict[str, str], platform: str, answer: bool) -> None:
    assert start.has_display(environment, platform) is answer


LONGEST = 60
"""Seconds that a child may live."""

# A child ends by itself, however its parent ends (then its standard input closes) and even if it hangs.
GUARD = f"""
import faulthandler, os, threading
faulthandler.dump_traceback_later({LONGEST}, exit=True)
threading.Thread(target=lambda: os.read(0, 1) or os._exit(9), daemon=True).start()
"""
UP_AND_RUN = """
import sys
from app.window.start import run
from app.window.main_window import Bench
Bench.showEvent = lambda self, event: print("up", flush=True)
sys.exit(run([]))
"""


@contextmanager
def child(code: str, env: dict[str, str]) -> Iterator[subprocess.Popen[str]]:
    """Python running ``code``, gone at the end whatever happens to the test."""
    pipe = subprocess.PIPE
    command = [sys.executable, "-c", GUARD + code]
    with subprocess.Popen(command, env=env, stdin=pipe, stdout=pipe, stderr=pipe, text=True) as process:
        try:
            yield process
        finally:
            process.kill()


def surroundings(tmp_path: Path, **more: str) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if "DISPLAY" not in name and name[:3] != "QT_"}
    homes = {name: str(tmp_path) for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "HOME")}
    return {**kept, **homes, "PYTHONPATH": str(ROOT), **more}


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems always have a display")
def test_without_a_display_one_line_and_2(tmp_path: Path) -> None:
    code = "import sys; from app.window.start import run; sys.exit(run([]))"
    result = subprocess.run(
        [sys.executable, "-c", code], env=surroundings(tmp_path), capture_output=True, text=True, timeout=60
    )
    assert result.returncode == 2
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1
    assert "no display" in result.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="there is no polite kill")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupt_closes_the_window_without_a_trace(tmp_path: Path, number: int) -> None:
    with child(UP_AND_RUN, env=surroundings(tmp_path, QT_QPA_PLATFORM="offscreen")) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        assert process.stdout.readline() == "up\n", process.stderr.read()
        time.sleep(0.3)
        process.send_signal(number)
        assert process.wait() == 0, process.stderr.read()
        assert "Traceback" not in process.stderr.read()


@pytest.mark.skipif(sys.platform == "win32", reason="the test of the test needs a kill")
def test_no_child_is_left_when_a_test_is_killed(tmp_path: Path) -> None:
    code = (
        "import os, signal\n"
        "from tests.app.window.test_start import UP_AND_RUN, child\n"
        "with child(UP_AND_RUN, env=dict(os.environ)) as process:\n"
        "    process.stdout.readline()\n"
        "    print(process.pid, flush=True)\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    killed = subprocess.run(
        [sys.executable, "-c", code], env=surroundings(tmp_path, QT_QPA_PLATFORM="offscreen"),
        stdout=subprocess.PIPE, text=True, timeout=2 * LONGEST,
    )  # fmt: skip
    assert killed.returncode == -signal.SIGKILL
    end = time.monotonic() + LONGEST / 2
    while is_there(int(killed.stdout)) and time.monotonic() < end:
        time.sleep(0.02)
    assert not is_there(int(killed.stdout))


def is_there(pid: int) -> bool:
    """Whether the process runs; one that has ended and waits to be counted does not."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{pid}/stat")
    return not (state.exists() and ") Z " in state.read_text())


@pytest.fixture
def caught(bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The bench guarded as ``run`` guards it; the log's folder."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    before = list(start.log.handlers)
    with start._nothing_escapes(bench):
        yield tmp_path
    for handler in [each for each in start.log.handlers if each not in before]:
        start.log.removeHandler(handler)
        handler.close()
    start.log.propagate = True


def test_what_nobody_foresaw_is_a_sentence_and_a_line_in_the_log(bench: Bench, caught: Path) -> None:
    plan = bench.session.plan
    try:
        raise RuntimeError("a slip of ours")
    except RuntimeError as error:
        sys.excepthook(RuntimeError, error, error.__traceback__)
    assert "went wrong" in bench.message.text
    assert "Traceback" not in bench.message.text
    assert bench.session.plan is plan
    logs = list(caught.rglob("wedgewright.log"))
    assert len(logs) == 1
    assert "a slip of ours" in logs[0].read_text(encoding="utf-8")


def test_the_hook_is_put_back(bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    before = sys.excepthook
    with start._nothing_escapes(bench):
        assert sys.excepthook is not before
    assert sys.excepthook is before
    for handler in list(start.log.handlers):
        start.log.removeHandler(handler)
        handler.close()
    start.log.propagate = True


def test_it_opens_on_the_finished_first_patch_with_one_sentence(
    application: QApplication, qtbot: QtBot
) -> None:
    bench = start.open_bench(application)
    qtbot.addWidget(bench)
    bench.resize(1280, 720)
    bench.show()
    assert bench.session.plan == sample_plan()
    assert bench.session.chosen == 0
    assert bench.session.fit is not None
    assert bench.session.fit.fits
    assert bench.session.path is None, "a save must not write into the program's own folder"
    assert not bench.isWindowModified()
    assert bench.canvas.sentence != ""
    assert len(bench.canvas.mode.overlay(1.0).handles) == 1
    hand = Hand(bench)
    x, y = bench.session.plan.patches[0].anchors[0]
    hand.press(x / 25.4, y / 25.4)
    hand.move(x / 25.4 + 0.6, y / 25.4)
    hand.key(Qt.Key.Key_Escape)
    assert bench.canvas.sentence == ""
    assert bench.close()


def test_without_the_sample_there_is_still_a_block(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    assert list(FOLDER.glob("*.wedgeplan")) != []
    monkeypatch.setattr("app.window.sample.FOLDER", tmp_path)
    (tmp_path / "broken.wedgeplan").write_text("{")
    plan = sample_plan()
    assert len(plan.patches) == 1
    assert len(plan.patches[0].outline) == 4


def test_files_of_the_command_line_are_opened(bench: Bench, tmp_path: Path) -> None:
    path = tmp_path / "two.txt"
    path.write_text("unit: in\n0 0\n3 0\n0 3\n\n0 0\n4 0\n0 4\n")
    bench.take([path])
    assert len(bench.session.plan.patches) == 4
    assert bench.session.chosen == 2


def test_an_error_in_painting_is_told_once_and_painting_goes_on(
    bench: Bench, caught: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = []

    def fails(*_: object, **__: object) -> None:
        calls.append(1)
        raise RuntimeError("no ink")

    monkeypatch.setattr(bench.canvas._picture, "paint", fails)
    bench.canvas.update()
    for _ in range(30):
        QApplication.processEvents()
    assert 1 <= len(calls) <= 3, "the message must not be the cause of the next painting"
    assert "went wrong" in bench.message.text
    monkeypatch.undo()
    bench.canvas.update()
    QApplication.processEvents()
