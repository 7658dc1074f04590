"""What the user prefers: units, paper, and what new patches start with."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QButtonGroup,
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QRadioButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.sketch.setting_words import USUAL
from app.sketch.translate import tr
from app.window import preferences
from app.window.actions import STYLE_WORDS
from app.window.choice_field import tab_to_the_checked
from app.window.look import Look
from app.window.print_choices import PaperChoice
from app.window.session import Session
from app.window.settings_form import SettingsForm
from geometry import WedgewrightError
from geometry.units import LengthStyle


class PreferencesDialog(QDialog):
    """Nothing is kept before Keep is pressed; no plan changes."""

    def __init__(self, session: Session, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setWindowTitle(tr("Preferences"))
        self._settings = preferences.usual_settings()
        left = QVBoxLayout()
        left.setSpacing(0)
        self._styles = self._choice(
            left,
            tr("Units"),
            {style.value: tr(words) for style, words in STYLE_WORDS.items()},
            tr("How lengths are shown, and read where no unit is typed"),
        )
        left.addSpacing(16)
        self.paper = PaperChoice(preferences.print_paper(), session.style, columns=2, parent=self)
        left.addWidget(self.paper)
        left.addStretch(1)
        _check(self._styles, session.style.value)
        self._styles.buttonClicked.connect(self._show)

        right = QVBoxLayout()
        right.setSpacing(8)
        right.addWidget(_heading(tr("What new patches start with")))
        self.form = SettingsForm(look, is_open=("distance",), whole=False)
        self.form.wanted.connect(self._set)
        self.form.folded.connect(self._show)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setMinimumWidth(312)
        layout = self.form.layout()
        assert isinstance(layout, QVBoxLayout)
        layout.addStretch(1)
        area.setWidget(self.form)
        right.addWidget(area, 1)
        self.all_usual = QPushButton(tr("All as is &usual in the trade"))
        self.all_usual.setAccessibleName(tr("All as is usual in the trade"))
        self.all_usual.setToolTip(tr("New patches start with the trade’s values again"))
        self.all_usual.clicked.connect(self._all_usual)
        right.addWidget(self.all_usual)

        whole = QGridLayout(self)
        whole.setContentsMargins(24, 24, 24, 24)
        whole.setHorizontalSpacing(32)
        whole.setVerticalSpacing(24)
        whole.addLayout(left, 0, 0)
        whole.addLayout(right, 0, 1)
        whole.addLayout(self._buttons(), 1, 0, 1, 2)
        whole.setColumnStretch(1, 1)
        self.resize(640, 600)
        self._show()

    @property
    def style_chosen(self) -> LengthStyle:
        """How lengths are to be shown."""
        return LengthStyle(_chosen(self._styles))

    def accept(self) -> None:
        """Keep what was chosen."""
        self.setFocus()  # what is still being typed is told, and counts
        if self.form.is_wrong or self.paper.is_wrong:
            return
        self._session.show_in(self.style_chosen)
        preferences.store_style(self.style_chosen)
        preferences.store_print_paper(self.paper.paper)
        preferences.store_usual_settings(self._settings)
        super().accept()

    # ------------------------------------------------------------------------------------------------

    def _show(self) -> None:
        self.form.show_settings(self._settings, self.style_chosen)
        self.paper.show_in(self.style_chosen)
        self.all_usual.setEnabled(self._settings != USUAL)

    def _set(self, key: str, value: object) -> None:
        try:
            self._settings = dataclasses.replace(self._settings, **{key: value})  # type: ignore[arg-type]
        except WedgewrightError as error:
            self.form.refuse(key, str(error))
            return
        self._show()

    def _all_usual(self) -> None:
        self._settings = USUAL
        self._show()

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(8)
        row.addStretch(1)
        cancel = QPushButton(tr("Cancel"))
        cancel.setAccessibleName(tr("Cancel"))
        cancel.setToolTip(tr("Leaves everything as it was"))
        cancel.setWhatsThis(cancel.toolTip())
        cancel.setAutoDefault(False)
        cancel.clicked.connect(self.reject)
        self.keep = QPushButton(tr("&Keep"))
        self.keep.setAccessibleName(tr("Keep"))
        self.keep.setToolTip(tr("Keeps what is chosen here, for this plan and those to come"))
        self.keep.setWhatsThis(self.keep.toolTip())
        self.keep.setAutoDefault(False)  # Enter belongs to the field that is typed in
        self.keep.clicked.connect(self.accept)
        self.all_usual.setAutoDefault(False)
        row.addWidget(cancel)
        row.addWidget(self.keep)
        return row

    def _choice(
        self, layout: QVBoxLayout, question: str, answers: Mapping[str, str], sentence: str
    ) -> QButtonGroup:
        layout.addWidget(_heading(question))
        layout.addSpacing(4)
        group = QButtonGroup(self)
        for choice, words in answers.items():
            button = QRadioButton(words)
            plain = words.replace("&", "")
            button.setProperty("choice", choice)
            button.setAccessibleName(tr("{question}: {answer}", question=question, answer=plain))
            button.setToolTip(sentence)
            button.setWhatsThis(sentence)
            group.addButton(button)
            tab_to_the_checked(button)
            layout.addWidget(button)
        return group


def _heading(words: str) -> QLabel:
    label = QLabel(words)
    label.setProperty("part", "heading")
    return label


def _check(group: QButtonGroup, choice: str) -> None:
    for button in group.buttons():
        button.setChecked(button.property("choice") == choice)


def _chosen(group: QButtonGroup) -> str:
    button = group.checkedButton()
    assert button is not None  # one of a group always stays checked
    return str(button.property("choice"))
