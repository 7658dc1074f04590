"""A patch from what a tape measures: sides and diagonals between lettered corners.

The corners stand in the order of the outline, its patch on the numerical left (as seen on cloth: clockwise).
With too few measures the shape is not settled, and the error names those that would; with just enough it is
found; with more they are balanced by least squares, and what each is off by tells a wrong one from the rest.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, islice
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.arc import arc
from geometry.errors import WedgewrightError
from geometry.tolerances import MAX_SIZE
from geometry.types import Points, frozen
from geometry.units import MM_PER_INCH

Floats = NDArray[np.float64]

MAX_CORNERS: Final = 26
"""A to Z."""

ROUNDING: Final = MM_PER_INCH / 32
"""mm, default: how far a measure that was rounded to a sixteenth of an inch may be off."""

Pair = tuple[int, int]
"""Two corners, by number from 0; the smaller first."""

_BEAM: Final = 256
"""So many ways to place the first corners are followed at once."""
_POLISHED: Final = 12
"""So many of them are balanced in the end."""
_LOOKED_AT: Final = 3
"""So many of those, when a measure is left out to see whether the rest agree."""
_ALL_OUT: Final = 21
"""Up to so many measures each is left out in turn: all there are between seven corners."""
_LEFT_OUT: Final = 10
"""Of more, so many: those that are furthest off for how well the others check them."""
_STARTS: Final = 60
"""Shapes to begin from, where no corner can be placed after another."""
_STEPS: Final = 60
"""Most steps of a balance; it converges in about five."""
_STILL: Final = 1e-12
"""Share of the size: a step that is shorter ends the balance."""
_CAP: Final = 30.0
"""Most that one measure counts against a way to place corners, in roundings: one wrong measure must not
rule out the right way."""
_RANK: Final = 1e-8
"""Share of the greatest singular value that counts as none, at corners in general position."""
_SAME_SHAPE: Final = 2.0
"""Roundings: shapes that differ by less are one."""
_LEAST_ROUNDING: Final = 1e-9
"""mm. Float64 at 10 m, with a few hundred operations."""


class TapeError(WedgewrightError):
    """Measures that no patch can have."""


class TooFewError(TapeError):
    """The shape can still move. ``wanted``: measures that together would settle it, the next one first."""

    def __init__(self, what: str, *, where: str, do: str, wanted: tuple[Pair, ...]) -> None:
        super().__init__(what, where=where, do=do)
        self.wanted = wanted


@dataclass(frozen=True, slots=True)
class Measure:
    """The straight distance between two corners (numbers from 0), mm."""

    first: int
    second: int
    length: float

    @property
    def pair(self) -> Pair:
        """Its corners, the smaller first."""
        return (min(self.first, self.second), max(self.first, self.second))


@dataclass(frozen=True, slots=True)
class Suspect:
    """A measure that may be the wrong one."""

    measure: int
    """Its place in the list of measures."""
    expected: float
    """mm: what the rest say it is."""
    left: float
    """mm: root of the sum of the squared misfits of the rest, once it is left out."""


@dataclass(frozen=True, slots=True)
class Taped:
    """The shape that the measures give."""

    corners: Points
    """(n, 2) mm; the first at (0, 0), the second on the x axis."""
    outline: Points
    """(m, 2) mm: the corners with the curved sides between them."""
    misfits: tuple[float, ...]
    """mm, for each measure: how much longer it was measured than the shape has it."""
    checked: bool
    """Whether there are more measures than the shape needs, so that a wrong one can show."""
    agree: bool
    """Whether the misfits are no more than rounding explains."""
    suspects: tuple[Suspect, ...]
    """Where they do not agree: the likeliest wrong measure first; those behind it explain it as well. Empty
    where no one measure is to blame."""
    error: float
    """mm: no corner lies further from its true place than this, if every measure is within the rounding, and
    the two shapes are laid on each other for the least sum of squares. inf: the measures do not hold it."""
    weakest: int
    """The corner that is held least."""
    others: tuple[Points, ...]
    """(n, 2) each: other shapes with the same measures, the likeliest first."""


def corner_letter(number: int) -> str:
    """A for 0."""
    return chr(ord("A") + number)


def patch_from_tape(
    count: int,
    measures: Sequence[Measure],
    *,
    bows: Mapping[int, float] | None = None,
    inward: Collection[int] | None = None,
    rounding: float = ROUNDING,
) -> Taped:
    """The shape of ``count`` corners that ``measures`` give.

    ``bows``: for a curved side, by the number of its first corner, how far its middle stands off the
    straight line, mm; more than 0 is out of the patch. ``inward``: the corners that point into the patch, all
    of them, where the user told; None where not. ``rounding``, mm: how far a measure may be off, both ways. A
    tape that lies on the patch tells more than its length: a triangle of such measures has its corners in the
    outline's order; so of two shapes with the same measures, the one with more of these is taken first, and
    of those the one with fewer corners that point inward.

    Raises ``TapeError`` for measures that no shape has, ``TooFewError`` where they do not settle it.
    """
    _check(count, measures, bows or {})
    pairs = _Pairs.of(measures)
    _settled(count, pairs)
    shapes = _shapes(count, measures, pairs, inward, max(rounding, _LEAST_ROUNDING))
    best, *rest = shapes
    agree = _agree(best, len(measures), rounding)
    checked = len(pairs.pairs) > 2 * count - 3 or len(measures) > len(pairs.pairs)
    if not agree and not checked:
        raise _impossible(measures, best)
    error, weakest = _reach_of_error(best.corners, measures, rounding)
    others = (
        [each.corners for each in rest if _agree(each, len(measures), rounding) and each.simple]
        if agree
        else []
    )
    return Taped(
        corners=frozen(best.corners),
        outline=frozen(curved_outline(best.corners, bows or {})),
        misfits=tuple(best.misfits.tolist()),
        checked=checked,
        agree=agree,
        suspects=() if agree else _suspects(count, measures, best, inward, rounding),
        error=error,
        weakest=weakest,
        others=tuple(frozen(each) for each in others[:3]),
    )


def curved_outline(corners: Points, bows: Mapping[int, float]) -> Points:
    """(m, 2) mm: (n, 2) ``corners`` with curved sides between them, as ``patch_from_tape`` takes ``bows``."""
    pieces: list[Points] = []
    for side, start in enumerate(corners):
        end = corners[(side + 1) % len(corners)]
        pieces += [start[None], arc((start[0], start[1]), (end[0], end[1]), bows.get(side, 0.0))]
    outline: Points = np.concatenate(pieces)
    return outline


# ------------------------------------------------------------------------------------------------- the input


def _check(count: int, measures: Sequence[Measure], bows: Mapping[int, float]) -> None:
    if not 3 <= count <= MAX_CORNERS:
        what = f"a patch of {count} corners cannot be measured by tape"
        raise TapeError(what, where="corners", do=f"take 3 to {MAX_CORNERS}")
    for each in measures:
        where = _name(each.pair)
        if not (0 <= each.first < count and 0 <= each.second < count) or each.first == each.second:
            what = "this is no distance between two of its corners"
            raise TapeError(what, where=where, do=f"use the letters A to {corner_letter(count - 1)}")
        if not (math.isfinite(each.length) and 0 < each.length <= MAX_SIZE):
            what = f"{each.length:g} mm is no length of a side or diagonal"
            raise TapeError(what, where=where, do="measure it again, more than 0 and up to 10 m")
    for side, bow in bows.items():
        where = _name((side, (side + 1) % count))
        if not 0 <= side < count:
            raise TapeError("there is no such side", where=where, do="give the bow of a side of the patch")
        if not math.isfinite(bow) or abs(bow) > MAX_SIZE:
            raise TapeError(f"{bow:g} mm is no bow", where=where, do="measure it again")


class _Pairs(NamedTuple):
    """The pairs of corners that were measured, once each."""

    pairs: tuple[Pair, ...]
    lengths: Floats
    """mm; the mean where a pair was measured more than once."""

    @classmethod
    def of(cls, measures: Sequence[Measure]) -> _Pairs:
        lengths: dict[Pair, list[float]] = {}
        for each in measures:
            lengths.setdefault(each.pair, []).append(each.length)
        return cls(tuple(lengths), np.array([sum(all_) / len(all_) for all_ in lengths.values()]))


def _settled(count: int, pairs: _Pairs) -> None:
    """Raises ``TooFewError`` where the shape can move.

    A framework of bars is rigid where its rigidity matrix has rank 2n - 3, at corners in general position
    (Asimow and Roth, 1978).
    """
    place = np.random.default_rng(7).uniform(size=(count, 2))
    known = list(pairs.pairs)
    rank = _rank(place, known)
    wanted: list[Pair] = []
    sides = [(i, i + 1) for i in range(count - 1)] + [(0, count - 1)]
    reach = {
        pair: min(pair[1] - pair[0], count - pair[1] + pair[0]) for pair in combinations(range(count), 2)
    }
    # Sides first, then the diagonals that cut off one corner, which a hand would measure first.
    for pair in (*sides, *sorted(reach, key=lambda each: reach[each])):
        if rank == 2 * count - 3:
            break
        if pair not in known and _rank(place, [*known, pair]) > rank:
            known.append(pair)
            wanted.append(pair)
            rank += 1
    if wanted:
        names = ", ".join(_name(pair) for pair in wanted)
        what = "the shape can still move"
        do = f"measure {names} too" if len(wanted) == 1 else f"measure {len(wanted)} more, such as {names}"
        raise TooFewError(what, where="measures", do=do, wanted=tuple(wanted))


def _rank(place: Points, pairs: Sequence[Pair]) -> int:
    if not pairs:
        return 0
    return int(np.linalg.matrix_rank(_slopes(place, np.array(pairs)), rtol=_RANK))


def _name(pair: Pair) -> str:
    return f"{corner_letter(pair[0])} to {corner_letter(pair[1])}"


def _impossible(measures: Sequence[Measure], shape: _Shape) -> TapeError:
    worst = measures[int(np.abs(shape.misfits).argmax())]
    for a, b, c in combinations(sorted({corner for each in measures for corner in each.pair}), 3):
        known = {each.pair: each for each in measures}
        triangle = [known.get((a, b)), known.get((b, c)), known.get((a, c))]
        if all(each is not None for each in triangle):
            short, middle, long = sorted((each for each in triangle if each), key=lambda each: each.length)
            if long.length > short.length + middle.length:
                what = f"it is longer than {_name(short.pair)} and {_name(middle.pair)} together"
                return TapeError(what, where=_name(long.pair), do="measure these three again")
    return TapeError("no shape has these measures", where=_name(worst.pair), do="measure it again")


# ------------------------------------------------------------------------------------------------ the shapes


class _Shape(NamedTuple):
    """One shape, balanced."""

    corners: Points
    misfits: Floats
    """mm, (m,) measured less had."""
    simple: bool
    """Whether its sides do not cross and its corners run the right way round."""
    odd: int
    """How many things about it are not as expected: triangles turned over, corners in and out."""

    @property
    def left(self) -> float:
        return float(np.sqrt((self.misfits**2).sum()))


def _agree(shape: _Shape, count: int, rounding: float) -> bool:
    """Errors of at most the rounding each leave misfits of at most rounding·√m together.

    The balance is the least of all sums of squares, and the true shape is one of those compared.
    """
    return shape.left <= rounding * math.sqrt(count) + _LEAST_ROUNDING * math.sqrt(count)


def _shapes(
    count: int, measures: Sequence[Measure], pairs: _Pairs, inward: Collection[int] | None, rounding: float
) -> list[_Shape]:
    """The likeliest first, no two the same; one at least."""
    found = list(_balanced_ways(count, measures, pairs, inward, rounding))
    bound = rounding * math.sqrt(len(measures))
    found.sort(
        key=lambda each: (
            max(each.left / bound, 1.0), not each.simple, each.odd, _inward(each.corners), each.left
        )
    )  # fmt: skip
    kept: list[_Shape] = []
    for each in found:
        if all(_apart(each.corners, other.corners) > _SAME_SHAPE * rounding for other in kept):
            kept.append(each)
    return kept


def _inward(corners: Points) -> int:
    """How many corners point into the patch: of shapes that are alike in all else, most have fewer."""
    before, after = corners - np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0) - corners
    return int((before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0] < 0).sum())


def _balanced_ways(
    count: int, measures: Sequence[Measure], pairs: _Pairs, inward: Collection[int] | None, rounding: float
) -> Iterator[_Shape]:
    """What ``_placed`` finds, balanced; the likeliest first as far as can be told before."""
    ends = np.array([each.pair for each in measures])
    lengths = np.array([each.length for each in measures])
    triangles = _triangles(pairs.pairs, count, inward)
    for start in _placed(count, pairs, triangles, inward, rounding):
        corners = _balanced(start, ends, lengths)
        odd = int(_odd(corners[None], triangles, inward, count)[0])
        yield _Shape(_laid(corners), lengths - _distances(corners, ends), _runs_round(corners), odd)


_Triangles = tuple[NDArray[np.intp], Floats]
"""(k, 3) corners in order and (k,) the sign expected of their area."""


def _triangles(pairs: Collection[Pair], count: int, inward: Collection[int] | None) -> _Triangles:
    """Those whose three sides were measured, and how they should turn."""
    known = set(pairs)
    corners = [
        each
        for each in combinations(range(count), 3)
        if {(each[0], each[1]), (each[1], each[2]), (each[0], each[2])} <= known
    ]
    signs = [-1.0 if _tip(each, count) in (inward or ()) else 1.0 for each in corners]
    return np.array(corners, dtype=np.intp).reshape(-1, 3), np.array(signs)


def _tip(corners: tuple[int, int, int], count: int) -> int | None:
    """The corner between its two neighbours, where the three follow each other."""
    for k in range(3):
        before, at, after = corners[k - 1], corners[k], corners[(k + 1) % 3]
        if (at - before) % count == 1 and (after - at) % count == 1:
            return at
    return None


def _odd(
    states: Floats, triangles: _Triangles, inward: Collection[int] | None, count: int
) -> NDArray[np.intp]:
    """(b,) how many of the triangles that are placed, and of the corners, do not turn as they should.

    ``states``: (b, n, 2), NaN for corners that are not placed yet.
    """
    corners, signs = triangles
    if inward is not None:
        at = np.arange(count)
        corners = np.concatenate([corners, np.column_stack([at - 1, at, (at + 1) % count])])
        signs = np.concatenate([signs, np.where(np.isin(at, list(inward)), -1.0, 1.0)])
    a, b, c = (states[:, corners[:, k]] for k in range(3))
    area = (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (
        c[..., 0] - a[..., 0]
    )
    odd: NDArray[np.intp] = (area * signs < 0).sum(axis=1)  # NaN compares as False
    return odd


def _placed(
    count: int, pairs: _Pairs, triangles: _Triangles, inward: Collection[int] | None, rounding: float
) -> Iterator[Points]:
    """Shapes to balance: corner after corner on two circles, both crossings followed."""
    length_of = dict(zip(pairs.pairs, pairs.lengths.tolist(), strict=True))
    near: list[dict[int, float]] = [{} for _ in range(count)]
    for (a, b), length in length_of.items():
        near[a][b] = near[b][a] = length
    order = _order(count, near)
    if order is None:
        yield from _spread(count, pairs)
        return
    first, second = order[:2]
    states = np.full((1, count, 2), np.nan)
    states[0, first] = 0.0
    states[0, second] = (near[first][second], 0.0)
    cost = np.zeros(1)
    for corner in order[2:]:
        states, more = _with_corner(states, corner, near[corner], rounding)
        cost = np.tile(cost, 2) + more
        if len(states) > _BEAM:
            kept = np.argsort(cost + _odd(states, triangles, inward, count), kind="stable")[:_BEAM]
            states, cost = states[kept], cost[kept]
    likely = np.argsort(cost + _odd(states, triangles, inward, count), kind="stable")
    # Those that cross themselves are no patch; only where there is no other are they looked at.
    good = [state for state in states[likely] if _runs_round(state)][:_POLISHED]
    yield from good or states[likely[:_POLISHED]]


def _order(count: int, near: Sequence[Mapping[int, float]]) -> list[int] | None:
    """All corners, each but the first two measured to two before it or more; None where there is no way."""
    for start in range(count):
        for second in sorted(near[start], key=lambda each: -near[start][each]):
            order = [start, second]
            left = set(range(count)) - {start, second}
            while left:
                held = {corner: sum(each in near[corner] for each in order) for corner in left}
                corner = max(held, key=lambda each: (held[each], -each))
                if held[corner] < 2:
                    break
                order.append(corner)
                left.remove(corner)
            if not left:
                return order
    return None


def _with_corner(
    states: Floats, corner: int, near: Mapping[int, float], rounding: float
) -> tuple[Floats, Floats]:
    """(2b, n, 2) both places of ``corner`` in every state, and (2b,) what they cost, in roundings."""
    known = [each for each in near if not np.isnan(states[0, each, 0])]
    first, second = max(combinations(known, 2), key=lambda each: _crossing(states[0], each, near))
    along = states[:, second] - states[:, first]
    apart = np.hypot(along[:, 0], along[:, 1])
    apart = np.where(apart > 0, apart, np.finfo(float).tiny)
    unit = along / apart[:, None]
    # Where two circles cross, or come nearest to each other.
    foot = (near[first] ** 2 - near[second] ** 2 + apart**2) / (2 * apart)
    off = np.sqrt(np.maximum(near[first] ** 2 - foot**2, 0.0))
    middle = states[:, first] + unit * foot[:, None]
    square = np.column_stack([-unit[:, 1], unit[:, 0]]) * off[:, None]
    grown = np.concatenate([states, states])
    grown[:, corner] = np.concatenate([middle + square, middle - square])
    to = np.hypot(*np.moveaxis(grown[:, known] - grown[:, None, corner], -1, 0))
    misfit = np.abs(to - np.array([near[each] for each in known])) / rounding
    return grown, np.minimum(misfit, _CAP).sum(axis=1)


def _crossing(state: Points, pair: Pair, near: Mapping[int, float]) -> float:
    """The sine of the angle under which the circles about two corners cross; below 0 where they do not."""
    apart = math.dist(state[pair[0]], state[pair[1]])
    a, b = near[pair[0]], near[pair[1]]
    cosine = (a * a + b * b - apart * apart) / (2 * a * b)
    return math.sqrt(1 - cosine * cosine) if abs(cosine) < 1 else -abs(cosine)


def _spread(count: int, pairs: _Pairs) -> Iterator[Points]:
    """Where no corner is held by two others: shapes to begin from, round or shaken more and more."""
    chance = np.random.default_rng(11)
    turn = np.arange(count) * (2 * math.pi / count)
    size = float(pairs.lengths.mean())
    round_ = np.column_stack([np.cos(turn), np.sin(turn)]) * size
    ends = np.array(pairs.pairs)
    for k in range(_STARTS):
        shaken = round_ + chance.normal(size=round_.shape) * size * (k / _STARTS)
        yield _balanced(shaken, ends, pairs.lengths)


def _runs_round(corners: Points) -> bool:
    """Whether the outline does not cross itself and has its patch on the numerical left."""
    x, y = corners.T
    area = float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
    return area > 0 and bool(shapely.is_simple(shapely.linearrings(corners)))


# ----------------------------------------------------------------------------------------------- the balance


def _distances(corners: Points, ends: NDArray[np.intp]) -> Floats:
    step = corners[ends[:, 0]] - corners[ends[:, 1]]
    lengths: Floats = np.hypot(step[:, 0], step[:, 1])
    return lengths


def _slopes(corners: Points, ends: NDArray[np.intp]) -> Floats:
    """(m, 2n) how each distance changes with each coordinate."""
    step = corners[ends[:, 0]] - corners[ends[:, 1]]
    length = np.hypot(step[:, 0], step[:, 1])
    unit = step / np.where(length > 0, length, 1.0)[:, None]
    slopes = np.zeros((len(ends), len(corners), 2))
    rows = np.arange(len(ends))
    slopes[rows, ends[:, 0]] = unit
    slopes[rows, ends[:, 1]] = -unit
    return slopes.reshape(len(ends), -1)


def _balanced(start: Points, ends: NDArray[np.intp], lengths: Floats) -> Points:
    """The corners with the least sum of squared misfits near ``start``.

    Levenberg (1944) and Marquardt (1963): Gauss-Newton steps, damped where they do not help; the least step
    of all that do the same neither turns nor moves the shape.
    """
    corners = start.copy()
    size = float(lengths.max())
    damping = 0.0
    misfit = lengths - _distances(corners, ends)
    for _ in range(_STEPS):
        slopes = _slopes(corners, ends)
        if damping:
            normal = slopes.T @ slopes + damping * np.eye(slopes.shape[1])
            step = np.linalg.solve(normal, slopes.T @ misfit)
        else:
            step = np.linalg.lstsq(slopes, misfit, rcond=_RANK)[0]
        tried = corners + step.reshape(-1, 2)
        now = lengths - _distances(tried, ends)
        if (now**2).sum() <= (misfit**2).sum():
            corners, misfit, damping = tried, now, damping / 10 if damping > 1e-9 else 0.0
            if np.abs(step).max() <= _STILL * size:
                break
        elif np.abs(step).max() <= _STILL * size:
            break
        else:
            damping = max(damping * 10, 1e-4)
    return corners


def _laid(corners: Points) -> Points:
    """The first at (0, 0), the second on the x axis."""
    moved = corners - corners[0]
    length = math.hypot(*moved[1])
    x, y = moved[1] / length if length else (1.0, 0.0)
    laid: Points = moved @ np.array([[x, -y], [y, x]])
    return laid


def _apart(one: Points, other: Points) -> float:
    """mm: the greatest distance between the same corners of two shapes, laid on each other.

    The turn with the least sum of squares is the argument of Σ conj(z)·w about the means.
    """
    z, w = (each[:, 0] + 1j * each[:, 1] for each in (one, other))
    z, w = z - z.mean(), w - w.mean()
    turn = (z.conj() * w).sum()
    return float(np.abs(z * (turn / abs(turn) if turn else 1.0) - w).max())


# ---------------------------------------------------------------------------------- how sure, and what is off


def _reach_of_error(corners: Points, measures: Sequence[Measure], rounding: float) -> tuple[float, int]:
    """How far a corner may lie from its true place, and which one.

    Let u be the way from the corners found to the true ones, laid on each other. The true distances are
    d + Su + R, with S the slopes and R ≥ 0 what is not linear, at most |u_i - u_j|² / 2(d - |u_i - u_j|);
    they are also the measures plus errors e of at most the rounding. The misfits of a balance are square to
    S, so u = S⁺(e - R). The bound is the least δ that holds itself up: δ = max Σ |S⁺|·(rounding + R(δ)).
    """
    ends = np.array([each.pair for each in measures])
    distances = _distances(corners, ends)
    slopes = _slopes(corners, ends)
    if np.linalg.matrix_rank(slopes, rtol=_RANK) < 2 * len(corners) - 3:
        return (math.inf if rounding else 0.0), 0
    inverse = np.linalg.pinv(slopes, rcond=_RANK).reshape(len(corners), 2, -1)
    share = np.hypot(inverse[:, 0], inverse[:, 1])
    bound = 0.0
    for _ in range(200):
        apart = 2 * bound
        if apart >= distances.min():
            return math.inf, int(share.sum(axis=1).argmax())
        curved = apart**2 / (2 * (distances - apart))
        now = share @ (rounding + curved)
        if now.max() <= bound * (1 + 1e-9) + 1e-15:
            return float(now.max()), int(now.argmax())
        bound = float(now.max())
    return math.inf, int(share.sum(axis=1).argmax())


def _doubtful(shape: _Shape, measures: Sequence[Measure]) -> list[int]:
    """The measures, the most doubtful first: by their misfit over the root of their share of redundancy, the
    diagonal of I - SS⁺ with S the slopes (data snooping: Baarda, 1968; from memory)."""
    slopes = _slopes(shape.corners, np.array([each.pair for each in measures]))
    checked = 1.0 - np.einsum("ij,ji->i", slopes, np.linalg.pinv(slopes, rcond=_RANK))
    doubt = np.abs(shape.misfits) / np.sqrt(np.maximum(checked, _RANK))
    order: list[int] = np.argsort(-doubt, kind="stable").tolist()
    return order


def _suspects(
    count: int,
    measures: Sequence[Measure],
    shape: _Shape,
    inward: Collection[int] | None,
    rounding: float,
) -> tuple[Suspect, ...]:
    """The measures without which the rest agree, the likeliest first.

    Each is left out in turn and the shape found again from the rest.
    """
    found: list[Suspect] = []
    most = len(measures) if len(measures) <= _ALL_OUT else _LEFT_OUT
    for number in _doubtful(shape, measures)[:most]:
        each = measures[number]
        rest = [other for k, other in enumerate(measures) if k != number]
        pairs = _Pairs.of(rest)
        try:
            _settled(count, pairs)
        except TooFewError:
            continue
        tried = _balanced_ways(count, rest, pairs, inward, max(rounding, _LEAST_ROUNDING))
        # Only the likeliest: with the wrong measure gone, all the others speak for the right way.
        best = next((way for way in islice(tried, _LOOKED_AT) if _agree(way, len(rest), rounding)), None)
        if best is not None:
            expected = float(_distances(best.corners, np.array([each.pair]))[0])
            found.append(Suspect(number, expected, best.left))
    # Of those that leave the rest about as well matched, the one that needs the least change.
    about = rounding + _LEAST_ROUNDING
    by = {each.measure: abs(measures[each.measure].length - each.expected) for each in found}
    return tuple(sorted(found, key=lambda each: (round(each.left / about), by[each.measure])))
