"""Style sheets and attributes of SVG: what they hide and show."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.importing import ImportingError
from tests.app.importing.svg_drawings import RECT, drawing, load


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


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (f"<style>{'a{x:1}' * 10_001}</style>", "style sheets hold more than 10000 rules"),
        (f"<style>{'a,' * 10_001} b {{x:1}}</style>", "style sheets hold more than 10000 rules"),
        (f"<style>rect {{ {'x:1;' * 1_000_001} }}</style>", "styles are written in more than"),
        ("".join(f'<g style="x:{n};{"y:1;" * 9999}"/>' for n in range(110)), "styles are written in more"),
        (
            f"<style>{'.b{x:1}' * 500}</style>" + "".join(f'<g class="a{n} b"/>' for n in range(500)),
            "style sheets are too involved",
        ),
        (f'<style>.b{{x:1}}</style><g class="{"b " * 110_000}"/>', "style sheets are too involved"),
    ],
)
def test_styles_that_take_too_long_are_refused(tmp_path: Path, body: str, said: str) -> None:
    with pytest.raises(ImportingError, match=said):
        load(tmp_path, drawing(body + RECT))


def test_many_elements_of_few_styles_are_none_too_many(tmp_path: Path) -> None:
    rules = "".join(f".c{n} {{ fill: none }} #a {{ display: inline }}" for n in range(300))
    body = "".join(f'<g id="g{n}" class="c{n % 300}" style="{"x:1;" * 99}"/>' for n in range(15_000))
    assert list(dict(load(tmp_path, drawing(f"<style>{rules}</style>{body}{RECT}")).patches)) == ["a"]
