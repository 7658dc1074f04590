"""From a photo to the cloth: the plane perspective that four known places or more fix.

A homography takes pixels (x right, y down) to millimetres on the cloth, as any camera without lens
distortion sees a flat thing (Hartley and Zisserman, Multiple View Geometry, 2nd edition, 2.3 and 4.1, from
memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from geometry.errors import WedgewrightError
from geometry.types import Point, Points, frozen

Matrix = NDArray[np.float64]
"""(3, 3) float64."""

_IN_LINE: Final = 1e-3
"""Of three places, the triangle's height over its longest side: flatter ones are in line for a hand."""
_STEPS: Final = 50
_STILL: Final = 1e-13
"""Share of the matrix: a step that is smaller ends the balance."""


class RectifyError(WedgewrightError):
    """Places that fix no perspective."""


@dataclass(frozen=True, slots=True)
class Rectified:
    """How a photo lies on the cloth."""

    to_cloth: Matrix
    """(3, 3) pixels -> mm, its last element 1 unless that is 0."""
    to_photo: Matrix
    """(3, 3) mm -> pixels."""
    misfits: tuple[float, ...]
    """mm on the cloth, for each place: how far from where it is known to be the photo puts it. All 0 where
    there are four."""

    def on_cloth(self, pixels: Points) -> Points:
        """(n, 2) pixels -> (n, 2) mm. What lies beyond the photo's horizon comes out as NaN."""
        return _seen(self.to_cloth, pixels)

    def in_photo(self, places: Points) -> Points:
        """(n, 2) mm -> (n, 2) pixels; NaN for what lies behind the camera."""
        return _seen(self.to_photo, places)

    def mm_per_pixel(self, at: Point) -> float:
        """The longer side of what one pixel at ``at`` covers of the cloth: what a click there can tell."""
        x, y = at
        around = np.array([(x, y), (x + 0.5, y), (x - 0.5, y), (x, y + 0.5), (x, y - 0.5)])
        _, right, left, below, above = self.on_cloth(around)
        return float(max(math.dist(right, left), math.dist(below, above)))


def rectify(pixels: object, places: object) -> Rectified:
    """The perspective that puts each of ``pixels`` (n, 2) onto its place (n, 2), mm, of the cloth; n >= 4.

    Four are met exactly. More are balanced: the sum of squared distances in the photo, where the hand that
    clicked erred, is least. Raises ``RectifyError`` for fewer than four, values that are not finite, three of
    four places in line, or places that no camera sees so.
    """
    seen, known = _points(pixels, "photo"), _points(places, "cloth")
    if len(seen) != len(known):
        what = f"{len(seen)} places in the photo and {len(known)} on the cloth"
        raise RectifyError(what, where="photo", do="tell both for every place")
    if len(seen) < 4:
        what = f"{len(seen)} places do not tell how the photo was taken"
        raise RectifyError(what, where="photo", do="show four, such as a block's corners")
    for points, name in ((seen, "photo"), (known, "cloth")):
        _check_spread(points, name)
    to_photo = _linear(known, seen)
    if len(seen) > 4:
        to_photo = _balanced(to_photo, known, seen)
    depth = known @ to_photo[2, :2] + to_photo[2, 2]
    if not (np.all(depth > 0) or np.all(depth < 0)):
        what = "no camera sees the places in this order"
        raise RectifyError(what, where="photo", do="show them in the same order as on the cloth")
    if depth[0] < 0:
        to_photo = -to_photo
    to_cloth: Matrix = np.linalg.inv(to_photo).astype(np.float64)
    # A positive last row at what was shown stands for "in front of the camera" in both.
    if float(to_cloth[2] @ (*seen[0], 1.0)) < 0:
        to_cloth = -to_cloth
    misfits = np.hypot(*(_seen(to_cloth, seen) - known).T)
    return Rectified(
        _scaled(to_cloth),
        _scaled(to_photo),
        tuple(misfits.tolist()) if len(seen) > 4 else (0.0,) * 4,
    )


def _points(points: object, name: str) -> Points:
    try:
        array = np.asarray(points, dtype=np.float64)
    except (TypeError, ValueError):
        array = np.empty(0)
    if array.ndim != 2 or array.shape[1] != 2:
        raise RectifyError("places are pairs of x and y", where=name, do="give two numbers for each")
    if not np.isfinite(array).all():
        raise RectifyError("a place is not a finite number", where=name, do="show it again")
    return array


def _check_spread(points: Points, name: str) -> None:
    """Of any four places some four must have no three in line; of just four, all."""
    if len(points) == 4:
        for three in combinations(range(4), 3):
            if _flat(points[list(three)]):
                names = ", ".join(str(k + 1) for k in three)
                what = f"places {names} lie in one line"
                raise RectifyError(what, where=name, do="show corners that do not")
        return
    centred = points - points.mean(axis=0)
    spread = np.linalg.svd(centred, compute_uv=False)
    if spread[1] <= _IN_LINE * spread[0]:
        raise RectifyError("all places lie in one line", where=name, do="show some beside it")


def _flat(three: Points) -> bool:
    a, b, c = three
    area = abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
    longest = max(math.dist(a, b), math.dist(b, c), math.dist(c, a))
    return bool(area <= _IN_LINE * longest**2)


def _normal(points: Points) -> Matrix:
    """Moves the middle to 0 and the mean distance to √2, without which the equations lose all digits
    (Hartley, In Defence of the Eight-Point Algorithm, 1997)."""
    middle = points.mean(axis=0)
    scale = math.sqrt(2) / float(np.hypot(*(points - middle).T).mean())
    return np.array([(scale, 0, -scale * middle[0]), (0, scale, -scale * middle[1]), (0, 0, 1)])


def _linear(start: Points, end: Points) -> Matrix:
    """The homography from ``start`` to ``end`` by the direct linear transform; exact for four."""
    n1, n2 = _normal(start), _normal(end)
    (x, y), (u, v) = (each.T for each in (_seen(n1, start), _seen(n2, end)))
    one, zero = np.ones_like(x), np.zeros_like(x)
    rows = np.concatenate(
        [
            np.column_stack([x, y, one, zero, zero, zero, -u * x, -u * y, -u]),
            np.column_stack([zero, zero, zero, x, y, one, -v * x, -v * y, -v]),
        ]
    )
    found = np.linalg.svd(rows)[2][-1].reshape(3, 3)
    matrix: Matrix = np.linalg.inv(n2) @ found @ n1
    return matrix


def _balanced(matrix: Matrix, start: Points, end: Points) -> Matrix:
    """The homography near ``matrix`` with the least sum of squared distances at ``end``: Gauss-Newton."""
    n1, n2 = _normal(start), _normal(end)
    from_, to = _seen(n1, start), _seen(n2, end)
    h = n2 @ matrix @ np.linalg.inv(n1)
    h = h / np.linalg.norm(h)
    homogeneous = np.column_stack([from_, np.ones(len(from_))])
    best = math.inf
    for _ in range(_STEPS):
        image = homogeneous @ h.T
        at = image[:, :2] / image[:, 2:]
        off = (to - at).ravel()
        left = float(off @ off)
        if left >= best * (1 - 1e-12):
            break
        best, kept = left, h
        slopes = np.zeros((len(from_), 2, 3, 3))
        slopes[:, 0, 0] = slopes[:, 1, 1] = homogeneous / image[:, 2:]
        slopes[:, :, 2] = -at[:, :, None] * (homogeneous / image[:, 2:])[:, None, :]
        # The scale of the matrix moves nothing: the least step leaves it.
        step = np.linalg.lstsq(slopes.reshape(-1, 9), off, rcond=1e-12)[0].reshape(3, 3)
        h = h + step
        if np.abs(step).max() <= _STILL:
            break
    balanced: Matrix = np.linalg.inv(n2) @ kept @ n1
    return balanced


def _seen(matrix: Matrix, points: Points) -> Points:
    """(n, 2) where ``matrix`` takes ``points`` (n, 2); NaN where that is on or beyond the horizon."""
    points = np.asarray(points, dtype=np.float64)
    image = points @ matrix[:, :2].T + matrix[:, 2]
    depth = np.where(image[:, 2] > 0, image[:, 2], np.nan)
    seen: Points = image[:, :2] / depth[:, None]
    return seen


def _scaled(matrix: Matrix) -> Matrix:
    """Its last element 1 where that keeps what is in front of the camera in front."""
    return frozen(matrix / matrix[2, 2]) if matrix[2, 2] > 0 else frozen(matrix)
