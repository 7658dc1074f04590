"""What a template shows, and writing it to a file of any kind that is known. No Qt at import."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeAlias

from app.exporting.options import TemplateKind
from app.exporting.sheets import Paper, paper_named
from app.plan.atomic import atomic_write
from app.sketch.display_list import Show
from geometry.errors import WedgewrightError
from geometry.fit import Fit
from geometry.units import LengthStyle


class ExportError(WedgewrightError):
    """A template that cannot be written so."""


NamedFit: TypeAlias = tuple[str, Fit]
"""The name of a patch, and its fit."""

Progress: TypeAlias = Callable[[int, int], None]
"""Called with how much is done, and of how much."""


def shown(kind: TemplateKind) -> Show:
    """What of a fit is on a template; the cloth is the paper itself."""
    lines = kind is not TemplateKind.MARKS
    marks = kind is not TemplateKind.LINES
    return Show(
        cloth=False,
        stitches=lines,
        echoes=lines,
        travel=lines,
        numbers=lines,
        marks=marks,
        mark_names=marks,
    )


def write_template(
    path: Path,
    fits: Sequence[NamedFit],
    *,
    paper: Paper | str | None = None,
    kind: TemplateKind | str = TemplateKind.BOTH,
    style: LengthStyle = LengthStyle.EIGHTHS,
    progress: Progress | None = None,
) -> None:
    """Write the true-size template of ``fits`` as the ending of ``path`` says: .pdf, .svg or .png.

    ``paper`` is for PDF only; None is what the user's country prints on. The file is written whole or not at
    all. Raises ``ExportError`` for another ending, or where there is nothing to write, ``PaperError``, and
    ``WriteError``.
    """
    path = Path(path)
    if not fits:
        raise ExportError("there is no patch to print", where=f"“{path.name}”", do="choose at least one")
    kind = TemplateKind(kind)
    paper = paper_named(paper) if isinstance(paper, str) else paper
    match path.suffix.lower():
        case ".pdf":
            from app.exporting.pdf import template_pdf

            data = template_pdf(fits, paper, kind, style, progress)
        case ".svg":
            from app.exporting.svg import template_svg

            data = template_svg(fits, kind, style).encode("utf-8")
        case ".png":
            from app.exporting.png import template_png

            data = template_png(fits, kind, style)
        case ending:
            what = f"{ending} files cannot be written" if ending else "the name has no ending"
            raise ExportError(what, where=f"“{path.name}”", do="end the name in .pdf, .svg or .png")
    atomic_write(path, data)
