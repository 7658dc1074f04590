"""What many anchors of one area see, at once: a constrained triangulation, expanded for all of them.

From the triangle that holds an anchor its view goes on through each edge that is not on the boundary,
into the next triangle, narrowed to what passes the edge (Bungiu, Hemmer, Hershberger, Huang, Kröller:
"Efficient computation of visibility polygons", 2014). All views of all anchors advance together, one
triangle deeper at each step, so that the work is a few array operations a step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.tolerances import ON_EDGE
from geometry.types import Points

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
_State = tuple[Ints, Ints, Floats, Floats, Floats, Floats]
"""Views: whose, the edge they have come to, and their right and left bounds (x, y), all (k,)."""


@dataclass(frozen=True, slots=True, eq=False)
class Triangulation:
    """A polygon cut into t triangles that use its own vertices and edges only.

    Triangles turn numerically counter-clockwise. Edge 3 i + j is that of triangle i from its corner j
    to the next. Arrays are (3 t,), by edge.
    """

    x: Floats
    y: Floats
    """mm, where the edge starts."""
    along_x: Floats
    along_y: Floats
    """mm, from there to where it ends."""
    length: Floats
    """mm"""
    wall: NDArray[np.bool_]
    """The edge lies on the boundary."""
    apex_x: Floats
    apex_y: Floats
    """mm, the far corner of the triangle beyond the edge (any value beyond a wall)."""
    on_right: Ints
    on_left: Ints
    """The two other edges of the triangle beyond, as a view that passes the edge meets them."""
    tree: shapely.STRtree

    def holding(self, anchors: Points) -> Ints:
        """(n,) a triangle that holds each of ``anchors`` (n, 2), edges included; -1 outside."""
        which, triangle = self.tree.query(shapely.points(anchors), predicate="intersects")
        found = np.full(len(anchors), -1, dtype=np.intp)
        found[which] = triangle
        return found


def triangulate(polygon: Polygon) -> Triangulation:
    """Constrained Delaunay triangulation of ``polygon``."""
    shapes = shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.orient_polygons(polygon)))
    shapes = shapely.orient_polygons(shapes)
    corners = shapely.get_coordinates(shapes).reshape(-1, 4, 2)[:, :3]
    count = len(corners)
    _, vertex = np.unique(corners[..., 0].ravel() + 1j * corners[..., 1].ravel(), return_inverse=True)
    vertex = vertex.reshape(count, 3)
    start, stop = vertex.ravel(), np.roll(vertex, -1, axis=1).ravel()
    size = int(vertex.max()) + 1
    key, opposite = start * size + stop, stop * size + start
    order = np.argsort(key)
    at = np.minimum(np.searchsorted(key[order], opposite), len(key) - 1)
    twin = order[at]
    shared = key[twin] == opposite
    x, y = corners.reshape(-1, 2).T.copy()
    # The entry edge runs the other way in the triangle beyond: the edge after it leads from the view's
    # right end to the far corner, and the one before it from there to the left end.
    after = twin - twin % 3 + (twin + 1) % 3
    before = twin - twin % 3 + (twin + 2) % 3
    along_x, along_y = (np.roll(corners, -1, axis=1) - corners).reshape(-1, 2).T.copy()
    length = np.hypot(along_x, along_y)
    return Triangulation(
        x, y, along_x, along_y, length, ~shared, x[before], y[before], after, before, shapely.STRtree(shapes)
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Views:
    """Pieces of boundary edges in sight of n anchors, in no particular order. m pieces."""

    anchor: Ints
    """(m,) index of the anchor."""
    edge: Ints
    """(m,) the edge of the triangulation that the piece lies on."""
    from_x: Floats
    from_y: Floats
    to_x: Floats
    to_y: Floats
    """(m,) mm, relative to the anchor; counter-clockwise around it."""


def see_from_all(area: Triangulation, anchors: Points) -> Views:
    """What each of ``anchors`` (n, 2) sees; those outside the area see nothing.

    Anchors must not lie on the boundary: several triangles may meet in such a place, and one is looked
    through.
    """
    home = area.holding(anchors)
    inside = np.flatnonzero(home >= 0)
    px, py = anchors[:, 0].copy(), anchors[:, 1].copy()
    who = np.repeat(inside, 3)
    edge = (home[inside, None] * 3 + np.arange(3)).ravel()
    following = (home[inside, None] * 3 + np.array([1, 2, 0])).ravel()
    # A view comes to an edge between its right bound and its left one (counter-clockwise).
    rx, ry = area.x[edge] - px[who], area.y[edge] - py[who]
    lx, ly = area.x[following] - px[who], area.y[following] - py[who]
    who, edge, rx, ry, lx, ly = _let_through(area, px, py, (who, edge, rx, ry, lx, ly))
    ended: list[_State] = []
    while len(who):
        walled = area.wall[edge]
        if walled.any():
            stop = np.flatnonzero(walled)
            ended.append((who[stop], edge[stop], rx[stop], ry[stop], lx[stop], ly[stop]))
            go = np.flatnonzero(~walled)
            who, edge, rx, ry, lx, ly = who[go], edge[go], rx[go], ry[go], lx[go], ly[go]
        ax, ay = area.apex_x[edge] - px[who], area.apex_y[edge] - py[who]
        # The far corner splits the view, or lies beside it; the part on the right of it is bounded on its
        # left by the far corner or, where that lies further out, by the view itself. And the other way round.
        past_right = rx * ay - ry * ax > 0
        past_left = ax * ly - ay * lx > 0
        right, left = np.flatnonzero(past_right), np.flatnonzero(past_left)
        narrow, narrow_left = past_left[right], past_right[left]
        who, edge, rx, ry, lx, ly = (
            np.concatenate([who[right], who[left]]),
            np.concatenate([area.on_right[edge[right]], area.on_left[edge[left]]]),
            np.concatenate([rx[right], np.where(narrow_left, ax[left], rx[left])]),
            np.concatenate([ry[right], np.where(narrow_left, ay[left], ry[left])]),
            np.concatenate([np.where(narrow, ax[right], lx[right]), lx[left]]),
            np.concatenate([np.where(narrow, ay[right], ly[right]), ly[left]]),
        )
    if not ended:
        none, nowhere = np.zeros(0, dtype=np.intp), np.zeros(0)
        return Views(none, none, nowhere, nowhere, nowhere, nowhere)
    who = np.concatenate([part[0] for part in ended])
    edge = np.concatenate([part[1] for part in ended])
    rx, ry, lx, ly = (np.concatenate([part[i] for part in ended]) for i in (2, 3, 4, 5))
    along_x, along_y = area.along_x[edge], area.along_y[edge]
    over = (area.x[edge] - px[who]) * along_y - (area.y[edge] - py[who]) * along_x
    # An edge in line with the anchor stops sight but is not seen itself.
    facing = over > ON_EDGE * area.length[edge]
    if not facing.all():
        who, edge, rx, ry, lx, ly = who[facing], edge[facing], rx[facing], ry[facing], lx[facing], ly[facing]
        along_x, along_y, over = along_x[facing], along_y[facing], over[facing]
    at_right = over / (rx * along_y - ry * along_x)
    at_left = over / (lx * along_y - ly * along_x)
    return Views(who, edge, rx * at_right, ry * at_right, lx * at_left, ly * at_left)


def _let_through(area: Triangulation, px: Floats, py: Floats, state: _State) -> _State:
    """The views through the edges of the triangles that hold the anchors.

    An anchor on an edge looks through it over a half turn, which is no view between two bounds: it
    goes on at once into the triangle beyond, in two parts.
    """
    who, edge, rx, ry, lx, ly = state
    wide = rx * ly - ry * lx > 0
    if wide.all():
        return state
    on = np.flatnonzero(~wide & ~area.wall[edge])
    ax, ay = area.apex_x[edge[on]] - px[who[on]], area.apex_y[edge[on]] - py[who[on]]
    return (
        np.concatenate([who[wide], who[on], who[on]]),
        np.concatenate([edge[wide], area.on_right[edge[on]], area.on_left[edge[on]]]),
        np.concatenate([rx[wide], rx[on], ax]),
        np.concatenate([ry[wide], ry[on], ay]),
        np.concatenate([lx[wide], ax, lx[on]]),
        np.concatenate([ly[wide], ay, ly[on]]),
    )


def seen_areas(views: Views, count: int) -> NDArray[np.float64]:
    """(count,) mm² in sight of each anchor (shoelace formula)."""
    twice = views.from_x * views.to_y - views.from_y * views.to_x
    return np.bincount(views.anchor, weights=0.5 * twice, minlength=count).astype(np.float64, copy=False)
