"""Photo to patches on the bench, by real events."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QColor, QDragEnterEvent, QDropEvent, QGuiApplication, QImage, QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.plan.photo import Photo
from app.plan.plan_file import read_plan
from app.window.look import TextScale
from app.window.main_window import Bench
from geometry.rectify import rectify
from tests.app.window.conftest import CTRL, INCH, LEFT, PLAIN, Answers, Hand
from tests.photos import KITE, SEEN, encoded, jpeg_header, quilt_photo, seen_at, small_jpeg


@pytest.fixture(scope="module")
def photo_file(tmp_path_factory: pytest.TempPathFactory, application: QApplication) -> Path:
    """Without noise: sooner opened."""
    path = tmp_path_factory.mktemp("photo") / "quilt.jpg"
    path.write_bytes(encoded(quilt_photo(noise=0)))
    return path


class PhotoHand(Hand):
    """Over the photo as it was taken its places are pixels."""

    def zoom_to(self, x: float, y: float) -> None:
        """Four times larger, about the place."""
        view = self.canvas.view
        at = view.point_to_screen((x, y))
        for _ in range(6):
            _wheel(self.canvas, at)

    def show(self, x: float, y: float) -> None:
        px, py = self.canvas.view.point_to_screen((x, y))
        QTest.mouseClick(self.canvas, LEFT, Qt.KeyboardModifier.NoModifier, QPointF(px, py).toPoint())

    def seen(self, way: tuple[float, float]) -> tuple[float, float]:
        """The pixel of the canvas in which the blue patch is seen that lies farthest that way: found in the
        picture alone, without the program's numbers.
        """
        self.canvas.rest.settle()
        shot = self.canvas.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
        raw = np.frombuffer(shot.constBits(), np.uint8).reshape(shot.height(), shot.width(), 4)
        blueness = raw[:, :, 0].astype(float) - raw[:, :, 2]
        for axis in (0, 1):  # noise is no corner
            blueness = sum(np.roll(blueness, n, axis) for n in range(-2, 3)) / 5
        rows, columns = np.nonzero(blueness > 14)
        farthest = int(np.argmax(columns * way[0] + rows * way[1]))
        return (float(columns[farthest]) + 0.5, float(rows[farthest]) + 0.5)

    def click_seen(self, way: tuple[float, float]) -> None:
        """Click the patch's corner that way: first it is brought near, then looked at again."""
        for _ in range(8):
            _wheel(self.canvas, self.seen(way))
        self.place_freely(QPointF(*self.seen(way)).toPoint())

    def place_freely(self, pixel: QPoint) -> None:
        """Click there, with nothing that catches the hand."""
        for kind, buttons in (
            (QEvent.Type.MouseMove, Qt.MouseButton.NoButton),
            (QEvent.Type.MouseButtonPress, LEFT),
            (QEvent.Type.MouseButtonRelease, Qt.MouseButton.NoButton),
        ):
            button = Qt.MouseButton.NoButton if kind is QEvent.Type.MouseMove else LEFT
            where = QPointF(pixel)
            there = QPointF(self.canvas.mapToGlobal(pixel))
            QApplication.sendEvent(self.canvas, QMouseEvent(kind, where, there, button, buttons, CTRL))


def _back(bench: Bench, centre: tuple[float, float]) -> QPointF:
    """By how much to move the view so that ``centre`` is in its middle."""
    view = bench.canvas.view
    x, y = view.point_to_screen(centre)
    return QPointF(view.width / 2 - x, view.height / 2 - y)


def _wheel(canvas: object, at: tuple[float, float]) -> None:
    from PySide6.QtGui import QWheelEvent

    event = QWheelEvent(
        QPointF(*at), QPointF(*at), QPoint(), QPoint(0, 120), Qt.MouseButton.NoButton, CTRL,
        Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(canvas, event)  # type: ignore[arg-type]


def _type(field: object, text: str) -> None:
    field.selectAll()  # type: ignore[attr-defined]
    QTest.keyClicks(field, text)  # type: ignore[call-overload]
    QTest.keyClick(field, Qt.Key.Key_Return)  # type: ignore[call-overload]


def _photo(bench: Bench) -> Photo:
    assert bench.session.plan.photo is not None
    return bench.session.plan.photo


def _square_up(bench: Bench) -> PhotoHand:
    """Show the four corners, each from near, and say how large the block is."""
    hand = PhotoHand(bench)
    for x, y in SEEN:
        bench.actions_.fit.trigger()
        hand.zoom_to(x, y)
        hand.show(x, y)
    bench.actions_.fit.trigger()
    _type(bench.photo_bar.across, "12")
    return hand


def test_traced_within_a_millimetre(bench: Bench, tmp_path: Path, answers: Answers) -> None:
    """A known quilt in perspective, with noise, is traced by events alone."""
    noisy = tmp_path / "noisy.jpg"
    noisy.write_bytes(encoded(quilt_photo()))
    bench.take([noisy])
    assert answers.told == []
    assert bench.canvas.mode is bench.modes["photo"]
    hand = _square_up(bench)
    bench.canvas.setFocus()
    hand.key(Qt.Key.Key_Return)
    assert bench.canvas.mode is bench.modes["draw"]
    before = len(bench.session.plan.patches)
    QApplication.processEvents()  # the bar goes, and the canvas has its room
    bench.actions_.strengths[2].trigger()
    start = bench.canvas.view
    middle = (sum(x for x, _ in KITE) / 4, sum(y for _, y in KITE) / 4)
    for x, y in KITE:
        hand.click_seen((x - middle[0], y - middle[1]))
        for _ in range(8):
            bench.actions_.zoom_out.trigger()
        bench.canvas.pan_and_zoom(_back(bench, start.centre), 1.0, QPointF())
    hand.key(Qt.Key.Key_Return)
    assert len(bench.session.plan.patches) == before + 1
    piece = bench.session.piece
    assert piece is not None
    off = [math.dist((x * INCH, y * INCH), at) for (x, y), at in zip(KITE, piece.outline, strict=True)]
    assert max(off) < 1.0


def test_the_picture_beneath_is_true_to_size(bench: Bench, photo_file: Path) -> None:
    """What is seen at a place of the canvas is what the camera saw at that place of the cloth: colours inside
    and outside of the kite's sides, 1 mm from them, by grabbing the canvas at full strength.
    """
    bench.take([photo_file])
    hand = _square_up(bench)
    bench.canvas.setFocus()
    hand.key(Qt.Key.Key_Return)
    bench.actions_.strengths[2].trigger()
    bench.canvas.rest.settle()
    shot = bench.canvas.grab().toImage()
    scale = bench.canvas.view.scale
    middle = (sum(x for x, _ in KITE) / 4, sum(y for _, y in KITE) / 4)
    for n, (x, y) in enumerate(KITE):
        after = KITE[(n + 1) % 4]
        side = ((x + after[0]) / 2, (y + after[1]) / 2)
        off = math.dist(side, middle)
        for way, dark in ((-1, True), (1, False)):
            mm = max(2.0, 2 / scale) * way
            at = [s + (s - m) / off * mm / INCH for s, m in zip(side, middle, strict=True)]
            colour = shot.pixelColor(hand.pixel(*at))
            assert (colour.lightness() < 140) is dark


def test_by_menu_and_keys_alone(bench: Bench, photo_file: Path) -> None:
    """Corners are shown, chosen and taken out by the actions of the menu; arrows move them."""
    bench.take([photo_file])
    act, hand = bench.actions_, PhotoHand(bench)
    for number in range(3):
        act.add_corner.trigger()
        for _ in range(5 * number):
            hand.key(Qt.Key.Key_Right)
    first = _photo(bench).corners
    assert [round(x - first[0][0], 6) for x, _ in first] == [0, 5, 10]
    act.next_corner.trigger()
    hand.key(Qt.Key.Key_Up, CTRL)
    assert _photo(bench).corners[0] == (first[0][0], first[0][1] - 0.25)
    act.previous_corner.trigger()
    act.remove_corner.trigger()
    assert len(_photo(bench).corners) == 2
    assert not act.next_side.isEnabled()


def test_undo_every_step(bench: Bench, photo_file: Path) -> None:
    bench.take([photo_file])
    _square_up(bench)
    seen = []
    while bench.session.history.undo_name is not None:
        seen.append(bench.session.history.undo_name)
        bench.actions_.undo.trigger()
    corners = [f"Show corner {name}" for name in "DCBA"]
    assert seen == ["Size in the photo", *corners, "Open photo"]
    assert bench.session.plan.photo is None
    assert bench.canvas.mode is not bench.modes["photo"]
    for _ in seen:
        bench.actions_.redo.trigger()
    assert _photo(bench).is_told


def test_the_view_of_the_cloth_comes_back(bench: Bench, photo_file: Path) -> None:
    before = bench.canvas.view
    bench.take([photo_file])
    assert bench.canvas.view != before
    assert bench.canvas.accessibleName() == "Canvas: the photo"
    left, top = bench.canvas.view.point_to_screen((0, 0))
    right, bottom = bench.canvas.view.point_to_screen((2000, 1500))
    assert 0 < left < right < bench.canvas.width()
    assert 0 < top < bottom < bench.canvas.height()
    PhotoHand(bench).key(Qt.Key.Key_Escape)
    assert bench.canvas.mode is bench.modes["anchor"]
    assert (bench.canvas.view.scale, bench.canvas.view.centre) == (before.scale, before.centre)
    assert bench.canvas.accessibleName().startswith("Canvas: Block")


def test_saved_and_opened_again(bench: Bench, photo_file: Path, answers: Answers, tmp_path: Path) -> None:
    bench.take([photo_file])
    _square_up(bench)
    answers.save = tmp_path / "with a photo.wedgeplan"
    bench.actions_.save.trigger()
    assert answers.told == []
    assert read_plan(answers.save) == bench.session.plan
    bench.take([answers.save])
    assert _photo(bench).is_told
    assert bench.canvas.shows_photo


def test_by_the_menu(bench: Bench, photo_file: Path, answers: Answers) -> None:
    answers.photo = photo_file
    bench.actions_.open_photo.trigger()
    assert answers.asked == ["photo"]
    assert _photo(bench).width == 2000


def test_dropped_and_pasted(bench: Bench, photo_file: Path, tmp_path: Path) -> None:
    small = QImage.fromData(small_jpeg(800, 600))
    for kind in ("dropped file", "pasted file", "pasted picture", "dropped picture"):
        held = QMimeData()
        if "file" in kind:
            held.setUrls([QUrl.fromLocalFile(str(photo_file))])
        else:
            held.setImageData(small)
        if "pasted" in kind:
            QGuiApplication.clipboard().setMimeData(held)
            bench.actions_.paste.trigger()
        else:
            enter = QDragEnterEvent(QPoint(5, 5), Qt.DropAction.CopyAction, held, LEFT, PLAIN)
            QApplication.sendEvent(bench, enter)
            assert enter.isAccepted()
            QApplication.sendEvent(
                bench, QDropEvent(QPointF(5, 5), Qt.DropAction.CopyAction, held, LEFT, PLAIN)
            )
        assert bench.session.plan.photo is not None, kind
        assert _photo(bench).width == (2000 if "file" in kind else 800), kind
        bench.actions_.undo.trigger()
        assert bench.session.plan.photo is None


def test_nothing_to_paste(bench: Bench, answers: Answers) -> None:
    QGuiApplication.clipboard().setText("12 in")
    bench.actions_.paste.trigger()
    assert answers.told == ["There is no picture on the clipboard: copy one first"]
    bench.photos.paste(None)
    assert answers.told[1:] == answers.told[:1]
    assert bench.session.plan.photo is None


def test_two_at_a_time(bench: Bench, photo_file: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.jpg"
    other.write_bytes(small_jpeg())
    bench.take([photo_file, other])
    assert _photo(bench).width == 2000
    assert "One photo at a time: “quilt.jpg”" in bench.message.text


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.jpg", jpeg_header(10_100, 10_000), "101 million pixels"),
        ("a.jpg", b"<html></html>", "neither JPEG, PNG nor HEIC"),
        ("a.png", jpeg_header(64, 48), "it is a JPEG"),
    ],
)
def test_refused(bench: Bench, answers: Answers, tmp_path: Path, name: str, data: bytes, words: str) -> None:
    """One sentence, and nothing is lost."""
    before = bench.session.plan
    path = tmp_path / name
    path.write_bytes(data)
    bench.take([path])
    assert len(answers.told) == 1
    assert words in answers.told[0]
    assert "“a." in answers.told[0]
    assert bench.session.plan is before
    assert bench.canvas.mode is bench.modes["anchor"]


def test_a_cut_off_photo(bench: Bench, answers: Answers, photo_file: Path, tmp_path: Path) -> None:
    path = tmp_path / "cut.jpg"
    whole = photo_file.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    bench.take([path])
    assert len(answers.told) == 1
    assert "cut off" in answers.told[0]


def test_the_bar_leads(bench: Bench, photo_file: Path) -> None:
    """The keys go where the next thing is typed; a sheet brings its own size."""
    bench.take([photo_file])
    hand = PhotoHand(bench)
    bar = bench.photo_bar
    assert bar.isVisible()
    assert not bar.draw.isEnabled()
    for x, y in SEEN:
        hand.show(x, y)
    assert bench.focusWidget() is bar.across
    bench.actions_.known_things[list(bench.actions_.known_things)[2]].trigger()
    assert _photo(bench).size == (297.0, 210.0)
    assert "A4" in bar.known.text()
    _type(bar.across, "12")
    _type(bar.down, "0")
    assert "size" in bar.hint.text()
    assert bar.down.property("wrong")
    QTest.keyClick(bar.down, Qt.Key.Key_Escape)
    _type(bar.down, "30 cm")
    assert _photo(bench).size == pytest.approx((12 * INCH, 300.0))
    assert bar.known.text().startswith("A block")
    bar.add.click()
    hand.show(*seen_at(6, 6))
    assert bench.focusWidget() is bar.place
    _type(bar.place, "6, 15 cm")
    assert _photo(bench).others[0].place == pytest.approx((6 * INCH, 150.0))
    bar.draw.click()
    assert bench.canvas.mode is bench.modes["draw"]
    assert not bar.isVisible()


def test_enter_twice_and_the_whole_photo(bench: Bench, photo_file: Path) -> None:
    """Enter in a field tells what is typed, and once more goes on; Ctrl+0 shows the block in the photo."""
    bench.take([photo_file])
    _square_up(bench)
    assert bench.canvas.mode is bench.modes["photo"]
    QTest.keyClick(bench.photo_bar.across, Qt.Key.Key_Return)
    assert bench.canvas.mode is bench.modes["draw"]
    QApplication.processEvents()
    bench.actions_.zoom_in.trigger()
    bench.actions_.fit.trigger()
    left, top = bench.canvas.view.point_to_screen((0.0, 0.0))
    right, bottom = bench.canvas.view.point_to_screen((12 * INCH, 12 * INCH))
    assert (left + right, top + bottom) == pytest.approx((bench.canvas.width(), bench.canvas.height()))
    assert bottom - top > 0.7 * bench.canvas.height()


@pytest.mark.parametrize("size", [TextScale.USUAL, TextScale.LARGER])
def test_the_bar_takes_no_more_width(bench: Bench, photo_file: Path, size: TextScale) -> None:
    """The window stays as wide as it was, whatever the bar shows."""
    bench.actions_.text_sizes[size].trigger()
    QApplication.processEvents()
    wide = bench.width()
    bench.take([photo_file])
    hand = _square_up(bench)
    for action in bench.actions_.known_things.values():
        action.trigger()
        QApplication.processEvents()
    bench.actions_.add_place.trigger()
    hand.show(900, 700)
    QApplication.processEvents()
    assert bench.photo_bar.place.isVisible()
    assert bench.width() == wide


def test_shown_hidden_and_taken_out(bench: Bench, photo_file: Path) -> None:
    bench.take([photo_file])
    hand = _square_up(bench)
    bench.canvas.setFocus()
    hand.key(Qt.Key.Key_Return)

    def seen() -> QColor:
        bench.canvas.rest.settle()
        QApplication.processEvents()
        return bench.canvas.grab().toImage().pixelColor(hand.pixel(6.0, 5.5))

    half = seen()
    bench.actions_.strengths[2].trigger()
    full = seen()
    assert full.lightness() < half.lightness() - 20
    bench.actions_.show_photo.trigger()
    hidden = seen()
    assert hidden.lightness() > half.lightness() + 20
    assert not bench.canvas.shows_photo
    bench.actions_.show_photo.trigger()
    assert seen() == full
    bench.actions_.take_photo_out.trigger()
    assert bench.session.plan.photo is None
    assert seen().lightness() > half.lightness()
    bench.actions_.undo.trigger()
    assert seen() == full


def test_a_drag_of_the_anchor_does_not_wait_for_the_photo(
    bench: Bench, photo_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It lies in the picture of what does not move: not once is it laid while the hand moves."""
    from app.window.photo_picture import Beneath

    bench.take([photo_file])
    _square_up(bench)
    bench.set_mode("anchor")
    bench.canvas.rest.settle()
    bench.canvas.repaint()
    laid: list[int] = []
    real = Beneath.paint
    monkeypatch.setattr(Beneath, "paint", lambda *a, **k: (laid.append(1), real(*a, **k))[1])
    hand = Hand(bench)
    hand.press(3.0, 5.0)
    for step in range(1, 12):
        hand.move(3.0 + step / 8, 5.0)
        bench.canvas.repaint()
    hand.release(4.5, 5.0)
    assert laid == []
    bench.actions_.zoom_in.trigger()
    bench.canvas.repaint()
    assert laid != []


def test_no_grid_catches_over_a_photo(bench: Bench, photo_file: Path) -> None:
    bench.take([photo_file])
    hand = _square_up(bench)
    bench.canvas.setFocus()
    hand.key(Qt.Key.Key_Return)
    overlay = bench.canvas.mode.overlay(bench.canvas.view.scale)
    assert not overlay.grid
    QApplication.processEvents()  # the bar goes, and the canvas has its room
    pixel = hand.move(6.03, 5.53)
    snap = bench.canvas.mode.overlay(bench.canvas.view.scale).snap
    assert snap is not None
    assert snap.at == pytest.approx(hand.at(pixel))
    bench.actions_.show_photo.trigger()
    assert bench.canvas.mode.overlay(bench.canvas.view.scale).grid


def test_qt_s_own_homography_agrees() -> None:
    """QTransform.quadToQuad (Qt 6 documentation) takes the four corners to the block as the engine does."""
    from PySide6.QtGui import QPolygonF, QTransform

    places = ((0.0, 0.0), (304.8, 0.0), (304.8, 304.8), (0.0, 304.8))
    ours = rectify(SEEN, places)
    theirs = QTransform.quadToQuad(
        QPolygonF([QPointF(*at) for at in SEEN]), QPolygonF([QPointF(*at) for at in places])
    )
    assert isinstance(theirs, QTransform)
    for x, y in ((600.0, 500.0), (1000.0, 900.0), (1500.0, 1200.0), (100.0, 100.0)):
        mapped = theirs.map(QPointF(x, y))
        assert ours.on_cloth([(x, y)])[0] == pytest.approx((mapped.x(), mapped.y()), abs=1e-6)
