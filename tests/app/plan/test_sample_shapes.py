"""The sample quilt opens, its patches fit or do not as intended, and its files hold the same patches."""

from __future__ import annotations

import math

import pytest

from app.importing import import_file
from app.plan.model import Plan
from app.plan.plan_file import SUFFIX, read_plan
from geometry import fit
from geometry.findings import Code, Level
from geometry.patch import Place
from geometry.tolerances import FLATTEN
from tests.app.plan.sample_quilt import CHOICES, FILES, FOLDER, PLAN, sample_plan, shapes

SQUARE_INCH = 25.4**2


@pytest.fixture(scope="module")
def plan() -> Plan:
    return read_plan(PLAN)


def test_the_plan_is_the_one_in_the_folder_and_holds_every_kind_of_space(plan: Plan) -> None:
    assert [path.name for path in FOLDER.glob(f"*{SUFFIX}")] == [PLAN.name]
    assert [patch.name for patch in plan.patches] == list(CHOICES)
    assert len(plan.patches) >= 10
    assert any(patch.holes for patch in plan.patches)
    assert any(len(patch.outline) > 40 for patch in plan.patches), "a curve"
    places = {patch.patch().locate(patch.anchors[0]) for patch in plan.patches}
    assert places == {Place.INSIDE, Place.ON}


def test_the_plan_is_what_files_and_choices_make_of_it(plan: Plan) -> None:
    made = sample_plan()
    for held, new in zip(plan.patches, made.patches, strict=True):
        assert (held.name, held.anchors, held.settings, held.repeats) == (
            new.name, new.anchors, new.settings, new.repeats,
        )  # fmt: skip
    assert (plan.title, plan.unit_style) == (made.title, made.unit_style)


def test_the_files_hold_the_patches_of_the_plan_each_once(plan: Plan) -> None:
    in_files = shapes()
    assert in_files.keys() == {patch.name for patch in plan.patches}
    for patch in plan.patches:
        held, drawn = patch.patch().polygon, in_files[patch.name].polygon
        # A curve may one day be divided otherwise: both then lie within the tolerance of it.
        apart = held.boundary.hausdorff_distance(drawn.boundary)
        assert apart <= (2 * FLATTEN if patch.name in {"Shore leftover", "Pond", "Moon"} else 1e-9), (
            patch.name
        )


def test_the_files_are_read_without_a_question() -> None:
    for name in FILES:
        assert import_file(FOLDER / name).notes == (), name


def _segment(radius: float, chord: float) -> float:
    """Area between a chord and its shorter arc."""
    half = math.asin(chord / 2 / radius)
    return radius**2 * (half - math.sin(half) * math.cos(half))


AREAS = {
    "Star kite": 9 * 13.5 / 2 * SQUARE_INCH,
    "Lantern block": 8 * 8 * SQUARE_INCH,
    "Setting triangle": 12 * 6 / 2 * SQUARE_INCH,
    "Corner L": (10 * 10 - 6 * 6) * SQUARE_INCH,
    "Pond": math.pi * 120 * 80,
    # The longer arc of a circle of 105 over a chord of 200, less the shorter one of a circle of 130.
    "Moon": math.pi * 105**2 - _segment(105, 200) - _segment(130, 200),
    # Two octagons of 6 in with corners of 1.5 in cut off, and the neck of 2 in × 0.4 in.
    "Stepping stones": (2 * (6 * 6 - 4 * 1.5**2 / 2) + 2 * 0.4) * SQUARE_INCH,
    "Splinter": 230 * 12 / 2 - 6 * 3 / 2,
}


def test_sizes_worked_by_hand(plan: Plan) -> None:
    for name, area in AREAS.items():
        polygon = plan.patches[plan.index(name)].patch().polygon
        curved = name in {"Pond", "Moon"}
        assert math.isclose(polygon.area, area, rel_tol=1e-9, abs_tol=FLATTEN * polygon.length * curved), name


FITS = list(CHOICES)[:7]
DOES_NOT_FIT = {
    "Reed strip": {Code.OUT_OF_SIGHT, Code.WEDGE_THIN},
    "Lily ground": {Code.OUT_OF_SIGHT},
    "Stepping stones": {Code.PINCHED},
    "Water line": {Code.WEDGE_THIN, Code.WEDGE_LOST},
    "Splinter": {Code.NO_ROOM},
}


def test_patches_fit_or_do_not_as_intended(plan: Plan) -> None:
    assert {*FITS, *DOES_NOT_FIT} == set(CHOICES)
    for patch in plan.patches:
        answer = fit(patch.patch(), patch.anchors[0], patch.settings)
        problems = {found.code for found in answer.findings if found.level is Level.PROBLEM}
        assert answer.fits == (patch.name in FITS), f"{patch.name}: {problems}"
        assert problems >= DOES_NOT_FIT.get(patch.name, set()), patch.name


def test_the_first_patch_is_finished(plan: Plan) -> None:
    first = plan.patches[0]
    answer = fit(first.patch(), first.anchors[0], first.settings)
    assert answer.findings == ()
    assert len(answer.fans[0].wedges) == 12
    assert answer.out_of_sight.share == 0
