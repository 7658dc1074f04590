"""Walking the stitch path in the real window: real keys, mouse and menus; the clock is the test's own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QObject, QPoint, QRectF, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QStyle, QStyleOptionSlider, QToolButton, QWidget
from pytestqt.qtbot import QtBot

from app.sketch import changes
from app.sketch.palette import Role
from app.window import preferences, walk_bar, walk_picture
from app.window.announce import announce
from app.window.look import Look
from app.window.main_window import Bench
from geometry.units import LengthStyle
from tests.app.window.conftest import CTRL, INCH, LEFT, PLAIN, Hand

KEY = Qt.Key


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock(bench: Bench) -> Clock:
    """Time stands until the test lets it go; the timer fires when it says so."""
    made = bench.player.clock = Clock()
    bench.player.timer.setInterval(10**8)
    return made


@pytest.fixture
def walking(bench: Bench, hand: Hand, clock: Clock) -> Bench:
    """In Walk mode, the keys on the canvas."""
    hand.key(KEY.Key_5, CTRL)
    settle(bench)
    return bench


def settle(bench: Bench) -> None:
    QApplication.processEvents()
    assert bench.canvas.isVisible()


def later(bench: Bench, clock: Clock, seconds: float) -> None:
    clock.now += seconds
    bench.player.timer.timeout.emit()


def at(bench: Bench, place: float) -> QPoint:
    walk = bench.walk.walk
    assert walk is not None
    x, y = bench.canvas.view.point_to_screen(walk.point_at(place))
    return QPoint(round(x), round(y))


def press_enter(bench: Bench, button: QWidget) -> None:
    QTest.mouseClick(button, LEFT, PLAIN, button.rect().center())


# --- into it and out of it ----------------------------------------------------------------------------


def test_the_key_the_menu_and_the_button_lead_into_it(bench: Bench, hand: Hand) -> None:
    assert bench.walk_bar.isHidden()
    before = bench.canvas.height()
    hand.key(KEY.Key_5, CTRL)
    settle(bench)
    assert bench.canvas.mode is bench.walk
    assert bench.actions_.walk.isChecked()
    assert bench.walk_bar.isVisible()
    assert bench.canvas.height() < before
    assert bench.status.hint.text().startswith("Space plays and pauses")
    hand.key(KEY.Key_3, CTRL)
    settle(bench)
    assert bench.walk_bar.isHidden()
    assert bench.canvas.height() == before
    button = bench.toolbar.widgetForAction(bench.actions_.walk)
    assert isinstance(button, QToolButton)
    QTest.mouseClick(button, LEFT)
    assert bench.canvas.mode is bench.walk
    bench.actions_.anchor.trigger()
    assert bench.canvas.mode is not bench.walk


def test_walking_leaves_plan_and_undo_alone(walking: Bench, hand: Hand, clock: Clock) -> None:
    plan = walking.session.plan
    for key in (KEY.Key_Space, KEY.Key_Right, KEY.Key_PageDown, KEY.Key_Left, KEY.Key_End, KEY.Key_Home):
        hand.key(key)
    QTest.mousePress(walking.canvas, LEFT, PLAIN, at(walking, 40.0))
    QTest.mouseMove(walking.canvas, at(walking, 60.0))
    QTest.mouseRelease(walking.canvas, LEFT, PLAIN, at(walking, 60.0))
    hand.key(KEY.Key_Space)
    later(walking, clock, 0.2)
    assert walking.session.plan is plan
    assert walking.session.history.undo_name is None
    assert not walking.isWindowModified()


# --- play -----------------------------------------------------------------------------------------------


def test_space_plays_at_the_chosen_speed_and_pauses(walking: Bench, hand: Hand, clock: Clock) -> None:
    bench = walking
    assert not bench.player.timer.isActive()
    hand.key(KEY.Key_Space)
    assert bench.player.timer.isActive()
    assert bench.walk_bar.play.accessibleName() == "Pause"
    later(bench, clock, 0.1)
    assert bench.walk.place == pytest.approx(0.5 * INCH), "5 times an inch a second"
    assert bench.walk_bar.done.words.startswith("1/2 of ")
    bench.actions_.speeds[20.0].trigger()
    assert bench.walk_bar.speed.text().startswith("20 × the pace")
    later(bench, clock, 0.1)
    assert bench.walk.place == pytest.approx(2.5 * INCH)
    hand.key(KEY.Key_Space)
    assert not bench.player.timer.isActive()
    assert bench.walk_bar.play.accessibleName() == "Play"
    place = bench.walk.place
    clock.now += 10
    hand.key(KEY.Key_Space)
    later(bench, clock, 0.01)
    assert bench.walk.place == pytest.approx(place + 0.2 * INCH), "the pause is no time that went by"


def test_the_real_timer_moves_it(bench: Bench, hand: Hand, qtbot: QtBot) -> None:
    hand.key(KEY.Key_5, CTRL)
    hand.key(KEY.Key_Space)
    qtbot.waitUntil(lambda: bench.walk.place > 5.0, timeout=5000)
    hand.key(KEY.Key_Escape)
    assert not bench.player.timer.isActive()


def test_at_the_end_it_stops(walking: Bench, hand: Hand, clock: Clock) -> None:
    hand.key(KEY.Key_End)
    hand.key(KEY.Key_Left)
    hand.key(KEY.Key_Space)
    for _ in range(40):
        later(walking, clock, 0.2)
    assert walking.walk.walk is not None
    assert walking.walk.place == walking.walk.walk.length
    assert not walking.player.timer.isActive()
    assert walking.walk_bar.then.words == "This is the end of the stitch path"
    assert walking.walk_bar.slider.value() == walking.walk_bar.slider.maximum()


def test_a_busy_machine_does_not_make_it_jump(walking: Bench, hand: Hand, clock: Clock) -> None:
    hand.key(KEY.Key_Space)
    later(walking, clock, 60.0)
    assert walking.walk.place <= 0.25 * 5 * INCH + 1e-6


@pytest.mark.parametrize("how", ["mode", "patch", "esc", "undo"])
def test_whatever_ends_it_stops_the_clock(walking: Bench, hand: Hand, clock: Clock, how: str) -> None:
    bench = walking
    bench.session.do(changes.set_setting(bench.session.plan, 0, hold_back=5.0))
    hand.key(KEY.Key_Space)
    assert bench.player.timer.isActive()
    later(bench, clock, 0.1)
    if how == "mode":
        hand.key(KEY.Key_3, CTRL)
    elif how == "patch":
        hand.key(KEY.Key_PageDown, CTRL)
    elif how == "esc":
        hand.key(KEY.Key_Escape)
    else:
        hand.key(KEY.Key_Z, CTRL)
    assert not bench.walk.playing
    later(bench, clock, 0.1)
    assert not bench.player.timer.isActive()
    if how != "mode":
        assert bench.walk_bar.play.accessibleName() == "Play"


# --- step and scrub -------------------------------------------------------------------------------------


def test_keys_buttons_and_menu_step_alike(walking: Bench, hand: Hand) -> None:
    bench, bar, act = walking, walking.walk_bar, walking.actions_
    walk = bench.walk.walk
    assert walk is not None
    ways = {
        1: (lambda: hand.key(KEY.Key_Right), lambda: press_enter(bench, bar.on), act.step_on.trigger),
        -1: (lambda: hand.key(KEY.Key_Left), lambda: press_enter(bench, bar.back), act.step_back.trigger),
        2: (lambda: hand.key(KEY.Key_PageDown), lambda: press_enter(bench, bar.wedge_on),
            act.next_wedge.trigger),
        -2: (lambda: hand.key(KEY.Key_PageUp), lambda: press_enter(bench, bar.wedge_back),
             act.previous_wedge.trigger),
    }  # fmt: skip
    begin = walk.start_of(4)
    for by, each in ways.items():
        wanted = (walk.step_wedge if abs(by) == 2 else walk.step)(begin, 1 if by > 0 else -1)
        for way in each:
            bench.walk.go_to(begin)
            way()
            assert bench.walk.place == wanted
            assert wanted != begin
    hand.key(KEY.Key_End)
    assert bench.walk.place == walk.length
    act.path_start.trigger()
    assert bench.walk.place == 0.0
    act.path_end.trigger()
    assert bench.walk.place == walk.length
    hand.key(KEY.Key_Home)
    assert bench.walk.place == 0.0
    press_enter(bench, bar.play)
    assert bench.walk.playing
    act.play.trigger()
    assert not bench.walk.playing


def test_home_still_shows_the_whole_patch_in_other_modes(bench: Bench, hand: Hand) -> None:
    view = bench.canvas.view
    bench.canvas.zoom(3)
    hand.key(KEY.Key_Home)
    assert bench.canvas.view == view


def test_dragging_along_the_path_and_esc(walking: Bench, hand: Hand) -> None:
    bench = walking
    QTest.mousePress(bench.canvas, LEFT, PLAIN, at(bench, 30.0))
    assert bench.walk.busy
    for place in (36.0, 44.0, 52.0):
        pixel = at(bench, place)
        hand.move(*(part / INCH for part in bench.canvas.view.to_cloth((pixel.x(), pixel.y()))))
        assert bench.walk.place == pytest.approx(place, abs=1.0)
    assert bench.canvas.cursor().shape() is Qt.CursorShape.ClosedHandCursor
    hand.key(KEY.Key_Escape)
    assert bench.walk.place == 0.0
    QTest.mouseRelease(bench.canvas, LEFT, PLAIN, at(bench, 52.0))
    assert bench.walk.place == 0.0
    QTest.mouseClick(bench.canvas, LEFT, PLAIN, at(bench, 52.0))
    assert bench.walk.place == pytest.approx(52.0, abs=1.0)
    view = bench.canvas.view
    QTest.mousePress(bench.canvas, LEFT, PLAIN, QPoint(4, 4))
    hand.move(0, 0)
    QTest.mouseRelease(bench.canvas, LEFT, PLAIN, QPoint(40, 40))
    assert bench.canvas.view != view, "off the path a drag moves the view"
    assert bench.walk.place == pytest.approx(52.0, abs=1.0)


def test_the_slider_by_mouse_and_keys(walking: Bench, hand: Hand, clock: Clock) -> None:
    bench, slider = walking, walking.walk_bar.slider
    walk = bench.walk.walk
    assert walk is not None
    QTest.keyClick(slider, KEY.Key_PageUp)
    assert bench.walk.place == pytest.approx(walk.length * 0.1, rel=1e-9)
    QTest.keyClick(slider, KEY.Key_Right)
    assert bench.walk.place == pytest.approx(walk.length * 0.11, rel=1e-9)
    hand.key(KEY.Key_Space)
    later(bench, clock, 0.25)
    option = QStyleOptionSlider()
    slider.initStyleOption(option)
    parts = QStyle.ComplexControl.CC_Slider, option, QStyle.SubControl.SC_SliderHandle, slider
    handle = slider.style().subControlRect(*parts).center()
    QTest.mousePress(slider, LEFT, PLAIN, handle)
    assert slider.isSliderDown()
    QTest.mouseMove(slider, QPoint(slider.width() // 2, slider.height() // 2))
    held = bench.walk.place
    assert held == pytest.approx(walk.length / 2, rel=0.1)
    later(bench, clock, 0.2)
    assert bench.walk.place == held
    QTest.mouseRelease(slider, LEFT, PLAIN, QPoint(slider.width() // 2, slider.height() // 2))
    assert bench.walk.playing
    later(bench, clock, 0.1)
    assert bench.walk.place > held
    # What plays moves the slider, and the slider does not round the needle to its own steps.
    assert slider.value() == round(bench.walk.place / walk.length * slider.maximum())


# --- the words ------------------------------------------------------------------------------------------


def test_the_bar_says_where_it_is_and_follows_units_and_machine(walking: Bench, hand: Hand) -> None:
    bench, bar = walking, walking.walk_bar
    assert bar.here.words.startswith("Wedge 1, leg out, ruler at ")
    assert bar.then.words.startswith("Turn the cloth ")
    assert bar.then.words.endswith(" in")
    assert bar.here.accessibleName() == bar.here.words
    hand.key(KEY.Key_Right)
    assert bar.here.words.startswith("Wedge 1, side, ruler at ")
    assert bar.turned.words.startswith("turned once, ")
    bench.actions_.styles[LengthStyle.CM].trigger()
    assert bar.done.words.split(",")[0].endswith(" cm")
    assert bar.then.words.endswith(" cm")
    bench.session.do(changes.set_setting(bench.session.plan, 0, cloth_turned=False))
    assert bar.then.words.startswith("Turn ")
    assert "cloth" not in bar.then.words


def test_a_step_is_spoken_and_playing_is_not(
    walking: Bench, hand: Hand, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    spoken: list[str] = []
    monkeypatch.setattr(walk_bar, "announce", lambda widget, said: spoken.append(said))
    hand.key(KEY.Key_Right)
    bar = walking.walk_bar
    assert spoken == [f"{bar.here.words}. {bar.then.words}"]
    assert spoken[0].startswith("Wedge 1, side")
    press_enter(walking, bar.on)
    assert len(spoken) == 2
    press_enter(walking, bar.play)
    later(walking, clock, 0.2)
    later(walking, clock, 0.1)
    assert len(spoken) == 2
    press_enter(walking, bar.play)
    assert spoken[2:] == [f"{bar.here.words}. {bar.then.words}"]
    hand.move(4, 4)
    assert len(spoken) == 3


def test_announcing_without_a_screen_reader_does_nothing(walking: Bench) -> None:
    announce(walking.walk_bar, "Wedge 1")


def test_a_path_without_wedges_says_so(walking: Bench, hand: Hand) -> None:
    bench, bar = walking, walking.walk_bar
    bench.session.do(changes.set_setting(bench.session.plan, 0, edge_margin=5 * INCH))
    settle(bench)
    assert bar.here.words == "There is no stitch path to walk: no wedge fits this patch."
    assert bar.then.words == bar.done.words == bar.turned.words == ""
    assert not any(control.isEnabled() for control in (bar.play, bar.on, bar.back, bar.slider, bar.wedge_on))
    assert not bench.actions_.path.isEnabled()
    hand.key(KEY.Key_Space)
    assert bench.message.text == "There is no stitch path to walk: no wedge fits this patch."
    assert not bench.player.timer.isActive()
    bench.canvas.grab()  # the patch with its finding is painted as ever
    hand.key(KEY.Key_Z, CTRL)
    assert bar.play.isEnabled()
    assert bench.actions_.path.isEnabled()
    assert bar.here.words.startswith("Wedge 1")


def test_every_control_of_the_bar_is_named_large_enough_and_reached_by_tab(walking: Bench) -> None:
    bar = walking.walk_bar
    controls = [
        widget for widget in bar.findChildren(QWidget) if widget.focusPolicy() & Qt.FocusPolicy.TabFocus
    ]
    assert len(controls) == 8
    for control in controls:
        assert control.accessibleName(), type(control)
        assert min(control.width(), control.height()) >= 24, control.accessibleName()
    walking.activateWindow()
    walking.canvas.setFocus()
    reached = set()
    for _ in range(8):
        focus = QApplication.focusWidget()
        assert focus is not None
        QTest.keyClick(focus, KEY.Key_Tab)
        reached.add(QApplication.focusWidget())
    assert reached == set(controls)


# --- the picture ----------------------------------------------------------------------------------------


def shown(bench: Bench) -> np.ndarray:
    image = bench.canvas.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    raw = np.frombuffer(image.constBits(), dtype=np.uint8).reshape(image.height(), image.width(), 4)
    return raw[..., 2::-1].astype(np.int32)


def rest(bench: Bench, qtbot: QtBot) -> np.ndarray:
    """The picture when everything is painted smoothly."""
    qtbot.waitUntil(lambda: bench.canvas.rest.resting)
    QApplication.processEvents()
    before = shown(bench)
    for _ in range(50):
        QApplication.processEvents()
        now = shown(bench)
        if (now == before).all():
            break
        before = now
    return before


def count(picture: np.ndarray, colour: QColor) -> int:
    apart = np.abs(picture - [colour.red(), colour.green(), colour.blue()]).max(axis=2)
    return int(np.count_nonzero(apart <= 12))


def test_what_is_stitched_is_solid_and_the_rest_faint(
    walking: Bench, hand: Hand, look: Look, qtbot: QtBot
) -> None:
    bench = walking
    stitch, faint = look.colour(Role.STITCH), look.colour(Role.FAINT)
    inks, faints = [], []
    for share in (0.0, 0.3, 0.6, 1.0):
        bench.player.scrub(share)
        picture = rest(bench, qtbot)
        inks.append(count(picture, stitch))
        faints.append(count(picture, faint))
    assert inks == sorted(set(inks))
    assert inks[-1] > 4 * inks[0] + 1000
    assert faints == sorted(set(faints), reverse=True)


def test_it_looks_alike_however_it_was_come_by(
    walking: Bench, hand: Hand, clock: Clock, qtbot: QtBot
) -> None:
    bench = walking
    bench.session.do(changes.set_setting(bench.session.plan, 0, echo_count=2))
    bench.actions_.speeds[20.0].trigger()
    hand.key(KEY.Key_Space)
    for _ in range(110):
        later(bench, clock, 0.05)
        bench.canvas.grab()
    hand.key(KEY.Key_Space)
    played = rest(bench, qtbot)
    place = bench.walk.place
    assert bench.walk.reading is not None
    assert bench.walk.reading.segment > 10
    hand.key(KEY.Key_End)
    rest(bench, qtbot)
    bench.walk.go_to(place)
    bench.canvas.rest.stir()
    rough = shown(bench)
    scrubbed = rest(bench, qtbot)
    assert (rough != scrubbed).any()
    # But for the joints of parts, which are drawn twice.
    assert np.count_nonzero(np.abs(played - scrubbed).max(axis=2) > 40) < 60
    zoomed = bench.canvas.view
    bench.canvas.zoom(2)
    rest(bench, qtbot)
    bench.canvas.zoom(-2)
    assert bench.canvas.view == zoomed
    assert np.count_nonzero(np.abs(rest(bench, qtbot) - scrubbed).max(axis=2) > 40) < 60


class Paints(QObject):
    """Counts how often a widget is painted."""

    def __init__(self, widget: QWidget) -> None:
        super().__init__(widget)
        self.count = 0
        widget.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        self.count += event.type() is QEvent.Type.Paint
        return False


def test_smooth_lines_come_a_few_at_a_time_without_being_asked_for(
    walking: Bench, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(walk_picture, "_AT_REST", 0.0)
    bench = walking
    bench.session.do(changes.set_setting(bench.session.plan, 0, echo_count=2))
    assert bench.walk.walk is not None
    parts = len(bench.walk.walk.line) // 8
    assert parts > 4
    bench.player.scrub(1.0)
    paints = Paints(bench.canvas)
    qtbot.waitUntil(lambda: paints.count >= parts, timeout=5000)
    qtbot.wait(100)
    last = paints.count
    qtbot.wait(100)
    assert paints.count == last, "when all is smooth it is left alone"


def test_the_needle_is_seen_where_it_is(walking: Bench, look: Look, qtbot: QtBot) -> None:
    bench = walking
    bench.actions_.turned_cloth.trigger()  # it has a needle of its own
    focus = look.colour(Role.FOCUS)
    for place in (40.0, 200.0):
        bench.walk.go_to(place)
        bench.canvas.update()
        picture = rest(bench, qtbot)
        apart = np.abs(picture - [focus.red(), focus.green(), focus.blue()]).max(axis=2)
        rows, columns = np.nonzero(apart <= 12)
        assert len(rows) > 100
        pixel = at(bench, place)
        reading = bench.walk.reading
        assert reading is not None
        ahead = np.array([columns.mean() - pixel.x(), rows.mean() - pixel.y()])
        # The arrow lies ahead, the way the line runs.
        heading = np.array([np.cos(reading.heading), np.sin(reading.heading)])
        assert ahead @ heading == pytest.approx(np.hypot(*ahead), rel=0.05)
        assert 5 < np.hypot(*ahead) < 25


def test_no_path_is_worked_out_for_who_does_not_walk(bench: Bench, hand: Hand) -> None:
    hand.press(3, 5)
    for x in (3.5, 4.2, 5.1):
        hand.move(x, 4.5)
        assert bench.session.fit is not None
        assert "path" not in vars(bench.session.fit)
    hand.release(5.1, 4.5)
    hand.key(KEY.Key_5, CTRL)
    assert "path" in vars(bench.session.fit)


# --- the cloth as it lies under the machine -------------------------------------------------------------


def test_in_the_corner_the_needle_stitches_towards_the_quilter(
    walking: Bench, look: Look, qtbot: QtBot
) -> None:
    """By the pixels alone: what the picture of the turned cloth adds is an arrow that points down, from a
    ring right above it, whichever way the line runs on the patch.
    """
    bench = walking
    focus = look.colour(Role.FOCUS)
    headings = set()
    for share in (0.1, 0.28, 0.55, 0.8):
        pictures = []
        for shown_turned in (True, False):
            bench.walk.shows_turned = shown_turned
            bench.walk.go_to(bench.walk.walk.at_share(share) if bench.walk.walk else 0.0)
            bench.canvas.update()
            pictures.append(rest(bench, qtbot))
        added = (pictures[0] != pictures[1]).any(axis=2)
        needle = np.abs(pictures[0] - [focus.red(), focus.green(), focus.blue()]).max(axis=2) <= 12
        rows, columns = np.nonzero(needle & added)
        assert len(rows) > 80
        middle = (columns.min() + columns.max()) / 2
        assert columns.mean() == pytest.approx(middle, abs=0.8), "upright"
        widths = [np.ptp(columns[rows == row]) for row in np.unique(rows)]
        assert int(np.argmax(widths)) < 0.75 * len(widths)
        assert widths[-1] <= 3, "the tip of the arrow is below"
        assert widths[int(np.argmax(widths))] >= 12
        assert bench.walk.reading is not None
        headings.add(round(float(np.degrees(bench.walk.reading.heading))))
    assert len(headings) == 4


def test_the_turned_cloth_has_no_place_at_a_frame_machine(walking: Bench, qtbot: QtBot) -> None:
    bench, check = walking, walking.walk_bar.turns
    assert check.isVisible()
    assert bench.actions_.turned_cloth.isEnabled()
    bench.session.do(changes.set_setting(bench.session.plan, 0, cloth_turned=False))
    settle(bench)
    assert not check.isVisible()
    assert not bench.actions_.turned_cloth.isEnabled()
    before = rest(bench, qtbot)
    bench.walk.shows_turned = False
    bench.canvas.update()
    assert (rest(bench, qtbot) == before).all()


def test_the_check_the_menu_and_the_next_start_agree(walking: Bench, qtbot: QtBot) -> None:
    bench, check = walking, walking.walk_bar.turns
    assert check.isChecked(), "it is there at first"
    before = rest(bench, qtbot)
    QTest.mouseClick(check, LEFT, PLAIN, QPoint(8, check.height() // 2))
    assert not bench.actions_.turned_cloth.isChecked()
    assert not preferences.turned_cloth()
    assert (rest(bench, qtbot) != before).any()
    bench.actions_.turned_cloth.trigger()
    assert check.isChecked()
    assert preferences.turned_cloth()
    assert (rest(bench, qtbot) == before).all()
    assert bench.session.history.undo_name is None


def test_the_turned_cloth_covers_none_of_a_patch_that_leaves_room(walking: Bench, qtbot: QtBot) -> None:
    bench = walking
    scene = bench.canvas._scene(bench.session.fit, bench.canvas._overlay())  # type: ignore[arg-type]
    ring = walk_picture.TurnedPicture()._ring(scene)
    assert ring is not None
    assert bench.canvas.rect().contains(ring.toAlignedRect())
    left, top, right, bottom = scene.fit.patch.polygon.bounds
    (x0, y0), (x1, y1) = (
        bench.canvas.view.point_to_screen((left, top)),
        bench.canvas.view.point_to_screen((right, bottom)),
    )
    covered = ring.intersected(QRectF(x0, y0, x1 - x0, y1 - y0))
    assert covered.width() * covered.height() < 0.1 * ring.width() * ring.height()
    assert ring.width() >= 120


def test_a_small_canvas_is_left_to_the_patch(walking: Bench) -> None:
    bench = walking
    scene = bench.canvas._scene(bench.session.fit, bench.canvas._overlay())  # type: ignore[arg-type]
    small = replace(scene, view=scene.view.resized(240.0, 200.0))
    assert walk_picture.TurnedPicture()._ring(small) is None
