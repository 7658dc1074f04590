"""The marking card: what it says, laid out again with a tape alone, gives every mark and anchor back."""

from __future__ import annotations

import io
import math
from functools import cache
from pathlib import Path

import numpy as np
import pdfplumber
import pytest

from app.exporting.cards import CardJob, CardKind, CardPatch
from app.exporting.paged import as_pdf
from app.importing import import_file
from app.plan.plan_file import read_plan
from geometry import Fit, Patch, Settings, fit
from geometry.patch import middle_of
from geometry.units import LengthStyle
from tests.app.exporting.samples import ELL, HOLE, INCH, large, slanted, square, troubled
from tests.app.exporting.tape import Cloth, Measured, Read, bends, crossing, read_cards

SAMPLES = Path(__file__).parents[3] / "sample_shapes"
STYLES = (LengthStyle.EIGHTHS, LengthStyle.SIXTEENTHS, LengthStyle.CM, LengthStyle.MM)
MOST = {LengthStyle.EIGHTHS: INCH / 8, LengthStyle.SIXTEENTHS: INCH / 16}
"""mm: what no card admits to be off by more than; in metres 1 mm. Else a wrong card could excuse itself."""
PEN = 0.3
"""mm: a pen line."""


def circle(x: float, y: float, radius: float, count: int = 180) -> np.ndarray:
    turn = np.linspace(0, 2 * math.pi, count, endpoint=False)
    return np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn)])


@cache
def cases() -> dict[str, Fit]:
    """All samples, and shapes that are hard to measure."""
    found = {}
    for each in read_plan(SAMPLES / "lantern_pond.wedgeplan").patches:
        found[each.name] = fit(each.patch(), each.anchors, each.settings)
    for name, unit in (("blocks.txt", None), ("grounds.wkt", "mm"), ("shore.svg", None)):
        for patch_name, patch in import_file(str(SAMPLES / name), unit).patches:
            found[f"{name} {patch_name}"] = fit(patch, middle_of(patch))
    frame = Patch([(0, 0), (300, 0), (300, 300), (0, 300)], [circle(150, 150, 60)])
    found |= {
        "three inches": square(3 * INCH),
        "forty inches": square(40 * INCH, spans_per_side=18),
        "troubled": troubled(),
        "large": large(),
        "slanted": slanted(),
        "round": fit(Patch(circle(50, 60, 100)), (60.0, 85.0)),
        "round hole": fit(frame, (40.0, 40.0)),
        "several fans": fit(Patch(ELL, [HOLE]), [(50.0, 50.0), (200.0, 40.0)]),
        "strip": fit(Patch([(0, 0), (508, 0), (508, 24), (0, 24)]), (251.0, 9.0)),
        "anchor on the seam": fit(Patch(ELL), (100.0, 0.0)),
        "anchor on a corner": fit(Patch(ELL), (254.0, 0.0)),
        "no margin": fit(Patch(ELL), (76.2, 50.8), Settings(edge_margin=0.0)),
    }
    return found


def cards(chosen: dict[str, Fit], style: LengthStyle, paper: str = "letter") -> dict[str, Read]:
    patches = [CardPatch(name, each) for name, each in chosen.items()]
    data = as_pdf(CardJob.of(patches, CardKind.MARKING, paper, style), "")
    return dict(zip(chosen, read_cards(data), strict=True))


def cloth_of(made: Fit, card: Read) -> Cloth:
    """What is seen on the cloth: the seam, and by the picture which of its bends has which letters."""
    rings = [[complex(x, y) for x, y in ring] for ring in (made.patch.outline, *made.patch.holes)]
    corners = [place for ring in rings for place in bends(ring)]
    named: dict[str, complex] = {}
    for mark in (mark for fan in made.fans for mark in fan.marks):
        if mark.kind == "corner" and corners:
            named[mark.name] = min(corners, key=lambda place: abs(place - complex(*mark.at)))
        if mark.name in card.begins:
            named[mark.name] = complex(*mark.foot)
    return Cloth(rings, named)


def laid_out(card: Read, made: Fit) -> dict[str, list[complex]]:
    """Every mark and anchor of the card, laid out; where there are two ways to measure, both."""
    cloth = cloth_of(made, card)
    marks = {mark.name: complex(*mark.at) for fan in made.fans for mark in fan.marks}
    feet = dict(cloth.named)
    found: dict[str, list[complex]] = {}
    begun = {row.name: row for row in card.taped if any(row.name == each.name for each in card.rows)}

    def tapes(row: Measured) -> complex:
        (one, first), (two, second) = row.tapes
        return crossing(feet[one], feet[two], first, second, row.right)

    for name, row in begun.items():
        feet[name] = tapes(row)
    for row in card.rows:
        places = []
        for start, by in ((row.before, row.back), (row.after, -row.on)):
            foot, way = cloth.walk(feet[start], by)
            if by == 0:
                foot = feet[start]
            square_in = min((1j * way * card.margin, -1j * way * card.margin),
                            key=lambda off: abs(foot + off - marks[row.name]))  # fmt: skip
            places.append(foot + square_in)
            feet.setdefault(row.name, foot)
        found[row.name] = places
    for row in card.taped:
        if row.name not in begun:
            found[row.name] = [tapes(row)]
    for row in card.anchors:
        if row.corner:
            found[row.name] = [feet[row.corner]]
        elif not row.on_seam:
            found[row.name] = [tapes(row)]
        else:
            places = []
            (before, back), (after, on) = row.tapes
            for start, by in ((before, back), (after, -on)):
                foot, way = cloth.walk(feet[start], by)
                off = (row.inward or 0.0) * 1j * way
                anchor = complex(*made.anchors[card.anchors.index(row)])
                places.append(min(foot + off, foot - off, key=lambda place: abs(place - anchor)))
            found[row.name] = places
    for name, corner in cloth.named.items():
        if name in found or name in card.begins:
            continue
        one = cloth.walk(corner, -2.0)[0] - corner
        two = cloth.walk(corner, 2.0)[0] - corner
        both = one / abs(one) + two / abs(two)
        half = both / abs(both)
        to = marks[name] - corner
        if name in card.inward:
            half *= 1 if (half.conjugate() * to).real > 0 else -1
            found[name] = [corner + half * card.inward[name]]
        else:
            sine = abs((one / abs(one) / half).imag)
            reach = card.margin / sine
            half *= 1 if (half.conjugate() * to).real > 0 else -1
            found[name] = [corner + half * reach]
    return found


def check(name: str, made: Fit, card: Read, style: LengthStyle) -> int:
    """How many marks and anchors were found where they belong."""
    assert card.bound <= MOST.get(style, 1.0) + 1e-9, name
    curved = len(made.patch.outline) > 40 or any(len(hole) > 40 for hole in made.patch.holes)
    true = {mark.name: complex(*mark.at) for fan in made.fans for mark in fan.marks}
    names = ["Anchor"] if len(made.anchors) == 1 else [f"Anchor {n + 1}" for n in range(len(made.anchors))]
    true |= dict(zip(names, (complex(*anchor) for anchor in made.anchors), strict=True))
    found = laid_out(card, made)
    assert set(found) == set(true), name
    for what, places in found.items():
        for place in places:
            off = abs(place - true[what])
            assert off <= card.bound + (PEN if curved else 0.05), f"{name}, {what}: off by {off:.2f} mm"
    return len(found)


PAPERS = {LengthStyle.EIGHTHS: "letter", LengthStyle.MM: "letter"}


@pytest.mark.parametrize("style", STYLES)
def test_laid_out_with_a_tape_every_mark_is_where_it_belongs(style: LengthStyle) -> None:
    """Every other case in one style; all in all: the next test."""
    turn = 2 * STYLES.index(style)
    chosen = {name: made for at, (name, made) in enumerate(cases().items()) if made.fans and at % 8 == turn}
    read = cards(chosen, style, PAPERS.get(style, "a4"))
    assert sum(check(name, made, read[name], style) for name, made in chosen.items()) > 30


@pytest.mark.long
@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("style", STYLES)
def test_laid_out_in_every_style_on_every_paper(style: LengthStyle, paper: str) -> None:
    chosen = {name: made for name, made in cases().items() if made.fans}
    read = cards(chosen, style, paper)
    assert sum(check(name, made, read[name], style) for name, made in chosen.items()) > 400


def test_a_style_that_no_tape_has_is_read_in_sixteenths() -> None:
    read = cards({"slanted": slanted()}, LengthStyle.DECIMAL)
    assert check("slanted", slanted(), read["slanted"], LengthStyle.SIXTEENTHS) == 16
    assert read["slanted"].bound == pytest.approx(INCH / 16)


def test_the_bound_is_said_loudly_where_it_matters() -> None:
    """Round a hole the marks stand further out than their feet, so a sixteenth there is more of them."""
    made = cases()["round hole"]
    read = cards({"round hole": made}, LengthStyle.EIGHTHS)["round hole"]
    assert read.bound > INCH / 16
    assert "More than 1/16 in: E" in read.text
    read = cards({"round hole": made}, LengthStyle.MM)["round hole"]
    assert read.bound == 1.0
    assert "More than" not in read.text


def test_many_marks_go_on_a_second_page_and_few_stay_on_one() -> None:
    many = square(40 * INCH, spans_per_side=30)
    read = cards({"few": square(3 * INCH), "many": many}, LengthStyle.SIXTEENTHS)
    assert read["few"].pages == 1
    assert read["many"].pages == 2
    assert len(read["many"].rows) == 4 * 29
    assert check("many", many, read["many"], LengthStyle.SIXTEENTHS) == 121


def test_nothing_to_mark_is_said() -> None:
    splinter = fit(Patch([(0, 0), (200, 0), (0, 9)]), (60.0, 3.0))
    assert not splinter.fans
    data = as_pdf(CardJob.of([CardPatch("Splinter", splinter)], CardKind.MARKING, "a4"), "")
    with pdfplumber.open(io.BytesIO(data)) as document:
        (page,) = document.pages
        assert "There is nothing to mark: no wedge fits this patch." in page.extract_text()
        assert "rounded" not in page.extract_text()
