"""Template -> PNG picture, true size by the resolution that it states."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QBuffer, QIODevice
from PySide6.QtGui import QColor, QImage, QPainter

from app.exporting.options import STANDARD, TemplateOptions
from app.exporting.painter import Look, paint, place_labels
from app.exporting.qt import need_application
from app.exporting.side_by_side import picture_drawing, side_by_side, with_border
from app.exporting.template import ExportError, NamedFit, Progress
from app.exporting.words import short_name
from app.sketch.palette import PAPER, SYMBOL_SIZE, Role
from geometry.types import Point
from geometry.units import MM_PER_INCH, LengthStyle

DOTS_PER_INCH: Final = 300
_FEWEST_DOTS: Final = 72
"""Dots per inch below which a picture is of no use as a template."""
_MOST_DOTS: Final = 64_000_000
"""Of one picture: 256 MB while it is made. A larger template gets fewer dots per inch."""


def template_png(
    fits: Sequence[NamedFit],
    options: TemplateOptions = STANDARD,
    style: LengthStyle = LengthStyle.EIGHTHS,
    progress: Progress | None = None,
) -> bytes:
    """The bytes of the picture, the patches and each one's copies side by side, at ``DOTS_PER_INCH`` or, if
    too large, fewer. ``progress`` is called after each; what it raises ends the work.

    Raises ``ExportError`` where even ``_FEWEST_DOTS`` make it too large.
    """
    need_application()
    drawn = [each for each in fits for _ in range(options.copies)]
    width, height, places = side_by_side([fit.patch.polygon.bounds for _, fit in drawn])
    # PNG holds whole dots per metre; a mm is made a thousandth of them exactly.
    dots_per_metre = int(min(DOTS_PER_INCH / MM_PER_INCH, math.sqrt(_MOST_DOTS / (width * height))) * 1000)
    if dots_per_metre < _FEWEST_DOTS / MM_PER_INCH * 1000:
        what = f"a picture {width / 1000:.1f} m wide and {height / 1000:.1f} m high would be too large"
        raise ExportError(what, where="PNG", do="write .pdf or .svg, or fewer patches")
    scale = dots_per_metre / 1000
    image = QImage(math.ceil(width * scale), math.ceil(height * scale), QImage.Format.Format_RGB32)
    image.fill(QColor(PAPER[Role.CLOTH]))
    image.setDotsPerMeterX(dots_per_metre)
    image.setDotsPerMeterY(dots_per_metre)
    image.setText("Title", ", ".join(short_name(name) for name, _ in fits))
    image.setText("Software", "Wedgewright")
    point = scale * MM_PER_INCH / 72
    look = Look(palette=PAPER, unit=point, point=point, handle=1.5 * SYMBOL_SIZE, smooth=False)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
    try:
        for count, ((_, fit), place) in enumerate(zip(drawn, places, strict=True), start=1):
            drawing = picture_drawing(fit, options, style)
            labels = place_labels(drawing, scale, look, within=with_border(drawing.bounds)).labels
            paint(drawing, painter, _Placed(scale, place), look, labels=labels)
            if progress:
                progress(count, len(drawn))
    finally:
        painter.end()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "PNG")  # type: ignore[call-overload]  # the stub wants bytes, Qt takes str
    return bytes(buffer.data().data())


@dataclass(frozen=True, slots=True)
class _Placed:
    """The mapping of one patch into the picture."""

    scale: float
    place: Point
    """mm: what is added to the patch's own places."""

    def point_to_screen(self, point: Point) -> Point:
        return ((point[0] + self.place[0]) * self.scale, (point[1] + self.place[1]) * self.scale)
