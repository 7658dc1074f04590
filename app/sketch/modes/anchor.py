"""Anchor mode: drag the anchor, click it somewhere, or move it with the arrow keys."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from app.sketch.changes import move_anchor
from app.sketch.hit import distance, nearest_corner
from app.sketch.modes.events import ARROWS, Key, KeyPress, Pointer
from app.sketch.modes.mode import IGNORED, TAKEN, Candidate, Mode, Outcome
from app.sketch.modes.overlay import Handle, HandleKind, HandleState, Overlay
from app.sketch.snapping import Caught, Snap, Target, to_targets
from geometry import Patch, Settings
from geometry.anchors import middle_of
from geometry.ground import ground_of
from geometry.marks import MarkKind
from geometry.patch import Place
from geometry.types import Point
from geometry.units import MM_PER_INCH, LengthStyle

_STEPS = {
    # style is metric: (step, fine step), mm
    False: (MM_PER_INCH / 8, MM_PER_INCH / 16),
    True: (2.0, 1.0),
}


@dataclass(frozen=True, slots=True)
class _Idle:
    hot: int | None = None
    """The anchor that the hand is over."""


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """What was there when the button went down; every move is computed from it."""

    patch: Patch
    anchors: tuple[Point, ...]
    settings: Settings
    start: Point
    """Where the hand took hold, mm."""
    grip: Point
    """From the hand to the anchor, mm: the anchor does not jump when it is taken off its middle."""
    targets: tuple[Target, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Pointing:
    held: _Held
    on_handle: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Dragging:
    held: _Held
    snap: Snap


class AnchorMode(Mode):
    """Idle, pointing (the button is down, nothing moved yet), dragging.

    Of several anchors the one that was last taken hold of is the one that clicks and keys move.
    """

    _state: _Idle | _Pointing | _Dragging = _Idle()
    _which: int = 0

    def press(self, pointer: Pointer) -> Outcome:
        """Take hold of an anchor, or of the place in the patch where it is to go."""
        piece = self._piece()
        if piece is None:
            return IGNORED
        hit = self._at(pointer)
        patch = piece.patch()
        grip = (0.0, 0.0)
        if hit is not None:
            self._which = hit
            x, y = piece.anchors[hit]
            grip = (x - pointer.at[0], y - pointer.at[1])
        elif patch.locate(pointer.at) is Place.OUTSIDE:
            return IGNORED
        targets = anchor_targets(patch, piece.settings)
        held = _Held(patch, piece.anchors, piece.settings, pointer.at, grip, targets)
        self._state = _Pointing(held, hit is not None)
        return TAKEN

    def move(self, pointer: Pointer) -> Outcome:
        """The anchor follows the hand, slid into the patch."""
        match self._state:
            case _Idle():
                self._state = _Idle(self._at(pointer))
                return IGNORED
            case _Pointing(held=held) if distance(pointer.at, held.start) <= pointer.drag_reach:
                return TAKEN
            case _Pointing(held=held) | _Dragging(held=held):
                self._state = _Dragging(held, _place(held, pointer))
                return TAKEN

    def release(self, pointer: Pointer) -> Outcome:
        """The drag, or the click, becomes one step."""
        state, self._state = self._state, _Idle(self._chosen_anchor())
        match state:
            case _Pointing(held=held, on_handle=False) | _Dragging(held=held):
                return self._moved(_place(held, pointer).at)
            case _Pointing():
                return TAKEN
        return IGNORED

    def key(self, press: KeyPress) -> Outcome:
        """Arrows move the anchor by 1/8 in, or by 1/16 in with the key for small steps."""
        piece = self._piece()
        if press.key is None or piece is None:
            return IGNORED
        if press.key in (Key.NEXT, Key.PREVIOUS) and len(piece.anchors) > 1:
            by = 1 if press.key is Key.NEXT else -1
            self._which = (self._chosen_anchor() + by) % len(piece.anchors)
            return TAKEN
        if press.key not in ARROWS:
            return IGNORED
        if self.busy:
            return TAKEN
        metric = self._desk.style in (LengthStyle.CM, LengthStyle.MM)
        step = _STEPS[metric][press.fine]
        dx, dy = ARROWS[press.key]
        x, y = piece.anchors[self._chosen_anchor()]
        return self._moved((x + dx * step, y + dy * step), by_keys=True)

    def cancel(self) -> Outcome:
        """The anchor is where it was."""
        was_busy = self.busy
        self._state = _Idle()
        return TAKEN if was_busy else IGNORED

    @property
    def busy(self) -> bool:
        """True while the button is down."""
        return not isinstance(self._state, _Idle)

    @property
    def candidate(self) -> Candidate | None:
        """The fit to show during a drag."""
        if not isinstance(self._state, _Dragging):
            return None
        held, which = self._state.held, self._chosen_anchor()
        anchors = (*held.anchors[:which], self._state.snap.at, *held.anchors[which + 1 :])
        return Candidate(held.patch, anchors, held.settings)

    def overlay(self, scale: float) -> Overlay:
        """A handle at every anchor, and what the held one was caught by."""
        piece = self._piece()
        if piece is None:
            return Overlay()
        candidate = self.candidate
        anchors = piece.anchors if candidate is None else candidate.anchors
        snap = self._state.snap if isinstance(self._state, _Dragging) else None
        handles = [Handle(at, HandleKind.ANCHOR, self._look(which)) for which, at in enumerate(anchors)]
        return Overlay(tuple(handles), snap=snap)

    def _look(self, which: int) -> HandleState:
        match self._state:
            case _Dragging() | _Pointing(on_handle=True) if which == self._chosen_anchor():
                return HandleState.HELD
            case _Idle(hot=hot) if which == hot:
                return HandleState.HOT
        return HandleState.IDLE

    def _at(self, pointer: Pointer) -> int | None:
        """The anchor whose handle the hand is over; of several, the nearest."""
        piece = self._piece()
        if piece is None:
            return None
        hit = nearest_corner(pointer.at, [np.array(piece.anchors)], pointer.hold_reach)
        return None if hit is None else hit.index

    def _chosen_anchor(self) -> int:
        piece = self._piece()
        return 0 if piece is None else min(self._which, len(piece.anchors) - 1)

    def _moved(self, point: Point, *, by_keys: bool = False) -> Outcome:
        chosen, which = self._desk.chosen, self._chosen_anchor()
        if chosen is None:
            return TAKEN
        change = move_anchor(self._desk.plan, chosen, point, which)
        key = f"anchor {chosen} {which} by keys" if by_keys else None
        return Outcome(change=replace(change, merge_key=key))


def anchor_targets(patch: Patch, settings: Settings) -> tuple[Target, ...]:
    """What catches the anchor: the middle, and the corners and side middles of the stitchable area."""
    targets = [Target(middle_of(patch), Caught.MIDDLE)]
    for marked in ground_of(patch, settings).marked:
        corners = (mark for mark in marked.marks if mark.kind is MarkKind.CORNER)
        targets += [Target(mark.at, Caught.CORNER, mark.name) for mark in corners]
        targets += [Target(side.middle, Caught.SIDE_MIDDLE, side.letter) for side in marked.sides]
    return tuple(targets)


def _place(held: _Held, pointer: Pointer) -> Snap:
    """Where the anchor lies for that pointer: caught by a target, or slid into the patch."""
    wanted = (pointer.at[0] + held.grip[0], pointer.at[1] + held.grip[1])
    snap = to_targets(wanted, held.targets, pointer.snap_reach)
    return snap if snap.what is not None else Snap(held.patch.slide_into(wanted))
