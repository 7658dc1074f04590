"""``python -m tests.pictures``: makes the README's pictures anew, from the sample plan.

Needs no screen. The font is the machine's, so the pictures differ a little from place to place.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pypdfium2
from PySide6.QtCore import QSettings
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

FOLDER = Path(__file__).parents[1] / "sample_shapes" / "pictures"
_SIZE = (1280, 800)
_LAID_OUT = 400
"""ms: by then everything has its size."""


def bench_pictures(folder: Path) -> None:
    """The bench as it opens, the sheets laid over the patch, and a patch with warnings in the dark."""
    from app.window import preferences
    from app.window.look import Appearance
    from app.window.start import open_bench
    from app.window.template_dialog import TemplateDialog

    application = QApplication.instance() or QApplication(["wedgewright"])
    assert isinstance(application, QApplication)
    bench = open_bench(application)
    bench.resize(*_SIZE)
    bench.show()
    QTest.qWait(_LAID_OUT)
    bench.settle()
    bench.grab().save(str(folder / "bench.png"))
    preferences.store_paper("letter")  # the same wherever the pictures are made
    dialog = TemplateDialog(bench.session, bench.dialogs, bench._look, bench)
    dialog.show()
    QTest.qWait(_LAID_OUT)
    dialog.grab().save(str(folder / "print.png"))
    dialog.close()
    names = [piece.name for piece in bench.session.plan.patches]
    bench.canvas.sentence = ""
    bench.session.choose(names.index("Lily ground"))
    bench._look.choose(Appearance.DARK)
    QTest.qWait(_LAID_OUT)
    bench.settle()
    bench.grab().save(str(folder / "warnings.png"))
    bench._look.choose(Appearance.LIGHT)
    bench.close()


def paper_pictures(folder: Path) -> None:
    """The first sheet of a template and a marking card, as the printer has them."""
    for name, call in (("sheet", ["template"]), ("card", ["card", "--kind", "marking"])):
        _first_page(call, folder / f"{name}.png")


def _first_page(call: list[str], picture: Path) -> None:
    from app.cli import main

    with tempfile.TemporaryDirectory() as place:
        pdf = Path(place) / "out.pdf"
        plan = FOLDER.parent / "lantern_pond.wedgeplan"
        status = main([*call, str(plan), "--patch", "Star kite", "--paper", "letter", "-o", str(pdf)])
        if not pdf.exists():
            raise SystemExit(f"nothing was written (exit {status})")
        document = pypdfium2.PdfDocument(pdf)
        document[0].render(scale=100 / 72).to_pil().save(picture, optimize=True)
        document.close()


def make(folder: Path) -> None:
    """All pictures."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as settings:
        # The user's own preferences are neither used nor changed.
        QSettings.setDefaultFormat(QSettings.Format.IniFormat)
        QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, settings)
        bench_pictures(folder)
        paper_pictures(folder)


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
