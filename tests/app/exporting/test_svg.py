"""The SVG as svgelements and an XML parser find it: true size, a path a line, the project's words."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
import shapely
from svgelements import SVG, Circle, Group, Path, Text

from app.exporting.options import TemplateKind, TemplateOptions
from app.exporting.svg import template_svg
from geometry import Fit, Patch, Settings, fit
from geometry.units import LengthStyle
from tests.app.exporting.samples import large, slanted, square, troubled

PX = 96 / 25.4
"""px: a mm (1 in is 96 CSS px; svgelements' own inch is 96.00005)."""
CLOSE = 1e-5
NS = "{http://www.w3.org/2000/svg}"
FITS = {"square": square(), "troubled": troubled(), "slanted": slanted(), "large": large()}


def read(text: str) -> SVG:
    return SVG.parse(io.StringIO(text))


def named(document: SVG) -> dict[str, object]:
    elements = list(document.elements())
    ids = [element.id for element in elements if getattr(element, "id", None)]
    assert len(ids) == len(set(ids))
    return {element.id: element for element in elements if getattr(element, "id", None)}


def points(path: object) -> np.ndarray:
    """Corners of a path, mm on the page."""
    assert isinstance(path, Path)
    corners = [segment.end for segment in path if segment.end is not None]
    return np.array([(corner.x, corner.y) for corner in corners]) / PX


def moved(drawn: Fit) -> np.ndarray:
    """mm: from the patch's own places to those in the file, where it is the first: 12 mm from the corner."""
    left, top, _, _ = drawn.patch.polygon.bounds
    return np.array([12 - left, 12 - top])


@pytest.mark.parametrize("name", FITS)
def test_the_page_is_true_size(name: str) -> None:
    drawn = FITS[name]
    root = ET.fromstring(template_svg([("Kite", drawn)]))
    left, top, right, bottom = drawn.patch.polygon.bounds
    size = (right - left + 24, bottom - top + 24)
    assert root.get("width", "").endswith("mm")
    assert (float(root.get("width", "")[:-2]), float(root.get("height", "")[:-2])) == pytest.approx(size)
    assert [float(value) for value in root.get("viewBox", "").split()] == pytest.approx([0, 0, *size])
    document = read(template_svg([("Kite", drawn)]))
    assert (document.width / PX, document.height / PX) == pytest.approx(size, rel=CLOSE)


@pytest.mark.parametrize("name", FITS)
def test_every_wedge_is_one_path_where_the_fit_has_it(name: str) -> None:
    drawn = FITS[name]
    by_name = named(read(template_svg([("Kite", drawn)])))
    wedges = [wedge for fan in drawn.fans for wedge in fan.wedges]
    for wedge in wedges:
        found = points(by_name[f"wedge-{wedge.number}"])
        # closed: the first point comes once more
        assert found == pytest.approx(wedge.outline + moved(drawn), rel=CLOSE, abs=1e-5)
    assert sum(key.startswith("wedge-") and key[6:].isdigit() for key in by_name) == len(wedges)


@pytest.mark.parametrize("name", FITS)
def test_seam_and_edge_are_the_patch_and_the_stitchable_area(name: str) -> None:
    drawn = FITS[name]
    by_name = named(read(template_svg([("Kite", drawn)])))
    for group, area in (("seam", drawn.patch.polygon), ("stitchable-area", drawn.stitchable[0])):
        element = by_name[group]
        assert isinstance(element, Group)
        rings = [shapely.Polygon(points(path) - moved(drawn)) for path in element]
        found = rings[0]
        for hole in rings[1:]:
            found = found.difference(hole)
        assert shapely.hausdorff_distance(found.boundary, area.boundary) < CLOSE * 610
        assert len(rings) == 1 + len(area.interiors)


@pytest.mark.parametrize("name", FITS)
def test_every_mark_is_a_circle_in_its_place_with_its_letters(name: str) -> None:
    drawn = FITS[name]
    document = read(template_svg([("Kite", drawn)]))
    by_name = named(document)
    words = {element.text for element in document.elements() if isinstance(element, Text)}
    for fan in drawn.fans:
        for mark in fan.marks:
            circle = by_name[f"mark-{mark.name}"]
            assert isinstance(circle, Circle)
            assert (circle.cx / PX, circle.cy / PX) == pytest.approx(
                tuple(moved(drawn) + mark.at), rel=CLOSE, abs=1e-5
            )
            assert circle.rx / PX < 1.5
            assert mark.name in words


def test_groups_are_named_by_the_projects_words() -> None:
    root = ET.fromstring(template_svg([("Kite", troubled())]))
    (patch,) = root.findall(f"{NS}g")
    assert patch.get("id") == "patch-1"
    assert [group.get("id") for group in patch.findall(f"{NS}g")] == [
        "out-of-sight", "seam", "stitchable-area", "wedges", "marks", "findings", "anchor", "words",
    ]  # fmt: skip
    assert patch.findtext(f"{NS}title") == root.findtext(f"{NS}title") == "Kite"


def test_echoes_hatches_and_findings_are_there() -> None:
    from dataclasses import replace

    echo = np.array([(60.0, 50.0), (80.0, 60.0), (80.0, 70.0), (60.0, 50.0)])
    base = troubled()
    first = replace(base.fans[0].wedges[0], echoes=(echo,))
    drawn = replace(base, prompt_fans=(replace(base.fans[0], wedges=(first, *base.fans[0].wedges[1:])),))
    document = read(template_svg([("Kite", drawn)]))
    by_name = named(document)
    assert points(by_name["wedge-1-echo-1"]) == pytest.approx(echo + moved(drawn), rel=CLOSE)
    texts = [element.text for element in document.elements() if isinstance(element, Text)]
    assert any("in < 1/4 in" in text for text in texts)
    dots = by_name["out-of-sight"]
    assert isinstance(dots, Group)
    (stipple,) = dots
    area = drawn.out_of_sight.areas[0].buffer(0.01)
    assert len(points(stipple)) > 200
    assert shapely.contains_xy(area, *(points(stipple) - moved(drawn)).T).all()


def test_sizes_of_letters_are_true() -> None:
    root = ET.fromstring(template_svg([("Kite", square())]))
    sizes = {float(text.get("font-size", "0")) for text in root.iter(f"{NS}text")}
    assert sorted(sizes) == pytest.approx([10 / 72 * 25.4, 12 / 72 * 25.4], abs=1e-6)
    # y is the line the letters stand on: the box is as high as the capitals, and some clear space.
    boxes = [float(rect.get("height", "0")) for rect in root.iter(f"{NS}rect")]
    assert max(boxes) < 12 / 72 * 25.4 * 1.1


def test_several_patches_stand_side_by_side() -> None:
    text = template_svg([("Kite", square(76.2)), ("Ell", slanted())])
    by_name = named(read(text))
    assert isinstance(by_name["patch-2"], Group)
    one, two = (np.concatenate([points(by_name[f"patch-{n}-wedge-{k}"]) for k in (1, 2, 3)]) for n in (1, 2))
    assert one[:, 0].max() < 12 + 76.2 + 1 < 12 + 76.2 + 12 - 1 < two[:, 0].min()
    left, top, right, _ = slanted().patch.polygon.bounds
    expected = slanted().fans[0].wedges[0].outline - (left, top) + (12 + 76.2 + 12, 12)
    assert points(by_name["patch-2-wedge-1"]) == pytest.approx(expected, rel=CLOSE)
    assert read(text).width / PX == pytest.approx(12 + 76.2 + 12 + right - left + 12, rel=CLOSE)


def test_kinds_show_lines_marks_or_both() -> None:
    def ids(kind: TemplateKind) -> set[str]:
        return set(named(read(template_svg([("Kite", square())], TemplateOptions(kind=kind)))))

    both, lines, marks = ids(TemplateKind.BOTH), ids(TemplateKind.LINES), ids(TemplateKind.MARKS)
    assert both == lines | marks
    assert "wedge-1" in lines - marks
    assert "mark-A1" in marks - lines
    assert {"seam", "stitchable-area", "anchor"} <= lines & marks


def test_mirrored_is_the_mirror_image_and_says_so() -> None:
    drawn = slanted()
    text = template_svg([("Kite", drawn)], TemplateOptions(mirrored=True))
    document = read(text)
    by_name = named(document)
    left, _, right, _ = drawn.patch.polygon.bounds
    for wedge in drawn.fans[0].wedges:
        expected = wedge.outline * (-1, 1) + (left + right, 0) + moved(drawn)
        assert points(by_name[f"wedge-{wedge.number}"]) == pytest.approx(expected, rel=CLOSE, abs=1e-5)
    texts = [element.text for element in document.elements() if isinstance(element, Text)]
    assert "Mirrored" in texts
    assert "matrix" not in text  # letters are not mirrored with it
    assert "scale" not in text
    assert "Mirrored" not in template_svg([("Kite", drawn)])


def test_copies_echoes_numbers_and_arrows_as_asked_for() -> None:
    echoed = fit(
        Patch([(0, 0), (150, 0), (150, 150), (0, 150)]),
        (75.0, 75.0),
        Settings(echo_count=2, echo_spacing=4.0),
    )

    def groups(**changed: object) -> list[str]:
        text = template_svg([("Kite", echoed)], TemplateOptions(**changed))  # type: ignore[arg-type]
        return [group.get("id", "") for group in ET.fromstring(text).iter(f"{NS}g")]

    assert "echoes" in groups()
    assert "echoes" not in groups(echoes=False)
    assert [name for name in groups(copies=3) if re.fullmatch(r"patch-\d", name)] == [
        "patch-1", "patch-2", "patch-3",
    ]  # fmt: skip
    plain, arrowed = (
        template_svg([("Kite", square())], TemplateOptions(arrows=each)) for each in (False, True)
    )
    assert 'id="stitch-path"' in arrowed
    assert 'id="stitch-path"' not in plain
    document = read(template_svg([("Kite", echoed)], TemplateOptions(numbers=False)))
    words = {element.text for element in document.elements() if isinstance(element, Text)}
    assert "1" not in words
    assert "A1" in words


def test_dots_to_prick_are_solid() -> None:
    document = read(template_svg([("Kite", square())], TemplateOptions(kind=TemplateKind.MARKS)))
    by_name = named(document)
    for mark in square().fans[0].marks:
        circle = by_name[f"mark-{mark.name}"]
        assert isinstance(circle, Circle)
        assert circle.fill == circle.stroke != "none"


@pytest.mark.parametrize("name", ['<b> & "q"', "]]>", "日本 ü 🧵", "a\x00b\x1f\ufffe", "line\nbreak"])
def test_any_name_makes_good_xml(name: str) -> None:
    root = ET.fromstring(template_svg([(name, square())]))
    title = root.findtext(f"{NS}title") or ""
    assert title.split() == "".join(c if c.isprintable() else " " for c in name).split()


def test_lengths_are_in_the_users_units() -> None:
    assert "mm &lt; 6.4 mm" in template_svg([("Kite", troubled())], style=LengthStyle.MM)


def test_a_patch_without_room_and_one_without_margin() -> None:
    narrow = fit(Patch([(0, 0), (100, 0), (100, 12), (0, 12)]), (20.0, 6.0))
    assert "no room" in template_svg([("Narrow", narrow)])
    flush = fit(square().patch, (101.6, 101.6), Settings(edge_margin=0.0))
    assert "stitchable-area" not in template_svg([("Flush", flush)])
