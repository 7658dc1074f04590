"""Calls of the program without a window, in this process."""

from __future__ import annotations

from collections.abc import Callable

Run = Callable[..., tuple[int, str, str]]
"""The words of a call -> exit status, standard output, standard error."""
