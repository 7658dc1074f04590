"""Where the cloth lies on the screen: zoom, pan, and the mapping between cloth mm and pixels.

Pixels here are logical ones (Qt's device-independent pixels); the device's own scale is the painter's
business. A ``View`` is immutable: every move gives a new one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from geometry.types import Point, Points

LEAST_SCALE = 0.01
"""px per mm. At this scale a 10 m quilt, the largest accepted, is 100 px wide."""

MOST_SCALE = 200.0
"""px per mm. At this scale the 1/16 in of a fine arrow step is 318 px."""

ZOOM_STEP = 1.25
"""Factor of one press of a zoom key."""


@dataclass(frozen=True, slots=True)
class View:
    """A window of ``width`` × ``height`` px onto the cloth."""

    width: float
    height: float
    scale: float = 2.0
    """px per mm."""
    centre: Point = (0.0, 0.0)
    """mm: the place on the cloth shown in the middle of the window."""

    def to_screen(self, points: Points) -> Points:
        """(n, 2) mm -> (n, 2) px."""
        moved: Points = np.asarray(points, dtype=np.float64) * self.scale + np.array(self._offset())
        return moved

    def point_to_screen(self, point: Point) -> Point:
        """One (x, y) in mm -> px."""
        dx, dy = self._offset()
        return (point[0] * self.scale + dx, point[1] * self.scale + dy)

    def to_cloth(self, pixel: Point) -> Point:
        """One (x, y) in px -> mm."""
        dx, dy = self._offset()
        return ((pixel[0] - dx) / self.scale, (pixel[1] - dy) / self.scale)

    def visible(self) -> tuple[float, float, float, float]:
        """(left, top, right, bottom) of what is shown, mm."""
        left, top = self.to_cloth((0.0, 0.0))
        right, bottom = self.to_cloth((self.width, self.height))
        return (left, top, right, bottom)

    def zoomed(self, factor: float, at: Point | None = None) -> View:
        """Scaled by ``factor`` (clamped to the limits); the cloth under pixel ``at`` stays under it."""
        pixel = at if at is not None else (self.width / 2, self.height / 2)
        scale = _clamp_scale(self.scale * factor)
        fixed = self.to_cloth(pixel)
        centre = (
            fixed[0] - (pixel[0] - self.width / 2) / scale,
            fixed[1] - (pixel[1] - self.height / 2) / scale,
        )
        return replace(self, scale=scale, centre=centre)

    def panned(self, dx: float, dy: float) -> View:
        """The cloth moved by (dx, dy) px on the screen."""
        return replace(self, centre=(self.centre[0] - dx / self.scale, self.centre[1] - dy / self.scale))

    def resized(self, width: float, height: float) -> View:
        """The same cloth in the middle of a window of another size."""
        return replace(self, width=width, height=height)

    def fitted(self, bounds: Sequence[float], border: float = 32.0) -> View:
        """Shows all of ``bounds`` (left, top, right, bottom, mm) with ``border`` px clear around it.

        Bounds without any size are centred at the present scale.
        """
        left, top, right, bottom = bounds
        centre = ((left + right) / 2, (top + bottom) / 2)
        across = max(self.width - 2 * border, 1.0)
        down = max(self.height - 2 * border, 1.0)
        ratios = [room / size for room, size in ((across, right - left), (down, bottom - top)) if size > 0]
        scale = _clamp_scale(min(ratios)) if ratios else self.scale
        return replace(self, scale=scale, centre=centre)

    def _offset(self) -> Point:
        return (
            self.width / 2 - self.centre[0] * self.scale,
            self.height / 2 - self.centre[1] * self.scale,
        )


def _clamp_scale(scale: float) -> float:
    return min(max(scale, LEAST_SCALE), MOST_SCALE)
