from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely
from shapely import Polygon

from app.sketch.display_list import (
    Area,
    DisplayList,
    Item,
    Label,
    LayerName,
    Line,
    Show,
    Symbol,
    SymbolKind,
    build,
    finding_label,
    still_key,
)
from app.sketch.palette import Hatch, Role, TextSize
from geometry import Fit, Patch, Settings, fit
from geometry.fan import Fan, Wedge
from geometry.findings import Code, Finding, Level
from geometry.marks import MarkKind
from geometry.stitch_path import Kind, Segment, StitchPath
from geometry.units import LengthStyle
from tests.zoo.patches import ZOO

INCH = 25.4
ELL = [(0.0, 0.0), (254.0, 0.0), (254.0, 76.2), (152.4, 81.0), (140.0, 178.0), (0.0, 203.2)]
HOLE = [(50.8, 127.0), (76.2, 127.0), (76.2, 152.4)]

EIGHTHS, SIXTEENTHS, DECIMAL, CM, MM = LengthStyle


@cache
def square() -> Fit:
    return fit(Patch([(0, 0), (203.2, 0), (203.2, 203.2), (0, 203.2)]), (101.6, 101.6))


@cache
def troubled() -> Fit:
    """Thin, short and lost wedges, and a part out of sight."""
    return fit(Patch(ELL, [HOLE]), (76.2, 50.8), Settings(spans_per_side=4))


@cache
def zoo() -> list[Fit]:
    fits = []
    for animal in ZOO:
        patch = Patch(animal.outline, animal.holes)
        anchor = shapely.get_coordinates(patch.polygon.representative_point())[0].tolist()
        fits.append(fit(patch, anchor, Settings(**animal.settings)))
    return fits


def with_path(base: Fit, *segments: Segment) -> Fit:
    """``base``, with a path of our own, and a hold-back, so that the path may have hops."""
    made = replace(base, settings=replace(base.settings, hold_back=1.0))
    vars(made)["path"] = StitchPath(segments)  # where a cached property keeps what it worked out
    return made


def with_wedges(base: Fit, *wedges: Wedge) -> Fit:
    return replace(base, prompt_fans=(replace(base.fans[0], wedges=wedges),))


def wedge(number: int, outline: list[tuple[float, float]], **others: object) -> Wedge:
    points = np.array([*outline, outline[0]], dtype=float)
    given = {"side": points[1:-1], "span": ("A1", "A2"), "side_length": 9.0, "across": 9.0, "apex_angle": 0.1}
    return Wedge(number, points, **{**given, **others})  # type: ignore[arg-type]


def of(drawing: DisplayList, kind: type[Item]) -> list[Item]:
    return [item for item in drawing.items() if isinstance(item, kind)]


def signature(item: Item) -> tuple[object, ...]:
    """What can be compared of an item."""
    values = []
    for name in item.__struct_fields__:
        value = getattr(item, name)
        if isinstance(value, np.ndarray):
            value = value.tobytes()
        elif name == "rings":
            value = tuple(ring.tobytes() for ring in value)
        values.append(value)
    return (type(item).__name__, *values)


# --- wedges, echoes, path -----------------------------------------------------------------------------


def test_every_wedge_is_drawn_as_the_fit_has_it_and_not_copied() -> None:
    drawn = build(square()).layer(LayerName.WEDGES)
    wedges = square().fans[0].wedges
    assert len(drawn) == len(wedges) == 8
    for line, of_fit in zip(drawn, wedges, strict=True):
        assert isinstance(line, Line)
        assert (line.role, line.closed, line.wedge) == (Role.STITCH, True, of_fit.number)
        assert np.array_equal(line.points, of_fit.outline[:-1])
        assert np.shares_memory(line.points, of_fit.outline)


def test_legs_that_stop_short_of_the_anchor_are_not_joined() -> None:
    held = wedge(1, [(1.0, 0.5), (80.0, 40.0), (80.0, 60.0), (0.5, 1.0)])
    base = with_wedges(square(), held)
    base = replace(base, prompt_fans=(replace(base.fans[0], anchor=(0.0, 0.0)),))
    (line,) = build(base).layer(LayerName.WEDGES)
    assert isinstance(line, Line)
    assert not line.closed
    assert np.array_equal(line.points, held.outline[:-1])


def test_echoes_know_their_wedge_and_number() -> None:
    echoes = (
        np.array([(30.0, 20.0), (70.0, 40.0), (70.0, 50.0), (30.0, 20.0)]),
        np.array([(50.0, 32.0), (65.0, 42.0), (65.0, 46.0), (50.0, 32.0)]),
    )
    drawn = build(with_wedges(square(), wedge(7, [(0, 0), (80, 40), (80, 60)], echoes=echoes)))
    lines = drawn.layer(LayerName.ECHOES)
    assert [(line.wedge, line.name, line.closed) for line in lines if isinstance(line, Line)] == [
        (7, "1", True),
        (7, "2", True),
    ]
    assert all(
        np.array_equal(line.points, echo[:-1])
        for line, echo in zip(lines, echoes, strict=True)
        if isinstance(line, Line)
    )


def test_hops_and_travel_are_drawn_and_arrows_follow_the_path() -> None:
    def run(*points: tuple[float, float]) -> np.ndarray:
        return np.array(points, dtype=float)

    path = with_path(
        square(),
        Segment(Kind.LEG, 1, run((0, 0), (10, 10))),
        Segment(Kind.SIDE, 1, run((10, 10), (10, 20), (0, 20))),
        Segment(Kind.HOP, 1, run((0, 20), (1, 21))),
        Segment(Kind.ECHO, 1, run((1, 21), (2, 22))),
        Segment(Kind.TRAVEL, None, run((2, 22), (50, 50))),
    )
    lines = build(path).layer(LayerName.PATH)
    assert [(item.role, item.wedge) for item in lines] == [(Role.HOP, 1), (Role.TRAVEL, None)]
    arrows = build(path, show=Show(travel=False, arrows=True)).layer(LayerName.PATH)
    assert [(item.kind, item.at) for item in arrows if isinstance(item, Symbol)] == [
        (SymbolKind.ARROW, (5.0, 5.0)),
        (SymbolKind.ARROW, (10.0, 15.0)),
    ]
    # 45° to the right and down, then straight down; y points down.
    assert [item.angle for item in arrows if isinstance(item, Symbol)] == pytest.approx(
        [np.pi / 4, np.pi / 2]
    )


def test_a_path_of_legs_and_sides_alone_is_not_worked_out_for_the_picture() -> None:
    plain = replace(square())
    build(plain)
    assert "path" not in vars(plain)
    assert all(segment.kind in (Kind.LEG, Kind.SIDE) for segment in plain.path.segments)
    build(plain, show=Show(arrows=True))
    echoed = fit(plain.patch, plain.anchors, replace(plain.settings, echo_count=1))
    assert any(item.role is Role.HOP for item in build(echoed).layer(LayerName.PATH))


# --- edges, marks, numbers ----------------------------------------------------------------------------


def test_seam_edge_and_cloth_follow_patch_and_stitchable_area() -> None:
    drawing = build(troubled())
    seam, edge = (
        [Polygon(item.points) for item in drawing.layer(name) if isinstance(item, Line) and item.closed]
        for name in (LayerName.SEAM, LayerName.STITCHABLE)
    )
    assert seam[0].difference(seam[1]).equals(troubled().patch.polygon)
    assert edge[0].difference(edge[1]).equals(troubled().stitchable[0])
    (cloth,) = drawing.layer(LayerName.CLOTH)
    assert isinstance(cloth, Area)
    assert (cloth.role, cloth.hatch, len(cloth.rings)) == (Role.CLOTH, Hatch.FILL, 2)


def test_out_of_sight_is_stippled() -> None:
    drawn = build(troubled()).layer(LayerName.OUT_OF_SIGHT)
    assert [(item.role, item.hatch) for item in drawn if isinstance(item, Area)] == [
        (Role.OUT_OF_SIGHT, Hatch.STIPPLE)
    ] * len(troubled().out_of_sight.areas)
    area = sum(Polygon(item.rings[0]).area for item in drawn if isinstance(item, Area))
    assert area == pytest.approx(sum(area.area for area in troubled().out_of_sight.areas))


def test_marks_stand_where_the_fit_has_them_with_their_names_towards_the_seam() -> None:
    for drawn in (square(), troubled()):
        items = build(drawn).layer(LayerName.MARKS)
        marks = {mark.name: mark for fan in drawn.fans for mark in fan.marks}
        symbols = [item for item in items if isinstance(item, Symbol)]
        labels = [item for item in items if isinstance(item, Label)]
        assert {item.name: item.at for item in symbols} == {name: mark.at for name, mark in marks.items()}
        assert {item.text: item.at for item in labels} == {name: mark.at for name, mark in marks.items()}
        kinds = {MarkKind.CORNER: SymbolKind.CORNER_MARK, MarkKind.DIVISION: SymbolKind.DIVISION_MARK}
        assert all(item.kind is kinds[marks[item.name].kind] for item in symbols)
        for label in labels:
            mark = marks[label.text]
            out = np.subtract(mark.foot, mark.at)
            assert np.dot(out, label.offset) > 0
            assert np.dot(out, label.align) > 0
            assert max(map(abs, label.align)) == pytest.approx(1.0)


def test_marks_on_the_seam_have_their_names_away_from_the_anchor() -> None:
    flush = fit(square().patch, (101.6, 101.6), Settings(edge_margin=0.0))
    drawing = build(flush)
    assert drawing.layer(LayerName.STITCHABLE) == ()  # it would lie on the seam
    for label in drawing.layer(LayerName.MARKS):
        if isinstance(label, Label):
            assert np.dot(np.subtract(label.at, (101.6, 101.6)), label.offset) > 0


def test_own_marks_have_a_sign_of_their_own() -> None:
    own = fit(square().patch, (101.6, 101.6), Settings(own_marks=((60.0, 6.35),)))
    kinds = Counter(item.kind for item in build(own).layer(LayerName.MARKS) if isinstance(item, Symbol))
    assert kinds == {SymbolKind.CORNER_MARK: 4, SymbolKind.DIVISION_MARK: 4, SymbolKind.OWN_MARK: 1}


def test_every_number_stands_in_its_wedge() -> None:
    # Curved, dented and slanting sides, anchors in arms and corners: the whole zoo.
    seen = 0
    for each in zoo():
        wedges = {wedge.number: Polygon(wedge.outline) for fan in each.fans for wedge in fan.wedges}
        numbers = [item for item in build(each).layer(LayerName.NUMBERS) if isinstance(item, Label)]
        assert [item.text for item in numbers] == [str(number) for number in wedges]
        for item in numbers:
            assert wedges[item.wedge or 0].buffer(1e-6).covers(shapely.Point(item.at)), each.patch
            seen += 1
    assert seen > 400


def test_the_number_stands_in_the_innermost_echo_and_moves_towards_the_anchor() -> None:
    outline = [(0.0, 0.0), (100.0, 0.0), (100.0, 40.0)]
    triangle = Polygon(outline)
    inner = triangle.buffer(-12.0, join_style="mitre", mitre_limit=50)
    assert not inner.is_empty
    base = with_wedges(square(), wedge(1, outline))
    base = replace(base, prompt_fans=(replace(base.fans[0], anchor=(0.0, 0.0)),))
    (label,) = build(base).layer(LayerName.NUMBERS)
    assert isinstance(label, Label)
    assert inner.covers(shapely.Point(label.at))
    assert label.toward == (0.0, 0.0)
    # The incentre by its formula: corners weighted by the opposite sides, 40, 107.70… and 100.
    a, b, c = 40.0, float(np.hypot(100, 40)), 100.0
    assert label.at == pytest.approx(((b * 100 + c * 100) / (a + b + c), c * 40 / (a + b + c)))


def test_the_number_stands_in_a_wedge_whose_side_comes_near_the_anchor() -> None:
    # A dent between the legs: the middle of the three ends lies beyond it.
    outline = [(0.0, 0.0), (100.0, 0.0), (20.0, 9.0), (100.0, 50.0)]
    base = with_wedges(square(), wedge(1, outline))
    base = replace(base, prompt_fans=(replace(base.fans[0], anchor=(0.0, 0.0)),))
    (label,) = build(base).layer(LayerName.NUMBERS)
    assert isinstance(label, Label)
    dented = Polygon(outline)
    assert dented.covers(shapely.Point(label.at))
    # As large a circle about it as a third of the dent's own distance times the legs' angle leaves.
    assert dented.boundary.distance(shapely.Point(label.at)) > 2.0


# --- findings -----------------------------------------------------------------------------------------


def found(code: Code, level: Level, number: int | None, value: float = 3.175, limit: float = 6.35) -> Finding:
    return Finding(code, level, (50.0, 60.0), value, limit, number)


def with_findings(*findings: Finding) -> Fit:
    return replace(square(), prompt_findings=findings)


def findings_of(*findings: Finding) -> tuple[list[Area], list[Symbol], list[Label]]:
    items = build(with_findings(*findings)).layer(LayerName.FINDINGS)
    return (
        [item for item in items if isinstance(item, Area)],
        [item for item in items if isinstance(item, Symbol)],
        [item for item in items if isinstance(item, Label)],
    )


@pytest.mark.parametrize(
    ("level", "role", "hatch", "kind"),
    [
        (Level.PROBLEM, Role.PROBLEM, Hatch.CROSS, SymbolKind.FILLED_TRIANGLE),
        (Level.CAUTION, Role.CAUTION, Hatch.ONE_WAY, SymbolKind.HOLLOW_TRIANGLE),
        (Level.NOTE, Role.NOTE, None, SymbolKind.DOT),
    ],
)
def test_levels_are_told_apart_by_hatch_and_sign(
    level: Level, role: Role, hatch: Hatch | None, kind: SymbolKind
) -> None:
    areas, symbols, labels = findings_of(found(Code.SIDE_SHORT, level, 3))
    assert [(area.role, area.hatch, area.wedge) for area in areas] == ([(role, hatch, 3)] if hatch else [])
    assert [(item.role, item.kind, item.wedge) for item in symbols] == [(role, kind, 3)]
    assert [(item.role, item.text, item.wedge) for item in labels] == [(role, "1/8 in < 1/4 in", 3)]


def test_a_wedge_is_hatched_once_by_its_worst_finding() -> None:
    areas, symbols, labels = findings_of(
        found(Code.WOBBLE_RISK, Level.CAUTION, 2),
        found(Code.SIDE_SHORT, Level.PROBLEM, 2, 3.0),
        found(Code.WEDGE_THIN, Level.PROBLEM, 2, 1.0),
        found(Code.WEDGE_THIN, Level.CAUTION, 5),
    )
    assert [(area.wedge, area.hatch) for area in areas] == [(2, Hatch.CROSS), (5, Hatch.ONE_WAY)]
    # One label of a level for each wedge: what misses its limit most.
    assert [(item.wedge, item.text) for item in labels] == [
        (2, "1/16 in < 1/4 in"),
        (2, "1/8 in < 1/4 in"),
        (5, "1/8 in < 1/4 in"),
    ]
    assert len(symbols) == 3


def test_of_a_crowd_only_the_worst_have_words() -> None:
    """Signs and hatches stay; a problem comes before a caution, wherever it stands."""
    cautions = [found(Code.WOBBLE_RISK, Level.CAUTION, number) for number in (1, 2, 3)]
    fit = with_findings(*cautions, found(Code.SIDE_SHORT, Level.PROBLEM, 4))
    items = build(fit, show=Show(words=2)).layer(LayerName.FINDINGS)
    assert [item.wedge for item in items if isinstance(item, Label)] == [4, 1]
    every = build(fit).layer(LayerName.FINDINGS)
    for kind in (Area, Symbol):
        kept, whole = (
            [signature(item) for item in each if isinstance(item, kind)] for each in (items, every)
        )
        assert kept == whole
    parts = [part.words for part in (Show(words=2).still(), Show(words=2).moving())]
    assert parts == [2, 2]


def test_findings_without_a_wedge_all_have_their_sign() -> None:
    lost = found(Code.WEDGE_LOST, Level.PROBLEM, None)
    areas, symbols, labels = findings_of(lost, lost, found(Code.OUT_OF_SIGHT, Level.CAUTION, None, 0.12, 0.0))
    assert areas == []
    assert len(symbols) == len(labels) == 3
    assert {item.at for item in symbols} == {(50.0, 60.0)}


def test_what_was_done_to_the_outline_is_not_drawn() -> None:
    repaired = found(Code.REPAIRED, Level.NOTE, None, 1, 0)
    assert findings_of(repaired, found(Code.SIMPLIFIED, Level.NOTE, None, 1, 0)) == ([], [], [])


@pytest.mark.parametrize(
    ("code", "value", "limit", "style", "text"),
    [
        (Code.SIDE_SHORT, INCH * 3 / 16, INCH / 4, SIXTEENTHS, "3/16 in < 1/4 in"),
        # In eighths 3/16 would read as 1/4, like the limit itself.
        (Code.SIDE_SHORT, 4.7625, 6.35, EIGHTHS, "3/16 in < 1/4 in"),
        # No thousandths beside eighths: 0.24 in reads as 1/4 in sixteenths too.
        (Code.WEDGE_THIN, INCH * 0.24, INCH / 4, EIGHTHS, "just under 1/4 in"),
        (Code.WEDGE_THIN, INCH * 0.24, INCH / 4, SIXTEENTHS, "just under 1/4 in"),
        (Code.WEDGE_THIN, INCH * 0.24, INCH / 4, DECIMAL, "0.24 in < 0.25 in"),
        (Code.WEDGE_THIN, INCH * 0.2499, INCH / 4, EIGHTHS, "just under 1/4 in"),
        # 0.02 in would read as 0 in eighths and sixteenths.
        (Code.WEDGE_THIN, INCH * 0.02, INCH / 4, EIGHTHS, "under 1/16 in < 1/4 in"),
        (Code.WEDGE_THIN, 0.01, 6.35, MM, "under 0.1 mm < 6.4 mm"),
        (Code.WEDGE_THIN, 0.01, 6.35, CM, "under 0.1 cm < 0.6 cm"),
        (Code.WEDGE_THIN, 6.396, 6.4, MM, "just under 6.4 mm"),
        (Code.WOBBLE_RISK, -3.0, INCH / 4, EIGHTHS, "0 in < 1/4 in"),
        (Code.WOBBLE_RISK, 25.0, 30.0, CM, "2.5 cm < 3 cm"),
        (Code.OPEN_AREA, 127.0, 101.6, EIGHTHS, "5 in > 4 in"),
        (Code.OPEN_AREA, 101.601, 101.6, DECIMAL, "just over 4 in"),
        (Code.OPEN_AREA, INCH * 4 + 1.5, 101.6, EIGHTHS, "4 1/16 in > 4 in"),
        (Code.OUT_OF_SIGHT, 0.123, 0.0, EIGHTHS, "12 % out of sight"),
        (Code.OUT_OF_SIGHT, 0.0004, 0.0, EIGHTHS, "< 1 % out of sight"),
        (Code.OUT_OF_SIGHT, 0.9996, 0.0, EIGHTHS, "> 99 % out of sight"),
        (Code.OUT_OF_SIGHT, 1.0, 0.0, EIGHTHS, "100 % out of sight"),
        (Code.PINCHED, 0.25, 0.0, EIGHTHS, "pinched: 25 %"),
        (Code.NO_ROOM, 12.0, 12.7, EIGHTHS, "no room"),
        (Code.WEDGE_LOST, 5.0, 6.35, EIGHTHS, "wedge lost"),
        (Code.CROWDED_ANCHOR, 17.0, 12.0, EIGHTHS, "17 passes > 12"),
        (Code.NEAR_CENTRE, INCH / 2, INCH, EIGHTHS, "1/2 in off centre"),
        (Code.NEAR_CENTRE, 0.1, INCH, EIGHTHS, "under 1/16 in off centre"),
        (Code.ECHO_DROPPED, 2.0, 4.0, EIGHTHS, "2 of 4 echoes"),
    ],
)
def test_labels_give_figure_and_limit(
    code: Code, value: float, limit: float, style: LengthStyle, text: str
) -> None:
    assert finding_label(found(code, Level.PROBLEM, None, value, limit), style) == text


def test_every_code_has_a_label() -> None:
    for code in Code:
        assert finding_label(found(code, Level.NOTE, None, 2.0, 3.0), EIGHTHS)


# --- what is shown ------------------------------------------------------------------------------------


def test_layers_lie_in_order() -> None:
    names = [layer.name for layer in build(troubled()).layers]
    assert names == [name for name in LayerName if name in names]
    assert names[0] is LayerName.CLOTH
    assert names[-1] is LayerName.ANCHOR
    assert build(troubled()).layer(LayerName.ANCHOR)[0].at == (76.2, 50.8)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("flag", "layer"),
    [
        ("cloth", LayerName.CLOTH),
        ("seam", LayerName.SEAM),
        ("margin_edge", LayerName.STITCHABLE),
        ("out_of_sight", LayerName.OUT_OF_SIGHT),
        ("stitches", LayerName.WEDGES),
        ("numbers", LayerName.NUMBERS),
        ("findings", LayerName.FINDINGS),
        ("anchor", LayerName.ANCHOR),
    ],
)
def test_each_flag_hides_its_layer_and_no_other(flag: str, layer: LayerName) -> None:
    whole = [each.name for each in build(troubled()).layers]
    hidden = [each.name for each in build(troubled(), show=replace(Show(), **{flag: False})).layers]
    assert layer in whole
    assert hidden == [name for name in whole if name is not layer]


def test_marks_and_their_names_are_hidden_apart() -> None:
    names = build(square(), show=Show(marks=False)).layer(LayerName.MARKS)
    marks = build(square(), show=Show(mark_names=False)).layer(LayerName.MARKS)
    assert {type(item) for item in names} == {Label}
    assert {type(item) for item in marks} == {Symbol}


def test_still_and_moving_make_the_whole() -> None:
    show = Show(numbers=False, arrows=True)
    parts = [build(troubled(), show=part) for part in (show.still(), show.moving())]
    both = Counter(signature(item) for part in parts for item in part.items())
    assert both == Counter(signature(item) for item in build(troubled(), show=show).items())
    assert all(of(part, Item.__args__[0]) for part in parts)


def test_still_is_the_same_wherever_the_anchor_is_while_its_key_is() -> None:
    patch = square().patch
    one, two = fit(patch, (50.0, 60.0)), fit(patch, (120.0, 150.0))
    assert still_key(one) == still_key(two)
    drawn = [[signature(item) for item in build(each, show=Show().still()).items()] for each in (one, two)]
    assert drawn[0] == drawn[1]
    # The marks of an hourglass are those of the part that holds the anchor.
    pinched = next(animal for animal in ZOO if animal.name == "hourglass in two")
    patch = Patch(pinched.outline, pinched.holes)
    settings = Settings(**pinched.settings)
    parts = fit(patch, patch.outline[0].tolist(), settings).stitchable
    ends = [fit(patch, part.representative_point().coords[0], settings) for part in parts]
    assert len(ends) == 2
    assert still_key(ends[0]) != still_key(ends[1])


def test_no_line_leaves_the_bounds_and_no_closed_line_repeats_its_first_point() -> None:
    for each in zoo():
        drawing = build(each)
        left, top, right, bottom = drawing.bounds
        assert drawing.bounds == each.patch.polygon.bounds
        for line in of(drawing, Line):
            assert isinstance(line, Line)
            low, high = line.points.min(axis=0), line.points.max(axis=0)
            assert (low >= (left - 1e-6, top - 1e-6)).all()
            assert (high <= (right + 1e-6, bottom + 1e-6)).all()
            assert not line.closed or (line.points[0] != line.points[-1]).any()


def test_a_patch_without_room_still_has_its_seam_anchor_and_finding() -> None:
    drawing = build(fit(Patch([(0, 0), (300, 0), (300, 12), (0, 12)]), (20.0, 6.0)))
    names = [layer.name for layer in drawing.layers]
    assert names == [LayerName.CLOTH, LayerName.SEAM, LayerName.FINDINGS, LayerName.ANCHOR]
    assert [item.text for item in of(drawing, Label) if isinstance(item, Label)] == ["no room"]


def test_words_are_of_the_base_size_but_for_the_wedges_numbers() -> None:
    for item in of(build(troubled()), Label):
        assert isinstance(item, Label)
        assert item.size is (TextSize.SMALL if item.role is Role.STITCH else TextSize.BASE)


def test_fans_of_several_anchors_are_all_drawn() -> None:
    base = square()
    second: Fan = replace(base.fans[0], anchor=(20.0, 20.0))
    both = replace(base, prompt_fans=(base.fans[0], second), anchors=((101.6, 101.6), (20.0, 20.0)))
    drawing = build(both)
    assert len(drawing.layer(LayerName.WEDGES)) == 16
    assert len(drawing.layer(LayerName.ANCHOR)) == 2
