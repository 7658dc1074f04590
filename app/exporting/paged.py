"""Pages that a PDF, a printer and its preview take one by one."""

from __future__ import annotations

from typing import Protocol

from PySide6.QtCore import QBuffer, QIODevice
from PySide6.QtGui import QPageLayout, QPainter, QPdfWriter

from app.exporting.page import RESOLUTION
from app.exporting.template import Progress


class Paged(Protocol):
    """Pages, counted from 0. They are drawn in dots of ``RESOLUTION`` to the inch from the paper's upper
    left corner; a painter on a device of another resolution is scaled before.
    """

    @property
    def count(self) -> int:
        """Of pages."""

    def page_layout(self, number: int) -> QPageLayout:
        """Paper and orientation of page ``number``, without margins."""

    def draw(self, painter: QPainter, number: int) -> None:
        """Draw page ``number``."""


def as_pdf(pages: Paged, title: str, progress: Progress | None = None) -> bytes:
    """The bytes of a PDF. ``progress`` is called after each page; what it raises ends the work."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(RESOLUTION)
    writer.setCreator("Wedgewright")
    writer.setTitle(title)
    painter = QPainter()
    try:
        for number in range(pages.count):
            writer.setPageLayout(pages.page_layout(number))
            if number == 0:
                painter.begin(writer)
            else:
                writer.newPage()
            pages.draw(painter, number)
            if progress:
                progress(number + 1, pages.count)
    finally:
        painter.end()
    return bytes(buffer.data().data())
