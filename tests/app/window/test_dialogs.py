"""The real questions: every button has words and an access key, and each answer is what it says."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QDialog, QFileDialog, QLabel, QMessageBox

from app.window.dialogs import Dialogs, Overwrite, Unsaved, question
from app.window.look import Look
from app.window.main_window import Bench
from app.window.template_dialog import TemplateDialog
from tests.app.window.conftest import Answers


def answered(question: Callable[[], Any], press: str | None) -> tuple[Any, QMessageBox]:
    """Ask, press the button with these words (None: Esc), and give the answer and the box."""
    seen: list[QMessageBox] = []

    def act() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        seen.append(box)
        if press is None:
            QTest.keyClick(box, Qt.Key.Key_Escape)
            return
        button = next(each for each in box.buttons() if each.text().replace("&", "") == press)
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)

    QTimer.singleShot(0, act)
    answer = question()
    return answer, seen[0]


@pytest.fixture
def dialogs(bench: Bench, look: Look) -> Dialogs:
    return Dialogs(bench, look)


@pytest.mark.parametrize(
    ("press", "answer"),
    [("Inches", "in"), ("Centimetres", "cm"), ("Millimetres", "mm"), ("Cancel", None), (None, None)],
)
def test_the_unit_is_asked_and_never_preset(dialogs: Dialogs, press: str | None, answer: str | None) -> None:
    got, box = answered(lambda: dialogs.unit_of(Path("corner.txt")), press)
    assert got == answer
    assert "corner.txt" in box.text()
    default = box.defaultButton()
    assert default is not None
    assert default.text() == "Cancel", "Enter alone must not choose a unit"


@pytest.mark.parametrize(
    ("press", "answer"),
    [
        ("Save", Unsaved.SAVE), ("Don’t save", Unsaved.DISCARD), ("Cancel", Unsaved.CANCEL),
        (None, Unsaved.CANCEL),
    ],
)  # fmt: skip
def test_unsaved_work(dialogs: Dialogs, press: str | None, answer: Unsaved) -> None:
    got, box = answered(lambda: dialogs.unsaved("Lantern & Pond"), press)
    assert got is answer
    assert "Lantern & Pond" in box.text()
    assert all(button.height() >= 24 for button in box.buttons())


@pytest.mark.parametrize(
    ("press", "answer"),
    [
        ("Save as…", Overwrite.ELSEWHERE), ("Save over it", Overwrite.OVERWRITE),
        ("Cancel", Overwrite.CANCEL), (None, Overwrite.CANCEL),
    ],
)  # fmt: skip
def test_a_file_that_something_else_changed(dialogs: Dialogs, press: str | None, answer: Overwrite) -> None:
    """The gentler way is the usual one, and where the other changes will be is said by name."""
    got, box = answered(lambda: dialogs.overwrites("pond.wedgeplan"), press)
    assert got is answer
    default = box.defaultButton()
    assert default is not None
    assert default.text() == "&Save as…"
    assert "“pond.wedgeplan~”" in box.informativeText()


def test_a_question_has_room_around_it_and_its_first_sentence_is_its_heading(bench: Bench) -> None:
    box = question(bench, "Which?", "It matters.", warns=True)
    box.show()
    heading = box.findChild(QLabel, "qt_msgbox_label")
    assert isinstance(heading, QLabel)
    assert heading.font().bold()
    for each in box.findChildren(QLabel):
        if each.isVisible():
            left, top = each.mapTo(box, QPoint()).toTuple()
            assert min(left, top, box.width() - left - each.width()) >= 24, each.text()
    box.close()


@pytest.mark.parametrize(("press", "answer"), [("Keep its parts", True), ("Cancel", False), (None, False)])
def test_a_bow_tie(dialogs: Dialogs, press: str | None, answer: bool) -> None:
    got, box = answered(lambda: dialogs.splits("side 1 crosses side 3"), press)
    assert got is answer
    assert "side 1 crosses side 3" in box.informativeText()


@pytest.mark.parametrize(("press", "answer"), [("Open it", True), ("Cancel", False), (None, False)])
def test_changed_outside(dialogs: Dialogs, press: str | None, answer: bool) -> None:
    assert answered(lambda: dialogs.opens_changed("the digits do not add up"), press)[0] is answer


def test_a_sentence_is_shown_as_it_is(dialogs: Dialogs) -> None:
    _, box = answered(lambda: dialogs.tell("“<b>x</b>.svg”: is empty"), "Close")
    assert box.text() == "“<b>x</b>.svg”: is empty"
    assert box.textFormat() is Qt.TextFormat.PlainText


@pytest.mark.parametrize(
    ("typed", "wanted"), [("quilt", "quilt.wedgeplan"), ("quilt.wedgeplan", "quilt.wedgeplan"), ("", None)]
)
def test_the_ending_is_added(
    dialogs: Dialogs, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, typed: str, wanted: str | None
) -> None:
    given = str(tmp_path / typed) if typed else ""
    starts = []

    def save(parent: object, title: str, start: str, kinds: str) -> tuple[str, str]:
        starts.append(start)
        return given, kinds

    monkeypatch.setattr(QFileDialog, "getSaveFileName", save)
    assert dialogs.where_to_save("Star: 1/2?", None) == (tmp_path / wanted if wanted else None)
    assert Path(starts[0]).name == "Star- 1-2-.wedgeplan"


@pytest.mark.parametrize("ending", [".wedgeplan", ".pdf"])
@pytest.mark.parametrize("press", ["Replace it", "Choose another name…", None])
def test_what_the_ending_makes_the_name_of_a_file_is_not_replaced_unasked(
    dialogs: Dialogs, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, ending: str, press: str | None
) -> None:
    """The file dialog asked about “pond”, and there is no such file."""
    there = tmp_path / f"pond{ending}"
    there.write_bytes(b"months of work")
    typed = ["pond", "brook"]
    starts: list[str] = []

    def save(parent: object, title: str, start: str, kinds: str) -> tuple[str, str]:
        starts.append(start)
        return str(tmp_path / typed.pop(0)), kinds

    monkeypatch.setattr(QFileDialog, "getSaveFileName", save)
    ask = dialogs.where_to_print if ending == ".pdf" else lambda title: dialogs.where_to_save(title, None)
    place, box = answered(lambda: ask("Pond"), press)
    assert there.name in box.text()
    assert place == (there if press == "Replace it" else tmp_path / f"brook{ending}")
    assert starts[1:] == ([] if press == "Replace it" else [str(there)])
    assert there.read_bytes() == b"months of work"


def test_the_template_is_written_as_chosen(bench: Bench, answers: Answers, tmp_path: Path) -> None:
    answers.template = tmp_path / "block.pdf"

    def act() -> None:
        dialog = QApplication.activeModalWidget()
        assert isinstance(dialog, TemplateDialog)
        press(dialog, "A3")
        press(dialog, "All patches")
        press(dialog, "Save as PDF…")

    QTimer.singleShot(0, act)
    bench.actions_.template.trigger()
    assert page_sizes(answers.template) == {(297, 420)}, "A3, ISO 216"
    assert "block.pdf" in bench.message.text
    assert answers.told == []


def test_a_template_that_cannot_be_written_is_told(bench: Bench, answers: Answers, tmp_path: Path) -> None:
    answers.template = tmp_path / "no such folder" / "block.pdf"

    def act() -> None:
        dialog = QApplication.activeModalWidget()
        press(dialog, "Save as PDF…")
        assert dialog.isVisible(), "what was chosen is not lost"
        press(dialog, "Cancel")

    QTimer.singleShot(0, act)
    bench.actions_.template.trigger()
    assert len(answers.told) == 1
    QTimer.singleShot(0, lambda: press(QApplication.activeModalWidget(), "Cancel"))
    bench.actions_.template.trigger()
    assert answers.asked == ["template"], "after cancel no file is asked for"


def page_sizes(path: Path) -> set[tuple[int, int]]:
    """Width and height of the pages, mm."""
    import pdfplumber

    with pdfplumber.open(path) as file:
        return {
            (round(float(page.width) / 72 * 25.4), round(float(page.height) / 72 * 25.4))
            for page in file.pages
        }


def press(dialog: object, words: str) -> None:
    assert isinstance(dialog, QDialog)
    button = next(
        each for each in dialog.findChildren(QAbstractButton) if each.text().replace("&", "") == words
    )
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    if button.isCheckable() and not button.isChecked():
        button.setChecked(True)  # a click beside the words of a wide radio button misses it
