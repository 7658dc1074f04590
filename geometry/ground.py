"""What a patch and its settings give before an anchor is chosen, kept while the anchor moves."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import shapely
from shapely import Polygon

from geometry.marks import MarkedEdge, mark_edges
from geometry.patch import Patch
from geometry.settings import Settings
from geometry.stitchable import stitchable_area
from geometry.types import Point
from geometry.visibility import Edges, edges_of, joined_edges, reversed_edges


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The stitchable area of a patch in its parts, and the marked edge of each."""

    parts: tuple[Polygon, ...]
    marked: tuple[MarkedEdge, ...]
    edges: tuple[Edges, ...]
    """The pieces of each marked edge, as the sweep takes them."""
    seam: Edges
    area: float
    """mm², of all parts."""

    def part_at(self, anchor: Point) -> int:
        """The part that holds ``anchor``, its edge included, or else the nearest to it."""
        if len(self.parts) == 1:
            return 0
        distances = shapely.distance(list(self.parts), shapely.Point(anchor))
        return int(distances.argmin())

    def walls(self, part: int) -> Edges:
        """What stops a line on its way from the margin into ``part``: the seam, and the other parts."""
        others = [reversed_edges(edges) for i, edges in enumerate(self.edges) if i != part]
        return joined_edges([self.seam, *others]) if others else self.seam


_Key = tuple[object, ...]
_KEPT = 4
"""Grounds kept for one patch: the settings in force, and a few that the user goes back and forth between."""

_kept: WeakKeyDictionary[Patch, dict[_Key, Ground]] = WeakKeyDictionary()


def ground_of(patch: Patch, settings: Settings) -> Ground:
    """The ground of ``patch``; computed once as long as only the anchor and other settings change."""
    key: _Key = (
        settings.edge_margin,
        settings.spans_per_side,
        settings.longest_span,
        settings.side_spans,
        settings.own_marks,
        settings.removed_marks,
        settings.corner_angle,
        settings.corner_run,
    )
    known = _kept.setdefault(patch, {})
    ground = known.pop(key, None)
    if ground is None:
        parts = stitchable_area(patch.polygon, settings.edge_margin)
        marked = mark_edges(parts, patch.polygon, settings)
        ground = Ground(
            parts,
            marked,
            tuple(Edges(m.start, m.end) for m in marked),
            edges_of(patch.polygon),
            float(sum(part.area for part in parts)),
        )
    known[key] = ground  # newest last
    while len(known) > _KEPT:
        known.pop(next(iter(known)))
    return ground


def forget(patch: Patch) -> None:
    """Keep nothing of ``patch``, so that its next fit is like the first."""
    _kept.pop(patch, None)
