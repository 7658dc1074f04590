"""Shape mode: corners, sides and curves of the chosen patch and of its holes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from app.plan.model import PlanPatch
from app.sketch.changes import Change, remove_corner, remove_hole
from app.sketch.hit import distance, nearest_corner, nearest_on_side
from app.sketch.modes.events import ARROWS, Key, KeyPress, Pointer
from app.sketch.modes.mode import IGNORED, TAKEN, Candidate, Desk, Outcome
from app.sketch.modes.overlay import Draft, Handle, HandleKind, HandleState, Label, Overlay
from app.sketch.modes.reshape import (
    handles,
    moved,
    reshaped,
    with_corner,
    with_rings,
)
from app.sketch.modes.side_words import bow_words, caught_bow, pull_words
from app.sketch.modes.sides import (
    Side,
    bow_of,
    length_of,
    middle_of_run,
    middles_of,
    offset_from,
    place,
    pulled,
    run_of,
    side_with,
    sides_of,
    with_bow,
    with_length,
)
from app.sketch.modes.typing_mode import TypingMode
from app.sketch.quantity import is_metric
from app.sketch.snapping import Snap, grid_step, lines_while_shaping, to_drawing
from app.sketch.transform import seam_sides
from app.sketch.translate import tr
from geometry import LengthError, Patch, WedgewrightError
from geometry.arc import outward
from geometry.tolerances import SAME_PLACE, SAME_POINT
from geometry.types import Point, Points
from geometry.units import MM_PER_INCH, format_length, parse_length

_NO_PATCH = "The sides would cross: all went back to where it was"

_MIDDLE_PIXELS = 72.0
"""A side shorter than this on the screen has no handle at its middle: it would lie on its corners'."""


@dataclass(frozen=True, slots=True)
class _Corner:
    """A corner of the chosen patch. Ring 0 is the outline, 1 the first hole."""

    ring: int
    index: int


@dataclass(frozen=True, slots=True)
class _Middle:
    """The middle of a side, which makes it a curve."""

    side: Side


_Subject = _Corner | Side | _Middle


@dataclass(frozen=True, slots=True)
class _Idle:
    hot: _Subject | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """The patch as it was when the button went down."""

    piece: PlanPatch
    rings: tuple[Points, ...]
    subject: _Subject
    handles: tuple[int, ...]
    """Of the ring that the subject belongs to."""
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
    words: str = ""
    """How far it is pulled."""


class ShapeMode(TypingMode):
    """Idle, pointing, dragging; beside it what is chosen for the keys, and what is typed."""

    _state: _Idle | _Pointing | _Dragging = _Idle()
    _chosen: _Subject | None = None
    _chosen_of: PlanPatch | None = None

    def __init__(self, desk: Desk, over_photo: Callable[[], bool] = lambda: False) -> None:
        """``over_photo``: whether one lies beneath, whose places no grid shall move."""
        super().__init__(desk)
        self._over_photo = over_photo

    def press(self, pointer: Pointer) -> Outcome:
        """Take hold of a corner, of a side or of its middle; elsewhere none is chosen any more."""
        piece = self._piece()
        subject = self._subject_at(pointer)
        self._forget_typed()
        if piece is None or subject is None:
            self._choose(None)
            return IGNORED
        self._choose(subject)
        rings = _rings(piece)
        ring = rings[_ring_of(subject)]
        at = pointer.at if isinstance(subject, Side) else _place_of(ring, subject)
        grip = (at[0] - pointer.at[0], at[1] - pointer.at[1])
        held = handles(ring, pointer.scale) if isinstance(subject, _Corner) else handles(ring)
        self._state = _Pointing(_Held(piece, rings, subject, held, pointer.at, grip))
        return TAKEN

    def move(self, pointer: Pointer) -> Outcome:
        """What is held follows the hand, its curved sides with it."""
        match self._state:
            case _Idle():
                self._state = _Idle(self._subject_at(pointer))
                return IGNORED
            case _Pointing(held=held) if distance(pointer.at, held.start) <= pointer.drag_reach:
                return TAKEN
            case _Pointing(held=held) | _Dragging(held=held):
                self._state = self._dragged(held, pointer)
                return TAKEN

    def release(self, pointer: Pointer) -> Outcome:
        """The drag becomes one step, or all goes back where it made no patch."""
        state, self._state = self._state, _Idle()
        match state:
            case _Pointing(held=held):
                self._state = _Idle(held.subject)
                return TAKEN
            case _Dragging(held=held):
                end = self._dragged(held, pointer)
                return self._commit(_name_of(held.subject), end.rings, end.patch)
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
                return self._nudge(press)
        return IGNORED

    def leave(self) -> None:
        """Nothing is held, chosen or typed."""
        self._state = _Idle()
        self._choose(None)

    @property
    def candidate(self) -> Candidate | None:
        """The patch as it would be, where it can be one."""
        match self._state:
            case _Dragging(held=held, patch=Patch() as patch):
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
            case _Dragging() as dragging:
                return self._dragging_overlay(dragging, scale)
            case _Pointing(held=held):
                found = _handles(held.rings, scale, held.subject, HandleState.HELD)
                return Overlay(found, spans=_span(held.rings, held.subject), hides_marks=True)
            case _Idle(hot=hot):
                rings = _rings(piece)
                chosen = self._current()
                if hot is not None and not _is_there(rings, hot):
                    hot = None
                shown, state = (chosen, HandleState.CHOSEN) if chosen is not None else (hot, HandleState.HOT)
                found = _handles(rings, scale, shown, state, hot)
                labels = self._labels(rings, chosen, hot)
                return Overlay(found, (), labels, spans=_span(rings, shown), hides_marks=True)

    # --- steps --------------------------------------------------------------------------------------

    def _dragged(self, held: _Held, pointer: Pointer) -> _Dragging:
        subject = held.subject
        ring = held.rings[_ring_of(subject)]
        wanted = (pointer.at[0] + held.grip[0], pointer.at[1] + held.grip[1])
        free = pointer.free or self._over_photo()
        step = 0.0 if free else grid_step(pointer.scale, metric=self._metric())
        snap, words = Snap(wanted), ""
        match subject:
            case _Corner(index=index):
                if not pointer.free:
                    corners = sorted({*held.handles, index})
                    snap = to_drawing(
                        wanted,
                        (),
                        lines_while_shaping(ring[corners], corners.index(index)),
                        pointer.snap_reach,
                        grid=step,
                    )
                result = moved(ring, index, snap.at, held.handles)
            case Side():
                start, end = _ends(ring, subject)
                by = offset_from(wanted, start, end) - offset_from(held.start, start, end)
                by = round(by / step) * step if step else by
                result = pulled(ring, subject, by)
                words = pull_words(by, self._desk.style)
            case _Middle(side=side):
                start, end = _ends(ring, side)
                bow = offset_from(wanted, start, end)
                if not pointer.free:
                    bow = caught_bow(bow, math.dist(start, end), pointer.snap_reach, step)
                result = with_bow(ring, side, bow)
                words = bow_words(bow, math.dist(start, end), self._desk.style)
        rings = _put(held.rings, _ring_of(subject), result)
        return _Dragging(held, snap, rings, reshaped(rings[0], rings[1:]), words)

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

    def _set(self, subject: _Subject, ring: Points, name: str, merge_key: str | None = None) -> Outcome:
        """``ring`` in place of the subject's."""
        piece = self._piece()
        if piece is None:
            return IGNORED
        rings = _put(_rings(piece), _ring_of(subject), ring)
        return self._commit(name, rings, reshaped(rings[0], rings[1:]), merge_key)

    def _added(self, corner: _Corner, at: Point) -> Outcome:
        piece = self._piece()
        if piece is None:
            return IGNORED
        longer = with_corner(_rings(piece)[corner.ring], corner.index, at)
        self._choose(_Corner(corner.ring, corner.index + 1))
        return self._set(corner, longer, tr("Add corner"))

    def _insert(self, scale: float) -> Outcome:
        """A corner in the middle of the chosen side, or of the side that begins at the chosen corner."""
        piece, subject = self._piece(), self._current()
        if piece is None:
            return IGNORED
        if subject is None:
            return Outcome(refused=tr("Choose a corner first: the new one comes after it"))
        ring = _rings(piece)[_ring_of(subject)]
        begin = subject.index if isinstance(subject, _Corner) else _side_of(subject).start
        held = sorted({*handles(ring, scale), begin})
        following = held[(held.index(begin) + 1) % len(held)]
        steps = (following - begin) % len(ring) or len(ring)
        corner = _Corner(_ring_of(subject), begin)
        if steps == 1:
            return self._added(corner, place((ring[begin] + ring[following]) / 2))
        # A curved side has points already: its middle one becomes a corner that can be taken hold of.
        self._choose(_Corner(corner.ring, (begin + steps // 2) % len(ring)))
        return TAKEN

    def _remove(self) -> Outcome:
        corner, chosen = self._current(), self._desk.chosen
        if not isinstance(corner, _Corner) or chosen is None:
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

    def _remove_hole(self) -> Outcome:
        """The hole of which something is chosen, or the only one."""
        piece, chosen, subject = self._piece(), self._desk.chosen, self._current()
        if piece is None or chosen is None:
            return IGNORED
        if not piece.holes:
            return Outcome(refused=tr("This patch has no hole"))
        number = _ring_of(subject) if subject is not None else 0
        if number == 0 and len(piece.holes) > 1:
            return Outcome(refused=tr("Choose a corner of the hole first, then remove the hole"))
        self._choose(None)
        return Outcome(change=remove_hole(self._desk.plan, chosen, max(number - 1, 0)))

    def _nudge(self, press: KeyPress) -> Outcome:
        piece, subject = self._piece(), self._current()
        if piece is None or press.key is None:
            return IGNORED
        if subject is None:
            return Outcome(refused=tr("Choose a corner first, then move it with the arrow keys"))
        step = ((2.0, 1.0) if self._metric() else (MM_PER_INCH / 8, MM_PER_INCH / 16))[press.fine]
        dx, dy = ARROWS[press.key]
        ring = _rings(piece)[_ring_of(subject)]
        key = f"{_name_of(subject)} {self._desk.chosen} {subject} by keys"
        if isinstance(subject, _Corner):
            x, y = place(ring[subject.index])
            held = handles(ring, press.pointer.scale)
            result = moved(ring, subject.index, (x + dx * step, y + dy * step), held)
            return self._set(subject, result, _name_of(subject), key)
        side = _side_of(subject)
        nx, ny = outward(*_ends(ring, side))
        across = dx * nx + dy * ny
        if abs(across) < 0.3:  # the key points along the side
            return TAKEN
        by = math.copysign(step, across)
        if isinstance(subject, _Middle):
            result = with_bow(ring, side, bow_of(run_of(ring, side)) + by)
            # The points of the side are others after each step, so the key names where it begins.
            key = f"curve {self._desk.chosen} {side.ring} {place(ring[side.start])} by keys"
        else:
            result = pulled(ring, side, by)
        return self._set(subject, result, _name_of(subject), key)

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
        if isinstance(current, Side | _Middle):
            side = _side_of(current)
            current = _Corner(side.ring, side.start if by > 0 else side.end)
        if isinstance(current, _Corner) and current in order:
            self._choose(order[(order.index(current) + by) % len(order)])
        else:
            self._choose(order[0 if by > 0 else -1])
        return TAKEN

    def _next_side(self) -> Outcome:
        """The side at the chosen corner, or the one after the chosen side."""
        piece, current = self._piece(), self._current()
        if piece is None:
            return IGNORED
        order = [side for number, ring in enumerate(_rings(piece)) for side in sides_of(ring, number)]
        if not order:
            return Outcome(refused=tr("This edge has no corners, and so no sides"))
        here = self._side_for_typing()
        if here not in order:
            self._choose(order[0])
        elif isinstance(current, _Corner):
            self._choose(here)
        else:
            self._choose(order[(order.index(here) + 1) % len(order)])
        return TAKEN

    def _choose_middle(self) -> Outcome:
        side = self._side_for_typing()
        if side is None:
            return Outcome(refused=tr("Choose a side first, then make it a curve"))
        self._choose(_Middle(side))
        return TAKEN

    # --- what is typed ------------------------------------------------------------------------------

    def _type(self, text: str) -> Outcome:
        if not self._typed.text:
            hot = self._state.hot if isinstance(self._state, _Idle) else None
            if self._current() is None and isinstance(hot, Side | _Middle):
                self._choose(hot)
            if self._side_for_typing() is None:
                return IGNORED
        self._typed = self._typed.with_text(text)
        return TAKEN

    def _enter(self) -> Outcome:
        piece, subject, side = self._piece(), self._current(), self._side_for_typing()
        if piece is None or subject is None or side is None:
            self._forget_typed()
            return TAKEN
        try:
            length = parse_length(self._typed.text, self._desk.style.unit)
        except LengthError as error:
            self._typed = replace(self._typed, wrong=f"{error.what}\n{error.do}")
            return TAKEN
        ring = _rings(piece)[side.ring]
        if isinstance(subject, _Middle):
            now = bow_of(run_of(ring, side))
            result, name = with_bow(ring, side, -length if now < 0 else length), _name_of(subject)
        elif length <= SAME_POINT:
            self._typed = replace(self._typed, wrong=tr("a side needs a length more than 0"))
            return TAKEN
        else:
            result, name = with_length(ring, side, length), tr("Change the side’s length")
        outcome = self._set(subject, result, name)
        if outcome.refused:
            self._typed = replace(self._typed, wrong=tr("with this length the sides would cross"))
            return TAKEN
        self._forget_typed()
        return outcome

    def _side_for_typing(self) -> Side | None:
        """The chosen side, or the one that begins at the chosen corner."""
        piece, subject = self._piece(), self._current()
        if piece is None or subject is None:
            return None
        if isinstance(subject, _Corner):
            return side_with(_rings(piece)[subject.ring], subject.index, subject.ring)
        return _side_of(subject)

    # --- small questions ----------------------------------------------------------------------------

    def _metric(self) -> bool:
        return is_metric(self._desk.style)

    def _corner_at(self, pointer: Pointer) -> _Corner | None:
        piece = self._piece()
        if piece is None:
            return None
        rings = _rings(piece)
        among = [handles(ring, pointer.scale) for ring in rings]
        current = self._current()
        if isinstance(current, _Corner):
            among[current.ring] = (*among[current.ring], current.index)
        hit = nearest_corner(pointer.at, rings, pointer.hold_reach, among)
        return None if hit is None else _Corner(hit.ring, hit.index)

    def _subject_at(self, pointer: Pointer) -> _Subject | None:
        """What the hand would take hold of: a corner before a middle, a middle before a side."""
        piece = self._piece()
        corner = self._corner_at(pointer)
        if piece is None or corner is not None:
            return corner
        rings = _rings(piece)
        hit = nearest_on_side(pointer.at, rings, pointer.hold_reach)
        side = None if hit is None else side_with(rings[hit.ring], hit.index, hit.ring)
        if side is None:
            return None
        run = run_of(rings[side.ring], side)
        if length_of(run) * pointer.scale < _MIDDLE_PIXELS:
            return side
        return _Middle(side) if distance(middle_of_run(run), pointer.at) <= pointer.hold_reach else side

    def _choose(self, subject: _Subject | None) -> None:
        self._chosen, self._chosen_of = subject, self._piece()
        self._forget_typed()

    @property
    def _holds(self) -> bool:
        return not isinstance(self._state, _Idle)

    def _drop_held(self) -> bool:
        if not self._holds:
            return False
        self._state = _Idle()
        return True

    def _drop_chosen(self) -> bool:
        chosen = self._current()
        self._choose(None)
        return chosen is not None

    def _current(self) -> _Subject | None:
        """What is chosen, as long as the patch is still the one in which it was chosen."""
        if self._chosen is None or self._piece() != self._chosen_of:
            return None
        return self._chosen

    def _follow(self, change: Change, rings: tuple[Points, ...]) -> None:
        """Keep chosen what is chosen in the patch that ``change`` makes of ``rings``."""
        chosen = self._desk.chosen
        subject, piece = self._chosen, self._piece()
        if subject is None or chosen is None or piece is None:
            return
        after = change.after.patches[chosen]
        there = _rings(after)
        self._chosen_of = after
        if isinstance(subject, _Corner):
            hit = nearest_corner(place(rings[subject.ring][subject.index]), there, 0.0)
            self._chosen = None if hit is None else _Corner(hit.ring, hit.index)
            return
        # A curve may have other points now, but it begins where it began; a side that is pulled has the same.
        old = _side_of(subject)
        start = (_rings(piece) if isinstance(subject, _Middle) else rings)[old.ring][old.start]
        begins = [
            side
            for number, ring in enumerate(there)
            for side in sides_of(ring, number)
            if (ring[side.start] == start).all()
        ]
        side = begins[0] if begins else None
        self._chosen = None if side is None else _Middle(side) if isinstance(subject, _Middle) else side

    # --- the picture --------------------------------------------------------------------------------

    def _dragging_overlay(self, dragging: _Dragging, scale: float) -> Overlay:
        held, rings, patch = dragging.held, dragging.rings, dragging.patch
        crossing = patch is None
        drafts = tuple(Draft(ring, True, True) for ring in rings) if crossing else ()
        subject = held.subject
        spans: tuple[Points, ...] = ()
        if isinstance(subject, _Corner):
            labels = self._side_lengths(rings, held, scale)
            snap: Snap | None = dragging.snap
            at = dragging.snap.at
            found = _handles(rings, scale, subject, HandleState.HELD)
        else:
            snap = None
            now = _same_side(rings, _side_of(subject), held.rings)
            run = run_of(rings[now.ring], now)
            at = middle_of_run(run)
            spans = () if crossing else (run,)
            active = _Middle(now) if isinstance(subject, _Middle) else now
            found = _handles(rings, scale, active, HandleState.HELD)
            labels = (Label(at, dragging.words, way=outward(place(run[0]), place(run[-1]))),)
            if isinstance(subject, Side):
                labels = (*labels, *self._neighbours(rings[now.ring], now, scale))
        if crossing:
            labels = (*labels, Label(at, tr("the sides cross"), problem=True))
        return Overlay(found, drafts, labels, snap, hides_patch=crossing, hides_marks=True, spans=spans)

    def _labels(
        self, rings: tuple[Points, ...], chosen: _Subject | None, hot: _Subject | None
    ) -> tuple[Label, ...]:
        """What is known of the side that is chosen, or else under the hand, and what is typed."""
        subject = chosen if chosen is not None else hot
        side = self._side_for_typing() if self._typed.text else None
        if side is None:
            if not isinstance(subject, Side | _Middle):
                return ()
            side = _side_of(subject)
        run = run_of(rings[side.ring], side)
        at, way = middle_of_run(run), outward(place(run[0]), place(run[-1]))
        bows = isinstance(subject, _Middle)
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

    def _side_lengths(self, rings: tuple[Points, ...], held: _Held, scale: float) -> tuple[Label, ...]:
        """The lengths of the two sides at the corner that is held, on their middles."""
        assert isinstance(held.subject, _Corner)
        index = held.subject.index
        ring = rings[held.subject.ring]
        corners = sorted({*held.handles, index})
        spot = corners.index(index)
        labels = []
        for other in (corners[spot - 1], corners[(spot + 1) % len(corners)]):
            if other in ((index + 1) % len(ring), (index - 1) % len(ring)):
                labels += self._length_label(np.array([ring[index], ring[other]]), scale)
        return tuple(labels)

    def _neighbours(self, ring: Points, side: Side, scale: float) -> tuple[Label, ...]:
        """The lengths of the two sides beside one that is pulled, on their middles."""
        labels = []
        for other in sides_of(ring, side.ring):
            if other.end == side.start or other.start == side.end:
                labels += self._length_label(run_of(ring, other), scale)
        return tuple(labels)

    def _length_label(self, run: Points, scale: float) -> list[Label]:
        length = length_of(run)
        if length * scale <= 60:
            return []
        return [Label(middle_of_run(run), format_length(length, self._desk.style), centred=True)]


def _handles(
    rings: tuple[Points, ...],
    scale: float,
    active: _Subject | None,
    state: HandleState,
    hot: _Subject | None = None,
) -> tuple[Handle, ...]:
    found = []

    def look(subject: _Subject) -> HandleState:
        return state if subject == active else HandleState.HOT if subject == hot else HandleState.IDLE

    for number, ring in enumerate(rings):
        for side, middle, length in zip(sides_of(ring, number), *middles_of(ring), strict=True):
            if length * scale >= _MIDDLE_PIXELS or active == _Middle(side):
                found.append(Handle(place(middle), HandleKind.MIDDLE, look(_Middle(side))))
        shown = {*handles(ring, scale)}
        if isinstance(active, _Corner) and active.ring == number:
            shown.add(active.index)
        found += [
            Handle(place(ring[index]), HandleKind.CORNER, look(_Corner(number, index)))
            for index in sorted(shown)
        ]
    return tuple(found)


def _span(rings: tuple[Points, ...], subject: _Subject | None) -> tuple[Points, ...]:
    """The side that is meant, pointed out."""
    if subject is None or isinstance(subject, _Corner):
        return ()
    side = _side_of(subject)
    return (run_of(rings[side.ring], side),)


def _same_side(rings: tuple[Points, ...], side: Side, before: tuple[Points, ...]) -> Side:
    """Where ``side`` of ``before`` stands once a curve of it has other points."""
    count, now = len(before[side.ring]), len(rings[side.ring])
    if now == count:
        return side
    if side.start < side.end:
        return Side(side.ring, side.start, side.end + now - count)
    return Side(side.ring, side.start - side.end, 0)


def _is_there(rings: tuple[Points, ...], subject: _Subject) -> bool:
    if isinstance(subject, _Corner):
        return subject.ring < len(rings) and subject.index < len(rings[subject.ring])
    side = _side_of(subject)
    return side.ring < len(rings) and side in sides_of(rings[side.ring], side.ring)


def _side_of(subject: Side | _Middle) -> Side:
    return subject.side if isinstance(subject, _Middle) else subject


def _ring_of(subject: _Subject) -> int:
    return subject.ring if isinstance(subject, _Corner) else _side_of(subject).ring


def _place_of(ring: Points, subject: _Corner | _Middle) -> Point:
    if isinstance(subject, _Corner):
        return place(ring[subject.index])
    return middle_of_run(run_of(ring, subject.side))


def _ends(ring: Points, side: Side) -> tuple[Point, Point]:
    return place(ring[side.start]), place(ring[side.end])


def _name_of(subject: _Subject) -> str:
    if isinstance(subject, _Corner):
        return tr("Move corner")
    return tr("Pull side") if isinstance(subject, Side) else tr("Curve side")


def _rings(piece: PlanPatch) -> tuple[Points, ...]:
    patch = piece.patch()
    return (patch.outline, *patch.holes)


def _put(rings: tuple[Points, ...], number: int, ring: Points) -> tuple[Points, ...]:
    return (*rings[:number], ring, *rings[number + 1 :])
