"""Thread against published figures of stitch type 301 (ISO 4915), the lockstitch.

Two threads lock in the middle of the layers: every stitch takes its length once on either face, and the
thickness once for either thread, down and up by half each.
"""

from __future__ import annotations

import numpy as np
import pytest

from geometry import Settings
from geometry.estimate import Totals, estimate
from geometry.stitch_path import Kind, Segment, StitchPath

INCH = 25.4


def seam(length: float, thickness: float, stitch_length: float) -> Totals:
    """A straight seam without tails; mm."""
    path = StitchPath((Segment(Kind.LEG, 1, np.array([[0.0, 0.0], [length, 0.0]])),))
    settings = Settings(stitch_length=stitch_length, quilt_thickness=thickness, thread_tail=0)
    return estimate(path, settings)


def per_inch(thickness_in: float, stitches_to_the_inch: float) -> float:
    """Inches of both threads together in one inch of seam."""
    totals = seam(36 * INCH, thickness_in * INCH, INCH / stitches_to_the_inch)
    return (totals.top_thread + totals.bobbin_thread) / (36 * INCH)


def test_the_published_worked_problem() -> None:
    """Published worked problem of stitch type 301: C = 2 + 2TS inches of thread to the inch of seam, T the
    thickness in inches, S the stitches to the inch; T 0.01, S 10 gives 2.2."""
    assert per_inch(0.01, 10) == pytest.approx(2.2, abs=1e-12)


def test_a_thick_quilt() -> None:
    """Computed by the same formula: T 0.1 (a quilt with batting), S 10 gives 4.0, so that a flat ratio of 2.5
    falls short."""
    assert per_inch(0.1, 10) == pytest.approx(4.0, abs=1e-12)
    assert per_inch(0.1, 10) > 2.5


@pytest.mark.parametrize(
    ("thickness", "chart"), [(0.055, 4.88), (0.060, 4.96), (0.065, 5.04), (0.070, 5.12), (0.075, 5.20)]
)
def test_the_chart_of_the_same_family(thickness: float, chart: float) -> None:
    """Union Special's chart for stitch type 401 (in an A&E technical bulletin), 8 stitches to the inch:
    4 + 2TS. Type 401 has four lengths of thread along the seam where 301 has two; through the layers both
    take the same 2TS."""
    assert per_inch(thickness, 8) + 2 == pytest.approx(chart, abs=5e-3)


@pytest.mark.parametrize("thickness", [0.0, 0.02, 0.1, 0.25])
@pytest.mark.parametrize("stitches", [6, 8, 10, 12, 14])
def test_the_formula_over_the_usual_range(thickness: float, stitches: int) -> None:
    assert per_inch(thickness, stitches) == pytest.approx(2 + 2 * thickness * stitches, rel=1e-12)


def test_a_ratio_of_two_and_a_half() -> None:
    """Coats' figures (secondary): 7 stitches to the cm at a ratio of 2.5; a seam of 220 cm takes 550 cm, half
    of it needle thread and half bobbin thread. By the formula that is a thickness of a quarter stitch."""
    stitch = 10 / 7
    totals = seam(2200, stitch / 4, stitch)
    assert totals.stitches == 1540
    assert totals.top_thread + totals.bobbin_thread == pytest.approx(5500)
    assert totals.top_thread == totals.bobbin_thread == pytest.approx(2750)


def test_tails_come_on_top() -> None:
    path = StitchPath((Segment(Kind.LEG, 1, np.array([[0.0, 0.0], [1000.0, 0.0]])),))
    plain = estimate(path, Settings(thread_tail=0))
    tails = estimate(path, Settings(thread_tail=100))
    assert tails.top_thread - plain.top_thread == pytest.approx(200)
    assert tails.bobbin_thread - plain.bobbin_thread == pytest.approx(200)
