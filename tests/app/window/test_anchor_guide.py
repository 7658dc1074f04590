"""Anchor map, suggestions, best place and first wedge on the bench: by hand and by keys."""

from __future__ import annotations

import math
import threading
from dataclasses import replace

import numpy as np
import pytest
import shiboken6
from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QImage, QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDockWidget
from pytestqt.qtbot import QtBot

from app.plan.model import Plan
from app.sketch.anchor_map_display import map_signs
from app.sketch.changes import add_anchor, set_setting
from app.sketch.first_wedge import start_of
from app.sketch.modes.events import Pointer
from app.sketch.palette import HANDLE_SIZE, Role
from app.sketch.snapping import Caught
from app.window import anchor_work, picture
from app.window.anchor_work import AnchorWork
from app.window.findings_panel import FindingsPanel
from app.window.look import Look
from app.window.main_window import Bench
from app.window.overlay_painter import OverlayPainter
from app.window.sample import sample_plan
from app.window.session import Session
from geometry import Settings
from geometry.anchors import AnchorMap, Progress, Suggestion, anchor_map, suggest
from geometry.findings import Code
from tests.app.window.conftest import CTRL, INCH, LEFT, PLAIN, Answers, Hand, block, ell


def anchor(bench: Bench) -> tuple[float, float]:
    piece = bench.session.piece
    assert piece is not None
    return piece.anchors[0]


def settings_of(bench: Bench) -> Settings:
    piece = bench.session.piece
    assert piece is not None
    return piece.settings


def picture_of(bench: Bench) -> QImage:
    """Of a bench at rest: while a hand moves, or where it moved just now, lines are thinner."""
    for _ in range(100):
        if bench.canvas.rest.resting:
            break
        QTest.qWait(20)
    QApplication.processEvents()
    return bench.canvas.grab().toImage()


def with_map(bench: Bench, qtbot: QtBot) -> Bench:
    bench.canvas.setFocus()
    QTest.keyClick(bench.canvas, Qt.Key.Key_M, CTRL)
    qtbot.waitUntil(lambda: bench.anchor_work.signs is not None, timeout=10000)
    return bench


def with_suggestions(bench: Bench, qtbot: QtBot) -> Bench:
    bench.canvas.setFocus()
    QTest.keyClick(bench.canvas, Qt.Key.Key_G, CTRL)
    qtbot.waitUntil(lambda: bench.suggestions.model.rowCount() > 0, timeout=10000)
    QApplication.processEvents()
    return bench


def row(bench: Bench, number: int) -> QPoint:
    return bench.suggestions.list.visualRect(bench.suggestions.model.index(number)).center()


def hover(bench: Bench, number: int) -> None:
    view = bench.suggestions.list.viewport()
    at = row(bench, number)
    event = QMouseEvent(
        QEvent.Type.MouseMove, QPointF(at), QPointF(view.mapToGlobal(at)),
        Qt.MouseButton.NoButton, Qt.MouseButton.NoButton, PLAIN,
    )  # fmt: skip
    QApplication.sendEvent(view, event)


def suggested(bench: Bench, number: int) -> tuple[float, float]:
    each = bench.suggestions.model.suggestion(number)
    assert each is not None
    return each.anchor


# --- the map ------------------------------------------------------------------------------------------


def test_the_map_lies_under_the_fan_and_goes_again(bench: Bench, qtbot: QtBot) -> None:
    bare = picture_of(bench)
    with_map(bench, qtbot)
    mapped = picture_of(bench)
    assert mapped != bare
    signs = bench.anchor_work.signs
    assert signs is not None
    # A large dot in its ink at every good anchor that no line, number or handle lies on.
    best = signs.places[(signs.size == signs.size.max()) & ~signs.crossed]
    ink = bench._look.colour(Role.QUIET).rgb()
    pixels = [bench.canvas.view.point_to_screen((float(x), float(y))) for x, y in best]
    inked = [mapped.pixel(round(x), round(y)) == ink for x, y in pixels]
    assert sum(inked) > 0.8 * len(inked)
    QTest.keyClick(bench.canvas, Qt.Key.Key_M, CTRL)
    assert picture_of(bench) == bare


def test_the_map_is_the_one_of_the_patch_and_its_settings(bench: Bench, qtbot: QtBot) -> None:
    with_map(bench, qtbot)
    first = bench.anchor_work.signs
    QTest.keyClick(bench.canvas, Qt.Key.Key_PageDown, CTRL)
    assert bench.anchor_work.signs is None
    qtbot.waitUntil(lambda: bench.anchor_work.signs is not None, timeout=10000)
    piece, signs = bench.session.piece, bench.anchor_work.signs
    assert piece is not None
    assert signs is not None
    own = map_signs(anchor_map(piece.patch(), piece.settings), piece.settings.visible_width)
    assert np.array_equal(signs.places, own.places)
    assert np.array_equal(signs.size, own.size)
    QTest.keyClick(bench.canvas, Qt.Key.Key_PageUp, CTRL)
    assert bench.anchor_work.signs is first  # kept


def test_moving_the_anchor_and_what_it_sees_not_keeps_the_map(bench: Bench, hand: Hand, qtbot: QtBot) -> None:
    with_map(bench, qtbot)
    first = bench.anchor_work.signs
    hand.press(3, 5)
    hand.move(4, 4)
    hand.release(4, 4)
    QTest.keyClick(bench.canvas, Qt.Key.Key_R, CTRL)
    assert not settings_of(bench).clockwise
    assert bench.anchor_work.signs is first


def test_a_drag_paints_no_map_again(
    bench: Bench, hand: Hand, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    painted = []
    paint = picture.paint_map
    monkeypatch.setattr(picture, "paint_map", lambda *args: (painted.append(1), paint(*args)))
    with_map(bench, qtbot)
    picture_of(bench)
    assert painted
    painted.clear()
    hand.press(3, 5)
    for step in range(8):
        hand.move(3 + step / 4, 5)
        QApplication.processEvents()
    hand.release(5, 5)
    qtbot.wait(200)
    assert not painted


def test_the_toggle_is_remembered_and_off_at_first(
    bench: Bench, qtbot: QtBot, look: Look, answers: Answers
) -> None:
    assert not bench.actions_.anchor_map.isChecked()
    bench.actions_.anchor_map.trigger()
    again = Bench(look, Plan(title="Trial", patches=(block(),)), answers)  # type: ignore[arg-type]
    assert again.actions_.anchor_map.isChecked()
    again.show()
    qtbot.waitUntil(lambda: again.anchor_work.signs is not None, timeout=10000)
    again.close()
    shiboken6.delete(again)


def test_the_map_is_shown_in_anchor_mode_only(bench: Bench, qtbot: QtBot) -> None:
    bench.set_mode("marks")
    bare = picture_of(bench)
    with_map(bench, qtbot)  # goes to the anchor's mode
    assert bench.canvas.mode is bench.modes["anchor"]
    bench.set_mode("marks")
    assert picture_of(bench) == bare


# --- work beside the window ---------------------------------------------------------------------------


class Slow:
    """Stands in for the engine: works until it is let go, and says how far it is."""

    def __init__(self) -> None:
        self.go = threading.Event()
        self.begun = 0
        self.stopped = 0

    def __call__(self, patch: object, settings: object, progress: Progress) -> AnchorMap:
        self.begun += 1
        for done in range(1, 1000):
            if not progress(done, 1000):
                self.stopped += 1
                break
            if self.go.wait(0.005):
                break
        return anchor_map(block().patch(), Settings(), step=40.0)


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> Slow:
    made = Slow()
    monkeypatch.setattr(anchor_work, "anchor_map", made)
    yield made  # type: ignore[misc]
    made.go.set()


def test_long_work_says_how_far_it_is_and_is_left_for_another_patch(
    bench: Bench, slow: Slow, qtbot: QtBot
) -> None:
    bench.actions_.anchor_map.trigger()
    qtbot.waitUntil(lambda: "being made" in bench.canvas._notice, timeout=10000)
    assert "%" in bench.canvas._notice
    assert (slow.begun, slow.stopped) == (1, 0)
    QTest.keyClick(bench.canvas, Qt.Key.Key_PageDown, CTRL)
    assert bench.canvas._notice == ""
    qtbot.waitUntil(lambda: slow.stopped == 1, timeout=10000)
    qtbot.waitUntil(lambda: slow.begun == 2, timeout=10000)
    slow.go.set()
    qtbot.waitUntil(lambda: bench.anchor_work.signs is not None, timeout=10000)
    assert bench.canvas._notice == ""


def test_long_work_is_left_for_other_settings_and_when_it_is_switched_off(
    bench: Bench, slow: Slow, qtbot: QtBot
) -> None:
    bench.actions_.anchor_map.trigger()
    qtbot.waitUntil(lambda: slow.begun == 1, timeout=10000)
    from app.sketch.changes import set_setting

    bench.session.do(set_setting(bench.session.plan, 0, gap=5.0))
    qtbot.waitUntil(lambda: (slow.begun, slow.stopped) == (2, 1), timeout=10000)
    bench.actions_.anchor_map.trigger()
    qtbot.waitUntil(lambda: slow.stopped == 2, timeout=10000)
    qtbot.wait(anchor_work.REST_MS + 100)
    assert slow.begun == 2
    assert bench.anchor_work.signs is None


class SlowSearch(Slow):
    """The same for suggestions."""

    def __call__(self, patch: object, settings: object, progress: Progress) -> tuple[Suggestion, ...]:  # type: ignore[override]
        super().__call__(patch, settings, progress)
        return suggest(block().patch(), Settings()) if self.go.is_set() else ()


@pytest.fixture
def slow_search(monkeypatch: pytest.MonkeyPatch) -> SlowSearch:
    """Comes before the bench, which begins to look when it has rested for a moment."""
    made = SlowSearch()
    monkeypatch.setattr(anchor_work, "suggest", made)
    yield made  # type: ignore[misc]
    made.go.set()


@pytest.mark.parametrize("how", ["Esc", "button", "menu"])
def test_a_search_that_takes_long_says_how_far_it_is_and_can_be_stopped(
    slow_search: SlowSearch, bench: Bench, qtbot: QtBot, how: str
) -> None:
    panel, act = bench.suggestions, bench.actions_
    assert not act.stop_looking.isEnabled(), "Esc is for something else"
    act.suggest.trigger()
    qtbot.waitUntil(lambda: panel.state.text().endswith("%"), timeout=10000)
    assert panel.stop.isVisible()
    if how == "Esc":
        QTest.keyClick(bench.canvas, Qt.Key.Key_Escape)
    elif how == "button":
        QTest.mouseClick(panel.stop, Qt.MouseButton.LeftButton)
    else:
        act.stop_looking.trigger()
    qtbot.waitUntil(lambda: slow_search.stopped == 1, timeout=10000)
    assert panel.state.text().startswith("Stopped")
    assert not panel.stop.isVisible()
    assert not act.stop_looking.isEnabled()
    bench.set_mode("marks")
    bench.set_mode("anchor")
    qtbot.wait(anchor_work.REST_MS + 100)
    assert slow_search.begun == 1, "it is not begun again by itself"
    slow_search.go.set()
    QTest.mouseClick(panel.again, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: panel.model.rowCount() > 0, timeout=10000)
    assert slow_search.begun == 2
    assert not panel.again.isVisible()


def test_a_search_behind_the_scenes_leaves_esc_alone(
    slow_search: SlowSearch, bench: Bench, qtbot: QtBot
) -> None:
    qtbot.waitUntil(lambda: slow_search.begun == 1, timeout=10000)
    qtbot.waitUntil(lambda: bench.anchor_work.progress("suggestions") is not None, timeout=10000)
    qtbot.wait(4 * anchor_work._LOOK_MS)
    assert bench.anchor_work.progress("suggestions") is not None, "it is still under way"
    assert not bench.suggestions.isVisible()
    assert not bench.actions_.stop_looking.isEnabled()
    QTest.keyClick(bench.canvas, Qt.Key.Key_Escape)
    assert slow_search.stopped == 0


def test_esc_stops_a_long_map_but_first_a_drag(bench: Bench, hand: Hand, slow: Slow, qtbot: QtBot) -> None:
    bench.actions_.anchor_map.trigger()
    qtbot.waitUntil(lambda: "Esc" in bench.canvas._notice, timeout=10000)
    before = anchor(bench)
    hand.press(3, 5)
    hand.move(4, 4)
    hand.key(Qt.Key.Key_Escape)
    assert not bench.session.in_gesture
    assert anchor(bench) == before
    hand.release(4, 4)
    assert bench.actions_.anchor_map.isChecked()
    assert slow.stopped == 0
    qtbot.waitUntil(lambda: bench.actions_.stop_looking.isEnabled(), timeout=10000)
    hand.key(Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: slow.stopped == 1, timeout=10000)
    assert not bench.actions_.anchor_map.isChecked()
    assert bench.canvas._notice == ""


def test_work_waits_while_the_hand_drags(bench: Bench, hand: Hand, slow: Slow, qtbot: QtBot) -> None:
    bench.actions_.anchor_map.trigger()
    qtbot.waitUntil(lambda: slow.begun == 1, timeout=10000)
    hand.press(3, 5)
    hand.move(4, 4)
    job = bench.anchor_work._job
    assert job is not None
    qtbot.wait(50)
    done = job.done
    qtbot.wait(100)
    assert job.done == done
    hand.release(4, 4)
    qtbot.waitUntil(lambda: job.done > done, timeout=10000)
    assert slow.begun == 1


def test_work_goes_on_while_a_suggestion_is_tried_out(bench: Bench, slow: Slow, qtbot: QtBot) -> None:
    with_suggestions(bench, qtbot)
    bench.actions_.anchor_map.trigger()
    qtbot.waitUntil(lambda: slow.begun == 1, timeout=10000)
    hover(bench, 1)
    assert bench.session.in_gesture
    job = bench.anchor_work._job
    assert job is not None
    done = job.done
    qtbot.waitUntil(lambda: job.done > done + 2, timeout=10000)


def test_what_goes_wrong_beside_the_window_is_told_in_it(
    look: Look, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*args: object, **named: object) -> None:
        raise ValueError("planted")

    monkeypatch.setattr(anchor_work, "suggest", fails)
    session = Session(Plan(title="Trial", patches=(block(),)))
    work = AnchorWork(session, parent=session)
    with qtbot.captureExceptions() as caught:
        work.want(map_=False, suggestions=True)
        qtbot.waitUntil(lambda: len(caught) > 0, timeout=10000)
    assert str(caught[0][1]) == "planted"


def test_only_what_counts_is_compared() -> None:
    usual = Settings()
    assert set(anchor_work._COUNTS_NOT) <= set(Settings.__dataclass_fields__)
    counts = set(Settings.__dataclass_fields__) - set(anchor_work._COUNTS_NOT)
    patch = ell().patch()
    before = anchor_map(patch, usual, step=30.0)
    other = {
        "hold_back": 9.0, "stagger": 5.0, "echo_count": 3, "divide": True, "first_wedge": 2,
        "clockwise": False,
        "spiral": True, "wobble": 1.0, "batting_width": 20.0, "least_turning": True, "cloth_turned": False,
    }  # fmt: skip
    after = anchor_map(patch, Settings(**other), step=30.0)  # type: ignore[arg-type]
    assert set(other) <= set(anchor_work._COUNTS_NOT)
    assert (before.narrowest == after.narrowest).all()
    assert (before.problems == after.problems).all()
    assert counts >= {"edge_margin", "gap", "visible_width", "spans_per_side", "merge_thin", "own_marks"}


def test_several_fans_are_numbered_in_the_order_of_the_path_and_one_says_start(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[tuple[str, QRectF]] = []
    plain = OverlayPainter._text_plate

    def plate(self: OverlayPainter, box: QRectF, text: str, edge: Role) -> None:
        said.append((text, box))
        plain(self, box, text, edge)

    monkeypatch.setattr(OverlayPainter, "_text_plate", plate)
    bench.canvas.sentence = ""
    bench.canvas.grab()
    assert not [text for text, _ in said if text.startswith("fan")], "one fan needs no number"
    bench.session.choose(1)
    piece = bench.session.piece
    assert piece is not None
    bench.session.do(add_anchor(bench.session.plan, 1, (200.0, 50.0)))
    assert bench.session.fit is not None
    for settings, words in (
        ({}, ["fan 1: start", "fan 2"]),
        ({"start": (250.0, 50.0)}, ["start", "fan 1", "fan 2"]),
    ):
        bench.session.do(set_setting(bench.session.plan, 1, **settings)) if settings else None
        said.clear()
        bench.canvas.grab()
        assert [text for text, _ in said] == words
        start = start_of(bench.session.fit)
        assert start is not None
        for (text, box), at in zip(said[-2:], start.fans, strict=True):
            x, y = bench.canvas.view.point_to_screen(at)
            assert max(abs(box.left() - x), abs(box.top() - y)) < 40, text
    bench.canvas.mode.press(Pointer((200.0, 50.0), bench.canvas.view.scale))
    said.clear()
    bench.canvas.grab()
    assert said == [], "while the hand is down nothing is in its way"


def test_the_arrow_on_the_first_side_leaves_a_findings_sign_in_sight(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half way along it where nothing is; beside the sign's ring where there is room; else not at all."""
    tips: list[QPointF] = []
    monkeypatch.setattr(OverlayPainter, "_arrow", lambda self, tip, way: tips.append(tip))
    bench.canvas.sentence = ""

    def drawn() -> list[QPointF]:
        tips.clear()
        bench.canvas.grab()
        return tips[1:]  # the first is on the leg

    fit = bench.session.fit
    assert fit is not None
    plain = start_of(fit)
    assert plain is not None
    assert not plain.signs
    ((half, _), *_) = plain.side
    assert math.dist(drawn()[0].toTuple(), bench.canvas.view.point_to_screen(half)) < 0.1
    mode = bench.modes["anchor"]
    places = [place for place, _ in plain.side]
    for signs, seen in (([half], True), (places, False)):
        mode._started = (fit, replace(plain, signs=tuple(signs)))  # type: ignore[attr-defined]
        found = drawn()
        assert bool(found) is seen
        for sign in signs if seen else ():
            assert math.dist(found[0].toTuple(), bench.canvas.view.point_to_screen(sign)) >= HANDLE_SIZE
    bench.session.do(set_setting(bench.session.plan, 0, visible_width=250.0))
    fit = bench.session.fit
    assert fit is not None
    real = start_of(fit)
    assert real is not None
    assert half in real.signs, "a side that is too short has its sign half way along"


# --- suggestions --------------------------------------------------------------------------------------


def test_suggestions_come_with_their_figures_and_score(bench: Bench, qtbot: QtBot) -> None:
    bench.session.choose(1)
    with_suggestions(bench, qtbot)
    dock = bench.findChild(QDockWidget, "suggestions")
    assert isinstance(dock, QDockWidget)
    assert bench.suggestions.isVisible()
    piece, model = bench.session.piece, bench.suggestions.model
    assert piece is not None
    expected = suggest(piece.patch(), piece.settings)
    assert [model.suggestion(n) for n in range(model.rowCount())] == list(expected)
    spoken = model.data(model.index(0), Qt.ItemDataRole.AccessibleTextRole)
    assert "in sight" in spoken
    assert "narrowest wedge" in spoken
    assert "of 60" in spoken
    assert "Score" in spoken
    assert bench.suggestions.list.hasFocus()


def test_under_the_hand_a_suggestion_shows_and_a_click_takes_it(bench: Bench, qtbot: QtBot) -> None:
    with_suggestions(bench, qtbot)
    plan, before = bench.session.plan, anchor(bench)
    hover(bench, 1)
    assert bench.session.fit is not None
    assert bench.session.fit.anchors == (suggested(bench, 1),)
    assert bench.session.plan is plan
    QApplication.sendEvent(bench.suggestions.list.viewport(), QEvent(QEvent.Type.Leave))
    assert bench.session.fit.anchors == (before,)
    hover(bench, 1)
    QTest.mouseClick(bench.suggestions.list.viewport(), LEFT, PLAIN, row(bench, 1))
    assert anchor(bench) == pytest.approx(suggested(bench, 1))
    assert (bench.session.history.undo_name or "").startswith("Move anchor: ")
    hover(bench, 0)
    QTest.keyClick(bench, Qt.Key.Key_Z, CTRL)  # one step back, whatever is tried out
    assert anchor(bench) == before
    assert bench.session.plan == plan
    assert bench.session.fit.anchors == (before,)


def test_suggestions_by_keys(bench: Bench, qtbot: QtBot) -> None:
    with_suggestions(bench, qtbot)
    view, plan = bench.suggestions.list, bench.session.plan
    QTest.keyClick(view, Qt.Key.Key_Down)
    QTest.keyClick(view, Qt.Key.Key_Down)
    number = view.currentIndex().row()
    assert number > 0
    assert bench.session.fit is not None
    assert bench.session.fit.anchors == (suggested(bench, number),)
    QTest.keyClick(view, Qt.Key.Key_Escape)
    assert bench.session.fit.anchors == (anchor(bench),)
    assert bench.session.plan is plan
    QTest.keyClick(view, Qt.Key.Key_Return)
    assert anchor(bench) == pytest.approx(suggested(bench, number))


def test_suggestions_follow_the_patch(bench: Bench, qtbot: QtBot) -> None:
    with_suggestions(bench, qtbot)
    first = suggested(bench, 0)
    QTest.keyClick(bench, Qt.Key.Key_PageDown, CTRL)
    assert bench.suggestions.model.rowCount() == 0
    assert bench.suggestions.state.isVisible()
    qtbot.waitUntil(lambda: bench.suggestions.model.rowCount() > 0, timeout=10000)
    assert suggested(bench, 0) != first
    assert not bench.suggestions.state.isVisible()


def test_a_drag_is_caught_by_the_best_place(bench: Bench, hand: Hand, qtbot: QtBot) -> None:
    bench.session.choose(1)
    qtbot.waitUntil(lambda: bench.anchor_work.best is not None, timeout=10000)
    best = bench.anchor_work.best
    assert best is not None
    x, y = best.anchor[0] / INCH, best.anchor[1] / INCH
    hand.press(2, 7)
    hand.move(1, 6)
    hand.move(x + 0.03, y + 0.03)
    snap = bench.canvas.mode.overlay(1.0).snap
    assert snap is not None
    assert snap.what is Caught.BEST
    hand.release(x + 0.03, y + 0.03)
    assert anchor(bench) == pytest.approx(best.anchor)


# --- the first wedge ----------------------------------------------------------------------------------


def wedge_middle(bench: Bench, number: int) -> tuple[float, float]:
    fit = bench.session.fit
    assert fit is not None
    wedge = next(wedge for fan in fit.fans for wedge in fan.wedges if wedge.number == number)
    x, y = (wedge.outline[:3].mean(axis=0) / INCH).tolist()
    return x, y


def test_begin_with_the_wedge_under_the_hand(bench: Bench, hand: Hand) -> None:
    hand.move(*wedge_middle(bench, 3))
    before = picture_of(bench)
    QTest.keyClick(bench.canvas, Qt.Key.Key_B, CTRL)
    assert settings_of(bench).first_wedge == 3
    assert bench.session.history.undo_name == "Begin with wedge 3"
    assert picture_of(bench) != before  # the start is seen
    QTest.keyClick(bench.canvas, Qt.Key.Key_Z, CTRL)
    assert settings_of(bench).first_wedge == 0


def test_begin_with_the_wedge_of_the_chosen_finding(bench: Bench, hand: Hand, qtbot: QtBot) -> None:
    hand.press(3, 5)
    hand.move(0.5, 0.9)
    hand.release(0.5, 0.9)
    qtbot.wait(200)
    fit = bench.session.fit
    assert fit is not None
    finding = next(finding for finding in fit.findings if finding.wedge is not None)
    QApplication.sendEvent(bench.canvas, QEvent(QEvent.Type.Leave))
    bench.findings.wanted.emit(finding)
    bench.actions_.begin_with.trigger()
    assert settings_of(bench).first_wedge == finding.wedge


def test_a_wedge_is_picked_where_none_is_meant(bench: Bench, hand: Hand) -> None:
    QApplication.sendEvent(bench.canvas, QEvent(QEvent.Type.Leave))
    plan = bench.session.plan
    bench.actions_.begin_with.trigger()
    hand.key(Qt.Key.Key_Right)
    hand.key(Qt.Key.Key_Escape)
    assert bench.session.plan is plan
    bench.actions_.begin_with.trigger()
    hand.key(Qt.Key.Key_Right)
    hand.key(Qt.Key.Key_Return)
    assert settings_of(bench).first_wedge == 2
    QApplication.sendEvent(bench.canvas, QEvent(QEvent.Type.Leave))
    bench.actions_.begin_with.trigger()
    hand.click(*wedge_middle(bench, 5))
    assert settings_of(bench).first_wedge == 5
    assert anchor(bench) == (3 * INCH, 5 * INCH)


def test_stitch_the_other_way_round(bench: Bench) -> None:
    QTest.keyClick(bench.canvas, Qt.Key.Key_R, CTRL)
    assert not settings_of(bench).clockwise
    assert bench.session.history.undo_name == "Stitch the other way round"
    QTest.keyClick(bench.canvas, Qt.Key.Key_Z, CTRL)
    assert settings_of(bench).clockwise


# --- merged wedges ------------------------------------------------------------------------------------


def test_a_thin_wedge_is_merged_by_one_click_on_its_finding(look: Look, qtbot: QtBot) -> None:
    plan = sample_plan()
    index = next(n for n, piece in enumerate(plan.patches) if piece.name == "Reed strip")
    session = Session(plan)
    session.choose(index)
    panel = FindingsPanel(session, look)
    session.setParent(panel)
    qtbot.addWidget(panel)
    panel.show()
    rows = range(panel.model.rowCount())
    thin = next(n for n in rows if (found := panel.model.finding(n)) and found.code is Code.WEDGE_THIN)
    panel.list.setCurrentIndex(panel.model.index(thin))

    def merging() -> list[int]:
        names = [button.accessibleName() if button.isVisible() else "" for button in panel.remedies]
        return [n for n, name in enumerate(names) if "erge it with a neighbour" in name]

    qtbot.waitUntil(lambda: merging() != [], timeout=20000)
    count = len(session.fit.fans[0].wedges) if session.fit else 0
    panel.remedies[merging()[0]].click()
    assert session.piece is not None
    assert len(session.piece.settings.merged_spans) == 1
    assert session.fit is not None
    assert len(session.fit.fans[0].wedges) == count - 1
    session.undo()
    assert session.plan == plan
