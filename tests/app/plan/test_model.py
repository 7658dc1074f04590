from __future__ import annotations

import gc

import pytest
from msgspec.structs import replace

from app.plan.model import Plan, PlanError, PlanPatch
from geometry import Patch, PatchError, fit
from tests.app.plan.samples import SQUARE, small_plan, square


def test_one_shape_is_one_patch_object() -> None:
    """The engine keeps what it prepared per Patch object, so a drag must not make new ones."""
    patch = square()
    dragged = replace(patch, anchors=((5.0, 5.0),), repeats=3)
    separately = square("another", outline=tuple((float(x), float(y)) for x, y in SQUARE))
    assert dragged.patch() is patch.patch()
    assert separately.patch() is patch.patch()
    assert square("third", outline=SQUARE[1:] + SQUARE[:1]).patch() is not patch.patch()
    assert square("fourth", holes=(((1.0, 1.0), (1.0, 9.0), (9.0, 9.0)),)).patch() is not patch.patch()


def test_patches_no_longer_used_are_forgotten() -> None:
    from app.plan import model

    outline = ((0.0, 0.0), (123.0, 0.0), (0.0, 456.0))
    patch = square("gone soon", outline=outline)
    patch.patch()
    assert (outline, ()) in model._known
    del patch
    gc.collect()
    assert (outline, ()) not in model._known


def test_of_takes_the_patch_as_repaired_and_keeps_what_is_known_of_it() -> None:
    given = Patch([(0, 0), (50, 0), (50, 0), (50, 50), (0, 50)], holes=[[(10, 10), (20, 10), (20, 20)]])
    assert given.repairs
    patch = PlanPatch.of("Mended", given, [(5, 5)], repeats=2)
    assert patch.patch() is given
    assert replace(patch, repeats=3).patch() is given
    assert patch.outline == ((0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0))
    assert len(patch.holes) == 1
    assert patch.repeats == 2
    assert fit(patch.patch(), patch.anchors[0]).patch is given


def test_a_patch_that_cannot_be_is_refused_when_it_is_used() -> None:
    with pytest.raises(PatchError):
        square(outline=((0.0, 0.0), (1.0, 1.0), (2.0, 2.0))).patch()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"name": " "}, "needs a name"),
        ({"name": "a\nb"}, "character 2 of the name"),
        ({"name": "a\ud800"}, "character 2 of the name"),
        ({"anchors": ()}, "patch “Square”: it has no anchor"),
        ({"anchors": ((float("nan"), 0.0),)}, "patch “Square”: an anchor is not"),
        ({"repeats": 0}, "patch “Square”: 0 repeats are too few; give 1"),
        ({"repeats": 10_001}, "patch “Square”: 10001 repeats are too many; give 10000"),
        ({"cloth": "red"}, "patch “Square”: “red” is no colour for the cloth; write it like #"),
        ({"thread": "#0e4c66"}, "patch “Square”: “#0e4c66” is no colour for the thread"),
        ({"thread": "#0E4C66\n"}, "is no colour for the thread"),
        ({"thread_width": 0.09}, "patch “Square”: a thread of 0.09 mm cannot be; give 0.1 to 2 mm"),
        ({"thread_width": 2.01}, "a thread of 2.01 mm cannot be"),
        ({"thread_width": float("nan")}, "a thread of nan mm cannot be"),
    ],
)
def test_wrong_values_are_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(PlanError, match=words):
        square(**changes)


def test_names_are_unique_and_found() -> None:
    plan = small_plan()
    assert plan.index("Square") == 0
    with pytest.raises(PlanError, match="patch “Square”: two patches"):
        Plan(patches=(square(), square()))
    with pytest.raises(PlanError, match="no patch has the name “Kite”; choose one of these: “Square”, “N"):
        plan.index("Kite")
    with pytest.raises(PlanError, match="character 1 of the title"):
        Plan(title="\r")
