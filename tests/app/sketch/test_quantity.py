"""What is typed into the fields of the settings: read, written, stepped."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.sketch import quantity
from app.sketch.quantity import COORDINATE, LENGTH, PLACE, STITCH, THIN, THREAD, Quantity, counted
from geometry import WedgewrightError
from geometry.units import LengthStyle

EIGHTHS, SIXTEENTHS, DECIMAL, CM, MM = LengthStyle
ANGLE = counted("°", step=1, example="25°")
SECONDS = counted(" s", step=0.5, example="1.5 s")


@pytest.mark.parametrize(
    ("kind", "text", "style", "value"),
    [
        (LENGTH, "3/8", EIGHTHS, 9.525),
        (LENGTH, "5", MM, 5),
        (COORDINATE, "-2", CM, -20),
        (THIN, "0.1", EIGHTHS, 2.54),
        (THIN, "2,5", CM, 2.5),  # as it is written there: in mm
        (THIN, "1/8 in", MM, 3.175),
        (STITCH, "10", EIGHTHS, 2.54),
        (STITCH, "10 per inch", EIGHTHS, 2.54),
        (STITCH, "12 1/2 to the inch", DECIMAL, 2.032),
        (STITCH, "8/in", EIGHTHS, 3.175),
        (STITCH, "10 per inch", MM, 2.54),
        (STITCH, "2.5 mm", EIGHTHS, 2.5),
        (STITCH, "2,5", CM, 2.5),
        (THREAD, "70", EIGHTHS, 70 * 914.4),
        (THREAD, "70 yd", MM, 70 * 914.4),
        (THREAD, "64", CM, 64_000),
        (THREAD, "64,5 m", EIGHTHS, 64_500),
        (ANGLE, "30", EIGHTHS, 30),
        (ANGLE, "30,5 °", EIGHTHS, 30.5),
        (SECONDS, "1.5s", CM, 1.5),
        (PLACE, "3, 4 1/2", EIGHTHS, (76.2, 114.3)),
        (PLACE, "3,5; 4", CM, (35, 40)),
    ],
)
def test_reads_what_quilters_write(kind: Quantity, text: str, style: LengthStyle, value: Any) -> None:
    assert kind.read(text, style) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("kind", "text", "why"),
    [
        (LENGTH, "4 3", "two numbers"),
        (LENGTH, "-2", "negative"),
        (STITCH, "0", "none"),
        (STITCH, "many", "no count of stitches"),
        (STITCH, "", "no count of stitches"),
        (THREAD, "70 ft", "no length of thread"),
        (THREAD, "-1", "no length of thread"),
        (THREAD, "1e9", "no length of thread"),
        (ANGLE, "25 s", "no number"),
        (ANGLE, "-5", "no number"),
        (SECONDS, "nan", "no number"),
        (PLACE, "3", "not a place"),
    ],
)
def test_refuses_with_what_to_do(kind: Quantity, text: str, why: str) -> None:
    with pytest.raises(WedgewrightError, match=why) as caught:
        kind.read(text, EIGHTHS)
    assert caught.value.do


@pytest.mark.parametrize(
    ("kind", "value", "style", "words"),
    [
        (LENGTH, 6.35, EIGHTHS, "1/4 in"),
        (LENGTH, 6.4, EIGHTHS, "1/4 in"),  # nobody rules a twentieth of a millimetre
        (LENGTH, 1.5875, EIGHTHS, "1/16 in"),
        (LENGTH, 1.5875, DECIMAL, "0.063 in"),
        (LENGTH, 5, EIGHTHS, "0.197 in"),
        (LENGTH, 5, CM, "0.5 cm"),
        (COORDINATE, 83.1, EIGHTHS, "3 1/4 in"),
        (THIN, 2.5, EIGHTHS, "0.098 in"),
        (THIN, 2.5, CM, "2.5 mm"),
        (STITCH, 2.54, EIGHTHS, "10 per inch"),
        (STITCH, 2.54, CM, "2.5 mm"),
        (THREAD, 70 * 914.4, EIGHTHS, "70 yd"),
        (THREAD, 64_000, MM, "64 m"),
        (ANGLE, 25.0, EIGHTHS, "25°"),
        (SECONDS, 1.5, EIGHTHS, "1.5 s"),
        (PLACE, (76.2, 114.3), EIGHTHS, "3 in, 4 1/2 in"),
    ],
)
def test_writes_as_quilters_do(kind: Quantity, value: Any, style: LengthStyle, words: str) -> None:
    assert kind.words(value, style) == words


@given(
    value=st.floats(1.0, 900.0),
    style=st.sampled_from(LengthStyle),
    kind=st.sampled_from([LENGTH, COORDINATE, THIN, STITCH, THREAD, ANGLE, SECONDS]),
)
def test_what_is_written_is_read_as_what_it_shows(value: float, style: LengthStyle, kind: Quantity) -> None:
    """Reading back what is shown and showing that again changes nothing."""
    value = value * 1000 if kind is THREAD else value / 60 if kind is STITCH else value
    if kind is STITCH:
        value = max(value, 0.5)
    words = kind.words(value, style)
    assert kind.words(kind.read(words, style), style) == words


@pytest.mark.parametrize(
    ("kind", "value", "style", "up", "down"),
    [
        (LENGTH, 6.35, EIGHTHS, 9.525, 3.175),
        (LENGTH, 6.35, CM, 7.35, 5.35),
        (LENGTH, 1.0, EIGHTHS, 4.175, 0.0),
        (COORDINATE, 0.0, EIGHTHS, 3.175, -3.175),
        (THIN, 2.5, CM, 2.6, 2.4),
        (STITCH, 2.54, EIGHTHS, 25.4 / 11, 25.4 / 9),
        (STITCH, 25.4, EIGHTHS, 12.7, 25.4),
        (STITCH, 2.5, MM, 2.6, 2.4),
        (THREAD, 0.0, CM, 1000, 0),
        (ANGLE, 1, EIGHTHS, 2, 1),
        (SECONDS, 1.0, EIGHTHS, 1.5, 0.5),
    ],
)
def test_one_step_up_and_down(
    kind: Quantity, value: float, style: LengthStyle, up: float, down: float
) -> None:
    assert kind.step is not None
    assert kind.step(value, 1, style) == pytest.approx(up)
    assert kind.step(value, -1, style) == pytest.approx(down)


def test_a_yard_is_36_inches() -> None:
    assert quantity._MM_PER_YARD == 914.4  # international yard, 1959: 0.9144 m exactly
