"""Promise 20: the short form of ``python -m tests.fuzz``, and every file that ever got through."""

from __future__ import annotations

import os
import random
import sys
import time
from pathlib import Path

import pytest

from tests.fuzz import judge as judging
from tests.fuzz.judge import CRASHERS, VARIANTS, Escape, apart, judge, load, mutant, run, smaller
from tests.fuzz.mutate import damaged
from tests.fuzz.seeds import ENDINGS, IMPORTERS, SHORT, WORDS, dxf, seeds

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="memory and processes as Linux has them")

IN_THE_SUITE = 200
"""Mutations of each importer, some milliseconds each; 2,000 with ``-m long``, more by the command."""


def fails(importer: str, count: int, folder: Path, largest: int, seed: int) -> str:
    """What escaped, with the call that shows it again."""
    done = run(importer, count, folder, seed=seed, largest=largest)
    assert done.done == count
    assert done.read, "some of what is damaged a little can still be read"
    return "\n".join(
        f"{often} x {kind}: python -m tests.fuzz --importer {importer} --seed {seed} --largest {largest} "
        f"--count {first + 1}\n{words}"
        for kind, (often, first, words) in done.escapes.items()
    )


@pytest.fixture(autouse=True)
def patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """Here only what goes on for ever is too slow; what the promise allows is measured by the command."""
    monkeypatch.setattr(judging, "CPU", 60.0)
    monkeypatch.setattr(judging, "CLOCK", 240)


@pytest.mark.parametrize("importer", IMPORTERS)
def test_damaged_files_are_read_or_refused(importer: str, tmp_path: Path) -> None:
    found = fails(importer, IN_THE_SUITE, tmp_path, SHORT, seed=1)
    assert not found, found


@pytest.mark.long
@pytest.mark.parametrize("importer", IMPORTERS)
def test_two_thousand_damaged_files_are_read_or_refused(importer: str, tmp_path: Path) -> None:
    found = fails(importer, 2000, tmp_path, judging.LONG, seed=2)
    assert not found, found


@pytest.fixture(scope="module", autouse=True)
def loaded(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Once, and not in each of the processes."""
    for importer in IMPORTERS:
        load(importer, tmp_path_factory.mktemp("warm"))


@pytest.mark.parametrize("path", sorted(CRASHERS.iterdir()), ids=lambda path: path.name)
def test_what_once_got_through_is_read_or_refused(path: Path, tmp_path: Path) -> None:
    importer = path.name.split("-")[0]
    for variant in range(VARIANTS[importer]):
        answer = apart(importer, path.read_bytes(), tmp_path, variant)
        assert not isinstance(answer, Escape), answer


def _lines(ends: list[tuple[float, float, float, float]]) -> bytes:
    return dxf(*(f"LINE|8=L|10={x}|20={y}|11={u}|21={v}" for x, y, u, v in ends))


CROWDS = {
    "ends close together, none the same": lambda: _lines([(k * 1e-6, 0, k, 90) for k in range(5000)]),
    "ends each near the next": lambda: _lines([(k * 0.09, 0, k * 0.09, 50) for k in range(4000)]),
    "a grid of crossings": lambda: _lines(
        [(k, -9, k, 999) for k in range(500)] + [(-9, k, 999, k) for k in range(500)]
    ),
}
"""Loose lines that once took minutes; too long to be kept as files."""


@pytest.mark.parametrize("words", CROWDS)
def test_crowds_of_loose_lines_are_no_endless_work(words: str, tmp_path: Path) -> None:
    answer = apart("dxf", CROWDS[words](), tmp_path, 0)
    assert not isinstance(answer, Escape), answer


# --- the command itself -----------------------------------------------------------------------------


@pytest.mark.parametrize("importer", IMPORTERS)
def test_the_same_number_is_the_same_damage_and_no_two_are_alike(importer: str) -> None:
    once = [mutant(importer, 3, number, SHORT) for number in range(60)]
    assert once == [mutant(importer, 3, number, SHORT) for number in range(60)]
    assert len({data for data, _ in once}) > 40
    sound = seeds(importer, SHORT)
    assert len(sound) >= 3
    assert sum(damaged(data, random.Random(1), sound, WORDS[importer]) not in sound for data in sound) > 1


def _planted(monkeypatch: pytest.MonkeyPatch, do: object) -> None:
    monkeypatch.setattr(judging, "_read", do)


def test_every_kind_of_escape_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the judge lets pass would never be found: each is planted."""
    import warnings

    from geometry import WedgewrightError

    path = tmp_path / "pond.svg"

    def another(*_: object) -> None:
        raise KeyError("another error")

    def without_a_name(*_: object) -> None:
        raise WedgewrightError("what", where="somewhere", do="do")

    def with_a_name(*_: object) -> None:
        raise WedgewrightError("what", where=f"“{path.name}”", do="do")

    def slow(*_: object) -> None:
        end = time.process_time() + 0.05
        while time.process_time() < end:
            pass

    cases = {
        "KeyError": another,
        "no sentence": without_a_name,
        "warning": lambda *_: warnings.warn("odd", stacklevel=1),
        "printed": lambda *_: print("odd"),
        "slow": slow,
        "MemoryError": lambda *_: bytearray(1 << 60),
    }
    monkeypatch.setattr(judging, "CPU", 0.04)
    for kind, do in cases.items():
        _planted(monkeypatch, do)
        answer = judge("svg", path, 0)
        assert isinstance(answer, Escape), kind
        assert answer.kind.startswith(kind)
    _planted(monkeypatch, with_a_name)
    assert judge("svg", path, 0) is False
    _planted(monkeypatch, lambda *_: None)
    assert judge("svg", path, 0) is True


def test_a_worker_that_dies_or_hangs_is_an_escape_and_the_rest_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sound = mutant("text", 0, 5)[0]
    monkeypatch.setattr(judging, "CLOCK", 1)

    def read(importer: str, path: Path, variant: int) -> None:
        if path.read_bytes() == sound:
            os.kill(os.getpid(), 9)

    _planted(monkeypatch, read)
    done = run("text", 10, tmp_path)
    assert (done.done, done.read, done.escaped) == (10, 9, 1)
    assert done.escapes["SIGKILL"][1] == 5
    _planted(monkeypatch, lambda *_: time.sleep(5))
    answer = apart("text", b"", tmp_path, 0)
    assert isinstance(answer, Escape)
    assert answer.kind == "SIGALRM"


def test_what_is_kept_is_small() -> None:
    data = bytes(range(256)) * 4 + b"NEEDLE" + bytes(range(256)) * 4
    assert smaller(data, lambda less: b"NEEDLE" in less) == b"NEEDLE"


@pytest.mark.parametrize("importer", IMPORTERS)
def test_seeds_are_sound(importer: str, tmp_path: Path) -> None:
    """Damage to what is refused anyway would show nothing."""
    path = tmp_path / f"seed{ENDINGS[importer]}"
    sound = seeds(importer, SHORT)[:9]
    read = 0
    for data in sound:
        path.write_bytes(data)
        read += any(judge(importer, path, variant) is True for variant in range(VARIANTS[importer]))
    assert read >= {"plan": 1, "photo": 7, "tape": 2}.get(importer, len(sound) - 1)


def test_endings_are_known() -> None:
    assert set(ENDINGS) == set(IMPORTERS) == set(VARIANTS) == set(WORDS)
