"""What the painter puts on a picture, pixel by pixel; the page's own proof is test_pdf."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
import shapely
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPen, QTransform

from app.exporting.painter import Look, _Polygons, paint, place_labels
from app.sketch.display_list import DisplayList, Label, Line, Show, build
from app.sketch.palette import DARK, LIGHT, Role
from app.sketch.view import View
from geometry import Fit
from tests.app.exporting.samples import square, troubled

VIEW = View(700, 520)
BARE = Show(mark_names=False, numbers=False, findings=False)


def canvas(ratio: int = 1) -> QImage:
    image = QImage(700 * ratio, 520 * ratio, QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(ratio)
    image.fill(QColor("#FF00FF"))
    return image


def picture(
    fit: Fit, look: Look, show: Show | None = None, *, ratio: int = 1, highlight: int | None = None
) -> np.ndarray:
    drawing = build(fit, show=show or Show())
    image = canvas(ratio)
    view = VIEW.fitted(drawing.bounds)
    painter = QPainter(image)
    paint(drawing, painter, view, look, window=view.visible(), highlight=highlight)
    painter.end()
    return pixels_of(image)


def pixels_of(image: QImage) -> np.ndarray:
    memory = np.frombuffer(image.constBits(), dtype=np.uint8).reshape(
        image.height(), image.bytesPerLine() // 4, 4
    )
    return memory[:, : image.width(), 2::-1].astype(int)


def is_colour(pixels: np.ndarray, colour: str, within: int = 60) -> np.ndarray:
    wanted = [int(colour[at : at + 2], 16) for at in (1, 3, 5)]
    return np.abs(pixels - wanted).max(axis=-1) < within


def places(fit: Fit) -> Iterator[tuple[int, int, np.ndarray]]:
    """Pixels along every leg and side, well away from the anchor's crowd."""
    view = VIEW.fitted(fit.patch.polygon.bounds)
    for wedge in fit.fans[0].wedges:
        line = shapely.LineString(wedge.outline)
        for share in np.linspace(0.25, 0.75, 11):
            at = shapely.get_coordinates(line.interpolate(share, normalized=True))
            x, y = view.to_screen(at)[0]
            yield round(y), round(x), at


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("fine", [True, False], ids=["fine", "fast"])
@pytest.mark.parametrize("ratio", [1, 2])
def test_every_stitch_line_is_on_the_picture(palette: dict[Role, str], fine: bool, ratio: int) -> None:
    pixels = picture(square(), Look(palette=palette, fine=fine), BARE, ratio=ratio)
    # A hairline between two pixels is half of each.
    stitch = is_colour(pixels, palette[Role.STITCH], 140) & ~is_colour(pixels, palette[Role.CLOTH], 20)
    for row, column, at in places(square()):
        row, column = row * ratio, column * ratio
        assert stitch[row - ratio : row + ratio + 1, column - ratio : column + ratio + 1].any(), at


def test_cloth_lies_inside_the_seam_and_not_in_holes() -> None:
    pixels = picture(troubled(), Look(palette=LIGHT), replace(Show().still(), marks=False, mark_names=False))
    view = VIEW.fitted(troubled().patch.polygon.bounds)
    cloth = is_colour(pixels, LIGHT[Role.CLOTH], 3)
    untouched = (pixels == (255, 0, 255)).all(axis=-1)
    inner, outer = troubled().patch.polygon.buffer(-14), troubled().patch.polygon.buffer(3)
    checked = 0
    for row in range(0, 520, 9):
        for column in range(0, 700, 9):
            at = shapely.Point(view.to_cloth((column + 0.5, row + 0.5)))
            if inner.contains(at):
                assert cloth[row, column]
                checked += 1
            elif not outer.contains(at):
                assert untouched[row, column] or not cloth[row, column]
                checked += 1
    assert checked > 1500


def test_fine_lines_are_heavier_than_fast_ones() -> None:
    fine, fast = (
        is_colour(picture(square(), Look(palette=LIGHT, fine=fine), BARE), LIGHT[Role.STITCH], 90).sum()
        for fine in (True, False)
    )
    assert fine > 1.3 * fast


def test_a_window_on_part_of_the_cloth_shows_the_same_lines() -> None:
    # Zoomed in tenfold: hatch and dots are only made where they are seen, and lie where they lay.
    drawing = build(troubled())
    view = VIEW.fitted(drawing.bounds).zoomed(4.0, (250.0, 300.0))
    whole, part = canvas(), canvas()
    for image, window in ((whole, (-1e3, -1e3, 2e3, 2e3)), (part, view.visible())):
        painter = QPainter(image)
        paint(drawing, painter, view, Look(palette=LIGHT), window=window)
        painter.end()
    # What is cut off at the window ends there, which may be seen on its outermost pixels.
    assert (pixels_of(whole)[2:-2, 2:-2] == pixels_of(part)[2:-2, 2:-2]).mean() > 0.9995


def test_the_painters_own_transform_comes_on_top() -> None:
    drawing = build(square(), show=BARE)
    view = VIEW.fitted(drawing.bounds)
    plain, moved = canvas(), canvas()
    for image, shift in ((plain, 0), (moved, 40)):
        painter = QPainter(image)
        painter.translate(shift, 0)
        paint(drawing, painter, view, Look(palette=LIGHT), window=view.visible())
        assert painter.worldTransform() == QTransform.fromTranslate(shift, 0)
        painter.end()
    assert (pixels_of(plain)[:, :-40] == pixels_of(moved)[:, 40:]).all()


def test_the_painter_comes_back_as_it_was() -> None:
    painter = QPainter(canvas_kept := canvas())
    pen = QPen(QColor("red"), 3.0)
    painter.setPen(pen)
    paint(build(troubled()), painter, VIEW, Look(palette=LIGHT))
    assert painter.pen() == pen
    assert painter.brush().style() is Qt.BrushStyle.NoBrush
    assert not painter.hasClipping()
    painter.end()
    assert not canvas_kept.isNull()


def test_a_wedge_can_be_stressed() -> None:
    plain = picture(square(), Look(palette=LIGHT), BARE)
    stressed = picture(square(), Look(palette=LIGHT), BARE, highlight=3)
    changed = np.argwhere((plain != stressed).any(axis=-1))
    view = VIEW.fitted(square().patch.polygon.bounds)
    wedge = shapely.LineString(square().fans[0].wedges[2].outline)
    assert len(changed) > 100
    for row, column in changed.tolist():
        at = shapely.Point(view.to_cloth((column + 0.5, row + 0.5)))
        assert wedge.distance(at) * view.scale < 3.0
    assert is_colour(stressed, LIGHT[Role.FOCUS]).sum() > 100


def test_labels_are_drawn_where_they_were_placed() -> None:
    drawing = build(square(), show=replace(BARE, mark_names=True))
    view = VIEW.fitted(drawing.bounds)
    look = Look(palette=LIGHT)
    placed = place_labels(drawing, view.scale, look)
    assert len(placed.labels) == 8
    with_words, without = canvas(), canvas()
    for image, labels in ((with_words, placed.labels), (without, ())):
        painter = QPainter(image)
        paint(drawing, painter, view, look, labels=labels)
        painter.end()
    changed = (pixels_of(with_words) != pixels_of(without)).any(axis=-1)
    for each in placed.labels:
        left, top, right, bottom = each.box(view.point_to_screen(each.label.at))
        box = np.s_[int(top) : int(bottom) + 2, int(left) : int(right) + 2]
        assert changed[box].sum() > 20, each.label.text
        changed[box] = False
    assert not changed.any()


def test_labels_of_two_paintings_keep_off_each_other() -> None:
    still, moving = (build(troubled(), show=part) for part in (Show().still(), Show().moving()))
    look = Look(palette=LIGHT)
    below = place_labels(still, 4.0, look)
    above = place_labels(moving, 4.0, look, below)
    boxes = [
        [shapely.box(*each.box((each.label.at[0] * 4, each.label.at[1] * 4))) for each in placed.labels]
        for placed in (below, above)
    ]
    assert len(boxes[0]) > 20
    assert len(boxes[1]) > 20
    touching = shapely.union_all(boxes[0]).buffer(-0.01)
    assert not any(box.intersects(touching) for box in boxes[1])
    # The names of marks do not move with the anchor.
    assert place_labels(still, 4.0, look).labels == below.labels


def test_cut_lines_leave_nothing_beyond_the_window() -> None:
    drawing = build(troubled())
    view = VIEW.fitted(drawing.bounds)
    image = canvas()
    painter = QPainter(image)
    window = (20.0, 30.0, 150.0, 120.0)
    paint(drawing, painter, view, Look(palette=LIGHT, cut=True), window=window)
    painter.end()
    pixels = pixels_of(image)
    x0, y0 = view.point_to_screen(window[:2])
    x1, y1 = view.point_to_screen(window[2:])
    # Round joins, and symbols whose places lie inside, may stick out by half their size.
    pixels[int(y0) - 12 : int(y1) + 13, int(x0) - 12 : int(x1) + 13] = (255, 0, 255)
    assert (pixels == (255, 0, 255)).all()


def test_points_come_into_polygons_unchanged() -> None:
    polygons = _Polygons()
    chance = np.random.default_rng(3)
    for count in [*range(140), 5000, 3]:
        points = chance.normal(size=(count, 2)) * 1e3
        made = polygons.of(points)
        assert [(at.x(), at.y()) for at in made] == [tuple(at) for at in points.tolist()]
    # Read-only and sliced arrays too, as answers of the engine are.
    frozen = square().fans[0].wedges[0].outline
    assert polygons.of(frozen[::-1]).count() == len(frozen)


def test_an_empty_list_paints_nothing() -> None:
    image = canvas()
    painter = QPainter(image)
    paint(DisplayList((), (0.0, 0.0, 1.0, 1.0)), painter, VIEW, Look(palette=LIGHT))
    painter.end()
    assert (pixels_of(image) == (255, 0, 255)).all()
    drawing = build(square())
    assert {type(item) for item in drawing.items()} >= {Line, Label}
