"""What an SVG file may be made of, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.importing import ImportingError
from app.importing.svg_xml import MAX_BYTES, MAX_DEPTH, MAX_ELEMENTS
from tests.app.importing.svg_drawings import MM, RECT, SVG, bounds, drawing, load, patches


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
        (b"<svg " + b" ".join(b"a%d=''" % n for n in range(20_000)) + b"/>", "more than 10000 attributes"),
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


def test_a_picture_packed_into_a_drawing_is_no_long_list_of_attributes(tmp_path: Path) -> None:
    found = load(
        tmp_path, drawing(f'{RECT}<image href="data:image/png;base64,{"abc=" * 2000}{"a" * 200_000}"/>')
    )
    assert [name for name, _ in found.patches] == ["a"]


def test_a_name_in_many_pieces_is_read(tmp_path: Path) -> None:
    body = f"<rect width='9' height='9'><title>{'<!-- -->a<!-- -->b'}</title></rect>"
    assert list(patches(tmp_path, body)) == ["ab"]


def test_an_encoding_of_eight_bits_is_read(tmp_path: Path) -> None:
    head = "<?xml version='1.0' encoding='windows-1251'?>"
    found = load(tmp_path, (head + drawing(RECT.replace('"a"', '"лист"'))).encode("cp1251"))
    assert found.patches[0][0] == "лист"


def test_a_drawing_without_the_name_of_its_namespace_is_read(tmp_path: Path) -> None:
    assert "a" in patches(tmp_path, RECT, MM.replace(SVG, ""))
