"""Where marks stand on the edge, and where a new one comes to lie under the hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.plan.model import PlanPatch
from app.sketch.hit import distance, nearest_corner
from app.sketch.modes.edge import Edge, EdgePlace, EdgeSide
from app.sketch.modes.events import Pointer
from app.sketch.modes.mark_edits import mark_at
from app.sketch.snapping import Caught, Snap
from geometry.marks import Mark, MarkKind
from geometry.types import Point

_CATCHES = 0.6
"""Of a step: so near to it, the middle of a side or the place of a mark taken away wins over a step."""

_REMOVE_PIXELS = 34.0
"""From a chosen mark to the handle that takes it away: clear of the hand's hold on the mark itself."""
_REMOVE_REACH = 14.0


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """A patch as it is in the plan: its marks, and the edge they stand on."""

    piece: PlanPatch
    edge: Edge
    marks: tuple[Mark, ...]
    """Those of its fans, one after another along the edges."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the edge, and what caught the hand there."""

    place: EdgePlace
    snap: Snap


@dataclass(frozen=True, slots=True)
class Removing:
    """The hand is on the handle that takes the chosen mark away, or has pressed it."""


Hot = Mark | Spot | Removing
"""A mark, or the place on the edge where a new one would be."""


def under(sight: Sight, chosen: Mark | None, pointer: Pointer, step: float) -> Hot | None:
    """What is under the hand. ``step``: mm along the seam from one place that catches to the next."""
    if chosen is not None:
        handle = remove_handle_at(sight, chosen, pointer.scale)
        if distance(pointer.at, handle) <= _REMOVE_REACH / pointer.scale:
            return Removing()
    hit = None
    if sight.marks:
        places = np.array([mark.at for mark in sight.marks])
        hit = nearest_corner(pointer.at, [places], pointer.hold_reach)
    if hit is not None:
        return sight.marks[hit.index]
    if sight.edge.nearest(pointer.at, pointer.hold_reach) is None:
        return None
    spot = spot_at(sight.edge, sight.marks, pointer.at, pointer, step)
    return mark_at(sight.marks, spot.place.at) or spot


def spot_at(edge: Edge, marks: tuple[Mark, ...], wanted: Point, pointer: Pointer, step: float) -> Spot:
    """Where on the edge a mark comes to lie: on a whole step along the seam from the nearer corner, in the
    middle of its side, where a mark was taken away, or, with snapping off, right at the hand.
    """
    place = edge.nearest(wanted)
    assert place is not None
    if pointer.free:
        return Spot(place, Snap(place.at))
    for at, snap in _specials(edge, marks, place.side):
        if distance(at, place.at) <= min(pointer.snap_reach, step * _CATCHES):
            there = edge.nearest(at)
            assert there is not None
            return Spot(there, snap)
    aim = round(place.from_start / step) * step
    if place.side.begins and place.to_end < place.from_start:
        aim = place.side.total - round(place.to_end / step) * step
    caught = edge.at_distance(place.side, aim)
    if caught is None or distance(caught.at, place.at) > pointer.snap_reach:
        return Spot(place, Snap(place.at))
    return Spot(caught, Snap(caught.at, Caught.GRID))


def _specials(edge: Edge, marks: tuple[Mark, ...], side: EdgeSide) -> list[tuple[Point, Snap]]:
    gone = [mark for mark in edge.usual if mark_at(marks, mark.at) is None]
    places = [
        (mark.at, Snap(mark.at, Caught.CORNER, mark.name)) for mark in gone if mark.kind is MarkKind.CORNER
    ]
    if side.begins:
        places.append((side.middle, Snap(side.middle, Caught.SIDE_MIDDLE, side.letter)))
    return places + [(mark.at, Snap(mark.at, Caught.GRID)) for mark in gone]


def remove_handle_at(sight: Sight, mark: Mark, scale: float) -> Point:
    """Beside the mark, inside of the edge: outside stands its name. ``scale``: px per mm."""
    x, y = sight.edge.inward(sight.edge.place_of(mark))
    reach = _REMOVE_PIXELS / scale
    return (mark.at[0] + x * reach, mark.at[1] + y * reach)
