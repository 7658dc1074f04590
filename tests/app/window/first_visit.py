"""A first visit, as a new user makes it: events only.

What the visitor sees is read from the bench; what the visitor does goes through mouse and keys. Only the
system's file dialog is answered for them. ``python -m tests.app.window.first_visit FOLDER [dark]`` takes the
pictures.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QPoint, QSettings, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractItemView, QApplication, QDialog, QTabBar, QWidget

from app.window.main_window import Bench
from geometry.findings import Level
from tests.app.window.conftest import Answers, Hand

INCH = 25.4
Shoot = Callable[[str, QWidget], None]
_REST = 350
"""ms: by then the hand rests, and the fine picture and the findings are there."""


class Visitor:
    """Does one step after the other; each ends with a picture."""

    def __init__(self, bench: Bench, answers: Answers, folder: Path, shoot: Shoot) -> None:
        self.bench, self.answers, self.folder, self.shoot = bench, answers, folder, shoot
        self.hand = Hand(bench)

    def visit(self) -> None:
        """All of it, in order."""
        for step in (
            self.looks, self.drags_until_it_warns, self.reads_the_warning, self.heals_it,
            self.keeps_two_tries, self.compares, self.draws, self.takes_the_best_anchor, self.walks,
            self.prints,
        ):  # fmt: skip
            step()

    # --- the steps ----------------------------------------------------------------------------------

    def looks(self) -> None:
        self.rest()
        assert self.bench.session.fit is not None, "it opens on a finished patch"
        self.shoot("01-opened", self.bench)

    def drags_until_it_warns(self) -> None:
        start = self.anchor()
        self.hand.press(*start)
        for step in range(1, 40):
            self.hand.move(start[0] + step * 0.1, start[1] - step * 0.05)
            QApplication.processEvents()
            if self.problems():
                break
        assert self.problems(), "a warning comes while the hand moves"
        self.shoot("02-warned-while-dragging", self.bench)
        self.hand.release(start[0] + step * 0.1, start[1] - step * 0.05)
        self.rest()
        assert self.problems()
        assert self.bench.session.history.undo_name == "Move anchor", "a drag is one step"

    def reads_the_warning(self) -> None:
        self.click_row(self.bench.findings.list, 0)
        self.rest()
        words = self.bench.findings.model.data(self.bench.findings.model.index(0))
        assert words
        self.shoot("03-warning-read", self.bench)

    def heals_it(self) -> None:
        before = self.problems()
        button = self.bench.findings.remedies[0]
        assert wait_for(button.isVisible), "a remedy is offered"
        self.click(button)
        self.rest()
        assert self.problems() < before
        self.shoot("04-healed", self.bench)

    def keeps_two_tries(self) -> None:
        self.bench.canvas.setFocus()
        self.hand.key(Qt.Key.Key_F4)
        for _ in range(4):
            self.hand.key(Qt.Key.Key_Down)
        self.hand.key(Qt.Key.Key_F4)
        assert len(self.tries()) == 2
        self.click_tab("Tries")
        self.rest()
        self.shoot("05-two-tries", self.bench)

    def compares(self) -> None:
        def look(dialog: QWidget) -> None:
            self.shoot("06-compared", dialog)
            QTest.keyClick(dialog, Qt.Key.Key_Escape)

        self.in_dialog(look)
        QTest.keyClick(self.bench, Qt.Key.Key_F4, Qt.KeyboardModifier.ShiftModifier)
        self.comes_back()
        self.click_row(self.bench.tries.list, 0)
        assert self.bench.session.history.undo_name == "Bring back Try 1"

    def draws(self) -> None:
        patches = len(self.bench.session.plan.patches)
        QTest.keyClick(self.bench, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
        self.bench.canvas.setFocus()
        middle = QPoint(self.bench.canvas.width() // 2, self.bench.canvas.height() // 2)
        x, y = (value / INCH for value in self.hand.at(middle - QPoint(150, 150)))
        self.hand.click(x, y)
        for dx, dy, length in ((1, 0, "8"), (0, 1, "6 1/2"), (-1, 0, "5"), (0, -1, "2")):
            self.hand.move(*self.toward(dx, dy))
            self.hand.type(length)
            if length == "6 1/2":
                self.shoot("07-drawing", self.bench)
            self.hand.key(Qt.Key.Key_Return)
        self.hand.key(Qt.Key.Key_Return)
        self.rest()
        piece = self.bench.session.piece
        assert piece is not None
        assert len(self.bench.session.plan.patches) == patches + 1, "the patch is in the plan"
        sides = [
            round(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5 / INCH, 6)
            for (x0, y0), (x1, y1) in zip(piece.outline, (*piece.outline[1:], piece.outline[0]), strict=True)
        ]
        assert sides[:4] == [8.0, 6.5, 5.0, 2.0], "as long as was typed"
        self.shoot("08-drawn", self.bench)

    def takes_the_best_anchor(self) -> None:
        QTest.keyClick(self.bench, Qt.Key.Key_G, Qt.KeyboardModifier.ControlModifier)
        panel = self.bench.suggestions
        assert wait_for(lambda: panel.model.rowCount() > 0), "suggestions come"
        self.rest()
        self.shoot("09-suggested", self.bench)
        self.click_row(panel.list, 0)
        self.rest()
        assert "nchor" in str(self.bench.session.history.undo_name)

    def walks(self) -> None:
        QTest.keyClick(self.bench, Qt.Key.Key_5, Qt.KeyboardModifier.ControlModifier)
        self.bench.canvas.setFocus()
        for _ in range(7):
            self.hand.key(Qt.Key.Key_Right)
        self.rest()
        self.shoot("10-walked", self.bench)
        QTest.keyClick(self.bench, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)

    def prints(self) -> None:
        self.answers.template = self.folder / "template.pdf"

        def press_save(dialog: QWidget) -> None:
            self.shoot("11-template", dialog)
            QTest.keyClick(dialog, Qt.Key.Key_D, Qt.KeyboardModifier.AltModifier)  # Save as PDF

        self.in_dialog(press_save)
        QTest.keyClick(self.bench, Qt.Key.Key_T, Qt.KeyboardModifier.ControlModifier)
        self.comes_back()
        assert self.answers.template.read_bytes().startswith(b"%PDF")
        self.rest()
        self.shoot("12-printed", self.bench)

    # --- what a visitor sees and does ----------------------------------------------------------------

    def anchor(self) -> tuple[float, float]:
        piece = self.bench.session.piece
        assert piece is not None
        x, y = piece.anchors[0]
        return (x / INCH, y / INCH)

    def problems(self) -> int:
        fit = self.bench.session.fit
        assert fit is not None
        return sum(finding.level is Level.PROBLEM for finding in fit.findings)

    def tries(self) -> list[str]:
        piece = self.bench.session.piece
        assert piece is not None
        return [kept.name for kept in piece.tries]

    def toward(self, dx: int, dy: int) -> tuple[float, float]:
        """A little way on from the last corner that was drawn."""
        x, y = self.bench.modes["draw"].corners[-1]  # type: ignore[attr-defined]
        return (x / INCH + dx * 0.8, y / INCH + dy * 0.8)

    def comes_back(self) -> None:
        """To the bench from a dialog: without a screen there is nobody to make its window the active one."""
        self.bench.activateWindow()
        QApplication.processEvents()

    def rest(self) -> None:
        QTest.qWait(_REST)

    def click(self, widget: QWidget, at: QPoint | None = None) -> None:
        QTest.mouseClick(
            widget, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at or widget.rect().center()
        )

    def click_row(self, view: QAbstractItemView, row: int) -> None:
        model = view.model()
        assert model is not None
        self.click(view.viewport(), view.visualRect(model.index(row, 0)).center())

    def click_tab(self, title: str) -> None:
        for bar in self.bench.findChildren(QTabBar):
            for number in range(bar.count()):
                if bar.tabText(number).replace("&", "") == title:
                    self.click(bar, bar.tabRect(number).center())
                    return
        raise AssertionError(f"there is no tab {title}")

    def in_dialog(self, act: Callable[[QWidget], None]) -> None:
        """Once a dialog is open, ``act`` in it."""

        def visit() -> None:
            dialog = QApplication.activeModalWidget()
            if not isinstance(dialog, QDialog):
                QTimer.singleShot(50, visit)
                return
            QTest.qWait(_REST)
            act(dialog)

        QTimer.singleShot(0, visit)


def wait_for(seen: Callable[[], bool], steps: int = 200) -> bool:
    """Let the bench work until ``seen``; False where it does not come."""
    for _ in range(steps):
        if seen():
            return True
        QTest.qWait(50)
    return seen()


def main(folder: Path, dark: bool) -> None:
    """Take the pictures; ``QT_SCALE_FACTOR`` in the environment makes them at double scale."""
    from app.window.look import Appearance, Look, prepare
    from app.window.sample import sample_plan
    from app.window.start import identify

    application = QApplication(["first visit"])
    with tempfile.TemporaryDirectory() as settings:
        QSettings.setDefaultFormat(QSettings.Format.IniFormat)
        QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, settings)
        identify(application)
        prepare(application)
        look = Look(application, application)
        look.choose(Appearance.DARK if dark else Appearance.LIGHT)
        answers = Answers()
        bench = Bench(look, sample_plan(), answers)  # type: ignore[arg-type]
        bench.canvas.sentence = "Drag this point:\nthe wedges follow your hand."
        bench.resize(1280, 720)
        bench.show()
        folder.mkdir(parents=True, exist_ok=True)
        Visitor(
            bench, answers, folder, lambda name, widget: bool(widget.grab().save(str(folder / f"{name}.png")))
        ).visit()
        os._exit(0)  # nothing of it is to be saved


if __name__ == "__main__":
    main(Path(sys.argv[1]), dark="dark" in sys.argv[2:])
