"""The plan's patches as Qt's list model: fits are computed when a patch comes into view."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt

from app.plan.model import PlanPatch
from app.sketch.translate import tr_n
from app.sketch.wording import verdict
from app.window.list_rows import Index, ListModel
from app.window.session import Session
from geometry import Fit, WedgewrightError


class PatchesModel(ListModel[PlanPatch]):
    """One row a patch, in the plan's order."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._shown = session.plan.patches
        session.plan_changed.connect(self._sync)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid() or index.row() >= len(self._shown):
            return None
        piece = self._shown[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return piece.name
        if role in (Qt.ItemDataRole.AccessibleTextRole, Qt.ItemDataRole.ToolTipRole):
            return ", ".join(part for part in (piece.name, self.verdict(piece), repeats_words(piece)) if part)
        return None

    def piece(self, row: int) -> PlanPatch:
        """The patch of that row."""
        return self._shown[row]

    def fit(self, piece: PlanPatch) -> Fit | None:
        """Its fit, or None where it cannot be fitted."""
        try:
            return self._session.fit_of(piece)
        except WedgewrightError:
            return None

    def fit_at(self, row: int) -> Fit | None:
        """As ``fit``, of that row."""
        return self.fit(self.piece(row))

    def words_at(self, row: int) -> tuple[str, str, str]:
        """Name, verdict, and what else there is to say."""
        piece = self.piece(row)
        wedges, _, rest = self.verdict(piece).partition(", ")
        below = ", ".join(part for part in (wedges if rest else "", repeats_words(piece)) if part)
        return (piece.name, rest or wedges, below)

    def verdict(self, piece: PlanPatch) -> str:
        """One line on its fit."""
        fit = self.fit(piece)
        return "" if fit is None else verdict(fit)

    def _sync(self) -> None:
        before, now = self._shown, self._session.plan.patches
        if len(before) != len(now):
            self._show(now)
            return
        self._shown = now
        for row, (old, new) in enumerate(zip(before, now, strict=True)):
            if old is not new:
                index = self.index(row)
                self.dataChanged.emit(index, index)


def repeats_words(piece: PlanPatch) -> str:
    """``3 times``, or nothing for a patch that is there once."""
    return "" if piece.repeats == 1 else tr_n("once", "{count} times", piece.repeats)
