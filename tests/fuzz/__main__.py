"""``python -m tests.fuzz [--importer svg|dxf|text|wkt|tape|plan|photo|all] [--count N] [--seed S]``

Damages sound files, gives each to its importer, and prints what became of them. What escapes is written,
made small, to tests/fuzz/crashers. Exit status: 1 where something did.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

from tests.fuzz.judge import keep, mutant, run
from tests.fuzz.seeds import IMPORTERS, LONG


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz")
    parser.add_argument("--importer", choices=(*IMPORTERS, "all"), default="all")
    parser.add_argument("--count", type=int, default=2000, help="mutations of each (default: 2000)")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--largest", type=int, default=LONG, help="bytes of the largest file that is damaged")
    parser.add_argument("--seconds", type=float, help="stop each importer after so long")
    parser.add_argument("--no-keep", action="store_true", help="write no crashers")
    asked = parser.parse_args()
    escaped = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for importer in IMPORTERS if asked.importer == "all" else (asked.importer,):
            until = None if asked.seconds is None else time.monotonic() + asked.seconds
            done = run(importer, asked.count, folder, seed=asked.seed, largest=asked.largest, until=until)
            escaped += done.escaped
            print(
                f"{importer:6} {done.done:7} mutations, {done.read} read, "
                f"{done.escaped} escapes of {len(done.escapes)} kinds, "
                f"{done.seconds:.0f} s, {1000 * done.seconds / max(done.done, 1):.2f} ms each",
                flush=True,
            )
            for kind, (often, first, words) in sorted(done.escapes.items()):
                print(f"    {often:5} x {kind}; first is number {first}: {words.strip()}", flush=True)
                if not asked.no_keep:
                    data, variant = mutant(importer, asked.seed, first, asked.largest)
                    print(f"          {keep(importer, data, variant, kind, folder).name}", flush=True)
    return 1 if escaped else 0


if __name__ == "__main__":
    sys.exit(main())
