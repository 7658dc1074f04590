"""What style sheets and attributes say about an element of an SVG file, and how its lengths are read.

Selectors of one element are understood (`rect`, `.seam`, `#a`, `path.seam`, `*`, and lists of these);
rules with other selectors are collected in ``Sheet.not_used``, so that they can be named.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache

from app.importing.svg_xml import Element
from geometry.units import MM_PER_INCH

_PROPERTIES = frozenset(
    {"display", "visibility", "opacity", "fill", "fill-opacity", "stroke", "stroke-opacity", "stroke-width"}
    | {"fill-rule", "clip-rule", "clip-path", "mask", "overflow"}
    | {"transform", "transform-origin", "transform-box"}
    | {"x", "y", "width", "height", "cx", "cy", "r", "rx", "ry"}
)
"""What decides whether and where an outline is drawn; all else is left aside."""

_MAX_RULES = 1000
"""Most rules that are looked at; those of a drawing program come to a few dozen."""

NUMBER = r"(?>[+-]?(?>\d+\.?\d*|\.\d+)(?>[eE][+-]?\d+)?)"
"""A number of SVG 1.1 or 2, as a pattern that never tries a shorter one."""

_MM_PER_UNIT = {
    "in": MM_PER_INCH,
    "cm": 10.0,
    "mm": 1.0,
    "q": 0.25,
    "pt": MM_PER_INCH / 72,
    "pc": MM_PER_INCH / 6,
}
"""CSS Values and Units 3, absolute lengths. All but ``px``, which the caller knows."""

_LENGTH = re.compile(rf"\s*({NUMBER})(%|[A-Za-z]*)\s*", re.ASCII)
_COMMENT = re.compile(r"/\*.*?(\*/|$)", re.DOTALL)
_SELECTOR = re.compile(r"(?P<tag>[\w-]+|\*)?(?P<rest>(?:[.#][\w-]+)*)")
_BRACE = re.compile(r"[{}]")
_IMPORTANT = re.compile(r"\s*!\s*important\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Length:
    """A length as written: ``value`` in ``unit`` (lower case; empty for user units, ``%`` for a share)."""

    value: float
    unit: str

    def user_units(self, whole: float, px_mm: float) -> float | None:
        """In user units, of which one is a px; ``whole`` is what 100 % is, ``px_mm`` what one px is in mm.

        None where the unit hangs on a font or a screen.
        """
        if self.unit in ("", "px"):
            return self.value
        if self.unit == "%":
            return self.value / 100 * whole
        mm = _MM_PER_UNIT.get(self.unit)
        return None if mm is None else self.value * mm / px_mm

    @property
    def is_true_size(self) -> bool:
        """Whether the unit is one that a ruler has."""
        return self.unit in _MM_PER_UNIT


@lru_cache(maxsize=4096)  # a drawing says the same few again and again
def parse_length(text: str) -> Length | None:
    """The length that ``text`` holds, or None."""
    match = _LENGTH.fullmatch(text)
    return Length(float(match[1]), match[2].lower()) if match else None


class UnreadableLengthError(Exception):
    """A length is none, or hangs on something that the file does not say, such as a font."""


@dataclass(frozen=True, slots=True)
class Lengths:
    """How lengths are read at one place of a file."""

    width: float
    height: float
    """User units; what 100 % is across and down. nan where that is unknown."""
    px_mm: float
    """mm. How long one px is."""

    @property
    def diagonal(self) -> float:
        """What 100 % is of a length that runs neither across nor down (SVG 2, units)."""
        return math.hypot(self.width, self.height) / math.sqrt(2)

    def read(self, text: str | None, whole: float, default: str = "0") -> float:
        """``text`` in user units; ``default`` where there is none. ``UnreadableLengthError``."""
        if text is None and default == "0":
            return 0.0
        length = parse_length(text if text is not None and is_given(text) else default)
        value = None if length is None else length.user_units(whole, self.px_mm)
        if value is None or math.isnan(value):
            raise UnreadableLengthError
        return value


def is_given(text: str | None) -> bool:
    """Whether a length is given, and not left to be found."""
    return text is not None and text.strip() not in ("", "auto")


# --- style sheets -----------------------------------------------------------------------------------

_Declarations = dict[str, tuple[str, bool]]
"""Property -> (value, whether it is `!important`)."""


@dataclass(frozen=True, slots=True, eq=False)
class _Rule:
    weight: tuple[int, int, int, int]
    """Ids, classes, element names in the selector; place in the sheet."""
    needs: frozenset[str]
    """All of these hold of an element that the rule is about: ``rect``, ``.seam``, ``#a``."""
    declarations: _Declarations


@dataclass(slots=True, eq=False)
class Sheet:
    """The rules of all `style` elements, found by one word of their selector."""

    rules: dict[str, list[_Rule]] = field(default_factory=lambda: defaultdict(list))
    not_used: list[str] = field(default_factory=list)
    """Selectors that are not understood, of rules that say where or whether something is drawn."""
    _count: int = 0

    def add(self, text: str) -> None:
        """Read one style sheet. What is no sound rule is skipped, as CSS asks."""
        for selectors, body in _blocks(_COMMENT.sub(" ", text)):
            declarations = _parse_declarations(body)
            if not declarations:
                continue
            for selector in selectors.split(","):
                self._add(selector.strip(), declarations)

    def _add(self, selector: str, declarations: _Declarations) -> None:
        match = _SELECTOR.fullmatch(selector)
        if not match or not selector or self._count >= _MAX_RULES:
            self.not_used.append(" ".join(selector.split())[:40])
            return
        self._count += 1
        tag = match["tag"]
        words = re.findall(r"[.#][\w-]+", match["rest"])
        ids = sum(word.startswith("#") for word in words)
        names = int(tag not in (None, "*"))
        needs = frozenset(words + ([tag] if names else []))
        rule = _Rule((ids, len(words) - ids, names, self._count), needs, declarations)
        self.rules[min(needs, default="*")].append(rule)  # "#" sorts before "." and both before letters

    def matching(self, element: Element) -> list[_Rule]:
        """The rules about ``element``, weakest first."""
        words = {"*", element.tag}
        words.update(f".{name}" for name in element.attributes.get("class", "").split())
        if "id" in element.attributes:
            words.add(f"#{element.attributes['id']}")
        found = [rule for word in words for rule in self.rules.get(word, ()) if rule.needs <= words]
        return sorted(found, key=lambda rule: rule.weight)


def resolve(root: Element) -> Sheet:
    """Set ``style`` of every element of the tree, and give the style sheets that it follows.

    From weak to strong: attributes, rules by their weight, the `style` attribute; then the same again for
    what is marked `!important` (CSS Cascade 4; SVG 2, presentation attributes).
    """
    sheet = Sheet()
    elements = list(_all(root))
    for element in elements:
        if (
            element.tag == "style"
            and element.attributes.get("type", "text/css").strip().lower() in ("", "text/css")
            and element.attributes.get("media", "all").strip().lower() in ("", "all", "screen")
        ):
            sheet.add(element.text)
    for element in elements:
        own = element.attributes.get("style")
        if own is None and not sheet.rules:
            element.style = element.attributes
            continue
        layers = [rule.declarations for rule in sheet.matching(element)]
        if own is not None:
            layers.append(_parse_declarations(_COMMENT.sub(" ", own)))
        style = dict(element.attributes)
        for important in (False, True):
            for layer in layers:
                style.update((name, value) for name, (value, strong) in layer.items() if strong is important)
        element.style = style
    return sheet


def _all(root: Element) -> Iterator[Element]:
    """Every element in the order of the file."""
    stack = [root]
    while stack:
        element = stack.pop()
        yield element
        if element.children:
            stack.extend(reversed(element.children))


def _blocks(text: str) -> Iterator[tuple[str, str]]:
    """Selectors and body of each rule at the top of a style sheet; `@` rules are stepped over."""
    start = 0
    while (opening := text.find("{", start)) >= 0:
        head = text[start:opening].rpartition(";")[2].strip()  # `@import …;` ends at its semicolon
        closing = text.find("}", opening)
        if head.startswith("@"):
            depth, closing = 1, opening
            while depth and closing >= 0:
                brace = _BRACE.search(text, closing + 1)
                closing = brace.start() if brace else -1
                depth += 0 if brace is None else 1 if brace[0] == "{" else -1
        if closing < 0:
            closing = len(text)
        if not head.startswith("@"):
            yield head, text[opening + 1 : closing]
        start = closing + 1


def _parse_declarations(text: str) -> _Declarations:
    found: _Declarations = {}
    for declaration in text.split(";"):
        name, _, value = declaration.partition(":")
        name = name.strip().lower()
        if name not in _PROPERTIES:
            continue
        plain = _IMPORTANT.sub("", value)
        important = plain != value
        if name in found and found[name][1] and not important:
            continue
        if plain.strip():
            found[name] = (plain.strip(), important)
    return found
