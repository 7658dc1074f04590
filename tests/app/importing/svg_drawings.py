"""Small SVG drawings for tests, and what is read from them."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import shapely

from app.importing import Imported, import_file
from geometry import Patch, WedgewrightError

MM = 'xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200"'
"""Attributes of a page on which one user unit is 1 mm."""
SVG = 'xmlns="http://www.w3.org/2000/svg"'
RECT = '<rect id="a" x="10" y="20" width="30" height="40"/>'


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


def damaged(source: bytes, rng: random.Random) -> bytes:
    """``source`` damaged in one to six places."""
    data = bytearray(source)
    for _ in range(rng.randint(1, 6)):
        at = rng.randrange(len(data) + 1)
        # mostly numbers, since what is no XML any more tests the XML reader only
        (kind,) = rng.choices(range(6), weights=[2, 1, 1, 1, 6, 0.2])
        if kind == 0 and data:
            data[min(at, len(data) - 1)] ^= 1 << rng.randrange(8)
        elif kind == 1:
            del data[at : at + rng.choice([1, 3, 20, 200])]
        elif kind == 2:
            data[at:at] = rng.randbytes(rng.randint(1, 4))
        elif kind == 3:
            begin = rng.randrange(len(source))
            data[at:at] = source[begin : begin + rng.randint(1, 40)]
        elif kind == 4:
            digits = [place for place, byte in enumerate(data) if byte in b"0123456789."]
            if digits:
                place = rng.choice(digits)
                data[place : place + 1] = rng.choice(
                    [b"1e308", b"-1e400", b"1e-320", b"0", b"-", b"NaN", b"9" * 30]
                )
        else:
            data = data[:at]
    return bytes(data)


def survives(folder: Path, content: bytes) -> None:
    """Read into sound patches, or refused with our own error."""
    try:
        found = load(folder, content)
    except WedgewrightError:
        return
    for _, patch in found.patches:
        assert patch.polygon.is_valid
        assert np.isfinite(patch.outline).all()
