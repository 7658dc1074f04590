"""The canvas: turns Qt's events into a mode's, and paints what the mode and the session hold."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from PySide6.QtCore import QEvent, QPointF, QRect, Qt, QTimer, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QHideEvent,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QTouchEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from app.sketch.anchor_map_display import MapSigns
from app.sketch.first_wedge import wedge_at
from app.sketch.modes.events import Key, KeyPress, Pointer
from app.sketch.modes.mode import Mode, Outcome
from app.sketch.modes.overlay import HandleKind, HandleState, Overlay
from app.sketch.palette import Role
from app.sketch.quilted import QuiltedLook, shows_words
from app.sketch.translate import tr
from app.sketch.view import ZOOM_STEP, View
from app.sketch.wording import verdict
from app.window.look import Look
from app.window.overlay_painter import OverlayPainter, room_of
from app.window.photo_picture import Beneath, PhotoPicture
from app.window.picture import Picture, Scene
from app.window.quilted_picture import QuiltedPicture
from app.window.rest import Rest
from app.window.session import Session
from app.window.touch import Touch
from app.window.walk_picture import WalkPicture
from geometry import Fit, WedgewrightError
from geometry.types import Point

_KEYS: Final = {
    Qt.Key.Key_Left: Key.LEFT,
    Qt.Key.Key_Right: Key.RIGHT,
    Qt.Key.Key_Up: Key.UP,
    Qt.Key.Key_Down: Key.DOWN,
    Qt.Key.Key_Return: Key.ENTER,
    Qt.Key.Key_Enter: Key.ENTER,
    Qt.Key.Key_Backspace: Key.BACKSPACE,
    Qt.Key.Key_Delete: Key.DELETE,
    Qt.Key.Key_Insert: Key.INSERT,
    Qt.Key.Key_PageDown: Key.NEXT,
    Qt.Key.Key_PageUp: Key.PREVIOUS,
    Qt.Key.Key_Home: Key.HOME,
    Qt.Key.Key_End: Key.END,
}

_PAN_KEYS: Final = {
    Qt.Key.Key_Left: (1, 0),
    Qt.Key.Key_Right: (-1, 0),
    Qt.Key.Key_Up: (0, 1),
    Qt.Key.Key_Down: (0, -1),
}
_PAN_STEP: Final = 48.0
"""px for one key press, and for one notch of a wheel."""

_WHEEL_NOTCH: Final = 120.0
"""Qt's angle for one notch of a wheel."""

_FREE: Final = Qt.KeyboardModifier.ControlModifier
"""Held, it turns snapping off, and makes the steps of the arrow keys small."""


PHOTO_STRENGTHS: Final = (0.25, 0.5, 1.0)
"""How much of the photo is seen through the cloth: the usual one in the middle."""


class Canvas(QWidget):
    """The middle of the bench."""

    mode_left = Signal()
    """The mode is done; the bench goes back to the anchor."""

    worked = Signal()
    """An event was worked off: what can be undone may be another."""
    keyed = Signal()
    """A key, or the menu in its place, did something in the mode."""
    touched = Signal()
    """The hand begins something: what was said of the last thing is old."""

    def __init__(self, session: Session, look: Look, mode: Mode, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._look = look
        self._mode = mode
        self._view = View(float(self.width()), float(self.height()))
        self._fitted = False
        self._picture = Picture()
        self._moved: QRect | None = None
        """Where the picture moved last, logical pixels; None where all of it may be another."""
        self._walk_picture = WalkPicture()
        self._quilted_picture = QuiltedPicture()
        self._quilted = False
        self._photo_picture = PhotoPicture()
        self._photo_strength = PHOTO_STRENGTHS[1]
        self._photo_shown = True
        self._extent: tuple[float, float, float, float] | None = None
        self._cloth_view: View | None = None
        """Where the cloth lay, while a mode shows something else in its place."""
        self._pan_from: QPointF | None = None
        self._space = False
        self._place: Point | None = None
        self._wedge: int | None = None
        self._hover: QPointF | None = None
        """Where the hand was last, while it is over the canvas."""
        self._signs: MapSigns | None = None
        self._notice = ""
        self.sentence = ""
        """Shown beside the anchor until it is first taken hold of."""
        self.rest = Rest(self)
        self.rest.rested.connect(self.update)
        self.setObjectName("canvas")
        self.setWhatsThis(tr("The patch and its fan. The line at the foot says what the hand can do."))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self._touch = Touch(self)
        self.setAttribute(Qt.WidgetAttribute.WA_AcceptTouchEvents)
        self.setMinimumSize(240, 200)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        session.fit_changed.connect(self._fit_changed)
        session.chosen_changed.connect(self._chosen_changed)
        session.plan_changed.connect(self._plan_changed)
        look.changed.connect(self.update)
        self._name()

    # --- what the window asks -----------------------------------------------------------------------

    @property
    def mode(self) -> Mode:
        """What the hand does."""
        return self._mode

    @mode.setter
    def mode(self, mode: Mode) -> None:
        if mode is self._mode:
            return
        self._mode.leave()
        self._session.show_candidate(None)
        self._mode = mode
        self._follow_extent()
        self._set_cursor()
        self.update()

    @property
    def view(self) -> View:
        """Where the cloth lies."""
        return self._view

    @property
    def quilted(self) -> bool:
        """Whether the patch is shown as it will look on the quilt, in the modes that can show it so."""
        return self._quilted

    @quilted.setter
    def quilted(self, quilted: bool) -> None:
        self._quilted = quilted
        self.sentence = ""
        self._point_out_nothing()
        self._name()
        self.update()

    def show_photo(self, *, shown: bool | None = None, strength: float | None = None) -> None:
        """Let the photo lie beneath the patches or not, and how much of it is seen."""
        self._photo_shown = self._photo_shown if shown is None else shown
        self._photo_strength = strength or self._photo_strength
        self.update()

    @property
    def shows_photo(self) -> bool:
        """Whether the photo lies beneath the patches."""
        return self._beneath() is not None

    def look_at_photo(self) -> None:
        """Show the block or the sheet in the photo that lies beneath the patches."""
        beneath = self._beneath()
        if beneath is not None:
            known = beneath.known
            box = (known.left(), known.top(), known.right(), known.bottom())
            self._look_at(self._view.fitted(box, self._border()))

    def show_map(self, signs: MapSigns | None, notice: str = "") -> None:
        """Let the anchor map lie under the fan, or none; ``notice`` says that it is being made."""
        if signs is not self._signs or notice != self._notice:
            self._signs, self._notice = signs, notice
            self.update()

    def carry_out(self, outcome: Outcome) -> None:
        """Do what came of a wish to the mode that was no event on the canvas."""
        self._after(outcome)

    @property
    def wedge_meant(self) -> int | None:
        """Number of the wedge under the hand, else of the one that is pointed out."""
        fit = self._session.fit
        if fit is not None and self._hover is not None:
            found = wedge_at(fit, self._view.to_cloth((self._hover.x(), self._hover.y())))
            if found is not None:
                return found
        return self._wedge

    def fit_view(self) -> None:
        """Show the whole patch."""
        fit = self._session.fit
        if self._extent is not None:
            self._look_at(self._view.fitted(self._extent, self._border() / 2))
        elif fit is not None and not (self.shows_photo and self._mode.overlay(self._view.scale).draws):
            self._look_at(self._view.fitted(fit.patch.polygon.bounds, self._border()))
        else:
            self.look_at_photo()
        self._fitted = True

    def zoom(self, steps: int) -> None:
        """In (positive) or out about the middle."""
        self._look_at(self._view.zoomed(ZOOM_STEP**steps))

    def show_place(self, at: Point, wedge: int | None) -> None:
        """Point out a place, brought into view where it is not; and its wedge."""
        self._place, self._wedge = at, wedge
        self.sentence = ""
        x, y = self._view.point_to_screen(at)
        if not (0 <= x <= self.width() and 0 <= y <= self.height()):
            self._look_at(self._view.panned(self.width() / 2 - x, self.height() / 2 - y))
        self.update()

    def press_key(self, key: Key) -> None:
        """As if ``key`` had been pressed on the canvas: for the menu."""
        self._after(self._mode.key(KeyPress(self._middle(), key)))
        self.keyed.emit()

    def cancel(self) -> bool:
        """Esc: forget what runs. False where nothing ran."""
        outcome = self._mode.cancel()
        self._after(outcome)
        return outcome.taken

    def cancel_gesture(self) -> None:
        """Forget a drag under way; a draft stays."""
        if self._mode.candidate is not None:
            self.cancel()

    def undo(self) -> bool:
        """Take back within the mode's unfinished work. False where it has none."""
        if self._mode.candidate is not None:
            return self.cancel()
        outcome = self._mode.undo()
        self._after(outcome)
        return outcome.taken

    # --- painting -----------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        with QPainter(self) as painter:  # ended whatever happens: Qt aborts over one that is not
            self._paint(painter)

    def _paint(self, painter: QPainter) -> None:
        overlay = self._overlay()
        over = OverlayPainter(painter, self._view, self._look.palette, self.font())
        fit = self._session.fit
        if overlay.photo:
            self._paint_photo(painter, overlay)
        elif fit is None or overlay.hides_patch:
            self._paint_ground(painter, Role.CLOTH if overlay.draws else Role.FRAME)
            if overlay.grid:
                over.grid(self._session.style)
            over.ruler(self._session.style, plate=self._beneath() is not None)
        else:
            scene = self._scene(fit, overlay)
            if self.rest.resting:
                self._moved = None
            if overlay.walked is not None:
                if not self._walk_picture.paint(painter, scene, overlay.walked, resting=self.rest.resting):
                    QTimer.singleShot(0, self, self.update)  # while it paints it takes no wish
            elif self._quilted and self._session.piece is not None:
                look = QuiltedLook.of(self._session.piece)
                self._quilted_picture.paint(painter, scene, look, fine=self.rest.resting)
            else:
                self._picture.paint(painter, scene, fine=self.rest.resting)
        over.paint(overlay)
        photo = self._session.plan.photo
        if overlay.magnified is not None and photo is not None:
            self._photo_picture.magnify(painter, self._view, self._look.palette, photo, overlay.magnified)
        if self._notice:
            over.notice(self._notice)
        if self._place is not None and not overlay.hides_patch:
            over.place(self._place)
        anchors = any(handle.kind is HandleKind.ANCHOR for handle in overlay.handles)
        if self.sentence and fit is not None and anchors:
            over.sentence(fit.anchors[0], self.sentence)

    def _paint_ground(self, painter: QPainter, role: Role) -> None:
        """The cloth, or the frame, and on it the photo."""
        ground, beneath = self._look.colour(role), self._beneath()
        if beneath is None:
            painter.fillRect(self.rect(), ground)
        else:
            self._photo_picture.lay(
                painter, self._view, beneath, ground, self.devicePixelRatioF(), fine=self.rest.resting
            )

    def _paint_photo(self, painter: QPainter, overlay: Overlay) -> None:
        """The photo as it was taken."""
        painter.fillRect(self.rect(), self._look.colour(Role.FRAME))
        photo = self._session.plan.photo
        if photo is not None:
            self._photo_picture.paint_taken(painter, self._view, photo, fine=self.rest.resting)

    def _beneath(self) -> Beneath | None:
        """The photo that lies beneath the patches."""
        if not self._photo_shown:
            return None
        return self._photo_picture.beneath(self._session.plan.photo, self._photo_strength)

    def _overlay(self) -> Overlay:
        """What the mode shows. Where the patch is shown as it will look, an anchor's handle waits for the
        hand: it would cover the place where the lines gather.
        """
        overlay = self._mode.overlay(self._view.scale)
        if not self._quilted or overlay.hides_patch or overlay.walked is not None:
            return overlay
        shown = (
            handle
            for handle in overlay.handles
            if handle.kind is not HandleKind.ANCHOR
            or handle.state not in (HandleState.IDLE, HandleState.CHOSEN)
        )
        return replace(overlay, handles=tuple(shown), start=None)

    def _scene(self, fit: Fit, overlay: Overlay) -> Scene:
        return Scene(
            fit,
            self._session.style,
            self._view,
            self._look.palette,
            self.devicePixelRatioF(),
            self.logicalDpiY() / 72 * self._look.text_scale,
            self.font(),
            self._wedge,
            marks=not overlay.hides_marks,
            mark_handles=any(handle.kind is HandleKind.MARK for handle in overlay.handles),
            clear=room_of(overlay, self._place),
            signs=self._signs,
            beneath=self._beneath(),
        )

    def _show_moved(self) -> None:
        """Paint again what moved since the last time: a part of the canvas where that is all that changed."""
        before, self._moved = self._moved, self._moving_box()
        if before is None or self._moved is None:
            self.update()
        else:
            self.update(before.united(self._moved))

    def _moving_box(self) -> QRect | None:
        """Where the fan and all that goes with it lies, while a hand moves it and nothing else is shown."""
        fit = self._session.fit
        if (
            fit is None
            or self._quilted
            or self.rest.resting
            or not self._mode.busy
            or self._place is not None
            or self.sentence
        ):
            return None
        overlay = self._mode.overlay(self._view.scale)
        if not overlay.is_anchors_only:
            return None
        return self._picture.prepare(self._scene(fit, overlay))

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._view = self._view.resized(float(self.width()), float(self.height()))
        if self._fitted or not event.oldSize().isValid():
            self.fit_view()

    # --- the hand -----------------------------------------------------------------------------------

    def hand_down(self, at: QPointF, *, free: bool = False) -> None:
        """A mouse button, or a finger, goes down; ``free``: nothing catches it."""
        self._point_out_nothing()
        self.touched.emit()
        if self._pan_from is None:
            outcome = self._mode.press(self._pointer(at, free))
            self._after(outcome)
            if not outcome.taken:
                self._start_pan(at)

    def hand_moves(self, at: QPointF, *, free: bool = False) -> None:
        """Up or down."""
        self._hover = at
        if self._pan_from is not None:
            moved = at - self._pan_from
            self._pan_from = at
            self._look_at(self._view.panned(moved.x(), moved.y()))
            return
        was_busy = self._mode.busy
        self._after(self._mode.move(self._pointer(at, free)))
        if was_busy or self._mode.busy:
            self.rest.stir()

    def hand_up(self, at: QPointF, *, free: bool = False) -> None:
        """It comes up."""
        if self._pan_from is not None:
            self._pan_from = None
            self._set_cursor()
        else:
            self._after(self._mode.release(self._pointer(at, free)))

    def hand_twice(self, at: QPointF, *, free: bool = False) -> None:
        """It goes down again where it just was."""
        outcome = self._mode.double_click(self._pointer(at, free))
        self._after(outcome)
        if not outcome.taken:
            self.hand_down(at, free=free)

    def hand_lost(self) -> None:
        """What began with ``hand_down`` was not meant."""
        if self._pan_from is not None:
            self._pan_from = None
            self._set_cursor()
        else:
            self._after(self._mode.drop())

    def pan_and_zoom(self, by: QPointF, factor: float, at: QPointF) -> None:
        """The view under two fingers."""
        self._look_at(self._view.panned(by.x(), by.y()).zoomed(factor, (at.x(), at.y())))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.MiddleButton or (self._space and _is_left(event)):
            self._point_out_nothing()
            self.touched.emit()
            self._start_pan(event.position())
        elif _is_left(event):
            self.hand_down(event.position(), free=_is_free(event))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        self.hand_moves(event.position(), free=_is_free(event))

    def leaveEvent(self, event: QEvent) -> None:
        self._hover = None
        super().leaveEvent(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._pan_from is not None or _is_left(event):
            self.hand_up(event.position(), free=_is_free(event))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if not _is_left(event) or self._space:
            self.mousePressEvent(event)
        else:
            self.hand_twice(event.position(), free=_is_free(event))

    def wheelEvent(self, event: QWheelEvent) -> None:
        angle, pixels = event.angleDelta(), event.pixelDelta()
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            steps = angle.y() / _WHEEL_NOTCH
            at = (event.position().x(), event.position().y())
            self._look_at(self._view.zoomed(ZOOM_STEP**steps, at))
        else:
            dx, dy = float(pixels.x()), float(pixels.y())
            if pixels.isNull():
                dx, dy = (part / _WHEEL_NOTCH * _PAN_STEP for part in (angle.x(), angle.y()))
            if event.modifiers() & Qt.KeyboardModifier.ShiftModifier and dx == 0:
                dx, dy = dy, 0.0
            self._look_at(self._view.panned(dx, dy))
        event.accept()

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QTouchEvent):
            self._touch.take(event)
            return True
        if isinstance(event, QNativeGestureEvent):
            if event.gestureType() is Qt.NativeGestureType.ZoomNativeGesture:
                at = (event.position().x(), event.position().y())
                self._look_at(self._view.zoomed(max(1.0 + event.value(), 0.1), at))
            return True
        return super().event(event)

    # --- the keys -----------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = Qt.Key(event.key())
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if key is Qt.Key.Key_Escape:
            if not self.cancel():
                self._point_out_nothing()
            return
        if key is Qt.Key.Key_Space and event.isAutoRepeat():
            return
        if shift and key in _PAN_KEYS:
            self._pan_by_key(key)
            return
        text = event.text() if event.text().isprintable() else ""
        press = KeyPress(
            self._middle(),
            _KEYS.get(key),
            "" if key in _KEYS or event.modifiers() & _FREE else text,
            bool(event.modifiers() & _FREE),
        )
        outcome = self._mode.key(press)
        if outcome.taken:
            self._point_out_nothing()
            self.touched.emit()
            self.rest.stir()
            self._after(outcome)
            self.keyed.emit()
        elif key is Qt.Key.Key_Space:
            self._space = True
            self._set_cursor()
        elif key in _PAN_KEYS:
            self._pan_by_key(key)
        elif key is Qt.Key.Key_Home:
            self.fit_view()
        else:
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space = False
            self._set_cursor()
        super().keyReleaseEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self._space = False
        self._set_cursor()
        super().focusOutEvent(event)

    def hideEvent(self, event: QHideEvent) -> None:
        self._pan_from = None
        self.cancel_gesture()
        super().hideEvent(event)

    # ------------------------------------------------------------------------------------------------

    def _after(self, outcome: Outcome) -> None:
        """Do what came of an event, and show it."""
        if outcome.change is not None:
            try:
                self._session.do(outcome.change)
            except WedgewrightError as error:
                self._session.refused.emit(str(error))
        if outcome.refused:
            self._session.refused.emit(outcome.refused)
        self._session.show_candidate(self._mode.candidate)
        if self._mode.candidate is not None:
            self.sentence = ""
        if outcome.leave:
            self.mode_left.emit()
        self._set_cursor()
        self._show_moved()
        self.worked.emit()

    def _fit_changed(self) -> None:
        if not self._session.in_gesture:  # else who moved it sees to the picture
            self._name()
            self.update()

    def _plan_changed(self) -> None:
        self._follow_extent()
        self._name()
        self.update()

    def _chosen_changed(self) -> None:
        self._mode.leave()
        self._point_out_nothing()
        self.fit_view()

    def _name(self) -> None:
        piece, fit = self._session.piece, self._session.fit
        if self._extent is not None:
            self.setAccessibleName(tr("Canvas: the photo"))
        elif piece is None or fit is None:
            self.setAccessibleName(tr("Canvas, without a patch"))
        elif self._quilted:
            words = shows_words(QuiltedLook.of(piece))
            self.setAccessibleName(
                tr("Canvas: {name} as it will look. {words}", name=piece.name, words=words)
            )
        else:
            self.setAccessibleName(tr("Canvas: {name}, {verdict}", name=piece.name, verdict=verdict(fit)))

    def _follow_extent(self) -> None:
        """Show what the mode shows in place of the cloth, or the cloth again where it lay."""
        before, self._extent = self._extent, self._mode.extent
        if self._extent == before:
            return
        self._name()
        if before is None:
            self._cloth_view = self._view
        if self._extent is not None:
            self.fit_view()
        elif self._cloth_view is not None:
            self._look_at(self._cloth_view.resized(self._view.width, self._view.height))
            self._cloth_view = None

    def _look_at(self, view: View) -> None:
        if view != self._view:
            self._view = view
            self._fitted = False
            self.rest.stir()
            self.update()

    def _border(self) -> float:
        return max(min(self.width(), self.height()) * 0.08, 40.0)

    def _point_out_nothing(self) -> None:
        if self._place is not None or self._wedge is not None:
            self._place = self._wedge = None
            self.update()

    def _start_pan(self, at: QPointF) -> None:
        self._pan_from = at
        self.setCursor(Qt.CursorShape.ClosedHandCursor)

    def _pan_by_key(self, key: Qt.Key) -> None:
        x, y = _PAN_KEYS[key]
        self._look_at(self._view.panned(x * _PAN_STEP, y * _PAN_STEP))

    def _pointer(self, at: QPointF, free: bool) -> Pointer:
        return Pointer(self._view.to_cloth((at.x(), at.y())), self._view.scale, free)

    def _middle(self) -> Pointer:
        return Pointer(self._view.to_cloth((self.width() / 2, self.height() / 2)), self._view.scale)

    def _set_cursor(self) -> None:
        if self._pan_from is not None:
            return
        overlay = self._mode.overlay(self._view.scale)
        shape = Qt.CursorShape.OpenHandCursor if self._space else _cursor(overlay)
        if shape is not self.cursor().shape():
            self.setCursor(shape)


def _cursor(overlay: Overlay) -> Qt.CursorShape:
    states = {handle.state for handle in overlay.handles}
    if overlay.walked is not None:
        states.add(overlay.walked.state)
    if overlay.draws and not (overlay.photo and states - {HandleState.IDLE, HandleState.CHOSEN}):
        return Qt.CursorShape.CrossCursor
    if HandleState.HELD in states:
        return Qt.CursorShape.ClosedHandCursor
    if HandleState.HOT in states:
        return Qt.CursorShape.OpenHandCursor
    return Qt.CursorShape.ArrowCursor


def _is_free(event: QMouseEvent) -> bool:
    return bool(event.modifiers() & _FREE)


def _is_left(event: QMouseEvent) -> bool:
    return event.button() is Qt.MouseButton.LeftButton
