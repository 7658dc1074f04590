"""Walk mode: the stitch path under a moving needle. Play, pause, step, scrub; nothing in the plan changes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from app.sketch.hit import distance
from app.sketch.modes.events import Key, KeyPress, Pointer
from app.sketch.modes.mode import IGNORED, TAKEN, Desk, Mode, Outcome
from app.sketch.modes.overlay import HandleState, Overlay, Walked
from app.sketch.translate import tr
from app.sketch.walk import Reading, Walk
from app.sketch.walk_words import NOTHING_TO_WALK
from geometry import Fit

_SLACK_PIXELS: Final = 1.5
"""Lines that are no further apart on the screen than this lie on each other for a hand that scrubs."""


@dataclass(frozen=True, slots=True)
class _Paused:
    hot: bool = False
    """The hand is over the path."""


@dataclass(frozen=True, slots=True)
class _Playing:
    hot: bool = False


@dataclass(frozen=True, slots=True)
class _Held:
    """The hand holds the needle, on the path or by the slider."""

    back_to: float
    """mm: where the needle was."""
    plays_on: bool
    """It played, and does again when the hand lets go."""


class WalkMode(Mode):
    """Paused, playing, held. Where the needle is stays as it is from one to the other.

    There is no clock here: whoever has one calls ``tick`` while ``playing``.
    """

    def __init__(self, desk: Desk, fit: Callable[[], Fit | None]) -> None:
        super().__init__(desk)
        self._fit_now = fit
        self._fit: Fit | None = None
        self._walk: Walk | None = None
        self._place = 0.0
        self._seconds = 0.0
        """At the pace of the settings; while it waits at a turn the place stays and this goes on."""
        self._state: _Paused | _Playing | _Held = _Paused()
        self._reading: Reading | None = None
        self.speed = 5.0
        """Times the pace at which the needle stitches."""
        self.shows_turned = True
        """Whether a picture of the cloth as it lies under the machine goes along, where it is turned."""

    # --- what there is ------------------------------------------------------------------------------

    @property
    def walk(self) -> Walk | None:
        """The path of the fit that is shown; None where it has none. A new fit begins at its beginning."""
        fit = self._fit_now()
        if fit is not self._fit:
            self._fit = fit
            walk = None if fit is None else Walk(fit.path, fit.settings)
            self._walk = None if walk is None or walk.empty else walk
            self._state = _Paused()
            self._go(0.0)
        return self._walk

    @property
    def place(self) -> float:
        """mm from the beginning of the path."""
        return self._place if self.walk is not None else 0.0

    @property
    def reading(self) -> Reading | None:
        """Everything about that place."""
        walk = self.walk
        if walk is not None and self._reading is None:
            self._reading = walk.reading(self._place)
        return self._reading

    @property
    def turns_cloth(self) -> bool:
        """Whether the cloth of the fit that is shown is turned under the machine, and not the machine over
        it.
        """
        return self.walk is not None and self._fit is not None and self._fit.settings.cloth_turned

    @property
    def playing(self) -> bool:
        """Whether time moves the needle. Not while the hand holds it."""
        if not isinstance(self._state, _Playing):
            return False  # no path is worked out to find that out
        return self.walk is not None and isinstance(self._state, _Playing)  # a new fit's is paused

    @property
    def busy(self) -> bool:
        """True while the hand holds the needle."""
        return isinstance(self._state, _Held)

    # --- what is done to it -------------------------------------------------------------------------

    def tick(self, seconds: float) -> bool:
        """So much time went by. False where that moves nothing, so that no clock is needed."""
        walk = self.walk if self.playing else None
        if walk is None:
            return False
        self._seconds = min(self._seconds + seconds * self.speed, walk.seconds)
        self._place = walk.clamped(walk.place_at(self._seconds))
        self._reading = None
        if self._seconds >= walk.seconds:
            self._go(walk.length)
            self._state = _Paused()
        return True

    def toggle(self) -> Outcome:
        """Play or pause; at the end, from the beginning."""
        walk = self.walk
        if walk is None:
            return Outcome(refused=tr(NOTHING_TO_WALK))
        if self.playing:
            self._state = _Paused()
        elif not self.busy:
            if self._place >= walk.length:
                self._go(0.0)
            self._state = _Playing()
        return TAKEN

    def step(self, by: int, *, wedge: bool = False) -> Outcome:
        """To the next (1) or the previous (-1) beginning of a segment, or of a wedge; it then rests there."""
        walk = self.walk
        if walk is None:
            return IGNORED
        return self.go_to((walk.step_wedge if wedge else walk.step)(self._place, by))

    def go_to(self, place: float) -> Outcome:
        """To ``place``, mm, and rest there."""
        walk = self.walk
        if walk is None:
            return IGNORED
        self._go(walk.clamped(place))
        if self.playing:
            self._state = _Paused()
        return TAKEN

    def scrub(self, share: float) -> Outcome:
        """To that share of the length; playing goes on from there."""
        walk = self.walk
        if walk is None:
            return IGNORED
        self._go(walk.at_share(share))
        return TAKEN

    def hold(self) -> None:
        """The hand takes the needle; time moves it no more."""
        if self.walk is not None and not self.busy:
            self._state = _Held(self._place, self.playing)

    def let_go(self) -> None:
        """The hand lets go of it."""
        if isinstance(self._state, _Held):
            walk = self.walk
            plays_on = self._state.plays_on and walk is not None and self._place < walk.length
            self._state = _Playing() if plays_on else _Paused()

    # --- events -------------------------------------------------------------------------------------

    def press(self, pointer: Pointer) -> Outcome:
        """On the path: take the needle there."""
        walk, reading = self.walk, self.reading
        if walk is None or reading is None:
            return IGNORED
        # Under the hand the needle itself comes first, then the line that is nearest.
        place = self._place
        if distance(reading.at, pointer.at) > pointer.hold_reach:
            place, apart = walk.nearest(pointer.at, self._place)
            if apart > pointer.hold_reach:
                return IGNORED
        self.hold()
        self._go(place)
        return TAKEN

    def move(self, pointer: Pointer) -> Outcome:
        """A held needle follows the hand along the path."""
        walk = self.walk
        if walk is None:
            return IGNORED
        place, apart = walk.nearest(pointer.at, self._place, _SLACK_PIXELS / pointer.scale)
        if self.busy:
            self._go(place)
            return TAKEN
        hot = apart <= pointer.hold_reach
        self._state = _Playing(hot) if self.playing else _Paused(hot)
        return IGNORED

    def release(self, pointer: Pointer) -> Outcome:
        """The needle stays where it is, and plays on if it did."""
        if not self.busy:
            return IGNORED
        self.let_go()
        return TAKEN

    def key(self, press: KeyPress) -> Outcome:
        """Space plays and pauses; arrows step, Page Up and Page Down by wedge; Home and End."""
        if press.text == " ":
            return self.toggle()
        walk = self.walk
        if walk is None or self.busy:
            return IGNORED
        match press.key:
            case Key.RIGHT:
                return self.step(1)
            case Key.LEFT:
                return self.step(-1)
            case Key.NEXT:
                return self.step(1, wedge=True)
            case Key.PREVIOUS:
                return self.step(-1, wedge=True)
            case Key.HOME:
                return self.go_to(0.0)
            case Key.END:
                return self.go_to(walk.length)
        return IGNORED

    def cancel(self) -> Outcome:
        """Esc: a held needle goes back to where it was; a playing one stops where it is."""
        state = self._state
        self._state = _Paused()
        if isinstance(state, _Held):
            if self.walk is not None:
                self._go(state.back_to)
            return TAKEN
        return TAKEN if isinstance(state, _Playing) else IGNORED

    def overlay(self, scale: float) -> Overlay:
        """The path as far as it is stitched, and the needle."""
        walk, reading = self.walk, self.reading
        if walk is None or reading is None:
            return Overlay()
        match self._state:
            case _Held():
                look = HandleState.HELD
            case _Paused(hot=hot) | _Playing(hot=hot):
                look = HandleState.HOT if hot else HandleState.IDLE
        turned = walk.way_at(self._seconds) if self.shows_turned and self.turns_cloth else None
        return Overlay(walked=Walked(walk, reading, look, turned))

    def _go(self, place: float) -> None:
        self._place = place
        self._seconds = self._walk.seconds_at(place) if self._walk is not None else 0.0
        self._reading = None
