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

import numpy as np
import pytest
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QObject, QSettings, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QImage, QStatusTipEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDockWidget, QWidget
from pytestqt.qtbot import QtBot

from app.plan.model import Plan
from app.plan.plan_file import write_plan
from app.sketch.palette import Role
from app.window import start
from app.window.look import Appearance, Look
from app.window.main_window import Bench
from app.window.rest import REST_MS
from app.window.sample import FOLDER, sample_plan
from tests.app.window.conftest import Hand, block

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
from app.window import start
from app.window.main_window import Bench
settle = Bench.settle
def settled(self):
    settle(self)
    print("up", flush=True)
Bench.settle = settled
sys.exit(start.run([]))
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


# --- the frame, and what comes on it ------------------------------------------------------------------

BEGIN = """
import sys
from PySide6.QtCore import QTimer
from app.cli import main
from app.window import start
from app.window.main_window import Bench
open_frame, settle = start.open_frame, Bench.settle
"""
HEAVY = ("numpy", "shapely", "msgspec", "geometry")


def called(tmp_path: Path, code: str, *files: Path) -> tuple[int, str, str]:
    """What ``wedgewright FILES`` answers and says after ``code``, which must see to it that it ends."""
    source = f"{BEGIN}{code}\nsys.argv[1:] = {[str(file) for file in files]!r}\nsys.exit(main())"
    with child(source, env=surroundings(tmp_path, QT_QPA_PLATFORM="offscreen")) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        said, complained = process.stdout.read(), process.stderr.read()
        return process.wait(), said, complained


def test_nothing_heavy_is_loaded_before_the_first_paint(tmp_path: Path) -> None:
    code = f"""
def watched(application):
    bench = open_frame(application)
    bench.first_painted.connect(lambda: print("painted", [n for n in {HEAVY} if n in sys.modules]))
    return bench
def settled(bench):
    settle(bench)
    print("furnished", [n for n in {HEAVY} if n in sys.modules], bench.isVisible())
    QTimer.singleShot(0, bench.close)
start.open_frame, Bench.settle = watched, settled
"""
    status, said, complained = called(tmp_path, code)
    assert status == 0, complained
    assert said.splitlines() == ["painted []", f"furnished {list(HEAVY)} True"]


def test_a_window_that_is_not_painted_is_furnished_all_the_same(tmp_path: Path) -> None:
    code = """
from app.window.frame import Frame
Frame.paintEvent = lambda self, event: None
def settled(bench):
    print("furnished")
    QTimer.singleShot(0, bench.close)
Bench.settle = settled
"""
    assert called(tmp_path, code)[:2] == (0, "furnished\n")


def test_a_frame_that_is_closed_at_once_stays_empty(tmp_path: Path) -> None:
    code = """
import atexit
start._SEEN_MS = 0  # so that Qt rings both timers in one turn
def watched(application):
    bench = open_frame(application)
    closing = QTimer(bench, singleShot=True)
    closing.timeout.connect(bench.close)
    bench.first_painted.connect(closing.start)
    return bench
start.open_frame = watched
atexit.register(lambda: print("numpy" in sys.modules))
"""
    assert called(tmp_path, code)[:2] == (0, "False\n")


@pytest.mark.skipif(sys.platform == "win32", reason="there is no polite kill")
def test_a_polite_kill_while_the_bench_is_built_waits_until_it_stands(tmp_path: Path) -> None:
    code = """
import os, signal
furnish = start.furnish
def furnished(bench):
    from app.window.toolbar import Toolbar
    before = Toolbar.__init__
    def killed(self, *parts):
        os.kill(os.getpid(), signal.SIGTERM)
        before(self, *parts)
        print("half", bench.is_furnished, bench.isVisible(), flush=True)
    Toolbar.__init__ = killed
    furnish(bench)
def closing(bench, event):
    print("closing", bench.is_furnished, flush=True)
    close(bench, event)
close = Bench.closeEvent
start.furnish, Bench.closeEvent = furnished, closing
"""
    status, said, complained = called(tmp_path, code)
    assert status == 0, complained
    assert said.splitlines() == ["half False True", "closing True"]
    assert "Traceback" not in complained


def test_what_fails_in_building_is_one_sentence_and_2(tmp_path: Path) -> None:
    code = """
from app.window.toolbar import Toolbar
def fails(self, *parts):
    raise RuntimeError("no wood")
Toolbar.__init__ = fails
"""
    status, said, complained = called(tmp_path, code)
    assert (status, said) == (2, "")
    assert complained.count("wedgewright: ") == 1
    assert "did not expect" in complained
    assert "no wood" in complained
    assert "Traceback" not in complained


TELL = """
from app.window.dialogs import Dialogs
def tell(self, sentence):
    print("told", sentence.split("“")[1].split("”")[0], self._parent.isVisible())
Dialogs.tell = tell
def settled(bench):
    settle(bench)
    print(len(bench.session.plan.patches), bench.session.plan.title, bench.windowTitle(), sep="|")
    QTimer.singleShot(0, bench.close)
Bench.settle = settled
"""


def test_a_plan_of_the_command_line_opens_on_the_frame(tmp_path: Path) -> None:
    path = tmp_path / "mine.wedgeplan"
    write_plan(path, Plan(title="Mine", patches=(block(),)))
    status, said, complained = called(tmp_path, TELL, path)
    assert status == 0, complained
    assert said.splitlines()[0] == "1|Mine|mine.wedgeplan[*] – Wedgewright"


def test_a_broken_plan_is_told_on_the_sample(tmp_path: Path) -> None:
    path = tmp_path / "broken.wedgeplan"
    path.write_text("{", encoding="utf-8")
    status, said, complained = called(tmp_path, TELL, path)
    assert status == 0, complained
    sample = sample_plan()
    assert said.splitlines()[-1].startswith(f"{len(sample.patches)}|{sample.title}|")
    assert said.splitlines()[0] == "told broken.wedgeplan True"
    assert "Traceback" not in complained


def seen(bench: Bench) -> QImage:
    """What is on the screen, and not what would be painted if one asked."""
    return bench.screen().grabWindow(bench.winId()).toImage().convertToFormat(QImage.Format.Format_RGB32)


def numbers(image: QImage) -> NDArray[np.uint32]:
    """One for each pixel, ``(height, width)``."""
    return np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), -1)[:, : image.width()].copy()


@pytest.fixture
def left(bench: Bench) -> tuple[int, int]:
    """A bench was left at that size."""
    bench.findChildren(QDockWidget, "settings")[0].close()  # the screen of the tests is 800 px wide
    bench.resize(760, 700)
    QApplication.processEvents()
    bench.close()
    return bench.width(), bench.height()


@pytest.mark.parametrize("appearance", [Appearance.LIGHT, Appearance.DARK])
def test_the_frame_is_what_was_left_without_what_lies_on_it(
    left: tuple[int, int], look: Look, appearance: Appearance, qtbot: QtBot
) -> None:
    look.choose(appearance)
    frame = Bench(look, furnished=False)
    qtbot.addWidget(frame)
    with qtbot.waitSignal(frame.first_painted):
        frame.show()
    QApplication.processEvents()
    assert (frame.width(), frame.height()) == left
    ground, gap = (QColor(look.palette[role]).rgb() for role in (Role.FRAME, Role.CLOTH))
    before = numbers(seen(frame))
    assert set(np.unique(before)) == {ground, gap}
    assert before[5, 5] == ground
    place = frame.pos()
    frame.furnish(Plan(patches=(block(),)))
    frame.settle()
    QApplication.processEvents()
    after = numbers(seen(frame))
    assert after.shape == before.shape
    assert frame.pos() == place
    assert (after[before == gap] == gap).all(), "what lies between the panels must not move"
    assert (before == gap).mean() > 0.01


def test_all_comes_in_one_step(look: Look, qtbot: QtBot) -> None:
    frame = Bench(look, furnished=False)
    qtbot.addWidget(frame)
    with qtbot.waitSignal(frame.first_painted):
        frame.show()
    empty = seen(frame)
    frame.furnish(Plan(patches=(block(),)))
    frame.settle()
    assert seen(frame) == empty, "nothing half built is painted"
    assert frame.canvas.rest.resting
    size = frame.canvas.size()
    with qtbot.waitSignal(Painted(frame.canvas).painted):
        pass
    assert frame.canvas.size() == size
    at_once = seen(frame)
    qtbot.wait(2 * REST_MS)
    assert at_once != empty
    assert seen(frame) == at_once


class Painted(QObject):
    """Tells when a widget, and what is painted with it, has been painted."""

    painted = Signal()

    def __init__(self, widget: QWidget) -> None:
        super().__init__(widget)
        widget.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - the name is Qt's
        if event.type() is QEvent.Type.Paint:
            QTimer.singleShot(0, self.painted.emit)
        return False


@pytest.mark.parametrize("again", [False, True])
def test_a_bench_that_is_built_in_sight_looks_like_any_other(
    look: Look, qtbot: QtBot, again: bool, settings: Path
) -> None:
    plan = Plan(patches=(block(),))
    if again:
        moved = Bench(look, plan)
        moved.show()
        docks = {dock.objectName(): dock for dock in moved.findChildren(QDockWidget)}
        moved.resizeDocks([docks["patches"]], [390], Qt.Orientation.Horizontal)
        docks["settings"].hide()
        moved.resize(760, 700)
        QApplication.processEvents()
        moved.close()
    pictures = []
    for furnished in (True, False):
        bench = Bench(look, plan if furnished else None, furnished=furnished)
        qtbot.addWidget(bench)
        bench.show()
        if not furnished:
            bench.furnish(plan)
        QApplication.processEvents()
        bench.settle()
        QApplication.processEvents()
        pictures.append(seen(bench))
        bench.hide()
    assert pictures[0] == pictures[1]


@pytest.mark.parametrize(
    "words", ["", "0,0", "0,0,760,700 1,2,3,4,5", "a,b,c,d", "0,0,9999999999999,1", "@Invalid()"]
)
def test_spoilt_places_are_left_alone(look: Look, qtbot: QtBot, words: str, settings: Path) -> None:
    QSettings().setValue("bench/gaps", words)
    QSettings().setValue("bench/geometry", words)
    frame = Bench(look, furnished=False)
    qtbot.addWidget(frame)
    with qtbot.waitSignal(frame.first_painted):
        frame.show()
    assert set(np.unique(numbers(seen(frame)))) == {QColor(look.palette[Role.FRAME]).rgb()}


def test_a_frame_of_another_size_has_no_gaps(left: tuple[int, int], look: Look, qtbot: QtBot) -> None:
    frame = Bench(look, furnished=False)
    qtbot.addWidget(frame)
    frame.resize(left[0] - 20, left[1])
    with qtbot.waitSignal(frame.first_painted):
        frame.show()
    assert set(np.unique(numbers(seen(frame)))) == {QColor(look.palette[Role.FRAME]).rgb()}


def test_an_empty_frame_takes_nothing_amiss(look: Look, qtbot: QtBot, tmp_path: Path) -> None:
    frame = Bench(look, furnished=False)
    qtbot.addWidget(frame)
    frame.show()
    for key in (Qt.Key.Key_Escape, Qt.Key.Key_Delete, Qt.Key.Key_Tab, Qt.Key.Key_F1):
        QTest.keyClick(frame, key)
    QTest.mouseClick(frame, Qt.MouseButton.LeftButton)
    QTest.mouseClick(frame, Qt.MouseButton.RightButton)
    QApplication.sendEvent(frame, QStatusTipEvent("tip"))
    frame.resize(700, 600)
    assert not frame.acceptDrops()
    assert frame.rescue() == "", "there is nothing to lose; a signal may come as early as this"
    look.changed.emit()
    QApplication.processEvents()
    assert not frame.is_furnished
    assert frame.close()
    assert QSettings().value("bench/state") is None, "an empty frame has no panels to remember"


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
