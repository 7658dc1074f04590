from __future__ import annotations

from itertools import combinations

import pytest

from app.exporting.label_places import LabelPlacer, Placed, leader_end
from app.sketch.display_list import (
    DisplayList,
    Item,
    Label,
    Layer,
    LayerName,
    Symbol,
    SymbolKind,
    build,
)
from app.sketch.palette import Role, TextSize
from geometry.types import Point
from tests.app.exporting.samples import large, square, troubled


def _size(text: str, points: float) -> Point:
    return (0.6 * points * len(text), points)


PLACER = LabelPlacer(scale=3.0, unit=1.0, handle=20.0, size=_size)


def drawing(*items: Item) -> DisplayList:
    return DisplayList((Layer(LayerName.MARKS, items),), (0.0, 0.0, 100.0, 100.0))


def label(x: float, y: float, text: str = "A1", **others: object) -> Label:
    given = {"align": (1.0, 0.0), "offset": (5.0, 0.0), **others}
    return Label(Role.MARK, (x, y), text, TextSize.BASE, **given)  # type: ignore[arg-type]


def boxes(placed: Placed) -> list[tuple[float, float, float, float]]:
    return [each.box((each.label.at[0] * 3.0, each.label.at[1] * 3.0)) for each in placed.labels]


def overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def test_a_label_with_room_stands_as_it_asks() -> None:
    (box,) = boxes(PLACER.place(drawing(label(10.0, 20.0))))
    # Left end 5 units right of the place, its middle level with it; 2 characters of 7.2, 12 high.
    assert box == pytest.approx((35.0, 54.0, 49.4, 66.0))
    (box,) = boxes(PLACER.place(drawing(label(10.0, 20.0, align=(0.0, -1.0), offset=(0.0, -5.0)))))
    assert box == pytest.approx((22.8, 43.0, 37.2, 55.0))


def test_labels_of_one_place_move_around_it() -> None:
    placed = PLACER.place(drawing(*(label(30.0, 30.0, f"A{n}") for n in range(9))))
    assert len(placed.labels) == 9
    assert not any(overlap(*pair) for pair in combinations(boxes(placed), 2))


def test_labels_keep_off_symbols() -> None:
    # A triangle where the label wants to be, drawn after it.
    sign = Symbol(SymbolKind.FILLED_TRIANGLE, Role.PROBLEM, (14.0, 20.0))
    (box,) = boxes(PLACER.place(drawing(label(10.0, 20.0), sign)))
    assert not overlap(box, (42 - 5, 60 - 5, 42 + 5, 60 + 5))


def test_one_that_may_be_left_out_is_and_one_that_must_not_stands_where_it_asked() -> None:
    handle = Symbol(SymbolKind.HANDLE, Role.ANCHOR, (20.0, 20.0))
    fixed = {"align": (0.0, 0.0), "offset": (0.0, 0.0), "toward": (20.0, 20.0)}
    assert PLACER.place(drawing(label(20.0, 20.0, must=False, **fixed), handle)).labels == ()
    (box,) = boxes(PLACER.place(drawing(label(20.0, 20.0, **fixed), handle)))
    assert ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2) == pytest.approx((60.0, 60.0))


def test_a_number_moves_towards_the_anchor() -> None:
    sign = Symbol(SymbolKind.FILLED_TRIANGLE, Role.PROBLEM, (80.0, 50.0))
    number = label(80.0, 50.0, "7", align=(0.0, 0.0), offset=(0.0, 0.0), toward=(20.0, 50.0), must=False)
    (box,) = boxes(PLACER.place(drawing(number, sign)))
    assert (box[1] + box[3]) / 2 == pytest.approx(150.0)
    assert 60.0 < (box[0] + box[2]) / 2 < 240.0
    assert not overlap(box, (235.0, 145.0, 245.0, 155.0))


def test_labels_keep_off_those_below_and_leave_them_alone() -> None:
    below = PLACER.place(drawing(label(30.0, 30.0, "A1")))
    above = PLACER.place(drawing(label(30.0, 30.0, "B1")), below)
    again = PLACER.place(drawing(label(30.0, 30.0, "B1")), below)
    assert not overlap(boxes(below)[0], boxes(above)[0])
    assert boxes(above) == boxes(again)


def test_labels_stay_within_the_limits_where_they_can() -> None:
    limits = (0.0, 0.0, 100.0, 100.0)
    (box,) = boxes(PLACER.place(drawing(label(99.0, 50.0)), within=limits))
    assert box[2] <= 300.0
    (box,) = boxes(PLACER.place(drawing(label(99.0, 50.0))))
    assert box[2] > 300.0


@pytest.mark.parametrize("fit", [square(), troubled(), large()], ids=["square", "troubled", "large"])
def test_no_label_of_a_fit_covers_another(fit: object) -> None:
    unit = 25.4 / 72
    placer = LabelPlacer(1.0, unit, 15.0, lambda text, size: (0.65 * unit * size * len(text), unit * size))
    placed = placer.place(build(fit))  # type: ignore[arg-type]
    places = [each.box(each.label.at) for each in placed.labels]
    assert not any(overlap(*pair) for pair in combinations(places, 2))
    names = {mark.name for fan in fit.fans for mark in fan.marks}  # type: ignore[attr-defined]
    assert names <= {each.label.text for each in placed.labels}


def test_only_a_label_that_moved_away_is_led_to() -> None:
    asked = label(0.0, 0.0)
    assert leader_end(asked, (0.0, 0.0), (5.0, -6.0, 19.0, 6.0), 1.0) is None
    assert leader_end(asked, (0.0, 0.0), (30.0, -20.0, 44.0, -8.0), 1.0) == (30.0, -8.0)
    assert leader_end(asked, (0.0, 0.0), (-4.0, -40.0, 4.0, -28.0), 1.0) == (0.0, -28.0)
    number = label(0.0, 0.0, align=(0.0, 0.0), offset=(0.0, 0.0))
    assert leader_end(number, (0.0, 0.0), (30.0, -20.0, 44.0, -8.0), 1.0) is None
