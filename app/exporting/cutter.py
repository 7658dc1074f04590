"""What a stencil cutter cuts of a fit: lines, arcs where lines were arcs, and circles. No Qt.

Its layers have the names of ``display_list.LayerName``. The edge of the stitchable area is none of them: it
is neither sewn nor laid against anything. Everything is cut once: where two lines run on each other, that of
the layer named first in ``CUT_LAYERS`` is kept whole and the other ends there.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from app.exporting.options import MarkShape, TemplateKind, TemplateOptions, check_mark_size
from app.exporting.placement import Placement
from app.exporting.side_by_side import side_by_side
from app.exporting.template import Progress
from app.sketch.display_list import LayerName, Line, Show, Symbol, build
from geometry.fit import Fit
from geometry.tolerances import FLATTEN, SAME_POINT
from geometry.types import Point, Points

CUT_LAYERS: Final = (
    LayerName.SEAM,
    LayerName.WEDGES,
    LayerName.ECHOES,
    LayerName.PATH,
    LayerName.MARKS,
    LayerName.ANCHOR,
)
"""In the order in which they have the lines that they share."""

SAME_CUT: Final = 0.005
"""mm. Two lines that stay this close side by side are one cut: far less than any blade is wide."""
LEAST_CUT: Final = 0.01
"""mm. Shorter pieces are neither kept for themselves nor taken for a line that is cut twice."""
ON_ARC: Final = 0.01
"""mm. So near to an arc lie all corners of the polyline that it replaces, both its ends exactly."""
_TRUE_ARC: Final = 1e-4
"""mm. As ``ON_ARC`` of those that are looked for first, as what comes from an arc is that exact: so they are
not pulled askew by the pieces before and after them."""
_LEAST_LOOSE: Final = math.tan(math.radians(60) / 4)
"""The bulge from which on an arc is taken for one that is not so exact, as where a drawing program has made
Bézier curves of it: a sixth of a turn. Less of an ellipse, or any smooth curve, is near some circle too."""
_FLAT: Final = FLATTEN + ON_ARC
"""mm. Further from its circle no piece of that polyline may stray: so the arc is nowhere further from it."""
_LEAST_PIECES: Final = 4
"""Fewer pieces, or less of a bow than ``FLATTEN``, are corners and not an arc."""
_MOST_BULGE: Final = 10.0
"""An arc of more than 337° has its ends so close together that they no longer say where its middle is."""
_ANCHOR_TIMES: Final = 2.0
"""An anchor is cut this much wider than a mark, so that both can be cut in one place and told apart."""


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """One line, cut in one go: straight pieces and circular arcs."""

    points: Points
    """(n, 2) mm, x right, y down; where ``closed``, the first is not repeated."""
    bulges: NDArray[np.float64]
    """(n,) of the piece that begins at each point: tan(angle / 4) of its arc, more than 0 where it turns from
    x towards y (clockwise as seen), 0 where it is straight. The last counts where ``closed``."""
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle of a mark."""

    at: Point
    """mm."""
    radius: float
    """mm."""


CutItem: TypeAlias = Cut | Ring


@dataclass(frozen=True, slots=True)
class CutLayer:
    """What has one name."""

    name: LayerName
    items: tuple[CutItem, ...]


@dataclass(frozen=True, slots=True)
class Stencil:
    """The cuts of one patch."""

    layers: tuple[CutLayer, ...]
    """In the order of ``CUT_LAYERS``, those without cuts left out."""


@dataclass(frozen=True, slots=True)
class Stencils:
    """Those of all patches, side by side; the upper left corner is (0, 0)."""

    width: float
    """mm."""
    height: float
    """mm."""
    each: tuple[Stencil, ...]


_Found: TypeAlias = tuple[LayerName, Points, bool]
"""A polyline, (n, 2) mm, that is to be cut, and whether it is closed."""


def stencils(fits: Sequence[Fit], options: TemplateOptions, progress: Progress | None = None) -> Stencils:
    """The stencil of each of ``fits``, as many of each as ``options.copies``.

    ``progress`` is called after each; what it raises ends the work. Raises ``SettingsError`` for a size of
    marks that cannot be cut.
    """
    check_mark_size(options.mark_size)
    copies = range(options.copies)
    bounds = [fit.patch.polygon.bounds for fit in fits for _ in copies]
    width, height, places = side_by_side(bounds)
    drawn: list[Stencil] = []
    for fit in fits:
        own = stencil(fit, options)
        drawn += [_moved(own, places[len(drawn) + copy]) for copy in copies]
        if progress:
            progress(len(drawn), len(places))
    return Stencils(width, height, tuple(drawn))


def extent(drawn: Stencils) -> tuple[Point, Point]:
    """The least and the greatest x and y of all that is cut, arcs included; mm."""
    boxes = [_box(item) for stencil in drawn.each for layer in stencil.layers for item in layer.items]
    low, high = np.min([low for low, _ in boxes], axis=0), np.max([high for _, high in boxes], axis=0)
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


def _box(item: CutItem) -> tuple[Point, Point]:
    if isinstance(item, Ring):
        (x, y), radius = item.at, item.radius
        return (x - radius, y - radius), (x + radius, y + radius)
    reached = [item.points]
    for start, end, bulge in pieces_of(item):
        if bulge:
            centre, radius = circle_of(start, end, bulge)
            # The circle's four outermost points, those that the arc passes: on its side of the chord.
            outer = np.array(centre) + radius * np.array([(1, 0), (0, 1), (-1, 0), (0, -1)])
            (x0, y0), (x1, y1) = start, end
            side = (x1 - x0) * (outer[:, 1] - y0) - (y1 - y0) * (outer[:, 0] - x0)
            reached.append(outer[side * bulge < 0])
    points = np.concatenate(reached)
    low, high = points.min(axis=0), points.max(axis=0)
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


def pieces_of(cut: Cut) -> Iterator[tuple[Point, Point, float]]:
    """Start, end and bulge of each piece, in order."""
    corners: list[Point] = [(x, y) for x, y in cut.points.tolist()]
    ends = corners[1:] + corners[:1] if cut.closed else corners[1:]
    yield from zip(corners, ends, cut.bulges.tolist(), strict=False)


def circle_of(start: Point, end: Point, bulge: float) -> tuple[Point, float]:
    """Centre and radius of the arc from ``start`` to ``end``, mm.

    With the half chord c and the bow bc the radius is c(1 + b²) / 2|b|, and the centre is c(1 - b²) / 2b from
    the chord's middle, on the side to which the arc turns.
    """
    (x0, y0), (x1, y1) = start, end
    half = (1 - bulge * bulge) / (4 * bulge)
    centre = ((x0 + x1) / 2 - half * (y1 - y0), (y0 + y1) / 2 + half * (x1 - x0))
    return centre, math.dist(start, end) * (1 + bulge * bulge) / (4 * abs(bulge))


def stencil(fit: Fit, options: TemplateOptions) -> Stencil:
    """What is cut of ``fit``, in the patch's own mm; mirrored, within the same bounds."""
    lines = options.kind is not TemplateKind.MARKS
    marks = options.kind is not TemplateKind.LINES
    show = Show(
        cloth=False,
        margin_edge=False,
        out_of_sight=False,
        stitches=lines,
        echoes=lines and options.echoes,
        travel=lines,
        marks=marks,
        mark_names=False,
        numbers=False,
        findings=False,
        anchor=marks,
    )
    own = build(fit, show=show)
    drawing = Placement.of(own.bounds, options.mirrored).drawing(own)
    found: list[_Found] = []
    rings: list[tuple[LayerName, Ring]] = []
    for layer in sorted(drawing.layers, key=lambda each: CUT_LAYERS.index(each.name)):
        for item in layer.items:
            if isinstance(item, Line):
                found.append((layer.name, item.points, item.closed))
            elif isinstance(item, Symbol):
                size = options.mark_size * (_ANCHOR_TIMES if layer.name is LayerName.ANCHOR else 1.0)
                if options.mark_shape is MarkShape.CIRCLE:
                    rings.append((layer.name, Ring(item.at, size / 2)))
                else:
                    found += [(layer.name, arm, False) for arm in _cross(item.at, size / 2)]
    items: defaultdict[LayerName, list[CutItem]] = defaultdict(list)
    for name, points, closed in once(found):
        items[name].append(with_arcs(points, closed))
    for name, ring in _rings_once(rings):
        items[name].append(ring)
    return Stencil(tuple(CutLayer(name, tuple(items[name])) for name in CUT_LAYERS if name in items))


def _cross(at: Point, half: float) -> Iterator[Points]:
    x, y = at
    yield np.array([(x - half, y), (x + half, y)])
    yield np.array([(x, y - half), (x, y + half)])


def _rings_once(rings: Iterable[tuple[LayerName, Ring]]) -> Iterator[tuple[LayerName, Ring]]:
    """Marks that two fans share are cut once."""
    kept: list[Ring] = []
    for name, ring in rings:
        if all(math.dist(ring.at, other.at) > SAME_CUT or ring.radius != other.radius for other in kept):
            kept.append(ring)
            yield name, ring


def _moved(stencil: Stencil, by: Point) -> Stencil:
    def item(item: CutItem) -> CutItem:
        if isinstance(item, Ring):
            return Ring((item.at[0] + by[0], item.at[1] + by[1]), item.radius)
        return Cut(item.points + by, item.bulges, item.closed)

    return Stencil(tuple(CutLayer(layer.name, tuple(map(item, layer.items))) for layer in stencil.layers))


# --- every line once -------------------------------------------------------------------------------------


def once(lines: Sequence[_Found]) -> Iterator[_Found]:
    """The ``lines``, less what of each runs on one before it or on itself.

    Two straight pieces run on each other where, over the length that they share, neither is further than
    ``SAME_CUT`` from the other. A line is parted where something of it is left out, and nowhere else.
    """
    rings = [np.concatenate([points, points[:1]]) if closed else points for _, points, closed in lines]
    rings = [_without_repeats(ring) for ring in rings]
    counts = [len(ring) - 1 for ring in rings]
    if not sum(counts):
        return
    starts = np.concatenate([ring[:-1] for ring in rings])
    ends = np.concatenate([ring[1:] for ring in rings])
    covered = _covered(starts, ends)
    first = 0
    for (name, points, closed), ring, count in zip(lines, rings, counts, strict=True):
        parts = covered.keys() & range(first, first + count) if covered else ()
        if not parts:
            yield name, points, closed
        else:
            pieces = {piece - first: covered[piece] for piece in parts}
            for left in _left_of(ring, pieces, closed):
                yield name, left, False
        first += count


def _without_repeats(points: Points) -> Points:
    keep = np.concatenate([[True], (np.abs(np.diff(points, axis=0)) > 0).any(axis=1)])
    kept: Points = points[keep]
    return kept


def _covered(starts: Points, ends: Points) -> dict[int, list[tuple[float, float]]]:
    """For each piece that runs on earlier ones, where: from and to, mm from its start."""
    pieces = shapely.linestrings(np.stack([starts, ends], axis=1))
    tree = shapely.STRtree(pieces)
    later, earlier = tree.query(pieces, predicate="dwithin", distance=SAME_CUT)
    pairs = later > earlier
    later, earlier = later[pairs], earlier[pairs]
    run = ends[later] - starts[later]
    length = np.hypot(run[:, 0], run[:, 1])
    along = run / length[:, None]

    def seen_from(points: Points) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """How far along the later piece, and how far to its side."""
        off = points - starts[later]
        return (off * along).sum(axis=1), along[:, 0] * off[:, 1] - along[:, 1] * off[:, 0]

    (at_start, off_start), (at_end, off_end) = seen_from(starts[earlier]), seen_from(ends[earlier])
    low = np.maximum(np.minimum(at_start, at_end), 0.0)
    high = np.minimum(np.maximum(at_start, at_end), length)
    shared = high - low > LEAST_CUT
    span = np.where(shared, at_end - at_start, 1.0)
    for place in (low, high):
        shared &= np.abs(off_start + (off_end - off_start) * (place - at_start) / span) <= SAME_CUT
    covered: defaultdict[int, list[tuple[float, float]]] = defaultdict(list)
    for piece, begin, end in zip(
        later[shared].tolist(), low[shared].tolist(), high[shared].tolist(), strict=True
    ):
        covered[piece].append((begin, end))
    return covered


def _left_of(ring: Points, covered: dict[int, list[tuple[float, float]]], closed: bool) -> Iterator[Points]:
    """The polylines that are left of the polyline ``ring`` without what is covered of its pieces."""
    left: list[list[Point]] = []
    joined = False
    """Whether the last of ``left`` goes on with the next piece."""
    corners: list[Point] = [(x, y) for x, y in ring.tolist()]
    for number, (start, end) in enumerate(pairwise(corners)):
        length = math.dist(start, end)
        at = 0.0
        for begin, finish in sorted(covered.get(number, [])):
            if begin - at > LEAST_CUT:
                _add(left, joined, _between(start, end, at / length), _between(start, end, begin / length))
            if finish > at:
                at, joined = finish, False
        if length - at > LEAST_CUT or at == 0.0:
            _add(left, joined, _between(start, end, at / length), end)
            joined = True
    if closed and joined and len(left) > 1 and left[0][0] == corners[0]:
        # The ring does not end at its first corner.
        left[0] = left.pop() + left[0][1:]
    for line in left:
        if shapely.LineString(line).length > LEAST_CUT:
            yield np.array(line)


def _add(left: list[list[Point]], joined: bool, start: Point, end: Point) -> None:
    if joined:
        left[-1].append(end)
    else:
        left.append([start, end])


def _between(start: Point, end: Point, share: float) -> Point:
    if share == 0.0:
        return start
    return (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)


# --- arcs ------------------------------------------------------------------------------------------------


def with_arcs(points: Points, closed: bool) -> Cut:
    """The polyline with an arc in place of each run of pieces that stands for one.

    A run is an arc where it has ``_LEAST_PIECES`` or more, all turning the same way; its bow is ``FLATTEN``
    or more; and a circle through both its ends passes all its corners within ``_TRUE_ARC``, or, of a sixth of
    a turn and more, ``ON_ARC``, and strays from none of its pieces by more than ``FLATTEN`` and that. Four
    corners of a square lie on a circle too, but their pieces stray far from it. Every end of a line is kept
    exactly. A whole circle is two arcs.
    """
    if closed:
        points = np.roll(points, -_sharpest(points), axis=0)
    points = _straightened(points, closed)
    path = np.concatenate([points, points[:1]]) if closed else points
    if closed and len(points) >= 2 * _LEAST_PIECES:
        half = len(points) // 2
        there, back = _bulge(path[: half + 1], ON_ARC), _bulge(path[half:], ON_ARC)
        if there and back:
            return Cut(path[[0, half]], np.array([there, back]), True)
    bulges = np.zeros(len(path))
    kept = np.ones(len(path), dtype=bool)
    for tolerance, least in ((_TRUE_ARC, 0.0), (ON_ARC, _LEAST_LOOSE)):
        at = 0
        while at < len(path) - 1:
            end, bulge = _longest_arc(path, at, kept, tolerance)
            if abs(bulge) > least:
                bulges[at] = bulge
                kept[at + 1 : end] = False
                at = end
            else:
                at += 1
    if closed:
        kept[-1] = False
    return Cut(path[kept], bulges[kept], closed)


def _straightened(points: Points, closed: bool) -> Points:
    """Without corners that lie in a straight line with their neighbours."""
    kept = points[:1].tolist()
    last = len(points) - 1
    for i in range(1, len(points)):
        if i == last and not closed:
            kept.append(points[i].tolist())
            break
        (ax, ay), (bx, by) = kept[-1], points[i].tolist()
        cx, cy = points[(i + 1) % len(points)].tolist()
        base = math.hypot(cx - ax, cy - ay)
        off = abs((bx - ax) * (cy - ay) - (by - ay) * (cx - ax))
        onward = (bx - ax) * (cx - bx) + (by - ay) * (cy - by)
        if base == 0 or onward < 0 or off > SAME_POINT * base:
            kept.append([bx, by])
    return np.array(kept)


def _sharpest(points: Points) -> int:
    """Where the ring turns most: no arc runs over it, if any corner is none of an arc."""
    into = points - np.roll(points, 1, axis=0)
    out = np.roll(into, -1, axis=0)
    turn = np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1))
    return int(np.abs(turn).argmax())


def _longest_arc(path: Points, start: int, kept: NDArray[np.bool_], tolerance: float) -> tuple[int, float]:
    """Where the arc that begins at ``start`` ends, and its bulge; the next corner and 0 where none does.

    It runs over no corner that is not ``kept``: there is an arc already.
    """
    found = (start + 1, 0.0)
    for end in range(start + _LEAST_PIECES, len(path)):
        if not kept[start : end + 1].all():
            break
        bulge = _bulge(path[start : end + 1], tolerance)
        if bulge is None:
            break
        if bulge:
            found = (end, bulge)
    return found


def _bulge(run: Points, tolerance: float) -> float | None:
    """Of the arc that ``run`` stands for; 0 where it bows too little to say; None where it is no arc.

    In the chord's own frame, its middle at (0, 0) and its half c along u, a circle through both ends has its
    centre at (0, k) and u² + v² - c² = 2kv: a straight line through (0, 0), whose k the least squares give.
    """
    chord = run[-1] - run[0]
    length = float(np.hypot(*chord))
    if length <= SAME_POINT:
        return None
    along = chord / length
    off = run - (run[0] + run[-1]) / 2
    u = off @ along
    v = off @ np.array([-along[1], along[0]])
    inner = v[1:-1]
    side = 1.0 if inner.sum() > 0 else -1.0
    if (inner * side <= 0).any():
        return None
    half = length / 2
    if float((inner * side).max()) < FLATTEN:
        return 0.0
    k = float((inner * (u[1:-1] ** 2 + inner**2 - half**2)).sum() / (2 * (inner**2).sum()))
    radius = math.hypot(half, k)
    if np.abs(np.hypot(u, v - k) - radius).max() > tolerance:
        return None
    du, dv = np.diff(u), np.diff(v)
    sagitta = radius - np.sqrt(np.maximum(radius**2 - (du**2 + dv**2) / 4, 0.0))
    if sagitta.max() > _FLAT:
        return None
    turns = du[:-1] * dv[1:] - dv[:-1] * du[1:]
    if (turns * side >= 0).any() or (np.diff(np.arctan2(u, side * (v - k))) <= 0).any():
        return None
    bow = (radius + side * k) / half
    # Where it bows to the side of +v, the arc turns from v towards u.
    return -side * bow if bow <= _MOST_BULGE else None
