"""Where labels go so that none covers another. No Qt: the text's sizes come from whoever measures it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Final, TypeAlias

from app.sketch.display_list import Label
from geometry.types import Point

Box: TypeAlias = tuple[float, float, float, float]
"""(left, top, right, bottom)."""

_DIRECTIONS: Final = [(float(x), float(y)) for x in (1, 0, -1) for y in (0, 1, -1) if x or y]
_REACHES: Final = (1.0, 2.5, 4.0)
"""How far from its place a label may move, in times of its own distance."""


class Labels:
    """Takes labels one after the other; each is put where none of those before it lies.

    All lengths in the device's units. Boxes are kept in a coarse grid, so that a label is only compared with
    those near to it.
    """

    def __init__(self, cell: float, below: Labels | None = None) -> None:
        """``below`` holds what lies there already, with cells of the same size; it is not changed."""
        self._cell = cell
        self._below = below
        self._boxes: defaultdict[tuple[int, int], list[Box]] = defaultdict(list)

    def block(self, boxes: Iterable[Box]) -> None:
        """Keep labels off ``boxes``."""
        for box in boxes:
            for cell in self._cells(box):
                self._boxes[cell].append(box)

    def place(self, label: Label, at: Point, size: Point, unit: float) -> Point | None:
        """The middle of the box of ``label``, or None where it finds no room and may be left out.

        ``at`` is its place, ``size`` its box, ``unit`` a device unit.
        """
        default = None
        for align, offset in _candidates(label):
            middle = (
                at[0] + offset[0] * unit + align[0] * size[0] / 2,
                at[1] + offset[1] * unit + align[1] * size[1] / 2,
            )
            default = default or middle
            box = (
                middle[0] - size[0] / 2,
                middle[1] - size[1] / 2,
                middle[0] + size[0] / 2,
                middle[1] + size[1] / 2,
            )
            if self.is_free(box):
                self.block([box])
                return middle
        return default if label.must else None

    def is_free(self, box: Box) -> bool:
        """Whether nothing lies in ``box``."""
        left, top, right, bottom = box
        for cell in self._cells(box):
            for other in self._boxes.get(cell, ()):
                if left < other[2] and right > other[0] and top < other[3] and bottom > other[1]:
                    return False
        return self._below is None or self._below.is_free(box)

    def _cells(self, box: Box) -> list[tuple[int, int]]:
        size = self._cell
        return [
            (x, y)
            for x in range(int(box[0] // size), int(box[2] // size) + 1)
            for y in range(int(box[1] // size), int(box[3] // size) + 1)
        ]


def _candidates(label: Label) -> Iterable[tuple[Point, Point]]:
    """(align, offset) from the best on: as the label asks, then around its place, then further out."""
    yield label.align, label.offset
    if label.align == (0.0, 0.0):  # it names the place that it stands on, and goes nowhere else
        return
    distance = max(abs(label.offset[0]), abs(label.offset[1]))
    nearest_first = sorted(
        _DIRECTIONS, key=lambda way: -(way[0] * label.align[0] + way[1] * label.align[1]) / _length(way)
    )
    for reach in _REACHES:
        for way in nearest_first:
            yield way, (way[0] * distance * reach, way[1] * distance * reach)


def _length(way: Sequence[float]) -> float:
    return float((way[0] ** 2 + way[1] ** 2) ** 0.5)
