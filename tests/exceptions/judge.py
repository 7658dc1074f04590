"""Puts errors into a session of the real window, and looks what becomes of the work."""

from __future__ import annotations

import faulthandler
import logging
import random
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType
from typing import Any, TypeVar

import pytest
from PySide6.QtCore import QSettings, Qt, QTimer
from PySide6.QtGui import QGuiApplication, QImage
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel

from app.importing import Progress
from app.plan.model import Plan
from app.plan.plan_file import read_plan, write_plan
from app.plan.recovery import left_behind, read_left
from app.window.beside import beside
from app.window.dialogs import Unsaved
from app.window.keeper import SOON_MS
from app.window.look import Look, prepare
from app.window.main_window import Bench
from app.window.start import identify
from app.window.unforeseen import Unforeseen, UnforeseenDialog
from tests.app.window.conftest import Answers, block, ell
from tests.exceptions.slips import WORDS, Slips, named
from tests.exceptions.visitor import Step, Visitor, later, leave, press

T = TypeVar("T")
PATIENCE = 60.0
"""s that anything may take; nothing is measured by it."""
_HEARD = 10.0
"""s after which an error counts as dropped; where it comes later after all, no harm is done."""
_HUNG = 400.0
"""s after which the process says where it hangs, and ends."""
_STEPS = 5
"""Without a call of the place that was chosen, before another is."""
_AS_OFTEN, _LOOKS = 10, 20
"""After so many errors one looks for places, for so many steps."""
_NEVER_MS = 10**6


@dataclass(slots=True)
class Tally:
    """What many errors showed."""

    injected: int = 0
    places: Counter[str] = field(default_factory=Counter)
    reached: int = 0
    """Places that Qt or a thread called."""
    saved: int = 0
    """Errors that came when nothing was unsaved."""
    unheard: int = 0
    """Errors that PySide dropped: a second one within the same call takes the place of the first. The plan
    was kept a moment later, as after any change."""
    lost: list[str] = field(default_factory=list)
    """Errors after which the plan was not kept: not before they were told, or never."""
    broken: list[str] = field(default_factory=list)


class _Answers(Answers):
    """Reads files beside the window, as the real dialogs do."""

    bench: Bench

    def working(self, words: str, work: Callable[[Progress], T]) -> T | None:
        return beside(self.bench, words, work)


def inject(count: int, folder: Path, seed: int = 0, until: float | None = None) -> Tally:
    """``count`` errors, one after the other, in one session; in a process of its own."""
    faulthandler.enable()
    application = QApplication(["wedgewright"])
    QSettings.setDefaultFormat(QSettings.Format.IniFormat)
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(folder / "settings"))
    identify(application)
    prepare(application)
    application.setQuitOnLastWindowClosed(False)
    session = _Session(folder, application, seed)
    with pytest.MonkeyPatch.context() as patching:
        session.watch_log(patching)
        session.run(count, until)
    return session.tally


class _Session:
    """One window, and whoever works in it."""

    def __init__(self, folder: Path, application: QApplication, seed: int) -> None:
        self.tally = Tally()
        self._folder = folder
        self._application = application
        self._chance = random.Random(seed)
        self._answers: Any = _Answers(
            plan=folder / "sample.wedgeplan",
            save=folder / "saved.wedgeplan",
            imports=[folder / "outlines.txt"],
            photo=folder / "photo.png",
            template=folder / "template.pdf",
        )
        sample = Plan(title="Trial", patches=(block(), ell()))
        write_plan(folder / "sample.wedgeplan", sample)
        self._answers.imports[0].write_text("unit: in\n0 0\n3 0\n0 3\n", "utf-8")
        photo = QImage(160, 120, QImage.Format.Format_RGB32)
        photo.fill(Qt.GlobalColor.gray)
        photo.save(str(self._answers.photo))
        look = Look(application, application)
        self._bench = self._answers.bench = Bench(look, sample, self._answers)
        self._bench.resize(1280, 720)
        self._bench.show()
        self._slips = Slips(self._chance)
        self._visitor = Visitor(self._bench, self._answers, self._chance, self._answers.imports[0])
        self._kept: list[Plan] | None = None
        """What was kept when the error was logged, which is before anything is said of it."""
        self._plan: Plan | None = None
        """The plan then; None where all of it was saved."""
        self._others: list[str] = []
        """Errors that are not of our making."""

    def watch_log(self, patching: pytest.MonkeyPatch) -> None:
        """Look at everything that comes to us."""
        log = logging.getLogger("wedgewright")
        patching.setattr(log, "handlers", [_Log(self._arrived)])
        patching.setattr(log, "propagate", False)

    def _arrived(self, error: BaseException) -> None:
        if WORDS in str(error):
            if self._kept is None:
                history = self._bench.session.history
                self._plan = None if history.is_clean else history.committed
                self._kept = self._copies()
        elif not isinstance(error, SystemError):  # PySide's own, where it could not hand on ours
            trace = traceback.extract_tb(error.__traceback__)
            place = f"{Path(trace[-1].filename).name}:{trace[-1].lineno}" if trace else "a call by Qt"
            self._others.append(f"{type(error).__name__} in {place}: {error}")

    def _copies(self) -> list[Plan]:
        return [read_left(left).plan for left in left_behind(self._root, lambda _: False)]

    def run(self, count: int, until: float | None) -> None:
        """``count`` errors, or as many as come to pass before ``until``."""
        failed: list[BaseException] = []
        work = self._work(count, until)

        def turn() -> None:
            try:
                next(work)
            except StopIteration:
                self._application.quit()
            except BaseException as error:
                failed.append(error)
                self._application.quit()

        pump = QTimer(interval=1)
        pump.timeout.connect(turn)
        pump.start()
        self._loop: FrameType = sys._getframe()
        self._application.exec()
        pump.stop()
        faulthandler.cancel_dump_traceback_later()
        raised = self._slips.raised
        self.tally.places = Counter({named(code): often for code, often in raised.items() if often})
        self.tally.reached = len(self._slips.seen)
        if failed:
            raise failed[0]
        self._answers.leaving = Unsaved.DISCARD
        self._bench.close()

    def _work(self, count: int, until: float | None) -> Step:
        for number in range(count):
            if until is not None and time.monotonic() > until:
                return
            faulthandler.dump_traceback_later(_HUNG, exit=True)
            yield from self._one(number)

    # --- one error ----------------------------------------------------------------------------------

    def _one(self, number: int) -> Step:
        bench = self._bench
        yield from self._come_to_rest()
        if bench.keeper is not None:
            bench.keeper.close()
        self._root = self._folder / f"recovery{number}"
        with pytest.MonkeyPatch.context() as patching:
            # Mostly nothing is kept but by the error itself; else the keeper works as well, and may slip.
            patching.setattr("app.window.keeper.SOON_MS", self._chance.choice((_NEVER_MS, _NEVER_MS, 30)))
            bench.keep_in(self._root)
            self._kept = None
            self._others.clear()
            unforeseen = Unforeseen(bench)
            with unforeseen.watching():
                if number % _AS_OFTEN == 0:
                    self._slips.look(self._loop)
                    for _ in range(_LOOKS):
                        yield from self._step()
                    yield from self._come_to_rest()
                    self._slips.look_away()
                yield from self._change()
                self._slips.arm()
                steps = 0
                while self._slips.armed:
                    steps += 1
                    yield from self._step()
                    if steps % _STEPS == 0 and self._slips.armed:
                        self._slips.arm()
                        yield from self._come_to_rest()  # a window that was closed comes back
                self.tally.injected += 1
                place = self._slips.place
                assert place is not None
                where = f"{self.tally.injected}. {named(place)}"
                yield from _until(
                    lambda: unforeseen.dialog is not None and unforeseen.dialog.isVisible(), _HEARD
                )
                if unforeseen.dialog is not None:
                    yield from self._judge(where, place, unforeseen.dialog)
                else:
                    patching.undo()
                    yield from self._judge_unheard(where)
                if why := (yield from self._goes_on()):
                    self.tally.broken.append(f"{where}: {why}")
                self.tally.broken += [f"{where}: then {other}" for other in dict.fromkeys(self._others)]
        unforeseen.deleteLater()

    def _step(self) -> Step:
        """Something or other, and never without unsaved work."""
        if self._bench.keeper is None:  # a window without changes was closed
            self._bench.keep_in(self._root)
        if self._is_unsaved():
            yield from self._visitor.step()
        else:
            yield from self._change()

    def _is_unsaved(self) -> bool:
        return not self._bench.session.history.is_clean

    def _judge(self, where: str, place: CodeType, dialog: UnforeseenDialog) -> Step:
        """The copy, and what the dialog says."""
        self.tally.saved += self._plan is None
        if self._plan is not None and self._kept != [self._plan]:
            self.tally.lost.append(f"{where}: {len(self._kept or [])} copies, none as the plan was")
        words = " ".join(label.text() for label in dialog.findChildren(QLabel))
        if "Your work is kept" not in words or "Error" in words or "Traceback" in words:
            self.tally.broken.append(f"{where}: the words are “{words}”")
        buttons = {each.text().replace("&", ""): each for each in dialog.findChildren(QAbstractButton)}
        clipboard = QGuiApplication.clipboard()
        clipboard.clear()
        later(buttons["Copy the details"].click)
        if not (yield from _until(lambda: WORDS in clipboard.text() and place.co_name in clipboard.text())):
            self.tally.broken.append(f"{where}: the details cannot be copied")
        press(dialog, Qt.Key.Key_Return)
        if not (yield from _until(lambda: not dialog.isVisible())):
            self.tally.broken.append(f"{where}: its dialog does not close")

    def _judge_unheard(self, where: str) -> Step:
        """Nothing is said; then the keeper works on as if nothing had been."""
        self.tally.unheard += 1
        yield from self._change()
        if self._bench.keeper is not None:
            self._bench.keeper._soon.start(SOON_MS)  # not as slow as it was made
        if not (yield from _until(lambda: self._copies() == [self._bench.session.plan])):
            self.tally.lost.append(f"{where}: nothing was told, and nothing kept")

    def _goes_on(self) -> Generator[None, None, str]:
        """Another change, its undo, a save. Answers what does not work; empty where all does."""
        bench, session = self._bench, self._bench.session
        yield from self._come_to_rest()
        before = session.plan
        later(bench.actions_.rotate_right.trigger)
        if not (yield from _until(lambda: session.plan != before)):
            return "no change is taken"
        later(bench.actions_.undo.trigger)
        if not (yield from _until(lambda: session.plan == before)):
            return "it cannot be undone"
        yield from self._change()
        plan, self._answers.save = session.plan, self._folder / f"{self.tally.injected}.wedgeplan"
        later(bench.actions_.save_as.trigger)
        if not (yield from _until(lambda: session.history.is_clean)):
            return f"it cannot be saved: {self._answers.told[-1:]}"
        if read_plan(self._answers.save) != plan:
            return "what was saved is not the plan"
        if not bench.isVisible() or bench.isWindowModified():
            return "the window is not as it should be"
        return ""

    def _come_to_rest(self) -> Step:
        """No menu and no dialog is open, nothing is held, and there is a patch."""
        bench = self._bench
        end = time.monotonic() + PATIENCE
        while (window := QApplication.activePopupWidget() or QApplication.activeModalWidget()) is not None:
            assert time.monotonic() < end, f"{window} does not close"
            leave(window)
            yield
            yield
        if not bench.isVisible():
            later(bench.show)
        press(bench.canvas, Qt.Key.Key_Escape)
        yield
        if not bench.session.plan.patches:
            self._answers.leaving = Unsaved.DISCARD
            later(bench.actions_.open.trigger)
            yield from _until(lambda: bool(bench.session.plan.patches))
        later(bench.actions_.anchor.trigger)
        for _ in range(5):
            yield

    def _state(self) -> str:
        """What may be in the way."""
        bench = self._bench
        return (
            f"mode {bench.canvas.mode}, busy {bench.canvas.mode.busy}, visible {bench.isVisible()}, "
            f"enabled {bench.actions_.rotate_left.isEnabled()}, modal {QApplication.activeModalWidget()}, "
            f"popup {QApplication.activePopupWidget()}, last {self._slips.place}"
        )

    def _change(self) -> Step:
        """One that is not saved."""
        yield from self._come_to_rest()
        before = self._bench.session.plan
        later(self._bench.actions_.rotate_left.trigger)
        armed = self._slips.armed  # then it may be this that slips
        changed = yield from _until(
            lambda: (
                (self._bench.session.plan != before and self._is_unsaved())
                or (armed and not self._slips.armed)
            )
        )
        assert changed, self._state()


def _until(holds: Callable[[], object], patience: float = PATIENCE) -> Generator[None, None, bool]:
    """Wait; answers whether it came to hold."""
    end = time.monotonic() + patience
    while not holds():
        if time.monotonic() > end:
            return False
        yield
    return True


class _Log(logging.Handler):
    """Hands on every error that is logged."""

    def __init__(self, hand_on: Callable[[BaseException], None]) -> None:
        super().__init__()
        self._hand_on = hand_on

    def emit(self, record: logging.LogRecord) -> None:
        if record.exc_info and record.exc_info[1] is not None:
            self._hand_on(record.exc_info[1])
