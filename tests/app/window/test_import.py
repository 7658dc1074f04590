"""Drawings come in by the real questions: layers, how large it is, Stop."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import ezdxf
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QProgressDialog, QPushButton

from app.importing import ENDINGS, Progress
from app.importing.photo import PHOTO_ENDINGS
from app.sketch.display_list import Line
from app.sketch.palette import Role
from app.window.beside import Latest, beside
from app.window.dialogs import Dialogs
from app.window.import_dialogs import LayersDialog, SizeDialog
from app.window.look import Look
from app.window.main_window import Bench
from tests.app.test_hostile import odd_files, within
from tests.app.window.conftest import INCH, LEFT, Answers

SQUARE = [(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)]


@pytest.fixture
def asking(bench: Bench, look: Look, answers: Answers) -> Iterator[Bench]:
    """The bench, with the real questions until it is closed."""
    bench.files._dialogs = bench.dialogs = Dialogs(bench, look)
    yield bench
    bench.files._dialogs = bench.dialogs = answers  # type: ignore[assignment]


def answering(kind: type, act: Callable[[object], None]) -> None:
    """``act`` on the window of that kind when it is there."""

    def look() -> None:
        made = QApplication.activeModalWidget()
        if not isinstance(made, kind):
            QTimer.singleShot(20, look)
            return
        try:
            act(made)
        finally:
            if made.isVisible():  # a slip here would wait for ever
                made.reject()

    QTimer.singleShot(0, look)


def drawing(folder: Path, units: int, **layers: float) -> Path:
    """A DXF file: on each layer a square so many units to the right."""
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = units
    for name, shift in layers.items():
        document.layers.add(name)
        corners = [(x + shift, y) for x, y in SQUARE]
        document.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": name})
    document.saveas(folder / "pond.dxf")
    return folder / "pond.dxf"


def added(bench: Bench) -> list[tuple[str, float]]:
    return [(each.name, each.patch().polygon.area) for each in bench.session.plan.patches[2:]]


def test_layers_are_chosen(asking: Bench, tmp_path: Path) -> None:
    def act(made: object) -> None:
        assert isinstance(made, LayersDialog)
        assert [made.list.item(row).text() for row in range(2)] == ["Seams: 1 outline", "Notes: 1 outline"]
        made.list.setCurrentRow(1)
        QTest.keyClick(made.list, Qt.Key.Key_Space)
        assert made.outcome.text() == "1 patch comes of this"
        assert made.picture.drawing is not None
        roles = [item.role for item in made.picture.drawing.items() if isinstance(item, Line)]
        assert sorted(roles) == sorted([Role.FAINT, Role.SEAM]), "what is left out is drawn thin"
        QTest.mouseClick(made.go, LEFT)

    answering(LayersDialog, act)
    asking.take([drawing(tmp_path, 4, Seams=0, Notes=200)])
    assert added(asking) == [("Seams", pytest.approx(6000))]
    asking.actions_.undo.trigger()
    assert added(asking) == []


def test_one_layer_asks_nothing(asking: Bench, tmp_path: Path) -> None:
    asking.take([drawing(tmp_path, 4, Seams=0)])
    assert added(asking) == [("Seams", pytest.approx(6000))]


def test_a_drawing_without_a_unit_is_asked_about_with_a_side_marked(asking: Bench, tmp_path: Path) -> None:
    """A side of 100 units is told to be 10 in: 10 × 6 in, by the rule of three."""

    def act(made: object) -> None:
        assert isinstance(made, SizeDialog)
        assert not made.go.isEnabled(), "nothing is assumed"
        assert made.picture.drawing is not None
        (marked,) = (
            item
            for item in made.picture.drawing.items()
            if item.role is Role.FOCUS and isinstance(item, Line)
        )
        assert abs(marked.points[1] - marked.points[0]).max() == pytest.approx(made._sides[0].length)
        QTest.keyClicks(made.length, "10")
        assert made.outcome.text() == "All of it is then 10 in × 6 in."
        assert all("×" in button.text() for button in made.units.values()), (
            "what comes out stands beside each"
        )
        QTest.keyClick(made.length, Qt.Key.Key_Return)

    answering(SizeDialog, act)
    asking.take([drawing(tmp_path, 0, Seams=0)])
    assert added(asking) == [("Seams", pytest.approx(60 * INCH**2))]


@pytest.mark.parametrize(("unit", "mm"), [("px", INCH / 96), ("mm", 1.0)])
def test_a_size_in_pixels_is_asked_about_or_taken_as_told(
    asking: Bench, tmp_path: Path, unit: str, mm: float
) -> None:
    path = tmp_path / "pond.svg"
    path.write_text('<svg xmlns="http://www.w3.org/2000/svg"><rect id="a" width="200" height="100"/></svg>')

    def act(made: object) -> None:
        assert isinstance(made, SizeDialog)
        QTest.mouseClick(made.units[unit], LEFT, pos=made.units[unit].rect().center())
        made.units[unit].click()
        QTest.mouseClick(made.go, LEFT)

    answering(SizeDialog, act)
    asking.take([path])
    assert added(asking) == [("a", pytest.approx(20000 * mm**2))]


def test_who_gives_up_gets_nothing(asking: Bench, tmp_path: Path) -> None:
    answering(SizeDialog, lambda made: None)
    asking.take([drawing(tmp_path, 0, Seams=0)])
    answering(LayersDialog, lambda made: None)
    asking.take([drawing(tmp_path, 4, Seams=0, Notes=200)])
    assert added(asking) == []


def test_a_wrong_length_is_said_and_imports_nothing(asking: Bench, tmp_path: Path) -> None:
    def act(made: object) -> None:
        assert isinstance(made, SizeDialog)
        QTest.keyClicks(made.length, "4 x")
        QTest.keyClick(made.length, Qt.Key.Key_Return)
        assert "“4 x” is not a length" in made._wrong.text()
        assert made.isVisible()
        assert not made.go.isEnabled()

    answering(SizeDialog, act)
    asking.take([drawing(tmp_path, 0, Seams=0)])
    assert added(asking) == []


def test_stop_is_answered_at_once_and_what_comes_later_is_thrown_away(asking: Bench) -> None:
    """The work never looks up; the window does not wait for it."""
    go_on, ended = threading.Event(), threading.Event()

    def work(progress: Progress) -> str:
        progress(1, 10)
        go_on.wait(20)
        ended.set()
        return "too late"

    pressed: list[float] = []

    def act(made: object) -> None:
        assert isinstance(made, QProgressDialog)
        (stop,) = made.findChildren(QPushButton)
        pressed.append(time.monotonic())
        QTest.mouseClick(stop, LEFT)

    answering(QProgressDialog, act)
    try:
        assert beside(asking, "Reading", work) is None
        assert not ended.is_set(), "it was not waited for"
    finally:
        go_on.set()
    assert ended.wait(5)
    assert len(pressed) == 1


def test_work_that_looks_up_ends_when_it_was_stopped(asking: Bench) -> None:
    over = threading.Event()

    def work(progress: Progress) -> None:
        try:
            while True:
                progress(1, 10)
                time.sleep(0.005)
        finally:
            over.set()

    answering(QProgressDialog, lambda made: None)
    assert beside(asking, "Reading", work) is None
    assert over.wait(5)


def test_what_work_raises_is_raised_here(asking: Bench) -> None:
    with pytest.raises(ZeroDivisionError):
        beside(asking, "Reading", lambda progress: 1 // 0)
    assert beside(asking, "Reading", lambda progress: 7) == 7


def test_only_the_latest_answer_counts(asking: Bench, qtbot: object) -> None:
    first, told = threading.Event(), []
    latest: Latest[str] = Latest(asking)
    latest.answered.connect(told.append)

    def slow(progress: Progress) -> str:
        first.wait(5)
        return "first"

    latest.ask(slow)
    latest.ask(lambda progress: "second", at_once=5)
    first.set()
    for _ in range(20):
        QApplication.processEvents()
        time.sleep(0.005)
    assert told == ["second"]


def test_every_readable_ending_is_offered(asking: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str] = []

    def ask(parent: object, title: str, folder: str, filters: str) -> tuple[list[str], str]:
        seen.append(filters)
        return [], ""

    monkeypatch.setattr(QFileDialog, "getOpenFileNames", ask)
    asking.actions_.import_.trigger()
    first = seen[0].split(";;")[0]
    assert all(f"*{ending} " in first.replace(")", " ") for ending in ENDINGS)


@pytest.mark.skipif(sys.platform != "linux", reason="pipes and devices as Linux has them")
@pytest.mark.parametrize("ending", [*ENDINGS, *PHOTO_ENDINGS, ".wedgeplan"])
def test_what_is_no_file_of_its_kind_is_refused_and_changes_nothing(
    bench: Bench, answers: Answers, tmp_path: Path, ending: str
) -> None:
    """Promise 18 in the window: each told in one sentence, the plan untouched, and nothing written."""
    paths = odd_files(tmp_path, ending)
    before, there = bench.session.plan, sorted(tmp_path.iterdir())
    for path in paths:
        answers.told.clear()
        with within(60):
            bench.take([path])
        (sentence,) = answers.told
        assert f"“{path.name}”" in sentence
        assert "\n" not in sentence
        assert bench.session.plan is before
    assert sorted(tmp_path.iterdir()) == there
    assert bench.session.history.is_clean
