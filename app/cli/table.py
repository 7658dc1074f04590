"""A fit as a table that a person can read."""

from __future__ import annotations

import io
import shutil
import sys
from collections.abc import Callable, Iterable, Sequence
from math import degrees

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from app.report import FittedPatch
from app.sketch.translate import tr, tr_n
from app.sketch.wording import finding_text, level_word, verdict
from geometry import Fit
from geometry.findings import Level
from geometry.types import Point
from geometry.units import LengthStyle, format_length

_NO_TERMINAL = 1000  # columns: what goes into a file is not wrapped
_LOOKS = {Level.PROBLEM: "bold red", Level.CAUTION: "yellow", Level.NOTE: "blue"}


def table(fitted: Sequence[FittedPatch], style: LengthStyle) -> str:
    """Per patch its wedges, findings and totals."""

    def show(console: Console) -> None:
        for each in fitted:
            _show(console, each, style)
        if len(fitted) > 1 or any(each.repeats > 1 for each in fitted):
            count = sum(each.repeats for each in fitted)
            console.print(bold(tr_n("The patch", "All {count} patches, repeats counted", count)))
            console.print(_totals(fitted, style))

    return printed(show)


def printed(show: Callable[[Console], None]) -> str:
    """What ``show`` prints; coloured and wrapped for a terminal only."""
    # Not straight to standard output: whoever writes the text there also answers for a closed pipe.
    terminal = sys.stdout is not None and sys.stdout.isatty()
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    page = io.TextIOWrapper(io.BytesIO(), encoding, errors="replace", newline="\n", write_through=True)
    console = Console(
        file=page,
        force_terminal=terminal,
        width=shutil.get_terminal_size().columns if terminal else _NO_TERMINAL,
        highlight=False,
        markup=False,
        emoji=False,
    )
    show(console)
    page.seek(0)
    # Columns end in blanks that only a terminal's background would show.
    return "".join(f"{line.rstrip()}\n" for line in page.read().splitlines())


def _show(console: Console, fitted: FittedPatch, style: LengthStyle) -> None:
    fit = fitted.fit
    console.print(bold(printable(fitted.name)))
    anchors = tr(" and ").join(place(anchor, style) for anchor in fit.anchors)
    console.print(tr("Anchor {place}", place=anchors))
    if any(fan.wedges for fan in fit.fans):
        console.print(_wedges(fit, style))
    else:
        console.print()
    findings = Table.grid(padding=(0, 2))
    for finding in fit.findings:
        findings.add_row(
            Text(level_word(finding.level), _LOOKS[finding.level]),
            printable(finding_text(finding, fit, style)),
        )
    if fit.findings:
        console.print(findings)
    console.print(bold(verdict(fit)))
    console.print(_totals([FittedPatch(fitted.name, fit)], style))
    console.print()


def _wedges(fit: Fit, style: LengthStyle) -> Table:
    worst_last = sorted(fit.findings, key=lambda finding: list(_LOOKS).index(finding.level), reverse=True)
    found = {finding.wedge: finding.level for finding in worst_last}
    wedges = Table(box=SIMPLE_HEAD, pad_edge=False)
    for heading in ("Wedge", "Side", "Across", "Angle"):
        wedges.add_column(tr(heading), justify="right")
    wedges.add_column(tr("Marks"))
    wedges.add_column("")
    for fan in fit.fans:
        for wedge in fan.wedges:
            level = found.get(wedge.number)
            wedges.add_row(
                str(wedge.number),
                format_length(wedge.side_length, style),
                format_length(wedge.across, style),
                f"{degrees(wedge.apex_angle):.1f}°",
                "–".join(wedge.span),
                Text(level_word(level), _LOOKS[level]) if level else "",
            )
    return wedges


def _totals(fitted: Iterable[FittedPatch], style: LengthStyle) -> str:
    """One line; each fit times its repeats."""
    fitted = list(fitted)
    wedges = sum(len(fan.wedges) * each.repeats for each in fitted for fan in each.fit.fans)
    stitches = sum(each.fit.totals.stitches * each.repeats for each in fitted)

    def length(name: str) -> str:
        return format_length(sum(getattr(each.fit.totals, name) * each.repeats for each in fitted), style)

    minutes = sum(each.fit.totals.minutes * each.repeats for each in fitted)
    return ", ".join(
        (
            tr_n("{count} wedge", "{count} wedges", wedges),
            tr("{length} stitched", length=length("stitched")),
            tr_n("{count} stitch", "{count} stitches", stitches),
            tr(
                "thread {top} top and {bobbin} bobbin",
                top=length("top_thread"),
                bobbin=length("bobbin_thread"),
            ),
            tr("{minutes} min", minutes=f"{minutes:.0f}"),
        )
    )


def place(point: Point, style: LengthStyle) -> str:
    """x and y as lengths."""
    return ", ".join(format_length(value, style) for value in point)


def bold(text: str) -> Text:
    """A heading."""
    return Text(text, "bold")


def printable(text: str) -> str:
    """Without what would move a terminal's cursor: names come from files."""
    return "".join(character if character.isprintable() else "?" for character in text)
