"""Path data, point lists and transform lists of SVG: svgelements reads them, what it lets pass is caught.

svgelements cuts a path at the first thing that it cannot read and does not say so, stops at `5.`, and
divides by zero at tiny arcs. So each text is checked against the grammar first, and read up to its first
error, as SVG 2 (9.5.4, error handling in path data) asks.
"""

from __future__ import annotations

import math
import re
from typing import Any

import svgelements

from app.importing.curves import IDENTITY, Curves, Matrix, Pen, polyline
from app.importing.svg_style import NUMBER
from geometry.types import Point

_GAP = r"[ \t\n\f\r]*+"
_SEPARATOR = rf"(?>{_GAP},?{_GAP})"
_FLAG = "[01]"


def _arguments(*kinds: str) -> str:
    return _SEPARATOR.join(kinds)


def _repeated(argument: str) -> re.Pattern[str]:
    return re.compile(rf"{_GAP}{argument}(?>{_SEPARATOR}{argument})*+", re.ASCII)


_PAIR = _arguments(NUMBER, NUMBER)
_NUMBERS = _repeated(NUMBER)
_PAIRS = _repeated(_PAIR)
_COMMANDS = {
    "M": _PAIRS,
    "L": _PAIRS,
    "T": _PAIRS,
    "H": _NUMBERS,
    "V": _NUMBERS,
    "C": _repeated(_arguments(_PAIR, _PAIR, _PAIR)),
    "S": _repeated(_arguments(_PAIR, _PAIR)),
    "Q": _repeated(_arguments(_PAIR, _PAIR)),
    "A": _repeated(_arguments(NUMBER, NUMBER, NUMBER, _FLAG, _FLAG, _PAIR)),
    "Z": re.compile(""),
}
"""SVG 2, 9.3.9, the grammar for path data: what follows each letter. Groups are atomic: no search."""

_LETTER = re.compile(rf"{_GAP}([A-Za-z])")
_TRAILING_POINT = re.compile(r"(?<=\d)\.(?!\d)")
"""`5.` is a number of SVG 1.1, but none of SVG 2's and none to svgelements."""

_ANGLE = rf"{NUMBER}(?>deg|grad|rad|turn)?"
_SHIFT = rf"{NUMBER}(?>px)?"
_FUNCTIONS = {
    "matrix": _arguments(*[NUMBER] * 6),
    "translate": rf"{_SHIFT}(?>{_SEPARATOR}{_SHIFT})?",
    "translatex": _SHIFT,
    "translatey": _SHIFT,
    "scale": rf"{NUMBER}(?>{_SEPARATOR}{NUMBER})?",
    "scalex": NUMBER,
    "scaley": NUMBER,
    "rotate": rf"{_ANGLE}(?>{_SEPARATOR}{NUMBER}{_SEPARATOR}{NUMBER})?",
    "skewx": _ANGLE,
    "skewy": _ANGLE,
}
_FUNCTION = "|".join(rf"{name}{_GAP}\({_GAP}{inner}{_GAP}\)" for name, inner in _FUNCTIONS.items())
_TRANSFORM = re.compile(rf"{_GAP}(?>(?>{_FUNCTION}){_SEPARATOR})*+", re.ASCII | re.IGNORECASE)
"""SVG 1.1, 7.6, and the two-dimensional functions of CSS Transforms 1, without lengths but px."""

_ARITHMETIC = (ArithmeticError, ValueError, IndexError)
"""What svgelements may raise on numbers out of all proportion."""


def _sound_length(data: str) -> int:
    """How many characters of path data come before its first error."""
    end = 0
    while match := _LETTER.match(data, end):
        letter = match[1].upper()
        if letter not in _COMMANDS or (end == 0 and letter != "M"):
            break
        arguments = _COMMANDS[letter].match(data, match.end())
        if not arguments:
            break
        end = arguments.end()
    return end


def path(data: str) -> tuple[Curves, int | None]:
    """The curves of path data, and at which character it had to stop, or None where all of it is sound.

    Raises ``ArithmeticError`` where a number is too large or too small to be reckoned with.
    """
    end = _sound_length(data)
    pen = Pen()
    try:
        for segment in svgelements.Path(_TRAILING_POINT.sub("", data[:end])):
            _draw(pen, segment)
    except _ARITHMETIC as error:
        raise ArithmeticError("a number out of proportion") from error
    rest = data[end:].strip(" \t\n\f\r")
    return pen.curves(), None if not rest else data.index(rest[0], end)


def _draw(pen: Pen, segment: Any) -> None:
    if isinstance(segment, svgelements.Move):
        pen.move(_point(segment.end))
    elif isinstance(segment, svgelements.Close):
        pen.close()
    elif isinstance(segment, svgelements.Line):
        pen.line(_point(segment.end))
    elif isinstance(segment, svgelements.QuadraticBezier):
        pen.quadratic(_point(segment.control), _point(segment.end))
    elif isinstance(segment, svgelements.CubicBezier):
        pen.cubic(_point(segment.control1), _point(segment.control2), _point(segment.end))
    else:
        _draw_arc(pen, segment)


def _draw_arc(pen: Pen, arc: Any) -> None:
    (x, y), prx, pry, end = _point(arc.center), _point(arc.prx), _point(arc.pry), _point(arc.end)
    u, v = (prx[0] - x, prx[1] - y), (pry[0] - x, pry[1] - y)
    if arc.start == arc.end:
        return  # SVG 2, 9.5.1: the same as leaving the segment out
    if not (any(u) and any(v)):
        pen.line(end)  # SVG 2, 9.5.1: a radius of 0 makes a straight line
        return
    if not math.isfinite(arc.sweep):
        raise ArithmeticError("an arc out of proportion")
    pen.arc((x, y), u, v, arc.get_start_t(), arc.sweep, end)


def _point(point: Any) -> Point:
    return (float(point.x), float(point.y))


def points(data: str, *, closed: bool) -> tuple[Curves, int | None]:
    """The curves of a `points` list, and where it had to stop, as ``path``; a lone last x is an error too."""
    match = _PAIRS.match(data)
    end = match.end() if match else 0
    numbers = [float(number) for number in re.findall(NUMBER, data[:end])]
    rest = data[end:].strip(" \t\n\f\r")
    corners = list(zip(numbers[::2], numbers[1::2], strict=True))
    return polyline(corners, closed=closed), None if not rest else data.index(rest[0], end)


def transform(text: str) -> Matrix | None:
    """The matrix of a transform list; None where it is no sound one."""
    match = _TRANSFORM.fullmatch(text)
    if text.strip() in ("", "none"):
        return IDENTITY
    if not match:
        return None
    try:
        matrix = svgelements.Matrix(_TRAILING_POINT.sub("", text))
    except _ARITHMETIC:
        return None
    return (matrix.a, matrix.b, matrix.c, matrix.d, float(matrix.e), float(matrix.f))
