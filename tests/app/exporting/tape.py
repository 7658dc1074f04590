"""A quilter with a tape: reads a marking card off its PDF, and lays the marks out on a bare seam.

Nothing here knows the engine: lengths along the seam are walked corner by corner, tapes that cross are solved
by the law of cosines, and the seam's own corners are where its line bends.
"""

from __future__ import annotations

import cmath
import io
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import pdfplumber

MM = 25.4 / 72
UNITS = {"in": 25.4, "cm": 10.0, "mm": 1.0}

Place = complex
"""x + iy, mm; y down as on the card."""


@dataclass
class Measured:
    """A mark, or an anchor, as the card has it."""

    name: str
    before: str = ""
    after: str = ""
    back: float = 0.0
    on: float = 0.0
    inward: float | None = None
    tapes: list[tuple[str, float]] = field(default_factory=list)
    right: bool = False
    corner: str = ""
    on_seam: bool = False
    """``tapes`` are laid along the seam."""


@dataclass
class Read:
    """One card."""

    name: str
    rows: list[Measured] = field(default_factory=list)
    """On the margin line."""
    taped: list[Measured] = field(default_factory=list)
    anchors: list[Measured] = field(default_factory=list)
    inward: dict[str, float] = field(default_factory=dict)
    """Corners whose mark is straight in."""
    begins: list[str] = field(default_factory=list)
    bound: float = 0.0
    margin: float = 0.0
    text: str = ""
    pages: int = 0


_NUMBER = r"(?:\d+ \d+/\d+|\d+/\d+|\d+(?:\.\d+)?)"
_LENGTH = rf"({_NUMBER}) (in|cm|mm)"


def mm(number: str, unit: str) -> float:
    """What is printed, in mm."""
    return float(sum(Fraction(part) for part in number.split())) * UNITS[unit]


def lengths(text: str) -> list[float]:
    """All lengths of a text."""
    return [mm(*found) for found in re.findall(_LENGTH, text)]


def read_cards(data: bytes) -> list[Read]:
    """The marking cards of a PDF, by pdfplumber."""
    cards: list[Read] = []
    with pdfplumber.open(io.BytesIO(data)) as document:
        for page in document.pages:
            lines = list(_lines(page))
            name = lines[0][0][1]
            if "page 1 of" in lines[1][0][1] or "page" not in lines[1][0][1]:
                cards.append(Read(name))
            card = cards[-1]
            card.pages += 1
            _take(card, lines, float(page.width) * MM)
    return cards


Cells = list[tuple[float, str, float]]
"""Left end in mm, text, size in points."""


def _lines(page: pdfplumber.page.Page) -> Iterator[Cells]:
    """Lines from the top down, each cut where there is more than a space between two words."""
    words = page.extract_words(extra_attrs=["size"], x_tolerance=1.5)
    words.sort(key=lambda word: (round(word["bottom"] / 3), word["x0"]))
    lines: list[list[dict]] = []
    for word in words:
        if lines and abs(lines[-1][0]["bottom"] - word["bottom"]) < 3:
            lines[-1].append(word)
        else:
            lines.append([word])
    for line in lines:
        line.sort(key=lambda word: word["x0"])
        cells: Cells = []
        end = -1e9
        for word in line:
            if word["x0"] - end > 0.5 * word["size"]:
                cells.append((word["x0"] * MM, word["text"], word["size"]))
            else:
                left, text, size = cells[-1]
                cells[-1] = (left, f"{text} {word['text']}", size)
            end = word["x1"]
        yield cells


def _take(card: Read, lines: Sequence[Cells], width: float) -> None:
    text = " ".join(cell for line in lines for _, cell, _ in line)
    card.text += text
    if card.pages == 1:
        bound = re.search(rf"comes off by (?:more than|up to) {_LENGTH}", text)
        assert bound, text
        card.bound = mm(*bound.groups())
        margin = re.search(rf"edge margin {_LENGTH}", text)
        card.margin = mm(*margin.groups()) if margin else 0.0
        for names, *length in re.findall(rf"((?:[A-Z]+, )*[A-Z]+): {_LENGTH} straight in", text):
            card.inward.update(dict.fromkeys(names.split(", "), mm(*length)))
        card.begins = re.findall(r"(\w+): begin at this place", text)
    columns = 3
    wide = (width - 25.4 - 5 * (columns - 1)) / columns
    by_column: list[list[list[str]]] = [[] for _ in range(columns)]
    # The tables are what stands below the picture.
    heading = re.compile(r"Anchor|Side |By two tapes")
    starts = [at for at, line in enumerate(lines) for _, cell, _ in line if heading.match(cell) and at > 1]
    for line in lines[min(starts, default=len(lines)) :]:
        for column in range(columns):
            left = 12.7 + column * (wide + 5) - 0.5
            cells = [cell for x, cell, _ in line if left <= x < left + wide + 3]
            if cells:
                by_column[column].append(cells)
    _parse(card, [cells for column in by_column for cells in column])


def _parse(card: Read, lines: Sequence[list[str]]) -> None:
    before = after = unit = ""
    now: Measured | None = None
    for cells in lines:
        joined = " ".join(cells)
        if re.match(r"Side ", joined) or joined == "By two tapes":
            now = None
        elif re.fullmatch(r"Anchor(?: \d+)?", joined):
            now = Measured(joined)
            card.anchors.append(now)
        elif header := re.fullmatch(r"(in|cm|mm) from (\S+) from (\S+)", joined):
            unit, before, after = header.groups()
        elif on_corner := re.fullmatch(r"on the corner (\S+)", joined):
            assert now is not None
            now.corner = on_corner[1]
        elif tape := re.search(rf"{_LENGTH} from ([A-Z0-9-]+)(, right|, left)?$", joined):
            if len(cells) == 2:
                now = Measured(cells[0])
                card.taped.append(now)
            assert now is not None
            now.tapes.append((tape[3], mm(tape[1], tape[2])))
            now.right = now.right or tape[4] == ", right"
        elif joined in {"right", "left"}:
            assert now is not None
            now.right = joined == "right"
        elif joined in {"on the seam", "along the seam"}:
            assert now is not None
            now.on_seam = True
        elif inward := re.fullmatch(rf"then {_LENGTH} square in", joined):
            assert now is not None
            now.inward = mm(*inward.groups())
        else:
            assert len(cells) == 3, (card.name, cells)
            name, back, on = cells
            card.rows.append(Measured(name, before, after, mm(back, unit), mm(on, unit)))


# --------------------------------------------------------------------------------------------------------


@dataclass
class Cloth:
    """A bare seam: rings of corners, and where the named corners are on it."""

    rings: list[list[Place]]
    named: dict[str, Place]

    def ring_of(self, place: Place) -> int:
        """The ring that goes through ``place``."""
        return min(range(len(self.rings)), key=lambda ring: _nearest(self.rings[ring], place)[0])

    def walk(self, start: Place, by: float) -> tuple[Place, Place]:
        """The place ``by`` mm along the seam from ``start``, and which way the seam runs there."""
        ring = self.rings[self.ring_of(start)]
        edges = list(zip(ring, [*ring[1:], ring[0]], strict=True))
        total = sum(abs(b - a) for a, b in edges)
        left = (_nearest(ring, start)[1] + by) % total
        for a, b in edges:
            if left <= abs(b - a):
                way = (b - a) / abs(b - a)
                return a + way * left, way
            left -= abs(b - a)
        return ring[0], (ring[1] - ring[0]) / abs(ring[1] - ring[0])


def _nearest(ring: list[Place], place: Place) -> tuple[float, float]:
    """Distance from the ring, and how far along it the nearest place is."""
    best, at, walked = math.inf, 0.0, 0.0
    for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
        along = ((place - a) * (b - a).conjugate()).real / abs(b - a)
        along = min(max(along, 0.0), abs(b - a))
        off = abs(a + (b - a) / abs(b - a) * along - place)
        if off < best:
            best, at = off, walked + along
        walked += abs(b - a)
    return best, at


def bends(ring: list[Place], run: float = 25.4 / 8, angle: float = 25.0) -> list[Place]:
    """Points of a ring where it bends by more than ``angle`` degrees within ``run`` mm."""
    found = []
    for place in ring:
        cloth = Cloth([ring], {})
        one, two = place - cloth.walk(place, -run)[0], cloth.walk(place, run)[0] - place
        if abs(math.degrees(cmath.phase(two / one))) > angle:
            found.append(place)
    return found


def crossing(one: Place, two: Place, from_one: float, from_two: float, right: bool) -> Place:
    """Two tapes, by the law of cosines; tapes that do not reach are laid on the line between."""
    apart = abs(two - one)
    cosine = (from_one**2 + apart**2 - from_two**2) / (2 * from_one * apart) if from_one else 1.0
    if abs(cosine) > 1:
        return one + (two - one) / apart * from_one * cosine
    turn = math.acos(cosine)
    return one + (two - one) / apart * cmath.rect(from_one, turn if right else -turn)
