"""A new user's first visit, from the opened bench to the printed template (see ``first_visit``)."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from app.window.look import Look
from app.window.main_window import Bench
from app.window.sample import sample_plan
from tests.app.window.conftest import Answers
from tests.app.window.first_visit import Visitor


def test_a_first_visit(qtbot: QtBot, look: Look, answers: Answers, tmp_path: Path) -> None:
    bench = Bench(look, sample_plan(), answers)  # type: ignore[arg-type]
    qtbot.addWidget(bench, before_close_func=lambda made: made.session.open(made.session.plan))
    bench.resize(1280, 720)
    bench.show()
    qtbot.waitExposed(bench)
    pictures = []

    def shoot(name: str, widget: QWidget) -> None:
        assert not widget.grab().isNull()
        pictures.append(name)

    Visitor(bench, answers, tmp_path, shoot).visit()
    QApplication.processEvents()
    assert len(pictures) == 12
    assert not answers.told, "nothing went wrong"
