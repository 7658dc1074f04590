"""Every action of the bench, grouped by subject; each sits in a menu with an access key."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QActionGroup, QIcon, QKeySequence
from PySide6.QtWidgets import QMainWindow, QMenu

from app.sketch.modes.photo import Known
from app.sketch.translate import tr
from app.window.action_words import PANEL, RECENT, SENTENCES
from app.window.look import Appearance, TextScale
from geometry.units import LengthStyle

STYLE_WORDS: Final = {
    LengthStyle.EIGHTHS: "Inches, &eighths",
    LengthStyle.SIXTEENTHS: "Inches, &sixteenths",
    LengthStyle.DECIMAL: "Inches, &decimal",
    LengthStyle.CM: "&Centimetres",
    LengthStyle.MM: "&Millimetres",
}

SPEED_WORDS: Final = {
    1.0: "&At pace",
    2.0: "&2 times the pace",
    5.0: "&5 times the pace",
    10.0: "&10 times the pace",
    20.0: "2&0 times the pace",
}
"""Of a walk that plays; the pace is the one that the settings have."""

_APPEARANCE_WORDS: Final = {
    Appearance.SYSTEM: "As the &system",
    Appearance.LIGHT: "&Light",
    Appearance.DARK: "&Dark",
}

KNOWN_WORDS: Final = {
    Known.BLOCK: "A &block",
    Known.LETTER: "&Letter paper",
    Known.A4: "A&4 paper",
}
"""What of known size lies on the cloth in a photo."""

_STRENGTH_WORDS: Final = ("&Faint", "&Half", "S&trong")

_TEXT_SIZES: Final = {
    TextScale.SMALLER: ("&Smaller", "F7"),
    TextScale.USUAL: ("&Usual", "Shift+F8"),
    TextScale.LARGER: ("&Larger", "F8"),
}
"""Words and keys. Ctrl, Shift and + are the keys of zooming in where + is a shifted key."""


class Actions:
    """Makes actions and menus for one window; what they do is given by whoever connects them."""

    def __init__(self, window: QMainWindow) -> None:
        self._window = window
        self.menus: list[QMenu] = []
        """Those of the menu bar, in order."""
        self.file = self._menu(tr("&File"))
        self.new = self._add(self.file, tr("&New plan"), "Ctrl+N")
        self.open = self._add(self.file, tr("&Open plan…"), "Ctrl+O")
        self.recent = self._menu(tr("&Recent plans"), self.file)
        self.recovered = self._add(self.file, tr("Reco&vered plans…"))
        self.save = self._add(self.file, tr("&Save"), "Ctrl+S")
        self.save_as = self._add(self.file, tr("Save &as…"), "Ctrl+Shift+S")
        self.previous = self._add(self.file, tr("Open the version &before"))
        self.file.addSeparator()
        self.import_ = self._add(self.file, tr("&Import patches…"), "Ctrl+I")
        self.open_photo = self._add(self.file, tr("P&hoto…"), "Ctrl+Shift+O")
        self.print = self._menu(tr("&Print"), self.file)
        self.template = self._add(self.print, tr("&Template…"), "Ctrl+T", "Ctrl+P")
        self.marking_card = self._add(self.print, tr("&Marking card…"))
        self.stitching_card = self._add(self.print, tr("&Stitching card…"))
        self.plan_sheet = self._add(self.print, tr("&Plan sheet…"))
        self.file.addSeparator()
        self.quit = self._add(self.file, tr("&Quit"), "Ctrl+Q")
        self.quit.setMenuRole(QAction.MenuRole.QuitRole)

        self.edit = self._menu(tr("&Edit"))
        self.undo = self._add(self.edit, tr("&Undo"), "Ctrl+Z")
        self.redo = self._add(self.edit, tr("&Redo"), "Ctrl+Shift+Z", "Ctrl+Y")
        self.edit.addSeparator()
        self.copy = self._add(self.edit, tr("&Copy as picture"), "Ctrl+Shift+C")
        self.paste = self._add(self.edit, tr("Pa&ste a photo"), "Ctrl+V")

        self.edit.addSeparator()
        self.preferences = self._add(self.edit, tr("&Preferences…"), "Ctrl+,")
        self.preferences.setMenuRole(QAction.MenuRole.PreferencesRole)

        self.work = self._menu(tr("&Work"))
        self.draw = self._add(self.work, tr("&Draw"), "Ctrl+1")
        self.shape = self._add(self.work, tr("&Shape"), "Ctrl+2")
        self.anchor = self._add(self.work, tr("&Anchor"), "Ctrl+3")
        self.marks = self._add(self.work, tr("&Marks"), "Ctrl+4")
        self.walk = self._add(self.work, tr("&Walk"), "Ctrl+5")
        self.modes = {
            "draw": self.draw,
            "shape": self.shape,
            "anchor": self.anchor,
            "marks": self.marks,
            "walk": self.walk,
        }
        self._one_of(*self.modes.values())
        self.work.addSeparator()
        self.add_corner = self._add(self.work, tr("Add a &corner"))
        self.remove_corner = self._add(self.work, tr("&Remove the corner"))
        self.next_corner = self._add(self.work, tr("&Next corner"))
        self.previous_corner = self._add(self.work, tr("&Previous corner"))
        self.close_outline = self._add(self.work, tr("C&lose the outline"))
        self.next_side = self._add(self.work, tr("Next s&ide"))
        self.curve_side = self._add(self.work, tr("Cur&ve the side"))
        self.work.addSeparator()
        self.edge = self._menu(tr("Marks on the &edge"), self.work)
        self.add_mark = self._add(self.edge, tr("&Add a mark"))
        self.remove_mark = self._add(self.edge, tr("&Remove the mark"))
        self.next_mark = self._add(self.edge, tr("&Next mark"))
        self.previous_mark = self._add(self.edge, tr("&Previous mark"))
        self.edge.addSeparator()
        self.more_spans = self._add(self.edge, tr("&More spans on the side"))
        self.fewer_spans = self._add(self.edge, tr("&Fewer spans on the side"))
        self.usual_spans = self._add(self.edge, tr("&Spans as on the other sides"))
        self.edge.addSeparator()
        self.usual_marks = self._add(self.edge, tr("All marks as &usual"))
        self.suggest = self._add(self.work, tr("S&uggest anchors"), "Ctrl+G")
        self.stop_looking = self._add(self.work, tr("Stop loo&king"), "Esc")
        self.stop_looking.setEnabled(False)
        self.begin_with = self._add(self.work, tr("&Begin with this wedge"), "Ctrl+B")
        self.other_way = self._add(self.work, tr("S&titch the other way round"), "Ctrl+R")
        self.path = self._menu(tr("Stitch pat&h"), self.work)
        self.play = self._add(self.path, _on_canvas(tr("&Play or pause"), Qt.Key.Key_Space))
        self.step_on = self._add(self.path, _on_canvas(tr("Step &on"), Qt.Key.Key_Right))
        self.step_back = self._add(self.path, _on_canvas(tr("Step &back"), Qt.Key.Key_Left))
        self.next_wedge = self._add(self.path, _on_canvas(tr("&Next wedge"), Qt.Key.Key_PageDown))
        self.previous_wedge = self._add(self.path, _on_canvas(tr("P&revious wedge"), Qt.Key.Key_PageUp))
        self.path_start = self._add(self.path, _on_canvas(tr("To the be&ginning"), Qt.Key.Key_Home))
        self.path_end = self._add(self.path, _on_canvas(tr("To the &end"), Qt.Key.Key_End))
        self.photo = self._menu(tr("Ph&oto"), self.work)
        self.square = self._add(self.photo, tr("&Square up"), "Ctrl+6")
        self.known = self._menu(tr("&What is known"), self.photo)
        self.known_things = {each: self._choice(self.known, tr(words)) for each, words in KNOWN_WORDS.items()}
        self._one_of(*self.known_things.values())
        self.add_place = self._add(self.photo, tr("&Add a place"))
        self.take_photo_out = self._add(self.photo, tr("&Take the photo out"))
        self.turned_cloth = self._choice(self.path, tr("Show the cloth &turned"))
        self.speed = self._menu(tr("&Speed"), self.path)
        self.speeds = {speed: self._choice(self.speed, tr(words)) for speed, words in SPEED_WORDS.items()}
        self._one_of(*self.speeds.values())

        self.patch = self._menu(tr("&Patch"))
        self.next_patch = self._add(self.patch, tr("&Next patch"), "Ctrl+PgDown")
        self.previous_patch = self._add(self.patch, tr("&Previous patch"), "Ctrl+PgUp")
        self.rename = self._add(self.patch, tr("Rena&me…"), "F2")
        self.remove_patch = self._add(self.patch, tr("&Remove the patch"))
        self.patch.addSeparator()
        self.tape = self._add(self.patch, tr("From &tape measures…"))
        self.leftover = self._add(self.patch, tr("Spaces bet&ween blocks…"))
        self.patch.addSeparator()
        self.cut_hole = self._add(self.patch, tr("Cut a &hole"))
        self.remove_hole = self._add(self.patch, tr("Rem&ove the hole"))
        self.patch.addSeparator()
        self.rotate_right = self._add(self.patch, tr("Rotate to the ri&ght"))
        self.rotate_left = self._add(self.patch, tr("Rotate to the &left"))
        self.rotate_by = self._add(self.patch, tr("Rotate &by degrees…"))
        self.mirror_across = self._add(self.patch, tr("Mirror left &and right"))
        self.mirror_upright = self._add(self.patch, tr("Mirror &up and down"))
        self.scale = self._add(self.patch, tr("&Scale to a known length…"))

        self.tries = self._menu(tr("&Tries"))
        self.keep_try = self._add(self.tries, tr("&Keep this try"), "F4")
        self.compare_tries = self._add(self.tries, tr("&Compare tries…"), "Shift+F4")
        self.print_tries = self._add(self.tries, tr("T&ry sheet…"))
        self.print.addAction(self.print_tries)

        self.view = self._menu(tr("&View"))
        self.zoom_in = self._add(self.view, tr("Zoom &in"), "Ctrl++", "Ctrl+=")
        self.zoom_out = self._add(self.view, tr("Zoom &out"), "Ctrl+-")
        self.fit = self._add(self.view, tr("&Whole patch"), "Ctrl+0")
        self.anchor_map = self._choice(self.view, tr("Anchor &map"), "Ctrl+M")
        self.quilted = self._choice(self.view, tr("&How it will look"), "F6")
        self.beneath = self._menu(tr("Photo &beneath"), self.view)
        self.show_photo = self._choice(self.beneath, tr("&Show the photo"), "F9")
        self.show_photo.setChecked(True)
        self.beneath.addSeparator()
        self.strengths = {n: self._choice(self.beneath, tr(words)) for n, words in enumerate(_STRENGTH_WORDS)}
        self._one_of(*self.strengths.values())
        self.strengths[1].setChecked(True)
        self.view.addSeparator()
        self.units = self._menu(tr("&Units"), self.view)
        self.styles = {style: self._choice(self.units, tr(words)) for style, words in STYLE_WORDS.items()}
        self._one_of(*self.styles.values())
        appearance = self._menu(tr("&Light or dark"), self.view)
        self.appearances = {
            choice: self._choice(appearance, tr(words)) for choice, words in _APPEARANCE_WORDS.items()
        }
        self._one_of(*self.appearances.values())
        size = self._menu(tr("&Text size"), self.view)
        self.text_sizes = {
            each: self._choice(size, tr(words), keys) for each, (words, keys) in _TEXT_SIZES.items()
        }
        self._one_of(*self.text_sizes.values())
        self.panels = self._menu(tr("&Panels"), self.view)

        self.helps = self._menu(tr("&Help"))
        self.help = self._add(self.helps, tr("&How the bench is used"), "F1")
        self._say_what_each_does()

    def add_panel(self, action: QAction) -> None:
        """One that shows or hides a panel."""
        _say(action, tr(PANEL))
        self.panels.addAction(action)

    def fill_recent(self, entries: Iterable[tuple[str, Callable[[], object]]]) -> None:
        """The plans that were worked on last, with what opens each."""
        self.recent.clear()
        for number, (name, open_it) in enumerate(entries, start=1):
            # An ampersand of the name's own is doubled: it is no access key.
            action = self.recent.addAction(f"&{number}  {name.replace('&', '&&')}")
            action.triggered.connect(lambda _=False, open_it=open_it: open_it())
            _say(action, tr(RECENT))
        self.recent.setEnabled(not self.recent.isEmpty())

    def _menu(self, title: str, parent: QMenu | None = None) -> QMenu:
        menu = QMenu(title, self._window)
        menu.setAccessibleName(title.replace("&", ""))
        if parent is None:
            self._window.menuBar().addMenu(menu)
            self.menus.append(menu)
        else:
            parent.addMenu(menu)
        return menu

    def _add(self, menu: QMenu, text: str, *shortcuts: str) -> QAction:
        action = QAction(text, self._window)
        action.setShortcuts([QKeySequence(keys) for keys in shortcuts])
        menu.addAction(action)
        return action

    def _choice(self, menu: QMenu, text: str, *shortcuts: str) -> QAction:
        action = self._add(menu, text, *shortcuts)
        action.setCheckable(True)
        return action

    def _say_what_each_does(self) -> None:
        for name, sentence in SENTENCES.items():
            held = getattr(self, name)
            for action in held.values() if isinstance(held, dict) else (held,):
                _say(action, tr(sentence))

    def _one_of(self, *actions: QAction) -> None:
        group = QActionGroup(self._window)
        for action in actions:
            action.setCheckable(True)
            group.addAction(action)


def _say(action: QAction, sentence: str) -> None:
    action.setStatusTip(sentence)
    action.setWhatsThis(sentence)


def _on_canvas(text: str, key: Qt.Key) -> str:
    """With the key that does the same on the canvas. It is no shortcut: elsewhere it means something else."""
    return f"{text}\t{QKeySequence(key).toString(QKeySequence.SequenceFormat.NativeText)}"


def set_icon(action: QAction, icon: QIcon) -> None:
    """For the toolbar only: menus stay words."""
    action.setIcon(icon)
    action.setIconVisibleInMenu(False)
