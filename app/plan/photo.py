"""The photo that a plan holds, and what is known of the cloth in it."""

from __future__ import annotations

import hashlib
import math
from functools import cached_property
from typing import Final

import msgspec

from app.plan.photo_header import PhotoError, PhotoHeader, PhotoKind, read_header
from geometry.rectify import Rectified, rectify
from geometry.tolerances import MAX_SIZE
from geometry.types import Point

LONGEST_SIDE: Final = 2400
"""Pixels of a photo in a plan: the screen, and 10 in on paper, show no more."""
MAX_PHOTO_BYTES: Final = 8 * 1024 * 1024
"""Of a photo in a plan: many times what so many pixels usually take as a JPEG."""
CORNERS: Final = 4
MAX_OTHERS: Final = 22
"""Places beside the corners: with them as many as there are letters to name them."""


class KnownPlace(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A place in the photo, and where it lies on the cloth."""

    at: Point
    """Pixels of the photo, from its upper left corner."""
    place: Point | None = None
    """mm across and down from corner A; None until it is told."""


class Photo(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True, dict=True):
    """A photo of the cloth. Raises ``PhotoError`` where it cannot be; nothing is decoded for that."""

    data: bytes
    """A JPEG, upright as it is stored, of at most ``LONGEST_SIDE`` pixels. The largest part of a plan: what
    keeps several plans keeps it once, by its ``key``."""
    corners: tuple[Point, ...] = ()
    """Pixels of the photo: corners A, B, C, D of a block or a sheet of paper, as far as they are shown."""
    size: Point | None = None
    """mm from A to B and from A to D; None until it is told."""
    others: tuple[KnownPlace, ...] = ()

    def __post_init__(self) -> None:
        where = "the photo"
        if len(self.data) > MAX_PHOTO_BYTES:
            raise PhotoError("larger than any photo in a plan", where=where, do="open another copy")
        try:
            header = read_header(self.data)
        except PhotoError as error:
            raise PhotoError(error.what, where=where, do="open another copy of the plan") from error
        if header.kind is not PhotoKind.JPEG or max(header.width, header.height) > LONGEST_SIDE:
            raise PhotoError(
                f"no JPEG of at most {LONGEST_SIDE} pixels", where=where, do="open another copy of the plan"
            )
        self.__dict__["header"] = header
        if len(self.corners) > CORNERS or len(self.others) > MAX_OTHERS:
            raise PhotoError("more known places than there can be", where=where, do="leave some out")
        if self.others and len(self.corners) < CORNERS:
            raise PhotoError("places beside corners that are not shown", where=where, do="leave them out")
        for x, y in (*self.corners, *(other.at for other in self.others)):
            if not (0 <= x <= header.width and 0 <= y <= header.height):  # NaN too
                raise PhotoError(f"a place at {x:g}, {y:g} lies outside", where=where, do="move it into it")
        for place in (self.size, *(other.place for other in self.others)):
            if place is not None and not all(math.isfinite(v) and abs(v) <= MAX_SIZE for v in place):
                raise PhotoError("a place is no pair of lengths", where=where, do="give mm, up to 10 m")
        if self.size is not None and min(self.size) <= 0:
            raise PhotoError("a block without a size", where=where, do="give lengths of more than 0")

    @property
    def _head(self) -> PhotoHeader:
        header: PhotoHeader = self.__dict__["header"]
        return header

    @property
    def width(self) -> int:
        """Pixels."""
        return self._head.width

    @property
    def height(self) -> int:
        """Pixels."""
        return self._head.height

    @cached_property
    def key(self) -> str:
        """SHA-256 of ``data``: the same for the same picture, whatever is known of it."""
        return hashlib.sha256(self.data).hexdigest()

    @property
    def spots(self) -> tuple[Point, ...]:
        """Pixels: all places that are shown, the corners first."""
        return (*self.corners, *(other.at for other in self.others))

    @property
    def is_told(self) -> bool:
        """Whether enough is known to square the photo up."""
        return len(self.corners) == CORNERS and self.size is not None

    @cached_property
    def known(self) -> tuple[int, ...]:
        """Which of ``spots`` have a known place, once ``is_told``."""
        told = (n for n, other in enumerate(self.others, CORNERS) if other.place is not None)
        return (*range(CORNERS), *told) if self.is_told else ()

    @cached_property
    def squared(self) -> Rectified | None:
        """How it lies on the cloth, corner A at 0, 0; its misfits are of ``known``. None while too little is
        known. Raises ``RectifyError`` where no camera sees the places so.
        """
        if self.size is None or len(self.corners) < CORNERS:
            return None
        across, down = self.size
        places = [(0.0, 0.0), (across, 0.0), (across, down), (0.0, down)]
        places += [other.place for other in self.others if other.place is not None]
        return rectify([self.spots[n] for n in self.known], places)
