"""What is typed into a field: how it is read, how it is written, and what one press of an arrow key does."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from app.sketch.translate import tr
from geometry import LengthError, SettingsError
from geometry.types import Point
from geometry.units import (
    MM_PER_INCH,
    LengthStyle,
    format_length,
    parse_coordinate,
    parse_length,
    parse_point,
    rounding_error,
)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A kind of value: mm, unless its name says otherwise."""

    read: Callable[[str, LengthStyle], Any]
    """The value that a text says. Raises ``WedgewrightError``."""
    words: Callable[[Any, LengthStyle], str]
    """The text for a value; what ``read`` makes of it is as near as can be shown."""
    step: Callable[[Any, int, LengthStyle], Any] | None = None
    """The value a number of steps up (or down) from one; None where there are no steps."""


def is_metric(style: LengthStyle) -> bool:
    """Whether lengths are written in cm or mm."""
    return style in (LengthStyle.CM, LengthStyle.MM)


_NEAR: Final = 0.1
"""mm. A length that the style misses by more is written finer: 1/16 in is not “1/8 in”."""

_MM_PER_YARD: Final = 36 * MM_PER_INCH
_MM_PER_METRE: Final = 1000.0


def _length_words(mm: float, style: LengthStyle) -> str:
    """Inches as coarse as they may be; cm and mm always to the mm or its tenth."""
    if is_metric(style):
        return format_length(mm, style)
    finer = (style, LengthStyle.SIXTEENTHS, LengthStyle.DECIMAL)
    near = next((each for each in finer if abs(rounding_error(mm, each)) <= _NEAR), LengthStyle.DECIMAL)
    return format_length(mm, near)


def _length_step(mm: float, by: int, style: LengthStyle) -> float:
    return max(_coordinate_step(mm, by, style), 0.0)


def _coordinate_step(mm: float, by: int, style: LengthStyle) -> float:
    return mm + by * (1.0 if is_metric(style) else MM_PER_INCH / 8)


def _thin_words(mm: float, style: LengthStyle) -> str:
    return format_length(mm, LengthStyle.MM if is_metric(style) else LengthStyle.DECIMAL)


def _thin_read(text: str, style: LengthStyle) -> float:
    return parse_length(text, "mm" if is_metric(style) else "in")


def _thin_step(mm: float, by: int, style: LengthStyle) -> float:
    step = 0.1 if is_metric(style) else MM_PER_INCH / 100
    return max(round(mm / step) + by, 0) * step


LENGTH: Final = Quantity(lambda text, style: parse_length(text, style.unit), _length_words, _length_step)
"""0 or more; a step is an eighth of an inch, or a millimetre."""

THIN: Final = Quantity(_thin_read, _thin_words, _thin_step)
"""0 or more, less than a ruler shows: always in decimals, and in cm as mm."""

THREAD_WEIGHT: Final = Quantity(
    lambda text, style: parse_length(text, "mm"),
    lambda mm, style: tr("{count} mm", count=_digits(mm)),
    lambda mm, by, style: max(round(mm / 0.05) + by, 2) * 0.05,
)
"""Width of a thread: always shown in mm, and what is typed without a unit is mm as what is shown."""

COORDINATE: Final = Quantity(
    lambda text, style: parse_coordinate(text, style.unit), format_length, _coordinate_step
)
"""As ``LENGTH``, of either sign, and never written finer than the style."""


# --- stitches to the inch ---------------------------------------------------------------------------

_PER_INCH = re.compile(r"(.*?)\s*(?:per|to the|to an|an|a|/)\s*(?:inch|in)\.?", re.IGNORECASE)


def _stitch_read(text: str, style: LengthStyle) -> float:
    counted = _PER_INCH.fullmatch(text.strip())
    if counted is None:
        if is_metric(style):
            return parse_length(text, "mm")
        try:
            return parse_length(text, None)  # with a unit it is the length of one stitch
        except LengthError:
            pass
    try:
        count = parse_length(counted[1] if counted else text, "in") / MM_PER_INCH
    except LengthError as error:
        raise SettingsError(
            f"“{text.strip()}” is no count of stitches", do="write it like 10, 10 per inch or 2.5 mm"
        ) from error
    if count == 0:
        raise SettingsError("0 stitches to the inch are none", do="give 1 or more, like 10")
    return MM_PER_INCH / count


def _stitch_words(mm: float, style: LengthStyle) -> str:
    if is_metric(style):
        return format_length(mm, LengthStyle.MM)
    return tr("{count} per inch", count=_digits(MM_PER_INCH / mm))


def _stitch_step(mm: float, by: int, style: LengthStyle) -> float:
    if is_metric(style):
        return max(_thin_step(mm, by, style), 0.1)
    return MM_PER_INCH / max(round(MM_PER_INCH / mm) + by, 1)


STITCH: Final = Quantity(_stitch_read, _stitch_words, _stitch_step)
"""The length of a stitch: by how many make an inch, or in mm."""


# --- thread on a bobbin -----------------------------------------------------------------------------

_THREAD = re.compile(
    r"([0-9]*[.,]?[0-9]+|[0-9]+[.,])\s*(yd|yds|yard|yards|m|metres?|meters?)?\.?", re.IGNORECASE
)


def _thread_read(text: str, style: LengthStyle) -> float:
    match = _THREAD.fullmatch(text.strip())
    if match is None:
        raise SettingsError(f"“{text.strip()}” is no length of thread", do="write it like 70 yd or 64 m")
    metric = match[2].lower().startswith("m") if match[2] else is_metric(style)
    return float(match[1].replace(",", ".")) * (_MM_PER_METRE if metric else _MM_PER_YARD)


def _thread_words(mm: float, style: LengthStyle) -> str:
    if is_metric(style):
        return tr("{count} m", count=_digits(mm / _MM_PER_METRE, 1))
    return tr("{count} yd", count=_digits(mm / _MM_PER_YARD, 1))


def _thread_step(mm: float, by: int, style: LengthStyle) -> float:
    one = _MM_PER_METRE if is_metric(style) else _MM_PER_YARD
    return max(round(mm / one) + by, 0) * one


THREAD: Final = Quantity(_thread_read, _thread_words, _thread_step)
"""Yards or metres, 0 or more."""


# --- numbers and places -----------------------------------------------------------------------------

_NUMBER = re.compile(r"([0-9]*[.,]?[0-9]+|[0-9]+[.,])\s*(\D*)")


def counted(sign: str, *, step: float, example: str) -> Quantity:
    """A number, 0 or more, that is written with ``sign`` behind it and read with or without."""

    def read(text: str, style: LengthStyle) -> float:
        match = _NUMBER.fullmatch(text.strip())
        if match is None or match[2].strip() not in {"", sign.strip()}:
            raise SettingsError(f"“{text.strip()}” is no number for this", do=f"write it like {example}")
        return float(match[1].replace(",", "."))

    def words(value: float, style: LengthStyle) -> str:
        return f"{_digits(value)}{sign}"

    def stepped(value: float, by: int, style: LengthStyle) -> float:
        return max(value + by * step, step)

    return Quantity(read, words, stepped)


def _place_words(place: Point | None, style: LengthStyle) -> str:
    return "" if place is None else ", ".join(format_length(value, style) for value in place)


PLACE: Final = Quantity(lambda text, style: parse_point(text, style.unit), _place_words)
"""x and y."""


def _digits(value: float, places: int = 2) -> str:
    return f"{round(value, places):g}" if abs(value) < 1e5 else f"{value:.0f}"
