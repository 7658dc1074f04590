"""The bar under the canvas while the stitch path is walked: buttons, slider, speed, and the words."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QAction, QColor, QFontMetrics, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QMenu,
    QSizePolicy,
    QSlider,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.sketch.modes.walk import WalkMode
from app.sketch.palette import TEXT_POINTS, Role, TextSize
from app.sketch.translate import tr
from app.sketch.walk_words import NOTHING_TO_WALK, words
from app.window.actions import SPEED_WORDS
from app.window.announce import announce
from app.window.glyphs import ICON_SIZE
from app.window.icon_button import IconButton
from app.window.look import LEAST_TARGET, Look
from app.window.player import Player
from app.window.session import Session

_STEPS: Final = 1000
"""Of the slider: finer than its pixels on most screens."""

_LONGEST: Final = "Turn the cloth 135° to the left after 12 3/8 in"
"""As long as what is said of the next turn mostly is."""
_WIDE: Final = 1.8
"""Times that for two columns of words."""


class WalkBar(QFrame):
    """Shows one ``WalkMode`` and hands on to its player what is wanted."""

    def __init__(
        self,
        mode: WalkMode,
        player: Player,
        session: Session,
        look: Look,
        speeds: QMenu,
        turned: QAction,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._mode, self._session = mode, session
        self._spoken = ""
        self.setProperty("part", "walk")
        self.setAccessibleName(tr("Walk"))
        self.here = _Line(look, Role.TEXT, TextSize.BASE, bold=True, parent=self)
        self.then = _Line(look, Role.TEXT, TextSize.BASE, parent=self)
        self.done = _Line(look, Role.QUIET, TextSize.SMALL, right=True, parent=self)
        self.turned = _Line(look, Role.QUIET, TextSize.SMALL, right=True, parent=self)
        self._said = QGridLayout()
        self._said.setHorizontalSpacing(16)
        self._said.setVerticalSpacing(0)
        self._in_three: bool | None = None
        look.changed.connect(self._place_words)

        self.wedge_back = IconButton("wedge-back", tr("Previous wedge"), look, self)
        self.back = IconButton("step-back", tr("Step back"), look, self)
        self.play = _PlayButton(look, self)
        self.on = IconButton("step-on", tr("Step on"), look, self)
        self.wedge_on = IconButton("wedge-on", tr("Next wedge"), look, self)
        self.slider = QSlider(Qt.Orientation.Horizontal, self)
        self.slider.setRange(0, _STEPS)
        self.slider.setSingleStep(_STEPS // 100)
        self.slider.setPageStep(_STEPS // 10)
        self.slider.setMinimumHeight(LEAST_TARGET)
        self.slider.setAccessibleName(tr("Place on the stitch path"))
        self.slider.setToolTip(tr("Place on the stitch path"))
        self.speed = QToolButton(self)
        self.speed.setMenu(speeds)
        self.speed.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.speed.setProperty("part", "choice")
        self.turns = _Check(turned, self)
        hand = QHBoxLayout()
        hand.setSpacing(4)
        for button in (self.wedge_back, self.back, self.play, self.on, self.wedge_on):
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            button.setFixedSize(LEAST_TARGET + 8, LEAST_TARGET + 4)
            button.setIconSize(QSize(ICON_SIZE + 2, ICON_SIZE + 2))
            hand.addWidget(button)
        hand.addSpacing(8)
        hand.addWidget(self.slider, 1)
        hand.addSpacing(8)
        hand.addWidget(self.speed)
        self.speed.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        hand.addSpacing(8)
        hand.addWidget(self.turns)

        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 8, 16, 8)
        layout.setSpacing(4)
        layout.addLayout(self._said)
        layout.addLayout(hand)

        self.wedge_back.clicked.connect(lambda: player.step(-1, wedge=True))
        self.back.clicked.connect(lambda: player.step(-1))
        self.play.clicked.connect(player.toggle)
        self.on.clicked.connect(lambda: player.step(1))
        self.wedge_on.clicked.connect(lambda: player.step(1, wedge=True))
        self.slider.sliderPressed.connect(player.hold)
        self.slider.sliderReleased.connect(player.let_go)
        self.slider.valueChanged.connect(lambda value: player.scrub(value / _STEPS))
        player.moved.connect(self.refresh)
        session.fit_changed.connect(self.refresh)
        session.style_changed.connect(self.refresh)
        self._show_speed()
        self._place_words()
        self.hide()

    def refresh(self) -> None:
        """Show what the mode is at."""
        if self.isHidden():
            return
        mode, walk, reading, fit = self._mode, self._mode.walk, self._mode.reading, self._session.fit
        some = walk is not None
        for line in (self.done, self.turned):
            if line.isHidden() is some:
                line.setVisible(some)
        for widget in (
            self.wedge_back,
            self.back,
            self.play,
            self.on,
            self.wedge_on,
            self.slider,
            self.speed,
        ):
            if widget.isEnabled() is not some:
                widget.setEnabled(some)
        self.play.show_playing(mode.playing)
        self._show_speed()
        if walk is None or reading is None or fit is None:
            self.here.say(tr(NOTHING_TO_WALK) if fit is not None else "")
            for line in (self.then, self.done, self.turned):
                line.say("")
            self._show_share(0.0)
            return
        said = words(walk, reading, fit.settings, self._session.style)
        self.here.say(said.here)
        self.then.say(said.then)
        self.done.say(said.done)
        self.turned.say(said.turned)
        self._show_share(reading.share)
        self._announce()

    def _show_share(self, share: float) -> None:
        if not self.slider.isSliderDown():
            self.slider.blockSignals(True)
            self.slider.setValue(round(share * _STEPS))
            self.slider.blockSignals(False)

    def _show_speed(self) -> None:
        spoken = tr(SPEED_WORDS[self._mode.speed]).replace("&", "")
        text = tr("{times} × the pace  ▾", times=round(self._mode.speed))
        if self.speed.text() != text:
            self.speed.setText(text)
            self.speed.setAccessibleName(tr("Speed: {speed}", speed=spoken))
            self.speed.setToolTip(tr("Speed: {speed}", speed=spoken))

    def showEvent(self, event: object) -> None:
        self.refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_words()

    def _place_words(self) -> None:
        """What is done beside what comes, or below it where the bar is narrow for the size of the words."""
        longest = QFontMetrics(self.then.font()).horizontalAdvance(_LONGEST)
        in_three = self.width() < longest * _WIDE
        if in_three is self._in_three:
            return
        self._in_three = in_three
        for line in (self.here, self.then, self.done, self.turned):
            self._said.removeWidget(line)
        if in_three:
            self._said.addWidget(self.here, 0, 0, 1, 2)
            self._said.addWidget(self.then, 1, 0, 1, 2)
            self._said.addWidget(self.done, 2, 0)
            self._said.addWidget(self.turned, 2, 1)
        else:
            for row, (left, right) in enumerate(((self.here, self.done), (self.then, self.turned))):
                self._said.addWidget(left, row, 0)
                self._said.addWidget(right, row, 1)
        self._said.setColumnStretch(0, 3 if not in_three else 1)
        self._said.setColumnStretch(1, 2 if not in_three else 1)
        self.done.right = not in_three

    def _announce(self) -> None:
        """For a screen reader: where the needle came to rest. While it plays nothing else could be heard."""
        said = f"{self.here.words}. {self.then.words}"
        if said != self._spoken and not self._mode.playing and not self._mode.busy:
            self._spoken = said
            announce(self, said)


class _Check(QCheckBox):
    """Stands for an action that can be checked, while it can be chosen."""

    def __init__(self, action: QAction, parent: QWidget) -> None:
        super().__init__(tr("Turned"), parent)
        self._action = action
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setMinimumHeight(LEAST_TARGET)
        self.setAccessibleName(action.text().replace("&", ""))
        self.setToolTip(action.whatsThis())
        self.setWhatsThis(action.whatsThis())
        self.toggled.connect(action.setChecked)
        action.changed.connect(self._follow)
        self._follow()

    def _follow(self) -> None:
        self.setChecked(self._action.isChecked())
        self.setVisible(self._action.isEnabled())


class _PlayButton(IconButton):
    """Says what it would do."""

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__("play", tr("Play"), look, parent)
        self._playing = False

    def show_playing(self, playing: bool) -> None:
        if playing is not self._playing:
            self._playing = playing
            self._name = "pause" if playing else "play"
            said = tr("Pause") if playing else tr("Play")
            self.setAccessibleName(said)
            self.setToolTip(said)
            self._draw()


class _Line(QWidget):
    """A line of words, painted and not laid out, as it changes with every picture."""

    def __init__(
        self,
        look: Look,
        role: Role,
        size: TextSize,
        *,
        bold: bool = False,
        right: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._look, self._role = look, role
        self.right = right
        """Whether the words stand at the right end."""
        self.words = ""
        self._size, self._bold = size, bold
        self._wear_size()
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        look.changed.connect(self._wear_size)
        look.changed.connect(self.update)

    def _wear_size(self) -> None:
        font = self.font()
        font.setPointSizeF(TEXT_POINTS[self._size] * self._look.text_scale)
        font.setBold(self._bold)
        self.setFont(font)

    def say(self, text: str) -> None:
        if text != self.words:
            self.words = text
            self.setAccessibleName(text)
            self.setToolTip(text)
            self.update()

    def sizeHint(self) -> QSize:
        return QSize(120, self.fontMetrics().height() + 2)

    def paintEvent(self, event: QPaintEvent) -> None:
        with QPainter(self) as painter:
            painter.setPen(QColor(self._look.palette[self._role]))
            side = Qt.AlignmentFlag.AlignRight if self.right else Qt.AlignmentFlag.AlignLeft
            text = self.fontMetrics().elidedText(self.words, Qt.TextElideMode.ElideRight, self.width())
            painter.drawText(self.rect(), side | Qt.AlignmentFlag.AlignVCenter, text)
