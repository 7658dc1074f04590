"""SVG drawings as patches: their sizes, units and names, and what is said of shapes that meet."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from app.cli import main
from app.importing import ImportingError, UnitMissingError, import_file, longest_side
from tests.app.importing.svg_drawings import MM, RECT, SVG, bounds, drawing, load, patches

PX = 25.4 / 96
"""mm."""


# CSS Values and Units 3, absolute lengths.
UNITS = [
    ("in", 25.4),
    ("cm", 10.0),
    ("mm", 1.0),
    ("pt", 25.4 / 72),
    ("pc", 25.4 / 6),
    ("Q", 0.25),
    ("IN", 25.4),
]


@pytest.mark.parametrize(("unit", "mm"), UNITS)
def test_a_page_in_a_unit_with_a_view_box_gives_true_sizes(tmp_path: Path, unit: str, mm: float) -> None:
    found = load(tmp_path, f'<svg {SVG} width="8{unit}" height="4{unit}" viewBox="0 0 80 40">{RECT}</svg>')
    assert found.patches[0][1].polygon.bounds == pytest.approx([mm, 2 * mm, 4 * mm, 6 * mm], rel=1e-12)
    assert found.notes == ()
    assert found.unit is None


@pytest.mark.parametrize(("unit", "mm"), [*UNITS, ("px", PX), ("", PX)])
def test_lengths_of_shapes_have_units_of_their_own(tmp_path: Path, unit: str, mm: float) -> None:
    body = f'<rect id="a" x="1{unit}" y="2{unit}" width="3{unit}" height="4{unit}"/>'
    found = load(tmp_path, f"<svg {SVG}>{body}</svg>", "px")
    assert found.patches[0][1].polygon.bounds == pytest.approx([mm, 2 * mm, 4 * mm, 6 * mm], rel=1e-12)


@pytest.mark.parametrize(
    "page",
    [
        'width="960" height="480"',
        'width="960px" height="480px" viewBox="0 0 960 480"',
        'viewBox="0 0 960 480"',
        'width="100%" height="100%" viewBox="0 0 960 480"',
        'width="auto" viewBox="0 0 960 480"',
        'width="10in" height="5in"',  # the page has a size, but nothing says how long a user unit is
        "",
    ],
)
def test_px_ask_for_a_size_and_are_96_to_the_inch_where_told(tmp_path: Path, page: str) -> None:
    content = f'<svg {SVG} {page}><rect width="96" height="192"/></svg>'
    with pytest.raises(
        UnitMissingError, match=r"pixels, which no ruler has; say .* --size, .* --unit px"
    ) as asked:
        load(tmp_path, content)
    shown = asked.value.rough
    assert shown is not None
    ((_, rough),) = shown.patches
    assert shown.in_pixels
    left, top, right, bottom = rough.polygon.bounds
    assert (bottom - top) / (right - left) == pytest.approx(2)
    found = load(tmp_path, content, "px")
    assert bounds(found.patches[0][1]) == [0, 0, 25.4, 50.8]
    assert "96 px were taken as 1 in" in found.notes[0]
    assert found.unit == "px"


@pytest.mark.parametrize("page", ['width="400" height="400"', "", 'width="9e6" height="9e6"', MM])
def test_a_size_is_that_of_all_outlines_together(tmp_path: Path, page: str) -> None:
    """The circle too is as fine as if it had been drawn at that size: πr², the area of a circle."""
    path = tmp_path / "a.svg"
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" {page.replace(MM, MM.partition(" ")[2])}>'
        '<rect x="10" y="10" width="20" height="20"/><circle cx="80" cy="20" r="10"/></svg>'
    )
    found = import_file(path, size=1600)
    (_, square), (_, disc) = found.patches
    assert square.polygon.area == pytest.approx(400**2, rel=1e-9)
    assert disc.polygon.area == pytest.approx(math.pi * 200**2, rel=1e-3)
    assert longest_side(found.patches) == pytest.approx(1600, rel=1e-9)
    assert not any("96 px" in note for note in found.notes)


def test_a_call_is_told_what_to_say(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "pond.svg"
    path.write_text(f'<svg {SVG}><rect width="96" height="192"/></svg>')
    assert main(["fit", str(path)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "--size" in said
    assert "--unit px" in said
    assert main(["fit", str(path), "--size", "0"]) == 2
    assert main(["fit", str(path), "--size", "12 in", "--json"]) == 0
    (patch,) = json.loads(capsys.readouterr().out)["patches"]
    assert max(y for _, y in patch["outline"]) == pytest.approx(12 * 25.4)
    assert main(["fit", str(path), "--unit", "px", "--set", "edge-margin=1/8in", "--json"]) in (0, 1)
    (patch,) = json.loads(capsys.readouterr().out)["patches"]
    assert max(y for _, y in patch["outline"]) == pytest.approx(2 * 25.4)


def test_progress_is_told_and_may_end_the_work(tmp_path: Path) -> None:
    path = tmp_path / "many.svg"
    path.write_text(drawing("".join(f'<rect x="{n}" width="0.9" height="9"/>' for n in range(150))))
    seen: list[tuple[int, int]] = []
    import_file(path, progress=lambda done, of: seen.append((done, of)))
    assert seen == sorted(seen)
    assert len(seen) > 5
    assert {of for _, of in seen} == {150}

    def stop(done: int, of: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        import_file(path, progress=stop)


def test_a_given_unit_is_what_one_px_is(tmp_path: Path) -> None:
    page = f'<svg {SVG} width="400" height="400" viewBox="0 0 200 200">{RECT}</svg>'
    found = load(tmp_path, page, unit="mm")
    assert bounds(found.patches[0][1]) == [20, 40, 80, 120]
    assert "1 px was taken as 1 mm" in found.notes[0]
    assert found.unit == "mm"


def test_a_given_unit_does_not_change_lengths_that_have_one(tmp_path: Path) -> None:
    body = '<rect width="1in" height="2cm"/>'
    found = load(tmp_path, f'<svg {SVG} viewBox="0 0 200 200">{body}</svg>', unit="cm")
    assert bounds(found.patches[0][1]) == [0, 0, 25.4, 20]


def test_a_given_unit_is_not_used_where_the_file_says_its_size_and_said_so(tmp_path: Path) -> None:
    found = load(tmp_path, drawing(RECT), unit="in")
    assert bounds(found.patches[0][1]) == [10, 20, 40, 60]
    assert "not needed" in found.notes[0]


def test_an_unknown_unit_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ImportingError, match="no unit"):
        load(tmp_path, drawing(RECT), unit="ell")


def test_names_come_from_ids_and_titles_and_each_is_there_once(tmp_path: Path) -> None:
    square = 'x="{}" width="9" height="9"'
    body = (
        f'<rect id="leaf" {square.format(0)}/>'
        f"<rect {square.format(20)}><title> A  tall\n leaf </title></rect>"
        f'<rect {square.format(40)}/><rect id="leaf" {square.format(60)}/><use href="#leaf" x="80"/>'
        f'<rect id=" " {square.format(100)}/><rect id="leaf (2)" {square.format(120)}/>'
        f'<rect id="&#x85;&#x91;l" {square.format(140)}/>'
    )
    assert list(patches(tmp_path, body)) == [
        "leaf", "A tall leaf", "patch 3", "leaf (2)", "leaf (3)", "patch 6", "leaf (2) (2)", "l",
    ]  # fmt: skip


def test_parts_of_one_shape_are_patches_of_their_own_and_said(tmp_path: Path) -> None:
    found = load(tmp_path, drawing('<path id="a" d="M0 0H9V9H0ZM20 0H29V9H20Z"/>'))
    assert [name for name, _ in found.patches] == ["a", "a (2)"]
    assert found.notes == ("“a”: several separate parts, each became a patch",)


def test_shapes_in_shapes_stay_apart_and_are_named(tmp_path: Path) -> None:
    found = load(tmp_path, drawing('<rect id="b" width="99" height="99"/>' + RECT))
    assert [len(patch.holes) for _, patch in found.patches] == [0, 0]
    assert found.notes == ("“a” in “b”: patches of their own; to make a hole, draw both as one path",)


@pytest.mark.parametrize(
    "again",
    [
        '<rect id="b" x="10" y="20" width="30" height="40"/>',
        '<path id="b" d="M40 60V20H10V60Z"/>',  # begun elsewhere, and the other way round
        '<rect id="b" x="-40" y="-60" width="30" height="40" transform="rotate(180)"/>',
    ],
)
def test_a_shape_drawn_twice_is_named(tmp_path: Path, again: str) -> None:
    found = load(tmp_path, drawing(RECT + again))
    assert [name for name, _ in found.patches] == ["a", "b"]
    assert found.notes == ("“b” and “a”: the same outline twice, two patches",)
