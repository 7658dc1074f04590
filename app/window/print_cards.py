"""Cards and sheets to read from: for which patches, on which paper, and each page as it is printed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from PySide6.QtWidgets import QWidget

from app.exporting.card_page import PAGE_MARGIN
from app.exporting.cards import CardJob, CardKind, CardPatch
from app.exporting.template import NamedFit, Progress
from app.sketch import changes
from app.sketch.translate import tr, tr_n
from app.window import preferences
from app.window.dialogs import Dialogs
from app.window.look import Look
from app.window.print_choices import PaperChoice, PatchChoice, connect_all
from app.window.print_dialog import PrintDialog
from app.window.session import Session
from geometry import WedgewrightError

_TITLES: Final = {
    CardKind.MARKING: "Marking card",
    CardKind.STITCHING: "Stitching card",
    CardKind.PLAN: "Plan sheet",
    CardKind.TRIES: "Try sheet",
}
_ABOUT: Final = {
    CardKind.MARKING: "Every mark’s distances, for marking with a ruler alone.",
    CardKind.STITCHING: "The order of the wedges, and how to stitch them.",
    CardKind.PLAN: "All patches of the plan, with their totals.",
    CardKind.TRIES: "The tries of each patch side by side, to compare on paper.",
}
"""Still to be translated, as the titles."""


class CardDialog(PrintDialog):
    """Knows the plan; changes nothing of it."""

    def __init__(
        self,
        session: Session,
        dialogs: Dialogs,
        look: Look,
        kind: CardKind,
        parent: QWidget | None = None,
    ) -> None:
        self._title = tr(_TITLES[kind])
        super().__init__(self._title, dialogs, look, parent, over_patch=False)
        self._session = session
        self._kind = kind
        self.stage.about.setText(tr(_ABOUT[kind]))
        self.patches = PatchChoice([piece.name for piece in session.plan.patches], session.chosen)
        if kind is CardKind.PLAN:
            self.patches.choice.choose(PatchChoice.ALL)
            self.patches.hide()
        self.paper = PaperChoice(preferences.print_paper(), session.style)
        self.choices.addWidget(self.patches)
        self.choices.addSpacing(8)
        self.choices.addWidget(self.paper)
        self.settle()
        connect_all([self.patches.changed, self.paper.changed], self._make)
        self._make()

    def margin(self) -> float:
        return PAGE_MARGIN

    def name(self) -> str:
        numbers = self.patches.numbers
        patches = self._session.plan.patches
        plan = self._session.plan.title
        of = patches[numbers[0]].name if len(numbers) == 1 and self._kind is not CardKind.PLAN else plan
        title = self._title.lower()
        return tr("{patch} {title}", patch=of, title=title) if of else title

    def done_words(self, name: str) -> str:
        return tr("{title}: in “{name}”", title=self._title, name=name)

    def remember(self) -> None:
        preferences.store_print_paper(self.paper.paper)

    # ------------------------------------------------------------------------------------------------

    def _make(self) -> None:
        made: list[CardJob] = []

        def work(progress: Progress) -> None:
            numbers = self.patches.numbers
            patches = []
            for done, number in enumerate(numbers):
                patches.append(self._card_patch(number))
                progress(done, 2 * len(numbers))
            style, title = self._session.style, self._session.plan.title
            made.append(
                CardJob.of(
                    patches,
                    self._kind,
                    self.paper.paper,
                    style,
                    title,
                    lambda done, of: progress(of + done, 2 * of),
                )
            )

        self.make(tr("Laying out the pages"), work)
        if made:
            job = made[0]
            self.show_pages(job, job.names)
            paper = self.paper.paper.name
            self.stage.show_print(
                tr_n("{count} page of {paper}", "{count} pages of {paper}", job.count, paper=paper), job
            )

    def _card_patch(self, number: int) -> CardPatch:
        piece = self._session.plan.patches[number]
        tries = tuple(self._tries(number)) if self._kind is CardKind.TRIES else ()
        return CardPatch(piece.name, self._session.fit_of(piece), piece.repeats, tries)

    def _tries(self, number: int) -> Iterable[NamedFit]:
        """Those that can be fitted: the patch may have been reshaped since."""
        plan = self._session.plan
        for row, kept in enumerate(plan.patches[number].tries):
            try:
                piece = changes.bring_back(plan, number, row).after.patches[number]
                yield (kept.name, self._session.fit_of(piece))
            except WedgewrightError:
                continue
