"""What a plan holds: the patches of a quilt top and their settings. Immutable; a change makes a new one."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence
from functools import cached_property
from typing import Any, Final
from weakref import WeakValueDictionary

import msgspec

from app.plan.photo import Photo
from geometry.errors import WedgewrightError
from geometry.patch import Patch
from geometry.settings import Settings
from geometry.types import Point
from geometry.units import LengthStyle

Outline = tuple[Point, ...]
"""Corners, mm, open. A tuple and not an array: plans are compared, hashed and written to files."""


MAX_REPEATS = 10_000
"""More than any quilt top has; totals stay numbers that a page can show."""


class PlanError(WedgewrightError):
    """A plan, or a change of one, that cannot be."""


_known: WeakValueDictionary[tuple[Outline, tuple[Outline, ...]], Patch] = WeakValueDictionary()
"""Patches in use, so that one shape is one ``Patch``: the engine keeps what it prepared for each."""


THREAD_WIDTH: Final = 0.3
"""mm: a cotton thread of the weight that is usual for quilting by machine, as it lies on the cloth; common
practice, no source."""
LEAST_THREAD_WIDTH: Final = 0.1
MOST_THREAD_WIDTH: Final = 2.0
"""mm: the finest that is sewn with, and a cord that is laid on the cloth; common practice, no source."""

_COLOUR: Final = re.compile(r"#[0-9A-F]{6}")

MAX_TRIES = 60
"""Tries of one patch: more than anyone compares, and few enough for a list of pictures."""


class Try(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Anchors and settings of a patch, kept to go back to. Raises ``PlanError`` where they cannot be."""

    name: str
    anchors: tuple[Point, ...]
    """One or more, mm. The patch may have been reshaped since, so they need not lie in it."""
    settings: Settings

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise PlanError("a try needs a name", do="type at least one letter")
        _check_words(self.name, "the name of a try")
        _check_anchors(self.anchors, f"try “{self.name}”")


class PlanPatch(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True, dict=True):
    """One patch of a plan. Raises ``PlanError`` where the name, the anchors or the repeats cannot be.

    That the outline can be a patch shows when ``patch`` is called first (``PatchError``); that the
    anchors lie in it is seen to by ``app.sketch.changes`` and by the plan file.
    """

    name: str
    outline: Outline
    holes: tuple[Outline, ...] = ()
    anchors: tuple[Point, ...]
    """One or more, mm."""
    settings: Settings = Settings()
    repeats: int = 1
    """How often the quilt top has this patch."""
    tries: tuple[Try, ...] = ()
    """In the order in which they were kept."""
    cloth: str = ""
    """Colour of the cloth, ``#RRGGBB`` in capitals; empty where none was chosen."""
    thread: str = ""
    """Colour of the thread, likewise."""
    thread_width: float = THREAD_WIDTH
    """mm, of the thread as it lies on the cloth."""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise PlanError("a patch needs a name", do="type at least one letter")
        _check_words(self.name, "the name of a patch")
        where = f"patch “{self.name}”"
        _check_anchors(self.anchors, where)
        if self.repeats < 1:
            raise PlanError(f"{self.repeats} repeats are too few", where=where, do="give 1 or more")
        if self.repeats > MAX_REPEATS:
            raise PlanError(
                f"{self.repeats} repeats are too many", where=where, do=f"give {MAX_REPEATS} or less"
            )
        if len(self.tries) > MAX_TRIES:
            raise PlanError(f"more than {MAX_TRIES} tries", where=where, do="delete some of them")
        names = [kept.name for kept in self.tries]
        if len(set(names)) < len(names):
            twice = next(name for name in names if names.count(name) > 1)
            raise PlanError(f"two tries have the name “{twice}”", where=where, do="rename one of them")
        for what, colour in (("cloth", self.cloth), ("thread", self.thread)):
            if colour and not _COLOUR.fullmatch(colour):
                raise PlanError(
                    f"“{colour}” is no colour for the {what}", where=where, do="write it like #0E4C66"
                )
        if not LEAST_THREAD_WIDTH <= self.thread_width <= MOST_THREAD_WIDTH:  # NaN too
            raise PlanError(
                f"a thread of {self.thread_width:g} mm cannot be",
                where=where,
                do=f"give {LEAST_THREAD_WIDTH:g} to {MOST_THREAD_WIDTH:g} mm",
            )

    @classmethod
    def of(cls, name: str, patch: Patch, anchors: Sequence[Point], **others: Any) -> PlanPatch:
        """The plan's form of a geometry patch; ``others`` are ``settings``, ``repeats``, ``tries`` and
        how cloth and thread look.

        ``patch()`` gives ``patch`` itself again, so that what was repaired in it stays known until the
        plan is closed.
        """
        made = cls(
            name=name,
            outline=_tuples(patch.outline),
            holes=tuple(_tuples(hole) for hole in patch.holes),
            anchors=tuple((float(x), float(y)) for x, y in anchors),
            **others,
        )
        made.__dict__["_patch"] = _known.setdefault((made.outline, made.holes), patch)
        return made

    def reshaped(self, patch: Patch, anchors: Sequence[Point]) -> PlanPatch:
        """The same with another shape and with ``anchors``, which lie in it."""
        kept = {name: getattr(self, name) for name in self.__struct_fields__ if name not in _SHAPE}
        return PlanPatch.of(self.name, patch, anchors, **kept)

    def patch(self) -> Patch:
        """The geometry patch. The same object for every plan patch with the same outline and holes.

        Raises ``PatchError`` where they cannot be a patch.
        """
        return self._patch

    @cached_property
    def _patch(self) -> Patch:
        shape = (self.outline, self.holes)
        patch = _known.get(shape)
        if patch is None:
            patch = Patch(*shape)
            _known[shape] = patch
        return patch


_SHAPE = {"name", "outline", "holes", "anchors"}
"""What ``PlanPatch.reshaped`` does not keep as it is, or gives by itself."""


class Plan(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One file of work. Raises ``PlanError`` where the title cannot be, or two patches share a name."""

    title: str = ""
    unit_style: LengthStyle | None = None
    """How a file that says so wants its lengths written, where nobody is there to choose. The bench does not
    ask it: there the user's own choice holds for all plans. Inside, and in the file, lengths are mm."""
    patches: tuple[PlanPatch, ...] = ()
    photo: Photo | None = None
    """Lies beneath the patches, to draw them over it."""

    def __post_init__(self) -> None:
        _check_words(self.title, "the title")
        seen: set[str] = set()
        for patch in self.patches:
            if patch.name in seen:
                raise PlanError(
                    "two patches have this name", where=f"patch “{patch.name}”", do="rename one of them"
                )
            seen.add(patch.name)

    def index(self, name: str) -> int:
        """Where the patch of that name stands. Raises ``PlanError`` naming those that there are."""
        for index, patch in enumerate(self.patches):
            if patch.name == name:
                return index
        names = ", ".join(f"“{patch.name}”" for patch in self.patches) or "none"
        raise PlanError(f"no patch has the name “{name}”", do=f"choose one of these: {names}")


def _check_anchors(anchors: tuple[Point, ...], where: str) -> None:
    if not anchors:
        raise PlanError("it has no anchor", where=where, do="give at least one")
    if not all(math.isfinite(value) for anchor in anchors for value in anchor):
        raise PlanError("an anchor is not a pair of numbers", where=where, do="give x and y in mm")


def _tuples(points: Any) -> Outline:
    return tuple((x, y) for x, y in points.tolist())


def _check_words(text: str, what: str) -> None:
    """Refuse what no line of text can hold: line breaks, control characters, half a surrogate pair."""
    for place, character in enumerate(text, start=1):
        if unicodedata.category(character) in {"Cc", "Cs", "Zl", "Zp"}:
            raise PlanError(
                f"character {place} of {what} cannot be shown",
                do="leave out line breaks and control characters",
            )
