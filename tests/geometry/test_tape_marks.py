"""Tape distances against brute force: every pair tried, crossings searched for, seams walked."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry import Fit, Patch, Settings, fit
from geometry.tape_marks import CROSSES_WELL, Crossing, Tape, is_flat, meeting, sensitivity

ELL = [(0.0, 0.0), (254.0, 0.0), (254.0, 76.2), (152.4, 81.0), (140.0, 178.0), (0.0, 203.2)]
HOLE = [(50.8, 127.0), (76.2, 127.0), (76.2, 152.4)]
SLANTED = [(-310.5, 95.25), (60.1, -20.7), (402.3, 180.9), (250.8, 431.1), (-120.6, 390.4)]


def tape_of(made: Fit) -> Tape:
    return Tape(made.patch, [mark for fan in made.fans for mark in fan.marks], made.settings)


@settings(deadline=None)
@given(
    st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
    st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
    st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
)
def test_tapes_of_true_lengths_meet_where_they_were_measured(
    one: tuple[float, float], two: tuple[float, float], at: tuple[float, float]
) -> None:
    apart = math.dist(one, two)
    if apart < 1:
        return
    side = (two[0] - one[0]) * (at[1] - one[1]) - (two[1] - one[1]) * (at[0] - one[0])
    found = meeting(one, two, math.dist(one, at), math.dist(two, at), side > 0)
    # Near the line of both, half of the digits are lost under the root.
    assert math.dist(found, at) < 1e-3 + 1e-7 * max(map(abs, (*one, *two, *at)))


def test_tapes_that_do_not_reach_are_laid_on_the_line() -> None:
    assert meeting((0, 0), (100, 0), 40, 50, True)[1] == 0
    assert 40 <= meeting((0, 0), (100, 0), 40, 50, True)[0] <= 50
    assert meeting((0, 0), (100, 0), 40, 160, True)[1] == 0


def test_right_is_right_on_screen() -> None:
    """Who looks along x, with y down, has larger y on the right."""
    assert meeting((0, 0), (100, 0), 50 * math.sqrt(2), 50 * math.sqrt(2), True) == pytest.approx((50, 50))
    assert meeting((0, 0), (100, 0), 50 * math.sqrt(2), 50 * math.sqrt(2), False) == pytest.approx((50, -50))


@pytest.mark.parametrize("degrees", [5, 30, 60, 90, 120, 150, 175])
def test_sensitivity_is_what_tapes_that_are_off_do(degrees: float) -> None:
    """Tapes a hair too long or too short, laid out, at every combination."""
    angle, long, hair = math.radians(degrees), 300.0, 1e-5
    one, two = (long, 0.0), (long * math.cos(angle), long * math.sin(angle))
    right = (two[0] - one[0]) * (0 - one[1]) - (two[1] - one[1]) * (0 - one[0]) > 0
    worst = max(
        math.dist(meeting(one, two, long + a * hair, long + b * hair, right), (0, 0)) / hair
        for a in (-1, 1)
        for b in (-1, 1)
    )
    assert float(sensitivity(np.array(angle))) == pytest.approx(worst, rel=1e-3)


def brute(tape: Tape, at: tuple[float, float]) -> tuple[float, float, float]:
    """By trying every pair of corners: whether it crosses badly, then the longer tape or the sensitivity."""
    corners = [each.at for each in tape.landmarks]
    far = [corner for corner in corners if math.dist(corner, at) >= 25.4]
    corners = far if len(far) > 1 else corners
    best = (2.0, 0.0, 0.0)
    for one, two in combinations(corners, 2):
        a = math.atan2(one[1] - at[1], one[0] - at[0]) - math.atan2(two[1] - at[1], two[0] - at[0])
        angle = abs((a + math.pi) % (2 * math.pi) - math.pi)
        if angle < 1e-9 or angle > math.pi - 1e-9:
            continue
        moves = max(1 / math.sin(angle / 2), 1 / math.cos(angle / 2))
        longer = max(math.dist(one, at), math.dist(two, at))
        well = moves <= CROSSES_WELL
        key = (float(not well), longer if well else moves, moves if well else longer)
        best = min(best, tuple(round(value, 5) for value in key))
    return best


@pytest.mark.parametrize("outline", [ELL, SLANTED])
def test_the_pair_of_corners_is_the_best_of_all(outline: list[tuple[float, float]]) -> None:
    patch = Patch(outline, [HOLE] if outline is ELL else [])
    tape = tape_of(fit(patch, outline[0]))
    rng = np.random.default_rng(7)
    low, high = np.array(outline).min(axis=0), np.array(outline).max(axis=0)
    tried = 0
    for x, y in rng.uniform(low, high, size=(60, 2)).tolist():
        crossing = tape.anchor((x, y)).crossing
        if patch.locate((x, y)).value != "inside" or crossing is None:
            continue
        tried += 1
        moves = float(sensitivity(np.array(crossing.angle)))
        longer = max(crossing.from_one, crossing.from_two)
        well = moves <= CROSSES_WELL
        key = (float(not well), longer if well else moves, moves if well else longer)
        assert key == pytest.approx(brute(tape, (x, y)), rel=1e-4, abs=1e-4)
        assert not is_flat(crossing)
        assert meeting(
            crossing.one.at, crossing.two.at, crossing.from_one, crossing.from_two, crossing.right
        ) == pytest.approx((x, y), abs=1e-6)
    assert tried > 20


def walked(ring: list[tuple[float, float]], start: int, end: int) -> float:
    """mm along a ring of corners from one to another."""
    total = 0.0
    while start != end:
        following = (start + 1) % len(ring)
        total += math.dist(ring[start], ring[following])
        start = following
    return total


def test_sides_are_measured_from_the_seams_own_corners() -> None:
    made = fit(Patch(ELL), (76.2, 50.8), Settings(spans_per_side=3))
    tape = tape_of(made)
    corners = [tuple(row) for row in made.patch.outline.tolist()]
    assert [each.at for each in tape.landmarks] == corners
    at = {each.name: number for number, each in enumerate(tape.landmarks)}
    for taped in tape.marks:
        assert taped.along is not None
        assert taped.crossing is None
        side = walked(corners, at[taped.along.before], at[taped.along.after])
        assert taped.along.back + taped.along.on == pytest.approx(side)
        assert taped.along.back == pytest.approx(taped.mark.from_start)
        assert tape.foot(taped.along.before, taped.along.back) == pytest.approx(taped.mark.foot, abs=1e-6)
        assert tape.foot(taped.along.after, -taped.along.on) == pytest.approx(taped.mark.foot, abs=1e-6)


def test_round_a_small_hole_no_tape_is_laid_the_long_way() -> None:
    made = fit(Patch(ELL, [HOLE]), (76.2, 50.8), Settings(spans_per_side=4))
    sides = [math.dist(a, b) for a, b in zip(HOLE, [*HOLE[1:], HOLE[0]], strict=True)]
    for taped in tape_of(made).marks:
        if taped.along is not None and taped.along.before in {"IG", "GH", "HI"}:
            assert min(abs(taped.along.back + taped.along.on - side) for side in sides) < 1e-6


def test_a_corner_between_curved_sides_is_the_seams_own() -> None:
    """A lens of two arcs: the tips of the margin line stand far inside, their corners are the seam's tips."""
    turn = np.linspace(math.radians(200), math.radians(340), 60)
    lower = np.column_stack([200 * np.cos(turn), 200 * np.sin(turn)])
    tips = lower[[0, -1]]
    upper = lower[::-1] * (1, -1) + (0, 2 * tips[0, 1])
    made = fit(Patch(np.concatenate([lower, upper[1:-1]])), (0.0, float(tips[0, 1])))
    tape = tape_of(made)
    assert len(tape.landmarks) == 2
    for landmark, tip in zip(sorted(each.at for each in tape.landmarks), sorted(tips.tolist()), strict=True):
        assert landmark == pytest.approx(tip, abs=1e-6)


def test_an_anchor_on_the_seam_is_measured_along_it_and_one_in_a_strip_square_in() -> None:
    made = fit(Patch(ELL), (100.0, 0.0))
    found = tape_of(made).anchor((100.0, 0.0))
    assert found.crossing is None
    assert found.inward == 0
    assert found.along is not None
    assert (found.along.back, found.along.on) == pytest.approx((100.0, 154.0))
    strip = fit(Patch([(0, 0), (508, 0), (508, 24), (0, 24)]), (251.0, 9.0))
    found = tape_of(strip).anchor((251.0, 9.0))
    assert found.along is not None
    assert found.inward == pytest.approx(9.0)
    assert found.foot == pytest.approx((251.0, 0.0))


def test_turning_and_moving_the_cloth_changes_no_distance() -> None:
    anchor = (120.0, 60.0)
    angle = math.radians(37)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])

    def moved(points: object) -> np.ndarray:
        return np.asarray(points) @ turn + (40.0, -70.0)

    one = tape_of(fit(Patch(ELL), anchor))
    x, y = moved(anchor).tolist()
    two = tape_of(fit(Patch(moved(ELL)), (x, y)))
    for here, there in zip(one.marks, two.marks, strict=True):
        assert here.along is not None
        assert there.along is not None
        assert (here.along.before, here.along.after) == (there.along.before, there.along.after)
        assert (here.along.back, here.along.on) == pytest.approx((there.along.back, there.along.on), abs=1e-6)
    first, second = one.anchor(anchor).crossing, two.anchor((x, y)).crossing
    assert isinstance(first, Crossing)
    assert isinstance(second, Crossing)
    assert (first.one.name, first.two.name, first.right) == (second.one.name, second.two.name, second.right)
    assert (first.from_one, first.from_two) == pytest.approx((second.from_one, second.from_two))
