"""One setting: its name, its field, one line about it, the usual value, and what is wrong with an entry."""

from __future__ import annotations

from typing import Any, TypeAlias

from PySide6.QtCore import QEvent, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QGridLayout, QLabel, QSizePolicy, QToolButton, QWidget

from app.sketch.quantity import Quantity
from app.sketch.setting_words import USUAL, Count, Setting, Ways, YesNo
from app.sketch.translate import tr
from app.window.choice_field import WaysField, YesField
from app.window.count_field import CountField
from app.window.look import Look
from app.window.typed_field import TypedField
from geometry import Settings
from geometry.units import LengthStyle

Field: TypeAlias = TypedField | CountField | WaysField | YesField

_FIELD_WIDTH = 116
"""px: of what stands beside its name, at least."""


def field_width(metrics: QFontMetrics) -> int:
    """px: of what stands beside its name, so that no value is cut off."""
    return max(_FIELD_WIDTH, metrics.horizontalAdvance(tr("{count} per inch", count="88")) + 24)


class SettingRow(QWidget):
    """``wanted`` says what the user wants the value to be; who listens does it, or refuses."""

    wanted = Signal(object)
    settled = Signal()
    """What was wanted last is done with: what is wanted next is another step."""

    def __init__(self, name: str, about: str, field: QWidget, *, wide: bool = False) -> None:
        """``wide``: the field stands below its name, not beside it. A field that says its name itself has
        none beside it."""
        super().__init__()
        self._field = field
        self._beside = False
        """Whether the field stands beside its name."""
        plain = name.replace("&", "")
        self._name = plain
        field.setAccessibleName(plain)
        for widget in (field, field.box) if isinstance(field, CountField) else (field,):
            widget.setAccessibleDescription(about)
            widget.setToolTip(about)
            widget.setWhatsThis(about)
        self._about = QLabel(about)
        self._about.setProperty("part", "quiet")
        self._about.setWordWrap(True)
        self._about.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        self._about.setContentsMargins(0, 4, 0, 0)
        self._wrong = QLabel()
        self._wrong.setProperty("part", "problem")
        self._wrong.setWordWrap(True)
        self._wrong.hide()
        self.usual = _Usual()
        """Sets the usual value; enabled where the value is another."""
        self.usual.setProperty("quiet", True)
        self.usual.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.usual.hide()
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(0)
        grid.setColumnStretch(0, 1)
        row = 0
        if not isinstance(field, YesField):
            label = QLabel(name)
            label.setBuddy(field)
            grid.addWidget(label, 0, 0, 1, 2 if wide else 1)
            row = int(wide)
        if wide or isinstance(field, YesField):
            grid.addWidget(field, row, 0, 1, 2)
        else:
            self._beside = True
            field.setFixedWidth(field_width(self.fontMetrics()))
            grid.addWidget(field, 0, 1, Qt.AlignmentFlag.AlignRight)
        grid.addWidget(self._wrong, row + 1, 0, 1, 2)
        below = QGridLayout()
        below.setContentsMargins(0, 0, 0, 0)
        below.setHorizontalSpacing(8)
        below.setVerticalSpacing(0)
        below.addWidget(self._about, 0, 0)
        below.addWidget(self.usual, 0, 1, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
        below.setColumnStretch(0, 1)
        grid.addLayout(below, row + 2, 0, 1, 2)
        if isinstance(field, (TypedField, CountField)):
            field.wrong.connect(self.show_wrong)
        if isinstance(field, Field):
            field.told.connect(self._want)
            field.settled.connect(self.settled)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and self._beside:
            self._field.setFixedWidth(field_width(self.fontMetrics()))

    def show_usual(self, words: str, *, differs: bool) -> None:
        """What is usual, to be had by one click where the value ``differs``."""
        self.usual.show()
        self.usual.setEnabled(differs)
        self.usual.setText(words)

    def name_usual(self, sentence: str) -> None:
        """What the button for the usual value does."""
        self.usual.setAccessibleName(tr("{name}: {what}", name=self._name, what=sentence))
        self.usual.setToolTip(sentence)
        self.usual.setWhatsThis(sentence)

    def show_wrong(self, sentence: str) -> None:
        """What is wrong with what was typed; empty where nothing is."""
        self._wrong.setText(f"▲ {sentence}")
        self._wrong.setVisible(bool(sentence))

    @property
    def is_wrong(self) -> bool:
        """Whether a sentence says what is wrong with what was typed."""
        return not self._wrong.isHidden()

    def refuse(self, sentence: str) -> None:
        """What was wanted cannot be."""
        if isinstance(self._field, TypedField):
            self._field.refuse(sentence)
        else:
            self.show_wrong(sentence)

    def _want(self, value: object) -> None:
        self.wanted.emit(value)


class _Usual(QToolButton):
    """As wide as its words: Qt leaves room for a menu's sign, and the line beside it needs all there is."""

    def __init__(self) -> None:
        super().__init__()
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        width = self.fontMetrics().horizontalAdvance(self.text()) + 12
        return QSize(width, super().sizeHint().height())


class UsualRow(SettingRow):
    """A setting with a value that is usual in the trade."""

    def __init__(self, setting: Setting, look: Look) -> None:
        self.setting = setting
        self.field = _field(setting, look)
        super().__init__(tr(setting.name), tr(setting.about), self.field, wide=_is_wide(setting))
        self.usual.clicked.connect(self._want_usual)

    def show_settings(self, settings: Settings, style: LengthStyle) -> None:
        """Show the value that ``settings`` have."""
        usual: Any = getattr(USUAL, self.setting.key)
        value: Any = getattr(settings, self.setting.key)
        self.field.show_value(value, style)
        words = self.field.words(usual, style)
        # Of two ways the usual one stands first and says so itself; elsewhere there is room for the value.
        short = isinstance(self.setting.kind, Ways) or self.setting.wide
        self.show_usual(tr("usual") if short else tr("usual: {value}", value=words), differs=value != usual)
        self.name_usual(tr("set the usual {value}", value=words))

    def _want_usual(self) -> None:
        self.field.setFocus()
        self.settled.emit()
        if isinstance(self.field, TypedField):
            self.field.give_up()
        self.show_wrong("")
        self.wanted.emit(getattr(USUAL, self.setting.key))
        self.settled.emit()


def _is_wide(setting: Setting) -> bool:
    return setting.wide or isinstance(setting.kind, Ways)


def _field(setting: Setting, look: Look) -> Field:
    usual = getattr(USUAL, setting.key)
    kind, none = setting.kind, tr(setting.none) if setting.none else ""
    match kind:
        case Count():
            name = tr(setting.name).replace("&", "")
            return CountField(name, look, least=kind.least, most=kind.most, none=none)
        case Ways():
            return WaysField(tr(setting.name), tr(kind.yes), tr(kind.no), usual=usual)
        case YesNo():
            return YesField(tr(setting.name))
        case Quantity():
            return TypedField(kind, none=none, nothing=usual if none else None)
    raise TypeError(f"{setting.key} needs a control of its own")
