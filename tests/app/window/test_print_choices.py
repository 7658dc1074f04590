"""What is asked before a picture or a drawing is saved, and where."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QDialog,
    QFileDialog,
    QLabel,
    QLineEdit,
    QMessageBox,
    QWidget,
)
from pytestqt.qtbot import QtBot

from app.exporting.options import MarkShape, TemplateKind, TemplateOptions
from app.window.dialogs import Dialogs
from app.window.look import Look
from app.window.print_drawing import DrawingDialog
from app.window.print_picture import ResolutionDialog
from geometry.units import LengthStyle
from tests.app.window.conftest import LEFT, press


@pytest.mark.parametrize("dots", [96, 150, 300, 600])
def test_dots_are_chosen(parent: QWidget, qtbot: QtBot, dots: int) -> None:
    made = ResolutionDialog(300, parent)
    qtbot.addWidget(made)
    made.show()
    (name,) = (
        b.accessibleName() for b in made.findChildren(QAbstractButton) if b.text().startswith(f"{dots},")
    )
    press(made, name)
    press(made, "Save")
    assert made.result() == QDialog.DialogCode.Accepted
    assert made.dots_per_inch == dots


def test_dots_are_typed_and_refused(parent: QWidget, qtbot: QtBot) -> None:
    made = ResolutionDialog(300, parent)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    made.activateWindow()
    press(made, "Dots per inch: Another number")
    field = made.findChild(QLineEdit)
    assert isinstance(field, QLineEdit)
    for text in ("71", "1201", "many", "99.5"):
        field.setFocus()
        field.selectAll()
        QTest.keyClicks(field, text)
        press(made, "Save")
        assert made.isVisible(), text
        assert any("▲" in label.text() for label in made.findChildren(QLabel) if label.isVisible()), text
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "200")
    press(made, "Save")
    assert made.result() == QDialog.DialogCode.Accepted
    assert made.dots_per_inch == 200
    again = ResolutionDialog(made.dots_per_inch, parent)
    qtbot.addWidget(again)
    assert again.choice.value == 0
    assert again.dots_per_inch == 200


def test_a_drawing_for_a_cutter(parent: QWidget, qtbot: QtBot) -> None:
    made = DrawingDialog(TemplateOptions(kind=TemplateKind.MARKS), LengthStyle.MM, parent)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    assert not made.shape.isEnabled()
    assert not made.options.cutter
    press(made, "What for: For a stencil cutter (DXF)")
    press(made, "A mark is cut as: A cross")
    made.size_row.field.setFocus()
    for text, kept in (("30", True), ("none", True), ("4", False)):
        made.size_row.field.selectAll()
        QTest.keyClicks(made.size_row.field, text)
        press(made, "Save")
        assert made.isVisible() == kept, text
    assert made.drawing.ending == ".dxf"
    assert made.options == TemplateOptions(
        kind=TemplateKind.MARKS, cutter=True, mark_shape=MarkShape.CROSS, mark_size=4.0
    )
    texts = [each.text() for each in made.findChildren(QLabel) if each.buddy() is not None]
    texts += [each.text() for each in made.findChildren(QAbstractButton) if "&" in each.text()]
    keys = [text[text.index("&") + 1].lower() for text in texts]
    assert len(keys) == len(set(keys)) == 4


@pytest.mark.parametrize(
    ("endings", "typed", "kind", "wanted"),
    [
        ((".pdf",), "block", 0, "block.pdf"),
        ((".svg", ".dxf"), "block", 1, "block.dxf"),
        ((".svg", ".dxf"), "block", 0, "block.svg"),
        ((".svg", ".dxf"), "block.dxf", 0, "block.dxf"),
        ((".svg", ".dxf"), "block.pdf", 0, "block.pdf.svg"),
        ((".png",), "", 0, None),
    ],
)
def test_the_ending_is_that_of_the_kind(
    parent: QWidget,
    look: Look,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    endings: Sequence[str],
    typed: str,
    kind: int,
    wanted: str | None,
) -> None:
    def save(parent: object, title: str, start: str, kinds: str) -> tuple[str, str]:
        assert all(f"*{ending}" in kinds for ending in endings)
        return (str(tmp_path / typed) if typed else "", kinds.split(";;")[kind])

    monkeypatch.setattr(QFileDialog, "getSaveFileName", save)
    assert Dialogs(parent, look).where_to_print("Block", endings) == (tmp_path / wanted if wanted else None)


@pytest.mark.parametrize("words", ["Save in another place…", "Cancel"])
def test_another_place(
    parent: QWidget, look: Look, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, words: str
) -> None:
    asked: list[str] = []

    def save(parent: object, title: str, start: str, kinds: str) -> tuple[str, str]:
        asked.append(start)
        return (str(tmp_path / "b.png"), kinds)

    monkeypatch.setattr(QFileDialog, "getSaveFileName", save)

    def act() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        assert box.text() == "the disk is full"
        button = next(each for each in box.buttons() if each.text().replace("&", "") == words)
        QTest.mouseClick(button, LEFT)

    QTimer.singleShot(0, act)
    dialogs = Dialogs(parent, look)
    dialogs._folder = tmp_path / "gone"
    place = dialogs.another_place("the disk is full", tmp_path / "gone" / "a.png")
    if words == "Cancel":
        assert place is None
        assert asked == []
        return
    assert place == tmp_path / "b.png"
    assert Path(asked[0]).name == "a.png"
    assert "gone" not in asked[0], "not where it failed"
