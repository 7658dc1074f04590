"""``python -m tests.kill [--count N] [--seconds S]``: sessions killed at random, and what that lost, counted.

Exit status 1 where something is unreadable, more than a second of changes is lost, or anything is left over.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

from tests.kill.judge import WITHIN, kill


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.kill")
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--seconds", type=float, help="stop after so long")
    asked = parser.parse_args()
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    until = None if asked.seconds is None else time.monotonic() + asked.seconds
    begun = time.monotonic()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        tally = kill(asked.count, Path(name), asked.seed, until)
    late = [age for age in tally.losses if age > WITHIN]
    print(f"{tally.kills} kills in {time.monotonic() - begun:.0f} s, {tally.changes} changes made")
    print("killed after: " + ", ".join(f"{what} {often}" for what, often in tally.moments.most_common()))
    print(
        f"a copy held more than the file: {tally.recovered}; half-done files cleared: {tally.strays}; "
        f"asked before a save: {tally.asked}"
    )
    oldest = max(tally.losses, default=0.0)
    print(f"oldest change lost: {oldest:.2f} s before its kill; over {WITHIN:g} s: {len(late)} kills")
    print(f"{len(tally.broken)} broken")
    print("".join(f"    {line}\n" for line in tally.broken[:40]), end="")
    return 1 if tally.broken or late else 0


if __name__ == "__main__":
    sys.exit(main())
