"""Exporters: the display list on sheets of paper, as PDF, SVG or a picture."""

from app.exporting.template import ExportError, TemplateKind, write_template

__all__ = ["ExportError", "TemplateKind", "write_template"]
