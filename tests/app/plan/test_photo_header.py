"""What a photo says of itself: every kind, every turn flag, and every way to be damaged."""

from __future__ import annotations

import contextlib
import struct

import pytest
from PySide6.QtGui import QImage

from app.plan.photo_header import PhotoError, PhotoKind, kind_of, read_header
from tests.photos import encoded, heic_header, jpeg_header, png_header, small_jpeg, with_turn

pytestmark = pytest.mark.usefixtures("qapp")


def test_sizes() -> None:
    for kind, made in (
        (PhotoKind.JPEG, small_jpeg(64, 48)),
        (PhotoKind.JPEG, jpeg_header(64, 48)),
        (PhotoKind.PNG, png_header(64, 48)),
        (PhotoKind.HEIC, heic_header(640, 480)),
    ):
        header = read_header(made)
        assert header.kind is kind is kind_of(made)
        assert (header.width, header.height) in ((64, 48), (640, 480))
        assert header.turn == 1


def test_what_qt_writes_is_read() -> None:
    photo = QImage.fromData(small_jpeg(301, 207))
    for kind in ("JPEG", "PNG"):
        header = read_header(encoded(photo, kind))
        assert (header.kind, header.width, header.height) == (kind, photo.width(), photo.height())


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("turn", range(1, 9))
def test_turn_flags(turn: int, order: str) -> None:
    assert read_header(with_turn(small_jpeg(), turn, order)).turn == turn


@pytest.mark.parametrize("turn", [0, 9, 77])
def test_a_turn_flag_that_there_is_not(turn: int) -> None:
    assert read_header(with_turn(small_jpeg(), turn)).turn == 1


def test_the_thumbnail_is_not_the_photo() -> None:
    """A whole JPEG within the Exif part, with a size and an end of its own."""
    inner = small_jpeg(16, 12)
    part = b"Exif\0\0" + inner
    whole = small_jpeg(64, 48)
    made = whole[:2] + b"\xff\xe1" + struct.pack(">H", len(part) + 2) + part + whole[2:]
    header = read_header(made)
    assert (header.width, header.height) == (64, 48)
    with pytest.raises(PhotoError, match="cut off"):
        read_header(made[:-2])


@pytest.mark.parametrize("make", [small_jpeg, lambda: png_header(64, 48), lambda: heic_header(640, 480)])
def test_no_beginning_of_a_photo_is_one(make: object) -> None:
    """Every truncation is told, and nothing else is raised."""
    whole: bytes = make()  # type: ignore[operator]
    read_header(whole)
    for length in range(len(whole)):
        with pytest.raises(PhotoError):
            read_header(whole[:length])


@pytest.mark.parametrize("data", [b"", b"GIF89a" + bytes(40), b"<html>", b"\xff\xd8", b"\0\0\0\x18ftypmp42"])
def test_no_photo(data: bytes) -> None:
    with pytest.raises(PhotoError, match="neither JPEG, PNG nor HEIC"):
        read_header(data)


@pytest.mark.parametrize("make", [jpeg_header, png_header])
def test_without_width(make: object) -> None:
    with pytest.raises(PhotoError, match="without width or height"):
        read_header(make(0, 48))  # type: ignore[operator]


def test_a_box_that_contains_itself() -> None:
    """Its size is 0 or too small: no loop without end."""
    for size in (1, 7):
        made = (
            struct.pack(">I4s", 16, b"ftyp")
            + b"heic"
            + bytes(4)
            + struct.pack(">I4s", size, b"meta")
            + bytes(64)
        )
        with pytest.raises(PhotoError):
            read_header(made)


def test_flipped_bytes_raise_nothing_else() -> None:
    for whole in (with_turn(small_jpeg(), 6), png_header(64, 48), heic_header(640, 480)):
        for at in range(min(len(whole), 200)):
            for value in (0, 1, 0x7F, 0xFF):
                damaged = whole[:at] + bytes([value]) + whole[at + 1 :]
                with contextlib.suppress(PhotoError):
                    read_header(damaged)


def _nested(depth: int) -> bytes:
    boxes = b""
    for _ in range(depth):
        boxes = struct.pack(">I4s", 12 + len(boxes), b"meta") + bytes(4) + boxes
    return boxes


@pytest.mark.parametrize(
    "data",
    [
        jpeg_header(64, 48)[:2] + b"\xff\x01" * 200_001 + jpeg_header(64, 48)[2:],
        png_header(64, 48)[:33] + (bytes(4) + b"abcd" + bytes(4)) * 200_001 + png_header(64, 48)[33:],
        heic_header(64, 48) + (struct.pack(">I", 8) + b"free") * 200_001,
        heic_header(64, 48) + _nested(2000),
    ],
    ids=["markers", "chunks", "boxes", "boxes in boxes"],
)
def test_of_far_too_many_parts_it_is_damaged(data: bytes) -> None:
    """A file of 256 MB would be looked through for many seconds, or its boxes go deeper than Python can."""
    with pytest.raises(PhotoError, match="damaged"):
        read_header(data)


def test_fill_before_a_marker_is_no_part() -> None:
    """T.81, B.1.1.2 (from memory): any number of bytes FF may stand before a marker."""
    whole = jpeg_header(64, 48)
    assert read_header(whole[:2] + b"\xff" * 1_000_000 + whole[2:]).width == 64
