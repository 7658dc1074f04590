"""Shape mode: drag, add and remove corners of the chosen patch."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from app.plan.model import PlanPatch
from app.sketch.changes import Change, remove_corner
from app.sketch.hit import distance, nearest_corner, nearest_on_side
from app.sketch.modes.events import ARROWS, Key, KeyPress, Pointer
from app.sketch.modes.mode import IGNORED, TAKEN, Candidate, Mode, Outcome
from app.sketch.modes.overlay import Draft, Handle, HandleKind, HandleState, Label, Overlay
from app.sketch.modes.reshape import (
    handles,
    moved,
    reshaped,
    with_corner,
    with_rings,
)
from app.sketch.snapping import Snap, grid_step, lines_while_shaping, to_drawing
from app.sketch.translate import tr
from geometry import Patch, WedgewrightError
from geometry.types import Point, Points
from geometry.units import MM_PER_INCH, LengthStyle, format_length

_NO_PATCH = "The sides would cross: the corner went back to where it was"


@dataclass(frozen=True, slots=True)
class _Corner:
    """A corner of the chosen patch. Ring 0 is the outline, 1 the first hole."""

    ring: int
    index: int


@dataclass(frozen=True, slots=True)
class _Idle:
    hot: _Corner | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """The patch as it was when the button went down."""

    piece: PlanPatch
    rings: tuple[Points, ...]
    corner: _Corner
    handles: tuple[int, ...]
    """Of the ring that the corner belongs to."""
    start: Point
    grip: Point


@dataclass(frozen=True, slots=True, eq=False)
class _Pointing:
    held: _Held


@dataclass(frozen=True, slots=True, eq=False)
class _Dragging:
    held: _Held
    snap: Snap
    rings: tuple[Points, ...]
    patch: Patch | None
    """None where ``rings`` make no patch."""


class ShapeMode(Mode):
    """Idle, pointing, dragging; beside it the corner chosen for the keys."""

    _state: _Idle | _Pointing | _Dragging = _Idle()
    _chosen: _Corner | None = None
    _chosen_of: PlanPatch | None = None

    def press(self, pointer: Pointer) -> Outcome:
        """Take hold of a corner; elsewhere none is chosen any more."""
        piece = self._piece()
        corner = self._corner_at(pointer)
        if piece is None or corner is None:
            self._choose(None)
            return IGNORED
        self._choose(corner)
        rings = _rings(piece)
        at = _point(rings[corner.ring][corner.index])
        grip = (at[0] - pointer.at[0], at[1] - pointer.at[1])
        held = handles(rings[corner.ring], pointer.scale)
        self._state = _Pointing(_Held(piece, rings, corner, held, pointer.at, grip))
        return TAKEN

    def move(self, pointer: Pointer) -> Outcome:
        """The corner follows the hand, its curved sides with it."""
        match self._state:
            case _Idle():
                self._state = _Idle(self._corner_at(pointer))
                return IGNORED
            case _Pointing(held=held) if distance(pointer.at, held.start) <= pointer.drag_reach:
                return TAKEN
            case _Pointing(held=held) | _Dragging(held=held):
                self._state = self._dragged(held, pointer)
                return TAKEN

    def release(self, pointer: Pointer) -> Outcome:
        """The drag becomes one step, or the corner goes back where it made no patch."""
        state, self._state = self._state, _Idle()
        match state:
            case _Pointing(held=held):
                self._state = _Idle(held.corner)
                return TAKEN
            case _Dragging(held=held):
                end = self._dragged(held, pointer)
                return self._commit(tr("Move corner"), end.rings, end.patch)
        return IGNORED

    def double_click(self, pointer: Pointer) -> Outcome:
        """On a side: a new corner there."""
        piece = self._piece()
        if piece is None or self._corner_at(pointer) is not None:
            return IGNORED
        side = nearest_on_side(pointer.at, _rings(piece), pointer.hold_reach)
        if side is None:
            return IGNORED
        return self._added(_Corner(side.ring, side.index), side.at)

    def key(self, press: KeyPress) -> Outcome:
        """Arrows move the chosen corner, Delete removes it, Insert adds one; Next and Previous choose."""
        if self.busy:
            return IGNORED
        match press.key:
            case Key.NEXT | Key.PREVIOUS:
                return self._step(1 if press.key is Key.NEXT else -1, press.pointer.scale)
            case Key.DELETE | Key.BACKSPACE:
                return self._remove()
            case Key.INSERT:
                return self._insert(press.pointer.scale)
            case Key.LEFT | Key.RIGHT | Key.UP | Key.DOWN:
                return self._nudge(press)
        return IGNORED

    def cancel(self) -> Outcome:
        """The corner is where it was; with nothing held none is chosen, then the mode is left."""
        if self.busy:
            self._state = _Idle()
            return TAKEN
        if self._current() is not None:
            self._choose(None)
            return TAKEN
        return Outcome(leave=True)

    def leave(self) -> None:
        """Nothing is held or chosen."""
        self._state = _Idle()
        self._choose(None)

    @property
    def busy(self) -> bool:
        """True while the button is down."""
        return not isinstance(self._state, _Idle)

    @property
    def candidate(self) -> Candidate | None:
        """The patch as it would be, where it can be one."""
        match self._state:
            case _Dragging(held=held, patch=Patch() as patch):
                anchors = tuple(patch.slide_into(anchor) for anchor in held.piece.anchors)
                return Candidate(patch, anchors, held.piece.settings)
        return None

    def overlay(self, scale: float) -> Overlay:
        """A handle at every corner; lengths while one is dragged; crossing sides where it cannot be."""
        piece = self._piece()
        if piece is None:
            return Overlay()
        chosen = self._current()
        match self._state:
            case _Dragging(held=held, snap=snap, rings=rings, patch=patch):
                shown, active, state = rings, held.corner, HandleState.HELD
                drafts = tuple(Draft(ring, True, True) for ring in rings) if patch is None else ()
                labels = self._side_lengths(rings, held, scale)
                if patch is None:
                    labels = (*labels, Label(snap.at, tr("the sides cross"), problem=True))
                return Overlay(
                    _handles(shown, scale, active, state), drafts, labels, snap,
                    hides_patch=patch is None,
                    hides_marks=True,
                )  # fmt: skip
            case _Pointing(held=held):
                return Overlay(_handles(held.rings, scale, held.corner, HandleState.HELD), hides_marks=True)
            case _Idle(hot=hot):
                rings = _rings(piece)
                if chosen is not None:
                    return Overlay(_handles(rings, scale, chosen, HandleState.CHOSEN, hot), hides_marks=True)
                return Overlay(_handles(rings, scale, hot, HandleState.HOT), hides_marks=True)

    # --- steps --------------------------------------------------------------------------------------

    def _dragged(self, held: _Held, pointer: Pointer) -> _Dragging:
        wanted = (pointer.at[0] + held.grip[0], pointer.at[1] + held.grip[1])
        ring, index = held.rings[held.corner.ring], held.corner.index
        snap = Snap(wanted)
        if not pointer.free:
            corners = sorted({*held.handles, index})
            snap = to_drawing(
                wanted,
                (),
                lines_while_shaping(ring[corners], corners.index(index)),
                pointer.snap_reach,
                grid=grid_step(pointer.scale, metric=self._metric()),
            )
        rings = _put(held.rings, held.corner.ring, moved(ring, index, snap.at, held.handles))
        return _Dragging(held, snap, rings, reshaped(rings[0], rings[1:]))

    def _commit(
        self, name: str, rings: tuple[Points, ...], patch: Patch | None, merge_key: str | None = None
    ) -> Outcome:
        chosen = self._desk.chosen
        if chosen is None:
            return TAKEN
        if patch is None:
            return Outcome(refused=tr(_NO_PATCH))
        change = with_rings(self._desk.plan, chosen, patch, name)
        self._follow(change, rings)
        return Outcome(change=replace(change, merge_key=merge_key))

    def _added(self, corner: _Corner, at: Point) -> Outcome:
        piece = self._piece()
        if piece is None:
            return IGNORED
        rings = _rings(piece)
        longer = _put(rings, corner.ring, with_corner(rings[corner.ring], corner.index, at))
        self._choose(_Corner(corner.ring, corner.index + 1))
        return self._commit(tr("Add corner"), longer, reshaped(longer[0], longer[1:]))

    def _insert(self, scale: float) -> Outcome:
        """A corner in the middle of the side that begins at the chosen corner."""
        piece, corner = self._piece(), self._current()
        if piece is None:
            return IGNORED
        if corner is None:
            return Outcome(refused=tr("Choose a corner first: the new one comes after it"))
        ring = _rings(piece)[corner.ring]
        held = sorted({*handles(ring, scale), corner.index})
        following = held[(held.index(corner.index) + 1) % len(held)]
        steps = (following - corner.index) % len(ring) or len(ring)
        if steps == 1:
            middle = (ring[corner.index] + ring[following]) / 2
            return self._added(corner, _point(middle))
        # A curved side has points already: its middle one becomes a corner that can be taken hold of.
        self._choose(_Corner(corner.ring, (corner.index + steps // 2) % len(ring)))
        return TAKEN

    def _remove(self) -> Outcome:
        corner, chosen = self._current(), self._desk.chosen
        if corner is None or chosen is None:
            return Outcome(refused=tr("Choose a corner first, then remove it"))
        hole = corner.ring - 1 if corner.ring else None
        try:
            change = remove_corner(self._desk.plan, chosen, corner.index, hole)
        except WedgewrightError as error:
            return Outcome(refused=str(error))
        piece = self._desk.plan.patches[chosen]
        left = _put(_rings(piece), corner.ring, np.delete(_rings(piece)[corner.ring], corner.index, axis=0))
        if reshaped(left[0], left[1:]) is None:
            return Outcome(refused=tr("Without this corner the sides would cross: it stays"))
        self._choose(None)
        return Outcome(change=change)

    def _nudge(self, press: KeyPress) -> Outcome:
        piece, corner = self._piece(), self._current()
        if piece is None or press.key is None:
            return IGNORED
        if corner is None:
            return Outcome(refused=tr("Choose a corner first, then move it with the arrow keys"))
        step = (2.0, 1.0) if self._metric() else (MM_PER_INCH / 8, MM_PER_INCH / 16)
        dx, dy = ARROWS[press.key]
        rings = _rings(piece)
        x, y = _point(rings[corner.ring][corner.index])
        to = (x + dx * step[press.fine], y + dy * step[press.fine])
        held = handles(rings[corner.ring], press.pointer.scale)
        result = _put(rings, corner.ring, moved(rings[corner.ring], corner.index, to, held))
        key = f"corner {self._desk.chosen} {corner.ring} {corner.index} by keys"
        return self._commit(tr("Move corner"), result, reshaped(result[0], result[1:]), key)

    def _step(self, by: int, scale: float) -> Outcome:
        piece = self._piece()
        if piece is None:
            return IGNORED
        order = [
            _Corner(number, index)
            for number, ring in enumerate(_rings(piece))
            for index in handles(ring, scale) or range(len(ring))
        ]
        current = self._current()
        if current in order:
            self._choose(order[(order.index(current) + by) % len(order)])
        else:
            self._choose(order[0 if by > 0 else -1])
        return TAKEN

    # --- small questions ----------------------------------------------------------------------------

    def _metric(self) -> bool:
        return self._desk.style in (LengthStyle.CM, LengthStyle.MM)

    def _corner_at(self, pointer: Pointer) -> _Corner | None:
        piece = self._piece()
        if piece is None:
            return None
        rings = _rings(piece)
        among = [handles(ring, pointer.scale) for ring in rings]
        current = self._current()
        if current is not None:
            among[current.ring] = (*among[current.ring], current.index)
        hit = nearest_corner(pointer.at, rings, pointer.hold_reach, among)
        return None if hit is None else _Corner(hit.ring, hit.index)

    def _choose(self, corner: _Corner | None) -> None:
        self._chosen, self._chosen_of = corner, self._piece()

    def _current(self) -> _Corner | None:
        """The chosen corner, as long as the patch is still the one in which it was chosen."""
        if self._chosen is None or self._piece() != self._chosen_of:
            return None
        return self._chosen

    def _follow(self, change: Change, rings: tuple[Points, ...]) -> None:
        """Keep the chosen corner chosen in the patch that ``change`` makes of ``rings``."""
        chosen = self._desk.chosen
        if self._chosen is None or chosen is None:
            return
        at = _point(rings[self._chosen.ring][self._chosen.index])
        after = change.after.patches[chosen]
        hit = nearest_corner(at, _rings(after), 0.0)
        self._chosen = None if hit is None else _Corner(hit.ring, hit.index)
        self._chosen_of = after

    def _side_lengths(self, rings: tuple[Points, ...], held: _Held, scale: float) -> tuple[Label, ...]:
        """The lengths of the two sides at the corner that is held, on their middles."""
        ring = rings[held.corner.ring]
        corners = sorted({*held.handles, held.corner.index})
        place = corners.index(held.corner.index)
        labels = []
        for other in (corners[place - 1], corners[(place + 1) % len(corners)]):
            if other in ((held.corner.index + 1) % len(ring), (held.corner.index - 1) % len(ring)):
                ends = ring[held.corner.index], ring[other]
                length = math.dist(*ends)
                if length * scale > 60:
                    middle = _point((ends[0] + ends[1]) / 2)
                    labels.append(Label(middle, format_length(length, self._desk.style), centred=True))
        return tuple(labels)


def _handles(
    rings: tuple[Points, ...],
    scale: float,
    active: _Corner | None,
    state: HandleState,
    hot: _Corner | None = None,
) -> tuple[Handle, ...]:
    found = []
    for number, ring in enumerate(rings):
        shown = {*handles(ring, scale)}
        if active is not None and active.ring == number:
            shown.add(active.index)
        for index in sorted(shown):
            corner = _Corner(number, index)
            look = state if corner == active else HandleState.HOT if corner == hot else HandleState.IDLE
            found.append(Handle(_point(ring[index]), HandleKind.CORNER, look))
    return tuple(found)


def _rings(piece: PlanPatch) -> tuple[Points, ...]:
    patch = piece.patch()
    return (patch.outline, *patch.holes)


def _put(rings: tuple[Points, ...], number: int, ring: Points) -> tuple[Points, ...]:
    return (*rings[:number], ring, *rings[number + 1 :])


def _point(row: Points) -> Point:
    return (float(row[0]), float(row[1]))
