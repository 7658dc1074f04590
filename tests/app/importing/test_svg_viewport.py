"""View boxes, and pages of inner drawings."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.importing import ImportingError
from tests.app.importing.svg_drawings import RECT, SVG, bounds, drawing, load, patches


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
