"""The large half of a print's window: the count, the sheets over the patch, and each as printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeAlias

from PySide6.QtCore import QEvent, QSize, Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QTabBar, QVBoxLayout, QWidget

from app.exporting.paged import Paged
from app.sketch.display_list import DisplayList
from app.sketch.translate import tr
from app.window.announce import announce
from app.window.glyphs import ICON_SIZE
from app.window.icon_button import IconButton
from app.window.look import LEAST_TARGET, Look
from app.window.print_overlay import SheetsOverlay
from app.window.print_page_view import PageView
from app.window.print_spreads import Spread

Drawings: TypeAlias = Callable[[Spread], Sequence[DisplayList]]
"""What to draw under a spread's sheets."""


class Stage(QWidget):
    """Shows one print at a time; a print without spreads is shown sheet by sheet only."""

    def __init__(self, look: Look, parent: QWidget | None = None, *, over_patch: bool = True) -> None:
        super().__init__(parent)
        self._pages: Paged | None = None
        self._spreads: Sequence[Spread] = ()
        self._drawings: Drawings = lambda spread: ()
        self._spread = 0
        self._page = 0
        self.heading = QLabel(self)
        self.heading.setProperty("part", "title")
        self.heading.setWordWrap(True)
        self.heading.setTextFormat(Qt.TextFormat.PlainText)
        self.about = QLabel(self)
        self.about.setProperty("part", "quiet")
        self.about.setWordWrap(True)
        self.about.setTextFormat(Qt.TextFormat.PlainText)
        self.wrong = QLabel(self)
        self.wrong.setProperty("part", "problem")
        self.wrong.setWordWrap(True)
        self.wrong.setTextFormat(Qt.TextFormat.PlainText)
        self.wrong.hide()
        self.note = QLabel(self)
        self.note.setWordWrap(True)
        self.note.setTextFormat(Qt.TextFormat.PlainText)
        self.note.hide()
        self.tabs = QTabBar(self)
        self.tabs.addTab(tr("&Over the patch"))
        self.tabs.addTab(tr("A&s printed"))
        self.tabs.setDrawBase(False)
        self.tabs.setExpanding(False)
        self.tabs.setAccessibleName(tr("How the sheets are shown"))
        self.tabs.setWhatsThis(tr("The sheets laid over the patch, or one by one as they are printed."))
        self.tabs.setVisible(over_patch)
        self.tabs.currentChanged.connect(self._turn_to)
        self.overlay = SheetsOverlay(look, self)
        self.page_view = PageView(look, self)
        self._stack = QStackedWidget(self)
        self._stack.addWidget(self.overlay)
        self._stack.addWidget(self.page_view)
        self._over_patch = over_patch
        self._stack.setCurrentIndex(0 if over_patch else 1)
        self.back = IconButton("step-back", tr("Back"), look, self)
        self.on = IconButton("step-on", tr("On"), look, self)
        self.where = QLabel(self)
        self.where.setTextFormat(Qt.TextFormat.PlainText)
        self.where.setAlignment(Qt.AlignmentFlag.AlignCenter)
        steps = QHBoxLayout()
        steps.setSpacing(8)
        for button, by in ((self.back, -1), (self.on, 1)):
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            button.setAutoRepeat(True)
            button.setFixedSize(LEAST_TARGET + 8, LEAST_TARGET + 4)
            button.setIconSize(QSize(ICON_SIZE + 2, ICON_SIZE + 2))
            button.clicked.connect(lambda _=False, by=by: self.step(by))
        steps.addStretch(1)
        steps.addWidget(self.back)
        steps.addWidget(self.where)
        steps.addWidget(self.on)
        steps.addStretch(1)
        top = QHBoxLayout()
        top.addWidget(self.heading, 1)
        top.addWidget(self.tabs, 0, Qt.AlignmentFlag.AlignTop)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(8)
        layout.addLayout(top)
        layout.addWidget(self.about)
        layout.addWidget(self.wrong)
        layout.addWidget(self.note)
        layout.addWidget(self._stack, 1)
        layout.addLayout(steps)

    def show_print(
        self, heading: str, pages: Paged, spreads: Sequence[Spread] = (), drawings: Drawings | None = None
    ) -> None:
        """Show what is printed, at the place that was looked at before as far as there is one."""
        self._pages, self._spreads = pages, spreads
        self._drawings = drawings or self._drawings
        self._spread = min(self._spread, max(len(spreads) - 1, 0))
        self._page = min(self._page, pages.count - 1)
        if heading != self.heading.text():
            self.heading.setText(heading)
            announce(self.heading, heading)
        self.wrong.hide()
        self._refresh()

    def show_wrong(self, sentence: str) -> None:
        """Nothing can be printed so; the sentence that says why."""
        self._pages, self._spreads = None, ()
        self.heading.setText(tr("No sheets"))
        self.wrong.setText(f"▲ {sentence}")
        self.wrong.show()
        announce(self.wrong, sentence)
        self._refresh()

    def show_note(self, sentence: str) -> None:
        """What is to be known before it is printed; empty: nothing."""
        if sentence and self.note.isHidden():
            announce(self.note, sentence)
        self.note.setText(f"△ {sentence}" if sentence else "")
        self.note.setVisible(bool(sentence))

    def step(self, by: int) -> None:
        """On or back by spreads, or by sheets where those are shown as printed."""
        if self._shows_spreads:
            self._spread = min(max(self._spread + by, 0), len(self._spreads) - 1)
        elif self._pages is not None:
            self._page = min(max(self._page + by, 0), self._pages.count - 1)
        self._refresh()
        announce(self.where, self.where.text())

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        # It may come while the stage is being made, and before there is anything to lay out anew.
        if event.type() == QEvent.Type.FontChange and self._pages is not None:
            self._refresh()

    @property
    def _shows_spreads(self) -> bool:
        return self._over_patch and self.tabs.currentIndex() == 0

    def _turn_to(self, tab: int) -> None:
        """What was looked at one way is looked at the other way."""
        if self._spreads and tab == 1:
            self._page = self._spreads[self._spread].sheets[0].page
        elif self._spreads:
            self._spread = next(
                (
                    number
                    for number, spread in enumerate(self._spreads)
                    if any(sheet.page == self._page for sheet in spread.sheets)
                ),
                self._spread,
            )
        self._stack.setCurrentIndex(tab)
        self._refresh()

    def _refresh(self) -> None:
        if self._shows_spreads:
            at, count = self._spread, len(self._spreads)
            spread = self._spreads[at] if self._spreads else None
            self.overlay.show_spread(spread, self._drawings(spread) if spread is not None else ())
            words = spread.words if spread is not None else ""
            if count > 1:
                words = tr("{number} of {count}   {words}", number=at + 1, count=count, words=words)
        else:
            at, count = self._page, 0 if self._pages is None else self._pages.count
            self.page_view.show_page(self._pages, at)
            words = tr("sheet {number} of {count}", number=at + 1, count=count) if count > 1 else ""
        self.where.setText(words)
        self.back.setEnabled(at > 0)
        self.on.setEnabled(at + 1 < count)
        for button in (self.back, self.on):
            button.setVisible(count > 1)
