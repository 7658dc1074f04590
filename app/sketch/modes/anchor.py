"""Anchor mode: drag the anchor, click it somewhere, or move it with the arrow keys."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from app.sketch.anchor_words import suggestion_words
from app.sketch.changes import begin_with, move_anchor, named, other_way_round
from app.sketch.first_wedge import Start, start_of, wedge_at
from app.sketch.hit import distance, nearest_corner
from app.sketch.modes.events import ARROWS, Key, KeyPress, Pointer, arrow_step
from app.sketch.modes.mode import IGNORED, TAKEN, Candidate, Desk, Idle, Mode, Outcome
from app.sketch.modes.overlay import Handle, HandleKind, HandleState, Label, Overlay
from app.sketch.snapping import Caught, Snap, Target, to_targets
from app.sketch.translate import tr
from geometry import Fit, Patch, Settings
from geometry.anchors import Suggestion
from geometry.fan import Wedge
from geometry.ground import ground_of
from geometry.marks import MarkKind
from geometry.patch import Place, middle_of
from geometry.tolerances import SAME_POINT
from geometry.types import Point

_PICKS = {Key.RIGHT: 1, Key.DOWN: 1, Key.NEXT: 1, Key.LEFT: -1, Key.UP: -1, Key.PREVIOUS: -1}
"""Steps from wedge to wedge while one is picked."""


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


@dataclass(frozen=True, slots=True, eq=False)
class _Trying:
    """A place is shown before it is chosen."""

    held: _Held
    at: Point


@dataclass(frozen=True, slots=True)
class _Picking:
    """The wedge to begin with is being picked."""

    wedge: int
    """The one that a click or Enter would pick."""


class AnchorMode(Mode):
    """Idle, pointing (the button is down, nothing moved yet), dragging; trying a place out; picking a wedge.

    Of several anchors the one that was last taken hold of is the one that clicks and keys move.
    ``fit`` gives what is shown, ``best`` the best anchor of the chosen patch once that is known.
    """

    _state: Idle[int] | _Pointing | _Dragging | _Trying | _Picking = Idle()
    _which: int = 0

    def __init__(
        self,
        desk: Desk,
        fit: Callable[[], Fit | None] = lambda: None,
        best: Callable[[], Suggestion | None] = lambda: None,
    ) -> None:
        super().__init__(desk)
        self._fit = fit
        self._best = best
        self._started: tuple[Fit, Start | None] | None = None

    def press(self, pointer: Pointer) -> Outcome:
        """Take hold of an anchor, or of the place in the patch where it is to go."""
        piece = self._piece()
        if piece is None:
            return IGNORED
        if isinstance(self._state, _Picking):
            return self._pick(pointer)
        hit = self._at(pointer)
        patch = piece.patch()
        grip = (0.0, 0.0)
        if hit is not None:
            self._which = hit
            x, y = piece.anchors[hit]
            grip = (x - pointer.at[0], y - pointer.at[1])
        elif patch.locate(pointer.at) is Place.OUTSIDE:
            return IGNORED
        targets = anchor_targets(patch, piece.settings, self._best())
        held = _Held(patch, piece.anchors, piece.settings, pointer.at, grip, targets)
        self._state = _Pointing(held, hit is not None)
        return TAKEN

    def move(self, pointer: Pointer) -> Outcome:
        """The anchor follows the hand, slid into the patch."""
        match self._state:
            case Idle() | _Trying():
                self._state = Idle(self._at(pointer))
                return IGNORED
            case _Picking():
                fit = self._fit()
                wedge = None if fit is None else wedge_at(fit, pointer.at)
                if wedge is not None:
                    self._state = _Picking(wedge)
                return IGNORED
            case _Pointing(held=held) if distance(pointer.at, held.start) <= pointer.drag_reach:
                return TAKEN
            case _Pointing(held=held) | _Dragging(held=held):
                self._state = _Dragging(held, _place(held, pointer))
                return TAKEN

    def release(self, pointer: Pointer) -> Outcome:
        """The drag, or the click, becomes one step."""
        if isinstance(self._state, _Picking):
            return IGNORED
        state, self._state = self._state, Idle(self._chosen_anchor())
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
        if isinstance(self._state, _Picking):
            return self._pick_by_key(press.key)
        if press.key in (Key.NEXT, Key.PREVIOUS) and len(piece.anchors) > 1:
            by = 1 if press.key is Key.NEXT else -1
            self._which = (self._chosen_anchor() + by) % len(piece.anchors)
            return TAKEN
        if press.key not in ARROWS:
            return IGNORED
        if self.busy:
            return TAKEN
        step = arrow_step(self._desk.style, fine=press.fine)
        dx, dy = ARROWS[press.key]
        x, y = piece.anchors[self._chosen_anchor()]
        return self._moved((x + dx * step, y + dy * step), by_keys=True)

    def cancel(self) -> Outcome:
        """The anchor is where it was."""
        ran = not isinstance(self._state, Idle)
        self._state = Idle()
        return TAKEN if ran else IGNORED

    def try_out(self, at: Point | None) -> None:
        """Show the fan of an anchor at ``at`` (mm) until something is done, or None is given."""
        piece = self._piece()
        if isinstance(self._state, _Trying):
            self._state = Idle()
        if at is None or piece is None or not isinstance(self._state, Idle):
            return
        which = self._chosen_anchor()
        if distance(at, piece.anchors[which]) > SAME_POINT:
            held = _Held(piece.patch(), piece.anchors, piece.settings, at, (0.0, 0.0), ())
            self._state = _Trying(held, at)

    def put(self, at: Point, words: str) -> Outcome:
        """Move the anchor to ``at`` (mm), a place that is called ``words``."""
        chosen, which, piece = self._desk.chosen, self._chosen_anchor(), self._piece()
        self.cancel()
        if chosen is None or piece is None or distance(at, piece.anchors[which]) <= SAME_POINT:
            return TAKEN
        change = move_anchor(self._desk.plan, chosen, at, which)
        return Outcome(change=named(change, tr("Move anchor: {place}", place=words)))

    def begin_with(self, wedge: int | None = None) -> Outcome:
        """Begin the stitch path with ``wedge``; without one it is picked, by hand or by keys."""
        chosen, piece, fit = self._desk.chosen, self._piece(), self._fit()
        self.cancel()
        if chosen is None or piece is None or fit is None:
            return TAKEN
        numbers = self._numbers()
        if wedge in numbers:
            if wedge == piece.settings.first_wedge:
                return TAKEN
            return Outcome(change=begin_with(self._desk.plan, chosen, wedge))
        if numbers:
            start = self._start(fit)
            self._state = _Picking(numbers[0] if start is None else start.wedge)
        return TAKEN

    def other_way_round(self) -> Outcome:
        """Stitch the wedges the other way round."""
        chosen = self._desk.chosen
        self.cancel()
        return TAKEN if chosen is None else Outcome(change=other_way_round(self._desk.plan, chosen))

    @property
    def busy(self) -> bool:
        """True while the button is down."""
        return isinstance(self._state, _Pointing | _Dragging)

    @property
    def candidate(self) -> Candidate | None:
        """The fit to show during a drag, or while a place is tried out."""
        match self._state:
            case _Dragging(held=held, snap=snap):
                at = snap.at
            case _Trying(held=held, at=at):
                pass
            case _:
                return None
        which = self._chosen_anchor()
        anchors = (*held.anchors[:which], at, *held.anchors[which + 1 :])
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
        fit = self._fit()
        start = None if self.busy or fit is None else self._start(fit)
        picked = self._picked()
        if picked is None:
            return Overlay(tuple(handles), snap=snap, start=start)
        words = tr("Begin with wedge {number}: click, or Enter", number=picked.number)
        x, y = np.mean(picked.side, axis=0).tolist()
        label = Label((x, y), words)
        return Overlay(tuple(handles), labels=(label,), spans=(picked.outline,), start=start)

    def _start(self, fit: Fit) -> Start | None:
        """Where its path begins; looked for once."""
        if self._started is None or self._started[0] is not fit:
            self._started = (fit, start_of(fit))
        return self._started[1]

    def _numbers(self) -> list[int]:
        """Of the wedges, in their order."""
        fit = self._fit()
        return [] if fit is None else [wedge.number for fan in fit.fans for wedge in fan.wedges]

    def _picked(self) -> Wedge | None:
        """The wedge that would be picked now."""
        fit = self._fit()
        if not isinstance(self._state, _Picking) or fit is None:
            return None
        wedges = (wedge for fan in fit.fans for wedge in fan.wedges)
        return next((wedge for wedge in wedges if wedge.number == self._state.wedge), None)

    def _pick(self, pointer: Pointer) -> Outcome:
        fit = self._fit()
        wedge = None if fit is None else wedge_at(fit, pointer.at)
        return IGNORED if wedge is None else self.begin_with(wedge)

    def _pick_by_key(self, key: Key) -> Outcome:
        numbers, picked = self._numbers(), self._picked()
        if not numbers:
            return self.cancel()
        if key is Key.ENTER:
            return self.begin_with(numbers[0] if picked is None else picked.number)
        if key not in _PICKS:
            return TAKEN
        at = 0 if picked is None else numbers.index(picked.number)
        self._state = _Picking(numbers[(at + _PICKS[key]) % len(numbers)])
        return TAKEN

    def _look(self, which: int) -> HandleState:
        match self._state:
            case _Dragging() | _Pointing(on_handle=True) if which == self._chosen_anchor():
                return HandleState.HELD
            case Idle(hot=hot) if which == hot:
                return HandleState.HOT
            case Idle() if which == self._chosen_anchor() and len(self._anchors()) > 1:
                return HandleState.CHOSEN
        return HandleState.IDLE

    def _anchors(self) -> tuple[Point, ...]:
        piece = self._piece()
        return () if piece is None else piece.anchors

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


def anchor_targets(patch: Patch, settings: Settings, best: Suggestion | None = None) -> tuple[Target, ...]:
    """What catches the anchor: the middle, corners and side middles of the stitchable area, and ``best``."""
    targets = [Target(middle_of(patch), Caught.MIDDLE)]
    for marked in ground_of(patch, settings).marked:
        corners = (mark for mark in marked.marks if mark.kind is MarkKind.CORNER)
        targets += [Target(mark.at, Caught.CORNER, mark.name) for mark in corners]
        targets += [Target(side.middle, Caught.SIDE_MIDDLE, side.letter) for side in marked.sides]
    if best is not None:  # where it is one of the others, its own words name that
        targets = [target for target in targets if distance(target.at, best.anchor) > SAME_POINT]
        targets.append(Target(best.anchor, Caught.BEST, suggestion_words(best)))
    return tuple(targets)


def _place(held: _Held, pointer: Pointer) -> Snap:
    """Where the anchor lies for that pointer: caught by a target, or slid into the patch."""
    wanted = (pointer.at[0] + held.grip[0], pointer.at[1] + held.grip[1])
    snap = to_targets(wanted, held.targets, pointer.snap_reach)
    return snap if snap.what is not None else Snap(held.patch.slide_into(wanted))
