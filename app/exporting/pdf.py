"""Template -> PDF, vector and true size, on sheets of paper that are laid onto each other."""

from __future__ import annotations

from collections.abc import Sequence

from app.exporting.options import STANDARD, TemplateOptions
from app.exporting.paged import as_pdf
from app.exporting.print_job import PrintJob
from app.exporting.template import NamedFit, Progress, part_of
from geometry.units import LengthStyle


def template_pdf(
    fits: Sequence[NamedFit],
    options: TemplateOptions = STANDARD,
    style: LengthStyle = LengthStyle.EIGHTHS,
    progress: Progress | None = None,
) -> bytes:
    """The bytes of the PDF: the sheets of one patch after those of another.

    ``progress`` is called for each patch and each sheet; what it raises ends the work.
    """
    job = PrintJob.of(fits, options, style, part_of(progress, 0.0, 0.5))
    return as_pdf(job, job.title, part_of(progress, 0.5, 1.0))
