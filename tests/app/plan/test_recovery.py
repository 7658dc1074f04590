"""Copies of unsaved work: kept whole or not at all, found again, never thrown away unasked."""

from __future__ import annotations

import os
import stat
import sys
import time
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings

from app.plan import recovery
from app.plan.atomic import TEMP_PREFIX, WriteError, _own_prefix, clear_strays
from app.plan.model import Plan
from app.plan.photo import Photo
from app.plan.plan_file import PlanFileError, write_plan
from app.plan.recovery import (
    Left,
    Origin,
    Recovery,
    RecoveryError,
    clear_dead,
    left_behind,
    read_left,
    remove,
)
from tests.app.plan.samples import plans, small_plan, square


def small_photo(number: int) -> Photo:
    """A JPEG's head (ITU T.81, B.2.2: a frame of 60 by 80), and as many bytes as a photo's least."""
    head = bytes.fromhex("ffd8 ffc0 0011 08 0050 003c 03 011100 021100 031100")
    return Photo(
        data=head + b"\xff\xda\x00\x02" + bytes([number]) * 5000 + b"\xff\xd9", corners=((1.0, 2.5),)
    )


NO_FILE = Origin()


def nobody(_: Path) -> bool:
    """All owners are dead."""
    return False


def left_by(root: Path, plan: Plan, origin: Origin = NO_FILE) -> Left:
    before = {left.folder for left in left_behind(root, nobody)}
    Recovery(root).keep(plan, origin)
    return next(left for left in left_behind(root, nobody) if left.folder not in before)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(plan=plans())
def test_what_is_kept_is_read_back_exactly(tmp_path: Path, plan: Plan) -> None:
    left = left_by(tmp_path, plan)
    found = read_left(left)
    assert found.plan == plan
    assert msgspec.json.encode(found.plan) == msgspec.json.encode(plan)
    remove(left)
    assert left_behind(tmp_path, nobody) == []


def test_what_is_said_of_a_copy(tmp_path: Path) -> None:
    now = time.time()
    left = left_by(tmp_path / "root", small_plan(), Origin(tmp_path / "quilt.wedgeplan", "f" * 64))
    assert left.origin == Origin(tmp_path / "quilt.wedgeplan", "f" * 64)
    assert (left.title, left.patches) == (small_plan().title, 2)
    assert abs(left.when - now) < 60
    assert str(os.getpid()) in left.by
    assert left_by(tmp_path / "root", Plan()).origin == Origin(), "a plan that was never named"
    if os.name == "posix":
        assert stat.S_IMODE(left.folder.stat().st_mode) == 0o700, "nobody else's business"


def test_a_long_title_hides_no_copy(tmp_path: Path) -> None:
    left = left_by(tmp_path, Plan(title="日" * 100_000))
    assert left.patches == 0
    assert left.title == "日" * 200
    assert read_left(left).plan.title == "日" * 100_000


@pytest.mark.skipif(sys.platform != "linux", reason="other systems do not allow all of these names")
@pytest.mark.parametrize(
    "name", [b"with blanks", "ü 日本 👩‍🎨".encode(), b"'\"`$x", b"-rf", b"x" * 255, b"\xff\xfe", b"a\nb"]
)
def test_any_name_of_a_file_is_kept(tmp_path: Path, name: bytes) -> None:
    file = Path(os.fsdecode(os.fsencode(tmp_path) + b"/" + name))
    assert read_left(left_by(tmp_path / "root", Plan(title="T"), Origin(file))).origin.file == file
    root = Path(os.fsdecode(os.fsencode(tmp_path) + b"/" + name[:200]))
    assert read_left(left_by(root, Plan(title="T"))).plan.title == "T", "in a folder of that name, too"


def test_of_the_living_nothing_is_offered(tmp_path: Path) -> None:
    dead, alive = left_by(tmp_path, Plan(title="a")), left_by(tmp_path, Plan(title="b"))
    assert [left.title for left in left_behind(tmp_path, lambda lock: lock == alive.lock)] == ["a"]
    assert {left.folder for left in left_behind(tmp_path, nobody)} == {dead.folder, alive.folder}


def test_the_latest_comes_first_and_looking_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for when, title in ((3e8, "a"), (5e8, "c"), (4e8, "b")):  # whatever the clock and the folders' names say
        with monkeypatch.context() as patching:
            patching.setattr("app.plan.recovery.time.time", lambda when=when: when)
            left_by(tmp_path, Plan(title=title))
    for _ in range(2):
        assert [left.title for left in left_behind(tmp_path, nobody)] == ["c", "b", "a"]
        clear_dead(tmp_path, nobody)


def test_a_photo_is_stored_once(tmp_path: Path) -> None:
    mine = Recovery(tmp_path)
    plan = Plan(photo=small_photo(1), patches=(square(),))
    mine.keep(plan, Origin())
    (part,) = mine.folder.glob("part-*")
    before = part.stat()
    changed = msgspec.structs.replace(plan, title="moved")
    mine.keep(changed, Origin())
    assert part.stat().st_mtime_ns == before.st_mtime_ns
    assert part.stat().st_ino == before.st_ino
    copy = (mine.folder / "plan.recovery").read_bytes()
    assert len(copy) < len(small_photo(1).data)
    assert read_left(left_behind(tmp_path, nobody)[0]).plan == changed
    other = msgspec.structs.replace(plan, photo=small_photo(2))
    mine.keep(other, Origin())
    assert len(list(mine.folder.glob("part-*"))) == 1, "the photo before is needed no more"
    assert read_left(left_behind(tmp_path, nobody)[0]).plan == other
    mine.clear()
    assert os.listdir(mine.folder) == []
    mine.end()
    assert os.listdir(tmp_path) == []


def test_every_flipped_bit_is_noticed(tmp_path: Path) -> None:
    plan = Plan(title="T", patches=(square(),), photo=small_photo(1))
    left = left_by(tmp_path, plan)
    sentences = set()
    for path in left.folder.iterdir():
        data = path.read_bytes()
        for at in range(0, len(data), max(1, len(data) // 50)):
            path.write_bytes(data[:at] + bytes([data[at] ^ 4]) + data[at + 1 :])
            (seen,) = left_behind(tmp_path, nobody)  # a copy that cannot be read is listed all the same
            try:
                assert read_left(seen).plan == plan, f"{path.name}, byte {at}"
            except (RecoveryError, PlanFileError) as error:
                sentences.add(str(error))
            path.write_bytes(data[:at])
            try:
                read_left(left_behind(tmp_path, nobody)[0])
            except (RecoveryError, PlanFileError):
                pass
            else:
                raise AssertionError(f"{path.name} cut at {at} was taken")
        path.write_bytes(data)
    assert read_left(left).plan == plan
    assert len(sentences) >= 1
    assert not any("\n" in sentence for sentence in sentences)


def test_a_copy_of_a_newer_wedgewright_stays(tmp_path: Path) -> None:
    left = left_by(tmp_path, Plan(title="T"))
    path = left.folder / "plan.recovery"
    path.write_bytes(path.read_bytes().replace(b"wedgewright-recovery 1", b"wedgewright-recovery 2"))
    (seen,) = left_behind(tmp_path, nobody)
    with pytest.raises(RecoveryError, match="of another Wedgewright; it is kept"):
        read_left(seen)
    assert path.exists()


def test_one_that_another_window_took_says_so(tmp_path: Path) -> None:
    left = left_by(tmp_path, Plan(title="T"))
    remove(left)
    with pytest.raises(RecoveryError, match="“T”: this copy is not there any more"):
        read_left(left)


def test_a_copy_that_cannot_be_written_leaves_the_one_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = Recovery(tmp_path)
    mine.keep(Plan(title="first"), Origin())

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patching:
        patching.setattr("app.plan.atomic.os.write", full)
        with pytest.raises(WriteError, match="the disk is full"):
            mine.keep(Plan(title="second"), Origin())
    (left,) = left_behind(tmp_path, nobody)
    assert read_left(left).plan.title == "first"
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(WriteError, match="nothing can be kept there"):
        Recovery(tmp_path / "file").keep(Plan(), Origin())


def test_the_original_is_never_written(tmp_path: Path) -> None:
    path = tmp_path / "quilt.wedgeplan"
    write_plan(path, Plan(title="saved"))
    before = path.read_bytes(), path.stat().st_mtime_ns
    left = left_by(tmp_path / "root", Plan(title="not saved"), Origin(path))
    read_left(left)
    remove(left)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
    assert sorted(os.listdir(tmp_path)) == ["quilt.wedgeplan", "root"]


# --- what the dead leave half done ------------------------------------------------------------------


def test_folders_of_the_dead_go_when_there_is_nothing_in_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = ("dead", "alive", "full")
    for name in names:
        (tmp_path / name).mkdir()
        (tmp_path / name / "owner.lock").write_bytes(b"")
        (tmp_path / name / f"{TEMP_PREFIX}x.tmp").write_bytes(b"half")
    (tmp_path / "full" / "plan.recovery").write_bytes(b"whatever it is")
    (tmp_path / "file").write_bytes(b"of somebody else")

    def alive(lock: Path) -> bool:
        return lock.parent.name == "alive"

    clear_dead(tmp_path, alive)
    assert sorted(os.listdir(tmp_path)) == ["alive", "dead", "file", "full"], "they may be just being made"
    monkeypatch.setattr(recovery, "_YOUNG", -1.0)
    clear_dead(tmp_path, alive)
    assert sorted(os.listdir(tmp_path)) == ["alive", "file", "full"]


def test_stray_files_of_the_dead_go_and_no_others(tmp_path: Path) -> None:
    ours = _own_prefix()
    gone = [f"{ours}123-aa.tmp", f"{ours}124-bb.tmp"]
    stay = [
        f"{ours}{os.getpid()}-cc.tmp", f"{TEMP_PREFIX}0000000f-123-aa.tmp", f"{TEMP_PREFIX}note.txt",
        f"{ours}x-aa.tmp", "quilt.wedgeplan", "quilt.wedgeplan~", f"x{ours}123-aa.tmp",
    ]  # fmt: skip
    for name in (*gone, *stay):
        (tmp_path / name).write_bytes(b"")
    clear_strays(tmp_path, lambda pid: pid == os.getpid())
    assert sorted(os.listdir(tmp_path)) == sorted(stay)
    clear_strays(tmp_path / "none", nobody)  # type: ignore[arg-type]
