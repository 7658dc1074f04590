from __future__ import annotations

import random

import pytest
from msgspec.structs import replace

from app.plan.model import Plan
from app.sketch import changes
from app.sketch.changes import Change
from app.sketch.history import History
from tests.app.plan.samples import square

START = Plan(title="start", patches=(square("a"),))


def titled(history: History, title: str, merge_key: str | None = None) -> Change:
    return Change(f"to {title}", history.plan, replace(history.plan, title=title), merge_key)


def test_undo_and_redo_name_the_step_they_do() -> None:
    history = History(START)
    assert (history.undo_name, history.redo_name) == (None, None)
    assert not history.undo()
    assert not history.redo()
    history.push(titled(history, "one"))
    history.push(titled(history, "two"))
    assert (history.plan.title, history.undo_name, history.redo_name) == ("two", "to two", None)
    assert history.undo()
    assert (history.plan.title, history.undo_name, history.redo_name) == ("one", "to one", "to two")
    assert history.redo()
    assert history.undo()
    assert history.undo()
    assert history.plan is START
    assert not history.undo()
    history.push(titled(history, "three"))
    assert history.redo_name is None


def test_a_random_walk_agrees_with_a_list_of_plans() -> None:
    """The oracle: all plans in a list and a position in it."""
    chance = random.Random(7)
    for _ in range(30):
        history, plans, at = History(START), [START], 0
        for number in range(60):
            what = chance.choice(["push", "undo", "redo", "drag", "cancelled"])
            if what == "push":
                history.push(titled(history, f"{number}"))
            elif what == "undo":
                assert history.undo() == (at > 0)
                at = max(at - 1, 0)
            elif what == "redo":
                assert history.redo() == (at < len(plans) - 1)
                at = min(at + 1, len(plans) - 1)
            else:
                history.begin("drag")
                for step in range(chance.randint(1, 3)):
                    history.preview(replace(plans[at], title=f"{number} {step}"))
                if what == "drag":
                    history.commit()
                else:
                    history.cancel()
            if what in {"push", "drag"}:
                plans[at + 1 :] = [history.plan]
                at += 1
                assert history.plan.title.startswith(f"{number}")
            assert history.plan == plans[at]
            assert (history.undo_name is None) == (at == 0)
            assert (history.redo_name is None) == (at == len(plans) - 1)


def test_a_change_from_another_plan_is_refused() -> None:
    history = History(START)
    history.push(titled(history, "one"))
    with pytest.raises(ValueError, match="starts from another plan"):
        history.push(changes.set_title(START, "late"))
    assert history.plan.title == "one"


def test_a_change_that_changes_nothing_is_no_step_and_keeps_redo() -> None:
    history = History(START)
    history.push(titled(history, "one"))
    history.undo()
    history.push(changes.set_title(history.plan, "start"))
    assert (history.undo_name, history.redo_name) == (None, "to one")


# --- merging ----------------------------------------------------------------------------------------


def test_values_spun_one_after_another_are_one_step() -> None:
    history = History(START)
    history.push(titled(history, "before"))
    for gap in (1.0, 2.0, 3.0):
        history.push(changes.set_setting(history.plan, 0, gap=gap))
    assert history.plan.patches[0].settings.gap == 3.0
    history.undo()
    assert history.plan.patches[0].settings.gap == 6.35
    assert history.plan.title == "before"
    history.redo()
    assert history.plan.patches[0].settings.gap == 3.0


def steps(history: History) -> int:
    count = 0
    while history.undo():
        count += 1
    return count


def test_what_parts_steps() -> None:
    def spun(between: str, key: str = "k") -> int:
        history = History(START)
        history.push(titled(history, "one", "k"))
        if between == "seal":
            history.seal()
        elif between == "save":
            history.mark_clean()
        elif between == "other":
            history.push(titled(history, "x"))
        elif between == "drag":
            history.begin("d")
            history.preview(replace(history.plan, title="x"))
            history.commit()
        elif between == "undo and redo":
            history.undo()
            history.redo()
        elif between == "cancelled drag":
            history.begin("d")
            history.preview(replace(history.plan, title="x"))
            history.cancel()
        history.push(titled(history, "two", key))
        return steps(history)

    assert spun("nothing") == 1
    assert spun("nothing", key="other") == 2
    assert spun("seal") == 2
    assert spun("save") == 2
    assert spun("other") == 3
    assert spun("drag") == 3
    assert spun("undo and redo") == 2
    assert spun("cancelled drag") == 1


def test_spun_there_and_back_is_no_step() -> None:
    history = History(START)
    history.push(titled(history, "one", "k"))
    history.push(titled(history, "start", "k"))
    assert history.undo_name is None
    assert history.is_clean


# --- drags ------------------------------------------------------------------------------------------


def test_a_drag_is_one_step() -> None:
    history = History(START)
    history.begin("Move anchor")
    assert history.in_drag
    for x in (1.0, 2.0, 3.0):
        history.preview(changes.move_anchor(START, 0, (x, 5.0)).after)
        assert history.plan.patches[0].anchors == ((x, 5.0),)
        assert history.committed is START
        assert history.undo_name is None
    history.commit()
    assert not history.in_drag
    assert history.undo_name == "Move anchor"
    assert history.plan.patches[0].anchors == ((3.0, 5.0),)
    history.undo()
    assert history.plan is START


def _state(history: History) -> tuple[object, ...]:
    """Everything there is, followed to both ends of the stack."""
    shown = (history.plan, history.undo_name, history.redo_name, history.is_clean, history.in_drag)
    back = [history.plan for _ in iter(history.undo, False)]
    forth = [history.plan for _ in iter(history.redo, False)]
    for _ in range(len(forth) - len(back)):
        history.undo()
    return (*shown, back, forth)


def test_esc_leaves_plan_stack_and_redo_as_they_were() -> None:
    def prepared() -> History:
        history = History(START)
        for title in ("one", "two", "three"):
            history.push(titled(history, title))
        history.mark_clean()
        history.undo()
        return history

    history, twin = prepared(), prepared()
    for end in (history.cancel, history.undo, history.redo):
        plan = history.plan
        history.begin("Move anchor")
        history.preview(replace(plan, title="x"))
        history.preview(replace(plan, title="y"))
        end()
        assert history.plan is plan
        assert (history.undo_name, history.redo_name, history.in_drag) == ("to two", "to three", False)
    assert _state(history) == _state(twin)


def test_a_drag_back_to_where_it_began_is_no_step_and_keeps_redo() -> None:
    history = History(START)
    history.push(titled(history, "one"))
    history.undo()
    history.begin("Move anchor")
    history.preview(replace(START, title="x"))
    history.preview(replace(START, title="start"))
    history.commit()
    assert (history.undo_name, history.redo_name) == (None, "to one")


def test_a_change_or_another_drag_in_the_middle_of_a_drag_commits_it() -> None:
    history = History(START)
    history.begin("first")
    history.preview(replace(START, title="x"))
    history.push(titled(history, "y"))
    assert history.plan.title == "y"
    history.begin("second")
    history.preview(replace(history.plan, title="z"))
    history.begin("third")
    history.cancel()
    assert history.undo_name == "second"
    assert steps(history) == 3
    assert history.plan is START


def test_without_a_drag_commit_and_cancel_do_nothing_and_preview_is_a_slip() -> None:
    history = History(START)
    history.commit()
    history.cancel()
    with pytest.raises(ValueError, match="needs a drag"):
        history.preview(START)
    assert history.plan is START


# --- saved or not, listeners ------------------------------------------------------------------------


def test_clean_is_what_the_file_holds() -> None:
    history = History(START)
    assert history.is_clean
    history.push(titled(history, "one"))
    assert not history.is_clean
    saved = history.plan
    history.push(titled(history, "two"))
    history.mark_clean(saved)  # saved in the background, while work went on
    assert not history.is_clean
    history.undo()
    assert history.is_clean
    history.undo()
    assert not history.is_clean
    history.push(titled(history, "one"))  # by hand what undo would have done
    assert history.is_clean
    assert not History(START, saved=False).is_clean


def test_a_drag_that_is_not_committed_is_not_unsaved_work() -> None:
    history = History(START)
    history.begin("Move anchor")
    history.preview(replace(START, title="x"))
    assert history.is_clean
    history.commit()
    assert not history.is_clean


def test_listeners_hear_of_everything_until_they_end() -> None:
    history, heard = History(START), []

    def listener() -> None:
        heard.append((history.plan.title, history.is_clean))

    end = history.listen(listener)
    history.push(titled(history, "one"))
    history.undo()
    history.redo()
    history.mark_clean()
    history.begin("drag")
    history.preview(replace(history.plan, title="x"))
    history.cancel()
    assert heard == [
        ("one", False),
        ("start", True),
        ("one", False),
        ("one", True),
        ("x", True),
        ("one", True),
    ]
    end()
    history.undo()
    assert len(heard) == 6
