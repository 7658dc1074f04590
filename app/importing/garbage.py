"""Millions of small objects, and the garbage collector, which walks through all of them."""

from __future__ import annotations

import gc
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_lock = threading.Lock()
_postponing = 0
_collects = True
"""Whether garbage was collected before the first began to postpone it."""


@contextmanager
def garbage_postponed() -> Iterator[None]:
    """No garbage is collected meanwhile, in no thread; several may ask for that at once.

    A drawing of 100,000 things is some millions of objects. Several times while they are made the collector
    would walk through all there are, a quarter of a second each time, while which no other thread goes on: a
    window would stand still. What is read has next to no garbage that needs it.
    """
    global _postponing, _collects
    with _lock:
        if not _postponing:
            _collects = gc.isenabled()
            gc.disable()
        _postponing += 1
    try:
        yield
    finally:
        with _lock:
            _postponing -= 1
            if not _postponing and _collects:
                gc.enable()
