"""The zoo: named awkward patches, mm. Every public engine function runs over all of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

Ring = list[tuple[float, float]]


@dataclass(frozen=True)
class Animal:
    """One awkward patch and the settings it is tried with."""

    name: str
    outline: Ring
    holes: list[Ring] = field(default_factory=list)
    settings: dict[str, Any] = field(default_factory=dict)
    cornered: bool = True
    """False where an edge has no corners: where its first mark lies is not said, and moves with the frame."""
    toss: tuple[str, ...] = ()
    """Names of anchors from which equals compete (two parts equally near, two equally narrow sectors):
    which one wins is a toss, and falls another way in another frame."""


def box(x0: float, y0: float, x1: float, y1: float) -> Ring:
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def circle(x: float, y: float, r: float, n: int) -> Ring:
    return [(x + r * math.cos(2 * math.pi * k / n), y + r * math.sin(2 * math.pi * k / n)) for k in range(n)]


def _star(n: int, outer: float, inner: float) -> Ring:
    out = []
    for k in range(2 * n):
        r, t = (outer, inner)[k % 2], math.pi * k / n + 0.1
        out.append((r * math.cos(t), r * math.sin(t)))
    return out


def _spiral() -> Ring:
    """A corridor 45 mm wide that turns inward."""
    outer = [(0, 0), (360, 0), (360, 360), (0, 360), (0, 90), (270, 90), (270, 270), (90, 270), (90, 180)]
    inner = [
        (180, 180),
        (180, 225),
        (225, 225),
        (225, 135),
        (45, 135),
        (45, 315),
        (315, 315),
        (315, 45),
        (0, 45),
    ]
    return [(float(x), float(y)) for x, y in outer + inner]


def _comb(teeth: int, tooth: float, length: float) -> Ring:
    out: Ring = [(0, 0), (2 * teeth * tooth - tooth, 0)]
    for k in reversed(range(teeth)):
        x = 2 * k * tooth
        out += [(x + tooth, 40 + length), (x, 40 + length)]
        if k:
            out += [(x, 40), (x - tooth, 40)]
    return out


def _blob(n: int) -> Ring:
    t = np.linspace(0, 2 * math.pi, n, endpoint=False)
    r = 150 * (1 + 0.2 * np.sin(3 * t) + 0.1 * np.sin(7 * t + 1) + 0.03 * np.sin(23 * t + 2))
    return list(zip((r * np.cos(t)).tolist(), (r * np.sin(t)).tolist(), strict=True))


def _ragged() -> Ring:
    """A square whose right side is torn: steps of 1 mm and 0.3 mm depth."""
    side = [(200.0 + (0.3 if k % 2 else 0.0), float(k)) for k in range(201)]
    return [(0.0, 0.0), *side, (0.0, 200.0)]


def _rounded(r: float, steps: int) -> Ring:
    out: Ring = []
    for k, (x, y) in enumerate([(180 - r, r), (180 - r, 160 - r), (r, 160 - r), (r, r)]):
        for i in range(steps + 1):
            t = math.pi / 2 * (k - 1 + i / steps)
            out.append((x + r * math.cos(t), y + r * math.sin(t)))
    return out


def _shift(ring: Ring, dx: float, dy: float) -> Ring:
    return [(x + dx, y + dy) for x, y in ring]


def _teardrop(x: float, y: float, r: float, begin: int) -> Ring:
    """A round edge that comes back to its only corner; ``begin`` turns its first point away from there."""
    half = np.linspace(0.6, 2 * math.pi - 0.6, 60)
    ring = [(x + 1.3 * r, y), *((x + r * math.cos(t), y + r * math.sin(t)) for t in half.tolist())]
    return ring[begin:] + ring[:begin]


def _plus() -> Ring:
    half: Ring = [(100, 0), (200, 0), (200, 100), (300, 100), (300, 200), (200, 200)]
    return half + [(300 - x, 300 - y) for x, y in half]


_ELL: Ring = [(0, 0), (300, 0), (300, 110), (110, 110), (110, 300), (0, 300)]
_KITE: Ring = [(100, 0), (200, 140), (100, 360), (0, 140)]
_HOURGLASS2: Ring = [(0, 0), (240, 0), (126, 120), (240, 240), (0, 240), (114, 120)]
_HOURGLASS3: Ring = [
    (0, 0), (130, 50), (260, 0), (390, 50), (520, 0), (520, 120), (390, 60), (260, 120), (130, 60), (0, 120),
]  # fmt: skip

ZOO = [
    Animal("square", box(0, 0, 203.2, 203.2)),
    Animal("triangle", [(0, 0), (300, 0), (0, 300)]),
    Animal("kite", _KITE),
    Animal("ell", _ELL),
    Animal("u", [(0, 0), (80, 0), (80, 220), (180, 220), (180, 0), (260, 0), (260, 300), (0, 300)]),
    Animal("spiral", _spiral()),
    Animal("comb", _comb(6, 30, 160)),
    Animal("ring", box(0, 0, 280, 280), [box(90, 90, 190, 190)]),
    Animal("round ring", circle(150, 150, 150, 90), [circle(150, 150, 60, 60)], cornered=False),
    Animal("plus", _plus()),
    Animal("star", _star(8, 180, 70)),
    Animal(
        "spiky strip",
        [(0, 0), (60, 90), (120, 0), (180, 90), (240, 0), (300, 90), (360, 0), (360, 150), (0, 150)],
    ),
    Animal("thin sliver", [(0, 0), (420, 6), (420, 26), (0, 14)]),
    Animal("long triangle", [(0, 0), (400, 0), (0, 60)]),
    Animal("needle", [(0, 0), (320, 10), (320, 40)]),
    Animal("needle, no margin", [(0, 0), (320, 10), (320, 40)], settings={"edge_margin": 0.0, "gap": 2.0}),
    Animal(
        "collinear corners",
        [
            (0, 0),
            (50, 0),
            (100, 0),
            (137.5, 0),
            (220, 0),
            (220, 90),
            (220, 91),
            (220, 180),
            (110, 180),
            (0, 180),
            (0, 60),
        ],
    ),
    Animal(
        "repeated points",
        [(0, 0), (0, 0), (210, 0), (210, 0), (210, 0), (210, 150), (0, 150), (0, 150), (0, 0)],
    ),
    Animal("spike", [(0, 0), (200, 0), (200, 90), (260, 90), (200, 90), (200, 180), (0, 180)]),
    Animal(
        "self-touching",
        [(0, 0), (150, 0), (100, 100), (200, 100), (150, 0), (300, 0), (300, 200), (0, 200)],
    ),
    Animal("many-vertex circle", circle(0, 0, 140, 720), cornered=False),
    Animal("hole touching the seam", box(0, 0, 240, 240), [[(0, 120), (80, 90), (110, 130), (70, 160)]]),
    Animal(
        "hole touching the seam, no margin",
        box(0, 0, 240, 240),
        [[(0, 120), (80, 90), (110, 130), (70, 160)]],
        {"edge_margin": 0.0},
    ),
    Animal(
        "two holes",
        box(0, 0, 320, 240),
        [box(50, 60, 110, 180), [(200, 60), (270, 120), (200, 180), (170, 120)]],
    ),
    Animal(
        "fifty holes",
        box(0, 0, 500, 260),
        [box(20 + 48 * i, 20 + 48 * j, 34 + 48 * i, 34 + 48 * j) for i in range(10) for j in range(5)],
        {"edge_margin": 3.0, "gap": 2.0},
    ),
    Animal("cut tip", [(0, 0), (260, 0), (260, 200), (138, 200), (130, 60), (122, 200), (0, 200)]),
    Animal("blunt tip", [(0, 0), (260, 0), (260, 200), (180, 200), (130, 80), (80, 200), (0, 200)]),
    Animal("hourglass in two", _HOURGLASS2, toss=("middle",)),
    Animal("hourglass in three", _HOURGLASS3),
    Animal("no room", [(0, 0), (300, 0), (300, 12), (0, 12)]),
    Animal("just room", [(0, 0), (300, 0), (300, 12.9), (0, 12.9)], toss=("inside", "middle")),
    Animal("tiny rounding", _rounded(1.0, 4)),
    Animal("tiny rounding, no margin", _rounded(1.0, 4), settings={"edge_margin": 0.0}),
    Animal("wide rounding", _rounded(40.0, 24), cornered=False),
    Animal("ragged edge", _ragged()),
    Animal("ragged edge, no margin", _ragged(), settings={"edge_margin": 0.0}),
    Animal("far away", _shift(_ELL, 1e6, -1e6)),
    Animal("teardrop", _teardrop(0, 0, 120, 0)),
    Animal("teardrop from its side", _teardrop(0, 0, 120, 23)),
    Animal("teardrop hole", box(0, 0, 300, 300), [_teardrop(140, 160, 50, 37)]),
    Animal(
        "teardrop hole, no margin", box(0, 0, 300, 300), [_teardrop(140, 160, 50, 29)], {"edge_margin": 0.0}
    ),
    Animal("blob", _blob(1200), cornered=False),
    Animal("ell, no margin", _ELL, settings={"edge_margin": 0.0}),
    Animal("ring, no margin", box(0, 0, 280, 280), [box(90, 90, 190, 190)], {"edge_margin": 0.0}),
    Animal("square, no gap", box(0, 0, 203.2, 203.2), settings={"gap": 0.0}),
    Animal("kite, wide gap", _KITE, settings={"gap": 40.0}),
    Animal("star, five spans", _star(8, 180, 70), settings={"spans_per_side": 5, "gap": 4.0}),
    Animal("ell, longest span", _ELL, settings={"longest_span": 30.0, "gap": 3.0}),
    Animal("triangle, one span", [(0, 0), (300, 0), (0, 300)], settings={"spans_per_side": 1}),
    Animal("triangle, wide margin", [(0, 0), (300, 0), (0, 300)], settings={"edge_margin": 40.0}),
    Animal("tiny square", box(0, 0, 16, 16), toss=("seam corner",)),
]
