"""Sizes and shapes of symbols. No Qt: screen, page and SVG draw the same ones."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from app.sketch.display_list import SymbolKind
from app.sketch.palette import SYMBOL_SIZE
from geometry.types import Points

SOLID: Final = frozenset(
    {SymbolKind.FILLED_TRIANGLE, SymbolKind.DOT, SymbolKind.CORNER_MARK, SymbolKind.ARROW}
)
"""Filled with their own colour; the others with the cloth's, but for the handle, which is see-through."""

ROUND: Final = frozenset({SymbolKind.DOT, SymbolKind.CORNER_MARK, SymbolKind.DIVISION_MARK})
"""Plain circles."""

_LARGE: Final = frozenset({SymbolKind.FILLED_TRIANGLE, SymbolKind.HOLLOW_TRIANGLE})

_SHAPES: Final = {
    SymbolKind.FILLED_TRIANGLE: np.array([[0.0, -0.5], [0.5, 0.4], [-0.5, 0.4]]),
    SymbolKind.HOLLOW_TRIANGLE: np.array([[0.0, -0.5], [0.5, 0.4], [-0.5, 0.4]]),
    SymbolKind.OWN_MARK: np.array([[0.0, -0.6], [0.6, 0.0], [0.0, 0.6], [-0.6, 0.0]]),
    SymbolKind.ARROW: np.array([[0.6, 0.0], [-0.6, 0.5], [-0.6, -0.5]]),
}


def symbol_size(kind: SymbolKind, handle: float) -> float:
    """Width of a symbol in device units; ``handle`` is that of the anchor's."""
    if kind is SymbolKind.HANDLE:
        return handle
    return SYMBOL_SIZE if kind in _LARGE else SYMBOL_SIZE / 2


def symbol_shape(kind: SymbolKind, angle: float = 0.0) -> Points:
    """(n, 2): corners of a symbol of width 1 about (0, 0), turned by ``angle`` rad; of the straight ones."""
    shape = _SHAPES[kind]
    if angle == 0:
        return shape
    cos, sin = math.cos(angle), math.sin(angle)
    turned: Points = shape @ np.array([[cos, sin], [-sin, cos]])
    return turned
