"""The bar under the canvas while a photo is squared up: what to do next, and the sizes that are known."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app.plan.photo import CORNERS
from app.sketch import photo_changes
from app.sketch.changes import Change
from app.sketch.modes.photo import PhotoMode, known_of
from app.sketch.photo_changes import letter
from app.sketch.quantity import LENGTH, PLACE
from app.sketch.translate import tr
from app.window.actions import KNOWN_WORDS
from app.window.announce import announce
from app.window.session import Session
from app.window.typed_field import TypedField
from geometry import WedgewrightError
from geometry.types import Point

_LEAST_WIDE, _MOST_WIDE = 88, 144
"""px of a field for one length: what there is room for between them."""


class PhotoBar(QFrame):
    """Shows one ``PhotoMode``; what is typed changes the plan."""

    def __init__(
        self, mode: PhotoMode, session: Session, known: QMenu, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._mode, self._session = mode, session
        self._steps = (0, 0)
        """How many corners and further places there were last."""
        self.setProperty("part", "walk")
        self.setAccessibleName(tr("Photo"))
        self.hint = QLabel(self)
        self.hint.setWordWrap(True)
        self.hint.setProperty("part", "heading")
        self.known = QToolButton(self)
        self.known.setMenu(known)
        self.known.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.known.setProperty("part", "choice")
        self.across = TypedField(LENGTH, self, none=tr("length"))
        self.down = TypedField(LENGTH, self, none=tr("length"))
        self.place = TypedField(PLACE, self, none=tr("6, 4 1/2"), nothing=None)
        self.add = QPushButton(tr("&Add a place"), self)
        self.add.setAccessibleName(tr("Add a place"))
        self.draw = QPushButton(tr("Draw &over it"), self)
        self.draw.setAccessibleName(tr("Draw over the photo"))
        self._place_name = QLabel(self)
        sizes, places = QHBoxLayout(), QHBoxLayout()
        for row in (sizes, places):
            row.setSpacing(8)
        sizes.addWidget(self.known)
        for words, field, name, about in (
            (QLabel(tr("A to &B"), self), self.across, tr("A to B"), tr("How far it is from A to B.")),
            (QLabel(tr("A to &D"), self), self.down, tr("A to D"), tr("How far it is from A to D.")),
            (
                self._place_name,
                self.place,
                tr("Place across and down"),
                tr("How far the place lies across from A, as B does, and down from A, as D does."),
            ),
        ):
            words.setBuddy(field)
            field.setAccessibleName(name)
            field.setToolTip(about)
            field.setWhatsThis(about)
            field.setMinimumWidth(_LEAST_WIDE)
            field.setMaximumWidth(_MOST_WIDE if field is not self.place else 2 * _MOST_WIDE)
            row = places if field is self.place else sizes
            if row is sizes:
                row.addSpacing(8)
            row.addWidget(words)
            row.addWidget(field, 1)
        for row in (sizes, places):
            row.addStretch()
        top = QHBoxLayout()
        top.setSpacing(8)
        top.addWidget(self.hint, 1)
        top.addWidget(self.add)
        top.addWidget(self.draw)
        self.add.setWhatsThis(tr("Lets a click show a further place that you know, to check the photo."))
        self.draw.setWhatsThis(tr("Lays the photo beneath, and draws patches over it."))
        self.known.setWhatsThis(tr("What of known size lies on the cloth."))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 8, 16, 8)
        layout.setSpacing(8)
        layout.addLayout(top)
        layout.addLayout(sizes)
        layout.addLayout(places)
        self.across.told.connect(lambda mm: self._tell_size(0, mm))
        self.down.told.connect(lambda mm: self._tell_size(1, mm))
        self.place.told.connect(self._tell_place)
        for field in (self.across, self.down, self.place):
            field.wrong.connect(self._say_wrong)
            field.returnPressed.connect(self._enter)
        session.style_changed.connect(self.refresh)
        self._show_known(None)
        self.hide()

    def refresh(self) -> None:
        """Show what the mode is at."""
        if self.isHidden():
            return
        photo, style = self._session.plan.photo, self._session.style
        self._say(self._mode.hint)
        size = photo.size if photo is not None else None
        self._show_known(size)
        for field, mm in ((self.across, size[0] if size else 0.0), (self.down, size[1] if size else 0.0)):
            field.setEnabled(photo is not None)
            field.show_value(mm, style)
        chosen = self._mode.chosen
        other = photo is not None and chosen is not None and chosen >= CORNERS
        self._place_name.setVisible(other)
        self.place.setVisible(other)
        if other and photo is not None and chosen is not None:
            self._place_name.setText(tr("A to {name}, across and down", name=letter(chosen)))
            self.place.setAccessibleName(tr("A to {name}, across and down", name=letter(chosen)))
            self.place.show_value(photo.others[chosen - CORNERS].place, style)
        self.add.setEnabled(photo is not None and len(photo.corners) == CORNERS)
        self.draw.setEnabled(self._mode.is_squared)
        self._lead()

    # ------------------------------------------------------------------------------------------------

    def _show_known(self, size: Point | None) -> None:
        words = tr(KNOWN_WORDS[known_of(size)]).replace("&", "")
        self.known.setText(f"{words}  ▾")
        self.known.setAccessibleName(tr("What is known: {what}", what=words))

    def _lead(self) -> None:
        """Once a place is shown whose size is to be told, to the field for it."""
        photo = self._session.plan.photo
        before = self._steps
        self._steps = (len(photo.corners), len(photo.others)) if photo is not None else (0, 0)
        if photo is None or before == (0, 0):
            return
        if before[0] == CORNERS - 1 and self._steps[0] == CORNERS and photo.size is None:
            self.across.setFocus()
        elif self._steps[1] > before[1] and photo.others[-1].place is None:
            self.place.setFocus()

    def _tell_size(self, which: int, mm: float) -> None:
        photo = self._session.plan.photo
        if photo is None:
            return
        sides = list(photo.size or (mm, mm))  # a block is square until its other side is told
        sides[which] = mm
        size: Point = (sides[0], sides[1])
        self._do((self.across, self.down)[which], lambda: photo_changes.tell_size(self._session.plan, size))

    def _tell_place(self, place: Point | None) -> None:
        chosen = self._mode.chosen
        if chosen is not None and place is not None:
            self._do(self.place, lambda: photo_changes.tell_place(self._session.plan, chosen, place))

    def _do(self, field: TypedField, change: Callable[[], Change]) -> None:
        try:
            self._session.do(change())
        except WedgewrightError as error:
            field.refuse(str(error))
            return
        self.refresh()

    def _enter(self) -> None:
        """Enter where nothing new is typed goes on, as on the canvas."""
        if not any(field.isModified() for field in (self.across, self.down, self.place)):
            self.draw.click()  # which does nothing while it is not enabled

    def _say_wrong(self, sentence: str) -> None:
        self._say(sentence or self._mode.hint)

    def _say(self, sentence: str) -> None:
        if self.hint.text() != sentence:
            self.hint.setText(sentence)
            announce(self, sentence)
