"""Boxes on as few sheets as they take, side by side. No Qt; mm."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from geometry.types import Point

_ROUNDING: Final = 1e-9
"""mm."""


@dataclass(frozen=True, slots=True)
class PackedBox:
    """A box on a sheet."""

    number: int
    """Among the boxes that were to be packed."""
    corner: Point
    """mm: its upper left corner on the sheet's room."""
    turned: bool
    """By a quarter: width and height have changed places."""


_ORDERS: Final[tuple[Callable[[Point], float], ...]] = (
    lambda size: max(size),
    lambda size: size[1],
    lambda size: size[0],
    lambda size: size[0] * size[1],
    lambda size: size[0] + size[1],
)
"""What comes first: no one of them is best for all."""


def packed(sizes: Sequence[tuple[Point, Point]], room: Point) -> list[list[PackedBox]]:
    """The boxes of each sheet of ``room`` (width and height, mm), on as few sheets as were found.

    ``sizes``: of each box as it is and turned; each fits at least one way. Boxes are put in one after the
    other, each where its lower edge comes highest along the skyline of those before, in several orders; the
    best is taken. (The bottom-left rule on a skyline: Baker, Coffman, Rivest 1980; Jylänki 2010, "A Thousand
    Ways to Pack the Bin"; from memory.) Raises ``ValueError`` where one does not fit.
    """
    best: list[list[PackedBox]] | None = None
    for order in _ORDERS:
        numbers = sorted(range(len(sizes)), key=lambda number: -order(sizes[number][0]))
        sheets: list[_Sheet] = []
        for number in numbers:
            if not any(sheet.put(number, sizes[number]) for sheet in sheets):
                sheets.append(_Sheet(room))
                if not sheets[-1].put(number, sizes[number]):
                    raise ValueError(f"box {number} is larger than the sheet")
        if best is None or len(sheets) < len(best):
            best = [sheet.boxes for sheet in sheets]
    return best or []


class _Sheet:
    """A sheet that fills from the top."""

    def __init__(self, room: Point) -> None:
        self.room = room
        self.boxes: list[PackedBox] = []
        self._skyline = [(0.0, 0.0)]
        """(from where on, how far down it is taken), from the left."""

    def put(self, number: int, sizes: tuple[Point, Point]) -> bool:
        """Put the box in where it comes highest; False where it has no room."""
        places = [
            (y + size[1], x, turned, size) for turned, size in enumerate(sizes) for x, y in self._places(size)
        ]
        if not places:
            return False
        bottom, x, turned, size = min(places)
        self.boxes.append(PackedBox(number, (x, bottom - size[1]), bool(turned)))
        self._take(x, x + size[0], bottom)
        return True

    def _places(self, size: Point) -> Iterator[Point]:
        width, height = self.room[0] + _ROUNDING, self.room[1] + _ROUNDING
        for x, _ in self._skyline:
            if x + size[0] <= width:
                y = max(down for down in self._downs(x, x + size[0]))
                if y + size[1] <= height:
                    yield (x, y)

    def _downs(self, left: float, right: float) -> Iterator[float]:
        """How far down it is taken between ``left`` and ``right``."""
        ends = [start for start, _ in self._skyline[1:]] + [self.room[0]]
        for (start, down), end in zip(self._skyline, ends, strict=True):
            if start < right - _ROUNDING and (end > left + _ROUNDING):
                yield down

    def _take(self, left: float, right: float, bottom: float) -> None:
        after = [down for start, down in self._skyline if start <= right + _ROUNDING][-1]
        before = [each for each in self._skyline if each[0] < left - _ROUNDING]
        beyond = [each for each in self._skyline if each[0] > right + _ROUNDING]
        self._skyline = [*before, (left, bottom), *beyond]
        if right < self.room[0] - _ROUNDING:
            self._skyline = [*before, (left, bottom), (right, after), *beyond]
