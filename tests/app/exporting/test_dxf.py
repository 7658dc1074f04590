"""DXF and SVG for a cutter, read back: all lines of the fit and no others, to size, in their layers, once.

DXF by ezdxf with an audit and by group codes alone (DXF reference: HEADER, LWPOLYLINE, CIRCLE), SVG by
svgelements.
"""

from __future__ import annotations

import io
import math
import os
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from app.exporting.cutter import ON_ARC
from app.exporting.cutter_svg import cutter_svg
from app.exporting.dxf import template_dxf
from app.exporting.options import MarkShape, TemplateKind, TemplateOptions
from app.plan.ezdxf_library import load_ezdxf
from geometry import Fit
from geometry.tolerances import FLATTEN
from geometry.units import LengthStyle
from tests.app.exporting.cut_reading import (
    Cuts,
    along,
    curved,
    cut_twice,
    furthest,
    header,
    lines_of,
    pieces_of,
    read_dxf,
    read_svg,
    shapes,
)
from tests.app.exporting.samples import slanted, square

BORDER = 12.0
HUNDREDTH = 0.01
STITCHED = ("seam", "wedges", "echoes", "stitch-path")
NS = "{http://www.w3.org/2000/svg}"


def read(drawn: Fit, form: str, options: TemplateOptions, style: LengthStyle = LengthStyle.MM) -> Cuts:
    """What the file cuts, in the patch's own mm."""
    left, top, _, bottom = drawn.patch.polygon.bounds
    if form == "dxf":
        cuts = read_dxf(template_dxf([("Kite", drawn)], options, style))
        shift = np.array([left - BORDER, top - BORDER + (bottom - top + 2 * BORDER)])
    else:
        cuts = read_svg(cutter_svg([("Kite", drawn)], options, style))
        shift = np.array([left - BORDER, top - BORDER])
    return cuts.moved(shift)


USUAL = {"plan: Moon", "plan: Lily ground", "plan: Pond"}
"""Of the plan's: curves, a hole, and both; the others by -m long."""


def samples() -> Iterator[Any]:
    for name in shapes():
        plan, usual = name.startswith("plan"), name in USUAL
        for form in ("dxf", "svg") if not plan or "Moon" in name else ("dxf",):
            yield pytest.param(name, form, marks=[pytest.mark.long] if plan and not usual else [])


@pytest.mark.parametrize(("name", "form"), [*samples()])
def test_all_lines_of_the_fit_are_there_once_and_no_others(name: str, form: str) -> None:
    drawn = shapes()[name]
    style = LengthStyle.EIGHTHS if len(name) % 2 else LengthStyle.CM
    cuts = read(drawn, form, TemplateOptions(kind=TemplateKind.LINES), style)
    assert cuts.unit == ("in" if style is LengthStyle.EIGHTHS else "mm")
    asked = lines_of(drawn)
    assert set(cuts.lines) <= {layer for layer in asked if asked[layer]}
    wanted, found = pieces_of(asked), cuts.pieces()
    assert furthest(wanted.reshape(-1, 2), found) < HUNDREDTH, "corners, on arcs too"
    assert furthest(along(wanted), found) < FLATTEN + ON_ARC
    assert furthest(along(found), wanted) < FLATTEN + ON_ARC
    assert furthest(along(cuts.straight_pieces()), wanted) < HUNDREDTH
    # Every layer has its own lines, but what a layer before it has.
    for at, layer in enumerate(STITCHED):
        if cuts.lines.get(layer):
            assert furthest(along(cuts.pieces(layer)), pieces_of({layer: asked[layer]})) < FLATTEN + ON_ARC
        if asked.get(layer):
            before = cuts.pieces(*STITCHED[: at + 1])
            assert furthest(along(pieces_of({layer: asked[layer]})), before) < FLATTEN + ON_ARC
    crossed = read(drawn, form, TemplateOptions(mark_shape=MarkShape.CROSS), style)
    assert cut_twice(crossed.straight_pieces()) < HUNDREDTH
    assert crossed.shared() < 0.5, "where lines meet at a sharp angle, the grid of the reckoning joins them"


@pytest.mark.parametrize("form", ["dxf", "svg"])
def test_lengths_are_those_of_the_fit(form: str) -> None:
    drawn = slanted()
    for style in LengthStyle:
        cuts = read(drawn, form, TemplateOptions(), style)
        (seam,) = cuts.lines["seam"]
        assert np.hypot(*np.diff(seam, axis=0).T).sum() == pytest.approx(
            drawn.patch.polygon.length, abs=HUNDREDTH
        )
        wedges = [wedge for fan in drawn.fans for wedge in fan.wedges]
        assert len(cuts.lines["wedges"]) == len(wedges)
        for line, wedge in zip(cuts.lines["wedges"], wedges, strict=True):
            assert sorted(np.hypot(*np.diff(line, axis=0).T)) == pytest.approx(
                sorted(np.hypot(*np.diff(wedge.outline, axis=0).T)), abs=HUNDREDTH
            )


@pytest.mark.parametrize("form", ["dxf", "svg"])
def test_arcs_come_back_as_the_arcs_that_were_drawn(form: str) -> None:
    """The drawing's own circles (``cut_reading.HOLED``), not the polylines that were made of them."""
    drawn = curved()["curved"]
    cuts = read(drawn, form, TemplateOptions())
    high = complex(100, 20 + math.sqrt(110**2 - 80**2))
    known = [(high, 110.0), (complex(140, 120), 40.0), (complex(112, 60), 12.0)]
    origin = complex(*(drawn.patch.polygon.bounds[:2]))  # the import keeps places, or moves all alike
    moved = origin - complex(20, high.imag - 110)
    seen = set()
    for centre, radius in cuts.arcs["seam"]:
        at = min(range(3), key=lambda i: abs(known[i][0] + moved - centre) + abs(known[i][1] - radius))
        seen.add(at)
        assert abs(known[at][0] + moved - centre) < HUNDREDTH
        assert abs(known[at][1] - radius) < HUNDREDTH
    assert seen == {0, 1, 2}
    # All of the seam that is not straight: 2·asin(80 / 110)·110 + 40π + 24π
    straight = math.hypot(40, 60) + math.hypot(40, 160) + 100
    bent = 110 * 2 * math.asin(80 / 110) + 40 * math.pi + 24 * math.pi
    length = sum(np.hypot(*np.diff(line, axis=0).T).sum() for line in cuts.lines["seam"])
    assert length == pytest.approx(straight + bent, abs=HUNDREDTH)
    # The margin's edge is parallel to the seam, and so are the wedges' sides.
    margin = drawn.settings.edge_margin
    radii = {110 - margin, 40 + margin}
    assert cuts.arcs["wedges"]
    for _, radius in cuts.arcs["wedges"]:
        assert min(abs(radius - each) for each in radii) < HUNDREDTH


@pytest.mark.parametrize("form", ["dxf", "svg"])
@pytest.mark.parametrize("name", ["slanted", "curved"])
def test_mirrored_is_the_same_the_other_way_round(name: str, form: str) -> None:
    drawn = shapes()[name]
    left, _, right, _ = drawn.patch.polygon.bounds
    plain = read(drawn, form, TemplateOptions()).pieces()
    mirrored = read(drawn, form, TemplateOptions(mirrored=True)).pieces()
    back = mirrored * (-1, 1) + (left + right, 0)
    assert furthest(along(plain), back) < 1e-3
    assert furthest(along(back), plain) < 1e-3
    assert furthest(along(plain), mirrored) > 1


@pytest.mark.parametrize("form", ["dxf", "svg"])
def test_marks_and_anchor_are_circles_of_the_size_asked_for(form: str) -> None:
    drawn = slanted()
    options = TemplateOptions(kind=TemplateKind.MARKS, mark_size=25.4 / 8)
    cuts = read(drawn, form, options, LengthStyle.EIGHTHS)
    assert set(cuts.lines) == {"seam"}
    marks = sorted(mark.at for fan in drawn.fans for mark in fan.marks)
    found = sorted(cuts.circles["marks"])
    assert np.array(found)[:, :2] == pytest.approx(np.array(marks), abs=HUNDREDTH)
    assert {round(radius, 3) for *_, radius in found} == {round(25.4 / 16, 3)}
    ((x, y, radius),) = cuts.circles["anchor"]
    assert (x, y, radius) == pytest.approx((*drawn.anchors[0], 25.4 / 8), abs=HUNDREDTH)


# --- the files themselves -----------------------------------------------------------------------------------


@pytest.mark.parametrize("style", [LengthStyle.EIGHTHS, LengthStyle.MM])
def test_the_dxf_is_clean_says_its_unit_and_its_extent(style: LengthStyle) -> None:
    ezdxf = load_ezdxf()
    from ezdxf.bbox import extents

    for name in ("square", "curved", "curved in regions", "plan: Pond"):
        for options in (TemplateOptions(), TemplateOptions(mark_shape=MarkShape.CROSS, copies=2)):
            data = template_dxf([("Kite", shapes()[name]), ("Ünder “日本”", square())], options, style)
            document = ezdxf.read(io.StringIO(data.decode("ascii")))
            auditor = document.audit()
            assert (auditor.errors, auditor.fixes) == ([], [])
            assert document.dxfversion == "AC1015"
            assert document.units == (1 if style.unit == "in" else 4)
            entities = list(document.modelspace())
            used = {entity.dxf.layer for entity in entities}
            assert used <= {"seam", "wedges", "echoes", "stitch-path", "marks", "anchor"}
            own = {layer.dxf.name for layer in document.layers}
            assert own - {"0", "Defpoints"} == used
            assert {entity.dxftype() for entity in entities} <= {"LWPOLYLINE", "CIRCLE"}
            box = extents(entities, fast=False)
            assert header(data, "$EXTMIN") == pytest.approx(list(box.extmin), abs=1e-3)
            assert header(data, "$EXTMAX") == pytest.approx(list(box.extmax), abs=1e-3)
            cuts = read_dxf(data)
            seam = cuts.pieces("seam").reshape(-1, 2) / (25.4 if style.unit == "in" else 1)
            assert (seam[:, 1] < 0).all(), "y runs up, and all lies above 0"
            assert min(header(data, "$EXTMIN")[:2]) > 0


def test_the_svg_is_true_to_size_and_nothing_but_lines() -> None:
    drawn = curved()["curved"]
    left, top, right, bottom = drawn.patch.polygon.bounds
    for style in (LengthStyle.DECIMAL, LengthStyle.MM):
        unit = style.unit
        root = ET.fromstring(cutter_svg([("Kite & <co>", drawn)], TemplateOptions(copies=2), style))
        size = np.array([2 * (right - left) + 36, bottom - top + 24]) / (25.4 if unit == "in" else 1)
        assert [float(root.get(key, "").removesuffix(unit)) for key in ("width", "height")] == pytest.approx(
            size, abs=1e-6
        )
        assert [float(value) for value in root.get("viewBox", "").split()] == pytest.approx([0, 0, *size])
        assert root.get("fill") == "none"
        elements = list(root.iter())
        kinds = {element.tag.removeprefix(NS) for element in elements}
        assert kinds == {"svg", "title", "g", "path", "circle"}
        assert not [element for element in elements if element.get("fill") not in (None, "none")]
        assert not [element for element in elements if element.get("transform") or element.get("style")]
        ids = [element.get("id") for element in elements if element.get("id")]
        assert len(ids) == len(set(ids))
        assert {"patch-1-seam", "patch-2-wedges", "patch-1-marks"} <= set(ids)
        assert all(path.get("d", "").count("M") == 1 for path in root.iter(f"{NS}path"))


def test_both_files_cut_the_same() -> None:
    for name in ("troubled", "curved", "echoes held back"):
        drawn = shapes()[name]
        dxf, svg = (read(drawn, form, TemplateOptions()) for form in ("dxf", "svg"))
        assert dxf.lines.keys() == svg.lines.keys()
        for layer, lines in dxf.lines.items():
            assert len(lines) == len(svg.lines[layer])
            for a, b in zip(lines, svg.lines[layer], strict=True):
                assert a[[0, -1]] == pytest.approx(b[[0, -1]], abs=1e-3)


def test_ezdxf_is_loaded_without_a_trace(tmp_path: Path) -> None:
    """In a process of its own: this one has it already."""
    code = "import os; from app.plan.ezdxf_library import load_ezdxf; load_ezdxf().new('R2000'); "
    code += "assert os.environ.get('XDG_CACHE_HOME') is None"
    environment = {key: value for key, value in os.environ.items() if not key.startswith("XDG_")}
    environment |= {"HOME": str(tmp_path), "TMPDIR": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=False, timeout=60
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert list(tmp_path.iterdir()) == []


def test_a_long_file_can_be_stopped_while_it_is_written() -> None:
    drawn = shapes()["plan: Lily ground"]
    calls: list[tuple[int, int]] = []
    template_dxf([("Ground", drawn)] * 20, progress=lambda done, total: calls.append((done, total)))
    assert calls[:20] == [(number, 20) for number in range(1, 21)]
    assert calls.count((20, 20)) > 21 + 5, "at each patch, and within"

    def stop(done: int, total: int) -> None:
        seen.append(done)
        if len(seen) > 45:
            raise KeyboardInterrupt

    seen: list[int] = []
    with pytest.raises(KeyboardInterrupt):
        template_dxf([("Ground", drawn)] * 20, progress=stop)
    assert len(seen) == 46
