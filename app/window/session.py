"""What the window works on: the plan with its undo stack, the chosen patch, and its fit."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from app.plan.model import Plan, PlanPatch
from app.sketch.changes import Change
from app.sketch.history import History
from app.sketch.modes.mode import Candidate
from app.window import preferences
from geometry import Fit, Patch, Settings, WedgewrightError, fit
from geometry.types import Point
from geometry.units import LengthStyle

_FITS_KEPT = 512
"""Fits kept: those of all patches of a large plan, and some to go back to by undo."""


class Session(QObject):
    """The one model that canvas and panels read; only ``do``, ``undo`` and ``redo`` change the plan."""

    plan_changed = Signal()
    """The plan, its name, or whether it is saved."""
    chosen_changed = Signal()
    """Another patch is worked on."""
    fit_changed = Signal()
    """What is to be shown of the chosen patch: committed, or a gesture's candidate."""
    style_changed = Signal()
    """Lengths are shown in another way."""
    refused = Signal(str)
    """Something was not done; the sentence that says why."""

    def __init__(self, plan: Plan | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._style = preferences.style()
        self._fit = lru_cache(maxsize=_FITS_KEPT)(_fit_of)
        self._candidate: Candidate | None = None
        self._shown: Fit | None = None
        self.path: Path | None = None
        self.history = History(Plan())
        self._chosen: int | None = None
        self._chosen_piece: PlanPatch | None = None
        self._count = 0
        self.open(plan or Plan())

    # --- what there is ------------------------------------------------------------------------------

    @property
    def plan(self) -> Plan:
        """The plan as it is."""
        return self.history.plan

    @property
    def chosen(self) -> int | None:
        """Index of the patch that is worked on, or None where the plan has none."""
        return self._chosen

    @property
    def piece(self) -> PlanPatch | None:
        """The patch that is worked on."""
        return None if self._chosen is None else self.plan.patches[self._chosen]

    @property
    def style(self) -> LengthStyle:
        """How lengths are shown and, without a unit, read. The user's choice, and no part of a plan."""
        return self._style

    @property
    def fit(self) -> Fit | None:
        """The fit to show: of the gesture's candidate while there is one, else of the chosen patch."""
        return self._shown

    @property
    def in_gesture(self) -> bool:
        """True while ``fit`` is a candidate's."""
        return self._candidate is not None

    def fit_of(self, piece: PlanPatch) -> Fit:
        """The fit of any patch of the plan; kept."""
        return self._fit(piece.patch(), piece.anchors, piece.settings)

    # --- what happens to it -------------------------------------------------------------------------

    def open(self, plan: Plan, path: Path | None = None, *, saved: bool = True) -> None:
        """Work on ``plan`` from now on; the undo stack begins anew."""
        self.history = History(plan, saved=saved)
        self.history.listen(self._history_moved)
        self.path = path
        self._remember(0 if plan.patches else None)
        self._candidate = None
        self._refresh()
        self.plan_changed.emit()
        self.chosen_changed.emit()

    def show_in(self, style: LengthStyle) -> None:
        """Show lengths in ``style`` from now on, and remember it. No plan changes."""
        if style is not self._style:
            self._style = style
            preferences.store_style(style)
            self.style_changed.emit()

    def choose(self, index: int | None) -> None:
        """Work on patch ``index``."""
        if index == self._chosen:
            return
        self._remember(index)
        self._candidate = None
        self._refresh()
        self.chosen_changed.emit()

    def do(self, change: Change) -> None:
        """Do one step. Where it adds patches the first of them is chosen."""
        before = self.plan.patches
        added = len(change.after.patches) - len(before)
        self.history.push(change)
        if added > 0:
            self.choose(_new(self.plan.patches, before)[0])

    def undo(self) -> None:
        """Take the last step back."""
        self._keeping_choice(self.history.undo)

    def redo(self) -> None:
        """Do again what was undone last."""
        self._keeping_choice(self.history.redo)

    def settle(self) -> None:
        """The next change is a step of its own, even if it is of the same value as the last."""
        self.history.seal()

    def saved_as(self, path: Path, plan: Plan) -> None:
        """``plan`` now lies in the file at ``path``."""
        self.path = path
        self.history.mark_clean(plan)

    def show_candidate(self, candidate: Candidate | None) -> None:
        """Show what a gesture would make; None shows the plan's patch again."""
        if candidate is None and self._candidate is None:
            return
        self._candidate = candidate
        self._refresh()

    # ------------------------------------------------------------------------------------------------

    def _keeping_choice(self, step: Callable[[], bool]) -> None:
        before = self.plan.patches
        step()
        new = _new(self.plan.patches, before)
        if new and self._chosen not in new:
            self.choose(new[0])  # what comes back is shown

    def _history_moved(self) -> None:
        moved = self._follow_chosen()
        self._candidate = None
        self._refresh()
        self.plan_changed.emit()
        if moved:
            self.chosen_changed.emit()

    def _follow_chosen(self) -> bool:
        """Stay with the chosen patch where it now stands; True where another had to be chosen."""
        patches = self.plan.patches
        count = len(patches)
        where = next((n for n, piece in enumerate(patches) if piece is self._chosen_piece), None)
        if where is not None and count != self._count:
            index: int | None = where
        elif not count:
            index = None
        else:
            index = min(self._chosen or 0, count - 1)
        moved = index != self._chosen
        self._remember(index)
        return moved

    def _remember(self, index: int | None) -> None:
        self._chosen = index
        self._chosen_piece = self.piece
        self._count = len(self.plan.patches)

    def _refresh(self) -> None:
        candidate, piece = self._candidate, self.piece
        try:
            if candidate is not None:
                shown = _fit_of(candidate.patch, candidate.anchors, candidate.settings)
            elif piece is not None:
                shown = self.fit_of(piece)
            else:
                shown = None
        except WedgewrightError as error:
            shown = None
            self.refused.emit(str(error))
        if shown is not self._shown:
            self._shown = shown
            self.fit_changed.emit()


def _new(patches: tuple[PlanPatch, ...], before: tuple[PlanPatch, ...]) -> list[int]:
    old = {id(piece) for piece in before}
    return [index for index, piece in enumerate(patches) if id(piece) not in old]


def _fit_of(patch: Patch, anchors: tuple[Point, ...], settings: Settings) -> Fit:
    return fit(patch, anchors, settings)
