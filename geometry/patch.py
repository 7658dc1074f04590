"""Patch: one space to fill, as an outline with holes; repaired where it can be, refused where it cannot."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Literal, NamedTuple, TypeAlias, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.errors import AnchorError, PatchError
from geometry.findings import Code
from geometry.stitchable import widest_circle
from geometry.tolerances import FLATTEN, MAX_SIZE, ON_EDGE, SAME_POINT
from geometry.types import Point, Points, frozen


class Place(StrEnum):
    """Where a point lies with respect to a patch."""

    INSIDE = "inside"
    ON = "on"
    OUTSIDE = "outside"


class RepairDetail(StrEnum):
    """Stable names of what can be done to an outline."""

    REPEATED_POINTS = "repeated-points"
    """Corners that only repeated the one before were left out; the shape is the same."""
    SPIKE = "spike"
    """A corner to which the edge runs and comes back the same way was left out."""
    SELF_TOUCHING = "self-touching"
    """The outline touched itself; redrawn as an outline with holes."""
    SELF_CROSSING = "self-crossing"
    """The outline crossed itself; redrawn around what it encloses."""
    SLIVER = "sliver"
    """Parts thinner than a pen line, left over from a repair, were left out."""
    SPLIT = "split"
    """The outline enclosed several parts; this patch is one of them. ``count`` is how many there are."""
    HOLE_DROPPED = "hole-dropped"
    """A hole without an area was left out."""
    HOLE_OUTSIDE = "hole-outside"
    """A hole that lies outside the outline was left out."""
    HOLE_CLIPPED = "hole-clipped"
    """A hole that sticks out, or runs along the outline, was cut from the outline."""
    HOLES_JOINED = "holes-joined"
    """Holes that overlap, touch along a line, or lie in one another were made one."""
    HOLE_CROSSING = "hole-crossing"
    """A hole crossed or touched itself and was redrawn."""


@dataclass(frozen=True, slots=True)
class Repair:
    """One kind of repair done to an outline, for the findings `repaired` and `simplified`."""

    code: Literal[Code.REPAIRED, Code.SIMPLIFIED]
    """``SIMPLIFIED`` where the shape stayed the same."""
    detail: RepairDetail
    at: Point
    """mm. Where it was done (first)."""
    count: int
    """How often."""


class SeveralPartsError(PatchError):
    """The outline encloses several parts that hang together in no more than points.

    ``parts`` is their number; ``split_outline`` gives them.
    """

    def __init__(self, what: str, *, parts: int, where: str = "", do: str = "") -> None:
        self.parts = parts
        super().__init__(what, where=where, do=do)


class Patch:
    """One space to fill. Immutable; equal only to itself, so that it can be the key of a cache.

    ``outline``: anything that makes an (n, 2) array, mm, open or closed, wound either way.
    ``holes``: any number of the same. Repeated points, spikes, winding, touching or crossing lines and
    overlapping holes are repaired (``repairs`` says what was done; winding and a closing point are no
    repair). Raises ``PatchError`` naming the place where it cannot be a patch: wrong shape of the array,
    a coordinate that is not finite, fewer than three different corners, no area, over ``MAX_SIZE`` wide
    or high, too far from the origin for the tolerances to hold. Raises ``SeveralPartsError`` where it
    falls into several parts, like a bow-tie, or where holes cut it in two.
    """

    __slots__ = ("__weakref__", "_centre", "_holes", "_outline", "_polygon", "_repairs", "_seam", "_width")

    def __init__(self, outline: Any, holes: Iterable[Any] = ()) -> None:
        parts = _parts(outline, holes)
        if len(parts.shapes) > 1:
            raise parts.refusal()
        self._set(parts.shapes[0], parts.repairs)

    @classmethod
    def _from_shape(cls, shape: _Shape, repairs: tuple[Repair, ...]) -> Patch:
        patch = cls.__new__(cls)
        patch._set(shape, repairs)
        return patch

    def _set(self, shape: _Shape, repairs: tuple[Repair, ...]) -> None:
        self._outline = frozen(shape.outline)
        self._holes = tuple(frozen(hole) for hole in shape.holes)
        self._polygon = shape.polygon
        self._repairs = repairs
        self._seam = shapely.boundary(shape.polygon)
        self._width: float | None = None
        self._centre: Point | None = None
        shapely.prepare(self._polygon)
        shapely.prepare(self._seam)

    @property
    def outline(self) -> Points:
        """(n, 2) mm, read-only, open (the first corner is not repeated).

        Shoelace area positive: clockwise on screen, as y points down. Begins at the user's first corner.
        """
        return self._outline

    @property
    def holes(self) -> tuple[Points, ...]:
        """(m, 2) each, mm, read-only, open, shoelace area negative."""
        return self._holes

    @property
    def polygon(self) -> Polygon:
        """The valid shapely polygon of ``outline`` and ``holes``, vertex for vertex."""
        return self._polygon

    @property
    def repairs(self) -> tuple[Repair, ...]:
        """What was done to the outline as given; empty where nothing was."""
        return self._repairs

    @property
    def centre(self) -> Point:
        """The centroid, mm; in a bent patch it may lie outside."""
        if self._centre is None:
            centroid = self._polygon.centroid
            self._centre = (float(centroid.x), float(centroid.y))
        return self._centre

    @property
    def width(self) -> float:
        """mm. The mean of the two sides of the smallest rectangle, at any angle, around the patch.

        The yardstick where something is judged against 'the patch's width'; turning the patch does not
        change it.
        """
        if self._width is None:
            corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(self._polygon))
            sides = np.hypot(*np.diff(corners[:3], axis=0).T)
            self._width = float(sides.mean())
        return self._width

    def locate(self, point: Point) -> Place:
        """Where ``point`` (mm) lies. ``ON``: within ``ON_EDGE`` of the seam, holes' edges included."""
        x, y = point
        if not (abs(x) <= 2 * _FAR and abs(y) <= 2 * _FAR):  # not finite, or where distances overflow
            return Place.OUTSIDE
        if self.is_on_seam((x, y)):
            return Place.ON
        return Place.INSIDE if shapely.contains_xy(self._polygon, x, y) else Place.OUTSIDE

    def is_on_seam(self, point: Point) -> bool:
        """Whether ``point`` (mm, finite) lies within ``ON_EDGE`` of the seam, holes' edges included."""
        return bool(shapely.dwithin(self._seam, shapely.points(point[0], point[1]), ON_EDGE))

    def slide_into(self, point: Point) -> Point:
        """``point`` itself where it is inside or on the seam, else the seam's point nearest to it. mm.

        Raises ``AnchorError`` where a coordinate is not finite.
        """
        x, y = float(point[0]), float(point[1])
        if not (math.isfinite(x) and math.isfinite(y)):
            raise AnchorError("the point has a coordinate that is not a number", do="give x and y as numbers")
        if self.locate((x, y)) is not Place.OUTSIDE:
            return (x, y)
        # A point out where distances overflow slides as one that is merely far.
        at = shapely.points(min(max(x, -_FAR), _FAR), min(max(y, -_FAR), _FAR))
        foot = shapely.get_coordinates(shapely.shortest_line(self._seam, at))[0]
        return (float(foot[0]), float(foot[1]))

    def __repr__(self) -> str:
        holes = f", {len(self._holes)} holes" if self._holes else ""
        return f"<Patch of {len(self._outline)} corners{holes}, {self._polygon.area:.6g} mm²>"


def middle_of(patch: Patch) -> Point:
    """The patch's centroid, or where that lies outside, the centre of the widest circle in it."""
    x, y = patch.centre
    if patch.locate((x, y)) is not Place.OUTSIDE:
        return x, y
    return widest_circle(patch.polygon)[0]


def split_outline(outline: Any, holes: Iterable[Any] = ()) -> tuple[Patch, ...]:
    """The parts of an outline that crosses or touches itself, as patches; one where it is a patch already.

    Arguments and errors as for ``Patch``, but several parts are no error: each is a patch with a repair
    ``split``. In the order of the outline's corners.
    """
    parts = _parts(outline, holes)
    if len(parts.shapes) == 1:
        return (Patch._from_shape(parts.shapes[0], parts.repairs),)
    at = parts.place or (float(parts.shapes[0].outline[0, 0]), float(parts.shapes[0].outline[0, 1]))
    split = Repair(Code.REPAIRED, RepairDetail.SPLIT, at, len(parts.shapes))
    why = (RepairDetail.SELF_CROSSING, RepairDetail.SELF_TOUCHING)  # ``split`` says this already
    repairs = (*(repair for repair in parts.repairs if repair.detail not in why), split)
    return tuple(Patch._from_shape(shape, repairs) for shape in parts.shapes)


# ----------------------------------------------------------------------------------------------------

_Indices: TypeAlias = NDArray[np.intp]

_FAR = float(2**23)
"""mm. Coordinates up to here (8 km) have steps of at most 1e-9 mm, a hundredth of ``ON_EDGE``."""


class _Shape(NamedTuple):
    """An outline that is a patch: oriented rings, and the valid polygon made of them."""

    outline: Points
    holes: tuple[Points, ...]
    polygon: Polygon


class _Parts(NamedTuple):
    """What an outline encloses, and what had to be done to find it."""

    shapes: tuple[_Shape, ...]
    repairs: tuple[Repair, ...]
    place: Point | None
    """Where the outline was not as it should be."""
    ring: Points
    numbers: _Indices
    """Corner numbers of ``ring`` as the user counts them."""
    by_holes: bool = False
    """True where the outline by itself would be a patch."""

    def refusal(self) -> SeveralPartsError:
        """The error for more than one part: what meets, and where."""
        count = len(self.shapes)
        where = f"at {_place(self.place)}" if self.place else ""
        if self.by_holes:
            return SeveralPartsError(
                f"holes that touch cut the patch into {count} parts",
                parts=count,
                where=where,
                do=f"move the holes apart, or make it {count} patches",
            )
        what = _meeting(self.ring, self.numbers, self.place) if self.place else "the outline crosses itself"
        return SeveralPartsError(
            f"{what}, so that the outline falls into {count} parts",
            parts=count,
            where=where,
            do=f"put the corners in the order in which they lie around the patch, or make it {count} patches",
        )


def _parts(outline: Any, holes: Iterable[Any]) -> _Parts:
    """Read, clean and repair; one shape or more, or ``PatchError``."""
    log = _Log()
    given = _read(outline, "the outline")
    given_holes = [_read(hole, f"hole {number}") for number, hole in enumerate(_listed(holes), start=1)]

    kept = _clean(given, log)
    ring = given[kept]
    numbers = kept + 1
    if not _encloses(ring):
        if len(np.unique(given, axis=0)) < 3:
            raise PatchError(
                "has fewer than three different corners",
                where=f"the outline at {_place(given[0])}",
                do="give at least three",
            )
        raise PatchError(
            "has no area, it only runs to and fro",
            where=f"the outline from {_place(given[0])}",
            do="give at least three corners that do not lie on one line",
        )

    hole_rings = []
    for hole in given_holes:
        hole_ring = hole[_clean(hole, log)]
        if _encloses(hole_ring):
            hole_rings.append(hole_ring)
        else:
            log.add(RepairDetail.HOLE_DROPPED, hole[0])

    polygon = _polygon(ring, hole_rings)
    if polygon.is_valid:
        shape = _oriented(ring, hole_rings)
        return _Parts((shape,), log.repairs(), None, ring, numbers)

    place = _invalid_place(polygon)
    pieces = _repaired(ring, hole_rings, log)
    if not pieces:
        raise PatchError(
            "nothing is left of the patch once its holes are cut out",
            where=f"the outline from {_place(given[0])}",
            do="make the holes smaller, or take them out",
        )
    shapes = [_settled(piece) for piece in pieces]
    by_holes = bool(_polygon(ring).is_valid)
    return _Parts(tuple(_in_order(shapes, ring)), log.repairs(), place, ring, numbers, by_holes)


class _Log:
    """Collects repairs, one entry a kind, at the first place."""

    def __init__(self) -> None:
        self._found: dict[RepairDetail, tuple[Point, int]] = {}

    def add(self, detail: RepairDetail, at: Sequence[float] | Points, count: int = 1) -> None:
        first, before = self._found.get(detail, ((float(at[0]), float(at[1])), 0))
        self._found[detail] = (first, before + count)

    def repairs(self) -> tuple[Repair, ...]:
        return tuple(
            Repair(
                Code.SIMPLIFIED if detail is RepairDetail.REPEATED_POINTS else Code.REPAIRED,
                detail,
                at,
                count,
            )
            for detail, (at, count) in self._found.items()
        )


# --- reading ----------------------------------------------------------------------------------------


def _listed(holes: Iterable[Any]) -> list[Any]:
    try:
        return list(holes)
    except TypeError:
        raise PatchError(
            "are not a list of outlines", where="the holes", do="give a list, empty for none"
        ) from None


def _read(ring: Any, name: str) -> Points:
    """``ring`` as a finite (n, 2) array of a possible size; ``PatchError`` otherwise."""
    try:
        points = np.array(ring, dtype=np.float64)
    except (TypeError, ValueError, OverflowError):
        raise PatchError("is not a list of corners", where=name, do="give x and y for each corner") from None
    if points.size == 0:
        raise PatchError("has no corners", where=name, do="give at least three")
    if points.ndim != 2 or points.shape[1] != 2:
        size = " × ".join(str(n) for n in points.shape)
        raise PatchError(
            f"is an array of {size or 'no'} numbers, not of n × 2",
            where=name,
            do="give x and y for each corner",
        )
    finite = np.isfinite(points).all(axis=1)
    if not finite.all():
        number = int(np.argmin(finite)) + 1
        raise PatchError(
            "has a coordinate that is not a number",
            where=f"{name}, corner {number}",
            do="give x and y as finite numbers",
        )
    with np.errstate(over="ignore"):
        size = np.ptp(points, axis=0)
    for extent, word in zip(size, ("wide", "high"), strict=True):
        if extent > MAX_SIZE:
            axis = 0 if word == "wide" else 1
            at = points[int(np.argmax(points[:, axis]))]
            raise PatchError(
                f"is {extent / 1000:.4g} m {word}, and the limit is {MAX_SIZE / 1000:g} m",
                where=f"{name}, out to {_place(at)}",
                do="check the unit",
            )
    if np.abs(points).max() > _FAR:
        raise PatchError(
            f"lies more than {_FAR / 1e6:.0f} km from the origin, too far to be exact",
            where=f"{name} at {_place(points[0])}",
            do="move it nearer to 0, 0",
        )
    return points


# --- cleaning one ring ------------------------------------------------------------------------------


def _clean(points: Points, log: _Log) -> _Indices:
    """Indices of the corners that remain once closing point, repeated points and spikes are taken out."""
    count = len(points)
    if count > 1 and _apart(points[-1], points[0]) <= SAME_POINT:
        count -= 1  # the closing point is a way of writing, no repair
    ring = points[:count]
    after = _next(ring) - ring
    before = -np.concatenate((after[-1:], after[:-1]))
    repeated = np.hypot(after[:, 0], after[:, 1]) <= SAME_POINT
    if not repeated.any() and not _is_spike(*before.T, *after.T).any():
        return np.arange(count)
    return _clean_slowly(ring, log)


def _clean_slowly(ring: Points, log: _Log) -> _Indices:
    """As ``_clean``, corner by corner, since one spike taken out may lay open the next (A-B-C-B-A)."""
    stack: list[int] = []
    corners = ring.tolist()

    def spike(a: int, b: int, c: int) -> bool:
        (ax, ay), (bx, by), (cx, cy) = corners[a], corners[b], corners[c]
        return bool(_is_spike(ax - bx, ay - by, cx - bx, cy - by))

    def same(a: int, b: int) -> bool:
        return math.dist(corners[a], corners[b]) <= SAME_POINT

    def drop(detail: RepairDetail, index: int) -> None:
        log.add(detail, corners[index])

    for index in range(len(corners)):
        if stack and same(stack[-1], index):
            drop(RepairDetail.REPEATED_POINTS, index)
            continue
        while len(stack) >= 2 and spike(stack[-2], stack[-1], index):
            drop(RepairDetail.SPIKE, stack.pop())
            if same(stack[-1], index):
                break  # the way back to where the spike began is part of the spike
        if not (stack and same(stack[-1], index)):
            stack.append(index)

    # The same around the first corner, which is kept as long as it is no spike's tip.
    start = 0
    while len(stack) - start >= 2:
        first, last = stack[start], stack[-1]
        if same(first, last):
            drop(RepairDetail.REPEATED_POINTS, stack.pop())
        elif len(stack) - start >= 3 and spike(stack[-2], last, first):
            drop(RepairDetail.SPIKE, stack.pop())
            if len(stack) - start >= 2 and same(first, stack[-1]):
                stack.pop()
        elif len(stack) - start >= 3 and spike(last, first, stack[start + 1]):
            drop(RepairDetail.SPIKE, first)
            start += 1
            if same(stack[start], stack[-1]):
                stack.pop()
        else:
            break
    return np.array(stack[start:], dtype=np.intp)


_Number = TypeVar("_Number", float, NDArray[np.float64])


def _is_spike(ax: _Number, ay: _Number, bx: _Number, by: _Number) -> Any:
    """True where the edge runs to a corner and back the same way; of numbers or of arrays.

    ``a``, ``b``: from the corner to the one before and to the one after. In a spike, the end of the shorter
    edge lies within ``SAME_POINT`` of the longer one.
    """
    cross = (ax * by - ay * bx) / SAME_POINT
    squared = cross * cross
    flat = (squared <= ax * ax + ay * ay) | (squared <= bx * bx + by * by)
    return (ax * bx + ay * by > 0) & flat


# --- repairing --------------------------------------------------------------------------------------


def _repaired(ring: Points, hole_rings: list[Points], log: _Log) -> list[Polygon]:
    """The pieces enclosed by ``ring`` and outside the holes, each one connected, slivers left out."""
    shell = _polygon(ring)
    if not shell.is_valid:
        log.add(_crossing_kind(shell), _invalid_place(shell) or ring[0])
        shell = _made_valid(shell)
    holes = []
    for hole_ring in hole_rings:
        hole = _polygon(hole_ring)
        if not hole.is_valid:
            log.add(RepairDetail.HOLE_CROSSING, _invalid_place(hole) or hole_ring[0])
            hole = _made_valid(hole)
        overlap = shapely.intersection(hole, shell)
        if not _pieces(overlap):
            log.add(RepairDetail.HOLE_OUTSIDE, hole_ring[0])
            continue
        along = shapely.intersection(shapely.boundary(hole), shapely.boundary(shell))
        if not shapely.covers(shell, hole) or along.length > 0:
            log.add(RepairDetail.HOLE_CLIPPED, _a_point_of(along, hole_ring[0]))
        holes.append(hole)
    meeting = shapely.STRtree(holes).query(holes, predicate="intersects") if holes else ()
    for first, second in zip(*meeting, strict=True):
        if first < second:
            shared = shapely.intersection(holes[first], holes[second])
            if shared.length > 0:
                log.add(RepairDetail.HOLES_JOINED, shapely.get_coordinates(shared)[0])
    left = shapely.difference(shell, shapely.union_all(holes)) if holes else shell
    pieces = _pieces(left)
    slivers = [piece for piece in pieces if _thinner(piece.area, piece.length, FLATTEN)]
    if len(slivers) == len(pieces):  # where everything is thin, thin is what was drawn
        return pieces
    for sliver in slivers:
        log.add(RepairDetail.SLIVER, shapely.get_coordinates(sliver)[0])
    return [piece for piece in pieces if piece not in slivers]


def _settled(piece: Polygon) -> _Shape:
    """``piece`` as a shape, with corners closer than ``SAME_POINT`` left by the overlay taken out."""
    quiet = _Log()  # what the overlay left is no repair of what the user drew
    ring = _open(piece.exterior)
    ring = ring[_clean(ring, quiet)]
    holes = []
    for interior in piece.interiors:
        hole = _open(interior)
        hole = hole[_clean(hole, quiet)]
        if len(hole) >= 3 and not _thinner(_area(hole), _perimeter(hole), SAME_POINT):
            holes.append(hole)
    if len(ring) >= 3 and _polygon(ring, holes).is_valid:
        return _oriented(ring, holes)
    # Taking out close corners made two lines touch: the overlay's own answer is valid as it stands.
    return _oriented(_open(piece.exterior), [_open(interior) for interior in piece.interiors])


def _oriented(ring: Points, holes: Sequence[Points]) -> _Shape:
    outline = _wound(ring, 1.0)
    inner = tuple(_wound(hole, -1.0) for hole in holes)
    return _Shape(outline, inner, _polygon(outline, inner))


def _wound(ring: Points, sign: float) -> Points:
    """``ring`` with a shoelace area of that sign, its first corner still the first."""
    return ring if _area(ring) * sign > 0 else np.concatenate([ring[:1], ring[:0:-1]])


def _in_order(shapes: list[_Shape], ring: Points) -> list[_Shape]:
    """Each shape begun at the earliest corner of ``ring`` that it holds; the shapes in that order."""
    number = {tuple(corner): index for index, corner in reversed(list(enumerate(ring.tolist())))}
    found = []
    for shape in shapes:
        order = [number.get(tuple(corner), len(ring)) for corner in shape.outline.tolist()]
        earliest = min(order)
        if earliest == len(ring):  # no corner of the user's is left: the one nearest to the first
            start = int(np.argmin(((shape.outline - ring[0]) ** 2).sum(axis=1)))
        else:
            start = order.index(earliest)
        rolled = np.roll(shape.outline, -start, axis=0)
        again = _Shape(rolled, shape.holes, _polygon(rolled, shape.holes))
        found.append((earliest, -again.polygon.area, again))
    found.sort(key=lambda item: item[:2])
    return [shape for _, _, shape in found]


# --- small helpers ----------------------------------------------------------------------------------


def _polygon(ring: Points, holes: Sequence[Points] = ()) -> Polygon:
    return shapely.polygons(
        shapely.linearrings(ring), holes=[shapely.linearrings(hole) for hole in holes] if holes else None
    )


def _pieces(geometry: Any) -> list[Polygon]:
    """The polygons of any geometry that have an area; lines and points have none."""
    return [
        part
        for part in shapely.get_parts(geometry).tolist()
        if part.geom_type == "Polygon" and not _thinner(part.area, part.length, SAME_POINT)
    ]


def _encloses(ring: Points) -> bool:
    """False where a cleaned ring has no area. One whose loops cancel out (a bow-tie) has."""
    if len(ring) < 3:
        return False
    if not _thinner(_area(ring), _perimeter(ring), SAME_POINT):
        return True
    return bool(_pieces(_made_valid(_polygon(ring))))


def _made_valid(polygon: Polygon) -> Any:
    """Everything that the ring winds around, however often and either way (as GEOS's `structure`)."""
    return shapely.make_valid(polygon, method="structure", keep_collapsed=False)


def _open(ring: Any) -> Points:
    points: Points = shapely.get_coordinates(ring)[:-1]
    return points


def _next(ring: Points) -> Points:
    """For each corner, the one after it. (numpy's own roll takes many times as long on short rings.)"""
    return np.concatenate((ring[1:], ring[:1]))


def _area(ring: Points) -> float:
    """Shoelace area, mm²; positive is clockwise on screen. Taken about the first corner, for exactness."""
    x, y = (ring[1:] - ring[0]).T
    return float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum()) / 2


def _perimeter(ring: Points) -> float:
    x, y = (_next(ring) - ring).T
    return float(np.hypot(x, y).sum())


def _thinner(area: float, perimeter: float, width: float) -> bool:
    """True where a strip of that area and perimeter is thinner than ``width`` (mm)."""
    return 2 * abs(area) <= width * perimeter


def _apart(a: Points, b: Points) -> float:
    return math.hypot(a[0] - b[0], a[1] - b[1])


def _a_point_of(geometry: Any, otherwise: Points) -> Points:
    point: Points = otherwise if geometry.is_empty else shapely.get_coordinates(geometry)[0]
    return point


_REASON = re.compile(r"^(?P<why>[^\[]*)\[(?P<x>\S+) (?P<y>\S+)\]$")


def _invalid_place(polygon: Polygon) -> Point | None:
    """Where GEOS found the polygon wrong, from its sentence, such as ``Self-intersection[20 20]``."""
    match = _REASON.match(shapely.is_valid_reason(polygon))
    return (float(match["x"]), float(match["y"])) if match else None


def _crossing_kind(polygon: Polygon) -> RepairDetail:
    touching = shapely.is_valid_reason(polygon).startswith("Ring Self-intersection")
    return RepairDetail.SELF_TOUCHING if touching else RepairDetail.SELF_CROSSING


def _meeting(ring: Points, numbers: _Indices, place: Point) -> str:
    """Which corners and sides of ``ring`` meet at ``place``, in words, by the user's numbers."""
    onward = _next(ring)
    sides = shapely.linestrings(np.stack([ring, onward], axis=1))
    # GEOS prints a place to 16 digits or so: what it means passes within SAME_POINT.
    at_sides = np.flatnonzero(shapely.distance(sides, shapely.points(place)) <= SAME_POINT)
    at_corners = np.flatnonzero(np.hypot(*(ring - place).T) <= SAME_POINT)
    end = np.roll(np.arange(len(ring)), -1)
    through = [side for side in at_sides if side not in at_corners and end[side] not in at_corners]
    corners = [f"corner {numbers[corner]}" for corner in at_corners]
    runs = [f"the side from corner {numbers[side]} to {numbers[end[side]]}" for side in through]
    if len(corners) >= 2:
        return f"{corners[0]} and {corners[1]} lie on the same place"
    if corners and runs:
        return f"{corners[0]} lies on {runs[0]}"
    if len(runs) >= 2:
        return f"{runs[0]} crosses {runs[1]}"
    return "the outline crosses itself"


def _place(point: Sequence[float] | Points) -> str:
    return ", ".join(f"{round(float(value), 3) + 0.0:.12g} mm" for value in point)
