"""Speaks what the eye would see change: what the keys moved, the verdict, what was taken back."""

from __future__ import annotations

from PySide6.QtCore import QObject

from app.sketch.spoken import held_words
from app.sketch.translate import tr
from app.sketch.wording import verdict
from app.window.announce import announce
from app.window.canvas import Canvas
from app.window.session import Session


class Speaker(QObject):
    """Each thing once; the verdict only when the hand rests, as it changes at every move."""

    def __init__(self, canvas: Canvas, session: Session, parent: QObject) -> None:
        super().__init__(parent)
        self._canvas = canvas
        self._session = session
        self._held = ""
        self._chosen = self._session.chosen
        self._verdict = self._verdict_now()
        canvas.keyed.connect(self._say_held)
        canvas.rest.rested.connect(self._say_verdict)
        session.fit_changed.connect(self._fit_changed)
        session.chosen_changed.connect(self._say_patch)

    def undone(self, name: str | None) -> None:
        """A step of that name was taken back; None: one that is not in the plan yet."""
        announce(self._canvas, tr("Undo: {name}", name=name or tr("the last step")))

    def redone(self, name: str | None) -> None:
        """A step of that name was done again."""
        if name is not None:
            announce(self._canvas, tr("Redo: {name}", name=name))

    # ------------------------------------------------------------------------------------------------

    def _say_held(self) -> None:
        overlay = self._canvas.mode.overlay(self._canvas.view.scale)
        if overlay.walked is not None:
            return  # the bar of the walk says where its needle is
        words = held_words(overlay, self._session.fit, self._session.style)
        if words and words != self._held:
            announce(self._canvas, words)
        self._held = words

    def _fit_changed(self) -> None:
        if self._session.chosen != self._chosen:
            return  # of another patch: it is said together with its name
        if self._canvas.rest.resting and not self._session.in_gesture:
            self._say_verdict()

    def _say_verdict(self) -> None:
        now = self._verdict_now()
        if now != self._verdict:
            self._verdict = now
            announce(self._canvas, now or tr("No patch is chosen"))

    def _say_patch(self) -> None:
        piece = self._session.piece
        self._held, self._chosen, self._verdict = "", self._session.chosen, self._verdict_now()
        if piece is not None:
            announce(self._canvas, tr("{name}: {verdict}", name=piece.name, verdict=self._verdict))

    def _verdict_now(self) -> str:
        fit = self._session.fit
        return "" if fit is None else verdict(fit)
