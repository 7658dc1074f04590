"""Two processes that save the same plan at the same time; ``python -m tests.race`` prints the counts."""
