"""Starts the bench: ``run(files)`` is the only door from the command line to the window."""

from __future__ import annotations

import gc
import logging
import os
import signal
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Final

from app.sketch.translate import tr

if TYPE_CHECKING:
    from PySide6.QtGui import QSessionManager
    from PySide6.QtWidgets import QApplication

    from app.window.main_window import Bench

NAME: Final = "Wedgewright"
log: Final = logging.getLogger("wedgewright")

_SEEN_MS: Final = 10
"""From the first paint to the furnishing: the frame must have reached the screen, and the window manager
may have had its say about the size."""
_UNSEEN_MS: Final = 500
"""A window that is not painted, as it starts minimised, is furnished after so long."""

_POLITE: Final = (signal.SIGINT, signal.SIGTERM, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else []))
"""Signals that ask the window to close."""

_NEEDS_A_SCREEN: Final = ("", "xcb", "wayland")


def run(files: Sequence[str]) -> int:
    """Open the bench on ``files`` (a plan, outlines, or none for the sample) and stay until it is closed.

    Returns the exit status: 2, with one line on standard error, where there is no display.
    """
    if not has_display(os.environ, sys.platform):
        words = tr(
            "wedgewright: there is no display to open the bench on; "
            "use “wedgewright fit FILE” or “wedgewright template FILE -o OUT.pdf” instead"
        )
        sys.stderr.write(words + "\n")
        return 2
    from PySide6.QtCore import QTimer
    from PySide6.QtWidgets import QApplication

    present = QApplication.instance()
    application = present if isinstance(present, QApplication) else QApplication(["wedgewright"])
    bench = open_frame(application)
    failed: list[Exception] = []

    def furnish_once() -> None:
        if bench.isHidden():
            return  # closed again before there was anything on it
        from app.window.locks import data_folder

        try:
            guards.enter_context(_interrupts(bench))
            furnish(bench)
            bench.keep_in(data_folder() / "recovery")
            bench.take([Path(name) for name in files])
            bench.settle()
            application.commitDataRequest.connect(lambda manager: end_of_login(bench, manager))
            QTimer.singleShot(0, bench, lambda: bench.show_recovered(only_some=True))
        except Exception as error:
            failed.append(error)
            application.exit()

    waiting = QTimer(bench, singleShot=True, interval=_UNSEEN_MS)
    waiting.timeout.connect(furnish_once)
    bench.first_painted.connect(lambda: waiting.start(_SEEN_MS))
    with ExitStack() as guards:
        guards.enter_context(_nothing_escapes(bench))
        bench.show()
        waiting.start()
        status = application.exec()
    if failed:
        raise failed[0]
    return status


def open_bench(application: QApplication) -> Bench:
    """The bench on the sample plan, not shown yet."""
    bench = open_frame(application)
    furnish(bench)
    return bench


def open_frame(application: QApplication) -> Bench:
    """The bare frame, not shown yet. Nothing that takes long to load is loaded."""
    from app.window.look import Look, prepare
    from app.window.main_window import Bench

    identify(application)
    prepare(application)
    return Bench(Look(application, application), furnished=False)


def furnish(bench: Bench) -> None:
    """Load the bench, build it on the frame, and lay the sample plan on it."""
    from app.window.sample import sample_plan

    bench.furnish(sample_plan())
    bench.canvas.sentence = tr("Drag this point:\nthe wedges follow your hand.")
    # What is there now stays. Looking through it again and again would halt the hand (found by trial).
    gc.freeze()
    gc.enable()


def identify(application: QApplication) -> None:
    """Under which name settings are kept."""
    application.setOrganizationName(NAME)
    application.setApplicationName(NAME)


def has_display(environment: Mapping[str, str], platform: str) -> bool:
    """Whether Qt will find a screen. Asked before Qt is, as Qt aborts the process where it finds none."""
    if not platform.startswith(("linux", "freebsd")):
        return True
    # "xcb;offscreen" names several to be tried in turn.
    wanted = environment.get("QT_QPA_PLATFORM", "").split(";")
    if any(name.split(":")[0] not in _NEEDS_A_SCREEN for name in wanted):
        return True
    return bool(environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY"))


@contextmanager
def _nothing_escapes(bench: Bench) -> Iterator[None]:
    """An error that nobody foresaw costs no work: a copy is kept, and it is told in plain words."""
    from app.window.unforeseen import Unforeseen

    _log_to_file()
    with Unforeseen(bench).watching():
        yield


def end_of_login(bench: Bench, manager: QSessionManager) -> None:
    """Ask about unsaved work where the system lets us; else a copy is kept, and offered at the next start."""
    bench.rescue()
    if not bench.session.history.is_clean and manager.allowsInteraction():
        if not bench.may_end():
            manager.cancel()
        manager.release()


def _log_to_file() -> None:
    from PySide6.QtCore import QStandardPaths

    folder = Path(QStandardPaths.writableLocation(QStandardPaths.StandardLocation.AppLocalDataLocation))
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return  # without a place to write there is no log; the window works all the same
    handler = logging.FileHandler(folder / "wedgewright.log", encoding="utf-8", delay=True)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    log.addHandler(handler)
    log.propagate = False


@contextmanager
def _interrupts(bench: Bench) -> Iterator[None]:
    """Ctrl-C, a polite kill and a terminal that goes away close the window as its own button does, asking
    about unsaved work. Whoever sent it may not wait for the answer: a copy is kept first.

    Qt's loop gives Python no turn by itself; the wake-up socket that Python writes to on a signal does.
    """
    import socket  # not before the first paint

    from PySide6.QtCore import QSocketNotifier, QTimer

    reading, writing = socket.socketpair()
    reading.setblocking(False)
    writing.setblocking(False)
    notifier = QSocketNotifier(reading.fileno(), QSocketNotifier.Type.Read)
    notifier.activated.connect(lambda: reading.recv(64))

    def close() -> None:
        bench.rescue()
        bench.close()  # sent again while it asks, Qt lets the question stand

    def caught(number: int, frame: FrameType | None) -> None:
        QTimer.singleShot(0, close)  # not in the middle of whatever is being done, or built

    before_wakeup = signal.set_wakeup_fd(writing.fileno(), warn_on_full_buffer=False)
    before = {number: signal.signal(number, caught) for number in _POLITE}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        signal.set_wakeup_fd(before_wakeup)
        notifier.setEnabled(False)
        reading.close()
        writing.close()
