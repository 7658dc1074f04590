"""Walk mode without a window: plain events and elapsed seconds in, places along the path out."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pytest

from app.plan.model import Plan, PlanPatch
from app.sketch.modes.events import Key, KeyPress, Pointer
from app.sketch.modes.mode import Outcome
from app.sketch.modes.overlay import HandleState
from app.sketch.modes.walk import WalkMode
from geometry import Fit, Patch, Settings, fit
from geometry.units import LengthStyle

INCH = 25.4
SCALE = 2.0
BLOCK = Patch([(0, 0), (8 * INCH, 0), (8 * INCH, 8 * INCH), (0, 8 * INCH)])


class Bench:
    """The least that the mode needs: a plan, and the fit that is shown."""

    def __init__(self) -> None:
        self.plan = Plan(patches=(PlanPatch.of("one", BLOCK, [(3 * INCH, 5 * INCH)]),))
        self.chosen: int | None = 0
        self.style = LengthStyle.EIGHTHS
        self.fit: Fit | None = fit(BLOCK, (3 * INCH, 5 * INCH), Settings(echo_count=1))


class Walker(WalkMode):
    """Keeps what its events led to."""

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench, lambda: bench.fit)
        self.speed = 1.0

    def hit(self, key: Key) -> Outcome:
        return self.key(KeyPress(Pointer((0, 0), SCALE), key))

    def space(self) -> Outcome:
        return self.key(KeyPress(Pointer((0, 0), SCALE), text=" "))

    def at(self, place: float) -> Pointer:
        assert self.walk is not None
        return Pointer(self.walk.point_at(place), SCALE)

    @property
    def state(self) -> HandleState:
        walked = self.overlay(SCALE).walked
        assert walked is not None
        return walked.state


@pytest.fixture
def bench() -> Bench:
    return Bench()


@pytest.fixture
def mode(bench: Bench) -> Iterator[Walker]:
    before, shown = bench.plan, bench.fit
    made = Walker(bench)
    yield made
    assert bench.plan is before
    assert made.candidate is None
    assert shown is not None


def test_at_rest_the_line_ahead_runs_towards_the_quilter(mode: Walker) -> None:
    walk = mode.walk
    assert walk is not None
    places = [segment.points for segment in walk.path.segments]
    for points in places:
        dx, dy = points[1] - points[0]
        walked = mode.overlay(SCALE).walked
        assert walked is not None
        assert walked.towards is not None
        assert math.remainder(walked.towards - math.atan2(dy, dx), math.tau) == pytest.approx(0, abs=1e-9)
        mode.step(1)


def test_at_a_turn_the_cloth_is_turned_evenly_while_the_needle_waits(mode: Walker, bench: Bench) -> None:
    assert bench.fit is not None
    wait = bench.fit.settings.seconds_per_turn
    assert wait > 0
    reading = mode.reading
    assert reading is not None
    turn = reading.next_turn
    assert turn is not None
    mode.space()
    mode.tick(turn.after / INCH)  # an inch a second

    def towards() -> float:
        walked = mode.overlay(SCALE).walked
        assert walked is not None
        assert walked.towards is not None
        return walked.towards

    assert towards() == pytest.approx(reading.heading, abs=1e-6)
    place = mode.place
    for quarter in (1, 2, 3, 4):
        mode.tick(wait / 4)
        turned = math.remainder(towards() - reading.heading, math.tau)
        assert abs(turned) == pytest.approx(abs(turn.by) * quarter / 4, abs=1e-6)
        assert math.copysign(1, turned) == math.copysign(1, turn.by)
        assert mode.place == pytest.approx(place, abs=1e-6)


def test_no_turned_cloth_at_a_frame_machine_or_where_it_is_not_wanted(mode: Walker, bench: Bench) -> None:
    def towards() -> float | None:
        walked = mode.overlay(SCALE).walked
        assert walked is not None
        return walked.towards

    assert mode.turns_cloth
    assert towards() is not None
    mode.shows_turned = False
    assert towards() is None
    mode.shows_turned = True
    bench.fit = fit(BLOCK, (3 * INCH, 5 * INCH), Settings(cloth_turned=False))
    assert not mode.turns_cloth
    assert towards() is None
    bench.fit = None
    assert not mode.turns_cloth


def test_time_moves_the_needle_only_while_it_plays(mode: Walker) -> None:
    assert mode.place == 0.0
    assert not mode.playing
    assert not mode.tick(1.0)
    assert mode.place == 0.0
    assert mode.space().taken
    assert mode.playing
    assert mode.tick(1.0)
    # The usual pace: 600 stitches a minute, 10 to the inch, is 1 in a second.
    assert mode.place == pytest.approx(INCH)
    mode.speed = 5.0
    assert mode.tick(0.1)
    assert mode.place == pytest.approx(1.5 * INCH)
    assert mode.space().taken
    assert not mode.playing
    assert not mode.tick(1.0)
    assert mode.place == pytest.approx(1.5 * INCH)


def test_many_short_ticks_come_as_far_as_one_long_one(mode: Walker, bench: Bench) -> None:
    other = Walker(bench)
    mode.space()
    other.space()
    for _ in range(700):
        mode.tick(0.02)
    other.tick(14.0)
    assert mode.place == pytest.approx(other.place, abs=1e-6)
    assert mode.reading is not None
    assert mode.reading.changes > 1


def test_at_a_turn_it_waits_for_the_hands_and_then_goes_on(mode: Walker) -> None:
    assert mode.reading is not None
    turn = mode.reading.next_turn
    assert turn is not None
    mode.space()
    mode.tick(turn.after / INCH + 0.2)
    assert mode.place == pytest.approx(turn.after)
    assert mode.reading.changes == 1
    mode.tick(0.7)
    assert mode.place == pytest.approx(turn.after)
    mode.tick(0.3)
    assert mode.place == pytest.approx(turn.after + 0.2 * INCH)


def test_it_ends_at_the_end_and_begins_again_from_there(mode: Walker) -> None:
    walk = mode.walk
    assert walk is not None
    mode.space()
    assert mode.tick(walk.seconds + 60)
    assert mode.place == walk.length
    assert not mode.playing
    mode.space()
    assert mode.place == 0.0
    assert mode.playing


def test_keys_step_by_segment_and_by_wedge(mode: Walker) -> None:
    walk = mode.walk
    assert walk is not None
    mode.hit(Key.RIGHT)
    assert mode.place == walk.start_of(1)
    mode.hit(Key.RIGHT)
    assert mode.place == walk.start_of(2)
    mode.hit(Key.LEFT)
    assert mode.place == walk.start_of(1)
    mode.hit(Key.NEXT)
    assert mode.reading is not None
    second = mode.reading.wedge
    assert second not in (None, walk.reading(0.0).wedge)
    mode.hit(Key.NEXT)
    assert mode.reading.wedge not in (second, walk.reading(0.0).wedge)
    mode.hit(Key.PREVIOUS)
    assert mode.reading.wedge == second
    mode.hit(Key.END)
    assert mode.place == walk.length
    mode.hit(Key.RIGHT)
    assert mode.place == walk.length
    mode.hit(Key.HOME)
    assert mode.place == 0.0
    mode.hit(Key.LEFT)
    assert mode.place == 0.0
    for key in (Key.UP, Key.DOWN, Key.ENTER, Key.DELETE):
        assert not mode.hit(key).taken


def test_a_step_rests_where_it_leads(mode: Walker) -> None:
    mode.space()
    mode.tick(1.0)
    mode.hit(Key.RIGHT)
    assert not mode.playing
    place = mode.place
    mode.space()
    mode.tick(0.5)
    assert mode.place == pytest.approx(place + 0.5 * INCH)


def test_a_drag_along_the_path_scrubs_and_the_needle_stays_there(mode: Walker) -> None:
    assert mode.press(mode.at(30.0)).taken
    assert mode.busy
    assert mode.state is HandleState.HELD
    assert mode.place == pytest.approx(30.0)
    for place in (35.0, 45.0, 60.0):
        mode.move(mode.at(place))
        assert mode.place == pytest.approx(place)
    x, y = mode.at(50.0).at
    mode.move(Pointer((x + 0.4, y), SCALE))
    assert mode.place == pytest.approx(50.0, abs=0.5)
    assert mode.release(mode.at(50.0)).taken
    assert not mode.busy
    assert mode.place == pytest.approx(50.0, abs=0.5)
    assert not mode.playing


def test_a_press_on_the_needle_does_not_move_it(mode: Walker) -> None:
    mode.go_to(40.0)
    x, y = mode.at(40.0).at
    mode.press(Pointer((x + 2, y - 2), SCALE))
    assert mode.busy
    assert mode.place == 40.0


def test_a_press_off_the_path_is_for_the_view(mode: Walker) -> None:
    assert not mode.press(Pointer((-100.0, -100.0), SCALE)).taken
    assert not mode.busy
    assert not mode.release(Pointer((-100.0, -100.0), SCALE)).taken
    mode.move(Pointer((-100.0, -100.0), SCALE))
    assert mode.state is HandleState.IDLE
    mode.move(mode.at(70.0))
    assert mode.state is HandleState.HOT
    assert mode.place == 0.0


def test_what_played_goes_on_when_the_hand_lets_go(mode: Walker) -> None:
    mode.space()
    mode.tick(1.0)
    mode.press(mode.at(50.0))
    assert not mode.playing
    assert not mode.tick(1.0)
    assert mode.place == pytest.approx(50.0)
    mode.release(mode.at(50.0))
    assert mode.playing
    mode.tick(0.1)
    assert mode.place == pytest.approx(50.0 + 0.1 * INCH)


def test_esc_in_a_drag_goes_back_and_in_a_play_stops(mode: Walker) -> None:
    mode.go_to(20.0)
    mode.press(mode.at(50.0))
    mode.move(mode.at(70.0))
    assert mode.cancel().taken
    assert mode.place == 20.0
    assert not mode.busy
    assert not mode.cancel().taken
    mode.space()
    mode.tick(0.5)
    place = mode.place
    assert mode.cancel().taken
    assert not mode.playing
    assert mode.place == place


def test_leaving_pauses_and_the_place_is_kept(mode: Walker) -> None:
    mode.space()
    mode.tick(1.0)
    mode.leave()
    assert not mode.playing
    assert mode.place == pytest.approx(INCH)


def test_the_slider_scrubs_by_share(mode: Walker) -> None:
    walk = mode.walk
    assert walk is not None
    mode.space()
    mode.hold()
    mode.scrub(0.25)
    assert mode.place == pytest.approx(walk.length / 4)
    assert not mode.tick(1.0)
    mode.scrub(7.0)
    assert mode.place == walk.length
    mode.let_go()
    assert not mode.playing, "at the end there is nothing to play on"
    mode.scrub(0.5)
    mode.space()
    mode.scrub(0.75)
    assert mode.playing


def test_another_fit_begins_at_its_beginning(mode: Walker, bench: Bench) -> None:
    mode.space()
    mode.tick(3.0)
    kept = mode.walk
    assert mode.walk is kept
    bench.fit = fit(BLOCK, (2 * INCH, 2 * INCH))
    assert mode.place == 0.0
    assert not mode.playing
    assert mode.walk is not kept
    assert mode.reading is not None
    assert mode.reading.at == pytest.approx((2 * INCH, 2 * INCH))


@pytest.mark.parametrize("made", [None, fit(BLOCK, (3 * INCH, 5 * INCH), Settings(edge_margin=5 * INCH))])
def test_where_nothing_fits_it_says_so(bench: Bench, made: Fit | None) -> None:
    bench.fit = made
    mode = Walker(bench)
    assert mode.walk is None
    assert mode.reading is None
    assert mode.place == 0.0
    outcome = mode.space()
    assert outcome.refused == "There is no stitch path to walk: no wedge fits this patch."
    assert not mode.playing
    for key in (Key.RIGHT, Key.NEXT, Key.HOME, Key.END):
        assert not mode.hit(key).taken
    assert not mode.press(Pointer((3 * INCH, 5 * INCH), SCALE)).taken
    assert not mode.move(Pointer((3 * INCH, 5 * INCH), SCALE)).taken
    assert not mode.cancel().taken
    assert not mode.scrub(0.5).taken
    assert not mode.tick(1.0)
    mode.hold()
    assert not mode.busy
    assert mode.overlay(SCALE).walked is None


def test_no_event_makes_a_change_of_the_plan(mode: Walker) -> None:
    outcomes = [
        mode.space(), mode.hit(Key.RIGHT), mode.hit(Key.NEXT), mode.hit(Key.END), mode.hit(Key.HOME),
        mode.press(mode.at(30.0)), mode.move(mode.at(50.0)), mode.release(mode.at(50.0)), mode.cancel(),
        mode.undo(), mode.double_click(mode.at(30.0)), mode.scrub(0.3),
    ]  # fmt: skip
    assert all(outcome.change is None and not outcome.leave for outcome in outcomes)
