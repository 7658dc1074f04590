"""Kills sessions and reads what they left."""

from __future__ import annotations

import os
import random
import signal
import time
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from app.plan.atomic import TEMP_PREFIX, previous_path
from app.plan.plan_file import read_plan
from app.plan.recovery import left_behind, read_left
from tests.kill.session import first_plan, load, number_of, run

WITHIN = 1.0
"""s: no older change may be lost."""


class Line(NamedTuple):
    """One line of the journal."""

    what: str
    number: int
    when: float


@dataclass(slots=True)
class Tally:
    """What many kills showed."""

    kills: int = 0
    moments: Counter[str] = field(default_factory=Counter)
    """What the session had told last."""
    changes: int = 0
    losses: list[float] = field(default_factory=list)
    """s, of each kill: how old the oldest change was that is lost; 0 where none is."""
    recovered: int = 0
    """Kills after which a copy held more than the file."""
    strays: int = 0
    """Temporary files and locks found before the next start."""
    asked: int = 0
    """Saves before which a window asked whether it may replace a file that it did not know."""
    broken: list[str] = field(default_factory=list)


def kill(count: int, folder: Path, seed: int = 0, until: float | None = None) -> Tally:
    """Start, kill and judge ``count`` sessions one after the other on one plan."""
    load()
    plan = folder / "quilt.wedgeplan"
    plan.write_bytes(first_plan())
    tally = Tally()
    chance = random.Random(seed)
    known = 0
    for number in range(count):
        if until is not None and time.monotonic() > until:
            break
        lines, when = _one(folder, chance, seed * 1_000_000 + number)
        known = _judge(tally, folder, plan, lines, when, known)
    return tally


def _one(folder: Path, chance: random.Random, seed: int) -> tuple[list[Line], float]:
    """A session and its end: its journal, and when it was killed."""
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        os.close(reading)
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 2)
        with suppress(BaseException):
            run(folder, writing, seed)
        os._exit(9)
    os.close(writing)
    data = b""
    # A third of them while they start or take over, the others while they work.
    if chance.random() < 0.3:
        time.sleep(chance.uniform(0.05, 1.5))
    else:
        while b"ready" not in data:
            more = os.read(reading, 65536)
            if not more:
                break
            data += more
        time.sleep(chance.uniform(0, 2.5))
    when = time.monotonic()
    with suppress(ProcessLookupError):
        os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while more := os.read(reading, 65536):
        data += more
    os.close(reading)
    return [_line(line) for line in data.decode().splitlines() if line.count(" ") == 2], when


def _line(text: str) -> Line:
    what, number, when = text.split()
    return Line(what, int(number), float(when))


def _judge(tally: Tally, folder: Path, plan: Path, lines: list[Line], when: float, known: int) -> int:
    """Add what one kill showed; returns the last change that is still there."""
    tally.kills += 1
    moment = f"kill {tally.kills} after {lines[-1].what if lines else 'nothing'}"
    tally.moments[lines[-1].what.split(":")[0] if lines else "nothing"] += 1
    made = {line.number: line.when for line in lines if line.what == "change"}
    tally.changes += len(made)
    tally.asked += sum(line.what == "asked" for line in lines)
    tally.broken += [f"{moment}: {line.what}" for line in lines if line.what.startswith("trouble")]
    try:
        in_file = number_of(read_plan(plan))
    except Exception as error:
        tally.broken.append(f"{moment}: the plan is unreadable: {error}")
        return known
    saved = max([line.number for line in lines if line.what == "saved"], default=0)
    begun = max([line.number for line in lines if line.what == "save"], default=0)
    if in_file < saved or (lines and in_file > max(begun, known)):
        tally.broken.append(f"{moment}: the file holds {in_file}, saved was {saved}, begun {begun}")
    copies = []
    for left in left_behind(folder / "user" / "recovery", _is_alive):
        try:
            copies.append(number_of(read_left(left).plan))
        except Exception as error:
            tally.broken.append(f"{moment}: a copy is unreadable: {error}")
    there = max([in_file, *copies])
    tally.recovered += bool(copies) and max(copies) > in_file
    if there < known:
        tally.broken.append(f"{moment}: {known} was there before, now {there}")
    lost = [told for number, told in made.items() if number > there]
    age = when - min(lost) if lost else 0.0
    tally.losses.append(age)
    _start_again(tally, folder, plan, moment)
    return there


def _start_again(tally: Tally, folder: Path, plan: Path, moment: str) -> None:
    """What every start does first; then nothing half done may be left beside the work."""
    from app.window.keeper import _clear_up

    user = folder / "user" / "recovery"
    tally.strays += len(_half_done(folder, plan)) + len(list(user.glob(f"*/{TEMP_PREFIX}*")))
    _clear_up(user, [folder])
    if left := _half_done(folder, plan):
        tally.broken.append(f"{moment}: still there after the next start: {left}")


def _half_done(folder: Path, plan: Path) -> list[str]:
    return sorted(set(os.listdir(folder)) - {plan.name, previous_path(plan).name, "out.svg", "user"})


def _is_alive(lock: Path) -> bool:
    from app.window.locks import is_held

    return is_held(lock)
