"""Paths and basic shapes of an SVG file as curves in their own user units (SVG 2, paths and basic shapes)."""

from __future__ import annotations

from app.importing import svg_paths
from app.importing.curves import Curves, ellipse, rounded_rectangle
from app.importing.source import quoted
from app.importing.svg_remarks import Remark, Remarks
from app.importing.svg_style import Lengths, UnreadableLengthError
from app.importing.svg_xml import Element
from app.sketch.translate import tr

SHAPES = frozenset({"path", "rect", "circle", "ellipse", "polygon", "polyline", "line"})
"""The elements that draw an outline."""


def called(element: Element) -> str:
    """How a remark names an element."""
    if element.name:
        return quoted(element.name)
    return tr("{tag} in line {line}", tag=element.tag, line=element.line)


def outline(element: Element, lengths: Lengths, remarks: Remarks) -> Curves | None:
    """The curves of a path or basic shape; None, and a remark, where it has none that can be read."""
    try:
        match element.tag:
            case "path" | "polygon" | "polyline":
                return _listed(element, remarks)
            case "rect":
                curves = _rectangle(element.style, lengths)
            case "circle" | "ellipse":
                curves = _round(element, lengths)
            case _:  # a line
                curves = None
    except UnreadableLengthError:
        remarks.add(Remark.LENGTH, called(element))
        return None
    if curves is None:
        remarks.add(Remark.FLAT, called(element))
    return curves


def _listed(element: Element, remarks: Remarks) -> Curves:
    if element.tag == "path":
        text = element.attributes.get("d", "")
        curves, error = svg_paths.path(text)
    else:
        text = element.attributes.get("points", "")
        curves, error = svg_paths.points(text, closed=element.tag == "polygon")
    if error is not None:
        where = tr("{found} at character {place}", found=quoted(text[error : error + 12]), place=error + 1)
        remarks.add(Remark.CUT_SHORT, f"{called(element)} ({where})")
    return curves


def _rectangle(style: dict[str, str], lengths: Lengths) -> Curves | None:
    x = lengths.read(style.get("x"), lengths.width)
    y = lengths.read(style.get("y"), lengths.height)
    width = lengths.read(style.get("width"), lengths.width)
    height = lengths.read(style.get("height"), lengths.height)
    rx, ry = _radii(style, lengths)
    if not (width > 0 and height > 0):
        return None
    return rounded_rectangle(x, y, width, height, min(rx, width / 2), min(ry, height / 2))


def _round(element: Element, lengths: Lengths) -> Curves | None:
    style = element.style
    cx = lengths.read(style.get("cx"), lengths.width)
    cy = lengths.read(style.get("cy"), lengths.height)
    if element.tag == "circle":
        rx = ry = lengths.read(style.get("r"), lengths.diagonal)
    else:
        rx, ry = _radii(style, lengths)
    return ellipse((cx, cy), rx, ry) if rx > 0 and ry > 0 else None


def _radii(style: dict[str, str], lengths: Lengths) -> tuple[float, float]:
    """``rx`` and ``ry``; each takes the other's where there is none (SVG 2, geometry properties)."""
    rx = lengths.read(style.get("rx"), lengths.width, "-1")
    ry = lengths.read(style.get("ry"), lengths.height, "-1")
    rx, ry = (ry if rx < 0 else rx), (rx if ry < 0 else ry)
    return max(rx, 0.0), max(ry, 0.0)
