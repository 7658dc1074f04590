"""``python -m tests.fault``: faults injected into every writer, counted. Exit status 1 where one shows."""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from PySide6.QtWidgets import QApplication

from tests.fault.faults import ALL, RECIPES, by_limit, by_strace, outcomes


def main() -> int:
    application = QApplication.instance() or QApplication([])
    bad = 0
    with tempfile.TemporaryDirectory() as name:
        for writer in ALL:
            folder = Path(name) / writer.replace(" ", "-")
            folder.mkdir()
            counts, broken = outcomes(writer, folder)
            bad += len(broken)
            told = ", ".join(f"{often} {what}" for what, often in sorted(counts.items()))
            print(f"{writer:17}{sum(counts.values()):5} faults: {told}; {len(broken)} broken", flush=True)
            print("".join(f"    {line}\n" for line in broken), end="")
        folder = Path(name) / "limit"
        folder.mkdir()
        print(f"{'no larger files':32}{by_limit(folder)}")
        for number, recipe in enumerate(RECIPES if shutil.which("strace") else ()):
            folder = Path(name) / f"strace-{number}"
            folder.mkdir()
            state, said = by_strace(recipe, folder)
            bad += state == "mixture" or (said == "saved" and state != "new")
            print(f"{recipe:32}{state}: {said}", flush=True)
    del application
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
