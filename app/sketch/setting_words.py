"""Every setting that a quilter can set: its name, one line about it, and the question it answers. No Qt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from app.sketch.quantity import LENGTH, PLACE, STITCH, THIN, THREAD, Quantity, counted
from geometry import Settings


@dataclass(frozen=True, slots=True)
class Count:
    """A whole number."""

    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Ways:
    """One of two ways; what each is called."""

    yes: str
    no: str


class YesNo:
    """Done or not."""


class OfTheSides:
    """A count for each side; which sides there are, the fit says."""


Kind = Quantity | Count | Ways | YesNo | OfTheSides


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting. All words are still to be translated."""

    key: str
    """The field of ``geometry.Settings``."""
    name: str
    about: str
    kind: Kind
    none: str = ""
    """Words for 0 (of a place: for none), where that is no value but the lack of one."""
    own: bool = False
    """True where it makes sense for one patch only: it is no part of what new patches start with, and is
    not handed on to others."""
    wide: bool = False
    """True where what is typed is too long to stand beside the name."""


@dataclass(frozen=True, slots=True)
class Question:
    """What a quilter asks, and the settings that answer it."""

    key: str
    title: str
    settings: tuple[Setting, ...]

    @property
    def shared(self) -> tuple[str, ...]:
        """The settings that may hold for several patches."""
        return tuple(setting.key for setting in self.settings if not setting.own)


QUESTIONS: Final = (
    Question(
        "gather",
        "Where do the lines gather?",
        (
            Setting(
                "hold_back", "Hold-back", "legs stop this far from the anchor", LENGTH, "none"
            ),
            Setting("stagger", "Stagger", "added to the hold-back of every other wedge", LENGTH, "none"),
            Setting("divide", "Divide the patch", "adds anchors until 99 % is in sight", YesNo()),
            Setting("anchor_disc", "Anchor disc", "passes of thread are counted in this radius", LENGTH),
            Setting("anchor_passes", "Passes", "more of them in the disc crowd the anchor", Count(0, 999)),
        ),
    ),
    Question(
        "distance",
        "How far from the seam and from each other?",
        (
            Setting("edge_margin", "Edge &margin", "kept clear along the seam", LENGTH),
            Setting("gap", "&Gap", "clear strip between two wedges", LENGTH),
            Setting("visible_width", "Visible &width", "narrower wedges get a warning", LENGTH),
            Setting("wobble", "Wobble", "how far a line guided by hand wanders", LENGTH),
        ),
    ),
    Question(
        "end",
        "Where do the lines end?",
        (
            Setting("spans_per_side", "Spans a &side", "equal parts of each side", Count(1, 99)),
            Setting("longest_span", "&Longest span", "longer sides get more spans", LENGTH, "no limit"),
            Setting(
                "side_spans", "Spans of side", "this side alone, not as the others", OfTheSides(), own=True
            ),
            Setting(
                "corner_angle", "Corner angle", "where the edge turns more, it has a corner",
                counted("°", step=1, example="25°"),
            ),
            Setting("merge_thin", "Merge thin wedges", "each with a neighbour at the same mark", YesNo()),
            Setting("corner_run", "Corner run", "length of edge within which it turns", LENGTH),
        ),
    ),
    Question(
        "inside",
        "What goes inside?",
        (
            Setting("echo_count", "Echoes", "lines inside a wedge, parallel to it", Count(0, 100)),
            Setting("echo_spacing", "Echo spacing", "from one echo to the next", LENGTH),
        ),
    ),
    Question(
        "stitched",
        "How is it stitched?",
        (
            Setting(
                "cloth_turned", "On the machine", "sit-down machine, or frame machine",
                Ways("the cloth is turned", "the head moves"),
            ),
            Setting(
                "least_turning", "Least turning",
                "of the cloth, by the order of wedges; not with a hold-back", YesNo(),
            ),
            Setting(
                "clockwise", "Direction", "round the anchor, from wedge to wedge",
                Ways("clockwise", "the other way"),
            ),
            Setting(
                "first_wedge", "First wedge", "by its number in the fan", Count(0, 999), "any", own=True
            ),
            Setting(
                "start", "Start", "x and y, with a comma between", PLACE,
                "at the first wedge", own=True, wide=True,
            ),
            Setting(
                "spiral", "Way into the echoes", "the spiral leaves less thread at the anchor",
                Ways("stepped spiral", "closed loops"),
            ),
            Setting(
                "along_seam", "From anchor to anchor", "where the patch has several fans",
                Ways("along the seam", "shortest way inside"),
            ),
            Setting("stitch_length", "Stitch length", "8 to 12 per inch, 2 to 3 mm", STITCH),
            Setting(
                "stitches_per_minute", "Pace", "stitches a minute, guided by hand",
                counted("", step=50, example="600"),
            ),
            Setting(
                "seconds_per_turn", "Time for a turn", "handling at each change of direction",
                counted(" s", step=0.5, example="1.5 s"),
            ),
        ),
    ),
    Question(
        "cloth",
        "What cloth is it?",
        (
            Setting("quilt_thickness", "Quilt thickness", "top, batting and backing, as stitched", THIN),
            Setting(
                "batting_width", "Widest open", "that may stay unquilted, by the batting’s maker", LENGTH
            ),
            Setting("bobbin_capacity", "Bobbin holds", "thread on one full bobbin", THREAD, "not known"),
            Setting("thread_tail", "Thread tail", "left at either end of the path", LENGTH),
        ),
    ),
)  # fmt: skip

SET_ON_THE_CLOTH: Final = {
    "own_marks": "a mark of one's own is put on the edge by hand, not typed",
    "removed_marks": "a mark is taken away where it stands",
    "merged_spans": "a thin wedge is merged with its neighbour where it is found",
}
"""Fields of ``Settings`` that have no control of their own, and why."""

USUAL: Final = Settings()
"""The trade's values."""
