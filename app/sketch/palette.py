"""The look: every role with its light and dark colour, line weights, dashes, hatches, text sizes.

This is the only place that holds such values; canvas, PDF, SVG and panels read them from here.
Lengths are in device units: one logical pixel on screen, one point (1/72 in) on paper.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final


class Role(StrEnum):
    """What a colour or a line stands for."""

    FRAME = "frame"
    CLOTH = "cloth"
    TEXT = "text"
    QUIET = "quiet"
    SEAM = "seam"
    MARGIN_EDGE = "margin-edge"
    STITCH = "stitch"
    ECHO = "echo"
    HOP = "hop"
    TRAVEL = "travel"
    MARK = "mark"
    ANCHOR = "anchor"
    PROBLEM = "problem"
    CAUTION = "caution"
    NOTE = "note"
    OUT_OF_SIGHT = "out-of-sight"
    FAINT = "faint"
    """What of the stitch path is not stitched yet."""
    FOCUS = "focus"


_TABLE: Final[Mapping[Role, tuple[str, str]]] = {
    # role: (light, dark)
    Role.FRAME: ("#FBFAF7", "#1D2126"),
    Role.CLOTH: ("#F3EFE6", "#272C32"),
    Role.TEXT: ("#23272C", "#ECEEF0"),
    Role.QUIET: ("#5B626B", "#A6AEB8"),
    Role.SEAM: ("#23272C", "#ECEEF0"),
    Role.MARGIN_EDGE: ("#7D766A", "#8E9299"),
    Role.STITCH: ("#0E4C66", "#8FD0E8"),
    Role.ECHO: ("#3B7C93", "#5FA3BC"),
    Role.HOP: ("#0E4C66", "#8FD0E8"),
    Role.TRAVEL: ("#0E4C66", "#8FD0E8"),
    Role.MARK: ("#23272C", "#ECEEF0"),
    Role.ANCHOR: ("#B4470A", "#FF9A5A"),
    Role.PROBLEM: ("#A61B1B", "#FF8A80"),
    Role.CAUTION: ("#80560A", "#F0C05A"),
    Role.NOTE: ("#2B5FA8", "#9CC2FF"),
    Role.OUT_OF_SIGHT: ("#867F73", "#8A9098"),
    Role.FAINT: ("#8E887D", "#70777E"),
    Role.FOCUS: ("#0B6BCB", "#6DB3FF"),
}

Palette = Mapping[Role, str]
"""A colour (``#RRGGBB``) for every role."""

LIGHT: Final[Palette] = MappingProxyType({role: pair[0] for role, pair in _TABLE.items()})
DARK: Final[Palette] = MappingProxyType({role: pair[1] for role, pair in _TABLE.items()})
PAPER: Final[Palette] = MappingProxyType({**LIGHT, Role.FRAME: "#FFFFFF", Role.CLOTH: "#FFFFFF"})
"""Light ink on white: what is printed. White only raises the contrast of the light inks."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is drawn. Device units."""

    width: float
    dashes: tuple[float, ...] = ()
    """Dash, gap, dash, gap …; empty is solid. A dash of 0 is a round dot."""


STROKES: Final[Mapping[Role, Stroke]] = MappingProxyType(
    {
        Role.SEAM: Stroke(2.25),
        Role.MARGIN_EDGE: Stroke(1.0, (4.0, 3.0)),
        Role.STITCH: Stroke(1.5),
        Role.ECHO: Stroke(0.75),
        Role.HOP: Stroke(1.5),
        Role.TRAVEL: Stroke(1.5, (0.0, 4.0)),
        Role.MARK: Stroke(1.0),
        Role.ANCHOR: Stroke(2.0),
        Role.PROBLEM: Stroke(1.25),
        Role.CAUTION: Stroke(1.25),
        Role.NOTE: Stroke(1.25),
        Role.OUT_OF_SIGHT: Stroke(1.0),
        Role.FAINT: Stroke(0.5),
        Role.FOCUS: Stroke(2.5),
        Role.QUIET: Stroke(0.75),
        Role.TEXT: Stroke(0.75),
    }
)
"""Every role that can be a line. No two of seam, margin edge, stitch, echo and travel share weight and
dashes, so that they are told apart without colour."""


class Hatch(StrEnum):
    """How an area is filled."""

    FILL = "fill"
    """Plain colour."""
    STIPPLE = "stipple"
    """Sparse dots."""
    ONE_WAY = "one-way"
    """Parallel slanting lines."""
    CROSS = "cross"
    """Slanting lines both ways."""


HATCH_SPACING: Final = 8.0
"""Device units from one hatch line, or stipple dot, to the next, across."""
HATCH_WIDTH: Final = 0.75
"""Device units."""
DOT_WIDTH: Final = 1.5
"""Device units: diameter of a stipple dot."""


class TextSize(StrEnum):
    """The base size and the two beside it."""

    SMALL = "small"
    BASE = "base"
    LARGE = "large"


TEXT_POINTS: Final[Mapping[TextSize, float]] = MappingProxyType(
    {TextSize.SMALL: 10.0, TextSize.BASE: 12.0, TextSize.LARGE: 16.0}
)
"""Points. Base is read at arm's length; nothing is printed below ``LEAST_POINTS``."""
LEAST_POINTS: Final = 9.0

SYMBOL_SIZE: Final = 10.0
"""Device units: width of a triangle, and of the anchor's ring; a dot and a mark are half of it."""
HANDLE_SIZE: Final = 24.0
"""Device units: the anchor's handle on screen, a target for the hand."""


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two ``#RRGGBB`` colours, 1 to 21 (WCAG 2.2, relative luminance)."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    def linear(channel: int) -> float:
        share = channel / 255
        return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4

    red, green, blue = (linear(int(colour[at : at + 2], 16)) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
