"""Template -> PNG picture, true size by the resolution that it states."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from functools import partial
from typing import Final

from PySide6.QtCore import QBuffer, QIODevice
from PySide6.QtGui import QColor, QImage, QPainter

from app.exporting.options import DOTS_PER_INCH as DOTS_PER_INCH_RANGE
from app.exporting.options import STANDARD, TemplateOptions, check_dots_per_inch
from app.exporting.painter import Look, paint, place_labels
from app.exporting.qt import need_application
from app.exporting.side_by_side import picture_drawing, side_by_side, with_border
from app.exporting.template import ExportError, NamedFit, Progress
from app.exporting.words import short_name
from app.sketch.palette import PAPER, SYMBOL_SIZE, Role
from geometry.fit import Fit
from geometry.types import Point
from geometry.units import MM_PER_INCH, LengthStyle

DOTS_PER_INCH: Final = 300
_MOST_PASTED: Final = 3000
"""Dots along a picture that is pasted elsewhere."""
_MOST_DOTS: Final = 64_000_000
"""Of one picture: 256 MB while it is made. A larger template gets fewer dots per inch."""


_LOOK: Final = 0.03
"""s between two looks whether a picture is encoded."""


def template_png(
    fits: Sequence[NamedFit],
    options: TemplateOptions = STANDARD,
    style: LengthStyle = LengthStyle.EIGHTHS,
    progress: Progress | None = None,
    dots_per_inch: int | None = None,
) -> bytes:
    """The bytes of the picture, the patches and each one's copies side by side. ``dots_per_inch``
    None is ``DOTS_PER_INCH`` or, if that is too large, fewer. ``progress`` is called after each and while the
    picture is encoded; what it raises ends the work.

    Raises ``ExportError`` where that, or even the fewest that are of use, make it too large, and
    ``SettingsError`` for a resolution that is out of range.
    """
    fewest, _ = DOTS_PER_INCH_RANGE
    if dots_per_inch is not None:
        check_dots_per_inch(dots_per_inch)
    width, height, _ = _laid_out(fits, options)
    most = math.sqrt(_MOST_DOTS / (width * height)) * MM_PER_INCH
    asked = fewest if dots_per_inch is None else dots_per_inch
    if asked > most:
        what = f"a picture {width / 1000:.1f} m wide and {height / 1000:.1f} m high would be too large"
        do = "write .pdf or .svg, or fewer patches"
        if most >= fewest:
            what = f"at {asked} dots per inch {what}"
            do = f"choose {math.floor(most)} dots per inch or fewer, or {do}"
        raise ExportError(what, do=do)
    image = template_image(fits, options, style, progress, dots_per_inch or min(DOTS_PER_INCH, most))
    image.setText("Title", ", ".join(short_name(name) for name, _ in fits))
    image.setText("Software", "Wedgewright")
    if progress is None:
        return _encoded(image)
    count = len(_drawn(fits, options))
    return _waited_for(partial(_encoded, image), partial(progress, count, count))


def template_image(
    fits: Sequence[NamedFit],
    options: TemplateOptions = STANDARD,
    style: LengthStyle = LengthStyle.EIGHTHS,
    progress: Progress | None = None,
    dots_per_inch: float = DOTS_PER_INCH,
) -> QImage:
    """The picture itself, which states its resolution; as ``template_png``, whatever its size.

    Raises ``ExportError`` where there is no memory for it.
    """
    need_application()
    width, height, places = _laid_out(fits, options)
    # PNG holds whole dots per metre; a mm is made a thousandth of them exactly.
    dots_per_metre = int(dots_per_inch / MM_PER_INCH * 1000)
    scale = dots_per_metre / 1000
    image = QImage(math.ceil(width * scale), math.ceil(height * scale), QImage.Format.Format_RGB32)
    if image.isNull():
        raise _no_memory()
    image.fill(QColor(PAPER[Role.CLOTH]))
    image.setDotsPerMeterX(dots_per_metre)
    image.setDotsPerMeterY(dots_per_metre)
    point = scale * MM_PER_INCH / 72
    look = Look(palette=PAPER, unit=point, point=point, handle=1.5 * SYMBOL_SIZE, smooth=False)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
    try:
        for count, ((_, fit), place) in enumerate(zip(_drawn(fits, options), places, strict=True), start=1):
            drawing = picture_drawing(fit, options, style)
            labels = place_labels(drawing, scale, look, within=with_border(drawing.bounds)).labels
            paint(drawing, painter, _Placed(scale, place), look, labels=labels)
            if progress:
                progress(count, len(places))
    finally:
        painter.end()
    return image


def patch_image(name: str, fit: Fit, style: LengthStyle) -> QImage:
    """One patch as a picture to paste: at ``DOTS_PER_INCH``, or as many as give ``_MOST_PASTED`` along it."""
    left, top, right, bottom = fit.patch.polygon.bounds
    dots = _MOST_PASTED / max(right - left, bottom - top) * MM_PER_INCH
    return template_image([(name, fit)], STANDARD, style, dots_per_inch=min(DOTS_PER_INCH, dots))


def _encoded(image: QImage) -> bytes:
    """``image`` as PNG. Lets other threads run meanwhile, which is seconds for a large one."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    if not image.save(buffer, "PNG"):  # type: ignore[call-overload]  # the stub wants bytes, Qt takes str
        raise _no_memory()
    return bytes(buffer.data().data())


def _no_memory() -> ExportError:
    return ExportError("there is not enough memory for it", do="choose fewer dots per inch")


def _waited_for(work: Callable[[], bytes], alive: Callable[[], object]) -> bytes:
    """What ``work`` gives, in a thread of its own; ``alive`` is called meanwhile.

    What ``alive`` raises is raised at once. The thread then ends by itself, and what it makes is thrown away.
    """
    pool = ThreadPoolExecutor(1, "encoding a picture")
    try:
        job = pool.submit(work)
        while not wait([job], _LOOK).done:
            alive()
        return job.result()
    finally:
        pool.shutdown(wait=False)


def _drawn(fits: Sequence[NamedFit], options: TemplateOptions) -> list[NamedFit]:
    return [each for each in fits for _ in range(options.copies)]


def _laid_out(fits: Sequence[NamedFit], options: TemplateOptions) -> tuple[float, float, list[Point]]:
    """Width and height of the picture, and what is added to each one's own places; mm."""
    return side_by_side([fit.patch.polygon.bounds for _, fit in _drawn(fits, options)])


@dataclass(frozen=True, slots=True)
class _Placed:
    """The mapping of one patch into the picture."""

    scale: float
    place: Point
    """mm: what is added to the patch's own places."""

    def point_to_screen(self, point: Point) -> Point:
        return ((point[0] + self.place[0]) * self.scale, (point[1] + self.place[1]) * self.scale)
