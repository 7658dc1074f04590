"""What belongs to one patch alone: its anchors, the spans of each of its sides, its repeats."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QMenu, QToolButton, QVBoxLayout, QWidget

from app.plan.model import MAX_REPEATS
from app.sketch import changes
from app.sketch.quantity import COORDINATE
from app.sketch.translate import tr
from app.window.count_field import CountField
from app.window.folding_group import focusable, keep_tab_order
from app.window.icon_button import IconButton
from app.window.look import Look
from app.window.session import Session
from app.window.setting_row import SettingRow, field_width
from app.window.typed_field import TypedField
from geometry import Fit, WedgewrightError
from geometry.types import Point


class AnchorRows(QWidget):
    """x and y of each anchor, one to take it away, and one to add another."""

    def __init__(self, session: Session, look: Look) -> None:
        super().__init__()
        self._session = session
        self._look = look
        self._rows: list[_AnchorRow] = []
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(8)
        self.refresh()
        about = QLabel(tr("from the upper left of the cloth"))
        about.setProperty("part", "quiet")
        about.setWordWrap(True)
        self.add = QToolButton()
        self.add.setText(tr("add an anchor"))
        self.add.setAccessibleName(tr("Add an anchor"))
        self.add.setProperty("quiet", True)
        self.add.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        sentence = tr("Another fan in the same patch, from where the first anchors do not see")
        self.add.setToolTip(sentence)
        self.add.setWhatsThis(sentence)
        self.add.clicked.connect(self._add)
        foot = QHBoxLayout()
        foot.setSpacing(8)
        foot.addWidget(about, 1)
        foot.addWidget(self.add, 0, Qt.AlignmentFlag.AlignTop)
        self._layout.addLayout(foot)

    def refresh(self) -> None:
        """Show the anchors of the chosen patch."""
        piece = self._session.piece
        anchors = piece.anchors if piece is not None else ()
        while len(self._rows) > max(len(anchors), 1):
            row = self._rows.pop()
            self._layout.removeWidget(row)
            row.hide()
            row.deleteLater()
        while len(self._rows) < len(anchors):
            row = _AnchorRow(len(self._rows), self._session, self._look)
            self._layout.insertWidget(len(self._rows), row)
            if self._rows:
                keep_tab_order(*focusable(self._rows[-1]), *focusable(row))
            self._rows.append(row)
        for row, anchor in zip(self._rows, anchors, strict=False):
            row.show_anchor(anchor, alone=len(anchors) == 1)

    def _add(self) -> None:
        chosen, fit = self._session.chosen, self._session.fit
        if chosen is not None and fit is not None:
            self._session.do(changes.add_anchor(self._session.plan, chosen, _place_for_another(fit)))


class _AnchorRow(QWidget):
    def __init__(self, which: int, session: Session, look: Look) -> None:
        super().__init__()
        self._which = which
        self._session = session
        name = tr("Anchor") if which == 0 else tr("Anchor {number}", number=which + 1)
        self._fields: list[TypedField] = []
        self._title = QLabel(name)
        self._remove = IconButton("close", tr("{name}: take it away", name=name), look, self)
        self._remove.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._remove.clicked.connect(self._take_away)
        self._wrong = QLabel()
        self._wrong.setProperty("part", "problem")
        self._wrong.setWordWrap(True)
        self._wrong.hide()
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(4)
        grid.addWidget(self._title, 0, 0, 1, 3)
        grid.addWidget(self._remove, 0, 3, Qt.AlignmentFlag.AlignRight)
        for column, (axis, key, about) in enumerate(
            (
                (0, tr("&x"), tr("across the cloth, from its left")),
                (1, tr("&y"), tr("down the cloth, from its top")),
            )
        ):
            field = TypedField(COORDINATE)
            field.setAccessibleName(f"{name} {key.replace('&', '')}")
            field.setAccessibleDescription(about)
            field.setToolTip(about)
            field.setWhatsThis(about)
            field.setMinimumWidth(60)
            label = QLabel(key if which == 0 else key.replace("&", ""))
            label.setBuddy(field)
            field.told.connect(lambda mm, axis=axis: self._move(axis, mm))
            field.settled.connect(session.settle)
            field.wrong.connect(self._show_wrong)
            self._fields.append(field)
            grid.addWidget(label, 1, 2 * column)
            grid.addWidget(field, 1, 2 * column + 1)
            grid.setColumnStretch(2 * column + 1, 1)
        grid.addWidget(self._wrong, 2, 0, 1, 4)

    def show_anchor(self, anchor: Point, *, alone: bool) -> None:
        """``alone``: there is no other, so it stays."""
        self._remove.setVisible(not alone)
        for field, value in zip(self._fields, anchor, strict=True):
            field.show_value(value, self._session.style)

    def _move(self, axis: int, mm: float) -> None:
        chosen = self._session.chosen
        if chosen is None:
            return
        x, y = self._session.plan.patches[chosen].anchors[self._which]
        place = (mm, y) if axis == 0 else (x, mm)
        try:
            self._session.do(changes.move_anchor(self._session.plan, chosen, place, self._which))
        except WedgewrightError as error:
            self._fields[axis].refuse(str(error))

    def _take_away(self) -> None:
        chosen = self._session.chosen
        if chosen is not None:
            self._session.do(changes.remove_anchor(self._session.plan, chosen, self._which))

    def _show_wrong(self, sentence: str) -> None:
        self._wrong.setText(f"▲ {sentence}")
        self._wrong.setVisible(bool(sentence))


class SideSpansRow(SettingRow):
    """A count for one side at a time: choose the side, then its spans."""

    def __init__(self, session: Session, look: Look) -> None:
        self._session = session
        inner = QWidget()
        self.side = _Sides(inner)
        self.side.setMinimumWidth(64)
        self.count = CountField(tr("Spans of the side"), look, inner, most=99)
        layout = QHBoxLayout(inner)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(8)
        layout.addWidget(self.side)
        layout.addStretch(1)
        layout.addWidget(self.count)
        self.count.setMinimumWidth(field_width(self.count.fontMetrics()))
        super().__init__(tr("Spans of one side"), tr("this side alone, not as the others"), inner, wide=True)
        for widget in (self.count, self.count.box):
            widget.setToolTip(tr("Spans of this side alone"))
            widget.setWhatsThis(widget.toolTip())
        self.side.chosen.connect(self._show_side)
        self.count.told.connect(self._set)
        self.count.wrong.connect(self.show_wrong)
        self.count.settled.connect(session.settle)
        self.usual.clicked.connect(self._as_the_others)
        self.refresh()

    def refresh(self) -> None:
        """Show the sides of the chosen patch, and the spans of the one that is chosen."""
        piece, fit = self._session.piece, self._session.fit
        letters = _sides_of(fit) if fit is not None else []
        letters += sorted({letter for letter, _ in piece.settings.side_spans} - set(letters)) if piece else []
        self.side.offer(letters)
        self._show_side()

    def _show_side(self) -> None:
        piece = self._session.piece
        letter = self.side.letter
        own = dict(piece.settings.side_spans) if piece is not None else {}
        self.count.setEnabled(bool(letter))
        if piece is not None:
            self.count.show_count(own.get(letter, piece.settings.spans_per_side))
        self.show_usual(tr("as the others"), differs=letter in own)
        self.name_usual(tr("as many on side {letter} as on the others", letter=letter))

    def _set(self, count: int) -> None:
        self._put({self.side.letter: count})

    def _as_the_others(self) -> None:
        self.count.setFocus()
        self._session.settle()
        self._put({self.side.letter: None})
        self._session.settle()

    def _put(self, spans: dict[str, int | None]) -> None:
        chosen, piece = self._session.chosen, self._session.piece
        if chosen is None or piece is None:
            return
        own = {**dict(piece.settings.side_spans), **spans}
        held = tuple(sorted((letter, count) for letter, count in own.items() if count is not None))
        change = changes.set_setting(self._session.plan, chosen, side_spans=held)
        self._session.do(changes.named(change, tr("Change spans of side {letter}", letter=next(iter(spans)))))


class RepeatsRow(SettingRow):
    """How often the quilt top has the patch."""

    def __init__(self, session: Session, look: Look) -> None:
        self._session = session
        self.count = CountField(tr("Repeats of the patch"), look, most=MAX_REPEATS)
        super().__init__(tr("Repeats"), tr("thread and time are counted so often"), self.count)
        self.count.box.setAccessibleName(tr("Repeats of the patch"))
        self.wanted.connect(self._set)
        self.settled.connect(session.settle)
        self.usual.clicked.connect(self._once)
        self.refresh()

    def refresh(self) -> None:
        """Show the repeats of the chosen patch."""
        piece = self._session.piece
        if piece is not None:
            self.count.show_count(piece.repeats)
            self.show_usual(tr("usual: {value}", value=1), differs=piece.repeats != 1)
            self.name_usual(tr("set the usual {value}", value=1))

    def _once(self) -> None:
        self.count.setFocus()
        self._session.settle()
        self._set(1)
        self._session.settle()

    def _set(self, count: int) -> None:
        chosen = self._session.chosen
        if chosen is not None:
            self._session.do(changes.set_repeats(self._session.plan, chosen, count))


class _Sides(QToolButton):
    """The letter of a side, and a menu of all the others."""

    chosen = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.letter = ""
        self._letters: list[str] = []
        self.setProperty("part", "choice")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        sentence = tr("The side whose spans are set")
        self.setToolTip(sentence)
        self.setWhatsThis(sentence)
        menu = QMenu(self)
        menu.setAccessibleName(tr("Sides"))
        menu.aboutToShow.connect(self._fill)
        self.setMenu(menu)

    def offer(self, letters: list[str]) -> None:
        """Have ``letters`` to choose from, and stay with the one that is chosen."""
        self._letters = letters
        self._show(self.letter if self.letter in letters else letters[0] if letters else "")

    def _fill(self) -> None:
        menu = self.menu()
        menu.clear()
        for letter in self._letters:
            action = menu.addAction(letter)
            action.setCheckable(True)
            action.setChecked(letter == self.letter)
            action.triggered.connect(lambda _=False, letter=letter: self._choose(letter))

    def _choose(self, letter: str) -> None:
        self._show(letter)
        self.chosen.emit()

    def _show(self, letter: str) -> None:
        self.letter = letter
        self.setText(f"{letter}  ▾")
        self.setAccessibleName(tr("Side {letter}", letter=letter))
        self.setEnabled(bool(self._letters))


def _sides_of(fit: Fit) -> list[str]:
    """A, B, …, Z, AA, …: those that have a mark."""
    return sorted({mark.side for fan in fit.fans for mark in fan.marks}, key=lambda side: (len(side), side))


def _place_for_another(fit: Fit) -> Point:
    """In the largest piece out of sight; where all is in sight, half way to the corner furthest away."""
    if fit.out_of_sight.areas:
        at = fit.out_of_sight.areas[0].representative_point()
        return (at.x, at.y)
    x, y = fit.anchors[-1] if fit.anchors else fit.patch.centre
    far_x, far_y = max(fit.patch.outline.tolist(), key=lambda at: (at[0] - x) ** 2 + (at[1] - y) ** 2)
    return ((x + far_x) / 2, (y + far_y) / 2)
