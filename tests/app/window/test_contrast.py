"""Contrast of every pair of colours in use, by the published formula; levels of findings in grey.

WCAG 2.2 (W3C Recommendation, 12 December 2024): relative luminance and contrast ratio as its glossary has
them; 1.4.3 asks 4.5 : 1 of text, 1.4.11 asks 3 : 1 of what controls and pictures are made of and leaves
controls that cannot be used out. Here they keep 3 : 1 all the same.
"""

from __future__ import annotations

import re
from itertools import combinations

import numpy as np
import numpy.typing as npt
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QApplication

from app.exporting.painter import Look as PaintLook
from app.exporting.painter import paint
from app.sketch.display_list import Area, DisplayList, Layer, LayerName, Symbol, build
from app.sketch.palette import DARK, LIGHT, STROKES, Hatch, Palette, Role
from app.sketch.view import View
from app.window.glyphs import paint_level
from app.window.look import style_sheet
from geometry import Patch, Settings, fit
from geometry.findings import Level
from tests.app.window.test_look import contrast

BOTH = pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
LEVELS = (Level.PROBLEM, Level.CAUTION, Level.NOTE)
Grey = npt.NDArray[np.float64]

TEXT, LINE = 4.5, 3.0

PAIRS = {
    # what is seen: (ink, ground, least)
    "words on the frame": (Role.TEXT, Role.FRAME, TEXT),
    "words on the cloth, a tooltip, a selected row": (Role.TEXT, Role.CLOTH, TEXT),
    "quiet words": (Role.QUIET, Role.FRAME, TEXT),
    "quiet words of a selected row": (Role.QUIET, Role.CLOTH, TEXT),
    "a quiet button": (Role.NOTE, Role.FRAME, TEXT),
    "what is wrong with an entry": (Role.PROBLEM, Role.FRAME, TEXT),
    "words in a plate that says a problem": (Role.PROBLEM, Role.FRAME, TEXT),
    "a finding's figure on the cloth: problem": (Role.PROBLEM, Role.CLOTH, TEXT),
    "a finding's figure on the cloth: caution": (Role.CAUTION, Role.CLOTH, TEXT),
    "a finding's figure on the cloth: note": (Role.NOTE, Role.CLOTH, TEXT),
    "a wedge's number": (Role.STITCH, Role.CLOTH, TEXT),
    "a mark's name": (Role.MARK, Role.CLOTH, TEXT),
    "a button of the toolbar that is switched on": (Role.FRAME, Role.TEXT, TEXT),
    "chosen words in a field, a chosen row of the system's": (Role.FRAME, Role.FOCUS, TEXT),
    "a button while it is pressed": (Role.FRAME, Role.QUIET, TEXT),
    "a sign of a level in a list": (Role.PROBLEM, Role.CLOTH, LINE),
    "the bar beside a selected row": (Role.TEXT, Role.CLOTH, LINE),
    "the line over the tab in front": (Role.TEXT, Role.FRAME, LINE),
    "the edge of a control": (Role.MARGIN_EDGE, Role.FRAME, LINE),
    "the edge of a button": (Role.MARGIN_EDGE, Role.CLOTH, LINE),
    "the ring where the keys go": (Role.FOCUS, Role.FRAME, LINE),
    "the ring where the keys go, on the cloth": (Role.FOCUS, Role.CLOTH, LINE),
    "what is not stitched yet": (Role.FAINT, Role.CLOTH, LINE),
    "the anchor's ring": (Role.ANCHOR, Role.CLOTH, LINE),
    "the anchor's ring beside the patch": (Role.ANCHOR, Role.FRAME, LINE),
    "the dots of what is out of sight": (Role.OUT_OF_SIGHT, Role.CLOTH, LINE),
    "what cannot be used now": (Role.MARGIN_EDGE, Role.FRAME, LINE),
    "a button that cannot be used now": (Role.MARGIN_EDGE, Role.CLOTH, LINE),
    "the handle of the slider": (Role.TEXT, Role.FRAME, LINE),
}


@BOTH
@pytest.mark.parametrize("what", PAIRS)
def test_every_pair_in_use_stands_out(palette: Palette, what: str) -> None:
    ink, ground, least = PAIRS[what]
    assert contrast(palette[ink], palette[ground]) >= least


@BOTH
def test_every_line_stands_out_on_cloth_and_frame(palette: Palette) -> None:
    low = [
        (role, ground)
        for role in STROKES
        for ground in (Role.CLOTH, Role.FRAME)
        if contrast(palette[role], palette[ground]) < LINE
    ]
    assert low == []


def rules(palette: Palette) -> list[tuple[str, str]]:
    text = style_sheet(palette)
    return [(selector.strip(), body) for selector, body in re.findall(r"([^{}]+)\{([^}]*)\}", text)]


@BOTH
def test_every_rule_of_the_style_sheet_stands_out_on_its_ground(palette: Palette) -> None:
    """A rule without a ground of its own lies on the frame or on the cloth, whichever is worse."""
    seen = 0
    for selector, body in rules(palette):
        ink = re.search(r"(?<![-\w])color: (#\w{6})", body)
        if ink is None:
            continue
        seen += 1
        own = re.search(r"background: (#\w{6})", body)
        grounds = [own[1]] if own else [palette[Role.FRAME], palette[Role.CLOTH]]
        least = LINE if ":disabled" in selector else TEXT
        assert min(contrast(ink[1], ground) for ground in grounds) >= least, selector
    assert seen >= 12


@BOTH
def test_every_edge_in_the_style_sheet_is_seen(palette: Palette) -> None:
    """Edges of controls; a separator carries no meaning, and an edge in the frame's own colour is none."""
    seen = 0
    for selector, body in rules(palette):
        for edge in re.findall(r"border(?:-color|-top|-left|-top-color)?: (?:\d+px solid )?(#\w{6})", body):
            if edge in (palette[Role.FRAME], palette[Role.CLOTH]):
                continue
            seen += 1
            for ground in (Role.FRAME, Role.CLOTH):
                assert contrast(edge, palette[ground]) >= LINE, selector
    assert seen >= 12


# --- in grey ----------------------------------------------------------------------------------------


def image(width: int, height: int, ground: str) -> QImage:
    made = QImage(width, height, QImage.Format.Format_RGB32)
    made.fill(ground)
    return made


def grey(picture: QImage) -> Grey:
    """(rows, columns) 0 to 1, without colour."""
    plain = picture.convertToFormat(QImage.Format.Format_Grayscale8)
    bytes_ = np.frombuffer(plain.constBits(), dtype=np.uint8)
    return bytes_.reshape(plain.height(), plain.bytesPerLine())[:, : plain.width()] / 255.0


def ink(picture: QImage) -> npt.NDArray[np.bool_]:
    """Where the grey differs from that of the upper left corner by a tenth and more: shape alone."""
    shades = grey(picture)
    return np.abs(shades - shades[0, 0]) > 0.1


def unlike(one: npt.NDArray[np.bool_], other: npt.NDArray[np.bool_]) -> float:
    """Share of what either has that only one has: 0 the same, 1 nothing in common."""
    return float((one ^ other).sum() / (one | other).sum())


def sign(level: Level, palette: Palette) -> QImage:
    made = image(40, 40, palette[Role.FRAME])
    with QPainter(made) as painter:
        paint_level(painter, QRectF(4, 4, 32, 32), level, palette)
    return made


@BOTH
def test_signs_of_levels_are_told_apart_in_grey(palette: Palette, qapp: QApplication) -> None:
    shapes = {level: ink(sign(level, palette)) for level in LEVELS}
    for one, other in combinations(LEVELS, 2):
        assert unlike(shapes[one], shapes[other]) > 0.4, (one, other)
    # And they are the same shapes in both palettes: what is learnt in the light holds in the dark.
    for level in LEVELS:
        assert unlike(shapes[level], ink(sign(level, LIGHT))) < 0.2


def _slants(shape: npt.NDArray[np.bool_]) -> tuple[float, float]:
    """How unevenly ink lies over the diagonals, each way: high where lines run along them."""
    size = len(shape)
    middle = range(-size // 2, size // 2)
    falling = [np.diagonal(shape, offset).mean() for offset in middle]
    rising = [np.diagonal(shape[:, ::-1], offset).mean() for offset in middle]
    return float(np.std(falling)), float(np.std(rising))


def hatched(role: Role, hatch: Hatch | None, palette: Palette) -> QImage:
    made = image(120, 120, palette[Role.CLOTH])
    square = np.array([(0.0, 0.0), (120.0, 0.0), (120.0, 120.0), (0.0, 120.0)])
    items = () if hatch is None else (Area(role, (square,), hatch),)
    with QPainter(made) as painter:
        view = View(120.0, 120.0).fitted((0.0, 0.0, 120.0, 120.0), 0.0)
        paint(DisplayList((Layer(LayerName.FINDINGS, items),), (0, 0, 120, 120)), painter, view,
              PaintLook(palette=palette), labels=())  # fmt: skip
    return made


@BOTH
def test_hatches_of_levels_are_told_apart_in_grey(palette: Palette, qapp: QApplication) -> None:
    """A problem has lines both ways, a caution one way, a note none."""
    shades = {
        role: grey(hatched(role, hatch, palette))
        for role, hatch in ((Role.PROBLEM, Hatch.CROSS), (Role.CAUTION, Hatch.ONE_WAY), (Role.NOTE, None))
    }
    ground = grey(image(2, 2, palette[Role.CLOTH]))[0, 0]
    inks = {role: np.abs(each - ground) > 0.1 for role, each in shades.items()}
    problem, caution = _slants(inks[Role.PROBLEM]), _slants(inks[Role.CAUTION])
    assert min(problem) > 0.15
    assert max(caution) > 0.15
    assert min(caution) < 0.06
    assert not inks[Role.NOTE].any()


@BOTH
def test_a_picture_of_a_fit_tells_the_levels_apart_in_grey(palette: Palette, qapp: QApplication) -> None:
    """The real display list: every level that it shows comes with another symbol and another hatch."""
    edge = 200.0
    made = fit(
        Patch([(0, 0), (edge, 0), (edge, edge), (0, edge)]), (26.0, 30.0),
        Settings(visible_width=20.0, wobble=4.0, anchor_passes=4),
    )  # fmt: skip
    items = list(build(made).layer(LayerName.FINDINGS))
    seen = {
        level: {item.kind for item in items if isinstance(item, Symbol) and item.role.value == level.value}
        for level in LEVELS
    }
    hatches = {
        level: {item.hatch for item in items if isinstance(item, Area) and item.role.value == level.value}
        for level in LEVELS
    }
    assert seen[Level.PROBLEM]
    assert seen[Level.CAUTION]
    for one, other in combinations(LEVELS, 2):
        assert not seen[one] & seen[other]
        assert not hatches[one] & hatches[other]
    symbols = [item for item in items if isinstance(item, Symbol)]
    pictures = {}
    for item in symbols:
        canvas = image(40, 40, palette[Role.CLOTH])
        with QPainter(canvas) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            view = View(40.0, 40.0).fitted(
                (item.at[0] - 5, item.at[1] - 5, item.at[0] + 5, item.at[1] + 5), 0
            )
            paint(DisplayList((Layer(LayerName.FINDINGS, (item,)),), (0, 0, 200, 200)), painter, view,
                  PaintLook(palette=palette, unit=3.0), labels=())  # fmt: skip
        pictures[item.role] = ink(canvas)
    for (one, first), (other, second) in combinations(pictures.items(), 2):
        assert unlike(first, second) > 0.3, (one, other)
