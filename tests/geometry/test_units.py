"""Lengths: what is read, what is refused, and that writing and reading agree."""

from __future__ import annotations

import contextlib
import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.errors import LengthError
from geometry.units import (
    MM_PER_INCH,
    MM_PER_UNIT,
    UNITS,
    LengthStyle,
    format_length,
    parse_coordinate,
    parse_length,
    parse_point,
    parse_unit,
    rounding_error,
    to_mm,
)

NO_BREAK = "\u00a0"


def inches(number: str) -> float:
    return float(Fraction(number) * Fraction("25.4"))


def test_the_inch() -> None:
    """CSS Values and Units, absolute lengths: 1 in = 2.54 cm = 25.4 mm."""
    assert MM_PER_INCH == 25.4
    assert MM_PER_UNIT == {"in": 25.4, "cm": 10.0, "mm": 1.0}
    assert tuple(MM_PER_UNIT) == UNITS


def test_whole_inches_and_halved_ones_are_exact_in_mm() -> None:
    for over in range(64 * 40):
        assert to_mm(over / 64, "in") == inches(f"{over}/64")
    assert [to_mm(0.1, "cm"), to_mm(0.1, "mm"), to_mm(-3, "in")] == [1.0, 0.1, -76.2]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("4", "4"),
        ("4 3/8", "35/8"),
        ("4-3/8", "35/8"),
        ("4⅜", "35/8"),
        ("4 ⅜", "35/8"),
        ("⅜", "3/8"),
        ("½", "1/2"),
        ("⅔", "2/3"),
        ('3/8"', "3/8"),
        ("3/8 in", "3/8"),
        ("3/8”", "3/8"),
        ("3/8″", "3/8"),
        ("3/8''", "3/8"),
        ("3/8′′", "3/8"),
        ("1/4in", "1/4"),
        ("4 3⁄8", "35/8"),
        ("4 3 / 8 in.", "35/8"),
        ("4  3/8\tinches", "35/8"),
        ("2' 6 1/2", "61/2"),
        ("2' 6 1/2\"", "61/2"),
        ("2’ 6 1/2”", "61/2"),
        ("2′6½″", "61/2"),
        ("2'-6 1/2\"", "61/2"),
        ("2ft 6in", "30"),
        ("2 FT. 6 IN.", "30"),
        ("2 feet", "24"),
        ("1/2 foot", "6"),
        ("1½'", "18"),
        ("0' 3/8", "3/8"),
        ("2' 0.5\"", "49/2"),
        ("4.375", "35/8"),
        ("4,375", "35/8"),
        (".375", "3/8"),
        (",375", "3/8"),
        ("4.", "4"),
        ("0", "0"),
        ("0/8", "0"),
        ("11/8", "11/8"),
        (f"{NO_BREAK}4{NO_BREAK}3/8 ", "35/8"),
        ("\ufeff4 3/8\r\n", "35/8"),
    ],
)
def test_lengths_in_inches(text: str, number: str) -> None:
    assert parse_length(text, "in") == inches(number)


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    [
        ("11 cm", "in", 110.0),
        ("11cm", None, 110.0),
        ("110mm", "in", 110.0),
        ("110 millimetres", None, 110.0),
        ("11,5 cm", None, 115.0),
        ("1/2 cm", None, 5.0),
        ("11", "cm", 110.0),
        ("11", "mm", 11.0),
        ("4 3/8", "cm", 43.75),
        ("4 3/8 in", "mm", 111.125),
        ("2'", "cm", 609.6),
        ("2' 6", None, 762.0),
        ("10000 mm", None, 10000.0),
        ("0.1", "mm", 0.1),
    ],
)
def test_lengths_in_other_units(text: str, unit: str | None, mm: float) -> None:
    assert parse_length(text, unit) == mm


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no length"),
        ("  \t", "no length"),
        ("1/0", "divides by zero"),
        ("4 1/0", "divides by zero"),
        ("2' 1/0", "divides by zero"),
        ("4 3", "two numbers"),
        ("4.5 3,2", "two numbers"),
        ("-2", "negative"),
        ("−2", "negative"),
        ("--2", "negative"),
        ("-", "negative"),
        ("+2", "not a length"),
        ("4 3/8/2", "not a length"),
        ("4 -3/8", "not a length"),
        ("4.5 3/8", "not a length"),
        ("4 11/8", "fraction of 1 or more"),
        ("4 8/8", "fraction of 1 or more"),
        ("2' 12", "less than 12"),
        ("1½' 3", "whole feet"),
        ("2' 6 cm", "not a length"),
        ("6\" 2'", "not a length"),
        ("1e999", "not a length"),
        ("1e3", "not a length"),
        ("nan", "not a length"),
        ("inf", "not a length"),
        ("0x10", "not a length"),
        ("1_000", "not a length"),
        ("1,234.5", "not a length"),
        ("4³", "not a length"),
        ("٤", "not a length"),
        (".", "not a length"),
        ("/", "not a length"),
        ("1/", "not a length"),
        ("in", "not a length"),
        ("4 m", "not a length"),
        ("4 px", "not a length"),
        ("four", "not a length"),
        ("4\x003", "not a length"),
        ("9" * 20, "longer than 10 m"),
        ("10000.001 mm", "longer than 10 m"),
        ("33'", "longer than 10 m"),
        ("9" * 5000, "too long"),
    ],
)
def test_refused(text: str, says: str) -> None:
    with pytest.raises(LengthError) as caught:
        parse_length(text, "in")
    sentence = str(caught.value)
    assert says in sentence
    assert caught.value.do
    assert len(sentence) < 250
    assert sentence.isprintable()


def test_a_number_without_a_unit_is_not_guessed() -> None:
    with pytest.raises(LengthError, match="has no unit; say in, cm or mm"):
        parse_length("4 3/8", None)
    with pytest.raises(LengthError, match="has no unit"):
        parse_point("3in, 4", None)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("-2", -50.8),
        ("− 4 3/8", -111.125),
        ("-4-3/8", -111.125),
        ("-2' 6", -762.0),
        ("-1 cm", -10.0),
        ("3", 76.2),
    ],
)
def test_coordinates(text: str, mm: float) -> None:
    assert parse_coordinate(text, "in") == mm


def test_minus_nothing_is_nothing() -> None:
    assert math.copysign(1, parse_coordinate("-0", "in")) == 1


@pytest.mark.parametrize("text", ["--2", "2-", "-", "", "-10001 mm", "- -2", "2 -"])
def test_coordinates_refused(text: str) -> None:
    with pytest.raises(LengthError):
        parse_coordinate(text, "in")


@pytest.mark.parametrize(
    ("text", "point"),
    [
        ("3in,4 1/2in", (76.2, 114.3)),
        (" 3 in ; -4 1/2 in ", (76.2, -114.3)),
        ("3,4", (76.2, 101.6)),
        ("3,5;4,5", (88.9, 114.3)),
        ("3,5 cm; 4", (35.0, 101.6)),
        ("-0,-0", (0.0, 0.0)),
        ("1' 6,2'", (457.2, 609.6)),
    ],
)
def test_points(text: str, point: tuple[float, float]) -> None:
    assert parse_point(text, "in") == point


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("3", "not a place"),
        ("", "not a place"),
        ("3;4;5", "not a place"),
        ("3,5,4,5", "semicolon"),
        ("3,4,5", "semicolon"),
        (",", "no length"),
        ("3,", "no length"),
        ("middle, 4", "not a length"),
    ],
)
def test_points_refused(text: str, says: str) -> None:
    with pytest.raises(LengthError, match=says):
        parse_point(text, "in")


def test_units_by_name() -> None:
    assert [parse_unit(text) for text in ("in", "Inches", '"', "CM", " mm ", "millimeters")] == [
        "in",
        "in",
        "in",
        "cm",
        "mm",
        "mm",
    ]
    for text in ("", "furlong", "m", "ft"):
        with pytest.raises(LengthError, match="say in, cm or mm"):
            parse_unit(text)


# --- writing ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mm", "written"),
    [
        (111.125, ["4 3/8 in", "4 3/8 in", "4.375 in", "11.1 cm", "111.1 mm"]),
        (6.35, ["1/4 in", "1/4 in", "0.25 in", "0.6 cm", "6.4 mm"]),
        (254.0, ["10 in", "10 in", "10 in", "25.4 cm", "254 mm"]),
        (1.5875, ["1/8 in", "1/16 in", "0.063 in", "0.2 cm", "1.6 mm"]),
        (25.399, ["1 in", "1 in", "1 in", "2.5 cm", "25.4 mm"]),
        (49.9999, ["2 in", "1 15/16 in", "1.969 in", "5 cm", "50 mm"]),
        (0.0, ["0 in", "0 in", "0 in", "0 cm", "0 mm"]),
        (0.04, ["0 in", "0 in", "0.002 in", "0 cm", "0 mm"]),
        (-0.01, ["0 in", "0 in", "0 in", "0 cm", "0 mm"]),
        (-111.125, ["-4 3/8 in", "-4 3/8 in", "-4.375 in", "-11.1 cm", "-111.1 mm"]),
        (10000.0, ["393 3/4 in", "393 11/16 in", "393.701 in", "1000 cm", "10000 mm"]),
    ],
)
def test_written(mm: float, written: list[str]) -> None:
    assert [format_length(mm, style) for style in LengthStyle] == written


def test_halves_go_up_and_away_from_zero() -> None:
    """1/16 in is half an eighth for every number of inches, whatever its float looks like."""
    for whole in range(200):
        half = inches(f"{whole * 16 + 1}/16")
        assert parse_length(format_length(half, LengthStyle.EIGHTHS), None) == inches(f"{whole * 8 + 1}/8")
        assert format_length(-half, LengthStyle.EIGHTHS) == "-" + format_length(half, LengthStyle.EIGHTHS)


def test_sign_and_decimal_mark() -> None:
    assert format_length(111.125, LengthStyle.EIGHTHS, sign=False) == "4 3/8"
    assert format_length(111.125, LengthStyle.DECIMAL, decimal_mark=",") == "4,375 in"
    assert format_length(111.125, LengthStyle.MM, sign=False, decimal_mark=",") == "111,1"


@pytest.mark.parametrize("mm", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_not_written(mm: float) -> None:
    with pytest.raises(LengthError):
        format_length(mm, LengthStyle.MM)


def test_steps_and_units_of_the_styles() -> None:
    assert [style.step for style in LengthStyle] == [3.175, 1.5875, 0.0254, 1.0, 0.1]
    assert [style.unit for style in LengthStyle] == ["in", "in", "in", "cm", "mm"]


@settings(max_examples=200, deadline=None)
@given(
    st.floats(-9990, 9990),
    st.sampled_from(LengthStyle),
    st.booleans(),
    st.sampled_from([".", ","]),
)
def test_round_trip(mm: float, style: LengthStyle, sign: bool, mark: str) -> None:
    text = format_length(mm, style, sign=sign, decimal_mark=mark)
    back = parse_coordinate(text, None if sign else style.unit)
    assert abs(back - mm) <= style.step / 2 * (1 + 1e-9)
    assert back - mm == pytest.approx(rounding_error(mm, style), abs=1e-9)
    # What was read is written the same again, and has nothing left to round.
    assert format_length(back, style, sign=sign, decimal_mark=mark) == text
    assert rounding_error(back, style) == pytest.approx(0, abs=1e-12)


PER_STEP = dict(zip(LengthStyle, map(Fraction, ("3.175", "1.5875", "0.0254", "1", "0.1")), strict=True))
"""mm, exactly."""


@settings(max_examples=400, deadline=None)
@given(
    st.integers(-40_000, 40_000),
    st.sampled_from(LengthStyle),
    st.one_of(st.floats(-1e-4, 1e-4), st.sampled_from([0.0, 1e-15, -1e-15, 1e-12, -1e-12, 1e-7, -1e-7])),
)
def test_near_a_half_the_nearer_step_is_shown(half: int, style: LengthStyle, off: float) -> None:
    """By exact fractions, of the float as its shortest decimal; a half itself goes away from zero."""
    mm = float((half + Fraction(1, 2)) * PER_STEP[style]) + off
    steps = Fraction(repr(mm)) / PER_STEP[style]
    away = math.floor(abs(steps) + Fraction(1, 2)) * (-1 if steps < 0 else 1)
    assert rounding_error(mm, style) == float(away * PER_STEP[style] - Fraction(repr(mm)))


@settings(max_examples=200, deadline=None)
@given(
    st.one_of(st.text(max_size=40), st.text("0123456789 ./,-'\"½incmft;", max_size=14)),
    st.sampled_from(["in", "cm", "mm", None]),
)
def test_whatever_is_typed_is_a_length_or_the_own_error(text: str, unit: str | None) -> None:
    for read in (parse_length, parse_coordinate):
        try:
            value = read(text, unit)
        except LengthError:
            continue
        assert math.isfinite(value)
        assert abs(value) <= 10_000
    with contextlib.suppress(LengthError):
        parse_point(text, unit)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 300), st.integers(0, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_every_tape_reading_is_exact(whole: int, over: int, under: int) -> None:
    text = f"{whole} {over % under}/{under}"
    exact = (whole + Fraction(over % under, under)) * Fraction("25.4")
    assert parse_length(text, "in") == float(exact)
    assert parse_length(text.replace(" ", "-"), "in") == float(exact)
    assert parse_length(f"{whole // 12}' {whole % 12} {over % under}/{under}", None) == float(exact)
