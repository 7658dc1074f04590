"""From a call to the card that it writes."""

from __future__ import annotations

from pathlib import Path

from app.cli.arguments import Call
from app.cli.tasks import Task, Work, asked_for, asked_paper, work
from app.exporting.cards import CardKind, CardPatch, write_card
from geometry import Fit, fit


def written(call: Call, target: Path) -> Work:
    """Write the card that the call asks for to ``target``. Raises ``WedgewrightError``."""
    content = asked_for(call)
    done = work(call, content)
    kind = CardKind(call.kind)
    patches = [
        CardPatch(each.name, each.fit, each.repeats, _tries(task) if kind is CardKind.TRIES else ())
        for each, task in zip(done.fitted, content.tasks, strict=True)
    ]
    title = content.title or Path(call.files[0]).stem
    told = write_card(target, patches, kind=kind, paper=asked_paper(call), style=done.style, title=title)
    return done._replace(notes=(*done.notes, *told))


def _tries(task: Task) -> tuple[tuple[str, Fit], ...]:
    """The fit of each try; as in the bench an anchor that a reshaped patch no longer holds slides to the
    seam."""
    return tuple(
        (kept.name, fit(task.patch, [task.patch.slide_into(each) for each in kept.anchors], kept.settings))
        for kept in task.tries
    )
