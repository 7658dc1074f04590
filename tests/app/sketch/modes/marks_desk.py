"""A bench for the tests of Marks mode: a square patch, and a hand."""

from __future__ import annotations

from collections.abc import Sequence

from app.plan.model import Plan, PlanPatch
from app.sketch.modes.events import Key, KeyPress, Pointer
from app.sketch.modes.marks import MarksMode
from app.sketch.modes.mode import Outcome
from geometry import Patch, Settings
from geometry.marks import Mark
from tests.app.sketch.modes import bench as modes_bench
from tests.app.sketch.modes.bench import INCH, SCALE

SIDE = 8 * INCH
SQUARE = ((0.0, 0.0), (SIDE, 0.0), (SIDE, SIDE), (0.0, SIDE))
MARGIN = INCH / 4
TOP = MARGIN
"""y of side A's edge; its marks' x is their distance along the seam from corner DA."""


class Desk(modes_bench.Desk):
    """With a patch, the mode, and a hand."""

    def __init__(
        self,
        outline: Sequence[tuple[float, float]] = SQUARE,
        anchors: Sequence[tuple[float, float]] = ((3 * INCH, 5 * INCH),),
        **settings: object,
    ) -> None:
        piece = PlanPatch.of("one", Patch(outline), anchors, settings=Settings(**settings))  # type: ignore[arg-type]
        super().__init__(Plan(patches=(piece,)))
        self.mode = MarksMode(self)

    @property
    def settings(self) -> Settings:
        return self.plan.patches[0].settings

    @property
    def marks(self) -> dict[str, Mark]:
        return {mark.name: mark for fan in self.fit_of(self.plan.patches[0]).fans for mark in fan.marks}

    def move(self, x: float, y: float, *, free: bool = False) -> Outcome:
        return self.do(self.mode.move(Pointer((x, y), SCALE, free)))

    def press(self, x: float, y: float, *, free: bool = False) -> Outcome:
        return self.do(self.mode.press(Pointer((x, y), SCALE, free)))

    def release(self, x: float, y: float, *, free: bool = False) -> Outcome:
        return self.do(self.mode.release(Pointer((x, y), SCALE, free)))

    def drag(self, *places: tuple[float, float], free: bool = False) -> Outcome:
        self.move(*places[0])
        self.press(*places[0], free=free)
        for place in places[1:]:
            self.move(*place, free=free)
        return self.release(*places[-1], free=free)

    def click(self, x: float, y: float) -> Outcome:
        return self.drag((x, y))

    def key(self, key: Key, *, fine: bool = False) -> Outcome:
        return self.do(self.mode.key(KeyPress(Pointer((0, 0), SCALE), key, fine=fine)))

    def type(self, text: str, *, enter: bool = True) -> None:
        for character in text:
            assert self.do(self.mode.key(KeyPress(Pointer((0, 0), SCALE), text=character))).taken
        if enter:
            self.key(Key.ENTER)

    @property
    def label(self) -> str:
        return "\n".join(label.text for label in self.mode.overlay(SCALE).labels)

    @property
    def steps(self) -> list[str]:
        """The names of all steps, the last first."""
        names = []
        while self.history.undo_name is not None:
            names.append(self.history.undo_name)
            self.history.undo()
        return names
