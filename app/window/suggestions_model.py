"""Suggested anchors of the chosen patch as Qt's list model."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt

from app.sketch.anchor_words import score_total, score_words, suggestion_figures, suggestion_words
from app.sketch.translate import tr
from app.window.anchor_work import AnchorWork
from app.window.list_rows import Index, ListModel
from app.window.session import Session
from geometry.anchors import Suggestion


class SuggestionsModel(ListModel[Suggestion]):
    """One row a suggestion, best first."""

    def __init__(self, session: Session, work: AnchorWork) -> None:
        super().__init__(session)
        self._work = work
        session.style_changed.connect(self._all_changed)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid() or self.suggestion(index.row()) is None:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.words_at(index.row())[0]
        if role == Qt.ItemDataRole.AccessibleTextRole:
            name, total, figures, made_up = self.words_at(index.row())
            return tr(
                "{name}: {figures}. Score {total}: {parts}",
                name=name,
                figures=figures,
                total=total,
                parts=made_up,
            )
        return None

    def suggestion(self, row: int) -> Suggestion | None:
        """The suggestion of that row."""
        return self._shown[row] if 0 <= row < len(self._shown) else None

    def words_at(self, row: int) -> tuple[str, str, str, str]:
        """Name, score, figures, and how the score is made up."""
        each = self._shown[row]
        name = suggestion_words(each)
        total = tr("{score} of 100", score=score_total(each))
        figures = suggestion_figures(each, self._session.style)
        return name[:1].upper() + name[1:], total, figures[:1].upper() + figures[1:], score_words(each)

    def sync(self) -> bool:
        """Show the suggestions that are known now. True where they are others."""
        known = self._work.suggestions or ()
        if known is self._shown or known == self._shown:
            return False
        self._show(known)
        return True
