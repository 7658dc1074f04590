"""Fits of awkward patches from awkward anchors, judged by the oracle (tests/oracle.py).

The zoo, the shared corpus of outlines, 171 counties, 300 glyphs and the sample patches; from one to four
anchors inside, on edges and corners of the seam and of the stitchable area, in the margin, and a hair beside
an edge; with echoes, hold-back and all else that can be set. Each fit has a number (tests/zoo/cases.py) and
can be judged again alone: ``python -m tests.zoo.cases NUMBER``. The plain suite takes some of the numbers,
``-m long -k numbered`` the first 20,000 in 40 parts, which several processes can share.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import Polygon

from geometry import AnchorError, Patch, PatchError, Settings, fit
from tests.oracle import examine, from_fit, same
from tests.outside.shapes import corpus_outlines, counties, glyphs
from tests.zoo.anchors import Place, awkward_anchors, spread
from tests.zoo.cases import case, judge_case, plain_numbers
from tests.zoo.patches import ZOO, Animal

ANIMALS = {animal.name: animal for animal in ZOO}


# ---------------------------------------------------------------------------------------- fits by number

MENDED = {
    18: "open area: a fan of one small wedge",
    373: "open area: what a hold-back leaves bare",
    647: "sectors: rings with one mark that is not their first point",
    736: "open area: wide gaps, several fans",
    1186: "corners: hairs on a region's border were taken for cut tips",
    1192: "regions: borders in line with the anchor, far from the origin",
    1701: "gap: met sooner at a bend of a ragged edge",
    2231: "sectors: a tip with the only mark",
    2521: "open area: gaps wider than the batting allows",
    6858: "out of sight: a part that lies in the gap between regions counts",
    10228: "marks: a tip whose side bends away from the mark by 0.048 mm",
    13409: "regions: a hair between two of them",
    13444: "open area: a wedge with a ragged side",
    15358: "regions: a gap that GEOS left short by 4e-5 mm",
    16078: "open area: wedges whose union GEOS left a part out of",
    12111: "regions: sight beside a tip that the anchor all but touches",
    3181: "gap: a region that ends in a slit at its anchor",
}
"""Numbers that found a fault, and what it was. All are judged again in the plain suite."""
PLAIN = sorted({*plain_numbers(), *MENDED})
LONG, PARTS = 20_000, 40
ZOO_ANCHORS = 1
MERGED = {
    62: "merging: lost sectors of two spans, one of which has its wedge elsewhere",
    402: "sectors far away are lost beside one that is all but in line with the anchor",
    404: "a wedge that begins and ends in pieces of one span",
    12: "a wedge of hairs",
}
"""Numbers judged again with all thin wedges merged, and what is to be seen there."""


def test_there_are_enough_of_them() -> None:
    assert len(set(PLAIN)) >= (500 if corpus_outlines() else 460)  # issue 3; zoo, samples and corpus on top
    drawn = [case(number) for number in plain_numbers()]
    names = {each.name.split()[0] for each in drawn}
    assert {"sample", "zoo", "county", "glyph"} <= names
    assert len({each.name for each in drawn if each.name.startswith("county")}) == 171
    assert {each.settings.echo_count for each in drawn} == set(range(6))
    assert {len(each.anchors) for each in drawn} == {1, 2, 3, 4}
    assert min(each.settings.hold_back for each in drawn) == 0
    assert max(each.settings.hold_back for each in drawn) == 20
    assert sum(bool(each.settings.merged_spans) for each in drawn) > 10
    for switch in (
        "merge_thin",
        "spiral",
        "clockwise",
        "along_seam",
        "divide",
        "cloth_turned",
        "least_turning",
    ):
        assert {getattr(each.settings, switch) for each in drawn} == {True, False}, switch


@pytest.mark.parametrize("part", range(20))
def test_some_numbered_fits(part: int) -> None:
    assert [line for number in PLAIN[part::20] for line in judge_case(number)] == []


@pytest.mark.parametrize("number", MERGED)
def test_numbered_fits_with_all_thin_wedges_merged(number: int) -> None:
    _, patch, anchors, settings = case(number)
    answer = fit(patch, anchors, replace(settings, merge_thin=True))
    assert [str(violation) for violation in examine(from_fit(answer, given=anchors))] == []


def test_far_from_the_origin() -> None:
    """Where float64 resolves a millionth of a millimetre or less, as in outlines from a map."""
    broken = []
    for name, place in (
        ("round ring", "hole margin half way"),
        ("ragged edge", "seam reflex corner 0.001 inside"),
    ):
        outline = np.array(ANIMALS[name].outline) + FAR
        patch = Patch(outline, [np.array(hole) + FAR for hole in ANIMALS[name].holes])
        settings = Settings(**ANIMALS[name].settings)
        at = awkward_anchors(patch.polygon, settings.edge_margin)[place]
        near = (at[0] - FAR[0], at[1] - FAR[1])
        home = fit(Patch(ANIMALS[name].outline, ANIMALS[name].holes), near, settings).out_of_sight
        away = fit(patch, at, settings).out_of_sight
        if abs(home.share - away.share) > 1e-6:
            broken.append(f"{name}: {home.share} out of sight, {away.share} far away")
    assert broken == []


FAR = np.array([589_000.0, 4_518_500.0])


@pytest.mark.long
@pytest.mark.parametrize("part", range(PARTS))
def test_numbered_fits(part: int) -> None:
    """20,000 fits in all (issue 3)."""
    numbers = range(part * LONG // PARTS, (part + 1) * LONG // PARTS)
    broken = [line for number in numbers for line in judge_case(number)]
    print(f"{len(numbers)} fits ({numbers[0]} to {numbers[-1]}), {len(broken)} violations")
    assert broken == []


def judge(patch: Patch, anchors: Iterable[tuple[str, Place]], settings: Settings) -> list[str]:
    """One line for every promise broken from any of the anchors."""
    broken: list[str] = []
    known: set[bytes] = set()
    for name, at in anchors:
        violations = examine(from_fit(fit(patch, at, settings)), known=known)
        broken += [f"from {name} ({at[0]!r}, {at[1]!r}): {violation}" for violation in violations]
    return broken


# -------------------------------------------------------------------------------------------------- the zoo


@pytest.mark.parametrize("name", list(ANIMALS))
def test_zoo(name: str) -> None:
    animal = ANIMALS[name]
    patch, settings = Patch(animal.outline, animal.holes), Settings(**animal.settings)
    places = awkward_anchors(patch.polygon, settings.edge_margin)
    assert judge(patch, spread(places, ZOO_ANCHORS, list(ANIMALS).index(name)), settings) == []


@pytest.mark.long
@pytest.mark.parametrize("name", ANIMALS)
def test_zoo_from_everywhere(name: str) -> None:
    animal = ANIMALS[name]
    patch, settings = Patch(animal.outline, animal.holes), Settings(**animal.settings)
    broken = []
    for seed in range(4):
        places = awkward_anchors(patch.polygon, settings.edge_margin, seed)
        broken += judge(patch, places.items(), settings)
    assert broken == []


def test_zoo_twice_is_the_same() -> None:
    for k, animal in enumerate(ZOO[::3]):
        settings = Settings(**animal.settings)
        reports = []
        for _ in range(2):
            patch = Patch(animal.outline, animal.holes)
            places = awkward_anchors(patch.polygon, settings.edge_margin)
            reports.append([from_fit(fit(patch, at, settings)) for _, at in spread(places, 2, k)])
        assert same(reports[0], reports[1]), animal.name


@pytest.mark.parametrize("name", ["square", "ell", "ring", "hourglass in two", "many-vertex circle"])
def test_an_anchor_outside_is_refused(name: str) -> None:
    patch = Patch(ANIMALS[name].outline, ANIMALS[name].holes)
    x0, y0, x1, y1 = patch.polygon.bounds
    outside = [(x0 - 1, y0), (x1 + 1e-3, (y0 + y1) / 2), (math.nan, y0), (x0, math.inf)]
    outside += [shapely.get_coordinates(Polygon(hole).centroid)[0] for hole in ANIMALS[name].holes]
    for at in outside:
        with pytest.raises(AnchorError):
            fit(patch, (float(at[0]), float(at[1])), Settings())


# ----------------------------------------------------------------------------------- shapes nobody here drew


def test_there_are_171_counties() -> None:
    assert len(counties()) == 171  # outside_checks.md


@pytest.mark.long
@pytest.mark.parametrize("number", range(171))
def test_counties_from_everywhere(number: int) -> None:
    patch = Patch(*counties()[number])
    for settings in (Settings(), Settings(edge_margin=0.0, gap=3.0), Settings(longest_span=40.0, gap=2.0)):
        places = awkward_anchors(patch.polygon, settings.edge_margin, number)
        assert judge(patch, places.items(), settings) == []


@pytest.mark.long
@pytest.mark.parametrize("tenth", range(10))
def test_glyphs_from_everywhere(tenth: int) -> None:
    broken = []
    for number, (name, rings) in list(enumerate(glyphs(2000)))[tenth::10]:
        patch, settings = Patch(*rings), Settings(edge_margin=(6.35, 3.0, 0.0)[number % 3])
        places = awkward_anchors(patch.polygon, settings.edge_margin, number)
        broken += [f"glyph {name} {line}" for line in judge(patch, spread(places, 8, number), settings)]
    assert broken == []


CORPUS = {f"{k} {outline['name']}": outline for k, outline in enumerate(corpus_outlines())}


@pytest.mark.skipif(not CORPUS, reason="../shared/corpora is not beside this checkout")
@pytest.mark.parametrize("name", CORPUS or [""])
def test_corpus_outlines(name: str) -> None:
    """Outlines from JTS's own tests; each says whether it is accepted, repaired or refused."""
    outline = CORPUS[name]

    def ring(points: list[list[Any]]) -> np.ndarray:
        return np.array([[float(x), float(y)] for x, y in points])

    rings = ring(outline["outline"]), [ring(hole) for hole in outline["holes"]]
    try:
        patch = Patch(*rings)
    except PatchError as error:
        refusal = str(error)
    else:
        refusal = ""
    if refusal:
        assert outline["expect"] != "accept"
        assert len(refusal.splitlines()) == 1
        return
    assert outline["expect"] != "refuse"
    if outline["expect"] == "accept":
        assert patch.polygon.symmetric_difference(Polygon(*rings)).area <= 1e-6 * patch.polygon.area
    else:
        assert patch.repairs
    assert patch.polygon.is_valid
    span = max(
        patch.polygon.bounds[2] - patch.polygon.bounds[0], patch.polygon.bounds[3] - patch.polygon.bounds[1]
    )
    for margin, gap in ((6.35, 6.35), (0.0, span / 60), (span / 40, span / 80)):
        settings = Settings(edge_margin=margin, gap=gap)
        places = awkward_anchors(patch.polygon, margin, len(name))
        assert judge(patch, spread(places, 2, len(name)), settings) == []


def test_corpus_erosions() -> None:
    """JTS's own mitred erosions by 5 (the corpus holds them) are the stitchable area."""
    held = [outline for outline in corpus_outlines() if outline.get("eroded_5_mitre")]
    if not held:
        pytest.skip("../shared/corpora is not beside this checkout")
    for outline in held:
        patch = Patch(np.array(outline["outline"], dtype=float))
        inside = patch.polygon.representative_point()
        answer = fit(patch, (inside.x, inside.y), Settings(edge_margin=5.0))
        expected = Polygon(outline["eroded_5_mitre"])
        off = shapely.union_all(answer.stitchable).symmetric_difference(expected).area
        assert off <= 1e-9 * expected.area, outline["name"]


def _sample_patches() -> Iterator[tuple[str, Any]]:
    from app.plan.plan_file import read_plan

    for path in sorted((Path(__file__).parents[1] / "sample_shapes").glob("*.wedgeplan")):
        for held in read_plan(path).patches:
            yield f"{path.name} {held.name}", held


def test_samples() -> None:
    """Every patch of the sample plan, from its own anchors and from awkward ones."""
    samples = list(_sample_patches())
    assert len(samples) >= 10  # issue 2
    broken = []
    for number, (name, held) in enumerate(samples):
        patch, settings = held.patch(), held.settings
        own = [(float(x), float(y)) for x, y in held.anchors]
        answer = fit(patch, own, settings)
        broken += [f"{name} as planned: {violation}" for violation in examine(from_fit(answer, given=own))]
        places = awkward_anchors(patch.polygon, settings.edge_margin, number)
        broken += [f"{name} {line}" for line in judge(patch, spread(places, 2, number), settings)]
    assert broken == []


# ---------------------------------------------------------------------------------------------- invariances

Move = Callable[[np.ndarray], np.ndarray]


def _spin(
    degrees: float, scale: float = 1.0, mirror: bool = False, shift: tuple[float, float] = (0, 0)
) -> Move:
    t = math.radians(degrees)
    turn = scale * np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]])
    if mirror:
        turn = turn @ np.diag([-1.0, 1.0])
    return lambda points: np.asarray(points, dtype=float) @ turn.T + shift


def _lengths(settings: Settings, scale: float) -> Settings:
    """The same settings for a patch ``scale`` times as large."""
    lengths = ("edge_margin", "gap", "visible_width", "longest_span", "corner_run")
    kept = {key: getattr(settings, key) for key in Settings.__dataclass_fields__}
    return Settings(**kept | {key: kept[key] * scale for key in lengths})


def _wedges_as_moved(
    animal: Animal, places: list[Place], move: Move, scale: float = 1.0, roll: int = 0, back: bool = False
) -> list[list[Polygon]]:
    """The wedges of the moved patch from each of the moved anchors."""

    def ring(points: Any) -> np.ndarray:
        moved = np.roll(move(np.array(points)), -roll, axis=0)
        return moved[::-1] if back else moved

    patch = Patch(ring(animal.outline), [ring(hole) for hole in animal.holes])
    settings = _lengths(Settings(**animal.settings), scale)
    answers = []
    for at in places:
        # a corner of the seam that is turned and a corner of the turned seam may differ in the last digit
        place = patch.slide_into(tuple(move(np.array([at]))[0].tolist()))
        answers.append([Polygon(w.outline) for fan in fit(patch, place, settings).fans for w in fan.wedges])
    return answers


def _differ(one: list[Polygon], two: list[Polygon], size: float) -> str:
    if len(one) != len(two):
        return f"{len(one)} wedges, {len(two)} after it"
    for wedge in one:
        nearest = min(two, key=lambda other: wedge.centroid.distance(other.centroid))
        off = wedge.hausdorff_distance(nearest)
        if off > 1e-6 * size:
            return f"a wedge is {off:.3g} mm off"
    return ""


SURE = ("inside", "middle", "anywhere", "edge somewhere", "edge corner", "margin half way", "seam corner")
"""Anchors that a change of frame does not push over an edge: it moves a point by 1e-13, and which side of an
edge a hair's breadth lies on is then another question."""

MOVES: dict[str, dict[str, Any]] = {
    "turned by 37 degrees": {"move": _spin(37)},
    "turned by 211.3 degrees and shifted": {"move": _spin(211.3, shift=(-73.0, 411.0))},
    "mirrored": {"move": _spin(0, mirror=True)},
    "mirrored and turned": {"move": _spin(71.9, mirror=True)},
    "three times as large": {"move": _spin(0, 3.0), "scale": 3.0},
    "a seventh, turned": {"move": _spin(-19, 1 / 7), "scale": 1 / 7},
    "from its second point": {"move": _spin(0), "roll": 1},
    "from a far point": {"move": _spin(0), "roll": 5},
    "wound the other way": {"move": _spin(0), "back": True},
}


def moved_wrong(
    animal: Animal, places: dict[str, Place], count: int, offset: int, moves: Iterable[str] = MOVES
) -> list[str]:
    """One line for every anchor and move after which the fan is another."""
    sure = {name: places[name] for name in SURE if name in places and name not in animal.toss}
    picked = spread(sure, count, offset)
    x0, y0, x1, y1 = Polygon(animal.outline).bounds
    before = _wedges_as_moved(animal, [at for _, at in picked], _spin(0))
    broken = []
    for how in moves:
        change = MOVES[how]
        # where the first mark of an edge without corners lies depends on the frame; a larger scale keeps it
        if not animal.cornered and how != "three times as large":
            continue
        after = _wedges_as_moved(animal, [at for _, at in picked], **change)
        for (name, at), one, two in zip(picked, before, after, strict=True):
            moved = [Polygon(change["move"](np.asarray(wedge.exterior.coords))) for wedge in one]
            off = _differ(moved, two, change.get("scale", 1.0) * max(x1 - x0, y1 - y0))
            if off:
                broken.append(f"{animal.name} {how}, from {name} {at}: {off}")
    return broken


@pytest.mark.parametrize("name", ANIMALS)
def test_the_fan_moves_with_the_patch(name: str) -> None:
    animal = ANIMALS[name]
    polygon = Patch(animal.outline, animal.holes).polygon
    places = awkward_anchors(polygon, Settings(**animal.settings).edge_margin)
    number = list(ANIMALS).index(name)
    moves = [how for k, how in enumerate(MOVES) if (k + number) % 3 == 0 or not animal.cornered]
    assert moved_wrong(animal, places, 2, number, moves) == []


@pytest.mark.long
@pytest.mark.parametrize("name", ANIMALS)
def test_the_fan_moves_with_the_patch_from_everywhere(name: str) -> None:
    animal = ANIMALS[name]
    polygon = Patch(animal.outline, animal.holes).polygon
    for seed in range(5):
        places = awkward_anchors(polygon, Settings(**animal.settings).edge_margin, seed)
        assert moved_wrong(animal, places, len(SURE), 0) == []


def _county_moved_wrong(number: int, count: int) -> list[str]:
    outline, holes = counties()[number]
    animal = Animal(f"county {number}", outline.tolist(), [hole.tolist() for hole in holes])
    return moved_wrong(animal, awkward_anchors(Patch(outline, holes).polygon, 6.35, number), count, number)


def test_counties_move_with_their_fans() -> None:
    assert [line for number in range(4, 171, 48) for line in _county_moved_wrong(number, 1)] == []


@pytest.mark.long
@pytest.mark.parametrize("number", range(171))
def test_all_counties_move_with_their_fans(number: int) -> None:
    assert _county_moved_wrong(number, 4) == []


# -------------------------------------------------------------------------------------------- marks by hand


def _marks(animal: str) -> list[Any]:
    patch, settings = (
        Patch(ANIMALS[animal].outline, ANIMALS[animal].holes),
        Settings(**ANIMALS[animal].settings),
    )
    at = patch.polygon.representative_point()
    return list(fit(patch, (at.x, at.y), settings).fans[0].marks)


@pytest.mark.parametrize(
    ("name", "corners"),
    [
        ("square", 4),
        ("triangle", 3),
        ("kite", 4),
        ("ell", 6),
        ("u", 8),
        ("plus", 12),
        ("star", 16),
        ("ring", 8),
        ("collinear corners", 4),  # points along a straight side are none
        ("repeated points", 4),
        ("many-vertex circle", 0),  # the steps of a flattened curve are none
        ("tiny rounding", 4),  # a small rounding is one corner
        ("tiny rounding, no margin", 4),
        ("wide rounding", 0),
        ("ragged edge, no margin", 4),  # a ragged edge is none
        ("cut tip", 7),  # the cut end of the tip is one
    ],
)
def test_corners_by_hand(name: str, corners: int) -> None:
    found = [mark for mark in _marks(name) if mark.kind == "corner"]
    assert len(found) == corners, [mark.name for mark in found]


def test_a_small_rounding_is_marked_in_its_middle() -> None:
    found = [mark.at for mark in _marks("tiny rounding, no margin") if mark.kind == "corner"]
    s = 1 - math.sqrt(0.5)  # the middle of a rounding of 1 mm
    expected = [(s, s), (180 - s, s), (180 - s, 160 - s), (s, 160 - s)]
    for at in expected:
        assert min(math.dist(at, other) for other in found) < 1e-9


def test_a_cut_tip_is_marked_in_its_middle() -> None:
    # the tip (130, 60) points straight up (in y down: towards smaller y): cut square at twice the margin
    found = [mark.at for mark in _marks("cut tip") if mark.kind == "corner"]
    assert min(math.dist((130.0, 60.0 - 12.7), at) for at in found) < 1e-6


def test_letters_follow_the_outline_from_its_first_corner() -> None:
    marks = {mark.name: mark.at for mark in _marks("square")}
    near, far, half = 6.35, 196.85, 101.6
    expected = {
        "AB": (far, near),
        "BC": (far, far),
        "CD": (near, far),
        "DA": (near, near),
        "A1": (half, near),
        "B1": (far, half),
        "C1": (half, far),
        "D1": (near, half),
    }
    assert marks.keys() == expected.keys()
    for name, at in expected.items():
        assert marks[name] == pytest.approx(at, abs=1e-9), name


# ----------------------------------------------------------------------------------------- the report itself


def test_the_samples_reports_pass_too(capsys: pytest.CaptureFixture[str]) -> None:
    """``wedgewright fit FILE --json`` on the sample plan, judged from the written figures alone."""
    from app.cli import main

    plans = sorted((Path(__file__).parents[1] / "sample_shapes").glob("*.wedgeplan"))
    assert plans
    broken = []
    for path in plans:
        assert main(["fit", str(path), "--json"]) in (0, 1)
        written = json.loads(capsys.readouterr().out)
        assert written["wedgewright-report"] == 1
        assert written["unit"] == "mm"
        for entry in written["patches"]:
            broken += [
                f"{path.name} {entry['name']}: {violation}" for violation in examine(entry, grain=5e-7)
            ]
    assert broken == []
