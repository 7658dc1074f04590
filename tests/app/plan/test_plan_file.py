from __future__ import annotations

import itertools
import json
import os
import random
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from app.plan import json_text, plan_file
from app.plan.atomic import previous_path
from app.plan.model import Plan
from app.plan.plan_file import (
    MIGRATIONS,
    VERSION,
    ChangedOutside,
    PlanFileError,
    encode,
    migrate,
    read_plan,
    write_plan,
)
from geometry import Settings, WedgewrightError
from geometry.units import LengthStyle
from tests.app.plan.samples import plans, small_plan, square

CORPUS = Path(__file__).parents[4] / "shared" / "corpora" / "json"
"""Lies beside the checkout; not part of it."""


def read_bytes(folder: Path, data: bytes, **options: bool) -> Plan:
    path = folder / "given.wedgeplan"
    path.write_bytes(data)
    return read_plan(path, **options)


def refusal(folder: Path, data: bytes, **options: bool) -> str:
    """The one sentence with which ``data`` is refused."""
    with pytest.raises(PlanFileError) as caught:
        read_bytes(folder, data, **options)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert sentence.startswith("“given.wedgeplan”")
    assert "; " in sentence, "says what to do"
    return sentence


def changed(change: Any, plan: Plan | None = None) -> bytes:
    """The file of a plan after ``change`` was done to its JSON, with the checksum made right again."""
    whole = json.loads(encode(plan or small_plan()))
    change(whole)
    if isinstance(whole.get("plan"), dict):
        whole["checksum"] = plan_file._checksum(whole.get("wedgeplan"), whole["plan"])
    return json.dumps(whole).encode()


# --- round trip -------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(plan=plans())
def test_what_is_written_is_read_back_exactly(tmp_path: Path, plan: Plan) -> None:
    path = tmp_path / "plan.wedgeplan"
    write_plan(path, plan)
    again = read_plan(path)
    assert again == plan
    assert encode(again) == encode(plan)  # every bit of every float
    # A reader that is not ours: the standard library, field by field.
    body = json.loads(path.read_text(encoding="utf-8"))["plan"]
    assert [tuple(map(tuple, p["outline"])) for p in body["patches"]] == [p.outline for p in plan.patches]
    assert body["title"] == plan.title


def test_every_setting_is_written_so_that_other_defaults_change_no_old_plan() -> None:
    written = json.loads(encode(small_plan()))["plan"]["patches"][0]["settings"]
    assert set(written) == set(Settings.__dataclass_fields__)


def test_the_unit_that_an_old_plan_holds_is_kept_and_a_new_one_holds_none(tmp_path: Path) -> None:
    assert "unit_style" not in json.loads(encode(Plan(patches=(square(),))))["plan"]
    old = Plan(patches=(square(),), unit_style=LengthStyle.SIXTEENTHS)
    assert json.loads(encode(old))["plan"]["unit_style"] == "sixteenths"
    assert read_bytes(tmp_path, encode(old)).unit_style is LengthStyle.SIXTEENTHS


def test_how_cloth_and_thread_look_is_written_where_it_was_chosen(tmp_path: Path) -> None:
    names = {"cloth", "thread", "thread_width"}
    assert not names & set(json.loads(encode(Plan(patches=(square(),))))["plan"]["patches"][0])
    chosen = square(cloth="#1A2B3C", thread="#F0F0F0", thread_width=0.45)
    data = encode(Plan(patches=(chosen,)))
    assert names <= set(json.loads(data)["plan"]["patches"][0])
    assert read_bytes(tmp_path, data).patches[0] == chosen


def test_the_layout_of_the_text_is_free(tmp_path: Path) -> None:
    whole = json.loads(encode(small_plan()))
    for data in (
        json.dumps(whole, indent=3).encode(),
        json.dumps(dict(reversed(whole.items()))).encode(),
        b"\xef\xbb\xbf" + encode(small_plan()),
        encode(small_plan()).replace(b"\n", b"\r\n"),
    ):
        assert read_bytes(tmp_path, data) == small_plan()


# --- damage -----------------------------------------------------------------------------------------


def test_every_truncation_is_refused(tmp_path: Path) -> None:
    data = encode(Plan(title="T", patches=(square(),)))
    whole = len(data.rstrip())
    for length in range(whole):
        refusal(tmp_path, data[:length])
    for length in range(whole, len(data) + 1):
        assert read_bytes(tmp_path, data[:length]).title == "T"


def _flipped(data: bytes, bit: int) -> bytes:
    flipped = bytearray(data)
    flipped[bit // 8] ^= 1 << bit % 8
    return bytes(flipped)


def _flips_are_seen(folder: Path, bits: list[int]) -> None:
    plan = small_plan()
    data = encode(plan)
    path = folder / "flipped.wedgeplan"
    outcomes = set()
    for bit in bits:
        path.write_bytes(_flipped(data, bit))
        try:
            assert encode(read_plan(path)) == data
            outcomes.add("identical")
        except ChangedOutside:
            outcomes.add("changed")
        except PlanFileError:
            outcomes.add("refused")
    assert outcomes >= {"changed", "refused"}


def test_flipped_bits_are_refused_or_the_plan_is_identical(tmp_path: Path) -> None:
    bits = len(encode(small_plan())) * 8
    _flips_are_seen(tmp_path, random.Random(2).sample(range(bits), 800))


@pytest.mark.long
def test_every_flipped_bit_is_refused_or_the_plan_is_identical(tmp_path: Path) -> None:
    _flips_are_seen(tmp_path, list(range(len(encode(small_plan())) * 8)))


def test_random_bytes_raise_only_our_error(tmp_path: Path) -> None:
    data = encode(small_plan())
    chance = random.Random(5)
    path = tmp_path / "mutated.wedgeplan"
    sentences = set()
    snippets = [b"[", b"}", b'"', b"1e999", b"-0", b"null", b"\\u0000", b"\xff", b"\x00", b"NaN", b'"name": ']
    for _ in range(800):
        mutant = bytearray(data)
        for _ in range(chance.randint(1, 3)):
            at = chance.randrange(len(mutant))
            mutant[at : at + chance.choice([0, 0, 1, 7, 200])] = chance.choice(snippets)
        path.write_bytes(mutant)
        for accept in (False, True):
            try:
                read_plan(path, accept_changed=accept)
            except PlanFileError as error:
                sentences.add(str(error))
    assert len(sentences) > 20
    assert not any("\n" in sentence for sentence in sentences)


# --- changed outside --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "edit",
    [
        lambda text: text.replace("203.2", "203.3", 1),
        lambda text: text.replace('"checksum": "', '"checksum": "0'),
        lambda text: text.replace('"repeats": 12', '"repeats": 13'),
        lambda text: "\n".join(line for line in text.split("\n") if "checksum" not in line),
    ],
)
def test_a_plan_edited_by_hand_opens_only_after_asking(tmp_path: Path, edit: Any) -> None:
    text = encode(small_plan()).decode()
    edited = edit(text)
    assert edited != text
    with pytest.raises(ChangedOutside, match=r"“given.wedgeplan”: changed outside.*; open it as changed"):
        read_bytes(tmp_path, edited.encode())
    plan = read_bytes(tmp_path, edited.encode(), accept_changed=True)
    assert len(plan.patches) == 2


def test_accepting_a_change_accepts_no_damage(tmp_path: Path) -> None:
    for wrong in (b"NaN", b'"wide"', b"1e308"):
        refusal(tmp_path, encode(small_plan()).replace(b"203.2", wrong, 1), accept_changed=True)


# --- wrong values, with their place -----------------------------------------------------------------


def _set(*path: str | int, to: Any) -> Any:
    def change(whole: Any) -> None:
        for step in path[:-1]:
            whole = whole[step]
        whole[path[-1]] = to

    return change


def _drop(*path: str | int) -> Any:
    def change(whole: Any) -> None:
        for step in path[:-1]:
            whole = whole[step]
        del whole[path[-1]]

    return change


BOW_TIE = [[0, 0], [9, 9], [9, 0], [0, 9]]
FIRST = ("plan", "patches", 0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (_set(*FIRST, "outline", 2, 1, to="x"), "patch 1 “Square”, outline, point 3, y: a number belongs"),
        (_set(*FIRST, "outline", 2, to=[1.0]), "“Square”, outline, point 3: 2 values belong here, not 1"),
        (_set("plan", "patches", 1, "holes", 0, 2, 0, to=None), "hole 1, point 3, x: .*, not nothing"),
        (_set(*FIRST, "outline", to={}), "patch 1 “Square”, outline: a list belongs here, not a group"),
        (_drop(*FIRST, "name"), "patch 1: “name” is missing"),
        (_set(*FIRST, "colour", to="red"), "patch 1 “Square”: “colour” is not part of a plan"),
        (_set(*FIRST, "settings", "gap", to=-1.0), "patch 1 “Square”, gap: -1 is too small; give at least 0"),
        (_set(*FIRST, "settings", "gap", to="1/4"), "patch 1 “Square”, settings, gap: a number.*, not text"),
        (_set(*FIRST, "settings", "gop", to=1.0), "patch 1 “Square”, settings: there is no setting “gop”"),
        (_set(*FIRST, "settings", "side_spans", to=[["A", 0]]), "patch 1 “Square”, side spans: 0 spans"),
        (_set(*FIRST, "repeats", to=0), "patch “Square”: 0 repeats are too few"),
        (_set(*FIRST, "repeats", to=1.5), "repeats: a whole number belongs here, not a number"),
        (_set(*FIRST, "repeats", to=10**9), "patch “Square”: 1000000000 repeats are too many"),
        (_set(*FIRST, "repeats", to=True), "repeats: a whole number belongs here, not true or false"),
        (_set(*FIRST, "name", to=""), "patch 1 “”: a patch needs a name"),
        (_set(*FIRST, "anchors", to=[]), "patch “Square”: it has no anchor"),
        (_set(*FIRST, "anchors", 0, to=[300.0, 5.0]), "patch “Square”: the anchor at x 300, y 5 mm lies"),
        (_set("plan", "patches", 1, "anchors", 1, to=[-1.0, 5.0]), "anchor 2: the anchor at x -1, y 5 mm"),
        (_set("plan", "patches", 1, "anchors", 0, to=[51.0, 55.0]), "anchor 1: the anchor at x 51, y 55 mm"),
        (_set(*FIRST, "outline", 1, to=[20000.0, 0.0]), "patch “Square”, the outline.* is 20 m wide"),
        (_set(*FIRST, "outline", to=BOW_TIE), "patch “Square”.*falls into 2 parts"),
        (_set(*FIRST, "outline", to=[[0, 0], [9, 9]]), "patch “Square”, .*three"),
        (_set("plan", "patches", 1, "name", to="Square"), "patch “Square”: two patches have this name"),
        (_set("plan", "unit_style", to="ells"), "unit style: “ells” is none of the possible values"),
        (_set("plan", "title", to="a\u0000b"), "character 2 of the title"),
        (_set("plan", to=[]), "the plan itself is missing"),
        (_drop("wedgeplan"), "this is no plan"),
        (_set("wedgeplan", to="1"), "the version is not 1"),
        (_set("wedgeplan", to=0), "the version is not 1"),
        (_set("wedgeplan", to=1.0), "the version is not 1"),
        (_set("wedgeplan", to=True), "the version is not 1"),
        (_set("author", to="me"), "“author” is not part of a plan file"),
    ],
)  # fmt: skip
def test_a_wrong_value_is_refused_with_its_place(tmp_path: Path, change: Any, words: str) -> None:
    data = changed(change)
    with pytest.raises(PlanFileError, match=words):
        read_bytes(tmp_path, data)
    refusal(tmp_path, data, accept_changed=True)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("203.2", "NaN", "line 4, column 45: .*“NaN” is no value"),
        ("203.2", "-Infinity", "line 4, column 45: .*“-Infinity” is no value"),
        ("203.2", "1e400", "line 4, column 45: .*this number is too large"),
        ("203.2", "-1e400", "line 4, column 45: .*this number is too large"),
        ("203.2", "9" * 5000, "line 4, column 45: .*this number is too large"),
        ("203.2", "9" * 350, "point 2, x: the number is too large"),
        ("203.2", "1e308", "1e\\+305 m wide"),
        ("203.2", "[" * 100_000, "line 4, column 103: .*too many brackets"),
        ("203.2", "[" * 100_000 + "]" * 100_000, "line 4, column 103: .*too many brackets"),
        ("203.2", "0x10", "line 4, column 46: "),
        ("203.2", "01.5", "line 4, column 46: "),
        (
            '"repeats": 1}',
            '"repeats": 1, "repeats": 1}',
            "line 4, column [0-9]+: .*“repeats” stands here a second",
        ),
        ('"repeats": 1}', '"repeats": 1, "\\u0072epeats": 2}', "“repeats” stands here a second"),
        ('"Square"', '"\\ud800"', "line 4, column 10: .*half a character"),
        ('"Square"', '"\\udc00\\ud800"', "line 4, column 10: .*half a character"),
        ('"Square"', "'Square'", "line 4, column 10: "),
        ('"Square"', '"Squ\nare"', "line 4, column 14: "),
    ],
)
def test_a_flaw_of_the_text_is_refused_with_line_and_column(
    tmp_path: Path, old: str, new: str, words: str
) -> None:
    text = encode(small_plan()).decode()
    assert old in text
    with pytest.raises(PlanFileError, match=words):
        read_bytes(tmp_path, text.replace(old, new, 1).encode())


def test_a_name_that_looks_like_a_flaw_is_none(tmp_path: Path) -> None:
    plan = Plan(patches=(square("NaN 1e999 [[[ \\ud800 \" ' , : 日本"), square("b" * 500), square("9" * 500)))
    assert read_bytes(tmp_path, encode(plan)) == plan
    escaped = json.dumps(json.loads(encode(plan)), ensure_ascii=True).encode()
    assert read_bytes(tmp_path, escaped) == plan


def test_in_a_text_too_long_to_look_through_a_flaw_is_refused_without_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(json_text, "_MAX_SCAN", 1000)
    for flaw in ("NaN", "1e400", "9" * 500, '{"a": 1, "a": 1}', "[" * 100_000):
        data = encode(small_plan()).replace(b"203.2", flaw.encode(), 1)
        assert "numbers, names or brackets that no plan has" in refusal(tmp_path, data)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32", "latin-1"])
def test_another_encoding_is_refused(tmp_path: Path, encoding: str) -> None:
    text = encode(Plan(patches=(square("Nähstück"),))).decode()
    assert "damaged or no plan: " in refusal(tmp_path, text.encode(encoding))


def test_limits_come_before_parsing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def parse(_: bytes) -> None:
        raise AssertionError("parsed")

    monkeypatch.setattr(plan_file, "parse_json", parse)
    nine_million = b'{"wedgeplan":1,"plan":{"patches":[{"outline":[' + b"[1,1]," * 9_000_000
    assert "larger than any plan" in refusal(tmp_path, nine_million)
    assert "larger than any plan" in refusal(tmp_path, b"[" + b"0," * 2_000_001)
    assert "larger than any plan" in refusal(tmp_path, b" " * (plan_file.MAX_BYTES + 1))


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere such a file might fill the disk")
def test_of_a_file_larger_than_memory_only_as_much_is_read_as_a_plan_may_have(tmp_path: Path) -> None:
    path = tmp_path / "given.wedgeplan"
    path.touch()
    os.truncate(path, 1 << 38)  # takes no room: nothing was written
    with pytest.raises(PlanFileError, match="larger than any plan"):
        read_plan(path)


def test_no_file_is_written_that_could_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "plan.wedgeplan"
    write_plan(path, small_plan())
    before = path.read_bytes()
    monkeypatch.setattr(plan_file, "MAX_COMMAS", 50)
    with pytest.raises(
        PlanFileError, match=r"“plan\.wedgeplan”: not saved: the plan has more than a million"
    ):
        write_plan(path, small_plan())
    assert path.read_bytes() == before


# --- what is no plan file ---------------------------------------------------------------------------


def test_no_file_a_folder_a_pipe_and_a_device(tmp_path: Path) -> None:
    with pytest.raises(PlanFileError, match=r"“none\.wedgeplan”: there is no such file; look"):
        read_plan(tmp_path / "none.wedgeplan")
    with pytest.raises(PlanFileError, match="this is a folder; choose"):
        read_plan(tmp_path)
    with pytest.raises(PlanFileError, match="cannot be read"):
        read_plan(Path("nul\0"))
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        with pytest.raises(PlanFileError, match="a device or a pipe"):
            read_plan(tmp_path / "pipe")
        with pytest.raises(PlanFileError, match="a device or a pipe"):
            read_plan(Path(os.devnull))


def test_a_refusal_points_to_the_version_before(tmp_path: Path) -> None:
    path = tmp_path / "quilt.wedgeplan"
    write_plan(path, small_plan())
    write_plan(path, Plan(title="later"))
    assert read_plan(previous_path(path)) == small_plan()
    path.write_bytes(b"{")
    with pytest.raises(PlanFileError, match=r"open the version before it, “quilt\.wedgeplan~”"):
        read_plan(path)


def test_a_newer_version_is_refused_named_and_untouched(tmp_path: Path) -> None:
    path = tmp_path / "newer.wedgeplan"
    path.write_bytes(b'{"wedgeplan": 7, "plan": "in a form that nobody knows yet", "more": [1, 2]}')
    before = path.read_bytes(), path.stat().st_mtime_ns
    with pytest.raises(PlanFileError, match=r"plan version 7; this one reads up to 1\); update Wedgewright"):
        read_plan(path, accept_changed=True)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before


# --- versions ---------------------------------------------------------------------------------------


def test_the_steps_have_no_gaps() -> None:
    assert sorted(MIGRATIONS) == list(range(1, VERSION))


def test_steps_are_taken_in_order_from_the_file_s_version_on() -> None:
    steps = {
        number: lambda body, number=number: {**body, "steps": [*body["steps"], number]}
        for number in (1, 2, 3)
    }
    assert migrate({"steps": []}, 2, newest=4, steps=steps)["steps"] == [2, 3]
    assert migrate({"steps": []}, 1, newest=4, steps=steps)["steps"] == [1, 2, 3]
    assert migrate({"steps": []}, 4, newest=4, steps=steps)["steps"] == []
    with pytest.raises(KeyError):
        migrate({"steps": []}, 1, newest=4, steps={1: steps[1], 3: steps[3]})


def test_the_checksum_is_of_what_was_written_not_of_what_the_steps_made_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a Wedgewright reads it whose version is 2."""
    data = encode(small_plan())
    monkeypatch.setattr(plan_file, "VERSION", 2)
    monkeypatch.setattr(plan_file, "migrate", lambda body, version: {**body, "title": f"From {version}"})
    assert read_bytes(tmp_path, data).title == "From 1"
    with pytest.raises(ChangedOutside):
        read_bytes(tmp_path, data.replace(b'"wedgeplan": 1', b'"wedgeplan": 2'))


def test_a_file_of_version_1_opens_for_ever(tmp_path: Path) -> None:
    """Kept as it was first written; never to be changed."""
    text = (
        '{"wedgeplan": 1,\n"checksum": "CHECKSUM",\n'
        '"plan": {"title": "First", "unit_style": "sixteenths", "patches": [\n'
        '{"name": "Triangle", "outline": [[0.0, 0.0], [100.0, 0.0], [0.0, 80.5]], "holes": [], '
        '"anchors": [[0.0, 0.0]], "settings": {"edge_margin": 3.0}, "repeats": 2}\n]}}\n'
    )
    # By sha256sum, over [1,{"patches":[{"anchors":[[0.0,0.0]],…}],"title":"First","unit_style":"sixteenths"}]
    checksum = "70930f4d519dec920fb41e94d81d6328a2a55ed05fe9d03c7950d0625b717997"
    plan = read_bytes(tmp_path, text.replace("CHECKSUM", checksum).encode())
    assert plan.title == "First"
    assert plan.unit_style is LengthStyle.SIXTEENTHS
    assert plan.patches[0].outline == ((0.0, 0.0), (100.0, 0.0), (0.0, 80.5))
    assert plan.patches[0].settings == Settings(edge_margin=3.0)


# --- the collection of difficult JSON ---------------------------------------------------------------

needs_corpus = pytest.mark.skipif(not CORPUS.is_dir(), reason=f"no collection of JSON files at {CORPUS.name}")


@needs_corpus
def test_every_file_of_the_collection_is_refused(tmp_path: Path) -> None:
    expected = json.loads((CORPUS / "expected.json").read_text())
    assert len(expected) > 30
    for name, entry in expected.items():
        assert entry["expect"] == "refuse"
        sentence = refusal(tmp_path, (CORPUS / name).read_bytes())
        if name.startswith("y_"):
            assert "no plan" in sentence, name
        if name.startswith("n_"):
            assert "damaged or no plan" in sentence, name
            assert "line " in sentence or "empty" in sentence, name


@needs_corpus
def test_every_damaged_text_of_the_collection_spoils_a_good_plan(tmp_path: Path) -> None:
    good = encode(small_plan())
    names = sorted(path for path in CORPUS.glob("n_*.json"))
    assert len(names) > 15
    for path, value in itertools.product(names, [b'"Square"', b"203.2", b'"cm"', b"[]"]):
        assert value in good
        sentence = refusal(tmp_path, good.replace(value, path.read_bytes(), 1))
        assert "line " in sentence, path.name


def test_errors_are_of_the_one_family() -> None:
    assert issubclass(ChangedOutside, PlanFileError)
    assert issubclass(PlanFileError, WedgewrightError)
