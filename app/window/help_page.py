"""The help page: a window beside the bench that can stay open while one works."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QPushButton, QTextBrowser, QVBoxLayout, QWidget

from app.sketch.translate import tr
from app.window.actions import Actions
from app.window.help_text import help_html
from app.window.look import Look


class HelpPage(QDialog):
    """Arrows, Page Up and Page Down scroll; Esc closes."""

    def __init__(self, actions: Actions, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self._actions = actions
        self.setWindowTitle(tr("Help"))
        self.text = QTextBrowser(self)
        self.text.setAccessibleName(tr("Help"))
        self.text.setWhatsThis(tr("How the bench is used, with all keys."))
        self.text.setToolTip("")
        self.text.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.text.document().setDocumentMargin(16)
        self.close_ = QPushButton(tr("&Close"), self)
        self.close_.setAccessibleName(tr("Close"))
        self.close_.setToolTip(tr("Closes this page; so does Esc"))
        self.close_.setWhatsThis(self.close_.toolTip())
        self.close_.clicked.connect(self.close)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 8, 8, 16)
        layout.setSpacing(8)
        layout.addWidget(self.text, 1)
        layout.addWidget(self.close_, 0, Qt.AlignmentFlag.AlignHCenter)
        self.resize(720, 640)
        look.changed.connect(self.write)

    def show_page(self) -> None:
        """Bring it to the front, with what the actions say now."""
        self.write()
        self.show()
        self.raise_()
        self.activateWindow()
        self.text.setFocus()

    def write(self) -> None:
        """Write the page anew; it stays where it was scrolled to."""
        bar = self.text.verticalScrollBar()
        place = bar.value()
        self.text.setHtml(help_html(self._actions))
        bar.setValue(place)
