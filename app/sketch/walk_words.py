"""What is said of a place of a walk: which part is stitched, how a ruler lies, what comes next. No Qt."""

from __future__ import annotations

import math
from dataclasses import dataclass

from app.sketch.translate import tr, tr_n
from app.sketch.walk import Reading, Walk
from geometry import Settings
from geometry.stitch_path import Kind
from geometry.units import LengthStyle, format_length

NOTHING_TO_WALK = "There is no stitch path to walk: no wedge fits this patch."

_ALL_THE_WAY = 179.5
"""degrees: a turn by more is straight back, and has no side."""

_LONG_WALK = 10.0
"""minutes: from here on a tenth of one is no news."""


@dataclass(frozen=True, slots=True)
class Words:
    """What is said, each part short enough for a line of its own."""

    here: str
    """``Wedge 3, leg out, ruler at 42°``"""
    then: str
    """``Turn the cloth 135° to the left after 2 1/2 in``"""
    done: str
    """``12 of 40 in, 2 of 7 min``"""
    turned: str
    """``turned 6 times, 540°``"""

    @property
    def all(self) -> str:
        """All in one, for a screen reader."""
        return ". ".join(part for part in (self.here, self.then, self.done, self.turned) if part)


def words(walk: Walk, reading: Reading, settings: Settings, style: LengthStyle) -> Words:
    """What is said of ``reading``."""
    return Words(
        _here(reading), _then(walk, reading, settings, style), _done(walk, reading, style), _turned(reading)
    )


def _here(reading: Reading) -> str:
    part = _part(reading)
    if reading.wedge is not None:
        part = tr("Wedge {number}, {part}", number=reading.wedge, part=part)
    if reading.bearing is None:
        return tr("{part}, curved: by hand", part=part)
    return tr("{part}, ruler at {angle}°", part=part, angle=whole_degrees(reading.bearing) % 360)


def _part(reading: Reading) -> str:
    match reading.kind:
        case Kind.LEG:
            return tr("leg back") if reading.back else tr("leg out")
        case Kind.SIDE:
            return tr("side")
        case Kind.ECHO:
            return tr("echo {number}", number=reading.echo)
        case Kind.HOP:
            return tr("hop")
        case Kind.TRAVEL:
            return tr("Travel")


def _then(walk: Walk, reading: Reading, settings: Settings, style: LengthStyle) -> str:
    turn = reading.next_turn
    if turn is None:
        left = walk.length - reading.place
        if left <= 0:
            return tr("This is the end of the stitch path")
        return tr("The end after {length}", length=format_length(left, style))
    angle = math.degrees(abs(turn.by))
    right = goes_right(turn.by, settings)
    known = {"length": format_length(turn.after, style), "angle": whole_degrees(angle)}
    if settings.cloth_turned:
        if angle > _ALL_THE_WAY:
            return tr("Turn the cloth right round, 180°, after {length}", **known)
        if right:
            return tr("Turn the cloth {angle}° to the right after {length}", **known)
        return tr("Turn the cloth {angle}° to the left after {length}", **known)
    if angle > _ALL_THE_WAY:
        return tr("Turn back, 180°, after {length}", **known)
    if right:
        return tr("Turn {angle}° to the right after {length}", **known)
    return tr("Turn {angle}° to the left after {length}", **known)


def goes_right(by: float, settings: Settings) -> bool:
    """Whether what moves, cloth or head, turns to the right where the line turns ``by`` rad.

    The needle keeps its direction where the cloth is turned under it, so the cloth goes the other way.
    """
    return (by > 0) is not settings.cloth_turned


def turn_words(by: float, settings: Settings) -> str:
    """``135° left``: a turn of the cloth, or of the head, in a table."""
    angle = whole_degrees(math.degrees(abs(by)))
    if math.degrees(abs(by)) > _ALL_THE_WAY:
        return tr("180°")
    return tr("{angle}° right", angle=angle) if goes_right(by, settings) else tr("{angle}° left", angle=angle)


def _done(walk: Walk, reading: Reading, style: LengthStyle) -> str:
    done = format_length(reading.place, style, sign=False)
    whole = format_length(walk.length, style)
    digits = 0 if walk.minutes >= _LONG_WALK else 1
    length = tr("{done} of {whole}", done=done, whole=whole)
    time = tr(
        "{done} of {whole} min", done=f"{reading.minutes:.{digits}f}", whole=f"{walk.minutes:.{digits}f}"
    )
    return tr("{length}, {time}", length=length, time=time)


def _turned(reading: Reading) -> str:
    return tr_n(
        "turned once, {angle}°",
        "turned {count} times, {angle}°",
        reading.changes,
        angle=whole_degrees(math.degrees(reading.turned)),
    )


def whole_degrees(angle: float) -> int:
    """Halves up."""
    return math.floor(angle + 0.5)
