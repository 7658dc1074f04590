"""The window of the template: the real sheets over the patch as it is chosen, and every way out of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
import shapely
from PySide6.QtCore import QRectF, QSizeF, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSpinBox,
    QApplication,
    QLabel,
    QLineEdit,
    QListWidget,
    QPushButton,
    QTabBar,
    QWidget,
)
from pytestqt.qtbot import QtBot

from app.exporting.options import TemplateKind
from app.exporting.painter import place_labels
from app.exporting.placement import Placement
from app.exporting.print_job import PatchOnSheet, PrintedSheet, PrintJob
from app.plan.ezdxf_library import load_ezdxf
from app.plan.model import Plan, PlanPatch
from app.sketch.palette import Role
from app.window import preferences, print_dialog, print_overlay
from app.window.look import Look
from app.window.main_window import Bench
from app.window.print_overlay import _NAME, SheetsOverlay, Taken, _own_part
from app.window.print_spreads import placement_under, spreads_of
from app.window.sample import sample_plan
from app.window.template_dialog import TemplateDialog
from geometry import Patch
from geometry.units import MM_PER_INCH, LengthStyle
from tests.app.window.conftest import INCH, LEFT, PLAIN, Answers, block, button, press


@pytest.fixture
def dialog(bench: Bench, look: Look, qtbot: QtBot) -> TemplateDialog:
    """On three patches: 8 in, an L of 10 in, and 40 in, on Letter; the first is chosen."""
    preferences.store_paper("letter")
    bench.session.open(
        Plan(title="Trial", patches=(*bench.session.plan.patches, block("Star", 40, (18, 22))))
    )
    return shown(bench, look, qtbot)


def shown(bench: Bench, look: Look, qtbot: QtBot) -> TemplateDialog:
    made = TemplateDialog(bench.session, bench.dialogs, look, bench)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    made.activateWindow()
    return made


def type_into(dialog: QWidget, name: str, text: str) -> QLineEdit:
    (field,) = (e for e in dialog.findChildren(QLineEdit) if e.accessibleName() == name)
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, text)
    QTest.keyClick(field, Qt.Key.Key_Return)
    return field


def overlay(dialog: TemplateDialog) -> QImage:
    QApplication.processEvents()
    return dialog.stage.overlay.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)


# --- what is shown ----------------------------------------------------------------------------------


def test_the_count_follows_every_choice(dialog: TemplateDialog) -> None:
    """Letter holds 7.5 × 8 in of a patch, A3 10.7 × 13.6 in (ANSI Y14.1, ISO 216, less the margins)."""
    told = dialog.stage.heading.text
    assert told() == f"{dialog.pages.count} sheets of Letter"
    assert dialog.pages.count > 1, "8 in are more than Letter holds beside squares and words"
    press(dialog, "Paper: A3")
    assert told() == "1 sheet of A3"
    press(dialog, "Copies of each: one more")
    assert told() == "2 sheets of A3"
    press(dialog, "Paper: Own size")
    type_into(dialog, "Width", "20")
    assert type_into(dialog, "Height", "2' 6").text() == "30 in"
    assert told().endswith("of 20 in × 30 in")
    before = dialog.pages.count
    press(dialog, "Several patches on a sheet")
    assert dialog.pages.count > before, "each copy on a sheet of its own"
    type_into(dialog, "Width", "400 mm")
    assert told().endswith("of 15 3/4 in × 30 in")


def test_the_sheets_are_those_of_the_print_and_cover_the_patch(dialog: TemplateDialog) -> None:
    """Put together they hold the patch, each has its row and column, and they lie where the job says."""
    bench_patches = dialog._session.plan.patches
    dialog._session.choose(2)
    press(dialog, "Which patches: All patches")
    while dialog.stage.on.isEnabled():
        press(dialog, "On")
    assert "“Star”" in dialog.stage.where.text()
    spread = dialog.stage._spreads[-1]
    placement = spread.patches[0][1]
    seam = shapely.LinearRing(placement.points(bench_patches[2].patch().outline))
    whole = shapely.union_all([shapely.box(*sheet.window) for sheet in spread.sheets])
    assert seam.difference(whole.buffer(1e-6)).is_empty, "no piece of the seam is on no sheet"
    assert len({sheet.words[0] for sheet in spread.sheets}) == len(spread.sheets)
    names_fits = [("Star", dialog._session.fit_of(bench_patches[2]))]
    alone = PrintJob.of(names_fits, dialog.options(), dialog._session.style)
    assert len(spread.sheets) == alone.count
    assert f"{len(spread.sheets)} sheets" in dialog.stage.where.text()
    for sheet in spread.sheets:
        page = dialog.pages.pages[sheet.page]  # type: ignore[union-attr]
        assert (f"row {page.row}, column {page.column}") == sheet.words[0]


def test_each_sheet_is_drawn_over_the_patch(dialog: TemplateDialog, look: Look) -> None:
    """Read from the picture: along every window's edge there is ink that a bare patch does not have."""
    spread = dialog.stage._spreads[0]
    view = dialog.stage.overlay.view()
    picture = overlay(dialog)
    scale = picture.width() / dialog.stage.overlay.width()
    ink = look.colour(Role.NOTE)
    for sheet in spread.sheets:
        left, top, right, bottom = sheet.window
        for at in ((left, (top + bottom) / 2), (right, (top + bottom) / 2), ((left + right) / 2, top)):
            x, y = (round(value * scale) for value in view.point_to_screen(at))
            near = [
                picture.pixelColor(min(max(x + dx, 0), picture.width() - 1), y + dy)
                for dx in (-1, 0, 1)
                for dy in (-1, 0, 1)
            ]
            assert any(
                abs(c.red() - ink.red()) + abs(c.green() - ink.green()) + abs(c.blue() - ink.blue()) < 60
                for c in near
            ), (sheet, at)


def test_mirrored_is_seen(dialog: TemplateDialog) -> None:
    press(dialog, "Paper: A3")
    before = overlay(dialog)
    press(dialog, "Mirrored, for the back")
    after = overlay(dialog)
    assert before != after
    ((_, placement),) = dialog.stage._spreads[0].patches
    assert placement.mirrored
    press(dialog, "Mirrored, for the back")
    assert overlay(dialog) == before


@pytest.mark.parametrize("name", ["Echoes", "Numbers", "Arrows"])
def test_what_is_left_out_is_seen(dialog: TemplateDialog, name: str) -> None:
    press(dialog, "Paper: A3")
    before = overlay(dialog), dialog.options()
    press(dialog, name)
    if name != "Echoes":  # the block has none
        assert overlay(dialog) != before[0]
    assert dialog.options() != before[1]
    press(dialog, "What to print: Marks only")
    assert not button(dialog, name).isEnabled()
    assert dialog.options().kind is TemplateKind.MARKS


def test_chosen_patches(dialog: TemplateDialog) -> None:
    press(dialog, "Which patches: Chosen patches")
    (rows,) = dialog.findChildren(QListWidget)
    assert rows.isVisible()
    one = dialog.pages.count
    rows.setFocus()
    rows.setCurrentRow(1)
    QTest.keyClick(rows, Qt.Key.Key_Space)
    assert dialog.patches.numbers == [0, 1]
    assert dialog.pages.count > one
    for row in (0, 1):
        rows.setCurrentRow(row)
        QTest.keyClick(rows, Qt.Key.Key_Space)
    assert dialog.pages is None
    assert "no patch" in dialog.stage.wrong.text()
    assert not any(button(dialog, name).isEnabled() for name in ("Print…", "Save as PDF…", "Save picture…"))


def test_what_cannot_be_is_said_in_a_sentence(dialog: TemplateDialog) -> None:
    press(dialog, "Paper: Own size")
    type_into(dialog, "Width", "1")
    assert dialog.pages is None
    assert "room" in dialog.stage.wrong.text()
    type_into(dialog, "Width", "ells")
    assert any("ells" in label.text() for label in dialog.paper.findChildren(QLabel) if label.isVisible())
    type_into(dialog, "Width", "11")
    assert dialog.pages is not None
    type_into(dialog, "Margin", "5")
    assert dialog.pages is None


def test_several_patches_on_one_sheet_are_seen_together(bench: Bench, look: Look, qtbot: QtBot) -> None:
    preferences.store_paper("letter")
    bench.session.open(Plan(patches=(block("Ash", 2, (1, 1)), block("Elm", 2, (1, 1)))))
    made = shown(bench, look, qtbot)
    press(made, "Which patches: All patches")
    assert made.stage.heading.text() == "1 sheet of Letter"
    assert made.stage.where.text() == "“Ash”, “Elm” on one sheet"
    (spread,) = made.stage._spreads
    assert len(spread.patches) == 2
    boxes = [
        placement.points(made._session.plan.patches[number].patch().outline)
        for number, placement in spread.patches
    ]
    (a, b) = boxes
    apart = (a.max(axis=0) < b.min(axis=0)) | (b.max(axis=0) < a.min(axis=0))
    assert apart.any(), "they lie beside each other"
    press(made, "Several patches on a sheet")
    assert made.stage.heading.text() == "2 sheets of Letter"
    assert made.stage.where.text() == "1 of 2   “Ash”: 1 sheet"
    press(made, "On")
    assert made.stage.where.text() == "2 of 2   “Elm”: 1 sheet"


def test_the_sheet_looked_at_is_the_one_that_is_shown_as_printed(dialog: TemplateDialog) -> None:
    press(dialog, "Which patches: All patches")
    press(dialog, "On")
    first = dialog.stage._spreads[1].sheets[0].page
    tabs = dialog.findChild(QTabBar)
    assert isinstance(tabs, QTabBar)
    QTest.mouseClick(tabs, LEFT, PLAIN, tabs.tabRect(1).center())
    assert dialog.stage.where.text() == f"sheet {first + 1} of {dialog.pages.count}"
    assert dialog.stage.page_view.preview.pageCount() == 1, "only the sheet that is looked at is drawn"
    while dialog.stage.on.isEnabled():
        dialog.stage.step(1)
    QTest.mouseClick(tabs, LEFT, PLAIN, tabs.tabRect(0).center())
    assert dialog.stage.where.text().startswith("3 of 3")


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("turned", [False, True])
def test_how_a_patch_lies_is_read_from_the_corners(mirrored: bool, turned: bool) -> None:
    """Laid out by ``Placement`` itself, found again from nothing but what the sheet covers."""
    made = Placement(mirrored, turned, (31.0, -7.0))
    room = np.array([(0.0, 0.0), (190.0, 0.0), (190.0, 240.0), (0.0, 240.0)])
    found = placement_under(made.back(room))
    assert (found.mirrored, found.turned) == (mirrored, turned)
    assert found.shift == pytest.approx((31.0, -7.0))


def test_further_copies_are_counted_and_not_shown() -> None:
    corners = np.array([(0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0)])
    pages = [PrintedSheet((PatchOnSheet(0, corners),), 1, 1, copy) for copy in (1, 2, 3)] + [
        PrintedSheet((PatchOnSheet(1, corners),))
    ]
    assert [spread.words for spread in spreads_of(pages, ["Ash", "Elm"])] == [
        "“Ash”: 1 sheet", "“Elm”: 1 sheet",
    ]  # fmt: skip


# --- ways out ---------------------------------------------------------------------------------------


def test_a_pdf_is_what_is_shown(dialog: TemplateDialog, answers: Answers, tmp_path: Path) -> None:
    answers.template = tmp_path / "all.pdf"
    press(dialog, "Which patches: All patches")
    count = dialog.pages.count
    press(dialog, "Save as PDF…")
    assert dialog.isHidden()
    document = pypdfium2.PdfDocument(answers.template)
    assert len(document) == count
    document.close()
    assert dialog.told == "The template is in “all.pdf”"


def test_a_picture_has_the_dots_that_were_asked_for(
    dialog: TemplateDialog, answers: Answers, tmp_path: Path
) -> None:
    answers.template, answers.dots = tmp_path / "block.png", 150
    press(dialog, "Save picture…")
    image = QImage(str(answers.template))
    assert image.dotsPerMeterX() * 0.0254 == pytest.approx(150, abs=0.02)
    assert 8 <= image.width() / 150 < 9.2, "8 in, and some white around it"
    assert answers.asked[0] == "resolution, 300 at first"
    assert preferences.resolution() == 150


def test_a_drawing(dialog: TemplateDialog, answers: Answers, tmp_path: Path) -> None:
    answers.template = tmp_path / "block.svg"
    press(dialog, "Save drawing…")
    picture = answers.template.read_text(encoding="utf-8")
    assert "<svg" in picture
    dialog.show()
    answers.cutter = True
    press(dialog, "Save drawing…")
    assert answers.template.read_text(encoding="utf-8") != picture
    dialog.show()
    answers.template = tmp_path / "block.dxf"
    press(dialog, "Save drawing…")
    drawing = load_ezdxf().readfile(answers.template)
    assert not drawing.audit().has_errors
    assert len(drawing.modelspace()) > 8
    assert not preferences.template_options().cutter


@pytest.mark.parametrize("name", ["Save as PDF…", "Save picture…", "Save drawing…"])
def test_another_place_is_offered_and_nothing_is_lost(
    dialog: TemplateDialog, answers: Answers, tmp_path: Path, name: str
) -> None:
    """Promise 22: a target that vanished, then another place; where that is refused too, nothing is lost."""
    ending = {"Save as PDF…": "pdf", "Save picture…": "png", "Save drawing…": "svg"}[name]
    answers.template, answers.dots = tmp_path / "gone" / f"block.{ending}", 96
    press(dialog, "Paper: A3")
    press(dialog, name)
    assert dialog.isVisible()
    assert dialog.options().paper is not None
    assert dialog.options().paper.name == "A3"
    assert len(answers.told) == 1
    assert "not there any more" in answers.told[0]
    answers.elsewhere = tmp_path / f"other.{ending}"
    press(dialog, name)
    assert dialog.isHidden()
    assert (tmp_path / f"other.{ending}").stat().st_size > 500
    assert "other" in dialog.told
    assert sorted(each.name for each in tmp_path.iterdir() if each.is_file()) == [f"other.{ending}"]


def test_last_choices_come_back(
    dialog: TemplateDialog, bench: Bench, look: Look, qtbot: QtBot, answers: Answers, tmp_path: Path
) -> None:
    answers.template = tmp_path / "block.pdf"
    press(dialog, "Paper: Own size")
    type_into(dialog, "Width", "12 1/2")
    type_into(dialog, "Height", "18")
    type_into(dialog, "Margin", "3/4")
    press(dialog, "What to print: Lines only")
    for name in ("Echoes", "Numbers", "Arrows", "Mirrored, for the back", "Several patches on a sheet"):
        press(dialog, name)
    press(dialog, "Copies of each: one more")
    wanted = dialog.options()
    press(dialog, "Save as PDF…")
    again = shown(bench, look, qtbot).options()
    assert wanted.copies == 2
    assert again.copies == 1, "copies are of one print"
    for name in ("kind", "mirrored", "echoes", "numbers", "arrows", "together", "paper", "margin"):
        assert getattr(again, name) == getattr(wanted, name), name
    assert again.paper is not None
    assert again.paper.width == 12.5 * MM_PER_INCH
    preferences.store_paper("legal")
    assert shown(bench, look, qtbot).options().paper.name == "Legal"  # type: ignore[union-attr]


def test_cancel_remembers_nothing(dialog: TemplateDialog) -> None:
    press(dialog, "What to print: Lines only")
    QTest.keyClick(dialog, Qt.Key.Key_Escape)
    assert dialog.isHidden()
    assert preferences.template_options().kind is TemplateKind.BOTH


# --- by keys ----------------------------------------------------------------------------------------


def test_enter_presses_the_usual_button_and_in_a_field_only_tells(
    dialog: TemplateDialog, answers: Answers
) -> None:
    type_into(dialog, "Margin", "1/2")
    QTest.keyClick(dialog.copies.box, Qt.Key.Key_Return)
    assert answers.asked == []
    assert dialog.margin() == 12.7
    button(dialog, "Numbers").setFocus()
    QTest.keyClick(button(dialog, "Numbers"), Qt.Key.Key_Return)
    assert answers.asked == [f"printer for {dialog.pages.count} of “Block”"]


def controls(dialog: TemplateDialog) -> list[QWidget]:
    return [
        widget for widget in dialog.findChildren(QWidget)
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and not widget.objectName().startswith("qt_")
        and widget.focusProxy() is None
    ]  # fmt: skip


def test_every_control_has_a_name_and_the_keys_reach_it(dialog: TemplateDialog) -> None:
    press(dialog, "Paper: Own size")
    press(dialog, "Which patches: Chosen patches")
    nameless = [type(widget).__name__ for widget in controls(dialog) if not widget.accessibleName()]
    assert nameless == []
    dialog.print_button.setFocus()
    reached: set[QWidget] = set()
    for _ in range(60):
        focus = QApplication.focusWidget()
        assert focus is not None
        if focus in reached:
            break
        reached.add(focus)
        QTest.keyClick(focus, Qt.Key.Key_Tab)
    wanted = {
        widget for widget in controls(dialog)
        if widget.isVisible() and widget.isEnabled() and not isinstance(widget.parent(), QAbstractSpinBox)
    }  # fmt: skip
    assert {widget.accessibleName() for widget in wanted - reached} == set()


def test_access_keys_are_told_apart(dialog: TemplateDialog) -> None:
    texts = [each.text() for each in dialog.findChildren(QLabel) if each.buddy() is not None]
    texts += [each.text() for each in dialog.findChildren(QAbstractButton) if "&" in each.text()]
    tabs = dialog.findChild(QTabBar)
    assert isinstance(tabs, QTabBar)
    texts += [tabs.tabText(0), tabs.tabText(1)]
    keys = [text[text.index("&") + 1].lower() for text in texts]
    assert len(keys) >= 18
    assert len(keys) == len(set(keys)), sorted(texts)
    pushed = [each for each in dialog.findChildren(QPushButton) if each.text() != "Cancel"]
    assert all("&" in each.text() for each in pushed)


def test_what_is_pressed_is_large_enough(dialog: TemplateDialog) -> None:
    press(dialog, "Which patches: Chosen patches")
    (rows,) = dialog.findChildren(QListWidget)
    assert rows.visualItemRect(rows.item(0)).height() >= 24
    small = [
        (widget.accessibleName(), widget.size())
        for widget in dialog.findChildren(QWidget)
        if isinstance(widget, (QAbstractButton, QLineEdit, QAbstractSpinBox))
        and widget.isVisible()
        and (widget.height() < 24 or widget.width() < 24)
    ]
    assert small == []


@pytest.mark.parametrize("style", [LengthStyle.DECIMAL, LengthStyle.MM])
def test_it_fits_the_smallest_screen(bench: Bench, look: Look, qtbot: QtBot, style: LengthStyle) -> None:
    bench.session.show_in(style)
    made = shown(bench, look, qtbot)
    assert made.width() <= 1280
    assert made.height() <= 720
    assert made.minimumSizeHint().height() <= 664


def test_the_whole_goes_with_a_patch_without_a_name_of_its_own(
    bench: Bench, qtbot: QtBot, look: Look
) -> None:
    """An ampersand is no access key, and a name in angle brackets is no markup."""
    edge = 3 * INCH
    patch = Patch([(0, 0), (edge, 0), (edge, edge), (0, edge)])
    bench.session.open(Plan(patches=(PlanPatch.of("<b>Salt & Pepper</b>", patch, [(30, 30)]),)))
    made = shown(bench, look, qtbot)
    assert made.stage.where.text() == "“<b>Salt & Pepper</b>”: 1 sheet"
    assert made.stage.where.textFormat() is Qt.TextFormat.PlainText
    assert isinstance(made.pages, PrintJob)


# --- the words in the sheets ------------------------------------------------------------------------


def test_each_sheets_own_part_is_nobody_elses() -> None:
    """Of 3 × 3 sheets that share strips, one in the middle left out: no own part meets another sheet."""
    rooms = [
        QRectF(column * 90.0, row * 110.0, 100.0, 120.0)
        for row in range(3)
        for column in range(3)
        if (row, column) != (1, 1)
    ]
    for room in rooms:
        own = _own_part(room, rooms)
        assert room.contains(own)
        assert own.width() >= 80 - 1e-9
        assert own.height() >= 100 - 1e-9
        others = [other for other in rooms if other != room]
        # Corners, where four sheets meet, are cut off with the strips.
        assert not any(own.adjusted(0.01, 0.01, -0.01, -0.01).intersects(other) for other in others)


@pytest.mark.parametrize("free", range(4))
def test_words_lie_where_nothing_is(free: int) -> None:
    """Three of four quarters are scribbled over: the words come into the fourth."""
    own = QRectF(10, 20, 200, 160)
    quarters = [(x, y) for y in (0, 1) for x in (0, 1)]
    taken = [
        shapely.LineString(
            [(10 + x * 100 + a, 20 + y * 80 + b) for a, b in ((2, 2), (98, 78), (98, 2), (2, 78))]
        )
        for number, (x, y) in enumerate(quarters)
        if number != free
    ]
    dense = [line.buffer(20) for line in taken]
    place, cost = Taken([(each, 1) for each in dense]).free_place(own, QSizeF(40, 20))
    assert cost == 0
    assert own.contains(place)
    box = shapely.box(place.left(), place.top(), place.right(), place.bottom())
    assert not any(box.intersects(each) for each in dense)


def test_words_rather_lie_on_lines_than_on_a_name() -> None:
    """A name fills the room but for its right end, which lines cross; where it has to be, it lies on both."""
    own = QRectF(0, 0, 100, 24)
    lines = [shapely.LineString([(x, 0), (x, 24)]) for x in range(60, 100, 10)]
    taken = Taken([(shapely.box(0, 0, 50, 24), _NAME), *((line, 1) for line in lines)])
    place, cost = taken.free_place(own, QSizeF(30, 20))
    assert place.left() > 50
    assert cost < _NAME
    assert taken.free_place(own, QSizeF(90, 20))[1] > _NAME


@pytest.mark.parametrize("kind", ["Lines and marks", "Marks only"])
@pytest.mark.parametrize("name", ["Star kite", "Reed strip", "Lily ground"])
def test_the_words_leave_every_name_in_sight(
    bench: Bench, look: Look, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, name: str, kind: str
) -> None:
    """Read from the pictures with and without the words: they differ nowhere that a corner, a mark or a
    wedge is named. Patches of the sample plan that have little room around.
    """
    preferences.store_paper("letter")
    plan = sample_plan()
    bench.session.open(plan)
    bench.session.choose([piece.name for piece in plan.patches].index(name))
    dialog = shown(bench, look, qtbot)
    press(dialog, f"What to print: {kind}")
    over, placed = dialog.stage.overlay, []

    def noted(*args: Any, **keys: Any) -> Any:
        placed.append(place_labels(*args, **keys))
        return placed[-1]

    monkeypatch.setattr(print_overlay, "place_labels", noted)
    with_words = overlay(dialog)
    monkeypatch.setattr(SheetsOverlay, "_write", lambda *_: None)
    without = overlay(dialog)
    words = _pixels(with_words) != _pixels(without)
    assert words.any(axis=2).sum() > 200
    scale, view = with_words.width() / over.width(), over.view()
    boxes = [each.box(view.point_to_screen(each.label.at)) for each in placed[-1].labels]
    assert len(boxes) > 8
    for box in boxes:
        left, top, right, bottom = (max(round(value * scale), 0) for value in box)
        assert not words[top:bottom, left:right].any(), box


def _pixels(picture: QImage) -> Any:
    """(height, width, 4) uint8."""
    return np.frombuffer(picture.constBits(), np.uint8).reshape(picture.height(), picture.width(), 4).copy()


def test_the_words_leave_the_anchor_in_sight(bench: Bench, look: Look, qtbot: QtBot) -> None:
    """Read from the picture: the anchor's ring has its full ink, though it lies in a sheet's upper left."""
    preferences.store_paper("letter")
    bench.session.open(Plan(patches=(block("Mid", 14, (6, 7.5)),)))
    dialog = shown(bench, look, qtbot)
    press(dialog, "What to print: Marks only")
    press(dialog, "Mirrored, for the back")
    picture, over = overlay(dialog), dialog.stage.overlay
    scale = picture.width() / over.width()
    fit = bench.session.fit
    assert fit is not None
    at = dialog.stage._spreads[0].patches[0][1].points(np.array(fit.anchors[:1]))[0].tolist()
    x, y = (round(value * scale) for value in over.view().point_to_screen((at[0], at[1])))
    ink = look.colour(Role.ANCHOR)
    around = [picture.pixelColor(x + dx, y + dy) for dx in range(-8, 9) for dy in range(-8, 9)]
    found = sum(
        abs(c.red() - ink.red()) + abs(c.green() - ink.green()) + abs(c.blue() - ink.blue()) < 40
        for c in around
    )
    assert found > 20


# --- names that cannot be printed -------------------------------------------------------------------


def test_letters_that_no_font_has_are_told_before_it_is_printed(
    bench: Bench, look: Look, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beside the heading, with the sign of a caution; gone with another choice of patches."""
    monkeypatch.setattr(print_dialog, "letters_missing", lambda names: ("no font",) * ("Ell" in names))
    dialog = shown(bench, look, qtbot)
    note = dialog.stage.note
    assert not note.isVisible()
    press(dialog, "Which patches: All patches")
    assert note.isVisible()
    assert note.text() == "△ no font"
    assert dialog.print_button.isEnabled()
    press(dialog, "Which patches: This patch")
    assert not note.isVisible()
