"""What goes inside a wedge, and where its legs stop: echoes and hold-back (design page, 3.6).

Echo k is the wedge's whole outline, apex at the anchor, moved inward by k spacings and mitred. It is kept
while

- both its legs are left (where the outline falls into parts, the echo is the part at the apex),
- its side and its across are at least the visible width,
- with a hold-back, its side stays outside that radius by the visible width, and a stitch at least,

and all echoes before it are kept. So the echoes of a wedge are numbers 1 to m without a hole, and
``len(wedge.echoes)`` is how many fitted.

Hold-back cuts the legs of a wedge where they pass a radius around the anchor: the hold-back, and on every
other wedge (2, 4, …) the stagger more. A wedge whose side comes near the anchor gets a smaller radius, so
that the visible width, and a stitch at least, is left between it and the side; a wedge of half a turn or
more crowds nothing and gets none. An echo whose apex lies inside the radius is cut at it in the same way, so
that no thread but the hops along the radius comes near the anchor. The outline of a wedge or an echo that is
cut begins at its first leg's inner end and is closed from the second leg's inner end straight to it; that
last piece is not stitched.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from geometry.fan import Wedge
from geometry.inset import Insets, Outlines, ranges
from geometry.settings import Settings
from geometry.tolerances import SAME_POINT
from geometry.types import Point, Points
from geometry.visibility import complex_of, points_of

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


def with_echoes(anchor: Point, wedges: tuple[Wedge, ...], settings: Settings) -> tuple[Wedge, ...]:
    """The wedges of one anchor with their echoes, and cut at the hold-back.

    ``wedges`` as ``geometry.fan`` makes them, each outline beginning at ``anchor``. Their side, their
    figures and their order stay; with no echo and no hold-back asked for they are the same objects.
    """
    if not wedges or not (settings.echo_count or holds_back(settings)):
        return wedges
    radius = held_radii(anchor, wedges, settings)
    echoes = _echoes(anchor, wedges, settings, radius)
    if not radius.any():
        return tuple(
            _remade(wedge, wedge.outline, own) if own else wedge
            for wedge, own in zip(wedges, echoes, strict=True)
        )
    return _held_back(anchor, wedges, echoes, settings, radius)


def held_back(anchor: Point, wedges: tuple[Wedge, ...], settings: Settings) -> tuple[Wedge, ...]:
    """The same without echoes; with no hold-back asked for they are the same objects."""
    if not wedges or not holds_back(settings):
        return wedges
    radius = held_radii(anchor, wedges, settings)
    return _held_back(anchor, wedges, [()] * len(wedges), settings, radius) if radius.any() else wedges


def echoes_keep_off(wedges: Sequence[Wedge], settings: Settings) -> bool:
    """Whether no echo of ``wedges``, whatever their number, can come nearer to their anchor than
    ``anchor_disc``; also where none is asked for.
    """
    if not wedges or not settings.echo_count or settings.echo_spacing >= settings.anchor_disc:
        return True
    return bool(apex_steps(wedges, settings).min() >= settings.anchor_disc)


def holds_back(settings: Settings) -> bool:
    """Whether any leg stops short of the anchor."""
    return settings.hold_back > 0 or settings.stagger > 0


def held_radii(anchor: Point, wedges: Sequence[Wedge], settings: Settings) -> Floats:
    """(n,) mm: the radius around ``anchor`` at which each wedge's legs stop; 0 where they reach it."""
    if not holds_back(settings):
        return np.zeros(len(wedges))
    number = np.array([wedge.number for wedge in wedges])
    wanted = settings.hold_back + np.where(number % 2 == 0, settings.stagger, 0.0)
    near = _nearest([wedge.side for wedge in wedges], anchor)
    radius: Floats = np.minimum(wanted, near - _least_left(settings))
    apex = np.array([wedge.apex_angle for wedge in wedges])
    radius[(radius <= SAME_POINT) | (apex >= math.pi)] = 0.0
    return radius


def _least_left(settings: Settings) -> float:
    """mm that are left between the hold-back and the side: what can be seen, and a stitch at least."""
    return max(settings.visible_width, settings.stitch_length)


def apex_steps(wedges: Sequence[Wedge], settings: Settings) -> Floats:
    """(n,) mm: how much further out along the middle line each echo's apex lies than the one before."""
    apex = np.array([wedge.apex_angle for wedge in wedges])
    step: Floats = settings.echo_spacing / np.sin(apex / 2)
    return step


_NAMES = [field.name for field in fields(Wedge)]
_VALUES = attrgetter(*_NAMES)
_OUTLINE, _ECHOES = _NAMES.index("outline"), _NAMES.index("echoes")


def _remade(wedge: Wedge, outline: Points, echoes: tuple[Points, ...]) -> Wedge:
    """``dataclasses.replace``, four times as fast: it is done for each wedge while the anchor is dragged."""
    values = list(_VALUES(wedge))
    values[_OUTLINE], values[_ECHOES] = outline, echoes
    return Wedge(*values)


# ----------------------------------------------------------------------------------------------- echoes


def _echoes(
    anchor: Point, wedges: tuple[Wedge, ...], settings: Settings, radius: Floats
) -> list[tuple[Points, ...]]:
    """For each wedge its echoes, whole, outermost first."""
    size = np.array([len(wedge.outline) for wedge in wedges])
    limits = _Limits(wedges, radius, settings)
    answer: list[tuple[Points, ...]] = [()] * len(wedges)
    if not settings.echo_count:
        return answer
    three = np.flatnonzero(size == 4)
    if len(three):
        points = np.concatenate([wedges[i].outline for i in three.tolist()]).reshape(-1, 4, 2)
        _three_cornered(points, anchor, three, limits, settings, answer)
    more = np.flatnonzero(size > 4)
    if len(more):
        points = np.concatenate([wedges[i].outline[:-1] for i in more.tolist()]) - np.array(anchor)
        _bent(points, anchor, more, size[more] - 1, limits, settings, answer)
    return answer


class _Limits:
    """What an echo is measured against. (n,) each, of the wedges."""

    def __init__(self, wedges: Sequence[Wedge], radius: Floats, settings: Settings) -> None:
        self.visible = settings.visible_width
        self.side: Floats = np.array([wedge.side_length for wedge in wedges])
        self.across: Floats = np.array([wedge.across for wedge in wedges])
        apex = np.array([wedge.apex_angle for wedge in wedges])
        self.widening: Floats = np.where(apex < math.pi / 2, np.sin(apex), 1.0)
        """across over the shorter leg."""
        self.apex_step: Floats = apex_steps(wedges, settings)
        self.clear: Floats = np.where(radius > 0, radius + _least_left(settings), 0.0)
        """Least distance of the echo's side from the anchor."""


def _three_cornered(
    outlines: Points,
    anchor: Point,
    which: Ints,
    limits: _Limits,
    settings: Settings,
    answer: list[tuple[Points, ...]],
) -> None:
    """Put the echoes of the wedges ``which`` with outlines (m, 4, 2) into ``answer``.

    A triangle moved inward by d is the triangle shrunk about its incentre by 1 - d / r, r the inradius
    (twice the area over the perimeter); the incentre is the corners' mean weighted with the lengths of
    the sides across from them.
    """
    corners = outlines[:, :3] - np.array(anchor)
    across_from = np.roll(corners, -1, axis=1) - np.roll(corners, 1, axis=1)
    length = np.hypot(across_from[..., 0], across_from[..., 1])
    perimeter = length.sum(axis=1)
    b, c = corners[:, 1], corners[:, 2]
    doubled = b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]
    inradius = doubled / perimeter
    centre = (corners * length[..., None]).sum(axis=1) / perimeter[:, None]
    levels = min(settings.echo_count, int(inradius.max() / settings.echo_spacing))
    if levels < 1:
        return
    moved = settings.echo_spacing * np.arange(1, levels + 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        factor = 1.0 - moved / inradius[:, None]
    least = np.minimum(limits.side, limits.across)[which]
    kept = (factor > 0) & (factor * least[:, None] >= limits.visible)
    echoes = centre[:, None, None] + factor[..., None, None] * (corners - centre[:, None])[:, None]
    if limits.clear.any():
        kept &= _from_segment(echoes[:, :, 1], echoes[:, :, 2]) >= limits.clear[which][:, None]
    kept &= (echoes[:, :, 1] != echoes[:, :, 2]).any(axis=-1)
    counts = np.logical_and.accumulate(kept, axis=1).sum(axis=1).tolist()
    echoes += np.array(anchor)
    closed = np.concatenate([echoes, echoes[:, :, :1]], axis=2)
    closed.flags.writeable = False
    views = list(closed.reshape(-1, 4, 2))
    for row, (i, count) in enumerate(zip(which.tolist(), counts, strict=True)):
        answer[i] = tuple(views[row * levels : row * levels + count])


def _from_segment(one: Points, two: Points) -> Floats:
    """(…,) distance of the origin from segments (…, 2) to (…, 2)."""
    along = two - one
    squared = (along * along).sum(axis=-1)
    share = -(one * along).sum(axis=-1) / np.where(squared > 0, squared, 1.0)
    foot = one + np.clip(share, 0.0, 1.0)[..., None] * along
    distance: Floats = np.hypot(foot[..., 0], foot[..., 1])
    return distance


def _bent(
    points: Points,
    anchor: Point,
    which: Ints,
    size: Ints,
    limits: _Limits,
    settings: Settings,
    answer: list[tuple[Points, ...]],
) -> None:
    """The same for wedges whose side has bends. ``points`` (n, 2): open outlines relative to the anchor."""
    outlines = Outlines(points, size)
    reach = np.maximum.reduceat(np.hypot(points[:, 0], points[:, 1]), outlines.begin)
    most = np.minimum(settings.echo_count, reach / limits.apex_step[which]).astype(np.intp)
    found: list[list[Points]] = [[] for _ in which]
    going = np.flatnonzero(most > 0)
    done = 0
    while len(going):
        # Some levels of all wedges at once: a few big steps are faster than many small ones.
        count = np.minimum(most[going] - done, _LEVELS)
        owner = np.repeat(going, count)
        level = ranges(np.full(len(going), done + 1), count)
        distance = np.multiply(level, settings.echo_spacing, dtype=np.float64)
        insets = Insets(outlines, owner, distance)
        whole = _found(insets, which[owner], limits, anchor)
        begin = np.cumsum(count) - count
        for wedge, one, many in zip(going.tolist(), begin.tolist(), count.tolist(), strict=True):
            for number in range(one, one + many):
                ring = whole.get(number)
                if ring is None and insets.doubtful[number]:
                    ring = _settled(insets, number, which[wedge : wedge + 1], limits, anchor)
                if ring is None:
                    most[wedge] = 0
                    break
                found[wedge].append(ring)
        done += _LEVELS
        going = np.flatnonzero(most > done)
    for i, own in zip(which.tolist(), found, strict=True):
        answer[i] = tuple(own)


_LEVELS = 8
"""Levels worked out at once."""


def _found(insets: Insets, which: Ints, limits: _Limits, anchor: Point) -> dict[int, Points]:
    """By number, closed and at their place: those insets without doubt that are echoes."""
    if not len(insets.which):
        return {}
    kept = _kept(insets.points, insets.start, insets.stop, which[insets.which], limits)
    kept &= ~insets.doubtful[insets.which]
    closed = _closed(insets.points, insets.start[kept], insets.stop[kept], anchor)
    return dict(zip(insets.which[kept].tolist(), closed, strict=True))


def _settled(insets: Insets, number: int, which: Ints, limits: _Limits, anchor: Point) -> Points | None:
    """A doubtful one, where it is an echo."""
    ring = insets.settle(number)
    if ring is None:
        return None
    start, stop = np.zeros(1, dtype=np.intp), np.array([len(ring)])
    if not _kept(ring, start, stop, which, limits)[0]:
        return None
    return _closed(ring, start, stop, anchor)[0]


def _kept(points: Points, start: Ints, stop: Ints, which: Ints, limits: _Limits) -> Bools:
    """(r,) whether the rings, insets of the wedges ``which``, are echoes."""
    last = stop - 1
    step = points[1:] - points[:-1]
    length = np.append(np.hypot(step[:, 0], step[:, 1]), 0.0)
    back = points[start] - points[last]
    legs = np.minimum(length[start], np.hypot(back[:, 0], back[:, 1]))
    length[start] = length[last] = 0.0
    side = np.add.reduceat(length, start)
    kept: Bools = (side >= limits.visible) & (legs * limits.widening[which] >= limits.visible)
    if limits.clear.any():
        near = np.append(_from_segment(points[:-1], points[1:]), np.inf)
        near[start] = near[last] = np.inf
        kept &= np.minimum.reduceat(near, start) >= limits.clear[which]
    return kept


def _closed(points: Points, start: Ints, stop: Ints, anchor: Point) -> list[Points]:
    """The rings, closed and at their place."""
    size = stop - start + 1
    stop = np.cumsum(size)
    rows = ranges(start, size)
    rows[stop - 1] = start
    placed = complex_of(points).take(rows)
    placed += complex(*anchor)
    points = points_of(placed)
    points.flags.writeable = False
    return [points[b - n : b] for b, n in zip(stop.tolist(), size.tolist(), strict=True)]


# -------------------------------------------------------------------------------------------- hold-back


def _held_back(
    anchor: Point,
    wedges: tuple[Wedge, ...],
    echoes: list[tuple[Points, ...]],
    settings: Settings,
    radius: Floats,
) -> tuple[Wedge, ...]:
    """Wedges with their echoes, cut at ``radius`` (n,)."""
    lines = [line for wedge, own in zip(wedges, echoes, strict=True) for line in (wedge.outline, *own)]
    count = np.array([1 + len(own) for own in echoes])
    owner = np.repeat(np.arange(len(wedges)), count)
    level = ranges(np.zeros_like(count), count)
    size = np.array([len(line) for line in lines])
    stop = np.cumsum(size)
    start = stop - size
    points = np.concatenate(lines) - np.array(anchor)
    reach = level * apex_steps(wedges, settings)[owner]
    cut = np.flatnonzero(is_cut(reach, radius[owner]))
    # A cut outline has its apex replaced by the first leg's inner end, and one point more.
    rows = np.insert(np.arange(len(points)), stop[cut] - 1, stop[cut] - 1)
    size[cut] += 1
    points = points[rows]
    stop = np.cumsum(size)
    start = stop - size
    held = radius[owner[cut]]
    for inner, outer in ((start[cut], start[cut] + 1), (stop[cut] - 2, stop[cut] - 3)):
        leg = points[outer] - points[inner]
        leg /= np.hypot(leg[:, 0], leg[:, 1])[:, None]
        apex = points[inner]
        along = (apex * leg).sum(axis=1)
        off = apex[:, 0] * leg[:, 1] - apex[:, 1] * leg[:, 0]
        out = -along + np.sqrt(np.maximum(held * held - off * off, 0.0))
        points[inner] = apex + out[:, None] * leg
    points[stop[cut] - 1] = points[start[cut]]
    points += np.array(anchor)
    points.flags.writeable = False
    pieces = [points[a:b] for a, b in zip(start.tolist(), stop.tolist(), strict=True)]
    answer, at = [], 0
    for wedge, own in zip(wedges, echoes, strict=True):
        outline, *inside = pieces[at : at + 1 + len(own)]
        at += 1 + len(own)
        answer.append(_remade(wedge, outline, tuple(inside)))
    return tuple(answer)


def is_cut(reach: Floats, radius: Floats) -> Bools:
    """Whether an outline whose apex lies ``reach`` from the anchor is cut at ``radius`` (mm, any shape)."""
    inside: Bools = reach < radius - SAME_POINT
    return inside


def _nearest(lines: list[Points], anchor: Point) -> Floats:
    """(n,) distance of ``anchor`` from each line."""
    size = np.array([len(line) for line in lines])
    points = np.concatenate(lines) - np.array(anchor)
    distance = _from_segment(points[:-1], points[1:])
    distance[np.cumsum(size)[:-1] - 1] = np.inf
    start = np.cumsum(size) - size
    nearest: Floats = np.minimum.reduceat(distance, start)
    return nearest
