"""Photo mode: show four corners of something of known size in the photo, and further places to check.

All places of its events are pixels of the photo, and not mm: the canvas shows the photo as it was taken.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from app.plan.photo import CORNERS, Photo
from app.sketch import photo_changes
from app.sketch.changes import Change
from app.sketch.hit import distance
from app.sketch.modes.events import ARROWS, Key, KeyPress, Pointer
from app.sketch.modes.mode import IGNORED, TAKEN, Mode, Outcome
from app.sketch.modes.overlay import NOTHING, Draft, Handle, HandleKind, HandleState, Label, Overlay
from app.sketch.photo_changes import letter
from app.sketch.translate import tr
from geometry import WedgewrightError
from geometry.types import Point
from geometry.units import LengthStyle, format_length

_STEP: Final = 1.0
_FINE_STEP: Final = 0.25
"""Pixels of the photo for one press of an arrow key."""


class Known(StrEnum):
    """What of known size lies on the cloth."""

    BLOCK = "block"
    LETTER = "letter"
    A4 = "A4"


SHEETS: Final = {Known.LETTER: (215.9, 279.4), Known.A4: (210.0, 297.0)}
"""mm, upright (ANSI/ASME Y14.1; ISO 216)."""


def known_of(size: Point | None) -> Known:
    """What has that size."""
    if size is not None:
        sides = tuple(sorted(size))
        for known, sheet in SHEETS.items():
            if math.dist(sides, sheet) < 1e-6:
                return known
    return Known.BLOCK


def size_of(known: Known, corners: Sequence[Point]) -> Point | None:
    """mm of a sheet as it lies, its longer side where the photo shows the longer one; None for a block."""
    if known is Known.BLOCK:
        return None
    short, long = SHEETS[known]
    if len(corners) < CORNERS:
        return (short, long)
    a, b, c, d = corners
    lies = math.dist(a, b) + math.dist(c, d) > math.dist(b, c) + math.dist(d, a)
    return (long, short) if lies else (short, long)


@dataclass(frozen=True, slots=True)
class _Held:
    """A place in the hand, or the button down where one is to come."""

    number: int | None
    """None for one that is to come."""
    start: Point
    at: Point
    """Pixels: where it would be now."""
    moved: bool = False


class PhotoMode(Mode):
    """Idle, or a place held; what is shown and told lies in the plan, so that undo takes it back."""

    _held: _Held | None = None
    _moved: tuple[_Held, Photo | None] | None = None
    _hot: int | None = None
    _chosen: int | None = None
    _pointer: Pointer | None = None
    _adding: bool = False
    _by_key: bool = False
    """Whether the keys did the last thing, and not the hand."""

    # --- what the bar asks --------------------------------------------------------------------------

    @property
    def photo(self) -> Photo | None:
        """The plan's, with what the hand holds where it would be."""
        plan, held = self._desk.plan, self._held
        if plan.photo is None or held is None or held.number is None or not held.moved:
            return plan.photo
        # Kept, with how it is squared up: it is asked for many times until the hand moves on.
        if self._moved is None or self._moved[0] is not held:
            self._moved = (held, photo_changes.move_spot(plan, held.number, held.at).after.photo)
        return self._moved[1]

    @property
    def chosen(self) -> int | None:
        """Number of the place that the keys move."""
        photo = self._desk.plan.photo
        return (
            self._chosen if photo and self._chosen is not None and self._chosen < len(photo.spots) else None
        )

    @property
    def is_squared(self) -> bool:
        """Whether the photo can be laid beneath the patches."""
        return not self._trouble and self._desk.plan.photo is not None and self._desk.plan.photo.is_told

    def add_place(self) -> None:
        """Let the next click show a further place."""
        self._adding = True

    @property
    def hint(self) -> str:
        """One sentence: what is to be done next, or how well the places agree."""
        photo = self.photo
        if photo is None:
            return tr("Open a photo, drop one here, or paste one.")
        shown = len(photo.corners)
        if shown == 0:
            return tr("Click a corner of a block, or of a sheet of paper on the cloth: it will be A.")
        if shown < CORNERS:
            return tr("Click corner {name}: go round from A as the hands of a clock do.", name=letter(shown))
        if photo.size is None:
            return tr("Say how far it is from A to B, and from A to D; or choose the sheet of paper.")
        if self._trouble:
            return self._trouble
        if self._adding:
            return tr("Click a place whose distance from A you know, such as a corner of a patch.")
        lost = next((n for n in range(CORNERS, len(photo.spots)) if n not in photo.known), None)
        if lost is not None:
            return tr("Say how far {name} lies across and down from A.", name=letter(lost))
        worst, style = self.worst, self._desk.style
        if worst is not None and _fits(worst[1], style):
            within = format_length(style.step, style)
            return tr("All places fit within {length}. Enter: draw over the photo.", length=within)
        if worst is not None:
            return tr("{name} misses most, by {misfit}. Enter: draw over the photo.",
                      name=letter(worst[0]), misfit=format_length(worst[1], style))  # fmt: skip
        return tr("Enter: draw over the photo. Or add a place that you know, to check.")

    @property
    def worst(self) -> tuple[int, float] | None:
        """Which place misses most and by how much, mm; None where four fix everything."""
        misfits = self._misfits()
        return max(misfits.items(), key=lambda pair: pair[1]) if misfits else None

    # --- events -------------------------------------------------------------------------------------

    def press(self, pointer: Pointer) -> Outcome:
        """Takes hold of a place, or begins a new one where one is due."""
        photo = self._desk.plan.photo
        self._point(pointer)
        if photo is None:
            return IGNORED
        if self._hot is not None:
            self._chosen = self._hot
            self._held = _Held(self._hot, pointer.at, photo.spots[self._hot])
            return TAKEN
        if self._is_due:
            self._held = _Held(None, pointer.at, pointer.at)
            return TAKEN
        self._chosen = None
        return IGNORED

    def move(self, pointer: Pointer) -> Outcome:
        """What is held follows the hand; it does not jump to it."""
        held = self._held
        if held is None:
            self._point(pointer)
            return TAKEN
        self._pointer = pointer
        if held.number is None:
            self._held = replace(held, at=pointer.at)
        elif held.moved or distance(pointer.at, held.start) > pointer.drag_reach:
            photo = self._desk.plan.photo
            assert photo is not None
            x, y = photo.spots[held.number]
            at = (x + pointer.at[0] - held.start[0], y + pointer.at[1] - held.start[1])
            self._held = replace(held, at=at, moved=True)
        return TAKEN

    def release(self, pointer: Pointer) -> Outcome:
        """The place stays where it was let go."""
        if self._held is None:
            return IGNORED
        self.move(pointer)
        held, self._held = self._held, None
        if held.number is None:
            return self._add(held.at)
        if not held.moved:
            return TAKEN
        self._hot = held.number
        return self._do(lambda: photo_changes.move_spot(self._desk.plan, held.number or 0, held.at))

    def double_click(self, pointer: Pointer) -> Outcome:
        """As two clicks."""
        return self.press(pointer)

    def key(self, press: KeyPress) -> Outcome:
        """Page Up and Down choose, arrows move, Insert shows another, Delete takes out, Enter is done."""
        photo, chosen = self._desk.plan.photo, self.chosen
        if photo is None or self._held is not None:
            return IGNORED
        self._by_key = True
        match press.key:
            case Key.NEXT | Key.PREVIOUS if photo.spots:
                by = 1 if press.key is Key.NEXT else -1
                start = chosen if chosen is not None else (-1 if by > 0 else 0)
                self._chosen = (start + by) % len(photo.spots)
                return TAKEN
            case Key.LEFT | Key.RIGHT | Key.UP | Key.DOWN if chosen is not None:
                x, y = photo.spots[chosen]
                dx, dy = ARROWS[press.key]
                step = _FINE_STEP if press.fine else _STEP
                at = (x + dx * step, y + dy * step)
                return self._do(lambda: photo_changes.move_spot(self._desk.plan, chosen, at, by_key=True))
            case Key.INSERT:
                return self._add(press.pointer.at)
            case Key.DELETE | Key.BACKSPACE if chosen is not None:
                self._chosen = None
                return self._do(lambda: photo_changes.remove_spot(self._desk.plan, chosen))
            case Key.ENTER:
                return Outcome(leave=True) if self.is_squared else Outcome(refused=self.hint)
        return IGNORED

    def cancel(self) -> Outcome:
        """First what is held goes back, then a place that was to come, then the choice, then the mode."""
        if self._held is not None or self._adding:
            self._held = None
            self._adding = False
            return TAKEN
        if self.chosen is not None:
            self._chosen = None
            return TAKEN
        return Outcome(leave=True)

    def undo(self) -> Outcome:
        """In the middle of a drag, the drag."""
        return self.cancel() if self._held is not None else IGNORED

    def leave(self) -> None:
        """Nothing stays in the hand."""
        self._held = self._moved = self._hot = self._chosen = self._pointer = None
        self._adding = self._by_key = False

    @property
    def busy(self) -> bool:
        """True while the button is down."""
        return self._held is not None

    @property
    def extent(self) -> tuple[float, float, float, float] | None:
        """The photo, in pixels."""
        photo = self._desk.plan.photo
        return None if photo is None else (0.0, 0.0, float(photo.width), float(photo.height))

    def overlay(self, scale: float) -> Overlay:
        """The places with their names, lengths and misfits; the photo larger around what is moved."""
        photo = self.photo
        if photo is None:
            return NOTHING
        spots = photo.spots
        handles = [Handle(at, HandleKind.CORNER, self._look(n)) for n, at in enumerate(spots)]
        labels = [
            Label(at, self._name(n), apart=True, way=self._outward(at, spots)) for n, at in enumerate(spots)
        ]
        labels += self._lengths(photo)
        line = list(photo.corners)
        magnified = spots[self.chosen] if self.chosen is not None and self._by_key else None
        if self._held is not None:
            magnified = self._held.at
        elif self._is_due and self._pointer is not None and not self._by_key:
            magnified = self._pointer.at
        if self._held is not None and self._held.number is None:
            handles.append(Handle(self._held.at, HandleKind.CORNER, HandleState.HELD))
            if len(line) < CORNERS:
                line.append(self._held.at)
        drafts: tuple[Draft, ...] = ()
        if len(line) > 1:
            drafts = (Draft(np.array(line), len(line) == CORNERS, bool(self._trouble)),)
        return Overlay(
            tuple(handles),
            drafts,
            tuple(labels),
            draws=self._is_due,
            hides_patch=True,
            photo=True,
            magnified=magnified,
        )

    # ------------------------------------------------------------------------------------------------

    @property
    def _is_due(self) -> bool:
        """Whether a click shows another place."""
        photo = self._desk.plan.photo
        return photo is not None and (self._adding or len(photo.corners) < CORNERS)

    @property
    def _trouble(self) -> str:
        """Why the places fit no photo; empty where they do, or where too little is known."""
        photo = self.photo
        if photo is None:
            return ""
        try:
            photo.squared  # noqa: B018 - asked for what it raises
        except WedgewrightError as error:
            return str(error)
        return ""

    def _misfits(self) -> dict[int, float]:
        """mm, by the number of the place; none where four fix everything."""
        photo = self.photo
        if photo is None or len(photo.known) <= CORNERS or self._trouble:
            return {}
        assert photo.squared is not None
        return dict(zip(photo.known, photo.squared.misfits, strict=True))

    def _add(self, at: Point) -> Outcome:
        photo = self._desk.plan.photo
        assert photo is not None
        outcome = self._do(lambda: photo_changes.add_spot(self._desk.plan, at))
        if outcome.change is not None:
            self._adding = False
            self._chosen = len(photo.spots)
        return outcome

    def _do(self, change: Callable[[], Change]) -> Outcome:
        try:
            return Outcome(change=change())
        except WedgewrightError as error:
            return Outcome(refused=str(error))

    def _point(self, pointer: Pointer) -> None:
        self._pointer = pointer
        self._by_key = False
        photo = self._desk.plan.photo
        near = [(distance(at, pointer.at), n) for n, at in enumerate(photo.spots)] if photo else []
        apart, number = min(near, default=(math.inf, 0))
        self._hot = number if apart <= pointer.hold_reach else None

    def _look(self, number: int) -> HandleState:
        if self._held is not None and self._held.number == number:
            return HandleState.HELD
        if number == self._hot:
            return HandleState.HOT
        return HandleState.CHOSEN if number == self.chosen else HandleState.IDLE

    def _name(self, number: int) -> str:
        misfit = self._misfits().get(number)
        if misfit is None:
            return letter(number)
        if _fits(misfit, self._desk.style):
            return tr("{name}: fits", name=letter(number))
        return tr("{name}: {misfit} off", name=letter(number),
                  misfit=format_length(misfit, self._desk.style))  # fmt: skip

    def _lengths(self, photo: Photo) -> list[Label]:
        """How long the sides are, on their middles; not among misfits, which would not be read any more."""
        if not photo.is_told or photo.size is None or self._misfits():
            return []
        sides = []
        for start, end, length in zip(
            photo.corners, (*photo.corners[1:], photo.corners[0]), photo.size * 2, strict=True
        ):
            middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
            sides.append(Label(middle, format_length(length, self._desk.style), centred=True))
        return sides

    @staticmethod
    def _outward(at: Point, spots: Sequence[Point]) -> Point:
        """Away from the middle of them all, so that a name does not cover what lies between."""
        x, y = np.array(spots).mean(axis=0).tolist()
        return (at[0] - x or 1.0, at[1] - y or 1.0)


def _fits(mm: float, style: LengthStyle) -> bool:
    """Whether it would be written as 0, the user's lengths being as fine as they are."""
    return mm < style.step / 2
