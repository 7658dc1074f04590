"""Moving, adding and removing corners of an outline; curved sides keep their curve."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from geometry import Patch, PatchError
from geometry.findings import Code
from geometry.types import Point, Points

Floats = NDArray[np.float64]

_CORNER_TURN = np.radians(25.0)
"""An edge that turns by more has a corner there, however short its pieces (design page, 3.3)."""

_SMOOTH_TURN = np.radians(0.1)
"""A turn below this is none: a corner just added on a straight side."""

_CURVE_PIECE = 12.7
"""mm. A flattened curve (to 0.05 mm) that turns 2° or more at each step has no pieces longer than this:
sagitta 0.05 = chord · tan(turn/4) / 2 (found by trial to part drawn corners from steps of curves)."""

_SAME_STEP = 1e-6
"""Pieces and turns of an arc, however it was turned and scaled, differ by less, as a share."""

_LEAST_TURN = 1e-5
"""rad. Corners in line turn by less, an arc of 4 steps that is seen to be curved by more."""

_TURN_NOISE = 1e-9
"""rad. Turns of equal pieces that long differ by less: float64 at 10 m, over a millimetre."""

_APART_PIXELS = 48.0
"""Zoomed in so far that its neighbours are this far away, every point is a handle."""


def handles(ring: Points, scale: float = 0.0) -> tuple[int, ...]:
    """Indices of the points of the closed ``ring`` (n, 2) that can be taken hold of.

    Corners are; the steps of a flattened curve are not, unless ``scale`` (px per mm) has spread them.
    Where an arc of a circle ends there is a corner, however smoothly it goes on.
    """
    before = ring - np.roll(ring, 1, axis=0)
    after = np.roll(before, -1, axis=0)
    signed = np.arctan2(
        before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], np.einsum("ij,ij->i", before, after)
    )
    turn = np.abs(signed)
    lengths = np.hypot(*before.T), np.hypot(*after.T)
    piece = np.minimum(*lengths)
    kept = (turn > _CORNER_TURN) | (turn < _SMOOTH_TURN) | (piece >= _CURVE_PIECE)
    in_arc = _in_arc(signed, *lengths)
    kept &= ~in_arc
    kept |= ~in_arc & (np.roll(in_arc, 1) | np.roll(in_arc, -1))
    if scale > 0:
        kept |= piece * scale >= _APART_PIXELS
    return tuple(int(index) for index in np.flatnonzero(kept))


def _in_arc(turn: Floats, before: Floats, after: Floats) -> NDArray[np.bool_]:
    """(n,) whether a point lies within an arc: it turns like its neighbour, between pieces of one length."""
    even = (np.abs(before - after) <= _SAME_STEP * before) & (np.abs(turn) > _LEAST_TURN)
    even &= np.abs(turn) < _CORNER_TURN
    like = np.abs(turn - np.roll(turn, 1)) <= _SAME_STEP * np.abs(turn) + _TURN_NOISE
    like &= even & np.roll(even, 1)
    answer: NDArray[np.bool_] = like | np.roll(like, -1)
    return answer


def moved(ring: Points, index: int, to: Point, held: Sequence[int]) -> Points:
    """``ring`` with point ``index`` at ``to``.

    ``held`` are the ring's handles. Between ``index`` and the next handle on either side a curve is
    turned and scaled about that handle as a whole, so that it stays the same curve.
    """
    result = ring.copy()
    fixed = set(held) | {index}
    count = len(ring)
    for step in (1, -1):
        between = []
        other = (index + step) % count
        while other not in fixed:
            between.append(other)
            other = (other + step) % count
        if other != index and between:
            result[between] = _carried(ring[between], ring[index], np.array(to), ring[other])
        elif between:
            # A closed curve with no other handle: only this point moves.
            break
    result[index] = to
    return result


def with_corner(ring: Points, after: int, at: Point) -> Points:
    """``ring`` with a new point ``at`` between points ``after`` and the next."""
    return np.insert(ring, after + 1, at, axis=0)


def without_corner(ring: Points, index: int) -> Points:
    """``ring`` less one point."""
    return np.delete(ring, index, axis=0)


def reshaped(outline: Points, holes: Sequence[Points]) -> Patch | None:
    """The patch of that outline, or None where it can be none as it stands, unrepaired."""
    try:
        patch = Patch(outline, holes)
    except PatchError:
        return None
    return None if any(repair.code is Code.REPAIRED for repair in patch.repairs) else patch


def _carried(points: Points, from_: Points, to: Points, about: Points) -> Points:
    """``points`` under the turn and scaling about ``about`` that takes ``from_`` to ``to``."""
    old, new = complex(*(from_ - about)), complex(*(to - about))
    if old == 0:
        return points
    moved_by = ((points - about) @ np.array([1, 1j])) * (new / old)
    return np.column_stack([moved_by.real, moved_by.imag]) + about
