"""Opens a plan of 200 patches in the real window, goes through it twice, and prints times and memory as JSON.

Times are the process's own: the budget is a figure, with no reference that other work would slow down alike.
Run by ``program`` in a process of its own: peak memory is a process's.
"""

from __future__ import annotations

import json
import re
import sys
import time
from pathlib import Path

import msgspec
from PySide6.QtWidgets import QApplication

from app.plan.model import Plan
from app.plan.plan_file import write_plan
from app.window.sample import sample_plan
from app.window.start import open_bench
from tests.benchmarks.drag_run import HEIGHT, WIDTH, Frames

PATCHES = 200


def plan() -> Plan:
    """The sample's patches over and over, each a little larger than the one before."""
    sample = sample_plan().patches
    pieces = []
    for number in range(PATCHES):
        piece = sample[number % len(sample)]
        grown = 1 + number / 1000

        def larger(
            ring: tuple[tuple[float, float], ...], grown: float = grown
        ) -> tuple[tuple[float, float], ...]:
            return tuple((x * grown, y * grown) for x, y in ring)

        pieces.append(
            msgspec.structs.replace(
                piece,
                name=f"{piece.name} {number}",
                outline=larger(piece.outline),
                holes=tuple(larger(hole) for hole in piece.holes),
                anchors=larger(piece.anchors),
            )
        )
    return Plan(title="200", patches=tuple(pieces))


def peak() -> float | None:
    """MiB, where the system says."""
    status = Path("/proc/self/status")
    if status.exists():  # getrusage also counts what the process that started this one held, on Linux
        held = re.search(r"^VmHWM:\s*(\d+) kB$", status.read_text("utf-8"), re.MULTILINE)
        if held:
            return int(held[1]) / 2**10
    try:
        import resource
    except ImportError:
        return None
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (2**20 if sys.platform == "darwin" else 2**10)


def main(folder: str) -> None:
    """Print ``{"peak": MiB, "first": [seconds, …], "again": [seconds, …]}``."""
    file = Path(folder) / "large.wedgeplan"
    write_plan(file, plan())
    application = QApplication(["plan"])
    bench = open_bench(application)
    bench.take([file])
    bench.resize(WIDTH, HEIGHT)
    bench.show()
    application.processEvents()
    assert len(bench.session.plan.patches) == PATCHES
    frames = Frames()
    bench.canvas.installEventFilter(frames)
    taken: dict[str, list[float]] = {}
    for name in ("first", "again"):
        taken[name] = []
        for index in [*range(1, PATCHES, 3), 0]:
            painted = frames.count
            start = time.process_time()
            bench.session.choose(index)
            while frames.count == painted:
                application.processEvents()
            taken[name].append(time.process_time() - start)
            for _ in range(3):
                application.processEvents()
    print(json.dumps({"peak": peak(), **taken}))


if __name__ == "__main__":
    main(sys.argv[1])
