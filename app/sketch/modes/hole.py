"""Cutting a hole: its outline is drawn inside the chosen patch."""

from __future__ import annotations

from collections.abc import Sequence

from app.plan.model import PlanError
from app.sketch.changes import Change, add_hole
from app.sketch.modes.draw import DrawMode
from app.sketch.modes.overlay import Draft, Handle, Label, Overlay
from app.sketch.snapping import Snap
from app.sketch.translate import tr
from geometry.patch import Place
from geometry.types import Point, Points


class HoleMode(DrawMode):
    """As Draw, over the patch that is there; what is closed is a hole of it."""

    _begin = "click the hole’s first corner"

    def leave(self) -> None:
        """The draft belongs to one patch, so it does not wait."""
        super().leave()
        self._forget()

    def _over(
        self,
        shown: tuple[Handle, ...],
        drafts: tuple[Draft, ...],
        labels: tuple[Label, ...],
        snap: Snap | None,
    ) -> Overlay:
        return Overlay(shown, drafts, labels, snap, hides_marks=True)

    def _seams(self) -> tuple[Points, ...]:
        """None: a hole that touched the seam would be none."""
        return ()

    def _refusal(self, at: Point) -> str:
        piece = self._piece()
        if piece is None or piece.patch().locate(at) is Place.INSIDE:
            return ""
        return tr("A hole lies inside the patch: put its corner inside the seam")

    def _made(self, outline: Sequence[Point]) -> Change:
        chosen = self._desk.chosen
        if chosen is None:
            raise PlanError("there is no patch to cut a hole into", do="draw one first")
        return add_hole(self._desk.plan, chosen, tuple(outline))
