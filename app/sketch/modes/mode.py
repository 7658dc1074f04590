"""What every mode is to the canvas, and what the bench is to a mode."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from app.plan.model import Plan, PlanPatch
from app.sketch.changes import Change
from app.sketch.modes.events import KeyPress, Pointer
from app.sketch.modes.overlay import NOTHING, Overlay
from geometry import Patch, Settings
from geometry.types import Point
from geometry.units import LengthStyle


class Desk(Protocol):
    """What a mode may know of the bench."""

    @property
    def plan(self) -> Plan:
        """The plan as it is, without the gesture that runs."""

    @property
    def chosen(self) -> int | None:
        """Index of the patch that is worked on."""

    @property
    def style(self) -> LengthStyle:
        """How lengths are shown and, without a unit, read."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """What the patch would be if the gesture ended now; the bench fits and shows it."""

    patch: Patch
    anchors: tuple[Point, ...]
    settings: Settings


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one event."""

    taken: bool = True
    """False where the mode had no use for it, so that the canvas may (an empty place pans the view)."""
    change: Change | None = None
    refused: str = ""
    """A sentence for the message bar: why something was not done."""
    leave: bool = False
    """True where the mode is done, and the bench goes back to the anchor."""


IGNORED = Outcome(taken=False)
TAKEN = Outcome()

Hot = TypeVar("Hot")


@dataclass(frozen=True, slots=True)
class Idle(Generic[Hot]):
    """The button is up."""

    hot: Hot | None = None
    """What is under the hand."""


class Mode:
    """A mode in which nothing can be done; the others give the events a meaning."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def press(self, pointer: Pointer) -> Outcome:
        """The button goes down."""
        return IGNORED

    def move(self, pointer: Pointer) -> Outcome:
        """The hand moves, with the button down or up."""
        return IGNORED

    def release(self, pointer: Pointer) -> Outcome:
        """The button comes up."""
        return IGNORED

    def double_click(self, pointer: Pointer) -> Outcome:
        """The second press of a double click; its first was a press and a release."""
        return IGNORED

    def key(self, press: KeyPress) -> Outcome:
        """A key goes down."""
        return IGNORED

    def cancel(self) -> Outcome:
        """Esc: whatever runs is forgotten, as if it had not begun. Ignored where nothing runs."""
        return IGNORED

    def drop(self) -> Outcome:
        """The press was not meant, as a second finger came down: as if it had not been."""
        return self.cancel() if self.busy else IGNORED

    def undo(self) -> Outcome:
        """Undo is asked for: a mode with unfinished work takes back its last step. Else ignored."""
        return IGNORED

    def leave(self) -> None:
        """Another mode begins, or the pointer left the canvas for good: nothing stays behind."""
        self.cancel()

    @property
    def busy(self) -> bool:
        """True while the hand holds something."""
        return False

    @property
    def candidate(self) -> Candidate | None:
        """What is shown in place of the plan's patch; None where the plan's is."""
        return None

    @property
    def extent(self) -> tuple[float, float, float, float] | None:
        """Left, top, right and bottom of what is shown in place of the cloth; None where the cloth is."""
        return None

    def overlay(self, scale: float) -> Overlay:
        """What is shown on top, at ``scale`` px per mm."""
        return NOTHING

    def _piece(self) -> PlanPatch | None:
        chosen = self._desk.chosen
        return None if chosen is None else self._desk.plan.patches[chosen]
