"""Fits that the exporters' tests share."""

from __future__ import annotations

from functools import cache

from geometry import Fit, Patch, Settings, fit

INCH = 25.4
ELL = [(0.0, 0.0), (254.0, 0.0), (254.0, 76.2), (152.4, 81.0), (140.0, 178.0), (0.0, 203.2)]
HOLE = [(50.8, 127.0), (76.2, 127.0), (76.2, 152.4)]


@cache
def square(side: float = 8 * INCH, **settings: float) -> Fit:
    return fit(
        Patch([(0, 0), (side, 0), (side, side), (0, side)]), (side / 2, side / 2), Settings(**settings)
    )


@cache
def troubled() -> Fit:
    """Thin, short and lost wedges, a hole, and a part out of sight."""
    return fit(Patch(ELL, [HOLE]), (76.2, 50.8), Settings(spans_per_side=4))


@cache
def large() -> Fit:
    """Twenty-four inches wide and no rectangle: some sheets of its box hold nothing."""
    outline = [(0, 0), (610, 0), (610, 150), (190, 170), (150, 610), (0, 610)]
    return fit(Patch(outline), (100.0, 95.0), Settings(longest_span=90.0))


@cache
def slanted() -> Fit:
    """Away from the origin and slanted, so that no line is level or upright by chance."""
    outline = [(-310.5, 95.25), (60.1, -20.7), (402.3, 180.9), (250.8, 431.1), (-120.6, 390.4)]
    return fit(Patch(outline), (33.3, 200.1), Settings(spans_per_side=3))
