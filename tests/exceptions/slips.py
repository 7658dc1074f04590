"""Finds where Qt and threads call us, while the program runs, and has the next such call raise an error.

Python tells of every call, those of C included (``sys.setprofile``). A function of ours whose caller is at
that moment within a call of PySide is a slot, an event handler or another method that Qt calls; one that no
function of ours called is a thread's own. Whatever is connected, overridden or begun is found so.
"""

from __future__ import annotations

import builtins
import gc
import random
import sys
import threading
from collections import Counter
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import CodeType, FrameType, FunctionType, NoneType
from typing import Any, Final

from app.window.unforeseen import Unforeseen

APP: Final = str(Path(__file__).parents[2] / "app")
WORDS: Final = "a slip of ours"


class SlipError(RuntimeError):
    """One that nobody foresaw."""


KINDS: Final = (SlipError, MemoryError, RecursionError)


class Slips:
    """One error at a time, each at a place where there was none yet, as far as such are reached."""

    def __init__(self, chance: random.Random, slips: Callable[[], object]) -> None:
        """``slips``: called, in whatever thread, right before one is raised."""
        self._chance = chance
        self._slips = slips
        self.armed = False
        """Whether one is still to be raised."""
        self.seen: Counter[CodeType] = Counter()
        """How often each place was called."""
        self.raised: Counter[CodeType] = Counter()
        self.place: CodeType | None = None
        """Where the last one was raised."""
        self.patience = 0
        """How many each place may have had; above 0 where no new ones are reached."""
        self._looks = False
        """Whether a place for it is still looked for."""
        self._changed: list[tuple[FunctionType, CodeType]] = []
        self._due: dict[CodeType, int] = {}
        self._calls: list[tuple[int, bool]] = []
        """Of C, the outermost first: the ``id`` of the frame that calls, and whether it calls Qt."""

    def arm(self, loop: FrameType) -> None:
        """From now on one is raised. ``loop`` is the frame that runs Qt's outermost loop."""
        self.disarm()
        self._calls = [(id(loop), True)]
        self.armed = self._looks = True
        sys.setprofile(self._watch)

    def disarm(self) -> None:
        """None is raised any more."""
        self.armed = self._looks = False
        sys.setprofile(None)
        for function, code in self._changed:
            function.__code__ = code
        self._changed.clear()

    def _watch(self, frame: FrameType, what: str, arg: Any) -> None:
        if what == "c_call":
            self._calls.append((id(frame), _is_of_qt(arg)))
        elif what == "call":
            if _is_ours(frame.f_code) and self._calls[-1] == (id(frame.f_back), True):
                self._arrive(frame.f_code)
        elif what != "return" and self._calls[-1][0] == id(frame):
            self._calls.pop()

    def watch_thread(self, frame: FrameType, what: str, arg: Any) -> None:
        """For ``threading.setprofile``."""
        if what == "call" and _is_ours(frame.f_code):
            caller = frame.f_back
            if caller is None or caller.f_code.co_filename.startswith(_PYTHON):
                self._arrive(frame.f_code)

    def _arrive(self, code: CodeType) -> None:
        if not self._looks:
            return
        self.seen[code] += 1
        if code not in self._due:
            self._due[code] = self.seen[code] + self._chance.choice((0, 0, 1, 3))
        if self.seen[code] < self._due[code] or self.raised[code] > self.patience:
            return
        self._looks = False
        self.place = code
        builtins.slip_of_ours = self._slip  # type: ignore[attr-defined]
        for function in gc.get_referrers(code):
            if isinstance(function, FunctionType):
                self._changed.append((function, code))
                function.__code__ = _slipping.__code__.replace(
                    co_freevars=code.co_freevars,
                    co_name=code.co_name,
                    co_qualname=code.co_qualname,
                    co_filename=code.co_filename,
                    co_firstlineno=code.co_firstlineno,
                )

    def _slip(self) -> BaseException:
        assert self.place is not None
        self.raised[self.place] += self.armed
        self._slips()
        self.disarm()
        return self._chance.choice(KINDS)(WORDS)


def _slipping(*_: object, **__: object) -> None:
    raise slip_of_ours()  # type: ignore[name-defined]  # noqa: F821 - found whatever module it is put into


_PYTHON: Final = str(Path(threading.__file__).parent)


def _is_ours(code: CodeType) -> bool:
    """Not where errors arrive: it is called by Python itself."""
    return code.co_filename.startswith(APP) and code is not Unforeseen.catch.__code__


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
