"""What the first bytes of a photo say of it, read without decoding: kind, size, how it was turned.

JPEG by ITU-T T.81, annex B; its turn flag by Exif 2.32, tag 274 (from TIFF 6.0); PNG by the W3C's
specification, 3rd edition, 5 and 11.2; HEIC by ISO/IEC 14496-12, 4.2 and 4.3, and 23008-12, 6.5.3. All from
memory.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import islice
from typing import Final

from geometry.errors import WedgewrightError

_PNG: Final = b"\x89PNG\r\n\x1a\n"
_HEIC_BRANDS: Final = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1"})
_BARE_MARKERS: Final = frozenset({0x01, *range(0xD0, 0xD9)})
"""Of a JPEG: markers that no length follows."""
_FRAMES: Final = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_TURN_TAG: Final = 0x0112
_MOST_PARTS: Final = 200_000
"""Of a photo: the most that are sound have some thousands. More would be looked through for seconds."""
_FILL: Final = re.compile(rb"\xff+")
_BOXES_IN: Final = {b"meta": 4, b"iprp": 0, b"ipco": 0}
"""Boxes of a HEIC on the way to its size, and how many bytes stand in each before the boxes in it."""
_DEEPEST: Final = len(_BOXES_IN)


class PhotoKind(StrEnum):
    """How a photo is written."""

    JPEG = "JPEG"
    PNG = "PNG"
    HEIC = "HEIC"


@dataclass(frozen=True, slots=True)
class PhotoHeader:
    """Of a photo that is all there."""

    kind: PhotoKind
    width: int
    height: int
    """Pixels as they are stored: before the turn that ``turn`` asks for."""
    turn: int = 1
    """The turn flag of a JPEG, 1 to 8; 1 where it is upright, or says nothing."""

    @property
    def pixels(self) -> int:
        """How many there are."""
        return self.width * self.height


class PhotoError(WedgewrightError):
    """No photo, or none that can be used."""


def kind_of(data: bytes) -> PhotoKind | None:
    """What the first bytes say that this is; None for everything that is not read."""
    if data[:3] == b"\xff\xd8\xff":
        return PhotoKind.JPEG
    if data[:8] == _PNG:
        return PhotoKind.PNG
    if data[4:8] == b"ftyp" and data[8:12] in _HEIC_BRANDS:
        return PhotoKind.HEIC
    return None


def read_header(data: bytes) -> PhotoHeader:
    """Of the photo whose bytes are ``data``; nothing is decoded. Raises ``PhotoError`` for other things, and
    where its size or its end is missing.
    """
    header, whole = _read(data)
    if header.width == 0 or header.height == 0:
        raise PhotoError("a photo without width or height", do="choose another")
    if not whole:
        raise _cut_off()
    return header


def pixels_by(start: bytes) -> int:
    """How many pixels a photo has by its first bytes; 0 where these do not say."""
    try:
        return _read(start)[0].pixels
    except PhotoError:
        return 0


def _read(data: bytes) -> tuple[PhotoHeader, bool]:
    """Header, and whether the end is there. Raises ``PhotoError`` where not even the header is."""
    kind = kind_of(data)
    if kind is None:
        raise PhotoError("neither JPEG, PNG nor HEIC", do="choose a photo, or save it as a JPEG first")
    try:
        return {PhotoKind.JPEG: _jpeg, PhotoKind.PNG: _png, PhotoKind.HEIC: _heic}[kind](data)
    except (struct.error, IndexError):
        raise _cut_off() from None


def _cut_off() -> PhotoError:
    return PhotoError("the photo is cut off: its end is missing", do="copy it from the camera again")


def _damaged() -> PhotoError:
    return PhotoError("the photo is damaged", do="copy it from the camera again")


def _jpeg(data: bytes) -> tuple[PhotoHeader, bool]:
    """Header, and whether the end is there. In what is coded no FF D9 can be but the end's."""
    at, size, turn = 2, (0, 0), 1
    for _ in range(_MOST_PARTS):
        fill = _FILL.match(data, at)
        if fill is None:
            raise _damaged()
        marker = data[fill.end()]
        at = fill.end() + 1
        if marker in _BARE_MARKERS:
            continue
        if marker == 0xD9:
            raise IndexError
        (length,) = struct.unpack_from(">H", data, at)
        if marker in _FRAMES:
            height, width = struct.unpack_from(">HH", data, at + 3)
            size = (width, height)
        elif marker == 0xE1 and data[at + 2 : at + 8] == b"Exif\0\0":
            turn = _turn(data[at + 8 : at + length])
        elif marker == 0xDA:
            header = PhotoHeader(PhotoKind.JPEG, *size, turn)
            return header, data.find(b"\xff\xd9", at + length) >= 0
        at += max(length, 2)
    raise _damaged()


def _turn(tiff: bytes) -> int:
    """The turn flag of an Exif part; 1 where it says none, or none that there is."""
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None:
        return 1
    try:
        (first,) = struct.unpack_from(f"{order}I", tiff, 4)
        (count,) = struct.unpack_from(f"{order}H", tiff, first)
        for entry in range(count):
            tag, _, _, value = struct.unpack_from(f"{order}HHIH", tiff, first + 2 + 12 * entry)
            if tag == _TURN_TAG:
                return value if 1 <= value <= 8 else 1
    except struct.error:
        pass  # a damaged remark on a photo that may be sound
    return 1


def _png(data: bytes) -> tuple[PhotoHeader, bool]:
    width, height = struct.unpack_from(">II", data, 16)
    at, name = 8, b""
    for _ in range(_MOST_PARTS):
        if at >= len(data) or name == b"IEND":
            return PhotoHeader(PhotoKind.PNG, width, height), name == b"IEND" and at <= len(data)
        length, name = struct.unpack_from(">I4s", data, at)
        at += 12 + length
    raise _damaged()


def _heic(data: bytes) -> tuple[PhotoHeader, bool]:
    """The largest picture in it is the photo; the others are tiles and thumbnails."""
    boxes = list(islice(_boxes(data, 0, len(data)), _MOST_PARTS + 1))
    if len(boxes) > _MOST_PARTS:
        raise _damaged()
    sizes = [struct.unpack_from(">II", data, at + 4) for name, at, _ in boxes if name == b"ispe"]
    if not sizes:
        raise IndexError
    width, height = max(sizes, key=lambda size: size[0] * size[1])
    whole = any(name == b"mdat" for name, _, _ in boxes) and max(end for _, _, end in boxes) <= len(data)
    return PhotoHeader(PhotoKind.HEIC, width, height), whole


def _boxes(data: bytes, at: int, end: int, depth: int = 0) -> Iterator[tuple[bytes, int, int]]:
    """Name, where its content begins and where it ends, of each box and of those on the way to the size."""
    while at + 8 <= end:
        size, name = struct.unpack_from(">I4s", data, at)
        start = at + 8
        if size == 1:
            (size,) = struct.unpack_from(">Q", data, start)
            start += 8
        elif size == 0:  # up to the end
            size = end - at
        if size < start - at or depth > _DEEPEST:
            raise _damaged()
        yield name, start, at + size
        if name in _BOXES_IN:
            yield from _boxes(data, start + _BOXES_IN[name], min(at + size, len(data)), depth + 1)
        at += size
