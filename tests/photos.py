"""Photos made for tests: an invented block seen by a known camera, headers by hand, and turn flags."""

from __future__ import annotations

import struct
import zlib

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPolygonF, QTransform

INCH = 25.4
BLOCK = 12 * INCH
"""mm: side of the block in the photo."""
KITE = ((3.1, 1.57), (7.43, 3.2), (9.06, 8.95), (4.27, 7.81))
"""in: corners of the patch in the block, none of them on a grid."""
SEEN = ((420.0, 300.0), (1610.0, 380.0), (1480.0, 1290.0), (300.0, 1120.0))
"""Pixels: where the camera sees the block's corners."""
WIDTH, HEIGHT = 2000, 1500


def camera() -> NDArray[np.float64]:
    """(3, 3) mm -> pixels, from the four corners by eight plain equations: no code of the program is used."""
    places = ((0.0, 0.0), (BLOCK, 0.0), (BLOCK, BLOCK), (0.0, BLOCK))
    rows, right = [], []
    for (x, y), (u, v) in zip(places, SEEN, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    return np.append(np.linalg.solve(np.array(rows), np.array(right)), 1.0).reshape(3, 3)


def seen_at(x: float, y: float) -> tuple[float, float]:
    """Pixels: where the camera sees a place that is given in inches from corner A."""
    u, v, w = camera() @ (x * INCH, y * INCH, 1.0)
    return (float(u / w), float(v / w))


def quilt_photo(*, noise: float = 9.0) -> QImage:
    """The block with its kite, in perspective; ``noise`` as of a phone at dusk."""
    image = QImage(WIDTH, HEIGHT, QImage.Format.Format_RGB32)
    image.fill(QColor("#8A7F70"))
    with QPainter(image) as painter:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setTransform(QTransform(*camera().T.ravel().tolist()))
        painter.setPen(Qt.PenStyle.NoPen)
        for colour, corners in (("#E9DFC8", ((0, 0), (12, 0), (12, 12), (0, 12))), ("#31556E", KITE)):
            painter.setBrush(QColor(colour))
            painter.drawPolygon(QPolygonF([QPointF(x * INCH, y * INCH) for x, y in corners]))
    if not noise:
        return image
    pixels = np.frombuffer(image.constBits(), np.uint8).reshape(HEIGHT, WIDTH, 4).astype(np.int16)
    pixels += np.random.default_rng(6).normal(0, noise, pixels.shape).astype(np.int16)
    noisy = np.clip(pixels, 0, 255).astype(np.uint8).tobytes()
    return QImage(noisy, WIDTH, HEIGHT, 4 * WIDTH, QImage.Format.Format_RGB32).copy()


def encoded(image: QImage, kind: str = "JPEG") -> bytes:
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    assert image.save(buffer, kind, 95)  # type: ignore[call-overload]
    return bytes(data.data())


def small_jpeg(width: int = 64, height: int = 48, colour: str = "#31556E") -> bytes:
    image = QImage(width, height, QImage.Format.Format_RGB32)
    image.fill(QColor(colour))
    return encoded(image)


def with_turn(jpeg: bytes, turn: int, order: str = "<") -> bytes:
    """The JPEG with an Exif part that holds nothing but the turn flag (Exif 2.32, 4.5.4 and 4.7.2)."""
    mark = b"II" if order == "<" else b"MM"
    tiff = mark + struct.pack(f"{order}HIHHHIHHI", 42, 8, 1, 0x0112, 3, 1, turn, 0, 0)
    exif = b"Exif\0\0" + tiff
    return jpeg[:2] + b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif + jpeg[2:]


def jpeg_header(width: int, height: int) -> bytes:
    """A JPEG of that size of which nothing but the header and an end is there."""
    frame = b"\xff\xc0" + struct.pack(">HBHHB", 11, 8, height, width, 1) + b"\x01\x11\x00"
    return b"\xff\xd8" + frame + b"\xff\xda" + struct.pack(">H", 8) + b"\x01\x01\x00\x00\x3f\x00\x00\xff\xd9"


def png_header(width: int, height: int) -> bytes:
    """A PNG of that size without a line."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IEND", b"")


def heic_header(width: int, height: int, *, tile: int = 512) -> bytes:
    """The boxes of a HEIC around a photo that is made of tiles; no picture is in it."""

    def box(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I4s", len(body) + 8, name) + body

    def size(w: int, h: int) -> bytes:
        return box(b"ispe", struct.pack(">III", 0, w, h))

    properties = box(b"iprp", box(b"ipco", size(tile, tile) + size(width, height) + size(160, 120)))
    meta = box(b"meta", bytes(4) + properties)
    return box(b"ftyp", b"heic" + bytes(4) + b"mif1heic") + meta + box(b"mdat", bytes(100))
