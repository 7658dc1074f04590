"""What a screen reader is given to speak, by real keys."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.sketch import changes
from app.window import announce as announcing
from app.window import message_bar, speaker
from app.window.main_window import Bench
from tests.app.window.conftest import CTRL, INCH, Hand

KEY = Qt.Key


@pytest.fixture
def said(monkeypatch: pytest.MonkeyPatch, bench: Bench, qtbot: QtBot) -> list[str]:
    spoken: list[str] = []
    for module in (speaker, message_bar):
        monkeypatch.setattr(module, "announce", lambda widget, words: spoken.append(words))
    qtbot.waitUntil(lambda: bench.canvas.rest.resting)  # it was shown just now
    return spoken


def test_arrows_say_where_the_anchor_is(bench: Bench, hand: Hand, said: list[str]) -> None:
    hand.key(KEY.Key_Right)
    assert said == ["anchor at x 3 1/8 in, y 5 in"]
    hand.key(KEY.Key_Down, CTRL)
    assert said[1:] == ["anchor at x 3 1/8 in, y 5 1/16 in"]


def test_of_two_anchors_the_chosen_one_is_said(bench: Bench, hand: Hand, said: list[str]) -> None:
    bench.session.do(changes.add_anchor(bench.session.plan, 0, (6 * INCH, 2 * INCH)))
    said.clear()
    hand.key(KEY.Key_PageDown)
    assert said[-1] == "anchor 2 of 2 at x 6 in, y 2 in"
    hand.key(KEY.Key_Left)
    assert said[-1] == "anchor 2 of 2 at x 5 7/8 in, y 2 in"


def test_a_chosen_corner_is_said(bench: Bench, hand: Hand, said: list[str]) -> None:
    hand.key(KEY.Key_2, CTRL)
    hand.key(KEY.Key_PageDown)
    assert said[-1].startswith("corner ")
    assert "at x 0 in, y 0 in" in said[-1]
    hand.key(KEY.Key_Left)
    assert "at x -1/8 in, y 0 in" in said[-1]


def test_a_chosen_mark_is_said_with_its_distances(bench: Bench, hand: Hand, said: list[str]) -> None:
    hand.key(KEY.Key_4, CTRL)
    hand.key(KEY.Key_PageDown)
    hand.key(KEY.Key_PageDown)
    assert said[-1].startswith("mark A1, ")
    assert "from corner" in said[-1]


def test_the_verdict_waits_for_rest_and_comes_only_when_it_is_another(
    bench: Bench, hand: Hand, said: list[str], qtbot: QtBot
) -> None:
    bench.session.do(changes.set_setting(bench.session.plan, 0, visible_width=40.0))
    assert len(said) == 1, "a setting changes while the hand rests: at once"
    assert "problem" in said[0] or "caution" in said[0]
    bench.session.do(changes.set_setting(bench.session.plan, 0, stitch_length=2.0))
    assert len(said) == 1, "the verdict is the same"
    before = bench.speaker._verdict
    said.clear()
    for _ in range(12):
        hand.key(KEY.Key_Left)
    assert all(words.startswith("anchor at") for words in said)
    qtbot.waitUntil(lambda: bench.canvas.rest.resting, timeout=3000)
    QApplication.processEvents()
    assert bench.speaker._verdict != before, "the test moved too little"
    assert said[-1] == bench.speaker._verdict
    assert said.count(said[-1]) == 1


def test_a_new_name_does_not_silence_the_verdict(bench: Bench, said: list[str]) -> None:
    bench.session.do(changes.rename_patch(bench.session.plan, 0, "Pond"))
    bench.session.do(changes.set_setting(bench.session.plan, 0, visible_width=40.0))
    assert len(said) == 1


def test_undo_and_redo_say_the_step(bench: Bench, hand: Hand, said: list[str]) -> None:
    hand.key(KEY.Key_Right)
    said.clear()
    hand.key(KEY.Key_Z, CTRL)
    assert said[0] == "Undo: Move anchor"
    hand.key(KEY.Key_Y, CTRL)
    assert "Redo: Move anchor" in said


def test_a_kept_try_and_what_is_refused_are_said(bench: Bench, said: list[str], qtbot: QtBot) -> None:
    QTest.keyClick(bench.canvas, KEY.Key_F4)
    assert said == ["“Try 1” is kept; it is in the panel Tries"]
    QTest.keyClick(bench.canvas, KEY.Key_F4)
    assert "kept already" in said[-1]


def test_another_patch_is_said_with_its_verdict(bench: Bench, hand: Hand, said: list[str]) -> None:
    hand.key(KEY.Key_PageDown, CTRL)
    assert len(said) == 1
    assert said[0].startswith("Ell: ")
    assert "wedge" in said[0]


def test_an_announcement_reaches_qt(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    from PySide6.QtGui import QAccessibleAnnouncementEvent

    sent: list[str] = []
    monkeypatch.setattr(QAccessible, "isActive", lambda: True)
    monkeypatch.setattr(QAccessible, "updateAccessibility", lambda event: sent.append(event.message()))
    announcing.announce(bench.canvas, "eight wedges")
    assert sent == ["eight wedges"]
    assert QAccessibleAnnouncementEvent is not None
