"""Findings: what the quilter should know about a fit. Data only; the app words them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from geometry.fan import Fan, Lost, Wedge, half_way, ring_area
from geometry.settings import Settings
from geometry.stitchable import widest_circle, widest_of
from geometry.tolerances import LEAST_PART, SAME_POINT
from geometry.types import Point, Points

if TYPE_CHECKING:
    from geometry.patch import Patch


class Level(StrEnum):
    """How much a finding matters."""

    PROBLEM = "problem"
    CAUTION = "caution"
    NOTE = "note"


class Code(StrEnum):
    """Stable names of the findings (design page, 3.8)."""

    SIDE_SHORT = "side-short"
    WEDGE_THIN = "wedge-thin"
    WEDGE_LOST = "wedge-lost"
    WOBBLE_RISK = "wobble-risk"
    OUT_OF_SIGHT = "out-of-sight"
    NO_ROOM = "no-room"
    PINCHED = "pinched"
    CROWDED_ANCHOR = "crowded-anchor"
    OPEN_AREA = "open-area"
    NEAR_CENTRE = "near-centre"
    ECHO_DROPPED = "echo-dropped"
    SIMPLIFIED = "simplified"
    REPAIRED = "repaired"


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change that makes a finding go away: settings to change, or anchors to use instead.

    ``geometry.remedies`` works them out.
    """

    settings: Mapping[str, object] = field(default_factory=dict)
    anchors: tuple[Point, ...] | None = None
    """mm, all anchors of the patch; None leaves them as they are."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to know. ``value`` and ``limit`` are mm unless the code says otherwise
    (out-of-sight and pinched: a share of the stitchable area, 0 to 1; echo-dropped, repaired,
    simplified: counts; crowded-anchor: passes of thread)."""

    code: Code
    level: Level
    at: Point
    value: float
    limit: float
    wedge: int | None = None
    """Number of the wedge (1 is the first), or None."""
    detail: str = ""
    """A stable sub-code for the wording, such as what was repaired."""


def wedge_findings(wedges: tuple[Wedge, ...], settings: Settings) -> list[Finding]:
    """``side-short`` and ``wedge-thin``, in the order of the wedges."""
    limit = settings.visible_width
    found = []
    for wedge in wedges:
        if min(wedge.side_length, wedge.across) >= limit:
            continue
        at = half_way(wedge.side)
        for code, value in ((Code.SIDE_SHORT, wedge.side_length), (Code.WEDGE_THIN, wedge.across)):
            if value < limit:
                found.append(Finding(code, Level.PROBLEM, at, value, limit, wedge.number))
    return found


def wobble_risks(wedges: tuple[Wedge, ...], settings: Settings) -> list[Finding]:
    """``wobble-risk``: side or across less twice the wobble falls below the visible width.

    Where they are below it anyway, ``side-short`` and ``wedge-thin`` say so, and this does not.
    """
    limit, wander = settings.visible_width, 2 * settings.wobble
    found = []
    for wedge in wedges:
        least = min(wedge.side_length, wedge.across)
        if limit <= least < limit + wander:
            at = half_way(wedge.side)
            found.append(Finding(Code.WOBBLE_RISK, Level.CAUTION, at, least - wander, limit, wedge.number))
    return found


def dropped_echoes(wedges: tuple[Wedge, ...], settings: Settings) -> list[Finding]:
    """``echo-dropped``: how many of a wedge's echoes fitted, where not all did."""
    asked = settings.echo_count
    return [
        Finding(Code.ECHO_DROPPED, Level.NOTE, half_way(wedge.side), len(wedge.echoes), asked, wedge.number)
        for wedge in wedges
        if len(wedge.echoes) < asked
    ]


def crowded_anchor(fan: Fan, settings: Settings) -> list[Finding]:
    """``crowded-anchor``: more lines come nearer to the anchor than ``anchor_disc`` than are allowed.

    Each leg counts once, and so does each echo that reaches in.
    """
    disc = settings.anchor_disc
    passes = sum(_passes(wedge, fan.anchor, disc) for wedge in fan.wedges)
    if passes <= settings.anchor_passes:
        return []
    return [Finding(Code.CROWDED_ANCHOR, Level.CAUTION, fan.anchor, passes, settings.anchor_passes)]


def _passes(wedge: Wedge, anchor: Point, disc: float) -> int:
    outline = wedge.outline
    if math.dist(outline[0], anchor) <= SAME_POINT:
        count = 2 if disc > SAME_POINT else 0
    else:
        count = sum(math.dist(end, anchor) < disc - SAME_POINT for end in (outline[0], outline[-2]))
    for echo in wedge.echoes:  # outermost first, each with its apex further out than the one before
        if math.dist(echo[0], anchor) >= disc - SAME_POINT:
            break
        count += 1
    return count


def open_area(
    patch: Patch, fans: tuple[Fan, ...], hidden: float, lost: float, settings: Settings
) -> list[Finding]:
    """``open-area``: the widest circle free of stitching is wider than the batting allows.

    Looked for inside the innermost outline of every wedge, in what the fans leave of the patch, and around
    anchors that a hold-back keeps bare; the seam counts as a line, hops do not. ``hidden`` and ``lost`` are
    mm² out of sight and in lost spans: where neighbours are one gap apart the fans leave besides them only
    gaps and the margin, and where the rest of so wide a circle does not fit into both, nothing is measured.
    Nor is it where it would not fit with what it can cover of mouths between neighbours turned back far.
    """
    limit = settings.batting_width
    least = math.pi * limit**2 / 4
    open_ = []
    for fan in fans:
        for wedge in fan.wedges:
            inner = wedge.echoes[-1] if wedge.echoes else wedge.outline
            if ring_area(inner) > least and _may_hold(inner, limit):
                open_.append(Polygon(inner))
    core = limit - 2 * (settings.edge_margin + settings.gap)
    strip = min(2 * settings.gap, limit / 4)
    runs = [(fan, *_breaks(fan, strip, patch.polygon)) for fan in fans if fan.wedges]
    mouths = sum(width for _, _, width in runs)
    rest_counts = core <= 0 or hidden + lost + core * mouths > math.pi * core**2 / 4
    if rest_counts:
        filled = [run for fan, breaks, _ in runs for run in _filled(fan, breaks)]
        rest = _without(patch.polygon, filled) if filled else patch.polygon
        open_ += [part for part in shapely.get_parts(rest) if part.area > least]
    widest = widest_of(open_, limit / 2)
    if settings.hold_back or settings.stagger:
        bare = _bare(patch, fans, rest_counts or mouths > 0, settings)
        beside = widest_of(bare, (widest[1] if widest else limit / 2) - _CUT)
        widest = (beside[0], beside[1] + _CUT) if beside else widest
    return [Finding(Code.OPEN_AREA, Level.CAUTION, widest[0], 2 * widest[1], limit)] if widest else []


def _bare(patch: Patch, fans: tuple[Fan, ...], beyond: bool, settings: Settings) -> list[Polygon]:
    """What a hold-back opens around the anchors, where circles in it could be too wide; less ``_CUT`` all
    round.

    A circle that passes between the anchor and where a leg begins, r mm from it, and whose centre lies in a
    wedge of the apex angle 2 a, has at most r tan a for its radius, or r; one that a leg's closing line cuts
    off, r sin a / (1 - sin a). ``beyond`` the fans, what the legs part there is open to them too.
    """
    held, limit = settings.hold_back + settings.stagger, settings.batting_width
    wedges = [(wedge, fan.anchor) for fan in fans for wedge in fan.wedges]
    half = math.sin(min(max((wedge.apex_angle for wedge, _ in wedges), default=0.0) / 2, math.pi / 2))
    if not wedges or not (beyond or 2 * held * max(half, 1 - half) > limit * (1 - half)):
        return []
    lines = [line for wedge, anchor in wedges for line in _stitched(wedge, anchor)]
    owner = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    stitched = shapely.multilinestrings(shapely.linestrings(np.concatenate(lines), indices=owner))
    cuts = shapely.buffer(stitched, _CUT, cap_style="flat", join_style="mitre")
    # On a grid, lest GEOS answer with the whole where cuts run along the seam.
    free = shapely.get_parts(shapely.difference(patch.polygon, cuts, grid_size=SAME_POINT))
    near = shapely.distance(free, shapely.MultiPoint([fan.anchor for fan in fans])) <= held
    large = shapely.area(free) > math.pi * limit**2 / 4
    return list(free[near & large])


_CUT = 1e-3
"""mm. Half the width of the cuts that stand for lines: a thousandth of a millimetre is added back."""


def _stitched(wedge: Wedge, anchor: Point) -> list[Points]:
    """The lines of a wedge and its echoes: those cut at the hold-back without what closes them."""
    lines = []
    first = math.dist(wedge.outline[0], anchor)
    for ring in (wedge.outline, *wedge.echoes):
        ends = math.dist(ring[0], anchor), math.dist(ring[-2], anchor)
        cut = first > SAME_POINT and max(abs(end - first) for end in ends) <= 2 * SAME_POINT
        lines.append(ring[:-1] if cut else ring)
    return lines


_DEPTHS = (0.3, 0.6, 0.95)
"""Shares of the way from the anchor to the mouth between two wedges: there it is looked whether patch is."""


def _breaks(fan: Fan, strip: float, patch: Polygon) -> tuple[NDArray[np.intp], float]:
    """(k,) how many wedges stand up to each place where to the next one's outer end there is more than
    ``strip`` mm, or more than half a turn; and how wide the mouths with less than half a turn get inside
    ``patch``, mm, all together.

    Neighbours close to the anchor turn back far, and leave more than a gap between them; at a corner of the
    seam what lies between is not the patch.
    """
    ends = np.array([(wedge.side[0], wedge.side[-1]) for wedge in fan.wedges])
    nxt = np.roll(ends[:, 0], -1, axis=0)
    across = nxt - ends[:, 1]
    # Ends near each other have no gap between them where the way round is more than half a turn.
    away, towards = ends[:, 1] - fan.anchor, nxt - fan.anchor
    turned = away[:, 0] * towards[:, 1] - away[:, 1] * towards[:, 0]
    wide = np.hypot(across[:, 0], across[:, 1]) > strip
    breaks = (turned < 0) | wide
    mouth = breaks & (turned >= 0)
    if not mouth.any():
        return breaks.nonzero()[0] + 1, 0.0
    middle = (away + towards)[mouth] / 2
    places = np.array(_DEPTHS)[:, None, None] * middle + fan.anchor
    open_ = shapely.contains_xy(patch, places[..., 0], places[..., 1]).any(axis=0)
    angle = np.abs(np.arctan2(turned[mouth], (away * towards).sum(axis=1)[mouth]))
    # As far as the patch reaches, the directions between two legs lie in a strip of this width.
    left, top, right, bottom = patch.bounds
    x, y = fan.anchor
    reach = math.hypot(max(x - left, right - x), max(y - top, bottom - y))
    return breaks.nonzero()[0] + 1, float((2 * reach * np.sin(angle / 2))[open_].sum())


def _filled(fan: Fan, breaks: NDArray[np.intp]) -> list[BaseGeometry]:
    """The fan's wedges with the gaps between neighbours filled, but for those after ``breaks``.

    A circle reaches through an opening of a quarter of its width by a sixtieth of it.
    One polygon for each run of neighbours, all from the anchor on, so that none touches itself there.
    """
    wedges = fan.wedges
    if not len(breaks):
        ring = np.concatenate([*(wedge.side for wedge in wedges), wedges[0].side[:1]])
        return _valid([ring]) if len(ring) > 3 else []  # the straight side of a single small wedge
    anchor = np.array([fan.anchor])
    order = [*wedges[breaks[-1] :], *wedges[: breaks[-1]]]
    rings, begin = [], 0
    for size in np.diff(breaks, prepend=breaks[-1] - len(wedges)).tolist():
        rings.append(np.concatenate([anchor, *(wedge.side for wedge in order[begin : begin + size]), anchor]))
        begin += size
    return _valid(rings)


def _valid(rings: Sequence[Points]) -> list[BaseGeometry]:
    """The polygons of closed rings, mended where they cross or touch themselves."""
    owner = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    polygons = shapely.polygons(shapely.linearrings(np.concatenate(rings), indices=owner))
    crossed = ~shapely.is_valid(polygons)
    if crossed.any():
        polygons[crossed] = shapely.make_valid(polygons[crossed], method="structure")
    return list(polygons)


def _without(whole: Polygon, taken: list[BaseGeometry]) -> BaseGeometry:
    """``whole`` less ``taken``, which lie in it and hardly overlap."""
    left = whole.area - float(shapely.area(taken).sum())
    try:
        rest = shapely.difference(whole, shapely.geometrycollections(taken))
        if abs(rest.area - left) <= LEAST_PART:
            return rest
    except shapely.GEOSException:
        pass
    # They overlap by a hair, or edges nearly coincide, where GEOS may answer with the whole. As one, and on a
    # grid, that does not happen; it takes three times as long.
    return shapely.difference(whole, shapely.union_all(taken, grid_size=SAME_POINT), grid_size=SAME_POINT)


def _may_hold(ring: Points, width: float) -> bool:
    """Whether a circle that wide may fit: twice the inradius of a convex outline is at most 4 A / P.

    That is of its hull; along a ragged edge its own P is far too long. The hull of many points takes as long
    as a look for the circle.
    """
    if len(ring) > _MANY:
        return True
    hull = shapely.convex_hull(shapely.linearrings(ring))
    return bool(4 * shapely.area(hull) > width * shapely.length(hull))


_MANY = 200
"""Points from which on the hull takes as long as that (found by trial)."""


def near_centre(patch: Patch, anchors: tuple[Point, ...]) -> list[Finding]:
    """``near-centre``: a single anchor is off the centre by less than a tenth of the patch's width.

    No finding where the centre lies outside the patch, nor for an anchor on the seam: nobody gets there by a
    slip.
    """
    if len(anchors) != 1:
        return []
    centre = patch.centre
    off = math.dist(anchors[0], centre)
    limit = patch.width * NEAR_CENTRE
    if not SAME_POINT < off < limit or patch.slide_into(centre) != centre or patch.is_on_seam(anchors[0]):
        return []
    return [Finding(Code.NEAR_CENTRE, Level.CAUTION, anchors[0], off, limit)]


def lost_wedges(lost: tuple[Lost, ...], settings: Settings) -> list[Finding]:
    """``wedge-lost``: the length in sight of a span without room for its wedge, and the gap."""
    return [
        Finding(
            Code.WEDGE_LOST, Level.PROBLEM, piece.at, piece.length, settings.gap, detail="-".join(piece.span)
        )
        for piece in lost
    ]


def out_of_sight_finding(
    share: float, areas: tuple[Polygon, ...], parts: tuple[Polygon, ...], part: int, settings: Settings
) -> list[Finding]:
    """``out-of-sight``: a problem from a hundredth of the stitchable area on, a caution below.

    What is smaller than a square of half the visible width is nothing anybody sees, and no finding.
    """
    own = [area for area in areas if not any(area is other for i, other in enumerate(parts) if i != part)]
    if not own or own[0].area < (settings.visible_width / 2) ** 2:
        return []
    at = _inside(own[0])
    level = Level.PROBLEM if share >= OUT_OF_SIGHT_LIMIT else Level.CAUTION
    return [Finding(Code.OUT_OF_SIGHT, level, at, share, OUT_OF_SIGHT_LIMIT)]


def pinched(parts: tuple[Polygon, ...], part: int, area: float) -> list[Finding]:
    """``pinched``: for each part of the stitchable area that the fan does not fill, its share."""
    return [
        Finding(Code.PINCHED, Level.PROBLEM, _inside(other), other.area / area, 0.0)
        for i, other in enumerate(parts)
        if i != part
    ]


def no_room(patch: Patch, settings: Settings) -> Finding:
    """``no-room``: the width of the widest circle in the patch against twice the edge margin."""
    at, radius = widest_circle(patch.polygon)
    return Finding(Code.NO_ROOM, Level.PROBLEM, at, 2 * radius, 2 * settings.edge_margin)


def repairs(patch: Patch) -> list[Finding]:
    """``repaired`` and ``simplified``, as notes."""
    return [
        Finding(repair.code, Level.NOTE, repair.at, repair.count, 0, detail=str(repair.detail))
        for repair in patch.repairs
    ]


NEAR_CENTRE = 0.1
"""Share of the patch's width within which an anchor off the centre looks like a slip (common practice,
no source)."""

OUT_OF_SIGHT_LIMIT = 0.01
"""Share of the stitchable area: with 99 % in sight the rest is smaller than a gap."""


def _inside(polygon: Polygon) -> Point:
    x, y = shapely.get_coordinates(polygon.representative_point())[0]
    return float(x), float(y)
