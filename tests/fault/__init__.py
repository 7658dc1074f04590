"""Every file call of every writer made to fail in turn; ``python -m tests.fault`` prints the counts."""
