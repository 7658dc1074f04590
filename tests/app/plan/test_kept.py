"""Plans as earlier versions wrote them. The files under ``kept`` are never changed, and open for ever."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import pytest

from app.plan.plan_file import MIGRATIONS, VERSION, read_plan
from geometry.units import LengthStyle

KEPT = Path(__file__).parent / "kept"

SUMS = {
    "version_1.wedgeplan": "4f902cb7c5a1f7bcab652d08f3ce560fe8431dbc0c3da82a96b513fc0fce3aca",
    "version_1_photo.wedgeplan": "bda99215053edd82eef05fd2acb3305cebf94b293773fc55c2a0ef2316c066c5",
}
"""By sha256sum: whoever changes a file, or lets a line ending change it, is told."""


@pytest.mark.parametrize("path", sorted(KEPT.iterdir()), ids=lambda path: path.name)
def test_what_was_written_once_opens_as_it_was_written(path: Path) -> None:
    assert hashlib.sha256(path.read_bytes()).hexdigest() == SUMS[path.name]
    plan = read_plan(path)  # not as one that was changed outside
    whole = json.loads(path.read_text(encoding="utf-8"))
    assert f"version_{whole['wedgeplan']}" in path.name
    assert [patch.name for patch in plan.patches] == [each["name"] for each in whole["plan"]["patches"]]


def test_every_version_has_a_file_and_a_step() -> None:
    versions = {int(found[1]) for name in SUMS if (found := re.match(r"version_(\d+)", name))}
    assert versions == set(range(1, VERSION + 1))
    assert set(MIGRATIONS) == set(range(1, VERSION))
    assert {path.name for path in KEPT.iterdir()} == set(SUMS)


def test_all_of_version_1_is_understood() -> None:
    plan = read_plan(KEPT / "version_1.wedgeplan")
    assert plan.title == "A plan “for” tests"
    assert plan.unit_style is LengthStyle.CM
    plain, holed = plan.patches
    assert (plain.name, plain.anchors) == ("Square", ((101.6, 101.6),))
    assert (plain.settings.gap, plain.settings.edge_margin) == (6.35, 6.35)
    assert holed.outline == ((0.0, 0.0), (203.2, 0.0), (203.2, 203.2), (0.0, 203.2))
    assert holed.holes == (((50.0, 50.0), (50.0, 60.0), (60.0, 60.0)),)
    assert holed.anchors == ((10.0, 10.0), (0.0, 0.0))
    assert (holed.settings.gap, holed.settings.side_spans) == (3.0, (("A", 3),))
    assert holed.settings.own_marks == ((1.5, 2.5),)
    assert holed.repeats == 12
    assert [kept.name for kept in holed.tries] == ["Try 1", "by the “hole”"]
    assert (holed.cloth, holed.thread, holed.thread_width) == ("#1A2B3C", "#F0F0F0", 0.45)


def test_its_photo_too() -> None:
    photo = read_plan(KEPT / "version_1_photo.wedgeplan").photo
    assert photo is not None
    assert (photo.width, photo.height) == (60, 80)
    assert photo.size == (203.2, 254.0)
    assert photo.corners[1] == (55.5, 6.0)
    assert len(photo.data) == 72
