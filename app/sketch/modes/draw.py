"""Draw mode: click the corners of a new patch, or type the lengths of its sides."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from app.plan.model import PlanPatch
from app.sketch.changes import Change, add_patch
from app.sketch.hit import distance
from app.sketch.modes.events import ARROWS, Key, KeyPress, Pointer, arrow_step
from app.sketch.modes.mode import IGNORED, TAKEN, Desk, Outcome
from app.sketch.modes.overlay import Draft, Handle, HandleKind, HandleState, Label, Overlay
from app.sketch.modes.reshape import handles
from app.sketch.modes.side_words import bow_words, caught_bow
from app.sketch.modes.sides import middle_of_run, offset_from, place
from app.sketch.modes.typing_mode import TypingMode
from app.sketch.snapping import Caught, Snap, Target, grid_step, lines_while_drawing, to_drawing
from app.sketch.translate import tr
from geometry import Patch, Settings, WedgewrightError
from geometry.arc import arc, outward
from geometry.patch import middle_of
from geometry.tolerances import SAME_POINT
from geometry.types import Point, Points
from geometry.units import format_length

_MIDDLE_PIXELS = 60.0
"""A side shorter than this on the screen has no handle at its middle."""


@dataclass(frozen=True, slots=True)
class _Pull:
    """The middle of a side in the hand."""

    side: int
    bow: float
    """mm, as it was when the button went down."""
    start: Point
    moved: bool = False


class DrawMode(TypingMode):
    """Idle (no corner yet), drawing, or pulling a side's middle; the button may be down (pointing) in all."""

    _corners: tuple[Point, ...] = ()
    _bows: tuple[float, ...] = ()
    """mm. Of the side that begins at each corner, but for the last: 0 where it is straight."""
    _pull: _Pull | None = None
    _hot: int | None = None
    """The side whose middle is under the hand."""
    _pointer: Pointer | None = None
    _snap: Snap | None = None
    _pressed: bool = False

    def __init__(
        self,
        desk: Desk,
        settings: Callable[[], Settings] = Settings,
        over_photo: Callable[[], bool] = lambda: False,
    ) -> None:
        """``settings`` are what a new patch starts with; ``over_photo``: whether one lies beneath, whose
        places no grid shall move.
        """
        super().__init__(desk)
        self._settings = settings
        self._over_photo = over_photo

    @property
    def corners(self) -> tuple[Point, ...]:
        """Those placed so far, mm."""
        return self._corners

    @property
    def typed(self) -> str:
        """The length typed so far."""
        return self._typed.text

    def press(self, pointer: Pointer) -> Outcome:
        """The button goes down where the next corner may come."""
        self._pressed = True
        self._point(pointer)
        if self._hot is not None:
            self._pull = _Pull(self._hot, self._bows[self._hot], pointer.at)
            self._forget_typed()
        return TAKEN

    def move(self, pointer: Pointer) -> Outcome:
        """The next side, or the middle that is held, follows the hand."""
        if self._pull is None:
            self._point(pointer)
        elif self._pull.moved or distance(pointer.at, self._pull.start) > pointer.drag_reach:
            self._bend(self._pull, pointer)
        return TAKEN

    def release(self, pointer: Pointer) -> Outcome:
        """The corner is placed, or the outline closed on its first; a side that is pulled is curved."""
        if not self._pressed:
            return IGNORED
        self._pressed = False
        pull, self._pull = self._pull, None
        if pull is not None:
            return self._let_go(pull)
        self._point(pointer)
        return self._place()

    def double_click(self, pointer: Pointer) -> Outcome:
        """Closes the outline; its last corner came with the first click."""
        if self._hot is not None or len(self._corners) < 3:
            return self.press(pointer)
        return self._close()

    def key(self, press: KeyPress) -> Outcome:
        """Digits begin a length, Enter sets it or closes, arrows move, Insert places a corner."""
        if self._pointer is None:
            self._point(press.pointer)
        match press.key:
            case Key.ENTER:
                return self._enter()
            case Key.BACKSPACE:
                return self._back()
            case Key.INSERT:
                return self._place()
            case Key.LEFT | Key.RIGHT | Key.UP | Key.DOWN:
                return self._nudge(press.key, press)
        if self._typed.takes(press.text, minus=True):
            self._typed = self._typed.with_text(press.text)
            return TAKEN
        return IGNORED

    def drop(self) -> Outcome:
        """No corner comes from this press; the draft stays."""
        if self._pull is not None:
            return self.cancel()
        self._pressed = False
        return TAKEN

    def undo(self) -> Outcome:
        """Takes the last digit or corner back; in the middle of a pull, the pull."""
        if self._pull is not None and not self._typed.text:
            return self.cancel()
        return self._back() if self._corners or self._typed.text else IGNORED

    def leave(self) -> None:
        """The draft stays until Draw is chosen again; nothing hangs on the pointer."""
        if self._pull is not None:
            self._set_bow(self._pull.side, self._pull.bow)
        self._forget_typed()
        self._pointer = self._snap = self._pull = self._hot = None
        self._pressed = False

    def overlay(self, scale: float) -> Overlay:
        """The draft, length and turn beside the pointer, and what was caught."""
        corners = tuple(
            Handle(at, HandleKind.CORNER, HandleState.HOT if self._closes_at(at) else HandleState.IDLE)
            for at in self._corners
        )
        middles = tuple(
            Handle(self._middle(side), HandleKind.MIDDLE, self._look(side))
            for side in range(len(self._bows))
            if self._is_long(side, scale)
        )
        line = self._line()
        if self._snap is None or self._bends:
            refused = not _is_simple(line)
        else:
            line, refused = [*line, self._snap.at], self._would_cross(self._snap.at)
        drafts = (Draft(np.array(line).reshape(-1, 2), False, refused),) if len(line) > 1 else ()
        label = self._label(refused)
        snap = None if self._bends else self._snap
        return self._over((*middles, *corners), drafts, (label,) if label else (), snap)

    # --- what another use of it changes -------------------------------------------------------------

    def _over(
        self,
        shown: tuple[Handle, ...],
        drafts: tuple[Draft, ...],
        labels: tuple[Label, ...],
        snap: Snap | None,
    ) -> Overlay:
        grid = not self._over_photo()
        return Overlay(
            shown, drafts, labels, snap, grid=grid, draws=True, hides_patch=True, seams=self._seams()
        )

    def _seams(self) -> tuple[Points, ...]:
        """Rings of the patch that was chosen: a neighbour is drawn against it."""
        piece = self._piece()
        if piece is None:
            return ()
        patch = piece.patch()
        return (patch.outline, *patch.holes)

    def _refusal(self, at: Point) -> str:
        """Why no corner can be placed at ``at``; empty where one can."""
        return ""

    def _made(self, outline: Sequence[Point]) -> Change:
        """The change that the finished outline is. Raises ``WedgewrightError`` where it cannot be."""
        patch = Patch(outline)
        number = len(self._desk.plan.patches) + 1
        piece = PlanPatch.of(
            tr("Patch {number}", number=number), patch, [middle_of(patch)], settings=self._settings()
        )
        return replace(add_patch(self._desk.plan, piece), name=tr("Draw patch"))

    _begin = "click the first corner"

    # --- steps --------------------------------------------------------------------------------------

    def _point(self, pointer: Pointer) -> None:
        self._pointer = pointer
        self._look_for_middle(pointer)
        if pointer.free:
            self._snap = Snap(pointer.at)
            return
        first = self._corners[:1] if len(self._corners) >= 3 else ()
        seams = self._seams()
        # Not steps of curves: they would catch everywhere along a curve.
        corners = [place(ring[index]) for ring in seams for index in handles(ring)]
        self._snap = to_drawing(
            pointer.at,
            [Target(at, Caught.CORNER) for at in (*first, *corners)],
            lines_while_drawing(self._corners),
            pointer.snap_reach,
            grid=0.0 if self._over_photo() else grid_step(pointer.scale, metric=self._metric()),
            sides=seams,
        )

    def _look_for_middle(self, pointer: Pointer) -> None:
        before = self._hot
        near = [
            (distance(self._middle(side), pointer.at), side)
            for side in range(len(self._bows))
            if self._is_long(side, pointer.scale)
        ]
        apart, side = min(near, default=(math.inf, 0))
        self._hot = side if apart <= pointer.hold_reach else None
        if self._hot != before:
            self._forget_typed()

    def _bend(self, pull: _Pull, pointer: Pointer) -> None:
        self._pull = replace(pull, moved=True)
        start, end = self._corners[pull.side : pull.side + 2]
        bow = offset_from(pointer.at, start, end)
        if not pointer.free:
            step = grid_step(pointer.scale, metric=self._metric())
            bow = caught_bow(bow, math.dist(start, end), pointer.snap_reach, step)
        self._set_bow(pull.side, bow)

    def _let_go(self, pull: _Pull) -> Outcome:
        self._hot = pull.side
        if _is_simple(self._line()):
            return TAKEN
        self._set_bow(pull.side, pull.bow)
        return Outcome(refused=tr("This curve would cross another side: it went back to where it was"))

    def _set_bow(self, side: int, bow: float) -> None:
        self._bows = (*self._bows[:side], bow, *self._bows[side + 1 :])

    def _place(self) -> Outcome:
        if self._snap is None:
            return TAKEN
        at = self._snap.at
        if self._corners and self._closes_at(self._corners[0]):
            return self._close()
        return self._add(at)

    def _add(self, at: Point) -> Outcome:
        if self._corners and math.dist(at, self._corners[-1]) <= SAME_POINT:
            return TAKEN
        refusal = self._refusal(at)
        if refusal:
            return Outcome(refused=refusal)
        if self._would_cross(at):
            return Outcome(refused=tr("This side would cross another: put the corner somewhere else"))
        if self._corners:
            self._bows = (*self._bows, 0.0)
        self._corners = (*self._corners, at)
        self._forget_typed()
        if self._pointer is not None:
            self._point(self._pointer)
        return TAKEN

    def _enter(self) -> Outcome:
        if not self._typed.text:
            return self._close()
        if not self._corners:
            return self._wrong(tr("place the first corner before a length"))
        length = self._typed_length()
        if length is None:
            return TAKEN
        if self._bends:
            return self._enter_bow(length)
        if length <= SAME_POINT:
            return self._wrong(tr("a side needs a length more than 0"))
        direction = self._direction()
        if direction is None:
            return self._wrong(tr("point the way the side runs, then press Enter"))
        last = self._corners[-1]
        return self._add((last[0] + direction[0] * length, last[1] + direction[1] * length))

    def _enter_bow(self, length: float) -> Outcome:
        """The bow of the side in the hand, or under it, to the side to which it has one already."""
        side = self._pull.side if self._pull is not None else self._hot
        assert side is not None
        before = self._bows[side] if self._pull is None else self._pull.bow
        way = self._bows[side] or self._away(side)
        self._set_bow(side, math.copysign(length, way))
        if not _is_simple(self._line()):
            self._set_bow(side, before)
            return self._wrong(tr("this curve would cross another side"))
        self._forget_typed()
        self._pull, self._pressed, self._hot = None, False, side
        return TAKEN

    def _back(self) -> Outcome:
        if self._typed.text:
            self._typed = self._typed.shorter()
        elif self._corners:
            self._corners, self._bows = self._corners[:-1], self._bows[:-1]
            self._pull, self._hot, self._pressed = None, None, False
            if self._pointer is not None:
                self._point(self._pointer)
        else:
            return IGNORED
        return TAKEN

    def _nudge(self, key: Key, press: KeyPress) -> Outcome:
        assert self._pointer is not None
        at = self._snap.at if self._snap is not None else self._pointer.at
        step = grid_step(self._pointer.scale, metric=self._metric())
        if press.fine:
            step = arrow_step(self._desk.style, fine=True)
        dx, dy = ARROWS[key]
        # Keys say exactly where: what the hand would be caught by is not asked, but for the first corner.
        self._pointer = replace(self._pointer, at=(at[0] + dx * step, at[1] + dy * step))
        self._look_for_middle(self._pointer)
        self._snap = Snap(self._pointer.at)
        if len(self._corners) >= 3 and math.dist(self._pointer.at, self._corners[0]) <= step / 2:
            self._snap = Snap(self._corners[0], Caught.CORNER)
        return TAKEN

    def _close(self) -> Outcome:
        if len(self._corners) < 3:
            return Outcome(refused=tr("A patch needs at least three corners"))
        outline = self._line()
        if not shapely.LinearRing(outline).is_simple:
            return Outcome(refused=tr("The closing side would cross another: add a corner to go round it"))
        try:
            change = self._made(outline)
        except WedgewrightError as error:
            return Outcome(refused=str(error))
        self._forget()
        self.leave()
        return Outcome(change=change, leave=True)

    @property
    def _holds(self) -> bool:
        """A draft waits for its next corner as a drag does for the hand."""
        return bool(self._corners) or self._pressed

    def _drop_held(self) -> bool:
        """A pull goes before the draft."""
        if self._pull is not None:
            self._set_bow(self._pull.side, self._pull.bow)
            self._pull, self._pressed = None, False
            return True
        held = self._holds
        self._forget()
        return held

    def _drop_chosen(self) -> bool:
        return False

    def _forget(self) -> None:
        """The draft."""
        self._corners, self._bows = (), ()
        self._pressed = False
        self._snap = self._pull = self._hot = None

    # --- small questions ----------------------------------------------------------------------------

    @property
    def _bends(self) -> bool:
        """True where the hand is for the middle of a side, and not for the next corner."""
        return self._pull is not None or self._hot is not None

    def _run(self, side: int) -> Points:
        """(k, 2) a side, from corner to corner."""
        start, end = self._corners[side : side + 2]
        return np.vstack([[start], arc(start, end, self._bows[side]), [end]])

    def _middle(self, side: int) -> Point:
        return middle_of_run(self._run(side))

    def _is_long(self, side: int, scale: float) -> bool:
        return math.dist(*self._corners[side : side + 2]) * scale >= _MIDDLE_PIXELS

    def _look(self, side: int) -> HandleState:
        if self._pull is not None and self._pull.side == side:
            return HandleState.HELD
        return HandleState.HOT if side == self._hot else HandleState.IDLE

    def _line(self) -> list[Point]:
        """The draft so far, its curves as polylines."""
        line = list(self._corners[:1])
        for side in range(len(self._bows)):
            line += [place(row) for row in self._run(side)[1:]]
        return line

    def _away(self, side: int) -> float:
        """1 or -1: the way of a bow that leads out of what is drawn."""
        drawn = np.array(self._corners)
        x, y = drawn.mean(axis=0)
        start, end = self._corners[side : side + 2]
        return -1.0 if offset_from((float(x), float(y)), start, end) > 0 else 1.0

    def _closes_at(self, corner: Point) -> bool:
        return (
            len(self._corners) >= 3
            and corner == self._corners[0]
            and self._snap is not None
            and self._snap.what is Caught.CORNER
        )

    def _would_cross(self, at: Point) -> bool:
        """True where the side from the last corner to ``at`` crosses or touches one before it."""
        if len(self._corners) < 2 or self._closes_at(self._corners[0]):
            return False
        return math.dist(at, self._corners[-1]) > SAME_POINT and not _is_simple([*self._line(), at])

    def _direction(self) -> Point | None:
        """The unit vector from the last corner to where the hand points."""
        if self._snap is None:
            return None
        last = self._corners[-1]
        dx, dy = self._snap.at[0] - last[0], self._snap.at[1] - last[1]
        length = math.hypot(dx, dy)
        return None if length <= SAME_POINT else (dx / length, dy / length)

    def _label(self, refused: bool) -> Label | None:
        if self._snap is None:
            return None
        at = self._snap.at
        side = self._pull.side if self._pull is not None else self._hot
        if side is not None:
            at = self._middle(side)
        typed = self._typed.words(self._desk.style.unit)
        if self._typed.wrong:
            return Label(at, f"{typed}\n{self._typed.wrong}", problem=True)
        if self._typed.text:
            return Label(at, f"{tr('bow')} {typed}" if side is not None else typed)
        if side is not None:
            return self._bow_label(side, refused)
        if not self._corners:
            return Label(at, tr(self._begin))
        if refused:
            return Label(at, tr("crosses another side"), problem=True)
        length = format_length(math.dist(at, self._corners[-1]), self._desk.style)
        turn = self._turn()
        if turn is None:
            return Label(at, length)
        return Label(at, tr("{length}, turn {turn}°", length=length, turn=round(turn)))

    def _bow_label(self, side: int, refused: bool) -> Label:
        start, end = self._corners[side : side + 2]
        at = self._middle(side)
        if refused:
            return Label(at, tr("crosses another side"), problem=True)
        bow = self._bows[side]
        words = bow_words(bow, math.dist(start, end), self._desk.style)
        nx, ny = outward(start, end)
        sign = math.copysign(1.0, bow or self._away(side))
        text = words if self._pull is not None else f"{words}\n{tr('pull, or type its bow')}"
        return Label(at, text, way=(sign * nx, sign * ny))

    def _turn(self) -> float | None:
        """Degrees by which the new side turns from the last one, 0 to 180."""
        direction = self._direction()
        if direction is None or len(self._corners) < 2:
            return None
        (x0, y0), (x1, y1) = self._line()[-2:]
        before = ((x1 - x0), (y1 - y0))
        cross = before[0] * direction[1] - before[1] * direction[0]
        dot = before[0] * direction[0] + before[1] * direction[1]
        return abs(math.degrees(math.atan2(cross, dot)))


def _is_simple(line: Sequence[Point]) -> bool:
    """Whether a line neither crosses nor touches itself."""
    return len(line) < 2 or bool(shapely.LineString(line).is_simple)
