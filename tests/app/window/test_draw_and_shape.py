"""Draw and Shape on the bench: real mouse and key events, and what came of them (design page, section 8)."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton

from app.plan.model import PlanPatch
from app.sketch.modes.overlay import HandleKind, Overlay
from app.sketch.modes.sides import bow_of, length_of, run_of, sides_of
from app.sketch.snapping import Caught
from app.window.main_window import Bench
from app.window.patch_dialogs import RotateDialog, ScaleDialog
from tests.app.window.conftest import CTRL, INCH, LEFT, PLAIN, Hand


def piece(bench: Bench) -> PlanPatch:
    assert bench.session.piece is not None
    return bench.session.piece


def outline(bench: Bench) -> list[tuple[float, float]]:
    """In inches."""
    return [(x / INCH, y / INCH) for x, y in piece(bench).outline]


def bows(bench: Bench) -> list[float]:
    """Of all sides of the outline, inches."""
    ring = piece(bench).patch().outline
    return [bow_of(run_of(ring, side)) / INCH for side in sides_of(ring)]


def overlay(bench: Bench) -> Overlay:
    return bench.canvas.mode.overlay(bench.canvas.view.scale)


def words(bench: Bench) -> str:
    return "\n".join(label.text for label in overlay(bench).labels)


def caught(bench: Bench) -> Caught | None:
    snap = overlay(bench).snap
    return None if snap is None else snap.what


def drag(hand: Hand, start: tuple[float, float], *places: tuple[float, float], free: bool = False) -> None:
    hand.move(*start)
    hand.press(*start)
    for place in places:
        hand.move(*place, CTRL if free else PLAIN)
    hand.release(*places[-1], CTRL if free else PLAIN)


# --- draw -------------------------------------------------------------------------------------------


def test_length_and_turn_ride_beside_the_pointer(bench: Bench, hand: Hand) -> None:
    bench.actions_.draw.trigger()
    hand.click(1, 1)
    end = hand.move(4, 1)
    assert words(bench) == "3 in"
    assert overlay(bench).labels[0].at == pytest.approx(hand.at(end), abs=INCH / 8)
    hand.click(4, 1)
    hand.move(4, 3.5)
    assert words(bench) == "2 1/2 in, turn 90°"


@pytest.mark.parametrize(
    ("typed", "inches"),
    [
        ("4 3/8", 4.375), ("4-3/8", 4.375), ("4⅜", 4.375), ('3/8"', 0.375), ("2' 6 1/2", 30.5),
        ("11 cm", 11 / 2.54), ("4.375", 4.375), ("4,375", 4.375),
    ],
)  # fmt: skip
def test_typed_lengths_are_exact(bench: Bench, hand: Hand, typed: str, inches: float) -> None:
    bench.actions_.draw.trigger()
    hand.click(1, 1)
    hand.move(3, 1)
    hand.type(typed)
    assert typed in words(bench)
    hand.key(Qt.Key.Key_Return)
    (x0, y0), (x1, y1) = bench.modes["draw"].corners  # type: ignore[attr-defined]
    assert (x1 - x0) / INCH == pytest.approx(inches, abs=1e-12)
    assert y1 == y0


@pytest.mark.parametrize("typed", ["1/0", "4 3", "-2"])
def test_what_is_no_length_is_refused_beside_the_pointer(bench: Bench, hand: Hand, typed: str) -> None:
    bench.actions_.draw.trigger()
    hand.click(1, 1)
    hand.move(3, 1)
    hand.type(typed)
    hand.key(Qt.Key.Key_Return)
    assert len(bench.modes["draw"].corners) == 1  # type: ignore[attr-defined]
    (label,) = overlay(bench).labels
    assert label.problem
    assert typed in label.text
    assert len(label.text.split("\n")) >= 3, "what, and what to do"


def test_snapping_shows_what_it_caught_and_ctrl_turns_it_off(bench: Bench, hand: Hand) -> None:
    bench.actions_.draw.trigger()
    hand.move(7.97, 0.03)
    assert caught(bench) is Caught.CORNER, "of the patch that lies there"
    hand.move(3.303, 7.95)
    assert caught(bench) is Caught.SIDE
    hand.move(1.02, 1.03)
    assert caught(bench) is Caught.GRID
    hand.click(1, 1)
    hand.click(5, 3)
    hand.move(4.04, 5.06)  # square to a side that goes 4 along and 2 down
    assert caught(bench) is Caught.SQUARE
    hand.move(1.03, 6.13)
    assert caught(bench) is Caught.IN_LINE
    (guide, *_) = overlay(bench).snap.guides  # type: ignore[union-attr]
    assert guide[0] == pytest.approx((INCH, INCH)), "a line from the corner that caught it"
    end = hand.move(1.03, 6.13, CTRL)
    assert caught(bench) is None
    assert overlay(bench).snap.at == pytest.approx(hand.at(end))  # type: ignore[union-attr]


def test_enter_closes_too(bench: Bench, hand: Hand) -> None:
    bench.actions_.draw.trigger()
    for corner in ((1, 1), (5, 1), (5, 4)):
        hand.click(*corner)
    hand.key(Qt.Key.Key_Return)
    assert len(bench.session.plan.patches) == 3
    assert len(outline(bench)) == 3


def test_a_drawn_sides_middle_is_pulled_into_a_curve(bench: Bench, hand: Hand) -> None:
    bench.actions_.draw.trigger()
    hand.click(1, 3)
    hand.click(5, 3)
    drag(hand, (3, 3), (3, 2.6), (3, 2.02))
    assert "bow 1 in" in words(bench)
    assert len(bench.modes["draw"].corners) == 2, "no corner comes from it"  # type: ignore[attr-defined]
    hand.click(5, 6)
    hand.click(1, 6)
    hand.key(Qt.Key.Key_Return)
    assert bows(bench) == pytest.approx([1, 0, 0, 0], abs=1e-6)
    # A cap of a circle, by the formula of the circular segment.
    radius, half = (4 + 1) / 2, math.asin(2 / 2.5)
    cap = radius**2 * (half - math.sin(2 * half) / 2)
    assert piece(bench).patch().polygon.area / INCH**2 == pytest.approx(12 + cap, rel=1e-3)
    bench.actions_.undo.trigger()
    assert len(bench.session.plan.patches) == 2


def test_a_bow_is_typed_and_esc_in_the_middle_of_a_pull_takes_it_back(bench: Bench, hand: Hand) -> None:
    plan = bench.session.plan
    bench.actions_.draw.trigger()
    hand.click(1, 3)
    hand.click(5, 3)
    hand.click(5, 6)
    mode = bench.modes["draw"]
    hand.move(3, 3)
    assert "straight" in words(bench)
    hand.type("3/4")
    hand.key(Qt.Key.Key_Return)
    assert mode._bows == pytest.approx((0.75 * INCH, 0.0))  # type: ignore[attr-defined]
    hand.move(3, 2.25)
    hand.press(3, 2.25)
    hand.move(3, 1.5)
    hand.key(Qt.Key.Key_Escape)
    hand.release(3, 1.5)
    assert mode._bows == pytest.approx((0.75 * INCH, 0.0))  # type: ignore[attr-defined]
    assert len(mode.corners) == 3  # type: ignore[attr-defined]
    assert bench.session.plan is plan
    assert bench.session.history.undo_name is None


def test_undo_in_the_middle_of_a_pull_takes_back_the_pull_alone(bench: Bench, hand: Hand) -> None:
    bench.actions_.draw.trigger()
    hand.click(1, 3)
    hand.click(5, 3)
    hand.move(3, 3)
    hand.press(3, 3)
    hand.move(3, 2)
    bench.actions_.undo.trigger()
    hand.release(3, 2)
    mode = bench.modes["draw"]
    assert (len(mode.corners), mode._bows) == (2, (0.0,))  # type: ignore[attr-defined]


def test_a_bow_by_keys_alone(bench: Bench, hand: Hand) -> None:
    """From the middle of what is shown, which is 4, 4: two corners, and back to the middle between them."""
    bench.actions_.draw.trigger()
    for presses in (0, 8):
        for _ in range(presses):
            hand.key(Qt.Key.Key_Right)
        hand.key(Qt.Key.Key_Insert)
    for _ in range(4):
        hand.key(Qt.Key.Key_Left)
    hand.type("1/2")
    hand.key(Qt.Key.Key_Return)
    assert bench.modes["draw"]._bows == pytest.approx((INCH / 2,))  # type: ignore[attr-defined]
    hand.key(Qt.Key.Key_Left)
    hand.type("1/0")
    assert not words(bench).startswith("bow"), "away from the middle it is a length again"


def test_a_curve_that_would_cross_goes_back(bench: Bench, hand: Hand) -> None:
    bench.actions_.draw.trigger()
    for corner in ((1, 1), (5, 1), (5, 3), (1.5, 3)):
        hand.click(*corner)
    drag(hand, (3.25, 3), (3.25, 2), (3.25, 0.5))
    assert bench.modes["draw"]._bows == (0.0, 0.0, 0.0)  # type: ignore[attr-defined]
    assert "cross" in bench.message.text


# --- shape: sides -----------------------------------------------------------------------------------


def test_a_side_is_pulled_parallel_in_one_step(bench: Bench, hand: Hand) -> None:
    bench.actions_.shape.trigger()
    before = outline(bench)
    hand.move(8, 2)
    hand.press(8, 2)
    hand.move(8.6, 2.3)
    hand.move(9.27, 2.4)
    assert "1 1/4 in out" in words(bench)
    assert "9 1/4 in" in words(bench), "the length of the sides beside it"
    assert outline(bench) == before
    hand.release(9.27, 2.4)
    assert outline(bench) == pytest.approx(np.array([(0, 0), (9.25, 0), (9.25, 8), (0, 8)]))
    assert bench.session.history.undo_name == "Pull side"
    bench.actions_.undo.trigger()
    assert outline(bench) == before
    assert bench.session.history.undo_name is None


@pytest.mark.parametrize("start", [(8.0, 2.0), (8.0, 4.0), (8.0, 8.0)], ids=["side", "middle", "corner"])
def test_esc_in_the_middle_of_any_shaping_leaves_everything(
    bench: Bench, hand: Hand, start: tuple[float, float]
) -> None:
    bench.actions_.shape.trigger()
    plan, fit = bench.session.plan, bench.session.fit
    hand.move(*start)
    hand.press(*start)
    hand.move(start[0] + 1, start[1] + 0.5)
    assert bench.session.fit is not fit
    hand.key(Qt.Key.Key_Escape)
    hand.move(start[0] + 1.5, start[1])
    hand.release(start[0] + 1.5, start[1])
    assert bench.session.plan is plan
    assert bench.session.fit is fit
    assert bench.session.history.undo_name is None
    assert bench.session.history.is_clean


def test_a_click_on_a_side_and_a_typed_length(bench: Bench, hand: Hand) -> None:
    bench.actions_.shape.trigger()
    hand.click(2, 0)
    assert words(bench) == "side A\n8 in\ntype its length, or pull"
    assert overlay(bench).spans, "the side is pointed out"
    hand.type("6 3/8")
    assert "length 6 3/8" in words(bench)
    hand.key(Qt.Key.Key_Return)
    assert outline(bench) == pytest.approx(np.array([(0, 0), (6.375, 0), (6.375, 8), (0, 8)]), abs=1e-12)
    assert bench.session.history.undo_name == "Change the side’s length"
    hand.type("5")
    hand.key(Qt.Key.Key_Return)
    assert outline(bench)[1] == pytest.approx((5, 0)), "the side stays chosen"


@pytest.mark.parametrize("typed", ["1/0", "4 3", "-2", "0"])
def test_a_length_that_cannot_be_is_told_at_the_side(bench: Bench, hand: Hand, typed: str) -> None:
    bench.actions_.shape.trigger()
    plan = bench.session.plan
    hand.click(2, 0)
    hand.type(typed)
    hand.key(Qt.Key.Key_Return)
    assert overlay(bench).labels[0].problem
    hand.key(Qt.Key.Key_Escape)
    assert not overlay(bench).labels[0].problem
    assert bench.session.plan is plan


def test_undo_takes_a_typed_digit_back_first(bench: Bench, hand: Hand) -> None:
    bench.actions_.shape.trigger()
    hand.click(2, 0)
    hand.type("65")
    bench.actions_.undo.trigger()
    hand.key(Qt.Key.Key_Return)
    assert outline(bench)[1] == pytest.approx((6, 0))


def test_a_middle_is_pulled_into_a_curve_and_its_bow_typed(bench: Bench, hand: Hand) -> None:
    bench.actions_.shape.trigger()
    drag(hand, (4, 0), (4, -0.5), (4, -1.02))
    assert bows(bench) == pytest.approx([1, 0, 0, 0], abs=1e-6)
    assert bench.session.history.undo_name == "Curve side"
    hand.type("1 1/2")
    assert "bow 1 1/2" in words(bench)
    hand.key(Qt.Key.Key_Return)
    assert bows(bench) == pytest.approx([1.5, 0, 0, 0], abs=1e-6)
    # A later pull takes hold of the curve where its middle now is; back on the chord it is straight.
    drag(hand, (4, -1.5), (4, -0.6), (4, -0.03))
    assert bows(bench) == [0, 0, 0, 0]
    assert len(outline(bench)) == 4
    for _ in range(3):
        bench.actions_.undo.trigger()
    assert bench.session.history.undo_name is None
    assert len(outline(bench)) == 4


def test_half_a_circle_catches_unless_ctrl_is_held(bench: Bench, hand: Hand) -> None:
    bench.actions_.shape.trigger()
    bench.canvas.zoom(-3)
    drag(hand, (4, 0), (4, -2), (4, -3.9))
    assert bows(bench)[0] == pytest.approx(4, abs=1e-9)
    bench.actions_.undo.trigger()
    drag(hand, (4, 0), (4, -2), (4, -3.9), free=True)
    assert bows(bench)[0] == pytest.approx(3.9, abs=0.05)
    assert bows(bench)[0] != pytest.approx(4, abs=1e-6)


def test_a_curve_across_the_patch_is_refused(bench: Bench, hand: Hand) -> None:
    bench.actions_.shape.trigger()
    plan = bench.session.plan
    drag(hand, (4, 0), (4, 5), (4, 8.5))
    assert bench.session.plan is plan
    assert "cross" in bench.message.text


def test_sides_by_keys_and_menu_alone(bench: Bench, hand: Hand) -> None:
    act = bench.actions_
    act.shape.trigger()
    act.next_corner.trigger()
    hand.type("7")  # the side that begins at the chosen corner
    hand.key(Qt.Key.Key_Return)
    assert outline(bench)[1] == pytest.approx((7, 0))
    act.next_side.trigger()
    act.next_side.trigger()
    hand.key(Qt.Key.Key_Right)
    assert outline(bench)[1:3] == pytest.approx(np.array([(7.125, 0), (7.125, 8)]))
    act.curve_side.trigger()
    hand.type("1/2")
    hand.key(Qt.Key.Key_Return)
    hand.key(Qt.Key.Key_Right, CTRL)
    assert bows(bench) == pytest.approx([0, 0.5625, 0, 0], abs=1e-6)
    act.anchor.trigger()
    assert not act.curve_side.isEnabled()


def test_every_side_that_is_long_enough_has_a_middle(bench: Bench) -> None:
    bench.actions_.shape.trigger()
    kinds = [handle.kind for handle in overlay(bench).handles]
    assert (kinds.count(HandleKind.CORNER), kinds.count(HandleKind.MIDDLE)) == (4, 4)
    for _ in range(5):
        bench.canvas.zoom(-2)
    kinds = [handle.kind for handle in overlay(bench).handles]
    assert kinds.count(HandleKind.MIDDLE) == 0


# --- shape: holes -----------------------------------------------------------------------------------


def cut(bench: Bench, hand: Hand, *corners: tuple[float, float]) -> None:
    bench.actions_.cut_hole.trigger()
    for corner in corners:
        hand.click(*corner)
    hand.key(Qt.Key.Key_Return)


def test_a_hole_is_cut_and_removed(bench: Bench, hand: Hand) -> None:
    before = bench.session.plan
    bench.actions_.cut_hole.trigger()
    assert not overlay(bench).hides_patch, "the patch is seen while the hole is drawn"
    cut(bench, hand, (5, 1), (7, 1), (7, 3))
    assert len(piece(bench).holes) == 1
    assert piece(bench).patch().polygon.area / INCH**2 == pytest.approx(64 - 2)
    assert bench.session.history.undo_name == "Cut a hole"
    assert bench.actions_.shape.isChecked()
    assert bench.canvas.mode is bench.modes["shape"]
    bench.actions_.remove_hole.trigger()
    assert piece(bench).holes == ()
    bench.actions_.undo.trigger()
    bench.actions_.undo.trigger()
    assert bench.session.plan == before


def test_an_anchor_in_a_hole_slides_to_its_edge(bench: Bench, hand: Hand) -> None:
    cut(bench, hand, (2, 4), (4, 4), (4, 6), (2, 6))
    ring = shapely.LinearRing(piece(bench).holes[0])
    assert ring.distance(shapely.Point(piece(bench).anchors[0])) == pytest.approx(0, abs=1e-9)


def test_a_hole_outside_the_patch_or_over_another_is_refused(bench: Bench, hand: Hand) -> None:
    bench.actions_.cut_hole.trigger()
    hand.click(8.4, 1)
    assert "inside" in bench.message.text
    hand.key(Qt.Key.Key_Escape)
    cut(bench, hand, (5, 1), (7, 1), (7, 3))
    plan = bench.session.plan
    cut(bench, hand, (4.5, 0.5), (7.5, 0.5), (7.5, 3.6))
    assert bench.session.plan is plan
    assert "hole" in bench.message.text


def test_of_several_holes_the_chosen_one_is_removed(bench: Bench, hand: Hand) -> None:
    cut(bench, hand, (5, 1), (7, 1), (7, 3))
    cut(bench, hand, (5, 5), (7, 5), (7, 7))
    bench.actions_.remove_hole.trigger()
    assert "Choose" in bench.message.text
    assert len(piece(bench).holes) == 2
    hand.click(7, 7)
    bench.actions_.remove_hole.trigger()
    (left,) = piece(bench).holes
    assert np.max(left, axis=0)[1] / INCH == pytest.approx(3)


def test_esc_leaves_the_hole_and_then_the_cutting(bench: Bench, hand: Hand) -> None:
    plan = bench.session.plan
    bench.actions_.cut_hole.trigger()
    hand.click(5, 1)
    hand.click(7, 1)
    hand.key(Qt.Key.Key_Escape)
    assert bench.canvas.mode is bench.modes["hole"]
    assert not overlay(bench).drafts
    hand.key(Qt.Key.Key_Escape)
    assert bench.canvas.mode is bench.modes["shape"]
    assert bench.session.plan is plan


def test_a_holes_side_is_pulled_and_typed_as_well(bench: Bench, hand: Hand) -> None:
    cut(bench, hand, (3, 1), (7, 1), (7, 3), (3, 3))
    drag(hand, (4, 3), (4, 3.3), (4, 3.5))
    (ring,) = piece(bench).patch().holes
    assert shapely.Polygon(ring).area / INCH**2 == pytest.approx(4 * 2.5)
    hand.click(4, 1)
    hand.type("3")
    hand.key(Qt.Key.Key_Return)
    (ring,) = piece(bench).patch().holes
    lengths = sorted(length_of(run_of(ring, side)) / INCH for side in sides_of(ring))
    assert lengths == pytest.approx([2.5, 2.5, 3, 3])


# --- shape: the whole patch -------------------------------------------------------------------------


def wedge_sides(bench: Bench) -> list[float]:
    assert bench.session.fit is not None
    return sorted(wedge.side_length for fan in bench.session.fit.fans for wedge in fan.wedges)


@pytest.mark.parametrize("name", ["rotate_right", "rotate_left", "mirror_across", "mirror_upright"])
def test_rotate_and_mirror_from_the_menu(bench: Bench, name: str) -> None:
    bench.session.choose(1)
    plan, before = bench.session.plan, wedge_sides(bench)
    getattr(bench.actions_, name).trigger()
    assert bench.session.plan is not plan
    assert wedge_sides(bench) == pytest.approx(before, abs=1e-6)
    where = {
        "rotate_right": (3, 2), "rotate_left": (7, 8), "mirror_across": (8, 7), "mirror_upright": (2, 3),
    }[name]  # fmt: skip
    assert np.array(piece(bench).anchors[0]) / INCH == pytest.approx(where)
    bench.actions_.undo.trigger()
    assert bench.session.plan is plan


def press(dialog: QApplication, words: str) -> None:
    (button,) = (b for b in dialog.findChildren(QPushButton) if b.text().replace("&", "") == words)
    QTest.mouseClick(button, LEFT)


def test_rotate_by_typed_degrees_beside_the_work(bench: Bench, hand: Hand) -> None:
    before = wedge_sides(bench)
    bench.actions_.rotate_by.trigger()
    (dialog,) = bench.findChildren(RotateDialog)
    assert dialog.isVisible()
    assert not dialog.isModal(), "the bench stays in use"
    dialog.field.clear()
    QTest.keyClicks(dialog.field, "22,5")
    press(dialog, "To the right")
    (x0, y0), (x1, y1) = outline(bench)[:2]
    assert math.degrees(math.atan2(y1 - y0, x1 - x0)) == pytest.approx(22.5)
    assert wedge_sides(bench) == pytest.approx(before, abs=1e-6)
    press(dialog, "To the left")
    assert outline(bench) == pytest.approx(np.array([(0, 0), (8, 0), (8, 8), (0, 8)]), abs=1e-9)
    plan = bench.session.plan
    dialog.field.clear()
    QTest.keyClicks(dialog.field, "askew")
    QTest.keyClick(dialog.field, Qt.Key.Key_Return)
    assert "askew" in dialog.wrong.text()
    assert bench.session.plan is plan
    dialog.close()


def test_scale_to_a_known_length(bench: Bench) -> None:
    bench.session.choose(1)
    bench.actions_.scale.trigger()
    (dialog,) = bench.findChildren(ScaleDialog)
    assert [dialog.side.item(n).text() for n in range(3)] == [
        "Side A, now 10 in", "Side B, now 4 in", "Side C, now 6 in"
    ]  # fmt: skip
    QTest.keyClick(dialog.side, Qt.Key.Key_Down)
    assert dialog.side.currentRow() == 1
    QTest.keyClicks(dialog.field, "6 1/2")
    QTest.keyClick(dialog.field, Qt.Key.Key_Return)
    corners = np.array(outline(bench))
    assert np.hypot(*(corners[2] - corners[1])) == pytest.approx(6.5)
    assert np.hypot(*(corners[1] - corners[0])) == pytest.approx(16.25)
    assert dialog.side.currentItem().text() == "Side B, now 6 1/2 in"
    assert bench.session.history.undo_name == "Scale the patch"
    plan = bench.session.plan
    for wrong in ("0", "1/0", "900 in"):
        dialog.field.clear()
        QTest.keyClicks(dialog.field, wrong)
        QTest.keyClick(dialog.field, Qt.Key.Key_Return)
        assert bench.session.plan is plan
        assert dialog.wrong.text() or bench.message.text
    dialog.close()


def test_every_control_of_the_small_windows_is_named_and_large_enough(bench: Bench) -> None:
    for action, kind in ((bench.actions_.rotate_by, RotateDialog), (bench.actions_.scale, ScaleDialog)):
        action.trigger()
        (dialog,) = bench.findChildren(kind)
        QApplication.processEvents()
        assert dialog.field.accessibleName()
        for button in dialog.findChildren(QPushButton):
            assert min(button.width(), button.height()) >= 24
        if isinstance(dialog, ScaleDialog):
            assert dialog.side.accessibleName()
            assert dialog.side.visualItemRect(dialog.side.item(0)).height() >= 24
        dialog.close()


def test_without_a_patch_there_is_nothing_to_shape(bench: Bench) -> None:
    for _ in range(2):
        bench.actions_.remove_patch.trigger()
    for name in ("cut_hole", "remove_hole", "rotate_right", "rotate_by", "mirror_across", "scale"):
        assert not getattr(bench.actions_, name).isEnabled()
