"""Every setting through its own control, with real keys and a real mouse."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QFontMetrics, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel, QLineEdit, QToolButton, QWidget
from pytestqt.qtbot import QtBot

from app.plan.model import Plan
from app.sketch.quantity import PLACE
from app.sketch.setting_words import QUESTIONS, SET_ON_THE_CLOTH, USUAL, Count, Question, Setting, Ways, YesNo
from app.window import preferences
from app.window.choice_field import WaysField, YesField
from app.window.count_field import CountField
from app.window.look import Look
from app.window.main_window import Bench
from app.window.patch_rows import AnchorRows, RepeatsRow, SideSpansRow
from app.window.setting_row import SettingRow, UsualRow
from app.window.typed_field import TypedField
from geometry import Settings
from geometry.units import LengthStyle
from tests.app.window.conftest import INCH, LEFT, PLAIN, Hand, block, ell

ALL = {setting.key: setting for question in QUESTIONS for setting in question.settings}
WITH_A_ROW = [key for key in ALL if key != "side_spans"]

TYPED: dict[str, tuple[str, Any]] = {
    "hold_back": ("1/2", INCH / 2),
    "stagger": ("3/8", 3 * INCH / 8),
    "anchor_disc": ("1/4", INCH / 4),
    "edge_margin": ("3/8", 3 * INCH / 8),
    "gap": ("5 mm", 5.0),
    "visible_width": ("1/8", INCH / 8),
    "wobble": ("1/16", INCH / 16),
    "longest_span": ("2", 2 * INCH),
    "corner_angle": ("30", 30.0),
    "corner_run": ("1/4", INCH / 4),
    "echo_spacing": ("3/8", 3 * INCH / 8),
    "start": ("3, 4", (3 * INCH, 4 * INCH)),
    "stitch_length": ("8", INCH / 8),
    "stitches_per_minute": ("750", 750.0),
    "seconds_per_turn": ("2,5", 2.5),
    "quilt_thickness": ("3 mm", 3.0),
    "batting_width": ("8", 8 * INCH),
    "bobbin_capacity": ("70 yd", 70 * 36 * INCH),
    "thread_tail": ("6", 6 * INCH),
}


@pytest.fixture
def opened(bench: Bench) -> Bench:
    """The bench with all groups of the settings open."""
    for group in bench.settings.form.groups.values():
        if not group.is_open:
            click(group.heading)
    bench.activateWindow()
    QApplication.processEvents()
    return bench


def click(widget: QWidget) -> None:
    QTest.mouseClick(widget, LEFT, PLAIN, QPoint(12, widget.height() // 2))


def settings(bench: Bench, which: int = 0) -> Settings:
    return bench.session.plan.patches[which].settings


def row_of(bench: Bench, key: str) -> UsualRow:
    return bench.settings.form.rows[key]


def special(bench: Bench, kind: type[Any]) -> Any:
    (found,) = bench.settings.findChildren(kind)
    return found


def type_into(edit: QLineEdit, text: str) -> None:
    edit.setFocus()
    edit.selectAll()
    QTest.keyClick(edit, Qt.Key.Key_Delete)
    QTest.keyClicks(edit, text)
    QTest.keyClick(edit, Qt.Key.Key_Return)


def wrong(row: QWidget) -> str:
    found = [
        label.text() for label in row.findChildren(QLabel)
        if label.property("part") == "problem" and not label.isHidden()
    ]  # fmt: skip
    return " ".join(found)


def steps(bench: Bench) -> int:
    """How many steps can be undone; looked up, as undoing them would divide the next from the last."""
    return len(bench.session.history._done)


def change(bench: Bench, key: str) -> Any:
    """Change a setting by hand; what it should be then."""
    field = row_of(bench, key).field
    if isinstance(field, TypedField):
        text, value = TYPED[key]
        type_into(field, text)
        return value
    if isinstance(field, CountField):
        field.box.setFocus()
        QTest.keyClick(field.box, Qt.Key.Key_Up)
        return getattr(USUAL, key) + 1
    if isinstance(field, WaysField):
        click(field._buttons[not getattr(USUAL, key)])
    else:
        QTest.keyClick(field, Qt.Key.Key_Space)
    return not getattr(USUAL, key)


# --- all of them ------------------------------------------------------------------------------------


def test_every_field_of_the_settings_has_a_control_or_a_reason() -> None:
    """A new field of the engine cannot be forgotten here."""
    assert not set(ALL) & set(SET_ON_THE_CLOTH)
    assert set(ALL) | set(SET_ON_THE_CLOTH) == {field.name for field in fields(Settings)}
    assert all(SET_ON_THE_CLOTH.values())


def test_every_setting_of_the_table_is_in_the_panel(opened: Bench) -> None:
    assert set(opened.settings.form.rows) == set(WITH_A_ROW)
    assert special(opened, SideSpansRow).isVisible()
    assert all(row.isVisible() for row in opened.settings.form.rows.values())


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.key)
def test_a_change_is_one_named_step_and_the_usual_value_one_click_away(
    opened: Bench, question: Question
) -> None:
    for setting in question.settings:
        if setting.key in WITH_A_ROW:
            change_and_go_back(opened, setting.key)


def change_and_go_back(opened: Bench, key: str) -> None:
    row = row_of(opened, key)
    assert getattr(settings(opened), key) == getattr(USUAL, key)
    assert not row.usual.isEnabled()
    value = change(opened, key)
    assert getattr(settings(opened), key) == pytest.approx(value)
    changed = opened.session.plan
    name = ALL[key].name.replace("&", "")
    assert opened.session.history.undo_name == f"Change {name[0].lower()}{name[1:]}"
    assert steps(opened) == 1
    assert opened.session.fit is not None
    assert opened.session.fit.settings == settings(opened)
    assert wrong(row) == ""

    assert row.usual.isEnabled()
    click(row.usual)
    assert settings(opened) == USUAL
    assert not row.usual.isEnabled()
    assert steps(opened) == 2, "the way back is a step of its own"
    opened.session.undo()
    assert opened.session.plan == changed
    opened.session.undo()
    assert settings(opened) == USUAL
    assert not row.usual.isEnabled()


def test_bad_text_is_refused_beside_the_field_and_changes_nothing(opened: Bench) -> None:
    for key in WITH_A_ROW:
        if not isinstance(ALL[key].kind, (Ways, YesNo)):
            refuses_ells(opened, key)


def refuses_ells(opened: Bench, key: str) -> None:
    plan, row = opened.session.plan, row_of(opened, key)
    edit = row.field if isinstance(row.field, TypedField) else row.field.findChild(QLineEdit)
    assert isinstance(edit, QLineEdit)
    before = edit.text()
    type_into(edit, "ells")
    assert opened.session.plan is plan
    assert "ells" in wrong(row)
    assert wrong(row).startswith("▲ ")
    assert "\n" not in wrong(row)
    if isinstance(row.field, TypedField):
        assert edit.text() == "ells", "what was typed can be mended"
        QTest.keyClick(edit, Qt.Key.Key_Escape)
        assert wrong(row) == ""
    assert edit.text() == before
    opened.session.choose(1)
    opened.session.choose(0)
    assert opened.session.plan is plan


TOO_MUCH = {
    "echo_spacing": "0", "corner_angle": "200", "corner_run": "0", "stitches_per_minute": "0",
    "batting_width": "0", "bobbin_capacity": "99999999", "gap": "40 ft", "stitch_length": "0",
}  # fmt: skip


def test_what_the_engine_cannot_do_is_refused_beside_the_field(opened: Bench) -> None:
    plan = opened.session.plan
    for key, text in TOO_MUCH.items():
        row = row_of(opened, key)
        assert isinstance(row.field, TypedField)
        before = row.field.text()
        type_into(row.field, text)
        assert opened.session.plan is plan
        assert wrong(row), key
        assert row.field.text() == text
        QTest.keyClick(row.field, Qt.Key.Key_Escape)
        assert wrong(row) == ""
        assert row.field.text() == before


def test_a_count_out_of_range_is_told_and_the_old_one_stays(opened: Bench) -> None:
    plan, row = opened.session.plan, row_of(opened, "spans_per_side")
    edit = row.field.findChild(QLineEdit)
    assert isinstance(edit, QLineEdit)
    for text in ("100", "0", "2.5", "-1"):
        type_into(edit, text)
        assert opened.session.plan is plan
        assert "whole number from 1 to 99" in wrong(row)
        assert edit.text() == "2"
    type_into(edit, "4")
    assert settings(opened).spans_per_side == 4
    assert wrong(row) == ""


def test_a_refusal_is_forgotten_with_the_usual_value(opened: Bench) -> None:
    row = row_of(opened, "gap")
    assert isinstance(row.field, TypedField)
    type_into(row.field, "1")
    type_into(row.field, "ells")
    assert wrong(row)
    click(row.usual)
    assert settings(opened) == USUAL
    assert wrong(row) == ""
    assert row.field.text() == "1/4 in"


def test_arrows_step_by_an_eighth_and_many_steps_are_one(opened: Bench) -> None:
    field = row_of(opened, "gap").field
    field.setFocus()
    for _ in range(3):
        QTest.keyClick(field, Qt.Key.Key_Up)
    assert settings(opened).gap == pytest.approx(5 * INCH / 8)
    QTest.keyClick(field, Qt.Key.Key_Down)
    assert settings(opened).gap == pytest.approx(INCH / 2)
    assert steps(opened) == 1
    QTest.keyClick(field, Qt.Key.Key_Tab)
    field.setFocus()
    QTest.keyClick(field, Qt.Key.Key_Up)
    assert steps(opened) == 2, "the field was left in between"


def test_what_is_typed_twice_is_two_steps(opened: Bench) -> None:
    field = row_of(opened, "gap").field
    assert isinstance(field, TypedField)
    type_into(field, "1/2")
    type_into(field, "3/8")
    assert steps(opened) == 2
    toggle = row_of(opened, "divide").field
    QTest.keyClick(toggle, Qt.Key.Key_Space)
    QTest.keyClick(toggle, Qt.Key.Key_Space)
    assert steps(opened) == 4


def test_two_ways_by_the_keys_alone(opened: Bench) -> None:
    field = row_of(opened, "clockwise").field
    assert isinstance(field, WaysField)
    field.setFocus()
    focus = QApplication.focusWidget()
    assert focus is not None
    assert focus.accessibleName() == "Direction: clockwise"
    QTest.keyClick(focus, Qt.Key.Key_Down)
    assert settings(opened).clockwise is False
    focus = QApplication.focusWidget()
    assert focus is not None
    assert focus.accessibleName() == "Direction: the other way"
    opened.session.undo()
    assert field._buttons[True].isChecked()


# --- units ------------------------------------------------------------------------------------------


def test_units_switch_what_is_shown_and_no_plan(opened: Bench) -> None:
    plan = opened.session.plan
    shown = {}
    for style in (LengthStyle.EIGHTHS, LengthStyle.CM):
        opened.actions_.styles[style].trigger()
        shown[style] = [
            getattr(row_of(opened, key).field, "text", str)()
            for key in ("gap", "stitch_length", "thread_tail")
        ]
        assert row_of(opened, "gap").usual.text() == f"usual: {shown[style][0]}"
    assert shown[LengthStyle.EIGHTHS] == ["1/4 in", "10 per inch", "4 in"]
    assert shown[LengthStyle.CM] == ["0.6 cm", "2.5 mm", "10.2 cm"]
    assert opened.session.plan is plan
    assert opened.session.history.is_clean
    field = row_of(opened, "gap").field
    QTest.keyClick(field, Qt.Key.Key_Up)
    assert settings(opened).gap == pytest.approx(7.35)


# --- what belongs to one patch ----------------------------------------------------------------------


def named(bench: Bench, name: str) -> QWidget:
    QApplication.processEvents()  # what was just made is shown
    found = [
        each for each in bench.settings.findChildren(QWidget)
        if each.accessibleName() == name and each.isVisible() and each.focusProxy() is None
    ]  # fmt: skip
    assert len(found) == 1, [type(each) for each in found]
    return found[0]


def test_anchors_are_typed_added_and_taken_away(opened: Bench) -> None:
    def anchors() -> tuple[tuple[float, float], ...]:
        return opened.session.plan.patches[1].anchors

    opened.session.choose(1)
    first = anchors()
    edit = named(opened, "Anchor y")
    assert isinstance(edit, QLineEdit)
    type_into(edit, "8 1/2")
    assert anchors() == ((first[0][0], pytest.approx(8.5 * INCH)),)
    assert opened.session.history.undo_name == "Move anchor"
    click(special(opened, AnchorRows).add)
    assert len(anchors()) == 2
    assert opened.session.fit is not None
    assert opened.session.fit.out_of_sight.share < 0.01, "it went where the first does not see"
    assert len(opened.session.fit.fans) == 2
    edit = named(opened, "Anchor 2 x")
    assert isinstance(edit, QLineEdit)
    type_into(edit, "9")
    assert anchors()[1][0] == pytest.approx(9 * INCH)
    second = anchors()[1]
    click(named(opened, "Anchor: take it away"))
    assert anchors() == (second,)
    assert opened.session.history.undo_name == "Remove anchor"
    assert steps(opened) == 4
    for _ in range(4):
        opened.session.undo()
    assert anchors() == first
    left = [
        edit.accessibleName()
        for edit in special(opened, AnchorRows).findChildren(TypedField)
        if edit.isVisible()
    ]
    assert left == ["Anchor x", "Anchor y"]


def test_another_anchor_where_all_is_in_sight_is_somewhere_else(opened: Bench) -> None:
    click(special(opened, AnchorRows).add)
    one, two = opened.session.plan.patches[0].anchors
    assert one != two
    assert opened.session.plan.patches[0].patch().slide_into(two) == two


def test_a_bad_coordinate_is_refused_at_the_anchor(opened: Bench) -> None:
    plan = opened.session.plan
    edit = named(opened, "Anchor x")
    assert isinstance(edit, QLineEdit)
    type_into(edit, "ells")
    assert opened.session.plan is plan
    assert "ells" in wrong(special(opened, AnchorRows))
    QTest.keyClick(edit, Qt.Key.Key_Escape)
    assert wrong(special(opened, AnchorRows)) == ""
    assert edit.text() == "3 in"


def test_spans_of_one_side(opened: Bench) -> None:
    row: SideSpansRow = special(opened, SideSpansRow)
    menu = row.side.menu()
    menu.aboutToShow.emit()
    assert [action.text() for action in menu.actions()] == ["A", "B", "C", "D"]
    menu.actions()[2].trigger()
    assert row.side.accessibleName() == "Side C"
    assert not row.usual.isEnabled()
    row.count.box.setFocus()
    QTest.keyClick(row.count.box, Qt.Key.Key_Up)
    QTest.keyClick(row.count.box, Qt.Key.Key_Up)
    assert settings(opened).side_spans == (("C", 4),)
    assert opened.session.history.undo_name == "Change spans of side C"
    assert steps(opened) == 1
    assert opened.session.fit is not None
    assert len(opened.session.fit.fans[0].wedges) == 10
    assert row.side.letter == "C"
    menu.aboutToShow.emit()
    menu.actions()[0].trigger()
    assert row.count.box.value() == 2
    menu.aboutToShow.emit()
    menu.actions()[2].trigger()
    assert row.count.box.value() == 4
    click(row.usual)
    assert settings(opened).side_spans == ()
    assert row.count.box.value() == 2
    opened.session.undo()
    opened.session.undo()
    assert settings(opened) == USUAL


def test_repeats(opened: Bench) -> None:
    row: RepeatsRow = special(opened, RepeatsRow)
    click(next(b for b in row.findChildren(QToolButton) if b.accessibleName().endswith("one more")))
    assert opened.session.plan.patches[0].repeats == 2
    assert opened.session.history.undo_name == "Change repeats"
    edit = row.findChild(QLineEdit)
    assert isinstance(edit, QLineEdit)
    type_into(edit, "0")
    assert "from 1 to 10000" in wrong(row)
    assert opened.session.plan.patches[0].repeats == 2
    click(row.usual)
    assert opened.session.plan.patches[0].repeats == 1
    assert not row.usual.isEnabled()
    opened.session.undo()
    opened.session.undo()
    assert opened.session.plan.patches[0].repeats == 1
    assert steps(opened) == 0


def test_use_these_for_all_patches(opened: Bench) -> None:
    button = named(opened, "How is it stitched? Use these for all patches")
    assert not button.isEnabled()
    change(opened, "stitch_length")
    change(opened, "first_wedge")
    change(opened, "gap")
    assert button.isEnabled()
    before = opened.session.plan
    click(button)
    assert settings(opened, 1) == Settings(stitch_length=INCH / 8), "only this group, and not what is its own"
    assert settings(opened, 0) == before.patches[0].settings
    assert opened.session.history.undo_name == "Use for all patches"
    assert not button.isEnabled()
    opened.session.undo()
    assert opened.session.plan == before
    assert button.isEnabled()


# --- groups -----------------------------------------------------------------------------------------


def test_groups_open_and_close_by_mouse_and_keys_and_come_back(bench: Bench, look: Look) -> None:
    groups = bench.settings.form.groups
    assert [group.heading.text() for group in groups.values()] == [
        "Where do the lines gather?",
        "How far from the seam and from each other?",
        "Where do the lines end?",
        "What goes inside?",
        "How is it stitched?",
        "What cloth is it?",
        "How will it look?",
        "How often is it in the quilt?",
    ]
    inside, gather = groups["inside"], groups["gather"]
    assert gather.is_open
    assert not inside.is_open
    assert "echo_count" not in bench.settings.form.rows, "made when it is needed"
    click(inside.heading)
    assert row_of(bench, "echo_count").isVisible()
    assert inside.heading.accessibleDescription() == "open"
    for key, is_open in (
        (Qt.Key.Key_Space, False), (Qt.Key.Key_Return, True), (Qt.Key.Key_Right, True),
        (Qt.Key.Key_Left, False), (Qt.Key.Key_Left, False), (Qt.Key.Key_Right, True),
    ):  # fmt: skip
        QTest.keyClick(inside.heading, key)
        assert inside.is_open is is_open
        assert row_of(bench, "echo_count").isVisible() is is_open
    QTest.keyClick(gather.heading, Qt.Key.Key_Left)
    again = Bench(look, Plan(patches=(block(),)))
    assert {key for key, group in again.settings.form.groups.items() if group.is_open} == {
        "distance", "end", "inside",
    }  # fmt: skip
    again.deleteLater()


def test_groups_open_at_the_start_are_filled_when_they_are_shown(look: Look, qtbot: QtBot) -> None:
    panel = Bench(look, Plan(patches=(block(),)))
    qtbot.addWidget(panel)
    rows = panel.settings.form.rows.keys()
    assert not rows
    panel.show()
    assert {"hold_back", "gap", "longest_span"} <= rows
    assert "echo_count" not in rows


def test_a_group_that_was_closed_shows_the_present_patch(bench: Bench) -> None:
    inside = bench.settings.form.groups["inside"]
    click(inside.heading)
    click(inside.heading)
    change_of_other = Settings(echo_count=3)
    plan = Plan(patches=(block(), ell()))
    bench.session.open(plan)
    bench.session.choose(1)
    click(inside.heading)
    field = row_of(bench, "echo_count").field
    assert isinstance(field, CountField)
    QTest.keyClick(field.box, Qt.Key.Key_Up)
    assert settings(bench, 1).echo_count == 1
    assert settings(bench, 0) == USUAL
    assert change_of_other.echo_count == 3


def test_without_a_patch_nothing_can_be_set(opened: Bench) -> None:
    opened.session.open(Plan())
    assert not opened.settings.form.isEnabled()
    opened.session.open(Plan(patches=(block(),)))
    assert opened.settings.form.isEnabled()


# --- what holds for every control -------------------------------------------------------------------


def controls(bench: Bench) -> list[QWidget]:
    return [
        widget for widget in bench.settings.findChildren(QWidget)
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and not widget.objectName().startswith("qt_")
    ]  # fmt: skip


def test_every_control_has_a_name_of_its_own_and_a_sentence(opened: Bench) -> None:
    assert len(controls(opened)) > 70
    for widget in controls(opened):
        assert widget.accessibleName(), type(widget)
        assert "&" not in widget.accessibleName()
        assert widget.toolTip(), widget.accessibleName()
        assert widget.whatsThis(), widget.accessibleName()
    shown = [
        widget.accessibleName() for widget in controls(opened)
        if widget.isVisible() and widget.focusProxy() is None
    ]  # fmt: skip
    assert len(shown) == len(set(shown))


def test_what_is_pressed_is_large_enough(opened: Bench) -> None:
    small = [
        (widget.accessibleName(), widget.width(), widget.height())
        for widget in opened.settings.findChildren(QWidget)
        if isinstance(widget, (QAbstractButton, QLineEdit)) and widget.isVisible()
        and not widget.objectName().startswith("qt_") and (widget.height() < 24 or widget.width() < 24)
    ]  # fmt: skip
    assert small == []


def test_all_is_as_wide_as_the_panel_and_no_text_is_cut(opened: Bench) -> None:
    for style in LengthStyle:
        opened.actions_.styles[style].trigger()
        for _ in range(4):  # a line that breaks anew moves all below it
            QApplication.processEvents()
        room = opened.settings.viewport().width()
        assert room < 300
        assert opened.settings.form.width() == room
        assert not opened.settings.horizontalScrollBar().isVisible()
        for widget in opened.settings.form.findChildren(QWidget):
            if widget.isVisible() and not widget.objectName().startswith("qt_"):
                assert widget.mapTo(opened.settings.form, QPoint(widget.width(), 0)).x() <= room
                assert_not_cut(widget)


def assert_not_cut(widget: QWidget) -> None:
    if not isinstance(widget, (QLabel, QLineEdit, QToolButton)):
        return
    text, metrics = widget.text().replace("&", ""), QFontMetrics(widget.font())
    if isinstance(widget, QLabel) and widget.wordWrap():
        assert all(metrics.horizontalAdvance(word) <= widget.width() for word in text.split()), text
        assert widget.heightForWidth(widget.width()) <= widget.height(), text
    else:
        edge = 20 if isinstance(widget, QLineEdit) else 0
        assert metrics.horizontalAdvance(text) + edge <= widget.width(), text


def test_the_keys_alone_reach_every_control_and_bring_it_into_view(opened: Bench) -> None:
    heading = opened.settings.form.groups["gather"].heading
    heading.setFocus()
    reached: list[QWidget] = []
    for _ in range(200):
        focus = QApplication.focusWidget()
        if focus is None or not opened.settings.isAncestorOf(focus):
            break
        assert not focus.visibleRegion().isEmpty(), focus.accessibleName()
        reached.append(focus)
        QTest.keyClick(focus, Qt.Key.Key_Tab)
    wanted = {
        widget for widget in controls(opened)
        if widget.isVisible() and widget.isEnabled() and widget.focusProxy() is None
        and not widget.objectName().startswith("qt_")
    }  # fmt: skip
    for _ in range(40):  # … and goes on to the rest of the bench
        focus = QApplication.focusWidget()
        assert focus is not None
        if focus is opened.canvas:
            break
        QTest.keyClick(focus, Qt.Key.Key_Tab)
    assert QApplication.focusWidget() is opened.canvas
    # Of two ways Tab comes to the one that is taken; the arrows lead to the other.
    other = {
        button for field in opened.settings.findChildren(WaysField)
        for button in field._buttons.values() if not button.isChecked()
    }  # fmt: skip
    assert {widget.accessibleName() for widget in wanted - other - set(reached)} == set()


def test_the_wheel_scrolls_and_changes_nothing_that_it_passes(opened: Bench) -> None:
    plan = opened.session.plan
    opened.canvas.setFocus()
    bar = opened.settings.verticalScrollBar()
    boxes = [row.field.box for row in opened.settings.form.rows.values() if isinstance(row.field, CountField)]
    for box in boxes:
        opened.settings.ensureWidgetVisible(box)
        before = bar.value()
        turn = -120 if before < bar.maximum() else 120
        where = QPointF(box.rect().center())
        event = QWheelEvent(
            where, QPointF(box.mapToGlobal(where.toPoint())), QPoint(), QPoint(0, turn),
            Qt.MouseButton.NoButton, PLAIN, Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        QApplication.sendEvent(box, event)
        assert opened.session.plan is plan
        assert not event.isAccepted()
    assert len(boxes) == 4


def test_the_hand_on_the_canvas_is_followed(opened: Bench, hand: Hand) -> None:
    hand.press(3, 5)
    hand.move(5, 6, Qt.KeyboardModifier.ControlModifier)
    hand.release(5, 6, Qt.KeyboardModifier.ControlModifier)
    edit = named(opened, "Anchor x")
    assert isinstance(edit, QLineEdit)
    assert edit.text() == "5 in"


def test_the_table_names_kinds_that_there_are_fields_for(opened: Bench) -> None:
    kinds: dict[type[Any], Callable[[Setting], bool]] = {
        CountField: lambda setting: isinstance(setting.kind, Count),
        WaysField: lambda setting: isinstance(setting.kind, Ways),
        YesField: lambda setting: isinstance(setting.kind, YesNo),
    }
    for key, row in opened.settings.form.rows.items():
        assert isinstance(row, SettingRow)
        matches = [kind for kind, holds in kinds.items() if holds(ALL[key])]
        assert type(row.field) in (matches or [TypedField])
        assert (ALL[key].kind is PLACE) == (key == "start")


def test_what_is_remembered_of_groups_is_names_that_there_are() -> None:
    keys = {question.key for question in QUESTIONS} | {"repeats"}
    assert preferences.open_groups() <= keys
