"""Exporters: the display list on sheets of paper, as PDF, SVG or a picture."""
