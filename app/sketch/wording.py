"""Every sentence made from the engine's data. The engine knows codes and figures, this module the words."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import TypeAlias, cast

from app.sketch.figures import beside_limit, more_than_nothing
from app.sketch.translate import tr, tr_n
from geometry.findings import Code, Finding, Level, Remedy
from geometry.fit import Fit
from geometry.patch import RepairDetail
from geometry.types import Point
from geometry.units import LengthStyle, format_length


def finding_text(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    """One sentence for a quilter: what, with figure and limit in ``style``, and what to do."""
    return _TEXTS[finding.code](finding, fit, style)


def finding_title(code: Code) -> str:
    """What kind of finding it is, in two or three words."""
    return tr(_TITLES[code])


def level_word(level: Level) -> str:
    """``problem``, ``caution`` or ``note``."""
    return tr(level.value)


def verdict(fit: Fit, *, prompt: bool = False) -> str:
    """One line on the whole fit: ``8 wedges, fits``, ``8 wedges, 2 problems``.

    ``prompt``: without waiting for what takes its time (``Fit.prompt_findings``).
    """
    findings = fit.prompt_findings if prompt else fit.findings
    wedges = sum(len(fan.wedges) for fan in fit.prompt_fans)
    counted = tr_n("{count} wedge", "{count} wedges", wedges) if wedges else tr("no wedges")
    problems = sum(finding.level is Level.PROBLEM for finding in findings)
    if problems:
        return tr("{wedges}, {problems}", wedges=counted, problems=_problems(problems))
    cautions = sum(finding.level is Level.CAUTION for finding in findings)
    if cautions:
        return tr("{wedges}, fits with {cautions}", wedges=counted, cautions=_cautions(cautions))
    return tr("{wedges}, fits", wedges=counted)


def remedy_text(remedy: Remedy, fit: Fit, style: LengthStyle, anchors: Sequence[Point] = ()) -> str:
    """What a button says that applies ``remedy`` to ``fit``: ``One span on side B, edge margin of 1/8 in``.

    ``anchors`` are the patch's own, where the fit has others that were added.
    """
    parts = [_SETTING_TEXTS[name](value, fit, style) for name, value in sorted(remedy.settings.items())]
    if remedy.anchors is not None:
        parts.append(_anchors_text(remedy.anchors, tuple(anchors) or fit.anchors, fit, style))
    text = ", ".join(parts)
    return text[:1].upper() + text[1:]


# ----------------------------------------------------------------------------------------------------

_TITLES: dict[Code, str] = {
    Code.SIDE_SHORT: "Side too short",
    Code.WEDGE_THIN: "Wedge too thin",
    Code.WEDGE_LOST: "Wedge lost",
    Code.WOBBLE_RISK: "Wobble risk",
    Code.OUT_OF_SIGHT: "Out of sight",
    Code.NO_ROOM: "No room",
    Code.PINCHED: "Pinched off",
    Code.CROWDED_ANCHOR: "Crowded anchor",
    Code.OPEN_AREA: "Open area",
    Code.NEAR_CENTRE: "Near the centre",
    Code.ECHO_DROPPED: "Echoes dropped",
    Code.SIMPLIFIED: "Outline simplified",
    Code.REPAIRED: "Outline repaired",
}


def _problems(count: int) -> str:
    return tr_n("{count} problem", "{count} problems", count)


def _cautions(count: int) -> str:
    return tr_n("{count} caution", "{count} cautions", count)


def _side_short(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    return tr(
        "{wedge}: its side is {value} long and would not be seen, {limit} is the least; "
        "move the anchor, or set fewer spans for that side",
        wedge=_wedge(finding, fit),
        value=beside_limit(finding.value, finding.limit, style),
        limit=format_length(finding.limit, style),
    )


def _wedge_thin(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    return tr(
        "{wedge}: it is {value} across and would not be seen, {limit} is the least; "
        "move the anchor so that it faces that side more squarely, or set fewer spans there",
        wedge=_wedge(finding, fit),
        value=beside_limit(finding.value, finding.limit, style),
        limit=format_length(finding.limit, style),
    )


def _wedge_lost(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    start, _, end = finding.detail.partition("-")
    span = tr("From mark {start} to {end}", start=start, end=end) if start and end else tr("Here")
    return tr(
        "{span} the anchor sees {value} of the edge, and with a gap of {gap} to its neighbours no wedge "
        "is left; move the anchor, or make the gap smaller",
        span=span,
        value=more_than_nothing(finding.value, style),
        gap=format_length(finding.limit, style),
    )


def _wobble_risk(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    left = tr("nothing") if finding.value <= 0 else beside_limit(finding.value, finding.limit, style)
    return tr(
        "{wedge}: where the stitching wanders by {wobble} on both sides, {value} of its width is left, "
        "and {limit} is the least that is seen; mark it well and stitch it slowly, or move the anchor",
        wedge=_wedge(finding, fit),
        wobble=format_length(fit.settings.wobble, style),
        value=left,
        limit=format_length(finding.limit, style),
    )


def _out_of_sight(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    if len(fit.fans) > 1:
        return tr(
            "{share} of the stitchable area is out of sight of all anchors; move one, or add another",
            share=_share(finding.value),
        )
    return tr(
        "{share} of the stitchable area is out of sight of the anchor; "
        "move the anchor to where it sees more, or add another",
        share=_share(finding.value),
    )


def _no_room(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    values = {
        "value": more_than_nothing(finding.value, style),
        "margin": format_length(finding.limit / 2, style),
    }
    if finding.value < fit.settings.visible_width:
        return tr(
            "No room to stitch: at its widest place the patch is {value} wide, too little for a wedge",
            **values,
        )
    return tr(
        "No room to stitch: at its widest place the patch is {value} wide, and the edge margin of {margin} "
        "is kept on both sides; make the edge margin smaller",
        **values,
    )


def _pinched(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    return tr(
        "The edge margin pinches off {share} of the stitchable area, which stays empty; "
        "make the edge margin smaller, or put another anchor there",
        share=_share(finding.value),
    )


def _crowded_anchor(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    passes = tr_n("{count} pass of thread meets", "{count} passes of thread meet", round(finding.value))
    return tr(
        "{passes} at the anchor, {limit} is the most; raise the hold-back, or set fewer spans",
        passes=passes,
        limit=round(finding.limit),
    )


def _open_area(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    return tr(
        "A circle {value} wide stays without stitching, and the batting allows {limit}; "
        "add echoes, or set more spans",
        value=beside_limit(finding.value, finding.limit, style),
        limit=format_length(finding.limit, style),
    )


def _near_centre(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    return tr(
        "The anchor is {value} off the centre, which looks like a slip; "
        "put it on the centre, or at least {limit} away from it",
        value=beside_limit(finding.value, finding.limit, style),
        limit=format_length(finding.limit, style),
    )


def _echo_dropped(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    asked = tr_n("{count} echo", "{count} echoes", round(finding.limit))
    if round(finding.value) == 0:
        return tr("{wedge}: no room for its {asked}", wedge=_wedge(finding, fit), asked=asked)
    return tr(
        "{wedge}: room for {count} of its {asked}",
        wedge=_wedge(finding, fit),
        count=round(finding.value),
        asked=asked,
    )


def _repaired(finding: Finding, fit: Fit, style: LengthStyle) -> str:
    one, many = _REPAIRS.get(finding.detail, _OTHER_REPAIR)
    text = tr_n(one, many, round(finding.value))
    if finding.code is Code.SIMPLIFIED:
        return tr("{what}, at {place}; the shape is the same", what=text, place=_place(finding.at, style))
    return tr("{what}, at {place}; see whether that is right", what=text, place=_place(finding.at, style))


_OTHER_REPAIR = ("The outline was changed so that it can be stitched",) * 2
_REPAIRS: dict[str, tuple[str, str]] = {
    RepairDetail.REPEATED_POINTS: (
        "{count} corner that repeated the one before it was left out",
        "{count} corners that repeated the one before them were left out",
    ),
    RepairDetail.SPIKE: (
        "{count} spike without any width was taken off the outline",
        "{count} spikes without any width were taken off the outline",
    ),
    RepairDetail.SELF_TOUCHING: ("The outline touched itself and was redrawn",) * 2,
    RepairDetail.SELF_CROSSING: ("The outline crossed itself and was redrawn around what it encloses",) * 2,
    RepairDetail.SLIVER: (
        "{count} part thinner than a pen line was left out",
        "{count} parts thinner than a pen line were left out",
    ),
    RepairDetail.SPLIT: ("The outline enclosed {count} parts, and this patch is one of them",) * 2,
    RepairDetail.HOLE_DROPPED: (
        "{count} hole without any width was left out",
        "{count} holes without any width were left out",
    ),
    RepairDetail.HOLE_OUTSIDE: (
        "{count} hole that lies outside the outline was left out",
        "{count} holes that lie outside the outline were left out",
    ),
    RepairDetail.HOLE_CLIPPED: (
        "{count} hole that reaches the outline was cut out of it",
        "{count} holes that reach the outline were cut out of it",
    ),
    RepairDetail.HOLES_JOINED: ("Holes that overlap were made one",) * 2,
    RepairDetail.HOLE_CROSSING: (
        "{count} hole that crossed itself was redrawn",
        "{count} holes that crossed themselves were redrawn",
    ),
}

_TEXTS: dict[Code, Callable[[Finding, Fit, LengthStyle], str]] = {
    Code.SIDE_SHORT: _side_short,
    Code.WEDGE_THIN: _wedge_thin,
    Code.WEDGE_LOST: _wedge_lost,
    Code.WOBBLE_RISK: _wobble_risk,
    Code.OUT_OF_SIGHT: _out_of_sight,
    Code.NO_ROOM: _no_room,
    Code.PINCHED: _pinched,
    Code.CROWDED_ANCHOR: _crowded_anchor,
    Code.OPEN_AREA: _open_area,
    Code.NEAR_CENTRE: _near_centre,
    Code.ECHO_DROPPED: _echo_dropped,
    Code.SIMPLIFIED: _repaired,
    Code.REPAIRED: _repaired,
}


_SettingText: TypeAlias = Callable[[object, Fit, LengthStyle], str]


def _side_spans_text(value: object, fit: Fit, style: LengthStyle) -> str:
    before = dict(fit.settings.side_spans)
    counts = cast(Iterable[tuple[str, int]], value)
    changed = [(side, count) for side, count in counts if before.get(side) != count]
    sides = [
        tr_n("one span on side {side}", "{count} spans on side {side}", count, side=side)
        for side, count in changed
    ]
    if len(sides) <= _SIDES_NAMED:
        return ", ".join(sides)
    most = max(count for _, count in changed)
    return tr_n("one span on {sides} sides", "at most {count} spans on {sides} sides", most, sides=len(sides))


def _removed_mark_text(value: object, fit: Fit, style: LengthStyle) -> str:
    return _mark_text(set(cast(Iterable[Point], value)) - set(fit.settings.removed_marks), fit)


def _own_mark_text(value: object, fit: Fit, style: LengthStyle) -> str:
    return _mark_text(set(fit.settings.own_marks) - set(cast(Iterable[Point], value)), fit)


def _mark_text(places: set[Point], fit: Fit) -> str:
    marks = [mark for fan in fit.fans for mark in fan.marks]
    names = [min(marks, key=lambda mark: math.dist(mark.at, at)).name for at in sorted(places)]
    return tr("remove mark {name}", name=", ".join(names))


def _echoes_text(value: object, fit: Fit, style: LengthStyle) -> str:
    count = cast(int, value)
    return tr_n("one echo", "{count} echoes", count) if count else tr("no echoes")


def _every_side_text(value: object, fit: Fit, style: LengthStyle) -> str:
    return tr_n("one span on every side", "{count} spans on every side", cast(int, value))


def _length_text(words: str) -> _SettingText:
    return lambda value, fit, style: tr(words, length=_remedy_length(cast(float, value), style))


_SIDES_NAMED = 2
"""Sides whose letters a button has room for."""
_SETTING_TEXTS: dict[str, _SettingText] = {
    "side_spans": _side_spans_text,
    "own_marks": _own_mark_text,
    "removed_marks": _removed_mark_text,
    "merge_thin": lambda value, fit, style: tr("merge thin wedges"),
    "merged_spans": lambda value, fit, style: tr("merge it with a neighbour"),
    "spans_per_side": _every_side_text,
    "longest_span": _length_text("no span longer than {length}"),
    "hold_back": _length_text("hold-back of {length}"),
    "edge_margin": _length_text("edge margin of {length}"),
    "gap": _length_text("gap of {length}"),
    "echo_count": _echoes_text,
    "echo_spacing": _length_text("echoes {length} apart"),
    "divide": lambda value, fit, style: tr("as many anchors as it takes"),
}
"""The words for each setting that a remedy may change."""


def _anchors_text(new: tuple[Point, ...], old: tuple[Point, ...], fit: Fit, style: LengthStyle) -> str:
    came, went = [at for at in new if at not in old], [at for at in old if at not in new]
    if not came:
        return tr("remove the anchor at {place}", place=_place(went[0], style))
    if not went:
        return tr("another anchor at {place}", place=_place(came[0], style))
    if came == [fit.patch.centre]:
        return tr("put the anchor on the centre")
    if len(old) > 1:
        return tr(
            "move the anchor at {old} to {place}", old=_place(went[0], style), place=_place(came[0], style)
        )
    return tr("move the anchor to {place}", place=_place(came[0], style))


def _wedge(finding: Finding, fit: Fit) -> str:
    """``Wedge 3 (A1 to AB)``: the number is on the picture, the marks are on the cloth."""
    for fan in fit.fans:
        for wedge in fan.wedges:
            if wedge.number == finding.wedge and all(wedge.span):
                start, end = wedge.span
                return tr("Wedge {number} ({start} to {end})", number=wedge.number, start=start, end=end)
    return tr("Wedge {number}", number=finding.wedge)


def _remedy_length(mm: float, style: LengthStyle) -> str:
    """A length that a remedy sets. Remedies come in sixteenths: an eighth would be another length."""
    return format_length(mm, LengthStyle.SIXTEENTHS if style is LengthStyle.EIGHTHS else style)


def _share(share: float) -> str:
    percent = round(100 * share)
    if percent == 0:
        return tr("Less than 1 %")
    return tr("{percent} %", percent=percent)


def _place(point: Point, style: LengthStyle) -> str:
    x, y = (format_length(value, style) for value in point)
    return tr("x {x}, y {y}", x=x, y=y)
