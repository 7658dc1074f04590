"""Tape measures in a file: written down in several ways, read, and made a patch."""

from __future__ import annotations

import json
import math
from itertools import combinations
from pathlib import Path

import pytest
import shapely

from app.importing import ImportingError, UnitMissingError, import_file
from app.importing.tape import tape_sheets
from tests.app.calls import Run

IN = 25.4
SQUARE = "A B 8\nB C 8\nC D 8\nD A 8\nA C 11.313708\n"


def written(folder: Path, text: str) -> Path:
    path = folder / "behind the star.tape"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "line",
    ["B D 11 5/16", "b d 11 5/16", "B-D 11 5/16", "B to D: 11 5/16", "D – B = 11 5/16", "BD 11 5/16 # !"],
)
def test_a_measure_is_written_in_many_ways(tmp_path: Path, line: str) -> None:
    (sheet,), unit = tape_sheets(str(written(tmp_path, f"unit: in\n{SQUARE}{line}\n")))
    assert unit == "in"
    assert sheet.measures[-1].pair == (1, 3)
    assert sheet.measures[-1].length == pytest.approx(11.3125 * IN)
    assert sheet.rounding == pytest.approx(IN / 32)


def test_a_square_with_a_bow(tmp_path: Path) -> None:
    imported = import_file(written(tmp_path, f"unit: in\nname: Fan corner\n{SQUARE}bow B C 1\nbow D A -1\n"))
    ((name, patch),) = imported.patches
    assert (name, imported.unit) == ("Fan corner", "in")
    assert patch.polygon.area == pytest.approx((8 * IN) ** 2, rel=1e-4)
    assert patch.polygon.contains(shapely.Point(8.9 * IN, 4 * IN))
    assert not patch.polygon.contains(shapely.Point(0.9 * IN, 4 * IN))
    assert any("a wrong one would not show" in note for note in imported.notes)


def test_several_patches_and_the_files_name(tmp_path: Path) -> None:
    imported = import_file(
        written(tmp_path, f"unit: cm\nname: One\n{SQUARE}\nname: One\n{SQUARE}\n\n{SQUARE}")
    )
    assert [name for name, _ in imported.patches] == ["One", "One (2)", "patch 3"]
    assert import_file(written(tmp_path, "unit: mm\n" + SQUARE)).patches[0][0] == "behind the star"


def test_inward_and_how_finely_the_tape_was_read(tmp_path: Path) -> None:
    dart = (
        "unit: mm\nread to: 5 mm\nA B 223.6068\nB C 223.6068\nC D 116.619\nD A 116.619\nA C 200\ninward: D\n"
    )
    (sheet,), _ = tape_sheets(str(written(tmp_path, dart)))
    assert (sheet.inward, sheet.rounding) == ({3}, 2.5)
    area = import_file(written(tmp_path, dart)).patches[0][1].polygon.area
    assert area == pytest.approx(200 * 200 / 2 - 200 * 60 / 2, rel=1e-4)


def test_the_wrong_measure_is_named_in_the_users_unit(tmp_path: Path) -> None:
    corners = [(0, 0), (292, 0), (273, 207), (98, 228), (-21, 152)]
    lines = []
    for i, j in combinations(range(5), 2):
        inches = round(math.dist(corners[i], corners[j]) / IN * 16) / 16
        lines.append(f"{'ABCDE'[i]} {'ABCDE'[j]} {inches + 0.75 * ((i, j) == (1, 3))}")
    (note,) = import_file(written(tmp_path, "unit: in\n" + "\n".join(lines))).notes
    assert "B to D is 3/4 in longer than the rest allow" in note or "B to D is 13/16 in longer" in note


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("unit: in\nA B 8\nB C five\n", "line 3, column 5"),
        ("unit: in\nA B 8\n8 4\n", "“8 4” is no measure; write two corners and the distance"),
        ("unit: in\nA B -8\n", "negative"),
        ("unit: in\nA B 8\nB C 8\n", "the shape can still move; measure A to C too"),
        ("unit: in\nA B 8\nB C 3\nC A 4\n", "longer than"),
        ("unit: in\n" + SQUARE + "bow A C 1\n", "A to C is no side"),
        ("unit: furlong\n" + SQUARE, "line 1"),
        ("unit: in\n", "holds no measures"),
        ("unit: in\nread to: much\n" + SQUARE, "line 2"),
        ("unit: in\n" + "A B 8\n" * 700, "more than 650"),
        ("unit: in\nA Z 8\n", "the shape can still move; measure 48 more"),
        ("\x89PNG", "PNG"),
    ],
)
def test_what_cannot_be_read_says_where(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "behind the star.tape"
    path.write_bytes(text.encode("latin-1"))
    with pytest.raises(ImportingError) as caught:
        import_file(path)
    assert words in str(caught.value)
    assert str(caught.value).startswith("“behind the star.tape”")


def test_a_unit_is_asked_for_and_never_guessed(tmp_path: Path) -> None:
    with pytest.raises(UnitMissingError):
        import_file(written(tmp_path, SQUARE))
    assert import_file(written(tmp_path, SQUARE), "cm").patches[0][1].polygon.area == pytest.approx(6400)
    own = "\n".join(f"{line} cm" for line in SQUARE.splitlines())
    assert import_file(written(tmp_path, own)).patches[0][1].polygon.area == pytest.approx(6400)


def test_the_command_prints_a_table_and_json(run: Run, tmp_path: Path) -> None:
    path = written(tmp_path, "unit: in\n" + SQUARE)
    status, out, err = run("tape", path)
    assert (status, err) == (0, "")
    assert "A to C" in out
    assert "11 5/16 in" in out
    status, out, _ = run("tape", path, "--json")
    (patch,) = json.loads(out)["patches"]
    assert patch["corners"] == [[0, 0], [pytest.approx(8 * IN, abs=1e-3), 0], *patch["corners"][2:]]
    assert (patch["agree"], patch["checked"], len(patch["measures"])) == (True, False, 5)
    assert run("tape", written(tmp_path, "unit: in\n" + SQUARE + "B D 12\n"))[0] == 1
    status, out, err = run("tape", written(tmp_path, "unit: in\nA B 8\nB C 8\n"))
    assert (status, out) == (2, "")
    assert err.startswith("wedgewright: “behind the star.tape”, “behind the star”, measures: ")


def test_the_sample_agrees_and_fits(run: Run) -> None:
    sample = Path(__file__).parents[3] / "sample_shapes" / "corner_space.tape"
    status, out, _ = run("tape", sample)
    assert status == 0
    assert "No corner is off by more than" in out
    assert run("fit", sample)[0] in (0, 1)
