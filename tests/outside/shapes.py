"""Shapes nobody here drew: county outlines (kept beside this file) and the glyphs of an installed font."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely import Polygon

HERE = Path(__file__).parent
CORPORA = HERE.parents[1].parent / "shared" / "corpora"

Rings = tuple[np.ndarray, tuple[np.ndarray, ...]]


@cache
def counties() -> tuple[Rings, ...]:
    """171 outlines, 150 to 600 mm wide or high (libpysal's Georgia example, BSD-3, licence beside)."""
    held = json.loads((HERE / "counties.json").read_text(encoding="utf-8"))["counties"]

    def ring(flat: list[int]) -> np.ndarray:
        return np.reshape(flat, (-1, 2)) / 100.0

    return tuple((ring(county["outline"]), tuple(map(ring, county["holes"]))) for county in held)


@cache
def _font() -> Any:
    matplotlib = pytest.importorskip("matplotlib", reason="the glyphs are in matplotlib's font file")
    tools = pytest.importorskip("fontTools.ttLib", reason="the glyphs are read with fontTools")
    path = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"
    if not path.exists():
        pytest.skip(f"{path.name} is not in this matplotlib")
    font = tools.TTFont(path)
    return font.getGlyphSet(), list(font.getGlyphOrder())


def glyphs(count: int) -> list[tuple[str, Rings]]:
    """``count`` glyphs spread over DejaVu Sans: the largest contour with its holes, 100 to 400 mm."""
    drawn, names = _font()
    out: list[tuple[str, Rings]] = []
    taken: set[str] = set()
    for k in range(count):
        at = k * len(names) // count
        for name in names[at:] + names[:at]:  # blanks and contours that cross themselves: the next one
            if name in taken:
                continue
            rings = _glyph(drawn[name], 100 + 300 * ((k * 37) % count) / count)
            if rings is not None:
                taken.add(name)
                out.append((name, rings))
                break
    return out


def _glyph(glyph: Any, size: float) -> Rings | None:
    from fontTools.pens.recordingPen import DecomposingRecordingPen

    pen = DecomposingRecordingPen(_font()[0])
    glyph.draw(pen)
    contours = [np.array(contour) for contour in _flat(pen.value) if len(contour) > 2]
    shapes = [(Polygon(contour), contour) for contour in contours]
    shapes = [(polygon, contour) for polygon, contour in shapes if polygon.area > 0]
    if not shapes:
        return None
    outer, ring = max(shapes, key=lambda shape: shape[0].area)
    if not outer.is_valid:
        return None
    inner = [(p, c) for p, c in shapes if p is not outer and p.is_valid and outer.contains(p)]
    holes = [c for p, c in inner if not any(q is not p and q.contains(p) for q, _ in inner)]
    if not Polygon(ring, holes).is_valid:
        return None
    low, high = ring.min(axis=0), ring.max(axis=0)
    scale = size / (high - low).max()

    def placed(points: np.ndarray) -> np.ndarray:
        return np.column_stack([points[:, 0] - low[0], high[1] - points[:, 1]]) * scale

    return placed(ring), tuple(placed(hole) for hole in holes)


def _flat(value: list[tuple[str, tuple[Any, ...]]]) -> list[list[tuple[float, float]]]:
    """Contours of a recorded glyph, each curve in eight steps."""
    contours: list[list[tuple[float, float]]] = []
    for verb, points in value:
        if verb == "moveTo":
            contours.append([points[0]])
        elif verb == "lineTo":
            contours[-1].append(points[0])
        elif verb == "qCurveTo":
            if points[-1] is None:  # a contour without a point on the curve
                contours.append([_half(points[-2], points[0])])
                points = (*points[:-1], contours[-1][0])
            for k, control in enumerate(points[:-1]):
                end = points[-1] if k == len(points) - 2 else _half(control, points[k + 1])
                start = contours[-1][-1]
                for t in np.arange(1, 9) / 8:
                    weights = ((1 - t) ** 2, 2 * t * (1 - t), t * t)
                    contours[-1].append(
                        tuple(
                            sum(w * p[axis] for w, p in zip(weights, (start, control, end), strict=True))
                            for axis in (0, 1)
                        )  # type: ignore[arg-type]
                    )
    return [c[:-1] if np.allclose(c[0], c[-1]) else c for c in contours]


def _half(one: tuple[float, float], two: tuple[float, float]) -> tuple[float, float]:
    return ((one[0] + two[0]) / 2, (one[1] + two[1]) / 2)


@cache
def corpus_outlines() -> tuple[dict[str, Any], ...]:
    """The outlines from JTS's tests, where the shared corpora lie beside the checkout; else none."""
    path = CORPORA / "polygons" / "outlines.json"
    return tuple(json.loads(path.read_text(encoding="utf-8"))) if path.exists() else ()
