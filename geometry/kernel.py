"""The kernel: where in an area every side is in sight."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.tolerances import LEAST_PART, ON_EDGE
from geometry.types import Points

_BLOCK = 1_000_000
"""Corners times edges looked at in one go, so that large outlines do not fill the memory."""


def kernel(polygon: Polygon) -> Polygon | None:
    """The points of ``polygon`` (mm) from which all of it is in sight; None where there are none.

    It is the intersection of the inner half-planes of all edges, those of holes included (Lee and
    Preparata, 1979). The convex hull is cut by the half-plane that takes away most, and by the next,
    until what is left lies in all of them within ``ON_EDGE``. One that holds what is left holds it from
    then on, so that few are ever cut with. A kernel without area (``LEAST_PART``) is none.
    """
    if shapely.is_empty(polygon):
        return None
    polygon = shapely.orient_polygons(polygon)
    rings = [shapely.get_coordinates(ring) for ring in (polygon.exterior, *polygon.interiors)]
    start = np.concatenate([ring[:-1] for ring in rings])
    end = np.concatenate([ring[1:] for ring in rings])
    along = end - start
    length = np.hypot(along[:, 0], along[:, 1])
    some = length > 0
    start, end, along, length = start[some], end[some], along[some], length[some]
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / length[:, None]
    hull = shapely.orient_polygons(shapely.convex_hull(polygon))
    left = shapely.get_coordinates(hull)[:-1]
    # Edges of the hull hold it already; an edge from one of its corners to another is one of them.
    corners = _as_complex(left)
    held = np.isin(_as_complex(start), corners) & np.isin(_as_complex(end), corners)
    start, outward = start[~held], outward[~held]
    while len(start):
        beyond = _reach(left, start, outward)
        open_still = beyond > ON_EDGE
        if not open_still.any():
            break
        worst = int(beyond.argmax())
        left = _cut(left, start[worst], outward[worst])
        if len(left) < 3:
            return None
        open_still[worst] = False
        start, outward = start[open_still], outward[open_still]
    answer = Polygon(left)
    return answer if answer.area > LEAST_PART else None


def _as_complex(points: Points) -> NDArray[np.complex128]:
    """(n,) x + iy: points that can be looked up."""
    return points[:, 0] + 1j * points[:, 1]


def _reach(convex: Points, start: Points, outward: Points) -> NDArray[np.float64]:
    """(n,) mm by which a convex outline (k, 2) reaches beyond each of n lines; one of its corners does."""
    near = convex[0]  # so that rounding is that of the area's size and not of its place
    block = max(1, _BLOCK // len(convex))
    farthest = [
        ((convex - near) @ outward[i : i + block].T).max(axis=0) for i in range(0, len(outward), block)
    ]
    reach: NDArray[np.float64] = np.concatenate(farthest) - ((start - near) * outward).sum(axis=1)
    return reach


def _cut(convex: Points, at: Points, outward: Points) -> Points:
    """The part of a convex outline (n, 2) that does not lie beyond the line through ``at`` (2,)."""
    beyond = (convex - at) @ outward
    following = np.roll(beyond, -1)
    crosses = (beyond > 0) != (following > 0)
    step = np.roll(convex, -1, axis=0) - convex
    with np.errstate(divide="ignore", invalid="ignore"):
        crossings = convex + step * (beyond / (beyond - following))[:, None]
    kept = beyond <= 0
    # Each corner that is kept, followed by the crossing on the way from it (or from one that is not).
    both = np.stack([convex, crossings], axis=1).reshape(-1, 2)
    points: Points = both[np.stack([kept, crosses], axis=1).ravel()]
    return points
