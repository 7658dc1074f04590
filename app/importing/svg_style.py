"""What style sheets and attributes say about an element of an SVG file, and how its lengths are read.

Selectors of one element are understood (`rect`, `.seam`, `#a`, `path.seam`, `*`, and lists of these);
rules with other selectors are collected in ``Sheet.not_used``, so that they can be named.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from app.importing import ImportingError
from app.importing.svg_xml import Element
from app.sketch.translate import tr
from geometry.units import MM_PER_INCH

_PROPERTIES = frozenset(
    {"display", "visibility", "opacity", "fill", "fill-opacity", "stroke", "stroke-opacity", "stroke-width"}
    | {"fill-rule", "clip-rule", "clip-path", "mask", "overflow"}
    | {"transform", "transform-origin", "transform-box"}
    | {"x", "y", "width", "height", "cx", "cy", "r", "rx", "ry"}
)
"""What decides whether and where an outline is drawn; all else is left aside."""

_MAX_RULES = 1000
"""Most rules that are followed; those of a drawing program come to a few dozen."""
_MAX_SELECTORS = 10_000
"""Most selectors in a file."""
_MAX_LOOKS = 200_000
"""Most rules, and characters of class names, that are looked at for all kinds of elements together."""
_MAX_STYLE = 4_000_000
"""Most characters of rules, and of `style` attributes that differ from each other."""

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


class _Layers(NamedTuple):
    """What one source says of an element."""

    plain: dict[str, str]
    important: dict[str, str]


_NOTHING = _Layers({}, {})


@dataclass(slots=True, eq=False)
class Sheet:
    """The rules of all `style` elements, found by one word of their selector."""

    rules: dict[str, list[_Rule]] = field(default_factory=lambda: defaultdict(list))
    not_used: list[str] = field(default_factory=list)
    """Selectors that are not understood, of rules that say where or whether something is drawn."""
    _count: int = 0
    _read: int = 0
    _looks: int = 0
    _written: int = 0
    _found: dict[tuple[str, str, str], _Layers] = field(default_factory=dict)
    _own: dict[str, _Layers] = field(default_factory=lambda: {"": _NOTHING})
    """By text: a drawing says the same few again and again."""

    def add(self, text: str) -> None:
        """Read one style sheet. What is no sound rule is skipped, as CSS asks. Raises ``ImportingError``."""
        for selectors, body in _blocks(_COMMENT.sub(" ", text)):
            self._read += 1 + selectors.count(",")
            if self._read > _MAX_SELECTORS:
                raise _too_much(tr("its style sheets hold more than {limit} rules", limit=_MAX_SELECTORS))
            declarations = self._declarations(body)
            if not declarations:
                continue
            for selector in selectors.split(","):
                self._add(selector.strip(), declarations)

    def own(self, text: str) -> _Layers:
        """What a `style` attribute says. Raises ``ImportingError`` where all of them say too much."""
        found = self._own.get(text)
        if found is None:
            found = self._own[text] = _layered([self._declarations(_COMMENT.sub(" ", text))])
        return found

    def _declarations(self, text: str) -> _Declarations:
        self._written += len(text)
        if self._written > _MAX_STYLE:
            raise _too_much(tr("its styles are written in more than {limit} characters", limit=_MAX_STYLE))
        return _parse_declarations(text)

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

    def layers(self, element: Element) -> _Layers:
        """What the rules say of ``element``. Raises ``ImportingError`` where that is hard to find out."""
        if not self.rules:
            return _NOTHING
        own_id = f"#{element.attributes.get('id', '')}"
        classes = element.attributes.get("class", "")
        key = (element.tag, classes, own_id if own_id in self.rules else "")
        found = self._found.get(key)
        if found is None:
            self._look(len(classes))
            words = {"*", element.tag, own_id, *(f".{name}" for name in classes.split())}
            near = [rule for word in words for rule in self.rules.get(word, ())]
            self._look(len(near))
            rules = sorted((rule for rule in near if rule.needs <= words), key=lambda rule: rule.weight)
            found = self._found[key] = _layered([rule.declarations for rule in rules])
        return found

    def _look(self, times: int) -> None:
        self._looks += times
        if self._looks > _MAX_LOOKS:
            raise _too_much(tr("its style sheets are too involved"))


def resolve(elements: Sequence[Element]) -> Sheet:
    """Set ``style`` of every element of a file, and give the style sheets that they follow.

    From weak to strong: attributes, rules by their weight, the `style` attribute; then the same again for
    what is marked `!important` (CSS Cascade 4; SVG 2, presentation attributes).

    Raises ``ImportingError`` where the styles go beyond the caps of this module.
    """
    sheet = Sheet()
    for element in elements:
        if (
            element.tag == "style"
            and element.attributes.get("type", "text/css").strip().lower() in ("", "text/css")
            and element.attributes.get("media", "all").strip().lower() in ("", "all", "screen")
        ):
            sheet.add(element.text)
    for element in elements:
        text = element.attributes.get("style", "")
        if not text and not sheet.rules:
            element.style = element.attributes
            continue
        rules, own = sheet.layers(element), sheet.own(text)
        element.style = element.attributes | rules.plain | own.plain
        if rules.important or own.important:
            element.style |= rules.important | own.important
    return sheet


def _layered(layers: Sequence[_Declarations]) -> _Layers:
    """``layers`` in one, the weakest first."""
    found = _Layers({}, {})
    for layer in layers:
        for name, (value, is_important) in layer.items():
            (found.important if is_important else found.plain)[name] = value
    return found


def _too_much(what: str) -> ImportingError:
    return ImportingError(what, do=tr("save it again as plain SVG"))


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
