"""What stands in a PDF, in mm on the page, read by pdfplumber."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import pdfplumber
import shapely
from shapely.geometry.base import BaseGeometry

from app.sketch.palette import PAPER, Role

MM = 25.4 / 72
"""mm: a point (1 in = 72 pt, CSS Values and Units; the PDF unit is 1/72 in, ISO 32000-1, 8.3.2)."""


@dataclass
class Drawn:
    """One path: its corners in mm from the page's upper left corner."""

    points: np.ndarray
    closed: bool
    curved: bool
    stroked: bool
    colour: str
    width: float
    """mm"""
    dashed: bool


@dataclass
class Page:
    """One page. mm."""

    width: float
    height: float
    drawn: list[Drawn] = field(default_factory=list)
    text: str = ""
    words: list[tuple[str, float, float]] = field(default_factory=list)
    """Word and its middle."""
    letters: list[tuple[float, float, float, float, float]] = field(default_factory=list)
    """Left, top, right, bottom in mm and size in points of every letter."""

    def of(self, role: Role) -> list[Drawn]:
        """The stroked paths in the colour of ``role``."""
        return [each for each in self.drawn if each.stroked and each.colour == PAPER[role]]


def pages_of(data: bytes) -> list[Page]:
    with pdfplumber.open(io.BytesIO(data)) as document:
        return [_page(page) for page in document.pages]


def _page(page: pdfplumber.page.Page) -> Page:
    words = page.extract_words(x_tolerance=1.5)
    read = Page(page.width * MM, page.height * MM, text=" ".join(word["text"] for word in words))
    for kind in ("line", "curve", "rect"):
        for each in page.objects.get(kind, []):
            path = each["path"]
            corners = [step[-1] for step in path if len(step) > 1]
            read.drawn.append(
                Drawn(
                    np.array(corners) * MM,
                    any(step[0] == "h" for step in path),
                    any(step[0] in "cvy" for step in path),
                    bool(each["stroke"]),
                    _colour(each["stroking_color"]),
                    (each["linewidth"] or 0.0) * MM,
                    bool(each.get("dash") and each["dash"][0]),
                )
            )
    for word in words:
        middle = ((word["x0"] + word["x1"]) / 2 * MM, (word["top"] + word["bottom"]) / 2 * MM)
        read.words.append((word["text"], *middle))
    read.letters = [
        (each["x0"] * MM, each["top"] * MM, each["x1"] * MM, each["bottom"] * MM, each["size"])
        for each in page.chars
        if each["text"].strip()
    ]
    return read


def _colour(value: object) -> str:
    channels = value if isinstance(value, tuple) else (value,)
    if len(channels) == 1:
        channels = channels * 3
    return "#" + "".join(f"{round(float(channel or 0) * 255):02X}" for channel in channels)


def segments(drawn: list[Drawn]) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """The straight pieces of paths, one by one."""
    for each in drawn:
        points = np.concatenate([each.points, each.points[:1]]) if each.closed else each.points
        yield from pairwise(points)


def as_lines(drawn: list[Drawn], move: np.ndarray) -> BaseGeometry:
    """All straight pieces, moved by ``move``."""
    pieces = [np.array(piece) + move for piece in segments(drawn)]
    return shapely.MultiLineString([piece for piece in pieces if (piece[0] != piece[1]).any()])
