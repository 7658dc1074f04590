"""What modes with a typed length have in common: what Esc forgets, in which order, and undo of digits."""

from __future__ import annotations

from abc import ABC, abstractmethod

from app.sketch.modes.mode import IGNORED, TAKEN, Mode, Outcome
from app.sketch.modes.typed import Typed


class TypingMode(Mode, ABC):
    """Esc forgets first what is typed, then what is held, then what is chosen, and then leaves the mode."""

    _typed: Typed = Typed()

    def cancel(self) -> Outcome:
        """First what is typed goes, then a drag, then the choice, then the mode."""
        if self._typed.text:
            self._forget_typed()
            return TAKEN
        if self._drop_held() or self._drop_chosen():
            return TAKEN
        return Outcome(leave=True)

    def undo(self) -> Outcome:
        """Takes the last digit back."""
        if not self._typed.text:
            return IGNORED
        self._typed = self._typed.shorter()
        return TAKEN

    @property
    def busy(self) -> bool:
        """True while the button is down, or something is typed."""
        return self._holds or bool(self._typed.text)

    def _forget_typed(self) -> None:
        self._typed = Typed()

    @property
    @abstractmethod
    def _holds(self) -> bool:
        """Whether the hand holds something."""

    @abstractmethod
    def _drop_held(self) -> bool:
        """All is as it was before the hand took hold of it. False where it holds nothing."""

    @abstractmethod
    def _drop_chosen(self) -> bool:
        """Nothing is chosen for the keys any more. False where nothing was."""
