"""From a call to the anchors that it may try, and to their JSON."""

from __future__ import annotations

from typing import Any, NamedTuple

from app.cli.arguments import Call
from app.cli.progress import told
from app.cli.tasks import asked_for, placed
from app.report import rounded
from app.sketch.anchor_words import looking_words, suggestion_words
from geometry.anchors import Suggestion, suggest
from geometry.units import LengthStyle

VERSION = 1


class Suggested(NamedTuple):
    """What a call gets: per patch its name and its suggestions, best first."""

    patches: tuple[tuple[str, tuple[Suggestion, ...]], ...]
    style: LengthStyle
    notes: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """True where every patch has an anchor without a problem."""
        return all(any(not each.problems for each in found) for _, found in self.patches)

    def report(self) -> dict[str, Any]:
        """JSON-ready; millimetres, rounded to 1e-6."""
        return {
            "wedgewright-anchors": VERSION,
            "unit": "mm",
            "patches": [
                {"name": name, "anchors": [_plain(each) for each in found]} for name, found in self.patches
            ],
        }


def suggested(call: Call) -> Suggested:
    """Suggest anchors for the call's patches. Raises ``WedgewrightError`` saying where it failed."""
    content = asked_for(call)
    found = []
    for task in content.tasks:
        with placed(task.place), told(looking_words) as went_on:
            found.append((task.name, suggest(task.patch, task.settings, progress=went_on)))
    return Suggested(tuple(found), content.style, content.notes)


def _plain(suggestion: Suggestion) -> dict[str, Any]:
    score = suggestion.score
    return {
        "names": list(suggestion.names),
        "text": suggestion_words(suggestion),
        "at": [rounded(value) for value in suggestion.anchor],
        "score": rounded(score.total),
        "score_parts": {
            "sight": rounded(score.sight),
            "soundness": rounded(score.soundness),
            "width": rounded(score.width),
        },
        "share_in_sight": rounded(suggestion.share),
        "narrowest": rounded(suggestion.narrowest),
        "problems": suggestion.problems,
    }
