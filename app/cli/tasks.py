"""From a call to its fits: which patches, from which anchors, with which settings."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from app.cli.arguments import Call
from app.report import FittedPatch
from geometry import AnchorError, Patch, Settings, SettingsError, WedgewrightError, fit
from geometry.patch import Place, middle_of
from geometry.types import Point
from geometry.units import LengthStyle, Unit, format_length, parse_length, parse_point

if TYPE_CHECKING:
    from app.exporting.options import TemplateOptions
    from app.exporting.sheets import Paper
    from app.plan.model import Try

PLAN_ENDING = ".wedgeplan"

_NAMED_ANCHOR = re.compile(r"(middle|best|(side|corner)\s*:.*)", re.IGNORECASE)
_COUNT_DIGITS = 4
_ANCHOR_FORMS = "X,Y with a unit, or middle, best, side:N or corner:N"


class Work(NamedTuple):
    """What a call has to work on."""

    fitted: tuple[FittedPatch, ...]
    style: LengthStyle
    """How lengths are written."""
    notes: tuple[str, ...]
    """Sentences about what of the file was not taken over as it stands."""

    @property
    def fits(self) -> bool:
        """True where no finding of any patch is a problem."""
        return all(each.fit.fits for each in self.fitted)


class Task(NamedTuple):
    """One patch to fit, as the file has it."""

    name: str
    patch: Patch
    anchors: tuple[Point, ...] = ()
    """Empty where the file has none."""
    settings: Settings = Settings()
    repeats: int = 1
    place: str = ""
    """Where it is from, as an error says it."""
    tries: tuple[Try, ...] = ()


class Content(NamedTuple):
    """What a file holds."""

    tasks: list[Task]
    style: LengthStyle
    """What goes with the call's unit, else the file's own, else inches."""
    notes: tuple[str, ...] = ()
    title: str = ""
    """The plan's own."""


def work(call: Call, content: Content | None = None) -> Work:
    """Read the call's file, unless ``content`` is that already, and fit its patches.

    Raises ``WedgewrightError`` saying where it failed.
    """
    asked = [_asked_anchor(text, call.unit) for text in call.anchors]
    content = content or asked_for(call)
    style = content.style
    fitted = []
    for task in content.tasks:
        with placed(task.place):
            anchors = [_anchor(task.patch, task.settings, each, style) for each in asked] or task.anchors
            anchors = anchors or [_anchor(task.patch, task.settings, "middle", style)]
            fitted.append(FittedPatch(task.name, fit(task.patch, anchors, task.settings), task.repeats))
    return Work(tuple(fitted), style, content.notes)


def template_options(call: Call) -> TemplateOptions:
    """What the call wants of its template. Raises ``WedgewrightError``."""
    from app.exporting.options import MARK_SIZE, MarkShape, TemplateKind, TemplateOptions, check_mark_size
    from app.exporting.sheets import MARGIN

    with placed("--copies"):
        copies = _count(call.copies)
        if copies < 1:
            raise SettingsError("0 copies are none", do="give 1 or more")
    margin = MARGIN
    if call.margin is not None:
        with placed("--margin"):
            margin = parse_length(call.margin, call.unit)
    mark_size = MARK_SIZE
    if call.mark_size is not None:
        with placed("--mark-size"):
            mark_size = parse_length(call.mark_size, call.unit)
            check_mark_size(mark_size)
    return TemplateOptions(
        kind=TemplateKind(call.kind),
        mirrored=call.mirrored,
        echoes=not call.no_echoes,
        numbers=not call.no_numbers,
        arrows=call.arrows,
        copies=copies,
        together=not call.separate,
        paper=asked_paper(call),
        margin=margin,
        cutter=call.cutter,
        mark_shape=MarkShape(call.mark_shape),
        mark_size=mark_size,
    )


def asked_paper(call: Call) -> Paper | None:
    """The paper that the call names; None where it says nothing. Raises ``WedgewrightError``."""
    from app.exporting.sheets import paper_named

    if call.paper is None:
        return None
    with placed("--paper"):
        return paper_named(call.paper)


def dots_per_inch(call: Call) -> int | None:
    """What the call wants of a picture; None where it says nothing. Raises ``WedgewrightError``."""
    from app.exporting.options import check_dots_per_inch

    if call.dpi is None:
        return None
    with placed("--dpi"):
        dots = _count(call.dpi)
        check_dots_per_inch(dots)
    return dots


def asked_for(call: Call) -> Content:
    """The patches that the call chooses from its file, with their settings as it changes them."""
    changes = _changes(call.settings, call.unit)
    path = call.files[0]
    name = os.path.basename(path)
    content = _read(path, call)
    tasks = []
    for task in _chosen(content.tasks, call.patches, name):
        place = f"“{name}”, patch “{task.name}”"
        with placed(place):
            tasks.append(task._replace(settings=replace(task.settings, **changes), place=place))
    style = LengthStyle(call.style) if call.style else content.style
    return content._replace(tasks=tasks, style=style)


@contextmanager
def placed(place: str) -> Iterator[None]:
    """Put ``place`` before what an error says of where it was."""
    try:
        yield
    except WedgewrightError as error:
        error.where = f"{place}: {error.where}" if error.where else place
        raise


def _read(path: str, call: Call) -> Content:
    if os.path.splitext(path)[1].lower() == PLAN_ENDING:
        from pathlib import Path

        from app.plan.plan_file import ChangedOutside, read_plan

        try:
            plan = read_plan(Path(path), accept_changed=call.accept_changed)
        except ChangedOutside as error:
            error.do = "give --accept-changed if you know of the change, or choose another copy"
            raise
        tasks = [
            Task(each.name, each.patch(), each.anchors, each.settings, each.repeats, tries=each.tries)
            for each in plan.patches
        ]
        own = plan.unit_style or LengthStyle.EIGHTHS
        return Content(tasks, _style_in(call.unit) if call.unit else own, title=plan.title)

    from app.importing import CrossedOutlineError, import_file

    try:
        imported = import_file(
            path, "px" if call.px else call.unit, call.split, layers=call.layers, size=_drawn_size(call)
        )
    except CrossedOutlineError as error:
        error.do += " with --split, which keeps its parts"
        raise
    style = _style_in(call.unit or imported.unit)
    return Content([Task(name, patch) for name, patch in imported.patches], style, imported.notes)


def _drawn_size(call: Call) -> float | None:
    """mm. Raises ``WedgewrightError``."""
    if call.size is None:
        return None
    with placed("--size"):
        size = parse_length(call.size, call.unit)
        if size == 0:
            raise SettingsError("a drawing of 0 is none", do="give how long its longest side is")
    return size


def _style_in(unit: str | None) -> LengthStyle:
    """How lengths are written by someone who measures in ``unit``."""
    return next((style for style in LengthStyle if style.unit == unit), LengthStyle.EIGHTHS)


def _chosen(tasks: list[Task], names: Iterable[str], file: str) -> list[Task]:
    if not tasks:
        raise WedgewrightError("holds no patch", where=f"“{file}”", do="draw or import one first")
    known = [task.name for task in tasks]
    for name in names:
        if name not in known:
            raise WedgewrightError(
                f"no patch has the name “{name}”", where=f"“{file}”", do=_instead(name, known, "“{}”")
            )
    wanted = set(names) or set(known)
    return [task for task in tasks if task.name in wanted]


def _instead(wrong: str, known: Iterable[str], quoted: str = "{}") -> str:
    """What to give instead of ``wrong``: the nearest of ``known``, or all of them."""
    from difflib import get_close_matches

    known = list(known)
    spelt = {name.casefold(): name for name in known}
    near = get_close_matches(wrong.casefold(), spelt, n=1)
    if near:
        return f"did you mean {quoted.format(spelt[near[0]])}?"
    return "choose from " + ", ".join(map(quoted.format, known))


def _asked_anchor(text: str, unit: Unit | None) -> Point | str:
    """The point that ``--anchor`` says, or the name of one, which each patch has somewhere else."""
    text = text.strip()
    if _NAMED_ANCHOR.fullmatch(text):
        return text.lower()
    with placed("--anchor"):
        if not any(character.isdigit() for character in text):
            raise AnchorError(f"“{text}” is no anchor", do=f"give {_ANCHOR_FORMS}")
        return parse_point(text, unit)


def _anchor(patch: Patch, settings: Settings, asked: Point | str, style: LengthStyle) -> Point:
    """The place in ``patch`` that was asked for."""
    if asked == "middle":  # the default
        return middle_of(patch)
    if isinstance(asked, str):
        from geometry.anchors import named_anchor

        return named_anchor(patch, settings, asked)
    if patch.locate(asked) is Place.OUTSIDE:
        nearest = _in_words(patch.slide_into(asked), style)
        raise AnchorError(
            f"{_in_words(asked, style)} lies outside the patch",
            where="--anchor",
            do=f"move it in or onto the seam, to {nearest} for one, or choose a patch with --patch",
        )
    return asked


def _in_words(point: Point, style: LengthStyle) -> str:
    return ", ".join(format_length(value, style) for value in point)


# Settings, as --set has them


def _changes(texts: Iterable[str], unit: Unit | None) -> dict[str, Any]:
    changes = {}
    for text in texts:
        name, equals, value = text.partition("=")
        name = name.strip().lower().replace("_", "-")
        if name not in _READERS:
            raise SettingsError(f"“{name}” is no setting", where="--set", do=_instead(name, _READERS))
        if not equals or not value.strip():
            raise SettingsError(f"{name} has no value", where="--set", do=f"give {name}=VALUE")
        with placed(f"--set {name}"):
            changes[name.replace("-", "_")] = _READERS[name](value.strip(), unit)
    return changes


def _count(text: str, unit: Unit | None = None) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) <= _COUNT_DIGITS):
        raise SettingsError(f"“{text}” is no count", do="give a whole number from 0 to 9999")
    return int(text)


def _degrees(text: str, unit: Unit | None) -> float:
    return _number(text.removesuffix("°"), unit)


def _number(text: str, unit: Unit | None) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise SettingsError(f"“{text}” is no number", do="give one, such as 2.5") from None


def _yes_or_no(text: str, unit: Unit | None) -> bool:
    if text.lower() not in {"yes", "no"}:
        raise SettingsError(f"“{text}” is neither yes nor no", do="give yes or no")
    return text.lower() == "yes"


def _side_counts(text: str, unit: Unit | None) -> tuple[tuple[str, int], ...]:
    counts = []
    for each in filter(None, re.split(r"[\s,;]+", text)):
        letter, _, count = each.partition(":")
        if not letter or not count:
            raise SettingsError(f"“{each}” is no side with its spans", do="give A:3, or A:3,B:2")
        counts.append((letter.upper(), _count(count)))
    return tuple(counts)


def _spans(text: str, unit: Unit | None) -> tuple[tuple[str, str], ...]:
    spans = []
    for each in filter(None, re.split(r"[\s,;]+", text)):
        first, _, last = each.partition("-")
        if not first or not last:
            raise SettingsError(
                f"“{each}” is no span", do="give its two marks, such as A1-AB, or A1-AB,B1-BC"
            )
        spans.append((first.upper(), last.upper()))
    return tuple(spans)


def _places(text: str, unit: Unit | None) -> tuple[Point, ...]:
    return tuple(parse_point(each.strip(), unit) for each in text.split(";") if each.strip())


_READERS: dict[str, Callable[[str, Unit | None], Any]] = {
    "edge-margin": parse_length,
    "gap": parse_length,
    "visible-width": parse_length,
    "spans-per-side": _count,
    "longest-span": parse_length,
    "side-spans": _side_counts,
    "own-marks": _places,
    "removed-marks": _places,
    "merge-thin": _yes_or_no,
    "merged-spans": _spans,
    "hold-back": parse_length,
    "stagger": parse_length,
    "echo-count": _count,
    "echo-spacing": parse_length,
    "anchor-disc": parse_length,
    "anchor-passes": _count,
    "wobble": parse_length,
    "stitch-length": parse_length,
    "quilt-thickness": parse_length,
    "thread-tail": parse_length,
    "stitches-per-minute": _number,
    "seconds-per-turn": _number,
    "batting-width": parse_length,
    "corner-angle": _degrees,
    "corner-run": parse_length,
    "divide": _yes_or_no,
    "clockwise": _yes_or_no,
    "first-wedge": _count,
    "start": parse_point,
    "spiral": _yes_or_no,
    "cloth-turned": _yes_or_no,
    "least-turning": _yes_or_no,
    "along-seam": _yes_or_no,
    "bobbin-capacity": parse_length,
}
"""How the value of each setting is read; lengths need a unit, or the call's."""
