"""Every change of a plan, as a pure function: the plan as it is in, the change out; nothing is kept.

A change that cannot be raises a ``WedgewrightError``, and the plan stays as it was. Indices that do not
exist are slips of the program and raise ``IndexError``.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from itertools import count
from typing import Any

import msgspec
from msgspec.structs import replace

from app.plan.model import Outline, Plan, PlanError, PlanPatch, Try
from app.sketch.translate import tr
from geometry import Patch, PatchError, Settings, SettingsError
from geometry.findings import Remedy
from geometry.types import Point


@dataclass(frozen=True, slots=True)
class Change:
    """One step of work: what it is called in the menu, and the plan before and after."""

    name: str
    before: Plan
    after: Plan
    merge_key: str | None = None
    """Changes with the same key, one right after another, are one step (a value typed or spun)."""


def named(change: Change, name: str) -> Change:
    """``change``, under a name that says more of what is changed."""
    return dataclasses.replace(change, name=name)


def move_anchor(plan: Plan, index: int, point: Point, which: int = 0) -> Change:
    """Put anchor ``which`` of patch ``index`` at ``point`` (mm); from outside it slides to the seam."""
    patch = plan.patches[index]
    anchors = list(patch.anchors)
    anchors[which] = patch.patch().slide_into(point)
    return _with_patch(tr("Move anchor"), plan, index, replace(patch, anchors=tuple(anchors)))


def add_anchor(plan: Plan, index: int, point: Point) -> Change:
    """Give patch ``index`` another anchor at ``point`` (mm); from outside it slides to the seam."""
    patch = plan.patches[index]
    anchors = (*patch.anchors, patch.patch().slide_into(point))
    return _with_patch(tr("Add anchor"), plan, index, replace(patch, anchors=anchors))


def remove_anchor(plan: Plan, index: int, which: int) -> Change:
    """Take anchor ``which`` of patch ``index`` away. Raises ``PlanError`` where it is the only one."""
    patch = plan.patches[index]
    patch.anchors[which]
    anchors = tuple(anchor for number, anchor in enumerate(patch.anchors) if number != which)
    return _with_patch(tr("Remove anchor"), plan, index, replace(patch, anchors=anchors))


def reshape_patch(plan: Plan, index: int, shape: Patch, name: str) -> Change:
    """Give patch ``index`` another shape, as a step ``name``; anchors left outside slide to its seam."""
    old = plan.patches[index]
    anchors = [shape.slide_into(anchor) for anchor in old.anchors]
    return _with_patch(name, plan, index, old.reshaped(shape, anchors))


def remove_corner(plan: Plan, index: int, corner: int, hole: int | None = None) -> Change:
    """Take a corner out. Raises ``PatchError`` where fewer than three are left."""
    old = plan.patches[index]
    rings = [old.outline, *old.holes]
    number = 0 if hole is None else hole + 1
    ring = rings[number]
    if not 0 <= corner < len(ring):  # a slice would not notice
        raise IndexError(f"there is no corner {corner}")
    if len(ring) <= 3:
        raise PatchError(
            "a patch needs three corners",
            where=f"patch “{old.name}”",
            do="move this corner instead" if hole is None else "move this corner, or take the hole out",
        )
    rings[number] = (*ring[:corner], *ring[corner + 1 :])
    return reshape_patch(plan, index, Patch(rings[0], rings[1:]), tr("Remove corner"))


def add_hole(plan: Plan, index: int, ring: Outline) -> Change:
    """Cut a hole into patch ``index``; anchors in it slide to its edge. Raises ``PatchError`` where it does
    not lie in the patch, clear of the seam and of other holes.
    """
    old = plan.patches[index]
    shape = Patch(old.outline, (*old.holes, ring))
    if shape.repairs or len(shape.holes) != len(old.holes) + 1:
        raise PatchError(
            "a hole lies inside its patch and touches no seam",
            where=f"patch “{old.name}”",
            do="draw it inside, clear of the seam and of other holes",
        )
    return reshape_patch(plan, index, shape, tr("Cut a hole"))


def remove_hole(plan: Plan, index: int, hole: int) -> Change:
    """Take hole ``hole`` (from 0) out of patch ``index``."""
    old = plan.patches[index]
    old.holes[hole]
    shape = Patch(old.outline, (*old.holes[:hole], *old.holes[hole + 1 :]))
    return reshape_patch(plan, index, shape, tr("Remove the hole"))


def add_patch(plan: Plan, patch: PlanPatch) -> Change:
    """Put ``patch`` into the plan, last; a name that is taken gets a number."""
    return add_patches(plan, (patch,))


def add_patches(plan: Plan, patches: Iterable[PlanPatch]) -> Change:
    """As ``add_patch`` for several at once, as from one file."""
    taken = {patch.name for patch in plan.patches}
    new = []
    for patch in patches:
        shape = patch.patch()
        anchors = tuple(shape.slide_into(anchor) for anchor in patch.anchors)
        named = replace(patch, name=_free_name(patch.name, taken), anchors=anchors)
        taken.add(named.name)
        new.append(named)
    name = tr("Add patch") if len(new) == 1 else tr("Add patches")
    return Change(name, plan, replace(plan, patches=(*plan.patches, *new)))


def remove_patch(plan: Plan, index: int) -> Change:
    """Take patch ``index`` out of the plan."""
    gone = plan.patches[index]
    return Change(
        tr("Remove patch"), plan, replace(plan, patches=tuple(p for p in plan.patches if p is not gone))
    )


def rename_patch(plan: Plan, index: int, name: str) -> Change:
    """Give patch ``index`` another name. Raises ``PlanError`` where it is empty or taken."""
    patch = replace(plan.patches[index], name=_one_line(name))
    return _with_patch(tr("Rename patch"), plan, index, patch)


def set_setting(plan: Plan, index: int, **values: object) -> Change:
    """Set one or more settings of patch ``index`` by name. Raises ``SettingsError``."""
    patch = plan.patches[index]
    settings = _settings_with(patch.settings, values)
    key = f"settings {index} {' '.join(sorted(values))}"
    return _with_patch(tr("Change settings"), plan, index, replace(patch, settings=settings), key)


def begin_with(plan: Plan, index: int, wedge: int) -> Change:
    """Let the stitch path of patch ``index`` begin with wedge number ``wedge`` of its fan."""
    change = set_setting(plan, index, first_wedge=wedge)
    name = tr("Begin with wedge {number}", number=wedge)
    return dataclasses.replace(change, name=name, merge_key=None)


def other_way_round(plan: Plan, index: int) -> Change:
    """Stitch the wedges of patch ``index`` the other way round their anchor."""
    change = set_setting(plan, index, clockwise=not plan.patches[index].settings.clockwise)
    return dataclasses.replace(change, name=tr("Stitch the other way round"), merge_key=None)


def use_for_all(plan: Plan, index: int, names: Iterable[str]) -> Change:
    """Give all patches the settings ``names`` as patch ``index`` has them."""
    settings = plan.patches[index].settings
    values = {name: getattr(settings, name) for name in names}
    patches = tuple(replace(patch, settings=_settings_with(patch.settings, values)) for patch in plan.patches)
    return Change(tr("Use for all patches"), plan, replace(plan, patches=patches))


def apply_remedy(plan: Plan, index: int, remedy: Remedy) -> Change:
    """Do what a finding's remedy says to patch ``index``."""
    patch = plan.patches[index]
    anchors = patch.anchors if remedy.anchors is None else remedy.anchors
    shape = patch.patch()
    mended = replace(
        patch,
        settings=_settings_with(patch.settings, dict(remedy.settings)),
        anchors=tuple(shape.slide_into(anchor) for anchor in anchors),
    )
    return _with_patch(tr("Apply remedy"), plan, index, mended)


def set_repeats(plan: Plan, index: int, repeats: int) -> Change:
    """Say how often the quilt top has patch ``index``. Raises ``PlanError`` below 1."""
    patch = replace(plan.patches[index], repeats=repeats)
    return _with_patch(tr("Change repeats"), plan, index, patch, f"repeats {index}")


def set_cloth(plan: Plan, index: int, colour: str) -> Change:
    """Give the cloth of patch ``index`` a colour, ``#RRGGBB``, or none. Raises ``PlanError``."""
    return _with_patch(tr("Change cloth"), plan, index, replace(plan.patches[index], cloth=colour.upper()))


def set_thread(plan: Plan, index: int, colour: str) -> Change:
    """Give the thread of patch ``index`` a colour, ``#RRGGBB``, or none. Raises ``PlanError``."""
    return _with_patch(tr("Change thread"), plan, index, replace(plan.patches[index], thread=colour.upper()))


def set_thread_width(plan: Plan, index: int, width: float) -> Change:
    """Give the thread of patch ``index`` a width, mm. Raises ``PlanError``."""
    patch = replace(plan.patches[index], thread_width=width)
    return _with_patch(tr("Change thread weight"), plan, index, patch, f"thread width {index}")


def use_thread_for_all(plan: Plan, index: int) -> Change:
    """Give all patches the thread of patch ``index``; the cloth is each patch's own."""
    one = plan.patches[index]
    patches = tuple(
        replace(patch, thread=one.thread, thread_width=one.thread_width) for patch in plan.patches
    )
    return Change(tr("Use thread for all patches"), plan, replace(plan, patches=patches))


def keep_try(plan: Plan, index: int) -> Change:
    """Keep the present anchors and settings of patch ``index`` as a try. Raises ``PlanError`` where they are
    kept already, or there are too many tries.
    """
    patch = plan.patches[index]
    for kept in patch.tries:
        if (kept.anchors, kept.settings) == (patch.anchors, patch.settings):
            raise PlanError(
                f"this is kept already, as “{kept.name}”", do="move the anchor, or change a setting"
            )
    taken = {kept.name for kept in patch.tries}
    numbered = (tr("Try {number}", number=number) for number in count(len(patch.tries) + 1))
    name = next(name for name in numbered if name not in taken)
    made = Try(name=name, anchors=patch.anchors, settings=patch.settings)
    return _with_patch(tr("Keep {name}", name=name), plan, index, replace(patch, tries=(*patch.tries, made)))


def bring_back(plan: Plan, index: int, which: int) -> Change:
    """Give patch ``index`` the anchors and settings of its try ``which``; an anchor that lies outside, as the
    patch was reshaped since, slides to the seam.
    """
    patch = plan.patches[index]
    kept = patch.tries[which]
    anchors = tuple(patch.patch().slide_into(anchor) for anchor in kept.anchors)
    after = replace(patch, anchors=anchors, settings=kept.settings)
    return _with_patch(tr("Bring back {name}", name=kept.name), plan, index, after)


def rename_try(plan: Plan, index: int, which: int, name: str) -> Change:
    """Give try ``which`` of patch ``index`` another name. Raises ``PlanError`` where it is empty or taken."""
    patch = plan.patches[index]
    renamed = replace(patch.tries[which], name=_one_line(name))
    tries = (*patch.tries[:which], renamed, *patch.tries[which + 1 :])
    return _with_patch(tr("Rename try"), plan, index, replace(patch, tries=tries))


def delete_try(plan: Plan, index: int, which: int) -> Change:
    """Forget try ``which`` of patch ``index``."""
    patch = plan.patches[index]
    name = patch.tries[which].name
    tries = (*patch.tries[:which], *patch.tries[which + 1 :])
    return _with_patch(tr("Delete {name}", name=name), plan, index, replace(patch, tries=tries))


def set_title(plan: Plan, title: str) -> Change:
    """Give the plan another title."""
    return Change(tr("Change title"), plan, replace(plan, title=_one_line(title)), "title")


# ----------------------------------------------------------------------------------------------------


def _with_patch(name: str, plan: Plan, index: int, patch: PlanPatch, merge_key: str | None = None) -> Change:
    patches = list(plan.patches)
    patches[index] = patch
    return Change(name, plan, replace(plan, patches=tuple(patches)), merge_key)


def _settings_with(settings: Settings, values: dict[str, object]) -> Settings:
    known: dict[str, Any] = asdict(settings)
    for name in values:
        if name not in known:
            raise SettingsError(f"there is no setting “{name}”")
    try:
        return msgspec.convert({**known, **values}, Settings)
    except msgspec.ValidationError as error:
        raise SettingsError(f"a setting is of the wrong kind: {error}", do="give a number") from error


def _free_name(name: str, taken: set[str]) -> str:
    """``name``, or where it is taken the first of ``name 2``, ``name 3`` … that is not."""
    name = _one_line(name)
    if name not in taken:
        return name
    number = 2
    while f"{name} {number}" in taken:
        number += 1
    return f"{name} {number}"


def _one_line(text: str) -> str:
    return " ".join(text.split())
