"""Promise: whatever happens to the target, the older export stays byte for byte or the new one is whole, no
other file is left behind, and one sentence says which file, what, and what to do.

Everything that writes an export is put through it: each kind of template, and a card.
"""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

import pytest

from app.exporting import TemplateOptions, write_template
from app.exporting.cards import CardKind, CardPatch, write_card
from app.plan.atomic import WriteError
from app.plan.ezdxf_library import load_ezdxf
from geometry import WedgewrightError
from tests.app.exporting.samples import square
from tests.app.plan.test_atomic import Faults, strays, unprivileged

posix = pytest.mark.skipif(os.name != "posix", reason="permissions and signals as POSIX has them")

OLD = b"an older export " * 400
Progress: TypeAlias = Callable[[int, int], None]


def _template(path: Path, progress: Progress | None = None) -> None:
    write_template(path, [("Kite", square(50.8))], TemplateOptions(together=False), progress=progress)


def _cutter(path: Path, progress: Progress | None = None) -> None:
    write_template(path, [("Kite", square(50.8))], TemplateOptions(cutter=True), progress=progress)


def _card(path: Path, progress: Progress | None = None) -> None:
    write_card(path, [CardPatch("Kite", square(50.8))], kind=CardKind.MARKING, progress=progress)


WRITERS: dict[str, tuple[str, Callable[[Path, Progress | None], None], bytes]] = {
    "PDF": ("kite.pdf", _template, b"%%EOF"),
    "SVG": ("kite.svg", _template, b"</svg>"),
    "SVG for a cutter": ("cut.svg", _cutter, b"</svg>"),
    "DXF": ("kite.dxf", _template, b"EOF"),
    "PNG": ("kite.png", _template, b"IEND\xaeB`\x82"),
    "card": ("card.pdf", _card, b"%%EOF"),
}
every_writer = pytest.mark.parametrize("writer", WRITERS)


def whole(data: bytes, end: bytes) -> bool:
    return len(data) > 1000 and data.rstrip().endswith(end)


def refused(
    path: Path, write: Callable[[Path, Progress | None], None], progress: Progress | None = None
) -> str:
    """The sentence, which has its three parts."""
    with pytest.raises(WedgewrightError) as caught:
        write(path, progress)
    sentence = str(caught.value)
    assert sentence.startswith(f"“{path.name}”: ")
    assert "\n" not in sentence
    assert caught.value.what
    assert caught.value.do
    return sentence


@every_writer
def test_a_good_target_is_replaced_whole(writer: str, tmp_path: Path) -> None:
    name, write, end = WRITERS[writer]
    path = tmp_path / name
    path.write_bytes(OLD)
    write(path, None)
    assert whole(path.read_bytes(), end)
    assert os.listdir(tmp_path) == [name]


@every_writer
def test_a_folder_of_that_name(writer: str, tmp_path: Path) -> None:
    name, write, _ = WRITERS[writer]
    path = tmp_path / name
    path.mkdir()
    (path / "kept").write_bytes(OLD)
    assert refused(path, write).endswith("there is a folder of that name; choose another name")
    assert (path / "kept").read_bytes() == OLD
    assert os.listdir(tmp_path) == [name]


@every_writer
def test_a_folder_that_vanishes_while_it_is_made(writer: str, tmp_path: Path) -> None:
    name, write, _ = WRITERS[writer]
    folder = tmp_path / "quilts"
    folder.mkdir()

    def vanish(done: int, total: int) -> None:
        shutil.rmtree(folder, ignore_errors=True)

    sentence = refused(folder / name, write, vanish)
    assert sentence.endswith("its folder is not there any more; save in another folder")
    assert os.listdir(tmp_path) == []


@posix
@every_writer
def test_a_folder_or_a_file_that_is_write_protected(writer: str) -> None:
    name, write, end = WRITERS[writer]
    load_ezdxf()  # while its files can still be read
    _warm(name, write)
    with unprivileged() as folder:
        path = folder / name
        path.write_bytes(OLD)
        folder.chmod(0o555)
        assert "write-protected; save in another folder or under another name" in refused(path, write)
        folder.chmod(0o755)
        path.chmod(0o444)
        assert "write-protected; save in another folder or under another name" in refused(path, write)
        assert path.read_bytes() == OLD
        assert os.listdir(folder) == [name]
        path.chmod(0o644)
        write(path, None)
        assert whole(path.read_bytes(), end)


def _warm(name: str, write: Callable[[Path, Progress | None], None]) -> None:
    """Load all that writing loads: refused at the very end only."""
    with pytest.raises(WriteError):
        write(Path("/") / "no such folder" / name, None)


@posix
@every_writer
def test_a_disk_that_is_full_at_any_call(
    writer: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As of the plan file (``test_atomic``), now of each export: every call in turn."""
    name, write, end = WRITERS[writer]
    _warm(name, write)
    path = tmp_path / name
    with monkeypatch.context() as patching:
        faults = Faults(patching)
        path.write_bytes(OLD)
        faults.seen.clear()
        write(path, None)
        calls = list(faults.seen)
    assert {"open", "write", "fsync", "replace"} <= set(calls)
    told = 0
    # Long files are written in many calls, all alike: of those the first, one within, and the last.
    writes = [at for at, call in enumerate(calls) if call == "write"]
    left_out = set(writes[1:-1]) - {writes[len(writes) // 2]}
    for at in sorted(set(range(len(calls))) - left_out):
        path.write_bytes(OLD)
        with monkeypatch.context() as patching:
            faults = Faults(patching)
            faults.at, faults.error, faults.lasting = at, OSError(errno.ENOSPC, "injected"), False
            sentence = ""
            try:
                write(path, None)
            except WriteError as error:
                sentence = str(error)
        now = path.read_bytes()
        if sentence:
            told += 1
            assert sentence == f"“{name}”: not saved: the disk is full; make room, or save in another place"
        else:
            assert calls[at] == "unlink", f"{calls[at]} failed and nothing was said"
            assert whole(now, end)
        assert now == OLD or whole(now, end), f"{calls[at]}: a mixture"
        assert strays(tmp_path) == []
        assert os.listdir(tmp_path) == [name]
    assert told >= 5


@every_writer
def test_a_file_that_another_program_holds(
    writer: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where an open file cannot be replaced (Windows: PermissionError, EACCES)."""
    name, write, _ = WRITERS[writer]
    path = tmp_path / name
    path.write_bytes(OLD)

    def held(*_: object) -> None:
        raise PermissionError(errno.EACCES, "held")

    monkeypatch.setattr(os, "replace", held)
    assert "save in another folder or under another name" in refused(path, write)
    assert path.read_bytes() == OLD
    assert os.listdir(tmp_path) == [name]


def test_no_room_for_what_dxf_needs_beside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.delitem(sys.modules, "ezdxf", raising=False)
    monkeypatch.setattr("app.plan.ezdxf_library.TemporaryDirectory", full)
    with pytest.raises(
        WedgewrightError, match=r"^“kite.dxf”: there is no room for temporary files; make room on the"
    ):
        _template(tmp_path / "kite.dxf")
    assert os.listdir(tmp_path) == []


# --- on the command line ------------------------------------------------------------------------------------

CALL = """
import os, signal, sys
import app.cli, app.plan.atomic, geometry.fit
signal.signal(signal.SIGINT, signal.default_int_handler)  # a background job of a shell ignores it
real = os.write
def write(handle, data):
    if len(data) < 1000:  # what is tried out in a folder for temporary files
        return real(handle, data)
    real(handle, data[:100])
    os.kill(os.getpid(), signal.SIGINT)
    return real(handle, data[100:]) + 100
if sys.argv.pop(1) == "writing":
    os.write = write
else:
    import app.exporting.template
    inner = app.exporting.template.build
    def build(*args, **kwargs):
        os.kill(os.getpid(), signal.SIGINT)
        return inner(*args, **kwargs)
    app.exporting.template.build = build
    import app.exporting.cutter
    app.exporting.cutter.build = build
sys.exit(app.cli.main())
"""


def wedgewright(*arguments: str | Path, code: str = "", stdout: int = subprocess.PIPE) -> tuple[int, bytes]:
    """Exit status and standard error of a call in a process of its own."""
    program = [sys.executable, "-c", code] if code else [sys.executable, "-m", "app"]
    done = subprocess.run(
        [*program, *map(str, arguments)],
        stdout=stdout,
        stderr=subprocess.PIPE,
        cwd=Path(__file__).parents[3],
        check=False,
        timeout=120,
    )
    return done.returncode, done.stderr


@pytest.fixture
def outline(tmp_path: Path) -> Path:
    path = tmp_path / "kite.txt"
    path.write_text("unit: in\n0 0\n4 0\n3 5\n", "utf-8")
    return path


@posix
@pytest.mark.parametrize(("name", "when"), [("o.pdf", "making"), ("o.pdf", "writing"), ("o.dxf", "writing")])
def test_ctrl_c_leaves_the_older_export_and_says_nothing(outline: Path, name: str, when: str) -> None:
    target = outline.with_name(name)
    target.write_bytes(OLD)
    status, error = wedgewright(when, "template", outline, "-o", target, code=CALL)
    assert (status, error) == (130, b"")
    assert target.read_bytes() == OLD
    assert sorted(os.listdir(target.parent)) == ["kite.txt", name]


@posix
def test_a_closed_pipe_leaves_the_export_whole(outline: Path) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    target = outline.with_name("o.dxf")
    status, error = wedgewright("template", outline, "-o", target, stdout=writer)
    os.close(writer)
    assert (status, error) == (141, b"")
    assert whole(target.read_bytes(), b"EOF")
    assert sorted(os.listdir(target.parent)) == ["kite.txt", "o.dxf"]


@posix
def test_a_target_without_a_folder_is_one_line(outline: Path) -> None:
    status, error = wedgewright("template", outline, "-o", outline.parent / "none" / "o.dxf")
    assert status == 2
    assert error.decode() == (
        "wedgewright: “o.dxf”: not saved: its folder is not there any more; save in another folder\n"
    )
    assert os.listdir(outline.parent) == ["kite.txt"]
