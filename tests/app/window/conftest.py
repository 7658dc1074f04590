"""The real window, without a screen, with settings of its own and dialogs that answer at once."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
import shiboken6
from PySide6.QtCore import QEvent, QMarginsF, QPoint, QPointF, QSettings, QSizeF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPageLayout, QPageSize
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QWidget
from pytestqt.qtbot import QtBot
from shapely import Polygon

from app.exporting.options import TemplateOptions
from app.importing import Progress, Rough
from app.plan.model import Plan, PlanPatch
from app.window import preferences
from app.window.dialogs import Overwrite, Unsaved
from app.window.look import Appearance, Look, TextScale, prepare
from app.window.main_window import Bench
from app.window.start import identify
from geometry import Patch
from geometry.units import MM_PER_INCH, LengthStyle, Unit

T = TypeVar("T")
INCH = MM_PER_INCH
LEFT = Qt.MouseButton.LeftButton
PLAIN = Qt.KeyboardModifier.NoModifier
CTRL = Qt.KeyboardModifier.ControlModifier


@dataclass
class Answers:
    """Stands in for the dialogs: what each question is answered with, and what was asked."""

    plan: Path | None = None
    save: Path | None = None
    imports: list[Path] = field(default_factory=list)
    photo: Path | None = None
    template: Path | None = None
    elsewhere: Path | None = None
    dots: int | None = None
    cutter: bool = False
    paper_out: QPrinter | None = None
    unit: Unit | None = None
    size: tuple[str | None, float | None] | None = None
    layers: tuple[str, ...] = ()
    split: bool = False
    leaving: Unsaved = Unsaved.CANCEL
    changed: bool = False
    overwrite: Overwrite = Overwrite.CANCEL
    asked: list[str] = field(default_factory=list)
    told: list[str] = field(default_factory=list)

    def plan_to_open(self) -> Path | None:
        self.asked.append("plan")
        return self.plan

    def files_to_import(self) -> list[Path]:
        self.asked.append("imports")
        return self.imports

    def photo_to_open(self) -> Path | None:
        self.asked.append("photo")
        return self.photo

    def where_to_save(self, title: str, present: Path | None) -> Path | None:
        self.asked.append("save")
        return self.save

    def where_to_print(self, title: str, endings: Sequence[str] = (".pdf",)) -> Path | None:
        self.asked.append("template")
        return self.template

    def another_place(self, sentence: str, path: Path) -> Path | None:
        self.told.append(sentence)
        place, self.elsewhere = self.elsewhere, None
        return place

    def plan_elsewhere(self, sentence: str, title: str, path: Path) -> Path | None:
        self.told.append(sentence)
        place, self.elsewhere = self.elsewhere, None
        return place

    def overwrites(self, name: str) -> Overwrite:
        self.asked.append(f"overwrite {name}")
        return self.overwrite

    def resolution(self, usual: int) -> int | None:
        self.asked.append(f"resolution, {usual} at first")
        return self.dots

    def drawing(self, options: TemplateOptions, style: LengthStyle) -> tuple[TemplateOptions, str] | None:
        self.asked.append("drawing")
        return (replace(options, cutter=self.cutter), "")

    def printer(self, title: str, layout: QPageLayout, count: int) -> QPrinter | None:
        self.asked.append(f"printer for {count} of “{title}”")
        return self.paper_out

    def unit_of(self, path: Path) -> Unit | None:
        self.asked.append("unit")
        return self.unit

    def size_of(self, path: Path, rough: Rough) -> tuple[str | None, float | None] | None:
        self.asked.append("size")
        return self.size

    def layers_of(self, path: Path, layers: Mapping[str, Sequence[Polygon]]) -> tuple[str, ...]:
        self.asked.append("layers " + ", ".join(f"{name} {len(each)}" for name, each in layers.items()))
        return self.layers

    def working(self, words: str, work: Callable[[Progress], T]) -> T | None:
        return work(lambda done, of: None)

    def splits(self, sentence: str) -> bool:
        self.asked.append("split")
        return self.split

    def unsaved(self, title: str) -> Unsaved:
        self.asked.append("unsaved")
        return self.leaving

    def opens_changed(self, sentence: str) -> bool:
        self.asked.append("changed")
        return self.changed

    def tell(self, sentence: str) -> None:
        self.told.append(sentence)


def block(name: str = "Block", side: float = 8.0, at: tuple[float, float] = (3.0, 5.0)) -> PlanPatch:
    """A square block of ``side`` in."""
    edge = side * INCH
    patch = Patch([(0, 0), (edge, 0), (edge, edge), (0, edge)])
    return PlanPatch.of(name, patch, [(at[0] * INCH, at[1] * INCH)])


def ell() -> PlanPatch:
    """An L, from whose foot a third is out of sight."""
    corners = [(0, 0), (10, 0), (10, 4), (4, 4), (4, 10), (0, 10)]
    patch = Patch([(x * INCH, y * INCH) for x, y in corners])
    return PlanPatch.of("Ell", patch, [(2 * INCH, 7 * INCH)])


class Hand:
    """A hand on the canvas: places are inches on the cloth, events are real."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.canvas = bench.canvas

    def pixel(self, x: float, y: float) -> QPoint:
        px, py = self.canvas.view.point_to_screen((x * INCH, y * INCH))
        return QPoint(round(px), round(py))

    def at(self, pixel: QPoint) -> tuple[float, float]:
        """Where exactly a pixel lies on the cloth, mm: events come in whole pixels."""
        return self.canvas.view.to_cloth((pixel.x(), pixel.y()))

    def press(self, x: float, y: float) -> QPoint:
        QTest.mousePress(self.canvas, LEFT, PLAIN, self.pixel(x, y))
        return self.pixel(x, y)

    def move(self, x: float, y: float, keys: Qt.KeyboardModifier = PLAIN) -> QPoint:
        pixel = self.pixel(x, y)
        where = QPointF(pixel)
        globally = QPointF(self.canvas.mapToGlobal(pixel))
        event = QMouseEvent(QEvent.Type.MouseMove, where, globally, Qt.MouseButton.NoButton, LEFT, keys)
        QApplication.sendEvent(self.canvas, event)
        return pixel

    def release(self, x: float, y: float, keys: Qt.KeyboardModifier = PLAIN) -> QPoint:
        QTest.mouseRelease(self.canvas, LEFT, keys, self.pixel(x, y))
        return self.pixel(x, y)

    def click(self, x: float, y: float) -> None:
        self.move(x, y)
        QTest.mouseClick(self.canvas, LEFT, PLAIN, self.pixel(x, y))

    def key(self, key: Qt.Key, keys: Qt.KeyboardModifier = PLAIN) -> None:
        QTest.keyClick(self.canvas, key, keys)

    def type(self, text: str) -> None:
        for character in text:
            if character.isascii():
                QTest.keyClick(self.canvas, character)
            else:  # QTest knows no key for it
                for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
                    QApplication.sendEvent(self.canvas, QKeyEvent(kind, 0, PLAIN, character))


@pytest.fixture(scope="session")
def application(qapp: QApplication) -> QApplication:
    """The one application, with the name and the style that the program gives it."""
    identify(qapp)
    prepare(qapp)
    return qapp


@pytest.fixture(autouse=True)
def settings(tmp_path: Path) -> Iterator[Path]:
    """No test sees the settings of another, or the user's."""
    before = QSettings.defaultFormat()
    QSettings.setDefaultFormat(QSettings.Format.IniFormat)
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(tmp_path / "settings"))
    preferences.store_style(LengthStyle.EIGHTHS)  # wherever the machine is that runs the tests
    yield tmp_path / "settings"
    QSettings.setDefaultFormat(before)


@pytest.fixture(autouse=True)
def no_button_stays_down() -> Iterator[None]:
    """``QTest`` keeps the buttons for the whole process, and its double click never lets go: with the right
    button still down a slider of the next test takes no press.
    """
    yield
    if QApplication.instance() is not None:
        elsewhere = QWidget()
        for button in (LEFT, Qt.MouseButton.MiddleButton, Qt.MouseButton.RightButton):
            QTest.mouseRelease(elsewhere, button)


@pytest.fixture(scope="session")
def shared_look(application: QApplication) -> Look:
    """Made once: to give the application its sheet of styles takes a while."""
    return Look(application)


@pytest.fixture
def look(shared_look: Look, settings: Path) -> Iterator[Look]:
    yield shared_look
    if shared_look.appearance is not Appearance.SYSTEM:
        shared_look.choose(Appearance.SYSTEM)
    if shared_look.text_size is not TextScale.USUAL:
        shared_look.choose_text_size(TextScale.USUAL)


@pytest.fixture
def answers() -> Answers:
    return Answers()


@pytest.fixture
def bench(qtbot: QtBot, look: Look, answers: Answers) -> Iterator[Bench]:
    """The window on a plan of a block and an L, saved, 1280 × 720."""
    made = Bench(look, Plan(title="Trial", patches=(block(), ell())), answers)  # type: ignore[arg-type]
    made.resize(1280, 720)
    made.show()
    qtbot.waitExposed(made)
    QApplication.processEvents()
    yield made
    answers.leaving = Unsaved.DISCARD
    made.close()
    shiboken6.delete(made)


@pytest.fixture
def hand(bench: Bench) -> Hand:
    return Hand(bench)


def letter(*, lying: bool = False) -> QPageLayout:
    """A page of Letter paper without margins."""
    way = QPageLayout.Orientation.Landscape if lying else QPageLayout.Orientation.Portrait
    size = QPageSize(QSizeF(215.9, 279.4), QPageSize.Unit.Millimeter, "Letter")
    return QPageLayout(size, way, QMarginsF(0, 0, 0, 0))


@pytest.fixture
def printer(application: QApplication, tmp_path: Path) -> QPrinter:
    """Qt's own printer, whose paper is a file."""
    made = QPrinter(QPrinter.PrinterMode.HighResolution)
    made.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    made.setOutputFileName(str(tmp_path / "paper.pdf"))
    made.setFullPage(True)
    made.setPageLayout(letter())
    return made


@pytest.fixture
def parent(qtbot: QtBot, look: Look) -> QWidget:
    """A window that is made at once; what is tested needs no more of the bench."""
    made = QWidget()
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    return made


def button(dialog: QWidget, name: str) -> QAbstractButton:
    """The one with this accessible name."""
    (found,) = (each for each in dialog.findChildren(QAbstractButton) if each.accessibleName() == name)
    return found


def press(dialog: QWidget, name: str) -> None:
    """Click ``button``, at its sign where it has one."""
    it = button(dialog, name)
    QTest.mouseClick(it, LEFT, PLAIN, QPoint(12, it.height() // 2))
