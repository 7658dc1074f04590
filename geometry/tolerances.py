"""Every tolerance of the engine, with its unit and its reason. None is defined anywhere else."""

from __future__ import annotations

from typing import Final

SAME_POINT: Final = 1e-6
"""mm. Two points this close are one point: a thousandth of what any pen, printer or needle resolves."""

ON_EDGE: Final = 1e-7
"""mm. An anchor this close to an edge lies on it: float64 at 10 m resolves 2e-12 mm, and a point that
was computed as lying on an edge misses it by a few hundred times that."""

SAME_DIRECTION: Final = 1e-12
"""rad. Two directions this close are one: what lies between them is at most 1e-8 mm wide at 10 m."""

NO_ANGLE: Final = 1e-9
"""rad. A sector narrower than this has no angle left: 1e-5 mm at 10 m, thinner than any thread."""

GAP_SOLVED: Final = 1e-9
"""mm. How exactly the gap between neighbouring wedges is met."""

FLATTEN: Final = 0.05
"""mm. Furthest a polyline may stray from the curve it stands for; a pen line is 0.3 mm wide or more."""

MAX_SIZE: Final = 10_000.0
"""mm. Widest and highest patch that is accepted (10 m); anything larger is a unit gone wrong."""

LEAST_PART: Final = 1e-3
"""mm². A part of the stitchable area, or a piece of it out of sight, that is smaller is rounding."""

SAME_PLACE: Final = 0.5
"""mm. A mark this near to a place where the user took one away is the one that was taken away: half a
pen line, and far less than the distance between any two marks that can be told apart on cloth."""

SAME_TURN: Final = 1e-6
"""rad. Turns that differ by less are equal; the middle of equal ones is the middle of a rounding."""

OVERLAY: Final = 1e-9
"""mm. Grid on which areas are cut and joined: a thousandth of ``SAME_POINT``. Without one GEOS 3.14 now and
then answers a difference with the whole of the first area, where their edges all but coincide (found by
trial)."""
