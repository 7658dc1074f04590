"""What a stitching card says: the wedges in their order, how the ruler lies, what is turned, what is used up.
No Qt."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from app.sketch.quantity import STITCH, THREAD
from app.sketch.translate import tr, tr_n
from app.sketch.walk import Walk
from app.sketch.walk_words import turn_words, whole_degrees
from geometry import Fit
from geometry.estimate import Totals
from geometry.stitch_path import Kind
from geometry.types import Point
from geometry.units import LengthStyle, format_length

NOTHING: Final = "–"

_LOOK_AHEAD: Final = 1e-3
"""mm before a corner of the path, from where the turn at it is the next one."""

_SHORT_TIME: Final = 10.0
"""minutes: below it a tenth of one counts."""


@dataclass(frozen=True, slots=True)
class WedgeRow:
    """One wedge, in the order of stitching."""

    wedge: int
    marks: str
    """``A1–AB``"""
    out: str
    side: str
    back: str
    """How a ruler lies, in degrees; where it cannot, ``curved``."""
    turns: tuple[str, str, str]
    """At the ends of leg out, side and leg back."""
    echoes: int


@dataclass(frozen=True, slots=True)
class TravelRow:
    """The way to the next fan."""

    text: str


@dataclass(frozen=True, slots=True)
class StitchingCard:
    """All of one patch."""

    rows: tuple[WedgeRow | TravelRow, ...]
    start: str
    stop: str
    """Sentences."""
    how: tuple[str, ...]
    """Sentences on the way of working."""
    cloth_turned: bool
    figures: tuple[tuple[str, str, str], ...]
    """What, once, and for all repeats; see ``total_figures``."""
    repeats: int


def stitching_card(fit: Fit, repeats: int, style: LengthStyle) -> StitchingCard:
    """The card of ``fit``, which the quilt top has ``repeats`` times."""
    walk = Walk(fit.path, fit.settings)
    if walk.empty:
        nothing = (tr("There is nothing to stitch: no wedge fits this patch."),)
        return StitchingCard((), "", "", nothing, fit.settings.cloth_turned, (), repeats)
    points = fit.path.points
    once = total_figures(fit.totals, style)
    every = total_figures(fit.totals.times(repeats), style)
    stitch = (tr("Stitch length"), STITCH.words(fit.settings.stitch_length, style), "")
    return StitchingCard(
        rows=tuple(_rows(fit, walk, style)),
        start=_end_words(fit, points[0].tolist(), walk.line.wedges.tolist(), start=True),
        stop=_end_words(fit, points[-1].tolist(), walk.line.wedges.tolist(), start=False),
        how=tuple(_how(fit)),
        cloth_turned=fit.settings.cloth_turned,
        figures=(stitch, *((what, one, all_) for (what, one), (_, all_) in zip(once, every, strict=True))),
        repeats=repeats,
    )


def total_figures(totals: Totals, style: LengthStyle) -> list[tuple[str, str]]:
    """What is used up, and how much; the same rows in the same order for all totals."""
    known = totals.bobbins > 0
    return [
        (tr("Stitched"), format_length(totals.stitched, style)),
        (tr("Stitches"), str(totals.stitches)),
        (tr("Top thread"), THREAD.words(totals.top_thread, style)),
        (tr("Bobbin thread"), THREAD.words(totals.bobbin_thread, style)),
        (tr("Bobbins"), str(totals.bobbins_to_wind) if known else tr("not known")),
        (tr("Minutes"), minutes_words(totals.minutes)),
    ]


def minutes_words(minutes: float) -> str:
    """``4.6``, ``72``."""
    return f"{minutes:.1f}" if minutes < _SHORT_TIME else f"{minutes:.0f}"


def _rows(fit: Fit, walk: Walk, style: LengthStyle) -> Iterator[WedgeRow | TravelRow]:
    spans = {wedge.number: wedge.span for fan in fit.fans for wedge in fan.wedges}
    line = walk.line
    kinds = [tuple(Kind)[kind] for kind in line.kinds.tolist()]
    wedges = line.wedges.tolist()
    at = 0
    while at < len(kinds):
        if kinds[at] is Kind.TRAVEL:
            length = format_length(walk.start_of(at + 1) - walk.start_of(at), style)
            after = wedges[at + 1] if at + 1 < len(wedges) else 0
            yield TravelRow(tr("Travel {length} to wedge {number}", length=length, number=after))
            at += 1
            continue
        end = at
        while end < len(kinds) and wedges[end] == wedges[at]:
            end += 1
        own = range(at, end)
        legs = [number for number in own if kinds[number] is Kind.LEG]
        sides = [number for number in own if kinds[number] is Kind.SIDE]
        if legs:
            out, back, side = legs[0], legs[-1], sides[0] if sides else legs[0]
            yield WedgeRow(
                wedge=wedges[at],
                marks="–".join(name for name in spans[wedges[at]] if name) or NOTHING,
                out=_bearing(walk, out),
                side=_bearing(walk, side),
                back=_bearing(walk, back),
                turns=(
                    _turn(walk, fit, out),
                    _turn(walk, fit, sides[-1] if sides else out),
                    _turn(walk, fit, back),
                ),
                echoes=sum(kinds[number] is Kind.ECHO for number in own),
            )
        at = end


def _bearing(walk: Walk, segment: int) -> str:
    bearing = walk.reading(walk.start_of(segment)).bearing
    if bearing is None:
        return tr("curved")
    return tr("{angle}°", angle=whole_degrees(bearing) % 360)


def _turn(walk: Walk, fit: Fit, segment: int) -> str:
    """The turn at the end of ``segment``."""
    end = walk.start_of(segment + 1)
    turn = walk.reading(end - _LOOK_AHEAD).next_turn
    if turn is None or turn.after > 2 * _LOOK_AHEAD:
        return NOTHING
    return turn_words(turn.by, fit.settings)


def _end_words(fit: Fit, place: list[float], wedges: list[int], *, start: bool) -> str:
    at: Point = (place[0], place[1])
    numbers = [number for number in wedges if number]
    number = numbers[0] if start else numbers[-1]
    near = max(1.0, fit.settings.hold_back + fit.settings.stagger + 1.0)
    beside = any(math.dist(at, anchor) <= near for anchor in fit.anchors)
    if start:
        if beside:
            return tr("Start at the anchor, with wedge {number}.", number=number)
        return tr("Start where the picture says so, and go to wedge {number}.", number=number)
    if beside:
        return tr("Stop at the anchor, after wedge {number}.", number=number)
    return tr("Stop where the picture says so, in wedge {number}.", number=number)


def _how(fit: Fit) -> Iterator[str]:
    settings = fit.settings
    if settings.cloth_turned:
        yield tr("The cloth is turned: each turn is of the cloth, with the needle down.")
    else:
        yield tr("The head moves, and the cloth stays as it is.")
    yield tr("A ruler's angle is clockwise from straight up the patch, of a leg from the anchor outward.")
    if any(wedge.echoes for fan in fit.fans for wedge in fan.wedges):
        yield tr("Stitch a wedge's echoes before you go on to the next wedge.")
    if settings.hold_back:
        yield tr("Legs stop short of the anchor; hop from leg to leg.")


def repeats_words(repeats: int) -> str:
    """``once``, ``4 times``."""
    return tr_n("once", "{count} times", repeats)
