"""What rings enclose by a fill rule, as polygons with holes."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.tolerances import SAME_POINT
from geometry.types import Points


class FillRule(StrEnum):
    """SVG 2, fill-rule: where the inside of crossing or nested rings is."""

    NONZERO = "nonzero"
    EVENODD = "evenodd"


class TangledError(Exception):
    """The rings cross each other more often than can be worked out in a short time."""


_CROSSINGS_PER_EDGE = 6
_CROSSINGS = 20_000
"""Pairs of edges whose boxes may meet. Every edge meets itself and its neighbours; a tangle goes beyond."""

_HITS = 2_000_000
"""Most edges that rays meet, to find on which side of them the parts of a tangle lie."""

_ROWS = 2**20
"""Pairs looked at in one go: 16 MB."""


def polygons(rings: Sequence[Points], rule: FillRule) -> list[Polygon]:
    """The separate parts that ``rings`` enclose, each valid, in no promised order.

    ``rings``: (n, 2) float, mm, taken as closed. Pieces thinner than ``SAME_POINT`` are rounding and left
    out. Raises ``TangledError``.
    """
    rings = [ring for ring in rings if len(ring) >= 3]
    if not rings:
        return []
    if len(rings) == 1 and is_valid(polygon := Polygon(rings[0])):
        return [polygon] if _is_substantial(polygon) else []
    edges, tree = _edges(rings)
    try:
        lines = shapely.multilinestrings([shapely.linestrings(np.vstack([ring, ring[:1]])) for ring in rings])
        faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.unary_union(lines))))
        if not len(faces):
            return []
        winding = _winding(shapely.get_coordinates(shapely.point_on_surface(faces)), edges, tree)
        inside = winding % 2 == 1 if rule is FillRule.EVENODD else winding != 0
        # The faces share whole edges, so that the quick union is an exact one.
        return substantial(shapely.coverage_union_all(faces[inside]))
    except shapely.errors.GEOSException:
        raise TangledError from None


def is_valid(polygon: Polygon) -> bool:
    """Whether it is sound. Of some that are not, GEOS does not say so but gives up (found by mutation)."""
    try:
        return bool(shapely.is_valid(polygon))
    except shapely.errors.GEOSException:
        return False


def substantial(geometry: shapely.Geometry) -> list[Polygon]:
    """The polygons of any geometry that are wider than rounding."""
    parts = shapely.get_parts(shapely.get_parts(geometry)).tolist()  # twice: a collection may hold many
    return [part for part in parts if part.geom_type == "Polygon" and _is_substantial(part)]


def _is_substantial(polygon: Polygon) -> bool:
    return bool(2 * polygon.area > SAME_POINT * polygon.length)


def count_meetings(rings: Sequence[Points]) -> int:
    """How many pairs of sides of ``rings`` meet besides those that follow each other.

    ``rings`` as for ``polygons``. Raises ``TangledError`` where they are too many to count.
    """
    edges, tree = _edges(rings)
    return int(tree.query(tree.geometries, predicate="intersects").shape[1] - 3 * len(edges)) // 2


def _edges(rings: Sequence[Points]) -> tuple[NDArray[np.float64], shapely.STRtree]:
    """The edges (n, 2, 2) of ``rings`` that have a length, and a tree of them. Raises ``TangledError``."""
    edges = np.concatenate([np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings])
    edges = edges[(edges[:, 0] != edges[:, 1]).any(axis=1)]
    tree = shapely.STRtree(shapely.linestrings(edges))
    refuse_tangles(tree)
    return edges, tree


def refuse_tangles(tree: shapely.STRtree) -> None:
    """Raises ``TangledError`` where the edges in ``tree`` may meet too often to be worked out."""
    lines = tree.geometries
    left = _CROSSINGS + _CROSSINGS_PER_EDGE * len(lines)
    for some in np.array_split(lines, len(lines) ** 2 // _ROWS + 1):
        left -= tree.query(some).shape[1]
        if left < 0:
            raise TangledError


def _winding(points: Points, edges: NDArray[np.float64], tree: shapely.STRtree) -> NDArray[np.intp]:
    """How often the rings made of ``edges`` (n, 2, 2) wind around each of ``points`` (m, 2).

    A ray to the right from each point, through the edges that begin at or above it and end below, or the
    other way: a corner on the ray counts once, with one of its two edges. ``tree`` holds the edges.
    Raises ``TangledError``.
    """
    left = _HITS
    winding = np.zeros(len(points), dtype=np.intp)
    right = edges[:, :, 0].max() + 1
    rays = shapely.linestrings([[(x, y), (right, y)] for x, y in points.tolist()])
    for some in np.array_split(np.arange(len(points)), len(points) * len(edges) // _ROWS + 1):
        ray, met = tree.query(rays[some])
        left -= len(ray)
        if left < 0:
            raise TangledError
        x, y = points[some[ray]].T
        (x0, y0), (x1, y1) = edges[met, 0].T, edges[met, 1].T
        down, up = (y0 <= y) & (y < y1), (y1 <= y) & (y < y0)
        side = (x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)
        turns = (down & (side > 0)).astype(np.intp) - (up & (side < 0))
        np.add.at(winding, some[ray], turns)
    return winding
