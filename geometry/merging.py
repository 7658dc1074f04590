"""Merging: thin and lost sectors joined with a neighbour (``merge_thin`` and ``merged_spans``)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from geometry.sectors import Floats, Ints, Sectors
from geometry.settings import Settings
from geometry.tolerances import SAME_POINT

AnySectors = TypeVar("AnySectors", bound=Sectors)


class Merging(Generic[AnySectors]):
    """Thin and lost sectors joined with a neighbour at the same mark, the thinnest first, until none is thin
    or none has such a neighbour.

    Of two neighbours the narrower one is taken, so that wedges stay even. A join of more than half a turn is
    no wedge any more. A sector that is to be merged is merged on where the join is still thin.
    """

    sectors: AnySectors
    now: Ints
    """(k,) where each of the sectors of the beginning is now."""

    def __init__(self, sectors: AnySectors, names: Sequence[tuple[str, str]], settings: Settings) -> None:
        self.sectors = sectors
        self.now = np.arange(len(sectors.span))
        self._visible = settings.visible_width
        chosen = [settings.merge_thin or name in settings.merged_spans for name in names]
        self._chosen = np.array(chosen, dtype=np.bool_)[sectors.span]

    def on(self, s: AnySectors, left: Ints, least: Floats, gone: NDArray[np.bool_]) -> bool:
        """One round; False where nothing was joined. ``least`` (n,) mm is the least of side and across of the
        sectors ``left`` (n,), ``gone`` (k,) are lost."""
        size = np.full(len(s.span), np.inf)
        size[left] = least
        size[gone] = -1.0
        join = _joins(s, size, self._chosen & (size < self._visible))
        if not join.any():
            return False
        self.sectors, now = s.joined(join)
        chosen = np.zeros(len(self.sectors.span), dtype=np.bool_)
        chosen[now[self._chosen]] = True
        self._chosen = chosen
        self.now = now[self.now]
        return True


def _joins(s: Sectors, size: Floats, thin: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(k,) which sectors are joined with the one after them: each of ``thin`` with one neighbour, as far as
    none is taken twice. The smallest ``size`` (k,) chooses first."""
    here = np.arange(len(s.span))
    after = s.following(here)
    before = np.empty_like(after)
    before[after] = here
    width = s.stop - s.start
    meets = s.borders & (np.abs(s.piece_from[s.first[after]] - s.piece_to[s.last]) <= SAME_POINT)
    meets &= (after != here) & (width + width[after] <= math.pi)
    join = np.zeros(len(here), dtype=np.bool_)
    taken: set[int] = set()
    which = (thin & (meets | meets[before])).nonzero()[0]
    for i in which[np.lexsort((width[which], size[which]))].tolist():
        if i in taken:
            continue
        ahead, behind = int(after[i]), int(before[i])
        _, at, j = min((width[j], at, j) for at, j in ((i, ahead), (behind, behind)) if meets[at])
        if j not in taken:
            join[at] = True
            taken |= {i, j}
    return join
