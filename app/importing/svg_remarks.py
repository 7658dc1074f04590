"""What a reader of SVG files has to say about what it read: collected while reading, put into words after."""

from __future__ import annotations

from enum import StrEnum

from app.sketch.translate import tr, tr_n

_NAMED = 4
"""So many names are listed; the rest are counted."""


class Remark(StrEnum):
    """Stable names of what can be said about a shape, in the order in which it is said."""

    CLIPPED = "clipped"
    SEVERAL = "several"
    CUT_SHORT = "cut-short"
    REPAIRED = "repaired"
    SAME = "same"
    INSIDE = "inside"
    OPEN = "open"
    LINE = "line"
    FLAT = "flat"
    UNPAINTED = "unpainted"
    TEXT = "text"
    PICTURE = "picture"
    PAGE = "page"
    OUT_OF_VIEW = "out-of-view"
    ELSEWHERE = "elsewhere"
    NOWHERE = "nowhere"
    CIRCULAR = "circular"
    LENGTH = "length"
    TRANSFORM = "transform"
    TOO_LARGE = "too-large"
    FAR_OFF = "far-off"
    TANGLED = "tangled"
    REFUSED = "refused"
    CLIP_IGNORED = "clip-ignored"
    MASK_IGNORED = "mask-ignored"
    RULE_IGNORED = "rule-ignored"


class Remarks:
    """Remarks by kind, each with the names of what it is about."""

    def __init__(self) -> None:
        self._names: dict[Remark, list[str]] = {}

    def add(self, remark: Remark, name: str) -> None:
        """Say ``remark`` about ``name``; twice the same is said once."""
        names = self._names.setdefault(remark, [])
        if not names or names[-1] != name:
            names.append(name)

    def sentences(self) -> tuple[str, ...]:
        """One sentence a kind."""
        return tuple(_worded(kind, _listed(self._names[kind])) for kind in Remark if kind in self._names)


def _listed(names: list[str]) -> str:
    shown = ", ".join(names[:_NAMED])
    left = len(names) - _NAMED
    if left <= 0:
        return shown
    return tr_n("{shown} and one more", "{shown} and {count} more", left, shown=shown)


def _worded(remark: Remark, names: str) -> str:
    return {
        Remark.CLIPPED: lambda: tr("{names}: cut by a clip path or an inner page, as drawn", names=names),
        Remark.SEVERAL: lambda: tr("{names}: several separate parts, each became a patch", names=names),
        Remark.CUT_SHORT: lambda: tr("{names}: cannot be read further, drawn up to there", names=names),
        Remark.REPAIRED: lambda: tr("{names}: repaired, compare with the drawing", names=names),
        Remark.SAME: lambda: tr("{names}: the same outline twice, two patches", names=names),
        Remark.INSIDE: lambda: tr(
            "{names}: patches of their own; to make a hole, draw both as one path", names=names
        ),
        Remark.OPEN: lambda: tr("{names}: left out, an open line; close it to make a patch", names=names),
        Remark.LINE: lambda: tr("{names}: left out, a line encloses nothing", names=names),
        Remark.FLAT: lambda: tr("{names}: left out, it has no area", names=names),
        Remark.UNPAINTED: lambda: tr(
            "{names}: left out, not to be seen; give it a line or a colour", names=names
        ),
        Remark.TEXT: lambda: tr("{names}: left out, text; turn it into outlines to use it", names=names),
        Remark.PICTURE: lambda: tr("{names}: left out, a picture", names=names),
        Remark.PAGE: lambda: tr("{names}: left out, a page of another kind", names=names),
        Remark.OUT_OF_VIEW: lambda: tr("{names}: left out, nothing of it lies in its frame", names=names),
        Remark.ELSEWHERE: lambda: tr("{names}: left out, it is in another file", names=names),
        Remark.NOWHERE: lambda: tr("{names}: left out, what it repeats is not in the file", names=names),
        Remark.CIRCULAR: lambda: tr("{names}: left out, it repeats itself", names=names),
        Remark.LENGTH: lambda: tr("{names}: left out, a length that cannot be read", names=names),
        Remark.TRANSFORM: lambda: tr("{names}: a transform that cannot be read was not done", names=names),
        Remark.TOO_LARGE: lambda: tr(
            "{names}: left out, larger than any patch may be; check the unit", names=names
        ),
        Remark.FAR_OFF: lambda: tr("{names}: left out, it lies kilometres off the page", names=names),
        Remark.TANGLED: lambda: tr("{names}: left out, it crosses itself too often", names=names),
        Remark.REFUSED: lambda: tr("{names}", names=names),
        Remark.CLIP_IGNORED: lambda: tr("{names}: a clip path that cannot be read was not used", names=names),
        Remark.MASK_IGNORED: lambda: tr("{names}: its mask was not used, the whole shape was", names=names),
        Remark.RULE_IGNORED: lambda: tr("style rule {names}: too involved, not used", names=names),
    }[remark]()
