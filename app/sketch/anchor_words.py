"""What suggested anchors are called, and what is said of them. No Qt."""

from __future__ import annotations

from typing import Final

from app.sketch.translate import tr, tr_n
from geometry.anchors import Suggestion
from geometry.units import LengthStyle, format_length


def suggestion_words(suggestion: Suggestion) -> str:
    """Its names, such as ``middle of side B`` or ``middle, most open``."""
    return ", ".join(map(_words, suggestion.names))


def looking_words(progress: tuple[int, int] | None) -> str:
    """What is said while good anchors are looked for; ``progress`` is how much is done, and of how much."""
    if progress is None or not progress[1]:
        return tr("Looking for good anchors …")
    return tr("Looking for good anchors: {share} %", share=round(100 * progress[0] / progress[1]))


def suggestion_figures(suggestion: Suggestion, style: LengthStyle) -> str:
    """``96 % in sight, narrowest wedge 3/8 in, 2 problems``."""
    share = suggestion.share
    most = min(round(100 * share), 99)  # 100 % is never said of what is not all
    parts = [tr("all in sight") if share >= 1 else tr("{share} % in sight", share=most)]
    if suggestion.narrowest > 0:
        parts.append(tr("narrowest wedge {length}", length=format_length(suggestion.narrowest, style)))
    if suggestion.problems:
        parts.append(tr_n("{count} problem", "{count} problems", suggestion.problems))
    else:
        parts.append(tr("no problems"))
    return ", ".join(parts)


def score_words(suggestion: Suggestion) -> str:
    """How its score is made up: ``58 of 60 for sight, 8 of 25 for few problems, 4 of 15 for wide wedges``."""
    score = suggestion.score
    return tr(
        "{sight} of 60 for sight, {soundness} of 25 for few problems, {width} of 15 for wide wedges",
        sight=round(score.sight),
        soundness=round(score.soundness),
        width=round(score.width),
    )


def score_total(suggestion: Suggestion) -> int:
    """0 to 100: the sum of the parts as they are shown."""
    score = suggestion.score
    return round(score.sight) + round(score.soundness) + round(score.width)


def _words(code: str) -> str:
    kind, _, which = code.partition(":")
    if kind == "off-centre":
        return _off_centre(which)
    if kind == "side":
        return tr("middle of side {side}", side=which)
    if kind == "corner":
        return tr("corner {corner}", corner=which)
    return {"middle": tr("middle"), "most-open": tr("most open")}[kind]


def _off_centre(toward: str) -> str:
    kind, *rest = toward.split(":")
    if kind == "side":
        words = tr("off-centre, towards side {side}", side=rest.pop(0))
    elif kind == "corner":
        words = tr("off-centre, towards corner {corner}", corner=rest.pop(0))
    else:
        words = tr("off-centre, towards the {way}", way=tr(_WAYS[kind]))
    return tr("{words} ({number})", words=words, number=rest[0]) if rest else words


_WAYS: Final = {
    "up": "top",
    "up-right": "top right",
    "right": "right",
    "down-right": "bottom right",
    "down": "bottom",
    "down-left": "bottom left",
    "left": "left",
    "up-left": "top left",
}
