"""Totals of a path worked by hand; repeats and whole plans."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from geometry import Patch, Settings, SettingsError, fit
from geometry.estimate import Totals, estimate, summed
from geometry.stitch_path import Kind, Segment, StitchPath

SQUARE = Patch([(0, 0), (203.2, 0), (203.2, 203.2), (0, 203.2)])


def line(*lengths: float) -> StitchPath:
    """A zigzag with corners of a right angle."""
    points = np.zeros((len(lengths) + 1, 2))
    for k, run in enumerate(lengths):
        points[k + 1] = points[k] + ((run, 0) if k % 2 == 0 else (0, run))
    return StitchPath(tuple(Segment(Kind.LEG, 1, points[k : k + 2]) for k in range(len(lengths))))


def test_thread_stitches_and_minutes_by_hand() -> None:
    # 1,000 mm at 2.5 mm: 400 stitches. Each takes 2.5 + 2 mm of either thread: 1,800 mm; two tails of 100.
    # 400 stitches at 600 a minute are 40 s; two right angles at 1.5 s each are 3 s.
    settings = Settings(
        stitch_length=2.5, quilt_thickness=2, thread_tail=100, stitches_per_minute=600, seconds_per_turn=1.5
    )
    totals = estimate(line(300, 400, 300), settings)
    assert totals.stitched == pytest.approx(1000)
    assert totals.stitches == 400
    assert totals.top_thread == totals.bobbin_thread == pytest.approx(2000)
    assert totals.minutes == pytest.approx(43 / 60)
    assert totals.changes == 2
    assert (totals.bobbins, totals.bobbins_to_wind) == (0, 0)


def test_a_stitch_begun_is_a_stitch() -> None:
    assert estimate(line(100.1), Settings(stitch_length=2.5)).stitches == 41
    assert estimate(line(100.0), Settings(stitch_length=2.5)).stitches == 40
    assert estimate(line(0.3 * 7), Settings(stitch_length=0.3)).stitches == 7


def test_nothing_takes_nothing() -> None:
    assert estimate(StitchPath(), Settings(bobbin_capacity=50)) == Totals(0, 0, 0, 0, 0)


@pytest.mark.parametrize(("capacity", "wind"), [(2000, 1), (1999, 2), (700, 3), (666, 4), (1e6, 1)])
def test_bobbins_to_wind(capacity: float, wind: int) -> None:
    settings = Settings(stitch_length=2.5, quilt_thickness=2, thread_tail=100, bobbin_capacity=capacity)
    totals = estimate(line(300, 400, 300), settings)
    assert totals.bobbins == pytest.approx(2000 / capacity)
    assert totals.bobbins_to_wind == wind


def test_a_capacity_below_nothing_is_refused() -> None:
    with pytest.raises(SettingsError, match="bobbin capacity"):
        Settings(bobbin_capacity=-1)


def test_totals_are_those_of_the_path() -> None:
    settings = Settings(echo_count=2, bobbin_capacity=20_000)
    made = fit(SQUARE, (101.6, 101.6), settings)
    steps = np.diff(made.path.points, axis=0)
    assert made.totals.stitched == pytest.approx(float(np.hypot(*steps.T).sum()))
    assert made.totals.stitches == math.ceil(made.totals.stitched / 2.54)
    assert made.totals.bobbins == pytest.approx(made.totals.bobbin_thread / 20_000)
    turns = 0
    for one, two in pairwise(steps):
        cross, dot = one[0] * two[1] - one[1] * two[0], one @ two
        turns += abs(math.degrees(math.atan2(cross, dot))) > 25
    assert made.totals.changes == turns
    minutes = made.totals.stitches / 600 + turns / 60
    assert made.totals.minutes == pytest.approx(minutes)


def test_repeats_and_the_whole_plan() -> None:
    settings = Settings(stitch_length=2.5, quilt_thickness=2, thread_tail=100, bobbin_capacity=5000)
    one, two = estimate(line(300, 400, 300), settings), estimate(line(900), settings)
    whole = summed([(one, 3), (two, 2)])
    assert whole.stitched == pytest.approx(3 * 1000 + 2 * 900)
    assert whole.stitches == 3 * 400 + 2 * 360
    assert whole.top_thread == whole.bobbin_thread == pytest.approx(3 * 2000 + 2 * (900 * 1.8 + 200))
    assert whole.minutes == pytest.approx(3 * one.minutes + 2 * two.minutes)
    assert whole.changes == 6
    # 9,640 mm from bobbins of 5,000: two, and not one for each of the five.
    assert whole.bobbins_to_wind == 2
    assert one.times(3) == summed([(one, 3)])
    assert summed([]) == Totals(0, 0, 0, 0, 0)


def test_an_unknown_bobbin_makes_the_sum_unknown() -> None:
    known = estimate(line(300), Settings(bobbin_capacity=5000))
    unknown = estimate(line(300), Settings())
    assert summed([(known, 1), (unknown, 1)]).bobbins == 0
    empty = estimate(StitchPath(), Settings())
    assert summed([(known, 1), (empty, 4)]).bobbins == known.bobbins
