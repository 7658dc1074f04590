"""Photos as they come: upright whatever the flag says, small enough, and refused before they are decoded."""

from __future__ import annotations

import sys
import time
import types
from pathlib import Path

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtGui import QColor, QImage, QImageReader, QPainter
from PySide6.QtWidgets import QApplication, QProgressDialog, QWidget
from pytestqt.qtbot import QtBot

from app.plan.photo import LONGEST_SIDE, Photo
from app.plan.photo_header import PhotoError, PhotoKind, read_header
from app.window import photo_decoding
from app.window.photo_decoding import as_jpeg, decoded, for_plan
from tests.photos import encoded, heic_header, jpeg_header, png_header, small_jpeg, with_turn

pytestmark = pytest.mark.usefixtures("application")

RED, GREEN, BLUE, WHITE = "#C02020", "#20A040", "#2040C0", "#F0F0F0"
QUARTERS = ((RED, GREEN), (BLUE, WHITE))
"""Upright: rows of columns."""


def _upright() -> QImage:
    image = QImage(96, 64, QImage.Format.Format_RGB32)
    with QPainter(image) as painter:
        for row, colours in enumerate(QUARTERS):
            for column, colour in enumerate(colours):
                painter.fillRect(48 * column, 32 * row, 48, 32, QColor(colour))
    return image


def _stored(turn: int) -> QImage:
    """How a camera that sets the flag stores the upright picture: by the definition of the tag (Exif 2.32,
    4.6.5: where the stored row 0 and column 0 are in the scene), pixel by pixel."""
    upright = _upright()
    width, height = upright.width(), upright.height()
    stored = QImage(*((width, height) if turn <= 4 else (height, width)), QImage.Format.Format_RGB32)
    for row in range(stored.height()):
        for column in range(stored.width()):
            x, y = {
                1: (column, row),  # row 0 top, column 0 left
                2: (width - 1 - column, row),  # top, right
                3: (width - 1 - column, height - 1 - row),  # bottom, right
                4: (column, height - 1 - row),  # bottom, left
                5: (row, column),  # left, top
                6: (width - 1 - row, column),  # right, top
                7: (width - 1 - row, height - 1 - column),  # right, bottom
                8: (row, height - 1 - column),  # left, bottom
            }[turn]
            stored.setPixelColor(column, row, upright.pixelColor(x, y))
    return stored


def _near(one: QColor, other: str) -> bool:
    wanted = QColor(other)
    return max(abs(one.red() - wanted.red()), abs(one.green() - wanted.green()),
               abs(one.blue() - wanted.blue())) < 24  # fmt: skip


@pytest.mark.parametrize("turn", range(1, 9))
def test_each_turn_flag_comes_upright(turn: int) -> None:
    data = with_turn(encoded(_stored(turn)), turn)
    made = Photo(data=as_jpeg(decoded(data, read_header(data))))
    assert (made.width, made.height) == (96, 64)
    image = QImage.fromData(made.data)
    for row, colours in enumerate(QUARTERS):
        for column, colour in enumerate(colours):
            assert _near(image.pixelColor(24 + 48 * column, 16 + 32 * row), colour)
    assert read_header(made.data).turn == 1


@pytest.mark.parametrize(
    ("kind", "size"), [("JPEG", (5000, 3000)), ("PNG", (1000, 4800)), ("JPEG", (2400, 9))]
)
def test_reduced(kind: str, size: tuple[int, int]) -> None:
    image = QImage(*size, QImage.Format.Format_RGB32)
    image.fill(QColor(GREEN))
    data = encoded(image, kind)
    photo = Photo(data=as_jpeg(decoded(data, read_header(data))))
    assert max(photo.width, photo.height) == LONGEST_SIDE
    assert photo.width / photo.height == pytest.approx(size[0] / size[1], rel=0.01)


def test_glass_is_white() -> None:
    image = QImage(40, 30, QImage.Format.Format_ARGB32)
    image.fill(0)
    assert _near(QImage.fromData(as_jpeg(image)).pixelColor(20, 15), "#FFFFFF")


def test_nothing_but_the_picture_is_kept() -> None:
    """No place, no time, no camera: what Exif and comments say stays outside."""
    image = _upright()
    image.setText("Description", "Invented Lane 5")
    data = with_turn(encoded(image), 6)
    assert b"Exif" in data
    assert b"Invented Lane" in data
    made = as_jpeg(decoded(data, read_header(data)))
    assert b"Exif" not in made
    assert b"Invented" not in made


@pytest.mark.parametrize("make", [jpeg_header, png_header, heic_header])
def test_101_million_pixels_are_never_decoded(
    make: object, monkeypatch: pytest.MonkeyPatch, qtbot: QtBot
) -> None:
    asked: list[object] = []
    monkeypatch.setattr(photo_decoding, "decoded", lambda *a: asked.append(a))
    monkeypatch.setattr(QImageReader, "read", lambda *a: asked.append(a))
    window = QWidget()
    qtbot.addWidget(window)
    with pytest.raises(PhotoError, match="101 million"):
        for_plan(make(10_100, 10_000), window)  # type: ignore[operator]
    assert asked == []


def test_damaged_inside(qtbot: QtBot) -> None:
    """A header and an end without a picture between them."""
    window = QWidget()
    qtbot.addWidget(window)
    with pytest.raises(PhotoError, match="damaged"):
        for_plan(png_header(64, 48), window)


def test_progress_and_stop(monkeypatch: pytest.MonkeyPatch, qtbot: QtBot) -> None:
    """Work that takes long shows a window, and is given up at once where it is stopped."""
    window = QWidget()
    qtbot.addWidget(window)
    window.show()
    going = [True]

    def slow(data: bytes, header: object) -> QImage:
        while going[0]:
            time.sleep(0.005)
        return _upright()

    def stop() -> None:
        boxes = [box for box in QApplication.topLevelWidgets() if isinstance(box, QProgressDialog)]
        shown = [box for box in boxes if box.isVisible()]
        if shown:
            assert shown[0].labelText() == "Opening the photo…"
            shown[0].cancel()
        else:
            QTimer.singleShot(20, stop)

    monkeypatch.setattr(photo_decoding, "decoded", slow)
    QTimer.singleShot(0, stop)
    assert for_plan(small_jpeg(), window) is None
    going[0] = False


def test_heic_without_its_part(monkeypatch: pytest.MonkeyPatch, qtbot: QtBot) -> None:
    window = QWidget()
    qtbot.addWidget(window)
    monkeypatch.setattr(photo_decoding, "find_spec", lambda name: None)
    with pytest.raises(PhotoError, match="install it with: pip install 'wedgewright"):
        for_plan(heic_header(640, 480), window)


def test_heic_by_its_part(monkeypatch: pytest.MonkeyPatch) -> None:
    """What stands in for pi-heif gives the rows with some bytes more to each, as it may."""
    upright = _upright().convertToFormat(QImage.Format.Format_RGB888)
    stride = upright.bytesPerLine() + 32
    rows = b"".join(
        bytes(upright.constScanLine(y))[: upright.bytesPerLine()] + bytes(32) for y in range(upright.height())
    )
    read = types.SimpleNamespace(data=rows, size=(96, 64), stride=stride, mode="RGB")
    monkeypatch.setitem(sys.modules, "pi_heif", types.SimpleNamespace(read_heif=lambda data: read))
    data = heic_header(96, 64, tile=32)
    header = read_header(data)
    assert header.kind is PhotoKind.HEIC
    image = decoded(data, header)
    assert _near(image.pixelColor(72, 16), GREEN)
    assert _near(image.pixelColor(24, 48), BLUE)


def _heic_that_is(monkeypatch: pytest.MonkeyPatch, **what: object) -> QImage:
    read = types.SimpleNamespace(
        **{"size": (2, 2), "stride": 2, "mode": "L", "data": b"\x10\x60\xa0\xf0", **what}
    )
    monkeypatch.setitem(sys.modules, "pi_heif", types.SimpleNamespace(read_heif=lambda data: read))
    data = heic_header(2, 2, tile=2)
    return decoded(data, read_header(data))


def test_heic_without_colours(monkeypatch: pytest.MonkeyPatch) -> None:
    image = _heic_that_is(monkeypatch)
    assert [image.pixelColor(x, y).blue() for y in (0, 1) for x in (0, 1)] == [0x10, 0x60, 0xA0, 0xF0]


@pytest.mark.parametrize("what", [{"mode": "RGB", "stride": 6}, {"data": b"\0\0\0"}, {"mode": "LA;16"}])
def test_heic_of_fewer_bytes_than_it_says_is_damaged(
    monkeypatch: pytest.MonkeyPatch, what: dict[str, object]
) -> None:
    """Qt would read on, in memory that is another's."""
    with pytest.raises(PhotoError, match="damaged"):
        _heic_that_is(monkeypatch, **what)


def test_heic_of_which_its_part_makes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Found by mutation: the part says of some that it has no picture, in its own way."""

    def nothing(data: bytes) -> object:
        return [][0]

    monkeypatch.setitem(sys.modules, "pi_heif", types.SimpleNamespace(read_heif=nothing))
    data = heic_header(96, 64, tile=32)
    with pytest.raises(PhotoError, match="damaged"):
        decoded(data, read_header(data))


@pytest.mark.parametrize(
    ("name", "size", "colours"),
    [("quarters", (192, 128), QUARTERS), ("quarters-turned", (128, 192), ((BLUE, RED), (WHITE, GREEN)))],
)
def test_real_heic(name: str, size: tuple[int, int], colours: tuple[tuple[str, str], ...]) -> None:
    """The quarters, coded by libheif 1.15's own encoder; in the other an ``irot`` of 3 × 90° anticlockwise
    (ISO/IEC 23008-12, 6.5.10) was put in by hand.
    """
    pytest.importorskip("pi_heif")
    data = (Path(__file__).parent / "photos" / f"{name}.heic").read_bytes()
    photo = Photo(data=as_jpeg(decoded(data, read_header(data))))
    assert (photo.width, photo.height) == size
    image = QImage.fromData(photo.data)
    for row, wanted in enumerate(colours):
        for column, colour in enumerate(wanted):
            at = (size[0] * (1 + 2 * column) // 4, size[1] * (1 + 2 * row) // 4)
            assert _near(image.pixelColor(*at), colour)


def test_heic_that_is_damaged() -> None:
    pytest.importorskip("pi_heif")
    whole = (Path(__file__).parent / "photos" / "quarters.heic").read_bytes()
    for data in (heic_header(640, 480), whole[:-140] + bytes(140)):
        with pytest.raises(PhotoError, match="damaged"):
            decoded(data, read_header(data))
