"""Sessions killed at random moments, and what is then on disk; ``python -m tests.kill`` prints the counts."""
