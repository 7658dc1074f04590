"""What we override of Qt's is guarded: an error goes where errors go, and Qt gets an answer."""

from __future__ import annotations

import importlib
import pkgutil
import sys
from types import FunctionType
from typing import Any

import pytest
from PySide6.QtCore import QAbstractListModel, QEvent, QModelIndex, QSize
from PySide6.QtWidgets import QApplication, QDialog, QLabel, QPushButton, QWidget
from pytestqt.qtbot import QtBot

import app.window
from app.window.overrides import guard


class SlipError(RuntimeError):
    """Of ours."""


@pytest.fixture
def heard(monkeypatch: pytest.MonkeyPatch) -> list[BaseException]:
    errors: list[BaseException] = []
    monkeypatch.setattr(sys, "excepthook", lambda kind, error, trace: errors.append(error))
    return errors


def fails(*_: object) -> Any:
    raise SlipError


def test_every_override_of_every_class_of_the_window_is_guarded() -> None:
    found = 0
    for module in pkgutil.iter_modules(app.window.__path__, "app.window."):
        for kind in vars(importlib.import_module(module.name)).values():
            if not isinstance(kind, type) or kind.__module__ != module.name:
                continue
            qts = [each for each in kind.__mro__ if each.__module__.startswith("PySide6")]
            for name, method in vars(kind).items():
                if qts and isinstance(method, FunctionType) and name[:2] != "__" and hasattr(qts[0], name):
                    found += 1
                    assert isinstance(getattr(method, "__wrapped__", None), FunctionType), (kind, name)
    assert found > 70


def test_an_event_that_fails_is_told_and_the_next_comes_as_ever(
    qtbot: QtBot, heard: list[BaseException]
) -> None:
    class Page(QLabel):
        came = 0

        def resizeEvent(self, event: QEvent) -> None:  # noqa: N802
            Page.came += 1
            if Page.came == 1:
                raise SlipError

        def sizeHint(self) -> QSize:  # noqa: N802
            raise SlipError

        def event(self, event: QEvent) -> bool:
            if event.type() == QEvent.Type.User:
                raise SlipError
            return super().event(event)

    guard(Page)
    page = Page("Lantern Pond")
    qtbot.addWidget(page)
    assert page.sizeHint() == QLabel("Lantern Pond").sizeHint(), "Qt's own answer"
    assert len(heard) == 1
    page.show()
    page.resize(200, 100)
    page.resize(220, 100)
    assert Page.came >= 2
    told = len(heard)
    assert QApplication.sendEvent(page, QEvent(QEvent.Type.User)) is False
    assert len(heard) == told + 1
    assert {type(error) for error in heard} == {SlipError}


def test_where_qt_has_no_answer_there_is_nothing(heard: list[BaseException]) -> None:
    class Rows(QAbstractListModel):
        rowCount = data = FunctionType(fails.__code__, {"SlipError": SlipError})  # noqa: N815

    guard(Rows)
    rows = Rows()
    assert rows.rowCount() == 0
    assert rows.data(QModelIndex()) is None
    assert len(heard) == 2


def test_a_signal_gives_no_more_than_is_taken(qtbot: QtBot, heard: list[BaseException]) -> None:
    class Question(QDialog):
        accepted_ = 0

        def accept(self) -> None:
            Question.accepted_ += 1

    guard(Question)
    question = Question()
    qtbot.addWidget(question)
    button = QPushButton("Go on", question)
    button.clicked.connect(question.accept)  # which tells whether it is checked
    button.click()
    assert Question.accepted_ == 1
    assert not heard


def test_what_does_not_fail_answers_for_itself(heard: list[BaseException]) -> None:
    class Page(QWidget):
        def heightForWidth(self, width: int) -> int:  # noqa: N802
            """Of ours."""
            return 2 * width

        def ours(self) -> None:
            raise SlipError

    guard(Page)
    assert Page.heightForWidth.__doc__ == "Of ours."
    assert not heard
    assert not hasattr(Page.ours, "__wrapped__"), "nobody but us calls it"
