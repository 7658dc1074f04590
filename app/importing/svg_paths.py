"""Path data, point lists and transform lists of SVG.

Path data are read here and not by svgelements: that cuts a path at the first thing that it cannot read and
does not say so, stops at `5.`, mirrors the control point of a quadratic curve for a cubic one (SVG 2 asks
for none), divides by zero at tiny arcs and finds the centre of others to eight digits. It reads the
transform lists, once they are known to be sound.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import svgelements

from app.importing import ImportingError
from app.importing.curves import IDENTITY, Curves, Matrix, Pen, polyline
from app.importing.source import MAX_CORNERS
from app.importing.svg_style import NUMBER
from app.sketch.translate import tr
from geometry.types import Point

_GAP = r"[ \t\n\f\r]*+"
_SEPARATOR = rf"(?>{_GAP},?{_GAP})"
_FLAG = "[01]"


def _arguments(*kinds: str) -> str:
    return _SEPARATOR.join(kinds)


def _repeated(argument: str) -> str:
    return rf"{_GAP}{argument}(?>{_SEPARATOR}{argument})*+"


_PAIR = _arguments(NUMBER, NUMBER)
_PAIRS = re.compile(_repeated(_PAIR), re.ASCII)
_COMMANDS = {
    "MmLlTt": _repeated(_PAIR),
    "HhVv": _repeated(NUMBER),
    "Cc": _repeated(_arguments(_PAIR, _PAIR, _PAIR)),
    "SsQq": _repeated(_arguments(_PAIR, _PAIR)),
    "Aa": _repeated(_arguments(NUMBER, NUMBER, NUMBER, _FLAG, _FLAG, NUMBER, NUMBER)),
    "Zz": "",
}
_COMMAND = re.compile(
    rf"{_GAP}(?>{'|'.join(f'([{letters}])({arguments})' for letters, arguments in _COMMANDS.items())})",
    re.ASCII,
)
"""SVG 2, the grammar for path data: a letter and what follows it. Groups are atomic: no search."""

_COUNTS = {"M": 2, "L": 2, "T": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "A": 7}

_NUMBER = re.compile(NUMBER, re.ASCII)
_ARC = re.compile(
    _arguments(*[f"({kind})" for kind in (NUMBER, NUMBER, NUMBER, _FLAG, _FLAG, NUMBER, NUMBER)]), re.ASCII
)

MAX_SEGMENTS = 2 * MAX_CORNERS
"""Most lines and curves of a file as it is written."""

_STRAIGHT = 1e-8
"""An arc that spans less of its ellipse than this, in radii, bows by less than 3e-9 of its length."""

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
_TRAILING_POINT = re.compile(r"(?<=\d)\.(?!\d)")
"""`5.` is a number of SVG 1.1, but none to svgelements."""

_TRANSFORM = re.compile(rf"{_GAP}(?>(?>{_FUNCTION}){_SEPARATOR})*+", re.ASCII | re.IGNORECASE)
"""The transform list of SVG 1.1, and the flat functions of CSS Transforms 1, with no lengths but px."""


def path(data: str) -> tuple[Curves, int | None]:
    """The curves of path data, and at which character it had to stop, or None where all of it is sound.

    Numbers that overflow are inf or nan in the curves. Raises ``ImportingError`` for more than
    ``MAX_SEGMENTS``.
    """
    reader = _Reader()
    end = 0
    while match := _COMMAND.match(data, end):
        last = match.lastindex or 0
        letter, arguments = match[last - 1], match[last]
        if end == 0 and letter not in "Mm":
            break
        reader.command(letter, arguments)
        end = match.end()
    return reader.pen.curves(), _stop(data, end)


def _stop(data: str, end: int) -> int | None:
    """Where what could not be read begins; None where nothing is left."""
    rest = data[end:].lstrip(" \t\n\f\r")
    return len(data) - len(rest) if rest else None


class _Reader:
    """Draws one command of path data after the other (SVG 2, path data)."""

    def __init__(self) -> None:
        self.pen = Pen()
        self._last = ""
        """The letter of the command before, upper case."""
        self._control: Point = (0.0, 0.0)
        """The last control point of the curve before."""
        self._segments = 0

    def command(self, letter: str, arguments: str) -> None:
        """One letter with all its arguments, which follow the grammar."""
        kind = letter.upper()
        if kind == "Z":
            self.pen.close()
            self._last = kind
            return
        if kind == "A":
            numbers = [float(number) for arc in _ARC.findall(arguments) for number in arc]
        else:
            numbers = list(map(float, _NUMBER.findall(arguments)))
        count = _COUNTS[kind]
        self._segments += len(numbers) // count
        refuse_segments(self._segments)
        for first in range(0, len(numbers), count):
            x, y = self.pen.at if letter.islower() else (0.0, 0.0)
            self._draw(kind, numbers[first : first + count], x, y)
            self._last = kind
            kind = "L" if kind == "M" else kind  # more points after a move are lines

    def _draw(self, kind: str, numbers: Sequence[float], x: float, y: float) -> None:
        """One segment; ``x``, ``y``: from where its points count."""
        pen = self.pen
        if kind == "H":
            pen.line((numbers[0] + x, pen.at[1]))
            return
        if kind == "V":
            pen.line((pen.at[0], numbers[0] + y))
            return
        to = (numbers[-2] + x, numbers[-1] + y)
        if kind == "M":
            pen.move(to)
        elif kind == "L":
            pen.line(to)
        elif kind == "A":
            rx, ry, turned, large, clockwise = numbers[:5]
            _draw_arc(pen, rx, ry, turned, large == 1, clockwise == 1, to)
        elif kind in "QT":
            self._control = (numbers[0] + x, numbers[1] + y) if kind == "Q" else self._reflected("QT")
            pen.quadratic(self._control, to)
        else:
            first = (numbers[0] + x, numbers[1] + y) if kind == "C" else self._reflected("CS")
            self._control = (numbers[-4] + x, numbers[-3] + y)
            pen.cubic(first, self._control, to)

    def _reflected(self, family: str) -> Point:
        """The first control point of a smooth curve: mirrored if the command before is of its family.

        The pen's place if not (SVG 2, path data, the curve commands).
        """
        x, y = self.pen.at
        if not self._last or self._last not in family:
            return (x, y)
        return (2 * x - self._control[0], 2 * y - self._control[1])


def _draw_arc(pen: Pen, rx: float, ry: float, turned: float, large: bool, clockwise: bool, to: Point) -> None:
    """An arc to ``to``, from its ends to its centre as in SVG 2, appendix B.2.

    Worked out where the ellipse is the unit circle about the middle between the ends: the ends then lie
    at ``-half`` and ``half``, the centre on the line through the middle that is square to theirs.
    ``turned``: degrees from the x axis to the ellipse's.
    """
    x, y = pen.at
    rx, ry = abs(rx), abs(ry)
    if (x, y) == to:
        return
    dx, dy = (to[0] - x) / 2, (to[1] - y) / 2
    if not all(map(math.isfinite, (dx, dy, rx, ry, turned))):
        pen.line((math.nan, math.nan))  # the caller sees that numbers have overflowed
        return
    angle = math.radians(turned % 360)
    cos, sin = math.cos(angle), math.sin(angle)
    half_x, half_y = dx * cos + dy * sin, dy * cos - dx * sin
    if rx == 0 or ry == 0 or (not large and math.hypot(half_x / rx, half_y / ry) < _STRAIGHT):
        pen.line(to)
        return
    half_x, half_y = half_x / rx, half_y / ry
    half = math.hypot(half_x, half_y)
    if half == 0:
        pen.line((math.nan, math.nan))
        return
    if half > 1:  # no ellipse of this size reaches both ends: the smallest that does
        rx, ry, half_x, half_y, half = rx * half, ry * half, half_x / half, half_y / half, 1.0
    away = math.sqrt((1 - half) * (1 + half)) / half * (1 if large == clockwise else -1)
    centre_x, centre_y = half_y * away, -half_x * away
    begin = math.atan2(-half_y - centre_y, -half_x - centre_x)
    turn = (math.atan2(half_y - centre_y, half_x - centre_x) - begin) % math.tau
    if not clockwise:
        turn -= math.tau
    u, v = (rx * cos, rx * sin), (-ry * sin, ry * cos)
    centre = (
        x + dx + centre_x * u[0] + centre_y * v[0],
        y + dy + centre_x * u[1] + centre_y * v[1],
    )
    pen.arc(centre, u, v, begin, turn, to)


def points(data: str, *, closed: bool) -> tuple[Curves, int | None]:
    """The curves of a `points` list, and where it had to stop, as ``path``; a lone last x is an error too."""
    match = _PAIRS.match(data)
    end = match.end() if match else 0
    numbers = [float(number) for number in _NUMBER.findall(data[:end])]
    refuse_segments(len(numbers) // 2)
    corners = list(zip(numbers[::2], numbers[1::2], strict=True))
    return polyline(corners, closed=closed), _stop(data, end)


def refuse_segments(count: int) -> None:
    """Raises ``ImportingError`` for more than ``MAX_SEGMENTS``."""
    if count > MAX_SEGMENTS:
        raise ImportingError(
            tr("its outlines have more than {limit} lines and curves", limit=MAX_SEGMENTS),
            do=tr("leave in the drawing what is to become patches"),
        )


def transform(text: str) -> Matrix | None:
    """The matrix of a transform list; None where it is no sound one."""
    match = _TRANSFORM.fullmatch(text)
    if text.strip() in ("", "none"):
        return IDENTITY
    if not match:
        return None
    try:
        matrix = svgelements.Matrix(_TRAILING_POINT.sub("", text))
    except (ArithmeticError, ValueError, IndexError):  # numbers out of all proportion
        return None
    return (matrix.a, matrix.b, matrix.c, matrix.d, float(matrix.e), float(matrix.f))
