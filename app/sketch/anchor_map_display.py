"""The anchor map as signs to paint under the fan: the larger, the better; a cross where there are problems.

No Qt. Sizes and shapes carry the meaning, so that it is read without colour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from app.sketch.translate import tr
from geometry.anchors import AnchorMap
from geometry.types import Points

SIZES: Final = 5
"""Sizes of signs: more would not be told apart."""
_LEAST_RANGE: Final = 10.0
"""Of a score of 100. Where all anchors of a patch are nearly alike, so are their signs."""


@dataclass(frozen=True, slots=True, eq=False)
class MapSigns:
    """One sign for each of n anchors; of those with problems that are not the best for every other one."""

    places: Points
    """(n, 2) mm."""
    size: NDArray[np.intp]
    """(n,) 0 for the worst to ``SIZES`` - 1 for the best of this patch."""
    crossed: NDArray[np.bool_]
    """(n,) True where the anchor has problems."""
    step: float
    """mm from one anchor to the next."""


def map_signs(found: AnchorMap, visible_width: float) -> MapSigns:
    """The signs for ``found``: their size by the score, compared within this patch."""
    score = np.sum(found.score(visible_width), axis=0)
    size = np.zeros(len(score), dtype=np.intp)
    if len(score):
        best = score.max()
        behind = (best - score) / max(best - score.min(), _LEAST_RANGE)
        size = np.minimum(((1.0 - behind) * SIZES).astype(np.intp), SIZES - 1)
    crossed, step = found.problems > 0, _step(found.anchors)
    shown = ~crossed | (size == SIZES - 1) | _every_other(found.anchors, step)
    return MapSigns(found.anchors[shown], size[shown], crossed[shown], step)


def map_legend() -> tuple[tuple[int, bool, str], ...]:
    """What signs mean: size, whether crossed, and words, from left to right."""
    return (
        (1, False, ""),
        (SIZES - 1, False, tr("larger: a better anchor")),
        (SIZES - 2, True, tr("with problems")),
    )


def progress_words(done: int, total: int) -> str:
    """What is said while a map is being made."""
    if not total:
        return tr("The anchor map is being made …")
    return tr("The anchor map is being made: {share} % (Esc stops it)", share=round(100 * done / total))


def _every_other(anchors: Points, step: float) -> NDArray[np.bool_]:
    """(n,) True for the places of a grid as the black squares of a chequered board: crosses crowd."""
    if not step:
        return np.ones(len(anchors), dtype=np.bool_)
    black: NDArray[np.bool_] = np.rint((anchors - anchors.min(axis=0)) / step).sum(axis=1) % 2 == 0
    return black


def _step(anchors: Points) -> float:
    """The least distance between two columns, or two rows, of the grid; 0 of a single anchor."""
    apart = [np.diff(np.unique(np.round(places, 6))) for places in anchors.T]
    return float(min((gaps.min() for gaps in apart if len(gaps)), default=0.0))
