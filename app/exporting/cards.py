"""The one door to what is printed beside the template: cards and sheets to read from, not to size."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import accumulate
from pathlib import Path
from typing import Final

from PySide6.QtCore import QBuffer, QIODevice
from PySide6.QtGui import QColor, QImage, QPageLayout, QPainter

from app.exporting.marking_pages import MarkingPages
from app.exporting.page import RESOLUTION
from app.exporting.paged import Paged, as_pdf
from app.exporting.plan_pages import PlanPages
from app.exporting.qt import home_paper, letters_missing, need_application
from app.exporting.sheets import Paper, paper_named
from app.exporting.stitching_pages import StitchingPages
from app.exporting.template import ExportError, NamedFit, Progress
from app.exporting.try_sheet import TrySheets
from app.exporting.words import short_name
from app.plan.atomic import atomic_write
from app.sketch.palette import PAPER, Role
from geometry.fit import Fit
from geometry.units import MM_PER_INCH, LengthStyle

_PICTURE_RESOLUTION: Final = 300
"""Dots per inch of a PNG."""


class CardKind(StrEnum):
    """What is printed beside the template."""

    MARKING = "marking"
    """Every mark's distances, for marking with a ruler alone; for each patch."""
    STITCHING = "stitching"
    """The order of the wedges and how to stitch them; for each patch."""
    PLAN = "plan"
    """All patches together, with totals."""
    TRIES = "tries"
    """The tries of each patch that has some."""


@dataclass(frozen=True, slots=True, eq=False)
class CardPatch:
    """One patch of the plan, as cards show it."""

    name: str
    fit: Fit
    repeats: int = 1
    tries: tuple[NamedFit, ...] = ()
    """Only asked for by ``CardKind.TRIES``."""


@dataclass(frozen=True, slots=True, eq=False)
class CardJob:
    """Pages that are ready to be drawn; a ``Paged``."""

    title: str
    names: tuple[str, ...]
    """All that are written on the pages."""
    _parts: tuple[Paged, ...]
    _ends: tuple[int, ...]
    """Number of pages up to the end of each part."""

    @staticmethod
    def of(
        patches: Sequence[CardPatch],
        kind: CardKind | str,
        paper: Paper | str | None = None,
        style: LengthStyle = LengthStyle.EIGHTHS,
        title: str = "",
        progress: Progress | None = None,
    ) -> CardJob:
        """``paper`` None is what the user's country prints on; ``title`` is the plan's. ``progress`` is
        called after each patch, and what it raises ends the work.

        Raises ``ExportError`` where there is nothing to print, and ``PaperError``.
        """
        if not patches:
            raise ExportError("there is no patch to print", do="choose at least one")
        need_application()
        paper = paper_named(paper) if isinstance(paper, str) else paper or home_paper()
        parts = tuple(_parts(patches, CardKind(kind), paper, style, title, progress))
        of_plan = [title] if title else [short_name(each.name) for each in patches]
        names = (
            *([title] if kind == CardKind.PLAN else []),
            *(name for each in patches for name in (each.name, *(kept for kept, _ in each.tries))),
        )
        return CardJob(", ".join(of_plan), names, parts, tuple(accumulate(part.count for part in parts)))

    @property
    def count(self) -> int:
        """Of pages."""
        return self._ends[-1]

    def page_layout(self, number: int) -> QPageLayout:
        """Paper and orientation of page ``number``, from 0."""
        part, page = self._at(number)
        return part.page_layout(page)

    def draw(self, painter: QPainter, number: int) -> None:
        """Draw page ``number``, from 0; see ``Paged``."""
        part, page = self._at(number)
        part.draw(painter, page)

    def _at(self, number: int) -> tuple[Paged, int]:
        which = next(at for at, end in enumerate(self._ends) if number < end)
        return self._parts[which], number - (self._ends[which] - self._parts[which].count)


def _parts(
    patches: Sequence[CardPatch],
    kind: CardKind,
    paper: Paper,
    style: LengthStyle,
    title: str,
    progress: Progress | None,
) -> Iterator[Paged]:
    if kind is CardKind.PLAN:
        rows = tuple((each.name, each.fit, each.repeats) for each in patches)
        yield PlanPages(title, rows, paper, style)
        return
    if kind is CardKind.TRIES:
        patches = [each for each in patches if each.tries]
        if not patches:
            raise ExportError("no patch has a try", do="keep one first")
    for number, each in enumerate(patches, start=1):
        match kind:
            case CardKind.MARKING:
                yield MarkingPages.of(each.name, each.fit, paper, style)
            case CardKind.STITCHING:
                yield StitchingPages.of(each.name, each.fit, each.repeats, paper, style)
            case CardKind.TRIES:
                yield TrySheets.of(each.name, each.tries, paper, style)
        if progress:
            progress(number, len(patches))


def write_card(
    path: Path,
    patches: Sequence[CardPatch],
    *,
    kind: CardKind | str,
    paper: Paper | str | None = None,
    style: LengthStyle = LengthStyle.EIGHTHS,
    title: str = "",
    progress: Progress | None = None,
) -> tuple[str, ...]:
    """Write the card as the ending of ``path`` says: .pdf, or .png where it is one page.

    Arguments as of ``CardJob.of``; ``progress`` is called with 0 after each patch that is made ready, then
    after each page, and what it raises ends the work.
    The file is written whole or not at all. Returns what is to be said of it (``qt.letters_missing``).
    Raises ``ExportError``, ``PaperError``, and ``WriteError``.
    """
    path = Path(path)
    ending = path.suffix.lower()
    if ending not in {".pdf", ".png"}:
        what = f"{ending} files cannot be written" if ending else "the name has no ending"
        raise ExportError(what, where=f"“{path.name}”", do="end the name in .pdf or .png")

    def ready(done: int, of: int) -> None:
        if progress:
            progress(0, of)

    job = CardJob.of(patches, kind, paper, style, title, ready)
    if ending == ".pdf":
        data = as_pdf(job, job.title, progress)
    elif job.count > 1:
        what = f"a picture holds one page, and this takes {job.count}"
        raise ExportError(what, where=f"“{path.name}”", do="end the name in .pdf, or choose one patch")
    else:
        data = _as_png(job)
    atomic_write(path, data)
    return letters_missing(job.names)


def _as_png(job: CardJob) -> bytes:
    """The bytes of a picture of the only page."""
    scale = _PICTURE_RESOLUTION / RESOLUTION
    size = job.page_layout(0).fullRectPixels(_PICTURE_RESOLUTION).size()
    image = QImage(size, QImage.Format.Format_RGB32)
    image.fill(QColor(PAPER[Role.CLOTH]))
    image.setDotsPerMeterX(round(_PICTURE_RESOLUTION / MM_PER_INCH * 1000))
    image.setDotsPerMeterY(round(_PICTURE_RESOLUTION / MM_PER_INCH * 1000))
    image.setText("Title", job.title)
    image.setText("Software", "Wedgewright")
    with QPainter(image) as painter:
        painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
        painter.scale(scale, scale)
        job.draw(painter, 0)
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "PNG")  # type: ignore[call-overload]  # the stub wants bytes, Qt takes str
    return bytes(buffer.data().data())
