"""Damaged files by the thousand: whatever is given, it is read, or refused in one sentence.

``python -m tests.fuzz`` counts them; ``tests/fuzz/crashers`` keeps every one that ever got through, and the
suite reads them all again.
"""
