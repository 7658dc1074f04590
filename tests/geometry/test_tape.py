"""Patches from tape measures: outlines measured, rounded, measured wrong, and found again."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
import shapely
from scipy.optimize import least_squares

from geometry.tape import (
    ROUNDING,
    Measure,
    Taped,
    TapeError,
    TooFewError,
    patch_from_tape,
)
from geometry.types import Points
from geometry.units import MM_PER_INCH

SIXTEENTH = MM_PER_INCH / 16


def an_outline(chance: np.random.Generator, count: int) -> Points:
    """A simple outline of up to 600 mm, with its area on the numerical left; corners 15 mm apart or more."""
    while True:
        if chance.random() < 0.5:
            turn, reach = np.sort(chance.uniform(0, 2 * math.pi, count)), chance.uniform(60, 300, count)
            corners = np.column_stack([reach * np.cos(turn), reach * np.sin(turn)])
        else:
            corners = chance.uniform(0, 400, (count, 2))
        polygon = shapely.Polygon(corners)
        apart = min(math.dist(a, b) for a, b in combinations(corners, 2))
        if polygon.is_valid and polygon.area > 2000 and apart > 15:
            return corners if polygon.exterior.is_ccw else corners[::-1]


def all_measures(corners: Points) -> list[Measure]:
    return [Measure(i, j, math.dist(corners[i], corners[j])) for i, j in combinations(range(len(corners)), 2)]


def rounded(measures: list[Measure], step: float = SIXTEENTH) -> list[Measure]:
    return [Measure(each.first, each.second, round(each.length / step) * step) for each in measures]


def inside(corners: Points) -> list[Measure]:
    """The sides and just the diagonals of a triangulation, by shapely: exactly enough, all on the patch."""
    number = {tuple(corner): k for k, corner in enumerate(corners.tolist())}
    pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.Polygon(corners)))
    pairs = set()
    for piece in pieces:
        a, b, c = (number[tuple(corner)] for corner in shapely.get_coordinates(piece)[:3].tolist())
        pairs |= {tuple(sorted(pair)) for pair in ((a, b), (b, c), (c, a))}
    return [Measure(i, j, math.dist(corners[i], corners[j])) for i, j in sorted(pairs)]


def misplaced(found: Points, true: Points) -> float:
    """mm, the greatest; laid on each other by the rotation of Kabsch (1976), without its mirror image."""
    a, b = found - found.mean(axis=0), true - true.mean(axis=0)
    u, _, v = np.linalg.svd(a.T @ b)
    turn = u @ np.diag([1.0, np.linalg.det(u @ v)]) @ v
    return float(np.hypot(*(a @ turn - b).T).max())


OUTLINES = [(seed, 3 + seed % 7) for seed in range(1000)]


@pytest.mark.parametrize("part", range(4))
def test_a_thousand_outlines_come_back(part: int) -> None:
    """Measured exactly to 1e-6 mm; rounded to sixteenths within the error that is stated (issue 6)."""
    lost, beyond, held = [], [], 0
    for seed, count in OUTLINES[part::4]:
        corners = an_outline(np.random.default_rng(seed), count)
        measures = all_measures(corners)
        exact = patch_from_tape(count, measures, rounding=0.0)
        if not exact.agree or misplaced(exact.corners, corners) > 1e-6:
            lost.append(seed)
        taped = patch_from_tape(count, rounded(measures))
        held += math.isfinite(taped.error)
        if not taped.agree or misplaced(taped.corners, corners) > taped.error:
            beyond.append(seed)
    assert (lost, beyond) == ([], [])
    assert held >= 0.85 * 250  # a bound that is always infinite would be true as well


def test_the_stated_error_is_reached_by_half() -> None:
    """So that it is no empty phrase: a square of four sides and a diagonal, each off as badly as may be."""
    square = np.array([(0.0, 0.0), (200.0, 0.0), (200.0, 200.0), (0.0, 200.0)])
    measures = [each for each in all_measures(square) if {each.first, each.second} != {1, 3}]
    worst = 0.0
    for signs in np.array(np.meshgrid(*[[-1, 1]] * 5)).T.reshape(-1, 5):
        off = [
            Measure(m.first, m.second, m.length + s * ROUNDING) for m, s in zip(measures, signs, strict=True)
        ]
        taped = patch_from_tape(4, off)
        assert misplaced(taped.corners, square) <= taped.error
        worst = max(worst, misplaced(taped.corners, square) / taped.error)
    assert worst > 0.5


@pytest.mark.parametrize("part", range(4))
def test_exactly_enough_measures_on_the_patch_give_the_shape(part: int) -> None:
    """The diagonals of a triangulation leave 2^(n - 3) ways to fold; a tape on the patch leaves one."""
    wrong = []
    for seed in range(part, 200, 4):
        corners = an_outline(np.random.default_rng(5000 + seed), 4 + seed % 9)
        measures = inside(corners)
        assert len(measures) == 2 * len(corners) - 3
        taped = patch_from_tape(len(corners), measures, rounding=1e-6)
        assert not taped.checked
        if misplaced(taped.corners, corners) > 1e-5:
            wrong.append(seed)
    assert wrong == []


def test_a_measure_that_is_an_inch_off_is_named() -> None:
    """In 95 of 100 (issue 6); where there is one measure too many only, none can be told from the rest."""
    named, tried = 0, 0
    for seed in range(100):
        chance = np.random.default_rng(9000 + seed)
        count = 5 + seed % 3
        measures = rounded(all_measures(an_outline(chance, count)))
        wrong = int(chance.integers(len(measures)))
        by = MM_PER_INCH * (1 if chance.random() < 0.5 or measures[wrong].length < 40 else -1)
        true = measures[wrong].length
        measures[wrong] = Measure(measures[wrong].first, measures[wrong].second, true + by)
        taped = patch_from_tape(count, measures)
        tried += 1
        if taped.suspects and taped.suspects[0].measure == wrong:
            named += 1
            assert taped.suspects[0].expected == pytest.approx(true, abs=8 * SIXTEENTH)
    assert tried == 100
    assert named >= 95


def test_one_measure_too_many_shows_a_wrong_one_but_not_which() -> None:
    square = all_measures(np.array([(0.0, 0.0), (200.0, 0.0), (200.0, 200.0), (0.0, 200.0)]))
    square[2] = Measure(0, 3, 225.0)
    taped = patch_from_tape(4, square)
    assert taped.checked
    assert not taped.agree
    assert len(taped.suspects) == 6
    right = next(each for each in taped.suspects if each.measure == 2)
    assert right.expected == pytest.approx(200.0, abs=1e-6)


def test_the_balance_is_the_least_sum_of_squares() -> None:
    """scipy's own balance, from the true corners, leaves the same."""
    for seed in range(20):
        chance = np.random.default_rng(seed)
        corners = an_outline(chance, 4 + seed % 5)
        measures = [
            Measure(m.first, m.second, m.length + chance.normal(0, 0.4)) for m in all_measures(corners)
        ]
        taped = patch_from_tape(len(corners), measures)

        def misfits(flat: Points, measures: list[Measure] = measures) -> list[float]:
            at = flat.reshape(-1, 2)
            return [math.dist(at[m.first], at[m.second]) - m.length for m in measures]

        least = 2 * least_squares(misfits, corners.ravel(), xtol=1e-14, ftol=1e-14, gtol=1e-14).cost
        assert sum(each**2 for each in taped.misfits) == pytest.approx(least, rel=1e-6, abs=1e-12)
        have = [math.dist(taped.corners[m.first], taped.corners[m.second]) for m in measures]
        assert taped.misfits == pytest.approx([m.length - h for m, h in zip(measures, have, strict=True)])


@pytest.mark.parametrize("count", [3, 4, 5, 8, 13])
def test_too_few_names_what_would_settle_it(count: int) -> None:
    corners = an_outline(np.random.default_rng(count), count)
    known = inside(corners)
    for left_out in range(len(known)):
        rest = known[:left_out] + known[left_out + 1 :]
        with pytest.raises(TooFewError) as caught:
            patch_from_tape(count, rest)
        (wanted,) = caught.value.wanted
        more = Measure(*wanted, math.dist(corners[wanted[0]], corners[wanted[1]]))
        assert isinstance(patch_from_tape(count, [*rest, more]), Taped)
    with pytest.raises(TooFewError) as caught:
        patch_from_tape(count, [])
    assert len(caught.value.wanted) == 2 * count - 3
    assert set(caught.value.wanted) >= {(i, i + 1) for i in range(count - 1)}, "sides are asked for first"


def test_measured_twice_does_not_settle_a_shape() -> None:
    sides = [Measure(0, 1, 100.0), Measure(1, 2, 100.0), Measure(2, 3, 100.0), Measure(3, 0, 100.0)]
    with pytest.raises(TooFewError, match="A to C"):
        patch_from_tape(4, [*sides, Measure(1, 0, 100.0)])


def test_corners_that_no_two_others_hold() -> None:
    """K3,3 has no triangle: nothing can be placed corner after corner. Nine bars hold six corners."""
    corners = np.array(
        [(0.0, 0.0), (150.0, -40.0), (310.0, 20.0), (290.0, 180.0), (140.0, 240.0), (-20.0, 150.0)]
    )
    pairs = [(i, j) for i in (0, 2, 4) for j in (1, 3, 5)]
    measures = [Measure(i, j, math.dist(corners[i], corners[j])) for i, j in pairs]
    taped = patch_from_tape(6, measures, rounding=1e-6)
    assert min(misplaced(each, corners) for each in (taped.corners, *taped.others)) < 1e-4


def test_a_corner_that_points_inward() -> None:
    """A dart: with one diagonal across the notch there are two shapes, and the word of the user decides."""
    dart = np.array([(0.0, 0.0), (200.0, 100.0), (0.0, 200.0), (60.0, 100.0)])
    measures = [each for each in all_measures(dart) if {each.first, each.second} != {1, 3}]
    unsaid = patch_from_tape(4, measures, rounding=1e-6)
    assert misplaced(unsaid.corners, dart) > 10
    assert misplaced(unsaid.others[0], dart) < 1e-5
    assert misplaced(patch_from_tape(4, measures, inward={3}).corners, dart) < 1e-5


def test_the_answer_does_not_hang_on_the_order_of_measures_or_the_first_corner() -> None:
    corners = an_outline(np.random.default_rng(3), 7)
    measures = rounded(all_measures(corners))
    one = patch_from_tape(7, measures)
    mixed = [measures[k] for k in np.random.default_rng(4).permutation(len(measures))]
    other = patch_from_tape(7, [Measure((m.second + 2) % 7, (m.first + 2) % 7, m.length) for m in mixed])
    assert misplaced(np.roll(other.corners, -2, axis=0), one.corners) < 1e-6
    assert other.error == pytest.approx(one.error, rel=1e-6)


def test_sides_by_their_bow() -> None:
    """Half a circle on each of two sides of a 100 mm square, one out, one in, changes no area."""
    square = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)])
    taped = patch_from_tape(4, all_measures(square), bows={0: 50.0, 2: -49.0})
    outline = shapely.Polygon(taped.outline)
    assert outline.contains(shapely.Point(50.0, -49.5))
    assert not outline.contains(shapely.Point(50.0, 51.5))
    one = patch_from_tape(4, all_measures(square), bows={1: 50.0})
    assert shapely.Polygon(one.outline).area == pytest.approx(1e4 + math.pi * 50**2 / 2, rel=1e-3)
    assert one.corners == pytest.approx(square, abs=1e-9)
    assert not one.corners.flags.writeable


@pytest.mark.parametrize(
    ("measures", "words"),
    [
        ([(0, 1, 100.0), (1, 2, 60.0), (0, 2, 30.0)], "A to B: it is longer than A to C and B to C together"),
        ([(0, 1, math.nan), (1, 2, 60.0), (0, 2, 30.0)], "A to B: nan"),
        ([(0, 1, -3.0), (1, 2, 60.0), (0, 2, 30.0)], "A to B: -3"),
        ([(0, 1, 11_000.0), (1, 2, 60.0), (0, 2, 30.0)], "10 m"),
        ([(0, 0, 5.0), (1, 2, 60.0), (0, 2, 30.0)], "A to A"),
        ([(0, 3, 5.0), (1, 2, 60.0), (0, 2, 30.0)], "letters A to C"),
    ],
)
def test_measures_that_no_patch_has(measures: list[tuple[int, int, float]], words: str) -> None:
    with pytest.raises(TapeError) as caught:
        patch_from_tape(3, [Measure(*each) for each in measures])
    assert words in str(caught.value)


def test_corners_and_bows_out_of_range() -> None:
    triangle = [Measure(0, 1, 100.0), Measure(1, 2, 100.0), Measure(2, 0, 100.0)]
    for count in (2, 27):
        with pytest.raises(TapeError, match="take 3 to 26"):
            patch_from_tape(count, triangle)
    for bows in ({3: 5.0}, {0: math.inf}):
        with pytest.raises(TapeError):
            patch_from_tape(3, triangle, bows=bows)
