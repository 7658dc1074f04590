"""Errors that nobody foresaw, put in wherever Qt calls us: the plan is kept first, then it is told."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import (
    QEvent,
    QMetaObject,
    QObject,
    QPointF,
    QRunnable,
    Qt,
    QThread,
    QThreadPool,
    QTimer,
    Signal,
)
from PySide6.QtGui import QGuiApplication, QKeyEvent, QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel, QPlainTextEdit, QWidget
from pytestqt.qtbot import QtBot

from app.plan.model import Plan
from app.plan.recovery import left_behind, read_left
from app.window.main_window import Bench
from app.window.unforeseen import Unforeseen, UnforeseenDialog
from tests.app.window.conftest import LEFT, PLAIN, Hand


class SlipError(RuntimeError):
    """Of ours."""


def fails(*_: object, **__: object) -> None:
    raise SlipError("a slip of ours")


@pytest.fixture
def kept_at(monkeypatch: pytest.MonkeyPatch, root: Path) -> list[Plan | None]:
    """What was kept when each dialog was made."""
    found: list[Plan | None] = []
    made = UnforeseenDialog.__init__

    def watched(self: UnforeseenDialog, *parts: object) -> None:
        left = left_behind(root, lambda _: False)
        found.append(read_left(left[0]).plan if left else None)
        made(self, *parts)  # type: ignore[arg-type]

    monkeypatch.setattr(UnforeseenDialog, "__init__", watched)
    return found


@pytest.fixture
def root(bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setattr("app.window.keeper.SOON_MS", 10**6)  # only what the error itself brings about
    bench.keep_in(tmp_path / "recovery")
    yield tmp_path / "recovery"
    if bench.keeper is not None:
        bench.keeper.close()
        bench.keeper = None


@pytest.fixture
def caught(bench: Bench) -> Iterator[Unforeseen]:
    watcher = Unforeseen(bench)
    with watcher.watching():
        yield watcher
        # What waits for its turn must come while somebody still looks.
        QApplication.processEvents()


class Emitter(QObject):
    fired = Signal()


class Worker(QThread):
    def run(self) -> None:
        fails()


class Errand(QRunnable):
    def run(self) -> None:
        fails()


def arrive(widget: QWidget, event: QEvent) -> None:
    """From Qt's own loop: what is sent from Python comes back to the sender."""
    QApplication.postEvent(widget, event)
    QApplication.processEvents()


def in_a_slot(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    emitter = Emitter(bench)
    emitter.fired.connect(fails)
    emitter.fired.emit()


def in_an_action(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.actions_.zoom_in.triggered.connect(fails)
    bench.actions_.zoom_in.trigger()


def in_a_timer(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    QTimer.singleShot(0, bench, fails)


def in_a_key(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patching:
        patching.setattr(bench.canvas.mode, "key", fails)
        arrive(bench.canvas, QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Left, PLAIN))


def in_a_mouse_move(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    at = QPointF(200, 200)
    with monkeypatch.context() as patching:
        patching.setattr(bench.canvas.mode, "move", fails)
        arrive(bench.canvas, QMouseEvent(QEvent.Type.MouseMove, at, at, Qt.MouseButton.NoButton, LEFT, PLAIN))


def in_painting(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patching:
        patching.setattr(bench.canvas._picture, "paint", fails)
        bench.canvas.update()
        QApplication.processEvents()


def in_closing(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patching:
        patching.setattr(bench.files, "may_go", fails)
        QMetaObject.invokeMethod(bench, "close", Qt.ConnectionType.QueuedConnection)
        QApplication.processEvents()
        assert bench.isVisible()


def in_a_thread(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    thread = threading.Thread(target=fails)
    thread.start()
    thread.join()


def in_a_thread_of_qt(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    worker = Worker(bench)
    worker.start()
    assert worker.wait(10_000)


def in_a_pool(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    pool = QThreadPool(bench)
    pool.start(Errand())
    assert pool.waitForDone(10_000)


def in_looking_for_anchors(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.window.anchor_work.suggest", fails)
    monkeypatch.setattr("app.window.anchor_work.anchor_map", fails)
    bench.anchor_work.want(map_=True, suggestions=True)


PLACES = (
    in_a_slot, in_an_action, in_a_timer, in_a_key, in_a_mouse_move, in_painting, in_closing, in_a_thread,
    in_a_thread_of_qt, in_a_pool, in_looking_for_anchors,
)  # fmt: skip


@pytest.mark.parametrize("place", PLACES)
def test_the_plan_is_kept_before_anything_is_said(
    bench: Bench,
    hand: Hand,
    root: Path,
    kept_at: list[Plan | None],
    caught: Unforeseen,
    qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch,
    place: Callable[[Bench, pytest.MonkeyPatch], None],
) -> None:
    hand.key(Qt.Key.Key_Right)
    plan = bench.session.plan
    assert left_behind(root, lambda _: False) == []
    place(bench, monkeypatch)
    qtbot.waitUntil(lambda: caught.dialog is not None and caught.dialog.isVisible(), timeout=30_000)
    assert kept_at == [plan]
    assert bench.session.plan == plan
    assert caught.dialog is not None
    assert "a slip of ours" in caught.dialog.details.toPlainText()
    assert "went wrong" in bench.message.text
    QTest.keyClick(caught.dialog, Qt.Key.Key_Return)
    assert not caught.dialog.isVisible()
    hand.key(Qt.Key.Key_Right)
    assert bench.session.plan != plan, "work goes on"


def test_a_fault_that_comes_again_and_again_is_told_once(
    bench: Bench, hand: Hand, root: Path, kept_at: list[Plan | None], caught: Unforeseen
) -> None:
    def burst() -> None:
        for _ in range(20):
            QTimer.singleShot(0, bench, fails)
        for _ in range(25):
            QApplication.processEvents()

    burst()
    assert len(kept_at) == 1
    assert caught.dialog is not None
    caught.dialog.accept()
    burst()
    assert len(kept_at) == 1
    assert "went wrong" in bench.message.text


def test_another_fault_meanwhile_is_added(
    bench: Bench, root: Path, kept_at: list[Plan | None], caught: Unforeseen, qtbot: QtBot
) -> None:
    QTimer.singleShot(0, bench, fails)
    QTimer.singleShot(0, bench, lambda: os.environ["NO_SUCH_KEY"])
    qtbot.waitUntil(
        lambda: caught.dialog is not None and "NO_SUCH_KEY" in caught.dialog.details.toPlainText()
    )
    assert len(kept_at) == 1
    assert caught.dialog is not None
    assert "a slip of ours" in caught.dialog.details.toPlainText()


def test_what_fails_in_telling_is_not_told_for_ever(
    bench: Bench,
    hand: Hand,
    root: Path,
    kept_at: list[Plan | None],
    caught: Unforeseen,
    qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    hand.key(Qt.Key.Key_Right)
    monkeypatch.setattr(bench.message, "problem", fails)
    QTimer.singleShot(0, bench, lambda: os.environ["NO_SUCH_KEY"])
    qtbot.waitUntil(lambda: caught.dialog is not None)
    assert kept_at == [bench.session.plan]
    assert caught.dialog is not None
    assert "NO_SUCH_KEY" in caught.dialog.details.toPlainText()


def test_a_dialog_that_cannot_be_made_is_not_tried_for_ever(
    bench: Bench, hand: Hand, root: Path, caught: Unforeseen, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried: list[object] = []

    def cannot(*parts: object) -> None:
        tried.append(parts)
        fails()

    hand.key(Qt.Key.Key_Right)
    monkeypatch.setattr(UnforeseenDialog, "__init__", cannot)
    QTimer.singleShot(0, bench, fails)
    qtbot.waitUntil(lambda: len(tried) == 1)
    for _ in range(20):
        QApplication.processEvents()
    assert len(tried) <= 2, "of the slip, and of the one in making it"
    assert "went wrong" in bench.message.text
    assert [read_left(left).plan for left in left_behind(root, lambda _: False)] == [bench.session.plan]


def test_signals_that_call_each_other_without_end(
    bench: Bench, hand: Hand, root: Path, kept_at: list[Plan | None], caught: Unforeseen, qtbot: QtBot
) -> None:
    """There is no depth of calls left where the error arrives."""
    hand.key(Qt.Key.Key_Right)
    emitter = Emitter(bench)
    emitter.fired.connect(lambda: emitter.fired.emit())
    QTimer.singleShot(0, bench, emitter.fired.emit)
    qtbot.waitUntil(lambda: caught.dialog is not None and caught.dialog.isVisible())
    assert kept_at == [bench.session.plan]
    assert caught.dialog is not None
    assert "recursion" in caught.dialog.details.toPlainText()


def test_where_nothing_can_be_kept_it_says_so(
    bench: Bench, hand: Hand, root: Path, caught: Unforeseen, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    hand.key(Qt.Key.Key_Right)
    with monkeypatch.context() as patching:
        patching.setattr("app.plan.atomic.os.write", full)
        QTimer.singleShot(0, bench, fails)
        qtbot.waitUntil(lambda: caught.dialog is not None)
    assert caught.dialog is not None
    words = " ".join(label.text() for label in caught.dialog.findChildren(QLabel))
    assert "the disk is full" in words
    assert "save your plan now" in words
    assert "save your plan" in bench.message.text


def test_the_details_are_copied_and_read_by_all_means(
    bench: Bench, root: Path, caught: Unforeseen, qtbot: QtBot
) -> None:
    QTimer.singleShot(0, bench, fails)
    qtbot.waitUntil(lambda: caught.dialog is not None)
    dialog = caught.dialog
    assert dialog is not None
    buttons = {each.text().replace("&", ""): each for each in dialog.findChildren(QAbstractButton)}
    QTest.mouseClick(buttons["Copy the details"], Qt.MouseButton.LeftButton)
    copied = QGuiApplication.clipboard().text()
    assert "a slip of ours" in copied
    assert copied == dialog.findChildren(QPlainTextEdit)[0].toPlainText()
    for widget in (*buttons.values(), dialog.details):
        assert widget.height() >= 24
        assert widget.accessibleName()
        assert widget.whatsThis()


def test_the_hooks_are_put_back(bench: Bench) -> None:
    before = sys.excepthook, threading.excepthook
    with Unforeseen(bench).watching():
        assert sys.excepthook is not before[0]
        assert threading.excepthook is not before[1]
    assert (sys.excepthook, threading.excepthook) == before
