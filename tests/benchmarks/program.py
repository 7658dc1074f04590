"""The program's budgets: a call without a window, a template, a large plan."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
import time
import zlib
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.table import Row, by_turns

ROOT = Path(__file__).parents[2]


def environment(settings: Path) -> dict[str, str]:
    """For a process of its own, without a screen and with its own settings.

    Compiled modules are kept, those of the reference too: a program that is installed is compiled once.
    """
    around = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {
        **around,
        "PYTHONPYCACHEPREFIX": str(settings / "compiled"),
        "QT_QPA_PLATFORM": "offscreen",
        "OPENBLAS_NUM_THREADS": "1",
        "XDG_CONFIG_HOME": str(settings),
        "XDG_DATA_HOME": str(settings),
        "PYTHONPATH": str(ROOT),
    }


def _processes() -> float:
    """Seconds of processor time of all processes that were run and have ended; where the system does not
    tell, those by the clock on the wall."""
    try:
        import resource
    except ImportError:
        return time.perf_counter()
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def call(short: bool) -> Iterator[Row]:
    """``wedgewright fit`` of one patch, from process start to end."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "kite.txt"
        file.write_text("unit: mm\n100 0\n200 140\n100 360\n0 140\n", encoding="utf-8")
        around = environment(Path(folder))

        def run(*words: str) -> None:
            done = subprocess.run([sys.executable, *words], env=around, capture_output=True, check=False)
            assert done.returncode in {0, 1}, done.stderr.decode()

        times = by_turns(
            lambda: run("-m", "app", "fit", str(file), "--json"),
            lambda: run("-c", "import numpy, shapely"),
            1 if short else 21,
            _processes,
        )
    yield Row("wedgewright fit of one patch / import numpy, shapely", *times, 1.5)


def start(short: bool) -> Iterator[Row]:
    """From process start to the first paint, and to the finished picture, beside an empty window."""
    with tempfile.TemporaryDirectory() as folder:
        around = environment(Path(folder))

        def run(which: str) -> None:
            done = subprocess.run(
                [sys.executable, "-m", "tests.benchmarks.start_run", which],
                cwd=ROOT, env=around, capture_output=True, check=False,
            )  # fmt: skip
            assert done.returncode == 0, done.stderr.decode()

        for which, what, budget in (
            ("frame", "window, process start to first paint / empty window", 1.5),
            ("picture", "   to the finished picture / empty window", None),
        ):
            times = by_turns(lambda: run(which), lambda: run("empty"), 1 if short else 15, _processes)  # noqa: B023
            yield Row(what, *times, budget)


def template(short: bool) -> Iterator[Row]:
    """A PDF of four sheets beside a bare QPdfWriter that strokes as many lines of as many pieces."""
    from PySide6.QtCore import QBuffer, QIODevice, QPoint
    from PySide6.QtGui import QPainter, QPdfWriter

    from app.exporting.options import TemplateOptions
    from app.exporting.pdf import template_pdf
    from app.exporting.qt import need_application
    from app.exporting.sheets import paper_named
    from app.window.sample import sample_plan
    from geometry import fit

    need_application()
    options = TemplateOptions(paper=paper_named("a4"))
    for piece in sample_plan().patches:
        fits = [(piece.name, fit(piece.patch(), piece.anchors, piece.settings))]
        pages, strokes, pieces = _drawn(template_pdf(fits, options))
        if pages == 4:
            break
    else:
        raise AssertionError("no sample takes four sheets")
    ends = pieces // strokes + 1

    def bare() -> None:
        buffer = QBuffer()
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        writer = QPdfWriter(buffer)
        painter = QPainter(writer)
        for page in range(pages):
            if page:
                writer.newPage()
            for number in range(strokes // pages):
                painter.drawPolyline(
                    [QPoint(number + 89 * k % 997, 7 * k * number % 991) for k in range(ends)]
                )
        painter.end()

    times = by_turns(lambda: template_pdf(fits, options), bare, 3 if short else 31)
    yield Row(f"template PDF, {pages} sheets, {strokes:,} lines / bare writer", *times, 3.0)


def _drawn(pdf: bytes) -> tuple[int, int, int]:
    """Pages, lines stroked on them, and the straight or curved pieces of these."""
    pages = strokes = pieces = 0
    for found in re.finditer(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        try:
            held = zlib.decompress(found.group(1))
        except zlib.error:
            continue
        if re.search(rb"(?m) cm$", held):
            pages += 1
            strokes += len(re.findall(rb"(?m)^[SB]\*?$", held))
            pieces += len(re.findall(rb"(?m) [lc]$", held))
    return pages, strokes, pieces


def large_plan(_: bool) -> Iterator[Row]:
    """200 patches in the real window: memory, and from choosing a patch to its painted picture."""
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, "-m", "tests.benchmarks.plan_run", folder],
            cwd=ROOT, env=environment(Path(folder)), capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    if answer["peak"] is not None:
        yield Row("plan of 200 patches, peak memory", (answer["peak"],), (), 300.0, "MiB")
    for name in ("first", "again"):
        yield Row(f"   switching patches, {name}, processor time", tuple(answer[name]), (), 0.050)


def rows(short: bool) -> Iterator[Row]:
    """All of them; ``short`` leaves the large plan out."""
    yield from call(short)
    yield from start(short)
    yield from template(short)
    if not short:
        yield from large_plan(short)
