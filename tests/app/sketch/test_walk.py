"""The walk along the stitch path, judged by plain steps along the polyline and by shapely."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
import shapely

from app.sketch.palette import Role
from app.sketch.walk import Walk
from app.sketch.walk_display import above, below, stitched, to_come, under_way
from app.sketch.walk_words import words
from app.window.sample import sample_plan
from geometry import Fit, Patch, Settings, fit
from geometry.stitch_path import Kind
from geometry.units import LengthStyle

INCH = 25.4
PLAIN = Settings()
WAYS = {
    "plain": PLAIN,
    "echoes": Settings(echo_count=3),
    "spiral": Settings(echo_count=3, spiral=True, clockwise=False),
    "hold-back": Settings(hold_back=12.0, stagger=6.0, echo_count=2),
    "divided": Settings(divide=True, echo_count=1),
}
SQUARE = [(0.0, 0.0), (8 * INCH, 0.0), (8 * INCH, 8 * INCH), (0.0, 8 * INCH)]


@cache
def fitted(name: str, way: str) -> Fit:
    piece = next(piece for piece in sample_plan().patches if piece.name == name)
    return fit(piece.patch(), piece.anchors, WAYS[way])


def walked(made: Fit) -> Walk:
    return Walk(made.path, made.settings)


CASES = [(name, way) for name in ("Star kite", "Corner L", "Pond", "Lily ground") for way in WAYS]


def plain_steps(made: Fit) -> list[tuple[float, float, float, int]]:
    """(place, heading, turned, changes) at the beginning of every piece with a length, in plain Python."""
    steps = []
    place = turned = 0.0
    changes = 0
    before = None
    points = made.path.points.tolist()
    for (x0, y0), (x1, y1) in pairwise(points):
        length = math.dist((x0, y0), (x1, y1))
        if length > 1e-6:
            heading = math.atan2(y1 - y0, x1 - x0)
            if before is not None:
                turn = abs(math.remainder(heading - before, 2 * math.pi))
                turned += turn
                changes += turn > math.radians(made.settings.corner_angle)
            before = heading
            steps.append((place, heading, turned, changes))
        place += length
    return steps


@pytest.mark.parametrize(("name", "way"), CASES)
def test_every_place_is_where_plain_steps_lead(name: str, way: str) -> None:
    made = fitted(name, way)
    walk = walked(made)
    line = shapely.linestrings(made.path.points)
    steps = plain_steps(made)
    ends = [place for place, *_ in steps[1:]] + [walk.length]
    for (begin, heading, turned, changes), end in zip(steps, ends, strict=True):
        for place in (begin + 1e-9, (begin + end) / 2):
            reading = walk.reading(place)
            assert reading.heading == pytest.approx(heading, abs=1e-9)
            assert reading.turned == pytest.approx(turned, abs=1e-6)
            assert reading.changes == changes
            at = shapely.line_interpolate_point(line, place)
            assert reading.at == pytest.approx((at.x, at.y), abs=1e-6)


@pytest.mark.parametrize(("name", "way"), CASES)
def test_the_end_has_the_figures_of_path_and_totals(name: str, way: str) -> None:
    made = fitted(name, way)
    walk = walked(made)
    end = walk.reading(walk.length + 5)
    assert end.place == walk.length == pytest.approx(made.path.length, abs=1e-6)
    assert end.turned == pytest.approx(made.path.turning, abs=1e-9)
    assert end.changes == made.path.changes
    assert end.minutes == pytest.approx(made.totals.minutes, abs=1e-12)
    assert walk.minutes == end.minutes
    assert end.share == 1.0
    assert end.next_turn is None
    assert walk.reading(-5.0).place == 0.0
    assert walk.reading(0.0).minutes == 0.0
    assert walk.wedges == sum(len(fan.wedges) for fan in made.fans)


@pytest.mark.parametrize(("name", "way"), CASES)
def test_steps_go_through_all_segments_and_back(name: str, way: str) -> None:
    made = fitted(name, way)
    walk = walked(made)
    long_enough = [segment for segment in made.path.segments if segment.length > 1e-6]
    place, seen = 0.0, []
    while place < walk.length:
        reading = walk.reading(place)
        seen.append((reading.kind, reading.wedge))
        place = walk.step(place, 1)
    assert seen == [(segment.kind, segment.wedge) for segment in long_enough]
    back = []
    while place > 0:
        place = walk.step(place, -1)
        back.append((walk.reading(place).kind, walk.reading(place).wedge))
    assert back == seen[::-1]
    # Back from within a segment leads to its own beginning first.
    middle = walk.length * 0.487
    begin = walk.step(middle, -1)
    assert walk.reading(begin).segment == walk.reading(middle).segment
    assert walk.start_of(walk.reading(middle).segment) == begin


@pytest.mark.parametrize(("name", "way"), CASES)
def test_steps_by_wedge_go_through_all_wedges_in_turn(name: str, way: str) -> None:
    made = fitted(name, way)
    walk = walked(made)
    order = list(dict.fromkeys(segment.wedge for segment in made.path.segments if segment.wedge))
    place, seen = 0.0, []
    if walk.reading(0.0).wedge is None:
        place = walk.step_wedge(0.0, 1)
    while place < walk.length:
        seen.append(walk.reading(place).wedge)
        place = walk.step_wedge(place, 1)
    assert seen == order
    back = []
    while place > 0:
        place = walk.step_wedge(place, -1)
        back.append(walk.reading(place).wedge)
    assert [wedge for wedge in back if wedge] == order[::-1]


@pytest.mark.parametrize(("name", "way"), CASES)
def test_legs_and_echoes_are_told_apart(name: str, way: str) -> None:
    made = fitted(name, way)
    walk = walked(made)
    legs = echoes = 0
    wedges = {wedge.number: wedge for fan in made.fans for wedge in fan.wedges}
    anchors = np.array([fan.anchor for fan in made.fans])
    last = {}
    for number, segment in enumerate(made.path.segments):
        if segment.length <= 1e-6:
            legs += segment.kind is Kind.LEG
            continue
        reading = walk.reading(walk.start_of(number) + segment.length / 2)
        assert reading.segment == number
        if segment.kind is Kind.LEG:
            assert reading.bearing == made.path.bearings[legs]
            legs += 1
            one, two = (np.hypot(*(anchors - end).T).min() for end in segment.points[[0, -1]])
            assert reading.back is bool(two < one)
        elif segment.kind is Kind.ECHO:
            assert segment.wedge is not None
            assert reading.echo == last.get(segment.wedge, 0) + 1
            last[segment.wedge] = reading.echo
            echoes += 1
            # The line of that number is the echo: all its points lie on it, or on its way to the next.
            ring = shapely.linestrings(wedges[segment.wedge].echoes[reading.echo - 1])
            apart = shapely.distance(ring, shapely.points(segment.points))
            assert np.sort(apart)[: len(apart) - 1].max() <= 1e-6
        else:
            assert reading.echo == 0
            assert not reading.back
    assert echoes == sum(len(wedge.echoes) for wedge in wedges.values())
    assert last == {number: len(wedge.echoes) for number, wedge in wedges.items() if wedge.echoes}


def test_a_curved_side_has_no_ruler_and_a_straight_one_has() -> None:
    pond, kite = walked(fitted("Pond", "plain")), walked(fitted("Star kite", "plain"))
    for walk, straight in ((pond, False), (kite, True)):
        sides = [number for number, segment in enumerate(walk.path.segments) if segment.kind is Kind.SIDE]
        assert len(sides) > 5
        for number in sides:
            points = walk.path.segments[number].points
            bearing = walk.reading(walk.start_of(number) + 1.0).bearing
            assert (bearing is not None) is straight
            if bearing is not None:
                dx, dy = points[-1] - points[0]
                assert bearing == pytest.approx(math.degrees(math.atan2(dx, -dy)) % 360, abs=1e-9)


@pytest.mark.parametrize(("name", "way"), CASES)
def test_the_next_turn_is_the_turn_that_comes(name: str, way: str) -> None:
    made = fitted(name, way)
    walk = walked(made)
    for place in np.linspace(0, walk.length * 0.999, 97).tolist():
        reading = walk.reading(place)
        turn = reading.next_turn
        if turn is None:
            assert walk.reading(walk.length).changes == reading.changes
            continue
        assert turn.after > 0
        before, after = (walk.reading(place + turn.after + by) for by in (-1e-6, 1e-6))
        assert after.changes == reading.changes + 1 == before.changes + 1
        assert math.remainder(after.heading - before.heading - turn.by, 2 * math.pi) == pytest.approx(
            0, abs=1e-9
        )
        assert abs(turn.by) > math.radians(made.settings.corner_angle)


@pytest.mark.parametrize(("name", "way"), CASES)
def test_time_and_place_belong_together(name: str, way: str) -> None:
    made = fitted(name, way)
    walk = walked(made)
    settings = made.settings
    for share in np.linspace(0, 1, 53).tolist():
        place = walk.at_share(share)
        assert walk.place_at(walk.seconds_at(place)) == pytest.approx(place, abs=1e-6)
    stitching = 60 * walk.length / settings.stitch_length / settings.stitches_per_minute
    assert walk.seconds == pytest.approx(stitching + made.path.changes * settings.seconds_per_turn)
    # Totals round up to whole stitches.
    assert walk.minutes * 60 == pytest.approx(walk.seconds, abs=60 / settings.stitches_per_minute)


def test_the_needle_waits_for_the_hands_at_a_turn() -> None:
    walk = walked(fitted("Star kite", "plain"))
    first = walk.reading(0.0).next_turn
    assert first is not None
    comes = walk.seconds_at(first.after - 1e-9)
    assert walk.place_at(comes + 0.5) == pytest.approx(first.after, abs=1e-6)
    assert walk.reading(walk.place_at(comes + 0.5)).changes == 1
    assert walk.place_at(comes + 1.0) == pytest.approx(first.after, abs=1e-6)
    assert walk.place_at(comes + 1.1) == pytest.approx(first.after + 0.1 * 25.4, abs=1e-6)  # 1 in a second


def test_without_time_for_a_turn_it_does_not_wait() -> None:
    made = fitted("Star kite", "plain")
    walk = Walk(made.path, replace(made.settings, seconds_per_turn=0.0))
    for place in np.linspace(0, walk.length, 41).tolist():
        assert walk.seconds_at(place) == pytest.approx(place / 25.4)
        assert walk.place_at(place / 25.4) == pytest.approx(place, abs=1e-6)


@pytest.mark.parametrize(("name", "way"), CASES)
def test_the_nearest_place_is_as_near_as_shapely_finds_one(name: str, way: str) -> None:
    made = fitted(name, way)
    walk = walked(made)
    line = shapely.linestrings(made.path.points)
    left, top, right, bottom = made.patch.polygon.bounds
    drawn = np.random.default_rng(7).uniform((left, top), (right, bottom), (60, 2))
    for point in drawn.tolist():
        place, apart = walk.nearest((point[0], point[1]), 0.0)
        assert apart == pytest.approx(shapely.distance(line, shapely.Point(point)), abs=1e-9)
        assert math.dist(walk.point_at(place), point) == pytest.approx(apart, abs=1e-6)


def test_where_lines_lie_on_each_other_the_hand_keeps_to_its_own() -> None:
    # The wedges of a fan meet in the anchor: there every wedge has a place, and the nearest along counts.
    walk = walked(fitted("Star kite", "plain"))
    anchor = fitted("Star kite", "plain").anchors[0]
    for around in np.linspace(0, walk.length, 25).tolist():
        place, apart = walk.nearest(anchor, around)
        assert apart == pytest.approx(0, abs=1e-9)
        others = [walk.start_of(n) for n, segment in enumerate(walk.path.segments) if
                  segment.kind is Kind.LEG and math.dist(segment.points[0], anchor) < 1e-6]  # fmt: skip
        others.append(walk.length)
        assert abs(place - around) == pytest.approx(min(abs(other - around) for other in others), abs=1e-6)


def turned_by(points: np.ndarray, angle: float, mirror: bool) -> list[tuple[float, float]]:
    cos, sin = math.cos(angle), math.sin(angle)
    flipped = points * (-1 if mirror else 1, 1)
    return [(x * cos - y * sin, x * sin + y * cos) for x, y in flipped.tolist()]


@pytest.mark.parametrize("mirror", [False, True])
def test_bearings_turn_with_the_patch_and_turns_stay(mirror: bool) -> None:
    made = fitted("Corner L", "plain")
    angle = math.radians(37.0)
    patch = Patch(turned_by(np.asarray(made.patch.outline), angle, mirror))
    anchor = turned_by(np.array(made.anchors), angle, mirror)[0]
    one = walked(made)
    # Mirrored, the same line is stitched the other way round the anchor.
    other = walked(fit(patch, anchor, replace(made.settings, clockwise=not mirror)))
    first = next(place for place in starts(other) if near(other, place, one, 0.0, angle, mirror))
    assert other.length == pytest.approx(one.length, abs=1e-6)
    for place in starts(one)[:9]:
        a, b = one.reading(place), other.reading(first + place)
        assert a.bearing is not None
        assert b.bearing is not None
        wanted = (-a.bearing if mirror else a.bearing) + 37.0
        assert math.remainder(b.bearing - wanted, 360) == pytest.approx(0, abs=1e-6)
        assert a.next_turn is not None
        assert b.next_turn is not None
        assert b.next_turn.by == pytest.approx(a.next_turn.by * (-1 if mirror else 1), abs=1e-6)


def starts(walk: Walk) -> list[float]:
    return [walk.start_of(number) for number in range(len(walk.line))]


def near(other: Walk, place: float, one: Walk, begin: float, angle: float, mirror: bool) -> bool:
    """Whether the segments at both places end at the same point of the patch."""
    wanted = turned_by(np.array([one.point_at(one.step(begin, 1))]), angle, mirror)[0]
    return math.dist(other.point_at(other.step(place, 1)), wanted) < 1e-6


# --- words ------------------------------------------------------------------------------------------


def block(**settings: object) -> tuple[Walk, Settings]:
    """A square block of 8 in, the anchor in its middle: 8 wedges, each from a middle to a corner."""
    made = fit(Patch(SQUARE), (4 * INCH, 4 * INCH), replace(PLAIN, **settings))  # type: ignore[arg-type]
    return walked(made), made.settings


def test_words_of_a_block_worked_by_hand() -> None:
    # Wedge 1 lies between the upper left corner and the middle of the top (A1); the stitchable area begins
    # 1/4 in from the seam, so its edge is 3 3/4 in above the anchor. On both sides half of the gap is
    # missing: at the middle, with r1 = r2, 1/8 in or asin(1/8 : 3 3/4) = 1.9° from straight up.
    walk, settings = block()
    number = next(
        n for n, segment in enumerate(walk.path.segments) if segment.wedge == 1 and segment.kind is Kind.SIDE
    )
    back = walk.start_of(number + 1)
    said = words(walk, walk.reading(back), settings, LengthStyle.EIGHTHS)
    assert said.here == "Wedge 1, leg back, ruler at 358°"
    # It comes back straight down the leg at 358.1° and goes out at 1.9°: 180 - 3.8 to the left, and the
    # cloth, turned under the needle, the other way.
    assert said.then == "Turn the cloth 176° to the right after 3 3/4 in"
    # At the corner r is 3 3/4 : cos(45° - d), and r sin 2d = 1/4 gives d = 1.4°. Out at 316.4°, along the
    # side at 90° and back at 178.1° it has turned by 133.6° + 88.1°.
    assert said.turned == "turned 2 times, 222°"
    side = words(walk, walk.reading(walk.start_of(number)), settings, LengthStyle.EIGHTHS)
    assert side.here == "Wedge 1, side, ruler at 90°"
    # From the side, 90°, into the leg back, 358.1° - 180°: 88.1° to the right.
    assert side.then.startswith("Turn the cloth 88° to the left after 3 ")


def test_on_a_frame_machine_the_line_turns_and_not_the_cloth() -> None:
    walk, settings = block(cloth_turned=False)
    number = next(
        n for n, segment in enumerate(walk.path.segments) if segment.wedge == 1 and segment.kind is Kind.SIDE
    )
    side = words(walk, walk.reading(walk.start_of(number)), settings, LengthStyle.EIGHTHS)
    assert side.then.startswith("Turn 88° to the right after 3 ")
    back = words(walk, walk.reading(walk.start_of(number + 1)), settings, LengthStyle.EIGHTHS)
    assert back.then == "Turn 176° to the left after 3 3/4 in"


def test_words_at_the_end_and_so_far() -> None:
    walk, settings = block()
    end = words(walk, walk.reading(walk.length), settings, LengthStyle.CM)
    assert end.then == "This is the end of the stitch path"
    length, minutes = f"{walk.length / 10:.1f} cm", f"{walk.minutes:.1f} min"
    assert end.done == f"{length[:-3]} of {length}, {minutes[:-4]} of {minutes}"
    begin = words(walk, walk.reading(0.0), settings, LengthStyle.EIGHTHS)
    assert begin.turned == "turned 0 times, 0°"
    assert begin.done.startswith("0 of ")
    last = words(walk, walk.reading(walk.length - 25.4), settings, LengthStyle.EIGHTHS)
    assert last.then == "The end after 1 in"
    assert begin.all == ". ".join([begin.here, begin.then, begin.done, begin.turned])


def test_straight_back_has_no_side() -> None:
    # An echo is entered and left along the wedge's middle line: at the last one's end there is a turn round.
    walk, settings = block(echo_count=1)
    said = {
        words(walk, walk.reading(walk.start_of(n)), settings, LengthStyle.EIGHTHS).here
        for n in range(len(walk.line))
    }
    assert any("echo 1" in here for here in said)
    assert any("hop" in here for here in said)
    flat = Patch([(0, 0), (400, 0), (400, 300), (0, 300)])
    made = fit(flat, (200.0, 150.0), Settings(gap=0.0))
    turns = words(walked(made), walked(made).reading(walked(made).start_of(2)), made.settings, LengthStyle.CM)
    assert turns.then.startswith("Turn the cloth right round, 180°, after ")


# --- what is drawn ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "way"), CASES)
def test_stitched_and_under_way_are_the_line_up_to_the_needle(name: str, way: str) -> None:
    made = fitted(name, way)
    walk = walked(made)
    for place in (0.0, 40.0, walk.length * 0.37, walk.length * 0.8, walk.length):
        segment = walk.segment_at(place)
        drawn = [*stitched(walk, 0, segment).items(), *under_way(walk, segment, place).items()]
        lengths = [float(np.hypot(*np.diff(item.points, axis=0).T).sum()) for item in drawn]  # type: ignore[union-attr]
        # The joint of what is under way lies on what is stitched.
        assert sum(lengths) == pytest.approx(place, abs=1.0 + 1e-6)
        whole = shapely.linestrings(walk.between(0.0, place)) if place else None
        for item in drawn:
            assert item.role in (Role.STITCH, Role.TRAVEL)
            assert whole is not None
            assert shapely.distance(whole, shapely.points(item.points)).max() <= 1e-6  # type: ignore[union-attr]


def test_what_grows_in_parts_is_all_that_is_drawn_at_once() -> None:
    walk = walked(fitted("Corner L", "hold-back"))
    count = len(walk.line)
    whole = shapely.union_all([shapely.linestrings(item.points) for item in stitched(walk, 0, count).items()])
    parts = shapely.union_all([
        shapely.linestrings(item.points)
        for first in range(0, count, 7)
        for item in stitched(walk, first, min(first + 7, count)).items()
    ])  # fmt: skip
    assert shapely.hausdorff_distance(whole, parts) <= 1e-6
    assert list(stitched(walk, 5, 5).items()) == []


def test_what_is_to_come_is_faint_and_whole() -> None:
    made = fitted("Lily ground", "divided")
    walk = walked(made)
    lines = list(to_come(walk).items())
    assert {item.role for item in lines} == {Role.FAINT}
    length = sum(float(np.hypot(*np.diff(item.points, axis=0).T).sum()) for item in lines)  # type: ignore[union-attr]
    assert length == pytest.approx(walk.length, abs=1e-6)
    roles = {
        item.role for item in [*below(made, LengthStyle.CM).items(), *above(made, LengthStyle.CM).items()]
    }
    assert roles == {Role.CLOTH, Role.SEAM, Role.MARK, Role.STITCH, Role.ANCHOR}
    assert {
        type(item).__name__ for item in above(made, LengthStyle.CM).items() if item.role is Role.STITCH
    } == {"Label"}


def test_nothing_to_walk() -> None:
    made = fitted("Star kite", "plain")
    narrow = fit(made.patch, made.anchors, Settings(edge_margin=200.0))
    walk = walked(narrow)
    assert walk.empty
    assert walk.length == 0.0
    assert not walked(made).empty
