"""Spaces between blocks: areas added up, motions drawn and found again, and counts taken another way."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import Polygon, affinity, box

from geometry.leftover import LeftoverError, Leftovers, Motion, leftover, rows_of_blocks

INCH = 25.4
QUARTER = math.pi / 2

# An invented block of four odd pieces, without any symmetry: its outline is what a seam follows.
PINWHEEL = Polygon(
    [(0, 0), (60, 0), (60, 25), (100, 25), (100, 70), (130, 100), (30, 130), (30, 80), (0, 80)]
)


def total(answer: Leftovers) -> float:
    for (
        each
    ) in answer.spaces:  # places are the same within 0.05 mm, so their areas within that times their seam
        slack = 1e-6 + 0.05 * each.polygon.length * (len(each.places) - 1)
        assert each.area == pytest.approx(each.polygon.area * len(each.places), abs=slack)
    spaces = sum(each.area for each in answer.spaces)
    return float(spaces + answer.covered + sum(sliver.area for sliver in answer.slivers))


def everywhere(answer: Leftovers) -> list[Polygon]:
    """All places of all spaces, laid out by their motions."""
    return [shapely.transform(each.polygon, place) for each in answer.spaces for place in each.places]


def kinds_by_hand(pieces: list[Polygon]) -> int:
    """How many kinds there are under quarter turns and mirrors: each in its least writing of eight."""

    def writing(piece: Polygon) -> tuple[bytes, ...]:
        # Points in the middle of straight sides say nothing.
        piece = shapely.simplify(piece.normalize(), 1e-4)
        found = []
        for mirrored in (1, -1):
            for turn in range(4):
                moved = affinity.rotate(affinity.scale(piece, mirrored, 1, origin=(0, 0)), 90 * turn, (0, 0))
                x, y = moved.bounds[:2]
                corners = np.round(shapely.get_coordinates(affinity.translate(moved, -x, -y)), 3) + 0.0
                found.append(np.unique(corners, axis=0).tobytes())
        return min(found)

    return len({writing(piece) for piece in pieces})


def a_grid(seed: int, rows: int = 6, columns: int = 8) -> tuple[Polygon, tuple[Polygon, ...]]:
    chance = np.random.default_rng(seed)
    turns = [[QUARTER * int(k) for k in chance.integers(0, 4, columns)] for _ in range(rows)]
    blocks = rows_of_blocks(PINWHEEL, rows, columns, (160.0, 165.0), first=(80.0, 82.5), turns=turns)
    return box(0, 0, 160.0 * columns, 165.0 * rows), blocks


@pytest.mark.parametrize("seed", range(4))
def test_six_by_eight_turned_blocks(seed: int) -> None:
    """Sashing and spiky gaps in one piece here; the count beside it is taken piece by piece."""
    frame, blocks = a_grid(seed)
    strips = [box(160.0 * k - 1, 0, 160.0 * k + 1, frame.bounds[3]) for k in range(1, 8)]
    strips += [box(0, 165.0 * k - 1, frame.bounds[2], 165.0 * k + 1) for k in range(1, 6)]
    answer = leftover(frame, [*blocks, *strips])
    assert total(answer) == pytest.approx(frame.area, rel=1e-9)
    pieces = [
        piece
        for piece in shapely.get_parts(shapely.difference(frame, shapely.union_all([*blocks, *strips])))
        if piece.area > 1e-6
    ]
    assert sum(len(each.places) for each in answer.spaces) == len(pieces)
    assert len(answer.spaces) == kinds_by_hand(pieces)
    together = shapely.union_all(everywhere(answer))
    assert shapely.symmetric_difference(together, shapely.union_all(pieces)).area < 1e-3
    assert answer.outside == ()


def test_squares_with_sashing() -> None:
    """48 blocks, 2 in sashing, a border as wide: one space, in one piece."""
    blocks = rows_of_blocks(box(0, 0, 200, 200), 6, 8, (250.0, 250.0), first=(150.0, 150.0))
    frame = box(0, 0, 50 + 8 * 250, 50 + 6 * 250)
    answer = leftover(frame, blocks)
    assert [len(each.places) for each in answer.spaces] == [1]
    assert len(answer.spaces[0].polygon.interiors) == 48
    assert answer.covered == pytest.approx(48 * 200**2, rel=1e-12)


def test_on_point_blocks_leave_setting_and_corner_triangles() -> None:
    """Blocks on point, corner to corner: common practice calls what is left at the sides setting triangles
    and in the corners corner triangles, of which there are four (no source)."""
    half = 100.0 * math.sqrt(2)
    block = affinity.rotate(box(0, 0, 200, 200), 45)
    blocks = rows_of_blocks(block, 3, 4, (2 * half, 2 * half), first=(half, half))
    blocks += rows_of_blocks(block, 2, 3, (2 * half, 2 * half), first=(2 * half, 2 * half))
    answer = leftover(box(0, 0, 8 * half, 6 * half), blocks)
    setting, corner = answer.spaces
    assert (len(setting.places), len(corner.places)) == (2 * 3 + 2 * 2, 4)
    assert setting.polygon.area == pytest.approx(2 * corner.polygon.area, rel=1e-9)
    assert len(shapely.get_coordinates(corner.polygon)) == 4


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_a_space_is_known_again_turned_mirrored_and_begun_elsewhere(seed: int, mirrored: bool) -> None:
    chance = np.random.default_rng(seed)
    turn = chance.uniform(-math.pi, math.pi, 1)[0]
    space = Polygon([(0, 0), (90, 0), (90, 40), (50, 40), (50, 95), (0, 70)], [[(9, 9), (30, 12), (12, 30)]])
    motion = Motion(mirrored, float(turn), (400.0, 30.0))
    other = shapely.transform(space, motion)
    start = int(chance.integers(6))
    ring = np.roll(shapely.get_coordinates(other.exterior)[:-1], start, axis=0)
    other = Polygon(ring, [shapely.get_coordinates(hole) for hole in other.interiors])
    frame = box(-200, -200, 700, 400)
    answer = leftover(frame, [frame.difference(shapely.union(space, other))])
    (found,) = answer.spaces
    assert len(found.places) == 2
    laid = shapely.transform(found.polygon, found.places[1])
    assert min(shapely.hausdorff_distance(laid, each) for each in (space, other)) < 1e-6
    assert found.places[1].mirrored == mirrored


def test_nearly_the_same_is_not_the_same() -> None:
    frame = box(0, 0, 1000, 200)
    holes = [box(10, 10, 110, 90), box(210, 10, 310.04, 90), box(410, 10, 510.2, 90)]
    spiky = Polygon([(610, 10), (710, 10), (710, 90), (609.8, 90)])
    answer = leftover(frame, [frame.difference(shapely.union_all([*holes, spiky]))])
    assert sorted(len(each.places) for each in answer.spaces) == [1, 1, 2]


def test_the_order_of_blocks_and_the_place_of_the_quilt_change_nothing() -> None:
    frame, blocks = a_grid(1, 3, 3)
    one = leftover(frame, blocks)
    far = [affinity.translate(each, 1234.5, -987.25) for each in (frame, *reversed(blocks))]
    other = leftover(far[0], far[1:])
    assert [len(each.places) for each in one.spaces] == [len(each.places) for each in other.spaces]
    assert [each.polygon.area for each in one.spaces] == pytest.approx(
        [each.polygon.area for each in other.spaces]
    )


def test_blocks_that_do_not_quite_meet_leave_slivers_and_no_spaces() -> None:
    frame = box(0, 0, 300, 100)
    answer = leftover(frame, [box(0, 0, 100, 100), box(100.1, 0, 200, 100)])
    (space,) = answer.spaces
    assert space.polygon.area == pytest.approx(1e4)
    (sliver,) = answer.slivers
    assert sliver.area == pytest.approx(10.0)
    assert total(answer) == pytest.approx(frame.area, rel=1e-9)


def test_spaces_that_hang_together_by_a_hair_are_two() -> None:
    """Two blocks whose corners miss each other by 0.01 mm, as files do that were rounded."""
    frame = box(0, 0, 200, 200)
    answer = leftover(frame, [box(0, 0, 100, 100), box(100.01, 100, 200, 200)])
    assert [len(each.places) for each in answer.spaces] == [2]
    assert total(answer) == pytest.approx(frame.area, rel=1e-9)


def test_where_a_corner_meets_the_middle_of_a_side_there_is_no_corner() -> None:
    """Beside one space a block is cut in two, beside the other not; they are one patch all the same."""
    frame = box(0, 0, 300, 100)
    answer = leftover(frame, [box(100, 0, 150, 40), box(100, 40, 150, 100), box(150, 0, 200, 100)])
    (space,) = answer.spaces
    assert len(space.places) == 2
    assert len(space.polygon.exterior.coords) == 5


def test_what_blocks_do_wrong_is_told() -> None:
    frame = box(0, 0, 300, 300)
    blocks = [box(0, 0, 100, 100), box(90, 0, 190, 100), box(250, 250, 350, 350)]
    answer = leftover(frame, blocks)
    assert answer.overlaps == ((0, 1, pytest.approx(1000.0)),)
    assert answer.outside == (2,)
    assert total(answer) == pytest.approx(frame.area, rel=1e-9)


def test_curved_blocks() -> None:
    disc = shapely.Point(0, 0).buffer(80, quad_segs=32)
    blocks = rows_of_blocks(disc, 4, 5, (160.0, 160.0), first=(80.0, 80.0))
    answer = leftover(box(0, 0, 800, 640), blocks)
    # Twelve stars of four cusps; at the sides half, in the corners quarter ones.
    assert [len(each.places) for each in answer.spaces] == [12, 14, 4]
    assert total(answer) == pytest.approx(800 * 640, rel=1e-9)


def test_two_thousand_blocks() -> None:
    """What it costs is in tests/benchmarks."""
    frame, blocks = a_grid(5, 40, 50)
    answer = leftover(frame, blocks)
    assert total(answer) == pytest.approx(frame.area, rel=1e-9)


def test_quarter_turns_are_exact() -> None:
    blocks = rows_of_blocks(box(0, 0, 10, 20), 1, 4, (30.0, 0.0), turns=[[0, QUARTER, 2 * QUARTER, -QUARTER]])
    assert [tuple(each.bounds) for each in blocks] == [
        (-5, -10, 5, 10),
        (20, -5, 40, 5),
        (55, -10, 65, 10),
        (80, -5, 100, 5),
    ]
    turned = rows_of_blocks(Polygon([(0, 0), (10, 0), (0, 10)]), 1, 1, (0, 0), turns=[[QUARTER]])[0]
    assert shapely.equals(turned, Polygon([(5, -5), (5, 5), (-5, -5)])), "clockwise on screen"


@pytest.mark.parametrize(
    ("frame", "blocks", "words"),
    [
        (box(0, 0, 10, 10), [box(0, 0, 10, 10)], "leave no space"),
        (box(0, 0, 10, 10), [Polygon([(0, 0), (5, 5), (5, 0), (0, 5)])], "block 1: its outline"),
        (Polygon(), [], "frame: its outline"),
    ],
)
def test_what_leaves_nothing(frame: Polygon, blocks: list[Polygon], words: str) -> None:
    with pytest.raises(LeftoverError, match=words):
        leftover(frame, blocks)
    with pytest.raises(LeftoverError):
        rows_of_blocks(box(0, 0, 1, 1), 0, 3, (1.0, 1.0))
