"""Array and point types shared by the engine."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
"""(n, 2) float64, mm; x right, y down. Read-only where it is part of an answer."""

Point = tuple[float, float]
"""(x, y), mm."""


def frozen(points: object) -> Points:
    """A read-only float64 (n, 2) copy of ``points``."""
    array = np.array(points, dtype=np.float64)
    array.flags.writeable = False
    return array
