"""What is measured: two ways of doing something, by turns, and how it is printed."""

from __future__ import annotations

import gc
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table."""

    what: str
    ours: tuple[float, ...]
    """Seconds, or whatever ``unit`` is."""
    reference: tuple[float, ...] = ()
    """Seconds of the reference, measured by turns with ours; none where the budget is a figure."""
    budget: float | None = None
    """At most so many times the reference, or so many of ``unit``; None where there is no budget."""
    unit: str = "ms"

    @property
    def ratio(self) -> float:
        """By the medians; without a reference the median itself."""
        return statistics.median(self.ours) / (statistics.median(self.reference) if self.reference else 1)

    @property
    def least_ratio(self) -> float:
        """By the smallest, which other work on the machine disturbs least."""
        return min(self.ours) / (min(self.reference) if self.reference else 1)

    @property
    def verdict(self) -> str:
        """Whether the budget is kept, by the medians."""
        if self.budget is None:
            return ""
        over = self.ratio / self.budget
        return "kept" if over <= 1 else f"missed by {(over - 1) * 100:.0f} %"


def by_turns(
    ours: Callable[[], Any],
    reference: Callable[[], Any],
    rounds: int,
    clock: Callable[[], float] = time.process_time,
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Seconds of each, ``rounds`` times one after the other, and once before that unmeasured.

    Processor time by default, which other work on the machine disturbs least.
    """
    ours(), reference()
    one, other = [], []
    gc.collect()
    for _ in range(rounds):
        one.append(timed(ours, clock))
        other.append(timed(reference, clock))
    return tuple(one), tuple(other)


def timed(call: Callable[[], Any], clock: Callable[[], float]) -> float:
    """Seconds."""
    start = clock()
    call()
    return clock() - start


HEAD = (
    f"{'':<58} {'ours':>10} {'reference':>10} {'ratio':>8} {'(least)':>8} {'budget':>8}\n"
    f"{'medians, and the ratio of the least times in brackets':<58} {'ms':>10} {'ms':>10}"
)


def line(row: Row) -> str:
    """One line of the table, under ``HEAD``."""
    if row.unit != "ms":
        budget = "" if row.budget is None else f"{row.budget:g} {row.unit}"
        return f"{row.what:<58} {f'{row.ratio:.3g} {row.unit}':>10} {budget:>37}  {row.verdict}".rstrip()
    ours = f"{statistics.median(row.ours) * 1e3:>10.3f}"
    if not row.reference:
        budget = "" if row.budget is None else f"{row.budget * 1e3:g} ms"
        return f"{row.what:<58} {ours} {budget:>37}  {row.verdict}".rstrip()
    other = f"{statistics.median(row.reference) * 1e3:>10.3f}"
    budget = "" if row.budget is None else f"{row.budget:.3g}"
    times = f"{row.ratio:>8.3g} {f'({row.least_ratio:.3g})':>8}"
    return f"{row.what:<58} {ours} {other} {times} {budget:>8}  {row.verdict}".rstrip()


def table(rows: Sequence[Row]) -> str:
    """The whole of it."""
    return "\n".join([HEAD, *map(line, rows)])
