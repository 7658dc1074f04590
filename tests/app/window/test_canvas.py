"""The hand on the real canvas: real mouse, wheel and key events, and what they did to the plan."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.sketch.modes.mode import Mode
from app.sketch.modes.overlay import HandleKind
from app.sketch.palette import Role
from app.window.main_window import Bench
from app.window.rest import REST_MS
from tests.app.window.conftest import CTRL, INCH, LEFT, PLAIN, Hand

SHIFT = Qt.KeyboardModifier.ShiftModifier


def anchor(bench: Bench) -> tuple[float, float]:
    piece = bench.session.piece
    assert piece is not None
    return piece.anchors[0]


# --- anchor -----------------------------------------------------------------------------------------


def test_dragging_the_anchor_refits_at_every_move_and_is_one_step(bench: Bench, hand: Hand) -> None:
    fits = []
    bench.session.fit_changed.connect(lambda: fits.append(bench.session.fit))
    before = anchor(bench)
    start = hand.press(3, 5)
    grip = (before[0] - hand.at(start)[0], before[1] - hand.at(start)[1])
    for x in (3.4, 4.2, 5.1, 6.3):
        end = hand.move(x, 2.3, CTRL)
    hand.release(6.3, 2.3, CTRL)
    assert len({id(fit) for fit in fits}) == 5, "four moves, and the fit of the plan"
    assert all(fit.fans[0].wedges for fit in fits)
    at = hand.at(end)
    assert anchor(bench) == pytest.approx((at[0] + grip[0], at[1] + grip[1]), abs=1e-9)
    assert bench.session.history.undo_name == "Move anchor"
    bench.actions_.undo.trigger()
    assert anchor(bench) == before
    assert bench.session.history.undo_name is None


def test_esc_in_the_middle_of_a_drag_leaves_everything_as_it_was(bench: Bench, hand: Hand) -> None:
    plan, fit = bench.session.plan, bench.session.fit
    hand.press(3, 5)
    hand.move(6, 2)
    assert bench.session.fit is not fit
    hand.key(Qt.Key.Key_Escape)
    hand.move(6.5, 2)
    hand.release(6.5, 2)
    assert bench.session.plan is plan
    assert bench.session.fit is fit
    assert bench.session.history.undo_name is None
    assert bench.session.history.is_clean


def test_undo_in_the_middle_of_a_drag_only_ends_the_drag(bench: Bench, hand: Hand) -> None:
    plan = bench.session.plan
    hand.press(3, 5)
    hand.move(6, 2)
    bench.actions_.undo.trigger()
    hand.release(6, 2)
    assert bench.session.plan is plan


def test_the_anchor_is_caught_by_the_middle_unless_ctrl_is_held(bench: Bench, hand: Hand) -> None:
    hand.press(3, 5)
    hand.move(4.07, 3.95)
    hand.release(4.07, 3.95)
    assert anchor(bench) == pytest.approx((4 * INCH, 4 * INCH))
    hand.press(4, 4)
    hand.move(4.3, 4.3, CTRL)
    end = hand.move(4.07, 3.95, CTRL)
    hand.release(4.07, 3.95, CTRL)
    assert anchor(bench) != pytest.approx((4 * INCH, 4 * INCH))
    assert anchor(bench) == pytest.approx(hand.at(end), abs=1.0)


def test_arrow_keys_move_it_by_eighths_and_sixteenths(bench: Bench, hand: Hand) -> None:
    hand.key(Qt.Key.Key_Right)
    hand.key(Qt.Key.Key_Down, CTRL)
    assert anchor(bench) == pytest.approx((3.125 * INCH, 5.0625 * INCH))


def test_a_click_moves_it_and_outside_the_patch_the_view_is_dragged(bench: Bench, hand: Hand) -> None:
    hand.click(2.2, 2.4)
    assert anchor(bench) == pytest.approx((2.2 * INCH, 2.4 * INCH), abs=0.5)
    where, before = anchor(bench), bench.canvas.view
    start = QPoint(10, 300)
    QTest.mousePress(bench.canvas, LEFT, PLAIN, start)
    QTest.mouseMove(bench.canvas, start + QPoint(40, 30))
    QTest.mouseRelease(bench.canvas, LEFT, PLAIN, start + QPoint(40, 30))
    assert anchor(bench) == where
    moved = bench.canvas.view.point_to_screen((0, 0))
    assert moved == pytest.approx(before.panned(40, 30).point_to_screen((0, 0)))


def test_the_sentence_goes_when_the_anchor_is_taken(bench: Bench, hand: Hand) -> None:
    bench.canvas.sentence = "Drag this point"
    hand.press(3, 5)
    hand.move(4, 5)
    assert bench.canvas.sentence == ""
    hand.release(4, 5)


# --- draw -------------------------------------------------------------------------------------------


def corners_of(mode: Mode) -> int:
    return sum(handle.kind is HandleKind.CORNER for handle in mode.overlay(1.0).handles)


def test_a_patch_drawn_with_typed_lengths_is_exact(bench: Bench, hand: Hand) -> None:
    bench.actions_.draw.trigger()
    hand.click(1, 1)
    for (x, y), length in (((3, 1), "4 3/8"), ((5.4, 3), "2 1/2"), ((3, 3.5), "4⅜")):
        hand.move(x, y)
        hand.type(length)
        hand.key(Qt.Key.Key_Return)
    hand.key(Qt.Key.Key_Return)
    piece = bench.session.piece
    assert piece is not None
    assert len(bench.session.plan.patches) == 3
    sides = [
        ((x1 - x0) / INCH, (y1 - y0) / INCH)
        for (x0, y0), (x1, y1) in zip(piece.outline, piece.outline[1:], strict=False)
    ]
    for got, want in zip(sides, [(4.375, 0), (0, 2.5), (-4.375, 0)], strict=True):
        assert got == pytest.approx(want, abs=1e-12)
    assert bench.actions_.anchor.isChecked()
    assert bench.session.history.undo_name == "Draw patch"
    bench.actions_.undo.trigger()
    assert len(bench.session.plan.patches) == 2


def test_drawing_closes_on_the_first_corner_and_by_a_double_click(bench: Bench, hand: Hand) -> None:
    for close in ("first", "double"):
        bench.actions_.draw.trigger()
        corners = [(1.0, 1.0), (5.0, 1.0), (5.0, 4.0)]
        for corner in corners:
            hand.click(*corner)
        if close == "first":
            hand.click(1.03, 1.03)
        else:
            QTest.mouseDClick(bench.canvas, LEFT, PLAIN, hand.pixel(5, 4))
        piece = bench.session.piece
        assert piece is not None
        assert len(piece.outline) == 3
        bench.canvas.fit_view()
    assert len(bench.session.plan.patches) == 4


def test_backspace_undo_and_esc_while_drawing(bench: Bench, hand: Hand) -> None:
    plan = bench.session.plan
    bench.actions_.draw.trigger()
    mode = bench.modes["draw"]
    for corner in ((1, 1), (5, 1), (5, 4), (2, 4)):
        hand.click(*corner)
    hand.key(Qt.Key.Key_Backspace)
    assert corners_of(mode) == 3
    bench.actions_.undo.trigger()
    assert corners_of(mode) == 2
    hand.key(Qt.Key.Key_Escape)
    assert corners_of(mode) == 0
    hand.key(Qt.Key.Key_Escape)
    assert bench.actions_.anchor.isChecked()
    assert bench.session.plan is plan


def test_a_draft_waits_while_another_patch_is_looked_at(bench: Bench, hand: Hand) -> None:
    bench.actions_.draw.trigger()
    hand.click(1, 1)
    hand.click(5, 1)
    bench.session.choose(1)
    assert bench.actions_.anchor.isChecked()
    bench.actions_.draw.trigger()
    assert corners_of(bench.modes["draw"]) == 2


def test_a_wrong_length_is_told_beside_the_pointer(bench: Bench, hand: Hand) -> None:
    bench.actions_.draw.trigger()
    hand.click(1, 1)
    hand.move(4, 1)
    hand.type("1/0")
    hand.key(Qt.Key.Key_Return)
    label = bench.modes["draw"].overlay(1.0).labels[0]
    assert label.problem
    assert "1/0" in label.text
    assert bench.message.text == ""


# --- shape ------------------------------------------------------------------------------------------


def test_dragging_a_corner_and_taking_it_back(bench: Bench, hand: Hand) -> None:
    bench.actions_.shape.trigger()
    outline = bench.session.plan.patches[0].outline
    hand.press(8, 8)
    hand.move(9, 8.5, CTRL)
    assert bench.session.fit is not None
    assert bench.session.fit.patch.polygon.area > (8 * INCH) ** 2
    assert bench.session.plan.patches[0].outline == outline
    hand.release(9, 8.5, CTRL)
    x, y = bench.session.plan.patches[0].outline[2]
    assert (x / INCH, y / INCH) == pytest.approx((9, 8.5), abs=0.02)
    bench.actions_.undo.trigger()
    assert bench.session.plan.patches[0].outline == outline


def test_crossing_sides_are_refused_with_a_sentence(bench: Bench, hand: Hand) -> None:
    bench.actions_.shape.trigger()
    plan = bench.session.plan
    hand.press(8, 8)
    hand.move(4, -1, CTRL)
    assert bench.canvas.mode.overlay(1.0).drafts[0].refused
    assert colour_seen(bench, Role.PROBLEM)
    hand.release(4, -1, CTRL)
    assert bench.session.plan is plan
    assert "cross" in bench.message.text
    hand.press(4, 4)
    assert bench.message.text == "", "what was said of the last thing is old"
    hand.release(4, 4)


def test_corners_come_and_go_by_double_click_and_delete(bench: Bench, hand: Hand) -> None:
    bench.actions_.shape.trigger()
    QTest.mouseDClick(bench.canvas, LEFT, PLAIN, hand.pixel(5, 0))
    assert len(bench.session.plan.patches[0].outline) == 5
    hand.key(Qt.Key.Key_Delete)
    assert len(bench.session.plan.patches[0].outline) == 4
    assert bench.session.history.undo_name == "Remove corner"


def test_shaping_by_the_menu_alone(bench: Bench) -> None:
    act = bench.actions_
    act.shape.trigger()
    act.next_corner.trigger()
    act.add_corner.trigger()
    assert len(bench.session.plan.patches[0].outline) == 5
    act.remove_corner.trigger()
    assert len(bench.session.plan.patches[0].outline) == 4
    act.anchor.trigger()
    assert not act.remove_corner.isEnabled()


# --- the view ---------------------------------------------------------------------------------------


def wheel(bench: Bench, dx: int, dy: int, at: QPoint, keys: Qt.KeyboardModifier = PLAIN) -> None:
    event = QWheelEvent(
        QPointF(at), QPointF(bench.canvas.mapToGlobal(at)), QPoint(), QPoint(dx, dy),
        Qt.MouseButton.NoButton, keys, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(bench.canvas, event)


def test_the_wheel_pans_and_with_ctrl_zooms_to_the_pointer(bench: Bench) -> None:
    view = bench.canvas.view
    wheel(bench, 0, -120, QPoint(200, 150))
    assert bench.canvas.view.point_to_screen((0, 0)) == pytest.approx(
        view.panned(0, -48).point_to_screen((0, 0))
    )
    view = bench.canvas.view
    wheel(bench, 0, -120, QPoint(200, 150), SHIFT)
    assert bench.canvas.view.point_to_screen((0, 0)) == pytest.approx(
        view.panned(-48, 0).point_to_screen((0, 0))
    )
    under = bench.canvas.view.to_cloth((200, 150))
    wheel(bench, 0, 240, QPoint(200, 150), CTRL)
    assert bench.canvas.view.scale == pytest.approx(view.scale * 1.25**2)
    assert bench.canvas.view.to_cloth((200, 150)) == pytest.approx(under)


@pytest.mark.parametrize("how", ["middle", "space"])
def test_panning_by_hand_leaves_the_plan_alone(bench: Bench, hand: Hand, how: str) -> None:
    plan, view = bench.session.plan, bench.canvas.view
    button = Qt.MouseButton.MiddleButton if how == "middle" else LEFT
    start = hand.pixel(3, 5)
    if how == "space":
        QTest.keyPress(bench.canvas, Qt.Key.Key_Space)
    QTest.mousePress(bench.canvas, button, PLAIN, start)
    QTest.mouseMove(bench.canvas, start + QPoint(25, -15))
    QTest.mouseRelease(bench.canvas, button, PLAIN, start + QPoint(25, -15))
    if how == "space":
        QTest.keyRelease(bench.canvas, Qt.Key.Key_Space)
    assert bench.canvas.view.point_to_screen((0, 0)) == pytest.approx(
        view.panned(25, -15).point_to_screen((0, 0))
    )
    assert bench.session.plan is plan


def test_pan_zoom_and_fit_by_keys(bench: Bench, hand: Hand) -> None:
    view = bench.canvas.view
    hand.key(Qt.Key.Key_Left, SHIFT)
    assert bench.canvas.view == view.panned(48, 0)
    bench.actions_.zoom_in.trigger()
    assert bench.canvas.view.scale == pytest.approx(view.scale * 1.25)
    hand.key(Qt.Key.Key_Home)
    assert bench.canvas.view.scale == pytest.approx(view.scale)
    assert bench.canvas.view.centre == pytest.approx((4 * INCH, 4 * INCH))


def test_the_patch_stays_whole_when_the_window_changes(bench: Bench, qtbot: QtBot) -> None:
    bench.resize(1000, 900)
    QApplication.processEvents()
    view = bench.canvas.view
    left, top = view.point_to_screen((0, 0))
    right, bottom = view.point_to_screen((8 * INCH, 8 * INCH))
    assert 0 < left < right < bench.canvas.width()
    assert 0 < top < bottom < bench.canvas.height()
    assert (left + right) / 2 == pytest.approx(bench.canvas.width() / 2)


# --- the picture ------------------------------------------------------------------------------------


def colour_seen(bench: Bench, role: Role) -> bool:
    """Whether any pixel of the canvas has exactly the colour of ``role``."""
    wanted = QColor(bench._look.palette[role])
    return bool((pixels(bench) == (wanted.blue(), wanted.green(), wanted.red())).all(axis=2).any())


def pixels(bench: Bench) -> np.ndarray:
    """(height, width, 3): blue, green and red of the canvas."""
    image = bench.canvas.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    return np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.width(), 4)[:, :, :3]


def test_lines_are_thin_while_the_hand_moves_and_fine_when_it_rests(
    bench: Bench, hand: Hand, qtbot: QtBot
) -> None:
    """At rest there is more ink: stitches are 1.5 px wide, moving ones a hairline."""

    def ink() -> int:
        stitch = QColor(bench._look.palette[Role.STITCH])
        apart = np.abs(pixels(bench).astype(int) - (stitch.blue(), stitch.green(), stitch.red()))
        return int((apart < 60).all(axis=2).sum())

    hand.press(3, 5)
    hand.move(3.5, 5)
    hand.move(4.5, 3.6, CTRL)
    moving = ink()
    assert not bench.canvas.rest.resting
    qtbot.waitSignal(bench.canvas.rest.rested, timeout=20 * REST_MS).wait()
    assert bench.canvas.rest.resting
    assert ink() > 1.25 * moving
    hand.release(4.5, 3.6, CTRL)


def test_a_short_side_is_drawn_as_a_problem_and_heals(bench: Bench, hand: Hand) -> None:
    bench.session.choose(1)
    assert colour_seen(bench, Role.PROBLEM), "a third of the L is out of sight"
    hand.click(2, 2)
    assert bench.session.fit is not None
    assert bench.session.fit.fits
    assert not colour_seen(bench, Role.PROBLEM)
