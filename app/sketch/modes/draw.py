"""Draw mode: click the corners of a new patch, or type the lengths of its sides."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import shapely

from app.plan.model import PlanPatch
from app.sketch.changes import add_patch
from app.sketch.modes.events import ARROWS, Key, KeyPress, Pointer
from app.sketch.modes.mode import IGNORED, TAKEN, Desk, Mode, Outcome
from app.sketch.modes.overlay import Draft, Handle, HandleKind, HandleState, Label, Overlay
from app.sketch.snapping import Caught, Snap, Target, grid_step, lines_while_drawing, to_drawing
from app.sketch.translate import tr
from geometry import LengthError, Patch, PatchError, Settings
from geometry.patch import middle_of
from geometry.tolerances import SAME_POINT
from geometry.types import Point
from geometry.units import MM_PER_INCH, LengthStyle, format_length, parse_length

_TYPED = frozenset("0123456789.,/-' \"⁄½¼¾⅛⅜⅝⅞⅓⅔″′")
"""What begins or continues a typed length; once one is begun, the letters of a unit do too."""

_UNIT_LETTERS = frozenset("incmft")


@dataclass(frozen=True, slots=True)
class _Typed:
    """A length being typed, and what is wrong with it since the last Enter."""

    text: str = ""
    wrong: str = ""


class DrawMode(Mode):
    """Idle (no corner yet) or drawing; the button may be down (pointing) in either."""

    _corners: tuple[Point, ...] = ()
    _pointer: Pointer | None = None
    _snap: Snap | None = None
    _pressed: bool = False
    _typed: _Typed = _Typed()

    def __init__(self, desk: Desk, settings: Callable[[], Settings] = Settings) -> None:
        """``settings`` are what a new patch starts with."""
        super().__init__(desk)
        self._settings = settings

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
        return TAKEN

    def move(self, pointer: Pointer) -> Outcome:
        """The next side follows the hand."""
        self._point(pointer)
        return TAKEN

    def release(self, pointer: Pointer) -> Outcome:
        """The corner is placed, or the outline closed on its first."""
        if not self._pressed:
            return IGNORED
        self._pressed = False
        self._point(pointer)
        return self._place()

    def double_click(self, pointer: Pointer) -> Outcome:
        """Closes the outline; its last corner came with the first click."""
        return self._close() if len(self._corners) >= 3 else self.press(pointer)

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
        if press.text and self._continues(press.text):
            self._typed = _Typed(self._typed.text + press.text)
            return TAKEN
        return IGNORED

    def cancel(self) -> Outcome:
        """First the typed length goes, then the draft, then the mode."""
        if self._typed.text:
            self._typed = _Typed()
            return TAKEN
        running = bool(self._corners) or self._pressed
        self._corners = ()
        self._pressed = False
        self._snap = None
        return TAKEN if running else Outcome(leave=True)

    def undo(self) -> Outcome:
        """Takes the last digit or corner back."""
        return self._back() if self._corners or self._typed.text else IGNORED

    def leave(self) -> None:
        """The draft stays until Draw is chosen again; nothing hangs on the pointer."""
        self._typed = _Typed()
        self._pointer = self._snap = None
        self._pressed = False

    @property
    def busy(self) -> bool:
        """True while there is a draft."""
        return bool(self._corners) or self._pressed or bool(self._typed.text)

    def overlay(self, scale: float) -> Overlay:
        """The draft, length and turn beside the pointer, and what was caught."""
        corners = tuple(
            Handle(at, HandleKind.CORNER, HandleState.HOT if self._closes_at(at) else HandleState.IDLE)
            for at in self._corners
        )
        if self._snap is None:
            points, refused = list(self._corners), False
        else:
            points = [*self._corners, self._snap.at]
            refused = self._would_cross(self._snap.at)
        drafts = (Draft(np.array(points).reshape(-1, 2), False, refused),) if len(points) > 1 else ()
        label = self._label(refused)
        return Overlay(corners, drafts, (label,) if label else (), self._snap, grid=True, hides_patch=True)

    # --- steps --------------------------------------------------------------------------------------

    def _point(self, pointer: Pointer) -> None:
        self._pointer = pointer
        if pointer.free:
            self._snap = Snap(pointer.at)
            return
        first = self._corners[:1] if len(self._corners) >= 3 else ()
        self._snap = to_drawing(
            pointer.at,
            [Target(at, Caught.CORNER) for at in first],
            lines_while_drawing(self._corners),
            pointer.snap_reach,
            grid=grid_step(pointer.scale, metric=self._metric()),
        )

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
        if self._would_cross(at):
            return Outcome(refused=tr("This side would cross another: put the corner somewhere else"))
        self._corners = (*self._corners, at)
        self._typed = _Typed()
        if self._pointer is not None:
            self._point(self._pointer)
        return TAKEN

    def _enter(self) -> Outcome:
        if not self._typed.text:
            return self._close()
        if not self._corners:
            self._typed = replace(self._typed, wrong=tr("place the first corner before a length"))
            return TAKEN
        try:
            length = parse_length(self._typed.text, self._desk.style.unit)
        except LengthError as error:
            self._typed = replace(self._typed, wrong=f"{error.what}\n{error.do}")
            return TAKEN
        if length <= SAME_POINT:
            self._typed = replace(self._typed, wrong=tr("a side needs a length more than 0"))
            return TAKEN
        direction = self._direction()
        if direction is None:
            self._typed = replace(self._typed, wrong=tr("point the way the side runs, then press Enter"))
            return TAKEN
        last = self._corners[-1]
        return self._add((last[0] + direction[0] * length, last[1] + direction[1] * length))

    def _back(self) -> Outcome:
        if self._typed.text:
            self._typed = _Typed(self._typed.text[:-1])
        elif self._corners:
            self._corners = self._corners[:-1]
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
            step = 1.0 if self._metric() else MM_PER_INCH / 16
        dx, dy = ARROWS[key]
        # Keys say exactly where: what the hand would be caught by is not asked, but for the first corner.
        self._pointer = replace(self._pointer, at=(at[0] + dx * step, at[1] + dy * step))
        self._snap = Snap(self._pointer.at)
        if len(self._corners) >= 3 and math.dist(self._pointer.at, self._corners[0]) <= step / 2:
            self._snap = Snap(self._corners[0], Caught.CORNER)
        return TAKEN

    def _close(self) -> Outcome:
        if len(self._corners) < 3:
            return Outcome(refused=tr("A patch needs at least three corners"))
        if not shapely.LinearRing(self._corners).is_simple:
            return Outcome(refused=tr("The closing side would cross another: add a corner to go round it"))
        try:
            patch = Patch(self._corners)
        except PatchError as error:
            return Outcome(refused=str(error))
        number = len(self._desk.plan.patches) + 1
        piece = PlanPatch.of(
            tr("Patch {number}", number=number), patch, [middle_of(patch)], settings=self._settings()
        )
        change = add_patch(self._desk.plan, piece)
        self._corners = ()
        self.leave()
        return Outcome(change=replace(change, name=tr("Draw patch")), leave=True)

    # --- small questions ----------------------------------------------------------------------------

    def _metric(self) -> bool:
        return self._desk.style in (LengthStyle.CM, LengthStyle.MM)

    def _continues(self, text: str) -> bool:
        if self._typed.text:
            return all(character in _TYPED or character in _UNIT_LETTERS for character in text)
        return all(character in _TYPED and character not in " '\"″′" for character in text)

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
        line = [*self._corners, at]
        return math.dist(at, self._corners[-1]) > SAME_POINT and not shapely.LineString(line).is_simple

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
        if self._typed.wrong:
            return Label(at, f"{self._typed.text}▏\n{self._typed.wrong}", problem=True)
        if self._typed.text:
            return Label(at, f"{self._typed.text}▏{self._desk.style.unit}")
        if not self._corners:
            return Label(at, tr("click the first corner"))
        if refused:
            return Label(at, tr("crosses another side"), problem=True)
        length = format_length(math.dist(at, self._corners[-1]), self._desk.style)
        turn = self._turn()
        if turn is None:
            return Label(at, length)
        return Label(at, tr("{length}, turn {turn}°", length=length, turn=round(turn)))

    def _turn(self) -> float | None:
        """Degrees by which the new side turns from the last one, 0 to 180."""
        direction = self._direction()
        if direction is None or len(self._corners) < 2:
            return None
        (x0, y0), (x1, y1) = self._corners[-2:]
        before = ((x1 - x0), (y1 - y0))
        cross = before[0] * direction[1] - before[1] * direction[0]
        dot = before[0] * direction[0] + before[1] * direction[1]
        return abs(math.degrees(math.atan2(cross, dot)))
