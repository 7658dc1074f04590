"""DXF drawings to patches: closed outlines, hatches, blocks with their inserts, and loops of loose lines.

What is drawn in the model space on layers that are shown is taken; the drawing's y runs up and is
turned over. Numbers of groups and codes are those of the DXF reference (from memory).
"""

from __future__ import annotations

import gc
import io
import math
import os
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, field
from itertools import chain, islice
from typing import Any, Final, NamedTuple, TypeAlias

import numpy as np
import shapely

from app.importing import (
    Imported,
    ImportingError,
    Progress,
    Rough,
    UnitMissingError,
    longest_side,
    shown_name,
)
from app.importing.dxf_shapes import Found, Shape
from app.importing.garbage import garbage_postponed
from app.importing.source import Names, plain_name
from app.plan.ezdxf_library import load_ezdxf
from app.sketch.translate import tr, tr_n
from geometry import Patch, PatchError
from geometry.patch import split_outline
from geometry.tolerances import MAX_SIZE, SAME_POINT
from geometry.units import MM_PER_UNIT, LengthStyle, Unit, format_length, parse_unit

MAX_BYTES: Final = 64 * 2**20
MAX_ENTITIES: Final = 200_000
"""Most things in the drawing, those that inserts bring counted each time."""
MAX_BROUGHT: Final = 10_000
"""Most things that inserts bring; each is made anew, which takes ten times as long as reading it."""
MAX_DEPTH: Final = 32
"""Blocks within blocks."""
_ROUGH: Final = 1000.0
"""mm: how large a drawing is taken to be while nobody says."""
_BYTES_A_TURN: Final = 2**15
_THINGS_A_TURN: Final = 200
"""Bytes read, and things looked at, between two calls of ``progress``: some milliseconds."""
_LINES_AT_ONCE: Final = 4000
_PARTS: Final = 10_000
"""In which a quarter of the work is told."""

_MM_PER_CODE: Final = {
    1: 25.4, 2: 304.8, 3: 1_609_344.0, 4: 1.0, 5: 10.0, 6: 1000.0, 7: 1_000_000.0, 8: 25.4e-6, 9: 0.0254,
    10: 914.4, 13: 1e-3, 14: 100.0, 15: 10_000.0, 16: 100_000.0, 21: 1200 / 3937 * 1000,
}  # fmt: skip
"""$INSUNITS, DXF reference, Header Section; 0 is no unit. 21 is the US survey foot."""


def read_dxf(
    path: str,
    unit: str | None = None,
    *,
    size: float | None = None,
    layers: Collection[str] | None = None,
    progress: Progress | None = None,
) -> Imported:
    """The patches of a DXF drawing, text or binary.

    ``unit`` is for a drawing that states none, or states a wrong one: it is then taken instead, and a note
    says so. ``size``, mm: how wide or high all outlines together are to be, whichever is more, whatever the
    drawing states. ``layers``: only what is on these; None for all that are shown. Raises
    ``ImportingError``, and ``UnitMissingError`` where ``unit`` or ``size`` may help.
    """
    with garbage_postponed(), closing(open_dxf(path, progress)) as drawing:
        return drawing.imported(unit, size=size, layers=layers, progress=progress)


class _Drawn(NamedTuple):
    """What a drawing encloses."""

    scale: float
    """mm for one unit."""
    shapes: list[Shape]
    joined: float
    """mm: the widest gap that was closed."""
    notes: list[str]


Brought: TypeAlias = dict[int, tuple[list[Any], int]]
"""What each insert draws, one level down, and how much could not be made; by its id. Made once, however often
the drawing is asked: it takes longer than all the rest."""


@dataclass(slots=True)
class DxfDrawing:
    """A drawing that was read; what it holds can be asked for in one unit and another."""

    path: str
    document: Any
    repaired: bool
    """Whether the file was damaged and mended."""
    _brought: Brought = field(default_factory=dict, repr=False)

    def close(self) -> None:
        """Give its memory back, a little at a time; nothing more can be asked."""
        _free(self.document, chain.from_iterable(each for each, _ in self._brought.values()))
        self._brought.clear()
        gc.unfreeze()  # what ``open_layered`` froze

    @property
    def layers(self) -> dict[str, int]:
        """How many things are drawn on each layer that is shown; by name, the fullest first."""
        counts: dict[str, int] = {}
        for entity in self.document.modelspace():
            layer = _layer(entity)
            if self._shown(layer):
                counts[layer] = counts.get(layer, 0) + 1
        return dict(sorted(counts.items(), key=lambda each: -each[1]))

    @property
    def mm_per_unit(self) -> float | None:
        """What the drawing states; None where it states nothing."""
        code = self.document.header.get("$INSUNITS", 0)
        return _MM_PER_CODE.get(code if isinstance(code, int) else 0)

    def outlines(self, progress: Progress | None = None) -> list[Shape]:
        """Every closed outline on a layer that is shown, with its layer; true in shape, of any size."""
        return self._rough(None, progress).shapes

    def imported(
        self,
        unit: str | None = None,
        *,
        size: float | None = None,
        layers: Collection[str] | None = None,
        progress: Progress | None = None,
    ) -> Imported:
        """The patches, as ``read_dxf`` gives them."""
        scale, notes = self._scale(unit)
        if self.repaired:
            notes.append(tr("the file was damaged and could be mended; compare with the drawing"))
        if scale is None or size is not None:
            rough = self._rough(layers, _part(progress, 0.5, 0.75))
            progress = _part(progress, 0.75, 1.0)
            outlines = _named(rough.shapes, "")
            if size is None:
                raise UnitMissingError(
                    tr("the drawing does not say what its numbers are measured in"),
                    do=tr("state the unit with --unit in, cm or mm, or its longest side with --size"),
                    rough=Rough(tuple(outlines), rough.scale, False),
                )
            scale = rough.scale * size / longest_side(outlines)
        drawn = self._drawn(scale, layers, progress)
        shapes = drawn.shapes
        notes += drawn.notes
        if drawn.joined > SAME_POINT:
            gap = format_length(drawn.joined, LengthStyle.MM)
            notes.append(tr("ends of lines up to {gap} apart were joined", gap=gap))
        kept = _of_a_size(shapes, scale)
        if len(kept) < len(shapes):
            notes.append(
                tr_n(
                    "{count} outline wider than 10 m was left out; if the unit is wrong, state another",
                    "{count} outlines wider than 10 m were left out; if the unit is wrong, state another",
                    len(shapes) - len(kept),
                )
            )
        stem = shown_name(os.path.splitext(os.path.basename(self.path))[0])
        known = parse_unit(unit) if unit else _known_unit(scale)
        return Imported(tuple(_named(kept, stem)), tuple(notes), known if size is None else None)

    def _rough(self, layers: Collection[str] | None, progress: Progress | None) -> _Drawn:
        """At a scale at which no outline is lost for being small, nor coarse."""
        found, _ = self._taken(1.0, layers, _part(progress, 0.5, 0.75))
        reach = found.reach
        return self._drawn(_ROUGH / reach if reach > 0 else 1.0, layers, _part(progress, 0.75, 1.0))

    def _drawn(self, scale: float, layers: Collection[str] | None, progress: Progress | None) -> _Drawn:
        """Where one unit is ``scale`` mm. Raises ``ImportingError`` where nothing is enclosed."""
        found, spread = self._taken(scale, layers, progress)
        shapes = found.shapes(progress)
        if not shapes:
            raise _nothing()
        spread.lost += found.tangled
        return _Drawn(scale, shapes, found.joined, spread.notes())

    def _taken(
        self, scale: float, layers: Collection[str] | None, progress: Progress | None
    ) -> tuple[Found, _Spread]:
        found = Found(scale)
        spread = _Spread(self.document, self._shown, layers, self._brought, progress)
        for entity, layer in spread.entities():
            try:
                found.take(entity, layer)
            except (ImportingError, MemoryError):
                raise
            except Exception:  # nothing is known of what the library makes of odd numbers
                spread.lost += 1
        if layers is not None:
            _refuse_unknown(layers, spread.seen)
        return found, spread

    def _scale(self, unit: str | None) -> tuple[float | None, list[str]]:
        """mm for one unit of the drawing, None where nobody says; and what is to be said of that."""
        stated = self.mm_per_unit
        if unit is None:
            return stated, []
        scale = MM_PER_UNIT[parse_unit(unit)]
        if stated is not None and not math.isclose(stated, scale, rel_tol=1e-6):
            return scale, [tr("the file states another unit; read in {unit} as told", unit=unit)]
        return scale, []

    def _shown(self, layer: str) -> bool:
        found = self.document.layers
        if not found.has_entry(layer):
            return True
        entry = found.get(layer)
        return not (entry.is_off() or entry.is_frozen())


def _part(progress: Progress | None, begin: float, end: float) -> Progress | None:
    """To be told of work that is the second half, as one that is from ``begin`` to ``end`` of the whole."""
    if progress is None:
        return None
    whole = 4 * _PARTS
    return lambda done, of: progress(round(whole * (begin + (end - begin) * (2 * done / of - 1))), whole)


def open_dxf(path: str, progress: Progress | None = None) -> DxfDrawing:
    """Read the file. Raises ``ImportingError`` for one that is no DXF drawing, or too large."""
    size = os.path.getsize(path)
    if size > MAX_BYTES:
        raise ImportingError(
            tr("is larger than {limit} MB", limit=MAX_BYTES // 2**20), do=tr("save only the outlines")
        )
    ezdxf = load_ezdxf()
    from ezdxf import recover
    from ezdxf.lldxf.validator import is_binary_dxf_file, is_dxf_file

    told: _Told | None = None
    try:
        if is_binary_dxf_file(path):
            return _sound(path, ezdxf.readfile(path), False)
        if not is_dxf_file(path):
            raise ImportingError(tr("is no DXF drawing"), do=tr("save the drawing as DXF"))
        told = _Told(size, _things(path), progress)
        encoding = ezdxf.filemanagement.dxf_file_info(path).encoding
        return _sound(path, told.read(path, encoding), False)
    except ImportingError:
        raise
    except Exception as error:  # of a damaged file nothing is known, nor of what the library makes of it
        if told is not None and told.document is not None:
            _free(told.document)
        if (told is not None and told.stopped) or isinstance(error, MemoryError):
            raise
        if isinstance(error, OSError) and error.errno:
            raise ImportingError(tr("cannot be read ({reason})", reason=error.strerror)) from None
    try:
        document, auditor = recover.readfile(path)
        if not auditor.has_errors:
            return _sound(path, document, True)
    except Exception as error:
        if isinstance(error, MemoryError):
            raise
    raise _damaged()


def _sound(path: str, document: Any, repaired: bool) -> DxfDrawing:
    """Raises ``KeyError`` for a document without a model space, which the library may give."""
    document.modelspace()
    return DxfDrawing(path, document, repaired)


def _refuse_unknown(layers: Collection[str], known: Collection[str]) -> None:
    unknown = sorted(set(layers) - set(known))
    if unknown:
        names = ", ".join(f"“{name}”" for name in sorted(known)[:12]) or tr("none")
        raise ImportingError(
            tr("nothing is drawn on a layer “{name}”", name=unknown[0]),
            do=tr("choose from: {names}", names=names),
        )


def _damaged() -> ImportingError:
    return ImportingError(tr("is damaged and cannot be mended"), do=tr("save it again from its program"))


def _things(path: str) -> int:
    """How many there are, counted before they are read: each begins with a group 0. Raises
    ``ImportingError`` where they are too many.
    """
    count = 0
    with open(path, "rb") as file:
        while lines := list(islice(file, _LINES_AT_ONCE)):
            count += list(map(bytes.strip, lines)).count(b"0")
    if count > 4 * MAX_ENTITIES:  # corners of old polylines are things too, and a 0 may be a value
        raise _too_many()
    return count


def _too_many() -> ImportingError:
    return ImportingError(
        tr("draws more than {limit} things", limit=MAX_ENTITIES), do=tr("save only the layers with outlines")
    )


class _Told:
    """Reads a text file, and tells how much of it was read, and how much of that was made into things."""

    def __init__(self, size: int, things: int, progress: Progress | None) -> None:
        """``size``: bytes of the file. ``things``: about how many there are in it."""
        self.stopped = False
        """Whether the one who was told wants no more."""
        self.document: Any = None
        """What is being made of it."""
        self._size, self._things = size, max(things, 1)
        self._progress = progress
        self._read = self._made = 0

    def read(self, path: str, encoding: str) -> Any:
        """The document in the file at ``path``."""
        from ezdxf.document import Drawing
        from ezdxf.entitydb import EntityDB

        told = self

        class File(io.FileIO):
            def readinto(self, buffer: Any) -> int | None:
                count = super().readinto(buffer)
                told.read_some(count or 0)
                return count

        class Database(EntityDB):
            def add(self, entity: Any) -> None:
                super().add(entity)
                told.made_one()

        class Document(Drawing):
            def __init__(self) -> None:
                super().__init__()
                self.entitydb = Database()
                told.document = self

        # All but the telling is done by the library that Python is made of: it is several million lines.
        with io.TextIOWrapper(
            io.BufferedReader(File(path), _BYTES_A_TURN), encoding=encoding, errors="surrogateescape"
        ) as file:
            document = Document.read(file)
        self.document = None  # these classes keep it, and the collector alone frees classes
        return document

    def read_some(self, count: int) -> None:
        """So many bytes more were read."""
        self._read += count
        self._tell(min(self._read / self._size, 1.0))

    def made_one(self) -> None:
        """One thing more was made of what was read."""
        self._made += 1
        if self._made % _THINGS_A_TURN == 0:
            self._tell(1.0 + min(self._made / self._things, 1.0))

    def _tell(self, quarters: float) -> None:
        """Reading is the first quarter of the work, making things the second."""
        if self._progress is None:
            return
        try:
            self._progress(round(_PARTS * quarters), 4 * _PARTS)
        except BaseException:
            self.stopped = True
            raise


def _free(document: Any, brought: Iterable[Any] = ()) -> None:
    """Give the memory of ``document`` back, thing by thing, and that of what inserts ``brought``. The garbage
    collector would free all of it in one go, and no other thread goes on until that is done.
    """
    for entity in (*document.entitydb.values(), *brought):
        vars(entity).clear()
    vars(document).clear()


# ------------------------------------------------------------------------------------- what is drawn, spread


class _Spread:
    """Everything that is drawn, inserts replaced by what they bring."""

    def __init__(
        self,
        document: Any,
        shown: Callable[[str], bool],
        layers: Collection[str] | None,
        known: Brought,
        progress: Progress | None,
    ) -> None:
        """``shown``: whether a layer is; asked where no ``layers`` are chosen. ``known`` is added to."""
        self._known = known
        self.seen: set[str] = set()
        """Layers on which something is drawn."""
        self._document = document
        self._shown = shown
        self._layers = layers
        self._progress = progress
        self._left = MAX_ENTITIES
        self._counts: dict[str, int] = {}
        self._clipped = 0
        self.lost = 0
        """Things of which nothing could be made."""

    def entities(self) -> Iterator[tuple[Any, str]]:
        """Each with its layer. Raises ``ImportingError`` where there are too many."""
        self._refuse_explosion()
        space = self._document.modelspace()
        total = len(space)
        for number, entity in enumerate(space):
            if self._progress and number % _THINGS_A_TURN == 0:
                self._progress(total + number, 2 * total)
            yield from self._spread(entity, "0", 0)

    def notes(self) -> list[str]:
        notes = []
        if self._clipped:
            notes.append(tr("a block is cut off at its edge in the drawing; here it is taken whole"))
        if self.lost:
            notes.append(
                tr_n(
                    "{count} thing could not be made out and was left out; compare with the drawing",
                    "{count} things could not be made out and were left out; compare with the drawing",
                    self.lost,
                )
            )
        return notes

    def _spread(self, entity: Any, around: str, depth: int) -> Iterator[tuple[Any, str]]:
        layer = _layer(entity)
        if layer == "0" and depth:
            layer = around  # what a block has on layer 0 is drawn on the layer of its insert
        if _stated(entity, "invisible", 0) or (self._layers is None and not self._shown(layer)):
            return
        if entity.dxftype() != "INSERT":
            self.seen.add(layer)
            if self._layers is not None and layer not in self._layers:
                return
            self._left -= 1
            if self._left < 0:
                raise _too_many()
            yield entity, layer
            return
        if depth >= MAX_DEPTH:
            raise ImportingError(tr("its blocks lie too deep within each other"), do=tr("explode them first"))
        with suppress(Exception):  # a drawing that was not made with care has no such thing, or a wrong one
            self._clipped += "ACAD_FILTER" in entity.get_extension_dict()
        for inner in self._brought(entity):
            yield from self._spread(inner, layer, depth + 1)

    def _brought(self, insert: Any) -> list[Any]:
        if id(insert) not in self._known:
            brought: list[Any] = []
            lost = 0
            try:
                for one in insert.multi_insert() if insert.mcount > 1 else (insert,):
                    brought += one.virtual_entities()
            except MemoryError:
                raise
            except Exception:  # its block is not there, or something in it cannot be placed
                lost = 1
            self._known[id(insert)] = (brought, lost)
        brought, lost = self._known[id(insert)]
        self.lost += lost
        return brought

    def _refuse_explosion(self) -> None:
        """How much inserts would bring is counted before any is spread."""
        drawn = brought = 0
        for entity in self._document.modelspace():
            count = self._count(entity, ())
            drawn += count
            brought += count if entity.dxftype() == "INSERT" else 0
        if brought > MAX_BROUGHT:
            raise ImportingError(
                tr("its blocks bring more than {limit} things", limit=MAX_BROUGHT),
                do=tr("save only the layers with outlines"),
            )
        if drawn > MAX_ENTITIES:
            raise _too_many()

    def _count(self, entity: Any, within: tuple[str, ...]) -> int:
        if entity.dxftype() != "INSERT":
            return 1
        name = str(_stated(entity, "name", ""))
        if name in within:
            raise ImportingError(tr("the block “{name}” holds itself", name=name), do=tr("explode it first"))
        if len(within) >= MAX_DEPTH:
            raise ImportingError(tr("its blocks lie too deep within each other"), do=tr("explode them first"))
        if name not in self._counts:
            block = self._document.blocks.get(name)
            inner = (self._count(each, (*within, name)) for each in block) if block is not None else ()
            self._counts[name] = sum(inner)
        rows, columns = (max(int(_stated(entity, key, 1)), 1) for key in ("row_count", "column_count"))
        return max(self._counts[name], 1) * rows * columns


def _stated(entity: Any, name: str, otherwise: Any) -> Any:
    """What the drawing says; ``otherwise`` also for things that have nothing of that name."""
    return entity.dxf.get(name, otherwise) if entity.dxf.is_supported(name) else otherwise


def _layer(entity: Any) -> str:
    return str(_stated(entity, "layer", "0"))


def _nothing() -> ImportingError:
    return ImportingError(
        tr("holds no closed outline"), do=tr("close its outlines, or choose layers that have some")
    )


def _of_a_size(shapes: Sequence[Shape], scale: float) -> list[Shape]:
    """Those that may be patches. Raises ``ImportingError`` where none may."""
    bounds = shapely.bounds([polygon for _, polygon in shapes])
    size = np.maximum(bounds[:, 2] - bounds[:, 0], bounds[:, 3] - bounds[:, 1])
    if size.min() > MAX_SIZE:
        raise ImportingError(
            tr(
                "an outline is {size} wide where one unit is {unit}; no patch is larger than 10 m",
                size=format_length(float(size.max()), LengthStyle.CM),
                unit=format_length(scale, LengthStyle.MM),
            ),
            do=tr("state another unit with --unit in, cm or mm"),
        )
    return [shape for shape, wide in zip(shapes, size.tolist(), strict=True) if wide <= MAX_SIZE]


def _named(shapes: Sequence[Shape], stem: str) -> list[tuple[str, Patch]]:
    """By their layers; layer 0 has no name of its own. Raises ``ImportingError`` where none can be one."""
    names = Names()
    patches: list[tuple[str, Patch]] = []
    for layer, polygon in shapes:
        name = (plain_name(layer) if layer != "0" else "") or stem
        rings = (polygon.exterior, *polygon.interiors)
        outline, *holes = (shapely.get_coordinates(ring)[:-1] for ring in rings)
        with suppress(PatchError):
            patches += [(names.own(name), part) for part in split_outline(outline, holes)]
    if not patches:
        raise _nothing()
    return patches


def _known_unit(scale: float) -> Unit | None:
    return next((unit for unit, mm in MM_PER_UNIT.items() if math.isclose(mm, scale)), None)
