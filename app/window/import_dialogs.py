"""What is asked about a drawing before it becomes patches: which layers of it, and how large it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Final

import shapely
from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QButtonGroup,
    QDialog,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)
from shapely import Polygon

from app.importing import Rough, longest_side
from app.importing.svg import PX_MM
from app.sketch.outline_pictures import measurable_sides, outlines_picture
from app.sketch.quantity import LENGTH
from app.sketch.translate import tr, tr_n
from app.window.choice_field import tab_to_the_checked
from app.window.drawing_view import DrawingView
from app.window.look import LEAST_TARGET, Look
from app.window.typed_field import TypedField
from app.window.word_button import WordButton
from geometry import WedgewrightError
from geometry.tolerances import MAX_SIZE, SAME_POINT
from geometry.units import MM_PER_UNIT, LengthStyle, format_length

_SIZE: Final = QSize(1000, 640)
_COLUMN: Final = 360
"""px: least width of what is asked, beside the picture."""
_ROWS: Final = 6
"""Rows of a list that are seen at once."""


class _ImportDialog(QDialog):
    """Questions left, the drawing right."""

    def __init__(self, title: str, question: str, more: str, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.picture = DrawingView(look, self)
        column = QWidget(self)
        column.setMinimumWidth(_COLUMN)
        self.rows = QVBoxLayout(column)
        self.rows.setContentsMargins(0, 0, 0, 0)
        self.rows.setSpacing(8)
        for text, part in ((question, "heading"), (more, "")):
            label = QLabel(text, column)
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(True)
            label.setProperty("part", part)
            self.rows.addWidget(label)
        above = QHBoxLayout()
        above.setSpacing(24)
        above.addWidget(column)
        above.addWidget(self.picture, 1)
        cancel = WordButton(tr("Cancel"), tr("Brings nothing in."), self.reject, self)
        self.go = WordButton(tr("&Import"), tr("Makes patches of it."), self.accept, self)
        self.go.setDefault(True)
        below = QHBoxLayout()
        below.setSpacing(8)
        below.addStretch(1)
        below.addWidget(cancel)
        below.addWidget(self.go)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 24, 24, 16)
        layout.setSpacing(16)
        layout.addLayout(above, 1)
        layout.addLayout(below)
        self.resize(_SIZE)

    def add_list(self, words: str, about: str) -> QListWidget:
        """A list under ``words``."""
        rows = QListWidget(self)
        rows.setAccessibleName(words.replace("&", ""))
        rows.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        rows.setTextElideMode(Qt.TextElideMode.ElideMiddle)  # the figure at the end stays
        rows.setToolTip(about)
        rows.setWhatsThis(about)
        label = QLabel(words, self)
        label.setBuddy(rows)
        self.rows.addWidget(label)
        self.rows.addWidget(rows)
        return rows

    def add_item(self, rows: QListWidget, words: str) -> QListWidgetItem:
        """A row of it, high enough for a finger."""
        item = QListWidgetItem(words, rows)
        item.setSizeHint(QSize(0, max(self.fontMetrics().height() + 8, LEAST_TARGET)))
        return item

    def fit_list(self, rows: QListWidget) -> None:
        """As high as its rows, up to a number of them."""
        rows.setFixedHeight(min(rows.count(), _ROWS) * rows.sizeHintForRow(0) + 8)


class SizeDialog(_ImportDialog):
    """How large a drawing is that does not say so: one side by the ruler, or what one unit of it is."""

    def __init__(self, name: str, rough: Rough, style: LengthStyle, look: Look, parent: QWidget) -> None:
        """``rough``: the drawing, of any size."""
        what = (
            tr("It is drawn in pixels, which no ruler has. Say how long one side is, and the rest follows.")
            if rough.in_pixels
            else tr("It does not say what its numbers are measured in. Say how long one side is.")
        )
        super().__init__(tr("How large is it?"), tr("How large is “{name}”?", name=name), what, look, parent)
        self._style = style
        self._rough = rough
        self._polygons: list[Polygon] = [patch.polygon for _, patch in rough.patches]
        self._sides = measurable_sides(self._polygons)
        self._longest = longest_side(rough.patches)
        self._length = 0.0
        self._choices = QButtonGroup(self)
        self.units: dict[str, QRadioButton] = {}
        self.measured = self._choice(
            tr("One side, by the &ruler"), tr("The side that is marked in the picture.")
        )
        self.measured.setChecked(True)
        self.sides = self.add_list(tr("&This side"), tr("It is marked in the picture."))
        for side in self._sides:
            self.add_item(self.sides, side.name)
        self.fit_list(self.sides)
        self.length = TypedField(LENGTH, self, none=tr("such as 12 1/2 in or 30 cm"))
        self.length.setAccessibleName(tr("is so long"))
        self.length.setToolTip(tr("As you measured it, or as it is to be."))
        self.length.setWhatsThis(self.length.toolTip())
        self.length.show_value(0.0, style)
        label = QLabel(tr("is so &long"), self)
        label.setBuddy(self.length)
        self.length.setFixedWidth(240)
        typed = QHBoxLayout()
        typed.addWidget(label, 1)
        typed.addWidget(self.length)
        self.rows.addLayout(typed)
        self._wrong = QLabel(self)
        self._wrong.setProperty("part", "problem")
        self._wrong.setWordWrap(True)
        self.rows.addWidget(self._wrong)
        self.rows.addSpacing(4)
        self._offer_units()
        self.rows.addStretch(1)
        self.outcome = QLabel(self)
        self.outcome.setWordWrap(True)
        self.outcome.setProperty("part", "heading")
        self.rows.addWidget(self.outcome)
        for button in self._choices.buttons():
            tab_to_the_checked(button)  # type: ignore[arg-type]
        self.sides.currentRowChanged.connect(self._follow)
        self.sides.setCurrentRow(0)
        self.length.told.connect(self._take)
        self.length.wrong.connect(self._say)
        self.length.textEdited.connect(self._type)
        self._choices.buttonClicked.connect(self._choose)
        self.length.setFocus()
        self._follow()

    @property
    def answer(self) -> tuple[str | None, float | None]:
        """Unit, or how long the longest side of all of it is, mm; as ``import_file`` takes them."""
        for unit, button in self.units.items():
            if button.isChecked():
                return unit, None
        return None, self._longest * self._factor

    # ------------------------------------------------------------------------------------------------

    @property
    def _side_length(self) -> float:
        return self._sides[max(self.sides.currentRow(), 0)].length

    @property
    def _factor(self) -> float:
        """How many times as large as it is shown; 0 while nobody says."""
        for unit, button in self.units.items():
            if button.isChecked():
                return self._times(unit)
        return self._length / self._side_length

    def _times(self, unit: str) -> float:
        return (PX_MM if unit == "px" else MM_PER_UNIT[unit]) / self._rough.scale  # type: ignore[index]

    def _choice(self, words: str, about: str) -> QRadioButton:
        button = QRadioButton(words, self)
        button.setAccessibleName(words.replace("&", ""))
        for say in (button.setToolTip, button.setWhatsThis, button.setAccessibleDescription):
            say(about)
        self._choices.addButton(button)
        self.rows.addWidget(button)
        return button

    def _offer_units(self) -> None:
        """What comes out stands beside each, so that a wrong one shows before it is taken."""
        one = tr("one pixel") if self._rough.in_pixels else tr("one unit of it")
        words = {
            "in": tr("{one} is 1 &inch", one=one),
            "cm": tr("{one} is 1 &cm", one=one),
            "mm": tr("{one} is 1 &mm", one=one),
        }
        if self._rough.in_pixels:
            words = {"px": tr("&96 pixels are 1 inch"), "mm": words["mm"]}
        for unit, each in words.items():
            times = self._times(unit)
            choice = each[0].upper() + each[1:]
            words_ = tr("{choice}: {size}", choice=choice, size=self._size(times))
            self.units[unit] = self._choice(words_, self._all_of_it(times))
            self.units[unit].setEnabled(self._longest * times <= MAX_SIZE)

    def _size(self, times: float) -> str:
        left, top, right, bottom = shapely.total_bounds(self._polygons).tolist()
        across, down = (format_length(each * times, self._style) for each in (right - left, bottom - top))
        return tr("{across} × {down}", across=across, down=down)

    def _all_of_it(self, times: float) -> str:
        return tr("All of it is then {size}.", size=self._size(times))

    def _type(self) -> None:
        """While it is typed, what comes out follows; what is no length yet is not scolded."""
        self.measured.setChecked(True)
        self._length = 0.0
        with suppress(WedgewrightError):
            self._length = LENGTH.read(self.length.text(), self._style)
        self._follow()

    def _choose(self) -> None:
        if not self.measured.isChecked():
            self.length.give_up()
        self._follow()

    def _take(self, length: float) -> None:
        self._length = length
        self.length.show_value(length, self._style)
        self._say("")

    def _say(self, sentence: str) -> None:
        if sentence:
            self._length = 0.0
        self._wrong.setText(f"▲ {sentence}" if sentence else "")
        self._follow()

    def _follow(self, *_: object) -> None:
        side = self._sides[max(self.sides.currentRow(), 0)]
        by_ruler = self.measured.isChecked()
        self.picture.show_drawing(
            outlines_picture(self._polygons, marked=side.ends if by_ruler else None),
            tr("The drawing"),
            tr_n("{count} outline; {side} is marked", "{count} outlines; {side} is marked",
                 len(self._polygons), side=side.name),
        )  # fmt: skip
        times = self._factor
        fits = SAME_POINT < self._longest * times <= MAX_SIZE
        self.go.setEnabled(fits)
        if fits:
            self.outcome.setText(self._all_of_it(times))
        elif times > 0:
            most = format_length(MAX_SIZE, self._style)
            self.outcome.setText(tr("That is too large: no quilt is wider than {most}.", most=most))
        else:
            self.outcome.setText("")


class LayersDialog(_ImportDialog):
    """Which layers of a drawing become patches."""

    def __init__(
        self, name: str, layers: Mapping[str, Sequence[Polygon]], look: Look, parent: QWidget
    ) -> None:
        """``layers``: what each encloses, of any size."""
        super().__init__(
            tr("Layers"),
            tr("Which layers of “{name}” are patches?", name=name),
            tr("Each closed outline on them becomes a patch. What is left out is drawn thin."),
            look,
            parent,
        )
        self._layers = dict(layers)
        self.list = self.add_list(tr("&Layers"), tr("Space ticks a layer, or takes the tick away."))
        for layer, polygons in self._layers.items():
            item = self.add_item(self.list, _counted(layer, len(polygons)))
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Checked)
        self.fit_list(self.list)
        self.list.setCurrentRow(0)
        self.rows.addStretch(1)
        self.outcome = QLabel(self)
        self.outcome.setWordWrap(True)
        self.outcome.setProperty("part", "heading")
        self.rows.addWidget(self.outcome)
        self.list.itemChanged.connect(self._follow)
        self.list.setFocus()
        self._follow()

    @property
    def answer(self) -> tuple[str, ...]:
        """The layers that are ticked."""
        names = list(self._layers)
        ticked = Qt.CheckState.Checked
        return tuple(name for row, name in enumerate(names) if self.list.item(row).checkState() is ticked)

    def _follow(self, *_: object) -> None:
        ticked = self.answer
        taken = [polygon for name in ticked for polygon in self._layers[name]]
        left = [polygon for name, each in self._layers.items() if name not in ticked for polygon in each]
        self.go.setEnabled(bool(taken))
        words = (
            tr_n("{count} patch comes of this", "{count} patches come of this", len(taken))
            if taken
            else tr("Tick one layer or more.")
        )
        self.outcome.setText(words)
        self.picture.show_drawing(outlines_picture(taken, faint=left), tr("The drawing"), words)


def _counted(layer: str, count: int) -> str:
    return tr_n("{layer}: {count} outline", "{layer}: {count} outlines", count, layer=layer)
