"""What the modes' tests need of the bench: a plan with its history, and a hand of plain events."""

from __future__ import annotations

from collections.abc import Sequence

from app.plan.model import Plan, PlanPatch
from app.sketch.history import History
from app.sketch.modes.events import Key, KeyPress, Pointer
from app.sketch.modes.mode import Mode, Outcome
from geometry import Fit, Patch, fit
from geometry.units import LengthStyle

SQUARE = ((0.0, 0.0), (200.0, 0.0), (200.0, 200.0), (0.0, 200.0))
SCALE = 2.0
INCH = 25.4


class Desk:
    """The least that a mode needs of the bench: a plan with its history, a chosen patch, a style."""

    def __init__(self, plan: Plan, style: LengthStyle = LengthStyle.EIGHTHS) -> None:
        self.history = History(plan)
        self.chosen: int | None = 0 if plan.patches else None
        self.style = style
        self.refused: list[str] = []

    @property
    def plan(self) -> Plan:
        return self.history.plan

    def fit_of(self, piece: PlanPatch) -> Fit:
        return fit(piece.patch(), piece.anchors, piece.settings)

    def do(self, outcome: Outcome) -> Outcome:
        if outcome.refused:
            self.refused.append(outcome.refused)
        if outcome.change is not None:
            self.history.push(outcome.change)
        return outcome


class Bench(Desk):
    """With one patch, whose anchor is left of and above its middle."""

    def __init__(
        self,
        outline: Sequence[tuple[float, float]] = SQUARE,
        holes: Sequence[object] = (),
        style: LengthStyle = LengthStyle.EIGHTHS,
    ) -> None:
        piece = PlanPatch.of("one", Patch(outline, holes), [(70.0, 90.0)])
        super().__init__(Plan(patches=(piece,)), style)

    @property
    def piece(self) -> PlanPatch:
        return self.plan.patches[-1]


def at(x: float, y: float, *, free: bool = False) -> Pointer:
    return Pointer((x, y), SCALE, free)


def drag(bench: Bench, mode: Mode, *places: tuple[float, float], free: bool = True) -> Outcome:
    bench.do(mode.press(at(*places[0], free=free)))
    for place in places[1:]:
        bench.do(mode.move(at(*place, free=free)))
    return bench.do(mode.release(at(*places[-1], free=free)))


def press(bench: Bench, mode: Mode, key: Key, *, fine: bool = False) -> Outcome:
    return bench.do(mode.key(KeyPress(at(0, 0), key, fine=fine)))


def type_in(bench: Bench, mode: Mode, text: str) -> None:
    for character in text:
        assert bench.do(mode.key(KeyPress(at(0, 0), text=character))).taken
