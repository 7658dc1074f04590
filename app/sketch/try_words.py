"""The figures by which tries are compared, in words."""

from __future__ import annotations

from app.sketch.translate import tr
from geometry import Fit
from geometry.findings import Level
from geometry.units import LengthStyle, format_length


def narrowest_side(fit: Fit) -> float | None:
    """mm: the least side of any wedge, or None where there is no wedge."""
    return min((wedge.side_length for fan in fit.fans for wedge in fan.wedges), default=None)


def out_of_sight_words(fit: Fit) -> str:
    """``3 %``; what is there but less than one half is not called nothing."""
    share = fit.out_of_sight.share * 100
    return tr("under 1 %") if 0 < share < 0.5 else tr("{share} %", share=round(share))


def try_line(fit: Fit, style: LengthStyle) -> str:
    """``narrowest side 3/8 in, 4 % out of sight``: what a try is told apart by, in one line."""
    narrowest = narrowest_side(fit)
    parts = []
    if narrowest is not None:
        parts.append(tr("narrowest side {length}", length=format_length(narrowest, style)))
    if fit.out_of_sight.share > 0:
        parts.append(tr("{share} out of sight", share=out_of_sight_words(fit)))
    return ", ".join(parts)


def try_figures(fit: Fit, style: LengthStyle) -> list[tuple[str, str]]:
    """What is compared, and its value for ``fit``; the same rows in the same order for every fit."""
    wedges = [wedge for fan in fit.fans for wedge in fan.wedges]
    levels = [finding.level for finding in fit.findings]
    none = "–"

    def least(values: list[float]) -> str:
        return format_length(min(values), style) if values else none

    return [
        (tr("Wedges"), str(len(wedges))),
        (tr("Narrowest side"), least([wedge.side_length for wedge in wedges])),
        (tr("Narrowest across"), least([wedge.across for wedge in wedges])),
        (tr("Out of sight"), out_of_sight_words(fit)),
        (tr("Problems"), str(levels.count(Level.PROBLEM))),
        (tr("Cautions"), str(levels.count(Level.CAUTION))),
        (tr("Stitched"), format_length(fit.totals.stitched, style)),
        (tr("Time"), tr("{minutes} min", minutes=round(fit.totals.minutes))),
    ]
