"""The SVG corpus beside the checkout: every file answers as its expected.json says."""

from __future__ import annotations

import json
import random
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import shapely

from app.importing import Imported, UnitMissingError, import_file
from geometry import WedgewrightError
from tests.app.importing.svg_drawings import damaged, drawing, survives, union

ROOT = Path(__file__).parents[3]
CORPUS = ROOT.parent / "shared" / "corpora" / "svg"
EXPECTED: dict[str, dict[str, Any]] = (
    json.loads((CORPUS / "expected.json").read_text()) if CORPUS.exists() else {}
)
PX = 96 / 25.4
"""Pixels in a millimetre, as the corpus measures."""

pytestmark = pytest.mark.skipif(not EXPECTED, reason="../shared/corpora is not beside this checkout")

HALF_STROKE = {
    # read off the file: a stroke width of 5; at a sharp corner the mitre sticks out further than half
    "shapes__path__M-L-L-Z-rel.svg": [30, 40, 160, 150],
}
"""Where the corpus measured a line's outer edge: the box of the shape itself, from its coordinates."""

CUT_BY_THE_PAGE = "shapes__circle__missing-cx-attribute.svg"


def _imported(name: str) -> Imported | str:
    try:
        return import_file(CORPUS / name, "px")
    except WedgewrightError as error:
        return str(error)


@pytest.mark.parametrize("name", EXPECTED)
def test_a_file_of_the_corpus(name: str) -> None:
    expected = EXPECTED[name]
    found = _imported(name)
    if isinstance(found, str):
        assert expected["expect"] in ("refuse", "either"), found
        assert found.startswith(f"“{name}”")
        assert len(found) > len(name) + 20
        assert "\n" not in found
        return
    assert expected["expect"] in ("import", "either")
    assert found.patches
    assert all(patch.polygon.is_valid for _, patch in found.patches)
    if "drawn_bbox_px" not in expected:
        return
    shape = union(found)
    if name == CUT_BY_THE_PAGE:  # the page cuts what is drawn, and patches are whole
        shape = shapely.intersection(shape, shapely.box(0, 0, 200 / PX, 200 / PX))
    box = HALF_STROKE.get(name, expected["drawn_bbox_px"])
    assert [value * PX for value in shape.bounds] == pytest.approx(box, abs=1.6)
    if "drawn_area_px2" in expected:
        # The corpus counts pixels: half of one all along the edge is its own blur, beside our tolerance.
        blur = 0.5 * shape.length * PX
        assert shape.area * PX**2 == pytest.approx(expected["drawn_area_px2"], abs=blur)
    cut = expected.get("clip", False)
    assert any("cut by a clip path" in note for note in found.notes) is cut


def test_how_many_unclipped_drawings_lie_where_they_were_drawn() -> None:
    """Of the 46 that are here 44 by the boxes of the corpus itself. One more by its coordinates: there the
    corpus measured a line's edge. The last is a circle of which the page shows a part.
    """
    boxes = {
        name: expected["drawn_bbox_px"]
        for name, expected in EXPECTED.items()
        if "drawn_bbox_px" in expected and not expected.get("clip", False)
    }
    far = set()
    for name, box in boxes.items():
        found = _imported(name)
        assert not isinstance(found, str), found
        if [value * PX for value in union(found).bounds] != pytest.approx(box, abs=1.6):
            far.add(name)
    assert (len(boxes), far) == (46, {*HALF_STROKE, CUT_BY_THE_PAGE})


def test_no_size_of_the_corpus_is_assumed() -> None:
    """All are drawn in pixels: each asks, and shows what it asks about; told, it says how it was taken."""
    asked = 0
    for name in EXPECTED:
        found = _imported(name)
        if isinstance(found, str):
            continue
        assert "96 px were taken as 1 in" in found.notes[0]
        with pytest.raises(UnitMissingError, match="--size") as missing:
            import_file(CORPUS / name)
        assert missing.value.rough
        asked += 1
    assert asked > 30


@pytest.mark.parametrize("seed", range(4))
def test_damaged_files_of_the_corpus_are_read_or_refused(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    for name in EXPECTED:
        source = (CORPUS / name).read_bytes()
        if len(source) < 2000:
            survives(tmp_path, damaged(source, rng))
            survives(tmp_path, damaged(source, rng))


# --- hostile files, each in a process of its own ----------------------------------------------------

CHILD = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, (2 << 30, 2 << 30))
from pathlib import Path
import app.importing.svg
from app.importing import import_file
from geometry import WedgewrightError

touched = []
def watch(event, arguments):
    if event == "open" or event.startswith(("socket.", "urllib.", "subprocess.", "os.")):
        touched.append((event, str(arguments[:1])))
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
sys.addaudithook(watch)
try:
    found = import_file(Path(sys.argv[1]), "px")
    answer = f"{len(found.patches)} patches"
except WedgewrightError as error:
    answer = f"refused: {error}"
files = [place for event, place in touched if event == "open"]
others = [event for event, _ in touched if event != "open"]
print(len(files), others, all(sys.argv[1] in place for place in files))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
print(answer)
"""

HOSTILE = sorted(name for name in EXPECTED if name.startswith("hostile"))
BOMBS = {
    "uses.svg": "".join(f'<g id="g{n}">' + f'<use href="#g{n + 1}"/>' * 10 + "</g>" for n in range(20))
    + '<rect id="g20" width="9" height="9"/>',
    "clips.svg": "".join(
        f'<clipPath id="c{n}">'
        + f'<rect width="9" height="9" clip-path="url(#c{n + 1})"/>' * 9
        + "</clipPath>"
        for n in range(20)
    )
    + '<rect width="9" height="9" clip-path="url(#c0)"/>',
}


@pytest.mark.skipif(sys.platform != "linux", reason="memory is counted as Linux does")
@pytest.mark.parametrize("name", [*HOSTILE, *BOMBS])
def test_a_hostile_file_is_answered_at_once_and_touches_nothing_else(tmp_path: Path, name: str) -> None:
    path = CORPUS / name
    if name in BOMBS:
        path = tmp_path / name
        path.write_text(drawing(BOMBS[name]))
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(path)],
        capture_output=True,
        text=True,
        timeout=10,
        check=True,
        cwd=ROOT,
    )
    touched, growth, answer = done.stdout.splitlines()
    assert done.stderr == ""
    assert touched == "1 [] True", answer
    assert int(growth) * 1024 < 100 * 2**20  # what the file adds to what the program takes by itself
    if name in EXPECTED and EXPECTED[name]["expect"] == "refuse":
        assert answer.startswith("refused: ")
