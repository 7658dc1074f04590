"""``python -m tests.exceptions [--count N] [--seed N] [--seconds S]``: errors put in, and what they lost.

Exit status 1 where work is lost, is not kept before that is told, or does not go on.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

from tests.exceptions.slip_points import install


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.exceptions")
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--seconds", type=float, help="stop after so long")
    parser.add_argument("--places", action="store_true", help="say which places")
    asked = parser.parse_args()
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    install()
    from tests.exceptions.judge import inject

    begun = time.monotonic()
    until = None if asked.seconds is None else begun + asked.seconds
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        tally = inject(asked.count, Path(name), asked.seed, until)
    if asked.places:
        print("".join(f"    {often} in {place}\n" for place, often in sorted(tally.places.items())), end="")
    print(
        f"{tally.injected} injected in {len(tally.places)} places of {tally.reached} reached, "
        f"{time.monotonic() - begun:.0f} s"
    )
    print(f"{tally.saved} with nothing unsaved, {tally.unheard} dropped by PySide")
    print(f"{len(tally.lost)} lost, {len(tally.broken)} broken")
    print("".join(f"    {line}\n" for line in (*tally.lost, *tally.broken)[:40]), end="")
    return 1 if tally.lost or tally.broken else 0


if __name__ == "__main__":
    sys.exit(main())
