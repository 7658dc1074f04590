"""Stencils -> DXF for a cutter: release 2000, the oldest that says its unit; true size in inches or mm."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Any, Final

import numpy as np

from app.exporting.cutter import CUT_LAYERS, Cut, CutItem, Ring, Stencils, extent, stencils
from app.exporting.options import STANDARD, TemplateOptions
from app.exporting.template import ExportError, NamedFit, Progress
from app.plan.ezdxf_library import load_ezdxf
from app.sketch.display_list import LayerName
from geometry.units import MM_PER_UNIT, LengthStyle, Unit

COLOURS: Final = {
    LayerName.SEAM: 7,
    LayerName.WEDGES: 5,
    LayerName.ECHOES: 3,
    LayerName.PATH: 6,
    LayerName.MARKS: 1,
    LayerName.ANCHOR: 1,
}
"""By index: black or white, blue, green, magenta, red; a cutter's program sorts by them."""

_UNITS: Final[dict[Unit, tuple[int, int]]] = {"in": (1, 0), "mm": (4, 1)}
"""$INSUNITS and $MEASUREMENT of each (DXF reference, Header Section: 1 inches, 4 millimeters; 0 English,
1 metric)."""


def template_dxf(
    fits: Sequence[NamedFit],
    options: TemplateOptions = STANDARD,
    style: LengthStyle = LengthStyle.EIGHTHS,
    progress: Progress | None = None,
) -> bytes:
    """The bytes of the file; several patches, and each one's copies, side by side, from (0, 0) up and right.

    In inches where ``style`` is, else in mm. ``progress`` is called after each and while they are written;
    what it raises ends the work.
    """
    drawn = stencils([fit for _, fit in fits], options, progress)
    unit: Unit = "in" if style.unit == "in" else "mm"
    alive = partial(progress, len(fits), len(fits)) if progress else None
    return _written(drawn, unit, alive)


def _written(drawn: Stencils, unit: Unit, alive: Callable[[], None] | None) -> bytes:
    try:
        ezdxf = load_ezdxf()
    except OSError as error:
        what = "there is no room for temporary files"
        raise ExportError(what, do="make room on the disk, or write .svg") from error
    code, measurement = _UNITS[unit]
    document = ezdxf.new("R2000", units=code)
    document.header["$MEASUREMENT"] = measurement
    page = _Page(1 / MM_PER_UNIT[unit], drawn.height)
    space = document.modelspace()
    names = {layer.name for each in drawn.each for layer in each.layers}
    for name in CUT_LAYERS:
        if name in names:
            document.layers.add(name.value, color=COLOURS[name])
    for each in drawn.each:
        if alive:
            alive()
        for layer in each.layers:
            for item in layer.items:
                page.add(space, item, {"layer": layer.name.value})
    low, high = extent(drawn)
    (left, top), (right, bottom) = page.points(np.array([low, high])).tolist()
    corners = (left, bottom, 0.0), (right, top, 0.0)
    document.header["$EXTMIN"], document.header["$EXTMAX"] = corners
    space.reset_extents(*corners)
    stream = _Stream(alive)
    document.write(stream)
    data: bytes = document.encode(stream.getvalue())
    return data


class _Stream(io.StringIO):
    """Calls ``alive`` again and again while it is written to."""

    def __init__(self, alive: Callable[[], None] | None) -> None:
        super().__init__(newline="")
        self._alive = alive
        self._count = 0

    def write(self, text: str) -> int:
        self._count += 1
        if self._alive and self._count % _LOOK == 0:
            self._alive()
        return super().write(text)


_LOOK: Final = 1000
"""Writes, of a few letters each."""


class _Page:
    """From mm with y down to the file's unit with y up."""

    def __init__(self, scale: float, height: float) -> None:
        self.scale = scale
        self.height = height

    def points(self, points: Any) -> Any:
        """(n, 2) mm -> (n, 2)."""
        return (points * (1, -1) + (0, self.height)) * self.scale

    def add(self, space: Any, item: CutItem, attributes: dict[str, str]) -> None:
        if isinstance(item, Ring):
            (at,) = self.points(np.array([item.at])).tolist()
            space.add_circle(at, item.radius * self.scale, dxfattribs=attributes)
        else:
            vertices = list(self._vertices(item))
            space.add_lwpolyline(vertices, format="xyb", close=item.closed, dxfattribs=attributes)

    def _vertices(self, cut: Cut) -> Iterator[tuple[float, float, float]]:
        for (x, y), bulge in zip(self.points(cut.points).tolist(), cut.bulges.tolist(), strict=True):
            yield (x, y, -bulge + 0.0)  # what turns clockwise with y down turns clockwise with y up as well
