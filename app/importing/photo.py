"""A file that should be a photo: looked at before anything is decoded. The decoding is the window's."""

from __future__ import annotations

import os
from typing import Final

from app.importing import ImportingError, refuse_what_is_no_file, shown_name
from app.plan.photo_header import PhotoError, PhotoHeader, PhotoKind, kind_of, pixels_by, read_header
from app.sketch.translate import tr
from geometry import WedgewrightError

MAX_PIXELS: Final = 100_000_000
"""More than any camera in a phone or in a bag has; decoded they take 400 MB."""
MAX_BYTES: Final = 256 * 1024 * 1024
"""Of a file: what so many pixels take at most in kinds that lose nothing."""
_START: Final = 1 << 20
"""Bytes of a file that say how large the photo is, unless a camera wrote very much before that."""

_KIND_OF: Final = {
    ".jpg": PhotoKind.JPEG,
    ".jpeg": PhotoKind.JPEG,
    ".png": PhotoKind.PNG,
    ".heic": PhotoKind.HEIC,
    ".heif": PhotoKind.HEIC,
}
PHOTO_ENDINGS: Final = tuple(_KIND_OF)


def read_photo(path: str | os.PathLike[str]) -> tuple[bytes, PhotoHeader]:
    """The bytes of the photo at ``path``, and what they say of it.

    Raises ``ImportingError``, which names the file, where it is none, is cut off, is not what its ending says
    or has more than ``MAX_PIXELS``.
    """
    path = os.fspath(path)
    try:
        if os.path.isfile(path) and os.path.getsize(path) == 0:
            raise ImportingError(tr("is empty"), do=tr("copy it from the camera again"))
        refuse_what_is_no_file(path)
        ending = os.path.splitext(path)[1].lower()
        if ending not in _KIND_OF:
            what = tr("a file ending in {ending} is no photo that is read", ending=ending or tr("nothing"))
            raise ImportingError(what, do=tr("choose one ending in {endings}", endings=", ".join(_KIND_OF)))
        data = _bytes_of(path)
        kind = kind_of(data)
        if kind is not None and kind is not _KIND_OF[ending]:
            what = tr("its name ends in {ending}, but it is a {kind}", ending=ending, kind=kind)
            right = next(each for each, kind_ in _KIND_OF.items() if kind_ is kind)
            raise ImportingError(what, do=tr("rename it so that it ends in {ending}", ending=right))
        return data, checked_header(data)
    except WedgewrightError as error:
        name = f"“{shown_name(path)}”"
        raise ImportingError(
            error.what, where=f"{name}, {error.where}" if error.where else name, do=error.do
        ) from error


def checked_header(data: bytes) -> PhotoHeader:
    """What the photo ``data`` says of itself. Raises ``PhotoError``, also for more than ``MAX_PIXELS``."""
    header = read_header(data)
    _refuse_too_many(header.pixels)
    return header


def _refuse_too_many(pixels: int) -> None:
    if pixels > MAX_PIXELS:
        raise PhotoError(
            tr("the photo has {count} million pixels", count=-(-pixels // 1_000_000)),
            do=tr("make it smaller: {limit} million are read", limit=MAX_PIXELS // 1_000_000),
        )


def _bytes_of(path: str) -> bytes:
    try:
        with open(path, "rb") as file:
            data = file.read(_START)
            _refuse_too_many(pixels_by(data))
            data += file.read(MAX_BYTES + 1 - len(data))
    except OSError as error:
        reason = error.strerror or str(error)
        raise ImportingError(tr("cannot be read ({reason})", reason=reason)) from None
    if len(data) > MAX_BYTES:
        raise ImportingError(tr("is larger than any photo that is read"), do=tr("save it as a JPEG first"))
    return data
