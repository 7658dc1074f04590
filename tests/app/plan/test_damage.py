"""Promise 10: a plan of 50 kB cut off anywhere, or with one bit turned over, is refused or the same plan."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest

from app.plan import plan_file
from app.plan.model import Plan
from app.plan.plan_file import PlanFileError, encode, read_plan
from tests.app.plan.samples import small_plan, square


def large_plan() -> bytes:
    """50 kB: the small plan, and squares."""
    small = small_plan()
    more = tuple(square(f"Square {number}") for number in range(60))
    data = encode(Plan(title=small.title, unit_style=small.unit_style, patches=(*small.patches, *more)))
    assert 45_000 < len(data) < 75_000
    return data


def outcomes(folder: Path, damaged: Iterable[bytes]) -> Counter[str]:
    """How often each was refused and read; fails where another plan was read."""
    path = folder / "given.wedgeplan"
    sound = large_plan()
    path.write_bytes(sound)
    plan = read_plan(path)
    counts: Counter[str] = Counter()
    for data in damaged:
        path.write_bytes(data)
        try:
            assert read_plan(path) == plan, "another plan, and nothing was said"
            counts["identical"] += 1
        except PlanFileError as error:
            counts["refused" if str(error).startswith("“given.wedgeplan”") else "without its name"] += 1
    assert not counts["without its name"]
    return counts


def cuts(lengths: Iterable[int]) -> Iterable[bytes]:
    data = large_plan()
    return (data[:length] for length in lengths)


def flips(bits: Iterable[int]) -> Iterable[bytes]:
    data = large_plan()
    return (data[: bit // 8] + bytes([data[bit // 8] ^ 1 << bit % 8]) + data[bit // 8 + 1 :] for bit in bits)


def test_some_cuts_and_flips(tmp_path: Path) -> None:
    size = len(large_plan())
    chance = random.Random(10)
    counts = outcomes(tmp_path, cuts([*chance.sample(range(size), 120), size - 1]))
    assert counts["refused"] >= 120
    assert outcomes(tmp_path, flips(chance.sample(range(8 * size), 200)))["refused"] > 190


@pytest.mark.long
def test_every_cut(tmp_path: Path) -> None:
    size = len(large_plan())
    counts = outcomes(tmp_path, cuts(range(size + 1)))
    print(counts)
    assert counts["identical"] <= 2, "without its last line break"


@pytest.mark.long
@pytest.mark.parametrize("eighth", range(8))
def test_every_flipped_bit(eighth: int, tmp_path: Path) -> None:
    print(outcomes(tmp_path, flips(range(eighth, 8 * len(large_plan()), 8))))


def test_without_the_checksum_a_changed_digit_is_seen_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plan_file, "_checksum", lambda version, body: "0")
    at = large_plan().index(b"203.2")
    with pytest.raises(AssertionError, match="another plan"):
        outcomes(tmp_path, flips([8 * at]))
