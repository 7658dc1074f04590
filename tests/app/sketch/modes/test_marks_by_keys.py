"""Marks mode by keys: exact lengths, counts of spans, and from mark to mark."""

from __future__ import annotations

import pytest

from app.sketch.modes.events import Key, KeyPress, Pointer
from app.sketch.modes.overlay import HandleKind, HandleState
from geometry import Settings
from geometry.marks import MarkKind
from geometry.units import LengthStyle
from tests.app.sketch.modes.bench import INCH, SCALE
from tests.app.sketch.modes.marks_desk import MARGIN, SIDE, TOP, Desk


@pytest.mark.parametrize(("typed", "inches"), [("2 3/8", 2.375), ("5", 5.0), ("6cm", 6 / 2.54)])
def test_a_typed_length_says_how_far_from_the_corner_before(typed: str, inches: float) -> None:
    desk = Desk()
    desk.click(SIDE / 2, TOP)
    desk.type(typed, enter=False)
    unit = "" if typed.endswith("cm") else "in"
    assert desk.label == f"{typed}▏{unit}\nEnter: so far from corner DA"
    desk.key(Key.ENTER)
    assert desk.marks["A1"].from_start == pytest.approx(inches * INCH, abs=1e-9)
    assert desk.steps == ["Move mark"]


def test_a_length_typed_while_dragging_ends_the_drag_there() -> None:
    desk = Desk()
    desk.press(SIDE / 2, TOP)
    desk.move(3 * INCH, TOP)
    desk.type("2.2")
    assert not desk.mode.busy
    desk.release(3 * INCH, TOP)
    assert desk.marks["A1"].from_start == pytest.approx(2.2 * INCH, abs=1e-9)
    assert desk.steps == ["Move mark"]


def test_a_length_typed_over_a_side_adds_a_mark() -> None:
    desk = Desk()
    desk.move(SIDE - MARGIN, 3 * INCH)
    desk.type("2 1/8")
    assert desk.marks["B1"].from_start == pytest.approx(2.125 * INCH, abs=1e-9)
    assert desk.steps == ["Add mark"]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("9", "side A is 8 in long"),
        ("1/8", "the edge has no place there:\nso near to a corner it has turned"),
        ("3 4", "“3 4” is two numbers and not one length"),
        ("1/0", "“1/0” divides by zero"),
    ],
)
def test_a_length_that_cannot_be_is_explained_and_kept(typed: str, said: str) -> None:
    desk = Desk()
    plan = desk.plan
    desk.click(SIDE / 2, TOP)
    desk.type(typed)
    assert desk.plan is plan
    assert desk.label.startswith(f"{typed}▏\n{said}")
    assert desk.mode.overlay(SCALE).labels[0].problem
    desk.key(Key.BACKSPACE)
    assert said not in desk.label
    desk.mode.cancel()
    assert desk.label.startswith("mark A1"), "Esc takes what was typed, and leaves the choice"


def test_undo_takes_the_last_digit_back_first() -> None:
    desk = Desk()
    desk.click(SIDE / 2, TOP)
    assert not desk.mode.undo().taken
    desk.type("23", enter=False)
    assert desk.mode.undo().taken
    assert desk.label.startswith("2▏")


def test_nothing_is_typed_for_nothing() -> None:
    desk = Desk()
    desk.do(desk.mode.key(KeyPress(Pointer((0, 0), SCALE), text="4")))
    assert desk.refused == ["Point at a side or choose a mark first, then type"]
    assert not desk.mode.busy


# --- dividing ---------------------------------------------------------------------------------------


def test_a_number_and_enter_divide_the_side_under_the_hand() -> None:
    desk = Desk()
    desk.move(SIDE - MARGIN, 3 * INCH)
    desk.type("5", enter=False)
    assert desk.label == "5▏\nEnter: side B in 5 spans\nor go on to 5 in: the mark there"
    desk.key(Key.ENTER)
    assert desk.settings == Settings(side_spans=(("B", 5),))
    assert [name for name in desk.marks if name[0] == "B"] == ["B1", "B2", "B3", "B4", "BC"]
    desk.move(SIDE - MARGIN, 2.9 * INCH)
    desk.type("0", enter=False)
    assert "side B as the other sides" in desk.label
    desk.key(Key.ENTER)
    assert desk.settings == Settings()
    assert desk.steps == ["Side B as the others", "Divide side B"]


def test_over_a_mark_that_is_not_chosen_a_number_divides_and_a_length_moves() -> None:
    desk = Desk()
    desk.move(SIDE / 2, TOP)
    desk.type("3")
    assert desk.settings == Settings(side_spans=(("A", 3),))
    desk.history.undo()
    desk.move(SIDE / 2, TOP)
    desk.type("3in")
    assert desk.marks["A1"].from_start == pytest.approx(3 * INCH, abs=1e-9)


@pytest.mark.parametrize("typed", ["100", "250"])
def test_more_spans_than_99_are_explained(typed: str) -> None:
    desk = Desk()
    desk.move(SIDE - MARGIN, 3 * INCH)
    desk.type(typed)
    assert desk.settings == Settings()
    assert desk.label == f"{typed}▏\na side has 1 to 99 spans"


def test_plus_and_minus_divide_it_more_or_less_as_one_step() -> None:
    desk = Desk()
    desk.move(SIDE - MARGIN, 3 * INCH)
    desk.type("+", enter=False)
    desk.type("+", enter=False)
    assert desk.settings.side_spans == (("B", 4),)
    for _ in range(3):
        desk.type("-", enter=False)
    assert desk.settings.side_spans == (("B", 1),)
    assert desk.refused == []
    desk.type("-", enter=False)
    assert desk.refused == ["A side has 1 to 99 spans"]
    assert desk.settings.side_spans == (("B", 1),)
    assert desk.steps == ["Divide side B"]


def test_after_a_step_what_is_under_the_hand_is_what_is_there_now() -> None:
    desk = Desk()
    desk.move(SIDE - MARGIN, 2 * INCH)
    assert desk.label.startswith("side B, AB to B1")
    desk.type("4")
    assert desk.marks["B1"].from_start == pytest.approx(2.125 * INCH)
    assert desk.label.startswith("mark B1\n2 1/8 in from corner AB")
    desk.history.undo()
    assert desk.label.startswith("side B, AB to B1")
    desk.click(SIDE - MARGIN, 2 * INCH)
    assert desk.label.startswith("mark B1, your own")
    desk.key(Key.DELETE)
    assert desk.label == "", "the keys took it away: the hand points at nothing until it moves"


def test_by_keys_the_side_is_that_of_the_chosen_mark() -> None:
    desk = Desk()
    desk.key(Key.MORE_SPANS)
    assert desk.refused == ["Point at a side or choose a mark on it first, then divide it"]
    desk.key(Key.NEXT)
    desk.key(Key.NEXT)  # A1
    desk.key(Key.MORE_SPANS)
    desk.key(Key.MORE_SPANS)
    assert desk.settings.side_spans == (("A", 4),), "A1 is gone from its place, the side is still meant"
    desk.key(Key.FEWER_SPANS)
    assert desk.settings.side_spans == (("A", 3),)
    desk.key(Key.USUAL_SPANS)
    assert desk.settings == Settings()


def test_a_divided_side_has_all_its_divisions_and_keeps_the_users_own() -> None:
    desk = Desk(own_marks=((3 * INCH, TOP),))
    for at in ((SIDE / 2, TOP), (MARGIN, TOP), (SIDE - MARGIN, SIDE / 2)):
        desk.click(*at)
        desk.key(Key.DELETE)
    desk.move(2 * INCH, TOP)
    desk.type("4")
    divisions = [m for m in desk.marks.values() if m.side == "A" and m.kind is MarkKind.DIVISION]
    assert len(divisions) == 3
    assert desk.settings.own_marks == ((3 * INCH, TOP),)
    assert "DA" not in desk.marks, "a corner taken away is no division"
    assert (SIDE - MARGIN, SIDE / 2) in desk.settings.removed_marks, "nor is what another side lacks"


def test_all_marks_as_usual() -> None:
    desk = Desk(own_marks=((3 * INCH, TOP),), side_spans=(("B", 5),), removed_marks=((SIDE / 2, TOP),))
    desk.key(Key.USUAL_MARKS)
    assert desk.settings == Settings()
    assert desk.steps == ["Marks as usual"]


# --- by keys ----------------------------------------------------------------------------------------


def test_next_and_previous_go_from_mark_to_mark_along_the_edge() -> None:
    desk = Desk()
    names = []
    for _ in range(9):
        desk.key(Key.NEXT)
        names.append(desk.label.split("\n")[0].split()[-1])
    assert names == ["DA", "A1", "AB", "B1", "BC", "C1", "CD", "D1", "DA"]
    desk.key(Key.PREVIOUS)
    assert desk.label.startswith("mark D1")
    assert [h.at for h in desk.mode.overlay(SCALE).handles if h.state is HandleState.CHOSEN] == [
        desk.marks["D1"].at
    ]


@pytest.mark.parametrize(
    ("style", "fine", "step"),
    [
        (LengthStyle.EIGHTHS, False, INCH / 8),
        (LengthStyle.EIGHTHS, True, INCH / 16),
        (LengthStyle.CM, False, 2.0),
        (LengthStyle.CM, True, 1.0),
    ],
)
def test_arrows_move_the_chosen_mark_along_its_side(style: LengthStyle, fine: bool, step: float) -> None:
    desk = Desk()
    desk.style = style
    # On side C, which runs to the left, the key to the right still moves to the right.
    for mark, (back, on), sign in (("A1", (Key.LEFT, Key.RIGHT), 1), ("C1", (Key.LEFT, Key.RIGHT), -1)):
        desk.mode.leave()
        desk.click(*desk.marks[mark].at)
        for _ in range(3):
            desk.key(on, fine=fine)
        desk.key(back, fine=fine)
        assert desk.marks[mark].from_start == pytest.approx(SIDE / 2 + sign * 2 * step, abs=1e-9)
        desk.key(Key.UP)
        assert desk.marks[mark].from_start == pytest.approx(SIDE / 2 + sign * 2 * step, abs=1e-9)
    assert desk.steps == ["Move mark", "Move mark"]


def test_a_sixteenth_is_shown_as_one() -> None:
    desk = Desk()
    desk.click(SIDE / 2, TOP)
    desk.key(Key.RIGHT, fine=True)
    assert desk.label == "mark A1, your own\n4 1/16 in from corner DA\n3 15/16 in to corner AB"


def test_arrows_stop_at_the_sides_end_and_leave_corners() -> None:
    desk = Desk(own_marks=((MARGIN + 2, TOP),))
    desk.click(MARGIN + 10, TOP)
    desk.mode.leave()
    desk.key(Key.NEXT)
    desk.key(Key.RIGHT)
    assert desk.refused == ["A corner stays where the patch has it: Shape moves the patch's corner"]
    desk.key(Key.NEXT)
    place = desk.marks["A1"].at
    desk.key(Key.LEFT)
    assert desk.refused[-1] == "Side A ends here: the mark stays on it"
    assert desk.marks["A1"].at == place


def test_esc_lets_go_of_the_choice_and_then_leaves() -> None:
    desk = Desk()
    desk.key(Key.NEXT)
    assert not desk.mode.cancel().leave
    assert desk.label == ""
    assert desk.mode.cancel().leave


def test_after_undo_nothing_is_chosen_that_is_not_there() -> None:
    desk = Desk()
    desk.click(3 * INCH, TOP)
    assert desk.label.startswith("mark A1, your own")
    desk.history.undo()
    assert desk.label.startswith("side A, DA to A1"), "which is what is under the hand now"
    assert all(h.kind is HandleKind.MARK for h in desk.mode.overlay(SCALE).handles)
    desk.key(Key.DELETE)
    assert desk.settings == Settings()
