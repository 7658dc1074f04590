"""The anchor map as signs, words of suggestions, the first wedge, and the anchor mode that uses them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from app.sketch.anchor_map_display import SIZES, map_legend, map_signs, progress_words
from app.sketch.anchor_words import score_total, score_words, suggestion_figures
from app.sketch.first_wedge import start_of, wedge_at
from app.sketch.modes.anchor import AnchorMode
from app.sketch.modes.events import Key, KeyPress
from app.sketch.snapping import Caught
from geometry import Fit, Patch, Settings, fit
from geometry.anchors import AnchorMap, Score, Suggestion, anchor_map
from geometry.stitch_path import Kind
from geometry.types import Point
from geometry.units import LengthStyle
from tests.app.sketch.modes.bench import SQUARE, Bench, at, drag

ELL = ((0.0, 0.0), (250.0, 0.0), (250.0, 100.0), (100.0, 100.0), (100.0, 250.0), (0.0, 250.0))


def grid(share: list[float], narrowest: list[float], short: list[int]) -> AnchorMap:
    """Anchors 7 mm apart in one row."""
    count = len(share)
    places = np.column_stack([7.0 * np.arange(count), np.full(count, 3.0)])
    none = np.zeros(count, dtype=np.intp)
    return AnchorMap(places, np.array(share), np.array(narrowest), np.array(short, dtype=np.intp), none, none)


def suggestion(
    at: Point, *, share: float = 1.0, problems: int = 0, names: tuple[str, ...] = ("side:B",)
) -> Suggestion:
    return Suggestion(names, at, Score(60 * share, 25 / (1 + problems), 7.4), share, 12.7, problems)


def press(key: Key) -> KeyPress:
    return KeyPress(at(0, 0), key)


class Guided(Bench):
    """With an anchor's mode that knows the fit and a best place."""

    def __init__(
        self, best: Suggestion | None = None, outline: tuple[tuple[float, float], ...] = SQUARE
    ) -> None:
        super().__init__(outline)
        self.best = best
        self.mode = AnchorMode(self, self.fit, lambda: self.best)

    def fit(self) -> Fit:
        shown = self.mode.candidate
        if shown is not None:
            return fit(shown.patch, shown.anchors, shown.settings)
        return fit(self.piece.patch(), self.piece.anchors, self.piece.settings)


# --- the map ------------------------------------------------------------------------------------------


def test_the_larger_a_sign_the_better_its_anchor_and_a_cross_has_problems() -> None:
    # By hand, visible width 5: 60 + 25 + 15 = 100; 60 + 12.5 + 15 = 87.5; 30 + 12.5 + 0 = 42.5.
    signs = map_signs(grid([1.0, 1.0, 1.0, 1.0, 0.5], [20.0, 20.0, 20.0, 20.0, 0.0], [0, 0, 1, 1, 0]), 5.0)
    assert signs.size.tolist() == [SIZES - 1, SIZES - 1, math.floor((1 - 12.5 / 57.5) * SIZES), 0]
    assert signs.crossed.tolist() == [False, False, True, True]
    assert signs.places[:, 0].tolist() == [0.0, 7.0, 14.0, 28.0]  # crosses stand at every other place
    assert signs.step == 7.0


def test_signs_of_a_real_map_grow_with_the_score() -> None:
    found = anchor_map(Patch(ELL), Settings(), step=12.0)
    signs = map_signs(found, Settings().visible_width)
    score = np.sum(found.score(Settings().visible_width), axis=0)
    where = {tuple(place): n for n, place in enumerate(found.anchors.tolist())}
    which = np.array([where[tuple(place)] for place in signs.places.tolist()])
    assert (np.diff(signs.size[np.argsort(score[which])]) >= 0).all()
    assert set(signs.size.tolist()) == set(range(SIZES))
    assert (signs.crossed == (found.problems > 0)[which]).all()
    left = np.setdiff1d(np.arange(len(score)), which)
    assert 0.4 < len(left) / (found.problems > 0).sum() < 0.6
    assert (found.problems[left] > 0).all()
    assert score.argmax() in which
    assert signs.step == pytest.approx(12.0)


def test_anchors_that_are_nearly_alike_look_alike() -> None:
    signs = map_signs(grid([1.0, 1.0], [20.0, 19.0], [0, 0]), 5.0)
    assert signs.size.tolist() == [SIZES - 1, SIZES - 1]


def test_a_map_without_anchors_has_no_signs() -> None:
    assert len(map_signs(grid([], [], []), 5.0).places) == 0


def test_the_legend_shows_a_small_and_a_large_sign_and_a_cross() -> None:
    sizes = [(size, crossed) for size, crossed, _ in map_legend()]
    assert sizes[0][0] < sizes[1][0]
    assert not sizes[0][1]
    assert sizes[2][1]
    assert "50 %" in progress_words(500, 1000)
    assert progress_words(0, 0).endswith("…")


# --- words --------------------------------------------------------------------------------------------


def test_a_suggestion_tells_its_figures_and_how_its_score_is_made_up() -> None:
    each = suggestion((1.0, 2.0), share=0.5, problems=1)
    assert suggestion_figures(each, LengthStyle.EIGHTHS) == "50 % in sight, narrowest wedge 1/2 in, 1 problem"
    assert score_words(each) == "30 of 60 for sight, 12 of 25 for few problems, 7 of 15 for wide wedges"
    assert score_total(each) == 30 + 12 + 7
    assert suggestion_figures(suggestion((1.0, 2.0)), LengthStyle.MM).startswith(
        "all in sight, narrowest wedge 12.7"
    )
    assert suggestion_figures(suggestion((1.0, 2.0), share=0.999), LengthStyle.MM).startswith("99 % in sight")


# --- the first wedge ----------------------------------------------------------------------------------


def two_fans(**settings: object) -> Fit:
    patch = Patch([(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)])
    return fit(patch, [(50.0, 230.0), (230.0, 50.0)], Settings(**settings))  # type: ignore[arg-type]


@pytest.mark.parametrize("settings", [{}, {"start": (295.0, 50.0)}, {"clockwise": False, "first_wedge": 3}])
def test_of_several_fans_it_says_where_the_path_starts_and_in_which_order_it_goes(
    settings: dict[str, object],
) -> None:
    """By the path alone: the fans in the order of the nearest anchors of the places where legs begin."""
    fitted = two_fans(**settings)
    start = start_of(fitted)
    assert start is not None
    assert start.begins == pytest.approx(tuple(fitted.path.segments[0].points[0]))
    if "start" in settings:
        assert start.begins == settings["start"]
    else:
        assert start.begins == pytest.approx(start.leg[0])
    order = []
    for segment in fitted.path.segments:
        if segment.wedge is not None:
            reach = {anchor: min(np.hypot(*(segment.points - anchor).T)) for anchor in fitted.anchors}
            nearest = min(reach, key=reach.__getitem__)
            if segment.kind is Kind.LEG and reach[nearest] < 1e-6 and nearest not in order:
                order.append(nearest)
    assert list(start.fans) == order
    assert len(order) == 2


def test_the_start_lies_on_the_first_wedge_and_turns_with_the_direction() -> None:
    patch, anchor = Patch(SQUARE), (100.0, 100.0)
    on = start_of(fit(patch, anchor, Settings(first_wedge=3)))
    back = start_of(fit(patch, anchor, Settings(first_wedge=3, clockwise=False)))
    assert on is not None
    assert back is not None
    assert on.wedge == back.wedge == 3
    assert on.leg[0] == pytest.approx(anchor)
    (at, way), (back_at, back_way) = on.side[0], back.side[0]
    assert at == pytest.approx(back_at)
    assert math.cos(way - back_way) == pytest.approx(-1.0)
    # Clockwise on screen: seen from the anchor the side runs to the right hand, y down.
    dx, dy = at[0] - anchor[0], at[1] - anchor[1]
    assert dx * math.sin(way) - dy * math.cos(way) > 0


def test_nothing_is_begun_where_nothing_is_stitched() -> None:
    assert start_of(fit(Patch([(0, 0), (5, 0), (5, 5)]), (4.0, 1.0), Settings())) is None


def test_the_wedge_at_a_place() -> None:
    fitted = fit(Patch(SQUARE), (100.0, 100.0), Settings())
    for wedge in fitted.fans[0].wedges:
        x, y = wedge.outline[:3].mean(axis=0).tolist()
        assert wedge_at(fitted, (x, y)) == wedge.number
    assert wedge_at(fitted, (-5.0, 5.0)) is None


def test_begin_with_a_wedge_is_one_step_and_the_sign_moves_there() -> None:
    bench = Guided()
    bench.do(bench.mode.begin_with(4))
    bench.do(bench.mode.begin_with(6))
    assert bench.piece.settings.first_wedge == 6
    start = bench.mode.overlay(2.0).start
    assert start is not None
    assert start.wedge == 6
    assert bench.history.undo_name == "Begin with wedge 6"
    bench.history.undo()
    assert bench.piece.settings.first_wedge == 4
    assert bench.mode.begin_with(4).change is None


def test_the_other_way_round_is_one_step_each_time() -> None:
    bench = Guided()
    bench.do(bench.mode.other_way_round())
    assert not bench.piece.settings.clockwise
    bench.do(bench.mode.other_way_round())
    assert bench.piece.settings.clockwise
    bench.history.undo()
    assert not bench.piece.settings.clockwise


def test_a_wedge_is_picked_by_hand() -> None:
    bench = Guided()
    anchors = bench.piece.anchors
    wedge = bench.fit().fans[0].wedges[4]
    x, y = wedge.outline[:3].mean(axis=0).tolist()
    bench.mode.begin_with()
    bench.mode.move(at(x, y))
    shown = bench.mode.overlay(2.0)
    assert shown.labels[0].text.startswith("Begin with wedge 5")
    assert np.array_equal(shown.spans[0], wedge.outline)
    click(bench, x, y)
    assert bench.piece.settings.first_wedge == 5
    assert bench.piece.anchors == anchors
    click(bench, x, y)  # and now a click moves the anchor again
    assert bench.piece.anchors != anchors


def test_a_wedge_is_picked_by_keys_and_esc_picks_none() -> None:
    bench = Guided()
    bench.mode.begin_with()
    for key in (Key.RIGHT, Key.RIGHT, Key.LEFT, Key.NEXT):
        assert bench.do(bench.mode.key(press(key))).change is None
    bench.do(bench.mode.key(press(Key.ENTER)))
    assert bench.piece.settings.first_wedge == 3
    before = bench.plan
    bench.mode.begin_with()
    assert bench.mode.cancel().taken
    assert not bench.mode.overlay(2.0).labels
    bench.do(bench.mode.key(press(Key.ENTER)))
    assert bench.plan is before


def test_no_start_is_shown_while_the_anchor_is_held() -> None:
    bench = Guided()
    assert bench.mode.overlay(2.0).start is not None
    bench.mode.press(at(70, 90))
    bench.mode.move(at(90, 95, free=True))
    assert bench.mode.overlay(2.0).is_anchors_only


# --- trying out, and the best place -------------------------------------------------------------------


def test_a_place_is_tried_out_without_a_change() -> None:
    bench = Guided()
    before = bench.plan
    bench.mode.try_out((120.0, 40.0))
    shown = bench.mode.candidate
    assert shown is not None
    assert shown.anchors == ((120.0, 40.0),)
    assert bench.mode.overlay(2.0).handles[0].at == (120.0, 40.0)
    assert not bench.mode.busy
    bench.mode.try_out((30.0, 40.0))
    assert bench.mode.candidate is not None
    assert bench.mode.candidate.anchors == ((30.0, 40.0),)
    bench.mode.try_out(None)
    assert bench.mode.candidate is None
    assert bench.plan is before


def test_what_is_tried_out_goes_with_esc_and_with_the_next_move_of_the_hand() -> None:
    bench = Guided()
    bench.mode.try_out((120.0, 40.0))
    assert bench.mode.cancel().taken
    assert bench.mode.candidate is None
    bench.mode.try_out((120.0, 40.0))
    bench.mode.move(at(5, 5))
    assert bench.mode.candidate is None


def test_nothing_is_tried_out_where_the_anchor_is_or_while_it_is_held() -> None:
    bench = Guided()
    bench.mode.try_out(bench.piece.anchors[0])
    assert bench.mode.candidate is None
    bench.mode.press(at(70, 90))
    bench.mode.try_out((120.0, 40.0))
    assert bench.mode.busy
    assert bench.mode.candidate is None


def test_a_place_is_taken_in_one_named_step() -> None:
    bench = Guided()
    before = bench.plan
    bench.mode.try_out((120.0, 40.0))
    bench.do(bench.mode.put((120.0, 40.0), "middle"))
    assert bench.piece.anchors == ((120.0, 40.0),)
    assert bench.mode.candidate is None
    assert bench.history.undo_name == "Move anchor: middle"
    assert bench.mode.put((120.0, 40.0), "middle").change is None
    bench.history.undo()
    assert bench.plan == before


def test_the_best_place_catches_once_it_is_known() -> None:
    best = suggestion((150.0, 61.0), names=("off-centre:side:B",))
    bench = Guided()
    drag(bench, bench.mode, (70, 90), (152, 63), free=False)
    assert bench.piece.anchors == ((152.0, 63.0),)
    bench.best = best
    bench.mode.press(at(152, 63))
    bench.mode.move(at(130, 40))
    bench.mode.move(at(153, 62))
    snap = bench.mode.overlay(2.0).snap
    assert snap is not None
    assert (snap.what, snap.name) == (Caught.BEST, "off-centre, towards side B")
    bench.do(bench.mode.release(at(153, 62)))
    assert bench.piece.anchors == (best.anchor,)


def test_where_the_best_place_is_the_middle_it_says_both() -> None:
    bench = Guided(suggestion((100.0, 100.0), names=("middle",)))
    bench.mode.press(at(70, 90))
    bench.mode.move(at(101, 101))
    snap = bench.mode.overlay(2.0).snap
    assert snap is not None
    assert (snap.what, snap.name) == (Caught.BEST, "middle")


def click(bench: Guided, x: float, y: float) -> None:
    bench.do(bench.mode.press(at(x, y, free=True)))
    bench.do(bench.mode.release(at(x, y, free=True)))
