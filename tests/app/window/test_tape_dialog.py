"""The window of tape measures, by keys and clicks alone."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest
import shapely
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLineEdit, QWidget
from pytestqt.qtbot import QtBot

from app.sketch.tape_form import TapeForm
from app.window.look import Look
from app.window.main_window import Bench
from app.window.tape_dialog import TapeDialog
from geometry.units import LengthStyle
from tests.app.window.conftest import CTRL, INCH, LEFT

HOUSE = np.array([(0, 0), (12, 0), (14, 9), (6, 13), (-2, 8)], dtype=float)
ENTER = Qt.Key.Key_Return


@pytest.fixture
def dialog(look: Look, qtbot: QtBot) -> Iterator[TapeDialog]:
    made = TapeDialog(TapeForm(), LengthStyle.EIGHTHS, look)
    yield shown(made, qtbot)
    made.close()


def shown(made: TapeDialog, qtbot: QtBot) -> TapeDialog:
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    made.activateWindow()
    QApplication.processEvents()
    return made


def settled(dialog: TapeDialog, qtbot: QtBot) -> None:
    """Until the shape is that of what is typed."""
    qtbot.waitUntil(lambda: not dialog._rest.isActive() and not dialog._work.is_working, timeout=8000)


def focus() -> QWidget:
    held = QApplication.focusWidget()
    assert held is not None
    return held


def type_lines(*lengths: str) -> None:
    """Each into the field that has the keys, and Enter."""
    for length in lengths:
        QTest.keyClicks(focus(), length)
        QTest.keyClick(focus(), ENTER)


def between(corners: str) -> str:
    one, other = (HOUSE["ABCDE".index(letter)] for letter in corners)
    return f"{math.dist(one, other):.4f}"


def button(dialog: QWidget, name: str) -> QAbstractButton:
    (found,) = (each for each in dialog.findChildren(QAbstractButton) if each.accessibleName() == name)
    return found


def set_corners(dialog: TapeDialog, count: int) -> None:
    dialog.count.box.setFocus()
    dialog.count.box.selectAll()
    QTest.keyClicks(dialog.count.box, str(count))
    QTest.keyClick(dialog.count.box, ENTER)


def test_by_the_keyboard_alone(dialog: TapeDialog, qtbot: QtBot) -> None:
    """Corners, five sides, what it asks for, Ctrl+Enter: the shape that was measured."""
    set_corners(dialog, 5)
    assert focus() is dialog._lines[0].length
    type_lines(*(between(side) for side in ("AB", "BC", "CD", "DE", "EA")))
    settled(dialog, qtbot)
    assert dialog.patch is None
    assert "2 more measures would settle it" in dialog.sentences.text()
    asked = []
    while dialog.patch is None:
        if focus() is not dialog.add:
            QTest.keyClick(focus(), ENTER)
            settled(dialog, qtbot)
        assert focus() is dialog.add, "Enter behind the last goes to what is wanted"
        asked.append(dialog.add.text())
        QTest.keyClick(dialog.add, ENTER)
        line = dialog._lines[-1]
        assert focus() is line.length
        type_lines(between(line.row.pair.replace(" – ", "")))
        settled(dialog, qtbot)
        assert len(asked) < 4
    assert asked[0] == "Add &measure A – C"
    assert dialog.patch.polygon.area == pytest.approx(shapely.Polygon(HOUSE * INCH).area, rel=1e-4)
    assert dialog.finish.isEnabled()
    assert not dialog.isHidden(), "Enter in a field adds nothing"
    QTest.keyClick(focus(), ENTER, CTRL)
    assert dialog.result() == 1


def test_a_corner_that_points_into_the_patch_is_said_by_its_box(dialog: TapeDialog, qtbot: QtBot) -> None:
    """The measures of a dart are those of a kite too."""
    set_corners(dialog, 4)
    type_lines("11.1803", "11.1803", "6.4031", "6.4031")
    settled(dialog, qtbot)
    QTest.keyClick(dialog.add, ENTER)
    QTest.keyClick(dialog._lines[-1].pair, Qt.Key.Key_A, CTRL)
    QTest.keyClicks(dialog._lines[-1].pair, "AC")
    dialog._lines[-1].length.setFocus()
    type_lines("10")
    settled(dialog, qtbot)
    areas = []
    for way in (None, "mouse", "key"):
        box = next(each for each in dialog.inward if each.text() == "D")
        if way == "mouse":
            QTest.mouseClick(box, LEFT, pos=box.rect().center() - box.rect().center() / 2)
        elif way == "key":
            QTest.keyClick(box, Qt.Key.Key_Space)
        settled(dialog, qtbot)
        assert dialog.patch is not None
        areas.append(dialog.patch.polygon.area / INCH**2)
    assert areas == pytest.approx([70, 30, 70], abs=0.01)


def test_tab_goes_as_one_measures(dialog: TapeDialog) -> None:
    dialog._lines[0].length.setFocus()
    order: list[QWidget] = []
    for _ in range(8):
        order.append(focus())
        QTest.keyClick(focus(), Qt.Key.Key_Tab)
    assert order == [field for line in dialog._lines for field in (line.length, line.bow)]
    for each in order:
        assert each.accessibleName()
    assert len({each.accessibleName() for each in order}) == len(order)


def test_the_wrong_one_stands_out_and_is_taken_back(dialog: TapeDialog, qtbot: QtBot) -> None:
    set_corners(dialog, 5)
    type_lines(*(between(side) for side in ("AB", "BC", "CD", "DE", "EA")))
    for _ in range(4):
        dialog._add()
        line = dialog._lines[-1]
        wrong = f"{float(between('BD')) + 0.375:.4f}"
        asked = line.row.pair.replace(" – ", "")
        QTest.keyClicks(line.length, wrong if asked == "BD" else between(asked))
    settled(dialog, qtbot)
    (suspect,) = [line for line in dialog._lines if line.off.text().startswith("▲")]
    assert suspect.row.pair == "B – D"
    assert suspect.off.text() == "▲ 3/8 in too long"
    assert "B to D is 3/8 in longer than the rest allow" in dialog.sentences.text()
    assert suspect.length.accessibleDescription() == "3/8 in too long"
    suspect.length.setFocus()
    suspect.length.selectAll()
    QTest.keyClicks(suspect.length, between("BD"))
    settled(dialog, qtbot)
    assert all(line.off.text() == "fits" for line in dialog._lines)
    assert "No corner is off by more than" in dialog.sentences.text()


def test_what_cannot_be_read_is_said_once_the_field_is_left(dialog: TapeDialog, qtbot: QtBot) -> None:
    first, second = dialog._lines[0].length, dialog._lines[1].length
    first.setFocus()
    QTest.keyClicks(first, "4 x")
    settled(dialog, qtbot)
    assert "4 x" not in dialog.sentences.text(), "nobody is scolded while typing"
    second.setFocus()
    settled(dialog, qtbot)
    assert "“4 x” is not a length" in dialog.sentences.text()
    assert first.property("wrong")
    assert not dialog.finish.isEnabled()


def test_another_shape_is_one_click_away(dialog: TapeDialog, qtbot: QtBot) -> None:
    """A kite by its sides and one diagonal: the tip C points out or in; by Heron's formula both are known."""
    dialog._lines[0].length.setFocus()
    type_lines("10", "10", "7", "7")
    settled(dialog, qtbot)
    dialog._add()
    QTest.keyClicks(focus(), "8")
    settled(dialog, qtbot)
    pair = dialog._lines[-1].row.pair
    assert dialog.patch is not None
    if dialog.other.isHidden():
        pytest.fail(f"{pair}: no other shape is offered")
    before = dialog.patch.polygon.area
    QTest.mouseClick(dialog.other, LEFT)
    other = dialog.patch
    assert other is not None
    assert other.polygon.area != pytest.approx(before, rel=0.01)
    QTest.mouseClick(dialog.other, LEFT)
    assert dialog.patch is not None
    assert dialog.patch.polygon.area == pytest.approx(before)


def test_the_menu_adds_one_patch_in_one_step_and_keeps_the_sheet(bench: Bench, qtbot: QtBot) -> None:
    count = len(bench.session.plan.patches)

    def run(lengths: tuple[str, ...], key: str) -> None:
        def act() -> None:
            made = QApplication.activeModalWidget()
            assert isinstance(made, TapeDialog)
            made.activateWindow()
            QApplication.processEvents()
            seen.append([line.length.text() for line in made._lines])
            try:
                if lengths:
                    set_corners(made, 3)
                    type_lines(*lengths)
                settled(made, qtbot)
                QTest.mouseClick(button(made, key), LEFT)
            finally:
                if made.isVisible():  # a slip here would wait for ever
                    made.reject()

        QTimer.singleShot(0, act)
        bench.actions_.tape.trigger()

    seen: list[list[str]] = []
    run(("30", "40", "50"), "Cancel")
    assert len(bench.session.plan.patches) == count
    run((), "Add the patch")
    assert seen[1] == ["30", "40", "50"], "nothing that was typed is lost"
    piece = bench.session.piece
    assert piece is not None
    assert piece.name == "Measured patch"
    assert piece.patch().polygon.area == pytest.approx(600 * INCH**2), "the 3-4-5 triangle"
    bench.actions_.undo.trigger()
    assert len(bench.session.plan.patches) == count


def test_an_emptied_sheet_comes_back(dialog: TapeDialog) -> None:
    dialog._lines[0].length.setFocus()
    type_lines("10", "11")
    QTest.mouseClick(button(dialog, "Empty the sheet"), LEFT)
    assert [line.length.text() for line in dialog._lines] == [""] * 4
    QTest.mouseClick(button(dialog, "Bring the last sheet back"), LEFT)
    assert [line.length.text() for line in dialog._lines] == ["10", "11", "", ""]


def test_a_bow_makes_the_side_a_curve(dialog: TapeDialog, qtbot: QtBot) -> None:
    """A triangle with an arc on one side gains the circular segment, r²/2·(φ - sin φ)."""
    set_corners(dialog, 3)
    type_lines("10", "10", "10")
    settled(dialog, qtbot)
    assert dialog.patch is not None
    flat = dialog.patch.polygon.area
    QTest.keyClicks(dialog._lines[0].bow, "1")
    settled(dialog, qtbot)
    radius = (5**2 + 1) / 2
    angle = 2 * math.asin(5 / radius)
    segment = radius**2 / 2 * (angle - math.sin(angle)) * INCH**2
    assert dialog.patch.polygon.area - flat == pytest.approx(segment, rel=1e-3)


def test_every_field_has_a_name_and_is_large_enough(dialog: TapeDialog) -> None:
    dialog._add()
    for kind in (QLineEdit, QAbstractButton):
        for each in dialog.findChildren(kind):
            own = not each.objectName().startswith("qt_")
            if own and each.isVisible() and each.focusPolicy() is not Qt.FocusPolicy.NoFocus:
                assert each.accessibleName(), each
                assert each.height() >= 24
                assert each.toolTip() or each.whatsThis() or each.parent() is dialog.count
