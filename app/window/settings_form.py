"""All settings in folding groups, one for each question that a quilter asks."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.sketch.setting_words import QUESTIONS, Question
from app.sketch.translate import tr
from app.window.folding_group import FoldingGroup
from app.window.look import Look
from app.window.setting_row import UsualRow
from geometry import Settings
from geometry.units import LengthStyle

Makers = Mapping[str, Callable[[], QWidget]]


class SettingsForm(QWidget):
    """Shows one ``Settings`` and says what the user wants changed in it. Knows no plan."""

    wanted = Signal(str, object)
    """A setting by its key, and the value it should have."""
    settled = Signal()
    """What was wanted last is done with."""
    folded = Signal()
    """The user opened or closed a group."""

    def __init__(
        self,
        look: Look,
        *,
        is_open: Collection[str],
        whole: bool = True,
        late: bool = False,
        special: Makers | None = None,
        first: Makers | None = None,
        last: Makers | None = None,
    ) -> None:
        """``is_open``: keys of the questions whose groups are open. ``whole``: with what makes sense for
        one patch only. ``late``: as ``FoldingGroup`` has it.

        ``special`` makes the rows of settings by their keys; ``first`` and ``last`` make
        what stands before and after the settings of a question, by its key."""
        super().__init__()
        self._look = look
        self._whole = whole
        self._late = late
        self._special, self._first, self._last = special or {}, first or {}, last or {}
        self._settings, self._style = Settings(), LengthStyle.EIGHTHS
        self.rows: dict[str, UsualRow] = {}
        """By key of the setting; only of groups that were opened once."""
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 8)
        layout.setSpacing(0)
        self.groups: dict[str, FoldingGroup] = {}
        for question in QUESTIONS:
            self.add_group(question.key, tr(question.title), self._filler(question), question.key in is_open)

    def add_group(
        self, key: str, title: str, fill: Callable[[QVBoxLayout], None], is_open: bool
    ) -> FoldingGroup:
        """A group of its own after the others."""
        group = FoldingGroup(title, self._look, fill, is_open=is_open, late=self._late, parent=self)
        group.folded.connect(self.folded)
        self.groups[key] = group
        layout = self.layout()
        assert layout is not None
        layout.addWidget(group)
        return group

    def show_settings(self, settings: Settings, style: LengthStyle) -> None:
        """Show ``settings`` with lengths in ``style``."""
        self._settings, self._style = settings, style
        for row in self.rows.values():
            row.show_settings(settings, style)

    @property
    def is_wrong(self) -> bool:
        """Whether a field holds what cannot be read."""
        return any(row.is_wrong for row in self.rows.values())

    def refuse(self, key: str, sentence: str) -> None:
        """What was wanted of the setting ``key`` cannot be."""
        self.rows[key].refuse(sentence)

    def _filler(self, question: Question) -> Callable[[QVBoxLayout], None]:
        def fill(layout: QVBoxLayout) -> None:
            if question.key in self._first:
                layout.addWidget(self._first[question.key]())
            for setting in question.settings:
                if setting.key in self._special:
                    layout.addWidget(self._special[setting.key]())
                elif self._whole or not setting.own:
                    layout.addWidget(self._row(UsualRow(setting, self._look)))
            if question.key in self._last:
                layout.addWidget(self._last[question.key]())

        return fill

    def _row(self, row: UsualRow) -> UsualRow:
        self.rows[row.setting.key] = row
        row.wanted.connect(lambda value: self.wanted.emit(row.setting.key, value))
        row.settled.connect(self.settled)
        row.show_settings(self._settings, self._style)
        return row
