"""Promises 10, 12 to 18 and 23 from outside: the program as it is called, on files made to harm it.

Each call is a process of its own with a limit on its memory and its time. The corpora lie beside the checkout
and are no part of it.
"""

from __future__ import annotations

import gzip
import json
import os
import re
import resource
import shutil
import signal
import subprocess
import sys
import sysconfig
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from app.plan.plan_file import encode
from tests.app.plan.samples import small_plan
from tests.fuzz.seeds import CORPORA, heic, jpeg, png

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="limits and processes as Linux has them")
ROOT = Path(__file__).parents[2]
MEMORY = 2 << 30
CLOCK = 120
"""s, on a machine that may do much else; the promise is 10 s of a machine that does not."""

strace = pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not here")
corpora = pytest.mark.skipif(not CORPORA.is_dir(), reason="the shared corpora are not here")


def _limit() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))


def called(*arguments: str | Path, before: tuple[str, ...] = ()) -> subprocess.CompletedProcess[bytes]:
    """``wedgewright fit FILE …`` in a process of its own."""
    return subprocess.run(
        [*before, sys.executable, "-B", "-m", "app", "fit", *map(str, arguments)],
        capture_output=True,
        cwd=ROOT,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        preexec_fn=_limit,
        timeout=CLOCK,
        check=False,
    )


def refused(path: Path, done: subprocess.CompletedProcess[bytes]) -> str:
    """The one line of a refusal, which names the file."""
    assert done.returncode == 2, (path, done)
    assert done.stdout == b""
    said = done.stderr.decode()
    assert said.count("\n") == 1, said
    assert "Traceback" not in said
    assert "please report" not in said, said
    return said


# --- what is in the corpora -------------------------------------------------------------------------

BATCH = """
import json, os, resource, signal, sys
resource.setrlimit(resource.RLIMIT_AS, (2 << 30, 2 << 30))
import app.cli
import app.cli.table, app.cli.tasks, app.importing.svg, app.importing.text, app.plan.plan_file, app.report
from app.plan.ezdxf_library import load_ezdxf
load_ezdxf()
from app.importing.dxf import read_dxf
for file in sys.stdin.read().split("\\0"):
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
        os.dup2(writing, 2)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        b = resource.getrusage(resource.RUSAGE_SELF)
        status = app.cli.main(["fit", file, *sys.argv[1:]])
        sys.stderr.flush()
        a = resource.getrusage(resource.RUSAGE_SELF)
        os.write(writing, f"\\0{a.ru_utime - b.ru_utime} {a.ru_maxrss - b.ru_maxrss}".encode())
        os._exit(status)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        said = pipe.read().decode()
    _, status = os.waitpid(child, 0)
    print(json.dumps([file, os.waitstatus_to_exitcode(status), said]))
"""
"""Many calls by one process that has loaded everything and forks: to load takes longer than to answer."""


def batch(paths: list[Path], *options: str) -> dict[str, tuple[int, str, float, float]]:
    """By name: exit status, standard error, s and MiB."""
    done = subprocess.run(
        [sys.executable, "-B", "-c", BATCH, *options],
        input="\0".join(map(str, paths)).encode(),
        capture_output=True,
        cwd=ROOT,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        timeout=280,
        check=True,
    )
    out = {}
    for line in done.stdout.decode().splitlines():
        file, status, said = json.loads(line)
        words, _, cost = said.rpartition("\0")
        seconds, kib = cost.split() if words or cost.count(" ") == 1 else ("0", "0")
        out[Path(file).name] = (status, words, float(seconds), float(kib) / 1024)
    return out


def _expected(kind: str) -> dict[str, dict[str, Any]]:
    path = CORPORA / kind / "expected.json"
    return json.loads(path.read_text()) if path.is_file() else {}


def as_expected(found: dict[str, tuple[int, str, float, float]], expected: dict[str, Any]) -> list[str]:
    """What is not as the corpus says."""
    wrong = []
    for name, (status, said, seconds, mib) in found.items():
        lines = said.splitlines()
        expect = expected[name]["expect"]
        ok = {"import": status in (0, 1), "refuse": status == 2, "either": status in (0, 1, 2)}[expect]
        if status == 2:
            ok = ok and len(lines) == 1 and name in said and "please report" not in said
        ok = ok and "Traceback" not in said and all(line.startswith("wedgewright: ") for line in lines)
        if not ok or mib > 500:
            wrong.append(f"{name}: {expect}, but {status}, {seconds:.1f} s, {mib:.0f} MiB: {said}")
    return wrong


@corpora
@pytest.mark.parametrize(
    ("kind", "options", "part"),
    [
        ("svg", ("--unit", "px"), "hostile"),
        ("dxf", ("--unit", "mm"), "hostile"),
        pytest.param("svg", ("--unit", "px"), "", marks=pytest.mark.long),
        pytest.param("dxf", ("--unit", "mm"), "", marks=pytest.mark.long),
    ],
)
def test_drawings_of_the_corpora(kind: str, options: tuple[str, ...], part: str) -> None:
    expected = {name: each for name, each in _expected(kind).items() if part in name}
    found = batch([CORPORA / kind / name for name in expected], *options)
    assert len(found) == len(expected)
    print(max((seconds, name) for name, (_, _, seconds, _) in found.items()))  # for ``-s``: promised is 1 s
    wrong = as_expected(found, expected)
    assert not wrong, "\n".join(wrong)


@corpora
def test_no_json_of_the_corpora_is_a_plan_nor_may_stand_in_one(tmp_path: Path) -> None:
    paths, expected = [], {}
    for name in sorted(_expected("json")):
        data = (CORPORA / "json" / name).read_bytes()
        for prefix, whole in (("", data), ("in-", encode(small_plan()).replace(b"203.2", data, 1))):
            if prefix and name.startswith(("i_", "y_")):
                continue
            paths.append(tmp_path / f"{prefix}{name}.wedgeplan")
            paths[-1].write_bytes(whole)
            expected[paths[-1].name] = {"expect": "refuse"}
    wrong = as_expected(batch(paths), expected)
    assert not wrong, "\n".join(wrong)


def test_what_the_corpora_tests_would_see() -> None:
    good = (2, "wedgewright: “a.svg”: is empty; choose another\n", 0.1, 3.0)
    expected = {"a.svg": {"expect": "refuse"}}
    assert not as_expected({"a.svg": good}, expected)
    for bad in (
        (0, "", 0.1, 3.0),
        (1, "Traceback (most recent call last):\n", 0.1, 3.0),
        (2, "wedgewright: is empty\n", 0.1, 3.0),
        (2, f"{good[1]}more\n", 0.1, 3.0),
        (-9, "", 0.0, 0.0),
        (*good[:2], 0.1, 501.0),
    ):
        assert as_expected({"a.svg": bad}, expected), bad


_HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xi="http://www.w3.org/2001/XInclude" width="9in"'
_LAUGHS = '<!ENTITY a0 "ha">' + "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12))
BOMBS: dict[str, str | bytes] = {
    "laughs": f"<!DOCTYPE svg [{_LAUGHS}]>{_HEAD}><title>&a11;</title></svg>",
    "laughs-in-an-attribute": f'<!DOCTYPE svg [{_LAUGHS}]>{_HEAD}><rect id="&a11;"/></svg>',
    "quadratic": f'<!DOCTYPE svg [<!ENTITY a "{"x" * 99999}">]>{_HEAD}><title>{"&a;" * 99999}</title></svg>',
    "endless-entity": f'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///dev/zero">]>{_HEAD}><title>&a;</title></svg>',
    "parameter": f'<!DOCTYPE svg [<!ENTITY % a SYSTEM "file:///dev/zero">%a;]>{_HEAD}/>',
    "endless-type": f'<!DOCTYPE svg SYSTEM "file:///dev/zero">{_HEAD}><title>&a;</title></svg>',
    "endless-include": f'{_HEAD}><xi:include href="file:///dev/zero" parse="text"/></svg>',
    "deep": f"{_HEAD}>{'<g>' * 1_000_000}",
    "deep-and-strange": f"{_HEAD}>{'<xi:g>' * 1_000_000}",
    "names": _HEAD + "".join(f" a{n}=''" for n in range(1_000_000)) + "/>",
    "a-name": f"{_HEAD}><{'x' * 2**24}/></svg>",
    "packed": gzip.compress(_HEAD.encode() + b" " * (1 << 28)),
}
"""XML that grows, or goes on for ever, as it is read: most are told of in defusedxml's manual."""


def test_bombs_of_xml_take_no_memory(tmp_path: Path) -> None:
    """Promise 14: less than 50 MiB besides what the program is. ``batch`` ends what goes on for ever."""
    paths = [tmp_path / f"{name}.svg" for name in BOMBS]
    for path, text in zip(paths, BOMBS.values(), strict=True):
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
    found = batch(paths, "--unit", "px")
    assert [path.name for path in paths] == list(found)
    for name, (status, said, _, mib) in found.items():
        assert status == 2, (name, said)
        assert said.count("\n") == 1, said
        assert name in said, said
        assert mib < 50, (name, mib)


# --- what is touched --------------------------------------------------------------------------------

_ALLOWED = re.compile(
    r"(/usr)?/lib(32|64)?/|/usr/share/(locale|zoneinfo)/|/etc/(ld\.so\.(cache|preload)|localtime)$"
    r"|/proc/(self/(maps|status|cgroup|mountinfo)|cpuinfo|meminfo|sys/vm/overcommit_memory)$"
    r"|/sys/(devices/system/(cpu|node)|fs/cgroup)(/|$)|/dev/(null|u?random)$"
)
"""Libraries, locale, time zone, and what the system tells of its processors and memory."""
_OWN = tuple(
    f"{each}/"
    for each in (
        ROOT,
        *(sysconfig.get_paths()[part] for part in ("stdlib", "platstdlib", "purelib", "platlib")),
        *(() if sys.prefix == sys.base_prefix else (sys.prefix,)),
        f"{sys.base_prefix}/lib",
        Path(sys.executable).resolve().parent,
    )
)
_FIT = "import sys; from app.cli import main; main(['fit', sys.argv[1], '--unit', 'mm'])"
_PHOTO = """
import sys
from app.importing.photo import read_photo
from app.window.photo_decoding import as_jpeg, decoded
as_jpeg(decoded(*read_photo(sys.argv[1])))
"""


def touched(path: Path, code: str = _FIT) -> list[str]:
    """Files and folders opened or looked for, and addresses asked for, besides the program's own, by ``code``
    that reads ``path``.
    """
    log = path.parent / "calls"
    subprocess.run(
        ["strace", "-f", "-o", str(log), "-e", "trace=openat,open,connect", sys.executable, "-B", "-c", code,
         str(path)],
        capture_output=True,
        cwd=ROOT,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        timeout=CLOCK,
        check=False,
    )  # fmt: skip
    temporary = os.path.join(tempfile.gettempdir(), "")
    out = []
    for line in log.read_text(errors="replace").splitlines():
        if "connect(" in line:
            out.append(line)
        match = re.search(r'open(?:at)?\((?:AT_FDCWD, )?"((?:[^"\\]|\\.)*)"', line)
        if match is None or match[1].startswith(_OWN) or f"{match[1]}/" in _OWN or _ALLOWED.match(match[1]):
            continue
        if match[1].startswith(temporary) and ("O_EXCL" in line or "/wedgewright-" in match[1]):
            continue  # of its own, new
        out.append(match[1])
    return out


_BAIT = (
    '<!DOCTYPE svg SYSTEM "{bait}"><svg xmlns="http://www.w3.org/2000/svg" width="9in" height="9in"'
    ' xmlns:xlink="http://www.w3.org/1999/xlink" xmlns:xi="http://www.w3.org/2001/XInclude">'
    '<xi:include href="{bait}"/>'
    '<?xml-stylesheet href="{bait}"?><style>@import url("{bait}");</style><image href="{bait}"/>'
    '<use href="{bait}#a"/><use xlink:href="http://localhost:9/a.svg#a"/>'
    '<rect width="300" height="300"/></svg>'
)
_ENTITY = '<!DOCTYPE svg [<!ENTITY a SYSTEM "{bait}">]><svg xmlns="http://www.w3.org/2000/svg">&a;</svg>'


@strace
@pytest.mark.parametrize("text", [_BAIT, _ENTITY])
def test_nothing_is_touched_beyond_the_file_given(text: str, tmp_path: Path) -> None:
    bait = tmp_path / "bait.svg"
    bait.write_text('<svg xmlns="http://www.w3.org/2000/svg"><rect id="a" width="9" height="9"/></svg>')
    path = tmp_path / "pond.svg"
    path.write_text(text.format(bait=bait.as_uri()))
    assert touched(path) == [str(path)]


@strace
def test_of_a_dxf_nothing_either(tmp_path: Path) -> None:
    path = tmp_path / "pond.dxf"
    path.write_bytes(b"  0\nSECTION\n  2\nENTITIES\n  0\nIMAGE\n  1\n/etc/hostname\n  0\nENDSEC\n  0\nEOF\n")
    assert set(touched(path)) == {str(path)}
    others = (
        "/bin/sh",
        "/home/somebody/.cache/x",
        "/etc/shadow",
        "/etc/passwd",
        "/usr/share/fonts",
        "/etc/hosts",
    )
    assert not any(_ALLOWED.match(name) for name in others)


@strace
@pytest.mark.parametrize("name", ["quarters.heic", "pond.jpg", "pond.png"])
def test_of_a_photo_nothing_either(name: str, tmp_path: Path) -> None:
    """Decoded too."""
    from tests.photos import small_jpeg

    path = tmp_path / name
    path.write_bytes(
        {".jpg": small_jpeg, ".png": lambda: png(9, 9)}.get(
            path.suffix, (ROOT / "tests/app/window/photos" / name).read_bytes
        )()
    )
    assert set(touched(path, _PHOTO)) == {str(path)}


@strace
@pytest.mark.parametrize(
    ("plant", "name"),
    [
        ("open('/etc/hostname').read()", "/etc/hostname"),
        ("__import__('os').listdir('/home')", "/home"),
        ("try: open('pond.ini')\nexcept OSError: pass", "pond.ini"),
        ("import socket\ntry: socket.create_connection(('::1', 9), 1)\nexcept OSError: pass", "connect("),
    ],
    ids=["a file", "a folder", "a file that is not there", "an address"],
)  # fmt: skip
def test_a_touch_would_be_seen(plant: str, name: str, tmp_path: Path) -> None:
    path = tmp_path / "pond.txt"
    path.write_text("unit: in\n0 0\n9 0\n9 9\n")
    (only,) = [each for each in touched(path, f"{plant}\n{_FIT}") if each != str(path)]
    assert name in only


@strace
@corpora
@pytest.mark.long
@pytest.mark.parametrize(
    "name", [f"{kind}/{name}" for kind in ("svg", "dxf") for name in _expected(kind) if "hostile" in name]
)
def test_of_the_hostile_ones_nothing_either(name: str, tmp_path: Path) -> None:
    path = tmp_path / Path(name).name
    path.write_bytes((CORPORA / name).read_bytes())
    assert set(touched(path)) == {str(path)}


# --- what is no drawing and no plan -----------------------------------------------------------------


def odd_files(folder: Path, ending: str) -> list[Path]:
    """Nothing of it can be read, and some of it would be read for ever."""
    paths = {
        name: folder / f"{name}{ending}" for name in ("empty", "page", "picture", "folder", "pipe", "device")
    }
    paths["empty"].write_bytes(b"")
    paths["page"].write_bytes(b"<!DOCTYPE html><html><body>pond</body></html>")
    paths["picture"].write_bytes(jpeg(9, 9) if ending == ".png" else png(9, 9))
    paths["folder"].mkdir()
    os.mkfifo(paths["pipe"])
    paths["device"].symlink_to("/dev/zero")
    return list(paths.values())


WORDS = {
    "empty": "is empty",
    "folder": "is a folder",
    "pipe": "is not a file but a pipe or a device",
    "device": "is not a file but a pipe or a device",
}
"""What importers say of ``odd_files``."""


@contextmanager
def within(seconds: int) -> Iterator[None]:
    """Whatever waits for ever is ended; generous, on a machine that may do much else."""

    def late(*_: object) -> None:
        raise AssertionError("waits for ever")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@pytest.mark.parametrize("ending", [".svg", ".dxf", ".txt", ".csv", ".wkt", ".tape", ".wedgeplan"])
def test_empty_html_pictures_folders_pipes_and_devices(ending: str, tmp_path: Path) -> None:
    """In this process; ``main`` is all that a call does."""
    from app.cli import main

    for path in odd_files(tmp_path, ending):
        with _heard() as heard, within(60):
            status = main(["fit", str(path)])
        assert status == 2, path
        (line,) = heard.getvalue().splitlines()
        assert path.name in line, line
        assert "please report" not in line, line
        if ending != ".wedgeplan":
            assert WORDS.get(path.stem, "") in line


@pytest.mark.parametrize("ending", [".jpg", ".jpeg", ".png", ".heic", ".heif"])
def test_what_is_no_photo_either(ending: str, tmp_path: Path) -> None:
    from app.importing import ImportingError
    from app.importing.photo import read_photo

    for path in odd_files(tmp_path, ending):
        with within(60), pytest.raises(ImportingError, match=f"“{path.name}”") as caught:
            read_photo(path)
        assert caught.value.do
        assert WORDS.get(path.stem, "") in caught.value.what


def _heard() -> Any:
    import io
    from contextlib import redirect_stderr

    return redirect_stderr(io.StringIO())


@pytest.mark.parametrize("make", [png, jpeg, heic])
def test_a_photo_too_large_is_refused_by_its_header(make: Any, tmp_path: Path) -> None:
    from app.importing import ImportingError
    from app.importing.photo import read_photo

    ending = {png: ".png", jpeg: ".jpg", heic: ".heic"}[make]
    path = tmp_path / f"pond{ending}"
    path.write_bytes(make(10_001, 10_000))
    with pytest.raises(ImportingError, match=f"“pond{ending}”: .*100 million"):
        read_photo(path)
    path.write_bytes(make(400, 300))
    assert read_photo(path)[1].pixels == 120_000
    path.rename(path.with_suffix(".jpg" if make is png else ".png"))
    with pytest.raises(ImportingError, match="its name ends in"):
        read_photo(path.with_suffix(".jpg" if make is png else ".png"))
    for end in range(0, len(make(400, 300)), 7):
        path.write_bytes(make(400, 300)[:end])
        with pytest.raises(ImportingError, match=f"“pond{ending}”"):
            read_photo(path)


# --- limits -----------------------------------------------------------------------------------------


_SECTION, _POINT = b"  0\nSECTION\n  2\nENTITIES\n", b"  0\nPOINT\n 10\n1\n 20\n1\n"
_PATH = b'<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0'


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("points.wedgeplan", b'{"wedgeplan":1,"plan":{"patches":[{"outline":[' + b"[1,1]," * 9_000_000),
        pytest.param("points.txt", b"unit: mm\n" + b"1 1\n" * 150_000, marks=pytest.mark.long),
        pytest.param("points.svg", _PATH + b"L1 1" * 700_000 + b'"/></svg>', marks=pytest.mark.long),
        pytest.param("points.dxf", _SECTION + _POINT * 900_000, marks=pytest.mark.long),
        ("brackets.wedgeplan", b"[" * 100_000),
        ("brackets.wkt", b"POLYGON " + b"(" * 100_000),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)  # fmt: skip
def test_what_is_too_much_is_refused_within_memory_and_time(name: str, data: bytes, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    assert name in refused(path, called(path, "--unit", "mm"))
