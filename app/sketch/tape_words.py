"""What is said of tape measures: how far each is off, which is the wrong one, how sure the shape is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from app.sketch.translate import tr
from geometry.tape import Measure, Taped, corner_letter
from geometry.units import MM_PER_INCH, LengthStyle, Unit, format_length

READ_TO: Final[dict[Unit, float]] = {"in": MM_PER_INCH / 16, "cm": 1.0, "mm": 1.0}
"""mm: how finely a tape is read where nothing says so; common practice, no source."""

STYLES: Final[dict[Unit, LengthStyle]] = {
    "in": LengthStyle.SIXTEENTHS,
    "cm": LengthStyle.CM,
    "mm": LengthStyle.MM,
}
"""How misfits are written: as finely as a tape is read."""


def pair_words(measure: Measure) -> str:
    """``B to D``."""
    first, second = measure.pair
    return tr("{first} to {second}", first=corner_letter(first), second=corner_letter(second))


def off_words(measure: Measure, expected: float, style: LengthStyle) -> str:
    """How much longer or shorter than the rest allow."""
    off = measure.length - expected
    pair, length = pair_words(measure), format_length(abs(off), style)
    if off > 0:
        return tr("{pair} is {length} longer than the rest allow", pair=pair, length=length)
    return tr("{pair} is {length} shorter than the rest allow", pair=pair, length=length)


def tape_notes(measures: Sequence[Measure], taped: Taped, style: LengthStyle) -> list[str]:
    """Sentences, the gravest first; none where all is well."""
    notes: list[str] = []
    if not taped.agree:
        notes.append(_who_is_wrong(measures, taped, style))
    elif taped.others:
        notes.append(
            tr("another shape has the same measures; say which corners point inward, or measure one more")
        )
    elif not taped.checked:
        notes.append(tr("just enough measures: a wrong one would not show; one more diagonal checks them"))
    if taped.agree and math.isinf(taped.error):
        corner = corner_letter(taped.weakest)
        notes.append(tr("corner {corner} is hardly held; measure one more diagonal to it", corner=corner))
    return notes


def sure_words(taped: Taped, style: LengthStyle) -> str:
    """How far a corner may be off by the way the tape was read."""
    if math.isinf(taped.error):
        return tr("Corner {corner} is hardly held.", corner=corner_letter(taped.weakest))
    return tr(
        "No corner is off by more than {length}, if each measure is right to how finely the tape was read.",
        length=format_length(taped.error, style),
    )


def _who_is_wrong(measures: Sequence[Measure], taped: Taped, style: LengthStyle) -> str:
    if not taped.suspects:
        worst = max(range(len(measures)), key=lambda k: abs(taped.misfits[k]))
        pair = pair_words(measures[worst])
        return tr("the measures do not agree, and more than one is wrong; begin with {pair}", pair=pair)
    first, *others = taped.suspects
    words = off_words(measures[first.measure], first.expected, style)
    if others:
        pairs = ", ".join(pair_words(measures[each.measure]) for each in others[:3])
        more = tr(" and others") if len(others) > 3 else ""
        return tr("{words}; or it is {pairs}{more}: measure these again", words=words, pairs=pairs, more=more)
    return tr("{words}: measure it again", words=words)
