"""What the user prefers is remembered, changes no plan, and new patches start with it."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QSettings, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QRadioButton, QWidget
from pytestqt.qtbot import QtBot

from app.exporting.sheets import PAPERS, Paper
from app.plan.model import Plan
from app.plan.plan_file import write_plan
from app.window import preferences
from app.window.look import Look
from app.window.main_window import Bench
from app.window.preferences_dialog import PreferencesDialog
from app.window.template_dialog import TemplateDialog
from geometry import Settings
from geometry.units import LengthStyle
from tests.app.window.conftest import INCH, Hand, block, press


@pytest.fixture
def dialog(bench: Bench, look: Look, qtbot: QtBot) -> PreferencesDialog:
    return opened(bench, look, qtbot)


def opened(bench: Bench, look: Look, qtbot: QtBot) -> PreferencesDialog:
    made = PreferencesDialog(bench.session, look, bench)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    made.activateWindow()
    qtbot.waitUntil(made.isActiveWindow)
    return made


def edit(dialog: QWidget, name: str) -> QLineEdit:
    (found,) = (e for e in dialog.findChildren(QLineEdit) if e.accessibleName() == name)
    return found


def type_into(field: QLineEdit, text: str) -> None:
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, text)


# --- units by territory -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "style"),
    [
        ("US", LengthStyle.EIGHTHS), ("us", LengthStyle.EIGHTHS), ("PR", LengthStyle.EIGHTHS),
        ("DE", LengthStyle.CM), ("GB", LengthStyle.CM), ("AU", LengthStyle.CM), ("", LengthStyle.EIGHTHS),
    ],
)  # fmt: skip
def test_units_go_by_the_territory_until_others_are_chosen(code: str, style: LengthStyle) -> None:
    assert preferences.style_of_territory(code) is style


def test_what_is_stored_holds_and_what_is_spoilt_does_not(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(preferences, "_territory", lambda: "FR")
    preferences.store_style(LengthStyle.SIXTEENTHS)
    assert preferences.style() is LengthStyle.SIXTEENTHS
    QSettings().setValue("preferences/lengths", "ells")
    assert preferences.style() is LengthStyle.CM
    preferences.store_paper("legal")
    assert preferences.paper().name == "Legal"
    QSettings().setValue("preferences/paper", "papyrus")
    assert preferences.paper().name == "A4"
    for spoilt in ("{", '{"gap": "x"}', '{"gap": -5}', "[]", ""):
        QSettings().setValue("preferences/settings", spoilt)
        assert preferences.usual_settings() == Settings()


def test_all_settings_survive_being_stored() -> None:
    kept = Settings(gap=3.0, clockwise=False, spans_per_side=5, start=(1.5, 2.5), side_spans=(("A", 2),))
    preferences.store_usual_settings(kept)
    assert preferences.usual_settings() == kept
    preferences.store_usual_settings(Settings())
    assert QSettings().value("preferences/settings") == "{}", "so that better trade values come through"


def test_the_units_of_a_plan_file_do_not_change_those_of_the_user(bench: Bench, tmp_path: Path) -> None:
    path = tmp_path / "old.wedgeplan"
    write_plan(path, Plan(patches=(block(),), unit_style=LengthStyle.MM))
    bench.take([path])
    assert bench.session.path == path
    assert bench.session.style is LengthStyle.EIGHTHS
    bench.actions_.styles[LengthStyle.CM].trigger()
    assert bench.session.history.is_clean
    assert bench.session.plan.unit_style is LengthStyle.MM, "what the file says stays in the file"


# --- the dialog -------------------------------------------------------------------------------------


def test_the_menu_opens_the_dialog(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[PreferencesDialog] = []
    monkeypatch.setattr(PreferencesDialog, "exec", lambda self: seen.append(self))
    bench.actions_.preferences.trigger()
    assert len(seen) == 1


def test_keep_keeps_and_changes_no_plan(bench: Bench, dialog: PreferencesDialog) -> None:
    plan = bench.session.plan
    press(dialog, "Units: Millimetres")
    gap = edit(dialog, "Gap")
    assert gap.text() == "6.4 mm", "shown in the units that are being chosen"
    type_into(gap, "10")  # not even Enter is needed
    press(dialog, "Paper: Legal")
    assert bench.session.style is LengthStyle.EIGHTHS, "nothing before Keep"
    press(dialog, "Keep")
    assert dialog.isHidden()
    assert bench.session.style is LengthStyle.MM
    assert preferences.style() is LengthStyle.MM
    assert preferences.usual_settings() == Settings(gap=10.0)
    assert bench.session.plan is plan
    assert bench.session.history.is_clean
    template = TemplateDialog(bench.session, bench.dialogs, bench._look, bench)
    chosen = [b.accessibleName() for b in template.findChildren(QRadioButton) if b.isChecked()]
    assert "Paper: Legal" in chosen


def test_cancel_and_escape_keep_nothing(bench: Bench, dialog: PreferencesDialog) -> None:
    press(dialog, "Units: Centimetres")
    type_into(edit(dialog, "Gap"), "3")
    QTest.keyClick(edit(dialog, "Gap"), Qt.Key.Key_Return)
    assert dialog.isVisible(), "Enter belongs to the field"
    press(dialog, "Cancel")
    assert dialog.isHidden()
    assert bench.session.style is LengthStyle.EIGHTHS
    assert preferences.usual_settings() == Settings()


def test_what_is_wrong_is_told_and_not_kept(dialog: PreferencesDialog) -> None:
    type_into(edit(dialog, "Gap"), "ells")
    press(dialog, "Keep")
    assert dialog.isVisible()
    assert dialog.form.is_wrong
    QTest.keyClick(edit(dialog, "Gap"), Qt.Key.Key_Escape)
    assert dialog.isVisible(), "the first Esc is for the field"
    assert not dialog.form.is_wrong
    press(dialog, "Keep")
    assert dialog.isHidden()


def test_a_paper_of_ones_own_is_shown_and_kept(bench: Bench, look: Look, qtbot: QtBot) -> None:
    preferences.store_print_paper(Paper("13 × 19", 330.2, 482.6))
    dialog = opened(bench, look, qtbot)
    assert edit(dialog, "Width").text() == "13 in"
    press(dialog, "Units: Millimetres")
    assert edit(dialog, "Width").text() == "330.2 mm"
    press(dialog, "Keep")
    assert preferences.print_paper() == Paper("330.2 mm × 482.6 mm", 330.2, 482.6)
    again = opened(bench, look, qtbot)
    type_into(edit(again, "Height"), "ells")
    press(again, "Keep")
    assert again.isVisible(), "what cannot be read is not kept"
    press(again, "Paper: Legal")
    assert not edit(again, "Width").isVisible()
    press(again, "Keep")
    assert again.isHidden()
    assert preferences.print_paper() == PAPERS["legal"]


def test_all_as_is_usual(dialog: PreferencesDialog) -> None:
    assert not dialog.all_usual.isEnabled()
    type_into(edit(dialog, "Gap"), "1")
    QTest.keyClick(edit(dialog, "Gap"), Qt.Key.Key_Return)
    assert dialog.all_usual.isEnabled()
    press(dialog, "All as is usual in the trade")
    assert edit(dialog, "Gap").text() == "1/4 in"
    assert not dialog.all_usual.isEnabled()


def test_only_what_several_patches_can_share_is_offered(dialog: PreferencesDialog) -> None:
    for group in dialog.form.groups.values():
        if not group.is_open:
            QTest.keyClick(group.heading, Qt.Key.Key_Right)
    assert len(dialog.form.rows) > 25
    assert not {"start", "first_wedge", "side_spans"} & set(dialog.form.rows)


def test_every_control_has_a_name_and_the_keys_reach_it(dialog: PreferencesDialog) -> None:
    wanted = {
        widget for widget in dialog.findChildren(QWidget)
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and widget.isVisible() and widget.isEnabled()
        and widget.focusProxy() is None and not widget.objectName().startswith("qt_")
        and not (isinstance(widget, QRadioButton) and not widget.isChecked())
    }  # fmt: skip
    assert all(widget.accessibleName() for widget in wanted)
    reached = set()
    for _ in range(60):
        focus = QApplication.focusWidget()
        assert focus is not None
        reached.add(focus)
        QTest.keyClick(focus, Qt.Key.Key_Tab)
    assert {widget.accessibleName() for widget in wanted - reached} == set()
    assert dialog.height() <= 680
    assert dialog.form.minimumSizeHint().width() <= dialog.form.width()


# --- new patches ------------------------------------------------------------------------------------


def test_drawn_and_imported_patches_start_with_them(bench: Bench, hand: Hand, tmp_path: Path) -> None:
    usual = Settings(gap=INCH / 2, echo_count=2)
    preferences.store_usual_settings(usual)
    path = tmp_path / "new.txt"
    path.write_text("unit: in\n0 0\n6 0\n6 6\n0 6\n")
    bench.take([path])
    assert bench.session.piece is not None
    assert bench.session.piece.settings == usual
    bench.actions_.draw.trigger()
    for x, y in ((1, 1), (5, 1), (5, 5)):
        hand.click(x, y)
    hand.key(Qt.Key.Key_Return)
    assert len(bench.session.plan.patches) == 4
    assert bench.session.piece is not None
    assert bench.session.piece.settings == usual
    assert bench.session.plan.patches[0].settings == Settings(), "what was there stays as it was"
