from __future__ import annotations

import io
import struct
import threading
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from PySide6.QtGui import QImage

from app.exporting import png
from app.exporting.options import TemplateKind, TemplateOptions
from app.exporting.png import template_png
from app.exporting.template import ExportError, write_template
from app.sketch.palette import PAPER, Role
from geometry import Patch, Settings, SettingsError, fit
from tests.app.exporting.samples import square


def picture(data: bytes) -> tuple[np.ndarray, float]:
    """Pixels, and mm per pixel as the file states it."""
    image = Image.open(io.BytesIO(data))
    across, down = image.info["dpi"]
    assert across == down
    return np.asarray(image.convert("RGB")).astype(int), 25.4 / across


def near(pixels: np.ndarray, colour: str) -> tuple[np.ndarray, ...]:
    wanted = [int(colour[at : at + 2], 16) for at in (1, 3, 5)]
    return (np.abs(pixels - wanted).max(axis=2) < 8).nonzero()


def test_the_seam_is_true_size_by_the_resolution_that_is_stated() -> None:
    pixels, mm = picture(template_png([("Kite", square(76.2))], TemplateOptions(kind=TemplateKind.LINES)))
    assert mm == pytest.approx(25.4 / 300, rel=1e-4)
    rows, columns = near(pixels, PAPER[Role.SEAM])
    # From line's outer edge to outer edge: 3 in and one line's width, to a pixel and a half.
    width = 76.2 + 2.25 / 72 * 25.4
    assert np.ptp(columns) * mm == pytest.approx(width, abs=1.5 * mm)
    assert np.ptp(rows) * mm == pytest.approx(width, abs=1.5 * mm)
    assert columns.min() * mm == pytest.approx(12 - 2.25 / 144 * 25.4, abs=1.5 * mm)


def test_stitches_lie_where_the_fit_has_them() -> None:
    pixels, mm = picture(template_png([("Kite", square(101.6))], TemplateOptions(kind=TemplateKind.LINES)))
    stitch = np.zeros(pixels.shape[:2], dtype=bool)
    stitch[near(pixels, PAPER[Role.STITCH])] = True
    for wedge in square(101.6).fans[0].wedges:
        side = wedge.outline[1:3]
        for share in (0.1, 0.3, 0.8):
            x, y = (side[0] * (1 - share) + side[1] * share + 12) / mm
            assert stitch[round(y) - 1 : round(y) + 2, round(x) - 1 : round(x) + 2].any()
    # The middle of a wedge is paper.
    assert not stitch[round((12 + 25) / mm), round((12 + 38) / mm)]


def test_mirrored_stitches_lie_where_the_mirror_has_them() -> None:
    drawn = fit(Patch([(0, 0), (120, 0), (90, 80), (0, 60)]), (40.0, 30.0))
    shown = []
    for mirrored in (False, True):
        options = TemplateOptions(kind=TemplateKind.LINES, numbers=False, mirrored=mirrored)
        pixels, _ = picture(template_png([("Kite", drawn)], options))
        stitch = np.zeros(pixels.shape[:2], dtype=bool)
        stitch[near(pixels, PAPER[Role.STITCH])] = True
        shown.append(stitch[:, ::-1] if mirrored else stitch)
    plain, back = shown
    assert plain.sum() > 5000
    for one, other in ((plain, back), (back, plain)):
        rows, columns = one.nonzero()
        around = np.zeros(len(rows), dtype=bool)
        for down in (-2, -1, 0, 1, 2):
            for across in (-2, -1, 0, 1, 2):
                around |= other[rows + down, columns + across]
        assert around.mean() > 0.995


def test_copies_stand_side_by_side() -> None:
    one, mm = picture(template_png([("Kite", square(50.8))]))
    two, _ = picture(template_png([("Kite", square(50.8))], TemplateOptions(copies=2)))
    assert (two.shape[1] - one.shape[1]) * mm == pytest.approx(50.8 + 12.0, abs=2 * mm)


def test_findings_are_drawn_in_their_colour() -> None:
    thin = fit(Patch([(0, 0), (90, 0), (90, 60), (0, 60)]), (10.0, 30.0), Settings(spans_per_side=6))
    assert not thin.fits
    for drawn, dots in ((thin, 500), (square(76.2), 0)):
        found = len(near(picture(template_png([("Kite", drawn)]))[0], PAPER[Role.PROBLEM])[0])
        assert found > dots if dots else found == 0


def test_a_large_template_has_fewer_dots_and_its_true_size(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(png, "_MOST_DOTS", 1_000_000)
    pixels, mm = picture(png.template_png([("Kite", square())], TemplateOptions(kind=TemplateKind.LINES)))
    assert 0.98e6 < pixels.shape[0] * pixels.shape[1] < 1.01e6
    _, columns = near(pixels, PAPER[Role.SEAM])
    assert np.ptp(columns) * mm == pytest.approx(203.2 + 2.25 / 72 * 25.4, abs=2 * mm)


def test_what_would_be_too_coarse_is_refused() -> None:
    huge = fit(Patch([(0, 0), (9000, 0), (9000, 9000), (0, 9000)]), (4500.0, 4500.0))
    with pytest.raises(ExportError, match=r"a picture 9.0 m wide and 9.0 m high .*; write .pdf or .svg"):
        template_png([("Huge", huge)])


def stated(data: bytes) -> tuple[int, int]:
    """Dots per metre across and down, from the chunk pHYs itself (PNG specification, 11.3.4.3)."""
    at = data.index(b"pHYs") + 4
    across, down, unit = struct.unpack(">IIB", data[at : at + 9])
    assert unit == 1, "the unit is the metre"
    return across, down


@pytest.mark.parametrize("dots", [72, 96, 150, 299, 600])
def test_the_resolution_that_is_asked_for_is_stated_and_true(dots: int) -> None:
    data = template_png([("Kite", square(50.8))], TemplateOptions(TemplateKind.LINES), dots_per_inch=dots)
    across, down = stated(data)
    assert across == down
    assert across == pytest.approx(dots / 0.0254, abs=1)
    pixels, mm = picture(data)
    assert mm == pytest.approx(25.4 / dots, rel=1e-3)
    _, columns = near(pixels, PAPER[Role.SEAM])
    assert np.ptp(columns) * mm == pytest.approx(50.8 + 2.25 / 72 * 25.4, abs=2 * mm)


def test_a_resolution_out_of_range_or_too_large_is_refused_before_any_room_is_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def taken(*_: object) -> None:
        raise AssertionError("room is taken")

    monkeypatch.setattr(png, "QImage", taken)
    for dots, words in (
        (0, "0 dots per inch are too few; give 72 to 1200"),
        (-300, "too few"),
        (71, "too few"),
        (1201, "1201 dots per inch are too many; give 72 to 1200"),
    ):
        with pytest.raises(SettingsError, match=words):
            template_png([("Kite", square(50.8))], dots_per_inch=dots)
    with pytest.raises(
        ExportError, match=r"^“kite.png”: at 1200 dots per inch a picture .*; choose 894 dots .* or fewer, or"
    ):
        write_template(Path("kite.png"), [("Kite", square())], dots_per_inch=1200)


def test_no_memory_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(png, "QImage", _NoImage)
    with pytest.raises(
        ExportError, match=r"^“kite.png”: there is not enough memory for it; choose fewer dots per inch"
    ):
        write_template(tmp_path / "kite.png", [("Kite", square(50.8))])


class _NoImage:
    class Format:
        Format_RGB32 = None

    def __init__(self, *_: object) -> None:
        pass

    def isNull(self) -> bool:  # noqa: N802  # as Qt names it
        return True


def test_what_is_asked_to_stop_while_it_is_encoded_stops_at_once_and_leaves_the_older_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The encoder is held up by the test: whoever waits for it is asked again and again, and may leave."""
    path = tmp_path / "kite.png"
    write_template(path, [("Kite", square(50.8))], dots_per_inch=72)
    before = path.read_bytes()
    begun, go_on, ended = threading.Event(), threading.Event(), threading.Event()
    encoded = png._encoded

    def slow(image: QImage) -> bytes:
        begun.set()
        assert go_on.wait(60)
        data = encoded(image)
        ended.set()
        return data

    class StoppedError(Exception):
        """Somebody pressed Stop."""

    asked: list[tuple[int, int]] = []

    def progress(done: int, of: int) -> None:
        asked.append((done, of))
        if begun.is_set() and len(asked) > 6:
            raise StoppedError

    monkeypatch.setattr(png, "_encoded", slow)
    fits = [("Kite", square(50.8)), ("Boat", square(40.0))]
    try:
        with pytest.raises(StoppedError):
            write_template(path, fits, TemplateOptions(copies=2), dots_per_inch=72, progress=progress)
        assert not go_on.is_set()
    finally:
        go_on.set()
    assert ended.wait(60)
    assert asked[:4] == [(1, 4), (2, 4), (3, 4), (4, 4)]
    assert set(asked[4:]) == {(4, 4)}, "the bar stays where it is"
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == ["kite.png"]


def test_one_who_waits_gets_the_same_bytes_and_what_the_encoder_raises() -> None:
    fits = [("Kite", square(50.8))]
    waited = template_png(fits, dots_per_inch=72, progress=lambda done, of: None)
    assert waited == template_png(fits, dots_per_inch=72)

    def fails() -> bytes:
        raise MemoryError("planted")

    with pytest.raises(MemoryError, match="planted"):
        png._waited_for(fails, lambda: None)


def test_other_threads_go_on_while_a_picture_is_encoded() -> None:
    """Qt lets go of the interpreter meanwhile, so that Stop is answered. However busy the machine is, of many
    pictures one leaves another thread some turns.
    """
    image = QImage(2000, 2000, QImage.Format.Format_RGB32)
    image.fill(0)
    done, turns = threading.Event(), [0]

    def count() -> None:
        while not done.wait(0.001):
            turns[0] += 1

    def turns_meanwhile() -> int:
        before = turns[0]
        png._encoded(image)
        return turns[0] - before

    other = threading.Thread(target=count)
    other.start()
    try:
        assert any(turns_meanwhile() > 4 for _ in range(60))
    finally:
        done.set()
        other.join()
