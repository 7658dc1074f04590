from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from types import SimpleNamespace

import pytest

from app.exporting import ExportError, TemplateKind, TemplateOptions, qt, write_template
from app.exporting.cards import CardPatch, write_card
from app.exporting.sheets import PAPERS
from app.plan.atomic import WriteError
from geometry.units import LengthStyle
from tests.app.calls import Run
from tests.app.exporting.pdf_reading import pages_of
from tests.app.exporting.samples import square

SMALL = [("Kite", square(76.2))]


@pytest.mark.parametrize(
    ("ending", "start"),
    [
        (".pdf", b"%PDF-"),
        (".PDF", b"%PDF-"),
        (".svg", b"<?xml "),
        (".dxf", b"  0\nSECTION\n"),
        (".png", b"\x89PNG\r\n\x1a\n"),
    ],
)
def test_the_ending_says_what_is_written(tmp_path: Path, ending: str, start: bytes) -> None:
    path = tmp_path / f"tem plate ü{ending}"
    write_template(path, SMALL)
    assert path.read_bytes().startswith(start)
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        (
            "out.docx",
            r"^“out.docx”: .docx files cannot be written; end the name in .pdf, .svg, .dxf or .png$",
        ),
        ("out", r"^“out”: the name has no ending; end the name in"),
    ],
)
def test_other_endings_are_refused_and_nothing_is_written(tmp_path: Path, name: str, words: str) -> None:
    with pytest.raises(ExportError, match=words):
        write_template(tmp_path / name, SMALL)
    assert list(tmp_path.iterdir()) == []


def test_a_cutter_is_given_svg_or_dxf(tmp_path: Path) -> None:
    options = TemplateOptions(cutter=True)
    for name in ("out.pdf", "out.png", "out"):
        with pytest.raises(
            ExportError, match=rf"^“{name}”: a stencil cutter is given .dxf or .svg here; end the"
        ):
            write_template(tmp_path / name, SMALL, options)
    write_template(tmp_path / "cut.svg", SMALL, options)
    write_template(tmp_path / "picture.svg", SMALL)
    texts = [(tmp_path / f"{name}.svg").read_text("utf-8") for name in ("cut", "picture")]
    assert ["<text" in text for text in texts] == [False, True]


def test_nothing_to_print_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="no patch to print"):
        write_template(tmp_path / "out.pdf", [])


@pytest.mark.parametrize("ending", [".pdf", ".svg", ".png"])
def test_no_copy_is_refused(tmp_path: Path, ending: str) -> None:
    with pytest.raises(ExportError, match="copies: 0 copies are none; give 1 or more"):
        write_template(tmp_path / f"out{ending}", SMALL, TemplateOptions(copies=0))
    assert list(tmp_path.iterdir()) == []


def test_paper_kind_and_style_reach_the_page(tmp_path: Path) -> None:
    path = tmp_path / "out.pdf"
    write_template(
        path, SMALL, TemplateOptions(paper=PAPERS["a3"], kind=TemplateKind.MARKS), style=LengthStyle.MM
    )
    (page,) = pages_of(path.read_bytes())
    assert page.width == pytest.approx(297, abs=0.2)
    assert "6.4 mm" in page.text
    assert not any(word == "1" and y < 250 for word, _, y in page.words)  # no wedge, no number
    write_template(path, SMALL, TemplateOptions(paper=PAPERS["letter"], kind=TemplateKind.LINES))
    (page,) = pages_of(path.read_bytes())
    assert page.width == pytest.approx(215.9, abs=0.2)


def test_what_stands_there_is_kept_where_the_work_stops(tmp_path: Path) -> None:
    path = tmp_path / "out.pdf"
    path.write_bytes(b"older")

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_template(path, SMALL, progress=stop)
    assert path.read_bytes() == b"older"
    with pytest.raises(WriteError, match="folder"):
        write_template(tmp_path / "gone" / "out.pdf", SMALL)
    assert list(tmp_path.iterdir()) == [path]


def no_pi(_: object) -> SimpleNamespace:
    """Stands in for a machine whose fonts lack π; which ones a machine has is not for a test to say."""
    return SimpleNamespace(inFontUcs4=lambda letter: letter != ord("π"))


def test_a_name_that_no_font_has_the_letters_of_is_told_for_every_print(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Boxes would be printed. A drawing is read elsewhere, and a picture of a template has no names."""
    monkeypatch.setattr(qt, "QFontMetrics", no_pi)
    fits = [("Kite", square(50.8)), ("ππ and a bit", square(50.8))]
    words = "“ππ and a bit”: 1 letter is in no font of this machine, and a box is printed for it; "
    (told,) = write_template(tmp_path / "a.pdf", fits)
    assert told.startswith(words)
    assert "install a font" in told
    for ending in ("svg", "dxf", "png"):
        assert not write_template(tmp_path / f"a.{ending}", fits)
    assert not write_template(tmp_path / "a.pdf", fits[:1])
    card = CardPatch("Kite", square(50.8), tries=(("Tπ", square(50.8)),))
    assert write_card(tmp_path / "b.pdf", [card], kind="tries")[0].startswith("“Tπ”: 1 letter")
    assert not write_card(tmp_path / "b.pdf", [CardPatch("Kite", square(50.8))], kind="plan", title="Kites")
    assert write_card(tmp_path / "b.pdf", [CardPatch("Kite", square(50.8))], kind="plan", title="Kπ")
    assert not write_card(tmp_path / "b.pdf", [CardPatch("Kite", square(50.8))], kind="marking", title="Kπ")


def test_the_command_line_tells_it_in_one_line(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(qt, "QFontMetrics", no_pi)
    source = tmp_path / "patches.txt"
    source.write_text("unit: in\nname: π\n0 0\n4 0\n4 4\n0 4\n", encoding="utf-8")
    for call in (["template"], ["card", "--kind", "marking"]):
        status, _, err = run(*call, source, "-o", tmp_path / "out.pdf")
        assert (status, err.count("\n")) == (0, 1)
        assert "note: “π”: 1 letter is in no font of this machine" in err


@pytest.mark.skipif(not shutil.which("fc-list"), reason="fontconfig is on Linux")
@pytest.mark.parametrize("letter", "σ針한𓀀")
def test_a_letter_that_fontconfig_finds_in_no_font_is_told_and_plain_ones_are_not(letter: str) -> None:
    """Oracle: ``fc-list`` with the character, which asks no Qt. What it does find, Qt need not come upon."""
    call = ["fc-list", f":charset={ord(letter):x}", "family"]
    found = subprocess.run(call, capture_output=True, text=True, check=True).stdout.strip()
    assert qt.letters_missing([f"Pond {letter}"]) or found
    assert not qt.letters_missing(["Pond 2\u0301"])
