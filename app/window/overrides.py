"""No error leaves a method that Qt calls.

PySide 6.11 keeps such an error pending while Qt goes on: it hands later ones on as others or not at all, and
may in the end free a function that is still in its class, which ends the program (seen with a debugger). So
what we override is guarded as its class is made: the error goes where all go (``sys.excepthook``, which keeps
the plan first), and Qt gets an answer that it can go on with.
"""

from __future__ import annotations

import sys
from functools import wraps
from types import FunctionType
from typing import Any, Final

from shiboken6 import Shiboken

_OURS: Final = "app."
_QTS: Final = ("PySide6.", "Shiboken")
_NOT_DONE: Final[dict[str, Any]] = {
    "accept": None, "fixup": None, "paint": None, "run": None,
    "event": False, "eventFilter": False, "rowCount": 0, "setData": False,
}  # fmt: skip
"""Answers where Qt's own would do something, or there is none; so of each ``…Event``: None."""


def guard_overrides() -> None:
    """From now on in every class of ours that is made."""
    Shiboken.Object.__init_subclass__ = classmethod(_made)  # type: ignore[assignment, arg-type]


def _made(cls: type, **_: object) -> None:
    """What else the class was given is PySide's business."""
    super(Shiboken.Object, cls).__init_subclass__()  # type: ignore[misc]
    if cls.__module__.startswith(_OURS):
        guard(cls)


def guard(cls: type) -> None:
    """Guard each method of ``cls`` by itself that overrides one of Qt's."""
    base = next((each for each in cls.__mro__ if each.__module__.startswith(_QTS)), object)
    for name, method in list(vars(cls).items()):
        if isinstance(method, FunctionType) and not name.startswith("__") and hasattr(base, name):
            setattr(cls, name, _guarded(name, method, getattr(base, name)))


def _guarded(name: str, method: FunctionType, qts: Any) -> Any:
    @wraps(method)
    def override(self: object, *arguments: object) -> Any:
        try:
            return method(self, *arguments)
        except (Exception, KeyboardInterrupt):
            sys.excepthook(*sys.exc_info())
        if name in _NOT_DONE or name.endswith("Event"):
            return _NOT_DONE.get(name)
        try:
            return qts(self, *arguments)
        except NotImplementedError:  # an abstract class has none
            return None

    return override
