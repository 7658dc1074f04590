"""Files to patches."""

from __future__ import annotations

import gc
import os
import stat
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import shapely

from app.sketch.translate import tr
from geometry import Patch, WedgewrightError

if TYPE_CHECKING:
    from shapely import Polygon

    from app.importing.dxf import DxfDrawing

TEXT_ENDINGS = (".txt", ".csv", ".wkt")
DRAWING_ENDINGS = (".svg", ".dxf")
TAPE_ENDINGS = (".tape",)
ENDINGS = (*DRAWING_ENDINGS, *TEXT_ENDINGS, *TAPE_ENDINGS)
"""What ``import_file`` reads, in lower case."""

Progress: TypeAlias = Callable[[int, int], None]
"""Called with how much is done, and of how much; what it raises ends the work."""


class ImportingError(WedgewrightError):
    """A file that no patch can be read from."""


class Rough(NamedTuple):
    """A drawing that is true in shape, while nobody has said how large it is."""

    patches: tuple[tuple[str, Patch], ...]
    """Name and patch, as in ``Imported``."""
    scale: float
    """mm that one unit of the file, or one pixel, has in these patches."""
    in_pixels: bool
    """Whether the file counts in pixels, of which 96 make an inch where one trusts the standard."""


class UnitMissingError(ImportingError):
    """A file of bare numbers, and nothing says what they are measured in: ask, and read again.

    ``rough``: of a drawing, what it holds, so that it can be shown; None where that is not known.
    """

    def __init__(self, what: str, *, where: str = "", do: str = "", rough: Rough | None = None) -> None:
        super().__init__(what, where=where, do=do)
        self.rough = rough


class CrossedOutlineError(ImportingError):
    """An outline that falls into several parts, as one that crosses itself does: ask, and read with split."""


class Imported(NamedTuple):
    """What a file holds."""

    patches: tuple[tuple[str, Patch], ...]
    """Name and patch, in the order of the file; at least one. Each name once."""
    notes: tuple[str, ...] = ()
    """Sentences about what was not taken over as it stands."""
    unit: str | None = None
    """The unit that the file states, or in which its bare numbers were read; None where they needed none."""


def import_file(
    path: str | os.PathLike[str],
    unit: str | None = None,
    split: bool = False,
    *,
    layers: Sequence[str] = (),
    size: float | None = None,
    progress: Progress | None = None,
) -> Imported:
    """The patches of an SVG or DXF drawing, a text file or tape measures, chosen by the file's ending.

    ``unit``: ``in``, ``cm`` or ``mm`` for numbers whose unit the file does not say; ``px`` for an SVG drawing
    with 96 px to the inch. ``split``: an outline of a text file that falls into several parts gives a patch
    for each, and is no error. (A path in a drawing always does.) ``layers``: of a DXF drawing only what is on
    these; none for all that are shown. ``size``: mm, how wide or high a drawing is to be, whichever is more,
    all its outlines together. ``progress`` is told by what may take long; what it raises ends the work.

    Raises ``ImportingError``, which names the file and the place in it; ``UnitMissingError`` and
    ``CrossedOutlineError`` where ``unit`` or ``split`` may help.
    """
    path = os.fspath(path)
    with named(path):
        refuse_what_is_no_file(path)
        ending = os.path.splitext(path)[1].lower()
        if ending == ".dxf":
            from app.importing.dxf import read_dxf

            return read_dxf(path, unit, size=size, layers=layers or None, progress=progress)
        if layers:
            raise ImportingError(tr("only DXF drawings have layers"), do=tr("leave the layers out"))
        if ending in DRAWING_ENDINGS:
            from pathlib import Path  # with all that it loads it would take a short call as long as its fit

            from app.importing.svg import read_svg

            return read_svg(Path(path), unit, size=size, progress=progress)
        if size is not None:
            raise ImportingError(tr("only drawings are scaled to a size"), do=tr("leave the size out"))
        if ending in TEXT_ENDINGS:
            from app.importing.text import read_text

            return read_text(path, unit, split)
        if ending in TAPE_ENDINGS:
            from app.importing.tape import read_tape

            return read_tape(path, unit)
    what = tr("a file ending in {ending} is not read", ending=ending) if ending else tr("has no ending")
    raise ImportingError(
        what,
        where=f"“{shown_name(path)}”",
        do=tr("choose a file ending in {endings}", endings=", ".join(ENDINGS)),
    )


def open_layered(
    path: str | os.PathLike[str], progress: Progress | None = None
) -> tuple[DxfDrawing, dict[str, list[Polygon]]]:
    """A drawing with layers, to be asked for its patches and then closed, and what each layer that is shown
    encloses, of any size. Raises ``ImportingError``, without the file's name.
    """
    path = os.fspath(path)
    refuse_what_is_no_file(path)
    from app.importing.dxf import open_dxf
    from app.importing.garbage import garbage_postponed

    layers: dict[str, list[Polygon]] = {}
    with garbage_postponed():
        drawing = open_dxf(path, progress)
        try:
            for layer, polygon in drawing.outlines(progress):
                layers.setdefault(layer, []).append(polygon)
            if progress is not None:
                progress(1, 1)  # whoever does not want it any more says so now
        except BaseException:
            drawing.close()
            raise
        gc.freeze()  # the collector walks past it while it is asked; ``close`` ends that
    return drawing, layers


@contextmanager
def named(path: str | os.PathLike[str]) -> Iterator[None]:
    """Put the file's name before what an error says of where it was."""
    try:
        yield
    except WedgewrightError as error:
        name = f"“{shown_name(os.fspath(path))}”"
        error.where = f"{name}, {error.where}" if error.where else name
        raise


def longest_side(patches: Sequence[tuple[str, Patch]]) -> float:
    """mm: how wide or high all of them are together, whichever is more."""
    left, top, right, bottom = shapely.total_bounds([patch.polygon for _, patch in patches])
    return float(max(right - left, bottom - top))


def shown_name(path: str) -> str:
    """The file's name, fit to be printed whatever bytes it is made of."""
    name = os.fsencode(os.path.basename(path) or path).decode("utf-8", "replace")
    return "".join(character if character.isprintable() else "�" for character in name)


def refuse_what_is_no_file(path: str) -> None:
    """Pipes and devices too: they may never end, or never begin."""
    try:
        found = os.stat(path)
    except FileNotFoundError:
        raise ImportingError(tr("there is no such file"), do=tr("check the name and the folder")) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise ImportingError(tr("cannot be read ({reason})", reason=reason)) from None
    if stat.S_ISDIR(found.st_mode):
        raise ImportingError(tr("is a folder"), do=tr("choose a file in it"))
    if not stat.S_ISREG(found.st_mode):
        raise ImportingError(tr("is not a file but a pipe or a device"), do=tr("save it as a file first"))
    if found.st_size == 0:
        raise ImportingError(tr("is empty"), do=tr("choose a file that holds an outline"))
