"""What a quilter can set for one patch. Millimetres and degrees; the defaults are the trade's."""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass, fields

from geometry.errors import SettingsError
from geometry.tolerances import MAX_SIZE

_INCH = 25.4  # mm, exactly
_LARGEST = sys.float_info.max


@dataclass(frozen=True, kw_only=True, slots=True)
class Settings:
    """Settings of one patch; immutable, hashable. All lengths in mm.

    Defaults are common practice (no source), as the table in the design page has them.
    Raises ``SettingsError`` naming the setting when a value is not finite or out of its range.
    """

    edge_margin: float = _INCH / 4
    """mm, 0 or more. Distance kept from the seam."""
    gap: float = _INCH / 4
    """mm, 0 or more. Clear strip between neighbouring wedges at their outer ends."""
    visible_width: float = _INCH / 4
    """mm, 0 or more. Least side length and least across at which a wedge is seen as a wedge."""
    spans_per_side: int = 2
    """1 or more. Equal spans on each side."""
    longest_span: float = 0.0
    """mm; 0 is no limit. A side gets more spans when its spans would be longer than this."""
    side_spans: tuple[tuple[str, int], ...] = ()
    """(side letter, spans) for sides whose count the user set; it then holds alone."""
    own_marks: tuple[tuple[float, float], ...] = ()
    """mm. Points near the edge of the stitchable area where the user put a mark of their own."""
    removed_marks: tuple[tuple[float, float], ...] = ()
    """mm. Places of marks that the user took away; a mark within ``SAME_PLACE`` of one is left out."""
    merge_thin: bool = False
    """Wedges that are too thin or too short to be seen, and spans that have no room for one, are merged with
    a neighbour at the same mark, as long as there is one."""
    merged_spans: tuple[tuple[str, str], ...] = ()
    """(first mark, last mark) of the spans whose wedges alone are merged where they are too thin."""
    hold_back: float = 0.0
    """mm, 0 or more. Radius around the anchor at which legs stop."""
    stagger: float = 0.0
    """mm, 0 or more. Added to the hold-back of every other wedge."""
    echo_count: int = 0
    """0 or more. Echoes asked for inside each wedge."""
    echo_spacing: float = _INCH / 4
    """mm, more than 0. Distance from one echo to the next."""
    anchor_disc: float = _INCH / 8
    """mm, 0 or more. Radius around the anchor within which passes of thread are counted."""
    anchor_passes: int = 24
    """0 or more. Lines that may come nearer to the anchor than that before it is crowded."""
    wobble: float = _INCH / 8
    """mm, 0 or more. How far a hand-guided line wanders."""
    stitch_length: float = _INCH / 10
    """mm, more than 0."""
    quilt_thickness: float = 2.5
    """mm, 0 or more. Top, batting and backing together, as the stitch compresses them."""
    thread_tail: float = 4 * _INCH
    """mm, 0 or more. Thread left at either end of the stitch path."""
    stitches_per_minute: float = 600.0
    """more than 0. A steady pace of hand-guided stitching."""
    seconds_per_turn: float = 1.0
    """s, 0 or more. Handling at every change of direction."""
    batting_width: float = 4 * _INCH
    """mm, more than 0. The widest distance the batting may stay unquilted."""
    corner_angle: float = 25.0
    """degrees, more than 0. An edge that turns by more within ``corner_run`` has a corner there."""
    corner_run: float = _INCH / 8
    """mm, more than 0."""
    divide: bool = False
    """Add anchors until 99 % of the stitchable area, and some of each of its parts, is in sight."""
    clockwise: bool = True
    """Wedges are stitched clockwise round the anchor, as seen on screen; else the other way."""
    first_wedge: int = 0
    """Number of the wedge that is stitched first in its fan; 0 leaves it to the stitch path."""
    start: tuple[float, float] | None = None
    """mm. Where the stitch path begins, and travels to the first wedge; None begins at that wedge."""
    spiral: bool = False
    """Echoes are stitched in a stepped spiral, where that gives up no more than a third of a leg; else in
    closed loops."""
    cloth_turned: bool = True
    """The cloth is turned under the needle (sit-down machine); else the head moves (frame machine)."""
    least_turning: bool = False
    """Take the wedges in the order that turns the cloth least. Without effect where the head moves, and
    with a hold-back."""
    along_seam: bool = False
    """Travel from anchor to anchor along the seam; else the shortest way inside."""
    bobbin_capacity: float = 0.0
    """mm of thread on a bobbin; 0 is not known."""

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name in _YES_OR_NO:
                if not isinstance(value, bool):
                    raise SettingsError(
                        f"{value} is neither yes nor no", where=_words(field.name), do="give yes or no"
                    )
                continue
            if isinstance(value, bool):
                raise SettingsError(
                    "is yes or no, not a number", where=_words(field.name), do="give a number"
                )
            if isinstance(value, (int, float)):
                if not -_LARGEST <= value <= _LARGEST:  # NaN too, and whole numbers without end
                    raise SettingsError(
                        f"{str(value)[:20]} is no number", where=_words(field.name), do="give a finite number"
                    )
                most = _MOST.get(field.name, MAX_SIZE)
                if value > most:
                    raise SettingsError(
                        f"{value:g} is too large", where=_words(field.name), do=f"give at most {most:g}"
                    )
                least = _LEAST.get(field.name, 0)
                if value < least or (field.name in _MORE_THAN and value <= least):
                    kind = "more than" if field.name in _MORE_THAN else "at least"
                    raise SettingsError(
                        f"{value:g} is too small", where=_words(field.name), do=f"give {kind} {least:g}"
                    )
        if self.start is not None and not all(math.isfinite(value) for value in self.start):
            raise SettingsError(
                f"{self.start} is no place", where="start", do="give two finite numbers in mm"
            )
        for letter, count in self.side_spans:
            if count < 1:
                raise SettingsError(
                    f"{count} spans on side {letter}", where="side spans", do="give at least 1"
                )


def _words(name: str) -> str:
    return name.replace("_", " ")


_YES_OR_NO = {"merge_thin", "divide", "clockwise", "spiral", "cloth_turned", "least_turning", "along_seam"}
_LEAST: dict[str, float] = {"spans_per_side": 1}
_MOST: dict[str, float] = {
    "spans_per_side": 500,
    "echo_count": 100,
    "corner_angle": 179,
    "bobbin_capacity": 1e7,
}
_MORE_THAN = {
    "echo_spacing",
    "stitch_length",
    "stitches_per_minute",
    "batting_width",
    "corner_angle",
    "corner_run",
}
