"""What modes with a typed length have in common: what Esc forgets, in which order, and undo of digits."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import replace
from typing import Generic, TypeVar

from app.sketch.modes.mode import IGNORED, TAKEN, Hot, Idle, Mode, Outcome
from app.sketch.modes.typed import Typed
from app.sketch.quantity import is_metric
from geometry import LengthError
from geometry.units import parse_length

Chosen = TypeVar("Chosen")


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

    def _typed_length(self) -> float | None:
        """What is typed, mm; None, and the reason shown, where it is no length."""
        try:
            return parse_length(self._typed.text, self._desk.style.unit)
        except LengthError as error:
            self._wrong(f"{error.what}\n{error.do}")
            return None

    def _wrong(self, words: str) -> Outcome:
        """What is typed stays, and ``words`` beside it until it is mended."""
        self._typed = replace(self._typed, wrong=words)
        return TAKEN

    def _metric(self) -> bool:
        return is_metric(self._desk.style)

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


class ChoosingMode(TypingMode, Generic[Hot, Chosen]):
    """Idle, or something is in the hand; beside it what is chosen for the keys."""

    _state: object = Idle()

    @property
    def _hot(self) -> Hot | None:
        return self._state.hot if isinstance(self._state, Idle) else None

    @property
    def _holds(self) -> bool:
        return not isinstance(self._state, Idle)

    def _drop_held(self) -> bool:
        held = self._holds
        if held:
            self._state = Idle()
        return held

    def _drop_chosen(self) -> bool:
        chosen = self._current()
        self._choose(None)
        return chosen is not None

    @abstractmethod
    def _current(self) -> Chosen | None:
        """What is chosen, as long as it is there."""

    @abstractmethod
    def _choose(self, subject: Chosen | None) -> None:
        """The keys are for that now."""
