"""Paper and ink: the application's palette, font and sheet of styles, made from the roles of the look."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Final

from PySide6.QtCore import QObject, QSettings, Qt, Signal
from PySide6.QtGui import QColor, QFont, QPalette
from PySide6.QtWidgets import QApplication

from app.sketch.palette import DARK, LIGHT, TEXT_POINTS, Palette, Role, TextSize

LEAST_TARGET: Final = 28
"""px: least height of anything that is pressed; 24 is the least that is allowed (design page, 8)."""

GAP: Final = 6
"""px: width of what lies between panels."""

_KEY: Final = "look/appearance"
_TEXT_KEY: Final = "look/text-size"


class Appearance(StrEnum):
    """Light, dark, or as the system is."""

    SYSTEM = "system"
    LIGHT = "light"
    DARK = "dark"


class TextScale(StrEnum):
    """How large all words on the bench are."""

    SMALLER = "smaller"
    USUAL = "usual"
    LARGER = "larger"


_SCALES: Final = {TextScale.SMALLER: 0.9, TextScale.USUAL: 1.0, TextScale.LARGER: 1.25}
"""Times the usual size. The smallest words are then not below ``palette.LEAST_POINTS``."""


class Look(QObject):
    """Which palette is in force, and everything in the application that follows it."""

    changed = Signal()

    def __init__(self, application: QApplication, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._application = application
        stored = str(QSettings().value(_KEY, Appearance.SYSTEM.value))
        self._appearance = Appearance(stored) if stored in set(Appearance) else Appearance.SYSTEM
        stored = str(QSettings().value(_TEXT_KEY, TextScale.USUAL.value))
        self._text_size = TextScale(stored) if stored in set(TextScale) else TextScale.USUAL
        self._palette: Palette | None = None
        self._worn: tuple[Palette, TextScale] | None = None
        application.styleHints().colorSchemeChanged.connect(self._follow)
        self._follow()

    @property
    def appearance(self) -> Appearance:
        """What the user chose."""
        return self._appearance

    @property
    def palette(self) -> Palette:
        """The colours in force."""
        assert self._palette is not None
        return self._palette

    @property
    def is_dark(self) -> bool:
        """True where the dark colours are in force."""
        return self._palette is DARK

    def colour(self, role: Role) -> QColor:
        """The colour in force for ``role``."""
        return QColor(self.palette[role])

    def choose(self, appearance: Appearance) -> None:
        """Light, dark, or as the system is; remembered."""
        self._appearance = appearance
        QSettings().setValue(_KEY, appearance.value)
        self._follow()

    @property
    def text_size(self) -> TextScale:
        """What the user chose."""
        return self._text_size

    @property
    def text_scale(self) -> float:
        """Times the usual size."""
        return _SCALES[self._text_size]

    def choose_text_size(self, size: TextScale) -> None:
        """How large all words on the bench are; remembered. Nothing that is printed changes."""
        self._text_size = size
        QSettings().setValue(_TEXT_KEY, size.value)
        self._follow()

    def _follow(self) -> None:
        system_dark = self._application.styleHints().colorScheme() is Qt.ColorScheme.Dark
        dark = system_dark if self._appearance is Appearance.SYSTEM else self._appearance is Appearance.DARK
        palette = DARK if dark else LIGHT
        if self._worn == (palette, self._text_size):
            return
        font = self._application.font()
        points = TEXT_POINTS[TextSize.BASE] * self.text_scale
        if font.pointSizeF() != points:
            font.setPointSizeF(points)
            self._application.setFont(font)
        self._palette, self._worn = palette, (palette, self._text_size)
        self._application.setPalette(widget_palette(palette))
        self._application.setStyleSheet(style_sheet(palette, self.text_scale))
        self.changed.emit()


def prepare(application: QApplication) -> None:
    """The style that draws alike everywhere, and the base text size."""
    application.setStyle("Fusion")
    font = application.font()
    font.setPointSizeF(TEXT_POINTS[TextSize.BASE])
    font.setFeature(QFont.Tag("tnum"), 1)  # figures of one width: below each other, and steady
    application.setFont(font)


def widget_palette(palette: Palette) -> QPalette:
    """Qt's palette from the roles."""
    frame, cloth = QColor(palette[Role.FRAME]), QColor(palette[Role.CLOTH])
    text, quiet = QColor(palette[Role.TEXT]), QColor(palette[Role.QUIET])
    focus, edge = QColor(palette[Role.FOCUS]), QColor(palette[Role.MARGIN_EDGE])
    made = QPalette()
    group = QPalette.ColorRole
    for role, colour in (
        (group.Window, frame),
        (group.WindowText, text),
        (group.Base, frame),
        (group.AlternateBase, cloth),
        (group.ToolTipBase, cloth),
        (group.ToolTipText, text),
        (group.PlaceholderText, quiet),
        (group.Text, text),
        (group.Button, cloth),
        (group.ButtonText, text),
        (group.BrightText, text),
        (group.Link, QColor(palette[Role.NOTE])),
        (group.Highlight, focus),
        (group.HighlightedText, frame),
        (group.Accent, focus),
        (group.Light, cloth),
        (group.Midlight, cloth),
        (group.Mid, edge),
        (group.Dark, edge),
        (group.Shadow, edge),
    ):
        made.setColor(role, colour)
    for role in (group.WindowText, group.Text, group.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, role, edge)
    return made


def style_sheet(palette: Palette, scale: float = 1.0) -> str:
    """Flat, quiet widgets: hairlines, no gradients, a clear ring where the keys go.

    ``scale``: of all text, times the usual size.
    """
    frame, cloth, text, quiet = (palette[role] for role in (Role.FRAME, Role.CLOTH, Role.TEXT, Role.QUIET))
    edge, focus, problem = (palette[role] for role in (Role.MARGIN_EDGE, Role.FOCUS, Role.PROBLEM))
    small = TEXT_POINTS[TextSize.SMALL] * scale
    large = TEXT_POINTS[TextSize.LARGE] * scale
    tick = (Path(__file__).parent / f"tick_{'dark' if palette is DARK else 'light'}.svg").as_posix()
    wide, beside = (16, 12) if scale <= 1 else (8, 4)  # large words take the room beside them
    return f"""
    QMainWindow, QDialog {{ background: {frame}; }}
    QMainWindow::separator {{ background: {cloth}; width: {GAP}px; height: {GAP}px; }}
    QMenuBar {{ background: {frame}; padding: 2px 8px; }}
    QMenuBar::item {{ padding: 6px 12px; border-radius: 4px; background: transparent; }}
    QMenuBar::item:selected {{ background: {cloth}; }}
    QMenu {{ background: {frame}; border: 1px solid {edge}; padding: 8px 0; }}
    QMenu::item {{ padding: 6px 40px 6px 32px; }}
    QMenu::item:selected {{ background: {cloth}; color: {text}; }}
    QMenu::item:disabled {{ color: {edge}; }}
    QMenu::separator {{ height: 1px; background: {cloth}; margin: 8px 0; }}
    QMenu::indicator {{ left: 10px; width: 14px; height: 14px; }}
    QToolBar {{ background: {frame}; border: none; padding: 4px 8px; spacing: 4px; }}
    QToolBar::separator {{ background: {cloth}; width: 2px; margin: 6px 8px; }}
    QToolButton, QPushButton {{
        background: transparent; border: 2px solid transparent; border-radius: 6px;
        padding: 4px 12px; min-height: {LEAST_TARGET}px;
    }}
    QToolButton {{ padding: 4px 10px; }}
    QPushButton {{ background: {cloth}; border: 1px solid {edge}; padding: 5px {wide}px; }}
    QToolButton:hover, QPushButton:hover {{ background: {cloth}; border-color: {edge}; }}
    QToolButton:pressed, QPushButton:pressed {{ background: {quiet}; color: {frame}; }}
    QToolButton:checked {{ background: {text}; color: {frame}; border-color: {text}; }}
    QToolButton:focus, QPushButton:focus {{ border: 2px solid {focus}; }}
    QPushButton:focus {{ padding: 4px {wide - 1}px; }}
    QPushButton:default {{ border-color: {text}; }}
    QPushButton:disabled, QToolButton:disabled {{ color: {edge}; }}
    QToolBar QToolButton {{ padding: 4px {beside}px; }}
    QToolButton#qt_toolbar_ext_button {{ border: 1px solid {edge}; padding: 0; min-width: 20px; }}
    QToolButton::menu-indicator {{ image: none; width: 0; }}
    QToolButton[quiet="true"] {{
        color: {palette[Role.NOTE]}; font-size: {small}pt; padding: 0 4px; min-height: 24px;
    }}
    QToolButton[quiet="true"]:disabled {{ color: {edge}; }}
    QToolButton[part="sign"] {{ padding: 0; min-height: 24px; border-radius: 4px; }}
    QLineEdit {{
        background: {frame}; border: 1px solid {edge}; border-radius: 4px; padding: 2px 8px;
        min-height: {LEAST_TARGET - 2}px; selection-background-color: {focus}; selection-color: {frame};
    }}
    QLineEdit:focus {{ border: 2px solid {focus}; padding: 1px 7px; }}
    QSpinBox QLineEdit, QSpinBox QLineEdit:focus {{ border: none; padding: 0; min-height: 0; }}
    QFrame[part="count"] {{ border: 1px solid {edge}; border-radius: 4px; }}
    QFrame[part="count"][focused="true"] {{ border: 2px solid {focus}; }}
    QRadioButton {{ spacing: 8px; min-height: {LEAST_TARGET}px; }}
    QRadioButton::indicator {{ width: 14px; height: 14px; border: 2px solid {edge}; border-radius: 9px; }}
    QRadioButton::indicator:checked {{
        width: 6px; height: 6px; border: 6px solid {text}; background: {frame};
    }}
    QRadioButton::indicator:focus {{ border-color: {focus}; }}
    QCheckBox {{ spacing: 8px; min-height: {LEAST_TARGET}px; }}
    QCheckBox::indicator, QListView::indicator {{
        width: 14px; height: 14px; border: 2px solid {edge}; border-radius: 4px;
    }}
    QCheckBox::indicator:checked, QListView::indicator:checked {{
        border-color: {text}; background: {text}; image: url("{tick}");
    }}
    QCheckBox::indicator:focus {{ border-color: {focus}; }}
    QProgressBar {{ background: {cloth}; border: 1px solid {edge}; border-radius: 4px; min-height: 16px; }}
    QProgressBar::chunk {{ background: {text}; }}
    QToolButton[part="choice"] {{
        border: 1px solid {edge}; border-radius: 4px; padding: 2px 8px; min-height: {LEAST_TARGET - 2}px;
    }}
    QToolButton[part="choice"]:focus {{ border: 2px solid {focus}; padding: 1px 7px; }}
    QLineEdit[part="fixed"] {{ border-color: transparent; background: transparent; padding: 2px 0; }}
    QLineEdit[wrong="true"] {{ border: 2px solid {problem}; padding: 1px 7px; }}
    QListView {{ background: {frame}; border: 1px solid transparent; outline: none; }}
    QListView:focus {{ border: 1px solid {focus}; }}
    QScrollArea {{ border: none; background: {frame}; }}
    QScrollBar {{ background: {frame}; border: none; }}
    QScrollBar:vertical {{ width: 14px; }}
    QScrollBar:horizontal {{ height: 14px; }}
    QScrollBar::handle {{ background: {cloth}; border: 1px solid {edge}; border-radius: 5px; margin: 2px; }}
    QScrollBar::handle:vertical {{ min-height: 40px; }}
    QScrollBar::handle:horizontal {{ min-width: 40px; }}
    QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
    QScrollBar::add-page, QScrollBar::sub-page {{ background: none; }}
    QFrame[part="walk"] {{ background: {frame}; border: none; border-top: {GAP}px solid {cloth}; }}
    QSlider::groove:horizontal {{ background: {edge}; height: 4px; border-radius: 2px; }}
    QSlider::sub-page:horizontal {{ background: {text}; border-radius: 2px; }}
    QSlider::handle:horizontal {{
        background: {text}; border: 2px solid {frame}; width: 20px; margin: -10px 0; border-radius: 12px;
    }}
    QSlider::handle:horizontal:focus {{ background: {focus}; }}
    QSlider::handle:horizontal:disabled {{ background: {edge}; }}
    QToolTip {{ background: {cloth}; color: {text}; border: 1px solid {edge}; padding: 4px 8px; }}
    QStatusBar {{ background: {frame}; border-top: {GAP}px solid {cloth}; }}
    QStatusBar::item {{ border: none; }}
    QLabel[part="quiet"] {{ color: {quiet}; font-size: {small}pt; }}
    QLabel[part="heading"] {{ font-weight: bold; }}
    QLabel[part="title"] {{ font-size: {large}pt; }}
    QLabel[part="problem"] {{ color: {problem}; font-size: {small}pt; }}
    QLabel[part="wrong"] {{ color: {problem}; }}
    QTabBar {{ background: {frame}; }}
    QTabBar::tab {{
        background: {frame}; color: {quiet}; border: none; border-top: 4px solid {frame};
        padding: 2px 8px; min-height: {LEAST_TARGET}px; min-width: 48px;
    }}
    QTabBar::tab:hover {{ background: {cloth}; color: {text}; border-top-color: {cloth}; }}
    QTabBar::tab:selected {{ background: {cloth}; color: {text}; border-top-color: {text}; }}
    QTabBar::tab:focus {{ border-top-color: {focus}; }}
    QTabBar QToolButton {{ background: {cloth}; border: 1px solid {edge}; padding: 0; min-height: 24px; }}
    QPlainTextEdit {{ background: {frame}; border: 1px solid {edge}; border-radius: 4px; padding: 1px; }}
    QPlainTextEdit:focus {{ border: 2px solid {focus}; padding: 0; }}
    QTextBrowser {{ background: {frame}; border: 2px solid transparent; }}
    QTextBrowser:focus {{ border: 2px solid {focus}; }}
    QFrame[part="message"] {{ background: {cloth}; border: none; border-left: 4px solid {quiet}; }}
    QFrame[part="message"][level="problem"] {{ border-left-color: {problem}; }}
    """
