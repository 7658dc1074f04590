"""What is spoken of a key's work."""

from __future__ import annotations

from app.sketch.modes.overlay import Handle, HandleKind, HandleState, Label, Overlay
from app.sketch.spoken import held_words
from geometry import Patch, fit
from geometry.units import MM_PER_INCH, LengthStyle

INCH = MM_PER_INCH
EIGHTHS = LengthStyle.EIGHTHS
BLOCK = fit(Patch([(0, 0), (8 * INCH, 0), (8 * INCH, 8 * INCH), (0, 8 * INCH)]), (4 * INCH, 4 * INCH))


def anchor(x: float, y: float, state: HandleState = HandleState.IDLE) -> Handle:
    return Handle((x * INCH, y * INCH), HandleKind.ANCHOR, state)


def test_the_only_anchor_needs_no_number() -> None:
    overlay = Overlay((anchor(3.125, 5),))
    assert held_words(overlay, BLOCK, EIGHTHS) == "anchor at x 3 1/8 in, y 5 in"
    assert held_words(overlay, BLOCK, LengthStyle.CM) == "anchor at x 7.9 cm, y 12.7 cm"


def test_of_several_anchors_the_chosen_one_is_named() -> None:
    overlay = Overlay((anchor(1, 1), anchor(5, 2, HandleState.CHOSEN), anchor(6, 6)))
    assert held_words(overlay, BLOCK, EIGHTHS) == "anchor 2 of 3 at x 5 in, y 2 in"
    assert held_words(Overlay((anchor(1, 1), anchor(5, 2))), BLOCK, EIGHTHS) == ""


def test_a_corner_has_its_letters_and_where_it_has_none_its_number() -> None:
    corners = [(0.0, 0.0), (8.0, 0.0), (8.0, 8.0), (0.0, 8.0), (3.0, 8.0)]
    names = {mark.foot: mark.name for fan in BLOCK.fans for mark in fan.marks}
    for chosen, (x, y) in enumerate(corners):
        overlay = Overlay(
            tuple(
                Handle(
                    (a * INCH, b * INCH),
                    HandleKind.CORNER,
                    HandleState.CHOSEN if number == chosen else HandleState.IDLE,
                )
                for number, (a, b) in enumerate(corners)
            )
        )
        said = held_words(overlay, BLOCK, EIGHTHS)
        name = names.get((x * INCH, y * INCH))
        begins = f"corner {name} at" if chosen < 4 else "corner 5 of 5 at"
        assert said == f"{begins} x {x:g} in, y {y:g} in"


def test_a_mark_is_told_as_the_words_beside_it() -> None:
    handle = Handle((INCH, 0.0), HandleKind.MARK, HandleState.CHOSEN)
    label = Label((INCH, 0.0), "mark A1, your own\n1 in from corner DA\n7 in to corner AB")
    said = held_words(Overlay((handle,), labels=(label,)), BLOCK, EIGHTHS)
    assert said == "mark A1, your own, 1 in from corner DA, 7 in to corner AB"


def test_what_is_typed_is_heard_without_its_sign_and_lengths_on_sides_are_not() -> None:
    typed = Label((0.0, 0.0), "4 3/8▏in\nEnter: so far from corner DA")
    length = Label((0.0, 0.0), "8 in", centred=True)
    said = held_words(Overlay(labels=(length, typed)), None, EIGHTHS)
    assert said == "4 3/8 in, Enter: so far from corner DA"
    assert held_words(Overlay(), None, EIGHTHS) == ""
