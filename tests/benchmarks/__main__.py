"""``python -m tests.benchmarks``: the budgets of the design page's section 9, each beside its reference.

No screen is needed. ``--short`` for a look only; ``python -m tests.benchmarks.test_drag`` has the drags.
"""

from __future__ import annotations

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # read when numpy is imported

import argparse


def main() -> None:
    """Print each line as soon as it is known."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--short", action="store_true", help="few rounds, for a look only")
    short = parser.parse_args().short

    from tests.benchmarks import engine, program, saving
    from tests.benchmarks.table import HEAD, line

    print(HEAD, flush=True)
    for part in (engine, program, saving):
        for row in part.rows(short):
            print(line(row), flush=True)


if __name__ == "__main__":
    main()
