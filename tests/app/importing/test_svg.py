"""SVG drawings: what is drawn becomes patches, in true size; the rest is left out with a word about it."""

from __future__ import annotations

import itertools
import json
import math
import random
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.cli import main
from app.importing import ImportingError, UnitMissingError, import_file, longest_side
from app.importing.fill_rule import FillRule, polygons
from app.importing.source import MAX_OUTLINES
from app.importing.svg_walk import MAX_POINTS, MAX_SHAPES, MAX_STRAY, MAX_TEXT
from app.importing.svg_xml import MAX_BYTES, MAX_DEPTH, MAX_ELEMENTS
from geometry.tolerances import FLATTEN
from tests.app.importing.svg_drawings import MM, bounds, damaged, drawing, load, patches, survives, union

PX = 25.4 / 96
SVG = 'xmlns="http://www.w3.org/2000/svg"'
RECT = '<rect id="a" x="10" y="20" width="30" height="40"/>'


# --- sizes and units --------------------------------------------------------------------------------

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


def test_strays_without_end_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ImportingError, match=f"more than {MAX_STRAY} shapes that are no closed outlines"):
        load(tmp_path, drawing('<path d="M0 0" id="a"/>' + '<use href="#a"/>' * MAX_STRAY))


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


@pytest.mark.parametrize(
    ("page", "box"),
    [
        ('width="100mm" viewBox="0 0 50 200"', [20, 40, 80, 120]),  # the other side by the view box
        ('height="100mm" viewBox="0 0 50 200"', [5, 10, 20, 30]),
        ('width="100mm" height="100mm" viewBox="10 20 50 50"', [0, 0, 60, 80]),
        ('width="100mm" height="50mm" viewBox="0 0 100 100"', [30, 10, 45, 30]),
        ('width="100mm" height="50mm" viewBox="0 0 100 100" preserveAspectRatio="none"', [10, 10, 40, 30]),
        (
            'width="100mm" height="50mm" viewBox="0 0 100 100" preserveAspectRatio="xMinYMax slice"',
            [10, -30, 40, 10],
        ),
        (
            'width="100mm" height="50mm" viewBox="0,0,100,100" preserveAspectRatio="defer xMax"',
            [30, 10, 45, 30],
        ),
    ],
)
def test_view_boxes(tmp_path: Path, page: str, box: list[float]) -> None:
    assert bounds(patches(tmp_path, RECT, f"{SVG} {page}")["a"]) == box


@pytest.mark.parametrize(
    "page", ['width="0"', 'viewBox="0 0 0 9"', 'width="9mm" height="0mm" viewBox="0 0 9 9"']
)
def test_a_page_without_a_size_shows_nothing(tmp_path: Path, page: str) -> None:
    with pytest.raises(ImportingError, match="page has no size"):
        load(tmp_path, drawing(RECT, f"{SVG} {page}"))


@pytest.mark.parametrize("length", ["3em", "2ex", "5vw", "calc(1mm)", "x", "1 mm", "--3", "1e"])
def test_a_length_that_cannot_be_read_leaves_its_shape_out(tmp_path: Path, length: str) -> None:
    found = load(tmp_path, drawing(RECT + f'<rect id="b" width="{length}" height="9"/>'))
    assert [name for name, _ in found.patches] == ["a"]
    assert "“b”: left out, a length that cannot be read" in found.notes


# --- basic shapes -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("attributes", "rx", "ry"),
    [
        ('rx="10" ry="5"', 10, 5),
        ('rx="10"', 10, 10),
        ('ry="5"', 5, 5),
        ('rx="auto" ry="5"', 5, 5),
        ('rx="100" ry="5"', 30, 5),
        ('rx="0" ry="5"', 0, 0),
        ('rx="-3" ry="5"', 5, 5),
        ('rx="5%" ry="5"', 10, 5),  # of the page's width
        ("", 0, 0),
    ],
)
def test_rectangles_have_the_area_of_their_corners(
    tmp_path: Path, attributes: str, rx: float, ry: float
) -> None:
    found = patches(tmp_path, f'<rect id="a" x="20" y="30" width="60" height="40" {attributes}/>')["a"]
    assert bounds(found) == [20, 30, 80, 70]
    # The polyline lies inside the quarter ellipses, no further than the tolerance from them.
    exact = 60 * 40 - (4 - math.pi) * rx * ry
    assert exact - FLATTEN * math.pi * (rx + ry) <= found.polygon.area <= exact + 1e-9


@pytest.mark.parametrize(
    ("body", "rx", "ry"),
    [
        ('<circle id="a" cx="60" cy="70" r="50"/>', 50, 50),
        ('<circle id="a" cx="30%" cy="35%" r="25%"/>', 50, 50),
        ('<ellipse id="a" cx="60" cy="70" rx="50" ry="20"/>', 50, 20),
        ('<ellipse id="a" cx="60" cy="70" ry="20"/>', 20, 20),
        ('<ellipse id="a" cx="60" cy="70" rx="20" ry="auto"/>', 20, 20),
    ],
)
def test_ellipses_have_their_box_exactly_and_their_area_nearly(
    tmp_path: Path, body: str, rx: float, ry: float
) -> None:
    found = patches(tmp_path, body)["a"]
    assert bounds(found) == [60 - rx, 70 - ry, 60 + rx, 70 + ry]
    exact = math.pi * rx * ry
    assert exact - FLATTEN * math.pi * (rx + ry) <= found.polygon.area < exact


@pytest.mark.parametrize(
    "body",
    [
        '<circle id="a" cx="1.1" cy="2.3" r="3.7"/>',
        '<rect id="a" x="0.1" y="0.7" width="2.3" height="4.9" rx="9"/>',
        '<rect id="a" x="0.1" y="0.7" width="2.3" height="4.9" rx="9" ry="9"/>',
    ],
)
def test_round_shapes_need_no_repair(tmp_path: Path, body: str) -> None:
    """Where one curve ends, the next begins: no corner twice."""
    assert patches(tmp_path, body)["a"].repairs == ()


def test_a_share_of_a_page_that_is_no_square_is_taken_of_its_mean_diagonal(tmp_path: Path) -> None:
    page = f'{SVG} width="300mm" height="400mm" viewBox="0 0 300 400"'
    found = patches(tmp_path, '<circle id="a" cx="50%" cy="50%" r="10%"/>', page)["a"]
    radius = 0.1 * math.sqrt((300**2 + 400**2) / 2)
    assert found.polygon.bounds == pytest.approx([150 - radius, 200 - radius, 150 + radius, 200 + radius])


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ('<line id="b" x2="9" y2="9" stroke="red"/>', "“b”: left out, a line encloses nothing"),
        ('<path id="b" d="M0 0H9"/>', "“b”: left out, it has no area"),
        ('<path id="b" d=""/>', "“b”: left out, it has no area"),
        ('<path id="b"/>', "“b”: left out, it has no area"),
        ('<path id="b" d="M0 0Z"/>', "“b”: left out, it has no area"),
        ('<path id="b" d="M0 0H9H0Z"/>', "“b”: left out, it has no area"),
        ('<rect id="b" width="0" height="9"/>', "“b”: left out, it has no area"),
        ('<rect id="b" width="-1" height="9"/>', "“b”: left out, it has no area"),
        ('<circle id="b" r="0"/>', "“b”: left out, it has no area"),
        ('<polygon id="b" points="1 2 3 4"/>', "“b”: left out, it has no area"),
        ('<text id="b">words</text>', "“b”: left out, text; turn it into outlines to use it"),
        ('<image id="b" href="b.png" width="9" height="9"/>', "“b”: left out, a picture"),
        ('<image href="b.png" width="9" height="9"/>', "image in line 1: left out, a picture"),
        ('<foreignObject id="b" width="9" height="9"/>', "“b”: left out, a page of another kind"),
        (
            '<rect id="b" width="9" height="9" fill="none"/>',
            "“b”: left out, not to be seen; give it a line or a colour",
        ),
        ('<rect id="b" width="20000" height="9"/>', "“b”: the outline, out to 20000 mm, 0 mm: is 20 m wide"),
        ('<rect id="b" x="1e10" width="9" height="9"/>', "“b”: left out, it lies kilometres off the page"),
        ('<rect id="b" width="1e300" height="9"/>', "“b”: left out, larger than any patch may be"),
        ('<use id="b" href="#c"/>', "“b”: left out, what it repeats is not in the file"),
        ('<use id="b"/>', "“b”: left out, what it repeats is not in the file"),
        ('<use id="b" href="other.svg#a"/>', "“b”: left out, it is in another file"),
        ('<use id="b" href="https://example.org/a.svg#a"/>', "“b”: left out, it is in another file"),
        ('<g id="b"><use href="#b" id="c"/></g>', "“c”: left out, it repeats itself"),
    ],
)
def test_what_encloses_nothing_is_left_out_and_said(tmp_path: Path, body: str, said: str) -> None:
    found = load(tmp_path, drawing(RECT + body))
    assert [name for name, _ in found.patches] == ["a"]
    assert any(note.startswith(said) for note in found.notes) or any(said in note for note in found.notes)
    with pytest.raises(ImportingError) as alone:
        load(tmp_path, drawing(body))
    assert "holds no closed shape that is drawn" in str(alone.value)
    assert "\n" not in str(alone.value)


@pytest.mark.parametrize(
    ("body", "drawn"),
    [
        ('<polyline id="b" points="0 0 9 0 9 9" fill="none" stroke="red"/>', False),
        ('<polyline id="b" points="0 0 9 0 9 9"/>', True),  # a filled one is closed
        (
            '<polyline id="b" points="0 0 9 0 9 9 0.03 0.03" fill="none" stroke="red"/>',
            True,
        ),  # all but closed
        ('<polygon id="b" points="0 0 9 0 9 9" fill="none" stroke="red"/>', True),
        ('<path id="b" d="M0 0H9V9" fill="none" stroke="red"/>', False),
        ('<path id="b" d="M0 0H9V9"/>', True),
        ('<path id="b" d="M0 0H9V9Z" fill="none" stroke="red"/>', True),
        ('<path id="b" d="M0 0H9V9Z" fill="none" stroke="red" stroke-width="0"/>', False),
        ('<path id="b" d="M0 0H9V9Z" style="fill:none;stroke:red"/>', True),
        ('<path id="b" d="M0 0H9V9Z" style="fill:none"/>', False),
        ('<path id="b" d="M0 0H9V9Z" fill="transparent"/>', False),
        ('<path id="b" d="M0 0H9V9Z" fill="url(#nowhere)"/>', False),
        ('<path id="b" d="M0 0H9V9Z" fill="url(#nowhere) red"/>', True),
        ('<path id="b" d="M0 0H9V9Z" fill="url(#a)"/>', True),
        ('<path id="b" d="M0 0H9V9Z" opacity="0"/>', False),
        ('<g opacity="0"><path id="b" d="M0 0H9V9Z"/></g>', False),
        ('<path id="b" d="M0 0H9V9Z" fill-opacity="0"/>', False),
        ('<g fill="none"><path id="b" d="M0 0H9V9Z"/></g>', False),
        ('<g fill="none"><path id="b" d="M0 0H9V9Z" fill="inherit"/></g>', False),
        ('<g fill="none"><path id="b" d="M0 0H9V9Z" fill="red"/></g>', True),
        ('<path id="b" d="M0 0H9V9Z" display="none"/>', False),
        ('<g display="none"><path id="b" d="M0 0H9V9Z" display="inline"/></g>', False),
        ('<path id="b" d="M0 0H9V9Z" visibility="hidden"/>', False),
        ('<path id="b" d="M0 0H9V9Z" visibility="collapse"/>', False),
        ('<g visibility="hidden"><path id="b" d="M0 0H9V9Z"/></g>', False),
        ('<g visibility="hidden"><path id="b" d="M0 0H9V9Z" visibility="visible"/></g>', True),
        ('<defs><path id="b" d="M0 0H9V9Z"/></defs>', False),
        ('<symbol><path id="b" d="M0 0H9V9Z"/></symbol>', False),
        ('<clipPath><path id="b" d="M0 0H9V9Z"/></clipPath>', False),
        ('<mask><path id="b" d="M0 0H9V9Z"/></mask>', False),
        ('<marker><path id="b" d="M0 0H9V9Z"/></marker>', False),
        ('<pattern><path id="b" d="M0 0H9V9Z"/></pattern>', False),
        ('<text><path id="b" d="M0 0H9V9Z"/></text>', False),
        ('<rect width="0"><path id="b" d="M0 0H9V9Z"/></rect>', False),
        ('<unheardOf><path id="b" d="M0 0H9V9Z"/></unheardOf>', False),
        ('<x:g xmlns:x="urn:x"><path id="b" d="M0 0H9V9Z"/></x:g>', False),
        ('<x:path xmlns:x="urn:x" id="b" d="M0 0H9V9Z"/>', False),
        ('<s:path xmlns:s="http://www.w3.org/2000/svg" id="b" d="M0 0H9V9Z"/>', True),
        ('<a href="https://example.org"><path id="b" d="M0 0H9V9Z"/></a>', True),
        ('<switch><foreignObject requiredExtensions="x"/><path id="b" d="M0 0H9V9Z"/></switch>', True),
        ('<switch><rect/><path id="b" d="M0 0H9V9Z"/></switch>', False),
        (
            '<switch><g systemLanguage="de"/><path id="b" d="M0 0H9V9Z" systemLanguage="fr, en-GB"/>'
            "</switch>",
            True,
        ),
        ('<path id="b" d="M0 0H9V9Z" systemLanguage="de"/>', False),
    ],
)
def test_what_is_drawn_and_what_is_not(tmp_path: Path, body: str, drawn: bool) -> None:
    found = load(tmp_path, drawing(RECT + body))
    assert [name for name, _ in found.patches] == (["a", "b"] if drawn else ["a"])


def test_an_open_line_is_left_out_with_the_distance_of_its_ends(tmp_path: Path) -> None:
    body = '<path id="b" d="M0 0H3V4" fill="none" stroke="red"/>'
    found = load(tmp_path, drawing(RECT + body))
    assert "“b” (its ends are 5 mm apart): left out, an open line; close it to make a patch" in found.notes


# --- style sheets -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("css", "attributes", "drawn"),
    [
        ("rect { display: none }", "", False),
        (".x { display: none }", 'class="y x"', False),
        (".x.y { display: none }", 'class="y x"', False),
        (".x.y { display: none }", 'class="x"', True),
        ("rect.x { display: none }", 'class="x"', False),
        ("circle.x { display: none }", 'class="x"', True),
        ("#b { display: none }", "", False),
        ("#b { display: none } rect { display: inline }", "", False),  # the id weighs more
        ("#b { display: none } rect { display: inline !important }", "", True),
        (".x { display: none } .y { display: inline }", 'class="x y"', True),  # the later one wins
        (".x, circle { display: none }", 'class="x"', False),
        ("/* rect { display: none } */", "", True),
        ("@media print { rect { display: none } } circle { x: 0 }", "", True),
        ("@import url(other.css); rect { display: none }", "", False),
        ("rect { display: none", "", False),  # CSS closes what is open at the end
        ("} nonsense { ; } rect { display: none }", "", False),
        ("#b { display: none }", 'style="display:inline"', True),
        ("#b { display: none !important }", 'style="display:inline"', False),
        ("#b { display: none !important }", 'style="display:inline ! IMPORTANT"', True),
        ("", 'display="inline" style="display:none"', False),
        ("#b { display: inline }", 'display="none"', True),  # attributes weigh nothing
        ("", 'style="display:none !important;display:inline"', False),
        ("#b { width: 0 }", "", False),
        ("#b { stroke: red; fill: none }", "", True),
    ],
)
def test_style_sheets(tmp_path: Path, css: str, attributes: str, drawn: bool) -> None:
    body = f'<style>{css}</style><rect id="b" width="9" height="9" {attributes}/><ellipse id="a" rx="5"/>'
    found = load(tmp_path, drawing(body))
    assert [name for name, _ in found.patches] == (["b", "a"] if drawn else ["a"])


@pytest.mark.parametrize("selector", ["g > rect", "g rect", "rect:first-child", "[id]", "rect + rect"])
def test_a_rule_that_is_not_understood_is_named(tmp_path: Path, selector: str) -> None:
    found = load(
        tmp_path, drawing(f"<style>{selector} {{ display: none }}</style>{RECT}".replace(" > ", " &gt; "))
    )
    assert f"style rule “{selector}”: too involved, not used" in found.notes
    quiet = load(
        tmp_path, drawing(f"<style>{selector} {{ cursor: help }}</style>{RECT}".replace(" > ", " &gt; "))
    )
    assert quiet.notes == ()


# --- structure --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("body", "box"),
    [
        (f'<g transform="translate(5 6)">{RECT}</g>', [15, 26, 45, 66]),
        (f'<g transform="translate(5)">{RECT}</g>', [15, 20, 45, 60]),
        (f'<g transform="scale(2)"><g transform="translate(1,1)">{RECT}</g></g>', [22, 42, 82, 122]),
        (f'<g transform="translate(1,1)scale(2 3)">{RECT}</g>', [21, 61, 81, 181]),
        (f'<g transform="rotate(90)">{RECT}</g>', [-60, 10, -20, 40]),
        (f'<g transform="rotate(90 10,20)">{RECT}</g>', [-30, 20, 10, 50]),
        (f'<g transform="skewX(45)">{RECT}</g>', [30, 20, 100, 60]),
        (f'<g transform="matrix(0 1 -1 0 100 0)">{RECT}</g>', [40, 10, 80, 40]),
        (f'<g transform=" translate ( 5. , 6 ) , scale ( 1 )">{RECT}</g>', [15, 26, 45, 66]),
        (f'<g style="transform: rotate(0.25turn)">{RECT}</g>', [-60, 10, -20, 40]),
        (f'<g style="transform: translate(5px, 6px) scaleX(2)">{RECT}</g>', [25, 26, 85, 66]),
        (f'<g transform="scale(2)" transform-origin="10 20">{RECT}</g>', [10, 20, 70, 100]),
        (f'<g transform="scale(2)" transform-origin="top left">{RECT}</g>', [20, 40, 80, 120]),
        (f'<g transform="scale(2)" transform-origin="right 50%">{RECT}</g>', [-180, -60, -120, 20]),
        (f'<g transform="scale(2)" transform-origin="bottom">{RECT}</g>', [-80, -160, -20, -80]),
        (
            '<rect id="a" x="10" y="20" width="30" height="40" transform="scale(2)" transform-origin="center"'
            ' style="transform-box: fill-box"/>',
            [-5, 0, 55, 80],
        ),
        (f'<svg x="5" y="6">{RECT}</svg>', [15, 26, 45, 66]),
        (f'<svg x="10%" y="6" viewBox="0 0 100 100">{RECT}</svg>', [40, 46, 100, 126]),
        (f'<svg width="50" height="50" viewBox="0 0 100 100">{RECT}</svg>', [5, 10, 20, 30]),
        (f'<defs>{RECT}</defs><use href="#a" x="5" y="6"/>', [15, 26, 45, 66]),
        (f'<defs>{RECT}</defs><use href="#a" x="5" transform="scale(2)"/>', [30, 40, 90, 120]),
        (f'<defs><g id="g">{RECT}</g></defs><use href="#g" x="5"/>', [15, 20, 45, 60]),
        (f'<defs>{RECT}<use id="u" href="#a" x="5"/></defs><use href="#u" x="5"/>', [20, 20, 50, 60]),
        (f'<symbol id="s">{RECT}</symbol><use href="#s" x="5"/>', [15, 20, 45, 60]),
        (f'<symbol id="s" viewBox="0 0 100 100">{RECT}</symbol><use href="#s"/>', [20, 40, 80, 120]),
        (
            f'<symbol id="s" viewBox="0 0 100 100">{RECT}</symbol><use href="#s" width="50" height="100"/>',
            [5, 35, 20, 55],
        ),
        (
            f'<symbol id="s" viewBox="0 0 100 100" width="50" height="50">{RECT}</symbol><use href="#s"/>',
            [5, 10, 20, 30],
        ),
        (
            f'<defs><svg id="s" viewBox="0 0 100 100">{RECT}</svg></defs>'
            '<use href="#s" width="50" height="50"/>',
            [5, 10, 20, 30],
        ),
        (
            f'<defs><svg id="s" x="7" width="50" viewBox="0 0 50 200">{RECT}</svg></defs><use href="#s"/>',
            [17, 20, 47, 60],
        ),
    ],
)
def test_where_shapes_come_to_lie(tmp_path: Path, body: str, box: list[float]) -> None:
    found = load(tmp_path, drawing(body))
    assert bounds(found.patches[0][1]) == box
    assert found.notes == ()


def test_the_older_name_of_a_reference_is_read_and_the_newer_one_wins(tmp_path: Path) -> None:
    link = 'xmlns:l="http://www.w3.org/1999/xlink"'
    body = f'<defs><rect id="a" width="5" height="5"/><rect id="b" width="9" height="9"/></defs><use {link}'
    assert list(patches(tmp_path, body + ' l:href="#b"/>')) == ["b"]
    assert list(patches(tmp_path, body + ' l:href="#b" href="#a"/>')) == ["a"]


def test_turning_the_whole_page_turns_it_about_its_middle(tmp_path: Path) -> None:
    page = f'{SVG} width="100mm" height="200mm" viewBox="0 0 50 100" transform="rotate(180)"'
    assert bounds(patches(tmp_path, RECT, page)["a"]) == [20, 80, 80, 160]


@pytest.mark.parametrize(
    "transform", ["rotate(", "translate(1 2 3)", "rotate(9 9)", "spin(3)", "scale(x)", "scale(2) x"]
)
def test_a_transform_that_is_none_is_not_done_and_said(tmp_path: Path, transform: str) -> None:
    found = load(tmp_path, drawing(f'<g id="g" transform="{transform}">{RECT}</g>'))
    assert bounds(found.patches[0][1]) == [10, 20, 40, 60]
    assert "“g”: a transform that cannot be read was not done" in found.notes


@pytest.mark.parametrize(
    ("body", "area", "cut"),
    [
        (f'<svg width="25" height="25">{RECT}</svg>', 15 * 5, True),
        (f'<svg width="25" height="25" overflow="visible">{RECT}</svg>', 30 * 40, False),
        (f'<svg width="100" height="100">{RECT}</svg>', 30 * 40, False),
        (f'<symbol id="s">{RECT}</symbol><use href="#s" width="25" height="25"/>', 15 * 5, True),
        (f'<svg width="25"><svg height="25">{RECT}</svg></svg>', 15 * 5, True),
        (
            f'<clipPath id="c"><rect width="25" height="25"/></clipPath><g clip-path="url(#c)">{RECT}</g>',
            75,
            True,
        ),
        (
            f'<clipPath id="c"><rect width="99" height="99"/></clipPath><g clip-path="url(#c)">{RECT}</g>',
            1200,
            False,
        ),
        (
            f'<g transform="translate(9 9)" clip-path="url(#c)">{RECT}</g>'
            '<clipPath id="c"><rect width="25" height="25"/></clipPath>',
            75,
            True,
        ),
        (
            f'<clipPath id="c" clip-path="url(#d)"><rect width="25" height="99"/></clipPath>'
            f'<clipPath id="d"><rect width="99" height="25"/></clipPath><g clip-path="url(#c)">{RECT}</g>',
            75,
            True,
        ),
        (
            '<clipPath id="c"><rect width="25" height="99" clip-path="url(#d)"/></clipPath>'
            f'<clipPath id="d"><rect width="99" height="25"/></clipPath><g clip-path="url(#c)">{RECT}</g>',
            75,
            True,
        ),
        (
            '<clipPath id="c" clipPathUnits="objectBoundingBox"><rect width=".5" height=".25"/></clipPath>'
            '<rect id="a" x="10" y="20" width="30" height="40" clip-path="url(#c)"/>',
            15 * 10,
            True,
        ),
        (
            '<clipPath id="c"><path clip-rule="evenodd" d="M0 0H99V99H0ZM20 30H30V50H20Z"/></clipPath>'
            f'<g clip-path="url(#c)">{RECT}</g>',
            1200 - 200,
            True,
        ),
        (
            '<g clip-rule="evenodd"><clipPath id="c"><path d="M0 0H99V99H0ZM20 30H30V50H20Z"/></clipPath></g>'
            f'<g clip-path="url(#c)">{RECT}</g>',
            1200 - 200,
            True,
        ),
        (
            '<defs><rect id="r" width="25" height="25"/></defs>'
            f'<clipPath id="c"><use href="#r"/></clipPath><g clip-path="url(#c)">{RECT}</g>',
            75,
            True,
        ),
        (
            '<clipPath id="c"><rect width="25" height="25"/><rect width="99" height="99" display="none"/>'
            '<rect width="99" height="99" visibility="hidden"/><g><rect width="99" height="99"/></g>'
            f'</clipPath><g clip-path="url(#c)">{RECT}</g>',
            75,
            True,
        ),
    ],
)
def test_what_a_clip_or_an_inner_page_cuts_off_is_not_drawn(
    tmp_path: Path, body: str, area: float, cut: bool
) -> None:
    found = load(tmp_path, drawing(body))
    assert union(found).area == pytest.approx(area, rel=1e-12)
    assert any("“a”: cut by a clip path" in note for note in found.notes) is cut


def test_what_a_clip_hides_altogether_is_left_out(tmp_path: Path) -> None:
    body = f'<clipPath id="c"/><g clip-path="url(#c)">{RECT}</g><rect id="b" width="9" height="9"/>'
    found = load(tmp_path, drawing(body))
    assert [name for name, _ in found.patches] == ["b"]
    assert "“a”: left out, nothing of it lies in its frame" in found.notes


@pytest.mark.parametrize(
    "body",
    [
        '<g id="g" clip-path="url(#nowhere)">{}</g>',
        '<g id="g" clip-path="circle(5px)">{}</g>',
        '<clipPath id="c"><text>A</text></clipPath><g id="g" clip-path="url(#c)">{}</g>',
        '<clipPath id="c" clipPathUnits="objectBoundingBox"/><g id="g" clip-path="url(#c)">{}</g>',
    ],
)
def test_a_clip_that_is_not_understood_is_said(tmp_path: Path, body: str) -> None:
    found = load(tmp_path, drawing(body.format(RECT)))
    assert bounds(found.patches[0][1]) == [10, 20, 40, 60]
    assert "“g”: a clip path that cannot be read was not used" in found.notes


def test_a_mask_is_said_to_be_left_aside(tmp_path: Path) -> None:
    found = load(tmp_path, drawing(f'<mask id="m"/><g id="g" mask="url(#m)">{RECT}</g>'))
    assert "“g”: its mask was not used, the whole shape was" in found.notes


# --- names, and shapes that meet --------------------------------------------------------------------


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


def test_subpaths_make_holes_and_parts_by_the_fill_rule(tmp_path: Path) -> None:
    outer, inner, island = "M0 0H90V90H0Z", "M20 20H70V70H20Z", "M40 40H50V50H40Z"
    turned = "M20 20V70H70V20Z"

    def shape(data: str, rule: str) -> list[tuple[float, int]]:
        found = load(tmp_path, drawing(f'<path id="a" fill-rule="{rule}" d="{data}"/>'))
        return sorted((patch.polygon.area, len(patch.holes)) for _, patch in found.patches)

    assert shape(outer + inner, "evenodd") == [(8100 - 2500, 1)]
    assert shape(outer + inner, "nonzero") == [(8100, 0)]
    assert shape(outer + turned, "nonzero") == [(8100 - 2500, 1)]
    assert shape(outer + turned + island, "nonzero") == [(100, 0), (8100 - 2500, 1)]
    assert shape(outer + inner + island, "evenodd") == [(100, 0), (8100 - 2500, 1)]
    assert shape("M0 0H9V9H0ZM20 0H29V9H20Z", "nonzero") == [(81, 0), (81, 0)]
    assert shape(outer + outer, "nonzero") == [(8100, 0)]


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


def _winding_number(point: np.ndarray, ring: np.ndarray) -> int:
    """How often a ring goes around a point: the angles of its corners as seen from there, added up."""
    arms = ring - point
    after = np.roll(arms, -1, axis=0)
    cross = arms[:, 0] * after[:, 1] - arms[:, 1] * after[:, 0]
    return round(float(np.arctan2(cross, (arms * after).sum(axis=1)).sum() / math.tau))


@pytest.mark.parametrize("seed", range(12))
def test_the_inside_is_where_the_winding_number_says(seed: int) -> None:
    """Random tangles of up to three rings, on a coarse grid too, where corners and edges meet."""
    rng = np.random.default_rng(seed)
    grid = seed % 2 == 0
    rings = [rng.uniform(0, 12, (rng.integers(3, 9), 2)) for _ in range(rng.integers(1, 4))]
    if grid:
        rings = [np.round(ring) for ring in rings]
    # half a thousandth off the grid, so that no probe lies on a line of it
    probes = np.array(list(itertools.product(np.arange(0.2505, 12, 0.5), repeat=2)))
    turns = np.array([sum(_winding_number(probe, ring) for ring in rings) for probe in probes])
    lines = shapely.union_all([shapely.linearrings(ring) for ring in rings])
    clear = shapely.distance(lines, shapely.points(probes)) > 1e-9
    for rule, inside in ((FillRule.NONZERO, turns != 0), (FillRule.EVENODD, turns % 2 == 1)):
        parts = polygons(rings, rule)
        assert all(part.is_valid for part in parts)
        found = shapely.contains_xy(shapely.union_all(parts), probes)
        np.testing.assert_array_equal(found[clear], inside[clear])
        assert sum(part.area for part in parts) == pytest.approx(shapely.union_all(parts).area)


# --- what the file is -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\n", "is no SVG drawing"),
        (b"\xef\xbb\xbf", "is no SVG drawing"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "is no SVG drawing"),
        (b"\x1f\x8b\x08\0", "is a compressed file"),
        (b"<html><body/></html>", "is no SVG drawing, its first element is “html”"),
        (b"<html xmlns='http://www.w3.org/1999/xhtml'/>", "first element is “html”"),
        (b"<svg xmlns='urn:other'/>", "first element is “svg”"),
        (b"<svg", "is no sound SVG file"),
        (b"<svg></g>", "line 1, column 8: is no sound SVG file (mismatched tag)"),
        (b"<svg>\n<rect width='9'\n</svg>", "line 3, column 1: is no sound SVG file"),
        (b"<svg>&nbsp;</svg>", "is no sound SVG file (undefined entity"),
        (b"<?xml version='1.0' encoding='klingon'?><svg/>", "encoding that cannot be read"),
        (b"<?xml version='1.0' encoding='utf-7'?><svg/>", "encoding that cannot be read"),
        (b"<svg>\xff</svg>", "is no sound SVG file (not well-formed"),
        (b"<svg>\0</svg>", "is no sound SVG file (not well-formed"),
        (b"<!DOCTYPE svg [<!ENTITY a 'b'>]><svg/>", "declares entities or other things of its own"),
        (b"<!DOCTYPE svg [<!ENTITY a SYSTEM 'file:///dev/zero'>]><svg>&a;</svg>", "declares entities"),
        (b"<!DOCTYPE svg [<!ENTITY % a SYSTEM 'file:///dev/zero'>%a;]><svg/>", "declares entities"),
        (b"<!DOCTYPE svg [<!ATTLIST rect width CDATA '9'>]><svg/>", "declares entities or other things"),
        (f"<svg>{'<g>' * MAX_DEPTH}".encode(), f"nested more than {MAX_DEPTH} deep"),
        (f"<svg><x:y xmlns:x='u'>{'<g>' * MAX_DEPTH}".encode(), f"nested more than {MAX_DEPTH} deep"),
        (b"<svg>" + b"<g/>" * MAX_ELEMENTS, f"more than {MAX_ELEMENTS} elements"),
        (b"<svg>" + b" " * MAX_BYTES, f"larger than {MAX_BYTES // 2**20} MB"),
        (b"<svg/>", "holds no closed shape that is drawn"),
    ],
)
def test_what_is_no_drawing_is_refused_in_one_sentence(tmp_path: Path, content: bytes, said: str) -> None:
    with pytest.raises(ImportingError) as error:
        load(tmp_path, content)
    assert said in str(error.value)
    assert str(error.value).startswith("“a drawing.svg”")
    assert len(str(error.value)) < 300
    assert error.value.do


@pytest.mark.parametrize(
    "head",
    [
        "",
        '<?xml version="1.0" standalone="no"?>',
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">',
        "<!DOCTYPE svg>",
        "<!-- a comment -->",
        "<?xml-stylesheet href='other.css'?>",
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_ways_in_which_drawings_begin(tmp_path: Path, head: str, encoding: str) -> None:
    found = load(tmp_path, (head + drawing(RECT)).encode(encoding))
    assert bounds(found.patches[0][1]) == [10, 20, 40, 60]


def test_an_encoding_of_eight_bits_is_read(tmp_path: Path) -> None:
    head = "<?xml version='1.0' encoding='windows-1251'?>"
    found = load(tmp_path, (head + drawing(RECT.replace('"a"', '"лист"'))).encode("cp1251"))
    assert found.patches[0][0] == "лист"


def test_a_drawing_without_the_name_of_its_namespace_is_read(tmp_path: Path) -> None:
    assert "a" in patches(tmp_path, RECT, MM.replace(SVG, ""))


# --- the caps ---------------------------------------------------------------------------------------


def _fan(levels: int, width: int, leaf: str) -> str:
    """A drawing in which each group uses the one before so many times."""
    groups = [f'<g id="g0">{leaf}</g>']
    groups += [f'<g id="g{n}">' + f'<use href="#g{n - 1}"/>' * width + "</g>" for n in range(1, levels + 1)]
    return drawing(f"<defs>{''.join(groups)}</defs><use href='#g{levels}'/>")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (_fan(10, 10, RECT), f"draws more than {MAX_SHAPES} shapes"),
        (_fan(100, 2, RECT), f"draws more than {MAX_SHAPES} shapes"),
        (_fan(100, 2, "<g/>"), "draws more than"),
        (_fan(300, 1, RECT), f"nested more than {MAX_DEPTH} deep"),
        (
            drawing("".join(f'<g id="g{n}"><use href="#g{n + 1}"/></g>' for n in range(300)) + RECT),
            "nested more",
        ),
        (
            _fan(5, 10, RECT).replace("<use href='", RECT + "<use href='"),
            f"draws more than {MAX_SHAPES} shapes",
        ),
        (drawing(f'<path d="M0 0{"h1" * (MAX_TEXT // 2)}"/>'), "characters"),
        (_fan(4, 7, RECT), f"draws more than {MAX_OUTLINES} outlines"),
        (
            drawing(
                f'<path d="{"".join(f"M{n % 45 * 2} {n // 45 * 2}v1h1z" for n in range(MAX_OUTLINES + 1))}"/>'
            ),
            f"draws more than {MAX_OUTLINES} outlines",
        ),
        (drawing('<circle id="p" r="4999"/>' + '<use href="#p"/>' * 720), f"more than {MAX_POINTS} corners"),
    ],
)
def test_what_grows_beyond_the_caps_is_refused(tmp_path: Path, content: str, said: str) -> None:
    with pytest.raises(ImportingError, match=said):
        load(tmp_path, content)


def test_what_crosses_itself_too_often_is_left_out(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    data = "M0 0" + "".join(f"L{x:.3f} {y:.3f}" for x, y in rng.uniform(0, 99, (2000, 2)))
    found = load(tmp_path, drawing(f'{RECT}<path id="b" d="{data}"/>'))
    assert [name for name, _ in found.patches] == ["a"]
    assert "“b”: left out, it crosses itself too often" in found.notes


# --- nothing but our own error gets out -------------------------------------------------------------

SAMPLE = drawing(
    "<!-- note --><style>.s { fill: none; stroke: #123 } #k, path.t { visibility: hidden !important }</style>"
    '<defs><symbol id="y" viewBox="0 0 9 9" preserveAspectRatio="xMinYMax slice"><circle r="40%"/></symbol>'
    '<clipPath id="c" clipPathUnits="objectBoundingBox"><path d="M0 0L1 0 .5 1Z"/></clipPath></defs>'
    '<g transform="translate(5) rotate(30 9 9) skewX(-4)" transform-origin="50% bottom">'
    '<path id="k" class="s" '
    'd="M10 10c5-5 9.5.5 20 1e1S50 0 60 30t-9 .5Q1 2 3 4A9 8 30 0120 50a3 4 5 1 0-9 9Z"/>'
    '<rect x="1cm" y="2mm" width=".5in" height="20%" rx="2" clip-path="url(#c)"/></g>'
    '<polygon points="1,2 30 4 5.5,60" fill-rule="evenodd"/><use href="#y" x="9" width="40" height="3e1"/>'
    '<svg x="90" width="50" height="50" viewBox="-5 -5 60 60"><ellipse cx="20" cy="20" rx="9"/></svg>'
)


@pytest.mark.parametrize("seed", range(8))
def test_damaged_drawings_are_read_or_refused(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    source = SAMPLE.encode()
    for _ in range(250):
        survives(tmp_path, damaged(source, rng))


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 140))
def test_damaged_drawings_are_read_or_refused_at_length(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    source = SAMPLE.encode()
    for _ in range(2500):
        survives(tmp_path, damaged(source, rng))


_TOKENS = [
    "M0 0",
    "1",
    "-1e5",
    ".5.5",
    "L",
    "h",
    "Z",
    "a1 1 0 01",
    "nan",
    "e",
    ",",
    "C1 2 3",
    "t",
    "1e400",
    " ",
]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.sampled_from(_TOKENS), max_size=14).map("".join),
    st.sampled_from(
        ["rotate(9)", "scale(1e200)", "scale(1e-200)", "matrix(1 1 1 1 0 0)", "skewX(90)", "rotate(1e400)"]
    ),
    st.sampled_from(["0 0 9 9", "0 0 1e-300 1e300", "-1e308 0 1 1", "x"]),
)
def test_any_path_under_any_map_is_read_or_refused(
    tmp_path: Path, data: str, transform: str, box: str
) -> None:
    body = f'<g transform="{transform}"><path d="{data}"/><polygon points="{data}"/></g>'
    survives(tmp_path, f'<svg {SVG} viewBox="{box}">{body}{RECT}</svg>'.encode())


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=60))
def test_any_bytes_are_refused(tmp_path: Path, content: bytes) -> None:
    for whole in (content, b"<svg>" + content, b'<svg viewBox="0 0 9 9"><path d="' + content + b'"/></svg>'):
        survives(tmp_path, whole)
