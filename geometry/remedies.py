"""Remedies: changes of settings or anchors after which a finding is gone.

The one door to them. They are worked out when somebody asks, not in every fit, which is made at each move of
the hand. Every remedy that is offered has been tried: the patch was fitted with it, and the finding is gone.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np
import shapely
from shapely import LineString

from geometry.anchors import anchor_map, better_anchor
from geometry.echo import with_echoes
from geometry.fan import Fan, Wedge
from geometry.findings import NEAR_CENTRE, Code, Finding, Level, Remedy
from geometry.fit import Fit, fit
from geometry.ground import ground_of
from geometry.kernel import kernel
from geometry.marks import Mark, MarkKind
from geometry.patch import middle_of
from geometry.settings import Settings
from geometry.stitchable import stitchable_area, widest_circle
from geometry.tolerances import SAME_PLACE, SAME_POINT
from geometry.types import Point

MOST = 3
"""Remedies of one finding, at most: a quilter chooses among a few."""
_TRIES = 10
"""Fits made for one finding, at most."""
_FEWEST_TRIES = 4
_WORK = 1200
"""Tries times what a fit has, about: patches whose fit takes long get fewer tries."""
_CORNERS_LIKE_A_MARK = 24
"""Corners of the stitchable area, or of one round of echoes, that cost as much as a mark, about (found by
trial)."""
_MAPPED = 250
"""Anchors that are judged at once to find a better one, about."""
_FEWEST_MAPPED = 40
_MAP_WORK = 30_000
"""Anchors judged times corners of the stitchable area, about."""
_CLEARLY_OFF = 1.25
"""Times the limit of ``near-centre``: an anchor this far off does not look like a slip."""
_MOST_SPANS = 500
_MOST_ECHOES = 100
"""As many as settings may have."""
_STEP = 25.4 / 16
"""mm. Lengths are proposed in sixteenths of an inch: what a tape shows."""

WITHOUT = frozenset({Code.SIMPLIFIED, Code.REPAIRED})
"""Findings that tell what was done to an outline: there is nothing to mend in the fit."""

_ONE_A_FIT = {Code.OUT_OF_SIGHT, Code.NO_ROOM, Code.OPEN_AREA, Code.NEAR_CENTRE}
"""Codes of which a fit has one finding, for its worst place: it is gone when no place is left."""
_EMPTY = {Code.OUT_OF_SIGHT, Code.NO_ROOM, Code.PINCHED}
"""Part of the patch stays empty: wedges there are worth some narrow ones, where nothing milder mends it."""
_SEVERITY = {level: number for number, level in enumerate(Level)}


def remedies(fitted: Fit, finding: Finding, anchors: Sequence[Point] = ()) -> tuple[Remedy, ...]:
    """Up to three remedies of a finding of ``fitted``, the mildest first; empty where there is none.

    ``anchors`` are the patch's own, in mm; they matter where ``divide`` added others to those of the fit.

    Each has been tried: in the fit that ``applied`` makes the finding is gone and there are fewer of its
    code. For a problem there are fewer problems in all, for a caution or a note no more than before; only
    where a part of the patch that was left empty gets its wedges may others come in its place. A remedy that
    brings a problem of another code is left out where one does not. ``out-of-sight`` as a problem counts as
    gone where only the caution is left.
    """
    answers = deque(search(fitted, finding, anchors), maxlen=1)
    return answers[0] if answers else ()


def search(fitted: Fit, finding: Finding, anchors: Sequence[Point] = ()) -> Iterator[tuple[Remedy, ...]]:
    """``remedies``, step by step: after each try, what would be offered so far; the last is the answer.

    A step takes about as long as a fit, so that whoever draws a window can look after it in between.
    """
    if finding.code in WITHOUT:
        return
    own = tuple(anchors) or fitted.anchors
    tries = max(_FEWEST_TRIES, min(_TRIES, _WORK // (1 + _size(fitted))))
    found: list[tuple[_Rank, Remedy]] = []
    tried: list[Remedy] = []
    for remedy in _CANDIDATES[finding.code](fitted, finding, own):
        if remedy in tried:
            continue
        tried.append(remedy)
        mended = applied(fitted, remedy, own)
        if _gone(finding, fitted, mended) and _worth(finding, fitted, mended):
            found.append((_rank(finding, fitted, mended, len(found)), remedy))
        offered, free = _offered(found, alike=finding.code is Code.NEAR_CENTRE)
        yield offered
        if len(tried) == tries or (free and len(offered) == MOST):
            return


def applied(fitted: Fit, remedy: Remedy, anchors: Sequence[Point] = ()) -> Fit:
    """The fit with ``remedy``; ``anchors`` as in ``remedies``."""
    at = remedy.anchors or tuple(anchors) or fitted.anchors
    changed = replace(fitted.settings, **cast(dict[str, Any], remedy.settings))
    mended = fit(fitted.patch, at, changed)
    ground_of(fitted.patch, fitted.settings)  # stays among those that are kept: the hand goes on with it
    return mended


def _size(fitted: Fit) -> int:
    marks = sum(len(fan.marks) for fan in fitted.fans)
    return marks + _corners(fitted) * (1 + fitted.settings.echo_count) // _CORNERS_LIKE_A_MARK


def _corners(fitted: Fit) -> int:
    return sum(int(shapely.get_num_coordinates(part)) for part in fitted.stitchable)


# ------------------------------------------------------------------------------- is it gone, at what price


@dataclass(frozen=True, slots=True, order=True)
class _Rank:
    """The price of a remedy; what is least comes first."""

    other_problems: bool
    problems: int
    more_cautions: bool
    """Of a problem's remedy no price."""
    turn: int


def _rank(finding: Finding, before: Fit, after: Fit, turn: int) -> _Rank:
    others = any(
        _count(after, code) > _count(before, code)
        for code in {each.code for each in after.findings if each.level is Level.PROBLEM} - {finding.code}
    )
    more = finding.level is not Level.PROBLEM and (
        _of_level(after, Level.CAUTION) > _of_level(before, Level.CAUTION)
    )
    return _Rank(others, _of_level(after, Level.PROBLEM), more, turn)


def _of_level(fitted: Fit, level: Level) -> int:
    return sum(finding.level is level for finding in fitted.findings)


def _count(fitted: Fit, code: Code) -> int:
    return sum(finding.code is code for finding in fitted.findings)


def _worth(finding: Finding, before: Fit, after: Fit) -> bool:
    if finding.code is Code.NO_ROOM or _left_empty(after) < _left_empty(before):
        return True
    less = _of_level(before, Level.PROBLEM) - _of_level(after, Level.PROBLEM)
    return less > 0 if finding.level is Level.PROBLEM else less >= 0


def _left_empty(fitted: Fit) -> int:
    return sum(each.code in _EMPTY and each.level is Level.PROBLEM for each in fitted.findings)


def _gone(finding: Finding, before: Fit, after: Fit) -> bool:
    same = [other for other in after.findings if other.code is finding.code]
    if finding.code in _ONE_A_FIT:
        return not any(_SEVERITY[other.level] <= _SEVERITY[finding.level] for other in same)
    if len(same) >= _count(before, finding.code):
        return False
    return not any(_same_place(finding, before, other, after) for other in same)


def _same_place(finding: Finding, before: Fit, other: Finding, after: Fit) -> bool:
    """Whether both tell of the same stretch of the edge, or for those without one of the same point."""
    if math.dist(finding.at, other.at) <= SAME_PLACE:
        return True
    one, two = _span_places(finding, before), _span_places(other, after)
    if one and two and all(math.dist(a, b) <= SAME_PLACE for a, b in zip(one, two, strict=True)):
        return True
    pairs = ((finding.at, _wedge_of(other, after)), (other.at, _wedge_of(finding, before)))
    return any(
        wedge is not None and shapely.distance(LineString(wedge.side), shapely.Point(at)) <= SAME_PLACE
        for at, wedge in pairs
    )


def _span_places(finding: Finding, fitted: Fit) -> list[Point]:
    return [mark.at for mark in _ends(finding, fitted)]


def _offered(found: list[tuple[_Rank, Remedy]], alike: bool) -> tuple[tuple[Remedy, ...], bool]:
    """The best, and whether none of them brings a problem of another code. Without ``alike`` they change
    different things."""
    found = sorted(found, key=lambda each: each[0])
    free = bool(found) and not found[0][0].other_problems
    best: list[Remedy] = []
    for rank, remedy in found:
        if free and rank.other_problems:
            break
        if alike or not any(_no_milder(remedy, other) for other in best):
            best.append(remedy)
    return tuple(best[:MOST]), free


def _no_milder(remedy: Remedy, other: Remedy) -> bool:
    """Whether ``remedy`` changes the same things as ``other``, or all that ``other`` does and more."""
    moves, others_move = remedy.anchors is not None, other.anchors is not None
    if moves == others_move and set(remedy.settings) == set(other.settings):
        return True
    return not others_move and dict(other.settings).items() <= dict(remedy.settings).items()


# ---------------------------------------------------------------------------------- what a finding is about


def _fan_of(finding: Finding, fitted: Fit) -> Fan | None:
    """The fan with the finding's wedge or span; of one without either, the fan with its anchor."""
    for fan in fitted.fans:
        if finding.wedge is not None:
            if any(wedge.number == finding.wedge for wedge in fan.wedges):
                return fan
        elif finding.code is Code.WEDGE_LOST:
            if {mark.name for mark in fan.marks}.issuperset(finding.detail.split("-")):
                return fan
        elif fan.anchor == finding.at:
            return fan
    return fitted.fans[0] if len(fitted.fans) == 1 else None


def _wedge_of(finding: Finding, fitted: Fit) -> Wedge | None:
    for fan in fitted.fans:
        for wedge in fan.wedges:
            if wedge.number == finding.wedge:
                return wedge
    return None


def _ends(finding: Finding, fitted: Fit) -> list[Mark]:
    """The two marks of the finding's span; empty for one that has none."""
    wedge = _wedge_of(finding, fitted)
    names = wedge.span if wedge is not None else tuple(finding.detail.split("-"))
    if finding.wedge is None and finding.code is not Code.WEDGE_LOST:
        return []
    marks = {mark.name: mark for fan in fitted.fans for mark in fan.marks}
    return [marks[name] for name in names] if len(names) == 2 and all(name in marks for name in names) else []


def _spans_on(letter: str, fitted: Fit) -> int:
    """Spans that begin on a side, without those that the user's own marks make."""
    marks = [mark for fan in fitted.fans for mark in fan.marks]
    return sum(mark.side == letter and mark.kind is not MarkKind.OWN for mark in marks)


# ------------------------------------------------------------------------------------------- what is tried

_Tried = Iterator[Remedy]


def _narrow(fitted: Fit, finding: Finding, own: tuple[Point, ...]) -> _Tried:
    """For wedges that are short, thin, lost or at risk: wider spans there, or another anchor."""
    ends = _ends(finding, fitted)
    side = ends[0].side if ends else ""
    count = _spans_on(side, fitted) if ends else 0
    if count > 1:
        yield _spans(fitted.settings, side, _fewer(finding, count, fitted.settings))
    if count > 2 or (ends and any(mark.kind is MarkKind.OWN for mark in ends)):
        yield from (_without(fitted.settings, mark) for mark in ends if mark.kind is not MarkKind.CORNER)
    if ends and finding.code is not Code.WOBBLE_RISK and not fitted.settings.merge_thin:
        span = ends[0].name, ends[1].name
        yield Remedy({"merged_spans": (*fitted.settings.merged_spans, span)})
        yield Remedy({"merge_thin": True})
    yield from _moved(fitted, finding, own)
    if count > 2:
        yield _spans(fitted.settings, side, 1)
    if finding.code is Code.WEDGE_LOST:
        gap = max(fitted.settings.gap / 2, fitted.settings.wobble)
        if gap < fitted.settings.gap:
            yield Remedy({"gap": gap})
    yield from (_without(fitted.settings, mark) for mark in ends if mark.kind is MarkKind.CORNER)


def _fewer(finding: Finding, count: int, settings: Settings) -> int:
    """Spans on a side now in ``count``, so that they are as wide as they are to be."""
    share = 1.0
    if finding.code is Code.WOBBLE_RISK:
        wander = 2 * settings.wobble
        share = (finding.value + wander) / (finding.limit + wander)
    elif finding.code is not Code.WEDGE_LOST:
        share = finding.value / finding.limit
    return max(1, min(count - 1, math.floor(count * share)))


def _hidden(fitted: Fit, finding: Finding, own: tuple[Point, ...]) -> _Tried:
    """For what no line reaches: an anchor that sees all, one more, or as many as it takes."""
    yield from _seeing_more(fitted, own)
    areas = fitted.out_of_sight.areas
    if areas:
        yield Remedy(anchors=(*own, widest_circle(areas[0])[0]))
    if not fitted.settings.divide:
        yield Remedy({"divide": True})
        for remedy in _seeing_more(fitted, own):
            yield Remedy({"divide": True}, remedy.anchors)


def _pinched(fitted: Fit, finding: Finding, own: tuple[Point, ...]) -> _Tried:
    """For parts that the fan does not fill: an anchor there, or a margin that leaves the way open."""
    held = next(
        (part for part in fitted.stitchable if part.covers(shapely.Point(finding.at))), fitted.stitchable[-1]
    )
    margin = _open_margin(fitted)
    if margin is not None:
        yield Remedy({"edge_margin": margin})
    core = kernel(held)
    yield Remedy(anchors=(*own, _centre(core) if core is not None else widest_circle(held)[0]))
    if not fitted.settings.divide:
        yield Remedy({"divide": True})


def _open_margin(fitted: Fit) -> float | None:
    """The widest margin, in sixteenths of an inch, with fewer parts than now."""
    now = len(fitted.stitchable)
    low, high = 0, math.ceil(fitted.settings.edge_margin / _STEP)
    while high - low > 1:
        middle = (low + high) // 2
        if len(stitchable_area(fitted.patch.polygon, middle * _STEP)) < now:
            low = middle
        else:
            high = middle
    return low * _STEP if low else None


def _roomy(fitted: Fit, finding: Finding, own: tuple[Point, ...]) -> _Tried:
    """For no room: the widest margin that leaves a strip as wide as the visible width, and one that leaves
    two of them."""
    for strips in (1, 2):
        room = finding.value / 2 - strips * fitted.settings.visible_width / 2
        margin = math.floor(room / _STEP) * _STEP
        if 0 <= margin < fitted.settings.edge_margin:
            yield Remedy({"edge_margin": margin})


def _cleared(fitted: Fit, finding: Finding, own: tuple[Point, ...]) -> _Tried:
    """For a crowded anchor: a hold-back that stops all lines at the edge of the disc, or fewer lines."""
    settings = fitted.settings
    if settings.hold_back < settings.anchor_disc:
        yield Remedy({"hold_back": settings.anchor_disc})
    fan = _fan_of(finding, fitted)
    sides = sorted({mark.side for mark in fan.marks}) if fan else []
    share = finding.limit / finding.value
    usual = {
        spans
        for side in sides
        if side not in dict(settings.side_spans) and (spans := _spans_on(side, fitted))
    }
    if usual == {settings.spans_per_side} and settings.spans_per_side > 1:
        yield Remedy({"spans_per_side": max(1, math.floor(settings.spans_per_side * share))})
    elif sides:
        fewer = {side: max(1, math.floor(_spans_on(side, fitted) * share)) for side in sides}
        yield Remedy({"side_spans": tuple(sorted((dict(settings.side_spans) | fewer).items()))})
    if settings.echo_count:
        yield Remedy({"echo_count": 0})
    yield from _middles(fitted, own)


def _closed(fitted: Fit, finding: Finding, own: tuple[Point, ...]) -> _Tried:
    """For an open area: more echoes or more spans where it lies in a wedge, another anchor where not."""
    settings = fitted.settings
    at = shapely.Point(finding.at)
    held = [wedge for fan in fitted.fans for wedge in fan.wedges if shapely.Polygon(wedge.outline).covers(at)]
    more = settings.echo_count + math.ceil((finding.value - finding.limit) / (2 * settings.echo_spacing))
    counts = [count for count in (more, more + 1) if count <= _MOST_ECHOES]
    if held:
        yield from (Remedy({"echo_count": count}) for count in counts)
        times = finding.value / finding.limit
        yield Remedy({"spans_per_side": min(math.ceil(settings.spans_per_side * times), _MOST_SPANS)})
        marks = {mark.name: mark.side for fan in fitted.fans for mark in fan.marks}
        side = marks.get(held[0].span[0], "")
        if side:
            yield _spans(settings, side, min(math.ceil(_spans_on(side, fitted) * times), _MOST_SPANS))
        yield Remedy({"longest_span": finding.limit})
    if fitted.out_of_sight.areas:
        yield from _hidden(fitted, finding, own)
        yield from (Remedy({"divide": True, "echo_count": count}) for count in counts[:1])
    yield from _middles(fitted, own)


def _centred(fitted: Fit, finding: Finding, own: tuple[Point, ...]) -> _Tried:
    """For an anchor that looks like a slip: the centre, or as far off as looks meant."""
    centre = fitted.patch.centre
    yield Remedy(anchors=(centre,))
    x, y = (here - there for here, there in zip(own[0], centre, strict=True))
    far = _CLEARLY_OFF * fitted.patch.width * NEAR_CENTRE / math.hypot(x, y)
    away = centre[0] + far * x, centre[1] + far * y
    if fitted.patch.slide_into(away) == away:
        yield Remedy(anchors=(away,))


def _echoed(fitted: Fit, finding: Finding, own: tuple[Point, ...]) -> _Tried:
    """For echoes that did not fit: as many as do, or nearer to each other."""
    yield Remedy({"echo_count": round(finding.value)})
    spacing = _tighter(fitted, finding)
    if spacing is not None:
        yield Remedy({"echo_spacing": spacing})
    fewest = min(len(wedge.echoes) for fan in fitted.fans for wedge in fan.wedges)
    yield Remedy({"echo_count": fewest})


def _tighter(fitted: Fit, finding: Finding) -> float | None:
    """The widest spacing, in sixteenths of an inch, at which the wedge takes all its echoes; None where lines
    so near would run into each other, as a hand wanders."""
    fan, wedge, settings = _fan_of(finding, fitted), _wedge_of(finding, fitted), fitted.settings
    if fan is None or wedge is None:
        return None
    outline = wedge.outline.copy()
    outline[0] = outline[-1] = fan.anchor
    if math.dist(wedge.outline[0], fan.anchor) > SAME_POINT and len(wedge.outline) == len(wedge.side) + 2:
        outline = np.vstack([[fan.anchor], wedge.side, [fan.anchor]])
    whole = replace(wedge, outline=outline, echoes=())
    steps = math.ceil(settings.echo_spacing / _STEP) - 1
    while steps * _STEP >= max(settings.wobble, _STEP) - SAME_POINT:
        (tried,) = with_echoes(fan.anchor, (whole,), replace(settings, echo_spacing=steps * _STEP))
        if len(tried.echoes) >= settings.echo_count:
            return steps * _STEP
        steps -= 1
    return None


def _spans(settings: Settings, side: str, count: int) -> Remedy:
    counts = dict(settings.side_spans) | {side: count}
    return Remedy({"side_spans": tuple(sorted(counts.items()))})


def _without(settings: Settings, mark: Mark) -> Remedy:
    if mark.kind is MarkKind.OWN and settings.own_marks:
        nearest = min(settings.own_marks, key=lambda at: math.dist(at, mark.at))
        return Remedy({"own_marks": tuple(at for at in settings.own_marks if at is not nearest)})
    return Remedy({"removed_marks": (*settings.removed_marks, mark.at)})


# ----------------------------------------------------------------------------------------- other anchors


def _moved(fitted: Fit, finding: Finding, own: tuple[Point, ...]) -> _Tried:
    """Anchors with fewer problems: of many the nearest of the best, and the nearest of all."""
    if len(fitted.fans) > 1:
        yield from _middles(fitted, own, _fan_of(finding, fitted))
        return
    patch, settings, here = fitted.patch, fitted.settings, fitted.fans[0].anchor
    plain = replace(settings, echo_count=0, hold_back=0.0, stagger=0.0, divide=False)
    area = sum(part.area for part in fitted.stitchable)
    count = max(_FEWEST_MAPPED, min(_MAPPED, _MAP_WORK // _corners(fitted)))
    found = anchor_map(patch, plain, step=math.sqrt(area / count))
    if not len(found.anchors):
        return
    away = np.hypot(*(found.anchors - np.array(here)).T)
    off = np.hypot(*(found.anchors - np.array(patch.centre)).T)
    problems = found.problems
    most = _of_level(fitted, Level.PROBLEM) - (finding.level is Level.PROBLEM)
    good = (problems <= most) & ((off >= NEAR_CENTRE * patch.width) | (off <= SAME_POINT))
    if finding.code is Code.WOBBLE_RISK:
        risky = found.narrowest < settings.visible_width + 2 * settings.wobble
        problems = problems + risky
    for order in (np.lexsort((away, problems)), np.argsort(away, kind="stable")):
        for i in order[good[order]][:2].tolist():
            x, y = found.anchors[i].tolist()
            yield _with_anchor(fitted, own, here, (x, y))
    yield from _middles(fitted, own)


def _middles(fitted: Fit, own: tuple[Point, ...], fan: Fan | None = None) -> _Tried:
    """The middle of the patch, for one fan; for several the middle of what sees all of its region."""
    if len(fitted.fans) == 1:
        yield _with_anchor(fitted, own, fitted.fans[0].anchor, middle_of(fitted.patch))
    for each in fitted.fans if fan is None else (fan,):
        core = kernel(each.region)
        if core is not None:
            yield _with_anchor(fitted, own, each.anchor, _centre(core))
        if len(own) > 1 and each.anchor in own:
            yield Remedy(anchors=tuple(at for at in own if at != each.anchor))


def _seeing_more(fitted: Fit, own: tuple[Point, ...]) -> _Tried:
    if len(fitted.fans) != 1 or len(own) > 1:
        return
    better = better_anchor(fitted.patch, fitted.settings, fitted.out_of_sight.share)
    if better is not None:
        yield Remedy(anchors=(better,))


def _with_anchor(fitted: Fit, own: tuple[Point, ...], old: Point, new: Point) -> Remedy:
    """``new`` in place of ``old``; beside the others where ``old`` is one that was added."""
    new = fitted.patch.slide_into(new)
    return Remedy(anchors=tuple(new if at == old else at for at in own) if old in own else (*own, new))


def _centre(polygon: shapely.Polygon) -> Point:
    x, y = shapely.get_coordinates(polygon.centroid)[0].tolist()
    return x, y


_CANDIDATES: dict[Code, Callable[[Fit, Finding, tuple[Point, ...]], _Tried]] = {
    Code.SIDE_SHORT: _narrow,
    Code.WEDGE_THIN: _narrow,
    Code.WEDGE_LOST: _narrow,
    Code.WOBBLE_RISK: _narrow,
    Code.OUT_OF_SIGHT: _hidden,
    Code.NO_ROOM: _roomy,
    Code.PINCHED: _pinched,
    Code.CROWDED_ANCHOR: _cleared,
    Code.OPEN_AREA: _closed,
    Code.NEAR_CENTRE: _centred,
    Code.ECHO_DROPPED: _echoed,
}
"""What to try for each code, the mildest first; those in ``WITHOUT`` have nothing."""
