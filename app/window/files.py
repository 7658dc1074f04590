"""New, open, save, import, drop, template, close: what happens between the session and files."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from app.plan.model import Plan, PlanPatch
from app.plan.plan_file import SUFFIX, ChangedOutside, read_plan, write_plan
from app.sketch import changes
from app.sketch.translate import tr, tr_n
from app.window import preferences
from app.window.dialogs import Dialogs, Unsaved
from app.window.recent import recent_plans, remember_plan
from app.window.session import Session
from geometry import WedgewrightError
from geometry.patch import middle_of
from geometry.units import Unit

if TYPE_CHECKING:
    from app.importing import Imported


class Files(QObject):
    """Every way that a plan or an outline comes in or goes out."""

    noted = Signal(str)
    """Something worth knowing, for the message bar."""
    opened = Signal()
    """Another plan is worked on."""
    recent_changed = Signal()

    def __init__(self, session: Session, dialogs: Dialogs, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._dialogs = dialogs

    @property
    def title(self) -> str:
        """What the plan is called: by its file, or by its own title."""
        if self._session.path is not None:
            return self._session.path.name
        return self._session.plan.title or tr("New plan")

    # --- plans --------------------------------------------------------------------------------------

    def new(self) -> bool:
        """An empty plan. False where unsaved work was kept instead."""
        if not self.may_go():
            return False
        self._session.open(Plan())
        self.opened.emit()
        return True

    def open(self, path: Path | None = None) -> bool:
        """The plan at ``path``, or at the place that is asked for. False where it was not opened."""
        if not self.may_go():
            return False
        path = path or self._dialogs.plan_to_open()
        if path is None:
            return False
        plan = self._read(path)
        if plan is None:
            return False
        self._session.open(plan, path)
        self._remember(path)
        self.opened.emit()
        return True

    def save(self) -> bool:
        """To the plan's own file; asks where the first time. False where it was not saved."""
        path = self._session.path
        return self.save_as() if path is None else self._write(path)

    def save_as(self) -> bool:
        """To another file. False where it was not saved."""
        path = self._dialogs.where_to_save(self._session.plan.title, self._session.path)
        return path is not None and self._write(path)

    def may_go(self) -> bool:
        """True where the present plan may be left: it is saved, or given up."""
        if self._session.history.is_clean:
            return True
        match self._dialogs.unsaved(self.title):
            case Unsaved.SAVE:
                return self.save()
            case Unsaved.DISCARD:
                return True
        return False

    # --- outlines -----------------------------------------------------------------------------------

    def take(self, paths: Iterable[Path]) -> None:
        """Files from the command line or dropped: the first plan is opened, outlines are imported."""
        paths = list(paths)
        plans = [path for path in paths if path.suffix.lower() == SUFFIX]
        if plans:
            self.open(plans[0])
        if len(plans) > 1:
            self.noted.emit(
                tr("One plan at a time: “{name}” was opened, the others were not", name=plans[0].name)
            )
        self.import_outlines([path for path in paths if path not in plans])

    def import_outlines(self, paths: Sequence[Path] | None = None) -> None:
        """The outlines in ``paths``, or in files that are asked for, become patches of the plan."""
        if paths is None:
            paths = self._dialogs.files_to_import()
        for path in paths:
            try:
                imported = self._outlines(path)
                if imported is not None:
                    self._add(path, imported)
            except WedgewrightError as error:
                self._dialogs.tell(str(error))

    # ------------------------------------------------------------------------------------------------

    def _outlines(self, path: Path, unit: Unit | None = None) -> Imported | None:
        """What is in the file; where it does not say enough, the user is asked. None: the user gave up."""
        from app.importing import (  # not needed at the start
            CrossedOutlineError,
            UnitMissingError,
            import_file,
        )

        try:
            return import_file(path, unit)
        except UnitMissingError:
            unit = self._dialogs.unit_of(path)
            return None if unit is None else self._outlines(path, unit)
        except CrossedOutlineError as error:
            parts = import_file(path, unit, split=True)  # what else is wrong is told before anything is asked
            return parts if self._dialogs.splits(f"{error.where}: {error.what}") else None

    def _add(self, path: Path, imported: Imported) -> None:
        usual = preferences.usual_settings()
        pieces = [
            PlanPatch.of(name, patch, [middle_of(patch)], settings=usual) for name, patch in imported.patches
        ]
        self._session.do(changes.add_patches(self._session.plan, pieces))
        told = tr_n(
            "{count} patch from “{name}”", "{count} patches from “{name}”", len(pieces), name=path.name
        )
        self.noted.emit(". ".join((told, *imported.notes)))

    def _read(self, path: Path) -> Plan | None:
        try:
            return read_plan(path)
        except ChangedOutside as error:
            if not self._dialogs.opens_changed(str(error)):
                return None
            return read_plan(path, accept_changed=True)
        except WedgewrightError as error:
            self._dialogs.tell(str(error))
            return None

    def _write(self, path: Path) -> bool:
        plan = self._session.history.committed
        try:
            write_plan(path, plan)
        except WedgewrightError as error:
            self._dialogs.tell(str(error))
            return False
        self._session.saved_as(path, plan)
        self._remember(path)
        return True

    def _remember(self, path: Path) -> None:
        remember_plan(path)
        self.recent_changed.emit()

    @staticmethod
    def recent() -> list[Path]:
        """The plans that were worked on last."""
        return recent_plans()
