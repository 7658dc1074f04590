"""``wedgewright leftover``: blocks as drawn and placed in rows, the plan it writes, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from app.plan.plan_file import read_plan
from tests.app.calls import Run

IN = 25.4
TOP = "unit: in\nname: Top\n0 0\n40 0\n40 20\n0 20\n"
DRAWN = f"{TOP}\nname: Left\n5 5\n15 5\n15 15\n5 15\n\nname: Right\n25 5\n35 5\n35 15\n25 15\n"
BLOCK = "unit: in\n0 0\n10 0\n12 6\n10 12\n0 12\n"


def written(folder: Path, text: str) -> Path:
    path = folder / "blocks.txt"
    path.write_text(text)
    return path


def test_blocks_as_they_are_drawn(run: Run, tmp_path: Path) -> None:
    status, out, err = run("leftover", written(tmp_path, DRAWN), "--json")
    assert (status, err) == (0, "")
    (space,) = json.loads(out)["spaces"]
    assert space["area"] == pytest.approx((800 - 200) * IN**2)
    assert (len(space["holes"]), len(space["places"])) == (2, 1)


def test_another_outline_can_be_the_frame(run: Run, tmp_path: Path) -> None:
    status, _, err = run("leftover", written(tmp_path, DRAWN), "--frame", "Left")
    assert status == 2
    assert "the blocks leave no space" in err
    assert "no outline “Roof”" in run("leftover", written(tmp_path, DRAWN), "--frame", "Roof")[2]


def test_a_block_in_rows_gives_a_plan_with_repeats(run: Run, tmp_path: Path) -> None:
    """Each block has a tip on its right; above and below the tip something is left."""
    source, plan = written(tmp_path, BLOCK), tmp_path / "top.wedgeplan"
    status, out, err = run("leftover", source, "--rows", 3, "--columns", 4, "-o", plan, "--set", "gap=3/8in")
    assert (status, err) == (0, "")
    assert "Space 1" in out
    # From a tip down to the next one of its column runs one space; half ones at the top and the bottom.
    kept = read_plan(plan)
    assert [(patch.repeats, len(patch.outline)) for patch in kept.patches] == [(8, 3), (8, 3)]
    area = sum(patch.repeats * patch.patch().polygon.area for patch in kept.patches)
    assert area == pytest.approx(12 * 12 * IN**2)
    assert [patch.settings.gap for patch in kept.patches] == pytest.approx([0.375 * IN] * 2)


def test_turned_blocks_meet_tip_to_tip(run: Run, tmp_path: Path) -> None:
    call = ("leftover", written(tmp_path, BLOCK), "--rows", 2, "--columns", 2, "--turns", "0 180", "--json")
    spaces = json.loads(run(*call)[1])["spaces"]
    # Each pair of tips leaves a kite of two triangles; in two rows one whole and two halves.
    assert sorted(len(space["places"]) for space in spaces) == [1, 2]
    assert sum(len(space["places"]) * space["area"] for space in spaces) == pytest.approx(4 * 12 * IN**2)


def test_a_frame_of_its_own_size(run: Run, tmp_path: Path) -> None:
    call = ("leftover", written(tmp_path, BLOCK), "--rows", 1, "--columns", 1, "--frame", "20x30in", "--json")
    (space,) = json.loads(run(*call)[1])["spaces"]
    assert space["area"] == pytest.approx((600 - 132) * IN**2)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ((), "put frame and blocks into it"),
        (("--rows", "3"), "--columns: nothing is no number"),
        (("--rows", "0", "--columns", "2"), "--rows: 0 is no number"),
        (("--rows", "200", "--columns", "200"), "more than 10000 blocks"),
        (("--rows", "2", "--columns", "2", "--step", "wide"), "--step"),
        (("--rows", "2", "--columns", "2", "--turns", "left"), "--turns: “left” is no list of turns"),
        (("--rows", "2", "--columns", "2", "-o", "out.svg"), "end the name in .wedgeplan"),
    ],
)
def test_what_cannot_be_says_what_to_do(
    run: Run, tmp_path: Path, options: tuple[str, ...], words: str
) -> None:
    status, out, err = run("leftover", written(tmp_path, BLOCK), *options)
    assert (status, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1


def test_blocks_that_lie_over_each_other_are_told(run: Run, tmp_path: Path) -> None:
    status, _, err = run(
        "leftover", written(tmp_path, BLOCK), "--rows", 1, "--columns", 2, "--step", "11x12in"
    )
    assert status == 0
    assert "1 pair of blocks lie over each other: row 1 column 1 and row 1 column 2" in err
    err = run("leftover", written(tmp_path, DRAWN.replace("25 5", "14 5")))[2]
    assert "1 pair of blocks lie over each other: “Left” and “Right”" in err
