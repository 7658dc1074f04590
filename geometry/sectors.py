"""Sectors: what the anchor sees of one span, without a jump in distance (design page, 3.5)."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from geometry.marks import MarkedEdge
from geometry.tolerances import SAME_POINT
from geometry.visibility import View

_TURN = 2 * math.pi
Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Sectors:
    """k sectors in order of direction, and the m pieces of edge they are made of.

    Points and vectors are complex numbers here, x + iy, relative to the anchor, mm.
    """

    piece_angle: Floats
    """(m,) where each piece begins, growing; the pieces of a sector follow one another."""
    normal: Complex
    """(m,) conjugate of each piece's outward normal over its distance: 1/t along the unit direction d is
    the real part of normal d."""
    piece_from: Complex
    piece_to: Complex
    """(m,)"""
    first: Ints
    last: Ints
    """(k,) each sector's first and last piece."""
    start: Floats
    stop: Floats
    """(k,) directions where each begins and ends."""
    span: Ints
    span_to: Ints
    """(k,) the spans in which each begins and ends: one and the same, unless sectors were joined."""
    borders: NDArray[np.bool_]
    """(k,) sector i meets sector i + 1 (after the last: the first): nothing out of sight between them."""

    def moved_on(self, sector: Ints) -> Floats | float:
        """What to add to directions of ``sector`` before they are looked up in ``piece_angle``."""
        return 0.0

    def piece_at(self, sector: Ints, angle: Floats) -> Ints:
        """(n,) the piece of each ``sector`` (n,) in direction ``angle`` (n,), its ends included; where two
        pieces meet, the second."""
        return self._piece(sector, angle, "right")

    def piece_before(self, sector: Ints, angle: Floats) -> Ints:
        """As ``piece_at``, but where two pieces meet, the first."""
        return self._piece(sector, angle, "left")

    def _piece(self, sector: Ints, angle: Floats, side: Literal["left", "right"]) -> Ints:
        piece, last = self.first.take(sector), self.last.take(sector)
        several = (piece != last).nonzero()[0]
        if len(several):
            of = sector.take(several)
            where = angle.take(several) + self.moved_on(of)
            found = np.searchsorted(self.piece_angle, where, side=side) - 1
            piece[several] = np.minimum(np.maximum(found, piece.take(several)), last.take(several))
        return piece

    def following(self, left: Ints) -> Ints:
        """(n,) where in ``left``, sectors in order, the one stands that comes after each of them."""
        return following(len(left))

    def joined(self, join: NDArray[np.bool_]) -> tuple[Self, Ints]:
        """The sectors with some (k,) joined to the one after them, and where each of the old ones is now.
        Of the sectors of one anchor one at least must not be joined."""
        count = len(join)
        here = np.arange(count)
        after = self.following(here)
        starts = np.sort(after[after <= here])  # the first sector of each anchor
        anchor = np.searchsorted(starts, here, side="right") - 1
        last_open = np.maximum.reduceat(np.where(join, -1, here), starts)
        # Those that are joined to the first one of their anchor come to stand before it.
        moved = here > last_open[anchor]
        back = np.where(moved, -_TURN, 0.0)
        order = np.argsort(2 * anchor + ~moved, kind="stable")
        size = self.last - self.first + 1
        of = here.repeat(size)  # the sector of each piece
        piece = np.argsort((2 * anchor + ~moved)[of], kind="stable")
        stop = size[order].cumsum()
        tail = (~join[order]).nonzero()[0]
        head = np.concatenate([[0], tail[:-1] + 1])
        now = np.empty(count, dtype=np.intp)
        now[order] = np.searchsorted(tail, here)
        begin, end = order[head], order[tail]
        sectors = replace(
            self, piece_angle=(self.piece_angle + back[of])[piece], normal=self.normal[piece],
            piece_from=self.piece_from[piece], piece_to=self.piece_to[piece],
            first=(stop - size[order])[head], last=stop[tail] - 1,
            start=(self.start + back)[begin], stop=(self.stop + back)[end],
            span=self.span[begin], span_to=self.span_to[end], borders=self.borders[end], **self._of(end),
        )  # fmt: skip
        return sectors, now

    def _of(self, which: Ints) -> dict[str, Ints]:
        """What else there is of the sectors ``which``."""
        return {}


def following(count: int) -> Ints:
    """1, 2, …, 0: the place of the next of ``count`` items in a ring."""
    after = np.arange(1, count + 1)
    after[-1:] = 0
    return after


def sectors_of(view: View, edge: MarkedEdge) -> Sectors | None:
    """Join the pieces in sight into sectors; None where nothing is in sight."""
    count = len(view.edge)
    if not count:
        return None
    span = edge.span.take(view.edge)
    begin_point, end_point, normal = view.from_point, view.to_point, view.normal
    after = following(count)
    breaks = np.abs(begin_point.take(after) - end_point) > SAME_POINT
    breaks |= span != span.take(after)
    breaks |= ~view.adjoins
    single = spans_of(edge).single
    if single is not None:
        # Where a single-span ring comes round to its one mark again, the sector ends there too.
        here = view.edge
        there = here.take(after)
        breaks |= single.take(span) & (there < here) & (edge.span.take(there) == span)
    last = breaks.nonzero()[0]
    from_angle, to_angle, adjoins = view.from_angle, view.to_angle, view.adjoins
    begin = int(last[-1] + 1) % count if len(last) else 0
    if not len(last):
        last = np.array([count - 1])
    elif begin:
        # Begin with the first piece after a break, so that no sector runs over the end of the list.
        order = np.arange(begin, begin + count)
        order[count - begin :] -= count
        last = breaks.take(order).nonzero()[0]
        normal, span, adjoins = normal.take(order), span.take(order), adjoins.take(order)
        begin_point, end_point = begin_point.take(order), end_point.take(order)
        from_angle, to_angle = from_angle.take(order), to_angle.take(order)
        from_angle[count - begin :] += _TURN
        to_angle[count - begin :] += _TURN
    first = np.empty_like(last)
    first[0] = 0
    np.add(last[:-1], 1, out=first[1:])
    return Sectors(
        from_angle, normal, begin_point, end_point, first, last, from_angle.take(first), to_angle.take(last),
        span.take(last), span.take(last), adjoins.take(last),
    )  # fmt: skip


class Spans(NamedTuple):
    """What is asked of a marked edge's spans for every anchor."""

    names: tuple[tuple[str, str], ...]
    """Names of the marks at the two ends of each."""
    single: NDArray[np.bool_] | None
    """(s,) which begin and end at one and the same mark; None where none does."""


@lru_cache(maxsize=16)
def spans_of(edge: MarkedEdge) -> Spans:
    """Kept while the anchor moves."""
    names = tuple(
        (edge.marks[a].name if a >= 0 else "", edge.marks[b].name if b >= 0 else "") for a, b in edge.spans
    )
    single = np.array([a == b and a >= 0 for a, b in edge.spans], dtype=np.bool_)
    return Spans(names, single if single.any() else None)


def along_rays(sectors: Sectors, piece: Ints, angle: Floats) -> Complex:
    """(n,) where the rays at ``angle`` (n,) meet the pieces, relative to the anchor."""
    unit = np.empty(len(angle), dtype=np.complex128)
    np.cos(angle, out=unit.real)
    np.sin(angle, out=unit.imag)
    unit /= (sectors.normal.take(piece) * unit).real
    return unit
