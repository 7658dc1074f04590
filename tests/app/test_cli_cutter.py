"""Files for a stencil cutter and pictures at a chosen resolution, from the command line."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from app.cli import arguments, main
from app.exporting.options import MarkShape
from tests.app.exporting.cut_reading import header, read_dxf, read_svg

pytestmark = pytest.mark.usefixtures("qapp")


@pytest.fixture
def outline(tmp_path: Path) -> Path:
    path = tmp_path / "kite.txt"
    path.write_text("unit: in\n0 0\n4 0\n3 5\n", "utf-8")
    return path


def template(outline: Path, name: str, *options: str) -> bytes:
    target = outline.with_name(name)
    assert main(["template", str(outline), "-o", str(target), *options]) in (0, 1)
    return target.read_bytes()


def test_the_shapes_are_the_exporters() -> None:
    assert list(arguments.MARK_SHAPES) == [shape.value for shape in MarkShape]


def test_options_reach_the_dxf(outline: Path) -> None:
    data = template(outline, "kite.dxf", "--kind", "marks", "--mark-size", "1/4in")
    cuts = read_dxf(data)
    assert cuts.unit == "in"
    assert set(cuts.lines) == {"seam"}
    assert {round(radius, 6) for *_, radius in cuts.circles["marks"]} == {25.4 / 8}
    data = template(outline, "kite.dxf", "--style", "mm", "--kind", "lines", "--copies", "2")
    assert header(data, "$INSUNITS") == [4]
    assert len(read_dxf(data).lines["seam"]) == 2


def test_cutter_parts_what_is_cut_from_the_picture_of_it(outline: Path) -> None:
    cut = template(outline, "kite.svg", "--cutter", "--mark-shape", "cross", "--unit", "in").decode()
    drawn = template(outline, "kite.svg").decode()
    assert "<text" not in cut
    assert "<text" in drawn
    lines = read_svg(cut).lines
    assert {"seam", "wedges", "marks"} <= set(lines)
    mirrored = template(outline, "kite.svg", "--cutter", "--mirrored").decode()
    seams = [read_svg(text).lines["seam"][0] for text in (cut, mirrored)]
    assert [sorted(seam[:3, 0].round(2).tolist()) for seam in seams] == [
        pytest.approx([12, 12 + 76.2, 12 + 101.6], abs=0.02),
        pytest.approx([12, 12 + 25.4, 12 + 101.6], abs=0.02),
    ]


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (
            ["-o", "x.pdf", "--cutter"],
            "“x.pdf”: a stencil cutter is given .dxf or .svg here; end the name in",
        ),
        (["-o", "x.dxf", "--mark-size", "2in"], "--mark-size: 50.8 mm is too large; give 0.5 mm to 25 mm"),
        (["-o", "x.dxf", "--mark-size", "3"], "--mark-size: "),
        (["-o", "x.dxf", "--mark-shape", "star"], "argument --mark-shape: invalid choice: 'star'"),
        (["-o", "x.png", "--dpi", "20"], "--dpi: 20 dots per inch are too few; give 72 to 1200"),
        (["-o", "x.png", "--dpi", "fine"], "--dpi: “fine” is no count"),
    ],
)
def test_what_cannot_be_is_one_sentence(
    outline: Path,
    options: list[str],
    sentence: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(outline.parent)
    assert main(["template", str(outline), *options]) == 2
    error = capsys.readouterr().err
    assert error.startswith(f"wedgewright: {sentence}")
    assert error.count("\n") == 1
    assert os.listdir() == ["kite.txt"]
