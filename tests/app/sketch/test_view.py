"""Where the cloth lies on the screen: properties of the mapping, checked without a window."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.sketch.view import LEAST_SCALE, MOST_SCALE, View

near = st.floats(-2000, 2000, allow_nan=False)
views = st.builds(
    View,
    width=st.floats(50, 3000),
    height=st.floats(50, 3000),
    scale=st.floats(0.05, 150),
    centre=st.tuples(near, near),
)
pixels = st.tuples(st.floats(0, 3000), st.floats(0, 3000))


@given(views, pixels)
def test_there_and_back(view: View, pixel: tuple[float, float]) -> None:
    assert view.point_to_screen(view.to_cloth(pixel)) == pytest.approx(pixel, abs=1e-5)


@given(views, st.lists(st.tuples(near, near), min_size=1, max_size=5))
def test_many_points_go_where_each_goes(view: View, points: list[tuple[float, float]]) -> None:
    together = view.to_screen(np.array(points))
    alone = [view.point_to_screen(point) for point in points]
    assert together == pytest.approx(np.array(alone), rel=1e-9, abs=1e-6)


@given(views, st.floats(0.01, 100), pixels)
def test_zoom_keeps_the_cloth_under_the_pointer(
    view: View, factor: float, pixel: tuple[float, float]
) -> None:
    zoomed = view.zoomed(factor, pixel)
    assert zoomed.to_cloth(pixel) == pytest.approx(view.to_cloth(pixel), abs=1e-5)
    assert LEAST_SCALE <= zoomed.scale <= MOST_SCALE


@given(views, st.floats(-500, 500), st.floats(-500, 500), st.tuples(near, near))
def test_pan_moves_every_place_by_the_same_pixels(
    view: View, dx: float, dy: float, place: tuple[float, float]
) -> None:
    x, y = view.point_to_screen(place)
    assert view.panned(dx, dy).point_to_screen(place) == pytest.approx((x + dx, y + dy), abs=1e-4)


@given(views, st.tuples(st.floats(-900, 0), st.floats(-900, 0), st.floats(10, 900), st.floats(10, 900)))
def test_fit_shows_all_and_touches_the_border(view: View, bounds: tuple[float, float, float, float]) -> None:
    border = 20.0
    fitted = view.fitted(bounds, border)
    left, top = fitted.point_to_screen(bounds[:2])
    right, bottom = fitted.point_to_screen(bounds[2:])
    room = (view.width - 2 * border, view.height - 2 * border)
    if min(room) < 1 or fitted.scale in (LEAST_SCALE, MOST_SCALE):
        return
    slack = (room[0] - (right - left), room[1] - (bottom - top))
    assert min(slack) == pytest.approx(0, abs=1e-6)
    assert max(slack) >= -1e-6
    assert (left + right) / 2 == pytest.approx(view.width / 2)
    assert (top + bottom) / 2 == pytest.approx(view.height / 2)


def test_fit_of_a_single_place_keeps_the_scale() -> None:
    view = View(400, 300, 3.0)
    assert view.fitted((5, 7, 5, 7)) == View(400, 300, 3.0, (5, 7))


def test_visible_is_what_the_corners_of_the_window_show() -> None:
    assert View(400, 300, 2.0, (10.0, 20.0)).visible() == (-90.0, -55.0, 110.0, 95.0)


def test_resizing_keeps_the_middle() -> None:
    view = View(400, 300, 2.0, (10.0, 20.0)).resized(800, 100)
    assert view.to_cloth((400, 50)) == (10.0, 20.0)
