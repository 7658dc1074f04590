"""What a drawing is for: a picture of the template, or what a stencil cutter cuts."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import Final

from PySide6.QtWidgets import QDialog, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from app.exporting.options import MarkShape, TemplateOptions, check_mark_size
from app.sketch.translate import tr
from app.window.print_choices import Choice, LengthRow
from geometry import WedgewrightError
from geometry.units import LengthStyle


class Drawing(StrEnum):
    """Kinds of drawings."""

    PICTURE = "picture"
    CUTTER_SVG = "cutter svg"
    CUTTER_DXF = "cutter dxf"

    @property
    def ending(self) -> str:
        """Of the file's name."""
        return ".dxf" if self is Drawing.CUTTER_DXF else ".svg"


_WORDS: Final = {
    Drawing.PICTURE: "The template as it looks (SVG)",
    Drawing.CUTTER_SVG: "For a stencil cutter (SVG)",
    Drawing.CUTTER_DXF: "For a stencil cutter (DXF)",
}
_SHAPES: Final = {MarkShape.CIRCLE: "A circle", MarkShape.CROSS: "A cross"}
"""Still to be translated, as the words."""


class DrawingDialog(QDialog):
    """``options`` and ``drawing`` are what was chosen when it is accepted."""

    def __init__(self, options: TemplateOptions, style: LengthStyle, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Save drawing"))
        self._options = options
        self.kind = Choice(tr("&What for"), {each: tr(words) for each, words in _WORDS.items()})
        self.shape = Choice(tr("A &mark is cut as"), {each: tr(words) for each, words in _SHAPES.items()}, 2)
        self.shape.choose(options.mark_shape)
        self.size_row = LengthRow(tr("&How wide"), tr("How wide a cutter cuts a mark."))
        self.size_row.show_value(options.mark_size, style)
        self.size_row.told.connect(self._check)
        self.caution = QLabel(
            tr("Blades cut: keep to the cutter’s own manual, and try on paper first."), self
        )
        self.caution.setProperty("part", "quiet")
        self.caution.setWordWrap(True)
        cancel = QPushButton(tr("Cancel"), self)
        cancel.clicked.connect(self.reject)
        cancel.setAutoDefault(False)
        self.save = QPushButton(tr("&Save…"), self)
        self.save.setDefault(True)
        self.save.clicked.connect(self.accept)
        for button, about in ((cancel, tr("Saves nothing.")), (self.save, tr("Asks where, and saves it."))):
            button.setAccessibleName(button.text().replace("&", "").replace("…", ""))
            button.setToolTip(about)
            button.setWhatsThis(about)
        buttons = QHBoxLayout()
        buttons.addStretch(1)
        buttons.addWidget(cancel)
        buttons.addWidget(self.save)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 24, 24, 24)
        layout.setSpacing(8)
        for widget in (self.kind, self.shape, self.size_row, self.caution):
            layout.addWidget(widget)
        layout.addSpacing(8)
        layout.addLayout(buttons)
        self.setMinimumWidth(360)
        self.kind.chosen.connect(self._follow)
        self._follow(self.kind.value)
        self.save.setFocus()

    @property
    def drawing(self) -> Drawing:
        """Which kind."""
        return Drawing(self.kind.value)

    @property
    def options(self) -> TemplateOptions:
        """Those that were given, with what the cutter needs."""
        return replace(
            self._options,
            cutter=self.drawing is not Drawing.PICTURE,
            mark_shape=self.shape.value,
            mark_size=self.size_row.mm,
        )

    def accept(self) -> None:
        """What is still being typed counts; what cannot be is said."""
        self.size_row.field.editingFinished.emit()
        if self.drawing is Drawing.PICTURE or not self.size_row.is_wrong:
            super().accept()

    def _follow(self, kind: Drawing) -> None:
        for widget in (self.shape, self.size_row, self.caution):
            widget.setEnabled(kind is not Drawing.PICTURE)

    def _check(self, size: float) -> None:
        try:
            check_mark_size(size)
        except WedgewrightError as error:
            self.size_row.field.refuse(str(error))
