"""Finds where Qt and threads call us, while the program runs, and has the next such call raise an error.

Python tells of every call, those of C included (``sys.setprofile``). A function of ours whose caller is at
that moment within a call of PySide is a slot, an event handler or another method that Qt calls; one that no
function of ours called is a thread's own. Whatever is connected, overridden or begun is found so.
"""

from __future__ import annotations

import random
import sys
import threading
from collections import Counter
from functools import cache
from pathlib import Path
from types import CodeType, FrameType, NoneType
from typing import Any, Final

from app.window import overrides
from app.window.unforeseen import Unforeseen
from tests.exceptions.slip_points import slip_in

APP: Final = str(Path(__file__).parents[2] / "app")
WORDS: Final = "a slip of ours"


class SlipError(RuntimeError):
    """One that nobody foresaw."""


KINDS: Final = (SlipError, MemoryError, RecursionError)


class Slips:
    """One error at a time, at places that are found meanwhile: first where there was none yet.

    Never both at once: with CPython telling of every call, PySide hands on fewer errors (by trial).
    """

    def __init__(self, chance: random.Random) -> None:
        self._chance = chance
        self.armed = False
        """Whether one is still to be raised."""
        self.seen: Counter[CodeType] = Counter()
        """How often each place was called while one looked."""
        self.raised: Counter[CodeType] = Counter()
        self.place: CodeType | None = None
        """Where the last one was raised."""
        self._in_vain: Counter[CodeType] = Counter()
        """How often each was chosen and not called."""
        self._calls: list[tuple[int, bool]] = []
        """Of C, the outermost first: the ``id`` of the frame that calls, and whether it calls Qt."""

    def look(self, loop: FrameType) -> None:
        """Find places from now on. ``loop`` is the frame that runs Qt's outermost loop."""
        self._calls = [(id(loop), True)]
        threading.setprofile(self._watch_thread)
        sys.setprofile(self._watch)

    def look_away(self) -> None:
        """Find none any more."""
        sys.setprofile(None)
        threading.setprofile(None)  # type: ignore[arg-type]

    def arm(self) -> None:
        """The next call of a place raises one; where another was chosen and not called, that one does not."""
        if self.armed and self.place is not None:
            self._in_vain[self.place] += 1
        least = min(self.raised[code] + self._in_vain[code] for code in self.seen)
        fewest = [code for code in self.seen if self.raised[code] + self._in_vain[code] == least]
        self.place = self._chance.choice(fewest)
        self.armed = True
        slip_in(self.place, self._slip)

    def _watch(self, frame: FrameType, what: str, arg: Any) -> None:
        if what == "c_call":
            self._calls.append((id(frame), _is_of_qt(arg)))
        elif what == "call":
            caller = frame.f_back
            if caller is not None and caller.f_code.co_filename == overrides.__file__:
                caller = caller.f_back  # the guard of what Qt calls
            if _is_ours(frame.f_code) and self._calls[-1] == (id(caller), True):
                self.seen[frame.f_code] += 1
        elif what != "return" and self._calls[-1][0] == id(frame):
            self._calls.pop()

    def _watch_thread(self, frame: FrameType, what: str, arg: Any) -> None:
        if what == "call" and _is_ours(frame.f_code):
            caller = frame.f_back
            if caller is None or caller.f_code.co_filename.startswith(_PYTHON):
                self.seen[frame.f_code] += 1

    def _slip(self) -> BaseException:
        assert self.place is not None
        self.armed = False
        slip_in(None, self._slip)
        self.raised[self.place] += 1
        return self._chance.choice(KINDS)(WORDS)


_PYTHON: Final = str(Path(threading.__file__).parent)


def _is_ours(code: CodeType) -> bool:
    """Not where errors arrive, which Python itself calls, nor the guards that send them there."""
    return (
        code.co_filename.startswith(APP)
        and code.co_filename != overrides.__file__
        and code is not Unforeseen.catch.__code__
    )


def _is_of_qt(function: Any) -> bool:
    """Whether a function of C is PySide's: it belongs to an object of Qt, or, static, to nothing."""
    return _has_qt(type(getattr(function, "__self__", None)))


@cache
def _has_qt(kind: type) -> bool:
    return kind is NoneType or any(
        base.__module__.startswith(("PySide6", "Shiboken")) for base in kind.__mro__
    )


def named(code: CodeType) -> str:
    """As a reader finds it."""
    return f"{Path(code.co_filename).name}:{code.co_firstlineno} {code.co_qualname}"
