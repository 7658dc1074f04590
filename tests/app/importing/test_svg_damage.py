"""Damaged SVG drawings are read or refused; nothing but our own error gets out."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.app.importing.svg_drawings import RECT, SVG, damaged, drawing, survives

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
