"""Saving and copies of unsaved work: promise 4, beside a JSON dump and a bare write of as many bytes.

``python -m tests.benchmarks.saving FOLDER`` measures in the real window, and prints it as JSON.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np

from app.plan.model import Plan, PlanPatch
from app.plan.photo import Photo
from app.plan.plan_file import SUFFIX, encode, write_plan
from app.plan.recovery import Origin, Recovery
from tests.benchmarks.plan_run import plan as many_patches
from tests.benchmarks.program import ROOT, environment
from tests.benchmarks.shapes import star
from tests.benchmarks.table import Row, by_turns

if TYPE_CHECKING:
    from app.window.keeper import Keeper

MEGABYTE = 1_000_000
MOVES = 60
"""Of each drag."""


def large() -> Plan:
    """1 MB: stars of 500 corners."""
    outline = tuple((x, y) for x, y in star(500)[0].tolist())
    pieces = tuple(PlanPatch(name=f"Star {n}", outline=outline, anchors=((0.0, 0.0),)) for n in range(60))
    one = len(encode(Plan(patches=pieces))) / len(pieces)
    return Plan(patches=pieces[: round(MEGABYTE / one)])


def photographed() -> Plan:
    """200 patches, and a photo of 2400 by 1800 pixels and 2 MiB."""
    head = bytes.fromhex("ffd8 ffc0 0011 08 0708 0960 03 011100 021100 031100 ffda 0002")
    noise = np.random.default_rng(1).integers(0, 255, 2 << 20, dtype=np.uint8).tobytes()  # no 0xff: no marker
    return msgspec.structs.replace(many_patches(), photo=Photo(data=head + noise + b"\xff\xd9"))


def bare(plan: Plan, path: Path) -> Callable[[], None]:
    """What is the least to be done for a file of JSON: dump, write, sync, rename."""

    def write() -> None:
        text = json.dumps(msgspec.to_builtins(plan))
        beside = path.with_name("beside")
        with beside.open("wb") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)

    return write


def saving(short: bool) -> Iterator[Row]:
    """The processor's time; how long a disk takes is its own."""
    rounds = 3 if short else 31
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path, copy = folder / f"a{SUFFIX}", Recovery(folder)
        for what, plan in (("1 MB", large()), ("200 patches and a photo", photographed())):
            dump = bare(plan, folder / "bare")
            # Once old, once new: what is there already would not be kept as the version before.
            turns = iter((plan, msgspec.structs.replace(plan, title="again")) * (rounds + 1))
            times, others = by_turns(lambda turns=turns: write_plan(path, next(turns)), dump, rounds)  # type: ignore[misc]
            yield Row(f"saving {what} / JSON dump and bare write", times, others)
            yield Row("   its processor time", times, (), 0.1)
            times, others = by_turns(lambda plan=plan: copy.keep(plan, Origin()), dump, rounds)  # type: ignore[misc]
            yield Row("   a copy of it as unsaved work / dump and write", times, others)


def in_window(short: bool) -> Iterator[Row]:
    """What the hand notices of a save, and, by the clock on the wall, of a copy that is written meanwhile."""
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, "-m", "tests.benchmarks.saving", folder, "1" if short else "9"],
            cwd=ROOT, env=environment(Path(folder)), capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
    taken = {name: tuple(each) for name, each in json.loads(done.stdout).items()}
    yield Row("window held by a save of these, processor time", taken["saved"], (), 0.1)
    yield Row("   while a copy is written, longest / without", taken["held"], taken["free"])
    yield Row("drag while copies are written / without, median", taken["with"], taken["without"])
    yield Row("   99th percentile", taken["late with"], taken["late without"])


def rows(short: bool) -> Iterator[Row]:
    """All of them."""
    yield from saving(short)
    yield from in_window(short)


# --- in the window ----------------------------------------------------------------------------------


@contextmanager
def copies(keeper: Keeper, plan: Plan) -> Iterator[None]:
    """One after the other is written, without a pause; a session has one in ``SOON_MS`` at most."""
    ended = threading.Event()

    def work() -> None:
        while not ended.is_set():
            keeper._writer.submit(keeper._keep, plan).result()

    thread = threading.Thread(target=work)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()


def main(folder: str, rounds: int) -> None:
    """Print lists of seconds: ``{"saved": …, "held": …, "free": …, "with": …, "late with": …, …}``."""
    from PySide6.QtWidgets import QApplication

    from app.sketch import changes
    from app.window.start import open_bench
    from tests.benchmarks.drag_run import HEIGHT, WIDTH, drag

    file = Path(folder) / f"a{SUFFIX}"
    write_plan(file, photographed())
    application = QApplication(["saving"])
    bench = open_bench(application)
    bench.take([file])
    bench.keep_in(Path(folder) / "recovery")
    bench.resize(WIDTH, HEIGHT)
    bench.show()
    bench.settle()
    keeper, session = bench.keeper, bench.session
    assert keeper is not None
    taken: dict[str, list[float]] = {}

    def longest(is_over: Callable[[], bool], begin: Callable[[], Any] = lambda: None) -> float:
        """Of the window's turns, until ``is_over``: no event is answered within one."""
        most, before = 0.0, time.perf_counter()
        begin()
        while True:
            application.processEvents()
            now = time.perf_counter()
            most, before = max(most, now - before), now
            if is_over():
                return most

    for number in range(3 * rounds):
        session.do(changes.set_repeats(session.plan, 0, number + 2))
        keeper._soon.stop()  # begun below, when nothing else is to be done
        bench.settle()
        longest(lambda: bench.canvas.rest.resting)
        start = time.perf_counter()
        held = longest(lambda: keeper._job is None, keeper._begin)
        end = 2 * time.perf_counter() - start
        free = longest(lambda end=end: time.perf_counter() > end)  # type: ignore[misc]
        taken.setdefault("held", []).append(held)
        taken.setdefault("free", []).append(free)
        start = time.process_time()
        assert bench.files.save()
        taken.setdefault("saved", []).append(time.process_time() - start)
    for _ in range(rounds):
        frames = {"without": drag(application, bench, 0, MOVES)}
        with copies(keeper, session.plan):
            frames["with"] = drag(application, bench, 0, MOVES)
        for which, each in frames.items():
            taken.setdefault(which, []).extend(each)
            taken.setdefault(f"late {which}", []).append(float(np.percentile(each, 99)))
    print(json.dumps(taken))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
