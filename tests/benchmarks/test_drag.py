"""From mouse event to painted frame, for every sample patch, beside one exact visibility query.

No time is asserted: the table is for reading. ``python -m tests.benchmarks.test_drag`` takes more moves.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from app.window.sample import sample_plan

ROOT = Path(__file__).parents[2]


def run(scale: float, settings: Path, moves: int) -> dict[str, Any]:
    environment = {
        **os.environ,
        "QT_QPA_PLATFORM": "offscreen",
        "QT_SCALE_FACTOR": str(scale),
        "OPENBLAS_NUM_THREADS": "1",
        "XDG_CONFIG_HOME": str(settings),
        "PYTHONPATH": str(ROOT),
    }
    result = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.drag_run", str(moves)],
        cwd=ROOT, env=environment, capture_output=True, text=True, timeout=600,
    )  # fmt: skip
    assert result.returncode == 0, result.stderr
    answer: dict[str, Any] = json.loads(result.stdout)
    return answer


def reference_query() -> float:
    """Seconds for one visibility query of the exact library: 120 vertices with two holes, as in section 9."""
    vis = pytest.importorskip("pyvispoly", reason="the exact reference is a test extra")

    def ring(count: int, radius: float, x: float, y: float, way: int) -> list[Any]:
        turn = way * np.linspace(0, 2 * np.pi, count, endpoint=False)
        far = radius * (1 + 0.25 * np.cos(7 * turn))
        return [
            vis.Point(float(px), float(py))
            for px, py in zip(x + far * np.cos(turn), y + far * np.sin(turn), strict=True)
        ]

    holes = [ring(10, 20, -45, 10, -1), ring(10, 20, 45, -10, -1)]
    area = vis.PolygonWithHoles(ring(100, 100, 0, 0, 1), holes)
    calculator = vis.VisibilityPolygonCalculator(area)
    taken = []
    for x in np.linspace(-10, 10, 101):
        start = time.perf_counter()
        calculator.compute_visibility_polygon(vis.Point(float(x), 3.0))
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def table(runs: dict[float, dict[str, Any]], reference: float) -> str:
    lines = [f"reference query (pyvispoly, 120 vertices, 2 holes): {reference * 1e3:.3f} ms"]
    for scale, answer in runs.items():
        width, height = answer["pixels"]
        lines.append(f"{width} x {height} device pixels (scale {scale:g})     median     99 %   references")
        for name, taken in answer["patches"].items():
            middle, late = np.percentile(taken, [50, 99])
            lines.append(
                f"  {name:<40} {middle * 1e3:7.2f} ms {late * 1e3:6.2f} ms {middle / reference:8.1f}"
            )
    return "\n".join(lines)


def test_drag(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    runs = {scale: run(scale, tmp_path, 40) for scale in (1.0, 2.0)}
    names = {piece.name for piece in sample_plan().patches}
    for scale, answer in runs.items():
        assert answer["pixels"] == [1400 * scale, 900 * scale]
        assert set(answer["patches"]) == names
    with capsys.disabled():
        print("\n" + table(runs, reference_query()))


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        print(table({scale: run(scale, Path(folder), 400) for scale in (1.0, 2.0)}, reference_query()))
