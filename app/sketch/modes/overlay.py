"""What a mode shows on top of the patch: handles, guides, what was caught, words beside the pointer."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from app.sketch.first_wedge import Start
from app.sketch.snapping import Snap
from app.sketch.walk import Reading, Walk
from geometry.types import Point, Points


class HandleKind(StrEnum):
    """What a handle moves."""

    ANCHOR = "anchor"
    CORNER = "corner"
    MARK = "mark"
    MIDDLE = "middle"
    """The middle of a side, to be pulled into a curve."""
    REMOVE = "remove"
    """Moves nothing: a click on it takes away what it stands beside."""


class HandleState(StrEnum):
    """How a handle looks."""

    IDLE = "idle"
    HOT = "hot"
    """The hand is over it."""
    HELD = "held"
    CHOSEN = "chosen"
    """Chosen for the keys."""


@dataclass(frozen=True, slots=True)
class Handle:
    """One handle. ``at`` in mm."""

    at: Point
    kind: HandleKind
    state: HandleState = HandleState.IDLE


@dataclass(frozen=True, slots=True)
class Label:
    """Words beside a place on the cloth (mm), in one line or more."""

    at: Point
    text: str
    problem: bool = False
    centred: bool = False
    """True: on the place itself, as a length on its side; False: beside it, as words at the pointer."""
    apart: bool = False
    """True: beside a place of its own, and not among the words at the pointer."""
    way: Point = (1.0, 1.0)
    """By its signs, to which side of the place words beside it stand, where there is room for them."""


@dataclass(frozen=True, slots=True, eq=False)
class Draft:
    """An outline that is not in the plan: being drawn, or being shaped into something impossible."""

    points: Points
    """(n, 2) mm."""
    closed: bool
    refused: bool
    """True where it crosses itself."""


@dataclass(frozen=True, slots=True, eq=False)
class Walked:
    """How far the stitch path is stitched: what is done is solid, the rest faint, the needle on top."""

    walk: Walk
    reading: Reading
    """Of the place where the needle is."""
    state: HandleState = HandleState.IDLE
    """Of the needle: held while the hand scrubs, hot where it could."""
    towards: float | None = None
    """rad, from x towards y: the way on the cloth that lies towards the quilter, as she stitches towards
    herself and turns the cloth; None where no picture of that is wanted.
    """


@dataclass(frozen=True, slots=True, eq=False)
class Overlay:
    """Everything a mode adds to the picture."""

    handles: tuple[Handle, ...] = ()
    drafts: tuple[Draft, ...] = ()
    labels: tuple[Label, ...] = ()
    snap: Snap | None = None
    grid: bool = False
    """True where the grid belongs in the picture."""
    draws: bool = False
    """True where a click places something: the ground is all cloth."""
    hides_patch: bool = False
    """True where the chosen patch would only be in the way."""
    hides_marks: bool = False
    """True where the marks and their names would."""
    walked: Walked | None = None
    """Shown in place of wedges, echoes and findings."""
    seams: tuple[Points, ...] = ()
    """(n, 2) mm each: rings that lie beneath what is drawn, only to be seen and to catch."""
    spans: tuple[Points, ...] = ()
    """(n, 2) mm each: pieces of an edge that are pointed out."""
    start: Start | None = None
    """Where the stitch path begins, and which way it goes round."""
    photo: bool = False
    """True where the photo as it was taken is shown, and all places are pixels of it, not mm."""
    magnified: Point | None = None
    """A pixel of the photo around which it is shown larger, in a corner."""

    @property
    def is_anchors_only(self) -> bool:
        """True where it adds nothing but the anchors' handles."""
        caught = self.snap is not None and (self.snap.what is not None or self.snap.guides)
        others = (self.drafts, self.labels, caught, self.walked, self.seams, self.spans, self.start)
        flags = (self.grid, self.draws, self.hides_patch, self.hides_marks, self.photo)
        return not (any(others) or any(flags)) and all(
            handle.kind is HandleKind.ANCHOR for handle in self.handles
        )


NOTHING = Overlay()
