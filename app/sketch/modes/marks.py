"""Marks mode: drag, add and remove marks on the edge of the stitchable area, and divide its sides."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Protocol

from app.plan.model import PlanPatch
from app.sketch.changes import set_setting
from app.sketch.hit import distance
from app.sketch.modes.edge import Edge, EdgePlace, EdgeSide
from app.sketch.modes.events import ARROWS, Key, KeyPress, Pointer, arrow_step
from app.sketch.modes.mark_edits import as_usual, divided, mark_at, with_mark, without_mark
from app.sketch.modes.mark_picture import drag_label, handles_held, handles_of, idle_overlay, label_at
from app.sketch.modes.mark_places import Hot, Removing, Sight, Spot, spot_at, under
from app.sketch.modes.mark_words import (
    MOST_SPANS,
    count_in,
    tape_length,
    typed_words,
)
from app.sketch.modes.mode import IGNORED, TAKEN, Candidate, Desk, Idle, Outcome
from app.sketch.modes.overlay import Label, Overlay
from app.sketch.modes.sides import middle_of_run
from app.sketch.modes.typing_mode import ChoosingMode
from app.sketch.translate import tr
from geometry import Fit, Settings, WedgewrightError
from geometry.marks import Mark, MarkKind
from geometry.types import Point

_ALONG = math.cos(math.radians(75))
"""An arrow key moves a mark where the edge runs within 75° of it."""


class MarksDesk(Desk, Protocol):
    """What this mode knows of the bench besides: the marks are in the fit."""

    def fit_of(self, piece: PlanPatch) -> Fit:
        """The fit of a patch of the plan."""


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """What was there when the button went down; every move is computed from it."""

    sight: Sight
    mark: Mark | None
    """None: a new one."""
    base: Settings
    """Without the mark that is held."""
    others: tuple[Mark, ...]
    start: Point
    grip: Point


@dataclass(frozen=True, slots=True, eq=False)
class _Pointing:
    held: _Held
    spot: Spot | None
    """Where a new mark will be."""


@dataclass(frozen=True, slots=True, eq=False)
class _Dragging:
    held: _Held
    spot: Spot
    taken_by: Mark | None
    """Another mark that stands there already."""
    settings: Settings


@dataclass(frozen=True, slots=True)
class _Stuck:
    """A corner was pulled at, and stays."""


class MarksMode(ChoosingMode[Hot, Mark]):
    """Idle, pointing, dragging; beside it the mark chosen for the keys, and the side last worked on."""

    def __init__(self, desk: MarksDesk) -> None:
        super().__init__(desk)
        self._marks_desk = desk
        self._state: Idle[Hot] | _Pointing | _Dragging | _Stuck | Removing = Idle()
        self._chosen: Point | None = None
        self._letter = ""
        self._typed_for: EdgeSide | Mark | None = None
        self._counts = False
        """Whether a whole number that is typed is one of spans: not for a mark that was chosen."""
        self._seen: Sight | None = None
        self._hand: Pointer | None = None
        """Where the hand hovers; None once the keys have gone elsewhere."""
        self._run = 0
        """Counts the choices: arrows are one step as long as it stays."""

    # --- the hand -----------------------------------------------------------------------------------

    def press(self, pointer: Pointer) -> Outcome:
        """Take hold of a mark, or of the place on the edge where a new one is to be."""
        self._forget_typed()
        sight, hot = self._sight(), self._under(pointer)
        if sight is None:
            return IGNORED
        if isinstance(hot, Removing):
            self._state = hot
            return TAKEN
        self._choose(hot if isinstance(hot, Mark) else None)
        if hot is None:
            return IGNORED
        if isinstance(hot, Mark):
            grip = (hot.at[0] - pointer.at[0], hot.at[1] - pointer.at[1])
            self._letter = hot.side
            self._state = _Pointing(replace(self._hold(sight, hot), start=pointer.at, grip=grip), None)
        else:
            self._letter = hot.place.side.letter
            self._state = _Pointing(replace(self._new(sight), start=pointer.at), hot)
        return TAKEN

    def move(self, pointer: Pointer) -> Outcome:
        """The mark follows the hand along the edge; a corner does not."""
        self._hand = pointer
        match self._state:
            case Idle():
                self._state = Idle(self._under(pointer))
                return IGNORED
            case _Pointing(held=held) if distance(pointer.at, held.start) <= pointer.drag_reach:
                return TAKEN
            case _Pointing(held=_Held(mark=Mark(kind=MarkKind.CORNER))):
                self._state = _Stuck()
                return Outcome(refused=tr(_CORNER_STAYS))
            case _Pointing(held=held) | _Dragging(held=held):
                self._state = self._dragged(held, pointer)
        return TAKEN

    def release(self, pointer: Pointer) -> Outcome:
        """The drag or the click becomes one step."""
        self._hand = pointer
        state, self._state = self._state, Idle()
        outcome = IGNORED
        match state:
            case _Pointing(held=held, spot=None):
                self._letter = held.mark.side if held.mark else ""
                outcome = TAKEN
            case _Pointing(held=held, spot=Spot() as spot):
                outcome = self._put(held, spot.place)
            case _Dragging(held=held):
                end = self._dragged(held, pointer)
                outcome = self._put(held, end.spot.place)
            case Removing():
                if isinstance(self._under(pointer), Removing):
                    return self._remove()
                outcome = TAKEN
            case _Stuck():
                outcome = TAKEN
        if outcome.change is None:
            self._state = Idle(self._under(pointer))
        return outcome

    # --- the keys -----------------------------------------------------------------------------------

    def key(self, press: KeyPress) -> Outcome:
        """Next and Previous choose a mark, arrows move it, Delete removes it, Insert adds one; a typed length
        says exactly where, a typed number divides the side under the hand, + and - divide it more or less.
        """
        if self._sight() is None or not isinstance(self._state, Idle | _Dragging):
            return IGNORED if self._sight() is None else TAKEN
        if press.key is Key.ENTER:
            return self._enter()
        if press.key is Key.BACKSPACE and self._typed.text:
            return self.undo()
        if self._typed.takes(press.text):
            return self._type(press.text)
        if isinstance(self._state, _Dragging):
            return TAKEN
        match press.key:
            case Key.NEXT | Key.PREVIOUS:
                return self._step(1 if press.key is Key.NEXT else -1)
            case Key.DELETE | Key.BACKSPACE:
                return self._remove()
            case Key.INSERT:
                return self._insert()
            case Key.LEFT | Key.RIGHT | Key.UP | Key.DOWN:
                return self._nudge(ARROWS[press.key], fine=press.fine)
            case Key.MORE_SPANS | Key.FEWER_SPANS:
                return self._count(1 if press.key is Key.MORE_SPANS else -1)
            case Key.USUAL_SPANS:
                side = self._side()
                return self._no_side() if side is None else self._divide(side, None)
            case Key.USUAL_MARKS:
                return self._all_usual()
        if press.text in ("+", "-", "−"):
            return self._count(1 if press.text == "+" else -1)
        return IGNORED

    def leave(self) -> None:
        """Nothing is held, chosen or typed."""
        self._keys_only()
        self._choose(None)
        self._letter = ""
        self._forget_typed()

    # --- what is shown ------------------------------------------------------------------------------

    @property
    def candidate(self) -> Candidate | None:
        """The patch with the mark where the hand holds it."""
        if not isinstance(self._state, _Dragging):
            return None
        piece = self._state.held.sight.piece
        return Candidate(piece.patch(), piece.anchors, self._state.settings)

    def overlay(self, scale: float) -> Overlay:
        """A handle at every mark, the span under the hand, and distances from both corners."""
        sight = self._sight()
        if sight is None:
            return Overlay()
        match self._state:
            case _Dragging(held=held, spot=spot, taken_by=taken_by):
                words = self._typing_label(sight) or drag_label(held.sight, spot, taken_by, self._desk.style)
                return Overlay(handles_held(held.others, spot.place.at), (), (words,), spot.snap)
            case _Pointing(held=held, spot=spot):
                at = held.mark.at if held.mark else spot.place.at if spot else held.start
                return Overlay(handles_held(held.others, at))
            case Idle(hot=hot):
                label = self._typing_label(sight)
                return idle_overlay(sight, hot, self._current(), label, scale, self._desk.style)
        return Overlay(handles_of(sight.marks))

    def _typing_label(self, sight: Sight) -> Label | None:
        if not self._typed.text:
            return None
        subject = self._typed_for
        if isinstance(self._state, _Dragging):
            place = self._state.spot.place
        elif isinstance(subject, Mark):
            place = sight.edge.place_of(subject)
        elif subject is not None:
            middle = sight.edge.nearest(subject.middle)
            assert middle is not None
            hot = self._hot
            place = hot.place if isinstance(hot, Spot) and hot.place.side is subject else middle
        else:
            return None
        if self._typed.wrong:
            return label_at(sight, place, f"{self._typed.text}▏\n{self._typed.wrong}", problem=True)
        counts = self._counts and not isinstance(self._state, _Dragging)
        words = typed_words(self._typed, place.side, self._desk.style, counts=counts)
        return label_at(sight, place, words)

    # --- steps --------------------------------------------------------------------------------------

    def _under(self, pointer: Pointer) -> Hot | None:
        """What is under the hand."""
        sight = self._sight()
        return None if sight is None else under(sight, self._current(), pointer, arrow_step(self._desk.style))

    def _dragged(self, held: _Held, pointer: Pointer) -> _Dragging:
        wanted = (pointer.at[0] + held.grip[0], pointer.at[1] + held.grip[1])
        spot = spot_at(held.sight.edge, held.others, wanted, pointer, arrow_step(self._desk.style))
        taken_by = mark_at(held.others, spot.place.at)
        settings = held.base if taken_by else with_mark(held.base, held.sight.edge, spot.place.at)
        return _Dragging(held, spot, taken_by, settings)

    def _put(self, held: _Held, place: EdgePlace, *, by_keys: bool = False) -> Outcome:
        """The mark, new or held, comes to stand there."""
        taken_by = mark_at(held.others, place.at)
        if taken_by is not None:
            return Outcome(
                refused=tr("There is a mark already, {name}: choose another place", name=taken_by.name)
            )
        settings = with_mark(held.base, held.sight.edge, place.at)
        if not by_keys:
            self._run += 1
        self._chosen, self._letter = place.at, place.side.letter
        name = tr("Add mark") if held.mark is None else tr("Move mark")
        return self._change(
            name, settings, f"mark {self._desk.chosen} {self._run} by keys" if by_keys else None
        )

    def _insert(self) -> Outcome:
        """Where the hand is on the edge; else in the middle of the span after the chosen mark."""
        sight, hot = self._sight(), self._hot
        assert sight is not None
        chosen = self._current()
        if isinstance(hot, Spot):
            place = hot.place
        elif chosen is not None:
            _, _, piece = sight.edge.span(sight.edge.place_of(chosen), sight.marks)
            middle = sight.edge.nearest(middle_of_run(piece))
            assert middle is not None
            place = middle
        else:
            return Outcome(refused=tr("Point at the edge or choose a mark first: the new one comes after it"))
        return self._put(self._new(sight), place)

    def _remove(self) -> Outcome:
        sight, mark = self._sight(), self._mark()
        if sight is None or mark is None:
            return Outcome(refused=tr(_CHOOSE_FIRST))
        self._choose(None)
        self._keys_only()
        return self._change(tr("Remove mark"), without_mark(sight.piece.settings, sight.edge, mark.at))

    def _nudge(self, arrow: Point, *, fine: bool) -> Outcome:
        sight, mark = self._sight(), self._mark()
        if sight is None or mark is None:
            return IGNORED
        if mark.kind is MarkKind.CORNER:
            return Outcome(refused=tr(_CORNER_STAYS))
        if self._current() is None:
            self._choose(mark)
        place = sight.edge.place_of(mark)
        ahead = sight.edge.direction(place)
        along = arrow[0] * ahead[0] + arrow[1] * ahead[1]
        if abs(along) < _ALONG:
            return TAKEN
        step = arrow_step(self._desk.style, fine=fine)
        to = sight.edge.moved(place, math.copysign(step, along))
        if to is None:
            return Outcome(
                refused=tr("Side {letter} ends here: the mark stays on it", letter=place.side.letter)
            )
        self._keys_only()
        return self._put(self._hold(sight, mark), to, by_keys=True)

    def _step(self, by: int) -> Outcome:
        sight = self._sight()
        if sight is None or not sight.marks:
            return TAKEN
        current = self._current()
        places = [mark.at for mark in sight.marks]
        index = (places.index(current.at) + by) % len(places) if current else 0 if by > 0 else -1
        self._choose(sight.marks[index])
        self._letter = sight.marks[index].side
        self._keys_only()
        return TAKEN

    def _count(self, by: int) -> Outcome:
        sight, side = self._sight(), self._side()
        if sight is None or side is None:
            return self._no_side()
        count = sight.edge.spans_of(side) + by
        if not 1 <= count <= MOST_SPANS:
            return Outcome(refused=tr("A side has 1 to {most} spans", most=MOST_SPANS))
        return self._divide(side, count, f"spans {self._desk.chosen} {side.letter}")

    def _divide(self, side: EdgeSide, count: int | None, merge_key: str | None = None) -> Outcome:
        sight = self._sight()
        assert sight is not None
        name = tr("Divide side {letter}", letter=side.letter)
        if count is None:
            name = tr("Side {letter} as the others", letter=side.letter)
        return self._change(name, divided(sight.piece.settings, sight.edge, side.letter, count), merge_key)

    def _all_usual(self) -> Outcome:
        sight = self._sight()
        assert sight is not None
        self._choose(None)
        return self._change(tr("Marks as usual"), as_usual(sight.piece.settings))

    def _change(self, name: str, settings: Settings, merge_key: str | None = None) -> Outcome:
        chosen = self._desk.chosen
        if chosen is None:
            return TAKEN
        change = set_setting(
            self._desk.plan,
            chosen,
            own_marks=settings.own_marks,
            removed_marks=settings.removed_marks,
            side_spans=settings.side_spans,
        )
        return Outcome(change=replace(change, name=name, merge_key=merge_key))

    # --- what is typed ------------------------------------------------------------------------------

    def _type(self, text: str) -> Outcome:
        if not self._typed.text and not isinstance(self._state, _Dragging):
            hot = self._hot
            self._typed_for = hot.place.side if isinstance(hot, Spot) else self._mark()
            self._counts = isinstance(hot, Spot) or self._current() is None
            if self._typed_for is None:
                return Outcome(refused=tr("Point at a side or choose a mark first, then type"))
        self._typed = self._typed.with_text(text)
        return TAKEN

    def _enter(self) -> Outcome:
        sight, text, subject = self._sight(), self._typed.text, self._typed_for
        if sight is None or not text:
            return IGNORED
        if isinstance(self._state, _Dragging):
            held, side = self._state.held, self._state.spot.place.side
        elif subject is not None and self._counts and text.isdigit():
            side = subject if isinstance(subject, EdgeSide) else sight.edge.place_of(subject).side
            return self._enter_count(side, count_in(text))
        elif isinstance(subject, EdgeSide):
            held, side = self._new(sight), subject
        elif subject is not None and subject.kind is MarkKind.CORNER:
            self._forget_typed()
            return Outcome(refused=tr(_CORNER_STAYS))
        elif subject is not None:
            held, side = self._hold(sight, subject), sight.edge.place_of(subject).side
        else:
            return IGNORED
        length = self._typed_length()
        if length is None:
            return TAKEN
        place = sight.edge.at_distance(side, length)
        if place is None:
            total = tape_length(side.total, self._desk.style)
            if length > side.total:
                return self._wrong(tr("side {letter} is {total} long", letter=side.letter, total=total))
            return self._wrong(tr("the edge has no place there:\nso near to a corner it has turned"))
        taken_by = mark_at(held.others, place.at)
        if taken_by is not None:
            return self._wrong(tr("mark {name} is there already", name=taken_by.name))
        self._forget_typed()
        self._keys_only()
        return self._put(held, place)

    def _enter_count(self, side: EdgeSide, count: int | None) -> Outcome:
        if count is None:
            return self._wrong(tr("a side has 1 to {most} spans", most=MOST_SPANS))
        self._forget_typed()
        return self._divide(side, count or None)

    def _keys_only(self) -> None:
        """Nothing is under the hand until it moves again."""
        self._state, self._hand = Idle(), None

    def _forget_typed(self) -> None:
        super()._forget_typed()
        self._typed_for = None

    # --- small questions ----------------------------------------------------------------------------

    def _sight(self) -> Sight | None:
        """The chosen patch with its marks; None where there is none, or no room for any."""
        piece = self._piece()
        if piece is None:
            return None
        if self._seen is None or self._seen.piece is not piece:
            try:
                fit = self._marks_desk.fit_of(piece)
            except WedgewrightError:
                return None
            if not fit.prompt_fans:
                return None
            marks = tuple(mark for fan in fit.prompt_fans for mark in fan.marks)
            self._seen = Sight(piece, Edge(fit), marks)
            if isinstance(self._state, Idle):  # what lies under the hand is another thing now
                self._state = Idle(None if self._hand is None else self._under(self._hand))
        return self._seen

    def _hold(self, sight: Sight, mark: Mark) -> _Held:
        base = without_mark(sight.piece.settings, sight.edge, mark.at)
        return _Held(sight, mark, base, tuple(m for m in sight.marks if m is not mark), mark.at, (0.0, 0.0))

    def _new(self, sight: Sight) -> _Held:
        return _Held(sight, None, sight.piece.settings, sight.marks, (0.0, 0.0), (0.0, 0.0))

    def _mark(self) -> Mark | None:
        """What the keys are for: the chosen mark, or else the one under the hand."""
        hot = self._hot
        return self._current() or (hot if isinstance(hot, Mark) else None)

    def _side(self) -> EdgeSide | None:
        """The side under the hand, or of the mark that the keys are for, or last worked on."""
        sight = self._sight()
        if sight is None:
            return None
        if isinstance(hot := self._hot, Spot):
            self._letter = hot.place.side.letter
        elif (mark := self._mark()) is not None:
            self._letter = mark.side
        return sight.edge.side(self._letter)

    @staticmethod
    def _no_side() -> Outcome:
        return Outcome(refused=tr("Point at a side or choose a mark on it first, then divide it"))

    def _choose(self, subject: Mark | None) -> None:
        at = None if subject is None else subject.at
        if at != self._chosen:
            self._run += 1
        self._chosen = at

    def _current(self) -> Mark | None:
        """The chosen mark, as long as there is one where it was chosen."""
        sight = self._sight()
        if self._chosen is None or sight is None:
            return None
        return mark_at(sight.marks, self._chosen)


_CORNER_STAYS = "A corner stays where the patch has it: Shape moves the patch's corner"
_CHOOSE_FIRST = "Choose a mark first, then remove it"
