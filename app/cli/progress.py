"""How far a call is that takes long, for whoever sits at a terminal."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from app.sketch.translate import tr

_SAID_AFTER = 0.5
"""s. Work that is done sooner says nothing."""


@contextmanager
def told(
    words: Callable[[tuple[int, int]], str], clock: Callable[[], float] = time.monotonic
) -> Iterator[Callable[[int, int], bool]]:
    """Something to call with how much is done, and of how much: one line on standard error, gone at the end.

    Nothing is written where that is no terminal.
    """
    begun, wide = clock(), 0

    def went_on(done: int, total: int) -> bool:
        nonlocal wide
        if sys.stderr is not None and sys.stderr.isatty() and clock() - begun >= _SAID_AFTER:
            line = tr("{words} (Ctrl+C stops)", words=words((done, total)))
            sys.stderr.write(f"\r{line:<{wide}}")
            sys.stderr.flush()
            wide = max(wide, len(line))
        return True

    try:
        yield went_on
    finally:
        if wide:
            sys.stderr.write(f"\r{'':<{wide}}\r")
            sys.stderr.flush()
