"""Promise 21: whatever patch, anchors and settings: a report, no error, all finite, twice the same bytes.

That wedges lie inside and apart is judged by ``tests/test_fits.py``, on the same numbers.
"""

from __future__ import annotations

import json

import pytest

from app.report import FittedPatch, report
from geometry import Patch, fit
from geometry.units import LengthStyle
from tests.zoo.cases import case, plain_numbers


def told(number: int) -> str:
    """Case ``number`` as ``wedgewright fit --json`` has it, from patches of its own: nothing is kept."""
    _, patch, anchors, settings = case(number)
    again = Patch(patch.outline, patch.holes)
    answer = fit(again, anchors if len(anchors) > 1 else anchors[0], settings)
    return json.dumps(report([FittedPatch("Case", answer)], LengthStyle.EIGHTHS), allow_nan=False)


NUMBERS = plain_numbers()


def test_the_same_report_twice() -> None:
    for number in NUMBERS[::60]:
        assert told(number) == told(number), number


@pytest.mark.long
@pytest.mark.parametrize("start", range(20))
def test_the_same_report_twice_of_all_numbers(start: int) -> None:
    for number in NUMBERS[start::20]:
        assert told(number) == told(number), number
