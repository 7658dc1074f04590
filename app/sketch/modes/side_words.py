"""What a hand that pulls a side, or its middle, is caught by, and what is said beside it."""

from __future__ import annotations

import math

from app.sketch.translate import tr
from geometry.tolerances import FLATTEN
from geometry.units import LengthStyle, format_length


def caught_bow(bow: float, chord: float, reach: float, step: float) -> float:
    """``bow``, or within ``reach`` that of a straight side or half a circle, or else a whole step. All mm."""
    for known in (0.0, chord / 2, -chord / 2):
        if abs(bow - known) <= reach:
            return known
    return round(bow / step) * step if step > 0 else bow


def bow_words(bow: float, chord: float, style: LengthStyle) -> str:
    """How far a side stands off its chord."""
    if abs(bow) < FLATTEN:
        return tr("straight")
    words = tr("bow {length}", length=format_length(abs(bow), style))
    if math.isclose(abs(bow), chord / 2, abs_tol=1e-6):
        return f"{words}\n{tr('half a circle')}"
    return words


def pull_words(by: float, style: LengthStyle) -> str:
    """How far a side was pulled, away from the patch or into it."""
    length = format_length(abs(by), style)
    return tr("{length} out", length=length) if by >= 0 else tr("{length} in", length=length)
