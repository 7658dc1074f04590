"""The line at the foot of the bench: what the hand can do, and the verdict on the patch."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QWidget

from app.sketch.palette import Role
from app.sketch.translate import tr
from app.sketch.wording import verdict
from app.window.glyphs import paint_level
from app.window.look import Look
from app.window.rest import Rest
from app.window.session import Session
from app.window.word_list import two_lines
from geometry.findings import Level

HINTS = {
    "draw": "Click the corners. For an exact side type its length, then Enter. Enter alone closes.",
    "hole": "Click the hole’s corners inside the patch. Enter closes it; Esc leaves it.",
    "shape": "Drag a corner or a side; pull a middle into a curve. Click a side to type its length.",
    "anchor": "Drag the anchor, or use the arrow keys. With Ctrl held nothing catches it.",
    "marks": "Drag a mark. Click the edge to add one; Delete removes it. A number and Enter divides a side.",
    "walk": "Space plays and pauses; arrows step, Page Up and Page Down by wedge. Or drag along the path.",
    "photo": "Click or drag corners. Page Up and Page Down choose one, arrows move it.",
    "none": "Draw a patch, or drop a file with outlines here.",
}


class StatusLine(QWidget):
    """One sentence on the left, the verdict on the right."""

    def __init__(self, session: Session, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._hint = ""
        self.hint = _Hint(self)
        self.hint.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.verdict = _Verdict(look, self)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 4, 16, 8)
        layout.setSpacing(24)
        layout.addWidget(self.hint, 1)
        layout.addWidget(self.verdict)
        self._rest = Rest(self)
        self._rest.rested.connect(self._show_verdict)
        session.fit_changed.connect(self._fit_changed)
        self._show_verdict()

    def show_hint(self, mode: str) -> None:
        """What can be done in that mode."""
        self._hint = tr(HINTS[mode])
        self._say(self._hint)

    def show_tip(self, sentence: str) -> None:
        """What the thing under the pointer does; the hint again where it is empty."""
        self._say(sentence or self._hint)

    def _say(self, text: str) -> None:
        self.hint.setText(text)
        self.hint.setToolTip(text)

    def _fit_changed(self) -> None:
        if self._session.in_gesture:
            self._rest.stir()
            self._show_verdict(prompt=True)  # the whole of it when the hand rests
        else:
            self._show_verdict()

    def _show_verdict(self, *, prompt: bool = False) -> None:
        fit = self._session.fit
        if fit is None:
            self.verdict.show_words("", None)
            return
        levels = {finding.level for finding in (fit.prompt_findings if prompt else fit.findings)}
        worst = next((level for level in (Level.PROBLEM, Level.CAUTION) if level in levels), None)
        self.verdict.show_words(verdict(fit, prompt=prompt), worst)


class _Hint(QLabel):
    """In two lines where one is too short for any mode's hint, so that the canvas keeps its size from mode to
    mode. A longer sentence ends in dots; the tip has it whole.
    """

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._make_room()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() is QEvent.Type.FontChange:
            self._make_room()

    def paintEvent(self, event: QPaintEvent) -> None:
        with QPainter(self) as painter:
            lines = two_lines(self.text(), QFontMetricsF(self.font()), self.width())
            painter.setPen(self.palette().windowText().color())
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignVCenter, "\n".join(lines))

    def _make_room(self) -> None:
        metrics = self.fontMetrics()
        longest = max(metrics.horizontalAdvance(tr(hint)) for hint in HINTS.values())
        self.setMinimumHeight(metrics.height() * (1 if longest <= self.width() else 2))


class _Verdict(QWidget):
    """Painted and not laid out, as it changes at every move of the hand."""

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self._look = look
        self._words = ""
        self._level: Level | None = None
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.update)

    def show_words(self, words: str, level: Level | None) -> None:
        if (words, level) != (self._words, self._level):
            self._words, self._level = words, level
            self.setAccessibleName(words)
            self.update()

    def sizeHint(self) -> QSize:
        longest = tr("{wedges}, {problems}", wedges="88 wedges", problems="fits with 88 cautions")
        metrics = self.fontMetrics()
        return QSize(metrics.horizontalAdvance(longest) + 24, metrics.height() + 8)

    def paintEvent(self, event: QPaintEvent) -> None:
        with QPainter(self) as painter:
            width = self.fontMetrics().horizontalAdvance(self._words)
            left = self.width() - width
            painter.setPen(QColor(self._look.palette[Role.TEXT]))
            painter.drawText(
                QRectF(left, 0, width + 1, self.height()), Qt.AlignmentFlag.AlignVCenter, self._words
            )
            if self._level is not None:
                box = QRectF(left - 23, (self.height() - 15) / 2, 15, 15)
                paint_level(painter, box, self._level, self._look.palette)
