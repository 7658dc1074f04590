"""What the design page's section 8 asks of every mode alike, and rows of it that no other file here has.

Draw and Shape: test_draw_and_shape, test_canvas. Anchor: test_canvas, test_anchor_guide, test_settings_panel.
Marks: test_marks_mode. Walk: test_walk. Tries: test_tries. Findings: test_bench, test_findings_panel.
Fingers: test_touch. Everywhere: here, test_canvas, test_bench.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import shiboken6
from PySide6.QtCore import QMimeData, QPoint, QPointF, QSettings, Qt, QUrl
from PySide6.QtGui import (
    QColor,
    QDragEnterEvent,
    QDropEvent,
    QFont,
    QFontMetricsF,
    QNativeGestureEvent,
    QPointingDevice,
    QWheelEvent,
)
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QDockWidget,
    QFormLayout,
    QGridLayout,
    QLayout,
    QTabBar,
)
from pytestqt.qtbot import QtBot

import app.window
from app.plan.model import Plan
from app.sketch.changes import move_anchor, set_repeats
from app.sketch.modes.overlay import HandleKind, HandleState, Overlay
from app.sketch.palette import TEXT_POINTS, Role
from app.window.count_field import CountField
from app.window.look import Look, style_sheet
from app.window.main_window import Bench
from geometry.findings import Code, Level
from tests.app.window.conftest import CTRL, INCH, LEFT, PLAIN, Answers, Hand, block

MODES = ("draw", "hole", "shape", "anchor", "marks", "walk")


def start(bench: Bench, mode: str) -> None:
    action = bench.actions_.cut_hole if mode == "hole" else bench.actions_.modes[mode]
    action.trigger()


def overlay(bench: Bench) -> Overlay:
    return bench.canvas.mode.overlay(bench.canvas.view.scale)


# --- first minute -----------------------------------------------------------------------------------


def test_a_side_that_gets_too_short_is_hatched_with_its_figure_and_heals(bench: Bench, hand: Hand) -> None:
    """While the button is down: nothing is let go of in between."""
    hand.press(3, 5)
    hand.move(4, 4)
    assert bench.session.fit is not None
    assert not [f for f in bench.session.fit.findings if f.level is Level.PROBLEM]
    hand.move(7.7, 7.72, CTRL)
    problems = [f for f in bench.session.fit.findings if f.level is Level.PROBLEM]
    assert {f.code for f in problems} & {Code.SIDE_SHORT, Code.WEDGE_THIN}
    assert all(f.value is not None and f.limit is not None for f in problems if f.wedge)
    assert bench.session.in_gesture
    hand.move(4, 4)
    assert not [f for f in bench.session.fit.findings if f.level is Level.PROBLEM]
    hand.release(4, 4)


# --- every mode: Esc in the middle of a drag --------------------------------------------------------


HOLDS = {
    "shape": ((8.0, 8.0), (8.7, 8.4)),
    "anchor": ((3.0, 5.0), (6.0, 2.0)),
    "marks": ((4.0, 0.25), (5.3, 0.25)),
    "draw": ((3.0, 3.0), (5.0, 5.0)),
    "hole": ((5.0, 1.0), (6.0, 2.0)),
    "walk": ((5.0, 0.25), (6.0, 0.25)),
}


@pytest.mark.parametrize("mode", MODES)
def test_esc_in_the_middle_of_a_drag_leaves_plan_and_steps_as_they_were(
    bench: Bench, hand: Hand, mode: str
) -> None:
    hand.key(Qt.Key.Key_Right)
    hand.key(Qt.Key.Key_Left)
    bench.actions_.undo.trigger()
    plan, undo, redo = bench.session.plan, bench.session.history.undo_name, bench.session.history.redo_name
    start(bench, mode)
    first, last = HOLDS[mode]
    hand.move(*first)
    hand.press(*first)
    hand.move(*last)
    hand.key(Qt.Key.Key_Escape)
    hand.move(last[0] + 0.3, last[1])
    hand.release(last[0] + 0.3, last[1])
    assert bench.session.plan is plan
    assert (bench.session.history.undo_name, bench.session.history.redo_name) == (undo, redo)
    assert not bench.session.in_gesture
    if mode in ("draw", "hole"):
        assert overlay(bench).handles == (), "no corner came from it"


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("button", [Qt.MouseButton.MiddleButton, Qt.MouseButton.RightButton])
def test_the_middle_and_the_right_button_are_not_needed_and_change_nothing(
    bench: Bench, hand: Hand, mode: str, button: Qt.MouseButton
) -> None:
    start(bench, mode)
    plan, before = bench.session.plan, overlay(bench)
    for x, y in ((8, 8), (3, 5), (4, 0.25), (5, 1)):
        QTest.mouseClick(bench.canvas, button, PLAIN, hand.pixel(x, y))
        QTest.mouseDClick(bench.canvas, button, PLAIN, hand.pixel(x, y))
    assert bench.session.plan is plan
    assert len(overlay(bench).drafts) == len(before.drafts) == 0
    assert bench.canvas.contextMenuPolicy() is not Qt.ContextMenuPolicy.CustomContextMenu


# --- every mode: the view ---------------------------------------------------------------------------


def trackpad(bench: Bench, dx: int, dy: int, at: QPoint, keys: Qt.KeyboardModifier = PLAIN) -> None:
    event = QWheelEvent(
        QPointF(at), QPointF(bench.canvas.mapToGlobal(at)), QPoint(dx, dy), QPoint(8 * dx, 8 * dy),
        Qt.MouseButton.NoButton, keys, Qt.ScrollPhase.ScrollUpdate, False,
    )  # fmt: skip
    QApplication.sendEvent(bench.canvas, event)


def pinch(bench: Bench, by: float, at: QPoint) -> None:
    where = QPointF(at)
    event = QNativeGestureEvent(
        Qt.NativeGestureType.ZoomNativeGesture, QPointingDevice.primaryPointingDevice(), 2, where, where,
        QPointF(bench.canvas.mapToGlobal(at)), by, QPointF(),
    )  # fmt: skip
    QApplication.sendEvent(bench.canvas, event)


@pytest.mark.parametrize("mode", MODES)
def test_a_trackpad_pans_by_the_pixel_and_pinches_to_the_pointer(bench: Bench, mode: str) -> None:
    start(bench, mode)
    plan, view = bench.session.plan, bench.canvas.view
    at = QPoint(211, 160)
    trackpad(bench, 13, -7, at)
    assert bench.canvas.view.point_to_screen((0, 0)) == pytest.approx(
        view.panned(13, -7).point_to_screen((0, 0))
    )
    under = bench.canvas.view.to_cloth((at.x(), at.y()))
    pinch(bench, 0.25, at)
    assert bench.canvas.view.scale == pytest.approx(1.25 * view.scale)
    assert bench.canvas.view.to_cloth((at.x(), at.y())) == pytest.approx(under)
    assert bench.session.plan is plan


@pytest.mark.parametrize("mode", MODES)
def test_space_and_the_middle_button_pan_in_every_mode(bench: Bench, hand: Hand, mode: str) -> None:
    start(bench, mode)
    for how in ("space", "middle"):
        if how == "space" and mode == "walk":
            continue  # there it plays and pauses
        plan, view = bench.session.plan, bench.canvas.view
        button = LEFT if how == "space" else Qt.MouseButton.MiddleButton
        at = hand.pixel(5, 1)
        if how == "space":
            QTest.keyPress(bench.canvas, Qt.Key.Key_Space)
        QTest.mousePress(bench.canvas, button, PLAIN, at)
        QTest.mouseMove(bench.canvas, at + QPoint(24, -10))
        QTest.mouseRelease(bench.canvas, button, PLAIN, at + QPoint(24, -10))
        if how == "space":
            QTest.keyRelease(bench.canvas, Qt.Key.Key_Space)
        assert bench.canvas.view.point_to_screen((0, 0)) == pytest.approx(
            view.panned(24, -10).point_to_screen((0, 0))
        )
        assert bench.session.plan is plan
        assert overlay(bench).drafts == ()


@pytest.mark.parametrize("mode", MODES)
def test_keys_pan_zoom_and_show_the_whole_patch_in_every_mode(bench: Bench, hand: Hand, mode: str) -> None:
    start(bench, mode)
    plan, view = bench.session.plan, bench.canvas.view
    hand.key(Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    assert bench.canvas.view == view.panned(0, -48)
    QTest.keyClick(bench, Qt.Key.Key_Plus, CTRL)
    assert bench.canvas.view.scale == pytest.approx(1.25 * view.scale)
    QTest.keyClick(bench, Qt.Key.Key_Minus, CTRL)
    QTest.keyClick(bench, Qt.Key.Key_Minus, CTRL)
    assert bench.canvas.view.scale == pytest.approx(view.scale / 1.25)
    QTest.keyClick(bench, Qt.Key.Key_0, CTRL)
    assert bench.canvas.view.scale == pytest.approx(view.scale)
    assert bench.canvas.view.centre == pytest.approx((4 * INCH, 4 * INCH))
    assert bench.session.plan is plan


# --- undo -------------------------------------------------------------------------------------------


def test_undo_and_redo_name_their_steps_and_nothing_asks_whether_one_is_sure(
    bench: Bench, hand: Hand, answers: Answers
) -> None:
    act = bench.actions_
    plans = [bench.session.plan]

    def done(name: str) -> None:
        assert act.undo.text().replace("&", "") == f"Undo – {name}"
        plans.append(bench.session.plan)

    hand.key(Qt.Key.Key_Right)
    done("Move anchor")
    act.shape.trigger()
    hand.click(8, 8)
    hand.key(Qt.Key.Key_Delete)
    done("Remove corner")
    act.mirror_across.trigger()
    done("Mirror the patch")
    act.remove_patch.trigger()
    done("Remove patch")
    assert answers.asked == []
    for name, plan in zip(("Remove patch", "Mirror the patch", "Remove corner", "Move anchor"), plans[-2::-1],
                          strict=True):  # fmt: skip
        QTest.keyClick(bench, Qt.Key.Key_Z, CTRL)
        assert bench.session.plan is plan
        assert act.redo.text().replace("&", "") == f"Redo – {name}"
    for plan in plans[1:]:
        QTest.keyClick(bench, Qt.Key.Key_Z, CTRL | Qt.KeyboardModifier.ShiftModifier)
        assert bench.session.plan is plan
    assert not act.redo.isEnabled()


# --- files and words --------------------------------------------------------------------------------


def test_a_file_that_is_dragged_in_is_taken_by_the_real_events(bench: Bench, tmp_path: object) -> None:
    path = tmp_path / "two.txt"  # type: ignore[operator]
    path.write_text("unit: in\nname: First\n0 0\n5 0\n5 5\n\nname: Second\n0 0\n4 0\n4 6\n", encoding="utf-8")
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    at = QPoint(300, 300)
    enter = QDragEnterEvent(at, Qt.DropAction.CopyAction, mime, LEFT, PLAIN)
    QApplication.sendEvent(bench, enter)
    assert enter.isAccepted()
    drop = QDropEvent(QPointF(at), Qt.DropAction.CopyAction, mime, LEFT, PLAIN)
    QApplication.sendEvent(bench, drop)
    assert [p.name for p in bench.session.plan.patches][-2:] == ["First", "Second"]
    assert bench.session.piece is not None
    assert bench.session.piece.name == "First"


def test_levels_of_findings_are_told_by_word_too(bench: Bench) -> None:
    bench.session.choose(1)
    model = bench.findings.model
    said = [
        model.data(model.index(row), Qt.ItemDataRole.AccessibleTextRole) for row in range(model.rowCount())
    ]
    assert said
    assert all(re.match("(problem|caution|note): ", words) for words in said)


@pytest.mark.parametrize("text", ["4.375", "4,375"])
def test_decimals_with_point_and_comma_everywhere(bench: Bench, hand: Hand, text: str) -> None:
    bench.actions_.shape.trigger()
    hand.click(2, 0)
    hand.type(text)
    hand.key(Qt.Key.Key_Return)
    assert bench.session.piece is not None
    assert bench.session.piece.outline[1][0] == pytest.approx(4.375 * INCH)


# --- the window -------------------------------------------------------------------------------------


@pytest.mark.parametrize("mode", MODES)
def test_the_canvas_is_the_middle_and_the_largest_part(bench: Bench, mode: str) -> None:
    start(bench, mode)
    QApplication.processEvents()
    middle = bench.canvas.mapTo(bench, bench.canvas.rect().center())
    assert abs(middle.x() - bench.width() / 2) < bench.width() / 10
    area = bench.canvas.width() * bench.canvas.height()
    docks = [dock for dock in bench.findChildren(QDockWidget) if dock.isVisible()]
    assert len(docks) >= 3
    assert all(area > 1.5 * dock.width() * dock.height() for dock in docks)
    assert area > bench.width() * bench.height() / 3.5


@pytest.mark.parametrize("name", ["patches", "findings", "settings", "tries", "suggestions"])
def test_every_panel_hides_floats_and_comes_back_as_it_was_left(bench: Bench, look: Look, name: str) -> None:
    """By its own buttons and the menu, which are what a hand has."""

    def dock_of(window: Bench) -> QDockWidget:
        found = window.findChild(QDockWidget, name)
        assert isinstance(found, QDockWidget)
        return found

    def again() -> Bench:
        bench.close()
        made = Bench(look, Plan(patches=(block(),)))
        made.show()
        QApplication.processEvents()
        return made

    dock = dock_of(bench)
    toggle = dock.toggleViewAction()
    assert toggle in bench.actions_.panels.actions()
    toggle.setChecked(True)
    dock.show()
    title = dock.titleBarWidget()
    assert title is not None
    floating, closing = title.findChildren(QAbstractButton)
    QTest.mouseClick(floating, LEFT)
    assert dock.isFloating()
    second = again()
    assert dock_of(second).isFloating(), "afloat, as it was left"
    second.close()
    shiboken6.delete(second)
    bench.show()
    QTest.mouseClick(floating, LEFT)
    assert not dock.isFloating()
    QTest.mouseClick(closing, LEFT)
    assert not dock.isVisible()
    third = again()
    assert dock_of(third).isHidden(), "hidden, as it was left"
    dock_of(third).toggleViewAction().trigger()
    assert not dock_of(third).isHidden()
    third.close()
    shiboken6.delete(third)
    bench.show()


@pytest.mark.parametrize("missing", ["tries suggestions", "suggestions", "findings", "settings"])
def test_panels_that_an_older_version_did_not_have_lie_where_they_do_at_the_first_start(
    look: Look, qtbot: QtBot, missing: str
) -> None:
    class Older(Bench):
        """Leaves its window as a version without those panels did."""

    def without(method: str) -> Callable[..., None]:
        def does(bench: Older, *given: Any) -> None:
            flat = [*(given[0] if isinstance(given[0], list) else ()), *given]
            names = [each.objectName() for each in flat if isinstance(each, QDockWidget)]
            if not any(name in missing for name in names):
                getattr(Bench, method)(bench, *given)

        return does

    for method in ("addDockWidget", "tabifyDockWidget", "resizeDocks"):
        setattr(Older, method, without(method))

    def panels(kind: type[Bench]) -> dict[str, tuple[object, ...]]:
        bench = kind(look, Plan(patches=(block(),)))
        qtbot.addWidget(bench)
        bench.resize(1280, 720)
        bench.show()
        QTest.qWait(50)
        bars = [bar for bar in bench.findChildren(QTabBar) if bar.count() and bar.isVisible()]
        tabs = [[bar.tabText(number) for number in range(bar.count())] for bar in bars]
        docks = bench.findChildren(QDockWidget)
        found: dict[str, tuple[object, ...]] = {
            dock.objectName(): (
                dock.isHidden(),
                sorted(other.objectName() for other in bench.tabifiedDockWidgets(dock)),
                dock.visibleRegion().boundingRect().size().toTuple(),
                tabs,
            )
            for dock in docks
        }
        bench.close()
        return found

    usual = panels(Bench)
    assert not usual["tries"][0]
    QSettings().clear()
    panels(Older)
    assert panels(Bench) == usual


def test_a_patch_is_a_small_true_picture_with_verdict_and_repeats(bench: Bench, look: Look) -> None:
    """The picture: where the wedges of the fit run there is the stitches' colour, and the anchor's at it."""
    bench.session.do(set_repeats(bench.session.plan, 0, 7))
    view, model = bench.patches.list, bench.patches.model
    name, verdict, below = model.words_at(0)
    assert (name, verdict) == ("Block", "fits")
    assert "7 times" in below
    fit = bench.session.fit
    assert fit is not None
    box = view.visualRect(model.index(0))
    row = view.viewport().grab(box).toImage()
    stitch, anchor = look.colour(Role.STITCH), look.colour(Role.ANCHOR)

    def is_near(at: tuple[float, float], wanted: QColor) -> bool:
        x, y = 16 + 40 + (at[0] / INCH - 4) * 58 / 8, box.height() / 2 + (at[1] / INCH - 4) * 58 / 8
        near = [row.pixelColor(round(x) + i, round(y) + j) for i in (-1, 0, 1) for j in (-1, 0, 1)]
        return any(abs(c.red() - wanted.red()) + abs(c.blue() - wanted.blue()) < 120 for c in near)

    assert is_near(fit.anchors[0], anchor)
    for wedge in fit.fans[0].wedges:
        x, y = wedge.side.mean(axis=0).tolist()
        assert is_near((x, y), stitch), wedge.number
    before = row
    bench.session.do(move_anchor(bench.session.plan, 0, (180.0, 30.0)))
    QTest.qWait(400)
    assert view.viewport().grab(box).toImage() != before, "it goes with the plan"


STEP = 4
"""px: half of the design page's step of 8, for what belongs together."""


def test_space_comes_in_steps(bench: Bench) -> None:
    """Around and between everything that the bench lays out itself, in every panel, bar and mode."""
    bench.session.choose(0)
    for mode in MODES:
        start(bench, mode)
    found = 0
    for layout in bench.findChildren(QLayout):
        owner = layout.parentWidget()
        if owner is None or not type(owner).__module__.startswith("app.") or type(layout) is QLayout:
            continue  # Qt's own, as that of the docks
        if isinstance(owner, CountField):
            continue  # the parts of one field, within its frame
        margins = layout.contentsMargins()
        spaces = [margins.left(), margins.top(), margins.right(), margins.bottom()]
        if isinstance(layout, QGridLayout | QFormLayout):
            spaces += [layout.horizontalSpacing(), layout.verticalSpacing()]
        else:
            spaces.append(layout.spacing())
        assert all(space >= 0 and space % STEP == 0 for space in spaces), (type(owner).__name__, spaces)
        found += 1
    assert found > 40


_SPACES = {"setContentsMargins", "setSpacing", "addSpacing", "setHorizontalSpacing", "setVerticalSpacing"}


def test_space_comes_in_steps_in_dialogs_too() -> None:
    """Every number of pixels that a layout is given anywhere in the window's source."""
    found = 0
    for path in sorted(Path(app.window.__file__).parent.glob("*.py")):
        if path.name == "count_field.py":
            continue  # the parts of one field, within its frame
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "attr", "") in _SPACES:
                for each in node.args:
                    if isinstance(each, ast.Constant):
                        assert each.value % STEP == 0, f"{path.name}:{node.lineno}"
                        found += 1
    assert found > 100


def test_the_look_is_flat_and_has_two_text_sizes_beside_the_base(look: Look) -> None:
    sheet = style_sheet(look.palette, 1.0)
    for word in ("gradient", "shadow"):
        assert word not in sheet, word
    pictures = set(re.findall(r"image: ([^;]+);", sheet)) - {"none"}
    assert [Path(picture[5:-2]).name for picture in pictures] == ["tick_light.svg"]
    sizes = {float(points) for points in re.findall(r"font-size: ([\d.]+)pt", sheet)}
    assert sizes | {12.0} == {float(points) for points in TEXT_POINTS.values()}
    assert len(TEXT_POINTS) == 3


def test_figures_are_of_one_width(bench: Bench) -> None:
    tag = QFont.Tag("tnum")
    for widget in (bench.canvas, bench.status.hint, bench.findings.list):
        assert widget.font().featureValue(tag) == 1 if widget.font().isFeatureSet(tag) else False, widget
        widths = {QFontMetricsF(widget.font()).horizontalAdvance(digit) for digit in "0123456789"}
        assert len(widths) == 1


def test_the_anchors_handle_is_large(bench: Bench, hand: Hand, look: Look) -> None:
    """Seen 24 px wide, and taken hold of 11 px from its middle in every direction."""
    at = hand.pixel(3, 5)
    bench.canvas.sentence = ""
    ink, picture = look.colour(Role.ANCHOR), bench.canvas.grab().toImage()
    row = [x for x in range(at.x() - 40, at.x() + 40) if picture.pixelColor(x, at.y()) == ink]
    assert max(row) - min(row) + 1 >= 24
    for dx, dy in ((11, 0), (-11, 0), (0, 11), (0, -11), (8, 8), (-8, -8)):
        bench.canvas.sentence = ""
        QTest.mousePress(bench.canvas, LEFT, PLAIN, at + QPoint(dx, dy))
        states = [handle.state for handle in overlay(bench).handles if handle.kind is HandleKind.ANCHOR]
        assert states == [HandleState.HELD], (dx, dy)
        hand.key(Qt.Key.Key_Escape)
        QTest.mouseRelease(bench.canvas, LEFT, PLAIN, at + QPoint(dx, dy))
