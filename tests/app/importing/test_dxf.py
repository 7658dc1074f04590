"""DXF drawings: made by the library, judged by closed forms; and those of the shared collection."""

from __future__ import annotations

import gc
import io
import json
import math
import subprocess
import sys
import threading
import weakref
from collections.abc import Iterable
from contextlib import nullcontext, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
from shapely import affinity

from app.cli import main
from app.exporting import write_template
from app.exporting.options import TemplateOptions
from app.importing import (
    Imported,
    ImportingError,
    UnitMissingError,
    dxf_shapes,
    import_file,
    longest_side,
    open_layered,
)
from app.importing import dxf as dxf_reader
from app.importing.dxf import MAX_BROUGHT, open_dxf, read_dxf
from app.importing.dxf_shapes import Found
from app.importing.garbage import garbage_postponed
from app.plan.ezdxf_library import load_ezdxf
from geometry import Patch, fit
from geometry.tolerances import FLATTEN, LEAST_PART
from tests.fuzz.seeds import dxf

if TYPE_CHECKING:
    from ezdxf.document import Drawing

CORPUS = Path(__file__).parents[4] / "shared" / "corpora" / "dxf"
MM = 4


def drawing(units: int = MM, version: str = "R2000") -> Drawing:
    document: Drawing = load_ezdxf().new(version)
    document.header["$INSUNITS"] = units
    return document


def read(document: Drawing, folder: Path, unit: str | None = None, **options: Any) -> Imported:
    path = folder / "pond.dxf"
    document.saveas(path)
    return read_dxf(str(path), unit, **options)


def areas(imported: Imported) -> list[float]:
    return [patch.polygon.area for _, patch in imported.patches]


def one(imported: Imported) -> Patch:
    ((_, patch),) = imported.patches
    return patch


SQUARE = [(0, 0), (100, 0), (100, 60), (0, 60)]


def test_y_is_turned_over(tmp_path: Path) -> None:
    document = drawing()
    document.modelspace().add_lwpolyline([(0, 0), (100, 0), (100, 60)], close=True)
    assert shapely.equals(
        one(read(document, tmp_path)).polygon, shapely.Polygon([(0, 0), (100, 0), (100, -60)])
    )


@pytest.mark.parametrize(
    ("code", "mm"), [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (8, 25.4e-6), (14, 100.0)]
)
def test_the_unit_that_it_states(tmp_path: Path, code: int, mm: float) -> None:
    document = drawing(code)
    size = 80 / mm
    document.modelspace().add_lwpolyline([(0, 0), (size, 0), (size, size), (0, size)], close=True)
    assert areas(read(document, tmp_path)) == pytest.approx([6400])


def test_without_a_unit_it_is_asked_for(tmp_path: Path) -> None:
    document = drawing(0)
    document.modelspace().add_lwpolyline(SQUARE, close=True)
    with pytest.raises(UnitMissingError):
        read(document, tmp_path)
    assert areas(read(document, tmp_path, "cm")) == pytest.approx([600_000])
    document.header["$INSUNITS"] = MM
    told = read(document, tmp_path, "cm")
    assert areas(told) == pytest.approx([600_000])
    assert "the file states another unit; read in cm as told" in told.notes


@pytest.mark.parametrize("bulge", [1.0, 0.3, -0.4, math.tan(math.pi / 8)])
def test_bulges_are_arcs(tmp_path: Path, bulge: float) -> None:
    """The area beside a chord c is r²(θ - sin θ) / 2, with θ = 4·atan(bulge)."""
    document = drawing()
    document.modelspace().add_lwpolyline(
        [(0, 0, bulge), (100, 0, 0), (100, 60, 0), (0, 60, 0)], format="xyb", close=True
    )
    angle = 4 * math.atan(abs(bulge))
    radius = 50 / math.sin(angle / 2)
    segment = radius**2 * (angle - math.sin(angle)) / 2
    (area,) = areas(read(document, tmp_path))
    assert area == pytest.approx(6000 + math.copysign(segment, bulge), abs=FLATTEN * radius * angle)
    assert area != pytest.approx(6000 - math.copysign(segment, bulge), abs=100)


def test_circles_ellipses_and_splines_keep_to_their_curves(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    space.add_circle((0, 0), 300)
    space.add_ellipse((1000, 0), (200, 50), ratio=0.4)
    frame = [(2000, 0), (2200, 30), (2300, 200), (2100, 260), (1980, 120), (2000, 0)]
    spline = space.add_open_spline(frame, degree=3)
    circle, ellipse, curve = (patch for _, patch in read(document, tmp_path).patches)
    middles = (circle.outline + np.roll(circle.outline, -1, axis=0)) / 2
    assert np.hypot(*circle.outline.T) == pytest.approx(300, abs=1e-9)
    assert 300 - np.hypot(*middles.T).min() <= FLATTEN + 1e-9
    major = math.hypot(200, 50)
    assert ellipse.polygon.area == pytest.approx(math.pi * major**2 * 0.4, rel=1e-3)
    tool = spline.construction_tool()
    points = [(p.x, -p.y) for p in tool.points(np.linspace(0, tool.max_t, 400))]
    assert shapely.distance(shapely.points(points), curve.polygon.exterior).max() <= FLATTEN + 1e-6


def test_a_hatch_has_its_holes_and_is_no_second_patch(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    hatch = space.add_hatch()
    hatch.paths.add_polyline_path(SQUARE, is_closed=True)
    edge = hatch.paths.add_edge_path()
    edge.add_arc((50, 30), 20, 0, 360)
    space.add_lwpolyline(SQUARE, close=True)
    assert areas(read(document, tmp_path)) == pytest.approx([6000 - math.pi * 400], rel=1e-3)


def test_hatch_edges_that_run_either_way(tmp_path: Path) -> None:
    document = drawing()
    edge = document.modelspace().add_hatch().paths.add_edge_path()
    edge.add_line((0, 0), (100, 0))
    edge.add_line((100, 60), (100, 0))
    edge.add_line((20, 90), (100, 60))
    edge.add_line((20, 90), (0, 0))
    corners = shapely.Polygon([(0, 0), (100, 0), (100, 60), (20, 90)])
    assert areas(read(document, tmp_path)) == pytest.approx([corners.area])


def test_inserts_turned_scaled_mirrored_and_repeated(tmp_path: Path) -> None:
    document = drawing()
    block = document.blocks.new("STAR")
    block.add_lwpolyline([(0, 0), (30, 0), (0, 10)], close=True, dxfattribs={"layer": "0"})
    space = document.modelspace()
    space.add_blockref("STAR", (500, 0), dxfattribs={"rotation": 90, "layer": "Turned"})
    space.add_blockref("STAR", (0, 300), dxfattribs={"xscale": -2, "yscale": 3, "layer": "Mirrored"})
    space.add_blockref(
        "STAR", (0, 600),
        dxfattribs={"row_count": 2, "column_count": 3, "row_spacing": 50, "column_spacing": 60,
                    "layer": "Rows"},
    )  # fmt: skip
    found = dict(read(document, tmp_path).patches)
    assert len(found) == 1 + 1 + 6
    turned = shapely.Polygon([(500, 0), (500, -30), (490, 0)])
    assert shapely.hausdorff_distance(found["Turned"].polygon, turned) < 1e-9
    mirrored = shapely.Polygon([(0, -300), (-60, -300), (0, -330)])
    assert shapely.hausdorff_distance(found["Mirrored"].polygon, mirrored) < 1e-9
    rows = shapely.union_all([patch.polygon for name, patch in found.items() if name.startswith("Rows")])
    assert rows.bounds == pytest.approx((0, -660, 150, -600))


def test_an_outline_drawn_from_below(tmp_path: Path) -> None:
    """Extrusion (0, 0, -1) mirrors x and turns bulges round."""
    document = drawing()
    document.modelspace().add_lwpolyline(
        [(0, 0, 1.0), (100, 0, 0), (100, 60, 0)],
        format="xyb",
        close=True,
        dxfattribs={"extrusion": (0, 0, -1)},
    )
    polygon = one(read(document, tmp_path)).polygon
    assert polygon.bounds == pytest.approx((-100, -60, 0, 50), abs=FLATTEN)


def test_loose_lines_and_arcs_are_joined_and_the_gap_is_told(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    space.add_line((0, 0), (100, 0))
    space.add_line((100.04, 0.03), (100, 60))
    space.add_arc((50, 60), 50, 0, 180)
    space.add_lwpolyline([(0, 60), (-10, 30), (0, 0)])
    imported = read(document, tmp_path)
    assert areas(imported) == pytest.approx([6000 + math.pi * 2500 / 2 + 300], rel=1e-3)
    assert imported.notes == ("ends of lines up to 0.1 mm apart were joined",)
    space.add_line((300, 0), (400, 0))
    space.add_line((400.5, 0), (350, 80))
    space.add_line((350, 80), (300, 0))
    assert len(read(document, tmp_path).patches) == 1, "half a millimetre is a gap"


def test_layers_are_chosen_and_hidden_ones_left_out(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    for k, name in enumerate(("Seams", "Notes", "Off")):
        document.layers.add(name)
        shifted = [(x + 200 * k, y) for x, y in SQUARE]
        space.add_lwpolyline(shifted, close=True, dxfattribs={"layer": name})
    document.layers.get("Off").off()
    assert [name for name, _ in read(document, tmp_path).patches] == ["Seams", "Notes"]
    assert [name for name, _ in read(document, tmp_path, layers=["Notes"]).patches] == ["Notes"]
    assert [name for name, _ in read(document, tmp_path, layers=["Off"]).patches] == ["Off"]
    assert open_dxf(str(tmp_path / "pond.dxf")).layers == {"Seams": 1, "Notes": 1}
    with pytest.raises(
        ImportingError, match="nothing is drawn on a layer “Roof”; choose from: “Notes”, “Off”"
    ):
        read(document, tmp_path, layers=["Roof"])


def test_a_layer_within_a_block_is_chosen_by_its_own_name(tmp_path: Path) -> None:
    document = drawing()
    inner = document.blocks.new("Pond")
    inner.add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": "Reeds"})
    inner.add_lwpolyline([(200, 0), (260, 0), (200, 80)], close=True)
    document.modelspace().add_blockref("Pond", (0, 0), dxfattribs={"layer": "Water"})
    assert [name for name, _ in read(document, tmp_path).patches] == ["Reeds", "Water"]
    assert [name for name, _ in read(document, tmp_path, layers=["Reeds"]).patches] == ["Reeds"]
    assert [name for name, _ in read(document, tmp_path, layers=["Water"]).patches] == ["Water"]


@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_old_and_new_releases_text_and_binary(tmp_path: Path, version: str) -> None:
    document = drawing(MM, version)
    document.modelspace().add_polyline2d(SQUARE, close=True)
    assert areas(read(document, tmp_path, "mm")) == [6000]
    with open(tmp_path / "binary.dxf", "wb") as file:
        document.write(file, fmt="bin")
    assert areas(import_file(tmp_path / "binary.dxf", "mm")) == [6000]


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_our_own_template_comes_back(tmp_path: Path, unit: str) -> None:
    from geometry.units import LengthStyle

    patch = Patch([(0, 0), (200, 10), (230, 140), (90, 180)])
    style = LengthStyle.MM if unit == "mm" else LengthStyle.EIGHTHS
    write_template(tmp_path / "kite.dxf", [("Kite", fit(patch, (120, 80)))], TemplateOptions(), style=style)
    back = [each.polygon for _, each in import_file(tmp_path / "kite.dxf").patches]
    seam = max(back, key=lambda polygon: polygon.area)
    x, y, *_ = seam.bounds
    u, v, *_ = patch.polygon.bounds
    assert shapely.hausdorff_distance(seam, affinity.translate(patch.polygon, x - u, y - v)) < 0.01


@pytest.mark.parametrize("times", [1e-4, 1.0, 1e6])
def test_a_drawing_without_a_unit_shows_itself_and_takes_a_size(tmp_path: Path, times: float) -> None:
    """100 × 60 units and a circle of radius 20 units, whatever a unit is: πr², the area of a circle."""
    document = drawing(0)
    space = document.modelspace()
    space.add_lwpolyline([(x * times, y * times) for x, y in SQUARE], close=True)
    space.add_circle((200 * times, 20 * times), 20 * times)
    with pytest.raises(
        UnitMissingError, match="--unit in, cm or mm, or its longest side with --size"
    ) as asked:
        read(document, tmp_path)
    rough = asked.value.rough
    assert rough is not None
    assert len(rough.patches) == 2
    assert longest_side(rough.patches) == pytest.approx(1000)
    assert rough.scale * 220 * times == pytest.approx(1000)
    square, disc = areas(read(document, tmp_path, size=2200))
    assert square == pytest.approx(1000 * 600)
    assert disc == pytest.approx(math.pi * 200**2, rel=1e-3)
    assert [layer for layer, _ in open_dxf(str(tmp_path / "pond.dxf")).outlines()] == ["0", "0"]


def test_too_large_is_refused_or_left_out(tmp_path: Path) -> None:
    document = drawing(6)
    space = document.modelspace()
    space.add_lwpolyline(SQUARE, close=True)
    with pytest.raises(ImportingError, match="no patch is larger than 10 m; state another unit"):
        read(document, tmp_path)
    space.add_lwpolyline([(200, 0), (201, 0), (200, 1)], close=True)
    imported = read(document, tmp_path)
    assert areas(imported) == pytest.approx([500_000])
    assert "1 outline wider than 10 m was left out" in imported.notes[0]


def test_blocks_that_hold_themselves_or_explode(tmp_path: Path) -> None:
    document = drawing()
    for k in range(6):
        block = document.blocks.new(f"B{k}")
        for _ in range(10):
            if k:
                block.add_blockref(f"B{k - 1}", (0, 0))
            else:
                block.add_line((0, 0), (1, 1))
    document.modelspace().add_blockref("B5", (0, 0))
    with pytest.raises(ImportingError, match=f"bring more than {MAX_BROUGHT} things"):
        read(document, tmp_path)
    document.blocks.get("B0").add_blockref("B5", (0, 0))
    with pytest.raises(ImportingError, match="holds itself"):
        read(document, tmp_path)


def test_an_insert_of_a_thousand_million_things_is_refused_before_it_is_spread(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    document = drawing()
    document.blocks.new("ONE").add_circle((0, 0), 1)
    attributes = {"row_count": 32_000, "column_count": 32_000, "row_spacing": 3, "column_spacing": 3}
    document.modelspace().add_blockref("ONE", (0, 0), dxfattribs=attributes)
    document.blocks.new("BOTH").add_blockref("ONE", (0, 0), dxfattribs=attributes)
    document.modelspace().add_blockref("BOTH", (0, 0))
    from ezdxf.entities.insert import Insert

    monkeypatch.setattr(Insert, "multi_insert", lambda insert: pytest.fail("it is spread"))
    with pytest.raises(ImportingError, match=f"bring more than {MAX_BROUGHT} things"):
        read(document, tmp_path)


def _many(folder: Path, count: int = 3000) -> Path:
    """A file of so many loose lines, and an outline."""
    lines = (f"LINE|8=Loose|10={9 * k}|20=0|11={9 * k + 5}|21=3" for k in range(count))
    outline = (
        "LWPOLYLINE|100=AcDbEntity|8=Seam|100=AcDbPolyline|90=3|70=1|10=0|20=100|10=80|20=100|10=80|20=160"
    )
    (folder / "pond.dxf").write_bytes(dxf(outline, *lines))
    return folder / "pond.dxf"


@pytest.fixture
def alone() -> None:
    """No drawing of another test is still being closed beside this one."""
    for thread in threading.enumerate():
        if thread.name == "closing a drawing":
            thread.join()
    gc.unfreeze()


class StopError(Exception):
    """Nobody wants it any more."""


@pytest.mark.usefixtures("alone")
def test_no_garbage_is_collected_while_a_drawing_is_read_and_asked(tmp_path: Path) -> None:
    """The collector walks through all of it, and holds up the window meanwhile (promise 16)."""
    path, begun = _many(tmp_path), []
    open_dxf(str(path)).close()  # what is loaded for it is made by now

    def noted(phase: str, info: dict[str, int]) -> None:
        if phase == "start":
            begun.append(info["generation"])

    def told(done: int, of: int) -> None:
        assert not begun

    gc.callbacks.append(noted)
    try:
        drawing, layers = open_layered(path, told)
        while_read = list(begun)
        assert gc.get_freeze_count() > 10_000, "what was read, out of the collector's sight"
        begun.clear()
        read_dxf(str(path), progress=told)
    finally:
        gc.callbacks.remove(noted)
    assert list(layers) == ["Seam"]
    assert while_read == []
    assert gc.isenabled()
    drawing.close()
    assert gc.get_freeze_count() == 0


def test_a_closed_drawing_is_gone_without_the_collector(tmp_path: Path) -> None:
    """What only the collector frees goes in one go, and holds up the window meanwhile."""
    path = _many(tmp_path, 50)
    with garbage_postponed():
        drawing, _ = open_layered(path)
        things = [weakref.ref(each) for each in drawing.document.modelspace()]
        assert len(things) == 51
        drawing.close()
        assert not any(thing() for thing in things)


@pytest.mark.usefixtures("alone")
@pytest.mark.parametrize("share", [0.0, 0.2, 0.3, 0.45, 0.6, 0.9, 1.0])
def test_who_stops_leaves_nothing_behind(
    tmp_path: Path, share: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, at = _many(tmp_path), []
    freed: list[object] = []
    free = dxf_reader._free

    def noted(document: object, brought: Iterable[object] = ()) -> None:
        freed.append(document)
        free(document, brought)

    monkeypatch.setattr(dxf_reader, "_free", noted)

    def stop(done: int, of: int) -> None:
        if done >= share * of:
            at.append(done / of)
            raise StopError

    for work in (open_layered, lambda path, stop: import_file(path, progress=stop)):
        with pytest.raises(StopError):
            work(path, stop)
        assert len(freed) == 1, "thing by thing, whatever was made of it by then"
        freed.clear()
        assert gc.isenabled()
        assert gc.get_freeze_count() == 0
    assert max(at) < share + 0.1


def test_progress_is_told_often_in_each_part_of_the_work(tmp_path: Path) -> None:
    path, shares = _many(tmp_path, 10_000), []
    open_layered(path, lambda done, of: shares.append(done / of))[0].close()
    reading = sum(share <= 0.25 for share in shares)
    making = sum(0.25 < share <= 0.5 for share in shares)
    looking = sum(0.5 <= share < 1.0 for share in shares)
    assert shares == sorted(shares)
    assert reading >= path.stat().st_size // 2**15
    assert making >= 10_000 // 200
    assert looking >= 10_000 // 200


def test_postponing_garbage_is_counted_and_leaves_what_was() -> None:
    with garbage_postponed():
        with garbage_postponed():
            assert not gc.isenabled()
        assert not gc.isenabled()
    assert gc.isenabled()
    gc.disable()
    try:
        with garbage_postponed():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()


@pytest.mark.parametrize("seed", range(6))
def test_loose_lines_close_what_all_of_them_close(seed: int) -> None:
    """Whatever is left out beforehand: judged by all lines put together at once. Places are whole, so that no
    two ends are near each other and not the same.
    """
    chance = np.random.default_rng(seed)
    # Lines, a tree of dangling ones, and a comb, whose teeth must go before its back can.
    ends = chance.integers(0, 60, (20 + 9 * seed, 2, 2)) * 10.0
    comb = [((k, -50), (k + 9, -50)) for k in range(0, 300, 9)] + [
        ((k, -50), (k, -70)) for k in range(0, 300, 9)
    ]
    lines = [np.array(line, dtype=float) for line in (*ends, *comb) if not np.array_equal(*line)]
    whole = shapely.polygonize(shapely.get_parts(shapely.union_all(shapely.linestrings(lines))))
    expected = [face for face in shapely.get_parts(whole) if face.area > LEAST_PART]
    found = [face for _, face in Found(1.0, loose=[("0", line) for line in lines]).shapes()]
    assert len(found) == len(expected) > 10
    tree = shapely.STRtree(found)
    for face in expected:
        near = [found[k] for k in tree.query(face)]
        assert min(shapely.area(shapely.symmetric_difference(near, face))) < 1e-6


def test_lines_with_a_free_end_are_not_put_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """No other thread goes on meanwhile; a comb, and a square with a tail of many pieces."""
    teeth = [((9 * k, 0), (9 * k, 5)) for k in range(50)]
    back = [((9 * k, 0), (9 * k + 9, 0)) for k in range(49)]
    square = [((0, 50), (9, 50)), ((9, 50), (9, 59)), ((9, 59), (0, 59)), ((0, 59), (0, 50))]
    tail = [((9 + k, 50 + k % 2), (10 + k, 50 + (k + 1) % 2)) for k in range(40)]
    put: list[int] = []
    together = shapely.polygonize

    def noted(lines: list[object]) -> object:
        put.append(len(lines))
        return together(lines)

    monkeypatch.setattr(shapely, "polygonize", noted)
    for lines, faces in ((teeth + back, 0), (square + tail, 1)):
        loose = [("0", np.array(line, dtype=float)) for line in lines]
        assert len(Found(1.0, loose=loose).shapes()) == faces
    assert put == [0, 1]


def test_far_too_many_faces_are_refused_before_they_are_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """A comb of cells, three lines at each end; to put faces together holds up the window."""
    rungs = [((k, 0.0), (k, 9.0)) for k in range(0, 900, 9)]
    rails = [((k, y), (k + 9, y)) for k in range(0, 891, 9) for y in (0.0, 9.0)]
    loose = [("0", np.array(line, dtype=float)) for line in (*rungs, *rails)]
    assert len(Found(1.0, loose=list(loose)).shapes()) == 99
    monkeypatch.setattr(dxf_shapes, "_FACES", 90)
    monkeypatch.setattr(shapely, "polygonize", lambda lines: pytest.fail("made all the same"))
    with pytest.raises(ImportingError, match="more than 2000 outlines"):
        Found(1.0, loose=list(loose)).shapes()


def test_too_much_is_refused_before_anything_is_made_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = _many(tmp_path, 50)
    monkeypatch.setattr(dxf_reader._Told, "read", lambda *_: pytest.fail("it is read"))
    monkeypatch.setattr(dxf_reader, "MAX_ENTITIES", 10)
    with pytest.raises(ImportingError, match="draws more than 10 things"):
        import_file(path)
    with path.open("r+b") as file:
        file.truncate(dxf_reader.MAX_BYTES + 1)  # takes no room on the disk
    with pytest.raises(ImportingError, match="is larger than 64 MB"):
        import_file(path)


def test_lines_on_far_too_many_layers_are_refused() -> None:
    line = np.array([(0.0, 0.0), (9.0, 9.0)])
    with pytest.raises(ImportingError, match="more than 2000 layers"):
        Found(1.0, loose=[(str(k), line) for k in range(2001)]).shapes()


_LOADED = """
from app.plan.ezdxf_library import load_ezdxf
load_ezdxf()
from ezdxf.fonts import fonts
print(fonts.font_manager.dumps())
"""


def test_the_library_reads_no_font_and_no_settings(tmp_path: Path) -> None:
    """Damaged settings of it in the folder that a call is made from: it would die of them."""
    (tmp_path / "ezdxf.ini").write_text("nothing that is settings")
    done = subprocess.run(
        [sys.executable, "-c", _LOADED], cwd=tmp_path, capture_output=True, text=True, check=False, timeout=60
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["font-faces"] == []


def test_progress_is_told_and_what_it_raises_ends_the_work(tmp_path: Path) -> None:
    document = drawing()
    for k in range(3000):
        document.modelspace().add_circle((3 * k, 0), 1)
    told: list[tuple[int, int]] = []
    with pytest.raises(ImportingError, match="more than 2000 outlines"):
        read(document, tmp_path, progress=lambda done, total: told.append((done, total)))
    shares = [done / total for done, total in told]
    assert len(shares) > 10
    assert shares == sorted(shares)
    assert shares[-1] > 0.9

    def stop(done: int, total: int) -> None:
        raise StopError

    with pytest.raises(StopError):
        read(document, tmp_path, progress=stop)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"hello\n", "is no DXF drawing"),
        (b"\x89PNG\r\n\x1a\n" + bytes(200), "is no DXF drawing"),
        (b"  0\nSECTION\n  2\nENTITIES\n  0\nLINE\n 10\nx\n", "holds no closed outline"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00" + b"\xff" * 50, "damaged"),
    ],
)
def test_what_is_no_drawing(tmp_path: Path, data: bytes, words: str) -> None:
    path = tmp_path / "pond.dxf"
    path.write_bytes(data)
    with pytest.raises(ImportingError) as caught:
        import_file(path)
    assert words in str(caught.value)
    assert str(caught.value).startswith("“pond.dxf”")


def test_a_cut_off_file_is_mended_or_refused(tmp_path: Path) -> None:
    """Wherever it is cut: never another error."""
    document = drawing()
    document.modelspace().add_lwpolyline(SQUARE, close=True)
    text = io.StringIO()
    document.write(text)
    data = text.getvalue()
    path = tmp_path / "pond.dxf"
    for end in range(0, len(data), len(data) // 40):
        path.write_text(data[: max(end, 1)])
        with suppress(ImportingError):
            assert areas(import_file(path)) == [6000]


@pytest.mark.skipif(not CORPUS.is_dir(), reason="the shared corpora are not here")
@pytest.mark.parametrize(
    "name", sorted(json.loads((CORPUS / "expected.json").read_text())) if CORPUS.is_dir() else []
)
def test_the_shared_collection(name: str) -> None:
    expected = json.loads((CORPUS / "expected.json").read_text())[name]
    without_unit = expected["expect"] != "refuse" and expected.get("insunits", 0) in (None, 0)
    if without_unit:
        with pytest.raises(UnitMissingError):
            import_file(CORPUS / name)
    if expected["expect"] == "refuse":
        with pytest.raises(ImportingError, match=f"“{name}”"):
            import_file(CORPUS / name)
        return
    with suppress(ImportingError) if expected["expect"] == "either" else nullcontext():
        check(import_file(CORPUS / name, "in" if without_unit else None), expected)


def check(imported: Imported, expected: dict[str, Any]) -> None:
    count = expected.get("closed_outlines", 0) + expected.get("loops_of_lines_and_arcs", 0)
    left_out = sum(int(note.split()[0]) for note in imported.notes if "wider than 10 m" in note)
    if expected["expect"] == "import":
        assert len(imported.patches) + left_out == count
    scale = expected.get("mm_per_unit")
    if scale and "bbox_drawing_units" in expected and not left_out:
        left, bottom, right, top = np.array(expected["bbox_drawing_units"]) * scale
        bounds = shapely.total_bounds([patch.polygon for _, patch in imported.patches])
        assert bounds == pytest.approx([left, -top, right, -bottom], abs=0.001 * scale + FLATTEN)


def test_layers_from_the_command_line(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    document = drawing()
    for k, name in enumerate(("Seams", "Notes")):
        shifted = [(x + 200 * k, y) for x, y in SQUARE]
        document.modelspace().add_lwpolyline(shifted, close=True, dxfattribs={"layer": name})
    document.saveas(tmp_path / "pond.dxf")
    assert main(["fit", str(tmp_path / "pond.dxf"), "--layer", "Notes", "--json"]) in (0, 1)
    assert [each["name"] for each in json.loads(capfd.readouterr().out)["patches"]] == ["Notes"]
    (tmp_path / "pond.txt").write_text("unit: in\n0 0\n5 0\n5 5\n")
    assert main(["fit", str(tmp_path / "pond.txt"), "--layer", "Notes"]) == 2
    assert "only DXF drawings have layers" in capfd.readouterr().err
