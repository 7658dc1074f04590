"""The spaces between blocks: a frame less the blocks that lie in it, and which of those spaces are the same.

A place is a rigid motion, so that work done once for a patch serves every place where it comes again,
turned or mirrored.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from geometry.errors import PatchError
from geometry.stitchable import overlay_grid
from geometry.tolerances import FLATTEN, LEAST_PART, SAME_DIRECTION, SAME_POINT
from geometry.types import Point, Points

Area: TypeAlias = Polygon | MultiPolygon

SAME_SHAPE: Final = FLATTEN
"""mm, default: spaces that can be laid on each other to this are one patch that repeats."""
THINNEST: Final = 0.3
"""mm, default: what is thinner than a pen line is no space, but blocks that do not quite meet."""

_NO_STEP: Final = 10 * SAME_POINT
"""mm. A step or a bend in a seam by this much comes from the overlay, not from a block."""


class LeftoverError(PatchError):
    """A frame or blocks that leave nothing to work with."""


@dataclass(frozen=True, slots=True)
class Motion:
    """Mirrored first (x to -x) or not, then turned about the origin, then moved."""

    mirrored: bool
    turn: float
    """rad, from x towards y: clockwise on screen. Between -π (exclusive) and π."""
    move: Point
    """mm."""

    def __call__(self, points: Points) -> Points:
        """(n, 2) -> (n, 2) mm."""
        z = points[:, 0] + 1j * points[:, 1]
        moved = (-z.conj() if self.mirrored else z) * np.exp(1j * self.turn) + complex(*self.move)
        return np.column_stack([moved.real, moved.imag])


@dataclass(frozen=True, slots=True, eq=False)
class Leftover:
    """One space, and everywhere that it comes again."""

    polygon: Polygon
    """mm, oriented, without corners in the middle of straight sides."""
    places: tuple[Motion, ...]
    """From ``polygon`` to each of its places; the first is no motion."""
    area: float
    """mm² of all places together, each as it is."""


@dataclass(frozen=True, slots=True, eq=False)
class Leftovers:
    """What blocks leave of a frame: its area is ``covered``, that of all spaces, and of ``slivers``."""

    spaces: tuple[Leftover, ...]
    """Largest first; those of one size as they come from the upper left, row by row."""
    slivers: tuple[Polygon, ...]
    """Thinner than a space can be; largest first."""
    covered: float
    """mm² of the frame under blocks."""
    overlaps: tuple[tuple[int, int, float], ...]
    """Blocks that lie over each other: their numbers and the mm² they share."""
    outside: tuple[int, ...]
    """Blocks that reach out of the frame."""


def leftover(
    frame: Area, blocks: Sequence[Area], *, thinnest: float = THINNEST, same: float = SAME_SHAPE
) -> Leftovers:
    """The spaces that ``blocks`` leave of ``frame``; both valid, mm.

    Where two spaces hang together by less than ``thinnest`` mm, as where corners of blocks all but touch,
    they are parted. Spaces that can be laid on each other within ``same`` mm, turned or mirrored too, are
    one. Raises ``LeftoverError`` where an outline is no area, or nothing is left.
    """
    _check(frame, blocks)
    grid = overlay_grid(frame, *blocks)
    taken: Area = shapely.union_all(blocks, grid_size=grid) if blocks else Polygon()
    rest = shapely.difference(frame, taken, grid_size=grid)
    pieces: list[Polygon] = []
    slivers: list[Polygon] = []
    for part in shapely.get_parts(rest).tolist():
        if part.geom_type == "Polygon" and part.area > 0:
            wide, thin = _parted(part, thinnest)
            pieces += wide
            slivers += thin
    if not pieces:
        raise LeftoverError(
            "the blocks leave no space", where="frame", do="take a larger one, or fewer blocks"
        )
    slivers.sort(key=lambda sliver: -sliver.area)
    return Leftovers(
        spaces=_grouped([_plain(piece) for piece in pieces], same),
        slivers=tuple(slivers),
        covered=float(shapely.area(shapely.intersection(frame, taken, grid_size=grid))),
        overlaps=_overlaps(blocks),
        outside=_outside(frame, blocks),
    )


def rows_of_blocks(
    block: Area,
    rows: int,
    columns: int,
    step: Point,
    *,
    first: Point = (0.0, 0.0),
    turns: Sequence[Sequence[float]] = ((0.0,),),
) -> tuple[Area, ...]:
    """``block`` in a grid, row by row, turned about the middle of its bounds.

    ``step``: mm from one to the next, across and down. ``first``: mm, where the middle of the first comes.
    ``turns``: rad, clockwise on screen, row by row, repeated where the grid is larger; quarters are exact.
    Raises ``LeftoverError`` for less than one row or column, or no turns.
    """
    if rows < 1 or columns < 1 or not turns or not all(turns):
        raise LeftoverError("a grid has one row and column or more", where="grid", do="give both")
    left, top, right, bottom = shapely.bounds(block)
    middle = np.array([(left + right) / 2, (top + bottom) / 2])
    turned: dict[float, Area] = {}

    def at(angle: float) -> Area:
        if angle not in turned:
            cos, sin = _exact(math.cos(angle)), _exact(math.sin(angle))
            turn = np.array([[cos, sin], [-sin, cos]])
            turned[angle] = shapely.transform(block, lambda points: (points - middle) @ turn)
        return turned[angle]

    placed: list[Area] = []
    for row in range(rows):
        of_row = turns[row % len(turns)]
        for column in range(columns):
            by = np.array([first[0] + column * step[0], first[1] + row * step[1]])
            placed.append(
                shapely.transform(at(of_row[column % len(of_row)]), lambda points, by=by: points + by)
            )
    return tuple(placed)


def _exact(value: float) -> float:
    """A cosine that is -1, 0 or 1 but for rounding is so."""
    return float(round(value)) if abs(value - round(value)) < SAME_DIRECTION else value


def _check(frame: Area, blocks: Sequence[Area]) -> None:
    for name, area in (("frame", frame), *((f"block {k + 1}", block) for k, block in enumerate(blocks))):
        if not area.is_valid or not area.area > 0:
            raise LeftoverError(
                "its outline encloses no area, or crosses itself", where=name, do="draw it again"
            )


def _parted(part: Polygon, thinnest: float) -> tuple[list[Polygon], list[Polygon]]:
    """The spaces in ``part``, and what is too thin for one."""
    core = shapely.buffer(part, -thinnest / 2, join_style="mitre", mitre_limit=5.0)
    cores = [each for each in shapely.get_parts(core).tolist() if each.area > LEAST_PART]
    if not cores:
        return [], [part]
    if len(cores) == 1:
        return [part], []
    # What a core grows back to is the space without the necks; a step of the grid more, so that its seams are
    # the part's.
    by = thinnest / 2 + 2 * overlay_grid(part)
    grown = [shapely.buffer(each, by, join_style="mitre", mitre_limit=5.0) for each in cores]
    spaces: list[Polygon] = []
    rest: Area = part
    for each in grown:
        own = shapely.intersection(rest, each, grid_size=overlay_grid(part))
        largest = max(shapely.get_parts(own).tolist(), key=lambda piece: float(piece.area))
        spaces.append(largest)
        rest = shapely.difference(rest, largest, grid_size=overlay_grid(part))
    left = [
        each for each in shapely.get_parts(rest).tolist() if each.geom_type == "Polygon" and each.area > 0
    ]
    return spaces, left


def _plain(polygon: Polygon) -> Polygon:
    """Without the points where a block's corner met the middle of a straight side; oriented."""

    def corners(ring: shapely.LinearRing) -> Points:
        at: Points = shapely.get_coordinates(shapely.remove_repeated_points(ring, _NO_STEP))[:-1]
        while True:
            on, back = np.roll(at, -1, axis=0) - at, np.roll(at, 1, axis=0) - at
            chord = np.roll(at, -1, axis=0) - np.roll(at, 1, axis=0)
            length = np.hypot(chord[:, 0], chord[:, 1])
            off = np.abs(on[:, 0] * back[:, 1] - on[:, 1] * back[:, 0])
            flat = (off <= _NO_STEP * length) & ((on * back).sum(axis=1) < 0)
            # Not two neighbours at once: together they may be a bend.
            flat &= ~(np.roll(flat, 1) & (np.arange(len(at)) % 2 == 1))
            if not flat.any() or len(at) - flat.sum() < 3:
                return at
            at = at[~flat]

    made = Polygon(corners(polygon.exterior), [corners(hole) for hole in polygon.interiors])
    return shapely.orient_polygons(made if made.is_valid else polygon)


def _overlaps(blocks: Sequence[Area]) -> tuple[tuple[int, int, float], ...]:
    if len(blocks) < 2:
        return ()
    tree = shapely.STRtree(blocks)
    one, other = tree.query(blocks, predicate="intersects")
    first = one < other
    one, other = one[first], other[first]
    areas = np.asarray(blocks, dtype=object)
    shared = shapely.area(shapely.intersection(areas[one], areas[other]))
    # Less than a pen line along their common seam is how files are rounded.
    around = np.minimum(shapely.length(areas[one]), shapely.length(areas[other]))
    real = shared > THINNEST / 10 * around
    return tuple(
        (int(a), int(b), float(area)) for a, b, area in zip(one[real], other[real], shared[real], strict=True)
    )


def _outside(frame: Area, blocks: Sequence[Area]) -> tuple[int, ...]:
    if not len(blocks):
        return ()
    areas = np.asarray(blocks, dtype=object)
    shapely.prepare(frame)
    rim = np.flatnonzero(~shapely.covers(frame, areas))
    beyond = shapely.area(shapely.difference(areas[rim], frame))
    return tuple(rim[beyond > THINNEST / 10 * shapely.length(areas[rim])].tolist())


# -------------------------------------------------------------------------------------- which are the same


def _grouped(pieces: list[Polygon], same: float) -> tuple[Leftover, ...]:
    bounds = shapely.bounds(pieces)
    areas = shapely.area(pieces)
    around = shapely.length(pieces)
    count = shapely.get_num_coordinates(pieces)
    rows = np.round(bounds[:, 1] / max(same, SAME_POINT))
    order = np.lexsort([bounds[:, 0], rows, -np.round(areas / max(same, SAME_POINT))])
    kinds: list[tuple[int, list[Motion], list[float]]] = []

    def place(index: int) -> None:
        slack = same * float(around[index] + 1)
        for kind, places, sizes in reversed(kinds):
            if areas[kind] - areas[index] > slack:
                break  # sorted by area: all that could be this one came last
            if count[kind] != count[index] or abs(around[kind] - around[index]) > same * count[index]:
                continue
            motion = _motion(pieces[kind], pieces[index], same)
            if motion is not None:
                places.append(motion)
                sizes.append(float(areas[index]))
                return
        kinds.append((index, [Motion(False, 0.0, (0.0, 0.0))], [float(areas[index])]))

    for index in order.tolist():
        place(index)
    return tuple(Leftover(pieces[kind], tuple(places), math.fsum(sizes)) for kind, places, sizes in kinds)


def _motion(one: Polygon, other: Polygon, same: float) -> Motion | None:
    """A motion that lays ``one`` on ``other`` within ``same`` mm, corner on corner; not mirrored where that
    does, and turned by as little as does."""
    if len(one.interiors) != len(other.interiors):
        return None
    start, end = (shapely.get_coordinates(each.exterior)[:-1] for each in (one, other))
    if len(start) != len(end):
        return None
    for mirrored in (False, True):
        for motion in sorted(_candidates(start, end, mirrored, same), key=lambda each: abs(each.turn)):
            laid = [motion(shapely.get_coordinates(hole)) for hole in one.interiors]
            if _same_rings(laid, [shapely.get_coordinates(hole) for hole in other.interiors], same):
                return motion
    return None


def _candidates(start: Points, end: Points, mirrored: bool, same: float) -> Iterator[Motion]:
    """For each corner on which the first can come: the turn with the least sum of squares about the middles,
    the argument of Σ conj(z)·w."""
    z, w = (each[:, 0] + 1j * each[:, 1] for each in (start, end))
    if mirrored:
        z = -z.conj()[::-1]  # so that it runs the same way round
    count = len(z)
    about, onto = z - z.mean(), w - w.mean()
    shifted = onto[(np.arange(count)[:, None] + np.arange(count)[None, :]) % count]
    turns = shifted @ about.conj()
    turns = np.where(turns == 0, 1.0, turns / np.where(turns == 0, 1.0, np.abs(turns)))
    off = np.abs(about[None, :] * turns[:, None] - shifted).max(axis=1)
    for k in np.flatnonzero(off <= same).tolist():
        move = w.mean() - z.mean() * turns[k]
        angle = float(np.angle(turns[k]))
        yield Motion(
            mirrored, angle if abs(angle) > SAME_DIRECTION else 0.0, (float(move.real), float(move.imag))
        )


def _same_rings(one: Sequence[Points], other: Sequence[Points], same: float) -> bool:
    """Whether each ring lies on one of the others, whatever point it begins with."""
    left = [shapely.linearrings(ring) for ring in other]
    for ring in map(shapely.linearrings, one):
        found = next(
            (k for k, hole in enumerate(left) if shapely.hausdorff_distance(ring, hole) <= same), None
        )
        if found is None:
            return False
        left.pop(found)
    return True
