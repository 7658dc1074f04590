"""What helps to choose an anchor: map, suggestions and first wedge, wired to the bench."""

from __future__ import annotations

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QDockWidget

from app.sketch.anchor_map_display import progress_words
from app.sketch.anchor_words import suggestion_words
from app.sketch.modes.anchor import AnchorMode
from app.window import preferences
from app.window.actions import Actions
from app.window.anchor_work import AnchorWork
from app.window.canvas import Canvas
from app.window.session import Session
from app.window.suggestions_panel import SuggestionsPanel
from geometry.anchors import Suggestion


class AnchorGuide(QObject):
    """Between the anchor's mode, what is worked out for it, the canvas, the panel and the actions."""

    def __init__(
        self,
        session: Session,
        mode: AnchorMode,
        work: AnchorWork,
        canvas: Canvas,
        panel: SuggestionsPanel,
        actions: Actions,
        parent: QObject,
    ) -> None:
        super().__init__(parent)
        self._session = session
        self._mode = mode
        self._work = work
        self._canvas = canvas
        self._panel = panel
        self._actions = actions
        actions.anchor_map.setChecked(preferences.anchor_map())
        actions.anchor_map.toggled.connect(self._map_toggled)
        actions.suggest.triggered.connect(self._suggest)
        actions.stop_looking.triggered.connect(self._stop_looking)
        actions.begin_with.triggered.connect(self._begin_with)
        actions.other_way.triggered.connect(self._other_way)
        panel.tried.connect(self._try_out)
        panel.taken.connect(self._take)
        panel.seen.connect(self.follow)
        work.changed.connect(self._show)
        self.follow()

    def follow(self) -> None:
        """Another mode, or the panel came or went: work out what is needed there, and show what is known."""
        here = self._canvas.mode is self._mode
        wants_map = here and self._actions.anchor_map.isChecked()
        self._work.want(map_=wants_map, suggestions=here or self._panel.isVisible())
        self._show()

    def _show(self) -> None:
        # Esc means it only where something is seen to be under way.
        seen = self._panel.isVisible() and self._work.progress("suggestions") is not None
        self._actions.stop_looking.setEnabled(seen or self._work.progress("map") is not None)
        if self._canvas.mode is not self._mode or not self._actions.anchor_map.isChecked():
            self._canvas.show_map(None)
            return
        progress = self._work.progress("map")
        self._canvas.show_map(self._work.signs, "" if progress is None else progress_words(*progress))

    def _stop_looking(self) -> None:
        """A drag that began meanwhile is nearer to the hand, and goes first."""
        if self._canvas.mode.busy and self._canvas.cancel():
            return
        making_map = self._work.progress("map") is not None
        self._work.give_up()
        if making_map:
            self._actions.anchor_map.setChecked(False)

    def _map_toggled(self, shown: bool) -> None:
        if shown:
            self._work.take_up()
        preferences.store_anchor_map(shown)
        if shown:
            self._to_mode()
        self.follow()

    def _suggest(self) -> None:
        self._work.take_up()
        self._to_mode()
        dock = self._panel.parentWidget()
        if isinstance(dock, QDockWidget):
            dock.show()
            dock.raise_()
        self._panel.take_focus()

    def _begin_with(self) -> None:
        wedge = self._canvas.wedge_meant
        self._to_mode()
        self._canvas.setFocus()
        self._canvas.sentence = ""
        self._canvas.carry_out(self._mode.begin_with(wedge))
        self._canvas.keyed.emit()

    def _other_way(self) -> None:
        self._to_mode()
        self._canvas.carry_out(self._mode.other_way_round())

    def _try_out(self, suggestion: Suggestion | None) -> None:
        if self._canvas.mode is self._mode:
            self._mode.try_out(None if suggestion is None else suggestion.anchor)
            if suggestion is not None:
                self._canvas.sentence = ""
            self._session.show_candidate(self._mode.candidate)
            self._canvas.update()

    def _take(self, suggestion: Suggestion) -> None:
        self._to_mode()
        self._canvas.carry_out(self._mode.put(suggestion.anchor, suggestion_words(suggestion)))

    def _to_mode(self) -> None:
        """Where an anchor is chosen."""
        if self._canvas.mode is not self._mode:
            self._actions.anchor.trigger()
