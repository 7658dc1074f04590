"""Photo mode without a window: places shown, moved and told, and undo of each."""

from __future__ import annotations

import math

import numpy as np
import pytest

from app.plan.model import Plan
from app.plan.photo import Photo
from app.sketch import photo_changes
from app.sketch.modes.events import Key, KeyPress, Pointer
from app.sketch.modes.mode import Outcome
from app.sketch.modes.overlay import HandleState
from app.sketch.modes.photo import SHEETS, Known, PhotoMode, known_of, size_of
from tests.app.sketch.modes import bench
from tests.photos import BLOCK, INCH, SEEN, jpeg_header, seen_at


class Desk(bench.Desk):
    """With a hand whose places are pixels of the photo."""

    def __init__(self, *, photo: bool = True) -> None:
        super().__init__(Plan(photo=Photo(data=jpeg_header(2000, 1500)) if photo else None))
        self.mode = PhotoMode(self)

    @property
    def photo(self) -> Photo:
        assert self.plan.photo is not None
        return self.plan.photo

    def press(self, x: float, y: float) -> Outcome:
        return self.do(self.mode.press(_at(x, y)))

    def move(self, x: float, y: float) -> None:
        self.do(self.mode.move(_at(x, y)))

    def release(self, x: float, y: float) -> None:
        self.do(self.mode.release(_at(x, y)))

    def click(self, x: float, y: float) -> None:
        self.move(x, y)
        self.press(x, y)
        self.release(x, y)

    def key(self, key: Key, *, fine: bool = False) -> Outcome:
        return self.do(self.mode.key(KeyPress(_at(1000, 750), key, fine=fine)))

    def tell(self, across: float, down: float) -> None:
        self.history.push(photo_changes.tell_size(self.plan, (across, down)))

    def tell_place(self, number: int, x: float, y: float) -> None:
        self.history.push(photo_changes.tell_place(self.plan, number, (x, y)))

    def squared(self) -> None:
        for x, y in SEEN:
            self.click(x, y)
        self.tell(BLOCK, BLOCK)


def _at(x: float, y: float) -> Pointer:
    return Pointer((x, y), 0.4)


def test_four_clicks_and_a_size() -> None:
    """Each step has its own sentence, and each is undone by itself."""
    desk = Desk()
    hints, names = [desk.mode.hint], []
    for x, y in SEEN:
        desk.click(x, y)
        hints.append(desk.mode.hint)
        names.append(desk.history.undo_name)
    assert desk.photo.corners == SEEN
    assert names == [f"Show corner {name}" for name in "ABCD"]
    assert not desk.mode.is_squared
    desk.tell(BLOCK, BLOCK)
    hints.append(desk.mode.hint)
    assert len(set(hints)) == 6
    assert all(hint.endswith(".") and "\n" not in hint for hint in hints)
    assert desk.mode.is_squared
    assert desk.key(Key.ENTER).leave
    for left in (4, 3, 2, 1, 0):
        desk.history.undo()
        assert len(desk.photo.corners) == left
    assert desk.photo.size is None


def test_the_hand_slides_before_it_lets_go() -> None:
    desk = Desk()
    desk.press(400, 300)
    desk.move(430, 320)
    overlay = desk.mode.overlay(0.4)
    assert overlay.magnified == (430, 320)
    assert [handle.at for handle in overlay.handles] == [(430, 320)]
    assert desk.photo.corners == ()  # nothing is in the plan yet
    desk.release(431, 321)
    assert desk.photo.corners == ((431, 321),)


def test_a_drag_is_one_step_and_does_not_jump() -> None:
    desk = Desk()
    desk.squared()
    x, y = SEEN[1]
    desk.move(x + 20, y)
    assert desk.mode.overlay(0.4).handles[1].state is HandleState.HOT
    desk.press(x + 20, y)  # beside its middle
    for step in range(1, 6):
        desk.move(x + 20 + 10 * step, y + 4 * step)
    assert desk.photo.corners == SEEN
    shown = desk.mode.photo
    assert shown is not None
    assert shown.corners[1] == (x + 50, y + 20)
    desk.release(x + 70, y + 20)
    assert desk.photo.corners[1] == (x + 50, y + 20)
    assert desk.history.undo_name == "Move B in the photo"
    desk.history.undo()
    assert desk.photo.corners == SEEN


def test_escape_step_by_step() -> None:
    desk = Desk()
    desk.squared()
    before = desk.plan
    desk.press(*SEEN[0])
    desk.move(700, 700)
    assert desk.mode.busy
    assert not desk.mode.cancel().leave
    assert not desk.mode.busy
    desk.release(700, 700)
    assert desk.plan is before
    desk.mode.add_place()
    asked = desk.mode.hint
    assert not desk.mode.cancel().leave
    assert desk.mode.hint != asked
    assert desk.mode.chosen == 0
    assert not desk.mode.cancel().leave
    assert desk.mode.chosen is None
    assert desk.mode.cancel().leave


def test_keys_alone() -> None:
    """Insert shows a corner in the middle of what is seen, arrows bring it where it belongs."""
    desk = Desk()
    for number, (x, y) in enumerate(SEEN):
        desk.key(Key.INSERT)
        assert desk.mode.chosen == number
        for key, times in (
            (Key.LEFT, 1000 - x), (Key.RIGHT, x - 1000), (Key.UP, 750 - y), (Key.DOWN, y - 750),
        ):  # fmt: skip
            for _ in range(round(times)):
                desk.key(key)
        assert desk.mode.overlay(0.4).magnified == (x, y)
    assert desk.photo.corners == SEEN
    desk.key(Key.NEXT)
    assert desk.mode.chosen == 0
    desk.key(Key.PREVIOUS)
    assert desk.mode.chosen == 3
    desk.key(Key.RIGHT, fine=True)
    assert desk.photo.corners[3] == (SEEN[3][0] + 0.25, SEEN[3][1])
    desk.history.undo()  # all presses of one place are one step
    assert desk.photo.corners[3] == (1000, 750)


def test_no_place_leaves_the_photo() -> None:
    desk = Desk()
    desk.click(-30, 1700)
    assert desk.photo.corners == ((0.0, 1500.0),)
    desk.key(Key.LEFT)
    assert desk.photo.corners == ((0.0, 1500.0),)


def test_further_places_show_what_misses() -> None:
    """The one that is 1/2 in wrong stands out, in eighths; those that agree fit."""
    desk = Desk()
    desk.squared()
    assert desk.mode.worst is None
    for number, (x, y) in enumerate(((6.0, 0.0), (12.0, 6.0), (6.0, 12.0), (0.0, 6.0), (6.0, 6.0)), start=4):
        desk.mode.add_place()
        desk.click(*seen_at(x, y))
        assert desk.photo.others[-1].place is None
        assert f"how far {'ABCDEFGHI'[number]} lies" in desk.mode.hint
        desk.tell_place(number, x * INCH, y * INCH)
    assert desk.mode.hint.startswith("All places fit within 1/8 in")
    assert desk.photo.squared is not None
    assert max(desk.photo.squared.misfits) < 1e-6
    desk.tell_place(8, 6.5 * INCH, 6 * INCH)
    number, misfit = desk.mode.worst or (0, 0.0)
    assert number == 8
    assert misfit == pytest.approx(max(desk.photo.squared.misfits))
    assert 0.3 * INCH < misfit < 0.5 * INCH
    assert desk.mode.hint.startswith("I misses most, by 3/8 in.") or "1/2 in" in desk.mode.hint
    words = [label.text for label in desk.mode.overlay(0.4).labels]
    assert any(text.startswith("I: ") and text.endswith(" off") for text in words)
    assert not any(label.text == "12 in" for label in desk.mode.overlay(0.4).labels)


def test_misfits_are_the_engine_s() -> None:
    desk = Desk()
    desk.squared()
    desk.mode.add_place()
    x, y = seen_at(6.0, 6.0)
    desk.click(x + 12, y - 5)
    desk.tell_place(4, 6 * INCH, 6 * INCH)
    squared = desk.photo.squared
    assert squared is not None
    back = squared.on_cloth(np.array([desk.photo.spots[4]]))[0]
    assert math.dist(back, (6 * INCH, 6 * INCH)) == pytest.approx(squared.misfits[4])


def test_delete() -> None:
    desk = Desk()
    desk.squared()
    desk.mode.add_place()
    desk.click(900, 700)
    assert desk.mode.chosen == 4
    desk.key(Key.DELETE)
    assert len(desk.photo.spots) == 4
    desk.press(*SEEN[1])
    desk.release(*SEEN[1])
    desk.key(Key.DELETE)
    assert desk.refused[-1].startswith("corner B is needed")
    desk.press(*SEEN[3])
    desk.release(*SEEN[3])
    desk.key(Key.DELETE)
    assert desk.photo.corners == SEEN[:3]


def test_places_that_no_camera_sees() -> None:
    """Crossed over, or three in a line: one sentence, no squaring, and Enter stays."""
    for corners in ((SEEN[0], SEEN[2], SEEN[1], SEEN[3]), ((0, 0), (500, 0), (1000, 0), (0, 900))):
        desk = Desk()
        for x, y in corners:
            desk.click(x, y)
        desk.tell(BLOCK, BLOCK)
        assert not desk.mode.is_squared
        assert desk.mode.overlay(0.4).drafts[0].refused
        outcome = desk.key(Key.ENTER)
        assert not outcome.leave
        assert outcome.refused == desk.mode.hint
        assert outcome.refused


def test_without_a_photo() -> None:
    desk = Desk(photo=False)
    assert desk.mode.hint.startswith("Open a photo")
    assert not desk.press(5, 5).taken
    assert not desk.key(Key.INSERT).taken
    assert desk.mode.extent is None
    assert desk.mode.overlay(1.0).handles == ()
    assert desk.mode.cancel().leave


def test_an_empty_place_pans_once_all_corners_are_shown() -> None:
    desk = Desk()
    desk.squared()
    assert not desk.press(50, 50).taken
    desk.mode.add_place()
    assert desk.press(50, 50).taken


@pytest.mark.parametrize("known", list(SHEETS))
def test_sheets(known: Known) -> None:
    """As it lies: its longer side where the photo shows the longer one."""
    short, long = SHEETS[known]
    assert size_of(known, SEEN) == (long, short)
    assert size_of(known, (*SEEN[1:], SEEN[0])) == (short, long)
    assert known_of((long, short)) is known is known_of((short, long))
    assert known_of((short, short)) is Known.BLOCK is known_of(None)
    assert size_of(Known.BLOCK, SEEN) is None


def test_a_sheet_has_the_size_of_the_standards() -> None:
    """ISO 216: A0 is 1 m² of 1 : √2, halved four times, to the mm. ANSI Y14.1 size A: 8 1/2 × 11 in."""
    side = 1000 / 2**0.25 / 4
    assert SHEETS[Known.A4] == (round(side), round(side * 2**0.5))
    assert SHEETS[Known.LETTER] == pytest.approx((8.5 * INCH, 11 * INCH))
