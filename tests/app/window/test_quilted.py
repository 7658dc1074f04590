"""How it will look: cloth and thread on the canvas, chosen in the settings by mouse and keys."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QColor, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QColorDialog, QMenu
from pytestqt.qtbot import QtBot

from app.sketch import changes
from app.sketch.palette import DARK, LIGHT, Role
from app.window.look import Appearance, Look
from app.window.main_window import Bench
from app.window.quilted_rows import QuiltedRows
from geometry.types import Point
from tests.app.window.conftest import CTRL, INCH, Hand

KEY = Qt.Key
CLOTH, THREAD = "#22304F", "#F3EFE6"


@pytest.fixture
def quilted(bench: Bench, hand: Hand) -> Bench:
    """A dark cloth and a light thread of half a millimetre, shown as they will look."""
    session = bench.session
    session.do(changes.set_cloth(session.plan, 0, CLOTH))
    session.do(changes.set_thread(session.plan, 0, THREAD))
    session.do(changes.set_thread_width(session.plan, 0, 0.5))
    hand.key(KEY.Key_F6)
    QApplication.processEvents()
    return bench


@pytest.fixture
def rows(bench: Bench) -> QuiltedRows:
    group = bench.settings.form.groups["look"]
    if not group.is_open:
        group.heading.click()
    QApplication.processEvents()
    found = bench.findChild(QuiltedRows)
    assert isinstance(found, QuiltedRows)
    return found


def shown(bench: Bench) -> npt.NDArray[np.uint8]:
    """(rows, columns, 3): the canvas at rest."""
    picture = bench.canvas.grab().toImage().convertToFormat(QImage.Format.Format_RGB888)
    flat = np.frombuffer(picture.constBits(), dtype=np.uint8).reshape(
        picture.height(), picture.bytesPerLine()
    )
    return flat[:, : 3 * picture.width()].reshape(picture.height(), picture.width(), 3).copy()


def rgb(colour: str) -> tuple[int, int, int]:
    made = QColor(colour)
    return (made.red(), made.green(), made.blue())


def share(picture: npt.NDArray[np.uint8], colour: str) -> float:
    """Of pixels that are just that colour."""
    return float((picture == rgb(colour)).all(axis=2).mean())


def leg(bench: Bench) -> tuple[Point, Point]:
    """Anchor and outer end of the first wedge's first leg, mm."""
    fit = bench.session.fit
    assert fit is not None
    anchor, outer = fit.fans[0].wedges[0].outline[:2].tolist()
    return (anchor[0], anchor[1]), (outer[0], outer[1])


def zoom_to(bench: Bench, at: Point, scale: float) -> None:
    """``at`` in the middle of the canvas, at about ``scale`` px per mm."""
    canvas = bench.canvas
    canvas.show_place(at, None)
    x, y = canvas.view.point_to_screen(at)
    canvas._look_at(canvas.view.panned(canvas.width() / 2 - x, canvas.height() / 2 - y))
    canvas._look_at(canvas.view.zoomed(scale / canvas.view.scale))
    canvas._point_out_nothing()


def rest(bench: Bench, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: bench.canvas.rest.resting, timeout=3000)


def test_only_cloth_and_thread_are_seen(quilted: Bench, hand: Hand) -> None:
    seen = shown(quilted)
    assert share(seen, CLOTH) > 0.2
    for role in (Role.ANCHOR, Role.MARK, Role.STITCH, Role.PROBLEM, Role.CAUTION):
        assert share(seen, quilted._look.palette[role]) == 0.0, role
    hand.key(KEY.Key_F6)
    plain = shown(quilted)
    assert share(plain, CLOTH) == 0.0
    assert share(plain, quilted._look.palette[Role.ANCHOR]) > 0.0
    assert not quilted.actions_.quilted.isChecked()


def test_the_thread_has_its_true_width(quilted: Bench, qtbot: QtBot) -> None:
    inner, outer = leg(quilted)
    middle = ((inner[0] + outer[0]) / 2, (inner[1] + outer[1]) / 2)
    zoom_to(quilted, middle, 40.0)
    rest(quilted, qtbot)
    scale = quilted.canvas.view.scale
    length = math.dist(inner, outer)
    along = np.array([(outer[0] - inner[0]) / length, (outer[1] - inner[1]) / length])
    across = np.array([-along[1], along[0]])
    seen = shown(quilted)
    centre = np.array(quilted.canvas.view.point_to_screen(middle))
    widths = []
    for step in np.arange(-60, 60, 4.0):
        places = centre + along * step + np.arange(-30, 30, 0.25)[:, None] * across
        pixels = seen[places[:, 1].astype(int), places[:, 0].astype(int)].astype(float)
        cover = (pixels - rgb(CLOTH)).sum(axis=1) / np.subtract(rgb(THREAD), rgb(CLOTH)).sum()
        widths.append(cover.sum() * 0.25 / scale)
    assert max(widths) == pytest.approx(0.5, abs=0.05)
    assert min(widths) < 0.05, "between two stitches the thread is under the cloth"


def test_stitches_have_their_length(quilted: Bench, qtbot: QtBot) -> None:
    piece = quilted.session.piece
    assert piece is not None
    inner, outer = leg(quilted)
    middle = ((inner[0] + outer[0]) / 2, (inner[1] + outer[1]) / 2)
    zoom_to(quilted, middle, 20.0)
    rest(quilted, qtbot)
    scale = quilted.canvas.view.scale
    along = np.subtract(outer, inner) / math.dist(inner, outer)
    centre = np.array(quilted.canvas.view.point_to_screen(middle))
    places = centre + np.arange(-230, 230, 0.5)[:, None] * along
    seen = shown(quilted)
    light = seen[places[:, 1].astype(int), places[:, 0].astype(int)].sum(axis=1) > 450
    starts = np.flatnonzero(light[1:] & ~light[:-1]) * 0.5
    assert len(starts) >= 6
    assert np.diff(starts).mean() / scale == pytest.approx(piece.settings.stitch_length, rel=0.03)


def test_from_afar_a_line_is_whole(quilted: Bench) -> None:
    inner, outer = leg(quilted)
    assert quilted.canvas.view.scale * 0.5 < 2.0
    places = [
        quilted.canvas.view.point_to_screen(
            (inner[0] + (outer[0] - inner[0]) * part, inner[1] + (outer[1] - inner[1]) * part)
        )
        for part in np.linspace(0.3, 0.9, 200)
    ]
    quilted.session.do(changes.set_thread_width(quilted.session.plan, 0, 0.3))
    seen = shown(quilted).astype(float).sum(axis=2)
    dark = sum(rgb(CLOTH))
    for x, y in places:
        around = seen[int(y) - 1 : int(y) + 3, int(x) - 1 : int(x) + 3]
        assert around.max() > dark + 60


def test_the_crowd_at_the_anchor_is_seen(quilted: Bench, qtbot: QtBot) -> None:
    inner, _ = leg(quilted)
    zoom_to(quilted, inner, 20.0)
    rest(quilted, qtbot)
    seen = shown(quilted)
    x, y = (round(part) for part in quilted.canvas.view.point_to_screen(inner))

    def thread(radius: int) -> float:
        return share(seen[y - radius : y + radius, x - radius : x + radius], THREAD)

    assert thread(8) > 0.6, "at the anchor there is nearly nothing but thread"
    assert thread(8) > 2 * thread(80)


def test_a_thread_like_its_cloth_is_not_seen(quilted: Bench) -> None:
    quilted.session.do(changes.set_thread(quilted.session.plan, 0, CLOTH))
    assert share(shown(quilted), THREAD) == 0.0
    assert "blends in" in quilted.canvas.accessibleName()


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_cloth_and_thread_are_the_same_by_day_and_night(
    quilted: Bench, look: Look, palette: dict[Role, str]
) -> None:
    look.choose(Appearance.DARK if palette is DARK else Appearance.LIGHT)
    session = quilted.session
    session.do(changes.set_cloth(session.plan, 0, ""))
    session.do(changes.set_thread(session.plan, 0, ""))
    seen = shown(quilted)
    assert share(seen, "#F3EFE6") > 0.2
    assert share(seen, palette[Role.FRAME]) > 0.2


def test_it_is_worked_on_as_always(quilted: Bench, hand: Hand, qtbot: QtBot) -> None:
    before = quilted.session.piece
    assert before is not None
    hand.press(3, 5)
    hand.move(4, 3)
    hand.move(5, 2)
    assert quilted.session.in_gesture
    moving = shown(quilted)
    assert share(moving, CLOTH) > 0.2
    assert share(moving, quilted._look.palette[Role.ANCHOR]) > 0.0, "what the hand holds is seen"
    hand.key(KEY.Key_Escape)
    assert quilted.session.piece == before
    hand.release(5, 2)
    hand.key(KEY.Key_Right)
    assert quilted.session.piece is not None
    assert quilted.session.piece.anchors[0][0] == pytest.approx(before.anchors[0][0] + INCH / 8)


def test_draw_and_walk_have_their_own_picture(quilted: Bench, hand: Hand) -> None:
    for key in (KEY.Key_5, KEY.Key_1):
        hand.key(key, CTRL)
        assert not quilted.actions_.quilted.isEnabled()
        assert share(shown(quilted), CLOTH) == 0.0
    hand.key(KEY.Key_3, CTRL)
    assert quilted.actions_.quilted.isEnabled()
    assert share(shown(quilted), CLOTH) > 0.2


# --- the settings -----------------------------------------------------------------------------------


def test_arrows_step_through_the_named_colours(bench: Bench, rows: QuiltedRows) -> None:
    rows.cloth.setFocus()
    assert rows.cloth.text().startswith("natural, as usual")
    QTest.keyClick(rows.cloth, KEY.Key_Down)
    piece = bench.session.piece
    assert piece is not None
    assert piece.cloth == "#D8C3A0"
    assert rows.cloth.accessibleName() == "Cloth: sand"
    assert bench.session.history.undo_name == "Change cloth"
    bench.actions_.undo.trigger()
    assert bench.session.piece is not None
    assert bench.session.piece.cloth == ""


def test_a_colour_is_chosen_from_the_menu(bench: Bench, rows: QuiltedRows) -> None:
    menu = rows.thread_.menu()
    assert isinstance(menu, QMenu)
    menu.aboutToShow.emit()
    chosen = next(action for action in menu.actions() if action.text() == "red")
    chosen.trigger()
    assert bench.session.piece is not None
    assert bench.session.piece.thread == "#B3262E"
    assert "contrast" in rows.shows.text()


def test_another_colour_comes_from_the_dialog(bench: Bench, rows: QuiltedRows) -> None:
    menu = rows.cloth.menu()
    menu.aboutToShow.emit()

    def answer() -> None:
        dialog = QApplication.activeModalWidget()
        assert isinstance(dialog, QColorDialog)
        assert dialog.windowTitle() == "Cloth"
        dialog.setCurrentColor(QColor("#123456"))
        dialog.accept()

    QTimer.singleShot(0, answer)
    menu.actions()[-1].trigger()
    assert bench.session.piece is not None
    assert bench.session.piece.cloth == "#123456"
    assert rows.cloth.text().startswith("#123456")


@pytest.mark.parametrize(
    ("typed", "mm"), [("0.4", 0.4), ("0,25 mm", 0.25), ("1/32 in", INCH / 32), ("2", 2.0)]
)
def test_the_weight_is_typed(bench: Bench, rows: QuiltedRows, typed: str, mm: float) -> None:
    rows.weight.setFocus()
    rows.weight.selectAll()
    QTest.keyClicks(rows.weight, typed)
    QTest.keyClick(rows.weight, KEY.Key_Return)
    assert bench.session.piece is not None
    assert bench.session.piece.thread_width == pytest.approx(mm)


@pytest.mark.parametrize(("typed", "why"), [("9", "0.1 to 2 mm"), ("thick", "thick"), ("-1", "-1")])
def test_a_weight_that_cannot_be_is_told_at_its_field(
    bench: Bench, rows: QuiltedRows, typed: str, why: str
) -> None:
    before = bench.session.plan
    rows.weight.setFocus()
    rows.weight.selectAll()
    QTest.keyClicks(rows.weight, typed)
    QTest.keyClick(rows.weight, KEY.Key_Return)
    assert bench.session.plan is before
    assert rows._weight.is_wrong
    assert why in rows._weight._wrong.text()


def test_the_usual_comes_back_by_one_click(quilted: Bench, rows: QuiltedRows) -> None:
    for row in (rows._cloth, rows._thread, rows._weight):
        row.usual.click()
        assert not row.usual.isEnabled()
    piece = quilted.session.piece
    assert piece is not None
    assert (piece.cloth, piece.thread, piece.thread_width) == ("", "", 0.3)


def test_one_thread_for_all(quilted: Bench, rows: QuiltedRows) -> None:
    assert rows.for_all.isEnabled()
    rows.for_all.click()
    assert [(piece.cloth, piece.thread) for piece in quilted.session.plan.patches] == [
        (CLOTH, THREAD), ("", THREAD),
    ]  # fmt: skip
    assert not rows.for_all.isEnabled()


def test_the_words_say_whether_it_shows(quilted: Bench, rows: QuiltedRows) -> None:
    assert rows.shows.text() == "The thread shows clearly on this cloth: contrast 11.4 to 1."
    quilted.session.choose(1)
    assert rows.shows.text().startswith("The thread shows clearly on this cloth: contrast ")
    assert "11.4" not in rows.shows.text()
