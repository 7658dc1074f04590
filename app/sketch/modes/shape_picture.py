"""What Shape mode shows over the patch: handles, the side that is meant, and lengths."""

from __future__ import annotations

import numpy as np

from app.sketch.modes.overlay import Draft, Handle, HandleKind, HandleState, Label, Overlay
from app.sketch.modes.reshape import handles
from app.sketch.modes.shape_parts import MIDDLE_PIXELS, Corner, Middle, Part, same_side, side_of
from app.sketch.modes.shape_steps import Dragging, Held
from app.sketch.modes.sides import Side, length_of, middle_of_run, middles_of, place, run_of, sides_of
from app.sketch.translate import tr
from geometry.arc import outward
from geometry.types import Point, Points
from geometry.units import LengthStyle, format_length

_LENGTH_PIXELS = 60.0
"""A side up to this long on the screen has no room for its length."""


def handles_shown(
    rings: tuple[Points, ...],
    scale: float,
    active: Part | None,
    state: HandleState,
    hot: Part | None = None,
) -> tuple[Handle, ...]:
    """Of every corner, and of every side's middle where there is room; ``active`` always has its own."""
    found = []

    def look(part: Part) -> HandleState:
        return state if part == active else HandleState.HOT if part == hot else HandleState.IDLE

    for number, ring in enumerate(rings):
        for side, middle, length in zip(sides_of(ring, number), *middles_of(ring), strict=True):
            if length * scale >= MIDDLE_PIXELS or active == Middle(side):
                found.append(Handle(place(middle), HandleKind.MIDDLE, look(Middle(side))))
        shown = {*handles(ring, scale)}
        if isinstance(active, Corner) and active.ring == number:
            shown.add(active.index)
        found += [
            Handle(place(ring[index]), HandleKind.CORNER, look(Corner(number, index)))
            for index in sorted(shown)
        ]
    return tuple(found)


def span_of(rings: tuple[Points, ...], part: Part | None) -> tuple[Points, ...]:
    """The side that is meant, pointed out."""
    if part is None or isinstance(part, Corner):
        return ()
    return (run_of(rings[part.ring], side_of(part)),)


def label_way(run: Points) -> Point:
    """Away from the patch."""
    return outward(place(run[0]), place(run[-1]))


def drag_overlay(dragging: Dragging, scale: float, style: LengthStyle) -> Overlay:
    """The part in the hand, how far it was pulled, and the lengths that change; crossing sides as a draft."""
    held, rings = dragging.held, dragging.rings
    crossing = dragging.patch is None
    drafts = tuple(Draft(ring, True, True) for ring in rings) if crossing else ()
    active, snap = held.part, None
    labels: tuple[Label, ...]
    spans: tuple[Points, ...] = ()
    if isinstance(active, Corner):
        labels = _lengths_at(rings[active.ring], active.index, held, scale, style)
        snap = dragging.snap
        at = snap.at
    else:
        now = same_side(rings, side_of(active), held.rings)
        run = run_of(rings[now.ring], now)
        at = middle_of_run(run)
        spans = () if crossing else (run,)
        labels = (Label(at, dragging.words, way=label_way(run)),)
        if isinstance(active, Side):
            labels += _lengths_beside(rings[now.ring], now, scale, style)
        active = Middle(now) if isinstance(active, Middle) else now
    if crossing:
        labels += (Label(at, tr("the sides cross"), problem=True),)
    shown = handles_shown(rings, scale, active, HandleState.HELD)
    return Overlay(shown, drafts, labels, snap, hides_patch=crossing, hides_marks=True, spans=spans)


def _lengths_at(ring: Points, index: int, held: Held, scale: float, style: LengthStyle) -> tuple[Label, ...]:
    """The lengths of the two sides at the corner that is held, on their middles."""
    corners = sorted({*held.handles, index})
    spot = corners.index(index)
    labels: tuple[Label, ...] = ()
    for other in (corners[spot - 1], corners[(spot + 1) % len(corners)]):
        if other in ((index + 1) % len(ring), (index - 1) % len(ring)):
            labels += _length_label(np.array([ring[index], ring[other]]), scale, style)
    return labels


def _lengths_beside(ring: Points, side: Side, scale: float, style: LengthStyle) -> tuple[Label, ...]:
    """The lengths of the two sides beside one that is pulled, on their middles."""
    labels: tuple[Label, ...] = ()
    for other in sides_of(ring, side.ring):
        if other.end == side.start or other.start == side.end:
            labels += _length_label(run_of(ring, other), scale, style)
    return labels


def _length_label(run: Points, scale: float, style: LengthStyle) -> tuple[Label, ...]:
    length = length_of(run)
    if length * scale <= _LENGTH_PIXELS:
        return ()
    return (Label(middle_of_run(run), format_length(length, style), centred=True),)
