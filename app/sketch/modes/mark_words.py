"""What stands beside the hand in Marks mode: names, and distances along the seam as a tape shows them."""

from __future__ import annotations

import re
from functools import lru_cache

from app.sketch.modes.edge import Edge, EdgePlace, EdgeSide
from app.sketch.modes.typed import Typed
from app.sketch.translate import tr
from geometry.marks import Mark, MarkKind
from geometry.units import LengthStyle, format_length, rounding_error

MOST_SPANS = 99
"""Of one side: two digits."""

_SIXTEENTH_SHOWS = 0.1
"""mm. A length that is a sixteenth to so much is not rounded to eighths."""


@lru_cache(maxsize=256)
def tape_length(mm: float, style: LengthStyle) -> str:
    """As a tape shows it; a sixteenth that someone asked for is not rounded away."""
    if style is LengthStyle.EIGHTHS:
        finer = LengthStyle.SIXTEENTHS
        off, finer_off = (abs(rounding_error(mm, each)) for each in (style, finer))
        style = finer if finer_off <= _SIXTEENTH_SHOWS < off else style
    return format_length(mm, style)


def distances(place: EdgePlace, style: LengthStyle) -> str:
    """From both corners of its side, a line for each: a narrow plate hides less of the fan."""
    side = place.side
    if side.begins:
        return _from_and_to(place.from_start, side.begins, place.to_end, side.ends, style)
    return tr(
        "{back} from where side {letter} begins\n{on} on to there",
        back=tape_length(place.from_start, style),
        on=tape_length(place.to_end, style),
        letter=side.letter,
    )


def span_words(place: EdgePlace, before: Mark | None, after: Mark | None, style: LengthStyle) -> str:
    """Of the span under the hand, between its marks."""
    letter = place.side.letter
    if before is None or after is None:
        first = tr("side {letter}, without marks", letter=letter)
    else:
        first = tr("side {letter}, {start} to {end}", letter=letter, start=before.name, end=after.name)
    return f"{first}\n{distances(place, style)}"


def mark_words(mark: Mark, edge: Edge, style: LengthStyle) -> str:
    """Of a mark: a corner's distances are the lengths of its two sides."""
    first = {
        MarkKind.CORNER: tr("corner {name}", name=mark.name),
        MarkKind.DIVISION: tr("mark {name}", name=mark.name),
        MarkKind.OWN: tr("mark {name}, your own", name=mark.name),
    }[mark.kind]
    place = edge.place_of(mark)
    if mark.kind is MarkKind.CORNER:
        before, side = edge.side_before(place.side), place.side
        words = _from_and_to(before.total, before.begins, side.total, side.ends, style)
    else:
        words = distances(place, style)
    return f"{first}\n{words}"


def held_words(place: EdgePlace, style: LengthStyle) -> str:
    """Of the mark in the hand; its name stands beside it and may change on the way."""
    return f"{tr('side {letter}', letter=place.side.letter)}\n{distances(place, style)}"


def typed_words(typed: Typed, side: EdgeSide, style: LengthStyle, *, counts: bool) -> str:
    """What is typed, and what Enter will make of it; ``counts``: a whole number is one of spans."""
    count = count_in(typed.text) if counts else None
    if count is not None:
        return tr(
            "{typed}▏\nEnter: {what}\nor go on to {length}: the mark there",
            typed=typed.text,
            what=_spans(side.letter, count),
            length=f"{typed.text} {style.unit}",
        )
    begin = tr("corner {name}", name=side.begins) if side.begins else tr("where the side begins")
    return tr("{typed}\nEnter: so far from {begin}", typed=typed.words(style.unit), begin=begin)


def count_in(text: str) -> int | None:
    """The spans that a text asks for: a whole number of one or two digits; 0 is as the other sides."""
    return int(text) if re.fullmatch("[0-9]{1,2}", text) else None


def _from_and_to(back: float, before: str, on: float, after: str, style: LengthStyle) -> str:
    return tr(
        "{back} from corner {before}\n{on} to corner {after}",
        back=tape_length(back, style),
        before=before,
        on=tape_length(on, style),
        after=after,
    )


def _spans(letter: str, count: int) -> str:
    if count == 0:
        return tr("side {letter} as the other sides", letter=letter)
    if count == 1:
        return tr("side {letter} in one span", letter=letter)
    return tr("side {letter} in {count} spans", letter=letter, count=count)
