"""The spaces between blocks: which outline is the frame, which are blocks; how what they leave is drawn, and
what is said of it. No Qt.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import cycle, product
from typing import Final

import shapely
from shapely import Polygon, box

from app.plan.model import PlanPatch
from app.sketch.display_list import (
    Area,
    DisplayList,
    Item,
    Label,
    Layer,
    LayerName,
    Line,
    rings_of,
)
from app.sketch.leftover_patches import leftover_notes, leftover_patches
from app.sketch.palette import Hatch, Role, TextSize
from app.sketch.translate import tr, tr_n
from geometry import Patch, Settings
from geometry.leftover import Area as BlockArea
from geometry.leftover import LeftoverError, Leftovers, leftover, rows_of_blocks
from geometry.types import Point, Points
from geometry.units import LengthStyle, format_length

MAX_BLOCKS: Final = 10_000
"""More than any quilt top has."""
MOST_A_WAY: Final = 200
"""Rows, or columns."""
_ALL_NUMBERED: Final = 400
"""Spaces up to which each has its number in the picture; of more only the first of its kind."""

_PLACED: Final = 0.75
"""Share of their own area that outlines cover where they were placed beside each other: a slip here or there
takes less away. Patches that were each drawn for themselves lie in a heap, and cover much less.
"""

Outline = tuple[str, Patch]
"""Name and patch."""

_LOOKS: Final = (
    (Role.STITCH, Hatch.ONE_WAY),
    (Role.NOTE, Hatch.STIPPLE),
    (Role.ANCHOR, Hatch.CROSS),
    (Role.CAUTION, Hatch.ONE_WAY),
    (Role.STITCH, Hatch.STIPPLE),
    (Role.NOTE, Hatch.CROSS),
)
"""How kinds of spaces are told apart, beside their numbers."""


class Way(StrEnum):
    """How the blocks lie."""

    AS_DRAWN = "as-drawn"
    ROWS = "rows"


@dataclass(slots=True)
class BlocksForm:
    """What is chosen. Numbers are those of the outlines it is read with."""

    way: Way = Way.AS_DRAWN
    frame: int = 0
    left_out: set[int] = field(default_factory=set)
    """Outlines that are neither frame nor blocks."""
    block: int | None = None
    """The one that is placed again and again; None: all of them together."""
    rows: int = 3
    columns: int = 4
    step: Point | None = None
    """mm, across and down; None: side by side."""
    size: Point | None = None
    """mm, of the frame around rows; None: as large as they need."""
    turns: str = ""
    _suited: tuple[Outline, ...] = ()

    def suit(self, outlines: Sequence[Outline]) -> None:
        """Choose anew where there are other outlines than the last time.

        The largest is the frame. Where the others do not lie in it as blocks do, one block is placed in rows:
        all outlines together where they are its parts, side by side, else the first of them.
        """
        if self._suited == tuple(outlines):
            return
        self._suited = tuple(outlines)
        polygons = [patch.polygon for _, patch in outlines]
        self.frame = max(range(len(polygons)), key=lambda number: polygons[number].area, default=0)
        others = [number for number in range(len(polygons)) if number != self.frame]
        self.left_out = set()
        self.step = self.size = None
        placed = others and _lie_apart([polygons[number] for number in others], polygons[self.frame])
        self.way = Way.AS_DRAWN if placed else Way.ROWS
        self.block = None if others and _lie_apart(polygons) else next(iter(others), 0)

    def block_size(self, outlines: Sequence[Outline]) -> Point:
        """mm: width and height of the block."""
        left, top, right, bottom = shapely.total_bounds(self._block(outlines)).tolist()
        return (right - left, bottom - top)

    def step_of(self, outlines: Sequence[Outline]) -> Point:
        """mm: from one block to the next, across and down."""
        return self.step or self.block_size(outlines)

    def size_of(self, outlines: Sequence[Outline]) -> Point:
        """mm: width and height of the frame around rows."""
        across, down = self.step_of(outlines)
        return self.size or (self.columns * across, self.rows * down)

    def read(self, outlines: Sequence[Outline]) -> BlocksAsked:
        """What is to be worked out. Raises ``WedgewrightError`` where that cannot be."""
        if not outlines:
            raise LeftoverError(tr("there are no outlines yet"), do=tr("draw patches, or take a file"))
        if self.way is Way.AS_DRAWN:
            blocks = [
                outline
                for number, outline in enumerate(outlines)
                if number != self.frame and number not in self.left_out
            ]
            if not blocks:
                raise LeftoverError(tr("no block is ticked"), do=tr("tick one or more"))
            names, polygons = zip(*((name, patch.polygon) for name, patch in blocks), strict=True)
            return BlocksAsked(outlines[self.frame][1].polygon, polygons, block_names(names))
        if self.rows * self.columns * len(self._block(outlines)) > MAX_BLOCKS:
            raise LeftoverError(
                tr("more than {most} blocks", most=MAX_BLOCKS), do=tr("give fewer rows and columns")
            )
        step, (width, height) = self.step_of(outlines), self.size_of(outlines)
        if min(*step, width, height) <= 0:
            raise LeftoverError(tr("a step or a frame of 0 is none"), do=tr("give lengths more than 0"))
        grid = Rows(self.rows, self.columns, step, (width, height), read_turns(self.turns))
        return BlocksAsked(box(0, 0, width, height), tuple(self._block(outlines)), grid.names(), grid)

    def _block(self, outlines: Sequence[Outline]) -> list[Polygon]:
        chosen = outlines if self.block is None else outlines[self.block : self.block + 1]
        return [patch.polygon for _, patch in chosen]


@dataclass(frozen=True, slots=True)
class Rows:
    """A block placed again and again."""

    rows: int
    columns: int
    step: Point
    size: Point
    turns: tuple[tuple[float, ...], ...]
    """rad."""

    def names(self) -> tuple[str, ...]:
        """What each place is called, as ``placed_rows`` gives them."""
        places = product(range(1, self.rows + 1), range(1, self.columns + 1))
        return tuple(tr("row {row} column {column}", row=row, column=column) for row, column in places)


@dataclass(frozen=True, slots=True, eq=False)
class BlocksAsked:
    """A frame and what lies in it."""

    frame: Polygon
    blocks: tuple[Polygon, ...]
    """As they lie; with ``rows``, the parts of the one block."""
    names: tuple[str, ...]
    """What sentences call the blocks; with ``rows``, their places."""
    rows: Rows | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Spaces:
    """What the blocks leave."""

    frame: Polygon
    blocks: tuple[BlockArea, ...]
    names: tuple[str, ...]
    """Of the blocks."""
    found: Leftovers
    patches: tuple[PlanPatch, ...]

    @property
    def count(self) -> int:
        """Of spaces, repeats counted."""
        return sum(len(space.places) for space in self.found.spaces)


def spaces_of(asked: BlocksAsked, settings: Settings) -> Spaces:
    """The spaces, and a patch for each kind of them. Raises ``WedgewrightError``. Touches nothing shared."""
    frame = _copy(asked.frame)
    blocks: tuple[BlockArea, ...] = tuple(_copy(block) for block in asked.blocks)
    if asked.rows is not None:
        blocks = placed_rows(shapely.union_all(blocks), asked.rows)
    found = leftover(frame, blocks)
    return Spaces(frame, blocks, asked.names, found, leftover_patches(found, settings))


def placed_rows(block: BlockArea, rows: Rows) -> tuple[BlockArea, ...]:
    """The block in each place, the whole in the middle of its frame."""
    first = tuple(
        (whole - (count - 1) * step) / 2
        for whole, count, step in zip(rows.size, (rows.columns, rows.rows), rows.step, strict=True)
    )
    return rows_of_blocks(
        block, rows.rows, rows.columns, rows.step, first=(first[0], first[1]), turns=rows.turns
    )


def block_names(names: Iterable[str]) -> tuple[str, ...]:
    """What sentences call blocks that have names of their own."""
    return tuple(f"“{name}”" for name in names)


def read_turns(text: str) -> tuple[tuple[float, ...], ...]:
    """``0 90, 180 270``: degrees clockwise, row after row; nothing is no turn. Raises ``LeftoverError``."""
    if not text.strip():
        return ((0.0,),)
    try:
        rows = tuple(tuple(math.radians(float(word)) for word in row.split()) for row in text.split(","))
    except ValueError:
        rows = ()
    if not rows or not all(rows) or not all(math.isfinite(turn) for row in rows for turn in row):
        raise LeftoverError(
            tr("“{typed}” is no list of turns", typed=text),
            do=tr("write degrees, rows parted by commas: 0 90, 180 270"),
        )
    return rows


def _lie_apart(outlines: Sequence[Polygon], frame: Polygon | None = None) -> bool:
    """Whether ``outlines`` lie beside each other, and in ``frame`` if there is one, but for a slip."""
    covered: BlockArea = shapely.union_all(outlines)
    if frame is not None:
        covered = shapely.intersection(covered, frame)
    return bool(covered.area >= _PLACED * sum(outline.area for outline in outlines))


def _copy(polygon: Polygon) -> Polygon:
    """One of its own: prepared geometry is not for two threads at once."""
    copied: Polygon = shapely.transform(polygon, lambda points: points)
    return copied


# --- words ------------------------------------------------------------------------------------------


def space_words(spaces: Spaces, number: int, style: LengthStyle) -> str:
    """What a list says of kind ``number``, from 0."""
    patch, space = spaces.patches[number], spaces.found.spaces[number]
    left, top, right, bottom = space.polygon.bounds
    # A box around it, to know it by: no finer than a tape shows.
    wide, high = format_length(right - left, style), format_length(bottom - top, style)
    count, mirrored = len(space.places), sum(place.mirrored for place in space.places)
    times = tr_n("once", "{count} times", count)
    words = tr("{name}: {wide} × {high}, {times}", name=patch.name, wide=wide, high=high, times=times)
    if mirrored:
        return tr("{words}, {mirrored} of them mirrored", words=words, mirrored=mirrored)
    return words


def spaces_said(spaces: Spaces) -> tuple[str, ...]:
    """How many there are, and what is wrong with the blocks."""
    kinds = len(spaces.found.spaces)
    blocks = tr_n("{count} block leaves", "{count} blocks leave", len(spaces.blocks))
    total = tr_n("{count} space", "{count} spaces", spaces.count)
    of = tr_n("{count} kind", "{count} kinds", kinds)
    first = tr("{blocks} {total} of {kinds}.", blocks=blocks, total=total, kinds=of)
    notes = (note[0].upper() + note[1:] for note in leftover_notes(spaces.found, spaces.names))
    return (first, *(note if note.endswith("…") else f"{note}." for note in notes))


# --- the picture ------------------------------------------------------------------------------------


def spaces_picture(spaces: Spaces) -> DisplayList:
    """Each kind of space with its number and its hatch; blocks that lie wrong in heavy outline."""
    areas: list[Item] = []
    labels: list[Item] = []
    seams: list[Item] = []
    numbered = spaces.count <= _ALL_NUMBERED
    for number, (space, (role, hatch)) in enumerate(zip(spaces.found.spaces, cycle(_LOOKS)), start=1):
        rings, middle = rings_of(space.polygon), _middle(space.polygon)
        for k, place in enumerate(space.places):
            moved = tuple(place(ring) for ring in rings)
            areas.append(Area(role, moved, hatch))
            seams += [Line(Role.MARGIN_EDGE, ring, closed=True) for ring in moved]
            if numbered or not k:
                x, y = place(middle)[0].tolist()
                labels.append(Label(Role.TEXT, (x, y), str(number), TextSize.BASE, must=not k))
    blocks: list[Item] = []
    outlines: list[Item] = []
    for block in spaces.blocks:
        for part in _parts(block):
            blocks.append(Area(Role.FRAME, rings_of(part), Hatch.FILL))
            outlines += [Line(Role.SEAM, ring, closed=True) for ring in rings_of(part)]
    wrong = [ring for part in _parts(_misplaced(spaces)) for ring in rings_of(part)]
    faults: list[Item] = [Area(Role.PROBLEM, tuple(wrong), Hatch.CROSS)] if wrong else []
    thin = [ring for sliver in spaces.found.slivers for ring in rings_of(sliver)]
    faults += [Line(Role.PROBLEM, ring, closed=True) for ring in (*wrong, *thin)]
    layers = (
        Layer(LayerName.OUT_OF_SIGHT, tuple(areas)),
        Layer(LayerName.STITCHABLE, tuple(seams)),
        Layer(LayerName.CLOTH, tuple(blocks)),
        Layer(LayerName.WEDGES, tuple(outlines)),
        Layer(LayerName.SEAM, tuple(Line(Role.SEAM, ring, closed=True) for ring in rings_of(spaces.frame))),
        Layer(LayerName.FINDINGS, tuple(faults)),
        Layer(LayerName.NUMBERS, tuple(labels)),
    )
    bounds = shapely.total_bounds([spaces.frame, *spaces.blocks]).tolist()
    return DisplayList(tuple(layer for layer in layers if layer.items), tuple(bounds))


def asked_picture(asked: BlocksAsked) -> DisplayList:
    """Frame and blocks, while what they leave is not known."""
    blocks = asked.blocks
    if asked.rows is not None:
        blocks = tuple(
            part for block in placed_rows(shapely.union_all(blocks), asked.rows) for part in _parts(block)
        )
    lines = [Line(Role.FAINT, ring, closed=True) for block in blocks for ring in rings_of(block)]
    frame = [Line(Role.SEAM, ring, closed=True) for ring in rings_of(asked.frame)]
    layers = (Layer(LayerName.WEDGES, tuple(lines)), Layer(LayerName.SEAM, tuple(frame)))
    bounds = shapely.total_bounds([asked.frame, *blocks]).tolist()
    return DisplayList(layers, tuple(bounds))


def _parts(area: BlockArea) -> Iterable[Polygon]:
    return (part for part in shapely.get_parts(area).tolist() if part.geom_type == "Polygon")


def _misplaced(spaces: Spaces) -> BlockArea:
    """Where blocks lie over each other, or out of the frame."""
    blocks, found = spaces.blocks, spaces.found
    shared = [shapely.intersection(blocks[one], blocks[other]) for one, other, _ in found.overlaps]
    beyond = [shapely.difference(blocks[number], spaces.frame) for number in found.outside]
    lines: BlockArea = shapely.union_all([each for each in (*shared, *beyond) if each.area > 0])
    return lines


def _middle(polygon: Polygon) -> Points:
    """(1, 2) mm: where there is most room for a number."""
    circle = shapely.maximum_inscribed_circle(polygon, tolerance=max(polygon.length / 200, 1e-3))
    middle: Points = shapely.get_coordinates(circle)[:1]
    return middle
