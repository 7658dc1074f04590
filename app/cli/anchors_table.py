"""Suggested anchors as a table that a person can read."""

from __future__ import annotations

import math

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table

from app.cli.anchors_task import Suggested
from app.cli.table import bold, place, printable, printed
from app.sketch.anchor_words import suggestion_words
from app.sketch.translate import tr
from geometry.anchors import Suggestion
from geometry.units import LengthStyle, format_length


def anchors_table(found: Suggested) -> str:
    """Per patch its suggestions, best first, with what makes up the score of each."""

    def show(console: Console) -> None:
        for name, suggestions in found.patches:
            console.print(bold(printable(name)))
            if suggestions:
                console.print(_table(suggestions, found.style))
            else:
                console.print(tr("No room to stitch within the edge margin; a narrower one may leave some."))
                console.print()
        console.print(
            tr(
                "Score, of 100: up to 60 for the share in sight, 25 without a problem (the more, the less), "
                "15 for a narrowest wedge of four visible widths."
            )
        )

    return printed(show)


def _table(suggestions: tuple[Suggestion, ...], style: LengthStyle) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    table.add_column(tr("Anchor"))
    table.add_column(tr("Place"))
    for heading in ("In sight", "Problems", "Narrowest", "Score", "Sight", "Sound", "Width"):
        table.add_column(tr(heading), justify="right")
    for each in suggestions:
        score = each.score
        table.add_row(
            suggestion_words(each),
            place(each.anchor, style),
            # Rounded down: 100 % is said only where nothing is hidden.
            f"{math.floor(each.share * 1000 + 1e-9) / 10:.1f} %",
            str(each.problems),
            format_length(each.narrowest, style),
            *(f"{value:.1f}" for value in (score.total, score.sight, score.soundness, score.width)),
        )
    return table
