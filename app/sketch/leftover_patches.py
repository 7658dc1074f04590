"""The spaces between blocks as patches of a plan, and what is said of them."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import Polygon

from app.plan.model import PlanPatch
from app.sketch.translate import tr, tr_n
from geometry.leftover import Leftovers
from geometry.patch import Patch, middle_of
from geometry.settings import Settings

_NAMED_AT_MOST = 3
"""Blocks that a sentence names; of more it tells how many."""


def leftover_patches(found: Leftovers, settings: Settings | None = None) -> tuple[PlanPatch, ...]:
    """A patch for each kind of space, with as many repeats as it has places; largest first.

    Raises ``PatchError`` where one is no patch, as where it is too large.
    """
    patches = []
    for number, space in enumerate(found.spaces, start=1):
        patch = patch_of(space.polygon)
        name = tr("Space {number}", number=number)
        patches.append(
            PlanPatch.of(
                name, patch, [middle_of(patch)], settings=settings or Settings(), repeats=len(space.places)
            )
        )
    return tuple(patches)


def patch_of(polygon: Polygon) -> Patch:
    """``polygon`` with its holes. Raises ``PatchError``."""
    return Patch(
        shapely.get_coordinates(polygon.exterior)[:-1],
        [shapely.get_coordinates(hole)[:-1] for hole in polygon.interiors],
    )


def leftover_notes(found: Leftovers, names: Sequence[str]) -> tuple[str, ...]:
    """Sentences about blocks that do not lie as blocks should. ``names``: what to call them, in order."""
    notes = []
    if found.overlaps:
        pairs = [
            tr("{one} and {other}", one=names[one], other=names[other])
            for one, other, _ in sorted(found.overlaps)[:_NAMED_AT_MOST]
        ]
        named = ", ".join(pairs) + (", …" if len(found.overlaps) > _NAMED_AT_MOST else "")
        notes.append(
            tr_n(
                "{count} pair of blocks lie over each other: {named}",
                "{count} pairs of blocks lie over each other: {named}",
                len(found.overlaps),
                named=named,
            )
        )
    if found.outside:
        named = ", ".join(names[number] for number in found.outside[:_NAMED_AT_MOST])
        named += ", …" if len(found.outside) > _NAMED_AT_MOST else ""
        notes.append(
            tr_n(
                "{count} block reaches out of the frame: {named}",
                "{count} blocks reach out of the frame: {named}",
                len(found.outside),
                named=named,
            )
        )
    if found.slivers:
        notes.append(
            tr_n(
                "{count} strip thinner than a pen line was left out; blocks do not quite meet there",
                "{count} strips thinner than a pen line were left out; blocks do not quite meet there",
                len(found.slivers),
            )
        )
    return tuple(notes)
