"""Cutter files read back without the code that wrote them: mm, y down, arcs as many short chords."""

from __future__ import annotations

import cmath
import io
import math
import re
from collections import defaultdict
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np
import shapely
from svgelements import SVG, Arc, Circle, Close, Group, Line, Move
from svgelements import Path as SvgPath

from app.importing import import_file
from app.plan.plan_file import read_plan
from geometry import Fit, Patch, Settings, fit
from geometry.patch import middle_of
from tests.app.exporting.samples import large, slanted, square, troubled

FINE = 2e-4
"""mm: how far the chords that an arc is read as stray from it: each r(1 - cos(t / 2)), about rt²/8."""
SHAPES = Path(__file__).parents[3] / "sample_shapes"
HOLED = """<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="200mm" viewBox="0 0 300 200">
<path d="M20,20 A110 110 0 0 1 180,20 L180,120 A40 40 0 0 0 100,120 L60,180 Z
         M100,60 a12,12 0 1 0 24,0 a12,12 0 1 0 -24,0 Z"/></svg>"""


@dataclass
class Cuts:
    """What a file cuts."""

    lines: dict[str, list[np.ndarray]] = field(default_factory=lambda: defaultdict(list))
    """By layer: (n, 2) each, closed ones closed."""
    arcs: dict[str, list[tuple[complex, float]]] = field(default_factory=lambda: defaultdict(list))
    """By layer: centre and radius of each arc within a line."""
    straight: list[tuple[complex, complex]] = field(default_factory=list)
    """Every straight piece of all lines."""
    circles: dict[str, list[tuple[float, float, float]]] = field(default_factory=lambda: defaultdict(list))
    """By layer: x, y, radius."""
    unit: str = ""

    def moved(self, by: np.ndarray) -> Cuts:
        """The same, all places moved."""
        x, y = by.tolist()
        return Cuts(
            {layer: [line + by for line in lines] for layer, lines in self.lines.items()},
            {layer: [(at + complex(x, y), r) for at, r in arcs] for layer, arcs in self.arcs.items()},
            [(start + complex(x, y), end + complex(x, y)) for start, end in self.straight],
            {layer: [(a + x, b + y, r) for a, b, r in rings] for layer, rings in self.circles.items()},
            self.unit,
        )

    def straight_pieces(self) -> np.ndarray:
        """(n, 2, 2)."""
        return np.array([[(a.real, a.imag), (b.real, b.imag)] for a, b in self.straight])

    def shared(self) -> float:
        """mm: by how much all lines are longer than what they cover, on a grid of 0.001 mm."""
        every = shapely.linestrings(self.pieces())
        return float(shapely.length(every).sum() - shapely.unary_union(every, grid_size=1e-3).length)

    def pieces(self, *layers: str) -> np.ndarray:
        """(n, 2, 2): the short straight pieces of these layers, or of all."""
        lines = [line for name in layers or self.lines for line in self.lines.get(name, [])]
        return np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for line in lines])


def steps_of(turn: float, radius: float) -> int:
    return max(2, math.ceil(abs(turn) * math.sqrt(radius / (8 * FINE))))


def arc_points(start: complex, end: complex, bulge: float) -> tuple[list[complex], complex]:
    """Points after ``start`` up to ``end``, and the centre. By turning the half chord about the centre:
    with the angle t = 4 atan(b), centre = start + (end - start) / (1 - e^it)."""
    turn = 4 * math.atan(bulge)
    centre = start + (end - start) / (1 - cmath.exp(1j * turn))
    steps = steps_of(turn, abs(start - centre))
    return [centre + (start - centre) * cmath.exp(1j * turn * k / steps) for k in range(1, steps + 1)], centre


# --- DXF: pairs of lines, a group code and its value (DXF reference, "About the DXF Format") ---------------


def tags(data: bytes) -> list[tuple[int, str]]:
    rows = data.decode("ascii").replace("\r\n", "\n").split("\n")
    return [(int(code), value.strip()) for code, value in zip(rows[0::2], rows[1::2], strict=False)]


def header(data: bytes, name: str) -> list[float]:
    found = tags(data)
    at = found.index((9, name)) + 1
    values = []
    while found[at][0] not in (0, 9):
        values.append(float(found[at][1]))
        at += 1
    return values


def read_dxf(data: bytes) -> Cuts:
    unit = {1: "in", 4: "mm"}[int(header(data, "$INSUNITS")[0])]
    assert int(header(data, "$MEASUREMENT")[0]) == {"in": 0, "mm": 1}[unit]
    mm = {"in": 25.4, "mm": 1.0}[unit]
    cuts = Cuts(unit=unit)
    found = tags(data)
    begin = found.index((2, "ENTITIES"))
    entity: list[tuple[int, str]] = []
    for code, value in found[begin + 1 : found.index((0, "ENDSEC"), begin) + 1]:
        if code == 0:
            _take(entity, cuts, mm)
            entity = []
        entity.append((code, value))
    return cuts


def _take(entity: list[tuple[int, str]], cuts: Cuts, mm: float) -> None:
    if not entity:
        return
    kind, layer = entity[0][1], dict(entity)[8]
    if kind == "CIRCLE":
        values = dict(entity)
        x, y, radius = (float(values[code]) * mm for code in (10, 20, 40))
        cuts.circles[layer].append((x, -y, radius))
        return
    assert kind == "LWPOLYLINE"
    places: list[list[float]] = []
    for code, value in entity:
        if code == 10:
            places.append([float(value) * mm, 0.0, 0.0])
        elif code == 20:
            places[-1][1] = float(value) * mm
        elif code == 42:
            places[-1][2] = float(value)
    closed = int(dict(entity)[70]) & 1
    corners = [complex(x, y) for x, y, _ in places]
    points = [corners[0]]
    ends = corners[1:] + corners[:1] * closed
    for start, end, (_, _, bulge) in zip(corners, ends, places, strict=False):
        if bulge:
            more, centre = arc_points(start, end, bulge)
            points += more
            cuts.arcs[layer].append((centre.conjugate(), abs(start - centre)))
        else:
            points.append(end)
            cuts.straight.append((start.conjugate(), end.conjugate()))
    cuts.lines[layer].append(np.array([(point.real, -point.imag) for point in points]))


# --- SVG ---------------------------------------------------------------------------------------------------


def read_svg(text: str) -> Cuts:
    document = SVG.parse(io.StringIO(text), ppi=25.4)  # so a pixel is a mm
    cuts = Cuts(unit=text.split('width="')[1].split('"')[0][-2:])
    for group in document.select(lambda each: isinstance(each, Group)):
        layer = re.sub(r"^patch-\d+-?", "", group.id or "")
        for element in group if layer else ():
            assert element.stroke.value is not None
            assert element.fill.value is None
            if isinstance(element, Circle):
                element = Circle(element)
                element.reify()
                x, y = element.implicit_center
                cuts.circles[layer].append((x, y, element.implicit_rx))
                continue
            assert isinstance(element, SvgPath)
            points: list[complex] = []
            for segment in element:
                if isinstance(segment, Move):
                    assert not points, "one line to a path"
                if isinstance(segment, Arc):
                    centre = complex(segment.center.x, segment.center.y)
                    cuts.arcs[layer].append((centre, segment.rx))
                    steps = steps_of(segment.sweep, segment.rx)
                    points += [complex(*segment.point(k / steps)) for k in range(1, steps + 1)]
                elif isinstance(segment, Move | Line | Close):
                    point = complex(segment.end.x, segment.end.y)
                    if not points:
                        points.append(point)
                    elif abs(point - points[-1]) > 1e-9:
                        cuts.straight.append((points[-1], point))
                        points.append(point)
                else:
                    raise AssertionError(f"{segment} is neither straight nor an arc")
            cuts.lines[layer].append(np.array([(point.real, point.imag) for point in points]))
    return cuts


# --- what is to be there ------------------------------------------------------------------------------------


def lines_of(drawn: Fit, echoes: bool = True) -> dict[str, list[np.ndarray]]:
    """By layer, from the fit itself: (n, 2) each, mm."""

    def closed(ring: np.ndarray) -> np.ndarray:
        return ring if (ring[0] == ring[-1]).all() else np.concatenate([ring, ring[:1]])

    lines: dict[str, list[np.ndarray]] = defaultdict(list)
    lines["seam"] = [closed(ring) for ring in (drawn.patch.outline, *drawn.patch.holes)]
    for fan in drawn.fans:
        for wedge in fan.wedges:
            at_anchor = np.hypot(*(wedge.outline[0] - fan.anchor)) < 1e-5
            lines["wedges"].append(closed(wedge.outline) if at_anchor else wedge.outline[:-1])
            if echoes:
                lines["echoes"] += [closed(echo) for echo in wedge.echoes]
    for segment in drawn.path.segments:
        if segment.kind in ("hop", "travel") and len(segment.points) > 1:
            lines["stitch-path"].append(segment.points)
    return lines


def pieces_of(lines: dict[str, list[np.ndarray]]) -> np.ndarray:
    return np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for name in lines for line in lines[name]])


def furthest(points: np.ndarray, pieces: np.ndarray) -> float:
    """mm: how far any of the points is from the nearest piece."""
    tree = shapely.STRtree(shapely.linestrings(pieces))
    _, distance = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    return float(distance.max())


def along(pieces: np.ndarray, step: float = 5.0) -> np.ndarray:
    """Points along the pieces, their ends among them."""
    found = []
    for start, end in pieces:
        count = max(1, math.ceil(math.dist(start, end) / step))
        found.append(start + (end - start) * np.linspace(0, 1, count + 1)[:, None])
    return np.concatenate(found)


def cut_twice(pieces: np.ndarray, apart: float = 0.004) -> float:
    """mm: the longest stretch over which two pieces lie side by side no further than ``apart`` from each
    other; every pair is looked at."""
    longest = 0.0
    run = pieces[:, 1] - pieces[:, 0]
    length = np.hypot(*run.T)
    for i in range(len(pieces)):
        if length[i] == 0:
            continue
        unit = run[i] / length[i]
        off = pieces[i + 1 :] - pieces[i, 0]
        at = off @ unit
        side = off @ np.array([-unit[1], unit[0]])
        low = np.clip(at.min(axis=1), 0, length[i])
        high = np.clip(at.max(axis=1), 0, length[i])
        slope = np.divide(
            side[:, 1] - side[:, 0],
            at[:, 1] - at[:, 0],
            where=at[:, 1] != at[:, 0],
            out=np.full(len(at), 1e9),
        )
        near = np.ones(len(at), dtype=bool)
        for place in (low, high):
            near &= np.abs(side[:, 0] + slope * (place - at[:, 0])) <= apart
        longest = max(longest, float(np.where(near, high - low, 0).max(initial=0.0)))
    return longest


@cache
def curved() -> dict[str, Fit]:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "holed.svg"
        path.write_text(HOLED)
        ((_, patch),) = import_file(str(path)).patches
    bare = Settings(spans_per_side=3, edge_margin=0.0, gap=0.0)
    return {
        "curved": fit(patch, (96.0, 56.0), Settings(spans_per_side=3, echo_count=2)),
        "curved without margin": fit(patch, (96.0, 56.0), bare),
        "curved in regions": fit(patch, [(60.0, 80.0), (150.0, 60.0)], Settings(divide=True)),
    }


@cache
def shapes() -> dict[str, Fit]:
    """Every kind of fit that a file is made of."""
    made: dict[str, Fit] = {
        "square": square(),
        "without margin and gap": square(edge_margin=0, gap=0),
        "echoes held back": square(echo_count=2, hold_back=12.0, stagger=9.0),
        "troubled": troubled(),
        "large": large(),
        "slanted": slanted(),
        **curved(),
    }
    for each in read_plan(SHAPES / "lantern_pond.wedgeplan").patches:
        patch: Patch = each.patch()
        made[f"plan: {each.name}"] = fit(patch, each.anchors or middle_of(patch), each.settings)
    return made
