"""New, open, save, import, drop, template, close: what happens between the session and files."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, TypeVar
from urllib.parse import unquote_to_bytes

from PySide6.QtCore import QObject, QUrl, Signal

from app.plan.atomic import previous_path
from app.plan.model import Plan, PlanPatch
from app.plan.plan_file import SUFFIX, ChangedOutside, fingerprint, read_plan, write_plan
from app.plan.recovery import Origin, Recovered
from app.sketch import changes
from app.sketch.translate import tr, tr_n
from app.window import preferences
from app.window.dialogs import Dialogs, Overwrite, Unsaved
from app.window.locks import Lock, held, plan_lock
from app.window.recent import recent_plans, remember_plan
from app.window.session import Session
from geometry import Patch, WedgewrightError
from geometry.patch import middle_of

if TYPE_CHECKING:
    from app.importing import Imported, Progress, UnitMissingError

T = TypeVar("T")


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
        self._lock: Lock | None = None
        self._fingerprint: str | None = None
        self._read_only = ""
        self.keep_first: Callable[[], object] = lambda: None
        """Called before a plan is written: a copy older than its file would take back what is in the file."""

    @property
    def title(self) -> str:
        """What the plan is called: by its file, or by its own title."""
        if self._session.path is not None:
            return self._session.path.name
        return self._session.plan.title or tr("New plan")

    @property
    def origin(self) -> Origin:
        """The plan's file, and what it held when it was read or written."""
        return Origin(self._session.path, self._fingerprint)

    @property
    def read_only(self) -> str:
        """Why the plan cannot be saved in its own file; empty where it can."""
        return self._read_only

    # --- plans --------------------------------------------------------------------------------------

    def new(self) -> bool:
        """An empty plan. False where unsaved work was kept instead."""
        if not self.may_go():
            return False
        self._begin(Plan())
        return True

    def open(self, path: Path | None = None) -> bool:
        """The plan at ``path``, or at the place that is asked for. False where it was not opened."""
        if not self.may_go():
            return False
        path = path or self._dialogs.plan_to_open()
        if path is None:
            return False
        lock = self._reach(path)  # first: what is read must be what lies there when it is ours
        before = fingerprint(path)
        plan = self._read(path)
        if plan is None:
            self._let_go(lock)
            return False
        self._begin(plan, path, lock, before)
        self._remember(path)
        return True

    def open_previous(self) -> bool:
        """The version before the last save, as unsaved work on the same file. False where there is none."""
        path = self._session.path
        if path is None:
            return False
        previous = previous_path(Path(os.path.realpath(path)))
        if not previous.is_file():
            self._dialogs.tell(
                tr("There is no version before the last save of “{name}” yet.", name=self.title)
            )
            return False
        if not self.may_go():
            return False
        plan = self._read(previous)
        if plan is None:
            return False
        self._begin(plan, path, self._reach(path), self._fingerprint, saved=False)
        self.noted.emit(
            tr("This is the version before the last save; “{name}” stays as it is until you save",
               name=self.title)
        )  # fmt: skip
        return True

    def open_recovered(self, found: Recovered) -> bool:
        """Work that was not saved when a window ended; its file is left as it is. False where it may not."""
        if not self.may_go():
            return False
        path = found.origin.file
        lock = None if path is None else self._reach(path)
        self._begin(found.plan, path, lock, found.origin.fingerprint, saved=False)
        if not self._read_only:
            self.noted.emit(tr("Your unsaved work is here again; save it to keep it"))
        return True

    def save(self) -> bool:
        """To the plan's own file; asks where the first time. False where it was not saved."""
        path = self._session.path
        return self.save_as() if path is None else self._write(path)

    def save_as(self) -> bool:
        """To another file. False where it was not saved."""
        path = self._dialogs.where_to_save(self._session.plan.title, self._session.path)
        return path is not None and self._write(path)

    def release(self) -> None:
        """The plan is worked on no more."""
        if self._lock is not None:
            self._lock.release()
            self._lock = None

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

    def add(self, patches: Sequence[tuple[str, Patch]]) -> list[PlanPatch]:
        """``patches`` by their names become patches of the plan, as new ones are usually set."""
        usual = preferences.usual_settings()
        pieces = [PlanPatch.of(name, patch, [middle_of(patch)], settings=usual) for name, patch in patches]
        self._session.do(changes.add_patches(self._session.plan, pieces))
        return pieces

    def outlines(self) -> Imported | None:
        """What a file holds that is asked for, as it would be imported; None where there is none."""
        for path in self._dialogs.files_to_import()[:1]:
            try:
                return self._outlines(path)
            except WedgewrightError as error:
                self._dialogs.tell(str(error))
        return None

    # ------------------------------------------------------------------------------------------------

    def _outlines(self, path: Path, unit: str | None = None, size: float | None = None) -> Imported | None:
        """What is in the file; where it does not say enough, the user is asked. None: the user gave up."""
        from app.importing import (
            CrossedOutlineError,
            UnitMissingError,
            import_file,
        )  # not needed at the start

        try:
            if path.suffix.lower() == ".dxf":
                return self._layered(path)
            return self._reading(path, lambda progress: import_file(path, unit, size=size, progress=progress))
        except UnitMissingError as error:
            said = self._size_of(path, error)
            return None if said is None else self._outlines(path, *said)
        except CrossedOutlineError as error:
            parts = import_file(path, unit, split=True)  # what else is wrong is told before anything is asked
            return parts if self._dialogs.splits(f"{error.where}: {error.what}") else None

    def _layered(self, path: Path) -> Imported | None:
        """As ``_outlines``, of a drawing that may have layers; it is read once, whatever is asked."""
        from app.importing import UnitMissingError, open_layered

        opened = self._reading(path, lambda progress: open_layered(path, progress))
        if opened is None:
            return None
        drawing, layers = opened
        try:
            chosen = self._dialogs.layers_of(path, layers) if len(layers) > 1 else tuple(layers)
            said: tuple[str | None, float | None] | None = (None, None)
            while chosen and said is not None:
                unit, size = said
                try:
                    return self._reading(
                        path,
                        lambda progress, unit=unit, size=size: drawing.imported(  # type: ignore[misc]
                            unit, size=size, layers=chosen, progress=progress
                        ),
                    )
                except UnitMissingError as error:
                    said = self._size_of(path, error)
            return None
        finally:
            Thread(name="closing a drawing", target=drawing.close, daemon=True).start()

    def _size_of(self, path: Path, error: UnitMissingError) -> tuple[str | None, float | None] | None:
        """Unit, or longest side in mm, as the user says; None where the user gave up."""
        if error.rough is not None:
            return self._dialogs.size_of(path, error.rough)
        unit = self._dialogs.unit_of(path)
        return None if unit is None else (unit, None)

    def _reading(self, path: Path, work: Callable[[Progress], T]) -> T | None:
        """What ``work`` reads from the file, beside the window; None where the user stopped it."""
        from app.importing import named

        with named(path):
            return self._dialogs.working(tr("Reading “{name}”", name=path.name), work)

    def _add(self, path: Path, imported: Imported) -> None:
        pieces = self.add(imported.patches)
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

    def _begin(
        self,
        plan: Plan,
        path: Path | None = None,
        lock: Lock | None = None,
        before: str | None = None,
        *,
        saved: bool = True,
    ) -> None:
        """Work on ``plan`` from now on; it belongs to the file at ``path``, which held ``before``."""
        if lock is not self._lock:
            self.release()
            self._lock = lock
        self._read_only = "" if path is None or lock is None else _why_not(path, lock)
        self._fingerprint = before
        self._session.open(plan, path, saved=saved)
        self.opened.emit()
        if self._read_only:
            self.noted.emit(self._read_only)

    def _reach(self, path: Path) -> Lock:
        """The lock of the plan at ``path``; ours where nobody else has it."""
        lock = plan_lock(path)
        if self._lock is not None and self._lock.is_mine and self._lock.path == lock.path:
            return self._lock
        lock.take()
        return lock

    def _let_go(self, lock: Lock) -> None:
        """Of a plan that is not worked on after all."""
        if lock is not self._lock:
            lock.release()

    def _write(self, path: Path) -> bool:
        """To ``path``, or where that fails to another place, for as long as one is given."""
        while True:
            try:
                return self._written(path)
            except WedgewrightError as error:
                other = self._dialogs.plan_elsewhere(str(error), self._session.plan.title, path)
            if other is None:
                return False
            path = other

    def _written(self, path: Path) -> bool:
        """False where the user gave it up. Raises ``WedgewrightError``; ``path`` then holds what it held."""
        lock = self._reach(path)
        if not lock.is_mine and lock.is_held:
            raise held(path, lock)
        # Where no lock can be made nothing can be written either, and writing says why.
        try:
            if self._is_own(path) and self._changed_since(path):
                match self._dialogs.overwrites(path.name):
                    case Overwrite.CANCEL:
                        return False
                    case Overwrite.ELSEWHERE:
                        other = self._dialogs.where_to_save(self._session.plan.title, path)
                        return other is not None and self._write(other)
            self.keep_first()
            plan = self._session.history.committed
            self._fingerprint = write_plan(path, plan)
            if lock is not self._lock:
                self.release()
                self._lock = lock
        finally:
            self._let_go(lock)
        self._read_only = ""
        self._session.saved_as(path, plan)
        self._remember(path)
        return True

    def _is_own(self, path: Path) -> bool:
        own = self._session.path
        return own is not None and os.path.realpath(own) == os.path.realpath(path)

    def _changed_since(self, path: Path) -> bool:
        now = fingerprint(path)
        return now is not None and now != self._fingerprint

    def _remember(self, path: Path) -> None:
        remember_plan(path)
        self.recent_changed.emit()

    @staticmethod
    def recent() -> list[Path]:
        """The plans that were worked on last."""
        return recent_plans()


def local_path(url: QUrl) -> Path:
    """The file that a local ``url`` means; Qt alone spoils names that are no UTF-8."""
    name = url.toLocalFile()
    if "\ufffd" in name and os.name == "posix":
        name = os.fsdecode(unquote_to_bytes(url.path(QUrl.ComponentFormattingOption.FullyEncoded)))
    return Path(name)


def _why_not(path: Path, lock: Lock) -> str:
    """Why the file at ``path`` cannot be replaced; empty where it can, or is not there."""
    if not lock.is_mine and lock.is_held:
        return tr(
            "“{name}” is open in another window ({holder}). You can look at it and try things here; "
            "save them as another plan",
            name=path.name,
            holder=lock.holder,
        )
    by = os.access in os.supports_effective_ids
    if not path.exists() or all(
        os.access(each, os.W_OK, effective_ids=by) for each in (path, Path(os.path.realpath(path)).parent)
    ):
        return ""
    return tr(
        "“{name}” is write-protected. You can look at it and try things here; save them as another plan",
        name=path.name,
    )
