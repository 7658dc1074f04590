"""What is spoken of a key's work on the canvas: what the keys have hold of, and where it is now. No Qt."""

from __future__ import annotations

import math

from app.sketch.modes.overlay import Handle, HandleKind, HandleState, Overlay
from app.sketch.quantity import LENGTH
from app.sketch.translate import tr
from geometry import Fit
from geometry.marks import Mark, MarkKind
from geometry.tolerances import SAME_POINT
from geometry.types import Point
from geometry.units import LengthStyle


def held_words(overlay: Overlay, fit: Fit | None, style: LengthStyle) -> str:
    """What is chosen for the keys, or the one anchor where nothing is, with its place; and what stands in
    words beside it. Empty where the keys have hold of nothing.
    """
    beside = [_spoken(label.text) for label in overlay.labels if not label.centred]
    handle = _for_keys(overlay)
    if handle is None:
        return ". ".join(beside)
    if handle.kind is HandleKind.MARK and beside:
        return ". ".join(beside)  # they name it, and its distances are those that a tape shows
    return ". ".join([f"{_name(handle, overlay, fit)} {_place(handle.at, style)}", *beside])


def _for_keys(overlay: Overlay) -> Handle | None:
    chosen = [handle for handle in overlay.handles if handle.state is HandleState.CHOSEN]
    if chosen:
        return chosen[0]
    anchors = [handle for handle in overlay.handles if handle.kind is HandleKind.ANCHOR]
    return anchors[0] if len(anchors) == 1 and len(overlay.handles) == 1 else None


def _name(handle: Handle, overlay: Overlay, fit: Fit | None) -> str:
    same = [other for other in overlay.handles if other.kind is handle.kind]
    values = {"number": same.index(handle) + 1, "count": len(same)}
    match handle.kind:
        case HandleKind.ANCHOR:
            return tr("anchor {number} of {count}", **values) if len(same) > 1 else tr("anchor")
        case HandleKind.CORNER:
            name = _corner_name(handle.at, fit)
            return tr("corner {name}", name=name) if name else tr("corner {number} of {count}", **values)
        case HandleKind.MIDDLE:
            return tr("middle of a side, {number} of {count}", **values)
        case _:
            return tr("mark {number} of {count}", **values)


def _corner_name(at: Point, fit: Fit | None) -> str:
    """The two letters of the corner of the seam at ``at``; nothing where it is none."""
    marks: list[Mark] = [mark for fan in fit.fans for mark in fan.marks] if fit is not None else []
    corners = (mark for mark in marks if mark.kind is MarkKind.CORNER)
    return next((mark.name for mark in corners if math.dist(mark.foot, at) <= SAME_POINT), "")


def _place(at: Point, style: LengthStyle) -> str:
    return tr("at x {x}, y {y}", x=LENGTH.words(at[0], style), y=LENGTH.words(at[1], style))


def _spoken(text: str) -> str:
    """In one line, and without the sign for where the next letter goes."""
    lines = (" ".join(line.replace("▏", " ").split()) for line in text.split("\n"))
    return ", ".join(line for line in lines if line)
