"""What of a patch Shape mode takes hold of: its corners, its sides and the middles of its sides.

``rings`` are a patch's outline and its holes, each (n, 2) float, mm, open.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.plan.model import PlanPatch
from app.sketch.hit import distance, nearest_corner, nearest_on_side
from app.sketch.modes.events import Pointer
from app.sketch.modes.reshape import handles
from app.sketch.modes.sides import Side, length_of, middle_of_run, place, run_of, side_with, sides_of
from app.sketch.translate import tr
from geometry.types import Point, Points

MIDDLE_PIXELS = 72.0
"""A side shorter than this on the screen has no handle at its middle: it would lie on its corners'."""


@dataclass(frozen=True, slots=True)
class Corner:
    """Ring 0 is the outline, 1 the first hole."""

    ring: int
    index: int


@dataclass(frozen=True, slots=True)
class Middle:
    """The middle of a side, which makes it a curve."""

    side: Side

    @property
    def ring(self) -> int:
        """As of its side."""
        return self.side.ring


Part = Corner | Side | Middle


def rings_of(piece: PlanPatch) -> tuple[Points, ...]:
    """Its outline and holes."""
    patch = piece.patch()
    return (patch.outline, *patch.holes)


def with_ring(rings: tuple[Points, ...], number: int, ring: Points) -> tuple[Points, ...]:
    """``ring`` in place of the one of that number."""
    return (*rings[:number], ring, *rings[number + 1 :])


def side_of(part: Side | Middle) -> Side:
    """The side that is meant."""
    return part.side if isinstance(part, Middle) else part


def side_at(rings: tuple[Points, ...], part: Part) -> Side | None:
    """The side that is meant, or the one that begins at a corner."""
    if isinstance(part, Corner):
        return side_with(rings[part.ring], part.index, part.ring)
    return side_of(part)


def every_side(rings: tuple[Points, ...]) -> list[Side]:
    """Of all rings, in order."""
    return [side for number, ring in enumerate(rings) for side in sides_of(ring, number)]


def place_of(ring: Points, part: Corner | Middle) -> Point:
    """Where its handle is."""
    if isinstance(part, Corner):
        return place(ring[part.index])
    return middle_of_run(run_of(ring, part.side))


def ends_of(ring: Points, side: Side) -> tuple[Point, Point]:
    """Its two corners."""
    return place(ring[side.start]), place(ring[side.end])


def is_there(rings: tuple[Points, ...], part: Part) -> bool:
    """Whether rings have that part: undo may have taken it away."""
    if isinstance(part, Corner):
        return part.ring < len(rings) and part.index < len(rings[part.ring])
    return part.ring < len(rings) and side_of(part) in sides_of(rings[part.ring], part.ring)


def corner_under(rings: tuple[Points, ...], pointer: Pointer, chosen: Part | None) -> Corner | None:
    """The corner that the hand would take hold of; the chosen one has a handle wherever it is."""
    among = [handles(ring, pointer.scale) for ring in rings]
    if isinstance(chosen, Corner):
        among[chosen.ring] = (*among[chosen.ring], chosen.index)
    hit = nearest_corner(pointer.at, rings, pointer.hold_reach, among)
    return None if hit is None else Corner(hit.ring, hit.index)


def part_under(rings: tuple[Points, ...], pointer: Pointer, chosen: Part | None) -> Part | None:
    """What the hand would take hold of: a corner before a middle, a middle before a side."""
    corner = corner_under(rings, pointer, chosen)
    if corner is not None:
        return corner
    hit = nearest_on_side(pointer.at, rings, pointer.hold_reach)
    side = None if hit is None else side_with(rings[hit.ring], hit.index, hit.ring)
    if side is None:
        return None
    run = run_of(rings[side.ring], side)
    if length_of(run) * pointer.scale < MIDDLE_PIXELS:
        return side
    return Middle(side) if distance(middle_of_run(run), pointer.at) <= pointer.hold_reach else side


def next_corner(rings: tuple[Points, ...], part: Part | None, by: int, scale: float) -> Corner:
    """The corner one (``by`` 1) after or (-1) before a part; without one, the first or the last."""
    order = [
        Corner(number, index)
        for number, ring in enumerate(rings)
        for index in handles(ring, scale) or range(len(ring))
    ]
    if isinstance(part, Side | Middle):
        side = side_of(part)
        part = Corner(side.ring, side.start if by > 0 else side.end)
    if isinstance(part, Corner) and part in order:
        return order[(order.index(part) + by) % len(order)]
    return order[0 if by > 0 else -1]


def next_side(rings: tuple[Points, ...], part: Part | None) -> Side | None:
    """The side at a corner, or the one after a side; the first without either, None where there is none."""
    order = every_side(rings)
    here = None if part is None else side_at(rings, part)
    if here is None or here not in order:
        return order[0] if order else None
    return here if isinstance(part, Corner) else order[(order.index(here) + 1) % len(order)]


def same_side(rings: tuple[Points, ...], side: Side, before: tuple[Points, ...]) -> Side:
    """Where ``side`` of ``before`` stands once a curve of it has other points."""
    count, now = len(before[side.ring]), len(rings[side.ring])
    if now == count:
        return side
    if side.start < side.end:
        return Side(side.ring, side.start, side.end + now - count)
    return Side(side.ring, side.start - side.end, 0)


def same_part(
    part: Part, before: tuple[Points, ...], rings: tuple[Points, ...], after: tuple[Points, ...]
) -> Part | None:
    """Which part of a patch is ``part`` of the rings ``before`` that were made into ``rings``, and those, as
    the patch has them, into ``after``. None where it has gone.
    """
    if isinstance(part, Corner):
        hit = nearest_corner(place(rings[part.ring][part.index]), after, 0.0)
        return None if hit is None else Corner(hit.ring, hit.index)
    # A curve may have other points now, but it begins where it began; a side that is pulled has the same.
    old = side_of(part)
    start = (before if isinstance(part, Middle) else rings)[old.ring][old.start]
    side = next((side for side in every_side(after) if (after[side.ring][side.start] == start).all()), None)
    return None if side is None else Middle(side) if isinstance(part, Middle) else side


def name_of(part: Part) -> str:
    """Of the step by which it is changed."""
    if isinstance(part, Corner):
        return tr("Move corner")
    return tr("Pull side") if isinstance(part, Side) else tr("Curve side")
