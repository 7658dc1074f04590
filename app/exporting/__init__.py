"""Exporters: the display list on sheets of paper, as PDF, SVG or a picture."""

from app.exporting.options import TemplateKind, TemplateOptions
from app.exporting.template import ExportError, write_template

__all__ = ["ExportError", "TemplateKind", "TemplateOptions", "write_template"]
