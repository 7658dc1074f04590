"""Drags the anchor of every sample patch in the real window, and prints how long each move took, as JSON.

Run by ``test_drag`` in a process of its own for each scale: Qt takes the scale when it starts.
"""

from __future__ import annotations

import gc
import json
import sys
import time

import numpy as np
import shapely
from msgspec.structs import replace
from PySide6.QtCore import QEvent, QObject, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from app.plan.model import PlanPatch
from app.window.main_window import Bench
from app.window.start import open_bench
from geometry import Patch, Settings
from tests.benchmarks.engine import Exact, places
from tests.benchmarks.shapes import two_holes

WIDTH, HEIGHT = 1400, 900
LARGE = "120 vertices, 2 holes, 4 echoes"
_WARM = 20


class Frames(QObject):
    """Counts the frames that a widget paints."""

    count = 0

    def eventFilter(  # noqa: N802 - the name is Qt's
        self, watched: QObject, event: QEvent
    ) -> bool:
        if event.type() is QEvent.Type.Paint:
            self.count += 1
        return False


def track(piece: PlanPatch, moves: int) -> list[tuple[float, float]]:
    """A hand's way over the patch: from place to place inside, in even steps, always the same."""
    chance = np.random.default_rng(4)
    polygon = piece.patch().polygon
    left, top, right, bottom = polygon.bounds
    places = [piece.anchors[0]]
    while len(places) < 9:
        at = (chance.uniform(left, right), chance.uniform(top, bottom))
        if shapely.contains_xy(polygon, *at):
            places.append(at)
    way = shapely.LineString(places)
    return [
        (point.x, point.y) for point in way.interpolate(np.linspace(0, 1, moves), normalized=True).tolist()
    ]


def drag(application: QApplication, bench: Bench, index: int, moves: int) -> list[float]:
    """Seconds from each mouse event to the painted frame."""
    bench.session.choose(index)
    application.processEvents()
    canvas = bench.canvas
    frames = Frames()
    canvas.installEventFilter(frames)
    piece = bench.session.plan.patches[index]

    def send(kind: QEvent.Type, at: tuple[float, float]) -> None:
        pixel = QPointF(*canvas.view.point_to_screen(at))
        button = Qt.MouseButton.NoButton if kind is QEvent.Type.MouseMove else Qt.MouseButton.LeftButton
        event = QMouseEvent(
            kind,
            pixel,
            canvas.mapToGlobal(pixel),
            button,
            Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
        )
        application.sendEvent(canvas, event)

    send(QEvent.Type.MouseButtonPress, piece.anchors[0])
    taken = []
    gc.collect()
    for at in track(piece, moves + _WARM):
        painted = frames.count
        start = time.perf_counter()
        send(QEvent.Type.MouseMove, at)
        while frames.count == painted:
            application.processEvents()
        taken.append(time.perf_counter() - start)
    canvas.cancel()
    canvas.removeEventFilter(frames)
    return taken[_WARM:]


def large() -> PlanPatch:
    """120 vertices, two holes, 64 wedges with 4 echoes each."""
    patch = Patch(*two_holes(120, 200.0))
    settings = Settings(echo_count=4, edge_margin=3.0, gap=2.0, longest_span=60.0)
    return PlanPatch.of(LARGE, patch, [(0.0, 0.0)], settings=settings)


def queries(exact: Exact) -> list[float]:
    """Seconds of each of 41 queries of the reference. The machine's mood swings: some come with each drag."""
    taken = []
    for at in places(41, 10.0):
        start = time.perf_counter()
        exact.query(at)
        taken.append(time.perf_counter() - start)
    return taken


def main(moves: int) -> None:
    """Print ``{"pixels": …, "patches": {name: [[seconds, …], [seconds of a reference query, …]]}}``."""
    application = QApplication(["drag"])
    bench = open_bench(application)
    plan = bench.session.plan
    bench.session.open(replace(plan, patches=(*plan.patches, large())))
    bench.resize(WIDTH, HEIGHT)
    for panel in (bench.patches, bench.findings, bench.settings):
        panel.parentWidget().hide()
    bench.show()
    application.processEvents()
    bench.resize(
        WIDTH + bench.width() - bench.canvas.width(), HEIGHT + bench.height() - bench.canvas.height()
    )
    application.processEvents()
    size = bench.canvas.size() * bench.canvas.devicePixelRatioF()
    exact = Exact(two_holes(120))
    taken = {
        piece.name: (queries(exact), drag(application, bench, index, moves))[::-1]
        for index, piece in enumerate(bench.session.plan.patches)
    }
    print(json.dumps({"pixels": [size.width(), size.height()], "patches": taken}))


if __name__ == "__main__":
    main(int(sys.argv[1]))
