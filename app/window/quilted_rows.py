"""How will it look? Cloth, thread and its weight, and in words whether the one shows on the other."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QHBoxLayout, QLabel, QToolButton, QVBoxLayout, QWidget

from app.plan.model import THREAD_WIDTH
from app.sketch import changes
from app.sketch.quantity import THREAD_WEIGHT
from app.sketch.quilted import CLOTH, THREAD, QuiltedLook, colour_words, shows_words
from app.sketch.translate import tr
from app.window.colour_field import ColourField
from app.window.look import Look
from app.window.session import Session
from app.window.setting_row import SettingRow
from app.window.typed_field import TypedField
from geometry import WedgewrightError


class QuiltedRows(QWidget):
    """Reads the session, and asks it for changes."""

    def __init__(self, session: Session, look: Look, quilted: QAction) -> None:
        """``quilted``: shows it on the canvas."""
        super().__init__()
        self._session = session
        show = QToolButton()
        show.setDefaultAction(quilted)
        show.setProperty("part", "choice")
        show.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        show.setAccessibleName(quilted.text().replace("&", ""))
        self.cloth = ColourField(tr("Cloth"), look)
        self.thread_ = ColourField(tr("Thread"), look)
        self.weight = TypedField(THREAD_WEIGHT)
        self._cloth = SettingRow(tr("Cl&oth"), tr("colour of the patch"), self.cloth, wide=True)
        self._thread = SettingRow(tr("Th&read"), tr("colour of the top thread"), self.thread_, wide=True)
        self._weight = SettingRow(
            tr("Thread weight"), tr("width of the thread as it lies on the cloth"), self.weight
        )
        self.shows = QLabel()
        self.shows.setWordWrap(True)
        self.for_all = QToolButton()
        self.for_all.setText(tr("use this thread for all patches"))
        self.for_all.setAccessibleName(tr("Use this thread for all patches"))
        sentence = tr("All patches of the plan get this thread, each keeps its cloth; undo takes it back")
        self.for_all.setToolTip(sentence)
        self.for_all.setWhatsThis(sentence)
        self.for_all.setProperty("quiet", True)
        self.for_all.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(12)
        for row in (show, self.shows, self._cloth, self._thread, self._weight):
            layout.addWidget(row)
        foot = QHBoxLayout()
        foot.addStretch(1)
        foot.addWidget(self.for_all)
        layout.addLayout(foot)
        self.cloth.told.connect(lambda colour: self._do(self._cloth, changes.set_cloth, colour))
        self.thread_.told.connect(lambda colour: self._do(self._thread, changes.set_thread, colour))
        self._weight.wanted.connect(lambda mm: self._do(self._weight, changes.set_thread_width, mm))
        self._weight.settled.connect(session.settle)
        self._cloth.usual.clicked.connect(lambda: self._do(self._cloth, changes.set_cloth, ""))
        self._thread.usual.clicked.connect(lambda: self._do(self._thread, changes.set_thread, ""))
        self._weight.usual.clicked.connect(self._usual_weight)
        self.for_all.clicked.connect(self._use_for_all)
        self.refresh()

    def refresh(self) -> None:
        """Show what was chosen for the chosen patch."""
        piece, style = self._session.piece, self._session.style
        if piece is None:
            return
        look = QuiltedLook.of(piece)
        self.cloth.show_colour(piece.cloth, CLOTH)
        self.thread_.show_colour(piece.thread, THREAD)
        self.weight.show_value(piece.thread_width, style)
        for row, usual, differs in (
            (self._cloth, colour_words(CLOTH), bool(piece.cloth)),
            (self._thread, colour_words(THREAD), bool(piece.thread)),
            (self._weight, self.weight.words(THREAD_WIDTH, style), piece.thread_width != THREAD_WIDTH),
        ):
            row.show_usual(tr("usual: {value}", value=usual), differs=differs)
            row.name_usual(tr("set the usual {value}", value=usual))
        self.shows.setText(tr("{sentence}.", sentence=shows_words(look)))
        self.for_all.setEnabled(
            any(
                (other.thread, other.thread_width) != (piece.thread, piece.thread_width)
                for other in self._session.plan.patches
            )
        )

    def _usual_weight(self) -> None:
        self.weight.give_up()
        self._weight.show_wrong("")
        self._do(self._weight, changes.set_thread_width, THREAD_WIDTH)
        self._session.settle()

    def _use_for_all(self) -> None:
        chosen = self._session.chosen
        if chosen is not None:
            self._session.do(changes.use_thread_for_all(self._session.plan, chosen))

    def _do(self, row: SettingRow, change: Callable[..., changes.Change], value: object) -> None:
        chosen = self._session.chosen
        if chosen is None:
            return
        try:
            self._session.do(change(self._session.plan, chosen, value))
        except WedgewrightError as error:
            row.refuse(str(error))
