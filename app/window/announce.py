"""Words that a screen reader speaks although the keys are elsewhere."""

from __future__ import annotations

from PySide6 import QtGui
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import QWidget


def announce(widget: QWidget, words: str) -> None:
    """Have ``words`` spoken. Nothing happens where no screen reader runs, and before Qt 6.8."""
    event = getattr(QtGui, "QAccessibleAnnouncementEvent", None)
    if event is not None and QAccessible.isActive():
        QAccessible.updateAccessibility(event(widget, words))
