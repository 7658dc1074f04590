"""What a template shows and how it lies on paper. No Qt."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from app.exporting.sheets import MARGIN, Paper
from geometry.errors import SettingsError
from geometry.units import MM_PER_INCH


class TemplateKind(StrEnum):
    """What is printed beside seam, edge of the stitchable area, anchor and findings.

    Marks alone are solid dots to prick through, and nothing is hatched beside them.
    """

    LINES = "lines"
    MARKS = "marks"
    BOTH = "both"


class MarkShape(StrEnum):
    """How a stencil cutter cuts a mark."""

    CIRCLE = "circle"
    CROSS = "cross"


MARK_SIZE: Final = MM_PER_INCH / 8
"""mm: a hole that takes the point of a pencil (common practice, no source)."""
MARK_SIZES: Final = (0.5, 25.0)
"""mm: least and most."""


def check_mark_size(size: float) -> None:
    """Raises ``SettingsError`` where no mark can be cut so wide (mm)."""
    least, most = MARK_SIZES
    if not least <= size <= most:
        what = f"{size:g} mm is too {'large' if size > most else 'small'}"
        raise SettingsError(what, do=f"give {least:g} mm to {most:g} mm")


DOTS_PER_INCH: Final = (72, 1200)
"""Of a picture: fewer are of no use as a template, and more no printer shows (common practice, no source)."""


def check_dots_per_inch(dots: int) -> None:
    """Raises ``SettingsError`` where no picture is made so."""
    least, most = DOTS_PER_INCH
    if not least <= dots <= most:
        what = f"{dots} dots per inch are too {'many' if dots > most else 'few'}"
        raise SettingsError(what, do=f"give {least} to {most}")


@dataclass(frozen=True, slots=True)
class TemplateOptions:
    """The choices of one print; each default is what most prints want."""

    kind: TemplateKind = TemplateKind.BOTH
    mirrored: bool = False
    """For marking from the back: left and right change places, words and letters stay readable."""
    echoes: bool = True
    numbers: bool = True
    arrows: bool = False
    """Arrows along the stitch path."""
    copies: int = 1
    """Of each patch; 1 or more."""
    together: bool = True
    """Several patches on one sheet where they fit."""
    paper: Paper | None = None
    """None: what the user's country prints on."""
    margin: float = MARGIN
    """mm: kept clear on all four sides, at least what the printer leaves unprinted."""
    cutter: bool = False
    """SVG: only what a stencil cutter cuts, not the picture of it. DXF is always so."""
    mark_shape: MarkShape = MarkShape.CIRCLE
    mark_size: float = MARK_SIZE
    """mm, within ``MARK_SIZES``: how wide a stencil cutter cuts a mark."""


STANDARD: Final = TemplateOptions()
"""What is printed where nothing is chosen."""
