"""SVG against the figures of its standards, with the source beside each."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.importing import import_file

INCH = 25.4
SVG = 'xmlns="http://www.w3.org/2000/svg"'


def _box(folder: Path, content: str, unit: str | None = None) -> list[float]:
    """x0, y0, x1, y1 of the one patch of a drawing, mm."""
    path = folder / "standard.svg"
    path.write_text(content)
    ((_, patch),) = import_file(path, unit).patches
    return list(patch.polygon.bounds)


# SVG 2, computing the equivalent transform of an SVG viewport (read); the worked figures are computed.
@pytest.mark.parametrize(
    ("ratio", "inches"),
    [
        ("", [2.5, 0, 7.5, 5]),
        ("xMidYMid meet", [2.5, 0, 7.5, 5]),
        ("none", [0, 0, 10, 5]),
        ("xMaxYMin slice", [0, 0, 10, 10]),
    ],
)
def test_a_view_box_of_100_on_a_page_of_10_by_5_inches(
    tmp_path: Path, ratio: str, inches: list[float]
) -> None:
    attribute = f'preserveAspectRatio="{ratio}"' if ratio else ""
    page = f'<svg {SVG} width="10in" height="5in" viewBox="0 0 100 100" {attribute}>'
    box = _box(tmp_path, page + '<rect width="100" height="100"/></svg>')
    assert box == pytest.approx([value * INCH for value in inches], abs=1e-9)


# SVG 2, the example of a bounding box (read); the figures are computed.
def test_the_box_of_a_path_with_a_curve(tmp_path: Path) -> None:
    page = f'<svg {SVG} width="200mm" height="200mm" viewBox="0 0 200 200">'
    box = _box(tmp_path, page + '<path d="M20,50 L35,100 H120 V50 Q70,10 20,50"/></svg>')
    assert box[0] == 20
    assert box[1] == pytest.approx(30, abs=0.05)  # the top of the curve: a polyline may pass below it
    assert box[2:] == [120, 100]


# CSS Values and Units, absolute lengths (read): 1 in = 96 px = 72 pt = 6 pc = 2.54 cm = 25.4 mm = 101.6 Q.
@pytest.mark.parametrize("length", ["1in", "96", "96px", "72pt", "6pc", "2.54cm", "25.4mm", "101.6Q"])
def test_an_inch_by_any_unit(tmp_path: Path, length: str) -> None:
    box = _box(tmp_path, f'<svg {SVG}><rect width="{length}" height="{length}"/></svg>', "px")
    assert box == pytest.approx([0, 0, INCH, INCH], rel=1e-14)
    with_page = (
        f'<svg {SVG} width="{length}" height="{length}" viewBox="0 0 7 7"><rect width="7" height="7"/></svg>'
    )
    assert _box(tmp_path, with_page, "px") == pytest.approx([0, 0, INCH, INCH], rel=1e-14)


# SVG 2, rules for parsing the 'd' of the curve commands: "if the previous command was not …, assume that the
# first control point is coincident with the current point" (read).
@pytest.mark.parametrize(
    ("smooth", "plain"),
    [
        ("M0 0S30 60 60 0", "M0 0C0 0 30 60 60 0"),
        ("M0 0T60 0V40", "M0 0Q0 0 60 0V40"),
        ("M0 40Q10 0 20 40S40 60 60 40V0", "M0 40Q10 0 20 40C20 40 40 60 60 40V0"),
        ("M0 40C5 0 15 0 20 40T60 40V0", "M0 40C5 0 15 0 20 40Q20 40 60 40V0"),
        ("M0 40C5 0 15 0 20 40S40 60 60 40V0", "M0 40C5 0 15 0 20 40C25 80 40 60 60 40V0"),
        ("M0 40Q10 0 20 40T60 40V0", "M0 40Q10 0 20 40Q30 80 60 40V0"),
    ],
)
def test_smooth_curves_mirror_only_a_curve_of_their_own_kind(tmp_path: Path, smooth: str, plain: str) -> None:
    def outline(data: str) -> object:
        path = tmp_path / "smooth.svg"
        path.write_text(f'<svg {SVG}><path d="{data}Z"/></svg>')
        return [patch.outline.tolist() for _, patch in import_file(path, "px").patches]

    assert outline(smooth) == outline(plain)
