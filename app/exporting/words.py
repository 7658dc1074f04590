"""The words on a template's sheets. No Qt."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from app.exporting.sheets import Sheet, Sheets
from app.sketch.palette import TextSize
from app.sketch.translate import tr, tr_n
from app.sketch.wording import verdict
from geometry.fit import Fit
from geometry.settings import Settings
from geometry.units import LengthStyle, format_length

_LONGEST_NAME = 80  # characters; a name may have any length, a sheet has not


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph of a sheet."""

    text: str
    size: TextSize
    bold: bool = False
    weight: int = 0
    """Where there is no room for all, the paragraphs of the least weight are left out first."""


def page_words(
    name: str,
    fit: Fit,
    sheets: Sheets,
    sheet: Sheet,
    style: LengthStyle,
    *,
    mirrored: bool = False,
    copy: tuple[int, int] = (1, 1),
    bare: bool = False,
) -> list[Paragraph]:
    """What stands on a sheet that is one patch's alone, in order.

    ``copy``: which, and of how many. ``bare``: whether nothing of the template is on the sheet.
    """
    figures = tr(
        "{verdict}. {settings}", verdict=_capital(verdict(fit)), settings=_settings(fit.settings, style)
    )
    return [
        Paragraph(short_name(name), TextSize.LARGE, bold=True, weight=5),
        *_side(mirrored),
        Paragraph(_position(sheets, sheet, copy), TextSize.BASE, weight=5),
        Paragraph(_check(), TextSize.BASE, weight=4),
        *_how_to_join(sheets, bare),
        Paragraph(figures, TextSize.SMALL, weight=1),
        Paragraph(_cautions(), TextSize.SMALL, weight=3),
    ]


def shared_words(names: Sequence[str], *, mirrored: bool = False) -> list[Paragraph]:
    """What stands on a sheet that patches share; ``names`` are theirs, each as often as it is there."""
    counts = Counter(map(short_name, names))
    listed = ", ".join(
        tr("{count}\u00a0× {name}", count=count, name=name) if count > 1 else name
        for name, count in counts.items()
    )
    return [
        Paragraph(tr_n("{count} template", "{count} templates", len(names)), TextSize.LARGE, True, 5),
        *_side(mirrored),
        Paragraph(_check(), TextSize.BASE, weight=4),
        Paragraph(listed, TextSize.BASE, weight=1),
        Paragraph(_cautions(), TextSize.SMALL, weight=3),
    ]


def _side(mirrored: bool) -> list[Paragraph]:
    if not mirrored:
        return []
    return [Paragraph(tr("Mirrored, to mark from the back"), TextSize.BASE, bold=True, weight=5)]


def _check() -> str:
    return tr("Print at 100 %, no fitting to the page. Check both squares with a ruler before marking.")


def _cautions() -> str:
    return tr(
        "Rotary blades cut: close them. Keep fingers and ruler clear of the needle. "
        "Your machine's manual comes first."
    )


def _position(sheets: Sheets, sheet: Sheet, copy: tuple[int, int]) -> str:
    if len(sheets.sheets) == 1:
        words = tr("row 1, column 1 of 1\u00a0×\u00a01: the only sheet")
    else:
        words = tr(
            "row {row}, column {column} of {rows}\u00a0×\u00a0{columns}",
            row=sheet.row,
            column=sheet.column,
            rows=sheets.rows,
            columns=sheets.columns,
        )
    if copy[1] == 1:
        return words
    return tr("{place}; copy {number} of {count}", place=words, number=copy[0], count=copy[1])


def _how_to_join(sheets: Sheets, bare: bool) -> list[Paragraph]:
    if len(sheets.sheets) == 1:
        return []
    words = [Paragraph(tr("Lay crosses of the same name onto each other."), TextSize.SMALL, weight=2)]
    if bare:
        what = tr("Nothing is drawn on this sheet: it holds the others in their places.")
        words.append(Paragraph(what, TextSize.SMALL, weight=4))
    return words


def short_name(name: str) -> str:
    """The name of a patch on one line."""
    line = " ".join("".join(c if c.isprintable() else " " for c in name).split())
    return line if len(line) <= _LONGEST_NAME else line[: _LONGEST_NAME - 1].rstrip() + "…"


def _settings(settings: Settings, style: LengthStyle) -> str:
    """The settings that shape the lines, in the user's units."""

    def length(mm: float) -> str:
        return format_length(mm, style)

    words = [
        tr("edge margin {length}", length=length(settings.edge_margin)),
        tr("gap {length}", length=length(settings.gap)),
        tr("visible width {length}", length=length(settings.visible_width)),
        tr_n("{count} span a side", "{count} spans a side", settings.spans_per_side),
    ]
    if settings.longest_span:
        words.append(tr("longest span {length}", length=length(settings.longest_span)))
    if settings.hold_back:
        words.append(tr("hold-back {length}", length=length(settings.hold_back)))
    if settings.stagger:
        words.append(tr("stagger {length}", length=length(settings.stagger)))
    if settings.echo_count:
        echoes = tr_n("{count} echo", "{count} echoes", settings.echo_count)
        words.append(tr("{echoes} {length} apart", echoes=echoes, length=length(settings.echo_spacing)))
    return _capital(", ".join(words)) + "."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
