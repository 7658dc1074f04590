"""``wedgewright anchors``: what it prints, and that its anchors are those of the engine."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from app.cli.progress import told
from app.sketch.anchor_words import looking_words, suggestion_words
from geometry import Patch, Settings
from geometry.anchors import Score, Suggestion, suggest
from geometry.units import LengthStyle, format_length
from tests.app.calls import Run

L_SHAPE = "unit: mm\nname: Corner\n0 0\n240 0\n240 90\n90 90\n90 240\n0 240\n"
STRIP = "\nname: Strip\n0 0\n200 0\n200 9\n0 9\n"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "two.txt"
    path.write_text(L_SHAPE + STRIP)
    return path


def patches(out: str) -> list[Any]:
    report = json.loads(out)
    assert (report["wedgewright-anchors"], report["unit"]) == (1, "mm")
    found: list[Any] = report["patches"]
    return found


def test_the_json_holds_what_the_engine_suggests(run: Run, file: Path) -> None:
    status, out, err = run("anchors", file, "--json", "--patch", "Corner", "--set", "gap=4mm")
    assert (status, err) == (0, "")
    (corner,) = patches(out)
    outline = [(0, 0), (240, 0), (240, 90), (90, 90), (90, 240), (0, 240)]
    expected = suggest(Patch(outline), Settings(gap=4.0))
    assert corner["name"] == "Corner"
    assert len(corner["anchors"]) == len(expected)
    for each, other in zip(corner["anchors"], expected, strict=True):
        assert each["names"] == list(other.names)
        assert each["at"] == pytest.approx(other.anchor, abs=1e-6)
        assert each["score"] == pytest.approx(sum(each["score_parts"].values()), abs=3e-6)
        assert each["share_in_sight"] == pytest.approx(other.share, abs=1e-6)
        assert each["narrowest"] == pytest.approx(other.narrowest, abs=1e-6)
        assert each["problems"] == other.problems
    assert run("anchors", file, "--json", "--patch", "Corner", "--set", "gap=4mm")[1] == out


def test_an_anchor_of_the_answer_can_be_given_to_fit(run: Run, file: Path) -> None:
    (corner,) = patches(run("anchors", file, "--json", "--patch", "Corner")[1])
    best = corner["anchors"][0]
    place = "{}mm, {}mm".format(*best["at"])
    status, out, _ = run("fit", file, "--json", "--patch", "Corner", "--anchor", place)
    assert status == 0
    fitted = json.loads(out)["patches"][0]
    assert 1 - fitted["out_of_sight"]["share"] == pytest.approx(best["share_in_sight"], abs=2e-6)
    wedges = fitted["fans"][0]["wedges"]
    least = min(min(wedge["side_length"], wedge["across"]) for wedge in wedges)
    assert least == pytest.approx(best["narrowest"], abs=1e-4)


@pytest.mark.parametrize("style", list(LengthStyle))
def test_the_table_shows_every_suggestion(run: Run, file: Path, style: LengthStyle) -> None:
    (corner,) = patches(run("anchors", file, "--json", "--patch", "Corner")[1])
    status, out, err = run("anchors", file, "--patch", "Corner", "--style", style.value)
    assert (status, err) == (0, "")
    assert out.startswith("Corner\n")
    rows = out.splitlines()[4:]
    for each, line in zip(corner["anchors"], rows, strict=False):
        assert line.lstrip().startswith(each["text"] + "  ")
        assert ", ".join(format_length(value, style) for value in each["at"]) in line
        assert f" {format_length(each['narrowest'], style)} " in line
        parts = [each["score"], *(each["score_parts"][part] for part in ("sight", "soundness", "width"))]
        assert line.split()[-4:] == [f"{value:.1f}" for value in parts]
    assert "60" in rows[-1]


def test_a_patch_without_room_says_so(run: Run, file: Path) -> None:
    status, out, err = run("anchors", file, "--patch", "Strip")
    assert (status, err) == (1, "")
    assert "No room to stitch" in out
    status, out, err = run("anchors", file, "--json")
    assert (status, err) == (1, "")
    corner, strip = patches(out)
    assert corner["anchors"]
    assert strip == {"name": "Strip", "anchors": []}


def test_what_is_hidden_is_not_rounded_away(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "ring.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="300mm" viewBox="0 0 300 300">'
        '<path fill-rule="evenodd" d="M0 0H300V300H0ZM149 149h2v2h-2Z"/></svg>'
    )
    (ring,) = patches(run("anchors", path, "--json", "--set", "edge-margin=0mm")[1])
    assert all(each["share_in_sight"] < 1 for each in ring["anchors"])
    assert "100.0 %" not in run("anchors", path, "--set", "edge-margin=0mm")[1]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["anchors"], ["FILE", "wedgewright anchors --help"]),
        (["anchors", "FILE", "--anchor", "middle"], ["--anchor"]),
        (["anchors", "FILE", "--patch", "Cornr"], ["did you mean “Corner”?"]),
        (["anchors", "FILE", "--set", "gap=wide"], ["--set gap", "wide"]),
        (["anchors", "FILE", "--set", "spans-per-side=0"], ["“Corner”", "spans per side"]),
        (["anchors", "missing.txt"], ["missing.txt", "no such file"]),
    ],
)
def test_a_wrong_call_is_refused_in_one_line(
    run: Run, file: Path, arguments: list[str], words: list[str]
) -> None:
    status, out, err = run(*(file if argument == "FILE" else argument for argument in arguments))
    assert (status, out) == (2, "")
    assert err.startswith("wedgewright: ")
    assert err.count("\n") == 1
    for word in words:
        assert word in err


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_at_a_terminal_it_says_how_far_it_is_and_wipes_that_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", terminal := Terminal())
    seconds = iter((0.0, 0.4, 0.6, 0.8))
    with told(looking_words, clock=lambda: next(seconds)) as went_on:
        assert went_on(1, 4)
        assert terminal.getvalue() == "", "what is done soon says nothing"
        assert went_on(2, 4)
        assert "50 %" in terminal.getvalue()
        went_on(3, 4)
    wiped = terminal.getvalue().split("\r")
    assert wiped[-1] == ""
    assert wiped[-2] == " " * max(map(len, wiped[:-2]))


def test_a_file_hears_nothing_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", plain := io.StringIO())
    with told(looking_words, clock=iter((0.0, 9.0)).__next__) as went_on:
        went_on(1, 4)
    assert plain.getvalue() == ""


def test_ctrl_c_ends_it_without_a_traceback(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The signal itself, sent to a program that is looking: it ends at its next look."""
    program = """
import os, signal, sys
import app.cli.anchors_task as task
from app.cli import main
signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background job ignores it
whole = task.suggest
def interrupted(patch, settings, progress):
    def went_on(done, total):
        os.kill(os.getpid(), signal.SIGINT)
        return progress(done, total)
    whole(patch, settings, progress=went_on)
    print("it went on")
task.suggest = interrupted
sys.exit(main(sys.argv[1:]))
"""
    ended = subprocess.run(
        [sys.executable, "-c", program, "anchors", str(file)], capture_output=True, text=True, timeout=60
    )
    assert (ended.returncode, ended.stdout, ended.stderr) == (130, "", "")


def test_every_name_has_its_words() -> None:
    names = ("middle", "most-open", "side:B", "corner:AB")
    each = Suggestion(names, (0.0, 0.0), Score(60.0, 25.0, 15.0), 1.0, 30.0, 0)
    assert suggestion_words(each) == "middle, most open, middle of side B, corner AB"


@pytest.mark.parametrize(
    ("toward", "words"),
    [
        ("side:B", "side B"),
        ("corner:AB:2", "corner AB (2)"),
        ("up", "the top"),
        ("up-right", "the top right"),
        ("right", "the right"),
        ("down-right", "the bottom right"),
        ("down", "the bottom"),
        ("down-left", "the bottom left"),
        ("left:3", "the left (3)"),
        ("up-left", "the top left"),
    ],
)
def test_what_is_off_centre_is_told_apart(toward: str, words: str) -> None:
    each = Suggestion((f"off-centre:{toward}",), (0.0, 0.0), Score(60.0, 25.0, 15.0), 1.0, 30.0, 0)
    assert suggestion_words(each) == f"off-centre, towards {words}"
