"""The window of the spaces between blocks, by keys and clicks alone."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import shapely
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QLabel,
    QLineEdit,
    QListWidget,
    QPushButton,
    QScrollArea,
    QWidget,
)
from pytestqt.qtbot import QtBot

from app.plan.model import Plan, PlanPatch
from app.sketch.leftover_form import BlocksAsked, BlocksForm, Spaces, Way, spaces_of
from app.window import leftover_dialog
from app.window.leftover_dialog import LeftoverDialog
from app.window.look import Look
from app.window.main_window import Bench
from app.window.session import Session
from geometry import Patch, Settings
from tests.app.window.conftest import INCH, LEFT

ALT = Qt.KeyboardModifier.AltModifier
ENTER = Qt.Key.Key_Return
Corners = tuple[tuple[float, float], ...]


def piece(name: str, *corners: tuple[float, float]) -> PlanPatch:
    """A patch where it lies, in."""
    polygon = shapely.Polygon(corners)
    patch = Patch([(x * INCH, y * INCH) for x, y in corners])
    middle = polygon.representative_point()
    return PlanPatch.of(name, patch, [(middle.x * INCH, middle.y * INCH)])


def oblong(name: str, left: float, top: float, right: float, bottom: float) -> PlanPatch:
    return piece(name, (left, top), (right, top), (right, bottom), (left, bottom))


TWO_IN_A_ROW = (
    oblong("Star", 2, 0, 6, 6),
    oblong("Top", 0, 0, 14, 6),
    oblong("Boat", 8, 0, 12, 6),
)
"""Three spaces of 2 × 6 in, all alike."""
HALF_SQUARE = piece("Half", (0, 0), (4, 0), (0, 4))

Make = Callable[..., LeftoverDialog]


@pytest.fixture
def make(look: Look, qtbot: QtBot) -> Iterator[Make]:
    made: list[LeftoverDialog] = []

    def dialog(*patches: PlanPatch) -> LeftoverDialog:
        session = Session(Plan(title="Trial", patches=patches))
        made.append(LeftoverDialog(BlocksForm(), session, Settings(), lambda: None, look))
        session.setParent(made[-1])
        qtbot.addWidget(made[-1])
        made[-1].show()
        qtbot.waitExposed(made[-1])
        made[-1].activateWindow()
        QApplication.processEvents()
        settled(made[-1], qtbot)
        return made[-1]

    yield dialog
    for each in made:
        each.close()


def settled(dialog: LeftoverDialog, qtbot: QtBot) -> None:
    """Until the spaces are those of what is chosen."""
    qtbot.waitUntil(lambda: not dialog._rest.isActive() and not dialog._work.is_working, timeout=8000)


def focus() -> QWidget:
    held = QApplication.focusWidget()
    assert held is not None
    return held


def press(key: Qt.Key, keys: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
    QTest.keyClick(focus(), key, keys)


def tab_to(wanted: QWidget) -> None:
    for _ in range(20):
        if focus() is wanted:
            return
        press(Qt.Key.Key_Tab)
    pytest.fail(f"Tab never comes to {wanted.accessibleName()}")


def type_over(text: str) -> None:
    press(Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClicks(focus(), text)


def sizes(dialog: LeftoverDialog) -> list[Any]:
    """Area in² and repeats of each kind."""
    return [(patch.patch().polygon.area / INCH**2, patch.repeats) for patch in dialog.patches]


def rows_of(shown: QListWidget) -> list[str]:
    return [shown.item(number).text() for number in range(shown.count())]


# --- as they are drawn ------------------------------------------------------------------------------


def test_the_plan_is_offered_and_its_largest_patch_is_the_frame(make: Make) -> None:
    dialog = make(*TWO_IN_A_ROW)
    assert rows_of(dialog.frame) == rows_of(dialog.blocks) == ["Star", "Top", "Boat"]
    assert dialog.frame.currentItem().text() == "Top"
    assert not dialog.blocks.item(1).flags() & Qt.ItemFlag.ItemIsEnabled, "the frame is no block"
    assert sizes(dialog) == [(pytest.approx(12), 3)]
    assert rows_of(dialog.list) == ["Space 1: 2 in × 6 in, 3 times"]
    assert dialog.sentences.text() == "2 blocks leave 3 spaces of 1 kind."
    assert dialog.add.text() == "&Add 1 patch"


def test_blocks_are_chosen_by_the_keyboard_alone(make: Make, qtbot: QtBot) -> None:
    """Space takes a tick away and gives it back; Enter at once after it never adds what was before."""
    dialog = make(*TWO_IN_A_ROW)
    assert focus() is dialog.frame
    tab_to(dialog.blocks)
    press(Qt.Key.Key_End)
    press(Qt.Key.Key_Space)
    press(ENTER)
    assert dialog.isVisible(), "the spaces that were seen are not those of the blocks that are ticked"
    settled(dialog, qtbot)
    assert sizes(dialog) == [(pytest.approx(48), 1), (pytest.approx(12), 1)]
    press(Qt.Key.Key_Space)
    settled(dialog, qtbot)
    assert sizes(dialog) == [(pytest.approx(12), 3)]
    press(ENTER)
    assert dialog.result() == 1


def test_another_frame_and_no_block_are_answered_in_words(make: Make, qtbot: QtBot) -> None:
    dialog = make(*TWO_IN_A_ROW)
    press(Qt.Key.Key_Home)
    settled(dialog, qtbot)
    assert dialog.form.frame == 0
    press(Qt.Key.Key_Down)
    settled(dialog, qtbot)
    for item in (dialog.blocks.item(0), dialog.blocks.item(2)):
        item.setCheckState(Qt.CheckState.Unchecked)
    settled(dialog, qtbot)
    assert dialog.sentences.text() == "▲ No block is ticked; tick one or more"
    assert not dialog.add.isEnabled()
    assert dialog.list.count() == 0
    assert dialog.picture.accessibleDescription() == "no block is ticked; tick one or more"


@pytest.mark.parametrize(
    ("second", "words"),
    [
        (
            (5, 0, 9, 6),
            "▲ 2 blocks leave 2 spaces of 2 kinds. 1 pair of blocks lie over each other: “Star” and “Boat”.",
        ),
        ((10, 0, 15, 6), "▲ 2 blocks leave 2 spaces of 2 kinds. 1 block reaches out of the frame: “Boat”."),
        ((6.004, 0, 12, 6), "1 strip thinner than a pen line was left out"),
    ],
)
def test_what_lies_wrong_is_said(make: Make, second: tuple[float, ...], words: str) -> None:
    """Rectangles, counted by hand; 0.004 in is 0.1 mm, a third of a pen line."""
    left, top, right, bottom = second
    dialog = make(
        oblong("Top", 0, 0, 14, 6), oblong("Star", 2, 0, 6, 6), oblong("Boat", left, top, right, bottom)
    )
    assert words in dialog.sentences.text()
    assert (dialog.sentences.property("part") == "wrong") is words.startswith("▲")
    assert words in dialog.picture.accessibleDescription() or words.startswith("▲")


def test_patches_that_nobody_placed_begin_with_one_of_them_in_rows(make: Make, qtbot: QtBot) -> None:
    """Drawn each for itself they lie in a heap, on each other's upper left; no red words greet her then.

    Squares of 4, 6, 5 and 3 in, and half a square, of which the other half is left.
    """
    heap = [oblong(name, 0, 0, side, side) for name, side in (("A", 4), ("B", 6), ("C", 5), ("D", 3))]
    dialog = make(*heap, HALF_SQUARE)
    assert dialog.form.way is dialog.way.value is Way.ROWS
    assert focus() is dialog.rows.box
    assert dialog.block.currentItem().text() == "A"
    dialog.block.setCurrentRow(1 + 4)
    settled(dialog, qtbot)
    assert sizes(dialog) == [(pytest.approx(8), 12)]
    assert dialog.sentences.text() == "12 blocks leave 12 spaces of 1 kind."
    dialog._choose_way(Way.AS_DRAWN)
    settled(dialog, qtbot)
    named = "“A” and “C”, “A” and “D”, “A” and “Half”, …"
    assert f"6 pairs of blocks lie over each other: {named}" in dialog.sentences.text()


def test_all_choices_are_in_sight_at_the_usual_size(make: Make, qtbot: QtBot) -> None:
    """The window fits 1280 × 720, and nothing of its column has to be scrolled to."""
    dialog = make(*(oblong(str(number), 0, 0, 4, 4) for number in range(9)))
    for way in Way:
        dialog._choose_way(way)
        settled(dialog, qtbot)
        area = dialog.findChild(QScrollArea)
        assert isinstance(area, QScrollArea)
        QApplication.processEvents()
        assert area.verticalScrollBar().maximum() == 0, way


# --- a block in rows --------------------------------------------------------------------------------


def test_rows_of_a_turned_block_by_the_keyboard_alone(make: Make, qtbot: QtBot) -> None:
    """Half a square, 4 × 4 in: unturned, two of them leave two halves; with the second turned a quarter
    clockwise its long side faces the first's, and both halves are one triangle of 16 in², by hand.
    """
    dialog = make(HALF_SQUARE)
    assert focus() is dialog.rows.box, "one patch can only be placed in rows"
    type_over("1")
    press(Qt.Key.Key_Tab)
    assert focus() is dialog.columns.box
    type_over("2")
    press(ENTER)
    assert dialog.isVisible(), "Enter in a field only tells what was typed"
    settled(dialog, qtbot)
    assert sizes(dialog) == [(pytest.approx(8), 2)]
    tab_to(dialog.turns)
    QTest.keyClicks(focus(), "0 90")
    settled(dialog, qtbot)
    assert sizes(dialog) == [(pytest.approx(16), 1)]
    assert len(dialog.patches[0].patch().outline) == 3
    type_over("0 270")
    settled(dialog, qtbot)
    assert sizes(dialog) == [(pytest.approx(8), 2)]
    type_over("0 9o")
    settled(dialog, qtbot)
    assert "“0 9o” is no list of turns" in dialog.sentences.text()
    assert dialog.turns.property("wrong")
    assert not dialog.add.isEnabled()


def test_step_and_frame_are_typed(make: Make, qtbot: QtBot) -> None:
    """Two squares of 4 in, 6 in apart, in a frame of 14 × 4 in: 2 in at each side and 2 in between."""
    dialog = make(oblong("Star", 0, 0, 4, 4))
    for field, text in (
        (dialog.rows.box, "1"),
        (dialog.columns.box, "2"),
        (dialog.across.field, "6"),
        (dialog.wide.field, "14"),
        (dialog.high.field, "4"),
    ):
        tab_to(field)
        type_over(text)
        press(ENTER)
    settled(dialog, qtbot)
    assert sizes(dialog) == [(pytest.approx(8), 3)]


def test_access_keys_lead_to_the_choices(make: Make) -> None:
    dialog = make(*TWO_IN_A_ROW)
    press(Qt.Key.Key_B, ALT)
    assert focus() is dialog.blocks
    press(Qt.Key.Key_R, ALT)
    assert focus() is dialog.frame
    press(Qt.Key.Key_H, ALT)
    press(Qt.Key.Key_Down)
    assert dialog.form.way is Way.ROWS
    for key, wanted in (
        (Qt.Key.Key_B, dialog.block),
        (Qt.Key.Key_W, dialog.rows.box),
        (Qt.Key.Key_C, dialog.columns.box),
        (Qt.Key.Key_S, dialog.across.field),
        (Qt.Key.Key_D, dialog.down.field),
        (Qt.Key.Key_I, dialog.wide.field),
        (Qt.Key.Key_G, dialog.high.field),
        (Qt.Key.Key_T, dialog.turns),
    ):
        press(key, ALT)
        assert focus() is wanted, wanted.accessibleName()


@pytest.mark.parametrize("way", Way)
def test_tab_goes_down_and_every_key_is_given_once(make: Make, qtbot: QtBot, way: Way) -> None:
    """Also while it looks, when Stop is there too. Order as on the screen: down the choices, then right."""
    dialog = make(*TWO_IN_A_ROW, HALF_SQUARE)
    dialog.form.block = 3
    dialog._choose_way(way)
    settled(dialog, qtbot)
    dialog._say_waiting(True)
    QApplication.processEvents()
    dialog.plan.setFocus()
    order: list[QWidget] = []
    while focus() not in order:
        order.append(focus())
        assert focus().accessibleName(), focus()
        assert focus().height() >= 24, focus().accessibleName()
        press(Qt.Key.Key_Tab)
    chosen: list[QWidget] = [dialog.frame, dialog.blocks]
    if way is Way.ROWS:
        chosen = [dialog.block, dialog.rows.box, dialog.columns.box, dialog.across.field, dialog.down.field]
        chosen += [dialog.wide.field, dialog.high.field, dialog.turns]
    cancel = next(b for b in dialog.findChildren(QPushButton) if b.accessibleName() == "Cancel")
    assert order[:2] == [dialog.plan, dialog.file]
    assert order[2].accessibleName().startswith("How the blocks lie")
    assert order[3:] == [*chosen, dialog.stop, dialog.list, cancel, dialog.add]
    labels: list[QLabel | QAbstractButton] = [*dialog.findChildren(QLabel)]
    labels += dialog.findChildren(QAbstractButton)
    words = [label.text().lower() for label in labels if label.isVisible() and "&" in label.text()]
    keys = [each[each.index("&") + 1] for each in words]
    assert len(keys) == len(set(keys)), sorted(keys)
    names = [each.accessibleName() for each in order]
    assert len(set(names)) == len(names)


# --- what takes long --------------------------------------------------------------------------------


def test_stop_answers_while_the_work_goes_on(
    make: Make, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What comes too late is thrown away; another choice looks again."""
    dialog = make(*TWO_IN_A_ROW)
    go_on, ended = threading.Event(), threading.Event()

    def slow(asked: BlocksAsked, settings: Settings) -> Spaces:
        go_on.wait(20)
        try:
            return spaces_of(asked, settings)
        finally:
            ended.set()

    monkeypatch.setattr(leftover_dialog, "spaces_of", slow)
    try:
        tab_to(dialog.blocks)
        press(Qt.Key.Key_End)
        press(Qt.Key.Key_Space)
        qtbot.waitUntil(dialog.stop.isVisible, timeout=8000)
        assert dialog.progress.isVisible()
        assert dialog.sentences.text() == "Looking for the spaces…"
        assert not dialog.add.isEnabled()
        tab_to(dialog.stop)
        press(ENTER)
        assert dialog.isVisible()
        assert not dialog.stop.isVisible()
        assert dialog.sentences.text() == "Stopped. Change something to look again."
        assert not go_on.is_set(), "the work has not ended"
        assert focus().isVisible()
    finally:
        go_on.set()
    assert ended.wait(8)
    qtbot.wait(60)
    assert dialog.patches == ()
    assert not dialog.add.isEnabled()
    tab_to(dialog.blocks)
    press(Qt.Key.Key_Space)
    settled(dialog, qtbot)
    assert sizes(dialog) == [(pytest.approx(12), 3)]


# --- from the menu ----------------------------------------------------------------------------------


def run(bench: Bench, qtbot: QtBot, act: Callable[[LeftoverDialog], None]) -> None:
    """``act`` on the window that the menu opens."""

    def acting() -> None:
        made = QApplication.activeModalWidget()
        assert isinstance(made, LeftoverDialog)
        made.activateWindow()
        QApplication.processEvents()
        try:
            settled(made, qtbot)
            act(made)
        finally:
            if made.isVisible():  # a slip here would wait for ever
                made.reject()

    QTimer.singleShot(0, acting)
    bench.actions_.leftover.trigger()


def test_ok_adds_all_in_one_step_and_cancel_nothing(bench: Bench, qtbot: QtBot) -> None:
    bench.session.open(Plan(title="Trial", patches=(*TWO_IN_A_ROW, oblong("Bird", 12, 0, 13, 6))))
    before = bench.session.plan

    def cancel(dialog: LeftoverDialog) -> None:
        tab_to(dialog.blocks)
        press(Qt.Key.Key_End)
        press(Qt.Key.Key_Space)
        settled(dialog, qtbot)
        press(Qt.Key.Key_Escape)
        assert not dialog.isVisible()

    def add(dialog: LeftoverDialog) -> None:
        bird = dialog.blocks.item(3)
        assert bird.checkState() is Qt.CheckState.Unchecked, "it comes back as it was left"
        bird.setCheckState(Qt.CheckState.Checked)
        settled(dialog, qtbot)
        QTest.mouseClick(dialog.add, LEFT)

    run(bench, qtbot, cancel)
    assert bench.session.plan is before
    assert not bench.actions_.undo.isEnabled()
    run(bench, qtbot, add)
    added = bench.session.plan.patches[len(before.patches) :]
    assert bench.session.plan.patches[: len(before.patches)] == before.patches
    assert [(each.name, each.repeats) for each in added] == [("Space 1", 2), ("Space 2", 1)]
    assert [each.patch().polygon.area / INCH**2 for each in added] == pytest.approx([12, 6])
    assert "3 blocks leave 3 spaces of 2 kinds." in bench.message.text
    bench.actions_.undo.trigger()
    assert bench.session.plan.patches == before.patches
    assert not bench.actions_.undo.isEnabled(), "one step"
    bench.actions_.redo.trigger()
    assert len(bench.session.plan.patches) == len(before.patches) + 2


def test_every_field_has_a_name_and_words(make: Make) -> None:
    dialog = make(*TWO_IN_A_ROW)
    for kind in (QLineEdit, QAbstractButton, QListWidget):
        for each in dialog.findChildren(kind):
            own = not each.objectName().startswith("qt_")
            if own and each.focusPolicy() is not Qt.FocusPolicy.NoFocus:
                assert each.accessibleName(), each
                assert each.toolTip() or each.whatsThis(), each.accessibleName()
