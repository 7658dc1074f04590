"""What to print, and on which paper; the sheets themselves are made by the exporters."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

from PySide6.QtWidgets import (
    QButtonGroup,
    QDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from app.exporting import TemplateKind, TemplateOptions, write_template
from app.exporting.sheets import PAPERS
from app.sketch.translate import tr
from app.window import preferences
from app.window.session import Session
from geometry import Fit

_PAPER_WORDS: Final = {
    "letter": "Lett&er",
    "legal": "Le&gal",
    "tabloid": "Ta&bloid",
    "a4": "A&4",
    "a3": "A&3",
}


class TemplateDialog(QDialog):
    """Paper, kind, and whether this patch or all; ``accepted`` when the user wants the file."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setWindowTitle(tr("Template"))
        about = QLabel(tr("True size, over as many sheets as it takes. Print it at 100 %."))
        about.setWordWrap(True)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 24, 24, 24)
        layout.setSpacing(8)
        layout.addWidget(about)
        self._paper = self._choice(
            layout, tr("Paper"), {key: tr(_PAPER_WORDS[key]) for key in PAPERS}, level=True
        )
        usual = preferences.paper()
        for button in self._paper.buttons():
            button.setChecked(button.property("choice") == usual.name.lower())
        self._kinds = self._choice(
            layout,
            tr("What to print"),
            {
                TemplateKind.BOTH: tr("&Lines and marks"),
                TemplateKind.LINES: tr("Li&nes only"),
                TemplateKind.MARKS: tr("&Marks only"),
            },
        )
        self._extent = self._choice(
            layout, tr("Of which patch"), {"one": tr("&This patch"), "all": tr("&All patches")}
        )
        layout.addSpacing(16)
        buttons = QHBoxLayout()
        buttons.addStretch(1)
        cancel = QPushButton(tr("Cancel"))
        cancel.clicked.connect(self.reject)
        save = QPushButton(tr("&Save as PDF…"))
        save.setDefault(True)
        save.clicked.connect(self.accept)
        save.setFocus()
        buttons.addWidget(cancel)
        buttons.addWidget(save)
        layout.addLayout(buttons)
        self.setMinimumWidth(400)

    def write(self, path: Path) -> None:
        """Write what was chosen to ``path``. Raises ``WedgewrightError``."""
        write_template(
            path,
            self._fits(),
            TemplateOptions(
                kind=TemplateKind(_choice_of(self._kinds)), paper=PAPERS[_choice_of(self._paper)]
            ),
            style=self._session.style,
        )

    def _fits(self) -> list[tuple[str, Fit]]:
        pieces = self._session.plan.patches
        chosen = self._session.chosen
        if _choice_of(self._extent) == "one" and chosen is not None:
            pieces = (pieces[chosen],)
        return [(piece.name, self._session.fit_of(piece)) for piece in pieces]

    def _choice(
        self, layout: QVBoxLayout, question: str, answers: Mapping[str, str], *, level: bool = False
    ) -> QButtonGroup:
        """One of several answers to a question, side by side where ``level``."""
        heading = QLabel(question)
        heading.setProperty("part", "heading")
        layout.addSpacing(8)
        layout.addWidget(heading)
        rows = QHBoxLayout() if level else QVBoxLayout()
        layout.addLayout(rows)
        group = QButtonGroup(self)
        for choice, words in answers.items():
            button = QRadioButton(words)
            button.setProperty("choice", str(choice))
            button.setAccessibleDescription(question)
            group.addButton(button)
            rows.addWidget(button)
        group.buttons()[0].setChecked(True)
        return group


def _choice_of(group: QButtonGroup) -> str:
    button = group.checkedButton()
    assert button is not None  # the first is checked, and one of a group always stays so
    return str(button.property("choice"))
