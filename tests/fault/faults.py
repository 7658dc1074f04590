"""Each writer, and what may happen to each of its file calls."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from app.plan.atomic import WriteError, previous_path
from app.plan.model import Plan
from app.plan.plan_file import PlanFileError, encode, read_plan, write_plan
from app.plan.recovery import Origin, Recovery, left_behind, read_left
from tests.app.exporting.test_targets import OLD, WRITERS, whole
from tests.app.plan.samples import small_plan, square
from tests.app.plan.test_atomic import Faults, Killed

ROOT = Path(__file__).parents[2]
BEFORE, AFTER = Plan(title="before", patches=(square(),)), small_plan()

Is = Callable[[Path], bool]


class Writer(NamedTuple):
    """One way to write, and how to tell what lies there."""

    name: str
    prepare: Callable[[Path], None]
    write: Callable[[Path], None]
    is_old: Is
    is_new: Is


def _plan_before(path: Path) -> None:
    path.write_bytes(encode(BEFORE))
    previous_path(path).write_bytes(encode(Plan(title="older")))


def _holds(plan: Plan) -> Is:
    return lambda path: read_plan(path) == plan


def _copy_before(path: Path) -> None:
    path.mkdir()
    recovery = Recovery(path)
    recovery.folder = path / "window"
    recovery.keep(BEFORE, Origin())


def _keep_copy(path: Path) -> None:
    recovery = Recovery(path)
    recovery.folder = path / "window"
    recovery.keep(AFTER, Origin())


def _copy_holds(plan: Plan) -> Is:
    def holds(path: Path) -> bool:
        (left,) = left_behind(path, lambda lock: False)
        return read_left(left).plan == plan

    return holds


def _export(name: str) -> Writer:
    file, write, end = WRITERS[name]
    return Writer(
        file,
        lambda path: path.write_bytes(OLD) and None,
        lambda path: write(path, None),
        lambda path: path.read_bytes() == OLD,
        lambda path: whole(path.read_bytes(), end),
    )


ALL: dict[str, Callable[[], Writer]] = {
    "plan": lambda: Writer(
        "q.wedgeplan", _plan_before, lambda path: write_plan(path, AFTER), _holds(BEFORE), _holds(AFTER)
    ),
    "recovery": lambda: Writer("copies", _copy_before, _keep_copy, _copy_holds(BEFORE), _copy_holds(AFTER)),
    **{name: (lambda name=name: _export(name)) for name in WRITERS},
}

KINDS: dict[str, tuple[Callable[[], BaseException], bool]] = {
    "EIO once": (lambda: OSError(errno.EIO, "injected"), False),
    "EIO from then on": (lambda: OSError(errno.EIO, "injected"), True),
    "ENOSPC once": (lambda: OSError(errno.ENOSPC, "injected"), False),
    "ENOSPC from then on": (lambda: OSError(errno.ENOSPC, "injected"), True),
    "killed": (Killed, True),
}
_NO_HARM = {"link", "unlink"}
"""Calls that may fail without a word: a copy stands in for a link; what is cleared away was not there."""


def outcomes(name: str, folder: Path, every: int = 1) -> tuple[Counter[str], list[str]]:
    """Inject each kind of fault into every call (or each ``every``-th): how often what came of it, and what
    was broken.
    """
    writer = ALL[name]()
    counts: Counter[str] = Counter()
    broken: list[str] = []
    for number, (kind, at, call, place) in enumerate(_injections(writer, folder, every)):
        path = place / f"{number}" / writer.name
        path.parent.mkdir()
        writer.prepare(path)
        said, killed = "", False
        with pytest.MonkeyPatch.context() as patching:
            faults = Faults(patching)
            make, lasting = KINDS[kind]
            faults.at, faults.error, faults.lasting = at, make(), lasting
            try:
                writer.write(path)
            except (WriteError, PlanFileError, OSError) as error:
                said = str(error)
            except Killed:
                killed = True
        try:
            old, new = writer.is_old(path), writer.is_new(path)
        except Exception as error:
            broken.append(f"{name}, {kind} at {call} (call {at}): unreadable: {error}")
            continue
        counts["old" if old else "new" if new else "mixture"] += 1
        if not (old or new):
            broken.append(f"{name}, {kind} at {call} (call {at}): neither old nor new")
        elif not (said or killed) and not (new and call in _NO_HARM):
            broken.append(f"{name}, {kind} at {call} (call {at}): nothing was said")
        elif said and "\n" in said:
            broken.append(f"{name}, {kind} at {call} (call {at}): more than a sentence")
    return counts, broken


def _injections(writer: Writer, folder: Path, every: int) -> Iterator[tuple[str, int, str, Path]]:
    path = folder / "calls" / writer.name
    path.parent.mkdir(parents=True)
    writer.prepare(path)
    writer.write(path)  # so that all is loaded
    again = folder / "again" / writer.name
    again.parent.mkdir()
    writer.prepare(again)
    with pytest.MonkeyPatch.context() as patching:
        faults = Faults(patching)
        writer.write(again)
        calls = list(faults.seen)
    # Long files are written in many calls, all alike: of those the first, one within, and the last.
    writes = [at for at, call in enumerate(calls) if call == "write"]
    left_out = set(writes[1:-1]) - {writes[len(writes) // 2]}
    for kind in KINDS:
        for at in [at for at in range(len(calls)) if at not in left_out][::every]:
            yield kind, at, calls[at], folder


# --- the system's own calls, by strace --------------------------------------------------------------

CHILD = """
import sys
from pathlib import Path
from tests.fault.faults import AFTER
from app.plan.plan_file import PlanFileError, write_plan
try:
    write_plan(Path(sys.argv[1]), AFTER)
except PlanFileError as error:
    print(error)
    sys.exit(2)
print("saved")
"""

RECIPES: dict[str, str] = {
    "killed before the rename": "rename,renameat,renameat2:signal=KILL:when=1",
    "killed before the second rename": "rename,renameat,renameat2:signal=KILL:when=2",
    "sync fails": "fsync,fdatasync:error=EIO",
    "sync of the folder fails": "fsync,fdatasync:error=EIO:when=2",
    "killed in the sync": "fsync,fdatasync:signal=KILL:when=1",
    "rename fails": "rename,renameat,renameat2:error=EIO",
    "rename: disk full": "rename,renameat,renameat2:error=ENOSPC",
}


def by_strace(recipe: str, folder: Path) -> tuple[str, str]:
    """Save in a child process under strace: what is then there, and what the child said."""
    path = folder / "q.wedgeplan"
    _plan_before(path)
    names, what = RECIPES[recipe].split(":", 1)
    done = subprocess.run(
        [
            *("strace", "-f", "-o", os.devnull, "-e", f"trace={names}", "-e", f"inject={names}:{what}"),
            *(sys.executable, "-B", "-c", CHILD, str(path)),  # a compiled module is renamed too
        ],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
        timeout=120,
    )
    plan = read_plan(path)
    state = "old" if plan == BEFORE else "new" if plan == AFTER else "mixture"
    return state, done.stdout.strip() or f"ended by {done.returncode}: {done.stderr.strip()[-200:]}"


FULL_DISK = """
import os, resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (500, 500))
"""


def by_limit(folder: Path) -> tuple[str, str]:
    """As ``by_strace``, where the system lets no file grow beyond 500 bytes: short writes, then EFBIG."""
    path = folder / "q.wedgeplan"
    _plan_before(path)
    done = subprocess.run(
        [sys.executable, "-B", "-c", FULL_DISK + CHILD, str(path)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
        timeout=120,
    )
    plan = read_plan(path)
    return ("old" if plan == BEFORE else "new" if plan == AFTER else "mixture"), done.stdout.strip()
