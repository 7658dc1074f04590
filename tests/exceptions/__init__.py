"""Errors put in wherever Qt or a thread calls us; ``python -m tests.exceptions`` prints the counts."""
