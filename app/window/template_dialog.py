"""What to print of which patch, on which paper, with the real sheets laid over the patch as it is chosen."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLabel, QWidget

from app.exporting import TemplateKind, TemplateOptions, write_template
from app.exporting.print_job import PrintJob
from app.exporting.template import NamedFit, Progress, template_drawing
from app.sketch.display_list import DisplayList, LayerName
from app.sketch.translate import tr, tr_n
from app.window import preferences
from app.window.count_field import CountField
from app.window.dialogs import Dialogs
from app.window.look import Look
from app.window.print_choices import Choice, LengthRow, PaperChoice, PatchChoice, connect_all
from app.window.print_dialog import PrintDialog
from app.window.print_spreads import Spread, spreads_of
from app.window.session import Session

_MOST_COPIES = 99


class TemplateDialog(PrintDialog):
    """Knows the plan; changes nothing of it."""

    def __init__(self, session: Session, dialogs: Dialogs, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(tr("Template"), dialogs, look, parent, over_patch=True)
        self._session = session
        self._fits: list[NamedFit] = []
        style, last = session.style, preferences.template_options()
        self._last = last
        self.stage.about.setText(
            tr("True size: print at 100 %, without fitting to the page. Each sheet has its row and column.")
        )
        self.patches = PatchChoice([piece.name for piece in session.plan.patches], session.chosen)
        self.paper = PaperChoice(preferences.print_paper(), style)
        self.margin_row = LengthRow(
            tr("Mar&gin"), tr("Kept white along each edge: at least what your printer leaves unprinted.")
        )
        self.margin_row.show_value(last.margin, style)
        self.kind = Choice(
            tr("W&hat to print"),
            {
                TemplateKind.BOTH: tr("Lines and marks"),
                TemplateKind.LINES: tr("Lines only"),
                TemplateKind.MARKS: tr("Marks only"),
            },
        )
        self.kind.choose(last.kind)
        self.echoes = self._tick(tr("E&choes"), tr("The lines inside the wedges."), last.echoes)
        self.numbers = self._tick(tr("&Numbers"), tr("The numbers of the wedges."), last.numbers)
        self.arrows = self._tick(tr("&Arrows"), tr("Arrows along the stitch path."), last.arrows)
        self.mirrored = self._tick(
            tr("&Mirrored, for the back"),
            tr("Left and right change places, to mark from the back."),
            last.mirrored,
        )
        self.together = self._tick(
            tr("Se&veral patches on a sheet"), tr("Where they fit, to spare paper."), last.together
        )
        self.copies = CountField(tr("Copies of each"), look, self, most=_MOST_COPIES)
        self.copies.setFixedWidth(120)
        for widget in (self.copies, self.copies.box):
            widget.setToolTip(tr("How often each patch is printed."))
            widget.setWhatsThis(tr("How often each patch is printed."))
        self._lay_out()
        self.offer(tr("Save d&rawing…"), tr("Lines, true to size, for another program."), self._save_drawing)
        self.offer(tr("Save pict&ure…"), tr("A picture, as fine as you choose."), self._save_picture)
        self.settle()
        connect_all(
            [
                self.patches.changed,
                self.paper.changed,
                self.margin_row.told,
                self.kind.chosen,
                self.copies.told,
                *(each.toggled for each in (self.echoes, self.numbers, self.arrows)),
                *(each.toggled for each in (self.mirrored, self.together)),
            ],
            self._make,
        )
        self._make()

    def options(self) -> TemplateOptions:
        """What is chosen."""
        return TemplateOptions(
            kind=self.kind.value,
            mirrored=self.mirrored.isChecked(),
            echoes=self.echoes.isChecked(),
            numbers=self.numbers.isChecked(),
            arrows=self.arrows.isChecked(),
            copies=self.copies.box.value(),
            together=self.together.isChecked(),
            paper=self.paper.paper,
            margin=self.margin_row.mm,
            mark_shape=self._last.mark_shape,
            mark_size=self._last.mark_size,
        )

    def margin(self) -> float:
        return self.margin_row.mm

    def name(self) -> str:
        return self._fits[0][0] if len(self._fits) == 1 else self._session.plan.title or tr("template")

    def done_words(self, name: str) -> str:
        return tr("The template is in “{name}”", name=name)

    def remember(self) -> None:
        preferences.store_template_options(self.options())

    # ------------------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
        add, space = self.choices.addWidget, self.choices.addSpacing
        add(self.patches)
        add(self.together)
        copies = QHBoxLayout()
        label = QLabel(tr("Copies o&f each"), self)
        label.setBuddy(self.copies)
        copies.addWidget(label, 1)
        copies.addWidget(self.copies)
        self.choices.addLayout(copies)
        space(8)
        add(self.paper)
        add(self.margin_row)
        space(8)
        add(self.kind)
        row = QHBoxLayout()
        row.setSpacing(12)
        for each in (self.echoes, self.numbers, self.arrows):
            row.addWidget(each)
        row.addStretch(1)
        self.choices.addLayout(row)
        add(self.mirrored)

    def _tick(self, words: str, about: str, on: bool) -> QCheckBox:
        box = QCheckBox(words, self)
        box.setChecked(on)
        box.setAccessibleName(words.replace("&", ""))
        for say in (box.setToolTip, box.setWhatsThis, box.setAccessibleDescription):
            say(about)
        return box

    def _make(self) -> None:
        """The sheets of what is chosen now; what cannot be chosen beside it is switched off."""
        lines = self.kind.value is not TemplateKind.MARKS
        for box in (self.echoes, self.numbers, self.arrows):
            box.setEnabled(lines)
        numbers = self.patches.numbers
        self.together.setEnabled(len(numbers) > 1 or self.copies.box.value() > 1)
        made: list[PrintJob] = []
        self._fits = []

        def work(progress: Progress) -> None:
            pieces = [self._session.plan.patches[number] for number in numbers]
            for done, piece in enumerate(pieces):
                self._fits.append((piece.name, self._session.fit_of(piece)))
                progress(done, 2 * len(pieces))
            made.append(
                PrintJob.of(
                    self._fits,
                    self.options(),
                    self._session.style,
                    lambda done, of: progress(of + done, 2 * of),
                )
            )

        self.make(tr("Laying out the sheets"), work)
        if not made:
            return
        job = made[0]
        names = [name for name, _ in self._fits]
        self.show_pages(job, names)
        paper = self.paper.paper.name
        heading = tr_n("{count} sheet of {paper}", "{count} sheets of {paper}", job.count, paper=paper)
        self.stage.show_print(heading, job, spreads_of(job.pages, names), self._drawings)

    def _drawings(self, spread: Spread) -> Sequence[DisplayList]:
        options, style = self.options(), self._session.style
        return [
            placement.drawing(_without_findings(template_drawing(self._fits[patch][1], options, style)))
            for patch, placement in spread.patches
        ]

    def _save_drawing(self) -> None:
        asked = self._dialogs.drawing(self.options(), self._session.style)
        if asked is not None:
            options, ending = asked
            self._last = options
            self._save_with(self._dialogs.where_to_print(self.name(), (ending,)), options)

    def _save_picture(self) -> None:
        dots = self._dialogs.resolution(preferences.resolution())
        if dots is not None:
            preferences.store_resolution(dots)
            self._save_with(self._dialogs.where_to_print(self.name(), (".png",)), self.options(), dots)

    def _save_with(
        self, path: Path | None, options: TemplateOptions, dots_per_inch: int | None = None
    ) -> None:
        fits, style = self._fits, self._session.style

        def write(place: Path, progress: Progress) -> None:
            write_template(place, fits, options, style=style, progress=progress, dots_per_inch=dots_per_inch)

        self.save(path, write)


def _without_findings(drawing: DisplayList) -> DisplayList:
    """What is looked at here are the sheets; their words would lie on each other."""
    layers = tuple(layer for layer in drawing.layers if layer.name is not LayerName.FINDINGS)
    return DisplayList(layers, drawing.bounds)
