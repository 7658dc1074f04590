"""The sheets of one print: which patches lie where on each, and drawing it for PDF, printer and preview."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final, Protocol, TypeAlias

import numpy as np
import shapely
from PySide6.QtCore import QMarginsF, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter
from shapely.geometry.base import BaseGeometry

from app.exporting.clip import Window
from app.exporting.label_places import PlacedLabel
from app.exporting.options import STANDARD, TemplateOptions
from app.exporting.packing import PackedBox, packed
from app.exporting.page import CAPTION, DOTS_PER_MM, LOOK, OneOfSeveral, Part, draw_page
from app.exporting.painter import place_labels
from app.exporting.placement import Placement
from app.exporting.qt import home_paper, need_application
from app.exporting.sheets import Paper, Room, Sheet, Sheets, rooms, tile
from app.exporting.template import ExportError, NamedFit, Progress, check_copies, template_drawing
from app.exporting.words import page_words, shared_words, short_name
from app.sketch.display_list import Area, DisplayList, Line, Symbol
from geometry.fit import Fit
from geometry.types import Point, Points
from geometry.units import LengthStyle

_BESIDE: Final = 4.0
"""mm: clear on each side of a patch that shares its sheet, for the letters at its seam."""
_LEAST_WIDTH: Final = 30.0
"""mm: of the room of a patch that shares its sheet, so that its name can be read."""


@dataclass(frozen=True, slots=True, eq=False)
class PatchOnSheet:
    """A patch that lies on a sheet, whole or in part."""

    patch: int
    """Its number among the job's fits, from 0."""
    corners: Points
    """(4, 2) mm, the patch's own: what the sheet's drawing room covers, from the room's upper left corner on,
    clockwise on the sheet (and so against the clock in the patch where the template is mirrored)."""


@dataclass(frozen=True, slots=True, eq=False)
class PrintedSheet:
    """One page."""

    patches: tuple[PatchOnSheet, ...]
    row: int = 1
    column: int = 1
    """From the upper left, where one patch takes several sheets."""
    copy: int = 1
    """Which of the copies of its patch; 1 too where several patches share the sheet."""


class PrintJob:
    """All sheets of a template, ready to be drawn one by one, from 0; a ``Paged``.

    Drawn in dots of ``page.RESOLUTION`` to the inch from the paper's upper left corner; a painter on a device
    of another resolution is scaled before.
    """

    def __init__(self, title: str, paper: Paper, pages: Sequence[_Page]) -> None:
        self.title = title
        self._paper = paper
        self._pages = pages
        self.pages: Final = tuple(page.sheet_of_job() for page in pages)

    @staticmethod
    def of(
        fits: Sequence[NamedFit],
        options: TemplateOptions = STANDARD,
        style: LengthStyle = LengthStyle.EIGHTHS,
        progress: Progress | None = None,
    ) -> PrintJob:
        """``progress`` is called after each patch and within; what it raises ends the work.

        Raises ``ExportError`` where there is nothing to print or no copy of it, and ``PaperError``.
        """
        if not fits:
            raise ExportError("there is no patch to print", do="choose at least one")
        check_copies(options)
        need_application()
        paper = options.paper or home_paper()
        pages = _pages(fits, options, paper, style, progress)
        return PrintJob(", ".join(short_name(name) for name, _ in fits), paper, pages)

    @property
    def count(self) -> int:
        """Of pages."""
        return len(self.pages)

    def page_layout(self, number: int) -> QPageLayout:
        """Of page ``number``, without margins of its own: Qt would shift everything by them."""
        width, height = self._pages[number].size
        paper = self._paper
        return QPageLayout(
            QPageSize(QSizeF(paper.width, paper.height), QPageSize.Unit.Millimeter, paper.name),
            QPageLayout.Orientation.Landscape if width > height else QPageLayout.Orientation.Portrait,
            QMarginsF(0, 0, 0, 0),
        )

    def draw(self, painter: QPainter, number: int) -> None:
        """Draw page ``number``; see ``Paged``."""
        self._pages[number].draw(painter)


_Which: TypeAlias = tuple[int, int]
"""(number of a patch from 0, copy from 1)."""


class _Page(Protocol):
    """A page of the job."""

    @property
    def size(self) -> Point:
        """mm: width and height of the paper as it is turned."""

    def sheet_of_job(self) -> PrintedSheet: ...

    def draw(self, painter: QPainter) -> None: ...


def _pages(
    fits: Sequence[NamedFit],
    options: TemplateOptions,
    paper: Paper,
    style: LengthStyle,
    progress: Progress | None,
) -> list[_Page]:
    """In the order of ``fits``; where several share a sheet, it comes in the place of its first."""
    copies = range(1, options.copies + 1)
    layouts = rooms(paper, options.margin)
    shared = (
        _shared(fits, options, layouts, style, _alive(progress, 0, len(fits))) if options.together else []
    )
    pages: list[tuple[_Which, _Page]] = [(min(spot.which for spot in page.spots), page) for page in shared]
    done = {spot.which for page in shared for spot in page.spots}
    first_mark = 1
    for number, (name, fit) in enumerate(fits):
        alone = [copy for copy in copies if (number, copy) not in done]
        if alone:
            alive = _alive(progress, number, len(fits))
            whole = _Whole.of(number, name, fit, options, paper, style, first_mark, alive)
            first_mark += sum(len(sheet.marks) for sheet in whole.sheets.sheets) // 2
            pages += [((number, copy), page) for copy in alone for page in whole.pages(copy)]
        if progress:
            progress(number + 1, len(fits))
    return [page for _, page in sorted(pages, key=lambda each: each[0])]


def _alive(progress: Progress | None, done: int, total: int) -> Callable[[], None] | None:
    return None if progress is None else partial(progress, done, total)


# --- a patch that has its sheets alone ----------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Whole:
    """One patch on sheets of its own."""

    number: int
    name: str
    fit: Fit
    options: TemplateOptions
    style: LengthStyle
    placement: Placement
    drawing: DisplayList
    labels: tuple[PlacedLabel, ...]
    sheets: Sheets
    bare: frozenset[Sheet]
    """Those on which nothing is drawn."""

    @staticmethod
    def of(
        number: int,
        name: str,
        fit: Fit,
        options: TemplateOptions,
        paper: Paper,
        style: LengthStyle,
        first_mark: int,
        alive: Callable[[], None] | None,
    ) -> _Whole:
        own = template_drawing(fit, options, style)
        placement = Placement.of(own.bounds, options.mirrored)
        drawing = placement.drawing(own)
        placed = place_labels(drawing, DOTS_PER_MM, LOOK).labels
        drawn = _drawn(drawing, placed)
        labels = [shapely.box(*_mm(each.box(_dots(each.label.at)))) for each in placed]
        busy = shapely.GeometryCollection([*drawn.geoms, *labels])
        sheets = tile(drawn, paper, margin=options.margin, busy=busy, first_mark=first_mark, alive=alive)
        bare = frozenset(
            each for each in sheets.sheets if len(sheets.sheets) > 1 and not _holds(drawn, each.window)
        )
        return _Whole(number, name, fit, options, style, placement, drawing, placed, sheets, bare)

    def pages(self, copy: int) -> Iterator[_PageOfOne]:
        for sheet in self.sheets.sheets:
            yield _PageOfOne(self, sheet, copy)


@dataclass(frozen=True, slots=True, eq=False)
class _PageOfOne:
    """A page with one patch, or a part of it."""

    whole: _Whole
    sheet: Sheet
    copy: int

    @property
    def size(self) -> Point:
        return (self.whole.sheets.width, self.whole.sheets.height)

    def sheet_of_job(self) -> PrintedSheet:
        corners = self.whole.placement.back(_corners(self.sheet.window))
        on_sheet = PatchOnSheet(self.whole.number, corners)
        return PrintedSheet((on_sheet,), self.sheet.row, self.sheet.column, self.copy)

    def draw(self, painter: QPainter) -> None:
        whole, sheet = self.whole, self.sheet
        words = page_words(
            whole.name,
            whole.fit,
            whole.sheets,
            sheet,
            whole.style,
            mirrored=whole.options.mirrored,
            copy=(self.copy, whole.options.copies),
            bare=sheet in whole.bare,
        )
        patch = whole.fit.patch
        rings = [whole.placement.points(ring) for ring in (patch.outline, *patch.holes)]
        part = Part(whole.drawing, whole.labels, sheet.window, sheet.origin)
        draw_page(painter, whole.sheets.band, [part], words, OneOfSeveral(whole.sheets, sheet, rings))


def _drawn(drawing: DisplayList, labels: Sequence[PlacedLabel]) -> shapely.GeometryCollection:
    """All that is drawn; of symbols and letters the places that decide on which sheets they are. mm."""
    pieces: list[BaseGeometry] = []
    for item in drawing.items():
        match item:
            case Line():
                ends = np.concatenate([item.points, item.points[:1]]) if item.closed else item.points
                pieces.append(shapely.LineString(ends))
            case Area():
                pieces += [shapely.Polygon(item.rings[0], item.rings[1:]).buffer(0)]
            case Symbol():
                pieces.append(shapely.Point(item.at))
    pieces += [shapely.Point(each.label.at) for each in labels]
    return shapely.GeometryCollection(pieces)


def _holds(drawn: BaseGeometry, window: Window) -> bool:
    return bool(drawn.intersects(shapely.box(*window)))


def _dots(point: Point) -> Point:
    return (point[0] * DOTS_PER_MM, point[1] * DOTS_PER_MM)


def _mm(box: Window) -> Window:
    left, top, right, bottom = box
    return (left / DOTS_PER_MM, top / DOTS_PER_MM, right / DOTS_PER_MM, bottom / DOTS_PER_MM)


def _corners(window: Window) -> Points:
    left, top, right, bottom = window
    return np.array([(left, top), (right, top), (right, bottom), (left, bottom)])


# --- patches that share a sheet ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Spot:
    """A patch in its place on a sheet that it shares."""

    which: _Which
    name: str
    fit: Fit
    placement: Placement
    """To mm of the page."""
    box: Window
    """mm, page: the room that it has there, its name included."""


@dataclass(frozen=True, eq=False)
class _SharedPage:
    """A page with several patches, each whole."""

    room: Room
    spots: tuple[_Spot, ...]
    options: TemplateOptions
    style: LengthStyle

    @property
    def size(self) -> Point:
        return (self.room.width, self.room.height)

    def sheet_of_job(self) -> PrintedSheet:
        corners = _corners(self.room.region)
        return PrintedSheet(
            tuple(PatchOnSheet(spot.which[0], spot.placement.back(corners)) for spot in self.spots)
        )

    def draw(self, painter: QPainter) -> None:
        parts = [self._part(spot) for spot in self.spots]
        words = shared_words([spot.name for spot in self.spots], mirrored=self.options.mirrored)
        draw_page(painter, self.room.band, parts, words)

    def _part(self, spot: _Spot) -> Part:
        drawing = spot.placement.drawing(template_drawing(spot.fit, self.options, self.style))
        left, top, right, bottom = spot.box
        within = (left, top + CAPTION, right, bottom)
        labels = place_labels(drawing, DOTS_PER_MM, LOOK, within=within).labels
        return Part(drawing, labels, spot.box, spot.box[:2], short_name(spot.name))


def _shared(
    fits: Sequence[NamedFit],
    options: TemplateOptions,
    layouts: Sequence[Room],
    style: LengthStyle,
    alive: Callable[[], None] | None,
) -> list[_SharedPage]:
    """The sheets that two or more share; one that would have a sheet alone has it without a border."""
    bounds = [fit.patch.polygon.bounds for _, fit in fits]
    sizes = [(_box_size(each, False), _box_size(each, True)) for each in bounds]
    copies = range(1, options.copies + 1)
    left = [(number, copy) for number in range(len(fits)) for copy in copies]
    pages = []
    # What no sheet laid out like the best one can hold may share sheets that are laid out otherwise.
    while left:
        ways = []
        for room in layouts:
            put = [each for each in left if _goes_in(sizes[each[0]], room)]
            sheets = packed([sizes[number] for number, _ in put], (room.across, room.down), alive)
            saved = len(put) - len(sheets)
            ways.append((saved, len(put), room, put, sheets))
        saved, _, room, put, sheets = max(ways, key=lambda way: way[:2])
        if not saved:
            break
        pages += [
            _shared_page([(put[box.number], box) for box in sheet], room, fits, options, style)
            for sheet in sheets
            if len(sheet) > 1
        ]
        gone = set(put)
        left = [each for each in left if each not in gone]
    return pages


def _box_size(bounds: Window, turned: bool) -> Point:
    """mm: what a patch with these bounds takes of a sheet that it shares."""
    left, top, right, bottom = bounds
    width, height = (bottom - top, right - left) if turned else (right - left, bottom - top)
    return (max(width, _LEAST_WIDTH) + 2 * _BESIDE, height + 2 * _BESIDE + CAPTION)


def _goes_in(sizes: tuple[Point, Point], room: Room) -> bool:
    return any(width <= room.across and height <= room.down for width, height in sizes)


def _shared_page(
    boxes: Sequence[tuple[_Which, PackedBox]],
    room: Room,
    fits: Sequence[NamedFit],
    options: TemplateOptions,
    style: LengthStyle,
) -> _SharedPage:
    spots = []
    for which, box in boxes:
        name, fit = fits[which[0]]
        bounds = fit.patch.polygon.bounds
        width, height = _box_size(bounds, box.turned)
        x, y = box.corner[0] + room.region[0], box.corner[1] + room.region[1]
        across = bounds[3] - bounds[1] if box.turned else bounds[2] - bounds[0]
        corner = (x + (width - across) / 2, y + CAPTION + _BESIDE)
        placement = Placement.of(bounds, options.mirrored, box.turned, corner)
        spots.append(_Spot(which, name, fit, placement, (x, y, x + width, y + height)))
    return _SharedPage(room, tuple(spots), options, style)
