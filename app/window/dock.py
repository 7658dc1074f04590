"""A panel that docks, floats and hides, with a title that reads well and buttons a hand can hit."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDockWidget, QHBoxLayout, QLabel, QMainWindow, QWidget

from app.sketch.translate import tr
from app.window.icon_button import IconButton
from app.window.look import Look


class Dock(QDockWidget):
    """``name`` is how its place is remembered."""

    def __init__(self, title: str, name: str, panel: QWidget, look: Look, window: QMainWindow) -> None:
        super().__init__(title, window)
        self.setObjectName(name)
        self.setAccessibleName(title)
        self.setWidget(panel)
        self.setTitleBarWidget(_Title(title, self, look))


class _Title(QWidget):
    def __init__(self, title: str, dock: QDockWidget, look: Look) -> None:
        super().__init__(dock)
        label = QLabel(title, self)
        label.setProperty("part", "title")
        floating = IconButton("float", tr("{panel}: let it float, or dock it", panel=title), look, self)
        floating.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        floating.clicked.connect(lambda: dock.setFloating(not dock.isFloating()))
        closing = IconButton(
            "close", tr("{panel}: hide; the View menu brings it back", panel=title), look, self
        )
        closing.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        closing.clicked.connect(dock.close)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 4, 8, 0)
        layout.setSpacing(0)
        layout.addWidget(label, 1)
        layout.addWidget(floating)
        layout.addWidget(closing)
