"""What is done to a whole patch: holes, rotating, mirroring, scaling. The wires from the menu to the plan."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from app.plan.model import Plan
from app.sketch import transform
from app.sketch.changes import Change
from app.sketch.modes.events import Key
from app.window.actions import Actions
from app.window.canvas import Canvas
from app.window.session import Session
from geometry import WedgewrightError

NEEDS_A_PATCH: Final = (
    "cut_hole", "remove_hole", "rotate_right", "rotate_left", "rotate_by", "mirror_across", "mirror_upright",
    "scale",
)  # fmt: skip
"""Names of the actions that there must be a patch for."""


class Shaping(QObject):
    """Connects the actions of one window."""

    def __init__(
        self,
        session: Session,
        canvas: Canvas,
        actions: Actions,
        set_mode: Callable[[str], None],
        parent: QWidget,
    ) -> None:
        super().__init__(parent)
        self._session = session
        self._canvas = canvas
        self._set_mode = set_mode
        self._window = parent
        actions.cut_hole.triggered.connect(lambda: self._work_in("hole"))
        actions.remove_hole.triggered.connect(self._remove_hole)
        actions.next_side.triggered.connect(lambda: canvas.press_key(Key.NEXT_SIDE))
        actions.curve_side.triggered.connect(lambda: canvas.press_key(Key.CURVE))
        actions.rotate_right.triggered.connect(lambda: self.rotate(90.0))
        actions.rotate_left.triggered.connect(lambda: self.rotate(-90.0))
        actions.mirror_across.triggered.connect(lambda: self._mirror(upright=False))
        actions.mirror_upright.triggered.connect(lambda: self._mirror(upright=True))
        actions.rotate_by.triggered.connect(self._ask_rotate)
        actions.scale.triggered.connect(self._ask_scale)

    def rotate(self, degrees: float) -> bool:
        """The chosen patch, clockwise. False where that cannot be, which was said."""
        return self._do(lambda plan, chosen: transform.rotated(plan, chosen, degrees))

    def scale(self, by: float) -> bool:
        """The chosen patch. False where that cannot be, which was said."""
        return self._do(lambda plan, chosen: transform.scaled(plan, chosen, by))

    def _mirror(self, *, upright: bool) -> None:
        self._do(lambda plan, chosen: transform.mirrored(plan, chosen, upright=upright))

    def _do(self, make: Callable[[Plan, int], Change]) -> bool:
        self._canvas.cancel_gesture()
        chosen = self._session.chosen
        if chosen is None:
            return False
        try:
            self._session.do(make(self._session.plan, chosen))
        except WedgewrightError as error:
            self._session.refused.emit(str(error))
            return False
        self._canvas.fit_view()
        return True

    def _work_in(self, mode: str) -> None:
        self._canvas.cancel_gesture()
        self._set_mode(mode)
        self._canvas.setFocus()

    def _remove_hole(self) -> None:
        self._work_in("shape")
        self._canvas.press_key(Key.REMOVE_HOLE)

    def _ask_rotate(self) -> None:
        from app.window.patch_dialogs import RotateDialog  # not needed at the start

        self._canvas.cancel_gesture()
        RotateDialog(self._session, self.rotate, self._window).show()

    def _ask_scale(self) -> None:
        from app.window.patch_dialogs import ScaleDialog  # not needed at the start

        self._canvas.cancel_gesture()
        ScaleDialog(self._session, self.scale, self._canvas.show_place, self._window).show()
