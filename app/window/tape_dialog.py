"""A patch from tape measures: a sheet to type them on, the shape beside it as it grows."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from itertools import pairwise
from typing import Final

from PySide6.QtCore import QEvent, QObject, QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QHideEvent, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractSpinBox,
    QApplication,
    QCheckBox,
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.sketch.tape_form import (
    LEAST_CORNERS,
    Row,
    Shape,
    Sheet,
    TapeForm,
    chosen_shape,
    off_by,
    pair_text,
    said,
    shape_of,
    suspects,
    tape_picture,
)
from app.sketch.translate import tr, tr_n
from app.window.beside import Latest
from app.window.count_field import CountField
from app.window.drawing_view import DrawingView
from app.window.icon_button import IconButton
from app.window.look import Look
from app.window.two_columns import lay_out
from app.window.word_button import WordButton
from geometry import Patch
from geometry.tape import MAX_CORNERS, corner_letter
from geometry.units import LengthStyle

_SIZE: Final = QSize(1180, 660)
_COLUMN: Final = 560
"""px: width of the sheet."""
_REST_MS: Final = 120
"""So long after a key the shape follows."""
_LETTERS_A_ROW: Final = 8


class _Line(QObject):
    """The widgets of one line of the sheet."""

    def __init__(self, row: Row, *, is_side: bool, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self.row = row
        self.pair = QLineEdit(row.pair, parent)
        self.pair.setReadOnly(is_side)
        self.pair.setPlaceholderText(tr("A C"))
        if is_side:  # the sides are always there; what is typed beside them is what counts
            self.pair.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            self.pair.setProperty("part", "fixed")
        self.length = QLineEdit(row.length, parent)
        self.bow = QLineEdit(row.bow, parent)
        self.bow.setVisible(is_side)
        self.off = QLabel(parent)
        self.remove = IconButton("close", tr("Take this measure out"), look, parent)
        self.remove.setVisible(not is_side)
        self.pair.setFixedWidth(88)
        self.length.setFixedWidth(136)
        self.bow.setFixedWidth(104)
        self.off.setMinimumWidth(140)
        self.pair.setToolTip(tr("Two corners, such as A C."))
        self.length.setToolTip(tr("As the tape says: 4 3/8, 2' 6 1/2, 11 cm. Enter goes to the next."))
        self.bow.setToolTip(
            tr("Of a curved side: how far its middle stands out from the straight line; with a minus, in.")
        )
        for each in (self.pair, self.length, self.bow):
            each.setWhatsThis(each.toolTip())
        self.name()

    def name(self) -> None:
        """For those who do not see where the fields stand."""
        pair = TapeForm.pair_of(self.row)
        words = pair_text(pair) if pair is not None else tr("another measure")
        self.pair.setAccessibleName(tr("Between which corners"))
        self.length.setAccessibleName(words)
        self.bow.setAccessibleName(tr("Bow of {side}", side=words))
        self.remove.setAccessibleName(tr("Take {measure} out", measure=words))

    def fields(self) -> tuple[QLineEdit, ...]:
        """Those that keys go to, in the order in which one measures."""
        return tuple(each for each in (self.pair, self.length, self.bow) if self._takes_keys(each))

    def widgets(self) -> tuple[QWidget, ...]:
        """All of them, from left to right."""
        return (self.pair, self.length, self.bow, self.off, self.remove)

    @staticmethod
    def _takes_keys(field: QLineEdit) -> bool:
        return not field.isHidden() and field.focusPolicy() is not Qt.FocusPolicy.NoFocus


class TapeDialog(QDialog):
    """Works on a sheet that outlives it; ``patch`` is what comes of it."""

    def __init__(self, form: TapeForm, style: LengthStyle, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.form = form
        self._style = style
        self._look = look
        self._lines: list[_Line] = []
        self._sheet: Sheet = form.read(style)
        self._found = Shape()
        """The likeliest shape."""
        self._shape = Shape()
        """The one that is shown."""
        self.setWindowTitle(tr("From tape measures"))
        self._work: Latest[Shape] = Latest(self)
        self._work.answered.connect(self._take)
        self._work.waiting.connect(self._say_waiting)
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(_REST_MS)
        self._rest.timeout.connect(self._look_at)
        self._build()
        self._fill()
        self._look_at()
        if not form.is_empty:
            next(
                (line for line in self._lines if not line.row.length.strip()), self._lines[0]
            ).length.setFocus()

    @property
    def patch(self) -> Patch | None:
        """What the sheet gives, as it is shown."""
        return self._shape.patch if self._is_settled else None

    # --- Qt's events --------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter goes to the next field; with Ctrl it adds the patch."""
        if event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            super().keyPressEvent(event)
            return
        event.accept()
        field = QApplication.focusWidget()
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self._finish()
        elif isinstance(field, QPushButton):
            field.click()
        elif isinstance(field, (QLineEdit, QAbstractSpinBox)):
            self._step_from(field)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """A field that the keys come to is brought into sight, and says what was wrong when they leave it."""
        if event.type() == QEvent.Type.FocusIn and isinstance(watched, QWidget):
            self._area.ensureWidgetVisible(watched, 0, 48)
        elif event.type() == QEvent.Type.FocusOut:
            self._rest.start(0)
        return super().eventFilter(watched, event)

    def hideEvent(self, event: QHideEvent) -> None:
        self._stop()
        super().hideEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        self._stop()
        super().closeEvent(event)

    # --- what it is made of -------------------------------------------------------------------------

    def _build(self) -> None:
        self.count = CountField(tr("Corners"), self._look, self, least=LEAST_CORNERS, most=MAX_CORNERS)
        self.count.setFixedWidth(120)
        label = QLabel(tr("C&orners"), self)
        label.setBuddy(self.count)
        self.empty = self._button(
            tr("&Empty the sheet"), tr("Begins a new sheet; this one can be brought back."), self._empty
        )
        top = QHBoxLayout()
        top.setSpacing(12)
        top.addWidget(label)
        top.addWidget(self.count)
        top.addStretch(1)
        top.addWidget(self.empty)
        self._grid_home = QWidget(self)
        self._grid = QGridLayout(self._grid_home)
        self._grid.setContentsMargins(0, 0, 8, 0)
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(3, 1)
        headings = (tr("Between"), tr("Measured"), tr("Bow"), tr("Off by"))
        for place, words in enumerate(headings):
            heading = QLabel(words, self._grid_home)
            heading.setProperty("part", "heading")
            self._grid.addWidget(heading, 0, place)
        self._area = QScrollArea(self)
        self._area.setWidgetResizable(True)
        self._area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._area.setWidget(self._grid_home)
        self.add = self._button("", tr("Adds a line for one more measure."), self._add)
        self._inward_home = QWidget(self)
        self._inward = QGridLayout(self._inward_home)
        self._inward.setContentsMargins(0, 0, 0, 0)
        self._inward.setHorizontalSpacing(16)
        self._inward.setVerticalSpacing(0)
        inward = QLabel(tr("Corners that point into the patch, where you know"), self)
        inward.setWordWrap(True)
        column = QWidget(self)
        column.setFixedWidth(_COLUMN)
        left = QVBoxLayout(column)
        left.setContentsMargins(0, 0, 0, 0)
        left.setSpacing(8)
        left.addLayout(top)
        left.addWidget(self._area, 1)
        left.addWidget(self.add, 0, Qt.AlignmentFlag.AlignLeft)
        left.addWidget(inward)
        left.addWidget(self._inward_home)

        self.picture = DrawingView(self._look, self)
        self.sentences = QLabel(self)
        self.sentences.setWordWrap(True)
        self.sentences.setTextFormat(Qt.TextFormat.PlainText)
        self.sentences.setMinimumHeight(3 * self.fontMetrics().lineSpacing())
        self.sentences.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.other = self._button(
            tr("Show the &other shape"), tr("The same measures, another shape."), self._show_other
        )
        right = QVBoxLayout()
        right.setSpacing(12)
        right.addWidget(self.picture, 1)
        right.addWidget(self.sentences)
        right.addWidget(self.other, 0, Qt.AlignmentFlag.AlignLeft)

        cancel = self._button(tr("Cancel"), tr("Adds nothing; the sheet is kept."), self.reject)
        self.finish = self._button(
            tr("&Add the patch"), tr("Adds the shape to the plan (Ctrl+Enter)."), self._finish
        )
        lay_out(self, column, right, (cancel, self.finish))
        self._last = (self.other, cancel, self.finish)
        self.count.told.connect(self._set_count)
        self.resize(_SIZE)

    def _button(self, words: str, about: str, do: Callable[[], object]) -> QPushButton:
        button = WordButton(words, about, do, self)
        button.setAutoDefault(False)  # Enter is for the next field
        return button

    def _fill(self) -> None:
        """All lines anew."""
        for line in self._lines:
            for widget in line.widgets():
                self._grid.removeWidget(widget)
                widget.hide()
                widget.deleteLater()
            line.deleteLater()
        self._lines = []
        self.count.show_count(self.form.count)
        for row in self.form.rows:
            self._put(row)
        self._fill_inward()
        self._order()

    def _put(self, row: Row) -> _Line:
        number = len(self._lines)
        is_side = number < self.form.count
        line = _Line(row, is_side=is_side, look=self._look, parent=self._grid_home)
        self._lines.append(line)
        for column, widget in enumerate(line.widgets()):
            self._grid.addWidget(widget, number + 1, column)
        for widget in (line.pair, line.length, line.off, line.bow if is_side else line.remove):
            widget.show()  # now, not in Qt's next turn: the keys may go there at once
        self._grid.setRowStretch(number + 1, 0)
        self._grid.setRowStretch(number + 2, 1)
        for field, name in ((line.pair, "pair"), (line.length, "length"), (line.bow, "bow")):
            field.textEdited.connect(partial(self._typed, line, name))
            field.installEventFilter(self)
        line.remove.clicked.connect(lambda: self._take_out(line))
        return line

    def _fill_inward(self) -> None:
        while (item := self._inward.takeAt(0)) is not None:
            box = item.widget()
            if box is not None:
                box.hide()
                box.deleteLater()
        self.inward: list[QCheckBox] = []
        for corner in range(self.form.count):
            letter = corner_letter(corner)
            box = QCheckBox(letter, self._inward_home)
            box.setChecked(corner in (self.form.inward or ()))
            box.setAccessibleName(tr("Corner {corner} points into the patch", corner=letter))
            box.setToolTip(box.accessibleName())
            box.setWhatsThis(box.accessibleName())
            # PySide gives a ``partial`` nothing of what a signal may leave out.
            box.clicked.connect(lambda inward, corner=corner: self._point_inward(corner, inward))
            self._inward.addWidget(box, corner // _LETTERS_A_ROW, corner % _LETTERS_A_ROW)
            self.inward.append(box)

    def _order(self) -> None:
        """Tab goes as one measures."""
        widgets: list[QWidget] = [self.count]
        for line in self._lines:
            widgets += line.fields()
            if not line.remove.isHidden():
                widgets.append(line.remove)
        widgets += [self.add, *self.inward, *self._last, self.empty]
        for one, other in pairwise(widgets):
            QWidget.setTabOrder(one, other)

    # --- what is done on it -------------------------------------------------------------------------

    def _typed(self, line: _Line, name: str, text: str) -> None:
        setattr(line.row, name, text)
        if name == "pair":
            line.name()
        self._offer()
        self._rest.start(_REST_MS)

    def _set_count(self, count: int) -> None:
        self.form.set_count(count)
        self._fill()
        self._look_at()

    def _point_inward(self, corner: int, inward: bool) -> None:
        self.form.point_inward(corner, inward)
        self._look_at()

    def _add(self) -> None:
        self.form.add(self.form.offered(self._found.wanted))
        line = self._put(self.form.rows[-1])
        self._order()
        self._offer()
        (line.length if line.row.pair else line.pair).setFocus()
        self._look_at()

    def _take_out(self, line: _Line) -> None:
        number = self._lines.index(line)
        self.form.remove(number)
        self._fill()
        self._lines[min(number, len(self._lines) - 1)].length.setFocus()
        self._look_at()

    def _empty(self) -> None:
        """To a new sheet, or back to the one before while nothing stands on the new one."""
        before = self.form.before
        if self.form.is_empty and before is not None:
            self._swap(before)
        else:
            self._swap(self.form.emptied())

    def _swap(self, form: TapeForm) -> None:
        self.form = form
        self._fill()
        self._lines[0].length.setFocus()
        self._look_at()

    def _show_other(self) -> None:
        taped = self._shape.taped
        if taped is not None and taped.others:
            every = [self._found.taped.corners, *self._found.taped.others] if self._found.taped else []
            shown = next(k for k, each in enumerate(every) if (each == taped.corners).all())
            self.form.kept = every[(shown + 1) % len(every)]
            self._show()

    def _step_from(self, field: QWidget) -> None:
        """To the next length; behind the last to what the sheet needs, or to the button that ends it."""
        number = next((k for k, line in enumerate(self._lines) if field in line.widgets()), None)
        if number is None:  # the count of corners
            self._lines[0].length.setFocus()
            return
        if field is self._lines[number].pair:
            self._lines[number].length.setFocus()
            return
        for line in self._lines[number + 1 :]:
            (line.length if line.row.pair else line.pair).setFocus()
            line.length.selectAll()
            return
        self._rest.stop()
        self._look_at()
        gap = next((line for line in self._lines if not line.row.length.strip()), None)
        if self.patch is not None:
            self.finish.setFocus()
        elif self._found.wanted and not self._work.is_working:
            wanted = {pair_text(pair) for pair in self._found.wanted}
            there = next((each for each in self._lines if each.row.pair in wanted), None)
            (self.add if there is None else there.length).setFocus()
        elif gap is not None:
            gap.length.setFocus()

    def _finish(self) -> None:
        self._rest.stop()
        self._look_at()
        if self.patch is not None:
            self.accept()

    # --- what follows -------------------------------------------------------------------------------

    @property
    def _is_settled(self) -> bool:
        """Whether what is shown is what the sheet says now."""
        return not (self._work.is_working or self._sheet.wrong)

    def _look_at(self) -> None:
        """Read the sheet, and find its shape beside the window."""
        sheet = self.form.read(self._style)
        same = sheet == self._sheet and self._found != Shape()
        self._sheet = sheet
        self._mark_wrong()
        if sheet.wrong or same:
            self._show()
        else:
            self._work.ask(lambda progress: shape_of(sheet))

    def _take(self, answer: object) -> None:
        if isinstance(answer, BaseException):
            raise answer
        assert isinstance(answer, Shape)
        self._found = answer
        self._show()

    def _say_waiting(self, waiting: bool) -> None:
        if waiting:
            self.sentences.setText(tr("Looking for the shape that agrees best…"))

    def _show(self) -> None:
        self._shape = chosen_shape(self._found, self._sheet, self.form.kept)
        off = off_by(self._shape, self._sheet)
        wrong = suspects(self._shape, self._sheet)[:1]
        for number, line in enumerate(self._lines):
            suspect = number in wrong
            text = off.get(number, "")
            line.off.setText(f"▲ {text}" if suspect else text)
            self._part(line.off, "wrong" if suspect else "")
            line.length.setAccessibleDescription(text)
        sentences = list(self._sheet.wrong.values())[:2] if self._scolds else said(self._shape, self._sheet)
        self.sentences.setText("\n".join(sentences))
        self._part(self.sentences, "wrong" if self._scolds or wrong else "")
        self.picture.show_drawing(
            tape_picture(self._shape, self._sheet), tr("The shape"), self.sentences.text()
        )
        taped = self._shape.taped
        others = len(taped.others) if taped is not None else 0
        self.other.setVisible(others > 0)
        self.other.setText(tr_n("Show the &other shape", "Show an&other shape", others))
        self.finish.setEnabled(self.patch is not None)
        self._offer()

    @property
    def _scolds(self) -> bool:
        """Whether something that cannot be read stands in a field that is not being typed in."""
        return any(not self._field(*place).hasFocus() for place in self._sheet.wrong)

    def _field(self, number: int, name: str) -> QLineEdit:
        field: QLineEdit = getattr(self._lines[number], name)
        return field

    def _mark_wrong(self) -> None:
        for number in range(len(self._lines)):
            for name in ("pair", "length", "bow"):
                field = self._field(number, name)
                wrong = (number, name) in self._sheet.wrong and not field.hasFocus()
                if bool(field.property("wrong")) != wrong:
                    field.setProperty("wrong", wrong)
                    field.style().unpolish(field)
                    field.style().polish(field)

    def _offer(self) -> None:
        pair = self.form.offered(self._found.wanted)
        words = tr("Add a &measure") if pair is None else tr("Add &measure {pair}", pair=pair_text(pair))
        self.add.setText(words)
        self.add.setAccessibleName(words.replace("&", ""))
        can = self.form.is_empty and self.form.before is not None
        words = tr("Bring the last sheet &back") if can else tr("&Empty the sheet")
        self.empty.setText(words)
        self.empty.setAccessibleName(words.replace("&", ""))
        self.empty.setEnabled(can or not self.form.is_empty)

    @staticmethod
    def _part(label: QLabel, part: str) -> None:
        if label.property("part") != part:
            label.setProperty("part", part)
            label.style().unpolish(label)
            label.style().polish(label)

    def _stop(self) -> None:
        self._rest.stop()
        self._work.stop()
