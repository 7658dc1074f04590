"""What Marks mode shows over the patch: handles, the span under the hand, and words beside a place."""

from __future__ import annotations

from app.sketch.modes.edge import EdgePlace
from app.sketch.modes.mark_places import Hot, Removing, Sight, Spot, remove_handle_at
from app.sketch.modes.mark_words import held_words, mark_words, span_words
from app.sketch.modes.overlay import Handle, HandleKind, HandleState, Label, Overlay
from app.sketch.translate import tr
from geometry.marks import Mark, MarkKind
from geometry.types import Point, Points
from geometry.units import LengthStyle


def idle_overlay(
    sight: Sight, hot: Hot | None, chosen: Mark | None, typed: Label | None, scale: float, style: LengthStyle
) -> Overlay:
    """With nothing in the hand. ``hot`` is under it; ``typed`` goes before other words."""
    edge, label, snap = sight.edge, typed, None
    mark = hot if isinstance(hot, Mark) else None
    handles = list(handles_of(sight.marks, chosen, mark))
    if chosen is not None:
        state = HandleState.HOT if isinstance(hot, Removing) else HandleState.IDLE
        handles.append(Handle(remove_handle_at(sight, chosen, scale), HandleKind.REMOVE, state))
    spans: tuple[Points, ...] = ()
    if isinstance(hot, Spot):
        place, snap = hot.place, hot.snap
        before, after, piece = edge.span(place, sight.marks)
        spans = (piece,)
        handles.append(Handle(place.at, HandleKind.MARK, HandleState.HOT))
        label = label or label_at(sight, place, span_words(place, before, after, style))
    elif isinstance(hot, Removing) and chosen is not None:
        label = label_at(sight, edge.place_of(chosen), tr("remove mark {name}", name=chosen.name))
    elif label is None and (shown := mark or chosen) is not None:
        label = label_at(sight, edge.place_of(shown), mark_words(shown, edge, style))
    return Overlay(tuple(handles), (), (label,) if label else (), snap, spans=spans)


def drag_label(sight: Sight, spot: Spot, taken_by: Mark | None, style: LengthStyle) -> Label:
    """Beside the mark in the hand; ``taken_by``: another stands there already."""
    if taken_by is not None:
        words = tr("mark {name} is here already", name=taken_by.name)
        return label_at(sight, spot.place, words, problem=True)
    return label_at(sight, spot.place, held_words(spot.place, style))


def handles_of(
    marks: tuple[Mark, ...], chosen: Mark | None = None, hot: Mark | None = None
) -> tuple[Handle, ...]:
    """Of every mark that can be dragged; of a corner only where it is chosen or under the hand."""
    made = []
    for mark in marks:
        state = HandleState.IDLE
        if mark is chosen:
            state = HandleState.CHOSEN
        elif mark is hot:
            state = HandleState.HOT
        if state is not HandleState.IDLE or mark.kind is not MarkKind.CORNER:
            made.append(Handle(mark.at, HandleKind.MARK, state))
    return tuple(made)


def handles_held(others: tuple[Mark, ...], at: Point) -> tuple[Handle, ...]:
    """Of the mark in the hand, at ``at``, and of the others."""
    return (*handles_of(others), Handle(at, HandleKind.MARK, HandleState.HELD))


def label_at(sight: Sight, place: EdgePlace, text: str, *, problem: bool = False) -> Label:
    """Outside of the edge where there is room: inside is the fan."""
    x, y = sight.edge.inward(place)
    return Label(place.at, text, problem, way=(-x, -y))
