"""The one undo stack: which plan is there now, which were before, and what was undone. No Qt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from app.plan.model import Plan
from app.sketch.changes import Change


@dataclass(frozen=True, slots=True)
class _Drag:
    name: str
    start: Plan


class History:
    """Holds the plan and every step that led to it.

    A drag is one step: ``begin``, any number of ``preview``, then ``commit``, or ``cancel``, which leaves
    plan, steps and redo as they were at ``begin``. Listeners are called without arguments after everything
    that changes the plan, the names or whether it is saved.
    """

    def __init__(self, plan: Plan, *, saved: bool = True) -> None:
        self._plan = plan
        self._saved: Plan | None = plan if saved else None
        self._done: list[Change] = []
        self._undone: list[Change] = []
        self._drag: _Drag | None = None
        self._sealed = True
        self._listeners: list[Callable[[], None]] = []

    @property
    def plan(self) -> Plan:
        """The plan as it is to be shown; during a drag, its latest preview."""
        return self._plan

    @property
    def committed(self) -> Plan:
        """The plan without a drag that is under way: what a save or a recovery writes."""
        return self._drag.start if self._drag else self._plan

    @property
    def undo_name(self) -> str | None:
        """Name of the step that ``undo`` takes back, or None."""
        return self._done[-1].name if self._done else None

    @property
    def redo_name(self) -> str | None:
        """Name of the step that ``redo`` does again, or None."""
        return self._undone[-1].name if self._undone else None

    @property
    def in_drag(self) -> bool:
        """Whether a drag is under way."""
        return self._drag is not None

    @property
    def is_clean(self) -> bool:
        """Whether the plan is the one that was saved, by its content: a change that was made good is none."""
        return self.committed == self._saved

    def mark_clean(self, saved: Plan | None = None) -> None:
        """Remember ``saved`` (the present plan where None) as what the file holds."""
        self._saved = self.committed if saved is None else saved
        self._sealed = True  # a later change must not melt into a step that was saved
        self._tell()

    def push(self, change: Change) -> None:
        """Do ``change``, which must start from ``plan``; redo is lost. One that changes nothing is no step.

        A drag that is under way is committed first. Raises ``ValueError`` where the change starts elsewhere.
        """
        if change.before != self._plan:
            raise ValueError(f"the change “{change.name}” starts from another plan than the present one")
        self.commit()
        if change.after == change.before:
            return
        self._step(change)
        self._tell()

    def seal(self) -> None:
        """Let the next change be a step of its own, even with the same merge key (the field was left)."""
        self._sealed = True

    def undo(self) -> bool:
        """Take the last step back. During a drag: cancel that instead. False where there is nothing."""
        if self._drag:
            self.cancel()
            return True
        return self._shift(self._done, self._undone, lambda change: change.before)

    def redo(self) -> bool:
        """Do again what was undone last. During a drag: cancel that instead. False where there is nothing."""
        if self._drag:
            self.cancel()
            return True
        return self._shift(self._undone, self._done, lambda change: change.after)

    def begin(self, name: str) -> None:
        """Start a drag, to be one step called ``name``. One that was left hanging is committed."""
        self.commit()
        self._drag = _Drag(name, self._plan)

    def preview(self, plan: Plan) -> None:
        """Show ``plan`` while the drag goes on. Raises ``ValueError`` outside a drag."""
        if self._drag is None:
            raise ValueError("a preview needs a drag: call begin first")
        if plan is not self._plan:
            self._plan = plan
            self._tell()

    def commit(self) -> None:
        """End the drag, if one is under way, and make it a step, if it changed anything."""
        if self._drag is None:
            return
        drag, self._drag = self._drag, None
        if self._plan != drag.start:
            self._step(Change(drag.name, drag.start, self._plan))
        else:
            self._plan = drag.start
        self._tell()

    def cancel(self) -> None:
        """End the drag, if one is under way, as if it had not begun."""
        if self._drag is None:
            return
        self._plan = self._drag.start
        self._drag = None
        self._tell()

    def listen(self, listener: Callable[[], None]) -> Callable[[], None]:
        """Call ``listener`` after every change; the answer is the function that ends it."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener)

    def _step(self, change: Change) -> None:
        last = self._done[-1] if self._done else None
        if last and not self._sealed and change.merge_key is not None and change.merge_key == last.merge_key:
            self._done.pop()
            change = replace(change, before=last.before)
        if change.after != change.before:  # spun there and back: no step is left
            self._done.append(change)
        self._undone.clear()
        self._plan = change.after
        self._sealed = False

    def _shift(self, source: list[Change], target: list[Change], plan_of: Callable[[Change], Plan]) -> bool:
        if not source:
            return False
        change = source.pop()
        target.append(change)
        self._plan = plan_of(change)
        self._sealed = True
        self._tell()
        return True

    def _tell(self) -> None:
        for listener in tuple(self._listeners):
            listener()
