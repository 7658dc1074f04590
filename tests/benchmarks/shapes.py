"""Outlines that the budgets are measured on, of any number of vertices. All mm, about the origin."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geometry.types import Point, Points

Rings = tuple[Points, tuple[Points, ...]]
"""An outline and its holes."""


def _around(turn: Points, far: Points, x: float = 0.0, y: float = 0.0) -> Points:
    return np.column_stack([x + far * np.cos(turn), y + far * np.sin(turn)])


def _turns(count: int) -> Points:
    return np.linspace(0, 2 * np.pi, count, endpoint=False)


def two_holes(count: int, radius: float = 100.0) -> Rings:
    """``count`` vertices in all, of which two round holes have a twelfth each: design page, section 9."""
    hole = count // 12
    turn = _turns(count - 2 * hole)
    back = -_turns(hole)
    holes = (
        _around(back, np.full(hole, radius / 5), -0.45 * radius, 0.1 * radius),
        _around(back, np.full(hole, radius / 5), 0.45 * radius, -0.1 * radius),
    )
    return _around(turn, radius * (1 + 0.25 * np.cos(7 * turn))), holes


def star(count: int, outer: float = 100.0, inner: float = 70.0) -> Rings:
    """``count`` corners, every other one a tip."""
    return _around(_turns(count), np.where(np.arange(count) % 2, outer, inner)), ()


def smooth(count: int) -> Rings:
    """A curve without corners, as a program draws it: 0.6 m wide."""
    t = _turns(count)
    far = 300 * (1 + 0.2 * np.sin(3 * t) + 0.1 * np.sin(7 * t + 1) + 0.03 * np.sin(23 * t + 2))
    return _around(t, far), ()


def ragged(count: int) -> Rings:
    """The same as a hand or a scanner draws it: each point up to a twentieth of a millimetre off."""
    outline, _ = smooth(count)
    return outline + np.random.default_rng(3).uniform(-0.05, 0.05, outline.shape), ()


def spiral(count: int) -> Rings:
    """A corridor 70 mm wide, three times round; the anchor (98, 30), in its inner end, sees a tenth of it."""
    t = np.linspace(0, 6 * np.pi, count // 2)
    inner, outer = (_around(t, start + 25 * t) for start in (60, 130))
    return np.concatenate([outer, inner[::-1]]), ()


def teeth(count: int) -> Rings:
    """Saw teeth 10 mm deep all round, narrower the more there are."""
    return star(count, 4000.0, 3990.0)


LARGE: dict[str, tuple[Callable[[int], Rings], Point]] = {
    "smooth curve": (smooth, (0.0, 0.0)),
    "ragged edge": (ragged, (0.0, 0.0)),
    "spiral": (spiral, (98.0, 30.0)),
    "saw teeth": (teeth, (0.0, 0.0)),
}
"""Kinds of large outlines, each with an anchor."""
