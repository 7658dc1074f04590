"""POLYGON and MULTIPOLYGON in Well-Known Text (OGC 06-103r4, 7.2).

Read here and not by shapely, which names no place in the text, takes a missing comma for a height, and
reads heights and measures differently from one version of GEOS to the next. The tests hold the two
against each other.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from app.importing.source import Source, quoted
from app.sketch.translate import tr
from geometry.types import Point

_TAG = re.compile(
    r"(?P<several>MULTI)?POLYGON[ \t]*(?P<further>ZM|Z|M)?(?![A-Z_0-9])", re.IGNORECASE | re.ASCII
)
_EMPTY = re.compile(r"EMPTY\b", re.IGNORECASE)
_WORD = re.compile(r"[^\s(),]*")
_BLANKS = re.compile(r"\s*")
_RING = re.compile(r"[0-9eE+\-.,\s]*", re.ASCII)
_LONGEST_CORNER = 200
"""Characters; no four numbers are written longer."""
_NUMBERS = {"": None, "Z": 3, "M": 3, "ZM": 4}


class WellKnownPolygon(NamedTuple):
    """One polygon, in the text's own numbers."""

    start: int
    """Position of its first bracket."""
    rings: tuple[tuple[Point, ...], ...]
    """The outline, then its holes; closed where the text closes them."""
    further: bool
    """True where its corners have heights or measures too; they are left out."""


def read_shape(source: Source, start: int) -> tuple[list[WellKnownPolygon], int]:
    """The polygons of the shape that begins at ``start``, and the position after it.

    Raises ``ImportingError`` with line and column where it is anything else, or empty.
    """
    tag = _TAG.match(source.text, start)
    if tag is None:
        word = _WORD.match(source.text, start)
        raise source.error(
            start,
            tr("{word} begins no outline", word=quoted(word[0] if word else "")),
            tr("give corners as x and y, a POLYGON, or a MULTIPOLYGON"),
        )
    reader = _Reader(source, tag.end(), _NUMBERS[(tag["further"] or "").upper()])
    if not tag["several"]:
        return [reader.polygon()], reader.position
    reader.expect("(")
    polygons = [reader.polygon()]
    while reader.expect(",)") == ",":
        polygons.append(reader.polygon())
    return polygons, reader.position


class _Reader:
    def __init__(self, source: Source, position: int, numbers: int | None) -> None:
        self.source = source
        self.position = position
        self.numbers = numbers
        """How many each corner has; None until the first one has told."""

    def polygon(self) -> WellKnownPolygon:
        self.expect("(")
        start = self.position - 1
        rings = [self.ring()]
        while self.expect(",)") == ",":
            rings.append(self.ring())
        return WellKnownPolygon(start, tuple(rings), self.numbers is not None and self.numbers > 2)

    def ring(self) -> tuple[Point, ...]:
        self.expect("(")
        body = _RING.match(self.source.text, self.position)
        assert body is not None  # the pattern matches nothing, too
        self.position = body.end()
        self.source.count_outline(body.start())
        self.expect(")")
        self.source.count(body[0].count(",") + 1, body.start())
        ring = []
        at = body.start()
        for written in body[0].split(","):
            ring.append(self.corner(written, at))
            at += len(written) + 1
        return tuple(ring)

    def corner(self, written: str, at: int) -> Point:
        values = written.split() if len(written) <= _LONGEST_CORNER else []
        if self.numbers is None:
            self.numbers = 3 if len(values) == 3 else 2
        try:
            if len(values) == self.numbers:
                x, y, *_ = [float(value) for value in values]
                return (x, y)
        except ValueError:
            pass
        if not written.strip():
            raise self.source.error(at, tr("a corner is missing"), tr("write it, or take out the comma"))
        raise self.source.error(
            at + len(written) - len(written.lstrip()),
            tr("{corner} is no corner of {count} numbers", corner=quoted(written), count=self.numbers),
            tr("write x and y with a blank between, and a comma before the next corner"),
        )

    def expect(self, characters: str) -> str:
        """The next character but blanks, which must be one of ``characters``."""
        text = self.source.text
        blanks = _BLANKS.match(text, self.position)
        self.position = blanks.end() if blanks else self.position
        found = text[self.position : self.position + 1]
        if found and found in characters:
            self.position += 1
            return found
        wanted = tr(" or ").join(f"“{character}”" for character in characters)
        if not found:
            what, do = tr("the file ends within an outline"), tr("add the missing {wanted}", wanted=wanted)
        elif _EMPTY.match(text, self.position):
            what, do = tr("the outline is empty"), tr("take it out, or give its corners")
        else:
            word = _WORD.match(text, self.position)
            shown = quoted((word and word[0]) or found)
            what = tr("{found} where {wanted} should be", found=shown, wanted=wanted)
            do = tr("check the brackets and commas")
        raise self.source.error(self.position, what, do)
