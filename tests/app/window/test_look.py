"""Contrast of what the widgets are painted with, by the published formula."""

from __future__ import annotations

import re

import pytest
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QApplication, QCheckBox, QStyle, QStyleOptionButton
from pytestqt.qtbot import QtBot

from app.sketch.palette import DARK, LIGHT, Palette, Role
from app.window.look import style_sheet, widget_palette
from app.window.main_window import Bench


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, relative luminance and contrast ratio; written out here, apart from the program's own."""

    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_formula() -> None:
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.005)  # published example


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_text_of_widgets_reads_on_every_ground(palette: Palette, qapp: QApplication) -> None:
    made, role = widget_palette(palette), QPalette.ColorRole
    pairs = [
        (role.WindowText, role.Window), (role.Text, role.Base), (role.Text, role.AlternateBase),
        (role.ButtonText, role.Button), (role.HighlightedText, role.Highlight),
        (role.ToolTipText, role.ToolTipBase), (role.PlaceholderText, role.Base), (role.Link, role.Window),
    ]  # fmt: skip
    low = [
        (text.name, ground.name, round(ratio, 2))
        for text, ground in pairs
        if (ratio := contrast(made.color(text).name(), made.color(ground).name())) < 4.5
    ]
    assert low == []


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_every_colour_of_the_style_sheet_is_a_role_s(palette: Palette) -> None:
    used = set(re.findall(r"#[0-9A-Fa-f]{6}", style_sheet(palette)))
    assert used <= set(palette.values())
    for rule in re.findall(r"\{([^}]*)\}", style_sheet(palette)):
        ground = re.search(r"background: (#\w{6})", rule)
        ink = re.search(r"(?<![-\w])color: (#\w{6})", rule)
        if ground and ink:
            assert contrast(ink[1], ground[1]) >= 4.5, rule


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_what_is_chosen_has_a_tick(palette: Palette, qtbot: QtBot) -> None:
    box = QCheckBox("Echoes")
    qtbot.addWidget(box)
    box.setPalette(widget_palette(palette))
    box.setStyleSheet(style_sheet(palette))
    box.setChecked(True)
    box.ensurePolished()
    box.adjustSize()
    option = QStyleOptionButton()
    box.initStyleOption(option)
    at = (
        box.style().subElementRect(QStyle.SubElement.SE_CheckBoxIndicator, option, box).adjusted(4, 4, -4, -4)
    )
    picture = box.grab(at).toImage()
    seen = {picture.pixelColor(x, y).name() for x in range(at.width()) for y in range(at.height())}
    assert palette[Role.TEXT].lower() in seen, "the ground"
    assert max(contrast(ink, palette[Role.TEXT]) for ink in seen) > 7, "the tick"


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_edges_of_controls_are_seen(palette: Palette) -> None:
    for line in (Role.MARGIN_EDGE, Role.FOCUS, Role.PROBLEM):
        assert contrast(palette[line], palette[Role.FRAME]) >= 3.0


def test_the_window_wears_the_palette(bench: Bench) -> None:
    assert bench.grab().toImage().pixelColor(2, 2).name().upper() in {"#FBFAF7", "#1D2126"}
