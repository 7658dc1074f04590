"""Small SVG drawings for tests, and what is read from them."""

from __future__ import annotations

from pathlib import Path

import shapely

from app.importing import Imported, import_file
from geometry import Patch

MM = 'xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200"'
"""Attributes of a page on which one user unit is 1 mm."""


def drawing(body: str, page: str = MM) -> str:
    return f"<svg {page}>{body}</svg>"


def load(folder: Path, content: str | bytes, unit: str | None = None) -> Imported:
    path = folder / "a drawing.svg"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return import_file(path, unit)


def patches(folder: Path, body: str, page: str = MM) -> dict[str, Patch]:
    """The patches of a drawing by name."""
    return dict(load(folder, drawing(body, page)).patches)


def bounds(patch: Patch) -> list[float]:
    """x0, y0, x1, y1, to 1e-9 mm."""
    return [round(value, 9) + 0.0 for value in patch.polygon.bounds]


def union(imported: Imported) -> shapely.Geometry:
    return shapely.union_all([patch.polygon for _, patch in imported.patches])
