"""The engine's budgets: sight, anchor map, whole fits, large outlines."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import shapely

from geometry import Patch, Settings, fit
from geometry.anchors import anchor_map
from geometry.ground import forget
from geometry.stitchable import MITRE_LIMIT
from geometry.triangulation import see_from_all, seen_areas, triangulate
from geometry.types import Point
from geometry.visibility import edges_of, see
from tests.benchmarks.shapes import LARGE, Rings, star, two_holes
from tests.benchmarks.table import Row, by_turns

_ROUND = Settings(echo_count=3)


class Exact:
    """The exact reference: CGAL's triangular expansion, by way of pyvispoly. It prepares once, unmeasured."""

    def __init__(self, rings: Rings) -> None:
        import pyvispoly

        def ring(points: np.ndarray) -> Any:
            return [pyvispoly.Point(x, y) for x, y in points.tolist()]

        outline, holes = rings
        # All of these must be kept alive: the calculator only points at them.
        self._outline = pyvispoly.Polygon(ring(outline))
        self._holes = [pyvispoly.Polygon(ring(hole)) for hole in holes]
        self._area = pyvispoly.PolygonWithHoles(self._outline, self._holes)
        self._calculator = pyvispoly.VisibilityPolygonCalculator(self._area)
        self._point = pyvispoly.Point

    def query(self, at: Point) -> Any:
        """What one anchor sees."""
        return self._calculator.compute_visibility_polygon(self._point(*at))


def places(count: int, reach: float, seed: int = 0) -> list[Point]:
    """Anchors about the origin, always the same."""
    at = np.random.default_rng(seed).uniform(-reach, reach, (count, 2))
    return [(x, y) for x, y in at.tolist()]


def _each(call: Callable[[Point], Any], anchors: list[Point]) -> Callable[[], Any]:
    """``call`` with the next of ``anchors`` each time."""
    turn = itertools.cycle(anchors)
    return lambda: call(next(turn))


def sight(short: bool) -> Iterator[Row]:
    """What one anchor sees, at 120, 1,200 and 12,000 vertices."""
    for count, budget in ((120, 1.0), (1_200, 1 / 4), (12_000, 1 / 15)):
        rings = two_holes(count)
        exact, anchors = Exact(rings), places(50, 12.0)
        edges = edges_of(shapely.orient_polygons(shapely.Polygon(*rings)))
        rounds = min(400, 4_000_000 // count // 10) // (20 if short else 1)
        ours = _each(lambda at, edges=edges: see(at, edges), anchors)  # type: ignore[misc]
        yield Row(
            f"sight of one anchor, {count:,} vertices",
            *by_turns(ours, _each(exact.query, anchors), rounds),
            budget,
        )


def many_anchors(short: bool) -> Iterator[Row]:
    """1,000 anchors (in short 100) of 120 vertices with two holes: in sight alone, and all the map judges."""
    count = 100 if short else 1_000
    rings = two_holes(120)
    exact, settings = Exact(rings), Settings(edge_margin=0.0)
    patch = Patch(*rings)
    inside = [at for at in places(4_000, 120.0) if shapely.contains_xy(patch.polygon, *at)][:count]
    anchors = np.array(inside)

    def in_sight() -> Any:
        return seen_areas(see_from_all(triangulate(patch.polygon), anchors), len(anchors))

    def loop() -> None:
        for at in inside:
            exact.query(at)

    rounds = 2 if short else 15
    yield Row(f"{count:,} anchors, 120 vertices: in sight", *by_turns(in_sight, loop, rounds), 1 / 15)
    whole = by_turns(lambda: anchor_map(patch, settings, anchors), loop, rounds)
    yield Row(f"{count:,} anchors, 120 vertices: the whole map", *whole, 1 / 15)


def whole(patch: Patch, at: Point, settings: Settings) -> None:
    """A fit with everything that it works out only when asked."""
    made = fit(patch, at, settings)
    _ = made.findings, made.path.line, made.totals


def whole_fits(short: bool) -> Iterator[Row]:
    """A fit with three echoes, path, findings and estimate, beside one query of the reference.

    As while the anchor is dragged: the patch is known, each anchor is new.
    """
    exact = Exact(two_holes(120))
    cases = (
        ("12 corners", star(12), _ROUND, 24, 10.0, 15.0),
        ("120 vertices, 2 holes", two_holes(120, 200.0), _HOLES, 64, 30.0, 12.0),
    )
    for name, rings, settings, wedges, budget, reach in cases:
        patch, anchors = Patch(*rings), places(10 if short else 50, reach)
        anchors = [at for at in anchors if len(fit(patch, at, settings).fans[0].wedges) == wedges]
        rounds = 20 if short else 300
        query = _each(exact.query, places(50, 12.0))
        ours = _each(lambda at, p=patch, s=settings: whole(p, at, s), anchors)  # type: ignore[misc]
        yield Row(f"fit, {name}, {wedges} wedges", *by_turns(ours, query, rounds), budget)

        def first(patch: Patch = patch, at: Point = anchors[0], settings: Settings = settings) -> None:
            forget(patch)
            whole(patch, at, settings)

        yield Row("   the first fit of that patch", *by_turns(first, query, rounds // 3), None)


_HOLES = Settings(echo_count=3, edge_margin=3.0, gap=2.0, longest_span=60.0)


def large_outlines(short: bool) -> Iterator[Row]:
    """A first fit beside the mitred buffer of the same outline."""
    rounds = 1 if short else 15
    for name, (kind, anchor) in LARGE.items():
        smooth = name == "smooth curve"
        if short and not smooth:
            continue
        before = 0.0
        for count in (3_000, 6_000, 12_000):
            patch = Patch(*kind(count))

            def first(patch: Patch = patch, at: Point = anchor) -> None:
                forget(patch)
                whole(patch, at, _ROUND)

            def buffer(patch: Patch = patch) -> None:
                patch.polygon.buffer(-_ROUND.edge_margin, join_style="mitre", mitre_limit=MITRE_LIMIT)

            budget = 3.0 if count == 12_000 else None
            row = Row(
                f"first fit, {name}, {count:,} vertices",
                *by_turns(first, buffer, rounds if smooth else 2),
                budget,
            )
            yield row
            if before:
                least = min(row.ours)
                grown = least / before / (2 * math.log(count) / math.log(count / 2))
                yield Row(f"   growth since {count // 2:,}, over n log n", (grown,), (), 1.25, "x")
            before = min(row.ours)
            if smooth:
                yield Row(
                    "   as the anchor moves on",
                    *by_turns(lambda p=patch, at=anchor: whole(p, at, _ROUND), buffer, rounds),
                    None,
                )  # type: ignore[misc]


def rows(short: bool) -> Iterator[Row]:
    """All of them; ``short`` for a look only."""
    yield from sight(short)
    yield from many_anchors(short)
    yield from whole_fits(short)
    yield from large_outlines(short)
