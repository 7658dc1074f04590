"""The plain events that modes work on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from app.sketch.quantity import is_metric
from geometry.types import Point
from geometry.units import MM_PER_INCH, LengthStyle

SNAP_PIXELS = 10.0
"""Within this distance on the screen a point is caught."""

HOLD_PIXELS = 14.0
"""Within this distance of a handle's middle the hand takes hold of it: a target 28 px wide."""

DRAG_PIXELS = 4.0
"""A press that moves further than this is a drag, and no click."""


@dataclass(frozen=True, slots=True)
class Pointer:
    """Where the hand is."""

    at: Point
    """mm on the cloth."""
    scale: float = 2.0
    """px per mm, so that reaches can be given in pixels."""
    free: bool = False
    """True while the key is held that turns snapping off."""

    @property
    def snap_reach(self) -> float:
        """mm."""
        return 0.0 if self.free else SNAP_PIXELS / self.scale

    @property
    def hold_reach(self) -> float:
        """mm."""
        return HOLD_PIXELS / self.scale

    @property
    def drag_reach(self) -> float:
        """mm."""
        return DRAG_PIXELS / self.scale


class Key(StrEnum):
    """The keys that mean something to a mode. Letters and digits come as text."""

    LEFT = "left"
    RIGHT = "right"
    UP = "up"
    DOWN = "down"
    ENTER = "enter"
    BACKSPACE = "backspace"
    DELETE = "delete"
    INSERT = "insert"
    NEXT = "next"
    PREVIOUS = "previous"
    HOME = "home"
    END = "end"
    MORE_SPANS = "more spans"
    FEWER_SPANS = "fewer spans"
    USUAL_SPANS = "usual spans"
    USUAL_MARKS = "usual marks"
    NEXT_SIDE = "next side"
    CURVE = "curve"
    REMOVE_HOLE = "remove hole"


ARROWS: dict[Key, Point] = {
    Key.LEFT: (-1.0, 0.0),
    Key.RIGHT: (1.0, 0.0),
    Key.UP: (0.0, -1.0),
    Key.DOWN: (0.0, 1.0),
}


def arrow_step(style: LengthStyle, *, fine: bool = False) -> float:
    """mm by which an arrow key moves what is on the cloth; ``fine``: with the key for small steps."""
    step = 2.0 if is_metric(style) else MM_PER_INCH / 8
    return step / 2 if fine else step


@dataclass(frozen=True, slots=True)
class KeyPress:
    """A key, or a typed text."""

    pointer: Pointer
    """Where the hand is, or the middle of what is shown where it is not over the cloth."""
    key: Key | None = None
    text: str = ""
    fine: bool = False
    """True while the key for small steps is held."""
