"""The one door: patch + anchor + settings -> Fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, cast

import numpy as np
import shapely
from shapely import Polygon

from geometry.echo import echoes_keep_off, held_back, with_echoes
from geometry.errors import AnchorError
from geometry.estimate import Totals, estimate
from geometry.fan import Fan, Lost, wedges_of
from geometry.findings import (
    Code,
    Finding,
    Level,
    crowded_anchor,
    dropped_echoes,
    lost_wedges,
    near_centre,
    no_room,
    open_area,
    out_of_sight_finding,
    pinched,
    repairs,
    wedge_findings,
    wobble_risks,
)
from geometry.ground import Ground, ground_of
from geometry.marks import mark_edges
from geometry.patch import Patch, Place
from geometry.sectors import sectors_of
from geometry.settings import Settings
from geometry.stitch_path import StitchPath, stitch_path
from geometry.stitchable import overlay_grid
from geometry.tolerances import LEAST_PART, ON_EDGE
from geometry.types import Point
from geometry.visibility import (
    Edges,
    View,
    edges_of,
    joined_edges,
    reversed_edges,
    see,
    seen_area,
    seen_polygon,
)

if TYPE_CHECKING:
    from geometry.regions import Division


@dataclass(frozen=True, slots=True, eq=False)
class OutOfSight:
    """Stitchable area that no straight line from an anchor reaches."""

    share: float
    """0 to 1, of the whole stitchable area."""
    areas: tuple[Polygon, ...]
    """The pieces, largest first, mm."""


@dataclass(frozen=True, eq=False)
class Fit:
    """Everything computed for one patch. Immutable; it travels whole, and nobody recomputes it.

    Echoes, path, totals and the largest open area are worked out when first asked for: a hand that drags the
    anchor does not wait for them.
    """

    patch: Patch
    anchors: tuple[Point, ...]
    settings: Settings
    stitchable: tuple[Polygon, ...]
    """Parts of the stitchable area, largest first; empty where there is no room."""
    prompt_fans: tuple[Fan, ...]
    """As ``fans``, but without echoes."""
    out_of_sight: OutOfSight
    prompt_findings: tuple[Finding, ...]
    """All findings but ``open-area``, which takes as long as the rest of the fit, and those that echoes
    decide: ``echo-dropped``, and ``crowded-anchor`` where echoes may come so near to it."""
    lost_area: float
    """mm² of what lost spans could have held."""
    whole_fans: tuple[Fan, ...]
    """As ``prompt_fans``, but not cut at the hold-back."""

    @cached_property
    def fans(self) -> tuple[Fan, ...]:
        """The fan of each anchor that has one."""
        if not self.settings.echo_count:
            return self.prompt_fans
        return tuple(
            replace(fan, wedges=with_echoes(fan.anchor, fan.wedges, self.settings)) for fan in self.whole_fans
        )

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, ``open-area`` last."""
        prompt, fans, settings = self.prompt_findings, self.fans, self.settings
        at = next((i for i, finding in enumerate(prompt) if finding.code in _LAST), len(prompt))
        late = [finding for fan in fans for finding in dropped_echoes(fan.wedges, settings)]
        for fan in fans:
            if not echoes_keep_off(fan.wedges, settings):
                late += crowded_anchor(fan, settings)
        hidden = self.out_of_sight.share * sum(part.area for part in self.stitchable)
        found = open_area(self.patch, fans, hidden, self.lost_area, settings)
        return (*prompt[:at], *late, *prompt[at:], *found)

    @cached_property
    def path(self) -> StitchPath:
        """The one line through all fans."""
        return stitch_path(self.fans, self.settings, self.patch.polygon, self.stitchable)

    @cached_property
    def totals(self) -> Totals:
        """Its thread, bobbins and time, once."""
        return estimate(self.path, self.settings)

    @property
    def has_hops(self) -> bool:
        """True where the path may hold a hop or travel; without, it is legs and sides alone."""
        return bool(
            self.settings.hold_back
            or self.settings.start is not None
            or len(self.fans) > 1
            or self.settings.echo_count
        )

    @property
    def fits(self) -> bool:
        """True where no finding is a problem."""
        return all(finding.level is not Level.PROBLEM for finding in self.findings)


_LAST = (Code.CROWDED_ANCHOR, Code.NEAR_CENTRE, Code.REPAIRED, Code.SIMPLIFIED)
"""What is said of the anchors and the outline comes after what is said of wedges."""


def fit(patch: Patch, anchor: Point | Sequence[Point], settings: Settings | None = None) -> Fit:
    """Compute the fan of ``patch`` from ``anchor``, or one fan for each of several anchors.

    ``anchor`` is (x, y) in mm, anywhere in the patch, its seam and corners included (within
    ``tolerances.ON_EDGE``), or a sequence of such points. With ``settings.divide`` more anchors are added
    where those given do not see enough, and none need be given. Raises ``AnchorError`` where one is outside
    or not finite.
    """
    settings = settings or Settings()
    anchors = _all_checked(patch, anchor, none=settings.divide)
    ground = ground_of(patch, settings)
    if not ground.parts:
        finding = no_room(patch, settings)
        return _finish(patch, anchors, settings, ground, (), OutOfSight(0.0, ()), (finding,))
    if len(anchors) > 1 or settings.divide:
        from geometry.regions import divide

        division = divide(anchors, ground, settings)
        if len(division.regions) > 1:
            return _fit_regions(patch, anchors, settings, ground, division)
        if division.regions:
            return _fit_one(patch, anchors, division.regions[0].anchor, settings, ground)
    anchors = anchors or (patch.slide_into(patch.centre),)
    return _fit_one(patch, anchors, anchors[0], settings, ground)


def _fit_one(
    patch: Patch, anchors: tuple[Point, ...], anchor: Point, settings: Settings, ground: Ground
) -> Fit:
    """One fan, of ``anchor``; others of ``anchors`` have no room for theirs."""
    if anchor not in anchors:
        anchors = (*anchors, anchor)
    part = ground.part_at(anchor)
    polygon, marked = ground.parts[part], ground.marked[part]
    outside = bool(shapely.distance(polygon, shapely.Point(anchor)) > ON_EDGE)
    view = see(anchor, ground.edges[part], outside, ground.walls(part) if outside else None)
    wedges, lost = wedges_of(anchor, sectors_of(view, marked), marked, settings)
    fan = Fan(anchor, polygon, marked.marks, wedges)
    unseen = _out_of_sight(anchor, view, ground, part, outside)
    findings = (
        *pinched(ground.parts, part, ground.area),
        *out_of_sight_finding(unseen.share, unseen.areas, ground.parts, part, settings),
        *wedge_findings(wedges, settings),
        *lost_wedges(_reported(lost, fan, settings), settings),
        *wobble_risks(wedges, settings),
    )
    lost_area = sum(piece.area for piece in lost)
    return _finish(patch, anchors, settings, ground, (fan,), unseen, findings, lost_area)


def _fit_regions(
    patch: Patch, anchors: tuple[Point, ...], settings: Settings, ground: Ground, division: Division
) -> Fit:
    """A fan for each region; letters, and the numbers of the wedges, run on over all of them."""
    regions = tuple(region.polygon for region in division.regions)
    fans: list[Fan] = []
    short: list[Finding] = []
    gone: list[Finding] = []
    risks: list[Finding] = []
    lost_area = 0.0
    count = 0
    edges = [edges_of(region) for region in regions]
    for number, marked in enumerate(mark_edges(regions, patch.polygon, settings)):
        at, polygon = division.regions[number].anchor, regions[number]
        outside = bool(shapely.distance(polygon, shapely.Point(at)) > ON_EDGE)
        others = [reversed_edges(other) for i, other in enumerate(edges) if i != number]
        walls = joined_edges([ground.seam, *others]) if outside else None
        view = see(at, Edges(marked.start, marked.end), outside, walls)
        wedges, lost = wedges_of(at, sectors_of(view, marked), marked, settings)
        wedges = tuple(replace(wedge, number=wedge.number + count) for wedge in wedges)
        count += len(wedges)
        fan = Fan(at, polygon, marked.marks, wedges)
        fans.append(fan)
        short += wedge_findings(wedges, settings)
        gone += lost_wedges(_reported(lost, fan, settings), settings)
        lost_area += sum(piece.area for piece in lost)
        risks += wobble_risks(wedges, settings)
    unseen = OutOfSight(division.share, division.unseen)
    findings = (
        *pinched(division.bare, -1, ground.area),
        *out_of_sight_finding(unseen.share, unseen.areas, division.bare, -1, settings),
        *short,
        *gone,
        *risks,
    )
    added = tuple(region.anchor for region in division.regions if region.anchor not in anchors)
    return _finish(patch, (*anchors, *added), settings, ground, tuple(fans), unseen, findings, lost_area)


def _finish(
    patch: Patch,
    anchors: tuple[Point, ...],
    settings: Settings,
    ground: Ground,
    whole: tuple[Fan, ...],
    unseen: OutOfSight,
    findings: tuple[Finding, ...],
    lost: float = 0.0,
) -> Fit:
    fans = tuple(replace(fan, wedges=held_back(fan.anchor, fan.wedges, settings)) for fan in whole)
    sure = (fan for fan in fans if echoes_keep_off(fan.wedges, settings))
    findings = (
        *findings,
        *(finding for fan in sure for finding in crowded_anchor(fan, settings)),
        *near_centre(patch, anchors),
        *repairs(patch),
    )
    return Fit(patch, anchors, settings, ground.parts, fans, unseen, findings, lost, whole)


def _all_checked(patch: Patch, anchor: Point | Sequence[Point], none: bool) -> tuple[Point, ...]:
    if len(anchor) == 0:
        if none:
            return ()
        raise AnchorError("there is none", where="anchor", do="give at least one point of the patch")
    if isinstance(anchor[0], (int, float)) or np.ndim(anchor[0]) == 0:
        return (_checked(patch, cast(Point, anchor)),)
    return tuple(_checked(patch, each) for each in cast(Sequence[Point], anchor))


def _checked(patch: Patch, anchor: Point) -> Point:
    x, y = float(anchor[0]), float(anchor[1])
    if not (math.isfinite(x) and math.isfinite(y)):
        raise AnchorError(f"({x}, {y}) is no place", where="anchor", do="give two finite numbers in mm")
    if patch.locate((x, y)) is Place.OUTSIDE:
        nearest = patch.slide_into((x, y))
        raise AnchorError(
            f"({x:g}, {y:g}) mm lies outside the patch",
            where="anchor",
            do=f"move it onto the seam or inside it, for example to ({nearest[0]:.3f}, {nearest[1]:.3f}) mm",
        )
    return x, y


def _out_of_sight(anchor: Point, view: View, ground: Ground, part: int, outside: bool) -> OutOfSight:
    """What no line reaches: of the fan's own part all that is not seen, and the other parts whole."""
    polygon = ground.parts[part]
    others = tuple(p for i, p in enumerate(ground.parts) if i != part)
    hidden = 0.0 if outside else polygon.area - seen_area(view)
    areas: list[Polygon] = []
    if outside or hidden > LEAST_PART:
        seen = seen_polygon(anchor, view)
        unseen = Polygon() if outside else shapely.difference(polygon, seen)
        if outside or abs(unseen.area - hidden) > LEAST_PART:
            # Where edges nearly coincide GEOS may answer with the whole; on a grid it does not.
            unseen = shapely.difference(polygon, seen, grid_size=overlay_grid(polygon))
        areas = [
            piece
            for piece in shapely.get_parts(unseen)
            if piece.geom_type == "Polygon" and piece.area > LEAST_PART
        ]
        if outside:
            hidden = float(unseen.area)
    areas += others
    areas.sort(key=lambda piece: -piece.area)
    hidden = max(0.0, hidden) + sum(p.area for p in others)
    return OutOfSight(min(1.0, hidden / ground.area) if hidden > LEAST_PART else 0.0, tuple(areas))


def _reported(lost: tuple[Lost, ...], fan: Fan, settings: Settings) -> tuple[Lost, ...]:
    """One of each span: the longest piece lost, unless the span has its wedge and what is lost beside it
    is shorter than what can be seen as a wedge."""
    have = {wedge.span for wedge in fan.wedges}
    longest: dict[tuple[str, str], Lost] = {}
    for piece in lost:
        known = longest.get(piece.span)
        if known is None or piece.length > known.length:
            longest[piece.span] = piece
    return tuple(
        piece for span, piece in longest.items() if span not in have or piece.length >= settings.visible_width
    )
