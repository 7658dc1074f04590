"""The stitch path: unbroken, complete, inside; worked by hand; judged over the zoo."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from itertools import groupby, pairwise
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon

from geometry import Fit, Patch, Settings, fit
from geometry.echo import held_radii, with_echoes
from geometry.fan import Fan
from geometry.stitch_path import Kind, Segment, StitchPath, least_turning, stitch_path
from geometry.tolerances import FLATTEN
from tests.geometry.wedges import bent_sides, wedge_of
from tests.zoo.anchors import awkward_anchors, spread
from tests.zoo.patches import ZOO

SQUARE = Patch([(0, 0), (203.2, 0), (203.2, 203.2), (0, 203.2)])
ELL = Patch([(0, 0), (300, 0), (300, 110), (110, 110), (110, 300), (0, 300)])


def path_of(wedges: Any, settings: Settings, anchor: tuple[float, float] = (0.0, 0.0)) -> StitchPath:
    """The path of a fan of bare wedges in a very large patch, with the echoes of ``settings``."""
    room = shapely.box(-2000, -2000, 2000, 2000)
    fan = Fan(anchor, room, (), with_echoes(anchor, tuple(wedges), settings))
    return stitch_path((fan,), settings, room)


def kinds(path: StitchPath) -> list[tuple[str, int | None]]:
    return [(segment.kind.value, segment.wedge) for segment in path.segments]


# -------------------------------------------------------------------------------------------- the judge


def judge(made: Fit) -> None:
    """Everything that holds of every path, from the segments, the fans and the patch alone."""
    segments, settings, patch = made.path.segments, made.settings, made.patch.polygon
    fans = [fan for fan in made.fans if fan.wedges]
    if not fans:
        assert len(segments) == 0
        return
    for one, two in pairwise(segments):
        assert (one.points[-1] == two.points[0]).all(), "broken"
        assert one.wedge is not None or one.kind is Kind.TRAVEL
    line = np.concatenate([segments[0].points, *(segment.points[1:] for segment in list(segments)[1:])])
    assert np.isfinite(line).all()
    assert (line == made.path.points).all()
    assert made.path.length == pytest.approx(sum(segment.length for segment in segments), rel=1e-12)
    assert all(segment.length > 0 for segment in segments)
    assert patch.buffer(1e-5, join_style="mitre").covers(LineString(line)), "outside the patch"

    runs = [(number, list(own)) for number, own in groupby(segments, key=lambda segment: segment.wedge)]
    assert [number for number, _ in runs if number is not None].__len__() == sum(
        len(fan.wedges) for fan in fans
    )
    own_segments = {number: own for number, own in runs if number is not None}
    for fan in fans:
        radii = held_radii(fan.anchor, fan.wedges, settings)
        for wedge, radius in zip(fan.wedges, radii.tolist(), strict=True):
            judge_wedge(fan, wedge, radius, own_segments[wedge.number], settings)


def judge_wedge(fan: Fan, wedge: Any, radius: float, segments: list[Segment], settings: Settings) -> None:
    anchor = np.array(fan.anchor)
    of_kind = {kind: [s for s in segments if s.kind is kind] for kind in Kind}
    words = [s.kind for s in segments if s.kind is not Kind.HOP]
    assert words == [Kind.LEG, Kind.SIDE, Kind.LEG] + [Kind.ECHO] * len(wedge.echoes)
    # The side, and the legs as far as they go.
    (side,) = of_kind[Kind.SIDE]
    assert same_line(side.points, wedge.side)
    out, back = of_kind[Kind.LEG]
    starts = wedge.side[0] if settings.clockwise else wedge.side[-1]
    assert (out.points[-1] == starts).all()
    for leg, corner in ((out, out.points[-1]), (back, back.points[0])):
        length = math.dist(corner, anchor)
        assert leg.length <= length - radius + 1e-6
        assert abs(leg.length + math.dist(leg.points[0 if leg is out else -1], anchor) - length) < 1e-6
    assert out.length == pytest.approx(math.dist(out.points[-1], anchor) - radius, abs=1e-6)
    full = math.dist(back.points[0], anchor) - radius
    if settings.spiral and wedge.echoes:
        assert back.length >= full + radius - (full + radius) / 3 - radius - 1e-6
    else:
        assert back.length == pytest.approx(full, abs=1e-6)
    # Every echo, in order; the spiral leaves out a third of one leg at most.
    for echo, segment in zip(wedge.echoes, of_kind[Kind.ECHO], strict=True):
        stitched = LineString(segment.points)
        held = (
            radius
            and math.dist(echo[0], anchor) <= radius + 1e-6
            and len(echo) > 3
            and cut(echo, anchor, radius)
        )
        whole = LineString(echo[:-1] if held else echo)
        assert whole.buffer(1e-6).covers(stitched)
        missing = whole.length - stitched.length
        if settings.spiral:
            assert missing <= max(math.dist(echo[0], point) for point in echo[1:]) / 3 + 1e-6
        else:
            assert missing == pytest.approx(0, abs=1e-6)
    # Nothing but a route round something comes near the anchor.
    for segment in segments:
        nearest = LineString(segment.points).distance(Point(fan.anchor))
        if segment.kind is Kind.ECHO or segment.kind is Kind.LEG:
            assert nearest >= radius - 1e-6


def cut(echo: np.ndarray, anchor: np.ndarray, radius: float) -> bool:
    """Whether an echo was cut at the hold-back: it then has both inner ends on that radius."""
    return all(abs(math.dist(echo[k], anchor) - radius) < 1e-6 for k in (0, -2))


def same_line(one: np.ndarray, two: np.ndarray) -> bool:
    return one.shape == two.shape and bool((one == two).all() or (one[::-1] == two).all())


SETTINGS: list[dict[str, Any]] = [
    {},
    {"echo_count": 3, "echo_spacing": 5.0},
    {"echo_count": 2, "echo_spacing": 4.0, "spiral": True, "clockwise": False},
    {"hold_back": 14.0},
    {"hold_back": 9.0, "stagger": 6.0, "echo_count": 3, "echo_spacing": 3.0},
    {"hold_back": 11.0, "echo_count": 4, "echo_spacing": 3.0, "spiral": True},
    {"hold_back": 8.0, "echo_count": 2, "clockwise": False, "stagger": 5.0},
    {"echo_count": 1, "least_turning": True},
    {"stagger": 7.0, "first_wedge": 2},
]


@pytest.mark.parametrize("animal", ZOO, ids=lambda animal: animal.name)
def test_the_zoo(animal: Any) -> None:
    patch = Patch(animal.outline, animal.holes)
    margin = Settings(**animal.settings).edge_margin
    places = spread(awkward_anchors(patch.polygon, margin), 4, len(animal.name))
    for k, (_, anchor) in enumerate(places):
        for j, changes in enumerate(SETTINGS):
            if (j + k) % 4 == 0:
                judge(fit(patch, anchor, Settings(**{**animal.settings, **changes, "visible_width": 3.0})))


def test_hops_keep_to_the_radius_wherever_they_can() -> None:
    """In a convex patch with the anchor well inside, nothing at all is nearer than the hold-back."""
    for changes in SETTINGS:
        settings = Settings(**{"hold_back": 12.0, **changes})
        for anchor in ((101.6, 101.6), (60.0, 80.0)):
            made = fit(SQUARE, anchor, settings)
            judge(made)
            nearest = LineString(made.path.points).distance(Point(anchor))
            assert settings.hold_back - FLATTEN <= nearest <= settings.hold_back + settings.stagger + 1e-6
            between = [s for s in made.path.segments if s.kind is Kind.HOP]
            assert between


# ---------------------------------------------------------------------------------------------- by hand


def test_the_plain_path_is_leg_side_leg_wedge_after_wedge() -> None:
    made = fit(SQUARE, (101.6, 101.6), Settings())
    expected = []
    for number in range(1, 9):
        expected += [("leg", number), ("side", number), ("leg", number)]
    assert kinds(made.path) == expected
    for segment, wedge in zip(made.path.segments[::3], made.fans[0].wedges, strict=True):
        assert (segment.points == wedge.outline[:2]).all()
    assert made.path.points[0].tolist() == made.path.points[-1].tolist() == [101.6, 101.6]


def test_closed_loops_along_the_middle_line() -> None:
    """Right-angled wedge, legs 40 and 30, echoes 4 mm apart: apexes at (4, 4) and (8, 8)."""
    wedges = [wedge_of([(40, 0), (0, 30)]), wedge_of([(-1, 30), (-40, 0)], number=2)]
    path = path_of(wedges, Settings(echo_count=2, echo_spacing=4, visible_width=5))
    assert kinds(path)[:9] == [
        *[("leg", 1), ("side", 1), ("leg", 1), ("hop", 1), ("echo", 1), ("hop", 1), ("echo", 1), ("hop", 2)],
        ("leg", 2),
    ]
    hops = [s.points.tolist() for s in path.segments[:8] if s.kind is Kind.HOP]
    assert hops[0] == [[0, 0], pytest.approx([4, 4])]
    assert hops[1] == [pytest.approx([4, 4]), pytest.approx([8, 8])]
    assert hops[2] == [pytest.approx([8, 8]), [0, 0]]
    assert path.segments[4].points.tolist() == [pytest.approx(p) for p in ([4, 4], [28, 4], [4, 22], [4, 4])]
    assert path.segments[-1].kind is Kind.HOP
    assert path.points[-1].tolist() == [0, 0]


def test_the_spiral_stops_level_with_the_next_apex() -> None:
    """An apex of 90°, echoes 2 mm apart: each apex lies 2√2 further out. The leg back along y stops at 2√2
    from the anchor, the first echo's own leg back (x = 2) at 2√2 from its apex; the last echo is closed."""
    wedge = wedge_of([(60, 0), (0, 60)])
    path = path_of([wedge], Settings(echo_count=2, echo_spacing=2, visible_width=1, spiral=True))
    r = 2 * math.sqrt(2)
    line = [(s.kind.value, s.points[0].tolist(), s.points[-1].tolist()) for s in path.segments]
    far = 60 - 2 * math.sqrt(2) - 2  # where x + y = 60 moved in by 2 mm meets y = 2
    assert line == [
        ("leg", [0, 0], [60, 0]),
        ("side", [60, 0], [0, 60]),
        ("leg", [0, 60], pytest.approx([0, r])),
        ("hop", pytest.approx([0, r]), pytest.approx([2, 2])),
        ("echo", pytest.approx([2, 2]), pytest.approx([2, 2 + r])),
        ("hop", pytest.approx([2, 2 + r]), pytest.approx([4, 4])),
        ("echo", pytest.approx([4, 4]), pytest.approx([4, 4])),
        ("hop", pytest.approx([4, 4]), [0, 0]),
    ]
    assert path.segments[4].points[1:3].tolist() == [pytest.approx([far, 2]), pytest.approx([2, far])]


@pytest.mark.parametrize(
    ("count", "spacing", "spirals"), [(1, 4.7, True), (1, 4.72, False), (2, 2.6, True), (2, 2.63, False)]
)
def test_a_spiral_gives_up_a_third_of_a_leg_at_most(count: int, spacing: float, spirals: bool) -> None:
    """Legs of 20, a right angle: each apex lies √2 spacings further out, and a third of the leg is 6.667, so
    one echo may be 4.714 in. The first echo's leg is 20 - (2 + √2) spacings; for a second echo √2 spacings
    may be no more than a third of that: 2.612."""
    settings = Settings(echo_count=count, echo_spacing=spacing, visible_width=0.2, spiral=True)
    path = path_of([wedge_of([(20, 0), (0, 20)])], settings)
    assert sum(s.kind is Kind.ECHO for s in path.segments) == count
    back = path.segments[2]
    assert back.length == pytest.approx(20 - spacing * math.sqrt(2) if spirals else 20)


def test_with_a_hold_back_it_hops_along_the_radius() -> None:
    """Two wedges 20° apart, 10 mm hold-back: the hop is an arc of 20° from leg to leg."""
    wedges = [fan_wedge(0, 40, 1), fan_wedge(60, 100, 2)]
    path = path_of(wedges, Settings(hold_back=10))
    assert kinds(path) == [
        *[("leg", 1), ("side", 1), ("leg", 1), ("hop", 2)],
        *[("leg", 2), ("side", 2), ("leg", 2)],
    ]
    hop = path.segments[3].points
    assert hop[0].tolist() == pytest.approx(polar(10, 40))
    assert hop[-1].tolist() == pytest.approx(polar(10, 60))
    assert np.hypot(*hop.T) == pytest.approx(10)
    assert path.segments[3].length == pytest.approx(10 * math.radians(20), rel=2e-3)
    for one, two in pairwise(hop):
        middle = (one + two) / 2
        assert 10 - FLATTEN <= np.hypot(*middle) <= 10
    assert path.points[0].tolist() == pytest.approx(polar(10, 0))


def test_cut_echoes_are_stitched_to_and_fro() -> None:
    """Apex angle 40°: an echo 2 mm in has its apex 5.85 mm out, the next 11.7, the third 17.5. With 13 mm
    hold-back two are cut; the first begins on the second leg's side, the second on the first's."""
    path = path_of(
        [fan_wedge(0, 40, 1)], Settings(hold_back=13, echo_count=3, echo_spacing=2, visible_width=2)
    )
    assert [kind for kind, _ in kinds(path)] == ["leg", "side", "leg", *["hop", "echo"] * 3]
    one, two, three = (s.points for s in path.segments if s.kind is Kind.ECHO)
    second = math.asin(2 / 13)
    assert one[0].tolist() == pytest.approx((13 * math.cos(t := math.radians(40) - second), 13 * math.sin(t)))
    assert one[-1].tolist() == pytest.approx((13 * math.cos(second), 13 * math.sin(second)))
    fourth = math.asin(4 / 13)
    assert two[0].tolist() == pytest.approx((13 * math.cos(fourth), 13 * math.sin(fourth)))
    assert (three[0] == three[-1]).all()
    assert np.hypot(*three[0]) == pytest.approx(6 / math.sin(math.radians(20)))
    hop = path.segments[7].points
    assert any(point == pytest.approx(polar(13, 20)) for point in hop.tolist()), "out along the middle line"
    # From the whole echo back along the middle line to the radius, and round to the next wedge.
    both = [fan_wedge(0, 40, 1), fan_wedge(60, 100, 2)]
    path = path_of(both, Settings(hold_back=13, echo_count=3, echo_spacing=2, visible_width=2))
    (home,) = [s for s in path.segments if s.kind is Kind.HOP and s.points[0].tolist() == three[0].tolist()]
    assert home.points[1].tolist() == pytest.approx(polar(13, 20))
    assert home.points[-1].tolist() == pytest.approx(polar(13, 60))
    assert np.hypot(*home.points[1:].T) == pytest.approx(13)
    assert home.wedge == 2


def polar(r: float, degrees: float) -> tuple[float, float]:
    return r * math.cos(math.radians(degrees)), r * math.sin(math.radians(degrees))


def fan_wedge(begin: float, end: float, number: int, r: float = 80.0) -> Any:
    return wedge_of([polar(r, begin), polar(r, end)], number=number)


# ------------------------------------------------------------------------------- direction, first wedge


def test_the_other_way_is_the_path_of_the_mirrored_patch() -> None:
    outline = [(0, 0), (250, 20), (230, 170), (120, 240), (-10, 150)]
    for changes in (
        {},
        {"echo_count": 2},
        {"echo_count": 2, "spiral": True},
        {"hold_back": 11, "echo_count": 2},
    ):
        settings = Settings(spans_per_side=3, **changes)
        made = fit(Patch(outline), (100, 110), replace(settings, first_wedge=4))
        numbers = [w.number for w in made.fans[0].wedges]
        mirror = fit(Patch([(-x, y) for x, y in outline]), (-100, 110), replace(settings, clockwise=False))
        # The mirrored wedge with the same side.
        target = made.fans[0].wedges[3].side[::-1] * (-1, 1)
        (same,) = [w for w in mirror.fans[0].wedges if np.abs(w.side - target).max() < 1e-6]
        mirror = fit(mirror.patch, (-100, 110), replace(settings, clockwise=False, first_wedge=same.number))
        assert [s.kind for s in mirror.path.segments] == [s.kind for s in made.path.segments]
        np.testing.assert_allclose(mirror.path.points * (-1, 1), made.path.points, atol=1e-6)
        assert len(numbers) == len(mirror.fans[0].wedges)


@pytest.mark.parametrize("clockwise", [True, False])
def test_it_begins_with_the_chosen_wedge_and_goes_round(clockwise: bool) -> None:
    made = fit(SQUARE, (101.6, 101.6), Settings(first_wedge=5, clockwise=clockwise))
    order = [number for number, _ in groupby(s.wedge for s in made.path.segments)]
    assert order == ([5, 6, 7, 8, 1, 2, 3, 4] if clockwise else [5, 4, 3, 2, 1, 8, 7, 6])
    unknown = fit(SQUARE, (101.6, 101.6), Settings(first_wedge=77, clockwise=clockwise))
    assert next(iter(unknown.path.segments)).wedge == 1


def test_with_a_hold_back_it_begins_beside_the_seam_that_holds_the_anchor() -> None:
    """Anchor on the seam: round the anchor the way is barred there, so that is where it begins and ends."""
    anchor = (203.2, 90.0)
    held = fit(SQUARE, anchor, Settings(hold_back=12, edge_margin=0))
    judge(held)
    first, last = held.path.segments[0], held.path.segments[-1]
    for segment, tip in ((first, first.points[0]), (last, last.points[-1])):
        assert segment.kind is Kind.LEG
        assert abs(tip[0] - 203.2) < 1.0, "next to the seam"
    assert all(np.hypot(*(s.points - anchor).T).min() >= 12 - FLATTEN for s in held.path.segments)
    # With a chosen first wedge inside the fan it has to come back past the anchor.
    chosen = fit(SQUARE, anchor, Settings(hold_back=12, edge_margin=0, first_wedge=first.wedge % 8 + 1))  # type: ignore[operator]
    judge(chosen)
    assert min(np.hypot(*(s.points - anchor).T).min() for s in chosen.path.segments) >= 0


# ------------------------------------------------------------------------------- turns, bearings, figures


def test_turning_and_changes_by_hand() -> None:
    """Three wedges of 60° legs 60° apart, all sides as long as the legs: within each it turns by 120° twice,
    and at the anchor from one to the next by 120° back: 3 · 240 + 2 · 120 degrees, 8 changes."""
    wedges = [fan_wedge(120 * k, 120 * k + 60, k + 1) for k in range(3)]
    path = path_of(wedges, Settings())
    assert math.degrees(path.turning) == pytest.approx(960)
    assert path.changes == 8
    assert path.longest_leg == pytest.approx(80)
    assert path.length == pytest.approx(9 * 80)


def test_a_curve_is_no_change_of_direction() -> None:
    t = np.linspace(0, math.pi / 2, 60)
    wedge = wedge_of(80 * np.column_stack([np.cos(t), np.sin(t)]))
    path = path_of([wedge], Settings())
    assert path.changes == 2  # from the leg to the side, and back
    # 90° in the corners twice less half a step of the curve each, 90° along the curve less one step.
    assert math.degrees(path.turning) == pytest.approx(270, abs=1e-6)


def test_bearings_are_degrees_clockwise_from_straight_up() -> None:
    # Legs to the right (90°), down (180°), left (270°), up (0°): y points down.
    wedges = [wedge_of([(80, 0), (0, 60)], number=1), wedge_of([(-50, 0), (0, -40)], number=2)]
    assert path_of(wedges, Settings()).bearings == pytest.approx((90, 180, 270, 0))
    assert path_of(wedges, Settings(hold_back=5)).bearings == pytest.approx((90, 180, 270, 0))
    other = path_of(wedges, Settings(clockwise=False, first_wedge=2))
    assert other.bearings == pytest.approx((0, 270, 180, 90))
    assert other.longest_leg == 80
    assert all(0 <= bearing < 360 for bearing in other.bearings)


def test_a_path_made_of_segments_has_the_same_figures() -> None:
    made = fit(ELL, (60, 60), Settings(echo_count=2, hold_back=8)).path
    again = StitchPath(tuple(made.segments), made.sharp)
    assert (again.length, again.turning, again.changes) == (made.length, made.turning, made.changes)
    assert (again.bearings, again.longest_leg) == (made.bearings, made.longest_leg)
    assert StitchPath().length == StitchPath().turning == StitchPath().longest_leg == 0
    assert StitchPath().bearings == ()


# ------------------------------------------------------------------------------------- least turning


def star_orders(count: int) -> list[list[int]]:
    """The orders looked at, spelled out: always s on; round again one aside."""
    orders = []
    for aside in (1, -1):
        for step in range(1, count):
            order = [0]
            while len(order) < count:
                nxt = (order[-1] + step) % count
                orders_next = nxt if nxt not in order else (nxt + aside) % count
                order.append(orders_next)
            orders.append(order)
    return orders


def turning_of(order: Any, out: np.ndarray, back: np.ndarray) -> float:
    total = 0.0
    for one, two in pairwise(order):
        apart = abs(out[two] - back[one]) % (2 * math.pi)
        total += min(apart, 2 * math.pi - apart)
    return total


@pytest.mark.parametrize("seed", range(12))
def test_no_order_that_was_looked_at_turns_less(seed: int) -> None:
    chance = np.random.default_rng(seed)
    count = int(chance.integers(3, 20))
    cuts = np.sort(chance.uniform(0, chance.uniform(1, 2 * math.pi), 2 * count))
    out, back = cuts[::2], cuts[1::2] + math.pi
    order = least_turning(out, back)
    assert sorted(order) == list(range(count))
    assert order[0] == 0
    best = min(turning_of(other, out, back) for other in star_orders(count) if len(set(other)) == count)
    assert turning_of(order, out, back) == pytest.approx(best, abs=1e-7)
    assert best <= turning_of(range(count), out, back) + 1e-9
    if count <= 7:  # against all orders there are: it is never below, and here not far above
        least = min(turning_of((0, *rest), out, back) for rest in itertools.permutations(range(1, count)))
        assert least - 1e-9 <= best <= least + math.pi


def test_least_turning_goes_straight_across_the_anchor() -> None:
    """Five wedges of 36°, 36° apart: opposite each gap lies a wedge, so that it can go straight on."""
    wedges = [fan_wedge(72 * k, 72 * k + 36, k + 1) for k in range(5)]
    plain = path_of(wedges, Settings())
    least = path_of(wedges, Settings(least_turning=True))
    inside = 5 * (180 + 36)
    assert math.degrees(plain.turning) == pytest.approx(inside + 4 * 144)
    assert math.degrees(least.turning) == pytest.approx(inside)
    assert sorted({w for _, w in kinds(least) if w}) == [1, 2, 3, 4, 5]
    assert least.length == pytest.approx(plain.length)
    # The head moves, or the legs are held back: round in turn.
    for changes in ({"cloth_turned": False}, {"hold_back": 5.0}):
        settings = Settings(least_turning=True, **changes)
        assert [n for n, _ in groupby(w for _, w in kinds(path_of(wedges, settings)))] == [1, 2, 3, 4, 5]


@pytest.mark.parametrize("changes", [{}, {"echo_count": 2}, {"clockwise": False}])
def test_least_turning_never_turns_more_and_leaves_nothing_out(changes: dict[str, Any]) -> None:
    for seed in range(6):
        cuts = np.degrees(np.sort(np.random.default_rng(seed).uniform(0, 6.2, 16))).tolist()
        wedges = [fan_wedge(cuts[2 * k], cuts[2 * k + 1], k + 1) for k in range(8)]
        plain = path_of(wedges, Settings(echo_spacing=3, visible_width=1, **changes))
        least = path_of(wedges, Settings(echo_spacing=3, visible_width=1, least_turning=True, **changes))
        assert least.turning <= plain.turning + 1e-9
        assert least.length == pytest.approx(plain.length)
        assert lines_of(least) == lines_of(plain)


def lines_of(path: StitchPath) -> list[Any]:
    """What is stitched, in no order."""
    wanted = [s for s in path.segments if s.kind is not Kind.HOP]
    return sorted((s.kind.value, s.wedge, s.points.round(6).tolist()) for s in wanted)


# -------------------------------------------------------------------------------- several fans, a start


def test_it_travels_from_fan_to_fan_inside_the_stitchable_area() -> None:
    made = fit(ELL, [(280, 30), (30, 280)], Settings(hold_back=6, echo_count=1))
    judge(made)
    travels = [s for s in made.path.segments if s.kind is Kind.TRAVEL]
    assert len(travels) == 1
    (travel,) = travels
    assert travel.wedge is None
    (part,) = made.stitchable
    assert part.buffer(1e-5, join_style="mitre").covers(LineString(travel.points))
    # Taut round the one corner that points in: 6.35 mm inside both seams of (110, 110), the mitre.
    assert travel.points[1:-1].tolist() == [pytest.approx([103.65, 103.65])]


def test_along_the_seam_it_travels_on_the_outline() -> None:
    made = fit(ELL, [(280, 30), (30, 280)], Settings(along_seam=True))
    judge(made)
    (travel,) = [s for s in made.path.segments if s.kind is Kind.TRAVEL]
    assert travel.points[0].tolist() == [280, 30]
    assert travel.points[-1].tolist() == [30, 280]
    on = shapely.distance(shapely.points(travel.points[1:-1]), ELL.polygon.exterior)
    assert on.max() < 1e-9
    # (280, 30) -> (300, 30) -> (300, 110) -> (110, 110) -> (110, 300) -> (30, 300) -> (30, 280)
    assert travel.length == pytest.approx(20 + 80 + 190 + 190 + 80 + 20)


def test_a_chosen_start_leads_to_the_first_wedge() -> None:
    plain = fit(SQUARE, (101.6, 101.6), Settings())
    made = fit(SQUARE, (101.6, 101.6), Settings(start=(0.0, 50.0)))
    first, *rest = made.path.segments
    assert first.kind is Kind.TRAVEL
    assert first.points.tolist() == [[0, 50], [101.6, 101.6]]
    assert [s.kind for s in rest] == [s.kind for s in plain.path.segments]
    assert made.path.length == pytest.approx(plain.path.length + math.dist((0, 50), (101.6, 101.6)))
    outside = fit(SQUARE, (101.6, 101.6), Settings(start=(-40.0, 50.0)))
    assert outside.path.points[0].tolist() == pytest.approx([0, 50])
    at_anchor = fit(SQUARE, (101.6, 101.6), Settings(start=(101.6, 101.6)))
    assert kinds(at_anchor.path) == kinds(plain.path)


@pytest.mark.parametrize("seed", range(3))
def test_bent_wedges_with_everything(seed: int) -> None:
    """Wedges of all shapes, each a fan by itself."""
    room = shapely.box(-2000, -2000, 2000, 2000)
    for k, side in enumerate(bent_sides(25, 70 + seed)):
        settings = Settings(
            echo_count=4, echo_spacing=3, visible_width=2, hold_back=(0, 7, 19)[k % 3], spiral=k % 2 == 0,
            clockwise=k % 4 < 2,
        )  # fmt: skip
        wedges = with_echoes((0.0, 0.0), (wedge_of(side),), settings)
        fan = Fan((0.0, 0.0), room, (), wedges)
        path = stitch_path((fan,), settings, room)
        for one, two in pairwise(path.segments):
            assert (one.points[-1] == two.points[0]).all()
        radius = float(held_radii((0.0, 0.0), wedges, settings)[0])
        judge_wedge(fan, wedges[0], radius, list(path.segments), settings)
        assert wedges_cover(side, path)
        nearest = LineString(path.points).distance(Point(0, 0))
        assert nearest >= radius - FLATTEN - 1e-9


def wedges_cover(side: np.ndarray, path: StitchPath) -> bool:
    """The whole path lies in the wedge."""
    wedge = Polygon(np.vstack([[0, 0], side]))
    return bool(wedge.buffer(1e-6, join_style="mitre").covers(LineString(path.points)))
