"""The command line: what it prints, what it returns, and that it never shows a traceback."""

from __future__ import annotations

import dataclasses
import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import pdfplumber
import pytest

import app.cli
from app.cli import arguments, tasks
from app.exporting.options import TemplateKind
from app.plan.model import Plan, PlanPatch
from app.plan.plan_file import SUFFIX, write_plan
from geometry import Patch, Settings
from geometry.units import LengthStyle, format_length
from tests.app.calls import Run
from tests.app.exporting.pdf_reading import pages_of

ROOT = Path(__file__).parents[2]
INCH = 25.4
BLOCK = [(0.0, 0.0), (8 * INCH, 0.0), (8 * INCH, 8 * INCH), (0.0, 8 * INCH)]
STRIP = [(0.0, 0.0), (8 * INCH, 0.0), (8 * INCH, INCH), (0.0, INCH)]


@pytest.fixture
def run(run: Run, monkeypatch: pytest.MonkeyPatch, qapp: object) -> Run:
    """Call the program, where there is no screen.

    ``qapp`` is the one application of the whole run: a template alone would make another kind of its own,
    and the tests of the window that come after it would fail.
    """
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    return run


def process(*arguments: object, **options: Any) -> subprocess.CompletedProcess[bytes]:
    """The program as a process of its own."""
    command = [sys.executable, "-m", "app", *map(str, arguments)]
    options = {"cwd": ROOT, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "timeout": 60, **options}
    return subprocess.run(command, check=False, **options)  # type: ignore[no-any-return]


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    """A plan: a block that fits, and a strip, three times in the quilt, that does not."""
    path = tmp_path / "quilt.wedgeplan"
    block = PlanPatch.of("Block", Patch(BLOCK), [(4 * INCH, 4 * INCH)])
    strip = PlanPatch.of(
        "Strip", Patch(STRIP), [(4 * INCH, INCH / 2)], settings=Settings(gap=INCH / 2), repeats=3
    )
    write_plan(path, Plan(patches=(block, strip)))
    return path


@pytest.fixture
def block(tmp_path: Path) -> Path:
    """The block as text."""
    path = tmp_path / "block.txt"
    path.write_text("unit: in\nname: Block\n0 0\n8 0\n8 8\n0 8\n")
    return path


def the_patch(output: str) -> dict[str, Any]:
    (patch,) = json.loads(output)["patches"]
    assert isinstance(patch, dict)
    return patch


def assert_refused(answer: tuple[int, str, str], *words: str) -> None:
    """Exit status 2, nothing printed, one line on standard error with ``words``."""
    status, out, err = answer
    assert status == 2
    assert out == ""
    assert err.startswith("wedgewright: ")
    assert err.endswith("\n")
    assert err.count("\n") == 1
    assert "did not expect" not in err
    for word in words:
        assert word in err


# What is fitted


def test_a_plan_is_fitted_with_its_own_anchors_settings_and_repeats(run: Run, plan: Path) -> None:
    status, out, err = run("fit", plan, "--json")
    assert (status, err) == (1, "")
    first, second = json.loads(out)["patches"]
    assert (first["name"], second["name"]) == ("Block", "Strip")
    assert len(first["fans"][0]["wedges"]) == 8
    assert first["fans"][0]["anchor"] == [101.6, 101.6]
    assert second["settings"]["gap"] == 12.7
    assert (first["totals"]["repeats"], second["totals"]["repeats"]) == (1, 3)
    assert any(finding["level"] == "problem" for finding in second["findings"])


def test_only_the_patches_named_are_fitted(run: Run, plan: Path) -> None:
    status, out, _ = run("fit", plan, "--json", "--patch", "Block")
    assert status == 0
    assert the_patch(out)["name"] == "Block"
    _, out, _ = run("fit", plan, "--json", "--patch", "Strip", "--patch", "Block")
    assert [patch["name"] for patch in json.loads(out)["patches"]] == ["Block", "Strip"]


@pytest.mark.parametrize(
    ("options", "anchor"),
    [
        (["--anchor", "2in,3 1/2 in"], [50.8, 88.9]),
        (["--anchor", "2,3", "--unit", "cm"], [20, 30]),
        (["--anchor", "5 cm; 60mm"], [50, 60]),
        (["--anchor=0in,0in"], [0, 0]),
    ],
)
def test_an_anchor_is_taken_from_the_call(
    run: Run, plan: Path, options: list[str], anchor: list[float]
) -> None:
    _, out, _ = run("fit", plan, "--json", "--patch", "Block", *options)
    assert the_patch(out)["fans"][0]["anchor"] == anchor


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ("edge-margin=1/2in", "edge_margin", 12.7),
        ("edge_margin = 1.5 cm", "edge_margin", 15),
        ("gap=3", "gap", 30),
        ("spans-per-side=4", "spans_per_side", 4),
        ("corner-angle=30", "corner_angle", 30),
        ("corner-angle=30,5°", "corner_angle", 30.5),
        ("stitches-per-minute=750", "stitches_per_minute", 750),
        ("divide=Yes", "divide", True),
        ("side-spans=a:3, B:1", "side_spans", [["A", 3], ["B", 1]]),
        ("merge-thin=yes", "merge_thin", True),
        ("merged-spans=a1-AB, B1-BC", "merged_spans", [["A1", "AB"], ["B1", "BC"]]),
        ("own-marks=2in,0in; 3cm,4cm", "own_marks", [[50.8, 0], [30, 40]]),
    ],
)
def test_a_setting_is_taken_from_the_call(run: Run, plan: Path, text: str, name: str, value: Any) -> None:
    _, out, err = run("fit", plan, "--json", "--patch", "Block", "--unit", "cm", "--set", text)
    assert err == ""
    settings = the_patch(out)["settings"]
    assert settings.pop(name) == value
    defaults = the_patch(run("fit", plan, "--json", "--patch", "Block")[1])["settings"]
    assert settings == {other: defaults[other] for other in settings}


def test_several_settings_go_together_and_the_last_of_one_holds(run: Run, plan: Path) -> None:
    _, out, _ = run(
        "fit", plan, "--json", "--patch", "Block", "--set=gap=1cm", "--set=wobble=2mm", "--set=gap=4mm"
    )
    settings = the_patch(out)["settings"]
    assert (settings["gap"], settings["wobble"]) == (4, 2)


def test_every_setting_of_the_engine_can_be_given() -> None:
    assert [name.replace("-", "_") for name in tasks._READERS] == [
        field.name for field in dataclasses.fields(Settings)
    ]


def test_plans_are_told_by_the_ending_that_the_plan_file_has() -> None:
    assert tasks.PLAN_ENDING == SUFFIX


def test_every_kind_of_template_can_be_asked_for() -> None:
    assert list(arguments.KINDS) == [kind.value for kind in TemplateKind]


def test_an_imported_patch_is_fitted_from_its_middle(run: Run, block: Path) -> None:
    status, out, err = run("fit", block, "--json")
    assert (status, err) == (0, "")
    patch = the_patch(out)
    assert patch["name"] == "Block"
    assert patch["fans"][0]["anchor"] == [101.6, 101.6]
    assert patch["totals"]["repeats"] == 1


@pytest.mark.parametrize("name", ["middle", "best", "side:A", "corner:AB", " MIDDLE "])
def test_an_anchor_can_be_named(run: Run, block: Path, name: str) -> None:
    status, out, err = run("fit", block, "--json", "--anchor", name)
    assert status in {0, 1}
    assert err == ""
    (x, y) = the_patch(out)["fans"][0]["anchor"]
    assert 0 <= x <= 203.2
    assert 0 <= y <= 203.2


def test_a_plan_changed_outside_is_read_only_when_the_call_says_so(run: Run, plan: Path) -> None:
    plan.write_text(plan.read_text().replace('"Block"', '"Blocks"'))
    assert_refused(run("fit", plan, "--json"), "changed outside", "--accept-changed")
    status, out, _ = run("fit", plan, "--json", "--accept-changed", "--patch", "Blocks")
    assert status == 0
    assert the_patch(out)["name"] == "Blocks"


# What is printed


def test_the_report_is_the_same_twice_byte_for_byte_and_utf_8(tmp_path: Path) -> None:
    path = tmp_path / "quilt.wedgeplan"
    write_plan(path, Plan(patches=(PlanPatch.of("Drachen 凧 ⅜", Patch(BLOCK), [(40.0, 50.0)]),)))
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONHASHSEED": "1"}
    once = process("fit", path, "--json", env=environment)
    again = process("fit", path, "--json", env={**environment, "PYTHONHASHSEED": "2"})
    assert once.stdout == again.stdout
    assert once.stderr == b""
    assert "Drachen 凧 ⅜" in once.stdout.decode("utf-8")
    assert once.stdout.endswith(b"}\n")
    assert once.stdout.count(b"\n") == 1


def test_the_table_shows_wedges_findings_and_totals(run: Run, plan: Path) -> None:
    status, out, err = run("fit", plan)
    assert (status, err) == (1, "")
    assert "\x1b" not in out
    lines = out.splitlines()
    assert lines[0] == "Block"
    assert lines[1] == "Anchor 4 in, 4 in"
    reported = json.loads(run("fit", plan, "--json")[1])["patches"]
    second = reported[0]["fans"][0]["wedges"][1]
    row = next(line for line in lines if line.split()[:1] == ["2"])
    assert " ".join(row.split()) == " ".join(
        [
            "2",
            format_length(second["side_length"], LengthStyle.EIGHTHS),
            format_length(second["across"], LengthStyle.EIGHTHS),
            f"{second['apex_angle_deg']:.1f}°",
            "A1–AB",
        ]
    )
    assert "8 wedges, fits" in lines
    assert any(line.startswith("problem  ") for line in lines)
    for finding in reported[1]["findings"]:
        assert any(line.endswith(finding["text"]) for line in lines)
    stitches = reported[0]["totals"]["stitches"] + 3 * reported[1]["totals"]["stitches"]
    assert lines[-2] == "All 4 patches, repeats counted"
    assert f" {stitches} stitches, " in lines[-1]


@pytest.mark.parametrize(
    ("options", "style"),
    [
        ([], LengthStyle.EIGHTHS),
        (["--unit", "cm"], LengthStyle.CM),
        (["--unit", "cm", "--style", "mm"], LengthStyle.MM),
        *((["--style", style.value], style) for style in LengthStyle),
    ],
)
def test_lengths_are_written_as_asked(run: Run, plan: Path, options: list[str], style: LengthStyle) -> None:
    wedge = the_patch(run("fit", plan, "--patch", "Block", "--json")[1])["fans"][0]["wedges"][0]
    _, out, _ = run("fit", plan, "--patch", "Block", *options)
    assert f" {format_length(wedge['side_length'], style)} " in out
    assert f" {format_length(wedge['across'], style)} " in out
    assert f"Anchor {format_length(4 * INCH, style)}, " in out


def test_a_plans_own_style_and_an_imports_unit_decide_how_lengths_are_written(
    run: Run, tmp_path: Path, block: Path
) -> None:
    path = tmp_path / "quilt.wedgeplan"
    shape = PlanPatch.of("Block", Patch(BLOCK), [(4 * INCH, 4 * INCH)])
    write_plan(path, Plan(patches=(shape,), unit_style=LengthStyle.CM))
    assert "Anchor 10.2 cm, 10.2 cm" in run("fit", path)[1]
    assert "Anchor 101.6 mm, 101.6 mm" in run("fit", path, "--unit", "mm")[1]
    assert "Anchor 101.6 mm, 101.6 mm" in run("fit", block, "--unit", "mm")[1]
    assert "Anchor 4 in, 4 in" in run("fit", block)[1]


@pytest.mark.parametrize(
    ("unit", "options", "written"),
    [
        ("in", [], "Anchor 4 3/8 in, 4 3/8 in"),
        ("cm", [], "Anchor 11.1 cm, 11.1 cm"),
        ("mm", [], "Anchor 111.1 mm, 111.1 mm"),
        ("cm", ["--style", "eighths"], "Anchor 4 3/8 in, 4 3/8 in"),
    ],
)
@pytest.mark.parametrize("corners", ["0 0\nW 0\nW W\n0 W\n", "0in 0in\nI 0in\nI I\n0in I\n"])
def test_a_file_that_names_its_unit_is_answered_in_it(
    run: Run, tmp_path: Path, unit: str, options: list[str], written: str, corners: str
) -> None:
    path = tmp_path / "block.txt"
    width = 8.75 * INCH / {"in": INCH, "cm": 10, "mm": 1}[unit]
    path.write_text(f"unit: {unit}\n" + corners.replace("W", f"{width:.4f}").replace("I", "8.75in"))
    assert written in run("fit", path, "--anchor", "4.375in, 4.375in", *options)[1].replace("  ", " ")
    pdf = tmp_path / "block.pdf"
    assert run("template", path, "-o", pdf, *options)[0] in {0, 1}
    with pdfplumber.open(pdf) as pages:
        words = " ".join(" ".join(page.extract_text() for page in pages.pages).split())
    style = options[1] if options else {"in": "eighths"}.get(unit, unit)
    assert f"Edge margin {format_length(0.25 * INCH, LengthStyle(style))}" in words


def test_a_narrow_encoding_costs_characters_and_nothing_else(plan: Path) -> None:
    answer = process("fit", plan, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert answer.returncode == 1
    assert answer.stderr == b""
    assert b"41.7?" in answer.stdout


def test_names_cannot_steer_the_terminal(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "block.txt"
    path.write_text("unit: in\nname: a\x1b[2Jb [bold]c\n0 0\n8 0\n8 8\n")
    status, out, err = run("fit", path)
    assert "\x1b" not in out + err
    assert status == 2 or "[bold]c" in out


def test_help_and_version_go_to_standard_output(run: Run) -> None:
    for call in (["--help"], ["fit", "--help"], ["template", "-h"], ["--version"]):
        status, out, err = run(*call)
        assert (status, err) == (0, "")
        assert "wedgewright" in out


def test_help_names_every_command(run: Run) -> None:
    out = run("--help")[1]
    for command in app.cli.COMMANDS:
        assert f"\n  {command} " in out


def test_the_readme_tells_every_option(run: Run) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for command in app.cli.COMMANDS:
        options = set(re.findall(r"--[a-z][a-z-]*", run(command, "--help")[1])) - {"--help", "--output"}
        assert len(options) > (1 if command == "tape" else 6)
        assert {option for option in options if f"`{option}" not in readme} == set()


def test_the_readmes_template_of_the_sample_is_written(run: Run, tmp_path: Path) -> None:
    (call,) = re.findall(
        r"^P=.* \.venv/bin/wedgewright (template .*) -o sample-template\.pdf; fi$",
        (ROOT / "README.md").read_text(encoding="utf-8"),
        re.MULTILINE,
    )
    command, file, *options = shlex.split(call)
    target = tmp_path / "sample-template.pdf"
    assert run(command, ROOT / file, *options, "-o", target) == (0, f"{target}\n", "")
    assert target.read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("path", sorted((ROOT / "sample_shapes").glob("*.*")), ids=lambda path: path.name)
def test_every_sample_is_fitted(run: Run, path: Path) -> None:
    status, out, err = run("fit", path, "--json")
    assert err == ""
    patches = json.loads(out)["patches"]
    problems = [found for patch in patches for found in patch["findings"] if found["level"] == "problem"]
    assert status == (1 if problems else 0)
    assert any(patch["fans"] for patch in patches)


# What is refused: a wrong call


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["fit"], ["FILE", "wedgewright fit --help"]),
        (["template", "x.svg"], ["--output"]),
        (["fit", "PLAN", "PLAN"], ["unrecognized"]),
        (["fit", "PLAN", "--colour"], ["--colour"]),
        (["fit", "PLAN", "--js"], ["--js"]),
        (["fit", "PLAN", "--unit", "ell"], ["ell", "'mm'"]),
        (["fit", "PLAN", "--patch", "Blok"], ["Blok", "did you mean “Block”?"]),
        (["fit", "PLAN", "--patch", "zzz"], ["choose from “Block”, “Strip”"]),
        (["fit", "PLAN", "--set", "edge-magrin=1in"], ["did you mean edge-margin?"]),
        (["fit", "PLAN", "--set", "zzz=1in"], ["choose from edge-margin, gap, visible-width"]),
        (["fit", "PLAN", "--set", "gap"], ["gap=VALUE"]),
        (["fit", "PLAN", "--set", "gap="], ["gap=VALUE"]),
        (["fit", "PLAN", "--set", "gap=2"], ["--set gap", "no unit"]),
        (["fit", "PLAN", "--set", "gap=-2in"], ["--set gap", "negative"]),
        (["fit", "PLAN", "--set", "gap=wide"], ["--set gap", "wide"]),
        (["fit", "PLAN", "--set", "spans-per-side=two"], ["two", "whole number"]),
        (["fit", "PLAN", "--set", "spans-per-side=" + "9" * 5000], ["whole number"]),
        (["fit", "PLAN", "--set", "spans-per-side=0"], ["spans per side"]),
        (["fit", "PLAN", "--set", "corner-angle=nan"], ["corner angle"]),
        (["fit", "PLAN", "--set", "corner-angle=steep"], ["steep"]),
        (["fit", "PLAN", "--set", "side-spans=A3"], ["A3"]),
        (["fit", "PLAN", "--set", "merged-spans=A1"], ["A1", "A1-AB"]),
        (["fit", "PLAN", "--set", "divide=2"], ["yes or no"]),
        (["fit", "PLAN", "--anchor", "centre"], ["centre", "middle, best, side:N or corner:N"]),
        (["fit", "PLAN", "--anchor", "1,2"], ["--anchor", "no unit"]),
        (["fit", "PLAN", "--anchor", "1in"], ["--anchor", "1in"]),
        (["fit", "PLAN", "--anchor", "-1in,2in"], ["patch “Block”", "-1 in, 2 in", "outside", "0 in, 2 in"]),
        (["fit", "PLAN", "--anchor", "20in,2in"], ["patch “Block”", "20 in, 2 in", "outside", "8 in, 2 in"]),
        (["fit", "PLAN", "--anchor", "4in,4in"], ["patch “Strip”", "outside", "--patch"]),
        (["ft"], ["“ft”", "wedgewright fit?"]),
        (["quilt.svg"], ["“quilt.svg”", "no such file"]),
    ],
)
def test_a_wrong_call_is_refused_in_one_line(
    run: Run, plan: Path, arguments: list[str], words: list[str]
) -> None:
    assert_refused(run(*(plan if argument == "PLAN" else argument for argument in arguments)), *words)


def test_each_anchor_gets_its_fan(run: Run, tmp_path: Path, block: Path) -> None:
    path = tmp_path / "quilt.wedgeplan"
    write_plan(path, Plan(patches=(PlanPatch.of("Block", Patch(BLOCK), [(50.0, 100.0), (150.0, 100.0)]),)))
    planned = the_patch(run("fit", path, "--json")[1])
    assert [fan["anchor"] for fan in planned["fans"]] == [[50, 100], [150, 100]]
    asked = the_patch(run("fit", block, "--json", "--anchor", "5cm,10cm", "--anchor", "15cm,10cm")[1])
    assert asked["fans"] == planned["fans"]
    one = the_patch(run("fit", path, "--json", "--anchor", "5cm,10cm")[1])
    assert [fan["anchor"] for fan in one["fans"]] == [[50, 100]]


def test_a_plan_without_patches_is_refused(run: Run, tmp_path: Path) -> None:
    write_plan(tmp_path / "empty.wedgeplan", Plan())
    assert_refused(run("fit", tmp_path / "empty.wedgeplan"), "“empty.wedgeplan”", "no patch")


# What is refused: a wrong file

PNG = bytes.fromhex("89504e470d0a1a0a0000000d49484452")
BAD_FILES: dict[str, tuple[str, bytes, list[str]]] = {
    "empty": ("a.txt", b"", []),
    "empty plan": ("a.wedgeplan", b"", []),
    "empty svg": ("a.svg", b"", []),
    "prose": ("a.txt", b"unit: in\nDear diary, today I quilted.\n", ["2"]),
    "prose as a plan": ("a.wedgeplan", b"Dear diary", []),
    "not a number": ("a.txt", b"unit: in\n0 0\nNaN 4\n4 4\n", ["3"]),
    "infinite": ("a.txt", b"unit: in\n0 0\ninf 4\n4 4\n", ["3"]),
    "two points": ("a.txt", b"unit: in\n0 0\n4 4\n", []),
    "bow-tie": ("a.txt", b"unit: in\n0 0\n4 4\n4 0\n0 4\n", ["--split"]),
    "20 m": ("a.txt", b"unit: mm\n0 0\n20000 0\n0 4000\n", ["20 m"]),
    "no unit": ("a.txt", b"0 0\n4 0\n0 4\n", ["--unit"]),
    "no unit, well-known text": ("a.wkt", b"POLYGON ((0 0, 4 0, 0 4, 0 0))", ["--unit"]),
    "a picture": ("a.txt", PNG, []),
    "a picture named svg": ("a.svg", PNG, []),
    "bytes that are no text": ("a.txt", b"unit: in\n\xff\xfe\x00\x80", []),
    "an ending that nothing reads": ("a.doc", b"0 0", [".svg"]),
    "no ending": ("a", b"0 0", [".svg"]),
}


@pytest.mark.parametrize("kind", BAD_FILES)
@pytest.mark.parametrize("command", ["fit", "template"])
def test_a_wrong_file_is_refused_in_one_line(run: Run, tmp_path: Path, kind: str, command: str) -> None:
    name, content, words = BAD_FILES[kind]
    path = tmp_path / name
    path.write_bytes(content)
    more = ["-o", tmp_path / "out.pdf"] if command == "template" else []
    assert_refused(run(command, path, *more), name, *words)
    assert [each.name for each in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize("name", ["a.txt", "a.svg", "a.wkt", "a.wedgeplan"])
def test_a_missing_file_a_folder_and_a_pipe_are_refused(run: Run, tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    assert_refused(run("fit", path), name, "no such file")
    path.mkdir()
    assert_refused(run("fit", path), name, "folder")
    path.rmdir()
    if hasattr(os, "mkfifo"):
        os.mkfifo(path)
        assert_refused(run("fit", path), name)


def test_a_bow_tie_can_be_split(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "tie.txt"
    path.write_text("unit: in\n0 0\n8 8\n8 0\n0 8\n")
    status, out, err = run("fit", path, "--split", "--json")
    assert status in {0, 1}
    assert len(json.loads(out)["patches"]) == 2
    # What was done to the outline is said, and not where a program reads.
    assert [line.startswith("wedgewright: note: ") for line in err.splitlines()] == [True, True]


def test_names_of_files_can_be_anything(run: Run, block: Path) -> None:
    for name in ("with blank.txt", "-dash.txt", "ü 日本 🪡.txt", "qu'ote\".txt", "x" * 250 + ".txt"):
        path = block.with_name(name)
        path.write_bytes(block.read_bytes())
        assert run("fit", "--json", "--", path)[0] == 0
    assert_refused(run("fit", block.with_name("new\nline.txt")), "no such file")


@pytest.mark.skipif(os.name == "nt", reason="names are Unicode there")
def test_a_file_name_that_is_no_utf_8_is_read_and_complained_about(block: Path) -> None:
    name = os.fsencode(block.parent) + b"/\xff.txt"
    Path(os.fsdecode(name)).write_bytes(b"0 0\n8 0\n8 8\n0 8\n")
    answer = process("fit", os.fsdecode(name))
    assert answer.returncode == 2
    assert answer.stderr.count(b"\n") == 1
    assert "�.txt" in answer.stderr.decode("utf-8")
    answer = process("fit", os.fsdecode(name), "--unit", "in", "--json")
    assert answer.returncode == 0
    answer.stdout.decode("utf-8")


# The template


@pytest.mark.parametrize("ending", ["pdf", "svg"])
def test_a_template_is_written_and_named(run: Run, plan: Path, tmp_path: Path, ending: str) -> None:
    target = tmp_path / f"out.{ending}"
    status, out, err = run(
        "template", plan, "-o", target, "--paper", "a4", "--kind", "marks", "--patch", "Block"
    )
    assert (status, err) == (0, "")
    assert out == f"{target}\n"
    assert target.read_bytes()[:4] == (b"%PDF" if ending == "pdf" else b"<?xml"[:4])


def test_what_a_template_shows_and_how_it_lies_can_be_said(run: Run, plan: Path, tmp_path: Path) -> None:
    target = tmp_path / "out.pdf"

    def text(*options: str) -> tuple[int, str, float]:
        call = ("template", plan, "-o", target, "--patch", "Block", "--unit", "cm", *options)
        assert run(*call)[::2] == (0, "")
        pages = pages_of(target.read_bytes())
        return len(pages), " ".join(page.text for page in pages), pages[0].width

    alone, words, _ = text("--paper", "tabloid")
    assert alone == 1
    assert "Mirrored" not in words
    _, mirrored, width = text("--paper", "330x480mm", "--mirrored", "--no-numbers", "--no-echoes", "--arrows")
    assert "Mirrored" in mirrored
    assert width == pytest.approx(330.0, abs=0.2) or width == pytest.approx(480.0, abs=0.2)
    assert text("--paper", "tabloid", "--copies", "3", "--separate")[0] == 3
    assert "copy 3 of 3" in text("--paper", "tabloid", "--copies", "3", "--separate")[1]
    assert text("--paper", "tabloid", "--margin", "4")[0] > 1  # cm


def test_a_template_of_what_does_not_fit_is_written_and_says_so(run: Run, plan: Path, tmp_path: Path) -> None:
    status, _, err = run("template", plan, "-o", tmp_path / "out.pdf")
    assert (status, err) == (1, "")
    assert (tmp_path / "out.pdf").stat().st_size > 0


@pytest.mark.parametrize(
    ("target", "options", "words"),
    [
        ("out.doc", [], ["out.doc", ".pdf"]),
        ("out", [], [".pdf"]),
        ("missing/out.pdf", [], ["out.pdf"]),
        ("folder.pdf", [], ["folder.pdf"]),
        ("out.pdf", ["--paper", "napkin"], ["--paper: “napkin”", "a4"]),
        ("out.pdf", ["--paper", "13x19"], ["--paper: “13x19”: ", "no unit"]),
        ("out.pdf", ["--copies", "0"], ["--copies", "1 or more"]),
        ("out.pdf", ["--copies", "two"], ["--copies", "two"]),
        ("out.pdf", ["--margin", "1"], ["--margin", "no unit"]),
        ("out.pdf", ["--margin", "4in"], ["no room"]),
        ("out.pdf", ["--kind", "dots"], ["dots"]),
        ("out.pdf", ["--patch", "Blok"], ["Block"]),
    ],
)
def test_a_template_that_cannot_be_written_is_refused(
    run: Run, plan: Path, tmp_path: Path, target: str, options: list[str], words: list[str]
) -> None:
    (tmp_path / "folder.pdf").mkdir()
    before = sorted(tmp_path.rglob("*"))
    assert_refused(run("template", plan, "-o", tmp_path / target, *options), *words)
    assert sorted(tmp_path.rglob("*")) == before


def test_the_file_that_is_read_is_never_written_over(run: Run, block: Path) -> None:
    path = block.with_name("shape.svg")
    path.write_text('<svg xmlns="http://www.w3.org/2000/svg" width="4in" height="4in" viewBox="0 0 4 4"/>')
    before = path.read_bytes()
    assert_refused(run("template", path, "-o", path), "shape.svg", "-o")
    assert path.read_bytes() == before


# The window


def test_without_a_screen_it_says_so(run: Run, block: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    assert_refused(run(), "no display", "wedgewright template")
    assert_refused(run(block), "no display")


def test_without_a_command_it_opens_the_sketchpad(
    run: Run, block: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[list[str]] = []
    monkeypatch.setattr("app.window.start.run", lambda files: opened.append(list(files)) or 7)
    assert run(block, block) == (7, "", "")
    assert run() == (7, "", "")
    assert opened == [[str(block), str(block)], []]


# What is loaded


def test_a_report_loads_neither_window_nor_table(block: Path) -> None:
    code = (
        "import sys; from app.cli import main; status = main(sys.argv[1:]); "
        "heavy = {'PySide6', 'rich', 'ezdxf', 'svgelements', 'msgspec', 'defusedxml'}; "
        "print(status, sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    command = [sys.executable, "-c", code, "fit", str(block), "--json"]
    answer = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert answer.stderr == "0 []\n"


def test_the_window_is_opened_without_loading_the_engine_first() -> None:
    code = (
        "import sys, app.cli; app.cli.read_call(['a', 'b']); "
        "print(sorted({'numpy', 'geometry'} & set(sys.modules)))"
    )
    answer = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert answer.stdout == "[]\n"


# Interruptions


def test_ctrl_c_ends_quietly(run: Run, plan: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(tasks, "fit", interrupted)
    assert run("fit", plan) == (130, "", "")


def test_what_nobody_expected_is_one_line(run: Run, plan: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("of what?\nof this")

    monkeypatch.setattr(tasks, "fit", broken)
    status, out, err = run("fit", plan)
    assert (status, out) == (2, "")
    assert err.startswith(
        "wedgewright: Wedgewright met something it did not expect: ZeroDivisionError at test_cli.py:"
    )
    assert err.endswith("of what? of this; please report\n")
    assert err.count("\n") == 1


@pytest.mark.skipif(os.name == "nt", reason="pipes close otherwise there")
@pytest.mark.parametrize("options", [["--json"], []])
def test_a_closed_pipe_is_no_matter(plan: Path, options: list[str]) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    answer = process("fit", plan, *options, stdout=writer)
    os.close(writer)
    assert answer.returncode == 141
    assert answer.stderr == b""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
@pytest.mark.parametrize("arguments", [["fit", "PLAN", "--json"], ["fit", "PLAN"], ["--help"]])
def test_a_full_disk_is_one_line(plan: Path, arguments: list[str]) -> None:
    with Path("/dev/full").open("wb") as full:
        answer = process(*(plan if argument == "PLAN" else argument for argument in arguments), stdout=full)
    assert answer.returncode == 2
    assert answer.stderr.startswith(b"wedgewright: standard output: ")
    assert answer.stderr.count(b"\n") == 1
