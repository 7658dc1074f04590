"""Template -> PDF, vector and true size, on sheets of paper that are laid onto each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter, QPdfWriter
from shapely.geometry.base import BaseGeometry

from app.exporting.label_places import Placed
from app.exporting.options import TemplateKind
from app.exporting.page import DOTS_PER_MM, LOOK, RESOLUTION, draw_page
from app.exporting.painter import place_labels
from app.exporting.qt import home_paper, need_application
from app.exporting.sheets import Paper, Sheets, tile
from app.exporting.template import NamedFit, Progress, shown
from app.exporting.words import page_words, short_name
from app.sketch.display_list import DisplayList, Line, build
from geometry.fit import Fit
from geometry.types import Point
from geometry.units import LengthStyle


def template_pdf(
    fits: Sequence[NamedFit],
    paper: Paper | None = None,
    kind: TemplateKind = TemplateKind.BOTH,
    style: LengthStyle = LengthStyle.EIGHTHS,
    progress: Progress | None = None,
) -> bytes:
    """The bytes of the PDF: the sheets of one patch after those of another.

    ``paper`` None is what the user's country prints on. ``progress`` is called after each sheet; what it
    raises ends the work.
    """
    need_application()
    jobs = [_Job.of(name, fit, paper or home_paper(), kind, style) for name, fit in fits]
    pages = [(job, sheet) for job in jobs for sheet in job.sheets.sheets]
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(RESOLUTION)
    writer.setCreator("Wedgewright")
    writer.setTitle(", ".join(short_name(name) for name, _ in fits))
    painter = QPainter()
    try:
        for number, (job, sheet) in enumerate(pages, start=1):
            writer.setPageLayout(_page_layout(job.sheets))
            if number == 1:
                painter.begin(writer)
            else:
                writer.newPage()
            words = page_words(job.name, job.fit, job.sheets, sheet, style)
            rings = (job.fit.patch.outline, *job.fit.patch.holes)
            draw_page(painter, job.drawing, job.placed.labels, job.sheets, sheet, rings, words)
            if progress:
                progress(number, len(pages))
    finally:
        painter.end()
    return bytes(buffer.data().data())


@dataclass(frozen=True, slots=True, eq=False)
class _Job:
    """One patch, ready to be drawn."""

    name: str
    fit: Fit
    drawing: DisplayList
    placed: Placed
    sheets: Sheets

    @classmethod
    def of(cls, name: str, fit: Fit, paper: Paper, kind: TemplateKind, style: LengthStyle) -> _Job:
        drawing = build(fit, style=style, show=shown(kind))
        placed = place_labels(drawing, DOTS_PER_MM, LOOK)
        sheets = tile(fit.patch.polygon, paper, busy=_busy(drawing, placed))
        return cls(name, fit, drawing, placed, sheets)


def _busy(drawing: DisplayList, placed: Placed) -> BaseGeometry:
    """What is drawn, for register marks to keep away from. mm."""
    lines = [shapely.LineString(item.points) for item in drawing.items() if isinstance(item, Line)]
    labels = [
        shapely.box(*(value / DOTS_PER_MM for value in each.box(_dots(each.label.at))))
        for each in placed.labels
    ]
    return shapely.GeometryCollection([*lines, *labels])


def _dots(point: Point) -> Point:
    return (point[0] * DOTS_PER_MM, point[1] * DOTS_PER_MM)


def _page_layout(sheets: Sheets) -> QPageLayout:
    """Without margins of its own: Qt would shift everything by them."""
    paper = sheets.paper
    turned = sheets.width > sheets.height
    return QPageLayout(
        QPageSize(QSizeF(paper.width, paper.height), QPageSize.Unit.Millimeter, paper.name),
        QPageLayout.Orientation.Landscape if turned else QPageLayout.Orientation.Portrait,
        QMarginsF(0, 0, 0, 0),
    )
