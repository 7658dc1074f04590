"""One page at a time as the printer gets it, in Qt's own preview."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QPainter
from PySide6.QtPrintSupport import QPrinter, QPrintPreviewWidget
from PySide6.QtWidgets import QGraphicsScene, QGraphicsView, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.exporting.page import RESOLUTION
from app.exporting.paged import Paged
from app.sketch.palette import Role
from app.sketch.translate import tr
from app.window.icon_button import IconButton
from app.window.look import Look
from app.window.print_work import to_the_edge


class PageView(QWidget):
    """Only the page that is looked at is drawn, however many there are."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        self._printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)  # no printer need be there
        self._pages: Paged | None = None
        self._number = 0
        self.preview = QPrintPreviewWidget(self._printer, self)
        self.preview.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.preview.paintRequested.connect(self._paint)
        self._look = look
        look.changed.connect(self._paint_ground)
        self._paint_ground()
        for inside in self.preview.findChildren(QGraphicsView):
            inside.setAccessibleName(tr("The sheet as it is printed"))
            inside.setWhatsThis(tr("Arrow keys move the sheet where it is larger than its room."))
        buttons = QVBoxLayout()
        buttons.setSpacing(4)
        for sign, words, act in (
            ("more", tr("Show the sheet larger"), self.preview.zoomIn),
            ("less", tr("Show the sheet smaller"), self.preview.zoomOut),
            ("fit", tr("Show the whole sheet"), self.preview.fitInView),
        ):
            button = IconButton(sign, words, look, self)
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            button.clicked.connect(lambda _=False, act=act: act())
            buttons.addWidget(button)
        buttons.addStretch(1)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.preview, 1)
        layout.addLayout(buttons)

    def show_page(self, pages: Paged | None, number: int) -> None:
        """Show page ``number``, from 0; nothing where there is no print."""
        self._pages, self._number = pages, number
        self.preview.setVisible(pages is not None)
        if pages is not None:
            self._printer.setPageLayout(to_the_edge(pages.page_layout(number)))
            self.preview.updatePreview()

    def _paint_ground(self) -> None:
        for scene in self.preview.findChildren(QGraphicsScene):
            scene.setBackgroundBrush(self._look.colour(Role.CLOTH))

    def _paint(self, printer: QPrinter) -> None:
        if self._pages is None:
            return
        with QPainter(printer) as painter:
            scale = printer.resolution() / RESOLUTION
            painter.scale(scale, scale)
            self._pages.draw(painter, self._number)
