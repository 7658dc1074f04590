"""The spaces between blocks without their window: areas and pictures are judged by shapely alone."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely import Polygon, box

from app.sketch.display_list import Area, Label
from app.sketch.leftover_form import (
    BlocksForm,
    Outline,
    Way,
    read_turns,
    space_words,
    spaces_of,
    spaces_picture,
    spaces_said,
)
from app.sketch.palette import Hatch, Role
from geometry import Patch, Settings, WedgewrightError
from geometry.units import MM_PER_INCH, LengthStyle

INCH = MM_PER_INCH


def outline(name: str, *corners: tuple[float, float]) -> Outline:
    return name, Patch([(x * INCH, y * INCH) for x, y in corners])


def square(name: str, x: float, y: float, side: float) -> Outline:
    return outline(name, (x, y), (x + side, y), (x + side, y + side), (x, y + side))


DRAWN = [square("Star", 2, 2, 6), square("Background", 0, 0, 20), square("Pond", 12, 2, 6)]
TIP = [outline("Tip", (0, 0), (8, 0), (12, 6), (8, 12), (0, 12))]


def test_the_largest_is_the_frame_at_first_and_another_can_be() -> None:
    form = BlocksForm()
    form.suit(DRAWN)
    assert (form.way, form.frame) == (Way.AS_DRAWN, 1)
    spaces = spaces_of(form.read(DRAWN), Settings())
    assert len(spaces.blocks) == 2
    assert sum(space.area for space in spaces.found.spaces) == pytest.approx((400 - 72) * INCH**2)
    form.left_out = {2}
    spaces = spaces_of(form.read(DRAWN), Settings())
    assert sum(space.area for space in spaces.found.spaces) == pytest.approx((400 - 36) * INCH**2)
    form.left_out = {0, 2}
    with pytest.raises(WedgewrightError, match="no block is ticked; tick one or more"):
        form.read(DRAWN)


def test_it_begins_as_the_outlines_lie() -> None:
    """Blocks in a frame but for a slip, a heap, and parts of one block beside each other; and what was
    chosen since comes back until there are other outlines.
    """
    slip = [square("Frame", 0, 0, 40), square("One", 1, 1, 12), square("Two", 11, 1, 12)]
    form = BlocksForm()
    form.suit(slip)
    assert form.way is Way.AS_DRAWN
    form.way, form.step, form.left_out = Way.ROWS, (100.0, 100.0), {2}
    form.suit(list(slip))
    assert (form.way, form.step, form.left_out) == (Way.ROWS, (100.0, 100.0), {2})
    heap = [square("Largest", 0, 0, 9), square("Small", 0, 0, 8), square("Other", 0, 0, 7)]
    form.suit(heap)
    assert (form.way, form.frame, form.block) == (Way.ROWS, 0, 1)
    assert form.step is None
    assert not form.left_out
    parts = [square("Largest", 0, 0, 9), square("Right", 9, 0, 8), square("Below", 0, 9, 8)]
    form.suit(parts)
    assert (form.way, form.block) == (Way.ROWS, None)
    form.suit([])
    assert form.way is Way.ROWS


@pytest.mark.parametrize("turns", ["", "0 90, 180 270", "0 180"])
def test_rows_lie_in_the_middle_of_their_frame(turns: str) -> None:
    """Each block fills the same area however it is turned; left and right of all is the same room."""
    form = BlocksForm(rows=3, columns=4, turns=turns)
    form.suit(TIP)
    form.step, form.size = (14 * INCH, 15 * INCH), (70 * INCH, 60 * INCH)
    spaces = spaces_of(form.read(TIP), Settings())
    assert len(spaces.blocks) == 12
    area = Polygon([(0, 0), (8, 0), (12, 6), (8, 12), (0, 12)]).area * INCH**2
    assert spaces.found.covered == pytest.approx(12 * area)
    middles = [box(*block.bounds).centroid for block in spaces.blocks]
    xs, ys = sorted(p.x for p in middles), sorted(p.y for p in middles)
    assert xs[0] + xs[-1] == pytest.approx(70 * INCH)
    assert ys[0] + ys[-1] == pytest.approx(60 * INCH)


def test_step_and_frame_that_nobody_typed_follow_the_block() -> None:
    form = BlocksForm(rows=2, columns=5)
    form.suit(TIP)
    assert form.step_of(TIP) == pytest.approx((12 * INCH, 12 * INCH))
    assert form.size_of(TIP) == pytest.approx((60 * INCH, 24 * INCH))
    form.step = (13 * INCH, 14 * INCH)
    assert form.size_of(TIP) == pytest.approx((65 * INCH, 28 * INCH))


def test_turns_are_read_row_by_row() -> None:
    assert read_turns("") == ((0.0,),)
    assert read_turns("0 90, 180 270") == (
        (0.0, pytest.approx(math.pi / 2)),
        (pytest.approx(math.pi), pytest.approx(3 * math.pi / 2)),
    )
    for text in ("left", "0,", ", 90", "nan", "1e999"):
        with pytest.raises(WedgewrightError, match="is no list of turns; write degrees"):
            read_turns(text)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"rows": 200, "columns": 200}, "more than 10000 blocks"),
        ({"step": (0.0, 25.4)}, "a step or a frame of 0"),
        ({"turns": "x"}, "no list of turns"),
    ],
)
def test_what_cannot_be_is_said(change: dict[str, object], words: str) -> None:
    form = BlocksForm()
    form.suit(TIP)
    for name, value in change.items():
        setattr(form, name, value)
    with pytest.raises(WedgewrightError, match=words):
        form.read(TIP)


def test_the_picture_shows_every_space_with_its_number_and_no_two_kinds_alike() -> None:
    """The hatched areas are the frame less the blocks; each number stands in a space of its kind."""
    form = BlocksForm(rows=3, columns=3, turns="0 90, 180 270")
    form.suit(TIP)
    form.step, form.size = (12 * INCH, 12 * INCH), (40 * INCH, 38 * INCH)
    spaces = spaces_of(form.read(TIP), Settings())
    items = list(spaces_picture(spaces).items())
    hatched = [item for item in items if isinstance(item, Area) and item.hatch is not Hatch.FILL]
    drawn = shapely.union_all([Polygon(each.rings[0], each.rings[1:]) for each in hatched])
    left = shapely.difference(spaces.frame, shapely.union_all(spaces.blocks))
    assert shapely.symmetric_difference(drawn, left).area < 1.0
    assert len(spaces.patches) > 2
    labels = [item for item in items if isinstance(item, Label)]
    assert len(labels) == spaces.count == len(hatched)
    looks = {}
    for label, area in zip(labels, hatched, strict=True):
        assert Polygon(area.rings[0], area.rings[1:]).contains(shapely.Point(label.at)), label.text
        looks[label.text] = (area.role, area.hatch)
    assert len(set(looks.values())) == min(len(looks), 6)
    assert sorted(looks, key=int) == [str(number + 1) for number in range(len(spaces.patches))]
    for number, patch in enumerate(spaces.patches):
        words = space_words(spaces, number, LengthStyle.EIGHTHS)
        assert words.startswith(f"Space {number + 1}: ")
        assert ("once" if patch.repeats == 1 else f"{patch.repeats} times") in words


def test_what_lies_wrong_is_hatched_and_said() -> None:
    """Two blocks share 2 × 12 in, and one reaches 1 in out of the frame: rectangles, by hand."""
    blocks = [square("Frame", 0, 0, 40), square("One", 1, 1, 12), square("Two", 11, 1, 12)]
    blocks.append(square("Three", 29, 20, 12))
    form = BlocksForm()
    form.suit(blocks)
    spaces = spaces_of(form.read(blocks), Settings())
    said = " ".join(spaces_said(spaces))
    assert "1 pair of blocks lie over each other: “One” and “Two”." in said
    assert "1 block reaches out of the frame: “Three”." in said
    (fault,) = (
        item
        for item in spaces_picture(spaces).items()
        if isinstance(item, Area) and item.role is Role.PROBLEM
    )
    assert sum(Polygon(ring).area for ring in fault.rings) == pytest.approx((24 + 12) * INCH**2)
