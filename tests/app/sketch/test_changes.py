from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from app.plan.model import MAX_TRIES, Plan, PlanError, PlanPatch
from app.sketch import changes
from app.sketch.changes import Change
from geometry import Patch, Settings, SettingsError, WedgewrightError
from geometry.findings import Remedy
from geometry.patch import Place
from geometry.types import Point
from tests.app.plan.samples import SQUARE, small_plan, square

HOLE = ((50.0, 50.0), (50.0, 60.0), (60.0, 60.0))
finite = st.floats(allow_nan=False, allow_infinity=False)


def plan_of(*names: str) -> Plan:
    return Plan(title="Quilt", patches=tuple(square(name) for name in names))


def names(plan: Plan) -> list[str]:
    return [patch.name for patch in plan.patches]


def others_untouched(change: Change, index: int) -> None:
    """All but patch ``index`` is not only equal but the same."""
    assert len(change.before.patches) == len(change.after.patches)
    for number, (old, new) in enumerate(zip(change.before.patches, change.after.patches, strict=True)):
        assert (old is new) == (number != index)
    assert replace(change.after, patches=change.before.patches) == change.before


def with_corner_at(plan: Plan, index: int, corner: int, point: Point) -> Change:
    """Another shape for patch ``index``: one corner of its outline at ``point``."""
    patch = plan.patches[index]
    outline = [*patch.outline[:corner], point, *patch.outline[corner + 1 :]]
    return changes.reshape_patch(plan, index, Patch(outline, patch.holes), "Move corner")


# --- anchors ----------------------------------------------------------------------------------------


@given(x=finite, y=finite)
def test_an_anchor_moves_or_slides_and_is_never_outside(x: float, y: float) -> None:
    plan = small_plan()
    change = changes.move_anchor(plan, 1, (x, y), which=1)
    others_untouched(change, 1)
    patch = change.after.patches[1]
    assert patch.anchors[0] == plan.patches[1].anchors[0]
    shape = patch.patch()
    assert shape is plan.patches[1].patch(), "a drag must not make a new Patch"
    assert shape.locate(patch.anchors[1]) is not Place.OUTSIDE
    if shape.locate((x, y)) is not Place.OUTSIDE:
        assert patch.anchors[1] == (x, y)


def test_an_anchor_in_a_hole_slides_to_its_edge() -> None:
    change = changes.move_anchor(small_plan(), 1, (51.0, 58.0))
    assert change.after.patches[1].anchors[0] == (50.0, 58.0)
    assert change.name == "Move anchor"
    assert change.merge_key is None


@pytest.mark.parametrize("point", [(math.nan, 0.0), (0.0, math.inf)])
def test_an_anchor_that_is_no_place_is_refused(point: tuple[float, float]) -> None:
    with pytest.raises(WedgewrightError):
        changes.move_anchor(small_plan(), 0, point)
    with pytest.raises(WedgewrightError):
        with_corner_at(small_plan(), 0, 1, point)


# --- corners ----------------------------------------------------------------------------------------


def test_a_corner_moves_and_the_anchor_stays_in_the_patch() -> None:
    plan = plan_of("a", "b")
    change = with_corner_at(plan, 1, 2, (20.0, 30.0))
    others_untouched(change, 1)
    patch = change.after.patches[1]
    assert patch.outline == (SQUARE[0], SQUARE[1], (20.0, 30.0), SQUARE[3])
    assert plan.patches[1].anchors == ((101.6, 101.6),)
    assert patch.patch().locate(patch.anchors[0]) is not Place.OUTSIDE
    # It slid to the nearest point of the new sides: to the foot on the line from (203.2, 0) to (20, 30).
    (x, y) = patch.anchors[0]
    assert math.isclose((x - 101.6) * (20 - 203.2) + (y - 101.6) * 30, 0, abs_tol=1e-6)


def test_a_corner_of_a_hole_moves() -> None:
    plan = small_plan()
    holes = [(*HOLE[:2], (70.0, 80.0))]
    change = changes.reshape_patch(plan, 1, Patch(plan.patches[1].outline, holes), "Move corner")
    patch = change.after.patches[1]
    assert set(patch.holes[0]) == {HOLE[0], HOLE[1], (70.0, 80.0)}
    assert patch.outline == SQUARE
    assert patch.settings == small_plan().patches[1].settings
    assert patch.repeats == 12


def test_corners_are_removed() -> None:
    plan = plan_of("a")
    longer = Plan(title="Quilt", patches=(square("a", outline=(SQUARE[0], (100.0, -10.0), *SQUARE[1:])),))
    assert changes.remove_corner(longer, 0, 1).after == plan
    triangle = changes.remove_corner(plan, 0, 0).after
    assert triangle.patches[0].outline == SQUARE[1:]
    with pytest.raises(WedgewrightError, match="patch “a”: a patch needs three corners; move this"):
        changes.remove_corner(triangle, 0, 0)
    with pytest.raises(WedgewrightError, match="take the hole out"):
        changes.remove_corner(small_plan(), 1, 0, hole=0)
    outline, hole = small_plan().patches[1].outline, (HOLE[0], (45.0, 55.0), *HOLE[1:])
    four = changes.reshape_patch(small_plan(), 1, Patch(outline, [hole]), "Add corner").after
    assert len(four.patches[1].holes[0]) == 4
    at = four.patches[1].holes[0].index((45.0, 55.0))
    assert set(changes.remove_corner(four, 1, at, hole=0).after.patches[1].holes[0]) == set(HOLE)


def test_a_corner_that_leaves_no_patch_is_refused() -> None:
    with pytest.raises(WedgewrightError, match="2 parts"):
        with_corner_at(plan_of("a"), 0, 1, (-50.0, 100.0))
    with pytest.raises(WedgewrightError, match="10 m"):
        with_corner_at(plan_of("a"), 0, 1, (20_000.0, 0.0))


@given(corner=st.integers(0, 3), x=st.floats(-9e3, 9e3), y=st.floats(-9e3, 9e3))
def test_after_a_corner_moved_the_plan_can_be_fitted_and_saved(corner: int, x: float, y: float) -> None:
    plan = plan_of("a")
    try:
        patch = with_corner_at(plan, 0, corner, (x, y)).after.patches[0]
    except WedgewrightError:
        return
    assert patch.patch().outline.tolist() == [list(point) for point in patch.outline]
    assert patch.patch().locate(patch.anchors[0]) is not Place.OUTSIDE


@pytest.mark.parametrize("corner", [-1, 4])
def test_a_corner_that_is_not_there_is_a_slip_of_the_program(corner: int) -> None:
    with pytest.raises(IndexError):
        changes.remove_corner(plan_of("a"), 0, corner)


# --- patches ----------------------------------------------------------------------------------------


def test_patches_come_and_go() -> None:
    plan = plan_of("a", "b", "c")
    assert names(changes.add_patch(plan, square("d")).after) == ["a", "b", "c", "d"]
    assert names(changes.add_patch(plan, square("b")).after) == ["a", "b", "c", "b 2"]
    several = changes.add_patches(plan, [square("b"), square("b"), square("b 2")])
    assert names(several.after) == ["a", "b", "c", "b 2", "b 3", "b 2 2"]
    assert several.name == "Add patches"
    assert names(changes.remove_patch(plan, 1).after) == ["a", "c"]


def test_a_new_patch_is_one_that_can_be_fitted() -> None:
    outside = square("d", anchors=((-50.0, 20.0),))
    assert changes.add_patch(plan_of(), outside).after.patches[0].anchors == ((0.0, 20.0),)
    with pytest.raises(WedgewrightError):
        changes.add_patch(plan_of(), square("d", outline=SQUARE[:2]))


def test_names_and_titles() -> None:
    plan = plan_of("a", "b")
    assert names(changes.rename_patch(plan, 0, " Star\n kite ").after) == ["Star kite", "b"]
    assert changes.rename_patch(plan, 0, "a").after == plan
    with pytest.raises(PlanError, match="two patches have this name"):
        changes.rename_patch(plan, 0, "b")
    with pytest.raises(PlanError, match="needs a name"):
        changes.rename_patch(plan, 0, " \t")
    assert changes.set_title(plan, "My\nquilt").after.title == "My quilt"
    assert changes.set_title(plan, "").after.title == ""


# --- settings ---------------------------------------------------------------------------------------


def test_settings_are_set_by_name() -> None:
    plan = plan_of("a", "b")
    change = changes.set_setting(plan, 1, gap=3.0, spans_per_side=4)
    others_untouched(change, 1)
    assert change.after.patches[1].settings == Settings(gap=3.0, spans_per_side=4)
    assert change.after.patches[1].patch() is plan.patches[1].patch()
    again = changes.set_setting(change.after, 1, side_spans=(("A", 2),))
    assert again.after.patches[1].settings == Settings(gap=3.0, spans_per_side=4, side_spans=(("A", 2),))


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"gap": -1.0}, "gap"),
        ({"gap": math.nan}, "gap"),
        ({"gap": "1/4"}, "wrong kind"),
        ({"spans_per_side": 2.5}, "wrong kind"),
        ({"gop": 1.0}, "no setting “gop”"),
    ],
)
def test_a_setting_that_cannot_be_is_refused(values: dict[str, Any], words: str) -> None:
    with pytest.raises(SettingsError, match=words):
        changes.set_setting(plan_of("a"), 0, **values)


def test_only_the_same_setting_of_the_same_patch_is_one_step() -> None:
    plan = plan_of("a", "b")
    keys = [
        changes.set_setting(plan, 0, gap=1.0).merge_key,
        changes.set_setting(plan, 1, gap=1.0).merge_key,
        changes.set_setting(plan, 0, edge_margin=1.0).merge_key,
        changes.set_repeats(plan, 0, 5).merge_key,
        changes.set_repeats(plan, 1, 5).merge_key,
        changes.set_title(plan, "x").merge_key,
    ]
    assert len(set(keys)) == len(keys)
    assert None not in keys
    assert changes.set_setting(plan, 0, gap=2.0).merge_key == keys[0]


def test_remedies_are_applied() -> None:
    plan = plan_of("a", "b")
    change = changes.apply_remedy(plan, 0, Remedy(settings={"hold_back": 5.0}))
    others_untouched(change, 0)
    assert change.after.patches[0].settings == Settings(hold_back=5.0)
    assert change.after.patches[0].anchors == plan.patches[0].anchors
    change = changes.apply_remedy(plan, 0, Remedy(anchors=((10.0, 10.0), (-5.0, 100.0))))
    assert change.after.patches[0].anchors == ((10.0, 10.0), (0.0, 100.0))
    assert change.after.patches[0].settings == Settings()


def test_anchors_are_added_and_removed() -> None:
    plan = plan_of("a", "b")
    first = plan.patches[1].anchors[0]
    change = changes.add_anchor(plan, 1, (-5.0, 100.0))
    others_untouched(change, 1)
    assert change.name == "Add anchor"
    assert change.after.patches[1].anchors == (first, (0.0, 100.0)), "it slides to the seam"
    back = changes.remove_anchor(change.after, 1, 0)
    assert back.after.patches[1].anchors == ((0.0, 100.0),)
    with pytest.raises(PlanError, match="no anchor"):
        changes.remove_anchor(plan, 1, 0)
    with pytest.raises(IndexError):
        changes.remove_anchor(plan, 1, 1)


def test_what_one_patch_has_is_used_for_all_and_nothing_else_changes() -> None:
    plan = plan_of("a", "b", "c")
    plan = changes.set_setting(plan, 1, gap=3.0, wobble=1.0, echo_count=2).after
    plan = changes.set_setting(plan, 2, edge_margin=9.0, gap=4.0).after
    change = changes.use_for_all(plan, 1, ("gap", "echo_count"))
    assert [patch.settings for patch in change.after.patches] == [
        Settings(gap=3.0, echo_count=2),
        Settings(gap=3.0, wobble=1.0, echo_count=2),
        Settings(gap=3.0, echo_count=2, edge_margin=9.0),
    ]
    assert change.name == "Use for all patches"
    assert change.merge_key is None
    for before, after in zip(plan.patches, change.after.patches, strict=True):
        assert (before.name, before.outline, before.anchors) == (after.name, after.outline, after.anchors)


def test_a_change_can_be_given_a_better_name() -> None:
    change = changes.set_setting(plan_of("a"), 0, gap=1.0)
    better = changes.named(change, "Change gap")
    assert better.name == "Change gap"
    assert (better.before, better.after, better.merge_key) == (change.before, change.after, change.merge_key)


def test_repeats() -> None:
    plan = plan_of("a")
    assert changes.set_repeats(plan, 0, 12).after.patches[0].repeats == 12
    with pytest.raises(PlanError, match="0 repeats"):
        changes.set_repeats(plan, 0, 0)


def test_no_change_touches_the_plan_it_starts_from() -> None:
    def all_of(plan: Plan) -> list[Change]:
        return [
            changes.move_anchor(plan, 0, (1.0, 1.0)),
            with_corner_at(plan, 0, 0, (-1.0, -1.0)),
            changes.remove_corner(plan, 0, 0),
            changes.add_patch(plan, square("z")),
            changes.remove_patch(plan, 0),
            changes.rename_patch(plan, 0, "y"),
            changes.set_setting(plan, 0, gap=1.0),
            changes.apply_remedy(plan, 0, Remedy(settings={"gap": 1.0})),
            changes.set_repeats(plan, 0, 2),
            changes.add_anchor(plan, 0, (1.0, 1.0)),
            changes.use_for_all(plan, 0, ("gap",)),
            changes.set_title(plan, "x"),
        ]

    plan = small_plan()
    for change in all_of(plan):
        assert change.before is plan
        assert change.after != plan, change.name
        assert change.name
    assert plan == small_plan()


def test_plan_patches_are_made_of_plain_floats() -> None:
    """The plan file writes no numpy floats."""
    import numpy as np

    point = (np.float64(7.0), np.float64(8.0))
    plan = plan_of("a")
    moved = changes.move_anchor(with_corner_at(plan, 0, 0, point).after, 0, point).after.patches[0]
    added = PlanPatch.of("b", plan.patches[0].patch(), np.array([point]))
    values = [value for pair in (*moved.outline, *moved.anchors, *added.anchors) for value in pair]
    assert {type(value) for value in values} == {float}


# --- tries ------------------------------------------------------------------------------------------


def test_a_try_keeps_anchors_and_settings_and_brings_them_back() -> None:
    plan = plan_of("One", "Two")
    kept = changes.keep_try(plan, 1)
    others_untouched(kept, 1)
    assert kept.name == "Keep Try 1"
    moved = changes.move_anchor(kept.after, 1, (30.0, 40.0)).after
    moved = changes.set_setting(moved, 1, gap=3.0).after
    second = changes.keep_try(moved, 1).after
    assert [each.name for each in second.patches[1].tries] == ["Try 1", "Try 2"]
    back = changes.bring_back(second, 1, 0)
    others_untouched(back, 1)
    assert back.name == "Bring back Try 1"
    assert back.after.patches[1].anchors == plan.patches[1].anchors
    assert back.after.patches[1].settings == plan.patches[1].settings
    assert back.after.patches[1].tries == second.patches[1].tries
    forth = changes.bring_back(back.after, 1, 1).after.patches[1]
    assert (forth.anchors, forth.settings.gap) == (((30.0, 40.0),), 3.0)


def test_what_is_kept_already_is_not_kept_twice() -> None:
    kept = changes.keep_try(plan_of("One"), 0).after
    with pytest.raises(PlanError, match="kept already, as “Try 1”"):
        changes.keep_try(kept, 0)


def test_a_deleted_trys_number_is_not_taken_by_one_that_is_there() -> None:
    plan = plan_of("One")
    for x in (10.0, 20.0, 30.0):
        plan = changes.keep_try(changes.move_anchor(plan, 0, (x, 10.0)).after, 0).after
    gone = changes.delete_try(plan, 0, 1)
    assert gone.name == "Delete Try 2"
    assert [each.name for each in gone.after.patches[0].tries] == ["Try 1", "Try 3"]
    again = changes.keep_try(changes.move_anchor(gone.after, 0, (50.0, 10.0)).after, 0).after
    assert [each.name for each in again.patches[0].tries] == ["Try 1", "Try 3", "Try 4"]


def test_a_try_of_a_larger_patch_slides_in() -> None:
    plan = changes.keep_try(changes.move_anchor(plan_of("One"), 0, (200.0, 200.0)).after, 0).after
    smaller = with_corner_at(changes.move_anchor(plan, 0, (50.0, 50.0)).after, 0, 2, (100.0, 100.0)).after
    back = changes.bring_back(smaller, 0, 0).after.patches[0]
    assert back.patch().locate(back.anchors[0]) is Place.ON


def test_tries_are_renamed_and_names_kept_apart() -> None:
    plan = changes.keep_try(plan_of("One"), 0).after
    plan = changes.keep_try(changes.move_anchor(plan, 0, (10.0, 10.0)).after, 0).after
    renamed = changes.rename_try(plan, 0, 1, "  by the  pond ").after
    assert [each.name for each in renamed.patches[0].tries] == ["Try 1", "by the pond"]
    for bad in ("Try 1", "  ", "a\u2028b\x00"):
        with pytest.raises(PlanError):
            changes.rename_try(renamed, 0, 1, bad)


def test_there_is_a_most_of_tries() -> None:
    plan = plan_of("One")
    for n in range(MAX_TRIES):
        plan = changes.keep_try(changes.move_anchor(plan, 0, (10.0 + n, 10.0)).after, 0).after
    with pytest.raises(PlanError, match=f"more than {MAX_TRIES} tries"):
        changes.keep_try(changes.move_anchor(plan, 0, (150.0, 10.0)).after, 0)


# --- how it will look -------------------------------------------------------------------------------


def test_cloth_and_thread_are_chosen_and_nothing_else_changes() -> None:
    plan = plan_of("One", "Two")
    cloth = changes.set_cloth(plan, 1, "#1a2b3c")
    others_untouched(cloth, 1)
    assert cloth.after.patches[1] == replace(plan.patches[1], cloth="#1A2B3C")
    thread = changes.set_thread(cloth.after, 1, "#F0F0F0")
    assert thread.after.patches[1] == replace(plan.patches[1], cloth="#1A2B3C", thread="#F0F0F0")
    wide = changes.set_thread_width(thread.after, 1, 0.5)
    assert wide.after.patches[1] == replace(thread.after.patches[1], thread_width=0.5)
    assert wide.merge_key
    none = changes.set_cloth(wide.after, 1, "")
    assert none.after.patches[1].cloth == ""
    shared = changes.use_thread_for_all(wide.after, 1).after.patches
    assert [(each.thread, each.thread_width, each.cloth) for each in shared] == [
        ("#F0F0F0", 0.5, ""), ("#F0F0F0", 0.5, "#1A2B3C"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "change",
    [
        lambda plan: changes.set_cloth(plan, 0, "blue"),
        lambda plan: changes.set_thread(plan, 0, "#12345"),
        lambda plan: changes.set_thread_width(plan, 0, 0.0),
    ],
)
def test_a_look_that_cannot_be_is_refused(change: Callable[[Plan], Change]) -> None:
    with pytest.raises(PlanError):
        change(plan_of("One"))


def test_a_reshaped_patch_keeps_its_look() -> None:
    plan = changes.set_cloth(changes.set_thread_width(plan_of("One"), 0, 1.5).after, 0, "#1A2B3C").after
    moved = with_corner_at(plan, 0, 2, (150.0, 150.0)).after.patches[0]
    assert (moved.cloth, moved.thread_width) == ("#1A2B3C", 1.5)
