"""The tries of the chosen patch as Qt's list model: each fit is computed when its row comes into view."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt

from app.plan.model import Try
from app.sketch import changes
from app.sketch.translate import tr
from app.sketch.try_words import try_line
from app.sketch.wording import verdict
from app.window.list_rows import Index, ListModel
from app.window.session import Session
from geometry import Fit, WedgewrightError


class TriesModel(ListModel[Try]):
    """One row a try, in the order in which they were kept."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        session.plan_changed.connect(self.sync)
        session.chosen_changed.connect(self.sync)
        session.style_changed.connect(self._all_changed)
        self.sync()

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid() or index.row() >= len(self._shown):
            return None
        kept = self._shown[index.row()]
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return kept.name
        if role in (Qt.ItemDataRole.AccessibleTextRole, Qt.ItemDataRole.ToolTipRole):
            return ", ".join(part for part in self.words_at(index.row()) if part)
        return None

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        """Rename a try."""
        chosen = self._session.chosen
        if chosen is None or role != Qt.ItemDataRole.EditRole or not index.isValid():
            return False
        if str(value) == self._shown[index.row()].name:
            return True
        try:
            self._session.do(changes.rename_try(self._session.plan, chosen, index.row(), str(value)))
        except WedgewrightError as error:
            self._session.refused.emit(str(error))
            return False
        return True

    def flags(self, index: Index) -> Qt.ItemFlag:
        return super().flags(index) | Qt.ItemFlag.ItemIsEditable

    @property
    def tries(self) -> tuple[Try, ...]:
        """The tries that are shown."""
        return self._shown

    @property
    def present(self) -> int | None:
        """The row of the try that is the patch as it is now, or None."""
        piece = self._session.piece
        if piece is None:
            return None
        now = (piece.anchors, piece.settings)
        return next(
            (row for row, each in enumerate(self._shown) if (each.anchors, each.settings) == now), None
        )

    def fit_at(self, row: int) -> Fit | None:
        """What the patch would be with that try, or None where it cannot be fitted."""
        chosen = self._session.chosen
        if chosen is None or row >= len(self._shown):
            return None
        try:
            return self._session.fit_of(
                changes.bring_back(self._session.plan, chosen, row).after.patches[chosen]
            )
        except WedgewrightError:
            return None

    def words_at(self, row: int) -> tuple[str, str, str]:
        """Name, verdict, and what it is told apart by."""
        name, fit = self._shown[row].name, self.fit_at(row)
        if row == self.present:
            name = tr("{name}, on the canvas", name=name)
        if fit is None:
            return (name, "", "")
        wedges, _, rest = verdict(fit).partition(", ")
        return (name, rest or wedges, try_line(fit, self._session.style))

    def sync(self) -> None:
        """Show the tries of the chosen patch as they are now."""
        piece = self._session.piece
        now = () if piece is None else piece.tries
        if len(now) != len(self._shown):
            self._show(now)
        else:
            self._shown = now
            self._all_changed()
