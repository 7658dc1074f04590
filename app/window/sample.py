"""The plan that the bench opens with when no file is given."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from app.plan.model import Plan, PlanPatch
from app.plan.plan_file import SUFFIX, read_plan
from app.sketch.translate import tr
from geometry import Patch, WedgewrightError
from geometry.units import MM_PER_INCH

FOLDER: Final = Path(__file__).parents[2] / "sample_shapes"
"""Beside the program, in a checkout and where it is installed alike."""

_SIDE: Final = 8 * MM_PER_INCH


def sample_plan() -> Plan:
    """The sample quilt; where its file is missing or damaged, one square block."""
    for path in sorted(FOLDER.glob(f"*{SUFFIX}")):
        try:
            return read_plan(path)
        except WedgewrightError:
            continue
    square = Patch([(0, 0), (_SIDE, 0), (_SIDE, _SIDE), (0, _SIDE)])
    block = PlanPatch.of(tr("Square"), square, [(_SIDE * 0.4, _SIDE * 0.6)])
    return Plan(title=tr("Sample"), patches=(block,))
