"""The controls that a print's choices are made of."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QButtonGroup,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from app.exporting.sheets import PAPERS, Paper
from app.sketch.quantity import LENGTH
from app.sketch.translate import tr
from app.window.choice_field import tab_to_the_checked
from app.window.look import LEAST_TARGET
from app.window.typed_field import TypedField
from geometry.units import LengthStyle

_OWN: Final = "own"
_ROWS: Final = 5
"""Of the list of patches; more are scrolled to."""


class Choice(QWidget):
    """One of several answers to a question; its access key leads to the one that is chosen."""

    chosen = Signal(object)

    def __init__(
        self, question: str, answers: Mapping[Any, str], columns: int = 1, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._heading = QLabel(question, self)
        self._heading.setProperty("part", "heading")
        plain = question.replace("&", "")
        self._group = QButtonGroup(self)
        self._buttons: dict[Any, QRadioButton] = {}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(0)
        grid.addWidget(self._heading, 0, 0, 1, columns)
        for number, (answer, words) in enumerate(answers.items()):
            button = QRadioButton(words, self)
            button.setAccessibleName(tr("{question}: {answer}", question=plain, answer=words))
            button.setToolTip(button.accessibleName())
            self._group.addButton(button)
            self._buttons[answer] = button
            grid.addWidget(button, 1 + number // columns, number % columns)
            tab_to_the_checked(button)
            button.toggled.connect(lambda on, answer=answer: self._follow(answer) if on else None)
        self.choose(next(iter(answers)))

    @property
    def value(self) -> Any:
        """The answer that is chosen."""
        return next(answer for answer, button in self._buttons.items() if button.isChecked())

    def choose(self, value: Any) -> None:
        """Choose that answer."""
        self._buttons[value].setChecked(True)

    def _follow(self, answer: Any) -> None:
        self._heading.setBuddy(self._buttons[answer])
        self.chosen.emit(answer)


class LengthRow(QWidget):
    """A length with its name before it, and below what is wrong with what was typed."""

    told = Signal(float)

    def __init__(self, name: str, about: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._mm = 0.0
        self.field = TypedField(parent=self)
        self.field.setAccessibleName(name.replace("&", ""))
        for say in (self.field.setToolTip, self.field.setWhatsThis, self.field.setAccessibleDescription):
            say(about)
        self.field.setFixedWidth(120)
        label = QLabel(name, self)
        label.setBuddy(self.field)
        self._wrong = QLabel(self)
        self._wrong.setProperty("part", "problem")
        self._wrong.setWordWrap(True)
        self._wrong.hide()
        row = QHBoxLayout()
        row.addWidget(label, 1)
        row.addWidget(self.field)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addLayout(row)
        layout.addWidget(self._wrong)
        self.field.told.connect(self._take)
        self.field.wrong.connect(self._show_wrong)
        self._style = LengthStyle.EIGHTHS

    @property
    def mm(self) -> float:
        """The length."""
        return self._mm

    @property
    def is_wrong(self) -> bool:
        """Whether what was typed cannot be read."""
        return not self._wrong.isHidden()

    def show_value(self, mm: float, style: LengthStyle) -> None:
        """Show a length, without telling it."""
        self._mm, self._style = mm, style
        self.field.show_value(mm, style)

    def _take(self, mm: float) -> None:
        self.show_value(mm, self._style)
        self.told.emit(mm)

    def _show_wrong(self, sentence: str) -> None:
        self._wrong.setText(f"▲ {sentence}")
        self._wrong.setVisible(bool(sentence))


class PaperChoice(QWidget):
    """A paper that is known, or one's own by its width and height."""

    changed = Signal()

    def __init__(
        self, paper: Paper, style: LengthStyle, columns: int = 3, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._style = style
        answers = {key: each.name for key, each in PAPERS.items()} | {_OWN: tr("Own size")}
        self._choice = Choice(tr("&Paper"), answers, columns, parent=self)
        self.width_row = LengthRow(tr("Wid&th"), tr("How wide your paper is, held upright."), self)
        self.height_row = LengthRow(tr("H&eight"), tr("How high your paper is, held upright."), self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        layout.addWidget(self._choice)
        key = paper.name.lower()
        self._choice.choose(key if key in PAPERS else _OWN)
        for row, mm in ((self.width_row, paper.width), (self.height_row, paper.height)):
            row.show_value(mm, style)
            row.told.connect(self._tell)
            layout.addWidget(row)
        self._choice.chosen.connect(self._tell)
        self._show_own()

    @property
    def paper(self) -> Paper:
        """What is chosen; an own size has its lengths for a name."""
        if not self.is_own:
            return PAPERS[self._choice.value]
        sides = self.width_row.mm, self.height_row.mm
        return Paper(" × ".join(LENGTH.words(mm, self._style) for mm in sides), *sides)

    @property
    def is_own(self) -> bool:
        """Whether it is a size of one's own."""
        return bool(self._choice.value == _OWN)

    @property
    def is_wrong(self) -> bool:
        """Whether an own size cannot be read."""
        return self.is_own and (self.width_row.is_wrong or self.height_row.is_wrong)

    def show_in(self, style: LengthStyle) -> None:
        """Show an own size in that style; what is being typed stays where the style does."""
        if style is self._style:
            return
        self._style = style
        for row in (self.width_row, self.height_row):
            row.show_value(row.mm, style)

    def _show_own(self) -> None:
        for row in (self.width_row, self.height_row):
            row.setVisible(self.is_own)

    def _tell(self) -> None:
        self._show_own()
        self.changed.emit()


class PatchChoice(QWidget):
    """The patch that is worked on, all, or those that are ticked."""

    changed = Signal()
    THIS, ALL, CHOSEN = "this", "all", "chosen"

    def __init__(self, names: Sequence[str], chosen: int | None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._chosen = chosen
        answers = {
            self.THIS: tr("This patch"),
            self.ALL: tr("All patches"),
            self.CHOSEN: tr("Chosen patches"),
        }
        if chosen is None:
            del answers[self.THIS]
        self.choice = Choice(tr("&Which patches"), answers, parent=self)
        self.list = QListWidget(self)
        self.list.setAccessibleName(tr("Chosen patches"))
        self.list.setWhatsThis(tr("Space ticks a patch, or takes the tick away."))
        self.list.setToolTip(self.list.whatsThis())
        self.list.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        row = max(self.fontMetrics().height() + 8, LEAST_TARGET)
        for number, name in enumerate(names):
            item = QListWidgetItem(name, self.list)
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Checked if number == chosen else Qt.CheckState.Unchecked)
            item.setSizeHint(QSize(0, row))
        self.list.setFixedHeight(min(len(names), _ROWS) * row + 8)
        self.list.hide()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.choice)
        layout.addWidget(self.list)
        self.choice.chosen.connect(self._tell)
        self.list.itemChanged.connect(lambda item: self.changed.emit())

    @property
    def numbers(self) -> list[int]:
        """Which patches, from 0, in the plan's order."""
        every = range(self.list.count())
        if self.choice.value == self.THIS and self._chosen is not None:
            return [self._chosen]
        if self.choice.value == self.ALL:
            return list(every)
        return [row for row in every if self.list.item(row).checkState() is Qt.CheckState.Checked]

    def _tell(self, value: object) -> None:
        self.list.setVisible(value == self.CHOSEN)
        self.changed.emit()


def connect_all(changed: Sequence[Any], do: Callable[[], object]) -> None:
    """Call ``do`` whenever one of these signals comes, whatever it tells."""
    for signal in changed:
        signal.connect(lambda *_: do())
