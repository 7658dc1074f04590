"""The session that is killed: the real window without a screen, which changes, saves and exports quickly.

It runs in a process forked from one that has loaded everything. What it did is told in a journal, a line of
bytes at a time, each with the system's clock: what was told before the end is on record.
"""

from __future__ import annotations

import os
import random
import time
from importlib import import_module
from pathlib import Path
from typing import Any

from app.plan.plan_file import encode, read_plan

LONGEST = 4.0
"""s that a session lasts if nobody kills it."""


def load() -> None:
    """Everything that a session loads, and nothing that a forked process could not go on with."""

    for name in (
        "app.exporting.template",
        "app.plan.recovery",
        "app.window.dialogs",
        "app.window.files",
        "app.window.keeper",
        "app.window.main_window",
        "tests.app.window.conftest",
    ):
        import_module(name)


def run(folder: Path, journal: int, seed: int) -> None:
    """Work on ``folder/quilt.wedgeplan``, never to return. Copies of unsaved work go under ``user`` there."""
    os.environ["XDG_DATA_HOME"] = os.environ["XDG_CONFIG_HOME"] = str(folder / "user")
    from PySide6.QtCore import QSettings, QTimer
    from PySide6.QtWidgets import QApplication

    from app.exporting import TemplateOptions, write_template
    from app.plan.recovery import read_left
    from app.sketch import changes
    from app.window.dialogs import Overwrite
    from app.window.look import Look
    from app.window.main_window import Bench
    from tests.app.window.conftest import Answers

    def tell(what: str, number: int = 0) -> None:
        os.write(journal, f"{what} {number} {time.monotonic():.6f}\n".encode())

    application = QApplication(["wedgewright"])
    application.setOrganizationName("Wedgewright")
    application.setApplicationName("Wedgewright")
    QSettings.setDefaultFormat(QSettings.Format.IniFormat)
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(folder / "user"))
    # A copy that was kept before the last save knows the file as it was then: saving asks.
    answers: Any = Answers(overwrite=Overwrite.OVERWRITE)
    bench = Bench(Look(application, application), None, answers)
    bench.show()
    bench.keep_in(folder / "user" / "recovery")
    assert bench.keeper is not None
    left = bench.keeper.left()
    tell("left", len(left))
    # Killed between a save and what follows it, the copy is older than the file: then nobody wants it.
    if left and number_of(read_left(left[0]).plan) < number_of(read_plan(folder / "quilt.wedgeplan")):
        bench.keeper.throw_away(left.pop(0))
    if left:
        bench.keeper.take_over(left[0], bench.files.open_recovered)
        tell("recovered", number_of(bench.session.plan))
    else:
        bench.take([folder / "quilt.wedgeplan"])
    if bench.files.read_only or answers.told:
        tell(f"trouble:{bench.files.read_only}{answers.told}".replace(" ", "_").replace("\n", "_"))
    chance = random.Random(seed)
    saves = chance.random() < 0.5  # in the others there is nothing but the copies
    tell("ready", number_of(bench.session.plan))
    end = time.monotonic() + LONGEST

    def work() -> None:
        number = number_of(bench.session.plan) + 1
        bench.session.do(changes.set_title(bench.session.plan, f"{number}"))
        tell("change", number)
        draw = chance.random()
        if saves and draw < 0.12:
            tell("save", number)
            done = bench.files.save()
            tell("saved" if done else f"trouble:not_saved,{answers.told[-1:]}".replace(" ", "_"), number)
            if answers.asked:
                tell("asked", number)
                answers.asked.clear()
        elif draw < 0.15 and bench.session.fit is not None:
            write_template(folder / "out.svg", [("Block", bench.session.fit)], TemplateOptions())
        if time.monotonic() < end:
            QTimer.singleShot(int(chance.expovariate(1 / 40)), work)
        else:
            os._exit(0)

    QTimer.singleShot(0, work)
    application.exec()
    os._exit(0)


def number_of(plan: Any) -> int:
    """Which change the plan holds: its title counts them."""
    return int(plan.title or 0)


def first_plan() -> bytes:
    """The file that the first session opens."""
    from app.plan.model import Plan
    from tests.app.plan.samples import square

    return encode(Plan(title="0", patches=(square("Block"), square("Other"))))
