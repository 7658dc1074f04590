"""The one door: patch + anchor + settings -> Fit."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import Polygon

from geometry.estimate import Totals
from geometry.fan import Fan
from geometry.findings import Finding, Level
from geometry.patch import Patch
from geometry.settings import Settings
from geometry.stitch_path import StitchPath
from geometry.types import Point, Points


@dataclass(frozen=True, slots=True, eq=False)
class OutOfSight:
    """Stitchable area that no straight line from an anchor reaches."""

    share: float
    """0 to 1, of the whole stitchable area."""
    areas: tuple[Polygon, ...]
    """The pieces, largest first, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Everything computed for one patch. Immutable; it travels whole, and nobody recomputes it."""

    patch: Patch
    anchors: tuple[Point, ...]
    settings: Settings
    stitchable: tuple[Polygon, ...]
    """Parts of the stitchable area, largest first; empty where there is no room."""
    fans: tuple[Fan, ...]
    out_of_sight: OutOfSight
    path: StitchPath
    findings: tuple[Finding, ...]
    totals: Totals

    @property
    def fits(self) -> bool:
        """True where no finding is a problem."""
        return all(finding.level is not Level.PROBLEM for finding in self.findings)


def fit(patch: Patch, anchor: Point, settings: Settings | None = None) -> Fit:
    """Compute the fan of ``patch`` from ``anchor``.

    ``anchor`` is (x, y) in mm, anywhere in the patch, its seam and corners included.
    Raises ``AnchorError`` where it is outside or not finite.
    """
    raise NotImplementedError
