"""Words that a screen reader speaks although the keys are elsewhere."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget


def announce(widget: QWidget, words: str) -> None:
    """Have ``words`` spoken. Nothing happens where no screen reader runs, and before Qt 6.8."""
    from PySide6 import QtGui  # what PySide makes ready for it is not needed at the start

    event = getattr(QtGui, "QAccessibleAnnouncementEvent", None)
    if event is not None and QtGui.QAccessible.isActive():
        QtGui.QAccessible.updateAccessibility(event(widget, words))
