"""Several anchors in one patch: which part of the stitchable area each fan fills.

Every region is what its anchor sees of the room that the other regions leave it, so that all of it can be
filled with wedges; a gap lies between any two.

Own anchors first divide the stitchable area by nearness: each takes what it sees of its Voronoi cell, less
half a gap along the cell's borders. Then each takes what is left over and in its sight.

The automatic division goes on from there, or from nothing: the place that sees most of what is left gets the
next fan, what it sees is cut out together with a gap around it, and the rest is divided again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from geometry.findings import OUT_OF_SIGHT_LIMIT
from geometry.ground import Ground
from geometry.kernel import kernel
from geometry.settings import Settings
from geometry.stitchable import MITRE_LIMIT, overlay_grid
from geometry.tolerances import LEAST_PART, ON_EDGE, SAME_POINT
from geometry.triangulation import see_from_all, seen_areas, triangulate
from geometry.types import Point, Points
from geometry.visibility import Edges, edges_of, joined_edges, reversed_edges, see, seen_polygon

_Area: TypeAlias = Polygon | MultiPolygon

_CANDIDATES = 300
"""Places tried in one piece of what is left, about."""
_WORK = 400_000
"""Places tried times vertices of the piece, at most; large outlines get fewer places."""
_FEWEST = 40
_AS_GOOD = (0.002, 0.04, 0.12)
"""Shares of the largest area in sight: of places that see as much but for this, the one with most room
around it wins. A larger share gives anchors that stand freer, but may take more fans; so all are tried."""
_TRIED_AGAIN = 12
"""Fans up to which a division is tried again for freer anchors."""


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """What one fan fills."""

    anchor: Point
    polygon: Polygon
    """One polygon, oriented; all of it is in sight of the anchor."""
    claim: _Area
    """The same with the way from an anchor in the margin."""


@dataclass(frozen=True, slots=True, eq=False)
class Division:
    """Regions one gap apart from each other, and what none of them reaches."""

    regions: tuple[Region, ...]
    unseen: tuple[Polygon, ...]
    """Largest first. Strips between two regions, which their gap takes, are not among them."""
    bare: tuple[Polygon, ...]
    """Parts of the stitchable area without a region; each is one of ``unseen`` too."""
    share: float
    """Unseen, 0 to 1 of the stitchable area."""


def divide(anchors: Sequence[Point], ground: Ground, settings: Settings) -> Division:
    """Regions for ``anchors`` (n, all in the patch), and with ``settings.divide`` for as many more as it
    takes to see 99 % of the stitchable area, and some of each of its parts.

    The first regions are those of ``anchors``, in order. An anchor that sees nothing, or that stands less
    than a gap from one before it, has none.
    """
    if not settings.divide:
        room = _Room(ground, settings.gap)
        room.take_own(anchors)
        return room.division()
    if anchors:  # one of them may be dragged: no time for several tries
        return _filled(anchors, ground, settings, _AS_GOOD[1])
    found = _filled((), ground, settings, _AS_GOOD[0])
    if 1 < len(found.regions) <= _TRIED_AGAIN:
        found = _freest(found, ground, settings)
    most = sum((shapely.get_num_coordinates(part) - 1) // 3 for part in ground.parts)
    if len(found.regions) > most and not any(part.interiors for part in ground.parts):
        other = _Room(ground, settings.gap)
        for part in ground.parts:
            _take_coloured(other, part)
        answer = other.division()
        if answer.share <= OUT_OF_SIGHT_LIMIT and len(answer.regions) < len(found.regions):
            return answer
    return found


class _Room:
    """The stitchable area with the regions taken so far."""

    def __init__(self, ground: Ground, gap: float) -> None:
        self.ground = ground
        self.gap = gap
        self.whole: _Area = MultiPolygon(list(ground.parts))
        self.regions: list[Region] = []
        self.kept_clear: list[_Area] = []
        """Each region with the gap around it."""
        self._taken: _Area = Polygon()
        self._free: _Area = self.whole
        self._unseen: _Area = self.whole

    def take_own(self, anchors: Sequence[Point]) -> None:
        apart: list[Point] = []
        for x, y in anchors:
            if all(math.hypot(x - u, y - v) >= max(self.gap, SAME_POINT) for u, v in apart):
                apart.append((x, y))
        for anchor in apart:
            claim = _sight(anchor, self.whole, self._walls(Polygon()))
            others = [other for other in apart if other is not anchor]
            claim = _both(claim, _cell(anchor, others, self.gap, self.whole))
            self._add(anchor, claim)
        for number, region in enumerate(self.regions):
            rest = [area for i, area in enumerate(self.kept_clear) if i != number]
            if not rest:
                continue
            closed = _less(_all_of(rest), region.claim)
            free = _less(self.whole, closed)
            claim = _sight(region.anchor, free, self._walls(closed))
            grown = self._region(region.anchor, claim, free)
            if grown is not None and grown.polygon.area > region.polygon.area:
                self.regions[number] = grown
                self.kept_clear[number] = self._clear(grown)
        self._taken, self._free, self._unseen = Polygon(), self.whole, self.whole
        for region, clear in zip(self.regions, self.kept_clear, strict=True):
            self._enter(region, clear)

    def add(self, anchor: Point, piece: Polygon) -> None:
        """The region of an anchor inside ``piece`` of what is left."""
        self._add(anchor, _sight(anchor, piece, None))

    def _add(self, anchor: Point, claim: _Area) -> None:
        region = self._region(anchor, claim, self.whole)
        if region is not None:
            self.regions.append(region)
            self.kept_clear.append(self._clear(region))
            self._enter(region, self.kept_clear[-1])

    def _enter(self, region: Region, clear: _Area) -> None:
        """Take ``region`` out of what is free and unseen, and what lies between it and those before it."""
        between = _both(self._taken, clear)
        self._unseen = _less(_less(self._unseen, region.polygon), between)
        self._free = _less(self._free, clear)
        self._taken = _all_of([self._taken, clear])

    def _region(self, anchor: Point, claim: _Area, area: _Area) -> Region | None:
        here = shapely.Point(anchor)
        outside = shapely.distance(area, here) > ON_EDGE
        seen = _both(claim, area) if outside else claim
        pieces = _pieces(seen)
        if not pieces:
            return None
        away = [float(shapely.distance(piece, here)) for piece in pieces]
        near = [piece for piece, far in zip(pieces, away, strict=True) if far <= min(away) + SAME_POINT]
        # corners a step or two of the grid apart are one: an edge between them has no direction to speak of
        steps = 10 * overlay_grid(area)
        polygon = _without_hairs(max(near, key=lambda piece: piece.area), steps)
        polygon = _in_line(anchor, shapely.orient_polygons(polygon), steps)
        return Region(anchor, polygon, _with_way(anchor, polygon) if outside else polygon)

    def _clear(self, region: Region) -> _Area:
        if not self.gap:
            return region.claim
        clear = _grown(region.claim, self.gap)
        # GEOS leaves out points that hardly bend an outline before it grows it, and comes out short by that.
        short = self.gap - float(shapely.distance(region.claim, shapely.boundary(clear)))
        return _grown(region.claim, self.gap + 2 * short) if short > SAME_POINT else clear

    def _walls(self, closed: _Area) -> Edges:
        """What stops a line on its way through the margin: the seam, and ``closed``."""
        pieces = _pieces(closed)
        return joined_edges([self.ground.seam, *(reversed_edges(_edges(piece)) for piece in pieces)])

    def left(self) -> list[Polygon]:
        """Pieces in which another region could be."""
        return _pieces(self._free)

    def left_of(self, area: _Area) -> list[Polygon]:
        """Pieces of ``area`` that are left."""
        return _pieces(_both(area, self._free))

    def unseen(self) -> list[Polygon]:
        """What is in no region, nor between two."""
        return _pieces(self._unseen)

    def bare(self) -> list[Polygon]:
        """Parts of the stitchable area without a region."""
        inside = [region.polygon.representative_point() for region in self.regions]
        return [part for part in self.ground.parts if not shapely.intersects(part, inside).any()]

    def division(self) -> Division:
        bare = self.bare()
        pieces = self.unseen()
        # A part without a region stands among them as itself, so that it can be told from the others.
        others = [
            piece for piece in pieces if not shapely.intersects(bare, piece.representative_point()).any()
        ]
        unseen = sorted([*others, *bare], key=lambda piece: -piece.area)
        share = sum(piece.area for piece in unseen) / self.ground.area if unseen else 0.0
        return Division(tuple(self.regions), tuple(unseen), tuple(bare), min(1.0, share))


def _grown(area: _Area, by: float) -> _Area:
    return shapely.buffer(area, by, join_style="mitre", mitre_limit=MITRE_LIMIT)


def _cell(anchor: Point, others: Sequence[Point], gap: float, area: _Area) -> Polygon:
    """What is nearer to ``anchor`` than to each of ``others``, by half a gap at the least, as far as
    ``area`` reaches."""
    left, top, right, bottom = shapely.bounds(shapely.union(area, shapely.Point(anchor)))
    size = 2 * (right - left + bottom - top) + 1.0
    x, y = anchor
    cell: Polygon = shapely.box(x - size, y - size, x + size, y + size)
    for u, v in others:
        away = math.hypot(u - x, v - y)
        towards = np.array([u - x, v - y]) / away
        across = np.array([-towards[1], towards[0]]) * 2 * size
        border = np.array(anchor) + towards * (away - gap) / 2
        back = border - towards * 4 * size
        cell = _both(cell, Polygon([border - across, border + across, back + across, back - across]))
    return cell


def _sight(anchor: Point, area: _Area, walls: Edges | None) -> _Area:
    """What ``anchor`` sees of ``area``, with the way to it where it lies outside (``walls`` stop it)."""
    pieces = _pieces(area)
    if not pieces:
        return Polygon()
    edges = joined_edges([_edges(piece) for piece in pieces])
    outside = bool(shapely.distance(area, shapely.Point(anchor)) > ON_EDGE)
    seen = seen_polygon(anchor, see(anchor, edges, outside, walls if outside else None))
    return MultiPolygon(_pieces(seen))


def _in_line(anchor: Point, polygon: Polygon, off: float) -> Polygon:
    """``polygon`` with those edges exactly in line with ``anchor`` that are so but for ``off`` mm.

    Borders of what the anchor sees are, and the grid leaves them askew by more than ``SAME_DIRECTION``: a
    sliver would then part the wedges beside them.
    """

    def straight(ring: shapely.LinearRing) -> Points:
        at = shapely.get_coordinates(ring)[:-1] - anchor
        away = np.hypot(at[:, 0], at[:, 1])
        nxt = np.roll(np.arange(len(at)), -1)
        cross = at[:, 0] * at[nxt, 1] - at[:, 1] * at[nxt, 0]
        far = np.maximum(away, away[nxt])
        same_way = (at * at[nxt]).sum(axis=1) > 0
        for i in np.flatnonzero(same_way & (np.abs(cross) <= off * far) & (cross != 0)).tolist():
            near, beyond = sorted((i, int(nxt[i])), key=away.__getitem__)
            if away[near] > ON_EDGE:
                at[near] = at[beyond] * (at[near] @ at[beyond] / away[beyond] ** 2)
        moved: Points = at + anchor
        return moved

    made = Polygon(straight(polygon.exterior), [straight(hole) for hole in polygon.interiors])
    return made if made.is_valid else polygon


def _without_hairs(polygon: Polygon, thin: float) -> Polygon:
    """``polygon`` without repeated points, and without tips no wider than ``thin`` mm, in or out: the grid
    leaves some where two borders run along each other, and a mark on one would be a mark nobody can see."""

    def cleaned(ring: shapely.LinearRing) -> Points:
        at: Points = shapely.get_coordinates(ring)[:-1]
        while len(at) > 2:
            on, back = np.roll(at, -1, axis=0) - at, np.roll(at, 1, axis=0) - at
            longer = np.maximum(np.hypot(*on.T), np.hypot(*back.T))
            width = np.abs(on[:, 0] * back[:, 1] - on[:, 1] * back[:, 0])
            hairs = np.flatnonzero(((on * back).sum(axis=1) > 0) & (width <= thin * longer))
            if not len(hairs):
                break
            at = np.delete(at, hairs[0], axis=0)
            at = shapely.get_coordinates(shapely.remove_repeated_points(shapely.linearrings(at), thin))[:-1]
        return at

    polygon = shapely.remove_repeated_points(polygon, thin)
    rings = [cleaned(ring) for ring in (polygon.exterior, *polygon.interiors)]
    made = Polygon(rings[0], [ring for ring in rings[1:] if len(ring) > 2]) if len(rings[0]) > 2 else polygon
    return made if made.is_valid else polygon


def _with_way(anchor: Point, polygon: Polygon) -> _Area:
    """``polygon`` and all straight lines to it from ``anchor`` outside it."""
    edges = _edges(polygon)
    corners = np.stack([np.broadcast_to(anchor, edges.start.shape), edges.start, edges.end], axis=1)
    ways = shapely.polygons(corners)
    return _all_of([polygon, *ways[shapely.area(ways) > 0]])


def _less(area: _Area, other: _Area) -> _Area:
    """``area`` without ``other``."""
    return MultiPolygon(_pieces(shapely.difference(area, other, grid_size=overlay_grid(area, other))))


def _both(area: _Area, other: _Area) -> _Area:
    """What ``area`` and ``other`` have in common; lines and points where they only touch are left out."""
    return MultiPolygon(_pieces(shapely.intersection(area, other, grid_size=overlay_grid(area, other))))


def _all_of(areas: Sequence[_Area]) -> _Area:
    return MultiPolygon(_pieces(shapely.union_all(areas, grid_size=overlay_grid(*areas))))


def _edges(piece: Polygon) -> Edges:
    return edges_of(shapely.orient_polygons(piece))


def _pieces(area: _Area) -> list[Polygon]:
    """The polygons of ``area``, without what is only rounding; largest first."""
    found = [
        piece
        for piece in shapely.get_parts(area).tolist()
        if piece.geom_type == "Polygon" and piece.area > LEAST_PART
    ]
    found.sort(key=lambda piece: -piece.area)
    return found


# ----------------------------------------------------------------------------------- the automatic division


def _filled(anchors: Sequence[Point], ground: Ground, settings: Settings, as_good: float) -> Division:
    """The division that begins with ``anchors`` and takes what sees most next, but for ``as_good``."""
    room = _Room(ground, settings.gap)
    room.take_own(anchors)
    _fill(room, settings, as_good)
    return room.division()


def _freest(found: Division, ground: Ground, settings: Settings) -> Division:
    """``found``, or of those with no more fans the one whose anchors stand freest."""

    def free(division: Division) -> float:
        """Room around the anchor that has least, for the size of its region."""
        return min(
            float(shapely.distance(region.polygon.boundary, shapely.Point(region.anchor)))
            / math.sqrt(region.polygon.area)
            for region in division.regions
        )

    best, most = found, free(found)
    for as_good in _AS_GOOD[1:]:
        other = _filled((), ground, settings, as_good)
        if len(other.regions) > len(best.regions) or other.share > max(OUT_OF_SIGHT_LIMIT, found.share):
            continue
        room = free(other)
        if room > most or len(other.regions) < len(best.regions):
            best, most = other, room
    return best


def _fill(room: _Room, settings: Settings, as_good: float) -> None:
    """Add regions, the largest first, until enough is in sight."""
    least = (settings.visible_width / 2) ** 2 + LEAST_PART
    known: dict[bytes, tuple[float, Point]] = {}
    while True:
        pieces = [piece for piece in room.left() if piece.area > least]
        bare = room.bare()
        if sum(piece.area for piece in room.unseen()) <= OUT_OF_SIGHT_LIMIT * room.ground.area:
            # What else there is lies in parts that have no fan yet.
            pieces = [piece for piece in pieces if any(shapely.intersects(part, piece) for part in bare)]
        best: tuple[float, Point, Polygon] | None = None
        for piece in pieces:
            if best is not None and piece.area <= best[0]:
                break  # none of the smaller ones can show more
            key = shapely.to_wkb(piece)
            if key not in known:
                known[key] = _most_open(piece, room.gap, as_good)
            area, anchor = known[key]
            if best is None or area > best[0]:
                best = area, anchor, piece
        if best is None or best[0] <= least:
            return
        before = len(room.regions)
        room.add(best[1], best[2])
        if len(room.regions) == before:
            return


def _take_coloured(room: _Room, part: Polygon) -> None:
    """A region at every third corner of ``part`` (without holes) or fewer, and all of it is in sight.

    The corners of a triangulation take three colours such that every triangle has all three; the triangles
    around the corners of the rarest colour make the regions (Fisk 1978, Chvátal's bound; from memory). The
    largest-first division needs fewer nearly always, but now and then one more.
    """
    shapes = shapely.get_parts(shapely.constrained_delaunay_triangles(part)).tolist()
    corners = [[(x, y) for x, y in shapely.get_coordinates(shape)[:3].tolist()] for shape in shapes]
    at_side: dict[frozenset[Point], list[int]] = {}
    for number, triangle in enumerate(corners):
        for i in range(3):
            at_side.setdefault(frozenset((triangle[i - 1], triangle[i])), []).append(number)
    colour: dict[Point, int] = {corner: i for i, corner in enumerate(corners[0])}
    waiting = [0]
    done = {0}
    while waiting:
        triangle = corners[waiting.pop()]
        for i in range(3):
            for beyond in at_side[frozenset((triangle[i - 1], triangle[i]))]:
                if beyond not in done:
                    done.add(beyond)
                    waiting.append(beyond)
                    tip = next(c for c in corners[beyond] if c not in (triangle[i - 1], triangle[i]))
                    colour[tip] = 3 - colour[triangle[i - 1]] - colour[triangle[i]]
    rarest = min(range(3), key=lambda which: sum(value == which for value in colour.values()))
    for corner in [corner for corner, value in colour.items() if value == rarest]:
        around = [shape for shape, triangle in zip(shapes, corners, strict=True) if corner in triangle]
        pieces = room.left_of(_all_of(around))
        if pieces:
            room.add(_most_open(pieces[0], room.gap, _AS_GOOD[0])[1], pieces[0])


def _most_open(piece: Polygon, gap: float, as_good: float) -> tuple[float, Point]:
    """The place in ``piece`` that sees most of it, and how much that is in mm²; of all that see as much, but
    for the share ``as_good``, the one with most room around it."""
    whole = kernel(piece)
    if whole is not None:
        x, y = shapely.get_coordinates(shapely.centroid(whole))[0].tolist()
        return piece.area, (x, y)
    count = int(min(max(_WORK / shapely.get_num_coordinates(piece), _FEWEST), _CANDIDATES))
    step = math.sqrt(piece.area / count)
    area = triangulate(piece)
    left, top, right, bottom = piece.bounds
    x, y = np.meshgrid(np.arange(left + step / 2, right, step), np.arange(top + step / 2, bottom, step))
    inside = piece.representative_point()
    tried = [np.column_stack([x.ravel(), y.ravel()]), np.array([[inside.x, inside.y]])]
    tried.append(_around_corners(piece, (min(gap, step) / 4, step / 2), count // 2))
    places = np.concatenate(tried)
    known = np.zeros((0, 4))  # x, y, mm² in sight, mm of room
    best = np.array([inside.x, inside.y, 0.0, 0.0])
    for _ in range(3):
        places = places[shapely.contains_xy(piece, places)]
        room = shapely.distance(shapely.points(places), piece.boundary)
        places, room = places[room > ON_EDGE], room[room > ON_EDGE]
        if not len(places):
            break
        seen = seen_areas(see_from_all(area, places), len(places))
        known = np.concatenate([known, np.column_stack([places, seen, room])])
        good = known[known[:, 2] >= (1 - as_good) * known[:, 2].max()]
        best = good[int(good[:, 3].argmax())]
        step /= 3
        steps = np.arange(-3, 4) * step
        x, y = np.meshgrid(best[0] + steps, best[1] + steps)
        places = np.column_stack([x.ravel(), y.ravel()])
    return float(best[2]), (float(best[0]), float(best[1]))


def _around_corners(piece: Polygon, distances: tuple[float, float], most: int) -> Points:
    """Places beside the sharpest corners that point into ``piece``: along the middle between its two edges
    and along their extensions, where most comes into sight at once."""
    found = []
    for ring in (piece.exterior, *piece.interiors):
        points = shapely.get_coordinates(ring)[:-1]
        along = np.roll(points, -1, axis=0) - points
        along /= np.maximum(np.hypot(along[:, 0], along[:, 1]), SAME_POINT)[:, None]
        before = np.roll(along, 1, axis=0)
        turn = np.arctan2(
            before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0], (before * along).sum(axis=1)
        )
        found.append(np.column_stack([turn, points, before, along]))
    corners = np.concatenate(found)
    corners = corners[corners[:, 0] < -0.01]
    corners = corners[np.argsort(corners[:, 0])][: max(1, most // 6)]
    at, before, along = corners[:, 1:3], corners[:, 3:5], corners[:, 5:7]
    middle = before - along
    middle /= np.maximum(np.hypot(middle[:, 0], middle[:, 1]), SAME_POINT)[:, None]
    left = np.column_stack([-before[:, 1], before[:, 0]]) * 0.02
    back = np.column_stack([-along[:, 1], along[:, 0]]) * 0.02
    ways = [middle, before + left, back - along]
    return np.concatenate([at + distance * way for distance in distances for way in ways])
