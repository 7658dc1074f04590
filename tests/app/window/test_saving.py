"""Saving: one window at a time, never over what something else wrote, and always somewhere."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, QSettings, Qt
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QFileDialog

from app.cli import main
from app.plan.atomic import TEMP_PREFIX, previous_path
from app.plan.model import Plan
from app.plan.plan_file import fingerprint, read_plan, write_plan
from app.plan.recovery import left_behind
from app.window.dialogs import Dialogs, Overwrite, Unsaved
from app.window.locks import Lock, clear_dead_locks, plan_lock
from app.window.look import Look
from app.window.main_window import Bench
from app.window.recent import recent_plans, remember_plan
from tests.app.plan.test_atomic import unprivileged
from tests.app.window.conftest import Answers, Hand, block
from tests.app.window.test_dialogs import answered
from tests.app.window.test_start import ROOT, child

posix = pytest.mark.skipif(os.name != "posix", reason="permissions, links and kills as POSIX has them")
linux = pytest.mark.skipif(sys.platform != "linux", reason="other systems do not allow all of these names")

ENDINGS = "pdf", "svg", "dxf", "png"
AWKWARD = [
    b"with blanks", "ü 日本 👩‍🎨".encode(), b"'\"`$x [*] &a", b"-rf", b"x" * 245, b"\xff\xfe quilt",
]  # fmt: skip


@pytest.fixture(autouse=True)
def data_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A plan in a file, in a folder of its own."""
    made = tmp_path / "plans" / "quilt.wedgeplan"
    made.parent.mkdir()
    write_plan(made, Plan(title="Quilt", patches=(block("First"),)))
    return made


HOLD = """
import sys
from pathlib import Path
from app.window.locks import plan_lock
lock = plan_lock(Path(sys.argv[1]))
print(lock.take(), flush=True)
"""
WAIT = "import threading; threading.Event().wait()"


@contextmanager
def held_by_another(path: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process works on the plan; it can be killed."""
    code = f"import sys; sys.argv = ['', {str(path)!r}]\n{HOLD}{WAIT}"
    with child(code, env={**os.environ, "PYTHONPATH": str(ROOT)}) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "True\n"
        yield process


def change(bench: Bench, hand: Hand) -> None:
    hand.key(Qt.Key.Key_Right)
    assert bench.isWindowModified()


def strays(folder: Path) -> list[str]:
    return [name for name in os.listdir(folder) if name.startswith(TEMP_PREFIX)]


# --- one window at a time ---------------------------------------------------------------------------


@posix
@pytest.mark.parametrize("by", ["a link", "a folder's link"])
def test_the_second_window_opens_read_only_and_says_who_has_it(
    bench: Bench, hand: Hand, answers: Answers, path: Path, tmp_path: Path, by: str
) -> None:
    (tmp_path / "link.wedgeplan").symlink_to(path)
    (tmp_path / "folder").symlink_to(path.parent)
    way = {
        "a link": tmp_path / "link.wedgeplan",
        "a folder's link": tmp_path / "folder" / path.name,
    }[by]
    before = path.read_bytes()
    with held_by_another(path) as other:
        assert bench.files.open(way)
        assert f"process {other.pid}" in bench.message.text
        assert os.uname().nodename in bench.message.text
        assert "(read-only)" in bench.windowTitle()
        assert bench.session.plan.patches[0].name == "First"
        change(bench, hand)
        answers.elsewhere = tmp_path / "another.wedgeplan"
        bench.actions_.save.trigger()
        assert f"process {other.pid}" in answers.told[0]
        assert path.read_bytes() == before
        assert read_plan(tmp_path / "another.wedgeplan") == bench.session.plan
        assert bench.session.path == tmp_path / "another.wedgeplan"
        assert not bench.isWindowModified()
        assert "(read-only)" not in bench.windowTitle()


@posix
def test_a_dead_owner_is_taken_over(bench: Bench, hand: Hand, path: Path) -> None:
    with held_by_another(path) as other:
        other.kill()
        other.wait()
        assert strays(path.parent) != [], "its lock is still there"
        assert bench.files.open(path)
    assert bench.files.read_only == ""
    change(bench, hand)
    assert bench.files.save()
    assert read_plan(path) == bench.session.plan
    bench.close()
    assert strays(path.parent) == []


@pytest.mark.parametrize("content", [b"", b"999999999\npython\nnowhere\n"])
def test_a_lock_that_names_nobody_is_of_the_dead(path: Path, content: bytes) -> None:
    lock = plan_lock(path)
    lock.path.write_bytes(content)
    if b"nowhere" in content:  # of another machine, where nobody can look after it
        assert not lock.take()
        assert "nowhere, process 999999999" in lock.holder
        return
    assert lock.take()
    assert not Lock(lock.path).take()
    lock.release()


@posix
def test_when_the_other_window_is_gone_it_can_be_saved(
    bench: Bench, hand: Hand, answers: Answers, path: Path
) -> None:
    with held_by_another(path):
        assert bench.files.open(path)
        change(bench, hand)
        write_plan(path, Plan(title="by the other", patches=(block("Theirs"),)))
    answers.overwrite = Overwrite.CANCEL
    assert not bench.files.save(), "what the other one saved is not lost"
    assert answers.asked == ["overwrite quilt.wedgeplan"]
    answers.overwrite = Overwrite.OVERWRITE
    assert bench.files.save()
    assert read_plan(previous_path(path)).title == "by the other"
    assert bench.files.read_only == ""
    assert "(read-only)" not in bench.windowTitle()


def test_the_lock_goes_with_the_plan(bench: Bench, answers: Answers, path: Path, tmp_path: Path) -> None:
    assert bench.files.open(path)
    assert len(strays(path.parent)) == 1
    assert bench.files.open(path), "again, in the same window"
    assert bench.files.read_only == ""
    answers.save = tmp_path / "other" / "copy.wedgeplan"
    answers.save.parent.mkdir()
    assert bench.files.save_as()
    assert (len(strays(path.parent)), len(strays(answers.save.parent))) == (0, 1)
    broken = tmp_path / "other" / "broken.wedgeplan"
    broken.write_text("{")
    assert not bench.files.open(broken)
    assert len(strays(answers.save.parent)) == 1, "the plan is still worked on"
    assert bench.files.new()
    assert strays(answers.save.parent) == []


@posix
def test_without_a_window_the_lock_holds_too(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    blocks = tmp_path / "blocks.txt"
    blocks.write_text("unit: in\n0 0\n9 0\n9 9\n0 9\n\n1 1\n4 1\n4 4\n1 4\n")
    before = path.read_bytes()
    with held_by_another(path) as other:
        assert main(["leftover", str(blocks), "-o", str(path)]) == 2
        said = capsys.readouterr().err
        assert said.count("\n") == 1
        assert f"process {other.pid}" in said
        assert path.read_bytes() == before
        other.kill()
        other.wait()
        assert main(["leftover", str(blocks), "-o", str(path)]) == 0
    assert path.read_bytes() != before
    assert strays(path.parent) == []


@posix
def test_locks_of_the_dead_are_cleared_and_no_others(path: Path) -> None:
    mine = plan_lock(path.with_name("mine"))
    assert mine.take()
    with held_by_another(path) as other:
        clear_dead_locks(path.parent)
        assert len(strays(path.parent)) == 2
        other.kill()
        other.wait()
    clear_dead_locks(path.parent)
    assert strays(path.parent) == [mine.path.name]
    mine.release()


RACE = """
import sys
from pathlib import Path
from PySide6.QtCore import QCoreApplication
from app.plan.model import Plan
from app.sketch import changes
from app.window.files import Files
from app.window.session import Session
application = QCoreApplication([])
session = Session(Plan())
files = Files(session, None)
print("ready", flush=True)
sys.stdin.readline()
for number in range(int(sys.argv[2])):
    while True:
        assert files.open(Path(sys.argv[1]))
        if not files.read_only:
            break
    session.do(changes.set_repeats(session.plan, 0, session.plan.patches[0].repeats + 1))
    assert files.save()
    files.release()
print("done", flush=True)
"""


@posix
def test_two_processes_lose_no_update_of_each_other(path: Path, tmp_path: Path) -> None:
    settings = {name: str(tmp_path) for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME")}
    updates = 8
    racers = [
        subprocess.Popen(
            [sys.executable, "-c", RACE, str(path), str(updates)], text=True, stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, env={**os.environ, **settings, "PYTHONPATH": str(ROOT)},
        )
        for _ in range(2)
    ]  # fmt: skip
    try:
        for racer in racers:
            assert racer.stdout is not None
            assert racer.stdout.readline() == "ready\n"
        for racer in racers:
            assert racer.stdin is not None
            racer.stdin.write("go\n")
            racer.stdin.flush()
        assert [racer.communicate(timeout=60)[0] for racer in racers] == ["done\n", "done\n"]
    finally:
        for racer in racers:
            racer.kill()
    assert read_plan(path).patches[0].repeats == 1 + 2 * updates
    assert strays(path.parent) == []


# --- changed outside --------------------------------------------------------------------------------


@pytest.mark.parametrize("answer", list(Overwrite))
def test_what_something_else_wrote_is_asked_about(
    bench: Bench, hand: Hand, answers: Answers, path: Path, tmp_path: Path, answer: Overwrite
) -> None:
    assert bench.files.open(path)
    change(bench, hand)
    theirs = Plan(title="from outside", patches=(block("Theirs"),))
    write_plan(path, theirs)
    answers.overwrite, answers.save = answer, tmp_path / "mine.wedgeplan"
    bench.actions_.save.trigger()
    assert answers.asked[0] == "overwrite quilt.wedgeplan"
    mine = bench.session.plan
    match answer:
        case Overwrite.OVERWRITE:
            assert (read_plan(path), read_plan(previous_path(path))) == (mine, theirs)
        case Overwrite.ELSEWHERE:
            assert (read_plan(path), read_plan(answers.save)) == (theirs, mine)
            assert bench.session.path == answers.save
        case Overwrite.CANCEL:
            assert read_plan(path) == theirs
    assert bench.isWindowModified() == (answer is Overwrite.CANCEL)
    if answer is not Overwrite.CANCEL:
        change(bench, hand)
        answers.asked.clear()
        bench.actions_.save.trigger()
        assert answers.asked == [], "once is enough"


def test_a_file_of_the_same_size_and_time_is_noticed(
    bench: Bench, hand: Hand, answers: Answers, path: Path
) -> None:
    assert bench.files.open(path)
    change(bench, hand)
    was = path.stat()
    path.write_bytes(path.read_bytes().replace(b"First", b"Fifth"))
    os.utime(path, ns=(was.st_atime_ns, was.st_mtime_ns))
    assert (path.stat().st_size, path.stat().st_mtime_ns) == (was.st_size, was.st_mtime_ns)
    assert not bench.files.save()
    assert answers.asked == ["overwrite quilt.wedgeplan"]


def test_touched_copied_back_or_gone_is_no_change(
    bench: Bench, hand: Hand, answers: Answers, path: Path
) -> None:
    assert bench.files.open(path)
    for happens in (lambda: os.utime(path), lambda: path.write_bytes(path.read_bytes()), path.unlink):
        change(bench, hand)
        happens()
        assert bench.files.save()
        assert read_plan(path) == bench.session.plan
    assert answers.asked == []
    assert fingerprint(path.parent) is None


# --- a save that fails ------------------------------------------------------------------------------


@linux
def test_where_the_disk_is_full_another_place_is_offered_at_once(
    bench: Bench, hand: Hand, answers: Answers, path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert bench.files.open(path)
    before = path.read_bytes()
    change(bench, hand)
    real = os.write

    def full(handle: int, data: bytes) -> int:
        if Path(os.readlink(f"/proc/self/fd/{handle}")).parent == path.parent:
            raise OSError(28, "No space left on device")
        return real(handle, data)

    monkeypatch.setattr("app.plan.atomic.os.write", full)
    bench.actions_.save.trigger()
    assert answers.told == [
        "“quilt.wedgeplan”: not saved: the disk is full; make room, or save in another place"
    ]
    assert path.read_bytes() == before
    assert bench.isWindowModified()
    assert bench.session.path == path
    answers.leaving = Unsaved.SAVE
    assert not bench.close(), "a window whose work could not be saved stays"
    answers.elsewhere = tmp_path / "elsewhere.wedgeplan"
    bench.actions_.save.trigger()
    assert read_plan(tmp_path / "elsewhere.wedgeplan") == bench.session.plan
    assert path.read_bytes() == before
    assert strays(path.parent) == []
    assert bench.close()


@pytest.mark.parametrize("press", ["Save in another place…", "Cancel", None])
def test_the_real_question_offers_another_place_than_where_it_failed(
    bench: Bench, look: Look, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, press: str | None
) -> None:
    starts: list[Path] = []

    def save(parent: object, title: str, start: str, kinds: str) -> tuple[str, str]:
        starts.append(Path(start))
        return str(tmp_path / "other"), kinds

    monkeypatch.setattr(QFileDialog, "getSaveFileName", save)
    full = tmp_path / "full" / "quilt.wedgeplan"
    dialogs = Dialogs(bench, look)
    dialogs._folder = full.parent
    place, box = answered(lambda: dialogs.plan_elsewhere("the disk is full", "Quilt", full), press)
    assert box.text() == "the disk is full"
    assert "still here" in box.informativeText()
    if press is None or press == "Cancel":
        assert (place, starts) == (None, [])
        return
    assert place == tmp_path / "other.wedgeplan"
    assert [start.name for start in starts] == ["quilt.wedgeplan"]
    assert starts[0].parent != full.parent


@posix
@pytest.mark.parametrize("what", ["file", "folder"])
def test_without_permission_it_opens_read_only_and_says_so(
    bench: Bench, hand: Hand, answers: Answers, tmp_path: Path, what: str
) -> None:
    with unprivileged() as folder:
        path = folder / "quilt.wedgeplan"
        write_plan(path, Plan(patches=(block("First"),)))
        before = path.read_bytes()
        (path if what == "file" else folder).chmod(0o555)
        assert bench.files.open(path)
        assert "write-protected" in bench.message.text
        assert "(read-only)" in bench.windowTitle()
        change(bench, hand)
        bench.actions_.save.trigger()
        assert "write-protected" in answers.told[0]
        assert path.read_bytes() == before
        assert bench.isWindowModified()
        assert bench.files.new() is False, "the edits stay"
        bench.files.release()


# --- the version before -----------------------------------------------------------------------------


def test_the_version_before_opens_as_unsaved_work(
    bench: Bench, hand: Hand, answers: Answers, path: Path
) -> None:
    assert not bench.actions_.previous.isEnabled()
    assert bench.files.open(path)
    first = bench.session.plan
    bench.actions_.previous.trigger()
    assert "no version before" in answers.told[0]
    change(bench, hand)
    second = bench.session.plan
    bench.actions_.save.trigger()
    assert bench.actions_.previous.isEnabled()
    bench.actions_.previous.trigger()
    assert bench.session.plan == first
    assert bench.session.path == path
    assert bench.isWindowModified()
    assert "before the last save" in bench.message.text
    assert read_plan(path) == second, "the file stays as it is until it is saved"
    bench.actions_.save.trigger()
    assert (read_plan(path), read_plan(previous_path(path))) == (first, second)
    assert answers.asked == []
    previous_path(path).write_bytes(b"{")
    bench.actions_.previous.trigger()
    assert "quilt.wedgeplan~" in answers.told[1]
    assert bench.session.plan == first


# --- any name ---------------------------------------------------------------------------------------


@linux
@pytest.mark.parametrize(
    ("name", "folder"),
    [*((name, b"plain") for name in AWKWARD), (AWKWARD[0], b"\xff \xfe"), (AWKWARD[5], AWKWARD[1])],
)
def test_any_name_is_opened_saved_and_remembered(
    bench: Bench, hand: Hand, answers: Answers, tmp_path: Path, name: bytes, folder: bytes
) -> None:
    place = Path(os.fsdecode(os.fsencode(tmp_path) + b"/" + folder))
    place.mkdir()
    path = place / os.fsdecode(name + b".wedgeplan")
    answers.save = path
    change(bench, hand)
    assert bench.files.save()
    change(bench, hand)
    assert bench.files.save()
    bench.take([path])
    assert bench.session.plan == read_plan(path)
    assert bench.files.read_only == ""
    other = plan_lock(path)
    assert not other.take()
    assert other.is_held, "by this window"
    assert bench.files.open_previous()
    answers.leaving = Unsaved.DISCARD
    assert bench.files.recent() == [path]
    bench.actions_.recent.actions()[0].trigger()
    assert bench.session.path == path
    assert not bench.isWindowModified()
    assert bench.files.new()
    assert sorted(os.listdir(place)) == sorted([path.name, previous_path(path).name])
    assert not list((tmp_path / "data").rglob("*.lock"))
    assert answers.told == []


@linux
@pytest.mark.usefixtures("application")
@pytest.mark.parametrize(
    ("name", "ending"),
    [
        *zip(AWKWARD, ("pdf", "svg", "dxf", "png", "pdf"), strict=False),
        *((AWKWARD[5], each) for each in ENDINGS),
    ],
)
def test_any_name_is_exported_to(path: Path, tmp_path: Path, name: bytes, ending: str) -> None:
    out = tmp_path / os.fsdecode(name + b"." + ending.encode())
    assert main(["template", str(path), "-o", str(out)]) == 0
    assert out.stat().st_size > 500
    assert set(os.listdir(tmp_path)) <= {"plans", "settings", "data", out.name}


def test_a_name_that_begins_with_a_dash_in_the_present_folder(
    bench: Bench, hand: Hand, path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.keep_in(tmp_path / "recovery")
    there = path.rename(path.with_name("-rf.wedgeplan"))
    monkeypatch.chdir(path.parent)
    assert main(["fit", "--", there.name]) in {0, 1}
    assert main(["template", "--output=-o.svg", "--", there.name]) == 0
    assert (path.parent / "-o.svg").stat().st_size > 500
    bench.take([Path(there.name)])
    change(bench, hand)
    assert bench.rescue() == ""
    (left,) = left_behind(tmp_path / "recovery", lambda _: False)
    assert bench.files.save()
    monkeypatch.chdir(tmp_path)  # as when the next start is from another folder
    assert left.origin.file == there
    assert bench.files.recent() == [there]
    assert read_plan(there) == bench.session.plan


@linux
@pytest.mark.parametrize("name", AWKWARD[-2:])
def test_any_name_is_dropped(bench: Bench, path: Path, name: bytes) -> None:
    there = path.with_name(os.fsdecode(name + b".wedgeplan"))
    path.rename(there)
    dropped = QMimeData()
    dropped.setData("text/uri-list", there.as_uri().encode() + b"\r\n")
    copy, left, plain = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    QApplication.sendEvent(bench, QDragEnterEvent(QPoint(9, 9), copy, dropped, left, plain))
    QApplication.sendEvent(bench, QDropEvent(QPointF(9, 9), copy, dropped, left, plain))
    assert bench.session.path == there


@linux
def test_recent_plans_of_any_name_come_back_from_the_file(tmp_path: Path) -> None:
    paths = [Path(os.fsdecode(os.fsencode(tmp_path) + b"/" + name)) for name in AWKWARD]
    for path in paths:
        path.write_bytes(b"")
        remember_plan(path)
    QSettings().sync()
    assert recent_plans() == list(reversed(paths))
    QSettings().setValue("files/recent", ['"', '"no end', str(paths[0]), json.dumps([1])])
    assert recent_plans() == [paths[0]], "what is spoilt is left out"
