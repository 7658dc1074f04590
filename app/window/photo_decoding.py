"""A photo as it comes -> the JPEG that a plan keeps: upright, small enough, and nothing but the picture."""

from __future__ import annotations

import threading
from collections.abc import Callable
from importlib.util import find_spec
from typing import Final

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QSize, Qt
from PySide6.QtGui import QImage, QImageReader, QPainter
from PySide6.QtWidgets import QWidget

from app.exporting.template import Progress
from app.importing.photo import MAX_PIXELS, checked_header
from app.plan.photo import LONGEST_SIDE
from app.plan.photo_header import PhotoError, PhotoHeader, PhotoKind
from app.sketch.translate import tr

_QUALITY: Final = 85
"""Of the JPEG, in per cent: below it edges begin to blur (found by trial)."""
_MIB: Final = MAX_PIXELS * 4 // 2**20 + 1
"""What Qt may take for one picture; by itself it refuses 67 million pixels and more."""
_LOOK_S: Final = 0.02
_FORMS: Final = {
    "L": QImage.Format.Format_Grayscale8,
    "RGB": QImage.Format.Format_RGB888,
    "RGBA": QImage.Format.Format_RGBA8888,
    "RGBa": QImage.Format.Format_RGBA8888_Premultiplied,
}
"""Of what a HEIC is decoded to, by its library's names."""


def for_plan(data: bytes, parent: QWidget) -> bytes | None:
    """The JPEG of the photo ``data`` for a plan. None where the user stopped it, over ``parent``.

    Raises ``PhotoError``; a photo of too many pixels is refused before it is decoded.
    """
    header = checked_header(data)
    if header.kind is PhotoKind.HEIC and find_spec("pi_heif") is None:
        raise PhotoError(
            tr("HEIC photos need a part that is not installed"),
            do=tr("install it with: pip install 'wedgewright[heic]', or save the photo as a JPEG"),
        )
    return beside(lambda: as_jpeg(decoded(data, header)), parent)


def beside(make: Callable[[], bytes], parent: QWidget) -> bytes | None:
    """What ``make`` makes in a thread, as it may take some seconds. None where the user stopped it, over
    ``parent``. What it raises is raised here.
    """
    from app.window.print_work import with_progress

    job = _Job(make)
    job.start()

    def wait(progress: Progress) -> None:
        while job.is_alive():
            job.join(_LOOK_S)
            progress(0, 0)

    return job.answer() if with_progress(parent, tr("Opening the photo…"), wait) else None


def as_jpeg(image: QImage) -> bytes:
    """``image``, made smaller where it must be, as the JPEG that a plan keeps.

    Place, time and camera are left out: only the picture is taken over.
    """
    size = _reduced(image.size())
    plain = QImage(size, QImage.Format.Format_RGB32)
    plain.fill(Qt.GlobalColor.white)
    with QPainter(plain) as painter:
        # Not by the painter: it would take the nearest two pixels only, and lose fine lines.
        painter.drawImage(
            0,
            0,
            image.scaled(
                size, Qt.AspectRatioMode.IgnoreAspectRatio, Qt.TransformationMode.SmoothTransformation
            ),
        )
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    if not plain.save(buffer, "JPEG", _QUALITY):  # type: ignore[call-overload]
        raise PhotoError(tr("the photo cannot be made small enough"), do=tr("choose another"))
    return bytes(data.data())


def decoded(data: bytes, header: PhotoHeader) -> QImage:
    """The photo, upright, at most about as large as a plan keeps it. Raises ``PhotoError``."""
    return _heic(data) if header.kind is PhotoKind.HEIC else _by_qt(data, header)


# ----------------------------------------------------------------------------------------------------


class _Job(threading.Thread):
    """Works on one photo; nobody waits for it where it is not wanted any more."""

    def __init__(self, make: Callable[[], bytes]) -> None:
        super().__init__(name="photo", daemon=True)
        self._make = make
        self._made: bytes | Exception = b""

    def run(self) -> None:
        """Make it, or know why not."""
        try:
            self._made = self._make()
        except Exception as error:
            self._made = error

    def answer(self) -> bytes:
        """What was made; raises what went wrong."""
        if isinstance(self._made, Exception):
            raise self._made
        return self._made


def _reduced(size: QSize) -> QSize:
    if max(size.width(), size.height()) <= LONGEST_SIDE:
        return size
    small = size.scaled(LONGEST_SIDE, LONGEST_SIDE, Qt.AspectRatioMode.KeepAspectRatio)
    return small.expandedTo(QSize(1, 1))


def _by_qt(data: bytes, header: PhotoHeader) -> QImage:
    QImageReader.setAllocationLimit(max(QImageReader.allocationLimit(), _MIB))
    held = QByteArray(data)
    buffer = QBuffer(held)
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    reader = QImageReader(buffer, QByteArray(header.kind.value.lower().encode()))
    reader.setAutoTransform(True)
    reader.setScaledSize(_reduced(QSize(header.width, header.height)))
    image = reader.read()
    if image.isNull():
        raise PhotoError(tr("the photo is damaged"), do=tr("copy it from the camera again"))
    return image


def _heic(data: bytes) -> QImage:
    import pi_heif

    try:
        photo = pi_heif.read_heif(data)
        (width, height), stride, pixels = photo.size, photo.stride, bytes(photo.data)
        form = _FORMS[photo.mode]
        if len(pixels) < stride * height:  # Qt reads on, whatever lies there
            raise ValueError("too few pixels")
        # The picture keeps no bytes alive that are not its own.
        return QImage(pixels, width, height, stride, form).copy()
    except MemoryError:
        raise
    except Exception as error:  # nothing is known of what the library makes of a damaged one
        raise PhotoError(tr("the photo is damaged"), do=tr("copy it from the camera again")) from error
