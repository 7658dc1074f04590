"""The toolbar: what the hand does, undo, the whole patch, units, the template."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QMainWindow, QSizePolicy, QToolBar, QToolButton, QWidget

from app.sketch.translate import tr
from app.window.actions import STYLE_WORDS, Actions, set_icon
from app.window.glyphs import ICON_SIZE, ICON_WIDTH, icon
from app.window.look import Look
from geometry.units import LengthStyle


class Toolbar(QToolBar):
    """Buttons with words; the keys reach them too."""

    def __init__(self, actions: Actions, look: Look, window: QMainWindow) -> None:
        super().__init__(tr("Toolbar"), window)
        self.setObjectName("toolbar")
        self.setMovable(False)
        self.setFloatable(False)
        self.setIconSize(QSize(ICON_WIDTH, ICON_SIZE))
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.PreventContextMenu)
        self._look = look
        self._icons = {
            "draw": actions.draw,
            "shape": actions.shape,
            "anchor": actions.anchor,
            "marks": actions.marks,
            "walk": actions.walk,
            "undo": actions.undo,
            "redo": actions.redo,
            "fit": actions.fit,
            "template": actions.template,
        }
        for action in actions.modes.values():
            self.addAction(action)
        self.addSeparator()
        for action in (actions.undo, actions.redo):
            self.addAction(action)
        self.addSeparator()
        self.addAction(actions.fit)
        space = QWidget(self)
        space.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.addWidget(space)
        self._units = QToolButton(self)
        self._units.setMenu(actions.units)
        self._units.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.addWidget(self._units)
        self.addAction(actions.template)
        for button in self.findChildren(QToolButton):
            if button.defaultAction() is not None or button is self._units:
                button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        # What they do is said in the menu and the tooltip; here the sign is enough.
        for action in (actions.undo, actions.redo, actions.fit):
            made = self.widgetForAction(action)
            assert isinstance(made, QToolButton)
            made.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonIconOnly)
        look.changed.connect(self._draw_icons)
        self._draw_icons()

    def show_style(self, style: LengthStyle) -> None:
        """Which units lengths are shown in."""
        words = tr(STYLE_WORDS[style]).replace("&", "")
        self._units.setText(f"{words}  ▾")
        self._units.setAccessibleName(tr("Units: {style}", style=words))
        self._units.setToolTip(tr("Units: {style}", style=words))

    def name_buttons(self) -> None:
        """For screen readers: a button with a sign only has no words of its own."""
        for action in self.actions():
            button = self.widgetForAction(action)
            if isinstance(button, QToolButton) and button.defaultAction() is action:
                button.setAccessibleName(action.text().replace("&", ""))

    def _draw_icons(self) -> None:
        for name, action in self._icons.items():
            set_icon(action, icon(name, self._look.palette, alone=name in ("undo", "redo", "fit")))
