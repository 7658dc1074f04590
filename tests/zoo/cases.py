"""Fits by number: case n is always the same patch, anchors and settings, and can be replayed alone.

Its patch comes in turn from the sample plan, the zoo, the shared corpus, the counties and the glyphs; what
surrounds it (one to four anchors anywhere, echoes 0 to 5, hold-back 0 to 20 mm and everything else that can
be set) is drawn, and the number settles the draw. Where the shared corpus is absent the numbers stand for
other fits. ``python -m tests.zoo.cases N`` judges case N again.

Second revision: whether thin wedges are merged is drawn besides, from a generator of its own, so that the
85 % of the numbers that merge nothing stand for the same fits as in the first.
"""

from __future__ import annotations

import sys
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import shapely
from shapely import Polygon

from geometry import Patch, PatchError, Settings, fit
from tests.oracle import examine, from_fit
from tests.outside.shapes import corpus_outlines, counties, glyphs
from tests.zoo.anchors import Place, awkward_anchors
from tests.zoo.patches import ZOO

GLYPHS = 300
INCH = 25.4


class Ground(NamedTuple):
    """A patch, and the settings it comes with."""

    name: str
    patch: Patch
    settings: dict[str, Any]


class Case(NamedTuple):
    """One fit to be made."""

    name: str
    patch: Patch
    anchors: list[Place]
    settings: Settings


@cache
def _sources() -> tuple[tuple[Any, ...], ...]:
    """What can be drawn from: rings with a name, and the settings they need."""
    from app.plan.plan_file import read_plan

    plans = sorted((Path(__file__).parents[2] / "sample_shapes").glob("*.wedgeplan"))
    samples = [
        (f"sample {held.name}", (held.patch().outline, held.patch().holes), {})
        for path in plans
        for held in read_plan(path).patches
    ]
    zoo = [(f"zoo {a.name}", (a.outline, a.holes), a.settings) for a in ZOO]
    corpus = []
    for k, outline in enumerate(corpus_outlines()):
        try:
            rings = [np.array([[float(x), float(y)] for x, y in ring]) for ring in _rings_of(outline)]
            patch = Patch(rings[0], rings[1:])
        except PatchError:
            continue
        x0, y0, x1, y1 = patch.polygon.bounds
        size = max(x1 - x0, y1 - y0)
        if size < LEAST:  # no space on a quilt is so small; its units may be inches
            rings, size = [ring * INCH for ring in rings], size * INCH
        small = {"edge_margin": size / 40, "gap": size / 80} if size < 300 else {}
        corpus.append((f"corpus {k} {outline['name']}", (rings[0], rings[1:]), small))
    states = [(f"county {k}", rings, {}) for k, rings in enumerate(counties())]
    drawn = [(f"glyph {name}", rings, {}) for name, rings in glyphs(GLYPHS)]
    return tuple(tuple(source) for source in (samples, zoo, corpus, states, drawn) if source)


def _rings_of(outline: dict[str, Any]) -> list[Any]:
    return [outline["outline"], *outline["holes"]]


LEAST = 20.0
"""mm."""


@cache
def _ground(source: int, which: int) -> Ground:
    name, (outline, holes), settings = _sources()[source][which]
    return Ground(name, Patch(outline, holes), settings)


def case(number: int) -> Case:
    """The fit of that number."""
    sources = _sources()
    source = number % len(sources)
    drawn = sources[source]
    ground = _ground(source, (number // len(sources)) % len(drawn))
    chance = np.random.default_rng([number, 20260])
    settings = Settings(**_settings(chance, ground), **_merging(number))
    return Case(ground.name, ground.patch, _anchors(chance, ground.patch, settings), settings)


def plain_numbers() -> list[int]:
    """The numbers that the plain suite judges: every county, and some of everything else.

    Of most counties the one of three numbers with the fewest anchors: many fans take long.
    """
    sources = _sources()
    of_source = {"sample": 50, "zoo": 110, "corpus": 40, "county": len(counties()), "glyph": 150}
    out = []
    for k, drawn in enumerate(sources):
        kind = drawn[0][0].split()[0]
        for i in range(of_source[kind]):
            number = k + len(sources) * i
            if kind == "county" and i % 5:
                number = min((number + len(sources) * len(drawn) * j for j in range(3)), key=_fans)
            if not _sources()[k][i % len(drawn)][0].startswith("zoo fifty holes"):
                out.append(number)
    return sorted(out)


def _fans(number: int) -> int:
    """About how many fans case ``number`` has."""
    drawn = case(number)
    return len(drawn.anchors) + 3 * drawn.settings.divide


def _settings(chance: np.random.Generator, ground: Ground) -> dict[str, Any]:
    def pick(*values: Any) -> Any:
        return values[int(chance.integers(len(values)))]

    yes = {
        key: bool(chance.random() < odds)
        for key, odds in (
            ("spiral", 0.4),
            ("along_seam", 0.3),
            ("least_turning", 0.25),
            ("divide", 0.12),
        )
    }
    yes |= {key: bool(chance.random() < 0.6) for key in ("clockwise", "cloth_turned")}
    echoes = int(chance.integers(0, 6))
    out = {
        "edge_margin": pick(INCH / 4, INCH / 4, INCH / 8, 0.0, round(chance.uniform(0, 12), 2)),
        "gap": pick(INCH / 4, INCH / 4, INCH / 8, 3.0, 0.0, round(chance.uniform(0, 12), 2)),
        "visible_width": pick(INCH / 4, INCH / 8, 2.0, 0.0),
        "spans_per_side": pick(1, 2, 2, 3),
        "longest_span": pick(0.0, 0.0, 0.0, 30.0),
        "hold_back": pick(0.0, 0.0, 20.0, round(chance.uniform(0, 20), 2), round(chance.uniform(0, 20), 2)),
        "stagger": pick(0.0, 0.0, 0.0, INCH / 4, round(chance.uniform(0, 9), 2)),
        "echo_count": echoes,
        "echo_spacing": pick(INCH / 4, INCH / 8, 2.0, round(chance.uniform(1, 8), 2)),
        "anchor_disc": pick(INCH / 8, INCH / 8, 6.0, 0.0),
        "anchor_passes": pick(24, 24, 8, 16),
        "wobble": pick(INCH / 8, INCH / 16, 0.0),
        "batting_width": pick(4 * INCH, 4 * INCH, 2 * INCH, 30.0, 10 * INCH),
        "stitch_length": pick(INCH / 10, INCH / 12, INCH / 8),
        "bobbin_capacity": pick(0.0, 60_000.0),
        "first_wedge": pick(0, 0, 0, int(chance.integers(1, 12))),
    }
    out |= {key: value for key, value in ground.settings.items() if chance.random() < 0.8}
    if chance.random() < 0.15:
        x0, y0, x1, y1 = ground.patch.polygon.bounds
        out["start"] = (float(chance.uniform(x0, x1)), float(chance.uniform(y0, y1)))
    return out | yes


MERGING = 20272
"""Seed of what is merged; none of the numbers that found a fault in the first revision merges anything."""


def _merging(number: int) -> dict[str, Any]:
    chance = np.random.default_rng([number, MERGING])
    if chance.random() >= 0.15:
        return {}
    if chance.random() < 0.7:
        return {"merge_thin": True}
    corners = [one + two for one, two in pairwise("ABCDEFG")]
    halves = [pair for one, two in pairwise(corners) for pair in ((one, f"{two[0]}1"), (f"{two[0]}1", two))]
    spans = [*halves, *pairwise(corners)]
    return {"merged_spans": tuple(span for span in spans if chance.random() < 0.6)}


def _anchors(chance: np.random.Generator, patch: Patch, settings: Settings) -> list[Place]:
    """One to four: most of them one; now and then one closer than a gap to another."""
    places = awkward_anchors(patch.polygon, settings.edge_margin, int(chance.integers(1 << 30)))
    names = sorted(places)
    count = int(chance.choice([1, 2, 3, 4], p=[0.5, 0.25, 0.15, 0.1]))
    picked = [places[names[int(chance.integers(len(names)))]] for _ in range(count)]
    polygon: Polygon = patch.polygon
    x0, y0, x1, y1 = polygon.bounds
    for k in range(1, count):
        if chance.random() < 0.6:  # most of several where a quilter would put them: well inside
            for _ in range(60):
                at = (float(chance.uniform(x0, x1)), float(chance.uniform(y0, y1)))
                if polygon.contains(shapely.Point(at)):
                    picked[k] = at
                    break
    if count > 1 and chance.random() < 0.1:
        near = np.asarray(picked[0]) + chance.uniform(-0.6, 0.6, 2) * settings.gap
        at = (float(near[0]), float(near[1]))
        if polygon.contains(shapely.Point(at)):
            picked[-1] = at
    return picked


def judge_case(number: int, known: set[bytes] | None = None) -> list[str]:
    """One line for every promise that case ``number`` breaks; an error counts as one."""
    name, patch, anchors, settings = case(number)
    words = f"case {number}, {name} from {anchors}"
    try:
        answer = fit(patch, anchors if len(anchors) > 1 else anchors[0], settings)
        report = from_fit(answer, given=anchors)
    except Exception as error:
        return [f"{words}: {type(error).__name__}: {error}"]
    return [f"{words}: {violation}" for violation in examine(report, known=known)]


if __name__ == "__main__":
    for argument in sys.argv[1:]:
        print(case(int(argument)))
        print("\n".join(judge_case(int(argument))) or "no violation")
