"""Basic shapes of SVG, against their formulas; what encloses nothing is left out with a word about it."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from app.importing import ImportingError
from geometry.tolerances import FLATTEN
from tests.app.importing.svg_drawings import RECT, SVG, bounds, drawing, load, patches


@pytest.mark.parametrize("length", ["3em", "2ex", "5vw", "calc(1mm)", "x", "1 mm", "--3", "1e"])
def test_a_length_that_cannot_be_read_leaves_its_shape_out(tmp_path: Path, length: str) -> None:
    found = load(tmp_path, drawing(RECT + f'<rect id="b" width="{length}" height="9"/>'))
    assert [name for name, _ in found.patches] == ["a"]
    assert "“b”: left out, a length that cannot be read" in found.notes


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


def test_an_open_line_is_left_out_with_the_distance_of_its_ends(tmp_path: Path) -> None:
    body = '<path id="b" d="M0 0H3V4" fill="none" stroke="red"/>'
    found = load(tmp_path, drawing(RECT + body))
    assert "“b” (its ends are 5 mm apart): left out, an open line; close it to make a patch" in found.notes
