"""Questions that stop the work: files, units, unsaved work. Each is one method, with one answer."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFileDialog, QLabel, QMessageBox, QPushButton, QWidget

from app.plan.atomic import previous_path
from app.plan.plan_file import SUFFIX
from app.sketch.translate import tr
from geometry.units import LengthStyle, Unit

if TYPE_CHECKING:
    from PySide6.QtGui import QPageLayout
    from PySide6.QtPrintSupport import QPrinter
    from shapely import Polygon

    from app.exporting.options import TemplateOptions
    from app.importing import Progress, Rough
    from app.window.look import Look

T = TypeVar("T")

_PRINTED: Final = {
    ".pdf": "Sheets to print",
    ".png": "Picture",
    ".svg": "Drawing, true to size",
    ".dxf": "Drawing, true to size",
}
"""What a file of each ending is. Still to be translated."""


_MARGINS: Final = (24, 24, 24, 16)
"""px, around a question as around every dialog."""


class Unsaved(StrEnum):
    """What to do with work that is not saved."""

    SAVE = "save"
    DISCARD = "discard"
    CANCEL = "cancel"


class Overwrite(StrEnum):
    """What to do with a file that something else has changed since it was opened."""

    OVERWRITE = "overwrite"
    ELSEWHERE = "elsewhere"
    CANCEL = "cancel"


class Dialogs:
    """Asks over ``parent``; starts where the last file was."""

    def __init__(self, parent: QWidget, look: Look) -> None:
        self._parent = parent
        self._look = look
        self._folder = Path.home()

    def plan_to_open(self) -> Path | None:
        """A plan file, or None."""
        name, _ = QFileDialog.getOpenFileName(
            self._parent, tr("Open a plan"), str(self._folder), _plan_filter()
        )
        return self._chosen(name)

    def files_to_import(self) -> list[Path]:
        """Files with outlines, or none."""
        names, _ = QFileDialog.getOpenFileNames(
            self._parent,
            tr("Import patches"),
            str(self._folder),
            _outline_filters(),
        )
        return [path for name in names if (path := self._chosen(name)) is not None]

    def photo_to_open(self) -> Path | None:
        """A photo, or None."""
        from app.importing.photo import PHOTO_ENDINGS

        endings = " ".join(f"*{ending} *{ending.upper()}" for ending in PHOTO_ENDINGS)
        name, _ = QFileDialog.getOpenFileName(
            self._parent, tr("Open a photo"), str(self._folder),
            tr("Photos ({endings});;All files (*)", endings=endings),
        )  # fmt: skip
        return self._chosen(name)

    def where_to_save(self, title: str, present: Path | None) -> Path | None:
        """Where the plan is to lie, with its ending, or None."""
        start = present or self._folder / f"{_file_name(title) or tr('quilt')}{SUFFIX}"
        return self._place(tr("Save the plan"), start, dict.fromkeys(_plan_filter().split(";;"), SUFFIX))

    def where_to_print(self, title: str, endings: Sequence[str] = (".pdf",)) -> Path | None:
        """Where the print is to lie, with one of ``endings``, or None."""
        start = self._folder / f"{_file_name(title) or tr('template')}{endings[0]}"
        filters = {f"{tr(_PRINTED[ending])} (*{ending})": ending for ending in endings}
        return self._place(tr("Save the print"), start, filters)

    def another_place(self, sentence: str, path: Path) -> Path | None:
        """Another place for what could not be written to ``path``, as ``sentence`` says; or None."""
        if not self._goes_elsewhere(sentence, tr("What was there before is as it was.")):
            return None
        return self.where_to_print(path.stem, (path.suffix.lower(),))

    def plan_elsewhere(self, sentence: str, title: str, path: Path) -> Path | None:
        """Another place for the plan that could not be saved at ``path``, as ``sentence`` says; or None."""
        more = tr("What you did is still here, and what was in the file before is as it was.")
        if not self._goes_elsewhere(sentence, more):
            return None
        return self.where_to_save(path.stem or title, None)

    def overwrites(self, name: str) -> Overwrite:
        """What to do with the file ``name``, which is not as it was when the plan was opened."""
        box = question(
            self._parent,
            tr("“{name}” was changed by something else since you opened it.", name=name),
            tr("If you save over it, the changes made there are kept only in the version before, “{before}”.",
               before=previous_path(Path(name)).name),
            warns=True,
        )  # fmt: skip
        other = box.addButton(tr("&Save as…"), QMessageBox.ButtonRole.AcceptRole)
        over = box.addButton(tr("Save &over it"), QMessageBox.ButtonRole.DestructiveRole)
        self._add_cancel(box)
        box.setDefaultButton(other)
        box.exec()
        clicked = box.clickedButton()
        if clicked is over:
            return Overwrite.OVERWRITE
        return Overwrite.ELSEWHERE if clicked is other else Overwrite.CANCEL

    def resolution(self, usual: int) -> int | None:
        """Dots per inch of a picture, ``usual`` at first; or None."""
        from app.window.print_picture import ResolutionDialog

        dialog = ResolutionDialog(usual, self._parent)
        return dialog.dots_per_inch if dialog.exec() else None

    def drawing(self, options: TemplateOptions, style: LengthStyle) -> tuple[TemplateOptions, str] | None:
        """What a drawing of ``options`` is for, and the ending of its file; or None."""
        from app.window.print_drawing import DrawingDialog

        dialog = DrawingDialog(options, style, self._parent)
        return (dialog.options, dialog.drawing.ending) if dialog.exec() else None

    def printer(self, title: str, layout: QPageLayout, count: int) -> QPrinter | None:
        """The printer that is chosen in the system's dialog for ``count`` sheets of ``layout``, or None."""
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter

        from app.window.print_work import to_the_edge

        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        printer.setPageLayout(to_the_edge(layout))
        printer.setDocName(title)
        printer.setCreator("Wedgewright")
        dialog = QPrintDialog(printer, self._parent)
        dialog.setMinMax(1, count)
        dialog.setFromTo(1, count)
        accepted = dialog.exec() == QDialog.DialogCode.Accepted
        printer.setFullPage(True)  # whatever the driver's own window made of it
        return printer if accepted else None

    def unit_of(self, path: Path) -> Unit | None:
        """What the numbers in a file that does not say it are measured in, or None."""
        box = question(
            self._parent,
            tr("What are the numbers in “{name}” measured in?", name=path.name),
            tr("The file does not say. A wrong unit makes the patch 25 times too large or too small."),
        )
        units: dict[QPushButton, Unit] = {
            box.addButton(tr("&Inches"), QMessageBox.ButtonRole.AcceptRole): "in",
            box.addButton(tr("&Centimetres"), QMessageBox.ButtonRole.AcceptRole): "cm",
            box.addButton(tr("&Millimetres"), QMessageBox.ButtonRole.AcceptRole): "mm",
        }
        box.setDefaultButton(self._add_cancel(box))  # a bare Enter is no answer to this
        box.exec()
        clicked = box.clickedButton()
        return next((unit for button, unit in units.items() if button is clicked), None)

    def size_of(self, path: Path, rough: Rough) -> tuple[str | None, float | None] | None:
        """How large a drawing is that does not say so: its unit, or its longest side in mm; or None."""
        from app.window.import_dialogs import SizeDialog
        from app.window.preferences import style

        dialog = SizeDialog(path.name, rough, style(), self._look, self._parent)
        answer = dialog.answer if dialog.exec() else None
        dialog.deleteLater()
        return answer

    def layers_of(self, path: Path, layers: Mapping[str, Sequence[Polygon]]) -> tuple[str, ...]:
        """Which of a drawing's layers are patches; none where the user gave up."""
        from app.window.import_dialogs import LayersDialog

        dialog = LayersDialog(path.name, layers, self._look, self._parent)
        answer = dialog.answer if dialog.exec() else ()
        dialog.deleteLater()
        return answer

    def working(self, words: str, work: Callable[[Progress], T]) -> T | None:
        """What ``work`` gives, beside the window; None where the user stopped it; raises what it raises."""
        from app.window.beside import beside

        return beside(self._parent, words, work)

    def splits(self, sentence: str) -> bool:
        """Whether an outline that falls into parts is to be kept as several patches."""
        box = question(self._parent, tr("This outline is more than one patch."), sentence)
        keep = box.addButton(tr("&Keep its parts"), QMessageBox.ButtonRole.AcceptRole)
        self._add_cancel(box)
        box.exec()
        return box.clickedButton() is keep

    def unsaved(self, title: str) -> Unsaved:
        """What to do with the work on ``title`` before it goes."""
        box = question(
            self._parent,
            tr("Save the changes to “{title}”?", title=title),
            tr("What you did since the last save is lost if you do not."),
        )
        save = box.addButton(tr("&Save"), QMessageBox.ButtonRole.AcceptRole)
        discard = box.addButton(tr("Do&n’t save"), QMessageBox.ButtonRole.DestructiveRole)
        self._add_cancel(box)
        box.setDefaultButton(save)
        box.exec()
        clicked = box.clickedButton()
        return Unsaved.SAVE if clicked is save else Unsaved.DISCARD if clicked is discard else Unsaved.CANCEL

    def opens_changed(self, sentence: str) -> bool:
        """Whether to open a plan that something else has changed."""
        box = question(self._parent, tr("This plan was changed by something else."), sentence)
        go_on = box.addButton(tr("&Open it"), QMessageBox.ButtonRole.AcceptRole)
        self._add_cancel(box)
        box.exec()
        return box.clickedButton() is go_on

    def tell(self, sentence: str) -> None:
        """A file could not be read or written: the sentence that says why."""
        box = question(self._parent, sentence, warns=True)
        box.addButton(tr("&Close"), QMessageBox.ButtonRole.AcceptRole)
        box.exec()

    # ------------------------------------------------------------------------------------------------

    def _goes_elsewhere(self, sentence: str, more: str) -> bool:
        box = question(self._parent, sentence, more, warns=True)
        other = box.addButton(tr("&Save in another place…"), QMessageBox.ButtonRole.AcceptRole)
        box.setDefaultButton(other)
        self._add_cancel(box)
        box.exec()
        if box.clickedButton() is not other:
            return False
        self._folder = Path.home()
        return True

    def _place(self, title: str, start: Path, filters: Mapping[str, str]) -> Path | None:
        """Where to write, or None. ``filters``: of the file dialog, each with the ending that it gives a name
        which has none of them.
        """
        while True:
            name, chosen = QFileDialog.getSaveFileName(self._parent, title, str(start), ";;".join(filters))
            path = self._chosen(name)
            if path is None or path.suffix.lower() in filters.values():
                return path
            path = path.with_name(path.name + (filters.get(chosen) or next(iter(filters.values()))))
            # The file dialog has asked about the name as it was typed.
            if not os.path.exists(path) or self._replaces(path):
                return path
            start = path

    def _replaces(self, path: Path) -> bool:
        box = question(
            self._parent,
            tr("“{name}” is there already.", name=path.name),
            tr("If you save there, it is replaced."),
            warns=True,
        )
        other = box.addButton(tr("&Choose another name…"), QMessageBox.ButtonRole.RejectRole)
        replace = box.addButton(tr("&Replace it"), QMessageBox.ButtonRole.DestructiveRole)
        box.setDefaultButton(other)
        box.setEscapeButton(other)
        box.exec()
        return box.clickedButton() is replace

    def _add_cancel(self, box: QMessageBox) -> QPushButton:
        cancel = box.addButton(tr("Cancel"), QMessageBox.ButtonRole.RejectRole)
        box.setEscapeButton(cancel)
        return cancel

    def _chosen(self, name: str) -> Path | None:
        if not name:
            return None
        path = Path(name)
        self._folder = path.parent
        return path


def question(parent: QWidget, text: str, more: str = "", *, warns: bool = False) -> QMessageBox:
    """A question over ``parent``, still without its buttons; ``more`` is what there is to know for it."""
    box = QMessageBox(parent)
    box.setWindowTitle(tr("Wedgewright"))
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setText(text)
    if warns:
        box.setIcon(QMessageBox.Icon.Warning)
    if more:
        box.setInformativeText(more)
        heading = box.findChild(QLabel, "qt_msgbox_label")
        assert isinstance(heading, QLabel)
        heading.setProperty("part", "heading")
    layout = box.layout()
    assert layout is not None
    layout.setContentsMargins(*_MARGINS)
    return box


def _outline_filters() -> str:
    """Everything that can be read, then each kind by itself."""
    from app.importing import DRAWING_ENDINGS, ENDINGS, TAPE_ENDINGS, TEXT_ENDINGS

    kinds = (
        (tr("Outlines"), ENDINGS),
        (tr("Drawings"), DRAWING_ENDINGS),
        (tr("Text"), TEXT_ENDINGS),
        (tr("Tape measures"), TAPE_ENDINGS),
    )
    filters = [
        f"{kind} ({' '.join(f'*{each} *{each.upper()}' for each in endings)})" for kind, endings in kinds
    ]
    return ";;".join([*filters, tr("All files (*)")])


def _plan_filter() -> str:
    return tr("Plans (*{ending});;All files (*)", ending=SUFFIX)


def _file_name(title: str) -> str:
    return "".join("-" if character in '/\\:*?"<>|' else character for character in title).strip(" .")
