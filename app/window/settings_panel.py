"""The settings of the chosen patch, grouped by the questions that a quilter asks."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.sketch import changes
from app.sketch.changes import Change
from app.sketch.translate import tr
from app.window.count_field import CountField
from app.window.length_field import LengthField
from app.window.look import Look
from app.window.session import Session
from geometry import Settings, WedgewrightError
from geometry.units import LengthStyle, format_length

_USUAL = Settings()
_FIELD_WIDTH = 128


class SettingsPanel(QScrollArea):
    """Reads the session, and asks it for changes; errors show at the field that they belong to."""

    def __init__(self, session: Session, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._look = look
        self._rows: list[_Row] = []
        self.setObjectName("settings-panel")
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        inner = QWidget()
        self._layout = QVBoxLayout(inner)
        self._layout.setContentsMargins(16, 8, 16, 16)
        self._layout.setSpacing(8)
        self._build()
        self._layout.addStretch(1)
        self.setWidget(inner)
        session.plan_changed.connect(self.refresh)
        session.chosen_changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show the chosen patch's settings."""
        piece = self._session.piece
        self.setEnabled(piece is not None)
        if piece is None:
            return
        x, y = piece.anchors[0]
        style = self._session.style
        values = {"anchor_x": x, "anchor_y": y}
        for row in self._rows:
            value = values[row.key] if row.key in values else getattr(piece.settings, row.key)
            row.show_value(value, style)

    def _build(self) -> None:
        self._heading(tr("Where do the lines gather?"))
        self._length("anchor_x", tr("Anchor &x"), tr("across the cloth, from its left"), signed=True)
        self._length("anchor_y", tr("Anchor &y"), tr("down the cloth, from its top"), signed=True)
        self._heading(tr("How far from the seam and from each other?"))
        self._length("edge_margin", tr("Edge &margin"), tr("kept clear along the seam"))
        self._length("gap", tr("&Gap"), tr("clear strip between two wedges"))
        self._heading(tr("Where do the lines end?"))
        self._count("spans_per_side", tr("Spans a &side"), tr("equal parts of each side"))
        self._length(
            "longest_span", tr("&Longest span"), tr("longer sides get more spans"), none=tr("no limit")
        )
        self._heading(tr("What is still seen as a wedge?"))
        self._length("visible_width", tr("Visible &width"), tr("narrower wedges get a warning"))

    def _heading(self, text: str) -> None:
        label = QLabel(text)
        label.setProperty("part", "heading")
        label.setWordWrap(True)
        if self._rows:
            self._layout.addSpacing(16)
        self._layout.addWidget(label)

    def _length(self, key: str, name: str, what: str, *, signed: bool = False, none: str = "") -> None:
        field = LengthField(signed=signed, none=none)
        row = _Row(key, name, what, field)
        field.told.connect(lambda mm: self._set(row, mm))
        field.wrong.connect(row.show_wrong)
        self._add(row)

    def _count(self, key: str, name: str, what: str) -> None:
        field = CountField(_plain(name), self._look, most=99)
        row = _Row(key, name, what, field)
        field.told.connect(lambda count: self._set(row, count))
        self._add(row)

    def _add(self, row: _Row) -> None:
        row.usual_wanted.connect(lambda value: self._set(row, value))
        self._rows.append(row)
        self._layout.addWidget(row)

    def _set(self, row: _Row, value: float) -> None:
        chosen = self._session.chosen
        if chosen is None:
            return
        try:
            self._session.do(self._change(chosen, row.key, value))
        except WedgewrightError as error:
            row.refuse(str(error))

    def _change(self, chosen: int, key: str, value: float) -> Change:
        plan = self._session.plan
        x, y = plan.patches[chosen].anchors[0]
        if key == "anchor_x":
            return changes.move_anchor(plan, chosen, (value, y))
        if key == "anchor_y":
            return changes.move_anchor(plan, chosen, (x, value))
        return changes.set_setting(plan, chosen, **{key: value})


class _Row(QWidget):
    """One setting: name, field, what it is, the usual value, and what is wrong with what was typed."""

    usual_wanted = Signal(object)

    def __init__(self, key: str, name: str, what: str, field: LengthField | CountField) -> None:
        super().__init__()
        self.key = key
        self._field = field
        label = QLabel(name)
        label.setBuddy(field)
        field.setFixedWidth(_FIELD_WIDTH)
        field.setAccessibleName(_plain(name))
        field.setAccessibleDescription(what)
        field.setToolTip(what)
        about = QLabel(what)
        about.setProperty("part", "quiet")
        about.setWordWrap(True)
        self._wrong = QLabel()
        self._wrong.setProperty("part", "problem")
        self._wrong.setWordWrap(True)
        self._wrong.hide()
        self._usual = QToolButton()
        self._usual.setProperty("quiet", True)
        self._usual.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._usual.clicked.connect(self._ask_usual)
        below = QHBoxLayout()
        below.addWidget(about, 1)
        below.addWidget(self._usual)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(0)
        grid.addWidget(label, 0, 0)
        grid.addWidget(field, 0, 1, Qt.AlignmentFlag.AlignRight)
        grid.addLayout(below, 1, 0, 1, 2)
        grid.addWidget(self._wrong, 2, 0, 1, 2)
        grid.setColumnStretch(0, 1)

    def show_value(self, value: float, style: LengthStyle) -> None:
        usual = getattr(_USUAL, self.key, None)
        self._usual.setVisible(usual is not None and value != usual)
        if isinstance(self._field, LengthField):
            self._field.show_length(value, style)
            words = tr("no limit") if usual == 0 else "" if usual is None else format_length(usual, style)
        else:
            self._field.show_count(int(value))
            words = str(usual)
        self._usual.setText(tr("usual: {value}", value=words))
        self._usual.setAccessibleName(
            tr("{name}: set the usual {value}", name=self._field.accessibleName(), value=words)
        )

    def show_wrong(self, sentence: str) -> None:
        self._wrong.setText(f"▲ {sentence}")
        self._wrong.setVisible(bool(sentence))

    def refuse(self, sentence: str) -> None:
        if isinstance(self._field, LengthField):
            self._field.refuse(sentence)
        else:
            self.show_wrong(sentence)

    def _ask_usual(self) -> None:
        self._field.setFocus()
        self.usual_wanted.emit(getattr(_USUAL, self.key))


def _plain(name: str) -> str:
    """A name without the sign of its access key."""
    return name.replace("&", "")
