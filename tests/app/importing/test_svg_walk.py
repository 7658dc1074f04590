"""The structure of an SVG drawing: where shapes come to lie, what clips cut off, and what is too much."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from app.importing import ImportingError
from app.importing.source import MAX_OUTLINES
from app.importing.svg_paths import MAX_SEGMENTS
from app.importing.svg_walk import MAX_POINTS, MAX_SHAPES, MAX_STRAY, MAX_TEXT, MAX_VISITS
from app.importing.svg_xml import MAX_DEPTH
from tests.app.importing.svg_drawings import RECT, SVG, bounds, drawing, load, patches, union


def test_strays_without_end_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ImportingError, match=f"more than {MAX_STRAY} shapes that are no closed outlines"):
        load(tmp_path, drawing('<path d="M0 0" id="a"/>' + '<use href="#a"/>' * MAX_STRAY))


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


def test_a_clip_path_that_refers_to_itself_is_left_aside_in_itself(tmp_path: Path) -> None:
    """CSS Masking 1, the `clipPath` element: such a reference has no effect."""
    inner = '<clipPath id="c"><rect width="25" height="25" clip-path="url(#c)"/></clipPath>'
    found = load(tmp_path, drawing(f'{inner}<g clip-path="url(#c)">{RECT}</g>'))
    assert found.patches[0][1].polygon.area == pytest.approx(75)
    assert found.notes == ("“a”: cut by a clip path or an inner page, as drawn",)


def test_clip_paths_that_cut_each_other_without_end_are_not_followed_and_said(tmp_path: Path) -> None:
    chain = "".join(
        f'<clipPath id="c{n}"><rect width="25" height="25" clip-path="url(#c{n + 1})"/></clipPath>'
        for n in range(400)
    )
    found = load(tmp_path, drawing(f'{chain}<g clip-path="url(#c0)">{RECT}</g>'))
    assert any("a clip path that cannot be read was not used" in note for note in found.notes)


def test_a_mask_is_said_to_be_left_aside(tmp_path: Path) -> None:
    found = load(tmp_path, drawing(f'<mask id="m"/><g id="g" mask="url(#m)">{RECT}</g>'))
    assert "“g”: its mask was not used, the whole shape was" in found.notes


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
        (  # that cancel each other out
            drawing(f'<path fill-rule="evenodd" d="{"M0 0h9v9h-9z" * 2 * MAX_OUTLINES}"/>'),
            f"draws more than {MAX_OUTLINES} outlines",
        ),
        (drawing('<circle id="p" r="4999"/>' + '<use href="#p"/>' * 720), f"more than {MAX_POINTS} corners"),
        (
            drawing('<defs><g id="g">' + "<g/>" * 1000 + "</g></defs>" + '<use href="#g"/>' * 100),
            f"draws more than {MAX_VISITS} elements",
        ),
        (drawing(f'<path d="M0 0{"h1" * MAX_SEGMENTS}"/>'), f"more than {MAX_SEGMENTS} lines and curves"),
        (drawing(f'<path d="M0 0L{"1 1 " * MAX_SEGMENTS}"/>'), f"more than {MAX_SEGMENTS} lines and curves"),
        (drawing(f'<polygon points="{"1 1 " * (MAX_SEGMENTS + 1)}"/>'), "lines and curves"),
        (
            drawing(f'<path d="M0 0{"h1" * (MAX_SEGMENTS // 9)}" fill="none" stroke="red"/>' * 10),
            "lines and curves",
        ),
        (drawing(f'<g transform="{"scale(1)" * 130_000}">{RECT}</g>'), "transforms are written in more than"),
        (
            drawing(
                f'<clipPath id="c">{RECT * (MAX_OUTLINES + 1)}</clipPath>'
                '<rect width="9" height="9" clip-path="url(#c)"/>'
            ),
            f"clip paths hold more than {MAX_OUTLINES} shapes",
        ),
        (
            drawing(
                f'<clipPath id="c">{RECT}</clipPath>'
                + "".join(
                    f'<rect x="{x}" width="9" height="9" transform="rotate({x / 9})" clip-path="url(#c)"/>'
                    for x in range(1001)
                )
            ),
            "clip paths",
        ),
    ],
)
def test_what_grows_beyond_the_caps_is_refused(tmp_path: Path, content: str, said: str) -> None:
    with pytest.raises(ImportingError, match=said):
        load(tmp_path, content)


def test_only_the_chosen_of_a_switch_counts(tmp_path: Path) -> None:
    body = f"<switch>{RECT}{RECT * MAX_SHAPES}</switch>"
    assert len(load(tmp_path, drawing(body)).patches) == 1


def test_what_crosses_itself_too_often_is_left_out(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    data = "M0 0" + "".join(f"L{x:.3f} {y:.3f}" for x, y in rng.uniform(0, 99, (2000, 2)))
    found = load(tmp_path, drawing(f'{RECT}<path id="b" d="{data}"/>'))
    assert [name for name, _ in found.patches] == ["a"]
    assert "“b”: left out, it crosses itself too often" in found.notes
