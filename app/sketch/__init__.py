"""View logic without Qt: changes and their undo, wording, display list, zoom, modes."""
