"""What a patch's settings are once a mark is put, taken away, or a side divided in another way.

Pure functions on settings. ``edge`` is the edge of the patch as it is; it stays the same under every edit but
``divided``. Marks of the user's own that an edit is not about keep the place they were given, even where the
patch has been reshaped since and they show at the nearest place of the edge: shaped back, they are back.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from app.sketch.hit import distance
from app.sketch.modes.edge import Edge
from geometry import Settings
from geometry.marks import Mark
from geometry.tolerances import SAME_PLACE
from geometry.types import Point


def mark_at(marks: Iterable[Mark], at: Point) -> Mark | None:
    """The one that stands at a place, to ``SAME_PLACE``."""
    return next((mark for mark in marks if distance(mark.at, at) <= SAME_PLACE), None)


def with_mark(settings: Settings, edge: Edge, at: Point) -> Settings:
    """A mark at ``at``: the usual one that was taken away there, or one of the user's own."""
    removed = tuple(place for place in settings.removed_marks if distance(place, at) > SAME_PLACE)
    own = settings.own_marks if mark_at(edge.usual, at) else (*settings.own_marks, at)
    return replace(settings, own_marks=own, removed_marks=removed)


def without_mark(settings: Settings, edge: Edge, at: Point) -> Settings:
    """No mark at ``at``: the user's own that show there are forgotten, the usual one is taken away."""
    own = tuple(place for place in settings.own_marks if not _shows_at(edge, place, at))
    removed = settings.removed_marks
    usual = mark_at(edge.usual, at)
    if usual is not None and not any(distance(place, usual.at) <= SAME_PLACE for place in removed):
        removed = (*removed, usual.at)
    return replace(settings, own_marks=own, removed_marks=removed)


def divided(settings: Settings, edge: Edge, letter: str, count: int | None) -> Settings:
    """``count`` spans on one side; None: as many as the other sides have.

    What was taken away of its earlier divisions is forgotten, so that the count is the one asked for.
    """
    others = tuple((side, spans) for side, spans in settings.side_spans if side != letter)
    spans = others if count is None else tuple(sorted((*others, (letter, count))))
    removed = tuple(place for place in settings.removed_marks if not _divides(edge, place, letter))
    return replace(settings, side_spans=spans, removed_marks=removed)


def as_usual(settings: Settings) -> Settings:
    """Corners and equal divisions only: also what lies where no hand can reach it is forgotten."""
    return replace(settings, own_marks=(), removed_marks=(), side_spans=())


def _shows_at(edge: Edge, own: Point, at: Point) -> bool:
    place = edge.nearest(own, every=True)
    return place is not None and distance(place.at, at) <= SAME_PLACE


def _divides(edge: Edge, at: Point, letter: str) -> bool:
    place = edge.nearest(at, every=True)
    return place is not None and place.side.letter == letter and mark_at(edge.corners, at) is None
