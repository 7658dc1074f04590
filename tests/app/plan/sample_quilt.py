"""The sample quilt: every patch from its file, with the anchor and settings that a quilter would choose.

``python -m tests.app.plan.sample_quilt`` writes the plan anew, after a file or this table was changed.
"""

from __future__ import annotations

from pathlib import Path

from app.importing import import_file
from app.plan.model import Plan, PlanPatch
from app.plan.plan_file import encode
from geometry import Patch, Settings
from geometry.units import MM_PER_INCH

FOLDER = Path(__file__).parents[3] / "sample_shapes"
PLAN = FOLDER / "lantern_pond.wedgeplan"
FILES = ("blocks.txt", "grounds.wkt", "shore.svg")


def _inches(x: float, y: float) -> tuple[float, float]:
    return (x * MM_PER_INCH, y * MM_PER_INCH)


CHOICES: dict[str, tuple[tuple[float, float], Settings, int]] = {
    # These fit: lines gather in the middle, off-centre, in the middle of a side, in a corner.
    "Star kite": (_inches(4.5, 4.75), Settings(spans_per_side=3), 8),
    "Lantern block": (_inches(4, 4), Settings(), 9),
    "Setting triangle": (_inches(6, 0), Settings(spans_per_side=4), 12),
    "Corner L": (_inches(4, 4), Settings(spans_per_side=3), 4),
    "Shore leftover": ((95.0, 85.0), Settings(longest_span=50.0), 2),
    "Pond": ((180.0, 370.0), Settings(longest_span=30.0), 1),
    "Moon": ((366.0, 125.0), Settings(spans_per_side=3), 1),
    # These do not, each for another reason.
    "Reed strip": (_inches(12, 3.75), Settings(), 2),
    "Lily ground": ((150.0, 325.0), Settings(spans_per_side=1, longest_span=75.0), 1),
    "Stepping stones": (_inches(3, 3), Settings(), 1),
    "Water line": ((250.0, 16.0), Settings(), 2),
    "Splinter": ((10.0, 6.0), Settings(), 4),
}


def shapes() -> dict[str, Patch]:
    """Every patch of the sample files, by name."""
    found = [held for name in FILES for held in import_file(FOLDER / name).patches]
    assert len(found) == len(dict(found)), "a name stands twice"
    return dict(found)


def sample_plan() -> Plan:
    patches = shapes()
    return Plan(
        title="Lantern Pond",
        patches=tuple(
            PlanPatch.of(name, patches[name], [anchor], settings=settings, repeats=repeats)
            for name, (anchor, settings, repeats) in CHOICES.items()
        ),
    )


if __name__ == "__main__":
    # Not write_plan, which would leave the version before beside it.
    PLAN.write_bytes(encode(sample_plan()))
