"""``wedgewright card``: what it writes, what it returns, what it says."""

from __future__ import annotations

from pathlib import Path

import pdfplumber
import pytest

from app.cli import arguments, main
from app.exporting.cards import CardKind
from app.plan.model import Plan, PlanPatch, Try
from app.plan.plan_file import write_plan
from geometry import Settings

INCH = 25.4
BLOCK = ((0.0, 0.0), (8 * INCH, 0.0), (8 * INCH, 8 * INCH), (0.0, 8 * INCH))
MIDDLE = ((4 * INCH, 4 * INCH),)


@pytest.fixture
def plan(tmp_path: Path, qapp: object) -> Path:
    kept = Try(name="Wide gap", anchors=((900.0, 4 * INCH),), settings=Settings(gap=12.0))
    patches = (
        PlanPatch(name="Block", outline=BLOCK, anchors=MIDDLE, repeats=4, tries=(kept,)),
        PlanPatch(name="Other", outline=BLOCK, anchors=MIDDLE),
    )
    path = tmp_path / "lily.wedgeplan"
    write_plan(path, Plan(title="Lily pond", patches=patches))
    return path


def text_of(path: Path) -> str:
    with pdfplumber.open(path) as document:
        return "\n".join(page.extract_text() for page in document.pages)


def test_the_kinds_are_the_exporters() -> None:
    assert list(arguments.CARD_KINDS) == [kind.value for kind in CardKind]


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("marking", ["Marking card, 8 marks", "4 in", "Other"]),
        ("stitching", ["Stitching card, 4 times", "Start at the anchor", "Other"]),
        ("plan", ["Lily pond", "2 patches, 5 to stitch"]),
        ("tries", ["Wide gap", "1 try"]),
    ],
)
def test_every_kind_is_written(
    plan: Path, capfd: pytest.CaptureFixture[str], kind: str, words: list[str]
) -> None:
    out = plan.with_name("out.pdf")
    assert main(["card", str(plan), "--kind", kind, "-o", str(out), "--paper", "a4"]) == 0
    assert capfd.readouterr() == (f"{out}\n", "")
    text = text_of(out)
    for word in words:
        assert word in text


def test_one_patch_in_another_unit_as_a_picture(plan: Path, capfd: pytest.CaptureFixture[str]) -> None:
    out = plan.with_name("out.png")
    call = ["card", str(plan), "--kind", "marking", "-o", str(out), "--patch", "Block"]
    assert main([*call, "--style", "mm"]) == 0
    assert out.read_bytes().startswith(b"\x89PNG")
    assert main([*call[:3], "stitching", *call[4:], "--set", "gap=3in"]) == 1, "a problem is no refusal"


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        (["-o", "out.pdf"], "the following arguments are required: --kind"),
        (["--kind", "poster", "-o", "out.pdf"], "invalid choice: 'poster'"),
        (
            ["--kind", "plan", "-o", "out.txt"],
            "“out.txt”: .txt files cannot be written; end the name in .pdf or .png",
        ),
        (
            ["--kind", "plan", "-o", "out.pdf", "--paper", "napkin"],
            "--paper: “napkin” is no paper that is known",
        ),
        (["--kind", "plan", "-o", "out.pdf", "--patch", "Blok"], "did you mean “Block”?"),
        (["--kind", "marking", "-o", "out.png"], "a picture holds one page, and this takes 2"),
        (["--kind", "tries", "-o", "out.pdf", "--patch", "Other"], "no patch has a try; keep one first"),
        (["--kind", "plan", "-o", "gone/out.pdf"], "its folder is not there any more"),
    ],
)
def test_a_wrong_call_is_one_line(
    plan: Path,
    extra: list[str],
    words: str,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(plan.parent)
    assert main(["card", str(plan), *extra]) == 2
    out, err = capfd.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert err.startswith("wedgewright: ")
    assert words in err
    assert list(plan.parent.iterdir()) == [plan]


def test_the_file_that_is_read_is_not_overwritten(plan: Path, capfd: pytest.CaptureFixture[str]) -> None:
    before = plan.read_bytes()
    assert main(["card", str(plan), "--kind", "plan", "-o", str(plan)]) == 2
    assert "this is the file that is read" in capfd.readouterr().err
    assert plan.read_bytes() == before
