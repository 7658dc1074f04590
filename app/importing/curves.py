"""Curves as a drawing file has them, and polylines that stay within a tolerance of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geometry.types import Point, Points

Matrix = tuple[float, float, float, float, float, float]
"""``a b c d e f`` of SVG: x' = a·x + c·y + e, y' = b·x + d·y + f."""

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)


def times(first: Matrix, second: Matrix) -> Matrix:
    """``second`` done before ``first``: what stands inside is the second."""
    a, b, c, d, e, f = first
    g, h, i, j, k, m = second
    return (a * g + c * h, b * g + d * h, a * i + c * j, b * i + d * j, a * k + c * m + e, b * k + d * m + f)


def shift(x: float, y: float) -> Matrix:
    """The map that moves everything by x, y."""
    return (1.0, 0.0, 0.0, 1.0, x, y)


def mapped(points: NDArray[np.float64], matrix: Matrix) -> NDArray[np.float64]:
    """Points (…, 2) under an affine map. Numbers that overflow become inf or nan, without a warning."""
    linear, moved = _arrays(matrix)
    with np.errstate(over="ignore", invalid="ignore"):
        there: NDArray[np.float64] = points @ linear + moved
    return there


@lru_cache(maxsize=256)  # many shapes lie in one group
def _arrays(matrix: Matrix) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    a, b, c, d, e, f = matrix
    return np.array([[a, b], [c, d]]), np.array([e, f])


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Rings of straight lines, Bézier curves and elliptic arcs, in the units of the file.

    ``control``: (m, 4, 2) float, one row a segment: the four control points of a cubic (a line is one,
    with its controls at the thirds), or of an arc its centre c, c + u, c + v and its end, where the arc
    is c + u·cos t + v·sin t for t from ``angles[:, 0]``, ``angles[:, 1]`` long. An affine map of the
    control points is the affine map of the curve, for all of them.
    ``ring``: (m,) int, the ring that each belongs to, rising. ``starts``: (r, 2). ``closed``: (r,).
    ``is_straight``: nothing but lines. ``has_arcs``: some arc.
    """

    control: NDArray[np.float64]
    is_arc: NDArray[np.bool_]
    angles: NDArray[np.float64]
    ring: NDArray[np.intp]
    starts: Points
    closed: tuple[bool, ...]
    is_straight: bool
    has_arcs: bool

    def __len__(self) -> int:
        return len(self.closed)

    def mapped(self, matrix: Matrix) -> Curves:
        """Under an affine map. Numbers that overflow become inf or nan: see ``box``."""
        count = 4 * len(self.control)
        there = mapped(np.concatenate([self.control.reshape(-1, 2), self.starts]), matrix)
        return Curves(
            there[:count].reshape(-1, 4, 2),
            self.is_arc,
            self.angles,
            self.ring,
            there[count:],
            self.closed,
            self.is_straight,
            self.has_arcs,
        )

    def only(self, rings: NDArray[np.bool_]) -> Curves:
        """The rings for which ``rings`` (r,) is true."""
        kept = rings[self.ring]
        number = np.cumsum(rings) - 1
        closed = tuple(np.array(self.closed, dtype=bool)[rings].tolist())
        return Curves(
            self.control[kept],
            self.is_arc[kept],
            self.angles[kept],
            number[self.ring[kept]],
            self.starts[rings],
            closed,
            self.is_straight,
            self.has_arcs,
        )

    def ends(self) -> Points:
        """(r, 2). The last point of each ring, before it is closed."""
        if len(self) == 1:
            return self.control[-1:, 3]
        last = np.flatnonzero(np.diff(self.ring, append=-1))
        ends: Points = self.control[last, 3]
        return ends

    def box(self) -> tuple[float, float, float, float] | None:
        """x0, y0, x1, y1 around all control points, and around the eighths of arcs.

        None where there is nothing, or a number has overflowed.
        """
        if not len(self):
            return None
        if self.has_arcs:
            points = [self.control[~self.is_arc].reshape(-1, 2), self.control[:, 3], self.starts]
            with np.errstate(over="ignore", invalid="ignore"):
                centre, u, v = self._ellipses()
                begin, turn = self.angles[self.is_arc].T
                for eighth in range(1, 8):
                    angle = (begin + turn * eighth / 8)[:, None]
                    points.append(centre + u * np.cos(angle) + v * np.sin(angle))
        else:
            points = [self.control.reshape(-1, 2), self.starts]
        every = np.concatenate(points)
        (x0, y0), (x1, y1) = every.min(axis=0).tolist(), every.max(axis=0).tolist()
        box = (x0, y0, x1, y1)
        return box if all(map(math.isfinite, box)) else None  # NaN is both the least and the most

    def steps(self, tolerance: float) -> NDArray[np.intp]:
        """(m,). In how many equal steps of its parameter each segment stays within ``tolerance``."""
        # A chord strays from a curve by at most 1/8 · step² · max |B''| (the error of linear
        # interpolation), and |B''| of a cubic is at most 6 times its largest second difference.
        if self.is_straight:
            return np.ones(len(self.control), dtype=np.intp)
        second = np.diff(self.control, n=2, axis=1)
        bend = np.hypot(second[:, :, 0], second[:, :, 1]).max(axis=1)
        count = np.sqrt(0.75 * bend / tolerance)
        # An ellipse is the unit circle under a linear map that lengthens nothing by more than its largest
        # singular value, and a chord strays from that circle by 1 - cos(step / 2).
        if self.has_arcs:
            _, u, v = self._ellipses()
            largest = np.linalg.norm(np.stack([u, v], axis=1), ord=2, axis=(1, 2))
            # 1 - cos(step / 2) = 2 sin²(step / 4), written so for the sake of flat arcs.
            sagitta = np.minimum(tolerance / np.maximum(largest, tolerance), 1 - math.sqrt(0.5))
            count[self.is_arc] = np.abs(self.angles[self.is_arc, 1]) / (4 * np.arcsin(np.sqrt(sagitta / 2)))
        steps: NDArray[np.intp] = np.maximum(1, np.ceil(count)).astype(np.intp)
        return steps

    def flattened(self, steps: NDArray[np.intp]) -> list[Points]:
        """The rings as polylines of ``steps`` (m,) points a segment; a ring's end meets its start or not."""
        if not len(self):
            return []
        points = self._points(steps)
        if len(self) == 1:
            return [np.concatenate([self.starts, points])]
        sizes = np.bincount(self.ring, weights=steps, minlength=len(self)).astype(np.intp)
        pieces = np.split(points, np.cumsum(sizes)[:-1])
        return [np.vstack([start, piece]) for start, piece in zip(self.starts, pieces, strict=True)]

    def _points(self, steps: NDArray[np.intp]) -> Points:
        """The points of ``flattened``, all rings in one, without their starts."""
        total = int(steps.sum())
        if total == len(steps):
            ends: Points = self.control[:, 3]
            return ends
        segment = np.repeat(np.arange(len(steps)), steps)
        first = np.cumsum(steps) - steps
        t = (np.arange(total) - first[segment] + 1) / steps[segment]
        s = 1 - t
        weights = np.stack([s**3, 3 * s * s * t, 3 * s * t * t, t**3], axis=1)
        points: Points = np.einsum("ni,nij->nj", weights, self.control[segment])
        if self.has_arcs:
            on_arc = self.is_arc[segment]
            which = (np.cumsum(self.is_arc) - 1)[segment[on_arc]]
            centre, u, v = self._ellipses()
            begin, turn = self.angles[segment[on_arc]].T
            angle = (begin + t[on_arc] * turn)[:, None]
            points[on_arc] = centre[which] + u[which] * np.cos(angle) + v[which] * np.sin(angle)
        points[first + steps - 1] = self.control[:, 3]  # ends meet exactly
        return points

    def _ellipses(self) -> tuple[Points, Points, Points]:
        """Centre, u and v of each arc."""
        arcs = self.control[self.is_arc]
        return arcs[:, 0], arcs[:, 1] - arcs[:, 0], arcs[:, 2] - arcs[:, 0]


_NO_ANGLES = (0.0, 0.0)
"""Of what is no arc."""


class Pen:
    """Draws rings, one after the other; ``curves`` is what was drawn. A move alone draws nothing."""

    def __init__(self) -> None:
        self._control: list[tuple[Point, Point, Point, Point]] = []
        self._angles: list[tuple[float, float]] = []
        self._ring: list[int] = []
        self._starts: list[Point] = []
        self._closed: list[bool] = []
        self._start: Point = (0.0, 0.0)
        self.at: Point = (0.0, 0.0)
        """Where the pen is."""
        self._drawing = False
        self._is_straight = True
        self._has_arcs = False

    def move(self, to: Point) -> None:
        """Begin a new ring at ``to``."""
        self._start = self.at = to
        self._drawing = False

    def line(self, to: Point) -> None:
        """A straight line."""
        (x0, y0), (x1, y1) = self.at, to
        first, second = ((2 * x0 + x1) / 3, (2 * y0 + y1) / 3), ((x0 + 2 * x1) / 3, (y0 + 2 * y1) / 3)
        self._add((self.at, first, second, to), _NO_ANGLES)

    def quadratic(self, control: Point, to: Point) -> None:
        """A quadratic Bézier curve, as the cubic that it is."""
        (x0, y0), (x, y), (x1, y1) = self.at, control, to
        self.cubic(((x0 + 2 * x) / 3, (y0 + 2 * y) / 3), ((x1 + 2 * x) / 3, (y1 + 2 * y) / 3), to)

    def cubic(self, first: Point, second: Point, to: Point) -> None:
        """A cubic Bézier curve."""
        self._is_straight = False
        self._add((self.at, first, second, to), _NO_ANGLES)

    def arc(self, centre: Point, u: Point, v: Point, angle: float, turn: float, to: Point) -> None:
        """An elliptic arc: centre + u·cos t + v·sin t, t from ``angle`` on, ``turn`` long (radians).

        ``u``, ``v``: vectors. ``to``: its end, which the formula meets but for rounding.
        """
        (x, y), (ux, uy), (vx, vy) = centre, u, v
        self._is_straight, self._has_arcs = False, True
        self._add((centre, (x + ux, y + uy), (x + vx, y + vy), to), (angle, turn))

    def close(self) -> None:
        """Close the ring; what is drawn next begins at its start."""
        if self._drawing:
            self._closed[-1] = True
        self.at = self._start
        self._drawing = False

    def _add(self, control: tuple[Point, Point, Point, Point], angles: tuple[float, float]) -> None:
        if not self._drawing:
            self._starts.append(self._start)
            self._closed.append(False)
            self._drawing = True
        self._control.append(control)
        self._angles.append(angles)
        self._ring.append(len(self._starts) - 1)
        self.at = control[3]

    def curves(self) -> Curves:
        """What was drawn so far."""
        if self._has_arcs:
            is_arc = np.array([angles is not _NO_ANGLES for angles in self._angles])
            angles = np.array(self._angles, dtype=np.float64)
        else:
            is_arc, angles = np.zeros(len(self._control), dtype=bool), np.zeros((len(self._control), 2))
        return Curves(
            np.array(self._control, dtype=np.float64).reshape(-1, 4, 2),
            is_arc,
            angles,
            np.array(self._ring, dtype=np.intp),
            np.array(self._starts, dtype=np.float64).reshape(-1, 2),
            tuple(self._closed),
            self._is_straight,
            self._has_arcs,
        )


def polyline(points: Sequence[Point], *, closed: bool) -> Curves:
    """Straight lines from point to point."""
    pen = Pen()
    if points:
        pen.move(points[0])
    for point in points[1:]:
        pen.line(point)
    if closed:
        pen.close()
    return pen.curves()


def ellipse(centre: Point, rx: float, ry: float) -> Curves:
    """An ellipse with its axes along x and y, in four quarters, so that its box is exact."""
    x, y = centre
    pen = Pen()
    pen.move((x + rx, y))
    for number, end in enumerate([(x, y + ry), (x - rx, y), (x, y - ry), (x + rx, y)]):
        pen.arc(centre, (rx, 0.0), (0.0, ry), number * math.pi / 2, math.pi / 2, end)
    pen.close()
    return pen.curves()


def rounded_rectangle(x: float, y: float, width: float, height: float, rx: float, ry: float) -> Curves:
    """A rectangle with quarter ellipses for corners; square ones where a radius is 0.

    As SVG 2 describes the path of a `rect`. ``rx``, ``ry``: at most half the width and height.
    """
    right, bottom = x + width, y + height
    if not (rx > 0 and ry > 0):
        return polyline([(x, y), (right, y), (right, bottom), (x, bottom)], closed=True)
    pen = Pen()
    pen.move((x + rx, y))
    quarters = (  # where the straight piece ends, the corner's centre, and where the corner ends
        ((right - rx, y), (right - rx, y + ry), (right, y + ry)),
        ((right, bottom - ry), (right - rx, bottom - ry), (right - rx, bottom)),
        ((x + rx, bottom), (x + rx, bottom - ry), (x, bottom - ry)),
        ((x, y + ry), (x + rx, y + ry), (x + rx, y)),
    )
    for number, (begin, centre, end) in enumerate(quarters):
        if math.dist(pen.at, begin) > 1e-12 * (width + height):  # corners may take up a whole side
            pen.line(begin)
        pen.arc(centre, (rx, 0.0), (0.0, ry), (number - 1) * math.pi / 2, math.pi / 2, end)
    pen.close()
    return pen.curves()
