"""Curves of SVG files: how they are read, and how near their polylines stay. Oracles written apart."""

from __future__ import annotations

import math
import random
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QByteArray, QPointF, QRectF, Qt
from PySide6.QtGui import QImage, QPainter, QPainterPath, QPolygonF
from PySide6.QtSvg import QSvgRenderer
from pytestqt.qtbot import QtBot

from app.importing.curves import Matrix
from app.importing.svg_paths import path, points, transform
from geometry import WedgewrightError
from geometry.tolerances import FLATTEN
from geometry.types import Points
from tests.app.importing.svg_drawings import drawing, load, patches

DENSE = 4000


def _mapped(matrix: Matrix, sample: Points) -> Points:
    a, b, c, d, e, f = matrix
    x, y = sample.T
    return np.stack([a * x + c * y + e, b * x + d * y + f], axis=1)


def _bezier(corners: Points) -> Points:
    """Dense points of a Bézier curve, by de Casteljau's construction."""
    t = np.linspace(0, 1, DENSE)[:, None]
    rows = [np.repeat(corner[None], DENSE, axis=0) for corner in corners]
    while len(rows) > 1:
        rows = [(1 - t) * before + t * after for before, after in pairwise(rows)]
    return rows[0]


def _ellipse(centre: Points, rx: float, ry: float, turned: float, begin: float, turn: float) -> Points:
    """Dense points of an arc, from its centre and its angles."""
    t = begin + turn * np.linspace(0, 1, DENSE)
    x, y = rx * np.cos(t), ry * np.sin(t)
    cos, sin = math.cos(turned), math.sin(turned)
    return centre + np.stack([x * cos - y * sin, x * sin + y * cos], axis=1)


def _random_matrix(rng: np.random.Generator) -> Matrix:
    """Scaled, sheared, turned, mirrored: up to tenfold or down to a tenth and less."""
    a, b, c, d = (rng.uniform(-3, 3, 4) * 10 ** rng.uniform(-1, 0.5)).tolist()
    e, f = rng.uniform(-50, 50, 2).tolist()
    return (a, b, c, d, e, f)


def _check(data: str, truth: Points, matrix: Matrix) -> None:
    """The polyline of path data strays from the true curve by no more than the tolerance."""
    curves, error = path(data)
    assert error is None
    found = curves.mapped(matrix)
    (ring,) = found.flattened(found.steps(FLATTEN))
    truth = _mapped(matrix, truth)
    line = shapely.linestrings(ring)
    assert shapely.distance(line, shapely.points(truth)).max() <= FLATTEN * (1 + 1e-9) + 1e-9
    # Every point of the polyline lies on the curve, as near as a dense sample can tell.
    spacing = np.hypot(*np.diff(truth, axis=0).T).max()
    off = shapely.distance(shapely.linestrings(truth), shapely.points(ring))
    assert off.max() <= 1e-9 + spacing / 100
    assert np.hypot(*(ring[0] - truth[0])) < 1e-9
    assert np.hypot(*(ring[-1] - truth[-1])) < 1e-9 * max(1.0, np.abs(truth).max())


@pytest.mark.parametrize("seed", range(25))
def test_bezier_curves_stay_within_the_tolerance_after_all_transforms(seed: int) -> None:
    rng = np.random.default_rng(seed)
    for letter, count in (("C", 4), ("Q", 3)):
        corners = rng.uniform(-40, 40, (count, 2))
        start, *rest = (f"{x!r} {y!r}" for x, y in corners.tolist())
        _check(f"M{start}{letter}{' '.join(rest)}", _bezier(corners), _random_matrix(rng))


@pytest.mark.parametrize("seed", range(40))
def test_arcs_stay_within_the_tolerance_after_all_transforms(seed: int) -> None:
    rng = np.random.default_rng(seed)
    centre = rng.uniform(-40, 40, 2)
    rx, ry = (10 ** rng.uniform(-1, 2, 2)).tolist()
    turned, begin = rng.uniform(-3, 3, 2).tolist()
    turn = float(rng.uniform(0.05, math.tau - 0.05) * rng.choice([-1, 1]))
    truth = _ellipse(centre, rx, ry, turned, begin, turn)
    flags = f"{int(abs(turn) > math.pi)}{int(turn > 0)}"
    (x0, y0), (x1, y1) = truth[0].tolist(), truth[-1].tolist()
    data = f"M{x0!r},{y0!r}A{rx!r},{ry!r} {math.degrees(turned)!r} {flags}{x1!r} {y1!r}"
    _check(data, truth, _random_matrix(rng))


@pytest.mark.parametrize("radius", [0.2, 3.0, 50.0, 4999.0])
def test_a_circle_has_no_more_corners_than_it_needs(tmp_path: Path, radius: float) -> None:
    found = patches(tmp_path, f'<circle id="a" r="{radius}"/>')["a"].outline
    edges = np.hypot(*(found - np.roll(found, 1, axis=0)).T)
    bow = radius - np.sqrt(radius**2 - (edges / 2) ** 2)
    assert bow.max() <= FLATTEN * (1 + 1e-9)
    needed = math.tau / (2 * math.acos(1 - FLATTEN / radius))
    assert len(found) < needed + 5  # four quarters, each rounded up, and the ends


def test_a_file_in_metres_and_one_in_hundredths_give_the_same_patch(tmp_path: Path) -> None:
    """The tolerance is one of the cloth, not of the file's own units."""
    whole = 'xmlns="http://www.w3.org/2000/svg" width="2000mm" height="2000mm" viewBox="0 0 {0} {0}"'
    shape = '<path id="a" transform="scale({})" d="M1 1C9 0 2 8 9 9A5 4 30 0 1 3 9Q0 9 1 1Z"/>'
    small = patches(tmp_path, shape.format(0.1), whole.format(1))["a"]
    large = patches(tmp_path, shape.format(20000), whole.format(200000))["a"]
    np.testing.assert_allclose(small.outline, large.outline, atol=1e-9)
    assert len(small.outline) > 100


# --- arcs at their limits (SVG 2, out-of-range elliptical arc parameters) ---------------------------


def _ring(data: str) -> Points:
    curves, error = path(data)
    assert error is None
    (ring,) = curves.flattened(curves.steps(FLATTEN))
    return ring


def test_an_arc_without_a_radius_is_a_line() -> None:
    assert _ring("M0 0A0 5 0 0 1 10 10").tolist() == [[0, 0], [10, 10]]
    assert _ring("M0 0A5 0 0 0 1 10 10").tolist() == [[0, 0], [10, 10]]


def test_an_arc_to_where_it_is_draws_nothing() -> None:
    assert _ring("M0 0A5 5 0 0 1 0 0L1 1").tolist() == [[0, 0], [1, 1]]


def test_an_arc_too_small_to_reach_is_made_larger() -> None:
    ring = _ring("M0 0A1 1 0 0 1 10 0")
    np.testing.assert_allclose(np.hypot(*(ring - [5, 0]).T), 5, atol=1e-12)
    wide = _ring("M0 0A2 1 0 0 1 10 0")
    np.testing.assert_allclose(np.hypot(*((wide - [5, 0]) / [5, 2.5]).T), 1, atol=1e-12)


def test_a_negative_radius_is_taken_without_its_sign() -> None:
    assert _ring("M0 0A-9 -7 20 0 1 10 10").tolist() == _ring("M0 0A9 7 20 0 1 10 10").tolist()


@pytest.mark.parametrize("radius", ["1e7", "1e9", "1e12", "1e20", "1e200"])
def test_an_arc_that_is_all_but_straight_is_no_shape_too_large(tmp_path: Path, radius: str) -> None:
    found = patches(tmp_path, f'<path id="a" d="M0 0A{radius} {radius} 0 0 1 100 0V50H0Z"/>')["a"]
    assert found.polygon.area == pytest.approx(5000, abs=0.01)


# --- the grammar ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "corners"),
    [
        ("M1 2 3 4 5 6", [(1, 2), (3, 4), (5, 6)]),
        ("m1 2 3 4 5 6", [(1, 2), (4, 6), (9, 12)]),
        ("M1-2.5L.5.5-.5+3e0", [(1, -2.5), (0.5, 0.5), (-0.5, 3)]),
        ("M1 2H3 4V5 6", [(1, 2), (3, 2), (4, 2), (4, 5), (4, 6)]),
        ("M1 2h3 4v5 6", [(1, 2), (4, 2), (8, 2), (8, 7), (8, 13)]),
        ("M1. 2.L3.,4.e0", [(1, 2), (3, 4)]),
        (" \t\r\n\fM 1 , 2 L 3 4 ", [(1, 2), (3, 4)]),
    ],
)
def test_path_data(data: str, corners: list[tuple[float, float]]) -> None:
    curves, error = path(data)
    (ring,) = curves.flattened(curves.steps(FLATTEN))
    assert [tuple(corner) for corner in ring.tolist()] == corners
    assert error is None


def test_after_a_close_the_pen_is_where_the_ring_began() -> None:
    curves, _ = path("M1 1L9 1L9 9zl1 2 3 4m1 1 5 5")
    rings = [ring.tolist() for ring in curves.flattened(curves.steps(FLATTEN))]
    assert rings == [[[1, 1], [9, 1], [9, 9]], [[1, 1], [2, 3], [5, 7]], [[6, 8], [11, 13]]]
    assert curves.closed == (True, False, False)


@pytest.mark.parametrize(
    ("data", "error", "area"),
    [
        ("M0 0H9V9H0Z", None, 81),
        ("M0 0H9V9H0Z?", 11, 81),
        ("M0 0H9V9H0Z,", 11, 81),
        ("M0 0H9V9H0, Z", 10, 81),
        ("M0 0H9V9H0ZX", 11, 81),
        ("M0 0H9V9L0 9 7", 13, 81),  # a lone x is left out, what came before stays
        ("M0 0H9V9H0 nan", 11, 81),
        ("M0 0H9V9H", 8, 40.5),  # a letter without its numbers
        ("M0 0H9V9C1 2 3 4 5", 8, 40.5),
        ("M0 0H9V9A1 1 0 2 1 0 9", 8, 40.5),  # a flag is 0 or 1
        ("M0 0H9V9Z 5", 10, 40.5),
        ("L0 0H9V9H0Z", 0, None),
        ("0 0H9V9H0Z", 0, None),
        ("M", 0, None),
        ("M0", 0, None),
        ("M,0 0H9", 0, None),
    ],
)
def test_path_data_are_drawn_up_to_their_first_error(
    tmp_path: Path, data: str, error: int | None, area: float | None
) -> None:
    assert path(data)[1] == error
    other = '<rect id="b" x="50" width="3" height="3"/>'
    found = load(tmp_path, drawing(f'<path id="a" d="{data}"/>{other}'))
    drawn = dict(found.patches)
    assert (drawn["a"].polygon.area if "a" in drawn else None) == area
    said = [note for note in found.notes if "cannot be read further, drawn up to there" in note]
    assert len(said) == (error is not None)
    if error is not None:
        assert f"at character {error + 1})" in said[0]


@pytest.mark.parametrize(
    ("text", "corners", "error"),
    [
        ("1,2 3,4", [(1, 2), (3, 4)], None),
        ("1 2,3-4", [(1, 2), (3, -4)], None),
        ("1 2 3 4 5", [(1, 2), (3, 4)], 8),
        ("1 2 3 4 x 5 6", [(1, 2), (3, 4)], 8),
        ("", [], None),
        ("1", [], 0),
    ],
)
def test_point_lists(text: str, corners: list[tuple[float, float]], error: int | None) -> None:
    curves, found = points(text, closed=True)
    assert found == error
    rings = curves.flattened(curves.steps(FLATTEN))
    assert [tuple(corner) for ring in rings for corner in ring.tolist()] == corners


@pytest.mark.parametrize(
    "text", ["rotate(1e400)", "skewX(nan)", "scale(1,2,3)", "rotate(1 2)", "x(1)", "scale(1)x"]
)
def test_transform_lists_that_are_none(text: str) -> None:
    assert transform(text) is None


# --- a renderer that others wrote -------------------------------------------------------------------

SIDE = 400
"""Pixels for 200 user units: one is 0.13 mm, so that no true polyline is half a pixel off."""


def _number(rng: random.Random, low: float, high: float) -> str:
    return rng.choice(["{:.0f}", "{:.2f}", "{:.1e}", "{:g}"]).format(rng.uniform(low, high))


def _random_path(rng: random.Random) -> str:
    """All commands, absolute and relative, repeated without their letter, in any order."""
    data = f"M{_number(rng, 20, 180)} {_number(rng, 20, 180)}"
    for _ in range(rng.randint(2, 7)):
        letter = rng.choice("mlhvcsqtazMLHVCSQTAZ")
        low, high = (-60, 60) if letter.islower() else (10, 190)
        again = rng.choice([1, 1, 2])
        if letter in "aA":
            arcs = []
            for _ in range(again):
                radii = f"{_number(rng, 5, 80)} {_number(rng, 5, 80)} {_number(rng, -90, 90)}"
                flags = f"{rng.randint(0, 1)} {rng.randint(0, 1)}"
                arcs.append(f"{radii} {flags} {_number(rng, low, high)},{_number(rng, low, high)}")
            data += letter + " ".join(arcs)
        else:
            count = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "Z": 0}[letter.upper()]
            data += letter + " ".join(_number(rng, low, high) for _ in range(count * again))
    return data


def _random_transform(rng: random.Random) -> str:
    kinds = [
        f"translate({_number(rng, -20, 20)} {_number(rng, -20, 20)})",
        f"rotate({_number(rng, -90, 90)},100 100)",
        f"scale({_number(rng, 0.5, 1.2)})",
        f"scale({_number(rng, 0.5, 1.2)},{_number(rng, -1, 1.2)})",
        f"skewX({_number(rng, -30, 30)})",
        f"skewY({_number(rng, -30, 30)})",
        "matrix(.9 .1 -.2 1.1 5 -5)",
    ]
    return " ".join(rng.sample(kinds, rng.randint(0, 2)))


def _canvas() -> QImage:
    image = QImage(SIDE, SIDE, QImage.Format.Format_Grayscale8)
    image.fill(255)
    return image


def _ink(image: QImage) -> Points:
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(SIDE, image.bytesPerLine())
    return 1 - rows[:, :SIDE] / 255


def _rendered(svg: str) -> Points:
    image = _canvas()
    renderer = QSvgRenderer(QByteArray(svg.encode()))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    renderer.render(painter, QRectF(0, 0, SIDE, SIDE))
    painter.end()
    return _ink(image)


def _imported(folder: Path, svg: str) -> Points:
    image = _canvas()
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.scale(SIDE / 200 * 96 / 25.4, SIDE / 200 * 96 / 25.4)
    try:
        found = load(folder, svg, "px").patches
    except WedgewrightError:
        found = ()
    for _, patch in found:
        shape = QPainterPath()
        shape.setFillRule(Qt.FillRule.OddEvenFill)
        for ring in (patch.outline, *patch.holes):
            shape.addPolygon(QPolygonF([QPointF(x, y) for x, y in ring.tolist()]))
            shape.closeSubpath()
        painter.fillPath(shape, Qt.GlobalColor.black)
    painter.end()
    return _ink(image)


@pytest.mark.parametrize("seed", range(12))
def test_qt_draws_the_same(qtbot: QtBot, tmp_path: Path, seed: int) -> None:
    """Random paths under random transforms and both fill rules, against Qt's own SVG renderer."""
    rng = random.Random(seed)
    for _ in range(10):
        rule = rng.choice(["nonzero", "evenodd"])
        svg = (
            '<svg xmlns="http://www.w3.org/2000/svg" width="200" height="200" viewBox="0 0 200 200">'
            f'<g transform="{_random_transform(rng)}"><path fill-rule="{rule}" '
            f'transform="{_random_transform(rng)}" d="{_random_path(rng)}"/></g></svg>'
        )
        off = np.abs(_rendered(svg) - _imported(tmp_path, svg)) > 0.6
        assert off.sum() <= 30, svg
