"""The table of ``python -m tests.benchmarks`` in short. No time is asserted: it is for reading."""

from __future__ import annotations

import pytest

from tests.benchmarks import engine, program
from tests.benchmarks.table import Row, line, table


@pytest.mark.usefixtures("qapp")  # a page made without it would bring an application without windows
def test_the_table_in_short(capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("pyvispoly", reason="the exact reference is a test extra")
    rows = [*engine.rows(short=True), *program.rows(short=True)]
    budgets = [row.budget for row in rows if row.unit == "ms" and row.budget is not None]
    assert budgets == pytest.approx([1, 1 / 4, 1 / 15, 1 / 15, 1 / 15, 10, 30, 3, 1.5, 1.5, 3])
    for row in rows:
        assert row.ours
        assert min(row.ours) > 0
    with capsys.disabled():
        print("\n" + table(rows))


def test_what_a_line_says() -> None:
    row = Row("x", (0.002, 0.004, 0.009), (0.001, 0.002, 0.002), 1.0)
    assert (row.ratio, row.least_ratio, row.verdict) == (2.0, 2.0, "missed by 100 %")
    assert line(row).split() == ["x", "4.000", "2.000", "2", "(2)", "1", "missed", "by", "100", "%"]
    assert Row("x", (0.002,), (0.001,), 2.0).verdict == "kept"
    assert Row("x", (0.002,), (0.001,)).verdict == ""
    assert line(Row("x", (301.5,), (), 300.0, "MiB")).split()[1:] == [
        "302",
        "MiB",
        "300",
        "MiB",
        "missed",
        "by",
        "0",
        "%",
    ]
    assert line(Row("x", (0.04,), (), 0.05)).split()[1:] == ["40.000", "50", "ms", "kept"]
