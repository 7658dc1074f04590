"""How a patch will look on the quilt: cloth, thread, and whether one shows on the other. No Qt.

Nothing here depends on light or dark: cloth is cloth, whatever the window around it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from app.plan.model import THREAD_WIDTH, PlanPatch
from app.sketch.palette import contrast
from app.sketch.translate import tr

CLOTH: Final = "#F3EFE6"
"""Where no cloth was chosen: unbleached cotton."""
THREAD: Final = "#0E4C66"
"""Where no thread was chosen: the ink that stitches are drawn in."""

COLOURS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "#FFFFFF": "white",
        "#F3EFE6": "natural",
        "#D8C3A0": "sand",
        "#6B4A33": "brown",
        "#E3B23C": "yellow",
        "#D9722B": "orange",
        "#B3262E": "red",
        "#D98CA0": "pink",
        "#6B3F7A": "purple",
        "#2B5FA8": "blue",
        "#0E4C66": "deep blue",
        "#1F7A78": "teal",
        "#2F6B46": "green",
        "#9BA7A0": "grey",
        "#4A4F55": "dark grey",
        "#1A1A1A": "black",
    }
)
"""Some to begin with, by plain names; any other colour can be had too."""


class Shows(StrEnum):
    """How a thread stands out from its cloth."""

    CLEARLY = "shows clearly"
    SHOWS = "shows"
    BLENDS = "blends in"


CLEAR_CONTRAST: Final = 3.0
"""What a line needs to be seen by most people (WCAG 2.2, 1.4.11, for what a picture is made of)."""
SEEN_CONTRAST: Final = 1.4
"""Below it a line no wider than a thread melts into its ground; found by trial."""


@dataclass(frozen=True, slots=True)
class QuiltedLook:
    """What cloth and thread of one patch look like."""

    cloth: str = CLOTH
    thread: str = THREAD
    width: float = THREAD_WIDTH
    """mm."""

    @staticmethod
    def of(piece: PlanPatch) -> QuiltedLook:
        """As it was chosen for ``piece``, and where nothing was, as is usual."""
        return QuiltedLook(piece.cloth or CLOTH, piece.thread or THREAD, piece.thread_width)

    @property
    def contrast(self) -> float:
        """1 to 21 (WCAG 2.2)."""
        return contrast(self.thread, self.cloth)

    @property
    def shows(self) -> Shows:
        """In one of three words what the contrast means."""
        if self.contrast >= CLEAR_CONTRAST:
            return Shows.CLEARLY
        return Shows.SHOWS if self.contrast >= SEEN_CONTRAST else Shows.BLENDS


def colour_words(colour: str) -> str:
    """The name of ``colour``, or how it is written where it has none."""
    return tr(COLOURS[colour]) if colour in COLOURS else colour


def shows_words(look: QuiltedLook) -> str:
    """One sentence: whether thread shows on cloth, with the figure."""
    said = {
        Shows.CLEARLY: tr("The thread shows clearly on this cloth"),
        Shows.SHOWS: tr("The thread shows on this cloth"),
        Shows.BLENDS: tr("The thread blends in with this cloth"),
    }[look.shows]
    return tr("{said}: contrast {ratio} to 1", said=said, ratio=f"{_down(look.contrast):g}")


def _down(ratio: float) -> float:
    """To a tenth below, so that no figure claims more than there is."""
    return int(ratio * 10) / 10


@dataclass(frozen=True, slots=True)
class Dashes:
    """A stitched line seen from near: thread on top, and where it goes through the cloth none. mm."""

    stitch: float
    gap: float


LEAST_GAP: Final = 1.0
"""px: a gap that is smaller cannot be seen, and the line is drawn whole."""


def dashes(stitch_length: float, width: float, scale: float) -> Dashes | None:
    """How stitches of ``stitch_length`` (mm) with a thread of ``width`` (mm) are told apart at ``scale``
    px per mm; None where they cannot be.

    Between two stitches the thread goes down for about its own width (common practice, no source), half of
    the stitch at most.
    """
    gap = min(width, stitch_length / 2)
    return Dashes(stitch_length - gap, gap) if gap * scale >= LEAST_GAP else None
