"""Fingers on the real canvas: real touch events."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint
from PySide6.QtGui import QPointingDevice
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.window.main_window import Bench
from tests.app.window.conftest import INCH, Hand


@pytest.fixture(scope="module")
def screen() -> QPointingDevice:
    return QTest.createTouchDevice()


class Fingers:
    """Fingers by number; each call is one event."""

    def __init__(self, bench: Bench, screen: QPointingDevice) -> None:
        self.canvas = bench.canvas
        self.screen = screen
        self.down: dict[int, QPoint] = {}

    def press(self, *fingers: tuple[int, QPoint]) -> None:
        self._send("press", fingers)
        self.down.update(fingers)

    def move(self, *fingers: tuple[int, QPoint]) -> None:
        self._send("move", fingers)
        self.down.update(fingers)

    def release(self, *fingers: tuple[int, QPoint]) -> None:
        self._send("release", fingers)

    def _send(self, what: str, fingers: tuple[tuple[int, QPoint], ...]) -> None:
        sequence = QTest.touchEvent(self.canvas, self.screen, False)
        for number, at in fingers:
            self.down.pop(number, None)
            getattr(sequence, what)(number, at, self.canvas)
        for number, at in self.down.items():
            sequence.move(number, at, self.canvas)  # a stationary one would be told at a wrong place
        sequence.commit()
        QApplication.processEvents()


@pytest.fixture
def fingers(bench: Bench, screen: QPointingDevice) -> Fingers:
    return Fingers(bench, screen)


def anchor(bench: Bench) -> tuple[float, float]:
    assert bench.session.piece is not None
    x, y = bench.session.piece.anchors[0]
    return (x / INCH, y / INCH)


def test_one_finger_drags_the_anchor_in_one_step(bench: Bench, hand: Hand, fingers: Fingers) -> None:
    fits = []
    bench.session.fit_changed.connect(lambda: fits.append(bench.session.fit))
    fingers.press((0, hand.pixel(3, 5)))
    fingers.move((0, hand.pixel(4, 4.5)))
    fingers.move((0, hand.pixel(6, 2)))
    assert len(fits) >= 2
    fingers.release((0, hand.pixel(6, 2)))
    assert anchor(bench) == pytest.approx((6, 2), abs=0.2)
    assert bench.session.history.undo_name == "Move anchor"
    bench.actions_.undo.trigger()
    assert bench.session.history.undo_name is None, "nothing was done twice, by touch and by mouse"


def test_taps_draw_and_a_double_tap_closes(bench: Bench, hand: Hand, fingers: Fingers) -> None:
    bench.actions_.draw.trigger()
    for x, y in ((1, 1), (5, 1), (5, 4), (5, 4)):
        fingers.press((0, hand.pixel(x, y)))
        fingers.release((0, hand.pixel(x, y)))
    assert len(bench.session.plan.patches) == 3
    assert bench.session.piece is not None
    assert len(bench.session.piece.outline) == 3


def test_two_fingers_pan_and_zoom_and_leave_the_plan_alone(
    bench: Bench, hand: Hand, fingers: Fingers
) -> None:
    plan, fit, view = bench.session.plan, bench.session.fit, bench.canvas.view
    one, other = hand.pixel(3, 5), hand.pixel(3, 5) + QPoint(100, 0)
    fingers.press((0, one))
    fingers.move((0, one + QPoint(-20, 0)))
    assert bench.session.fit is not fit, "so far it was a drag"
    fingers.press((1, other))
    assert bench.session.fit is fit, "the second finger takes it back"
    start = one + QPoint(-20, 0)
    held = bench.canvas.view.to_cloth(((start.x() + other.x()) / 2, (start.y() + other.y()) / 2))
    fingers.move((0, start + QPoint(30, 40)), (1, other + QPoint(30, 40)))
    assert bench.canvas.view.scale == pytest.approx(view.scale)
    assert bench.canvas.view.point_to_screen((0, 0)) == pytest.approx(
        view.panned(30, 40).point_to_screen((0, 0))
    )
    # Twice as far apart, about the same middle: twice as large, and the cloth stays under it.
    middle = (start + other) / 2 + QPoint(30, 40)
    fingers.move((0, middle - QPoint(120, 0)), (1, middle + QPoint(120, 0)))
    assert bench.canvas.view.scale == pytest.approx(2 * view.scale)
    assert bench.canvas.view.to_cloth((middle.x(), middle.y())) == pytest.approx(held, abs=0.5)
    fingers.release((1, middle + QPoint(120, 0)))
    fingers.move((0, middle - QPoint(60, 50)))
    fingers.release((0, middle - QPoint(60, 50)))
    assert bench.session.plan is plan
    assert bench.session.fit is fit


def test_a_second_finger_does_not_forget_the_draft(bench: Bench, hand: Hand, fingers: Fingers) -> None:
    bench.actions_.draw.trigger()
    for x, y in ((1, 1), (5, 1)):
        fingers.press((0, hand.pixel(x, y)))
        fingers.release((0, hand.pixel(x, y)))
    fingers.press((0, hand.pixel(5, 4)))
    fingers.press((1, hand.pixel(7, 4)))
    fingers.release((0, hand.pixel(5, 4)), (1, hand.pixel(7, 4)))
    assert len(bench.modes["draw"].corners) == 2  # type: ignore[attr-defined]


def test_one_finger_beside_the_patch_pans(bench: Bench, fingers: Fingers) -> None:
    view = bench.canvas.view
    fingers.press((0, QPoint(20, 300)))
    fingers.move((0, QPoint(60, 330)))
    fingers.release((0, QPoint(60, 330)))
    assert bench.canvas.view.point_to_screen((0, 0)) == pytest.approx(
        view.panned(40, 30).point_to_screen((0, 0))
    )
