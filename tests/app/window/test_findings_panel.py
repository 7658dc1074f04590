"""The findings panel by itself: the remedies of the chosen finding, each a button."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from pytestqt.qtbot import QtBot

from app.plan.model import Plan
from app.sketch.palette import Role
from app.window.findings_panel import FindingsPanel
from app.window.glyphs import LEVEL_ROLES
from app.window.look import Look
from app.window.main_window import Bench
from app.window.rest import REST_MS
from app.window.session import Session
from geometry.findings import Code
from tests.app.window.conftest import CTRL, INCH, Hand, ell


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


def test_what_may_be_true_no_more_is_grey_and_says_so(
    bench: Bench, hand: Hand, look: Look, qtbot: QtBot
) -> None:
    """While the hand moves no ink of a level is in the list; then it comes back with what is true."""
    bench.session.open(Plan(patches=(ell(),)))
    panel = bench.findings
    viewport = panel.list.viewport()

    def inks(roles: Iterable[Role]) -> set[Role]:
        picture = viewport.grab().toImage()
        seen = {picture.pixel(x, y) for x in range(picture.width()) for y in range(picture.height())}
        return {role for role in roles if look.colour(role).rgb() in seen}

    levels = set(LEVEL_ROLES.values())
    assert inks(levels)
    before = [panel.model.data(panel.model.index(row)) for row in range(panel.model.rowCount())]
    anchor = bench.session.piece.anchors[0]  # type: ignore[union-attr]
    x, y = anchor[0] / INCH, anchor[1] / INCH
    hand.press(x, y)
    hand.move(x + 0.4, y + 0.4, CTRL)
    assert bench.session.in_gesture
    assert not bench.canvas.rest.resting
    assert inks({*levels, Role.QUIET, Role.TEXT}) == {Role.QUIET}
    assert panel.state.isVisible()
    assert "when the hand rests" in panel.state.text()
    qtbot.waitUntil(lambda: inks(levels) != set(), timeout=20 * REST_MS)
    assert bench.session.in_gesture, "the button is still down"
    assert "when the hand rests" not in panel.state.text()
    after = [panel.model.data(panel.model.index(row)) for row in range(panel.model.rowCount())]
    assert after != before
    hand.release(x + 0.4, y + 0.4)
