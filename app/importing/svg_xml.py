"""The XML of an SVG file as a plain tree: nothing expanded, nothing fetched, nothing deeper than a cap."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree.ElementTree import ParseError

from defusedxml.common import DefusedXmlException, DTDForbidden
from defusedxml.ElementTree import DefusedXMLParser

from app.importing import ImportingError
from app.importing.source import plain_name, quoted
from app.sketch.translate import tr

MAX_BYTES = 32 * 2**20
"""Largest file. Pictures packed into a drawing make it large; outlines do not."""
MAX_DEPTH = 256
"""Deepest nesting, `use` included."""
MAX_ELEMENTS = 200_000
"""Most elements in a file."""

_SVG = "http://www.w3.org/2000/svg"
_XLINK_HREF = "http://www.w3.org/1999/xlink}href"
_TEXTS = ("style", "title")
"""What is kept of the text between tags stands in these."""
_LONG_TAG = re.compile(rb"<[^<]{100000}+")
"""What may be a tag: within one, `<` is written otherwise."""
_LONG_NAME = re.compile(rb"<[^\s<>/!?][^\s<>/]{100000}")
"""A tag whose name would be kept several times."""
_MAX_ATTRIBUTES = 10_000
"""Most attributes of one element, known by their `=`. A hundred times as many as any has."""
_START = 1000
"""Bytes within which an SVG file has its first element, or at least a comment."""


@dataclass(slots=True, eq=False)
class Element:
    """One element of the SVG namespace; elements of other namespaces are left out with all they hold."""

    tag: str
    attributes: dict[str, str]
    """As written, without namespaces' names; ``href`` stands for ``xlink:href`` too, and wins over it."""
    line: int
    """Where it begins in the file."""
    style: dict[str, str]
    """Attributes and style sheets in one, once ``svg_style.resolve`` has been here."""
    children: list[Element] | tuple[()] = ()
    text: str = ""
    """What a `style` or `title` says; empty for all others."""

    @property
    def name(self) -> str:
        """Its id, else its `title`, on one line without control characters; empty without either."""
        title = next((child.text for child in self.children if child.tag == "title"), "")
        for text in (self.attributes.get("id", ""), title):
            if plain := plain_name(text):
                return plain
        return ""


class Tree(NamedTuple):
    """What a file holds."""

    root: Element
    elements: list[Element]
    """Every element, in the order of the file."""


def read_tree(path: Path) -> Tree:
    """The elements of a file, an `svg` outermost.

    Raises ``ImportingError``: not readable, not XML, not SVG, with entities or other declarations of its
    own, too large, too deep. The declaration `<!DOCTYPE svg …>` by itself, which many drawings carry, is
    let through: its address is never opened.
    """
    builder = _Builder()
    parser = _Parser(builder)
    try:
        if path.stat().st_size > MAX_BYTES:
            raise ImportingError(
                tr("is larger than {limit} MB", limit=MAX_BYTES // 2**20),
                do=tr("take out what is no outline, such as pictures"),
            )
        data = path.read_bytes()
        _refuse_other_kinds(data)
        parser.feed(data)  # at once: expat would read a tag that comes in pieces over and over
        parser.close()
    except ParseError as error:
        line, column = error.position
        reason = str(error).partition(":")[0]
        raise ImportingError(
            tr("is no sound SVG file ({reason})", reason=reason),
            where=tr("line {line}, column {column}", line=line, column=column + 1),
            do=tr("save it again from the program that drew it"),
        ) from None
    except DefusedXmlException:
        raise ImportingError(
            tr("declares entities or other things of its own, which are not read, for safety"),
            where=tr("line {line}", line=parser.line),
            do=tr("save it again as plain SVG"),
        ) from None
    except (LookupError, ValueError):  # an encoding unknown to Python, or bytes that are not of it
        raise ImportingError(
            tr("is written in an encoding that cannot be read"), do=tr("save it again as UTF-8")
        ) from None
    except OSError as error:
        raise ImportingError(tr("cannot be read ({reason})", reason=error.strerror or error)) from None
    return builder.tree()


def _refuse_other_kinds(data: bytes) -> None:
    if not data:
        raise ImportingError(tr("is empty"), do=tr("choose a file that holds a drawing"))
    if data.startswith(b"\x1f\x8b"):
        raise ImportingError(tr("is a compressed file"), do=tr("save it again as plain SVG"))
    if b"<" not in data[:_START]:
        raise ImportingError(tr("is no SVG drawing"), do=tr("choose a file that holds one"))
    for long in _LONG_TAG.finditer(data):
        if _LONG_NAME.match(data, long.start()):
            what = tr("has an element with a name without end")
        elif data.count(b"=", long.start(), data.find(b"<", long.end())) > _MAX_ATTRIBUTES:
            what = tr("has an element with more than {limit} attributes", limit=_MAX_ATTRIBUTES)
        else:
            continue
        where = tr("line {line}", line=1 + data.count(b"\n", 0, long.start()))
        raise ImportingError(what, where=where, do=tr("save it again as plain SVG"))


class _Parser(DefusedXMLParser):  # type: ignore[misc]
    """defusedxml's parser; of document type declarations only an empty one passes."""

    def __init__(self, builder: _Builder) -> None:
        super().__init__(target=builder, forbid_dtd=True, forbid_entities=True, forbid_external=True)
        # Straight from expat: the names that it gives, "namespace}tag", need not be made others first.
        self.parser.StartElementHandler = builder.start
        self.parser.EndElementHandler = builder.end
        builder.parser = self

    @property
    def line(self) -> int:
        return int(self.parser.CurrentLineNumber)

    def defused_start_doctype_decl(self, name: Any, sysid: Any, pubid: Any, has_internal_subset: Any) -> None:
        if has_internal_subset:
            raise DTDForbidden(name, sysid, pubid)


class _Builder:
    """Takes what the parser finds, and keeps what a drawing needs."""

    parser: _Parser

    def __init__(self) -> None:
        self._elements: list[Element] = []
        self._open: list[Element] = []
        self._foreign = 0
        """How many elements deep we are in one that is not SVG."""
        self._count = 0
        self._prefix = f"{_SVG}}}"
        self._tags: dict[str, str] = {}
        """By the parser's name, what an element is called in SVG; empty for others."""
        self._said: dict[Element, list[str]] = {}

    def start(self, name: str, listed: list[str]) -> None:
        """``name``: "namespace}tag". ``listed``: names and values of the attributes in turn."""
        if not self._count:
            self._begin(name)
        self._count += 1
        if self._count > MAX_ELEMENTS:
            raise ImportingError(
                tr("has more than {limit} elements", limit=MAX_ELEMENTS),
                where=tr("line {line}", line=self.parser.line),
                do=tr("take out what is no outline"),
            )
        tag = self._tags.get(name)
        if tag is None:
            tag = self._tags[name] = self._tag(name)
        if self._foreign or not tag:
            self._foreign += 1
        if len(self._open) + self._foreign >= MAX_DEPTH:
            raise ImportingError(
                tr("is nested more than {limit} deep", limit=MAX_DEPTH),
                where=tr("line {line}", line=self.parser.line),
                do=tr("ungroup the drawing and save it again"),
            )
        if self._foreign:
            return
        attributes = dict(zip(listed[::2], listed[1::2], strict=True))
        if _XLINK_HREF in attributes:
            attributes.setdefault("href", attributes[_XLINK_HREF])
        element = Element(tag, attributes, self.parser.line, attributes)
        if self._open:
            siblings = self._open[-1].children
            if siblings:
                siblings.append(element)
            else:
                self._open[-1].children = [element]
        self._elements.append(element)
        self._open.append(element)

    def _begin(self, name: str) -> None:
        namespace, _, tag = name.rpartition("}")
        if tag != "svg" or namespace not in ("", _SVG):
            raise ImportingError(
                tr("is no SVG drawing, its first element is {tag}", tag=quoted(tag)),
                where=tr("line {line}", line=self.parser.line),
                do=tr("choose a file that holds a drawing"),
            )
        if not namespace:  # a drawing written by hand, without the name of the namespace
            self._prefix = ""

    def _tag(self, name: str) -> str:
        tag = name[len(self._prefix) :]
        return tag if name.startswith(self._prefix) and "}" not in tag else ""

    def end(self, _name: str) -> None:
        if self._foreign:
            self._foreign -= 1
        else:
            self._open.pop()

    def data(self, text: str) -> None:
        if self._open and not self._foreign and self._open[-1].tag in _TEXTS:
            self._said.setdefault(self._open[-1], []).append(text)

    def close(self) -> None:
        """At the end. What a `style` or `title` says comes in pieces."""
        for element, pieces in self._said.items():
            element.text = "".join(pieces)

    def tree(self) -> Tree:
        return Tree(self._elements[0], self._elements)  # a document without an element is a parse error
