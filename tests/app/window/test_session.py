"""The model behind the window, without one: which patch is chosen, and which fit is shown."""

from __future__ import annotations

from PySide6.QtWidgets import QApplication

from app.plan.model import Plan
from app.sketch import changes
from app.sketch.modes.mode import Candidate
from app.window.session import Session
from tests.app.window.conftest import block, ell


def session(qapp: QApplication, *names: str) -> Session:
    return Session(Plan(patches=tuple(block(name) for name in names)))


def chosen_name(model: Session) -> str:
    assert model.piece is not None
    return model.piece.name


def test_the_chosen_patch_is_followed_when_others_come_and_go(qapp: QApplication) -> None:
    model = session(qapp, "a", "b", "c")
    model.choose(1)
    model.do(changes.remove_patch(model.plan, 0))
    assert chosen_name(model) == "b"
    model.undo()
    assert chosen_name(model) == "a", "what comes back is shown"


def test_removing_the_last_leaves_none(qapp: QApplication) -> None:
    model = session(qapp, "a")
    model.do(changes.remove_patch(model.plan, 0))
    assert (model.chosen, model.piece, model.fit) == (None, None, None)
    model.undo()
    assert chosen_name(model) == "a"
    assert model.fit is not None


def test_new_patches_are_chosen_and_undo_goes_where_something_changed(qapp: QApplication) -> None:
    model = session(qapp, "a", "b")
    model.do(changes.add_patches(model.plan, [ell(), block("d")]))
    assert chosen_name(model) == "Ell"
    model.do(changes.set_repeats(model.plan, 0, 3))
    model.choose(1)
    model.undo()
    assert chosen_name(model) == "a"


def test_a_fit_is_computed_once(qapp: QApplication) -> None:
    model = session(qapp, "a", "b")
    first = model.fit
    model.choose(1)
    model.choose(0)
    assert model.fit is first
    assert model.fit_of(model.plan.patches[0]) is first


def test_a_candidate_is_shown_and_leaves_no_trace(qapp: QApplication) -> None:
    model = session(qapp, "a")
    plan, fit = model.plan, model.fit
    seen: list[object] = []
    model.fit_changed.connect(lambda: seen.append(model.fit))
    piece = plan.patches[0]
    model.show_candidate(Candidate(piece.patch(), ((30.0, 40.0),), piece.settings))
    assert model.in_gesture
    assert model.fit is not None
    assert model.fit.anchors == ((30.0, 40.0),)
    assert model.plan is plan
    model.show_candidate(None)
    assert model.fit is fit
    assert len(seen) == 2
    model.show_candidate(None)
    assert len(seen) == 2


def test_a_candidate_that_cannot_be_is_told_and_not_raised(qapp: QApplication) -> None:
    model = session(qapp, "a")
    told: list[str] = []
    model.refused.connect(told.append)
    piece = model.plan.patches[0]
    model.show_candidate(Candidate(piece.patch(), ((-500.0, 0.0),), piece.settings))
    assert model.fit is None
    assert len(told) == 1
    assert "outside" in told[0]
