"""Work that was not saved when a window ended: opened, left for later, or thrown away for good."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

from PySide6.QtCore import QDateTime, QLocale, Qt
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QMessageBox,
    QVBoxLayout,
    QWidget,
)

from app.plan.recovery import Left
from app.sketch.translate import tr, tr_n
from app.window.dialogs import question
from app.window.word_button import WordButton

_LEFT: Final = Qt.ItemDataRole.UserRole


class RecoveredDialog(QDialog):
    """A list of what was left behind. Closing it changes nothing."""

    def __init__(
        self, found: list[Left], throw_away: Callable[[Left], None], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._throw_away = throw_away
        self.setWindowTitle(tr("Recovered plans"))
        heading = QLabel(
            tr("Work that was not saved when Wedgewright ended:")
            if found
            else tr("There are no recovered plans: all work was saved, or given up.")
        )
        heading.setWordWrap(True)
        self.list = QListWidget()
        self.list.setAccessibleName(tr("Recovered plans"))
        self.list.setWhatsThis(tr("Plans as they were a moment before Wedgewright ended."))
        self.list.setWordWrap(True)
        self.list.setSpacing(4)
        self.list.setMinimumHeight(120)
        for left in found:
            item = QListWidgetItem(_described(left))
            item.setData(_LEFT, left)
            self.list.addItem(item)
        self.list.itemActivated.connect(lambda _: self.accept())
        more = QLabel(
            tr("The files themselves are as you saved them last. What you leave here is offered again.")
        )
        more.setWordWrap(True)
        self.open_ = WordButton(tr("&Open"), tr("Opens the chosen plan as unsaved work."), self.accept, self)
        self.throw = WordButton(
            tr("&Throw away…"), tr("Deletes the chosen copy for good, after asking."), self._throw, self
        )
        self.later = WordButton(tr("&Not now"), tr("Keeps all copies for another time."), self.reject, self)
        if not found:
            self.later.setText(tr("&Close"))
            self.open_.hide()
            self.throw.hide()
        self.open_.setDefault(True)
        buttons = QHBoxLayout()
        buttons.addWidget(self.throw)
        buttons.addStretch(1)
        buttons.addWidget(self.later)
        buttons.addWidget(self.open_)
        rows = QVBoxLayout(self)
        rows.setContentsMargins(24, 24, 24, 24)
        rows.setSpacing(8)
        for widget in (heading, self.list, more):
            rows.addWidget(widget)
            widget.setVisible(bool(found) or widget is heading)
        rows.addSpacing(8)
        rows.addLayout(buttons)
        self.setMinimumWidth(560)
        self.list.setCurrentRow(0)
        self._enable()

    @property
    def chosen(self) -> Left | None:
        """The one that is marked in the list."""
        item = self.list.currentItem()
        left = None if item is None else item.data(_LEFT)
        return left if isinstance(left, Left) else None

    def _throw(self) -> None:
        left = self.chosen
        if left is None:
            return
        box = question(
            self,
            tr("Throw away what was not saved of {name}?", name=_name(left)),
            tr("This cannot be undone. The file itself is not touched."),
        )
        away = box.addButton(tr("&Throw away"), QMessageBox.ButtonRole.DestructiveRole)
        keep = box.addButton(tr("&Keep it"), QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(keep)
        box.setEscapeButton(keep)
        box.exec()
        if box.clickedButton() is away:
            self._throw_away(left)
            self.list.takeItem(self.list.currentRow())
            self._enable()

    def _enable(self) -> None:
        for button in (self.open_, self.throw):
            button.setEnabled(self.chosen is not None)


def _name(left: Left) -> str:
    if left.origin.file is not None:
        return f"“{left.origin.file.name}”"
    return f"“{left.title}”" if left.title else tr("a plan without a name")


def _described(left: Left) -> str:
    when = QLocale().toString(QDateTime.fromSecsSinceEpoch(int(left.when)), QLocale.FormatType.ShortFormat)
    name = _name(left)
    where = tr("never saved in a file") if left.origin.file is None else _folder(left.origin.file)
    more = (when, tr_n("{count} patch", "{count} patches", left.patches), where)
    return f"{name[0].upper()}{name[1:]}\n{'  ·  '.join(more)}"


def _folder(file: Path) -> str:
    """In the home folder without the way there, which the user knows."""
    try:
        return str(Path("~") / file.parent.relative_to(Path.home()))
    except ValueError:
        return str(file.parent)
