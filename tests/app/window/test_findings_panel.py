"""The findings panel by itself: the remedies of the chosen finding, each a button."""

from __future__ import annotations

import pytest
from pytestqt.qtbot import QtBot

from app.plan.model import Plan
from app.window.findings_panel import FindingsPanel
from app.window.look import Look
from app.window.session import Session
from geometry.findings import Code
from tests.app.window.conftest import ell


@pytest.fixture
def panel(qtbot: QtBot, look: Look) -> FindingsPanel:
    session = Session(Plan(title="Trial", patches=(ell(),)))
    made = FindingsPanel(session, look)
    session.setParent(made)
    qtbot.addWidget(made)
    made.resize(320, 500)
    made.show()
    return made


def choose(panel: FindingsPanel, code: Code) -> None:
    rows = range(panel.model.rowCount())
    row = next(n for n in rows if (found := panel.model.finding(n)) and found.code is code)
    panel.list.setCurrentIndex(panel.model.index(row))


def shown(panel: FindingsPanel) -> list[str]:
    return [button.accessibleName() for button in panel.remedies if button.isVisible()]


def test_a_button_applies_the_remedy_and_undo_takes_it_back(panel: FindingsPanel, qtbot: QtBot) -> None:
    session = panel._session
    before = session.plan
    assert shown(panel) == []
    choose(panel, Code.OUT_OF_SIGHT)
    assert panel.state.isVisible()
    qtbot.waitUntil(lambda: shown(panel) != [], timeout=5000)
    assert not panel.state.isVisible()
    assert shown(panel)[0].startswith("Remedy: Move the anchor to x ")
    assert all(button.toolTip() for button in panel.remedies if button.isVisible())
    panel.remedies[0].click()
    assert session.fit is not None
    assert all(finding.code is not Code.OUT_OF_SIGHT for finding in session.fit.findings)
    assert shown(panel) == []
    session.undo()
    assert session.plan == before


def test_a_search_that_is_left_offers_nothing(panel: FindingsPanel, qtbot: QtBot) -> None:
    choose(panel, Code.OUT_OF_SIGHT)
    panel.list.setCurrentIndex(panel.model.index(-1))
    qtbot.wait(300)
    assert shown(panel) == []
    assert not panel.state.isVisible()


def test_long_words_do_not_widen_the_panel(panel: FindingsPanel) -> None:
    least = panel.minimumSizeHint().width()
    panel.remedies[0].say("Move the anchor at x 12 3/8 in, y 14 5/8 in to x 22 3/8 in, y 40 7/8 in")
    panel.remedies[0].show()
    assert panel.minimumSizeHint().width() == least
    first, second = panel.remedies[0].text().split("\n")
    assert "…" not in first
    assert second.endswith("…"), "two lines are not enough for it"
    assert panel.remedies[0].sizeHint().height() >= 24
