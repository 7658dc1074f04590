"""Promise 21: whatever patch, anchors and settings: a report, no error, all finite, twice the same bytes.

Twice is here and in another process, with another seed of Python's hashes: what hangs on the order of a set
of words, or on where things lie in memory, then differs. That wedges lie inside and apart is judged by
``tests/test_fits.py``, on the same numbers.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pytest

from app.report import FittedPatch, report
from geometry import Patch, fit
from geometry.units import LengthStyle
from tests.zoo.cases import case, plain_numbers

ROOT = Path(__file__).parents[2]
PARTS = 20
ELSEWHERE = "import sys; from tests.app.test_same_report import told; print(told(map(int, sys.argv[1:])))"


def told(numbers: Iterable[int]) -> str:
    """The cases as ``wedgewright fit --json`` has them, a line each: number, SHA-256 of the report.

    From patches of their own: nothing is kept.
    """
    lines = []
    for number in numbers:
        _, patch, anchors, settings = case(number)
        again = Patch(patch.outline, patch.holes)
        answer = fit(again, anchors if len(anchors) > 1 else anchors[0], settings)
        text = json.dumps(report([FittedPatch("Case", answer)], LengthStyle.EIGHTHS), allow_nan=False)
        lines.append(f"{number} {hashlib.sha256(text.encode()).hexdigest()}")
    return "\n".join(lines)


@pytest.mark.parametrize("part", [0, *(pytest.param(n, marks=pytest.mark.long) for n in range(1, PARTS))])
def test_the_same_report_in_another_process(part: int) -> None:
    numbers = plain_numbers()[part::PARTS]
    other = subprocess.Popen(
        [sys.executable, "-c", ELSEWHERE, *map(str, numbers)],
        cwd=ROOT,
        env={**os.environ, "PYTHONHASHSEED": "1"},
        stdout=subprocess.PIPE,
        text=True,
    )
    here = told(numbers).splitlines()
    assert len(here) == len(numbers)
    assert other.communicate()[0].splitlines() == here
