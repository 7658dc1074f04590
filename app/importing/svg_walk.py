"""What an SVG file draws: its structure walked from the outside in, down to outlines in millimetres.

Groups, nested `svg`, `symbol` and `use`, viewports, transforms, clip paths and what hides a shape are
followed as SVG 2 has them. Nothing is fetched: a reference that leaves the file is left out, and said.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeAlias

import numpy as np
import shapely
from shapely import Polygon

from app.importing import ImportingError, Progress, svg_paths
from app.importing.curves import IDENTITY, Curves, Matrix, shift, times
from app.importing.fill_rule import FillRule, TangledError, polygons, substantial
from app.importing.source import MAX_OUTLINES
from app.importing.svg_remarks import Remark, Remarks
from app.importing.svg_shapes import SHAPES, called, outline
from app.importing.svg_style import Lengths, UnreadableLengthError, is_given, parse_length
from app.importing.svg_viewport import Box, Page, frame, view_box, view_box_matrix
from app.importing.svg_xml import MAX_DEPTH, Element, Tree
from app.sketch.translate import tr
from geometry.tolerances import FLATTEN, MAX_SIZE

MAX_STRAY = 10_000
"""Most shapes of which no patch comes, as open or unseen lines: five to each outline that a file may have."""
MAX_SHAPES = MAX_OUTLINES + MAX_STRAY
"""Most shapes once every `use` is drawn out: of more, some would be an outline or a stray shape too many."""
MAX_VISITS = 100_000
"""Most elements once every `use` is drawn out, groups included."""
MAX_POINTS = 500_000
"""Most corners of all outlines together, curves made polylines."""
MAX_TEXT = 2_000_000
"""Most characters of path data and point lists in a file."""
_MAX_TRANSFORMS = 1_000_000
"""Most characters of transforms that differ from each other."""
_MAX_CLIPS = 1000
"""Most clip paths, each counted anew where it is used in another place or size."""
_MAX_CLIP_DEPTH = 4
"""Most clip paths that cut each other."""
_MAX_CLIP_SHAPES = MAX_OUTLINES
"""Most shapes of all clip paths."""

_SHAPES_A_TURN = 20
"""Shapes between two calls of ``progress``: some milliseconds."""

_FAR = 1000 * MAX_SIZE
"""mm. Shapes further than this from the page's corner are too far off to be exact."""

_GROUPS = frozenset({"svg", "g", "a", "switch"})
_LEFT_OUT = {"text": Remark.TEXT, "image": Remark.PICTURE, "foreignObject": Remark.PAGE}

_LANGUAGES = 1000
"""So many characters of a list of languages are looked at."""

_SHARES = {"left": "0", "top": "0", "center": "50%", "right": "100%", "bottom": "100%"}

_INHERITED = {
    "visibility": "visible",
    "fill": "black",
    "fill-opacity": "1",
    "fill-rule": "nonzero",
    "clip-rule": "nonzero",
    "stroke": "none",
    "stroke-opacity": "1",
    "stroke-width": "1",
}
"""Properties that pass from parent to child, with what holds where nobody says anything."""

_PAINT_SERVER = re.compile(r"url\(\s*['\"]?#?([^)'\"]*)['\"]?\s*\)\s*(.*)")

_Chain: TypeAlias = "tuple[Element, _Chain] | None"
"""The elements that are open around one, innermost first."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One shape that is drawn: what it is called, and the parts that it encloses, in mm."""

    name: str
    """Its id, else its title, else empty."""
    parts: list[Polygon]


@dataclass(frozen=True, slots=True, eq=False)
class _Context:
    """What holds around an element."""

    matrix: Matrix
    """To mm."""
    lengths: Lengths
    inherited: dict[str, str]
    clip: shapely.Geometry | None
    chain: _Chain
    depth: int


def shapes(
    tree: Tree,
    page: Page,
    px_mm: float,
    remarks: Remarks,
    scale: float = 1.0,
    progress: Progress | None = None,
) -> list[Shape]:
    """Every shape that is drawn, in the order of drawing. ``px_mm``: how long one px is; ``scale``: how many
    times its own size the whole is to have.

    Raises ``ImportingError`` where the drawing goes beyond the caps of this module.
    """
    return _Walk(tree, page, px_mm, remarks).shapes(scale, progress)


class _Walk:
    def __init__(self, tree: Tree, page: Page, px_mm: float, remarks: Remarks) -> None:
        self._root, self._elements = tree
        self._page = page
        self._px_mm = px_mm
        self._remarks = remarks
        self._ids: dict[str, Element] = {}
        self._curves: dict[tuple[int, Lengths], Curves | None] = {}
        self._clips: dict[tuple[int, Matrix], shapely.Geometry] = {}
        self._clip_shapes_left = _MAX_CLIP_SHAPES
        self._points_left = MAX_POINTS
        self._segments = 0
        self._transforms: dict[str, Matrix | None] = {"": IDENTITY}
        self._transforms_left = _MAX_TRANSFORMS
        text = 0
        for element in self._elements:
            attributes = element.attributes
            if "id" in attributes:
                self._ids.setdefault(attributes["id"].strip(), element)
            if "d" in attributes:
                text += len(attributes["d"])
            if "points" in attributes:
                text += len(attributes["points"])
        if text > MAX_TEXT:
            raise _too_much(tr("its outlines are written in more than {limit} characters", limit=MAX_TEXT))
        self._expected = _refuse_explosion(self._root, self._ids)

    def shapes(self, scale: float, progress: Progress | None) -> list[Shape]:
        mm = self._px_mm * scale
        lengths = Lengths(self._page.page_width, self._page.page_height, self._px_mm)
        context = _Context((mm, 0.0, 0.0, mm, 0.0, 0.0), lengths, _INHERITED, None, None, 0)
        found = []
        outlines = stray = 0
        for number, (element, inner) in enumerate(self._leaves([self._root], context)):
            if progress and number % _SHAPES_A_TURN == 0:
                progress(min(number, self._expected), self._expected)
            parts = self._drawn(element, inner)
            outlines += sum(1 + len(part.interiors) for part in parts)
            if outlines > MAX_OUTLINES:
                raise _too_many_outlines()
            if parts:
                found.append(Shape(element.name, parts))
                continue
            stray += 1
            if stray > MAX_STRAY:
                raise _too_much(
                    tr("it draws more than {limit} shapes that are no closed outlines", limit=MAX_STRAY)
                )
        return found

    # --- structure ----------------------------------------------------------------------------------

    def _leaves(
        self, elements: Sequence[Element], context: _Context, *, in_clip: bool = False
    ) -> Iterator[tuple[Element, _Context]]:
        """The basic shapes and paths among and inside ``elements`` that are rendered, as drawn.

        ``in_clip``: as children of a `clipPath`, which holds shapes and `use` of a shape, no groups.
        """
        stack = [(element, context) for element in reversed(elements)]
        while stack:
            element, around = stack.pop()
            tag = element.tag
            if not _is_rendered(element) or (in_clip and tag not in SHAPES and tag != "use"):
                continue
            if tag in _LEFT_OUT:
                self._remarks.add(_LEFT_OUT[tag], called(element))
                continue
            if tag not in SHAPES and tag not in _GROUPS and tag != "use":
                continue
            if around.depth >= MAX_DEPTH:
                raise _too_deep()
            inner = self._entered(element, around)
            if tag in SHAPES:
                yield element, inner
            elif tag == "use":
                stack.extend(self._used(element, inner, only_shapes=in_clip))
            elif tag == "svg":
                inside = self._in_viewport(element, inner, element.style)
                if inside is not None:
                    stack.extend((child, inside) for child in reversed(element.children))
            else:
                stack.extend([(child, inner) for child in reversed(_children_drawn(element))])

    def _entered(self, element: Element, around: _Context) -> _Context:
        """What holds inside ``element``: its transform, its clip path, what it passes on."""
        style = element.style
        matrix = around.matrix
        if "transform" in style:
            matrix = times(matrix, self._transform(element, around))
        inner = _Context(
            matrix,
            around.lengths,
            _inherited(element, around.inherited),
            around.clip,
            (element, around.chain),
            around.depth + 1,
        )
        if "clip-path" in style and style["clip-path"].strip() != "none":
            inner = replace(inner, clip=self._clipped(element, inner))
        if "mask" in style and style["mask"].strip() != "none":
            self._remarks.add(Remark.MASK_IGNORED, called(element))
        return inner

    def _transform(self, element: Element, around: _Context) -> Matrix:
        matrix = self._matrix(element.style["transform"])
        try:
            if matrix is None:
                raise UnreadableLengthError
            x, y = self._transform_origin(element, around)
        except UnreadableLengthError:
            self._remarks.add(Remark.TRANSFORM, called(element))
            return IDENTITY
        return times(times(shift(x, y), matrix), shift(-x, -y))

    def _matrix(self, text: str) -> Matrix | None:
        """As ``svg_paths.transform``, read once for all elements that say the same."""
        if text not in self._transforms:
            self._transforms_left -= len(text)
            if self._transforms_left < 0:
                raise _too_much(
                    tr("its transforms are written in more than {limit} characters", limit=_MAX_TRANSFORMS)
                )
            self._transforms[text] = svg_paths.transform(text)
        return self._transforms[text]

    def _transform_origin(self, element: Element, around: _Context) -> tuple[float, float]:
        """In the user units around ``element`` (CSS Transforms 1, transform-origin and transform-box)."""
        lengths = around.lengths
        box: Box | None = (0.0, 0.0, lengths.width, lengths.height)
        if element.style.get("transform-box", "view-box").strip() not in ("view-box", "border-box"):
            box = self._box(element, around)
        origin = element.style.get("transform-origin", "50%" if element is self._root else "0 0")
        words = origin.split(maxsplit=3)
        if len(words) == 1:
            words = ["center", words[0]] if words[0] in ("top", "bottom") else [words[0], "center"]
        if box is None or len(words) not in (2, 3):
            raise UnreadableLengthError
        if words[0] in ("top", "bottom") or words[1] in ("left", "right"):
            words[:2] = words[1::-1]
        x, y = (
            lengths.read(_SHARES.get(word, word), side) for word, side in zip(words, box[2:], strict=False)
        )
        return box[0] + x, box[1] + y

    def _used(self, use: Element, inner: _Context, *, only_shapes: bool) -> list[tuple[Element, _Context]]:
        """What a `use` draws, and what holds around it (SVG 2, the `use` element)."""
        target = self._target(use, inner)
        if target is None or (only_shapes and target.tag not in SHAPES):
            return []
        try:
            x = inner.lengths.read(use.style.get("x"), inner.lengths.width)
            y = inner.lengths.read(use.style.get("y"), inner.lengths.height)
        except UnreadableLengthError:
            self._remarks.add(Remark.LENGTH, called(use))
            return []
        inner = replace(inner, matrix=times(inner.matrix, shift(x, y)))
        if target.tag not in ("symbol", "svg"):
            return [(target, inner)]
        if not _is_rendered(target):
            return []
        sizes = {name: use.style[name] for name in ("width", "height") if is_given(use.style.get(name))}
        inside = self._in_viewport(target, self._entered(target, inner), target.style | sizes)
        return [] if inside is None else [(child, inside) for child in reversed(target.children)]

    def _target(self, use: Element, inner: _Context) -> Element | None:
        href = use.attributes.get("href", "").strip()
        if not href.startswith("#"):
            self._remarks.add(Remark.ELSEWHERE if href else Remark.NOWHERE, called(use))
            return None
        target = self._ids.get(href[1:])
        if target is None:
            self._remarks.add(Remark.NOWHERE, called(use))
            return None
        if _is_open(target, inner.chain):
            self._remarks.add(Remark.CIRCULAR, called(use))
            return None
        return target

    def _in_viewport(self, element: Element, inner: _Context, style: dict[str, str]) -> _Context | None:
        """Inside an `svg` or a `symbol` (SVG 2, establishing a new viewport); None where it has no size."""
        if element is self._root:
            inside = replace(inner.lengths, width=self._page.width, height=self._page.height)
            return replace(inner, matrix=times(inner.matrix, self._page.view_box), lengths=inside)
        outside = inner.lengths
        try:
            x = outside.read(style.get("x"), outside.width)
            y = outside.read(style.get("y"), outside.height)
            width = outside.read(style.get("width"), outside.width, "100%")
            height = outside.read(style.get("height"), outside.height, "100%")
        except UnreadableLengthError:
            self._remarks.add(Remark.LENGTH, called(element))
            return None
        if not (width > 0 and height > 0):
            return None
        matrix = times(inner.matrix, shift(x, y))
        clip = inner.clip
        if style.get("overflow", "hidden").strip() not in ("visible", "auto"):
            clip = _both(clip, frame(matrix, width, height))
        box = view_box(element)
        if box is not None:
            if not (box[2] > 0 and box[3] > 0):
                return None
            matrix = times(matrix, view_box_matrix(element, box, width, height))
            width, height = box[2:]
        return replace(inner, matrix=matrix, lengths=replace(outside, width=width, height=height), clip=clip)

    # --- clip paths ---------------------------------------------------------------------------------

    def _clipped(self, element: Element, inner: _Context) -> shapely.Geometry | None:
        """``inner.clip`` cut down by the clip path of ``element``."""
        match = re.fullmatch(r"url\(\s*(['\"]?)#(.+?)\1\s*\)", element.style["clip-path"].strip())
        clip_path = self._ids.get(match[2]) if match else None
        level = sum(outer.tag == "clipPath" for outer in _elements(inner.chain))
        if (
            clip_path is None
            or clip_path.tag != "clipPath"
            or level > _MAX_CLIP_DEPTH
            or any(child.tag == "text" for child in clip_path.children)
        ):
            self._remarks.add(Remark.CLIP_IGNORED, called(element))
            return inner.clip
        if _is_open(clip_path, inner.chain):
            return inner.clip  # CSS Masking 1: a clip path that refers to itself has no effect
        matrix = inner.matrix
        if clip_path.attributes.get("clipPathUnits", "").strip() == "objectBoundingBox":
            box = self._box(element, inner)
            if box is None:
                self._remarks.add(Remark.CLIP_IGNORED, called(element))
                return inner.clip
            matrix = times(matrix, (box[2], 0.0, 0.0, box[3], box[0], box[1]))
        key = (id(clip_path), matrix)
        if key not in self._clips:
            if len(self._clips) >= _MAX_CLIPS:
                raise _too_much(tr("it has more than {limit} clip paths", limit=_MAX_CLIPS))
            around = replace(inner, matrix=matrix, inherited=self._passed_on_to(clip_path), clip=None)
            try:
                self._clips[key] = self._clip_region(clip_path, around)
            except shapely.errors.GEOSException:
                self._remarks.add(Remark.CLIP_IGNORED, called(element))
                return inner.clip
        return _both(inner.clip, self._clips[key])

    @cached_property
    def _parents(self) -> dict[Element, Element]:
        return {child: element for element in self._elements for child in element.children}

    def _passed_on_to(self, element: Element) -> dict[str, str]:
        """What an element that is used elsewhere inherits from where it stands in the file."""
        outer = []
        while (element := self._parents.get(element, self._root)) is not self._root:
            outer.append(element)
        inherited = _INHERITED
        for ancestor in (self._root, *reversed(outer)):
            inherited = _inherited(ancestor, inherited)
        return inherited

    def _clip_region(self, clip_path: Element, around: _Context) -> shapely.Geometry:
        """What a `clipPath` lets through, mm (CSS Masking 1, clipping paths)."""
        inside = self._entered(clip_path, around)
        parts: list[Polygon] = []
        for element, inner in self._leaves(clip_path.children, replace(inside, clip=None), in_clip=True):
            self._clip_shapes_left -= 1
            if self._clip_shapes_left < 0:
                raise _too_much(tr("its clip paths hold more than {limit} shapes", limit=_MAX_CLIP_SHAPES))
            if inner.inherited["visibility"] == "visible":
                let = self._enclosed(element, inner, "clip-rule", filled=True)
                if inner.clip is not None:
                    let = [shapely.intersection(part, inner.clip) for part in let]
                parts += let
        region = shapely.union_all(parts) if parts else Polygon()
        region = region if inside.clip is None else shapely.intersection(region, inside.clip)
        shapely.prepare(region)
        return region

    # --- shapes -------------------------------------------------------------------------------------

    def _drawn(self, element: Element, inner: _Context) -> list[Polygon]:
        """The parts that one shape encloses and shows, mm."""
        inherited = inner.inherited
        if inherited["visibility"] != "visible":
            return []
        filled = self._is_painted(inherited["fill"], inherited["fill-opacity"])
        stroked = self._is_painted(inherited["stroke"], inherited["stroke-opacity"]) and not _is_zero(
            inherited["stroke-width"]
        )
        if element.tag == "line":
            self._remarks.add(Remark.LINE, called(element))
            return []
        if not (filled or stroked):
            self._remarks.add(Remark.UNPAINTED, called(element))
            return []
        parts = self._enclosed(element, inner, "fill-rule", filled=filled)
        if inner.clip is not None and parts:
            return self._seen(element, parts, inner.clip)
        return parts

    def _seen(self, element: Element, parts: list[Polygon], clip: shapely.Geometry) -> list[Polygon]:
        if all(shapely.covers(clip, part) for part in parts):
            return parts
        try:
            seen = [piece for part in parts for piece in substantial(shapely.intersection(part, clip))]
        except shapely.errors.GEOSException:
            self._remarks.add(Remark.TANGLED, called(element))
            return []
        self._remarks.add(Remark.CLIPPED if seen else Remark.OUT_OF_VIEW, called(element))
        return seen

    def _enclosed(self, element: Element, inner: _Context, rule: str, *, filled: bool) -> list[Polygon]:
        """The parts that a shape encloses by a fill rule, mm; remarks where there are none.

        Open rings are closed where the shape is filled; where it is only an outline, they are lines.
        """
        curves = self._outline(element, inner)
        if curves is None:
            return []
        if not len(curves):
            self._remarks.add(Remark.FLAT, called(element))
            return []
        curves = curves.mapped(inner.matrix)
        box = curves.box()
        # Control points may lie further out than the curve; what is truly too large, the patch itself says.
        if box is None or max(box[2] - box[0], box[3] - box[1]) > 10 * MAX_SIZE:
            self._remarks.add(Remark.TOO_LARGE, called(element))
            return []
        if max(map(abs, box)) > _FAR:
            self._remarks.add(Remark.FAR_OFF, called(element))
            return []
        if not filled and not all(curves.closed):
            gaps = np.hypot(*(curves.ends() - curves.starts).T)
            closed = np.array(curves.closed, dtype=bool) | (gaps <= FLATTEN)
            if not closed.all():
                gap = tr("its ends are {gap} mm apart", gap=f"{gaps[~closed].max():.4g}")
                self._remarks.add(Remark.OPEN, f"{called(element)} ({gap})")
                if not closed.any():
                    return []
                curves = curves.only(closed)
        steps = curves.steps(FLATTEN)
        self._points_left -= int(steps.sum())
        if self._points_left < 0:
            raise _too_much(tr("its outlines have more than {limit} corners", limit=MAX_POINTS))
        try:
            rings = curves.flattened(steps)
            if len(rings) > MAX_OUTLINES:
                raise _too_many_outlines()
            parts = polygons(rings, _fill_rule(inner.inherited[rule]))
        except TangledError:
            self._remarks.add(Remark.TANGLED, called(element))
            return []
        if not parts:
            self._remarks.add(Remark.FLAT, called(element))
        return parts

    def _outline(self, element: Element, inner: _Context) -> Curves | None:
        """As ``outline``, read once for all the times that an element is used."""
        key = (id(element), inner.lengths)
        if key not in self._curves:
            curves = self._curves[key] = outline(element, inner.lengths, self._remarks)
            self._segments += 0 if curves is None else len(curves.control)
            svg_paths.refuse_segments(self._segments)
        return self._curves[key]

    def _box(self, element: Element, inner: _Context) -> Box | None:
        """The box around a shape in its own user units, its line width left aside; None for groups."""
        curves = self._outline(element, inner) if element.tag in SHAPES else None
        rough = None if curves is None else curves.box()
        if curves is None or rough is None:
            return None
        size = max(rough[2] - rough[0], rough[3] - rough[1])
        if not size > 0:
            return None
        points = np.concatenate(curves.flattened(curves.steps(size * 1e-5)))
        (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
        return (x0, y0, x1 - x0, y1 - y0)

    # --- values -------------------------------------------------------------------------------------

    def _is_painted(self, paint: str, opacity: str) -> bool:
        """Whether a fill or stroke leaves anything to be seen."""
        if _is_zero(opacity):
            return False
        server = _PAINT_SERVER.match(paint)
        if server:
            # SVG 2, specifying paint: one that is not there is what is named after it, and nothing otherwise.
            return server[1] in self._ids or self._is_painted(server[2] or "none", opacity)
        return paint.lower() not in ("none", "transparent")


# --- small helpers ----------------------------------------------------------------------------------


def _refuse_explosion(root: Element, ids: dict[str, Element]) -> int:
    """How many shapes are drawn. Refuse a drawing whose `use`s draw out to more than the caps, before
    anything is worked out.

    Each element is counted once, with all that it draws; where elements use each other in a circle, less
    may be counted than is drawn.
    """
    counts: dict[Element, tuple[int, int]] = {}  # elements visited and shapes drawn in all
    begun: dict[Element, tuple[int, list[Element]]] = {}  # shapes in it, and what else it draws
    stack = [root]
    least = 0  # what is begun is drawn at least once
    while stack:
        element = stack[-1]
        if element not in begun:
            inner = _drawn_by(element, ids)
            others = [child for child in inner if child.tag not in SHAPES]
            begun[element] = (len(inner) - len(others), others)
            least += len(inner) - len(others)
            _refuse_many(len(begun) + least, least)
            stack.extend(child for child in others if child not in begun)
            continue
        stack.pop()
        if element not in counts:
            drawn, others = begun[element]
            visits = 1 + drawn
            for child in others:
                more = counts.get(child, (0, 0))
                visits, drawn = visits + more[0], drawn + more[1]
            counts[element] = (visits, drawn)
    _refuse_many(*counts[root])
    return counts[root][1]


def _refuse_many(visits: int, drawn: int) -> None:
    if drawn > MAX_SHAPES:
        raise _too_much(tr("it draws more than {limit} shapes", limit=MAX_SHAPES))
    if visits > MAX_VISITS:
        raise _too_much(tr("it draws more than {limit} elements", limit=MAX_VISITS))


def _drawn_by(element: Element, ids: dict[str, Element]) -> Sequence[Element]:
    """The elements that are drawn as part of one, itself left aside."""
    if not _is_rendered(element):
        return []
    if element.tag == "use":
        target = ids.get(element.attributes.get("href", "").strip()[1:])
        return [] if target is None else [target]
    if element.tag in _GROUPS or element.tag == "symbol":
        return [child for child in _children_drawn(element) if child.tag != "symbol"]
    return []


def _children_drawn(element: Element) -> Sequence[Element]:
    """All children; of a `switch` the first whose conditions hold."""
    if element.tag != "switch":
        return element.children
    return [child for child in element.children if _passes_conditions(child)][:1]


def _inherited(element: Element, around: dict[str, str]) -> dict[str, str]:
    """``around``, with what the element says itself."""
    style = element.style
    said = _INHERITED.keys() & style.keys()
    if not said:
        return around
    own = {name: style[name].strip() for name in said}
    return around | {name: value for name, value in own.items() if value and value != "inherit"}


def _too_much(what: str) -> ImportingError:
    return ImportingError(what, do=tr("leave in the drawing what is to become patches"))


def _too_many_outlines() -> ImportingError:
    return _too_much(tr("it draws more than {limit} outlines and holes", limit=MAX_OUTLINES))


def _too_deep() -> ImportingError:
    return ImportingError(
        tr("is nested more than {limit} deep, repeats included", limit=MAX_DEPTH),
        do=tr("ungroup the drawing and save it again"),
    )


def _elements(chain: _Chain) -> Iterator[Element]:
    while chain is not None:
        element, chain = chain
        yield element


def _is_open(target: Element, chain: _Chain) -> bool:
    return any(element is target for element in _elements(chain))


def _is_rendered(element: Element) -> bool:
    style = element.style
    if ("display" in style and style["display"].strip() == "none") or (
        "opacity" in style and _is_zero(style["opacity"])
    ):
        return False
    return _passes_conditions(element)


def _passes_conditions(element: Element) -> bool:
    """SVG 2, conditional processing, for a reader without extensions that is used in English."""
    if "requiredExtensions" in element.attributes:
        return False
    languages = element.attributes.get("systemLanguage")
    if languages is None:
        return True
    names = languages[:_LANGUAGES].split(",")
    return any(name.strip().lower().partition("-")[0] == "en" for name in names)


def _is_zero(text: str) -> bool:
    length = parse_length(text)
    return length is not None and length.value == 0


def _fill_rule(text: str) -> FillRule:
    return FillRule.EVENODD if text == "evenodd" else FillRule.NONZERO


def _both(first: shapely.Geometry | None, second: shapely.Geometry | None) -> shapely.Geometry | None:
    """What both clips let through; None lets everything through."""
    if first is None or second is None:
        return second if first is None else first
    both = shapely.intersection(first, second)
    shapely.prepare(both)
    return both
