"""What a DXF drawing encloses: outlines with their arcs and splines, hatches, and loops of loose lines."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import count
from typing import Any, Final, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from app.importing import ImportingError, Progress
from app.importing.fill_rule import FillRule, TangledError, polygons, refuse_tangles
from app.importing.source import MAX_OUTLINES
from app.sketch.translate import tr
from geometry.arc import arc
from geometry.tolerances import FLATTEN, LEAST_PART, MAX_SIZE
from geometry.types import Points

JOIN: Final = 0.1
"""mm: ends of loose lines no further apart are one; a third of a pen line."""

Shape: TypeAlias = tuple[str, Polygon]
"""Layer, and polygon in mm."""


MAX_POINTS: Final = 500_000
"""Most corners of everything that is drawn."""

FAR: Final = 1e12
"""mm: nothing is drawn further off; there are drawings in the coordinates of a whole country, in metres."""

_COARSEST: Final = 1e-6
"""Of a curve's size: what is no larger than a patch, ``MAX_SIZE``, is finer by ``FLATTEN`` all the same."""

_MOST_DEGREES: Final = 25
"""Of a spline; drawing programs stop at 11 (from memory)."""

_MOST_NEAR: Final = 5_000_000
"""Pairs of different ends that may lie within ``JOIN``."""

_MOST_LAYERS: Final = 2_000
"""Layers with loose lines; those of each are joined by themselves, which takes a millisecond."""

_FACES: Final = 4 * MAX_OUTLINES
"""Most that loose lines of a layer may close; what is smaller than any patch is among them."""

_AT_ONCE: Final = 50_000
"""Lines made in one go: some hundredths of a second."""


@dataclass(slots=True)
class Found:
    """What is drawn, in mm, y down."""

    scale: float
    """mm per unit."""
    closed: list[tuple[str, Points]] = field(default_factory=list)
    hatched: list[tuple[str, list[Points]]] = field(default_factory=list)
    loose: list[tuple[str, Points]] = field(default_factory=list)
    points: int = 0
    joined: float = 0.0
    """mm: the widest gap that was closed between two ends of loose lines."""
    tangled: int = 0
    """Outlines that cross themselves too often to be worked out."""

    @property
    def reach(self) -> float:
        """mm: how wide or high everything is, whichever is more; 0 where there is nothing."""
        rings = [points for _, points in (*self.closed, *self.loose)]
        rings += [ring for _, each in self.hatched for ring in each]
        if not rings:
            return 0.0
        least = np.min([ring.min(axis=0) for ring in rings], axis=0)
        most = np.max([ring.max(axis=0) for ring in rings], axis=0)
        return float((most - least).max())

    @np.errstate(over="ignore", invalid="ignore")  # in the library's splines; no point is kept that is none
    def take(self, entity: Any, layer: str) -> None:
        """Add what ``entity`` draws. Raises ``ValueError``, and whatever else the library raises, where that
        is nothing that can be worked out.
        """
        match entity.dxftype():
            case "LWPOLYLINE":
                corners = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
                self._polyline(entity, layer, corners, bool(entity.closed))
            case "POLYLINE":
                if entity.is_2d_polyline:
                    corners = [
                        (vertex.dxf.location.x, vertex.dxf.location.y, vertex.dxf.get("bulge", 0.0))
                        for vertex in entity.vertices
                        if not vertex.dxf.get("flags", 0) & 16  # a control point of a spline's frame
                    ]
                    self._polyline(entity, layer, corners, bool(entity.is_closed))
                elif entity.is_3d_polyline:
                    self._add(layer, _flat(entity.points()), bool(entity.is_closed))
            case "CIRCLE":
                if entity.dxf.radius > 0:
                    fine = self._fine([entity.dxf.center], entity.dxf.radius)
                    self._add(layer, _flat(entity.flattening(fine)), True)
            case "ARC":
                if entity.dxf.radius > 0:
                    fine = self._fine([entity.dxf.center], entity.dxf.radius)
                    self._add(layer, _flat(entity.flattening(fine)), False)
            case "ELLIPSE":
                fine = self._fine([entity.dxf.center], _length(entity.dxf.major_axis))
                whole = math.isclose(
                    abs(entity.dxf.end_param - entity.dxf.start_param), math.tau, abs_tol=1e-9
                )
                self._add(layer, _flat(entity.flattening(fine, segments=16)), whole)
            case "SPLINE":
                fine = self._fine([*entity.control_points, *entity.fit_points])
                if entity.dxf.degree > _MOST_DEGREES or len(entity.knots) > MAX_POINTS:
                    raise ValueError("no curve that anyone has drawn")
                self._add(layer, _flat(entity.flattening(fine)), bool(entity.closed))
            case "LINE":
                self._add(layer, _flat((entity.dxf.start, entity.dxf.end)), False)
            case "SOLID" | "TRACE":
                self._add(layer, _flat(entity.wcs_vertices()), True)
            case "HATCH" | "MPOLYGON":
                rings = [ring for ring in self._hatch_rings(entity) if len(ring) >= 3]
                if rings:
                    self.hatched.append((layer, rings))

    def _fine(self, points: Iterable[Any], radius: float = 0.0) -> float:
        """Units: how far a chord may stray from a curve that lies within ``radius`` of ``points``.

        More where it is too large for a patch, whose corners would be beyond number. Raises ``ValueError``
        where it lies so far off that this is finer than its numbers are, or these are none.
        """
        corners = self._near(np.array([tuple(point) for point in points], dtype=np.float64))
        reach = float(radius) + (float(np.ptp(corners, axis=0).max()) if len(corners) else 0.0)
        if not reach * self.scale < FAR:  # NaN too
            raise ValueError("too large")
        return max(FLATTEN / self.scale, _COARSEST * reach)

    def _polyline(
        self, entity: Any, layer: str, corners: Sequence[tuple[float, float, float]], closed: bool
    ) -> None:
        ring = self._bulged(corners, closed)
        ocs = entity.ocs()
        if ocs.transform:
            elevation = float(entity.dxf.get("elevation", 0.0)) if entity.dxftype() == "LWPOLYLINE" else 0.0
            ring = _flat(ocs.points_to_wcs([(x, y, elevation) for x, y in ring.tolist()]))
        self._add(layer, ring, closed)

    def _bulged(self, corners: Sequence[tuple[float, float, float]], closed: bool) -> Points:
        """(k, 2) units, y up. A bulge is the tangent of a quarter of an arc's angle; above 0 it goes left."""
        pieces: list[Points] = []
        count = len(corners)
        for k, (x, y, bulge) in enumerate(corners):
            pieces.append(np.array([(x, y)]))
            if bulge and (closed or k + 1 < count):
                following = corners[(k + 1) % count]
                size = math.dist((x, y), following[:2]) * max(1.0, abs(float(bulge)))
                self._fine([(x, y), following[:2]], size)
                # An arc too large for a patch is made small first, or its corners would be beyond number.
                scale = min(self.scale, 2 * MAX_SIZE / size) if size > 0 else self.scale
                start, end = np.array((x, y)) * scale, np.array(following[:2]) * scale
                bow = bulge * math.dist(start, end) / 2
                between = arc((start[0], start[1]), (end[0], end[1]), bow)
                self._count(len(between))
                pieces.append(between / scale)
        return np.concatenate(pieces) if pieces else np.zeros((0, 2))

    def _hatch_rings(self, entity: Any) -> Iterator[Points]:
        ocs, elevation = entity.ocs(), entity.dxf.elevation.z
        for path in entity.paths:
            if hasattr(path, "vertices"):
                ring = self._bulged([(x, y, bulge) for x, y, bulge in path.vertices], True)
            else:
                pieces = [_flat(self._hatch_edge(edge)) for edge in path.edges]
                ring = np.concatenate(
                    _end_to_end([piece for piece in pieces if len(piece)]) or [np.zeros((0, 2))]
                )
            if ocs.transform:
                ring = _flat(ocs.points_to_wcs([(x, y, elevation) for x, y in ring.tolist()]))
            self._count(len(ring))
            yield self._mm(ring)

    def _hatch_edge(self, edge: Any) -> Iterable[Any]:
        kind = type(edge).__name__
        if kind == "LineEdge":
            return (edge.start, edge.end)
        tool = edge.construction_tool()
        if kind == "ArcEdge":
            return tuple(tool.flattening(self._fine([edge.center], edge.radius)))
        if kind == "EllipseEdge":
            return tuple(tool.flattening(self._fine([edge.center], _length(edge.major_axis)), 8))
        if edge.degree > _MOST_DEGREES:
            raise ValueError("no curve that anyone has drawn")
        return tuple(tool.flattening(self._fine(edge.control_points), 8))

    def _mm(self, points: Points) -> Points:
        moved: Points = self._near(points) * (self.scale, -self.scale)
        return moved

    def _near(self, points: Points) -> Points:
        if not float(np.abs(points).max(initial=0.0)) * self.scale < FAR:  # NaN too
            raise ValueError("too far off")
        return points

    def _count(self, points: int) -> None:
        self.points += points
        if self.points > MAX_POINTS:
            raise ImportingError(
                tr("its outlines have more than {limit} corners", limit=MAX_POINTS),
                do=tr("save only the layers with outlines"),
            )

    def _add(self, layer: str, points: Points, closed: bool) -> None:
        if not len(points):
            return
        self._count(len(points))
        placed = self._mm(points)
        met = len(placed) > 3 and math.dist(placed[0], placed[-1]) <= JOIN
        if (closed or met) and len(placed) >= 3:
            self.closed.append((layer, placed))
        elif len(placed) >= 2:
            self.loose.append((layer, placed))

    def shapes(self, progress: Progress | None = None) -> list[Shape]:
        """Hatches, outlines that are none of these, and loops of loose lines; no shape twice. To be asked
        once: loose lines are given up as they are joined, for the memory.

        ``progress`` is called now and then, as at the very end of the work; what it raises ends it.
        """
        kept = _Kept()
        told = count()
        for layer, rings in self.hatched:
            _tell(progress, next(told))
            for polygon in self._enclosed(rings, FillRule.EVENODD):
                kept.add(layer, polygon)
        for layer, ring in self.closed:
            _tell(progress, next(told))
            for polygon in self._enclosed([ring], FillRule.NONZERO):
                kept.add(layer, polygon)
        loose: dict[str, list[Points]] = {}
        for layer, line in self.loose:
            loose.setdefault(layer, []).append(line)
        if len(loose) > _MOST_LAYERS:
            raise ImportingError(
                tr("its lines lie on more than {limit} layers", limit=_MOST_LAYERS),
                do=tr("save only the layers with outlines"),
            )
        self.loose.clear()
        for layer in list(loose):
            lines = loose.pop(layer)
            lengths, points = np.array([len(line) for line in lines]), np.concatenate(lines)
            del lines
            _tell(progress, 0)
            try:
                faces, joined = _loops(points, lengths)
            except (TangledError, shapely.errors.GEOSException):
                self.tangled += 1
                continue
            self.joined = max(self.joined, joined)
            for face in faces:
                kept.add(layer, face)
        return kept.shapes

    def _enclosed(self, rings: Sequence[Points], rule: FillRule) -> list[Polygon]:
        try:
            return polygons(rings, rule)
        except TangledError:
            self.tangled += 1
            return []


def _tell(progress: Progress | None, number: int) -> None:
    if progress is not None and number % 100 == 0:
        progress(1, 1)


def _length(vector: Any) -> float:
    return math.hypot(*vector)


def _flat(points: Iterable[Any]) -> Points:
    """(n, 2) of the library's vectors."""
    return np.array([(point[0], point[1]) for point in points], dtype=np.float64).reshape(-1, 2)


def _end_to_end(pieces: Sequence[Points]) -> list[Points]:
    """Edges of one path, each turned so that it begins where the one before ends."""
    turned: list[Points] = []
    for piece in pieces:
        if turned:
            end = turned[-1][-1]
            back = math.dist(end, piece[-1]) < math.dist(end, piece[0])
        else:
            other = pieces[1] if len(pieces) > 1 else piece
            near = min(math.dist(piece[-1], each) for each in (other[0], other[-1]))
            back = len(pieces) > 1 and min(math.dist(piece[0], each) for each in (other[0], other[-1])) < near
        turned.append(piece[::-1] if back else piece)
    return turned


def _too_many_outlines() -> ImportingError:
    return ImportingError(
        tr("the file holds more than {limit} outlines", limit=MAX_OUTLINES),
        do=tr("choose layers, or split it into smaller files"),
    )


class _Kept:
    """Shapes, each once: a hatch often lies in an outline that is drawn as well."""

    def __init__(self) -> None:
        self.shapes: list[Shape] = []
        self._by_place: dict[tuple[int, int], list[tuple[tuple[float, ...], shapely.LinearRing]]] = {}

    def add(self, layer: str, polygon: Polygon) -> None:
        if polygon.area <= LEAST_PART:
            return
        if len(self.shapes) >= MAX_OUTLINES:
            raise _too_many_outlines()
        bounds = polygon.bounds
        cell = (round(bounds[0]), round(bounds[1]))
        near = [
            other
            for dx in (-1, 0, 1)
            for dy in (-1, 0, 1)
            for other in self._by_place.get((cell[0] + dx, cell[1] + dy), ())
        ]
        if any(
            math.dist(bounds, size) <= 4 * FLATTEN  # much quicker: most are not even as large
            and shapely.hausdorff_distance(polygon.exterior, ring) <= 2 * FLATTEN
            for size, ring in near
        ):
            return
        self._by_place.setdefault(cell, []).append((bounds, polygon.exterior))
        self.shapes.append((layer, polygon))


def _loops(points: Points, lengths: NDArray[np.intp]) -> tuple[list[Polygon], float]:
    """The faces that loose lines close, and the widest gap in mm that was closed between two ends.

    ``points``: (n, 2) mm, of all lines, one after the other; changed. ``lengths``: how many each has, 2 or
    more. Raises ``TangledError`` where they meet too often for that.
    """
    last = np.cumsum(lengths) - 1
    first = last - lengths + 1
    ends = np.stack([first, last], axis=1).reshape(-1)
    points[ends], widest = _joined(points[ends])
    gone = (lengths == 2) & (points[first] == points[last]).all(axis=1)
    which = np.repeat(np.arange(len(lengths)), lengths)
    points, which = points[~gone[which]], which[~gone[which]]
    if not len(points):
        return [], 0.0
    follows = which[1:] == which[:-1]
    refuse_tangles(shapely.STRtree(_lines(np.stack([points[:-1], points[1:]], axis=1)[follows])))
    _, which = np.unique(which, return_inverse=True)
    noded = shapely.union_all(shapely.linestrings(points, indices=which))
    return [face for face in _faces(noded) if face.is_valid], widest


def _lines(pieces: NDArray[np.float64]) -> NDArray[np.object_]:
    """Of each of ``pieces`` (n, 2, 2) a line. Some at a time: while they are made no other thread goes on."""
    made: list[NDArray[np.object_]] = [
        shapely.linestrings(some) for some in np.array_split(pieces, len(pieces) // _AT_ONCE + 1)
    ]
    return np.concatenate(made)


def _faces(noded: shapely.Geometry) -> list[Polygon]:
    """What lines that meet at their ends only close. Raises ``ImportingError`` where that is far too much.

    While they are put together no other thread goes on, so that what is nobody's edge is taken out first:
    chains of lines are made one, and those with a free end left out, until nothing changes. Each round at
    least halves the free ends. Where three lines and more meet at every end, at least a third as many faces
    as lines remain (Euler's formula).
    """
    while True:
        edges = shapely.get_parts(shapely.line_merge(noded))
        ends = np.stack([shapely.get_coordinates(shapely.get_point(edges, end)) for end in (0, -1)])
        _, place, often = _different(ends.reshape(-1, 2))
        bound = (often[place.reshape(2, -1)] > 1).all(axis=0)
        if bound.all():
            break
        noded = shapely.multilinestrings(edges[bound])
    if len(edges) > 3 * _FACES:
        raise _too_many_outlines()
    faces: list[Polygon] = shapely.get_parts(shapely.polygonize(edges)).tolist()
    return faces


def _different(points: Points) -> tuple[Points, NDArray[np.intp], NDArray[np.intp]]:
    """(k, 2) each of ``points`` (n, 2) once, in order; which of these each is, and how often each comes."""
    flat = np.ascontiguousarray(points).view(np.complex128)[:, 0]  # by rows it would hold up other threads
    once, which, often = np.unique(flat, return_inverse=True, return_counts=True)
    return once.view(np.float64).reshape(-1, 2), which.reshape(-1), often


def _joined(ends: Points) -> tuple[Points, float]:
    """(n, 2) each end moved to the middle of those near it, and the widest gap in mm that was so closed.

    Raises ``TangledError`` where too many that are not the same lie close together.
    """
    places, which, _ = _different(ends)
    points = shapely.points(places)
    tree = shapely.STRtree(points)
    _, _, crowd = _different(np.floor(places / JOIN))
    if (crowd.astype(np.float64) ** 2).sum() > _MOST_NEAR:
        raise TangledError
    one, other = tree.query(points, predicate="dwithin", distance=JOIN)
    group: NDArray[np.intp] = np.arange(len(places))
    while True:  # each takes the least number of those near it, and that one's, until nothing changes
        least = group.copy()
        np.minimum.at(least, one, group[other])
        least = least[least]
        if np.array_equal(least, group):
            break
        group = least
    group, gaps = group[which], np.hypot(*(places[one] - places[other]).T)
    count = np.bincount(group, minlength=len(places))
    middle = np.column_stack([np.bincount(group, ends[:, axis], len(places)) for axis in (0, 1)])
    place: Points = (middle / np.maximum(count, 1)[:, None])[group]
    return place, float(gaps.max(initial=0.0))
