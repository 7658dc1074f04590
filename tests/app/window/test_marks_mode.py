"""Marks mode on the real bench: real mouse and key events, menu, status line, and what is painted."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QToolButton

from app.sketch.modes.overlay import HandleKind
from app.sketch.palette import Role
from app.window.main_window import Bench
from app.window.message_bar import MessageBar
from geometry import Settings
from geometry.marks import Mark, MarkKind
from tests.app.window.conftest import CTRL, INCH, LEFT, PLAIN, Hand

TOP = 0.25
"""in: y of the edge of side A."""


def settings(bench: Bench) -> Settings:
    piece = bench.session.piece
    assert piece is not None
    return piece.settings


def marks(bench: Bench) -> dict[str, Mark]:
    fit = bench.session.fit
    assert fit is not None
    return {mark.name: mark for fan in fit.fans for mark in fan.marks}


def hover(hand: Hand, x: float, y: float) -> None:
    """The hand over the cloth, no button down."""
    pixel = hand.pixel(x, y)
    where, globally = QPointF(pixel), QPointF(hand.canvas.mapToGlobal(pixel))
    none = Qt.MouseButton.NoButton
    QApplication.sendEvent(
        hand.canvas, QMouseEvent(QEvent.Type.MouseMove, where, globally, none, none, PLAIN)
    )


def picture(bench: Bench) -> QImage:
    bench.canvas.rest._timer.stop()
    return bench.canvas.grab().toImage()


def count(image: QImage, colour: str, middle: QPoint, reach: int = 12) -> int:
    wanted = QColor(colour).rgb()
    return sum(
        image.pixel(x, y) == wanted
        for x in range(middle.x() - reach, middle.x() + reach + 1)
        for y in range(middle.y() - reach, middle.y() + reach + 1)
    )


@pytest.fixture
def marking(bench: Bench) -> Bench:
    bench.actions_.marks.trigger()
    return bench


def test_the_mode_has_a_button_a_key_and_a_hint(bench: Bench) -> None:
    QTest.keyClick(bench, Qt.Key.Key_4, CTRL)
    assert bench.canvas.mode is bench.modes["marks"]
    assert bench.actions_.marks.isChecked()
    assert bench.status.hint.text().startswith("Drag a mark. Click the edge to add one")
    button = bench.toolbar.widgetForAction(bench.actions_.marks)
    assert isinstance(button, QToolButton)
    assert button.isVisible()
    assert button.accessibleName() == "Marks"
    template = bench.toolbar.widgetForAction(bench.actions_.template)
    assert template.isVisible(), "the bar has room for all its buttons"
    assert bench.canvas.hasFocus()


def test_dragging_a_mark_refits_at_every_move_and_is_one_step(marking: Bench, hand: Hand) -> None:
    fits = []
    before = settings(marking)
    marking.session.fit_changed.connect(lambda: fits.append(marking.session.fit))
    hover(hand, 4, TOP)
    hand.press(4, TOP)
    for x in (3.7, 3.3, 3.02):
        hand.move(x, 0.6)
    assert len({id(fit) for fit in fits}) == 3
    assert settings(marking) == before
    hand.release(3.02, 0.6)
    assert marks(marking)["A1"].kind is MarkKind.OWN
    assert marks(marking)["A1"].from_start == pytest.approx(3 * INCH, abs=1e-9)
    assert marking.session.history.undo_name == "Move mark"
    assert marking.actions_.undo.text() == "&Undo – Move mark"
    marking.actions_.undo.trigger()
    assert settings(marking) == before
    assert marking.session.history.undo_name is None


def test_esc_in_the_middle_of_a_drag_leaves_everything_as_it_was(marking: Bench, hand: Hand) -> None:
    plan, fit = marking.session.plan, marking.session.fit
    hand.press(4, TOP)
    hand.move(3, TOP)
    assert marking.session.fit is not fit
    hand.key(Qt.Key.Key_Escape)
    hand.move(2, TOP)
    hand.release(2, TOP)
    assert marking.session.plan is plan
    assert marking.session.fit is fit
    assert marking.session.history.undo_name is None
    assert marking.session.history.is_clean


@pytest.mark.parametrize(("keys", "snaps"), [(PLAIN, True), (CTRL, False)])
def test_ctrl_turns_snapping_off(marking: Bench, hand: Hand, keys: Qt.KeyboardModifier, snaps: bool) -> None:
    hand.press(4, TOP)
    hand.move(3.4, TOP, keys)
    end = hand.at(hand.move(3.06, TOP, keys))
    hand.release(3.06, TOP, keys)
    aim = round(end[0] / INCH * 8) / 8 * INCH if snaps else end[0]
    assert marks(marking)["A1"].from_start == pytest.approx(aim, abs=1e-9)
    assert abs(end[0] - round(end[0] / INCH * 8) / 8 * INCH) > 0.2, "the pixel lies between two eighths"


def test_a_click_on_the_edge_adds_and_the_remove_handle_takes_away(marking: Bench, hand: Hand) -> None:
    hand.click(2, TOP + 0.05)
    assert marks(marking)["A1"].from_start == pytest.approx(2 * INCH, abs=1e-9)
    assert marking.session.history.undo_name == "Add mark"
    overlay = marking.canvas.mode.overlay(marking.canvas.view.scale)
    (handle,) = (each for each in overlay.handles if each.kind is HandleKind.REMOVE)
    hand.click(handle.at[0] / INCH, handle.at[1] / INCH)
    assert settings(marking) == Settings()
    assert marking.session.history.undo_name == "Remove mark"


def test_away_from_the_edge_the_view_is_dragged(marking: Bench, hand: Hand) -> None:
    before, view = marking.session.plan, marking.canvas.view
    hand.press(4, 4)
    hand.move(5, 4)
    hand.release(5, 4)
    assert marking.session.plan is before
    assert marking.canvas.view.centre[0] < view.centre[0]


def test_a_number_and_enter_divide_the_side_under_the_hand_and_0_is_the_way_back(
    marking: Bench, hand: Hand
) -> None:
    hover(hand, 7.75, 3)
    hand.type("12")
    hand.key(Qt.Key.Key_Return)
    assert settings(marking).side_spans == (("B", 12),)
    assert marking.session.history.undo_name == "Divide side B"
    hover(hand, 7.75, 2.9)
    hand.type("0")
    hand.key(Qt.Key.Key_Enter)
    assert settings(marking) == Settings()
    hover(hand, 7.75, 3)
    hand.type("+")
    assert settings(marking).side_spans == (("B", 3),)
    hand.type("--")
    assert settings(marking).side_spans == (("B", 1),)


def test_a_typed_length_is_the_exact_distance_from_the_corner_before(marking: Bench, hand: Hand) -> None:
    hand.click(4, TOP)
    hand.type("2 ⅜")
    hand.key(Qt.Key.Key_Return)
    assert marks(marking)["A1"].from_start == pytest.approx(2.375 * INCH, abs=1e-9)
    hand.press(2.375, TOP)
    hand.move(3, TOP)
    hand.type("5.3")
    hand.key(Qt.Key.Key_Return)
    assert not marking.session.in_gesture
    hand.release(3, TOP)
    assert marks(marking)["A1"].from_start == pytest.approx(5.3 * INCH, abs=1e-9)
    marking.actions_.undo.trigger()
    assert marks(marking)["A1"].from_start == pytest.approx(2.375 * INCH, abs=1e-9)


def test_undo_takes_back_a_typed_digit_before_a_step(marking: Bench, hand: Hand) -> None:
    hand.click(2, TOP)
    hand.type("53")
    assert marking.actions_.undo.isEnabled()
    marking.actions_.undo.trigger()
    marking.actions_.undo.trigger()
    assert marks(marking)["A1"].kind is MarkKind.OWN
    marking.actions_.undo.trigger()
    assert settings(marking) == Settings()


def test_all_by_keys(marking: Bench, hand: Hand) -> None:
    hand.key(Qt.Key.Key_PageDown)  # corner DA
    hand.key(Qt.Key.Key_PageDown)  # A1
    hand.key(Qt.Key.Key_Right)
    hand.key(Qt.Key.Key_Right, CTRL)
    assert marks(marking)["A1"].from_start == pytest.approx((4 + 3 / 16) * INCH, abs=1e-9)
    hand.key(Qt.Key.Key_Insert)
    assert "A2" in marks(marking)
    hand.key(Qt.Key.Key_Delete)
    assert "A2" not in marks(marking)
    hand.key(Qt.Key.Key_PageUp)
    hand.key(Qt.Key.Key_PageUp)  # the last but one: C1, D1 before corner DA
    hand.key(Qt.Key.Key_Backspace)
    assert len(marks(marking)) == 7
    for name in ("Remove mark", "Remove mark", "Add mark", "Move mark"):
        assert marking.session.history.undo_name == name
        marking.actions_.undo.trigger()
    assert settings(marking) == Settings()
    hand.key(Qt.Key.Key_Escape)
    assert marking.actions_.anchor.isChecked(), "with nothing chosen, Esc goes back to the anchor"


def test_all_in_the_menu_and_only_in_this_mode(bench: Bench, hand: Hand) -> None:
    act = bench.actions_
    assert not act.edge.isEnabled()
    act.marks.trigger()
    assert act.edge.isEnabled()
    letters = [text[text.index("&") + 1].lower() for text in (a.text() for a in act.edge.actions()) if text]
    assert len(letters) == len(set(letters)) == 8
    act.next_mark.trigger()
    act.next_mark.trigger()
    act.add_mark.trigger()
    assert "A2" in marks(bench)
    act.remove_mark.trigger()
    assert settings(bench) == Settings()
    act.previous_mark.trigger()
    act.more_spans.trigger()
    act.more_spans.trigger()
    act.fewer_spans.trigger()
    assert settings(bench).side_spans == (("D", 3),)
    act.usual_spans.trigger()
    assert settings(bench) == Settings()
    hand.click(3, TOP)
    act.usual_marks.trigger()
    assert settings(bench) == Settings()
    assert bench.session.history.undo_name == "Marks as usual"
    act.anchor.trigger()
    assert not act.edge.isEnabled()


def test_a_corner_that_is_pulled_at_stays_and_the_message_says_so(marking: Bench, hand: Hand) -> None:
    said: list[str] = []
    marking.session.refused.connect(said.append)
    hand.press(0.25, TOP)
    hand.move(1, 1)
    hand.release(1, 1)
    assert said == ["A corner stays where the patch has it: Shape moves the patch's corner"]
    assert marking.findChild(MessageBar).isVisible()
    assert settings(marking) == Settings()


def test_marks_are_seen_and_the_held_one_is_filled(marking: Bench, hand: Hand) -> None:
    palette = marking._look.palette
    ink, focus = palette[Role.MARK], palette[Role.FOCUS]
    a1, b1 = hand.pixel(4, TOP), hand.pixel(7.75, 4)
    hover(hand, 2, 2)
    idle = picture(marking)
    assert count(idle, focus, a1) == 0
    marking.actions_.anchor.trigger()
    plain = picture(marking)
    marking.actions_.marks.trigger()
    for place, inward in ((a1, QPoint(0, 7)), (b1, QPoint(-7, 0))):  # on the other side is the mark's name
        assert count(plain, ink, place + inward, 3) == 0
        assert count(idle, ink, place + inward, 3) > 0, "a ring around each mark's sign"
    hover(hand, 4, TOP)
    hot = count(picture(marking), focus, a1)
    assert hot > 20
    hand.press(4, TOP)
    held = count(picture(marking), focus, a1)
    assert held > 2 * hot
    hand.release(4, TOP)
    assert count(picture(marking), focus, a1) > 2 * hot, "and so is the chosen one"


def test_the_span_under_the_hand_is_pointed_out(marking: Bench, hand: Hand) -> None:
    focus = marking._look.palette[Role.FOCUS]
    place = hand.pixel(1, TOP)
    hover(hand, 3, TOP)
    assert count(picture(marking), focus, place, 6) >= 12
    assert count(picture(marking), focus, hand.pixel(6, TOP), 6) == 0


def test_the_sentence_about_the_anchor_is_kept_for_the_anchor(bench: Bench, hand: Hand) -> None:
    bench.canvas.sentence = "Drag this point"
    ink = bench._look.palette[Role.ANCHOR]
    at = hand.pixel(3, 5) + QPoint(22, 22)
    assert count(picture(bench), ink, at, 20) > 10
    bench.actions_.marks.trigger()
    assert count(picture(bench), ink, at, 20) == 0


def test_the_middle_and_the_right_button_are_not_needed_and_do_no_mark(marking: Bench, hand: Hand) -> None:
    for button in (Qt.MouseButton.RightButton, Qt.MouseButton.MiddleButton):
        QTest.mouseClick(marking.canvas, button, PLAIN, hand.pixel(2, TOP))
    assert settings(marking) == Settings()
    QTest.mouseClick(marking.canvas, LEFT, PLAIN, hand.pixel(2, TOP))
    assert settings(marking) != Settings()


def test_another_patch_has_its_own_marks(marking: Bench, hand: Hand) -> None:
    hand.click(2, TOP)
    marking.actions_.next_patch.trigger()
    assert marking.canvas.mode is marking.modes["marks"]
    hover(hand, 5, TOP)
    label = marking.canvas.mode.overlay(marking.canvas.view.scale).labels[0].text
    assert label.startswith("mark A1\n5 in from corner FA")
