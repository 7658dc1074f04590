"""The bench: canvas in the middle, panels around it, and the wires between them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QChildEvent, QCoreApplication, QEvent, Qt
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QGuiApplication, QStatusTipEvent
from PySide6.QtWidgets import QDockWidget, QMainWindow, QTabBar, QToolButton, QVBoxLayout, QWidget

from app.sketch.translate import tr
from app.window.frame import Frame
from app.window.look import Look

if TYPE_CHECKING:
    from app.plan.model import Plan
    from app.sketch.leftover_form import BlocksForm
    from app.sketch.modes.mode import Mode
    from app.sketch.modes.photo import Known, PhotoMode
    from app.sketch.tape_form import TapeForm
    from app.window.canvas import Canvas
    from app.window.dialogs import Dialogs
    from app.window.keeper import Keeper
    from app.window.print_dialog import PrintDialog
    from geometry.findings import Finding
    from geometry.units import LengthStyle


class Bench(Frame):
    """One window on one plan. What it is made of is loaded when it is furnished, not with this module."""

    def __init__(
        self, look: Look, plan: Plan | None = None, dialogs: Dialogs | None = None, *, furnished: bool = True
    ) -> None:
        """``furnished``: False for the bare frame, which ``furnish`` makes a bench of later."""
        super().__init__(look)
        self.keeper: Keeper | None = None
        """Keeps copies of unsaved work, from ``keep_in`` on."""
        if furnished:
            self.furnish(plan, dialogs)

    def furnish(self, plan: Plan | None = None, dialogs: Dialogs | None = None) -> None:
        """Put everything in its place, once. In a window that is seen, nothing is painted meanwhile."""
        from app.sketch.modes.anchor import AnchorMode
        from app.sketch.modes.draw import DrawMode
        from app.sketch.modes.hole import HoleMode
        from app.sketch.modes.marks import MarksMode
        from app.sketch.modes.photo import PhotoMode
        from app.sketch.modes.shape import ShapeMode
        from app.sketch.modes.walk import WalkMode
        from app.window import preferences
        from app.window.actions import Actions
        from app.window.anchor_guide import AnchorGuide
        from app.window.anchor_work import AnchorWork
        from app.window.canvas import Canvas
        from app.window.dialogs import Dialogs
        from app.window.files import Files
        from app.window.findings_panel import FindingsPanel
        from app.window.message_bar import MessageBar
        from app.window.patches_panel import PatchesPanel
        from app.window.photo_bar import PhotoBar
        from app.window.photos import Photos
        from app.window.player import Player
        from app.window.session import Session
        from app.window.settings_panel import SettingsPanel
        from app.window.shaping import Shaping
        from app.window.speaker import Speaker
        from app.window.status import StatusLine
        from app.window.suggestions_panel import SuggestionsPanel
        from app.window.toolbar import Toolbar
        from app.window.tries_panel import TriesPanel
        from app.window.walk_bar import WalkBar

        look = self._look
        self.setUpdatesEnabled(False)
        self.setAcceptDrops(True)
        self.setDockOptions(QMainWindow.DockOption.AllowNestedDocks)
        self.session = Session(plan, self)
        self._leaves = False
        self._tape: TapeForm | None = None
        """The sheet of tape measures, kept while the window is open."""
        self._blocks: BlocksForm | None = None
        self.dialogs = dialogs or Dialogs(self, look)
        self.files = Files(self.session, self.dialogs, self)
        self.photos = Photos(self.session, self.dialogs, self)
        self.anchor_work = AnchorWork(self.session, lambda: self.canvas.mode.busy, self)
        self.walk = WalkMode(self.session, lambda: self.session.fit)
        self.player = Player(self.walk, self)
        anchor = AnchorMode(self.session, lambda: self.session.fit, lambda: self.anchor_work.best)
        self.modes: dict[str, Mode] = {
            "draw": DrawMode(self.session, preferences.usual_settings, lambda: self.canvas.shows_photo),
            "hole": HoleMode(self.session),
            "shape": ShapeMode(self.session, lambda: self.canvas.shows_photo),
            "anchor": anchor,
            "marks": MarksMode(self.session),
            "walk": self.walk,
            "photo": PhotoMode(self.session),
        }
        self.canvas = Canvas(self.session, look, self.modes["anchor"], self)
        self.speaker = Speaker(self.canvas, self.session, self)
        self.message = MessageBar(look, self.canvas)
        self.status = StatusLine(self.session, look, self)
        self.statusBar().setSizeGripEnabled(False)
        self.statusBar().addWidget(self.status, 1)

        self.patches = PatchesPanel(self.session, look)
        self.findings = FindingsPanel(self.session, look)
        self.actions_ = Actions(self)
        self.settings = SettingsPanel(self.session, look, self.actions_.quilted)
        act = self.actions_
        self.tries = TriesPanel(self.session, look, act.keep_try, act.compare_tries, act.print_tries)
        self.suggestions = SuggestionsPanel(self.session, self.anchor_work, look)
        self.guide = AnchorGuide(
            self.session, anchor, self.anchor_work, self.canvas, self.suggestions, self.actions_, self
        )
        self.walk_bar = WalkBar(self.walk, self.player, self.session, look, act.speed, act.turned_cloth, self)
        self.shaping = Shaping(self.session, self.canvas, self.actions_, self.set_mode, self)
        photo = self.modes["photo"]
        assert isinstance(photo, PhotoMode)
        self.photo_bar = PhotoBar(photo, self.session, act.known, self)
        middle = _above(self.canvas, self.walk_bar, self.photo_bar)
        self.setCentralWidget(middle)
        self.toolbar = Toolbar(self.actions_, look, self)
        self.addToolBar(self.toolbar)
        left, right = Qt.DockWidgetArea.LeftDockWidgetArea, Qt.DockWidgetArea.RightDockWidgetArea
        patches = self._dock(tr("Patches"), tr("&Patches"), "patches", self.patches, left)
        findings = self._dock(tr("Findings"), tr("&Findings"), "findings", self.findings, left)
        settings = self._dock(tr("Settings"), tr("&Settings"), "settings", self.settings, right)
        tries = self._dock(tr("Tries"), tr("&Tries"), "tries", self.tries, right)
        suggested = self._dock(tr("Suggestions"), tr("S&uggestions"), "suggestions", self.suggestions, right)
        # At once, not in Qt's next turn: a window that is seen gives room only to what is shown in it.
        for place in (
            self.menuBar(), self.statusBar(), self.toolbar, middle, patches, findings, settings, tries,
        ):  # fmt: skip
            place.show()
        known = self._restore_panels()
        # Not below the patches: there the findings grow by what mends them, and would leave one try in sight.
        # Only the new ones: of tabs that are made anew, Qt leaves the old ones in sight.
        new = [dock for dock in (settings, tries, suggested) if dock.objectName() not in known]
        for dock, home in ((tries, settings), (suggested, tries if not tries.isFloating() else settings)):
            if {dock, home} & {*new} and not home.isFloating():
                self.tabifyDockWidget(home, dock)
                settings.raise_()
        if suggested in new:
            suggested.hide()
        if not known >= {"patches", "settings"}:
            self.resizeDocks([patches, settings], [296, 296], Qt.Orientation.Horizontal)
        if not known >= {"patches", "findings"}:
            self.resizeDocks([patches, findings], [400, 190], Qt.Orientation.Vertical)
        self._connect()
        self._connect_actions()
        self.set_mode("anchor")
        self._plan_changed()
        self._style_changed()
        self.canvas.setFocus()
        self._furnished = True
        self.setUpdatesEnabled(True)

    # --- what is done to it -------------------------------------------------------------------------

    def set_mode(self, name: str) -> None:
        """Draw, hole, shape, anchor, marks, walk or photo."""
        self.canvas.mode = self.modes[name]
        self.actions_.modes[{"hole": "shape", "photo": "draw"}.get(name, name)].setChecked(True)
        self.walk_bar.setVisible(name == "walk")
        self.photo_bar.setVisible(name == "photo")
        self.photo_bar.refresh()
        self.player.follow()
        self._show_hint()
        self._enable_corners()
        self.guide.follow()

    def take(self, files: Sequence[Path]) -> None:
        """Files from the command line, or dropped."""
        from app.window.photos import is_photo

        photos = [path for path in files if is_photo(path)]
        self.files.take([path for path in files if path not in photos])
        self.photos.take(photos)

    def keep_in(self, root: Path) -> None:
        """From now on keep a copy of unsaved work under ``root``, where all windows keep theirs."""
        from app.window.keeper import Keeper

        self.keeper = Keeper(self.session, lambda: self.files.origin, root, self)
        self.keeper.failed.connect(self.message.problem)
        self.files.keep_first = self.keeper.rescue
        self.keeper.clear_up({path.parent for path in self.files.recent()})

    def rescue(self) -> str:
        """Keep a copy of the plan at once. Why not, where that cannot be; empty where it is kept or saved."""
        if not self.is_furnished:
            return ""
        if self.keeper is None:
            return "" if self.session.history.is_clean else tr("nothing is kept here")
        return self.keeper.rescue()

    def show_recovered(self, *, only_some: bool = False) -> None:
        """What windows that ended left unsaved. ``only_some``: only where there is some."""
        from app.window.recovered_dialog import RecoveredDialog
        from geometry import WedgewrightError

        if self.keeper is None:
            return
        found = self.keeper.left()
        if only_some and not found:
            return
        dialog = RecoveredDialog(found, self.keeper.throw_away, self)
        chosen = dialog.chosen if dialog.exec() else None
        dialog.deleteLater()
        if chosen is not None:
            try:
                self.keeper.take_over(chosen, self.files.open_recovered)
            except WedgewrightError as error:
                self.dialogs.tell(str(error))

    def settle(self) -> None:
        """Take the final sizes now, and paint the fine picture at once: nothing that is seen comes later."""
        QCoreApplication.sendPostedEvents(None, QEvent.Type.LayoutRequest.value)
        self.canvas.rest.settle()

    def may_end(self) -> bool:
        """Whether the window may go soon: its work is saved or given up. Closing asks no second time."""
        self._leaves = self.files.may_go()
        return self._leaves

    # --- Qt's events --------------------------------------------------------------------------------

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self.is_furnished:
            event.accept()
            return
        event.ignore()  # also where something fails that nobody foresaw
        self.canvas.cancel_gesture()
        if not (self._leaves or self.may_end()):
            return
        self._remember()
        self.anchor_work.stop()
        self.files.release()
        if self.keeper is not None:
            self.keeper.close()
            self.keeper = None
        event.accept()

    def event(self, event: QEvent) -> bool:
        """What an action does is said in the line at the foot, where the hint is: the verdict stays."""
        if isinstance(event, QStatusTipEvent) and self.is_furnished:
            self.status.show_tip(event.tip())
            return True
        return super().event(event)

    def childEvent(self, event: QChildEvent) -> None:
        """Qt makes a bar of tabs wherever panels lie on each other, and gives it no name."""
        # To ask which child it is makes PySide look through all classes of Qt once, in 20 ms (measured).
        child = event.child() if event.type() == QEvent.Type.ChildPolished else None
        if isinstance(child, QTabBar):
            child.setAccessibleName(tr("Panels that lie on each other"))
            child.setWhatsThis(tr("Brings one of the panels that lie on each other to the front."))
            for button in child.findChildren(QToolButton):
                button.setWhatsThis(tr("Shows panels for which there is no room."))
            child.setDrawBase(False)
        super().childEvent(event)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        held = event.mimeData()
        if held.hasImage() or any(url.isLocalFile() for url in held.urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        from app.window.files import local_path

        paths = [local_path(url) for url in event.mimeData().urls() if url.isLocalFile()]
        event.acceptProposedAction()
        if paths:
            self.take(paths)
        else:
            self.photos.paste(event.mimeData())

    # --- the wires ----------------------------------------------------------------------------------

    def _dock(
        self, title: str, menu_title: str, name: str, panel: QWidget, area: Qt.DockWidgetArea
    ) -> QDockWidget:
        from app.window.dock import Dock

        dock = Dock(title, name, panel, self._look, self)
        self.addDockWidget(area, dock)
        toggle = dock.toggleViewAction()
        toggle.setText(menu_title)
        self.actions_.add_panel(toggle)
        return dock

    def _connect(self) -> None:
        session = self.session
        session.plan_changed.connect(self._plan_changed)
        session.style_changed.connect(self._style_changed)
        session.chosen_changed.connect(self._chosen_changed)
        session.fit_changed.connect(self._enable_path)
        session.refused.connect(self.message.problem)
        self.files.noted.connect(self.message.note)
        self.photos.noted.connect(self.message.note)
        self.photos.opened.connect(lambda: self._start_mode("photo"))
        self.files.opened.connect(self._opened)
        self.files.recent_changed.connect(self._fill_recent)
        self.findings.wanted.connect(self._show_finding)
        self.canvas.worked.connect(self._enable_undo)
        self.canvas.worked.connect(self._walk_worked)
        self.canvas.worked.connect(self.photo_bar.refresh)
        self.player.moved.connect(self.canvas.update)
        self.player.moved.connect(self._enable_path)
        self.player.jumped.connect(self.canvas.rest.stir)
        self.player.refused.connect(self.message.problem)
        self.canvas.touched.connect(self.message.clear)
        self.canvas.mode_left.connect(self._leave_mode)
        self._fill_recent()

    def _connect_actions(self) -> None:
        from app.sketch.modes.events import Key
        from app.window import preferences
        from app.window.canvas import PHOTO_STRENGTHS

        act, canvas = self.actions_, self.canvas
        act.new.triggered.connect(lambda: self._leaving(self.files.new))
        act.open.triggered.connect(lambda: self._leaving(self.files.open))
        act.save.triggered.connect(lambda: self._leaving(self.files.save))
        act.save_as.triggered.connect(lambda: self._leaving(self.files.save_as))
        act.previous.triggered.connect(lambda: self._leaving(self.files.open_previous))
        act.recovered.triggered.connect(lambda: self._leaving(self.show_recovered))
        act.import_.triggered.connect(lambda: self._leaving(self.files.import_outlines))
        act.open_photo.triggered.connect(lambda: self._leaving(self.photos.open))
        act.paste.triggered.connect(
            lambda: self._leaving(lambda: self.photos.paste(QGuiApplication.clipboard().mimeData()))
        )
        act.square.triggered.connect(lambda: self._start_mode("photo"))
        for known, action in act.known_things.items():
            action.triggered.connect(lambda _=False, known=known: self._tell_known(known))
        act.add_place.triggered.connect(self._add_place)
        self.photo_bar.add.clicked.connect(act.add_place.trigger)
        self.photo_bar.draw.clicked.connect(lambda: canvas.press_key(Key.ENTER))
        act.take_photo_out.triggered.connect(self._take_photo_out)
        act.show_photo.toggled.connect(lambda shown: canvas.show_photo(shown=shown))
        for n, action in act.strengths.items():
            action.triggered.connect(lambda _=False, n=n: canvas.show_photo(strength=PHOTO_STRENGTHS[n]))
        act.template.triggered.connect(self._print_template)
        act.quit.triggered.connect(self.close)
        act.undo.triggered.connect(self._undo)
        act.redo.triggered.connect(self._redo)
        act.copy.triggered.connect(self._copy)
        act.preferences.triggered.connect(self._prefer)
        for name, action in act.modes.items():
            action.triggered.connect(lambda _=False, name=name: self._start_mode(name))
        for action, key in (
            (act.add_corner, Key.INSERT),
            (act.remove_corner, Key.DELETE),
            (act.next_corner, Key.NEXT),
            (act.previous_corner, Key.PREVIOUS),
            (act.close_outline, Key.ENTER),
            (act.add_mark, Key.INSERT),
            (act.remove_mark, Key.DELETE),
            (act.next_mark, Key.NEXT),
            (act.previous_mark, Key.PREVIOUS),
            (act.more_spans, Key.MORE_SPANS),
            (act.fewer_spans, Key.FEWER_SPANS),
            (act.usual_spans, Key.USUAL_SPANS),
            (act.usual_marks, Key.USUAL_MARKS),
        ):
            action.triggered.connect(lambda _=False, key=key: canvas.press_key(key))
        for action, step in (
            (act.play, self.player.toggle),
            (act.step_on, lambda: self.player.step(1)),
            (act.step_back, lambda: self.player.step(-1)),
            (act.next_wedge, lambda: self.player.step(1, wedge=True)),
            (act.previous_wedge, lambda: self.player.step(-1, wedge=True)),
            (act.path_start, self.player.to_start),
            (act.path_end, self.player.to_end),
        ):
            action.triggered.connect(lambda _=False, step=step: step())
        for speed, action in act.speeds.items():
            action.triggered.connect(lambda _=False, speed=speed: self.player.set_speed(speed))
        act.speeds[self.walk.speed].setChecked(True)
        self.walk.shows_turned = preferences.turned_cloth()
        act.turned_cloth.setChecked(self.walk.shows_turned)
        act.turned_cloth.toggled.connect(self._show_turned)
        act.next_patch.triggered.connect(lambda: self._step_patch(1))
        act.previous_patch.triggered.connect(lambda: self._step_patch(-1))
        act.rename.triggered.connect(self._rename)
        act.remove_patch.triggered.connect(self._remove_patch)
        act.tape.triggered.connect(self._measure_by_tape)
        act.leftover.triggered.connect(self._find_spaces)
        act.keep_try.triggered.connect(self._keep_try)
        act.compare_tries.triggered.connect(self._compare_tries)
        for action, kind in (
            (act.marking_card, "marking"),
            (act.stitching_card, "stitching"),
            (act.plan_sheet, "plan"),
            (act.print_tries, "tries"),
        ):
            action.triggered.connect(lambda _=False, kind=kind: self._print_card(kind))
        act.zoom_in.triggered.connect(lambda: canvas.zoom(1))
        act.zoom_out.triggered.connect(lambda: canvas.zoom(-1))
        act.fit.triggered.connect(canvas.fit_view)
        act.quilted.toggled.connect(self._show_quilted)
        act.help.triggered.connect(self._help)
        for style, action in act.styles.items():
            action.triggered.connect(lambda _=False, style=style: self._set_style(style))
        for choice, action in act.appearances.items():
            action.triggered.connect(lambda _=False, choice=choice: self._look.choose(choice))
            action.setChecked(choice is self._look.appearance)
        for size, action in act.text_sizes.items():
            action.triggered.connect(lambda _=False, size=size: self._look.choose_text_size(size))
            action.setChecked(size is self._look.text_size)

    # --- what actions do ----------------------------------------------------------------------------

    def _start_mode(self, name: str) -> None:
        self.set_mode(name)
        self.canvas.setFocus()

    def _leaving(self, step: Callable[[], object]) -> None:
        """Nothing half done is taken along."""
        self.canvas.cancel_gesture()
        step()

    def _undo(self) -> None:
        self.suggestions.leave()
        name = self.session.history.undo_name
        if self.canvas.undo():
            self.speaker.undone(None)
        else:
            self.session.undo()
            self.speaker.undone(name)

    def _redo(self) -> None:
        self.canvas.cancel_gesture()
        name = self.session.history.redo_name
        self.session.redo()
        self.speaker.redone(name)

    def _copy(self) -> None:
        piece = self.session.piece
        if piece is None:
            return
        if self.canvas.quilted:
            QGuiApplication.clipboard().setPixmap(self.canvas.grab())
        else:
            from app.exporting.png import patch_image

            image = patch_image(piece.name, self.session.fit_of(piece), self.session.style)
            QGuiApplication.clipboard().setImage(image)
        self.message.note(tr("The picture is on the clipboard"))

    def _step_patch(self, by: int) -> None:
        chosen, count = self.session.chosen, len(self.session.plan.patches)
        if chosen is not None:
            self.session.choose((chosen + by) % count)

    def _rename(self) -> None:
        dock = self.findChild(QDockWidget, "patches")
        if isinstance(dock, QDockWidget):
            dock.show()
            dock.raise_()
        self.patches.edit_name()

    def _measure_by_tape(self) -> None:
        from app.sketch.tape_form import TapeForm
        from app.window.tape_dialog import TapeDialog

        self.canvas.cancel_gesture()
        dialog = TapeDialog(self._tape or TapeForm(), self.session.style, self._look, self)
        if dialog.exec() and dialog.patch is not None:
            self.files.add([(tr("Measured patch"), dialog.patch)])
        self._tape = dialog.form
        dialog.deleteLater()

    def _find_spaces(self) -> None:
        from app.sketch import changes
        from app.sketch.leftover_form import BlocksForm
        from app.window import preferences
        from app.window.leftover_dialog import LeftoverDialog

        self.canvas.cancel_gesture()
        self._blocks = self._blocks or BlocksForm()
        dialog = LeftoverDialog(
            self._blocks, self.session, preferences.usual_settings(), self.files.outlines, self._look, self
        )
        if dialog.exec():
            self.session.do(changes.add_patches(self.session.plan, dialog.patches))
            self.message.note(dialog.told)
        dialog.deleteLater()

    def _keep_try(self) -> None:
        before = self.session.plan
        self._leaving(self.tries.keep_now)
        if self.session.plan is not before:
            kept = self.tries.model.tries[-1].name
            self.message.note(tr("“{name}” is kept; it is in the panel Tries", name=kept))

    def _compare_tries(self) -> None:
        from app.window.compare_dialog import CompareDialog

        self.canvas.cancel_gesture()
        model = self.tries.model
        fits = [(kept.name, model.fit_at(row)) for row, kept in enumerate(model.tries)]
        tries = [(name, fit) for name, fit in fits if fit is not None]
        now = self.session.fit if model.present is None else None
        if tries:
            dialog = CompareDialog(tries, now, self.session.style, self._look, self)
            rows = [row for row, (_, fit) in enumerate(fits) if fit is not None]
            dialog.wanted.connect(lambda number: self.tries.bring_back(model.index(rows[number])))
            dialog.exec()

    def _remove_patch(self) -> None:
        from app.sketch import changes

        chosen = self.session.chosen
        if chosen is not None:
            self.session.do(changes.remove_patch(self.session.plan, chosen))

    def _photo_mode(self) -> PhotoMode:
        from app.sketch.modes.photo import PhotoMode

        mode = self.modes["photo"]
        assert isinstance(mode, PhotoMode)
        return mode

    def _tell_known(self, known: Known) -> None:
        """A sheet says its own size; that of a block is typed."""
        from app.sketch import photo_changes
        from app.sketch.modes.photo import size_of

        photo = self.session.plan.photo
        if photo is not None:
            self.session.do(photo_changes.tell_size(self.session.plan, size_of(known, photo.corners)))
            self._start_mode("photo")

    def _add_place(self) -> None:
        self._start_mode("photo")
        self._photo_mode().add_place()
        self.photo_bar.refresh()

    def _take_photo_out(self) -> None:
        from app.sketch import photo_changes

        self.canvas.cancel_gesture()
        self.session.do(photo_changes.take_out(self.session.plan))

    def _set_style(self, style: LengthStyle) -> None:
        self.session.show_in(style)

    def _show_quilted(self, quilted: bool) -> None:
        self.canvas.cancel_gesture()
        self.canvas.quilted = quilted

    def _show_turned(self, shown: bool) -> None:
        from app.window import preferences

        preferences.store_turned_cloth(shown)
        self.walk.shows_turned = shown
        self.canvas.update()

    def _help(self) -> None:
        from app.window.help_page import HelpPage

        self.canvas.cancel_gesture()
        page = self.findChild(HelpPage) or HelpPage(self.actions_, self._look, self)
        page.show_page()

    def _prefer(self) -> None:
        from app.window.preferences_dialog import PreferencesDialog

        self.canvas.cancel_gesture()
        PreferencesDialog(self.session, self._look, self).exec()

    def _print_template(self) -> None:
        from app.window.template_dialog import TemplateDialog

        self.canvas.cancel_gesture()
        self._print(TemplateDialog(self.session, self.dialogs, self._look, self))

    def _print_card(self, kind: str) -> None:
        from app.exporting.cards import CardKind
        from app.window.print_cards import CardDialog

        self.canvas.cancel_gesture()
        self._print(CardDialog(self.session, self.dialogs, self._look, CardKind(kind), self))

    def _print(self, dialog: PrintDialog) -> None:
        if dialog.exec():
            self.message.note(dialog.told)
        dialog.deleteLater()

    # --- what follows from changes ------------------------------------------------------------------

    def _plan_changed(self) -> None:
        from app.window.shaping import NEEDS_A_PATCH

        act, history = self.actions_, self.session.history
        self._enable_undo()
        act.redo.setEnabled(history.redo_name is not None)
        act.undo.setText(_named(tr("&Undo"), history.undo_name))
        act.redo.setText(_named(tr("&Redo"), history.redo_name))
        self.toolbar.name_buttons()
        some = bool(self.session.plan.patches)
        for action in (
            act.template, act.marking_card, act.stitching_card, act.plan_sheet,
            act.remove_patch, act.rename, act.next_patch, act.previous_patch,
            act.shape, act.anchor, act.marks, act.walk, act.copy, act.keep_try,
            act.suggest, act.begin_with, act.other_way,
        ):  # fmt: skip
            action.setEnabled(some)
        for name in NEEDS_A_PATCH:
            getattr(act, name).setEnabled(some)
        self._photo_changed()
        title = self.files.title.replace("[*]", "[*][*]")
        self.setWindowTitle(
            tr("{plan}[*] (read-only) – Wedgewright", plan=title)
            if self.files.read_only
            else tr("{plan}[*] – Wedgewright", plan=title)
        )
        act.previous.setEnabled(self.session.path is not None)
        self._leaves = False  # there is something new to ask about
        self.setWindowModified(not history.is_clean)
        self.message.clear()
        self._show_hint()

    def _photo_changed(self) -> None:
        """What can be done with a photo; without one there is nothing to square up."""
        from app.plan.photo import CORNERS
        from app.sketch.modes.photo import known_of

        act, photo = self.actions_, self.session.plan.photo
        for action in (act.square, act.take_photo_out, *act.known_things.values()):
            action.setEnabled(photo is not None)
        act.add_place.setEnabled(photo is not None and len(photo.corners) == CORNERS)
        act.known_things[known_of(photo.size if photo is not None else None)].setChecked(True)
        if photo is None and self.canvas.mode is self.modes["photo"]:
            self._leave_mode()
        self.photo_bar.refresh()

    def _style_changed(self) -> None:
        self.actions_.styles[self.session.style].setChecked(True)
        self.toolbar.show_style(self.session.style)
        self.canvas.update()
        self.findings.refresh()

    def _chosen_changed(self) -> None:
        if self.canvas.mode in (self.modes["draw"], self.modes["hole"], self.modes["photo"]):
            self.set_mode("anchor")  # the draft stays, and comes back with Draw

    def _leave_mode(self) -> None:
        if self.canvas.mode is self.modes["photo"]:
            squared = self._photo_mode().is_squared
            self.set_mode("draw" if squared or not self.session.plan.patches else "anchor")
            if squared:
                self.canvas.look_at_photo()
                self.canvas.setFocus()
            return
        self.set_mode("shape" if self.canvas.mode is self.modes["hole"] else "anchor")

    def _opened(self) -> None:
        for mode in self.modes.values():
            mode.cancel()
        self.canvas.sentence = ""
        self.set_mode("anchor" if self.session.plan.patches else "draw")

    def _show_finding(self, finding: Finding) -> None:
        self.canvas.show_place(finding.at, finding.wedge)

    def _show_hint(self) -> None:
        mode = next(name for name, each in self.modes.items() if each is self.canvas.mode)
        empty = self.session.piece is None and mode not in ("draw", "photo")
        self.status.show_hint("none" if empty else mode)

    def _enable_undo(self) -> None:
        history = self.session.history
        self.actions_.undo.setEnabled(history.undo_name is not None or self.canvas.mode.busy)

    def _enable_corners(self) -> None:
        act, mode = self.actions_, self.canvas.mode
        drawing = mode in (self.modes["draw"], self.modes["hole"])
        shaping, photo = mode is self.modes["shape"], mode is self.modes["photo"]
        act.add_corner.setEnabled(drawing or shaping or photo)
        act.close_outline.setEnabled(drawing)
        for action in (act.remove_corner, act.next_corner, act.previous_corner):
            action.setEnabled(shaping or photo)
        for action in (act.next_side, act.curve_side):
            action.setEnabled(shaping)
        act.edge.setEnabled(mode is self.modes["marks"])
        act.quilted.setEnabled(not (drawing or photo) and mode is not self.walk)

    def _walk_worked(self) -> None:
        if self.canvas.mode is self.walk:
            self.player.follow()

    def _enable_path(self) -> None:
        walks = self.canvas.mode is self.walk and self.walk.walk is not None
        self.actions_.path.setEnabled(walks)
        self.actions_.turned_cloth.setEnabled(walks and self.walk.turns_cloth)

    def _fill_recent(self) -> None:
        def opener(path: Path) -> Callable[[], object]:
            return lambda: self._leaving(lambda: self.files.open(path))

        self.actions_.fill_recent((path.name, opener(path)) for path in self.files.recent())


def _above(canvas: Canvas, *bars: QWidget) -> QWidget:
    """The canvas, and under it the bars, without which it has the whole room."""
    both = QWidget()
    layout = QVBoxLayout(both)
    layout.setContentsMargins(0, 0, 0, 0)
    layout.setSpacing(0)
    layout.addWidget(canvas, 1)
    for bar in bars:
        layout.addWidget(bar)
    return both


def _named(word: str, step: str | None) -> str:
    return word if step is None else f"{word} – {step}"
