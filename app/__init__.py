"""Wedgewright: everything around the engine."""

__version__ = "0.1.0"
