"""What becomes of a patch under the hand, an arrow key or a typed length in Shape mode."""

from __future__ import annotations

import math
from dataclasses import dataclass

from app.plan.model import PlanPatch
from app.sketch.modes.events import Pointer
from app.sketch.modes.reshape import handles, moved, reshaped
from app.sketch.modes.shape_parts import Corner, Middle, Part, ends_of, place_of, rings_of, side_of, with_ring
from app.sketch.modes.side_words import bow_words, caught_bow, pull_words
from app.sketch.modes.sides import Side, bow_of, offset_from, place, pulled, run_of, with_bow
from app.sketch.snapping import Snap, lines_while_shaping, to_drawing
from geometry import Patch
from geometry.arc import outward
from geometry.types import Point, Points
from geometry.units import LengthStyle

_ACROSS = 0.3
"""Cosine of the angle to a side's normal (about 73°) beyond which an arrow key points along the side."""


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """The patch as it was when the button went down."""

    piece: PlanPatch
    rings: tuple[Points, ...]
    part: Part
    handles: tuple[int, ...]
    """Of the ring that the part belongs to."""
    start: Point
    grip: Point


@dataclass(frozen=True, slots=True, eq=False)
class Dragging:
    """What the hand makes of it."""

    held: Held
    snap: Snap
    rings: tuple[Points, ...]
    patch: Patch | None
    """None where ``rings`` make no patch."""
    words: str = ""
    """How far it is pulled."""


def take_hold(piece: PlanPatch, part: Part, pointer: Pointer) -> Held:
    """The button goes down on a part of ``piece``."""
    rings = rings_of(piece)
    ring = rings[part.ring]
    at = pointer.at if isinstance(part, Side) else place_of(ring, part)
    grip = (at[0] - pointer.at[0], at[1] - pointer.at[1])
    held = handles(ring, pointer.scale) if isinstance(part, Corner) else handles(ring)
    return Held(piece, rings, part, held, pointer.at, grip)


def dragged(held: Held, pointer: Pointer, step: float, style: LengthStyle) -> Dragging:
    """``step``: mm of the grid that catches, 0 for none."""
    part = held.part
    ring = held.rings[part.ring]
    wanted = (pointer.at[0] + held.grip[0], pointer.at[1] + held.grip[1])
    snap, words = Snap(wanted), ""
    match part:
        case Corner(index=index):
            if not pointer.free:
                corners = sorted({*held.handles, index})
                lines = lines_while_shaping(ring[corners], corners.index(index))
                snap = to_drawing(wanted, (), lines, pointer.snap_reach, grid=step)
            result = moved(ring, index, snap.at, held.handles)
        case Side():
            start, end = ends_of(ring, part)
            by = offset_from(wanted, start, end) - offset_from(held.start, start, end)
            by = round(by / step) * step if step else by
            result = pulled(ring, part, by)
            words = pull_words(by, style)
        case Middle(side=side):
            start, end = ends_of(ring, side)
            bow = offset_from(wanted, start, end)
            if not pointer.free:
                bow = caught_bow(bow, math.dist(start, end), pointer.snap_reach, step)
            result = with_bow(ring, side, bow)
            words = bow_words(bow, math.dist(start, end), style)
    rings = with_ring(held.rings, part.ring, result)
    return Dragging(held, snap, rings, reshaped(rings[0], rings[1:]), words)


def nudged(ring: Points, part: Part, arrow: Point, step: float, scale: float) -> Points | None:
    """``ring`` after an arrow key that moves by ``step`` mm; None where it points along the side."""
    if isinstance(part, Corner):
        x, y = place(ring[part.index])
        to = (x + arrow[0] * step, y + arrow[1] * step)
        return moved(ring, part.index, to, handles(ring, scale))
    side = side_of(part)
    nx, ny = outward(*ends_of(ring, side))
    across = arrow[0] * nx + arrow[1] * ny
    if abs(across) < _ACROSS:
        return None
    by = math.copysign(step, across)
    if isinstance(part, Middle):
        return with_bow(ring, side, bow_of(run_of(ring, side)) + by)
    return pulled(ring, side, by)
