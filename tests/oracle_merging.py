"""The examiner's fifth part: thin wedges merged into a neighbour (3.5, ``merge_thin`` and ``merged_spans``).

A merged wedge covers sectors that follow one another without a jump, at most half a turn of them; it was
merged because something of it was too thin or too short to be seen, or lost; and what is left thin or lost
has no neighbour at the same mark that it could be merged with. Once its sectors are taken for one, all that
holds for other wedges holds for it. Which neighbour of two, and which goes first, is left open.

Judged from the report's figures; nothing of ``geometry`` is imported. mm, radians, y down.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np

from tests.oracle_lines import SURE
from tests.oracle_sight import HAIR, TOUCH, Sector, Sight, cross, give_way, spread

LONG_CHAIN = 5
"""Sectors of one wedge up to which every order of merging is tried."""
FAR = 200
"""Neighbours, lost ones between, that are tried to each side of what may have been thin."""
FAT = 1.02
"""Wedges this many times as large as can be seen are not thin, whatever gave way to what."""


def is_merging(settings: dict[str, Any]) -> bool:
    return bool(settings.get("merge_thin") or settings.get("merged_spans"))


def judge_merging(
    sight: Sight, wedges: list[dict[str, Any]], a: np.ndarray, settings: dict[str, Any], broken: Any
) -> Sight:
    """The same sight with the sectors of every merged wedge, and those of lost ones, as one."""
    sectors, names = sight.sectors, sight.names
    pairs = {tuple(pair) for pair in settings.get("merged_spans", ())}
    chosen = [bool(settings.get("merge_thin")) or names.get(s.span) in pairs for s in sectors]
    runs: list[list[int]] = []
    wedge_of: dict[int, dict[str, Any]] = {}
    for wedge in wedges:
        run = _run(sight, wedge, a)
        if not run or set(run) & wedge_of.keys():
            continue  # judged with all other wedges
        wedge_of |= dict.fromkeys(run, wedge)
        runs.append(run)
        if len(run) == 1:
            continue
        label = f"wedge {wedge['number']}, of {len(run)} sectors"
        if sum(sectors[k].width for k in run) > math.pi + 1e-6:
            broken("merged", f"{label}, takes up more than half a turn")
        if not any(chosen[k] for k in run):
            broken("merged", f"{label}: none of its spans is to be merged")
        elif not _has_reason(sight, run, chosen, settings):
            broken("merged", f"{label}: nothing of it was thin or lost")
    taken = {k for run in runs for k in run}
    lost, loose = _lost_runs(sight, taken, chosen)
    runs += lost
    runs.sort(key=lambda run: (run[0] > run[-1], run[0]))  # one that passes the first direction comes last
    limit = settings["visible_width"]
    joined = [_joined(sectors, run) for run in runs]
    for i, run in enumerate(runs):
        if run[0] in loose:
            joined[i] = replace(joined[i], joined=loose[run[0]])
    for i, (run, one) in enumerate(zip(runs, joined, strict=True)):
        wedge = wedge_of.get(run[0])
        small = run[0] not in loose
        if wedge is not None:
            small = min(wedge["side_length"], wedge["across"]) < limit - SURE
        if not small or not one.significant or not any(chosen[k] for k in run):
            continue
        before, after = i - 1, (i + 1) % len(runs)
        for other, k, j in ((before, runs[before][-1], run[0]), (after, run[-1], runs[after][0])):
            near = joined[other] is not one and joined[other].significant and _meet(sight, k, j, TOUCH / 2)
            if near and runs[other][0] not in loose and one.width + joined[other].width < math.pi - 1e-6:
                what = "a lost sector" if wedge is None else f"wedge {wedge['number']}, too small to be seen,"
                at = sight.sectors[j].at[0] + a
                broken("merged", f"{what} was not merged with its neighbour at {at}")
    return Sight(joined, sight.area, sight.inside, names)


def _meet(sight: Sight, k: int, j: int, near: float = 10 * TOUCH) -> bool:
    """Whether sector ``j`` goes on where ``k`` ends, without a jump."""
    one, two = sight.sectors[k], sight.sectors[j]
    follows = j == (k + 1) % len(sight.sectors) and j != k and one.meets_next
    return bool(follows and np.hypot(*(one.at[-1] - two.at[0])) <= near)


def _run(sight: Sight, wedge: dict[str, Any], a: np.ndarray) -> list[int]:
    """The sectors of one wedge: all that its side covers, and on to the marks it names; at least the one in
    its middle, where these do not hang together."""
    sectors, n = sight.sectors, len(sight.sectors)
    turn = np.unwrap(np.arctan2(*(np.asarray(wedge["side"], float) - a).T[::-1]))
    low, high = min(turn[0], turn[-1]), max(turn[0], turn[-1])
    middle = 0.5 * (low + high)
    at = next((k for k, s in enumerate(sectors) if (middle - s.start) % (2 * math.pi) <= s.width), None)
    if at is None:
        return []
    begins, ends = wedge.get("span", (None, None))
    run = [at]

    def ahead(angle: float, of: float) -> float:
        return (angle - of + math.pi) % (2 * math.pi) - math.pi

    for step in (-1, 1):
        while True:
            k = run[0 if step < 0 else -1]
            name = sight.names.get(sectors[k].span, ("", ""))
            over = ahead(sectors[k].start, low) if step < 0 else ahead(high, sectors[k].end)
            named = (name[0] == begins or begins is None) if step < 0 else (name[1] == ends or ends is None)
            j = (k + step) % n
            if (over <= 1e-9 and named) or j in run or not _meet(sight, *((j, k) if step < 0 else (k, j))):
                break
            run.insert(0, j) if step < 0 else run.append(j)
    spans = tuple(sectors[k].span for k in run)
    if (
        begins is not None
        and {spans[0], spans[-1]} <= sight.names.keys()
        and not sight.named(spans, (begins, ends))
    ):
        return [at]
    return run


def _lost_runs(
    sight: Sight, taken: set[int], chosen: list[bool]
) -> tuple[list[list[int]], dict[int, tuple[int, ...]]]:
    """Lost sectors that follow one another without a jump, as one where one of them is to be merged; and of
    those that together take up more than half a turn, or are not all to be merged, each one, with the spans
    of them all, since how far they were merged nobody can see."""
    n = len(sight.sectors)
    lost = [k for k in range(n) if k not in taken]
    begins = [k for k in lost if (k - 1) % n in taken or not _meet(sight, (k - 1) % n, k)] or lost[:1]
    runs: list[list[int]] = []
    loose: dict[int, tuple[int, ...]] = {}
    for begin in begins:
        run = [begin]
        while (k := (run[-1] + 1) % n) not in taken and k != begin and k not in begins:
            run.append(k)
        if len(run) == 1 or (
            all(chosen[k] for k in run) and sum(sight.sectors[k].width for k in run) <= math.pi
        ):
            runs.append(run)
        else:
            runs += [[k] for k in run]
            loose |= dict.fromkeys(run, tuple(sight.sectors[k].span for k in run))
    return runs, loose


def _joined(sectors: list[Sector], run: list[int]) -> Sector:
    if len(run) == 1:
        return sectors[run[0]]
    first, last = sectors[run[0]], sectors[run[-1]]
    points = [first.at, *(sectors[k].at[1:] for k in run[1:])]
    end = first.start + sum(sectors[k].width for k in run)
    spans = tuple(sectors[k].span for k in run)
    return Sector(first.span, first.start, end, np.vstack(points), last.meets_next, joined=spans)


def _has_reason(sight: Sight, run: list[int], chosen: list[bool], settings: dict[str, Any]) -> bool:
    """Whether the sectors can have been merged one by one so that each time one of the two was to be merged,
    and may have been thin or lost."""
    known: dict[tuple[int, int], bool] = {}

    def thin(i: int, j: int) -> bool:
        if (i, j) not in known:
            some = any(chosen[k] for k in run[i : j + 1])
            known[i, j] = some and _may_be_thin(sight, run[i : j + 1], settings)
        return known[i, j]

    n = len(sight.sectors)
    beside = {(run[0] - 1 - i) % n for i in range(FAR)} | {(run[-1] + 1 + i) % n for i in range(FAR)}
    if any(_is_hair(sight.sectors[k]) for k in beside | set(run)):
        return True  # what is in line with the anchor but for a hair gives way nobody knows how
    if len(run) > LONG_CHAIN:
        return any(thin(i, i) for i in range(len(run)))
    whole = {(i, i) for i in range(len(run))}
    for size in range(2, len(run) + 1):
        for i in range(len(run) - size + 1):
            j = i + size - 1
            if any({(i, m), (m + 1, j)} <= whole and (thin(i, m) or thin(m + 1, j)) for m in range(i, j)):
                whole.add((i, j))
    return (0, len(run) - 1) in whole


def _is_hair(sector: Sector) -> bool:
    edge = np.diff(sector.at, axis=0)
    return bool((np.abs(cross(sector.at[:-1], edge)) <= HAIR * np.hypot(*edge.T)).any())


def _grown(sight: Sight, j: int, step: int, without: list[int]) -> Iterator[Sector]:
    """Sector ``j``, and with more and more of those beyond it that may have been merged with it."""
    some = [j]
    yield sight.sectors[j]
    for _ in range(FAR):
        k = some[-1]
        beyond = (k + step) % len(sight.sectors)
        if (
            beyond in without
            or beyond in some
            or not _meet(sight, *((k, beyond) if step > 0 else (beyond, k)))
        ):
            return
        some.append(beyond)
        yield _joined(sight.sectors, some if step > 0 else some[::-1])


def _may_be_thin(sight: Sight, run: list[int], settings: dict[str, Any]) -> bool:
    """Whether these sectors as one may be lost, or have less side or across than can be seen, whichever of
    the sectors beside them are lost."""
    n, gap, limit = len(sight.sectors), settings["gap"], settings["visible_width"]
    one = _joined(sight.sectors, run)
    gives: list[list[float]] = [[0.0], [0.0]]
    for side, step in enumerate((-1, 1)):
        clear, k = 0.0, run[0 if step < 0 else -1]
        for _ in range(FAR):
            j = (k + step) % n
            if j in run or not sight.meets(k, step):
                break
            for other in _grown(sight, j, step, run):
                one_gives, used_up = give_way(one, other, clear, gap)
                if step < 0:
                    used_up, one_gives = give_way(other, one, clear, gap)
                if one_gives >= one.width:
                    return True
                gives[side].append(float(one_gives))
                if math.isfinite(used_up):
                    break
            clear, k = clear + sight.sectors[j].width, j
    for before, after in product(*gives):
        apex = one.width - before - after
        if apex <= 1e-6:
            return True
        low, high = one.start + before, one.end - after
        out, back = one.reach(low), one.reach(high)
        bends = np.unwrap(np.arctan2(*one.at.T[::-1]))
        bends += one.start - bends[0]
        between = one.at[(bends > low) & (bends < high)]
        tips = [r * np.array([math.cos(t), math.sin(t)]) for r, t in ((out, low), (back, high))]
        side_length = float(np.hypot(*np.diff(np.vstack([tips[0], between, tips[1]]), axis=0).T).sum())
        if min(side_length, min(out, back) * float(spread(min(apex, math.pi)))) < FAT * limit:
            return True
    return float(np.hypot(*one.at.T).max()) < FAT * gap
