"""Copies of unsaved work: within a moment of each change, in any window that dies, and offered again."""

from __future__ import annotations

import os
import random
import signal
import threading
import time
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from PySide6.QtCore import QMetaObject, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QMessageBox
from pytestqt.qtbot import QtBot

from app.plan.atomic import TEMP_PREFIX
from app.plan.model import Plan
from app.plan.plan_file import read_plan, write_plan
from app.plan.recovery import Left, Origin, Recovery, left_behind, read_left
from app.window import files
from app.window.dialogs import Unsaved
from app.window.keeper import SOON_MS
from app.window.locks import is_held
from app.window.main_window import Bench
from app.window.recovered_dialog import RecoveredDialog
from tests.app.window.conftest import Answers, Hand, block
from tests.app.window.test_start import child, surroundings

POLITE = [signal.SIGINT, signal.SIGTERM] + [signal.SIGHUP] * (os.name == "posix")
posix = pytest.mark.skipif(os.name != "posix", reason="a kill as POSIX has it")


@pytest.fixture
def root(bench: Bench, tmp_path: Path) -> Iterator[Path]:
    """Where the bench keeps its copy."""
    bench.keep_in(tmp_path / "recovery")
    yield tmp_path / "recovery"
    if bench.keeper is not None:
        bench.keeper.close()
        bench.keeper = None


def copies(root: Path) -> list[Left]:
    """Whoever owns them."""
    return left_behind(root, lambda _: False)


def kept(root: Path) -> Plan | None:
    """The one plan that is kept."""
    found = copies(root)
    assert len(found) < 2
    return read_left(found[0]).plan if found else None


def changed(bench: Bench, hand: Hand) -> Plan:
    hand.key(Qt.Key.Key_Right)
    assert bench.isWindowModified()
    return bench.session.plan


def no_longer_writing(bench: Bench) -> bool:
    keeper = bench.keeper
    return keeper is not None and keeper._job is None and not keeper._soon.isActive()


# --- within a moment --------------------------------------------------------------------------------


def test_a_change_is_kept_within_a_moment_and_gone_when_it_is_saved(
    bench: Bench, hand: Hand, answers: Answers, root: Path, qtbot: QtBot, tmp_path: Path
) -> None:
    assert SOON_MS <= 500
    assert kept(root) is None
    plan = changed(bench, hand)
    qtbot.waitUntil(lambda: kept(root) == plan)
    answers.save = tmp_path / "quilt.wedgeplan"
    bench.actions_.save.trigger()
    qtbot.waitUntil(lambda: kept(root) is None)
    second = changed(bench, hand)
    qtbot.waitUntil(lambda: kept(root) == second)
    (left,) = copies(root)
    assert left.origin == Origin(answers.save, bench.files.origin.fingerprint)
    assert read_plan(answers.save) == plan, "the file is not touched"
    bench.actions_.undo.trigger()
    qtbot.waitUntil(lambda: kept(root) is None)


def test_the_copy_is_made_anew_before_the_file_is_written(
    bench: Bench, hand: Hand, answers: Answers, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A window that is killed just after has left no copy that is older than its file."""
    answers.save = tmp_path / "quilt.wedgeplan"
    plan = changed(bench, hand)
    seen: list[Plan | None] = []

    def writes(path: Path, written: Plan) -> str:
        seen.append(kept(root))
        return write_plan(path, written)

    monkeypatch.setattr(files, "write_plan", writes)
    bench.actions_.save.trigger()
    assert seen == [plan]


def test_a_copy_that_its_file_holds_already_is_not_offered(bench: Bench, hand: Hand, root: Path) -> None:
    plan = changed(bench, hand)
    for name, written in (("same", plan), ("other", Plan(title="Another"))):
        path = root.parent / f"{name}.wedgeplan"
        before = write_plan(path, Plan())
        own = Recovery(root)
        own.make()
        own.keep(plan, Origin(path, before))
        write_plan(path, written)
    assert bench.keeper is not None
    assert [left.origin.file for left in bench.keeper.left()] == [root.parent / "other.wedgeplan"]
    assert root.parent / "same.wedgeplan" not in {left.origin.file for left in copies(root)}


def test_changes_without_a_pause_do_not_put_it_off(
    bench: Bench, hand: Hand, root: Path, qtbot: QtBot
) -> None:
    """A timer that each change starts anew would never ring."""
    for _ in range(12):
        changed(bench, hand)
        qtbot.wait(SOON_MS // 6)
    assert kept(root) is not None


def test_during_a_drag_the_plan_before_it_is_kept(bench: Bench, hand: Hand, root: Path, qtbot: QtBot) -> None:
    before = changed(bench, hand)
    hand.press(*(value / 25.4 for value in before.patches[0].anchors[0]))
    threads = []
    real = Recovery.keep

    def watched(self: Recovery, plan: Plan, origin: Origin) -> None:
        threads.append(threading.current_thread())
        real(self, plan, origin)

    with pytest.MonkeyPatch.context() as patching:
        patching.setattr(Recovery, "keep", watched)
        for step in range(20):
            hand.move(3.0 + step / 10, 5.0)
            qtbot.wait(25)
    assert kept(root) == before
    assert len(threads) == 1, "once: nothing new is to be kept while the hand drags"
    assert threading.main_thread() not in threads
    hand.release(5.0, 5.0)
    assert bench.session.plan != before
    qtbot.waitUntil(lambda: kept(root) == bench.session.plan)


def test_a_plan_that_changed_while_the_copy_was_written_is_written_again(
    bench: Bench, hand: Hand, root: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, may_go_on, begun = Recovery.keep, threading.Event(), threading.Event()

    def slow(self: Recovery, plan: Plan, origin: Origin) -> None:
        begun.set()
        may_go_on.wait(10)
        real(self, plan, origin)

    monkeypatch.setattr(Recovery, "keep", slow)
    changed(bench, hand)
    qtbot.waitUntil(begun.is_set)
    last = changed(bench, hand)
    may_go_on.set()
    qtbot.waitUntil(lambda: kept(root) == last)


def test_where_nothing_can_be_kept_it_is_said_once(
    bench: Bench, hand: Hand, root: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str] = []
    assert bench.keeper is not None
    bench.keeper.failed.connect(said.append)
    monkeypatch.setattr("app.window.keeper._AGAIN_MS", 20)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patching:
        patching.setattr("app.plan.atomic.os.write", full)
        changed(bench, hand)
        qtbot.waitUntil(lambda: len(said) == 1)
        assert "the disk is full" in bench.message.text
        qtbot.wait(150)
        assert len(said) == 1
        assert "disk is full" in bench.rescue()
    qtbot.waitUntil(lambda: kept(root) == bench.session.plan)  # tried again by itself


@pytest.mark.parametrize("leaving", [Unsaved.DISCARD, Unsaved.SAVE, Unsaved.CANCEL])
def test_what_closing_leaves(
    bench: Bench, hand: Hand, answers: Answers, root: Path, qtbot: QtBot, tmp_path: Path, leaving: Unsaved
) -> None:
    plan = changed(bench, hand)
    qtbot.waitUntil(lambda: kept(root) == plan)
    answers.leaving, answers.save = leaving, tmp_path / "quilt.wedgeplan"
    assert bench.close() is (leaving is not Unsaved.CANCEL)
    if leaving is Unsaved.CANCEL:
        assert kept(root) == plan
        assert bench.isVisible()
    else:
        assert not root.exists() or os.listdir(root) == []


def test_an_error_in_closing_keeps_window_and_copy(
    bench: Bench, hand: Hand, root: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = changed(bench, hand)

    def fails() -> bool:
        raise RuntimeError("a slip of ours")

    with qtbot.captureExceptions() as caught, monkeypatch.context() as patching:
        patching.setattr(bench.files, "may_go", fails)
        # As from the window's own button: what is called from Python comes back to the caller.
        QMetaObject.invokeMethod(bench, "close", Qt.ConnectionType.QueuedConnection)
        QApplication.processEvents()
    assert len(caught) == 1
    assert bench.isVisible()
    qtbot.waitUntil(lambda: kept(root) == plan)


def test_a_copy_that_cannot_be_cleared_away_keeps_no_window(
    bench: Bench, hand: Hand, answers: Answers, root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(self: Recovery) -> None:
        raise RuntimeError("a slip of ours")

    plan = changed(bench, hand)
    assert bench.rescue() == ""
    monkeypatch.setattr(Recovery, "clear", fails)
    answers.leaving = Unsaved.DISCARD
    assert bench.close()
    assert kept(root) == plan


# --- the end of the login ---------------------------------------------------------------------------


class Login:
    """Stands in for QSessionManager, which cannot be made."""

    def __init__(self, asks: bool) -> None:
        self.asks = asks
        self.cancelled = False

    def allowsInteraction(self) -> bool:  # noqa: N802 - the name is Qt's
        return self.asks

    def cancel(self) -> None:
        self.cancelled = True

    def release(self) -> None:
        pass


@posix
@pytest.mark.parametrize("number", POLITE)
def test_a_polite_kill_asks_about_unsaved_work(
    bench: Bench, hand: Hand, answers: Answers, root: Path, qtbot: QtBot, number: int
) -> None:
    from app.window.start import _interrupts

    plan = changed(bench, hand)
    with _interrupts(bench):
        answers.leaving = Unsaved.CANCEL
        os.kill(os.getpid(), number)
        qtbot.waitUntil(lambda: answers.asked == ["unsaved"])
        assert bench.isVisible()
        assert bench.session.plan == plan
        answers.leaving = Unsaved.DISCARD
        os.kill(os.getpid(), number)
        qtbot.waitUntil(lambda: not bench.isVisible())


@pytest.mark.parametrize("leaving", list(Unsaved))
def test_the_end_of_the_login_asks_once(
    bench: Bench, hand: Hand, answers: Answers, root: Path, tmp_path: Path, leaving: Unsaved
) -> None:
    from app.window.start import end_of_login

    plan = changed(bench, hand)
    answers.leaving, answers.save = leaving, tmp_path / "quilt.wedgeplan"
    login = Login(asks=True)
    end_of_login(bench, login)  # type: ignore[arg-type]
    assert answers.asked.count("unsaved") == 1
    assert login.cancelled is (leaving is Unsaved.CANCEL)
    assert kept(root) == plan, "a copy is there whatever comes"
    if leaving is not Unsaved.CANCEL:
        answers.leaving = Unsaved.CANCEL
        assert bench.close(), "and the closing that follows asks no second time"
        assert answers.asked.count("unsaved") == 1


def test_work_after_a_login_that_did_not_end_is_asked_about(
    bench: Bench, hand: Hand, answers: Answers, root: Path
) -> None:
    from app.window.start import end_of_login

    changed(bench, hand)
    answers.leaving = Unsaved.DISCARD
    end_of_login(bench, Login(asks=True))  # type: ignore[arg-type]
    changed(bench, hand)
    answers.leaving = Unsaved.CANCEL
    assert not bench.close()


def test_where_nothing_may_be_asked_a_copy_is_kept(
    bench: Bench, hand: Hand, answers: Answers, root: Path
) -> None:
    from app.window.start import end_of_login

    plan = changed(bench, hand)
    login = Login(asks=False)
    end_of_login(bench, login)  # type: ignore[arg-type]
    assert (answers.asked, login.cancelled) == ([], False)
    assert kept(root) == plan


# --- offered again ----------------------------------------------------------------------------------


def pressed(question: Callable[[], object], *words: str) -> list[str]:
    """Ask, and press these buttons, each in the window that is then open. What the list says."""
    seen: list[str] = []

    def act() -> None:
        dialog = QApplication.activeModalWidget()
        assert dialog is not None
        if isinstance(dialog, RecoveredDialog):
            seen[:] = [dialog.list.item(row).text() for row in range(dialog.list.count())]
        if not words:
            QTest.keyClick(dialog, Qt.Key.Key_Escape)
            return
        first, rest = words[0], words[1:]
        button = next(each for each in dialog.findChildren(QAbstractButton) if plain(each) == first)
        if rest:
            QTimer.singleShot(50, lambda: again(rest))
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)

    def again(rest: tuple[str, ...]) -> None:
        nonlocal words
        words = rest
        act()

    QTimer.singleShot(0, act)
    question()
    return seen


def plain(button: QAbstractButton) -> str:
    return button.text().replace("&", "")


@pytest.fixture
def lost(root: Path, tmp_path: Path) -> Path:
    """A file; under ``root`` unsaved work on it, and some that was never named."""
    path = tmp_path / "quilt.wedgeplan"
    write_plan(path, Plan(title="Quilt", patches=(block("Saved"),)))
    Recovery(root).keep(Plan(title="Sketch", patches=(block("Never named"),)), Origin())
    time.sleep(0.002)
    from app.plan.plan_file import fingerprint

    Recovery(root).keep(Plan(title="Quilt", patches=(block("Unsaved"),)), Origin(path, fingerprint(path)))
    return path


def test_unsaved_work_opens_on_its_file_and_the_file_stays(
    bench: Bench, answers: Answers, root: Path, lost: Path
) -> None:
    before = lost.read_bytes()
    rows = pressed(bench.actions_.recovered.trigger, "Open")
    assert len(rows) == 2
    assert "quilt.wedgeplan" in rows[0]
    assert "“Sketch”" in rows[1]
    assert "never saved" in rows[1]
    assert bench.session.plan.patches[0].name == "Unsaved"
    assert bench.session.path == lost
    assert bench.isWindowModified()
    assert lost.read_bytes() == before
    found = [read_left(left).plan.patches[0].name for left in copies(root)]
    assert sorted(found) == ["Never named", "Unsaved"], "this window now keeps the copy, once"
    bench.actions_.save.trigger()
    assert answers.asked == []
    assert read_plan(lost).patches[0].name == "Unsaved"
    assert lost.with_name("quilt.wedgeplan~").read_bytes() == before


def test_a_file_that_changed_meanwhile_is_asked_about(
    bench: Bench, answers: Answers, root: Path, lost: Path
) -> None:
    write_plan(lost, Plan(title="later", patches=(block("Later"),)))
    pressed(bench.actions_.recovered.trigger, "Open")
    bench.actions_.save.trigger()
    assert answers.asked == ["overwrite quilt.wedgeplan"]
    assert read_plan(lost).title == "later"


@pytest.mark.parametrize("how", [(), ("Not now",)])
def test_declining_deletes_nothing(bench: Bench, root: Path, lost: Path, how: tuple[str, ...]) -> None:
    plan = bench.session.plan
    for _ in range(2):
        assert len(pressed(lambda: bench.show_recovered(only_some=True), *how)) == 2
    assert len(copies(root)) == 2
    assert bench.session.plan is plan


def test_one_is_thrown_away_only_after_asking(bench: Bench, root: Path, lost: Path) -> None:
    before = lost.read_bytes()
    pressed(bench.actions_.recovered.trigger, "Throw away…", "Keep it", "Not now")
    assert len(copies(root)) == 2
    pressed(bench.actions_.recovered.trigger, "Throw away…", "Throw away", "Not now")
    assert [left.title for left in copies(root)] == ["Sketch"]
    assert lost.read_bytes() == before


def test_unsaved_work_that_is_kept_instead_costs_no_copy(
    bench: Bench, hand: Hand, answers: Answers, root: Path, lost: Path
) -> None:
    plan = changed(bench, hand)
    answers.leaving = Unsaved.CANCEL
    pressed(bench.actions_.recovered.trigger, "Open")
    assert bench.session.plan is plan
    assert {left.title for left in copies(root)} >= {"Quilt", "Sketch"}


def test_a_damaged_copy_is_told_and_stays(bench: Bench, answers: Answers, root: Path, lost: Path) -> None:
    for left in copies(root):
        path = left.folder / "plan.recovery"
        path.write_bytes(path.read_bytes()[:-9])
    pressed(bench.actions_.recovered.trigger, "Open")
    assert "damaged" in answers.told[0]
    assert len(copies(root)) == 2


def test_without_any_nothing_is_offered_but_the_menu_says_so(bench: Bench, root: Path) -> None:
    bench.show_recovered(only_some=True)
    assert QApplication.activeModalWidget() is None
    assert pressed(bench.actions_.recovered.trigger, "Close") == []


# --- killed -----------------------------------------------------------------------------------------

SESSION = """
import sys
from pathlib import Path
from PySide6.QtCore import QCoreApplication, QTimer
from app.plan.model import Plan
from app.sketch import changes
from app.window.files import Files
from app.window.keeper import Keeper
from app.window.session import Session
from tests.app.window.conftest import block
application = QCoreApplication([])
session = Session(Plan(patches=(block(),)))
files = Files(session, None)
files.open(Path(sys.argv[1]))
keeper = Keeper(session, lambda: files.origin, Path(sys.argv[2]))
def step():
    number = session.plan.patches[0].repeats + 1
    session.do(changes.set_repeats(session.plan, 0, number))
    if number == 100:
        files.save()
    print(number, flush=True)
timer = QTimer(interval=5)
timer.timeout.connect(step)
timer.start()
application.exec()
"""


@posix
@pytest.mark.parametrize("number", range(2))
def test_killed_at_any_moment_at_most_the_last_second_is_lost(tmp_path: Path, number: int) -> None:
    path, root = tmp_path / "quilt.wedgeplan", tmp_path / "recovery"
    write_plan(path, Plan(patches=(block(),)))
    code = f"import sys; sys.argv = ['', {str(path)!r}, {str(root)!r}]\n{SESSION}"
    done: dict[int, float] = {}
    steps = random.Random(number).randint(360, 440)  # of 5 ms; what was saved lies more than a second back
    with child(code, env=surroundings(tmp_path, QT_QPA_PLATFORM="offscreen")) as process:
        assert process.stdout is not None
        for line in process.stdout:
            done[int(line)] = time.monotonic()
            if len(done) == steps:
                break
        process.kill()
        killed = time.monotonic()
        process.wait()
    found = [read_plan(path), *(read_left(left).plan for left in left_behind(root, is_held))]
    last = max(plan.patches[0].repeats for plan in found)
    assert last > 1
    # Where the machine lets nothing run for a while, it lets no copy be written either.
    stall = max(later - earlier for earlier, later in pairwise([*done.values(), killed]))
    lost = [count for count, when in done.items() if count > last and when < killed - 1.0 - 3 * stall]
    assert lost == [], f"of {len(done)}"
    assert len(left_behind(root, is_held)) <= 1


CLOSED_AFTER = """
import os, sys, threading
from PySide6.QtCore import SIGNAL, QTimer, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from app.sketch import changes
from app.window import start
from app.window.main_window import Bench
settle = Bench.settle
def settled(bench):
    settle(bench)
    QTimer.singleShot(0, lambda: begun(bench))
Bench.settle = settled
"""
CHANGES = """
def begun(bench):
    bench.session.do(changes.rename_patch(bench.session.plan, 0, "Not saved"))
    threading.Timer(0.9, lambda: print("changed", flush=True)).start()
sys.exit(start.run([]))
"""
ASKED = """
from PySide6.QtWidgets import QMessageBox
from app.window import keeper
keeper.SOON_MS = 10**6  # only what the signal itself brings about
asked = 0
def begun(bench):
    bench.session.do(changes.rename_patch(bench.session.plan, 0, "Not saved"))
    looking = QTimer(bench, interval=5)
    looking.timeout.connect(lambda: look(bench))
    looking.start()
    print("changed", flush=True)
def look(bench):
    global asked
    boxes = [each for each in bench.findChildren(QMessageBox) if each.isVisible()]
    if boxes and asked % 2 == 0:
        asked += 1
        print("asks", flush=True)
        if asked < 5:
            QTest.keyClick(boxes[0], Qt.Key.Key_Escape)
    elif not boxes and asked % 2 == 1:
        asked += 1
        print("stays", bench.isVisible() and bench.isWindowModified(), flush=True)
sys.exit(start.run([]))
"""
OPENS = """
def begun(bench):
    dialog = QApplication.activeModalWidget()
    if dialog is None:
        QTimer.singleShot(20, lambda: begun(bench))
        return
    print(type(dialog).__name__, flush=True)
    QTimer.singleShot(0, lambda: ended(bench))
    QTest.keyClick(dialog.list, Qt.Key.Key_Return)
def ended(bench):
    print(bench.session.plan.patches[0].name, bench.isWindowModified(), bench.session.path, flush=True)
    end = SIGNAL("commitDataRequest(QSessionManager&)")
    print(QApplication.instance().receivers(end), flush=True)
    os._exit(0)
sys.exit(start.run([]))
"""


@posix
def test_a_killed_program_offers_its_work_at_the_next_start(tmp_path: Path) -> None:
    env = surroundings(tmp_path, QT_QPA_PLATFORM="offscreen")
    with child(CLOSED_AFTER + CHANGES, env=env) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "changed\n"
        process.kill()
    with child(CLOSED_AFTER + OPENS, env=env) as process:
        assert process.stdout is not None
        said = process.stdout.read().splitlines()
    assert said == ["RecoveredDialog", "Not saved True None", "1"], "the last: who hears of the login's end"


@posix
def test_a_polite_kill_asks_and_whoever_does_not_wait_for_the_answer_costs_no_work(tmp_path: Path) -> None:
    env = surroundings(tmp_path, QT_QPA_PLATFORM="offscreen")
    with child(CLOSED_AFTER + ASKED, env=env) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "changed\n"
        for number in (signal.SIGHUP, signal.SIGINT):
            process.send_signal(number)
            assert [process.stdout.readline() for _ in range(2)] == ["asks\n", "stays True\n"]
        process.send_signal(signal.SIGTERM)
        assert process.stdout.readline() == "asks\n"
        process.kill()
        assert process.stdout.read() == ""
    with child(CLOSED_AFTER + OPENS, env=env) as process:
        assert process.stdout is not None
        said = process.stdout.read().splitlines()
    assert said[:2] == ["RecoveredDialog", "Not saved True None"]


@posix
def test_what_the_dead_left_half_done_is_gone_at_the_next_start(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, qtbot: QtBot
) -> None:
    place = tmp_path / "plans"
    place.mkdir()
    path = place / "quilt.wedgeplan"
    code = f"""
import os
from pathlib import Path
from app.plan import atomic
from app.plan.model import Plan
from app.plan.plan_file import write_plan
from app.window.locks import plan_lock
path = Path({str(path)!r})
write_plan(path, Plan(title="old"))
lock = plan_lock(path)
lock.take()
os.replace = lambda *_: (print("half", flush=True), os.kill(os.getpid(), 9))
write_plan(path, Plan(title="new"))
"""
    with child(code, env=surroundings(tmp_path)) as process:
        assert process.wait() == -9
    strays = [name for name in os.listdir(place) if name.startswith(TEMP_PREFIX)]
    assert {Path(name).suffix for name in strays} == {".lock", ".tmp"}
    assert read_plan(path).title == "old"
    from app.window.recent import remember_plan

    remember_plan(path)
    bench.keep_in(tmp_path / "recovery")
    qtbot.waitUntil(lambda: os.listdir(place) == ["quilt.wedgeplan"])
    assert bench.keeper is not None
    bench.keeper.close()
    bench.keeper = None


def test_the_list_is_readable_by_all_means(bench: Bench, root: Path, lost: Path) -> None:
    dialog = RecoveredDialog(copies(root), lambda _: None, bench)
    dialog.show()
    QApplication.processEvents()
    for button in (dialog.open_, dialog.throw, dialog.later):
        assert button.height() >= 24
        assert button.accessibleName()
        assert button.whatsThis()
        assert "&" in button.text()
    assert dialog.list.accessibleName()
    dialog.close()
    assert not isinstance(QApplication.activeModalWidget(), QMessageBox)
