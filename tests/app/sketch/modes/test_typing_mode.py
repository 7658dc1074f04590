"""Esc and undo in the modes with a typed length: one order, whichever mode it is."""

from __future__ import annotations

import pytest

from app.sketch.modes.draw import DrawMode
from app.sketch.modes.events import Key, KeyPress, Pointer
from app.sketch.modes.hole import HoleMode
from app.sketch.modes.marks import MarksMode
from app.sketch.modes.mode import IGNORED
from app.sketch.modes.shape import ShapeMode
from app.sketch.modes.typing_mode import TypingMode
from geometry.units import LengthStyle
from tests.app.sketch.modes.bench import SCALE, Bench

SIDE = 200.0
"""Of the patch, mm."""


def desk() -> Bench:
    return Bench(style=LengthStyle.MM)


def at(x: float, y: float) -> Pointer:
    return Pointer((x, y), SCALE, True)


def type_(mode: TypingMode, text: str) -> None:
    for character in text:
        assert mode.key(KeyPress(at(0, 0), text=character)).taken


def everything(mode: TypingMode) -> tuple[object, ...]:
    shown = mode.overlay(2.0)
    return shown.handles, len(shown.drafts), [label.text for label in shown.labels], mode.busy


MODES = {"shape": ShapeMode, "marks": MarksMode, "draw": DrawMode, "hole": HoleMode}
START = {"shape": (SIDE, SIDE), "marks": (100.0, 6.35), "draw": (50.0, 50.0), "hole": (50.0, 50.0)}


@pytest.mark.parametrize("name", MODES)
def test_esc_forgets_what_is_typed_then_what_is_held_then_what_is_chosen_then_leaves(name: str) -> None:
    mode = MODES[name](desk())
    x, y = START[name]
    mode.move(at(x, y))
    mode.press(at(x, y))
    mode.move(at(x + 12, y - 9))
    if name == "shape":  # lengths are typed for a side, with nothing held
        mode.cancel()
        mode.move(at(100, 0))
        mode.press(at(100, 0))
        mode.release(at(100, 0))
    elif name in ("draw", "hole"):
        mode.release(at(x + 12, y - 9))
        mode.move(at(x + 60, y))
    steps = [everything(mode)]
    type_(mode, "12")
    outcome = mode.cancel()
    assert outcome.taken
    assert not outcome.leave
    assert everything(mode)[2] == steps[0][2], "only what was typed is gone"
    left = 0
    while not outcome.leave:
        before = everything(mode)
        outcome = mode.cancel()
        assert outcome.leave or everything(mode) != before, "an Esc that does nothing"
        left += 1
        assert left < 4
    assert left >= 2, "something was held or chosen"
    assert not mode.busy
    assert mode.candidate is None
    assert mode.cancel().leave


@pytest.mark.parametrize("name", MODES)
def test_undo_takes_back_the_last_digit(name: str) -> None:
    mode = MODES[name](desk())
    assert mode.undo() == IGNORED
    x, y = START[name]
    if name == "shape":
        x, y = 100.0, 0.0
    mode.move(at(x, y))
    mode.press(at(x, y))
    mode.release(at(x, y))
    mode.move(at(x + 40, y))
    type_(mode, "123")
    assert "123" in str(everything(mode))
    assert mode.undo().taken
    assert "12" in str(everything(mode))
    assert "123" not in str(everything(mode))
    assert mode.key(KeyPress(at(x, y), Key.BACKSPACE)).taken
    assert "12" not in str(everything(mode)[2])


@pytest.mark.parametrize("name", ["shape", "marks"])
def test_a_drag_that_esc_ends_leaves_what_was_held_chosen(name: str) -> None:
    mode = MODES[name](desk())
    x, y = (SIDE, SIDE) if name == "shape" else (100.0, 6.35)
    mode.move(at(x, y))
    mode.press(at(x, y))
    mode.move(at(x - 20, y))
    assert mode.candidate is not None
    assert not mode.cancel().leave
    assert mode.candidate is None
    assert not mode.busy
    assert not mode.cancel().leave, "it stays chosen"
    assert mode.cancel().leave
