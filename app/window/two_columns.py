"""How a dialog with a picture is laid out."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QHBoxLayout, QLayout, QPushButton, QVBoxLayout, QWidget


def lay_out(dialog: QDialog, asked: QWidget, shown: QLayout, buttons: tuple[QPushButton, ...]) -> None:
    """What is asked on the left, what comes of it on the right and larger, the buttons below."""
    below = QHBoxLayout()
    below.setSpacing(8)
    below.addStretch(1)
    for button in buttons:
        below.addWidget(button)
    above = QHBoxLayout()
    above.setSpacing(24)
    above.addWidget(asked)
    above.addLayout(shown, 1)
    layout = QVBoxLayout(dialog)
    layout.setContentsMargins(24, 24, 24, 16)
    layout.setSpacing(16)
    layout.addLayout(above, 1)
    layout.addLayout(below)
