"""Where anchors are awkward: worked out for any polygon from its seam and its mitred erosion."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely
from shapely import Point, Polygon

from tests.oracle import erode

Place = tuple[float, float]


def awkward_anchors(patch: Polygon, margin: float, seed: int = 0) -> dict[str, Place]:
    """Named anchors in, on and beside the seam and the edge of the stitchable area of ``patch``."""
    chance = np.random.default_rng(seed)
    out: dict[str, Place] = {}

    def put(name: str, at: np.ndarray | Place) -> None:
        place = (float(at[0]), float(at[1]))
        if patch.distance(Point(place)) <= 1e-9:
            out[name] = place

    put("inside", shapely.get_coordinates(patch.representative_point())[0])
    if patch.contains(patch.centroid):
        put("middle", shapely.get_coordinates(patch.centroid)[0])
    x0, y0, x1, y1 = patch.bounds
    for _ in range(200):
        at = (chance.uniform(x0, x1), chance.uniform(y0, y1))
        if patch.contains(Point(at)):
            put("anywhere", at)
            break
    _around(put, "seam", patch, chance, inward=True)
    parts = erode(patch, margin)
    if parts and margin:
        _around(put, "edge", parts[0], chance, inward=False)
        for ring in (patch.exterior, *patch.interiors[:1]):
            _in_margin(put, ring, margin, chance, "margin" if ring is patch.exterior else "hole margin")
    return out


def _turns(ring: np.ndarray) -> np.ndarray:
    edge = np.roll(ring, -1, axis=0) - ring
    back = np.roll(edge, 1, axis=0)
    return np.asarray(np.arctan2(back[:, 0] * edge[:, 1] - back[:, 1] * edge[:, 0], (back * edge).sum(1)))


def _oriented(ring: shapely.LinearRing, is_hole: bool) -> np.ndarray:
    """Open, so that the area lies on the left of every edge (in x right, y up)."""
    at = np.asarray(ring.coords)[:-1, :2]
    return at[::-1] if ring.is_ccw == is_hole else at


def _around(put: object, name: str, polygon: Polygon, chance: np.random.Generator, *, inward: bool) -> None:
    assert callable(put)
    for is_hole, ring in [(False, polygon.exterior)] + [(True, hole) for hole in polygon.interiors[:1]]:
        word = f"hole {name}" if is_hole else name
        at = _oriented(ring, is_hole)
        edge = np.roll(at, -1, axis=0) - at
        length = np.hypot(*edge.T)
        long = int(np.argmax(length))
        put(f"{word} middle", at[long] + edge[long] / 2)
        k = int(chance.choice(len(at), p=length / length.sum()))
        on = at[k] + edge[k] * chance.uniform(0.1, 0.9)
        put(f"{word} somewhere", on)
        normal = np.array([-edge[k, 1], edge[k, 0]]) / length[k]
        for step in (1e-9, 1e-6, 1e-3):
            put(f"{word} {step:g} inside", on + step * normal)
            if not inward:
                put(f"{word} {step:g} outside", on - step * normal)
        turn = _turns(at)
        for kind, which in (("corner", int(np.argmax(turn))), ("reflex corner", int(np.argmin(turn)))):
            if abs(turn[which]) < math.radians(10) or (kind == "reflex corner" and turn[which] > 0):
                continue
            put(f"{word} {kind}", at[which])
            bisector = _bisector(at, which)
            for step in (1e-6, 1e-3):
                put(f"{word} {kind} {step:g} inside", at[which] + step * bisector)


def _bisector(at: np.ndarray, k: int) -> np.ndarray:
    """Unit vector into the area at corner k."""
    one, two = at[k] - at[k - 1], at[(k + 1) % len(at)] - at[k]
    normal = sum(np.array([-e[1], e[0]]) / np.hypot(*e) for e in (one, two))
    return np.asarray(normal / max(np.hypot(*normal), 1e-12))


def _in_margin(
    put: object, ring: shapely.LinearRing, margin: float, chance: np.random.Generator, name: str
) -> None:
    assert callable(put)
    at = _oriented(ring, name.startswith("hole"))
    edge = np.roll(at, -1, axis=0) - at
    length = np.hypot(*edge.T)
    k = int(chance.choice(len(at), p=length / length.sum()))
    normal = np.array([-edge[k, 1], edge[k, 0]]) / length[k]
    put(f"{name} half way", at[k] + 0.41 * edge[k] + 0.5 * margin * normal)
    put(f"{name} deep", at[k] + 0.77 * edge[k] + 0.93 * margin * normal)
    turn = _turns(at)
    for word, which in (("corner", int(np.argmax(turn))), ("reflex corner", int(np.argmin(turn)))):
        if abs(turn[which]) > math.radians(10) and (word == "corner" or turn[which] < 0):
            put(f"{name} by {word}", at[which] + 0.3 * margin * _bisector(at, which))
            put(f"{name} off {word}", at[which] + 0.2 * margin * _bisector(at, which) + 0.1 * margin * normal)


def spread(places: dict[str, Place], count: int, offset: int) -> list[tuple[str, Place]]:
    """``count`` of the anchors, other ones for another ``offset``; the same for the same call."""
    names = sorted(places)
    if not names:
        return []
    step = max(1, len(names) // count)
    picked = [names[(offset * 7 + i * step) % len(names)] for i in range(min(count, len(names)))]
    assert all(one != two for one, two in pairwise(sorted(picked)))
    return [(name, places[name]) for name in picked]
