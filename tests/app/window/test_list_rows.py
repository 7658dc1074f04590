"""The ground of a list's rows, looked at pixel by pixel."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QRect
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtWidgets import QApplication, QStyle, QStyleOptionViewItem

from app.sketch.palette import LIGHT, Role
from app.window.list_rows import paint_ground

PLAIN, CHOSEN = QStyle.StateFlag.State_Enabled, QStyle.StateFlag.State_Selected
UNDER = QStyle.StateFlag.State_MouseOver


@pytest.mark.parametrize(
    ("state", "hovered", "bar", "ground"),
    [
        (PLAIN, True, None, None),
        (CHOSEN, False, Role.TEXT, Role.CLOTH),
        (CHOSEN | UNDER, True, Role.TEXT, Role.CLOTH),
        (UNDER, True, Role.CLOTH, Role.CLOTH),
        (UNDER, False, None, None),
    ],
)
def test_a_chosen_row_has_a_bar_and_a_ground(
    qapp: QApplication, state: QStyle.StateFlag, hovered: bool, bar: Role | None, ground: Role | None
) -> None:
    image = QImage(60, 40, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    option = QStyleOptionViewItem()
    option.rect, option.state = QRect(10, 10, 50, 20), state
    painter = QPainter(image)
    paint_ground(painter, option, LIGHT, hovered=hovered)
    painter.end()
    for x, role in ((11, bar), (40, ground)):
        assert image.pixelColor(x, 20) == QColor("white" if role is None else LIGHT[role])
    assert image.pixelColor(5, 20) == image.pixelColor(40, 35) == QColor("white"), "it keeps to its row"
