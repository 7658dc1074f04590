"""Echoes and hold-back: worked by hand, against the definition, and against another library."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon

from geometry import Patch, Settings, fit
from geometry.echo import echoes_keep_off, held_radii, with_echoes
from geometry.fan import Wedge
from geometry.findings import Code, crowded_anchor, dropped_echoes
from geometry.inset import Insets, Outlines, cut_out
from geometry.visibility import complex_of
from tests.geometry.insets import inset_afresh
from tests.geometry.wedges import bent_sides, wedge_of
from tests.zoo.anchors import awkward_anchors, spread
from tests.zoo.patches import ZOO

ORIGIN = (0.0, 0.0)


def echoes_of(wedge: Wedge, anchor: tuple[float, float] = ORIGIN, **settings: Any) -> tuple[np.ndarray, ...]:
    (made,) = with_echoes(anchor, (wedge,), Settings(**settings))
    return made.echoes


# ------------------------------------------------------------------------------------------- the oracle


def strips(ring: np.ndarray, distance: float) -> list[Polygon]:
    """What moving an outline inward takes away: of each edge the strip along it, mitred at dents."""
    step = np.roll(ring, -1, axis=0) - ring
    along = step / np.hypot(*step.T)[:, None]
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    before = np.roll(normal, 1, axis=0)
    dent = before[:, 0] * normal[:, 1] - before[:, 1] * normal[:, 0] < 0
    out = []
    for i, p in enumerate(ring):
        j = (i + 1) % len(ring)
        ends = []
        for k, one, two in ((i, before[i], normal[i]), (j, normal[i], normal[j])):
            mitre = (one + two) / (1 + one @ two) if dent[k] else normal[i]
            ends.append(ring[k] + distance * mitre)
        out.append(Polygon([p, ring[j], ends[1], ends[0]]))
    return out


def eroded_at_apex(ring: np.ndarray, distance: float) -> Polygon | None:
    """The part of a wedge's erosion that still has its apex and both legs."""
    left = Polygon(ring).difference(shapely.union_all(strips(ring, distance)))
    legs = [ring[1] - ring[0], ring[-1] - ring[0]]
    one, two = (leg / np.hypot(*leg) for leg in legs)
    half = math.acos(np.clip(one @ two, -1, 1)) / 2
    apex = ring[0] + (one + two) / np.hypot(*(one + two)) * distance / math.sin(half)
    for part in shapely.get_parts(left):
        corners = shapely.get_coordinates(part)
        if part.area < 1e-9 or np.hypot(*(corners - apex).T).min() > 1e-6:
            continue
        lines = [LineString([apex, apex + 1e4 * leg]).buffer(1e-6) for leg in (one, two)]
        if all(shapely.intersection(part.boundary, line).length > 1e-3 for line in lines):
            return part
    return None


def figures(echo: np.ndarray, apex_angle: float) -> tuple[float, float]:
    """Side length and across of a closed echo."""
    ring = echo[:-1]
    side = LineString(ring[1:]).length
    near = min(math.dist(ring[0], ring[1]), math.dist(ring[0], ring[-1]))
    return side, near * (math.sin(apex_angle) if apex_angle < math.pi / 2 else 1.0)


def same_area(one: Polygon, two: Polygon) -> bool:
    return bool(one.symmetric_difference(two).area < 1e-6 * (1 + one.length)) and bool(
        one.hausdorff_distance(two) < 1e-4
    )


# -------------------------------------------------------------------------------------------- by hand


def test_a_right_triangle_shrinks_about_its_incentre() -> None:
    # Legs 40 and 30, side 50: inradius 10, incentre (10, 10). 4 mm in: 0.6 of it; 8 mm in: 0.2.
    wedge = wedge_of([(40, 0), (0, 30)])
    one, two = echoes_of(wedge, echo_count=5, echo_spacing=4, visible_width=5)
    np.testing.assert_allclose(one, [(4, 4), (28, 4), (4, 22), (4, 4)], atol=1e-12)
    np.testing.assert_allclose(two, [(8, 8), (16, 8), (8, 14), (8, 8)], atol=1e-12)


@pytest.mark.parametrize(("visible", "count"), [(0.0, 9), (5.9, 8), (6.1, 7), (26.9, 1), (27.1, 0)])
def test_echoes_are_kept_while_side_and_across_can_be_seen(visible: float, count: int) -> None:
    # across 30, shorter than the side: 27 after 1 mm, 24 after 2 mm, 6 after 8 mm, 3 after 9 mm
    echoes = echoes_of(wedge_of([(40, 0), (0, 30)]), echo_count=50, echo_spacing=1, visible_width=visible)
    assert len(echoes) == count


def test_a_round_side_echoes_round() -> None:
    """A sector of 60° and 100 mm: an echo d in has its round side at 100 - d, its apex at 2d from the anchor,
    and its corners where legs d away from the old ones reach that arc: asin(d / (100 - d)) from them."""
    t = np.linspace(0, math.pi / 3, 200)
    side = 100 * np.column_stack([np.cos(t), np.sin(t)])
    echoes = echoes_of(wedge_of(side), echo_count=3, echo_spacing=8)
    assert len(echoes) == 3
    for k, echo in enumerate(echoes, start=1):
        d = 8 * k
        assert np.hypot(*echo[0]) == pytest.approx(2 * d, abs=1e-9)
        radius = np.hypot(*echo[1:-1].T)
        assert radius == pytest.approx(100 - d, abs=2e-3)
        for corner, leg in ((echo[1], 0.0), (echo[-2], math.pi / 3)):
            assert abs(math.atan2(corner[1], corner[0]) - leg) == pytest.approx(
                math.asin(d / (100 - d)), abs=1e-4
            )
        assert len(echo) > 60


def test_without_echoes_and_hold_back_the_wedges_are_the_same_objects() -> None:
    wedges = (wedge_of([(40, 0), (0, 30)]), wedge_of([(0, 30), (-40, 0)], number=2))
    assert with_echoes(ORIGIN, wedges, Settings()) is wedges
    assert with_echoes(ORIGIN, (), Settings(echo_count=3)) == ()


def test_where_a_dent_cuts_a_wedge_in_two_the_echo_is_the_part_at_the_apex() -> None:
    side = np.array([(100, 0), (96, 30), (50, 24), (48, 26), (70, 60), (50, 80)])
    wedge = wedge_of(side)
    echoes = echoes_of(wedge, echo_count=4, echo_spacing=7, visible_width=1)
    ring = wedge.outline[:-1]
    parts = shapely.get_parts(Polygon(ring).difference(shapely.union_all(strips(ring, 14))))
    assert len(parts) > 1
    assert len(echoes) >= 2
    expected = eroded_at_apex(ring, 14)
    assert expected is not None
    assert same_area(Polygon(echoes[1]), expected)


# --------------------------------------------------------------------------------- against the definition


@pytest.mark.parametrize("seed", range(4))
def test_bent_wedges_are_the_erosion_by_definition(seed: int) -> None:
    settings = Settings(echo_count=5, echo_spacing=4.5, visible_width=2)
    for side in bent_sides(40, seed):
        wedge = wedge_of(side)
        ring = wedge.outline[:-1]
        echoes = echoes_of(wedge, echo_count=5, echo_spacing=4.5, visible_width=2)
        for k in range(1, settings.echo_count + 1):
            expected = eroded_at_apex(ring, 4.5 * k)
            if k <= len(echoes):
                echo = echoes[k - 1]
                assert (echo[0] == echo[-1]).all()
                assert expected is not None
                assert same_area(Polygon(echo), expected), (seed, k)
                assert min(figures(echo, wedge.apex_angle)) >= 2
                continue
            # It was not kept: there is nothing left, or too little to be seen.
            if expected is not None:
                corners = shapely.get_coordinates(shapely.orient_polygons(expected))[:-1]
                away = np.hypot(*(corners - ring[0]).T)  # its apex comes first, as no other corner is nearer
                start = int(np.argmin(np.abs(away - 4.5 * k / math.sin(wedge.apex_angle / 2))))
                corners = np.roll(corners, -start, axis=0)
                assert min(figures(np.vstack([corners, corners[:1]]), wedge.apex_angle)) < 2 + 1e-6
            break


def test_many_wedges_at_once_give_what_each_gives_alone() -> None:
    wedges = tuple(wedge_of(side, number=k) for k, side in enumerate(bent_sides(60, 9), start=1))
    wedges += tuple(wedge_of(side[[0, -1]], number=k) for k, side in enumerate(bent_sides(20, 10), start=61))
    settings = Settings(echo_count=12, echo_spacing=2, visible_width=1, hold_back=6, stagger=3)
    for together, wedge in zip(with_echoes(ORIGIN, wedges, settings), wedges, strict=True):
        (alone,) = with_echoes(ORIGIN, (wedge,), settings)
        assert len(alone.echoes) == len(together.echoes)
        for one, two in zip(
            (alone.outline, *alone.echoes), (together.outline, *together.echoes), strict=True
        ):
            np.testing.assert_allclose(one, two, atol=1e-9)


def moved(ring: np.ndarray, distance: float) -> Insets:
    return Insets(Outlines(ring, np.array([len(ring)])), np.array([0]), np.array([distance]))


def test_insets_are_those_of_another_way_to_work_them_out() -> None:
    settled = 0
    for side in (*bent_sides(100, 21), *bent_sides(900, 24)[3::5]):  # many of them ragged
        ring = wedge_of(side).outline[:-1]
        for distance in (3.0, 12.0):
            insets = moved(ring, distance)
            certain = inset_afresh(ring, distance)
            found = insets.points if len(insets.which) else None
            if insets.doubtful[0]:
                found = insets.settle(0)
                settled += found is not None
            assert (found is None) == (certain is None)
            if found is not None and certain is not None:
                assert same_area(Polygon(found), certain)
    assert settled > 40


def test_deep_echoes_of_a_fine_outline() -> None:
    """Where many edges have gone the rest is settled by areas, and a thousand edges are few for that."""
    turn = np.linspace(0, 1.2, 1000)
    far = 300 * (1 + 0.05 * np.sin(40 * turn) + 0.1 * np.sin(11 * turn))
    wedge = wedge_of(np.column_stack([far * np.cos(turn), far * np.sin(turn)]))
    deep = [45.0, 60.0, 75.0]
    outlines = Outlines(wedge.outline[:-1], np.array([len(wedge.outline) - 1]))
    insets = Insets(outlines, np.zeros(3, dtype=np.intp), np.array(deep))
    for number, distance in enumerate(deep):
        inset = cut_out(complex_of(wedge.outline[:-1]), distance)
        assert inset is not None
        area = Polygon(np.column_stack([inset.real, inset.imag]))
        assert area.distance(Polygon(wedge.outline).exterior) == pytest.approx(distance, abs=1e-6)
        found = insets.settle(number) if insets.doubtful[number] else None
        assert found is None or same_area(Polygon(found), area)
        # GEOS takes out what juts by less than a hundredth of the distance.
        eroded = Polygon(wedge.outline).buffer(-distance, join_style="mitre", mitre_limit=100)
        assert area.symmetric_difference(eroded).area <= 0.02 * distance * area.length


def test_insets_without_doubt_are_the_true_ones() -> None:
    rng = np.random.default_rng(2)
    rings, distance = [], rng.uniform(0.5, 25, 900)
    for _ in distance.tolist():
        turn = np.linspace(0, rng.uniform(0.2, 2.5), int(rng.integers(4, 60)))
        waves = rng.uniform(0, 0.4) * np.sin(rng.uniform(1, 25) * turn + rng.uniform(0, 6))
        far = np.maximum(100 * (1 + waves + rng.choice([0, 0.002, 0.1]) * rng.normal(size=len(turn))), 10)
        rings.append(np.vstack([[0, 0], np.column_stack([far * np.cos(turn), far * np.sin(turn)])]))
    outlines = Outlines(np.concatenate(rings), np.array([len(ring) for ring in rings]))
    insets = Insets(outlines, np.arange(len(rings)), distance)
    sure = [i for i, number in enumerate(insets.which.tolist()) if not insets.doubtful[number]]
    left_out = 0
    for i in sure[::2]:
        found = insets.points[insets.start[i] : insets.stop[i]]
        number = int(insets.which[i])
        certain = inset_afresh(rings[number], distance[number])
        assert certain is not None
        assert same_area(Polygon(found), certain)
        left_out += len(found) < len(rings[number])
    assert left_out > 40


def test_a_sharp_dent_left_out_may_reach_in_elsewhere() -> None:
    """Found by trial: the strips drawn out at (92.3, 26.0) cut off a corner between two far edges."""
    side = [
        (103.25, 0), (99.87, 1.44), (101.75, 2.94), (104.85, 4.54), (102.06, 5.9), (96.98, 7.01),
        (102.53, 8.9), (96.67, 9.8), (95.5, 11.07), (100.73, 13.15), (103.52, 15.04), (97.34, 15.58),
        (96.16, 16.82), (98.36, 18.67), (94.94, 19.44), (97.64, 21.47), (97.73, 22.97), (94.49, 23.65),
        (94.61, 25.14), (92.31, 25.96), (100.72, 29.9), (91.72, 28.67), (87.29, 28.68), (89.3, 30.77),
        (92.47, 33.36), (88.71, 33.46), (90.31, 35.56), (91.45, 37.55), (91.4, 39.08), (89.05, 39.6),
        (84.29, 38.95), (88.74, 42.57), (88.54, 44.06), (85.57, 44.13), (91.34, 48.79), (89.4, 49.42),
    ]  # fmt: skip
    ring, distance = np.array([(0, 0), *side]), 10.106
    insets = moved(ring, distance)
    found = insets.settle(0) if insets.doubtful[0] else insets.points
    certain = inset_afresh(ring, distance)
    assert found is not None
    assert certain is not None
    assert same_area(Polygon(found), certain)


def test_pyclipper_agrees_on_wedges_of_every_kind() -> None:
    """Angus Johnson's Clipper (pyclipper): integer coordinates of 1e-5 mm, mitre limit 1000."""
    pyclipper = pytest.importorskip("pyclipper")
    scale, judged = 1e5, 0
    for side in bent_sides(60, 33):
        wedge = wedge_of(side)
        tool = pyclipper.PyclipperOffset(miter_limit=1000)
        path = [tuple(map(round, point)) for point in (wedge.outline[:-1] * scale).tolist()]
        tool.AddPath(path, pyclipper.JT_MITER, pyclipper.ET_CLOSEDPOLYGON)
        for k, echo in enumerate(echoes_of(wedge, echo_count=4, echo_spacing=5, visible_width=2), start=1):
            theirs = [Polygon(np.array(ring) / scale) for ring in tool.Execute(-5 * k * scale)]
            apex = Point(echo[0])
            nearest = min(theirs, key=lambda part: part.boundary.distance(apex))
            assert Polygon(echo).symmetric_difference(nearest).area < 1e-3 * (1 + nearest.length)
            judged += 1
    assert judged > 80


# ------------------------------------------------------------------------------------------- the zoo


@pytest.mark.parametrize("animal", ZOO, ids=lambda animal: animal.name)
def test_the_zoo(animal: Any) -> None:
    """Echoes of every fit are closed, inside the wedge, at their distance, one piece, and big enough."""
    patch = Patch(animal.outline, animal.holes)
    settings = Settings(**{**animal.settings, "echo_count": 4, "echo_spacing": 5.0, "visible_width": 4.0})
    bare = replace(settings, echo_count=0)
    for _, anchor in spread(awkward_anchors(patch.polygon, settings.edge_margin), 3, 1):
        plain = fit(patch, anchor, bare)
        for fan in plain.fans:
            for before, wedge in zip(fan.wedges, with_echoes(fan.anchor, fan.wedges, settings), strict=True):
                assert (before.outline == wedge.outline).all()
                area = Polygon(wedge.outline)
                for k, echo in enumerate(wedge.echoes, start=1):
                    ring = Polygon(echo)
                    assert ring.is_valid
                    assert (echo[0] == echo[-1]).all()
                    assert area.contains(ring)
                    assert ring.boundary.distance(area.boundary) == pytest.approx(5.0 * k, abs=1e-5)
                    assert min(figures(echo, wedge.apex_angle)) >= 4.0
                    area_before = Polygon(wedge.echoes[k - 2]) if k > 1 else area
                    assert area_before.contains(ring)


def test_turned_mirrored_and_scaled_wedges_have_the_same_echoes() -> None:
    spin = np.array([[math.cos(1.1), -math.sin(1.1)], [math.sin(1.1), math.cos(1.1)]])
    for side in bent_sides(30, 44):
        settings = {"echo_count": 4, "echo_spacing": 4, "visible_width": 3, "hold_back": 9}
        echoes = echoes_of(wedge_of(side), **settings)
        turned = echoes_of(wedge_of(side @ spin.T + (30, -70), (30, -70)), (30, -70), **settings)
        mirrored = echoes_of(wedge_of((side * (1, -1))[::-1]), **settings)
        bigger = echoes_of(
            wedge_of(side * 2.5), **{k: v * 2.5 if k != "echo_count" else v for k, v in settings.items()}
        )
        assert len(echoes) == len(turned) == len(mirrored) == len(bigger)
        for one, two, three, four in zip(echoes, turned, mirrored, bigger, strict=True):
            np.testing.assert_allclose(one @ spin.T + (30, -70), two, atol=1e-6)
            # the mirrored outline begins at its other leg, and closes there
            reversed_echo = (three * (1, -1))[::-1]
            assert Polygon(one).symmetric_difference(Polygon(reversed_echo)).area < 1e-5
            np.testing.assert_allclose(one * 2.5, four, atol=1e-6)


# ---------------------------------------------------------------------------------------- hold-back


def test_legs_stop_at_the_hold_back() -> None:
    wedge = wedge_of([(60, 0), (0, 80)])
    (held,) = with_echoes(ORIGIN, (wedge,), Settings(hold_back=12))
    np.testing.assert_allclose(held.outline, [(12, 0), (60, 0), (0, 80), (0, 12), (12, 0)], atol=1e-12)
    assert (held.side == wedge.side).all()
    assert (held.across, held.side_length, held.apex_angle) == (
        wedge.across,
        wedge.side_length,
        wedge.apex_angle,
    )


def test_the_stagger_holds_back_every_other_wedge_further() -> None:
    wedges = tuple(wedge_of([(60, -5), (60, 5)], number=k) for k in (1, 2, 3, 4))
    radii = held_radii(ORIGIN, wedges, Settings(hold_back=10, stagger=4))
    assert radii.tolist() == [10, 14, 10, 14]
    assert held_radii(ORIGIN, wedges, Settings(stagger=4)).tolist() == [0, 4, 0, 4]
    assert held_radii(ORIGIN, wedges, Settings()).tolist() == [0, 0, 0, 0]


def test_what_is_left_of_a_short_wedge_can_still_be_seen() -> None:
    # 20 mm from the anchor at the foot of the perpendicular; the visible width is left.
    wide = wedge_of([(20, -50), (20, 50)])
    (radius,) = held_radii(ORIGIN, (wide,), Settings(hold_back=30, visible_width=6))
    assert radius == pytest.approx(14)
    near = wedge_of([(5, -1), (5, 1)])
    assert held_radii(ORIGIN, (near,), Settings(hold_back=30, visible_width=6)).tolist() == [0]


def test_a_wedge_of_half_a_turn_is_not_held_back() -> None:
    t = np.linspace(0, 3.3, 60)
    wedge = wedge_of(100 * np.column_stack([np.cos(t), np.sin(t)]))
    assert held_radii(ORIGIN, (wedge,), Settings(hold_back=10)).tolist() == [0]
    (made,) = with_echoes(ORIGIN, (wedge,), Settings(hold_back=10))
    assert made.outline is wedge.outline


@pytest.mark.parametrize("seed", range(3))
def test_echoes_keep_out_of_the_hold_back_and_are_else_the_same(seed: int) -> None:
    for side in [*bent_sides(40, seed), *(one[[0, -1]] for one in bent_sides(20, seed + 50))]:
        wedge = wedge_of(side)
        settings = Settings(echo_count=4, echo_spacing=4, visible_width=3, hold_back=17)
        (held,) = with_echoes(ORIGIN, (wedge,), settings)
        whole = echoes_of(wedge, echo_count=4, echo_spacing=4, visible_width=3)
        radius = float(held_radii(ORIGIN, (wedge,), settings)[0])
        disc = Point(ORIGIN).buffer(radius, quad_segs=2000)
        assert len(held.echoes) <= len(whole)
        for k, (cut, full) in enumerate(zip(held.echoes, whole, strict=False), start=1):
            reach = 4 * k / math.sin(wedge.apex_angle / 2)
            if reach < radius:
                assert np.hypot(*cut[[0, -2]].T) == pytest.approx(radius, abs=1e-9)
                stitched = LineString(cut[:-1])
                assert stitched.distance(Point(ORIGIN)) >= radius - 1e-9
                expected = LineString(full).difference(disc)
                assert stitched.length == pytest.approx(expected.length, abs=1e-3)
                assert stitched.hausdorff_distance(expected) < 1e-3
            else:
                assert (cut == full).all()
            side_of_echo = LineString(full[1:-1])
            if radius:
                assert side_of_echo.distance(Point(ORIGIN)) >= radius + 3 - 1e-9
        if radius and len(held.echoes) < len(whole):
            following = LineString(whole[len(held.echoes)][1:-1])
            assert following.distance(Point(ORIGIN)) < radius + 3 + 1e-9


# ------------------------------------------------------------------------------ what is worked out later

LATE = {Code.OPEN_AREA, Code.ECHO_DROPPED, Code.CROWDED_ANCHOR}


@pytest.mark.parametrize("seed", range(12))
def test_what_is_prompt_is_the_whole_without_its_echoes(seed: int) -> None:
    """Outlines to the last bit, and no finding that echoes could still change."""
    chance = np.random.default_rng([seed, 11])
    animal = ZOO[int(chance.integers(len(ZOO)))]
    patch = Patch(animal.outline, animal.holes)
    settings = Settings(
        **{
            **animal.settings,
            "echo_count": int(chance.integers(0, 5)),
            "echo_spacing": float(chance.uniform(1, 6)),
            "visible_width": 2.0,
            "hold_back": float(chance.choice([0.0, 6.0])),
            "stagger": float(chance.choice([0.0, 3.0])),
            "anchor_disc": float(chance.uniform(0, 20)),
            "anchor_passes": 6,
        }
    )
    for _, anchor in spread(awkward_anchors(patch.polygon, settings.edge_margin), 3, seed):
        made = fit(patch, anchor, settings)
        for bare, full, whole in zip(made.prompt_fans, made.fans, made.whole_fans, strict=True):
            again = with_echoes(full.anchor, whole.wedges, settings)
            for one, two, three in zip(bare.wedges, full.wedges, again, strict=True):
                assert one.echoes == ()
                assert one.outline.tobytes() == two.outline.tobytes() == three.outline.tobytes()
                assert [ring.tobytes() for ring in two.echoes] == [ring.tobytes() for ring in three.echoes]
            if echoes_keep_off(full.wedges, settings):
                apexes = [echo[0] for wedge in full.wedges for echo in wedge.echoes]
                assert all(math.dist(apex, full.anchor) >= settings.anchor_disc - 1e-6 for apex in apexes)
        # Whatever was said at once is still said, and of echoes and anchors what the finished fans say.
        assert [finding for finding in made.findings if finding in made.prompt_findings] == list(
            made.prompt_findings
        )
        assert {finding.code for finding in made.findings if finding not in made.prompt_findings} <= LATE
        dropped = [finding for finding in made.findings if finding.code is Code.ECHO_DROPPED]
        assert dropped == [each for fan in made.fans for each in dropped_echoes(fan.wedges, settings)]
        crowded = [finding for finding in made.findings if finding.code is Code.CROWDED_ANCHOR]
        assert crowded == [each for fan in made.fans for each in crowded_anchor(fan, settings)]


def test_a_crowd_at_the_anchor_is_said_at_once_where_no_echo_reaches_it() -> None:
    """Eight wedges of a square are 45 degrees each: an echo's apex lies 2.61 spacings out."""
    patch = Patch([(0, 0), (200, 0), (200, 200), (0, 200)])
    settings = Settings(echo_count=2, anchor_passes=11, anchor_disc=3.0, echo_spacing=1.2, gap=0.0)
    prompt = {finding.code for finding in fit(patch, (100.0, 100.0), settings).prompt_findings}
    assert Code.CROWDED_ANCHOR in prompt
    nearer = fit(patch, (100.0, 100.0), replace(settings, echo_spacing=1.0))
    assert Code.CROWDED_ANCHOR not in {finding.code for finding in nearer.prompt_findings}
    (said,) = (finding for finding in nearer.findings if finding.code is Code.CROWDED_ANCHOR)
    assert said.value == 8 * 2 + 8
