"""Lengths as people write them, read and written exactly. Millimetres inside."""

from __future__ import annotations

import math
import re
import unicodedata
from enum import StrEnum
from fractions import Fraction
from typing import Final, Literal, TypeAlias

from geometry.errors import LengthError
from geometry.tolerances import MAX_SIZE
from geometry.types import Point

Unit: TypeAlias = Literal["in", "cm", "mm"]
"""What a number without a unit of its own is measured in."""

UNITS: Final[tuple[Unit, ...]] = ("in", "cm", "mm")

# The inch is 25.4 mm exactly (CSS Values and Units, absolute lengths; international yard agreement, 1959).
_INCH = Fraction(254, 10)
MM_PER_INCH: Final = float(_INCH)
"""mm, exactly."""

_MM_PER: dict[Unit, Fraction] = {"in": _INCH, "cm": Fraction(10), "mm": Fraction(1)}
MM_PER_UNIT: Final[dict[Unit, float]] = {unit: float(mm) for unit, mm in _MM_PER.items()}
"""mm in one of each unit."""


def to_mm(number: float, unit: Unit) -> float:
    """``number`` of ``unit`` in mm. Inches and their halves, quarters … come out exact: 6 in are 152.4 mm."""
    mm = _MM_PER[unit]
    return number * mm.numerator / mm.denominator


class LengthStyle(StrEnum):
    """How lengths are written."""

    EIGHTHS = "eighths"
    SIXTEENTHS = "sixteenths"
    DECIMAL = "decimal"
    CM = "cm"
    MM = "mm"

    @property
    def unit(self) -> Unit:
        """The unit that the style writes, and in which a number typed without one is meant."""
        return _UNIT_OF[self]

    @property
    def step(self) -> float:
        """mm. The finest difference that the style shows."""
        return float(_MM_PER[self.unit] / _PARTS[self])


_UNIT_OF: dict[LengthStyle, Unit] = {
    LengthStyle.EIGHTHS: "in",
    LengthStyle.SIXTEENTHS: "in",
    LengthStyle.DECIMAL: "in",
    LengthStyle.CM: "cm",
    LengthStyle.MM: "mm",
}
_PARTS: dict[LengthStyle, int] = {
    LengthStyle.EIGHTHS: 8,
    LengthStyle.SIXTEENTHS: 16,
    LengthStyle.DECIMAL: 1000,
    LengthStyle.CM: 10,
    LengthStyle.MM: 10,
}

# --- reading ----------------------------------------------------------------------------------------

_LONGEST_TEXT = 60  # characters; no length is written longer, and Python refuses to read endless digits

_SIGNS = str.maketrans(
    {
        "′": "'",  # prime
        "ʹ": "'",
        "‘": "'",
        "’": "'",
        "‛": "'",
        "`": "'",
        "´": "'",
        "″": '"',  # double prime
        "ʺ": '"',
        "“": '"',
        "”": '"',
        "„": '"',
        "⁄": "/",  # fraction slash
        "∕": "/",  # division slash
        "−": "-",  # minus
        "‐": "-",
        "‑": "-",
        "–": "-",
    }
)

_NUMBER = r"(?:(?P<{0}whole>[0-9]+)(?:[ ]+|-))?(?P<{0}over>[0-9]+)[ ]*/[ ]*(?P<{0}under>[0-9]+)"
_DECIMAL = r"(?P<{0}decimal>[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)"
_EITHER = rf"(?:{_NUMBER}|{_DECIMAL})"
_UNIT_NAMES: dict[str, Unit] = {
    '"': "in",
    "in": "in",
    "in.": "in",
    "inch": "in",
    "inches": "in",
    "cm": "cm",
    "centimetre": "cm",
    "centimetres": "cm",
    "centimeter": "cm",
    "centimeters": "cm",
    "mm": "mm",
    "millimetre": "mm",
    "millimetres": "mm",
    "millimeter": "mm",
    "millimeters": "mm",
}
_INCH_NAMES = "|".join(re.escape(name) for name, unit in _UNIT_NAMES.items() if unit == "in")
_LENGTH = re.compile(
    _EITHER.format("") + "[ ]*(?P<unit>" + "|".join(re.escape(name) for name in _UNIT_NAMES) + ")?"
)
_FEET = re.compile(
    _EITHER.format("feet_")
    + r"[ ]*(?:'|ft\.?|foot|feet)"
    + rf"(?:[ ]*-?[ ]*{_EITHER.format('')}[ ]*(?:{_INCH_NAMES})?)?"
)

_LIKE = "write it like 4 3/8, 4.375, 3/8\", 2' 6 1/2 or 11 cm"


def parse_length(text: str, unit: Unit | None) -> float:
    """The length that ``text`` says, in mm, 0 to ``MAX_SIZE``.

    Reads ``4 3/8``, ``4-3/8``, ``4⅜``, ``3/8"``, ``2' 6 1/2``, ``2ft 6in``, ``11 cm``, ``4.375`` and
    ``4,375``; ``unit`` is what a number without one is measured in, and None refuses such a number.
    The result is the float nearest to the exact value. Raises ``LengthError``.
    """
    plain = _plain(text)
    if plain.startswith("-"):
        raise LengthError(f"{_quoted(text)} is negative", do="give a length of 0 or more")
    return float(_limited(_parse(plain, text, unit), text))


def parse_coordinate(text: str, unit: Unit | None) -> float:
    """As ``parse_length``, with an optional minus sign before it. mm. Raises ``LengthError``."""
    plain = _plain(text)
    minus = plain.startswith("-")
    value = _limited(_parse(plain[1:].lstrip() if minus else plain, text, unit), text)
    return float(-value if minus else value)


def parse_point(text: str, unit: Unit | None) -> Point:
    """A place such as ``3in, 4 1/2in``: two coordinates with a comma or a semicolon between. mm.

    With decimal commas the semicolon is needed, as ``3,5; 4,5``. Raises ``LengthError``.
    """
    parts = text.split(";") if ";" in text else text.split(",")
    if len(parts) == 2:
        return (parse_coordinate(parts[0], unit), parse_coordinate(parts[1], unit))
    if ";" not in text and len(parts) > 2:
        raise LengthError(
            f"{_quoted(text)} has more than one comma, so x and y cannot be told apart",
            do="put a semicolon between them, like 3,5; 4,5",
        )
    raise LengthError(f"{_quoted(text)} is not a place", do="write x and y like 3in, 4 1/2in")


def parse_unit(text: str) -> Unit:
    """The unit that ``text`` names. Raises ``LengthError`` where it is not inches, cm or mm."""
    try:
        return _UNIT_NAMES[_plain(text)]
    except KeyError:
        raise LengthError(f"{_quoted(text)} is not a unit that is known", do="say in, cm or mm") from None


def _plain(text: str) -> str:
    """``text`` with one way of writing for each sign, single blanks, and fractions spelt out."""
    if len(text) > _LONGEST_TEXT:
        raise LengthError(f"{_quoted(text)} is too long to be a length", do=_LIKE)
    spelt = []
    for character in text.translate(_SIGNS):
        if unicodedata.decomposition(character).startswith("<fraction>"):
            spelt.append(" " + unicodedata.normalize("NFKC", character).replace("⁄", "/"))
        elif unicodedata.category(character) != "Cf":  # byte order marks and the like show nothing
            spelt.append(character)
    return " ".join("".join(spelt).lower().replace("''", '"').split())


def _parse(plain: str, text: str, unit: Unit | None) -> Fraction:
    """The exact length in mm that ``plain`` says; ``text`` is what the user wrote."""
    if not plain:
        raise LengthError("no length was given", do=_LIKE)
    match = _LENGTH.fullmatch(plain)
    if match:
        value = _value(match, "", text)
        named = _UNIT_NAMES[match["unit"]] if match["unit"] else unit
        if named is None:
            raise LengthError(
                f"{_quoted(text)} has no unit", do=f"say in, cm or mm, like {plain} in or {plain} cm"
            )
        return value * _MM_PER[named]
    match = _FEET.fullmatch(plain)
    if match:
        feet = _value(match, "feet_", text)
        if match["over"] is None and match["decimal"] is None:
            return feet * 12 * _INCH
        inches = _value(match, "", text)
        if feet.denominator != 1 or inches >= 12:
            raise LengthError(
                f"{_quoted(text)} is not a number of whole feet and less than 12 inches", do=_LIKE
            )
        return (feet * 12 + inches) * _INCH
    if re.fullmatch(r"[0-9.,]+( [0-9.,]+)+", plain):
        raise LengthError(f"{_quoted(text)} is two numbers and not one length", do=_LIKE)
    raise LengthError(f"{_quoted(text)} is not a length", do=_LIKE)


def _value(match: re.Match[str], prefix: str, text: str) -> Fraction:
    """The number in the groups of ``match`` whose names begin with ``prefix``."""
    decimal = match[prefix + "decimal"]
    if decimal is not None:
        return Fraction("0" + decimal.replace(",", ".").rstrip("."))
    over, under = int(match[prefix + "over"]), int(match[prefix + "under"])
    if under == 0:
        raise LengthError(f"{_quoted(text)} divides by zero", do=_LIKE)
    whole = match[prefix + "whole"]
    if whole is None:
        return Fraction(over, under)
    if over >= under:
        raise LengthError(f"{_quoted(text)} has a fraction of 1 or more after a whole number", do=_LIKE)
    return int(whole) + Fraction(over, under)


def _limited(value: Fraction, text: str) -> Fraction:
    if value > MAX_SIZE:
        raise LengthError(
            f"{_quoted(text)} is longer than {MAX_SIZE / 1000:g} m", do="check the number and the unit"
        )
    return value


def _quoted(text: str) -> str:
    shown = "".join(character if character.isprintable() else " " for character in text).strip()
    return f"“{shown[:_LONGEST_TEXT]}{'…' if len(shown) > _LONGEST_TEXT else ''}”"


# --- writing ----------------------------------------------------------------------------------------


def format_length(mm: float, style: LengthStyle, sign: bool = True, decimal_mark: str = ".") -> str:
    """``mm`` in words of ``style``: ``4 3/8 in``, ``4.375 in``, ``11.1 cm``, ``111.1 mm``.

    Rounded to the style's step, halves away from zero; never ``-0``. ``sign=False`` leaves the unit's
    sign out. Raises ``LengthError`` where ``mm`` is not finite.
    """
    steps = _steps(mm, style)
    parts = _PARTS[style]
    whole, rest = divmod(abs(steps), parts)
    if style in (LengthStyle.EIGHTHS, LengthStyle.SIXTEENTHS):
        fraction = Fraction(rest, parts)
        number = f"{whole} {fraction}" if whole and rest else f"{fraction}" if rest else f"{whole}"
    else:
        digits = len(str(parts)) - 1
        number = f"{whole}{decimal_mark}{rest:0{digits}d}".rstrip("0") if rest else f"{whole}"
    return f"{'-' if steps < 0 else ''}{number}{f' {style.unit}' if sign else ''}"


def rounding_error(mm: float, style: LengthStyle) -> float:
    """What ``format_length`` shows, less ``mm``: in mm, at most half the style's step."""
    return float(_steps(mm, style) * _MM_PER[style.unit] / _PARTS[style] - _exact(mm))


def _steps(mm: float, style: LengthStyle) -> int:
    """``mm`` as a whole number of the style's steps, halves away from zero."""
    rough = abs(mm) / _ROUGH_STEPS[style] + 0.5
    if rough % 1.0 > _NEAR_HALF and 1.0 - rough % 1.0 > _NEAR_HALF and rough < _SURE:
        return int(math.copysign(math.floor(rough), mm))  # no half is near: a twentieth of the time
    exact = _exact(mm) / _MM_PER[style.unit] * _PARTS[style]
    steps = math.floor(abs(exact) + Fraction(1, 2))
    return -steps if exact < 0 else steps


_ROUGH_STEPS = {style: float(_MM_PER[style.unit] / _PARTS[style]) for style in LengthStyle}
"""mm of a step, by style."""
_NEAR_HALF, _SURE = 1e-6, 1e6
"""Steps: below so many of them, 64-bit floats are right to a thousandth of ``_NEAR_HALF``."""


def _exact(mm: float) -> Fraction:
    """The shortest decimal that stands for the float: 1/16 in, 1.5875 mm, is then exactly half an eighth."""
    if not math.isfinite(mm):
        raise LengthError("a length that is not a number cannot be shown", do="give a finite length")
    return Fraction(repr(float(mm)))
