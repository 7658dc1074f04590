"""A patch rotated, mirrored or scaled, with all that was said of places on it."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from msgspec.structs import replace

from app.plan.model import Plan, Try
from app.sketch.changes import Change
from app.sketch.hit import distance
from app.sketch.translate import tr
from geometry import Fit, Patch, Settings, fit
from geometry.ground import ground_of
from geometry.marks import Mark, Side, mark_edges
from geometry.tolerances import SAME_PLACE
from geometry.types import Point, Points


@dataclass(frozen=True, slots=True, eq=False)
class Map:
    """A similarity of the plane: ``about`` stays where it is."""

    matrix: Points
    """(2, 2), applied to columns."""
    about: Point

    @property
    def mirrors(self) -> bool:
        """True where it turns clockwise into the other way round."""
        return float(np.linalg.det(self.matrix)) < 0

    def points(self, points: Points) -> Points:
        """(n, 2), mapped."""
        answer: Points = (points - np.array(self.about)) @ self.matrix.T + np.array(self.about)
        return answer

    def point(self, point: Point) -> Point:
        """One point, mapped."""
        x, y = self.points(np.array([point]))[0].tolist()
        return (x, y)


def rotated(plan: Plan, index: int, degrees: float) -> Change:
    """Patch ``index`` turned about the middle of its box, clockwise on screen."""
    turns = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    angle = math.radians(degrees)
    # Quarter turns exactly: a square stays one to the last digit.
    cos, sin = turns.get(degrees % 360.0, (math.cos(angle), math.sin(angle)))
    matrix = np.array([[cos, -sin], [sin, cos]])  # y points down, so this is clockwise
    return _mapped(plan, index, matrix, tr("Rotate the patch"))


def mirrored(plan: Plan, index: int, *, upright: bool) -> Change:
    """Patch ``index`` mirrored left and right or, if ``upright``, up and down."""
    matrix = np.diag([1.0, -1.0] if upright else [-1.0, 1.0])
    return _mapped(plan, index, matrix, tr("Mirror the patch"))


def scaled(plan: Plan, index: int, by: float) -> Change:
    """Patch ``index`` ``by`` times as large; margin, gap and all other lengths of its settings stay.

    Raises ``PatchError`` where that is too large or too small to be a patch.
    """
    return _mapped(plan, index, np.eye(2) * by, tr("Scale the patch"))


@lru_cache(maxsize=4)
def seam_sides(patch: Patch, settings: Settings) -> tuple[Side, ...]:
    """The sides of the seam itself, with their letters and lengths, as a tape measures them."""
    bare = _bare(settings)
    edges = mark_edges((patch.polygon,), patch.polygon, dataclasses.replace(bare, edge_margin=0.0))
    return tuple(sorted((side for edge in edges for side in edge.sides), key=_order))


# ----------------------------------------------------------------------------------------------------


def _mapped(plan: Plan, index: int, matrix: Points, name: str) -> Change:
    old = plan.patches[index]
    before = old.patch()
    left, top, right, bottom = before.polygon.bounds
    to = Map(matrix, ((left + right) / 2, (top + bottom) / 2))
    after = Patch(to.points(before.outline), [to.points(hole) for hole in before.holes])
    move = _Mover(before, after, to)
    anchors = [after.slide_into(to.point(anchor)) for anchor in old.anchors]
    tries = tuple(
        Try(
            name=kept.name,
            anchors=tuple(to.point(anchor) for anchor in kept.anchors),
            settings=move.settings(kept.settings, kept.anchors),
        )
        for kept in old.tries
    )
    new = replace(
        old.reshaped(after, anchors), settings=move.settings(old.settings, old.anchors), tries=tries
    )
    patches = (*plan.patches[:index], new, *plan.patches[index + 1 :])
    return Change(name, plan, replace(plan, patches=patches))


class _Mover:
    """Takes settings from a patch to its image."""

    def __init__(self, before: Patch, after: Patch, to: Map) -> None:
        self._before, self._after, self._to = before, after, to

    def settings(self, settings: Settings, anchors: Sequence[Point]) -> Settings:
        """The same marks, counts and start on the image; a mirror takes letters and numbers along."""
        bare = _bare(settings)
        letters = self._letters(bare)
        moved = dataclasses.replace(
            settings,
            own_marks=tuple(self._to.point(at) for at in settings.own_marks),
            side_spans=tuple(
                sorted((letters.get(letter, letter), count) for letter, count in settings.side_spans)
            ),
            start=None if settings.start is None else self._to.point(settings.start),
            removed_marks=(),
            merged_spans=(),
        )
        if settings.removed_marks:
            counted = dataclasses.replace(bare, side_spans=settings.side_spans)
            was, now = _marks(self._before, counted), _marks(self._after, _usual(moved))
            removed = tuple(self._removed(at, was, now) for at in settings.removed_marks)
            moved = dataclasses.replace(moved, removed_marks=removed)
        if settings.merged_spans:
            moved = dataclasses.replace(moved, merged_spans=self._merged(settings, moved))
        if settings.first_wedge and self._to.mirrors:
            moved = dataclasses.replace(moved, first_wedge=self._first(settings, moved, anchors))
        return moved

    def _letters(self, bare: Settings) -> dict[str, str]:
        """What each side is called on the image: a mirror turns their order round."""
        if not self._to.mirrors:
            return {}
        was, now = _sides(self._before, bare), _sides(self._after, bare)
        return {side.letter: _nearest(self._to.point(side.middle), now).letter for side in was if now}

    def _removed(self, at: Point, was: list[Mark], now: list[Mark]) -> Point:
        """Where the mark that was taken away at ``at`` would stand on the image.

        The edge of the stitchable area does not grow with the seam, so it is the mark of the same side and
        number that is meant, and not the image of the place.
        """
        image = self._to.point(at)
        gone = next((mark for mark in was if distance(mark.at, at) <= SAME_PLACE), None)
        if gone is None or not now:
            return image
        if self._to.mirrors:
            return _mark_at(now, image).at
        return next((mark.at for mark in now if mark.name == gone.name), image)

    def _merged(self, settings: Settings, moved: Settings) -> tuple[tuple[str, str], ...]:
        if not self._to.mirrors:
            return settings.merged_spans
        was, now = _marks(self._before, settings), _marks(self._after, moved)
        names = {mark.name: _mark_at(now, self._to.point(mark.at)).name for mark in was if now}
        return tuple((names.get(b, b), names.get(a, a)) for a, b in settings.merged_spans)

    def _first(self, settings: Settings, moved: Settings, anchors: Sequence[Point]) -> int:
        """The number that the first wedge has on the image, where wedges are counted the other way."""
        old = fit(self._before, [self._before.slide_into(at) for at in anchors], settings)
        new = fit(self._after, [self._after.slide_into(self._to.point(at)) for at in anchors], moved)
        firsts = [at for number, at in _middles(old) if number == settings.first_wedge]
        there = _middles(new)
        if not firsts or not there:
            return settings.first_wedge
        image = self._to.point(firsts[0])
        return min(there, key=lambda item: distance(item[1], image))[0]


def _middles(fitted: Fit) -> list[tuple[int, Point]]:
    """Of every wedge its number and the middle of its side."""
    return [
        (wedge.number, (float(wedge.side[:, 0].mean()), float(wedge.side[:, 1].mean())))
        for fan in fitted.fans
        for wedge in fan.wedges
    ]


def _bare(settings: Settings) -> Settings:
    """Without anything that was done to single marks or sides."""
    return dataclasses.replace(settings, own_marks=(), removed_marks=(), side_spans=(), merged_spans=())


def _usual(settings: Settings) -> Settings:
    return dataclasses.replace(settings, own_marks=(), removed_marks=())


def _marks(patch: Patch, settings: Settings) -> list[Mark]:
    return [mark for edge in ground_of(patch, settings).marked for mark in edge.marks]


def _sides(patch: Patch, settings: Settings) -> list[Side]:
    return [side for edge in ground_of(patch, settings).marked for side in edge.sides]


def _mark_at(marks: Iterable[Mark], at: Point) -> Mark:
    return min(marks, key=lambda mark: distance(mark.at, at))


def _nearest(at: Point, sides: Iterable[Side]) -> Side:
    return min(sides, key=lambda side: distance(side.middle, at))


def _order(side: Side) -> tuple[int, str]:
    return (len(side.letter), side.letter)
