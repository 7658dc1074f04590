"""The spaces between blocks: frame and blocks are chosen left, what they leave is seen right."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QHideEvent, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QAbstractSpinBox,
    QApplication,
    QDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.plan.model import PlanPatch
from app.sketch.leftover_form import (
    MOST_A_WAY,
    BlocksAsked,
    BlocksForm,
    Outline,
    Spaces,
    Way,
    asked_picture,
    read_turns,
    space_words,
    spaces_of,
    spaces_picture,
    spaces_said,
)
from app.sketch.translate import tr, tr_n
from app.window.beside import Latest
from app.window.count_field import CountField
from app.window.drawing_view import DrawingView
from app.window.look import LEAST_TARGET, Look
from app.window.print_choices import Choice, LengthRow, connect_all
from app.window.session import Session
from app.window.two_columns import lay_out
from app.window.word_button import WordButton
from geometry import Settings, WedgewrightError

if TYPE_CHECKING:
    from app.importing import Imported

_SIZE: Final = QSize(1200, 664)
_COLUMN: Final = 360
"""px: width of the choices."""
_ROWS: Final = 4
"""Rows of a list that are seen at once: with more the fields below a list would be out of sight."""
_REST_MS: Final = 60


class LeftoverDialog(QDialog):
    """Works on a form that outlives it; ``patches`` is what comes of it."""

    def __init__(
        self,
        form: BlocksForm,
        session: Session,
        settings: Settings,
        read_file: Callable[[], Imported | None],
        look: Look,
        parent: QWidget | None = None,
    ) -> None:
        """``settings``: of new patches. ``read_file``: asks for a file, and gives what it holds."""
        super().__init__(parent)
        self.form = form
        self._session = session
        self._settings = settings
        self._read_file = read_file
        self._look = look
        self._style = session.style
        self._outlines: list[Outline] = []
        self._asked: BlocksAsked | None = None
        self._spaces: Spaces | None = None
        self.setWindowTitle(tr("Spaces between blocks"))
        self._work: Latest[Spaces] = Latest(self)
        self._work.answered.connect(self._take)
        self._work.waiting.connect(self._say_waiting)
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(_REST_MS)
        self._rest.timeout.connect(self._find)
        self._build()
        self._from_plan()
        (self.frame if self.form.way is Way.AS_DRAWN else self.rows).setFocus()

    @property
    def patches(self) -> tuple[PlanPatch, ...]:
        """A patch for each kind of space, with its repeats; none while they are not known."""
        return () if self._spaces is None else self._spaces.patches

    @property
    def told(self) -> str:
        """What was added, for the message bar."""
        return "" if self._spaces is None else " ".join(spaces_said(self._spaces))

    # --- Qt's events --------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter presses the button that has the keys; in a field it only tells what was typed."""
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        held = QApplication.focusWidget()
        if enter and isinstance(held, (QLineEdit, QAbstractSpinBox)):
            event.accept()
        elif enter and isinstance(held, QPushButton):
            event.accept()
            held.click()
        else:
            super().keyPressEvent(event)

    def hideEvent(self, event: QHideEvent) -> None:
        self._rest.stop()
        self._work.stop()
        super().hideEvent(event)

    # --- what it is made of -------------------------------------------------------------------------

    def _build(self) -> None:
        column = QWidget(self)
        self._column = QVBoxLayout(column)
        self._column.setContentsMargins(0, 0, 12, 0)
        self._column.setSpacing(4)
        self.source = QLabel(self)
        self.source.setWordWrap(True)
        self.source.setTextFormat(Qt.TextFormat.PlainText)
        self.plan = self._button(tr("From the &plan"), tr("Takes the patches of the plan."), self._from_plan)
        self.file = self._button(
            tr("From a &file…"), tr("Takes the outlines of a file instead."), self._from_file
        )
        sources = QHBoxLayout()
        sources.setSpacing(8)
        for button in (self.plan, self.file):
            sources.addWidget(button)
        sources.addStretch(1)
        self._column.addWidget(self.source)
        self._column.addLayout(sources)
        self._column.addSpacing(8)
        self.way = Choice(
            tr("&How the blocks lie"),
            {Way.AS_DRAWN: tr("As they are drawn"), Way.ROWS: tr("One block in rows")},
        )
        self._column.addWidget(self.way)
        self._column.addSpacing(8)

        self._drawn = QWidget(self)
        drawn = QVBoxLayout(self._drawn)
        drawn.setContentsMargins(0, 0, 0, 0)
        drawn.setSpacing(4)
        self.frame = self._list(drawn, tr("F&rame"), tr("The outline around all the others."))
        self.blocks = self._list(drawn, tr("&Blocks"), tr("Space ticks a block, or takes the tick away."))
        self._column.addWidget(self._drawn)

        self._gridded = QWidget(self)
        gridded = QVBoxLayout(self._gridded)
        gridded.setContentsMargins(0, 0, 0, 0)
        gridded.setSpacing(4)
        self.block = self._list(gridded, tr("&Block"), tr("The one that is placed again and again."))
        self.rows = self._count(gridded, tr("Ro&ws"), tr("Blocks below one another."))
        self.columns = self._count(gridded, tr("&Columns"), tr("Blocks side by side."))
        step = tr("From the middle of one block to the middle of the next.")
        self.across = self._length(gridded, tr("&Step across"), step)
        self.down = self._length(gridded, tr("Step &down"), step)
        frame = tr("Of the frame around all blocks, which lie in its middle.")
        self.wide = self._length(gridded, tr("Frame w&ide"), frame)
        self.high = self._length(gridded, tr("Frame hi&gh"), frame)
        self.turns = QLineEdit(self)
        self.turns.setPlaceholderText(tr("0 90, 180 270"))
        self.turns.setAccessibleName(tr("Turns"))
        self.turns.setToolTip(
            tr("Degrees clockwise, block by block; a comma begins the next row. The pattern is repeated.")
        )
        self.turns.setWhatsThis(self.turns.toolTip())
        self.turns.setFixedWidth(160)
        self._row(gridded, tr("&Turns"), self.turns)
        self._column.addWidget(self._gridded)
        self._column.addStretch(1)

        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(column)
        area.setFixedWidth(_COLUMN + 16)
        self.picture = DrawingView(self._look, self)
        self.sentences = QLabel(self)
        self.sentences.setWordWrap(True)
        self.sentences.setTextFormat(Qt.TextFormat.PlainText)
        self.sentences.setMinimumHeight(2 * self.fontMetrics().lineSpacing())
        self.sentences.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.progress = QProgressBar(self)
        self.progress.setRange(0, 0)
        self.progress.setTextVisible(False)
        self.progress.setAccessibleName(tr("Looking for the spaces"))
        self.stop = self._button(
            tr("St&op"), tr("Leaves off looking; change something to look again."), self._stop
        )
        self.list = QListWidget(self)
        self.list.setAccessibleName(tr("The spaces"))
        self.list.setWhatsThis(tr("Each kind of space with its size, and how often it comes."))
        self.list.setToolTip(self.list.whatsThis())
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self._fit(self.list, _ROWS)
        waiting = QHBoxLayout()
        waiting.setSpacing(8)
        waiting.addWidget(self.progress, 1)
        waiting.addWidget(self.stop)
        right = QVBoxLayout()
        right.setSpacing(8)
        right.addWidget(self.picture, 1)
        right.addWidget(self.sentences)
        right.addLayout(waiting)
        right.addWidget(self.list)
        cancel = self._button(tr("Cancel"), tr("Adds nothing."), self.reject)
        self.add = self._button(
            tr("&Add the spaces"), tr("Adds a patch for each kind of space."), self.accept
        )
        self.add.setDefault(True)
        lay_out(self, area, right, (cancel, self.add))
        self._say_waiting(False)
        self.way.chosen.connect(self._choose_way)
        self.frame.currentRowChanged.connect(self._choose_frame)
        self.blocks.itemChanged.connect(self._tick)
        self.block.currentRowChanged.connect(self._choose_block)
        connect_all([self.rows.told, self.columns.told], self._take_counts)
        connect_all([self.across.told, self.down.told], self._take_step)
        connect_all([self.wide.told, self.high.told], self._take_size)
        self.turns.textEdited.connect(self._take_turns)
        self.resize(_SIZE)

    def _row_height(self) -> int:
        return max(self.fontMetrics().height() + 8, LEAST_TARGET)

    def _fit(self, rows: QListWidget, count: int) -> None:
        """As high as ``count`` rows."""
        rows.setFixedHeight(count * self._row_height() + 2 * rows.frameWidth())

    def _button(self, words: str, about: str, do: Callable[[], object]) -> QPushButton:
        button = WordButton(words, about, do, self)
        button.setAutoDefault(False)
        return button

    def _list(self, into: QVBoxLayout, words: str, about: str) -> QListWidget:
        rows = QListWidget(self)
        rows.setAccessibleName(words.replace("&", ""))
        rows.setToolTip(about)
        rows.setWhatsThis(about)
        rows.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        label = QLabel(words, self)
        label.setBuddy(rows)
        into.addWidget(label)
        into.addWidget(rows)
        return rows

    def _count(self, into: QVBoxLayout, words: str, about: str) -> CountField:
        field = CountField(words.replace("&", ""), self._look, self, most=MOST_A_WAY)
        field.setFixedWidth(120)
        for widget in (field, field.box):
            widget.setToolTip(about)
            widget.setWhatsThis(about)
        self._row(into, words, field)
        return field

    def _length(self, into: QVBoxLayout, words: str, about: str) -> LengthRow:
        row = LengthRow(words, about, self)
        into.addWidget(row)
        return row

    def _row(self, into: QVBoxLayout, words: str, field: QWidget) -> None:
        row = QHBoxLayout()
        label = QLabel(words, self)
        label.setBuddy(field)
        row.addWidget(label, 1)
        row.addWidget(field)
        into.addLayout(row)

    # --- what is chosen -----------------------------------------------------------------------------

    def _from_plan(self) -> None:
        patches = self._session.plan.patches
        self.source.setText(tr("The patches of the plan"))
        self._begin([(piece.name, piece.patch()) for piece in patches])

    def _from_file(self) -> None:
        imported = self._read_file()
        if imported is not None:
            self.source.setText(tr("The outlines of the file"))
            self._begin(list(imported.patches))

    def _begin(self, outlines: Sequence[Outline]) -> None:
        """Other outlines."""
        self._outlines = list(outlines)
        self.form.suit(self._outlines)
        several = len(self._outlines) > 1
        names = [name for name, _ in self._outlines]
        for rows, words in (
            (self.frame, names),
            (self.blocks, names),
            (self.block, [*([tr("All of them together")] if several else []), *names]),
        ):
            rows.blockSignals(True)
            rows.clear()
            for each in words:
                item = QListWidgetItem(each, rows)
                item.setSizeHint(QSize(0, self._row_height()))
            self._fit(rows, max(min(len(words), _ROWS), 1))
            rows.blockSignals(False)
        self.way.choose(self.form.way)
        self._show_choices()
        self._find()

    def _show_choices(self) -> None:
        """What stands in the fields is what the form says."""
        form, several = self.form, len(self._outlines) > 1
        self._drawn.setVisible(bool(self._outlines) and form.way is Way.AS_DRAWN)
        self._gridded.setVisible(bool(self._outlines) and form.way is Way.ROWS)
        for rows in (self.frame, self.blocks, self.block):
            rows.blockSignals(True)
        self.frame.setCurrentRow(form.frame)
        self.block.setCurrentRow((form.block if form.block is not None else -1) + several)
        for number in range(self.blocks.count()):
            item = self.blocks.item(number)
            is_frame = number == form.frame
            checkable, enabled = Qt.ItemFlag.ItemIsUserCheckable, Qt.ItemFlag.ItemIsEnabled
            item.setFlags(item.flags() & ~enabled if is_frame else item.flags() | checkable | enabled)
            ticked = not is_frame and number not in form.left_out
            item.setCheckState(Qt.CheckState.Checked if ticked else Qt.CheckState.Unchecked)
        for rows in (self.frame, self.blocks, self.block):
            rows.blockSignals(False)
        self.rows.show_count(form.rows)
        self.columns.show_count(form.columns)
        if self._outlines:
            for fields, values in (
                ((self.across, self.down), form.step_of(self._outlines)),
                ((self.wide, self.high), form.size_of(self._outlines)),
            ):
                for each, value in zip(fields, values, strict=True):
                    each.show_value(value, self._style)
        if not self.turns.hasFocus():
            self.turns.setText(form.turns)

    def _choose_way(self, way: object) -> None:
        assert isinstance(way, Way)
        self.form.way = way
        self._changed()

    def _choose_frame(self, row: int) -> None:
        self.form.frame = row
        self._changed()

    def _choose_block(self, row: int) -> None:
        several = len(self._outlines) > 1
        self.form.block = row - several if row >= several else None
        self.form.step = self.form.size = None
        self._changed()

    def _tick(self, item: QListWidgetItem) -> None:
        number = self.blocks.row(item)
        if item.checkState() is Qt.CheckState.Checked:
            self.form.left_out.discard(number)
        else:
            self.form.left_out.add(number)
        self._changed()

    def _take_counts(self) -> None:
        self.form.rows, self.form.columns = self.rows.box.value(), self.columns.box.value()
        self._changed()

    def _take_step(self) -> None:
        self.form.step = (self.across.mm, self.down.mm)
        self._changed()

    def _take_size(self) -> None:
        self.form.size = (self.wide.mm, self.high.mm)
        self._changed()

    def _take_turns(self, text: str) -> None:
        self.form.turns = text
        self._changed()

    def _changed(self) -> None:
        self._forget()
        self._show_choices()
        self._rest.start()

    def _forget(self) -> None:
        """What was found is not what is asked for now, and must not be added."""
        self._work.stop()
        self._spaces = None
        self.add.setEnabled(False)

    # --- what follows -------------------------------------------------------------------------------

    def _find(self) -> None:
        """Look for the spaces, beside the window."""
        self._forget()
        self.list.clear()
        self._mark_turns()
        try:
            asked = self.form.read(self._outlines)
        except WedgewrightError as error:
            self._say(str(error), wrong=True)
            self.picture.show_drawing(None, tr("The spaces"), str(error))
            return
        self._asked = asked
        settings = self._settings
        self._work.ask(lambda progress: spaces_of(asked, settings), at_once=0.05)
        if self._work.is_working:
            self.picture.show_drawing(asked_picture(asked), tr("Frame and blocks"), "")

    def _take(self, answer: object) -> None:
        if isinstance(answer, WedgewrightError) and self._asked is not None:
            self.picture.show_drawing(asked_picture(self._asked), tr("Frame and blocks"), "")
            self._say(str(answer), wrong=True)
            return
        if isinstance(answer, BaseException):
            raise answer
        assert isinstance(answer, Spaces)
        self._spaces = answer
        said = spaces_said(answer)
        self._say(" ".join(said), wrong=bool(answer.found.overlaps or answer.found.outside))
        for number in range(len(answer.patches)):
            item = QListWidgetItem(space_words(answer, number, self._style), self.list)
            item.setSizeHint(QSize(0, self._row_height()))
        self.picture.show_drawing(spaces_picture(answer), tr("The spaces"), " ".join(said))
        count = len(answer.patches)
        words = tr_n("&Add {count} patch", "&Add {count} patches", count)
        self.add.setText(words)
        self.add.setAccessibleName(words.replace("&", ""))
        self.add.setEnabled(True)

    def _say_waiting(self, waiting: bool) -> None:
        self.progress.setVisible(waiting)
        self.stop.setVisible(waiting)
        if waiting:
            self._say(tr("Looking for the spaces…"), wrong=False)

    def _stop(self) -> None:
        self._work.stop()
        self._say(tr("Stopped. Change something to look again."), wrong=False)

    def _say(self, words: str, *, wrong: bool) -> None:
        words = words[:1].upper() + words[1:]
        self.sentences.setText(f"▲ {words}" if wrong else words)
        self.sentences.setProperty("part", "wrong" if wrong else "")
        self.sentences.style().unpolish(self.sentences)
        self.sentences.style().polish(self.sentences)

    def _mark_turns(self) -> None:
        """Whether what is typed there can be read."""
        wrong = False
        try:
            read_turns(self.form.turns)
        except WedgewrightError:
            wrong = True
        if bool(self.turns.property("wrong")) != wrong:
            self.turns.setProperty("wrong", wrong)
            self.turns.style().unpolish(self.turns)
            self.turns.style().polish(self.turns)
