"""``python -m tests.race [--count N]``: two processes save one plan. Exit status 1 where a save is lost."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

from tests.race.races import PROCESSES, TRIES, race


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.race")
    parser.add_argument("--count", type=int, default=200)
    asked = parser.parse_args()
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        told = race(asked.count, Path(name))
    words = ", ".join(f"{often} {what}" for what, often in told.outcomes.most_common())
    print(f"{told.races} races of {PROCESSES} processes, {TRIES} tries each: {words}")
    print(f"{told.lost} lost updates, {time.monotonic() - begun:.0f} s")
    return 1 if told.lost else 0


if __name__ == "__main__":
    sys.exit(main())
