"""The window around the canvas: panels, menus, files, and what holds for every control."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, QRect, QSettings, Qt, QUrl
from PySide6.QtGui import QAction, QDragEnterEvent, QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QDockWidget,
    QLabel,
    QLineEdit,
    QMenu,
    QWidget,
)
from pytestqt.qtbot import QtBot

from app.plan.model import Plan
from app.plan.plan_file import read_plan, write_plan
from app.window.dialogs import Unsaved
from app.window.look import Appearance, Look
from app.window.main_window import Bench
from app.window.session import Session
from app.window.settings_panel import SettingsPanel
from geometry.findings import Code
from geometry.units import LengthStyle
from tests.app.window.conftest import INCH, LEFT, PLAIN, Answers, Hand, block, ell

SQUARE_TEXT = "0 0\n6 0\n6 6\n0 6\n"
BOW_TIE = "0 0\n6 6\n6 0\n0 6\n"


def drop(bench: Bench, *paths: Path) -> None:
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    where = QPoint(400, 300)
    actions, buttons = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton
    enter = QDragEnterEvent(where, actions, mime, buttons, PLAIN)
    QApplication.sendEvent(bench, enter)
    assert enter.isAccepted()
    QApplication.sendEvent(bench, QDropEvent(QPointF(where), actions, mime, buttons, PLAIN))


def field(bench: Bench, name: str) -> QLineEdit:
    found = [each for each in bench.settings.findChildren(QLineEdit) if each.accessibleName() == name]
    assert len(found) == 1
    return found[0]


def type_into(edit: QLineEdit, text: str) -> None:
    edit.setFocus()
    edit.selectAll()
    QTest.keyClicks(edit, text)
    QTest.keyClick(edit, Qt.Key.Key_Return)


# --- settings ---------------------------------------------------------------------------------------


def test_a_typed_setting_changes_the_patch_and_the_fit(bench: Bench) -> None:
    type_into(field(bench, "Edge margin"), "3/8")
    assert bench.session.plan.patches[0].settings.edge_margin == pytest.approx(3 / 8 * INCH)
    assert bench.session.fit is not None
    assert bench.session.fit.stitchable[0].area == pytest.approx((7.25 * INCH) ** 2)
    assert bench.session.history.undo_name == "Change edge margin"
    bench.actions_.undo.trigger()
    assert field(bench, "Edge margin").text() == "1/4 in"


def wrongs(panel: SettingsPanel) -> list[str]:
    return [
        label.text() for label in panel.findChildren(QLabel)
        if label.property("part") == "problem" and not label.isHidden()
    ]  # fmt: skip


@pytest.mark.parametrize(("text", "why"), [("4 3", "two numbers"), ("1/0", ""), ("-2", ""), ("", "")])
def test_a_wrong_length_is_told_at_its_field_and_changes_nothing(bench: Bench, text: str, why: str) -> None:
    plan = bench.session.plan
    gap = field(bench, "Gap")
    gap.setFocus()
    gap.selectAll()
    QTest.keyClick(gap, Qt.Key.Key_Delete)
    QTest.keyClicks(gap, text)
    QTest.keyClick(gap, Qt.Key.Key_Return)
    assert bench.session.plan is plan
    assert len(wrongs(bench.settings)) == 1
    assert why in wrongs(bench.settings)[0]
    assert gap.text() == text
    QTest.keyClick(gap, Qt.Key.Key_Escape)
    assert wrongs(bench.settings) == []
    assert gap.text() == "1/4 in"


def test_a_setting_out_of_range_is_told_at_its_field(bench: Bench) -> None:
    plan = bench.session.plan
    type_into(field(bench, "Anchor x"), "200 in")
    assert bench.session.plan.patches[0].anchors[0][0] == pytest.approx(8 * INCH), "it slides to the seam"
    bench.actions_.undo.trigger()
    assert bench.session.plan == plan


def test_looking_at_a_rounded_length_does_not_round_it(bench: Bench) -> None:
    type_into(field(bench, "Gap"), "6.4 mm")
    margin = bench.session.plan
    gap = field(bench, "Gap")
    assert gap.text() == "1/4 in"
    gap.setFocus()
    QTest.keyClick(gap, Qt.Key.Key_Return)
    field(bench, "Edge margin").setFocus()
    assert bench.session.plan is margin
    gap.setFocus()
    QTest.keyClick(gap, Qt.Key.Key_End)
    QTest.keyClicks(gap, "x")
    QTest.keyClick(gap, Qt.Key.Key_Backspace)
    QTest.keyClick(gap, Qt.Key.Key_Return)
    assert bench.session.plan is margin
    assert bench.session.plan.patches[0].settings.gap == 6.4


def test_spans_longest_span_and_the_usual_value(bench: Bench) -> None:
    spans = next(
        box for box in bench.settings.findChildren(QAbstractSpinBox) if box.accessibleName() == "Spans a side"
    )
    spans.setFocus()
    QTest.keyClick(spans, Qt.Key.Key_Up)
    assert bench.session.plan.patches[0].settings.spans_per_side == 3
    assert bench.session.fit is not None
    assert len(bench.session.fit.fans[0].wedges) == 12
    type_into(field(bench, "Longest span"), "2")
    assert bench.session.plan.patches[0].settings.longest_span == 2 * INCH
    usual = next(
        button for button in bench.settings.findChildren(QAbstractButton)
        if button.accessibleName() == "Longest span: set the usual no limit"
    )  # fmt: skip
    assert usual.isEnabled()
    usual.click()
    assert bench.session.plan.patches[0].settings.longest_span == 0
    assert not usual.isEnabled()
    assert field(bench, "Longest span").text() == ""


# --- patches and findings ---------------------------------------------------------------------------


def test_the_list_chooses_and_follows(bench: Bench) -> None:
    view = bench.patches.list
    QTest.mouseClick(view.viewport(), LEFT, PLAIN, view.visualRect(bench.patches.model.index(1)).center())
    assert bench.session.chosen == 1
    bench.actions_.next_patch.trigger()
    assert bench.session.chosen == 0
    assert view.currentIndex().row() == 0


def test_the_chosen_patch_stays_in_sight_where_findings_grow(bench: Bench, qtbot: QtBot) -> None:
    """And who looked elsewhere is left there."""
    bench.session.open(Plan(title="Trial", patches=tuple(block(f"Block {number}") for number in range(9))))
    view, remedies = bench.patches.list, bench.findings.remedies

    def row(number: int) -> QRect:
        return view.visualRect(bench.patches.model.index(number))

    def with_remedies(count: int) -> None:
        before = view.height()
        for number, button in enumerate(remedies):
            button.say("Remove mark C1")
            button.setVisible(number < count)
        if count:
            qtbot.waitUntil(lambda: view.height() < before, timeout=4000)

    bench.session.choose(4)
    view.scrollTo(bench.patches.model.index(4), QAbstractItemView.ScrollHint.PositionAtBottom)
    with_remedies(len(remedies))
    assert view.viewport().rect().contains(row(4))
    with_remedies(0)
    bench.resizeDocks([bench.findChild(QDockWidget, "patches")], [420], Qt.Orientation.Vertical)
    qtbot.waitUntil(lambda: view.height() > 240, timeout=4000)
    view.scrollToTop()
    assert not view.viewport().rect().intersects(row(4))
    with_remedies(len(remedies))
    assert view.viewport().rect().contains(row(0))


def test_rename_repeat_remove_and_undo(bench: Bench) -> None:
    bench.actions_.rename.trigger()
    QTest.keyClicks(bench.patches.name, "Corner square")
    QTest.keyClick(bench.patches.name, Qt.Key.Key_Return)
    assert bench.session.plan.patches[0].name == "Corner square"
    QTest.keyClick(bench.patches.repeats.box, Qt.Key.Key_Up)
    assert bench.session.plan.patches[0].repeats == 2
    model = bench.patches.model
    spoken = model.data(model.index(0), Qt.ItemDataRole.AccessibleTextRole)
    assert spoken == "Corner square, 8 wedges, fits, 2 times"
    bench.actions_.remove_patch.trigger()
    assert [piece.name for piece in bench.session.plan.patches] == ["Ell"]
    assert bench.session.chosen == 0
    bench.actions_.undo.trigger()
    assert [piece.name for piece in bench.session.plan.patches] == ["Corner square", "Ell"]
    assert bench.session.chosen == 0
    bench.actions_.redo.trigger()
    bench.actions_.remove_patch.trigger()
    assert bench.session.chosen is None
    assert bench.session.fit is None
    bench.grab()


def test_a_name_that_is_taken_is_refused(bench: Bench) -> None:
    bench.actions_.rename.trigger()
    QTest.keyClicks(bench.patches.name, "Ell")
    QTest.keyClick(bench.patches.name, Qt.Key.Key_Return)
    assert bench.session.plan.patches[0].name == "Block"
    assert bench.patches.name.text() == "Block"
    assert "Ell" in bench.message.text


def test_a_click_on_a_finding_shows_its_place(bench: Bench) -> None:
    bench.session.choose(1)
    assert bench.session.fit is not None
    finding = next(each for each in bench.session.fit.findings if each.code is Code.OUT_OF_SIGHT)
    model = bench.findings.model
    row = next(n for n in range(model.rowCount()) if model.finding(n) is finding)
    for _ in range(8):
        bench.canvas.zoom(1)
    bench.canvas._look_at(bench.canvas.view.panned(4000, 0))
    before = bench.canvas.grab().toImage()
    view = bench.findings.list
    QTest.mouseClick(view.viewport(), LEFT, PLAIN, view.visualRect(model.index(row)).center())
    x, y = bench.canvas.view.point_to_screen(finding.at)
    assert 0 <= x <= bench.canvas.width()
    assert 0 <= y <= bench.canvas.height()
    assert bench.canvas.grab().toImage() != before
    assert model.data(model.index(row), Qt.ItemDataRole.AccessibleTextRole).startswith("problem: ")


def test_while_the_hand_moves_the_list_waits_for_it_to_rest(bench: Bench, hand: Hand, qtbot: QtBot) -> None:
    resets = []
    bench.findings.model.modelReset.connect(lambda: resets.append(1))
    bench.session.choose(1)
    resets.clear()
    hand.press(2, 7)
    for y in (6, 5, 4, 3, 2):
        hand.move(2, y)
    assert resets == []
    qtbot.waitUntil(lambda: resets == [1], timeout=3000)
    hand.release(2, 2)


# --- units and appearance ---------------------------------------------------------------------------


def test_switching_units_changes_no_patch(bench: Bench) -> None:
    plan = bench.session.plan
    seen = {}
    for style, action in bench.actions_.styles.items():
        action.trigger()
        assert bench.session.style is style
        seen[style] = field(bench, "Edge margin").text()
        assert bench.session.plan is plan
        assert bench.session.history.undo_name is None
        assert bench.session.history.is_clean
        assert Session(plan).style is style, "remembered"
    assert seen == {
        LengthStyle.EIGHTHS: "1/4 in",
        LengthStyle.SIXTEENTHS: "1/4 in",
        LengthStyle.DECIMAL: "0.25 in",
        LengthStyle.CM: "0.6 cm",
        LengthStyle.MM: "6.4 mm",
    }
    type_into(field(bench, "Gap"), "10")
    assert bench.session.plan.patches[0].settings.gap == 10.0


def test_light_and_dark_by_the_menu_and_remembered(bench: Bench, look: Look, qapp: QApplication) -> None:
    grounds = set()
    for choice in (Appearance.LIGHT, Appearance.DARK):
        bench.actions_.appearances[choice].trigger()
        assert look.is_dark == (choice is Appearance.DARK)
        grounds.add(bench.canvas.grab().toImage().pixelColor(3, 3).name())
    assert len(grounds) == 2
    again = Look(qapp)
    assert again.appearance is Appearance.DARK
    again.deleteLater()
    bench.actions_.appearances[Appearance.SYSTEM].trigger()


# --- files ------------------------------------------------------------------------------------------


def test_save_open_round_trip(bench: Bench, hand: Hand, answers: Answers, tmp_path: Path) -> None:
    hand.key(Qt.Key.Key_Right)
    assert bench.isWindowModified()
    answers.save = tmp_path / "trial.wedgeplan"
    bench.actions_.save.trigger()
    assert not bench.isWindowModified()
    plan = bench.session.plan
    assert read_plan(answers.save) == plan
    hand.key(Qt.Key.Key_Right)
    bench.actions_.save.trigger()
    assert answers.asked == ["save"], "the second time it knows where"
    bench.actions_.new.trigger()
    assert bench.session.plan.patches == ()
    assert bench.actions_.draw.isChecked()
    answers.plan = answers.save
    bench.actions_.open.trigger()
    assert bench.session.plan == read_plan(answers.save)
    assert bench.session.plan != plan
    assert bench.windowTitle() == "trial.wedgeplan[*] – Wedgewright"


def test_recent_plans_are_remembered_and_open(bench: Bench, answers: Answers, tmp_path: Path) -> None:
    for name in ("one", "tw&o"):
        answers.save = tmp_path / f"{name}.wedgeplan"
        bench.actions_.save_as.trigger()
    texts = [action.text() for action in bench.actions_.recent.actions()]
    assert texts == ["&1  tw&&o.wedgeplan", "&2  one.wedgeplan"]
    bench.actions_.recent.actions()[1].trigger()
    assert bench.session.path == tmp_path / "one.wedgeplan"
    (tmp_path / "one.wedgeplan").unlink()
    bench._fill_recent()
    assert len(bench.actions_.recent.actions()) == 1


def test_a_damaged_plan_is_told_and_the_present_one_stays(
    bench: Bench, answers: Answers, tmp_path: Path
) -> None:
    plan = bench.session.plan
    answers.plan = tmp_path / "broken.wedgeplan"
    answers.plan.write_text("{")
    bench.actions_.open.trigger()
    assert bench.session.plan is plan
    assert len(answers.told) == 1
    assert "broken.wedgeplan" in answers.told[0]


def test_a_plan_changed_outside_is_asked_about(bench: Bench, answers: Answers, tmp_path: Path) -> None:
    path = tmp_path / "edited.wedgeplan"
    write_plan(path, Plan(patches=(block("Inside"),)))
    path.write_text(path.read_text().replace("Inside", "Outside"))
    answers.plan = path
    bench.actions_.open.trigger()
    assert answers.asked == ["plan", "changed"]
    assert bench.session.plan.patches[0].name == "Block"
    answers.changed = True
    bench.actions_.open.trigger()
    assert bench.session.plan.patches[0].name == "Outside"


def test_a_save_that_fails_keeps_the_work(bench: Bench, hand: Hand, answers: Answers, tmp_path: Path) -> None:
    hand.key(Qt.Key.Key_Right)
    answers.save = tmp_path / "no such folder" / "x.wedgeplan"
    bench.actions_.save.trigger()
    assert len(answers.told) == 1
    assert bench.isWindowModified()
    assert bench.session.path is None


@pytest.mark.parametrize("answer", list(Unsaved))
def test_closing_with_unsaved_work_asks(
    bench: Bench, hand: Hand, answers: Answers, tmp_path: Path, answer: Unsaved
) -> None:
    hand.key(Qt.Key.Key_Right)
    answers.leaving = answer
    answers.save = tmp_path / "kept.wedgeplan"
    assert bench.close() == (answer is not Unsaved.CANCEL)
    assert "unsaved" in answers.asked
    assert answers.save.exists() == (answer is Unsaved.SAVE)
    answers.leaving = Unsaved.DISCARD


def test_closing_without_changes_asks_nothing(bench: Bench, answers: Answers) -> None:
    assert bench.close()
    assert answers.asked == []


def test_import_by_drop_asks_the_unit_and_never_guesses(
    bench: Bench, answers: Answers, tmp_path: Path
) -> None:
    path = tmp_path / "square.txt"
    path.write_text(SQUARE_TEXT)
    drop(bench, path)
    assert answers.asked == ["unit"]
    assert len(bench.session.plan.patches) == 2, "no answer, no patch"
    answers.unit = "in"
    drop(bench, path)
    new = bench.session.piece
    assert new is not None
    assert bench.session.chosen == 2
    assert new.patch().polygon.area == pytest.approx((6 * INCH) ** 2)
    assert "square.txt" in bench.message.text
    bench.actions_.undo.trigger()
    assert len(bench.session.plan.patches) == 2


def test_a_file_that_says_its_unit_is_not_asked_about(bench: Bench, answers: Answers, tmp_path: Path) -> None:
    path = tmp_path / "square.txt"
    path.write_text("unit: cm\n" + SQUARE_TEXT)
    answers.imports = [path]
    bench.actions_.import_.trigger()
    assert answers.asked == ["imports"]
    assert bench.session.plan.patches[2].patch().polygon.area == pytest.approx(3600)


def test_a_bow_tie_offers_its_parts(bench: Bench, answers: Answers, tmp_path: Path) -> None:
    path = tmp_path / "tie.txt"
    path.write_text("unit: in\n" + BOW_TIE)
    drop(bench, path)
    assert answers.asked == ["split"]
    assert len(bench.session.plan.patches) == 2
    answers.split = True
    drop(bench, path)
    new = bench.session.plan.patches[2:]
    assert [piece.patch().polygon.area for piece in new] == pytest.approx([9 * INCH**2] * 2)


def test_a_bow_tie_beside_what_is_hopeless_is_told_and_not_asked(
    bench: Bench, answers: Answers, tmp_path: Path
) -> None:
    path = tmp_path / "tie.txt"
    path.write_text(f"unit: in\n{BOW_TIE}\n0 0\n4 4\n")
    drop(bench, path)
    assert answers.asked == []
    assert len(answers.told) == 1
    assert "fewer than three" in answers.told[0]
    assert "--split" not in answers.told[0]
    assert len(bench.session.plan.patches) == 2


def test_a_file_that_is_none_is_told(bench: Bench, answers: Answers, tmp_path: Path) -> None:
    plan = bench.session.plan
    path = tmp_path / "empty.svg"
    path.write_bytes(b"")
    drop(bench, path)
    assert bench.session.plan is plan
    assert len(answers.told) == 1
    assert "empty.svg" in answers.told[0]


def test_dropping_a_plan_opens_it(bench: Bench, tmp_path: Path) -> None:
    path = tmp_path / "other.wedgeplan"
    write_plan(path, Plan(patches=(ell(),)))
    drop(bench, path)
    assert bench.session.path == path
    assert [piece.name for piece in bench.session.plan.patches] == ["Ell"]


def test_a_drop_of_no_file_is_not_taken(bench: Bench) -> None:
    mime = QMimeData()
    mime.setText("words")
    enter = QDragEnterEvent(QPoint(9, 9), Qt.DropAction.CopyAction, mime, LEFT, PLAIN)
    enter.ignore()
    QApplication.sendEvent(bench, enter)
    assert not enter.isAccepted()


def test_copy_as_picture(bench: Bench) -> None:
    QApplication.clipboard().clear()
    bench.actions_.copy.trigger()
    image = QApplication.clipboard().image()
    assert image.width() > 8 * 300, "the patch of 8 in at 300 dots per inch, as fine as paper"
    assert image.dotsPerMeterX() == round(300 / 0.0254)
    bench.actions_.quilted.trigger()
    bench.actions_.copy.trigger()
    assert QApplication.clipboard().pixmap().size() == bench.canvas.size()


def test_panels_and_places_come_back(bench: Bench, look: Look, qtbot: QtBot) -> None:
    bench.findings.parentWidget().close()
    bench.close()
    again = Bench(look, Plan(patches=(block(),)))
    qtbot.addWidget(again)
    again.show()
    assert again.findings.isHidden() or not again.findings.isVisible()
    assert again.settings.isVisible()
    assert QSettings().value("bench/state") is not None


# --- what holds for every control -------------------------------------------------------------------


def every_action(menu: QMenu) -> list[tuple[str, QAction]]:
    found = []
    for action in menu.actions():
        if action.isSeparator():
            continue
        found.append((menu.title(), action))
        inner = action.menu()
        if isinstance(inner, QMenu):
            found += every_action(inner)
    return found


def menus(bench: Bench) -> list[QMenu]:
    return [menu for action in bench.menuBar().actions() if isinstance(menu := action.menu(), QMenu)]


def test_every_action_sits_in_a_menu_with_an_access_key_of_its_own(bench: Bench) -> None:
    found = [entry for menu in menus(bench) for entry in every_action(menu)]
    in_menus = {action for _, action in found}
    stray = [
        action.text() for action in bench.findChildren(QAction)
        if action not in in_menus and action.text() and not action.isSeparator()
        and action.menu() is None and not isinstance(action.parent(), (QLineEdit,))
        and action is not bench.toolbar.toggleViewAction()
    ]  # fmt: skip
    assert stray == []
    taken: dict[tuple[str, str], str] = {}
    titles = [("", menu.menuAction()) for menu in menus(bench)]
    for menu, action in [*titles, *found]:
        text = action.text().replace("&&", "")
        assert text.count("&") == 1, f"{menu} > {text} has no access key"
        key = text[text.index("&") + 1].lower()
        assert (menu, key) not in taken, f"{menu}: {text} and {taken.get((menu, key))}"
        taken[menu, key] = text


def test_no_shortcut_is_given_twice(bench: Bench) -> None:
    keys = [
        key.toString()
        for menu in menus(bench)
        for _, action in every_action(menu)
        for key in action.shortcuts()
    ]
    assert len(keys) == len(set(keys))
    assert len(keys) > 20


def focusable(bench: Bench) -> list[QWidget]:
    return [
        widget for widget in bench.findChildren(QWidget)
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and not widget.objectName().startswith("qt_")
    ]  # fmt: skip


def test_no_focusable_widget_without_a_name(bench: Bench) -> None:
    widgets = focusable(bench)
    assert len(widgets) > 15
    nameless = [
        f"{type(widget).__name__} in {type(widget.parent()).__name__}" for widget in widgets
        if not widget.accessibleName()
    ]  # fmt: skip
    assert nameless == []


def test_the_keys_reach_every_control(bench: Bench, qtbot: QtBot) -> None:
    """Tab goes round through all visible, enabled controls and comes back to the canvas."""
    bench.activateWindow()
    bench.canvas.setFocus()
    reached = set()
    for _ in range(80):
        focus = QApplication.focusWidget()
        if focus is None or (focus is bench.canvas and reached):
            break
        reached.add(focus)
        QTest.keyClick(focus, Qt.Key.Key_Tab)
    wanted = {
        widget for widget in focusable(bench)
        if widget.isVisible() and widget.isEnabled() and widget.focusProxy() is None
    }  # fmt: skip
    missed = {
        widget.accessibleName() for widget in wanted - reached
        # A spin box's inner line is reached as the spin box.
        if not isinstance(widget.parent(), (QAbstractSpinBox, QComboBox))
    }  # fmt: skip
    assert missed == set()


def test_what_is_pressed_is_large_enough(bench: Bench) -> None:
    small = [
        (
            type(widget).__name__,
            widget.accessibleName() or widget.objectName(),
            widget.width(),
            widget.height(),
        )
        for widget in bench.findChildren(QWidget)
        if isinstance(widget, (QAbstractButton, QLineEdit, QAbstractSpinBox, QComboBox))
        and widget.isVisible()
        and (widget.height() < 24 or widget.width() < 24)
    ]
    assert small == []


def test_base_text_is_12_points(bench: Bench) -> None:
    assert bench.font().pointSizeF() == 12.0
    assert bench.canvas.font().pointSizeF() == 12.0
