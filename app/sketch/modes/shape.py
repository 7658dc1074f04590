"""Shape mode: corners, sides and curves of the chosen patch and of its holes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from app.plan.model import PlanPatch
from app.sketch.changes import remove_corner, remove_hole, reshape_patch
from app.sketch.hit import distance, nearest_on_side
from app.sketch.modes.events import ARROWS, Key, KeyPress, Pointer, arrow_step
from app.sketch.modes.mode import IGNORED, TAKEN, Candidate, Desk, Idle, Outcome
from app.sketch.modes.overlay import HandleState, Label, Overlay
from app.sketch.modes.reshape import handles, reshaped, with_corner, without_corner
from app.sketch.modes.shape_parts import (
    Corner,
    Middle,
    Part,
    corner_under,
    is_there,
    name_of,
    next_corner,
    next_side,
    part_under,
    rings_of,
    same_part,
    side_at,
    side_of,
    with_ring,
)
from app.sketch.modes.shape_picture import drag_overlay, handles_shown, label_way, span_of
from app.sketch.modes.shape_steps import Dragging, Held, dragged, nudged, take_hold
from app.sketch.modes.side_words import bow_words
from app.sketch.modes.sides import (
    Side,
    bow_of,
    length_of,
    middle_of_run,
    place,
    run_of,
    with_bow,
    with_length,
)
from app.sketch.modes.typing_mode import ChoosingMode
from app.sketch.snapping import grid_step
from app.sketch.transform import seam_sides
from app.sketch.translate import tr
from geometry import Patch, WedgewrightError
from geometry.tolerances import SAME_PLACE, SAME_POINT
from geometry.types import Point, Points
from geometry.units import format_length

_NO_PATCH = "The sides would cross: all went back to where it was"


class ShapeMode(ChoosingMode[Part, Part]):
    """Idle, pointing (``Held``), dragging; beside it what is chosen for the keys, and what is typed."""

    _state: Idle[Part] | Held | Dragging = Idle()
    _chosen: Part | None = None
    _chosen_of: PlanPatch | None = None

    def __init__(self, desk: Desk, over_photo: Callable[[], bool] = lambda: False) -> None:
        """``over_photo``: whether one lies beneath, whose places no grid shall move."""
        super().__init__(desk)
        self._over_photo = over_photo

    def press(self, pointer: Pointer) -> Outcome:
        """Take hold of a corner, of a side or of its middle; elsewhere none is chosen any more."""
        piece, part = self._piece(), self._part_under(pointer)
        self._choose(part)
        if piece is None or part is None:
            return IGNORED
        self._state = take_hold(piece, part, pointer)
        return TAKEN

    def move(self, pointer: Pointer) -> Outcome:
        """What is held follows the hand, its curved sides with it."""
        match self._state:
            case Idle():
                self._state = Idle(self._part_under(pointer))
                return IGNORED
            case Held(start=start) if distance(pointer.at, start) <= pointer.drag_reach:
                return TAKEN
            case Held() as held:
                self._state = self._dragged(held, pointer)
            case Dragging(held=held):
                self._state = self._dragged(held, pointer)
        return TAKEN

    def release(self, pointer: Pointer) -> Outcome:
        """The drag becomes one step, or all goes back where it made no patch."""
        state, self._state = self._state, Idle()
        match state:
            case Held(part=part):
                self._state = Idle(part)
                return TAKEN
            case Dragging(held=held):
                end = self._dragged(held, pointer)
                return self._commit(name_of(held.part), end.rings, end.patch)
        return IGNORED

    def double_click(self, pointer: Pointer) -> Outcome:
        """On a side: a new corner there."""
        piece = self._piece()
        if piece is None:
            return IGNORED
        rings = rings_of(piece)
        if corner_under(rings, pointer, self._current()) is not None:
            return IGNORED
        side = nearest_on_side(pointer.at, rings, pointer.hold_reach)
        if side is None:
            return IGNORED
        return self._added(Corner(side.ring, side.index), side.at)

    def key(self, press: KeyPress) -> Outcome:
        """Arrows move what is chosen, Delete removes a corner, Insert adds one; Next and Previous choose a
        corner, NextSide a side, Curve its middle. A typed length is that of the side, or of its bow.
        """
        if self._holds and not self._typed.text:
            return IGNORED
        if press.key is Key.BACKSPACE and self._typed.text:
            return self.undo()
        if self._typed.takes(press.text, minus=True):
            return self._type(press.text)
        scale = press.pointer.scale
        match press.key:
            case Key.ENTER:
                return self._enter() if self._typed.text else IGNORED
            case Key.NEXT | Key.PREVIOUS:
                return self._step(1 if press.key is Key.NEXT else -1, scale)
            case Key.NEXT_SIDE:
                return self._next_side()
            case Key.CURVE:
                return self._choose_middle()
            case Key.DELETE | Key.BACKSPACE:
                return self._remove()
            case Key.REMOVE_HOLE:
                return self._remove_hole()
            case Key.INSERT:
                return self._insert(scale)
            case Key.LEFT | Key.RIGHT | Key.UP | Key.DOWN:
                return self._nudge(ARROWS[press.key], scale, fine=press.fine)
        return IGNORED

    def leave(self) -> None:
        """Nothing is held, chosen or typed."""
        self._state = Idle()
        self._choose(None)

    @property
    def candidate(self) -> Candidate | None:
        """The patch as it would be, where it can be one."""
        match self._state:
            case Dragging(held=held, patch=Patch() as patch):
                anchors = tuple(patch.slide_into(anchor) for anchor in held.piece.anchors)
                return Candidate(patch, anchors, held.piece.settings)
        return None

    def overlay(self, scale: float) -> Overlay:
        """A handle at every corner and every side's middle; lengths while something is dragged or chosen;
        crossing sides where it cannot be.
        """
        piece = self._piece()
        if piece is None:
            return Overlay()
        match self._state:
            case Dragging() as dragging:
                return drag_overlay(dragging, scale, self._desk.style)
            case Held(rings=rings, part=part):
                shown = handles_shown(rings, scale, part, HandleState.HELD)
                return Overlay(shown, spans=span_of(rings, part), hides_marks=True)
            case Idle(hot=hot):
                rings = rings_of(piece)
                chosen = self._current()
                if hot is not None and not is_there(rings, hot):
                    hot = None
                meant, state = (chosen, HandleState.CHOSEN) if chosen is not None else (hot, HandleState.HOT)
                shown = handles_shown(rings, scale, meant, state, hot)
                labels = self._labels(rings, chosen, hot)
                return Overlay(shown, (), labels, spans=span_of(rings, meant), hides_marks=True)

    # --- steps --------------------------------------------------------------------------------------

    def _dragged(self, held: Held, pointer: Pointer) -> Dragging:
        free = pointer.free or self._over_photo()
        step = 0.0 if free else grid_step(pointer.scale, metric=self._metric())
        return dragged(held, pointer, step, self._desk.style)

    def _commit(
        self, name: str, rings: tuple[Points, ...], patch: Patch | None, merge_key: str | None = None
    ) -> Outcome:
        chosen, piece = self._desk.chosen, self._piece()
        if chosen is None or piece is None:
            return TAKEN
        if patch is None:
            return Outcome(refused=tr(_NO_PATCH))
        change = reshape_patch(self._desk.plan, chosen, patch, name)
        if self._chosen is not None:
            after = change.after.patches[chosen]
            self._chosen = same_part(self._chosen, rings_of(piece), rings, rings_of(after))
            self._chosen_of = after
        return Outcome(change=replace(change, merge_key=merge_key))

    def _set(self, number: int, ring: Points, name: str, merge_key: str | None = None) -> Outcome:
        """``ring`` in place of the one of that number."""
        piece = self._piece()
        if piece is None:
            return IGNORED
        rings = with_ring(rings_of(piece), number, ring)
        return self._commit(name, rings, reshaped(rings[0], rings[1:]), merge_key)

    def _added(self, before: Corner, at: Point) -> Outcome:
        piece = self._piece()
        if piece is None:
            return IGNORED
        longer = with_corner(rings_of(piece)[before.ring], before.index, at)
        self._choose(Corner(before.ring, before.index + 1))
        return self._set(before.ring, longer, tr("Add corner"))

    def _insert(self, scale: float) -> Outcome:
        """A corner in the middle of the chosen side, or of the side that begins at the chosen corner."""
        piece, part = self._piece(), self._current()
        if piece is None:
            return IGNORED
        if part is None:
            return Outcome(refused=tr("Choose a corner first: the new one comes after it"))
        ring = rings_of(piece)[part.ring]
        begin = part.index if isinstance(part, Corner) else side_of(part).start
        held = sorted({*handles(ring, scale), begin})
        following = held[(held.index(begin) + 1) % len(held)]
        steps = (following - begin) % len(ring) or len(ring)
        if steps == 1:
            return self._added(Corner(part.ring, begin), place((ring[begin] + ring[following]) / 2))
        # A curved side has points already: its middle one becomes a corner that can be taken hold of.
        self._choose(Corner(part.ring, (begin + steps // 2) % len(ring)))
        return TAKEN

    def _remove(self) -> Outcome:
        corner, chosen = self._current(), self._desk.chosen
        if not isinstance(corner, Corner) or chosen is None:
            return Outcome(refused=tr("Choose a corner first, then remove it"))
        hole = corner.ring - 1 if corner.ring else None
        try:
            change = remove_corner(self._desk.plan, chosen, corner.index, hole)
        except WedgewrightError as error:
            return Outcome(refused=str(error))
        rings = rings_of(self._desk.plan.patches[chosen])
        left = with_ring(rings, corner.ring, without_corner(rings[corner.ring], corner.index))
        if reshaped(left[0], left[1:]) is None:
            return Outcome(refused=tr("Without this corner the sides would cross: it stays"))
        self._choose(None)
        return Outcome(change=change)

    def _remove_hole(self) -> Outcome:
        """The hole of which something is chosen, or the only one."""
        piece, chosen, part = self._piece(), self._desk.chosen, self._current()
        if piece is None or chosen is None:
            return IGNORED
        if not piece.holes:
            return Outcome(refused=tr("This patch has no hole"))
        number = part.ring if part is not None else 0
        if number == 0 and len(piece.holes) > 1:
            return Outcome(refused=tr("Choose a corner of the hole first, then remove the hole"))
        self._choose(None)
        return Outcome(change=remove_hole(self._desk.plan, chosen, max(number - 1, 0)))

    def _nudge(self, arrow: Point, scale: float, *, fine: bool) -> Outcome:
        piece, part = self._piece(), self._current()
        if piece is None:
            return IGNORED
        if part is None:
            return Outcome(refused=tr("Choose a corner first, then move it with the arrow keys"))
        ring = rings_of(piece)[part.ring]
        result = nudged(ring, part, arrow, arrow_step(self._desk.style, fine=fine), scale)
        if result is None:
            return TAKEN
        key = f"{name_of(part)} {self._desk.chosen} {part} by keys"
        if isinstance(part, Middle):
            # The points of the side are others after each step, so the key names where it begins.
            key = f"curve {self._desk.chosen} {part.ring} {place(ring[part.side.start])} by keys"
        return self._set(part.ring, result, name_of(part), key)

    def _step(self, by: int, scale: float) -> Outcome:
        piece = self._piece()
        if piece is None:
            return IGNORED
        self._choose(next_corner(rings_of(piece), self._current(), by, scale))
        return TAKEN

    def _next_side(self) -> Outcome:
        """The side at the chosen corner, or the one after the chosen side."""
        piece = self._piece()
        if piece is None:
            return IGNORED
        side = next_side(rings_of(piece), self._current())
        if side is None:
            return Outcome(refused=tr("This edge has no corners, and so no sides"))
        self._choose(side)
        return TAKEN

    def _choose_middle(self) -> Outcome:
        side = self._side_for_typing()
        if side is None:
            return Outcome(refused=tr("Choose a side first, then make it a curve"))
        self._choose(Middle(side))
        return TAKEN

    # --- what is typed ------------------------------------------------------------------------------

    def _type(self, text: str) -> Outcome:
        if not self._typed.text:
            hot = self._hot
            if self._current() is None and isinstance(hot, Side | Middle):
                self._choose(hot)
            if self._side_for_typing() is None:
                return IGNORED
        self._typed = self._typed.with_text(text)
        return TAKEN

    def _enter(self) -> Outcome:
        piece, part, side = self._piece(), self._current(), self._side_for_typing()
        if piece is None or part is None or side is None:
            self._forget_typed()
            return TAKEN
        length = self._typed_length()
        if length is None:
            return TAKEN
        ring = rings_of(piece)[side.ring]
        if isinstance(part, Middle):
            now = bow_of(run_of(ring, side))
            result, name = with_bow(ring, side, -length if now < 0 else length), name_of(part)
        elif length <= SAME_POINT:
            return self._wrong(tr("a side needs a length more than 0"))
        else:
            result, name = with_length(ring, side, length), tr("Change the side’s length")
        outcome = self._set(part.ring, result, name)
        if outcome.refused:
            return self._wrong(tr("with this length the sides would cross"))
        self._forget_typed()
        return outcome

    def _side_for_typing(self) -> Side | None:
        """The chosen side, or the one that begins at the chosen corner."""
        piece, part = self._piece(), self._current()
        return None if piece is None or part is None else side_at(rings_of(piece), part)

    # --- small questions ----------------------------------------------------------------------------

    def _part_under(self, pointer: Pointer) -> Part | None:
        piece = self._piece()
        return None if piece is None else part_under(rings_of(piece), pointer, self._current())

    def _choose(self, subject: Part | None) -> None:
        self._chosen, self._chosen_of = subject, self._piece()
        self._forget_typed()

    def _current(self) -> Part | None:
        """What is chosen, as long as the patch is still the one in which it was chosen."""
        if self._chosen is None or self._piece() != self._chosen_of:
            return None
        return self._chosen

    def _labels(self, rings: tuple[Points, ...], chosen: Part | None, hot: Part | None) -> tuple[Label, ...]:
        """What is known of the side that is chosen, or else under the hand, and what is typed."""
        part = chosen if chosen is not None else hot
        side = self._side_for_typing() if self._typed.text else None
        if side is None:
            if not isinstance(part, Side | Middle):
                return ()
            side = side_of(part)
        run = run_of(rings[side.ring], side)
        at, way = middle_of_run(run), label_way(run)
        bows = isinstance(part, Middle)
        style = self._desk.style
        if self._typed.wrong:
            text = f"{self._typed.words(style.unit)}\n{self._typed.wrong}"
            return (Label(at, text, problem=True, way=way),)
        if self._typed.text:
            what = tr("bow") if bows else tr("length")
            return (Label(at, f"{what} {self._typed.words(style.unit)}", way=way),)
        if bows:
            text, hint = (
                bow_words(bow_of(run), math.dist(run[0], run[-1]), style),
                tr("type its bow, or pull"),
            )
        else:
            text, hint = format_length(length_of(run), style), tr("type its length, or pull")
        lines = [self._side_name(at), text, *([hint] if chosen is not None else [])]
        return (Label(at, "\n".join(line for line in lines if line), way=way),)

    def _side_name(self, middle: Point) -> str:
        """What the side is called whose middle that is, where the engine takes it for one side too."""
        piece = self._piece()
        if piece is None:
            return ""
        sides = seam_sides(piece.patch(), piece.settings)
        letter = next((side.letter for side in sides if distance(side.middle, middle) <= SAME_PLACE), "")
        return tr("side {letter}", letter=letter) if letter else ""
