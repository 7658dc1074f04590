"""Rotated, mirrored, scaled: the fit after is the fit before, turned, by what the engine makes of both."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from msgspec.structs import replace

from app.plan.model import Plan, PlanPatch, Try
from app.sketch.changes import Change
from app.sketch.transform import mirrored, rotated, scaled, seam_sides
from geometry import Fit, Patch, PatchError, Settings, fit
from geometry.ground import ground_of

INCH = 25.4
KITE = ((0.0, 0.0), (220.0, -30.0), (260.0, 190.0), (40.0, 150.0), (-20.0, 70.0))
HOLE = ((120.0, 60.0), (120.0, 100.0), (160.0, 80.0))
ANCHOR = (70.0, 60.0)


def plan_of(settings: Settings, holes: tuple[tuple[tuple[float, float], ...], ...] = ()) -> Plan:
    tried = Try(name="one", anchors=((60.0, 80.0),), settings=settings)
    piece = PlanPatch.of("Kite", Patch(KITE, holes), [ANCHOR], settings=settings, tries=(tried,), repeats=3)
    return Plan(patches=(piece,))


def fitted(plan: Plan) -> Fit:
    piece = plan.patches[0]
    return fit(piece.patch(), piece.anchors, piece.settings)


def sides(plan: Plan) -> list[float]:
    return sorted(wedge.side_length for fan in fitted(plan).fans for wedge in fan.wedges)


def marks(piece: PlanPatch) -> np.ndarray:
    found = [mark.at for edge in ground_of(piece.patch(), piece.settings).marked for mark in edge.marks]
    return np.array(sorted(found))


def with_all_marks() -> Settings:
    """Every setting that is about places, letters or numbers."""
    bare = Settings(side_spans=(("A", 4), ("C", 3)))
    edge = ground_of(Patch(KITE), bare).marked[0]
    second = next(mark for mark in edge.marks if mark.name == "B1")
    corner = next(mark for mark in edge.marks if mark.name == "AB")
    own = ((55.0, -1.0), (250.0, 100.0))
    return dataclasses.replace(
        bare, own_marks=own, removed_marks=(second.at, corner.at), start=(100.0, 20.0), first_wedge=3
    )


CHANGES = {
    "quarter": lambda plan: rotated(plan, 0, 90.0),
    "33 degrees": lambda plan: rotated(plan, 0, 33.0),
    "left and right": lambda plan: mirrored(plan, 0, upright=False),
    "up and down": lambda plan: mirrored(plan, 0, upright=True),
}


@pytest.mark.parametrize("name", CHANGES)
@pytest.mark.parametrize("holes", [(), (HOLE,)], ids=["whole", "hole"])
def test_the_fit_goes_along(name: str, holes: tuple[tuple[tuple[float, float], ...], ...]) -> None:
    plan = plan_of(with_all_marks(), holes)
    change: Change = CHANGES[name](plan)
    assert change.before is plan
    assert sides(change.after) == pytest.approx(sides(plan), abs=1e-6)
    before, after = fitted(plan), fitted(change.after)
    assert after.path.length == pytest.approx(before.path.length, abs=1e-6)
    assert change.after.patches[0].repeats == 3


@pytest.mark.parametrize("name", CHANGES)
def test_marks_and_places_go_along(name: str) -> None:
    plan = plan_of(with_all_marks())
    old = plan.patches[0]
    new = CHANGES[name](plan).after.patches[0]
    # The map, found from the corners alone: least squares over them, matched by their distance to the anchor.
    order = [np.argsort(np.hypot(*(np.array(p.outline) - p.anchors[0]).T)) for p in (old, new)]
    ones = [
        np.column_stack([np.array(p.outline)[o], np.ones(5)]) for p, o in zip((old, new), order, strict=True)
    ]
    to = np.linalg.lstsq(ones[0], ones[1][:, :2], rcond=None)[0]

    def image(points: object) -> np.ndarray:
        rows = np.array(points, dtype=float).reshape(-1, 2)
        return np.column_stack([rows, np.ones(len(rows))]) @ to

    assert np.array(sorted(image(marks(old)).tolist())) == pytest.approx(marks(new), abs=1e-6)
    assert image(old.settings.start)[0] == pytest.approx(new.settings.start, abs=1e-9)
    assert image(old.tries[0].anchors[0])[0] == pytest.approx(new.tries[0].anchors[0], abs=1e-9)
    tried = replace(new, anchors=new.tries[0].anchors, settings=new.tries[0].settings)
    assert marks(tried) == pytest.approx(marks(new))
    first = {
        which.name: next(
            wedge.side.mean(axis=0)
            for fan in fit(which.patch(), which.anchors, which.settings).fans
            for wedge in fan.wedges
            if wedge.number == which.settings.first_wedge
        )
        for which in (replace(old, name="old"), replace(new, name="new"))
    }
    assert image(first["old"])[0] == pytest.approx(first["new"], abs=1e-6)


def test_a_mirror_takes_merged_spans_along() -> None:
    settings = Settings(spans_per_side=14, merged_spans=())
    plan = plan_of(settings)
    thin = next(wedge for wedge in fitted(plan).fans[0].wedges if wedge.across < settings.visible_width)
    merging = plan_of(dataclasses.replace(settings, merged_spans=(thin.span,)))
    assert sides(merging) != pytest.approx(sides(plan))
    assert sides(mirrored(merging, 0, upright=False).after) == pytest.approx(sides(merging), abs=1e-6)


def test_twice_mirrored_and_four_quarters_are_where_they_were() -> None:
    plan = plan_of(with_all_marks())
    there = mirrored(mirrored(plan, 0, upright=True).after, 0, upright=True).after
    assert set(there.patches[0].settings.side_spans) == {("A", 4), ("C", 3)}
    around = plan
    for _ in range(4):
        around = rotated(around, 0, 90.0).after
    for end in (there, around):
        assert np.array(end.patches[0].outline) == pytest.approx(np.array(KITE), abs=1e-9)
        assert end.patches[0].anchors[0] == pytest.approx(ANCHOR)


def test_a_quarter_turn_is_clockwise_and_exact() -> None:
    plan = Plan(
        patches=(PlanPatch.of("Bar", Patch([(0, 0), (300, 0), (300, 100), (0, 100)]), [(30.0, 20.0)]),)
    )
    bar = rotated(plan, 0, 90.0).after.patches[0]
    assert set(bar.outline) == {(100.0, -100.0), (200.0, -100.0), (200.0, 200.0), (100.0, 200.0)}
    # What was left of the middle is above it now, what was above is on the right.
    assert bar.anchors[0] == (180.0, -70.0)


def test_scaling_gives_the_length_and_keeps_the_settings_lengths() -> None:
    settings = dataclasses.replace(with_all_marks(), first_wedge=0, own_marks=())
    plan = plan_of(settings)
    side = seam_sides(plan.patches[0].patch(), settings)[1]
    assert side.letter == "B"
    assert side.length == pytest.approx(math.dist(KITE[1], KITE[2]))
    after = scaled(plan, 0, 12 * INCH / side.length).after
    piece = after.patches[0]
    assert seam_sides(piece.patch(), settings)[1].length == pytest.approx(12 * INCH)
    assert piece.settings.edge_margin == settings.edge_margin
    names = [
        {
            mark.name
            for edge in ground_of(p.patches[0].patch(), p.patches[0].settings).marked
            for mark in edge.marks
        }
        for p in (plan, after)
    ]
    assert names[0] == names[1], "the marks that were taken away are still away"


def test_what_is_no_patch_any_more_is_refused() -> None:
    plan = plan_of(Settings())
    with pytest.raises(PatchError):
        scaled(plan, 0, 1000.0)
