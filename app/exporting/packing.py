"""Boxes on as few sheets as they take, side by side. No Qt; mm."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, permutations, product
from typing import Final, TypeAlias

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


_BOXES: Final = 900
_FEWEST_TRIES: Final = 2
"""How many boxes are put in altogether, about, and how many orders are tried even so."""
_OPEN: Final = 16
"""Sheets that are looked at for room, the last ones; those before are all but full."""


def _area(size: Point) -> float:
    return size[0] * size[1]


_ORDERS: Final[tuple[Callable[[Point], float], ...]] = (
    lambda size: max(size),
    lambda size: size[1],
    lambda size: size[0],
    _area,
    lambda size: size[0] + size[1],
)
"""What comes first: no one of them is best for all."""
_FEW: Final = 4
"""Boxes of which every order and every turning is tried: 384 of them."""
_WAYS: Final[tuple[tuple[tuple[bool, ...], ...], ...]] = (
    ((False, True),),
    ((False,), (True,)),
    ((True,), (False,)),
)
"""How boxes are turned: as comes highest; or only where they must be; or where they can be."""


def packed(
    sizes: Sequence[tuple[Point, Point]], room: Point, alive: Callable[[], None] | None = None
) -> list[list[PackedBox]]:
    """The boxes of each sheet of ``room`` (width and height, mm), on as few sheets as were found.

    ``sizes``: of each box as it is and turned; each fits at least one way. Boxes are put in one after the
    other, each where its lower edge comes highest along the skyline of those before; in several orders, and
    turned as comes highest, or rather not, or rather so; of a few boxes in every order and turning. The best
    is taken. (The bottom-left rule on a skyline: Baker, Coffman, Rivest 1980; Jylänki 2010, "A Thousand Ways
    to Pack the Bin"; from memory.) ``alive`` is called again and again; what it raises ends the work. Raises
    ``ValueError`` where a box does not fit.
    """
    best: list[_Sheet] | None = None
    least = math.ceil(sum(min(map(_area, each)) for each in sizes) / _area(room) - _ROUNDING)
    tries = max(_FEWEST_TRIES, _BOXES // max(len(sizes), 1))
    for order, ways in _attempts(sizes, tries):
        if best is not None and len(best) <= max(least, 1):
            break
        sheets = _put_in(sizes, room, order, ways, alive)
        if best is None or len(sheets) < len(best):
            best = sheets
    return [sheet.boxes for sheet in best or ()]


_Ways: TypeAlias = Sequence[Sequence[bool]]


def _attempts(
    sizes: Sequence[tuple[Point, Point]], tries: int
) -> Iterator[tuple[Sequence[int], Sequence[_Ways]]]:
    """Orders of the boxes, and how each may be turned: the likely ones; of a few boxes then every one."""
    count = len(sizes)
    for ways, key in islice(product(_WAYS, _ORDERS), tries):
        yield sorted(range(count), key=lambda number, key=key: -key(sizes[number][0])), [ways] * count  # type: ignore[misc]
    if count <= _FEW:
        for order, turned in product(permutations(range(count)), product((False, True), repeat=count)):
            yield order, [((each,), (not each,)) for each in turned]


def _put_in(
    sizes: Sequence[tuple[Point, Point]],
    room: Point,
    order: Sequence[int],
    ways: Sequence[_Ways],
    alive: Callable[[], None] | None,
) -> list[_Sheet]:
    """Each box on the first of the last sheets that has room for it."""
    sheets: list[_Sheet] = []
    for number in order:
        if alive:
            alive()
        if not any(sheet.put(number, sizes[number], ways[number]) for sheet in sheets[-_OPEN:]):
            sheets.append(_Sheet(room))
            if not sheets[-1].put(number, sizes[number], ways[number]):
                raise ValueError(f"box {number} is larger than the sheet")
    return sheets


class _Sheet:
    """A sheet that fills from the top."""

    def __init__(self, room: Point) -> None:
        self.room = room
        self.boxes: list[PackedBox] = []
        self._free = _area(room)
        self._skyline = [(0.0, 0.0)]
        """(from where on, how far down it is taken), from the left."""

    def put(self, number: int, sizes: tuple[Point, Point], ways: Sequence[Sequence[bool]]) -> bool:
        """Put the box in where it comes highest; False where it has no room.

        ``ways``: whether turned; the later ones are only tried where none of the earlier has room.
        """
        least = min(*sizes[0], *sizes[1])
        lowest = min(down for _, down in self._skyline)
        if lowest + least > self.room[1] + _ROUNDING or min(map(_area, sizes)) > self._free + _ROUNDING:
            return False
        for each in ways:
            places = [
                (y + sizes[turned][1], x, turned) for turned in each for x, y in self._places(sizes[turned])
            ]
            if places:
                bottom, x, turned = min(places)
                size = sizes[turned]
                self.boxes.append(PackedBox(number, (x, bottom - size[1]), turned))
                self._free -= _area(size)
                self._take(x, x + size[0], bottom)
                return True
        return False

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
