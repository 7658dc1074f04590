"""The settings of the chosen patch, grouped by the questions that a quilter asks."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeAlias

from PySide6.QtCore import QEvent, QObject, QSize, Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QHBoxLayout, QScrollArea, QToolButton, QVBoxLayout, QWidget

from app.sketch import changes
from app.sketch.setting_words import QUESTIONS, Question
from app.sketch.translate import tr
from app.window import preferences
from app.window.look import Look
from app.window.patch_rows import AnchorRows, RepeatsRow, SideSpansRow
from app.window.session import Session
from app.window.settings_form import SettingsForm
from geometry import WedgewrightError

if TYPE_CHECKING:
    from app.window.quilted_rows import QuiltedRows

_NAMES = {
    setting.key: setting.name.replace("&", "") for question in QUESTIONS for setting in question.settings
}


class SettingsPanel(QScrollArea):
    """Reads the session, and asks it for changes; errors show at the field that they belong to."""

    def __init__(self, session: Session, look: Look, quilted: QAction, parent: QWidget | None = None) -> None:
        """``quilted``: the action that shows the patch as it will look."""
        super().__init__(parent)
        self._session = session
        self._look = look
        self._rows: list[_Row] = []
        self.setObjectName("settings-panel")
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        is_open = preferences.open_groups()
        self.form = SettingsForm(
            look,
            is_open=is_open,
            late=True,
            special={"side_spans": lambda: self._kept(SideSpansRow(session, look))},
            first={"gather": lambda: self._kept(AnchorRows(session, look))},
            last={question.key: self._for_all(question) for question in QUESTIONS},
        )
        self.form.add_group(
            "look",
            tr("How will it look?"),
            lambda layout: layout.addWidget(self._kept(self._quilted_rows(quilted))),
            "look" in is_open,
        )
        self.form.add_group(
            "repeats",
            tr("How often is it in the quilt?"),
            lambda layout: layout.addWidget(self._kept(RepeatsRow(session, look))),
            "repeats" in is_open,
        )
        layout = self.form.layout()
        assert isinstance(layout, QVBoxLayout)
        layout.addStretch(1)
        self.form.wanted.connect(self._set)
        self.form.settled.connect(session.settle)
        self.form.folded.connect(self._folded)
        self.setWidget(self.form)
        self.form.installEventFilter(self)
        session.plan_changed.connect(self.refresh)
        session.chosen_changed.connect(self.refresh)
        session.style_changed.connect(self.refresh)
        self.refresh()

    def minimumSizeHint(self) -> QSize:
        """As wide as the widest row needs; narrower, as where a user wants it so, it scrolls."""
        usual = super().minimumSizeHint()
        width = self.form.minimumSizeHint().width() + self.verticalScrollBar().sizeHint().width()
        return QSize(max(usual.width(), width), usual.height())

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """The form needs another width: a group was opened, or the text has another size."""
        if event.type() == QEvent.Type.LayoutRequest:
            self.updateGeometry()
        return super().eventFilter(watched, event)

    def refresh(self) -> None:
        """Show the chosen patch's settings."""
        piece = self._session.piece
        self.form.setEnabled(piece is not None)
        if piece is None:
            return
        self.form.show_settings(piece.settings, self._session.style)
        for row in self._rows:
            row.refresh()

    def _kept(self, row: _Row) -> QWidget:
        self._rows.append(row)
        return row

    def _quilted_rows(self, quilted: QAction) -> _Row:
        from app.window.quilted_rows import QuiltedRows  # its group is closed at the start, as a rule

        return QuiltedRows(self._session, self._look, quilted)

    def _for_all(self, question: Question) -> Callable[[], QWidget]:
        return lambda: self._kept(_ForAll(question, self._session))

    def _set(self, key: str, value: object) -> None:
        chosen = self._session.chosen
        if chosen is None:
            return
        try:
            change = changes.set_setting(self._session.plan, chosen, **{key: value})
        except WedgewrightError as error:
            self.form.refuse(key, str(error))
            return
        name = tr(_NAMES[key])
        self._session.do(changes.named(change, tr("Change {setting}", setting=name[:1].lower() + name[1:])))

    def _folded(self) -> None:
        preferences.store_open_groups(key for key, group in self.form.groups.items() if group.is_open)
        self.refresh()


class _ForAll(QWidget):
    """Gives what one question's settings are here to all patches of the plan."""

    def __init__(self, question: Question, session: Session) -> None:
        super().__init__()
        self._keys = question.shared
        self._session = session
        self.button = QToolButton()
        self.button.setText(tr("use these for all patches"))
        self.button.setAccessibleName(tr("{question} Use these for all patches", question=tr(question.title)))
        sentence = tr("All patches of the plan get the settings of this group; undo takes it back")
        self.button.setToolTip(sentence)
        self.button.setWhatsThis(sentence)
        self.button.setProperty("quiet", True)
        self.button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.button.clicked.connect(self._do)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(8)
        layout.addStretch(1)
        layout.addWidget(self.button)
        self.refresh()

    def refresh(self) -> None:
        """To be had where another patch has other settings."""
        piece = self._session.piece
        self.button.setEnabled(
            piece is not None
            and any(
                getattr(other.settings, key) != getattr(piece.settings, key)
                for other in self._session.plan.patches
                if other.settings is not piece.settings
                for key in self._keys
            )
        )

    def _do(self) -> None:
        chosen = self._session.chosen
        if chosen is not None:
            self._session.do(changes.use_for_all(self._session.plan, chosen, self._keys))


_Row: TypeAlias = "AnchorRows | SideSpansRow | RepeatsRow | QuiltedRows | _ForAll"
