"""From outlines to the spaces between them, and to a plan, a table and JSON of these."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple, TypeAlias

import shapely
from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from shapely import Polygon, box

from app.cli.arguments import Call, CallError
from app.cli.table import printable, printed
from app.cli.tasks import PLAN_ENDING, Task, asked_for, placed
from app.plan.model import Plan, PlanPatch
from app.plan.plan_file import write_plan
from app.report import rounded, rounded_points
from app.sketch.leftover_form import MAX_BLOCKS, Rows, block_names, placed_rows, read_turns
from app.sketch.leftover_patches import leftover_notes, leftover_patches
from app.sketch.translate import tr
from geometry.leftover import Area, LeftoverError, Leftovers, leftover
from geometry.types import Point
from geometry.units import LengthStyle, Unit, format_length, parse_length, parse_point

VERSION = 1


_Laid: TypeAlias = tuple[Polygon, Sequence[Area], tuple[str, ...]]
"""The frame, the blocks, and what these are called."""


class Spaces(NamedTuple):
    """What a call gets."""

    found: Leftovers
    patches: tuple[PlanPatch, ...]
    style: LengthStyle
    notes: tuple[str, ...]

    def report(self) -> dict[str, Any]:
        """JSON-ready; millimetres, rounded to 1e-6."""
        return {
            "wedgewright-leftover": VERSION,
            "unit": "mm",
            "spaces": [
                {
                    "name": patch.name,
                    "outline": rounded_points(patch.outline),
                    "holes": [rounded_points(hole) for hole in patch.holes],
                    "area": rounded(patch.patch().polygon.area),
                    "places": [
                        {
                            "mirrored": place.mirrored,
                            "turn_deg": rounded(math.degrees(place.turn)),
                            "move": [rounded(value) for value in place.move],
                        }
                        for place in space.places
                    ],
                }
                for patch, space in zip(self.patches, self.found.spaces, strict=True)
            ],
            "notes": list(self.notes),
        }


def spaces(call: Call) -> Spaces:
    """The spaces that the call's blocks leave of its frame; written to a plan where it says so.

    Raises ``WedgewrightError`` and ``CallError``.
    """
    content = asked_for(call)
    name = f"“{Path(call.files[0]).name}”"
    gridded = bool(call.rows or call.columns or call.step)
    with placed(name):
        frame, blocks, names = (_grid if gridded else _as_drawn)(call, content.tasks)
        found = leftover(frame, blocks)
        patches = leftover_patches(found, content.tasks[0].settings)
    if call.output:
        target = Path(call.output)
        if target.suffix.lower() != PLAN_ENDING:
            raise CallError(f"“{target.name}”: spaces are written as a plan; end the name in {PLAN_ENDING}")
        from app.window.locks import working_on  # brings Qt's core along

        with working_on(target):
            write_plan(target, Plan(title=target.stem, patches=patches))
    return Spaces(found, patches, content.style, (*content.notes, *leftover_notes(found, names)))


def spaces_table(found: Spaces) -> str:
    """Each kind of space with its size and how often it comes."""

    def show(console: Console) -> None:
        table = Table(box=SIMPLE_HEAD, pad_edge=False)
        table.add_column(tr("Space"))
        for heading in (tr("Repeats"), tr("Mirrored"), tr("Wide"), tr("High"), tr("Corners")):
            table.add_column(heading, justify="right")
        for patch, space in zip(found.patches, found.found.spaces, strict=True):
            left, top, right, bottom = patch.patch().polygon.bounds
            table.add_row(
                printable(patch.name),
                str(len(space.places)),
                str(sum(place.mirrored for place in space.places)),
                format_length(right - left, found.style),
                format_length(bottom - top, found.style),
                str(len(patch.outline) + sum(map(len, patch.holes))),
            )
        console.print(table)

    return printed(show)


def _as_drawn(call: Call, tasks: list[Task]) -> _Laid:
    """The largest outline is the frame, or the one that the call names."""
    if call.frame is not None:
        frame = next((task for task in tasks if task.name == call.frame), None)
        if frame is None:
            raise LeftoverError(
                f"there is no outline “{call.frame}”", do="give one of its names after --frame"
            )
    else:
        frame = max(tasks, key=lambda task: task.patch.polygon.area)
    blocks = [task for task in tasks if task is not frame]
    if not blocks:
        raise LeftoverError("there is one outline only", do="put frame and blocks into it, or give --rows")
    polygons = [task.patch.polygon for task in blocks]
    return frame.patch.polygon, polygons, block_names(task.name for task in blocks)


def _grid(call: Call, tasks: list[Task]) -> _Laid:
    """All outlines of the file are one block, placed again and again."""
    unit = call.unit
    rows, columns = _whole("--rows", call.rows), _whole("--columns", call.columns)
    if rows * columns * len(tasks) > MAX_BLOCKS:
        raise LeftoverError(f"more than {MAX_BLOCKS} blocks", do="give fewer rows and columns")
    block = shapely.union_all([task.patch.polygon for task in tasks])
    left, top, right, bottom = block.bounds
    step = _size("--step", call.step, unit) if call.step else (right - left, bottom - top)
    with placed("--turns"):
        turns = read_turns(call.turns or "")
    if call.frame is not None:
        width, height = _size("--frame", call.frame, unit)
    else:
        width, height = columns * step[0], rows * step[1]
    grid = Rows(rows, columns, step, (width, height), turns)
    return box(0, 0, width, height), placed_rows(block, grid), grid.names()


def _whole(option: str, text: str | None) -> int:
    if text is None or not re.fullmatch(r"[0-9]{1,4}", text) or int(text) < 1:
        raise CallError(f"{option}: {text or 'nothing'} is no number of rows or columns; give 1 or more")
    return int(text)


def _size(option: str, text: str, unit: Unit | None) -> Point:
    """``13x12in`` or ``13in, 12in``. mm."""
    match = re.fullmatch(r"(?P<x>[^x×]+?)\s*[x×]\s*(?P<y>.+)", text.strip())
    with placed(option):
        if not match:
            return parse_point(text, unit)
        height = match["y"]
        own = re.search(r"[a-z\"]+\.?$", height.strip().lower())
        width = match["x"] if not own or re.search(r"[a-z\"]", match["x"]) else f"{match['x']} {own[0]}"
        return (parse_length(width, unit), parse_length(height, unit))
