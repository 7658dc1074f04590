"""What suggested anchors are called. No Qt."""

from __future__ import annotations

from app.sketch.translate import tr
from geometry.anchors import Suggestion


def suggestion_words(suggestion: Suggestion) -> str:
    """Its names, such as ``middle of side B`` or ``middle, most open``."""
    return ", ".join(map(_words, suggestion.names))


def _words(code: str) -> str:
    kind, _, which = code.partition(":")
    if kind == "side":
        return tr("middle of side {side}", side=which)
    if kind == "corner":
        return tr("corner {corner}", corner=which)
    return {"middle": tr("middle"), "off-centre": tr("off-centre"), "most-open": tr("most open")}[kind]
