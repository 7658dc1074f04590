"""Where labels go so that none covers another. No Qt: the text's sizes come from whoever measures it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Final, TypeAlias

from app.exporting.symbols import symbol_size
from app.sketch.display_list import DisplayList, Label, Symbol
from app.sketch.palette import TEXT_POINTS
from geometry.types import Point

Box: TypeAlias = tuple[float, float, float, float]
"""(left, top, right, bottom)."""

Disc: TypeAlias = tuple[Point, float]
"""Its middle, mm, and its width, device units of the palette."""

_WAYS: Final = [(float(x), float(y)) for x in (1, 0, -1) for y in (0, 1, -1) if x or y]
_REACHES: Final = (1.0, 2.5, 4.0, 6.0)
"""How far from its place a label may move, in times of its own distance."""
CLEAR: Final = 0.4
"""Clear space about a label, of the height of its capitals, on both sides together."""
PLATE: Final = 0.8
"""How much of what lies below a label is covered."""
_SHARES: Final = (0.0, 0.15, 0.3, 0.45)
"""How far a label may move towards another place, in shares of the way."""


class _Room:
    """The boxes that are taken, in a coarse grid, so that one is only compared with those near to it."""

    def __init__(self, cell: float, below: _Room | None = None) -> None:
        """``below`` holds what lies there already, with cells of the same size; it is not changed."""
        self._cell = cell
        self._below = below
        self._boxes: defaultdict[tuple[int, int], list[Box]] = defaultdict(list)

    def take(self, box: Box) -> None:
        """Nothing else goes into ``box`` from now on."""
        columns, rows = self._cells(box)
        for x in columns:
            for y in rows:
                self._boxes[x, y].append(box)

    def is_free(self, box: Box) -> bool:
        """Whether nothing lies in ``box``."""
        left, top, right, bottom = box
        columns, rows = self._cells(box)
        room: _Room | None = self
        while room is not None:
            taken = room._boxes.get
            for x in columns:
                for y in rows:
                    for other in taken((x, y), ()):
                        if left < other[2] and right > other[0] and top < other[3] and bottom > other[1]:
                            return False
            room = room._below
        return True

    def _cells(self, box: Box) -> tuple[range, range]:
        """The grid's columns and rows that ``box`` lies in."""
        size, (left, top, right, bottom) = self._cell, box
        return (
            range(int(left // size), int(right // size) + 1),
            range(int(top // size), int(bottom // size) + 1),
        )


@dataclass(frozen=True, slots=True)
class PlacedLabel:
    """A label that found its room. Lengths in the device's units."""

    label: Label
    shift: Point
    """From the label's place to the middle of its box."""
    size: Point
    """Width and height of the box."""

    def box(self, at: Point) -> Box:
        """The box where the label's place is at ``at``."""
        return _box((at[0] + self.shift[0], at[1] + self.shift[1]), self.size)


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Where labels are, and what they take of the room. Holds however the cloth is moved, at one scale."""

    labels: tuple[PlacedLabel, ...]
    room: _Room


@dataclass(frozen=True, slots=True)
class LabelPlacer:
    """Puts labels where they can be read. For one device and one scale."""

    scale: float
    """Device's units per mm."""
    unit: float
    """Device's units per device unit of the palette."""
    handle: float
    """Device units of the palette: width of the anchor's ring."""
    size: Callable[[str, float], Point]
    """Width and height of the box of a text of so many points, in the device's units."""

    def place(
        self,
        display_list: DisplayList,
        below: Placed | None = None,
        within: Box | None = None,
        clear: Iterable[Disc] = (),
    ) -> Placed:
        """Every label with the place where it covers no other and no symbol.

        One without room stands where it asked to, or is left out where it may be. ``below``: where the labels
        of another display list are, which is drawn first. ``within``: mm, what labels should not leave.
        ``clear``: what is drawn on top.
        """
        limits = within and _scaled(within, self.scale)
        room = _Room(_CELL * self.unit, below.room if below else None)
        for item in display_list.items():
            if isinstance(item, Symbol):
                half = symbol_size(item.kind, self.handle) * self.unit / 2
                room.take(_box((item.at[0] * self.scale, item.at[1] * self.scale), (2 * half, 2 * half)))
        for (x, y), width in clear:
            size = (width * self.unit, width * self.unit)
            room.take(_box((x * self.scale, y * self.scale), size))
        placed = (
            self._placed(item, room, limits) for item in display_list.items() if isinstance(item, Label)
        )
        return Placed(tuple(label for label in placed if label), room)

    def _placed(self, label: Label, room: _Room, limits: Box | None) -> PlacedLabel | None:
        size = self.size(label.text, TEXT_POINTS[label.size])
        first = None
        for middle in _candidates(label, size, self.unit, self.scale):
            first = first or middle
            box = _box(middle, size)
            if room.is_free(box) and (limits is None or _holds(limits, box)):
                break
        else:
            if not label.must or first is None:
                return None
            middle = first
        room.take(_box(middle, size))
        shift = (middle[0] - label.at[0] * self.scale, middle[1] - label.at[1] * self.scale)
        return PlacedLabel(label, shift, size)


_CELL: Final = 64.0
"""Device units: width of a cell of the grid, about that of a label."""


def _candidates(label: Label, size: Point, unit: float, scale: float) -> Iterator[Point]:
    """Where the middle of the box may come, from the best on."""
    x, y = label.at[0] * scale, label.at[1] * scale
    if label.toward is not None:
        dx, dy = label.toward[0] * scale - x, label.toward[1] * scale - y
        for share in _SHARES:
            yield (x + dx * share, y + dy * share)
        return
    (align_x, align_y), (offset_x, offset_y) = label.align, label.offset
    yield (x + offset_x * unit + align_x * size[0] / 2, y + offset_y * unit + align_y * size[1] / 2)
    # Then around its place, the direction it asked for first, and then further out.
    distance = max(abs(offset_x), abs(offset_y)) * unit
    ways = sorted(_WAYS, key=lambda way: -(way[0] * align_x + way[1] * align_y) / math.hypot(*way))
    for reach in _REACHES:
        for way_x, way_y in ways:
            yield (x + way_x * (distance * reach + size[0] / 2), y + way_y * (distance * reach + size[1] / 2))


def _box(middle: Point, size: Point) -> Box:
    (x, y), (width, height) = middle, size
    return (x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def _scaled(box: Box, scale: float) -> Box:
    left, top, right, bottom = box
    return (left * scale, top * scale, right * scale, bottom * scale)


def _holds(limits: Box, box: Box) -> bool:
    return limits[0] <= box[0] and limits[1] <= box[1] and box[2] <= limits[2] and box[3] <= limits[3]


def leader_end(label: Label, at: Point, box: Box, unit: float) -> Point | None:
    """Where a thin line from ``at``, the label's place, meets its ``box``; None where it is near enough."""
    end = (min(max(at[0], box[0]), box[2]), min(max(at[1], box[1]), box[3]))
    apart = math.hypot(end[0] - at[0], end[1] - at[1])
    return end if apart > 2 * math.hypot(*label.offset) * unit > 0 else None
