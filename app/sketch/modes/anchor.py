"""Anchor mode: drag the anchor, click it somewhere, or move it with the arrow keys."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.sketch.changes import move_anchor
from app.sketch.hit import distance
from app.sketch.modes.events import ARROWS, KeyPress, Pointer
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
    hot: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """What was there when the button went down; every move is computed from it."""

    patch: Patch
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
    """Idle, pointing (the button is down, nothing moved yet), dragging."""

    _state: _Idle | _Pointing | _Dragging = _Idle()

    def press(self, pointer: Pointer) -> Outcome:
        """Take hold of the anchor, or of the place in the patch where it is to go."""
        piece = self._piece()
        if piece is None:
            return IGNORED
        anchor = piece.anchors[0]
        on_handle = distance(pointer.at, anchor) <= pointer.hold_reach
        patch = piece.patch()
        if not on_handle and patch.locate(pointer.at) is Place.OUTSIDE:
            return IGNORED
        grip = (anchor[0] - pointer.at[0], anchor[1] - pointer.at[1]) if on_handle else (0.0, 0.0)
        held = _Held(patch, piece.settings, pointer.at, grip, anchor_targets(patch, piece.settings))
        self._state = _Pointing(held, on_handle)
        return TAKEN

    def move(self, pointer: Pointer) -> Outcome:
        """The anchor follows the hand, slid into the patch."""
        match self._state:
            case _Idle():
                piece = self._piece()
                hot = piece is not None and distance(pointer.at, piece.anchors[0]) <= pointer.hold_reach
                self._state = _Idle(hot)
                return IGNORED
            case _Pointing(held=held) if distance(pointer.at, held.start) <= pointer.drag_reach:
                return TAKEN
            case _Pointing(held=held) | _Dragging(held=held):
                self._state = _Dragging(held, _place(held, pointer))
                return TAKEN

    def release(self, pointer: Pointer) -> Outcome:
        """The drag, or the click, becomes one step."""
        state, self._state = self._state, _Idle(hot=True)
        match state:
            case _Pointing(held=held, on_handle=False):
                return self._moved(_place(held, pointer).at)
            case _Pointing():
                return TAKEN
            case _Dragging(held=held):
                return self._moved(_place(held, pointer).at)
        return IGNORED

    def key(self, press: KeyPress) -> Outcome:
        """Arrows move the anchor by 1/8 in, or by 1/16 in with the key for small steps."""
        piece, chosen = self._piece(), self._desk.chosen
        if press.key not in ARROWS or piece is None or chosen is None:
            return IGNORED
        if self.busy:
            return TAKEN
        metric = self._desk.style in (LengthStyle.CM, LengthStyle.MM)
        step = _STEPS[metric][press.fine]
        dx, dy = ARROWS[press.key]
        x, y = piece.anchors[0]
        change = move_anchor(self._desk.plan, chosen, (x + dx * step, y + dy * step))
        return Outcome(change=replace(change, merge_key=f"anchor {chosen} by keys"))

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
        held = self._state.held
        return Candidate(held.patch, self._state.snap.at, held.settings)

    def overlay(self, scale: float) -> Overlay:
        """The handle, and what it was caught by."""
        piece = self._piece()
        if piece is None:
            return Overlay()
        match self._state:
            case _Dragging(snap=snap):
                return Overlay((Handle(snap.at, HandleKind.ANCHOR, HandleState.HELD),), snap=snap)
            case _Pointing(on_handle=True):
                state = HandleState.HELD
            case _Idle(hot=True):
                state = HandleState.HOT
            case _:
                state = HandleState.IDLE
        return Overlay((Handle(piece.anchors[0], HandleKind.ANCHOR, state),))

    def _moved(self, point: Point) -> Outcome:
        chosen = self._desk.chosen
        return TAKEN if chosen is None else Outcome(change=move_anchor(self._desk.plan, chosen, point))


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
