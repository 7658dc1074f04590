"""Each process opens the plan as a window does, counts its title up by one and saves, again and again.

A save that was said to be done counts; in the end the title must have counted them all. Processes that may
not save (the plan is another's) count nothing.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import time
from collections import Counter
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

from app.plan.model import Plan
from app.plan.plan_file import encode, read_plan
from tests.app.plan.samples import square

PROCESSES = 2
TRIES = 3
"""Of each process in one race."""
_TOGETHER = multiprocessing.get_context("fork")


class Races(NamedTuple):
    """What many races showed."""

    races: int
    outcomes: Counter[str]
    """Of every try: saved, read-only, refused, not opened."""
    lost: int
    """Saves that were said to be done and are in no file."""


def race(count: int, folder: Path, until: float | None = None) -> Races:
    """``count`` races one after the other, by the same processes."""
    path = folder / "quilt.wedgeplan"
    start, end = _TOGETHER.Barrier(PROCESSES + 1), _TOGETHER.Barrier(PROCESSES + 1)
    results: Any = _TOGETHER.SimpleQueue()
    going = _TOGETHER.Value("b", 1)
    processes = [
        _TOGETHER.Process(target=_run, args=(who, path, start, end, results, going))
        for who in range(PROCESSES)
    ]
    for process in processes:
        process.start()
    outcomes: Counter[str] = Counter()
    lost = done = 0
    for _ in range(count):
        if until is not None and time.monotonic() > until:
            break
        path.write_bytes(encode(Plan(title="0", patches=(square(),))))
        start.wait(60)
        end.wait(60)
        told: Counter[str] = Counter()
        for _ in processes:
            told += Counter(results.get())
        outcomes += told
        lost += told["saved"] - int(read_plan(path).title)
        done += 1
    going.value = 0
    start.wait(60)
    for process in processes:
        process.join()
    return Races(done, outcomes, lost)


def _run(who: int, path: Path, start: Any, end: Any, results: Any, going: Any) -> None:
    os.environ["XDG_DATA_HOME"] = os.environ["XDG_CONFIG_HOME"] = str(path.parent / f"user{who}")
    from PySide6.QtCore import QCoreApplication, QSettings

    from app.sketch import changes
    from app.window.files import Files
    from app.window.session import Session
    from tests.app.window.conftest import Answers

    application = QCoreApplication([])
    application.setApplicationName("Wedgewright")
    QSettings.setDefaultFormat(QSettings.Format.IniFormat)
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, os.environ["XDG_CONFIG_HOME"])
    answers: Any = Answers()
    session = Session(Plan())
    files = Files(session, answers)
    chance = random.Random(who)
    while True:
        with suppress(Exception):
            start.wait(60)
        if not going.value:
            return
        told: list[str] = []
        for _ in range(TRIES):
            time.sleep(chance.choice((0, 0, chance.uniform(0, 0.004))))
            session.history.mark_clean(session.plan)
            if not files.open(path):
                told.append("not opened")
                continue
            session.do(changes.set_title(session.plan, f"{int(session.plan.title) + 1}"))
            refused = "read-only" if files.read_only else "refused"
            told.append("saved" if files.save() else refused)
            files.release()
        results.put(told)
        end.wait(60)
