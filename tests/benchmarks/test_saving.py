"""The table of ``saving`` in short. No time is asserted: it is for reading.

``python -m tests.benchmarks.test_saving`` prints it in full.
"""

from __future__ import annotations

import pytest

from app.plan.plan_file import encode
from tests.benchmarks.saving import MEGABYTE, large, photographed, rows
from tests.benchmarks.table import table


def test_the_table_in_short(capsys: pytest.CaptureFixture[str]) -> None:
    assert abs(len(encode(large())) / MEGABYTE - 1) < 0.05
    plan = photographed()
    assert len(plan.patches) == 200
    assert plan.photo is not None
    made = list(rows(short=True))
    assert len(made) == 10
    for row in made:
        assert row.ours
        assert min(row.ours) > 0
    with capsys.disabled():
        print("\n" + table(made))


if __name__ == "__main__":
    print(table(list(rows(short=False))))
