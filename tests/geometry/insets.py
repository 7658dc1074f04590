"""Insets of outlines a slow way of their own: by winding numbers, with nothing of the engine's."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

_HAIR = 1e-6
"""mm."""


def inset_afresh(ring: np.ndarray, distance: float) -> Polygon | None:
    """The inset of one open ring (n, 2) that begins at its apex; None where it has ended.

    The offset of every edge, joined by the mitre at a dent and by way of the corner itself elsewhere,
    goes round exactly what is left once (Chen and McMains 2005, Polygon offsetting by computing winding
    numbers).
    """
    outline = ring[:, 0] + 1j * ring[:, 1]
    outline = outline[np.abs(np.roll(outline, -1) - outline) > _HAIR]
    if len(outline) < 3:
        return None
    along = np.roll(outline, -1) - outline
    along /= np.abs(along)
    before = np.roll(along, 1)
    turn = before.conj() * along
    mitre = distance * 1j * (before + along) / np.maximum(1 + turn.real, 1e-12)
    normal = distance * 1j * along
    pieces = [
        (corner + tip,) if turned.imag < 0 else (corner + one, corner, corner + two)
        for corner, tip, turned, one, two in zip(
            outline, mitre, turn, np.roll(normal, 1), normal, strict=True
        )
    ]
    line = np.array([point for piece in pieces for point in piece])
    line = np.append(line, line[0])
    path = shapely.linestrings(np.column_stack([line.real, line.imag]))
    faces = shapely.get_parts(shapely.polygonize([shapely.node(path)]))
    inside = [complex(at.x, at.y) for at in shapely.point_on_surface(faces).tolist()]
    apex = outline[0] + mitre[0]
    left = faces[[_times_round(at, line) > 0 for at in inside]]
    for part in shapely.orient_polygons(shapely.get_parts(shapely.union_all(left))).tolist():
        points = shapely.get_coordinates(part.exterior)[:-1] @ [1, 1j]
        nearest = int(np.abs(points - apex).argmin())
        if abs(points[nearest] - apex) > _HAIR:
            continue
        away = points[[(nearest + 1) % len(points), nearest - 1]] - apex
        if (np.abs((np.array([along[0], along[-1]]).conj() * away).imag) <= _HAIR).all():
            return Polygon(part.exterior)
    return None


def _times_round(at: complex, line: np.ndarray) -> int:
    """How often the closed ``line`` (n + 1,) goes round ``at``: the angles it turns through, added up."""
    seen = line - at
    return round(float(np.angle(seen[1:] / seen[:-1]).sum()) / (2 * np.pi))
