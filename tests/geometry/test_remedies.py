"""Remedies: applied, each makes its finding go away in a fit that is computed anew."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from app.sketch.wording import remedy_text
from geometry import Fit, Patch, Settings, fit
from geometry.findings import Code, Finding, Level, Remedy
from geometry.remedies import MOST, WITHOUT, applied, remedies, search
from geometry.types import Point
from geometry.units import LengthStyle
from tests.zoo.anchors import awkward_anchors
from tests.zoo.patches import ZOO

ANIMALS = {animal.name: animal for animal in ZOO}
PLAN = Path(__file__).parents[2] / "sample_shapes" / "lantern_pond.wedgeplan"
SAMPLE = "its own"
FIVE = {"spans_per_side": 5}
ECHOES = {"echo_count": 3}

Case = tuple[str, str, dict[str, Any]]

HEALED: dict[Code, list[Case]] = {
    Code.SIDE_SHORT: [
        ("comb", "inside", {}),
        ("plus", "anywhere", {}),
        ("needle", "middle", {}),
        ("blunt tip", "anywhere", {}),
        ("star, five spans", "anywhere", {}),
        ("Reed strip", SAMPLE, {}),
        ("Water line", SAMPLE, {}),
    ],
    Code.WEDGE_THIN: [
        ("triangle", "anywhere", {}),
        ("u", "anywhere", {}),
        ("star", "inside", {}),
        ("two holes", "anywhere", {}),
        ("self-touching", "middle", {}),
        ("Reed strip", SAMPLE, {}),
        ("Water line", SAMPLE, {}),
    ],
    Code.WEDGE_LOST: [
        ("ell", "inside", {}),
        ("spiral", "anywhere", {}),
        ("ring", "anywhere", {}),
        ("long triangle", "inside", {}),
        ("two holes", "anywhere", {}),
        ("kite", "middle", {"spans_per_side": 40}),
        ("Lily ground", SAMPLE, {}),
    ],
    Code.WOBBLE_RISK: [
        ("spiral", "inside", {}),
        ("plus", "middle", {}),
        ("star", "inside", {}),
        ("long triangle", "middle", {}),
        ("kite", "anywhere", FIVE),
        ("Shore leftover", SAMPLE, {}),
        ("Lily ground", SAMPLE, {}),
    ],
    Code.OUT_OF_SIGHT: [
        ("ell", "inside", {}),
        ("u", "inside", {}),
        ("spiral", "inside", {}),
        ("comb", "anywhere", {}),
        ("ring", "inside", {}),
        ("spiky strip", "anywhere", {}),
        ("Reed strip", SAMPLE, {}),
        ("Lily ground", SAMPLE, {}),
    ],
    Code.NO_ROOM: [
        ("no room", "inside", {}),
        ("square", "inside", {"edge_margin": 120.0}),
        ("long triangle", "middle", {"edge_margin": 30.0}),
        ("Splinter", SAMPLE, {}),
    ],
    Code.PINCHED: [
        ("hourglass in two", "inside", {}),
        ("hourglass in two", "edge corner", {}),
        ("hourglass in three", "inside", {}),
        ("hourglass in three", "anywhere", {}),
        ("Stepping stones", SAMPLE, {}),
    ],
    Code.CROWDED_ANCHOR: [
        ("square", "middle", FIVE),
        ("star", "middle", {}),
        ("blob", "inside", {}),
        ("ell, longest span", "inside", {}),
        ("Pond", SAMPLE, {}),
        ("Stepping stones", SAMPLE, {}),
    ],
    Code.OPEN_AREA: [
        ("triangle", "edge corner", {}),
        ("ell", "anywhere", {}),
        ("ring", "inside", {}),
        ("cut tip", "inside", {}),
        ("triangle, one span", "inside", {"batting_width": 60.0}),
        ("Lily ground", SAMPLE, {}),
        ("Stepping stones", SAMPLE, {}),
    ],
    Code.NEAR_CENTRE: [
        ("thin sliver", "inside", {}),
        ("hourglass in three", "inside", {}),
        ("teardrop", "inside", {}),
        ("blob", "inside", {}),
        ("Reed strip", SAMPLE, {}),
    ],
    Code.ECHO_DROPPED: [
        ("square", "anywhere", ECHOES),
        ("kite", "inside", ECHOES),
        ("ell", "anywhere", ECHOES),
        ("comb", "inside", ECHOES),
        ("Reed strip", SAMPLE, {"echo_count": 4, "hold_back": 5.0}),
    ],
}
"""For each code that has remedies, fits that have the finding and one."""

MENDED_BEFORE = {Code.SIMPLIFIED, Code.REPAIRED}
"""Codes without remedies: they tell what was done to an outline before it was fitted."""


@cache
def fitted_case(name: str, place: str, changed: tuple[tuple[str, Any], ...]) -> Fit:
    if place == SAMPLE:
        from app.plan.plan_file import read_plan

        held = next(each for each in read_plan(PLAN).patches if each.name == name)
        return fit(held.patch(), held.anchors, replace(held.settings, **dict(changed)))
    animal = ANIMALS[name]
    patch, plain = Patch(animal.outline, animal.holes), Settings(**animal.settings)
    anchor = awkward_anchors(patch.polygon, plain.edge_margin)[place]
    return fit(patch, anchor, replace(plain, **dict(changed)))


def refitted(before: Fit, remedy: Remedy) -> Fit:
    """As ``changes.apply_remedy`` does it, on a patch that the engine has not met."""
    patch = Patch(before.patch.outline, before.patch.holes)
    anchors = before.anchors if remedy.anchors is None else remedy.anchors
    return fit(patch, anchors, Settings(**{**_values(before.settings), **remedy.settings}))


def _values(settings: Settings) -> dict[str, Any]:
    return {name: getattr(settings, name) for name in Settings.__dataclass_fields__}


def problems(fitted: Fit) -> int:
    return sum(finding.level is Level.PROBLEM for finding in fitted.findings)


def left_of(finding: Finding, before: Fit, after: Fit) -> str:
    """What is left of ``finding``; empty where it is gone, by predicates of this test's own."""
    same = [other for other in after.findings if other.code is finding.code]
    if finding.code in {Code.OUT_OF_SIGHT, Code.OPEN_AREA, Code.NEAR_CENTRE, Code.NO_ROOM}:
        level = list(Level).index
        worst = [other for other in same if level(other.level) <= level(finding.level)]
        return f"still {worst}" if worst else ""
    count = sum(other.code is finding.code for other in before.findings)
    if len(same) >= count:
        return f"{len(same)} of {count} left"
    ends = ends_of(finding, before)
    for other in same:
        if math.dist(other.at, finding.at) < 0.1:
            return f"at its place {other}"
        if ends and ends_of(other, after) == ends:
            return f"between its marks {other}"
    return ""


def ends_of(finding: Finding, fitted: Fit) -> set[tuple[int, int]]:
    """Where the marks of its span are, in tenths of a mm."""
    wedges = {wedge.number: wedge for fan in fitted.fans for wedge in fan.wedges}
    names = wedges[finding.wedge].span if finding.wedge else finding.detail.split("-")
    marks = {mark.name: mark.at for fan in fitted.fans for mark in fan.marks}
    return {(round(10 * marks[name][0]), round(10 * marks[name][1])) for name in names if name in marks}


def wrong_with(finding: Finding, before: Fit, offered: Sequence[Remedy]) -> list[str]:
    """One line for each remedy that does not hold what is promised."""
    broken = []
    clean = []
    for remedy in offered:
        after = refitted(before, remedy)
        left = left_of(finding, before, after)
        if left:
            broken.append(f"{finding.code} {finding.at}: {remedy} leaves {left}")
        counts = [
            [other.code for other in each.findings if other.level is Level.PROBLEM]
            for each in (before, after)
        ]
        clean.append(
            all(counts[1].count(code) <= counts[0].count(code) for code in {*counts[1]} - {finding.code})
        )
        empty = {Code.OUT_OF_SIGHT, Code.PINCHED, Code.NO_ROOM}
        filled = sum(code in empty for code in counts[0]) > sum(code in empty for code in counts[1])
        if (
            not filled
            and finding.code is not Code.NO_ROOM
            and problems(after) > problems(before) - (finding.level is Level.PROBLEM)
        ):
            broken.append(f"{finding.code} {finding.at}: {remedy} makes {problems(after)} problems")
    if len(set(clean)) > 1:
        broken.append(f"{finding.code} {finding.at}: one brings other problems, one does not")
    if len(offered) > MOST or any(offered.count(remedy) > 1 for remedy in offered):
        broken.append(f"{finding.code} {finding.at}: {offered}")
    return broken


# --------------------------------------------------------------------------------------- every code heals


def test_every_code_has_remedies_or_says_that_it_has_none() -> None:
    assert WITHOUT == MENDED_BEFORE
    assert set(HEALED) == set(Code) - WITHOUT
    assert all(len(cases) >= 4 for cases in HEALED.values())


@pytest.mark.parametrize(
    ("code", "case"),
    [(code, case) for code, cases in HEALED.items() for case in cases],
    ids=lambda value: value[0] if isinstance(value, tuple) else str(value),
)
def test_the_remedies_of_every_code_heal(code: Code, case: Case) -> None:
    name, place, changed = case
    before = fitted_case(name, place, tuple(changed.items()))
    finding = next(each for each in before.findings if each.code is code)
    offered = remedies(before, finding)
    assert offered
    assert wrong_with(finding, before, offered) == []
    assert all(remedy_text(remedy, before, LengthStyle.EIGHTHS) for remedy in offered)


@pytest.mark.parametrize("name", ANIMALS)
def test_whatever_is_offered_heals(name: str) -> None:
    """Two findings, each of another code, of every zoo patch from one of its anchors."""
    animal, number = ANIMALS[name], list(ANIMALS).index(name)
    patch = Patch(animal.outline, animal.holes)
    settings = Settings(**{"echo_count": number % 2, **animal.settings})
    places = awkward_anchors(patch.polygon, settings.edge_margin, seed=1)
    before = fit(patch, places[("inside", "anywhere")[number // 2 % 2]], settings)
    by_code: dict[Code, Finding] = {}
    for finding in before.findings[::-1] if number % 3 else before.findings:
        by_code.setdefault(finding.code, finding)
    tried = list(by_code.values())
    tried = tried[number % max(1, len(tried)) :][:2]
    for finding in tried:
        assert wrong_with(finding, before, remedies(before, finding)) == []


@pytest.mark.parametrize(("name", "code"), [("repeated points", Code.SIMPLIFIED), ("spike", Code.REPAIRED)])
def test_what_was_done_to_an_outline_has_no_remedy(name: str, code: Code) -> None:
    before = fitted_case(name, "inside", ())
    finding = next(each for each in before.findings if each.code is code)
    assert remedies(before, finding) == ()
    assert list(search(before, finding)) == []


# ---------------------------------------------------------------------------------- worked out by hand


def block(at: Point, **others: Any) -> Fit:
    """An 8 in block."""
    return fit(Patch([(0, 0), (203.2, 0), (203.2, 203.2), (0, 203.2)]), at, Settings(**others))


def of(fitted: Fit, code: Code) -> Finding:
    return next(finding for finding in fitted.findings if finding.code is code)


def test_near_the_centre_means_on_it_or_clearly_off() -> None:
    """A tenth of 8 in is 20.32 mm; a quarter more, 25.4, does not look like a slip."""
    before = block((101.6, 105.0))
    on, off = remedies(before, of(before, Code.NEAR_CENTRE))
    assert on == Remedy(anchors=((101.6, 101.6),))
    assert off.anchors == (pytest.approx((101.6, 127.0)),)


def test_a_crowded_anchor_is_held_back_to_the_edge_of_its_disc() -> None:
    before = block((101.6, 101.6), spans_per_side=4)
    offered = remedies(before, of(before, Code.CROWDED_ANCHOR))
    assert offered[0] == Remedy(settings={"hold_back": 25.4 / 8})
    # 32 passes, 24 allowed: three of four spans
    assert Remedy(settings={"spans_per_side": 3}) in offered


def test_no_room_leaves_a_strip_as_wide_as_the_visible_width() -> None:
    """14 mm less 2 mm, halved, is 6; 3 sixteenths are 4.7625, 4 are 6.35."""
    before = fit(
        Patch([(0, 0), (200, 0), (200, 14), (0, 14)]), (100.0, 7.0), Settings(edge_margin=8, visible_width=2)
    )
    (finding,) = before.findings
    assert remedies(before, finding)[0].settings["edge_margin"] == pytest.approx(3 * 25.4 / 16)
    thin = fit(Patch([(0, 0), (200, 0), (200, 1), (0, 1)]), (100.0, 0.5), Settings(visible_width=2))
    assert remedies(thin, thin.findings[0]) == ()


def test_echoes_that_do_not_fit_are_fewer_or_nearer() -> None:
    """The quarter of a 16 in block, inradius 84.17: 12 echoes fit at 6.35; 16 do at 82.31 / 16 = 5.14, which
    is 3 sixteenths of an inch, 4.76."""
    settings = Settings(edge_margin=0, gap=0, spans_per_side=1, echo_count=16, batting_width=200)
    before = fit(Patch([(0, 0), (406.4, 0), (406.4, 406.4), (0, 406.4)]), (203.2, 203.2), settings)
    offered = remedies(before, of(before, Code.ECHO_DROPPED))
    assert offered[0].settings == {"echo_count": 12}
    assert offered[1].settings == {"echo_spacing": pytest.approx(3 * 25.4 / 16)}
    held = fit(before.patch, (203.2, 203.2), replace(settings, hold_back=4.0))
    assert [dict(each.settings) for each in remedies(held, of(held, Code.ECHO_DROPPED))] == [
        dict(each.settings) for each in offered
    ]
    # lines nearer to each other than a hand wanders are none: 40 would have to stand 2.06 apart
    many = fit(before.patch, (203.2, 203.2), replace(settings, echo_count=40))
    assert [set(each.settings) for each in remedies(many, of(many, Code.ECHO_DROPPED))] == [{"echo_count"}]


def test_a_side_with_too_many_spans_gets_fewer() -> None:
    """40 spans of 190.5 mm: as many as are wide enough are left, not one alone."""
    before = block((101.6, 101.6), side_spans=(("B", 40),), gap=1.0)
    offered = remedies(before, of(before, Code.SIDE_SHORT))
    (count,) = [dict(each.settings["side_spans"])["B"] for each in offered if "side_spans" in each.settings]  # type: ignore[call-overload]
    assert count > 15
    assert 190.5 / count >= 25.4 / 4 + 1.0


def test_thin_wedges_can_be_merged_all_of_them_or_one() -> None:
    before = fitted_case("Reed strip", SAMPLE, ())
    finding = of(before, Code.WEDGE_THIN)
    wedge = before.fans[0].wedges[(finding.wedge or 0) - 1]
    settings = [dict(each.settings) for each in remedies(before, finding)]
    assert {"merge_thin": True} in settings
    assert {"merged_spans": (wedge.span,)} in settings


def test_an_own_mark_that_makes_a_short_side_is_removed() -> None:
    own = ((60.0, 6.35), (104.0, 6.35))
    before = block((101.6, 101.6), own_marks=own, gap=0.5)
    offered = remedies(before, of(before, Code.SIDE_SHORT))
    assert {"own_marks": ((60.0, 6.35),)} in [dict(each.settings) for each in offered]


def test_an_anchor_that_sees_all_comes_before_more_anchors() -> None:
    """The kernel of this L is the square where its arms meet, less the margin: its middle is (50, 50)."""
    ell = Patch([(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)])
    before = fit(ell, (290.0, 10.0))
    offered = remedies(before, of(before, Code.OUT_OF_SIGHT))
    assert offered[0].settings == {}
    assert offered[0].anchors is not None
    assert offered[0].anchors[0] == pytest.approx((50, 50))
    assert {"divide": True} in [dict(each.settings) for each in offered]


def test_what_is_pinched_off_gets_its_way_open_or_an_anchor_of_its_own() -> None:
    """A strip 10 wide: 3 sixteenths of an inch, 4.7625, leave it open, 4 do not."""
    patch = Patch(
        [(0, 0), (100, 0), (100, 45), (120, 45), (120, 0), (220, 0), (220, 100), (120, 100), (120, 55),
         (100, 55), (100, 100), (0, 100)]
    )  # fmt: skip
    before = fit(patch, (50.0, 50.0))
    offered = remedies(before, of(before, Code.PINCHED))
    settings = [dict(each.settings) for each in offered]
    assert {"edge_margin": pytest.approx(3 * 25.4 / 16)} in settings or {"divide": True} in settings
    added = next(each.anchors for each in offered if each.anchors is not None)
    assert added == ((50.0, 50.0), pytest.approx((170, 50)))


# ------------------------------------------------------------------------------------------- how it is done


def test_own_anchors_are_told_from_those_that_were_added() -> None:
    """A comb divided from one own anchor: a remedy that moves it does not make the others the user's."""
    animal = ANIMALS["comb"]
    patch = Patch(animal.outline, animal.holes)
    own = ((165.0, 20.0),)
    before = fit(patch, own, Settings(divide=True))
    assert len(before.anchors) > 1
    finding = next(each for each in before.findings if each.level is Level.PROBLEM)
    for remedy in remedies(before, finding, own):
        after = fit(patch, remedy.anchors or own, Settings(**{**_values(before.settings), **remedy.settings}))
        assert left_of(finding, before, after) == ""
        assert remedy.anchors is None or len(remedy.anchors) <= len(own) + 1


def test_the_search_goes_step_by_step_and_ends_with_the_answer() -> None:
    before = fitted_case("Reed strip", SAMPLE, ())
    finding = of(before, Code.WEDGE_THIN)
    steps = list(search(before, finding))
    assert 1 < len(steps) <= 10
    assert steps[-1] == remedies(before, finding)


def test_applied_is_the_fit_with_the_remedy() -> None:
    before = block((101.6, 105.0))
    after = applied(before, Remedy(settings={"gap": 3.0}, anchors=((90.0, 60.0),)))
    assert after.settings == Settings(gap=3.0)
    assert after.anchors == ((90.0, 60.0),)
    assert applied(before, Remedy(settings={"divide": True}), anchors=((20.0, 20.0),)).anchors == (
        (20.0, 20.0),
    )


def test_the_plan_s_own_change_applies_it() -> None:
    from app.plan.model import Plan, PlanPatch
    from app.sketch.changes import apply_remedy

    before = fitted_case("ell", "inside", ())
    plan = Plan(patches=(PlanPatch.of("Ell", before.patch, before.anchors, settings=before.settings),))
    finding = of(before, Code.OUT_OF_SIGHT)
    for remedy in remedies(before, finding):
        held = apply_remedy(plan, 0, remedy).after.patches[0]
        assert left_of(finding, before, fit(held.patch(), held.anchors, held.settings)) == ""
