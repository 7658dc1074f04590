"""Plans to test with, and plans made by hypothesis."""

from __future__ import annotations

import math
import random

import msgspec
from hypothesis import strategies as st

from app.plan.model import Plan, PlanPatch, Try
from geometry import Settings
from geometry.units import LengthStyle

SQUARE = ((0.0, 0.0), (203.2, 0.0), (203.2, 203.2), (0.0, 203.2))


def square(name: str = "Square", **changes: object) -> PlanPatch:
    patch = PlanPatch(name=name, outline=SQUARE, anchors=((101.6, 101.6),))
    return msgspec.structs.replace(patch, **changes)


def small_plan() -> Plan:
    holed = square(
        "Näh-Stück 日本 👩‍🎨",
        holes=(((50.0, 50.0), (50.0, 60.0), (60.0, 60.0)),),
        anchors=((10.0, 10.0), (0.0, 0.0)),
        settings=Settings(
            gap=3.0, side_spans=(("A", 3),), own_marks=((1.5, 2.5),), merged_spans=(("A1", "AB"),)
        ),
        repeats=12,
        tries=(
            Try(name="Try 1", anchors=((10.0, 10.0),), settings=Settings(hold_back=3.0)),
            Try(name="by the “hole”", anchors=((40.0, 52.0), (0.0, 0.0)), settings=Settings(divide=True)),
        ),
        cloth="#1A2B3C",
        thread="#F0F0F0",
        thread_width=0.45,
    )
    return Plan(title="A plan “for” tests", unit_style=LengthStyle.CM, patches=(square(), holed))


_names = st.text(st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"]), min_size=1, max_size=12).filter(
    lambda name: bool(name.strip())
)
_lengths = st.floats(0, 1e4)
_settings = st.builds(
    Settings,
    edge_margin=_lengths,
    gap=_lengths,
    spans_per_side=st.integers(1, 40),
    echo_count=st.integers(0, 20),
    echo_spacing=st.floats(1e-9, 1e4),
    own_marks=st.lists(st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)), max_size=3).map(tuple),
    merge_thin=st.booleans(),
    merged_spans=st.lists(st.tuples(st.sampled_from(["A1", "AB"]), st.sampled_from(["B1", "BC"]))).map(tuple),
    side_spans=st.lists(st.tuples(st.sampled_from("ABC"), st.integers(1, 9)), max_size=2).map(tuple),
)


@st.composite
def _patches(draw: st.DrawFn, name: str) -> PlanPatch:
    """A star-shaped outline with awkward floats, its centre the anchor."""
    corners = draw(st.integers(3, 9))
    chance = random.Random(draw(st.integers(0, 2**32)))
    x, y = chance.uniform(-1e3, 1e3), chance.uniform(-1e3, 1e3)
    angles = [(number + chance.uniform(0.1, 0.9)) * math.tau / corners for number in range(corners)]
    outline = tuple(
        (x + radius * math.cos(angle), y + radius * math.sin(angle))
        for angle in angles
        for radius in (chance.uniform(40, 400),)
    )
    return PlanPatch(
        name=name,
        outline=outline,
        anchors=(outline[0],),
        settings=draw(_settings),
        repeats=draw(st.integers(1, 10_000)),
    )


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    names = draw(st.lists(_names, max_size=3, unique=True))
    return Plan(
        title=draw(_names),
        unit_style=draw(st.none() | st.sampled_from(LengthStyle)),
        patches=tuple(draw(_patches(name)) for name in names),
    )
