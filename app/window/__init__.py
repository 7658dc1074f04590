"""The bench: thin Qt around the sketch layer."""
