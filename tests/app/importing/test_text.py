"""Text files: what is read, what is refused with its place, and that nothing else gets out."""

from __future__ import annotations

import os
import re
import warnings
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.importing import CrossedOutlineError, Imported, ImportingError, UnitMissingError, import_file
from app.importing.source import MAX_CORNERS, MAX_LINES, MAX_OUTLINES
from app.importing.text import MAX_BYTES
from geometry import WedgewrightError

SQUARE = "0 0\n4 0\n4 4\n0 4\n"
BOW_TIE = "0 0\n4 4\n4 0\n0 4\n"
IN = 25.4


def load(
    folder: Path, content: str | bytes, unit: str | None = "mm", split: bool = False, name: str = "a b.txt"
) -> Imported:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return import_file(path, unit, split)


def corners(imported: Imported, number: int = 0) -> list[list[float]]:
    return imported.patches[number][1].outline.tolist()


def names(imported: Imported) -> list[str]:
    return [name for name, _ in imported.patches]


# --- corners ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "0 0\n4.5 0\n4.5 3.25\n",
        "0 0\r\n4.5 0\r\n4.5 3.25",
        "0 0\r4.5 0\r4.5 3.25\r",
        "\n\n  0   0  \n\t4.5 0\n4.5\u00a03.25\n\n\n",
        "0,0\n4.5,0\n4.5,3.25\n",
        "0, 0\n4.5 , 0\n4.5 ,3.25\n",
        "0;0\n4.5; 0\n4,5;3,25\n",
        "0;0;\n4.5; 0;\n4,5;3,25;\n",
        "0\t0\n4.5\t\t0\n4,5\t3,25\n",
        "0 0\n4,5 0\n4,5 3,25\n",
        "x,y\n0,0\n4.5,0\n4.5,3.25\n",
        "X; Y\n0;0\n4.5;0\n4.5;3.25\n",
        "0 0\n4.5e0 0\n+4.5 .325E+1\n",
        "0;0\n4 1/2; 0\n4½; 3-1/4\n",
        "0 0\n9/2 0\n4½ 13/4\n",
        "0 0\n4.5mm 0\n0,45cm 3.25\n",
        "unit: mm\n0 0\n4.5 0\n4.5 3.25\n",
        " Unit :MM \n\n0 0\n4.5 0\n4.5 3.25\n0 0\n",
    ],
)
def test_ways_to_write_corners(tmp_path: Path, text: str) -> None:
    imported = load(tmp_path, text)
    assert corners(imported) == [[0, 0], [4.5, 0], [4.5, 3.25]]
    assert names(imported) == ["a b"]
    assert imported.notes == ()
    assert imported.unit == "mm"


@pytest.mark.parametrize(("unit", "mm"), [("in", 25.4), ("cm", 10.0), ("mm", 1.0)])
def test_units_of_call_and_file(tmp_path: Path, unit: str, mm: float) -> None:
    for imported in (load(tmp_path, SQUARE, unit), load(tmp_path, f"unit: {unit}\n{SQUARE}", None)):
        assert corners(imported)[2] == [4 * mm, 4 * mm]
        assert imported.unit == unit
        assert imported.notes == ()


def test_the_files_unit_wins_and_that_is_said(tmp_path: Path) -> None:
    imported = load(tmp_path, "unit: cm\n" + SQUARE, "in")
    assert corners(imported)[2] == [40, 40]
    assert imported.unit == "cm"
    assert "in was not used" in imported.notes[0]


def test_a_unit_is_never_guessed(tmp_path: Path) -> None:
    for text in (SQUARE, "name: x\n" + SQUARE, "0in;0in\n4;0\n", "POLYGON((0 0,1 0,1 1))"):
        with pytest.raises(UnitMissingError) as caught:
            load(tmp_path, text, None)
        assert "state the unit with --unit in, cm or mm, or a first line 'unit: in'" in str(caught.value)


def test_numbers_with_their_own_units_need_none(tmp_path: Path) -> None:
    imported = load(tmp_path, "0in 0in\n4in 0mm\n10 cm; -4 1/2 in", None)
    # The third turns the other way round; the first corner stays the first.
    assert corners(imported) == [[0, 0], [100, -114.3], [101.6, 0]]
    assert imported.unit is None
    assert load(tmp_path, "0in 0in\n4in 0mm\n10 cm; 4 1/2 in", "cm").unit is None
    assert load(tmp_path, "unit: cm\n0in 0in\n4in 0mm\n10 cm; 4 1/2 in", None).unit == "cm"


def test_several_outlines_and_their_names(tmp_path: Path) -> None:
    text = f"unit: cm\nname: kite  one\n{SQUARE}\n\n{SQUARE}name: L\n\n{SQUARE}"
    imported = load(tmp_path, text, None)
    assert names(imported) == ["kite one", "patch 2", "L"]
    assert all(corners(imported, number) == corners(imported) for number in range(3))


def test_each_name_is_there_once(tmp_path: Path) -> None:
    imported = load(tmp_path, f"name: a\n{SQUARE}\nname: a\n{SQUARE}\nname: a (2)\n{SQUARE}")
    assert names(imported) == ["a", "a (2)", "a (2) (2)"]


def test_an_outline_within_another_is_a_patch_of_its_own(tmp_path: Path) -> None:
    imported = load(tmp_path, "0 0\n9 0\n9 9\n0 9\n\n1 1\n2 1\n2 2\n1 2")
    assert len(imported.patches) == 2
    assert all(not patch.holes for _, patch in imported.patches)


def test_a_repair_is_said(tmp_path: Path) -> None:
    imported = load(tmp_path, "0 0\n4 0\n4 4\n4 6\n4 4\n0 4")
    assert imported.notes == ("“a b”: repaired, compare with the file",)
    assert load(tmp_path, "0 0\n4 0\n4 0\n4 4\n0 4").notes == ()


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(3, 30), st.sampled_from([" ", ",", ";", "\t", ", "]))
def test_what_is_written_is_read(tmp_path: Path, count: int, between: str) -> None:
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    ring = np.round(np.column_stack([np.cos(angle), np.sin(angle)]) * 100 - 30, 3)
    imported = load(tmp_path, "\n".join(f"{x:.3f}{between}{y:.3f}" for x, y in ring))
    assert corners(imported) == ring.tolist()


# --- a bow-tie --------------------------------------------------------------------------------------


def test_a_bow_tie_is_refused_with_crossing_and_remedy(tmp_path: Path) -> None:
    with pytest.raises(ImportingError) as caught:
        load(tmp_path, f"{SQUARE}\nname: tie\n{BOW_TIE}")
    sentence = str(caught.value)
    assert sentence.startswith("“a b.txt”, “tie” from line 7, at 2 mm, 2 mm: ")
    assert "from corner 1 to 2 crosses the side from corner 3 to 4" in sentence
    assert isinstance(caught.value, CrossedOutlineError)
    assert "order in which they lie" in caught.value.do


def test_only_what_can_be_split_is_a_crossed_outline(tmp_path: Path) -> None:
    for text, split, kind in [
        (BOW_TIE, False, CrossedOutlineError),
        ("POLYGON((0 0,9 0,9 9,0 9),(0 4,9 4,9 5,0 5))", False, CrossedOutlineError),
        (f"{BOW_TIE}\n0 0\n1 1\n", False, CrossedOutlineError),
        (f"{BOW_TIE}\n0 0\n1 1\n", True, ImportingError),
        ("0 0\n1 1\n", False, ImportingError),
        ("0 0\n4 x\n", False, ImportingError),
    ]:
        with pytest.raises(ImportingError) as caught:
            load(tmp_path, text, split=split)
        assert type(caught.value) is kind, text


def test_a_bow_tie_can_be_split(tmp_path: Path) -> None:
    imported = load(tmp_path, f"name: tie\n{BOW_TIE}\n{SQUARE}", split=True)
    assert names(imported) == ["tie (1)", "tie (2)", "patch 2"]
    assert [patch.polygon.area for _, patch in imported.patches] == [4, 4, 16]
    assert len(imported.notes) == 2


# --- Well-Known Text --------------------------------------------------------------------------------


def test_polygon_with_holes(tmp_path: Path) -> None:
    text = "name: frame\nPOLYGON ((0 0, 9 0, 9 9, 0 9, 0 0),\n  (1 1, 2 1, 2 2, 1 1), (5 5, 6 5, 6 6))"
    imported = load(tmp_path, text, "in", name="x.wkt")
    ((name, patch),) = imported.patches
    assert name == "frame"
    assert patch.polygon.area == pytest.approx((81 - 1) * IN**2)
    assert len(patch.holes) == 2


def test_several_shapes(tmp_path: Path) -> None:
    text = (
        "unit: mm\nname: m\nmultipolygon(((0 0,1 0,1 1)), ((5 5,6 5,6 6),(5.5 5.2,5.6 5.2,5.6 5.3)))\n"
        "POLYGON((0 0,1 0,1 1)) polygon((0 0,2 0,2 2))\n\nname: c\n0 0\n1 0\n1 1\nPOLYGON((0 0,3 0,3 3))"
    )
    imported = load(tmp_path, text, None)
    assert names(imported) == ["m (1)", "m (2)", "patch 3", "patch 4", "c", "patch 6"]
    assert [len(patch.holes) for _, patch in imported.patches] == [0, 1, 0, 0, 0, 0]


@pytest.mark.parametrize(
    "text",
    [
        "POLYGON Z ((0 0 5, 4 0 5, 4 4 5, 0 0 5))",
        "POLYGON M((0 0 5, 4 0 5, 4 4 5, 0 0 5))",
        "POLYGON ZM ((0 0 5 1, 4 0 5 1, 4 4 5 1, 0 0 5 1))",
        "POLYGONZ((0 0 5, 4 0 5, 4 4 5, 0 0 5))",
        "POLYGON((0 0 5, 4 0 5, 4 4 5, 0 0 5))",
    ],
)
def test_heights_and_measures_are_left_out_and_that_is_said(tmp_path: Path, text: str) -> None:
    imported = load(tmp_path, text)
    assert corners(imported) == [[0, 0], [4, 0], [4, 4]]
    assert len(imported.notes) == 1
    assert "left out" in imported.notes[0]


number = st.one_of(st.integers(0, 9).map(str), st.sampled_from(["1.5", ".5", "2.", "1e0", "+3", "1E+1"]))
blank = st.sampled_from(["", " ", "\n", " \t "])


@st.composite
def well_known(draw: st.DrawFn) -> str:
    """A square of any size with any number of triangular holes, in any spacing."""

    def ring(points: list[tuple[str, str]]) -> str:
        return "(" + ",".join(f"{draw(blank)}{x} {y}{draw(blank)}" for x, y in [*points, points[0]]) + ")"

    size = draw(st.sampled_from(["100", "1e2", "+55.50"]))
    shell = [("0", "0"), (size, "0"), (size, size), ("0", size)]
    holes = [
        [(f"{10 * k}", f"{10 * k}"), (f"{10 * k + 4}", draw(number)), (f"{10 * k + 4}", f"{10 * k + 4}")]
        for k in range(1, draw(st.integers(1, 4)))
    ]
    body = f"{draw(blank)},{draw(blank)}".join(ring(points) for points in [shell, *holes])
    return f"{draw(st.sampled_from(['POLYGON', 'polygon ']))}{draw(blank)}({draw(blank)}{body}{draw(blank)})"


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(well_known())
def test_the_same_is_read_as_by_shapely(tmp_path: Path, text: str) -> None:
    ((_, patch),) = load(tmp_path, text, split=False).patches
    other = shapely.from_wkt(text)
    if other.is_valid:
        assert patch.polygon.equals_exact(shapely.Polygon(patch.outline, patch.holes))
        assert patch.polygon.normalize().equals_exact(other.normalize())
    else:
        assert patch.polygon.area == pytest.approx(shapely.make_valid(other, method="structure").area)


@pytest.mark.parametrize(
    ("text", "place", "says"),
    [
        ("POLYGON EMPTY", "line 1, column 9", "empty"),
        ("MULTIPOLYGON (((0 0,1 0,1 1)), EMPTY)", "line 1, column 32", "empty"),
        ("\n POLYGON((0 0,1 0\n,1 1)", "line 3, column 6", "ends within"),
        ("POLYGON", "line 1, column 8", "ends within"),
        ("POLYGON((0 0,\n1 0 1 1))", "line 2, column 1", "“1 0 1 1” is no corner of 2 numbers"),
        ("POLYGON((0 0 1 2,1 1 1 1,1 2 1 1))", "line 1, column 10", "of 2 numbers"),
        ("POLYGON Z((0 0 1,1 1,1 2 1))", "line 1, column 18", "of 3 numbers"),
        ("POLYGON((0 0,1 0,x 1))", "line 1, column 18", "“x” where “)” should be"),
        ("POLYGON((0 0,1 0,1-1 1))", "line 1, column 18", "of 2 numbers"),
        ("POLYGON((0 0,1 0,nan 1))", "line 1, column 18", "nan"),
        ("POLYGON((0 0,,1 0,1 1))", "line 1, column 14", "a corner is missing"),
        ("POLYGON(())", "line 1, column 10", "a corner is missing"),
        ("POLYGON(0 0,1 1)", "line 1, column 9", "“0” where “(” should be"),
        ("POLYGON((0 0,1 0,1 1)))", "line 1, column 23", "“)” is not one corner"),
        ("POLYGON((0 0,1 0,1 1)) and", "line 1, column 24", "“and” begins no outline"),
        ("LINESTRING(0 0,1 1)", "line 1, column 1", "“LINESTRING” begins no outline"),
        ("POLYGONS((0 0,1 0,1 1))", "line 1, column 1", "begins no outline"),
        ("GEOMETRYCOLLECTION(POLYGON((0 0,1 0,1 1)))", "line 1, column 1", "begins no outline"),
        ("POLYGON((0 0,1e400 0,1 1))", "line 1, column 8", "too large"),
        ("POLYGON((0 0,1 0,2 0))", "from line 1", "no area"),
        ("0 0\n1 0\n1 1\n\nPOLYGON((0 0,1 0))", "“patch 2” from line 5", "fewer than three"),
    ],
)
def test_well_known_text_refused(tmp_path: Path, text: str, place: str, says: str) -> None:
    with pytest.raises(ImportingError) as caught:
        load(tmp_path, text)
    assert place in caught.value.where
    assert says in caught.value.what
    assert caught.value.do
    assert caught.value.where.startswith("“a b.txt”, ")


# --- refused ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "place", "says"),
    [
        ("hello", "line 1, column 1", "“hello” begins no outline"),
        ("  \n\n", "", "holds no outline"),
        ("unit: in\n", "", "holds no outline"),
        ("name: q\n", "line 1, column 1", "no outline follows"),
        ("\n name: q\n\nname: r\n0 0\n", "line 2, column 2", "no outline follows"),
        (SQUARE + "unit: in\n", "line 5, column 1", "after an outline"),
        ("unit: in\nunit: in\n", "line 2, column 1", "second time"),
        ("unit: furlong\n", "line 1, column 1", "“furlong” is not a unit"),
        ("unit:\n", "line 1, column 1", "not a unit"),
        ("0 0\n1 0 3\n", "line 2, column 1", "“1 0 3” is not one corner"),
        ("0 0\n1,5,2,5\n", "line 2, column 1", "not one corner"),
        ("0 0\n1\n", "line 2, column 1", "not one corner"),
        ("0 0\n" + "1 " * 5000, "line 2, column 1", "not one corner"),
        ("0 0\n4 3/8 2 1/2\n", "line 2, column 1", "not one corner"),
        ("0 0\n1 nan\n", "line 2, column 3", "“nan” is not a length"),
        ("0 0\ninf 1\n", "line 2, column 1", "“inf” begins no outline"),
        ("0 0\n 1; 1/0\n", "line 2, column 5", "divides by zero"),
        ("0 0\n 1; \n", "line 2, column 2", "not one corner"),
        ("0 0\n1;;2\n", "line 2, column 1", "not one corner"),
        ("0 0\n;1;2\n", "line 2, column 1", "not one corner"),
        ("0 0\n1,,2\n", "line 2, column 1", "not one corner"),
        ("0 0\n1;2;;\n", "line 2, column 1", "not one corner"),
        ("0 0\n;\n", "line 2, column 1", "not one corner"),
        ("0 0\n1 1e999\n", "line 2, column 3", "too large"),
        ("0 0\n1 1_0\n", "line 2, column 3", "“1_0” is not a length"),
        ("0 0\n1 0\n", "“a b” from line 1", "fewer than three"),
        ("\n\n0 0\n1 0\n2 0", "“a b” from line 3", "no area"),
        ("0 0\n20000 0\n0 1", "out to 20000 mm, 0 mm", "20 m wide"),
        ('{"type": 1}', "line 1, column 1", "not a length"),
        ("0 0\n1\x002\n", "line 2, column 2", "control characters"),
    ],
)
def test_refused(tmp_path: Path, text: str, place: str, says: str) -> None:
    with pytest.raises(ImportingError) as caught:
        load(tmp_path, text)
    assert place in caught.value.where
    assert says in caught.value.what
    assert caught.value.do
    assert len(str(caught.value)) < 300
    assert str(caught.value).isprintable()


@pytest.mark.parametrize(
    ("content", "place", "says"),
    [
        (b"", "", "is empty"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "", "a PNG picture"),
        (b"\xff\xd8\xff\xe0", "", "a JPEG picture"),
        (b"PK\x03\x04abc", "", "a ZIP archive"),
        (b"{\\rtf1 0 0}", "", "formatted (RTF)"),
        (b"<!DOCTYPE html><html>", "", "a web page or XML"),
        (b"\n <?xml version='1.0'?><svg/>", "", "an SVG drawing"),
        (b"0 0\n4 \xe90", "at byte 6", "is not UTF-8 text"),
        (b"\xef\xbb\xbf0 0\n4 \xe90", "at byte 9", "is not UTF-8 text"),
        (b"\xff\xfe0\x00 \x000", "at byte 6", "is not UTF-16 text"),
        ("0 0\n1 0\n1 1".encode("utf-16-le"), "line 1, column 2", "control characters"),
    ],
)
def test_no_text(tmp_path: Path, content: bytes, place: str, says: str) -> None:
    with pytest.raises(ImportingError) as caught:
        load(tmp_path, content)
    assert caught.value.where == ("“a b.txt”, " + place if place else "“a b.txt”")
    assert says in caught.value.what
    assert caught.value.do


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    imported = load(tmp_path, f"name: Blüte 日本 🪡\n{SQUARE}".encode(encoding))
    assert names(imported) == ["Blüte 日本 🪡"]
    assert corners(imported)[2] == [4, 4]


def test_utf_16_of_the_other_order(tmp_path: Path) -> None:
    assert corners(load(tmp_path, b"\xfe\xff" + SQUARE.encode("utf-16-be")))[2] == [4, 4]


@pytest.mark.parametrize(
    ("name", "says"), [("x.jpg", ".jpg is not read"), ("x", "no ending"), (".txt", "no ending")]
)
def test_other_endings(tmp_path: Path, name: str, says: str) -> None:
    with pytest.raises(ImportingError, match=says):
        load(tmp_path, SQUARE, name=name)


@pytest.mark.parametrize("name", ["x.TXT", "x.csv", "x.Wkt", "-x.txt", "ü 日本 ' 🪡.txt", "n" * 251 + ".txt"])
def test_endings_and_odd_names(tmp_path: Path, name: str) -> None:
    assert corners(load(tmp_path, SQUARE, name=name))[2] == [4, 4]


@pytest.mark.skipif(os.name != "posix", reason="names of any bytes are found on POSIX systems only")
def test_a_name_that_is_no_text(tmp_path: Path) -> None:
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff\x0a.txt"))
    path.write_text(SQUARE)
    imported = import_file(path, "mm")
    assert names(imported) == ["��"]
    path.write_text("")
    with pytest.raises(ImportingError) as caught:
        import_file(path)
    assert str(caught.value).isprintable()
    str(caught.value).encode()


def test_what_is_no_file(tmp_path: Path) -> None:
    folder = tmp_path / "folder.txt"
    folder.mkdir()
    for path, says in [
        (folder, "is a folder"),
        (tmp_path / "none.txt", "no such file"),
        (folder / "x.txt" / "y.txt", "no such file"),
        (tmp_path / ("n" * 300 + ".txt"), "cannot be read"),
        (tmp_path / "a\0b.txt", "cannot be read"),
        (Path(), "is a folder"),
    ]:
        with pytest.raises(ImportingError, match=says):
            import_file(path, "mm")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_or_device_is_not_opened(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.txt"
    os.mkfifo(pipe)
    loop = tmp_path / "loop.txt"
    loop.symlink_to(os.devnull)
    for path in (pipe, loop):
        with pytest.raises(ImportingError, match="pipe or a device"):
            import_file(path, "mm")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all files")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    path = tmp_path / "x.txt"
    path.write_text(SQUARE)
    path.chmod(0)
    with pytest.raises(ImportingError, match="cannot be read"):
        import_file(path, "mm")


def test_what_is_too_large(tmp_path: Path) -> None:
    many = MAX_CORNERS + 1
    for content, says in [
        (b" " * (MAX_BYTES + 1), "larger than 16 MB"),
        (b"\n" * MAX_LINES, f"more than {MAX_LINES} lines"),
        (b"1 1\n" * many, f"more than {MAX_CORNERS} corners"),
        (b"POLYGON((" + b"1 1," * many + b"1 1))", f"more than {MAX_CORNERS} corners"),
        (b"POLYGON((1 1)" + b",(1 1)" * many + b")", f"more than {MAX_OUTLINES} outlines"),
        (SQUARE.encode() + (b"\n" + SQUARE.encode()) * MAX_OUTLINES, f"more than {MAX_OUTLINES} outlines"),
        (b"MULTIPOLYGON(((1 1))" + b",((1 1))" * MAX_OUTLINES, f"more than {MAX_OUTLINES} outlines"),
        (b"POLYGON((" + b"1 " * 1_000_000 + b"))", "is no corner"),
        (b"1" * 1_000_000, "not one corner"),
        (b"(" * 1_000_000, "not one corner"),
        (b"MULTIPOLYGON" + b"(" * 1_000_000, "a corner is missing|should be"),
    ]:
        with pytest.raises(ImportingError, match=says):
            load(tmp_path, content)


def ring(*corners: tuple[float, float]) -> str:
    return f"({','.join(f'{x:.6f} {y:.6f}' for x, y in corners)})"


def circle(count: int, radius: float) -> list[tuple[float, float]]:
    angles = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return list(zip(radius * np.cos(angles), radius * np.sin(angles), strict=True))


TANGLE = np.random.default_rng(5).random((400, 2)) * 100
HOLES = [ring((x, y), (x + 0.5, y), (x, y + 0.5)) for x in range(25) for y in range(25)]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (f"POLYGON({ring(*TANGLE)})", "cross or touch each other in too many places"),
        (BOW_TIE + f"\n{BOW_TIE}" * 400, "cross or touch each other in too many places"),
        (
            f"POLYGON({ring(*circle(4, 999))},{','.join(ring(*circle(4, 9 + n)) for n in range(30))})",
            "cross or touch each other in too many places",
        ),
        (f"POLYGON({ring(*circle(4000, 99))},{','.join(HOLES)},(100 0,101 0,101 1))", "too many holes"),
        ("".join(f"{x * 40:.3f}; {y * 40:.3f} mm\n" for x, y in circle(11_000, 9)), "as decimals"),
    ],
)
def test_what_would_take_too_long_is_refused(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(ImportingError, match=says) as caught:
        load(tmp_path, text, split=True)
    assert "line" in caught.value.where
    assert caught.value.do != ""


@pytest.mark.parametrize(
    ("text", "count"),
    [
        (SQUARE + f"\n{SQUARE}" * (MAX_OUTLINES - 1), MAX_OUTLINES),
        (f"POLYGON({ring(*circle(4000, 99))},{','.join(HOLES)})", 1),
        (f"POLYGON({ring(*circle(MAX_CORNERS, 999))})", 1),
        (f"{BOW_TIE}\n" * 100, 200),
    ],
)
def test_what_is_large_and_sound_is_read(tmp_path: Path, text: str, count: int) -> None:
    assert len(load(tmp_path, text, split=True).patches) == count


def test_many_of_one_name(tmp_path: Path) -> None:
    found = names(load(tmp_path, f"name: a\n{SQUARE}" * 99))
    assert found[1:] == [f"a ({number})" for number in range(2, 100)]


def test_a_wrong_unit_in_the_call(tmp_path: Path) -> None:
    with pytest.raises(ImportingError, match="“furlong” is not a unit"):
        load(tmp_path, SQUARE, "furlong")


# --- anything at all --------------------------------------------------------------------------------

GOOD = [
    f"unit: in\nname: kite\n{SQUARE}\n{BOW_TIE}",
    "unit: cm\nname: frame\nPOLYGON ((0 0, 9 0, 9 9, 0 9, 0 0), (1 1, 2 1, 2 2, 1 1))\n",
    "MULTIPOLYGON Z (((0 0 1,4 0 1,4 4 1)),((5 5 1,6 5 2,6 6 1)))\nname: c\n0;0\n4 3/8;0\n4,5;2' 1\n",
    "x,y\n0,0\n4.5,0\n4.5,3.25e1\n",
]


ODD = [b"(", b")", b",", b";", b"-", b"e", b" ", b"\t", b"\n", b"\r", b"\n\n", b"nan", b"inf", b"EMPTY"]
ODD += [b"\0", b"9" * 30, b"unit: mm\n", b"name:", b"\xc3"]


def only_the_own_error(folder: Path, content: bytes, unit: str | None, split: bool) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            imported = load(folder, content, unit, split)
        except WedgewrightError as error:
            sentence = str(error)
        else:
            assert imported.patches
            assert all(patch.polygon.is_valid for _, patch in imported.patches)
            assert len(set(names(imported))) == len(imported.patches)
            return
    assert sentence.startswith("“a b.txt”")
    assert re.search(r"; \w", sentence)
    assert "\n" not in sentence
    sentence.encode()


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.one_of(st.binary(max_size=80), st.text(max_size=60).map(lambda text: text.encode("utf-8", "replace"))),
    st.sampled_from(["in", None]),
    st.booleans(),
)
def test_any_bytes(tmp_path: Path, content: bytes, unit: str | None, split: bool) -> None:
    only_the_own_error(tmp_path, content, unit, split)


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data(), st.sampled_from(["mm", None]), st.booleans())
def test_mutated_good_files(tmp_path: Path, data: st.DataObject, unit: str | None, split: bool) -> None:
    """Bytes taken out, put in, doubled, or swapped for another file's."""
    content = data.draw(st.sampled_from(GOOD)).encode()
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(content)))
        end = data.draw(st.integers(start, min(len(content), start + 12)))
        other = data.draw(st.sampled_from(GOOD)).encode()
        put = data.draw(st.sampled_from([b"", content[start:end] * 2, other[start:end], *ODD]))
        content = content[:start] + put + content[end:]
    only_the_own_error(tmp_path, content, unit, split)
